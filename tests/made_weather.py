"""Made-up forecasts for tests: a few figures in, a whole forecast out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from duskline.core.weather import Forecast, WeatherLimits, dew_point_c, humidity_fraction

KMH = 1.0 / 3.6
MPH = 0.44704
FIRM_LIMITS = {  # round figures of these tests, not defaults
    "dew_spread_c": 3.0,
    "dew_wind_mps": 7.0 * MPH,
    "wind_limit_mps": 20.0 * KMH,
    "gust_limit_mps": None,
    "rain_threshold_m": 0.000254,
    "rain_chance_limit_fraction": 0.5,
    "stale_after_s": 12 * 3600.0,
    "dew_sd_s": 3600.0,
    "rain_sd_s": 5400.0,
    "wind_sd_s": 1800.0,
    "light_sd_s": 300.0,
    "stated_sd_s": 600.0,
}


def limits(**changed: float | None) -> WeatherLimits:
    """The limits of these tests, some of them changed."""
    return WeatherLimits(**(FIRM_LIMITS | changed))  # type: ignore[arg-type]


def hourly(
    first_at: datetime,
    *,
    air_c: Sequence[float],
    wind_mps: Sequence[float] | float = 2.0,
    spread_c: Sequence[float] | float | None = None,
    humidity: Sequence[float] | float = 0.5,
    gust_mps: Sequence[float] | float = np.nan,
    rain_chance: Sequence[float] | float = np.nan,
    rain_m: Sequence[float] | float = np.nan,
    skip: Sequence[int] = (),
    issued_at: datetime | None = None,
) -> Forecast:
    """Hours on end from ``first_at``, elapsed; the dew by its spread, or else by humidity.

    ``skip`` leaves hours out by their index.
    """
    count = len(air_c)
    keep = [index for index in range(count) if index not in set(skip)]
    first_s = first_at.timestamp()
    moments = [datetime.fromtimestamp(first_s + 3600.0 * n, tz=first_at.tzinfo) for n in keep]

    def full(values: Sequence[float] | float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.broadcast_to(np.asarray(values, dtype=np.float64), (count,))[keep]

    air = full(air_c)
    if spread_c is not None:
        dew = air - full(spread_c)
        humid = humidity_fraction(air_c=air, dew_point_c=dew)
    else:
        humid = full(humidity)
        dew = dew_point_c(air_c=air, humidity_fraction=humid)
    return Forecast(
        hours_at=tuple(moments),
        air_c=air,
        dew_point_c=dew,
        humidity_fraction=humid,
        wind_mps=full(wind_mps),
        gust_mps=full(gust_mps),
        wind_from_deg=full(np.nan),
        rain_chance_fraction=full(rain_chance),
        rain_m=full(rain_m),
        issued_at=issued_at,
    )
