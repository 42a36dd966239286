"""The evenness of a field as JSON: SI keys with their unit, fixed names."""

from __future__ import annotations

from math import degrees
from typing import Any

from duskline.answers.evenness import AngleEffect, EvennessAnswer, EvennessRow, FieldMap, Seeding
from duskline.cli.json_out import plain, steps_json
from duskline.core.farm import Farm
from duskline.words.evenness import advice_sentence, rests_on

__all__ = ["evenness_json"]


def evenness_json(farm: Farm, answer: EvennessAnswer, *, working: bool = False) -> dict[str, Any]:
    """Return the evenness with its fixed names; money in ``currency``.

    ``before_cv`` and ``after_cv`` are of straight passes, as the table is; ``map`` is the field
    driven out. A figure that cannot be told, such as plants without a seed count, is null.
    """
    found: dict[str, Any] = {
        "field": answer.field.name,
        "before_cv": answer.before_cv,
        "after_cv": answer.after_cv,
        "angle_deg": degrees(answer.angle_rad),
        "levers": [_lever(one) for one in answer.levers],
        "advice": advice_sentence(answer, farm.system),
        "advice_kind": answer.advice.kind,
        "advice_key": answer.advice.key,
        "driving_width_m": answer.driving_width_m,
        "spreader": answer.spreader,
        "cultivator": answer.cultivator,
        "lot": answer.lot,
        "ruled_by": answer.ruled_by,
        "without_trays": answer.without_trays,
        "seeds": [_seed(one) for one in answer.seedings],
        "limits": {
            "gain": answer.limits.gain,
            "thin_gain": answer.limits.thin_gain,
            "even_enough": answer.limits.even_enough,
            "even_enough_source": farm.defaults["tray_evenness_good"].source,
            "usable": answer.limits.usable,
            "usable_source": farm.defaults["tray_evenness_usable"].source,
        },
        "angle": None if answer.angle is None else _angle(answer.angle),
        "cover_lost": {
            "response": answer.loss.response,
            "fraction": answer.loss.lost.value,
            "low": answer.loss.lost.low,
            "high": answer.loss.lost.high,
            "source": answer.loss.lost.source,
        },
        "map": None if answer.map is None else _map(answer.map),
        "opposite_fraction": answer.opposite_fraction,
        "buried": {
            passes: {"low": one.low, "typical": one.value, "high": one.high, "source": one.source}
            for passes, one in (("once", answer.buried), ("twice", answer.buried_twice))
        },
        "currency": answer.currency,
        "not_priced": answer.not_priced,
        "not_straight": list(answer.not_straight),
    }
    if working:
        found["working"] = steps_json(answer.working)
    return plain(found)  # type: ignore[no-any-return]


def _lever(row: EvennessRow) -> dict[str, Any]:
    return {
        "key": row.key.value,
        "cv": row.cv,
        "cv_low": row.cv_low,
        "cv_high": row.cv_high,
        "thin_tenth_plants_per_m2": row.thin_tenth_plants_per_m2,
        "below_half_fraction": row.below_half_fraction,
        "extra_minutes": row.extra_minutes,
        "extra_cost": row.extra_cost,
        "thin_tenth_fraction": row.thin_tenth_fraction,
        "missed_fraction": row.missed_fraction,
        "extra_fuel_m3": row.extra_fuel_m3,
        "area_lost_m2": row.area_lost_m2,
        "lot": row.lot,
        "driving_width_m": row.driving_width_m,
        "angle_deg": None if row.angle_rad is None else degrees(row.angle_rad),
        "speed_mps": row.speed_mps,
        "overlap_m": row.overlap_m,
        "verdict": row.verdict,
        "disagrees": row.disagrees,
        "rests_on": rests_on(row.key),
    }


def _seed(one: Seeding) -> dict[str, Any]:
    return {
        "lot": one.lot,
        "trays": one.test,
        "live_seeds_per_m2": one.live_per_m2,
        "emergence": one.emergence.value,
        "plants_per_m2": None if one.plants is None else one.plants.value,
        "plants_low_per_m2": None if one.plants is None else one.plants.low,
        "plants_high_per_m2": None if one.plants is None else one.plants.high,
    }


def _angle(angle: AngleEffect) -> dict[str, Any]:
    return {
        "eased_to_m": angle.eased_m,
        "row_spacing_m": angle.row_spacing_m,
        "row_kept_along": angle.row_kept_along,
        "row_kept": angle.row_kept,
        "band_m": angle.band_m,
        "band_kept": angle.band_kept,
        "along_cv": angle.along_cv,
        "run_length_m": angle.run_length_m,
        "bands_crossed": angle.bands_crossed,
    }


def _map(drawn: FieldMap) -> dict[str, Any]:
    return {
        "cell_m": drawn.density.cell_m,
        "plot_m": drawn.plot_m,
        "judged_m2": drawn.density.judged_m2,
        "mean_fraction": drawn.density.mean_before,
        "before_cv": drawn.before_cv,
        "after_cv": drawn.after_cv,
        "missed_fraction": drawn.missed_fraction,
        "thin_tenth_fraction": drawn.thin_tenth_fraction,
        "thin_tenth_plants_per_m2": drawn.thin_tenth_plants_per_m2,
        "below_half_fraction": drawn.below_half_fraction,
    }
