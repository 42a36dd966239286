"""Order of passes: which row comes next, cells between notches and holes, the way round."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise, permutations, product

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import drawn, fields, rectangle
from ragged_fields import ragged_field

from duskline.core.outline import FloatArray, Outline
from duskline.core.route import (
    Ground,
    Order,
    Route,
    cells_of,
    drive_order,
    find_route,
    ground_of,
    way_round_m,
)
from duskline.core.rows import Rows, lay_rows
from duskline.core.turns import TurnRule, turn_times_s

RULE = TurnRule(radius_m=6.0, speed_mps=2.0, fixed_s=5.0)
NEXT = Order(way="next")
NOWHERE_IN_THE_WAY = ground_of(shapely.MultiPolygon())
any_field = st.one_of(fields(), st.builds(ragged_field, st.integers(0, 100_000)))
by_eye = st.one_of(st.just(NEXT), st.builds(Order, way=st.just("lands"), step=st.integers(2, 5)))
orders = st.one_of(
    st.just(NEXT),
    st.builds(Order, way=st.just("fill"), step=st.integers(2, 5)),
    st.builds(Order, way=st.just("lands"), step=st.integers(2, 5)),
)


def rows_over(field: Outline, *, heading_deg: float = 0.0, width_m: float = 10.0) -> Rows:
    """Return the rows of a machine 10 m wide."""
    return lay_rows(
        (field.exterior_m, *field.holes_m),
        heading_rad=math.radians(heading_deg),
        driving_width_m=width_m,
    )


def turns_s(passes_m: FloatArray, ground: Ground) -> FloatArray:
    """Return the turns from run to run, worked out run by run: turn, and the way round."""
    along_m = passes_m[:, 1] - passes_m[:, 0]
    heading_rad = np.arctan2(along_m[:, 1], along_m[:, 0])
    times_s = []
    for at in range(len(passes_m) - 1):
        leave_m, enter_m = passes_m[at, 1], passes_m[at + 1, 0]
        turn_s = turn_times_s(
            np.asarray([[*leave_m, heading_rad[at]]]),
            np.asarray([[*enter_m, heading_rad[at + 1]]]),
            RULE,
        )[0]
        round_m = way_round_m(leave_m[None], enter_m[None], ground=ground)[0]
        times_s.append(turn_s + (round_m - math.dist(leave_m, enter_m)) / 2.0)
    return np.asarray(times_s)


# --- which row next -----------------------------------------------------------------------------


def test_row_after_row() -> None:
    """0, 1, 2, ..."""
    assert drive_order(5, NEXT).tolist() == [0, 1, 2, 3, 4]


def test_skipped_rows_are_filled_in_on_the_way_back() -> None:
    """Every second row out, the others back; every third out, back and out again."""
    assert drive_order(7, Order(way="fill", step=2)).tolist() == [0, 2, 4, 6, 5, 3, 1]
    assert drive_order(8, Order(way="fill", step=3)).tolist() == [0, 3, 6, 7, 4, 1, 2, 5]


def test_two_lands_are_driven_up_the_one_and_down_the_other() -> None:
    """Six rows in lands of three; with two more those are a pair of lands of their own."""
    order = Order(way="lands", step=3)
    assert drive_order(6, order).tolist() == [0, 3, 1, 4, 2, 5]
    assert drive_order(9, order).tolist() == [0, 3, 1, 4, 2, 5, 6, 8, 7]


@given(count=st.integers(0, 80), order=orders)
def test_every_row_is_driven_once(count: int, order: Order) -> None:
    """No row left out, none twice."""
    assert sorted(drive_order(count, order).tolist()) == list(range(count))


@given(count=st.integers(1, 80), step=st.integers(2, 6))
def test_filling_in_leaves_room_for_the_turn(count: int, step: int) -> None:
    """Each row lies a step from the last one, but where a way out turns into a way back."""
    driven = drive_order(count, Order(way="fill", step=step))
    nearer = np.abs(np.diff(driven)) != step
    assert nearer.sum() <= step - 1


@given(count=st.integers(1, 80), step=st.integers(2, 6))
def test_in_lands_all_rows_but_one_of_a_pair_have_a_driven_neighbour(count: int, step: int) -> None:
    """By eye: one row opens the second land of each pair, and the very first row the field."""
    driven = drive_order(count, Order(way="lands", step=step)).tolist()
    done: set[int] = set()
    alone = 0
    for row in driven:
        alone += row - 1 not in done and row + 1 not in done
        done.add(row)
    pairs = math.ceil(count / (2 * step))
    # A last pair of one row has no second land; one of two rows opens it beside the first.
    size = count - 2 * step * (pairs - 1)
    assert alone == 1 + pairs - (size <= 2)


@given(count=st.integers(1, 80), step=st.integers(2, 6))
def test_lands_lie_a_step_apart(count: int, step: int) -> None:
    """In a whole pair of lands each turn goes step or step - 1 rows over."""
    driven = drive_order(count, Order(way="lands", step=step))
    whole = count - count % (2 * step)
    for begin in range(0, whole, 2 * step):
        steps = np.abs(np.diff(driven[begin : begin + 2 * step]))
        assert set(steps.tolist()) == {step, step - 1}


# --- cells ------------------------------------------------------------------------------------


def test_a_rectangle_is_one_cell() -> None:
    """Six rows, all abreast."""
    assert cells_of(rows_over(rectangle(300.0, 60.0))) == [[[0], [1], [2], [3], [4], [5]]]


def test_an_l_is_one_cell_and_a_u_is_three() -> None:
    """Along the foot an L has one run a row; a U parts into two arms above its foot."""
    l_shape = drawn("0,0 300,0 300,30 100,30 100,60 0,60")
    assert cells_of(rows_over(l_shape)) == [[[0], [1], [2], [3], [4], [5]]]
    u_shape = drawn("0,0 300,0 300,60 200,60 200,30 100,30 100,60 0,60")
    assert cells_of(rows_over(u_shape)) == [
        [[0], [1], [2]],
        [[3], [5], [7]],
        [[4], [6], [8]],
    ]


def test_a_pond_makes_four_cells() -> None:
    """Below, to its left, to its right, and above where the rows meet again."""
    field = drawn("0,0 300,0 300,60 0,60", "140,20 160,20 160,40 140,40")
    assert cells_of(rows_over(field)) == [[[0], [1]], [[2], [4]], [[3], [5]], [[6], [7]]]


def test_a_pond_that_is_jumped_makes_none() -> None:
    """20 m of pond: jumped where gaps up to 20 m are; both runs of a row then follow."""
    field = drawn("0,0 300,0 300,60 0,60", "140,20 160,20 160,40 140,40")
    assert cells_of(rows_over(field), jump_m=20.1) == [[[0], [1], [2, 3], [4, 5], [6], [7]]]
    assert len(cells_of(rows_over(field), jump_m=19.9)) == 4


def test_only_the_short_gap_of_two_is_jumped() -> None:
    """A pond of 20 m and a wood of 60 m in the same rows: jumping 30 m parts at the wood only."""
    field = drawn(
        "0,0 400,0 400,60 0,60", "100,20 120,20 120,40 100,40", "200,20 260,20 260,40 200,40"
    )
    assert cells_of(rows_over(field), jump_m=30.0) == [
        [[0], [1]],
        [[2, 3], [5, 6]],
        [[4], [7]],
        [[8], [9]],
    ]


@given(
    field=any_field,
    heading_deg=st.floats(0.0, 180.0),
    jump_m=st.sampled_from([0.0, 30.0, math.inf]),
)
@settings(max_examples=60)
def test_every_run_is_in_one_cell(field: Outline, heading_deg: float, jump_m: float) -> None:
    """Rows of a cell follow each other; runs of one row lie in order, gaps within the jump."""
    rows = rows_over(field, heading_deg=heading_deg)
    cells = cells_of(rows, jump_m=jump_m)
    runs = [run for cell in cells for row in cell for run in row]
    assert sorted(runs) == list(range(len(rows.row_indices)))
    for cell in cells:
        numbers = [rows.row_indices[row[0]] for row in cell]
        assert np.diff(numbers).tolist() == [1] * (len(cell) - 1)
        for row in cell:
            assert len({rows.row_indices[run] for run in row}) == 1
            gaps_m = rows.spans_m[row[1:], 0] - rows.spans_m[row[:-1], 1]
            assert (gaps_m > 0.0).all()
            assert (gaps_m <= jump_m).all()


# --- the route --------------------------------------------------------------------------------


def test_no_rows_no_route() -> None:
    """Where rounds do the whole field there is nothing to order."""
    route = find_route([], order=NEXT, rule=RULE, ground=NOWHERE_IN_THE_WAY)
    assert (len(route.passes_m), len(route.turn_s), route.cells_count) == (0, 0, 0)


def test_passes_are_driven_there_and_back() -> None:
    """From the south-west: each pass starts beside the end of the one before."""
    route = find_route(
        [rows_over(rectangle(300.0, 60.0))],
        order=NEXT,
        rule=RULE,
        ground=NOWHERE_IN_THE_WAY,
        from_m=(-1.0, -1.0),
    )
    assert route.row_indices.tolist() == [0, 1, 2, 3, 4, 5]
    assert route.passes_m[0].tolist() == [pytest.approx([0.0, 5.0]), pytest.approx([300.0, 5.0])]
    steps_m = route.passes_m[1:, 0] - route.passes_m[:-1, 1]
    assert np.hypot(*steps_m.T).tolist() == pytest.approx([10.0] * 5)


@pytest.mark.parametrize(
    ("from_m", "to_m", "row", "start_m"),
    [
        ((310.0, -10.0), None, 0, (300.0, 5.0)),
        ((310.0, 70.0), None, 5, (300.0, 55.0)),
        ((-10.0, 70.0), None, 5, (0.0, 55.0)),
        # Six rows end on the side they began on: to leave at the north-west begin south-west.
        (None, (-10.0, 70.0), 0, (0.0, 5.0)),
        (None, (310.0, -10.0), 5, (300.0, 55.0)),
    ],
)
def test_it_begins_where_the_machine_comes_in_and_ends_where_it_leaves(
    from_m: tuple[float, float] | None,
    to_m: tuple[float, float] | None,
    row: int,
    start_m: tuple[float, float],
) -> None:
    """Four ways to drive one cell, the nearest to the gate is taken."""
    route = find_route(
        [rows_over(rectangle(300.0, 60.0))],
        order=NEXT,
        rule=RULE,
        ground=NOWHERE_IN_THE_WAY,
        from_m=from_m,
        to_m=to_m,
    )
    assert route.row_indices[0] == row
    assert route.passes_m[0, 0].tolist() == pytest.approx(start_m)


def test_by_eye_the_first_pass_is_a_long_one() -> None:
    """A triangle from its tip: the short rows of the tip come last, after the long ones.

    Base 300 m, 30 rows of 10 m: 180 m, 0.6 of the base's row, is first reached by row 11 from
    the base, which is row 18 from the tip: rows 0 to 17 from the tip wait.
    """
    rows = rows_over(drawn("0,0 300,0 0,300"))
    tip_first = find_route(
        [rows], order=NEXT, rule=RULE, ground=NOWHERE_IN_THE_WAY, from_m=(0.0, 320.0)
    )
    assert tip_first.row_indices.tolist() == list(range(29, -1, -1))
    guided = find_route(
        [rows],
        order=NEXT,
        rule=RULE,
        ground=NOWHERE_IN_THE_WAY,
        from_m=(0.0, 320.0),
        guide_first=True,
    )
    lengths_m = np.hypot(*(guided.passes_m[:, 1] - guided.passes_m[:, 0]).T)
    assert lengths_m[0] >= 0.6 * lengths_m.max()
    begun = int(guided.row_indices[0])
    assert guided.row_indices.tolist() == [*range(begun, -1, -1), *range(begun + 1, 30)]
    assert rows.lengths_m[begun + 1] < 0.6 * rows.lengths_m.max()
    assert guided.turn_s.tolist() == pytest.approx(
        turns_s(guided.passes_m, NOWHERE_IN_THE_WAY).tolist()
    )


@given(field=any_field, heading_deg=st.floats(0.0, 180.0), order=by_eye, gate=st.integers(0, 3))
@settings(max_examples=80)
def test_a_first_pass_to_steer_by_crosses_most_of_its_cell(
    field: Outline, heading_deg: float, order: Order, gate: int
) -> None:
    """Wherever the gate, by eye the first row is 0.6 of its cell's longest, or the one beside it.

    In lands driven from their far end the first row may be the neighbour of the long one.
    """
    rows = rows_over(field, heading_deg=heading_deg)
    west_m, south_m, east_m, north_m = field.shape.bounds
    gates_m = [(west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, north_m)]
    route = find_route(
        [rows],
        order=order,
        rule=RULE,
        ground=NOWHERE_IN_THE_WAY,
        guide_first=True,
        from_m=gates_m[gate],
    )
    ends_m = rows.ends_m()
    first_m = np.sort(route.passes_m[0], axis=0)
    (run,) = [at for at, end_m in enumerate(ends_m) if (np.sort(end_m, axis=0) == first_m).all()]
    (cell,) = [cell for cell in cells_of(rows) if [run] in cell]
    lengths_m = [rows.lengths_m[row[0]] for row in cell]
    at = cell.index([run])
    near_m = lengths_m[at] if order.way == "next" else max(lengths_m[max(at - 1, 0) : at + 2])
    assert near_m >= 0.6 * max(lengths_m) - 1e-9


@given(
    field=any_field,
    heading_deg=st.floats(0.0, 180.0),
    order=orders,
    jump_m=st.sampled_from([0.0, 40.0, math.inf]),
    guide_first=st.booleans(),
)
@settings(max_examples=80)
def test_every_run_is_driven_once_and_every_turn_is_counted(
    field: Outline, heading_deg: float, order: Order, jump_m: float, guide_first: bool
) -> None:
    """The runs of the rows in some order, each in one of its two ways; turns as worked out anew."""
    rows = rows_over(field, heading_deg=heading_deg)
    ground = ground_of(field.shape.buffer(-1.0, join_style="mitre"))
    route = find_route(
        [rows],
        order=order,
        rule=RULE,
        ground=ground,
        jump_m=jump_m,
        guide_first=guide_first,
        from_m=(0.0, 0.0),
    )
    driven = np.sort(np.sort(route.passes_m, axis=1).reshape(-1, 4), axis=0)
    laid = np.sort(np.sort(rows.ends_m(), axis=1).reshape(-1, 4), axis=0)
    np.testing.assert_array_equal(driven, laid)
    middles_m = 0.5 * (route.passes_m[:, 0] + route.passes_m[:, 1])
    across = np.asarray([-math.sin(rows.heading_rad), math.cos(rows.heading_rad)])
    by_row = dict(zip(rows.row_indices.tolist(), rows.middles_m.tolist(), strict=True))
    expected_m = [by_row[row] for row in route.row_indices.tolist()]
    np.testing.assert_allclose(middles_m @ across, expected_m, atol=1e-6)
    assert (route.block_indices == 0).all()
    np.testing.assert_allclose(route.turn_s, turns_s(route.passes_m, ground), atol=1e-9)


def ways_of(rows: Rows, cell: Sequence[Sequence[int]], order: Order) -> Iterator[FloatArray]:
    """Yield the ways to drive a cell: begun at either end, to either hand, and each backwards."""
    sequence = drive_order(len(cell), order)
    ends_m = rows.ends_m()
    for begun, turned in product((sequence, len(cell) - 1 - sequence), (False, True)):
        lines: list[FloatArray] = []
        for number, row in enumerate(begun.tolist()):
            back = turned != (number % 2 == 1)
            lines.extend(
                ends_m[run][::-1] if back else ends_m[run]
                for run in (reversed(cell[row]) if back else cell[row])
            )
        found_m = np.asarray(lines)
        yield found_m
        yield found_m[::-1, ::-1]


def pose(run_m: FloatArray, at_m: FloatArray) -> tuple[float, float, float]:
    """Return a place on a run and the run's direction."""
    east_m, north_m = run_m[1] - run_m[0]
    return float(at_m[0]), float(at_m[1]), math.atan2(north_m, east_m)


def quickest_s(
    rows: Rows,
    order: Order,
    from_m: tuple[float, float] | None,
    to_m: tuple[float, float] | None,
) -> float:
    """Return the least time of turns and ways in and out over all orders and ways of cells."""
    cells = [list(ways_of(rows, cell, order)) for cell in cells_of(rows)]
    states = [(number, way) for number, ways in enumerate(cells) for way in ways]
    own_s = [turns_s(way, NOWHERE_IN_THE_WAY).sum() for _, way in states]
    entries = np.asarray([pose(way[0], way[0, 0]) for _, way in states])
    leaves = np.asarray([pose(way[-1], way[-1, 1]) for _, way in states])
    count = len(states)
    pairs_s = turn_times_s(np.repeat(leaves, count, axis=0), np.tile(entries, (count, 1)), RULE)
    between_s = pairs_s.reshape(count, count).tolist()
    best_s = math.inf
    of_cell = [
        [at for at, (number, _) in enumerate(states) if number == cell]
        for cell in range(len(cells))
    ]
    in_s = [0.0 if from_m is None else math.dist(pose[:2], from_m) / 2.0 for pose in entries]
    out_s = [0.0 if to_m is None else math.dist(pose[:2], to_m) / 2.0 for pose in leaves]
    for sequence in permutations(of_cell):
        for chosen in product(*sequence):
            total_s = in_s[chosen[0]] + out_s[chosen[-1]] + sum(own_s[at] for at in chosen)
            total_s += sum(between_s[a][b] for a, b in pairwise(chosen))
            best_s = min(best_s, total_s)
    return float(best_s)


def spent_s(
    route: Route, from_m: tuple[float, float] | None, to_m: tuple[float, float] | None
) -> float:
    """Return a route's turns and its ways in and out. [s]"""
    total_s = float(route.turn_s.sum())
    if from_m is not None:
        total_s += math.dist(route.passes_m[0, 0], from_m) / 2.0
    if to_m is not None:
        total_s += math.dist(route.passes_m[-1, 1], to_m) / 2.0
    return total_s


gates = st.one_of(st.none(), st.tuples(st.floats(-400.0, 400.0), st.floats(-400.0, 400.0)))
lengths = st.floats(60.0, 300.0)


@given(left_m=lengths, right_m=lengths, rows=st.tuples(*[st.integers(1, 6)] * 2), order=orders,
       from_m=gates, to_m=gates)  # fmt: skip
@settings(max_examples=60)
def test_two_cells_are_driven_the_quickest_way(
    left_m: float,
    right_m: float,
    rows: tuple[int, int],
    order: Order,
    from_m: tuple[float, float] | None,
    to_m: tuple[float, float] | None,
) -> None:
    """Two pieces of a field apart: no order and no way of the two cells takes less."""
    laid = side_by_side([left_m, right_m], list(rows))
    route = find_route(
        [laid], order=order, rule=RULE, ground=NOWHERE_IN_THE_WAY, from_m=from_m, to_m=to_m
    )
    assert route.cells_count == 2
    assert spent_s(route, from_m, to_m) == pytest.approx(quickest_s(laid, order, from_m, to_m))


def test_a_few_cells_are_driven_nearly_the_quickest_way() -> None:
    """150 times three or four cells: never twice the quickest way, on average within 2 %."""
    draw = np.random.default_rng(7)
    over = []
    for _ in range(150):
        count = int(draw.integers(3, 5))
        lengths_m = draw.uniform(60.0, 300.0, count).tolist()
        laid = side_by_side(lengths_m, draw.integers(1, 6, count).tolist())
        from_m, to_m = (
            None if draw.random() < 0.3 else tuple(draw.uniform(-400.0, 400.0, 2).tolist())
            for _ in range(2)
        )
        route = find_route(
            [laid], order=NEXT, rule=RULE, ground=NOWHERE_IN_THE_WAY, from_m=from_m, to_m=to_m
        )
        least_s = quickest_s(laid, NEXT, from_m, to_m)
        over.append(spent_s(route, from_m, to_m) / least_s)
    assert min(over) >= 1.0 - 1e-9
    assert max(over) < 2.0
    assert np.mean(over) < 1.02


def side_by_side(lengths_m: list[float], rows: list[int]) -> Rows:
    """Return rows of several pieces along one heading, one to the east of the other."""
    spans, indices = [], []
    for row in range(max(rows)):
        west_m = 0.0
        for length_m, count in zip(lengths_m, rows, strict=True):
            if row < count:
                spans.append((west_m, west_m + length_m))
                indices.append(row)
            west_m += length_m + 25.0
    return Rows(
        heading_rad=0.0,
        rows_count=max(rows),
        row_indices=np.asarray(indices),
        spans_m=np.asarray(spans),
        middles_m=10.0 * np.asarray(indices) + 5.0,
    )


# --- the way round ------------------------------------------------------------------------------


def test_the_way_round_a_pond_goes_over_its_corners() -> None:
    """A pond of 40 x 30 m, 30 m off: 5 m below its top, clear of it, and across its middle."""
    field = drawn("0,0 300,0 300,100 0,100", "130,40 170,40 170,70 130,70")
    ways_m = way_round_m(
        np.asarray([[100.0, 65.0], [100.0, 20.0], [100.0, 54.0]]),
        np.asarray([[200.0, 65.0], [200.0, 20.0], [200.0, 54.0]]),
        ground=ground_of(field.shape),
    )
    over_m, under_m = math.hypot(30.0, 5.0), math.hypot(30.0, 14.0)
    assert ways_m.tolist() == pytest.approx([2 * over_m + 40.0, 100.0, 2 * under_m + 40.0])


def test_the_way_between_two_arms_goes_round_the_notch() -> None:
    """A U: from arm to arm, 10 m and 20 m from its inner corners, and 100 m along its bottom."""
    field = drawn("0,0 300,0 300,60 200,60 200,30 100,30 100,60 0,60")
    (way_m,) = way_round_m(
        np.asarray([[90.0, 50.0]]), np.asarray([[210.0, 50.0]]), ground=ground_of(field.shape)
    )
    assert way_m == pytest.approx(2 * math.hypot(10.0, 20.0) + 100.0)


def pulled_tight(ground: shapely.Polygon, start_m: FloatArray, end_m: FloatArray) -> float:
    """Return the way with a rope pulled tight round the edges that the straight way crosses."""
    line = shapely.LineString([start_m, end_m])
    ahead = (end_m - start_m) / line.length
    corners_m = [np.empty((0, 2))]
    for piece in shapely.get_parts(shapely.difference(line, ground)):
        if piece.is_empty:
            continue
        first, last = (shapely.Point(corner) for corner in (piece.coords[0], piece.coords[-1]))
        for ring in (ground.exterior, *ground.interiors):
            if max(ring.distance(first), ring.distance(last)) > 1e-6:
                continue
            low_m, high_m = sorted((ring.project(first), ring.project(last)))
            ring_m = shapely.get_coordinates(ring)
            arcs_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring_m, axis=0).T))])
            between = (low_m < arcs_m) & (arcs_m < high_m)
            shorter = between if high_m - low_m <= 0.5 * ring.length else ~between
            corners_m.append(ring_m[shorter])
    found_m = np.concatenate(corners_m)
    left_m = (found_m - start_m) @ np.asarray([-ahead[1], ahead[0]])
    total_m = line.length
    for side in (left_m > 0.0, left_m < 0.0):
        hull = shapely.MultiPoint(np.vstack([start_m, found_m[side], end_m])).convex_hull
        if side.any():
            total_m += hull.length - 2.0 * line.length
    return float(total_m)


@given(seed=st.integers(0, 100_000), draws=st.integers(0, 2**32 - 1))
@settings(max_examples=60)
def test_the_way_round_is_a_rope_pulled_tight(seed: int, draws: int) -> None:
    """Twenty random ways over a ragged field, some from beyond its edge."""
    shape = ragged_field(seed).shape
    ground = ground_of(shape)
    west_m, south_m, east_m, north_m = shape.bounds
    random = np.random.default_rng(draws)
    places_m = random.uniform((west_m, south_m), (east_m, north_m), (2, 20, 2))
    found_m = way_round_m(places_m[0], places_m[1], ground=ground)
    expected_m = [pulled_tight(shape, *pair) for pair in places_m.transpose(1, 0, 2)]
    np.testing.assert_allclose(found_m, expected_m, rtol=1e-9, atol=1e-4)
    assert (found_m >= np.hypot(*(places_m[1] - places_m[0]).T) - 1e-9).all()


@given(seed=st.integers(0, 100_000), draws=st.integers(0, 2**32 - 1))
@settings(max_examples=40)
def test_the_way_round_is_as_long_there_as_back(seed: int, draws: int) -> None:
    """Between places on the field it does not matter which comes first."""
    shape = ragged_field(seed).shape
    ground = ground_of(shape)
    west_m, south_m, east_m, north_m = shape.bounds
    random = np.random.default_rng(draws)
    places_m = random.uniform((west_m, south_m), (east_m, north_m), (40, 2))
    inside_m = places_m[shapely.contains_xy(shape, *places_m.T)]
    starts_m, ends_m = inside_m[:-1], inside_m[1:]
    there_m = way_round_m(starts_m, ends_m, ground=ground)
    back_m = way_round_m(ends_m, starts_m, ground=ground)
    np.testing.assert_allclose(there_m, back_m, rtol=1e-9)
