"""How a field is driven: slope, wind, edges, angle, gates, and ragged ground."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from itertools import pairwise

import numpy as np
import pytest
import shapely
from made_fields import drawn, rectangle
from made_folders import EXAMPLES
from ragged_fields import ragged_field

from duskline.answers.drive import (
    FieldPlan,
    angle_asked_rad,
    drive_field,
    spread_driving,
    spreading_wind,
)
from duskline.answers.field import field_answer
from duskline.answers.windows import day_windows
from duskline.core.errors import FieldTooNarrow
from duskline.core.farm import Edge, Farm, Field, Given
from duskline.core.lie import Reason, Wind, contour_rad, off_line_rad
from duskline.core.outline import Edge as Side
from duskline.core.outline import FloatArray, Outline
from duskline.core.passes import PassPlan, missed_fraction, plan_passes, plan_swaths
from duskline.core.sides import compass_rad
from duskline.exchange.farmfolder import read_farm
from duskline.words.lap import minutes_text
from duskline.words.sides import heading_reasons

RYE = read_farm(EXAMPLES / "rye-after-soybeans")
TWO_SPREADERS = read_farm(EXAMPLES / "forty-fields")
DEGREE = math.pi / 180.0
# An arm up and to the right from the middle of a long base: quickest in parts.
ARM = "0,0 1200,0 1200,250 700,250 1000,1250 800,1310 500,250 0,250"


def a_field(outline: Outline, *, edges: tuple[Edge, ...] = ()) -> Field:
    """Return a field of the rye farm with another outline, its gate in the corner."""
    first_m = outline.exterior_m[0].tolist()
    return replace(
        RYE.fields[0],
        outline=outline,
        drive_outline=None,
        area_m2=outline.area_m2,
        edges=edges,
        gates_m=((first_m[0], first_m[1]),),
    )


def turned(outline: Outline, angle_rad: float) -> Outline:
    """Return an outline turned to the left about the origin, to the centimetre."""
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return Outline(exterior_m=np.round(outline.exterior_m @ np.asarray([[c, s], [-s, c]]), 2))


def driven(
    field: Field,
    *,
    farm: Farm = RYE,
    wind: Wind | None = None,
    angle_rad: float | None = None,
) -> FieldPlan:
    """Return how every machine of a farm drives a field."""
    return drive_field(
        farm,
        field,
        spreaders=farm.spreaders,
        machines=farm.cultivators,
        wind=wind,
        angle_rad=angle_rad,
    )


def lines_m(plan: PassPlan) -> list[FloatArray]:
    """Return the middle line of every run and of every leg of the rounds."""
    return [*plan.passes_m, *plan.rounds_m]


def nearest_m(plan: PassPlan, sides: Sequence[Side]) -> float:
    """Return how near any middle line comes to some sides."""
    edge = shapely.MultiLineString([(side.start_m, side.end_m) for side in sides])
    return min(float(shapely.LineString(line_m).distance(edge)) for line_m in lines_m(plan))


def nearest_alongside_m(plan: PassPlan, sides: Sequence[Side]) -> float:
    """Return how near a line that runs along one of some straight sides comes to it."""
    found: list[float] = []
    for side in sides:
        edge = shapely.LineString([side.start_m, side.end_m])
        for line_m in lines_m(plan):
            for start_m, end_m in pairwise(line_m):
                east_m, north_m = (end_m - start_m).tolist()
                if off_line_rad(math.atan2(north_m, east_m), side.heading_rad) < DEGREE:
                    found.append(shapely.LineString([start_m, end_m]).distance(edge))
    return min(found)


def off_rad(one_rad: float, other_rad: float) -> float:
    """Return the angle between two headings."""
    return off_line_rad(one_rad, other_rad)


def same_plan(one: PassPlan, other: PassPlan) -> bool:
    """Return whether two plans are the same to the last bit."""
    return (
        np.array_equal(one.passes_m, other.passes_m)
        and np.array_equal(one.turn_s, other.turn_s)
        and one.work_s == other.work_s
        and all(map(np.array_equal, one.rounds_m, other.rounds_m))
    )


# --- the covering angle -------------------------------------------------------------------------


def test_the_stated_angle_wins_over_the_one_advised() -> None:
    """The rye farm states 5 degrees; on runs half a mile long 3 would be advised."""
    plan = driven(RYE.fields[0])
    assert plan.angle is not None
    assert plan.angle.best_rad == pytest.approx(3.0 * DEGREE, abs=1e-4)
    assert plan.angle_rad == pytest.approx(5.0 * DEGREE)


def test_the_advised_angle_is_driven_where_the_farm_states_none() -> None:
    """The same farm silent about the angle: each field gets the one its own runs ask for."""
    figures = dict(RYE.figures)
    stated = figures["day.turn_angle"]
    assert not stated.is_default
    figures["day.turn_angle"] = replace(stated, is_default=True)
    silent = replace(RYE, figures=figures)
    angles = []
    for field in RYE.fields:
        plan = driven(field, farm=silent)
        assert plan.angle is not None
        assert plan.angle_rad == plan.angle.best_rad
        assert plan.cover is not None
        turn_rad = off_rad(plan.cover.heading_rad, plan.spread.heading_rad)
        assert turn_rad == pytest.approx(plan.angle_rad, abs=1e-9)
        angles.append(plan.angle_rad)
    # Short runs of A9 need twice the angle of the long ones of A1.
    assert max(angles) > 1.9 * min(angles)
    assert all(3.0 * DEGREE - 1e-4 <= angle <= 10.0 * DEGREE + 1e-4 for angle in angles)


def test_the_angle_of_the_rules_is_kept_where_rounds_alone_do_the_field() -> None:
    """Nothing to advise without runs."""
    assert angle_asked_rad(RYE, None) == RYE.rules.turn_angle_rad


def test_a_field_quickest_in_parts_is_covered_at_the_angle_in_every_part() -> None:
    """Base and arm each have a heading of their own, and each is covered 5 degrees off it."""
    plan = driven(a_field(turned(drawn(ARM), 45.0 * DEGREE)))
    headings = [block.heading_rad for block in plan.spread.blocks]
    assert len(headings) > 1
    assert max(off_rad(one, headings[0]) for one in headings) > 45.0 * DEGREE
    for cover in plan.covers.values():
        for spread_block, cover_block in zip(plan.spread.blocks, cover.blocks, strict=True):
            angle_rad = off_rad(cover_block.heading_rad, spread_block.heading_rad)
            assert angle_rad == pytest.approx(5.0 * DEGREE, abs=DEGREE)


# --- slope and wind -----------------------------------------------------------------------------


def test_erodible_ground_keeps_the_contour_and_says_what_it_costs() -> None:
    """900 x 300 m that washes to the east: driven north and south, the minutes told."""
    level = a_field(rectangle(900.0, 300.0))
    steep = replace(level, erodible=True, slope_fraction=0.06, downhill_to="east")
    plan, fastest = driven(steep), driven(level)
    assert off_rad(plan.spread.heading_rad, contour_rad(0.0)) <= 10.0 * DEGREE
    assert fastest.kept is None
    assert plan.kept is not None
    assert plan.kept.reasons == (Reason.CONTOUR,)
    given_up_s = plan.spread.work_s - fastest.spread.work_s
    assert given_up_s > 300.0
    assert plan.kept.given_up_s == pytest.approx(given_up_s)
    told = heading_reasons(plan.kept)
    assert told[0] == "Driven across the slope, because this ground washes."
    assert told[1] == f"It costs {minutes_text(given_up_s)} more than the fastest heading."


def test_a_field_that_falls_square_to_all_its_sides_is_tried_on_the_contour_itself() -> None:
    """Falling to the north-east no side is level: passes run north-west, which no side does."""
    field = replace(
        a_field(rectangle(600.0, 500.0)),
        erodible=True,
        slope_fraction=0.06,
        downhill_to="north-east",
    )
    plan = driven(field)
    assert off_rad(plan.spread.heading_rad, 135.0 * DEGREE) <= 10.0 * DEGREE
    assert plan.kept is not None
    assert plan.kept.grade_fraction == pytest.approx(0.0, abs=0.06 * math.sin(10.0 * DEGREE))


def test_sloping_ground_is_not_driven_downhill_to_save_minutes() -> None:
    """900 x 300 m that falls 6 in 100 to the east, and does not wash."""
    level = a_field(rectangle(900.0, 300.0))
    plan = driven(replace(level, slope_fraction=0.06, downhill_to="east"))
    assert plan.kept is not None
    assert plan.kept.reasons == (Reason.NOT_DOWNHILL,)
    assert plan.kept.given_up_s > 300.0
    assert plan.kept.grade_fraction == pytest.approx(0.0, abs=0.03)


def test_a_gentle_slope_leaves_the_minutes_to_decide() -> None:
    """1 in 100 is driven like level ground."""
    level = a_field(rectangle(900.0, 300.0))
    plan = driven(replace(level, slope_fraction=0.01, downhill_to="east"))
    assert plan.kept is None
    assert same_plan(plan.spread, driven(level).spread)


def test_ground_that_washes_without_a_direction_is_asked_about() -> None:
    """Nobody said which way it falls: driven by minutes, and the question stands beside it."""
    plan = driven(replace(a_field(rectangle(900.0, 300.0)), erodible=True))
    assert plan.kept is not None
    assert plan.kept.reasons == (Reason.ASK_DOWNHILL,)
    assert plan.kept.given_up_s == 0.0


def test_strong_wind_is_spread_along_and_a_light_one_is_not() -> None:
    """900 x 300 m, wind from the south: at 11 mph north and south, at 4 mph the long way."""
    field = a_field(rectangle(900.0, 300.0))
    plan = driven(field, wind=Wind(line_rad=math.pi / 2.0, speed_mps=5.0))
    assert off_rad(plan.spread.heading_rad, math.pi / 2.0) <= 30.0 * DEGREE
    assert plan.kept is not None
    assert plan.kept.reasons == (Reason.ALONG_WIND,)
    assert plan.kept.given_up_s > 300.0
    assert heading_reasons(plan.kept)[0].startswith("Spread along the wind")
    light = driven(field, wind=Wind(line_rad=math.pi / 2.0, speed_mps=2.0))
    assert light.kept is None
    assert off_rad(light.spread.heading_rad, 0.0) < DEGREE


def test_the_slope_outranks_the_wind() -> None:
    """It washes to the north and the wind blows from there: driven east and west."""
    field = replace(
        a_field(rectangle(900.0, 300.0)), erodible=True, slope_fraction=0.06, downhill_to="north"
    )
    plan = driven(field, wind=Wind(line_rad=math.pi / 2.0, speed_mps=6.0))
    assert off_rad(plan.spread.heading_rad, 0.0) <= 10.0 * DEGREE


def test_the_wind_of_the_spreading_hours_is_their_vector_mean() -> None:
    """5 m/s from the north in every hour is 5 m/s; from north and south in turn it is nothing."""
    on, forecast = date(2026, 10, 18), RYE.forecast
    assert forecast is not None
    count = len(forecast.hours_at)
    wind_mps = np.full(count, 5.0)

    def blowing(from_deg: FloatArray) -> Wind | None:
        changed = replace(forecast, wind_mps=wind_mps, wind_from_deg=from_deg)
        return spreading_wind(replace(RYE, forecast=changed), on, day_windows(RYE, on))

    north = blowing(np.zeros(count))
    assert north is not None
    assert north.speed_mps == pytest.approx(5.0)
    assert off_rad(north.line_rad, math.pi / 2.0) == pytest.approx(0.0, abs=1e-9)
    in_turn = blowing(np.where(np.arange(count) % 2 == 0, 0.0, 180.0))
    assert in_turn is not None
    assert in_turn.speed_mps < 1.0
    assert blowing(np.full(count, np.nan)) is None


@pytest.mark.parametrize("turn_deg", [45, 54])
def test_no_part_of_erodible_ground_is_driven_downhill(turn_deg: int) -> None:
    """The arm lies on the contour; the base must not be worked straight down the slope."""
    downhill = {45: "north-west", 54: "north-east"}[turn_deg]
    field = replace(
        a_field(turned(drawn(ARM), turn_deg * DEGREE)),
        erodible=True,
        slope_fraction=0.06,
        downhill_to=downhill,
    )
    downhill_rad = compass_rad(downhill)
    assert downhill_rad is not None
    plan = driven(field)
    steepest_rad = max(
        off_rad(block.heading_rad, contour_rad(downhill_rad)) for block in plan.spread.blocks
    )
    assert steepest_rad <= 10.0 * DEGREE + 1e-3


def test_covering_turns_to_the_level_side_where_the_ground_washes() -> None:
    """Spread 7 degrees off the contour, covered 5 off that: 2 degrees is to be had, not 12."""
    field = replace(
        a_field(turned(rectangle(800.0, 500.0), 7.0 * DEGREE)),
        erodible=True,
        slope_fraction=0.06,
        downhill_to="south",
    )
    plan = driven(field)
    assert plan.cover is not None
    assert off_rad(plan.cover.heading_rad, 0.0) <= off_rad(plan.spread.heading_rad, 0.0)


# --- edges --------------------------------------------------------------------------------------


def test_the_first_pass_keeps_the_throw_away_from_a_flagged_side() -> None:
    """Water in the east: no run along it is nearer than the throw and the strip."""
    plan = driven(a_field(rectangle(600.0, 400.0), edges=(Edge(side="east", kind="water"),)))
    (edge,) = plan.edges
    assert edge.throw_source == "the tray test"
    assert edge.first.from_edge_m == pytest.approx(edge.throw_m + 3.0)
    assert nearest_alongside_m(plan.spread, edge.sides) >= edge.first.from_edge_m - 0.01


def test_other_sides_are_driven_half_a_width_off() -> None:
    """Only the flagged side is held back from; covering goes up to all of them."""
    field = a_field(rectangle(600.0, 400.0), edges=(Edge(side="east", kind="water"),))
    plan = driven(field)
    assert plan.outline == field.ground
    held_m2 = plan.outline.area_m2 - plan.spread_outline.area_m2
    depth_m = plan.edges[0].first.from_edge_m - 0.5 * RYE.spreaders[0].driving_width_m
    assert held_m2 == pytest.approx(400.0 * depth_m)
    south_m = min(float(line_m[:, 1].min()) for line_m in plan.spread.rounds_m)
    assert south_m <= 0.5 * RYE.spreaders[0].driving_width_m + 0.01
    assert plan.cover is not None
    assert missed_fraction(plan.outline, plan.cover) <= 0.005


def test_a_stated_throw_wins_over_the_trays() -> None:
    """The farmer says 60 ft; the trays said 40."""
    spreader = replace(RYE.spreaders[0], throw_m=18.288)
    field = a_field(rectangle(600.0, 400.0), edges=(Edge(side="north", kind="organic"),))
    plan = driven(field, farm=replace(RYE, spreaders=(spreader,)))
    assert plan.edges[0].throw_m == 18.288
    assert plan.edges[0].throw_source == "farm.toml"
    assert plan.edges[0].first.from_edge_m == pytest.approx(18.288 + 3.0)


def test_without_trays_the_wide_end_of_the_rule_of_thumb_is_kept_off() -> None:
    """Nobody set trays: one whole driving width to the side, the high end of the range."""
    field = a_field(rectangle(600.0, 400.0), edges=(Edge(side="north", kind="ditch"),))
    plan = driven(field, farm=replace(RYE, trays={}))
    share = RYE.defaults["throw_share_of_width"]
    assert plan.edges[0].throw_source == share.source
    assert plan.edges[0].throw_m == pytest.approx(1.0 * RYE.spreaders[0].driving_width_m)
    assert plan.edges[0].dose is None


def test_a_word_that_is_no_side_holds_nothing_back_and_is_told() -> None:
    """The edge by the old oak: no compass word, so no strip, and the plan says so."""
    field = a_field(rectangle(600.0, 400.0), edges=(Edge(side="the old oak", kind="home"),))
    plan = driven(field)
    assert not plan.edges[0].understood
    assert plan.edges[0].sides == ()
    assert plan.spread_outline == plan.outline


def test_no_run_ends_nearer_to_a_flagged_side_than_the_throw() -> None:
    """A spinner throws behind as well: a leg that begins 30 ft from the creek seeds the creek."""
    plan = driven(a_field(rectangle(600.0, 400.0), edges=(Edge(side="east", kind="water"),)))
    (edge,) = plan.edges
    assert nearest_m(plan.spread, edge.sides) >= edge.first.from_edge_m - 0.01


@pytest.mark.parametrize(("driving_width_m", "throw_m"), [(6.0, None), (12.192, 40.0)])
def test_every_spreader_keeps_its_own_throw_away(
    driving_width_m: float, throw_m: float | None
) -> None:
    """The second spreader throws 40 m, or drives narrower rows with the same throw."""
    first = RYE.spreaders[0]
    other = replace(first, name="Second", driving_width_m=driving_width_m, throw_m=throw_m)
    field = a_field(rectangle(600.0, 400.0), edges=(Edge(side="south", kind="water"),))
    plan = driven(field, farm=replace(RYE, spreaders=(first, other)))
    (edge,) = plan.edges
    near_m = nearest_alongside_m(plan.spreads["Second"], edge.sides)
    assert near_m >= (throw_m or edge.throw_m) + 3.0 - 0.01


def test_a_strip_too_narrow_for_the_throw_is_refused_and_not_driven() -> None:
    """18 m between two creeks, and 15 m to keep from each: there is nothing to spread."""
    edges = (Edge(side="east", kind="water"), Edge(side="west", kind="water"))
    with pytest.raises(FieldTooNarrow):
        driven(a_field(rectangle(18.0, 600.0), edges=edges))


# --- machines, gates, the way in ------------------------------------------------------------------


def test_covering_machines_of_one_field_never_cross() -> None:
    """The second follows the first one's heading to the same side."""
    for field in (*RYE.fields, a_field(turned(drawn(ARM), 45.0 * DEGREE))):
        plan = driven(field)
        first, second = plan.covers.values()
        for one, other in zip(first.blocks, second.blocks, strict=True):
            assert one.heading_rad == other.heading_rad


def test_spreaders_of_the_same_make_drive_the_same_plan() -> None:
    """Ana and Ben both pull 50 ft at 9 mph: one plan, made once."""
    plan = driven(TWO_SPREADERS.fields[0], farm=TWO_SPREADERS)
    first, second = plan.spreads.values()
    assert first is second


@pytest.mark.parametrize("seed", [22, 26])
def test_spreaders_of_two_widths_drive_one_heading(seed: int) -> None:
    """Covering is turned off one heading only; the other spreader's passes would lie anyhow."""
    first = RYE.spreaders[0]
    second = replace(first, name="Second", driving_width_m=18.0)
    plan = driven(a_field(ragged_field(seed)), farm=replace(RYE, spreaders=(first, second)))
    one, other = plan.spreads.values()
    assert off_rad(one.heading_rad, other.heading_rad) < DEGREE


def test_the_spreader_begins_its_round_by_the_gate() -> None:
    """No other leg of its first round begins nearer to the gate."""
    for field in RYE.fields:
        plan = driven(field)
        assert plan.gate_m in field.gates_m
        gate_m = np.asarray(plan.gate_m)
        first_round = [leg for leg in plan.spread.rounds.legs if leg.round_index == 0]
        far_m = [float(np.hypot(*(leg.path_m[0] - gate_m))) for leg in first_round]
        assert far_m[0] == min(far_m)


def test_the_spreader_rounds_first_and_covering_rounds_last() -> None:
    """The headland is spread before the passes and worked in after its own turns."""
    plan = driven(RYE.fields[0])
    assert plan.spread.driving.headland_first
    assert all(not cover.driving.headland_first for cover in plan.covers.values())


def test_the_minutes_are_driving_and_turning_and_nothing_else() -> None:
    """Passes and rounds over the speed, and the turns, as the working shows them."""
    plan = driven(RYE.fields[3])
    for step, one in zip(
        plan.working, (*plan.spreads.values(), *plan.covers.values()), strict=True
    ):
        driven_m = float(one.pass_lengths_m.sum()) + one.rounds_length_m
        assert one.work_s == pytest.approx(driven_m / one.driving.speed_mps + one.turning_s)
        assert step.result.value == one.work_s
        figures = {figure.name: figure.value for figure in step.inputs}
        assert figures["runs"] == len(one.passes_m)
        assert figures["turning, all together"] == pytest.approx(one.turning_s)


def test_the_spreaders_plan_is_the_quickest_of_the_core_on_plain_ground() -> None:
    """Without slope, wind and flags nothing is added to the minutes."""
    field = RYE.fields[4]
    assert field.ground is not None
    alone = plan_passes(
        field.ground,
        driving=spread_driving(RYE, RYE.spreaders[0]),
        straight_within_m=RYE.defaults["straight_within"].value,
        from_m=field.gates_m[0],
    )
    assert same_plan(driven(field).spread, alone)


def test_a_field_without_an_outline_cannot_be_driven() -> None:
    """Its acres alone say nothing about headings."""
    with pytest.raises(ValueError, match="no outline"):
        driven(replace(RYE.fields[0], outline=None, drive_outline=None))


def test_the_same_field_is_driven_the_same_way_twice() -> None:
    """Nothing is left to chance."""
    field = a_field(ragged_field(3), edges=(Edge(side="east", kind="road"),))
    one, other = driven(field), driven(field)
    assert same_plan(one.spread, other.spread)
    for name, cover in one.covers.items():
        assert same_plan(cover, other.covers[name])


# --- outlines with very many corners ------------------------------------------------------------


def walked(outline: Outline, corners_count: int) -> Outline:
    """Return an outline as a receiver draws it: corners close by each other, straying by 5 cm."""
    ring = shapely.LinearRing(outline.exterior_m)
    along_m = np.linspace(0.0, ring.length, corners_count, endpoint=False)
    points_m = shapely.get_coordinates(shapely.line_interpolate_point(ring, along_m))
    points_m = points_m + np.random.default_rng(0).normal(0.0, 0.05, points_m.shape)
    return Outline(exterior_m=points_m, holes_m=outline.holes_m)


def test_a_walked_outline_is_planned_on_few_corners_and_its_acres_are_the_drawn_ones() -> None:
    """3,000 corners: under 300 to plan on, within 40 cm and a tenth of a percent, and it says so.

    Seed is reckoned for the ground as drawn.
    """
    outline = walked(ragged_field(3), 3_000)
    farm = replace(RYE, fields=(a_field(outline),))
    answer = field_answer(farm, farm.fields[0].name)
    plan = answer.plan
    assert plan.outline.corners_count <= RYE.defaults["outline_thin_from"].value
    assert 0.1 <= plan.thinned_within_m <= 0.4
    far_m = shapely.hausdorff_distance(plan.outline.shape, outline.shape)
    assert far_m <= plan.thinned_within_m * 1.5
    assert plan.outline.area_m2 == pytest.approx(outline.area_m2, rel=0.001)
    assert answer.field.area_m2 == outline.area_m2
    sown_m2 = sum(load.area_m2 for load in answer.spread.loads)
    assert sown_m2 == pytest.approx(outline.area_m2, rel=1e-9)
    step = plan.working[0]
    assert step.title.endswith(": outline planned on")
    assert step.result.value == plan.outline.corners_count
    drawn_m2 = next(one.value for one in step.inputs if one.name == "area as drawn")
    assert drawn_m2 == outline.area_m2
    for one in plans_of(plan):
        assert missed_fraction(outline, one) <= 0.005


def test_an_outline_of_few_corners_is_planned_on_as_it_is() -> None:
    """A drawn field is left alone: no corner of it moves, and nothing is said."""
    outline = ragged_field(3)
    plan = driven(a_field(outline))
    assert plan.outline == outline
    assert plan.thinned_within_m == 0.0
    assert not any("outline planned on" in step.title for step in plan.working)


def plans_of(plan: FieldPlan) -> list[PassPlan]:
    """Return the plan of every machine."""
    return [*plan.spreads.values(), *plan.covers.values()]


# --- ragged ground --------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_ragged_fields_with_flagged_sides_are_driven_whole(seed: int) -> None:
    """Notches, creeks and ponds, water in the east, a road in the north: all of it holds."""
    edges = (Edge(side="east", kind="water"), Edge(side="north", kind="road"))
    outline = ragged_field(seed)
    plan = driven(a_field(outline, edges=edges))
    for one in plan.spreads.values():
        assert missed_fraction(plan.spread_outline, one) <= 0.005
    barred = shapely.union_all([shapely.Polygon(hole_m) for hole_m in outline.holes_m])
    for cover in plan.covers.values():
        if outline.area_m2 >= 1e5:
            assert missed_fraction(outline, cover) <= 0.005
        angle_rad = off_rad(cover.heading_rad, plan.spread.heading_rad)
        assert angle_rad == pytest.approx(plan.angle_rad, abs=DEGREE)
        swaths = plan_swaths(cover)
        rings = np.split(swaths.coords_m, swaths.offsets[1:-1])
        deep = barred.buffer(-0.01, join_style="mitre")
        outside = outline.shape.buffer(0.01, join_style="mitre")
        for ring_m in rings:
            swath = shapely.Polygon(ring_m).buffer(0)
            assert not swath.intersects(deep)
            assert outside.covers(swath)


@pytest.mark.parametrize("turn_deg", range(1, 90, 8))
def test_a_field_may_lie_at_any_bearing(turn_deg: int) -> None:
    """A plain rectangle turned by whole degrees is driven like one that lies square."""
    c, s = math.cos(turn_deg * DEGREE), math.sin(turn_deg * DEGREE)
    corners_m = [(0.0, 0.0), (900 * c, 900 * s), (900 * c - 400 * s, 900 * s + 400 * c)]
    outline = Outline(exterior_m=np.asarray([*corners_m, (-400 * s, 400 * c)]))
    square = driven(a_field(rectangle(900.0, 400.0)))
    plan = driven(a_field(outline))
    assert plan.spread.work_s == pytest.approx(square.spread.work_s, rel=0.02)


def test_figures_know_whether_they_were_stated() -> None:
    """The rye farm's angle is its own and no default."""
    assert isinstance(RYE.figures["day.turn_angle"], Given)
    assert not RYE.figures["day.turn_angle"].is_default
