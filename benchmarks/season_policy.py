"""How fast a plan is walked through many seasons, beside a plain account of the same seasons.

40 fields, 14 days, 2 crews that help out, 1,000 seasons, one core, warm, best of n. The plain
account (tests/plain_season.py) walks a part of the same seasons, stop by stop in plain Python,
and must come to the same acres. Run it with ``.venv/bin/python benchmarks/season_policy.py``; it
exits 1 when a target is missed.
"""

from __future__ import annotations

import os

os.environ.setdefault("NUMBA_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from plain_season import CrewDay as PlainDay
from plain_season import PlainCrew, PlainField, work_season

from duskline.core.season import (
    CrewDay,
    CrewHours,
    Ready,
    Schedule,
    SeasonCost,
    SeasonCrew,
    SeasonDay,
    SeasonField,
    SeasonPrices,
    SeasonTask,
    Visit,
)
from duskline.core.season_days import (
    CrewRates,
    DayBudgets,
    DayUncertainty,
    draw_day_areas,
    draw_ready_days,
)
from duskline.core.season_policy import SimulatedSeasons, compare, simulate_policy
from duskline.core.season_weather import SeasonWeathers

ACRE_M2, HOUR_S = 4046.8564224, 3600.0
AC_PER_H = ACRE_M2 / HOUR_S
FIELDS, DAYS, SEASONS, PLAIN_SEASONS = 40, 14, 1_000, 100
MOST_S, LEAST_RATIO = 0.2, 20.0


def best_s(work: Callable[[], object], repeats: int) -> float:
    """Return the shortest of several runs. [s]"""
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def made_plan(rng: np.random.Generator) -> Schedule:
    """Return 40 fields of 15 to 50 acres, half of them on each crew's list."""
    fields = tuple(
        SeasonField(
            name=f"F{n}",
            area_m2=float(rng.uniform(15, 50)) * ACRE_M2,
            place_m=(float(rng.uniform(-5e3, 5e3)), float(rng.uniform(-5e3, 5e3))),
            ready=Ready(early_day=0, likely_day=n // 8, late_day=2 + n // 4),
            due_day=9,
            splittable=n % 5 > 0,
            not_after_rain=n % 7 == 0,
        )
        for n in range(FIELDS)
    )
    crews = tuple(
        SeasonCrew(name=name, fold_s=600.0, visit_s=300.0, road_speed_mps=6.7)
        for name in ("one", "two")
    )
    hours = CrewHours(area_m2=1.0, lost_m2_per_s=1.0)
    task = SeasonTask(
        fields=fields,
        days=tuple(SeasonDay(day=d, crews={"one": hours, "two": hours}) for d in range(DAYS)),
        crews=crews,
        prices=SeasonPrices(
            unplaced_usd_per_m2=60 / ACRE_M2, wait_usd_per_m2_day=0.5 / ACRE_M2, visit_usd=15.0
        ),
        road_factor=1.3,
    )
    crew_days = tuple(
        CrewDay(
            day=0,
            crew=crew.name,
            visits=tuple(
                Visit(
                    field=f.name,
                    area_m2=f.area_m2,
                    lot="",
                    clean_out=False,
                    starts_s=0.0,
                    takes_s=0.0,
                    travel_m=0.0,
                )
                for f in fields[at::2]
            ),
            used_s=0.0,
            budget_s=0.0,
        )
        for at, crew in enumerate(crews)
    )
    return Schedule(
        crew_days=crew_days,
        unplaced_m2={},
        finish_days={},
        cost=SeasonCost(),
        bound_usd=0.0,
        task=task,
    )


def made_weathers(rng: np.random.Generator) -> SeasonWeathers:
    """Return seasons in which seven days in ten are fit, for 4 to 10 hours."""
    shape = (SEASONS, DAYS)
    fit = rng.random(shape) < 0.7
    cover_s = np.where(fit, rng.uniform(4.0, 10.0, shape) * HOUR_S, 0.0)
    unknown = np.full(shape, np.nan)
    return SeasonWeathers(
        days=tuple(date(2026, 10, 18) + timedelta(days=d) for d in range(DAYS)),
        spread_s=cover_s.copy(),
        cover_s=cover_s,
        spread_opens_s=unknown.copy(),
        cover_opens_s=unknown,
        wet=~fit,
        closed=~fit,
        from_forecast=np.zeros(DAYS, dtype=np.bool_),
    )


def plain_account(
    plan: Schedule, budgets: DayBudgets, weathers: SeasonWeathers, ready: np.ndarray
) -> np.ndarray:
    """Return the acres done by each evening of the first seasons, told in plain loops."""
    task = plan.task
    crews = [
        PlainCrew(
            name=c.name,
            spread=1.0,
            cover=1.0,
            takeover=0.0,
            lead_s=0.0,
            changeover_s=0.0,
            fold_s=c.fold_s,
            visit_s=c.visit_s,
            road_mps=c.road_speed_mps,
        )
        for c in task.crews
    ]
    fields = [
        PlainField(
            name=f.name,
            area=f.area_m2,
            place_m=f.place_m,
            due=f.due_day,
            whole=not f.splittable,
            dry=f.not_after_rain,
        )
        for f in task.fields
    ]
    lists = {one.crew: [(v.field, v.area_m2) for v in one.visits] for one in plan.crew_days}

    def day(season: int, d: int, crew: int) -> PlainDay:
        area = float(budgets.area_m2[season, d, crew])
        lost = float(budgets.lost_m2_per_s[season, d, crew])
        return PlainDay(most=lambda moved_s: area - lost * moved_s, hour_m2=lost * HOUR_S)

    told = [
        work_season(
            fields,
            crews,
            lists,
            [{c.name: day(s, d, at) for at, c in enumerate(crews)} for d in range(DAYS)],
            weathers.wet[s].tolist(),
            {f.name: int(ready[s, at]) for at, f in enumerate(fields)},
            help_out=True,
            road_factor=task.road_factor,
        )
        for s in range(PLAIN_SEASONS)
    ]
    return np.array([one.done_m2 for one in told]) / ACRE_M2


def main() -> int:
    """Print the figures; return 1 when a target is missed."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    rng = np.random.default_rng(5)
    plan, weathers = made_plan(rng), made_weathers(rng)
    crew = CrewRates(
        spread_m2_per_s=26 * AC_PER_H,
        cover_m2_per_s=14 * AC_PER_H,
        takeover_m2_per_s=13 * AC_PER_H,
        lead_s=900.0,
        changeover_s=1800.0,
    )
    unsure = DayUncertainty(
        season_rate_cv=0.08,
        shared_rate_cv=0.1,
        spread_rate_cv=0.06,
        cover_rate_cv=0.06,
        breakdown_per_s=0.05 / HOUR_S,
        repair_mean_s=2400.0,
    )

    def drawn() -> DayBudgets:
        return draw_day_areas(
            [crew, crew], weathers, dared_fraction=0.9, uncertainty=unsure, seed=1
        )

    budgets = drawn()
    ready = draw_ready_days(plan.task.fields, count=SEASONS, seed=1, link=0.5)

    def ours() -> SimulatedSeasons:
        return simulate_policy(plan, budgets, weathers.wet, ready, help_out=True)

    begin = time.perf_counter()
    found = ours()
    first_s = time.perf_counter() - begin
    walk_s, draw_s = best_s(ours, 15), best_s(drawn, 7)
    compare_s = best_s(lambda: compare(found, found), 7)
    begin = time.perf_counter()
    acres = plain_account(plan, budgets, weathers, ready)
    plain_s = (time.perf_counter() - begin) * SEASONS / PLAIN_SEASONS
    off = float(np.abs(acres - found.done_m2[:PLAIN_SEASONS] / ACRE_M2).max())
    ratio = plain_s / walk_s
    print(f"{SEASONS:,} seasons, {FIELDS} fields, {DAYS} days, 2 crews, one core, warm")
    print(f"walk by the policy    {walk_s * 1e3:9.1f} ms  (best of 15; target {MOST_S * 1e3:.0f})")
    print(f"  the first, with its compiling or reading of the compiled {first_s:.1f} s")
    print(f"drawing the days      {draw_s * 1e3:9.1f} ms  (best of 7)")
    print(f"comparing two         {compare_s * 1e3:9.2f} ms")
    print(f"plain account         {plain_s * 1e3:9.0f} ms  ({PLAIN_SEASONS} seasons, extrapolated)")
    print(f"ratio                 {ratio:9.0f}     (target {LEAST_RATIO:.0f})")
    print(f"furthest from the plain account {off:.1e} ac")
    print(f"all done by the last day in {found.chance_done_by(DAYS - 1).fraction:.2f} of seasons")
    return 0 if walk_s <= MOST_S and ratio >= LEAST_RATIO and off < 1e-3 else 1


if __name__ == "__main__":
    sys.exit(main())
