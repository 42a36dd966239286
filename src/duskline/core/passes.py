"""How to drive a field: headings, headland rounds, passes, and where to aim the first one.

Headings are tried along the field's own sides; the plan with the fewest minutes is kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely

from duskline.core.errors import OutOfRange
from duskline.core.outline import (
    Edge,
    FloatArray,
    Outline,
    edge_headings_rad,
    hull_edges,
    inset,
    longest_edge,
    sides,
)

__all__ = [
    "Driving",
    "FirstPass",
    "PassPlan",
    "candidate_headings_rad",
    "expected_turns_count",
    "missed_fraction",
    "plan_at_heading",
    "plan_covering",
    "plan_passes",
    "rounds_count",
    "rows_count",
    "turned_heading_rad",
]

# Whole counts are taken a hair generously, so that 400 m in 10 m rows is 40 rows, not 41.
_HAIR = 1e-9
# Two sides whose directions differ by less are one direction to a driver. [rad]
_SAME_HEADING_RAD = math.radians(0.25)
# Of the headings along a ragged outline only this many, those with the fewest expected turns,
# are laid out in full.
_HEADINGS_LAID_OUT = 24
# Pieces of a row smaller than a square decimetre are rounding, not a pass to drive.
_NO_PASS_M2 = 1e-2
# The share missed is worked out with corners moved to a grid this fine. [m]
_MISSED_GRID_M = 1e-4


@dataclass(frozen=True, kw_only=True, slots=True)
class Driving:
    """How one machine drives.

    Attributes
    ----------
    driving_width_m
        From one pass to the next, overlap already taken off. [m]
    speed_mps
        Working speed. [m/s]
    turn_s
        One turn from the end of a pass to the start of the next. [s]
    turning_depth_m
        How much room a turn needs beyond the end of a pass; 0 where the machine may turn
        outside the field. [m]

    Raises
    ------
    OutOfRange
        A width or a speed that is not above zero, a time or a depth below zero.
    """

    driving_width_m: float
    speed_mps: float
    turn_s: float
    turning_depth_m: float

    def __post_init__(self) -> None:
        for name, value in (("driving width", self.driving_width_m), ("speed", self.speed_mps)):
            if not 0.0 < value < math.inf:
                raise OutOfRange(name, value, 0.0)
        for name, value in (("turn time", self.turn_s), ("turning room", self.turning_depth_m)):
            if not 0.0 <= value < math.inf:
                raise OutOfRange(name, value, 0.0)


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


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class PassPlan:
    """One way to drive one field with one machine.

    Attributes
    ----------
    heading_rad
        The line the passes lie along, counter-clockwise from east, in [0, pi). [rad]
    driving
        The machine the plan is for.
    rounds_count
        Headland rounds along every edge and hole.
    passes_count
        Rows of passes across what the headland leaves: its extent over the driving width,
        rounded up. A row broken by a hole or a notch is driven in more than one run.
    passes_m
        The runs in driving order, ``(n_runs, 2, 2)``: run, start or end, x or y. [m]
    row_indices
        The row each run belongs to, ``(n_runs,)``, counted from the near edge, from 0.
    rounds_m
        One closed ring ``(n, 2)`` for each edge of each round, outermost first. [m]
    work_s
        Driving, turning and the rounds. [s]
    longest_edge_s
        The same machine driving along the longest side. [s]
    first
        Where pass 1 starts and aims; None where rounds alone do the field.
    """

    heading_rad: float
    driving: Driving
    rounds_count: int
    passes_count: int
    passes_m: FloatArray
    row_indices: np.ndarray
    rounds_m: tuple[FloatArray, ...]
    work_s: float
    longest_edge_s: float
    first: FirstPass | None

    @property
    def pass_lengths_m(self) -> FloatArray:
        """How long each run is, ``(n_runs,)`` [m]."""
        return _lengths_m(self.passes_m)

    @property
    def turns_count(self) -> int:
        """Turns from the end of one run to the start of the next."""
        return max(len(self.passes_m) - 1, 0)

    @property
    def rounds_length_m(self) -> float:
        """The way round the headland, all rounds together [m]."""
        return _rings_length_m(self.rounds_m)

    @property
    def headland_m(self) -> float:
        """How deep the headland is: rounds times driving width [m]."""
        return self.rounds_count * self.driving.driving_width_m

    @property
    def turns_fit(self) -> bool:
        """Whether the headland is as deep as the turns need."""
        return self.headland_m >= self.driving.turning_depth_m * (1.0 - _HAIR)


def rows_count(*, extent_m: float, driving_width_m: float) -> int:
    """Return how many passes lie side by side across an extent.

    Parameters
    ----------
    extent_m
        From side to side, across the passes. [m]
    driving_width_m
        From one pass to the next. [m]

    Raises
    ------
    OutOfRange
        A negative extent, or a width not above zero.

    Notes
    -----
    ``n = ceil(extent / driving width)``, the last pass lapping the one before it.

    Source
    ------
    Derived here; MACH-C12, C71 and C74 in tests/core/test_passes.py.
    """
    if not driving_width_m > 0.0:
        raise OutOfRange("driving width", driving_width_m, 0.0)
    if not extent_m >= 0.0:
        raise OutOfRange("extent", extent_m, 0.0)
    return math.ceil(extent_m / driving_width_m - _HAIR)


def rounds_count(*, turning_depth_m: float, driving_width_m: float) -> int:
    """Return how many headland rounds give the turns the room they need.

    Parameters
    ----------
    turning_depth_m
        How much room a turn needs beyond the end of a pass. [m]
    driving_width_m
        How much each round adds. [m]

    Source
    ------
    Derived here: the fewest rounds with ``rounds * driving width >= turning depth``.
    """
    return rows_count(extent_m=turning_depth_m, driving_width_m=driving_width_m)


def turned_heading_rad(*, heading_rad: float, angle_rad: float) -> float:
    """Return a heading turned by an angle, in [0, pi) [rad].

    Parameters
    ----------
    heading_rad
        The heading to start from, counter-clockwise from east. [rad]
    angle_rad
        How far to turn; to the left where positive. [rad]
    """
    return _half_turn_rad(heading_rad + angle_rad)


def expected_turns_count(
    outline: Outline, *, headings_rad: FloatArray, driving_width_m: float
) -> FloatArray:
    """Return how many runs a heading gives on average over where the first pass falls.

    Parameters
    ----------
    headings_rad
        Headings to weigh, ``(n,)``. [rad]
    driving_width_m
        From one pass to the next. [m]

    Returns
    -------
    FloatArray
        One figure for each heading, ``(n,)``; not whole.

    Notes
    -----
    Each line across the field enters and leaves it, so with e the edges, holes included, and
    n the direction across the heading: ``sum(|e . n|) / (2 W)``. Between the directions of two
    edges the sum is concave in the heading, so its least value lies along an edge.

    Source
    ------
    Derived here; tests/core/test_passes.py counts runs over many starts.
    """
    edges_m = np.concatenate(
        [np.roll(ring, -1, axis=0) - ring for ring in (outline.exterior_m, *outline.holes_m)]
    )
    across = np.stack([-np.sin(headings_rad), np.cos(headings_rad)])
    turns: FloatArray = np.abs(edges_m @ across).sum(axis=0) / (2.0 * driving_width_m)
    return turns


def candidate_headings_rad(
    outline: Outline, *, driving_width_m: float, straight_within_m: float
) -> tuple[float, ...]:
    """Return the headings worth laying out, in [0, pi), the longest side's first [rad].

    Parameters
    ----------
    driving_width_m
        From one pass to the next. [m]
    straight_within_m
        How far a side may stray from straight and still count as one. [m]

    Notes
    -----
    One for each direction of a side, holes included, taken as one where they differ by less
    than a quarter of a degree. Of a ragged outline's many, those with the fewest expected
    turns.
    """
    headings_rad = edge_headings_rad(outline, straight_within_m=straight_within_m)
    bins = np.round(headings_rad / _SAME_HEADING_RAD) % round(math.pi / _SAME_HEADING_RAD)
    _, first_of_bin = np.unique(bins, return_index=True)
    headings_rad = headings_rad[np.sort(first_of_bin)]
    if len(headings_rad) > _HEADINGS_LAID_OUT:
        turns = expected_turns_count(
            outline, headings_rad=headings_rad[1:], driving_width_m=driving_width_m
        )
        fewest = np.sort(np.argsort(turns, kind="stable")[: _HEADINGS_LAID_OUT - 1])
        headings_rad = np.concatenate([headings_rad[:1], headings_rad[1:][fewest]])
    return tuple(headings_rad.tolist())


def plan_passes(outline: Outline, *, driving: Driving, straight_within_m: float) -> PassPlan:
    """Return the plan with the fewest minutes among headings along the field's sides.

    Never slower than driving along the longest side, which is one of the headings tried and
    is kept when another is no faster.

    Parameters
    ----------
    outline
        The field.
    driving
        The machine.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]

    Source
    ------
    Derived here; MACH-C74 and the triangle of tests/core/test_passes.py.
    """
    headland = _headland(outline, driving, straight_within_m)
    along_longest, *others = (
        _laid_out(headland, heading_rad)
        for heading_rad in candidate_headings_rad(
            outline, driving_width_m=driving.driving_width_m, straight_within_m=straight_within_m
        )
    )
    best = min(others, key=lambda rows: rows.work_s, default=along_longest)
    if best.work_s >= along_longest.work_s * (1.0 - _HAIR):
        best = along_longest
    return _plan(headland, best, longest_edge_s=along_longest.work_s)


def plan_at_heading(
    outline: Outline, *, heading_rad: float, driving: Driving, straight_within_m: float
) -> PassPlan:
    """Return the plan for one heading, its minutes beside those along the longest side.

    Parameters
    ----------
    outline
        The field.
    heading_rad
        The line of the passes, counter-clockwise from east. [rad]
    driving
        The machine.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    """
    headland = _headland(outline, driving, straight_within_m)
    longest = longest_edge(outline, straight_within_m=straight_within_m)
    return _plan(
        headland,
        _laid_out(headland, _half_turn_rad(heading_rad)),
        longest_edge_s=_laid_out(headland, _half_turn_rad(longest.heading_rad)).work_s,
    )


def plan_covering(
    outline: Outline,
    *,
    spread_heading_rad: float,
    angle_rad: float,
    driving: Driving,
    straight_within_m: float,
) -> PassPlan:
    """Return the covering plan: its heading lies at an angle to the spread heading.

    Of turning to the left and to the right the one with fewer minutes is kept, the left one
    when they are the same.

    Parameters
    ----------
    outline
        The field.
    spread_heading_rad
        The line the spreader drove along. [rad]
    angle_rad
        The angle between the two lines. [rad]
    driving
        The covering machine.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    """
    left, right = (
        plan_at_heading(
            outline,
            heading_rad=turned_heading_rad(heading_rad=spread_heading_rad, angle_rad=turn_rad),
            driving=driving,
            straight_within_m=straight_within_m,
        )
        for turn_rad in (angle_rad, -angle_rad)
    )
    return right if right.work_s < left.work_s * (1.0 - _HAIR) else left


def missed_fraction(outline: Outline, plan: PassPlan) -> float:
    """Return the share of the field that no pass and no round goes over.

    Parameters
    ----------
    outline
        The field the plan was made for.
    plan
        The plan, driven exactly.

    Notes
    -----
    A pass goes over its length and half a driving width to each side. A round is driven side
    by side, each half a width beyond its corners, so the tip of a sharp corner counts as
    missed.
    """
    half_m = 0.5 * plan.driving.driving_width_m
    straight = [
        shapely.buffer(shapely.linestrings(plan.passes_m), half_m, cap_style="flat"),
        *(
            shapely.buffer(
                shapely.linestrings(np.stack([ring[:-1], ring[1:]], axis=1)),
                half_m,
                cap_style="square",
            )
            for ring in plan.rounds_m
        ),
    ]
    # Neighbours share whole edges; without the grid the union was seen to lose two rows.
    driven = shapely.union_all(np.concatenate(straight), grid_size=_MISSED_GRID_M)
    field = outline.shape
    return float(field.difference(driven).area / field.area)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Headland:
    """A field with its sides, its rounds driven, and what they leave for passes."""

    outline: Outline
    driving: Driving
    sides: tuple[Edge, ...]
    near_edges: tuple[Edge, ...]
    rounds_count: int
    rounds_m: tuple[FloatArray, ...]
    interior: shapely.MultiPolygon


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Rows:
    """The rows of one heading as they lie, from the near edge up, each run along the heading."""

    heading_rad: float
    along_rad: float
    near_edge: Edge
    rows_count: int
    row_indices: np.ndarray
    ends_m: FloatArray
    work_s: float


def _headland(outline: Outline, driving: Driving, straight_within_m: float) -> _Headland:
    """Return the rounds the turns need, or as many as leave ground between them."""
    all_sides = sides(outline, straight_within_m=straight_within_m)
    width_m = driving.driving_width_m
    count = rounds_count(turning_depth_m=driving.turning_depth_m, driving_width_m=width_m)
    # No point of a field lies as deep as the side of a square of the same area.
    count = min(count, math.ceil(math.sqrt(outline.area_m2) / width_m))
    while not (left := inset(outline, depth_m=count * width_m)):
        count -= 1
    rounds_m = [
        np.vstack([ring, ring[:1]])
        for number in range(count)
        for piece in inset(outline, depth_m=(number + 0.5) * width_m)
        for ring in (piece.exterior_m, *piece.holes_m)
    ]
    return _Headland(
        outline=outline,
        driving=driving,
        sides=all_sides,
        near_edges=hull_edges(outline, straight_within_m=straight_within_m) or all_sides,
        rounds_count=count,
        rounds_m=tuple(rounds_m),
        interior=shapely.MultiPolygon([piece.shape for piece in left]),
    )


def _laid_out(headland: _Headland, heading_rad: float) -> _Rows:
    """Return the runs that go over all that the headland leaves, along one heading.

    Each row is a strip one driving width wide. A run lasts as long as there is ground left
    anywhere across its strip, so a slanted end is worked to its far side. With one round or
    more such a run never leaves the field nor meets a hole: ground left lies a whole driving
    width or more from every edge, so no edge comes abreast of it in its own strip.
    """
    near_edge, along_rad = _near_edge(headland.near_edges, heading_rad)
    width_m = headland.driving.driving_width_m
    interior = _rotated(headland.interior, -along_rad)
    west_m, south_m, east_m, north_m = interior.bounds
    middles_m = _row_middles_m(south_m, north_m, width_m)
    strips = shapely.box(
        west_m - width_m, middles_m - 0.5 * width_m, east_m + width_m, middles_m + 0.5 * width_m
    )
    parts, row_indices = shapely.get_parts(
        shapely.intersection(strips, interior), return_index=True
    )
    ground = shapely.area(parts) > _NO_PASS_M2
    bounds_m = shapely.bounds(parts[ground])
    spans = _joined_spans(row_indices[ground], bounds_m[:, 0], bounds_m[:, 2])
    if headland.rounds_count == 0:
        spans = _spans_inside(spans, middles_m, _rotated(headland.outline.shape, -along_rad))
    rows = np.asarray([row for row, _, _ in spans], dtype=np.intp)
    ends_m = np.asarray([[start, end] for _, start, end in spans]).reshape(-1, 2)
    lines_m = np.stack([ends_m, np.broadcast_to(middles_m[rows, None], ends_m.shape)], axis=2)
    return _Rows(
        heading_rad=heading_rad,
        along_rad=along_rad,
        near_edge=near_edge,
        rows_count=len(middles_m),
        row_indices=rows,
        ends_m=lines_m @ _rotation(along_rad).T,
        work_s=_work_s(ends_m, headland),
    )


def _row_middles_m(south_m: float, north_m: float, width_m: float) -> FloatArray:
    """Return where the rows' middles lie across the heading; the last laps the one before."""
    count = rows_count(extent_m=north_m - south_m, driving_width_m=width_m)
    if count == 1:
        return np.asarray([0.5 * (south_m + north_m)])
    middles_m: FloatArray = south_m + (np.arange(count, dtype=np.float64) + 0.5) * width_m
    middles_m[-1] = north_m - 0.5 * width_m
    return middles_m


def _joined_spans(
    row_indices: np.ndarray, starts_m: FloatArray, ends_m: FloatArray
) -> list[tuple[int, float, float]]:
    """Return one span for each stretch of a row; pieces abreast of each other are one."""
    order = np.lexsort((starts_m, row_indices))
    spans: list[tuple[int, float, float]] = []
    for index in order.tolist():
        row, start_m, end_m = int(row_indices[index]), float(starts_m[index]), float(ends_m[index])
        if spans and spans[-1][0] == row and start_m <= spans[-1][2]:
            spans[-1] = (row, spans[-1][1], max(spans[-1][2], end_m))
        else:
            spans.append((row, start_m, end_m))
    return spans


def _spans_inside(
    spans: Iterable[tuple[int, float, float]], middles_m: FloatArray, field: shapely.Polygon
) -> list[tuple[int, float, float]]:
    """Return the spans cut back to the field: without a headland there is no room beyond."""
    inside = []
    for row, start_m, end_m in spans:
        middle_m = float(middles_m[row])
        line = shapely.LineString([(start_m, middle_m), (end_m, middle_m)])
        for part in shapely.get_parts(shapely.intersection(line, field)):
            west_m, _, east_m, _ = part.bounds
            if east_m - west_m > _HAIR:
                inside.append((row, west_m, east_m))
    return sorted(inside)


def _work_s(ends_m: FloatArray, headland: _Headland) -> float:
    """Return driving, turns from run to run, and the rounds [s]."""
    driven_m = float(np.ptp(ends_m, axis=1).sum()) + _rings_length_m(headland.rounds_m)
    turns_count = max(len(ends_m) - 1, 0)
    return driven_m / headland.driving.speed_mps + turns_count * headland.driving.turn_s


def _plan(headland: _Headland, rows: _Rows, *, longest_edge_s: float) -> PassPlan:
    """Return the runs of one heading in driving order, with the mark to aim at."""
    near = rows.near_edge
    from_start = math.sin(rows.along_rad - near.heading_rad) >= -_HAIR
    corner_m = near.start_m if from_start else near.end_m
    passes_m, row_indices = _in_driving_order(
        rows, guide_row=_guide_row(headland, rows, corner_m), forward=from_start
    )
    return PassPlan(
        heading_rad=rows.heading_rad,
        driving=headland.driving,
        rounds_count=headland.rounds_count,
        passes_count=rows.rows_count,
        passes_m=passes_m,
        row_indices=row_indices,
        rounds_m=headland.rounds_m,
        work_s=rows.work_s,
        longest_edge_s=longest_edge_s,
        first=_first_pass(headland, passes_m[row_indices == row_indices[:1]], near, corner_m),
    )


def _near_edge(near_edges: tuple[Edge, ...], heading_rad: float) -> tuple[Edge, float]:
    """Return the side to start beside, and the heading in the sense that side is walked.

    The side that runs furthest along the heading; the first of equals.
    """
    along_m = [side.length_m * math.cos(side.heading_rad - heading_rad) for side in near_edges]
    furthest_m = max(map(abs, along_m))
    near = next(i for i, run_m in enumerate(along_m) if abs(run_m) > furthest_m * (1.0 - _HAIR))
    return near_edges[near], heading_rad if along_m[near] > 0.0 else heading_rad + math.pi


def _guide_row(headland: _Headland, rows: _Rows, corner_m: tuple[float, float]) -> int:
    """Return the row pass 1 drives: the first whose middle clears the start corner.

    Where the heading lies along the near side this is row 0. Where it is turned from it, the
    rows below are short ones in the wedge between, driven last.
    """
    inner_m = shapely.get_coordinates(headland.interior)
    start_m = inner_m[np.argmin(np.hypot(*(inner_m - np.asarray(corner_m)).T))]
    across = np.asarray([-math.sin(rows.along_rad), math.cos(rows.along_rad)])
    clear = rows.ends_m[:, 0] @ across >= start_m @ across - _HAIR
    return int(rows.row_indices[clear].min()) if clear.any() else 0


def _in_driving_order(
    rows: _Rows, *, guide_row: int, forward: bool
) -> tuple[FloatArray, np.ndarray]:
    """Return runs and their rows: up from the guide row, there and back, then the rows below."""
    ordered: list[int] = []
    turned: list[bool] = []
    for row in (*range(guide_row, rows.rows_count), *range(guide_row - 1, -1, -1)):
        of_row = np.flatnonzero(rows.row_indices == row).tolist()
        ordered.extend(of_row if forward else reversed(of_row))
        turned.extend([not forward] * len(of_row))
        if of_row:
            forward = not forward
    passes_m = rows.ends_m[ordered]
    passes_m[turned] = passes_m[turned][:, ::-1]
    return passes_m, rows.row_indices[ordered]


def _first_pass(
    headland: _Headland,
    guide_m: FloatArray,
    near: Edge,
    corner_m: tuple[float, float],
) -> FirstPass | None:
    """Return where the guide row starts and which mark on the far side its line meets."""
    if not len(guide_m):
        return None
    start_m, end_m = guide_m[0, 0], guide_m[-1, 1]
    aim = (end_m - start_m) / math.dist(start_m, end_m)
    far, mark_m = _far_edge(headland, end_m, aim)
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


def _far_edge(headland: _Headland, from_m: FloatArray, aim: FloatArray) -> tuple[Edge, FloatArray]:
    """Return the side that a line meets first beyond a point, and where."""
    # A pass beside a wiggle may miss the straightened sides altogether; then the drawn ones.
    met = _crossings(headland.sides, from_m, aim) or _crossings(
        sides(headland.outline, straight_within_m=0.0), from_m, aim
    )
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


def _half_turn_rad(heading_rad: float) -> float:
    # Twice, because a hair below 0 comes back as pi itself the first time.
    return heading_rad % math.pi % math.pi


def _rotated(geometry: shapely.Geometry, angle_rad: float) -> shapely.Geometry:
    turn = _rotation(angle_rad).T
    return shapely.transform(geometry, lambda corners_m: corners_m @ turn)


def _rotation(angle_rad: float) -> FloatArray:
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)
    return np.asarray([[cos, -sin], [sin, cos]])


def _lengths_m(lines_m: FloatArray) -> FloatArray:
    lengths_m: FloatArray = np.hypot(*(lines_m[:, 1] - lines_m[:, 0]).T)
    return lengths_m


def _rings_length_m(rings_m: Iterable[FloatArray]) -> float:
    return float(sum(np.hypot(*np.diff(ring, axis=0).T).sum() for ring in rings_m))


def _point(point_m: FloatArray) -> tuple[float, float]:
    return float(point_m[0]), float(point_m[1])
