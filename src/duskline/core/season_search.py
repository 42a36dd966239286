"""Plans of a season's stops: searched for, made of days that promise much, and evened out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from duskline.core.season_case import StopPlan, near_lists
from duskline.core.side_by_side import side_by_side

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from duskline.core.season_pool import Prices
    from duskline.core.season_way_kernel import Case

__all__ = ["Search", "even_out", "from_pairs"]


@dataclass(slots=True, eq=False)
class Search:
    """The search for a plan: its case, its random draws and what working time is worth.

    Attributes
    ----------
    second_usd : (s,)
        What a second of each slot may be worth. [USD/s]
    dual_usd : (n,)
        What a sown square metre of each field may pay. [USD/m2]
    growth
        Share of the rounds in which days are grown by that.
    warm_usd
        How much dearer a plan may be to be the next starting point, at first.
    """

    case: Case
    rng: np.random.Generator
    near: NDArray[np.int64]
    order: NDArray[np.int64]
    second_usd: NDArray[np.float64]
    dual_usd: NDArray[np.float64]
    growth: float = 0.0
    warm_usd: float = 0.0

    @classmethod
    def of(cls, case: Case, seed: int) -> Search:
        """Return a search that knows nothing yet but the case."""
        return cls(
            case=case,
            rng=np.random.Generator(np.random.PCG64(seed)),
            near=near_lists(case.road_m),
            order=np.lexsort((-case.area, _urgency(case))),
            second_usd=np.full(len(case.crew), _second_usd(case)),
            dual_usd=case.unplaced.copy(),
        )

    def grown(self, prices: Prices, *, times: Sequence[float], starts: int) -> list[StopPlan]:
        """Return plans grown day by day, then filled; the cheapest first.

        Parameters
        ----------
        prices
            What sowing earns; from a bound, so that it may be too little to go out for.
        times
            It earns so many times that.
        starts
            Fields that each day is grown from.
        """
        from duskline.core.season_kernel import grow_days

        plans = []
        for many in times:
            plan = StopPlan.empty(self.case)
            dual = np.minimum(self.case.unplaced, many * prices.dual_usd_per_m2)
            grow_days(
                *(self.case, dual, prices.seed_usd_per_kg, starts),
                *(plan.seq, plan.amt, plan.cnt, plan.left, plan.stock),
            )
            self.fill(plan)
            plans.append(plan)
        return sorted(plans, key=lambda plan: plan.total_usd(self.case))

    def fill(self, plan: StopPlan) -> None:
        """Place what a plan leaves out into what room there is, the most urgent first."""
        from duskline.core.season_kernel import fill_days

        fill_days(
            *(self.case, plan.seq, plan.amt, plan.cnt, plan.left, plan.stock),
            *(self.order, self.rng),
        )

    def improve(self, plan: StopPlan, rounds: int, *, warm: float = 1.0) -> None:
        """Take fields out and place them again, so many times; the best is kept."""
        self._improve(plan, rounds, warm, self.rng)

    def improved(
        self, plans: Sequence[StopPlan], rounds: int, *, warm: float = 1.0
    ) -> list[StopPlan]:
        """Return plans searched on from these, side by side and each by draws of its own."""
        found = [plan.copy() for plan in plans]
        side_by_side(
            lambda plan, rng: self._improve(plan, rounds, warm, rng),
            found,
            self.rng.spawn(len(found)),
        )
        return found

    def _improve(self, plan: StopPlan, rounds: int, warm: float, rng: np.random.Generator) -> None:
        from duskline.core.season_kernel import improve

        if rounds > 0:
            warm_usd = warm * self.warm_usd
            improve(
                *(self.case, plan.seq, plan.amt, plan.cnt, plan.left, plan.stock, self.near),
                *(self.second_usd, self.dual_usd, self.growth, warm_usd, 0.01 * warm_usd),
                *(rounds, rng),
            )
        even_out(self.case, plan)


def _urgency(case: Case) -> NDArray[np.float64]:
    """Return what a day's delay costs at worst, the most urgent lowest. (n,)"""
    least = np.where(case.pace > 0.0, case.price, np.inf).min(axis=1)
    most = np.where(case.pace > 0.0, case.price, -np.inf).max(axis=1)
    spread = np.where(np.isfinite(least), most - np.where(np.isfinite(least), least, 0.0), 0.0)
    return np.asarray(-spread)


def _second_usd(case: Case) -> float:
    """Return a scale for what a second of working time may be worth. [USD/s]"""
    is_open = case.pace > 0.0
    if not is_open.any():
        return 0.0
    per_m2 = float(np.ptp(case.price[is_open]))
    per_m2 = max(per_m2 / max(1, case.pace.shape[1]), 0.02 * float(case.unplaced.mean()))
    return float(per_m2 / np.median(case.pace[is_open]))


def from_pairs(search: Search, area: NDArray[np.float64]) -> StopPlan:
    """Return a plan with these areas of each field in each slot, as far as they fit; (n, s)."""
    from duskline.core.season_way_kernel import day_of, quick_way

    case = search.case
    plan = StopPlan.empty(case)
    area = _possible(case, area)
    for k in range(area.shape[1]):
        todo = np.flatnonzero(area[:, k] > 0.0)[: plan.seq.shape[1]]
        if not len(todo):
            continue
        quick_way(case, k, todo, area[todo, k], plan.seq[k], plan.amt[k])
        plan.cnt[k] = len(todo)
        for p in range(int(plan.cnt[k])):
            i = plan.seq[k, p]
            plan.left[i] -= plan.amt[k, p]
            plan.stock[case.lot[i]] -= plan.amt[k, p] * case.kg[i]
        while plan.cnt[k]:
            done, _ = day_of(case, k, plan.seq[k], plan.amt[k], plan.cnt[k])
            over_s = float(done - case.budget_s[k])
            if over_s <= 1e-9 * case.budget_s[k]:
                break
            last = int(plan.cnt[k]) - 1
            parts = [q for q in range(last + 1) if not case.whole[plan.seq[k, q]]]
            p = max(parts, key=lambda q: plan.amt[k, q], default=last)
            i = plan.seq[k, p]
            cut = (over_s + 1e-6) / case.pace[i, k]
            if case.whole[i] or plan.amt[k, p] - cut < case.least[i]:
                plan.drop(case, k, [p])
            else:
                plan.amt[k, p] -= cut
                plan.left[i] += cut
                plan.stock[case.lot[i]] += cut * case.kg[i]
    plan.tidy(case)
    plan.grow_rests(case)
    search.fill(plan)
    return plan


def _possible(case: Case, area: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return areas that no field and no lot is too small for; whole fields in one slot or none."""
    area = np.minimum(area, case.area[:, None])
    main = area.argmax(axis=1)
    most = area[np.arange(len(area)), main]
    area[case.whole] = 0.0
    sown = case.whole & (most >= 0.5 * case.area)
    area[sown, main[sown]] = case.area[sown]
    total = area.sum(axis=1)
    area *= np.minimum(1.0, case.area / np.maximum(total, 1e-9))[:, None]
    stock = case.stock_kg.copy()
    for i in np.argsort(-case.unplaced, kind="stable"):
        need_kg = area[i].sum() * case.kg[i]
        share = 1.0 if need_kg <= stock[case.lot[i]] else stock[case.lot[i]] / need_kg
        if share < 1.0 - 1e-9 and case.whole[i]:
            share = 0.0
        area[i] *= share
        stock[case.lot[i]] -= share * need_kg
    # Parts too small for a visit go back, to be placed anew.
    area[area < case.least[:, None] * (1.0 - 1e-7)] = 0.0
    return area


def even_out(case: Case, plan: StopPlan) -> None:
    """Shift area between the stops of the same fields so that it costs least; stops stay.

    A linear model: what each part sows, within each slot's time and each lot's seed.
    """
    from scipy.optimize import linprog
    from scipy.sparse import coo_matrix

    from duskline.core.season_way_kernel import slot_costs

    done, _ = slot_costs(case, plan.seq, plan.amt, plan.cnt)
    waits = {k for k, _, i in plan.stops() if case.ready_s[i, k] > 0.0}
    parts = [(k, p, i) for k, p, i in plan.stops() if k not in waits and not case.whole[i]]
    if not parts:
        return
    rows, cols, vals = [], [], []
    limits: list[float] = []
    row_of: dict[tuple[str, int], int] = {}

    def row(what: str, which: int, spare: float) -> int:
        if (what, which) not in row_of:
            row_of[what, which] = len(limits)
            limits.append(spare)
        return row_of[what, which]

    for at, (k, p, i) in enumerate(parts):
        lot = int(case.lot[i])
        entries = [
            (row("slot", k, float(case.budget_s[k] - done[k])), float(case.pace[i, k])),
            (row("field", i, float(plan.left[i])), 1.0),
        ]
        if case.kg[i] > 0.0 and math.isfinite(case.stock_kg[lot]):
            entries.append((row("lot", lot, float(plan.stock[lot])), float(case.kg[i])))
        for one, weight in entries:
            limits[one] += float(plan.amt[k, p]) * weight
            rows.append(one)
            cols.append(at)
            vals.append(weight)
    least = []
    for k, p, i in parts:
        # A stop that should stay keeps more than a token of its field.
        stays = 0.1 * case.area[i] if case.visit_usd[i, k] < 0.0 else 0.0
        least.append((min(float(plan.amt[k, p]), max(float(case.least[i]), float(stays))), None))
    # A field that is sown whole stays so, that no rest of it is left behind.
    whole = sorted({i for _, _, i in parts if plan.left[i] <= 0.0})
    place = {i: at for at, i in enumerate(whole)}
    done_at = [(place[i], at) for at, (_, _, i) in enumerate(parts) if i in place]
    sown = np.zeros(len(whole))
    for one, at in done_at:
        sown[one] += plan.amt[parts[at][0], parts[at][1]]
    found = linprog(
        np.array([case.price[i, k] - case.unplaced[i] for k, _, i in parts]),
        A_ub=coo_matrix((vals, (rows, cols)), shape=(len(limits), len(parts))),
        b_ub=np.maximum(limits, 0.0),
        A_eq=coo_matrix(
            (np.ones(len(done_at)), ([one for one, _ in done_at], [at for _, at in done_at])),
            shape=(len(whole), len(parts)),
        )
        if whole
        else None,
        b_eq=sown if whole else None,
        bounds=least,
        method="highs",
    )
    if found.x is None:
        return
    other = plan.copy()
    for (k, p, i), area in zip(parts, found.x, strict=True):
        change = float(area) - other.amt[k, p]
        other.amt[k, p] = area
        other.left[i] -= change
        other.stock[case.lot[i]] -= change * case.kg[i]
    for k in range(len(other.cnt)):
        crumbs = [
            p
            for p in range(int(other.cnt[k]))
            if other.amt[k, p] <= 1e-7 * case.area[other.seq[k, p]]
        ]
        if crumbs:
            other.drop(case, k, crumbs)
    over = np.minimum(other.left, 0.0)
    other.tidy(case)
    if (over < -1e-7 * case.area).any() or other.total_usd(case) > plan.total_usd(case) + 1e-9:
        return
    plan.take(other)
