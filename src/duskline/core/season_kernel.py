"""Compiled search for a schedule: stops are taken out and placed again, many times."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from duskline.core.season_way_kernel import VISIT, Case, day_of, is_late, leg_of, straighten

# The case is named here too: compiled code kept from an earlier version looks for it here.
__all__ = ["Case", "fill_days", "grow_days", "improve", "sort_by"]

TINY = 1e-9
FAR = 1e300
FEW_SLOTS = 80  # in more than these a field is only tried near its neighbours
CHANCE = 12  # and in one of so many slots
# How a round goes, by trial: chances, but for the counts.
MOST_OUT, MOST_SLOTS_OUT = 10, 4  # fields, or whole slots, taken out at most
BY_NEARNESS, BY_SLOT = 0.3, 0.65  # of ways to choose them; else anywhere
IN_MANY_SLOTS = 0.55, 0.35, 3  # the same, and most slots, in more than FEW_SLOTS
KIN, KIN_BY_FIELD, KIN_BY_DAY = 0.7, 0.4, 0.4  # slots that have to do with one another
DAYS_APART = 8  # slots before or after it, that count as near
FIRST_BY_CHANCE, OTHER_ORDER = 0.3, 0.3  # as slots are grown one after the other
SWING = 0.4  # by how much what fields pay is shaken then
BY_REGRET, ANOTHER_DAY = 0.5, 0.5  # fields go back by regret; against the next best day, not slot
PRICED = 0.7  # working time has a price then
UNPRICED_RESTS, DEAR_RESTS = 0.3, 4.0  # a rest left for later costs nothing; stops, at most


@njit(cache=True)
def left_usd(case: Any, f: int, left: float) -> Any:  # pragma: no cover - compiled
    """Return what it costs to leave so much of a field: a rest counts as a whole part."""
    if left <= 1e-7 * case.area[f]:
        return 0.0
    return case.unplaced[f] * max(left, case.least[f])


@njit(cache=True)
def sort_by(key: Any, order: Any, count: int) -> None:  # pragma: no cover - compiled
    """Put the first ``count`` indices in ``order`` in rising order of their ``key``."""
    for i in range(count):
        at = i
        while at > 0 and key[order[at - 1]] > key[i]:
            order[at] = order[at - 1]
            at -= 1
        order[at] = i


@njit(cache=True)
def _waiting_room(
    f: int,
    k: int,
    p: int,
    crew: int,
    seq: Any,
    amt: Any,
    count: int,
    budget_s: float,
    road_m: Any,
    start_m: Any,
    lot: Any,
    moves: Any,
    ready_s: Any,
    pace: Any,
) -> Any:  # pragma: no cover - compiled
    """Return a slot's time left for field ``f`` at position ``p``, waiting for ground counted."""
    clock, last = 0.0, -1
    for i in range(count + 1):
        at = i if i < p else i - 1
        g = f if i == p else seq[at]
        time_s, _ = leg_of(road_m, start_m, lot, moves, crew, last, g)
        clock = max(clock + time_s, ready_s[g, k]) + moves[crew, VISIT]
        if i != p:
            clock += amt[at] * pace[g, k]
        last = g
    return budget_s - clock


@njit(cache=True, inline="always")
def _worth_a_visit(
    q: float, want: float, least: float, grows: bool
) -> float:  # pragma: no cover - compiled
    """Return the part to sow of ``q`` at hand, so that no rest is too small; 0 where the part is.

    What a stop ``grows`` by may be little.
    """
    if q < want * (1.0 - 1e-7) and want - q < least:
        q = want - least
    if not grows and q < least * (1.0 - TINY):
        return 0.0
    return q


@njit(cache=True)
def _place(
    f: int,
    want: float,
    least: float,
    is_whole: bool,
    k: int,
    crew: int,
    seq: Any,
    amt: Any,
    count: int,
    used: float,
    waits: bool,
    going: float,
    budget_s: float,
    road_m: Any,
    start_m: Any,
    lot: Any,
    moves: Any,
    ready_s: Any,
    pace: Any,
) -> Any:  # pragma: no cover - compiled
    """Return where field ``f`` goes best in a slot: position, area, time and money of the visit.

    A position below zero says that it is there already and its part grows; area 0: no room for its
    ``least`` part.
    ``going`` is what the stop costs beside its way.
    """
    per_s = pace[f, k]
    best_p, best_q, best_s, best_usd, best = 0, 0.0, FAR, FAR, FAR
    for p in range(count):
        if seq[p] == f:
            q = max(0.0, min(want, (budget_s - used) / per_s))
            return -1 - p, _worth_a_visit(q, want, least, not is_whole), 0.0, 0.0
    if count == seq.shape[0]:
        return 0, 0.0, FAR, FAR
    before = -1
    for p in range(count + 1):
        time_s, usd = leg_of(road_m, start_m, lot, moves, crew, before, f)
        if p < count:
            after = seq[p]
            s2, usd2 = leg_of(road_m, start_m, lot, moves, crew, f, after)
            s3, usd3 = leg_of(road_m, start_m, lot, moves, crew, before, after)
            time_s += s2 - s3
            usd += usd2 - usd3
            before = after
        time_s += moves[crew, VISIT]
        usd += going
        if waits:
            room = _waiting_room(
                f,
                k,
                p,
                crew,
                seq,
                amt,
                count,
                budget_s,
                road_m,
                start_m,
                lot,
                moves,
                ready_s,
                pace,
            )
        else:
            room = budget_s - used - time_s
        if room <= 0.0:
            continue
        q = min(want, room / per_s)
        # A little more time on the road is worth what the cheapest visit is.
        rank = (usd + 1e-6 * time_s) / q
        if rank < best:
            best, best_p, best_q, best_s, best_usd = rank, p, q, time_s, usd
    return best_p, _worth_a_visit(best_q, want, least, False), best_s, best_usd


@njit(cache=True)
def _put(
    f: int, q: float, k: int, p: int, seq: Any, amt: Any, cnt: Any
) -> None:  # pragma: no cover - compiled
    if p < 0:
        amt[k, -1 - p] += q
        return
    for i in range(cnt[k], p, -1):
        seq[k, i], amt[k, i] = seq[k, i - 1], amt[k, i - 1]
    seq[k, p], amt[k, p] = f, q
    cnt[k] += 1


@njit(cache=True)
def _sow(
    case: Any,
    f: int,
    q: float,
    k: int,
    p: int,
    seq: Any,
    amt: Any,
    cnt: Any,
    used: Any,
    late: Any,
    left: Any,
    stock: Any,
    dirty: Any,
    home: Any,
) -> None:  # pragma: no cover - compiled
    """Put so much of field ``f`` into slot ``k`` at place ``p``, and keep all accounts of it."""
    _put(f, q, k, p, seq, amt, cnt)
    dirty[k], home[f] = True, k
    left[f] -= q
    if left[f] <= 1e-7 * case.area[f]:
        left[f] = 0.0
    stock[case.lot[f]] -= q * case.kg[f]
    late[k] = late[k] or case.ready_s[f, k] > 0.0
    used[k], _ = day_of(case, k, seq[k], amt[k], cnt[k])


@njit(cache=True)
def _slots_near(
    f: int, near: Any, home: Any, cnt: Any, slots_in: Any, mark: Any, rng: Any
) -> Any:  # pragma: no cover - compiled
    """Fill ``slots_in`` with slots that hold a field near ``f``, are empty, or come by chance.

    ``home`` ``(n,)`` is where each field was last placed, below zero for nowhere; ``mark``
    ``(s + 1,)`` is kept between calls. Returns how many; all of them where there are few.
    """
    slots = cnt.shape[0]
    if slots <= FEW_SLOTS or near.shape[1] == 0:
        for k in range(slots):
            slots_in[k] = k
        return slots
    count, chance = 0, int(rng.random() * CHANCE)
    mark[slots] += 1
    stamp = mark[slots]
    for j in range(-1, near.shape[1]):
        k = home[f] if j < 0 else home[near[f, j]]
        if k >= 0 and mark[k] != stamp:
            mark[k] = stamp
            slots_in[count] = k
            count += 1
    for k in range(slots):
        if mark[k] != stamp and (cnt[k] == 0 or k % CHANCE == chance):
            slots_in[count] = k
            count += 1
    return count


@njit(cache=True)
def _fill(
    case: Any,
    f: int,
    seq: Any,
    amt: Any,
    cnt: Any,
    used: Any,
    late: Any,
    left: Any,
    stock: Any,
    dirty: Any,
    second_usd: Any,
    dear: float,
    rest: float,
    skip: float,
    near: Any,
    home: Any,
    slots_in: Any,
    mark: Any,
    rng: Any,
) -> None:  # pragma: no cover - compiled
    """Place what is left of a field, part by part, each where a square metre costs least."""
    slots = cnt.shape[0]
    lot = case.lot[f]
    paces, prices, budgets_s, visits_usd = case.pace, case.price, case.budget_s, case.visit_usd
    road_m, start_m, lots, moves = case.road_m, case.start_m, case.lot, case.moves
    crews, slots_usd, ready_s = case.crew, case.slot_usd, case.ready_s
    is_whole, area = case.whole[f], case.area[f]
    count = _slots_near(f, near, home, cnt, slots_in, mark, rng)
    for _ in range(slots):
        want = left[f]
        if case.kg[f] > 0.0:
            want = min(want, max(0.0, stock[lot]) / case.kg[f])
        if want <= 1e-7 * area or (is_whole and want < left[f] * (1.0 - TINY)):
            return
        least = want * (1.0 - TINY) if is_whole else case.least[f]
        new = 0.0 if left[f] < area * (1.0 - TINY) else least  # a stop there may grow by less
        best, at, best_p, best_q, best_time = FAR, -1, 0, 0.0, 0.0
        for index in range(count):
            k = slots_in[index]
            pace = paces[f, k]
            if pace <= 0.0 or used[k] >= budgets_s[k] - new * pace:
                continue
            if skip > 0.0 and rng.random() < skip:
                continue
            hour_usd = dear * second_usd[k]
            per_m2 = prices[f, k] + hour_usd * pace
            if per_m2 >= best and visits_usd[f, k] >= 0.0:
                continue
            p, q, time_s, usd = _place(
                f,
                want,
                least,
                is_whole,
                k,
                crews[k],
                seq[k],
                amt[k],
                cnt[k],
                used[k],
                late[k] or ready_s[f, k] > 0.0,
                visits_usd[f, k] + (slots_usd[k] if cnt[k] == 0 else 0.0),
                budgets_s[k],
                road_m,
                start_m,
                lots,
                moves,
                ready_s,
                paces,
            )
            if q <= 1e-7 * area:
                continue
            cost = (usd + hour_usd * time_s) / q + per_m2
            if q < want * (1.0 - 1e-7):
                cost += rest / q
            if cost < best:
                best, at, best_p, best_q = cost, k, p, q
                best_time = hour_usd * (pace + (time_s / q))
                if q < want * (1.0 - 1e-7):
                    best_time += rest / q
        if at < 0:
            return
        # Left out if even without the price of time it costs more than leaving it does.
        saved = left_usd(case, f, left[f]) - left_usd(case, f, left[f] - best_q)
        if (best - best_time) * best_q >= saved:
            return
        if is_whole:
            best_q = left[f]
        _sow(case, f, best_q, at, best_p, seq, amt, cnt, used, late, left, stock, dirty, home)


@njit(cache=True)
def _fill_by_regret(
    case: Any,
    out: Any,
    outs: int,
    seq: Any,
    amt: Any,
    cnt: Any,
    used: Any,
    late: Any,
    left: Any,
    stock: Any,
    dirty: Any,
    second_usd: Any,
    dear: float,
    rest: float,
    skip: float,
    offer: Any,
    where: Any,
    near: Any,
    home: Any,
    slots_in: Any,
    mark: Any,
    rng: Any,
) -> None:  # pragma: no cover - compiled
    """Place what is left of some fields, always that which has most to lose by waiting.

    ``offer`` ``(m, s, 3)``: what a square metre costs in each slot, how many, and the price of
    their time; ``where`` ``(m, s)``: at which place.
    """
    slots = cnt.shape[0]
    paces, prices, budgets_s, visits_usd = case.pace, case.price, case.budget_s, case.visit_usd
    road_m, start_m, lots, moves = case.road_m, case.start_m, case.lot, case.moves
    crews, slots_usd, ready_s = case.crew, case.slot_usd, case.ready_s
    whole, area, kg, part, unplaced = case.whole, case.area, case.kg, case.least, case.unplaced
    days, apart = case.day, rng.random() < ANOTHER_DAY
    fresh = True
    changed, again = -1, -1
    for i in range(outs):
        offer[i, :, 0] = 2.0 * FAR
        for index in range(_slots_near(out[i], near, home, cnt, slots_in, mark, rng)):
            if skip == 0.0 or rng.random() >= skip:
                offer[i, slots_in[index], 0] = FAR
    while True:
        most, best_i, best_k = -FAR, -1, -1
        for i in range(outs):
            f = out[i]
            want, lot = left[f], lots[f]
            if kg[f] > 0.0:
                want = min(want, max(0.0, stock[lot]) / kg[f])
            if want <= 1e-7 * area[f] or (whole[f] and want < left[f] * (1.0 - TINY)):
                continue
            least = want * (1.0 - TINY) if whole[f] else part[f]
            new = 0.0 if left[f] < area[f] * (1.0 - TINY) else least
            low, second, at = FAR, FAR, -1
            for k in range(slots):
                if offer[i, k, 0] > FAR:
                    continue
                if fresh or k == changed or i == again:
                    offer[i, k, 0] = FAR
                    pace = paces[f, k]
                    if pace <= 0.0 or used[k] >= budgets_s[k] - new * pace:
                        continue
                    p, q, time_s, usd = _place(
                        f,
                        want,
                        least,
                        whole[f],
                        k,
                        crews[k],
                        seq[k],
                        amt[k],
                        cnt[k],
                        used[k],
                        late[k] or ready_s[f, k] > 0.0,
                        visits_usd[f, k] + (slots_usd[k] if cnt[k] == 0 else 0.0),
                        budgets_s[k],
                        road_m,
                        start_m,
                        lots,
                        moves,
                        ready_s,
                        paces,
                    )
                    if q <= 1e-7 * area[f]:
                        continue
                    hour_usd = dear * second_usd[k]
                    offer[i, k, 2] = hour_usd * (pace + time_s / q)
                    offer[i, k, 0] = usd / q + prices[f, k] + offer[i, k, 2]
                    if q < want * (1.0 - 1e-7):
                        offer[i, k, 0] += rest / q
                        offer[i, k, 2] += rest / q
                    offer[i, k, 1] = q
                    where[i, k] = p
                value = offer[i, k, 0]
                if value < low:
                    if at < 0 or not apart or days[k] != days[at]:
                        second = low
                    low, at = value, k
                elif value < second and (not apart or days[k] != days[at]):
                    second = value
            if at < 0:
                continue
            regret = (min(second, unplaced[f] + low) - low) * want * (0.8 + 0.4 * rng.random())
            if regret > most:
                most, best_i, best_k = regret, i, at
        fresh = False
        if best_i < 0:
            return
        i, k, f = best_i, best_k, out[best_i]
        q = offer[i, k, 1]
        if kg[f] > 0.0 and q * kg[f] > stock[lots[f]] * (1.0 + TINY):
            # Others have taken seed since this was looked at.
            changed, again = -1, i
            continue
        # Left out if even without the price of time it costs more than leaving it does.
        saved = left_usd(case, f, left[f]) - left_usd(case, f, left[f] - q)
        if (offer[i, k, 0] - offer[i, k, 2]) * q >= saved:
            offer[i, k, 0] = 2.0 * FAR
            changed, again = -1, -1
            continue
        if whole[f]:
            q = left[f]
        p = where[i, k]
        _sow(case, f, q, k, p, seq, amt, cnt, used, late, left, stock, dirty, home)
        changed, again = k, i


@njit(cache=True)
def _grow_on(
    case: Any,
    k: int,
    pay: Any,
    out: Any,
    outs: int,
    seq: Any,
    amt: Any,
    cnt: Any,
    used: Any,
    late: Any,
    left: Any,
    stock: Any,
    dirty: Any,
    home: Any,
    rng: Any,
) -> None:  # pragma: no cover - compiled
    """Put into a slot what earns most in its time, of some fields, until nothing more does.

    A sown m2 of field f pays ``pay[f]``.
    """
    paces, prices, visits_usd, kg = case.pace, case.price, case.visit_usd, case.kg
    road_m, start_m, lots, moves = case.road_m, case.start_m, case.lot, case.moves
    crew, budget_s, going, ready_s = case.crew[k], case.budget_s[k], case.slot_usd[k], case.ready_s
    whole, area, part = case.whole, case.area, case.least
    first = -1
    if cnt[k] == 0 and rng.random() < FIRST_BY_CHANCE:
        first = out[int(rng.random() * outs)]
    while cnt[k] < seq.shape[1]:
        best, at, best_p, best_q = 0.0, -1, 0, 0.0
        for i in range(outs):
            f = out[i]
            pace = paces[f, k]
            if pace <= 0.0 or left[f] <= 0.0 or (first >= 0 and f != first):
                continue
            want = left[f]
            if kg[f] > 0.0:
                want = min(want, max(0.0, stock[lots[f]]) / kg[f])
            if want <= 1e-7 * area[f] or (whole[f] and want < left[f] * (1.0 - TINY)):
                continue
            earns = pay[f] - prices[f, k]
            if earns <= best * pace:
                continue
            least = want * (1.0 - TINY) if whole[f] else part[f]
            p, q, time_s, usd = _place(
                f,
                want,
                least,
                whole[f],
                k,
                crew,
                seq[k],
                amt[k],
                cnt[k],
                used[k],
                late[k] or ready_s[f, k] > 0.0,
                visits_usd[f, k] + (going if cnt[k] == 0 else 0.0),
                budget_s,
                road_m,
                start_m,
                lots,
                moves,
                ready_s,
                paces,
            )
            if q <= 1e-7 * area[f]:
                continue
            rate = (earns * q - usd) / (time_s + q * pace)
            if rate > best:
                best, at, best_p, best_q = rate, f, p, q
        first = -1
        if at < 0:
            return
        if whole[at]:
            best_q = left[at]
        _sow(case, at, best_q, k, best_p, seq, amt, cnt, used, late, left, stock, dirty, home)


@njit(cache=True)
def fill_days(
    case: Any, seq: Any, amt: Any, cnt: Any, left: Any, stock: Any, order: Any, rng: Any
) -> None:  # pragma: no cover - compiled
    """Place what is left of the fields, in this order, into what room there is."""
    slots = cnt.shape[0]
    used, late = np.zeros(slots), np.zeros(slots, np.bool_)
    dirty, slots_in = np.zeros(slots, np.bool_), np.empty(slots, np.int64)
    every, home = np.empty((left.shape[0], 0), np.int64), np.empty(left.shape[0], np.int64)
    for k in range(slots):
        used[k], _ = day_of(case, k, seq[k], amt[k], cnt[k])
        late[k] = is_late(case, k, seq[k], cnt[k])
    for f in order:
        if left[f] > 0.0:
            _fill(
                case,
                f,
                seq,
                amt,
                cnt,
                used,
                late,
                left,
                stock,
                dirty,
                used,
                0.0,
                0.0,
                0.0,
                every,
                home,
                slots_in,
                slots_in,
                rng,
            )


@njit(cache=True)
def _grow(
    case: Any, k: int, pay: Any, left: Any, stock: Any, first: int, seq: Any, amt: Any
) -> Any:  # pragma: no cover - compiled
    """Grow a day from its first field, each time by what earns most in its time.

    Returns how many stops it has and what it is worth when a m2 of field f pays ``pay[f]``.
    """
    n, count, worth, used = left.shape[0], 0, 0.0, 0.0
    late, seed = False, stock.copy()
    pace, ready_s, kg, lot = case.pace, case.ready_s, case.kg, case.lot
    part, whole = case.least, case.whole
    road_m, start_m, moves, crew = case.road_m, case.start_m, case.moves, case.crew[k]
    visits_usd, going, budget_s = case.visit_usd, case.slot_usd[k], case.budget_s[k]
    while count < seq.shape[0]:
        best, at, best_p, best_q, best_worth = 0.0, -1, 0, 0.0, 0.0
        for f in range(n):
            if pace[f, k] <= 0.0 or left[f] <= 0.0 or (count == 0 and f != first):
                continue
            want = left[f]
            if kg[f] > 0.0:
                want = min(want, seed[lot[f]] / kg[f])
            if want <= 0.0:
                continue
            if count > 0 and pay[f] / pace[f, k] <= best:
                continue
            is_in = False
            for p in range(count):
                is_in = is_in or seq[p] == f
            if is_in:
                continue
            is_late = late or ready_s[f, k] > 0.0
            least = left[f] * (1.0 - TINY) if whole[f] else part[f]
            p, q, time_s, usd = _place(
                f,
                want,
                least,
                whole[f],
                k,
                crew,
                seq,
                amt,
                count,
                used,
                is_late,
                visits_usd[f, k] + (going if count == 0 else 0.0),
                budget_s,
                road_m,
                start_m,
                lot,
                moves,
                ready_s,
                pace,
            )
            if q <= 0.0:
                continue
            gain = pay[f] * q - usd
            rate = gain / (time_s + q * pace[f, k] + 1e-9)
            if rate > best:
                best, at, best_p, best_q, best_worth = rate, f, p, q, gain
        if at < 0:
            break
        for i in range(count, best_p, -1):
            seq[i], amt[i] = seq[i - 1], amt[i - 1]
        seq[best_p], amt[best_p] = at, best_q
        count += 1
        worth += best_worth
        late = late or ready_s[at, k] > 0.0
        seed[lot[at]] -= best_q * kg[at]
        used, _ = day_of(case, k, seq, amt, count)
    return count, worth


@njit(cache=True)
def grow_days(
    case: Any,
    dual: Any,
    seed_dual: Any,
    starts: int,
    seq: Any,
    amt: Any,
    cnt: Any,
    left: Any,
    stock: Any,
) -> None:  # pragma: no cover - compiled
    """Fill empty slots one after the other, each with the best of a few grown days.

    A sown m2 of field f pays ``dual[f]``. Days are grown from the ``starts`` fields that pay most
    in their time.
    """
    n, most = left.shape[0], seq.shape[1]
    pay, rate = np.empty(n), np.empty(n)
    trial, part = np.empty(most, np.int64), np.empty(most)
    pace, price, lot, kg, area = case.pace, case.price, case.lot, case.kg, case.area
    for k in range(cnt.shape[0]):
        for f in range(n):
            pay[f] = dual[f] - price[f, k] - seed_dual[lot[f]] * kg[f]
            fits = pace[f, k] > 0.0 and left[f] > 1e-6 * area[f]
            rate[f] = pay[f] / pace[f, k] if fits else -FAR
            if not fits:
                pay[f] = -FAR
        best = 0.0
        for first in np.argsort(-rate)[:starts]:
            if rate[first] <= 0.0:
                break
            count, worth = _grow(case, k, pay, left, stock, first, trial, part)
            if worth > best:
                best, cnt[k] = worth, count
                seq[k, :count], amt[k, :count] = trial[:count], part[:count]
        for p in range(cnt[k]):
            f = seq[k, p]
            left[f] -= amt[k, p]
            if left[f] <= 1e-7 * area[f]:
                left[f] = 0.0
            stock[lot[f]] -= amt[k, p] * kg[f]


@njit(cache=True)
def _choose(
    seq: Any, cnt: Any, left: Any, near: Any, home: Any, out: Any, is_out: Any, rng: Any
) -> int:  # pragma: no cover - compiled
    """Choose fields to take out: near one another, of a few slots, or anywhere.

    Slots have to do with the first one where they hold a field near one of its own, or come soon
    before or after it.
    """
    n, slots = left.shape[0], cnt.shape[0]
    outs = 0
    way = rng.random()
    many = 1 + int(rng.random() * min(n, MOST_OUT))
    nearness, by_slot, most_slots = BY_NEARNESS, BY_SLOT, MOST_SLOTS_OUT
    if slots > FEW_SLOTS:
        nearness, by_slot, most_slots = IN_MANY_SLOTS
    if way < nearness:
        f = int(rng.random() * n)
        out[0], outs, is_out[f] = f, 1, True
        for j in range(near.shape[1]):
            if outs >= many:
                break
            g = near[f, j]
            if rng.random() < 0.7 and not is_out[g]:
                out[outs], is_out[g] = g, True
                outs += 1
    elif way < nearness + by_slot:
        k = int(rng.random() * slots)
        kin = rng.random() < KIN
        first = k
        for j in range(1 + int(rng.random() * most_slots)):
            if j > 0:
                k = int(rng.random() * slots)
                how = rng.random()
                if kin and how < KIN_BY_FIELD and cnt[first] > 0 and near.shape[1] > 0:
                    # One that holds a field near one of the first's.
                    f = seq[first, int(rng.random() * cnt[first])]
                    k = home[near[f, int(rng.random() * near.shape[1])]]
                    if k < 0:
                        continue
                elif kin and how < KIN_BY_FIELD + KIN_BY_DAY:
                    k = first + int((2.0 * rng.random() - 1.0) * DAYS_APART)
                    if k < 0 or k >= slots:
                        continue
            for p in range(cnt[k]):
                g = seq[k, p]
                if not is_out[g]:
                    out[outs], is_out[g] = g, True
                    outs += 1
    else:
        for _ in range(many):
            g = int(rng.random() * n)
            if not is_out[g]:
                out[outs], is_out[g] = g, True
                outs += 1
    # Whatever is left out somewhere gets its chance, a few at a time.
    tries = 0
    begin = int(rng.random() * n)
    for j in range(n):
        g = begin + j
        if g >= n:
            g -= n
        if left[g] > 0.0 and not is_out[g]:
            out[outs], is_out[g] = g, True
            outs += 1
            tries += 1
            if tries >= 4:
                break
    return outs


@njit(cache=True)
def _rank(case: Any, f: int, how: int, noise: float) -> Any:  # pragma: no cover - compiled
    """Return when field ``f`` goes back among those taken out: lowest first."""
    if how == 0:
        return noise
    swing = 0.8 + 0.4 * noise
    if how == 1:
        return -case.area[f] * swing
    if how == 3:
        return -case.unplaced[f] * swing
    # What a day's delay costs at worst.
    low, high = FAR, 0.0
    pace, price = case.pace, case.price
    for k in range(pace.shape[1]):
        if pace[f, k] > 0.0:
            low, high = min(low, price[f, k]), max(high, price[f, k])
    return -(high - low) * swing


@njit(cache=True)
def _take_out(
    case: Any,
    seq: Any,
    amt: Any,
    cnt: Any,
    used: Any,
    late: Any,
    left: Any,
    stock: Any,
    is_out: Any,
    dirty: Any,
) -> None:  # pragma: no cover - compiled
    area, lot, kg = case.area, case.lot, case.kg
    for k in range(cnt.shape[0]):
        kept = 0
        for p in range(cnt[k]):
            g = seq[k, p]
            if is_out[g]:
                left[g] = min(left[g] + amt[k, p], area[g])
                stock[lot[g]] += amt[k, p] * kg[g]
                dirty[k] = True
            else:
                seq[k, kept], amt[k, kept] = g, amt[k, p]
                kept += 1
        if kept < cnt[k]:
            cnt[k] = kept
            used[k], _ = day_of(case, k, seq[k], amt[k], kept)
            late[k] = is_late(case, k, seq[k], kept)


@njit(cache=True)
def _copy_day(
    k: int, seq: Any, amt: Any, cnt: Any, to_seq: Any, to_amt: Any, to_cnt: Any
) -> None:  # pragma: no cover - compiled
    for p in range(cnt[k]):
        to_seq[k, p], to_amt[k, p] = seq[k, p], amt[k, p]
    to_cnt[k] = cnt[k]


@njit(cache=True, nogil=True)
def improve(
    case: Any,
    seq: Any,
    amt: Any,
    cnt: Any,
    left: Any,
    stock: Any,
    near: Any,
    second_usd: Any,
    dual: Any,
    growth: float,
    warm: float,
    cold: float,
    rounds: int,
    rng: Any,
) -> None:  # pragma: no cover - compiled
    """Take some fields out and place them again, ``rounds`` times; keep the best schedule.

    ``near`` ``(n, m)`` lists each field's nearest, ``second_usd`` ``(s,)`` is what a second of
    each slot may be worth. In a share ``growth`` of the rounds slots are filled one after the
    other by what a sown m2 of each field pays, ``dual`` ``(n,)``; else field by field. A dearer
    schedule is kept as the next starting point if it is so by less than a falling margin, from
    ``warm`` to ``cold``. The best is left in the arrays.
    """
    n, slots = left.shape[0], cnt.shape[0]
    used, usd, late = np.zeros(slots), np.zeros(slots), np.zeros(slots, np.bool_)
    for k in range(slots):
        used[k], usd[k] = day_of(case, k, seq[k], amt[k], cnt[k])
        late[k] = is_late(case, k, seq[k], cnt[k])
    over, best = 0.0, 0.0  # what the schedule at hand, and the best, cost more than the first
    b_seq, b_amt, b_cnt = seq.copy(), amt.copy(), cnt.copy()
    b_left, b_stock = left.copy(), stock.copy()
    o_seq, o_amt, o_cnt = seq.copy(), amt.copy(), cnt.copy()
    o_left, o_stock, o_used = left.copy(), stock.copy(), used.copy()
    o_usd, o_late = usd.copy(), late.copy()
    out, is_out = np.empty(n, np.int64), np.zeros(n, np.bool_)
    rank, order, pay = np.empty(n), np.empty(n, np.int64), np.empty(n)
    offer, where = np.empty((n, slots, 3)), np.empty((n, slots), np.int64)
    home, slots_in = np.full(n, -1), np.empty(slots, np.int64)
    mark = np.zeros(slots + 1, np.int64)
    for k in range(slots):
        for p in range(cnt[k]):
            home[seq[k, p]] = k
    # Days changed in this round, and since the best was kept.
    dirty, stale = np.zeros(slots, np.bool_), np.zeros(slots, np.bool_)
    fall = (cold / warm) ** (1.0 / max(1, rounds - 1))
    margin = warm
    for _ in range(rounds):
        margin *= fall
        outs = _choose(seq, cnt, left, near, home, out, is_out, rng)
        if outs == 0:
            continue
        dirty[:] = False
        _take_out(case, seq, amt, cnt, used, late, left, stock, is_out, dirty)
        how = int(rng.random() * 4.0)
        for i in range(outs):
            is_out[out[i]] = False
            rank[i] = _rank(case, out[i], how, rng.random())
        sort_by(rank, order, outs)
        dear = 0.0
        if rng.random() < PRICED:
            dear = 2.0 * rng.random()
        rest = 0.0
        if rng.random() >= UNPRICED_RESTS:
            rest = DEAR_RESTS * case.most_stop_usd * rng.random()
        skip = 0.0 if rng.random() < 0.3 else 0.15 * rng.random()
        regret = rng.random() < BY_REGRET
        if rng.random() < growth:
            for i in range(outs):
                pay[out[i]] = dual[out[i]] * (1.0 + SWING * (rng.random() - 0.5))
            turn = int(rng.random() * slots) if rng.random() < OTHER_ORDER else 0
            for j in range(slots):
                k = (turn + j) % slots
                if dirty[k]:
                    _grow_on(
                        case,
                        k,
                        pay,
                        out,
                        outs,
                        seq,
                        amt,
                        cnt,
                        used,
                        late,
                        left,
                        stock,
                        dirty,
                        home,
                        rng,
                    )
        if regret:
            _fill_by_regret(
                case,
                out,
                outs,
                seq,
                amt,
                cnt,
                used,
                late,
                left,
                stock,
                dirty,
                second_usd,
                dear,
                rest,
                skip,
                offer,
                where,
                near,
                home,
                slots_in,
                mark,
                rng,
            )
        for i in range(outs):
            if regret:
                break
            _fill(
                case,
                out[order[i]],
                seq,
                amt,
                cnt,
                used,
                late,
                left,
                stock,
                dirty,
                second_usd,
                dear,
                rest,
                skip,
                near,
                home,
                slots_in,
                mark,
                rng,
            )
        change = 0.0
        for i in range(outs):
            change += left_usd(case, out[i], left[out[i]])
            change -= left_usd(case, out[i], o_left[out[i]])
        for k in range(slots):
            if dirty[k]:
                used[k], usd[k] = day_of(case, k, seq[k], amt[k], cnt[k])
                change += usd[k] - o_usd[k]
        if change < 3.0 * margin + 0.02 * warm:
            for k in range(slots):
                if dirty[k] and cnt[k] > 2:
                    straighten(case, k, seq[k], amt[k], cnt[k])
                    before = usd[k]
                    used[k], usd[k] = day_of(case, k, seq[k], amt[k], cnt[k])
                    change += usd[k] - before
        if change < -margin * np.log(rng.random() + 1e-300):
            over += change
            for k in range(slots):
                if dirty[k]:
                    _copy_day(k, seq, amt, cnt, o_seq, o_amt, o_cnt)
                    o_used[k], o_usd[k], o_late[k] = used[k], usd[k], late[k]
                    stale[k] = True
            for i in range(outs):
                o_left[out[i]] = left[out[i]]
            o_stock[:] = stock
            if over < best - 1e-9:
                best = over
                for k in range(slots):
                    if stale[k]:
                        _copy_day(k, seq, amt, cnt, b_seq, b_amt, b_cnt)
                        stale[k] = False
                b_left[:], b_stock[:] = left, stock
        else:
            for k in range(slots):
                if dirty[k]:
                    _copy_day(k, o_seq, o_amt, o_cnt, seq, amt, cnt)
                    used[k], usd[k], late[k] = o_used[k], o_usd[k], o_late[k]
                    for p in range(cnt[k]):
                        home[seq[k, p]] = k
            for i in range(outs):
                left[out[i]] = o_left[out[i]]
            stock[:] = o_stock
    seq[:], amt[:], cnt[:] = b_seq, b_amt, b_cnt
    left[:], stock[:] = b_left, b_stock
