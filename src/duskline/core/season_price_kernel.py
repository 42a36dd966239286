"""Compiled parts of the season's bound: the best day of each slot at given prices.

With few fields every set of them is looked at, by its quickest way; with many a day is grown in
whole units of working time, each field with its nearest move. Neither is ever below the best.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from duskline.core.season_kernel import leg_of

__all__ = ["best_days", "best_days_of_few", "every_way"]

TINY = 1e-9
FAR = 1e300
NOTHING = 16  # in the code of a choice: the stop sows nothing


@njit(cache=True)
def best_days(
    case: Any, dual: Any, seed_dual: Any, unit_s: float, worth_usd: Any, picked: Any
) -> None:  # pragma: no cover - compiled
    """Find in each slot the day that is worth most when a sown m2 of field f pays ``dual[f]``.

    Fills ``worth_usd`` ``(s,)`` with the worth of the best day with at least one stop, below zero
    where going out does not pay and far below where no field is open, and ``picked`` ``(n, s)``
    with the area of each pair.

    Never below the best real day: times are cut to whole units, every move is as short as the
    nearest open field, and ground not ready at the opening costs no waiting. One field is the
    first (no move), at most one is sown in part.
    """
    n, slots = case.area.shape[0], case.crew.shape[0]
    picked[:] = 0.0
    ids = np.empty(n, np.int64)
    keep = np.empty(n, np.bool_)
    for k in range(slots):
        worth_usd[k] = -FAR
        crew = case.crew[k]
        if case.budget_s[k] <= 0.0:
            continue
        room = int(np.floor((case.budget_s[k] + case.clean_s[crew]) / unit_s + 1e-9))
        count = 0
        part, needed = 0.0, 0
        for f in range(n):
            pace = case.pace[f, k]
            if pace <= 0.0:
                continue
            pay = dual[f] - case.price[f, k] - seed_dual[case.lot[f]] * case.kg[f]
            amount = min(
                case.area[f],
                (case.budget_s[k] - case.ready_s[f, k] - case.visit_s[crew]) / pace,
            )
            if amount <= 0.0 or (case.whole[f] and amount < case.area[f] * (1.0 - TINY)):
                continue
            needed += case.must[f, k]
            # Whatever is sown at a loss, the day is worth no more than going out costs.
            worth_usd[k] = -case.slot_usd[k]
            # From a yard, a field that pays nothing may still be a shorter first way.
            pays = pay * amount > case.visit_usd[f, k] or case.must[f, k]
            if case.start_m[crew, f] < 0.0 and not pays:
                continue
            if not case.whole[f]:
                pay = max(0.0, pay)
            part = max(part, pay / pace * unit_s)
            ids[count] = f
            count += 1
        if needed < np.sum(case.must[:, k]):
            worth_usd[k] = -FAR
            continue
        if count == 0:
            continue
        kept = count
        if count > 12 and needed == 0:
            _mark(case, k, crew, ids[:count], room, unit_s, dual, seed_dual, part, keep)
            small = 0
            for i in range(count):
                if keep[i] or case.must[ids[i], k]:
                    ids[small] = ids[i]
                    small += 1
            kept = small
        best = _best_day(case, k, crew, ids[:kept], dual, seed_dual, unit_s, room, picked)
        worth_usd[k] = best if needed > 0 else max(worth_usd[k], best)


@njit(cache=True)
def _mark(
    case: Any,
    k: int,
    crew: int,
    ids: Any,
    room: int,
    unit_s: float,
    dual: Any,
    seed_dual: Any,
    part: float,
    keep: Any,
) -> None:  # pragma: no cover - compiled
    """Mark the fields that may be in the best day: a bound with each one in, a day in hand.

    The bound takes every field's later visit (move paid), with room for one free move and the
    rounding, no cleaning; the day in hand is filled greedily with moves and cleaning paid.
    """
    count = ids.shape[0]
    units, rate, worth = np.empty(count, np.int64), np.empty(count), np.empty(count)
    least_loss_units, least_loss_usd = np.empty(count), np.empty(count)
    dear, long = 0.0, 0.0
    hand = np.empty(count)
    hand_units = np.empty(count, np.int64)
    for i in range(count):
        f = ids[i]
        pace = case.pace[f, k]
        pay = dual[f] - case.price[f, k] - seed_dual[case.lot[f]] * case.kg[f]
        if not case.whole[f]:
            pay = max(0.0, pay)
        amount = min(
            case.area[f], (case.budget_s[k] - case.ready_s[f, k] - case.visit_s[crew]) / pace
        )
        move_s = case.fold_s[crew] + case.near_m[f, k] * case.s_per_m[crew]
        move_usd = case.near_m[f, k] * case.travel_usd
        start_s, start_usd = leg_of(case, crew, -1, f)
        long = max(long, move_s - start_s)
        dear = max(dear, move_usd - start_usd)
        work_s = amount * pace + case.visit_s[crew]
        units[i] = int((work_s + move_s) / unit_s)
        worth[i] = pay * amount - case.visit_usd[f, k] - move_usd
        rate[i] = worth[i] / max(1.0, float(units[i]))
        slow = max(move_s, start_s)
        hand[i] = pay * amount - case.visit_usd[f, k] - max(move_usd, start_usd) - case.clean_usd
        hand_units[i] = int((work_s + slow + case.clean_s[crew]) / unit_s) + 1
        # A field sown in part costs at least its move and its visit.
        least_loss_units[i] = (case.visit_s[crew] + min(start_s, move_s)) / unit_s
        least_loss_usd[i] = case.visit_usd[f, k] + min(start_usd, move_usd)
    order = np.argsort(-rate[:count])
    possible, taken = 0.0, 0
    for j in range(count):
        i = order[j]
        if taken + hand_units[i] <= room and hand[i] > 0.0:
            taken += hand_units[i]
            possible += hand[i]
    full = room + long / unit_s + 2.0
    bound, critical = dear + part, 0.0
    for j in range(count):
        i = order[j]
        if worth[i] <= 0.0:
            break
        if units[i] <= full:
            full -= units[i]
            bound += worth[i]
        else:
            critical = worth[i] / max(1.0, float(units[i]))
            bound += critical * full
            break
    for i in range(count):
        loss = critical * units[i] - worth[i]
        if not case.whole[ids[i]]:
            loss = min(loss, critical * least_loss_units[i] + least_loss_usd[i])
        keep[i] = bound - max(0.0, loss) >= possible


@njit(cache=True)
def _best_day(
    case: Any,
    k: int,
    crew: int,
    ids: Any,
    dual: Any,
    seed_dual: Any,
    unit_s: float,
    room: int,
    picked: Any,
) -> float:  # pragma: no cover - compiled
    count = ids.shape[0]
    wide = room + 1
    order = ids[np.argsort(case.lot[ids])]
    # Layers: bit 0 the first field is taken, bit 1 a part is taken.
    shut = np.full((4, wide), -FAR)
    shut[0, :] = 0.0
    wide_open = np.full((4, wide), -FAR)
    how = np.zeros((count, 4, wide), np.int32)
    merged = np.zeros((count, 4, wide), np.bool_)
    amounts = np.empty(count)
    base = np.empty((4, wide))
    from_shut = np.zeros((4, wide), np.bool_)
    queue = np.empty(wide, np.int64)
    clean_units = int(case.clean_s[crew] / unit_s)
    for i in range(count):
        f = order[i]
        if i == 0 or case.lot[order[i - 1]] != case.lot[f]:
            wide_open[:] = -FAR
        pace = case.pace[f, k]
        pay = dual[f] - case.price[f, k] - seed_dual[case.lot[f]] * case.kg[f]
        if not case.whole[f]:
            pay = max(0.0, pay)
        amount = min(
            case.area[f], (case.budget_s[k] - case.ready_s[f, k] - case.visit_s[crew]) / pace
        )
        amounts[i] = amount
        start_s, start_usd = leg_of(case, crew, -1, f)
        for layer in range(4):
            for t in range(wide):
                value = wide_open[layer, t]
                enter = -FAR
                if t >= clean_units and shut[layer, t - clean_units] > -FAR:
                    enter = shut[layer, t - clean_units] - case.clean_usd
                from_shut[layer, t] = enter > value
                base[layer, t] = max(enter, value)
        if case.must[f, k]:
            wide_open[:] = -FAR
            shut[:] = -FAR
        # Later visit (0) or first (1).
        for free in range(2):
            if free:
                fixed_s, fixed_usd = start_s + case.visit_s[crew], start_usd + case.visit_usd[f, k]
            else:
                fixed_s = case.fold_s[crew] + case.near_m[f, k] * case.s_per_m[crew]
                fixed_s += case.visit_s[crew]
                fixed_usd = case.near_m[f, k] * case.travel_usd + case.visit_usd[f, k]
            full = int((fixed_s + amount * pace) / unit_s)
            gain = pay * amount - fixed_usd
            for layer in range(4):
                if free and layer & 1:
                    continue
                to = layer | free
                for t in range(full, wide):
                    value = base[layer, t - full] + gain
                    if value > wide_open[to, t] and base[layer, t - full] > -FAR:
                        wide_open[to, t] = value
                        how[i, to, t] = _code(full, free, 0, from_shut[layer, t - full])
            if case.whole[f]:
                continue
            low = int(fixed_s / unit_s)
            if case.must[f, k] or start_s > 0.0:
                # A stop that sows nothing: not a part, for it is at an end of its range.
                for layer in range(4):
                    if free and layer & 1:
                        continue
                    to = layer | free
                    for t in range(low, wide):
                        value = base[layer, t - low] - fixed_usd
                        if value > wide_open[to, t] and base[layer, t - low] > -FAR:
                            wide_open[to, t] = value
                            how[i, to, t] = _code(low, free, 0, from_shut[layer, t - low]) + NOTHING
            per = pay / pace * unit_s
            for layer in range(2):
                if free and layer & 1:
                    continue
                to = layer | free | 2
                head, tail = 0, 0
                for t in range(low, wide):
                    j = t - low
                    value = base[layer, j] - per * j
                    while (
                        tail > head
                        and base[layer, queue[tail - 1]] - per * queue[tail - 1] <= value
                    ):
                        tail -= 1
                    queue[tail] = j
                    tail += 1
                    while queue[head] < t - full + 1 and head < tail - 1:
                        head += 1
                    j = queue[head]
                    if t - j >= full or base[layer, j] <= -FAR:
                        continue
                    value = base[layer, j] + per * (t - j + 1) - pay / pace * fixed_s
                    value -= case.visit_usd[f, k] + (fixed_usd - case.visit_usd[f, k])
                    if value > wide_open[to, t]:
                        wide_open[to, t] = value
                        how[i, to, t] = _code(t - j, free, 1, from_shut[layer, j])
        if i == count - 1 or case.lot[order[i + 1]] != case.lot[f]:
            for layer in range(4):
                for t in range(wide):
                    if wide_open[layer, t] > shut[layer, t]:
                        shut[layer, t] = wide_open[layer, t]
                        merged[i, layer, t] = True
    best, at, layer_at = -FAR, -1, 0
    shift = case.clean_usd - case.slot_usd[k]
    for layer in (1, 3):
        for t in range(wide):
            if shut[layer, t] > -FAR and shut[layer, t] + shift > best + 1e-9:
                best, at, layer_at = shut[layer, t] + shift, t, layer
    if at < 0:
        return -FAR
    _walk_back(
        case, k, crew, order, how, merged, amounts, at, layer_at, unit_s, picked, clean_units
    )
    return best


@njit(cache=True, inline="always")
def _code(units: int, free: int, part: int, entered: bool) -> int:  # pragma: no cover - compiled
    return units * 32 + 8 * part + 4 * free + 2 * (1 if entered else 0) + 1


@njit(cache=True)
def _walk_back(
    case: Any,
    k: int,
    crew: int,
    order: Any,
    how: Any,
    merged: Any,
    amounts: Any,
    t: int,
    layer: int,
    unit_s: float,
    picked: Any,
    clean_units: int,
) -> None:  # pragma: no cover - compiled
    i = order.shape[0] - 1
    in_open = False
    while i >= 0:
        last = i == order.shape[0] - 1 or case.lot[order[i + 1]] != case.lot[order[i]]
        if last and not in_open:
            in_open = merged[i, layer, t]
        if not in_open:
            i -= 1
            continue
        code = how[i, layer, t]
        # The last writer of this state is the field that was taken into it.
        if code == 0:
            i -= 1
            continue
        units, part, free = code // 32, (code >> 3) & 1, (code >> 2) & 1
        entered = (code >> 1) & 1
        f = order[i]
        area = amounts[i]
        if code & NOTHING:
            area = 0.0
        if part:
            start_s, _ = leg_of(case, crew, -1, f)
            fixed_s = (
                start_s if free else (case.fold_s[crew] + case.near_m[f, k] * case.s_per_m[crew])
            )
            fixed_s += case.visit_s[crew]
            area = min(area, max(0.0, ((units + 1) * unit_s - fixed_s) / case.pace[f, k]))
        picked[f, k] += max(area, 1e-9 * case.area[f])
        t -= units
        layer &= ~(free | (part << 1))
        if entered:
            t -= clean_units
            in_open = False
        i -= 1


@njit(cache=True)
def every_way(case: Any) -> Any:  # pragma: no cover - compiled
    """Return the least time and the least money of the ways through every set of fields.

    ``(c, 2**n)`` each, a set as the bits of its fields; moves, clean-outs and the way from the
    start, no visits.
    """
    n, crews = case.area.shape[0], case.fold_s.shape[0]
    sets = 1 << n
    least_s, least_usd = np.full((crews, sets), FAR), np.full((crews, sets), FAR)
    for crew in range(crews):
        ending = np.full((2, sets, n), FAR)
        least_s[crew, 0], least_usd[crew, 0] = 0.0, 0.0
        for f in range(n):
            time_s, usd = leg_of(case, crew, -1, f)
            ending[0, 1 << f, f], ending[1, 1 << f, f] = time_s, usd
        for here in range(1, sets):
            for last in range(n):
                if not here >> last & 1:
                    continue
                least_s[crew, here] = min(least_s[crew, here], ending[0, here, last])
                least_usd[crew, here] = min(least_usd[crew, here], ending[1, here, last])
                for f in range(n):
                    if here >> f & 1:
                        continue
                    time_s, usd = leg_of(case, crew, last, f)
                    to = here | 1 << f
                    ending[0, to, f] = min(ending[0, to, f], ending[0, here, last] + time_s)
                    ending[1, to, f] = min(ending[1, to, f], ending[1, here, last] + usd)
    return least_s, least_usd


@njit(cache=True)
def best_days_of_few(
    case: Any, least_s: Any, least_usd: Any, dual: Any, seed_dual: Any, worth_usd: Any, picked: Any
) -> None:  # pragma: no cover - compiled
    """Do what ``best_days`` does, over every set of fields with its real ways.

    Only waiting for ground within the day is left out.
    """
    n, slots = case.area.shape[0], case.crew.shape[0]
    picked[:] = 0.0
    pay, most = np.zeros(n), np.zeros(n)
    amounts = np.zeros(n)
    for k in range(slots):
        crew = case.crew[k]
        worth_usd[k] = -FAR
        open_bits, must_bits, whole_bits = 0, 0, 0
        for f in range(n):
            if case.must[f, k]:
                must_bits |= 1 << f
            pace = case.pace[f, k]
            if pace <= 0.0:
                continue
            most[f] = min(
                case.area[f], (case.budget_s[k] - case.ready_s[f, k] - case.visit_s[crew]) / pace
            )
            if most[f] <= 0.0 or (case.whole[f] and most[f] < case.area[f] * (1.0 - TINY)):
                continue
            pay[f] = dual[f] - case.price[f, k] - seed_dual[case.lot[f]] * case.kg[f]
            open_bits |= 1 << f
            if case.whole[f]:
                whole_bits |= 1 << f
        if must_bits & ~open_bits:
            continue
        density = np.full(n, -FAR)
        for f in range(n):
            if open_bits >> f & 1:
                density[f] = pay[f] / case.pace[f, k]
        order = np.argsort(-density)
        best_set = 0
        for here in range(1, least_s.shape[1]):
            if here & ~open_bits or must_bits & ~here:
                continue
            room = case.budget_s[k] - least_s[crew, here]
            value = -least_usd[crew, here] - case.slot_usd[k]
            for f in range(n):
                if here >> f & 1:
                    room -= case.visit_s[crew]
                    value -= case.visit_usd[f, k]
                    if whole_bits >> f & 1:
                        room -= case.area[f] * case.pace[f, k]
                        value += case.area[f] * pay[f]
            if room < -1e-6:
                continue
            for i in range(n):
                f = order[i]
                if not here >> f & 1 or whole_bits >> f & 1:
                    continue
                if pay[f] <= 0.0 or room <= 0.0:
                    break
                q = min(most[f], room / case.pace[f, k])
                room -= q * case.pace[f, k]
                value += q * pay[f]
            if value > worth_usd[k]:
                worth_usd[k], best_set = value, here
        if best_set == 0:
            continue
        room = case.budget_s[k] - least_s[crew, best_set]
        amounts[:] = 0.0
        for f in range(n):
            if best_set >> f & 1:
                room -= case.visit_s[crew]
                if whole_bits >> f & 1:
                    amounts[f] = case.area[f]
                    room -= case.area[f] * case.pace[f, k]
        for i in range(n):
            f = order[i]
            if not best_set >> f & 1 or whole_bits >> f & 1 or pay[f] <= 0.0 or room <= 0.0:
                continue
            amounts[f] = min(most[f], room / case.pace[f, k])
            room -= amounts[f] * case.pace[f, k]
        for f in range(n):
            if best_set >> f & 1:
                # A stop that sows nothing is still a stop.
                picked[f, k] = max(amounts[f], 1e-9 * case.area[f])
