"""Answers as JSON: SI keys with their unit, ISO times with offset, fixed names."""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from typing import Any

from duskline.answers.day import AverageDay, DayAnswer
from duskline.answers.lap import lap_answers
from duskline.answers.seed import LotAnswer, SeedAnswer
from duskline.answers.trays import TrayAnswer
from duskline.answers.working import Step
from duskline.core.farm import Farm
from duskline.words import day as words

__all__ = ["day_json", "plain", "seed_json", "steps_json", "trays_json"]

ACRE_M2 = 4046.8564224


def plain(value: Any) -> Any:
    """Return dataclasses, dates, enums and arrays as what JSON can hold."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, datetime | date):
        return moment(value)
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, float):
        return None if not math.isfinite(value) else round(value, 12)
    return value


def moment(value: datetime | date) -> str:
    """Return an ISO 8601 text; moments to the second, with their offset."""
    if isinstance(value, datetime):
        return value.replace(microsecond=0).isoformat()
    return value.isoformat()


def steps_json(steps: tuple[Step, ...]) -> Any:
    """Return a working as JSON."""
    return plain(steps)


def _average(average: AverageDay | None) -> Any:
    if average is None:
        return None
    return {
        "stop_at": moment(average.stop_at),
        "spread_area_m2": average.spread_area_m2,
        "done_at": moment(average.done_at),
        "limited_by": average.limited_by,
    }


def day_json(farm: Farm, answer: DayAnswer, *, working: bool) -> dict[str, Any]:
    """Return the day's answer with its fixed names."""
    system = farm.system
    windows = answer.windows
    opens = min(windows.cover_opens_s.values())
    found: dict[str, Any] = {
        "date": answer.on.isoformat(),
        "time_zone": answer.time_zone,
        "now_at": moment(answer.now_at) if answer.now_at else None,
        "spread_opens_at": moment(answer.moment(windows.spread_intervals_s[0][0])),
        "spread_until": moment(answer.moment(windows.spread_intervals_s[-1][1])),
        "spread_until_because": windows.spread_closes_because,
        "cover_opens_at": moment(answer.moment(opens)),
        "cover_until": moment(answer.windows_cover_until),
        "cover_until_because": windows.cover_closes_because,
        "headline": words.headline(answer, system),
        "stop_at": moment(answer.stop_at),
        "spread_area_m2": answer.spread_area_m2,
        "limited_by": answer.limited_by,
        "sure": answer.sure_fraction,
        "chance": answer.chance_fraction,
        "by_sureness": [
            {
                "sure": row.sure_fraction,
                "stop_at": moment(row.stop_at),
                "spread_area_m2": row.spread_area_m2,
                "chance": row.chance_fraction,
                "open_at_cutoff_m2": row.open_at_cutoff_m2,
            }
            for row in answer.by_sureness
        ],
        "ladder": [
            {"at": moment(rung.at), "open_area_m2": rung.open_area_m2, "loads": rung.loads}
            for rung in answer.ladder
        ],
        "ladder_chance": answer.ladder_chance_fraction,
        "ladder_spread_area_m2": answer.ladder_spread_area_m2,
        "load_kg": answer.load_kg,
        "full_loads": answer.full_loads_count,
        "last_load_kg": answer.last_load_kg,
        "last_load_worth_filling": answer.last_load_worth_filling,
        "average": _average(answer.average),
        "average_chance": answer.average_chance_fraction,
        "average_observed": _average(answer.average_observed),
        "average_with_moves": _average(answer.average_with_moves),
        "moves": answer.moves_count,
        "open_if_no_changeover_m2": answer.open_if_no_changeover_m2,
        "open_at_cutoff_m2": answer.open_at_cutoff_m2,
        "bare_if_hopeless_m2": answer.bare_if_hopeless_m2,
        "if_carried_on": {
            "stop_at": moment(answer.if_carried_on[0]),
            "open_area_m2": answer.if_carried_on[1],
        }
        if answer.if_carried_on
        else None,
        "levers": [
            {
                "key": lever.key.value,
                "step": lever.step,
                "step_unit": lever.unit,
                "area_m2": lever.area_m2,
                "average_area_m2": lever.average_area_m2,
                "change": words.lever_line(lever, system),
            }
            for lever in answer.levers
        ],
        "overlap": plain(lap_answers(farm)),
        "fields": plain(answer.fields),
        "left_after_today": [
            {"name": name, "area_m2": area} for name, area in answer.left_after_today
        ],
        "not_ready": list(answer.not_ready),
        "crew": plain(answer.crew),
        "spread_before_m2": answer.spread_before_m2,
        "covered_before_m2": answer.covered_before_m2,
        "cover_rate_observed_m2_per_s": answer.cover_rate_observed_m2_per_s,
        "cover_rate_planned_m2_per_s": answer.first_cover_rate_m2_per_s,
        "rain_today": answer.rain_today,
        "why": words.why(answer, system),
    }
    if working:
        found["working"] = steps_json(answer.working)
    return found


def seed_json(answer: SeedAnswer, *, working: bool) -> dict[str, Any]:
    """Return the seed answer: the main lot by its fixed names, and every lot."""
    found = _lot_json(answer.main)
    found["good"] = answer.good
    found["lots"] = [_lot_json(lot) for lot in answer.lots]
    if working:
        found["working"] = {lot.lot.name: steps_json(lot.working) for lot in answer.lots}
    return found


def _lot_json(answer: LotAnswer) -> dict[str, Any]:
    rate = answer.rate
    live = rate.live_kg_per_m2 if rate else answer.mix.live_kg_per_m2 if answer.mix else None
    bushels = rate.bushels_per_m2 if rate else None
    counted = answer.germination
    return {
        "lot": answer.lot.name,
        "germination": {"estimate": counted.estimate_fraction, "low": counted.low_fraction}
        if counted
        else None,
        "replicates_agree": counted.replicates_agree if counted else None,
        "pure_live_seed": answer.pure_live_seed_fraction,
        "pure_live_seed_low": answer.pure_live_seed_low_fraction,
        "fit": answer.fitness.level.value if answer.fitness else None,
        "tick": answer.fitness.tick if answer.fitness else None,
        "infested": answer.insects.infested if answer.insects else None,
        "rate": {
            "bulk_kg_per_m2": answer.bulk_kg_per_m2,
            "live_kg_per_m2": live,
            "bushels_per_acre": None if bushels is None else bushels * ACRE_M2,
            "live_seeds_per_m2": rate.live_seeds_per_m2 if rate else None,
            "parts": {part.name: part.rate.bulk_kg_per_m2 for part in answer.mix.parts}
            if answer.mix
            else None,
        },
        "floor": plain(answer.floor),
        "low_side": plain(answer.low_side),
        "area_m2": answer.area_m2,
        "bin": {
            "lot": answer.bin.lot,
            "mass_kg": answer.bin.mass_kg,
            "mass_low_kg": answer.bin.mass_low_kg,
            "mass_high_kg": answer.bin.mass_high_kg,
            "volume_m3": answer.bin.volume_m3,
            "needed_kg": answer.bin.sufficiency.needed_kg,
            "enough": answer.bin.enough,
            "area_m2": answer.bin.sufficiency.area_it_does_m2,
            "area_if_heavy_m2": answer.bin.run_out_if_heavy_m2,
        }
        if answer.bin
        else None,
        "loads": answer.loads_count,
        "loads_by_field": plain(answer.fields),
        "flow": [
            {
                "spreader": flow.spreader,
                "flow_kg_per_s": flow.flow_kg_per_s,
                "bucket_m3": flow.bucket_m3,
                "bucket_s": flow.bucket_s,
                "load_kg": flow.load_kg,
                "load_area_m2": flow.load_area_m2,
            }
            for flow in answer.flows
        ],
    }


def trays_json(answer: TrayAnswer, *, working: bool) -> dict[str, Any]:
    """Return the tray answer with its fixed names."""
    found = {
        "name": answer.name,
        "widths": plain(answer.widths),
        "good_to_back_and_forth_m": answer.good_to_back_and_forth_m,
        "good_to_round_m": answer.good_to_round_m,
        "usable_to_back_and_forth_m": answer.usable_to_back_and_forth_m,
        "usable_to_round_m": answer.usable_to_round_m,
        "convention": answer.convention,
        "back_and_forth": plain(answer.back_and_forth),
        "round_and_round": plain(answer.round_and_round),
        "asked": plain(answer.asked),
        "skew": plain(answer.skew),
        "centring": plain(answer.centring),
        "run_spread_fraction": answer.run_spread_fraction,
        "noise": plain(answer.noise),
        "costs": plain(answer.costs),
        "notes": list(answer.notes),
    }
    if working:
        found["working"] = steps_json(answer.working)
    return found
