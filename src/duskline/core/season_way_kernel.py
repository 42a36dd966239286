"""Compiled ways of a crew's day: legs, what a day takes and costs, and a short way through it.

A crew's day is a slot; slots are numbered day by day. `duskline.core.season_case` makes the case.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = [
    "FOLD",
    "VISIT",
    "Case",
    "day_of",
    "is_late",
    "leg_of",
    "quick_way",
    "slot_costs",
    "straighten",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FAR = 1e300

# Columns of the case's moves: times in seconds, but for the last two in money.
FOLD, PER_M, START_PER_M, CLEAN, VISIT, PER_M_USD, CLEAN_USD = range(7)


class Case(NamedTuple):
    """The season in arrays: n fields, s slots, c crews, l lots.

    Money in the currency of the prices, times in working seconds, areas in m2.
    """

    area: Floats  # (n,)
    whole: NDArray[np.bool_]  # (n,) sown by one crew on one day or not at all
    least: Floats  # (n,) smallest part
    kg: Floats  # (n,) per m2
    lot: Ints  # (n,)
    unplaced: Floats  # (n,) money per m2 left out
    road_m: Floats  # (n, n)
    start_m: Floats  # (c, n); below zero: the day begins at its first field
    moves: Floats  # (c, 7) what moves cost, by FOLD to CLEAN_USD below
    crew: Ints  # (s,)
    day: Ints  # (s,)
    budget_s: Floats  # (s,)
    slot_usd: Floats  # (s,) for going out, less what waiting would cost
    ready_s: Floats  # (n, s) into the slot
    pace: Floats  # (n, s) seconds per m2; 0 where the field may not be sown
    price: Floats  # (n, s) money per m2 sown then
    visit_usd: Floats  # (n, s); below zero where a stop of the plan before should stay
    near_m: Floats  # (n, s) to the nearest other field open in that slot
    stock_kg: Floats  # (l,)
    must: NDArray[np.bool_]  # (n, s) pairs of field and slot that the bound takes as chosen
    sharp: Floats  # (n,) how often the smallest part goes into the field, twice at least
    most_stop_usd: float  # that a field pays for a stop

    @property
    def fold_s(self) -> Floats:
        """Each move between fields. (c,) [s]"""
        return self.moves[:, FOLD]

    @property
    def s_per_m(self) -> Floats:
        """On the road. (c,) [s/m]"""
        return self.moves[:, PER_M]

    @property
    def start_s_per_m(self) -> Floats:
        """On the way to the day's first field. (c,) [s/m]"""
        return self.moves[:, START_PER_M]

    @property
    def clean_s(self) -> Floats:
        """Each clean-out. (c,) [s]"""
        return self.moves[:, CLEAN]

    @property
    def visit_s(self) -> Floats:
        """Each visit to a field. (c,) [s]"""
        return self.moves[:, VISIT]

    @property
    def travel_usd(self) -> float:
        """Each metre on the road. [money]"""
        return float(self.moves[0, PER_M_USD])

    @property
    def clean_usd(self) -> float:
        """Each clean-out. [money]"""
        return float(self.moves[0, CLEAN_USD])


# Loops read arrays from names of their own: a compiled look into the case costs as much as the
# sums for ten stops.


@njit(cache=True, inline="always")
def leg_of(
    road_m: Any, start_m: Any, lot: Any, moves: Any, crew: int, a: int, b: int
) -> Any:  # pragma: no cover - compiled
    """Return time and money from field ``a`` (-1: the start) to field ``b``."""
    if a < 0:
        way = max(0.0, start_m[crew, b])
        return way * moves[crew, START_PER_M], way * moves[crew, PER_M_USD]
    way = road_m[a, b]
    time_s = moves[crew, FOLD] + way * moves[crew, PER_M]
    money = way * moves[crew, PER_M_USD]
    if lot[a] != lot[b]:
        time_s += moves[crew, CLEAN]
        money += moves[crew, CLEAN_USD]
    return time_s, money


@njit(cache=True)
def day_of(case: Any, k: int, seq: Any, amt: Any, count: int) -> Any:  # pragma: no cover - compiled
    """Return when a slot's work is done, and what it costs."""
    if count == 0:
        return 0.0, 0.0
    crew = case.crew[k]
    road_m, start_m, lot, moves = case.road_m, case.start_m, case.lot, case.moves
    ready_s, pace, price, visit_usd = case.ready_s, case.pace, case.price, case.visit_usd
    clock, money, before = 0.0, case.slot_usd[k], -1
    for p in range(count):
        f = seq[p]
        time_s, usd = leg_of(road_m, start_m, lot, moves, crew, before, f)
        clock = max(clock + time_s, ready_s[f, k])
        clock += moves[crew, VISIT] + amt[p] * pace[f, k]
        money += usd + visit_usd[f, k] + amt[p] * price[f, k]
        before = f
    return clock, money


@njit(cache=True)
def slot_costs(case: Any, seq: Any, amt: Any, cnt: Any) -> Any:  # pragma: no cover - compiled
    """Return when each slot is done ``(s,)`` and what it costs ``(s,)``."""
    slots = cnt.shape[0]
    done, usd = np.zeros(slots), np.zeros(slots)
    for k in range(slots):
        done[k], usd[k] = day_of(case, k, seq[k], amt[k], cnt[k])
    return done, usd


@njit(cache=True)
def is_late(case: Any, k: int, seq: Any, count: int) -> bool:  # pragma: no cover - compiled
    """Return whether any of a slot's fields comes ready within the slot."""
    ready_s = case.ready_s
    for p in range(count):  # noqa: SIM110 - compiled code knows no generators
        if ready_s[seq[p], k] > 0.0:
            return True
    return False


@njit(cache=True)
def _turn(seq: Any, amt: Any, a: int, b: int) -> None:  # pragma: no cover - compiled
    while a < b:
        seq[a], seq[b] = seq[b], seq[a]
        amt[a], amt[b] = amt[b], amt[a]
        a += 1
        b -= 1


@njit(cache=True)
def _shift(seq: Any, amt: Any, a: int, b: int) -> None:  # pragma: no cover - compiled
    f, q = seq[a], amt[a]
    step = 1 if b > a else -1
    i = a
    while i != b:
        seq[i], amt[i] = seq[i + step], amt[i + step]
        i += step
    seq[b], amt[b] = f, q


@njit(cache=True)
def straighten(case: Any, k: int, seq: Any, amt: Any, count: int) -> None:  # pragma: no cover
    """Turn round stretches of a day's way, and move single stops, while that helps."""
    better, budget_s, crew = count > 1, case.budget_s[k], case.crew[k]
    road_m, start_m, lot, moves = case.road_m, case.start_m, case.lot, case.moves
    waits = is_late(case, k, seq, count)
    done, usd = day_of(case, k, seq, amt, count)
    while better:
        better = False
        for a in range(count):
            for b in range(count):
                # Above the diagonal a stretch is turned round, everywhere a stop is moved.
                for how in range(2):
                    if a == b or (how == 0 and b < a) or (how == 1 and abs(a - b) == 1):
                        continue
                    if not waits:
                        # Legs that go, and legs that come, tell; the rest of the day is the same.
                        low, high = min(a, b), max(a, b)
                        first = seq[low - 1] if low > 0 else -1
                        end = seq[high + 1] if high + 1 < count else -1
                        if how == 0:
                            s1, usd1 = leg_of(road_m, start_m, lot, moves, crew, first, seq[b])
                            s2, usd2 = leg_of(road_m, start_m, lot, moves, crew, first, seq[a])
                            change_s, change = s1 - s2, usd1 - usd2
                            if end >= 0:
                                s1, usd1 = leg_of(road_m, start_m, lot, moves, crew, seq[a], end)
                                s2, usd2 = leg_of(road_m, start_m, lot, moves, crew, seq[b], end)
                                change_s, change = change_s + s1 - s2, change + usd1 - usd2
                        else:
                            change_s, change = _shifted(
                                road_m, start_m, lot, moves, crew, seq, count, a, b
                            )
                        now, cost = done + change_s, usd + change
                    else:
                        if how == 0:
                            _turn(seq, amt, a, b)
                        else:
                            _shift(seq, amt, a, b)
                        now, cost = day_of(case, k, seq, amt, count)
                    cheaper = cost < usd - 1e-9 and now <= max(done, budget_s)
                    if cheaper or (cost <= usd + 1e-9 and now < done - 1e-6):
                        done, usd, better = now, cost, True
                        if not waits and how == 0:
                            _turn(seq, amt, a, b)
                        elif not waits:
                            _shift(seq, amt, a, b)
                    elif waits and how == 0:
                        _turn(seq, amt, a, b)
                    elif waits:
                        _shift(seq, amt, b, a)


@njit(cache=True)
def _shifted(
    road_m: Any,
    start_m: Any,
    lot: Any,
    moves: Any,
    crew: int,
    seq: Any,
    count: int,
    a: int,
    b: int,
) -> Any:  # pragma: no cover - compiled
    """Return how time and money change when stop ``a`` goes to place ``b``."""
    f = seq[a]
    before = seq[a - 1] if a > 0 else -1
    after = seq[a + 1] if a + 1 < count else -1
    # Its new neighbours, ``a`` taken out.
    left_at, right_at = (b, b + 1) if b > a else (b - 1, b)
    left = seq[left_at] if left_at >= 0 else -1
    right = seq[right_at] if right_at < count else -1
    time_s, usd = leg_of(road_m, start_m, lot, moves, crew, left, f)
    less_s, less = leg_of(road_m, start_m, lot, moves, crew, before, f)
    time_s, usd = time_s - less_s, usd - less
    if after >= 0:
        more_s, more = leg_of(road_m, start_m, lot, moves, crew, before, after)
        less_s, less = leg_of(road_m, start_m, lot, moves, crew, f, after)
        time_s, usd = time_s + more_s - less_s, usd + more - less
    if right >= 0:
        more_s, more = leg_of(road_m, start_m, lot, moves, crew, f, right)
        less_s, less = leg_of(road_m, start_m, lot, moves, crew, left, right)
        time_s, usd = time_s + more_s - less_s, usd + more - less
    return time_s, usd


@njit(cache=True)
def quick_way(
    case: Any, k: int, fields: Any, areas: Any, seq: Any, amt: Any
) -> Any:  # pragma: no cover - compiled
    """Put a slot's fields into a quick order: the nearest next, from each first, straightened.

    Fills ``seq`` and ``amt`` and returns when the day is done and what it costs.
    """
    count = fields.shape[0]
    road_m, lot = case.road_m, case.lot
    trial, part = np.empty(count, np.int64), np.empty(count)
    best, best_s, best_usd = FAR, 0.0, 0.0
    for first in range(min(count, 8)):
        trial[:], part[:] = fields, areas
        trial[0], trial[first] = trial[first], trial[0]
        part[0], part[first] = part[first], part[0]
        for p in range(1, count):
            near, least = p, FAR
            for q in range(p, count):
                way = road_m[trial[p - 1], trial[q]]
                if lot[trial[p - 1]] != lot[trial[q]]:
                    way += 1e6
                if way < least:
                    near, least = q, way
            trial[p], trial[near] = trial[near], trial[p]
            part[p], part[near] = part[near], part[p]
        straighten(case, k, trial, part, count)
        done, usd = day_of(case, k, trial, part, count)
        rank = usd + 1e-6 * done + max(0.0, done - case.budget_s[k])
        if rank < best - 1e-9:
            best, best_s, best_usd = rank, done, usd
            for p in range(count):
                seq[p], amt[p] = trial[p], part[p]
    return best_s, best_usd
