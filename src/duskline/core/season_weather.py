"""Many seasons of weather that could come: near days from the forecast, later ones from climate.

Each season gives every day its time for spreading and for covering. The same seed gives the same
seasons, and a day added at the end leaves the days before it as they were.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from duskline.core.checks import check_within
from duskline.core.errors import OutOfRange
from duskline.core.light import seconds_after
from duskline.core.weather.arrival import block_numbers
from duskline.core.weather.drying import (
    DryingRule,
    Range,
    drying_power_m_per_s,
    drying_weather,
    fit_times_s,
)
from duskline.core.weather.forecast import (
    HOUR_S,
    SAME_FIGURE,
    Forecast,
    Hours,
    hours_between,
    missing_spans_s,
)
from duskline.core.weather.opening import WeatherLimits
from duskline.core.weather.rain import hourly_chances_fraction

__all__ = [
    "Climate",
    "ClimatePart",
    "DayFrame",
    "ErrorGrowth",
    "ForecastErrors",
    "SeasonWeathers",
    "season_weathers",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

DAY_S = 86400.0
# A forecast may miss this share of a day's hours before the day is drawn from climate instead.
MOST_MISSING = 0.2
# Rain on adjoining days is one event: it takes a dry day to part two.
PARTS_EVENTS_S = DAY_S
# Bottom ground ("not after rain") stands here among all grounds, 0 quick to 1 slow.
BOTTOM_SHARE = 0.95
# No rain yet: long before any day, and finite, so that shares of a wait can be taken.
LONG_AGO_S = -1e9
_AIR, _WIND, _RAIN, _DEPTH, _GROUND, _CLOSE, _STATE, _LENGTH, _YEAR = range(9)


@dataclass(frozen=True, kw_only=True, slots=True)
class DayFrame:
    """What light, crew and the farm's stated hours leave of one day, weather aside.

    Attributes
    ----------
    start_at
        Local midnight, aware; all times below elapse from it.
    spread_opens_s, spread_closes_s, cover_opens_s, cover_closes_s
        First and last moment each work may go on. [s]
    noon_s
        Damp air before it is the morning's dew, after it the evening's. [s]
    closes_sd_s
        How unsure the close is, one standard deviation. [s]
    stated
        The hours are stated by the farm: dew and ground do not move them, rain still closes.
        Beyond the forecast they hold whole on every fit day.
    shut
        No work at all, by the farm's word.
    """

    on: date
    start_at: datetime
    spread_opens_s: float
    spread_closes_s: float
    cover_opens_s: float
    cover_closes_s: float
    noon_s: float
    closes_sd_s: float = 0.0
    stated: bool = False
    shut: bool = False

    def __post_init__(self) -> None:
        """Refuse hours out of order and a midnight without a zone."""
        seconds_after(self.start_at, self.start_at)
        check_within("close of spreading", self.spread_closes_s, self.spread_opens_s, 2 * DAY_S)
        check_within("close of covering", self.cover_closes_s, self.cover_opens_s, 2 * DAY_S)
        check_within("uncertainty of the close", self.closes_sd_s, 0.0, DAY_S)


@dataclass(frozen=True, kw_only=True, slots=True)
class ErrorGrowth:
    """How far a forecast figure is off, one standard deviation: at once, and more each day."""

    first: float
    per_day: float

    def __post_init__(self) -> None:
        """Refuse errors below zero."""
        check_within("forecast error at once", self.first, 0.0, np.inf)
        check_within("growth of the forecast error", self.per_day, 0.0, np.inf)

    def sd(self, lead_days: FloatArray) -> FloatArray:
        """Return the standard deviation at a lead in days."""
        return np.asarray(self.first + self.per_day * np.maximum(lead_days, 0.0))


@dataclass(frozen=True, kw_only=True, slots=True)
class ForecastErrors:
    """How the weather that comes departs from the forecast.

    Attributes
    ----------
    spread_c
        Error of the air's distance over its dew point. [K]
    wind_mps
        Error of wind and gusts. [m/s]
    day_link
        Correlation of a day's error with the next day's.
    block_s, block_link
        The hours of one forecast block share one throw for rain; successive blocks' throws are
        correlated this much. 0: blocks apart; 1: one rain for the whole forecast.
    wet_hour_m
        Rain in a wet hour whose depth the forecast leaves out. [m]
    spread_ground_share
        Share of the ground's time after rain that the spreader waits; covering waits it all.
    """

    spread_c: ErrorGrowth
    wind_mps: ErrorGrowth
    day_link: float
    block_s: float
    block_link: float
    wet_hour_m: Range
    spread_ground_share: float

    def __post_init__(self) -> None:
        """Refuse links and shares outside 0 to 1."""
        check_within("link between days", self.day_link, 0.0, 1.0)
        check_within("link between blocks", self.block_link, 0.0, 1.0)
        check_within("share of the wait before spreading", self.spread_ground_share, 0.0, 1.0)
        check_within("length of a forecast block", self.block_s, HOUR_S, 10 * DAY_S)


@dataclass(frozen=True, kw_only=True, slots=True)
class ClimatePart:
    """What falls are like from one date on, until the next part begins.

    Attributes
    ----------
    from_month, from_day
        First day of the part, every year.
    fit_share
        Share of days fit for covering: in a poor fall, a usual one, a good one.
    fit_run_days
        How many fit days come in a row, on average.
    spread_s, cover_s
        Time for each work on a fit day: short, usual, long. [s]
    """

    from_month: int
    from_day: int
    fit_share: Range
    fit_run_days: float
    spread_s: Range
    cover_s: Range

    def __post_init__(self) -> None:
        """Refuse dates that are none, and shares that cannot be."""
        check_within("month", self.from_month, 1, 12)
        last = (date(2024 + self.from_month // 12, self.from_month % 12 + 1, 1)) - timedelta(days=1)
        check_within("day of the month", self.from_day, 1, last.day)
        check_within("share of fit days", self.fit_share.high, 0.0, 1.0)
        check_within("fit days in a row", self.fit_run_days, 1.0, 366.0)
        for name, window in (("spreading", self.spread_s), ("covering", self.cover_s)):
            check_within(f"time for {name}", window.high, 0.0, DAY_S)


@dataclass(frozen=True, kw_only=True, slots=True)
class Climate:
    """A year in parts, in order of their first day."""

    parts: tuple[ClimatePart, ...]

    def __post_init__(self) -> None:
        """Refuse no parts, or parts out of order."""
        check_within("parts of the climate table", len(self.parts), 1, 366)
        for one, following in pairwise(self.parts):
            before = 100 * one.from_month + one.from_day
            check_within(
                "first day of a part",
                100 * following.from_month + following.from_day,
                before + 1,
                1231,
            )

    def part(self, on: date) -> ClimatePart:
        """Return the part a date lies in; before the first part it is the last one's still."""
        key = 100 * on.month + on.day
        started = [part for part in self.parts if 100 * part.from_month + part.from_day <= key]
        return started[-1] if started else self.parts[-1]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SeasonWeathers:
    """Seasons that could come; arrays of shape (count, days), read-only.

    Attributes
    ----------
    spread_s, cover_s
        Time in which each work may go on; 0 where none. [s]
    spread_opens_s, cover_opens_s
        When each begins, elapsed since midnight; NaN on days from climate, and where it does
        not open. [s]
    wet
        Ground that must not be worked after rain is still wet when the day opens.
    closed
        No covering at all that day, so nothing may be spread.
    from_forecast
        Whether the day is drawn from the forecast; else from climate. (days,)
    """

    days: tuple[date, ...]
    spread_s: FloatArray
    cover_s: FloatArray
    spread_opens_s: FloatArray
    cover_opens_s: FloatArray
    wet: BoolArray
    closed: BoolArray
    from_forecast: BoolArray

    def __post_init__(self) -> None:
        """Lock the arrays."""
        for name in self.__slots__[1:]:
            getattr(self, name).setflags(write=False)

    @property
    def count(self) -> int:
        """How many seasons there are."""
        return len(self.cover_s)


def season_weathers(
    forecast: Forecast | None,
    climate: Climate,
    days: Sequence[DayFrame],
    count: int,
    seed: int,
    *,
    errors: ForecastErrors,
    drying: DryingRule,
    limits: WeatherLimits,
) -> SeasonWeathers:
    """Return seasons of weather that could come, (count, days).

    Parameters
    ----------
    forecast
        Hours of the near days; None draws every day from climate.
    climate
        The user's table for the days the forecast does not reach.
    days
        The days in order, none left out.
    count, seed
        How many seasons, and which.

    Raises
    ------
    OutOfRange
        No season or no day, days not one after the other, or a negative seed.

    Notes
    -----
    **Near days.** Distance over the dew point and wind are the forecast's plus an error, one for
    each day, linked from day to day, growing with the lead. An hour is rainy when its block's
    throw is below its chance, so each hour keeps the forecast's own chance; depth is the
    forecast's, given that it rains. The rules of ``derive_openings`` then give the hours, and
    after rain covering waits for the ground. A missing chance and depth count as dry.

    **Later days.** Fit and unfit days follow a chain of two states that holds the share of fit
    days and the length of their runs; it goes on from the last near day. Each season draws one
    share for the whole season, so that poor and good falls differ. The first fit day after
    unfit ones counts as wet.

    Source
    ------
    Derived here; held to ``derive_openings`` with all errors nought, and to an independently
    written generator, in tests/core/test_season_weather.py.
    """
    _check(days, count, seed)
    draws = _Draws(seed=seed, count=count)
    shape = (count, len(days))
    spread_s, cover_s = np.zeros(shape), np.zeros(shape)
    spread_opens_s, cover_opens_s = np.full(shape, np.nan), np.full(shape, np.nan)
    wet = np.zeros(shape, dtype=np.bool_)
    near = np.array([forecast is not None and _reaches(forecast, day) for day in days])
    hourly = None
    if near.any():
        hourly = _weather_hours(forecast, days, near, draws, errors, drying, limits)
    share = draws.uniform(_YEAR, 0)
    fit: BoolArray | None = None
    for index, frame in enumerate(days):
        before = fit
        if near[index] and hourly is not None:
            found = _near_day(frame, hourly, draws, limits)
            spread_s[:, index], cover_s[:, index] = found.spread_s, found.cover_s
            spread_opens_s[:, index] = found.spread_opens_s
            cover_opens_s[:, index] = found.cover_opens_s
            wet[:, index] = found.wet
            fit = found.cover_s > 0.0
        else:
            part = climate.part(frame.on)
            fit = _next_fit(part, share, before, draws, frame.on)
            length = draws.uniform(_LENGTH, frame.on.toordinal())
            most_spread_s = frame.spread_closes_s - frame.spread_opens_s
            most_cover_s = frame.cover_closes_s - frame.cover_opens_s
            drawn_spread_s, drawn_cover_s = part.spread_s.at(length), part.cover_s.at(length)
            if frame.stated:
                drawn_spread_s = drawn_cover_s = np.full(count, np.inf)
            spread_s[:, index] = np.where(fit, np.minimum(drawn_spread_s, most_spread_s), 0.0)
            cover_s[:, index] = np.where(fit, np.minimum(drawn_cover_s, most_cover_s), 0.0)
            wet[:, index] = ~fit if before is None else ~fit | ~before
        if frame.shut:  # the farm's word stops the work, not the weather
            spread_s[:, index] = cover_s[:, index] = 0.0
            spread_opens_s[:, index] = cover_opens_s[:, index] = np.nan
    return SeasonWeathers(
        days=tuple(day.on for day in days),
        spread_s=spread_s,
        cover_s=cover_s,
        spread_opens_s=spread_opens_s,
        cover_opens_s=cover_opens_s,
        wet=wet,
        closed=cover_s <= 0.0,
        from_forecast=near,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Draws:
    """Random figures by what they are for and when: adding a day moves no other draw."""

    seed: int
    count: int

    def uniform(self, purpose: int, when: int) -> FloatArray:
        return np.random.default_rng([self.seed, purpose, when]).random(self.count)

    def normal(self, purpose: int, when: int) -> FloatArray:
        return np.random.default_rng([self.seed, purpose, when]).standard_normal(self.count)

    def linked(self, purpose: int, whens: Sequence[int], link: float) -> FloatArray:
        """Standard normal figures, each correlated with the one before. (count, len(whens))."""
        found = np.empty((self.count, len(whens)))
        for index, when in enumerate(whens):
            fresh = self.normal(purpose, when)
            if index:
                fresh = link * found[:, index - 1] + np.sqrt(1.0 - link * link) * fresh
            found[:, index] = fresh
        return found


@dataclass(frozen=True, kw_only=True, slots=True)
class _WeatherHours:
    """Every season's hours, (count, hours), and when its ground is fit after rain.

    Times elapse from the first day's midnight; ``fit_at_s`` and its like are as rain up to and
    with the hour leaves the ground.
    """

    origin_at: datetime
    starts_s: FloatArray
    spans_s: FloatArray
    spread_c: FloatArray
    wind_mps: FloatArray
    gust_mps: FloatArray
    rainy: BoolArray
    fit_at_s: FloatArray
    spread_fit_at_s: FloatArray
    bottom_fit_at_s: FloatArray


@dataclass(frozen=True, kw_only=True, slots=True)
class _Near:
    """One near day in every season. (count,)."""

    spread_s: FloatArray
    cover_s: FloatArray
    spread_opens_s: FloatArray
    cover_opens_s: FloatArray
    wet: BoolArray


def _check(days: Sequence[DayFrame], count: int, seed: int) -> None:
    check_within("seasons", count, 1, 1_000_000)
    check_within("days", len(days), 1, 400)
    check_within("seed", seed, 0, 2**63)
    for one, following in pairwise(days):
        if following.on - one.on != timedelta(days=1):
            raise OutOfRange("days to the next day", (following.on - one.on).days, 1, 1)


def _reaches(forecast: Forecast, frame: DayFrame) -> bool:
    """Whether the forecast has the hours of the day's work, all but a few."""
    first = min(frame.spread_opens_s, frame.cover_opens_s)
    last = max(frame.spread_closes_s, frame.cover_closes_s)
    hours = hours_between(
        forecast, start_at=frame.start_at, end_at=frame.start_at.astimezone(UTC) + _span(last)
    )
    missing = sum(b - a for a, b in missing_spans_s(hours, from_s=first, to_s=last))
    return hours.count > 0 and missing <= MOST_MISSING * max(last - first, 1.0)


def _span(length_s: float) -> timedelta:
    return timedelta(seconds=length_s)


def _weather_hours(
    forecast: Forecast | None,
    days: Sequence[DayFrame],
    near: BoolArray,
    draws: _Draws,
    errors: ForecastErrors,
    drying: DryingRule,
    limits: WeatherLimits,
) -> _WeatherHours:
    """Draw every season's hours, from a day before the first on, since rain then still counts."""
    assert forecast is not None  # noqa: S101 - near days exist only with a forecast
    origin_at = days[0].start_at
    last = days[int(np.flatnonzero(near)[-1])]
    start_at = origin_at.astimezone(UTC) - timedelta(days=2)
    # A day more than is worked: the air of the next day is what dries this day's rain.
    length = _span(DAY_S + max(last.spread_closes_s, last.cover_closes_s, DAY_S))
    hours = hours_between(forecast, start_at=start_at, end_at=last.start_at + length)
    weather = hours.forecast
    starts_s, spans_s = hours.starts_s - 2 * DAY_S, hours.spans_s - 2 * DAY_S
    issued_at = forecast.issued_at or forecast.hours_at[0]
    lead_days = np.array([seconds_after(issued_at, at) for at in weather.hours_at]) / DAY_S
    ordinals = np.array([at.astimezone(origin_at.tzinfo).toordinal() for at in weather.hours_at])
    which_days, day_of = np.unique(ordinals, return_inverse=True)
    air = draws.linked(_AIR, which_days.tolist(), errors.day_link)[:, day_of]
    wind = draws.linked(_WIND, which_days.tolist(), errors.day_link)[:, day_of]
    spread_c = np.maximum(weather.spread_c + air * errors.spread_c.sd(lead_days), 0.0)
    puff = wind * errors.wind_mps.sd(lead_days)
    rainy, depth_m = _rain(hours, draws, errors, limits.rain_threshold_m)
    ground = draws.uniform(_GROUND, 0)
    fit_s = _fit_at_s(starts_s, weather, rainy, depth_m, drying, ground)
    return _WeatherHours(
        origin_at=origin_at,
        starts_s=starts_s,
        spans_s=spans_s,
        spread_c=spread_c,
        wind_mps=np.maximum(weather.wind_mps + puff, 0.0),
        gust_mps=np.maximum(weather.gust_mps + puff, 0.0),
        rainy=rainy,
        fit_at_s=fit_s[0],
        spread_fit_at_s=fit_s[1] + errors.spread_ground_share * (fit_s[0] - fit_s[1]),
        bottom_fit_at_s=fit_s[2],
    )


def _rain(
    hours: Hours, draws: _Draws, errors: ForecastErrors, threshold_m: float
) -> tuple[BoolArray, FloatArray]:
    """Draw which hours are rainy, and how much falls in them. (count, hours) [m]."""
    from scipy.special import ndtr

    weather = hours.forecast
    chances = np.nan_to_num(hourly_chances_fraction(hours, threshold_m), nan=0.0)
    blocks = block_numbers(hours, block_s=errors.block_s)
    which, block_of = np.unique(blocks, return_inverse=True)
    first = int(weather.hours_at[0].timestamp() // errors.block_s)
    keys = [abs(first + int(block)) for block in which]
    throws = ndtr(draws.linked(_RAIN, keys, errors.block_link))[:, block_of]
    rainy = throws < chances
    amount = np.column_stack([draws.uniform(_DEPTH, key) for key in keys])[:, block_of]
    known = ~np.isnan(weather.rain_m) & (weather.rain_m > 0.0)
    if_wet_m = np.where(known, weather.rain_m, 0.0) / np.maximum(chances, 0.01)
    depth_m = np.where(known, if_wet_m, errors.wet_hour_m.at(amount))
    return rainy, np.where(rainy, depth_m, 0.0)


def _fit_at_s(
    starts_s: FloatArray,
    weather: Forecast,
    rainy: BoolArray,
    depth_m: FloatArray,
    drying: DryingRule,
    ground: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """When ground is fit, when the rain ended, when bottoms are fit, after each hour. [s]."""
    power = drying_power_m_per_s(
        air_c=weather.air_c, dew_point_c=weather.dew_point_c, wind_mps=weather.wind_mps
    )
    count, hours = rainy.shape
    fit_at, over_at, bottom_at = (np.full((count, hours + 1), LONG_AGO_S) for _ in range(3))
    event_m, ended_s = np.zeros(count), np.full(count, LONG_AGO_S)
    for hour in range(hours):
        for table in (fit_at, over_at, bottom_at):
            table[:, hour + 1] = table[:, hour]
        wet = np.flatnonzero(rainy[:, hour])
        if not wet.size:
            continue
        # A missing hour after rain may have been dry: it adds no rain to the ground.
        start_s, end_s = starts_s[hour], starts_s[hour] + HOUR_S
        fresh = start_s - ended_s[wet] > PARTS_EVENTS_S
        event_m[wet] = np.where(fresh, 0.0, event_m[wet]) + depth_m[wet, hour]
        ended_s[wet] = end_s
        after = power[hour + 1 : hour + 25] if hour + 1 < hours else power[hour : hour + 1]
        rate = drying.rate_m_per_s(drying_weather(float(np.mean(after)), rule=drying))
        own_s = fit_times_s(event_m[wet], rate, rule=drying, ground_share=ground[wet])
        bottom_share = np.maximum(ground[wet], BOTTOM_SHARE)
        bottom_s = fit_times_s(event_m[wet], rate, rule=drying, ground_share=bottom_share)
        # A light rain after a heavy one never makes the ground fit sooner.
        fit_at[wet, hour + 1] = np.maximum(fit_at[wet, hour], end_s + own_s)
        over_at[wet, hour + 1] = end_s
        bottom_at[wet, hour + 1] = np.maximum(bottom_at[wet, hour], end_s + bottom_s)
    return fit_at, over_at, bottom_at


def _near_day(
    frame: DayFrame, hourly: _WeatherHours, draws: _Draws, limits: WeatherLimits
) -> _Near:
    """Apply the rules of the day to every season's hours."""
    offset_s = seconds_after(hourly.origin_at, frame.start_at)
    last_s = max(frame.spread_closes_s, frame.cover_closes_s, frame.noon_s)
    last_s += 4.0 * frame.closes_sd_s
    spans_s = hourly.spans_s - offset_s
    # As in the day's own rules: before the day's first hour it is like that hour.
    first = int(np.searchsorted(hourly.starts_s + HOUR_S - offset_s, 0.0, side="right"))
    end = int(np.searchsorted(spans_s[:, 0], last_s, side="left"))
    spans_s, rainy = spans_s[first:end], hourly.rainy[:, first:end]
    spans_s[0, 0] = min(spans_s[0, 0], 0.0)
    calm = hourly.wind_mps[:, first:end] < limits.dew_wind_mps
    damp = (hourly.spread_c[:, first:end] < limits.dew_spread_c) & calm
    slack_s = frame.closes_sd_s * draws.normal(_CLOSE, frame.on.toordinal())

    def opened_s(first_s: FloatArray, table: FloatArray) -> FloatArray:
        """Wait for ground and for rain to stop; infinity where neither comes."""
        opens_s = _first_s(spans_s, ~rainy, first_s)
        for _ in range(len(spans_s)):
            known = np.searchsorted(hourly.starts_s, offset_s + opens_s, side="left")
            ground_s = table[np.arange(len(table)), known] - offset_s
            ready_s = opens_s if frame.stated else np.maximum(opens_s, ground_s)
            later_s = _first_s(spans_s, ~rainy, ready_s)
            if np.array_equal(later_s, opens_s):
                break
            opens_s = later_s  # rain while waiting makes the wait longer
        return opens_s

    cover_first_s = np.full(draws.count, frame.cover_opens_s)
    if not frame.stated:
        cover_first_s = _first_s(spans_s, ~damp, cover_first_s)
    cover_opens_s = opened_s(cover_first_s, hourly.fit_at_s)
    cover_closes_s = np.minimum(
        frame.cover_closes_s + slack_s, _first_s(spans_s, rainy, cover_opens_s)
    )
    if not frame.stated:
        evening_s = np.maximum(cover_opens_s, frame.noon_s)
        cover_closes_s = np.minimum(cover_closes_s, _first_s(spans_s, damp, evening_s))
    spread_first_s = np.full(draws.count, frame.spread_opens_s)
    spread_opens_s = opened_s(spread_first_s, hourly.spread_fit_at_s)
    spread_closes_s = np.minimum(
        frame.spread_closes_s + slack_s, _first_s(spans_s, rainy, spread_opens_s)
    )
    windy = hourly.wind_mps[:, first:end] > limits.wind_limit_mps * (1.0 + SAME_FIGURE)
    if limits.gust_limit_mps is not None:
        windy |= hourly.gust_mps[:, first:end] > limits.gust_limit_mps * (1.0 + SAME_FIGURE)
    from_s = np.maximum(spans_s[:, 0], spread_opens_s[:, None])
    ends_s = spans_s[:, 1].copy()
    ends_s[-1] = np.inf  # the last hour's value holds on to a late close
    to_s = np.minimum(ends_s, spread_closes_s[:, None])
    throwing_s = np.where(windy, 0.0, np.maximum(to_s - from_s, 0.0))
    cover_s = np.maximum(cover_closes_s - cover_opens_s, 0.0)
    spread_s = throwing_s.sum(axis=1)
    opens_at_s = min(frame.cover_opens_s, frame.spread_opens_s)
    known = int(np.searchsorted(hourly.starts_s, offset_s + opens_at_s, side="left"))
    return _Near(
        spread_s=spread_s,
        cover_s=cover_s,
        spread_opens_s=np.where(spread_s > 0.0, spread_opens_s, np.nan),
        cover_opens_s=np.where(cover_s > 0.0, cover_opens_s, np.nan),
        wet=hourly.bottom_fit_at_s[:, known] - offset_s > frame.cover_opens_s,
    )


def _first_s(spans_s: FloatArray, flags: BoolArray, after_s: FloatArray) -> FloatArray:
    """Each season's first moment not before ``after_s`` in a flagged hour; else infinity. [s]."""
    wanted = flags & (spans_s[:, 1] > after_s[:, None])
    if not wanted.shape[1]:
        return np.full(len(after_s), np.inf)
    found = np.maximum(spans_s[np.argmax(wanted, axis=1), 0], after_s)
    return np.where(wanted.any(axis=1), found, np.inf)


def _next_fit(
    part: ClimatePart, share: FloatArray, before: BoolArray | None, draws: _Draws, on: date
) -> BoolArray:
    """Draw each season's next day, fit or not, from the day before it."""
    throw = draws.uniform(_STATE, on.toordinal())
    fit_share = np.clip(part.fit_share.at(share), 0.0, 1.0)
    if before is None:
        return np.asarray(throw < fit_share)
    odds = fit_share / np.maximum(1.0 - fit_share, 1e-9)
    run_days = np.maximum(part.fit_run_days, odds)  # a high share needs runs at least this long
    stays = np.where(fit_share >= 1.0, 1.0, 1.0 - 1.0 / run_days)
    comes = np.where(fit_share >= 1.0, 1.0, odds / run_days)
    return np.asarray(throw < np.where(before, stays, comes))
