"""Dew: damp hours from temperature, dew point and wind; when dew comes off and on.

A sign of damp ground, not a measurement of it: nobody forecasts dew itself.
"""

from __future__ import annotations

from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike

from duskline.core.errors import OutOfRange
from duskline.core.weather.forecast import (
    HOUR_S,
    BoolArray,
    FloatArray,
    Forecast,
    Hours,
    first_time_s,
    hours_between,
)
from duskline.core.weather.rain import rain_hours

__all__ = [
    "dew_off_s",
    "dew_on_s",
    "dew_point_c",
    "humidity_fraction",
    "saturation_vapour_pressure_pa",
    "wet_by_dew",
    "wet_by_leaf_tree",
    "wetting_s",
]

# Alduchov and Eskridge 1996, J. Appl. Meteorol. 35:601. The first two as printed at
# https://www.calcipedia.org/calculators/dew-point-calculator; the third from memory (it drops
# out of humidity and dew point).
_A = 17.625
_B_C = 243.04
_C_PA = 610.94


def saturation_vapour_pressure_pa(air_c: ArrayLike) -> FloatArray:
    """Return the vapour pressure of air that can hold no more water [Pa].

    Parameters
    ----------
    air_c
        Air temperature. [C]

    Notes
    -----
    ``610.94 exp(17.625 T / (243.04 + T))``, over liquid water; stated for -40 to 60 C.

    Source
    ------
    Alduchov and Eskridge 1996, J. Appl. Meteorol. 35:601.
    """
    air = np.asarray(air_c, dtype=np.float64)
    return np.asarray(_C_PA * np.exp(_A * air / (_B_C + air)))


def humidity_fraction(*, air_c: ArrayLike, dew_point_c: ArrayLike) -> FloatArray:
    """Return the relative humidity, 0 to 1, of air with this dew point.

    Parameters
    ----------
    air_c, dew_point_c
        Air temperature and dew point, the dew point not above the air. [C]

    Raises
    ------
    OutOfRange
        A dew point above the air temperature.

    Source
    ------
    Alduchov and Eskridge 1996; derived here from ``saturation_vapour_pressure_pa``.
    """
    air = np.asarray(air_c, dtype=np.float64)
    dew = np.asarray(dew_point_c, dtype=np.float64)
    if np.any(dew > air):
        over = float(np.max(dew - air))
        raise OutOfRange("degrees C that the dew point lies above the air", over, None, 0.0)
    return np.asarray(saturation_vapour_pressure_pa(dew) / saturation_vapour_pressure_pa(air))


def dew_point_c(*, air_c: ArrayLike, humidity_fraction: ArrayLike) -> FloatArray:
    """Return the temperature at which this air begins to drop its water [C].

    Parameters
    ----------
    air_c
        Air temperature. [C]
    humidity_fraction
        Relative humidity, above 0 and up to 1.

    Raises
    ------
    OutOfRange
        A humidity of 0 or less, or above 1.

    Notes
    -----
    ``Td = b g / (a - g)`` with ``g = ln RH + a T / (b + T)``, a 17.625 and b 243.04 C; stated
    within 0.35 C from -40 to 60 C.

    Source
    ------
    Alduchov and Eskridge 1996, J. Appl. Meteorol. 35:601.
    """
    air = np.asarray(air_c, dtype=np.float64)
    humid = np.asarray(humidity_fraction, dtype=np.float64)
    wrong = humid[~((humid > 0.0) & (humid <= 1.0))]
    if wrong.size:
        raise OutOfRange("relative humidity", float(wrong.flat[0]), 0.0, 1.0)
    g = np.log(humid) + _A * air / (_B_C + air)
    return np.asarray(np.minimum(_B_C * g / (_A - g), air))


def wet_by_dew(weather: Forecast, *, dew_spread_c: float, dew_wind_mps: float) -> BoolArray:
    """Return which hours are damp with dew: air near its dew point, and calm. (n,).

    Parameters
    ----------
    dew_spread_c
        Damp when the air is less than this above its dew point, since grass and soil lie
        that much colder than the air at 2 m. [C]
    dew_wind_mps
        No dew from this wind on. [m/s]

    Notes
    -----
    Cloud is not in the rule; under a covered sky it calls more hours damp than are.

    Source
    ------
    Wind: Iowa State University, Agronomy 541, lesson 7a (no dew expected above 7 mph),
    http://agron-www.agron.iastate.edu/courses/Agron541/classes/541/lesson07a/7a.6.html.
    The spread of a few degrees: memory; dry for certain from 3.7 C, see ``wet_by_leaf_tree``.
    """
    return (weather.spread_c < dew_spread_c) & (weather.wind_mps < dew_wind_mps)


def wet_by_leaf_tree(weather: Forecast) -> BoolArray:
    """Return which hours a classifier made for leaves calls wet: a second opinion. (n,).

    Notes
    -----
    With D the spread of air over dew point in C, W the wind in m/s, R the humidity in per
    cent and T the air in C: dry from D 3.7 on. Below that and W under 2.5, wet when
    ``1.6064 sqrt(T) + 0.0036 T^2 + 0.1531 R - 0.4599 W D - 0.0035 T R > 14.4674``. With more
    wind and R from 87.8 on, wet when
    ``0.7921 sqrt(T) + 0.0046 R - 2.3889 W - 0.0390 T W + 1.0613 W D > 37.0``. Else dry.

    Made for leaves 0.3 m above the ground in Iowa, Nebraska and Illinois, with the wind
    reduced to that height, from 20:00 to 09:00. Below freezing T is taken as 0. The windy
    branch almost never says wet.

    Source
    ------
    Gleason et al. 1994 and Kim et al. 2002, Plant Disease 86:179,
    https://apsnet.org/publications/plantdisease/2002/February/Pages/86_2_179.aspx, coefficients
    as printed at https://bhimchaulagain.netlify.app/post/2019-01-23-lwd-caclculation/.
    """
    spread, wind = weather.spread_c, weather.wind_mps
    humid = 100.0 * weather.humidity_fraction
    calm = wind < 2.5
    wet_if_calm = _calm_index(weather) > 14.4674
    wet_if_windy = (humid >= 87.8) & (_windy_index(weather) > 37.0)
    return (spread < 3.7) & np.where(calm, wet_if_calm, wet_if_windy)


def dew_off_s(
    hours: Hours, *, dew_spread_c: float, dew_wind_mps: float, after_s: float
) -> float | None:
    """Return when the dew is off: the first moment after sunrise in a dry hour; None if never [s].

    Parameters
    ----------
    dew_spread_c, dew_wind_mps
        As for ``wet_by_dew``.
    after_s
        Sunrise, elapsed since the start of the day. If that hour is dry already, there was no
        dew to wait for and the answer is sunrise itself. [s]
    """
    if hours.count == 0:
        return after_s
    wet = wet_by_dew(hours.forecast, dew_spread_c=dew_spread_c, dew_wind_mps=dew_wind_mps)
    return first_time_s(hours, ~wet, after_s=after_s)


def dew_on_s(
    hours: Hours, *, dew_spread_c: float, dew_wind_mps: float, after_s: float
) -> float | None:
    """Return when dew falls again: the first moment in a damp hour; None if it does not [s].

    Parameters
    ----------
    dew_spread_c, dew_wind_mps
        As for ``wet_by_dew``.
    after_s
        From when to look, elapsed: noon at the earliest, since before it damp air is the
        morning's dew going off by fits. [s]
    """
    wet = wet_by_dew(hours.forecast, dew_spread_c=dew_spread_c, dew_wind_mps=dew_wind_mps)
    return first_time_s(hours, wet, after_s=after_s)


def wetting_s(
    forecast: Forecast,
    *,
    from_at: datetime,
    until_at: datetime,
    dew_spread_c: float,
    dew_wind_mps: float,
    rain_threshold_m: float,
    rain_chance_limit_fraction: float,
) -> float:
    """Return how long dew or rain would wet seed that lies bare between two moments [s].

    Parameters
    ----------
    from_at, until_at
        Aware moments; a night may lie between them.
    dew_spread_c, dew_wind_mps
        As for ``wet_by_dew``.
    rain_threshold_m, rain_chance_limit_fraction
        As for ``rain.rain_hours``.

    Notes
    -----
    Hours that the forecast does not have are not counted.
    """
    hours = hours_between(forecast, start_at=from_at, end_at=until_at)
    wet = wet_by_dew(hours.forecast, dew_spread_c=dew_spread_c, dew_wind_mps=dew_wind_mps)
    wet = wet | rain_hours(
        hours,
        rain_threshold_m=rain_threshold_m,
        rain_chance_limit_fraction=rain_chance_limit_fraction,
    )
    froms_s = np.clip(hours.starts_s, 0.0, hours.length_s)
    tos_s = np.clip(hours.starts_s + HOUR_S, 0.0, hours.length_s)
    return float(np.sum((tos_s - froms_s)[wet]))


def _calm_index(weather: Forecast) -> FloatArray:
    air, humid = np.maximum(weather.air_c, 0.0), 100.0 * weather.humidity_fraction
    return np.asarray(
        1.6064 * np.sqrt(air)
        + 0.0036 * air**2
        + 0.1531 * humid
        - 0.4599 * weather.wind_mps * weather.spread_c
        - 0.0035 * air * humid
    )


def _windy_index(weather: Forecast) -> FloatArray:
    air, humid = np.maximum(weather.air_c, 0.0), 100.0 * weather.humidity_fraction
    return np.asarray(
        0.7921 * np.sqrt(air)
        + 0.0046 * humid
        - 2.3889 * weather.wind_mps
        - 0.0390 * air * weather.wind_mps
        + 1.0613 * weather.wind_mps * weather.spread_c
    )
