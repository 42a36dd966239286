"""Turn lengths against other people's formulas, figures and program."""

from __future__ import annotations

import math

import numpy as np
import pytest

from duskline.core.turns import Pose, Turn, forward_lengths_m, reverse_lengths_m, shortest_turn

TAU = 2.0 * math.pi


def test_length_that_another_program_holds_itself_to() -> None:
    """From the origin facing east to 5 m east facing 3 rad at radius 1: 8.2725, within 0.001.

    Read: github.com/kaarthiksundar/Dubins.jl, test/test1.jl, with the tolerance stated there.
    """
    turn = shortest_turn((0.0, 0.0, 0.0), (5.0, 0.0, 3.0), radius_m=1.0)
    assert abs(turn.length_m - 8.2725) <= 1e-3


def _ways(alpha: float, beta: float, d: float) -> dict[str, tuple[float, float, float]]:
    """Return the six words' parts in radii: Shkel and Lumelsky 2001, equations 1 to 6; memory.

    R L R is also as read on the page below, but for its first angle.
    """
    sa, ca, sb, cb, cd = (
        math.sin(alpha),
        math.cos(alpha),
        math.sin(beta),
        math.cos(beta),
        math.cos(alpha - beta),
    )
    found = {}
    left = math.atan2(cb - ca, d + sa - sb)
    p2 = 2.0 + d * d - 2.0 * cd + 2.0 * d * (sa - sb)
    found["LSL"] = ((left - alpha) % TAU, math.sqrt(max(p2, 0.0)), (beta - left) % TAU)
    right = math.atan2(ca - cb, d - sa + sb)
    p2 = 2.0 + d * d - 2.0 * cd + 2.0 * d * (sb - sa)
    found["RSR"] = ((alpha - right) % TAU, math.sqrt(max(p2, 0.0)), (right - beta) % TAU)
    p2 = -2.0 + d * d + 2.0 * cd + 2.0 * d * (sa + sb)
    if p2 >= 0.0:
        p = math.sqrt(p2)
        turn = math.atan2(-ca - cb, d + sa + sb) - math.atan2(-2.0, p)
        found["LSR"] = ((turn - alpha) % TAU, p, (turn - beta) % TAU)
    p2 = -2.0 + d * d + 2.0 * cd - 2.0 * d * (sa + sb)
    if p2 >= 0.0:
        p = math.sqrt(p2)
        turn = math.atan2(ca + cb, d - sa - sb) - math.atan2(2.0, p)
        found["RSL"] = ((alpha - turn) % TAU, p, (beta - turn) % TAU)
    q = (6.0 - d * d + 2.0 * cd + 2.0 * d * (sa - sb)) / 8.0
    if abs(q) <= 1.0:
        p = TAU - math.acos(q)
        t = (alpha - right + p / 2.0) % TAU
        found["RLR"] = (t, p, (alpha - beta - t + p) % TAU)
    q = (6.0 - d * d + 2.0 * cd + 2.0 * d * (sb - sa)) / 8.0
    if abs(q) <= 1.0:
        p = TAU - math.acos(q)
        t = (math.atan2(cb - ca, d + sa - sb) - alpha + p / 2.0) % TAU
        found["LRL"] = (t, p, (beta - alpha - t + p) % TAU)
    return found


def _parted(word: str, parts: tuple[float, float, float], start: Pose) -> Turn:
    sides = tuple({"L": 1, "S": 0, "R": -1}[letter] for letter in word)
    return Turn(start=start, radius_m=1.0, sides=sides, parts_m=parts)


def _arrives(turn: Turn, end: Pose) -> bool:
    x, y, heading = turn.end
    off_rad = math.remainder(heading - end[2], TAU)
    return max(abs(x - end[0]), abs(y - end[1]), abs(off_rad)) < 1e-7


def test_six_words_as_printed_arrive_and_are_no_shorter() -> None:
    """3,000 pairs of poses: the least of the published six is our length, to 1e-9."""
    rng = np.random.default_rng(35)
    alphas, betas = rng.uniform(-math.pi, math.pi, (2, 3000))
    distances = rng.uniform(0.0, 8.0, 3000)
    starts = np.column_stack((np.zeros((3000, 2)), alphas))
    ends = np.column_stack((distances, np.zeros(3000), betas))
    printed, words = [], set()
    for alpha, beta, d in zip(alphas.tolist(), betas.tolist(), distances.tolist(), strict=True):
        ways = _ways(alpha, beta, d)
        for word, parts in ways.items():
            assert _arrives(_parted(word, parts, (0.0, 0.0, alpha)), (d, 0.0, beta)), word
        best = min(ways, key=lambda word: sum(ways[word]))
        words.add(best)
        printed.append(sum(ways[best]))
    assert words == {"LSL", "RSR", "LSR", "RSL", "LRL", "RLR"}
    assert forward_lengths_m(starts, ends, radius_m=1.0) == pytest.approx(printed, abs=1e-9)


def test_page_prints_the_left_word_under_the_right_words_name() -> None:
    """M35: "RSR" as printed on the page does not arrive turning right; turning left it does.

    https://atsushisakai.github.io/PythonRobotics//modules/5_path_planning/dubins_path/dubins_path.html
    read: p2 = 2 + d2 - 2 cos(a - b) + 2 d (sin a - sin b), t = atan2(cos b - cos a,
    d + sin a - sin b), parts t - a, p, b - t. A printed row that breaks its own rule: the test
    holds the rule, that a word's parts must lead to the end.
    """
    for alpha, beta, d in ((0.3, 1.1, 4.0), (2.0, -0.7, 3.0), (-1.2, 0.4, 5.5)):
        sa, sb, ca, cb = math.sin(alpha), math.sin(beta), math.cos(alpha), math.cos(beta)
        p = math.sqrt(2.0 + d * d - 2.0 * math.cos(alpha - beta) + 2.0 * d * (sa - sb))
        t = math.atan2(cb - ca, d + sa - sb)
        parts = ((t - alpha) % TAU, p, (beta - t) % TAU)
        start, end = (0.0, 0.0, alpha), (d, 0.0, beta)
        assert not _arrives(_parted("RSR", parts, start), end)
        assert _arrives(_parted("LSL", parts, start), end)


def test_page_prints_the_first_angle_of_right_left_right_with_the_left_signs() -> None:
    """M35: R L R as printed on the same page misses; with the signs of the right circle it arrives.

    Read: middle part 2 pi - acos((6 - d2 + 2 cos(a - b) + 2 d (sin a - sin b)) / 8), first part
    a - atan2(cos b - cos a, d + sin a - sin b) + middle / 2, last a - b - first + middle.
    """
    for alpha, beta, d in ((0.3, 1.1, 1.0), (2.0, -0.7, 1.5), (-1.2, 0.4, 0.8)):
        sa, sb, ca, cb = math.sin(alpha), math.sin(beta), math.cos(alpha), math.cos(beta)
        q = (6.0 - d * d + 2.0 * math.cos(alpha - beta) + 2.0 * d * (sa - sb)) / 8.0
        middle = TAU - math.acos(q)
        start, end = (0.0, 0.0, alpha), (d, 0.0, beta)
        for angle, arrives in (
            (math.atan2(cb - ca, d + sa - sb), False),
            (math.atan2(ca - cb, d - sa + sb), True),
        ):
            first = (alpha - angle + middle / 2.0) % TAU
            parts = (first, middle, (alpha - beta - first + middle) % TAU)
            assert _arrives(_parted("RLR", parts, start), end) is arrives


def test_shortest_with_reverse_is_that_of_another_program() -> None:
    """2,000 pairs of poses at three distances against rsplan 1.0.10 (MIT), to 1e-9.

    An independent reading of Reeds and Shepp 1990; its tolerance for longer ways with fewer gear
    changes is set to nothing.
    """
    planner = pytest.importorskip("rsplan.planner", reason="rsplan is a development dependency")
    rng = np.random.default_rng(1990)
    spread = rng.choice([1.0, 4.0, 15.0], 2000)[:, None]
    ends = np.column_stack(
        (spread * rng.uniform(-1.0, 1.0, (2000, 2)), rng.uniform(-math.pi, math.pi, 2000))
    )
    theirs = [
        planner.path((0.0, 0.0, 0.0), tuple(end), 1.3, 0.0, 0.5, length_tolerance=0.0).total_length
        for end in ends.tolist()
    ]
    ours = reverse_lengths_m(np.zeros((2000, 3)), ends, radius_m=1.3)
    assert ours == pytest.approx(theirs, abs=1e-9)
