"""The map of a field: what is drawn lies where it lies."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from draw.drawn import NS, colours, outside, overlaps, points, texts, tree
from made_days import CASES, day_of

from duskline.answers.plans import FieldPlan, field_plans
from duskline.draw import field_map
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
