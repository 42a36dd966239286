"""Ground worked once, twice, missed and outside against shapely's exact unions.

Shapely (GEOS, https://libgeos.org) computes the very geometry; ours adds up lengths along lines
and shares of cells. Two ways that share no code.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from made_fields import drawn, rectangle

from duskline.core.coverage import (
    Grid,
    Rings,
    coverage,
    ground_worked,
    path_rings,
    rings_of,
    swath_rings,
    worked,
)
from duskline.core.outline import FloatArray, Outline

UNION_TOLERANCE = 1e-5
SUM_TOLERANCE = 1e-9
CELL_M = 0.2


def slanted(count: int, *, spacing_m: float, lean_m: float) -> FloatArray:
    """Straight passes side by side, 900 m long. (n, 2, 2)"""
    east = 20.0 + spacing_m * np.arange(count)
    start = np.column_stack([east, np.full(count, 50.0)])
    return np.stack([start, start + np.array([lean_m, 900.0])], axis=1)


def turned(lines: FloatArray, angle_rad: float) -> FloatArray:
    """The same passes turned about the middle of the ground."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    middle = np.array([500.0, 500.0])
    found: FloatArray = (lines - middle) @ np.array([[c, s], [-s, c]]) + middle
    return found


RAGGED = drawn(
    "60,80 940,40 970,600 700,640 720,930 300,960 280,700 40,720",
    "400,300 460,310 450,380 390,370",
    "600,500 640,500 640,520 600,520",
)

LAID = {
    "300 passes lapping 6 %": slanted(300, spacing_m=3.2, lean_m=15.0),
    "300 passes lapping, east and west": turned(slanted(300, spacing_m=3.2, lean_m=0.0), np.pi / 2),
    "100 passes leaving gaps": turned(slanted(100, spacing_m=9.3, lean_m=0.0), 0.7),
    "two sets that cross at 4 degrees": np.concatenate(
        [
            turned(slanted(70, spacing_m=12.0, lean_m=0.0), 0.3),
            turned(slanted(95, spacing_m=8.5, lean_m=0.0), 0.37),
        ]
    ),
    "steered by hand, every pass its own way": slanted(100, spacing_m=8.9, lean_m=0.0)
    + np.random.default_rng(5).normal(0.0, 0.3, (100, 2, 2)),
}
WIDTHS_M = dict(zip(LAID, (3.4, 3.4, 9.0, 9.0, 9.0), strict=True))


def more_than_once(shapes: list[shapely.Geometry]) -> shapely.Geometry:
    """The ground that two or more shapes share: the tree finds the pairs."""
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes, predicate="intersects")
    pairs = first < second
    every = np.array(shapes, dtype=object)
    shared = shapely.intersection(every[first[pairs]], every[second[pairs]])
    return shapely.union_all([part for part in shared if part.area > 0.0])


@pytest.mark.parametrize("name", LAID)
@pytest.mark.parametrize("field", [RAGGED, rectangle(1000.0, 1000.0)], ids=["ragged", "square"])
def test_areas_of_a_field_agree_with_exact_unions(name: str, field: Outline) -> None:
    """Once, twice, missed and outside within 1e-5 of the field, whatever way passes lie."""
    rings = swath_rings(LAID[name], width_m=WIDTHS_M[name])
    found = worked(field, rings)
    shapes = list(rings.shapes)
    union, again = shapely.union_all(shapes), more_than_once(shapes)
    tolerance_m2 = UNION_TOLERANCE * field.area_m2
    inside_m2 = union.intersection(field.shape).area
    assert abs(found.once_m2 + found.twice_m2 - inside_m2) < tolerance_m2
    assert abs(found.twice_m2 - again.intersection(field.shape).area) < tolerance_m2
    assert abs(found.missed_m2 - field.shape.difference(union).area) < tolerance_m2
    assert abs(found.outside_m2 - union.difference(field.shape).area) < tolerance_m2
    assert abs(found.once_m2 + found.twice_m2 + found.missed_m2 - field.area_m2) < 0.1


@pytest.mark.parametrize("name", LAID)
def test_the_sum_of_pass_areas_is_exact(name: str) -> None:
    """Map of 0.2 m cells added up against the rectangles' length times width: nine digits."""
    rings = swath_rings(LAID[name], width_m=WIDTHS_M[name])
    by_hand_m2 = WIDTHS_M[name] * float(np.hypot(*(LAID[name][:, 1] - LAID[name][:, 0]).T).sum())
    depth = coverage(Grid.around(rings.coords_m, cell_m=CELL_M), rings)
    assert float(depth.sum(dtype=np.float64)) * CELL_M**2 == pytest.approx(
        by_hand_m2, rel=SUM_TOLERANCE
    )


def test_single_cells_agree_with_shapely() -> None:
    """Each cell's share of 12 bent and crossing rings, cut out by shapely."""
    along = np.linspace(0.0, 30.0, 40)
    parts = [
        path_rings(np.column_stack([along, 2.0 * k + 3.0 + 0.8 * np.sin(0.4 * along)]), width_m=2.3)
        for k in range(8)
    ]
    parts.append(swath_rings(turned(LAID["100 passes leaving gaps"][:4], 1.0) / 30.0, width_m=1.1))
    rings = rings_of(*parts)
    grid = Grid(origin_m=(0.0, 0.0), cell_m=0.75, rows=30, columns=35)
    depth = coverage(grid, rings)
    shapes = rings.shapes
    assert shapely.is_valid(shapes).all()
    for row in range(grid.rows):
        for column in range(0, grid.columns, 3):
            cell = shapely.box(0.75 * column, 0.75 * row, 0.75 * (column + 1), 0.75 * (row + 1))
            share = shapely.intersection(shapes, cell)
            assert depth[row, column] == pytest.approx(
                shapely.area(share).sum() / grid.cell_m2, abs=1e-6
            )


def test_a_swept_half_turn_agrees_with_a_buffered_line() -> None:
    """Turning circles of 1 to 12 m with a machine 9 m wide against shapely's flat-ended buffer.

    Shapely's own arcs and simplifying leave it a tenth of a percent from the true ground.
    """
    for radius_m in (1.0, 2.0, 4.0, 4.6, 6.5, 12.0):
        angle = np.linspace(-np.pi / 2, np.pi / 2, 40)
        bend = np.column_stack([50.0 + radius_m * np.cos(angle), radius_m * np.sin(angle)])
        path = np.concatenate([[[0.0, -radius_m]], bend, [[0.0, radius_m]]])
        line = shapely.LineString(path)
        buffered = line.buffer(4.5, cap_style="flat", join_style="round", quad_segs=64)
        ground = ground_worked(path_rings(path, width_m=9.0))
        # Where the runs out and home lap each other, both count: only the union is compared.
        assert ground.worked_m2 == pytest.approx(buffered.area, rel=2e-3), radius_m


def test_even_lines_keep_within_the_tolerance_on_a_dense_track() -> None:
    """60 wavering passes of 300 points, two ways over: more corners than lines."""
    along = np.linspace(60.0, 900.0, 300)
    rng = np.random.default_rng(3)
    parts: list[Rings] = []
    for k in range(60):
        sway = 0.25 * np.convolve(rng.normal(size=309), np.ones(10) / 10**0.5, mode="valid")
        path = np.column_stack([along, 100.0 + 8.6 * k + sway])
        parts.append(path_rings(path, width_m=9.0))
    rings = rings_of(*parts)
    assert len(rings.coords_m) > 30_000
    shapes = list(rings.shapes)
    found = worked(RAGGED, rings)
    union, again = shapely.union_all(shapes), more_than_once(shapes)
    tolerance_m2 = UNION_TOLERANCE * RAGGED.area_m2
    assert abs(found.missed_m2 - RAGGED.shape.difference(union).area) < tolerance_m2
    assert abs(found.twice_m2 - again.intersection(RAGGED.shape).area) < tolerance_m2
    assert abs(found.outside_m2 - union.difference(RAGGED.shape).area) < tolerance_m2
