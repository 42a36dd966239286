"""The covering angle: bands crossed, its price, and joints that pile up on one place."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.angle import (
    Angle,
    Counted,
    advised_angle_rad,
    angle_price,
    joint_share_sd_fraction,
    near_whole_multiple,
)
from duskline.core.errors import OutOfRange


def _angle(*runs_m: float, width_m: float = 16.0, bands: float = 2.0) -> Angle:
    return advised_angle_rad(
        run_lengths_m=runs_m,
        spread_driving_width_m=width_m,
        bands_low_count=bands / 2,
        bands_best_count=bands,
        bands_high_count=1.5 * bands,
        narrowest_rad=math.radians(3.0),
        widest_rad=math.radians(10.0),
    )


@pytest.mark.parametrize(("run", "degrees"), [(800, 3.0), (400, 4.6), (200, 9.2), (150, 10.0)])
def test_short_runs_take_a_wider_angle(run: float, degrees: float) -> None:
    """Two bands of 16 m: 2.3 deg on 800 m, held up to 3; 4.6 on 400; 9.2 on 200; 10 at the most."""
    found = _angle(run)
    assert math.degrees(found.best_rad) == pytest.approx(degrees, abs=0.05)
    assert found.low_rad <= found.best_rad <= found.high_rad


def test_the_angle_is_for_the_run_that_half_the_ground_lies_on() -> None:
    """Of 1,100 m of runs 800 lie on two of 400 m: the angle is theirs, and serves 8 of 11."""
    found = _angle(100.0, 400.0, 100.0, 400.0, 100.0)
    assert found.run_length_m == 400.0
    assert math.degrees(found.best_rad) == pytest.approx(4.59, abs=0.005)
    assert found.served_fraction == pytest.approx(8 / 11)


def test_a_run_too_short_for_any_angle_is_not_called_served() -> None:
    """On 20 m runs not even 10 degrees crosses two bands of 16 m."""
    found = _angle(20.0, 20.0)
    assert math.degrees(found.best_rad) == pytest.approx(10.0)
    assert found.served_fraction == 0.0
    for wrong in ((), (0.0,), (100.0, math.inf)):
        with pytest.raises(OutOfRange):
            _angle(*wrong)


@given(
    st.lists(st.floats(30.0, 1500.0), min_size=1, max_size=40),
    st.floats(8.0, 25.0),
    st.floats(0.5, 4.0),
)
def test_angles_stay_in_their_limits_and_in_order(
    runs: list[float], width: float, bands: float
) -> None:
    """More bands never ask for less angle; within the limits half the ground at least is served."""
    found = _angle(*runs, width_m=width, bands=bands)
    assert math.radians(3.0) - 1e-12 <= found.low_rad <= found.best_rad <= found.high_rad
    assert found.high_rad <= math.radians(10.0) + 1e-12
    if found.best_rad < math.radians(10.0) - 1e-9:
        assert found.served_fraction >= 0.5 - 1e-9


def test_the_price_of_an_angle_in_passes_and_minutes() -> None:
    """MACH-C72 (derived): 45 passes become 60, 15 turns of 20.65 s: 5.2 min on 32 ha."""
    plain = Counted(passes_count=45, work_s=15_000.0)
    turned = Counted(passes_count=60, work_s=15_000.0 + 15 * 20.65)
    price = angle_price(plain=plain, turned=turned, noise_fraction=0.02)
    assert price.more_passes_count == 15
    assert price.more_passes_fraction == pytest.approx(1 / 3)
    assert price.more_work_s / 60 == pytest.approx(5.16, abs=0.005)
    assert not price.is_noise
    assert angle_price(plain=plain, turned=turned, noise_fraction=0.03).is_noise
    back = angle_price(plain=turned, turned=plain, noise_fraction=0.0)
    assert back.more_work_s == pytest.approx(-price.more_work_s)


def _counted_sd(width: float, spacing: float, joints: int, swept: float) -> float:
    """Return the spread of the share on the thin fifth, counted over 20,001 first places."""
    along = np.array([0.0]) if swept == 0.0 else (np.arange(200) + 0.5) / 200 * swept
    firsts = (np.arange(20_001) + 0.5) / 20_001 * width
    share = np.zeros_like(firsts)
    for joint in range(joints):
        for step in along:
            share += (firsts + joint * spacing + step) % width < 0.2 * width
    return float((share / (joints * len(along))).std())


@pytest.mark.parametrize(
    ("width", "spacing", "joints", "swept"),
    [
        (18.0, 9.0, 20, 0.0),
        (16.0, 8.7, 66, 0.0),
        (13.5, 9.0, 31, 0.0),
        (12.0, 13.7, 25, 0.0),
        (18.0, 9.0, 10, 14.0),
        (18.0, 9.1, 12, 5.0),
        (16.0, 8.7, 1, 0.0),
    ],
)
def test_the_pile_of_joints_is_what_counting_them_gives(
    width: float, spacing: float, joints: int, swept: float
) -> None:
    """First places tried one by one, every joint looked up: the same spread within 0.001."""
    found = joint_share_sd_fraction(
        spread_driving_width_m=width, cover_spacing_m=spacing, joints_count=joints, swept_m=swept
    )
    assert found == pytest.approx(_counted_sd(width, spacing, joints, swept), abs=0.001)


@pytest.mark.parametrize(
    ("width", "spacing", "degrees", "sd", "within"),
    [
        (18.0, 9.0, 0.0, 0.25, 0.006),
        (18.0, 9.0, 1.0, 0.044, 0.002),
        (18.0, 9.0, 2.0, 0.008, 0.001),
        (16.0, 8.7, 0.0, 0.015, 0.003),
    ],
)
def test_the_pile_agrees_with_an_earlier_simulation(
    width: float, spacing: float, degrees: float, sd: float, within: float
) -> None:
    """805 x 573 m, simulated for the prototypes: 18 over 9 m piles up, 16 over 8.7 m does not."""
    found = near_whole_multiple(
        spread_driving_width_m=width,
        cover_spacing_m=spacing,
        across_m=573.0,
        run_length_m=805.0,
        angle_rad=math.radians(degrees),
        limit_fraction=0.10,
    )
    assert found.turned_sd_fraction == pytest.approx(sd, abs=within)


def test_drift_by_eye_hardly_helps() -> None:
    """0.2 m a pass leaves 0.21 of 0.25 in the prototype; simulated walks agree with the sum."""
    kept = {"spread_driving_width_m": 18.0, "cover_spacing_m": 9.0}
    found = joint_share_sd_fraction(**kept, joints_count=63, drift_sd_m=0.2)
    assert found == pytest.approx(0.21, abs=0.01)
    rng = np.random.default_rng(11)
    steps = rng.normal(9.0, 0.2, (40_000, 62)).cumsum(axis=1)
    places = rng.uniform(0.0, 18.0, (40_000, 1)) + np.hstack([np.zeros((40_000, 1)), steps])
    simulated = (places % 18.0 < 3.6).mean(axis=1).std()
    assert found == pytest.approx(simulated, rel=0.02)


@pytest.mark.parametrize(
    ("width", "spacing", "degrees", "parallel", "warns"),
    [
        (18.0, 9.0, 0.0, True, True),
        (18.0, 9.0, 3.0, True, False),
        (9.0, 9.0, 0.0, True, True),
        (18.0, 9.05, 0.0, True, True),
        (16.0, 8.7, 0.0, False, False),
        (18.0, 8.4, 0.0, False, False),
    ],
)
def test_near_a_whole_multiple_warns_only_without_an_angle(
    width: float, spacing: float, degrees: float, *, parallel: bool, warns: bool
) -> None:
    """36 over 18 m is the trap; three degrees on a long run take it away."""
    found = near_whole_multiple(
        spread_driving_width_m=width,
        cover_spacing_m=spacing,
        across_m=573.0,
        run_length_m=805.0,
        angle_rad=math.radians(degrees),
        limit_fraction=0.10,
    )
    assert found.warns_parallel is parallel
    assert found.warns is warns
    assert found.off_fraction == pytest.approx(abs(width / spacing - found.nearest_count))


@given(
    st.floats(6.0, 30.0), st.floats(3.0, 15.0), st.integers(1, 80), st.floats(0.0, 80.0),
    st.floats(0.0, 0.5),
)  # fmt: skip
def test_no_pile_is_worse_than_every_joint_on_one_place(
    width: float, spacing: float, joints: int, swept: float, drift: float
) -> None:
    """All or nothing has a spread of 0.4; sweeping along a joint never adds to it."""
    found = joint_share_sd_fraction(
        spread_driving_width_m=width,
        cover_spacing_m=spacing,
        joints_count=joints,
        swept_m=swept,
        drift_sd_m=drift,
    )
    still = joint_share_sd_fraction(
        spread_driving_width_m=width,
        cover_spacing_m=spacing,
        joints_count=joints,
        drift_sd_m=drift,
    )
    assert 0.0 <= found <= still + 1e-9
    assert still <= 0.4 + 1e-9


def test_an_angle_sets_the_joints_farther_apart_across_the_bands() -> None:
    """8.864 m at 10 degrees is 9 m across bands of 18: on runs too short to sweep they pile up."""
    found = near_whole_multiple(
        spread_driving_width_m=18.0,
        cover_spacing_m=9.0 * math.cos(math.radians(10.0)),
        across_m=573.0,
        run_length_m=1.0,
        angle_rad=math.radians(10.0),
        limit_fraction=0.10,
    )
    assert found.turned_sd_fraction == pytest.approx(0.245, abs=0.005)
    assert found.parallel_sd_fraction < 0.1
