"""How fast a field gets its drive plan: 1,000 ragged fields one after the other.

One run, one core, warm. It prints what the fields are like, then the middle and the slow end of
the times. Run it with ``.venv/bin/python benchmarks/fields.py [HOW_MANY]``; it exits 1 when the
target is missed.
"""

from __future__ import annotations

import os

os.environ.setdefault("NUMBA_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from ragged_fields import HA_M2, describe, ragged_field

from duskline.core.errors import DusklineError
from duskline.core.outline import Outline
from duskline.core.passes import Driving, PassPlan, plan_passes
from duskline.core.turns import TurnRule

FIELDS, WARM_UP = 1000, 3
MOST_MS = 50.0
STRAIGHT_WITHIN_M = 2.0
SPREADER = Driving(
    driving_width_m=8.7,
    speed_mps=2.7,
    turn=TurnRule(radius_m=7.0, speed_mps=2.0, fixed_s=5.0),
    swing_m=4.35,
)


def drive_plan(field: Outline) -> PassPlan:
    """Return the whole plan of one field: what is timed."""
    return plan_passes(field, driving=SPREADER, straight_within_m=STRAIGHT_WITHIN_M)


def main() -> int:
    """Print the figures; return 1 when the target is missed."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    count = int(sys.argv[1]) if len(sys.argv) > 1 else FIELDS
    print(describe(count))
    fields = [ragged_field(seed) for seed in range(count)]
    for field in fields[:WARM_UP]:
        drive_plan(field)
    times_ms = np.empty(count)
    refused: list[int] = []
    for seed, field in enumerate(fields):
        start = time.perf_counter()
        try:
            drive_plan(field)
        except DusklineError as reason:
            refused.append(seed)
            print(f"seed {seed} refused: {reason}")
        times_ms[seed] = 1e3 * (time.perf_counter() - start)
    median_ms, p95_ms = np.quantile(times_ms, [0.5, 0.95])
    slowest = int(times_ms.argmax())
    print()
    print(f"drive plans of {count} fields, one core, warm")
    print(f"median              {median_ms:9.1f} ms  (target {MOST_MS:g} ms)")
    print(f"95 of a hundred     {p95_ms:9.1f} ms")
    print(
        f"slowest             {times_ms[slowest]:9.1f} ms  "
        f"(seed {slowest}, {fields[slowest].area_m2 / HA_M2:.1f} ha, "
        f"{len(fields[slowest].exterior_m)} corners, {len(fields[slowest].holes_m)} holes)"
    )
    print(f"refused             {len(refused):9d}")
    return 0 if median_ms <= MOST_MS else 1


if __name__ == "__main__":
    sys.exit(main())
