"""Writing every pass, round and turn of a field as GeoJSON (RFC 7946), for other programs."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from duskline.core.outline import FloatArray
from duskline.core.passes import PassPlan
from duskline.core.turns import TurnRule, driven_turn
from duskline.exchange.projection import LocalPlane

__all__ = ["passes_geojson", "write_passes"]

# A turn is drawn with a corner about every metre; degrees to the centimetre.
_STEP_M = 1.0
_DIGITS = 7


def passes_geojson(plans: Mapping[str, PassPlan], *, plane: LocalPlane) -> dict[str, Any]:
    """Return every run, round and turn as line features, in driving order.

    Parameters
    ----------
    plans
        Each machine's plan, by its name.
    plane
        The plane the plans lie in.

    Returns
    -------
    dict
        A feature collection; properties ``machine``, ``kind`` ("pass", "round" or "turn") and
        ``order``, counted from 1 for each machine.
    """
    features = [
        _feature(line_m, machine, kind, order, plane)
        for machine, plan in plans.items()
        for order, (kind, line_m) in enumerate(_way(plan), start=1)
    ]
    return {"type": "FeatureCollection", "features": features}


def write_passes(path: Path, plans: Mapping[str, PassPlan], *, plane: LocalPlane) -> None:
    """Write the passes to a file, whole or not at all.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    text = json.dumps(passes_geojson(plans, plane=plane), ensure_ascii=False, allow_nan=False)
    beside = path.with_name(f"{path.name}.part")
    beside.write_text(text + "\n", encoding="utf-8")
    os.replace(beside, path)


def _way(plan: PassPlan) -> Iterator[tuple[str, FloatArray]]:
    """Yield the whole way of one machine: kind and line."""
    rounds: list[tuple[str, FloatArray]] = [("round", leg.path_m) for leg in plan.rounds.legs]
    passes: list[tuple[str, FloatArray]] = [("pass", run_m) for run_m in plan.passes_m]
    parts = [*rounds, *passes] if plan.driving.headland_first else [*passes, *rounds]
    for at, (kind, line_m) in enumerate(parts):
        if at:
            turn_m = _turn(parts[at - 1][1], line_m, plan.driving.turn)
            # A leg that goes straight on has no turn before it, and a line needs two corners.
            if len(turn_m) > 1:
                yield "turn", turn_m
        yield kind, line_m


def _turn(before_m: FloatArray, after_m: FloatArray, rule: TurnRule) -> FloatArray:
    points_m: FloatArray = (
        driven_turn(
            _pose(before_m[-2], before_m[-1], before_m[-1]),
            _pose(after_m[0], after_m[1], after_m[0]),
            rule,
        )
        .path(_STEP_M)
        .points_m
    )
    return points_m


def _pose(
    first_m: FloatArray, second_m: FloatArray, at_m: FloatArray
) -> tuple[float, float, float]:
    ahead = second_m - first_m
    return float(at_m[0]), float(at_m[1]), float(np.arctan2(ahead[1], ahead[0]))


def _feature(
    line_m: FloatArray, machine: str, kind: str, order: int, plane: LocalPlane
) -> dict[str, Any]:
    corners_deg = plane.to_lonlat(np.asarray(line_m)).round(_DIGITS).tolist()
    return {
        "type": "Feature",
        "properties": {"machine": machine, "kind": kind, "order": order},
        "geometry": {"type": "LineString", "coordinates": corners_deg},
    }
