"""Rows of passes: counts and run ends by hand, and the same runs cut by other means."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import drawn, fields, rectangle
from ragged_fields import ragged_field
from shapely import affinity

from duskline.core.errors import OutOfRange
from duskline.core.outline import Outline
from duskline.core.rows import Rows, lay_rows, row_bottoms_m, rows_count

any_field = st.one_of(fields(), st.builds(ragged_field, st.integers(0, 100_000)))
widths = st.tuples(st.floats(3.0, 30.0), st.floats(0.0, 0.3))
# Ground that only brushes a strip is its neighbour's; shorter runs are nobody's. [m]
BRUSH_M, SCRAP_M = 1e-3, 0.5


def rings(field: Outline) -> tuple[np.ndarray, ...]:
    """Return all rings of a field."""
    return (field.exterior_m, *field.holes_m)


def laid(field: Outline, heading_deg: float, width_m: float, full_m: float | None = None) -> Rows:
    """Return rows over a field at a heading in degrees."""
    return lay_rows(
        rings(field),
        heading_rad=math.radians(heading_deg),
        driving_width_m=width_m,
        width_m=full_m,
    )


def cut_by_strips(
    field: Outline, heading_rad: float, driving_width_m: float, width_m: float
) -> list[tuple[int, float, float, float]]:
    """Return row, start, end and middle of every run from strips cut out of the field's ground.

    The plain way: a box for each row, its cut with the turned field, piece by piece.
    """
    turned = affinity.rotate(field.shape, -heading_rad, origin=(0.0, 0.0), use_radians=True)
    west_m, south_m, east_m, north_m = turned.bounds
    bottom_m, bottoms_m = south_m, []
    while bottom_m + width_m < north_m * (1.0 - 1e-15) - 1e-6:
        bottoms_m.append(bottom_m)
        bottom_m += driving_width_m
    bottoms_m.append(north_m - width_m if bottoms_m else 0.5 * (south_m + north_m - width_m))
    runs: list[tuple[int, float, float, float]] = []
    for row, bottom_m in enumerate(bottoms_m):
        strip = shapely.box(
            west_m - 1.0, bottom_m + BRUSH_M, east_m + 1.0, bottom_m + width_m - BRUSH_M
        )
        spans: list[list[float]] = []
        cut = shapely.get_parts(shapely.intersection(turned, strip))
        for west, _, east, _ in sorted(piece.bounds for piece in cut):
            if spans and west <= spans[-1][1] + BRUSH_M:
                spans[-1][1] = max(spans[-1][1], east)
            else:
                spans.append([west, east])
        runs.extend(
            (row, west, east, bottom_m + 0.5 * width_m)
            for west, east in spans
            if east - west > SCRAP_M
        )
    return runs


# --- counts -----------------------------------------------------------------------------------


def test_a_whole_number_of_widths_is_not_rounded_up_again() -> None:
    """400 m in rows of 10 m is 40; a tenth of a metre more is 41; nothing across is none."""
    assert rows_count(extent_m=40 * 9.14, driving_width_m=9.14) == 40
    assert rows_count(extent_m=400.0, driving_width_m=10.0) == 40
    assert rows_count(extent_m=400.1, driving_width_m=10.0) == 41
    assert rows_count(extent_m=0.0, driving_width_m=10.0) == 0


def test_an_overlap_needs_no_more_rows_than_the_last_one_leaves() -> None:
    """A tool 10 m wide driven every 9 m: 100 m take 11 rows, 10 + 10 x 9; 101 m take 12."""
    assert rows_count(extent_m=100.0, driving_width_m=9.0, width_m=10.0) == 11
    assert rows_count(extent_m=101.0, driving_width_m=9.0, width_m=10.0) == 12
    assert rows_count(extent_m=10.0, driving_width_m=9.0, width_m=10.0) == 1
    assert rows_count(extent_m=10.1, driving_width_m=9.0, width_m=10.0) == 2


@given(extent_m=st.floats(0.1, 2000.0), width=widths)
def test_as_few_rows_as_cover_the_ground(extent_m: float, width: tuple[float, float]) -> None:
    """So many rows reach across, one fewer would not."""
    driving_m, lap = width
    full_m = driving_m * (1.0 + lap)
    count = rows_count(extent_m=extent_m, driving_width_m=driving_m, width_m=full_m)
    assert full_m + (count - 1) * driving_m >= extent_m - 1e-6
    assert count == 1 or full_m + (count - 2) * driving_m < extent_m


@pytest.mark.parametrize(
    ("extent_m", "driving_width_m", "width_m"),
    [
        (-1.0, 9.0, None),
        (math.nan, 9.0, None),
        (400.0, 0.0, None),
        (400.0, -9.0, None),
        (400.0, math.nan, None),
        (400.0, 9.0, 8.9),
    ],
)
def test_counts_need_a_width_and_an_extent(
    extent_m: float, driving_width_m: float, width_m: float | None
) -> None:
    """No width, no passes to count; a tool is not narrower than the way from pass to pass."""
    with pytest.raises(OutOfRange):
        rows_count(extent_m=extent_m, driving_width_m=driving_width_m, width_m=width_m)


def test_the_last_row_laps_the_one_before_it() -> None:
    """105 m in rows of 10 m: eleven, the last begins at 95 m, 5 m over, none beyond the field."""
    bottoms_m = row_bottoms_m(south_m=0.0, north_m=105.0, driving_width_m=10.0, width_m=10.0)
    assert bottoms_m.tolist() == pytest.approx([*np.arange(0.0, 100.0, 10.0), 95.0])


def test_a_single_row_lies_in_the_middle() -> None:
    """8 m of ground and a tool of 10 m: a metre over on either side."""
    bottoms_m = row_bottoms_m(south_m=100.0, north_m=108.0, driving_width_m=9.0, width_m=10.0)
    assert bottoms_m.tolist() == pytest.approx([99.0])


# --- runs by hand -----------------------------------------------------------------------------


def test_rows_of_a_rectangle() -> None:
    """400 x 105 m along the long side, 10 m wide: eleven runs of 400 m, right hand first."""
    rows = laid(rectangle(400.0, 105.0), 0.0, 10.0)
    assert rows.rows_count == 11
    assert rows.row_indices.tolist() == list(range(11))
    assert rows.lengths_m.tolist() == pytest.approx([400.0] * 11)
    assert rows.middles_m.tolist() == pytest.approx([*np.arange(5.0, 100.0, 10.0), 100.0])
    assert rows.ends_m()[0].tolist() == [pytest.approx([0.0, 5.0]), pytest.approx([400.0, 5.0])]


def test_rows_to_the_north_count_from_the_east() -> None:
    """Heading north the right hand is the east: the first row of 400 m lies there."""
    rows = laid(rectangle(400.0, 105.0), 90.0, 10.0)
    ends_m = rows.ends_m()
    assert rows.rows_count == 40
    assert ends_m[0].tolist() == [pytest.approx([395.0, 0.0]), pytest.approx([395.0, 105.0])]
    assert ends_m[-1, 1].tolist() == pytest.approx([5.0, 105.0])


def test_point_rows_of_a_triangle_run_to_their_far_side() -> None:
    """Corners 0,0 300,0 0,300 along the base, 10 m wide: row j lasts 300 - 10 j, less a hair.

    The hair: a strip is narrowed by a millimetre on both sides.
    """
    rows = laid(drawn("0,0 300,0 0,300"), 0.0, 10.0)
    assert rows.rows_count == 30
    by_hand_m = [300.0 - 10.0 * row - 1e-3 for row in range(30)]
    assert rows.lengths_m.tolist() == pytest.approx(by_hand_m, abs=1e-9)


def test_a_pond_breaks_the_rows_that_meet_it() -> None:
    """A pond from y = 15 to 35 in rows of 10 m: rows 1, 2 and 3 are broken at x = 40 and 60."""
    rows = laid(drawn("0,0 100,0 100,100 0,100", "40,15 60,15 60,35 40,35"), 0.0, 10.0)
    # Rows 1 and 3 have ground on one side of the pond, so they are driven right through.
    runs_count = np.bincount(rows.row_indices, minlength=10)
    assert runs_count.tolist() == [1, 1, 2, 1, 1, 1, 1, 1, 1, 1]
    broken_m = rows.spans_m[rows.row_indices == 2]
    assert broken_m.tolist() == [pytest.approx([0.0, 40.0]), pytest.approx([60.0, 100.0])]


def test_a_bay_deeper_than_the_strip_makes_two_runs_and_a_shallow_one_does_not() -> None:
    """A notch from the south, 10 m wide strips: 10 m deep it parts row 0; 9 m deep it does not."""
    deep = laid(drawn("0,0 40,0 40,10 60,10 60,0 100,0 100,50 0,50"), 0.0, 10.0)
    shallow = laid(drawn("0,0 40,0 40,9 60,9 60,0 100,0 100,50 0,50"), 0.0, 10.0)
    assert np.bincount(deep.row_indices).tolist() == [2, 1, 1, 1, 1]
    assert np.bincount(shallow.row_indices).tolist() == [1, 1, 1, 1, 1]


def test_a_scrap_is_not_driven() -> None:
    """A spur 40 cm long over the last row gets no run of its own; one of 60 cm does."""
    for spur_m, runs in ((0.4, 2), (0.6, 3)):
        field = drawn(f"0,0 100,0 100,20 {50 + spur_m},20 {50 + spur_m},30 50,30 50,20 0,20")
        assert len(laid(field, 0.0, 10.0).row_indices) == runs


# --- the same runs by other means -------------------------------------------------------------


@given(field=any_field, heading_rad=st.floats(0.0, math.pi), width=widths)
@settings(max_examples=150)
def test_runs_are_those_of_strips_cut_from_the_ground(
    field: Outline, heading_rad: float, width: tuple[float, float]
) -> None:
    """Row by row the same runs, their ends to a tenth of a millimetre."""
    driving_m, lap = width
    full_m = driving_m * (1.0 + lap)
    rows = lay_rows(
        rings(field), heading_rad=heading_rad, driving_width_m=driving_m, width_m=full_m
    )
    expected = cut_by_strips(field, heading_rad, driving_m, full_m)
    assert rows.row_indices.tolist() == [row for row, *_ in expected]
    found = np.column_stack([rows.spans_m, rows.middles_m])
    np.testing.assert_allclose(found, [run[1:] for run in expected], rtol=0.0, atol=1e-4)


@given(field=any_field, heading_rad=st.floats(0.0, math.pi), width_m=st.floats(3.0, 30.0))
@settings(max_examples=60)
def test_rows_go_over_all_the_ground(field: Outline, heading_rad: float, width_m: float) -> None:
    """What the runs leave is hairs between strips and scraps."""
    rows = lay_rows(rings(field), heading_rad=heading_rad, driving_width_m=width_m)
    driven = shapely.union_all(
        shapely.buffer(shapely.linestrings(rows.ends_m()), 0.5 * width_m, cap_style="flat"),
        grid_size=1e-4,
    )
    left_m2 = field.shape.difference(driven).area
    assert left_m2 < rows.rows_count * (SCRAP_M * width_m + 0.1)
    assert left_m2 < 1e-3 * field.area_m2 + 1.0


@given(field=any_field, heading_rad=st.floats(0.0, math.pi), width_m=st.floats(3.0, 30.0))
@settings(max_examples=60)
def test_a_heading_and_its_opposite_lay_the_same_length(
    field: Outline, heading_rad: float, width_m: float
) -> None:
    """Seen from the other end rows count from the other side; a single row is the same one."""
    there = lay_rows(rings(field), heading_rad=heading_rad, driving_width_m=width_m)
    back = lay_rows(rings(field), heading_rad=heading_rad + math.pi, driving_width_m=width_m)
    assert there.rows_count == back.rows_count
    if there.rows_count == 1:
        np.testing.assert_allclose(there.lengths_m, back.lengths_m[::-1], atol=1e-6)
    moved = Outline(
        exterior_m=field.exterior_m + 40.0, holes_m=tuple(h + 40.0 for h in field.holes_m)
    )
    elsewhere = lay_rows(rings(moved), heading_rad=heading_rad, driving_width_m=width_m)
    assert elsewhere.lengths_m.sum() == pytest.approx(there.lengths_m.sum(), abs=1e-3)
