"""How fast a farmer gets the table of levers of one field, and the map with it.

One run, one core, warm. It prints, for every field of the two examples with trays, what the
table takes, with real plans of the field for each lever, and what table and map take together,
then the table of one field. Run it with ``.venv/bin/python benchmarks/levers.py``; it exits 1
when a table takes longer than its target.
"""

from __future__ import annotations

import os

os.environ.setdefault("NUMBA_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import statistics
import sys
import time
from pathlib import Path

from duskline.answers.evenness import EvennessAnswer, evenness_answer
from duskline.core.farm import Farm
from duskline.exchange.farmfolder import read_farm
from duskline.units import HECTARE_M2
from duskline.words.evenness import lever_table

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
NAMES = ("rye-after-soybeans", "oats-and-radish")
RUNS, MOST_S = 3, 2.0


def timed(farm: Farm, name: str, *, with_map: bool) -> tuple[float, EvennessAnswer]:
    """Return the middle of a few runs [s], and the answer."""
    took_s = []
    for _ in range(RUNS):
        begun = time.perf_counter()
        answer = evenness_answer(farm, name, with_map=with_map)
        took_s.append(time.perf_counter() - begun)
    return statistics.median(took_s), answer


def main() -> int:
    """Print the figures; return 1 when the target is missed."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    slowest_s = 0.0
    print(f"{'field':>8}  {'ha':>5}  {'levers':>6}  {'table s':>8}  {'with map s':>10}")
    for example in NAMES:
        farm = read_farm(EXAMPLES / example)
        # Compiled code and whatever is read once.
        evenness_answer(farm, farm.fields[0].name)
        for field in farm.fields:
            table_s, answer = timed(farm, field.name, with_map=False)
            whole_s, _ = timed(farm, field.name, with_map=True)
            slowest_s = max(slowest_s, table_s)
            print(
                f"{field.name:>8}  {field.area_m2 / HECTARE_M2:5.1f}  {len(answer.levers):6}  "
                f"{table_s:8.3f}  {whole_s:10.3f}"
            )
        largest = max(farm.fields, key=lambda one: one.area_m2)
        shown = evenness_answer(farm, largest.name, with_map=False)
        print(f"\n{largest.name} of {example}:")
        print("\n".join(lever_table(shown, farm.system)), "\n")
    reached = slowest_s <= MOST_S
    print(
        f"slowest table {slowest_s:.3f} s; target {MOST_S:.1f} s {'met' if reached else 'MISSED'}"
    )
    return 0 if reached else 1


if __name__ == "__main__":
    sys.exit(main())
