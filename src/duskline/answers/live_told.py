"""What the live answer reads out of the log: whose work it was, rain called, what is left."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from duskline.answers.live_now import LEAST_AREA_M2
from duskline.core.farm import Farm
from duskline.core.log import WORK, Event, Settled

__all__ = [
    "as_pace",
    "left_to_spread_m2",
    "rain_called_at",
    "taken_in",
    "told_at",
    "with_machines",
]


def with_machines(farm: Farm, settled: Settled) -> Settled:
    """Return the log with the machine named where none was and only one can be meant.

    Parts of an event that the account moves from field to field (their ids have a "/") are
    nobody's work, and stay so.
    """
    only: dict[str, str] = {}
    if len(farm.spreaders) == 1:
        only |= dict.fromkeys(("spread", "load"), farm.spreaders[0].name)
    if len(farm.cultivators) == 1:
        only["covered"] = farm.cultivators[0].name

    def named(event: Event) -> Event:
        if event.machine or event.what not in only or "/" in event.id:
            return event
        return replace(event, machine=only[event.what])

    return replace(
        settled,
        events=tuple(named(event) for event in settled.events),
        all_events=tuple(named(event) for event in settled.all_events),
    )


def rain_called_at(settled: Settled, start_at: datetime, now_at: datetime) -> datetime | None:
    """Return for when rain is called today: by the latest call, or by the earliest moment.

    A call for a moment at which work went on after all is past.
    """
    end_at = start_at + timedelta(days=1)
    zone = now_at.tzinfo
    calls = [e for e in settled.events if e.what == "rain" and start_at <= e.at < end_at]
    known = [e for e in calls if (told_at(e) or now_at) <= now_at]
    worked_at = max(
        (e.at for e in settled.events if e.what in (*WORK, "load") and e.at <= now_at),
        default=start_at,
    )
    dated = [e for e in known if told_at(e) is not None]
    if dated:
        latest = max(dated, key=lambda e: (told_at(e), e.id))
        return latest.at.astimezone(zone) if latest.at > worked_at else None
    return min((e.at.astimezone(zone) for e in known if e.at > worked_at), default=None)


def left_to_spread_m2(farm: Farm, settled: Settled, now_at: datetime) -> dict[str, float]:
    """Return what is left to spread in every field, as told. [m2]"""
    done = settled.by_field_at(now_at)
    left = {}
    for one in farm.fields:
        state = done.get(one.name)
        gone = state.spread_m2 + state.left_out_m2 if state is not None else 0.0
        left[one.name] = max(0.0, one.record_area_m2 - gone)
    return left


def as_pace(farm: Farm, event: Event) -> Event:
    """Return an event without its time where that, or its ground, is too little to show a pace."""
    enough = farm.defaults["pace_least_time"].value
    if (event.took_s or 0.0) >= enough and (event.area_m2 or 0.0) >= LEAST_AREA_M2:
        return event
    return replace(event, took_s=None)


def told_at(event: Event) -> datetime | None:
    """Return when an event was told; None where nobody wrote that down."""
    return event.clock_at or event.server_at


def taken_in(event: Event) -> datetime:
    """Return when an event came in, or when it was done where nobody wrote that down."""
    return event.server_at or event.clock_at or event.at
