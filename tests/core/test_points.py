"""Wear of points, the ground they still do, where they are swapped, and the level of the tool."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.points import (
    AreaRange,
    RowWear,
    area_left,
    first_point_left_m2,
    life_area_m2,
    life_m,
    new_set_area,
    points_used_count,
    poke_check,
    row_wear,
    swap_list,
    track_m_per_m2,
)

HECTARE_M2 = 1e4
ACRE_M2 = 4046.8564224
INCH_M = 0.0254
JUDGED: dict[str, float] = {
    "measuring_sd_m": 0.001, "spread_fraction": 0.2, "spread_worth_count": 4.0,
}  # fmt: skip
SURE: dict[str, float] = {"ahead_spread_fraction": 0.25, "sure_fraction": 0.9}
WORN = st.lists(st.floats(1e-3, 0.05), min_size=1, max_size=12)


def wear_of(*worn_mm: float, points: int = 12, acres: float = 420.0, **judged: Any) -> RowWear:
    """Return a row's wear from readings in millimetres."""
    return row_wear(
        worn_m=[one / 1e3 for one in worn_mm],
        points_count=points,
        over_m2=acres * ACRE_M2,
        **{**JUDGED, **judged},
    )


@pytest.mark.parametrize(("life_km", "hectares"), [(9, 8.1), (50, 45.0), (168, 151.2)])
def test_life_in_kilometres_becomes_ground_at_nine_metres(life_km: float, hectares: float) -> None:
    """MACH-C80 (derived): 1.111 km per ha for each tool; 9, 50, 168 km are 8.1, 45, 151.2 ha."""
    assert track_m_per_m2(9.0) * HECTARE_M2 == pytest.approx(1111, abs=0.5)
    area = life_area_m2(life_m=life_km * 1e3, working_width_m=9.0)
    assert area / HECTARE_M2 == pytest.approx(hectares, abs=0.05)
    assert life_m(area_m2=area, working_width_m=9.0) == pytest.approx(life_km * 1e3)


def test_a_season_counts_the_points_of_wheel_tracks_by_themselves() -> None:
    """MACH-C83 (derived): 8 points last 22.5 ha and 32 last 45; 90 ha use 32 + 64 = 96."""
    in_tracks, elsewhere = (
        points_used_count(area_m2=90 * HECTARE_M2, life_m2=life * HECTARE_M2, points_count=points)
        for life, points in ((22.5, 8), (45.0, 32))
    )
    assert (in_tracks, elsewhere, in_tracks + elsewhere) == (32, 64, 96)
    assert points_used_count(area_m2=0.0, life_m2=1.0, points_count=8) == 8
    assert points_used_count(area_m2=45.1 * HECTARE_M2, life_m2=45e4, points_count=32) == 64


def test_story_16_eighteen_of_thirty_millimetres_leave_two_thirds_of_the_ground() -> None:
    """18 mm in 420 ac and a limit of 30: 420 (30 / 18 - 1) = 280 ac left, 700 for a new set."""
    wear = wear_of(18.0)
    left = area_left(wear, limit_m=0.030, **SURE)
    assert left.best_m2 / ACRE_M2 == pytest.approx(280.0)
    assert new_set_area(wear, limit_m=0.030, **SURE).best_m2 / ACRE_M2 == pytest.approx(700.0)
    assert wear.wear_m_per_m2 * 700 * ACRE_M2 == pytest.approx(0.030)


def test_the_error_of_a_rows_mean_by_hand() -> None:
    """16, 18, 20, 18 mm, four of ten points.

    By hand, mm2: assumed 3.6^2 + 1 = 13.96, measured 8/3; pooled (4 x 13.96 + 3 x 8/3) / 7 =
    9.12; over 4 and less the four tenths read 1.368; reading errors 1/10; root of 1.468 = 1.2116.
    """
    wear = wear_of(16, 18, 20, 18, points=10)
    assert wear.worn_m == pytest.approx(0.018)
    assert wear.most_worn_m == 0.020
    assert wear.spread_m == pytest.approx(math.sqrt(8 / 3) / 1e3)
    assert wear.standard_error_m == pytest.approx(1.2116e-3, abs=5e-8)
    assert wear.degrees == 7


def test_one_reading_leans_on_the_assumed_spread() -> None:
    """One of twelve: the mean may be off by nearly the whole assumed spread, 20 % and 1 mm."""
    wear = wear_of(18.0)
    assert wear.spread_m is None
    assert wear.standard_error_m**2 == pytest.approx(
        (0.0036**2 + 0.001**2) * 11 / 12 + 0.001**2 / 12
    )


def test_a_row_read_whole_and_exactly_leaves_only_the_ground_ahead_in_doubt() -> None:
    """No reading error, every point read: low and high are best over and times 1.499.

    By hand: log SD = sqrt(ln 1.0625) = 0.24622; 1.644854 x that = 0.40500; e^0.405 = 1.49930.
    """
    wear = wear_of(17, 18, 19, points=3, measuring_sd_m=0.0)
    assert wear.standard_error_m == 0.0
    left = area_left(wear, limit_m=0.030, **SURE)
    assert left.best_m2 / left.low_m2 == pytest.approx(1.4993, abs=5e-5)
    assert left.high_m2 / left.best_m2 == pytest.approx(1.4993, abs=5e-5)


def test_nothing_in_doubt_leaves_no_range() -> None:
    """Every point read exactly and the same ground ahead: low, best and high are one."""
    wear = wear_of(18, 18, points=2, measuring_sd_m=0.0)
    left = area_left(wear, limit_m=0.030, ahead_spread_fraction=0.0, sure_fraction=0.9)
    assert left.low_m2 == pytest.approx(left.best_m2)
    assert left.high_m2 == pytest.approx(left.best_m2)


@pytest.mark.parametrize(("read", "points"), [(1, 12), (2, 12), (4, 16), (12, 12)])
def test_the_range_holds_the_truth_about_as_often_as_it_says(read: int, points: int) -> None:
    """3,000 drawn rows with the spreads assumed: 9 in 10 ranges hold, never much fewer.

    Rows are drawn with points 20 % unlike, read to 1 mm, and ground ahead that wears 25 % more
    or less than the ground before. The low side, on which swaps are planned, fails about 1 in 20.
    """
    random = np.random.default_rng(16)
    held = failed_low = 0
    draws = 3000
    for _ in range(draws):
        true_m = random.normal(0.018, 0.0036, points)
        read_m = np.abs(true_m[:read] + random.normal(0.0, 0.001, read))
        ahead = math.exp(random.normal(0.0, math.sqrt(math.log1p(0.25**2))))
        wear = row_wear(worn_m=read_m.tolist(), points_count=points, over_m2=1e6, **JUDGED)
        left = area_left(wear, limit_m=0.030, **SURE)
        truth_m2 = 1e6 * (0.030 / true_m.mean() - 1.0) / ahead
        held += left.low_m2 <= truth_m2 <= left.high_m2
        failed_low += truth_m2 < left.low_m2
    assert 0.86 <= held / draws <= 0.97
    assert failed_low / draws <= 0.08


@given(worn=WORN, limit=st.floats(0.005, 0.08), extra=st.integers(0, 20))
def test_low_best_and_high_stand_in_order(worn: list[float], limit: float, extra: int) -> None:
    """Whatever was read: zero or more, low, best, high; a new set does more than nothing."""
    wear = row_wear(worn_m=worn, points_count=len(worn) + extra, over_m2=1e6, **JUDGED)
    for found in (
        area_left(wear, limit_m=limit, **SURE),
        new_set_area(wear, limit_m=limit, **SURE),
    ):
        assert 0.0 <= found.low_m2 <= found.best_m2 <= found.high_m2
    assert new_set_area(wear, limit_m=limit, **SURE).low_m2 > 0.0


@given(worn=WORN, extra=st.integers(0, 20))
def test_what_was_worked_and_what_is_left_make_a_new_set(worn: list[float], extra: int) -> None:
    """Worked plus left is what a new set does, as long as the limit is not passed."""
    wear = row_wear(worn_m=worn, points_count=len(worn) + extra, over_m2=1e6, **JUDGED)
    left = area_left(wear, limit_m=0.06, **SURE)
    whole = new_set_area(wear, limit_m=0.06, **SURE)
    assert 1e6 + left.best_m2 == pytest.approx(whole.best_m2)


@given(worn=WORN, scale=st.floats(0.1, 10.0))
def test_ground_left_grows_with_the_ground_worked(worn: list[float], scale: float) -> None:
    """The same wear over more ground: everything in proportion, the range too."""
    small, large = (
        area_left(
            row_wear(worn_m=worn, points_count=20, over_m2=over, **JUDGED),
            limit_m=0.06,
            **SURE,
        )
        for over in (1e6, scale * 1e6)
    )
    assert large.best_m2 == pytest.approx(scale * small.best_m2)
    assert large.low_m2 == pytest.approx(scale * small.low_m2, abs=1e-6)


@given(worn=st.floats(0.004, 0.028), count=st.integers(1, 11))
def test_reading_one_more_point_alike_narrows_the_range(worn: float, count: int) -> None:
    """Another point that reads the same makes the low side higher, never lower."""
    fewer, more = (
        area_left(
            row_wear(worn_m=[worn] * n, points_count=12, over_m2=1e6, **JUDGED),
            limit_m=0.03,
            **SURE,
        )
        for n in (count, count + 1)
    )
    assert more.low_m2 >= fewer.low_m2
    assert more.high_m2 <= fewer.high_m2


def test_a_limit_that_is_only_assumed_widens_the_range() -> None:
    """Swapped at 30 mm, maybe at 20, maybe at 40: wider on both sides, the same best guess."""
    wear = wear_of(18, 17, 19, 18)
    for work in (area_left, new_set_area):
        known = work(wear, limit_m=0.03, **SURE)
        assumed = work(wear, limit_m=0.03, limit_low_m=0.02, limit_high_m=0.04, **SURE)
        assert assumed.best_m2 == known.best_m2
        assert assumed.low_m2 < known.low_m2
        assert assumed.high_m2 > known.high_m2


def test_a_row_past_its_limit_has_nothing_left() -> None:
    """32 mm of 30: none left; the high side may still be above none."""
    left = area_left(wear_of(31, 32, 33), limit_m=0.030, **SURE)
    assert (left.low_m2, left.best_m2) == (0.0, 0.0)
    assert left.high_m2 > 0.0
    assert area_left(wear_of(60, 60), limit_m=0.030, **SURE) == AreaRange(
        low_m2=0.0, best_m2=0.0, high_m2=0.0
    )


def test_too_little_worn_to_say_has_no_high_side() -> None:
    """Half a millimetre read to a millimetre: the low side is known, the high one is not."""
    wear = wear_of(0.5, acres=10.0)
    left = area_left(wear, limit_m=0.030, **SURE)
    assert left.high_m2 == math.inf
    assert 0.0 < left.low_m2 < left.best_m2
    assert new_set_area(wear, limit_m=0.030, **SURE).high_m2 == math.inf


def test_the_most_worn_point_is_at_the_limit_before_the_row() -> None:
    """16 and 20 mm in 420 ac, limit 30: the second point after 210 ac, the row after 280."""
    wear = wear_of(16, 20)
    assert first_point_left_m2(wear, limit_m=0.030) / ACRE_M2 == pytest.approx(210.0)
    assert first_point_left_m2(wear, limit_m=0.019) == 0.0


@pytest.mark.parametrize(
    "wrong",
    [
        {"worn_m": []},
        {"worn_m": [0.01] * 3},
        {"worn_m": [-0.001]},
        {"worn_m": [math.nan]},
        {"over_m2": 0.0},
        {"spread_worth_count": 0.0},
    ],
)
def test_readings_that_cannot_be_true_are_refused(wrong: dict[str, Any]) -> None:
    """None read, more than the row has, longer than new, no ground worked."""
    good: dict[str, Any] = {"worn_m": [0.01], "points_count": 2, "over_m2": 1e5, **JUDGED}
    with pytest.raises(OutOfRange):
        row_wear(**{**good, **wrong})


def test_no_wear_no_limit_and_no_chance_are_refused() -> None:
    """Nothing worn tells nothing; a limit of nothing and certainty are no questions."""
    worn = wear_of(18)
    with pytest.raises(OutOfRange):
        area_left(wear_of(0.0), limit_m=0.03, **SURE)
    with pytest.raises(OutOfRange):
        first_point_left_m2(wear_of(0.0), limit_m=0.03)
    with pytest.raises(OutOfRange):
        area_left(worn, limit_m=0.0, **SURE)
    with pytest.raises(OutOfRange):
        area_left(worn, limit_m=0.03, ahead_spread_fraction=0.2, sure_fraction=1.0)
    with pytest.raises(OutOfRange):
        area_left(worn, limit_m=0.03, limit_low_m=0.04, **SURE)


# --- swaps ------------------------------------------------------------------------------------


def test_a_row_is_swapped_before_the_field_it_would_not_finish() -> None:
    """Fields of 50, 40, 60, 30, 90 with 100 left and 120 for a new set.

    By hand: 50 + 40 leave 10, so before the third; 120 - 60 - 30 leave 30, so before the fifth.
    """
    found = swap_list([50, 40, 60, 30, 90], left_m2=100, new_set_m2=120)
    assert [(one.field_index, one.in_field_m2, one.worked_m2) for one in found] == [
        (2, 0.0, 90),
        (4, 0.0, 180),
    ]


def test_a_row_that_ends_with_the_field_is_not_swapped_for_it() -> None:
    """100 left and fields of 60 and 40: it just lasts."""
    assert swap_list([60, 40], left_m2=100, new_set_m2=100) == ()
    assert swap_list([0.1] * 10, left_m2=1.0, new_set_m2=2.0) == ()


def test_a_field_larger_than_a_new_set_is_stopped_in() -> None:
    """250 of ground, new points that do 100: swapped after 100 and after 200 of it."""
    found = swap_list([20, 250], left_m2=30, new_set_m2=100)
    assert [(one.field_index, one.in_field_m2) for one in found] == [(1, 0.0), (1, 100), (1, 200)]


def test_new_points_are_not_swapped_for_new_ones() -> None:
    """A fresh set before a field larger than it does: it is worn out first, then swapped."""
    found = swap_list([150], left_m2=100, new_set_m2=100)
    assert [(one.field_index, one.in_field_m2) for one in found] == [(0, 100)]


def test_nothing_left_is_swapped_before_the_first_field() -> None:
    """Worn out in the yard: before the first field, once."""
    (only,) = swap_list([10, 20], left_m2=0.0, new_set_m2=100)
    assert (only.field_index, only.in_field_m2, only.worked_m2) == (0, 0.0, 0.0)
    assert swap_list([], left_m2=0.0, new_set_m2=100) == ()
    assert swap_list([10.0], left_m2=math.inf, new_set_m2=5.0) == ()


@given(
    areas=st.lists(st.floats(1.0, 200.0), max_size=15),
    left=st.floats(0.0, 150.0),
    new=st.floats(20.0, 300.0),
)
def test_no_set_ever_works_past_its_limit_and_none_is_swapped_for_nothing(
    areas: list[float], left: float, new: float
) -> None:
    """Between swaps at most a new set's ground; a swap before a field was needed for that field."""
    assume(left <= new)
    found = swap_list(areas, left_m2=left, new_set_m2=new)
    ends = [one.worked_m2 for one in found] + [sum(areas)]
    starts = [0.0] + [one.worked_m2 for one in found]
    allowed = [left] + [new] * len(found)
    for start, end, most in zip(starts, ends, allowed, strict=True):
        assert end - start <= most + 1e-6
    for swap, start, most in zip(found, starts, allowed, strict=False):
        done = swap.worked_m2 - start
        assert 0.0 <= swap.in_field_m2 < areas[swap.field_index]
        if swap.in_field_m2 == 0.0:
            assert done + areas[swap.field_index] > most
        else:
            assert areas[swap.field_index] > new
            assert done == pytest.approx(most, abs=1e-6)


@given(areas=st.lists(st.floats(1.0, 100.0), min_size=1, max_size=12), new=st.floats(20.0, 200.0))
def test_swapping_before_fields_never_takes_fewer_points_than_wear_alone(
    areas: list[float], new: float
) -> None:
    """Starting on new points: the sets used are at least the ground over a set's ground."""
    sets = 1 + len(swap_list(areas, left_m2=new, new_set_m2=new))
    assert sets >= points_used_count(area_m2=sum(areas), life_m2=new, points_count=1)


# --- depth and level --------------------------------------------------------------------------


def poked(front_in: list[float], rear_in: list[float]) -> Any:
    """Return the check of pokes in inches against 0.5 to 1.5 in and half an inch of level."""
    return poke_check(
        front_m=[one * INCH_M for one in front_in],
        rear_m=[one * INCH_M for one in rear_in],
        shallow_m=0.5 * INCH_M,
        deep_m=1.5 * INCH_M,
        level_within_m=0.5 * INCH_M,
    )


def test_story_15_a_rear_that_runs_deep_is_told_by_how_much() -> None:
    """Front mean 1.1 in, rear mean 1.8 in: rear 0.7 in deeper, not level, rear too deep."""
    found = poked([1.0, 1.2, 1.1, 0.9, 1.3], [1.8, 1.9, 1.6, 2.0, 1.7])
    assert found.front_m / INCH_M == pytest.approx(1.1)
    assert found.rear_deeper_m / INCH_M == pytest.approx(0.7)
    assert (found.is_level, found.front, found.rear) == (False, "right", "too deep")
    assert found.middle == "right"
    assert found.outside_count == 5
    # By hand: both rows have variance 0.025 in2, so the error is sqrt(2 x 0.025 / 5) = 0.1 in.
    assert found.standard_error_m / INCH_M == pytest.approx(0.1)
    assert not found.is_close_call


def test_half_an_inch_is_still_level_and_so_are_the_ends_of_the_wanted_depth() -> None:
    """1.0 and 1.5 in: level, both as wanted; 0.5 in is wanted too."""
    found = poked([1.0, 1.0], [1.5, 1.5])
    assert (found.is_level, found.front, found.rear) == (True, "right", "right")
    assert poked([0.5], [0.5]).front == "right"


def test_few_and_unlike_pokes_are_a_close_call() -> None:
    """A difference of 0.6 in from pokes that scatter by an inch could be 0.4 as well."""
    found = poked([0.5, 1.5], [1.1, 2.1])
    assert not found.is_level
    assert found.is_close_call
    single = poked([1.0], [1.6])
    assert single.standard_error_m is None
    assert not single.is_close_call


def test_a_front_that_runs_shallow_is_said_of_the_front() -> None:
    """0.3 in in front, 1.0 behind: the front is too shallow, the rear deeper."""
    found = poked([0.3], [1.0])
    assert (found.front, found.rear, found.is_level) == ("too shallow", "right", False)


@given(
    front=st.lists(st.floats(0.0, 4.0), min_size=1, max_size=10),
    rear=st.lists(st.floats(0.0, 4.0), min_size=1, max_size=10),
)
def test_turning_the_machine_round_turns_the_verdict_round(
    front: list[float], rear: list[float]
) -> None:
    """Front and rear exchanged: the difference changes its sign and the level stays."""
    one, other = poked(front, rear), poked(rear, front)
    assert one.rear_deeper_m == -other.rear_deeper_m
    assert (one.is_level, one.outside_count) == (other.is_level, other.outside_count)
    assert (one.front, one.rear) == (other.rear, other.front)


def test_no_pokes_and_depths_above_ground_are_refused() -> None:
    """Nothing behind one of the rows, or a depth below zero."""
    for front, rear in (([], [1.0]), ([1.0], []), ([-1.0], [1.0])):
        with pytest.raises(OutOfRange):
            poked(front, rear)
