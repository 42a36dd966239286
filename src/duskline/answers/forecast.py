"""What the forecast gives: hours to work day by day, rain with both ends, and how right it was."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from duskline.answers.season_task import drying_rule
from duskline.answers.windows import DayWindows, day_windows
from duskline.core.errors import NoWindow
from duskline.core.farm import Farm
from duskline.core.light import local_midnight_at, moment_at
from duskline.core.weather import (
    Forecast,
    Range,
    drying_power_m_per_s,
    drying_weather,
    fit_after_rain_s,
    hours_between,
    hours_of_day,
    rain_arrival,
)
from duskline.core.weather.history import (
    ChanceKept,
    Figure,
    ForecastBias,
    PastHour,
    chances_kept,
    forecast_bias,
)

__all__ = ["ForecastAnswer", "ForecastDay", "forecast_answer"]

DAY_S = 86400.0
FIGURES: tuple[Figure, ...] = ("air_c", "dew_point_c", "wind_mps")


@dataclass(frozen=True, kw_only=True, slots=True)
class ForecastDay:
    """One date of the forecast.

    Attributes
    ----------
    spread, cover
        First and last moment of each work by forecast, sun and crew; None where there is none.
    stated
        The farm stated hours of its own, which the plans go by.
    because
        Why there is no work; "" where there is.
    rain_least_fraction, rain_middle_fraction, rain_most_fraction
        Chance of rain within the day's light: all hours one rain; each forecast block its own;
        every hour its own.
    rain_m
        Depth that falls over the whole date, as forecast. [m]
    fit_from
        When ground may be worked again after it: quick, middling and slow ground; None where the
        rain wets nothing that matters.
    """

    on: date
    spread: tuple[datetime, datetime] | None
    cover: tuple[datetime, datetime] | None
    opens_because: str
    closes_because: str
    stated: bool
    because: str
    rain_least_fraction: float
    rain_middle_fraction: float
    rain_most_fraction: float
    rain_m: float
    fit_from: tuple[datetime, datetime, datetime] | None


@dataclass(frozen=True, kw_only=True, slots=True)
class ForecastAnswer:
    """The forecast of the folder.

    Attributes
    ----------
    age_s
        Since it was made; None where it does not say. [s]
    stale
        Older than the age from which on it is called old.
    history_days
        On how many days forecasts and weather seen can be held against each other.
    """

    issued_at: datetime | None
    age_s: float | None
    stale: bool
    first_at: datetime
    last_at: datetime
    days: tuple[ForecastDay, ...]
    bias: tuple[ForecastBias, ...]
    chances: tuple[ChanceKept, ...]
    history_days: int


def forecast_answer(
    farm: Farm, *, now_at: datetime, past: Sequence[PastHour] = (), seen: Forecast | None = None
) -> ForecastAnswer:
    """Return what the forecast gives.

    Parameters
    ----------
    now_at
        Aware; the age is counted from it.
    past, seen
        What earlier forecasts said, and the weather that came.

    Raises
    ------
    NoWindow
        The folder has no forecast.
    """
    forecast = farm.forecast
    if forecast is None or not forecast.hours_at:
        raise NoWindow("no forecast in the folder")
    zone = ZoneInfo(farm.time_zone)
    issued = forecast.issued_at or farm.forecast_issued_at
    age_s = None if issued is None else (now_at - issued).total_seconds()
    dates = sorted({at.astimezone(zone).date() for at in forecast.hours_at})
    least = int(farm.defaults["forecast_history_least"].value)
    bias: tuple[ForecastBias, ...] = ()
    chances: tuple[ChanceKept, ...] = ()
    if seen is not None and past:
        bias = tuple(
            one
            for figure in FIGURES
            for one in forecast_bias(past, seen, figure=figure, least_days=least)
        )
        chances = chances_kept(
            past,
            seen,
            rain_threshold_m=farm.defaults["measurable_rain"].value,
            least_days=least,
        )
    return ForecastAnswer(
        issued_at=issued,
        age_s=age_s,
        stale=age_s is not None and age_s > farm.defaults["forecast_stale_after"].value,
        first_at=forecast.hours_at[0].astimezone(zone),
        last_at=forecast.hours_at[-1].astimezone(zone),
        days=tuple(_day(farm, forecast, on, zone) for on in dates),
        bias=bias,
        chances=chances,
        history_days=max((one.days for one in bias), default=0),
    )


def _day(farm: Farm, forecast: Forecast, on: date, zone: ZoneInfo) -> ForecastDay:
    start_at = local_midnight_at(on, zone)
    stated = any(window.on == on for window in farm.windows)
    windows: DayWindows | None = None
    because = ""
    try:
        windows = day_windows(replace(farm, windows=()), on)
    except NoWindow as closed:
        because = closed.reason
    hours = hours_of_day(forecast, start_at)
    light_s = windows.spread_intervals_s[0][0] if windows is not None else 0.0
    arrival = rain_arrival(
        hours,
        from_s=light_s,
        rain_threshold_m=farm.defaults["measurable_rain"].value,
        block_s=farm.defaults["forecast_rain_block"].value,
    )
    until_s = max(windows.cover_closes_s.values()) if windows is not None else DAY_S
    inside = np.flatnonzero(arrival.starts_s < until_s)
    last = int(inside[-1]) if inside.size else -1

    def chance(values: np.ndarray) -> float:
        return float(values[last]) if last >= 0 else 0.0

    depth_m = float(np.nansum(hours.forecast.rain_m)) if hours.count else 0.0
    return ForecastDay(
        on=on,
        spread=None
        if windows is None
        else (
            moment_at(start_at, windows.spread_intervals_s[0][0]),
            moment_at(start_at, windows.spread_intervals_s[-1][1]),
        ),
        cover=None
        if windows is None
        else (
            moment_at(start_at, min(windows.cover_opens_s.values())),
            moment_at(start_at, max(windows.cover_closes_s.values())),
        ),
        opens_because="" if windows is None else windows.spread_opens_because,
        closes_because="" if windows is None else windows.cover_closes_because,
        stated=stated,
        because=because,
        rain_least_fraction=chance(arrival.shared_fraction),
        rain_middle_fraction=chance(arrival.blocks_fraction),
        rain_most_fraction=chance(arrival.at_most_fraction),
        rain_m=depth_m,
        fit_from=_fit_from(farm, forecast, start_at, depth_m),
    )


def _fit_from(
    farm: Farm, forecast: Forecast, start_at: datetime, depth_m: float
) -> tuple[datetime, datetime, datetime] | None:
    """Return when the ground is fit again after a date's rain, by the drying of the next days."""
    if depth_m <= 0.0:
        return None
    hours = hours_of_day(forecast, start_at)
    wet = np.flatnonzero(np.nan_to_num(hours.forecast.rain_m) > 0.0)
    if not wet.size:
        return None
    ends_at = moment_at(start_at, float(hours.spans_s[wet[-1], 1]))
    rule = drying_rule(farm)
    after = hours_between(forecast, start_at=ends_at, end_at=ends_at + timedelta(seconds=2 * DAY_S))
    power = rule.slow_power_m_per_s
    if after.count:
        power = float(
            np.mean(
                drying_power_m_per_s(
                    air_c=after.forecast.air_c,
                    dew_point_c=after.forecast.dew_point_c,
                    wind_mps=after.forecast.wind_mps,
                )
            )
        )
    takes: Range = fit_after_rain_s(depth_m, weather=drying_weather(power, rule=rule), rule=rule)
    if takes.high <= 0.0 or math.isinf(takes.high):
        return None
    low, middle, high = (
        ends_at + timedelta(seconds=span) for span in (takes.low, takes.typical, takes.high)
    )
    return low, middle, high
