"""The answer for one field as JSON: SI keys with their unit, headings clockwise from true north."""

from __future__ import annotations

from datetime import UTC, datetime
from math import degrees
from typing import Any

from duskline.answers.drive import EdgePlan
from duskline.answers.field import CoverField, FieldAnswer, SpreadField
from duskline.answers.track import TrackAnswer
from duskline.cli.json_out import plain, steps_json
from duskline.core.farm import Farm
from duskline.core.loads import PassLoad
from duskline.core.passes import PassPlan, pass_numbers
from duskline.core.track import OpenGround
from duskline.words.aim import compass_deg
from duskline.words.field import turned_deg

__all__ = ["field_json", "track_json"]


def field_json(farm: Farm, answer: FieldAnswer, *, working: bool = False) -> dict[str, Any]:
    """Return the field's answer with its fixed names."""
    cover = answer.cover
    found: dict[str, Any] = {
        "field": answer.field.name,
        "area_m2": answer.field.area_m2,
        "record_area_m2": answer.field.record_area_m2,
        "driven_area_m2": answer.field.driven_area_m2,
        "office_area_m2": answer.field.office_area_m2,
        "spread": _spread(answer.spread),
        "cover": None if cover is None else _cover(answer, cover),
        "missed_fraction": None if cover is None else cover.worked.missed_fraction,
        "twice_fraction": None if cover is None else cover.worked.twice_fraction,
        "skip_fraction": None if cover is None else cover.lap.skip_fraction,
        "overlap_advised_m": None if cover is None else _advised(cover),
        "angle_advised_deg": _angle(answer),
        "machines": [
            *(_spread(one) for one in answer.spreads),
            *(_cover(answer, one) for one in answer.covers),
        ],
        "edges": [_edge(one) for one in answer.plan.edges],
        "heading_reasons": []
        if answer.plan.kept is None
        else [reason.value for reason in answer.plan.kept.reasons],
        "left_out": plain(answer.field.left_out),
        "currency": farm.prices.currency,
    }
    if working:
        found["working"] = steps_json(answer.working)
    return plain(found)  # type: ignore[no-any-return]


def _plan(plan: PassPlan) -> dict[str, Any]:
    return {
        "heading_deg": compass_deg(plan.heading_rad) % 180.0,
        "passes": plan.passes_count,
        "runs": len(plan.passes_m),
        "rounds": plan.rounds_count,
        "minutes": plan.work_s / 60.0,
        "turning_minutes": plan.turning_s / 60.0,
        "longest_edge_minutes": plan.longest_edge_s / 60.0,
        "order": {"way": plan.order.way, "step": plan.order.step},
        "parts": [
            {"heading_deg": compass_deg(one.heading_rad) % 180.0, "area_m2": one.region.area}
            for one in plan.blocks
        ],
        "turn_room_m": plan.driving.room_m(plan.order),
        "headland_m": plan.headland_m,
        "turns_fit": plan.turns_fit,
    }


def _spread(one: SpreadField) -> dict[str, Any]:
    return {
        "machine": one.machine,
        "work": "spread",
        "driver": one.driver,
        **_plan(one.plan),
        "saved_minutes": one.saved_s / 60.0,
        "saving_is_noise": one.saving_is_noise,
        "other_headings": [
            {"heading_deg": compass_deg(heading_rad) % 180.0, "minutes": work_s / 60.0}
            for heading_rad, work_s in one.others
        ],
        "clock_minutes": one.clock_s / 60.0,
        "turns_over_edge": one.over_edge_count,
        "lot": one.lot,
        "fuel_m3": one.fuel_m3.value,
        "loads": [_load(one, load) for load in one.loads],
    }


def _load(one: SpreadField, load: PassLoad) -> dict[str, Any]:
    """Return a load with where it ends: in passes as sheets count them, and in runs.

    ``last_run`` counts every run of the passes from 1; a pass parted by a hole is two runs of one
    ``last_pass``. Neither holds on a headland round, where ``last_leg`` counts the legs of the
    rounds. A short run beside the passes has no number of a pass.
    """
    run = load.last_index - one.first_run_index
    on_passes = run >= 0
    return {
        "mass_kg": load.mass_kg,
        "area_m2": load.area_m2,
        "last_run": run + 1 if on_passes else None,
        "last_pass": pass_numbers(one.plan)[run] if on_passes else None,
        "last_leg": None if on_passes else load.last_index + 1,
        "at_run_end": load.at_run_end,
    }


def _cover(answer: FieldAnswer, one: CoverField) -> dict[str, Any]:
    return {
        "machine": one.machine,
        "work": "cover",
        "driver": one.driver,
        **_plan(one.plan),
        "turns_over_edge": one.over_edge_count,
        "turned_deg": turned_deg(one.plan, answer.spread.plan),
        "clock_minutes": one.clock_s / 60.0,
        "worked_once_m2": one.worked.once_m2,
        "worked_twice_m2": one.worked.twice_m2,
        "missed_m2": one.worked.missed_m2,
        "outside_m2": one.worked.outside_m2,
        "missed_fraction": one.worked.missed_fraction,
        "twice_fraction": one.worked.twice_fraction,
        "overlap_m": one.lap.overlap_m,
        "overlap_advised_m": _advised(one),
        "skip_fraction": one.lap.skip_fraction,
        "skip_low_fraction": one.lap.skip_low_fraction,
        "skip_high_fraction": one.lap.skip_high_fraction,
        "count": None
        if one.count is None
        else {
            "low": one.count.low_count,
            "passes": one.count.passes_count,
            "high": one.count.high_count,
        },
        "marks": [
            {"after_pass": mark.pass_number, "from_corner_m": mark.from_corner_m}
            for mark in (one.marks.marks if one.marks else ())
        ],
        "angle_price": plain(one.price),
        "joints": plain(one.joints),
        "more_overlap": {
            "more_m": one.more_m,
            "day": plain(one.more_day),
            "field": plain(one.more_field),
        },
        "fuel_m3": one.fuel_m3.value,
    }


def _advised(one: CoverField) -> dict[str, float]:
    advised = one.lap.advised
    return {"low": advised.low_m, "best": advised.best_m, "high": advised.high_m}


def _angle(answer: FieldAnswer) -> dict[str, float] | None:
    angle = answer.plan.angle
    if angle is None:
        return None
    return {
        "low": degrees(angle.low_rad),
        "best": degrees(angle.best_rad),
        "high": degrees(angle.high_rad),
    }


def _edge(one: EdgePlan) -> dict[str, Any]:
    dose = one.dose
    return {
        "side": one.edge.side,
        "kind": one.edge.kind,
        "found": bool(one.sides),
        "throw_m": one.throw_m,
        "throw_source": one.throw_source,
        "first_pass_m": one.first.from_edge_m,
        "no_seed_strip_m": one.first.off_m,
        "thrown_over_m": None if dose is None else dose.over_reach_m,
        "thrown_over_fraction": None if dose is None else dose.over_fraction,
        "thin_strip_m": None if dose is None else dose.thin_m,
    }


def track_json(
    answer: TrackAnswer, opened: OpenGround | None = None, *, working: bool = False
) -> dict[str, Any]:
    """Return what a recorded track says, with its fixed names; open ground by hour if asked."""
    drive = answer.drive
    ground = answer.ground
    found: dict[str, Any] = {
        "machine": answer.machine,
        "field": answer.field,
        "passes": len(drive.passes),
        "turns": len(drive.turns),
        "turn_s": drive.turn_s,
        "speed_mps": drive.speed_mps,
        "speed_planned_mps": answer.speed_planned_mps,
        "clock_s": drive.clock_s,
        "stood_s": drive.stood_s,
        "silent_s": drive.silent_s,
        "worked_m2": drive.worked.worked_m2,
        "rate_m2_per_s": drive.rate_m2_per_s,
        "clock_efficiency_fraction": drive.clock_efficiency_fraction,
        "efficiency_planned_fraction": answer.efficiency_planned_fraction,
        "overlap_planned_m": answer.overlap_planned_m,
        "joints": plain(drive.joints),
        "ground": None
        if ground is None
        else {
            "area_m2": ground.area_m2,
            "once_m2": ground.once_m2,
            "twice_m2": ground.twice_m2,
            "missed_m2": ground.missed_m2,
            "outside_m2": ground.outside_m2,
        },
    }
    if opened is not None:
        found["open"] = [
            {
                "at": datetime.fromtimestamp(hour.at_s, UTC),
                "spread_m2": hour.spread_m2,
                "covered_m2": hour.covered_m2,
                "open_m2": hour.open_m2,
            }
            for hour in opened.hours
        ]
    if working:
        found["working"] = steps_json(answer.working)
    return plain(found)  # type: ignore[no-any-return]
