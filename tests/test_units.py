"""Text to SI and back: every kind, both systems, and the traps a general unit table sets."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.units import (
    KINDS,
    System,
    UnitError,
    clock,
    number,
    parse,
    show,
    show_chance,
    show_span,
    to_display,
)

SYSTEMS: tuple[System, System] = ("us", "metric")


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("40 ft", "length", 12.192),
        ("7 1/2 ft", "length", 2.286),
        ("5 ft 6 in", "length", 1.6764),
        ("1/2 in", "short length", 0.0127),
        ("80 ac", "area", 80 * 4046.8564224),
        ("6,000 lb", "mass", 6000 * 0.45359237),
        ("61 lb/ac", "rate", 61 * 0.45359237 / 4046.8564224),
        ("100 kg/ha", "rate", 0.01),
        ("22 plants/ft2", "stand", 22 / 0.3048**2),
        ("200 plants/m2", "stand", 200.0),
        ("18900 seeds/lb", "seeds per mass", 18900 / 0.45359237),
        ("54 lb/bu", "density", 54 * 0.45359237 / 0.03523907016688),
        ("50.4 kg/hL", "density", 504.0),
        ("0.504 kg/L", "density", 504.0),
        ("8 mph", "speed", 8 * 0.44704),
        ("12 km/h", "speed", 12 / 3.6),
        ("1 h 20 min", "time", 4800.0),
        ("85 %", "fraction", 0.85),
        ("85%", "fraction", 0.85),
        ("46.2 lb/min", "flow", 46.2 * 0.45359237 / 60),
        ("0.03 per hour", "per time", 0.03 / 3600),
        ("5 deg", "angle", 0.08726646),
        ("2 bu/ac", "bushel rate", 2 * 0.03523907016688 / 4046.8564224),
    ],
)
def test_what_a_farmer_writes_is_read_exactly(text: str, kind: str, si: float) -> None:
    """Exact factors: international acre, avoirdupois pound, US bushel by volume."""
    assert parse(text, kind) == pytest.approx(si, rel=1e-7)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("40", "length"),
        (40, "length"),
        (None, "length"),
        ("", "length"),
        ("ft", "length"),
        ("40 furlongs", "length"),
        ("60 F", "length"),
        ("40 lb", "length"),
        ("61 lb/as", "rate"),
        ("61 lb/attosecond", "rate"),
        ("1..2 ft", "length"),
        ("4e9 ft", "length"),
        ("40 ft/", "length"),
        ("85 % 3 %", "fraction"),
        ("1/0 in", "short length"),
        ("40 ft" + " " * 80, "length"),
        ("nan ft", "length"),
        ("inf ft", "length"),
        ("9" * 40 + " ft ft", "length"),
    ],
)
def test_what_is_no_quantity_of_its_kind_is_refused_with_the_right_form(
    text: object, kind: str
) -> None:
    """A bare number, an unknown word or another kind of unit shows the form that is expected."""
    with pytest.raises(UnitError) as refused:
        parse(text, kind)
    assert KINDS[kind].example in refused.value.expected


@given(
    kind=st.sampled_from(sorted(set(KINDS) - {"moment", "count", "bushel rate"})),
    system=st.sampled_from(SYSTEMS),
    hundredths=st.integers(min_value=1, max_value=10_000_000),
)
def test_quantities_go_there_and_back_unchanged(kind: str, system: System, hundredths: int) -> None:
    """Any figure shown in a reader's unit reads back as the same figure."""
    unit, factor, _ = getattr(KINDS[kind], system)
    value = hundredths / 100
    words = {"per ft2": "plants/ft2", "per m2": "plants/m2", "per lb": "seeds/lb",
             "per kg": "seeds/kg", "per h": "per hour"}  # fmt: skip
    read = parse(f"{value:.2f} {words.get(unit, unit)}", kind)
    assert read == pytest.approx(value * factor, rel=1e-9)
    assert to_display(read, kind, system)[0] == pytest.approx(value, rel=1e-9)


def test_a_shown_figure_has_its_unit_and_no_false_decimals() -> None:
    """Acres to a tenth, pounds to the whole, thousands apart."""
    assert show(66 * 4046.8564224, "area", "us") == "66.0 ac"
    assert show(26_500.9 * 0.45359237, "mass", "us") == "26,501 lb"
    assert show(313_000.0, "area", "metric") == "31.3 ha"
    assert number(-0.04, 1) == "0.0"
    assert number(-3.0, 1) == "-3.0"


@pytest.mark.parametrize(
    ("moment", "us", "metric"),
    [
        ((0, 0, 0), "12:00 am", "00:00"),
        ((12, 0, 0), "12:00 pm", "12:00"),
        ((15, 5, 29), "3:05 pm", "15:05"),
        ((11, 59, 45), "12:00 pm", "12:00"),
        ((23, 59, 45), "12:00 am", "00:00"),
    ],
)
def test_clock_times_round_to_the_minute(
    moment: tuple[int, int, int], us: str, metric: str
) -> None:
    """Half a minute and more rounds up, across noon and midnight too."""
    at = datetime(2026, 10, 18, *moment, tzinfo=UTC)
    assert clock(at, "us") == us
    assert clock(at, "metric") == metric


def test_spans_and_chances_read_as_people_say_them() -> None:
    """25 min, 2 h 05 min; 19 in 20."""
    assert show_span(1500) == "25 min"
    assert show_span(7500) == "2 h 05 min"
    assert show_span(-600) == "-10 min"
    assert show_chance(0.95) == "19 in 20"
