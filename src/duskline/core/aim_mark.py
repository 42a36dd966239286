"""Where pass 1 starts and what to aim at: all that a driver by eye needs to begin."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from duskline.core.outline import Edge, FloatArray

__all__ = ["FirstPass", "first_pass", "sides_across"]

# A side within this of the heading is one to drive beside. [rad]
_BESIDE_RAD = math.radians(35.0)


@dataclass(frozen=True, kw_only=True, slots=True)
class FirstPass:
    """Where pass 1 starts and what to aim at; all that a driver by eye needs to begin.

    Attributes
    ----------
    start_m, aim_rad
        Where the pass starts, x and y [m], and its direction, counter-clockwise from east. [rad]
    near_edge
        The side of the field the pass starts beside.
    start_corner_m
        The end of that side where the driver begins, x and y. [m]
    from_near_edge_m
        From that side to the middle of the machine at the start of the pass. [m]
    far_edge
        The side the pass runs towards.
    far_mark_m
        Where the line of the pass meets that side: the thing to aim at, x and y. [m]
    far_corner_m
        The end of the far side nearer to the mark, x and y. [m]
    along_far_edge_m
        From that corner along the far side to the mark. [m]
    mark_left_of_corner
        Whether the mark stands to the left of the corner as the driver looks at it.
    """

    start_m: tuple[float, float]
    aim_rad: float
    near_edge: Edge
    start_corner_m: tuple[float, float]
    from_near_edge_m: float
    far_edge: Edge
    far_mark_m: tuple[float, float]
    far_corner_m: tuple[float, float]
    along_far_edge_m: float
    mark_left_of_corner: bool


def first_pass(
    run_m: FloatArray, *, straight_sides: Sequence[Edge], drawn_sides: Sequence[Edge]
) -> FirstPass:
    """Return the marks of a pass.

    Parameters
    ----------
    run_m
        Its start and end, ``(2, 2)``. [m]
    straight_sides
        The field's sides as a person sees them.
    drawn_sides
        Every side as drawn; used where the line of the pass misses the straightened ones.

    Source
    ------
    Derived here; tests/core/test_aim_mark.py.
    """
    start_m, end_m = run_m[0], run_m[1]
    aim = (end_m - start_m) / math.dist(start_m, end_m)
    near = _near_edge(straight_sides, start_m, aim)
    corner_m = min((near.start_m, near.end_m), key=lambda end: math.dist(end, start_m))
    far, mark_m = _far_edge(straight_sides, drawn_sides, end_m, aim)
    far_corner_m = min((far.start_m, far.end_m), key=lambda end: math.dist(end, mark_m))
    to_mark_m = mark_m - np.asarray(far_corner_m)
    return FirstPass(
        start_m=_point(start_m),
        aim_rad=math.atan2(aim[1], aim[0]) % math.tau,
        near_edge=near,
        start_corner_m=corner_m,
        from_near_edge_m=abs(near.distance_m(_point(start_m))),
        far_edge=far,
        far_mark_m=_point(mark_m),
        far_corner_m=far_corner_m,
        along_far_edge_m=math.dist(far_corner_m, mark_m),
        mark_left_of_corner=bool(aim[0] * to_mark_m[1] - aim[1] * to_mark_m[0] > 0.0),
    )


def sides_across(found: Sequence[Edge], *, start_m: FloatArray, aim_rad: float) -> tuple[Edge, ...]:
    """Return the sides that run across the passes, the nearest to the start of pass 1 first.

    Parameters
    ----------
    found
        Sides to choose among.
    start_m, aim_rad
        Where pass 1 starts, x and y [m], and its direction, counter-clockwise from east. [rad]
    """
    aim = np.asarray([math.cos(aim_rad), math.sin(aim_rad)])
    across = [side for side in found if not _beside(side, aim)]
    return tuple(sorted(across, key=lambda side: _away_m(side, start_m)))


def _near_edge(found: Sequence[Edge], start_m: FloatArray, aim: FloatArray) -> Edge:
    """Return the side that runs along the pass and lies nearest to its start."""
    return min(found, key=lambda side: (not _beside(side, aim), _away_m(side, start_m)))


def _beside(side: Edge, aim: FloatArray) -> bool:
    """Return whether a side runs along the passes rather than across them."""
    along_m = np.asarray(side.end_m) - np.asarray(side.start_m)
    return abs(float(along_m @ aim)) >= math.cos(_BESIDE_RAD) * side.length_m


def _away_m(side: Edge, point_m: FloatArray) -> float:
    """Return how far a point lies from a side, its ends included. [m]"""
    first_m = np.asarray(side.start_m)
    along = (np.asarray(side.end_m) - first_m) / side.length_m
    gone_m = min(max(float((point_m - first_m) @ along), 0.0), side.length_m)
    return math.dist(first_m + gone_m * along, point_m)


def _far_edge(
    straight_sides: Iterable[Edge],
    drawn_sides: Iterable[Edge],
    from_m: FloatArray,
    aim: FloatArray,
) -> tuple[Edge, FloatArray]:
    """Return the side that a line meets first beyond a point, and where."""
    # A pass beside a wiggle may miss the straightened sides altogether; then the drawn ones.
    met = _crossings(straight_sides, from_m, aim) or _crossings(drawn_sides, from_m, aim)
    ahead = [crossing for crossing in met if crossing[0] >= 0.0]
    # A straightened side may lie a little behind the end of the pass; the nearest serves then.
    _, side, mark_m = min(ahead or met, key=lambda crossing: abs(crossing[0]))
    return side, mark_m


def _crossings(
    found: Iterable[Edge], from_m: FloatArray, aim: FloatArray
) -> list[tuple[float, Edge, FloatArray]]:
    """Return every side a line crosses: how far beyond a point, which, and where [m]."""
    across = np.asarray([-aim[1], aim[0]])
    crossings: list[tuple[float, Edge, FloatArray]] = []
    for side in found:
        start_m, end_m = np.asarray(side.start_m), np.asarray(side.end_m)
        left_m, right_m = (start_m - from_m) @ across, (end_m - from_m) @ across
        if (left_m > 0.0) != (right_m > 0.0):
            mark_m = start_m + (end_m - start_m) * (left_m / (left_m - right_m))
            crossings.append((float((mark_m - from_m) @ aim), side, mark_m))
    return crossings


def _point(point_m: FloatArray) -> tuple[float, float]:
    return float(point_m[0]), float(point_m[1])
