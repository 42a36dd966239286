"""How right the forecast has been on this farm: how far off, which way, by how long ahead.

The hours of one day err together, so a day counts as one look and the interval knows it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from duskline.core.checks import check_within
from duskline.core.light import seconds_after
from duskline.core.weather.forecast import Forecast

__all__ = ["ChanceKept", "ForecastBias", "PastHour", "chances_kept", "forecast_bias"]

DAY_S = 86400.0
Figure = Literal["air_c", "wind_mps", "dew_point_c"]


@dataclass(frozen=True, kw_only=True, slots=True)
class PastHour:
    """What one forecast said of one hour; NaN for what it did not say.

    Attributes
    ----------
    issued_at, for_at
        When it was made, and the beginning of the hour it speaks of; aware.
    """

    issued_at: datetime
    for_at: datetime
    air_c: float
    dew_point_c: float
    wind_mps: float
    rain_chance_fraction: float

    @property
    def lead_s(self) -> float:
        """How long ahead it was said. [s]."""
        return seconds_after(self.issued_at, self.for_at)


@dataclass(frozen=True, kw_only=True, slots=True)
class ForecastBias:
    """How far the forecast was off on average, at one lead; said minus seen, in SI.

    Attributes
    ----------
    lead_days
        Whole days ahead: 0 is under 24 hours.
    days
        On how many days it was looked at.
    bias, low, high
        Average error and its 90 % interval; NaN where no interval can be had.
    sd
        How far a single day's error strays from the average; NaN under two days.
    too_few
        Fewer days than it takes to say anything.
    """

    figure: Figure
    lead_days: int
    days: int
    bias: float
    low: float
    high: float
    sd: float
    too_few: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class ChanceKept:
    """How often it rained in hours of like chance.

    Attributes
    ----------
    lead_days, days, hours
        How long ahead, and on how many days and hours it was looked at.
    said_fraction, rained_fraction
        Chance as said, on average, and share of those hours in which it rained.
    low_fraction, high_fraction
        90 % interval of that share, days counted as the looks.
    too_few
        Fewer days than it takes to say anything.
    """

    lead_days: int
    days: int
    hours: int
    said_fraction: float
    rained_fraction: float
    low_fraction: float
    high_fraction: float
    too_few: bool


def forecast_bias(
    past: Sequence[PastHour], seen: Forecast, *, figure: Figure, least_days: int
) -> tuple[ForecastBias, ...]:
    """Return how far off a figure was at each lead, one entry a whole day of lead.

    Parameters
    ----------
    past
        What forecasts said; hours that were not seen, or already over when it was said, are
        left out. Where several forecasts of one lead speak of an hour, all count.
    seen
        What came true, as hours of the same kind.
    figure
        Which.
    least_days
        Under so many days the entry is marked as too few.

    Notes
    -----
    Errors are averaged over each day first; the interval is Student's over the days. Weather
    that stays for days makes it a little too narrow.

    Source
    ------
    Derived here; Student's interval, any handbook of statistics.
    """
    from scipy.special import stdtrit

    check_within("days it takes", least_days, 2, 1000)
    by_lead: dict[int, dict[int, list[float]]] = {}
    came = _by_hour(seen, getattr(seen, figure))
    for hour in past:
        said, true = getattr(hour, figure), came.get(_key(hour.for_at), math.nan)
        if hour.lead_s >= 0.0 and not math.isnan(said - true):
            days = by_lead.setdefault(int(hour.lead_s // DAY_S), {})
            days.setdefault(_day(hour.for_at, seen), []).append(said - true)
    found = []
    for lead in sorted(by_lead):
        errors = np.array([float(np.mean(one)) for one in by_lead[lead].values()])
        count, bias = errors.size, float(errors.mean())
        sd = float(errors.std(ddof=1)) if count > 1 else math.nan
        half = float(stdtrit(count - 1, 0.95)) * sd / math.sqrt(count) if count > 1 else math.nan
        found.append(
            ForecastBias(
                figure=figure,
                lead_days=lead,
                days=count,
                bias=bias,
                low=bias - half,
                high=bias + half,
                sd=sd,
                too_few=count < least_days,
            )
        )
    return tuple(found)


def chances_kept(
    past: Sequence[PastHour],
    seen: Forecast,
    *,
    rain_threshold_m: float,
    least_days: int,
    edges: Sequence[float] = (0.0, 0.15, 0.35, 0.65, 1.0),
) -> tuple[ChanceKept, ...]:
    """Return how often it rained where rain was said to come with a like chance.

    Parameters
    ----------
    rain_threshold_m
        Depth from which on a seen hour was rain. [m]
    edges
        Where one class of chance ends and the next begins.

    Notes
    -----
    Hours of a class, in classes of chance and whole days of lead. The interval is Wilson's with
    the days for the number of looks, since the hours of a day tell of one rain.

    Source
    ------
    Wilson 1927, J. Am. Stat. Assoc. 22:209 (memory).
    """
    check_within("days it takes", least_days, 2, 1000)
    came = _by_hour(seen, seen.rain_m)
    classes: dict[tuple[int, int], list[tuple[int, float, bool]]] = {}
    for hour in past:
        said, depth_m = hour.rain_chance_fraction, came.get(_key(hour.for_at), math.nan)
        if hour.lead_s < 0.0 or math.isnan(said) or math.isnan(depth_m):
            continue
        band = min(int(np.searchsorted(edges, said, side="right")), len(edges) - 1)
        key = int(hour.lead_s // DAY_S), band
        look = _day(hour.for_at, seen), said, depth_m >= rain_threshold_m
        classes.setdefault(key, []).append(look)
    found = []
    for (lead, _), looks in sorted(classes.items()):
        days = len({day for day, _, _ in looks})
        rained = sum(wet for _, _, wet in looks) / len(looks)
        low, high = _wilson(rained, days)
        found.append(
            ChanceKept(
                lead_days=lead,
                days=days,
                hours=len(looks),
                said_fraction=sum(said for _, said, _ in looks) / len(looks),
                rained_fraction=rained,
                low_fraction=low,
                high_fraction=high,
                too_few=days < least_days,
            )
        )
    return tuple(found)


def _wilson(share: float, looks: int) -> tuple[float, float]:
    z2 = 1.6448536269514722**2  # 90 %
    middle = (share + z2 / (2 * looks)) / (1.0 + z2 / looks)
    half = math.sqrt(z2 * (share * (1 - share) + z2 / (4 * looks)) / looks) / (1.0 + z2 / looks)
    return max(0.0, min(share, middle - half)), min(1.0, max(share, middle + half))


def _by_hour(seen: Forecast, values: NDArray[np.float64]) -> dict[int, float]:
    pairs = zip(seen.hours_at, values.tolist(), strict=True)
    return {_key(hour_at): value for hour_at, value in pairs}


def _key(moment: datetime) -> int:
    return int(moment.astimezone(UTC).timestamp() // 3600)


def _day(moment: datetime, seen: Forecast) -> int:
    """The day by the farm's own clock, which the seen hours carry."""
    return moment.astimezone(seen.hours_at[0].tzinfo).toordinal()
