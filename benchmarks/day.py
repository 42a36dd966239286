"""How fast the day is simulated: 10,000 drawn days beside simpy running the same model.

One core, warm, best of n. The simpy model (benchmarks/simpy_day.py) is frozen, so that the ratio
stays comparable; it gives one stop time a run, ours the whole distribution.
"""

from __future__ import annotations

import os

os.environ.setdefault("NUMBA_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from simpy_day import DayByHand

from duskline.answers.day import DayQuestion, day_answer
from duskline.core import day as balance
from duskline.exchange.farmfolder import read_farm

FARM = Path(__file__).resolve().parents[1] / "examples" / "rye-after-soybeans"
REPLICATIONS = 10_000
SIMPY_DAYS = 400
TARGET_MS, TARGET_RATIO = 60.0, 300.0


def best_s(work: Callable[[], object], repeats: int) -> float:
    """Return the shortest of several runs. [s]"""
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def main() -> None:
    """Print the figures."""
    task = day_answer(read_farm(FARM), DayQuestion(replications=100)).task
    machines = len(task.machines)
    unsure = balance.Uncertainty(
        shared_rate_cv=0.10,
        spreader_rate_cv=(0.06,) * len(task.spreaders),
        cover_rate_cv=(0.06,) * machines,
        refill_cv=0.3,
        changeover_cv=0.3,
        breakdown_per_s=0.03 / 3600,
        repair_mean_s=2520.0,
    )

    def ours() -> float:
        draws = balance.draw_day(task, unsure, replications=REPLICATIONS, seed=1)
        return balance.stop_at_chance_s(balance.simulate_day(task, draws).latest_stop_s, 0.95)

    stop_s = ours()
    whole_s = best_s(ours, 15)
    draws = balance.draw_day(task, unsure, replications=REPLICATIONS, seed=1)
    sweep_s = best_s(lambda: balance.simulate_day(task, draws), 15)

    def simpy_days() -> float:
        rng = np.random.default_rng(3)
        days = [DayByHand(task, unsure, rng, stop_s) for _ in range(SIMPY_DAYS)]
        return float(np.mean([day.all_covered() for day in days]))

    kept = simpy_days()
    simpy_s = best_s(simpy_days, 3) * REPLICATIONS / SIMPY_DAYS
    print(f"rye after soybeans, {REPLICATIONS:,} days, one core, warm")
    print(
        f"drawing and latest stops  {whole_s * 1e3:9.1f} ms  (best of 15; target {TARGET_MS:.0f})"
    )
    print(f"  latest stops alone      {sweep_s * 1e3:9.1f} ms")
    print(f"simpy, one stop time      {simpy_s * 1e3:9.0f} ms  ({SIMPY_DAYS} days, extrapolated)")
    print(f"ratio                     {simpy_s / whole_s:9.0f}     (target {TARGET_RATIO:.0f})")
    print(f"simpy kept {kept:.3f} at the stop said to keep 0.95")


if __name__ == "__main__":
    main()
