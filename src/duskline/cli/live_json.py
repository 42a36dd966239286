"""The live answer as JSON: SI keys with their unit, ISO times with offset, fixed names."""

from __future__ import annotations

from typing import Any

from duskline.answers.live import Cause, LiveAnswer, Was
from duskline.answers.live_now import MachineNow
from duskline.answers.live_seed import LoadCheck, SeedNow
from duskline.cli.json_out import day_json, moment, plain
from duskline.core.farm import Farm
from duskline.words import live as words

__all__ = ["live_json"]


def live_json(farm: Farm, answer: LiveAnswer, *, day_too: bool = True) -> dict[str, Any]:
    """Return the live answer with its fixed names.

    Parameters
    ----------
    day_too
        Whether the whole day's answer goes with it, under "day".
    """
    system = farm.system
    day = answer.day
    return {
        "now_at": moment(answer.now_at),
        "date": answer.on.isoformat(),
        "time_zone": answer.time_zone,
        "headline": words.headline(answer, system),
        "change": words.change_line(answer, system),
        "closed": answer.closed,
        "day_over": answer.day_over,
        "stopped": answer.stopped,
        "stop_at": moment(day.stop_at) if day else None,
        "chance": day.chance_fraction if day else None,
        "chance_sd": answer.chance_sd_fraction,
        "ladder_chance_sd": answer.ladder_chance_sd_fraction,
        "replications": answer.replications,
        "was": _was(answer.was),
        "first": _was(answer.first),
        "causes": [_cause(cause, answer, farm) for cause in answer.causes],
        "chance_if_kept": answer.kept_chance_fraction,
        "open_m2": {"told": answer.told_open_m2, "now": answer.open_m2},
        "spread_m2": {"told": answer.now.told_spread_m2, "now": answer.now.spread_m2},
        "covered_m2": {"told": answer.now.told_covered_m2, "now": answer.now.covered_m2},
        "open_in_the_morning_m2": answer.now.open_in_the_morning_m2,
        "day_factor": answer.now.day_factor,
        "machines": [_machine(one) for one in answer.now.machines],
        "ground": [
            {
                "field": one.field,
                "spread_m2": one.spread_m2,
                "covered_m2": one.covered_m2,
                "open_m2": one.open_m2,
                "told_open_m2": one.told_open_m2,
                "left_m2": one.left_m2,
            }
            for one in answer.now.ground
        ],
        "loads": [_load(one) for one in answer.loads],
        "seed": [_seed(one) for one in answer.seed],
        "leave": plain(answer.leave),
        "rain_at": moment(answer.rain_at) if answer.rain_at else None,
        "standing": [{"machine": name, "up_at": moment(at)} for name, at in answer.standing],
        "not_heard": list(answer.not_heard),
        "quiet": [{"machine": name, "heard_at": moment(at)} for name, at in answer.quiet],
        "doubted": [
            {
                "id": one.event.id,
                "line": words.doubt_line(one, answer, system),
                "shown_m2_per_s": one.shown_m2_per_s,
                "planned_m2_per_s": one.planned_m2_per_s,
            }
            for one in answer.doubted
        ],
        "order_changes": plain(answer.order_changes),
        "seed_lost_m2": answer.seed_lost_m2,
        "end": plain(answer.end),
        "conflicts": plain(answer.settled.conflicts),
        "lines": {
            "sure": words.sure_line(answer, system),
            "open": words.open_line(answer, system),
            "kept": words.kept_line(answer, system),
            "paces": words.pace_lines(answer, system),
            "loads": words.load_lines(answer, system),
            "seed": words.seed_lines(answer, system),
            "leave": words.leave_lines(answer, system),
            "standing": words.standing_lines(answer, system),
            "not_heard": words.not_heard_lines(answer),
            "quiet": words.quiet_lines(answer, system),
            "order": words.order_lines(answer, system),
            "end": words.end_line(answer, system),
        },
        "day": plain(day_json(farm, day, working=False)) if day_too and day else None,
    }


def _was(was: Was | None) -> dict[str, Any] | None:
    if was is None:
        return None
    return {
        "stop_at": moment(was.stop_at),
        "spread_area_m2": was.area_m2,
        "chance": was.chance_fraction,
        "published_at": moment(was.published_at) if was.published_at else None,
    }


def _cause(cause: Cause, answer: LiveAnswer, farm: Farm) -> dict[str, Any]:
    return {
        "key": cause.key.value,
        "earlier_s": cause.earlier_s,
        "machines": list(cause.machines),
        "line": words.cause_line(cause, answer, farm.system),
    }


def _machine(one: MachineNow) -> dict[str, Any]:
    return {
        "machine": one.machine,
        "work": one.work,
        "field": one.field,
        "heard_at": moment(one.heard_at) if one.heard_at else None,
        "told_m2": one.told_m2,
        "took_s": one.took_s,
        "carried_m2": one.carried_m2,
        "shown_m2_per_s": one.shown_m2_per_s,
        "planned_m2_per_s": one.planned_m2_per_s,
        "rate_m2_per_s": one.rate_m2_per_s,
        "learned_fraction": one.pace.weight_fraction if one.pace else None,
        "hopper_kg": one.hopper_kg,
        "up_at": moment(one.up_at) if one.up_at else None,
        "stopped_at": moment(one.stopped_at) if one.stopped_at else None,
    }


def _load(one: LoadCheck) -> dict[str, Any]:
    return {
        "spreader": one.spreader,
        "lot": one.lot,
        "number": one.number,
        "at": moment(one.at),
        "mass_kg": one.mass_kg,
        "area_m2": one.area_m2,
        "planned_area_m2": one.planned_area_m2,
        "heavy_fraction": one.found.heavy_fraction,
        "gate_factor": one.found.gate_factor,
        "together_heavy_fraction": one.together.heavy_fraction,
        "together_gate_factor": one.together.gate_factor,
        "beyond_reading": one.together.beyond_reading,
    }


def _seed(one: SeedNow) -> dict[str, Any]:
    return {
        "lot": one.lot,
        "used_kg": one.used_kg,
        "mass_kg": one.mass_kg,
        "needed_kg": one.needed_kg,
        "laid_over_planned": one.laid_over_planned,
        "enough": one.enough,
        "runs_out_in": one.runs_out_in,
        "runs_out_at": moment(one.runs_out_at) if one.runs_out_at else None,
        "short_m2": one.short_m2,
    }
