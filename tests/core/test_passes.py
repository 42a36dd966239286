"""Passes: counts, minutes, order and the first aim mark, worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import drawn, fields, rectangle

from duskline.core.errors import OutOfRange
from duskline.core.outline import Outline, extent_across_m, inset
from duskline.core.passes import (
    Driving,
    FirstPass,
    PassPlan,
    candidate_headings_rad,
    expected_turns_count,
    missed_fraction,
    plan_at_heading,
    plan_covering,
    plan_passes,
    rounds_count,
    rows_count,
    turned_heading_rad,
)

# Passes across 800 x 400 m at an angle, 9 m wide. Derived.
MACH_C71 = [(0, 45), (3, 50), (5, 53), (8, 57), (10, 60), (15, 66), (20, 73), (30, 83), (45, 95)]
# Triangle (0,0) (500,0) (0,400), 9 m wide: heading of a side, passes. Derived.
MACH_C74 = [(0.0, 45), (math.atan2(400.0, -500.0), 35), (math.pi / 2.0, 56)]
# Slanted end: angle from square, extra run of a 9 m machine. Derived: w tan(angle).
MACH_C73 = [(15.0, 2.412), (30.0, 5.196)]


def driving(
    *,
    driving_width_m: float = 10.0,
    speed_mps: float = 2.5,
    turn_s: float = 20.0,
    turning_depth_m: float = 20.0,
) -> Driving:
    """Return a machine 10 m wide at 2.5 m/s that needs 20 m to turn in 20 s."""
    return Driving(
        driving_width_m=driving_width_m,
        speed_mps=speed_mps,
        turn_s=turn_s,
        turning_depth_m=turning_depth_m,
    )


def planned(field: Outline, machine: Driving, heading_deg: float | None = None) -> PassPlan:
    """Return the plan along the best side, or at a heading."""
    if heading_deg is None:
        return plan_passes(field, driving=machine, straight_within_m=1.0)
    return plan_at_heading(
        field, heading_rad=math.radians(heading_deg), driving=machine, straight_within_m=1.0
    )


def first(plan: PassPlan) -> FirstPass:
    """Return the first pass of a plan that has one."""
    assert plan.first is not None
    return plan.first


# --- counts -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("angle_deg", "count"), MACH_C71)
def test_passes_across_a_rectangle_at_an_angle(angle_deg: float, count: int) -> None:
    """MACH-C71, derived: extent over width, rounded up; without a headland the plan agrees."""
    field, machine = rectangle(800.0, 400.0), driving(driving_width_m=9.0, turning_depth_m=0.0)
    extent_m = extent_across_m(field, heading_rad=math.radians(angle_deg))
    assert rows_count(extent_m=extent_m, driving_width_m=9.0) == count
    assert planned(field, machine, angle_deg).passes_count == count


def test_a_slight_angle_costs_few_turns() -> None:
    """MACH-C72, derived: 10 degrees instead of 0 is 15 turns of 20.65 s more, 5.2 min."""
    machine = driving(driving_width_m=9.0, turn_s=20.65, turning_depth_m=0.0)
    along = planned(rectangle(800.0, 400.0), machine, 0.0)
    angled = planned(rectangle(800.0, 400.0), machine, 10.0)
    more_count = angled.turns_count - along.turns_count
    assert more_count == 15
    assert more_count * 20.65 / 60.0 == pytest.approx(5.2, abs=0.05)


def test_hours_of_a_rectangle_without_a_headland() -> None:
    """MACH-C12, derived: 48 passes of 800 m at 2.5 m/s and 47 turns of 21 s are 4.541 h.

    By hand: 48 * 800 / 2.5 = 15,360 s; 47 * 21 = 987 s; 16,347 s / 3,600 = 4.5408 h.
    """
    machine = driving(driving_width_m=9.0 - 0.63, turn_s=21.0, turning_depth_m=0.0)
    plan = planned(rectangle(800.0, 400.0), machine)
    assert plan.passes_count == 48
    assert plan.work_s == pytest.approx(15_360.0 + 987.0)
    assert plan.work_s / 3600.0 == pytest.approx(4.541, abs=0.0005)


@pytest.mark.parametrize(("heading_rad", "count"), MACH_C74)
def test_passes_of_a_triangle_along_each_side(heading_rad: float, count: int) -> None:
    """MACH-C74, derived: 45, 35 and 56 passes."""
    plan = planned(
        drawn("0,0 500,0 0,400"),
        driving(driving_width_m=9.0, turning_depth_m=0.0),
        math.degrees(heading_rad),
    )
    assert plan.passes_count == count


def test_along_the_longest_side_of_a_triangle_wins() -> None:
    """MACH-C74, derived: 35 passes along the slope beat 45 and 56 along the others."""
    plan = planned(drawn("0,0 500,0 0,400"), driving(driving_width_m=9.0, turning_depth_m=0.0))
    assert plan.passes_count == 35
    assert plan.heading_rad == pytest.approx(MACH_C74[1][0])


def test_a_whole_number_of_widths_is_not_rounded_up_again() -> None:
    """400 m in rows of 10 m is 40; a tenth of a metre more is 41; nothing across is none."""
    assert rows_count(extent_m=40 * 9.14, driving_width_m=9.14) == 40
    assert rows_count(extent_m=400.0, driving_width_m=10.0) == 40
    assert rows_count(extent_m=400.1, driving_width_m=10.0) == 41
    assert rows_count(extent_m=0.0, driving_width_m=10.0) == 0


def test_rounds_make_the_room_the_turns_need() -> None:
    """A turn 12 m deep needs two rounds of 8.2 m, one of 12.2 m, none where it needs no room."""
    assert rounds_count(turning_depth_m=12.0, driving_width_m=8.2) == 2
    assert rounds_count(turning_depth_m=12.0, driving_width_m=12.2) == 1
    assert rounds_count(turning_depth_m=0.0, driving_width_m=12.2) == 0


@pytest.mark.parametrize(
    ("extent_m", "driving_width_m"), [(-1.0, 9.0), (400.0, 0.0), (400.0, -9.0)]
)
def test_counts_need_a_width_and_an_extent(extent_m: float, driving_width_m: float) -> None:
    """No width, no passes to count."""
    with pytest.raises(OutOfRange):
        rows_count(extent_m=extent_m, driving_width_m=driving_width_m)


@pytest.mark.parametrize("name", ["driving_width_m", "speed_mps", "turn_s", "turning_depth_m"])
@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf])
def test_a_machine_that_cannot_be_is_refused(name: str, value: float) -> None:
    """Widths and speeds above zero, times and depths not below, all of them finite."""
    with pytest.raises(OutOfRange):
        replace(driving(), **{name: value})


@given(field=fields(), heading_deg=st.floats(0.0, 180.0))
@settings(max_examples=40, deadline=None)
def test_passes_count_is_what_the_headland_leaves_over_the_width(
    field: Outline, heading_deg: float
) -> None:
    """ceil(extent / width), the extent taken over all the headland leaves."""
    plan = planned(field, driving(), heading_deg)
    left = inset(field, depth_m=plan.headland_m)
    across = np.asarray([-math.sin(plan.heading_rad), math.cos(plan.heading_rad)])
    extent_m = float(np.ptp(np.concatenate([piece.exterior_m for piece in left]) @ across))
    assert plan.passes_count == math.ceil(extent_m / 10.0 - 1e-9)


# --- the plan of a rectangle, by hand -------------------------------------------------------------


def test_minutes_of_a_rectangle_with_its_rounds() -> None:
    """800 x 400 m, 10 m wide, two rounds: 36 passes of 760 m, 35 turns, 4,640 m of rounds.

    By hand: rounds at 5 m and 15 m from the edge, 2 (790 + 390) + 2 (770 + 370) = 4,640 m;
    left 760 x 360 m; (36 * 760 + 4,640) / 2.5 + 35 * 20 = 12,800 + 700 = 13,500 s.
    """
    plan = planned(rectangle(800.0, 400.0), driving())
    assert plan.rounds_count == 2
    assert plan.rounds_length_m == pytest.approx(2 * (790 + 390) + 2 * (770 + 370))
    assert plan.passes_count == 36
    assert plan.pass_lengths_m.tolist() == pytest.approx([760.0] * 36)
    assert plan.turns_count == 35
    assert plan.work_s == pytest.approx(13_500.0)
    assert plan.longest_edge_s == plan.work_s


def test_passes_are_driven_there_and_back() -> None:
    """Each pass starts beside the end of the one before, one driving width over."""
    plan = planned(rectangle(800.0, 400.0), driving())
    steps_m = plan.passes_m[1:, 0] - plan.passes_m[:-1, 1]
    assert np.hypot(*steps_m.T).tolist() == pytest.approx([10.0] * 35)
    assert plan.row_indices.tolist() == list(range(36))


def test_the_last_pass_laps_the_one_before_it() -> None:
    """105 m in rows of 10 m: eleven passes, the last 5 m over, none beyond the field."""
    plan = planned(rectangle(400.0, 105.0), driving(turning_depth_m=0.0))
    middles_m = plan.passes_m[:, 0, 1]
    assert middles_m[:3].tolist() == pytest.approx([5.0, 15.0, 25.0])
    assert middles_m[-2:].tolist() == pytest.approx([95.0, 100.0])


def test_a_strip_narrower_than_the_machine_gets_one_pass_down_its_middle() -> None:
    """8 m wide, machine 10 m wide."""
    plan = planned(rectangle(400.0, 8.0), driving(turning_depth_m=0.0))
    assert plan.passes_count == 1
    assert plan.passes_m[0, :, 1].tolist() == pytest.approx([4.0, 4.0])


def test_a_field_too_narrow_for_its_rounds_gets_fewer_and_says_so() -> None:
    """300 x 25 m: two rounds of 10 m would leave nothing, one leaves 5 m."""
    plan = planned(rectangle(300.0, 25.0), driving())
    assert plan.rounds_count == 1
    assert not plan.turns_fit
    assert missed_fraction(rectangle(300.0, 25.0), plan) == pytest.approx(0.0, abs=1e-6)
    assert planned(rectangle(300.0, 200.0), driving()).turns_fit


def test_a_turning_depth_deeper_than_any_field_still_ends() -> None:
    """A slip of the pen (20 km to turn) gives a plan without room to turn, not a hang."""
    plan = planned(rectangle(300.0, 200.0), driving(turning_depth_m=20_000.0))
    assert plan.rounds_count == 9
    assert not plan.turns_fit


@pytest.mark.parametrize(("slant_deg", "extra_m"), MACH_C73)
def test_a_slanted_end_is_worked_to_its_far_corner(slant_deg: float, extra_m: float) -> None:
    """MACH-C73, derived: a pass beside an end 15 degrees off square runs 2.412 m further.

    What the headland leaves is 400 m less two headlands of 9 m taken along the pass,
    9 / cos(slant) each; the run adds w tan(slant) over both ends together.
    """
    lean_m = 300.0 * math.tan(math.radians(slant_deg))
    field = drawn(f"0,0 400,0 {400 + lean_m},300 {lean_m},300")
    plan = planned(field, driving(driving_width_m=9.0, turning_depth_m=9.0), 0.0)
    left_m = 400.0 - 2.0 * 9.0 / math.cos(math.radians(slant_deg))
    assert plan.pass_lengths_m[:-1] - left_m == pytest.approx(extra_m, abs=0.0005)


def test_a_hole_breaks_its_rows_in_two() -> None:
    """A pond in the middle: 38 rows, those that meet it driven in two runs."""
    field = drawn("0,0 400,0 400,400 0,400", "190,190 210,190 210,210 190,210")
    plan = planned(field, driving(turning_depth_m=10.0), 0.0)
    # The pond and its round reach from 180 to 220 m: rows 17 to 20, counted from the edge.
    assert plan.passes_count == 38
    assert len(plan.passes_m) == 42
    broken, runs_count = np.unique(plan.row_indices, return_counts=True)
    assert broken[runs_count == 2].tolist() == [17, 18, 19, 20]


# --- headings ------------------------------------------------------------------------------------


def test_the_chosen_heading_of_a_triangle_is_not_the_worse() -> None:
    """A3, point rows: along the slope against along the 600 m side, both figures stand."""
    field = drawn("0,0 600,0 0,380")
    machine = driving(driving_width_m=8.2, turning_depth_m=12.0)
    plan, along_base = planned(field, machine), planned(field, machine, 0.0)
    assert plan.work_s < along_base.work_s
    assert plan.longest_edge_s == plan.work_s
    assert along_base.longest_edge_s == plan.work_s
    assert plan.turns_count < along_base.turns_count


def test_another_side_may_beat_the_longest() -> None:
    """A5, a square with a waterway to the north: rows along it are broken less often.

    All four sides are 400 m long, so the longest is the south one; to the east the waterway
    breaks every row for 280 m of the field, to the north only those for its 36 m.
    """
    field = drawn("0,0 400,0 400,400 0,400", "180,60 196,60 216,340 200,340")
    plan, along_south = planned(field, driving()), planned(field, driving(), 0.0)
    assert along_south.work_s == pytest.approx(plan.longest_edge_s)
    assert plan.heading_rad == pytest.approx(math.pi / 2.0)
    assert plan.work_s < plan.longest_edge_s
    assert plan.turns_count < along_south.turns_count


@given(field=fields())
@settings(max_examples=40, deadline=None)
def test_the_plan_is_never_slower_than_along_the_longest_side(field: Outline) -> None:
    """The longest side is one of the headings tried."""
    plan = planned(field, driving())
    assert plan.work_s <= plan.longest_edge_s


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


@pytest.mark.parametrize("heading_deg", [0.0, 20.0, 90.0, 133.0])
def test_expected_runs_are_the_mean_over_where_the_first_pass_falls(heading_deg: float) -> None:
    """Lines 10 m apart over an L with a pond, counted at 200 starts: within half a percent."""
    field = drawn("0,0 800,0 800,200 400,200 400,400 0,400", "150,150 250,160 240,240 160,230")
    heading_rad = math.radians(heading_deg)
    along = np.asarray([math.cos(heading_rad), math.sin(heading_rad)])
    across = np.asarray([-along[1], along[0]])
    counts = []
    for start_m in np.linspace(-1000.0, -990.0, 200, endpoint=False):
        middles_m = np.arange(start_m, 1000.0, 10.0)[:, None] * across
        lines = shapely.linestrings(np.stack([middles_m - 2e3 * along, middles_m + 2e3 * along], 1))
        cut = shapely.intersection(lines, field.shape)
        counts.append(int(shapely.get_num_geometries(cut[~shapely.is_empty(cut)]).sum()))
    expected = expected_turns_count(
        field, headings_rad=np.asarray([heading_rad]), driving_width_m=10.0
    )
    assert np.mean(counts) == pytest.approx(expected[0], rel=0.005)


def test_covering_turns_from_the_spread_heading_by_the_angle() -> None:
    """Left or right, whichever takes fewer minutes, by the angle asked for."""
    field = drawn("0,0 620,0 560,180 300,240 0,210")
    spread = planned(field, driving(driving_width_m=12.0))
    cover = plan_covering(
        field,
        spread_heading_rad=spread.heading_rad,
        angle_rad=math.radians(5.0),
        driving=driving(),
        straight_within_m=1.0,
    )
    apart_deg = math.degrees(cover.heading_rad - spread.heading_rad) % 180.0
    assert min(apart_deg, 180.0 - apart_deg) == pytest.approx(5.0)
    turned_deg = [math.degrees(spread.heading_rad) + turn for turn in (5.0, -5.0)]
    assert cover.work_s == min(planned(field, driving(), turn).work_s for turn in turned_deg)


def test_a_heading_and_its_opposite_are_one_line() -> None:
    """175 degrees turned by 10 to the left lies along 5."""
    turned_rad = turned_heading_rad(heading_rad=math.radians(175.0), angle_rad=math.radians(10.0))
    assert math.degrees(turned_rad) == pytest.approx(5.0)


# --- the first pass ---------------------------------------------------------------------------


def test_the_first_pass_runs_beside_the_near_side() -> None:
    """800 x 400 m, two rounds of 10 m: 25 m from the south side, aiming 25 m left of the corner."""
    begin = first(planned(rectangle(800.0, 400.0), driving()))
    assert begin.start_corner_m == (0.0, 0.0)
    assert begin.near_edge.length_m == pytest.approx(800.0)
    assert begin.from_near_edge_m == pytest.approx(25.0)
    assert begin.start_m == pytest.approx((20.0, 25.0))
    assert begin.aim_rad == pytest.approx(0.0)
    assert begin.far_corner_m == (800.0, 0.0)
    assert begin.far_mark_m == pytest.approx((800.0, 25.0))
    assert begin.along_far_edge_m == pytest.approx(25.0)
    assert begin.mark_left_of_corner


@pytest.mark.parametrize("turn_deg", [5.0, -5.0])
def test_the_first_covering_pass_aims_beside_the_far_corner(turn_deg: float) -> None:
    """Turned 5 degrees from an 800 m side: the mark stands about 88 m from the far corner.

    Turned left the driver starts at the south-west corner and aims left of the south-east
    one; turned right it is the same in a mirror. The line of the pass rises from its start
    by tan(5 degrees) a metre until the far side.
    """
    plan = planned(rectangle(800.0, 400.0), driving(), turn_deg)
    begin = first(plan)
    to_the_far_side_m = 800.0 - begin.start_m[0] if turn_deg > 0.0 else begin.start_m[0]
    mark_m = begin.start_m[1] + to_the_far_side_m * math.tan(math.radians(5.0))
    far_x_m = 800.0 if turn_deg > 0.0 else 0.0
    assert begin.start_corner_m == (800.0 - far_x_m, 0.0)
    assert begin.far_corner_m == (far_x_m, 0.0)
    assert begin.far_mark_m == pytest.approx((far_x_m, mark_m))
    assert begin.along_far_edge_m == pytest.approx(mark_m)
    assert begin.mark_left_of_corner == (turn_deg > 0.0)
    assert 20.0 <= begin.from_near_edge_m <= 30.0


def test_short_rows_in_the_wedge_come_last() -> None:
    """Turned 5 degrees, rows below the first pass are driven after all rows above it."""
    plan = planned(rectangle(800.0, 400.0), driving(), 5.0)
    begun = int(plan.row_indices[0])
    rows = [*range(begun, plan.passes_count), *range(begun - 1, -1, -1)]
    assert begun > 0
    assert plan.row_indices.tolist() == rows
    aims_rad = np.arctan2(*(plan.passes_m[:, 1] - plan.passes_m[:, 0]).T[::-1])
    assert np.degrees(aims_rad[:4]).tolist() == pytest.approx([5.0, -175.0, 5.0, -175.0])


@given(field=fields(), heading_deg=st.floats(0.0, 180.0))
@settings(max_examples=60, deadline=None)
def test_the_mark_lies_straight_ahead_on_the_far_side(field: Outline, heading_deg: float) -> None:
    """From the start along the aim one comes to the mark, and the mark is on the edge."""
    begin = planned(field, driving(), heading_deg).first
    if begin is None:
        return
    to_mark_m = np.subtract(begin.far_mark_m, begin.start_m)
    aim = np.asarray([math.cos(begin.aim_rad), math.sin(begin.aim_rad)])
    assert abs(aim[0] * to_mark_m[1] - aim[1] * to_mark_m[0]) < 1e-6
    assert to_mark_m @ aim > 0.0
    edge = shapely.LinearRing(field.exterior_m)
    assert edge.distance(shapely.Point(begin.far_mark_m)) <= 1.0 + 1e-6
    assert begin.along_far_edge_m <= 0.5 * begin.far_edge.length_m + 1e-6


# --- the plan on the ground -------------------------------------------------------------------


@given(field=fields(with_hole=True), heading_deg=st.floats(0.0, 180.0))
@settings(max_examples=60, deadline=None)
def test_no_pass_enters_a_hole_or_leaves_the_field(field: Outline, heading_deg: float) -> None:
    """With a headland, not even the ends of the machine do."""
    machine = driving(turning_depth_m=10.0)
    plan = planned(field, machine, heading_deg)
    assert shapely.linestrings(plan.passes_m).size == len(plan.row_indices)
    for hole_m in field.holes_m:
        assert shapely.MultiLineString(list(plan.passes_m)).disjoint(shapely.Polygon(hole_m))
    machine_m = shapely.buffer(shapely.linestrings(plan.passes_m), 4.999, cap_style="flat")
    assert plan.rounds_count == 0 or shapely.covers(field.shape, machine_m).all()


@given(field=fields(with_hole=True), heading_deg=st.floats(0.0, 180.0))
@settings(max_examples=40, deadline=None)
def test_without_a_headland_passes_still_stay_on_the_field(
    field: Outline, heading_deg: float
) -> None:
    """The middle of the machine never leaves the field nor enters a hole."""
    plan = planned(field, driving(turning_depth_m=0.0), heading_deg)
    grown = field.shape.buffer(1e-6)
    assert shapely.covers(grown, shapely.linestrings(plan.passes_m)).all()


@given(field=fields(), heading_deg=st.floats(0.0, 180.0))
@settings(max_examples=40, deadline=None)
def test_the_passes_go_over_all_that_the_headland_leaves(
    field: Outline, heading_deg: float
) -> None:
    """Point rows and slanted ends included: under a square decimetre a row is left."""
    plan = planned(field, driving(turning_depth_m=10.0), heading_deg)
    driven = shapely.union_all(
        shapely.buffer(shapely.linestrings(plan.passes_m), 5.0, cap_style="flat"), grid_size=1e-4
    )
    for piece in inset(field, depth_m=plan.headland_m):
        assert piece.shape.difference(driven).area < 0.02 * plan.passes_count


def test_what_is_missed_is_measured() -> None:
    """Leaving out every second pass of 360 x 760 m misses half of it: 18 rows of 10 m.

    By hand: 18 * 760 * 10 / 320,000 = 42.75 %.
    """
    field = rectangle(800.0, 400.0)
    plan = planned(field, driving())
    assert missed_fraction(field, plan) == pytest.approx(0.0, abs=1e-9)
    half = replace(plan, passes_m=plan.passes_m[::2])
    assert missed_fraction(field, half) == pytest.approx(18 * 760 * 10 / 320_000)


def test_the_share_missed_stands_when_rows_share_their_edges() -> None:
    """A5, rows of 12.19 m to the north: a plain union of the rows lost two of them."""
    field = drawn("0,0 400,0 400,400 0,400", "180,60 196,60 216,340 200,340")
    plan = planned(field, driving(driving_width_m=12.19, turning_depth_m=12.0), 90.0)
    assert missed_fraction(field, plan) < 1e-6


def test_the_same_field_gives_the_same_plan_twice() -> None:
    """Nothing is drawn by lot."""
    field = drawn("0,0 402,0 430,120 380,260 415,402 0,402")
    one, two = planned(field, driving()), planned(field, driving())
    assert one.passes_m.tobytes() == two.passes_m.tobytes()
    assert one.first == two.first
