"""The marks of a first pass: where it starts, what to aim at, worked by hand and back."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import drawn, fields, rectangle

from duskline.core.aim_mark import FirstPass, first_pass
from duskline.core.outline import FloatArray, Outline, sides
from duskline.core.rows import lay_rows

HALF_MILE = rectangle(800.0, 400.0)


def marks(field: Outline, *run_m: tuple[float, float], straight_within_m: float = 1.0) -> FirstPass:
    """Return the marks of a run on a field."""
    return first_pass(
        np.asarray(run_m),
        straight_sides=sides(field, straight_within_m=straight_within_m),
        drawn_sides=sides(field, straight_within_m=0.0),
    )


def told_start_m(begin: FirstPass) -> FloatArray:
    """Return the start by what is told of it: corner, way along the side, way in."""
    along, inward = begin.along_start_rad, begin.start_edge.heading_rad + math.pi / 2.0
    return (
        np.asarray(begin.start_corner_m)
        + begin.along_start_edge_m * np.asarray([math.cos(along), math.sin(along)])
        + begin.from_start_edge_m * np.asarray([math.cos(inward), math.sin(inward)])
    )


def told_mark_m(begin: FirstPass) -> FloatArray:
    """Return the mark by what is told of it: corner and way along the far side."""
    along = begin.along_far_rad
    return np.asarray(begin.far_corner_m) + begin.along_far_edge_m * np.asarray(
        [math.cos(along), math.sin(along)]
    )


def test_a_pass_beside_the_long_side() -> None:
    """25 m from the south side, heading east: the mark stands 25 m north of the far corner."""
    begin = marks(HALF_MILE, (20.0, 25.0), (780.0, 25.0))
    assert begin.start_m == (20.0, 25.0)
    assert begin.aim_rad == pytest.approx(0.0)
    assert (begin.near_edge.start_m, begin.near_edge.end_m) == ((0.0, 0.0), (800.0, 0.0))
    assert begin.start_corner_m == (0.0, 0.0)
    assert begin.start_edge == begin.near_edge
    assert begin.along_start_edge_m == pytest.approx(20.0)
    assert begin.from_start_edge_m == pytest.approx(25.0)
    assert (begin.far_edge.start_m, begin.far_edge.end_m) == ((800.0, 0.0), (800.0, 400.0))
    assert begin.far_mark_m == pytest.approx((800.0, 25.0))
    assert begin.far_corner_m == (800.0, 0.0)
    assert begin.along_far_edge_m == pytest.approx(25.0)
    assert begin.along_far_rad == pytest.approx(math.pi / 2.0)


def test_the_same_pass_driven_back() -> None:
    """Heading west beside the south side: told from the other corner, along it to the west."""
    begin = marks(HALF_MILE, (780.0, 25.0), (20.0, 25.0))
    assert begin.aim_rad == pytest.approx(math.pi)
    assert begin.start_corner_m == (800.0, 0.0)
    assert begin.far_mark_m == pytest.approx((0.0, 25.0))
    assert begin.far_corner_m == (0.0, 0.0)
    assert begin.along_start_edge_m == pytest.approx(20.0)
    assert begin.along_start_rad == pytest.approx(math.pi)
    assert begin.along_far_rad == pytest.approx(math.pi / 2.0)


def test_beside_the_north_side_the_mark_stands_south_of_the_corner() -> None:
    """Heading east 15 m from the north side: 15 m south of the north-east corner."""
    begin = marks(HALF_MILE, (20.0, 385.0), (780.0, 385.0))
    assert begin.near_edge.start_m == (800.0, 400.0)
    assert begin.far_corner_m == (800.0, 400.0)
    assert begin.along_far_edge_m == pytest.approx(15.0)
    assert begin.along_far_rad == pytest.approx(1.5 * math.pi)


@pytest.mark.parametrize("turn_deg", [5.0, 10.0, 20.0])
def test_a_slight_angle_moves_the_mark_up_the_far_side(turn_deg: float) -> None:
    """MACH-C72 and C75, derived: from 25 m up, the line rises 780 tan(angle) to the far side."""
    rise = math.tan(math.radians(turn_deg))
    begin = marks(HALF_MILE, (20.0, 25.0), (520.0, 25.0 + 500.0 * rise))
    mark_m = 25.0 + 780.0 * rise
    assert math.degrees(begin.aim_rad) == pytest.approx(turn_deg)
    assert begin.near_edge.end_m == (800.0, 0.0)
    assert begin.from_start_edge_m == pytest.approx(25.0)
    assert begin.far_mark_m == pytest.approx((800.0, mark_m))
    # Paced from whichever end of the far side is nearer.
    assert begin.along_far_edge_m == pytest.approx(min(mark_m, 400.0 - mark_m))
    assert (begin.along_far_rad < math.pi) == (mark_m <= 200.0)


def test_on_a_slope_of_a_triangle() -> None:
    """Corners 0,0 300,0 0,400, down the slope 10 m in: it meets the base.

    The slope falls 4 in 3; ten metres inside it crosses the base 10 / sin(angle) = 12.5 m short
    of the corner, the sine being 4 / 5.
    """
    down = np.asarray([0.6, -0.8])
    start_m = np.asarray([0.0, 400.0]) + 50.0 * down - 10.0 * np.asarray([0.8, 0.6])
    end_m = start_m + 350.0 * down
    begin = marks(drawn("0,0 300,0 0,400"), tuple(start_m), tuple(end_m))
    assert (begin.near_edge.start_m, begin.near_edge.end_m) == ((300.0, 0.0), (0.0, 400.0))
    assert begin.start_corner_m == (0.0, 400.0)
    assert begin.along_start_edge_m == pytest.approx(50.0)
    assert begin.from_start_edge_m == pytest.approx(10.0)
    assert begin.far_mark_m == pytest.approx((287.5, 0.0))
    assert begin.far_corner_m == (300.0, 0.0)
    assert begin.along_far_edge_m == pytest.approx(12.5)
    assert begin.along_far_rad == pytest.approx(math.pi)


def test_a_pass_across_a_corner_is_told_from_the_side_it_starts_on() -> None:
    """8 degrees off the south side from 60 m up the west one: told from the west side.

    Before, it was told from the south side alone: 60 m in at the corner itself, 12 m short of
    where it starts; on a slant of half a mile that came to hundreds of feet.
    """
    fall = math.tan(math.radians(8.0))
    begin = marks(HALF_MILE, (12.0, 60.0), (312.0, 60.0 - 300.0 * fall))
    assert begin.near_edge.end_m == (800.0, 0.0)
    assert begin.start_edge.end_m == (0.0, 0.0)
    assert begin.start_corner_m == (0.0, 0.0)
    assert begin.along_start_edge_m == pytest.approx(60.0)
    assert begin.from_start_edge_m == pytest.approx(12.0)
    assert begin.far_edge.end_m == (800.0, 0.0)
    assert begin.far_mark_m == pytest.approx((12.0 + 60.0 / fall, 0.0))


def test_another_arm_beyond_the_line_of_a_side_is_not_what_a_start_is_told_from() -> None:
    """A U: in its left arm the right arm's inner side faces the start, 10 m beyond the gap."""
    field = drawn("0,0 300,0 300,400 170,400 170,60 160,60 160,400 0,400")
    begin = marks(field, (155.0, 380.0), (155.0, 60.0))
    assert {begin.start_edge.start_m, begin.start_edge.end_m} == {(160.0, 60.0), (160.0, 400.0)}
    assert begin.from_start_edge_m == pytest.approx(5.0)
    assert begin.along_start_edge_m == pytest.approx(20.0)


def test_the_side_run_towards_is_the_first_one_met() -> None:
    """An L: along the foot's upper strip the line meets the arm's inner side, not the far end."""
    field = drawn("0,0 100,0 100,200 300,200 300,400 0,400")
    begin = marks(field, (10.0, 100.0), (90.0, 100.0))
    assert begin.far_mark_m == pytest.approx((100.0, 100.0))
    assert begin.near_edge.distance_m((10.0, 100.0)) > 0.0


def test_a_wiggle_is_not_a_side_to_aim_at() -> None:
    """A bump of 80 cm on the far side: the mark lies on the side as a person sees it."""
    field = drawn("0,0 800,0 800,180 800.8,200 800,220 800,400 0,400")
    begin = marks(field, (20.0, 195.0), (780.0, 195.0))
    assert begin.far_mark_m == pytest.approx((800.0, 195.0))
    assert begin.far_edge.length_m == pytest.approx(400.0)
    drawn_one = marks(field, (20.0, 195.0), (780.0, 195.0), straight_within_m=0.0)
    assert drawn_one.far_mark_m[0] == pytest.approx(800.0 + 0.8 * 15.0 / 20.0)


def test_a_line_that_meets_a_wiggle_only_is_aimed_at_the_side_beside_it() -> None:
    """Out into a bump that was straightened away: the mark stands on the side, 10 m off."""
    bump = drawn("0,0 380,0 400,-25 420,0 800,0 800,400 0,400")
    begin = marks(bump, (395.0, -10.0), (405.0, -10.0), straight_within_m=30.0)
    assert (begin.far_edge.start_m, begin.far_edge.end_m) == ((0.0, 0.0), (800.0, 0.0))
    assert begin.far_mark_m == pytest.approx((412.0, 0.0))
    assert begin.along_far_edge_m == pytest.approx(388.0)


@given(field=fields(with_hole=False), heading_deg=st.floats(0.0, 180.0), pick=st.floats(0.0, 1.0))
@settings(max_examples=80)
def test_the_mark_lies_straight_ahead_on_the_far_side(
    field: Outline, heading_deg: float, pick: float
) -> None:
    """From the start along the aim one comes to the mark; it is on the edge, paced from an end."""
    rows = lay_rows(
        (field.exterior_m,), heading_rad=math.radians(heading_deg), driving_width_m=10.0
    )
    # Its middle third, so that the run surely lies on the field.
    start_m, end_m = rows.ends_m()[int(pick * (len(rows.row_indices) - 1))]
    run_m = start_m + np.asarray([[1.0 / 3.0], [2.0 / 3.0]]) * (end_m - start_m)
    begin = marks(field, *map(tuple, run_m.tolist()))
    to_mark_m = np.subtract(begin.far_mark_m, begin.start_m)
    aim = np.asarray([math.cos(begin.aim_rad), math.sin(begin.aim_rad)])
    assert abs(aim[0] * to_mark_m[1] - aim[1] * to_mark_m[0]) < 1e-6
    assert to_mark_m @ aim > 0.0
    mark = shapely.Point(begin.far_mark_m)
    assert shapely.LinearRing(field.exterior_m).distance(mark) <= 1.0 + 1e-6
    assert begin.along_far_edge_m <= 0.5 * begin.far_edge.length_m + 1e-6
    assert told_mark_m(begin) == pytest.approx(np.asarray(begin.far_mark_m), abs=1e-6)
    assert told_start_m(begin) == pytest.approx(np.asarray(begin.start_m), abs=1e-6)
    assert begin.start_corner_m in (begin.start_edge.start_m, begin.start_edge.end_m)
