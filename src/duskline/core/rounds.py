"""Headland rounds: the legs a driver makes along every edge, and the corners between them.

The tool never leaves the field: a leg's middle line keeps half the tool's width from every edge.
At a corner the driver runs on until the tool meets the edge ahead, lifts, and swings into the
next leg; gentler bends are driven through.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from duskline.core.errors import OutOfRange
from duskline.core.outline import FloatArray, Outline, inset, outlines_of
from duskline.core.rows import lay_rows
from duskline.core.turns import TurnRule, turn_times_s

__all__ = [
    "Leg",
    "Rounds",
    "begun_near",
    "corner_time_s",
    "drive_rounds",
    "rounds_depth_m",
    "rounds_needed_count",
]

_HAIR = 1e-9
# A bend up to this much is driven through with the tool in the ground. [rad]
_DRIVEN_THROUGH_RAD = math.radians(60.0)
# Legs run on past a corner by no more than this many tool widths, however sharp it is.
_MOST_PAST_WIDTHS = 2.0
# The tool may brush an edge by this much: rounding, not seed in the ditch. [m]
_BRUSH_M = 2e-3
# Strips that the rounds cannot reach get runs of their own from this many tool widths squared,
# and only until no more than this share of the field is left.
_ODD_WIDTHS = 0.5
_ODD_SHARE = 0.001


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Leg:
    """One stretch of a round with the tool in the ground.

    Attributes
    ----------
    path_m
        Corners of its middle line in driving order, ``(n, 2)``. [m]
    round_index, ring_index
        Which round, from 0 at the edge, and which closed way of all rounds it belongs to.
    """

    path_m: FloatArray
    round_index: int
    ring_index: int

    @property
    def length_m(self) -> float:
        """How long it is. [m]"""
        return float(np.hypot(*np.diff(self.path_m, axis=0).T).sum())

    @property
    def start(self) -> tuple[float, float, float]:
        """Place and heading at its beginning: x, y [m], heading [rad]."""
        return _pose(self.path_m[0], self.path_m[1], self.path_m[0])

    @property
    def end(self) -> tuple[float, float, float]:
        """Place and heading at its end: x, y [m], heading [rad]."""
        return _pose(self.path_m[-2], self.path_m[-1], self.path_m[-1])


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Rounds:
    """All headland rounds of one machine in one field.

    Attributes
    ----------
    count
        Rounds driven; in narrow ground fewer than were asked for.
    legs
        In driving order, outermost round first.
    turn_s
        Lifted, from the end of each leg to the start of the next, ``(n_legs - 1,)``. [s]
    odd_m
        Straight runs over strips too narrow for one more round, ``(n, 2, 2)``. [m]
    inner
        What the rounds leave for passes, largest piece first.
    """

    count: int
    legs: tuple[Leg, ...]
    turn_s: FloatArray
    odd_m: FloatArray
    inner: tuple[Outline, ...]

    @property
    def length_m(self) -> float:
        """Driven with the tool in the ground, all legs together. [m]"""
        return sum(leg.length_m for leg in self.legs)


def rounds_depth_m(*, count: int, driving_width_m: float, width_m: float) -> float:
    """Return how deep a number of rounds leaves the headland. [m]

    Parameters
    ----------
    count
        Rounds.
    driving_width_m, width_m
        From one round to the next, and what one round works. [m]

    Notes
    -----
    ``count x driving width``, never less than one tool width: a pass that runs up to the far
    side of a slanted headland then stays inside the field.
    """
    return 0.0 if count == 0 else max(count * driving_width_m, width_m)


def rounds_needed_count(*, room_m: float, driving_width_m: float, width_m: float) -> int:
    """Return the fewest headland rounds that give a turn its room; one at least.

    Parameters
    ----------
    room_m
        How far a turn reaches beyond the end of a pass. [m]
    driving_width_m, width_m
        From one round to the next, and what one round works. [m]

    Raises
    ------
    OutOfRange
        Room below zero, or a driving width not above zero.
    """
    if not room_m >= 0.0:
        raise OutOfRange("turning room", room_m, 0.0)
    if not 0.0 < driving_width_m <= width_m:
        raise OutOfRange("driving width", driving_width_m, 0.0, width_m)
    if room_m <= width_m * (1.0 + _HAIR):
        return 1
    return math.ceil(room_m / driving_width_m - _HAIR)


def corner_time_s(*, turn_rad: float, past_m: float, rule: TurnRule) -> float:
    """Return the time from running past a corner to working again along the next side. [s]

    Parameters
    ----------
    turn_rad
        How much the way turns; to the left where positive, as at an outward corner. [rad]
    past_m
        How far the machine ran on beyond the corner. [m]
    rule
        How it turns.

    Notes
    -----
    With reverse: the quicker of a fishtail and the way forward. Forward only, at an outward
    corner: a loop to the inside, two arcs to the left and the straight between their circles.
    Lifted, it swings a radius out ahead of the corner, which a driver may have to take by backing
    up.
    Forward only round an inward corner: the shortest way, for there is room on both hands.

    Source
    ------
    Derived here; tests/core/test_rounds.py draws the loop.
    """
    if rule.reverses or turn_rad <= 0.0:
        start = np.asarray([[past_m, 0.0, 0.0]])
        end = np.asarray([[0.0, 0.0, turn_rad]])
        return float(turn_times_s(start, end, rule)[0])
    radius_m = rule.radius_m
    east_m = -radius_m * math.sin(turn_rad) - past_m
    north_m = radius_m * math.cos(turn_rad) - radius_m
    first_rad = math.atan2(north_m, east_m) % math.tau
    arcs_rad = first_rad + (turn_rad - first_rad) % math.tau
    length_m = radius_m * arcs_rad + math.hypot(east_m, north_m)
    return length_m / rule.speed_mps + rule.fixed_s


def drive_rounds(
    outline: Outline,
    *,
    count: int,
    driving_width_m: float,
    width_m: float,
    rule: TurnRule,
) -> Rounds:
    """Return the rounds of a field, their corners, and what they leave for passes.

    Parameters
    ----------
    outline
        The field.
    count
        Rounds to drive, one or more.
    driving_width_m, width_m
        From one round to the next, and what one round works. [m]
    rule
        How the machine turns.

    Raises
    ------
    OutOfRange
        No round.

    Notes
    -----
    Round j keeps ``width / 2 + j x driving width`` from every edge; its swept ground is that
    line with half a width to each side, corners rounded, so it lies inside the field.

    Source
    ------
    Derived here; tests/core/test_rounds.py.
    """
    if count < 1:
        raise OutOfRange("headland rounds", count, 1)
    legs: list[Leg] = []
    odd: list[Outline] = []
    for index in range(count):
        pieces = inset(outline, depth_m=0.5 * width_m + index * driving_width_m)
        rings_m = [ring for piece in pieces for ring in (piece.exterior_m, *piece.holes_m)]
        rings_before = legs[-1].ring_index + 1 if legs else 0
        legs.extend(_round_legs(outline, rings_m, index, rings_before, width_m))
        if index:
            depth_m = rounds_depth_m(count=index, driving_width_m=driving_width_m, width_m=width_m)
            odd.extend(_odd_pieces(outline, pieces, depth_m, width_m))
    depth_m = rounds_depth_m(count=count, driving_width_m=driving_width_m, width_m=width_m)
    rounds = Rounds(
        count=legs[-1].round_index + 1 if legs else 0,
        legs=tuple(legs),
        turn_s=np.empty(0),
        odd_m=_odd_runs(outline, odd, width_m),
        inner=inset(outline, depth_m=depth_m) if legs else (),
    )
    return begun_near(rounds, place_m=None, rule=rule)


def begun_near(rounds: Rounds, *, place_m: tuple[float, float] | None, rule: TurnRule) -> Rounds:
    """Return the same rounds begun at the leg nearest to a place, each next ring likewise.

    Parameters
    ----------
    rounds
        Rounds in any order.
    place_m
        Where the machine comes from, x and y; None to keep the first leg. [m]
    rule
        How the machine turns.
    """
    rings: dict[int, list[Leg]] = {}
    for leg in sorted(rounds.legs, key=lambda one: one.ring_index):
        rings.setdefault(leg.ring_index, []).append(leg)
    legs = _in_driving_order(list(rings.values()), place_m)
    return replace(rounds, legs=tuple(legs), turn_s=_between_legs_s(legs, rule))


def _round_legs(
    outline: Outline,
    rings_m: Sequence[FloatArray],
    index: int,
    rings_before: int,
    width_m: float,
) -> list[Leg]:
    """Return the legs of one round, each run on past its corner while the tool stays inside."""
    paths: list[tuple[FloatArray, float, float]] = []
    ring_of: list[int] = []
    before: list[int] = []
    for ring_m in rings_m:
        broken = _broken_at_corners(ring_m, 0.5 * width_m)
        first = len(paths)
        before.extend([first + len(broken) - 1, *range(first, first + len(broken) - 1)])
        ring_of.extend([rings_before + len(set(ring_of))] * len(broken))
        paths.extend(broken)
    if not paths:
        return []
    wanted_m = np.asarray([past_m for _, past_m, _ in paths])
    behind_m = np.asarray([past_m for _, _, past_m in paths])
    ends = np.asarray([_pose(p[-2], p[-1], p[-1]) for p, _, _ in paths])
    starts = np.asarray([_pose(p[0], p[1], p[0]) for p, _, _ in paths])
    after_m = _free_m(outline, ends, wanted_m, width_m)
    # An outward corner that the first leg could not fill is run at from behind as well.
    short = (after_m < wanted_m * (1.0 - 1e-6))[before]
    backwards = starts + np.asarray([0.0, 0.0, math.pi])
    lead_m = _free_m(outline, backwards, np.where(short, behind_m, 0.0), width_m)
    return [
        Leg(path_m=_run_on(path_m, start, end, lead, after), round_index=index, ring_index=ring)
        for (path_m, _, _), ring, start, end, lead, after in zip(
            paths, ring_of, starts, ends, lead_m, after_m, strict=True
        )
    ]


def _run_on(
    path_m: FloatArray, start: FloatArray, end: FloatArray, lead_m: float, after_m: float
) -> FloatArray:
    """Return a path begun earlier and run on further along its own first and last stretch."""
    parts = [path_m]
    if lead_m > 0.0:
        parts.insert(0, path_m[:1] - lead_m * np.asarray([math.cos(start[2]), math.sin(start[2])]))
    if after_m > 0.0:
        parts.append(path_m[-1:] + after_m * np.asarray([math.cos(end[2]), math.sin(end[2])]))
    return np.concatenate(parts)


def _in_driving_order(
    rings: Sequence[Sequence[Leg]], from_m: tuple[float, float] | None
) -> list[Leg]:
    """Return all legs, round by round; each ring begins at the leg nearest to the last one."""
    here_m = None if from_m is None else np.asarray(from_m)
    waiting = list(rings)
    ordered: list[Leg] = []
    while waiting:
        outermost = waiting[0][0].round_index
        near = [ring for ring in waiting if ring[0].round_index == outermost]
        ring, first = near[0], 0
        if here_m is not None:
            place_m = here_m
            gaps_m = [
                (math.dist(leg.path_m[0], place_m), at, number)
                for at, candidate in enumerate(near)
                for number, leg in enumerate(candidate)
            ]
            _, at, first = min(gaps_m)
            ring = near[at]
        ordered.extend((*ring[first:], *ring[:first]))
        here_m = ordered[-1].path_m[-1]
        waiting.remove(ring)
    return ordered


def _broken_at_corners(ring_m: FloatArray, half_m: float) -> list[tuple[FloatArray, float, float]]:
    """Return a ring's legs: path, wanted run beyond its end, and before its start [m].

    A ring without a corner is one leg that comes back to its beginning.
    """
    sides_m = np.roll(ring_m, -1, axis=0) - ring_m
    headings_rad = np.arctan2(sides_m[:, 1], sides_m[:, 0])
    turns_rad = (headings_rad - np.roll(headings_rad, 1) + math.pi) % math.tau - math.pi
    corners = _corners(turns_rad, np.hypot(*sides_m.T), half_m)
    if not len(corners):
        return [(np.vstack([ring_m, ring_m[:1]]), 0.0, 0.0)]
    past_m = half_m * np.tan(0.5 * np.minimum(np.abs(turns_rad), math.pi - 1e-3))
    past_m = np.minimum(past_m, 2.0 * _MOST_PAST_WIDTHS * half_m)
    legs = []
    for at, following in zip(corners, np.roll(corners, -1), strict=True):
        last = int(following) + (len(ring_m) if following <= at else 0)
        path_m = ring_m[np.arange(at, last + 1) % len(ring_m)]
        before_m = float(past_m[at]) if turns_rad[at] > 0.0 else 0.0
        legs.append((path_m, float(past_m[following]), before_m))
    return legs


def _corners(turns_rad: FloatArray, sides_m: FloatArray, reach_m: float) -> np.ndarray:
    """Return the vertices where a leg ends: sharp by themselves or with those close after."""
    found = np.abs(turns_rad) > _DRIVEN_THROUGH_RAD
    count = len(turns_rad)
    for at in np.flatnonzero(np.abs(turns_rad) > 0.25 * _DRIVEN_THROUGH_RAD).tolist():
        total_rad, gone_m, member = turns_rad[at], 0.0, at
        sharpest = at
        for step in range(1, count):
            gone_m += sides_m[member]
            member = (at + step) % count
            if gone_m > reach_m or turns_rad[member] * turns_rad[at] < 0.0:
                break
            total_rad += turns_rad[member]
            if abs(turns_rad[member]) > abs(turns_rad[sharpest]):
                sharpest = member
            if found[sharpest]:
                break
            if abs(total_rad) > _DRIVEN_THROUGH_RAD:
                found[sharpest] = True
                break
    return np.flatnonzero(found)


def _free_m(
    outline: Outline, poses: FloatArray, wanted_m: FloatArray, width_m: float
) -> FloatArray:
    """Return how far the tool can run on from each pose before it meets an edge, ``(n,)`` [m]."""
    free_m = wanted_m.copy()
    asking = np.flatnonzero(wanted_m > 0.0)
    if not len(asking):
        return free_m
    x_m, y_m, heading_rad = poses[asking].T
    ahead = np.stack([np.cos(heading_rad), np.sin(heading_rad)], axis=1)
    side = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1) * (0.5 * width_m - _BRUSH_M)
    foot = np.stack([x_m, y_m], axis=1)
    tip = foot + ahead * wanted_m[asking, None]
    boxes = shapely.polygons(np.stack([foot - side, tip - side, tip + side, foot + side], axis=1))
    shape = outline.shape
    shapely.prepare(shape)
    blocked = ~shapely.covers(shape, boxes)
    beyond = shapely.difference(boxes[blocked], shape)
    for which, rest in zip(np.flatnonzero(blocked).tolist(), beyond.tolist(), strict=True):
        reach_m = (shapely.get_coordinates(rest) - foot[which]) @ ahead[which]
        free_m[asking[which]] = max(float(reach_m.min(initial=wanted_m[asking[which]])), 0.0)
    return free_m


def _odd_pieces(
    outline: Outline, ring_pieces: Sequence[Outline], depth_m: float, width_m: float
) -> list[Outline]:
    """Return the strips between rounds that one more round cannot enter."""
    left = shapely.MultiPolygon([piece.shape for piece in inset(outline, depth_m=depth_m)])
    swept = shapely.buffer(
        shapely.MultiPolygon([piece.shape for piece in ring_pieces]), 0.5 * width_m, quad_segs=8
    )
    found = outlines_of(shapely.difference(left, swept))
    return [piece for piece in found if piece.area_m2 > _ODD_WIDTHS * width_m**2]


def _odd_runs(outline: Outline, pieces: Sequence[Outline], width_m: float) -> FloatArray:
    """Return straight runs over the largest strips, until what is left is not worth a turn.

    A strip that goes round a corner takes runs along each of its arms: what the first runs leave
    of it is taken up as a strip of its own.
    """
    runs = [np.empty((0, 2, 2))]
    waiting = list(pieces)
    left_m2 = sum(piece.area_m2 for piece in waiting)
    while waiting and left_m2 >= _ODD_SHARE * outline.area_m2:
        piece = max(waiting, key=lambda one: one.area_m2)
        waiting.remove(piece)
        left_m2 -= piece.area_m2
        frame_m = shapely.get_coordinates(shapely.oriented_envelope(piece.shape))
        sides_m = np.diff(frame_m[:3], axis=0)
        longer = sides_m[int(np.argmax(np.hypot(*sides_m.T)))]
        rows = lay_rows(
            (piece.exterior_m, *piece.holes_m),
            heading_rad=math.atan2(longer[1], longer[0]) % math.pi % math.pi,
            driving_width_m=width_m,
        )
        ends_m = rows.ends_m()
        ends_m = ends_m[_inside(outline, ends_m, width_m)]
        if not len(ends_m):
            continue
        runs.append(ends_m)
        swept = shapely.buffer(shapely.linestrings(ends_m), 0.5 * width_m, cap_style="flat")
        rest = outlines_of(shapely.difference(piece.shape, shapely.union_all(swept)))
        over = [one for one in rest if one.area_m2 > _ODD_WIDTHS * width_m**2]
        waiting.extend(over)
        left_m2 += sum(one.area_m2 for one in over)
    return np.concatenate(runs)


def _inside(outline: Outline, ends_m: FloatArray, width_m: float) -> np.ndarray:
    """Return which runs the tool can drive without leaving the field, ``(n,)``."""
    along_m = ends_m[:, 1] - ends_m[:, 0]
    length_m = np.hypot(*along_m.T)[:, None]
    side = np.stack([-along_m[:, 1], along_m[:, 0]], axis=1) / np.maximum(length_m, 1e-9)
    side *= 0.5 * width_m - _BRUSH_M
    first, last = ends_m[:, 0], ends_m[:, 1]
    boxes = shapely.polygons(
        np.stack([first - side, last - side, last + side, first + side], axis=1)
    )
    inside: np.ndarray = shapely.covers(outline.shape, boxes) & (length_m[:, 0] > width_m)
    return inside


def _between_legs_s(legs: Sequence[Leg], rule: TurnRule) -> FloatArray:
    """Return the lifted time from each leg to the next, ``(n_legs - 1,)``. [s]"""
    if len(legs) < 2:
        return np.empty(0)
    ends = np.asarray([leg.end for leg in legs[:-1]])
    starts = np.asarray([leg.start for leg in legs[1:]])
    times_s = turn_times_s(ends, starts, rule)
    if rule.reverses:
        return times_s
    # Forward only, a left-hand corner loops inwards.
    for at in range(len(times_s)):
        (x0, y0, h0), (x1, y1, h1) = ends[at], starts[at]
        turn_rad = (h1 - h0 + math.pi) % math.tau - math.pi
        past_m = (x0 - x1) * math.cos(h0) + (y0 - y1) * math.sin(h0)
        aside_m = abs((y0 - y1) * math.cos(h0) - (x0 - x1) * math.sin(h0))
        if turn_rad > 0.0 and past_m >= 0.0 and aside_m < 1e-6:
            times_s[at] = corner_time_s(turn_rad=turn_rad, past_m=past_m, rule=rule)
    return times_s


def _pose(
    before_m: FloatArray, after_m: FloatArray, at_m: FloatArray
) -> tuple[float, float, float]:
    ahead = after_m - before_m
    return float(at_m[0]), float(at_m[1]), math.atan2(float(ahead[1]), float(ahead[0]))
