"""The map of a field: what is drawn lies where it lies."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pytest
import shapely
from draw.drawn import NS, colours, outside, overlaps, points, texts, tree
from hypothesis import given, settings
from made_answers import answer_of, awkward_answer
from made_days import CASES, FORTY, OATS, RYE, day_of, farm_of
from made_fields import fields

from duskline.answers.drive import FieldPlan
from duskline.answers.field import FieldAnswer
from duskline.answers.plans import field_plans
from duskline.core.errors import FieldTooNarrow
from duskline.core.outline import Outline
from duskline.core.passes import Driving, plan_passes
from duskline.core.swing import turns_over_the_edge
from duskline.core.turns import TurnRule, driven_turn
from duskline.draw import field_map
from duskline.draw.fieldmap import map_marks
from duskline.draw.ink import COLOURED
from duskline.units import FOOT_M

RYE_FIELDS = ("A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8", "A9")


def _plan(name: str) -> FieldPlan:
    farm, answer = day_of("rye")
    return field_plans(farm, replace(answer, fields=(replace(answer.fields[0], name=name),)))[name]


def _map(name: str, width: float = 354.0, height: float = 300.0, **options: Any) -> str:
    plan = _plan(name)
    return field_map(
        plan.outline, plan.spread, plan.cover, "us", name=name, width=width, height=height,
        **options,
    )  # fmt: skip


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", RYE_FIELDS)
def test_labels_keep_apart_and_inside(name: str, language: str) -> None:
    """Every field of the farm, small as on a card and wide as on a screen."""
    for width, height in ((354.0, 300.0), (1200.0, 500.0), (210.0, 166.0)):
        drawing = _map(name, width, height, language=language, key=width > 300.0)
        assert overlaps(drawing) == []
        assert outside(drawing) == []


@pytest.mark.parametrize("case", [c for c in CASES if c in {"oats", "forty"}])
def test_every_field_of_a_day_can_be_drawn(case: str) -> None:
    """And each is its own drawing."""
    farm, answer = day_of(case)
    drawings = {
        field_map(p.outline, p.spread, p.cover, farm.system, name=p.name, width=354, height=300)
        for p in field_plans(farm, answer).values()
    }
    assert len(drawings) == len(answer.fields)


def _outline_box(drawing: str) -> tuple[float, float, float, float]:
    ring = next(
        points(e) for e in tree(drawing).iter(f"{NS}path") if e.get("stroke-width") == "3.4"
    )
    xs, ys = zip(*ring, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


@pytest.mark.parametrize("name", RYE_FIELDS)
def test_passes_lie_inside_the_field(name: str) -> None:
    """Dashed spread passes and solid covering passes, all within the outline's box."""
    drawing = _map(name)
    left, top, right, bottom = _outline_box(drawing)
    lines = [
        e for e in tree(drawing).iter(f"{NS}line")
        if e.get("stroke") in {COLOURED.spread, COLOURED.cover}
    ]  # fmt: skip
    dashed = [e for e in lines if e.get("stroke-dasharray")]
    assert 2 <= len(dashed) < len(lines)
    for e in lines[:-2]:  # the last two are the key's
        for x, y in ((e.get("x1"), e.get("y1")), (e.get("x2"), e.get("y2"))):
            assert left - 0.5 <= float(x or 0) <= right + 0.5
            assert top - 0.5 <= float(y or 0) <= bottom + 0.5


def test_the_scale_bar_is_true() -> None:
    """A1 is 800 m long; the bar is as many feet as it says."""
    drawing = _map("A1")
    left, _, right, _ = _outline_box(drawing)
    feet = next(w for w in texts(drawing) if w.text.endswith(" ft"))
    bar = next(
        e for e in tree(drawing).iter(f"{NS}line")
        if e.get("stroke-width") == "2.2" and e.get("y1") == e.get("y2")
    )  # fmt: skip
    length = float(bar.get("x2", "0")) - float(bar.get("x1", "0"))
    told_m = float(feet.text.split()[0].replace(",", "")) * FOOT_M
    assert told_m / length == pytest.approx(800.0 / (right - left), rel=0.01)


def test_the_heavy_arrow_is_the_first_pass_of_the_covering_plan() -> None:
    """It runs along the plan's aim: 5 degrees north of east on A1, y turned over on the page."""
    plan = _plan("A1")
    assert plan.cover is not None
    assert plan.cover.first is not None
    heavy = next(e for e in tree(_map("A1")).iter(f"{NS}line") if e.get("stroke-width") == "3.6")
    dx = float(heavy.get("x2", "0")) - float(heavy.get("x1", "0"))
    dy = float(heavy.get("y1", "0")) - float(heavy.get("y2", "0"))
    assert math.atan2(dy, dx) % math.tau == pytest.approx(plan.cover.first.aim_rad, abs=0.01)


def test_a_hole_is_hatched_and_the_field_keeps_its_shape() -> None:
    """The grass waterway has a hatch of its own; north is up, no side is stretched."""
    drawing = _map("A5")
    hatched = [e for e in tree(drawing).iter(f"{NS}path") if "-hole)" in e.get("fill", "")]
    assert len(hatched) == 1
    left, top, right, bottom = _outline_box(drawing)
    assert (right - left) == pytest.approx(bottom - top, rel=0.01)  # A5 is 400 x 400 m
    assert any(w.text == "N" for w in texts(drawing))


def test_start_and_aim_are_written() -> None:
    """In both languages."""
    assert {"start", "aim here"} <= {w.text for w in texts(_map("A1"))}
    assert {"empiece", "apunte aquí"} <= {w.text for w in texts(_map("A1", language="es"))}


def test_without_a_covering_plan_the_spreader_leads() -> None:
    """The spreader's own map has its start and aim, and no solid passes."""
    plan = _plan("A1")
    drawing = field_map(plan.outline, plan.spread, None, "us", name="A1", width=354, height=300)
    assert {"start", "aim here"} <= {w.text for w in texts(drawing)}
    assert not [e for e in tree(drawing).iter(f"{NS}line") if e.get("stroke") == COLOURED.cover]


def test_black_and_white_tells_passes_apart_by_dashes() -> None:
    """No colour at all, and two styles of line."""
    drawing = _map("A1", black_and_white=True)
    for colour in colours(drawing):
        assert colour[1:3] == colour[3:5] == colour[5:7]
    dashes = {e.get("stroke-dasharray") for e in tree(drawing).iter(f"{NS}line")}
    assert {None, "7 5"} <= dashes


def test_the_map_is_the_same_every_time() -> None:
    """Byte for byte."""
    assert _map("A3") == _map("A3")


# --------------------------------------------------------------------------- on a page


PAGE = (532.0, 400.0)
AWKWARD = ("Two arms", "Wet", "Big", "Tiny", "Strip", "Long")


def _page(answer: FieldAnswer, *, turns: bool = True, **options: Any) -> str:
    plan = answer.plan
    return field_map(
        plan.outline,
        plan.spread,
        plan.cover,
        "us",
        name=plan.name,
        width=PAGE[0],
        height=PAGE[1],
        marks=map_marks(answer),
        turns=turns,
        **options,
    )


def _placing(drawing: str, answer: FieldAnswer) -> Callable[[Sequence[float]], tuple[float, float]]:
    """How the map lays the field's metres on the drawing, read off its outline."""
    left, top, right, bottom = _outline_box(drawing)
    low, high = (
        answer.plan.outline.exterior_m.min(axis=0),
        answer.plan.outline.exterior_m.max(axis=0),
    )
    scale = (right - left) / float(high[0] - low[0])
    assert scale == pytest.approx((bottom - top) / float(high[1] - low[1]), rel=0.01)
    return lambda p: (left + (p[0] - low[0]) * scale, top + (high[1] - p[1]) * scale)


def _dashed_paths(drawing: str, dashes: str) -> list[list[tuple[float, float]]]:
    return [
        points(e) for e in tree(drawing).iter(f"{NS}path") if e.get("stroke-dasharray") == dashes
    ]


@pytest.mark.parametrize("farm_name", [RYE, OATS, FORTY])
def test_every_field_of_the_examples_has_a_page_without_words_over_words(farm_name: str) -> None:
    """Start, aim and gate are on all of them, in black and white at 14 points."""
    for field in farm_of(farm_name).fields:
        drawing = _page(answer_of(farm_name, field.name), black_and_white=True, text_size=14.0)
        assert overlaps(drawing) == [], field.name
        assert outside(drawing) == [], field.name
        found = {w.text for w in texts(drawing)}
        assert {"start", "aim here", "load 1 empty"} <= found, field.name
        assert min(w.size for w in texts(drawing)) >= 14.0


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_fields_keep_words_apart_too(name: str, language: str) -> None:
    """A field with two arms, one of holes, a big one, a tiny one and two narrow ones."""
    drawing = _page(awkward_answer(name), language=language)
    assert overlaps(drawing) == []
    assert outside(drawing) == []


@settings(max_examples=12, deadline=None)
@given(fields())
def test_any_field_can_be_mapped(outline: Outline) -> None:
    """Fields of any shape, with a hole or not: every word in its place."""
    turn = TurnRule(radius_m=7.0, speed_mps=2.0, fixed_s=5.0)
    driving = Driving(driving_width_m=9.0, speed_mps=2.5, turn=turn)
    try:
        plan = plan_passes(outline, driving=driving, straight_within_m=3.0)
    except FieldTooNarrow:
        return
    drawing = field_map(
        outline, plan, plan, "metric", name="any", width=532, height=380, turns=True
    )
    assert overlaps(drawing) == []
    assert outside(drawing) == []


def test_flagged_sides_parts_and_gates_have_their_words() -> None:
    """A road, an organic neighbour on two sides, two gates, two parts."""
    found = [w.text for w in texts(_page(awkward_answer("Two arms")))]
    for word in ("road", "part 1", "part 2", "load 1 empty", "spreader starts"):
        assert word in found
    assert found.count("organic field") == 2
    assert found.count("gate") == 2


def test_sides_that_go_on_from_each_other_are_one() -> None:
    """A2's creek bends: one word for its three sides, and the band follows every bend."""
    answer = answer_of(RYE, "A2")
    assert len(answer.plan.edges[0].sides) == 3
    (side,) = map_marks(answer).sides
    assert side.word == "water"
    assert len(side.path_m) == 4
    assert [w.text for w in texts(_page(answer))].count("water") == 1


def test_the_band_of_a_flagged_side_lies_outside_the_field() -> None:
    """It marks what is beyond, and takes no ground from the map."""
    answer = answer_of(RYE, "A2")
    drawing = _page(answer)
    ring = next(
        points(e) for e in tree(drawing).iter(f"{NS}path") if e.get("stroke-width") == "3.4"
    )
    ground = shapely.Polygon(ring).buffer(-0.5)
    bands = [points(e) for e in tree(drawing).iter(f"{NS}path") if "-side)" in e.get("fill", "")]
    assert bands
    assert all(shapely.Polygon(band).intersection(ground).area == 0.0 for band in bands)
    assert sum(shapely.Polygon(band).area for band in bands) > 1000.0


def test_the_strip_without_seed_is_as_deep_as_told() -> None:
    """40 m along the big field's north side, dotted, and named in the key.

    Where a strip would be thinner than the line of the edge there is none and no word for it.
    """
    drawing = _page(awkward_answer("Big"))
    left, top, right, _ = _outline_box(drawing)
    bare = [e for e in tree(drawing).iter(f"{NS}path") if "-bare)" in e.get("fill", "")]
    (strip,) = (points(e) for e in bare)
    depth = max(y for _, y in strip) - min(y for _, y in strip)
    assert depth / (right - left) == pytest.approx(40.0 / 1600.0, rel=0.02)
    assert min(y for _, y in strip) == pytest.approx(top, abs=0.1)
    assert "no seed" in [w.text for w in texts(drawing)]
    assert "no seed" not in [w.text for w in texts(_page(answer_of(RYE, "A2")))]


def test_left_out_ground_is_hatched_and_called_by_its_word() -> None:
    """The wet hole and the rock pile, told apart by their size; the pond is only a hole."""
    answer = awkward_answer("Wet")
    marks = {one.word: shapely.Polygon(one.ring_m) for one in map_marks(answer).left_out}
    assert marks["wet hole"].contains(shapely.Point(150.0, 200.0))
    assert marks["rock pile"].distance(shapely.Point(520.0, 0.0)) < 60.0
    drawing = _page(answer)
    hatched = [e for e in tree(drawing).iter(f"{NS}path") if "-left)" in e.get("fill", "")]
    assert len(hatched) == 2
    assert {"wet hole", "rock pile", "hole"} <= {w.text for w in texts(drawing)}


def test_a_diamond_stands_where_each_load_runs_empty() -> None:
    """Five loads on the big field, each with its number."""
    answer = awkward_answer("Big")
    drawing = _page(answer)
    at = _placing(drawing, answer)
    diamonds = []
    for e in tree(drawing).iter(f"{NS}path"):
        corners = points(e)
        if e.get("stroke-width") == "1.4" and len(corners) == 4 and e.get("fill") == COLOURED.text:
            diamonds.append((corners[0][0], corners[1][1]))
    loads = answer.spread.loads
    assert len(loads) == len(diamonds) == 5
    for load, diamond in zip(loads, diamonds, strict=True):
        assert math.dist(at(load.empties_at_m), diamond) < 1.0
    found = {w.text for w in texts(drawing)}
    assert {f"load {number} empty" for number in range(1, 6)} <= found


@pytest.mark.parametrize(("name", "expected"), [("A1", (1, 10, 20, 51)), ("A3", (1, 10, 20, 34))])
def test_numbered_passes_have_their_number_where_they_start(
    name: str, expected: tuple[int, ...]
) -> None:
    """The first, every tenth and the last, in driving order; A1 has 51, A3 has 34."""
    answer = answer_of(RYE, name)
    drawing = _page(answer)
    at = _placing(drawing, answer)
    assert answer.plan.cover is not None
    plan = answer.plan.cover
    assert plan.passes_count == expected[-1]
    written = {w.text: w.box for w in texts(drawing)}
    for number in expected:
        box = written[str(number)]
        middle = (0.5 * (box.left + box.right), 0.5 * (box.top + box.bottom))
        assert math.dist(at(plan.passes_m[number - 1, 0].tolist()), middle) < 36.0


def test_turns_are_drawn_on_a_page_and_join_the_passes() -> None:
    """On the small field every turn is there; a card and a map asked for none have none.

    Each runs from the end of a pass to the start of the next.
    """
    answer = awkward_answer("Tiny")
    plan = answer.plan.cover
    assert plan is not None
    with_turns, without = _page(answer), _page(answer, turns=False)
    at = _placing(with_turns, answer)

    def curves(drawing: str) -> list[list[tuple[float, float]]]:
        return [
            points(e) for e in tree(drawing).iter(f"{NS}path")
            if e.get("stroke") == COLOURED.cover and e.get("fill") == "none"
        ]  # fmt: skip

    assert curves(without) == []
    found = curves(with_turns)
    assert len(found) == plan.turns_count == 3
    for run, curve in enumerate(found):
        assert math.dist(curve[0], at(plan.passes_m[run, 1].tolist())) < 1.0
        assert math.dist(curve[-1], at(plan.passes_m[run + 1, 0].tolist())) < 1.0
    card = field_map(
        answer.plan.outline, answer.plan.spread, plan, "us", name="Tiny", width=210, height=166,
        turns=True,
    )  # fmt: skip
    assert curves(card) == []


def test_no_turn_on_the_map_leaves_the_field() -> None:
    """B7's headland is too shallow for some turns: those are links, all others stay inside."""
    answer = answer_of(OATS, "B7")
    plan, outline = answer.covers[0].plan, answer.plan.outline
    over = turns_over_the_edge(plan, outline)
    assert 0 < len(over) < plan.turns_count
    for run in over:
        (x0, y0), (x1, y1) = plan.passes_m[run].tolist()
        (u0, v0), (u1, v1) = plan.passes_m[run + 1].tolist()
        start = (x1, y1, math.atan2(y1 - y0, x1 - x0))
        end = (u0, v0, math.atan2(v1 - v0, u1 - u0))
        ways = driven_turn(start, end, plan.driving.turn).path(0.5).points_m
        assert shapely.distance(outline.shape, shapely.points(ways)).max() > 0.5
    drawing = _page(answer)
    at = _placing(drawing, answer)
    ground = shapely.Polygon([at(corner) for corner in outline.exterior_m.tolist()])
    curves = [
        points(e) for e in tree(drawing).iter(f"{NS}path")
        if e.get("stroke") == COLOURED.cover and e.get("fill") == "none"
    ]  # fmt: skip
    assert len(curves) > len(over)
    scale = at((1.0, 0.0))[0] - at((0.0, 0.0))[0]
    assert all(ground.buffer(0.55 * scale).covers(shapely.LineString(curve)) for curve in curves)


def test_where_passes_are_thinned_the_key_says_so() -> None:
    """On the big field one of five is drawn, on the tiny one all."""
    big, tiny = ([w.text for w in texts(_page(awkward_answer(n)))] for n in ("Big", "Tiny"))
    assert any(re.fullmatch(r"worked in, 1 of \d drawn", text) for text in big)
    assert "worked in" in tiny


def test_a_field_done_in_rounds_alone_has_no_first_pass() -> None:
    """The narrow strip: rounds, the gate and the spreader's one pass, but nothing to aim at."""
    answer = awkward_answer("Strip")
    assert answer.plan.cover is not None
    assert answer.plan.cover.passes_count == 0
    found = {w.text for w in texts(_page(answer))}
    assert "aim here" not in found
    assert {"gate", "load 1 empty"} <= found
    assert len(_dashed_paths(_page(answer), "1.5 3")) >= len(answer.plan.cover.rounds_m) > 0


def test_a_farmers_word_is_only_text() -> None:
    """Whatever is written in a note, it is never taken for a part of the drawing."""
    answer = awkward_answer("Wet")
    marks = map_marks(answer)
    wicked = replace(marks, left_out=(replace(marks.left_out[0], word="<b>&hole</b>"),))
    plan = answer.plan
    drawing = field_map(
        plan.outline, plan.spread, plan.cover, "us", name="<A>", width=532, height=400, marks=wicked
    )
    assert "<b>&hole</b>" in {w.text for w in texts(drawing)}
    assert not list(tree(drawing).iter(f"{NS}b"))
