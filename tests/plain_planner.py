"""A plain way to drive a field, by itself: rounds, then rows along the longest side.

The yardstick our plans must never lose to. It shares no code with the plans: shapely cuts the
ground, the turns are laid out here from their circles. What comes before the first round, between
two rounds, and between the last round and the first row costs it nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

__all__ = [
    "PlainMachine",
    "PlainPlan",
    "forward_length_m",
    "forward_ways",
    "plain_plan",
    "plain_runs_m",
]

FloatArray = NDArray[np.float64]

STRAIGHT_WITHIN_M = 2.0
SHARP_RAD = math.radians(30.0)
NO_RUN_M2 = 1e-2
HAIR = 1e-9
# Nearer than this in place [m] or direction [rad] is the same: rounding must not cost a circle.
SAME = 1e-6


@dataclass(frozen=True, kw_only=True, slots=True)
class PlainMachine:
    """How the machine drives: width and radius [m], speeds [m/s], what turns cost [s].

    ``swing_m`` is how far it reaches to the side of its own path: that much more headland a turn
    needs, and that far off every edge it keeps between runs. ``fixed_s`` comes on top of the way
    of every turn between two runs, ``corner_turn_s`` on every corner of a round that is sharper
    than 30 degrees.
    """

    width_m: float
    radius_m: float
    speed_mps: float
    turn_speed_mps: float
    fixed_s: float
    corner_turn_s: float
    swing_m: float


@dataclass(frozen=True, kw_only=True, slots=True)
class PlainPlan:
    """What driving the plain way comes to.

    ``corners`` are the sharp ones of all rounds; ``round_m``, ``run_m`` and ``turn_m`` are the
    ways of all rounds, runs and turns between runs, ``first_m`` where the first run starts, x and
    y. [m]
    """

    heading_rad: float
    rounds: int
    rows: int
    runs: int
    corners: int
    round_m: float
    run_m: float
    turn_m: float
    first_m: tuple[float, float]
    passes_minutes: float
    minutes: float


def plain_plan(
    field: shapely.Polygon, machine: PlainMachine, *, strips_m: FloatArray | None = None
) -> PlainPlan:
    """Return what rounds and rows along the longest side come to, in minutes.

    Parameters
    ----------
    field
        The outline with its holes, in the plane. [m]
    machine
        How the machine drives.
    strips_m
        Runs over strips that no round reaches, ``(n, 2, 2)``, driven as they come after the
        rows. [m]
    """
    width_m = machine.width_m
    rounds, interior = _headland(field, machine)
    driven = [_inset(field, (index + 0.5) * width_m) for index in range(rounds)]
    round_m = float(sum(ring.length for ring in driven))
    corners = sum(_sharp_corners(ring) for ring in driven)
    heading_rad = longest_side_heading_rad(field)
    rows, starts_m, ends_m = _runs(interior, heading_rad, width_m)
    runs = len(starts_m)
    starts_m, ends_m = _with_strips(starts_m, ends_m, strips_m)
    turns_m = _turns_m(field, starts_m, ends_m, machine=machine)
    run_m = float(np.hypot(*(ends_m - starts_m).T).sum())
    turn_m = float(turns_m.sum())
    passes_s = (
        run_m / machine.speed_mps + turn_m / machine.turn_speed_mps + len(turns_m) * machine.fixed_s
    )
    rounds_s = round_m / machine.speed_mps + corners * machine.corner_turn_s
    return PlainPlan(
        heading_rad=heading_rad,
        rounds=rounds,
        rows=rows,
        runs=runs,
        corners=corners,
        round_m=round_m,
        run_m=run_m,
        turn_m=turn_m,
        first_m=(float(starts_m[0, 0]), float(starts_m[0, 1])),
        passes_minutes=passes_s / 60.0,
        minutes=(passes_s + rounds_s) / 60.0,
    )


def plain_runs_m(
    field: shapely.Polygon, machine: PlainMachine, *, strips_m: FloatArray | None = None
) -> FloatArray:
    """Return the runs of the plain plan as they are driven, ``(n_runs, 2, 2)``. [m]"""
    _, interior = _headland(field, machine)
    _, starts_m, ends_m = _runs(interior, longest_side_heading_rad(field), machine.width_m)
    return np.stack(_with_strips(starts_m, ends_m, strips_m), axis=1)


def forward_length_m(starts: FloatArray, ends: FloatArray, radius_m: float) -> FloatArray:
    """Return the shortest way forward from pose to pose, no curve tighter than a radius. [m]

    Parameters
    ----------
    starts, ends
        Poses ``(n, 3)``: x, y [m] and direction, counter-clockwise from east. [rad]
    radius_m
        The tightest curve. [m]

    Notes
    -----
    Six ways: curve, straight, curve to the same or to the other hand, and three curves. Each is
    laid out from its circles for a first curve to the left or right; the other hand is the same
    in a mirror.

    Source
    ------
    That these six are enough: L. E. Dubins 1957 (memory). The circles are derived here;
    tests/test_plain_planner.py drives every way to its end.
    """
    ways = forward_ways(starts, ends, radius_m)
    shortest_m: FloatArray = np.min([np.sum(parts_m, axis=0) for _, parts_m in ways], axis=0)
    return shortest_m


def forward_ways(
    starts: FloatArray, ends: FloatArray, radius_m: float
) -> list[tuple[tuple[int, int, int], FloatArray]]:
    """Return the six ways from pose to pose: to which hand, and the three parts ``(3, n)``. [m]

    Hands are 1 left, 0 straight, -1 right; parts that cannot be driven are infinite.
    """
    mirror = np.asarray([1.0, -1.0, -1.0])
    seen = ((1, starts, ends), (-1, starts * mirror, ends * mirror))
    found: list[tuple[tuple[int, int, int], FloatArray]] = []
    for hand, one, other in seen:
        found.append(((hand, 0, hand), _left_straight_left(one, other, radius_m)))
        found.append(((hand, 0, -hand), _left_straight_right(one, other, radius_m)))
        found.append(((-hand, hand, -hand), _right_left_right(one, other, radius_m)))
    return found


def longest_side_heading_rad(field: shapely.Polygon) -> float:
    """Return the direction of the longest side, wiggles of 2 m straightened, in [0, pi). [rad]"""
    corners_m = shapely.get_coordinates(field.exterior)[:-1]
    away_m = np.hypot(*(corners_m - corners_m.mean(axis=0)).T)
    # Begun at the outermost corner, so that straightening does not start half-way along a side.
    ring_m = np.roll(corners_m, -int(np.argmax(away_m)), axis=0)
    line = shapely.LineString(np.vstack([ring_m, ring_m[:1]])).simplify(
        STRAIGHT_WITHIN_M, preserve_topology=False
    )
    steps_m = np.diff(shapely.get_coordinates(line), axis=0)
    east_m, north_m = steps_m[int(np.argmax(np.hypot(*steps_m.T)))]
    return math.atan2(north_m, east_m) % math.pi % math.pi


def _headland(field: shapely.Polygon, machine: PlainMachine) -> tuple[int, shapely.Geometry]:
    """Return the rounds that give turns their room, fewer where they would leave no rows."""
    # Beyond the line of the pass ends: the half circle's radius; a bulb's, whose middle circle
    # stands between the two others, where rows lie closer than the half circle is wide.
    radius_m = machine.radius_m
    apart_m = min(machine.width_m, 2.0 * radius_m)
    bulb_m = math.sqrt((2.0 * radius_m) ** 2 - (radius_m + 0.5 * apart_m) ** 2)
    room_m = radius_m + bulb_m + machine.swing_m
    rounds = max(math.ceil(room_m / machine.width_m - HAIR), 1)
    while rounds > 0:
        interior = _inset(field, rounds * machine.width_m)
        if interior.area > NO_RUN_M2:
            return rounds, interior
        rounds -= 1
    return 0, field


def _inset(field: shapely.Polygon, depth_m: float) -> shapely.Geometry:
    return field.buffer(-depth_m, join_style="mitre", mitre_limit=5.0) if depth_m else field


def _rings(ground: shapely.Geometry) -> list[shapely.LinearRing]:
    pieces = [piece for piece in shapely.get_parts(ground) if piece.geom_type == "Polygon"]
    return [ring for piece in pieces for ring in (piece.exterior, *piece.interiors)]


def _sharp_corners(ground: shapely.Geometry) -> int:
    count = 0
    for ring in _rings(ground):
        steps_m = np.diff(shapely.get_coordinates(ring), axis=0)
        directions_rad = np.arctan2(steps_m[:, 1], steps_m[:, 0])
        turned_rad = np.roll(directions_rad, -1) - directions_rad
        turned_rad = np.abs((turned_rad + math.pi) % math.tau - math.pi)
        count += int((turned_rad > SHARP_RAD).sum())
    return count


def _runs(
    interior: shapely.Geometry, heading_rad: float, width_m: float
) -> tuple[int, FloatArray, FloatArray]:
    """Return the rows, and the start and end of every run in driving order. [m]"""
    turned = affinity.rotate(interior, -heading_rad, origin=(0.0, 0.0), use_radians=True)
    west_m, south_m, east_m, north_m = turned.bounds
    rows = max(math.ceil((north_m - south_m) / width_m - HAIR), 1)
    starts: list[tuple[float, float]] = []
    ends: list[tuple[float, float]] = []
    eastward = True
    for row in range(rows):
        low_m = south_m + row * width_m
        if row == rows - 1:
            low_m = north_m - width_m if rows > 1 else 0.5 * (south_m + north_m - width_m)
        strip = shapely.box(west_m - 1.0, low_m, east_m + 1.0, low_m + width_m)
        spans = _spans(shapely.intersection(turned, strip))
        middle_m = low_m + 0.5 * width_m
        for west, east in spans if eastward else reversed(spans):
            starts.append((west if eastward else east, middle_m))
            ends.append((east if eastward else west, middle_m))
        if spans:
            eastward = not eastward
    cos, sin = math.cos(heading_rad), math.sin(heading_rad)
    back = np.asarray([[cos, sin], [-sin, cos]])
    starts_m, ends_m = (np.asarray(found).reshape(-1, 2) @ back for found in (starts, ends))
    return rows, starts_m, ends_m


def _with_strips(
    starts_m: FloatArray, ends_m: FloatArray, strips_m: FloatArray | None
) -> tuple[FloatArray, FloatArray]:
    """Return the starts and ends of the rows' runs and after them the strips'. [m]"""
    if strips_m is None:
        return starts_m, ends_m
    return np.concatenate([starts_m, strips_m[:, 0]]), np.concatenate([ends_m, strips_m[:, 1]])


def _spans(ground: shapely.Geometry) -> list[tuple[float, float]]:
    """Return how far ground reaches from west to east, pieces abreast joined. [m]"""
    pieces = [piece for piece in shapely.get_parts(ground) if piece.area > NO_RUN_M2]
    spans: list[tuple[float, float]] = []
    for west, _, east, _ in sorted(piece.bounds for piece in pieces):
        if spans and west <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], east))
        else:
            spans.append((west, east))
    return spans


def _turns_m(
    field: shapely.Polygon,
    starts_m: FloatArray,
    ends_m: FloatArray,
    *,
    machine: PlainMachine,
) -> FloatArray:
    """Return the way from the end of each run to the start of the next, ``(n_runs - 1,)``. [m]"""
    directions_rad = np.arctan2(*(ends_m - starts_m).T[::-1])
    poses_out = np.column_stack([ends_m, directions_rad])[:-1]
    poses_in = np.column_stack([starts_m, directions_rad])[1:]
    turns_m = forward_length_m(poses_out, poses_in, machine.radius_m)
    straight = shapely.linestrings(np.stack([poses_out[:, :2], poses_in[:, :2]], axis=1))
    clear = _inset(field, machine.swing_m)
    shapely.prepare(clear)
    lanes = _rings(clear)
    for index in np.flatnonzero(~shapely.covers(clear, straight)).tolist():
        round_m = min(_along_m(lane, poses_out[index, :2], poses_in[index, :2]) for lane in lanes)
        turns_m[index] += max(0.0, round_m - straight[index].length)
    return turns_m


def _along_m(lane: shapely.LinearRing, from_m: FloatArray, to_m: FloatArray) -> float:
    """Return the way to a lane, along it the shorter way round, and off it again. [m]"""
    start, end = shapely.Point(from_m), shapely.Point(to_m)
    apart_m = abs(lane.project(start) - lane.project(end))
    return float(lane.distance(start) + min(apart_m, lane.length - apart_m) + lane.distance(end))


def _left_straight_left(starts: FloatArray, ends: FloatArray, radius_m: float) -> FloatArray:
    between = _left_centres(ends, radius_m) - _left_centres(starts, radius_m)
    straight_m = np.hypot(*between.T)
    line_rad = np.where(straight_m > SAME, np.arctan2(between[:, 1], between[:, 0]), starts[:, 2])
    first, last = _turn(line_rad - starts[:, 2]), _turn(ends[:, 2] - line_rad)
    return np.stack([radius_m * first, straight_m, radius_m * last])


def _left_straight_right(starts: FloatArray, ends: FloatArray, radius_m: float) -> FloatArray:
    between = _left_centres(ends, -radius_m) - _left_centres(starts, radius_m)
    # From circle to circle is a straight way forward and two radii to the right.
    straight_m2 = np.sum(between**2, axis=1) - 4.0 * radius_m**2
    straight_m = np.sqrt(np.maximum(straight_m2, 0.0))
    line_rad = np.arctan2(between[:, 1], between[:, 0]) + np.arctan2(2.0 * radius_m, straight_m)
    first, last = _turn(line_rad - starts[:, 2]), _turn(line_rad - ends[:, 2])
    parts_m = np.stack([radius_m * first, straight_m, radius_m * last])
    return np.where(straight_m2 >= -SAME, parts_m, np.inf)


def _right_left_right(starts: FloatArray, ends: FloatArray, radius_m: float) -> FloatArray:
    first, last = _left_centres(starts, -radius_m), _left_centres(ends, -radius_m)
    between = last - first
    apart_m = np.hypot(*between.T)
    # The middle circle touches both: three centres are a triangle of sides 2 r, 2 r, apart.
    lean_rad = np.arccos(np.minimum(apart_m / (4.0 * radius_m), 1.0))
    parts_m = np.full((3, len(starts)), np.inf)
    for side in (-1.0, 1.0):
        to_middle_rad = np.arctan2(between[:, 1], between[:, 0]) + side * lean_rad
        middle = first + 2.0 * radius_m * np.column_stack(
            [np.cos(to_middle_rad), np.sin(to_middle_rad)]
        )
        to_last_rad = np.arctan2(*(last - middle).T[::-1])
        first_off_rad, last_on_rad = to_middle_rad - 0.5 * math.pi, to_last_rad + 0.5 * math.pi
        this_m = radius_m * np.stack(
            [
                _turn(starts[:, 2] - first_off_rad),
                _turn(last_on_rad - first_off_rad),
                _turn(last_on_rad - ends[:, 2]),
            ]
        )
        parts_m = np.where(this_m.sum(axis=0) < parts_m.sum(axis=0), this_m, parts_m)
    return np.where(apart_m <= 4.0 * radius_m + HAIR, parts_m, np.inf)


def _left_centres(poses: FloatArray, radius_m: float) -> FloatArray:
    """Return the centres of the circles to the left; to the right for a negative radius. [m]"""
    x_m, y_m, direction_rad = poses.T
    return np.column_stack(
        [x_m - radius_m * np.sin(direction_rad), y_m + radius_m * np.cos(direction_rad)]
    )


def _turn(angle_rad: FloatArray) -> FloatArray:
    """Return an angle in [0, 2 pi), next to a full circle being none. [rad]"""
    turned = angle_rad % math.tau
    return np.where(turned > math.tau - SAME, 0.0, turned)
