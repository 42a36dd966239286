"""The season as JSON, with its fixed names."""

from __future__ import annotations

from datetime import date
from typing import Any

from duskline.answers.season import SeasonAnswer, SeasonDayPlan
from duskline.cli.json_out import moment, plain, steps_json
from duskline.core.season import Change

__all__ = ["season_json"]


def season_json(answer: SeasonAnswer, *, working: bool = False) -> dict[str, Any]:
    """Return the season; money in ``currency``, areas in m2, moments with their offset.

    ``low`` and ``high`` of a change are the range of its ``money``. ``days`` of a change is how
    much sooner all is done; both are averages over the seasons of weather.
    """
    found: dict[str, Any] = {
        "farm": answer.farm,
        "currency": answer.currency,
        "first_on": answer.on[0].isoformat(),
        "last_on": answer.on[-1].isoformat(),
        "due_on": None if answer.due_on is None else answer.due_on.isoformat(),
        "sure": answer.sure_fraction,
        "days": [_day(day) for day in answer.days],
        "unplaced": [
            {"name": one.name, "area_m2": one.unplaced_m2, "why": plain(one.why_left)}
            for one in answer.fields
            if one.unplaced_m2 > 0.0
        ],
        "late": [
            {"name": one.name, "area_m2": one.late_m2} for one in answer.fields if one.late_m2 > 0.0
        ],
        "finish_on": None if answer.finish_on is None else answer.finish_on.isoformat(),
        "chance_by_deadline": answer.chance.by_deadline_fraction,
        "chance_low": answer.chance.low_fraction,
        "chance_high": answer.chance.high_fraction,
        "seasons": answer.chance.count,
        "fields": [
            {
                "name": one.name,
                "customer": one.customer or None,
                "lot": one.lot,
                "area_m2": one.left_m2,
                "due_on": plain(one.due_on),
                "finish_on": plain(one.finish_on),
                "chance": one.chance_fraction,
                "chance_low": one.chance_low_fraction,
                "chance_high": one.chance_high_fraction,
                "early_on": plain(one.early_on),
                "late_on": plain(one.late_on),
            }
            for one in answer.fields
        ],
        "by_sureness": plain(answer.by_sureness),
        "without_second_m2": answer.without_second_m2,
        "cost": answer.cost.total_usd,
        "cost_parts": {
            key.removesuffix("_usd"): value for key, value in plain(answer.cost).items()
        },
        "bound": answer.bound_usd,
        "gap": answer.gap_fraction,
        "gap_money": answer.gap_usd,
        "worth": [
            {
                "change": one.key.value,
                "step": one.step,
                "unit": one.unit or None,
                "days": one.days,
                "days_low": one.days_low,
                "days_high": one.days_high,
                "money": one.usd,
                "low": one.usd_low,
                "high": one.usd_high,
                "chance_by_deadline": one.chance_fraction,
                "unplaced_m2": one.unplaced_m2,
                "late_m2": one.late_m2,
                "no_difference": one.no_difference,
            }
            for one in answer.worth
        ],
        "changes": [_change(one) for one in answer.changes],
        "past_on": [on.isoformat() for on in answer.past_on],
        "forecast_age_s": answer.forecast_age_s,
        "forecast_old": answer.forecast_is_old,
        "without": plain(answer.without),
        "open_first": plain(answer.open_first),
        "open_without_a_day_m2": answer.open_m2,
        "earlier_start_not_offered": plain(answer.no_earlier),
    }
    if working:
        found["working"] = steps_json(answer.working)
    return found


def _day(day: SeasonDayPlan) -> dict[str, Any]:
    return {
        "date": day.on.isoformat(),
        "stop_at": None if day.stop_at is None else moment(day.stop_at),
        "area_m2": day.area_m2,
        "left_m2": day.left_m2,
        "hours_from": day.basis.value,
        "closed": day.because or None,
        "fit": day.fit_fraction,
        "fields": [
            {
                "name": visit.field,
                "area_m2": visit.area_m2,
                "crew": crew.crew,
                "customer": visit.customer or None,
                "lot": visit.lot,
                "part": visit.is_part,
                "clean_out": visit.clean_out,
                "from_at": moment(visit.from_at),
                "covered_at": None if visit.covered_at is None else moment(visit.covered_at),
                "about_from_at": moment(visit.about_from_at),
                "about_to_at": moment(visit.about_to_at),
            }
            for crew in day.crews
            for visit in crew.visits
        ],
        "crews": [
            {
                "crew": crew.crew,
                "opens_at": moment(crew.opens_at),
                "stop_at": moment(crew.stop_at),
                "closes_at": moment(crew.closes_at),
                "stops_too_late": crew.stops_too_late,
                "bare_m2": crew.bare_m2,
                "area_m2": crew.area_m2,
                "capacity_m2": crew.capacity_m2,
                "drivers": dict(crew.drivers),
                "takeovers": dict(crew.takeovers),
            }
            for crew in day.crews
        ],
    }


def _change(one: Change) -> dict[str, Any]:
    def stops(rows: tuple[tuple[int, str, float], ...]) -> list[dict[str, Any]]:
        return [
            {"date": date.fromordinal(day).isoformat(), "crew": crew, "area_m2": area}
            for day, crew, area in rows
        ]

    return {
        "field": one.field,
        "what": one.what,
        "why": one.why,
        "before": stops(one.before),
        "after": stops(one.after),
    }
