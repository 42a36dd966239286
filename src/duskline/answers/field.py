"""How is this field driven by both machines, and what does that take?

The whole answer for one field: headings, passes, rounds, minutes, edges, loads, overlap, marks
for the driver who goes by eye, and what is worked once, twice and missed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from math import degrees, pi, radians

import numpy as np

from duskline.answers.check import FieldAcres, field_acres
from duskline.answers.drive import FieldPlan, angle_cost, drive_field, joints_of, spreading_wind
from duskline.answers.lap import LapAnswer, lap_answers
from duskline.answers.machines import cover_rate_m2_per_s, moving_rate_m2_per_s
from duskline.answers.seed import lot_rate_kg_per_m2, spreader_load_kg
from duskline.answers.windows import day_windows
from duskline.answers.working import Figure, Step
from duskline.core.aim_mark import sides_across
from duskline.core.angle import AnglePrice, Joints
from duskline.core.coverage import Worked, worked
from duskline.core.errors import NoWindow
from duskline.core.farm import Cultivator, Farm, Field, SpreaderNoun
from duskline.core.lap import (
    CheckMark,
    CountCheck,
    DayLap,
    FieldLap,
    check_marks,
    count_check,
    more_lap_in_a_day,
    more_lap_in_a_field,
)
from duskline.core.lie import off_line_rad
from duskline.core.loads import PassLoad, lay_loads
from duskline.core.outline import Edge, sides
from duskline.core.passes import (
    PassPlan,
    candidate_headings_rad,
    expected_turns_count,
    plan_swaths,
    plans_along,
)
from duskline.core.swing import turns_over_the_edge

__all__ = ["CoverField", "FieldAnswer", "Marks", "SpreadField", "field_answer"]

# A driver by eye checks his count about this often.
_CHECKS_COUNT = 4
_LEAST_BETWEEN_CHECKS = 5
# Headings told beside the one driven, and how far off it they must lie. [rad]
_OTHERS_COUNT = 2
_OTHER_RAD = radians(2.0)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SpreadField:
    """One spreader in the field.

    Attributes
    ----------
    plan
        Its passes.
    clock_s
        What the same ground takes at the spreader's rate on this farm, refills left out. [s]
    loads, first_run_index
        Loads laid on its way, headland legs first: runs of the loads are counted over legs and
        passes together, passes from this index.
    rate_kg_per_m2, load_kg
        Seed for each area, and the most that goes in. [kg/m2], [kg]
    lot
        The seed.
    saved_s, saving_is_noise
        Against driving along the longest side, and whether nobody could tell. [s]
    others
        Other headings along sides and the time each takes, quickest first: what the one driven
        was chosen from. [rad], [s]
    over_edge_count
        Turns that leave the field when driven as counted.
    fuel_m3
        For the field; low and high where it is a default. [m3]
    """

    machine: str
    driver: str
    plan: PassPlan
    clock_s: float
    loads: tuple[PassLoad, ...]
    first_run_index: int
    rate_kg_per_m2: float
    load_kg: float
    lot: str
    saved_s: float
    saving_is_noise: bool
    others: tuple[tuple[float, float], ...]
    over_edge_count: int
    fuel_m3: Figure


@dataclass(frozen=True, kw_only=True, slots=True)
class Marks:
    """Marks along one headland side: the side, the corner they are taped from, and each mark."""

    side: Edge
    corner_m: tuple[float, float]
    marks: tuple[CheckMark, ...]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class CoverField:
    """One covering machine in the field.

    Attributes
    ----------
    plan
        Its passes.
    clock_s
        What the same ground takes at the machine's rate on this farm, stops and all. [s]
    worked
        Ground worked once, twice, missed and outside, as planned.
    misses_ground
        Whether the missed share is worth saying: parts of the field are too narrow for it.
    lap
        Overlap, the share missed with it, and the overlap to aim for.
    count
        Passes to expect, and what one less or more would mean; None where rounds do it all, but
        for strips between them.
    marks
        Where passes should stand along a headland side; None where no side lies across them.
    price, joints
        What the covering angle costs, and whether joints pile up; None where rounds do it all.
    more_field, more_day
        What one more foot of overlap (0.3 m) costs in this field and over a day.
    over_edge_count
        Turns that leave the field when driven as counted.
    fuel_m3
        For the field; low and high where it is a default. [m3]
    """

    machine: str
    driver: str
    plan: PassPlan
    clock_s: float
    worked: Worked
    misses_ground: bool
    lap: LapAnswer
    count: CountCheck | None
    marks: Marks | None
    price: AnglePrice | None
    joints: Joints | None
    more_field: FieldLap | None
    more_day: DayLap
    more_m: float
    over_edge_count: int
    fuel_m3: Figure


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FieldAnswer:
    """One field, whole.

    Attributes
    ----------
    field
        The noun.
    plan
        How it is driven.
    acres
        Outline, driven and office area side by side; None where only the outline is known.
    spreads, covers
        Machines in the order of the farm folder.
    """

    field: Field
    plan: FieldPlan
    acres: FieldAcres | None
    spreads: tuple[SpreadField, ...]
    covers: tuple[CoverField, ...]
    working: tuple[Step, ...]

    @property
    def spread(self) -> SpreadField:
        """The first spreader."""
        return self.spreads[0]

    @property
    def cover(self) -> CoverField | None:
        """The first covering machine; None where the farm has none."""
        return self.covers[0] if self.covers else None


def field_answer(
    farm: Farm, name: str, *, on: date | None = None, angle_rad: float | None = None
) -> FieldAnswer:
    """Return how one field is driven by every machine of the farm.

    Parameters
    ----------
    farm
        The farm folder.
    name
        A field with an outline.
    on
        The date, for the wind of its spreading hours; None leaves the wind out.
    angle_rad
        Covering heading off the spread heading; None for the farm's, or the one advised. [rad]

    Raises
    ------
    KeyError
        No field of that name.
    ValueError
        The field has no outline.
    FieldTooNarrow
        A machine fits nowhere between the edges.
    """
    field = {one.name: one for one in farm.fields}[name]
    windows = None
    if on is not None:
        try:
            windows = day_windows(farm, on)
        except NoWindow:
            windows = None
    wind = None if windows is None or on is None else spreading_wind(farm, on, windows)
    plan = drive_field(
        farm,
        field,
        spreaders=farm.spreaders,
        machines=farm.cultivators,
        wind=wind,
        angle_rad=angle_rad,
    )
    laps = {one.machine: one for one in lap_answers(farm)}
    spreads = tuple(_spread(farm, field, plan, one) for one in farm.spreaders)
    covers = tuple(_cover(farm, field, plan, one, laps[one.name]) for one in farm.cultivators)
    acres = next((one for one in field_acres(farm) if one.field == name), None)
    return FieldAnswer(
        field=field,
        plan=plan,
        acres=acres,
        spreads=spreads,
        covers=covers,
        working=(
            *(_with_others(step, field.name, spreads) for step in plan.working),
            *(_worked_step(one) for one in covers),
        ),
    )


def _fuel(farm: Farm, field: Field, own_m3_per_m2: float | None, default: str) -> Figure:
    """Return the fuel a machine burns in the field: the farm's own tank, else a book figure."""
    area_m2 = field.record_area_m2
    if own_m3_per_m2 is not None:
        return Figure(name="fuel", value=own_m3_per_m2 * area_m2, unit="m3", source="farm.toml")
    given = farm.defaults[default]
    return Figure(
        name="fuel",
        value=given.value * area_m2,
        unit="m3",
        source=given.source,
        low=None if given.low is None else given.low * area_m2,
        high=None if given.high is None else given.high * area_m2,
    )


def _spread(farm: Farm, field: Field, plan: FieldPlan, noun: SpreaderNoun) -> SpreadField:
    passes = plan.spreads[noun.name]
    lot = farm.lot(field.lot)
    rate = lot_rate_kg_per_m2(farm, lot)
    load_kg = spreader_load_kg(farm, noun, lot.name)
    legs = [(leg.path_m, leg.length_m) for leg in passes.rounds.legs]
    runs = list(zip(passes.passes_m, passes.pass_lengths_m.tolist(), strict=True))
    driven_m = sum(length for _, length in (*legs, *runs))
    # Ground left out without a place is not in the outline's holes; it takes no seed either.
    ground_m2 = (field.ground or plan.outline).area_m2
    cut_m2 = field.area_m2 - ground_m2
    seeded_m2 = ground_m2 - plan.unseeded_m2
    sown_m2 = seeded_m2 - max(0.0, field.left_out_m2 - max(cut_m2, 0.0))
    # Lapped ends take seed twice; each run is given its share of the field, so that all loads
    # together hold what the field takes.
    each_m2 = sown_m2 / driven_m
    loads = lay_loads(
        run_areas_m2=[length * each_m2 for _, length in (*legs, *runs)],
        run_paths_m=[path_m for path_m, _ in (*legs, *runs)],
        rate_kg_per_m2=rate,
        load_kg=load_kg,
        truck_m=plan.gate_m,
    )
    noise = farm.defaults["heading_noise"].value
    return SpreadField(
        machine=noun.name,
        driver=noun.driver or "",
        plan=passes,
        clock_s=sown_m2 / moving_rate_m2_per_s(noun),
        loads=loads,
        first_run_index=len(legs),
        rate_kg_per_m2=rate,
        load_kg=load_kg,
        lot=lot.name,
        saved_s=passes.saved_s,
        saving_is_noise=passes.saved_s <= noise * passes.longest_edge_s,
        others=_others(farm, plan, passes),
        over_edge_count=len(turns_over_the_edge(passes, plan.outline)),
        fuel_m3=_fuel(farm, field, noun.fuel_m3_per_m2, "spreader_fuel"),
    )


def _others(farm: Farm, plan: FieldPlan, passes: PassPlan) -> tuple[tuple[float, float], ...]:
    """Return the time along other sides of the field, quickest first."""
    within_m = farm.defaults["straight_within"].value
    width_m = passes.driving.driving_width_m
    headings = [
        heading
        for heading in candidate_headings_rad(
            plan.spread_outline, driving_width_m=width_m, straight_within_m=within_m
        )
        if all(off_line_rad(heading, block.heading_rad) > _OTHER_RAD for block in passes.blocks)
    ]
    turns = expected_turns_count(
        plan.spread_outline, headings_rad=np.asarray(headings), driving_width_m=width_m
    )
    fewest = [headings[at] for at in np.argsort(turns, kind="stable")[:_OTHERS_COUNT]]
    plans = plans_along(
        plan.spread_outline,
        headings_rad=fewest,
        driving=passes.driving,
        straight_within_m=within_m,
        from_m=plan.gate_m,
    )
    found = [(one.heading_rad, one.work_s) for one in plans]
    return tuple(sorted(found, key=lambda one: one[1]))


def _cover(
    farm: Farm, field: Field, plan: FieldPlan, noun: Cultivator, lap: LapAnswer
) -> CoverField:
    passes = plan.covers[noun.name]
    rate = cover_rate_m2_per_s(farm, noun).value
    fuel = _fuel(farm, field, noun.fuel_m3_per_m2, "cultivator_fuel")
    more_m = farm.defaults["lap_more"].value
    across_m, run_m = _across_m(passes), 0.0
    count, more_field = None, None
    if passes.passes_count and not passes.only_strips:
        run_m = float(passes.pass_lengths_m.sum()) / passes.passes_count
        count = count_check(across_m=across_m, width_m=noun.width_m, overlap_m=noun.overlap_m)
        more_field = more_lap_in_a_field(
            across_m=across_m,
            run_length_m=run_m,
            width_m=noun.width_m,
            overlap_m=noun.overlap_m,
            more_m=more_m,
            speed_mps=noun.speed_mps,
            turn_s=float(passes.turn_s.mean()) if len(passes.turn_s) else 0.0,
        )
    area_m2 = plan.outline.area_m2
    ground = worked(plan.outline, plan_swaths(passes))
    return CoverField(
        machine=noun.name,
        driver=noun.driver or "",
        plan=passes,
        clock_s=area_m2 / rate,
        worked=ground,
        misses_ground=ground.missed_fraction > farm.defaults["missed_worth_saying"].value,
        lap=lap,
        count=count,
        marks=_marks(plan, passes, farm.defaults["straight_within"].value),
        price=angle_cost(farm, plan, noun.name),
        joints=joints_of(farm, plan, noun),
        more_field=more_field,
        more_day=_more_in_a_day(farm, noun, passes, more_m, area_m2, rate),
        more_m=more_m,
        over_edge_count=len(turns_over_the_edge(passes, plan.outline)),
        fuel_m3=fuel,
    )


def _more_in_a_day(
    farm: Farm, noun: Cultivator, passes: PassPlan, more_m: float, area_m2: float, rate: float
) -> DayLap:
    """Return what more overlap costs over a day's covering of ground like this field's."""
    day_s = farm.defaults["lap_day"].value
    default = farm.defaults["cultivator_fuel"].value
    share = min(1.0, passes.work_s * rate / area_m2)
    fuel, labour = farm.prices.fuel_per_m3, farm.prices.labour_per_s
    # "In all" is told only where both are known.
    priced = fuel is not None and labour is not None
    return more_lap_in_a_day(
        width_m=noun.width_m,
        overlap_m=noun.overlap_m,
        more_m=more_m,
        area_m2=rate * day_s,
        work_s=day_s * share,
        fuel_m3_per_m2=default if noun.fuel_m3_per_m2 is None else noun.fuel_m3_per_m2,
        fuel_price_per_m3=fuel if priced else None,
        labour_price_per_s=labour if priced else None,
    )


def _across_m(passes: PassPlan) -> float:
    """Return what the passes of the largest part must cross between its rounds. [m]"""
    if not passes.passes_count:
        return 0.0
    largest = int(np.argmax([block.region.area for block in passes.blocks]))
    own = passes.passes_m[passes.block_indices == largest]
    across = np.asarray([-np.sin(passes.heading_rad), np.cos(passes.heading_rad)])
    return float(np.ptp(own @ across)) + passes.driving.driving_width_m


def _marks(plan: FieldPlan, passes: PassPlan, straight_within_m: float) -> Marks | None:
    """Return where passes should stand along the headland side they can be counted along."""
    first = passes.first
    if first is None or passes.only_strips or passes.passes_count < _LEAST_BETWEEN_CHECKS:
        return None
    beside = np.asarray([-np.sin(first.aim_rad), np.cos(first.aim_rad)])
    steps_m = (passes.passes_m[1:, 0] - passes.passes_m[0, 0]) @ beside
    away = np.flatnonzero(np.abs(steps_m) > 0.5 * passes.driving.driving_width_m)
    if not len(away):
        return None
    every = passes.order.step
    if passes.order.way == "next":
        every = max(
            _LEAST_BETWEEN_CHECKS,
            _LEAST_BETWEEN_CHECKS
            * round(passes.passes_count / _CHECKS_COUNT / _LEAST_BETWEEN_CHECKS),
        )
    best: Marks | None = None
    for side in sides_across(
        sides(plan.outline, straight_within_m=straight_within_m),
        start_m=np.asarray(first.start_m),
        aim_rad=first.aim_rad,
    ):
        for corner_m, far_m in ((side.start_m, side.end_m), (side.end_m, side.start_m)):
            found = check_marks(
                start_m=first.start_m,
                aim_rad=first.aim_rad,
                next_on_left=bool(steps_m[away[0]] > 0.0),
                driving_width_m=passes.driving.driving_width_m,
                corner_m=corner_m,
                side_end_m=far_m,
                every_count=every,
                passes_count=passes.passes_count,
            )
            # Marks that rise along the side are walked from the corner where the passes begin.
            rising = len(found) < 2 or found[0].from_corner_m < found[1].from_corner_m
            if rising and (best is None or len(found) > len(best.marks)):
                best = Marks(side=side, corner_m=corner_m, marks=found)
        if best is not None and best.marks:
            break
    if best is None or not best.marks:
        return None
    if passes.order.way != "next":
        best = replace(best, marks=best.marks[:1])
    return best


def _with_others(step: Step, field: str, spreads: tuple[SpreadField, ...]) -> Step:
    """Return the step of a spreader with the times of the headings it was chosen from."""
    others = [
        Figure(
            name=f"time along {round(degrees(0.5 * pi - heading_rad)) % 180}° instead",
            value=work_s,
            unit="s",
            source="worked out here",
        )
        for one in spreads
        if step.title == f"{field}: {one.machine}"
        for heading_rad, work_s in one.others
    ]
    return replace(step, inputs=(*step.inputs, *others)) if others else step


def _worked_step(one: CoverField) -> Step:
    here = "worked out here"
    ground = one.worked
    return Step(
        title=f"{one.machine}: ground as planned",
        formula="union and overlap of every pass and round with the field, exactly",
        inputs=(
            Figure(name="field", value=ground.area_m2, unit="m2", source="fields"),
            Figure(name="worked once", value=ground.once_m2, unit="m2", source=here),
            Figure(name="worked twice or more", value=ground.twice_m2, unit="m2", source=here),
            Figure(name="outside", value=ground.outside_m2, unit="m2", source=here),
        ),
        result=Figure(name="missed", value=ground.missed_m2, unit="m2", source=here),
    )
