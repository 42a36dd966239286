"""How fast headings are compared: the scan against clipping every row with shapely.

180 headings across 114 acres with 16 corners, a pond and a waterway, rows 8.7 m apart, in one
run on one core. Run it with ``.venv/bin/python benchmarks/headings.py``; it exits 1 when a
target is missed.
"""

from __future__ import annotations

import os

os.environ.setdefault("NUMBA_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import functools
import math
import sys
import time
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import shapely

from duskline.core.outline import Outline
from duskline.core.scan import Scan, runs_at, scan_headings

FloatArray = npt.NDArray[np.float64]

ACRES, M2_PER_ACRE = 114.0, 4046.8564224
WIDTH_M = 8.7
HEADINGS_RAD = np.radians(np.arange(180) + 0.25)
FAST_RUNS, PLAIN_RUNS = 300, 3
MOST_MS, LEAST_RATIO, MOST_APART = 1.0, 500.0, 1e-9

# Drawn by hand: two notches, a creek side, a cut corner; brought to 114 acres when it is used.
OUTER_M = [
    *[(0, 0), (310, 8), (312, 70), (390, 72), (392, 4), (820, 0), (838, 150), (806, 290)],
    *[(842, 420), (700, 566), (420, 572), (418, 490), (330, 488), (328, 575), (40, 580), (6, 300)],
]
POND_M = [(590, 250), (640, 232), (676, 268), (668, 318), (622, 330), (588, 300)]
WATERWAY_M = [(120, 180), (290, 240), (360, 330), (348, 340), (280, 252), (114, 194)]


def field() -> Outline:
    """Return the field, the same at every run."""
    drawn = shapely.Polygon(OUTER_M, [POND_M, WATERWAY_M])
    times = math.sqrt(ACRES * M2_PER_ACRE / drawn.area)
    return Outline(
        exterior_m=times * np.asarray(OUTER_M, dtype=np.float64),
        holes_m=tuple(times * np.asarray(hole, dtype=np.float64) for hole in (POND_M, WATERWAY_M)),
    )


def clip_with_shapely(shape: shapely.Polygon) -> tuple[FloatArray, npt.NDArray[np.int64]]:
    """Return lengths and runs by clipping: frozen here, to be compared with for good.

    The field is turned once a heading, and all its rows meet it as one bundle of lines.
    """
    lengths = np.empty(len(HEADINGS_RAD))
    runs = np.empty(len(HEADINGS_RAD), dtype=np.int64)
    for index, heading in enumerate(HEADINGS_RAD):
        cos, sin = math.cos(heading), math.sin(heading)
        turn = np.asarray([[cos, -sin], [sin, cos]])
        turned = shapely.transform(shape, lambda corners, turn=turn: corners @ turn)
        west, south, east, north = turned.bounds
        count = math.ceil((north - south) / WIDTH_M - 1e-9)
        middles = south + (np.arange(count) + 0.5) * WIDTH_M
        middles[-1] = north - 0.5 * WIDTH_M
        ends = np.stack([np.full(count, west - 1.0), middles, np.full(count, east + 1.0), middles])
        lines = shapely.multilinestrings(shapely.linestrings(ends.T.reshape(-1, 2, 2)))
        inside = shapely.intersection(lines, turned)
        lengths[index] = shapely.length(inside)
        runs[index] = shapely.get_num_geometries(inside)
    return lengths, runs


def best_ms(work: Callable[[], object], runs: int) -> float:
    """Return the best time of so many runs [ms]."""
    best = math.inf
    for _ in range(runs):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best * 1e3


def main() -> int:
    """Print the figures; return 1 when a target is missed."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    ground = field()
    shape = ground.shape
    shapely.prepare(shape)

    def fast() -> Scan:
        return scan_headings([ground], headings_rad=HEADINGS_RAD, width_m=WIDTH_M)

    found = fast()
    lengths, runs = clip_with_shapely(shape)
    apart = float(np.abs(found.lengths_m / lengths - 1.0).max())
    same_runs = bool((found.runs_count == runs).all())
    fast_ms = best_ms(fast, FAST_RUNS)
    plain_ms = best_ms(lambda: clip_with_shapely(shape), PLAIN_RUNS)
    ratio = plain_ms / fast_ms
    corners = len(ground.exterior_m)
    acres = ground.area_m2 / M2_PER_ACRE
    print(f"{len(HEADINGS_RAD)} headings x {acres:.1f} ac, {corners} corners, 2 holes, {WIDTH_M} m")
    print(f"scan of edges       {fast_ms:9.3f} ms  (best of {FAST_RUNS}; target {MOST_MS:g} ms)")
    print(f"clip with shapely   {plain_ms:9.1f} ms  (best of {PLAIN_RUNS})")
    print(f"ratio               {ratio:9.0f}     (target {LEAST_RATIO:g})")
    print(f"largest difference of lengths {apart:.1e} of the whole, runs the same: {same_runs}")
    one = functools.partial(runs_at, [ground], heading_rad=0.3, width_m=WIDTH_M)
    print(f"one heading laid out{best_ms(one, FAST_RUNS):9.3f} ms")
    met = fast_ms <= MOST_MS and ratio >= LEAST_RATIO and apart <= MOST_APART and same_runs
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
