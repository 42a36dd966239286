"""Compiled search for a schedule: stops are taken out and placed again, many times.

A crew's day is a slot; slots are numbered day by day. `duskline.core.season_case` makes the case.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = [
    "Case",
    "day_of",
    "fill_days",
    "grow_days",
    "improve",
    "leg_of",
    "moves",
    "quick_way",
    "slot_costs",
    "sort_by",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TINY = 1e-9
FAR = 1e300


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
    fold_s: Floats  # (c,) each move between fields
    s_per_m: Floats  # (c,) on the road
    start_s_per_m: Floats  # (c,) on the way to the day's first field
    clean_s: Floats  # (c,)
    visit_s: Floats  # (c,)
    crew: Ints  # (s,)
    budget_s: Floats  # (s,)
    slot_usd: Floats  # (s,) for going out, less what waiting would cost
    ready_s: Floats  # (n, s) into the slot
    pace: Floats  # (n, s) seconds per m2; 0 where the field may not be sown
    price: Floats  # (n, s) money per m2 sown then
    visit_usd: Floats  # (n, s); below zero where a stop of the plan before should stay
    near_m: Floats  # (n, s) to the nearest other field open in that slot
    travel_usd: float  # per m
    clean_usd: float
    stock_kg: Floats  # (l,)
    must: NDArray[np.bool_]  # (n, s) pairs of field and slot that the bound takes as chosen
    sharp: Floats  # (n,) a stop that leaves 1 / sharp of a field counts as one of two
    most_stop_usd: float  # that a field pays for a stop


# Loops read arrays from names of their own: a compiled look into the case costs as much as the
# sums for ten stops.


@njit(cache=True, inline="always")
def leg_of(
    road_m: Any, start_m: Any, lot: Any, row: Any, a: int, b: int
) -> Any:  # pragma: no cover - compiled
    """Return time and money from field ``a`` (-1: the start) to field ``b``; ``row``: `moves`."""
    if a < 0:
        way = max(0.0, start_m[b])
        return way * row[2], way * row[4]
    way = road_m[a, b]
    time_s = row[0] + way * row[1]
    money = way * row[4]
    if lot[a] != lot[b]:
        time_s += row[3]
        money += row[5]
    return time_s, money


@njit(cache=True)
def moves(case: Any, crew: int) -> Any:  # pragma: no cover - compiled
    """Return what a crew's moves cost.

    In order: a fold, a metre of road, one on the way to the first field, a clean-out [s]; a
    metre, a clean-out [money]; a visit [s].
    """
    return (
        case.fold_s[crew],
        case.s_per_m[crew],
        case.start_s_per_m[crew],
        case.clean_s[crew],
        case.travel_usd,
        case.clean_usd,
        case.visit_s[crew],
    )


@njit(cache=True, inline="always")
def left_usd(case: Any, f: int, left: float) -> Any:  # pragma: no cover - compiled
    """Return what it costs to leave so much of a field: a rest counts as a whole part."""
    if left <= 1e-7 * case.area[f]:
        return 0.0
    return case.unplaced[f] * max(left, min(case.least[f], case.area[f]))


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
def day_of(case: Any, k: int, seq: Any, amt: Any, count: int) -> Any:  # pragma: no cover - compiled
    """Return when a slot's work is done, and what it costs."""
    if count == 0:
        return 0.0, 0.0
    crew = case.crew[k]
    road_m, start_m, lot, row = case.road_m, case.start_m[crew], case.lot, moves(case, crew)
    ready_s, pace, price, visit_usd = case.ready_s, case.pace, case.price, case.visit_usd
    clock, money, before = 0.0, case.slot_usd[k], -1
    for p in range(count):
        f = seq[p]
        time_s, usd = leg_of(road_m, start_m, lot, row, before, f)
        clock = max(clock + time_s, ready_s[f, k])
        clock += row[6] + amt[p] * pace[f, k]
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
def _waiting_room(
    case: Any, f: int, k: int, p: int, seq: Any, amt: Any, count: int
) -> Any:  # pragma: no cover - compiled
    """Return a slot's time left for field ``f`` at position ``p``, waiting for ground counted."""
    crew = case.crew[k]
    road_m, start_m, lot, row = case.road_m, case.start_m[crew], case.lot, moves(case, crew)
    ready_s, pace = case.ready_s, case.pace
    clock, last = 0.0, -1
    for i in range(count + 1):
        at = i if i < p else i - 1
        g = f if i == p else seq[at]
        time_s, _ = leg_of(road_m, start_m, lot, row, last, g)
        clock = max(clock + time_s, ready_s[g, k]) + row[6]
        if i != p:
            clock += amt[at] * pace[g, k]
        last = g
    return case.budget_s[k] - clock


@njit(cache=True)
def _place(
    case: Any, f: int, want: float, k: int, seq: Any, amt: Any, count: int, used: float, late: bool
) -> Any:  # pragma: no cover - compiled
    """Return where field ``f`` goes best in a slot: position, area, time and money of the visit.

    A position below zero says that it is there already and its part grows; area 0: no room.
    """
    crew = case.crew[k]
    road_m, start_m, lot, row = case.road_m, case.start_m[crew], case.lot, moves(case, crew)
    pace, budget_s = case.pace[f, k], case.budget_s[k]
    waits = late or case.ready_s[f, k] > 0.0
    best_p, best_q, best_s, best_usd, best = 0, 0.0, FAR, FAR, FAR
    for p in range(count):
        if seq[p] == f:
            q = min(want, (budget_s - used) / pace)
            return -1 - p, max(q, 0.0), 0.0, 0.0
    if count == seq.shape[0]:
        return 0, 0.0, FAR, FAR
    going = case.visit_usd[f, k] + (case.slot_usd[k] if count == 0 else 0.0)
    for p in range(count + 1):
        before = seq[p - 1] if p > 0 else -1
        time_s, usd = leg_of(road_m, start_m, lot, row, before, f)
        if p < count:
            after = seq[p]
            s2, usd2 = leg_of(road_m, start_m, lot, row, f, after)
            s3, usd3 = leg_of(road_m, start_m, lot, row, before, after)
            time_s += s2 - s3
            usd += usd2 - usd3
        time_s += row[6]
        usd += going
        room = budget_s - used - time_s
        if waits:
            room = _waiting_room(case, f, k, p, seq, amt, count)
        if room <= 0.0:
            continue
        q = min(want, room / pace)
        # A little more time on the road is worth what the cheapest visit is.
        rank = (usd + 1e-6 * time_s) / q
        if rank < best:
            best, best_p, best_q, best_s, best_usd = rank, p, q, time_s, usd
    return best_p, best_q, best_s, best_usd


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
def _is_late(case: Any, k: int, seq: Any, count: int) -> bool:  # pragma: no cover - compiled
    ready_s = case.ready_s
    for p in range(count):  # noqa: SIM110 - compiled code knows no generators
        if ready_s[seq[p], k] > 0.0:
            return True
    return False


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
    skip: float,
    rng: Any,
) -> None:  # pragma: no cover - compiled
    """Place what is left of a field, part by part, each where a square metre costs least."""
    slots = cnt.shape[0]
    lot = case.lot[f]
    paces, prices, budgets_s, visits_usd = case.pace, case.price, case.budget_s, case.visit_usd
    is_whole, area = case.whole[f], case.area[f]
    for _ in range(slots):
        want = left[f]
        if case.kg[f] > 0.0:
            want = min(want, max(0.0, stock[lot]) / case.kg[f])
        if want <= 1e-7 * area or (is_whole and want < left[f] * (1.0 - TINY)):
            return
        least = min(want, max(case.least[f], 0.02 * area))
        if is_whole:
            least = want * (1.0 - TINY)
        best, at, best_p, best_q, best_time = FAR, -1, 0, 0.0, 0.0
        for k in range(slots):
            pace = paces[f, k]
            if pace <= 0.0 or (skip > 0.0 and rng.random() < skip):
                continue
            if used[k] >= budgets_s[k] - least * pace:
                continue
            hour_usd = dear * second_usd[k]
            per_m2 = prices[f, k] + hour_usd * pace
            if per_m2 >= best and visits_usd[f, k] >= 0.0:
                continue
            p, q, time_s, usd = _place(case, f, want, k, seq[k], amt[k], cnt[k], used[k], late[k])
            if q <= 0.0 or (q < least and p >= 0) or (is_whole and q < least):
                continue
            if p < 0 and q <= 1e-7 * area:
                continue
            cost = (usd + hour_usd * time_s) / q + per_m2
            if cost < best:
                best, at, best_p, best_q = cost, k, p, q
                best_time = hour_usd * (pace + (time_s / q))
        if at < 0:
            return
        # Left out if even without the price of time it costs more than leaving it does.
        saved = left_usd(case, f, left[f]) - left_usd(case, f, left[f] - best_q)
        if (best - best_time) * best_q >= saved:
            return
        if is_whole:
            best_q = left[f]
        _put(f, best_q, at, best_p, seq, amt, cnt)
        dirty[at] = True
        left[f] -= best_q
        if left[f] <= 1e-7 * area:
            left[f] = 0.0
        stock[lot] -= best_q * case.kg[f]
        late[at] = late[at] or case.ready_s[f, at] > 0.0
        used[at], _ = day_of(case, at, seq[at], amt[at], cnt[at])


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
    better, budget_s = count > 1, case.budget_s[k]
    done, usd = day_of(case, k, seq, amt, count)
    while better:
        better = False
        for a in range(count):
            for b in range(count):
                # Above the diagonal a stretch is turned round, everywhere a stop is moved.
                for how in range(2):
                    if a == b or (how == 0 and b < a):
                        continue
                    if how == 0:
                        _turn(seq, amt, a, b)
                    else:
                        _shift(seq, amt, a, b)
                    now, cost = day_of(case, k, seq, amt, count)
                    cheaper = cost < usd - 1e-9 and now <= max(done, budget_s)
                    if cheaper or (cost <= usd + 1e-9 and now < done - 1e-6):
                        done, usd, better = now, cost, True
                    elif how == 0:
                        _turn(seq, amt, a, b)
                    else:
                        _shift(seq, amt, b, a)


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


@njit(cache=True)
def fill_days(
    case: Any, seq: Any, amt: Any, cnt: Any, left: Any, stock: Any, order: Any, rng: Any
) -> None:  # pragma: no cover - compiled
    """Place what is left of the fields, in this order, into what room there is."""
    slots = cnt.shape[0]
    used, late = np.zeros(slots), np.zeros(slots, np.bool_)
    dirty = np.zeros(slots, np.bool_)
    for k in range(slots):
        used[k], _ = day_of(case, k, seq[k], amt[k], cnt[k])
        late[k] = _is_late(case, k, seq[k], cnt[k])
    for f in order:
        if left[f] > 0.0:
            _fill(case, f, seq, amt, cnt, used, late, left, stock, dirty, used, 0.0, 0.0, rng)


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
            p, q, time_s, usd = _place(case, f, want, k, seq, amt, count, used, is_late)
            if q < min(left[f], part[f]) or q < left[f] * 0.02:
                continue
            if whole[f] and q < left[f] * (1.0 - TINY):
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
    seq: Any, cnt: Any, left: Any, near: Any, out: Any, is_out: Any, rng: Any
) -> int:  # pragma: no cover - compiled
    """Choose fields to take out: near one another, of one to three slots, or anywhere."""
    n, slots = left.shape[0], cnt.shape[0]
    outs = 0
    way = rng.random()
    many = 1 + int(rng.random() * min(n, 10))
    if way < 0.55:
        f = int(rng.random() * n)
        out[0], outs, is_out[f] = f, 1, True
        for j in range(near.shape[1]):
            if outs >= many:
                break
            g = near[f, j]
            if rng.random() < 0.7 and not is_out[g]:
                out[outs], is_out[g] = g, True
                outs += 1
    elif way < 0.9:
        for _ in range(1 + int(rng.random() * 3.0)):
            k = int(rng.random() * slots)
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
    low, second = FAR, FAR
    pace, price = case.pace, case.price
    for k in range(pace.shape[1]):
        if pace[f, k] > 0.0:
            value = price[f, k]
            if value < low:
                low, second = value, low
            elif value < second:
                second = value
    return -(min(second, case.unplaced[f]) - low) * swing


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
            late[k] = _is_late(case, k, seq[k], kept)


@njit(cache=True)
def _copy_day(
    k: int, seq: Any, amt: Any, cnt: Any, to_seq: Any, to_amt: Any, to_cnt: Any
) -> None:  # pragma: no cover - compiled
    for p in range(cnt[k]):
        to_seq[k, p], to_amt[k, p] = seq[k, p], amt[k, p]
    to_cnt[k] = cnt[k]


@njit(cache=True)
def improve(
    case: Any,
    seq: Any,
    amt: Any,
    cnt: Any,
    left: Any,
    stock: Any,
    near: Any,
    second_usd: Any,
    warm: float,
    cold: float,
    rounds: int,
    rng: Any,
) -> None:  # pragma: no cover - compiled
    """Take some fields out and place them again, ``rounds`` times; keep the best schedule.

    ``near`` ``(n, m)`` lists each field's nearest, ``second_usd`` ``(s,)`` is what a second of
    each slot may be worth. A dearer schedule is kept as the next starting point if it is so by
    less than a falling margin, from ``warm`` to ``cold``. The best is left in the arrays.
    """
    n, slots = left.shape[0], cnt.shape[0]
    used, usd, late = np.zeros(slots), np.zeros(slots), np.zeros(slots, np.bool_)
    for k in range(slots):
        used[k], usd[k] = day_of(case, k, seq[k], amt[k], cnt[k])
        late[k] = _is_late(case, k, seq[k], cnt[k])
    over, best = 0.0, 0.0  # what the schedule at hand, and the best, cost more than the first
    b_seq, b_amt, b_cnt = seq.copy(), amt.copy(), cnt.copy()
    b_left, b_stock = left.copy(), stock.copy()
    o_seq, o_amt, o_cnt = seq.copy(), amt.copy(), cnt.copy()
    o_left, o_stock, o_used = left.copy(), stock.copy(), used.copy()
    o_usd, o_late = usd.copy(), late.copy()
    out, is_out = np.empty(n, np.int64), np.zeros(n, np.bool_)
    rank, order = np.empty(n), np.empty(n, np.int64)
    # Days changed in this round, and since the best was kept.
    dirty, stale = np.zeros(slots, np.bool_), np.zeros(slots, np.bool_)
    fall = (cold / warm) ** (1.0 / max(1, rounds - 1))
    margin = warm
    for _ in range(rounds):
        margin *= fall
        outs = _choose(seq, cnt, left, near, out, is_out, rng)
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
        if rng.random() < 0.7:
            dear = rng.random() * 2.0
        skip = 0.0 if rng.random() < 0.3 else 0.15 * rng.random()
        for i in range(outs):
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
                skip,
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
            for i in range(outs):
                left[out[i]] = o_left[out[i]]
            stock[:] = o_stock
    seq[:], amt[:], cnt[:] = b_seq, b_amt, b_cnt
    left[:], stock[:] = b_left, b_stock
