"""Fuel: what a tractor burns at part load, what that is for an acre, what throttling down saves.

The farm's own tank always wins over the line of this module, which lies on the high side of two
tractors tested.
"""

from __future__ import annotations

from duskline.core.checks import check_positive, check_share, check_within

__all__ = [
    "fuel_m3_per_m2",
    "fuel_m3_per_s",
    "power_share_fraction",
    "throttle_saving_fraction",
]

# L/h for each kW of rated PTO power: a part that rises with the load and a part that does not.
LOADED_L_PER_KWH = 0.22
IDLE_L_PER_KWH = 0.096
# What one per cent off the engine speed saves: most at light load.
SAVING_PER_PERCENT = 0.00877
SAVING_LOST_AT_LOAD = 0.0045
L_PER_KWH = 1e-3 / 3.6e6
DEEPEST_CUT = 0.5


def power_share_fraction(*, needed_w: float, pto_power_w: float) -> float:
    """Return the share of a tractor's rated PTO power that a job uses. Fraction.

    Raises
    ------
    OutOfRange
        The job needs more than the tractor has, or one of them is no power.
    """
    check_positive("power needed", needed_w)
    check_positive("PTO power", pto_power_w)
    share = needed_w / pto_power_w
    check_share("share of the PTO power", share)
    return share


def throttle_saving_fraction(*, share_fraction: float, speed_cut_fraction: float) -> float:
    """Return the fuel saved by a higher gear at a lower engine speed, same ground speed. Fraction.

    Parameters
    ----------
    share_fraction
        Share of rated PTO power in use, 0-1.
    speed_cut_fraction
        How much lower the engine turns than at full throttle, 0-0.5.

    Raises
    ------
    OutOfRange
        A share outside 0-1 or a cut outside 0-0.5: no tractor pulls at half its speed and less.

    Notes
    -----
    (0.00877 - 0.0045 X) N with X the share of power and N the cut in per cent.

    Source
    ------
    Predicting tractor fuel consumption, Grisso, Kocher and Vaughan, Applied Engineering in
    Agriculture 20(5), 2004, https://digitalcommons.unl.edu/biosysengfacpub/164/; the two figures
    of this bracket from memory.
    """
    check_share("share of the PTO power", share_fraction)
    check_within("cut of engine speed", speed_cut_fraction, 0.0, DEEPEST_CUT)
    cut_percent = 100.0 * speed_cut_fraction
    return (SAVING_PER_PERCENT - SAVING_LOST_AT_LOAD * share_fraction) * cut_percent


def fuel_m3_per_s(
    *, pto_power_w: float, share_fraction: float, speed_cut_fraction: float = 0.0
) -> float:
    """Return what a diesel tractor burns at part load. [m3/s]

    Parameters
    ----------
    pto_power_w
        Rated PTO power of the tractor. [W]
    share_fraction
        Share of it in use, 0-1.
    speed_cut_fraction
        How much lower the engine turns than at full throttle, 0-0.5.

    Raises
    ------
    OutOfRange
        No power, or a share or cut outside its limits.

    Notes
    -----
    Q [L/h] = (0.22 X + 0.096) (1 - (0.00877 - 0.0045 X) N) P, P in kW, N in per cent.

    Source
    ------
    Predicting tractor fuel consumption, Grisso, Kocher and Vaughan, 2004: the form; 0.22 and
    0.096 as recalibrated for D497.7, read second-hand.
    """
    check_positive("PTO power", pto_power_w)
    saved = throttle_saving_fraction(
        share_fraction=share_fraction, speed_cut_fraction=speed_cut_fraction
    )
    per_j = (LOADED_L_PER_KWH * share_fraction + IDLE_L_PER_KWH) * L_PER_KWH
    return per_j * (1.0 - saved) * pto_power_w


def fuel_m3_per_m2(*, fuel_m3_per_s: float, work_rate_m2_per_s: float) -> float:
    """Return the fuel for an area from fuel for a time. [m3/m2]

    Parameters
    ----------
    fuel_m3_per_s
        What the tractor burns. [m3/s]
    work_rate_m2_per_s
        Area it works per time at the same load: width times speed without stops gives the fuel
        of the pass itself. [m2/s]

    Raises
    ------
    OutOfRange
        No fuel or no area.

    Source
    ------
    Derived here; worked by hand in tests/core/test_fuel.py.
    """
    check_positive("fuel", fuel_m3_per_s)
    check_positive("work rate", work_rate_m2_per_s)
    return fuel_m3_per_s / work_rate_m2_per_s
