"""How fast passes are laid on cells: exact areas against a rasteriser that asks cell middles.

300 passes on 5000 x 5000 cells of 0.2 m, straight and bent (1200 corners each), in one run on
one core. Run it with ``.venv/bin/python benchmarks/worked.py``; it exits 1 when a target is
missed. Needs ``rasterio`` (a development requirement: only this comparison uses it). The
baseline's time holds its own reading of the corners, which it does afresh at every call: little
for straight passes, much for bent ones. Both are judged; the straight figure is the one to go by.
"""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Callable
from typing import Any

os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import numpy as np
import numpy.typing as npt
import shapely

from duskline.core.coverage import (
    Grid,
    Rings,
    coverage,
    ground_worked,
    path_rings,
    rings_of,
    swath_rings,
)

FloatArray = npt.NDArray[np.float64]

PASS_COUNT, CORNER_COUNT = 300, 1200
SIDE_CELLS, CELL_M = 5000, 0.2
WIDTH_M, SPACING_M = 3.4, 3.2
FAST_RUNS, PLAIN_RUNS = 15, 5
LEAST_RATIO, MOST_SUM_ERROR, MOST_UNION_ERROR = 1.5, 1e-9, 1e-5


def lines_m() -> FloatArray:
    """Return the straight passes, slanted one degree, start and end. (n, 2, 2) [m]"""
    east = 10.0 + SPACING_M * np.arange(PASS_COUNT)
    lean = 900.0 * math.tan(math.radians(1.0))
    start = np.column_stack([east, np.full(PASS_COUNT, 50.0)])
    end = np.column_stack([east + lean, np.full(PASS_COUNT, 950.0)])
    return np.stack([start, end], axis=1)


def straight() -> Rings:
    """Return the ground of the straight passes."""
    return swath_rings(lines_m(), width_m=WIDTH_M)


def bent() -> Rings:
    """Return the ground of passes that sway 1.5 m, each one ring of 1200 corners."""
    along = np.linspace(0.0, 1.0, CORNER_COUNT // 2)
    passes = []
    for start, end in lines_m():
        path = start + along[:, None] * (end - start)
        path[:, 0] += 1.5 * np.sin(20.0 * along)
        passes.append(path_rings(path, width_m=WIDTH_M))
    return rings_of(*passes)


def best_ms(work: Callable[[], object], runs: int) -> float:
    """Return the best time of so many runs [ms]."""
    best = math.inf
    for _ in range(runs):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best * 1e3


def compare(name: str, rings: Rings, grid: Grid) -> bool:
    """Print one comparison; return whether it keeps its targets."""
    from rasterio.features import rasterize
    from rasterio.transform import from_origin

    # Both get the rings as each likes them best; turning them round is not timed. Row 0 of the
    # baseline lies in the north: for times and sums that is the same.
    side = SIDE_CELLS * CELL_M
    north = from_origin(0.0, side, CELL_M, CELL_M)
    shapes: list[Any] = [(shapely.geometry.mapping(shape), 1) for shape in rings.shapes]

    def plain() -> npt.NDArray[np.float32]:
        out = np.zeros((SIDE_CELLS, SIDE_CELLS), dtype=np.float32)
        rasterize(shapes, out=out, transform=north, merge_alg=_add())
        return out

    def fast() -> npt.NDArray[np.float32]:
        return coverage(grid, rings)

    exact_m2 = float(rings.areas_m2.sum())
    found, laid = fast(), plain()
    sum_error = abs(found.sum(dtype=np.float64) * grid.cell_m2 / exact_m2 - 1.0)
    plain_error = abs(laid.sum(dtype=np.float64) * grid.cell_m2 / exact_m2 - 1.0)
    union_m2 = float(shapely.union_all(rings.shapes).area)
    union_error = abs(ground_worked(rings).worked_m2 / union_m2 - 1.0)
    plain_union = abs(np.minimum(laid, 1.0).sum(dtype=np.float64) * grid.cell_m2 / union_m2 - 1.0)
    fast_ms, plain_ms = best_ms(fast, FAST_RUNS), best_ms(plain, PLAIN_RUNS)
    areas_ms = best_ms(lambda: ground_worked(rings), PLAIN_RUNS)
    ratio = plain_ms / fast_ms
    print(f"{name}: {len(rings)} passes, {len(rings.coords_m):,} corners")
    print(f"  exact areas         {fast_ms:8.1f} ms  (best of {FAST_RUNS})")
    print(f"  once and twice, lines {areas_ms:6.1f} ms  (no map kept)")
    print(f"  middle of the cell  {plain_ms:8.1f} ms  (best of {PLAIN_RUNS})")
    print(f"  ratio               {ratio:8.2f}     (target {LEAST_RATIO:g})")
    print(f"  error of the sum    {sum_error:8.1e}     (middle of the cell {plain_error:.1e})")
    print(f"  error of the union  {union_error:8.1e}     (middle of the cell {plain_union:.1e})")
    return ratio >= LEAST_RATIO and sum_error <= MOST_SUM_ERROR and union_error <= MOST_UNION_ERROR


def _add() -> Any:
    from rasterio.enums import MergeAlg

    return MergeAlg.add


def main() -> int:
    """Print the figures; return 1 when a target is missed."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    grid = Grid(origin_m=(0.0, 0.0), cell_m=CELL_M, rows=SIDE_CELLS, columns=SIDE_CELLS)
    print(f"{SIDE_CELLS} x {SIDE_CELLS} cells of {CELL_M} m, one core")
    kept = [compare("straight", straight(), grid), compare("bent", bent(), grid)]
    return 0 if all(kept) else 1


if __name__ == "__main__":
    sys.exit(main())
