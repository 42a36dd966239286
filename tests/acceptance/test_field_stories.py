"""What the crew asks of a field's drive plan, on every field of the three examples."""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
import shapely
from made_folders import ACRE_M2, EXAMPLES, FOOT_M, copy_of
from told_marks import told_mark_m, told_start_m

from duskline.answers.check import QuestionKey, check_answer
from duskline.answers.drive import spread_driving
from duskline.answers.field import CoverField, FieldAnswer, field_answer
from duskline.core.farm import Edge, Farm, Field
from duskline.core.lie import off_line_rad
from duskline.core.outline import Edge as Side
from duskline.core.outline import sides
from duskline.core.passes import PassPlan, missed_fraction, plan_at_heading
from duskline.exchange.farmfolder import read_farm
from duskline.words.aim import (
    aim_sentence,
    check_mark_sentences,
    corner_name,
    count_sentences,
    order_sentence,
    rounds_sentence,
)
from duskline.words.check import acre_lines, come_back_lines

NAMES = ("rye-after-soybeans", "oats-and-radish", "forty-fields")
FARMS = {name: read_farm(EXAMPLES / name) for name in NAMES}
RYE = FARMS["rye-after-soybeans"]
EVERY_FIELD = [(name, field.name) for name, farm in FARMS.items() for field in farm.fields]
DEGREE = math.pi / 180.0
HOLE = '[[left_out]]\nfield = "A4"\nwhat = "wet hole"\narea = "0.4 ac"\n'
# Round the end of a flagged side the strip is drawn with corners: about 1 cm of its depth. [m]
ROUNDED_M = 0.02
PLACE = "at = [-93.484, 42.0175]\n"


@functools.cache
def answered(example: str, name: str) -> FieldAnswer:
    """Return the answer of a field as its example has it, worked out once."""
    return field_answer(FARMS[example], name)


def field_of(farm: Farm, name: str) -> Field:
    """Return one field of a farm."""
    return next(one for one in farm.fields if one.name == name)


def with_hole(tmp_path: Path, text: str) -> Farm:
    """Return the rye farm with ground left out, as the farmer writes it."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    with (folder / "farm.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n{text}")
    return read_farm(folder)


def worked_ground(plan: PassPlan) -> shapely.Geometry:
    """Return all ground of a plan: a rectangle for each run and each stretch of a round."""
    wide_m = 0.5 * plan.driving.worked_m
    stretches = [
        shapely.LineString([start_m, end_m])
        for line_m in (*plan.passes_m, *plan.rounds_m)
        for start_m, end_m in pairwise(line_m)
    ]
    return shapely.union_all([one.buffer(wide_m, cap_style="flat") for one in stretches])


def along_side_m(plan: PassPlan, flagged: Sequence[Side]) -> float:
    """Return how near a run or a round along one of some sides comes to it."""
    found: list[float] = []
    for side in flagged:
        edge = shapely.LineString([side.start_m, side.end_m])
        for line_m in (*plan.passes_m, *plan.rounds_m):
            for start_m, end_m in pairwise(line_m):
                east_m, north_m = (end_m - start_m).tolist()
                if off_line_rad(math.atan2(north_m, east_m), side.heading_rad) < 45.0 * DEGREE:
                    found.append(float(shapely.LineString([start_m, end_m]).distance(edge)))
    return min(found)


def plans_of(answer: FieldAnswer) -> list[PassPlan]:
    """Return the plan of every machine in a field."""
    return [*answer.plan.spreads.values(), *answer.plan.covers.values()]


def covering(answer: FieldAnswer) -> CoverField:
    """Return the first covering machine of an answer."""
    assert answer.cover is not None
    return answer.cover


# --- 14 -----------------------------------------------------------------------------------------


def test_story_14_passes_counted_change_the_overlap_and_the_minutes_at_once(
    tmp_path: Path,
) -> None:
    """12 passes over 226 ft with 21 ft: 18.8 ft a pass, 10.3 % lapped, and A4's time with it."""
    old = 'width = "30 ft"\noverlap_share = "10 %"'
    pairs = {
        "believed": 'width = "21 ft"\noverlap = "0 ft"',
        "counted": 'width = "21 ft"\ncounted = { passes = 12, across = "226 ft" }',
        "by hand": 'width = "21 ft"\noverlap = "2.1667 ft"',
    }
    found = {}
    for name, new in pairs.items():
        folder = copy_of("rye-after-soybeans", tmp_path / name, farm_toml=[(old, new)])
        found[name] = field_answer(read_farm(folder), "A4")
    counted, believed = covering(found["counted"]), covering(found["believed"])
    pass_m = counted.plan.driving.driving_width_m
    assert pass_m / FOOT_M == pytest.approx(226.0 / 12.0)
    assert round(pass_m / FOOT_M, 1) == 18.8
    lap = counted.lap.overlap_m / (21.0 * FOOT_M)
    assert round(100.0 * lap, 1) == 10.3
    assert counted.plan.passes_count > believed.plan.passes_count
    more = counted.clock_s / believed.clock_s - 1.0
    assert more == pytest.approx(21.0 / (226.0 / 12.0) - 1.0)
    assert counted.plan.work_s > 1.05 * believed.plan.work_s
    assert counted.plan.work_s == pytest.approx(covering(found["by hand"]).plan.work_s, rel=1e-3)


# --- 17 -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_story_17_every_part_is_covered_at_the_chosen_angle(example: str, name: str) -> None:
    """5, 8 and 5 degrees as the three farms state it, within 1 degree, by every machine."""
    found = answered(example, name)
    chosen_rad = {"oats-and-radish": 8.0 * DEGREE}.get(example, 5.0 * DEGREE)
    assert found.plan.angle_rad == pytest.approx(chosen_rad)
    for cover in found.covers:
        for spread, turned in zip(found.spread.plan.blocks, cover.plan.blocks, strict=True):
            angle_rad = off_line_rad(turned.heading_rad, spread.heading_rad)
            assert angle_rad == pytest.approx(chosen_rad, abs=DEGREE)


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_story_17_next_to_nothing_stays_uncovered(example: str, name: str) -> None:
    """Planned missed ground is half a percent at the most, spreading and covering."""
    found = answered(example, name)
    for spread in found.spreads:
        assert missed_fraction(found.plan.spread_outline, spread.plan) <= 0.005
    for cover in found.covers:
        assert cover.worked.missed_fraction <= 0.005


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_story_17_no_pass_leaves_the_field_or_enters_a_hole(example: str, name: str) -> None:
    """The rectangle that every run and round works keeps inside, within a centimetre."""
    found = answered(example, name)
    field = found.field
    assert field.outline is not None
    limit = field.outline.shape.buffer(0.01, join_style="mitre")
    for plan in plans_of(found):
        assert limit.covers(worked_ground(plan))


def test_story_17_the_waterway_of_a5_is_driven_round() -> None:
    """A5 has a hole; runs stop on both sides of it, and the ground beside it is worked."""
    found = answered("rye-after-soybeans", "A5")
    assert found.field.outline is not None
    (hole_m,) = found.field.outline.holes_m
    waterway = shapely.Polygon(hole_m)
    for plan in plans_of(found):
        ground = worked_ground(plan)
        assert ground.intersection(waterway).area < 0.01 * waterway.length
        beside = waterway.buffer(plan.driving.worked_m, join_style="mitre").difference(waterway)
        assert beside.difference(ground).area < 0.005 * found.plan.outline.area_m2


def test_story_17_the_first_pass_along_the_creek_keeps_the_throw_away() -> None:
    """A2's east side is water: seed flies 40 ft by the trays, so the pass runs 50 ft off."""
    found = answered("rye-after-soybeans", "A2")
    (edge,) = found.plan.edges
    assert edge.throw_source == "the tray test"
    assert edge.first.from_edge_m >= edge.throw_m
    assert along_side_m(found.spread.plan, edge.sides) >= edge.first.from_edge_m - ROUNDED_M


def test_story_17_no_line_of_the_spreader_comes_nearer_to_the_creek_than_the_throw() -> None:
    """Every run and leg from end to end, those that end at the creek too."""
    found = answered("rye-after-soybeans", "A2")
    (edge,) = found.plan.edges
    creek = shapely.MultiLineString([(side.start_m, side.end_m) for side in edge.sides])
    lines = [shapely.LineString(line_m) for line_m in found.spread.plan.passes_m]
    lines += [shapely.LineString(line_m) for line_m in found.spread.plan.rounds_m]
    assert min(float(line.distance(creek)) for line in lines) >= edge.throw_m - 0.01


@pytest.mark.parametrize("kind", ["organic", "seed crop", "ditch", "road", "water", "home"])
def test_story_17_every_kind_of_flagged_side_is_held_off_from(kind: str) -> None:
    """Each side of A9 flagged in turn, as anything no seed may cross."""
    for side in ("north", "east", "south", "west"):
        field = replace(field_of(RYE, "A9"), edges=(Edge(side=side, kind=kind),))
        found = field_answer(replace(RYE, fields=(field,)), "A9")
        (edge,) = found.plan.edges
        assert edge.sides
        near_m = along_side_m(found.spread.plan, edge.sides)
        assert near_m >= edge.throw_m + edge.first.off_m - ROUNDED_M


# --- 18 -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [field.name for field in RYE.fields])
def test_story_18_the_neighbor_finds_his_first_pass_and_his_count_in_words(name: str) -> None:
    """By eye: start and mark from corners he can see, passes 1 more or less, rounds, order."""
    found = answered("rye-after-soybeans", name)
    cover = covering(found)
    plan, outline = cover.plan, found.plan.outline
    assert plan.driving.by_eye
    assert plan.first is not None
    within_m = RYE.defaults["straight_within"].value
    aim = aim_sentence(outline, plan.first, "us", straight_within_m=within_m, pace_m=0.75)
    assert re.match(r"Start (at|on|in line with) the ", aim)
    assert " corner" in aim
    assert "Drive at a post or flag" in aim or "Drive straight at" in aim
    assert re.search(r"\d+ ft", aim)
    assert cover.count is not None
    expected = count_sentences(cover.count, "us")[0]
    counted = re.fullmatch(r"Count (\d+) passes, 1 more or less\.", expected)
    assert counted is not None
    assert abs(int(counted[1]) - plan.passes_count) <= 1
    rounds = rounds_sentence(plan.rounds_count, last=True, holes=bool(outline.holes_m))
    assert str(plan.rounds_count) in rounds
    assert "last" in rounds
    assert ("hole" in rounds) == (name == "A5")
    order = order_sentence(plan.order.way, step=plan.order.step)
    assert order.startswith("Drive pass beside pass" if plan.order.way == "next" else "Two lands")


def test_story_18_where_he_starts_and_aims_lies_on_his_first_pass() -> None:
    """Start and mark, worked out again from the corners told, lie on the line of pass 1."""
    for example, name in EVERY_FIELD:
        for cover in answered(example, name).covers:
            first = cover.plan.first
            assert first is not None
            start_m, end_m = cover.plan.passes_m[0]
            line = shapely.LineString([start_m, end_m])
            length_m = float(line.length)
            ahead = (end_m - start_m) / length_m
            for x_m, y_m in (first.start_m, first.far_mark_m):
                off_m = (x_m - start_m[0]) * ahead[1] - (y_m - start_m[1]) * ahead[0]
                assert off_m == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_story_18_the_words_lead_to_where_pass_1_starts(example: str, name: str) -> None:
    """Corner, along and in, walked off again, end within 1 m of the start of every machine."""
    found = answered(example, name)
    system = FARMS[example].system
    within_m = FARMS[example].defaults["straight_within"].value
    for plan in plans_of(found):
        if plan.first is None:
            continue
        text = aim_sentence(found.plan.outline, plan.first, system, straight_within_m=within_m)
        (start_m,) = told_start_m(text, found.plan.outline, straight_within_m=within_m)
        assert math.dist(start_m, plan.passes_m[0, 0]) <= 1.0, text
        (mark_m,) = told_mark_m(text, found.plan.outline, straight_within_m=within_m)
        ahead = plan.passes_m[0, 1] - plan.passes_m[0, 0]
        ahead = ahead / math.hypot(*ahead)
        east_m, north_m = mark_m - plan.passes_m[0, 0]
        assert abs(ahead[0] * north_m - ahead[1] * east_m) <= 1.0, text
        assert (mark_m - plan.passes_m[0, 1]) @ ahead >= -2.0, text


def test_story_18_a_pass_that_cuts_a_corner_is_told_along_the_side_it_ends_on() -> None:
    """B2, Tines 4.5: pass 1 cuts the south-west corner and ends 88 m along the south side."""
    found = answered("oats-and-radish", "B2")
    cover = next(one for one in found.covers if one.machine == "Tines 4.5")
    assert cover.plan.first is not None
    aim = aim_sentence(found.plan.outline, cover.plan.first, "metric", straight_within_m=1.0)
    assert aim.endswith(
        "Drive at a post or flag on the south side, 88 m east of the south-west corner."
    )


def test_story_18_a_mark_after_so_many_passes_is_told_from_a_corner() -> None:
    """A4, three headland rounds: where he should be after the first passes he can check by."""
    cover = covering(answered("rye-after-soybeans", "A4"))
    outline = answered("rye-after-soybeans", "A4").plan.outline
    assert cover.marks is not None
    corner = corner_name(outline, cover.marks.corner_m, straight_within_m=1.0)
    told = check_mark_sentences(cover.marks.marks, "us", corner=corner)
    assert told[0].startswith(f"After pass {cover.marks.marks[0].pass_number} you should be ")
    assert corner in told[0]


# --- 19 -----------------------------------------------------------------------------------------


def test_story_19_the_triangle_is_not_driven_along_its_worse_side() -> None:
    """A3 along its three sides, turning and in all: the chosen one is the best of them."""
    found = answered("rye-after-soybeans", "A3")
    outline, within_m = found.plan.outline, RYE.defaults["straight_within"].value
    plans = [
        plan_at_heading(
            outline,
            heading_rad=side.heading_rad,
            driving=spread_driving(RYE, RYE.spreaders[0]),
            straight_within_m=within_m,
            from_m=found.field.gates_m[0],
        )
        for side in sides(outline, straight_within_m=within_m)
    ]
    assert len(plans) == 3
    chosen = found.spread.plan
    work_s = sorted(plan.work_s for plan in plans)
    assert chosen.work_s == pytest.approx(work_s[0])
    assert work_s[1] > chosen.work_s + 30.0
    turning_s = sorted(plan.turning_s for plan in plans)
    assert chosen.turning_s == pytest.approx(turning_s[0])
    assert turning_s[1] > chosen.turning_s


def test_story_19_both_headings_minutes_are_shown() -> None:
    """Two times in the working of A3's spreader: the one chosen, and the next best heading's."""
    found = answered("rye-after-soybeans", "A3")
    step = next(step for step in found.working if step.title == "A3: Spreader")
    times_s = {
        round(float(figure.value))
        for figure in (*step.inputs, step.result)
        if figure.name.startswith("time ")
    }
    assert len(times_s) >= 2


def test_story_19_a_better_heading_stands_beside_the_longest_sides() -> None:
    """A5 is quicker across its longest side: both figures are in the answer and its working."""
    found = answered("rye-after-soybeans", "A5")
    plan = found.spread.plan
    step = next(step for step in found.working if step.title == "A5: Spreader")
    figures = {figure.name: figure.value for figure in step.inputs}
    assert figures["time along the longest side"] == plan.longest_edge_s
    assert step.result.value == plan.work_s
    assert plan.work_s < plan.longest_edge_s


# --- 20 -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", [PLACE, ""], ids=["with a place", "without a place"])
def test_story_20_a_wet_hole_comes_off_the_record_and_onto_the_list(
    tmp_path: Path, place: str
) -> None:
    """0.4 ac of A4: 0.4 ac less for the record, payment to be asked for, one thing to do later."""
    farm = with_hole(tmp_path, HOLE + place)
    found = field_answer(farm, "A4")
    before = field_of(RYE, "A4")
    assert before.record_area_m2 - found.field.record_area_m2 == pytest.approx(0.4 * ACRE_M2)
    assert found.acres is not None
    assert found.acres.acres.outline_m2 == pytest.approx(before.area_m2)
    assert found.acres.record_m2 == pytest.approx(before.area_m2 - 0.4 * ACRE_M2)
    assert found.acres.payment_differs
    check = check_answer(farm, None)
    assert [(one.field, one.what) for one in check.come_back] == [("A4", "wet hole")]
    asked = [one for one in check.questions if one.key is QuestionKey.LEFT_OUT]
    assert [one.subject for one in asked] == ["A4"]
    (line,) = come_back_lines(check, "us")
    assert "A4: wet hole, 0.4 ac" in line
    assert ("its place is not written down" in line) == (place == "")
    assert check_answer(RYE, None).come_back == ()


def test_story_20_passes_go_round_a_hole_that_has_a_place(tmp_path: Path) -> None:
    """Both machines and the neighbor's keep out of it, and miss nothing beside it."""
    found = field_answer(with_hole(tmp_path, HOLE + PLACE), "A4")
    (hole_m,) = found.plan.outline.holes_m
    hole = shapely.Polygon(hole_m)
    assert hole.area == pytest.approx(0.4 * ACRE_M2, rel=1e-6)
    deep = hole.buffer(-0.01, join_style="mitre")
    for plan in plans_of(found):
        assert not worked_ground(plan).intersects(deep)
    for cover in found.covers:
        assert cover.worked.missed_fraction <= 0.005
    whole = answered("rye-after-soybeans", "A4")
    assert len(found.spread.plan.passes_m) > len(whole.spread.plan.passes_m)


def test_story_20_a_hole_without_a_place_leaves_the_passes_as_they_were(tmp_path: Path) -> None:
    """Nobody knows where it lies: the drivers have the field as it is drawn."""
    found = field_answer(with_hole(tmp_path, HOLE), "A4")
    whole = answered("rye-after-soybeans", "A4")
    assert found.plan.outline == whole.plan.outline
    assert found.spread.plan.work_s == whole.spread.plan.work_s


# --- 38 -----------------------------------------------------------------------------------------


def test_story_38_three_acre_figures_stand_side_by_side() -> None:
    """A3: outline, driven 28.4, office 29.4, 4.4 % apart and flagged; A6 1.5 % and not."""
    three, six = (answered("rye-after-soybeans", name).acres for name in ("A3", "A6"))
    assert three is not None
    assert six is not None
    assert three.acres.driven_m2 == pytest.approx(28.4 * ACRE_M2)
    assert three.acres.office_m2 == pytest.approx(29.4 * ACRE_M2)
    assert three.acres.outline_m2 == field_of(RYE, "A3").area_m2
    assert three.differs
    assert three.apart_fraction == pytest.approx(29.4 * ACRE_M2 / field_of(RYE, "A3").area_m2 - 1.0)
    assert six.acres.driven_m2 == pytest.approx(39.6 * ACRE_M2)
    assert not six.differs
    assert answered("rye-after-soybeans", "A1").acres is None


def test_story_38_the_three_are_told_in_one_line_and_none_is_altered() -> None:
    """The line of A3 holds all three as written, and the question that goes with it."""
    check = check_answer(RYE, None)
    rows = {line.split()[0]: line for line in acre_lines(check, "us")}
    for figure in ("28.2 ac", "28.4 ac", "29.4 ac"):
        assert figure in rows["A3"]
    assert "4.4 % apart" in rows["A3"]
    assert "apart" not in rows["A6"]
    asked = [one.subject for one in check.questions if one.key is QuestionKey.ACRES_DIFFER]
    assert asked == ["A3"]
