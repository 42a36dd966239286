"""Exact shares of cells, what passes sweep, and a field's ground by how often it is worked."""

from __future__ import annotations

import math

import numpy as np
import pytest
from made_fields import drawn, rectangle

from duskline.core.coverage import (
    DepthMap,
    Grid,
    Rings,
    coverage,
    ground_worked,
    path_rings,
    rings_of,
    swath_rings,
    worked,
)
from duskline.core.errors import OutlineRefused, OutOfRange
from duskline.core.outline import FloatArray


def ring(*corners: tuple[float, float]) -> Rings:
    """One ring of these corners."""
    return Rings(coords_m=np.array(corners), offsets=np.array([0, len(corners)]))


def grid(rows: int, columns: int, *, cell_m: float = 1.0) -> Grid:
    """A grid with its corner at the origin."""
    return Grid(origin_m=(0.0, 0.0), cell_m=cell_m, rows=rows, columns=columns)


def plain_coverage(cells: Grid, rings: Rings) -> FloatArray:
    """The oracle: each ring cut to each cell, side by side, and its area by the shoelace.

    Cutting a ring that bends inwards leaves coinciding edges, which add no area.
    """
    depth = np.zeros((cells.rows, cells.columns))
    for low, high in zip(rings.offsets[:-1], rings.offsets[1:], strict=True):
        for row in range(cells.rows):
            for column in range(cells.columns):
                corners = [
                    (x / cells.cell_m - column, y / cells.cell_m - row)
                    for x, y in rings.coords_m[low:high] - np.array(cells.origin_m)
                ]
                for axis, limit, keeps_more in (
                    (0, 0, True),
                    (0, 1, False),
                    (1, 0, True),
                    (1, 1, False),
                ):
                    corners = plain_cut(corners, axis, float(limit), keeps_more=keeps_more)
                depth[row, column] += plain_area(corners)
    return depth


def plain_cut(
    corners: list[tuple[float, float]], axis: int, limit: float, *, keeps_more: bool
) -> list[tuple[float, float]]:
    """A ring cut along one side of the unit cell."""
    kept = []
    for here, there in zip(corners, corners[1:] + corners[:1], strict=True):
        inside = [
            (point[axis] >= limit) == keeps_more or point[axis] == limit for point in (here, there)
        ]
        if inside[0]:
            kept.append(here)
        if inside[0] != inside[1]:
            share = (limit - here[axis]) / (there[axis] - here[axis])
            cut = [a + share * (b - a) for a, b in zip(here, there, strict=True)]
            cut[axis] = limit
            kept.append((cut[0], cut[1]))
    return kept


def plain_area(corners: list[tuple[float, float]]) -> float:
    """Shoelace area, left-turning positive."""
    following = corners[1:] + corners[:1]
    return 0.5 * sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, following, strict=True))


def total(depth: DepthMap) -> float:
    """All cells added up in double precision."""
    return float(depth.sum(dtype=np.float64))


# --- shares of cells -----------------------------------------------------------------------


def test_a_triangle_over_four_cells_by_hand() -> None:
    """Right triangle with legs of 2 m on four cells of 1 m: 1, 1/2, 1/2 and 0."""
    depth = coverage(grid(2, 2), ring((0, 0), (2, 0), (0, 2)))
    assert depth.tolist() == [[1.0, 0.5], [0.5, 0.0]]


def test_a_strip_that_lies_within_one_column_of_cells() -> None:
    """A strip 0.25 m wide and 2.5 m long: a quarter of two cells and an eighth of the third."""
    depth = coverage(grid(3, 3), ring((1.5, 0.0), (1.75, 0.0), (1.75, 2.5), (1.5, 2.5)))
    assert depth[:, 1].tolist() == [0.25, 0.25, 0.125]
    assert depth[:, [0, 2]].tolist() == [[0.0, 0.0]] * 3


def test_every_cell_agrees_with_cutting_rings_to_cells_one_by_one() -> None:
    """Slanted, crossing and inward-bending rings on 9 x 11 cells, as the plain form says."""
    rings = rings_of(
        swath_rings(np.array([[[1.3, 0.4], [9.1, 7.7]], [[0.2, 8.5], [10.4, 8.3]]]), width_m=1.7),
        ring((0.5, 0.5), (10.2, 1.1), (9.9, 8.0), (5.0, 2.0), (0.7, 7.9)),
    )
    cells = grid(9, 11)
    assert np.abs(coverage(cells, rings) - plain_coverage(cells, rings)).max() < 5e-7


def test_ground_beyond_the_grid_is_left_out_on_every_side() -> None:
    """A ring that leaves the grid to all four sides, as the plain form says."""
    rings = ring((-3.2, 2.1), (3.3, -2.4), (8.6, 3.2), (2.2, 7.9))
    cells = grid(5, 6)
    assert np.abs(coverage(cells, rings) - plain_coverage(cells, rings)).max() < 5e-7
    far = coverage(cells, ring((20.0, 1.0), (30.0, 1.0), (30.0, 4.0)))
    assert far.max() == 0.0


def test_a_ring_turning_right_takes_ground_away() -> None:
    """A pond of 1 m2 in 9 m2: eight whole cells and an empty one."""
    outer = ring((0, 0), (3, 0), (3, 3), (0, 3))
    pond = ring((1, 1), (1, 2), (2, 2), (2, 1))
    depth = coverage(grid(3, 3), rings_of(outer, pond))
    assert total(depth) == pytest.approx(8.0, abs=1e-12)
    assert depth[1, 1] == 0.0


def test_passes_add_up_where_they_lap() -> None:
    """Three passes of 4 m laid 3 m apart, depth 2 in the lapped metre."""
    lines = np.array([[[0.0, y], [5.0, y]] for y in (2.0, 5.0, 8.0)])
    depth = coverage(grid(10, 5), swath_rings(lines, width_m=4.0))
    assert depth[:, 0].tolist() == [1, 1, 1, 2, 1, 1, 2, 1, 1, 1]


def test_threads_change_no_figure() -> None:
    """One thread and three give the same map to the last bit, in bands of rows."""
    lines = np.array([[[5.0, 3.0 * k], [480.0, 3.0 * k + 40.0]] for k in range(60)])
    cells = grid(1000, 1500, cell_m=0.33)
    rings = swath_rings(lines, width_m=3.4)
    assert (coverage(cells, rings) == coverage(cells, rings, workers=3)).all()


def test_no_ring_covers_nothing() -> None:
    """A field nobody has been to."""
    nothing = Rings(coords_m=np.empty((0, 2)), offsets=np.zeros(1, dtype=np.int64))
    assert coverage(grid(4, 4), nothing).max() == 0.0
    assert ground_worked(nothing).worked_m2 == 0.0
    assert worked(rectangle(40.0, 20.0), nothing).missed_m2 == pytest.approx(800.0)


# --- what is swept -------------------------------------------------------------------------


def test_a_straight_pass_is_length_times_width() -> None:
    """100 m by 9 m, whichever way it is driven, far from the origin too."""
    there = np.array([[[4e5, 4.6e6], [4e5 + 60.0, 4.6e6 + 80.0]]])
    rings = rings_of(swath_rings(there, width_m=9.0), swath_rings(there[:, ::-1], width_m=9.0))
    assert rings.areas_m2 == pytest.approx([900.0, 900.0], rel=1e-9)


def test_a_gentle_bend_sweeps_length_times_width() -> None:
    """A wide curve of 40 short steps: the lengths of its steps times the width, exactly."""
    angle = np.linspace(0.0, 2.0, 41)
    path = 60.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    length = np.hypot(*np.diff(path, axis=0).T).sum()
    rings = path_rings(path, width_m=9.0)
    assert len(rings) == 1
    assert rings.areas_m2.sum() == pytest.approx(9.0 * length, rel=1e-12)
    assert ground_worked(rings).twice_m2 == pytest.approx(0.0, abs=1e-6)


def test_a_square_corner_counts_its_inner_ground_once() -> None:
    """20 m out, 20 m left, 8 m wide: two rectangles, less the 4 x 4 m both sweep inside, and a
    quarter of a 4 m circle outside: 2 x 160 - 16 + 4 pi.
    """
    path = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 20.0]])
    rings = path_rings(path, width_m=8.0)
    by_hand = 2 * 160.0 - 16.0 + 4.0 * math.pi
    assert rings.areas_m2.sum() == pytest.approx(by_hand, rel=1e-4)
    ground = ground_worked(rings)
    assert ground.worked_m2 == pytest.approx(by_hand, rel=1e-4)
    assert ground.twice_m2 == pytest.approx(0.0, abs=1e-6)


def test_a_turn_within_half_the_width_sweeps_one_half_circle() -> None:
    """A half turn of 2 m radius with a machine 9 m wide, run in and out 20 m.

    Outer edge a half circle of 2 + 4.5 m; the runs lie 4 m apart and lap 5 m: together 13 m wide.
    """
    angle = np.linspace(-0.5 * math.pi, 0.5 * math.pi, 25)
    bend = np.column_stack([20.0 + 2.0 * np.cos(angle), 2.0 + 2.0 * np.sin(angle)])
    path = np.concatenate([[[0.0, 0.0]], bend, [[0.0, 4.0]]])
    ground = ground_worked(path_rings(path, width_m=9.0))
    outer = 20.0 * 13.0 + 0.5 * math.pi * 6.5**2
    assert ground.worked_m2 == pytest.approx(outer, rel=2e-3)


def test_a_second_round_counts_again() -> None:
    """Twice round the same wide circle: all of the ring of ground is worked twice."""
    angle = np.linspace(0.0, 4.0 * math.pi, 401)
    path = 50.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    ground = ground_worked(path_rings(path, width_m=6.0))
    assert ground.summed_m2 == pytest.approx(2.0 * ground.worked_m2, rel=1e-5)
    assert ground.twice_m2 == pytest.approx(ground.worked_m2, rel=1e-4)


def test_standing_still_sweeps_nothing() -> None:
    """A machine that stands, or a path of one point, works no ground."""
    assert len(path_rings(np.array([[3.0, 4.0]] * 5), width_m=6.0)) == 0
    still = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 0.0], [20.0, 0.0]])
    assert path_rings(still, width_m=6.0).areas_m2.sum() == pytest.approx(120.0)


# --- a field's ground ----------------------------------------------------------------------


def test_a_field_worked_with_lap_and_a_skip_by_hand() -> None:
    """100 m x 30 m, passes of 9 m at 4.5, 13 and 23 m: 0.5 m lapped, 0.5 m skipped, 2.5 m left.

    Middle lines: ground 0-9, 8.5-17.5, 18.5-27.5. Lapped 0.5 m, skipped 1 m, 2.5 m at the top.
    """
    lines = np.array([[[0.0, y], [100.0, y]] for y in (4.5, 13.0, 23.0)])
    found = worked(rectangle(100.0, 30.0), swath_rings(lines, width_m=9.0))
    assert found.twice_m2 == pytest.approx(50.0)
    assert found.missed_m2 == pytest.approx(350.0)
    assert found.once_m2 == pytest.approx(2600.0)
    assert found.outside_m2 == pytest.approx(0.0, abs=1e-9)
    assert found.missed_fraction == pytest.approx(350.0 / 3000.0)
    assert found.twice_fraction == pytest.approx(50.0 / 3000.0)


def test_ground_beyond_the_outline_and_in_a_pond_is_outside() -> None:
    """A pass 10 m wide through 60 m of field with a 4 m pond, 5 m beyond both ends: 100 + 16."""
    field = drawn("0,0 60,0 60,40 0,40", "30,18 34,18 34,22 30,22")
    lines = np.array([[[-5.0, 20.0], [65.0, 20.0]]])
    found = worked(field, swath_rings(lines, width_m=10.0))
    assert found.outside_m2 == pytest.approx(116.0)
    assert found.once_m2 == pytest.approx(600.0 - 16.0)
    assert found.summed_m2 == pytest.approx(700.0)


def test_a_field_worked_far_beyond_its_edges_misses_nothing() -> None:
    """A slanted field worked to its very edge misses nothing; all the rest lies outside."""
    field = drawn("0,0 70,7 64,67 -6,60")
    whole = ring((-20, -20), (90, -20), (90, 90), (-20, 90))
    found = worked(field, whole)
    assert found.missed_m2 == pytest.approx(0.0, abs=1e-6)
    assert found.once_m2 == pytest.approx(field.area_m2)
    assert found.outside_m2 == pytest.approx(110.0**2 - field.area_m2)


def test_the_map_is_kept_only_when_asked_for() -> None:
    """The areas are the same with the map and without."""
    lines = np.array([[[0.0, y], [100.0, y + 3.0]] for y in (4.5, 13.0, 23.0)])
    rings = swath_rings(lines, width_m=9.0)
    bare, full = (worked(rectangle(100.0, 30.0), rings, cell_m=cell_m) for cell_m in (None, 0.5))
    assert bare.depth is None
    assert full.depth is not None
    assert full.grid is not None
    assert full.depth.shape == (full.grid.rows, full.grid.columns)
    assert total(full.depth) * 0.25 == pytest.approx(rings.areas_m2.sum(), rel=1e-7)
    assert bare.missed_m2 == full.missed_m2


def test_passes_that_cross_are_exact_too() -> None:
    """Two passes that cross in a flat V: gap and lap meet in a point, as the exact union says."""
    lines = np.array([[[0.0, 20.0], [200.0, 27.0]], [[0.0, 31.0], [200.0, 29.0]]])
    rings = swath_rings(lines, width_m=9.0)
    shapes = rings.shapes
    ground = ground_worked(rings)
    assert ground.worked_m2 == pytest.approx(shapes[0].union(shapes[1]).area, rel=1e-7)
    assert ground.twice_m2 == pytest.approx(shapes[0].intersection(shapes[1]).area, abs=1e-3)


def test_the_same_pass_again_is_all_worked_twice() -> None:
    """Guided along the very same line: no ground more, all of it twice."""
    line = np.array([[[3.0, 4.0], [603.0, 54.0]]])
    ground = ground_worked(swath_rings(np.concatenate([line, line[:, ::-1]]), width_m=9.0))
    assert ground.worked_m2 == pytest.approx(9.0 * math.hypot(600.0, 50.0), rel=1e-9)
    assert ground.twice_m2 == pytest.approx(ground.worked_m2, rel=1e-9)


def test_a_track_of_many_corners_is_measured_on_even_lines() -> None:
    """40 wavering passes of 400 points, more corners than lines: length times width still.

    They lie 12 m apart with 9 m of width and never touch.
    """
    along = np.linspace(0.0, 500.0, 400)
    paths = [np.column_stack([along, 12.0 * k + 0.4 * np.sin(0.11 * along + k)]) for k in range(40)]
    rings = rings_of(*(path_rings(path, width_m=9.0) for path in paths))
    assert len(rings.coords_m) > 30_000
    ground = ground_worked(rings)
    assert ground.twice_m2 < 1e-2
    assert ground.worked_m2 == pytest.approx(ground.summed_m2, rel=1e-6)


# --- refusals ------------------------------------------------------------------------------


def test_figures_that_cannot_be_are_refused() -> None:
    """No width, no cell, no length, no number, too many cells, too few corners."""
    line = np.array([[[0.0, 0.0], [10.0, 0.0]]])
    with pytest.raises(OutOfRange, match="width"):
        swath_rings(line, width_m=0.0)
    with pytest.raises(OutOfRange, match="width"):
        path_rings(line[0], width_m=-2.0)
    with pytest.raises(OutOfRange, match="length of a pass"):
        swath_rings(np.zeros((1, 2, 2)), width_m=3.0)
    with pytest.raises(OutOfRange, match="point of the path"):
        path_rings(np.array([[0.0, 0.0], [math.nan, 1.0]]), width_m=3.0)
    with pytest.raises(OutOfRange, match="corner"):
        ring((0.0, 0.0), (math.inf, 0.0), (1.0, 1.0))
    with pytest.raises(OutOfRange, match="cell"):
        grid(10, 10, cell_m=0.0)
    with pytest.raises(OutOfRange, match="cells"):
        grid(40_000, 40_000)
    with pytest.raises(OutlineRefused, match="three corners"):
        ring((0.0, 0.0), (1.0, 0.0))
