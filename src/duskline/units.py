"""The only place where feet, acres and bushels exist: text to SI and SI to text.

Reading goes through a small unit registry of our own (``data/units.txt``) with a whitelist of
words, so that "lb/ac" can never be read as anything but pounds per acre. Printing uses one
display unit for each kind of figure in each system; a reader never sees a mix.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from importlib import resources
from typing import Any, Literal

from duskline.core.errors import DusklineError

__all__ = [
    "KINDS",
    "Money",
    "System",
    "UnitError",
    "an",
    "clock",
    "number",
    "parse",
    "parse_money",
    "show",
    "show_chance",
    "show_span",
    "to_display",
]

System = Literal["us", "metric"]

POUND_KG = 0.45359237
ACRE_M2 = 4046.8564224
HECTARE_M2 = 1e4
FOOT_M = 0.3048
BUSHEL_M3 = 0.03523907016688
GALLON_M3 = 0.003785411784


class UnitError(DusklineError, ValueError):
    """A quantity could not be read; says what was read and what form is expected."""

    def __init__(self, read: object, expected: str) -> None:
        super().__init__(f"read {read!r}, expected {expected}")
        self.read = read
        self.expected = expected


@dataclass(frozen=True, kw_only=True, slots=True)
class Kind:
    """A kind of quantity: its SI unit, and how each system prints it."""

    si: str
    example: str
    us: tuple[str, float, int]
    metric: tuple[str, float, int]


def _same(unit: str, factor: float, digits: int) -> dict[str, tuple[str, float, int]]:
    return {"us": (unit, factor, digits), "metric": (unit, factor, digits)}


KINDS: dict[str, Kind] = {
    "length": Kind(si="meter", example="40 ft", us=("ft", FOOT_M, 1), metric=("m", 1.0, 1)),
    "short length": Kind(
        si="meter", example="1.5 in", us=("in", 0.0254, 1), metric=("mm", 1e-3, 0)
    ),
    "distance": Kind(si="meter", example="2 mi", us=("mi", 1609.344, 1), metric=("km", 1e3, 1)),
    "area": Kind(si="meter**2", example="80 ac", us=("ac", ACRE_M2, 1), metric=("ha", 1e4, 1)),
    "mass": Kind(si="kilogram", example="6000 lb", us=("lb", POUND_KG, 0), metric=("kg", 1.0, 0)),
    "kernel mass": Kind(si="kilogram", example="36 mg", us=("mg", 1e-6, 1), metric=("mg", 1e-6, 1)),
    "rate": Kind(
        si="kilogram/meter**2",
        example="61 lb/ac",
        us=("lb/ac", POUND_KG / ACRE_M2, 1),
        metric=("kg/ha", 1e-4, 1),
    ),
    "bushel rate": Kind(
        si="meter",
        example="2 bu/ac",
        us=("bu/ac", BUSHEL_M3 / ACRE_M2, 2),
        metric=("L/ha", 1e-7, 0),
    ),
    "stand": Kind(
        si="count/meter**2",
        example="22 plants/ft2",
        us=("per ft2", 1 / FOOT_M**2, 1),
        metric=("per m2", 1.0, 0),
    ),
    "seeds per mass": Kind(
        si="count/kilogram",
        example="18900 seeds/lb",
        us=("per lb", 1 / POUND_KG, 0),
        metric=("per kg", 1.0, 0),
    ),
    "density": Kind(
        si="kilogram/meter**3",
        example="54 lb/bu",
        us=("lb/bu", POUND_KG / BUSHEL_M3, 1),
        metric=("kg/hL", 10.0, 1),
    ),
    "speed": Kind(
        si="meter/second", example="8 mph", us=("mph", 0.44704, 1), metric=("km/h", 1 / 3.6, 1)
    ),
    "work rate": Kind(
        si="meter**2/second",
        example="15 ac/h",
        us=("ac/h", ACRE_M2 / 3600, 1),
        metric=("ha/h", 1e4 / 3600, 2),
    ),
    "flow": Kind(
        si="kilogram/second",
        example="46 lb/min",
        us=("lb/min", POUND_KG / 60, 1),
        metric=("kg/min", 1 / 60, 1),
    ),
    "volume": Kind(si="meter**3", example="5000 L", us=("bu", BUSHEL_M3, 0), metric=("L", 1e-3, 0)),
    "fuel use": Kind(
        si="meter",
        example="0.58 gal/ac",
        us=("gal/ac", GALLON_M3 / ACRE_M2, 2),
        metric=("L/ha", 1e-7, 1),
    ),
    "fuel rate": Kind(
        si="meter**3/second",
        example="9.5 gal/h",
        us=("gal/h", GALLON_M3 / 3600, 1),
        metric=("L/h", 1e-3 / 3600, 1),
    ),
    "fuel volume": Kind(
        si="meter**3", example="60 gal", us=("gal", GALLON_M3, 0), metric=("L", 1e-3, 0)
    ),
    "force": Kind(
        si="newton", example="5200 lbf", us=("lbf", 4.4482216152605, 0), metric=("kN", 1e3, 1)
    ),
    "time": Kind(si="second", example="20 min", **_same("min", 60.0, 0)),
    "power": Kind(
        si="watt", example="180 hp", us=("hp", 745.6998715822702, 0), metric=("kW", 1e3, 0)
    ),
    "fraction": Kind(si="count", example="85 %", **_same("%", 0.01, 1)),
    "per time": Kind(si="count/second", example="0.03 per hour", **_same("per h", 1 / 3600, 3)),
    "rain": Kind(si="meter", example="0.1 in", us=("in", 0.0254, 2), metric=("mm", 1e-3, 1)),
    "angle": Kind(si="radian", example="8 deg", **_same("deg", 0.017453292519943295, 0)),
    "moment": Kind(si="second", example="", **_same("", 1.0, 0)),
    "count": Kind(si="count", example="12", **_same("", 1.0, 0)),
}

# What a price may stand beside: the registry's unit of it, and how one is written.
PRICES: dict[str, tuple[str, str]] = {
    "each": ("", "11 each"),
    "whole": ("", "85,000"),
    "per time": ("dollar/second", "24 per h"),
    "per area": ("dollar/meter**2", "28 per ac"),
    "per volume": ("dollar/meter**3", "3.60 per gal"),
    "per bushel": ("dollar/bushel", "9.00 per bu"),
    "per mass": ("dollar/kilogram", "0.16 per lb"),
}

# What a person may write, and the registry's word for it.
_WORDS = {
    "%": "percent", "pct": "percent", "percent": "percent", "$": "dollar",
    "in": "inch", "inch": "inch", "inches": "inch", '"': "inch",
    "ft": "foot", "foot": "foot", "feet": "foot", "'": "foot", "yd": "yard",
    "mi": "mile", "mile": "mile", "miles": "mile", "km": "kilometer", "m": "meter",
    "cm": "centimeter", "mm": "millimeter",
    "ac": "acre", "acre": "acre", "acres": "acre", "ha": "hectare", "hectares": "hectare",
    "l": "liter", "litre": "liter", "litres": "liter", "liter": "liter", "liters": "liter",
    "hl": "(100*liter)", "gal": "gallon", "gallon": "gallon", "gallons": "gallon",
    "bu": "bushel", "bushel": "bushel", "bushels": "bushel",
    "lb": "pound", "lbs": "pound", "pound": "pound", "pounds": "pound", "oz": "ounce",
    "cwt": "hundredweight", "lbf": "pound_force", "N": "newton", "kN": "kilonewton",
    "kg": "kilogram", "g": "gram", "mg": "milligram", "t": "tonne", "tonne": "tonne",
    "tonnes": "tonne", "ton": "short_ton", "tons": "short_ton",
    "s": "second", "sec": "second", "seconds": "second", "min": "minute", "minute": "minute",
    "minutes": "minute", "h": "hour", "hr": "hour", "hour": "hour", "hours": "hour",
    "day": "day", "days": "day", "mph": "mph", "kn": "knot", "kt": "knot", "kmh": "kmh",
    "kph": "kmh", "w": "watt", "kw": "kilowatt", "hp": "horsepower",
    "count": "count", "seed": "count", "seeds": "count", "plant": "count", "plants": "count",
    "kernels": "count",
    "deg": "degree", "degrees": "degree", "°": "degree",
}  # fmt: skip
_POWERS = {"2": "**2", "²": "**2", "^2": "**2", "3": "**3", "³": "**3", "^3": "**3"}
_NUMBER = r"[+-]?(?:\d{1,3}(?:,\d{3})+|\d+)?(?:\.\d+)?(?:\s+\d+/\d+|/\d+(?=\s*[A-Za-z\"'%]))?"
_PAIR = re.compile(rf"\s*({_NUMBER})\s*([^\d\s].*?)?\s*(?=$|(?<=[A-Za-z\"'])\s+[\d.])")
_WORD = re.compile(r"([A-Za-z%$°\"']+)(\^?[23²³])?$")
_MONEY = re.compile(
    r"\s*(?P<before>[$€£]|[A-Z]{3}\b)?\s*(?P<number>\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?|\.\d+)"
    r"\s*(?P<after>[$€£]|[A-Z]{3}\b)?\s*(?:(?P<each>each|apiece)|(?:per\s+|/\s*|an?\s+)(?P<unit>[A-Za-z]+))?\s*"
)
_SIGNS = {"€": "EUR", "£": "GBP"}
_LONGEST_TEXT = 60


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    text = resources.files("duskline").joinpath("data/units.txt").read_text(encoding="utf-8")
    registry: Any = pint.UnitRegistry(None, case_sensitive=True)
    registry.load_definitions(text.splitlines())
    return registry


def _unit_expression(text: str, read: str, expected: str) -> str:
    """Turn "lb/ac" or "seeds per lb" into a registry expression; refuse unknown words."""
    cleaned = text.strip().replace("·", "*").replace(" per ", "/")
    cleaned = re.sub(r"^per\s+", "count/", cleaned)
    top, *below = [part.strip() for part in cleaned.split("/")]
    parts = []
    for index, part in enumerate([top, *below]):
        match = _WORD.match(part)
        word = match.group(1).lower() if match and match.group(1) not in _WORDS else None
        known = _WORDS.get(match.group(1), _WORDS.get(word or "")) if match else None
        if match is None or known is None:
            raise UnitError(read, expected)
        parts.append(("/" if index else "") + known + _POWERS.get(match.group(2) or "", ""))
    return "".join(parts)


def _number(text: str, read: str, expected: str) -> float:
    text = text.strip().replace(",", "")
    if not text:
        raise UnitError(read, expected)
    whole, _, rest = text.partition(" ")
    if rest:
        top, bottom = rest.split("/")
        return float(whole) + float(top) / float(bottom)
    if "/" in whole:
        top, bottom = whole.split("/")
        return float(top) / float(bottom)
    return float(whole)


@lru_cache(maxsize=1024)
def _factor(unit_text: str, kind: str, read: str) -> float:
    expected = _expected(kind)
    registry = _registry()
    expression = _unit_expression(unit_text, read, expected)
    quantity = (
        registry.Quantity(1.0, registry.parse_units(expression))
        if "(" not in expression
        else registry.parse_expression(expression)
    )
    import pint

    try:
        return float(quantity.to(KINDS[kind].si).magnitude)
    except pint.DimensionalityError as wrong:
        raise UnitError(read, expected) from wrong


def _expected(kind: str) -> str:
    what = "share" if kind == "fraction" else kind
    return f'{an(what)} with its unit, such as "{KINDS[kind].example}"'


def an(word: str) -> str:
    """Return the word with its article: "an area", "a length"."""
    return f"an {word}" if word[:1] in "aeiou" else f"a {word}"


def parse(text: object, kind: str) -> float:
    """Return the quantity in SI that a person wrote as text.

    Parameters
    ----------
    text
        "40 ft", "1 h 20 min", "7 1/2 ft", "6,000 lb", "85 %".
    kind
        A key of ``KINDS``: what the figure is.

    Raises
    ------
    UnitError
        Not a text, no unit, an unknown unit, or a unit of another kind.
    """
    expected = _expected(kind)
    if not isinstance(text, str) or len(text) > _LONGEST_TEXT:
        raise UnitError(text, expected)
    rest, total, found = text.strip(), 0.0, False
    while rest:
        match = _PAIR.match(rest)
        if match is None or not match.group(2) or match.end() == 0:
            raise UnitError(text, expected)
        try:
            value = _number(match.group(1), text, expected)
        except (ValueError, ZeroDivisionError) as wrong:
            raise UnitError(text, expected) from wrong
        if found and kind not in {"length", "time", "short length", "mass"}:
            raise UnitError(text, expected)
        total += value * _factor(match.group(2), kind, text)
        found, rest = True, rest[match.end() :].strip()
    if not found:
        raise UnitError(text, expected)
    return total


@dataclass(frozen=True, kw_only=True, slots=True)
class Money:
    """A price as written: so much for each piece, second, m2, m3, kg or bushel, or whole.

    Attributes
    ----------
    amount
        Units of money for one SI unit of what it is paid for; for one bushel where it is
        paid by the bushel, as what that weighs hangs on the grain.
    per
        A key of ``PRICES``.
    currency
        The three letters where the text named them; "$" for a bare dollar sign, which many
        currencies have; empty where the text named none.
    """

    amount: float
    per: str
    currency: str = ""


def parse_money(text: object, per: tuple[str, ...]) -> Money:
    """Return the price a person wrote: "9.00 per bu", "$24/h", "11 each", "650 NZD/t".

    Parameters
    ----------
    per
        Keys of ``PRICES`` that are allowed, the likeliest first.

    Raises
    ------
    UnitError
        Not a text, not an amount of money, or money for another kind of thing.
    """
    expected = f'a price such as "{PRICES[per[0]][1]}"'
    match = _MONEY.fullmatch(text) if isinstance(text, str) and len(text) <= _LONGEST_TEXT else None
    if match is None or (match["before"] and match["after"]):
        raise UnitError(text, expected)
    sign = match["before"] or match["after"] or ""
    amount, unit = float(match["number"].replace(",", "")), match["unit"]
    currency = _SIGNS.get(sign, sign)
    if unit is None or unit.lower() in {"point", "piece"}:
        whole = "whole" if unit is None and match["each"] is None and "whole" in per else "each"
        if whole not in per:
            raise UnitError(text, expected)
        return Money(amount=amount, per=whole, currency=currency)
    for key in per:
        # A bushel of grain is a weight by custom; a litre of it is not what anybody sells.
        if not PRICES[key][0] or (key == "per bushel" and _WORDS.get(unit.lower()) != "bushel"):
            continue
        try:
            factor = _money_factor(unit, PRICES[key][0], str(text), expected)
        except UnitError:
            continue
        return Money(amount=amount * factor, per=key, currency=currency)
    raise UnitError(text, expected)


@lru_cache(maxsize=256)
def _money_factor(unit: str, si: str, read: str, expected: str) -> float:
    import pint

    registry = _registry()
    try:
        quantity = registry.parse_expression(_unit_expression(f"$/{unit}", read, expected))
        return float(quantity.to(si).magnitude)
    except pint.DimensionalityError as wrong:
        raise UnitError(read, expected) from wrong


def to_display(value: float, kind: str, system: System) -> tuple[float, str]:
    """Return the value and unit that the reader of ``system`` is shown."""
    unit, factor, _ = getattr(KINDS[kind], system)
    return value / factor, unit


def number(value: float, digits: int) -> str:
    """Return the number with thousands separated and ``digits`` decimals ("2,900")."""
    text = f"{value:,.{digits}f}"
    return text[1:] if text.startswith("-") and float(text.replace(",", "")) == 0 else text


def show(value: float, kind: str, system: System, digits: int | None = None) -> str:
    """Return the quantity as the reader sees it, with its unit ("165.4 ac")."""
    unit, factor, usual = getattr(KINDS[kind], system)
    text = number(value / factor, usual if digits is None else digits)
    return f"{text} {unit}".strip()


def show_span(span_s: float) -> str:
    """Return a time span in words ("2 h 05 min", "25 min")."""
    minutes = round(span_s / 60)
    hours, minutes = divmod(abs(minutes), 60)
    sign = "-" if span_s < 0 and (hours or minutes) else ""
    return f"{sign}{hours} h {minutes:02d} min" if hours else f"{sign}{minutes} min"


def clock(moment: datetime, system: System, *, suffix: bool = True) -> str:
    """Return a clock time: "3:05 pm" in US customary, "15:05" in metric."""
    if moment.second >= 30:
        from datetime import timedelta

        moment = moment + timedelta(seconds=60 - moment.second)
    if system == "metric":
        return f"{moment:%H:%M}"
    hour = moment.hour % 12 or 12
    half = (" pm" if moment.hour >= 12 else " am") if suffix else ""
    return f"{hour}:{moment.minute:02d}{half}"


def show_chance(fraction: float) -> str:
    """Return a chance as a person bets on it: "19 in 20".

    What is not quite certain is never rounded to certain, nor the unlikely to never.
    """
    twentieths = round(fraction * 20)
    if twentieths >= 20 and fraction < 1.0:
        return "more than 19 in 20"
    if twentieths <= 0 < fraction:
        return "less than 1 in 20"
    return f"{twentieths} in 20"
