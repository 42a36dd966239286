"""Tellings hard to believe: they move the stop later once somebody has said that they are right."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from duskline.answers.live_now import LEAST_AREA_M2, MachineNow, Now
from duskline.core.log import Event, Settled, worked

__all__ = ["Doubt", "doubted", "too_little"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Doubt:
    """One telling that no machine of the farm can well have done.

    Attributes
    ----------
    event
        More covered than could be: it does not count. Or the last of so little spread that a
        telling is likelier to be missing: it counts, and what is missing is reckoned with.
    shown_m2_per_s, planned_m2_per_s
        The pace the machine would have had since it began, and the planned one.
    took_s
        The time since it began, its halts taken off. [s]
    """

    event: Event
    took_s: float
    shown_m2_per_s: float
    planned_m2_per_s: float


def doubted(
    now: Now,
    settled: Settled,
    *,
    start_at: datetime,
    now_at: datetime,
    most: float,
    least_s: float,
) -> tuple[Doubt, ...]:
    """Return today's tellings of covering that would be over the fastest believed pace.

    Parameters
    ----------
    most
        How many times the planned pace is believed.
    least_s
        No machine is judged on less time than this. [s]

    Notes
    -----
    Each telling is judged with all the time since the machine began, so that several told late
    and at once are not taken for one done in no time; and what comes after it does not make it
    likelier. What somebody has said is right is not judged.
    """
    confirmed = {one.refers for one in settled.all_events if one.what == "both"}
    found: list[Doubt] = []
    for machine in now.machines:
        if machine.work == "covered" and machine.began_at is not None:
            found += _of(machine, settled, confirmed, start_at, now_at, most, least_s)
    return tuple(sorted(found, key=lambda one: (one.event.at, one.event.id)))


def too_little(now: Now, settled: Settled, *, most: float) -> tuple[Doubt, ...]:
    """Return the last telling of every spreader that has told hardly anything for its time.

    Parameters
    ----------
    most
        How many times slower than planned is believed.
    """
    found = []
    for one in now.machines:
        shown = one.shown_m2_per_s
        if one.work != "spread" or shown is None or not one.odd or one.stopped_at is not None:
            continue
        told = [
            event
            for event in settled.events
            if event.machine == one.machine
            and event.what in ("spread", "load")
            and "/" not in event.id
            and one.heard_at is not None
            and event.at <= one.heard_at
        ]
        if told and shown * most < one.planned_m2_per_s:
            found.append(
                Doubt(
                    event=told[-1],
                    took_s=one.took_s,
                    shown_m2_per_s=shown,
                    planned_m2_per_s=one.planned_m2_per_s,
                )
            )
    return tuple(found)


def _of(
    machine: MachineNow,
    settled: Settled,
    confirmed: set[str],
    start_at: datetime,
    now_at: datetime,
    most: float,
    least_s: float,
) -> Iterator[Doubt]:
    began_at = machine.began_at or start_at
    told = [
        event
        for event in settled.events
        if event.machine == machine.machine
        and event.what == "covered"
        and start_at <= event.at <= now_at
        and (event.area_m2 or 0.0) >= LEAST_AREA_M2
        and event.id not in confirmed
    ]
    believed_m2 = 0.0
    for at, those in groupby(told, key=lambda event: event.at):
        together = list(those)
        found = worked(settled, machine.machine, "covered", opens_at=began_at, until=at)
        took_s = max(least_s, 0.0 if found is None else found.took_s)
        if together[0].took_s is None:
            # Sheets typed in at night: several fields begun before the first is told.
            took_s = max(took_s, _span_s(settled, machine.machine, began_at, at))
        group = sorted(together, key=lambda event: event.area_m2 or 0.0)
        believed_m2 += sum(event.area_m2 or 0.0 for event in group)
        while group and believed_m2 > most * machine.planned_m2_per_s * took_s:
            wrong = group.pop()
            yield Doubt(
                event=wrong,
                took_s=took_s,
                shown_m2_per_s=believed_m2 / took_s,
                planned_m2_per_s=machine.planned_m2_per_s,
            )
            believed_m2 -= wrong.area_m2 or 0.0


def _span_s(settled: Settled, machine: str, from_at: datetime, to_at: datetime) -> float:
    """Return the time between two moments, the machine's halts taken off. [s]"""
    stood_s = sum(
        max(0.0, (min(halt.to_at or to_at, to_at) - max(halt.from_at, from_at)).total_seconds())
        for halt in settled.halts
        if halt.machine == machine
    )
    return max(0.0, (to_at - from_at).total_seconds() - stood_s)
