"""The plan before, seen from this morning: what of it still lies ahead."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from duskline.answers.season_task import PlannedSeason
from duskline.core.season import (
    CrewDay,
    CrewHours,
    Ready,
    Schedule,
    SeasonCost,
    SeasonDay,
    SeasonField,
    Visit,
)

__all__ = ["FieldBefore", "HoursBefore", "PlanBefore", "StopBefore", "schedule_before"]

SAME_FRACTION = 0.01
"""A field with as much left as the plan foresaw, to this share, goes as planned."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StopBefore:
    """One stop of the plan before."""

    on: date
    crew: str
    field: str
    area_m2: float
    lot: str
    starts_s: float
    takes_s: float


@dataclass(frozen=True, kw_only=True, slots=True)
class HoursBefore:
    """What a crew's day could do by the plan before."""

    on: date
    crew: str
    area_m2: float
    lost_m2_per_s: float


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldBefore:
    """A field as the plan before knew it: what was left of it, and when it would be ready."""

    name: str
    area_m2: float
    ready_on: date


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanBefore:
    """The plan before, as it was kept."""

    stops: tuple[StopBefore, ...]
    hours: tuple[HoursBefore, ...]
    fields: tuple[FieldBefore, ...]


def schedule_before(planned: PlannedSeason, before: PlanBefore) -> Schedule:
    """Return the plan before from the first day of this one on, as a schedule.

    Parameters
    ----------
    planned
        The season as it is now.
    before
        The plan kept.

    Notes
    -----
    Days that are over are left out. A field of which as much is left as the plan foresaw counts
    as unchanged; else its area is what the plan foresaw, and what differs is told as a change.
    """
    first = planned.on[0]
    now = {field.name: field for field in planned.task.fields}
    there = {field.name for field in planned.farm.fields}
    fields = tuple(
        _field(one, before, first, now)
        for one in before.fields
        if one.name in now or one.name not in there  # the rest are sown
    )
    known = {field.name for field in fields}
    ahead = [stop for stop in before.stops if stop.on >= first and stop.field in known]
    budgets = {(h.on, h.crew): h.area_m2 / h.lost_m2_per_s for h in before.hours}
    days: dict[date, dict[str, CrewHours]] = {}
    for hours in before.hours:
        if hours.on >= first:
            days.setdefault(hours.on, {})[hours.crew] = CrewHours(
                area_m2=hours.area_m2, lost_m2_per_s=hours.lost_m2_per_s
            )
    crew_days = tuple(
        CrewDay(
            day=on.toordinal(),
            crew=crew,
            visits=tuple(_visit(stop) for stop in ahead if stop.on == on and stop.crew == crew),
            used_s=max(
                (s.starts_s + s.takes_s for s in ahead if s.on == on and s.crew == crew),
                default=0.0,
            ),
            budget_s=budgets[on, crew],
        )
        for on in sorted(days)
        for crew in days[on]
    )
    planned_m2: dict[str, float] = {}
    for stop in ahead:
        planned_m2[stop.field] = planned_m2.get(stop.field, 0.0) + stop.area_m2
    left = {
        field.name: field.area_m2 - planned_m2.get(field.name, 0.0)
        for field in fields
        if field.area_m2 - planned_m2.get(field.name, 0.0) > SAME_FRACTION * field.area_m2
    }
    names = {crew.name for crew in planned.task.crews}
    return Schedule(
        crew_days=crew_days,
        unplaced_m2=left,
        finish_days={},
        cost=SeasonCost(),
        bound_usd=0.0,
        task=replace(
            planned.task,
            fields=tuple(field for field in fields if field.area_m2 > 0.0),
            days=tuple(
                SeasonDay(
                    day=on.toordinal(),
                    crews={crew: hours for crew, hours in days[on].items() if crew in names},
                )
                for on in sorted(days)
            ),
        ),
    )


def _field(
    one: FieldBefore, before: PlanBefore, first: date, now: Mapping[str, SeasonField]
) -> SeasonField:
    done = math.fsum(s.area_m2 for s in before.stops if s.field == one.name and s.on < first)
    area = max(one.area_m2 - done, 1e-6)
    ready = Ready(
        early_day=one.ready_on.toordinal(),
        likely_day=one.ready_on.toordinal(),
        late_day=one.ready_on.toordinal(),
    )
    field = now.get(one.name)
    if field is None:
        return SeasonField(name=one.name, area_m2=area, ready=ready)
    same = abs(area - field.area_m2) <= SAME_FRACTION * max(area, field.area_m2)
    on_time = max(one.ready_on, first).toordinal() == field.ready.likely_day
    return replace(
        field,
        area_m2=field.area_m2 if same else area,
        ready=field.ready if on_time else ready,
    )


def _visit(stop: StopBefore) -> Visit:
    return Visit(
        field=stop.field,
        area_m2=stop.area_m2,
        lot=stop.lot,
        clean_out=False,
        starts_s=stop.starts_s,
        takes_s=stop.takes_s,
        travel_m=0.0,
    )
