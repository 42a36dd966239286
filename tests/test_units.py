"""Text to SI and back: every kind, both systems, and the traps between them."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.units import (
    KINDS,
    System,
    UnitError,
    an,
    clock,
    number,
    parse,
    parse_money,
    show,
    show_chance,
    show_span,
    to_display,
)

WRITTEN = ["moment", "count"]  # kinds that a person never writes with a unit
KINDS_WITH_UNITS = [kind for kind in KINDS if kind not in WRITTEN]


# --- reading -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("40 ft", "length", 12.192),
        ("40ft", "length", 12.192),
        ("7 1/2 ft", "length", 2.286),
        ("1/2 mi", "distance", 804.672),
        ("6 ft 6 in", "length", 1.9812),
        ("1.5 in", "short length", 0.0381),
        ("9 m", "length", 9.0),
        ("1 ac", "area", 4046.8564224),
        ("2 ha", "area", 20_000.0),
        ("6,000 lb", "mass", 2721.55422),
        ("9 t", "mass", 9000.0),
        ("36 mg", "kernel mass", 3.6e-5),
        ("61 lb/ac", "rate", 61 * 0.45359237 / 4046.8564224),
        ("61 lb per ac", "rate", 61 * 0.45359237 / 4046.8564224),
        ("113.5 kg/ha", "rate", 0.01135),
        ("2 bu/ac", "bushel rate", 2 * 0.03523907016688 / 4046.8564224),
        ("22 plants/ft2", "stand", 22 / 0.09290304),
        ("200 plants/m²", "stand", 200.0),
        ("18900 seeds/lb", "seeds per mass", 18900 / 0.45359237),
        ("54 lb/bu", "density", 54 * 0.45359237 / 0.03523907016688),
        ("0.504 kg/L", "density", 504.0),
        ("76 kg/hL", "density", 760.0),
        ("8 mph", "speed", 3.57632),
        ("12 km/h", "speed", 12 / 3.6),
        ("12 kmh", "speed", 12 / 3.6),
        ("15 ac/h", "work rate", 15 * 4046.8564224 / 3600),
        ("46.2 lb/min", "flow", 46.2 * 0.45359237 / 60),
        ("5000 L", "volume", 5.0),
        ("5 gal", "volume", 5 * 0.003785411784),
        ("1 h 20 min", "time", 4800.0),
        ("20 min", "time", 1200.0),
        ("180 hp", "power", 180 * 745.6998715822702),
        ("85 %", "fraction", 0.85),
        ("85%", "fraction", 0.85),
        ("0.03 per hour", "per time", 0.03 / 3600),
        ("0.1 in", "rain", 0.00254),
        ("8 deg", "angle", math.radians(8)),
        ("-0.5 ft", "length", -0.1524),
    ],
)
def test_what_a_person_writes_is_read(text: str, kind: str, si: float) -> None:
    """US and metric forms, fractions, thousands, two units in a row."""
    assert parse(text, kind) == pytest.approx(si, rel=1e-12)


def test_an_acre_is_the_international_acre() -> None:
    """43,560 square feet of 0.3048 m: 4046.8564224 m2, not the surveyor's 4046.873."""
    assert parse("1 ac", "area") == pytest.approx(43_560 * 0.3048**2, abs=1e-9)
    assert parse("1 ac", "area") == 4046.8564224


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("60 F", "speed"),
        ("60 F", "length"),
        ("61 lb/attosecond", "rate"),
        ("61 lb/as", "rate"),
        ("61 lbf/ac", "rate"),
        ("61 Mlb/ac", "rate"),
        ("40 kft", "length"),
        ("40 meter", "length"),
        ("40 ftx", "length"),
        ("40 lb", "length"),
        ("40", "length"),
        ("ft", "length"),
        ("", "length"),
        (" ", "length"),
        ("40 ft ft", "length"),
        ("40 ft 3 lb", "length"),
        ("8 mph 2 mph", "speed"),
        ("1,00 ft", "length"),
        ("1e3 ft", "length"),
        ("nan ft", "length"),
        ("inf ft", "length"),
        ("1/0 ft", "length"),
        ("0x10 ft", "length"),
        ("40 __import__('os')", "length"),
        ("40 ft**2", "length"),
        ("40 ft/", "length"),
        ("40 /ft", "length"),
        ("40 ft2", "length"),
        ("5 °C", "fraction"),
        ("2 bu", "bushel rate"),
        ("61 ac/lb", "rate"),
        ("9" * 80 + " ft", "length"),
    ],
)
def test_what_is_not_plainly_a_quantity_is_refused(text: str, kind: str) -> None:
    """Unknown words, other kinds, prefixes, bare numbers and code are refused with the form."""
    with pytest.raises(UnitError) as refused:
        parse(text, kind)
    assert KINDS[kind].example in refused.value.expected
    assert refused.value.read == text


@pytest.mark.parametrize("value", [40, 40.0, None, True, ["40 ft"], {"ft": 40}, b"40 ft"])
def test_only_a_text_is_a_quantity(value: object) -> None:
    """A bare number never passes for a quantity, whatever the file calls it."""
    with pytest.raises(UnitError, match='a length with its unit, such as "40 ft"'):
        parse(value, "length")


def test_the_article_fits_the_kind() -> None:
    """Say "an area" and "a length"."""
    assert an("area") == "an area"
    assert an("length") == "a length"
    with pytest.raises(UnitError, match="an area with its unit"):
        parse("40", "area")


@pytest.mark.parametrize("kind", KINDS_WITH_UNITS)
def test_every_kind_reads_its_own_example(kind: str) -> None:
    """The form that an error shows is itself a good form."""
    assert parse(KINDS[kind].example, kind) > 0.0


@given(
    kind=st.sampled_from(KINDS_WITH_UNITS),
    system=st.sampled_from(["us", "metric"]),
    shown=st.floats(min_value=1e-3, max_value=1e6),
)
def test_what_is_shown_reads_back_the_same(kind: str, system: System, shown: float) -> None:
    """Print any figure of any kind in either system with six decimals: it reads back the same."""
    unit, factor, _ = getattr(KINDS[kind], system)
    text = show(shown * factor, kind, system, 6)
    assert text.endswith(unit)
    assert parse(_written(text), kind) == pytest.approx(shown * factor, abs=0.6e-6 * factor)


def _written(text: str) -> str:
    """A shown stand says "per ft2"; written it is "plants/ft2", seeds alike."""
    return text.replace(" per ft2", " plants/ft2").replace(" per m2", " plants/m2")


@given(st.text(max_size=70) | st.text(alphabet="0123456789 .,/-+%\"'ftlbacinhmg°²", max_size=70))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Whatever stands in the file: a finite number or a plain refusal, nothing else."""
    for kind in ("length", "rate", "fraction"):
        try:
            value = parse(text, kind)
        except UnitError:
            continue
        assert math.isfinite(value)


# --- showing -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "kind", "system", "text"),
    [
        (165.4 * 4046.8564224, "area", "us", "165.4 ac"),
        (165.4 * 4046.8564224, "area", "metric", "66.9 ha"),
        (2721.55422, "mass", "us", "6,000 lb"),
        (2394.0, "mass", "metric", "2,394 kg"),
        (0.85, "fraction", "us", "85.0 %"),
        (-0.00001, "mass", "us", "0 lb"),
        (-1.0, "mass", "metric", "-1 kg"),
        (745.6998715822702 * 180, "power", "us", "180 hp"),
        (12.0, "count", "us", "12"),
        (0.0116903, "rate", "metric", "116.9 kg/ha"),
    ],
)
def test_a_figure_in_the_readers_units(value: float, kind: str, system: System, text: str) -> None:
    """One unit for each kind in each system, thousands parted, never minus zero."""
    assert show(value, kind, system) == text


@given(st.floats(min_value=-1e9, max_value=1e9), st.integers(min_value=0, max_value=4))
def test_no_number_is_shown_as_minus_nothing(value: float, digits: int) -> None:
    """Neither "-0" nor "-0.00" ever appears."""
    text = number(value, digits)
    assert not (text.startswith("-") and float(text.replace(",", "")) == 0.0)


def test_display_value_and_unit_come_apart() -> None:
    """One hectare is 2.471 ac, for a chart's axis."""
    value, unit = to_display(1e4, "area", "us")
    assert value == pytest.approx(2.47105, abs=5e-6)
    assert unit == "ac"


@pytest.mark.parametrize(
    ("span_s", "text"),
    [
        (1500, "25 min"),
        (3600, "1 h 00 min"),
        (7500, "2 h 05 min"),
        (0, "0 min"),
        (29, "0 min"),
        (31, "1 min"),
        (3595, "1 h 00 min"),
        (-1500, "-25 min"),
        (-7500, "-2 h 05 min"),
        (-10, "0 min"),
    ],
)
def test_a_span_in_hours_and_minutes(span_s: float, text: str) -> None:
    """Rounded to the minute, hours split off, no minus on nothing."""
    assert show_span(span_s) == text


@pytest.mark.parametrize(
    ("hms", "us", "metric"),
    [
        ((0, 0, 0), "12:00 am", "00:00"),
        ((0, 30, 0), "12:30 am", "00:30"),
        ((12, 0, 0), "12:00 pm", "12:00"),
        ((12, 59, 29), "12:59 pm", "12:59"),
        ((15, 5, 0), "3:05 pm", "15:05"),
        ((11, 59, 45), "12:00 pm", "12:00"),
        ((23, 59, 45), "12:00 am", "00:00"),
        ((9, 4, 30), "9:05 am", "09:05"),
    ],
)
def test_clock_times(hms: tuple[int, int, int], us: str, metric: str) -> None:
    """Noon is 12:00 pm, midnight 12:00 am; half a minute rounds up, across midnight too."""
    moment = datetime(2026, 10, 18, *hms, tzinfo=UTC)
    assert clock(moment, "us") == us
    assert clock(moment, "metric") == metric
    assert clock(moment, "us", suffix=False) == us[:-3]


@given(st.integers(min_value=0, max_value=86_399))
def test_a_clock_time_is_never_half_a_minute_off(second: int) -> None:
    """Reading the printed time back gives the moment within 30 seconds, round midnight."""
    midnight = datetime(2026, 10, 18, tzinfo=UTC)
    shown = datetime.strptime(clock(midnight + timedelta(seconds=second), "metric"), "%H:%M")  # noqa: DTZ007
    read = shown.hour * 3600 + shown.minute * 60
    apart = abs(read - second) % 86_400
    assert min(apart, 86_400 - apart) <= 30


@pytest.mark.parametrize(
    ("fraction", "text"),
    [
        (0.95, "19 in 20"),
        (0.9688, "19 in 20"),
        (0.5, "10 in 20"),
        (1.0, "20 in 20"),
        (0.99, "more than 19 in 20"),
        (0.0, "0 in 20"),
        (0.01, "less than 1 in 20"),
    ],
)
def test_a_chance_as_one_bets_on_it(fraction: float, text: str) -> None:
    """Say "19 in 20"; what is not quite certain is never called certain."""
    assert show_chance(fraction) == text


# --- money ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "per", "amount", "currency"),
    [
        ("24 per h", "per time", 24 / 3600, ""),
        ("$24/h", "per time", 24 / 3600, "$"),
        ("USD 28 an acre", "per area", 28 / 4046.8564224, "USD"),
        ("28 NZD per ha", "per area", 28 / 1e4, "NZD"),
        ("3.60 per gal", "per volume", 3.60 / 0.003785411784, ""),
        ("€1.95/L", "per volume", 1950.0, "EUR"),
        ("£0.30 per kg", "per mass", 0.30, "GBP"),
        ("9.00 per bu", "per bushel", 9.0, ""),
        ("11 each", "each", 11.0, ""),
        ("11 per point", "each", 11.0, ""),
        ("$85,000", "whole", 85_000.0, "$"),
    ],
)
def test_money_is_read(text: str, per: str, amount: float, currency: str) -> None:
    """With a sign, with letters, before and after, for each kind of thing."""
    found = parse_money(text, (per,))
    assert found.per == per
    assert found.amount == pytest.approx(amount)
    assert found.currency == currency


@pytest.mark.parametrize(
    "text",
    ["24", "per h", "-24 per h", "$24 USD per h", "24 per ac", "24 per fortnight", "1,00 per h",
     "24 per h per ac", "", "9" * 80 + " per h", 24, None],
)  # fmt: skip
def test_what_is_no_wage_is_refused(text: object) -> None:
    """No unit, no figure, less than nothing, two signs, another unit, a slip, no text."""
    with pytest.raises(UnitError) as refused:
        parse_money(text, ("per time",))
    assert "24 per h" in refused.value.expected


def test_seed_is_not_sold_by_the_litre() -> None:
    """A bushel stands for a weight; another volume does not."""
    with pytest.raises(UnitError):
        parse_money("2 per L", ("per bushel", "per mass"))
    assert parse_money("2 per kg", ("per bushel", "per mass")).per == "per mass"


def test_a_newton_is_not_a_knot() -> None:
    """5 kn is a speed, 5 kN a pull."""
    assert parse("5 kn", "speed") == pytest.approx(2.5722, abs=1e-4)
    assert parse("5 kN", "force") == 5000.0
    assert show(5000.0, "force", "metric") == "5.0 kN"
    assert show(5000.0, "force", "us") == "1,124 lbf"
