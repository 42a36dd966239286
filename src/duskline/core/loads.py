"""The spreader's loads laid on its passes, so that it runs empty at a headland."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from duskline.core.checks import check_positive
from duskline.core.errors import OutOfRange
from duskline.core.outline import FloatArray

__all__ = ["PassLoad", "lay_loads"]

# Of two ends of runs the truck's is taken while the load still does this share of the other.
_NEAR_TRUCK_SHARE = 0.75
_HAIR = 1e-9
_MOST_LOADS = 10_000


@dataclass(frozen=True, kw_only=True, slots=True)
class PassLoad:
    """One load and the runs it does.

    Attributes
    ----------
    first_index, last_index
        Its first and last run, in driving order.
    mass_kg
        Seed to put in. [kg]
    area_m2
        What it does. [m2]
    empties_at_m
        Where the spreader is then, x and y. [m]
    at_run_end
        Whether that is the end of a run; a run that takes more than a whole load ends mid-field.
    """

    first_index: int
    last_index: int
    mass_kg: float
    area_m2: float
    empties_at_m: tuple[float, float]
    at_run_end: bool


def lay_loads(
    *,
    run_areas_m2: Sequence[float],
    run_paths_m: Sequence[Sequence[Sequence[float]] | FloatArray],
    rate_kg_per_m2: float,
    load_kg: float,
    truck_m: tuple[float, float] | None = None,
) -> tuple[PassLoad, ...]:
    """Return the loads of a field, each ending at the end of a run.

    Parameters
    ----------
    run_areas_m2
        What each run does, in driving order, ``(n_runs,)``. [m2]
    run_paths_m
        Corners of each run in driving order, ``(k, 2)`` x and y, ``(n_runs,)``. [m]
    rate_kg_per_m2
        Seed for each area. [kg/m2]
    load_kg
        The most that goes into the hopper. [kg]
    truck_m
        Where the seed truck stands, x and y; None where not known. [m]

    Raises
    ------
    OutOfRange
        A rate or a load not above zero, or not one path for each run.

    Notes
    -----
    As many whole runs as the hopper holds. Where the run before ends nearer to the truck and the
    load would still do three quarters as much, it ends there. A single run that takes more than
    a load is cut into full loads.

    Source
    ------
    Derived here; tests/core/test_loads.py.
    """
    check_positive("rate", rate_kg_per_m2)
    check_positive("load", load_kg)
    if len(run_areas_m2) != len(run_paths_m):
        raise OutOfRange("paths of runs", len(run_paths_m), len(run_areas_m2), len(run_areas_m2))
    ends_m = [(float(path[-1][0]), float(path[-1][1])) for path in run_paths_m]
    for area_m2 in run_areas_m2:
        if not 0.0 <= area_m2 < math.inf:
            raise OutOfRange("ground of a run", area_m2, 0.0)
    most_m2 = load_kg / rate_kg_per_m2
    if sum(run_areas_m2) > _MOST_LOADS * most_m2:
        raise OutOfRange("load", load_kg, sum(run_areas_m2) * rate_kg_per_m2 / _MOST_LOADS)
    loads: list[PassLoad] = []
    index, count, begun_m2 = 0, len(run_areas_m2), 0.0
    while index < count:
        left_m2 = run_areas_m2[index] - begun_m2
        if left_m2 > most_m2 * (1.0 + _HAIR):
            begun_m2 += most_m2
            loads.append(
                PassLoad(
                    first_index=index,
                    last_index=index,
                    mass_kg=load_kg,
                    area_m2=most_m2,
                    empties_at_m=_along(run_paths_m[index], begun_m2 / run_areas_m2[index]),
                    at_run_end=False,
                )
            )
            continue
        last, done_m2 = index, left_m2
        while last + 1 < count and done_m2 + run_areas_m2[last + 1] <= most_m2 * (1.0 + _HAIR):
            last += 1
            done_m2 += run_areas_m2[last]
        if truck_m is not None and index < last < count - 1:
            sooner_m2 = done_m2 - run_areas_m2[last]
            nearer = math.dist(ends_m[last - 1], truck_m) < math.dist(ends_m[last], truck_m)
            if nearer and sooner_m2 >= _NEAR_TRUCK_SHARE * done_m2:
                last, done_m2 = last - 1, sooner_m2
        loads.append(
            PassLoad(
                first_index=index,
                last_index=last,
                mass_kg=done_m2 * rate_kg_per_m2,
                area_m2=done_m2,
                empties_at_m=ends_m[last],
                at_run_end=True,
            )
        )
        index, begun_m2 = last + 1, 0.0
    return tuple(loads)


def _along(path_m: Sequence[Sequence[float]] | FloatArray, share: float) -> tuple[float, float]:
    """Return the place a share of the way along a path. [m]"""
    corners_m = np.asarray(path_m, dtype=np.float64)
    gone_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners_m, axis=0).T))])
    at_m = share * gone_m[-1]
    return (
        float(np.interp(at_m, gone_m, corners_m[:, 0])),
        float(np.interp(at_m, gone_m, corners_m[:, 1])),
    )
