"""The machine: acres an hour, the pull of a tool, and whether a tractor has the power for it.

Clock efficiency is the share of the clock in which the machine works at its speed and working
width. It comes from the farm's log, else from a day the farmer remembers, else from a wide
default that must be called one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from math import ceil, sqrt
from typing import TypeVar

from duskline.core.checks import check_positive, check_share, check_within
from duskline.core.day import Cover, DayTask, average_day
from duskline.core.errors import OutOfRange

__all__ = [
    "DraftRow",
    "Match",
    "Power",
    "Verdict",
    "clock_efficiency_from_area",
    "clock_efficiency_from_times",
    "draft_n",
    "drawbar_power_w",
    "efficiency_scale_from_remembered",
    "field_capacity_m2_per_s",
    "field_floor_s",
    "match_tractor",
    "pto_power_w",
    "tools_across_count",
]

CM_M = 0.01
KMH_MPS = 1 / 3.6

AnyCover = TypeVar("AnyCover", bound=Cover)


def field_capacity_m2_per_s(
    *, working_width_m: float, speed_mps: float, efficiency_fraction: float
) -> float:
    """Return the area a machine works per time. [m2/s]

    Parameters
    ----------
    working_width_m
        Effective width: width less overlap, or the driving width of a spreader. [m]
    speed_mps
        Speed while working. [m/s]
    efficiency_fraction
        Share of the clock at work, 0-1.

    Raises
    ------
    OutOfRange
        A figure is zero or below, or the efficiency is above 1.

    Notes
    -----
    Width times speed times efficiency; in US units ft x mph x E / 8.25 = ac/h.

    Source
    ------
    Estimating the field capacity of farm machines, Iowa State University Extension (A3-24).
    """
    for name, value in (("working width", working_width_m), ("speed", speed_mps)):
        if not value > 0.0:
            raise OutOfRange(name, value, 0.0, None)
    if not 0.0 < efficiency_fraction <= 1.0:
        raise OutOfRange("clock efficiency", efficiency_fraction, 0.0, 1.0)
    return working_width_m * speed_mps * efficiency_fraction


def clock_efficiency_from_area(
    *, area_m2: float, span_s: float, working_width_m: float, speed_mps: float
) -> float:
    """Return the clock efficiency that did this area in this time. Fraction.

    Raises
    ------
    OutOfRange
        The area needs more than the whole clock: width, speed, area or times are wrong.

    Source
    ------
    Derived here: area / (span x working width x speed).
    """
    if not span_s > 0.0:
        raise OutOfRange("time worked", span_s, 0.0, None)
    efficiency = area_m2 / (span_s * working_width_m * speed_mps)
    if not 0.0 < efficiency <= 1.0 + 1e-9:
        raise OutOfRange("clock efficiency", efficiency, 0.0, 1.0)
    return min(efficiency, 1.0)


def clock_efficiency_from_times(*, work_s: float, lost_s: float) -> float:
    """Return the share of the clock at work from times taken with a watch. Fraction.

    Parameters
    ----------
    work_s
        Working at speed. [s]
    lost_s
        Turning, filling, cleaning, stopping, all together. [s]

    Raises
    ------
    OutOfRange
        No work, or time lost below zero.

    Source
    ------
    Derived here: work / (work + lost).
    """
    check_positive("time at work", work_s)
    check_within("time lost", lost_s, 0.0, 1e9)
    return work_s / (work_s + lost_s)


def field_floor_s(
    *,
    pass_m: float,
    across_m: float,
    working_width_m: float,
    speed_mps: float,
    turn_s: float,
) -> float:
    """Return the least time for a rectangle with nothing but passes and turns in it. [s]

    Parameters
    ----------
    pass_m, across_m
        Length of a pass, and the field's width across the passes. [m]
    working_width_m
        Width less overlap. [m]
    speed_mps
        Working speed. [m/s]
    turn_s
        One turn. [s]

    Raises
    ------
    OutOfRange
        A length, width or speed that is not above zero, or a turn below zero.

    Notes
    -----
    n L / v + (n - 1) t with n = across / working width, rounded up to whole passes.

    Source
    ------
    Derived here; worked by hand in tests/core/test_machine.py.
    """
    for name, value in (
        ("pass length", pass_m),
        ("width across", across_m),
        ("working width", working_width_m),
        ("speed", speed_mps),
    ):
        check_positive(name, value)
    check_within("turn", turn_s, 0.0, 3600.0)
    passes = ceil(across_m / working_width_m - 1e-9)
    return passes * pass_m / speed_mps + (passes - 1) * turn_s


def efficiency_scale_from_remembered(task: DayTask, *, covered_m2: float) -> float:
    """Return the factor on all covering rates that makes a day cover the remembered area.

    Parameters
    ----------
    task
        The remembered day with covering rates at an efficiency of 1.
    covered_m2
        What was spread and covered that day. [m2]

    Raises
    ------
    OutOfRange
        Even at full efficiency the machines could not have covered that much, or the spreader
        could not have spread it.

    Source
    ------
    Derived here: bisection on the closed form, which rises with the covering rates.
    """

    def day_area(scale: float) -> float:
        scaled = replace(
            task,
            covers=tuple(_scaled(c, scale) for c in task.covers),
            takeovers=tuple(_scaled(t, scale) for t in task.takeovers),
        )
        return average_day(scaled).spread_area_m2

    most = day_area(1.0)
    if most < covered_m2 * (1.0 - 1e-9):
        raise OutOfRange("remembered area", covered_m2, 0.0, most)
    low, high = 1e-3, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if day_area(middle) >= covered_m2 else (middle, high)
    return high


def _scaled(machine: AnyCover, scale: float) -> AnyCover:
    return replace(machine, rate_m2_per_s=machine.rate_m2_per_s * scale)


# --------------------------------------------------------------------------- draft and power


@dataclass(frozen=True, kw_only=True, slots=True)
class DraftRow:
    """One tool of the draft table, in the units that its publication uses.

    Attributes
    ----------
    a, b, c
        N per cm of depth for each tool or metre of width; the same per km/h; per (km/h)2.
    """

    a: float
    b: float
    c: float = 0.0


def tools_across_count(*, width_m: float, spacing_m: float) -> int:
    """Return how many shanks stand across a machine of that width. Count.

    Raises
    ------
    OutOfRange
        No width or no spacing.

    Source
    ------
    Common practice, no source: width over spacing, to the nearest whole shank.
    """
    check_positive("width", width_m)
    check_positive("shank spacing", spacing_m)
    return max(1, round(width_m / spacing_m))


def draft_n(
    *, row: DraftRow, soil_factor: float, tools: float, depth_m: float, speed_mps: float
) -> float:
    """Return the pull that a tool needs at its drawbar. [N]

    Parameters
    ----------
    row
        The tool in the table.
    soil_factor
        What the soil's fineness makes of it: 1 for fine soil, less for coarser.
    tools
        Number of shanks; metres of width for tools that the table counts by width.
    depth_m
        Working depth. [m]
    speed_mps
        Working speed. [m/s]

    Raises
    ------
    OutOfRange
        No shank, depth or speed, or a soil factor that is not above zero.

    Notes
    -----
    D = F (A + B S + C S^2) W T with S in km/h and T in cm.

    Source
    ------
    ASAE D497, Agricultural machinery management data: the form. Rows are data of their own.
    """
    check_positive("soil factor", soil_factor)
    check_positive("number of shanks", tools)
    check_positive("depth", depth_m)
    check_positive("speed", speed_mps)
    kmh = speed_mps / KMH_MPS
    return soil_factor * (row.a + row.b * kmh + row.c * kmh**2) * tools * depth_m / CM_M


def drawbar_power_w(*, draft_n: float, speed_mps: float) -> float:
    """Return the power that goes through the drawbar: pull times speed. [W]

    Raises
    ------
    OutOfRange
        A pull or speed below zero, or not finite.
    """
    check_positive("draft", draft_n)
    check_positive("speed", speed_mps)
    return draft_n * speed_mps


def pto_power_w(*, drawbar_w: float, traction_fraction: float) -> float:
    """Return the PTO power a tractor needs to bring that power to its drawbar. [W]

    Parameters
    ----------
    drawbar_w
        Power through the drawbar. [W]
    traction_fraction
        Drawbar over PTO power of this kind of tractor on this ground, 0-1.

    Raises
    ------
    OutOfRange
        No power, or a share outside 0-1.

    Source
    ------
    Agricultural machinery management, University of Arizona: the ratios. Division derived here.
    """
    check_positive("drawbar power", drawbar_w)
    check_share("drawbar share of PTO power", traction_fraction)
    return drawbar_w / traction_fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Power:
    """PTO power a tool needs: low, typical, high. [W]"""

    low_w: float
    typical_w: float
    high_w: float

    def __post_init__(self) -> None:
        check_positive("power needed", self.low_w)
        check_within("power needed", self.typical_w, self.low_w, self.high_w)

    @classmethod
    def from_factors(cls, typical_w: float, *factors: tuple[float, float]) -> Power:
        """Return the range that several doubts about a typical figure span together.

        Parameters
        ----------
        typical_w
            The figure with every doubt at its typical. [W]
        factors
            For each doubt what its low and high end make of the figure, 1 being no change.

        Notes
        -----
        Doubts are taken to be independent: distances from 1 are added in quadrature, low and
        high apart. The low side is kept above a tenth.
        """
        below = sqrt(sum(max(0.0, 1.0 - low) ** 2 for low, _ in factors))
        above = sqrt(sum(max(0.0, high - 1.0) ** 2 for _, high in factors))
        return cls(
            low_w=typical_w * max(0.1, 1.0 - below),
            typical_w=typical_w,
            high_w=typical_w * (1.0 + above),
        )


class Verdict(Enum):
    """Whether a tractor has the power for a tool, in plain words."""

    ENOUGH = "has enough"
    TIGHT = "tight"
    NOT_ENOUGH = "not enough"


@dataclass(frozen=True, kw_only=True, slots=True)
class Match:
    """A tool against a tractor: power needed, power there, share of it used. [W]"""

    needed: Power
    pto_power_w: float
    verdict: Verdict

    @property
    def share_fraction(self) -> float:
        """Typical power needed over power there; above 1 where it does not suffice."""
        return self.needed.typical_w / self.pto_power_w

    @property
    def share_range(self) -> tuple[float, float]:
        """The same at the low and the high side of the power needed."""
        return self.needed.low_w / self.pto_power_w, self.needed.high_w / self.pto_power_w


def match_tractor(*, needed: Power, pto_power_w: float, comfortable_fraction: float) -> Match:
    """Return whether a tractor has enough power for a tool.

    Parameters
    ----------
    needed
        PTO power the tool needs. [W]
    pto_power_w
        What the tractor has. [W]
    comfortable_fraction
        Share of its power up to which it has enough, 0-1.

    Raises
    ------
    OutOfRange
        No power, or a share outside 0-1.

    Notes
    -----
    Not enough: the typical need is above what is there. Enough: the typical need is within the
    comfortable share and even the high one within the whole. Tight: what lies between.

    Source
    ------
    Our judgement.
    """
    check_positive("PTO power", pto_power_w)
    check_share("comfortable share of power", comfortable_fraction)
    if needed.typical_w > pto_power_w:
        verdict = Verdict.NOT_ENOUGH
    elif needed.typical_w <= comfortable_fraction * pto_power_w and needed.high_w <= pto_power_w:
        verdict = Verdict.ENOUGH
    else:
        verdict = Verdict.TIGHT
    return Match(needed=needed, pto_power_w=pto_power_w, verdict=verdict)
