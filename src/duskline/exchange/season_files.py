"""The season's answer as what the calendar file, the export and the kept plan hold."""

from __future__ import annotations

from datetime import date, datetime

from duskline.answers.season import Basis, SeasonAnswer
from duskline.answers.season_before import FieldBefore, HoursBefore, PlanBefore, StopBefore
from duskline.core.farm import Farm
from duskline.exchange.calendar_ics import DayPlan, FieldVisit, SownBetween
from duskline.exchange.season_export import SeasonField
from duskline.exchange.season_plan import (
    KeptField,
    KeptHours,
    KeptPlan,
    KeptStop,
    KeptUnplaced,
)

__all__ = ["ahead", "calendar_days", "kept_plan", "same_plan", "season_fields"]

SAME_M2 = 1.0
LONGEST_NOTE = 9_000


def calendar_days(answer: SeasonAnswer) -> tuple[DayPlan, ...]:
    """Return each crew's days with fields, dates first."""
    name = answer.farm
    between = {
        field.name: SownBetween(
            early_on=field.early_on, late_on=field.late_on, last_on=answer.on[-1]
        )
        for field in answer.fields
    }
    return tuple(
        DayPlan(
            on=day.on,
            crew=crew.crew or name,
            opens_at=crew.opens_at,
            stop_at=_between(crew.opens_at, crew.stop_at, crew.closes_at),
            closes_at=crew.closes_at,
            fields=tuple(
                FieldVisit(
                    name=visit.field,
                    customer=visit.customer,
                    lot=visit.lot,
                    area_m2=visit.area_m2,
                    about_from_at=visit.about_from_at,
                    about_to_at=visit.about_to_at,
                    is_part=visit.is_part,
                    between=between[visit.field] if day.basis is Basis.CLIMATE else None,
                )
                for visit in crew.visits
            ),
        )
        for day in answer.days
        for crew in day.crews
    )


def _between(first: datetime, moment: datetime, last: datetime) -> datetime:
    return min(max(first, moment), last)


def season_fields(farm: Farm) -> tuple[SeasonField, ...]:
    """Return every field of the farm with its customer, seed and acre figures."""
    return tuple(
        SeasonField(
            name=one.name, lot=farm.lot(one.lot).name, acres=one.acres, customer=one.customer
        )
        for one in farm.fields
    )


def kept_plan(answer: SeasonAnswer, made_at: datetime, *, note: str = "") -> KeptPlan:
    """Return the plan as it is kept.

    Parameters
    ----------
    made_at
        Aware.
    note
        What changed since the plan before it; a very long one is cut.
    """
    return KeptPlan(
        made_at=made_at.replace(microsecond=0),
        stops=tuple(
            KeptStop(
                on=date.fromordinal(one.day),
                crew=one.crew,
                field=visit.field,
                area_m2=visit.area_m2,
                lot=visit.lot,
                starts_s=visit.starts_s,
                takes_s=visit.takes_s,
            )
            for one in answer.schedule.crew_days
            for visit in one.visits
        ),
        unplaced=tuple(
            KeptUnplaced(field=name, area_m2=area)
            for name, area in answer.schedule.unplaced_m2.items()
        ),
        hours=tuple(
            KeptHours(on=on, crew=crew, area_m2=one.area_m2, lost_m2_per_s=one.lost_m2_per_s)
            for (on, crew), one in answer.planned.hours.items()
            if one.works and one.area_m2 > 0.0
        ),
        fields=tuple(
            KeptField(
                name=field.name,
                area_m2=field.area_m2,
                ready_on=date.fromordinal(field.ready.likely_day),
            )
            for field in answer.schedule.task.fields
        ),
        note=note[:LONGEST_NOTE],
    )


def ahead(plan: KeptPlan) -> PlanBefore:
    """Return a kept plan as what the next one is held against."""
    return PlanBefore(
        stops=tuple(
            StopBefore(
                on=stop.on,
                crew=stop.crew,
                field=stop.field,
                area_m2=stop.area_m2,
                lot=stop.lot,
                starts_s=stop.starts_s,
                takes_s=stop.takes_s,
            )
            for stop in plan.stops
        ),
        hours=tuple(
            HoursBefore(
                on=one.on, crew=one.crew, area_m2=one.area_m2, lost_m2_per_s=one.lost_m2_per_s
            )
            for one in plan.hours
        ),
        fields=tuple(
            FieldBefore(name=one.name, area_m2=one.area_m2, ready_on=one.ready_on)
            for one in plan.fields
        ),
    )


def same_plan(one: KeptPlan, other: KeptPlan) -> bool:
    """Say whether two plans send the same crews to the same fields for the same acres."""

    def stops(plan: KeptPlan) -> dict[tuple[date, str, str], float]:
        areas: dict[tuple[date, str, str], float] = {}
        for stop in plan.stops:
            key = stop.on, stop.crew, stop.field
            areas[key] = areas.get(key, 0.0) + stop.area_m2
        return areas

    first, second = stops(one), stops(other)
    return first.keys() == second.keys() and all(
        abs(first[key] - second[key]) <= SAME_M2 for key in first
    )
