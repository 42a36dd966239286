"""Field capacity: how many acres an hour a machine really does, and its clock efficiency.

Clock efficiency is the share of the clock in which the machine works at its speed and working
width. It comes from the farm's log, else from a day the farmer remembers, else from a wide
default that must be called one.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from duskline.core.day import Cover, DayTask, average_day
from duskline.core.errors import OutOfRange

__all__ = [
    "clock_efficiency_from_area",
    "efficiency_scale_from_remembered",
    "field_capacity_m2_per_s",
]

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
