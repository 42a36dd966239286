"""What no schedule of a season can cost less than: prices on fields, and the exact model."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.season_kernel import Case

__all__ = ["BestDays", "Exact", "PriceBound", "branch_bound", "exact_model", "price_bound"]


DRAWN_BACK = 0.5
FEW = 12  # fields of which every set is looked at
LARGE = 40_000  # pairs of field and slot; above, prices are moved without a linear model


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class MixedDay:
    """A day's share in a mixture: its slot, the fields and what it sows of each. [m2]"""

    share: float
    slot: int
    fields: NDArray[np.int64]
    areas: NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class PriceBound:
    """The bound, and the prices that prove it.

    Attributes
    ----------
    bound_usd
        Least cost, waiting of paid crews not counted.
    dual_usd_per_m2 : (n,)
        What each field pays for a sown square metre.
    seed_usd_per_kg : (l,)
        What each lot's seed is worth because it is scarce.
    worth_usd : (s,)
        Of the best day in each slot at these prices.
    going_count, chosen : (), (n, s)
        Crew-days that go out, and share of each pair of field and slot, in the mixture of days
        that the bound stands for; 0 where there was no linear model.
    mixture
        The days of that mixture.
    """

    bound_usd: float
    dual_usd_per_m2: NDArray[np.float64]
    seed_usd_per_kg: NDArray[np.float64]
    worth_usd: NDArray[np.float64]
    going_count: float
    chosen: NDArray[np.float64]
    mixture: tuple[MixedDay, ...]


class BestDays:
    """Finds in each slot the day that is worth most: every set of few fields, or by units.

    Parameters
    ----------
    case
        Whose fields, ways and crews it knows; pairs may be opened and shut later.
    unit_s
        Working time is cut to whole units of this where there are more than ``FEW`` fields. [s]
    """

    def __init__(self, case: Case, *, unit_s: float) -> None:
        self.unit_s = unit_s
        self.few = len(case.area) <= FEW
        if self.few:
            from duskline.core.season_price_kernel import every_way

            self.least_s, self.least_usd = every_way(case)

    def find(
        self,
        case: Case,
        dual: NDArray[np.float64],
        seed: NDArray[np.float64],
        worth: NDArray[np.float64],
        picked: NDArray[np.float64],
    ) -> None:
        """Fill ``worth`` (s,) and ``picked`` (n, s) for these prices."""
        from duskline.core.season_price_kernel import best_days, best_days_of_few

        if self.few:
            best_days_of_few(case, self.least_s, self.least_usd, dual, seed, worth, picked)
        else:
            best_days(case, dual, seed, self.unit_s, worth, picked)


def price_bound(case: Case, *, upper_usd: float, days: BestDays, rounds: int) -> PriceBound:
    """Return a cost below which no schedule can lie.

    Parameters
    ----------
    case
        The season in arrays.
    upper_usd
        Cost of a schedule at hand; only sets how far prices are moved at first.
    days
        Finds the best days at given prices.
    rounds
        Times that prices are moved at most.

    Notes
    -----
    Let each field pay ``d`` for a sown m2, at most what leaving it out costs, and each lot's
    seed cost ``m``. For any such prices::

        cost >= sum d area - sum m stock - sum over slots of the best day's worth

    and the best day of each slot is found by itself (``season_kernel.best_days``). Prices are
    first moved against what the best days sow too much or too little of, then taken from a
    linear model that mixes the days found.

    Source
    ------
    Lagrangian relaxation of "each field is sown once" (memory); never above the least cost of
    small seasons by brute force, tests/properties/test_season.py.
    """
    slots = len(case.crew)
    large = case.pace.size > LARGE
    begin = _moved(
        case, _first_prices(case), upper_usd, days, rounds if large else min(rounds, 60), 0, slots
    )
    if large or math.isinf(begin.bound_usd):
        return begin
    return _by_columns(case, begin, _Pool(case), upper_usd, days, rounds, 0, slots)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Node:
    """Some of all schedules: so many crew-days, these pairs of field and slot in, those out."""

    case: Case
    least_days: int
    most_days: int
    found: PriceBound


def branch_bound(
    case: Case,
    begin: PriceBound,
    *,
    upper_usd: float,
    days: BestDays,
    rounds: int,
    branches: int,
    near: float = 1e-3,
) -> float:
    """Return a better bound, asking of the weakest part of all schedules one question more.

    How many crew-days go out: at most so many, or more? Is this field sown in that slot, or not?
    Each answer has a bound of its own, and the weakest of all stands.

    Parameters
    ----------
    begin
        From ``price_bound`` of the same case.
    branches
        Questions asked at most.
    near
        Ends once the bound is within this share of ``upper_usd``.

    Source
    ------
    Branch and bound (memory); the two answers are exhaustive, so the least bound holds for all.
    """
    slots = len(case.crew)
    if branches == 0 or case.pace.size > LARGE or math.isinf(begin.bound_usd):
        return begin.bound_usd
    pool = _Pool(case)
    at_first = _by_columns(case, begin, pool, upper_usd, days, rounds, 0, slots)
    root = _Node(case=case, least_days=0, most_days=slots, found=at_first)
    heap: list[tuple[float, int, _Node]] = [(max(begin.bound_usd, at_first.bound_usd), 0, root)]
    number = 0
    for _ in range(branches):
        bound, _, node = heap[0]
        if bound >= upper_usd * (1.0 - near):
            break
        answers = _question(node)
        if not answers:
            break
        heapq.heappop(heap)
        for low, high, part in answers:
            number += 1
            found = _by_columns(part, node.found, pool, upper_usd, days, rounds, low, high)
            child = _Node(case=part, least_days=low, most_days=high, found=found)
            heapq.heappush(heap, (max(bound, found.bound_usd), number, child))
    return heap[0][0]


def _question(node: _Node) -> list[tuple[int, int, Case]]:
    """Return the two answers to the question left most open by a part's mixture; none: none."""
    case, low, high = node.case, node.least_days, node.most_days
    going, chosen = node.found.going_count, node.found.chosen
    count = math.floor(going + 1e-6)
    if low <= count < high and 0.02 < going - count < 0.98:
        return [(low, count, case), (count + 1, high, case)]
    open_m2 = np.minimum(chosen, 1.0 - chosen) * case.area[:, None]
    open_m2 = np.where(case.must | (chosen < 0.02) | (chosen > 0.98), 0.0, open_m2)
    i, k = divmod(int(np.argmax(open_m2)), case.pace.shape[1])
    if open_m2[i, k] <= 0.0:
        i, k = _short_ways(case, chosen)
        if i < 0:
            return []
    pace, must, near = case.pace.copy(), case.must.copy(), case.near_m.copy()
    pace[i, k] = 0.0
    must[i, k] = True
    open_now = np.flatnonzero(pace[:, k] > 0.0)
    if len(open_now) > 1:
        # With a field out of the slot, the nearest other may lie farther off.
        away = case.road_m[:, open_now] + np.where(
            np.arange(len(pace))[:, None] == open_now[None, :], math.inf, 0.0
        )
        near[:, k] = away.min(axis=1)
    return [
        (low, high, case._replace(pace=pace, near_m=near)),
        (low, high, case._replace(must=must)),
    ]


def _short_ways(case: Case, chosen: NDArray[np.float64]) -> tuple[int, int]:
    """Return a pair to decide where the mixture counts ways shorter than they are; -1: none.

    The slot whose chosen fields lie farther apart than the nearest open fields do; in it first
    a chosen field not yet decided, then the open field that makes a way look short.
    """
    worst, at = 1.0, (-1, -1)
    for k in range(chosen.shape[1]):
        those = np.flatnonzero(chosen[:, k] > 0.5)
        if len(those) < 2:
            continue
        road = case.road_m[np.ix_(those, those)] + np.diag(np.full(len(those), math.inf))
        short_m = road.min(axis=1) - case.near_m[those, k]
        if short_m.sum() <= worst:
            continue
        undecided = those[~case.must[those, k]]
        if len(undecided):
            worst, at = float(short_m.sum()), (int(undecided[0]), k)
            continue
        f = those[int(np.argmax(short_m))]
        others = np.flatnonzero((case.pace[:, k] > 0.0) & (chosen[:, k] <= 0.5))
        if len(others):
            nearest = others[int(np.argmin(case.road_m[f, others]))]
            worst, at = float(short_m.sum()), (int(nearest), k)
    return at


class _Pool:
    """Days found so far, as columns: what they cost, which fields they sow, in which slot."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.cost: list[float] = []
        self.slot: list[int] = []
        self.fields: list[NDArray[np.int64]] = []
        self.areas: list[NDArray[np.float64]] = []
        self.seen: set[tuple[int, bytes, bytes]] = set()
        # A day for which a crew goes out and sows next to nothing, as ``best_days`` has it.
        for k in range(len(case.crew)):
            if (case.pace[:, k] > 0.0).any():
                self.cost.append(float(case.slot_usd[k]))
                self.slot.append(k)
                self.fields.append(np.zeros(0, dtype=np.int64))
                self.areas.append(np.zeros(0))

    def add(
        self,
        dual: NDArray[np.float64],
        seed: NDArray[np.float64],
        worth: NDArray[np.float64],
        picked: NDArray[np.float64],
    ) -> int:
        """Take in the best days at these prices; return how many are new."""
        case, new = self.case, 0
        pay = dual - seed[case.lot] * case.kg
        for k in range(len(worth)):
            fields = np.flatnonzero(picked[:, k])
            if not len(fields):
                continue
            areas = picked[fields, k]
            key = (k, fields.tobytes(), np.round(areas, 3).tobytes())
            if key in self.seen:
                continue
            self.seen.add(key)
            # As in ``best_days``: what is sown at a loss counts as sown for its price.
            per_m2 = np.maximum(pay[fields], case.price[fields, k])
            per_m2 = np.where(case.whole[fields], pay[fields], per_m2)
            self.cost.append(float((per_m2 * areas).sum() - worth[k]))
            self.slot.append(k)
            self.fields.append(fields)
            self.areas.append(areas)
            new += 1
        return new

    def allowed(self, case: Case) -> list[int]:
        """Return the days that a part of all schedules allows: no pair that is out, all in."""
        needed = case.must.sum(axis=0)
        now = []
        for at, (k, fields) in enumerate(zip(self.slot, self.fields, strict=True)):
            if (case.pace[fields, k] > 0.0).all() and case.must[fields, k].sum() == needed[k]:
                now.append(at)
        return now


def _by_columns(
    case: Case,
    begin: PriceBound,
    pool: _Pool,
    upper_usd: float,
    days: BestDays,
    rounds: int,
    least_days: int,
    most_days: int,
) -> PriceBound:
    """Return the bound over schedules of so many crew-days, with prices from a linear model.

    The model mixes the days found so far; its prices, drawn back towards the best so far, find
    the next days.
    """
    n, slots = case.pace.shape
    stock = np.where(np.isfinite(case.stock_kg), case.stock_kg, 0.0)
    forced = np.asarray(case.must.any(axis=0))
    dual, seed = begin.dual_usd_per_m2.copy(), begin.seed_usd_per_kg.copy()
    best_dual, best_seed, best = dual, seed, -math.inf
    worth, picked = np.zeros(slots), np.zeros((n, slots))
    best_worth = worth.copy()
    chosen, going_count = np.zeros((n, slots)), 0.0
    mixture: tuple[MixedDay, ...] = ()
    drawn_back = DRAWN_BACK
    for number in range(max(1, rounds)):
        days.find(case, dual, seed, worth, picked)
        value = _value(case, dual, seed, worth, stock, forced, least_days, most_days)
        new = pool.add(dual, seed, worth, picked)
        if value > best:
            best, best_dual, best_seed = value, dual, seed
            best_worth = worth.copy()
        if math.isinf(best) or best >= upper_usd or number == rounds - 1:
            break
        mixed = _mix(case, pool, upper_usd, forced, least_days, most_days)
        if mixed is None:
            break
        chosen, going_count, mixture = mixed.chosen, mixed.going_count, mixed.mixture
        near_enough = mixed.model_usd - best <= 2e-5 * abs(upper_usd)
        if near_enough or (new == 0 and drawn_back == 0.0):
            break
        # Found nothing new: the model's own prices, not drawn back, tell whether it is best.
        drawn_back = DRAWN_BACK if new else 0.0
        dual = drawn_back * best_dual + (1.0 - drawn_back) * mixed.dual
        seed = drawn_back * best_seed + (1.0 - drawn_back) * mixed.seed
    return PriceBound(
        bound_usd=best,
        dual_usd_per_m2=best_dual,
        seed_usd_per_kg=best_seed,
        worth_usd=best_worth,
        going_count=going_count,
        chosen=chosen,
        mixture=mixture,
    )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Mixed:
    """The cheapest mixture of days: its cost, prices, and shares of pairs and crew-days."""

    model_usd: float
    dual: NDArray[np.float64]
    seed: NDArray[np.float64]
    chosen: NDArray[np.float64]
    going_count: float
    mixture: tuple[MixedDay, ...]


def _mix(
    case: Case,
    pool: _Pool,
    upper_usd: float,
    forced: NDArray[np.bool_],
    least_days: int,
    most_days: int,
) -> _Mixed | None:
    """Return the cheapest mixture of the days found that this part of all schedules allows."""
    from scipy.optimize import linprog
    from scipy.sparse import csc_matrix

    n, slots = case.pace.shape
    scarce = np.flatnonzero(np.isfinite(case.stock_kg))
    scale = np.maximum(1.0, case.stock_kg[scarce])
    now = pool.allowed(case)
    count = len(now)
    slot = np.array([pool.slot[at] for at in now])
    cols = np.repeat(np.arange(count), [len(pool.fields[at]) for at in now])
    fields = np.concatenate([pool.fields[at] for at in now])
    areas = np.concatenate([pool.areas[at] for at in now])
    every = np.arange(count)
    # Rows: each field once; each slot once; each lot's seed; crew-days at most and at least;
    # slots that must go out. What cannot be met is bought at a price that never pays.
    lot_row = {int(lot): n + slots + at for at, lot in enumerate(scarce)}
    most_row = n + slots + len(scarce)
    must_row = {int(k): most_row + 2 + at for at, k in enumerate(np.flatnonzero(forced))}
    rows = most_row + 2 + len(must_row)
    row = [fields, n + slot, np.arange(n), np.full(count, most_row), np.full(count, most_row + 1)]
    col = [cols, every, count + np.arange(n), every, every]
    val = [areas / case.area[fields], np.ones(count), np.ones(n), np.ones(count), -np.ones(count)]
    for at, (lot, lot_at) in enumerate(lot_row.items()):
        of = case.lot[fields] == lot
        row.append(np.full(int(of.sum()), lot_at))
        col.append(cols[of])
        val.append(areas[of] * case.kg[fields[of]] / scale[at])
    for k, at in must_row.items():
        of = slot == k
        row.append(np.full(int(of.sum()), at))
        col.append(every[of])
        val.append(-np.ones(int(of.sum())))
    bought = np.array([most_row + 1, *must_row.values()])
    row.append(bought)
    col.append(count + n + np.arange(len(bought)))
    val.append(-np.ones(len(bought)))
    matrix = csc_matrix(
        (np.concatenate(val), (np.concatenate(row), np.concatenate(col))),
        shape=(rows, count + n + len(bought)),
    )
    limits = np.concatenate(
        [
            np.ones(slots),
            case.stock_kg[scarce] / scale,
            [float(most_days), -float(least_days)],
            -np.ones(len(must_row)),
        ]
    )
    found = linprog(
        np.concatenate(
            [
                [pool.cost[at] for at in now],
                case.unplaced * case.area,
                np.full(len(bought), 10.0 * abs(upper_usd) + 1.0),
            ]
        ),
        A_ub=matrix[n:],
        b_ub=limits,
        A_eq=matrix[:n],
        b_eq=np.ones(n),
        bounds=(0.0, None),
        method="highs",
    )
    if found.x is None:
        return None
    share = found.x[:count]
    chosen = np.zeros((n, slots))
    np.add.at(chosen, (fields, slot[cols]), share[cols])
    seed = np.zeros(len(case.stock_kg))
    for at, (lot, lot_at) in enumerate(lot_row.items()):
        seed[lot] = max(0.0, -found.ineqlin.marginals[lot_at - n] / scale[at])
    return _Mixed(
        model_usd=float(found.fun),
        dual=np.minimum(case.unplaced, found.eqlin.marginals / case.area),
        seed=seed,
        chosen=chosen,
        going_count=float(share.sum()),
        mixture=tuple(
            MixedDay(
                share=float(share[at]),
                slot=pool.slot[one],
                fields=pool.fields[one],
                areas=pool.areas[one],
            )
            for at, one in enumerate(now)
            if share[at] > 1e-6
        ),
    )


def _value(
    case: Case,
    dual: NDArray[np.float64],
    seed: NDArray[np.float64],
    worth: NDArray[np.float64],
    stock: NDArray[np.float64],
    forced: NDArray[np.bool_],
    least_days: int,
    most_days: int,
) -> float:
    """Return the bound that prices prove, given the worth of the best day in each slot."""
    order = np.lexsort((np.arange(len(worth)), -worth, ~forced))
    wanted = int(np.count_nonzero(forced | (worth > 0.0)))
    out = order[: max(int(np.clip(wanted, least_days, most_days)), int(forced.sum()))]
    if len(out) > most_days or len(out) < least_days or (worth[out] < -1e200).any():
        return math.inf  # nothing of the kind exists
    return float((dual * case.area).sum() - (seed * stock).sum() - worth[out].sum())


def _first_prices(case: Case) -> PriceBound:
    """Return prices to begin with: what sowing each field costs on its cheapest day."""
    least = np.where(case.pace > 0.0, case.price + case.visit_usd / case.area[:, None], np.inf)
    cheapest = least.min(axis=1)
    return PriceBound(
        bound_usd=-math.inf,
        dual_usd_per_m2=np.minimum(
            case.unplaced, np.where(np.isfinite(cheapest), cheapest * 1.05, case.unplaced)
        ),
        seed_usd_per_kg=np.zeros(len(case.stock_kg)),
        worth_usd=np.zeros(len(case.crew)),
        going_count=0.0,
        chosen=np.zeros(case.pace.shape),
        mixture=(),
    )


def _moved(
    case: Case,
    begin: PriceBound,
    upper_usd: float,
    days: BestDays,
    rounds: int,
    least_days: int,
    most_days: int,
) -> PriceBound:
    """Return the bound over schedules of so many crew-days, from prices to begin with."""
    n, slots = case.pace.shape
    area, cap = case.area, case.unplaced
    stock = np.where(np.isfinite(case.stock_kg), case.stock_kg, 0.0)
    scarce = np.isfinite(case.stock_kg) & (case.stock_kg > 0.0)
    dual, seed = begin.dual_usd_per_m2.copy(), begin.seed_usd_per_kg.copy()
    best_dual, best_seed, best = dual.copy(), seed.copy(), -math.inf
    worth, picked = np.zeros(slots), np.zeros((n, slots))
    best_worth = worth.copy()
    way, way_seed = np.zeros(n), np.zeros(len(seed))
    step, still = 1.0, 0
    patience = max(5, rounds // 25)
    for _ in range(rounds):
        days.find(case, dual, seed, worth, picked)
        order = np.argsort(-worth, kind="stable")
        going = int(np.clip(np.count_nonzero(worth > 0.0), least_days, most_days))
        out = order[:going]
        if going and worth[out[-1]] < -1e200:
            # So many crew-days cannot be filled at all.
            return PriceBound(
                bound_usd=math.inf,
                dual_usd_per_m2=dual,
                seed_usd_per_kg=seed,
                worth_usd=worth,
                going_count=0.0,
                chosen=begin.chosen,
                mixture=begin.mixture,
            )
        value = float((dual * area).sum() - (seed * stock).sum() - worth[out].sum())
        if value > best:
            still = 0 if value > best + 1e-5 * abs(upper_usd) else still + 1
            best, best_dual, best_seed = value, dual.copy(), seed.copy()
            best_worth = worth.copy()
        else:
            still += 1
        if best >= upper_usd:
            break
        if still >= patience:
            step, still = step * 0.6, 0
            dual, seed = best_dual.copy(), best_seed.copy()
            way[:], way_seed[:] = 0.0, 0.0
            if step < 2e-3:
                break
        # Shares of fields, so that a small field is as well heard as a large one.
        sown = picked[:, out].sum(axis=1)
        short = (area - sown) / area
        short = np.where((dual >= cap) & (short > 0.0), 0.0, short)
        used = np.zeros(len(seed))
        np.add.at(used, case.lot, sown * case.kg)
        over = np.where(scarce, used / np.where(scarce, stock, 1.0) - 1.0, 0.0)
        over = np.where((seed <= 0.0) & (over < 0.0), 0.0, over)
        way = short + 0.6 * way
        way_seed = over + 0.6 * way_seed
        size = float((way * way).sum() + (way_seed * way_seed).sum())
        if size <= 1e-12:
            break
        move = step * max(upper_usd - value, 1e-4 * abs(upper_usd)) / size
        dual = np.minimum(cap, dual + move * way / area)
        dearer = seed + move * way_seed / np.where(scarce, stock, 1.0)
        seed = np.where(scarce, np.maximum(0.0, dearer), 0.0)
    return PriceBound(
        bound_usd=best,
        dual_usd_per_m2=best_dual,
        seed_usd_per_kg=best_seed,
        worth_usd=best_worth,
        going_count=0.0,
        chosen=begin.chosen,
        mixture=begin.mixture,
    )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Exact:
    """What the exact model gives: its bound, and areas (n, s), None if it found none. [m2]"""

    bound_usd: float
    area_m2: NDArray[np.float64] | None


class _Model:
    """Rows and columns of a model, gathered one after the other."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.high: list[float] = []
        self.whole: list[int] = []
        self.rows: list[int] = []
        self.cols: list[int] = []
        self.vals: list[float] = []
        self.low_row: list[float] = []
        self.high_row: list[float] = []

    def column(self, cost: float, high: float, *, whole: bool = False) -> int:
        self.cost.append(cost)
        self.high.append(high)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def row(self, entries: list[tuple[int, float]], low: float, high: float) -> None:
        at = len(self.low_row)
        for col, val in entries:
            self.rows.append(at)
            self.cols.append(col)
            self.vals.append(val)
        self.low_row.append(low)
        self.high_row.append(high)


def exact_model(case: Case, *, nodes: int, gap: float = 1e-4) -> Exact:
    """Return the bound and the areas of the season as one model of whole numbers.

    Every pair of field and slot is in or out; ways within a day are legs that leave and enter
    each field once. Rings of three and more fields beside the way are not forbidden and ground
    comes ready without waiting, so that the model never costs more than the season does.

    Source
    ------
    Derived here; equals brute force on small seasons (tests/core/test_season.py).
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_matrix

    model = _Model()
    n, slots = case.pace.shape
    out = [model.column(float(case.unplaced[i] * case.area[i]), 1.0) for i in range(n)]
    sums: list[list[tuple[int, float]]] = [[(out[i], 1.0)] for i in range(n)]
    seeds: dict[int, list[tuple[int, float]]] = {}
    shares: dict[tuple[int, int], int] = {}
    for k in range(slots):
        crew = int(case.crew[k])
        go = model.column(float(case.slot_usd[k]), 1.0, whole=True)
        time: list[tuple[int, float]] = [(go, -float(case.budget_s[k]))]
        firsts: list[tuple[int, float]] = [(go, -1.0)]
        lasts: list[tuple[int, float]] = [(go, -1.0)]
        inn: dict[int, int] = {}
        for i in range(n):
            pace = float(case.pace[i, k])
            if pace <= 0.0:
                continue
            room = float(case.budget_s[k] - case.ready_s[i, k] - case.visit_s[crew])
            most = min(1.0, room / (pace * float(case.area[i])))
            if most <= 0.0 or (case.whole[i] and most < 1.0 - 1e-9):
                continue
            z = model.column(float(case.visit_usd[i, k]), 1.0, whole=True)
            x = model.column(float(case.price[i, k] * case.area[i]), 1.0)
            inn[i] = z
            shares[i, k] = x
            sums[i].append((x, 1.0))
            if case.whole[i]:
                model.row([(x, 1.0), (z, -1.0)], 0.0, 0.0)
            else:
                model.row([(x, 1.0), (z, -most)], -math.inf, 0.0)
            model.row([(z, 1.0), (go, -1.0)], -math.inf, 0.0)
            time += [(x, pace * float(case.area[i])), (z, float(case.visit_s[crew]))]
            lot = int(case.lot[i])
            if case.kg[i] > 0.0 and math.isfinite(case.stock_kg[lot]):
                seeds.setdefault(lot, []).append((x, float(case.kg[i] * case.area[i])))
        enter: dict[int, list[tuple[int, float]]] = {i: [(z, -1.0)] for i, z in inn.items()}
        leave: dict[int, list[tuple[int, float]]] = {i: [(z, -1.0)] for i, z in inn.items()}
        for i in inn:
            way = max(0.0, float(case.start_m[crew, i]))
            first = model.column(way * case.travel_usd, 1.0)
            last = model.column(0.0, 1.0)
            firsts.append((first, 1.0))
            lasts.append((last, 1.0))
            enter[i].append((first, 1.0))
            leave[i].append((last, 1.0))
            time.append((first, way * float(case.start_s_per_m[crew])))
        for i in inn:
            for j in inn:
                if i == j:
                    continue
                way = float(case.road_m[i, j])
                other = case.lot[i] != case.lot[j]
                usd = way * case.travel_usd + (case.clean_usd if other else 0.0)
                leg = model.column(usd, 1.0)
                leg_s = float(case.fold_s[crew]) + way * float(case.s_per_m[crew])
                time.append((leg, leg_s + (float(case.clean_s[crew]) if other else 0.0)))
                enter[j].append((leg, 1.0))
                leave[i].append((leg, 1.0))
        for i in inn:
            model.row(enter[i], 0.0, 0.0)
            model.row(leave[i], 0.0, 0.0)
        model.row(firsts, 0.0, 0.0)
        model.row(lasts, 0.0, 0.0)
        model.row(time, -math.inf, 0.0)
    for i in range(n):
        model.row(sums[i], 1.0, 1.0)
    for lot, entries in seeds.items():
        model.row(entries, 0.0, float(case.stock_kg[lot]))
    matrix = csr_matrix(
        (model.vals, (model.rows, model.cols)), shape=(len(model.low_row), len(model.cost))
    )
    found = milp(
        np.array(model.cost),
        integrality=np.array(model.whole),
        bounds=Bounds(0.0, np.array(model.high)),
        constraints=LinearConstraint(matrix, model.low_row, model.high_row),
        options={"node_limit": nodes, "mip_rel_gap": gap},
    )
    bound = found.mip_dual_bound if found.mip_dual_bound is not None else -math.inf
    area = None
    if found.x is not None:
        area = np.zeros(case.pace.shape)
        for (i, k), x in shares.items():
            area[i, k] = found.x[x] * case.area[i]
    return Exact(bound_usd=float(bound), area_m2=area)
