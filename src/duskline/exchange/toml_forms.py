"""What a single value of ``farm.toml`` may look like: quantities, prices, dates, clock times.

Quantities are text with units; a bare number where a unit belongs is an error that shows the
right form.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from typing import Annotated, Any, TypeGuard

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema
from pydantic_core import core_schema

from duskline.core.errors import DusklineError
from duskline.units import KINDS, PRICES, Money, System, an, parse, parse_money, show

__all__ = [
    "MOST_TABLES",
    "Angle",
    "Area",
    "Bought",
    "Clock",
    "Count",
    "Currency",
    "Day",
    "Density",
    "Depth",
    "Efficiency",
    "FormError",
    "FuelUse",
    "Hours",
    "Load",
    "LonLat",
    "Mass",
    "Name",
    "Piece",
    "Power",
    "Price",
    "Quantity",
    "Radius",
    "Rate",
    "Sample",
    "SeedPrice",
    "Share",
    "Short",
    "Span",
    "Speed",
    "Stand",
    "Sure",
    "Table",
    "Time",
    "Used",
    "Width",
    "Wind",
    "Words",
    "Worn",
    "is_short",
    "one_or_more",
    "printable",
    "text_schema",
]

MOST_TABLES = 500
_LONGEST_VALUE = 80
_MOST_SEEDS = 1_000_000
_MOST_MONEY = 1e9
_LEAST_GROUND_M2, _MOST_GROUND_M2 = 100.0, 1e9
_FIRST_DAY, _LAST_DAY = dt.date(2000, 1, 1), dt.date(2100, 12, 31)
CLOCK = re.compile(r"^([01]?\d|2[0-3]):([0-5]\d)$")
SPAN = re.compile(r"^\s*(\S+?)\s*(?:-|–|to)\s*(\S+?)\s*$")
COUNT = re.compile(r"^\s*(\d+)\s+of\s+(\d+)\s*$")
SAMPLE = re.compile(r"^\s*(.+?)\s*:\s*(\d+)\s*$")
USED = re.compile(r"^\s*(\d{1,6})\s*(?:points?)?\s+(?:per|over|in)\s+(.+)$")
SURE = re.compile(r"^\s*(\d+)\s+in\s+(\d+)\s*$")


class FormError(DusklineError, ValueError):
    """A value in ``farm.toml`` has the wrong form; carries what was expected."""

    def __init__(self, read: object, expected: str) -> None:
        super().__init__(f"read {read!r}, expected {expected}")
        self.read = read
        self.expected = expected


@dataclass(frozen=True, slots=True)
class Quantity:
    """A text with a unit, read to SI and held between two limits (SI, None for none)."""

    kind: str
    low: float | None = None
    high: float | None = None
    example: str = ""

    def read(self, value: object) -> float:
        """Return the quantity in SI; a bad one raises with the form that is expected."""
        si = parse(value, self.kind)
        low = -math.inf if self.low is None else self.low
        high = math.inf if self.high is None else self.high
        if not low <= si <= high:
            us, metric = self._span("us"), self._span("metric")
            span = us if us == metric else f"{us} ({metric})"
            raise FormError(value, f"{an(self.kind)} from {span}")
        return si

    def _span(self, system: System) -> str:
        ends = [show(end, self.kind, system) for end in (self.low, self.high) if end is not None]
        return " to ".join(ends)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        """Validate by reading the text; nothing else is accepted."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> Any:
        """In the JSON schema a quantity is a text."""
        return {"type": "string", "examples": [self.example or KINDS[self.kind].example]}


@dataclass(frozen=True, slots=True)
class Price:
    """A text with money in it; ``per`` are the things it may be paid for (keys of PRICES)."""

    per: tuple[str, ...]

    def read(self, value: object) -> Money:
        """Return the price in SI; a bad one raises with the form that is expected."""
        money = parse_money(value, self.per)
        if money.amount > _MOST_MONEY:
            raise FormError(value, f'a price such as "{PRICES[self.per[0]][1]}"')
        return money

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        """Validate by reading the text; nothing else is accepted."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> Any:
        """In the JSON schema a price is a text."""
        return {"type": "string", "examples": [PRICES[self.per[0]][1]]}


def _clock(value: object) -> str:
    if not is_short(value) or not CLOCK.match(value):
        raise FormError(value, 'a clock time such as "09:30"')
    return value.zfill(5)


def is_short(value: object) -> TypeGuard[str]:
    """Say whether this is a text short enough to look into."""
    return isinstance(value, str) and len(value) <= _LONGEST_VALUE


def _span(value: object) -> tuple[str, str]:
    match = SPAN.match(value) if is_short(value) else None
    if match is None:
        raise FormError(value, 'two clock times such as "09:30-18:15"')
    opens, closes = _clock(match.group(1)), _clock(match.group(2))
    if opens >= closes:
        raise FormError(value, "an opening before the closing time")
    return opens, closes


def _count(value: object) -> tuple[int, int]:
    match = COUNT.match(value) if is_short(value) else None
    if match is None:
        raise FormError(value, 'sprouted of tested, such as "88 of 100"')
    alive, tested = int(match.group(1)), int(match.group(2))
    if alive > tested:
        raise FormError(value, "no more sprouted than were tested")
    if not 1 <= tested <= _MOST_SEEDS:
        raise FormError(value, f"from 1 to {_MOST_SEEDS:,} seeds tested")
    return alive, tested


def _sample(value: object) -> tuple[float, int]:
    match = SAMPLE.match(value) if is_short(value) else None
    if match is None:
        raise FormError(value, 'a weighed sample and its count, such as "20 g: 832"')
    mass_kg, seeds_count = parse(match.group(1), "mass"), int(match.group(2))
    if not 1e-5 <= mass_kg <= 5.0 or not 1 <= seeds_count <= _MOST_SEEDS:
        raise FormError(value, 'a weighed sample and its count, such as "20 g: 832"')
    return mass_kg, seeds_count


def _day(value: object) -> dt.date:
    if is_short(value):
        try:
            value = dt.date.fromisoformat(value.strip())
        except ValueError:
            raise FormError(value, "a date such as 2026-10-18") from None
    if not isinstance(value, dt.date) or isinstance(value, dt.datetime):
        raise FormError(value, "a date such as 2026-10-18")
    if not _FIRST_DAY <= value <= _LAST_DAY:
        raise FormError(value, f"a date from {_FIRST_DAY.year} to {_LAST_DAY.year}")
    return value


def _one_line(value: str) -> str:
    if not value.isprintable():
        raise FormError(value, "one line of letters that can be printed")
    return value


def printable(value: str) -> str:
    """Return the text; one with letters that cannot be printed raises, line ends aside."""
    if not value.replace("\n", " ").isprintable():
        raise FormError(value, "letters that can be printed")
    return value


def _sure(value: object) -> float:
    match = SURE.match(value) if is_short(value) else None
    if match is None or not 0 < int(match.group(1)) < int(match.group(2)):
        raise FormError(value, 'a chance such as "19 in 20"')
    return int(match.group(1)) / int(match.group(2))


def _used(value: object) -> tuple[int, float]:
    match = USED.match(value) if is_short(value) else None
    if match is None or int(match.group(1)) < 1:
        raise FormError(value, 'points over ground, such as "68 per 1500 ac"')
    area_m2 = parse(match.group(2), "area")
    if not _LEAST_GROUND_M2 <= area_m2 <= _MOST_GROUND_M2:
        raise FormError(value, 'points over ground, such as "68 per 1500 ac"')
    return int(match.group(1)), area_m2


def one_or_more(value: object) -> object:
    """Let a single figure stand where a list of them may."""
    return (value,) if isinstance(value, str) else value


def _lonlat(value: object) -> tuple[float, float]:
    if (
        not isinstance(value, list | tuple)
        or len(value) != 2
        or not all(type(figure) in (int, float) and math.isfinite(figure) for figure in value)
        or abs(value[0]) > 180.0
        or abs(value[1]) > 90.0
    ):
        raise FormError(value, "longitude and latitude in degrees, such as [-93.5, 42.0]")
    return float(value[0]), float(value[1])


def text_schema(example: str) -> WithJsonSchema:
    """Return that the JSON schema shows a text, with an example."""
    return WithJsonSchema({"type": "string", "examples": [example]})


Clock = Annotated[str, BeforeValidator(_clock), text_schema("09:30")]
Span = Annotated[tuple[str, str], BeforeValidator(_span), text_schema("09:30-18:15")]
Count = Annotated[tuple[int, int], BeforeValidator(_count), text_schema("88 of 100")]
Sample = Annotated[tuple[float, int], BeforeValidator(_sample), text_schema("20 g: 832")]
Sure = Annotated[float, BeforeValidator(_sure), text_schema("19 in 20")]
Day = Annotated[dt.date, BeforeValidator(_day)]
Share = Annotated[float, Quantity("fraction", 0.0, 1.0)]
Efficiency = Annotated[float, Quantity("fraction", 0.05, 1.0)]
Width = Annotated[float, Quantity("length", 0.5, 60.0)]
Short = Annotated[float, Quantity("length", 0.0, 100.0)]
Speed = Annotated[float, Quantity("speed", 0.2, 20.0)]
Time = Annotated[float, Quantity("time", 0.0, 86400.0)]
Mass = Annotated[float, Quantity("mass", 0.0, 5e6)]
Load = Annotated[float, Quantity("mass", 20.0, 1e5)]
Density = Annotated[float, Quantity("density", 150.0, 1200.0)]
Rate = Annotated[float, Quantity("rate", 1e-5, 0.2)]
Stand = Annotated[float, Quantity("stand", 1.0, 3000.0)]
Power = Annotated[float, Quantity("power", 0.0, 1e6)]
Wind = Annotated[float, Quantity("speed", 0.0, 40.0)]
Area = Annotated[float, Quantity("area", _LEAST_GROUND_M2, _MOST_GROUND_M2)]
Piece = Annotated[float, Quantity("area", 1.0, 1e7, "0.4 ac")]
Radius = Annotated[float, Quantity("length", 1.0, 50.0)]
Depth = Annotated[float, Quantity("short length", 0.0, 0.5)]
Worn = Annotated[float, Quantity("short length", 0.0, 0.3)]
Hours = Annotated[float, Quantity("time", 0.0, 3.6e8, "75 h")]
FuelUse = Annotated[float, Quantity("fuel use", 0.0, 1e-5)]
Bought = Annotated[Money, Price(("whole",))]
SeedPrice = Annotated[Money, Price(("per bushel", "per mass"))]
Used = Annotated[tuple[int, float], BeforeValidator(_used), text_schema("68 per 1500 ac")]
LonLat = Annotated[
    tuple[float, float],
    BeforeValidator(_lonlat),
    WithJsonSchema({"type": "array", "items": {"type": "number"}}),
]
Currency = Annotated[str, Field(pattern="^[A-Z]{3}$")]
Angle = Annotated[float, Quantity("angle", 0.0, 0.7853982)]
Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_one_line)]
Words = Annotated[str, Field(max_length=500), AfterValidator(printable)]


class Table(BaseModel):
    """A table of the file: no unknown keys, values kept as given."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)
