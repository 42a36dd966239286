"""The points answer as JSON: SI keys with their unit."""

from __future__ import annotations

from typing import Any

from duskline.answers.points import FieldSwap, PointsAnswer, PokeAnswer, RowAnswer
from duskline.cli.json_out import plain, steps_json
from duskline.core.points import AreaRange

__all__ = ["points_json"]


def points_json(answer: PointsAnswer, *, working: bool = False) -> dict[str, Any]:
    """Return the points answer with its fixed names; areas in m2, lengths in m."""
    found: dict[str, Any] = {
        "rows": [_row(row) for row in answer.rows],
        "not_measured": [
            {
                "machine": one.machine,
                "points": one.points_count,
                "life_m2": _range(one.life),
                "job_m2": one.job_m2,
                "own_figure": False,
            }
            for one in answer.unmeasured
        ],
        "swaps": [_swap(swap) for swap in answer.swaps_sure],
        "swaps_likely": [_swap(swap) for swap in answer.swaps_likely],
        "in_hand": {
            "points_sure": answer.in_hand_sure_count,
            "points_likely": answer.in_hand_likely_count,
            "cost_sure": answer.in_hand_sure_cost,
            "cost_likely": answer.in_hand_likely_cost,
            "currency": answer.currency,
        },
        "wear_cost_per_m2": answer.wear_cost_per_m2,
        "each_machine_alone": answer.alone,
        "sure": answer.sure_fraction,
        "pokes": [_poke(poke) for poke in answer.pokes],
        "measure": list(answer.measure),
        "worn_points": plain(answer.effects),
    }
    if working:
        found["working"] = steps_json(answer.working)
    return found


def _range(area: AreaRange | None) -> dict[str, float | None] | None:
    """Return low, best and high; a high that nobody can tell is null."""
    if area is None:
        return None
    found: dict[str, float | None] = plain(
        {"low": area.low_m2, "best": area.best_m2, "high": area.high_m2}
    )
    return found


def _row(row: RowAnswer) -> dict[str, Any]:
    wear = row.wear
    return {
        "machine": row.machine,
        "row": row.row,
        "points": wear.points_count,
        "measured": wear.measured_count,
        "over_m2": wear.over_m2,
        "worn_m": wear.worn_m,
        "most_worn_m": wear.most_worn_m,
        "spread_m": wear.spread_m,
        "standard_error_m": wear.standard_error_m,
        "limit_m": row.limit_m,
        "limit_assumed": row.limit_is_assumed,
        "due": row.is_due,
        "left_m2": _range(row.left),
        "first_point_left_m2": row.first_point_left_m2,
        "new_set_m2": _range(row.new_set),
        "new_set_travels_m": row.new_set_m,
        "job_m2": row.job_m2,
        "swap_before": _before(row.swaps_sure),
        "swap_before_likely": _before(row.swaps_likely),
    }


def _before(swaps: tuple[FieldSwap, ...]) -> str | None:
    return swaps[0].field if swaps else None


def _swap(swap: FieldSwap) -> dict[str, Any]:
    return {
        "machine": swap.machine,
        "row": swap.row,
        "points": swap.points_count,
        "before": swap.field,
        "after": swap.after or None,
        "in_field_m2": swap.in_field_m2,
    }


def _poke(poke: PokeAnswer) -> dict[str, Any]:
    check = poke.check
    return {
        "machine": poke.machine,
        "front_m": check.front_m,
        "rear_m": check.rear_m,
        "rear_deeper_m": check.rear_deeper_m,
        "standard_error_m": check.standard_error_m,
        "level": check.is_level,
        "close_call": check.is_close_call,
        "front": check.front,
        "rear": check.rear,
        "wanted_m": {"low": poke.shallow_m, "high": poke.deep_m},
        "level_within_m": poke.level_within_m,
        "outside": check.outside_count,
        "more_pokes": poke.more_count,
    }
