"""The ways of a crew's day, and where fields are put back: against plain sums."""

from __future__ import annotations

import numpy as np
import pytest
from made_tasks import PRICES, made_task

from duskline.core.season import Effort, SeasonTask, schedule_season
from duskline.core.season_bound import BestDays, columns, flat_bound, price_bound
from duskline.core.season_case import StopPlan, lay_out
from duskline.core.season_kernel import FEW_SLOTS
from duskline.core.season_pool import Pool, mix
from duskline.core.season_search import Search
from duskline.core.season_way_kernel import Case, _shifted, day_of, slot_costs, straighten


def made_case(seed: int, *, fields: int = 9, lots: int = 2) -> Case:
    """A small season in arrays."""
    return lay_out(made_task(seed, fields=fields, days=3, crews=2, whole=False, lots=lots)).case


@pytest.mark.parametrize("seed", range(8))
def test_a_moved_stop_changes_the_day_as_the_whole_day_says(seed: int) -> None:
    """Every stop to every place, some with another lot's clean-out on the way."""
    case = made_case(seed)
    case = case._replace(ready_s=np.zeros_like(case.ready_s))
    rng = np.random.default_rng(seed)
    count, crew = 7, int(case.crew[0])
    seq = rng.permutation(len(case.area))[:count]
    amt = 0.3 * case.area[seq]
    done, usd = day_of(case, 0, seq, amt, count)
    for a in range(count):
        for b in range(count):
            if a == b:
                continue
            order = [*range(a), *range(a + 1, count)]
            order.insert(b, a)
            now, cost = day_of(case, 0, seq[order], amt[order], count)
            change_s, change = _shifted(
                *(case.road_m, case.start_m, case.lot, case.moves, crew, seq, count, a, b)
            )
            assert change_s == pytest.approx(now - done, abs=1e-6)
            assert change == pytest.approx(cost - usd, abs=1e-6)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("waits", [False, True])
def test_a_straightened_day_sows_the_same_and_costs_no_more(seed: int, waits: bool) -> None:
    """With and without ground that is waited for."""
    case = made_case(seed)
    ready_s = np.full_like(case.ready_s, 2000.0) if waits else np.zeros_like(case.ready_s)
    case = case._replace(ready_s=ready_s)
    count = 7
    seq = np.random.default_rng(seed).permutation(len(case.area))[:count]
    amt = np.linspace(0.1, 0.4, count) * case.area[seq]
    before = dict(zip(seq.tolist(), amt.tolist(), strict=True))
    _, usd = day_of(case, 0, seq, amt, count)
    straighten(case, 0, seq, amt, count)
    _, now_usd = day_of(case, 0, seq, amt, count)
    assert now_usd <= usd + 1e-9
    assert dict(zip(seq.tolist(), amt.tolist(), strict=True)) == before


def long_season(seed: int) -> SeasonTask:
    """So many crew-days that a field is only tried near its neighbours."""
    task = made_task(seed, fields=25, days=FEW_SLOTS // 2 + 2, crews=2, whole=False)
    assert sum(len(day.crews) for day in task.days) > FEW_SLOTS
    return task


@pytest.mark.parametrize("seed", range(3))
def test_in_a_long_season_no_day_is_overfull_and_all_is_sown(seed: int) -> None:
    """Each field sown once, each day within its time, and better than without the search."""
    task = long_season(seed)
    begun = schedule_season(task, effort=Effort(rounds=0, price_rounds=0, nodes=0, branches=0))
    found = schedule_season(task, effort=Effort(rounds=4_000, price_rounds=0, nodes=0, branches=0))
    for name, area in {f.name: f.area_m2 for f in task.fields}.items():
        sown = sum(found.stops().get(name, {}).values()) + found.unplaced_m2.get(name, 0.0)
        assert sown == pytest.approx(area, rel=1e-6)
    assert all(one.used_s <= one.budget_s * (1.0 + 1e-9) for one in found.crew_days)
    assert found.cost.total_usd < begun.cost.total_usd


@pytest.mark.parametrize("seed", range(4))
def test_the_search_counts_seed_and_time_as_the_plan_does(seed: int) -> None:
    """What the search says is left, of ground and of seed, is what its stops leave."""
    task = made_task(seed, fields=12, days=4, crews=2, whole=False, lots=2)
    case = lay_out(task).case
    stock = np.where(np.arange(len(case.stock_kg)) == 0, 0.4 * (case.kg * case.area).sum(), np.inf)
    case = case._replace(kg=np.full_like(case.kg, 0.01), stock_kg=stock)
    plan, search = StopPlan.empty(case), Search.of(case, seed)
    search.fill(plan)
    search.warm_usd = 5.0
    search.improve(plan, 3_000)
    sown, spent = np.zeros(len(case.area)), np.zeros(len(stock))
    for k, p, i in plan.stops():
        sown[i] += plan.amt[k, p]
        spent[case.lot[i]] += plan.amt[k, p] * case.kg[i]
    assert plan.left == pytest.approx(case.area - sown, abs=1e-3)
    assert spent[0] <= stock[0] * (1.0 + 1e-9)
    done, _ = slot_costs(case, plan.seq, plan.amt, plan.cnt)
    assert (done <= case.budget_s * (1.0 + 1e-9)).all()


def test_few_of_many_days_mix_to_the_same_prices() -> None:
    """Once the best mixture of all days is known, those that promise most give it again."""
    task = made_task(3, fields=14, days=5, crews=2, whole=False)
    case, days = lay_out(task).case, BestDays()
    pool = Pool(case)
    plan = StopPlan.empty(case)
    Search.of(case, 1).fill(plan)
    plain, best = price_bound(flat_bound(case), plan, days=days, pool=pool, rounds=40)
    assert best.bound_usd >= plain.bound_usd
    slots = len(case.crew)
    every = mix(plain.case, pool, None, plain.prices, dear_usd=1e6, least_days=0, most_days=slots)
    assert every is not None
    some = pool.promising(plain.case, every, plain.prices, 60)
    assert 0 < some.sum() < pool.allowed(plain.case).sum()
    few = mix(plain.case, pool, every, plain.prices, dear_usd=1e6, least_days=0, most_days=slots)
    assert few is not None
    assert few.cost_usd == pytest.approx(every.cost_usd, rel=1e-6)


def test_a_bound_begun_from_another_is_never_below_it() -> None:
    """What holds for all schedules holds for a part of them, after no round as after many."""
    task = made_task(5, fields=10, days=4, crews=1, whole=False)
    case = lay_out(task).case
    pool, days, plan = Pool(case), BestDays(), StopPlan.empty(case)
    Search.of(case, 1).fill(plan)
    plain, _ = price_bound(flat_bound(case), plan, days=days, pool=pool, rounds=40)
    pace = plain.case.pace.copy()
    pace[0, 0] = 0.0
    for rounds in (0, 1, 30):
        part = columns(
            plain.case._replace(pace=pace),
            *(plain, pool, plan.total_usd(case), days, rounds),
            least_days=0,
            most_days=len(case.crew),
        )
        assert part.bound_usd >= plain.bound_usd - 1e-9


def test_a_quick_look_finds_no_better_day_than_a_thorough_one() -> None:
    """With few sets begun the day found is a real one, and the thorough one is worth as much."""
    case = made_case(2, fields=14, lots=1)
    bound = flat_bound(case)
    plan = StopPlan.empty(case)
    Search.of(case, 1).fill(plan)
    quick, _ = BestDays(5).find(case, bound.prices, Pool(case))
    thorough, _ = BestDays().find(case, bound.prices, Pool(case))
    assert (quick <= thorough + 1e-9).all()
    assert (quick < thorough - 1e-6).any()


def test_the_moves_of_the_case_are_the_crews_and_the_prices() -> None:
    """The moves of the case are the crew's and the prices', in the order that legs read them."""
    task = made_task(1, fields=4, days=2, crews=1, whole=False)
    case, crew = lay_out(task).case, task.crews[0]
    assert case.moves[0].tolist() == pytest.approx(
        [
            crew.fold_s,
            1.0 / crew.road_speed_mps,
            0.0 if crew.starts_early else 1.0 / crew.road_speed_mps,
            crew.clean_out_s,
            crew.visit_s,
            PRICES.travel_usd_per_m,
            PRICES.clean_out_usd,
        ]
    )
