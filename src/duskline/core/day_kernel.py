"""Compiled event sweep behind ``core.day.simulate_day``; imported only when a day is simulated.

Per replication: lay out when each spreader throws seed and when each machine can cover, then
walk once through those edges keeping spread, ready-to-cover and covered area. The balance at a
stop time is piecewise linear between edges, so the latest stop is found exactly.
"""

from __future__ import annotations

import numpy as np
from numba import njit

__all__ = ["sweep_days"]

BIG = 1e12
TINY = 1e-7


@njit(cache=True)
def _next_down(t, row, place, gap, repair, drawn, drawn_out):  # pragma: no cover - compiled
    """Return (out, back, which) of the next time out of work after t; which 0 stated, 1 drawn."""
    stated_out = row[place, 0] if place < row.shape[0] else BIG
    random_out = drawn_out if drawn < gap.shape[0] else BIG
    if stated_out <= random_out:
        return stated_out, (row[place, 1] if place < row.shape[0] else BIG), 0
    return random_out, random_out + repair[drawn], 1


@njit(cache=True)
def _fill_up(begin, end, row, gap, repair, out0, out1):  # pragma: no cover - compiled
    """Write the working intervals of one machine into out0, out1; return how many."""
    count = 0
    place = 0
    drawn = 0
    t = begin
    drawn_out = begin + (gap[0] if gap.shape[0] else BIG)
    while t < end:
        out, back, which = _next_down(t, row, place, gap, repair, drawn, drawn_out)
        stop = min(out, end)
        if stop > t:
            out0[count] = t
            out1[count] = stop
            count += 1
        if out >= end:
            break
        if which == 0:
            place += 1
        else:
            drawn += 1
            drawn_out = back + (gap[drawn] if drawn < gap.shape[0] else BIG)
        t = max(t, back)
    return count


@njit(cache=True)
def _up_length(begin, end, row, gap, repair):  # pragma: no cover - compiled
    """Return how long one machine works between begin and end. [s]"""
    total = 0.0
    place = 0
    drawn = 0
    t = begin
    drawn_out = begin + (gap[0] if gap.shape[0] else BIG)
    while t < end:
        out, back, which = _next_down(t, row, place, gap, repair, drawn, drawn_out)
        if out > t:
            total += min(out, end) - t
        if out >= end:
            break
        if which == 0:
            place += 1
        else:
            drawn += 1
            drawn_out = back + (gap[drawn] if drawn < gap.shape[0] else BIG)
        t = max(t, back)
    return total


@njit(cache=True)
def _lay_spreading(
    windows, last_close, rates, hopper, refill_s, hopper_now, up0, up1, up_n, refill_f,
    f_area, f_kg, f_ready, f_move, truck_kg, truck_turn, start,
    seg0, seg1, seg_rate, seg_n,
    clock, seed, rest, rate_kg, loads, moved, truck_free, truck_left,
):  # pragma: no cover - compiled  # fmt: skip
    """Lay out when each spreader throws seed: fields in order, refills, moves, windows."""
    ns = rates.shape[0]
    nf = f_area.shape[0]
    nw = windows.shape[0]
    for i in range(ns):
        clock[i] = start
        seed[i] = hopper_now[i]
        rest[i] = 0.0
        rate_kg[i] = 1.0
        loads[i] = 0
        moved[i] = 0
        seg_n[i] = 0
    for k in range(truck_kg.shape[0]):
        truck_free[k] = start
        truck_left[k] = truck_kg[k]
    queue = 0
    while True:
        i = -1
        best = BIG
        for j in range(ns):
            if clock[j] < best:
                best = clock[j]
                i = j
        if i < 0:
            return
        if rest[i] <= TINY:
            if queue >= nf:
                clock[i] = BIG
                continue
            if moved[i]:
                clock[i] += f_move[queue]
            moved[i] = 1
            clock[i] = max(clock[i], f_ready[queue])
            rest[i] = f_area[queue]
            rate_kg[i] = f_kg[queue]
            queue += 1
            continue
        if seed[i] <= TINY:
            t = clock[i]
            took = refill_s[i] * refill_f[i, loads[i] % refill_f.shape[1]]
            if truck_kg.shape[0]:
                k = 0
                for j in range(truck_kg.shape[0]):
                    if truck_free[j] < truck_free[k]:
                        k = j
                t = max(t, truck_free[k])
                truck_left[k] -= hopper[i]
                truck_free[k] = t + took
                if truck_left[k] < hopper[i]:
                    truck_free[k] += truck_turn[k]
                    truck_left[k] = truck_kg[k]
            clock[i] = t + took
            seed[i] = hopper[i]
            loads[i] += 1
            continue
        t = clock[i]
        end = -1.0
        for w in range(nw):
            close = last_close if w == nw - 1 else min(windows[w, 1], last_close)
            if t < close:
                t = max(t, windows[w, 0])
                if t < close:
                    end = close
                    break
        if end < 0.0:
            clock[i] = BIG
            continue
        found = False
        for u in range(up_n[i]):
            if t < up1[i, u]:
                t = max(t, up0[i, u])
                end = min(end, up1[i, u])
                found = True
                break
        if not found:
            clock[i] = BIG
            continue
        if end <= t:
            clock[i] = t
            continue
        run = min(min(rest[i], seed[i] / rate_kg[i]) / rates[i], end - t)
        if seg_n[i] >= seg0.shape[1]:
            clock[i] = BIG
            continue
        seg0[i, seg_n[i]] = t
        seg1[i, seg_n[i]] = t + run
        seg_rate[i, seg_n[i]] = rates[i]
        seg_n[i] += 1
        rest[i] -= run * rates[i]
        seed[i] -= run * rates[i] * rate_kg[i]
        if rest[i] <= 1e-6:
            rest[i] = 0.0
        if seed[i] <= 1e-6:
            seed[i] = 0.0
        clock[i] = t + run


@njit(cache=True)
def _taken_over(
    t, first, n_cover, rates, factor, opens, close, row, chg, chg_f, gap, repair, first_machine
):  # pragma: no cover - compiled
    """Return what the machines taken over still cover after a stop at t. [m2]"""
    total = 0.0
    for k in range(first, n_cover):
        begin = max(opens[k], t + chg[k - first] * chg_f[k - first])
        if begin < close[k]:
            total += (
                rates[k]
                * factor[k]
                * _up_length(
                    begin, close[k], row[k], gap[first_machine + k], repair[first_machine + k]
                )
            )
    return total


@njit(cache=True)
def sweep_days(
    windows, spread_sd, sp_rate, sp_hopper, sp_refill, sp_now, sp_down,
    cv_rate, cv_open, cv_close, cv_sd, cv_down, n_first, chg,
    f_area, f_kg, f_ready, f_move, truck_kg, truck_turn, lead, start, before, covered_before,
    d_spread, d_cover, d_refill, d_chg, d_gap, d_repair, d_cut, d_spread_z, d_rain,
    at, latest, out_spread, out_open, out_spare,
):  # pragma: no cover - compiled  # fmt: skip
    """Fill ``latest`` (n,) and, at the moments ``at`` (k,), the curves (n, k)."""
    n = latest.shape[0]
    ns = sp_rate.shape[0]
    nc = cv_rate.shape[0]
    nf = f_area.shape[0]
    nb = d_gap.shape[2]
    load_m2 = BIG
    total_area = 0.0
    for f in range(nf):
        total_area += f_area[f]
        for i in range(ns):
            load_m2 = min(load_m2, sp_hopper[i] / f_kg[f])
    most = nf + int(total_area / load_m2) + windows.shape[0] + sp_down.shape[1] + nb + 8
    seg0 = np.empty((ns, most))
    seg1 = np.empty((ns, most))
    seg_rate = np.empty((ns, most))
    seg_n = np.zeros(ns, np.int64)
    ups = sp_down.shape[1] + nb + 2
    up0 = np.empty((ns, ups))
    up1 = np.empty((ns, ups))
    up_n = np.zeros(ns, np.int64)
    cups = cv_down.shape[1] + nb + 2
    cov0 = np.empty((max(n_first, 1), cups))
    cov1 = np.empty((max(n_first, 1), cups))
    cov_n = np.zeros(max(n_first, 1), np.int64)
    clock = np.empty(ns)
    seed = np.empty(ns)
    rest = np.empty(ns)
    rate_kg = np.empty(ns)
    loads = np.zeros(ns, np.int64)
    moved = np.zeros(ns, np.int64)
    truck_free = np.empty(truck_kg.shape[0])
    truck_left = np.empty(truck_kg.shape[0])
    rates = np.empty(ns)
    close = np.empty(nc)
    edge_s = np.zeros(ns, np.int64)
    edge_l = np.zeros(ns, np.int64)
    edge_c = np.zeros(max(n_first, 1), np.int64)
    bounds = np.empty(nf)
    total = before
    for f in range(nf):
        total += f_area[f]
        bounds[f] = total
    for r in range(n):
        rain = d_rain[r]
        last_close = min(windows[-1, 1] + spread_sd * d_spread_z[r], rain)
        last_work = -BIG
        for k in range(nc):
            close[k] = min(cv_close[k] + cv_sd[k] * d_cut[r], rain)
            last_work = max(last_work, close[k])
        for i in range(ns):
            rates[i] = sp_rate[i] * d_spread[r, i]
            up_n[i] = _fill_up(
                max(start, windows[0, 0]),
                last_close,
                sp_down[i],
                d_gap[r, i],
                d_repair[r, i],
                up0[i],
                up1[i],
            )
        _lay_spreading(
            windows, last_close, rates, sp_hopper, sp_refill, sp_now, up0, up1, up_n,
            d_refill[r], f_area, f_kg, f_ready, f_move, truck_kg, truck_turn, start,
            seg0, seg1, seg_rate, seg_n,
            clock, seed, rest, rate_kg, loads, moved, truck_free, truck_left,
        )  # fmt: skip
        capacity_all = 0.0
        nominal = 0.0
        for k in range(n_first):
            cov_n[k] = _fill_up(
                max(start, cv_open[k]),
                close[k],
                cv_down[k],
                d_gap[r, ns + k],
                d_repair[r, ns + k],
                cov0[k],
                cov1[k],
            )
            pace = cv_rate[k] * d_cover[r, k]
            nominal += pace
            for u in range(cov_n[k]):
                capacity_all += pace * (cov1[k, u] - cov0[k, u])
            edge_c[k] = 0
        spread_end = start
        for i in range(ns):
            edge_s[i] = 0
            edge_l[i] = 0
            if seg_n[i]:
                spread_end = max(spread_end, seg1[i, seg_n[i] - 1])
        t = start
        spread = before
        ready = before
        covered = covered_before
        capacity = 0.0
        slope_s = 0.0
        slope_l = 0.0
        slope_k = 0.0
        pause_until = -BIG
        passed = 0
        while passed < nf and bounds[passed] <= covered + TINY:
            passed += 1
        reached = 0
        while reached < nf and bounds[reached] <= spread + TINY:
            reached += 1
        share = 1.0 / max(n_first, 1)
        found = False
        answer = BIG
        want = 0
        spare_now = (
            covered_before
            + capacity_all
            - spread
            + _taken_over(
                t,
                n_first,
                nc,
                cv_rate,
                d_cover[r],
                cv_open,
                close,
                cv_down,
                chg,
                d_chg[r],
                d_gap[r],
                d_repair[r],
                ns,
            )
        )
        for b in range(passed, reached):
            if b + 1 < nf and spread > bounds[b] + TINY:
                spare_now -= f_move[b + 1] * nominal * share
        if spare_now < -TINY * 1e3:
            found = True
            answer = -BIG
        elif last_work - lead < start:
            found = True
            answer = start
        prev_spare = spare_now
        frozen_spare = spare_now
        while True:
            while want < at.shape[0] and at[want] <= t + 1e-9:
                out_spread[r, want] = spread
                out_open[r, want] = spread - covered
                out_spare[r, want] = prev_spare if t <= spread_end else frozen_spare
                want += 1
            if t >= spread_end - 1e-9 and not found:
                found = True
                answer = BIG
            if found and want >= at.shape[0]:
                break
            step_to = BIG
            for i in range(ns):
                e = edge_s[i]
                if e < 2 * seg_n[i]:
                    step_to = min(step_to, seg0[i, e // 2] if e % 2 == 0 else seg1[i, e // 2])
                e = edge_l[i]
                if e < 2 * seg_n[i]:
                    edge = seg0[i, e // 2] if e % 2 == 0 else seg1[i, e // 2]
                    step_to = min(step_to, edge + lead)
            for k in range(n_first):
                e = edge_c[k]
                if e < 2 * cov_n[k]:
                    step_to = min(step_to, cov0[k, e // 2] if e % 2 == 0 else cov1[k, e // 2])
            if want < at.shape[0]:
                step_to = min(step_to, at[want])
            if step_to >= BIG:
                step_to = max(t, spread_end, at[-1] if at.shape[0] else t)
                if step_to <= t:
                    break
            step_to = min(step_to, last_work - lead) if t < last_work - lead else step_to
            step_to = max(step_to, t)
            paused = t < pause_until - 1e-9
            pace = 0.0 if paused else slope_k
            if paused:
                step_to = min(step_to, pause_until)
            waiting = ready - covered <= 1e-6
            does = min(pace, slope_l) if waiting else pace
            if not waiting and pace > slope_l:
                step_to = min(step_to, t + (ready - covered) / (pace - slope_l))
            if passed < nf - 1 and does > 0.0:
                step_to = min(step_to, t + max(0.0, bounds[passed] - covered) / does)
            if reached < nf - 1 and slope_s > 0.0 and bounds[reached] > spread + 1e-6:
                step_to = min(step_to, t + (bounds[reached] - spread) / slope_s)
            dt = step_to - t
            spread_1 = spread + slope_s * dt
            covered_1 = covered + does * dt
            capacity_1 = capacity + slope_k * dt
            t_1 = step_to
            if t_1 <= spread_end + 1e-9:
                spare = (
                    covered_1
                    + capacity_all
                    - capacity_1
                    - spread_1
                    + _taken_over(
                        t_1,
                        n_first,
                        nc,
                        cv_rate,
                        d_cover[r],
                        cv_open,
                        close,
                        cv_down,
                        chg,
                        d_chg[r],
                        d_gap[r],
                        d_repair[r],
                        ns,
                    )
                )
                if t_1 < pause_until - 1e-9:
                    spare -= (pause_until - t_1) * slope_k
                for b in range(passed, nf - 1):
                    if spread_1 <= bounds[b] + 1e-3:
                        break
                    if covered_1 < bounds[b] - 1e-6:
                        spare -= f_move[b + 1] * nominal * share
                if not found:
                    if spare < -1e-6:
                        found = True
                        drop = prev_spare - spare
                        part = prev_spare / drop if drop > 0.0 else 0.0
                        answer = t + dt * min(1.0, max(0.0, part))
                    elif t_1 >= last_work - lead - 1e-9:
                        found = True
                        answer = t_1
                prev_spare = spare
                frozen_spare = spare
            spread = spread_1
            covered = min(covered_1, spread_1)
            ready = min(ready + slope_l * dt, spread)
            capacity = capacity_1
            t = t_1
            if passed < nf - 1 and covered >= bounds[passed] - 1e-6:
                pause_until = max(pause_until, t) + f_move[passed + 1] * share
                passed += 1
            if reached < nf - 1 and spread >= bounds[reached] - 1e-6:
                reached += 1
            for i in range(ns):
                while edge_s[i] < 2 * seg_n[i]:
                    e = edge_s[i]
                    edge = seg0[i, e // 2] if e % 2 == 0 else seg1[i, e // 2]
                    if edge > t + 1e-9:
                        break
                    slope_s += seg_rate[i, e // 2] if e % 2 == 0 else -seg_rate[i, e // 2]
                    edge_s[i] += 1
                while edge_l[i] < 2 * seg_n[i]:
                    e = edge_l[i]
                    edge = seg0[i, e // 2] if e % 2 == 0 else seg1[i, e // 2]
                    if edge + lead > t + 1e-9:
                        break
                    slope_l += seg_rate[i, e // 2] if e % 2 == 0 else -seg_rate[i, e // 2]
                    edge_l[i] += 1
            for k in range(n_first):
                while edge_c[k] < 2 * cov_n[k]:
                    e = edge_c[k]
                    edge = cov0[k, e // 2] if e % 2 == 0 else cov1[k, e // 2]
                    if edge > t + 1e-9:
                        break
                    pace_k = cv_rate[k] * d_cover[r, k]
                    slope_k += pace_k if e % 2 == 0 else -pace_k
                    edge_c[k] += 1
            if abs(slope_s) < 1e-9:
                slope_s = 0.0
            if abs(slope_l) < 1e-9:
                slope_l = 0.0
            if abs(slope_k) < 1e-9:
                slope_k = 0.0
        latest[r] = answer
