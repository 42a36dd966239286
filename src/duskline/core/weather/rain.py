"""Rain from hourly chances: whether it comes by a moment, and when it arrives.

Hourly chances cut from one forecast block are one event told many times, so both ends are given.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from duskline.core.errors import OutOfRange
from duskline.core.weather.forecast import (
    SAME_FIGURE,
    BoolArray,
    FloatArray,
    Hours,
    first_time_s,
)

__all__ = [
    "RainChance",
    "chance_if_independent_fraction",
    "chance_if_shared_fraction",
    "first_rain_s",
    "hourly_chances_fraction",
    "rain_arrival_s",
    "rain_by",
    "rain_hours",
]


@dataclass(frozen=True, kw_only=True, slots=True)
class RainChance:
    """The chance of rain over several hours, at both ends of what the hours may mean.

    Attributes
    ----------
    shared_fraction
        All hours tell of one and the same rain: the largest of them.
    independent_fraction
        Each hour is a throw of its own.
    """

    shared_fraction: float
    independent_fraction: float


def chance_if_shared_fraction(chances: ArrayLike) -> FloatArray:
    """Return the chance of rain up to each hour if all hours tell of one event. (n,).

    Parameters
    ----------
    chances
        Chance in each hour, 0 to 1; an unknown one (NaN) adds nothing. (n,)

    Notes
    -----
    The running largest: ten hours of 20 % from one block are 20 %.

    Source
    ------
    Derived here; the lower bound of the chance of a union.
    """
    known = np.nan_to_num(_checked(chances), nan=0.0)
    return np.asarray(np.maximum.accumulate(known)) if known.size else known


def chance_if_independent_fraction(chances: ArrayLike) -> FloatArray:
    """Return the chance of rain up to each hour if every hour is its own throw. (n,).

    Parameters
    ----------
    chances
        Chance in each hour, 0 to 1; an unknown one (NaN) adds nothing. (n,)

    Notes
    -----
    ``1 - product of (1 - p)``. For hours cut from one block far too high.

    Source
    ------
    Probability of precipitation, http://piglix.com/piglix/Probability_of_precipitation.
    """
    known = np.nan_to_num(_checked(chances), nan=0.0)
    return np.asarray(1.0 - np.cumprod(1.0 - known))


def rain_by(hours: Hours, *, from_s: float, by_s: float, rain_threshold_m: float) -> RainChance:
    """Return the chance that it rains between two moments of the day, at both ends.

    Parameters
    ----------
    from_s, by_s
        Elapsed. An hour that begins at ``by_s`` does not count; one that has begun counts
        whole. [s]
    rain_threshold_m
        Where an hour has no chance but a depth, it rains if the depth is more than this. [m]
    """
    spans_s = hours.spans_s
    within = (spans_s[:, 1] > from_s) & (spans_s[:, 0] < by_s)
    chances = hourly_chances_fraction(hours, rain_threshold_m)[within]
    if not chances.size:
        return RainChance(shared_fraction=0.0, independent_fraction=0.0)
    return RainChance(
        shared_fraction=float(chance_if_shared_fraction(chances)[-1]),
        independent_fraction=float(chance_if_independent_fraction(chances)[-1]),
    )


def rain_arrival_s(
    hours: Hours, uniform: ArrayLike, *, from_s: float, rain_threshold_m: float
) -> FloatArray:
    """Return when rain arrives for each draw of a day; infinity where it stays dry [s].

    Parameters
    ----------
    uniform
        Draws from [0, 1), made by the caller. Any shape; the answer has the same.
    from_s
        From when on rain matters, elapsed. [s]
    rain_threshold_m
        As for ``rain_by``.

    Notes
    -----
    All hours share one event: it arrives with the first hour whose chance is above the draw,
    at that hour's beginning. Over many draws the share of days with rain by the end of an
    hour is the running largest chance, as in ``chance_if_shared_fraction``.

    Raises
    ------
    OutOfRange
        A draw outside [0, 1).
    """
    draws = np.asarray(uniform, dtype=np.float64)
    wrong = draws[~((draws >= 0.0) & (draws < 1.0))]
    if wrong.size:
        raise OutOfRange("uniform draw", float(wrong.flat[0]), 0.0, 1.0)
    spans_s = hours.spans_s
    later = spans_s[:, 1] > from_s
    largest = chance_if_shared_fraction(hourly_chances_fraction(hours, rain_threshold_m)[later])
    arrivals_s = np.append(np.maximum(spans_s[later, 0], from_s), np.inf)
    return np.asarray(arrivals_s[np.searchsorted(largest, draws, side="right")])


def rain_hours(
    hours: Hours, *, rain_threshold_m: float, rain_chance_limit_fraction: float
) -> BoolArray:
    """Return which hours count as rain. (n,).

    Parameters
    ----------
    rain_threshold_m
        Depth above which an hour without a stated chance is rain. [m]
    rain_chance_limit_fraction
        Chance from which on an hour is rain.

    Notes
    -----
    Where a chance is given it decides alone: the depth beside it is what falls on average,
    dry outcomes included, so 0.5 mm at 20 % is four dry days in five.
    """
    weather = hours.forecast
    by_chance = weather.rain_chance_fraction >= rain_chance_limit_fraction * (1.0 - SAME_FIGURE)
    by_depth = weather.rain_m > rain_threshold_m * (1.0 + SAME_FIGURE)
    return np.where(np.isnan(weather.rain_chance_fraction), by_depth, by_chance)


def first_rain_s(
    hours: Hours,
    *,
    rain_threshold_m: float,
    rain_chance_limit_fraction: float,
    after_s: float,
) -> float | None:
    """Return when rain begins, not before ``after_s``; None if it stays dry [s].

    Parameters
    ----------
    rain_threshold_m, rain_chance_limit_fraction
        As for ``rain_hours``.
    after_s
        From when to look, elapsed. [s]
    """
    wet = rain_hours(
        hours,
        rain_threshold_m=rain_threshold_m,
        rain_chance_limit_fraction=rain_chance_limit_fraction,
    )
    return first_time_s(hours, wet, after_s=after_s)


def hourly_chances_fraction(hours: Hours, rain_threshold_m: float) -> FloatArray:
    """Return the chance of each hour; with only a depth, 1 or 0; NaN where neither. (n,)."""
    weather = hours.forecast
    by_depth = np.where(weather.rain_m > rain_threshold_m * (1.0 + SAME_FIGURE), 1.0, 0.0)
    by_depth = np.where(np.isnan(weather.rain_m), np.nan, by_depth)
    return np.where(np.isnan(weather.rain_chance_fraction), by_depth, weather.rain_chance_fraction)


def _checked(chances: ArrayLike) -> FloatArray:
    values = np.asarray(chances, dtype=np.float64)
    wrong = values[(values < 0.0) | (values > 1.0)]
    if wrong.size:
        raise OutOfRange("chance of rain", float(wrong.flat[0]), 0.0, 1.0)
    return values
