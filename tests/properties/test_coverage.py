"""Ground is conserved: whatever is driven, the parts of a field add up and nothing is made."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import fields

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
from duskline.core.outline import Outline

WIDTHS_M = st.floats(2.0, 15.0)


@st.composite
def passes(draw: st.DrawFn) -> Rings:
    """Up to eight passes of any direction over 200 m of ground, some lapping, some crossing."""
    place = st.floats(-100.0, 100.0)
    width_m = draw(WIDTHS_M)
    lines = []
    for _ in range(draw(st.integers(1, 8))):
        start = np.array([draw(place), draw(place)])
        angle, length_m = draw(st.floats(0.0, math.tau)), draw(st.floats(1.0, 150.0))
        lines.append([start, start + length_m * np.array([math.cos(angle), math.sin(angle)])])
    return swath_rings(np.array(lines), width_m=width_m)


@given(passes())
@settings(max_examples=60)
def test_cells_hold_all_of_the_passes(rings: Rings) -> None:
    """The map added up is the passes added up, to nine digits, and no cell is below nothing."""
    depth = coverage(Grid.around(rings.coords_m, cell_m=1.7), rings)
    total_m2 = float(depth.sum(dtype=np.float64)) * 1.7**2
    assert total_m2 == pytest.approx(float(rings.areas_m2.sum()), rel=1e-7)
    assert depth.min() > -1e-6
    assert depth.max() < len(rings) + 1e-6


@given(fields(), passes())
@settings(max_examples=60)
def test_once_twice_and_missed_make_up_the_field(field: Outline, rings: Rings) -> None:
    """Every square metre of the field is in exactly one of the three."""
    found = worked(field, rings)
    parts = (found.once_m2, found.twice_m2, found.missed_m2, found.outside_m2)
    assert min(parts) >= 0.0
    assert sum(parts[:3]) == pytest.approx(field.area_m2, rel=1e-7)


@given(fields(), passes())
@settings(max_examples=60)
def test_inside_and_outside_make_up_the_ground_worked(field: Outline, rings: Rings) -> None:
    """What is worked inside and outside is what is worked, and never more than all passes."""
    found, ground = worked(field, rings), ground_worked(rings)
    inside_m2 = found.once_m2 + found.twice_m2
    # Crossings may each be a square centimetre out.
    assert inside_m2 + found.outside_m2 == pytest.approx(ground.worked_m2, rel=1e-7, abs=0.02)
    assert ground.worked_m2 + ground.twice_m2 <= ground.summed_m2 + 0.02


@given(fields(), passes(), passes())
@settings(max_examples=40)
def test_one_more_pass_never_leaves_more_missed(field: Outline, some: Rings, more: Rings) -> None:
    """Driving on misses no more ground and works no less of it twice."""
    before, after = worked(field, some), worked(field, rings_of(some, more))
    assert after.missed_m2 <= before.missed_m2 + 0.02
    assert after.twice_m2 >= before.twice_m2 - 0.02
    assert after.outside_m2 >= before.outside_m2 - 0.02


@given(passes(), st.floats(0.0, math.tau))
@settings(max_examples=40)
def test_turning_the_whole_field_changes_no_area(rings: Rings, angle_rad: float) -> None:
    """Ground does not know where north is."""
    turn = np.array(
        [[math.cos(angle_rad), math.sin(angle_rad)], [-math.sin(angle_rad), math.cos(angle_rad)]]
    )
    there = Rings(coords_m=rings.coords_m @ turn + [5e5, 4e6], offsets=rings.offsets)
    one, other = ground_worked(rings), ground_worked(there)
    assert one.worked_m2 == pytest.approx(other.worked_m2, rel=1e-7, abs=0.02)
    assert one.twice_m2 == pytest.approx(other.twice_m2, rel=1e-7, abs=0.02)


@given(st.lists(st.floats(-0.1, 0.1), min_size=2, max_size=60), WIDTHS_M)
@settings(max_examples=60)
def test_a_gently_bending_path_sweeps_its_length_times_its_width(
    bends: list[float], width_m: float
) -> None:
    """Steps of 8 m that turn up to 6 degrees each: nothing lost or counted twice at the bends."""
    angle = np.cumsum([0.0, *bends])
    path = np.cumsum(8.0 * np.column_stack([np.cos(angle), np.sin(angle)]), axis=0)
    swept_m2 = float(path_rings(path, width_m=width_m).areas_m2.sum())
    assert swept_m2 == pytest.approx(8.0 * (len(path) - 1) * width_m, rel=1e-9)
