"""Compiled walk of the crews through many seasons; `duskline.core.season_policy` makes the case."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["CREW", "FIELD", "PAIR", "PARTS", "PRICES", "STOP", "Case", "walk_seasons"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.void]

TINY = 1e-9
DONE = 1e-7  # of a field's area: less than this is nothing left
FAR = 1e300

PARTS = ("wait", "late", "unplaced", "travel", "haul", "visits", "clean_outs", "crew_days", "idle")
WAIT, LATE, UNPLACED, TRAVEL, HAUL, VISITS, CLEAN_OUTS, CREW_DAYS, IDLE = range(9)


def _row(*names: str, counts: tuple[str, ...] = ()) -> np.dtype[np.void]:
    """Return the type of a row of named numbers and, last, named whole numbers."""
    return np.dtype([(name, "f8") for name in names] + [(name, "i8") for name in counts])


# Rows and not an array each: at every call between compiled parts each array costs as much as
# the sums for a stop.
FIELD = _row("area", "least", "kg", "priority", "after", counts=("lot", "due", "whole", "dry"))
"""Area [m2], smallest part [m2], seed [kg/m2], priority, into the day on which it comes ready [s];
lot, due day, whether sown by one crew on one day only, and not after rain."""
CREW = _row("fold", "per_m", "start_per_m", "clean", "visit")
"""Each move between fields [s], the road [s/m], a clean-out [s], a visit [s]."""
PAIR = _row("start", "lot_pace", "truck_pace", "haul")
"""Way from the crew's start [m], pace over the usual, pace of the seed trucks [s/m2], and the
money of the seed's haul [USD/m2]."""
STOP = _row("area", counts=("field",))
PRICES = _row(
    *("wait", "late", "late_day", "unplaced", "travel", "visit", "clean_out", "crew_day"),
)
"""As in ``SeasonPrices``."""


class Case(NamedTuple):
    """The farm and the plan in arrays: n fields, c crews, d days, l lots, e stops.

    The stops of crew i are ``first[i]`` to ``first[i + 1]`` in the order of the plan; from
    ``first[c]`` on stand those of no crew.
    """

    fields: Rows  # (n,) FIELD
    crews: Rows  # (c,) CREW
    pairs: Rows  # (c, n) PAIR
    road_m: Floats  # (n, n)
    stops: Rows  # (e,) STOP
    first: Ints  # (c + 1,)
    stock_kg: Floats  # (l,)
    day: Ints  # (d,) day numbers
    there: Flags  # (d, c)
    paid: Flags  # (d, c)
    prices: Rows  # (1,) PRICES


@njit(cache=True)
def _first_stop(
    fields: Any, crews: Any, pairs: Any, road_m: Any, stops: Any, crew: int, lo: int, hi: int,
    step: int, today: int, lost: float, wet: bool, ready: Any, room_s: float, last: int,
    clock: float, left: Any, stock: Any,
) -> Any:  # pragma: no cover - compiled  # fmt: skip
    """Return the first stop from ``lo`` up to ``hi`` that can begin at once, else the soonest.

    With it when it begins, before the visit's own set-up, and its area; -1: none fits today.
    """
    found, soonest, found_area = -1, FAR, 0.0
    fold_s, per_m = crews[crew].fold, crews[crew].per_m
    clean_s, visit_s = crews[crew].clean, crews[crew].visit
    for e in range(lo, hi, step):
        want = left[e]
        if want <= 0.0:
            continue
        f = stops[e].field
        if today < ready[f] or (wet and fields[f].dry != 0):
            continue
        here_s = clock
        if last < 0:
            here_s += pairs[crew, f].start * crews[crew].start_per_m
        elif last != f:
            here_s += fold_s + road_m[last, f] * per_m
            if fields[last].lot != fields[f].lot:
                here_s += clean_s
        begins_s = here_s
        if today == ready[f]:
            begins_s = max(here_s, fields[f].after)
        pace = max(pairs[crew, f].lot_pace / lost, pairs[crew, f].truck_pace)
        area = (room_s - begins_s - (visit_s if last != f else 0.0)) / pace
        if fields[f].kg > 0.0:
            area = min(area, stock[fields[f].lot] / fields[f].kg)
        too_little = min(want, fields[f].least) if last != f else 0.0
        if area >= want * (1.0 - TINY):
            area = want
        elif fields[f].whole != 0 or area < too_little or area <= DONE * fields[f].area:
            continue
        if begins_s <= here_s:
            return e, begins_s, area
        if begins_s < soonest:
            found, soonest, found_area = e, begins_s, area
    return found, soonest, found_area


@njit(cache=True)
def _next_stop(
    fields: Any, crews: Any, pairs: Any, road_m: Any, stops: Any, first: Any, crew: int,
    today: int, lost: float, wet: bool, ready: Any, help_out: bool, room_s: float, last: int,
    clock: float, left: Any, stock: Any, owes: Any,
) -> Any:  # pragma: no cover - compiled  # fmt: skip
    """Return what a crew does next: from its list, the others' ends, then what was left out."""
    count = crews.shape[0]
    if room_s - clock <= TINY * room_s:
        return -1, FAR, 0.0
    # A bare 1 or -1 would have the parts compiled once for it and once for any number.
    onwards: Any = np.int64(1)
    back: Any = np.int64(-1)
    lo, hi, step = first[crew], first[crew + 1], onwards
    asked_others, at_end = False, False
    while True:
        e, begins_s, area = _first_stop(
            fields, crews, pairs, road_m, stops, crew, lo, hi, step,
            today, lost, wet, ready, room_s, last, clock, left, stock,
        )  # fmt: skip
        if e >= 0 or at_end:
            return e, begins_s, area
        if not asked_others:
            asked_others = True
            for c in range(count):
                owes[c] = 0.0
                if c != crew and help_out:
                    for at in range(first[c], first[c + 1]):
                        owes[c] += left[at]
        whose = 0
        for c in range(count):
            if owes[c] > owes[whose]:
                whose = c
        if owes[whose] > 0.0:
            owes[whose] = 0.0
            lo, hi, step = first[whose + 1] - 1, first[whose] - 1, back
        else:
            at_end = True
            lo, hi, step = first[count], stops.shape[0], onwards


@njit(cache=True)
def _walk_season(
    case: Any, budget_s: Any, lost: Any, wet: Any, ready: Any, help_out: bool, left: Any,
    field_left: Any, stock: Any, last: Any, clock: Any, active: Any, owes: Any, finish: Any,
    done: Any, parts: Any,
) -> None:  # pragma: no cover - compiled  # fmt: skip
    """Work one season, day by day; whoever is free first chooses first."""
    fields, crews, pairs, road_m, stops = (
        case.fields, case.crews, case.pairs, case.road_m, case.stops,
    )  # fmt: skip
    first, price, count = case.first, case.prices[0], case.crews.shape[0]
    sown = 0.0
    for d in range(case.day.shape[0]):
        today = case.day[d]
        for c in range(count):
            last[c], clock[c] = -1, 0.0
            active[c] = case.there[d, c] and budget_s[d, c] > 0.0
            if case.paid[d, c]:
                parts[IDLE] += price.crew_day
        while True:
            crew: Any = np.int64(-1)
            for c in range(count):
                if active[c] and (crew < 0 or clock[c] < clock[crew]):
                    crew = c
            if crew < 0:
                break
            at = last[crew]
            e, begins_s, area = _next_stop(
                fields, crews, pairs, road_m, stops, first, crew, today, lost[d, crew], wet[d],
                ready, help_out, budget_s[d, crew], at, clock[crew], left, stock, owes,
            )  # fmt: skip
            if e < 0:
                active[crew] = False
                continue
            f = stops[e].field
            pair = pairs[crew, f]
            if at < 0:
                parts[CREW_DAYS] += price.crew_day
                if case.paid[d, crew]:
                    parts[IDLE] -= price.crew_day
                parts[TRAVEL] += pair.start * price.travel
            else:
                parts[TRAVEL] += road_m[at, f] * price.travel
                if fields[at].lot != fields[f].lot:
                    parts[CLEAN_OUTS] += price.clean_out
            if f != at:
                parts[VISITS] += price.visit
                begins_s += crews[crew].visit
            parts[HAUL] += area * pair.haul
            dear = area * fields[f].priority
            parts[WAIT] += dear * price.wait * (today - ready[f])
            over = today - fields[f].due
            if over > 0:
                parts[LATE] += dear * (price.late + price.late_day * over)
            clock[crew] = begins_s + area * max(pair.lot_pace / lost[d, crew], pair.truck_pace)
            last[crew] = f
            sown += area
            left[e] -= area
            if left[e] <= DONE * fields[f].area:
                left[e] = 0.0
            lot = fields[f].lot
            stock[lot] = max(0.0, stock[lot] - area * fields[f].kg)
            field_left[f] -= area
            if field_left[f] <= 10.0 * DONE * fields[f].area and finish[f] < 0:
                finish[f] = today
        done[d] = sown
    for f in range(fields.shape[0]):
        if finish[f] < 0:
            rest = max(0.0, field_left[f])
            parts[UNPLACED] += rest * price.unplaced * fields[f].priority


@njit(cache=True)
def walk_seasons(
    case: Any, budget_s: Any, lost: Any, wet: Any, ready: Any, help_out: bool, finish: Any,
    done: Any, parts: Any,
) -> None:  # pragma: no cover - compiled  # fmt: skip
    """Write finish days ``(s, n)``, area done ``(s, d)`` and money ``(s, parts)``.

    ``budget_s`` and ``lost`` are (s, d, c), ``wet`` (s, d), ``ready`` (s, n) day numbers;
    ``finish`` comes as -1, never, and ``parts`` as nought.
    """
    crews, n = case.crews.shape[0], case.fields.shape[0]
    last, active = np.empty(crews, np.int64), np.empty(crews, np.bool_)
    clock, owes = np.empty(crews), np.empty(crews)
    left, field_left = np.empty(case.stops.shape[0]), np.empty(n)
    stock = np.empty(case.stock_kg.shape[0])
    for s in range(done.shape[0]):
        for e in range(left.shape[0]):
            left[e] = case.stops[e].area
        for f in range(n):
            field_left[f] = case.fields[f].area
        for lot in range(stock.shape[0]):
            stock[lot] = case.stock_kg[lot]
        _walk_season(
            case, budget_s[s], lost[s], wet[s], ready[s], help_out, left, field_left, stock, last,
            clock, active, owes, finish[s], done[s], parts[s],
        )  # fmt: skip
