"""Drive plans: counts, minutes, headings and what they go over, worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import drawn, fields, rectangle
from ragged_fields import ragged_field

from duskline.core.aim_mark import FirstPass
from duskline.core.errors import FieldTooNarrow, OutOfRange
from duskline.core.outline import Outline, edge_headings_rad, extent_across_m, longest_edge
from duskline.core.passes import (
    Driving,
    PassPlan,
    candidate_headings_rad,
    expected_turns_count,
    missed_fraction,
    orders_for,
    pass_numbers,
    plan_at_heading,
    plan_covering,
    plan_passes,
    plans_along,
    rows_count,
    turned_heading_rad,
)
from duskline.core.rounds import corner_time_s
from duskline.core.route import Order
from duskline.core.rows import lay_rows
from duskline.core.turns import TurnRule, pass_turn, turn_times_s

# Passes across 800 x 400 m at an angle, 9 m wide. Derived.
MACH_C71 = [(0, 45), (3, 50), (5, 53), (8, 57), (10, 60), (15, 66), (20, 73), (30, 83), (45, 95)]
# Triangle (0,0) (500,0) (0,400), 9 m wide: heading of a side, passes. Derived.
MACH_C74 = [(0.0, 45), (math.atan2(400.0, -500.0), 35), (math.pi / 2.0, 56)]
# Slanted end: angle from square, extra run of a 9 m machine. Derived: w tan(angle).
MACH_C73 = [(15.0, 2.412), (30.0, 5.196)]

TURN = TurnRule(radius_m=6.0, speed_mps=2.0, fixed_s=5.0)
SPREADER = Driving(
    driving_width_m=12.192,
    speed_mps=3.58,
    turn=TurnRule(radius_m=6.5, speed_mps=2.0, fixed_s=5.0),
    swing_m=1.5,
    headland_first=True,
)
CULTIVATOR = Driving(
    driving_width_m=8.23,
    width_m=9.144,
    speed_mps=2.46,
    turn=TurnRule(radius_m=6.5, speed_mps=2.0, fixed_s=5.0),
    swing_m=4.57,
    by_eye=True,
)
FIVE_DEG = math.radians(5.0)
any_field = st.one_of(fields(), st.builds(ragged_field, st.integers(0, 100_000)))
L_FIELD = drawn("0,0 903,7 900,130 122,121 130,890 3,900")


def driving(
    *,
    driving_width_m: float = 10.0,
    width_m: float | None = None,
    speed_mps: float = 2.5,
    turn: TurnRule = TURN,
    swing_m: float = 0.0,
    by_eye: bool = False,
    headland_first: bool = False,
) -> Driving:
    """Return a machine 10 m wide at 2.5 m/s that turns about 6 m."""
    return Driving(
        driving_width_m=driving_width_m,
        width_m=width_m,
        speed_mps=speed_mps,
        turn=turn,
        swing_m=swing_m,
        by_eye=by_eye,
        headland_first=headland_first,
    )


def planned(field: Outline, machine: Driving, heading_deg: float | None = None) -> PassPlan:
    """Return the plan along the best side, or at a heading."""
    if heading_deg is None:
        return plan_passes(field, driving=machine, straight_within_m=2.0)
    return plan_at_heading(
        field, heading_rad=math.radians(heading_deg), driving=machine, straight_within_m=2.0
    )


def covered(field: Outline, spread: PassPlan, machine: Driving = CULTIVATOR) -> PassPlan:
    """Return the covering plan 5 degrees to the left or right of the spread plan."""
    return plan_covering(
        field,
        spread=spread,
        angles_rad=(FIVE_DEG, -FIVE_DEG),
        driving=machine,
        straight_within_m=2.0,
    )


def first(plan: PassPlan) -> FirstPass:
    """Return the first pass of a plan that has one."""
    assert plan.first is not None
    return plan.first


def rows_at(field: Outline, heading_deg: float, width_m: float = 9.0) -> int:
    """Return how many rows lie across a field without a headland."""
    return lay_rows(
        (field.exterior_m,), heading_rad=math.radians(heading_deg), driving_width_m=width_m
    ).rows_count


def swept(plan: PassPlan) -> np.ndarray:
    """Return the ground of every run and of every leg, gentle bends rounded."""
    half_m = 0.5 * plan.driving.worked_m
    legs = np.asarray([shapely.LineString(path_m) for path_m in plan.rounds_m], dtype=object)
    runs = shapely.linestrings(plan.passes_m) if len(plan.passes_m) else np.empty(0, dtype=object)
    return np.concatenate(
        [
            shapely.buffer(runs, half_m, cap_style="flat"),
            shapely.buffer(legs, half_m, cap_style="flat", quad_segs=16),
        ]
    )


def apart_deg(one_rad: float, other_rad: float) -> float:
    """Return the angle between two lines. [deg]"""
    turned = math.degrees(one_rad - other_rad) % 180.0
    return min(turned, 180.0 - turned)


# --- counts -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("angle_deg", "count"), MACH_C71)
def test_passes_across_a_rectangle_at_an_angle(angle_deg: float, count: int) -> None:
    """MACH-C71, derived: extent over width, rounded up; so many rows are laid out."""
    field = rectangle(800.0, 400.0)
    extent_m = extent_across_m(field, heading_rad=math.radians(angle_deg))
    assert rows_count(extent_m=extent_m, driving_width_m=9.0) == count
    assert rows_at(field, angle_deg) == count


def test_a_slight_angle_costs_few_turns() -> None:
    """MACH-C72, derived: 10 degrees instead of 0 is 15 turns of 20.65 s more, 5.2 min."""
    field = rectangle(800.0, 400.0)
    more_count = rows_at(field, 10.0) - rows_at(field, 0.0)
    assert more_count == 15
    assert more_count * 20.65 / 60.0 == pytest.approx(5.2, abs=0.05)


def test_hours_of_a_rectangle_without_a_headland() -> None:
    """MACH-C12, derived: 48 passes of 800 m at 2.5 m/s and 47 turns of 21 s are 4.541 h.

    By hand: 48 * 800 / 2.5 = 15,360 s; 47 * 21 = 987 s; 16,347 s / 3,600 = 4.5408 h.
    """
    count = rows_at(rectangle(800.0, 400.0), 0.0, 9.0 - 0.63)
    assert count == 48
    work_s = count * 800.0 / 2.5 + (count - 1) * 21.0
    assert work_s / 3600.0 == pytest.approx(4.541, abs=0.0005)


@pytest.mark.parametrize(("heading_rad", "count"), MACH_C74)
def test_passes_of_a_triangle_along_each_side(heading_rad: float, count: int) -> None:
    """MACH-C74, derived: 45, 35 and 56 passes."""
    assert rows_at(drawn("0,0 500,0 0,400"), math.degrees(heading_rad)) == count


def test_along_the_longest_side_of_a_triangle_wins() -> None:
    """MACH-C74, derived: 35 passes along the slope beat 45 and 56 along the others.

    The round takes 9 m off every side, which leaves the order of the three as it is.
    """
    field = drawn("0,0 500,0 0,400")
    plan = planned(field, driving(driving_width_m=9.0))
    assert plan.heading_rad == pytest.approx(MACH_C74[1][0])
    others = [planned(field, driving(driving_width_m=9.0), deg) for deg in (0.0, 90.0)]
    assert plan.work_s < min(other.work_s for other in others)
    assert plan.passes_count < min(other.passes_count for other in others)


@pytest.mark.parametrize(
    "change",
    [
        {name: value}
        for name in ("driving_width_m", "width_m", "speed_mps", "swing_m")
        for value in (-1.0, math.nan, math.inf)
    ]
    + [{"driving_width_m": 0.0}, {"speed_mps": 0.0}, {"width_m": 9.9}],
)
def test_a_machine_that_cannot_be_is_refused(change: dict[str, Any]) -> None:
    """Widths and speeds above zero, a swing not below, a tool as wide as its passes are apart."""
    with pytest.raises(OutOfRange):
        replace(driving(), **change)


def test_a_tool_works_its_driving_width_unless_told_otherwise() -> None:
    """Overlap is what it works beyond the way from pass to pass."""
    assert driving().worked_m == 10.0
    assert driving(width_m=11.0).worked_m == 11.0


# --- orders and room --------------------------------------------------------------------------


def test_a_turn_as_narrow_as_the_pass_needs_no_skipping() -> None:
    """Two radii no more than the way to the next pass: row after row, and nothing else."""
    assert orders_for(driving(driving_width_m=12.0)) == (Order(way="next"),)
    assert orders_for(driving(driving_width_m=12.192)) == (Order(way="next"),)


@pytest.mark.parametrize(
    ("driving_width_m", "step"), [(11.9, 2), (10.0, 2), (6.0, 2), (5.9, 3), (4.0, 3), (3.9, 4)]
)
def test_wide_turns_skip_rows_or_go_by_lands(driving_width_m: float, step: int) -> None:
    """12 m of circle: with guidance every step-th row, by eye lands one row wider."""
    guided = driving(driving_width_m=driving_width_m)
    assert orders_for(guided) == (Order(way="next"), Order(way="fill", step=step))
    by_eye = replace(guided, by_eye=True)
    assert orders_for(by_eye) == (Order(way="next"), Order(way="lands", step=step + 1))


def test_room_is_the_turn_and_the_swing() -> None:
    """A bulb into the next row of 10 m reaches 10.80 m out; a half circle 6 m; swing on top.

    By hand: 6 + sqrt(12^2 - 11^2) = 10.796.
    """
    machine = driving(swing_m=4.0)
    assert machine.room_m(Order(way="next")) == pytest.approx(6.0 + math.sqrt(23.0) + 4.0)
    assert machine.room_m(Order(way="fill", step=2)) == pytest.approx(10.0)


def test_rounds_are_as_many_as_the_turns_need() -> None:
    """Skipping rows needs 6 m and the swing: one round; row after row needs two."""
    field = rectangle(800.0, 400.0)
    plan = planned(field, driving())
    assert plan.order == Order(way="fill", step=2)
    assert (plan.rounds_count, plan.turns_fit) == (1, True)
    wide = planned(field, driving(swing_m=4.5))
    assert (wide.rounds_count, wide.turns_fit) == (2, True)
    assert wide.headland_m == pytest.approx(20.0)


def test_a_field_too_narrow_for_its_rounds_still_gets_a_plan() -> None:
    """300 x 25 m, a turn that needs three rounds: what fits is driven, nothing is missed."""
    field = rectangle(300.0, 25.0)
    plan = planned(field, driving(swing_m=15.0))
    assert missed_fraction(field, plan) <= 0.005
    assert shapely.covers(field.shape.buffer(0.01), swept(plan)).all()


def test_a_turning_circle_wider_than_any_field_still_ends() -> None:
    """A slip of the pen (2 km to turn) gives a plan, not a hang."""
    machine = driving(turn=TurnRule(radius_m=2000.0, speed_mps=2.0))
    plan = planned(rectangle(300.0, 200.0), machine)
    assert plan.rounds_count <= 25
    assert plan.work_s > 0.0


def test_a_field_narrower_than_the_machine_is_refused() -> None:
    """9 m wide, machine 10 m wide."""
    narrow = rectangle(300.0, 9.0)
    with pytest.raises(FieldTooNarrow):
        planned(narrow, driving())
    with pytest.raises(FieldTooNarrow):
        planned(narrow, driving(), 0.0)
    with pytest.raises(FieldTooNarrow):
        plans_along(narrow, headings_rad=[0.0], driving=driving(), straight_within_m=2.0)
    spread = planned(narrow, driving(driving_width_m=4.0))
    with pytest.raises(FieldTooNarrow):
        covered(narrow, spread)


# --- the plan of a rectangle, by hand -------------------------------------------------------------


def test_minutes_of_a_rectangle_with_its_round() -> None:
    """800 x 400 m, 12 m wide, turning about 6 m: one round and 32 passes of 776 m.

    By hand: legs at 6 m run on 6 m to the edge, 2 (788 + 388) + 4 x 6 = 2,376 m; left is 776 x
    376 m, 376 / 12 = 31.3, so 32 passes, the last 4 m over. 30 turns are half circles, 6 pi / 2
    m/s + 5 s; the last one, 4 m over, is a bulb. Three square corners.
    """
    machine = driving(driving_width_m=12.0, headland_first=True)
    plan = planned(rectangle(800.0, 400.0), machine)
    assert plan.heading_rad == 0.0
    assert (plan.rounds_count, plan.passes_count, plan.turns_count) == (1, 32, 31)
    assert plan.rounds_length_m == pytest.approx(2376.0)
    assert plan.pass_lengths_m.tolist() == pytest.approx([776.0] * 32)
    half_circle_s = 6.0 * math.pi / 2.0 + 5.0
    bulb_s = 6.0 * (math.pi + 4.0 * math.acos((12.0 + 4.0) / 24.0)) / 2.0 + 5.0
    assert sorted(plan.turn_s.tolist()) == pytest.approx([half_circle_s] * 30 + [bulb_s])
    corners_s = 3.0 * corner_time_s(turn_rad=math.pi / 2, past_m=6.0, rule=TURN)
    # The rounds end 6 m past a corner; pass 1 begins beside it.
    end_m = plan.rounds.legs[-1].path_m[-1]
    link_s = math.dist(end_m, plan.passes_m[0, 0]) / 2.0 + 5.0
    assert plan.link_s == pytest.approx(link_s)
    by_hand_s = (32 * 776.0 + 2376.0) / 2.5 + 30 * half_circle_s + bulb_s + corners_s + link_s
    assert plan.work_s == pytest.approx(by_hand_s)
    assert plan.longest_edge_s == plan.work_s
    assert plan.saved_s == 0.0
    assert plan.turning_s == pytest.approx(plan.work_s - (32 * 776.0 + 2376.0) / 2.5)


def test_passes_are_driven_there_and_back() -> None:
    """Each pass starts beside the end of the one before, one driving width over."""
    plan = planned(rectangle(800.0, 400.0), driving(driving_width_m=12.0))
    steps_m = plan.passes_m[1:, 0] - plan.passes_m[:-1, 1]
    across_m = np.hypot(*steps_m.T)
    # The last row ends with the ground and laps the one before.
    assert sorted(across_m.tolist()) == pytest.approx([4.0] + [12.0] * 30)
    assert np.abs(np.diff(plan.row_indices)).tolist() == [1] * 31


@pytest.mark.parametrize("headland_first", [True, False])
def test_rounds_come_first_or_last(headland_first: bool) -> None:
    """A spreader goes from its rounds to the nearest pass, a covering machine from its last."""
    plan = planned(rectangle(800.0, 400.0), driving(headland_first=headland_first))
    if headland_first:
        gap_m = math.dist(plan.rounds.legs[-1].path_m[-1], plan.passes_m[0, 0])
    else:
        begun_m = [math.dist(leg.path_m[0], plan.passes_m[-1, 1]) for leg in plan.rounds.legs[:4]]
        gap_m = min(begun_m)
        assert begun_m[0] == gap_m
    assert plan.link_s == pytest.approx(gap_m / 2.0 + 5.0)


@pytest.mark.parametrize("from_m", [(-20.0, -20.0), (820.0, 420.0), (820.0, -20.0)])
def test_the_gate_says_where_a_plan_begins(from_m: tuple[float, float]) -> None:
    """A spreader begins its rounds at the gate's corner, a covering machine its passes."""
    field = rectangle(800.0, 400.0)
    corner_m = np.clip(from_m, (0.0, 0.0), (800.0, 400.0))
    spread = plan_passes(
        field, driving=driving(headland_first=True), straight_within_m=2.0, from_m=from_m
    )
    assert math.dist(spread.rounds.legs[0].path_m[0], corner_m) < 10.0
    cover = plan_passes(field, driving=driving(), straight_within_m=2.0, from_m=from_m)
    assert math.dist(cover.passes_m[0, 0], corner_m) < 40.0


@pytest.mark.parametrize(("slant_deg", "extra_m"), MACH_C73)
def test_a_slanted_end_is_worked_to_its_far_corner(slant_deg: float, extra_m: float) -> None:
    """MACH-C73, derived: a pass beside an end 15 degrees off square runs 2.412 m further.

    What the headland leaves is 400 m less two headlands of 9 m taken along the pass,
    9 / cos(slant) each; the run adds w tan(slant) over both ends together, less a hair.
    """
    lean_m = 300.0 * math.tan(math.radians(slant_deg))
    field = drawn(f"0,0 400,0 {400 + lean_m},300 {lean_m},300")
    turn = TurnRule(radius_m=4.5, speed_mps=2.0)
    plan = planned(field, driving(driving_width_m=9.0, turn=turn), 0.0)
    left_m = 400.0 - 2.0 * 9.0 / math.cos(math.radians(slant_deg))
    whole = plan.pass_lengths_m - left_m
    assert whole == pytest.approx(extra_m, abs=0.002)


def test_a_hole_breaks_its_rows_in_two() -> None:
    """A pond in the middle: 38 rows, those that meet it driven in two runs."""
    field = drawn("0,0 400,0 400,400 0,400", "190,190 210,190 210,210 190,210")
    plan = planned(field, driving(turn=TurnRule(radius_m=5.0, speed_mps=2.0)), 0.0)
    # The pond and its round reach from 180 to 220 m: rows 17 to 20, counted from the edge.
    assert plan.passes_count == 38
    assert len(plan.passes_m) == 42
    broken, runs_count = np.unique(plan.row_indices, return_counts=True)
    assert broken[runs_count == 2].tolist() == [17, 18, 19, 20]


@given(field=any_field, machine=st.sampled_from([SPREADER, CULTIVATOR]))
@settings(max_examples=40)
def test_minutes_add_up_from_their_parts(field: Outline, machine: Driving) -> None:
    """Runs and rounds at working speed, every turn, every corner, and the way between the two."""
    plan = planned(field, machine)
    driven_s = (plan.pass_lengths_m.sum() + plan.rounds_length_m) / machine.speed_mps
    lifted_s = plan.turn_s.sum() + plan.rounds.turn_s.sum() + plan.link_s
    assert plan.work_s == pytest.approx(driven_s + lifted_s)
    assert plan.turning_s == pytest.approx(lifted_s)
    assert len(plan.turn_s) == plan.turns_count
    assert len(plan.row_indices) == len(plan.block_indices) == len(plan.passes_m)
    poses = [
        (*run_m[end], math.atan2(*reversed(run_m[1] - run_m[0])))
        for run_m in plan.passes_m
        for end in (0, 1)
    ]
    if plan.turns_count:
        least_s = turn_times_s(np.asarray(poses[1:-1:2]), np.asarray(poses[2::2]), machine.turn)
        # Round whatever lies in the way, never less than the turn alone.
        assert (plan.turn_s >= least_s - 1e-6).all()


# --- headings ------------------------------------------------------------------------------------


def test_the_chosen_heading_of_a_triangle_is_not_the_worse() -> None:
    """A3, point rows: along the slope against along the 600 m side, both figures stand."""
    field = drawn("0,0 600,0 0,380")
    plan, along_base = planned(field, SPREADER), planned(field, SPREADER, 0.0)
    assert plan.work_s < along_base.work_s
    assert plan.longest_edge_s == plan.work_s
    assert along_base.longest_edge_s == plan.work_s
    assert along_base.saved_s == pytest.approx(plan.work_s - along_base.work_s)
    assert plan.turns_count < along_base.turns_count


def test_another_side_may_beat_the_longest() -> None:
    """A5, a square with a waterway to the north: rows along it are broken less often.

    All four sides are 400 m long, so the longest is the south one; to the east the waterway
    breaks every row for 280 m of the field, to the north only those for its 36 m.
    """
    field = drawn("0,0 400,0 400,400 0,400", "180,60 196,60 216,340 200,340")
    plan, along_south = planned(field, SPREADER), planned(field, SPREADER, 0.0)
    assert along_south.work_s == pytest.approx(plan.longest_edge_s)
    assert apart_deg(plan.heading_rad, math.pi / 2.0) < 5.0
    assert plan.work_s < plan.longest_edge_s
    assert plan.saved_s == pytest.approx(plan.longest_edge_s - plan.work_s)


@given(field=any_field, machine=st.sampled_from([SPREADER, CULTIVATOR]))
@settings(max_examples=60)
def test_the_plan_is_never_slower_than_along_the_longest_side(
    field: Outline, machine: Driving
) -> None:
    """The longest side is one of the headings tried, and a plan of that heading says the same."""
    plan = planned(field, machine)
    assert plan.work_s <= plan.longest_edge_s
    heading_rad = longest_edge(field, straight_within_m=2.0).heading_rad
    # The very same heading: a hair off, and rows of the same length may be taken in another order.
    along = plan_at_heading(
        field, heading_rad=heading_rad % math.pi, driving=machine, straight_within_m=2.0
    )
    assert plan.longest_edge_s == pytest.approx(along.work_s, rel=1e-6)
    assert along.longest_edge_s == pytest.approx(along.work_s)


@given(field=any_field)
@settings(max_examples=40)
def test_passes_lie_along_a_side(field: Outline) -> None:
    """Undivided, the heading is that of one of the field's sides; every run lies along it."""
    plan = planned(field, SPREADER)
    if len(plan.blocks) == 1:
        headings_rad = edge_headings_rad(field, straight_within_m=2.0)
        assert min(apart_deg(plan.heading_rad, side_rad) for side_rad in headings_rad) < 1e-6
    assert plan.heading_rad in [block.heading_rad for block in plan.blocks]
    largest = max(plan.blocks, key=lambda block: block.region.area)
    assert plan.heading_rad == largest.heading_rad
    along_m = plan.passes_m[:, 1] - plan.passes_m[:, 0]
    directions_rad = np.arctan2(along_m[:, 1], along_m[:, 0])
    odd_count = len(plan.rounds.odd_m)
    kinds = {
        min(round(apart_deg(float(one), block.heading_rad), 3) for block in plan.blocks)
        for one in directions_rad
    }
    assert odd_count > 0 or kinds <= {0.0}


def test_headings_that_differ_by_a_hair_are_tried_once() -> None:
    """Four sides of a rectangle are two headings; the longest side's comes first."""
    headings_rad = candidate_headings_rad(
        rectangle(400.0, 800.0), driving_width_m=10.0, straight_within_m=1.0
    )
    assert headings_rad == pytest.approx((math.pi / 2.0, 0.0))


def test_a_ragged_outline_has_few_headings_laid_out() -> None:
    """A round field of 90 sides: at most 24 headings are tried, the longest side's first."""
    angles_rad = math.tau * np.arange(90) / 90
    ring_m = 300.0 * np.stack([np.cos(angles_rad), 0.5 * np.sin(angles_rad)], axis=1)
    field = Outline(exterior_m=ring_m)
    headings_rad = candidate_headings_rad(field, driving_width_m=10.0, straight_within_m=0.0)
    assert len(headings_rad) == 24
    turns = expected_turns_count(field, headings_rad=np.asarray(headings_rad), driving_width_m=10.0)
    across = expected_turns_count(field, headings_rad=np.asarray([1.5]), driving_width_m=10.0)
    assert turns.max() < across[0]


def test_plans_along_headings_come_in_their_order() -> None:
    """Three headings asked for, three plans, each as if it were asked for alone."""
    field = drawn("0,0 620,0 560,180 300,240 0,210")
    headings_rad = [0.3, 0.0, 2.0]
    plans = plans_along(field, headings_rad=headings_rad, driving=SPREADER, straight_within_m=2.0)
    assert [plan.heading_rad for plan in plans] == pytest.approx(headings_rad)
    alone = [planned(field, SPREADER, math.degrees(one)) for one in headings_rad]
    assert [plan.work_s for plan in plans] == pytest.approx([plan.work_s for plan in alone])
    assert {plan.longest_edge_s for plan in plans} == {alone[0].longest_edge_s}


def test_a_heading_and_its_opposite_are_one_line() -> None:
    """175 degrees turned by 10 to the left lies along 5."""
    turned_rad = turned_heading_rad(heading_rad=math.radians(175.0), angle_rad=math.radians(10.0))
    assert math.degrees(turned_rad) == pytest.approx(5.0)


def test_arms_are_driven_along_themselves() -> None:
    """An L of 900 m arms: two parts, far fewer minutes than along its longest side."""
    plan = planned(L_FIELD, SPREADER)
    assert len(plan.blocks) == 2
    headings_deg = sorted((math.degrees(block.heading_rad) + 45.0) % 180.0 for block in plan.blocks)
    assert headings_deg == pytest.approx([45.0, 135.0], abs=2.0)
    assert plan.saved_s > 0.1 * plan.longest_edge_s
    assert set(plan.block_indices.tolist()) == {0, 1}
    assert missed_fraction(L_FIELD, plan) <= 0.005


def test_in_each_part_covering_turns_by_the_angle() -> None:
    """An L spread in two parts: the covering passes of each lie 5 degrees off its own heading."""
    spread = planned(L_FIELD, SPREADER)
    cover = covered(L_FIELD, spread)
    assert len(cover.blocks) == len(spread.blocks) == 2
    for over, under in zip(cover.blocks, spread.blocks, strict=True):
        assert over.region.equals(under.region)
        assert apart_deg(over.heading_rad, under.heading_rad) == pytest.approx(5.0, abs=1e-9)
    assert missed_fraction(L_FIELD, cover) <= 0.005


def test_covering_turns_from_the_spread_heading_by_the_angle() -> None:
    """Left or right, whichever takes fewer minutes, by the angle asked for."""
    field = drawn("0,0 620,0 560,180 300,240 0,210")
    spread = planned(field, driving(driving_width_m=12.0))
    cover = covered(field, spread)
    assert apart_deg(cover.heading_rad, spread.heading_rad) == pytest.approx(5.0)
    turned_deg = [math.degrees(spread.heading_rad) + turn for turn in (5.0, -5.0)]
    each_s = [planned(field, CULTIVATOR, turn).work_s for turn in turned_deg]
    assert cover.work_s == pytest.approx(min(each_s))
    (only,) = [
        plan_covering(
            field,
            spread=spread,
            angles_rad=(angle_rad,),
            driving=CULTIVATOR,
            straight_within_m=2.0,
        )
        for angle_rad in (-math.radians(12.0),)
    ]
    assert math.degrees(spread.heading_rad - only.heading_rad) % 180.0 == pytest.approx(12.0)


# --- the first pass ---------------------------------------------------------------------------


def test_the_first_pass_runs_beside_the_near_side() -> None:
    """800 x 400 m, one round of 12 m: 18 m from the south side, aiming 18 m left of the corner."""
    plan = plan_at_heading(
        rectangle(800.0, 400.0),
        heading_rad=0.0,
        driving=driving(driving_width_m=12.0),
        straight_within_m=2.0,
        from_m=(0.0, 0.0),
    )
    begin = first(plan)
    assert begin.start_corner_m == (0.0, 0.0)
    assert begin.near_edge.length_m == pytest.approx(800.0)
    assert begin.start_edge == begin.near_edge
    assert begin.from_start_edge_m == pytest.approx(18.0)
    assert begin.start_m == pytest.approx((12.0, 18.0))
    assert begin.aim_rad == pytest.approx(0.0)
    assert begin.far_corner_m == (800.0, 0.0)
    assert begin.far_mark_m == pytest.approx((800.0, 18.0))
    assert begin.along_far_edge_m == pytest.approx(18.0)


@pytest.mark.parametrize("turn_deg", [5.0, -5.0])
@pytest.mark.parametrize("gate_m", [(0.0, 0.0), (800.0, 0.0), (800.0, 400.0), (0.0, 400.0)])
def test_by_eye_the_first_pass_is_a_long_one_and_the_wedge_comes_last(
    turn_deg: float, gate_m: tuple[float, float]
) -> None:
    """Turned 5 degrees from an 800 m side the rows beside it are short: they are driven last.

    MACH-C75: the first row to steer by crosses the field; every later row lies beside a driven
    one, or opens a land.
    """
    machine = driving(driving_width_m=12.0, by_eye=True)
    plan = plan_at_heading(
        rectangle(800.0, 400.0),
        heading_rad=math.radians(turn_deg),
        driving=machine,
        straight_within_m=2.0,
        from_m=gate_m,
    )
    assert plan.order == Order(way="next")
    longest_m = plan.pass_lengths_m.max()
    assert plan.pass_lengths_m[0] >= 0.6 * longest_m
    begun, onward = plan.row_indices[0], np.diff(plan.row_indices)
    turned_at = np.flatnonzero(np.abs(onward) != 1)
    assert len(turned_at) == 1
    # Away from the first row to the far side, then the short ones from the first row back.
    assert abs(plan.row_indices[turned_at[0] + 1] - begun) == 1
    wedge_m = plan.pass_lengths_m[turned_at[0] + 1 :]
    assert (wedge_m < 0.6 * longest_m).all()
    without = plan_at_heading(
        rectangle(800.0, 400.0),
        heading_rad=math.radians(turn_deg),
        driving=replace(machine, by_eye=False),
        straight_within_m=2.0,
        from_m=gate_m,
    )
    assert (np.abs(np.diff(without.row_indices)) == 1).all()


@given(field=any_field, machine=st.sampled_from([SPREADER, CULTIVATOR]))
@settings(max_examples=40)
def test_the_first_pass_is_the_first_run(field: Outline, machine: Driving) -> None:
    """It starts where the first run starts, aims along it, and its mark lies ahead."""
    plan = planned(field, machine)
    if plan.first is None:
        assert len(plan.passes_m) == 0
        return
    assert plan.first.start_m == pytest.approx(plan.passes_m[0, 0].tolist())
    along_m = plan.passes_m[0, 1] - plan.passes_m[0, 0]
    to_mark_m = np.subtract(plan.first.far_mark_m, plan.first.start_m)
    aim = np.asarray([math.cos(plan.first.aim_rad), math.sin(plan.first.aim_rad)])
    assert along_m @ aim == pytest.approx(np.hypot(*along_m))
    assert abs(aim[0] * to_mark_m[1] - aim[1] * to_mark_m[0]) < 1e-6
    assert to_mark_m @ aim > 0.0


# --- the plan on the ground -------------------------------------------------------------------


@given(field=fields(), machine=st.sampled_from([SPREADER, CULTIVATOR]))
@settings(max_examples=60)
def test_no_tool_leaves_the_field_and_next_to_nothing_is_missed(
    field: Outline, machine: Driving
) -> None:
    """Every run and leg within the outline to 1 cm; half a percent missed from 10 ha on."""
    plan = planned(field, machine)
    assert shapely.covers(field.shape.buffer(0.01), swept(plan)).all()
    for hole_m in field.holes_m:
        pond = shapely.Polygon(hole_m).buffer(-0.01)
        assert not shapely.intersects(pond, swept(plan)).any()
    # Sharp corners weigh more in a small field.
    assert missed_fraction(field, plan) <= (0.005 if field.area_m2 >= 1e5 else 0.02)


@given(field=fields(), heading_deg=st.floats(0.0, 180.0), width_m=st.floats(6.0, 16.0))
@settings(max_examples=40)
def test_at_any_heading_no_tool_leaves_the_field(
    field: Outline, heading_deg: float, width_m: float
) -> None:
    """Slanted ends included; what the rounds leave is gone over, less a hair a row."""
    plan = planned(field, driving(driving_width_m=width_m), heading_deg)
    assert shapely.covers(field.shape.buffer(0.01), swept(plan)).all()
    driven = shapely.union_all(swept(plan), grid_size=1e-4)
    for piece in plan.rounds.inner:
        left_m2 = piece.shape.difference(driven).area
        assert left_m2 < (0.5 * width_m + 1.0) * max(plan.passes_count, 1) * 0.1


def test_what_is_missed_is_measured() -> None:
    """Leaving out every second pass of 776 x 376 m: 16 rows of 12 m, less 4 m lapped.

    The last row laps the one before by 8 m. Rows 1, 3, .. 31 left out: 15 of 12 m and one of
    which 4 m are nobody else's: 184 m of 776 m, of 320,000 m2.
    """
    field = rectangle(800.0, 400.0)
    plan = planned(field, driving(driving_width_m=12.0))
    assert missed_fraction(field, plan) == pytest.approx(0.0, abs=1e-8)
    odd_rows = plan.row_indices % 2 == 1
    half = replace(plan, passes_m=plan.passes_m[~odd_rows])
    assert missed_fraction(field, half) == pytest.approx((15 * 12 + 4) * 776 / 320_000)


def test_the_share_missed_stands_when_rows_share_their_edges() -> None:
    """A5, rows of 12.19 m to the north: a plain union of the rows lost two of them."""
    field = drawn("0,0 400,0 400,400 0,400", "180,60 196,60 216,340 200,340")
    plan = planned(field, driving(driving_width_m=12.19), 90.0)
    assert missed_fraction(field, plan) < 1e-4


def test_the_same_field_gives_the_same_plan_twice() -> None:
    """Nothing is drawn by lot."""
    field = drawn("0,0 402,0 430,120 380,260 415,402 0,402")
    one, two = planned(field, SPREADER), planned(field, SPREADER)
    assert one.passes_m.tobytes() == two.passes_m.tobytes()
    assert one.first == two.first
    assert (one.work_s, one.link_s) == (two.work_s, two.link_s)
    over, again = covered(field, one), covered(field, two)
    assert over.passes_m.tobytes() == again.passes_m.tobytes()
    for mine, theirs in zip(over.rounds_m, again.rounds_m, strict=True):
        assert mine.tobytes() == theirs.tobytes()


def test_the_turns_of_a_rectangle_are_those_of_the_pass_turn() -> None:
    """Row after row on square ends each turn is the one worked out for passes side by side."""
    plan = planned(rectangle(500.0, 12.0 * 12 + 24.0), driving(driving_width_m=12.0), 0.0)
    expected = pass_turn(TURN, between_m=12.0)
    assert plan.passes_count == 12
    assert plan.turn_s.tolist() == pytest.approx([expected.time_s] * 11)
    assert all(
        math.dist(one[1], other[0]) == pytest.approx(12.0) for one, other in pairwise(plan.passes_m)
    )


def test_the_way_on_from_the_rounds_is_weighed_too() -> None:
    """Passes 93 s quicker that begin 290 s away from the end of the rounds are no gain.

    Row after row, all runs of a row before the next, takes 10,231 s on this field, begun beside
    the end of the rounds.
    """
    field = ragged_field(739)
    plan = planned(field, SPREADER)
    assert plan.link_s < 60.0
    assert plan.work_s < 10_232.0


# --- strips and the numbers of passes ------------------------------------------------------------


def test_a_strip_of_two_rounds_and_a_run_has_one_pass() -> None:
    """2,000 x 20 m, 9 m tool: room for one round, and one pass over the 2 m in the middle.

    By hand: the only pass runs in the middle, 10 m in from each long side.
    """
    field = rectangle(2000.0, 20.0)
    driving = Driving(
        driving_width_m=9.0, speed_mps=2.5,
        turn=TurnRule(radius_m=9.0, speed_mps=2.0, fixed_s=5.0),
    )  # fmt: skip
    plan = plan_at_heading(
        field, heading_rad=math.radians(5.0), driving=driving, straight_within_m=1.0
    )
    assert plan.only_strips
    assert plan.passes_count == len(plan.passes_m) == 1
    assert plan.heading_rad == pytest.approx(0.0, abs=1e-6)
    assert plan.passes_m[0, :, 1] == pytest.approx([10.0, 10.0])
    assert pass_numbers(plan) == (1,)
    assert plan.first is not None
    assert missed_fraction(field, plan) < 1e-3


def test_passes_are_numbered_as_they_are_driven_and_short_runs_are_not() -> None:
    """Rows 4, 4, 2 and a strip behind the last part: passes 1, 1, 2 and none."""
    plan = plan_at_heading(
        rectangle(800.0, 400.0), heading_rad=0.0, driving=SPREADER, straight_within_m=1.0
    )
    numbered = replace(
        plan,
        passes_m=plan.passes_m[:4],
        row_indices=np.asarray([4, 4, 2, 0]),
        block_indices=np.asarray([0, 0, 0, len(plan.blocks)]),
    )
    assert pass_numbers(numbered) == (1, 1, 2, None)
