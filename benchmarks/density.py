"""How fast seed on the ground is mapped: 46 ha in cells of 0.25 m, both machines, every cell.

805 x 573 m, spread 16 m apart at 10 degrees, covered 8.7 m apart with a 9 m tool; both stray.
In one run on one core, beside the copying of as many cells and a plain scipy form of the same
step. Run it with ``.venv/bin/python benchmarks/density.py``; it exits 1 when a target is missed.
Peak memory is that of a child process of its own, above one that only imports the package and
its compiled code (a field of 40 m).
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import numpy as np
import numpy.typing as npt
from scipy import fft, ndimage

from duskline.core.density import (
    DensityMap,
    Displacement,
    DrivenLines,
    Steering,
    Tool,
    density_map,
)
from duskline.core.outline import Outline
from duskline.core.trays import TrayPattern

FloatArray = npt.NDArray[np.float64]
CellMap = npt.NDArray[np.float32]

EAST_M, NORTH_M, CELL_M, MAP_CELL_M = 805.0, 573.0, 0.25, 2.0
SWATH_M, TOOL_M, STEP_M, ANGLE_RAD = 16.0, 9.0, 8.7, math.radians(10.0)
MOVED = Displacement(along_sd_m=0.4, lateral_sd_m=0.12, forward_m=0.3)
FAST_RUNS, PLAIN_RUNS = 9, 3
LEAST_M_CELLS_PER_S, STRETCH_M_CELLS_PER_S, MOST_MB, MOST_DIFFERENCE = 25.0, 60.0, 100.0, 1e-3


def rectangle(east_m: float, north_m: float) -> Outline:
    """Return a field."""
    return Outline(
        exterior_m=np.array([[0.0, 0.0], [east_m, 0.0], [east_m, north_m], [0.0, north_m]])
    )


def back_and_forth(width_m: float, heading_rad: float, overlap_m: float = 60.0) -> DrivenLines:
    """Return passes over the field and beyond it, every second one the other way."""
    corners = rectangle(EAST_M, NORTH_M).exterior_m
    along = np.array([math.cos(heading_rad), math.sin(heading_rad)])
    across = np.array([-along[1], along[0]])
    side, length = corners @ across, corners @ along
    places = np.arange(side.min() - 1.5 * width_m, side.max() + 2.0 * width_m, width_m)
    ends = np.array([length.min() - overlap_m, length.max() + overlap_m])
    lines = ends[None, :, None] * along + places[:, None, None] * across
    lines[1::2] = lines[1::2, ::-1]
    return DrivenLines(lines_m=lines)


def pattern() -> TrayPattern:
    """Return a trapezoid 40 m wide at its foot, ragged from tray to tray."""
    places = np.arange(-24.0, 24.25, 0.5)
    catch = np.clip((20.0 - np.abs(places)) / 12.0, 0.0, 1.0) * (1 + 0.1 * np.sin(7.3 * places))
    return TrayPattern(first_tray_m=-24.0, spacing_m=0.5, catch=tuple(catch.tolist()))


def mapped(
    outline: Outline,
    *,
    moved: Displacement = MOVED,
    step_m: float = STEP_M,
    strays: bool = True,
    map_cell_m: float | None = MAP_CELL_M,
) -> DensityMap:
    """Return the density map of one spreading and one covering."""
    return density_map(
        outline,
        spread=back_and_forth(SWATH_M, ANGLE_RAD),
        pattern=pattern(),
        driving_width_m=SWATH_M,
        spread_steering=Steering(sd_m=0.05 if strays else 0.0),
        tools=[
            Tool(
                lines=back_and_forth(step_m, 0.0),
                width_m=TOOL_M,
                displacement=moved,
                steering=Steering(sd_m=0.2 if strays else 0.0),
            )
        ],
        heading_rad=0.0,
        cell_m=CELL_M,
        map_cell_m=map_cell_m,
    )


def best_s(work: Callable[[], object], runs: int) -> float:
    """Return the best time of so many runs [s]."""
    best = math.inf
    for _ in range(runs):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def smoothed(before: CellMap) -> CellMap:
    """Return the map after covering by scipy's Gaussian: no skips, no overlaps, no shift."""
    sds = (MOVED.lateral_sd_m / CELL_M, MOVED.along_sd_m / CELL_M)
    out: CellMap = ndimage.gaussian_filter(before, sds)
    return out


def smoothed_by_waves(before: CellMap) -> CellMap:
    """Return the same by Fourier transform, the field repeated beyond its edges."""
    rows, columns = before.shape
    waves = fft.rfft2(before)
    for size, sd_m, axis in (
        (rows, MOVED.lateral_sd_m, fft.fftfreq(rows, CELL_M)),
        (columns, MOVED.along_sd_m, fft.rfftfreq(columns, CELL_M)),
    ):
        kept = np.exp(-2.0 * (math.pi * sd_m * axis) ** 2).astype(np.float32)
        waves *= kept[:, None] if size == rows else kept[None, :]
    out: CellMap = fft.irfft2(waves, s=before.shape)
    return out


def peak_mb(what: str) -> float:
    """Return the peak memory of a child that maps a small field or the whole one [MB]."""
    child = subprocess.run(  # noqa: S603 - this file itself
        [sys.executable, __file__, what], capture_output=True, text=True, check=True
    )
    return float(child.stdout)


def child(what: str) -> None:
    """Map a field and print the peak memory of this process [MB]."""
    if what == "small":
        mapped(rectangle(40.0, 40.0))
    else:
        mapped(rectangle(EAST_M, NORTH_M), map_cell_m=None if what == "figures" else MAP_CELL_M)
    # Not ru_maxrss: that of a child begins at its parent's peak.
    status = Path("/proc/self/status").read_text(encoding="ascii")
    print(float(status.split("VmHWM:")[1].split()[0]) / 1024.0)


def main() -> int:
    """Print the figures; return 1 when a target is missed."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    outline = rectangle(EAST_M, NORTH_M)
    cells = EAST_M * NORTH_M / CELL_M**2
    answer = mapped(outline)
    with_maps_s = best_s(lambda: mapped(outline), FAST_RUNS)
    figures_s = best_s(lambda: mapped(outline, map_cell_m=None), FAST_RUNS)
    # The plain forms need the whole map before covering, and take ground covered exactly once.
    still = Displacement(
        along_sd_m=MOVED.along_sd_m, lateral_sd_m=MOVED.lateral_sd_m, forward_m=0.0
    )
    even = mapped(outline, moved=still, step_m=TOOL_M, strays=False, map_cell_m=CELL_M)
    before, after = even.before, even.after
    if before is None or after is None:
        return 1
    target = np.empty_like(before)
    copy_s = best_s(lambda: np.copyto(target, before), FAST_RUNS)
    gauss_s = best_s(lambda: smoothed(before), PLAIN_RUNS)
    waves_s = best_s(lambda: smoothed_by_waves(before), PLAIN_RUNS)
    inner = np.s_[16:-16, 16:-16]
    difference = float(np.abs(after - smoothed(before))[inner].max())
    base_mb = peak_mb("small")
    maps_mb, figures_mb = peak_mb("maps") - base_mb, peak_mb("figures") - base_mb
    rate, alone = cells / with_maps_s / 1e6, cells / figures_s / 1e6
    print(
        f"{EAST_M:g} x {NORTH_M:g} m in cells of {CELL_M:g} m: {cells / 1e6:.2f} million, one core"
    )
    print("sowing, steering, work, moving seed and figures together, million cells a second:")
    print(f"  map drawn at {MAP_CELL_M:g} m      {with_maps_s * 1e3:8.1f} ms  {rate:6.1f}", end="")
    print(f"  (target {LEAST_M_CELLS_PER_S:g}, stretch {STRETCH_M_CELLS_PER_S:g})")
    print(f"  figures alone         {figures_s * 1e3:8.1f} ms  {alone:6.1f}")
    print("beside, with all cells held:")
    print(
        f"  copying the cells     {copy_s * 1e3:8.1f} ms  (map {with_maps_s / copy_s:.0f} x that)"
    )
    print(
        f"  moving seed by scipy.ndimage {gauss_s * 1e3:.1f} ms, by scipy.fft {waves_s * 1e3:.1f};"
    )
    print(f"  largest difference to scipy.ndimage {difference:.1e} (target {MOST_DIFFERENCE:g})")
    print(
        f"peak memory above {base_mb:.0f} MB: {maps_mb:.1f} MB, figures alone {figures_mb:.1f} MB",
        end="",
    )
    print(f" (target {MOST_MB:g})")
    before_cv, after_cv = answer.before_cv_fraction, answer.after_cv_fraction
    print(f"CV {before_cv:.4f} before, {after_cv:.4f} after; missed {answer.skip_fraction:.4f}")
    kept = rate >= LEAST_M_CELLS_PER_S and max(maps_mb, figures_mb) < MOST_MB
    return 0 if kept and difference < MOST_DIFFERENCE else 1


if __name__ == "__main__":
    if len(sys.argv) > 1:
        child(sys.argv[1])
    else:
        sys.exit(main())
