"""A plan bettered window by window: a few crew-days near each other, planned anew to the best."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from duskline.core.season_bound import BestDays, columns, flat_bound
from duskline.core.season_exact import set_model
from duskline.core.season_pool import Pool
from duskline.core.season_search import even_out, from_pairs

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.season_case import StopPlan
    from duskline.core.season_search import Search
    from duskline.core.season_way_kernel import Case

__all__ = ["better_windows"]

SLOTS = 4  # of a window
ROUNDS = 40  # times that its prices are moved
SETS = 500  # of fields in its model; with more it is left as it is
NODES = 100  # of its model
NEAR = 1e-3  # of its cost: not worth a look


def better_windows(search: Search, plan: StopPlan, *, windows: int) -> StopPlan:
    """Return the plan after so many windows were looked at; never a dearer one.

    Parameters
    ----------
    search
        Gives the case and the draws of windows.
    plan
        To begin with.

    Notes
    -----
    A window is a slot and those whose fields lie near its own, by distance and chance. What its
    slots sow, and what the plan leaves out, is planned anew as a model of sets of fields; all
    other slots stay.
    """
    case, seen = search.case, set()
    days = BestDays()
    for _ in range(windows):
        slots = _near_slots(case, plan, search.rng)
        key = tuple((int(k), plan.seq[k, : plan.cnt[k]].tobytes()) for k in slots)
        if key in seen:
            continue
        seen.add(key)
        area = _planned_anew(case, plan, slots, days)
        if area is None:
            continue
        other = from_pairs(search, area)
        even_out(case, other)
        if other.total_usd(case) < plan.total_usd(case) - 1e-6:
            plan = other
    return plan


def _near_slots(case: Case, plan: StopPlan, rng: np.random.Generator) -> list[int]:
    """Return a slot at random and those near it, in rising order."""
    going = np.flatnonzero(plan.cnt > 0)
    slots = len(plan.cnt)
    if not len(going):
        return []
    first = int(rng.choice(going))
    own = plan.seq[first, : plan.cnt[first]]
    far_m = float(case.road_m.max())
    way_m = np.full(slots, far_m)
    for k in going:
        way_m[k] = case.road_m[np.ix_(own, plan.seq[k, : plan.cnt[k]])].min()
    apart = np.abs(np.arange(slots) - first) / slots
    rank = way_m * rng.uniform(0.3, 1.0, slots) + far_m * apart * rng.uniform(0.0, 0.5, slots)
    rank[first] = -1.0
    return sorted(int(k) for k in np.argsort(rank, kind="stable")[:SLOTS])


def _planned_anew(
    case: Case, plan: StopPlan, slots: list[int], days: BestDays
) -> NDArray[np.float64] | None:
    """Return areas of the whole plan with these slots planned anew; None: as it is. (n, s)"""
    from duskline.core.season_way_kernel import slot_costs

    area = np.zeros(case.pace.shape)
    for k, p, i in plan.stops():
        area[i, k] += plan.amt[k, p]
    free = area[:, slots].sum(axis=1) + plan.left
    fields = np.flatnonzero(free > 1e-7 * case.area)
    if not len(fields):
        return None
    part = _part_of(case, fields, np.array(slots), free[fields], plan.stock)
    part = part._replace(
        stock_kg=part.stock_kg
        + np.bincount(
            case.lot, weights=area[:, slots].sum(axis=1) * case.kg, minlength=len(case.stock_kg)
        )
    )
    _, usd = slot_costs(case, plan.seq, plan.amt, plan.cnt)
    cost = float(usd[slots].sum()) + plan.left_usd(case)
    pool, at = Pool(part), np.full(len(case.area), -1)
    at[fields] = np.arange(len(fields))
    for j, k in enumerate(slots):
        count = int(plan.cnt[k])
        if count:
            order = np.argsort(at[plan.seq[k, :count]])
            those = at[plan.seq[k, :count]][order]
            pool.add(j, those, plan.amt[k, :count][order], float(usd[k]))
    found = columns(
        *(part, flat_bound(part), pool, cost, days, ROUNDS),
        least_days=0,
        most_days=len(slots),
    )
    if found.mixture is None or cost - found.bound_usd <= NEAR * cost:
        return None
    exact = set_model(found, upper_usd=cost, nodes=NODES, gap=NEAR, most_sets=SETS)
    if exact is None or exact.area_m2 is None:
        return None
    area[:, slots] = 0.0
    area[np.ix_(fields, np.array(slots))] = exact.area_m2
    return area


def _part_of(
    case: Case,
    fields: NDArray[np.int64],
    slots: NDArray[np.int64],
    area: NDArray[np.float64],
    stock_kg: NDArray[np.float64],
) -> Case:
    """Return the case of some fields, with what of them is free, and some slots."""
    pairs = np.ix_(fields, slots)
    least = np.minimum(case.least[fields], area)
    return case._replace(
        area=area,
        whole=case.whole[fields],
        least=least,
        kg=case.kg[fields],
        lot=case.lot[fields],
        unplaced=case.unplaced[fields],
        road_m=np.ascontiguousarray(case.road_m[np.ix_(fields, fields)]),
        start_m=np.ascontiguousarray(case.start_m[:, fields]),
        crew=case.crew[slots],
        day=case.day[slots],
        budget_s=case.budget_s[slots],
        slot_usd=case.slot_usd[slots],
        ready_s=np.ascontiguousarray(case.ready_s[pairs]),
        pace=np.ascontiguousarray(case.pace[pairs]),
        price=np.ascontiguousarray(case.price[pairs]),
        visit_usd=np.ascontiguousarray(case.visit_usd[pairs]),
        near_m=np.ascontiguousarray(case.near_m[pairs]),
        must=np.ascontiguousarray(case.must[pairs]),
        sharp=np.maximum(2.0, area / least),
        stock_kg=stock_kg,
        most_stop_usd=0.0,
    )
