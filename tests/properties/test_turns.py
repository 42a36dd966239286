"""What holds of every turn: it arrives, nothing is shorter, and its depth is what it drives."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from duskline.core.turns import (
    Pose,
    Turn,
    TurnRule,
    driven_turn,
    fishtail_depth_m,
    fishtail_length_m,
    fishtail_turn,
    forward_depth_m,
    forward_length_m,
    forward_lengths_m,
    reverse_lengths_m,
    shortest_turn,
    turn_times_s,
)

Floats = NDArray[np.float64]

NORTH = math.pi / 2
SOUTH = -math.pi / 2
place = st.floats(-60.0, 60.0).map(lambda value: round(value, 4))
heading = st.one_of(
    st.floats(-7.0, 7.0), st.sampled_from([k * math.pi / 6 for k in range(-12, 13)])
)
pose = st.tuples(place, place, heading)
radius = st.floats(1.0, 15.0)


def _arrives(turn: Turn, end: Pose) -> None:
    """Drive the parts by their chords, another way than the core does, and look where it ends."""
    x, y, facing = turn.start
    for side, part in zip(turn.sides, turn.parts_m, strict=True):
        bend = side * part / turn.radius_m
        # The chord of an arc: its length is the arc's times sin(b/2) / (b/2), half the bend off.
        chord = part * float(np.sinc(bend / (2.0 * math.pi)))
        x += chord * math.cos(facing + 0.5 * bend)
        y += chord * math.sin(facing + 0.5 * bend)
        facing += bend
    scale = 1.0 + turn.radius_m + turn.length_m
    assert math.hypot(x - end[0], y - end[1]) <= 1e-9 * scale
    assert abs(math.remainder(facing - end[2], 2.0 * math.pi)) <= 1e-9


@given(start=pose, end=pose, radius_m=radius)
@example(start=(0.0, 0.0, NORTH), end=(12.0, 0.0, SOUTH), radius_m=6.0)
@example(start=(0.0, 0.0, 0.3), end=(0.0, 0.0, 0.3), radius_m=6.0)
@example(start=(0.0, 0.0, 0.0), end=(24.0, 0.0, 0.0), radius_m=6.0)
@example(start=(0.0, 0.0, 0.0), end=(-30.0, 0.0, 0.0), radius_m=6.0)
@example(start=(0.0, 0.0, 0.0), end=(0.0, 24.0, 0.0), radius_m=6.0)
def test_every_turn_arrives(start: Pose, end: Pose, radius_m: float) -> None:
    """Driven part by part, each turn ends at the next pass, facing along it."""
    for turn in (
        shortest_turn(start, end, radius_m=radius_m),
        shortest_turn(start, end, radius_m=radius_m, reverse=True),
        fishtail_turn(start, end, radius_m=radius_m),
    ):
        _arrives(turn, end)
        assert turn.end == pytest.approx(turn.poses[-1])
        assert turn.length_m >= math.hypot(end[0] - start[0], end[1] - start[1]) - 1e-9


@pytest.mark.parametrize("start", [(0.0, 0.0, 0.0), (3e3, -4e3, 0.7), (123.4, 55.1, -2.9)])
def test_turns_arrive_where_circles_touch_or_are_one(start: Pose) -> None:
    """Ends on a grid of whole radii, faced by 30 degrees, exact or off by a hair: all arrive.

    There circles touch or fall together, parts vanish and words change places.
    """
    rng = np.random.default_rng(12)
    c, s = math.cos(start[2]), math.sin(start[2])
    for x, y, k, hair in itertools.product(range(-4, 5, 2), range(-4, 5), range(12), (0.0, 1e-12)):
        dx, dy, turned = np.array((x, y, k * math.pi / 6)) + hair * rng.normal(size=3)
        end = (start[0] + c * dx - s * dy, start[1] + s * dx + c * dy, start[2] + turned)
        forward = shortest_turn(start, end, radius_m=1.0)
        least = shortest_turn(start, end, radius_m=1.0, reverse=True)
        fishtail = fishtail_turn(start, end, radius_m=1.0)
        for turn in (forward, least, fishtail):
            _arrives(turn, end)
        assert least.length_m <= min(forward.length_m, fishtail.length_m) + 1e-8


@given(start=pose, end=pose, radius_m=radius)
def test_gears_are_as_the_kind_of_turn_says(start: Pose, end: Pose, radius_m: float) -> None:
    """Forward turns never back up; fishtails back up on the straight only."""
    assert min(shortest_turn(start, end, radius_m=radius_m).parts_m) >= 0.0
    fishtail = fishtail_turn(start, end, radius_m=radius_m)
    assert fishtail.sides[1] == 0
    assert fishtail.parts_m[1] <= 0.0 <= min(fishtail.parts_m[0], fishtail.parts_m[2])


@given(start=pose, end=pose, radius_m=radius)
def test_reverse_is_never_longer(start: Pose, end: Pose, radius_m: float) -> None:
    """More freedom is never a longer way: any gear <= fishtail, any gear <= forward."""
    least = shortest_turn(start, end, radius_m=radius_m, reverse=True).length_m
    assert least <= shortest_turn(start, end, radius_m=radius_m).length_m + 1e-9
    assert least <= fishtail_turn(start, end, radius_m=radius_m).length_m + 1e-9


@given(start=pose, end=pose, radius_m=radius)
def test_the_way_back_is_as_long(start: Pose, end: Pose, radius_m: float) -> None:
    """From the end, faced about, to the start, faced about; and as seen in a mirror."""

    def about(pose: Pose) -> Pose:
        return pose[0], pose[1], pose[2] + math.pi

    def mirrored(pose: Pose) -> Pose:
        return pose[0], -pose[1], -pose[2]

    for reverse in (False, True):
        there = shortest_turn(start, end, radius_m=radius_m, reverse=reverse).length_m
        for other in (
            shortest_turn(about(end), about(start), radius_m=radius_m, reverse=reverse),
            shortest_turn(mirrored(start), mirrored(end), radius_m=radius_m, reverse=reverse),
        ):
            # Where the end lies on the bend's own circle but for rounding, the one way finds it
            # and the other drives round once more: a true jump of the shortest curve.
            jumps = abs(abs(other.length_m - there) - math.tau * radius_m) < 1e-6
            assume(not jumps)
            assert other.length_m == pytest.approx(there, abs=1e-6)


@given(start=pose, end=pose, radius_m=radius, times=st.floats(0.1, 10.0))
def test_a_field_twice_as_large_has_turns_twice_as_long(
    start: Pose, end: Pose, radius_m: float, times: float
) -> None:
    """Length scales with the drawing, whatever the units."""
    once = shortest_turn(start, end, radius_m=radius_m, reverse=True)
    larger = shortest_turn(
        (start[0] * times, start[1] * times, start[2]),
        (end[0] * times, end[1] * times, end[2]),
        radius_m=radius_m * times,
        reverse=True,
    )
    assert larger.length_m == pytest.approx(once.length_m * times, rel=1e-7, abs=1e-7)


def _moved(poses: Floats, *, sides: Floats, parts: Floats) -> Floats:
    """Return the poses after one part each, radius 1."""
    x, y, facing = poses.T
    turned = facing + sides * parts
    straight = sides == 0
    bend = np.where(straight, 1.0, sides)
    return np.column_stack(
        (
            x
            + np.where(straight, parts * np.cos(facing), bend * (np.sin(turned) - np.sin(facing))),
            y
            + np.where(straight, parts * np.sin(facing), bend * (np.cos(facing) - np.cos(turned))),
            turned,
        )
    )


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("spread", [1.0, 3.0, 8.0])
def test_no_first_move_makes_the_rest_shorter_than_it_cost(spread: float, reverse: bool) -> None:
    """A proof that nothing is shorter: no move, of any length, gains more than its own length.

    If L(start) <= move + L(after the move) for every left, right and straight move, then adding
    up along any way of such moves, L(start) <= that way's length. Since L is itself driven (the
    test above), it is the shortest. Held to 200,000 moves at each of three distances.
    """
    rng = np.random.default_rng(20251125)
    count = 200_000
    ends = np.column_stack(
        (rng.uniform(-spread, spread, (count, 2)), rng.uniform(-math.pi, math.pi, count))
    )
    starts = np.zeros((count, 3))
    sides = rng.integers(-1, 2, count).astype(np.float64)
    parts = rng.exponential(rng.choice([0.05, 0.5, 3.0], count))
    if reverse:
        parts *= rng.choice([-1.0, 1.0], count)
    lengths = reverse_lengths_m if reverse else forward_lengths_m
    here = lengths(starts, ends, radius_m=1.0)
    there = lengths(_moved(starts, sides=sides, parts=parts), ends, radius_m=1.0)
    assert (here - np.abs(parts) - there).max() <= 1e-9


def _solved(word: tuple[int, int, int], end: Pose, *, reverse: bool) -> float:
    """Return the shortest of a word's solutions, found by Newton steps from many guesses."""
    rng = np.random.default_rng(7)
    sides = np.array(word, dtype=np.float64)
    turns = 2.0 * math.pi
    guess = rng.uniform(0.0, turns, (150, 3))
    if reverse:
        guess -= math.pi
    if word[1] == 0:
        far = 2.0 * (abs(end[0]) + abs(end[1])) + 4.0
        guess[:, 1] = rng.uniform(-far if reverse else 0.0, far, 150)

    def missed(parts: Floats) -> Floats:
        poses: Floats = np.zeros((len(parts), 3))
        for k in range(3):
            poses = _moved(poses, sides=np.full(len(parts), sides[k]), parts=parts[:, k])
        off: Floats = poses - np.array(end)
        off[:, 2] -= turns * np.round(off[:, 2] / turns)
        return off

    for _ in range(30):
        off = missed(guess)
        slopes = np.empty((len(guess), 3, 3))
        for k in range(3):
            nudge = np.zeros(3)
            nudge[k] = 1e-6
            slopes[:, :, k] = (missed(guess + nudge) - missed(guess - nudge)) / 2e-6
        step = np.einsum("nij,nj->ni", np.linalg.pinv(slopes), off)
        guess = guess - np.clip(step, -1.0, 1.0)
    arrived = np.abs(missed(guess)).max(axis=1) < 1e-8
    bent = sides != 0
    found = guess[arrived]
    found[:, bent] = (
        found[:, bent] - turns * np.round(found[:, bent] / turns)
        if reverse
        else found[:, bent] % turns
    )
    if not reverse:
        found = found[found[:, 1] >= 0.0]
    return float(np.abs(found).sum(axis=1).min(initial=math.inf))


@pytest.mark.parametrize(
    "end",
    [
        (1.5, 0.0, math.pi),
        (1.5, 0.8, math.pi),
        (0.5, -0.4, 1.1),
        (-2.0, 1.0, -0.7),
        (4.0, 3.0, 2.5),
        (1.0, 1.0, -0.9),
    ],
)
def test_numbers_tried_blindly_find_nothing_shorter(end: Pose) -> None:
    """150 guesses a word, improved until they arrive: the best is the length found by geometry.

    Forward the search covers all six words and must meet the length; with reverse it covers the
    words of three parts only, and must not go below it.
    """
    words = [
        (a, b, c)
        for a, b, c in itertools.product((1, -1), (0, 1, -1), (1, -1))
        if b == 0 or (a == c and b == -a)
    ]
    forward = min(_solved(word, end, reverse=False) for word in words)
    length = shortest_turn((0.0, 0.0, 0.0), end, radius_m=1.0).length_m
    assert length == pytest.approx(forward, abs=1e-6)
    backing = min(_solved(word, end, reverse=True) for word in words)
    least = shortest_turn((0.0, 0.0, 0.0), end, radius_m=1.0, reverse=True).length_m
    assert least <= backing + 1e-6


across = st.floats(0.0, 60.0)
offset = st.one_of(st.just(0.0), st.floats(-40.0, 40.0))


@given(between_m=across, radius_m=radius, offset_m=offset)
@example(between_m=12.0, radius_m=6.0, offset_m=0.0)
@example(between_m=0.0, radius_m=6.0, offset_m=12.0)
@example(between_m=0.0, radius_m=6.0, offset_m=0.0)
@example(between_m=9.0, radius_m=6.0, offset_m=math.sqrt(63.0))
def test_closed_forms_are_the_six_word_search(
    between_m: float, radius_m: float, offset_m: float
) -> None:
    """Half circle, bulb and one-sided bulb, square and slanted headland: the search finds them."""
    turn = shortest_turn((0.0, 0.0, NORTH), (between_m, offset_m, SOUTH), radius_m=radius_m)
    length = forward_length_m(between_m=between_m, radius_m=radius_m, offset_m=offset_m)
    assert length == pytest.approx(turn.length_m, abs=1e-6)
    if between_m > 1e-6:  # On the spot left and right are alike and may reach differently.
        depth = forward_depth_m(between_m=between_m, radius_m=radius_m, offset_m=offset_m)
        assert depth == pytest.approx(turn.depth_m(), abs=1e-5)


@given(share=st.floats(0.0, 1.0), radius_m=radius, offset_m=offset)
def test_closed_form_of_the_fishtail_is_the_four_word_search(
    share: float, radius_m: float, offset_m: float
) -> None:
    """Passes nearer than two radii: length and depth of the fishtail, square and slanted."""
    between_m = 2.0 * radius_m * share
    turn = fishtail_turn((0.0, 0.0, NORTH), (between_m, offset_m, SOUTH), radius_m=radius_m)
    length = fishtail_length_m(between_m=between_m, radius_m=radius_m, offset_m=offset_m)
    assert length == pytest.approx(turn.length_m, abs=1e-6)
    if 1e-6 < share < 1.0 - 1e-6:  # At two radii the half circle is as short, and deeper.
        depth = fishtail_depth_m(between_m=between_m, radius_m=radius_m, offset_m=offset_m)
        assert depth == pytest.approx(turn.depth_m(), abs=1e-5)


@given(start=pose, end=pose, radius_m=radius, line_rad=st.floats(0.3, 2.8), reverse=st.booleans())
def test_depth_is_that_of_points_along_the_way(
    start: Pose, end: Pose, radius_m: float, line_rad: float, reverse: bool
) -> None:
    """No point along the way is deeper, and one is as deep but for the step between points."""
    turn = shortest_turn(start, end, radius_m=radius_m, reverse=reverse)
    points = turn.path(0.05).points_m - np.array(start[:2])
    for line in (None, start[2] + line_rad):
        square = start[2] - NORTH + math.pi if line is None else line
        normal = np.array((-math.sin(square), math.cos(square)))
        normal /= normal @ np.array((math.cos(start[2]), math.sin(start[2])))
        sampled = float((points @ normal).max())
        depth = turn.depth_m(end_line_rad=line)
        assert sampled <= depth + 1e-9
        assert depth <= sampled + 0.05**2 / (8.0 * radius_m) * float(np.hypot(*normal)) + 1e-9


@given(start=pose, end=pose, radius_m=radius, gear_s=st.floats(0.0, 6.0))
def test_backing_up_never_makes_a_turn_slower(
    start: Pose, end: Pose, radius_m: float, gear_s: float
) -> None:
    """A driver who may back up does so only where it is quicker, and takes that time."""
    rule = TurnRule(radius_m=radius_m, speed_mps=2.0, fixed_s=4.0)
    free = TurnRule(radius_m=radius_m, speed_mps=2.0, fixed_s=4.0, reverses=True, gear_s=gear_s)
    starts, ends = np.array([start]), np.array([end])
    time_s = float(turn_times_s(starts, ends, free)[0])
    assert time_s <= float(turn_times_s(starts, ends, rule)[0])
    turn = driven_turn(start, end, free)
    assert time_s >= turn.length_m / 2.0 + 4.0 - 1e-9
