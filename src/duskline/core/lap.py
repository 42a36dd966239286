"""Overlap and skip: what lapping over the last pass costs, and what it saves.

By guided line both edges wander on their own; by eye the driver follows the last edge, so only
his own error counts. The two must not be mixed.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erfc, exp, pi, sqrt

from duskline.core.errors import OutOfRange

__all__ = [
    "Overlap",
    "effective_width_m",
    "gap_sd_m",
    "overlap_advised_m",
    "skip_fraction",
]


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
