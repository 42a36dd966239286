"""Turns worked by hand, and the rows of the machine pack that are derived there."""

from __future__ import annotations

import math

import numpy as np
import pytest

from duskline.core.errors import OutOfRange
from duskline.core.turns import (
    Turn,
    TurnRule,
    driven_turn,
    fishtail_depth_m,
    fishtail_length_m,
    fishtail_turn,
    forward_depth_m,
    forward_length_m,
    forward_lengths_m,
    pass_turn,
    reverse_lengths_m,
    room_needed_m,
    shortest_turn,
    turn_depth_m,
    turn_path_m,
    turn_time_s,
    turn_times_s,
)

NORTH = math.pi / 2
SOUTH = -math.pi / 2
HALF = 0.0005
"""Half the last digit printed in the pack."""

# Machine pack, section 6, tag `derived`: id, distance across [m], radius [m], length [m],
# fishtail [m] or None, depth [m], word.
BESIDE = [
    ("MACH-C60", 9.0, 6.0, 30.978, 21.850, 11.809, "bulb"),
    ("MACH-C61", 12.0, 6.0, 18.850, None, 6.0, "half circle"),
    ("MACH-C62", 18.0, 6.0, 24.850, None, 6.0, "half circle"),
    ("MACH-C63", 6.0, 6.0, 36.195, 24.850, 13.937, "bulb"),
    ("MACH-C64", 0.0, 6.0, 43.982, None, 16.392, "bulb"),
    ("MACH-C65", 9.14, 7.0, 38.737, 26.851, 14.883, "bulb"),
]
# The same, any poses: id, start, end, radius [m], length [m], word.
ANYWHERE = [
    ("MACH-C66", (0.0, 0.0, NORTH), (20.0, 10.0, SOUTH), 6.0, 31.656, "RSR"),
    ("MACH-C67", (0.0, 0.0, NORTH), (9.0, 5.0, SOUTH), 6.0, 29.704, "LRL"),
    ("MACH-C68", (0.0, 0.0, 0.0), (4.0, 4.0, NORTH), 2.0, 5.970, "LSL"),
    ("MACH-C69", (0.0, 0.0, NORTH / 2), (1.0, 1.0, SOUTH / 2), 1.0, 7.352, "RSL"),
]


@pytest.mark.parametrize(("row", "across", "radius", "length", "back", "depth", "kind"), BESIDE)
def test_turns_between_passes_side_by_side(
    row: str,
    across: float,
    radius: float,
    length: float,
    back: float | None,
    depth: float,
    kind: str,
) -> None:
    """The search, the closed form and the turn told to the user agree with the pack's row."""
    start, end = (0.0, 0.0, NORTH), (across, 0.0, SOUTH)
    turn = shortest_turn(start, end, radius_m=radius)
    told = pass_turn(TurnRule(radius_m=radius, speed_mps=2.0), between_m=across)
    for found in (
        turn.length_m,
        told.length_m,
        forward_length_m(between_m=across, radius_m=radius),
        float(forward_lengths_m(np.array([start]), np.array([end]), radius_m=radius)[0]),
    ):
        assert found == pytest.approx(length, abs=HALF), row
    for found in (
        turn_depth_m(start, end, radius_m=radius),
        told.depth_m,
        forward_depth_m(between_m=across, radius_m=radius),
    ):
        assert found == pytest.approx(depth, abs=HALF), row
    assert told.kind == kind, row
    if back is not None:
        assert fishtail_length_m(between_m=across, radius_m=radius) == pytest.approx(back, abs=HALF)
        assert fishtail_turn(start, end, radius_m=radius).length_m == pytest.approx(back, abs=HALF)


@pytest.mark.parametrize(("row", "start", "end", "radius", "length", "word"), ANYWHERE)
def test_turns_between_any_two_poses(
    row: str,
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    radius: float,
    length: float,
    word: str,
) -> None:
    """The pack's lengths and words; C69 needs the word that is easiest to forget."""
    turn = shortest_turn(start, end, radius_m=radius)
    assert turn.length_m == pytest.approx(length, abs=HALF), row
    assert turn.word == word, row


def test_straight_ahead_is_exactly_the_distance() -> None:
    """MACH-C70: ten metres ahead are 10 m, facing any way, with no loop from rounding."""
    assert shortest_turn((0.0, 0.0, 0.0), (10.0, 0.0, 0.0), radius_m=2.0).length_m == 10.0
    headings = np.linspace(-9.0, 9.0, 4001)
    starts = np.column_stack((np.full(4001, 431.7), np.full(4001, -1293.4), headings))
    ends = starts.copy()
    ends[:, 0] += 10.0 * np.cos(headings)
    ends[:, 1] += 10.0 * np.sin(headings)
    for lengths in (forward_lengths_m, reverse_lengths_m):
        assert lengths(starts, ends, radius_m=2.0) == pytest.approx(10.0, abs=1e-9)


def test_bend_along_one_circle_has_no_loop_from_rounding() -> None:
    """A corner rounded at just the turning radius: the bend's own length, facing any way.

    Nothing but rounding tells the first circle from the last, and its direction says nothing;
    one case in ten thousand once gained a loop of 38 m.
    """
    count = 400_000
    rng = np.random.default_rng(4)
    bends, headings = rng.uniform(0.01, 1.5, count), rng.uniform(-9.0, 9.0, count)
    starts = np.column_stack((rng.uniform(-3000.0, 3000.0, (count, 2)), headings))
    for side in (1.0, -1.0):
        ends = starts.copy()
        ends[:, 0] += side * 6.0 * (np.sin(headings + side * bends) - np.sin(headings))
        ends[:, 1] -= side * 6.0 * (np.cos(headings + side * bends) - np.cos(headings))
        ends[:, 2] += side * bends
        for lengths in (forward_lengths_m, reverse_lengths_m):
            off_m = lengths(starts, ends, radius_m=6.0) - 6.0 * bends
            assert np.abs(off_m).max() <= 1e-9


def test_slanted_headland_by_hand() -> None:
    """MACH-C67 in closed form: d 9, e 5, r 6: 6 (3 pi - 4 asin(hypot(21, 5) / 24)) = 29.704 m."""
    by_hand = 6.0 * (3.0 * math.pi - 4.0 * math.asin(math.sqrt(466.0) / 24.0))
    assert by_hand == pytest.approx(29.704, abs=HALF)
    found = forward_length_m(between_m=9.0, radius_m=6.0, offset_m=5.0)
    assert found == pytest.approx(by_hand, rel=1e-14)


def test_slanted_end_line_moves_the_depth() -> None:
    """A half circle of radius 6 m beyond a line that rises 1 in 2: 6 sqrt(1.25) - 3 = 3.71 m.

    The circle's centre is 6 m east of the pass end, on the square line; the line rises there by
    3 m. The farthest point above the slanted line, along the pass, is r sqrt(1 + 0.25) - 3.
    """
    slant = math.atan2(1.0, 2.0)
    turn = Turn(start=(0.0, 0.0, NORTH), radius_m=6.0, sides=(-1,), parts_m=(6.0 * math.pi,))
    assert turn.depth_m() == pytest.approx(6.0, rel=1e-14)
    by_hand = 6.0 * math.sqrt(1.25) - 3.0
    assert turn.depth_m(end_line_rad=slant) == pytest.approx(by_hand, rel=1e-12)
    assert turn.depth_m(end_line_rad=slant + math.pi) == pytest.approx(by_hand, rel=1e-12)
    with pytest.raises(OutOfRange, match="end line"):
        turn.depth_m(end_line_rad=NORTH)


def test_skipping_a_pass_is_shorter_than_the_bulb() -> None:
    """MACH-C62 against C60: skip one pass of 9 m and turn 18 m across, 6.1 m less to drive."""
    near = forward_length_m(between_m=9.0, radius_m=6.0)
    assert near - forward_length_m(between_m=18.0, radius_m=6.0) == pytest.approx(6.128, abs=0.001)


def test_time_is_length_over_speed_and_the_fixed_part() -> None:
    """20 m at 2 m/s and 5 s of lifting: 15 s."""
    rule = TurnRule(radius_m=6.0, speed_mps=2.0, fixed_s=5.0)
    assert turn_time_s(20.0, rule) == 15.0
    with pytest.raises(OutOfRange):
        turn_time_s(-1.0, rule)


def test_driver_who_backs_up_makes_the_fishtail() -> None:
    """9 m across at radius 6: (pi + 2) 6 - 9 = 21.850 m, at 2 m/s with 5 s fixed 15.92 s."""
    rule = TurnRule(radius_m=6.0, speed_mps=2.0, fixed_s=5.0, reverses=True, trailing_m=3.0)
    told = pass_turn(rule, between_m=9.0)
    assert told.kind == "fishtail"
    assert told.length_m == pytest.approx(21.850, abs=HALF)
    assert told.time_s == pytest.approx(15.925, abs=HALF)
    assert told.depth_m == pytest.approx(6.0 + 3.0)
    turn = driven_turn((0.0, 0.0, NORTH), (9.0, 0.0, SOUTH), rule)
    assert turn.word == "R+S-R+"
    assert turn.gear_changes_count == 2
    assert turn.parts_m == pytest.approx((3.0 * math.pi, -3.0, 3.0 * math.pi))


def test_slow_gears_make_the_driver_swing_out_instead() -> None:
    """The fishtail saves 9.13 m, 4.56 s at 2 m/s: two changes of 2.2 s pay, of 2.4 s do not."""
    quick = TurnRule(radius_m=6.0, speed_mps=2.0, reverses=True, gear_s=2.2)
    slow = TurnRule(radius_m=6.0, speed_mps=2.0, reverses=True, gear_s=2.4)
    assert pass_turn(quick, between_m=9.0).kind == "fishtail"
    assert pass_turn(quick, between_m=9.0).time_s == pytest.approx(21.850 / 2.0 + 4.4, abs=HALF)
    assert pass_turn(slow, between_m=9.0).kind == "bulb"


def test_no_driver_backs_up_into_a_half_circle() -> None:
    """Passes two radii apart or more need no reverse: the half circle is as short."""
    rule = TurnRule(radius_m=6.0, speed_mps=2.0, reverses=True)
    assert pass_turn(rule, between_m=12.0).kind == "half circle"
    assert pass_turn(rule, between_m=18.0).kind == "half circle"


def test_many_turns_take_what_each_turn_takes() -> None:
    """The times of all turns of a plan equal the times one by one, forward and with reverse."""
    rng = np.random.default_rng(3)
    starts = np.column_stack((rng.uniform(-20, 20, (50, 2)), rng.uniform(-4, 4, 50)))
    ends = np.column_stack((rng.uniform(-20, 20, (50, 2)), rng.uniform(-4, 4, 50)))
    for reverses in (False, True):
        rule = TurnRule(radius_m=6.0, speed_mps=2.0, fixed_s=5.0, reverses=reverses, gear_s=1.5)
        one_by_one = []
        for start, end in zip(starts, ends, strict=True):
            turn = driven_turn(tuple(start.tolist()), tuple(end.tolist()), rule)
            one_by_one.append(turn_time_s(turn.length_m, rule) + 1.5 * turn.gear_changes_count)
        assert turn_times_s(starts, ends, rule) == pytest.approx(one_by_one, rel=1e-12)


def test_room_is_depth_trailing_length_and_half_the_width() -> None:
    """Half circle of 6 m, tool 3 m behind, 9 m wide: 6 + 3 + 4.5 = 13.5 m."""
    rule = TurnRule(radius_m=6.0, speed_mps=2.0, trailing_m=3.0)
    assert room_needed_m(rule, 12.0, 4.5) == pytest.approx(13.5)
    assert room_needed_m(rule, 9.0, 4.5) == pytest.approx(11.809 + 7.5, abs=HALF)


def test_turning_round_on_the_spot_with_reverse_is_half_a_circle_of_driving() -> None:
    """Three bends of 60 degrees, each in the other gear: pi r, where the fishtail takes more."""
    turn = shortest_turn((3.0, 4.0, 0.3), (3.0, 4.0, 0.3 + math.pi), radius_m=6.0, reverse=True)
    assert turn.length_m == pytest.approx(6.0 * math.pi, rel=1e-12)
    assert [abs(part) for part in turn.parts_m] == pytest.approx([2.0 * math.pi] * 3)
    assert turn.parts_m[0] * turn.parts_m[1] < 0.0
    assert turn.parts_m[1] * turn.parts_m[2] < 0.0
    assert fishtail_length_m(between_m=0.0, radius_m=6.0) == pytest.approx(6.0 * (math.pi + 2.0))


def test_shortest_reverse_backs_into_the_pass_just_worked() -> None:
    """Why a turn is not timed by the shortest with reverse: it bends while it backs up.

    9 m across at radius 6 the least is pi r, never 0.2 m beyond the end line but 2.9 m
    back into the worked ground; a pulled tool cannot back round a bend.
    """
    turn = shortest_turn((0.0, 0.0, NORTH), (9.0, 0.0, SOUTH), radius_m=6.0, reverse=True)
    assert turn.length_m == pytest.approx(6.0 * math.pi, rel=1e-12)
    bent = [part for side, part in zip(turn.sides, turn.parts_m, strict=True) if side]
    assert min(bent) < -3.0
    assert turn.depth_m() < 0.2
    assert turn.path(0.1).points_m[:, 1].min() == pytest.approx(-2.905, abs=0.001)


def test_path_for_the_map_runs_from_pose_to_pose_in_steps() -> None:
    """Points start at the pass end, end at the next pass and lie no farther apart than a step."""
    start, end = (10.0, 20.0, NORTH), (19.0, 20.0, SOUTH)
    points = turn_path_m(start, end, radius_m=6.0, step_m=0.5)
    assert points[0] == pytest.approx((10.0, 20.0))
    assert points[-1] == pytest.approx((19.0, 20.0))
    steps = np.hypot(*np.diff(points, axis=0).T)
    assert steps.max() <= 0.5
    assert steps.sum() == pytest.approx(30.978, abs=0.02)


def test_path_tells_the_gear_of_every_point() -> None:
    """A fishtail: forward, backward along three metres, forward; it faces east while backing."""
    turn = fishtail_turn((0.0, 0.0, NORTH), (9.0, 0.0, SOUTH), radius_m=6.0)
    path = turn.path(1.0)
    assert sorted(set(path.gears.tolist())) == [-1, 1]
    assert int((path.gears == -1).sum()) == 3
    assert path.headings_rad[path.gears == -1] == pytest.approx(0.0, abs=1e-12)
    assert np.diff(path.points_m[path.gears == -1][:, 0]) == pytest.approx(-1.0)
    assert path.gears[0] == 1


def test_turn_of_no_length_is_one_point() -> None:
    """Already there: nothing to drive, one point for the map."""
    turn = shortest_turn((1.0, 2.0, 0.5), (1.0, 2.0, 0.5), radius_m=6.0)
    assert turn.length_m == 0.0
    assert turn.path(1.0).points_m.tolist() == [[1.0, 2.0]]
    assert turn.path(1.0).gears.tolist() == [1]
    assert turn.depth_m() == 0.0


def test_fishtail_between_passes_two_radii_apart_backs_up_nothing() -> None:
    """At 12 m and radius 6 the fishtail is the half circle: no gear change, same depth."""
    turn = fishtail_turn((0.0, 0.0, NORTH), (12.0, 0.0, SOUTH), radius_m=6.0)
    assert turn.length_m == pytest.approx(6.0 * math.pi)
    assert turn.gear_changes_count == 0
    assert fishtail_depth_m(between_m=12.0, radius_m=6.0) == 6.0


@pytest.mark.parametrize(
    "wrong",
    [
        {"radius_m": 0.0},
        {"radius_m": math.nan},
        {"speed_mps": 0.0},
        {"speed_mps": math.inf},
        {"fixed_s": -1.0},
        {"trailing_m": -0.1},
        {"gear_s": -1.0},
    ],
)
def test_rule_refuses_what_no_machine_does(wrong: dict[str, float]) -> None:
    """No radius, no speed, negative times and lengths are refused when the rule is made."""
    with pytest.raises(OutOfRange):
        TurnRule(**{"radius_m": 6.0, "speed_mps": 2.0, **wrong})  # type: ignore[arg-type]


def test_poses_that_are_no_numbers_are_refused() -> None:
    """A pose of the wrong shape or with no number in it is named, not driven."""
    good, nan = np.zeros((2, 3)), np.array([[0.0, math.nan, 0.0], [0.0, 0.0, 0.0]])
    rule = TurnRule(radius_m=6.0, speed_mps=2.0)
    with pytest.raises(OutOfRange, match="start of a turn"):
        forward_lengths_m(nan, good, radius_m=6.0)
    with pytest.raises(OutOfRange, match="end of a turn"):
        turn_times_s(good, nan, rule)
    with pytest.raises(OutOfRange, match="end of a turn"):
        shortest_turn((0.0, 0.0, 0.0), (math.inf, 0.0, 0.0), radius_m=6.0)
    with pytest.raises(ValueError, match="shape"):
        forward_lengths_m(np.zeros((2, 2)), good, radius_m=6.0)
    with pytest.raises(ValueError, match="2 starts of turns and 3 ends"):
        reverse_lengths_m(good, np.zeros((3, 3)), radius_m=6.0)
    with pytest.raises(OutOfRange, match="turning radius"):
        forward_lengths_m(good, good, radius_m=-1.0)
    with pytest.raises(OutOfRange, match="distance between passes"):
        forward_length_m(between_m=-1.0, radius_m=6.0)
    with pytest.raises(OutOfRange, match="step"):
        turn_path_m((0.0, 0.0, 0.0), (9.0, 0.0, 0.0), radius_m=6.0, step_m=0.0)


def test_no_turns_take_no_time() -> None:
    """A plan of one pass has no turn: empty in, empty out."""
    rule = TurnRule(radius_m=6.0, speed_mps=2.0)
    assert turn_times_s(np.empty((0, 3)), np.empty((0, 3)), rule).shape == (0,)
