"""Rows across ground at many headings: how long they are and how often they are broken.

Everything stands in a flat local plane, x to the east and y to the north, in metres. Rows lie
along a heading, a driving width apart, counted from the right-hand side of the ground; the last
one is moved in so that it ends flush with the left-hand side.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from duskline.core.checks import check_positive
from duskline.core.errors import OutlineRefused, OutOfRange
from duskline.core.outline import FloatArray, Outline

__all__ = ["Ground", "IntArray", "Runs", "Scan", "runs_at", "scan_headings"]

IntArray: TypeAlias = NDArray[np.int64]
Ground: TypeAlias = Sequence[Outline] | Sequence[FloatArray]
"""Pieces of ground; or all their rings, outer ones left-turning, holes right-turning."""

# Whole counts are taken a hair generously, so that 400 m in 10 m rows is 40 rows, not 41.
_HAIR = 1e-9


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Scan:
    """What the rows of each heading come to.

    Attributes
    ----------
    lengths_m
        The middles of all rows together, inside the ground, ``(n_headings,)``. [m]
    runs_count
        In how many runs they are driven, ``(n_headings,)``: a row broken by a hole is two.
    rows_count
        How many rows lie side by side, ``(n_headings,)``.
    """

    lengths_m: FloatArray
    runs_count: IntArray
    rows_count: IntArray


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Runs:
    """The runs of one heading, from the right-hand row to the left, along each row in order.

    Places are along and across the heading: ``x cos + y sin`` and ``y cos - x sin``.

    Attributes
    ----------
    row_indices
        The row each run lies in, ``(n_runs,)``, from 0.
    start_along_m, end_along_m
        Where it starts and ends along the heading, ``(n_runs,)``. [m]
    middles_across_m
        Where the middle of each row lies across the heading, ``(n_rows,)``. [m]
    """

    row_indices: IntArray
    start_along_m: FloatArray
    end_along_m: FloatArray
    middles_across_m: FloatArray


def scan_headings(ground: Ground, *, headings_rad: FloatArray, width_m: float) -> Scan:
    """Return length [m], runs and rows for each heading.

    Parameters
    ----------
    ground
        The pieces to drive; rows are laid across all of them together.
    headings_rad
        Headings to try, ``(n_headings,)``, counter-clockwise from east. [rad]
    width_m
        From one row to the next. [m]

    Raises
    ------
    OutOfRange
        A width not above zero, or a heading that is no number.
    OutlineRefused
        No ground, or rings that turn the wrong way.

    Notes
    -----
    Walked with the ground on the left, an edge that climbs across the rows ends a run on each
    row it crosses, and one that falls starts one. So the length is the sum of the places
    crossed, climbing less falling. Along one edge these places are evenly spaced, and their sum
    needs only the first and the last: one step for each edge and heading, however many rows.

    A row that lies along an edge, or meets a corner, counts as lying a hair to its left.

    Source
    ------
    Derived here; tests/core/test_scan.py clips the same rows with shapely.
    """
    corners_m, following = _flat(ground, width_m)
    headings = np.ascontiguousarray(headings_rad, dtype=np.float64).reshape(-1)
    _check_headings(headings)
    lengths_m = np.empty(len(headings))
    runs, rows = np.empty((2, len(headings)), dtype=np.int64)
    # About a corner of the ground: a field far from the origin loses no digits.
    about_m = np.ascontiguousarray(corners_m - corners_m[0])
    _compiled(_scan)(about_m, following, headings, width_m, lengths_m, runs, rows)
    return Scan(lengths_m=lengths_m, runs_count=runs, rows_count=rows)


def runs_at(ground: Ground, *, heading_rad: float, width_m: float) -> Runs:
    """Return where the middle of every row of one heading lies inside the ground [m].

    The same rows as ``scan_headings`` counts.

    Parameters
    ----------
    ground
        The pieces to drive; rows are laid across all of them together.
    heading_rad
        Along the rows, counter-clockwise from east. [rad]
    width_m
        From one row to the next. [m]

    Raises
    ------
    OutOfRange
        A width not above zero, or a heading that is no number.
    OutlineRefused
        No ground, or rings that turn the wrong way.

    Source
    ------
    Derived here; tests/core/test_scan.py clips the same rows with shapely.
    """
    corners_m, following = _flat(ground, width_m)
    _check_headings(np.asarray([heading_rad]))
    cos, sin = math.cos(heading_rad), math.sin(heading_rad)
    along_m = corners_m[:, 0] * cos + corners_m[:, 1] * sin
    across_m = corners_m[:, 1] * cos - corners_m[:, 0] * sin
    middles_m = _row_middles_m(float(across_m.min()), float(across_m.max()), width_m)
    rows, starts_m, ends_m = _compiled(_runs)(along_m, across_m, following, middles_m, width_m)
    return Runs(
        row_indices=rows, start_along_m=starts_m, end_along_m=ends_m, middles_across_m=middles_m
    )


def _row_middles_m(south_m: float, north_m: float, width_m: float) -> FloatArray:
    count = max(math.ceil((north_m - south_m) / width_m - _HAIR), 1)
    if count == 1:
        return np.asarray([0.5 * (south_m + north_m)])
    middles_m: FloatArray = south_m + (np.arange(count, dtype=np.float64) + 0.5) * width_m
    middles_m[-1] = north_m - 0.5 * width_m
    return middles_m


def _flat(ground: Ground, width_m: float) -> tuple[FloatArray, IntArray]:
    """Return all corners one below the other, and for each the corner its edge goes to."""
    check_positive("driving width", width_m)
    rings_m: list[FloatArray] = []
    for piece in ground:
        if isinstance(piece, Outline):
            rings_m += (piece.exterior_m, *piece.holes_m)
        else:
            rings_m.append(piece)
    if not rings_m:
        raise OutlineRefused("there is no ground to lay rows across")
    corners_m = np.ascontiguousarray(np.concatenate(rings_m), dtype=np.float64)
    following = np.arange(1, len(corners_m) + 1)
    counts = np.asarray([len(ring_m) for ring_m in rings_m])
    ends = np.cumsum(counts)
    following[ends - 1] = ends - counts
    x_m, y_m = (corners_m - corners_m[0]).T
    if not float(np.sum(x_m * y_m[following] - x_m[following] * y_m)) > 0.0:
        raise OutlineRefused("the rings hold no ground on their left")
    return corners_m, following


def _check_headings(headings_rad: FloatArray) -> None:
    if not np.isfinite(headings_rad).all():
        raise OutOfRange("heading", float(headings_rad[~np.isfinite(headings_rad)][0]))


@functools.cache
def _compiled(plain: Callable[..., Any]) -> Callable[..., Any]:
    # numba takes a while to load; only who lays rows waits for it.
    from numba import njit

    compiled: Callable[..., Any] = njit(cache=True)(plain)
    return compiled


def _scan(
    corners_m: FloatArray,
    following: IntArray,
    headings_rad: FloatArray,
    width_m: float,
    lengths_m: FloatArray,
    runs: IntArray,
    rows: IntArray,
) -> None:  # pragma: no cover - compiled
    """Write length, runs and rows of every heading."""
    count = corners_m.shape[0]
    along, across = np.empty(count), np.empty(count)
    below = np.empty(count, np.int64)
    for k in range(headings_rad.shape[0]):
        cos, sin = math.cos(headings_rad[k]), math.sin(headings_rad[k])
        south, north = math.inf, -math.inf
        for i in range(count):
            x, y = corners_m[i, 0], corners_m[i, 1]
            along[i] = x * cos + y * sin
            across[i] = y * cos - x * sin
            south, north = min(south, across[i]), max(north, across[i])
        n = max(math.ceil((north - south) / width_m - 1e-9), 1)
        # All rows but the last lie evenly; the last is looked at by itself.
        last = north - 0.5 * width_m if n > 1 else 0.5 * (south + north)
        for i in range(count):
            below[i] = min(max(math.ceil((across[i] - south) / width_m - 0.5), 0), n - 1)
        length, crossed = 0.0, 0
        for i in range(count):
            j = following[i]
            met = below[j] - below[i]
            if met != 0:
                middle = south + 0.5 * (below[i] + below[j]) * width_m
                share = min(max((middle - across[i]) / (across[j] - across[i]), 0.0), 1.0)
                length += met * (along[i] + share * (along[j] - along[i]))
                crossed += abs(met)
            met = (across[j] > last) * 1 - (across[i] > last) * 1
            if met != 0:
                share = (last - across[i]) / (across[j] - across[i])
                length += met * (along[i] + share * (along[j] - along[i]))
                crossed += 1
        lengths_m[k] = length
        runs[k] = crossed // 2
        rows[k] = n


def _runs(
    along: FloatArray, across: FloatArray, following: IntArray, middles: FloatArray, width_m: float
) -> tuple[IntArray, FloatArray, FloatArray]:  # pragma: no cover - compiled
    """Return row, start and end of every run of the rows' middles."""
    rows = middles.shape[0]
    # The row a corner lies below is found from the even spacing, then made sure of.
    first = np.zeros(rows + 1, np.int64)
    for fill in range(2):
        if fill == 1:
            places = np.empty(first[rows])
            free = first[:-1].copy()
        for i in range(across.shape[0]):
            j = following[i]
            low, high = min(across[i], across[j]), max(across[i], across[j])
            row = max(int((low - middles[0]) / width_m) - 1, 0)
            while row < rows and middles[row] < high:
                if middles[row] >= low:
                    if fill == 0:
                        first[row + 1] += 1
                    else:
                        share = (middles[row] - across[i]) / (across[j] - across[i])
                        places[free[row]] = along[i] + share * (along[j] - along[i])
                        free[row] += 1
                row += 1
        if fill == 0:
            first = np.cumsum(first)
    row_indices = np.empty(places.shape[0] // 2, np.int64)
    for row in range(rows):
        # By hand, as there are few: numba's own sort, kept on disk, can be taken in another
        # process for the argsort of other kernels that bears the same name there.
        for i in range(first[row] + 1, first[row + 1]):
            place, at = places[i], i
            while at > first[row] and places[at - 1] > place:
                places[at] = places[at - 1]
                at -= 1
            places[at] = place
        row_indices[first[row] // 2 : first[row + 1] // 2] = row
    return row_indices, places[::2].copy(), places[1::2].copy()
