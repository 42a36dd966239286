"""How the fields of the day are driven, and when each load is due."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from made_days import ACRE_M2, day_of

from duskline.answers.day import DayAnswer
from duskline.answers.plans import SpreaderDay, field_plans, spreader_days, way_out_m
from duskline.core.farm import Farm
from duskline.core.light import seconds_after
from duskline.core.passes import missed_fraction

FARMS = ("rye", "oats", "forty")


@pytest.mark.parametrize("case", FARMS)
def test_every_field_of_the_day_has_a_plan_in_the_days_order(case: str) -> None:
    """Fields worked today and no others, each with all machines that are manned."""
    farm, answer = day_of(case)
    plans = field_plans(farm, answer)
    assert list(plans) == [row.name for row in answer.fields]
    machines = [name for name, _ in answer.crew.covers]
    machines += [name for name, _, _ in answer.crew.takeovers]
    for plan in plans.values():
        assert list(plan.covers) == machines
        assert list(plan.spreads) == [name for name, _ in answer.crew.spreaders]


@pytest.mark.parametrize("case", FARMS)
def test_covering_lies_at_the_turn_angle_to_spreading(case: str) -> None:
    """Within a degree of the farm's angle, and all machines of a field along one heading."""
    farm, answer = day_of(case)
    for plan in field_plans(farm, answer).values():
        headings = {round(cover.heading_rad, 9) for cover in plan.covers.values()}
        assert len(headings) == 1
        for cover in plan.covers.values():
            off = abs(cover.heading_rad - plan.spread.heading_rad) % math.pi
            off = min(off, math.pi - off)
            assert off == pytest.approx(farm.rules.turn_angle_rad, abs=math.radians(1.0))


def test_planned_covering_leaves_next_to_nothing_out() -> None:
    """At most half a percent of each field is gone over by no pass and no round."""
    farm, answer = day_of("rye")
    for plan in field_plans(farm, answer).values():
        for cover in plan.covers.values():
            assert missed_fraction(plan.outline, cover) <= 0.005


def test_no_pass_goes_through_the_grass_waterway() -> None:
    """A5 has a hole; not one metre of a pass lies in it."""
    farm, answer = day_of("rye")
    only = replace(answer, fields=(replace(answer.fields[0], name="A5"),))
    plan = field_plans(farm, only)["A5"]
    hole = shapely.Polygon(plan.outline.holes_m[0])
    for driven in (*plan.spreads.values(), *plan.covers.values()):
        lines = shapely.linestrings(driven.passes_m)
        assert shapely.length(shapely.intersection(lines, hole)).sum() < 1e-6


def test_the_working_of_a_field_names_each_machine_once() -> None:
    """One step a machine, its result the plan's own time."""
    farm, answer = day_of("rye")
    plan = next(iter(field_plans(farm, answer).values()))
    times = [driven.work_s for driven in (*plan.spreads.values(), *plan.covers.values())]
    assert [step.result.value for step in plan.working] == times


def _spread_until_m2(days: tuple[SpreaderDay, ...], answer: DayAnswer, moment_s: float) -> float:
    """Area spread by a moment, each run taken as if driven evenly between its pauses."""
    total = 0.0
    for day in days:
        pauses = [(_s(answer, p.from_at), _s(answer, p.to_at)) for p in day.pauses]
        for run in day.runs:
            begin, end = _s(answer, run.from_at), _s(answer, run.to_at)
            whole = _moving_s(begin, end, pauses)
            total += run.area_m2 * _moving_s(begin, min(end, moment_s), pauses) / whole
    return total


def _s(answer: DayAnswer, moment: object) -> float:
    return seconds_after(answer.moment(0.0), moment)  # type: ignore[arg-type]


def _moving_s(begin: float, end: float, pauses: list[tuple[float, float]]) -> float:
    still = sum(max(0.0, min(end, b) - max(begin, a)) for a, b in pauses)
    return max(0.0, end - begin - still)


@pytest.mark.parametrize("case", FARMS)
def test_the_layout_follows_the_simulated_day(case: str) -> None:
    """Until its last load is out the layout has spread what the simulation has, to 0.1 acre.

    Independent: the curve comes from the compiled event sweep, the layout from its own loop.
    """
    farm, answer = day_of(case)
    days = spreader_days(farm, answer)
    ends = min(_s(answer, day.runs[-1].to_at) for day in days)
    compared = 0
    for at, spread_m2 in zip(answer.curves.at, answer.curves.spread_m2, strict=True):
        moment_s = _s(answer, at)
        if moment_s < ends:
            laid = _spread_until_m2(days, answer, moment_s)
            assert laid == pytest.approx(spread_m2, abs=0.1 * ACRE_M2)
            compared += 1
    assert compared > 40


@pytest.mark.parametrize("case", FARMS)
def test_the_crew_gets_the_seed_that_the_answer_gives(case: str) -> None:
    """Each spreader: full loads and a part load worth filling; all is laid in fields."""
    farm, answer = day_of(case)
    for day, spreader in zip(spreader_days(farm, answer), answer.task.spreaders, strict=True):
        told = answer.full_loads_count * spreader.hopper_kg
        if answer.last_load_worth_filling:
            told += answer.last_load_kg
        assert sum(fill.mass_kg for fill in day.fills) == pytest.approx(told)
        assert sum(run.mass_kg for run in day.runs) == pytest.approx(told)
        assert [fill.number for fill in day.fills] == list(range(1, len(day.fills) + 1))


def test_a_rounded_part_load_is_laid_as_told() -> None:
    """Told 1,000 kg for the last load, the runs lay a full load and 1,000 kg."""
    farm, answer = day_of("rye")
    (day,) = spreader_days(farm, answer, last_load_kg=1000.0)
    hopper_kg = answer.task.spreaders[0].hopper_kg
    assert sum(run.mass_kg for run in day.runs) == pytest.approx(hopper_kg + 1000.0)
    assert day.fills[-1].mass_kg == pytest.approx(1000.0)


def test_two_spreaders_never_take_the_same_field() -> None:
    """Each takes the next field of the day when it is free."""
    farm, answer = day_of("forty")
    fields = [run.field for day in spreader_days(farm, answer) for run in day.runs]
    assert len(fields) == len(set(fields)) > 2


def test_a_fill_comes_when_the_load_is_out() -> None:
    """Load 2 is wanted when load 1's acres are done: A8 and part of A1, one move between.

    By hand: 6,000 lb / 71.462 lb/ac = 83.96 ac; at 31.03 ac/h (40 ft x 8 mph x 0.80 / 8.25)
    2 h 42 min 21 s, with the 12 min move 2 h 54 min: 12:24 from 9:30.
    """
    farm, answer = day_of("rye")
    (day,) = spreader_days(farm, answer)
    second = day.fills[1]
    assert day.fills[0].at is None
    assert second.field == "A1"
    assert second.at is not None
    assert (second.at.hour, second.at.minute) == (12, 24)


def _with_lot(farm: Farm, name: str, lot: str) -> Farm:
    fields = tuple(replace(one, lot=lot) if one.name == name else one for one in farm.fields)
    return replace(farm, fields=fields)


def test_another_lot_in_the_next_field_asks_for_a_clean_hopper() -> None:
    """C5's spreader goes on to C2; with another lot there its next fill says clean out."""
    farm, answer = day_of("forty")
    day = next(d for d in spreader_days(farm, answer) if d.runs[0].field == "C5")
    assert not any(fill.clean_out for fill in day.fills)
    mixed = _with_lot(farm, day.runs[1].field, "Y")
    day = next(d for d in spreader_days(mixed, answer) if d.runs[0].field == "C5")
    assert day.fills[1].clean_out
    assert day.fills[1].lot == "Y"


def test_after_noon_the_hopper_goes_on_where_it_is() -> None:
    """At 1:15 with 103 ac spread, load 2 is in the hopper: 103 ac are 1.23 loads of 83.96 ac."""
    farm, answer = day_of("rye now")
    (day,) = spreader_days(farm, answer)
    assert day.fills[0].number == 2
    assert day.fills[0].at is None
    assert answer.now_at is not None
    assert day.runs[0].from_at >= answer.now_at


def test_nothing_to_spread_gives_no_loads() -> None:
    """A hopeless afternoon has no runs and no fills."""
    farm, answer = day_of("rye hopeless")
    for day in spreader_days(farm, answer):
        assert day.runs == ()
        assert day.fills == ()


def test_a_field_is_left_towards_the_next_one() -> None:
    """The way out is the gate nearest to the next field, or its direction without a gate."""
    farm, _ = day_of("rye")
    a4, a8 = (next(one for one in farm.fields if one.name == name) for name in ("A4", "A8"))
    assert len(a4.gates_m) == 2
    south = min(a4.gates_m, key=lambda gate: gate[1])
    # A8 lies south-west of A4, A4 north-east of A8.
    assert way_out_m(a4, a8) == south
    open_field = replace(a8, gates_m=())
    east_m, north_m = way_out_m(open_field, a4)
    assert east_m > 0.0
    assert north_m == pytest.approx(4.2e3, rel=0.1)
