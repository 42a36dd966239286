"""Fuel at part load, for an area, and what throttling down saves."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.fuel import (
    fuel_m3_per_m2,
    fuel_m3_per_s,
    power_share_fraction,
    throttle_saving_fraction,
)

L_PER_H = 1e-3 / 3600
GALLON_M3 = 0.003785411784
ACRE_M2 = 4046.8564224
HORSEPOWER_W = 745.6998715822702
FOOT_M, MPH_MPS = 0.3048, 0.44704
SHARES = st.floats(0.01, 1.0)


@pytest.mark.parametrize(
    ("share", "cut", "l_per_h"), [(1.0, 0.0, 31.60), (0.5, 0.0, 20.60), (0.5, 0.2, 17.914)]
)
def test_a_tractor_of_100_kw(share: float, cut: float, l_per_h: float) -> None:
    """MACH-C32, derived: full load, half load, half load at a fifth less engine speed."""
    found = fuel_m3_per_s(pto_power_w=1e5, share_fraction=share, speed_cut_fraction=cut)
    assert found / L_PER_H == pytest.approx(l_per_h, abs=0.0005)


def test_saving_of_a_fifth_less_engine_speed_at_half_load() -> None:
    """MACH-C32, derived: (0.00877 - 0.0045 x 0.5) x 20 = 13.04 %."""
    found = throttle_saving_fraction(share_fraction=0.5, speed_cut_fraction=0.2)
    assert found == pytest.approx(0.1304)


def test_fuel_for_an_area_by_hand() -> None:
    """MACH-C34, derived: 5.2 hp a foot at 5.5 mph is 7.80 hp-h/ac; at 0.0769 gal each 0.60 gal/ac.

    8.25 / 5.5 x 5.2 = 7.80; the 0.0769 is what the table's own 0.60 gal/ac comes to.
    """
    rate = FOOT_M * 5.5 * MPH_MPS
    power_hours = 5.2 * HORSEPOWER_W / rate * ACRE_M2 / (HORSEPOWER_W * 3600)
    assert power_hours == pytest.approx(7.80)
    found = fuel_m3_per_m2(fuel_m3_per_s=5.2 * 0.0769 * GALLON_M3 / 3600, work_rate_m2_per_s=rate)
    assert found / (GALLON_M3 / ACRE_M2) == pytest.approx(0.60, abs=0.0005)


@given(SHARES, SHARES, st.floats(0.0, 0.5))
def test_more_load_burns_more_but_less_for_each_horsepower(
    one: float, other: float, cut: float
) -> None:
    """A tractor at light load burns less an hour and more for what it does."""
    low, high = sorted((one, other))
    light, heavy = (
        fuel_m3_per_s(pto_power_w=1e5, share_fraction=share, speed_cut_fraction=cut)
        for share in (low, high)
    )
    assert light <= heavy * (1 + 1e-12)
    assert light / low >= heavy / high * (1 - 1e-12)


@given(SHARES, st.floats(0.01, 0.5))
def test_throttling_down_always_saves_and_most_at_light_load(share: float, cut: float) -> None:
    """The saving is never below zero nor half of the fuel, and less the harder it pulls."""
    saved = throttle_saving_fraction(share_fraction=share, speed_cut_fraction=cut)
    full = throttle_saving_fraction(share_fraction=1.0, speed_cut_fraction=cut)
    assert 0.0 < full <= saved < 0.5


@pytest.mark.parametrize(("share", "cut"), [(0.0, 0.0), (1.1, 0.0), (0.5, -0.1), (0.5, 0.6)])
def test_loads_and_cuts_that_cannot_be_are_refused(share: float, cut: float) -> None:
    """More than the whole power, or less than half the engine speed."""
    with pytest.raises(OutOfRange):
        fuel_m3_per_s(pto_power_w=1e5, share_fraction=share, speed_cut_fraction=cut)


def test_a_job_beyond_the_tractor_is_refused() -> None:
    """60 of 100 kW is 60 %; 101 kW is no share of it."""
    assert power_share_fraction(needed_w=6e4, pto_power_w=1e5) == pytest.approx(0.6)
    with pytest.raises(OutOfRange, match="share of the PTO power"):
        power_share_fraction(needed_w=1.01e5, pto_power_w=1e5)


@pytest.mark.parametrize(("fuel", "rate"), [(0.0, 1.0), (1e-6, 0.0), (1e-6, float("nan"))])
def test_fuel_for_no_area_is_refused(fuel: float, rate: float) -> None:
    """No fuel, no work, or no number."""
    with pytest.raises(OutOfRange):
        fuel_m3_per_m2(fuel_m3_per_s=fuel, work_rate_m2_per_s=rate)
