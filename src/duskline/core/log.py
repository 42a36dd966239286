"""What happened: events of the log, and what they add up to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

__all__ = ["Event", "What", "area_by_field_m2", "area_on_m2", "observed_rate_m2_per_s"]

What = Literal["spread", "covered", "load", "down", "note"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Event:
    """One line of the log.

    Attributes
    ----------
    at
        When it was done (the end of the work), time-zone aware.
    area_m2, mass_kg, took_s
        What was done and how long it took, where the line says so.
    """

    at: datetime
    what: What
    machine: str = ""
    field: str = ""
    area_m2: float | None = None
    mass_kg: float | None = None
    took_s: float | None = None
    note: str = ""


def area_by_field_m2(events: Iterable[Event], what: What) -> dict[str, float]:
    """Return the area done so far, field by field. [m2]"""
    done: dict[str, float] = {}
    for event in events:
        if event.what == what and event.area_m2 is not None:
            done[event.field] = done.get(event.field, 0.0) + event.area_m2
    return done


def area_on_m2(events: Iterable[Event], what: What, on: date, until: datetime) -> float:
    """Return the area done on one date up to a moment. [m2]"""
    return sum(
        event.area_m2
        for event in events
        if event.what == what
        and event.area_m2 is not None
        and event.at.date() == on
        and event.at <= until
    )


def observed_rate_m2_per_s(events: Iterable[Event], machine: str, what: What) -> float | None:
    """Return a machine's observed work rate, or None if no line gives area and time. [m2/s]

    Lines with both an area and a time taken count; all of them together, area over time.
    """
    area_m2, took_s = 0.0, 0.0
    for event in events:
        if event.machine == machine and event.what == what and event.area_m2 and event.took_s:
            area_m2 += event.area_m2
            took_s += event.took_s
    return area_m2 / took_s if took_s > 0.0 else None
