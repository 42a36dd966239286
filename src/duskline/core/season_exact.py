"""The season as models of whole numbers: every pair of field and day, or every set of fields."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.season_bound import PriceBound
    from duskline.core.season_way_kernel import Case

__all__ = ["Exact", "exact_model", "set_model"]

MOST_SETS = 4_000  # in all slots, for a model of sets
MOST_PER_SLOT = 2_000
HOUR_S = 3600.0  # times in hours keep the model's figures near one another
MOST_NODES = 2_000_000  # sets begun in a slot
FEW_SETS = 150  # of a slot, each with areas of its own: closer, and more columns


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Exact:
    """What the exact model gives: its bound, and areas (n, s), None if it found none. [m2]"""

    bound_usd: float
    area_m2: NDArray[np.float64] | None


class _Model:
    """Rows and columns of a model, gathered one after the other."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.high: list[float] = []
        self.whole: list[int] = []
        self.rows: list[int] = []
        self.cols: list[int] = []
        self.vals: list[float] = []
        self.low_row: list[float] = []
        self.high_row: list[float] = []

    def column(self, cost: float, high: float, *, whole: bool = False) -> int:
        self.cost.append(cost)
        self.high.append(high)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def row(self, entries: list[tuple[int, float]], low: float, high: float) -> None:
        at = len(self.low_row)
        for col, val in entries:
            self.rows.append(at)
            self.cols.append(col)
            self.vals.append(val)
        self.low_row.append(low)
        self.high_row.append(high)

    def solve(self, *, nodes: int, gap: float) -> tuple[float, NDArray[np.float64] | None]:
        """Return the bound, and the values of the columns where any were found."""
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_matrix

        matrix = csr_matrix(
            (self.vals, (self.rows, self.cols)), shape=(len(self.low_row), len(self.cost))
        )
        found = milp(
            np.array(self.cost),
            integrality=np.array(self.whole),
            bounds=Bounds(0.0, np.array(self.high)),
            constraints=LinearConstraint(matrix, self.low_row, self.high_row),
            options={"node_limit": nodes, "mip_rel_gap": gap},
        )
        bound = -math.inf if found.mip_dual_bound is None else float(found.mip_dual_bound)
        return bound, found.x


def exact_model(case: Case, *, nodes: int, gap: float = 1e-4) -> Exact:
    """Return the bound and the areas of the season as one model of whole numbers.

    Every pair of field and slot is in or out; ways within a day are legs that leave and enter
    each field once. Rings of three and more fields beside the way are not forbidden and ground
    comes ready without waiting, so that the model never costs more than the season does.

    Source
    ------
    Derived here; never above the cheapest plan of small seasons (tests/core/test_season.py).
    """
    model = _Model()
    n, slots = case.pace.shape
    out = [model.column(float(case.unplaced[i] * case.area[i]), 1.0) for i in range(n)]
    sums: list[list[tuple[int, float]]] = [[(out[i], 1.0)] for i in range(n)]
    seeds: dict[int, list[tuple[int, float]]] = {}
    shares: dict[tuple[int, int], int] = {}
    for k in range(slots):
        crew = int(case.crew[k])
        go = model.column(float(case.slot_usd[k]), 1.0, whole=True)
        time: list[tuple[int, float]] = [(go, -float(case.budget_s[k]))]
        firsts: list[tuple[int, float]] = [(go, -1.0)]
        lasts: list[tuple[int, float]] = [(go, -1.0)]
        inn: dict[int, int] = {}
        for i in range(n):
            pace = float(case.pace[i, k])
            if pace <= 0.0:
                continue
            room = float(case.budget_s[k] - case.ready_s[i, k] - case.visit_s[crew])
            most = min(1.0, room / (pace * float(case.area[i])))
            if most <= 0.0 or (case.whole[i] and most < 1.0 - 1e-9):
                continue
            z = model.column(float(case.visit_usd[i, k]), 1.0, whole=True)
            x = model.column(float(case.price[i, k] * case.area[i]), 1.0)
            inn[i] = z
            shares[i, k] = x
            sums[i].append((x, 1.0))
            if case.whole[i]:
                model.row([(x, 1.0), (z, -1.0)], 0.0, 0.0)
            else:
                model.row([(x, 1.0), (z, -most)], -math.inf, 0.0)
                model.row([(x, 1.0), (z, -float(case.least[i] / case.area[i]))], 0.0, math.inf)
            model.row([(z, 1.0), (go, -1.0)], -math.inf, 0.0)
            time += [(x, pace * float(case.area[i])), (z, float(case.visit_s[crew]))]
            lot = int(case.lot[i])
            if case.kg[i] > 0.0 and math.isfinite(case.stock_kg[lot]):
                seeds.setdefault(lot, []).append((x, float(case.kg[i] * case.area[i])))
        enter: dict[int, list[tuple[int, float]]] = {i: [(z, -1.0)] for i, z in inn.items()}
        leave: dict[int, list[tuple[int, float]]] = {i: [(z, -1.0)] for i, z in inn.items()}
        for i in inn:
            way = max(0.0, float(case.start_m[crew, i]))
            first = model.column(way * case.travel_usd, 1.0)
            last = model.column(0.0, 1.0)
            firsts.append((first, 1.0))
            lasts.append((last, 1.0))
            enter[i].append((first, 1.0))
            leave[i].append((last, 1.0))
            time.append((first, way * float(case.start_s_per_m[crew])))
        for i in inn:
            for j in inn:
                if i == j:
                    continue
                way = float(case.road_m[i, j])
                other = case.lot[i] != case.lot[j]
                usd = way * case.travel_usd + (case.clean_usd if other else 0.0)
                leg = model.column(usd, 1.0)
                leg_s = float(case.fold_s[crew]) + way * float(case.s_per_m[crew])
                time.append((leg, leg_s + (float(case.clean_s[crew]) if other else 0.0)))
                enter[j].append((leg, 1.0))
                leave[i].append((leg, 1.0))
        for i in inn:
            model.row(enter[i], 0.0, 0.0)
            model.row(leave[i], 0.0, 0.0)
        model.row(firsts, 0.0, 0.0)
        model.row(lasts, 0.0, 0.0)
        model.row(time, -math.inf, 0.0)
    for i in range(n):
        model.row(sums[i], 1.0, 1.0)
    for lot, entries in seeds.items():
        model.row(entries, 0.0, float(case.stock_kg[lot]))
    bound, values = model.solve(nodes=nodes, gap=gap)
    columns = [(i, k, x) for (i, k), x in shares.items()]
    return Exact(bound_usd=bound, area_m2=_areas(case, columns, values))


def set_model(
    found: PriceBound,
    *,
    upper_usd: float,
    nodes: int,
    gap: float = 4e-3,
    most_sets: int = MOST_SETS,
) -> Exact | None:
    """Return the bound and the areas of the season as a model of sets of fields.

    Each set of fields that a crew's day may hold is in or out. At the bound's prices every day of
    a cheaper schedule than the one at hand is worth its slot's best less the gap at least, so
    that few sets remain; None where they are still too many.

    Parameters
    ----------
    found
        The bound with its prices.
    upper_usd
        Cost of a schedule at hand.
    nodes, gap
        Looked at, at most; share of the cost at which the model is solved.
    most_sets
        In all slots; with more there is no model.

    Source
    ------
    Derived here; between the other bounds and the cheapest plan of small seasons
    (tests/core/test_season.py).
    """
    case = found.case
    sets = _sets_in_play(found, upper_usd, most_sets)
    if sets is None:
        return None
    model = _Model()
    n, _ = case.pace.shape
    sums: list[list[tuple[int, float]]] = []
    for i in range(n):
        out = model.column(float(case.unplaced[i] * case.area[i]), 1.0)
        sums.append([(out, 1.0)])
    seeds: dict[int, list[tuple[int, float]]] = {}
    shares: list[tuple[int, int, int]] = []
    for k, in_play in enumerate(sets):
        parts = in_play[:, None] if len(in_play) <= FEW_SETS else in_play[None]
        going: list[tuple[int, float]] = []
        for part in parts:
            going += _sets_of_slot(model, case, k, part, sums, shares)
        if going:
            model.row(going, 0.0, 1.0)
    for i, _, x in shares:
        if case.kg[i] > 0.0 and math.isfinite(case.stock_kg[case.lot[i]]):
            entry = (x, float(case.kg[i] * case.area[i]))
            seeds.setdefault(int(case.lot[i]), []).append(entry)
    for entries in sums:
        model.row(entries, 1.0, 1.0)
    for lot, entries in seeds.items():
        model.row(entries, 0.0, float(case.stock_kg[lot]))
    bound, values = model.solve(nodes=nodes, gap=gap)
    # What is not cheaper than the schedule at hand was left out of the model.
    return Exact(bound_usd=min(upper_usd, bound), area_m2=_areas(case, shares, values))


def _areas(
    case: Case, shares: list[tuple[int, int, int]], values: NDArray[np.float64] | None
) -> NDArray[np.float64] | None:
    """Return the areas that a model's columns (field, slot, column) stand for; (n, s). [m2]"""
    if values is None:
        return None
    area = np.zeros(case.pace.shape)
    for i, k, x in shares:
        area[i, k] += values[x] * case.area[i]
    return area


def _sets_in_play(
    found: PriceBound, upper_usd: float, most_sets: int
) -> list[NDArray[np.int64]] | None:
    """Return for each slot the sets of fields (m, most) that a cheaper schedule may hold."""
    from duskline.core.season_sets_kernel import MOST_FIELDS, days_worth

    case, prices = found.case, found.prices
    sets = np.zeros((MOST_PER_SLOT, MOST_FIELDS), dtype=np.int64)
    areas, worths = np.zeros((MOST_PER_SLOT, MOST_FIELDS)), np.zeros(MOST_PER_SLOT)
    spare_usd = upper_usd - found.bound_usd
    in_play, total = [], 0
    for k in range(len(case.crew)):
        least = max(0.0, float(found.worth_usd[k])) - spare_usd - 1e-6 * abs(upper_usd)
        count, whole, _ = days_worth(
            case,
            k,
            prices.dual_usd_per_m2,
            prices.seed_usd_per_kg,
            prices.stop_usd,
            least,
            True,
            MOST_NODES,
            sets,
            areas,
            worths,
        )
        total += count
        if not whole or total > most_sets:
            return None
        in_play.append(sets[:count].copy())
    return in_play


def _sets_of_slot(
    model: _Model,
    case: Case,
    k: int,
    in_play: NDArray[np.int64],
    sums: list[list[tuple[int, float]]],
    shares: list[tuple[int, int, int]],
) -> list[tuple[int, float]]:
    """Put sets of a slot into the model, with what one of them sows within its time."""
    from duskline.core.season_sets_kernel import least_way

    visit_s = float(case.visit_s[case.crew[k]])
    going: list[tuple[int, float]] = []
    room: list[tuple[int, float]] = []
    holding: dict[int, list[int]] = {}
    for row in in_play:
        fields = row[row >= 0]
        way_s, way_usd = least_way(case, k, fields)
        usd = case.slot_usd[k] + way_usd + case.visit_usd[fields, k].sum()
        z = model.column(float(usd), 1.0, whole=True)
        going.append((z, 1.0))
        room.append((z, -float(case.budget_s[k] - way_s - len(fields) * visit_s) / HOUR_S))
        for i in fields:
            holding.setdefault(int(i), []).append(z)
    for i, those in holding.items():
        area, pace = float(case.area[i]), float(case.pace[i, k])
        most = min(1.0, (case.budget_s[k] - case.ready_s[i, k] - visit_s) / (pace * area))
        x = model.column(float(case.price[i, k] * area), 1.0)
        shares.append((i, k, x))
        sums[i].append((x, 1.0))
        room.append((x, pace * area / HOUR_S))
        low = 0.0 if case.whole[i] else -math.inf
        most = 1.0 if case.whole[i] else most
        model.row([(x, 1.0), *((z, -most) for z in those)], low, 0.0)
        if not case.whole[i]:
            least = float(case.least[i]) / area
            model.row([(x, 1.0), *((z, -least) for z in those)], 0.0, math.inf)
    if going:
        model.row(room, -math.inf, 0.0)
    return going
