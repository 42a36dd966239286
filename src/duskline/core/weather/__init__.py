"""Dew, rain and wind hour by hour, and when they let each machine work.

An hourly value at hour h holds from h:00 until the next hour's value takes over.
"""

from __future__ import annotations

from duskline.core.weather.arrival import RainArrival, block_numbers, rain_arrival
from duskline.core.weather.derive import derive_openings
from duskline.core.weather.dew import (
    dew_off_s,
    dew_on_s,
    dew_point_c,
    humidity_fraction,
    saturation_vapour_pressure_pa,
    wet_by_dew,
    wet_by_leaf_tree,
    wetting_s,
)
from duskline.core.weather.drying import (
    DryingRule,
    DryingWeather,
    Range,
    drying_power_m_per_s,
    drying_weather,
    fit_after_rain_s,
    fit_times_s,
)
from duskline.core.weather.forecast import (
    Forecast,
    Hours,
    first_time_s,
    hours_between,
    hours_of_day,
    missing_spans_s,
    wind_ok_hours,
)
from duskline.core.weather.opening import (
    DayOpenings,
    NoteKind,
    Opening,
    Reason,
    WeatherLimits,
    WeatherNote,
    Work,
    with_margin,
)
from duskline.core.weather.rain import (
    RainChance,
    chance_if_independent_fraction,
    chance_if_shared_fraction,
    first_rain_s,
    hourly_chances_fraction,
    rain_arrival_s,
    rain_by,
    rain_hours,
)

__all__ = [
    "DayOpenings",
    "DryingRule",
    "DryingWeather",
    "Forecast",
    "Hours",
    "NoteKind",
    "Opening",
    "RainArrival",
    "RainChance",
    "Range",
    "Reason",
    "WeatherLimits",
    "WeatherNote",
    "Work",
    "block_numbers",
    "chance_if_independent_fraction",
    "chance_if_shared_fraction",
    "derive_openings",
    "dew_off_s",
    "dew_on_s",
    "dew_point_c",
    "drying_power_m_per_s",
    "drying_weather",
    "first_rain_s",
    "first_time_s",
    "fit_after_rain_s",
    "fit_times_s",
    "hourly_chances_fraction",
    "hours_between",
    "hours_of_day",
    "humidity_fraction",
    "missing_spans_s",
    "rain_arrival",
    "rain_arrival_s",
    "rain_by",
    "rain_hours",
    "saturation_vapour_pressure_pa",
    "wet_by_dew",
    "wet_by_leaf_tree",
    "wetting_s",
    "wind_ok_hours",
    "with_margin",
]
