"""What a recorded drive says: passes and turns, speed, true overlap, ground worked, open acres.

A track is cleaned first: points without figures, on one moment or thrown far out are dropped,
and where the recorder was silent nothing is made up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from duskline.core.checks import check_positive
from duskline.core.coverage import (
    Grid,
    Ground,
    Rings,
    coverage,
    ground_worked,
    path_rings,
    rings_of,
)
from duskline.core.errors import OutOfRange
from duskline.core.outline import FloatArray

__all__ = [
    "Drive",
    "Joints",
    "OpenGround",
    "OpenHour",
    "Pass",
    "Track",
    "Turn",
    "open_by_hour",
    "read_drive",
]

BoolArray: TypeAlias = NDArray[np.bool_]

_FASTEST_MPS = 20.0
"""Faster than any field machine on any road: such a point was thrown out by the receiver."""
_STANDS_MPS = 0.3
_STAND_WINDOW_S = 10.0
_SILENT_S = 30.0
"""Longer without a point, and the recorder is taken to have been off."""
_STEP_M = 1.0
"""The path is looked at every metre."""
_CHORD_M = 3.0
"""Headings are taken over this far to each side, so that a receiver's jitter does not count."""
_OFF_LINE_RAD = math.radians(12.0)
"""A pass ends where its driver leaves its heading by this much and does not come back."""
_LOOK_BACK_M = 20.0
_TURN_RAD = math.radians(45.0)
"""A bend of this much within a turn's length is a turn; field edges bend less."""
_SHORTEST_WIDTHS = 2.0
"""A straight piece shorter than twice the width belongs to the turn around it."""
_SAME_WAY_RAD = math.radians(20.0)
_JOINT_STEP_M = 5.0
_NEXT_LOW, _NEXT_HIGH = 0.3, 1.6
"""Lines nearer than the first share of the width were driven twice; farther than the second
they are no neighbours. Between them a joint is judged."""
_MOST_POINTS = 2_000_000
# Points thrown far out are dropped in so many rounds at most: nobody's receiver needs more.
_MOST_ROUNDS = 100


@dataclass(frozen=True, kw_only=True, eq=False)
class Track:
    """A machine's recorded drive in the field's plane, cleaned and in order of time.

    Building one puts the points in order and drops those that cannot be: no figures, the same
    moment again, or farther from both neighbours than any machine drives.

    Attributes
    ----------
    t_s
        When, from any fixed moment, ``(n,)``. [s]
    points_m
        Where, ``(n, 2)`` x to the east, y to true north. [m]
    working
        Whether the tool was in the ground or the spreader threw, ``(n,)``; None if not known.
    """

    t_s: FloatArray
    points_m: FloatArray
    working: BoolArray | None = None

    def __post_init__(self) -> None:
        t_s = np.asarray(self.t_s, dtype=np.float64).ravel()
        points_m = np.asarray(self.points_m, dtype=np.float64).reshape(-1, 2)
        if len(t_s) != len(points_m) or (
            self.working is not None and len(self.working) != len(t_s)
        ):
            raise OutOfRange("points of the track", len(points_m), len(t_s), len(t_s))
        if len(t_s) > _MOST_POINTS:
            raise OutOfRange("points of the track", len(t_s), 2, _MOST_POINTS)
        known = np.flatnonzero(np.isfinite(t_s) & np.isfinite(points_m).all(axis=1))
        _, first = np.unique(t_s[known], return_index=True)
        kept = known[first]
        for _ in range(_MOST_ROUNDS):
            if len(kept) <= 2:
                break
            far = _thrown_out(t_s[kept], points_m[kept])
            if not far.any():
                break
            kept = kept[~far]
        object.__setattr__(self, "t_s", t_s[kept])
        object.__setattr__(self, "points_m", points_m[kept])
        if self.working is not None:
            object.__setattr__(self, "working", np.asarray(self.working, dtype=np.bool_)[kept])

    @property
    def silent(self) -> BoolArray:
        """Steps in which the recorder was off, or the place jumps, ``(n - 1,)``."""
        dt_s = np.diff(self.t_s)
        step_m = np.hypot(*np.diff(self.points_m, axis=0).T)
        usual_s = float(np.median(dt_s)) if len(dt_s) else 1.0
        off: BoolArray = (dt_s > max(_SILENT_S, 5.0 * usual_s)) | (step_m > _FASTEST_MPS * dt_s)
        return off

    @cached_property
    def standing(self) -> BoolArray:
        """Steps in which the machine stood, ``(n - 1,)``.

        Over ten seconds it got nowhere: a receiver's jitter alone looks like creeping.
        """
        if len(self.t_s) < 2:
            return np.zeros(0, dtype=bool)
        middle = 0.5 * (self.t_s[:-1] + self.t_s[1:])
        half = np.maximum(_STAND_WINDOW_S / 2.0, 0.5 * np.diff(self.t_s))
        low = np.maximum(middle - half, self.t_s[0])
        high = np.minimum(middle + half, self.t_s[-1])
        moved = np.stack(
            [
                np.interp(high, self.t_s, self.points_m[:, k])
                - np.interp(low, self.t_s, self.points_m[:, k])
                for k in (0, 1)
            ]
        )
        surely = (np.hypot(*moved) < _STANDS_MPS * (high - low)) & ~self.silent
        # The window is late at both ends of a stop: slow steps that join it are its own.
        step_m = np.hypot(*np.diff(self.points_m, axis=0).T)
        slow = (step_m < _STANDS_MPS * np.diff(self.t_s)) & ~self.silent
        stood: BoolArray = np.zeros(len(surely), dtype=bool)
        for begin, end in _runs(surely | slow):
            stood[begin:end] = surely[begin:end].any()
        return stood


def _thrown_out(t_s: FloatArray, points_m: FloatArray) -> BoolArray:
    """Return which points lie out of reach of both neighbours, which reach each other."""
    step_m, dt_s = np.hypot(*np.diff(points_m, axis=0).T), np.diff(t_s)
    fast = step_m > _FASTEST_MPS * dt_s
    over = np.hypot(*(points_m[2:] - points_m[:-2]).T) <= _FASTEST_MPS * (t_s[2:] - t_s[:-2])
    far = np.zeros(len(t_s), dtype=bool)
    far[1:-1] = fast[:-1] & fast[1:] & over
    far[1:] &= ~far[:-1]
    return far


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Pass:
    """One pass as it was driven.

    Attributes
    ----------
    start_s, end_s
        When it began and ended, on the track's clock. [s]
    path_m
        Its line, about a point a metre, ``(k, 2)``. [m]
    heading_rad
        From its start to its end, counter-clockwise from east. [rad]
    """

    start_s: float
    end_s: float
    path_m: FloatArray
    heading_rad: float

    @property
    def length_m(self) -> float:
        """How long the driven line is. [m]"""
        return float(np.hypot(*np.diff(self.path_m, axis=0).T).sum())


@dataclass(frozen=True, kw_only=True, slots=True)
class Turn:
    """What lay between two passes: ``took_s`` in motion, ``stood_s`` standing (a refill)."""

    start_s: float
    took_s: float
    stood_s: float
    length_m: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Joints:
    """How neighbouring passes lie: measured every 5 m wherever two run side by side.

    Attributes
    ----------
    count
        How many pairs of neighbours.
    spacing_m
        Mean distance from pass to pass: the effective width. [m]
    overlap_m, overlap_low_m, overlap_high_m
        Mean overlap and its 95 % interval over the pairs; low and high None with one pair. [m]
    overlap_fraction
        Overlap over the width.
    skip_fraction
        Share of the ground between lines that neither pass worked.
    """

    count: int
    spacing_m: float
    overlap_m: float
    overlap_low_m: float | None
    overlap_high_m: float | None
    overlap_fraction: float
    skip_fraction: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Drive:
    """What a track says.

    Attributes
    ----------
    width_m
        The machine's full working width. [m]
    passes, turns
        In order of time; a bend of more than 45 degrees parts two passes.
    stretches
        What was driven at work without lifting: bends too where the track is marked, else the
        passes.
    speed_mps
        Median speed while working. [m/s]
    worked
        Ground worked once or more, twice or more, and passes added up.
    clock_s
        From the first pass's start to the last one's end, less the time the recorder was off. [s]
    stood_s, silent_s
        Standing still, and with the recorder off, in that time. [s]
    joints
        None where no two passes lie side by side.
    """

    width_m: float
    passes: tuple[Pass, ...]
    turns: tuple[Turn, ...]
    stretches: tuple[Pass, ...]
    speed_mps: float
    worked: Ground
    clock_s: float
    stood_s: float
    silent_s: float
    joints: Joints | None

    @property
    def rings(self) -> Rings:
        """The ground of all stretches."""
        return rings_of(*(path_rings(one.path_m, width_m=self.width_m) for one in self.stretches))

    @cached_property
    def turn_s(self) -> float | None:
        """Median time of a turn, standing not counted; None without turns. [s]"""
        return float(np.median([turn.took_s for turn in self.turns])) if self.turns else None

    @property
    def clock_efficiency_fraction(self) -> float:
        """Ground worked over time x full width x working speed."""
        return self.worked.worked_m2 / (self.clock_s * self.width_m * self.speed_mps)

    @property
    def rate_m2_per_s(self) -> float:
        """Ground worked over time, turns and stops counted. [m2/s]"""
        return self.worked.worked_m2 / self.clock_s


def read_drive(track: Track, *, width_m: float) -> Drive:
    """Return what a track says of a machine of known width.

    Parameters
    ----------
    track
        The drive.
    width_m
        Full working width. [m]

    Raises
    ------
    OutOfRange
        Fewer than two points that move, or no pass among them.

    Notes
    -----
    Headings are taken over 3 m to each side. Without a working mark a turn is a bend of more
    than 45 degrees within a turn's length; a pass reaches to where its driver has left its
    heading by 12 degrees, and ground worked in bends is not seen. With the mark a pass is where
    the mark is set and the way is straight, and the ground of bends counts where it is set.
    The distance between passes is taken square to their common heading every 5 m; pairs nearer
    than 0.3 widths were driven twice and pairs beyond 1.6 widths are not neighbours. The
    interval of the overlap is Student's, over pairs.

    Source
    ------
    Derived here; made-up drives with known overlap, turns and speed read back in
    tests/core/test_track.py. The limits named above are our judgement.
    """
    check_positive("width", width_m)
    if len(track.t_s) < 2:
        raise OutOfRange("points of the track", len(track.t_s), 2, None)
    legs = _legs(track)
    passes = tuple(one for leg in legs for one in _passes_of(leg, width_m=width_m))
    if not passes:
        raise OutOfRange("passes found in the track", 0, 1, None)
    start_s, end_s = passes[0].start_s, passes[-1].end_s
    silent_s = _time_in(track, track.silent, start_s, end_s)
    stood = track.standing
    turns = tuple(
        turn
        for one, after in pairwise(passes)
        if (turn := _turn(track, stood, one.end_s, after.start_s)) is not None
    )
    stretches = passes
    if track.working is not None:
        stretches = tuple(one for leg in legs for one in _stretches_of(leg))
    rings = rings_of(*(path_rings(one.path_m, width_m=width_m) for one in stretches))
    return Drive(
        width_m=width_m,
        passes=passes,
        turns=turns,
        stretches=stretches,
        speed_mps=_working_speed_mps(track, passes),
        worked=ground_worked(rings),
        clock_s=end_s - start_s - silent_s,
        stood_s=_time_in(track, stood, start_s, end_s),
        silent_s=silent_s,
        joints=_joints(passes, width_m),
    )


# ------------------------------------------------------------------------- legs and passes


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Leg:
    """A piece of track without a gap, about a point a metre, and whether each metre worked."""

    t_s: FloatArray
    points_m: FloatArray
    working: BoolArray | None


def _legs(track: Track) -> list[_Leg]:
    """Return the track parted where the recorder was off, a point a metre of way."""
    cuts = np.flatnonzero(track.silent) + 1
    # Of a stop only its two ends stay, or jitter would make way there.
    still = np.concatenate([[False], track.standing]) & np.concatenate([track.standing, [False]])
    found = []
    for every in np.split(np.arange(len(track.t_s)), cuts):
        part = every[~still[every]]
        if len(part) < 2:
            continue
        points_m, t_s = track.points_m[part], track.t_s[part]
        way_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points_m, axis=0).T))])
        moved = np.concatenate([[True], np.diff(way_m) > 1e-6])
        if way_m[-1] < 2.0 * _STEP_M:
            continue
        # A standing machine is left where it stood; the time it leaves is when it moves on.
        leaves = np.concatenate([moved[1:], [True]])
        at_m = np.linspace(0.0, way_m[-1], max(3, round(way_m[-1] / _STEP_M) + 1))
        spots = np.column_stack([np.interp(at_m, way_m[moved], points_m[moved, k]) for k in (0, 1)])
        marks = None
        if track.working is not None:
            place = np.searchsorted(way_m, at_m, side="right") - 1
            marks = track.working[part][np.clip(place, 0, len(part) - 1)]
        times = np.interp(at_m, way_m[leaves], t_s[leaves])
        times[-1] = t_s[moved][-1]
        found.append(_Leg(t_s=times, points_m=spots, working=marks))
    return found


def _headings_rad(points_m: FloatArray) -> FloatArray:
    """Return the heading at each metre, over a few metres to both sides, unwrapped. [rad]"""
    reach = round(_CHORD_M / _STEP_M)
    index = np.arange(len(points_m))
    ahead = points_m[np.minimum(index + reach, len(points_m) - 1)]
    behind = points_m[np.maximum(index - reach, 0)]
    way = ahead - behind
    headings: FloatArray = np.unwrap(np.arctan2(way[:, 1], way[:, 0]))
    return headings


def _passes_of(leg: _Leg, *, width_m: float) -> list[Pass]:
    """Return the passes of one leg, in order."""
    heading = _headings_rad(leg.points_m)
    turning = _turning(heading, width_m)
    able = ~turning if leg.working is None else ~turning & leg.working
    runs = _runs(able)
    if leg.working is None:
        runs = [run for run in runs if (run[1] - run[0]) * _STEP_M >= _SHORTEST_WIDTHS * width_m]
    found = []
    for number, (low, high) in enumerate(runs):
        # Grow each way to where the driver has left his heading: the bend's window is wider.
        least = runs[number - 1][1] if number else 0
        most = runs[number + 1][0] if number + 1 < len(runs) else len(heading)
        start = _grown(heading, leg.working, low, max(least, 0), -1)
        end = _grown(heading, leg.working, high - 1, most - 1, +1)
        least_m = width_m if leg.working is None else 0.5 * width_m
        if (end - start) * _STEP_M < least_m:
            continue
        found.append(_pass(leg, start, end))
    return found


def _stretches_of(leg: _Leg) -> list[Pass]:
    """Return where the mark is set, bends and all."""
    runs = [] if leg.working is None else _runs(leg.working)
    return [_pass(leg, low, high - 1) for low, high in runs if high - low > 2]


def _pass(leg: _Leg, start: int, end: int) -> Pass:
    """Return a leg's way from one metre to another, both of them in it."""
    path_m = leg.points_m[start : end + 1]
    way = path_m[-1] - path_m[0]
    return Pass(
        start_s=float(leg.t_s[start]),
        end_s=float(leg.t_s[end]),
        path_m=path_m,
        heading_rad=float(math.atan2(way[1], way[0])),
    )


def _turning(heading: FloatArray, width_m: float) -> BoolArray:
    """Return where the path bends by more than a turn's worth within a turn's length."""
    reach = max(3, round(0.5 * max(width_m, 10.0) / _STEP_M))
    index = np.arange(len(heading))
    ahead = heading[np.minimum(index + reach, len(heading) - 1)]
    bent: BoolArray = np.abs(ahead - heading[np.maximum(index - reach, 0)]) > _TURN_RAD
    return bent


def _runs(able: BoolArray) -> list[tuple[int, int]]:
    """Return where each unbroken run begins and ends (one past its last)."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], able, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _grown(heading: FloatArray, working: BoolArray | None, here: int, limit: int, step: int) -> int:
    """Return how far a pass reaches beyond its sure part: while its driver holds his line."""
    back = round(_LOOK_BACK_M / _STEP_M)
    inner = heading[max(0, here - back) : here + 1] if step > 0 else heading[here : here + back]
    line = float(np.median(inner))
    while here != limit and abs(heading[here + step] - line) <= _OFF_LINE_RAD:
        if working is not None and not working[here + step]:
            break
        here += step
    return here


# --------------------------------------------------------------------------- times and turns


def _time_in(track: Track, steps: BoolArray, start_s: float, end_s: float) -> float:
    """Return how much of the marked steps lies between two moments. [s]"""
    low, high = np.maximum(track.t_s[:-1], start_s), np.minimum(track.t_s[1:], end_s)
    return float(np.maximum(high - low, 0.0)[steps].sum())


def _turn(track: Track, stood: BoolArray, start_s: float, end_s: float) -> Turn | None:
    """Return what lay between two passes; None where the recorder was off in it."""
    if end_s <= start_s or _time_in(track, track.silent, start_s, end_s) > 0.0:
        return None
    stood_s = _time_in(track, stood, start_s, end_s)
    way_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(track.points_m, axis=0).T))])
    begin, finish = np.interp([start_s, end_s], track.t_s, way_m)
    return Turn(
        start_s=start_s,
        took_s=end_s - start_s - stood_s,
        stood_s=stood_s,
        length_m=float(finish - begin),
    )


def _working_speed_mps(track: Track, passes: tuple[Pass, ...]) -> float:
    """Return the median speed over the time at work, standing left out. [m/s]"""
    dt_s = np.diff(track.t_s)
    speed = np.hypot(*np.diff(track.points_m, axis=0).T) / dt_s
    middle = 0.5 * (track.t_s[:-1] + track.t_s[1:])
    starts = np.array([one.start_s for one in passes])
    ends = np.array([one.end_s for one in passes])
    place = np.searchsorted(starts, middle, side="right") - 1
    at_work = (place >= 0) & (middle <= ends[np.maximum(place, 0)])
    at_work &= (speed >= _STANDS_MPS) & ~track.silent
    if not at_work.any():
        length_m = sum(one.length_m for one in passes)
        return length_m / sum(one.end_s - one.start_s for one in passes)
    order = np.argsort(speed[at_work])
    weight = np.cumsum(dt_s[at_work][order])
    half = int(np.searchsorted(weight, 0.5 * weight[-1]))
    return float(speed[at_work][order][half])


# ------------------------------------------------------------------------------------ joints


def _joints(passes: tuple[Pass, ...], width_m: float) -> Joints | None:
    """Return how neighbours lie, over all headings that the passes have."""
    left = list(passes)
    means: list[float] = []
    weights: list[float] = []
    skipped_m = between_m = 0.0
    while left:
        lengths = np.array([one.length_m for one in left])
        # The heading that most of the way was driven on, to and fro being one.
        headings = np.array([one.heading_rad for one in left])
        apart = np.abs(_folded(headings[:, None] - headings[None, :]))
        main = headings[int(np.argmax((apart < _SAME_WAY_RAD) @ lengths))]
        near = np.abs(_folded(headings - main)) < _SAME_WAY_RAD
        group = [one for one, own in zip(left, near, strict=True) if own]
        left = [one for one, own in zip(left, near, strict=True) if not own]
        turned = np.sum(lengths[near] * _folded(headings[near] - main)) / lengths[near].sum()
        for gaps in _gaps(group, float(main + turned), width_m):
            means.append(float(gaps.mean()))
            weights.append(float(len(gaps)))
            skipped_m += float(np.maximum(gaps - width_m, 0.0).sum())
            between_m += float(gaps.sum())
    if not means:
        return None
    spacing_m = float(np.average(means, weights=weights))
    half = _half_interval(np.asarray(means), np.asarray(weights))
    overlap_m = width_m - spacing_m
    return Joints(
        count=len(means),
        spacing_m=spacing_m,
        overlap_m=overlap_m,
        overlap_low_m=None if half is None else overlap_m - half,
        overlap_high_m=None if half is None else overlap_m + half,
        overlap_fraction=overlap_m / width_m,
        skip_fraction=skipped_m / between_m,
    )


def _folded(angle_rad: FloatArray) -> FloatArray:
    """Return angles between lines, to and fro being one, in [-pi/2, pi/2). [rad]"""
    folded: FloatArray = (angle_rad + 0.5 * math.pi) % math.pi - 0.5 * math.pi
    return folded


def _gaps(group: list[Pass], heading_rad: float, width_m: float) -> list[FloatArray]:
    """Return for each pair of neighbours how far apart they are, station by station. [m]"""
    along = np.array([math.cos(heading_rad), math.sin(heading_rad)])
    across = np.array([-along[1], along[0]])
    spans = [(one.path_m @ along, one.path_m @ across) for one in group]
    low = min(float(u.min()) for u, _ in spans)
    high = max(float(u.max()) for u, _ in spans)
    stations = np.arange(low + 0.5 * _JOINT_STEP_M, high, _JOINT_STEP_M)
    beside = np.full((len(group), len(stations)), np.nan)
    for row, (u, v) in enumerate(spans):
        order = np.argsort(u, kind="stable")
        beside[row] = np.interp(stations, u[order], v[order], left=np.nan, right=np.nan)
    ranked = np.argsort(beside, axis=0, kind="stable")  # lines that are not there come last
    placed = np.take_along_axis(beside, ranked, axis=0)
    gaps = np.diff(placed, axis=0)
    fits = (gaps > _NEXT_LOW * width_m) & (gaps < _NEXT_HIGH * width_m)
    pair = ranked[:-1] * len(group) + ranked[1:]
    keys, values = pair[fits], gaps[fits]
    order = np.argsort(keys, kind="stable")
    _, starts = np.unique(keys[order], return_index=True)
    return np.split(values[order], starts[1:]) if len(values) else []


def _half_interval(means: FloatArray, weights: FloatArray) -> float | None:
    """Return half of the 95 % interval of a weighted mean over pairs; None with one pair."""
    if len(means) < 2:
        return None
    from scipy.special import stdtrit

    share = weights / weights.sum()
    count = 1.0 / float(np.sum(share * share))
    if count <= 1.0 + 1e-9:
        return None
    centre = float(share @ means)
    spread = float(share @ (means - centre) ** 2) * count / (count - 1.0)
    return float(stdtrit(count - 1.0, 0.975)) * math.sqrt(spread / count)


# ------------------------------------------------------------------------------- open ground


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class OpenHour:
    """Ground at one moment: spread, worked in, and open, and in which cells it lies open."""

    at_s: float
    spread_m2: float
    covered_m2: float
    open_m2: float
    where: BoolArray


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class OpenGround:
    """Open ground moment by moment, and the cells that ``where`` speaks of."""

    grid: Grid
    hours: tuple[OpenHour, ...]


def open_by_hour(
    *,
    spread: Drive,
    cover: Drive,
    at_s: tuple[float, ...],
    cell_m: float = 2.0,
) -> OpenGround:
    """Return the ground spread and not yet worked in at each moment, and where it lies. [m2]

    Parameters
    ----------
    spread, cover
        What the two tracks say, on one clock and in one plane.
    at_s
        The moments, rising; whole hours of the day, say. [s]
    cell_m
        Side of a cell. [m]

    Notes
    -----
    In each cell the spread share less the covered share, both at most one, and not below zero:
    exact wherever covering goes over spread ground. ``where`` marks cells more than half open.

    Source
    ------
    Derived here; worked by hand in tests/core/test_track.py.
    """
    if list(at_s) != sorted(at_s):
        raise OutOfRange("moments in order", len(at_s))
    corners = [one.path_m for drive in (spread, cover) for one in drive.stretches]
    reach_m = 0.5 * max(spread.width_m, cover.width_m)
    points_m = np.concatenate(corners)
    ends = np.array([points_m.min(axis=0) - reach_m, points_m.max(axis=0) + reach_m])
    grid = Grid.around(ends, cell_m=cell_m)
    depths = [np.zeros((grid.rows, grid.columns)) for _ in range(2)]
    hours, before_s = [], -math.inf
    for now_s in at_s:
        for number, drive in enumerate((spread, cover)):
            depths[number] += coverage(grid, _rings_between(drive, before_s, now_s))
        lying, done = (np.clip(depth, 0.0, 1.0) for depth in depths)
        bare = np.maximum(lying - done, 0.0)
        hours.append(
            OpenHour(
                at_s=now_s,
                spread_m2=float(lying.sum()) * grid.cell_m2,
                covered_m2=float(done.sum()) * grid.cell_m2,
                open_m2=float(bare.sum()) * grid.cell_m2,
                where=bare > 0.5,
            )
        )
        before_s = now_s
    return OpenGround(grid=grid, hours=tuple(hours))


def _rings_between(drive: Drive, low_s: float, high_s: float) -> Rings:
    """Return the ground that a drive works between two moments."""
    parts = []
    for one in drive.stretches:
        if one.end_s <= low_s or one.start_s >= high_s:
            continue
        # A pass is driven evenly enough to be cut by its share of time.
        span_s = max(one.end_s - one.start_s, 1e-9)
        cut = [(moment - one.start_s) / span_s for moment in (low_s, high_s)]
        last = len(one.path_m) - 1
        begin, end = (min(max(share, 0.0), 1.0) * last for share in cut)
        if end - begin < 1e-6:
            continue
        whole = np.arange(math.floor(begin) + 1, math.ceil(end))
        places = np.concatenate([[begin], whole, [end]])
        index = np.arange(last + 1)
        path_m = np.column_stack([np.interp(places, index, one.path_m[:, k]) for k in (0, 1)])
        parts.append(path_rings(path_m, width_m=drive.width_m))
    return rings_of(*parts)
