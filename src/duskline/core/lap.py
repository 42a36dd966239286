"""Overlap and skip: what lapping over the last pass costs, and what it saves.

By guided line both edges wander on their own; by eye the driver follows the last edge, so only
his own error counts. The two must not be mixed.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, cos, erfc, exp, hypot, inf, pi, sin, sqrt

from duskline.core.checks import check_positive
from duskline.core.errors import OutOfRange

__all__ = [
    "CheckMark",
    "CountCheck",
    "DayLap",
    "FieldLap",
    "LappedGround",
    "Overlap",
    "check_marks",
    "count_check",
    "drift_sd_m",
    "effective_width_m",
    "gap_sd_m",
    "lapped_ground",
    "more_lap_in_a_day",
    "more_lap_in_a_field",
    "overlap_advised_m",
    "skip_fraction",
    "uniform_overlap_m",
    "whole_passes_count",
]

# Whole counts are taken a hair generously, so that 400 m in 10 m passes is 40, not 41.
_HAIR = 1e-9


def effective_width_m(*, across_m: float, passes_count: int) -> float:
    """Return the effective width from passes counted across a known distance. [m]

    Parameters
    ----------
    across_m
        From the near edge of the first pass to the near edge of the one after the last. [m]
    passes_count
        Passes in that distance.

    Raises
    ------
    OutOfRange
        No pass, or no distance.

    Notes
    -----
    Twelve passes from the near edge of the first to the near edge of the thirteenth: the
    distance divided by twelve. Measured to the far edge of the twelfth it would hold one
    overlap more.

    Source
    ------
    Derived here.
    """
    if passes_count < 1:
        raise OutOfRange("passes counted", passes_count, 1, None)
    if not across_m > 0.0:
        raise OutOfRange("distance across", across_m, 0.0, None)
    return across_m / passes_count


def gap_sd_m(*, edge_sd_m: float, by_eye: bool) -> float:
    """Return the spread of the gap between neighbouring passes. [m]

    Notes
    -----
    Two guided lines err independently: sd x sqrt(2). A driver who follows the last edge errs
    once: sd.

    Source
    ------
    Derived here; ordinary error propagation.
    """
    return edge_sd_m if by_eye else edge_sd_m * sqrt(2.0)


def _upper_tail(z: float) -> float:
    return 0.5 * erfc(z / sqrt(2.0))


def _mean_excess(z: float) -> float:
    """Return E[max(0, Z - z)] of a standard normal."""
    return exp(-0.5 * z * z) / sqrt(2.0 * pi) - z * _upper_tail(z)


def skip_fraction(*, width_m: float, overlap_m: float, gap_sd_m: float) -> float:
    """Return the expected share of the ground missed between passes. Fraction.

    Notes
    -----
    sd [phi(z) - z (1 - Phi(z))] / (width - overlap), z = overlap / sd: the mean of the gap where
    it opens, over the distance between passes.

    Source
    ------
    Derived here; checked against simulated passes in tests/core/test_lap.py.
    """
    if not width_m > overlap_m:
        raise OutOfRange("overlap", overlap_m, None, width_m)
    if gap_sd_m <= 0.0:
        return max(0.0, -overlap_m) / (width_m - overlap_m)
    return gap_sd_m * _mean_excess(overlap_m / gap_sd_m) / (width_m - overlap_m)


@dataclass(frozen=True, kw_only=True, slots=True)
class Overlap:
    """The overlap to aim for, as a range within which the cost hardly changes. [m]"""

    low_m: float
    best_m: float
    high_m: float


def overlap_advised_m(
    *, width_m: float, gap_sd_m: float, work_over_loss_low: float, work_over_loss_high: float
) -> Overlap:
    """Return the overlap that costs least, with the range the two cost ratios span.

    Parameters
    ----------
    work_over_loss_low, work_over_loss_high
        Cost of working an area once over the loss of leaving it missed; a range, because
        nobody knows what a missed strip of a cover crop is worth.

    Notes
    -----
    Least of c W / (W - o) + v f(o): (1 - Phi(z)) (W - o) - sd [phi(z) - z (1 - Phi(z))] =
    (c / v) W with z = o / sd. Solved by bisection; flat near its best, hence a range.

    Source
    ------
    Derived here (a critical fractile).
    """

    def best(ratio: float) -> float:
        if gap_sd_m <= 0.0:
            return 0.0
        if not 0.0 < ratio < 1.0:
            raise OutOfRange("cost of work over loss of a miss", ratio, 0.0, 1.0)
        low, high = 0.0, min(0.5 * width_m, 6.0 * gap_sd_m)
        for _ in range(60):
            middle = 0.5 * (low + high)
            z = middle / gap_sd_m
            gain = _upper_tail(z) * (width_m - middle) - gap_sd_m * _mean_excess(z)
            low, high = (middle, high) if gain > ratio * width_m else (low, middle)
        return low

    low, high = best(work_over_loss_high), best(work_over_loss_low)
    return Overlap(
        low_m=low, best_m=best(sqrt(work_over_loss_low * work_over_loss_high)), high_m=high
    )


# --- What lapping over costs ---------------------------------------------------------------------


def whole_passes_count(*, across_m: float, width_m: float, overlap_m: float) -> int:
    """Return how many passes a distance across takes at a steady overlap. Whole.

    Parameters
    ----------
    across_m
        From edge to edge, across the passes. [m]
    width_m, overlap_m
        The tool, and what each pass laps over the last; negative leaves gaps. [m]

    Raises
    ------
    OutOfRange
        A distance below zero, or an overlap as wide as the tool.

    Notes
    -----
    ``ceil(across / (width - overlap))``: the last pass laps the edge as well. The other count in
    use, ``ceil((across - width) / (width - overlap)) + 1``, differs by one at the most.

    Source
    ------
    The count of the study of overlap in Grainews, 2009; see tests/published/test_lap.py.
    """
    if not 0.0 <= across_m < inf:
        raise OutOfRange("distance across", across_m, 0.0)
    return ceil(across_m / _driving_width_m(width_m, overlap_m) - _HAIR)


def uniform_overlap_m(*, across_m: float, width_m: float, passes_count: int) -> float:
    """Return the overlap at which a count of passes just fills a distance across. [m]

    Negative where so few passes leave gaps.

    Parameters
    ----------
    across_m, width_m
        From edge to edge across the passes; the tool. [m]
    passes_count
        How many passes, two or more.

    Notes
    -----
    ``(n width - across) / (n - 1)``: n passes have n - 1 joints.

    Source
    ------
    Derived here; MACH-C52 and C53 in tests/core/test_lap.py.
    """
    if passes_count < 2:
        raise OutOfRange("passes counted", passes_count, 2)
    check_positive("tool width", width_m)
    return (passes_count * width_m - across_m) / (passes_count - 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class LappedGround:
    """Ground of one field worked twice by lapping over. [m2]

    Attributes
    ----------
    passes_count, pass_length_m
        Passes between the headlands, and how long each is. [m]
    headland_m2, rest_m2
        Lapped between headland passes, and between the passes of the rest. [m2]
    """

    passes_count: int
    pass_length_m: float
    headland_m2: float
    rest_m2: float

    @property
    def total_m2(self) -> float:
        """All ground worked twice. [m2]"""
        return self.headland_m2 + self.rest_m2


def lapped_ground(
    *,
    across_m: float,
    along_m: float,
    width_m: float,
    overlap_m: float,
    headland_passes_count: int,
) -> LappedGround:
    """Return the ground of a rectangle that is worked twice at a steady overlap. [m2]

    Parameters
    ----------
    across_m, along_m
        The field across and along the passes. [m]
    width_m, overlap_m
        The tool, and what each pass laps over the last. [m]
    headland_passes_count
        Headland passes at each of the two ends.

    Raises
    ------
    OutOfRange
        An overlap below zero or as wide as the tool, or headlands that leave no pass.

    Notes
    -----
    The joint between headland and rest is not lapped. With h headland passes at each end and n
    passes: headland ``2 (h - 1) o across``, rest ``(n - 1) o (along - 2 h (w - o))``.

    Source
    ------
    The study of overlap in Grainews, 2009; its table is tests/published/test_lap.py.
    """
    if not overlap_m >= 0.0:
        raise OutOfRange("overlap", overlap_m, 0.0, width_m)
    if headland_passes_count < 0:
        raise OutOfRange("headland passes", headland_passes_count, 0)
    count = whole_passes_count(across_m=across_m, width_m=width_m, overlap_m=overlap_m)
    length_m = along_m - 2.0 * headland_passes_count * (width_m - overlap_m)
    check_positive("length between the headlands", length_m)
    return LappedGround(
        passes_count=count,
        pass_length_m=length_m,
        headland_m2=2.0 * max(headland_passes_count - 1, 0) * overlap_m * across_m,
        rest_m2=max(count - 1, 0) * overlap_m * length_m,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class DayLap:
    """What more overlap costs on a day's ground.

    Attributes
    ----------
    more_driven_fraction
        Share more ground passed over, to finish the same field.
    more_work_s
        Time more in the field, to finish the same ground. [s]
    area_lost_m2
        Ground less, in the same time. [m2]
    more_fuel_m3
        Fuel more, for the same ground. [m3]
    more_money
        Fuel, labour and wear more, for the same ground, in the farm's currency; None where no
        price is known.
    """

    more_driven_fraction: float
    more_work_s: float
    area_lost_m2: float
    more_fuel_m3: float | None
    more_money: float | None


def more_lap_in_a_day(
    *,
    width_m: float,
    overlap_m: float,
    more_m: float,
    area_m2: float,
    work_s: float,
    fuel_m3_per_m2: float | None = None,
    fuel_price_per_m3: float | None = None,
    labour_price_per_s: float | None = None,
    wear_price_per_m2: float | None = None,
) -> DayLap:
    """Return what so much more overlap costs on the ground of a day.

    Parameters
    ----------
    width_m, overlap_m, more_m
        The tool, its overlap now, and how much more (negative: less). [m]
    area_m2, work_s
        Field ground covered at the overlap of now, and the time of driving and turning it took:
        moves between fields, stops and waiting are not in it, they do not grow. [m2], [s]
    fuel_m3_per_m2
        Fuel to cover field ground at the overlap of now. [m3/m2]
    fuel_price_per_m3, labour_price_per_s, wear_price_per_m2
        Prices of fuel, of a person's time, of points on field ground at the overlap of now.

    Raises
    ------
    OutOfRange
        The overlap, now or then, is as wide as the tool.

    Notes
    -----
    Passes, turns, fuel and wear all grow as 1 / (width - overlap), so the share more is
    ``delta / (width - overlap - delta)``, and the ground lost in the same time
    ``delta / (width - overlap)`` of it. Seed is not in it: it was spread before.

    Source
    ------
    Derived here; worked by hand in tests/core/test_lap.py.
    """
    now_m = _driving_width_m(width_m, overlap_m)
    then_m = _driving_width_m(width_m, overlap_m + more_m)
    more = more_m / then_m
    more_work_s = work_s * more
    more_fuel_m3 = None if fuel_m3_per_m2 is None else fuel_m3_per_m2 * area_m2 * more
    known = [
        price * amount
        for price, amount in (
            (fuel_price_per_m3, more_fuel_m3),
            (labour_price_per_s, more_work_s),
            (wear_price_per_m2, area_m2 * more),
        )
        if price is not None and amount is not None
    ]
    return DayLap(
        more_driven_fraction=more,
        more_work_s=more_work_s,
        area_lost_m2=area_m2 * more_m / now_m,
        more_fuel_m3=more_fuel_m3,
        more_money=sum(known) if known else None,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldLap:
    """What more overlap costs in one field, in whole passes.

    Attributes
    ----------
    passes_count, more_passes_count
        Passes at the overlap of now, and how many more.
    more_work_s, more_driven_m
        Time and way more: their length, and a turn each. [s], [m]
    """

    passes_count: int
    more_passes_count: int
    more_work_s: float
    more_driven_m: float


def more_lap_in_a_field(
    *,
    across_m: float,
    run_length_m: float,
    width_m: float,
    overlap_m: float,
    more_m: float,
    speed_mps: float,
    turn_s: float,
) -> FieldLap:
    """Return how many more passes so much more overlap makes in one field, and their time.

    Often none, then one or two at once: passes are whole.

    Parameters
    ----------
    across_m, run_length_m
        What the passes must cross, and how long one is on average. [m]
    width_m, overlap_m, more_m
        The tool, its overlap now, and how much more (negative: less). [m]
    speed_mps, turn_s
        Working speed, and one turn. [m/s], [s]

    Source
    ------
    Derived here.
    """
    check_positive("speed", speed_mps)
    now = whole_passes_count(across_m=across_m, width_m=width_m, overlap_m=overlap_m)
    then = whole_passes_count(across_m=across_m, width_m=width_m, overlap_m=overlap_m + more_m)
    more = then - now
    return FieldLap(
        passes_count=now,
        more_passes_count=more,
        more_work_s=more * (run_length_m / speed_mps + turn_s),
        more_driven_m=more * run_length_m,
    )


# --- Counting and marks for a driver who goes by eye ---------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class CountCheck:
    """How many passes a field should take, and what one less or one more says.

    Attributes
    ----------
    passes_count
        Expected at the overlap aimed for.
    overlap_if_fewer_m, overlap_if_more_m
        The overlap that one pass less or one more would mean; negative is a gap. None where one
        pass less is none. [m]
    """

    passes_count: int
    overlap_if_fewer_m: float | None
    overlap_if_more_m: float

    @property
    def low_count(self) -> int:
        """One pass less, never below one."""
        return max(self.passes_count - 1, 1)

    @property
    def high_count(self) -> int:
        """One pass more."""
        return self.passes_count + 1


def count_check(*, across_m: float, width_m: float, overlap_m: float) -> CountCheck:
    """Return how many passes to expect, and what overlap one less or one more would mean.

    Parameters
    ----------
    across_m
        What the passes must cross: the field between its headland rounds. [m]
    width_m, overlap_m
        The tool, and the overlap aimed for. [m]

    Notes
    -----
    The overlap of n passes is taken as ``width - across / n``, as a count is read back.

    Source
    ------
    Derived here.
    """
    check_positive("distance across", across_m)
    count = whole_passes_count(across_m=across_m, width_m=width_m, overlap_m=overlap_m)

    def overlap_of(passes: int) -> float:
        return width_m - effective_width_m(across_m=across_m, passes_count=passes)

    return CountCheck(
        passes_count=count,
        overlap_if_fewer_m=overlap_of(count - 1) if count > 1 else None,
        overlap_if_more_m=overlap_of(count + 1),
    )


def drift_sd_m(*, edge_sd_m: float, passes_count: int, by_eye: bool) -> float:
    """Return how far the edge of a pass may stand from its mark, as a standard deviation. [m]

    Notes
    -----
    By eye each pass is laid against the last, so errors add up: sd x sqrt(n). A guided line
    forgets the ones before it: sd.

    Source
    ------
    Derived here; ordinary error propagation.
    """
    if passes_count < 1:
        raise OutOfRange("passes counted", passes_count, 1)
    return edge_sd_m * sqrt(passes_count) if by_eye else edge_sd_m


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckMark:
    """Where the far edge of a pass meets the headland side. [m]

    Attributes
    ----------
    pass_number
        After which pass, counted from 1.
    from_corner_m
        From the corner along the side. [m]
    """

    pass_number: int
    from_corner_m: float


def check_marks(
    *,
    start_m: tuple[float, float],
    aim_rad: float,
    next_on_left: bool,
    driving_width_m: float,
    corner_m: tuple[float, float],
    side_end_m: tuple[float, float],
    every_count: int,
    passes_count: int,
) -> tuple[CheckMark, ...]:
    """Return where every so many passes should end along a headland side. [m]

    Parameters
    ----------
    start_m, aim_rad
        A point on the middle of pass 1, and its direction, counter-clockwise from east. [m], [rad]
    next_on_left
        Whether pass 2 lies to the left of pass 1, looking along ``aim_rad``.
    driving_width_m
        From one pass to the next. [m]
    corner_m, side_end_m
        The corner the marks are measured from, and the other end of the side walked along. [m]
    every_count, passes_count
        A mark after every so many passes; how many passes there are.

    Returns
    -------
    tuple of CheckMark
        Only marks that lie on the side; none where the passes run along it.

    Notes
    -----
    The far edge of pass n lies ``(n - 1/2)`` widths from the middle of pass 1; where its line
    meets the line of the side is found exactly, so slanting passes and slanting sides hold.

    Source
    ------
    Derived here; by hand in tests/core/test_lap.py.
    """
    check_positive("driving width", driving_width_m)
    if every_count < 1:
        raise OutOfRange("passes between marks", every_count, 1)
    way = 1.0 if next_on_left else -1.0
    across = (-sin(aim_rad) * way, cos(aim_rad) * way)
    side_length_m = hypot(side_end_m[0] - corner_m[0], side_end_m[1] - corner_m[1])
    check_positive("length of the headland side", side_length_m)
    along = (
        (side_end_m[0] - corner_m[0]) / side_length_m,
        (side_end_m[1] - corner_m[1]) / side_length_m,
    )
    climb = along[0] * across[0] + along[1] * across[1]
    if abs(climb) < _HAIR:
        return ()
    gap_m = (start_m[0] - corner_m[0]) * across[0] + (start_m[1] - corner_m[1]) * across[1]
    found = []
    for number in range(every_count, passes_count + 1, every_count):
        distance_m = (gap_m + (number - 0.5) * driving_width_m) / climb
        if 0.0 <= distance_m <= side_length_m * (1.0 + _HAIR):
            found.append(CheckMark(pass_number=number, from_corner_m=distance_m))
    return tuple(found)


def _driving_width_m(width_m: float, overlap_m: float) -> float:
    """Return the width less the overlap, refusing a tool that goes nowhere. [m]"""
    check_positive("tool width", width_m)
    if not -inf < overlap_m < width_m:
        raise OutOfRange("overlap", overlap_m, None, width_m)
    return width_m - overlap_m
