"""The points on a cultivator's shanks: how fast they wear, when to swap them, how deep they run.

A point's wear is taken as proportional to the ground worked. Thickness was found to wear like
that in field tests, length less simply, so what is ahead carries a spread of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist, fmean, stdev
from typing import Literal

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange

__all__ = [
    "AreaRange",
    "Depth",
    "PokeCheck",
    "RowWear",
    "Swap",
    "area_left",
    "first_point_left_m2",
    "life_area_m2",
    "life_m",
    "new_set_area",
    "points_used_count",
    "poke_check",
    "row_wear",
    "swap_list",
    "track_m_per_m2",
]

Depth = Literal["too shallow", "right", "too deep"]

_ROUNDING = 1e-9
"""Share of a set's life by which ground may run over it: arithmetic, not wear."""


def track_m_per_m2(working_width_m: float) -> float:
    """Return how far each point travels to work a square metre. [m/m2]

    Parameters
    ----------
    working_width_m
        Width of the machine less overlap: ground worked twice wears points twice. [m]

    Notes
    -----
    1 / W; in the field's units 10 / W km per ha.

    Source
    ------
    Derived here; MACH-C80 in tests/core/test_points.py.
    """
    check_positive("working width", working_width_m)
    return 1.0 / working_width_m


def life_area_m2(*, life_m: float, working_width_m: float) -> float:
    """Return what a machine works while its points travel their life. [m2]

    Parameters
    ----------
    life_m
        How far a point lasts. [m]
    working_width_m
        Width of the machine less overlap. [m]
    """
    check_positive("life of a point", life_m)
    return life_m / track_m_per_m2(working_width_m)


def life_m(*, area_m2: float, working_width_m: float) -> float:
    """Return how far each point has travelled over an area. [m]

    The other way round of ``life_area_m2``, to hold a farm's own wear against published lives.
    """
    check_positive("ground worked", area_m2)
    return area_m2 * track_m_per_m2(working_width_m)


@dataclass(frozen=True, kw_only=True, slots=True)
class RowWear:
    """What the points of a row have lost, and how well that is known.

    Attributes
    ----------
    points_count, measured_count
        Points in the row, and how many of them were measured.
    over_m2
        What the machine worked meanwhile. [m2]
    worn_m, most_worn_m
        Mean and largest wear measured. [m]
    spread_m
        Standard deviation (n - 1) between the measured points; None for a single one. [m]
    standard_error_m
        How far the mean of the whole row may lie from ``worn_m``, one standard deviation. [m]
    degrees
        Degrees of freedom of that figure.
    """

    points_count: int
    measured_count: int
    over_m2: float
    worn_m: float
    most_worn_m: float
    spread_m: float | None
    standard_error_m: float
    degrees: float

    @property
    def wear_m_per_m2(self) -> float:
        """Wear for each square metre worked. [m/m2]"""
        return self.worn_m / self.over_m2


def row_wear(
    *,
    worn_m: Sequence[float],
    points_count: int,
    over_m2: float,
    measuring_sd_m: float,
    spread_fraction: float,
    spread_worth_count: float,
) -> RowWear:
    """Return the wear of a row from some of its points.

    Parameters
    ----------
    worn_m
        What each measured point has lost of its length. (n,) [m]
    points_count
        Points in the row.
    over_m2
        What the machine has worked since they were new. [m2]
    measuring_sd_m
        Error of one reading, one standard deviation. [m]
    spread_fraction
        How much the points of a row are taken to differ before they are measured: standard
        deviation over mean.
    spread_worth_count
        How many measured differences that assumption weighs.

    Raises
    ------
    OutOfRange
        No point measured, more points than the row has, or wear below zero.

    Notes
    -----
    With n of N points read, s0 the assumed and s the measured spread, k its worth and e the
    error of a reading::

        pooled2 = (k (s0^2 + e^2) + (n - 1) s^2) / (k + n - 1)
        error2 = pooled2 / n (1 - n / N) + e^2 / N

    The first term goes when every point is read, the second stays. k + n - 1 degrees of
    freedom, so that a second reading never makes the answer vaguer by arithmetic alone.

    Source
    ------
    Derived here (finite population, spread pooled with an assumption of stated weight);
    checked against drawn rows in tests/core/test_points.py.
    """
    count = len(worn_m)
    check_within("points measured", count, 1, points_count)
    for worn in worn_m:
        check_within("wear of a point", worn, 0.0, 1.0)
    check_positive("ground worked since the points were new", over_m2)
    check_positive("worth of the assumed spread", spread_worth_count)
    mean_m = fmean(worn_m)
    spread_m = stdev(worn_m) if count > 1 else None
    degrees = spread_worth_count + count - 1
    assumed_m2 = (spread_fraction * mean_m) ** 2 + measuring_sd_m**2
    pooled_m2 = (spread_worth_count * assumed_m2 + (count - 1) * (spread_m or 0.0) ** 2) / degrees
    unread_m2 = pooled_m2 / count * (1.0 - count / points_count)
    return RowWear(
        points_count=points_count,
        measured_count=count,
        over_m2=over_m2,
        worn_m=mean_m,
        most_worn_m=max(worn_m),
        spread_m=spread_m,
        standard_error_m=math.sqrt(unread_m2 + measuring_sd_m**2 / points_count),
        degrees=degrees,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class AreaRange:
    """Ground that points still do: best guess and the two sides of it. [m2]

    ``high_m2`` is infinite where too little is worn to say.
    """

    low_m2: float
    best_m2: float
    high_m2: float


def area_left(
    wear: RowWear,
    *,
    limit_m: float,
    ahead_spread_fraction: float,
    sure_fraction: float,
    limit_low_m: float | None = None,
    limit_high_m: float | None = None,
) -> AreaRange:
    """Return what a row still works until its mean wear reaches the limit. [m2]

    Parameters
    ----------
    wear
        The row as measured.
    limit_m
        Wear at which the row is swapped. [m]
    ahead_spread_fraction
        How much the wear per area ahead may differ from that so far, for drier, harder or
        stonier ground: standard deviation over mean.
    sure_fraction
        Chance that the truth lies between low and high.
    limit_low_m, limit_high_m
        Where the limit itself is only assumed, the range it may lie in. [m]

    Raises
    ------
    OutOfRange
        Nothing worn yet, or a limit not above zero.

    Notes
    -----
    left = over (limit / worn - 1) / r, r the wear ahead over the wear so far. Each of the three
    is carried to its own low and high (worn by Student's t, r by a lognormal, the limit by its
    range), and the departures from the best guess are added in squares, each side on its own.
    With a single source of doubt the range is exact; a normal range around the best guess
    would be too short on the long side and too long on the short one.

    Source
    ------
    Derived here; how often it holds the truth is counted in tests/core/test_points.py.
    """
    worn, ahead, limits = _sides(
        wear, limit_m, (limit_low_m, limit_high_m), ahead_spread_fraction, sure_fraction
    )

    def left_m2(worn_m: float, ahead_ratio: float, to_m: float) -> float:
        if worn_m <= 0.0:
            return math.inf
        return wear.over_m2 * (to_m / worn_m - 1.0) / ahead_ratio

    best = left_m2(wear.worn_m, 1.0, limit_m)
    shorter = (
        left_m2(worn[1], 1.0, limit_m),
        left_m2(wear.worn_m, ahead[1], limit_m),
        left_m2(wear.worn_m, 1.0, limits[0]),
    )
    longer = (
        left_m2(worn[0], 1.0, limit_m),
        left_m2(wear.worn_m, ahead[0], limit_m),
        left_m2(wear.worn_m, 1.0, limits[1]),
    )
    return AreaRange(
        low_m2=max(0.0, best - math.hypot(*(max(0.0, best - one) for one in shorter))),
        best_m2=max(0.0, best),
        high_m2=max(0.0, best + math.hypot(*(max(0.0, one - best) for one in longer))),
    )


def new_set_area(
    wear: RowWear,
    *,
    limit_m: float,
    ahead_spread_fraction: float,
    sure_fraction: float,
    limit_low_m: float | None = None,
    limit_high_m: float | None = None,
) -> AreaRange:
    """Return what a new set of the same points will work until the limit. [m2]

    Parameters as for ``area_left``.

    Notes
    -----
    over x limit / worn / r. A product, so the departures are added in squares as ratios.

    Source
    ------
    Derived here.
    """
    worn, ahead, limits = _sides(
        wear, limit_m, (limit_low_m, limit_high_m), ahead_spread_fraction, sure_fraction
    )
    best = wear.over_m2 * limit_m / wear.worn_m
    shorter = math.hypot(
        math.log(worn[1] / wear.worn_m), math.log(ahead[1]), math.log(limit_m / limits[0])
    )
    high = math.inf
    if worn[0] > 0.0:
        high = best * math.exp(
            math.hypot(
                math.log(wear.worn_m / worn[0]), math.log(ahead[0]), math.log(limits[1] / limit_m)
            )
        )
    return AreaRange(low_m2=best * math.exp(-shorter), best_m2=best, high_m2=high)


def _sides(
    wear: RowWear,
    limit_m: float,
    limits_m: tuple[float | None, float | None],
    ahead_spread_fraction: float,
    sure_fraction: float,
) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    """Return low and high of mean wear [m], of the wear ahead as a ratio, and of the limit [m]."""
    from scipy.special import stdtrit  # here: half of this module is used without it

    check_positive("wear measured", wear.worn_m)
    check_positive("wear at which points are swapped", limit_m)
    if not 0.0 < sure_fraction < 1.0:
        raise OutOfRange("chance to be in the range", sure_fraction, 0.0, 1.0)
    side = 0.5 + 0.5 * sure_fraction
    off_m = float(stdtrit(wear.degrees, side)) * wear.standard_error_m
    log_sd = math.sqrt(math.log1p(ahead_spread_fraction**2))
    ratio = math.exp(NormalDist().inv_cdf(side) * log_sd)
    low_m = limit_m if limits_m[0] is None else limits_m[0]
    high_m = limit_m if limits_m[1] is None else limits_m[1]
    check_positive("least wear at which points are swapped", low_m)
    check_within("wear at which points are swapped", limit_m, low_m, high_m)
    return (wear.worn_m - off_m, wear.worn_m + off_m), (1.0 / ratio, ratio), (low_m, high_m)


def first_point_left_m2(wear: RowWear, *, limit_m: float) -> float:
    """Return what is worked until the most worn of the measured points is at the limit. [m2]

    Source
    ------
    Derived here; the same law as ``area_left`` for one point.
    """
    check_positive("wear measured", wear.most_worn_m)
    return max(0.0, wear.over_m2 * (limit_m / wear.most_worn_m - 1.0))


@dataclass(frozen=True, kw_only=True, slots=True)
class Swap:
    """One swap of a whole row in a list of fields.

    Attributes
    ----------
    field_index
        The field it comes before, or in.
    in_field_m2
        What of that field is worked before it; zero for a swap before the field. [m2]
    worked_m2
        What of the whole list is worked before it. [m2]
    """

    field_index: int
    in_field_m2: float
    worked_m2: float


def swap_list(
    field_areas_m2: Sequence[float], *, left_m2: float, new_set_m2: float
) -> tuple[Swap, ...]:
    """Return where a row is swapped over a list of fields in order.

    Parameters
    ----------
    field_areas_m2
        What the machine works in each field, in order. (n,) [m2]
    left_m2
        What the points on the machine still do. [m2]
    new_set_m2
        What a new set does. [m2]

    Notes
    -----
    A row is swapped before the field in which it would reach its limit, at the yard and not in
    the middle of the work. Only a field larger than a new set does is stopped in.

    Source
    ------
    Derived here; that nobody swaps within a field if he can help it, common practice, no source.
    """
    check_positive("what a new set does", new_set_m2)
    check_within("what the points still do", left_m2, 0.0, math.inf)
    found: list[Swap] = []
    worked_m2, left = 0.0, left_m2
    slack_m2 = _ROUNDING * sum(field_areas_m2)
    for index, area_m2 in enumerate(field_areas_m2):
        check_within("ground in a field", area_m2, 0.0, math.inf)
        ahead_m2 = area_m2
        if ahead_m2 > left + slack_m2 and left < new_set_m2:
            found.append(Swap(field_index=index, in_field_m2=0.0, worked_m2=worked_m2))
            left = new_set_m2
        while ahead_m2 > left + slack_m2:
            ahead_m2 -= left
            done_m2 = area_m2 - ahead_m2
            found.append(
                Swap(field_index=index, in_field_m2=done_m2, worked_m2=worked_m2 + done_m2)
            )
            left = new_set_m2
        left -= ahead_m2
        left = max(0.0, left)
        worked_m2 += area_m2
    return tuple(found)


def points_used_count(*, area_m2: float, life_m2: float, points_count: int) -> int:
    """Return how many points a row uses up over a campaign, the first set included.

    Parameters
    ----------
    area_m2
        What the machine works from new points on. [m2]
    life_m2
        What a set does. [m2]
    points_count
        Points in the row.

    Notes
    -----
    Whole sets: the area over the life, rounded up; a set that ends with the campaign is not
    replaced. Rows that wear unlike each other are counted each on its own and added.

    Source
    ------
    Derived here; MACH-C83 in tests/core/test_points.py.
    """
    check_within("ground to work", area_m2, 0.0, math.inf)
    check_positive("what a set does", life_m2)
    sets = max(1, math.ceil(area_m2 / life_m2 * (1.0 - _ROUNDING)))
    return sets * points_count


@dataclass(frozen=True, kw_only=True, slots=True)
class PokeCheck:
    """How deep seed was found behind the front and the rear rows.

    Attributes
    ----------
    front_m, rear_m, mean_m
        Mean depths, and the middle of the two. [m]
    front_count, rear_count
        Pokes behind each.
    rear_deeper_m
        Rear less front; below zero where the front is deeper. [m]
    standard_error_m
        Of that difference, one standard deviation; None unless both were poked twice. [m]
    is_level
        Whether the two lie within the allowed difference.
    is_close_call
        Whether so few pokes, as unlike as they are, could have said the other thing.
    front, rear, middle
        Each mean, and the middle of both, against the wanted depths.
    outside_count
        Single pokes outside the wanted depths.
    """

    front_m: float
    rear_m: float
    mean_m: float
    front_count: int
    rear_count: int
    rear_deeper_m: float
    standard_error_m: float | None
    is_level: bool
    is_close_call: bool
    front: Depth
    rear: Depth
    middle: Depth
    outside_count: int


def poke_check(
    *,
    front_m: Sequence[float],
    rear_m: Sequence[float],
    shallow_m: float,
    deep_m: float,
    level_within_m: float,
) -> PokeCheck:
    """Return whether a cultivator runs level and at the wanted depth, from pokes behind it.

    Parameters
    ----------
    front_m, rear_m
        Depths at which seed was found behind the front and the rear rows. (n,), (m,) [m]
    shallow_m, deep_m
        Wanted depths. [m]
    level_within_m
        Difference of the two means that is still called level. [m]

    Raises
    ------
    OutOfRange
        Nothing poked behind one of the two, or a depth below zero.

    Notes
    -----
    Means are compared, since single pokes differ with every clod. The error of their
    difference, sqrt(s_f^2 / n + s_r^2 / m), only tells how near the verdict was. What stand
    comes of a depth is not said here.

    Source
    ------
    Derived here; the wanted depths and the difference are arguments.
    """
    for name, pokes in (("front pokes", front_m), ("rear pokes", rear_m)):
        if not pokes:
            raise OutOfRange(name, 0, 1)
        for poke_m in pokes:
            check_within("depth of a poke", poke_m, 0.0, 1.0)
    check_within("shallowest wanted depth", shallow_m, 0.0, deep_m)
    front, rear = fmean(front_m), fmean(rear_m)
    apart = abs(rear - front)
    error = None
    if len(front_m) > 1 and len(rear_m) > 1:
        error = math.sqrt(stdev(front_m) ** 2 / len(front_m) + stdev(rear_m) ** 2 / len(rear_m))

    def depth(mean_m: float) -> Depth:
        if mean_m < shallow_m - _ROUNDING:
            return "too shallow"
        return "too deep" if mean_m > deep_m + _ROUNDING else "right"

    return PokeCheck(
        front_m=front,
        rear_m=rear,
        mean_m=0.5 * (front + rear),
        front_count=len(front_m),
        rear_count=len(rear_m),
        rear_deeper_m=rear - front,
        standard_error_m=error,
        is_level=apart <= level_within_m + _ROUNDING,
        is_close_call=error is not None and abs(apart - level_within_m) < error,
        front=depth(front),
        rear=depth(rear),
        middle=depth(0.5 * (front + rear)),
        outside_count=sum(depth(one) != "right" for one in (*front_m, *rear_m)),
    )
