"""Dew, rain and wind hour by hour, and when they let each machine work.

An hourly value at hour h holds from h:00 until the next hour's value takes over.
"""

from __future__ import annotations

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
    rain_arrival_s,
    rain_by,
    rain_hours,
)

__all__ = [
    "DayOpenings",
    "Forecast",
    "Hours",
    "NoteKind",
    "Opening",
    "RainChance",
    "Reason",
    "WeatherLimits",
    "WeatherNote",
    "Work",
    "chance_if_independent_fraction",
    "chance_if_shared_fraction",
    "derive_openings",
    "dew_off_s",
    "dew_on_s",
    "dew_point_c",
    "first_rain_s",
    "first_time_s",
    "hours_between",
    "hours_of_day",
    "humidity_fraction",
    "missing_spans_s",
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
