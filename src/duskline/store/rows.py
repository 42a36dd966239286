"""An event as a row and back, to the bit; and what no log can hold, refused."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import RowMapping

from duskline.core.log import Event
from duskline.exchange.log_csv import LONGEST_CELL, MOST, in_log_years
from duskline.store.errors import EventRefused

__all__ = ["checked", "event_of", "moment_of_us", "row_of", "us_of"]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)
COLUMN = {"at": "at_us", "clock_at": "clock_us", "server_at": "server_us", "stop_at": "stop_us"}
FIGURES = {"area_m2": "area", "mass_kg": "mass", "took_s": "time", "chance_fraction": "chance"}
TEXTS = ("machine", "field", "note", "told", "id", "device", "person", "refers")


def us_of(moment: datetime) -> int:
    """Return a moment as microseconds since 1970 in UTC."""
    return (moment - EPOCH) // MICROSECOND


def moment_of_us(microseconds: int) -> datetime:
    """Return the moment of so many microseconds since 1970, in UTC."""
    return EPOCH + timedelta(microseconds=microseconds)


def checked(event: Event) -> Event:
    """Return the event with plain floats, as every database gives it back.

    Raises
    ------
    EventRefused
        A text too long or with letters no database takes, a figure that is no figure or out of
        all bounds, a time of another century.
    """
    for name in TEXTS:
        _check_text(name, getattr(event, name))
    for moment in (event.at, event.clock_at, event.stop_at):
        if moment is not None and not in_log_years(moment):
            raise EventRefused("", f"{moment} is no time a log is kept of. Put the clock right.")
    figures = {
        name: _figure(kind, value)
        for name, kind in FIGURES.items()
        if (value := getattr(event, name)) is not None
    }
    return replace(event, **figures)  # type: ignore[arg-type]


def _check_text(name: str, text: str) -> None:
    if len(text) > LONGEST_CELL:
        raise EventRefused("", f"The {name} is {len(text)} letters long; {LONGEST_CELL} are room.")
    if "\x00" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        raise EventRefused("", f"The {name} holds a letter that is none. Write it again by hand.")


def _figure(kind: str, value: float) -> float:
    most = 1.0 if kind == "chance" else MOST[kind]
    figure = float(value) + 0.0  # -0.0 would not come back as it went in
    if not math.isfinite(figure) or not 0.0 <= figure <= most:
        raise EventRefused("", f"The {kind} told is {value:g}, which cannot be. Tell it again.")
    return figure


def row_of(event: Event) -> dict[str, Any]:
    """Return the event as columns, with its fingerprint."""
    row: dict[str, Any] = {"digest": event.digest}
    for one in fields(event):
        value = getattr(event, one.name)
        if isinstance(value, datetime):
            value = us_of(value)
        elif isinstance(value, bool):
            value = int(value)
        row[COLUMN.get(one.name, one.name)] = value
    return row


def event_of(row: RowMapping) -> Event:
    """Return the event of a row, its times in UTC."""
    values: dict[str, Any] = {}
    for one in fields(Event):
        value = row[COLUMN.get(one.name, one.name)]
        if one.name in COLUMN and value is not None:
            value = moment_of_us(value)
        elif one.name == "whole":
            value = bool(value)
        values[one.name] = value
    return Event(**values)
