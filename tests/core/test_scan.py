"""The heading scan: rows worked by hand, and against shapely clipping the same rows."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from made_fields import corners, drawn, rectangle
from ragged_fields import ragged_field
from shapely import affinity

from duskline.core.errors import OutlineRefused, OutOfRange
from duskline.core.outline import FloatArray, Outline
from duskline.core.scan import Ground, Runs, Scan, runs_at, scan_headings

HEADINGS_RAD = np.radians(np.arange(180) + 0.3)
WIDTH_M = 8.7


def scanned(ground: Ground, heading_deg: float, width_m: float) -> Scan:
    """Return the scan of one heading."""
    return scan_headings(ground, headings_rad=np.radians([heading_deg]), width_m=width_m)


def along_heading(field: shapely.Geometry, heading_rad: float) -> shapely.Geometry:
    """Return a field turned so that the heading points east."""
    return affinity.rotate(field, -heading_rad, origin=(0.0, 0.0), use_radians=True)


def middles_by_hand(field: shapely.Geometry, width_m: float) -> FloatArray:
    """Return where rows lie across a field that is turned east, from the south side up."""
    _, south_m, _, north_m = field.bounds
    count = max(math.ceil((north_m - south_m) / width_m - 1e-9), 1)
    if count == 1:
        return np.asarray([0.5 * (south_m + north_m)])
    return np.asarray(
        [south_m + (row + 0.5) * width_m for row in range(count - 1)] + [north_m - 0.5 * width_m]
    )


def clipped(field: shapely.Geometry, heading_rad: float, width_m: float) -> tuple[float, int, int]:
    """Return length [m], runs and rows of one heading by clipping its lines with shapely."""
    turned = along_heading(field, heading_rad)
    middles_m = middles_by_hand(turned, width_m)
    west_m, _, east_m, _ = turned.bounds
    lines = shapely.MultiLineString(
        [[(west_m - 1.0, middle_m), (east_m + 1.0, middle_m)] for middle_m in middles_m]
    )
    inside = lines.intersection(turned)
    return inside.length, len(shapely.get_parts(inside)), len(middles_m)


def spans_of(runs: Runs) -> list[tuple[int, float, float]]:
    """Return row, start and end of every run."""
    return list(
        zip(
            runs.row_indices.tolist(),
            runs.start_along_m.tolist(),
            runs.end_along_m.tolist(),
            strict=True,
        )
    )


@pytest.mark.parametrize(
    ("heading_deg", "rows", "length_m"),
    [(0.0, 40, 40 * 800.0), (90.0, 80, 80 * 400.0), (180.0, 40, 40 * 800.0)],
)
def test_a_rectangle_is_whole_rows_of_its_side(
    heading_deg: float, rows: int, length_m: float
) -> None:
    """800 x 400 m in 10 m rows: 40 rows of 800 m, or 80 rows of 400 m, none broken."""
    scan = scanned([rectangle(800.0, 400.0)], heading_deg, 10.0)
    assert scan.lengths_m[0] == pytest.approx(length_m, rel=1e-12)
    assert (scan.rows_count[0], scan.runs_count[0]) == (rows, rows)


def test_the_last_row_is_moved_in_to_the_far_side() -> None:
    """A right triangle 100 by 100 m in 30 m rows: middles 15, 45, 75 and 85, not 105.

    By hand, along the base: 85 + 55 + 25 + 15 = 180 m.
    """
    scan = scanned([drawn("0,0 100,0 0,100")], 0.0, 30.0)
    assert scan.lengths_m[0] == pytest.approx(180.0)
    assert (scan.rows_count[0], scan.runs_count[0]) == (4, 4)


def test_a_field_narrower_than_the_machine_is_one_row_in_its_middle() -> None:
    """A triangle 100 m long and 6 m high, 10 m rows: one row at 3 m, half of the base."""
    scan = scanned([drawn("0,0 100,0 0,6")], 0.0, 10.0)
    assert scan.lengths_m[0] == pytest.approx(50.0)
    assert (scan.rows_count[0], scan.runs_count[0]) == (1, 1)


def test_a_pond_breaks_the_rows_it_lies_on() -> None:
    """100 x 100 m, a pond of 20 x 20 m in the middle, 10 m rows: two rows broken, 40 m less."""
    field = drawn("0,0 100,0 100,100 0,100", "40,40 60,40 60,60 40,60")
    scan = scanned([field], 0.0, 10.0)
    assert scan.lengths_m[0] == pytest.approx(10 * 100.0 - 2 * 20.0)
    assert scan.runs_count[0] == 12
    runs = runs_at([field], heading_rad=0.0, width_m=10.0)
    broken = [span for span in spans_of(runs) if span[0] in (4, 5)]
    assert broken == [(4, 0.0, 40.0), (4, 60.0, 100.0), (5, 0.0, 40.0), (5, 60.0, 100.0)]


def test_two_pieces_share_one_set_of_rows() -> None:
    """Two squares side by side with a gap: each row is driven in two runs."""
    pieces = [rectangle(50.0, 40.0), drawn("70,0 120,0 120,40 70,40")]
    scan = scanned(pieces, 0.0, 10.0)
    assert scan.lengths_m[0] == pytest.approx(400.0)
    assert (scan.rows_count[0], scan.runs_count[0]) == (4, 8)


def test_rings_serve_as_well_as_outlines() -> None:
    """What a headland leaves may be given as its rings, outer ones left-turning."""
    field = ragged_field(3)
    rings = (field.exterior_m, *field.holes_m)
    ours = scan_headings([field], headings_rad=HEADINGS_RAD, width_m=WIDTH_M)
    same = scan_headings(rings, headings_rad=HEADINGS_RAD, width_m=WIDTH_M)
    np.testing.assert_array_equal(ours.lengths_m, same.lengths_m)


@pytest.mark.parametrize("seed", range(12))
def test_every_heading_is_as_long_as_shapely_clips_it(seed: int) -> None:
    """180 headings across ragged fields: lengths to 1e-9, runs and rows exactly."""
    field = ragged_field(seed)
    scan = scan_headings([field], headings_rad=HEADINGS_RAD, width_m=WIDTH_M)
    plain = [clipped(field.shape, heading, WIDTH_M) for heading in HEADINGS_RAD.tolist()]
    np.testing.assert_allclose(scan.lengths_m, [length for length, _, _ in plain], rtol=1e-9)
    np.testing.assert_array_equal(scan.runs_count, [runs for _, runs, _ in plain])
    np.testing.assert_array_equal(scan.rows_count, [rows for _, _, rows in plain])


def test_a_row_lies_where_along_and_across_say() -> None:
    """Heading north (90 degrees) the right-hand row of a field is its eastern one."""
    field = drawn("100,0 140,0 140,200 100,200")
    runs = runs_at([field], heading_rad=math.pi / 2, width_m=20.0)
    np.testing.assert_allclose(runs.middles_across_m, [-130.0, -110.0])
    np.testing.assert_allclose(runs.start_along_m, 0.0, atol=1e-9)
    np.testing.assert_allclose(runs.end_along_m, 200.0)


def test_a_field_far_from_the_origin_scans_the_same() -> None:
    """Half a million metres off, as in a national grid: the same lengths to 1e-9."""
    field = ragged_field(5)
    shift_m = np.asarray([512_345.0, 4_876_543.0])
    away = Outline(
        exterior_m=field.exterior_m + shift_m,
        holes_m=tuple(hole_m + shift_m for hole_m in field.holes_m),
    )
    here = scan_headings([field], headings_rad=HEADINGS_RAD, width_m=WIDTH_M)
    there = scan_headings([away], headings_rad=HEADINGS_RAD, width_m=WIDTH_M)
    np.testing.assert_allclose(there.lengths_m, here.lengths_m, rtol=1e-9)


@pytest.mark.parametrize("width_m", [0.0, -8.7, math.nan, math.inf])
def test_a_width_that_is_none_is_refused(width_m: float) -> None:
    """Rows need a width above zero."""
    with pytest.raises(OutOfRange):
        scanned([rectangle(10.0, 10.0)], 0.0, width_m)


def test_what_is_no_ground_or_no_heading_is_refused() -> None:
    """Nothing to drive, a ring walked the wrong way round, a heading that is no number."""
    with pytest.raises(OutlineRefused, match="no ground"):
        scanned([], 0.0, 10.0)
    with pytest.raises(OutlineRefused, match="on their left"):
        scanned([corners("0,0 0,10 10,10 10,0")], 0.0, 10.0)
    with pytest.raises(OutOfRange):
        scanned([rectangle(10.0, 10.0)], math.nan, 10.0)
    with pytest.raises(OutOfRange):
        runs_at([rectangle(10.0, 10.0)], heading_rad=math.inf, width_m=10.0)
