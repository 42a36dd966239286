"""How long after rain the ground is fit: what soaks in must drain, the rest must dry.

A rule of thumb with a wide range; the farmer's own look at the ground wins over it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange
from duskline.core.weather.dew import saturation_vapour_pressure_pa
from duskline.core.weather.forecast import FloatArray

__all__ = [
    "DryingRule",
    "DryingWeather",
    "Range",
    "drying_power_m_per_s",
    "drying_weather",
    "fit_after_rain_s",
    "fit_times_s",
]

DAY_S = 86400.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Range:
    """A figure with its low and high: one case in ten lies below the low, one above the high.

    Raises
    ------
    OutOfRange
        The three are out of order or below zero.
    """

    low: float
    typical: float
    high: float

    def __post_init__(self) -> None:
        """Refuse figures out of order."""
        check_within("low figure", self.low, 0.0, self.typical)
        check_within("high figure", self.high, self.typical, np.inf)

    def at(self, share: ArrayLike) -> FloatArray:
        """Return the figure that a share of cases lies below; any shape.

        Straight lines through (0.1, low), (0.5, typical) and (0.9, high), drawn on to the
        ends, never below zero.
        """
        part = np.asarray(share, dtype=np.float64)
        below = self.typical + (part - 0.5) / 0.4 * (self.typical - self.low)
        above = self.typical + (part - 0.5) / 0.4 * (self.high - self.typical)
        return np.asarray(np.maximum(np.where(part < 0.5, below, above), 0.0))


class DryingWeather(StrEnum):
    """How well a day dries the ground."""

    SLOW = "slow"
    MIDDLE = "middle"
    FAST = "fast"


@dataclass(frozen=True, kw_only=True, slots=True)
class DryingRule:
    """What the time after rain is made of.

    Attributes
    ----------
    ignored_share
        A rain up to this share of a middling day's drying wets nothing that matters.
    hold
        Water the worked layer holds above the wetness at which it is fit. [m]
    soaking_m
        A rain from which on the ground is soaked right down, so that it must drain first. [m]
    drain_s
        Time soaked ground takes to drain. [s]
    drying_m_per_s
        Water drawn out of bare wet ground on a slow, a middling and a fast drying day. [m/s]
    fast_power_m_per_s, slow_power_m_per_s
        Drying power of the air from which on a day is fast, and up to which it is slow. [m/s]
    """

    ignored_share: float
    hold: Range
    soaking_m: float
    drain_s: Range
    drying_m_per_s: Range
    slow_power_m_per_s: float
    fast_power_m_per_s: float

    def __post_init__(self) -> None:
        """Refuse shares and rates that cannot be."""
        check_within("share of a day's drying that is ignored", self.ignored_share, 0.0, 1.0)
        check_positive("drying of a slow day", self.drying_m_per_s.low)
        check_positive("water the worked layer holds", self.hold.low)
        if not self.soaking_m > self.hold.high:
            raise OutOfRange("rain that soaks the ground", self.soaking_m, self.hold.high)
        check_within(
            "drying power of a slow day", self.slow_power_m_per_s, 0.0, self.fast_power_m_per_s
        )

    def rate_m_per_s(self, weather: DryingWeather) -> float:
        """Return the water drawn out of the ground on such a day [m/s]."""
        return {
            DryingWeather.SLOW: self.drying_m_per_s.low,
            DryingWeather.MIDDLE: self.drying_m_per_s.typical,
            DryingWeather.FAST: self.drying_m_per_s.high,
        }[weather]


def fit_times_s(
    depth_m: ArrayLike,
    rate_m_per_s: ArrayLike,
    *,
    rule: DryingRule,
    ground_share: ArrayLike,
) -> FloatArray:
    """Return how long after the rain's end ground is fit [s]; shapes broadcast.

    Parameters
    ----------
    depth_m
        Rain that fell, on adjoining days as one event. [m]
    rate_m_per_s
        Drying of the days that follow. [m/s]
    ground_share
        Where this ground stands among all grounds, 0 quick to 1 slow.

    Notes
    -----
    ``t = drain * clip((depth - hold) / (soaking - hold), 0, 1) + min(depth, hold) / rate``;
    nothing where the depth is at most ``ignored_share`` of a middling day's drying. The first
    part is water that runs through, the second what only the air can take.

    Source
    ------
    Form: derived here from the two-part picture of handbooks (a drained layer that then dries
    by evaporation). Figures: the rows ``ground_*`` of the defaults.
    """
    depth = np.asarray(depth_m, dtype=np.float64)
    hold = rule.hold.at(ground_share)
    drain = rule.drain_s.at(ground_share)
    soaked = np.clip((depth - hold) / np.maximum(rule.soaking_m - hold, 1e-6), 0.0, 1.0)
    time_s = drain * soaked + np.minimum(depth, hold) / np.asarray(rate_m_per_s, dtype=np.float64)
    ignored = depth <= rule.ignored_share * rule.drying_m_per_s.typical * DAY_S
    return np.asarray(np.where(ignored, 0.0, time_s))


def fit_after_rain_s(depth_m: float, *, weather: DryingWeather, rule: DryingRule) -> Range:
    """Return how long after a rain the ground is fit, low, typical and high [s].

    Parameters
    ----------
    depth_m
        Rain that fell. [m]
    weather
        How well the days after it dry.

    Raises
    ------
    OutOfRange
        A depth below zero or over a metre.
    """
    check_within("depth of rain", depth_m, 0.0, 1.0)
    low, typical, high = fit_times_s(
        depth_m, rule.rate_m_per_s(weather), rule=rule, ground_share=np.array([0.1, 0.5, 0.9])
    ).tolist()
    return Range(low=low, typical=typical, high=high)


def drying_power_m_per_s(
    *, air_c: ArrayLike, dew_point_c: ArrayLike, wind_mps: ArrayLike
) -> FloatArray:
    """Return how much water the air could take up, sun left out, as a depth rate [m/s].

    Notes
    -----
    ``2.6 (1 + 0.54 u) (es(T) - es(Td))`` mm a day with vapour pressures in kPa and wind in m/s
    at 2 m.

    Source
    ------
    Memory: the aerodynamic part of Penman's 1948 evaporation formula. It only sorts days into
    slow, middling and fast here.
    """
    deficit_pa = saturation_vapour_pressure_pa(air_c) - saturation_vapour_pressure_pa(dew_point_c)
    wind = np.asarray(wind_mps, dtype=np.float64)
    return np.asarray(2.6e-3 * (1.0 + 0.54 * wind) * np.maximum(deficit_pa, 0.0) / 1000.0 / DAY_S)


def drying_weather(power_m_per_s: float, *, rule: DryingRule) -> DryingWeather:
    """Return which class a day's drying power belongs to."""
    if power_m_per_s <= rule.slow_power_m_per_s:
        return DryingWeather.SLOW
    return DryingWeather.FAST if power_m_per_s >= rule.fast_power_m_per_s else DryingWeather.MIDDLE
