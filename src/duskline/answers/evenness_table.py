"""The table of levers: what each leaves of the seed's evenness and stand, and what it takes.

Straight passes by the ripples of the tray pattern, strips missed between covering passes by
their closed form, and real plans of the field for the minutes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Literal

import numpy as np

from duskline.answers.drive import FieldPlan, cover_driving, drive_field
from duskline.answers.machines import cover_rate_m2_per_s, moving_rate_m2_per_s
from duskline.answers.seed import lot_rate_kg_per_m2
from duskline.answers.working import Figure
from duskline.core.errors import DusklineError, FieldTooNarrow, OutOfRange
from duskline.core.evenness import (
    THIN_GROUND_FRACTION,
    Displacement,
    Ripples,
    covered,
    crossed,
    ground,
    half_rate_twice,
    ripples,
)
from duskline.core.farm import Cultivator, Farm, Field, Given, Lot, SpreaderNoun
from duskline.core.lap import gap_sd_m, skip_fraction
from duskline.core.outline import FloatArray
from duskline.core.passes import PassPlan, plan_at_heading, plan_covering
from duskline.core.seed import (
    SeedSample,
    germination,
    pure_live_seed_fraction,
    seeds_per_kg_counted,
)
from duskline.core.trays import (
    TrayPattern,
    TrayTest,
    Way,
    centred,
    mean_pattern,
    run_patterns,
    throw_m,
    whole_widths_m,
)

__all__ = [
    "ANGLES_RAD",
    "Advice",
    "Bench",
    "EvennessRow",
    "LeverKey",
    "Limits",
    "NoTrayTest",
    "Seeding",
    "Verdict",
    "advice_of",
    "chance_fraction",
    "ends_of",
    "given_figure",
    "judged_rows",
    "limits_of",
    "seedings_of",
    "spread_ripples",
    "weighed_stand",
]

Verdict = Literal["better", "equal", "worse"]

ANGLES_RAD = tuple(math.radians(one) for one in (0.0, 5.0, 10.0, 20.0, 30.0))
"""Covering angles of the table. [rad]"""
HALF_STAND_FRACTION = 0.5
# What chance gives between trays is less than at them: the mean of (1 - t)^2 + t^2.
_BETWEEN_TRAYS = 2.0 / 3.0
_SAME_WIDTH_M = 0.01
_SAME_TIME_S = 1.0
_LOW_SIDE_SURE = 0.95


class LeverKey(StrEnum):
    """What might be changed; the names are those of the JSON answer."""

    PRESENT = "present"
    BEST_WIDTH = "best_width"
    CENTRE = "centre"
    HALF_RATE_TWICE = "half_rate_twice"
    CROSS = "cross"
    TWO_COVERS = "two_covers"
    ANGLE_0 = "angle_0"
    ANGLE_5 = "angle_5"
    ANGLE_10 = "angle_10"
    ANGLE_20 = "angle_20"
    ANGLE_30 = "angle_30"
    SLOWER = "slower_by_eye"
    MORE_OVERLAP = "more_overlap"


_ANGLE_KEYS = dict(
    zip(
        (
            LeverKey.ANGLE_0,
            LeverKey.ANGLE_5,
            LeverKey.ANGLE_10,
            LeverKey.ANGLE_20,
            LeverKey.ANGLE_30,
        ),
        ANGLES_RAD,
        strict=True,
    )
)


class NoTrayTest(DusklineError, ValueError):
    """No tray test says what the spreader leaves with a lot; ``lot`` is its name."""

    def __init__(self, lot: str) -> None:
        super().__init__(
            f"No tray test for {lot}: set trays first. Put a row of trays across the driving "
            'line, spread over them, weigh each, and save it as trays.csv ("duskline trays" '
            "says how wide you may drive)."
        )
        self.lot = lot


# --------------------------------------------------------------------------- what is answered


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Seeding:
    """One seed: what the spreader leaves of it, and how many plants are wanted.

    Attributes
    ----------
    lot, test
        Names of the lot and of its tray test.
    pattern, runs
        Mean of the runs, and each run.
    live_per_m2
        Live seeds; None where seeds in a kilogram are not known. [1/m2]
    emergence
        Live seed, worked in, that becomes a plant.
    plants
        Plants wanted on average where the ground is covered; None as above. [1/m2]
    seeds_caught_count
        Seeds in all trays and runs together; None as above.
    """

    lot: str
    test: str
    pattern: TrayPattern
    runs: tuple[TrayPattern, ...]
    live_per_m2: float | None
    emergence: Figure
    plants: Figure | None
    seeds_caught_count: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class EvennessRow:
    """One lever.

    Attributes
    ----------
    key
        Which.
    lot
        The seed that lies least evenly with it; the figures are of this one.
    cv, cv_low, cv_high
        Evenness of the seed after covering, SD / mean, and the range it may lie in. [fraction]
    thin_tenth_fraction
        A tenth of the ground has a smaller share of the wanted stand. [fraction]
    thin_tenth_plants_per_m2
        The same in plants; None where seeds in a kilogram are not known. [1/m2]
    below_half_fraction
        Ground under half the wanted stand, missed strips in it. [fraction]
    missed_fraction
        Ground between covering passes that no tool goes through. [fraction]
    extra_s, extra_fuel_m3, extra_cost
        Driving and turning more in this field, fuel, and money; None where no price is known.
    area_lost_m2
        What the machine that drives more would do in that time. [m2]
    driving_width_m, angle_rad, speed_mps, overlap_m
        What is set; None for as now. [m], [rad], [m/s], [m]
    verdict
        Against the present way: "equal" where nobody could tell.
    disagrees
        Whether the evenness and the thinnest tenth point different ways by more than a trifle.
    """

    key: LeverKey
    lot: str
    cv: float
    cv_low: float
    cv_high: float
    thin_tenth_fraction: float
    thin_tenth_plants_per_m2: float | None
    below_half_fraction: float
    missed_fraction: float
    extra_s: float
    extra_fuel_m3: float
    extra_cost: float | None
    area_lost_m2: float
    driving_width_m: float | None = None
    angle_rad: float | None = None
    speed_mps: float | None = None
    overlap_m: float | None = None
    verdict: Verdict = "equal"
    disagrees: bool = False

    @property
    def extra_minutes(self) -> float:
        """Driving and turning more in this field. [min]"""
        return self.extra_s / 60.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """What decides: points a lever must gain, thin ground it must take away, and even enough.

    ``even_enough`` is the limit of fertiliser and field tests; ``usable`` that of low-analysis
    fertiliser. [fraction]
    """

    gain: float
    thin_gain: float
    even_enough: float
    usable: float
    free_s: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Advice:
    """Which lever to pull.

    ``kind`` is "pull" (worth its minutes), "free" (costs none), "even enough" (nothing is worth
    it: the seed lies evenly) or "none" (uneven, and no lever helps by more than could be told).
    ``key`` is the lever; where the seed is even enough, the one that would still gain most for
    its minutes, None where none would.
    """

    kind: Literal["pull", "free", "even enough", "none"]
    key: LeverKey | None = None


# --------------------------------------------------------------------------- seeds


def seedings_of(farm: Farm, field: Field) -> tuple[tuple[Seeding, ...], tuple[str, ...]]:
    """Return the lot's seeds that have a tray test, and the names of those that have none."""
    lot = farm.lot(field.lot)
    parts = tuple(farm.lot(part) for part in lot.parts) or (lot,)
    found, missing = [], []
    for part in parts:
        test = _tests_of(farm, part, lot)
        if test is None:
            missing.append(part.name)
        else:
            found.append(_seeding(farm, part, test))
    if not found:
        raise NoTrayTest(lot.name)
    return tuple(found), tuple(missing)


def _tests_of(farm: Farm, part: Lot, whole: Lot) -> TrayTest | None:
    for name in (part.trays, whole.trays, "trays.csv"):
        if name is not None and name in farm.trays:
            return farm.trays[name]
    return None


def _seeding(farm: Farm, lot: Lot, test: TrayTest) -> Seeding:
    per_kg, per_kg_source = _seeds_per_kg(farm, lot)
    live, plants, caught = None, None, None
    emergence = _emergence(farm, lot)
    if per_kg is not None:
        counted = germination(
            alive_counts=lot.alive_counts,
            seeds_per_replicate=lot.tested_counts,
            sure_fraction=_LOW_SIDE_SURE,
        )
        live_share = pure_live_seed_fraction(
            purity_fraction=1.0 if lot.purity_fraction is None else lot.purity_fraction,
            germination_fraction=counted.estimate_fraction,
            hard_fraction=lot.hard_fraction,
        )
        live = lot_rate_kg_per_m2(farm, lot) * live_share * per_kg
        plants = Figure(
            name="plants wanted",
            value=live * float(emergence.value),
            unit="per m2",
            source=f"seeds in a kilogram: {per_kg_source}",
            low=None if emergence.low is None else live * emergence.low,
            high=None if emergence.high is None else live * emergence.high,
        )
    total = float(np.sum(test.runs))
    if test.is_counted:
        caught = total
    elif per_kg is not None:
        caught = total * per_kg
    return Seeding(
        lot=lot.name,
        test=test.name,
        pattern=mean_pattern(test),
        runs=run_patterns(test),
        live_per_m2=live,
        emergence=emergence,
        plants=plants,
        seeds_caught_count=caught,
    )


def _seeds_per_kg(farm: Farm, lot: Lot) -> tuple[float | None, str]:
    """Return seeds in a kilogram, by the farm's own count or the species' default."""
    if lot.sample_counts:
        samples = tuple(
            SeedSample(mass_kg=mass, seeds_count=count)
            for mass, count in zip(lot.sample_masses_kg, lot.sample_counts, strict=True)
        )
        return seeds_per_kg_counted(samples).mean_per_kg, "farm.toml"
    given = farm.defaults.get(f"seeds_per_kg_{lot.species.replace(' ', '_')}")
    return (None, "") if given is None else (given.value, given.source)


def _emergence(farm: Farm, lot: Lot) -> Figure:
    """Return the share of live seed, worked in, that becomes a plant: stated, or the default."""
    name = "live seed, worked in, that becomes a plant"
    if lot.wish.emergence_fraction is not None:
        return Figure(
            name=name, value=lot.wish.emergence_fraction, unit="fraction", source="farm.toml"
        )
    return given_figure(name, farm.defaults["emergence_covered"])


# --------------------------------------------------------------------------- the table


@dataclass(frozen=True, kw_only=True, slots=True)
class _Way:
    """One way of spreading and covering: what is left of each seed, and what it takes."""

    spread: Callable[[TrayPattern, Displacement], Ripples]
    second: Callable[[TrayPattern, Displacement], Ripples] | None = None
    sets_count: int = 1
    missed_fraction: float = 0.0

    def cv(self, pattern: TrayPattern, moved: Displacement) -> float:
        first = self.spread(pattern, moved).cv_fraction
        if self.second is None:
            return first
        return 0.5 * math.hypot(first, self.second(pattern, moved).cv_fraction)

    def shares(self, pattern: TrayPattern, moved: Displacement) -> FloatArray:
        first = self.spread(pattern, moved)
        if self.second is None:
            return ground(first).shares
        return crossed(first, self.second(pattern, moved)).shares


@dataclass(frozen=True, kw_only=True, slots=True)
class _Price:
    """What a lever takes beyond the present way. [s], [m3], money, [m2]"""

    time_s: float = 0.0
    fuel_m3: float = 0.0
    money: float | None = 0.0
    area_m2: float = 0.0


class Bench:
    """The figures all levers of one field share, and the rows worked out with them.

    Attributes
    ----------
    moved, moved_least, moved_most
        How covering scatters seed: typical, and both ends.
    bare_share
        Plants of ground left bare over those of the same ground worked in. [fraction]
    repeat
        How far one tray run lies from the next where the farm's own do not tell. [fraction]
    angles_rad
        The plan's covering angle; none where nothing covers. [rad]
    missed
        Ground left between covering passes now. [fraction]
    not_priced
        What of an extra cost has no price.
    """

    def __init__(
        self,
        farm: Farm,
        field: Field,
        plan: FieldPlan,
        spreader: SpreaderNoun,
        cultivator: Cultivator | None,
        seedings: tuple[Seeding, ...],
    ) -> None:
        self.farm, self.field, self.plan = farm, field, plan
        self.spreader, self.cultivator, self.seedings = spreader, cultivator, seedings
        table = farm.defaults
        along, lateral = table["displacement_along"], table["displacement_lateral"]
        forward = table["displacement_forward"].value
        self.moved, self.moved_least, self.moved_most = (
            Displacement(along_sd_m=one, lateral_sd_m=other, forward_m=forward)
            for one, other in zip(ends_of(along), ends_of(lateral), strict=True)
        )
        worked_in, bare = table["emergence_covered"].value, table["emergence_bare"].value
        self.bare_share = min(bare / worked_in, 1.0)
        self.repeat = table["tray_repeat"].value
        self.angles_rad = (plan.angle_rad,) if cultivator is not None else ()
        self.missed = 0.0 if cultivator is None else self.missed_with(cultivator)
        prices = farm.prices
        known = {
            "fuel": prices.fuel_per_m3,
            "labour": prices.labour_per_s,
            "points": prices.point_each
            if prices.points_count is not None and prices.points_over_m2 is not None
            else None,
        }
        self.not_priced = tuple(name for name, price in known.items() if price is None)

    # ---- what is missed

    def missed_with(self, machine: Cultivator, *, steady: bool = False) -> float:
        """Return the ground left between covering passes; steady takes the low end. Fraction."""
        edge = self.farm.defaults["edge_sd_by_eye" if machine.by_eye else "edge_sd_guided"]
        sd_m = edge.value if not steady or edge.low is None else edge.low
        return skip_fraction(
            width_m=machine.width_m,
            overlap_m=machine.overlap_m,
            gap_sd_m=gap_sd_m(edge_sd_m=sd_m, by_eye=machine.by_eye),
        )

    # ---- ways

    def way(
        self,
        *,
        width_m: float | None = None,
        angles_rad: Sequence[float] | None = None,
        missed: float | None = None,
        in_middle: bool = False,
        twice: bool = False,
    ) -> _Way:
        """Return a way of spreading in one direction, and covering."""
        width = self.spreader.driving_width_m if width_m is None else width_m
        angles = tuple(self.angles_rad if angles_rad is None else angles_rad)

        def left(pattern: TrayPattern, moved: Displacement) -> Ripples:
            once = spread_ripples(centred(pattern) if in_middle else pattern, width)
            sown = half_rate_twice(once, driving_width_m=width) if twice else once
            return covered(sown, angles_rad=angles, displacement=moved)

        return _Way(
            spread=left,
            sets_count=2 if twice else 1,
            missed_fraction=self.missed if missed is None else missed,
        )

    def crossing(self) -> _Way:
        """Return two sets at half the rate, at right angles, covered as now."""
        width = self.spreader.driving_width_m
        turned = tuple(0.5 * math.pi - one for one in self.angles_rad)

        def across(pattern: TrayPattern, moved: Displacement) -> Ripples:
            return covered(spread_ripples(pattern, width), angles_rad=turned, displacement=moved)

        return replace(self.way(), second=across, sets_count=2)

    # ---- rows

    def row(self, key: LeverKey, way: _Way, price: _Price, **what: float | None) -> EvennessRow:
        """Return a lever's row, of the seed that lies least evenly with it."""
        width_m = what.get("driving_width_m") or self.spreader.driving_width_m
        seeding = max(self.seedings, key=lambda one: way.cv(one.pattern, self.moved))
        cv = way.cv(seeding.pattern, self.moved)
        ends = [way.cv(seeding.pattern, one) for one in (self.moved_least, self.moved_most)]
        runs = [way.cv(one, self.moved) for one in seeding.runs]
        trays = max(0.5 * (max(runs) - min(runs)), self.repeat / math.sqrt(len(runs)))
        chance = chance_fraction(seeding, width_m=width_m, sets_count=way.sets_count)
        real = math.sqrt(max(min(cv, *ends) ** 2 - chance**2, 0.0))
        tenth, below = _stand(
            way.shares(seeding.pattern, self.moved),
            missed=way.missed_fraction,
            bare_share=self.bare_share if self.angles_rad else 1.0,
        )
        plants = seeding.plants
        return EvennessRow(
            key=key,
            lot=seeding.lot,
            cv=cv,
            cv_low=max(real - trays, 0.0),
            cv_high=max(cv, *ends) + trays,
            thin_tenth_fraction=tenth,
            thin_tenth_plants_per_m2=None if plants is None else tenth * float(plants.value),
            below_half_fraction=below,
            missed_fraction=way.missed_fraction,
            extra_s=price.time_s,
            extra_fuel_m3=price.fuel_m3,
            extra_cost=price.money,
            area_lost_m2=price.area_m2,
            driving_width_m=what.get("driving_width_m"),
            angle_rad=what.get("angle_rad"),
            speed_mps=what.get("speed_mps"),
            overlap_m=what.get("overlap_m"),
        )

    def rows(self) -> list[EvennessRow]:
        """Return every lever that makes sense here, the present way first."""
        angle = self.plan.angle_rad if self.angles_rad else None
        present = self.row(
            LeverKey.PRESENT,
            self.way(),
            _Price(money=self._money(fuel_m3=0.0, time_s=0.0, points_m2=0.0)),
            driving_width_m=self.spreader.driving_width_m,
            angle_rad=angle,
        )
        found = [present, *self._spread_rows()]
        if self.cultivator is not None:
            found += self._cover_rows(self.cultivator)
        return found

    def _spread_rows(self) -> list[EvennessRow]:
        spread, width = self.plan.spread, self.spreader.driving_width_m
        best = self._best_width_m()
        found = []
        try:
            other = self._spread_at(best)
        except FieldTooNarrow:
            best, other = width, spread
        found.append(
            self.row(
                LeverKey.BEST_WIDTH,
                self.way(width_m=best),
                self._spread_price([other]),
                driving_width_m=best,
            )
        )
        nothing = self._spread_price([spread])
        found.append(self.row(LeverKey.CENTRE, self.way(in_middle=True), nothing))
        found.append(
            self.row(
                LeverKey.HALF_RATE_TWICE, self.way(twice=True), self._spread_price([spread, spread])
            )
        )
        try:
            second = plan_at_heading(
                self.plan.spread_outline,
                heading_rad=spread.heading_rad + 0.5 * math.pi,
                driving=spread.driving,
                straight_within_m=self.farm.defaults["straight_within"].value,
                from_m=self.plan.gate_m,
            )
        except FieldTooNarrow:
            return found
        price = self._spread_price([spread, second])
        found.append(self.row(LeverKey.CROSS, self.crossing(), price))
        return found

    def _spread_at(self, width_m: float) -> PassPlan:
        """Return the spreader's plan of this field at another driving width."""
        if abs(width_m - self.spreader.driving_width_m) < _SAME_WIDTH_M:
            return self.plan.spread
        noun = replace(self.spreader, driving_width_m=width_m)
        return drive_field(self.farm, self.field, spreaders=(noun,), machines=()).spread

    def _cover_rows(self, machine: Cultivator) -> list[EvennessRow]:
        table, angle, now = self.farm.defaults, self.plan.angle_rad, self.plan.cover
        if now is None:
            return []
        hand = self._hand(now)
        # Where the lie of the land chose the hand, no lever may take the other one.
        free = self._cover(machine, (angle, -angle)).work_s >= now.work_s - _SAME_TIME_S
        hands = (hand, -hand) if free else (hand,)
        found = [
            self.row(
                LeverKey.TWO_COVERS,
                self.way(angles_rad=(angle, -angle), missed=self.missed**2),
                # The second time over it goes to the other hand.
                self._cover_price([now, self._cover(machine, (-hand * angle,))]),
            )
        ]
        found += [
            self.row(
                key,
                self.way(angles_rad=(one,)),
                self._cover_price([self._cover(machine, [side * one for side in hands])]),
                angle_rad=one,
            )
            for key, one in _ANGLE_KEYS.items()
        ]
        if machine.by_eye:
            slow = replace(
                machine, speed_mps=machine.speed_mps * (1.0 - table["slower_by_eye"].value)
            )
            found.append(
                self.row(
                    LeverKey.SLOWER,
                    self.way(missed=self.missed_with(slow, steady=True)),
                    self._cover_price([self._cover(slow, (hand * angle,))]),
                    speed_mps=slow.speed_mps,
                )
            )
        lapped = replace(machine, overlap_m=machine.overlap_m + table["lap_more"].value)
        if lapped.working_width_m > 0.0:
            found.append(
                self.row(
                    LeverKey.MORE_OVERLAP,
                    self.way(missed=self.missed_with(lapped)),
                    self._cover_price([self._cover(lapped, (hand * angle,))]),
                    overlap_m=lapped.overlap_m,
                )
            )
        return found

    def _hand(self, cover: PassPlan) -> int:
        """Return to which hand the plan's covering turns: 1 to the left, -1 to the right."""
        off = cover.blocks[0].heading_rad - self.plan.spread.blocks[0].heading_rad
        angle = self.plan.angle_rad
        return 1 if abs(math.sin(off - angle)) <= abs(math.sin(off + angle)) else -1

    def _cover(self, machine: Cultivator, angles_rad: Sequence[float]) -> PassPlan:
        """Return a covering plan of this field; the hand with the fewest minutes is taken."""
        return plan_covering(
            self.plan.outline,
            spread=self.plan.spread,
            angles_rad=angles_rad,
            driving=cover_driving(self.farm, machine),
            straight_within_m=self.farm.defaults["straight_within"].value,
            from_m=self.plan.gate_m,
        )

    # ---- the best width

    def _best_width_m(self) -> float:
        """Return the widest of the most even widths, that leaves no thinner tenth. [m]"""
        throw = min(throw_m(one.pattern) for one in self.seedings)
        if self.spreader.throw_m is not None:
            throw = min(throw, 2.0 * self.spreader.throw_m)
        share = self.farm.defaults["tray_narrowest_share_of_throw"].value
        usable = self.farm.defaults["tray_evenness_usable"].value
        coarsest = max(self.seedings, key=lambda one: one.pattern.spacing_m).pattern
        now = self.spreader.driving_width_m
        tried = {
            float(one)
            for one in whole_widths_m(coarsest)
            if share * throw - _SAME_WIDTH_M <= one <= throw + _SAME_WIDTH_M
        } | {now}
        worst = {one: self._worst(one) for one in tried}
        held = {one: figures for one, figures in worst.items() if figures[0] <= usable}
        if not held:
            return min(worst, key=lambda one: worst[one][0])
        gain = self.farm.defaults["lever_gain"].value
        least = min(cv for cv, _ in held.values()) + gain
        alike = {one: tenth for one, (cv, tenth) in held.items() if cv <= least}
        thinnest = max(alike.values()) - gain
        return max(one for one, tenth in alike.items() if tenth >= thinnest)

    def _worst(self, width_m: float) -> tuple[float, float]:
        """Return the evenness and the thinnest tenth of the worst seed at a width. Fractions."""
        way = self.way(width_m=width_m)
        figures = [
            (way.cv(one.pattern, self.moved), way.shares(one.pattern, self.moved))
            for one in self.seedings
        ]
        return (
            max(cv for cv, _ in figures),
            min(_stand(shares, missed=0.0, bare_share=1.0)[0] for _, shares in figures),
        )

    # ---- prices

    def _spread_price(self, driven: Sequence[PassPlan]) -> _Price:
        """Return what these spread passes take beyond the present ones."""
        now = self.plan.spread
        more_s = sum(one.work_s for one in driven) - now.work_s
        own = self.spreader.fuel_m3_per_m2
        per_m2 = self.farm.defaults["spreader_fuel"].value if own is None else own
        fuel = per_m2 * self.plan.spread_outline.area_m2 * _more_way(driven, now)
        return _Price(
            time_s=more_s,
            fuel_m3=fuel,
            money=self._money(fuel_m3=fuel, time_s=more_s, points_m2=0.0),
            area_m2=more_s * moving_rate_m2_per_s(self.spreader),
        )

    def _cover_price(self, driven: Sequence[PassPlan]) -> _Price:
        """Return what this covering takes beyond the present one."""
        now, machine = self.plan.cover, self.cultivator
        if now is None or machine is None:
            raise OutOfRange("covering machines", 0.0, 1.0)
        more_s = sum(one.work_s for one in driven) - now.work_s
        own = machine.fuel_m3_per_m2
        per_m2 = self.farm.defaults["cultivator_fuel"].value if own is None else own
        more = _more_way(driven, now) * self.plan.outline.area_m2
        return _Price(
            time_s=more_s,
            fuel_m3=per_m2 * more,
            money=self._money(fuel_m3=per_m2 * more, time_s=more_s, points_m2=more),
            area_m2=more_s * cover_rate_m2_per_s(self.farm, machine).value,
        )

    def _money(self, *, fuel_m3: float, time_s: float, points_m2: float) -> float | None:
        """Return what is priced of fuel, a person's time and points; None where nothing is."""
        prices = self.farm.prices
        point = None
        if None not in (prices.point_each, prices.points_count, prices.points_over_m2):
            each, count = prices.point_each or 0.0, prices.points_count or 0
            point = each * count / (prices.points_over_m2 or math.inf)
        parts = [
            price * amount
            for price, amount in (
                (prices.fuel_per_m3, fuel_m3),
                (prices.labour_per_s, time_s),
                (point, points_m2),
            )
            if price is not None
        ]
        return sum(parts) if parts else None


def spread_ripples(pattern: TrayPattern, driving_width_m: float) -> Ripples:
    """Return the ripples of a pattern driven back and forth."""
    return ripples(pattern, driving_width_m=driving_width_m, way=Way.BACK_AND_FORTH)


def _way_length_m(plan: PassPlan) -> float:
    return float(plan.pass_lengths_m.sum()) + plan.rounds_length_m


def _more_way(driven: Sequence[PassPlan], now: PassPlan) -> float:
    """Return how much more ground way these plans drive than the present one. Fraction."""
    return sum(_way_length_m(one) for one in driven) / _way_length_m(now) - 1.0


def chance_fraction(seeding: Seeding, *, width_m: float, sets_count: int) -> float:
    """Return the evenness that the chance of single seeds in the trays alone would show.

    Fraction; zero where seeds in a kilogram are not known.
    """
    caught = seeding.seeds_caught_count
    if caught is None:
        return 0.0
    meeting = caught * seeding.pattern.spacing_m / width_m * sets_count
    return math.sqrt(_BETWEEN_TRAYS / meeting)


def _stand(shares: FloatArray, *, missed: float, bare_share: float) -> tuple[float, float]:
    """Return what the thinnest tenth stays under, and the ground under half. Fractions.

    ``shares`` are doses on equal pieces of ground; ``missed`` of it bears ``bare_share`` of the
    plants it would have borne covered.
    """
    return weighed_stand(
        np.concatenate([shares, shares * bare_share]),
        np.repeat([1.0 - missed, missed], len(shares)),
    )


def weighed_stand(stand: FloatArray, weights: FloatArray) -> tuple[float, float]:
    """Return what the thinnest tenth of the ground stays under, and the ground under half.

    Parameters
    ----------
    stand, weights
        Share of the wanted stand, and how much ground bears it. (n,)
    """
    order = np.argsort(stand, kind="stable")
    stand, weights = stand[order], weights[order]
    middles = np.cumsum(weights) - 0.5 * weights
    middles /= weights.sum()
    tenth = float(np.interp(THIN_GROUND_FRACTION, middles, stand))
    below = float(weights[stand < HALF_STAND_FRACTION].sum() / weights.sum())
    return tenth, below


# --------------------------------------------------------------------------- judging


def limits_of(farm: Farm, plan: FieldPlan) -> Limits:
    """Return what decides on this farm, from its defaults."""
    table = farm.defaults
    return Limits(
        gain=table["lever_gain"].value,
        thin_gain=table["lever_thin_gain"].value,
        even_enough=table["tray_evenness_good"].value,
        usable=table["tray_evenness_usable"].value,
        free_s=table["angle_noise"].value * plan.spread.work_s,
    )


def judged_rows(rows: Sequence[EvennessRow], limits: Limits) -> tuple[EvennessRow, ...]:
    """Return the rows with their verdicts against the first, the present way."""
    present = rows[0]
    return tuple(
        replace(
            one,
            verdict=_verdict(one, present, limits),
            disagrees=_disagrees(one, present, limits),
        )
        for one in rows
    )


def _disagrees(row: EvennessRow, present: EvennessRow, limits: Limits) -> bool:
    """Return whether a lever thins the thinnest tenth though it evens the whole, or the reverse."""
    evener = present.cv - row.cv
    fuller = row.thin_tenth_fraction - present.thin_tenth_fraction
    return evener * fuller < 0.0 and abs(fuller) >= limits.gain


def _verdict(row: EvennessRow, present: EvennessRow, limits: Limits) -> Verdict:
    """Return whether a lever differs from the present way by more than could be told."""
    gained = present.cv - row.cv
    thinned = present.below_half_fraction - row.below_half_fraction
    if gained >= limits.gain and row.cv_high < present.cv:
        return "better"
    if gained <= -limits.gain and row.cv_low > present.cv:
        return "worse"
    if thinned >= limits.thin_gain:
        return "better"
    return "worse" if thinned <= -limits.thin_gain else "equal"


def advice_of(levers: Sequence[EvennessRow], limits: Limits) -> Advice:
    """Return the lever to pull.

    A lever that costs no minutes comes first; one that does is named only where the seed lies
    less evenly than the limit, or too much ground is thin. Of several the one with the fewest
    minutes for each point gained.
    """
    present = levers[0]
    better = [one for one in levers if one.verdict == "better"]
    free = [one for one in better if one.extra_s <= limits.free_s]
    even = present.cv <= limits.even_enough and present.below_half_fraction < limits.thin_gain
    if free:
        return Advice(kind="free", key=min(free, key=lambda one: one.cv).key)

    def price(one: EvennessRow) -> float:
        gained = present.cv - one.cv + present.below_half_fraction - one.below_half_fraction
        return one.extra_s / gained if gained > 0.0 else math.inf

    cheapest = min(better, key=price).key if better else None
    if even:
        return Advice(kind="even enough", key=cheapest)
    return Advice(kind="none" if cheapest is None else "pull", key=cheapest)


# --------------------------------------------------------------------------- small helps


def ends_of(given: Given) -> tuple[float, float, float]:
    """Return a default's typical figure and its ends."""
    low = given.value if given.low is None else given.low
    high = given.value if given.high is None else given.high
    return given.value, low, high


def given_figure(name: str, given: Given) -> Figure:
    """Return a default as a figure of the working, under a name of its own."""
    return Figure(
        name=name,
        value=given.value,
        unit=given.unit,
        source=given.source,
        low=given.low,
        high=given.high,
    )
