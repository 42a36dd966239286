"""How fast the best driving width is found: the sum over meetings against plain folding.

121 widths from a row of 49 trays, both ways of driving, in one run on one core. Run it with
``.venv/bin/python benchmarks/trays.py``; it exits 1 when a target is missed.
"""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from duskline.core.trays import Evenness, TrayPattern, evenness

FloatArray = npt.NDArray[np.float64]

TRAY_COUNT, SPACING_M = 49, 0.5
WIDTHS_M = np.linspace(8.0, 20.0, 121)
POINTS_PER_SPACING = 8
FAST_RUNS, PLAIN_RUNS = 300, 15
MOST_MS, LEAST_RATIO = 1.0, 30.0


def pattern() -> TrayPattern:
    """Return a lopsided, ragged pattern, the same at every run."""
    places = SPACING_M * (np.arange(TRAY_COUNT) - (TRAY_COUNT - 1) / 2)
    ragged = 1 + 0.1 * np.sin(7.3 * np.arange(TRAY_COUNT))
    catch = np.clip(14 - np.abs(places - 0.4), 0, 9) * ragged
    return TrayPattern(
        first_tray_m=float(places[0]), spacing_m=SPACING_M, catch=tuple(catch.tolist())
    )


def plain_fold(first_m: float, spacing_m: float, catch: FloatArray) -> FloatArray:
    """Return evenness by laying pass beside pass: frozen here, to be compared with for good.

    At the tray points of whole spacings, else on a grid of 8 points to a spacing, straight
    lines between trays. (2, n_widths)
    """
    places = first_m + spacing_m * np.arange(-1, len(catch) + 1)
    amounts = np.concatenate([[0.0], catch, [0.0]])
    reach = float(np.abs(places).max())
    figures = np.empty((2, len(WIDTHS_M)))
    for index, width in enumerate(WIDTHS_M):
        steps = width / spacing_m
        whole = abs(steps - round(steps)) < 1e-6
        for way, repeats in enumerate((2, 1)):
            if whole:
                points = first_m + spacing_m * np.arange(repeats * round(steps))
            else:
                count = math.ceil(repeats * steps * POINTS_PER_SPACING)
                points = (np.arange(count) + 0.5) * (repeats * width / count)
            farthest = math.ceil((reach + float(np.abs(points).max())) / width)
            dose = np.zeros_like(points)
            for number in range(-farthest, farthest + 1):
                side = points - number * width
                turned = way == 0 and number % 2
                dose += np.interp(-side if turned else side, places, amounts, left=0.0, right=0.0)
            figures[way, index] = dose.std() / dose.mean()
    return figures


def best_ms(work: Callable[[], object], runs: int) -> float:
    """Return the best time of so many runs [ms]."""
    best = math.inf
    for _ in range(runs):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best * 1e3


def largest_difference(found: Evenness, plain: FloatArray, where: npt.NDArray[np.bool_]) -> float:
    """Return the largest difference of evenness at some widths, in points of a hundred."""
    both = np.stack([found.back_and_forth_fraction, found.round_and_round_fraction])
    return float(100 * np.max(np.abs(both - plain)[:, where]))


def main() -> int:
    """Print the figures; return 1 when a target is missed."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    trays = pattern()
    catch = np.asarray(trays.catch)

    def fast() -> Evenness:
        return evenness(trays, driving_widths_m=WIDTHS_M)

    def plain() -> FloatArray:
        return plain_fold(trays.first_tray_m, trays.spacing_m, catch)

    found, laid = fast(), plain()
    lines = evenness(trays, driving_widths_m=WIDTHS_M, straight_lines=True)
    whole = ~found.interpolated
    at_trays = largest_difference(found, laid, whole)
    between = largest_difference(lines, laid, ~whole)
    put_back = largest_difference(found, laid, ~whole)
    fast_ms, plain_ms = best_ms(fast, FAST_RUNS), best_ms(plain, PLAIN_RUNS)
    ratio = plain_ms / fast_ms
    print(f"{len(WIDTHS_M)} driving widths x {TRAY_COUNT} trays, both ways of driving, one core")
    print(f"sum over meetings   {fast_ms:8.3f} ms  (best of {FAST_RUNS}; target {MOST_MS:g} ms)")
    print(f"plain numpy fold    {plain_ms:8.3f} ms  (best of {PLAIN_RUNS})")
    print(f"ratio               {ratio:8.1f}     (target {LEAST_RATIO:g})")
    print(f"largest difference, points of a hundred: {at_trays:.1e} at the {whole.sum()} whole")
    print(f"spacings; {between:.4f} between them on straight lines alone; {put_back:.3f} with")
    print("what straight lines miss put back, as it is answered")
    same = at_trays < 1e-6 and between < 0.02
    return 0 if fast_ms <= MOST_MS and ratio >= LEAST_RATIO and same else 1


if __name__ == "__main__":
    sys.exit(main())
