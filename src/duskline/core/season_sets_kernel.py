"""Compiled parts of the season's bound: every set of fields that a crew's day may hold.

A day is a set of fields with the shortest of all ways through them, and the areas that are worth
most in the time left. Sets are grown field by field; one that no further field can lift to the
wanted worth is given up.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from duskline.core.season_way_kernel import FOLD, VISIT, leg_of

__all__ = ["MOST_FIELDS", "days_worth", "least_way", "stops_of"]

FAR = 1e300
TINY = 1e-9
MOST_FIELDS = 16
"""Days of more fields than this are not looked at: where one would fit, the search says so."""
MOST_IN_WAY = 10
"""Of more fields than this the way counts as no longer than by the nearest of each."""


@njit(cache=True)
def _first_legs(case: Any, k: int) -> Any:  # pragma: no cover - compiled
    """Return the least time and money to reach each field first: straight, or by one other."""
    n, crew = case.area.shape[0], case.crew[k]
    road_m, start_m, lot, moves = case.road_m, case.start_m, case.lot, case.moves
    pace, visit_usd = case.pace, case.visit_usd
    time_s, usd = np.empty(n), np.empty(n)
    for f in range(n):
        time_s[f], usd[f] = leg_of(road_m, start_m, lot, moves, crew, -1, f)
    if start_m[crew].max() <= 0.0:
        return time_s, usd
    straight_s, straight_usd = time_s.copy(), usd.copy()
    for a in range(n):
        if pace[a, k] <= 0.0:
            continue
        for f in range(n):
            if a != f:
                # Nothing is sown in the field on the way, but it is a stop.
                leg_s, leg_usd = leg_of(road_m, start_m, lot, moves, crew, a, f)
                time_s[f] = min(time_s[f], straight_s[a] + moves[crew, VISIT] + leg_s)
                usd[f] = min(usd[f], straight_usd[a] + visit_usd[a, k] + leg_usd)
    return time_s, usd


@njit(cache=True)
def _legs(case: Any, k: int, fields: Any) -> Any:  # pragma: no cover - compiled
    """Return time and money between these fields, by slot. (m, m)"""
    count, crew = fields.shape[0], case.crew[k]
    road_m, start_m, lot, moves = case.road_m, case.start_m, case.lot, case.moves
    legs_s, legs_usd = np.zeros((count, count)), np.zeros((count, count))
    for i in range(count):
        for j in range(count):
            if i != j:
                legs_s[i, j], legs_usd[i, j] = leg_of(
                    road_m, start_m, lot, moves, crew, fields[i], fields[j]
                )
    return legs_s, legs_usd


@njit(cache=True)
def _extend(
    legs_s: Any,
    legs_usd: Any,
    chosen: Any,
    d: int,
    first_s: Any,
    first_usd: Any,
    end_s: Any,
    end_usd: Any,
) -> Any:  # pragma: no cover - compiled
    """Return the least time and money of the ways through ``chosen[: d + 1]``.

    ``legs_s`` and ``legs_usd`` ``(m, m)`` lie between fields as ``chosen`` numbers them.
    ``end_s[set, last]`` holds the ways through every set of the first ``d``, a set as the bits of
    positions, by their last field; the sets with position ``d`` are filled in.
    """
    bit, f = 1 << d, chosen[d]
    for others in range(bit):
        here = others | bit
        if others == 0:
            end_s[here, d], end_usd[here, d] = first_s[f], first_usd[f]
            continue
        least_s, least_usd = FAR, FAR
        for q in range(d):
            if others >> q & 1:
                leg_s, leg_usd = legs_s[chosen[q], f], legs_usd[chosen[q], f]
                least_s = min(least_s, end_s[others, q] + leg_s)
                least_usd = min(least_usd, end_usd[others, q] + leg_usd)
        end_s[here, d], end_usd[here, d] = least_s, least_usd
        for q in range(d):
            if not others >> q & 1:
                continue
            rest = here & ~(1 << q)
            least_s, least_usd = FAR, FAR
            for p in range(d + 1):
                if rest >> p & 1:
                    leg_s, leg_usd = legs_s[chosen[p], chosen[q]], legs_usd[chosen[p], chosen[q]]
                    least_s = min(least_s, end_s[rest, p] + leg_s)
                    least_usd = min(least_usd, end_usd[rest, p] + leg_usd)
            end_s[here, q], end_usd[here, q] = least_s, least_usd
    every = (bit << 1) - 1
    way_s, way_usd = FAR, FAR
    for q in range(d + 1):
        way_s = min(way_s, end_s[every, q])
        way_usd = min(way_usd, end_usd[every, q])
    return way_s, way_usd


@njit(cache=True)
def least_way(case: Any, k: int, fields: Any) -> Any:  # pragma: no cover - compiled
    """Return the least time and the least money of all ways through these fields, by slot."""
    count = fields.shape[0]
    every_s, every_usd = _first_legs(case, k)
    first_s, first_usd = every_s[fields], every_usd[fields]
    legs_s, legs_usd = _legs(case, k, fields)
    end_s, end_usd = np.empty((1 << count, count)), np.empty((1 << count, count))
    way_s, way_usd = 0.0, 0.0
    at = np.arange(count)
    for d in range(count):
        way_s, way_usd = _extend(legs_s, legs_usd, at, d, first_s, first_usd, end_s, end_usd)
    return way_s, way_usd


@njit(cache=True)
def _best_areas(
    case: Any, k: int, fields: Any, pay: Any, stop_usd: Any, room_s: float, areas: Any
) -> float:  # pragma: no cover - compiled
    """Fill ``areas`` with what is worth most in so much time; return its worth, -FAR: no room.

    Every stop sows its least part. A field sown whole pays for a second stop; of every set of
    fields sown whole the others are sown by the steepest first.
    """
    count = fields.shape[0]
    area, least, whole = case.area, case.least, case.whole
    paces, ready_s = case.pace, case.ready_s
    spare_s = case.budget_s[k] - case.moves[case.crew[k], VISIT]
    pace, more, slope = np.empty(count), np.zeros(count), np.zeros(count)
    bits, base = 0, 0.0
    for q in range(count):
        f = fields[q]
        pace[q] = paces[f, k]
        most = min(area[f], (spare_s - ready_s[f, k]) / pace[q])
        areas[q] = area[f] if whole[f] else least[f]
        room_s -= areas[q] * pace[q]
        if most < areas[q] * (1.0 - TINY):
            return -FAR
        base += pay[f] * areas[q]
        if whole[f]:
            continue
        base += stop_usd[f] * stops_of(areas[q], area[f])
        more[q] = max(0.0, most - areas[q])
        slope[q] = pay[f] / pace[q]
        if stop_usd[f] > 0.0 and more[q] > 0.0 and stops_of(most, area[f]) == 2.0:
            bits |= 1 << q
    if room_s < -1e-6:
        return -FAR
    order = np.argsort(-slope)
    trial, taken = np.empty(count), np.zeros(count)
    best = -FAR
    full = bits
    while True:
        # ``full`` runs through every set of fields that may be sown whole.
        spare, worth = room_s, 0.0
        for q in range(count):
            trial[q] = 0.0
            if full >> q & 1:
                f = fields[q]
                trial[q] = more[q]
                spare -= more[q] * pace[q]
                worth += pay[f] * more[q] + stop_usd[f]
        if spare >= -1e-6:
            for q in order:
                if slope[q] <= 0.0 or spare <= 0.0:
                    break
                if not full >> q & 1:
                    trial[q] = min(more[q], spare / pace[q])
                    worth += trial[q] * pay[fields[q]]
                    spare -= trial[q] * pace[q]
            if worth > best:
                best = worth
                taken[:] = trial
        if full == 0:
            break
        full = (full - 1) & bits
    for q in range(count):
        areas[q] += taken[q]
    return base + best


@njit(cache=True, inline="always")
def stops_of(sown: float, area: float) -> float:  # pragma: no cover - compiled
    """Return how many of a field's two stops a stop stands for: both where it sows all of it."""
    return 2.0 if sown >= area * (1.0 - 1e-6) else 1.0


@njit(cache=True, inline="always")
def _into(
    dense: Any, long_s: Any, count: int, per_s: float, time_s: float
) -> int:  # pragma: no cover - compiled
    """Put a piece in its place among the densest first; return how many there are."""
    z = count
    while z > 0 and dense[z - 1] < per_s:
        dense[z], long_s[z] = dense[z - 1], long_s[z - 1]
        z -= 1
    dense[z], long_s[z] = per_s, time_s
    return count + 1


@njit(cache=True, inline="always")
def _filled(
    room_s: float,
    own: Any,
    own_s: Any,
    owns: int,
    dense: Any,
    long_s: Any,
    order: Any,
    low: int,
    begin: int,
) -> float:  # pragma: no cover - compiled
    """Return the most that time is worth in the fields taken and in any from ``low`` on.

    None of these stands in ``order`` before ``begin``.
    """
    worth, i, j, count = 0.0, 0, begin, dense.shape[0]
    while room_s > 0.0:
        while j < count and order[j] < low:
            j += 1
        mine = own[i] if i < owns else 0.0
        other = dense[order[j]] if j < count else 0.0
        if mine <= 0.0 and other <= 0.0:
            break
        if mine >= other:
            time_s = min(room_s, own_s[i])
            worth += time_s * mine
            i += 1
        else:
            time_s = min(room_s, long_s[order[j]])
            worth += time_s * other
            j += 1
        room_s -= time_s
    return worth


@njit(cache=True, nogil=True)
def days_worth(
    case: Any,
    k: int,
    dual: Any,
    seed_dual: Any,
    stop_usd: Any,
    least_usd: float,
    every: bool,
    most_nodes: int,
    sets: Any,
    areas: Any,
    worths: Any,
) -> Any:  # pragma: no cover - compiled
    """Find days of slot ``k`` worth more than ``least_usd``; return how many, whether all, a limit.

    A sown m2 of field f pays ``dual[f]``, each stop in it ``stop_usd[f]``, and once more that
    where it sows the whole field. Fills ``sets`` and ``areas`` ``(m, MOST_FIELDS)``, fields below
    zero for none, and ``worths`` ``(m,)``: with ``every`` each set of fields, else the best and
    some that it bettered.

    Not all where more than ``most_nodes`` sets were begun, the arrays ran full, or a day may hold
    more than ``MOST_FIELDS`` fields; no day at all is worth more than the limit.

    Never below the best real day: only waiting for ground within the day is left out. A stop that
    sows nothing is only looked at as the first, where it may shorten the way from the start.
    """
    n, crew = case.area.shape[0], case.crew[k]
    budget, visit, fold = case.budget_s[k], case.moves[crew, VISIT], case.moves[crew, FOLD]
    going_usd = case.slot_usd[k]
    ids, count, needed = np.empty(n, np.int64), 0, 0
    pay = np.empty(n)
    paces, ready_s, area, whole_of = case.pace, case.ready_s, case.area, case.whole
    prices, lot, kg, least = case.price, case.lot, case.kg, case.least
    visits_usd, must = case.visit_usd, case.must
    for f in range(n):
        pace = paces[f, k]
        if pace <= 0.0:
            continue
        most = min(area[f], (budget - ready_s[f, k] - visit) / pace)
        if most < (area[f] if whole_of[f] else least[f]) * (1.0 - TINY):
            continue
        pay[f] = dual[f] - prices[f, k] - seed_dual[lot[f]] * kg[f]
        gain = max(pay[f] * least[f], pay[f] * most) - visits_usd[f, k]
        if whole_of[f]:
            gain = pay[f] * most - visits_usd[f, k]
        else:
            gain += stop_usd[f] * stops_of(most, area[f])
        if gain > 0.0 or must[f, k]:
            ids[count] = f
            count += 1
            needed += must[f, k]
    if needed > MOST_FIELDS:
        return 0, False, FAR
    if count == 0 or needed < np.sum(must[:, k]):
        return 0, True, -FAR
    ids = ids[:count]
    every_s, every_usd = _first_legs(case, k)
    first_s, first_usd = every_s[ids], every_usd[ids]
    legs_s, legs_usd = _legs(case, k, ids)
    start_s, start_usd = FAR, FAR
    dense, long_s = np.empty(count), np.empty(count)
    near_s, near_usd = np.zeros(count), np.zeros(count)
    near_dense, near_long_s = np.empty(count), np.empty(count)
    rank = np.empty(count)
    for i in range(count):
        f = ids[i]
        start_s, start_usd = min(start_s, first_s[i]), min(start_usd, first_usd[i])
        if count > 1:
            near_s[i], near_usd[i] = FAR, FAR
            for j in range(count):
                if j != i:
                    near_s[i] = min(near_s[i], legs_s[j, i] - fold)
                    near_usd[i] = min(near_usd[i], legs_usd[j, i])
        dense[i], long_s[i] = _densest(case, k, f, pay, stop_usd, 0.0, 0.0)
        near_dense[i], near_long_s[i] = _densest(case, k, f, pay, stop_usd, near_s[i], near_usd[i])
        rank[i] = -dense[i] - (1e200 if must[f, k] else 0.0)
    way = np.argsort(rank)
    ids, dense, long_s = ids[way], dense[way], long_s[way]
    first_s, first_usd = first_s[way], first_usd[way]
    legs_s, legs_usd = legs_s[way][:, way], legs_usd[way][:, way]
    near_s, near_usd = near_s[way], near_usd[way]
    near_dense, near_long_s = near_dense[way], near_long_s[way]
    by_near = np.argsort(-near_dense)
    # The fields stand by density already, but for those that must be in.
    by_dense = np.arange(count) if needed == 0 else np.argsort(-dense)
    far_s, far_usd = near_s.max(), near_usd.max()

    chosen, at = np.empty(MOST_FIELDS + 1, np.int64), np.zeros(MOST_FIELDS + 2, np.int64)
    index = np.empty(MOST_FIELDS + 1, np.int64)
    end_s = np.empty((1 << MOST_IN_WAY, MOST_IN_WAY))
    end_usd = np.empty((1 << MOST_IN_WAY, MOST_IN_WAY))
    paid_stops = stop_usd.max() > 0.0
    way_s, way_usd = np.zeros(MOST_FIELDS + 2), np.zeros(MOST_FIELDS + 2)
    own, own_s = np.empty(MOST_FIELDS + 1), np.empty(MOST_FIELDS + 1)
    trial = np.empty(MOST_FIELDS + 1)
    found, better, best, nodes, d, whole = 0, 0, least_usd, 0, 0, True
    limit = FAR
    way_s[0], way_usd[0] = start_s, start_usd
    while d >= 0:
        i = at[d]
        if i >= count or (d < needed and i > d):
            d -= 1
            continue
        nodes += 1
        if nodes > most_nodes:
            return found, False, limit
        at[d] = i + 1
        # First the bound with any of the fields from here on, then with this one for certain.
        hopeless = 0
        for certain in range(2):
            taken = d + certain
            if certain:
                index[d], chosen[d] = i, ids[i]
            fixed, forced_s, owns = -going_usd, 0.0, 0
            nears_s, nears_usd = 0.0, 0.0
            for q in range(taken):
                f = chosen[q]
                pace = paces[f, k]
                fixed -= visits_usd[f, k]
                nears_s += near_s[index[q]]
                nears_usd += near_usd[index[q]]
                part = area[f] if whole_of[f] else least[f]
                fixed += part * pay[f]
                forced_s += part * pace
                if whole_of[f]:
                    continue
                fixed += stop_usd[f] * stops_of(part, area[f])
                most = min(area[f], (budget - ready_s[f, k] - visit) / pace)
                if most > part:
                    more = pay[f] * (most - part)
                    more += stop_usd[f] * (stops_of(most, area[f]) - stops_of(part, area[f]))
                    more_s = (most - part) * pace
                    owns = _into(
                        own, own_s, owns, max(more, pay[f] * (most - part)) / more_s, more_s
                    )
            room = budget - forced_s - taken * visit
            low = i + certain
            # The way through more fields is no shorter; each further field brings its own move.
            extra = fold if certain and d > 0 else 0.0
            free = fold if taken == 0 else 0.0
            if certain and room - way_s[d] - extra < -1e-6:
                hopeless = 2
                break
            hope = fixed - way_usd[d]
            hope += _filled(
                room - way_s[d] - extra + free,
                own,
                own_s,
                owns,
                dense,
                long_s,
                by_dense,
                low,
                low if needed == 0 else 0,
            )
            if hope > best:
                # Every field but one is reached from its nearest at best.
                moves = max(0, taken - 1) * fold
                left_s = room - (start_s - far_s + nears_s + moves) + free
                hope = fixed - (start_usd - far_usd + nears_usd)
                hope += _filled(left_s, own, own_s, owns, near_dense, near_long_s, by_near, low, 0)
            if nodes == 1 and certain == 0:
                limit = hope
            if hope <= best and d >= needed:
                hopeless = 1 + certain
                break
        if hopeless == 1:
            d -= 1
            continue
        if hopeless == 2:
            continue
        if d == MOST_FIELDS or (d == MOST_IN_WAY and paid_stops):
            whole = False
            continue
        if d < MOST_IN_WAY:
            way_s[d + 1], way_usd[d + 1] = _extend(
                legs_s, legs_usd, index, d, first_s, first_usd, end_s, end_usd
            )
        else:
            # No shorter than the way through fewer, nor than from each one's nearest.
            nears_s, nears_usd = near_s[i], near_usd[i]
            for q in range(d):
                nears_s += near_s[index[q]]
                nears_usd += near_usd[index[q]]
            way_s[d + 1] = max(way_s[d] + fold, start_s - far_s + nears_s + d * fold)
            way_usd[d + 1] = max(way_usd[d], start_usd - far_usd + nears_usd)
        room = budget - way_s[d + 1] - (d + 1) * visit
        forced_s = 0.0
        for q in range(d + 1):
            f = chosen[q]
            forced_s += (area[f] if whole_of[f] else least[f]) * paces[f, k]
        if room - forced_s < -1e-6:
            continue
        d += 1
        at[d] = i + 1
        if d < needed:
            continue
        # ``own`` is that of these very fields; with the real way, is there hope for them alone?
        hope = fixed - way_usd[d]
        hope += _filled(room - forced_s, own, own_s, owns, dense, long_s, by_dense, count, count)
        if hope <= best:
            continue
        worth = -going_usd - way_usd[d]
        for q in range(d):
            worth -= visits_usd[chosen[q], k]
        worth += _best_areas(case, k, chosen[:d], pay, stop_usd, room, trial)
        if worth <= best:
            continue
        if every:
            if found == worths.shape[0]:
                return found, False, limit
            row = found
            found += 1
        else:
            row, best = better % worths.shape[0], worth
            better += 1
            found = min(better, worths.shape[0])
        worths[row] = worth
        for q in range(MOST_FIELDS):
            sets[row, q] = chosen[q] if q < d else -1
            areas[row, q] = trial[q] if q < d else 0.0
    return found, whole, limit


@njit(cache=True)
def _densest(
    case: Any,
    k: int,
    f: int,
    pay: Any,
    stop_usd: Any,
    near_s: float,
    near_usd: float,
) -> Any:  # pragma: no cover - compiled
    """Return the most that a second in a field is worth, its move and visit counted, and how long.

    The line from nothing through the best of the points where its pay bends.
    """
    crew = case.crew[k]
    pace = case.pace[f, k]
    visit, fold = case.moves[crew, VISIT], case.moves[crew, FOLD]
    most = min(case.area[f], (case.budget_s[k] - case.ready_s[f, k] - visit) / pace)
    fixed_s = max(1e-9, fold + near_s + visit)
    fixed = -case.visit_usd[f, k] - near_usd
    long_s = fixed_s + most * pace
    if case.whole[f]:
        return max(0.0, (fixed + pay[f] * most) / long_s), long_s
    best = 0.0
    for point in (case.least[f], most):
        worth = fixed + pay[f] * point + stop_usd[f] * stops_of(point, case.area[f])
        best = max(best, worth / (fixed_s + point * pace))
    return best, long_s
