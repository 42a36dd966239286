"""When rain arrives, as a chance up to each hour, under three readings of the same hours.

A forecast gives a chance for a period; how far the periods tell of one rain it does not say.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC

import numpy as np
from numpy.typing import NDArray

from duskline.core.checks import check_positive, check_within
from duskline.core.weather.forecast import FloatArray, Hours
from duskline.core.weather.rain import (
    chance_if_independent_fraction,
    chance_if_shared_fraction,
    hourly_chances_fraction,
)

__all__ = ["RainArrival", "block_numbers", "rain_arrival"]

IntArray = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class RainArrival:
    """The chance that rain has come, hour by hour; arrays of shape (n,).

    Attributes
    ----------
    starts_s, ends_s
        When each hour begins and ends, elapsed. [s]
    shared_fraction
        All hours tell of one rain: the largest chance so far. The least it can be.
    blocks_fraction
        The hours of one block tell of one rain, each block is a throw of its own: the reading
        the season's weathers are drawn from, or near it.
    independent_fraction
        Every hour is a throw of its own.
    at_most_fraction
        The most it can be, whatever hangs on what: the sum of the chances, 1 at the most.
    block_s
        Length of a block. [s]
    """

    starts_s: FloatArray
    ends_s: FloatArray
    shared_fraction: FloatArray
    blocks_fraction: FloatArray
    independent_fraction: FloatArray
    at_most_fraction: FloatArray
    block_s: float

    def reached_s(self, chance: float) -> tuple[float, float]:
        """Return when the chance that rain has come reaches a figure: earliest and latest [s].

        The earliest takes every hour as its own throw, the latest all hours as one rain;
        infinity where it is not reached at all.

        Raises
        ------
        OutOfRange
            A chance that is not above 0 and up to 1.
        """
        check_positive("chance of rain", chance)
        check_within("chance of rain", chance, 0.0, 1.0)
        starts_s = np.append(self.starts_s, np.inf)
        near = chance * (1.0 - 1e-12)  # 0.1 + 0.2 reaches 0.3
        early = int(np.searchsorted(self.independent_fraction, near))
        late = int(np.searchsorted(self.shared_fraction, near))
        return float(starts_s[early]), float(starts_s[late])


def block_numbers(hours: Hours, *, block_s: float) -> IntArray:
    """Return which forecast block each hour belongs to, numbered from 0. (n,).

    Parameters
    ----------
    block_s
        Length of a block; blocks begin at 00:00 UTC and every so long after it. [s]

    Source
    ------
    Blocks of 3, 6 and 12 hours by UTC are seen in the public US grid data.
    """
    check_positive("length of a forecast block", block_s)
    moments = np.array([at.astimezone(UTC).timestamp() for at in hours.forecast.hours_at])
    if not moments.size:
        return np.zeros(0, dtype=np.int64)
    blocks = np.floor(moments / block_s).astype(np.int64)
    return np.asarray(blocks - blocks[0])


def rain_arrival(
    hours: Hours, *, from_s: float, rain_threshold_m: float, block_s: float
) -> RainArrival:
    """Return the chance that rain has come by the end of each hour, at both ends and between.

    Parameters
    ----------
    from_s
        From when on rain matters; an hour that has begun counts whole. Elapsed. [s]
    rain_threshold_m
        Where an hour has no chance but a depth, it rains if the depth is more than this. [m]
    block_s
        Length of a forecast block. [s]

    Notes
    -----
    ``max p <= blocks <= 1 - prod(1 - p) <= min(1, sum p)``; the chance itself lies between the
    first and the last whatever hangs on what. Rain that makes dry hours likelier elsewhere is
    not in the middle readings.

    Source
    ------
    Derived here; the order of the four is proved in tests/core/test_weather_arrival.py.
    """
    spans_s = hours.spans_s
    later = spans_s[:, 1] > from_s
    chances = np.nan_to_num(hourly_chances_fraction(hours, rain_threshold_m)[later], nan=0.0)
    blocks = block_numbers(hours, block_s=block_s)[later]
    return RainArrival(
        starts_s=np.maximum(spans_s[later, 0], from_s),
        ends_s=spans_s[later, 1],
        shared_fraction=chance_if_shared_fraction(chances),
        blocks_fraction=_chance_by_blocks(chances, blocks),
        independent_fraction=chance_if_independent_fraction(chances),
        at_most_fraction=np.minimum(1.0, np.cumsum(chances)),
        block_s=block_s,
    )


def _chance_by_blocks(chances: FloatArray, blocks: IntArray) -> FloatArray:
    """The chance up to each hour: the largest within a block, blocks apart as throws."""
    found = np.zeros_like(chances)
    dry_before = dry = 1.0
    for index, chance in enumerate(chances.tolist()):
        if index and blocks[index] != blocks[index - 1]:
            dry_before *= dry
            dry = 1.0
        dry = min(dry, 1.0 - chance)
        found[index] = 1.0 - dry_before * dry
    return found
