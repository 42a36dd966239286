"""Made-up seasons for the schedule's tests."""

from __future__ import annotations

import numpy as np

from duskline.core.season import (
    CrewHours,
    Ready,
    SeasonCrew,
    SeasonDay,
    SeasonField,
    SeasonPrices,
    SeasonTask,
)

ACRE_M2 = 4046.8564224
HOUR_S = 3600.0
PRICES = SeasonPrices(
    wait_usd_per_m2_day=0.3 / ACRE_M2,
    late_usd_per_m2=3.0 / ACRE_M2,
    late_usd_per_m2_day=1.0 / ACRE_M2,
    unplaced_usd_per_m2=40.0 / ACRE_M2,
    travel_usd_per_m=0.002,
    visit_usd=15.0,
    clean_out_usd=25.0,
    crew_day_usd=60.0,
)


def hours(acres: float, *, acres_per_h: float = 20.0, paid: bool = False) -> CrewHours:
    """A crew's day in acres, and the acres an hour's move costs."""
    return CrewHours(
        area_m2=acres * ACRE_M2, lost_m2_per_s=acres_per_h * ACRE_M2 / HOUR_S, paid=paid
    )


def made_task(
    seed: int, *, fields: int, days: int, crews: int, whole: bool, lots: int = 1
) -> SeasonTask:
    """A small made-up season that is a little too short for comfort."""
    rng = np.random.default_rng(seed)
    names = [f"crew {i}" for i in range(crews)]
    made = []
    for i in range(fields):
        ready = int(rng.integers(0, days))
        made.append(
            SeasonField(
                name=f"field {i}",
                area_m2=float(rng.integers(20, 90)) * ACRE_M2,
                place_m=(float(rng.uniform(-3e3, 3e3)), float(rng.uniform(-3e3, 3e3))),
                lot=f"lot {rng.integers(0, lots)}",
                ready=Ready(
                    likely_day=ready, late_day=days, after_s=float(rng.choice([0.0, 7200.0]))
                ),
                due_day=int(rng.integers(ready, days)) if rng.random() < 0.5 else None,
                splittable=not whole,
                not_after_rain=bool(rng.random() < 0.2),
                priority=float(rng.choice([1.0, 2.0])),
            )
        )
    total = sum(f.area_m2 for f in made) / ACRE_M2
    daily = total / (0.85 * days * crews)
    return SeasonTask(
        fields=tuple(made),
        days=tuple(
            SeasonDay(
                day=d,
                after_rain=d == 1,
                crews={name: hours(max(60.0, daily * (1.1 if d else 0.8))) for name in names},
            )
            for d in range(days)
        ),
        crews=tuple(
            SeasonCrew(name=name, fold_s=600.0, road_speed_mps=6.7, clean_out_s=900.0)
            for name in names
        ),
        prices=PRICES,
        road_factor=1.3,
    )
