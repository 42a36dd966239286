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
# A start this many times nearer to another side is told from that one.
_MUCH_NEARER = 2.0
_HAIR_M = 1e-6


@dataclass(frozen=True, kw_only=True, slots=True)
class FirstPass:
    """Where pass 1 starts and what to aim at; all that a driver by eye needs to begin.

    Attributes
    ----------
    start_m, aim_rad
        Where the pass starts, x and y [m], and its direction, counter-clockwise from east. [rad]
    near_edge
        The side of the field that runs along the pass and lies nearest to its start.
    start_edge
        The side the start is told from: the near one, unless the pass starts much nearer to
        another.
    start_corner_m
        The end of that side where the driver begins, x and y. [m]
    along_start_edge_m
        From that corner along the side to the foot of the start; below zero where the start lies
        past the corner, in line with the side. [m]
    from_start_edge_m
        From that side in to the middle of the machine at the start of the pass. [m]
    far_edge
        The side the pass runs towards.
    far_mark_m
        Where the line of the pass meets that side: the thing to aim at, x and y. [m]
    far_corner_m
        The end of the far side nearer to the mark, x and y. [m]
    along_far_edge_m
        From that corner along the far side to the mark. [m]
    """

    start_m: tuple[float, float]
    aim_rad: float
    near_edge: Edge
    start_edge: Edge
    start_corner_m: tuple[float, float]
    along_start_edge_m: float
    from_start_edge_m: float
    far_edge: Edge
    far_mark_m: tuple[float, float]
    far_corner_m: tuple[float, float]
    along_far_edge_m: float

    @property
    def along_start_rad(self) -> float:
        """The way from the corner along the side it is told from, left of east. [rad]"""
        edge = self.start_edge
        return edge.heading_rad if self.start_corner_m == edge.start_m else _back_rad(edge)

    @property
    def along_far_rad(self) -> float:
        """The way from the corner along the far side to the mark, left of east. [rad]"""
        edge = self.far_edge
        return edge.heading_rad if self.far_corner_m == edge.start_m else _back_rad(edge)


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
        Every side of the same outline as drawn, each corner where its index says.

    Notes
    -----
    The start is told by two distances: along a side from its corner, and in from that side. The
    side is the one that runs along the pass, unless the start lies more than twice as far from
    it as from another: where the pass cuts a corner of the field.

    Source
    ------
    Derived here; tests/core/test_aim_mark.py works each told point back into x and y.
    """
    start_m, end_m = run_m[0], run_m[1]
    aim = (end_m - start_m) / math.dist(start_m, end_m)
    told_from, corner_m = _start_edge(straight_sides, start_m, aim)
    foot = _foot(told_from, corner_m, start_m)
    far, mark_m = _far_edge(straight_sides, drawn_sides, end_m, aim)
    far_corner_m = min((far.start_m, far.end_m), key=lambda end: math.dist(end, mark_m))
    return FirstPass(
        start_m=_point(start_m),
        aim_rad=math.atan2(aim[1], aim[0]) % math.tau,
        near_edge=_near_edge(straight_sides, start_m, aim),
        start_edge=told_from,
        start_corner_m=corner_m,
        along_start_edge_m=foot.along_m,
        from_start_edge_m=foot.in_m,
        far_edge=far,
        far_mark_m=_point(mark_m),
        far_corner_m=far_corner_m,
        along_far_edge_m=math.dist(far_corner_m, mark_m),
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


@dataclass(frozen=True, kw_only=True, slots=True)
class _Foot:
    """Where a point stands beside a side: along it from one end, and in from it. [m]"""

    along_m: float
    in_m: float


def _foot(side: Edge, corner_m: tuple[float, float], point_m: FloatArray) -> _Foot:
    """Return where a point stands beside a side, counted from one of its ends."""
    other_m = side.end_m if corner_m == side.start_m else side.start_m
    way = np.subtract(other_m, corner_m) / side.length_m
    return _Foot(
        along_m=float((point_m - np.asarray(corner_m)) @ way),
        in_m=side.distance_m(_point(point_m)),
    )


def _start_edge(
    found: Sequence[Edge], start_m: FloatArray, aim: FloatArray
) -> tuple[Edge, tuple[float, float]]:
    """Return the side a start is told from, and its end nearer to the start."""
    feet = [_foot(side, side.start_m, start_m) for side in found]
    squarely = sorted(
        (foot.in_m, at)
        for at, foot in enumerate(feet)
        if foot.in_m > 0.0 and 0.0 <= foot.along_m <= found[at].length_m
    )
    # Another arm of the field may lie nearer to the line of a side than that side itself.
    seen = [(in_m, at) for in_m, at in squarely if _in_sight(found, at, start_m)]
    if seen:
        nearest_m, at = seen[0]
        beside = [(in_m, at) for in_m, at in seen if _beside(found[at], aim)]
        if beside and beside[0][0] <= _MUCH_NEARER * nearest_m:
            at = beside[0][1]
    else:
        # Round an inside corner no side lies squarely by: told past the end of the nearest.
        near_m = min(_away_m(side, start_m) for side in found)
        level = [at for at, side in enumerate(found) if _away_m(side, start_m) <= near_m + _HAIR_M]
        at = max(level, key=lambda one: feet[one].in_m)
    side = found[at]
    in_second_half = feet[at].along_m > 0.5 * side.length_m
    return side, side.end_m if in_second_half else side.start_m


def _in_sight(found: Sequence[Edge], at: int, point_m: FloatArray) -> bool:
    """Return whether no other side stands between a point and its foot on one side."""
    side = found[at]
    along = np.subtract(side.end_m, side.start_m) / side.length_m
    inward = np.asarray([-along[1], along[0]])
    met = _crossings((other for place, other in enumerate(found) if place != at), point_m, -inward)
    in_m = side.distance_m(_point(point_m))
    return not any(_HAIR_M < beyond_m < in_m - _HAIR_M for beyond_m, _, _ in met)


def _back_rad(edge: Edge) -> float:
    return (edge.heading_rad + math.pi) % math.tau


def _far_edge(
    straight_sides: Sequence[Edge],
    drawn_sides: Sequence[Edge],
    from_m: FloatArray,
    aim: FloatArray,
) -> tuple[Edge, FloatArray]:
    """Return the side that a line meets first beyond a point, and where."""
    met = _crossings(drawn_sides, from_m, aim)
    ahead = [crossing for crossing in met if crossing[0] >= -_HAIR_M]
    _, drawn, drawn_m = min(ahead or met, key=lambda crossing: abs(crossing[0]))
    own = [one for one in straight_sides if _share_a_stretch(one, drawn)]
    side = min(own, key=lambda one: _away_m(one, drawn_m))
    on_line = _crossings((side,), from_m, aim)
    if on_line:
        return side, on_line[0][2]
    # The line meets a wiggle only: the mark stands on the side beside it.
    gone_m = _foot(side, side.start_m, drawn_m).along_m
    way = np.subtract(side.end_m, side.start_m) / side.length_m
    return side, np.asarray(side.start_m) + min(max(gone_m, 0.0), side.length_m) * way


def _share_a_stretch(side: Edge, drawn: Edge) -> bool:
    """Return whether a drawn side is part of a straightened one, wholly or partly."""
    return _holds(side, drawn.start_index) or _holds(drawn, side.start_index)


def _holds(side: Edge, index: int) -> bool:
    """Return whether the drawn side that begins at a corner is part of a side."""
    first, last = side.start_index, side.end_index
    return first <= index < last if first < last else index >= first or index < last


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
