"""What no schedule of a season can cost less than: prices on fields, and questions asked."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from duskline.core.season_pool import Mixture, Pool, Prices, mix
from duskline.core.side_by_side import side_by_side

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.season_case import StopPlan
    from duskline.core.season_way_kernel import Case

__all__ = [
    "LARGE",
    "QUICK_NODES",
    "BestDays",
    "PriceBound",
    "branch_bound",
    "columns",
    "flat_bound",
    "price_bound",
]

DRAWN_BACK, LEAST_BACK, MOST_BACK = 0.5, 0.1, 0.85  # shares of the way to the best prices
LARGE = 40_000  # pairs of field and slot; above, prices are moved without a linear model
DAYS_KEPT = 3  # of each slot and round: the best and some before it
NODES = 60_000  # sets begun in a slot, before they are too many
STOP_PRICES = (1.0, 1.25, 1.5, 2.0)  # stages: most a stop may earn, in prices of a visit
QUICK_NODES = 6_000  # where any good day will do
NEAR = 5e-4  # of the cost at hand: the mixture is as good as its bound
LAST_NEAR, LAST_ROUNDS = 1e-4, 15  # once no plan is made of the mixture any more
SHORT_ROUNDS = 3  # with sets too many in some slot, before a stage is given up
FAR = 1e300


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class PriceBound:
    """The bound, and the prices that prove it.

    Attributes
    ----------
    case
        What it bounds, with the price that it let a stop earn.
    bound_usd
        Least cost, waiting of paid crews not counted.
    worth_usd : (s,)
        Of the best day in each slot at these prices.
    mixture
        The cheapest mixture of the days found; None where days are too many to mix.
    """

    case: Case
    bound_usd: float
    prices: Prices
    worth_usd: NDArray[np.float64]
    mixture: Mixture | None


class BestDays:
    """Finds in each slot the day that is worth most, set of fields by set.

    Parameters
    ----------
    nodes
        Sets begun in a slot, before they are too many: with few it is a quick look.
    """

    def __init__(self, nodes: int = NODES) -> None:
        self.nodes = nodes
        self.short: list[int] = []
        self.limit: dict[int, float] = {}

    def find(self, case: Case, prices: Prices, pool: Pool) -> tuple[NDArray[np.float64], int]:
        """Return what each slot's best day is worth (s,), and how many days are new.

        The days go into the pool. ``short`` lists the slots with too many sets to know whether
        the day found is the best; none there is worth more than ``limit``. Slots are looked
        through side by side, and their days taken in by the slots' order.
        """
        worth, new = pool.worth(case, prices), 0
        self.short = []
        found = side_by_side(
            lambda k: self._days_of(case, k, prices, float(worth[k])), range(len(worth))
        )
        for k, one in enumerate(found):
            for row in range(one.count):
                worth[k] = max(worth[k], one.worths[row])
                new += _taken(case, k, one, row, prices, pool)
            if not one.whole:
                self.short.append(k)
                self.limit[k] = one.limit_usd
        return worth, new

    def _days_of(self, case: Case, k: int, prices: Prices, least_usd: float) -> _Found:
        """Return days of a slot worth more than that."""
        from duskline.core.season_sets_kernel import MOST_FIELDS, days_worth

        sets = np.zeros((DAYS_KEPT, MOST_FIELDS), dtype=np.int64)
        areas, worths = np.zeros((DAYS_KEPT, MOST_FIELDS)), np.zeros(DAYS_KEPT)
        count, whole, limit = days_worth(
            case,
            k,
            prices.dual_usd_per_m2,
            prices.seed_usd_per_kg,
            prices.stop_usd,
            least_usd + 1e-7,
            False,
            self.nodes,
            sets,
            areas,
            worths,
        )
        return _Found(count, whole, limit, sets, areas, worths)


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """Days of a slot: how many, whether none was missed, what none is worth more than; in rows."""

    count: int
    whole: bool
    limit_usd: float
    sets: NDArray[np.int64]
    areas: NDArray[np.float64]
    worths: NDArray[np.float64]


def _taken(case: Case, k: int, found: _Found, row: int, prices: Prices, pool: Pool) -> bool:
    """Put a day found into the pool; its cost is what it earns less what it is worth."""
    count = int((found.sets[row] >= 0).sum())
    order = np.argsort(found.sets[row, :count])
    fields, areas = found.sets[row, order].copy(), found.areas[row, order].copy()
    seed = prices.seed_usd_per_kg[case.lot[fields]] * case.kg[fields]
    gain = ((prices.dual_usd_per_m2[fields] - seed) * areas).sum()
    gain += (prices.stop_usd[fields] * Pool.stops_of(case, fields, areas)).sum()
    return pool.add(k, fields, areas, float(gain - found.worths[row]))


def price_bound(
    begin: PriceBound, plan: StopPlan, *, days: BestDays, pool: Pool, rounds: int
) -> tuple[PriceBound, PriceBound]:
    """Return a cost below which no schedule can lie: without stops paid for, and the best.

    Parameters
    ----------
    begin
        From ``flat_bound``.
    plan
        A schedule at hand.
    days, pool
        Finds the best days at given prices; those found so far.
    rounds
        Times that prices are moved at most, in each stage.

    Notes
    -----
    Let each field pay ``d`` for a sown m2 and ``r`` for a stop, and each lot's seed cost ``m``.
    For any such prices, leaving a field out paying no more than it costs::

        cost >= sum d area + 2 sum r - sum m stock - sum over slots of the best day's worth

    since no field is sown by fewer than two stops or one that counts for both. The best day of
    each slot is found by itself (``season_sets_kernel.days_worth``); the prices are those of the
    cheapest mixture of the days found so far, drawn back towards the best. First no stop earns
    anything, then more in stages, for as long as days can be looked through.

    Source
    ------
    Column generation (memory); never above the least cost of small seasons by brute force,
    tests/properties/test_season.py.
    """
    case = begin.case
    upper_usd = plan.total_usd(case)
    if case.pace.size > LARGE or rounds == 0:
        return begin, begin
    pool.add_plan(plan)
    slots = len(case.crew)
    now = case._replace(most_stop_usd=0.0)
    best = plain = columns(
        *(now, begin, pool, upper_usd, days, rounds),
        least_days=0,
        most_days=slots,
    )
    for stage in STOP_PRICES:
        if case.most_stop_usd == 0.0 or case.whole.all() or days.short:
            break
        now = case._replace(most_stop_usd=stage * case.most_stop_usd)
        found = columns(now, best, pool, upper_usd, days, rounds, least_days=0, most_days=slots)
        better_usd = found.bound_usd - best.bound_usd
        best = found if better_usd > 0.0 else best
        if days.short or better_usd <= 1e-4 * upper_usd:
            break
    if best.bound_usd < begin.bound_usd:
        best = replace(best, bound_usd=begin.bound_usd)
    return plain, best


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Node:
    """Some of all schedules: so many crew-days, these pairs of field and slot in, those out."""

    least_days: int
    most_days: int
    found: PriceBound


def branch_bound(
    begin: PriceBound,
    *,
    upper_usd: float,
    days: BestDays,
    pool: Pool,
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
        From ``price_bound``.
    branches
        Questions asked at most; first of all the prices are settled further.
    near
        Ends once the bound is within this share of ``upper_usd``.

    Source
    ------
    Branch and bound (memory); the two answers are exhaustive, so the least bound holds for all.
    """
    if begin.mixture is None or math.isinf(begin.bound_usd):
        return begin.bound_usd
    begin = columns(
        *(begin.case, begin, pool, upper_usd, days, min(rounds, LAST_ROUNDS)),
        least_days=0,
        most_days=len(begin.case.crew),
        near=LAST_NEAR,
    )
    root = _Node(least_days=0, most_days=len(begin.case.crew), found=begin)
    heap: list[tuple[float, int, _Node]] = [(begin.bound_usd, 0, root)]
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
            found = columns(
                *(part, node.found, pool, upper_usd, days, rounds),
                least_days=low,
                most_days=high,
            )
            child = _Node(least_days=low, most_days=high, found=found)
            heapq.heappush(heap, (max(bound, found.bound_usd), number, child))
    return heap[0][0]


def _question(node: _Node) -> list[tuple[int, int, Case]]:
    """Return the two answers to the question left most open by a part's mixture; none: none."""
    case, low, high = node.found.case, node.least_days, node.most_days
    if node.found.mixture is None:
        return []
    going, chosen = node.found.mixture.going_count, node.found.mixture.chosen
    count = math.floor(going + 1e-6)
    if low <= count < high and 0.02 < going - count < 0.98:
        return [(low, count, case), (count + 1, high, case)]
    open_m2 = np.minimum(chosen, 1.0 - chosen) * case.area[:, None]
    open_m2 = np.where(case.must | (chosen < 0.02) | (chosen > 0.98), 0.0, open_m2)
    i, k = divmod(int(np.argmax(open_m2)), case.pace.shape[1])
    if open_m2[i, k] <= 0.0:
        return []
    pace, must = case.pace.copy(), case.must.copy()
    pace[i, k] = 0.0
    must[i, k] = True
    return [(low, high, case._replace(pace=pace)), (low, high, case._replace(must=must))]


def columns(
    case: Case,
    begin: PriceBound,
    pool: Pool,
    upper_usd: float,
    days: BestDays,
    rounds: int,
    *,
    least_days: int,
    most_days: int,
    near: float = NEAR,
) -> PriceBound:
    """Return the bound over schedules of so many crew-days, with prices from a linear model.

    The model mixes the days found so far; its prices, drawn back towards the best so far, find
    the next days. Begun from a bound with a mixture, whose schedules these are a part of, it
    starts with that mixture's days and those that promise most, and is never below that bound.
    """
    # What holds for all schedules holds for a part; the flat model's worths are no days' worths.
    best = -math.inf if begin.mixture is None else begin.bound_usd
    worth, prices = begin.worth_usd, begin.prices
    trial, mixture, drawn_back, shorts = prices, begin.mixture, DRAWN_BACK, 0
    for number in range(rounds + 1):
        mixture = mix(
            *(case, pool, None if begin.mixture is None else mixture, trial),
            dear_usd=10.0 * abs(upper_usd) + 1.0,
            least_days=least_days,
            most_days=most_days,
        )
        if mixture is None or mixture.cost_usd - best <= near * abs(upper_usd):
            break
        if number == rounds or best >= upper_usd:
            break
        trial = mixture.prices.towards(prices, drawn_back)
        now, new = days.find(case, trial, pool)
        shorts += bool(days.short)
        if trial.stop_usd.any() and shorts > SHORT_ROUNDS:
            break
        is_better = False
        if not days.short or new == 0:
            for k in days.short:
                now[k] = max(now[k], days.limit[k])
            value = _value(case, trial, now, least_days, most_days)
            is_better = value > best
            if is_better:
                best, prices, worth = value, trial, now
            if math.isinf(value):
                break
        if new == 0 and (drawn_back == 0.0 or days.short):
            break
        drawn_back = _next_step(drawn_back, found_new=new > 0, is_better=is_better)
    return PriceBound(case=case, bound_usd=best, prices=prices, worth_usd=worth, mixture=mixture)


def _next_step(drawn_back: float, *, found_new: bool, is_better: bool) -> float:
    """Return how far to draw the model's prices back towards the best next time.

    Less after a success, more after a failure; where nothing new was found, less and less until
    the model's own prices tell whether the mixture is the best.
    """
    if not found_new:
        return 0.5 * drawn_back if drawn_back > LEAST_BACK else 0.0
    drawn_back = max(drawn_back, DRAWN_BACK)
    return 0.9 * drawn_back if is_better else drawn_back + 0.3 * (MOST_BACK - drawn_back)


def _value(
    case: Case,
    prices: Prices,
    worth: NDArray[np.float64],
    least_days: int,
    most_days: int,
) -> float:
    """Return the bound that prices prove, given the worth of the best day in each slot."""
    forced = np.asarray(case.must.any(axis=0))
    order = np.lexsort((np.arange(len(worth)), -worth, ~forced))
    wanted = int(np.count_nonzero(forced | (worth > 0.0)))
    out = order[: max(int(np.clip(wanted, least_days, most_days)), int(forced.sum()))]
    if len(out) > most_days or len(out) < least_days or (worth[out] < -1e200).any():
        return math.inf  # nothing of the kind exists
    stock = np.where(np.isfinite(case.stock_kg), case.stock_kg, 0.0)
    earned = (prices.dual_usd_per_m2 * case.area).sum() + 2.0 * prices.stop_usd.sum()
    # Leaving a field out never pays at prices of the model; at others it is counted.
    out_usd = case.unplaced * case.area - prices.dual_usd_per_m2 * case.area
    out_usd -= case.sharp * prices.stop_usd
    seed = (prices.seed_usd_per_kg * stock).sum()
    return float(earned + np.minimum(0.0, out_usd).sum() - seed - worth[out].sum())


def flat_bound(case: Case) -> PriceBound:
    """Return the bound of a linear model in which a day is so much time, and moves are flat.

    Every visit to a field brings its move from the nearest, shared out over what it may sow at
    most; one move of the longest is given back to each day for its first field.
    """
    from scipy.optimize import linprog
    from scipy.sparse import csc_matrix

    n, slots = case.pace.shape
    crew = case.crew
    with np.errstate(divide="ignore", invalid="ignore"):
        room = (case.budget_s - case.ready_s - case.visit_s[crew]) / case.pace
    most = np.where(case.pace > 0.0, np.clip(room / case.area[:, None], 0.0, 1.0), 0.0)
    fits = most >= np.where(case.whole, 1.0 - 1e-9, 1e-12)[:, None]
    i, k = np.nonzero(fits & (case.pace > 0.0))
    move_s = case.near_m * case.s_per_m[crew]
    move_usd = case.near_m * case.travel_usd
    far_s = np.where(fits, move_s, 0.0).max(axis=0)
    far_usd = np.where(fits, move_usd, 0.0).max(axis=0)
    way_m = np.maximum(0.0, case.start_m[crew]).T
    start_s = np.where(fits, way_m * case.start_s_per_m[crew], np.inf).min(axis=0)
    start_usd = np.where(fits, way_m * case.travel_usd, np.inf).min(axis=0)
    is_open = fits.any(axis=0)
    going = np.flatnonzero(is_open)
    room_s = case.budget_s + case.fold_s[crew] + far_s - np.where(is_open, start_s, 0.0)
    going_usd = case.slot_usd - far_usd + np.where(is_open, start_usd, 0.0)
    visit_s = (case.visit_s + case.fold_s)[crew][k] + move_s[i, k]
    pair_s = case.pace[i, k] * case.area[i] + visit_s / most[i, k]
    pair_usd = case.price[i, k] * case.area[i]
    pair_usd = pair_usd + (case.visit_usd[i, k] + move_usd[i, k]) / most[i, k]
    scarce = np.flatnonzero(np.isfinite(case.stock_kg))
    at_lot = np.full(len(case.stock_kg), -1)
    at_lot[scarce] = np.arange(len(scarce))
    of = np.flatnonzero(at_lot[case.lot[i]] >= 0)
    pairs, ends = len(i), len(i) + n
    scale = np.maximum(1.0, case.stock_kg[scarce])
    row = [i, np.arange(n), n + k, n + going, n + slots + at_lot[case.lot[i[of]]]]
    col = [np.arange(pairs), pairs + np.arange(n), np.arange(pairs)]
    col += [ends + np.arange(len(going)), of]
    seed = case.kg[i[of]] * case.area[i[of]] / scale[at_lot[case.lot[i[of]]]]
    val = [np.ones(pairs), np.ones(n), pair_s / 3600.0, -room_s[going] / 3600.0, seed]
    matrix = csc_matrix(
        (np.concatenate(val), (np.concatenate(row), np.concatenate(col))),
        shape=(n + slots + len(scarce), ends + len(going)),
    )
    found = linprog(
        np.concatenate([pair_usd, case.unplaced * case.area, going_usd[going]]),
        A_ub=matrix[n:],
        b_ub=np.concatenate([np.zeros(slots), case.stock_kg[scarce] / scale]),
        A_eq=matrix[:n],
        b_eq=np.ones(n),
        bounds=np.column_stack(
            [
                np.zeros(matrix.shape[1]),
                np.concatenate([most[i, k], np.ones(n), np.ones(len(going))]),
            ]
        ),
        method="highs",
    )
    if found.x is None:
        raise ArithmeticError(f"the flat model of the season was not solved: {found.message}")
    seed_usd = np.zeros(len(case.stock_kg))
    seed_usd[scarce] = np.maximum(0.0, -found.ineqlin.marginals[slots:]) / scale
    second_usd = np.maximum(0.0, -found.ineqlin.marginals[:slots]) / 3600.0
    return PriceBound(
        case=case,
        bound_usd=float(found.fun),
        prices=Prices(
            dual_usd_per_m2=np.minimum(case.unplaced, found.eqlin.marginals / case.area),
            stop_usd=np.zeros(n),
            seed_usd_per_kg=seed_usd,
        ),
        worth_usd=second_usd * case.budget_s - case.slot_usd,
        mixture=None,
    )
