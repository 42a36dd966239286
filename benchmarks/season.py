"""How near the season's plan comes to the best possible, and how long that takes.

One run, on all cores, warm; invented seasons of four sizes. Beside the smaller two the same season
as one model of whole numbers (HiGHS, every pair of field and day in or out, every leg a column),
stopped after a number of nodes. Then how many stops stay where they were over 100 small changes of
the forty-fields example. Run it with ``.venv/bin/python benchmarks/season.py``; it exits 1 where a
plan takes too long.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from duskline.answers.season_task import SeasonQuestion, plan_season
from duskline.core.season import (
    CrewHours,
    Effort,
    Ready,
    SeasonCrew,
    SeasonDay,
    SeasonField,
    SeasonPrices,
    SeasonTask,
    schedule_season,
)
from duskline.core.season_case import lay_out
from duskline.core.season_exact import exact_model
from duskline.core.side_by_side import cores_used
from duskline.exchange.farmfolder import read_farm

ACRE_M2, HOUR_S = 4046.8564224, 3600.0
WAGES = 75.0 / HOUR_S
PRICES = SeasonPrices(
    wait_usd_per_m2_day=0.5 / ACRE_M2,
    late_usd_per_m2=10.0 / ACRE_M2,
    late_usd_per_m2_day=2.0 / ACRE_M2,
    unplaced_usd_per_m2=60.0 / ACRE_M2,
    travel_usd_per_m=WAGES / 6.7,
    visit_usd=WAGES * 600.0,
    clean_out_usd=WAGES * 1800.0,
    crew_day_usd=75.0,
)
# fields, days, crews, target gap, target [s], nodes of the plain model (0: too large for it)
CASES = (
    (9, 10, 1, 0.005, 15.0, 2000),
    (40, 14, 2, 0.05, 60.0, 5),
    (200, 14, 6, 0.02, 60.0, 0),
    (2000, 14, 12, None, 60.0, 0),
)
EDITS = 100
FORTY = Path(__file__).parents[1] / "examples" / "forty-fields"


def made_season(fields: int, days: int, crews: int, *, seed: int = 7) -> SeasonTask:
    """Return an invented season whose work and moves fill nine tenths of its hours."""
    rng = np.random.default_rng(seed)
    acres = np.round(np.clip(rng.lognormal(math.log(36.0), 0.45, fields), 8.0, 110.0), 2)
    hubs = rng.uniform(-10.0, 10.0, (max(1, fields // 10), 2))
    names = [f"crew {c + 1}" for c in range(crews)]
    rates = rng.uniform(20.0, 30.0, crews)
    hours = rng.uniform(5.5, 8.5, days)
    hours[1:][rng.random(days - 1) < 0.2] = 0.0
    wet = rng.random(days) < 0.15
    moves = fields * 0.25 / crews
    scale = acres.sum() / rates.sum() / max(0.1 * hours.sum(), 0.9 * hours.sum() - moves)
    nouns = []
    for i in range(fields):
        hub = i * len(hubs) // fields
        place = hubs[hub] + rng.normal(0.0, 1.5, 2)
        ready = int(rng.integers(0, max(1, days // 2))) if rng.random() < 0.5 else 0
        nouns.append(
            SeasonField(
                name=f"field {i + 1}",
                area_m2=float(acres[i]) * ACRE_M2,
                place_m=(1e3 * float(place[0]), 1e3 * float(place[1])),
                lot=("wheat", "rye", "triticale")[hub % 3],
                rate_kg_per_m2=50.0 / ACRE_M2,
                ready=Ready(early_day=ready, likely_day=ready, late_day=ready + 2),
                due_day=min(days - 1, ready + int(rng.integers(4, 8))),
                splittable=bool(acres[i] > 30.0),
                not_after_rain=bool(rng.random() < 0.15),
            )
        )
    return SeasonTask(
        fields=tuple(nouns),
        days=tuple(
            SeasonDay(
                day=d,
                after_rain=bool(wet[d]),
                crews={
                    name: CrewHours(
                        area_m2=float(hours[d] * rates[c] * scale) * ACRE_M2,
                        lost_m2_per_s=float(rates[c] * scale) * ACRE_M2 / HOUR_S,
                    )
                    for c, name in enumerate(names)
                    if hours[d] > 0.0
                },
            )
            for d in range(days)
        ),
        crews=tuple(
            SeasonCrew(name=name, fold_s=600.0, road_speed_mps=6.7, clean_out_s=1800.0)
            for name in names
        ),
        prices=PRICES,
        road_factor=1.3,
    )


def edits(task: SeasonTask) -> Iterator[tuple[str, SeasonTask]]:
    """Yield small changes: a field gone (named), or a day of up to half its hours less."""
    rng = np.random.default_rng(28)
    for _ in range(EDITS):
        if rng.random() < 0.5:
            gone = task.fields[int(rng.integers(len(task.fields)))].name
            yield gone, replace(task, fields=tuple(f for f in task.fields if f.name != gone))
            continue
        open_days = [at for at, day in enumerate(task.days) if day.crews][:5]
        at, share = int(rng.choice(open_days)), float(rng.uniform(0.5, 1.0))
        crews = {
            name: replace(one, area_m2=share * one.area_m2)
            for name, one in task.days[at].crews.items()
        }
        days = list(task.days)
        days[at] = replace(days[at], crews=crews)
        yield "", replace(task, days=tuple(days))


def kept_shares(task: SeasonTask) -> list[float]:
    """Return the share of other stops that keep day and crew over the edits."""
    quick = Effort(rounds=1_500, price_rounds=0, nodes=0, branches=0)
    before = schedule_season(task, effort=replace(quick, rounds=20_000))
    stops = {(name, slot) for name, at in before.stops().items() for slot in at}
    shares = []
    for gone, edited in edits(task):
        after = schedule_season(edited, previous=before, stability_usd=300.0, effort=quick)
        old = {stop for stop in stops if stop[0] != gone}
        new = {(name, slot) for name, at in after.stops().items() for slot in at}
        shares.append(len(old & new) / max(1, len(old)))
    return shares


def main() -> int:
    """Print the table; 1 where a plan takes too long."""
    # The first compiles.
    warm = Effort(rounds=1_000, price_rounds=5, nodes=0, branches=2, dives=1)
    schedule_season(made_season(9, 4, 1))
    schedule_season(made_season(40, 4, 1), effort=warm)
    slow = False
    print(f"{cores_used()} cores")
    print("fields days crews    plan      cost $     bound $    gap     gap $   plain model")
    for fields, days, crews, target, most_s, nodes in CASES:
        task = made_season(fields, days, crews)
        begun = time.perf_counter()
        found = schedule_season(task)
        took_s = time.perf_counter() - begun
        slow |= took_s > most_s
        beside = "too large"
        if nodes:
            begun = time.perf_counter()
            plain = exact_model(lay_out(task).case, nodes=nodes)
            plain_s = time.perf_counter() - begun
            gap = (found.cost.total_usd - plain.bound_usd) / found.cost.total_usd
            beside = f"{plain_s:.1f} s ({plain_s / took_s:.1f}x), its bound leaves {gap:.1%}"
        aim = "" if target is None else f" (aim {target:.1%})"
        print(
            f"{fields:6d} {days:4d} {crews:5d} {took_s:6.1f} s {found.cost.total_usd:11,.0f} "
            f"{found.bound_usd:11,.0f} {found.gap_fraction:6.1%}{aim} {found.gap_usd:9,.0f}"
            f"   {beside}",
            flush=True,
        )
    farm = read_farm(FORTY)
    planned = plan_season(farm, SeasonQuestion(at_average=True, weathers_count=50, compare=False))
    shares = kept_shares(planned.task)
    print(
        f"{len(shares)} small changes of {len(farm.fields)} fields: other stops that keep day and"
        f" crew: least {min(shares):.0%}, middle {sorted(shares)[len(shares) // 2]:.0%}"
    )
    return int(slow)


if __name__ == "__main__":
    sys.exit(main())
