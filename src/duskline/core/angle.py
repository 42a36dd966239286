"""The covering angle: how far to turn the covering off the spread passes, and what it costs.

Covering at a slight angle does not even out the stripes; it keeps a covering joint from lying
in one thin stripe for its whole length.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange

__all__ = [
    "THIN_SHARE_FRACTION",
    "Angle",
    "AnglePrice",
    "Counted",
    "Joints",
    "advised_angle_rad",
    "angle_price",
    "joint_share_sd_fraction",
    "near_whole_multiple",
]

FloatArray = npt.NDArray[np.float64]

THIN_SHARE_FRACTION = 0.2
"""The thin part of the band between two spread passes: a fifth of it, in one piece."""
# Beyond so many harmonics what is left of the sum is under a thousandth of it at the worst.
_HARMONICS_COUNT = 512


@dataclass(frozen=True, kw_only=True, slots=True)
class Angle:
    """How far to turn the covering off the spread passes.

    Attributes
    ----------
    low_rad, best_rad, high_rad
        The angle, and the range worth driving. [rad]
    served_fraction
        Share of the ground that lies on runs long enough to cross the wished bands at the best
        angle.
    run_length_m
        The run it was worked out for. [m]
    """

    low_rad: float
    best_rad: float
    high_rad: float
    served_fraction: float
    run_length_m: float


def advised_angle_rad(
    *,
    run_lengths_m: Sequence[float] | FloatArray,
    spread_driving_width_m: float,
    bands_low_count: float,
    bands_best_count: float,
    bands_high_count: float,
    narrowest_rad: float,
    widest_rad: float,
) -> Angle:
    """Return the covering angle at which a joint crosses so many spread bands. [rad]

    Parameters
    ----------
    run_lengths_m
        Lengths of the covering runs, ``(n,)``. [m]
    spread_driving_width_m
        From one spread pass to the next. [m]
    bands_low_count, bands_best_count, bands_high_count
        Bands that a joint should cross along its length.
    narrowest_rad, widest_rad
        Angles never gone below or beyond. [rad]

    Raises
    ------
    OutOfRange
        No run, a run or a width that is not above zero, or limits out of order.

    Notes
    -----
    ``sin(angle) = bands x width / run``, held between the limits; a run too short for it takes
    the widest. The run is the one that half the ground lies on or beyond.

    Source
    ------
    Derived here: a joint of length L at angle a passes over ``L sin(a) / W`` bands.
    """
    check_positive("driving width", spread_driving_width_m)
    check_within("narrowest angle", narrowest_rad, 0.0, widest_rad)
    check_within("widest angle", widest_rad, narrowest_rad, math.pi / 2.0)
    lengths = np.sort(np.asarray(run_lengths_m, dtype=np.float64))[::-1]
    if not lengths.size:
        raise OutOfRange("number of runs", 0, 1)
    check_positive("length of a run", float(lengths[-1]))
    check_positive("length of a run", float(lengths[0]))
    ground = np.cumsum(lengths) / lengths.sum()
    run_m = float(lengths[int(np.searchsorted(ground, 0.5 - 1e-12))])

    def angle_of(bands: float) -> float:
        check_positive("bands to cross", bands)
        wanted = bands * spread_driving_width_m / run_m
        return min(max(math.asin(min(wanted, 1.0)), narrowest_rad), widest_rad)

    best = angle_of(bands_best_count)
    crossed = lengths * math.sin(best) / spread_driving_width_m
    served = float(lengths[crossed >= bands_best_count * (1.0 - 1e-9)].sum() / lengths.sum())
    return Angle(
        low_rad=angle_of(bands_low_count),
        best_rad=best,
        high_rad=angle_of(bands_high_count),
        served_fraction=served,
        run_length_m=run_m,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Counted:
    """Passes and time of one plan. [s]"""

    passes_count: int
    work_s: float


@dataclass(frozen=True, kw_only=True, slots=True)
class AnglePrice:
    """What turning the covering costs; below zero where the turned plan is the shorter.

    ``is_noise`` is whether the time is under what nobody could tell.
    """

    more_passes_count: int
    more_passes_fraction: float
    more_work_s: float
    more_work_fraction: float
    is_noise: bool


def angle_price(*, plain: Counted, turned: Counted, noise_fraction: float) -> AnglePrice:
    """Return what the turned plan costs over the plain one, in passes and time.

    Parameters
    ----------
    plain, turned
        The plan along the spread passes, and the one turned off them.
    noise_fraction
        Share of the plain plan's time that no driver could tell.

    Source
    ------
    Derived here.
    """
    check_positive("passes of the plain plan", plain.passes_count)
    check_positive("time of the plain plan", plain.work_s)
    more_s = turned.work_s - plain.work_s
    return AnglePrice(
        more_passes_count=turned.passes_count - plain.passes_count,
        more_passes_fraction=turned.passes_count / plain.passes_count - 1.0,
        more_work_s=more_s,
        more_work_fraction=more_s / plain.work_s,
        is_noise=abs(more_s) <= noise_fraction * plain.work_s,
    )


def joint_share_sd_fraction(
    *,
    spread_driving_width_m: float,
    cover_spacing_m: float,
    joints_count: int,
    thin_share_fraction: float = THIN_SHARE_FRACTION,
    swept_m: float = 0.0,
    drift_sd_m: float = 0.0,
) -> float:
    """Return how far the share of joints on the thin part depends on where the first pass falls.

    Near zero the joints spread themselves over the band, whatever the first one does; the
    mean share is the thin part itself.

    Parameters
    ----------
    spread_driving_width_m, cover_spacing_m
        From one spread pass to the next; from one covering pass to the next. [m]
    joints_count
        Joints between covering passes.
    thin_share_fraction
        How much of the band is thin, in one piece.
    swept_m
        How far across the bands one joint runs along its length: run x sin(angle). [m]
    drift_sd_m
        What each pass adds to the drift of a driver who goes by eye. [m]

    Returns
    -------
    float
        Standard deviation of the share, over all places of the first pass. Fraction.

    Notes
    -----
    Joint j lies at ``x + j c`` in a band of width W. With t the thin share and q = 2 pi k / W::

        var = 2 sum_k (sin(pi k t) / (pi k))^2 sinc(k S / W)^2 B_k
        B_k = 1/n + 2/n^2 sum_m (n - m) cos(q m c) exp(-q^2 m s^2 / 2)

    S being the sweep, s the drift of a pass, m how many passes apart two joints lie.

    Source
    ------
    Derived here; a plain count over many first places in tests/core/test_angle.py.
    """
    check_positive("driving width", spread_driving_width_m)
    check_positive("covering spacing", cover_spacing_m)
    check_within("thin share", thin_share_fraction, 0.0, 1.0)
    if joints_count < 1:
        raise OutOfRange("joints between passes", joints_count, 1)
    waves = np.arange(1, _HARMONICS_COUNT + 1, dtype=np.float64)
    thin = (np.sin(math.pi * waves * thin_share_fraction) / (math.pi * waves)) ** 2
    swept = np.sinc(waves * swept_m / spread_driving_width_m) ** 2
    apart = np.arange(1, joints_count, dtype=np.float64)
    turn = 2.0 * math.pi * waves[:, None] / spread_driving_width_m
    together = np.cos(turn * apart * cover_spacing_m) * np.exp(
        -0.5 * turn**2 * apart * drift_sd_m**2
    )
    pairs = together @ (joints_count - apart)
    variance = 2.0 * float(
        (thin * swept * (1.0 / joints_count + 2.0 * pairs / joints_count**2)).sum()
    )
    return math.sqrt(max(variance, 0.0))


@dataclass(frozen=True, kw_only=True, slots=True)
class Joints:
    """Whether covering joints pile up on one place of the spread bands.

    Attributes
    ----------
    ratio
        The wider of spread driving width and covering spacing over the narrower.
    nearest_count, off_fraction
        The nearest whole number, and how far the ratio lies from it.
    parallel_sd_fraction, turned_sd_fraction
        How far the share of joints on the thin part depends on luck: covering along the spread
        passes, and at the angle driven.
    warns_parallel, warns
        Whether that is more than the limit: along the spread passes, and at the angle driven.
    """

    ratio: float
    nearest_count: int
    off_fraction: float
    parallel_sd_fraction: float
    turned_sd_fraction: float
    warns_parallel: bool
    warns: bool


def near_whole_multiple(
    *,
    spread_driving_width_m: float,
    cover_spacing_m: float,
    across_m: float,
    run_length_m: float,
    angle_rad: float,
    limit_fraction: float,
    drift_sd_m: float = 0.0,
) -> Joints:
    """Return whether covering joints fall on the same places of the spread bands all over.

    The worst is a whole multiple: every joint then lies where the first one lies. Halves and
    thirds pile up less, and the figure says how much.

    Parameters
    ----------
    spread_driving_width_m, cover_spacing_m
        From one spread pass to the next; from one covering pass to the next. [m]
    across_m, run_length_m
        The field across the covering passes, and the length of one. [m]
    angle_rad
        Angle between covering and spread passes. [rad]
    limit_fraction
        Standard deviation of the share of joints on the thin part that is still let pass.
    drift_sd_m
        What each pass adds to the drift of a driver who goes by eye. [m]

    Source
    ------
    Derived here; where to draw the line is our judgement.
    """
    check_positive("distance across", across_m)
    check_positive("length of a run", run_length_m)
    check_positive("limit", limit_fraction)
    check_positive("driving width", spread_driving_width_m)
    check_positive("covering spacing", cover_spacing_m)
    ratio = max(spread_driving_width_m, cover_spacing_m) / min(
        spread_driving_width_m, cover_spacing_m
    )
    joints = max(1, math.ceil(across_m / cover_spacing_m) - 1)
    parallel, turned = (
        joint_share_sd_fraction(
            spread_driving_width_m=spread_driving_width_m,
            cover_spacing_m=cover_spacing_m / math.cos(turn_rad),
            joints_count=joints,
            swept_m=run_length_m * abs(math.sin(turn_rad)),
            drift_sd_m=drift_sd_m,
        )
        for turn_rad in (0.0, angle_rad)
    )
    return Joints(
        ratio=ratio,
        nearest_count=max(1, round(ratio)),
        off_fraction=abs(ratio - max(1, round(ratio))),
        parallel_sd_fraction=parallel,
        turned_sd_fraction=turned,
        warns_parallel=parallel > limit_fraction,
        warns=turned > limit_fraction,
    )
