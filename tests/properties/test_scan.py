"""What must hold for rows across any field at any heading."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import fields
from ragged_fields import ragged_field

from duskline.core.outline import Outline
from duskline.core.scan import runs_at, scan_headings

headings = st.floats(0.0, math.pi)
widths = st.floats(3.0, 40.0)
seeds = st.integers(0, 100_000)
any_field = st.one_of(fields(), st.builds(ragged_field, seeds))


@given(field=any_field, heading_rad=headings, width_m=widths)
@settings(max_examples=60)
def test_the_runs_laid_out_are_the_runs_counted(
    field: Outline, heading_rad: float, width_m: float
) -> None:
    """One heading by itself gives the length, the runs and the rows of the scan."""
    scan = scan_headings([field], headings_rad=np.asarray([heading_rad]), width_m=width_m)
    runs = runs_at([field], heading_rad=heading_rad, width_m=width_m)
    lengths_m = runs.end_along_m - runs.start_along_m
    assert (lengths_m >= 0.0).all()
    np.testing.assert_allclose(lengths_m.sum(), scan.lengths_m[0], rtol=1e-9, atol=1e-6)
    assert len(runs.row_indices) == scan.runs_count[0]
    assert len(runs.middles_across_m) == scan.rows_count[0]


@given(field=any_field, heading_rad=headings, width_m=widths)
@settings(max_examples=60)
def test_many_narrow_rows_measure_the_ground(
    field: Outline, heading_rad: float, width_m: float
) -> None:
    """Length times width is the area, but for the last row's lap and the slanted ends.

    Each row misses or gains at most half its width of ground at every end and corner.
    """
    scan = scan_headings([field], headings_rad=np.asarray([heading_rad]), width_m=width_m / 10.0)
    edges_m = sum(
        float(np.hypot(*(np.roll(ring_m, -1, axis=0) - ring_m).T).sum())
        for ring_m in (field.exterior_m, *field.holes_m)
    )
    longest_m = float(np.hypot(*np.ptp(field.exterior_m, axis=0)))
    room_m2 = width_m / 10.0 * (edges_m + longest_m)
    assert abs(scan.lengths_m[0] * width_m / 10.0 - field.area_m2) <= room_m2


@given(seed=seeds, heading_rad=headings)
@settings(max_examples=30)
def test_a_wider_machine_never_drives_more_rows(seed: int, heading_rad: float) -> None:
    """Rows fall as the width grows."""
    field = ragged_field(seed)
    rows = [
        int(
            scan_headings(
                [field], headings_rad=np.asarray([heading_rad]), width_m=width_m
            ).rows_count[0]
        )
        for width_m in (6.0, 8.7, 12.0, 18.0)
    ]
    assert rows == sorted(rows, reverse=True)
