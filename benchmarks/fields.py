"""How fast a field gets its drive plans: 1,000 ragged fields one after the other.

One run, one core, warm. It prints what the fields are like, then for the spread plan, the
covering plan and the two together the middle and the slow end of the times, then what the plans
save against the longest side. Run it with ``.venv/bin/python benchmarks/fields.py [HOW_MANY]``;
it exits 1 when the target is missed.
"""

from __future__ import annotations

import os

os.environ.setdefault("NUMBA_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import math
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from ragged_fields import HA_M2, describe, ragged_field

from duskline.core.errors import DusklineError
from duskline.core.outline import Outline
from duskline.core.passes import Driving, plan_covering, plan_passes
from duskline.core.turns import TurnRule

FIELDS, WARM_UP = 1000, 3
MOST_MS = 50.0
STRAIGHT_WITHIN_M = 2.0
ANGLES_RAD = (math.radians(5.0), -math.radians(5.0))
TURN = TurnRule(radius_m=6.5, speed_mps=2.0, fixed_s=5.0)
SPREADER = Driving(
    driving_width_m=12.192, speed_mps=3.58, turn=TURN, swing_m=1.5, headland_first=True
)
CULTIVATOR = Driving(
    driving_width_m=8.23, width_m=9.144, speed_mps=2.46, turn=TURN, swing_m=4.57, by_eye=True
)


def drive_plans(field: Outline) -> tuple[float, float, float]:
    """Return what the two plans of a field took to draw up [ms], and the share of time saved."""
    begun = time.perf_counter()
    spread = plan_passes(field, driving=SPREADER, straight_within_m=STRAIGHT_WITHIN_M)
    between = time.perf_counter()
    plan_covering(
        field,
        spread=spread,
        angles_rad=ANGLES_RAD,
        driving=CULTIVATOR,
        straight_within_m=STRAIGHT_WITHIN_M,
    )
    done = time.perf_counter()
    return 1e3 * (between - begun), 1e3 * (done - between), spread.saved_s / spread.longest_edge_s


def main() -> int:
    """Print the figures; return 1 when the target is missed."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    count = int(sys.argv[1]) if len(sys.argv) > 1 else FIELDS
    print(describe(count))
    fields = [ragged_field(seed) for seed in range(count)]
    for field in fields[:WARM_UP]:
        drive_plans(field)
    # Spread plan, covering plan, and both together; refused fields drop out. [ms]
    times_ms = np.full((count, 3), np.nan)
    saved = np.full(count, np.nan)
    for seed, field in enumerate(fields):
        try:
            spread_ms, cover_ms, saved[seed] = drive_plans(field)
        except DusklineError as reason:
            print(f"seed {seed} refused: {reason}")
            continue
        times_ms[seed] = spread_ms, cover_ms, spread_ms + cover_ms
    median_ms, p95_ms, most_ms = np.nanquantile(times_ms, [0.5, 0.95, 1.0], axis=0)
    slowest = int(np.nanargmax(times_ms[:, 2]))
    print()
    print(f"drive plans of {count} fields, one core, warm; target for a spread plan {MOST_MS:g} ms")
    print(f"{'[ms]':20}{'spread':>9}{'covering':>10}{'both':>9}")
    for name, row in (("median", median_ms), ("95 of a hundred", p95_ms), ("slowest", most_ms)):
        print(f"{name:20}{row[0]:9.1f}{row[1]:10.1f}{row[2]:9.1f}")
    print(
        f"slowest of all: seed {slowest}, {fields[slowest].area_m2 / HA_M2:.1f} ha, "
        f"{len(fields[slowest].exterior_m)} corners, {len(fields[slowest].holes_m)} holes"
    )
    print(f"refused: {int(np.isnan(saved).sum())}")
    better = np.nanmean(saved > 0.0)
    print(
        f"quicker than along the longest side: {100.0 * better:.0f} % of fields, "
        f"by {100.0 * np.nanmean(saved):.1f} % on average over all"
    )
    return 0 if median_ms[0] <= MOST_MS else 1


if __name__ == "__main__":
    sys.exit(main())
