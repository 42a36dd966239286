"""The form of the season in ``farm.toml``: its days and losses, crews, who is away, the climate.

The nouns are made of it, and names checked, in ``duskline.exchange.season_rules``.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from duskline.exchange.toml_forms import (
    MOST_TABLES,
    Bought,
    Day,
    FormError,
    Name,
    Price,
    Quantity,
    Table,
    Words,
    is_short,
    text_schema,
)
from duskline.units import Money

__all__ = ["AwayTable", "ClimateTable", "CrewTable", "SeasonTable"]

LONGEST_SEASON_DAYS = 366
_MOST_RUN_DAYS = 60.0
_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_WEEKDAY_NUMBERS = {
    word: number for number, day in enumerate(_WEEKDAYS) for word in (day.lower(), day.lower()[:3])
}
_MONTH_DAY = re.compile(r"^(\d{1,2})-(\d{1,2})$")
_DAYS = re.compile(r"^(\d{1,3}(?:\.\d{1,6})?)\s*(?:d|days?)$")
_LEAP_YEAR = 2024


def _weekday(value: object) -> int:
    found = _WEEKDAY_NUMBERS.get(value.strip().lower()) if is_short(value) else None
    if found is None:
        raise FormError(value, 'a day of the week in English, such as "Sunday"')
    return found


def _month_day(value: object) -> tuple[int, int]:
    expected = 'month and day, such as "10-15"'
    match = _MONTH_DAY.match(value.strip()) if is_short(value) else None
    if match is None:
        raise FormError(value, expected)
    month, day = int(match.group(1)), int(match.group(2))
    try:
        dt.date(_LEAP_YEAR, month, day)
    except ValueError:
        raise FormError(value, expected) from None
    return month, day


def _days(value: object) -> float:
    expected = f'days in a row from 1 to {_MOST_RUN_DAYS:g}, such as "2.5 d"'
    match = _DAYS.match(value.strip()) if is_short(value) else None
    if match is None or not 1.0 <= float(match.group(1)) <= _MOST_RUN_DAYS:
        raise FormError(value, expected)
    return float(match.group(1))


def _three(example: str) -> WithJsonSchema:
    items = {"type": "string", "examples": [example]}
    return WithJsonSchema({"type": "array", "items": items, "minItems": 3, "maxItems": 3})


_Three = Field(min_length=3, max_length=3)


Weekday = Annotated[int, BeforeValidator(_weekday), text_schema("Sunday")]
MonthDay = Annotated[tuple[int, int], BeforeValidator(_month_day), text_schema("10-15")]
DaysInARow = Annotated[float, BeforeValidator(_days), text_schema("2.5 d")]
PerArea = Annotated[Money, Price(("per area",))]
_FallShare = Annotated[float, Quantity("fraction", 0.0, 1.0)]
_FallTime = Annotated[float, Quantity("time", 0.0, 86400.0, "6 h")]
Shares = Annotated[tuple[_FallShare, ...], _Three, _three("50 %")]
Times = Annotated[tuple[_FallTime, ...], _Three, _three("6 h")]


class SeasonTable(Table):
    """The days of the season, and what waiting, lateness and unsown ground lose."""

    first_day: Day | None = None
    last_day: Day | None = None
    due: Day | None = None
    days_off: tuple[Day, ...] = Field(default=(), max_length=MOST_TABLES)
    weekly_off: tuple[Weekday, ...] = Field(default=(), max_length=7)
    late: PerArea | None = None
    late_per_day: PerArea | None = None
    waiting: PerArea | None = None
    unsown: PerArea | None = None
    stability: Bought | None = None

    @model_validator(mode="after")
    def _in_order(self) -> SeasonTable:
        if self.first_day is not None and self.last_day is not None:
            days = (self.last_day - self.first_day).days + 1
            if days < 1:
                raise FormError(
                    f"last_day {self.last_day} before first_day {self.first_day}",
                    "a last_day on or after first_day",
                )
            if days > LONGEST_SEASON_DAYS:
                raise FormError(f"{days} days", f"a season of {LONGEST_SEASON_DAYS} days at most")
        if len(set(self.weekly_off)) == len(_WEEKDAYS):
            raise FormError("every day of the week off", "one day of work a week at least")
        return self


class CrewTable(Table):
    """Machines that work together, and the seed trucks that feed them."""

    name: Name
    machines: tuple[Name, ...] = Field(min_length=1, max_length=MOST_TABLES)
    seed_trucks: tuple[Name, ...] = Field(default=(), max_length=MOST_TABLES)


class AwayTable(Table):
    """A person, tractor, machine, seed truck or crew that is not there, first to last day."""

    who: Name
    from_: Day = Field(alias="from")
    to: Day | None = None
    why: Words = ""

    @model_validator(mode="after")
    def _in_order(self) -> AwayTable:
        if self.to is not None and self.to < self.from_:
            raise FormError(f"to {self.to} before from {self.from_}", "a to on or after from")
        return self


class ClimateTable(Table):
    """What falls are like here from a month and day on, for days the forecast does not reach."""

    from_: MonthDay = Field(alias="from")
    fit: Shares
    run: DaysInARow
    spread: Times
    cover: Times

    @model_validator(mode="after")
    def _in_order(self) -> ClimateTable:
        for name, three, order in (
            ("fit", self.fit, "a poor, a usual and a good fall, in this order"),
            ("spread", self.spread, "a short, a usual and a long day, in this order"),
            ("cover", self.cover, "a short, a usual and a long day, in this order"),
        ):
            if list(three) != sorted(three):
                raise FormError(f"{name} out of order", order)
        return self
