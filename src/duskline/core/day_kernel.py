"""Compiled event sweep behind ``core.day.simulate_day``; imported only when a day is simulated.

For each drawn day: lay out when seed flies and when each machine can cover, walk once through
those edges, and solve the balance at a stop time for the latest stop that leaves nothing bare.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["COVER", "DAY", "FIELD", "SPREADER", "TRUCK", "Drawn", "Plan", "sweep_days"]

BIG = 1e12
TINY_M2 = 1e-6
"""Areas nearer than this are the same: a square millimetre."""
TINY_S = 1e-6
"""Stop times nearer than this are the same."""


def _row(*names: str, counts: tuple[str, ...] = ()) -> np.dtype[np.void]:
    """Return the type of a row of named numbers and, last, named whole numbers."""
    return np.dtype([(name, "f8") for name in names] + [(name, "i8") for name in counts])


# Rows of the plan. Of a spreader, a cover, a field and a truck the caller fills in the first
# line; the rest is written by the sweep, day after day.
DAY = _row("close_sd", "start", "lead", "before", "covered", counts=("first_count",))
SPREADER = _row(
    *("moving", "hopper", "refill", "hopper_now"),
    *("rate", "clock", "seed", "rest", "kg"),
    counts=("loads", "moved", "times", "runs"),
)
COVER = _row(
    *("rate", "opens", "closes", "closes_sd", "changeover"),
    *("pace", "close", "change"),
    counts=("times",),
)
FIELD = _row(*("area", "kg", "ready", "move"), *("bound", "moves"))
TRUCK = _row(*("holds", "away"), *("free", "left"))

_EDGE = _row("at", "slope", "height")
"""An edge of a rising curve of straight pieces: the slope from there on, the height there."""
_SUMS = _row(
    *("first_m2", "first_pace", "all_pace", "move_pace", "others_m2", "others_pace"),
    counts=("sown", "first"),
)
"""What a drawn day comes to, and how many edges its curves have.

``others_m2`` less ``others_pace`` times a stop is what the machines taken over surely do.
"""
_HERE = _row(
    *("t", "until", "spread", "rise", "ready", "come", "covered", "does"),
    *("owed", "pays", "rest", "flow", "to_move"),
    counts=("passed", "reached", "sown", "late", "first"),
)
"""Where the walk through a day stands: heights and slopes from t until the next edge.

``owed`` is what the crew would have covered in the moves it still has to make: at each field
boundary one machine moves on. ``rest`` is what the first machines can still do.
"""

# Functions inlined "always" are those of every step: a seventh of the time of a day of many
# fields is saved, and compiling takes no longer.

Floats = NDArray[np.float64]
Rows = NDArray[np.void]


class Plan(NamedTuple):
    """The day as arrays; covers first, then machines taken over; ``down`` spreaders first."""

    day: Rows
    windows: Floats
    spreaders: Rows
    covers: Rows
    fields: Rows
    trucks: Rows
    down: Floats


class Drawn(NamedTuple):
    """The random part of the days, first axis days; machines in the order of ``down``."""

    rate: Floats
    refill: Floats
    changeover: Floats
    gap: Floats
    repair: Floats
    cutoff: Floats
    close: Floats
    rain: Floats


class _Laid(NamedTuple):
    """One drawn day laid out: the two curves, and what bears on the machines taken over."""

    sown: Rows
    first: Rows
    fields: Rows
    covers: Rows
    spells: Floats
    down: Floats
    gap: Floats
    repair: Floats


@njit(cache=True, nogil=True)
def _working(begin, end, stated, gap, repair, spells):  # pragma: no cover - compiled
    """Write the times one machine works between begin and end; return how many there are."""
    count, place, drawn = 0, 0, 0
    t = begin
    breaks = begin + (gap[0] if gap.shape[0] else BIG)
    while t < end:
        out = stated[place, 0]
        if out <= breaks:
            back = stated[place, 1]
            place += 1
        else:
            out, back = breaks, breaks + repair[drawn]
            drawn += 1
            breaks = back + (gap[drawn] if drawn < gap.shape[0] else BIG)
        if min(out, end) > t:
            spells[count, 0] = t
            spells[count, 1] = min(out, end)
            count += 1
        t = max(t, back)
    return count


@njit(cache=True, nogil=True)
def _working_s(begin, end, stated, gap, repair):  # pragma: no cover - compiled
    """Return how long one machine works between begin and end. [s]"""
    total = 0.0
    place, drawn = 0, 0
    t = begin
    breaks = begin + (gap[0] if gap.shape[0] else BIG)
    while t < end:
        out = stated[place, 0]
        if out <= breaks:
            back = stated[place, 1]
            place += 1
        else:
            out, back = breaks, breaks + repair[drawn]
            drawn += 1
            breaks = back + (gap[drawn] if drawn < gap.shape[0] else BIG)
        total += max(0.0, min(out, end) - t)
        t = max(t, back)
    return total


@njit(cache=True, nogil=True)
def _lost_at_most_s(begin, end, stated, gap, repair):  # pragma: no cover - compiled
    """Return how long one machine may be out of work, from whenever on it works. [s]"""
    lost, breaks = 0.0, 0.0
    for place in range(stated.shape[0]):
        lost += max(0.0, min(end, stated[place, 1]) - max(begin, stated[place, 0]))
    for drawn in range(gap.shape[0]):
        breaks += gap[drawn]
        if begin + breaks >= end:
            break
        lost += repair[drawn]
        breaks += repair[drawn]
    return lost


@njit(cache=True, nogil=True)
def _filled_at(t, took, hopper, trucks):  # pragma: no cover - compiled
    """Return when a spreader that is empty at t is full again, from the truck free first."""
    k = 0
    for other in range(trucks.shape[0]):
        if trucks[other].free < trucks[k].free:
            k = other
    truck = trucks[k]
    done = max(t, truck.free) + took
    truck.left -= hopper
    truck.free = done
    if truck.left < hopper:
        truck.free += truck.away
        truck.left = truck.holds
    return done


@njit(cache=True, nogil=True)
def _open_at(t, windows, last_close, spells, times):  # pragma: no cover - compiled
    """Return from when and until when a spreader may throw next, from t on; BIG if no more."""
    last = windows.shape[0] - 1
    for w in range(last + 1):
        end = last_close if w == last else min(windows[w, 1], last_close)
        begin = max(t, windows[w, 0])
        if begin < end:
            for u in range(times):
                if begin < spells[u, 1]:
                    begin = max(begin, spells[u, 0])
                    if begin < end:
                        return begin, min(end, spells[u, 1])
                    break
    return BIG, BIG


@njit(cache=True, nogil=True)
def _throw(spreader, t, end, runs):  # pragma: no cover - compiled
    """Write one run of a spreader: until its field or its hopper is done, or its time is up."""
    run = min(min(spreader.rest, spreader.seed / spreader.kg) / spreader.rate, end - t)
    runs[spreader.runs, 0] = t
    runs[spreader.runs, 1] = t + run
    spreader.runs += 1
    spreader.clock = t + run
    spreader.rest -= run * spreader.rate
    spreader.seed -= run * spreader.rate * spreader.kg
    if spreader.rest <= TINY_M2:
        spreader.rest = 0.0
    if spreader.seed <= TINY_M2 * spreader.kg:
        spreader.seed = 0.0


@njit(cache=True, nogil=True)
def _lay_spreading(last_close, plan, factor, spells, runs):  # pragma: no cover - compiled
    """Write when each spreader throws seed: fields in order, refills, moves, windows."""
    spreaders, fields, trucks, windows = plan.spreaders, plan.fields, plan.trucks, plan.windows
    for k in range(trucks.shape[0]):
        trucks[k].free, trucks[k].left = plan.day[0].start, trucks[k].holds
    queue = 0
    while True:
        i, t = -1, BIG
        for j in range(spreaders.shape[0]):
            if spreaders[j].clock < t:
                i, t = j, spreaders[j].clock
        if i < 0:
            return
        spreader = spreaders[i]
        if spreader.rest <= 0.0:
            if queue == fields.shape[0]:
                spreader.clock = BIG
                continue
            field = fields[queue]
            spreader.clock = max(t + field.move * spreader.moved, field.ready)
            spreader.rest, spreader.kg, spreader.moved = field.area, field.kg, 1
            queue += 1
        elif spreader.seed <= 0.0:
            took = spreader.refill * factor[i, spreader.loads % factor.shape[1]]
            spreader.clock = t + took
            if trucks.shape[0]:
                spreader.clock = _filled_at(t, took, spreader.hopper, trucks)
            spreader.loads += 1
            spreader.seed = spreader.hopper
        else:
            t, end = _open_at(t, windows, last_close, spells[i], spreader.times)
            if t >= BIG or spreader.runs == runs.shape[1]:
                spreader.clock = BIG
            else:
                _throw(spreader, t, end, runs[i])


@njit(cache=True, nogil=True)
def _add_up(spells, times, slopes, place, base, edges):  # pragma: no cover - compiled
    """Merge the times of several machines into one rising curve; return how many edges it has."""
    place[:] = 0
    count, active = 0, 0
    slope, height, last = 0.0, base, 0.0
    while True:
        which, when = -1, BIG
        for i in range(slopes.shape[0]):
            if place[i] < 2 * times[i] and spells[i, place[i] // 2, place[i] % 2] < when:
                which, when = i, spells[i, place[i] // 2, place[i] % 2]
        if which < 0:
            return count
        height += slope * (when - last)
        last = when
        begins = place[which] % 2 == 0
        active += 1 if begins else -1
        slope = slope + (slopes[which] if begins else -slopes[which]) if active else 0.0
        place[which] += 1
        edges[count].at, edges[count].slope, edges[count].height = when, slope, height
        count += 1


@njit(cache=True, nogil=True, inline="always")
def _crew_does(t, until, backlog, come, flow, owed, ahead):  # pragma: no cover - compiled
    """Return what of its flow a crew covers from t on, and until when at most that holds.

    A crew that owes a move covers nothing; one without ground ready covers what comes ready.
    """
    if owed > 0.0:
        return 0.0, (min(until, t + owed / flow) if flow > 0.0 else until)
    does = min(flow, come) if backlog <= TINY_M2 else flow
    if does > come and backlog > TINY_M2:
        until = min(until, t + backlog / (does - come))
    if does > 0.0:
        until = min(until, t + max(0.0, ahead) / does)
    return does, until


@njit(cache=True, nogil=True)
def _flow_taken_over(t, until, first_count, laid):  # pragma: no cover - compiled
    """Return the pace of the machines taken over at t, and until when at most it holds."""
    flow = 0.0
    others = laid.spells.shape[0] - laid.covers.shape[0]
    for k in range(first_count, laid.covers.shape[0]):
        for u in range(laid.covers[k].times):
            if t < laid.spells[others + k, u, 0]:
                until = min(until, laid.spells[others + k, u, 0])
                break
            if t < laid.spells[others + k, u, 1]:
                until = min(until, laid.spells[others + k, u, 1])
                flow += laid.covers[k].pace
                break
    return flow, until


@njit(cache=True, nogil=True)
def _lost_after(stop, covered, owed, here, sums, day, laid):  # pragma: no cover - compiled
    """Return what the crew could have covered while it waits for ground after a stop. [m2]

    Seed thrown just before the stop may be covered one lead later; a crew that is close behind
    the spreader waits for it.
    """
    covers, fields, sown, first = laid.covers, laid.fields, laid.sown, laid.first
    others = laid.spells.shape[0] - covers.shape[0]
    for k in range(day.first_count, covers.shape[0]):
        covers[k].times = _working(
            max(covers[k].opens, stop + covers[k].change),
            covers[k].close,
            laid.down[others + k],
            laid.gap[others + k],
            laid.repair[others + k],
            laid.spells[others + k],
        )
    lost, t, end, boundaries = 0.0, stop, stop + day.lead, fields.shape[0] - 1
    late, works, passed = here.late, here.first, here.passed
    while t < end:
        while passed < boundaries and covered >= fields[passed].bound - TINY_M2:
            owed += (fields[passed + 1].moves - fields[passed].moves) * sums.move_pace
            passed += 1
        while late < here.sown and sown[late].at + day.lead <= t:
            late += 1
        while works < sums.first and first[works].at <= t:
            works += 1
        until = end if late == here.sown else min(end, sown[late].at + day.lead)
        if works < sums.first:
            until = min(until, first[works].at)
        flow, until = _flow_taken_over(t, until, day.first_count, laid)
        flow += first[works - 1].slope if works else 0.0
        come, ready = 0.0, day.before
        if late:
            come = sown[late - 1].slope
            ready = sown[late - 1].height + come * (t - day.lead - sown[late - 1].at)
        ahead = fields[passed].bound - covered if passed < boundaries else BIG
        does, until = _crew_does(t, until, ready - covered, come, flow, owed, ahead)
        if owed > 0.0:
            owed -= flow * (until - t)
            owed = owed if owed > TINY_M2 else 0.0
        else:
            lost += (flow - does) * (until - t)
            covered += does * (until - t)
        t = until
    return lost


@njit(cache=True, nogil=True, inline="always")
def _by_first_machines(x, here):  # pragma: no cover - compiled
    """Return ``_to_spare`` for the first machines alone, were they never to wait after x. [m2]"""
    dt = x - here.t
    open_m2 = here.spread + here.rise * dt - here.covered - here.does * dt
    spare = here.rest - here.flow * dt - open_m2
    if open_m2 > TINY_M2:
        spare -= max(0.0, here.owed - here.pays * dt) + here.to_move
    return spare


@njit(cache=True, nogil=True)
def _to_spare(x, here, sums, day, laid):  # pragma: no cover - compiled
    """Return what is covered at the end less what is spread if spreading stops at x. [m2]"""
    covers = laid.covers
    others = laid.spells.shape[0] - covers.shape[0]
    spare = _by_first_machines(x, here)
    for k in range(day.first_count, covers.shape[0]):
        begin = max(covers[k].opens, x + covers[k].change)
        if begin < covers[k].close:
            spare += covers[k].pace * _working_s(
                begin,
                covers[k].close,
                laid.down[others + k],
                laid.gap[others + k],
                laid.repair[others + k],
            )
    dt = x - here.t
    covered = here.covered + here.does * dt
    if here.ready + here.come * dt - covered < sums.all_pace * day.lead:
        owed = max(0.0, here.owed - here.pays * dt)
        spare -= _lost_after(x, covered, owed, here, sums, day, laid)
    return spare


@njit(cache=True, nogil=True)
def _without_moves_unmade(spare, x, here, sums, fields):  # pragma: no cover - compiled
    """Return ``spare`` without the moves to fields a crew that is short never gets to. [m2]"""
    dt = x - here.t
    spread, covered = here.spread + here.rise * dt, here.covered + here.does * dt
    if spare >= 0.0 or spread - covered <= TINY_M2:
        return spare
    reach = max(covered, spare + spread + here.to_move)
    for b in range(here.passed, here.reached):
        if reach <= fields[b].bound:
            break
        move = (fields[b + 1].moves - fields[b].moves) * sums.move_pace
        reach = max(fields[b].bound, reach - move)
    return reach - spread


@njit(cache=True, nogil=True, inline="always")
def _surely_to_spare(x, here, sums, day):  # pragma: no cover - compiled
    """Return what ``_to_spare`` is at least; mostly enough to see that a stop is early. [m2]"""
    spare = _by_first_machines(x, here)
    others = sums.others_m2 - sums.others_pace * x
    return max(spare - sums.first_pace * day.lead, spare + others - sums.all_pace * day.lead)


@njit(cache=True, nogil=True)
def _latest_within(at_high, here, sums, day, laid):  # pragma: no cover - compiled
    """Return the latest stop from here to the next edge that leaves nothing bare."""
    low, high = here.t, here.until
    at_low = _to_spare(low, here, sums, day, laid)
    count = 0
    while high - low > TINY_S:
        # The balance is straight nearly everywhere, so the first guess is mostly the answer. It
        # falls while seed flies; else a look a hair later must prove it.
        if count % 2:
            x = min(high, low + TINY_S)
        elif at_low > 0.0 and count % 3 < 2:
            x = low + (high - low) * at_low / (at_low - at_high)
        else:
            x = 0.5 * (low + high)
        at_x = _to_spare(x, here, sums, day, laid)
        if abs(at_x) <= TINY_M2 and here.rise > 0.0 and x < here.until:
            return x
        if at_x < -TINY_M2:
            high, at_high = x, at_x
        else:
            low, at_low = x, at_x
        count += 1
    return low


@njit(cache=True, nogil=True)
def _lay_out(number, plan, drawn, laid, runs, times, slopes, sums):  # pragma: no cover - compiled
    """Write the two curves of one drawn day, and their sums."""
    day, spreaders, covers, spells = plan.day[0], plan.spreaders, plan.covers, laid.spells
    count = spreaders.shape[0]
    last_close = plan.windows[plan.windows.shape[0] - 1, 1] + day.close_sd * drawn.close[number]
    last_close = min(last_close, drawn.rain[number])
    for i in range(count):
        spreader = spreaders[i]
        spreader.rate = spreader.moving * drawn.rate[number, i]
        spreader.clock, spreader.seed, spreader.rest = day.start, spreader.hopper_now, 0.0
        spreader.loads, spreader.moved, spreader.runs = 0, 0, 0
        begin = max(day.start, plan.windows[0, 0])
        spreader.times = _working(
            begin, last_close, plan.down[i], laid.gap[i], laid.repair[i], spells[i]
        )
    _lay_spreading(last_close, plan, drawn.refill[number], spells, runs)
    sums.first_pace, sums.all_pace, squares = 0.0, 0.0, 0.0
    sums.others_m2, sums.others_pace = 0.0, 0.0
    for k in range(covers.shape[0]):
        cover, machine = covers[k], count + k
        cover.close = min(cover.closes + cover.closes_sd * drawn.cutoff[number], drawn.rain[number])
        cover.pace = cover.rate * drawn.rate[number, machine]
        sums.all_pace += cover.pace
        if k < day.first_count:
            sums.first_pace += cover.pace
            squares += cover.pace * cover.pace
            begin = max(day.start, cover.opens)
            cover.times = _working(
                *(begin, cover.close, plan.down[machine]),
                *(laid.gap[machine], laid.repair[machine], spells[machine]),
            )
        else:
            cover.change = cover.changeover * drawn.changeover[number, k - day.first_count]
            if cover.opens <= day.start + cover.change:
                lost = _lost_at_most_s(
                    *(day.start, cover.close, plan.down[machine]),
                    *(laid.gap[machine], laid.repair[machine]),
                )
                sums.others_m2 += cover.pace * (cover.close - cover.change - lost)
                sums.others_pace += cover.pace
    for i in range(count):
        times[0, i], slopes[i] = spreaders[i].runs, spreaders[i].rate
    sums.sown = _add_up(runs, times[0], slopes[:count], times[1], day.before, laid.sown)
    for k in range(day.first_count):
        times[0, k], slopes[k] = covers[k].times, covers[k].pace
    sums.first = _add_up(
        spells[count:], times[0], slopes[: day.first_count], times[1], 0.0, laid.first
    )
    sums.first_m2 = laid.first[sums.first - 1].height if sums.first else 0.0
    # The machine free first moves on: the faster one is, the more often it is the one.
    sums.move_pace = squares / sums.first_pace if sums.first_pace > 0.0 else 0.0


@njit(cache=True, nogil=True, inline="always")
def _read_curves(here, sums, day, sown, first):  # pragma: no cover - compiled
    """Set heights and slopes of the three curves here, and until the next edge of any."""
    t = here.t
    while here.sown < sums.sown and sown[here.sown].at <= t:
        here.sown += 1
    while here.late < here.sown and sown[here.late].at + day.lead <= t:
        here.late += 1
    while here.first < sums.first and first[here.first].at <= t:
        here.first += 1
    here.spread, here.rise, here.ready, here.come = day.before, 0.0, day.before, 0.0
    here.rest, here.flow = sums.first_m2, 0.0
    if here.sown:
        edge = sown[here.sown - 1]
        here.rise = edge.slope
        here.spread = edge.height + edge.slope * (t - edge.at)
    if here.late:
        edge = sown[here.late - 1]
        here.come = edge.slope
        here.ready = edge.height + edge.slope * (t - day.lead - edge.at)
    if here.first:
        edge = first[here.first - 1]
        here.flow = edge.slope
        here.rest -= edge.height + edge.slope * (t - edge.at)
    until = BIG
    if here.sown < sums.sown:
        until = min(until, sown[here.sown].at)
    if here.late < sums.sown:
        until = min(until, sown[here.late].at + day.lead)
    if here.first < sums.first:
        until = min(until, first[here.first].at)
    here.until = until


@njit(cache=True, nogil=True, inline="always")
def _go_on(here, sums, day, fields, sown, first):  # pragma: no cover - compiled
    """Set the straight pieces of the day from here on, and until when they hold."""
    _read_curves(here, sums, day, sown, first)
    boundaries = fields.shape[0] - 1
    while here.passed < boundaries and here.covered >= fields[here.passed].bound - TINY_M2:
        here.owed += (fields[here.passed + 1].moves - fields[here.passed].moves) * sums.move_pace
        here.passed += 1
    until = here.until
    if here.rise > 0.0:
        # A field spread to its last metre just here does not yet begin the next.
        rises_to = sown[here.sown].height - TINY_M2
        while here.reached < boundaries and (
            here.spread >= fields[here.reached].bound - TINY_M2
            and rises_to > fields[here.reached].bound
        ):
            here.reached += 1
        if here.reached < boundaries and rises_to > fields[here.reached].bound:
            until = min(until, here.t + (fields[here.reached].bound - here.spread) / here.rise)
    ahead = fields[here.passed].bound - here.covered if here.passed < boundaries else BIG
    here.does, here.until = _crew_does(
        here.t, until, here.ready - here.covered, here.come, here.flow, here.owed, ahead
    )
    here.pays = here.flow if here.owed > 0.0 else 0.0
    moves = fields[here.reached].moves - fields[here.passed].moves
    here.to_move = max(0.0, moves) * sums.move_pace


@njit(cache=True, nogil=True)
def _walk(
    here, sums, day, laid, at, out_spread, out_open, out_spare
):  # pragma: no cover - compiled
    """Return the latest stop of one day; fill the curves at the moments asked for."""
    fields, sown, first = laid.fields, laid.sown, laid.first
    end = sown[sums.sown - 1].at if sums.sown else day.start
    found, answer, want, reached = False, BIG, 0, -1
    here.t, here.covered, here.owed = day.start, day.covered, 0.0
    here.passed, here.reached, here.sown, here.late, here.first = 0, 0, 0, 0, 0
    while True:
        _go_on(here, sums, day, fields, sown, first)
        if not found and here.reached != reached:
            # A new field: its move has to be made even for the first square metre of it.
            if (
                _surely_to_spare(here.t, here, sums, day) <= 0.0
                and _to_spare(here.t, here, sums, day, laid) < -TINY_M2
            ):
                found, answer = True, (here.t if reached >= 0 else -BIG)
            reached = here.reached
        found = found or here.t >= end
        if not found and _surely_to_spare(here.until, here, sums, day) <= 0.0:
            spare = _to_spare(here.until, here, sums, day, laid)
            if spare < -TINY_M2:
                found, answer = True, _latest_within(spare, here, sums, day, laid)
        while want < at.shape[0] and at[want] <= here.until:
            x = max(at[want], here.t)
            out_spread[want] = here.spread + here.rise * (x - here.t)
            out_open[want] = out_spread[want] - here.covered - here.does * (x - here.t)
            if x <= end or want == 0:
                spare = _to_spare(x, here, sums, day, laid)
                out_spare[want] = _without_moves_unmade(spare, x, here, sums, fields)
            else:
                # Spreading is over by itself; whoever spread has changed over since.
                out_spare[want] = out_spare[want - 1]
            want += 1
        if found and want == at.shape[0]:
            return answer
        dt = here.until - here.t
        here.covered += here.does * dt
        here.owed -= here.pays * dt
        if here.owed <= TINY_M2:
            here.owed = 0.0
        here.t = here.until


@njit(cache=True, nogil=True)
def sweep_days(plan, drawn, at, latest, out_spread, out_open, out_spare):  # pragma: no cover
    """Fill ``latest`` (n,) and, at the moments ``at`` (k,), the curves (n, k)."""
    spreaders, fields = plan.spreaders, plan.fields
    machines = plan.down.shape[0]
    seed, least, bound = 0.0, BIG, plan.day[0].before
    for f in range(fields.shape[0]):
        bound += fields[f].area
        fields[f].bound = bound
        fields[f].moves = fields[f - 1].moves + fields[f].move if f else 0.0
        seed += fields[f].area * fields[f].kg
    for i in range(spreaders.shape[0]):
        least = min(least, spreaders[i].hopper)
    most_times = plan.down.shape[1] + drawn.gap.shape[2] + 2
    most = 2 * fields.shape[0] + int(seed / least) + plan.windows.shape[0] + most_times + 4
    runs = np.empty((spreaders.shape[0], most, 2))
    spells = np.empty((machines, most_times, 2))
    sown = np.empty(2 * spreaders.shape[0] * most, _EDGE)
    first = np.empty(2 * machines * most_times, _EDGE)
    times, slopes = np.zeros((2, machines), np.int64), np.empty(machines)
    sums, here = np.zeros(1, _SUMS)[0], np.zeros(1, _HERE)[0]
    for number in range(latest.shape[0]):
        laid = _Laid(
            *(sown, first, fields, plan.covers, spells, plan.down),
            *(drawn.gap[number], drawn.repair[number]),
        )
        _lay_out(number, plan, drawn, laid, runs, times, slopes, sums)
        latest[number] = _walk(
            *(here, sums, plan.day[0], laid, at),
            *(out_spread[number], out_open[number], out_spare[number]),
        )
