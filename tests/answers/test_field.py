"""One field, whole: loads, minutes, overlap, count, marks, fuel, and what is worked twice."""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import shapely
from made_fields import rectangle
from made_folders import EXAMPLES, POUND_KG

from duskline.answers.drive import angle_cost, joints_of
from duskline.answers.field import FieldAnswer, field_answer
from duskline.core.errors import FieldTooNarrow
from duskline.core.farm import Farm
from duskline.core.lie import Reason, off_line_rad
from duskline.core.outline import Outline
from duskline.core.passes import plan_covering
from duskline.exchange.farmfolder import read_farm
from duskline.words.lap import minutes_text
from duskline.words.sides import heading_reasons

NAMES = ("rye-after-soybeans", "oats-and-radish", "forty-fields")
FARMS = {name: read_farm(EXAMPLES / name) for name in NAMES}
RYE = FARMS["rye-after-soybeans"]
EVERY_FIELD = [(name, field.name) for name, farm in FARMS.items() for field in farm.fields]


def with_outline(outline: Outline, **changes: float) -> Farm:
    """Return the rye farm with one field of another outline, and changes to its spreader."""
    field = replace(
        RYE.fields[0], outline=outline, drive_outline=None, area_m2=outline.area_m2, gates_m=()
    )
    spreader = RYE.spreaders[0]
    if "load_kg" in changes:
        spreader = replace(spreader, load_kg=changes["load_kg"])
    return replace(RYE, fields=(field,), spreaders=(spreader,))


def small_hopper(farm: Farm, load_kg: float) -> Farm:
    """Return a farm whose first spreader takes less seed."""
    first, *others = farm.spreaders
    return replace(farm, spreaders=(replace(first, load_kg=load_kg), *others))


def run_ends_m(answer: FieldAnswer) -> list[tuple[float, float]]:
    """Return where each leg and each run ends, in the order the loads count them."""
    plan = answer.spread.plan
    ends = [*(leg.path_m[-1] for leg in plan.rounds.legs), *plan.passes_m[:, 1]]
    return [(float(x), float(y)) for x, y in ends]


@functools.cache
def answered(example: str, name: str) -> FieldAnswer:
    """Return the answer of a field as its example has it, worked out once."""
    return field_answer(FARMS[example], name)


# --- loads --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_the_loads_of_a_field_hold_the_seed_it_takes(example: str, name: str) -> None:
    """Rate times ground, in loads that follow each other to the last run."""
    found = answered(example, name)
    for spread in found.spreads:
        seed_kg = spread.rate_kg_per_m2 * found.plan.spread_outline.area_m2
        assert sum(load.mass_kg for load in spread.loads) == pytest.approx(seed_kg)
        assert max(load.mass_kg for load in spread.loads) <= spread.load_kg * (1.0 + 1e-6)
        assert spread.first_run_index == len(spread.plan.rounds.legs)
        runs = spread.first_run_index + len(spread.plan.passes_m)
        assert spread.loads[0].first_index == 0
        assert spread.loads[-1].last_index == runs - 1


def test_a_spreader_runs_empty_at_the_end_of_a_run() -> None:
    """1,000 lb at a time on A1's 79 ac: six loads at least, every one empty at a run's end."""
    found = field_answer(small_hopper(RYE, 1000.0 * POUND_KG), "A1")
    ends_m = run_ends_m(found)
    loads = found.spread.loads
    assert len(loads) >= math.ceil(sum(load.mass_kg for load in loads) / (1000.0 * POUND_KG))
    for load in loads:
        assert load.at_run_end
        assert load.empties_at_m == pytest.approx(ends_m[load.last_index])


def test_a_tiny_hopper_is_empty_in_the_middle_of_a_run_and_says_so() -> None:
    """100 lb does 1.4 ac; a half-mile run takes more: cut, on the run's own line."""
    found = field_answer(small_hopper(RYE, 100.0 * POUND_KG), "A1")
    spread = found.spread
    cut = [load for load in spread.loads if not load.at_run_end]
    assert cut
    for load in cut:
        assert load.mass_kg == pytest.approx(100.0 * POUND_KG)
        at = load.last_index - spread.first_run_index
        if at >= 0:
            run = shapely.LineString(spread.plan.passes_m[at])
            assert run.distance(shapely.Point(load.empties_at_m)) < 1e-6


def test_two_loads_on_a_round_do_not_run_empty_at_one_place() -> None:
    """A round field's first round is one leg that comes home: each load ends farther along it."""
    angles_rad = np.linspace(0.0, math.tau, 72, endpoint=False)
    circle = Outline(exterior_m=300.0 * np.stack([np.cos(angles_rad), np.sin(angles_rad)], axis=1))
    farm = with_outline(circle, load_kg=80.0)
    cut = [load for load in field_answer(farm, "A1").spread.loads if not load.at_run_end]
    assert len(cut) >= 2
    assert math.dist(cut[0].empties_at_m, cut[1].empties_at_m) > 100.0


# --- the covering -------------------------------------------------------------------------------


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_ground_worked_once_twice_and_missed_is_the_field(example: str, name: str) -> None:
    """The three add up, nothing lies outside, and all of it is far less than twice the field."""
    found = answered(example, name)
    for cover in found.covers:
        ground = cover.worked
        whole_m2 = ground.once_m2 + ground.twice_m2 + ground.missed_m2
        assert whole_m2 == pytest.approx(found.plan.outline.area_m2)
        assert ground.outside_m2 <= 0.01 * found.plan.outline.perimeter_m
        assert ground.once_m2 > 0.7 * whole_m2


@pytest.mark.parametrize("example", NAMES)
def test_the_price_of_the_angle_is_the_plan_turned_less_the_plan_along(example: str) -> None:
    """Passes and minutes more, counted on both plans."""
    farm = FARMS[example]
    found = answered(example, farm.fields[0].name)
    for cover in found.covers:
        along = plan_covering(
            found.plan.outline,
            spread=found.plan.spread,
            angles_rad=(0.0,),
            driving=cover.plan.driving,
            straight_within_m=farm.defaults["straight_within"].value,
        )
        assert cover.price is not None
        assert cover.price.more_passes_count == cover.plan.passes_count - along.passes_count
        assert cover.price.more_passes_count > 0
        assert cover.price.more_work_s > 0.0
        noise = farm.defaults["angle_noise"].value
        small = abs(cover.price.more_work_s) <= noise * along.work_s
        assert cover.price.is_noise is small


def test_no_angle_costs_nothing() -> None:
    """Covered along the spread passes, the angle has no price in any field."""
    for farm in FARMS.values():
        for field in farm.fields[:9]:
            for cover in field_answer(farm, field.name, angle_rad=0.0).covers:
                assert cover.price is not None
                assert cover.price.more_passes_count == 0
                assert cover.price.more_work_s == pytest.approx(0.0, abs=1.0)


def test_joints_are_judged_at_the_angle_driven() -> None:
    """40 ft rows and 20 ft covering passes: skips pile up along the rows, and not at 5 degrees."""
    machine = replace(RYE.cultivators[1], width_m=6.096 + 0.15, overlap_m=0.15)
    farm = replace(RYE, cultivators=(machine,))
    turned, along = (field_answer(farm, "A1", angle_rad=one) for one in (None, 0.0))
    assert turned.cover is not None
    assert along.cover is not None
    joints, parallel = turned.cover.joints, along.cover.joints
    assert joints is not None
    assert parallel is not None
    assert joints == joints_of(farm, turned.plan, machine)
    assert joints.nearest_count == 2
    assert joints.off_fraction == pytest.approx(0.0, abs=1e-6)
    assert joints.warns_parallel
    assert not joints.warns
    assert parallel.warns


def test_another_angle_may_be_asked_for() -> None:
    """10 degrees instead of the farm's 5: the covering lies there, and it costs more passes."""
    five, ten = field_answer(RYE, "A1"), field_answer(RYE, "A1", angle_rad=math.radians(10.0))
    assert ten.cover is not None
    assert five.cover is not None
    off_rad = off_line_rad(ten.cover.plan.heading_rad, ten.spread.plan.heading_rad)
    assert off_rad == pytest.approx(math.radians(10.0), abs=1e-9)
    price = angle_cost(RYE, ten.plan, ten.cover.machine)
    assert price is not None
    assert five.cover.price is not None
    assert price.more_passes_count > five.cover.price.more_passes_count


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_the_count_to_expect_is_the_plans_within_one(example: str, name: str) -> None:
    """The driver counts what the plan drives, 1 more or less."""
    for cover in answered(example, name).covers:
        assert cover.count is not None
        assert cover.count.low_count <= cover.plan.passes_count <= cover.count.high_count


def test_the_count_to_expect_is_the_plans() -> None:
    """One field in one part: sheet and plan say the same number, in all three examples."""
    unlike = [
        (name, cover.machine)
        for example, name in EVERY_FIELD
        for cover in answered(example, name).covers
        if cover.count is None or cover.count.passes_count != cover.plan.passes_count
    ]
    assert unlike == []


def test_check_marks_move_away_from_the_corner_by_the_width_of_the_passes() -> None:
    """Each mark lies so many driving widths farther along, more where side or passes slant."""
    counted = 0
    for example, name in EVERY_FIELD:
        for cover in answered(example, name).covers:
            marks = cover.marks.marks if cover.marks is not None else ()
            places_m = [mark.from_corner_m for mark in marks]
            numbers = [mark.pass_number for mark in marks]
            if len(places_m) < 2:
                continue
            counted += 1
            steps_m = np.abs(np.diff(places_m)) / np.diff(numbers)
            assert steps_m == pytest.approx(np.full(len(steps_m), steps_m[0]))
            assert steps_m[0] >= cover.plan.driving.driving_width_m * (1.0 - 1e-9)
    assert counted >= 20


def test_a_driver_by_eye_has_a_mark_in_every_field_of_many_passes() -> None:
    """A1, 51 passes by eye, and fourteen more machines in fields: none to check the lap by."""
    without = [
        (name, cover.machine)
        for example, name in EVERY_FIELD
        for cover, machine in zip(
            answered(example, name).covers, FARMS[example].cultivators, strict=True
        )
        if machine.by_eye and cover.plan.passes_count >= 10 and not cover.marks
    ]
    assert without == []


def test_one_more_foot_of_overlap_is_told_in_passes_and_over_the_day() -> None:
    """A foot of 27 ft driving width is 1/26 more driving; no field takes fewer passes with it."""
    cover = field_answer(RYE, "A1").cover
    assert cover is not None
    assert cover.more_m == pytest.approx(0.3048)
    assert cover.more_field is not None
    assert cover.more_field.more_passes_count >= 1
    assert cover.more_day.more_driven_fraction == pytest.approx(1.0 / 26.0)
    assert cover.more_day.area_lost_m2 > 0.0


# --- minutes, fuel, headings --------------------------------------------------------------------


def test_minutes_saved_are_called_noise_where_nobody_could_tell() -> None:
    """A1 saves nothing over its longest side; A5 saves 5 of 85 minutes by going round its hole."""
    same, better = field_answer(RYE, "A1").spread, field_answer(RYE, "A5").spread
    assert same.saved_s == pytest.approx(0.0)
    assert same.saving_is_noise
    assert better.saved_s == pytest.approx(better.plan.longest_edge_s - better.plan.work_s)
    assert better.saved_s > 0.01 * better.plan.longest_edge_s
    assert not better.saving_is_noise


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_no_field_takes_the_spreader_longer_than_along_its_longest_side(
    example: str, name: str
) -> None:
    """On level ground in still air the plan is never the worse."""
    for spread in answered(example, name).spreads:
        assert spread.saved_s >= -1e-6


def test_fuel_is_the_tanks_where_the_farm_measured_it_and_a_range_where_not() -> None:
    """2 L/ha stated for the cultivator: times the record's ground; a default has two ends."""
    default = field_answer(RYE, "A4").cover
    assert default is not None
    low_m3, value_m3, high_m3 = default.fuel_m3.low, default.fuel_m3.value, default.fuel_m3.high
    assert low_m3 is not None
    assert high_m3 is not None
    assert low_m3 < float(value_m3) < high_m3
    machine = replace(RYE.cultivators[0], fuel_m3_per_m2=2e-3 / 1e4)
    own = field_answer(replace(RYE, cultivators=(machine,)), "A4").cover
    assert own is not None
    field = next(one for one in RYE.fields if one.name == "A4")
    assert own.fuel_m3.value == pytest.approx(2e-7 * field.record_area_m2)
    assert own.fuel_m3.low is None


def test_a_forecast_with_a_direction_turns_the_spreading_along_the_wind() -> None:
    """A1 with 10 mph from the south all day: north and south, with the minutes given up."""
    forecast = RYE.forecast
    assert forecast is not None
    count = len(forecast.hours_at)
    windy = replace(forecast, wind_mps=np.full(count, 4.5), wind_from_deg=np.full(count, 180.0))
    farm, on = replace(RYE, forecast=windy), date(2026, 10, 18)
    found = field_answer(farm, "A1", on=on)
    assert found.plan.kept is not None
    assert found.plan.kept.reasons == (Reason.ALONG_WIND,)
    assert off_line_rad(found.spread.plan.heading_rad, math.pi / 2.0) < math.radians(1.0)
    assert found.plan.kept.given_up_s > 300.0
    told = minutes_text(found.plan.kept.given_up_s)
    assert any(told in line for line in heading_reasons(found.plan.kept))
    still = field_answer(farm, "A1")
    assert still.plan.kept is None
    unknown = field_answer(RYE, "A1", on=on)
    assert unknown.spread.plan.heading_rad == still.spread.plan.heading_rad


# --- what may be missing ------------------------------------------------------------------------


def test_a_farm_with_nothing_to_cover_with_has_a_spreading_plan() -> None:
    """Nobody covers: the spreader's plan stands alone."""
    found = field_answer(replace(RYE, cultivators=()), "A1")
    assert found.cover is None
    assert found.covers == ()
    assert found.spread.plan.passes_count > 0


def test_a_field_nobody_has_is_refused() -> None:
    """There is no A99."""
    with pytest.raises(KeyError):
        field_answer(RYE, "A99")


def test_ground_narrower_than_the_spreader_is_refused() -> None:
    """A strip of 8 m has no room for 40 ft."""
    with pytest.raises(FieldTooNarrow):
        field_answer(with_outline(rectangle(8.0, 400.0)), "A1")


@pytest.mark.parametrize("wide_m", [18.0, 25.0, 40.0])
def test_a_strip_of_a_few_widths_is_answered(wide_m: float) -> None:
    """Six acres of filter strip, 40 x 600 m: rounds and an odd run, no row of passes."""
    found = field_answer(with_outline(rectangle(wide_m, 600.0)), "A1")
    assert found.spread.plan.work_s > 0.0


def test_the_same_field_is_answered_the_same_way_twice() -> None:
    """Plans, loads, marks and minutes, to the last bit."""
    one, other = field_answer(RYE, "A5"), field_answer(RYE, "A5")
    assert one.spread.loads == other.spread.loads
    assert np.array_equal(one.spread.plan.passes_m, other.spread.plan.passes_m)
    for first, second in zip(one.covers, other.covers, strict=True):
        assert np.array_equal(first.plan.passes_m, second.plan.passes_m)
        assert first.plan.work_s == second.plan.work_s
        assert first.worked.missed_m2 == second.worked.missed_m2
        assert first.marks == second.marks
        assert first.count == second.count
