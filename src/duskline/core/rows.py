"""Rows of passes across a piece of ground: where each run begins and ends.

A row is a strip as wide as the tool. A run lasts as long as there is ground anywhere across its
strip, so a slanted end is worked to its far side. One sweep over the edges finds every run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from duskline.core.errors import OutOfRange
from duskline.core.outline import FloatArray

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["Rows", "lay_rows", "row_bottoms_m", "rows_count"]

# Whole counts are taken a hair generously, so that 400 m in 10 m rows is 40 rows, not 41.
_HAIR = 1e-9
# Ground that only brushes a strip by this much is its neighbour's. [m]
_BRUSH_M = 1e-3
# A run shorter than a step is a scrap that nobody lowers a tool for. [m]
_SCRAP_M = 0.5


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Rows:
    """Runs along one heading, row by row from the right hand of the heading to its left.

    Attributes
    ----------
    heading_rad
        Along which the runs lie, counter-clockwise from east. [rad]
    rows_count
        Strips side by side.
    row_indices
        The row of each run, ``(n_runs,)``.
    spans_m
        Start and end of each run along the heading, ``(n_runs, 2)``. [m]
    middles_m
        Where each run's middle line lies across the heading, ``(n_runs,)``. [m]
    """

    heading_rad: float
    rows_count: int
    row_indices: np.ndarray
    spans_m: FloatArray
    middles_m: FloatArray

    @property
    def lengths_m(self) -> FloatArray:
        """How long each run is, ``(n_runs,)``. [m]"""
        lengths_m: FloatArray = self.spans_m[:, 1] - self.spans_m[:, 0]
        return lengths_m

    def ends_m(self) -> FloatArray:
        """Return the ends of the runs, ``(n_runs, 2, 2)``: run, start or end, x or y. [m]"""
        cos, sin = math.cos(self.heading_rad), math.sin(self.heading_rad)
        along_m, across_m = self.spans_m, self.middles_m[:, None]
        return np.stack([along_m * cos - across_m * sin, along_m * sin + across_m * cos], axis=2)


def rows_count(*, extent_m: float, driving_width_m: float, width_m: float | None = None) -> int:
    """Return how many passes lie side by side across an extent.

    Parameters
    ----------
    extent_m
        From side to side, across the passes. [m]
    driving_width_m
        From one pass to the next. [m]
    width_m
        What one pass works, its overlap included; the driving width where not given. [m]

    Raises
    ------
    OutOfRange
        A negative extent, a driving width not above zero, or one above the width.

    Notes
    -----
    ``n = ceil((extent - width) / driving width) + 1``, at least 1 where there is any extent; the
    last pass laps the one before it. Without overlap that is ``ceil(extent / width)``.

    Source
    ------
    Derived here; MACH-C12, C71 and C74 in tests/core/test_passes.py.
    """
    full_m = driving_width_m if width_m is None else width_m
    if not driving_width_m > 0.0:
        raise OutOfRange("driving width", driving_width_m, 0.0)
    if not full_m >= driving_width_m:
        raise OutOfRange("driving width", driving_width_m, 0.0, full_m)
    if not extent_m >= 0.0:
        raise OutOfRange("extent", extent_m, 0.0)
    if extent_m == 0.0:
        return 0
    return max(math.ceil((extent_m - full_m) / driving_width_m - _HAIR), 0) + 1


def row_bottoms_m(
    *, south_m: float, north_m: float, driving_width_m: float, width_m: float
) -> FloatArray:
    """Return where each strip begins across the heading, ``(n_rows,)``. [m]

    The last strip ends with the ground and laps the one before; a single strip lies in the
    middle.
    """
    extent_m = north_m - south_m
    count = rows_count(extent_m=extent_m, driving_width_m=driving_width_m, width_m=width_m)
    if count <= 1:
        return np.asarray([0.5 * (south_m + north_m - width_m)])
    bottoms_m: FloatArray = south_m + np.arange(count, dtype=np.float64) * driving_width_m
    bottoms_m[-1] = north_m - width_m
    return bottoms_m


def lay_rows(
    rings_m: Sequence[FloatArray],
    *,
    heading_rad: float,
    driving_width_m: float,
    width_m: float | None = None,
) -> Rows:
    """Return every run over a piece of ground along one heading.

    Parameters
    ----------
    rings_m
        Corners of every ring of the ground, outer edges and holes alike, each ``(n, 2)``, the
        first corner not repeated. [m]
    heading_rad
        Along which the runs lie, counter-clockwise from east. [rad]
    driving_width_m, width_m
        From one pass to the next, and what one pass works. [m]

    Raises
    ------
    OutOfRange
        As for `rows_count`.

    Notes
    -----
    From a point of the ground in a strip go straight across until the strip's edge or the
    ground's own edge: so a run's extent is the union of the ground's cuts along the two edges of
    the strip and of the stretches of the ground's edges inside it.

    Source
    ------
    Derived here; tests/core/test_rows.py lays the same runs with shapely.
    """
    cos, sin = math.cos(heading_rad), math.sin(heading_rad)
    edges_m = _edges(rings_m, cos, sin)
    full_m = driving_width_m if width_m is None else width_m
    south_m, north_m = float(edges_m[:, 1].min()), float(edges_m[:, 1].max())
    bottoms_m = row_bottoms_m(
        south_m=south_m, north_m=north_m, driving_width_m=driving_width_m, width_m=full_m
    )
    rows, starts_m, ends_m = _kernel()(edges_m, bottoms_m, full_m, _BRUSH_M)
    driven = ends_m - starts_m > _SCRAP_M
    rows, starts_m, ends_m = rows[driven], starts_m[driven], ends_m[driven]
    return Rows(
        heading_rad=heading_rad,
        rows_count=len(bottoms_m),
        row_indices=rows,
        spans_m=np.stack([starts_m, ends_m], axis=1),
        middles_m=bottoms_m[rows] + 0.5 * full_m,
    )


def _edges(rings_m: Sequence[FloatArray], cos: float, sin: float) -> FloatArray:
    """Return every edge turned so that the heading lies along x, ``(n, 4)`` x0 y0 x1 y1."""
    parts = []
    for ring_m in rings_m:
        turned_m = np.empty((len(ring_m), 4))
        turned_m[:, 0] = ring_m[:, 0] * cos + ring_m[:, 1] * sin
        turned_m[:, 1] = ring_m[:, 1] * cos - ring_m[:, 0] * sin
        turned_m[:, 2:] = np.roll(turned_m[:, :2], -1, axis=0)
        parts.append(turned_m)
    return np.concatenate(parts)


@lru_cache(maxsize=1)
def _kernel() -> Callable[..., tuple[np.ndarray, FloatArray, FloatArray]]:
    # numba takes half a second to import; commands that lay no rows do without it.
    from duskline.core.rows_kernel import runs_in_strips

    return runs_in_strips
