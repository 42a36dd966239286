"""Evenness after covering: the ripples a spreader leaves, and what covering leaves of them.

The dose across the driving is taken apart into ripples. Covering scatters every seed a little;
that takes the short ripples away and leaves the long ones. Which ones is all there is to know.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
import numpy.typing as npt

from duskline.core.checks import check_positive, check_share, check_within
from duskline.core.errors import OutOfRange
from duskline.core.trays import TrayPattern, Way

__all__ = [
    "THIN_GROUND_FRACTION",
    "Displacement",
    "Ground",
    "Ripples",
    "combined_sd_m",
    "covered",
    "crossed",
    "cv_after_fraction",
    "forward_shift_m",
    "ground",
    "half_rate_twice",
    "left_on_top_fraction",
    "mixed_between_fraction",
    "profile",
    "retained_fraction",
    "ripple_eased_by_angle_m",
    "ripple_kept_table",
    "ripples",
    "sd_to_keep_m",
    "spread_sd_m",
    "with_counting_noise_fraction",
]

FloatArray = npt.NDArray[np.float64]

_SAME_STEP = 1e-6  # of a tray spacing: two places closer than this are one place
_RIPPLES_COUNT = 256  # CV is then right to 1e-8 in the patterns tried, far beyond any tray test
_POINTS_COUNT = 4096  # of one repeat: under 2 cm of ground each at 40 m between passes
_ATOMS_COUNT = 256  # pieces of each set where two cross: 65,536 pairs, CV right to 2e-6
THIN_GROUND_FRACTION = 0.1
"""The thinnest tenth of the ground."""


# --- Ripples ------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Ripples:
    """The dose across the driving, taken apart: ``dose / mean = 1 + sum a cos(2 pi x/L + phase)``.

    Attributes
    ----------
    mean
        Mean dose, on the scale of the trays' catch.
    repeat_m
        Ground across after which the dose repeats. [m]
    wavelength_m
        Lengths of the ripples, ``repeat_m / 1, / 2, ...``. (n,) [m]
    amplitude_fraction
        Their amplitudes over the mean, not negative. (n,) [fraction]
    phase_rad
        Their phases at the driving line. (n,) [rad]
    tail_fraction
        What the ripples left out can add to CV squared, at the most. [fraction]
    """

    mean: float
    repeat_m: float
    wavelength_m: FloatArray
    amplitude_fraction: FloatArray
    phase_rad: FloatArray
    tail_fraction: float

    @property
    def cv_fraction(self) -> float:
        """Evenness, SD / mean over one repeat [fraction]."""
        return math.sqrt(float(self.amplitude_fraction @ self.amplitude_fraction) / 2.0)

    @property
    def parts(self) -> npt.NDArray[np.complex128]:
        """The ripples as complex amplitudes, ``a exp(i phase)``, shape (n,)."""
        parts: npt.NDArray[np.complex128] = self.amplitude_fraction * np.exp(1j * self.phase_rad)
        return parts


def ripples(
    pattern: TrayPattern, *, driving_width_m: float, way: Way, count: int = _RIPPLES_COUNT
) -> Ripples:
    """Return the ripples that passes one driving width apart leave across the ground.

    Parameters
    ----------
    pattern
        What one pass leaves; straight lines between trays, nothing one spacing beyond them.
    driving_width_m
        Distance between passes; not below one tray spacing. [m]
    way
        Way of driving. The dose repeats every driving width round and round, and back and forth
        too when the pattern is the same on both sides; a lopsided one needs two.
    count
        How many ripples, from the longest.

    Raises
    ------
    OutOfRange
        A width below one tray spacing or not a number; no ripple.

    Notes
    -----
    In closed form, nothing sampled. With f the catches at x_i, d apart, each tray is the foot of
    a tent, and with q = 2 pi / L::

        F(q) / F(0) = sinc(d / L)^2 sum_i f_i exp(-i q x_i) / sum_i f_i
        round and round, L = S / n     part n = 2 F(q) / F(0)
        back and forth,  L = 2 S / n   part n = [F(q) + (-1)^n conj F(q)] / F(0)

    so the even parts back and forth are twice the real part (what both sides share), the odd
    ones twice the imaginary part (the lean). ``CV^2 = sum a^2 / 2``. Parts fall off as 1 / n^2:
    with J_j the changes of slope at the trays, ``a <= 2 sum |J| / (q^2 F(0))``, and the parts
    beyond N add to CV^2 no more than ``(2/3) (sum |J| / F(0))^2 (repeat / 2 pi)^4 / N^3``.

    Source
    ------
    Derived here; tests/core/test_evenness.py holds it against the sum over meetings of
    core/trays.py and against a fold on a fine grid.
    """
    check_within("driving width", driving_width_m, pattern.spacing_m * (1 - _SAME_STEP), math.inf)
    check_positive("driving width", driving_width_m)
    check_within("number of ripples", count, 1, math.inf)
    forth = way is Way.BACK_AND_FORTH and not _same_on_both_sides(pattern)
    repeat_m = 2.0 * driving_width_m if forth else driving_width_m
    order = np.arange(1, count + 1, dtype=np.float64)
    wavelength_m = repeat_m / order
    catch = np.asarray(pattern.catch, dtype=np.float64) / sum(pattern.catch)
    tent = np.sinc(pattern.spacing_m / wavelength_m) ** 2
    turns = np.outer(order / repeat_m, pattern.positions_m)
    one_pass = tent * (np.exp(-2j * math.pi * turns) @ catch)
    parts = 2.0 * one_pass
    if forth:
        parts[0::2] = 2j * one_pass[0::2].imag
        parts[1::2] = 2.0 * one_pass[1::2].real
    slope_changes = np.abs(np.diff(np.concatenate([[0.0, 0.0], catch, [0.0, 0.0]]), 2)).sum()
    steepest = float(slope_changes) / pattern.spacing_m**2 * (repeat_m / (2.0 * math.pi)) ** 2
    return _of_parts(
        parts,
        mean=sum(pattern.catch) * pattern.spacing_m / driving_width_m,
        repeat_m=repeat_m,
        tail_fraction=2.0 / 3.0 * steepest**2 / count**3,
    )


def _same_on_both_sides(pattern: TrayPattern) -> bool:
    catch = np.trim_zeros(np.asarray(pattern.catch, dtype=np.float64))
    filled = np.flatnonzero(pattern.catch)
    ends_m = pattern.positions_m[filled[0]] + pattern.positions_m[filled[-1]]
    return bool(
        abs(ends_m) < _SAME_STEP * pattern.spacing_m
        and np.allclose(catch, catch[::-1], rtol=0.0, atol=1e-12 * float(catch.max()))
    )


def _of_parts(
    parts: npt.NDArray[np.complex128], *, mean: float, repeat_m: float, tail_fraction: float
) -> Ripples:
    return Ripples(
        mean=mean,
        repeat_m=repeat_m,
        wavelength_m=repeat_m / np.arange(1, len(parts) + 1, dtype=np.float64),
        amplitude_fraction=np.abs(parts),
        phase_rad=np.angle(parts),
        tail_fraction=tail_fraction,
    )


def half_rate_twice(once: Ripples, *, driving_width_m: float) -> Ripples:
    """Return the ripples of spreading twice at half the rate, the second set half a width over.

    Parameters
    ----------
    once
        Ripples of one set at the full rate. The pattern is taken to keep its shape at half the
        rate; another opening may well change it, and then only a tray test tells.
    driving_width_m
        Distance between the passes of one set. [m]

    Raises
    ------
    OutOfRange
        The dose of one set does not repeat in one or two driving widths.

    Notes
    -----
    A shift of S/2 turns each part by ``exp(-i pi S / L)``; half of both sets is left. Round and
    round every odd part goes, as if the driving width were halved. Back and forth with a
    lopsided pattern (L = 2 S / n) parts 2, 6, 10 go, 4, 8, 12 stay, and the odd ones, the lean,
    only shrink by sqrt(2): the passes of the second set alternate too. Whether its first pass
    goes the way of its neighbour on the left or on the right only mirrors the result.

    Source
    ------
    Derived here; two folds added on a grid in tests/core/test_evenness.py.
    """
    check_positive("driving width", driving_width_m)
    widths = once.repeat_m / driving_width_m
    if not (abs(widths - 1.0) < _SAME_STEP or abs(widths - 2.0) < _SAME_STEP):
        raise OutOfRange("driving widths in one repeat", widths, 1, 2)
    turn = np.exp(-1j * math.pi * driving_width_m / once.wavelength_m)
    return _of_parts(
        once.parts * (1.0 + turn) / 2.0,
        mean=once.mean,
        repeat_m=once.repeat_m,
        tail_fraction=once.tail_fraction,
    )


# --- What covering does to them -----------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class Displacement:
    """How far one covering pass moves seed, as the driver of the cover sees it.

    Attributes
    ----------
    along_sd_m, lateral_sd_m
        Scatter along the travel and across it, standard deviations. [m]
    forward_m
        Mean move with the travel; it shifts ripples and smooths none. [m]
    """

    along_sd_m: float
    lateral_sd_m: float
    forward_m: float = 0.0

    def __post_init__(self) -> None:
        for name, value in (
            ("scatter along the travel", self.along_sd_m),
            ("scatter across the travel", self.lateral_sd_m),
            ("move with the travel", self.forward_m),
        ):
            if not 0.0 <= value < math.inf:
                raise OutOfRange(name, value, 0.0)


def spread_sd_m(displacement: Displacement, angle_rad: float) -> float:
    """Return the scatter of one covering pass as measured across the spread passes. [m]

    Parameters
    ----------
    displacement
        Scatter along and across the covering travel.
    angle_rad
        Angle between covering and spread passes. [rad]

    Notes
    -----
    ``s^2 = along^2 sin^2(angle) + lateral^2 cos^2(angle)``.

    Source
    ------
    Derived here.
    """
    return math.hypot(
        displacement.along_sd_m * math.sin(angle_rad),
        displacement.lateral_sd_m * math.cos(angle_rad),
    )


def combined_sd_m(displacement: Displacement, angles_rad: Sequence[float]) -> float:
    """Return the scatter of several covering passes, each at its angle; variances add. [m]

    Parameters
    ----------
    displacement
        Scatter of one pass, taken as the same for each.
    angles_rad
        Angles between each covering pass and the spread passes; none for no covering. [rad]

    Source
    ------
    Derived here.
    """
    return math.hypot(*(spread_sd_m(displacement, angle) for angle in angles_rad))


def forward_shift_m(displacement: Displacement, angle_rad: float) -> float:
    """Return how far the mean move carries seed across the spread passes. [m]

    Parameters
    ----------
    displacement
        Mean move with the covering travel.
    angle_rad
        Covering heading less the heading of the spread passes. [rad]

    Notes
    -----
    ``forward sin(angle)``, to the left of the spread heading. The next covering pass comes the
    other way and carries as far to the other side: the ripples of neighbouring passes are then
    out of step by twice this, and none is any smaller.

    Source
    ------
    Derived here.
    """
    return displacement.forward_m * math.sin(angle_rad)


@overload
def retained_fraction(wavelength_m: float, sd_m: float) -> float: ...
@overload
def retained_fraction(wavelength_m: FloatArray, sd_m: float | FloatArray) -> FloatArray: ...
def retained_fraction(
    wavelength_m: float | FloatArray, sd_m: float | FloatArray
) -> float | FloatArray:
    """Return the share of a ripple that is left after a scatter across it [fraction].

    Parameters
    ----------
    wavelength_m
        Length of the ripple; any shape that goes with the other. [m]
    sd_m
        Scatter across the ripple, a standard deviation. [m]

    Raises
    ------
    OutOfRange
        A ripple without length.

    Notes
    -----
    ``exp(-2 pi^2 s^2 / L^2)``, the scatter taken as normal. A scatter with a longer tail and the
    same SD leaves a little more of the short ripples and as much of the long ones.

    Source
    ------
    Derived here; tests/core/test_evenness.py holds it against a sum on a grid.
    """
    check_positive("length of the ripple", float(np.min(wavelength_m)))
    kept: FloatArray = np.exp(-2.0 * (math.pi * np.asarray(sd_m) / wavelength_m) ** 2)
    return float(kept) if kept.ndim == 0 else kept


def sd_to_keep_m(wavelength_m: float, *, kept_fraction: float) -> float:
    """Return the scatter that leaves this share of a ripple [m].

    Parameters
    ----------
    wavelength_m
        Length of the ripple. [m]
    kept_fraction
        Share of it that is left. [fraction]

    Notes
    -----
    ``s = L sqrt(-ln(kept) / 2) / pi``: to halve a band of 16 m seed would have to scatter by 3 m.

    Source
    ------
    Derived here.
    """
    check_positive("length of the ripple", wavelength_m)
    check_share("share that is left", kept_fraction)
    return wavelength_m * math.sqrt(-math.log(kept_fraction) / 2.0) / math.pi


def ripple_eased_by_angle_m(
    displacement: Displacement, *, angle_rad: float, eased_fraction: float
) -> float:
    """Return the longest ripple from which the angle itself takes this share [m].

    What covering along the spread passes takes already is not counted to the angle. Zero when
    the angle does not add scatter.

    Parameters
    ----------
    displacement
        Scatter along and across the covering travel.
    angle_rad
        Angle between covering and spread passes. [rad]
    eased_fraction
        Share taken off, beyond what parallel covering takes. [fraction]

    Notes
    -----
    The angle adds ``s^2 = (along^2 - lateral^2) sin^2(angle)``, and
    ``L = pi s sqrt(2 / -ln(1 - eased))``.

    Source
    ------
    Derived here.
    """
    if not 0.0 < eased_fraction < 1.0:
        raise OutOfRange("share taken off", eased_fraction, 0.0, 1.0)
    added = displacement.along_sd_m**2 - displacement.lateral_sd_m**2
    sd_m = math.sqrt(max(added, 0.0)) * abs(math.sin(angle_rad))
    return math.pi * sd_m * math.sqrt(-2.0 / math.log1p(-eased_fraction))


def ripple_kept_table(
    *,
    wavelengths_m: Sequence[float] | FloatArray,
    angles_rad: Sequence[float] | FloatArray,
    displacement: Displacement,
) -> FloatArray:
    """Return the share left of each ripple at each covering angle, one pass [fraction].

    Parameters
    ----------
    wavelengths_m
        Lengths of the ripples: old ridges, rows, tracks, the driving width. (n_ripples,) [m]
    angles_rad
        Angles between covering and spread passes. (n_angles,) [rad]
    displacement
        Scatter along and across the covering travel.

    Returns
    -------
    FloatArray
        Shape (n_ripples, n_angles).

    Source
    ------
    Derived here.
    """
    lengths = np.asarray(wavelengths_m, dtype=np.float64)[:, None]
    scatter = np.array([spread_sd_m(displacement, float(angle)) for angle in angles_rad])
    return retained_fraction(lengths, scatter[None, :])


def covered(before: Ripples, *, angles_rad: Sequence[float], displacement: Displacement) -> Ripples:
    """Return the ripples that are left after covering.

    Parameters
    ----------
    before
        Ripples as spread.
    angles_rad
        Angle between each covering pass and the spread passes; none for no covering. [rad]
    displacement
        Scatter of one covering pass.

    Notes
    -----
    For ground that is covered without a skip. The mean move is left out: it shifts the ripples
    of one covering pass as a whole and changes neither their size nor any share of the ground.

    Source
    ------
    Derived here; against a numerical convolution of six patterns in tests/core/test_evenness.py.
    """
    kept = retained_fraction(before.wavelength_m, combined_sd_m(displacement, angles_rad))
    return Ripples(
        mean=before.mean,
        repeat_m=before.repeat_m,
        wavelength_m=before.wavelength_m,
        amplitude_fraction=before.amplitude_fraction * kept,
        phase_rad=before.phase_rad,
        tail_fraction=before.tail_fraction * float(np.min(kept)) ** 2,
    )


def cv_after_fraction(
    before: Ripples, *, angles_rad: Sequence[float], displacement: Displacement
) -> float:
    """Return the evenness after covering, SD / mean without counting noise [fraction].

    Parameters
    ----------
    before
        Ripples as spread.
    angles_rad
        Angle between each covering pass and the spread passes; none for no covering. [rad]
    displacement
        Scatter of one covering pass.

    Source
    ------
    Derived here; see ``covered``.
    """
    return covered(before, angles_rad=angles_rad, displacement=displacement).cv_fraction


# --- Shares of the ground -----------------------------------------------------------------------


def profile(across: Ripples, *, points_count: int = _POINTS_COUNT) -> FloatArray:
    """Return the dose over the mean across one repeat, from the driving line on [fraction].

    Parameters
    ----------
    across
        Ripples, as spread or as covered.
    points_count
        Evenly spaced points of one repeat, the first on the driving line.

    Returns
    -------
    FloatArray
        Shape (points_count,). The mean is 1 when there are more points than ripples.

    Notes
    -----
    The sum of the ripples at the points, by a fast transform; ripples finer than the points are
    not dropped but read where the points lie.

    Source
    ------
    Derived here.
    """
    check_within("points across", points_count, 2, math.inf)
    slots = np.arange(1, len(across.wavelength_m) + 1) % points_count
    parts = across.parts
    together = np.bincount(slots, parts.real, points_count) + 1j * np.bincount(
        slots, parts.imag, points_count
    )
    # exp(+i 2 pi n j / N): numpy's backward transform, which divides by N.
    shares: FloatArray = 1.0 + np.fft.ifft(together).real * points_count
    return shares


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Ground:
    """How much ground bears which dose, wherever it lies.

    Attributes
    ----------
    shares
        Dose over the mean on equal pieces of ground, rising. (n,) [fraction]
    """

    shares: FloatArray

    def __post_init__(self) -> None:
        if len(self.shares) < 2 or np.any(np.diff(self.shares) < 0.0):
            raise OutOfRange("pieces of ground, rising", len(self.shares), 2)

    @property
    def cv_fraction(self) -> float:
        """Evenness of the pieces, SD / mean [fraction]."""
        return float(self.shares.std() / self.shares.mean())

    @property
    def tenth_quantile_share(self) -> float:
        """The dose over the mean that the thinnest tenth of the ground stays under [fraction].

        The brim of the thinnest tenth, not its mean, which is lower.
        """
        return self.quantile_share(THIN_GROUND_FRACTION)

    def quantile_share(self, ground_fraction: float) -> float:
        """Return the dose over the mean that so much of the ground stays under [fraction]."""
        check_within("share of the ground", ground_fraction, 0.0, 1.0)
        return float(np.quantile(self.shares, ground_fraction, method="hazen"))

    def below_fraction(self, share: float) -> float:
        """Return how much of the ground bears less than this share of the mean [fraction]."""
        count = len(self.shares)
        index = int(np.searchsorted(self.shares, share, side="left"))
        if index in (0, count):
            return index / count
        under, over = float(self.shares[index - 1]), float(self.shares[index])
        return (index - 0.5 + (share - under) / (over - under)) / count


def ground(across: Ripples, *, points_count: int = _POINTS_COUNT) -> Ground:
    """Return how much ground bears which dose over one repeat.

    Parameters
    ----------
    across
        Ripples, as spread or as covered.
    points_count
        Equal pieces of ground to take.

    Source
    ------
    Derived here.
    """
    return Ground(shares=np.sort(profile(across, points_count=points_count)))


def crossed(first: Ripples, second: Ripples) -> Ground:
    """Return the ground under two spread sets that cross, each at half the rate.

    Parameters
    ----------
    first, second
        Ripples of each set at the full rate, as spread or as covered: covering turned off the
        first set meets the second at another angle.

    Notes
    -----
    Wherever the sets cross, at whatever angle but none, each place of one set meets each place
    of the other over the same ground, so the dose is half the sum of two independent ones: all
    pairs of equal pieces of both. ``CV^2 = (a^2 + b^2) / 4``; alike sets come to CV / sqrt(2).

    Source
    ------
    Derived here; a field in two directions counted in tests/core/test_evenness.py.
    """
    pieces = [_atoms(across) for across in (first, second)]
    sums = np.sort(np.add.outer(*pieces).ravel()) / 2.0
    return Ground(shares=sums.reshape(_POINTS_COUNT, -1).mean(axis=1))


def _atoms(across: Ripples) -> FloatArray:
    """Return the mean doses of equal pieces of ground, from the thinnest. (256,)."""
    shares: FloatArray = ground(across).shares.reshape(_ATOMS_COUNT, -1).mean(axis=1)
    return shares


# --- Counts and burial --------------------------------------------------------------------------


def with_counting_noise_fraction(cv_fraction: float, *, seeds_count: float) -> float:
    """Return the evenness that counts would show, chance of single seeds in it [fraction].

    Parameters
    ----------
    cv_fraction
        Evenness of the expected dose. [fraction]
    seeds_count
        Mean number of seeds or plants in one counted piece.

    Notes
    -----
    ``sqrt(CV^2 + 1/n)``; ``core.trays.without_counting_noise_fraction`` takes it out again. A
    count and a pattern must never be compared before.

    Source
    ------
    Derived here: seeds fall as counts whose mean is itself uneven.
    """
    check_positive("seeds in one piece", seeds_count)
    return math.sqrt(cv_fraction**2 + 1.0 / seeds_count)


def left_on_top_fraction(mixing_fraction: float, *, passes_count: int) -> float:
    """Return the share of what lay on the surface that is still there after covering [fraction].

    Parameters
    ----------
    mixing_fraction
        Share of the surface material that one pass mixes through its depth. [fraction]
    passes_count
        Covering passes, all alike.

    Notes
    -----
    ``(1 - e)^n``. Worked out for residue; dense grain falls into loosened soil, so this is the
    gloomy end of what happens to seed.

    Source
    ------
    swat-tillage, the meaning of its mixing efficiency.
    """
    check_within("share mixed in", mixing_fraction, 0.0, 1.0)
    check_within("covering passes", passes_count, 0, math.inf)
    left: float = (1.0 - mixing_fraction) ** passes_count
    return left


def mixed_between_fraction(
    mixing_fraction: float, *, worked_depth_m: float, from_m: float, to_m: float, passes_count: int
) -> float:
    """Return the share of what lay on the surface that now lies between two depths [fraction].

    Parameters
    ----------
    mixing_fraction
        Share of the surface material that one pass mixes through its depth. [fraction]
    worked_depth_m
        Depth worked. [m]
    from_m, to_m
        The depths; what lies beyond the worked depth bears nothing. [m]
    passes_count
        Covering passes, all alike.

    Notes
    -----
    What is mixed in lies evenly through the worked depth.

    Source
    ------
    swat-tillage, the meaning of its mixing efficiency.
    """
    check_positive("worked depth", worked_depth_m)
    check_within("upper depth", from_m, 0.0, to_m)
    inside_m = min(to_m, worked_depth_m) - min(from_m, worked_depth_m)
    mixed = 1.0 - left_on_top_fraction(mixing_fraction, passes_count=passes_count)
    return mixed * inside_m / worked_depth_m
