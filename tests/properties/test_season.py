"""Bound, least cost and schedule of small seasons at random, in their only possible order."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import permutations, product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

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

RATE_M2_PER_S = 22.0
QUICK = Effort(rounds=400, price_rounds=30, nodes=0, branches=12, dives=1)


@st.composite
def seasons(draw: st.DrawFn, *, most_fields: int, most_days: int, most_crews: int) -> SeasonTask:
    """A season in whole hectares and hours, with one or two lots and moves."""
    days, crews = draw(st.integers(1, most_days)), draw(st.integers(1, most_crews))
    money = st.sampled_from([0.0, 0.5, 1.0, 5.0])
    yard = (0.0, 0.0) if draw(st.booleans()) else None
    fields = []
    for i in range(draw(st.integers(1, most_fields))):
        ready = draw(st.integers(0, days - 1))
        fields.append(
            SeasonField(
                name=f"f{i}",
                area_m2=1e4 * draw(st.integers(5, 40)),
                place_m=(500.0 * draw(st.integers(-6, 6)), 500.0 * draw(st.integers(-6, 6))),
                lot=draw(st.sampled_from(["rye", "wheat"])),
                ready=Ready(likely_day=ready, late_day=days),
                due_day=draw(st.none() | st.integers(0, days)),
                splittable=draw(st.booleans()),
                least_part_m2=draw(st.sampled_from([0.0, 3e4])),
                priority=draw(st.sampled_from([1.0, 3.0])),
            )
        )
    names = [f"crew {c}" for c in range(crews)]
    return SeasonTask(
        fields=tuple(fields),
        days=tuple(
            SeasonDay(
                day=d,
                crews={
                    name: CrewHours(
                        area_m2=RATE_M2_PER_S * 3600.0 * draw(st.integers(1, 8)),
                        lost_m2_per_s=RATE_M2_PER_S,
                    )
                    for name in names
                },
            )
            for d in range(days)
        ),
        crews=tuple(
            SeasonCrew(
                name=name,
                fold_s=60.0 * draw(st.sampled_from([0, 10])),
                visit_s=60.0 * draw(st.sampled_from([0, 5])),
                road_speed_mps=6.0,
                clean_out_s=60.0 * draw(st.sampled_from([0, 20])),
                start_m=yard,
            )
            for name in names
        ),
        prices=SeasonPrices(
            wait_usd_per_m2_day=1e-4 * draw(money),
            late_usd_per_m2=1e-4 * draw(money),
            unplaced_usd_per_m2=1e-4 * draw(st.sampled_from([2.0, 30.0])),
            travel_usd_per_m=1e-3 * draw(money),
            visit_usd=5.0 * draw(money),
            clean_out_usd=5.0 * draw(money),
            crew_day_usd=10.0 * draw(money),
        ),
    )


def way_of(task: SeasonTask, crew: SeasonCrew, order: tuple[int, ...]) -> tuple[float, float]:
    """Time and money of moves, visits and clean-outs of an order of fields."""
    time_s = usd = 0.0
    last: SeasonField | None = None
    for i in order:
        f = task.fields[i]
        if last is None and crew.start_m is not None:
            way = math.dist(crew.start_m, f.place_m)
            time_s, usd = way / crew.road_speed_mps, way * task.prices.travel_usd_per_m
        if last is not None:
            way = math.dist(last.place_m, f.place_m)
            time_s += crew.fold_s + way / crew.road_speed_mps
            usd += way * task.prices.travel_usd_per_m
            if last.lot != f.lot:
                time_s += crew.clean_out_s
                usd += task.prices.clean_out_usd
        time_s += crew.visit_s
        usd += task.prices.visit_usd
        last = f
    return time_s, usd


def least_part_m2(f: SeasonField) -> float:
    """No part of a field is smaller, nor than a fiftieth of it; a smaller rest costs as much."""
    return min(f.area_m2, max(f.least_part_m2, 0.02 * f.area_m2))


def least_usd(task: SeasonTask) -> tuple[float, float]:
    """The least cost: every set of stops, every pair of least time and least money, areas by LP.

    Returned twice, as no more and as no less than it is: a rest left out is priced as it is, and
    as its least part.

    Taking the least time and the least money of all orders apart can only be cheaper than one
    order, and is exact where time and money rise together, as they do here.
    """
    slots = [(d, c) for d in task.days for c in task.crews]
    n = len(task.fields)
    prices = task.prices
    sets = []
    for day, crew in slots:
        here = []
        allowed = [i for i in range(n) if task.fields[i].ready.likely_day <= day.day]
        for mask in range(1 << len(allowed)):
            chosen = tuple(allowed[b] for b in range(len(allowed)) if mask >> b & 1)
            ways = [way_of(task, crew, order) for order in permutations(chosen)] or [(0.0, 0.0)]
            usd = min(w[1] for w in ways) + (prices.crew_day_usd if chosen else 0.0)
            here.append((chosen, min(w[0] for w in ways), usd))
        sets.append(here)
    unplaced = [prices.unplaced_usd_per_m2 * f.priority for f in task.fields]
    best = most = sum(u * f.area_m2 for u, f in zip(unplaced, task.fields, strict=True))
    for choice in product(*sets):
        fixed = sum(one[2] for one in choice)
        if fixed >= most:
            continue
        budgets = [
            day.crews[crew.name].area_m2 / RATE_M2_PER_S - one[1]
            for (day, crew), one in zip(slots, choice, strict=True)
        ]
        if any(b < 0.0 for b in budgets):
            continue
        pairs = [(i, k) for k, one in enumerate(choice) for i in one[0]]
        whole = [i for i in range(n) if not task.fields[i].splittable]
        if any(sum(1 for i, _ in pairs if i == w) > 1 for w in whole):
            continue
        cost, bounds = [], []
        for i, k in pairs:
            f, on = task.fields[i], slots[k][0].day
            price = prices.wait_usd_per_m2_day * (on - f.ready.likely_day)
            if f.due_day is not None and on > f.due_day:
                price += prices.late_usd_per_m2
            cost.append(price * f.priority - unplaced[i])
            bounds.append((f.area_m2 if i in whole else least_part_m2(f), f.area_m2))
        left = sum(u * f.area_m2 for u, f in zip(unplaced, task.fields, strict=True))
        if not pairs:
            best, most = min(best, fixed + left), min(most, fixed + left)
        else:
            rows = [[1.0 if k == s else 0.0 for _, k in pairs] for s in range(len(slots))]
            rows += [[1.0 if i == f else 0.0 for i, _ in pairs] for f in range(n)]
            limits = [b * RATE_M2_PER_S for b in budgets] + [f.area_m2 for f in task.fields]
            found = linprog(cost, A_ub=rows, b_ub=limits, bounds=bounds)
            if found.x is None:
                continue
            left += float(found.fun)
            best = min(best, fixed + left)
            for i, f in enumerate(task.fields):
                sown = sum(x for x, (j, _) in zip(found.x, pairs, strict=True) if i == j)
                if 1e-6 * f.area_m2 < f.area_m2 - sown < least_part_m2(f):
                    left += unplaced[i] * (least_part_m2(f) - f.area_m2 + sown)
            most = min(most, fixed + left)
    return best, most


@given(seasons(most_fields=3, most_days=2, most_crews=1))
@settings(max_examples=25)
def test_the_bound_is_below_the_least_cost_and_the_plan_is_not(task: SeasonTask) -> None:
    """Bound <= least cost <= plan, with parts and whole fields, yards, lots and moves."""
    found = schedule_season(task, effort=QUICK)
    exact = schedule_season(task, effort=replace(QUICK, nodes=200))
    least, most = least_usd(task)
    slack = 1e-6 * max(1.0, least)
    assert found.bound_usd <= most + slack
    assert exact.bound_usd <= most + slack
    assert found.cost.total_usd >= least - slack
    assert exact.cost.total_usd >= least - slack


@given(seasons(most_fields=9, most_days=4, most_crews=2))
@settings(max_examples=25)
def test_no_day_is_overfull_and_no_field_sown_twice(task: SeasonTask) -> None:
    """Working time within each day's, areas add up, whole fields whole, no field before ready."""
    found = schedule_season(task, effort=QUICK)
    sown: dict[str, float] = {}
    fields = {f.name: f for f in task.fields}
    stops: dict[str, int] = {}
    for one in found.crew_days:
        assert one.used_s <= one.budget_s * (1.0 + 1e-9) + 1e-6
        for visit in one.visits:
            sown[visit.field] = sown.get(visit.field, 0.0) + visit.area_m2
            stops[visit.field] = stops.get(visit.field, 0) + 1
            assert one.day >= fields[visit.field].ready.likely_day
            assert visit.area_m2 >= least_part_m2(fields[visit.field]) * (1.0 - 1e-6)
    for f in task.fields:
        total = sown.get(f.name, 0.0) + found.unplaced_m2.get(f.name, 0.0)
        assert math.isclose(total, f.area_m2, rel_tol=1e-6)
        if not f.splittable:
            assert stops.get(f.name, 0) <= 1
            assert f.name not in found.unplaced_m2 or f.name not in sown
    assert found.bound_usd <= found.cost.total_usd * (1.0 + 1e-9) + 1e-6


@given(seasons(most_fields=6, most_days=3, most_crews=2), st.integers(0, 5))
@settings(max_examples=15)
def test_a_longer_day_never_raises_the_bound_above_the_plan(task: SeasonTask, at: int) -> None:
    """An hour more on one day: the old plan still fits, so the new bound is not above its cost."""
    found = schedule_season(task, effort=QUICK)
    days = list(task.days)
    day = days[at % len(days)]
    longer = {
        name: replace(one, area_m2=one.area_m2 + 3600.0 * RATE_M2_PER_S)
        for name, one in day.crews.items()
    }
    days[at % len(days)] = replace(day, crews=longer)
    after = schedule_season(replace(task, days=tuple(days)), effort=QUICK)
    assert after.bound_usd <= found.cost.total_usd * (1.0 + 1e-9) + 1e-6
    assert np.isfinite(after.bound_usd)
