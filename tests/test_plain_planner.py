"""The yardstick planner: rectangles and triangles by hand, its turns driven to their end."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_fields import drawn, rectangle
from plain_planner import (
    PlainMachine,
    forward_length_m,
    forward_ways,
    longest_side_heading_rad,
    plain_plan,
)
from ragged_fields import ragged_field

from duskline.core.turns import forward_lengths_m

MACHINE = PlainMachine(
    width_m=10.0,
    radius_m=6.0,
    speed_mps=2.5,
    turn_speed_mps=2.0,
    fixed_s=5.0,
    corner_turn_s=12.0,
    swing_m=1.0,
)
# A half turn into the next row where the rows are closer than two radii: out, round, back.
BULB_M = 6.0 * (math.pi + 4.0 * math.acos((2 * 6.0 + 10.0) / (4 * 6.0)))

directions = st.floats(0.0, math.tau)
places = st.floats(-60.0, 60.0)
poses = st.tuples(places, places, directions)


def length_m(
    start: tuple[float, float, float], end: tuple[float, float, float], radius_m: float = 6.0
) -> float:
    """Return the way from one pose to another. [m]"""
    return float(forward_length_m(np.asarray([start]), np.asarray([end]), radius_m)[0])


def test_a_rectangle_by_hand() -> None:
    """400 x 200 m, 10 m wide, 6 m radius: 12 m of room, two rounds, 16 rows of 360 m.

    Rounds: 2 (390 + 190) + 2 (370 + 170) = 2240 m, eight corners. Rows: 16 x 360 = 5760 m.
    15 turns. (2240 + 5760) / 2.5 + 8 x 12 + 15 (bulb / 2 + 5) seconds.
    """
    plan = plain_plan(rectangle(400.0, 200.0).shape, MACHINE)
    assert (plan.rounds, plan.rows, plan.runs, plan.corners) == (2, 16, 16, 8)
    assert plan.heading_rad == pytest.approx(0.0, abs=1e-12)
    assert plan.round_m == pytest.approx(2240.0)
    assert plan.run_m == pytest.approx(5760.0)
    assert plan.turn_m == pytest.approx(15 * BULB_M)
    seconds = 8000.0 / 2.5 + 8 * 12.0 + 15 * (BULB_M / 2.0 + 5.0)
    assert plan.minutes == pytest.approx(seconds / 60.0)


def test_a_triangle_by_hand() -> None:
    """Sides 300, 400 and 500 m: every point within 100 m of a side, so insets shrink by 1 %/m.

    Two rounds: 1200 x (0.95 + 0.85) = 2160 m, six corners. Left for rows: base 400 m, height
    0.8 x 240 = 192 m, so 20 rows; row i from 0 to 18 lasts 400 (1 - 10 i / 192), the last one,
    moved in to the tip, 400 x 10 / 192.
    """
    plan = plain_plan(drawn("0,0 400,0 0,300").shape, MACHINE)
    assert (plan.rounds, plan.rows, plan.runs, plan.corners) == (2, 20, 20, 6)
    assert plan.heading_rad == pytest.approx(math.atan2(300.0, -400.0))
    assert plan.round_m == pytest.approx(2160.0)
    rows_m = sum(400.0 * (1.0 - 10.0 * row / 192.0) for row in range(19)) + 400.0 * 10.0 / 192.0
    assert plan.run_m == pytest.approx(rows_m)
    # From row to row the ends step back along the slanted side, so the bulb is the least.
    assert plan.turn_m > 19 * BULB_M


def test_a_pond_is_driven_round_between_two_runs() -> None:
    """300 x 100 m, a pond of 60 x 40 m in the middle, 10 m wide: the way round it is counted.

    Room 5 + 5 m, so one round: 280 x 80 m is left, less 80 x 60 round the pond. Six of the eight
    rows are broken; from run to run the way lies along the lane 5 m off the pond.
    """
    machine = PlainMachine(
        width_m=10.0,
        radius_m=5.0,
        speed_mps=2.5,
        turn_speed_mps=2.0,
        fixed_s=5.0,
        corner_turn_s=0.0,
        swing_m=5.0,
    )
    field = drawn("0,0 300,0 300,100 0,100", "120,30 180,30 180,70 120,70").shape
    plan = plain_plan(field, machine)
    assert (plan.rounds, plan.rows, plan.runs) == (1, 8, 8 + 6)
    assert plan.round_m == pytest.approx(2 * (290 + 90) + 2 * (70 + 50))
    half_turns_m = 7 * math.pi * 5.0
    # Rows at 25, 35, 45, 55, 65, 75 m: 5 m to the lane (x = 115), along it, over 70 m, back.
    across_m = sum(5.0 + 2 * min(y - 25.0, 75.0 - y) + 70.0 + 5.0 for y in (25, 35, 45, 55, 65, 75))
    # At 25 and 75 m the row lies on the lane itself and clear of the pond: straight through.
    assert plan.turn_m == pytest.approx(half_turns_m + across_m)


def test_wiggles_do_not_make_the_longest_side() -> None:
    """A side of 500 m with a bend of 1 m is longer than a straight one of 400 m."""
    field = drawn("0,0 250,1 500,0 500,400 0,400").shape
    assert longest_side_heading_rad(field) == pytest.approx(0.0, abs=1e-9)


def test_strips_of_their_own_come_after_the_rows() -> None:
    """400 x 200 m and one more run of 14 m where the last row ends: its way and its turn count."""
    field = rectangle(400.0, 200.0).shape
    plain = plain_plan(field, MACHINE)
    # Row 16 comes back to x = 20 m at y = 175 m; the strip runs on from there to the north.
    strip_m = np.asarray([[[14.0, 181.0], [14.0, 195.0]]])
    more = plain_plan(field, MACHINE, strips_m=strip_m)
    assert more.runs == plain.runs
    assert more.run_m == pytest.approx(plain.run_m + 14.0)
    # A quarter circle to the right, from heading west to heading north.
    assert more.turn_m == pytest.approx(plain.turn_m + 0.5 * math.pi * 6.0)
    extra_s = 14.0 / 2.5 + 0.5 * math.pi * 6.0 / 2.0 + 5.0
    assert more.passes_minutes == pytest.approx(plain.passes_minutes + extra_s / 60.0)
    assert plain.minutes - plain.passes_minutes == pytest.approx((2240 / 2.5 + 8 * 12.0) / 60.0)


def test_the_first_row_begins_at_the_south_west() -> None:
    """400 x 200 m, two rounds of 10 m: the first row starts at 20, 25 m."""
    assert plain_plan(rectangle(400.0, 200.0).shape, MACHINE).first_m == pytest.approx((20.0, 25.0))


def test_a_wide_tool_swings_out_and_needs_more_rounds() -> None:
    """Room 10.8 m and the swing: 9 m of swing fit into two rounds of 10 m, 10 m take a third."""
    field = rectangle(400.0, 200.0).shape
    assert plain_plan(field, replace(MACHINE, swing_m=9.0)).rounds == 2
    assert plain_plan(field, replace(MACHINE, swing_m=10.0)).rounds == 3


def test_a_small_field_gets_fewer_rounds() -> None:
    """Two rounds of 10 m would leave nothing of 38 x 100 m, so it is driven with one."""
    plan = plain_plan(rectangle(100.0, 38.0).shape, MACHINE)
    assert (plan.rounds, plan.rows) == (1, 2)


def test_turns_between_parallel_rows_are_the_known_ones() -> None:
    """Half circle at two radii, a straight piece more beyond, a bulb below; none straight on."""
    assert length_m((0, 0, 0), (0, 12, math.pi)) == pytest.approx(math.pi * 6.0)
    assert length_m((0, 0, 0), (0, -20, math.pi)) == pytest.approx(math.pi * 6.0 + 8.0)
    assert length_m((0, 0, 0), (0, 10, math.pi)) == pytest.approx(BULB_M)
    assert length_m((0, 0, 0), (0, 0, math.pi)) == pytest.approx(6.0 * 7.0 * math.pi / 3.0)
    assert length_m((3, 4, 0.7), (3 + 9 * math.cos(0.7), 4 + 9 * math.sin(0.7), 0.7)) == (
        pytest.approx(9.0)
    )


def driven(
    start: tuple[float, float, float], parts: list[tuple[int, float]]
) -> tuple[float, float, float]:
    """Return the pose after parts: to which hand (1 left, 0 straight, -1 right), how far [m]."""
    x_m, y_m, direction_rad = start
    for hand, part_m in parts:
        if hand == 0:
            x_m += part_m * math.cos(direction_rad)
            y_m += part_m * math.sin(direction_rad)
        else:
            turned_rad = direction_rad + hand * part_m / 6.0
            x_m += 6.0 * hand * (math.sin(turned_rad) - math.sin(direction_rad))
            y_m -= 6.0 * hand * (math.cos(turned_rad) - math.cos(direction_rad))
            direction_rad = turned_rad
    return x_m, y_m, direction_rad


@given(start=poses, end=poses)
def test_every_way_ends_where_it_should(
    start: tuple[float, float, float], end: tuple[float, float, float]
) -> None:
    """Each of the six ways, driven part by part, comes out at the end pose."""
    reached = 0
    for hands, parts_m in forward_ways(np.asarray([start]), np.asarray([end]), 6.0):
        if not np.isfinite(parts_m).all():
            continue
        reached += 1
        parts = zip(hands, parts_m[:, 0].tolist(), strict=True)
        x_m, y_m, direction_rad = driven(start, list(parts))
        assert math.dist((x_m, y_m), end[:2]) < 1e-4
        off_rad = (direction_rad - end[2] + math.pi) % math.tau - math.pi
        assert abs(off_rad) < 1e-4
    assert reached >= 2


@given(
    start=poses,
    parts=st.lists(st.tuples(st.sampled_from([-1, 0, 1]), st.floats(0.0, 25.0)), max_size=6),
)
def test_no_way_that_can_be_driven_is_shorter(
    start: tuple[float, float, float], parts: list[tuple[int, float]]
) -> None:
    """Curves and straights driven at random get nowhere in less than the way that is found."""
    end = driven(start, parts)
    found_m = length_m(start, end)
    assert found_m <= sum(part_m for _, part_m in parts) + 1e-4
    assert found_m >= math.dist(start[:2], end[:2]) - 1e-6


@given(start=poses, end=poses)
def test_a_way_is_as_long_backwards_and_in_a_mirror(
    start: tuple[float, float, float], end: tuple[float, float, float]
) -> None:
    """Driven from the end to the start the other way, or seen in a mirror, it is as long."""
    there_m = length_m(start, end)
    (x_m, y_m, direction_rad), (x_end_m, y_end_m, end_rad) = start, end
    back_m = length_m((x_end_m, y_end_m, end_rad + math.pi), (x_m, y_m, direction_rad + math.pi))
    mirrored_m = length_m((x_m, -y_m, -direction_rad), (x_end_m, -y_end_m, -end_rad))
    assert back_m == pytest.approx(there_m, abs=1e-5)
    assert mirrored_m == pytest.approx(there_m, abs=1e-5)


def test_two_searches_for_the_shortest_turn_agree() -> None:
    """5,000 pairs of poses: the yardstick's turns and the plans' turns, written apart, as long."""
    draw = np.random.default_rng(3)
    starts, ends = (
        np.column_stack([draw.uniform(-40.0, 40.0, (5000, 2)), draw.uniform(0.0, math.tau, 5000)])
        for _ in range(2)
    )
    ours = forward_lengths_m(starts, ends, radius_m=6.0)
    np.testing.assert_allclose(forward_length_m(starts, ends, 6.0), ours, rtol=0.0, atol=1e-9)


def test_ragged_fields_all_get_a_plain_plan() -> None:
    """120 ragged fields: runs and rounds go over the whole field, minutes stand to reason."""
    for seed in range(120):
        field = ragged_field(seed).shape
        plan = plain_plan(field, MACHINE)
        driven_m = plan.round_m + plan.run_m
        assert plan.rounds == 2
        assert plan.runs >= plan.rows - 2
        assert driven_m * MACHINE.width_m >= 0.97 * field.area
        least_s = driven_m / MACHINE.speed_mps + (plan.runs - 1) * MACHINE.fixed_s
        assert plan.minutes * 60.0 > least_s
