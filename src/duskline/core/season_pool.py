"""Days found so far, and the cheapest mixture of them: a linear model whose prices find more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.season_case import StopPlan
    from duskline.core.season_way_kernel import Case

__all__ = ["MixedDay", "Mixture", "Pool", "Prices", "mix"]

MIXED_PER_ROW = 6  # days in the linear model for each field and slot


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Prices:
    """What sowing earns and seed costs, so that each day can be judged by itself.

    Attributes
    ----------
    dual_usd_per_m2 : (n,)
        What each field pays for a sown square metre.
    stop_usd : (n,)
        What it pays for a stop, and again where the stop sows all of it.
    seed_usd_per_kg : (l,)
        What each lot's seed is worth because it is scarce.
    """

    dual_usd_per_m2: NDArray[np.float64]
    stop_usd: NDArray[np.float64]
    seed_usd_per_kg: NDArray[np.float64]

    def towards(self, other: Prices, share: float) -> Prices:
        """Return these prices moved that share of the way to others."""
        return Prices(
            dual_usd_per_m2=self.dual_usd_per_m2
            + share * (other.dual_usd_per_m2 - self.dual_usd_per_m2),
            stop_usd=self.stop_usd + share * (other.stop_usd - self.stop_usd),
            seed_usd_per_kg=self.seed_usd_per_kg
            + share * (other.seed_usd_per_kg - self.seed_usd_per_kg),
        )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class MixedDay:
    """A day's share in a mixture: its slot, the fields and what it sows of each. [m2]"""

    share: float
    slot: int
    fields: NDArray[np.int64]
    areas: NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Mixture:
    """The cheapest mixture of days.

    Attributes
    ----------
    cost_usd
        Of days and of what is left out.
    prices
        At which no day of the pool is worth more than its slot's share.
    chosen : (n, s)
        How far each pair of field and slot is in it.
    going_count
        Crew-days that go out.
    mixed : (m,)
        Which days of the pool, as it was, the next mixture begins with: those looked at, or where
        that was all, those that have a share.
    """

    cost_usd: float
    prices: Prices
    chosen: NDArray[np.float64]
    going_count: float
    days: tuple[MixedDay, ...]
    mixed: NDArray[np.bool_]


class Pool:
    """Days as columns: what they cost, which fields they sow, in which slot.

    A field in no day must be left out, so each slot begins with a day that sows nothing.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.seen: set[tuple[int, bytes, bytes]] = set()
        is_open = np.flatnonzero((case.pace > 0.0).any(axis=0))
        self._new = [
            (int(k), np.zeros(0, dtype=np.int64), np.zeros(0), float(case.slot_usd[k]))
            for k in is_open
        ]
        self.cost = np.zeros(0)
        self.slot = np.zeros(0, dtype=np.int64)
        self.size = np.zeros(0, dtype=np.int64)
        self.fields = np.zeros(0, dtype=np.int64)
        self.areas = np.zeros(0)

    def add(
        self, slot: int, fields: NDArray[np.int64], areas: NDArray[np.float64], cost_usd: float
    ) -> bool:
        """Take in a day; False if it is there already."""
        key = (slot, fields.tobytes(), np.round(areas, 3).tobytes())
        if key in self.seen:
            return False
        self.seen.add(key)
        self._new.append((slot, fields, areas, cost_usd))
        return True

    def add_plan(self, plan: StopPlan) -> None:
        """Take in the days of a plan."""
        from duskline.core.season_way_kernel import day_of

        for k in np.flatnonzero(plan.cnt):
            count = int(plan.cnt[k])
            order = np.argsort(plan.seq[k, :count])
            _, usd = day_of(self.case, int(k), plan.seq[k], plan.amt[k], count)
            self.add(int(k), plan.seq[k, order], plan.amt[k, order], float(usd))

    def gather(self) -> None:
        """Lay the days taken in since into the arrays."""
        if not self._new:
            return
        slots, fields, areas, costs = zip(*self._new, strict=True)
        self.cost = np.concatenate([self.cost, costs])
        self.slot = np.concatenate([self.slot, np.array(slots, dtype=np.int64)])
        self.size = np.concatenate([self.size, [len(one) for one in fields]])
        self.fields = np.concatenate([self.fields, *fields])
        self.areas = np.concatenate([self.areas, *areas])
        self._new.clear()

    def allowed(self, case: Case) -> NDArray[np.bool_]:
        """Return which days a part of all schedules allows: no pair that is out, all in. (m,)"""
        self.gather()
        of = np.repeat(np.arange(len(self.size)), self.size)
        shut = np.zeros(len(self.size), dtype=np.int64)
        forced = np.zeros(len(self.size), dtype=np.int64)
        slot = self.slot[of]
        np.add.at(shut, of, case.pace[self.fields, slot] <= 0.0)
        np.add.at(forced, of, case.must[self.fields, slot])
        return np.asarray((shut == 0) & (forced == case.must.sum(axis=0)[self.slot]))

    def worth(self, case: Case, prices: Prices) -> NDArray[np.float64]:
        """Return what the best of the allowed days of each slot is worth; far below: none. (s,)"""
        return self._best(case, self.allowed(case), self._worths(case, prices))

    def promising(
        self, case: Case, before: Mixture, around: Prices, most: int
    ) -> NDArray[np.bool_]:
        """Return which allowed days to mix, about so many. (m,)

        Those looked at for a mixture before, those new since, those that sow nothing, and of the
        rest those that come nearest to their slot's best, at its prices or at those around which
        to look.
        """
        now = self.allowed(case)
        if np.count_nonzero(now) <= most:
            return now
        chosen = self.size == 0
        chosen[: len(before.mixed)] |= before.mixed
        chosen[len(before.mixed) :] = True
        for prices in (before.prices, around):
            worths = self._worths(case, prices)
            less = np.where(now, self._best(case, now, worths)[self.slot] - worths, np.inf)
            chosen[np.argsort(less, kind="stable")[: most // 2]] = True
        return np.asarray(chosen & now)

    def _worths(self, case: Case, prices: Prices) -> NDArray[np.float64]:
        of = np.repeat(np.arange(len(self.size)), self.size)
        pay = prices.dual_usd_per_m2 - prices.seed_usd_per_kg[case.lot] * case.kg
        gain = pay[self.fields] * self.areas + prices.stop_usd[self.fields] * self.stops_of(
            case, self.fields, self.areas
        )
        return np.asarray(np.bincount(of, weights=gain, minlength=len(self.size)) - self.cost)

    def _best(
        self, case: Case, now: NDArray[np.bool_], worths: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        from duskline.core.season_sets_kernel import FAR

        best = np.full(len(case.crew), -FAR)
        np.maximum.at(best, self.slot[now], worths[now])
        return best

    @staticmethod
    def stops_of(
        case: Case, fields: NDArray[np.int64], areas: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return how many of its field's two stops each stop stands for, as the kernel has it."""
        return np.where(areas >= case.area[fields] * (1.0 - 1e-6), 2.0, 1.0)


def mix(
    case: Case,
    pool: Pool,
    before: Mixture | None,
    around: Prices,
    *,
    dear_usd: float,
    least_days: int,
    most_days: int,
) -> Mixture | None:
    """Return the cheapest mixture of the days found that this part of all schedules allows.

    Parameters
    ----------
    case
        The part: pairs that are out have no pace, pairs that are in are in ``must``.
    pool
        Days found so far.
    before
        Of many days only those are mixed that are in this mixture, new since, or promise most at
        its prices; None: all.
    dear_usd
        A price that never pays: for what the days found so far cannot meet.
    least_days, most_days
        Crew-days that go out.

    Notes
    -----
    Each field is sown once or left out, each slot holds one day, each lot has so much seed. A
    field takes one stop that sows it whole, or two, or some of it is left out.
    """
    from scipy.optimize import linprog
    from scipy.sparse import csc_matrix

    n, slots = case.pace.shape
    scarce = np.flatnonzero(np.isfinite(case.stock_kg))
    scale = np.maximum(1.0, case.stock_kg[scarce])
    now = pool.allowed(case)
    if before is not None:
        now = pool.promising(case, before, around, MIXED_PER_ROW * (n + slots))
    entries = np.repeat(now, pool.size)
    slot, size = pool.slot[now], pool.size[now]
    fields, areas = pool.fields[entries], pool.areas[entries]
    parts = pool.stops_of(case, fields, areas)
    count = len(slot)
    cols, every = np.repeat(np.arange(count), size), np.arange(count)
    forced = np.flatnonzero(case.must.any(axis=0))
    split = np.flatnonzero(~case.whole)
    # Rows: each field once; each slot once; each lot's seed; crew-days at most and at least;
    # slots that must go out; stops. Columns: days; fields left out; what never pays.
    seed_row = n + slots
    days_row = seed_row + len(scarce)
    forced_row = days_row + 2
    stop_row = forced_row + len(forced)
    row = [fields, n + slot, np.arange(n), np.full(count, days_row), np.full(count, days_row + 1)]
    col = [cols, every, count + np.arange(n), every, every]
    val = [areas / case.area[fields], np.ones(count), np.ones(n), np.ones(count), -np.ones(count)]
    for at, lot in enumerate(scarce):
        of = case.lot[fields] == lot
        row.append(np.full(int(of.sum()), seed_row + at))
        col.append(cols[of])
        val.append(areas[of] * case.kg[fields[of]] / scale[at])
    at_forced = np.full(slots, -1)
    at_forced[forced] = forced_row + np.arange(len(forced))
    goes = at_forced[slot] >= 0
    row.append(at_forced[slot][goes])
    col.append(every[goes])
    val.append(-np.ones(int(goes.sum())))
    bought = np.concatenate(
        [[days_row + 1], forced_row + np.arange(len(forced)), stop_row + np.arange(len(split))]
    )
    row.append(bought)
    col.append(count + n + np.arange(len(bought)))
    val.append(-np.ones(len(bought)))
    at_stop = np.full(n, -1)
    at_stop[split] = stop_row + np.arange(len(split))
    stops = at_stop[fields] >= 0
    row += [at_stop[fields][stops], at_stop[split]]
    col += [cols[stops], count + split]
    val += [-parts[stops], -case.sharp[split]]
    matrix = csc_matrix(
        (np.concatenate(val), (np.concatenate(row), np.concatenate(col))),
        shape=(stop_row + len(split), count + n + len(bought)),
    )
    found = linprog(
        np.concatenate(
            [
                pool.cost[now],
                case.unplaced * case.area,
                np.full(1 + len(forced), dear_usd),
                np.full(len(split), case.most_stop_usd),
            ]
        ),
        A_ub=matrix[n:],
        b_ub=np.concatenate(
            [
                np.ones(slots),
                case.stock_kg[scarce] / scale,
                [float(most_days), -float(least_days)],
                -np.ones(len(forced)),
                np.full(len(split), -2.0),
            ]
        ),
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
    seed, stop = np.zeros(len(case.stock_kg)), np.zeros(n)
    marginals = np.maximum(0.0, -found.ineqlin.marginals)
    seed[scarce] = marginals[seed_row - n : days_row - n] / scale
    stop[split] = marginals[stop_row - n :]
    begin = np.concatenate([[0], np.cumsum(size)])
    mixed = now
    if before is None:
        mixed = np.zeros(len(now), dtype=bool)
        mixed[np.flatnonzero(now)[share > 0.0]] = True
    return Mixture(
        cost_usd=float(found.fun),
        prices=Prices(
            # Leaving a field out pays neither for its ground nor for its stops.
            dual_usd_per_m2=np.minimum(
                case.unplaced - case.sharp * stop / case.area, found.eqlin.marginals / case.area
            ),
            stop_usd=stop,
            seed_usd_per_kg=seed,
        ),
        chosen=chosen,
        going_count=float(share.sum()),
        mixed=mixed,
        days=tuple(
            MixedDay(
                share=float(share[at]),
                slot=int(slot[at]),
                fields=fields[begin[at] : begin[at + 1]],
                areas=areas[begin[at] : begin[at + 1]],
            )
            for at in np.flatnonzero(share > 1e-6)
        ),
    )
