"""Invented days of the example farms, told event by event."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from duskline.core.log import Event, identified

ACRE_M2 = 4046.8564224
POUND_KG = 0.45359237
ZONE = ZoneInfo("America/Chicago")


def at(hour: int, minute: int = 0, day: int = 18) -> datetime:
    """A moment of the rye farm's October."""
    return datetime(2026, 10, day, hour, minute, tzinfo=ZONE)


def spread(acres: float, when: datetime, field: str = "A1", machine: str = "Spreader") -> Event:
    """So many acres told as spread."""
    return Event(at=when, what="spread", machine=machine, field=field, area_m2=acres * ACRE_M2)


def covered(
    acres: float, when: datetime, field: str = "A1", machine: str = "Cultivator 1"
) -> Event:
    """So many acres told as covered."""
    return Event(at=when, what="covered", machine=machine, field=field, area_m2=acres * ACRE_M2)


def begin(machine: str, when: datetime, field: str = "A1") -> Event:
    """A machine starts in a field."""
    return Event(at=when, what="begin", machine=machine, field=field)


def story_22(*, covered_acres: float = 39.0) -> tuple[Event, ...]:
    """At 13:00: spreading on plan, 96.7 ac; covering behind it."""
    now = at(13)
    return identified(
        (spread(79.07, now), spread(96.7 - 79.07, now, "A4"), covered(covered_acres, now))
    )


def rye_day_one() -> tuple[Event, ...]:
    """Sixty events of the rye farm's first day, 9:00 to 17:45, covering a little slow.

    The morning's plan, loads with their weight, passes of the covering machines every quarter
    hour, a wet hole, a stuck tractor, notes, one undo, one telling twice from two phones.
    """
    told: list[Event] = [
        Event(
            at=at(9), what="plan", area_m2=137.5 * ACRE_M2, stop_at=at(14, 50),
            chance_fraction=0.95, id="plan-1",
        ),
        begin("Spreader", at(9, 30)),
        begin("Cultivator 1", at(9, 52)),
    ]  # fmt: skip
    told += [covered(3.4, at(10, 5) + timedelta(minutes=15 * step)) for step in range(20)]
    told += [
        Event(at=at(10, 20), what="note", machine="Spreader", note="dust on the seed"),
        spread(40.0, at(10, 50)),
        Event(at=at(11, 5), what="wet", field="A1", area_m2=0.4 * ACRE_M2, note="wet hole"),
        spread(38.5, at(12, 5)),
        begin("Spreader", at(12, 18), "A4"),
        Event(at=at(12, 27), what="load", machine="Spreader", field="A4", mass_kg=6000 * POUND_KG),
        spread(5.4, at(12, 26), "A4"),
        Event(at=at(12, 40), what="stuck", machine="Cultivator 1", field="A1"),
        Event(at=at(12, 52), what="up", machine="Cultivator 1", field="A1"),
        spread(20.0, at(13, 30), "A4"),
        spread(20.0, at(14, 10), "A4"),
        Event(at=at(14, 11), what="note", machine="Spreader", note="gate holds"),
        spread(13.9, at(14, 40), "A4"),
        Event(at=at(14, 41), what="stop", machine="Spreader", field="A4"),
        begin("Cultivator 2", at(15, 8), "A4"),
    ]
    told += [
        covered(3.7, at(15, 24) + timedelta(minutes=15 * step), "A4", "Cultivator 2")
        for step in range(10)
    ]
    told += [covered(3.4, at(15, 12) + timedelta(minutes=15 * step)) for step in range(3)]
    told += [covered(3.3, at(16, 5) + timedelta(minutes=15 * step), "A4") for step in range(6)]
    told += [
        covered(9.9, at(15, 13), "A4"),
        Event(at=at(15, 15), what="note", machine="Cultivator 1", note="points fine"),
    ]
    known = identified(told)
    wrong = next(e for e in known if e.area_m2 == 9.9 * ACRE_M2)
    return (*known, *identified((Event(at=at(15, 16), what="undo", refers=wrong.id),)))
