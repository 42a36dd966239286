"""The season: which field on which day by which crew, what it costs, and how far from the best.

A crew's day holds so much working time; a field takes what its area needs, a visit and the move
to it. That nothing lies bare overnight is not priced here: each day's capacity comes from the
day balance, which sows no more than is covered. All else is money.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from duskline.core.season_case import Laid, StopPlan, lay_out
from duskline.core.season_nouns import (
    Change,
    CrewDay,
    CrewHours,
    Effort,
    Ready,
    Schedule,
    SeasonCost,
    SeasonCrew,
    SeasonDay,
    SeasonField,
    SeasonLot,
    SeasonPrices,
    SeasonTask,
    Visit,
)
from duskline.core.season_replan import Kept, changes_between, kept_order, standing_plan
from duskline.core.two_machines import order_for_two_machines

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.season_bound import BestDays, PriceBound
    from duskline.core.season_pool import Pool
    from duskline.core.season_search import Search
    from duskline.core.season_way_kernel import Case

__all__ = [
    "Change",
    "CrewDay",
    "CrewHours",
    "Effort",
    "Ready",
    "Schedule",
    "SeasonCost",
    "SeasonCrew",
    "SeasonDay",
    "SeasonField",
    "SeasonLot",
    "SeasonPrices",
    "SeasonTask",
    "Visit",
    "cost_of",
    "schedule_season",
]


WARM_GOING = 0.5
"""How much dearer the search may go at first, in prices of one more crew-day (by trial)."""

WARM_ON = 0.65
"""How much of that margin a search from such a plan begins with (by trial)."""

GROWTH = 0.7
"""Share of the rounds in which days are grown by the bound's prices (by trial)."""

LONG_DAY = 7
"""Stops; sets of more fields take so long to look through that windows and questions are left."""


DEARER = (1.0, 1.5, 3.0, 5.0)
"""Times the flat model's prices, at which first plans are grown; the last for large seasons."""


def schedule_season(
    task: SeasonTask,
    *,
    previous: Schedule | None = None,
    stability_usd: float = 0.0,
    effort: Effort | None = None,
    seed: int = 1,
) -> Schedule:
    """Return the season's schedule with its cost and a bound beside it.

    Parameters
    ----------
    task
        Fields, days, crews and prices.
    previous, stability_usd
        The plan before, and what a stop moved to another day or crew must save at least: what
        need not change is left. Fields not in it are free to go anywhere, and so are those whose
        stop cannot stay.
    effort
        How hard to look; None: by the size of the task.
    seed
        Of the search; the same task, effort and seed give the same schedule.

    Notes
    -----
    The cost is that of the stops with their real ways within each day. Fields are taken out, a
    few near each other or a whole day, and placed again each where a square metre costs least,
    thousands of times, dearer schedules being kept for a while. The bound is the price at which
    each field pays for being sown, set so that no day can earn more than it is worth
    (`duskline.core.season_bound`); of the days found on the way schedules are put together and
    searched on from.

    After a change the search begins with the stops of ``previous`` that still stand, so that
    with a high enough price no other stop moves.

    Source
    ------
    Derived here; brute force agrees on small seasons (tests/core/test_season.py), and the bound
    never passes the least cost (tests/properties/test_season.py).
    """
    from duskline.core.season_bound import LARGE, BestDays, flat_bound, price_bound
    from duskline.core.season_pool import Pool
    from duskline.core.season_search import Search, even_out
    from duskline.core.season_window import better_windows

    laid = lay_out(task)
    case = laid.case
    n, slots = case.pace.shape
    if n == 0 or slots == 0 or not (case.pace > 0.0).any():
        return _finished(task, laid, StopPlan.empty(case), bound_usd=None, previous=previous)
    effort = effort or Effort.for_size(fields=n, slots=slots)
    kept = None if previous is None else Kept(laid, task, previous, stability_usd)
    searched = case if kept is None else kept.priced(case)
    search = Search.of(searched, seed)
    plan = StopPlan.empty(case)
    if previous is not None:
        plan = standing_plan(laid, task, previous)
        plan.grow_rests(case)
        even_out(searched, plan)
    flat = flat_bound(case)
    search.fill(plan)
    grown: list[StopPlan] = []
    if previous is None:
        large = case.pace.size > LARGE
        grown = search.grown(
            flat.prices, times=DEARER[-1:] if large else DEARER[:-1], starts=1 if large else 3
        )
        plan = min(plan, grown[0], key=lambda one: one.total_usd(case)).copy()
    even_out(searched, plan)
    going_usd = float(case.slot_usd.max()) + case.most_stop_usd
    search.warm_usd = max(1e-6, 0.01 * plan.total_usd(case) / math.sqrt(n), WARM_GOING * going_usd)
    # Where no plans are made of the bound's days, the search is all there is.
    search.improve(plan, effort.rounds // (20 if effort.dives else 2))
    if int(plan.cnt.max()) > LONG_DAY:
        effort = replace(effort, windows=0, branches=0)
    pool, days = Pool(case), BestDays()
    for one in grown:
        pool.add_plan(one)
    plain, prices = price_bound(flat, plan, days=days, pool=pool, rounds=effort.price_rounds)
    # Working time is worth what the bound's prices say of each day.
    worth = np.maximum(0.0, prices.worth_usd + case.slot_usd)
    search.second_usd = np.maximum(worth / np.maximum(case.budget_s, 1.0), 0.1 * search.second_usd)
    if prices.mixture is not None:
        search.dual_usd, search.growth = prices.prices.dual_usd_per_m2, GROWTH
    hand = _Hand(case=case, search=search, plan=plan)
    _dive(hand, prices, pool, effort)
    if effort.dives == 0:
        search.improve(hand.plan, effort.rounds // 2, warm=0.5)
    if effort.windows and previous is None:
        hand.plan = better_windows(search, hand.plan, windows=effort.windows)
    bound = _better_bound(hand, plain, prices, pool, days, effort)
    plan = hand.plan
    search.improve(plan, effort.rounds // (8 if effort.dives else 4), warm=0.3)
    if previous is None or kept is None:
        return _finished(task, laid, plan, bound_usd=bound, previous=None)
    _keep_orders(task, laid, plan, previous)
    return _finished(
        task,
        laid,
        plan,
        bound_usd=bound,
        previous=previous,
        upset_usd=kept.upset_usd(plan),
    )


def cost_of(schedule: Schedule, task: SeasonTask) -> SeasonCost:
    """Return what the stops of a schedule cost under another task's prices and days.

    For a plan kept as it is after the task changed. Stops that the task does not allow, and what
    no longer fits, count as left out.
    """
    laid = lay_out(task)
    plan = standing_plan(laid, task, schedule)
    return _finished(task, laid, plan, bound_usd=None, previous=schedule).cost


@dataclass(slots=True, eq=False)
class _Hand:
    """The cheapest plan so far, for a search that may price stops otherwise than the case."""

    case: Case
    search: Search
    plan: StopPlan

    def offer_areas(self, area_m2: NDArray[np.float64], *, rounds: int) -> None:
        """Make a plan of areas (fields, slots), search on from it, keep it if it is cheaper."""
        from duskline.core.season_search import even_out, from_pairs

        searched, other = self.search.case, from_pairs(self.search, area_m2)
        even_out(searched, other)
        self.search.improve(other, rounds)
        if other.total_usd(searched) < self.plan.total_usd(searched) - 1e-6:
            self.plan = other


def _dive(hand: _Hand, prices: PriceBound, pool: Pool, effort: Effort) -> None:
    """Make plans of the days that the bound is made of, search on from each, keep the best."""
    from duskline.core.season_bound import QUICK_NODES, BestDays
    from duskline.core.season_dive import dive
    from duskline.core.season_search import from_pairs

    if prices.mixture is None or effort.dives == 0:
        return
    search, days, plans = hand.search, BestDays(QUICK_NODES), []
    for number in range(effort.dives):
        area = dive(
            prices,
            pool,
            upper_usd=hand.plan.total_usd(hand.case),
            days=days,
            rng=search.rng if number else None,
        )
        plans.append(from_pairs(search, area))
    plans = [hand.plan, *search.improved(plans, effort.rounds, warm=WARM_ON)]
    hand.plan = min(plans, key=lambda plan: plan.total_usd(search.case))


def _better_bound(
    hand: _Hand,
    plain: PriceBound,
    prices: PriceBound,
    pool: Pool,
    days: BestDays,
    effort: Effort,
) -> float:
    """Return a better bound: by sets of fields where they are few, else by questions asked."""
    from duskline.core.season_bound import branch_bound
    from duskline.core.season_exact import set_model

    upper_usd = hand.plan.total_usd(hand.case)
    if prices.mixture is None or prices.bound_usd >= upper_usd:
        return prices.bound_usd
    if effort.nodes > 0:
        exact = set_model(plain, upper_usd=upper_usd, nodes=effort.nodes)
        if exact is not None:
            if exact.area_m2 is not None:
                hand.offer_areas(exact.area_m2, rounds=effort.rounds // 10)
            return max(prices.bound_usd, exact.bound_usd)
    return branch_bound(
        prices,
        upper_usd=upper_usd,
        days=days,
        pool=pool,
        rounds=effort.price_rounds,
        branches=effort.branches,
    )


def _keep_orders(task: SeasonTask, laid: Laid, plan: StopPlan, previous: Schedule) -> None:
    """Leave the order of stops as it was in days whose stops are the same."""
    field_at = {f.name: i for i, f in enumerate(task.fields)}
    slot_at = {slot: k for k, slot in enumerate(laid.slots)}
    for one in previous.crew_days:
        k = slot_at.get((one.day, one.crew))
        if k is not None and all(visit.field in field_at for visit in one.visits):
            kept_order(laid.case, k, [field_at[visit.field] for visit in one.visits], plan)


def _finished(
    task: SeasonTask,
    laid: Laid,
    plan: StopPlan,
    *,
    bound_usd: float | None,
    previous: Schedule | None,
    upset_usd: float = 0.0,
) -> Schedule:
    """Return the plan as the schedule people read."""
    case, crew_days = laid.case, []
    holds = dict(task.hoppers)
    crews = {c.name: c for c in task.crews}
    parts = dict.fromkeys(("wait", "late", "travel", "haul", "visits", "clean", "out"), 0.0)
    was = {} if previous is None else {(c.day, c.crew): c.visits for c in previous.crew_days}
    idle = 0.0
    for k, (day, name) in enumerate(laid.slots):
        crew, visits, clock = crews[name], [], 0.0
        order = [(int(plan.seq[k, p]), float(plan.amt[k, p])) for p in range(int(plan.cnt[k]))]
        if [task.fields[i].name for i, _ in order] != [v.field for v in was.get((day, name), ())]:
            order = _for_two_machines(crew, order, case, k)
        last = -1
        for i, area in order:
            f = task.fields[i]
            way_m = (
                float(case.road_m[last, i])
                if last >= 0
                else max(0.0, case.start_m[case.crew[k], i])
            )
            per_m = case.s_per_m if last >= 0 else case.start_s_per_m
            leg_s = way_m * per_m[case.crew[k]] + (crew.fold_s if last >= 0 else 0.0)
            if last >= 0 and case.lot[last] != case.lot[i]:
                leg_s += crew.clean_out_s
                parts["clean"] += case.clean_usd
            clock = max(clock + leg_s, float(case.ready_s[i, k]))
            takes_s = crew.visit_s + area * float(case.pace[i, k])
            visits.append(
                Visit(
                    field=f.name,
                    area_m2=area,
                    lot=f.lot,
                    clean_out=holds.get(name, f.lot) != f.lot,
                    starts_s=clock,
                    takes_s=takes_s,
                    travel_m=way_m,
                )
            )
            clock += takes_s
            holds[name] = f.lot
            last = i
            parts["wait"] += area * float(laid.wait[i, k])
            parts["late"] += area * float(laid.late[i, k])
            parts["haul"] += area * float(laid.haul[i, k])
            parts["travel"] += way_m * case.travel_usd
            parts["visits"] += task.prices.visit_usd
        if visits:
            parts["out"] += task.prices.crew_day_usd
        elif case.slot_usd[k] < task.prices.crew_day_usd:
            idle += task.prices.crew_day_usd
        crew_days.append(
            CrewDay(
                day=day,
                crew=name,
                visits=tuple(visits),
                used_s=clock,
                budget_s=float(case.budget_s[k]),
            )
        )
    cost = SeasonCost(
        wait_usd=parts["wait"],
        late_usd=parts["late"],
        unplaced_usd=plan.left_usd(case),
        travel_usd=parts["travel"],
        haul_usd=parts["haul"],
        visits_usd=parts["visits"],
        clean_outs_usd=parts["clean"],
        crew_days_usd=parts["out"],
        idle_usd=idle,
        upset_usd=upset_usd,
    )
    finish: dict[str, int] = {}
    for one in crew_days:
        for visit in one.visits:
            finish[visit.field] = one.day
    left = {f.name: float(plan.left[i]) for i, f in enumerate(task.fields) if plan.left[i] > 0.0}
    bound = cost.total_usd if bound_usd is None else bound_usd + laid.paid_usd
    found = Schedule(
        crew_days=tuple(crew_days),
        unplaced_m2=left,
        finish_days={name: day for name, day in finish.items() if name not in left},
        cost=cost,
        bound_usd=bound,
        task=task,
    )
    if previous is None:
        return found
    return replace(found, changes=changes_between(previous, found))


def _for_two_machines(
    crew: SeasonCrew, order: list[tuple[int, float]], case: Case, k: int
) -> list[tuple[int, float]]:
    """Return a day's stops in the order that ends covering soonest, where moves are all alike."""
    spread, cover = crew.spread_s_per_m2, crew.cover_s_per_m2
    if spread is None or cover is None or len(order) < 2:
        return order
    one_lot = len({int(case.lot[i]) for i, _ in order}) == 1
    flat = math.isinf(crew.road_speed_mps) and case.travel_usd == 0.0 and crew.start_m is None
    if not (one_lot and flat) or any(case.ready_s[i, k] > 0.0 for i, _ in order):
        return order
    times = [(area * spread, area * cover) for _, area in order]
    return [order[at] for at in order_for_two_machines(times)]
