"""The season as a calendar file (RFC 5545): one event for each crew and day.

Importing a newer file moves, mends and calls off the events of the older one: the name of an
event hangs on farm, crew and date alone, and its number of changes goes up with each change.
"""

from __future__ import annotations

import json
import os
import unicodedata
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from duskline.core.checks import check_within
from duskline.core.errors import DusklineError
from duskline.exchange.problems import FolderProblem, Problem
from duskline.units import System, show
from duskline.words.clock import STEP, arrival, no_later, rounded_down

if TYPE_CHECKING:
    from icalendar import Calendar, Event

__all__ = [
    "LARGEST_BYTES",
    "DayPlan",
    "DayTwice",
    "FieldVisit",
    "SownBetween",
    "plain",
    "season_calendar",
    "write_season_calendar",
]

LARGEST_BYTES = 4_000_000
"""A calendar larger than this is not ours: 12 crews for a season come to a tenth of it."""
_PRODUCT = "-//Duskline//Season//EN"
_SPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:duskline:season")
_NAMED_IN_TITLE = 4
_HOUR_S = 3600.0
# What makes an event another event to the one who reads it.
_SHOWN = ("SUMMARY", "DESCRIPTION", "DTSTART", "DTEND", "STATUS")


class DayTwice(DusklineError, ValueError):
    """One crew has two plans for one date."""

    def __init__(self, *, crew: str, on: date) -> None:
        super().__init__(f"{crew} has two plans for {on}")
        self.crew = crew
        self.on = on


@dataclass(frozen=True, kw_only=True, slots=True)
class SownBetween:
    """Between which dates a field is done, 8 seasons of weather in 10.

    ``None`` stands for a date after ``last_on``, the last of the plan.
    """

    early_on: date | None
    late_on: date | None
    last_on: date


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldVisit:
    """One field, or a part of one, on one crew's day.

    Attributes
    ----------
    name, customer, lot
        As in the farm folder; ``customer`` is "" on the farmer's own ground.
    area_m2
        Sown on this visit. [m2]
    about_from_at, about_to_at
        The crew gets there between these; time-zone aware, the same moment where only one is
        known.
    is_part
        The rest of the field has another day.
    between
        On a day no forecast reaches: when the field is done. None where hours can be told.
    """

    name: str
    lot: str
    area_m2: float
    about_from_at: datetime
    about_to_at: datetime
    customer: str = ""
    is_part: bool = False
    between: SownBetween | None = None

    def __post_init__(self) -> None:
        check_within("area of a visit", self.area_m2, 0.0, 1e9)
        _check_order("hours of arrival", self.about_from_at, self.about_to_at)


@dataclass(frozen=True, kw_only=True, slots=True)
class DayPlan:
    """One crew's day: its hours, when to stop spreading, and the fields in driving order.

    All moments are time-zone aware. ``called_off`` says in a word or two why nobody goes out
    ("rain"); the day then stands in the calendar as called off.
    """

    on: date
    crew: str
    opens_at: datetime
    stop_at: datetime
    closes_at: datetime
    fields: tuple[FieldVisit, ...] = ()
    called_off: str = ""

    def __post_init__(self) -> None:
        _check_order("hours from opening to the spreader's stop", self.opens_at, self.stop_at)
        _check_order("hours from the spreader's stop to the close", self.stop_at, self.closes_at)
        hours = (self.closes_at - self.opens_at) / timedelta(hours=1)
        # An event that ends as it begins is not allowed (RFC 5545, 3.8.2.2).
        check_within("hours of the day", hours, 1.0 / 60.0, 36.0)

    @property
    def area_m2(self) -> float:
        """Sown that day. [m2]"""
        return sum(visit.area_m2 for visit in self.fields)


def season_calendar(
    days: Sequence[DayPlan],
    *,
    farm: str,
    now_at: datetime,
    system: System,
    previous: bytes | None = None,
) -> bytes:
    """Return the season as the bytes of a calendar file.

    Parameters
    ----------
    days
        The plan from now on. Days with neither fields nor a reason for being called off are
        left out.
    farm
        Name of the farm; it may not change through the season, as events are known by it.
    now_at
        The moment of writing, time-zone aware.
    system
        Of the acres and clock times in the text.
    previous
        The calendar written before, so that its events are followed up: what is the same keeps
        its numbers byte for byte, what has changed counts up, and what has fallen out of the
        plan and is not yet over is called off.

    Raises
    ------
    DayTwice
        A crew has two plans for one date.
    FolderProblem
        ``previous`` is no calendar of ours.

    Notes
    -----
    Times stand in UTC (RFC 5545 3.3.5, form 2), which needs no table of time zones and cannot
    be read an hour wrong; the text gives the farm's clock. No METHOD: the file is imported,
    nobody is invited.

    Source
    ------
    RFC 5545, Internet Calendaring and Scheduling, IETF, 2009; names of events after RFC 7986.
    """
    before = _read(previous) if previous is not None else {}
    several = len({day.crew for day in days}) > 1
    wanted = {}
    for day in sorted(days, key=lambda one: (one.on, one.crew)):
        if not day.fields and not day.called_off:
            continue
        name = _name(farm, day)
        if name in wanted:
            raise DayTwice(crew=day.crew, on=day.on)
        wanted[name] = _event(name, day, system, several=several)
    events = [_followed(event, before.get(name), now_at) for name, event in wanted.items()]
    events += [_left(event, now_at) for name, event in before.items() if name not in wanted]
    return _calendar(farm, events)


def write_season_calendar(
    path: Path, days: Sequence[DayPlan], *, farm: str, now_at: datetime, system: System
) -> None:
    """Write the season's calendar, following up the one that stands there; whole or not at all.

    Raises
    ------
    DayTwice
        A crew has two plans for one date.
    FolderProblem
        A file of that name stands there and is no calendar of ours; it is left alone.
    OSError
        The file cannot be read or written.
    """
    previous = None
    if path.exists():
        if path.stat().st_size > LARGEST_BYTES:
            raise _not_ours(path.name, "a file too large for it")
        previous = path.read_bytes()
    try:
        content = season_calendar(days, farm=farm, now_at=now_at, system=system, previous=previous)
    except FolderProblem as problem:
        raise _not_ours(path.name, problem.problems[0].read) from problem
    beside = path.with_name(f"{path.name}.part")
    beside.write_bytes(content)
    os.replace(beside, path)


def plain(text: str) -> str:
    """Return a name as one line: no control characters, no runs of blanks."""
    kept = "".join(" " if unicodedata.category(one) in {"Cc", "Zl", "Zp"} else one for one in text)
    return " ".join(kept.split())


# --- one event ------------------------------------------------------------------------------


def _name(farm: str, day: DayPlan) -> str:
    """Return what an event is known by: farm, crew and date, and nothing that may change."""
    return str(uuid.uuid5(_SPACE, json.dumps([farm, day.crew, day.on.isoformat()])))


def _event(name: str, day: DayPlan, system: System, *, several: bool) -> Event:
    from icalendar import Event

    event = Event()
    event.add("UID", name)
    event.add("SUMMARY", _title(day, system, several=several))
    event.add("DESCRIPTION", "\n".join(_story(day, system)))
    # As the text has them, and each new plan does not move every event by seconds.
    begins_at, ends_at = (_utc(rounded_down(at)) for at in (day.opens_at, day.closes_at))
    event.add("DTSTART", begins_at)
    event.add("DTEND", max(ends_at, begins_at + STEP))
    event.add("STATUS", "CANCELLED" if day.called_off else "CONFIRMED")
    event.add("TRANSP", "TRANSPARENT" if day.called_off else "OPAQUE")
    return event


def _title(day: DayPlan, system: System, *, several: bool) -> str:
    """Return the day in a line: "Spread A1, A6; stop 3:05 pm"."""
    crew = f"{plain(day.crew)}: " if several else ""
    if day.called_off:
        return f"{crew}No spreading, {plain(day.called_off)}"
    names = list(dict.fromkeys(plain(visit.name) for visit in day.fields))
    more = len(names) - _NAMED_IN_TITLE
    listed = ", ".join(names[:_NAMED_IN_TITLE] if more > 1 else names)
    if more > 1:
        listed += f" and {more} more"
    return f"{crew}Spread {listed}; stop {no_later(day.stop_at, system)}"


def _story(day: DayPlan, system: System) -> list[str]:
    lines = [f"Crew: {plain(day.crew)}"] if day.crew else []
    if day.called_off:
        return [*lines, f"Called off: {plain(day.called_off)}"]
    lines.append(
        f"Start {no_later(day.opens_at, system)}, stop spreading {no_later(day.stop_at, system)}, "
        f"all worked in by {no_later(day.closes_at, system)}"
    )
    for number, visit in enumerate(day.fields, start=1):
        what = [show(visit.area_m2, "area", system)]
        if visit.is_part:
            what[0] = f"part, {what[0]}"
        what += [plain(word) for word in (visit.lot, visit.customer) if plain(word)]
        there = arrival(visit.about_from_at, visit.about_to_at, system)
        lines.append(f"{number}. {plain(visit.name)}: {', '.join(what)}; there {there}")
    if any(visit.between is not None for visit in day.fields):
        lines.append("A usual day, beyond the forecast: it may move")
    return [*lines, f"In all {show(day.area_m2, 'area', system)}"]


# --- following up ---------------------------------------------------------------------------


def _followed(event: Event, before: Event | None, now_at: datetime) -> Event:
    """Return the event with its count of changes; the old one where nothing has changed."""
    if before is None:
        return _counted(event, 0, now_at)
    if all(_same(event, before, key) for key in _SHOWN):
        return before
    return _counted(event, _sequence(before) + 1, now_at)


def _same(one: Event, other: Event, key: str) -> bool:
    return bool(one.decoded(key) == other.decoded(key))


def _left(event: Event, now_at: datetime) -> Event:
    """Return an event that is in the plan no more: over, called off already, or called off now."""
    if event["STATUS"] == "CANCELLED" or event.decoded("DTEND") <= now_at:
        return event
    title = f"Called off: {event['SUMMARY']}"
    for key, value in (("SUMMARY", title), ("STATUS", "CANCELLED"), ("TRANSP", "TRANSPARENT")):
        event.pop(key, None)
        event.add(key, value)
    return _counted(event, _sequence(event) + 1, now_at)


def _sequence(event: Event) -> int:
    return int(str(event["SEQUENCE"]))


def _counted(event: Event, sequence: int, now_at: datetime) -> Event:
    for key in ("SEQUENCE", "DTSTAMP", "LAST-MODIFIED"):
        event.pop(key, None)
    event.add("SEQUENCE", sequence)
    # Without a METHOD the stamp is the moment of the last change (RFC 5545, 3.8.7.2).
    event.add("DTSTAMP", _utc(now_at))
    event.add("LAST-MODIFIED", _utc(now_at))
    return event


def _calendar(farm: str, events: Sequence[Event]) -> bytes:
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("PRODID", _PRODUCT)
    calendar.add("VERSION", "2.0")
    calendar.add("CALSCALE", "GREGORIAN")
    for key in ("NAME", "X-WR-CALNAME"):
        calendar.add(key, f"Spreading, {plain(farm)}" if plain(farm) else "Spreading")
    for event in sorted(events, key=lambda one: (one.decoded("DTSTART"), str(one["UID"]))):
        calendar.add_component(event)
    content: bytes = calendar.to_ical()
    return content


def _read(content: bytes) -> Mapping[str, Event]:
    """Return the events of a calendar we wrote, by name."""
    from icalendar import Calendar

    if len(content) > LARGEST_BYTES:
        raise _not_ours("season.ics", "a file too large for it")
    try:
        calendar: Calendar = Calendar.from_ical(content)
        if str(calendar.get("PRODID", "")) != _PRODUCT:
            raise _not_ours("season.ics", "another program's calendar")
        return {str(event["UID"]): _checked(event) for event in calendar.events}
    except FolderProblem:
        raise
    # The parser raises a dozen kinds on a broken file; each means the same to the farmer.
    except Exception as wrong:
        raise _not_ours("season.ics", "a file that is no whole calendar") from wrong


def _checked(event: Any) -> Event:
    """Return an event that has all we need to follow it up; raises where it has not."""
    for key in (*_SHOWN, "DTSTAMP", "LAST-MODIFIED"):
        event.decoded(key)
    for key in ("DTSTART", "DTEND"):
        moment = event.decoded(key)
        if not isinstance(moment, datetime) or moment.tzinfo is None:
            raise ValueError(key)
    if _sequence(event) < 0 or event.errors:
        raise ValueError("SEQUENCE")
    checked: Event = event
    return checked


def _not_ours(file: str, read: str) -> FolderProblem:
    problem = Problem(
        file=file,
        where="",
        read=read,
        expected="the calendar written before",
        hint="Move it away or write to another name.",
    )
    return FolderProblem((problem,))


def _utc(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(microsecond=0)


def _check_order(name: str, first: datetime, last: datetime) -> None:
    """Refuse moments out of order, and moments without a time zone."""
    for moment in (first, last):
        if moment.utcoffset() is None:
            raise ValueError(f"{name}: a moment without its time zone")
    # Across zones only UTC subtracts rightly where the clock changes between the two.
    check_within(name, (_utc(last) - _utc(first)).total_seconds() / _HOUR_S, 0.0, 48.0)
