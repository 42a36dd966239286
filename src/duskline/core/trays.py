"""The tray test: what one pass leaves across its throw, and how even overlapping passes are.

A row of trays catches one pass; laying that catch down again and again, one driving width
apart, gives the dose everywhere, and its spread about the mean is the evenness.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from duskline.core.errors import DusklineError, OutOfRange

__all__ = [
    "Evenness",
    "Fold",
    "Skew",
    "SkewParts",
    "TrayPattern",
    "TrayTest",
    "TraysUneven",
    "Way",
    "WidthInterval",
    "acceptable_widths",
    "centred",
    "combined_unevenness_fraction",
    "counting_floor_fraction",
    "evenness",
    "fold",
    "good_interval",
    "half_of_centre_width_m",
    "half_of_maximum_m",
    "mean_pattern",
    "mean_rate_kg_per_m2",
    "nominal_passes_count",
    "passes_for_floor_count",
    "positions_from_path",
    "run_patterns",
    "run_spread_fraction",
    "sample_cv_fraction",
    "seeds_per_tray_count",
    "skew",
    "split_skew",
    "spreading_rate_m2_per_s",
    "throw_m",
    "tray_rate_kg_per_m2",
    "tray_spacing_m",
    "whole_widths_m",
    "without_counting_noise_fraction",
]

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

_FEWEST_TRAYS_COUNT = 3
_SPACING_TOLERANCE_FRACTION = 0.01  # a tape laid over stubble is not better than this
_SAME_STEP = 1e-6  # of a tray spacing: two places closer than this are one place
_SAME_CV = 1e-9  # a figure on the limit is within the limit
_WIDTHS_PER_BLOCK_COUNT = 256  # keeps the largest table under 10 MB
_POINTS_PER_SPACING_COUNT = 16  # the dense grid on which a fold between trays is drawn


class TraysUneven(DusklineError, ValueError):
    """The trays do not stand at one spacing.

    Attributes
    ----------
    tray_index
        The first tray, counted from 0 at the left, that stands out of step.
    gap_m, spacing_m
        Its distance from the tray before it, and the spacing of the row. [m]
    """

    def __init__(self, *, tray_index: int, gap_m: float, spacing_m: float) -> None:
        super().__init__(
            f"tray {tray_index + 1} stands {gap_m} m after the one before; the row's spacing is"
            f" {spacing_m} m"
        )
        self.tray_index = tray_index
        self.gap_m = gap_m
        self.spacing_m = spacing_m


class Way(StrEnum):
    """The two ways of driving a field.

    ``BACK_AND_FORTH``: each pass beside the last, the other way; right falls on right, left on
    left. ``ROUND_AND_ROUND``: every pass the same way about; right falls on left.
    """

    BACK_AND_FORTH = "back_and_forth"
    ROUND_AND_ROUND = "round_and_round"


@dataclass(frozen=True, kw_only=True, slots=True)
class TrayPattern:
    """What one pass leaves in an evenly spaced row of trays.

    Attributes
    ----------
    first_tray_m
        Where the leftmost tray stands, from the driving line, left negative. [m]
    spacing_m
        From one tray to the next. [m]
    catch
        What each tray caught, left to right, on any one scale (kg, seeds). (n_trays,)
    """

    first_tray_m: float
    spacing_m: float
    catch: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.catch) < _FEWEST_TRAYS_COUNT:
            raise OutOfRange("number of trays", len(self.catch), _FEWEST_TRAYS_COUNT)
        if not (math.isfinite(self.spacing_m) and self.spacing_m > 0):
            raise OutOfRange("tray spacing", self.spacing_m, 0.0)
        if not math.isfinite(self.first_tray_m):
            raise OutOfRange("place of the first tray", self.first_tray_m)
        for amount in self.catch:
            if not (math.isfinite(amount) and amount >= 0):
                raise OutOfRange("catch of a tray", amount, 0.0)
        if not 0 < sum(self.catch) < math.inf:
            raise OutOfRange("catch of all trays", sum(self.catch), 0.0)

    @property
    def positions_m(self) -> FloatArray:
        """Where the trays stand, from the driving line, left negative [m], shape (n_trays,)."""
        steps = np.arange(len(self.catch), dtype=np.float64)
        return self.first_tray_m + self.spacing_m * steps

    @property
    def turned_trays_meet(self) -> bool:
        """Whether the trays of a pass driven the other way stand where these stand.

        So when the driving line runs over a tray or half-way between two.
        """
        twice = 2.0 * self.first_tray_m / self.spacing_m
        return abs(twice - round(twice)) < _SAME_STEP


@dataclass(frozen=True, kw_only=True, slots=True)
class TrayTest:
    """A tray test as it was made: where the trays stood and what each run left in them.

    Exactly one of ``masses_kg`` and ``seeds_count`` is filled.

    Attributes
    ----------
    name
        What was tested ("oats").
    positions_m
        From the driving line, left negative, rising. (n_trays,) [m]
    masses_kg
        Caught by weight, one tuple a run. (n_runs, n_trays) [kg]
    seeds_count
        Caught by count, one tuple a run. (n_runs, n_trays)
    path_assumed_in_middle
        The test did not say where the driving line ran; the middle of the row was taken.
    """

    name: str
    positions_m: tuple[float, ...]
    masses_kg: tuple[tuple[float, ...], ...] = ()
    seeds_count: tuple[tuple[float, ...], ...] = ()
    path_assumed_in_middle: bool = False

    def __post_init__(self) -> None:
        if bool(self.masses_kg) == bool(self.seeds_count):
            raise OutOfRange("kinds of catch in one tray test", 2 * bool(self.masses_kg), 1, 1)
        for run in self.runs:
            if len(run) != len(self.positions_m):
                raise OutOfRange(
                    "trays in a run", len(run), len(self.positions_m), len(self.positions_m)
                )
        tray_spacing_m(self.positions_m)
        run_patterns(self)

    @property
    def runs(self) -> tuple[tuple[float, ...], ...]:
        """What each run left, by weight [kg] or by count. (n_runs, n_trays)."""
        return self.masses_kg or self.seeds_count

    @property
    def is_counted(self) -> bool:
        """Whether seeds were counted and not weighed."""
        return bool(self.seeds_count)


def tray_spacing_m(positions_m: Sequence[float]) -> float:
    """Return the one spacing of a row of trays [m].

    Parameters
    ----------
    positions_m
        Places of the trays, rising from left to right. (n_trays,) [m]

    Raises
    ------
    OutOfRange
        Fewer than three trays, or a place that is not a number.
    TraysUneven
        A gap differs from the row's spacing by more than 1 %.

    Notes
    -----
    The row's spacing is first judged by the middle one of all gaps, so that one wrong place is
    named and not its neighbours; the figure returned is the whole row over its gaps.

    Source
    ------
    Derived here.
    """
    if len(positions_m) < _FEWEST_TRAYS_COUNT:
        raise OutOfRange("number of trays", len(positions_m), _FEWEST_TRAYS_COUNT)
    for place in positions_m:
        if not math.isfinite(place):
            raise OutOfRange("place of a tray", place)
    gaps = np.diff(np.asarray(positions_m, dtype=np.float64))
    usual = float(np.median(gaps))
    for index, gap in enumerate(gaps.tolist(), start=1):
        if usual <= 0 or gap <= 0 or abs(gap - usual) > _SPACING_TOLERANCE_FRACTION * usual:
            raise TraysUneven(tray_index=index, gap_m=gap, spacing_m=usual)
    return float((positions_m[-1] - positions_m[0]) / len(gaps))


def positions_from_path(positions_m: Sequence[float]) -> tuple[tuple[float, ...], bool]:
    """Return the trays' places from the driving line, and whether its place was assumed [m].

    Parameters
    ----------
    positions_m
        Places as written down. (n_trays,) [m]

    Notes
    -----
    If any place is negative, all are distances from the driving line already. Otherwise they
    were measured from the left end of the row and the driving line is taken as its middle.

    Source
    ------
    Our judgement.
    """
    if any(place < 0 for place in positions_m):
        return tuple(positions_m), False
    middle_m = (positions_m[0] + positions_m[-1]) / 2.0
    return tuple(place - middle_m for place in positions_m), True


def run_patterns(test: TrayTest) -> tuple[TrayPattern, ...]:
    """Return the pattern of each run on its own, in the order they were driven.

    Source
    ------
    Derived here.
    """
    spacing_m = tray_spacing_m(test.positions_m)
    return tuple(
        TrayPattern(first_tray_m=test.positions_m[0], spacing_m=spacing_m, catch=run)
        for run in test.runs
    )


def mean_pattern(test: TrayTest) -> TrayPattern:
    """Return the mean of all runs as one pattern; runs are not scaled to each other.

    Source
    ------
    Common practice, no source.
    """
    mean = np.mean(np.asarray(test.runs, dtype=np.float64), axis=0)
    return TrayPattern(
        first_tray_m=test.positions_m[0],
        spacing_m=tray_spacing_m(test.positions_m),
        catch=tuple(mean.tolist()),
    )


def run_spread_fraction(test: TrayTest) -> float | None:
    """Return how far the runs' totals lie apart: SD (n - 1) over their mean [fraction].

    None for a single run, which says nothing about the next.

    Source
    ------
    Derived here.
    """
    totals = np.asarray(test.runs, dtype=np.float64).sum(axis=1)
    if len(totals) == 1:
        return None
    return float(totals.std(ddof=1) / totals.mean())


def throw_m(pattern: TrayPattern) -> float:
    """Return the width over which the trays caught anything, a spacing for each tray [m].

    Source
    ------
    Derived here.
    """
    filled = [index for index, amount in enumerate(pattern.catch) if amount > 0]
    return (filled[-1] - filled[0] + 1) * pattern.spacing_m


# --- Folding ------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Fold:
    """The dose across one repeat of the driving.

    Attributes
    ----------
    positions_m
        Places from a driving line, left to right. (n_points,) [m]
    doses
        What all passes leave at each place, on the pattern's scale. (n_points,)
    interpolated
        Whether the doses were read between trays.
    """

    positions_m: FloatArray
    doses: FloatArray
    interpolated: bool

    @property
    def relative_rates(self) -> FloatArray:
        """The doses over their mean [fraction], shape (n_points,)."""
        relative: FloatArray = self.doses / self.doses.mean()
        return relative


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Evenness:
    """Evenness by driving width: SD / mean of the dose over one repeat, 0 being perfect.

    Attributes
    ----------
    driving_widths_m
        Distances between passes. (n_widths,) [m]
    back_and_forth_fraction, round_and_round_fraction
        Evenness for each way of driving. (n_widths,) [fraction]
    interpolated
        Where a figure was read between trays. (n_widths,)
    """

    driving_widths_m: FloatArray
    back_and_forth_fraction: FloatArray
    round_and_round_fraction: FloatArray
    interpolated: BoolArray

    def of(self, way: Way) -> FloatArray:
        """Return the evenness for one way of driving [fraction], shape (n_widths,)."""
        if way is Way.BACK_AND_FORTH:
            return self.back_and_forth_fraction
        return self.round_and_round_fraction


def whole_widths_m(pattern: TrayPattern, *, narrowest_m: float = 0.0) -> FloatArray:
    """Return the driving widths worth trying: whole tray spacings [m], shape (n_widths,).

    Parameters
    ----------
    pattern
        The tray pattern.
    narrowest_m
        No width below this one. [m]

    Notes
    -----
    They end one spacing beyond the whole row, where a bare strip is certain.

    Source
    ------
    Derived here.
    """
    fewest = max(1, math.ceil(narrowest_m / pattern.spacing_m - _SAME_STEP))
    steps = np.arange(fewest, max(len(pattern.catch) + 1, fewest) + 1, dtype=np.float64)
    return steps * pattern.spacing_m


def evenness(
    pattern: TrayPattern,
    *,
    driving_widths_m: Sequence[float] | FloatArray,
    straight_lines: bool = False,
) -> Evenness:
    """Return the evenness at each driving width, both ways of driving [fraction].

    Parameters
    ----------
    pattern
        What one pass leaves.
    driving_widths_m
        Distances between passes; none narrower than one tray spacing. (n_widths,) [m]
    straight_lines
        Read the pattern at every width as straight lines between the trays, whole tray spacings
        too: the figure a dense map of the same pattern gives.

    Raises
    ------
    OutOfRange
        A width below one tray spacing, or not a number.

    Notes
    -----
    Evenness is population SD / mean of the dose D over one repeat::

        round and round   D(x) = sum_k f(x - k S)
        back and forth    D(x) = sum_{k even} f(x - k S) + sum_{k odd} f(-(x - k S))

    f being one pass and S the driving width. At whole tray spacings D is taken at the tray
    points: S/d of them round and round, 2S/d back and forth, d being the spacing. The mean
    square of D over a repeat needs no fold: passes k widths apart meet in
    ``R(k S) = sum_i f(x_i) f(x_i - k S)`` when driven alike, in
    ``C(k S) = sum_i f(x_i) f(k S - x_i)`` when driven opposite, and with n = S/d and T = sum f::

        1 + CV^2 = n / T^2 * [ sum_{k even} R(k S) + sum_{k odd} (R or C)(k S) ]

    Between whole spacings f is straight lines between trays, nothing one spacing beyond the
    row, and the sum is exact (a cubic in S), as a fold on an endlessly dense grid would be.
    Straight lines cut the tops off, so by themselves they read too even (by 0.2 to 1 points of
    a hundred in the cases tried); what they miss at the whole spacings on either side is added
    in proportion, so that the figure runs on without a step and meets the tray points.

    Source
    ------
    Ways of driving: Fertilizer Australia, its page on reading the graphs of a spreader test. The
    sum over meetings: derived here, checked against a plain fold in tests/core/test_trays.py.
    """
    widths_m = np.asarray(driving_widths_m, dtype=np.float64)
    steps = widths_m / pattern.spacing_m
    if not np.all(np.isfinite(steps)) or np.any(steps < 1 - _SAME_STEP):
        raise OutOfRange("driving width", float(np.min(widths_m)), pattern.spacing_m)
    nearest = np.rint(steps)
    between = np.abs(steps - nearest) >= _SAME_STEP
    steps = np.where(between, steps, nearest)
    figures = [
        _evenness_block(pattern, steps[start : start + _WIDTHS_PER_BLOCK_COUNT], straight_lines)
        for start in range(0, len(steps), _WIDTHS_PER_BLOCK_COUNT)
    ]
    forth, about = np.concatenate(figures, axis=1) if figures else np.empty((2, 0))
    return Evenness(
        driving_widths_m=widths_m,
        back_and_forth_fraction=forth,
        round_and_round_fraction=about,
        interpolated=between | straight_lines | (not pattern.turned_trays_meet),
    )


def _evenness_block(pattern: TrayPattern, steps: FloatArray, straight_lines: bool) -> FloatArray:
    """Return evenness back and forth and round and round. (2, n_widths) [fraction]."""
    catch = np.asarray(pattern.catch, dtype=np.float64) / max(pattern.catch)
    last = len(catch) - 1
    turned_start = 2.0 * pattern.first_tray_m / pattern.spacing_m
    farthest = max(last, abs(turned_start), abs(turned_start + 2 * last)) + 1
    alike = _cubics(np.correlate(catch, catch, "full"), straight_lines)
    turned = _cubics(np.convolve(catch, catch), straight_lines)
    reach = math.ceil(farthest / float(np.min(steps)) / 2) * 2
    even = steps[:, None] * np.arange(-reach, reach + 1, 2)
    odd = steps[:, None] * np.arange(1 - reach, reach, 2)
    even_sum = _read(alike, even + last)
    sums = np.stack([_read(turned, odd - turned_start), _read(alike, odd + last)])
    mean_square = steps / catch.sum() ** 2 * (even_sum + sums)
    cv: FloatArray = np.sqrt(np.maximum(mean_square - 1.0, 0.0))
    return cv


def _cubics(lag_sums: FloatArray, straight_lines: bool) -> FloatArray:
    """Return the cubic between each two whole lags. (4 coefficients, n_lags + 4 intervals).

    Straight-line patterns meet in a cubic spline of the sums at whole lags. Its shortfall there,
    ``gap``, is added in proportion unless straight lines alone are wanted. Interval 0 starts two
    lags before the first; the last one is empty, so a reading beyond either end is nothing.
    """
    sums = np.concatenate([np.zeros(3), lag_sums, np.zeros(4)])
    before, here, after, beyond = sums[:-3], sums[1:-2], sums[2:-1], sums[3:]
    level = (before + 4.0 * here + after) / 6.0
    slope = (after - before) / 2.0
    if not straight_lines:
        gap = here - level
        level = here
        slope = slope + np.append(gap[1:], 0.0) - gap
    bend = (before - 2.0 * here + after) / 2.0
    twist = (beyond - before + 3.0 * (here - after)) / 6.0
    return np.stack([level, slope, bend, twist])


def _read(cubics: FloatArray, lags: FloatArray) -> FloatArray:
    """Return, for each width, the sum of the meetings at its lags. (n_widths,)."""
    places = np.clip(lags + 2.0, 0.0, cubics.shape[1] - 1)
    whole = places.astype(np.intp)
    part = places - whole
    level, slope, bend, twist = cubics[:, whole]
    total: FloatArray = (level + part * (slope + part * (bend + part * twist))).sum(axis=1)
    return total


def fold(pattern: TrayPattern, *, driving_width_m: float, way: Way) -> Fold:
    """Return the dose at points across one repeat of the driving, on the pattern's scale.

    Parameters
    ----------
    pattern
        What one pass leaves.
    driving_width_m
        Distance between passes; not below one tray spacing. [m]
    way
        Way of driving. One repeat is two driving widths back and forth, one round and round.

    Notes
    -----
    At whole tray spacings the points are the tray points, from the driving line on; else a
    dense grid of 16 points to a tray spacing, straight lines between trays.

    Source
    ------
    Derived here; worked by hand in tests/core/test_trays.py.
    """
    spacing_m = pattern.spacing_m
    steps = driving_width_m / spacing_m
    if not (math.isfinite(steps) and steps >= 1 - _SAME_STEP):
        raise OutOfRange("driving width", driving_width_m, spacing_m)
    repeat_count = 2 if way is Way.BACK_AND_FORTH else 1
    meets = way is Way.ROUND_AND_ROUND or pattern.turned_trays_meet
    at_trays = meets and abs(steps - round(steps)) < _SAME_STEP
    if at_trays:
        start_m = spacing_m * ((pattern.first_tray_m / spacing_m + _SAME_STEP) % 1.0 - _SAME_STEP)
        points_m = start_m + spacing_m * np.arange(repeat_count * round(steps), dtype=np.float64)
    else:
        point_count = math.ceil(repeat_count * steps * _POINTS_PER_SPACING_COUNT)
        grid_m = repeat_count * driving_width_m / point_count
        points_m = grid_m * (np.arange(point_count, dtype=np.float64) + 0.5)
    doses = _doses(pattern, points_m, driving_width_m, way)
    return Fold(positions_m=points_m, doses=doses, interpolated=not at_trays)


def _doses(
    pattern: TrayPattern, points_m: FloatArray, driving_width_m: float, way: Way
) -> FloatArray:
    """Return what all passes that reach them leave at the points, on the pattern's scale."""
    first_m, spacing_m = pattern.first_tray_m, pattern.spacing_m
    places_m = first_m + spacing_m * np.arange(-1, len(pattern.catch) + 1)
    amounts = np.concatenate([[0.0], pattern.catch, [0.0]])
    reach_m = float(np.max(np.abs(places_m))) + float(points_m[-1])
    farthest = math.ceil(reach_m / driving_width_m) + 1
    doses = np.zeros_like(points_m)
    for pass_index in range(-farthest, farthest + 1):
        side_m = points_m - pass_index * driving_width_m
        turned = way is Way.BACK_AND_FORTH and pass_index % 2
        doses += np.interp(-side_m if turned else side_m, places_m, amounts)
    return doses


def sample_cv_fraction(
    cv_fraction: float, *, driving_width_m: float, spacing_m: float, way: Way
) -> float:
    """Return the evenness with n - 1 in place of n, for comparing with other reports [fraction].

    Parameters
    ----------
    cv_fraction
        Evenness with n, as everywhere here. [fraction]
    driving_width_m, spacing_m
        Distance between passes; distance between trays. [m]
    way
        Way of driving: n is 2S/d tray points back and forth, S/d round and round.

    Raises
    ------
    OutOfRange
        A single tray point has no spread.

    Notes
    -----
    ``CV(n - 1) = CV(n) sqrt(n / (n - 1))``; the larger, and the form of ISO 5682-3.

    Source
    ------
    Derived here.
    """
    point_count = driving_width_m / spacing_m * (2 if way is Way.BACK_AND_FORTH else 1)
    if point_count <= 1 + _SAME_STEP:
        raise OutOfRange("tray points in one repeat", point_count, 2)
    return cv_fraction * math.sqrt(point_count / (point_count - 1))


# --- Choosing a width ---------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class WidthInterval:
    """Neighbouring tried widths that all hold the limit, from narrowest to widest [m]."""

    narrowest_m: float
    widest_m: float

    def holds(self, driving_width_m: float) -> bool:
        """Return whether the width lies inside."""
        slack_m = _SAME_STEP * self.widest_m
        return self.narrowest_m - slack_m <= driving_width_m <= self.widest_m + slack_m


def acceptable_widths(
    *,
    driving_widths_m: Sequence[float] | FloatArray,
    cv_fractions: Sequence[float] | FloatArray,
    limit_fraction: float,
) -> tuple[WidthInterval, ...]:
    """Return the widths that hold the limit, as intervals of the widths tried [m].

    Parameters
    ----------
    driving_widths_m, cv_fractions
        Widths tried, rising, and the evenness at each. (n_widths,) [m], [fraction]
    limit_fraction
        Evenness not to exceed. [fraction]

    Notes
    -----
    They need not be one interval: narrower is not always more even. Nothing is said of a width
    between two tried ones that differ in the answer; it belongs to no interval.

    Source
    ------
    Fertilizer Australia, its page on reading the graphs of a spreader test (5 to 19 m and 31 to
    34 m hold, 25 m does not).
    """
    intervals: list[WidthInterval] = []
    start: float | None = None
    last = 0.0
    for width, figure in zip(driving_widths_m, cv_fractions, strict=True):
        holds = float(figure) <= limit_fraction + _SAME_CV
        if start is not None and not holds:
            intervals.append(WidthInterval(narrowest_m=start, widest_m=last))
        start = (float(width) if start is None else start) if holds else None
        last = float(width)
    if start is not None:
        intervals.append(WidthInterval(narrowest_m=start, widest_m=last))
    return tuple(intervals)


def good_interval(
    intervals: Sequence[WidthInterval], *, narrowest_m: float = 0.0
) -> WidthInterval | None:
    """Return the widths to drive at: the first interval that reaches the narrowest sensible one.

    Its top is what the pattern is good to.

    Parameters
    ----------
    intervals
        Acceptable widths, rising.
    narrowest_m
        The narrowest width anybody would drive; intervals that end below it are passed over,
        so that a pattern with flat shoulders, even again at half its proper width, is not held
        to the half. [m]

    Returns
    -------
    WidthInterval or None
        None when no width from the narrowest on holds the limit.

    Notes
    -----
    The first interval and not the last: beyond its top lies a width that fails, so a wider
    interval is an island. It can be driven by a machine that holds its line, but a driver who
    closes up a little, or a pattern a little narrower than on the test day, falls in the gap.

    Source
    ------
    Our judgement.
    """
    for interval in intervals:
        if interval.widest_m >= narrowest_m * (1 - _SAME_STEP):
            return interval
    return None


def half_of_maximum_m(pattern: TrayPattern) -> tuple[float, float] | None:
    """Return where the catch falls to half the fullest tray, left and right [m].

    None when the row ends before it does. A rule of thumb to set beside the evenness.

    Notes
    -----
    The outermost such places, on straight lines between trays.

    Source
    ------
    Alberta Agriculture, Nutrient Management Planning Guide, chapter 4.6, page 195.
    """
    return _falls_to(pattern, max(pattern.catch) / 2.0)


def half_of_centre_width_m(pattern: TrayPattern, *, centre_reach_m: float) -> float | None:
    """Return the width between the places with half the mean catch of the centre [m].

    Parameters
    ----------
    pattern
        The tray pattern.
    centre_reach_m
        Trays within this distance of the driving line are the centre. [m]

    Returns
    -------
    float or None
        None when the row ends before the catch has fallen to half, or no tray is near.

    Source
    ------
    Ohio State University Extension, Bulletin 817: twice the distance to half the mean rate of
    the centre; here the distances left and right are added.
    """
    near = np.abs(pattern.positions_m) <= centre_reach_m + _SAME_STEP * pattern.spacing_m
    if not near.any():
        return None
    ends = _falls_to(pattern, float(np.asarray(pattern.catch)[near].mean()) / 2.0)
    return None if ends is None else ends[1] - ends[0]


def _falls_to(pattern: TrayPattern, level: float) -> tuple[float, float] | None:
    catch = np.asarray(pattern.catch)
    above = np.flatnonzero(catch >= level)
    if level <= 0 or not above.size or above[0] == 0 or above[-1] == len(catch) - 1:
        return None
    left, right = int(above[0]), int(above[-1])
    left_part = (catch[left] - level) / (catch[left] - catch[left - 1])
    right_part = (catch[right] - level) / (catch[right] - catch[right + 1])
    places_m = pattern.positions_m
    return (
        float(places_m[left] - left_part * pattern.spacing_m),
        float(places_m[right] + right_part * pattern.spacing_m),
    )


def spreading_rate_m2_per_s(
    *,
    driving_width_m: float,
    speed_mps: float,
    efficiency_fraction: float,
    area_per_load_m2: float | None = None,
    refill_s: float = 0.0,
) -> float:
    """Return the area spread per unit of time at a driving width [m2/s].

    Parameters
    ----------
    driving_width_m
        Distance between passes. [m]
    speed_mps
        Speed while spreading. [m/s]
    efficiency_fraction
        Share of the time spent spreading, loading left out. [fraction]
    area_per_load_m2
        What one load does; None leaves loading out. [m2]
    refill_s
        From the last seed of a load to the first of the next. [s]

    Notes
    -----
    ``moving = width * speed * efficiency``; ``rate = load / (load / moving + refill)``. Loading
    takes its time at any width, so a narrower width costs less than in proportion.

    Source
    ------
    Derived here; common practice, no source.
    """
    for name, value in (("driving width", driving_width_m), ("speed", speed_mps)):
        if not (math.isfinite(value) and value > 0):
            raise OutOfRange(name, value, 0.0)
    if not 0 < efficiency_fraction <= 1:
        raise OutOfRange("efficiency", efficiency_fraction, 0.0, 1.0)
    moving = driving_width_m * speed_mps * efficiency_fraction
    if area_per_load_m2 is None:
        return moving
    if not area_per_load_m2 > 0:
        raise OutOfRange("area of one load", area_per_load_m2, 0.0)
    if not (math.isfinite(refill_s) and refill_s >= 0):
        raise OutOfRange("time to refill", refill_s, 0.0)
    return area_per_load_m2 / (area_per_load_m2 / moving + refill_s)


# --- Dose ---------------------------------------------------------------------------------------


def nominal_passes_count(
    *, runs_count: int, flow_speed_mps: float, driven_speed_mps: float
) -> float:
    """Return how many ordinary passes the trays hold.

    Parameters
    ----------
    runs_count
        Runs over the trays before they were weighed.
    flow_speed_mps
        Speed for which the flow was set. [m/s]
    driven_speed_mps
        Speed at which the trays were passed. [m/s]

    Source
    ------
    Derived here from the runs and speeds in EN 13739-2:2011.
    """
    if not (driven_speed_mps > 0 and flow_speed_mps > 0):
        raise OutOfRange("speed", min(driven_speed_mps, flow_speed_mps), 0.0)
    return runs_count * flow_speed_mps / driven_speed_mps


def tray_rate_kg_per_m2(*, mass_kg: float, tray_area_m2: float, passes_count: float) -> float:
    """Return the dose one pass leaves in a tray [kg/m2].

    Parameters
    ----------
    mass_kg
        What the tray holds. [kg]
    tray_area_m2
        Its open area. [m2]
    passes_count
        Ordinary passes it holds.

    Source
    ------
    Derived here.
    """
    if not (tray_area_m2 > 0 and passes_count > 0):
        raise OutOfRange("tray area and passes", min(tray_area_m2, passes_count), 0.0)
    return mass_kg / tray_area_m2 / passes_count


def mean_rate_kg_per_m2(
    pattern: TrayPattern, *, driving_width_m: float, tray_area_m2: float, passes_count: float = 1.0
) -> float:
    """Return the mean dose at a driving width, the same for both ways of driving [kg/m2].

    Parameters
    ----------
    pattern
        Catches by weight. [kg]
    driving_width_m
        Distance between passes. [m]
    tray_area_m2, passes_count
        Open area of a tray; ordinary passes the trays hold. [m2]

    Notes
    -----
    ``sum of all trays * d / S``. Trays catch short or bounce full: the rate is best taken from
    weighing the load.

    Source
    ------
    Derived here.
    """
    if not driving_width_m > 0:
        raise OutOfRange("driving width", driving_width_m, 0.0)
    caught_kg = sum(pattern.catch) * pattern.spacing_m / driving_width_m
    return tray_rate_kg_per_m2(
        mass_kg=caught_kg, tray_area_m2=tray_area_m2, passes_count=passes_count
    )


# --- Counting noise -----------------------------------------------------------------------------


def seeds_per_tray_count(
    *, rate_kg_per_m2: float, tray_area_m2: float, kernel_mass_kg: float
) -> float:
    """Return the mean number of seeds a tray receives from one pass.

    Parameters
    ----------
    rate_kg_per_m2
        Spread rate. [kg/m2]
    tray_area_m2
        Open area of a tray. [m2]
    kernel_mass_kg
        Mass of one seed. [kg]

    Source
    ------
    Derived here.
    """
    if not kernel_mass_kg > 0:
        raise OutOfRange("mass of one seed", kernel_mass_kg, 0.0)
    return rate_kg_per_m2 * tray_area_m2 / kernel_mass_kg


def counting_floor_fraction(seeds_count: float) -> float:
    """Return the unevenness that chance alone gives a perfect spreader [fraction].

    Parameters
    ----------
    seeds_count
        Mean number of seeds that fell at a tray point, all runs together.

    Notes
    -----
    Seeds fall as counts: ``SD / mean = 1 / sqrt(N)``.

    Source
    ------
    Derived here.
    """
    if not seeds_count > 0:
        raise OutOfRange("seeds per tray", seeds_count, 0.0)
    return 1.0 / math.sqrt(seeds_count)


def without_counting_noise_fraction(cv_fraction: float, *, seeds_count: float) -> float:
    """Return the evenness with the chance of single seeds taken out [fraction].

    Parameters
    ----------
    cv_fraction
        Evenness as the trays show it. [fraction]
    seeds_count
        Mean number of seeds that fell at a tray point, all runs together.

    Notes
    -----
    ``sqrt(max(0, CV^2 - 1/N))``. An estimate: with few seeds it is itself uncertain.

    Source
    ------
    Derived here.
    """
    floor = counting_floor_fraction(seeds_count)
    return math.sqrt(max(0.0, cv_fraction**2 - floor**2))


def passes_for_floor_count(seeds_count: float, *, floor_fraction: float) -> int:
    """Return how many passes over the same trays bring chance down to a floor.

    Parameters
    ----------
    seeds_count
        Mean number of seeds at a tray point from one pass.
    floor_fraction
        Unevenness by chance that is small enough. [fraction]

    Notes
    -----
    ``ceil(1 / (floor^2 N))``: 400 / N for 5 %.

    Source
    ------
    Derived here.
    """
    if not floor_fraction > 0:
        raise OutOfRange("floor of counting noise", floor_fraction, 0.0)
    passes = (counting_floor_fraction(seeds_count) / floor_fraction) ** 2
    return max(1, math.ceil(passes - _SAME_STEP))


def combined_unevenness_fraction(first_fraction: float, second_fraction: float) -> float:
    """Return the unevenness of two independent causes together [fraction].

    Notes
    -----
    ``sqrt(a^2 + b^2 + (a b)^2)``, the spread of a product.

    Source
    ------
    Derived here.
    """
    a, b = first_fraction, second_fraction
    return math.sqrt(a * a + b * b + (a * b) ** 2)


# --- Skew ---------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class Skew:
    """How a pattern leans.

    Attributes
    ----------
    offset_m
        Where the middle of the catch lies, from the driving line, left negative. [m]
    left_fraction, right_fraction
        Shares of the catch on either side; a tray on the line counts half to each.
    """

    offset_m: float
    left_fraction: float
    right_fraction: float


@dataclass(frozen=True, kw_only=True, slots=True)
class SkewParts:
    """What leans with the machine and what with the wind.

    Attributes
    ----------
    machine_m
        Offset that stays on the same side of the machine; right positive. [m]
    wind_m
        Offset that stays on the same side of the field; to the right of the first direction
        positive. [m]
    """

    machine_m: float
    wind_m: float


def skew(pattern: TrayPattern) -> Skew:
    """Return where the middle of the catch lies and how it is shared between the sides.

    Source
    ------
    Derived here.
    """
    places_m = pattern.positions_m
    catch = np.asarray(pattern.catch) / sum(pattern.catch)
    on_line = np.abs(places_m) < _SAME_STEP * pattern.spacing_m
    left = float(catch[(places_m < 0) & ~on_line].sum() + catch[on_line].sum() / 2)
    return Skew(offset_m=float(catch @ places_m), left_fraction=left, right_fraction=1.0 - left)


def split_skew(*, offset_out_m: float, offset_back_m: float) -> SkewParts:
    """Return the machine's lean and the wind's, from tests driven in both directions [m].

    Parameters
    ----------
    offset_out_m, offset_back_m
        Offset of the first direction and of the opposite one, each as the driver sees it: right
        of the machine positive. [m]

    Notes
    -----
    The machine's lean turns with the machine, the wind's does not: half the sum is the
    machine's, half the difference the wind's.

    Source
    ------
    Derived here.
    """
    return SkewParts(
        machine_m=(offset_out_m + offset_back_m) / 2, wind_m=(offset_out_m - offset_back_m) / 2
    )


def centred(pattern: TrayPattern) -> TrayPattern:
    """Return the pattern as if every pass were driven so that its middle lay on the line.

    Notes
    -----
    Back and forth gains by it; round and round does not change.

    Source
    ------
    Derived here.
    """
    return TrayPattern(
        first_tray_m=pattern.first_tray_m - skew(pattern).offset_m,
        spacing_m=pattern.spacing_m,
        catch=pattern.catch,
    )
