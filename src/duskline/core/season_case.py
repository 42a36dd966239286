"""The season in arrays: a task laid out by fields and crew-days, and a plan's stops in it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from duskline.core.season_nouns import CrewHours, SeasonCrew, SeasonField, SeasonTask

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from duskline.core.season_way_kernel import Case

__all__ = ["Laid", "StopPlan", "lay_out", "near_lists"]

MOST_STOPS = 40
"""More stops than this no crew makes in a day."""

LEAST_SHARE = 0.02
"""No part of a field is less than this, however small a part may be (ours)."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Laid:
    """A task in arrays, and what the arrays' rows and columns mean.

    Attributes
    ----------
    slots
        (day, crew) of each column.
    paid_usd
        Of crew-days paid whether or not there is work; not in the case.
    wait, late, haul : (n, s)
        The parts of the case's price. [USD/m2]
    """

    case: Case
    slots: tuple[tuple[int, str], ...]
    paid_usd: float
    wait: NDArray[np.float64]
    late: NDArray[np.float64]
    haul: NDArray[np.float64]


@dataclass(slots=True, eq=False)
class StopPlan:
    """Stops of every slot: fields ``(s, m)``, areas, how many; area left of each field, seed."""

    seq: NDArray[np.int64]
    amt: NDArray[np.float64]
    cnt: NDArray[np.int64]
    left: NDArray[np.float64]
    stock: NDArray[np.float64]

    @classmethod
    def empty(cls, case: Case) -> StopPlan:
        """Return a plan without stops."""
        slots, most = len(case.crew), _most_stops(case)
        return cls(
            seq=np.zeros((slots, most), dtype=np.int64),
            amt=np.zeros((slots, most)),
            cnt=np.zeros(slots, dtype=np.int64),
            left=case.area.copy(),
            stock=case.stock_kg.copy(),
        )

    def copy(self) -> StopPlan:
        """Return the same plan in arrays of its own."""
        return StopPlan(
            self.seq.copy(),
            self.amt.copy(),
            self.cnt.copy(),
            self.left.copy(),
            self.stock.copy(),
        )

    def take(self, other: StopPlan) -> None:
        """Become the other plan."""
        self.seq, self.amt, self.cnt = other.seq, other.amt, other.cnt
        self.left, self.stock = other.left, other.stock

    def total_usd(self, case: Case) -> float:
        """Return what the stops and what is left out cost in a case."""
        from duskline.core.season_way_kernel import slot_costs

        _, usd = slot_costs(case, self.seq, self.amt, self.cnt)
        return float(usd.sum()) + self.left_usd(case)

    def left_usd(self, case: Case) -> float:
        """Return what leaving out costs: the rest of a field counts as a part worth a visit."""
        rest = np.maximum(self.left, case.least)
        return float((case.unplaced * np.where(self.left > 1e-7 * case.area, rest, 0.0)).sum())

    def stops(self) -> list[tuple[int, int, int]]:
        """Return (slot, position, field) of every stop."""
        return [
            (k, p, int(self.seq[k, p])) for k in range(len(self.cnt)) for p in range(self.cnt[k])
        ]

    def drop(self, case: Case, k: int, positions: Sequence[int]) -> None:
        """Take stops out of a slot."""
        kept = [p for p in range(int(self.cnt[k])) if p not in set(positions)]
        for p in positions:
            i = self.seq[k, p]
            self.left[i] += self.amt[k, p]
            self.stock[case.lot[i]] += self.amt[k, p] * case.kg[i]
        self.seq[k, : len(kept)] = self.seq[k, kept]
        self.amt[k, : len(kept)] = self.amt[k, kept]
        self.cnt[k] = len(kept)

    def grow_rests(self, case: Case) -> None:
        """Take from stops until no field's rest is too small for a visit of its own."""
        small = (self.left > 1e-7 * case.area) & (self.left < case.least * (1.0 - 1e-9))
        for i in np.flatnonzero(small):
            at = [(k, p) for k, p, f in self.stops() if f == i]
            if not at:
                continue
            k, p = max(at, key=lambda one: self.amt[one])
            short = float(case.least[i] - self.left[i])
            if self.amt[k, p] - short >= case.least[i] and not case.whole[i]:
                self.amt[k, p] -= short
                self.left[i] += short
                self.stock[case.lot[i]] += short * case.kg[i]
            else:
                k, p = min(at, key=lambda one: self.amt[one])
                self.drop(case, k, [p])

    def tidy(self, case: Case) -> None:
        """Call crumbs of a field nothing."""
        self.left[np.abs(self.left) < 1e-7 * case.area] = 0.0


def _most_stops(case: Case) -> int:
    """Return the most stops that any slot has time for, moves and the least parts counted."""
    n, most = len(case.area), 1
    part = np.where(case.whole, case.area, case.least)
    for k, crew in enumerate(case.crew):
        is_open = case.pace[:, k] > 0.0
        move_s = case.fold_s[crew] + case.visit_s[crew]
        times = np.sort((part * case.pace[:, k] + move_s)[is_open])
        room = case.budget_s[k] + case.fold_s[crew]
        most = max(most, int(np.searchsorted(np.cumsum(times), room, side="right")) + 1)
    return min(n, most, MOST_STOPS)


def _distances_m(places: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.float64]:
    across = places[:, None, :] - others[None, :, :]
    return np.asarray(np.hypot(across[..., 0], across[..., 1]))


def lay_out(task: SeasonTask) -> Laid:
    """Return the task in arrays."""
    from duskline.core.season_way_kernel import Case

    fields, prices = task.fields, task.prices
    n = len(fields)
    slots = [(d, c) for d in task.days for c in task.crews if c.name in d.crews]
    hours = [d.crews[c.name] for d, c in slots]
    crew_at = {c.name: i for i, c in enumerate(task.crews)}
    lots = {lot.name: lot for lot in task.lots}
    lot_names = [*lots, *sorted({f.lot for f in fields} - set(lots))]
    lot_at = {name: i for i, name in enumerate(lot_names)}
    places = np.array([f.place_m for f in fields], dtype=float).reshape(n, 2)
    road = _distances_m(places, places) * task.road_factor
    priority = np.array([f.priority for f in fields], dtype=float)
    start = np.full((len(task.crews), n), -1.0)
    for i, crew in enumerate(task.crews):
        if crew.start_m is not None:
            way = _distances_m(np.array([crew.start_m]), places)[0] * task.road_factor
            start[i] = 2.0 * way if crew.starts_early else way
    to_bin = np.zeros(n)
    for i, f in enumerate(fields):
        at = lots[f.lot].place_m if f.lot in lots else None
        if at is not None:
            to_bin[i] = math.dist(at, f.place_m) * task.road_factor
    shape = (n, len(slots))
    pace, ready_s = np.zeros(shape), np.zeros(shape)
    wait, late, haul = (np.zeros(shape) for _ in range(3))
    for k, ((day, crew), one) in enumerate(zip(slots, hours, strict=True)):
        for i, f in enumerate(fields):
            ready_day = f.ready.on(task.ready)
            if day.day < ready_day or (f.not_after_rain and day.after_rain) or one.area_m2 <= 0.0:
                continue
            pace[i, k] = _pace(crew, one, f, to_bin[i])
            if day.day == ready_day:
                ready_s[i, k] = f.ready.after_s
            wait[i, k] = prices.wait_usd_per_m2_day * (day.day - ready_day) * priority[i]
            if f.due_day is not None and day.day > f.due_day:
                over = prices.late_usd_per_m2_day * (day.day - f.due_day)
                late[i, k] = (prices.late_usd_per_m2 + over) * priority[i]
            if crew.truck_load_kg is not None:
                trips = f.rate_kg_per_m2 / crew.truck_load_kg
                haul[i, k] = 2.0 * to_bin[i] * trips * prices.haul_usd_per_m
    paid = np.array([one.paid for one in hours], dtype=bool)
    area = np.array([f.area_m2 for f in fields], dtype=float)
    least = np.array([f.least_part_m2 for f in fields], dtype=float)
    least = np.minimum(area, np.maximum(least, LEAST_SHARE * area))
    case = Case(
        area=area,
        whole=np.array([not f.splittable for f in fields], dtype=bool),
        least=least,
        kg=np.array([f.rate_kg_per_m2 for f in fields], dtype=float),
        lot=np.array([lot_at[f.lot] for f in fields], dtype=np.int64),
        unplaced=prices.unplaced_usd_per_m2 * priority,
        road_m=np.ascontiguousarray(road),
        start_m=start,
        moves=_moves(task),
        crew=np.array([crew_at[c.name] for _, c in slots], dtype=np.int64),
        day=np.array([d.day for d, _ in slots], dtype=np.int64),
        budget_s=np.array([one.area_m2 / one.lost_m2_per_s for one in hours], dtype=float),
        slot_usd=np.where(paid, 0.0, prices.crew_day_usd),
        ready_s=ready_s,
        pace=pace,
        price=wait + late + haul,
        visit_usd=np.full(shape, prices.visit_usd),
        near_m=_near_m(road, pace),
        stock_kg=np.array(
            [lots[name].stock_kg if name in lots else math.inf for name in lot_names], dtype=float
        ),
        must=np.zeros(shape, dtype=bool),
        sharp=np.maximum(2.0, area / least),
        most_stop_usd=float(prices.visit_usd),
    )
    return Laid(
        case=case,
        slots=tuple((d.day, c.name) for d, c in slots),
        paid_usd=float(paid.sum() * prices.crew_day_usd),
        wait=wait,
        late=late,
        haul=haul,
    )


def _moves(task: SeasonTask) -> NDArray[np.float64]:
    """Return what each crew's moves cost, as the case has it. (c, 7)"""
    prices = task.prices
    return np.array(
        [
            (
                c.fold_s,
                1.0 / c.road_speed_mps,
                0.0 if c.starts_early else 1.0 / c.road_speed_mps,
                c.clean_out_s,
                c.visit_s,
                prices.travel_usd_per_m,
                prices.clean_out_usd,
            )
            for c in task.crews
        ],
        dtype=float,
    ).reshape(len(task.crews), 7)


def _pace(crew: SeasonCrew, one: CrewHours, f: SeasonField, to_bin_m: float) -> float:
    """Return the working time of a square metre: the day's rate, or the seed truck's. [s/m2]"""
    pace = crew.lot_pace.get(f.lot, 1.0) / one.lost_m2_per_s
    if crew.truck_load_kg is not None and f.rate_kg_per_m2 > 0.0:
        trip_s = 2.0 * to_bin_m / crew.truck_speed_mps + crew.truck_turn_s
        pace = max(pace, trip_s * f.rate_kg_per_m2 / crew.truck_load_kg)
    return pace


def _near_m(road: NDArray[np.float64], pace: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far the nearest other field open in each slot is, 0 for none. (n, s) [m]"""
    near = np.zeros(pace.shape)
    away = road.copy()
    np.fill_diagonal(away, math.inf)
    seen: dict[bytes, NDArray[np.float64]] = {}
    for k in range(pace.shape[1]):
        is_open = pace[:, k] > 0.0
        key = is_open.tobytes()
        if key not in seen:
            least = away[:, is_open].min(axis=1) if is_open.any() else np.zeros(len(road))
            seen[key] = np.where(np.isfinite(least), least, 0.0)
        near[:, k] = seen[key]
    return near


def near_lists(road: NDArray[np.float64], most: int = 24) -> NDArray[np.int64]:
    """Return each field's nearest fields, nearest first. (n, m)"""
    away = road.copy()
    np.fill_diagonal(away, math.inf)
    order = np.argsort(away, axis=1, kind="stable")[:, : min(most, len(road) - 1)]
    return np.ascontiguousarray(order.astype(np.int64))
