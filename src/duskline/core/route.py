"""In which order the runs of a field are driven, and what the turns between them take.

Rows that lie abreast without a break make one cell; a cell is driven row after row, or with rows
skipped and filled in on the way back, or in two lands, and then the nearest cell comes next.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from duskline.core.outline import FloatArray
from duskline.core.rows import Rows
from duskline.core.turns import TurnRule, turn_times_s

__all__ = [
    "Ground",
    "Order",
    "Route",
    "Way",
    "cells_of",
    "drive_order",
    "find_route",
    "ground_of",
    "run_pose",
    "way_round_m",
]

Way = Literal["next", "fill", "lands"]

# Starting states tried for the first cell; the rest follow by nearest.
_STARTS_TRIED = 16
# A first pass to steer by is at least this share of its cell's longest.
_GUIDE_SHARE = 0.6


@dataclass(frozen=True, kw_only=True, slots=True)
class Order:
    """Which row comes next.

    Attributes
    ----------
    way
        "next": row after row. "fill": every ``step``-th row out, the others on the way back; the
        driver must know where a row lies without its neighbour, so it takes guidance. "lands":
        up one land and down the next, ``step`` rows apart; every row but one in a pair of lands
        has a driven neighbour, so it works by eye.
    step
        How many rows apart; 1 for "next".
    """

    way: Way
    step: int = 1


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Route:
    """Runs in driving order.

    Attributes
    ----------
    passes_m
        ``(n_runs, 2, 2)``: run, start or end, x or y. [m]
    block_indices, row_indices
        The block of each run and its row in that block, ``(n_runs,)``.
    turn_s
        From each run to the next, ``(n_runs - 1,)``. [s]
    cells_count
        Groups of rows without a break.
    """

    passes_m: FloatArray
    block_indices: np.ndarray
    row_indices: np.ndarray
    turn_s: FloatArray
    cells_count: int


def drive_order(count: int, order: Order) -> np.ndarray:
    """Return the rows of a cell in the order they are driven, ``(count,)``, from 0."""
    if order.way == "fill" and order.step > 1:
        sweeps = [np.arange(first, count, order.step) for first in range(order.step)]
        return np.concatenate([s[::-1] if at % 2 else s for at, s in enumerate(sweeps)])
    if order.way == "lands" and order.step > 1:
        return _in_lands(count, order.step)
    return np.arange(count)


def _in_lands(count: int, step: int) -> np.ndarray:
    """Return rows by pairs of lands: first of one, first of the other, second of one, ..."""
    rows: list[int] = []
    for begin in range(0, count, 2 * step):
        size = min(2 * step, count - begin)
        half = (size + 1) // 2
        for at in range(half):
            rows.append(begin + at)
            if half + at < size:
                rows.append(begin + half + at)
    return np.asarray(rows, dtype=np.intp)


def cells_of(rows: Rows, *, jump_m: float = 0.0) -> list[list[list[int]]]:
    """Return runs grouped into cells: cell, row in order, run indices along the heading.

    Parameters
    ----------
    rows
        The runs.
    jump_m
        Runs of one row with no more than this between them are driven one after the other, the
        machine lifted over the gap, as one row of a cell. [m]

    Notes
    -----
    A row joins the one below it when each is the other's only neighbour abreast.

    Source
    ------
    Derived here: rows between two places where ground parts or meets, as an edge or a hole
    makes it.
    """
    by_row: list[list[int]] = [[] for _ in range(rows.rows_count)]
    members: list[list[int]] = []
    spans: list[list[float]] = []
    last_row = -1
    for run, (row, (start_m, end_m)) in enumerate(
        zip(rows.row_indices.tolist(), rows.spans_m.tolist(), strict=True)
    ):
        if row == last_row and start_m - spans[-1][1] <= jump_m:
            members[-1].append(run)
            spans[-1][1] = end_m
        else:
            by_row[row].append(len(members))
            members.append([run])
            spans.append([start_m, end_m])
        last_row = row
    cells: list[list[int]] = []
    cell_of: dict[int, int] = {}
    below: list[int] = []
    for row_runs in by_row:
        abreast = {
            run: [o for o in below if spans[o][0] < spans[run][1] and spans[run][0] < spans[o][1]]
            for run in row_runs
        }
        above_count = {o: sum(o in found for found in abreast.values()) for o in below}
        for run in row_runs:
            found = abreast[run]
            if len(found) == 1 and above_count[found[0]] == 1:
                cell_of[run] = cell_of[found[0]]
                cells[cell_of[run]].append(run)
            else:
                cell_of[run] = len(cells)
                cells.append([run])
        below = row_runs
    return [[members[joined] for joined in cell] for cell in cells]


def run_pose(run_m: FloatArray, *, at_end: bool) -> tuple[float, float, float]:
    """Return the pose at the start or the end of a run: x, y [m], heading [rad].

    Parameters
    ----------
    run_m
        Its start and end, ``(2, 2)``. [m]
    at_end
        Which of the two.
    """
    (x0_m, y0_m), (x1_m, y1_m) = run_m.tolist()
    heading_rad = math.atan2(y1_m - y0_m, x1_m - x0_m)
    return (x1_m, y1_m, heading_rad) if at_end else (x0_m, y0_m, heading_rad)


def find_route(
    blocks: Sequence[Rows],
    *,
    order: Order,
    rule: TurnRule,
    ground: Ground,
    from_m: tuple[float, float] | None = None,
    to_m: tuple[float, float] | None = None,
    guide_first: bool = False,
    jump_m: float = 0.0,
) -> Route:
    """Return all runs of all blocks in driving order.

    Parameters
    ----------
    blocks
        Rows of each block, which may have headings of their own.
    order
        Which row comes next in a cell.
    rule
        How the machine turns.
    ground
        Where the machine may drive between runs: a straight way that leaves it goes round. [m]
    from_m, to_m
        Where the machine comes from and where it goes afterwards, x and y. [m]
    guide_first
        Whether the first pass must be a long one, which the next can be steered by; shorter
        rows before it are then driven after the others of their cell.
    jump_m
        Gaps in a row up to this are jumped; infinite for all runs of a row before the next. [m]

    Notes
    -----
    Cells are taken by nearest next from several starts; the quickest of those is kept. Found by
    search, not proven best.

    Source
    ------
    Derived here; tests/core/test_route.py tries every order on small cases.
    """
    cells = [(b, cell) for b, rows in enumerate(blocks) for cell in cells_of(rows, jump_m=jump_m)]
    if not cells:
        return _NOWHERE
    ends_m = [rows.ends_m() for rows in blocks]
    states = _states(cells, ends_m, order, rule, ground)
    driven = [states[at] for at in _sequence(states, rule, from_m, to_m)]
    if guide_first:
        driven[0] = _guided(driven[0], order, ends_m[driven[0].block], rule, ground)
    between_s = _turns_s(
        np.asarray([state.leave for state in driven[:-1]]).reshape(-1, 3),
        np.asarray([state.entry for state in driven[1:]]).reshape(-1, 3),
        rule,
        ground,
    )
    turn_s = [driven[0].own_s]
    for way_s, state in zip(between_s, driven[1:], strict=True):
        turn_s.extend((np.asarray([way_s]), state.own_s))
    return Route(
        passes_m=np.concatenate([state.passes_m for state in driven]),
        block_indices=np.concatenate([np.full(len(state.runs), state.block) for state in driven]),
        row_indices=np.concatenate(
            [blocks[state.block].row_indices[state.runs] for state in driven]
        ),
        turn_s=np.concatenate(turn_s),
        cells_count=len(cells),
    )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Ground:
    """Where a machine may drive lifted, as the edges of its rings.

    Attributes
    ----------
    edges_m
        ``(n_edges, 4)`` x0 y0 x1 y1. [m]
    ring_of
        The ring of each edge, ``(n_edges,)``.
    arc_m
        The way along its ring to each edge's beginning, ``(n_edges,)``. [m]
    ring_m
        Each ring's length, ``(n_rings,)``. [m]
    """

    edges_m: FloatArray
    ring_of: np.ndarray
    arc_m: FloatArray
    ring_m: FloatArray


def ground_of(shape: shapely.Geometry) -> Ground:
    """Return a shape, a polygon or several, as ground to drive over. [m]"""
    edges, ring_of, arcs, lengths = [], [], [], []
    for number, ring in enumerate(
        ring for part in shapely.get_parts(shape) for ring in (part.exterior, *part.interiors)
    ):
        corners_m = shapely.get_coordinates(ring)
        sides_m = np.hypot(*np.diff(corners_m, axis=0).T)
        edges.append(np.hstack([corners_m[:-1], corners_m[1:]]))
        ring_of.append(np.full(len(sides_m), number))
        arcs.append(np.concatenate([[0.0], np.cumsum(sides_m)[:-1]]))
        lengths.append(float(sides_m.sum()))
    if not edges:
        return Ground(
            edges_m=np.empty((0, 4)),
            ring_of=np.empty(0, dtype=np.intp),
            arc_m=np.empty(0),
            ring_m=np.empty(0),
        )
    return Ground(
        edges_m=np.concatenate(edges),
        ring_of=np.concatenate(ring_of),
        arc_m=np.concatenate(arcs),
        ring_m=np.asarray(lengths),
    )


def way_round_m(starts_m: FloatArray, ends_m: FloatArray, *, ground: Ground) -> FloatArray:
    """Return the way from each start to each end without leaving the ground, ``(n,)``. [m]

    Parameters
    ----------
    starts_m, ends_m
        ``(n, 2)`` x, y. [m]
    ground
        Where the machine may drive. [m]

    Notes
    -----
    Straight; where the straight way leaves the ground it follows that edge, the shorter way
    round. Not the shortest way in every field, never shorter than it.

    Source
    ------
    Derived here; tests/core/test_route.py.
    """
    # numba takes half a second to import; commands that find no route do without it.
    from duskline.core.route_kernel import ways_round

    found_m = np.empty(len(starts_m))
    ways_round(
        np.ascontiguousarray(starts_m),
        np.ascontiguousarray(ends_m),
        ground.edges_m,
        ground.ring_of,
        ground.arc_m,
        ground.ring_m,
        found_m,
    )
    return found_m


_NOWHERE = Route(
    passes_m=np.empty((0, 2, 2)),
    block_indices=np.empty(0, dtype=np.intp),
    row_indices=np.empty(0, dtype=np.intp),
    turn_s=np.empty(0),
    cells_count=0,
)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _State:
    """A cell driven one of its four ways: from either end of its rows, to either hand.

    ``own_s`` are the turns inside it, ``(n_runs - 1,)``. [s]
    """

    cell: int
    block: int
    rows: Sequence[Sequence[int]]
    runs: np.ndarray
    passes_m: FloatArray
    own_s: FloatArray

    @property
    def entry(self) -> tuple[float, float, float]:
        """Place and heading at its first run's start: x, y [m], heading [rad]."""
        return run_pose(self.passes_m[0], at_end=False)

    @property
    def leave(self) -> tuple[float, float, float]:
        """Place and heading at its last run's end: x, y [m], heading [rad]."""
        return run_pose(self.passes_m[-1], at_end=True)


def _states(
    cells: Sequence[tuple[int, list[list[int]]]],
    ends_m: Sequence[FloatArray],
    order: Order,
    rule: TurnRule,
    ground: Ground,
) -> list[_State]:
    """Return every way to drive every cell; the same way backwards takes the same turns."""
    onward = []
    for number, (block, cell) in enumerate(cells):
        rows = drive_order(len(cell), order)
        # Driven backwards, rows filled in begin at the end they end at; so from the other too.
        ends = (rows, len(cell) - 1 - rows) if order.step > 1 and len(cell) > 1 else (rows,)
        for begun in ends:
            for turned in (False, True):
                runs, lines_m = _laid(cell, begun.tolist(), turned, ends_m[block])
                onward.append((number, block, cell, runs, lines_m))
    passes_m = np.concatenate([lines_m for *_, lines_m in onward])
    last = np.cumsum([len(runs) for *_, runs, _ in onward]) - 1
    inside = np.ones(len(passes_m), dtype=bool)
    inside[last] = False
    own_s = np.zeros(len(passes_m))
    leaves, entries = _poses(passes_m)
    own_s[inside] = _turns_s(leaves[inside], np.roll(entries, -1, axis=0)[inside], rule, ground)
    states = []
    for (number, block, cell, runs, lines_m), end in zip(onward, last.tolist(), strict=True):
        turns_s = own_s[end - len(runs) + 1 : end]
        states.append(
            _State(cell=number, block=block, rows=cell, runs=runs, passes_m=lines_m, own_s=turns_s)
        )
        if len(cell) > 1:
            states.append(
                _State(
                    cell=number,
                    block=block,
                    rows=cell,
                    runs=runs[::-1],
                    passes_m=lines_m[::-1, ::-1],
                    own_s=turns_s[::-1],
                )
            )
    return states


def _laid(
    cell: Sequence[Sequence[int]], sequence: Sequence[int], turned: bool, ends_m: FloatArray
) -> tuple[np.ndarray, FloatArray]:
    """Return a cell's runs in driving order and their lines, back and forth."""
    if all(len(members) == 1 for members in cell):
        single = np.asarray([cell[row][0] for row in sequence], dtype=np.intp)
        lines_m = ends_m[single]
        away = slice(0 if turned else 1, None, 2)
        lines_m[away] = lines_m[away, ::-1]
        return single, lines_m
    runs: list[int] = []
    back: list[bool] = []
    for row in sequence:
        members = cell[row]
        runs.extend(reversed(members) if turned else members)
        back.extend([turned] * len(members))
        turned = not turned
    lines_m = ends_m[runs]
    lines_m[back] = lines_m[back][:, ::-1]
    return np.asarray(runs, dtype=np.intp), lines_m


def _guided(
    state: _State, order: Order, ends_m: FloatArray, rule: TurnRule, ground: Ground
) -> _State:
    """Return the same cell begun at its first long row, the short ones before it driven last."""
    rows = list(range(len(state.rows)))
    if state.runs[0] > state.runs[-1]:
        rows.reverse()
    lengths_m = np.asarray(
        [math.dist(ends_m[row[-1], 1], ends_m[row[0], 0]) for row in state.rows]
    )[rows]
    guide = int(np.argmax(lengths_m >= _GUIDE_SHARE * lengths_m.max()))
    if guide == 0:
        return state
    onward = drive_order(len(rows) - guide, order) + guide
    sequence = [rows[at] for at in (*onward.tolist(), *range(guide - 1, -1, -1))]
    first_m = state.passes_m[0, 1] - state.passes_m[0, 0]
    along_m = ends_m[state.runs[0], 1] - ends_m[state.runs[0], 0]
    runs, passes_m = _laid(state.rows, sequence, bool(first_m @ along_m < 0.0), ends_m)
    leaves, entries = _poses(passes_m)
    own_s = _turns_s(leaves[:-1], entries[1:], rule, ground)
    return replace(state, runs=runs, passes_m=passes_m, own_s=own_s)


def _sequence(
    states: Sequence[_State],
    rule: TurnRule,
    from_m: tuple[float, float] | None,
    to_m: tuple[float, float] | None,
) -> list[int]:
    """Return which states are driven, one a cell, in order; nearest next, best of some starts."""
    cell_of = np.asarray([state.cell for state in states])
    count = len(states)
    entries = np.asarray([state.entry for state in states])
    leaves = np.asarray([state.leave for state in states])
    own_s = np.asarray([state.own_s.sum() for state in states])
    start_s = np.zeros(count) if from_m is None else _straight_s(entries, from_m, rule)
    final_s = np.zeros(count) if to_m is None else _straight_s(leaves, to_m, rule)
    cells_count = int(cell_of.max()) + 1
    if cells_count == 1:
        return [int(np.argmin(start_s + own_s + final_s))]
    between_s = turn_times_s(
        np.repeat(leaves, count, axis=0), np.tile(entries, (count, 1)), rule
    ).reshape(count, count)
    # numba takes half a second to import; commands that find no route do without it.
    from duskline.core.route_kernel import nearest_next

    firsts = np.argsort(start_s, kind="stable")[:_STARTS_TRIED]
    order = nearest_next(between_s, own_s, start_s, final_s, cell_of, cells_count, firsts)
    chosen: list[int] = order.tolist()
    return chosen


def _straight_s(poses: FloatArray, place_m: tuple[float, float], rule: TurnRule) -> FloatArray:
    away_s: FloatArray = np.hypot(poses[:, 0] - place_m[0], poses[:, 1] - place_m[1])
    return away_s / rule.speed_mps


def _poses(passes_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the pose at the end and at the start of each run, ``(n, 3)`` each."""
    along_m = passes_m[:, 1] - passes_m[:, 0]
    heading_rad = np.arctan2(along_m[:, 1], along_m[:, 0])[:, None]
    return np.hstack([passes_m[:, 1], heading_rad]), np.hstack([passes_m[:, 0], heading_rad])


def _turns_s(leaves: FloatArray, entries: FloatArray, rule: TurnRule, ground: Ground) -> FloatArray:
    """Return the time from each pose to the next, round whatever lies in the way. [s]"""
    if not len(leaves):
        return np.empty(0)
    turns_s = turn_times_s(leaves, entries, rule)
    from_m, to_m = leaves[:, :2], entries[:, :2]
    extra_m = way_round_m(from_m, to_m, ground=ground) - np.hypot(*(to_m - from_m).T)
    turns_s += extra_m / rule.speed_mps
    return turns_s
