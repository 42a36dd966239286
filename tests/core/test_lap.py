"""Overlap and skip: the formulas against simulated passes, by guided line and by eye."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.lap import (
    FieldLap,
    check_marks,
    count_check,
    drift_sd_m,
    effective_width_m,
    gap_sd_m,
    lapped_ground,
    more_lap_in_a_day,
    more_lap_in_a_field,
    overlap_advised_m,
    skip_fraction,
    uniform_overlap_m,
    whole_passes_count,
)

FOOT_M = 0.3048


def test_story_14_passes_counted_give_the_effective_width() -> None:
    """12 passes over 226 ft with a 21 ft tool: 18.8 ft, 10.3 % overlap."""
    width = effective_width_m(across_m=226 * FOOT_M, passes_count=12)
    assert width / FOOT_M == pytest.approx(18.83, abs=0.005)
    assert 1 - width / (21 * FOOT_M) == pytest.approx(0.103, abs=0.0005)
    with pytest.raises(OutOfRange):
        effective_width_m(across_m=10.0, passes_count=0)


@pytest.mark.parametrize(
    ("width", "overlap", "sd", "share"),
    [
        (9.0, 0.45, 0.20, 0.85e-3 / 8.55),  # mean skip 0.85 mm
        (13.7, 0.30, 0.30, 0.0019),  # mean skip 25 mm of a 13.4 m spacing
    ],
)
def test_hand_worked_skip_shares(width: float, overlap: float, sd: float, share: float) -> None:
    """Sd [phi(z) - z (1 - Phi(z))] / (width - overlap), worked with a table of the normal."""
    found = skip_fraction(width_m=width, overlap_m=overlap, gap_sd_m=sd)
    assert found == pytest.approx(share, rel=0.02)


@pytest.mark.parametrize("by_eye", [True, False])
@pytest.mark.parametrize(
    ("sd", "overlap"), [(0.05, 0.1), (0.2, 0.3), (0.3, 0.3), (0.5, 0.6), (0.3, 0.6)]
)
def test_the_share_missed_agrees_with_simulated_passes(
    sd: float, overlap: float, *, by_eye: bool
) -> None:
    """400,000 places on passes of 9 m: within 3 % of the closed form, in both ways of steering.

    Guided: every line is off by itself, the gap is the difference of two errors. By eye: each
    pass is laid against the edge of the last, so the gap is one error.
    """
    rng = np.random.default_rng(7)
    errors = rng.normal(0.0, sd, (200, 2001))
    gaps = errors[:, 1:] if by_eye else np.diff(errors, axis=1)
    missed = np.maximum(0.0, gaps - overlap).mean() / (9.0 - overlap)
    found = skip_fraction(
        width_m=9.0, overlap_m=overlap, gap_sd_m=gap_sd_m(edge_sd_m=sd, by_eye=by_eye)
    )
    assert found == pytest.approx(missed, rel=0.03)


@pytest.mark.parametrize(
    ("sd", "overlap", "guided", "by_eye"),
    [
        (0.05, 0.1, 0.00028, 0.00005),
        (0.2, 0.3, 0.00241, 0.00067),
        (0.3, 0.3, 0.00688, 0.00287),
        (0.3, 0.6, 0.00179, 0.00030),
        (0.5, 0.6, 0.00928, 0.00334),
    ],
)
def test_the_table_of_skips_for_nine_metres(
    sd: float, overlap: float, guided: float, by_eye: float
) -> None:
    """Pass edges off by 5 to 50 cm: shares missed on guided lines and driving by the last edge."""
    for share, eye in ((guided, False), (by_eye, True)):
        found = skip_fraction(
            width_m=9.0, overlap_m=overlap, gap_sd_m=gap_sd_m(edge_sd_m=sd, by_eye=eye)
        )
        assert found == pytest.approx(share, abs=0.000005)


def test_without_error_only_a_negative_overlap_misses() -> None:
    """Passes set 10 cm apart miss 10 cm in every 9.1 m."""
    assert skip_fraction(width_m=9.0, overlap_m=0.2, gap_sd_m=0.0) == 0.0
    assert skip_fraction(width_m=9.0, overlap_m=-0.1, gap_sd_m=0.0) == pytest.approx(0.1 / 9.1)
    with pytest.raises(OutOfRange):
        skip_fraction(width_m=9.0, overlap_m=9.0, gap_sd_m=0.1)


def test_the_advised_overlap_costs_least() -> None:
    """No overlap on a fine grid costs less than the advised one: c W / (W - o) + v f(o)."""
    ratio, sd, width = 0.2, 0.3, 9.0
    best = overlap_advised_m(
        width_m=width, gap_sd_m=sd, work_over_loss_low=ratio, work_over_loss_high=ratio
    ).best_m

    def cost(overlap: float) -> float:
        skip = skip_fraction(width_m=width, overlap_m=overlap, gap_sd_m=sd)
        return ratio * width / (width - overlap) + skip

    assert cost(best) <= min(cost(o) for o in np.linspace(0.0, 1.5, 301)) + 1e-9


@given(st.floats(3.0, 20.0), st.floats(0.02, 0.6), st.floats(0.05, 0.4), st.floats(1.0, 2.0))
def test_ranges_and_shares_are_in_order(width: float, sd: float, low: float, factor: float) -> None:
    """A dearer miss asks for more overlap; more overlap never misses more."""
    found = overlap_advised_m(
        width_m=width, gap_sd_m=sd, work_over_loss_low=low, work_over_loss_high=low * factor
    )
    assert 0.0 <= found.low_m <= found.best_m + 1e-9 <= found.high_m + 2e-9
    less = skip_fraction(width_m=width, overlap_m=found.low_m, gap_sd_m=sd)
    more = skip_fraction(width_m=width, overlap_m=found.high_m, gap_sd_m=sd)
    assert more <= less + 1e-12


# --- What lapping over costs ---------------------------------------------------------------------

QUARTER_M = 2640 * FOOT_M
SEEDER_M = 55 * FOOT_M


def test_forty_nine_passes_lap_evenly_by_fourteen_inches() -> None:
    """MACH-C52 (derived): 49 passes of 55 ft over 2,640 ft lap 1.146 ft each."""
    lap = uniform_overlap_m(across_m=QUARTER_M, width_m=SEEDER_M, passes_count=49)
    assert lap / FOOT_M == pytest.approx(1.146, abs=0.0005)
    assert lap / FOOT_M == pytest.approx((49 * 55 - 2640) / 48)


def test_a_wanted_lap_of_two_feet_costs_three_passes() -> None:
    """MACH-C53 (derived): 402.3 m, 9.14 m tool, 0.6 m wanted: 48 passes, 0.775 m; 45 with none."""
    across, tool = 402.3, 9.14
    assert whole_passes_count(across_m=across, width_m=tool, overlap_m=0.6) == 48
    assert whole_passes_count(across_m=across, width_m=tool, overlap_m=0.0) == 45
    lap = uniform_overlap_m(across_m=across, width_m=tool, passes_count=48)
    assert lap == pytest.approx(0.775, abs=0.0005)


def test_one_pass_has_no_joint_to_share_the_lap() -> None:
    """A single pass, a lap as wide as the tool, a headland that eats the field: refused."""
    with pytest.raises(OutOfRange):
        uniform_overlap_m(across_m=10.0, width_m=9.0, passes_count=1)
    with pytest.raises(OutOfRange):
        whole_passes_count(across_m=10.0, width_m=9.0, overlap_m=9.0)
    with pytest.raises(OutOfRange):
        lapped_ground(
            across_m=100.0, along_m=30.0, width_m=9.0, overlap_m=0.0, headland_passes_count=2
        )
    with pytest.raises(OutOfRange):
        lapped_ground(
            across_m=100.0, along_m=300.0, width_m=9.0, overlap_m=-0.1, headland_passes_count=2
        )


@given(st.floats(20.0, 2000.0), st.floats(3.0, 20.0), st.floats(0.0, 0.3))
def test_the_counted_passes_reach_the_far_edge_and_one_less_does_not(
    across: float, tool: float, share: float
) -> None:
    """N passes at the driving width fill the ground; n - 1 leave some of it."""
    lap = share * tool
    count = whole_passes_count(across_m=across, width_m=tool, overlap_m=lap)
    assert count * (tool - lap) >= across * (1 - 1e-8)
    assert (count - 1) * (tool - lap) < across
    if count > 1:
        evened = uniform_overlap_m(across_m=across, width_m=tool, passes_count=count)
        assert evened >= lap - 1e-6  # an even lap uses up the lap over the far edge too


def test_one_more_foot_of_lap_on_a_hundred_and_sixty_acres() -> None:
    """A 21 ft tool lapping 1 ft, then 2: 1/19 more driving or 1/20 less ground, by hand.

    160 ac in 10 h: 31.6 min more, or 8 ac less; at 0.4 gal/ac 3.37 gal more; at $4 a gallon, $20
    an hour and $0.50 an acre of points: 13.47 + 10.53 + 4.21 = $28.21.
    """
    acre_m2, gallon_m3 = 4046.8564224, 0.003785411784
    cost = more_lap_in_a_day(
        width_m=21 * FOOT_M,
        overlap_m=FOOT_M,
        more_m=FOOT_M,
        area_m2=160 * acre_m2,
        work_s=36_000.0,
        fuel_m3_per_m2=0.4 * gallon_m3 / acre_m2,
        fuel_price_per_m3=4.0 / gallon_m3,
        labour_price_per_s=20.0 / 3600.0,
        wear_price_per_m2=0.5 / acre_m2,
    )
    assert cost.more_driven_fraction == pytest.approx(1 / 19)
    assert cost.more_work_s / 60 == pytest.approx(31.58, abs=0.005)
    assert cost.area_lost_m2 / acre_m2 == pytest.approx(8.0)
    assert cost.more_fuel_m3 is not None
    assert cost.more_fuel_m3 / gallon_m3 == pytest.approx(3.368, abs=0.0005)
    assert cost.more_money == pytest.approx(13.474 + 10.526 + 4.211, abs=0.002)


def test_a_price_nobody_stated_is_not_counted_as_free() -> None:
    """Without prices there is no money; with labour alone, labour alone."""
    bare = more_lap_in_a_day(width_m=9.0, overlap_m=0.5, more_m=0.3, area_m2=1e5, work_s=1e4)
    assert bare.more_money is None
    assert bare.more_fuel_m3 is None
    paid = more_lap_in_a_day(
        width_m=9.0, overlap_m=0.5, more_m=0.3, area_m2=1e5, work_s=1e4, labour_price_per_s=0.01
    )
    assert paid.more_money == pytest.approx(0.01 * paid.more_work_s)


@given(st.floats(4.0, 20.0), st.floats(0.0, 1.0), st.floats(0.01, 1.0))
def test_the_lost_ground_is_what_the_more_time_would_have_done(
    tool: float, lap: float, more: float
) -> None:
    """Time and ground are two faces of one loss; lapping back costs nothing overall."""
    cost = more_lap_in_a_day(width_m=tool, overlap_m=lap, more_m=more, area_m2=1e5, work_s=2e4)
    slower = 1e5 / (2e4 + cost.more_work_s)
    assert slower * 2e4 == pytest.approx(1e5 - cost.area_lost_m2)
    back = more_lap_in_a_day(
        width_m=tool, overlap_m=lap + more, more_m=-more, area_m2=1e5, work_s=2e4 + cost.more_work_s
    )
    assert back.more_work_s == pytest.approx(-cost.more_work_s)


def test_whole_passes_make_more_lap_cost_in_steps() -> None:
    """400 m across, 9 m tool lapping 0.6 m: 48 passes; 0.1 m more 49, 0.3 m more 50.

    By hand: 400 / 8.4 = 47.6, / 8.3 = 48.2, / 8.1 = 49.4. One pass of 800 m at 2.5 m/s and a turn
    of 20 s: 340 s.
    """

    def cost(more: float) -> FieldLap:
        return more_lap_in_a_field(
            across_m=400.0,
            run_length_m=800.0,
            width_m=9.0,
            overlap_m=0.6,
            more_m=more,
            speed_mps=2.5,
            turn_s=20.0,
        )

    assert cost(0.05).more_passes_count == 0
    assert cost(0.05).more_work_s == 0.0
    assert (cost(0.1).passes_count, cost(0.1).more_passes_count) == (48, 1)
    assert cost(0.1).more_work_s == pytest.approx(340.0)
    assert cost(0.3).more_passes_count == 2
    assert cost(0.3).more_driven_m == pytest.approx(1600.0)
    assert cost(-0.6).more_passes_count == -3


# --- Counting and marks --------------------------------------------------------------------------


def test_one_pass_more_or_less_says_what_the_lap_was() -> None:
    """226 ft, 21 ft tool lapping 2.2 ft: 12.02, so 13 passes; 12 would be 2.17 ft, 14 4.86 ft."""
    check = count_check(across_m=226 * FOOT_M, width_m=21 * FOOT_M, overlap_m=2.2 * FOOT_M)
    assert (check.low_count, check.passes_count, check.high_count) == (12, 13, 14)
    assert check.overlap_if_fewer_m is not None
    assert check.overlap_if_fewer_m / FOOT_M == pytest.approx(21 - 226 / 12)
    assert check.overlap_if_more_m / FOOT_M == pytest.approx(21 - 226 / 14)


@given(st.floats(3.0, 900.0), st.floats(3.0, 20.0), st.floats(0.0, 0.2))
def test_fewer_passes_mean_less_lap(across: float, tool: float, share: float) -> None:
    """The lap read from one pass less is under the one aimed for and under that of one more."""
    check = count_check(across_m=across, width_m=tool, overlap_m=share * tool)
    assert 1 <= check.low_count <= check.passes_count < check.high_count
    if check.overlap_if_fewer_m is None:
        assert check.passes_count == 1
    else:
        assert check.overlap_if_fewer_m < share * tool + 1e-6
        assert check.overlap_if_fewer_m < check.overlap_if_more_m


def test_errors_by_eye_add_up_and_guided_ones_do_not() -> None:
    """0.3 m a pass by eye stands 1.2 m off after 16; simulated passes agree; guided stays 0.3 m."""
    assert drift_sd_m(edge_sd_m=0.3, passes_count=16, by_eye=True) == pytest.approx(1.2)
    assert drift_sd_m(edge_sd_m=0.3, passes_count=16, by_eye=False) == 0.3
    walked = np.random.default_rng(3).normal(0.0, 0.3, (20_000, 16)).sum(axis=1)
    assert walked.std() == pytest.approx(1.2, rel=0.02)
    with pytest.raises(OutOfRange):
        drift_sd_m(edge_sd_m=0.3, passes_count=0, by_eye=True)


def _marks(
    *, start: tuple[float, float], aim_deg: float, left: bool, end: tuple[float, float]
) -> list[tuple[int, float]]:
    found = check_marks(
        start_m=start,
        aim_rad=np.radians(aim_deg),
        next_on_left=left,
        driving_width_m=8.0,
        corner_m=(0.0, 0.0),
        side_end_m=end,
        every_count=10,
        passes_count=45,
    )
    return [(mark.pass_number, mark.from_corner_m) for mark in found]


def test_after_pass_ten_the_edge_stands_ten_widths_from_the_corner() -> None:
    """8 m passes going east from the south-west corner: 80 m north after ten, 160 after twenty."""
    found = _marks(start=(0.0, 4.0), aim_deg=0.0, left=True, end=(0.0, 400.0))
    assert [number for number, _ in found] == [10, 20, 30, 40]
    assert [place for _, place in found] == pytest.approx([80.0, 160.0, 240.0, 320.0])


def test_slanting_passes_stand_farther_apart_along_the_side() -> None:
    """At 30 degrees off square, ten widths of 8 m take 80 / cos 30 = 92.4 m of headland side."""
    found = _marks(start=(0.0, 0.0), aim_deg=30.0, left=True, end=(0.0, 400.0))
    assert found[0][1] == pytest.approx(9.5 * 8.0 / np.cos(np.radians(30.0)))
    assert found[1][1] - found[0][1] == pytest.approx(92.376, abs=0.001)


def test_marks_are_the_same_whichever_way_the_first_pass_is_driven() -> None:
    """Driving west with pass 2 on the right is the same ground as driving east, 2 on the left."""
    east = _marks(start=(300.0, 4.0), aim_deg=0.0, left=True, end=(0.0, 400.0))
    west = _marks(start=(300.0, 4.0), aim_deg=180.0, left=False, end=(0.0, 400.0))
    assert [place for _, place in east] == pytest.approx([place for _, place in west])


def test_no_mark_stands_off_the_side() -> None:
    """A side of 100 m holds one mark; passes along the side hold none; a mark each 0 is refused."""
    assert [n for n, _ in _marks(start=(0, 4), aim_deg=0, left=True, end=(0, 100.0))] == [10]
    assert _marks(start=(4.0, 0.0), aim_deg=90.0, left=False, end=(0.0, 400.0)) == []
    with pytest.raises(OutOfRange):
        check_marks(
            start_m=(0.0, 4.0),
            aim_rad=0.0,
            next_on_left=True,
            driving_width_m=8.0,
            corner_m=(0.0, 0.0),
            side_end_m=(0.0, 400.0),
            every_count=0,
            passes_count=5,
        )
