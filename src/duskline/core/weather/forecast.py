"""An hourly forecast, and the part of it that falls into one working day.

An hourly value at hour h holds over [h, h+1); a missing hour is taken to be like the one before.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from duskline.core.errors import OutOfRange
from duskline.core.light import local_midnight_at, seconds_after

__all__ = [
    "BoolArray",
    "FloatArray",
    "Forecast",
    "Hours",
    "first_time_s",
    "hours_between",
    "hours_of_day",
    "missing_spans_s",
    "wind_ok_hours",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

HOUR_S = 3600.0
# Two figures typed in different units ("20 km/h", 20 in a km/h column) may differ in the last
# bit; a limit is broken only beyond this share of it.
SAME_FIGURE = 1e-9

# name, lowest, highest, must be given
_COLUMNS = (
    ("air_c", -90.0, 60.0, True),
    ("dew_point_c", -100.0, 60.0, True),
    ("humidity_fraction", 0.0, 1.0, True),
    ("wind_mps", 0.0, 120.0, True),
    ("gust_mps", 0.0, 120.0, False),
    ("wind_from_deg", 0.0, 360.0, False),
    ("rain_chance_fraction", 0.0, 1.0, False),
    ("rain_m", 0.0, 1.0, False),
)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Forecast:
    """Hourly weather at the farm, in order of time; arrays of shape (n,), read-only.

    Attributes
    ----------
    hours_at
        When each hour begins; aware moments at least an hour apart.
    air_c, dew_point_c
        Air temperature and dew point 2 m above the ground. [C]
    humidity_fraction
        Relative humidity, 0 to 1.
    wind_mps, gust_mps
        Mean wind and gusts; a gust not given is NaN. [m/s]
    wind_from_deg
        Where the wind comes from, degrees clockwise from true north; NaN if not given.
    rain_chance_fraction
        Chance of measurable rain in the hour, 0 to 1; NaN if not given.
    rain_m
        Depth of rain in the hour; NaN if not given. [m]
    issued_at
        When the forecast was made; None if not known.

    Raises
    ------
    OutOfRange
        Arrays of unequal length, hours out of order, or a figure that cannot be.
    """

    hours_at: tuple[datetime, ...]
    air_c: FloatArray
    dew_point_c: FloatArray
    humidity_fraction: FloatArray
    wind_mps: FloatArray
    gust_mps: FloatArray
    wind_from_deg: FloatArray
    rain_chance_fraction: FloatArray
    rain_m: FloatArray
    issued_at: datetime | None = None

    def __post_init__(self) -> None:
        """Check the figures and lock the arrays."""
        for name, low, high, needed in _COLUMNS:
            values = np.array(getattr(self, name), dtype=np.float64)
            if values.shape != (len(self.hours_at),):
                count = len(self.hours_at)
                raise OutOfRange(f"number of {name} figures", float(values.size), count, count)
            _check_column(name, values, low, high, needed)
            values.setflags(write=False)
            object.__setattr__(self, name, values)
        for moment_at, next_at in pairwise(self.hours_at):
            apart_s = seconds_after(moment_at, next_at)
            if apart_s < HOUR_S:
                raise OutOfRange("seconds from one hour to the next", apart_s, HOUR_S)
        for moment_at in (*self.hours_at[:1], *([self.issued_at] if self.issued_at else [])):
            seconds_after(moment_at, moment_at)  # refuses a moment without a zone

    @property
    def spread_c(self) -> FloatArray:
        """How far the dew point lies below the air; small means damp. [C], (n,)."""
        return self.air_c - self.dew_point_c

    def part(self, first: int, end: int) -> Forecast:
        """Return the hours with index ``first`` up to, not including, ``end``."""
        columns = {name: getattr(self, name)[first:end] for name, *_ in _COLUMNS}
        return Forecast(hours_at=self.hours_at[first:end], issued_at=self.issued_at, **columns)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Hours:
    """The hours of a forecast that touch one stretch of time, on that stretch's own clock.

    Attributes
    ----------
    forecast
        Only the hours that touch the stretch.
    starts_s
        When each begins, elapsed since the start of the stretch; the first may be below
        zero. (n,) [s]
    length_s
        How long the stretch is. [s]
    """

    forecast: Forecast
    starts_s: FloatArray
    length_s: float

    @property
    def count(self) -> int:
        """How many hours there are."""
        return len(self.starts_s)

    @property
    def spans_s(self) -> FloatArray:
        """From when to when each hour's value is taken to hold, gaps filled. (n, 2) [s].

        A missing hour is taken to be like the one before it; before the first, like the first.
        """
        froms_s = self.starts_s.copy()
        if self.count:
            froms_s[0] = 0.0
        return np.column_stack((froms_s, np.append(froms_s[1:], self.length_s)[: self.count]))


def hours_between(forecast: Forecast, *, start_at: datetime, end_at: datetime) -> Hours:
    """Return the hours of a forecast that touch the stretch from start to end.

    Parameters
    ----------
    start_at, end_at
        Aware moments, the end not before the start.

    Raises
    ------
    OutOfRange
        The end lies before the start.
    """
    length_s = seconds_after(start_at, end_at)
    if length_s < 0.0:
        raise OutOfRange("length of the stretch in seconds", length_s, 0.0)
    origin_at = start_at.astimezone(UTC)
    starts_s = np.array(
        [(moment_at.astimezone(UTC) - origin_at).total_seconds() for moment_at in forecast.hours_at]
    )
    first = int(np.searchsorted(starts_s + HOUR_S, 0.0, side="right"))
    end = int(np.searchsorted(starts_s, length_s, side="left"))
    return Hours(
        forecast=forecast.part(first, max(first, end)),
        starts_s=starts_s[first:end],
        length_s=length_s,
    )


def hours_of_day(forecast: Forecast, day_start_at: datetime) -> Hours:
    """Return the hours of one local day, elapsed since its midnight.

    Parameters
    ----------
    day_start_at
        Local midnight in the farm's zone, from ``light.local_midnight_at``. The day is as
        long as its clocks make it: 23, 24 or 25 hours.

    Raises
    ------
    OutOfRange
        The midnight has no zone.
    """
    if day_start_at.tzinfo is None:
        raise OutOfRange("hours the farm's clock is ahead of UTC", float("nan"), -24.0, 24.0)
    next_day = day_start_at.date() + timedelta(days=1)
    next_at = local_midnight_at(next_day, day_start_at.tzinfo)
    return hours_between(forecast, start_at=day_start_at, end_at=next_at)


def first_time_s(hours: Hours, flags: BoolArray, *, after_s: float) -> float | None:
    """Return the first moment not before ``after_s`` whose hour is flagged; None if none is [s].

    Parameters
    ----------
    flags
        One for each hour. (n,)
    after_s
        Elapsed since the start of the stretch. [s]
    """
    spans_s = hours.spans_s
    wanted = np.flatnonzero(flags & (spans_s[:, 1] > after_s))
    return max(float(spans_s[wanted[0], 0]), after_s) if wanted.size else None


def missing_spans_s(hours: Hours, *, from_s: float, to_s: float) -> tuple[tuple[float, float], ...]:
    """Return the parts of a stretch that the forecast has no hour for. [s].

    Parameters
    ----------
    from_s, to_s
        The stretch to look at, elapsed. [s]
    """
    gaps: list[tuple[float, float]] = []
    known_until_s = from_s
    for start_s in hours.starts_s:
        gap_end_s = min(float(start_s), to_s)
        if gap_end_s > known_until_s:
            gaps.append((known_until_s, gap_end_s))
        known_until_s = max(known_until_s, float(start_s) + HOUR_S)
    if to_s > known_until_s:
        gaps.append((known_until_s, to_s))
    return tuple(gaps)


def wind_ok_hours(
    hours: Hours, *, wind_limit_mps: float, gust_limit_mps: float | None = None
) -> BoolArray:
    """Return which hours the spreader may throw in: neither wind nor gust over its limit. (n,).

    Parameters
    ----------
    wind_limit_mps, gust_limit_mps
        The user's limits; without a gust limit only the mean wind counts. A wind exactly at
        the limit is allowed, and a gust that was not forecast does not close an hour. [m/s]
    """
    weather = hours.forecast
    over = weather.wind_mps > wind_limit_mps * (1.0 + SAME_FIGURE)
    if gust_limit_mps is not None:
        over = over | (weather.gust_mps > gust_limit_mps * (1.0 + SAME_FIGURE))
    return ~over


def _check_column(name: str, values: FloatArray, low: float, high: float, needed: bool) -> None:
    given = values[~np.isnan(values)]
    if needed and given.size < values.size:
        raise OutOfRange(name, float("nan"), low, high)
    wrong = given[(given < low) | (given > high)]
    if wrong.size:
        raise OutOfRange(name, float(wrong[0]), low, high)
