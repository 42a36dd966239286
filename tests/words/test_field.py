"""A field in sentences: lines of driving, minutes, savings, loads, areas, what is left out."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import pytest
from made_folders import ACRE_M2, EXAMPLES

from duskline.answers.field import FieldAnswer, field_answer
from duskline.core.farm import Farm, LeftOut
from duskline.exchange.farmfolder import read_farm
from duskline.words.field import (
    acres_sentences,
    cover_lines,
    edges_lines,
    field_headline,
    ground_lines,
    left_out_sentences,
    line_words,
    loads_lines,
    minutes_line,
    saving_sentence,
    spread_lines,
)


@lru_cache(maxsize=1)
def rye() -> Farm:
    """Return example A."""
    return read_farm(EXAMPLES / "rye-after-soybeans")


@lru_cache(maxsize=8)
def answered(name: str) -> FieldAnswer:
    """Return the answer for a field of example A."""
    return field_answer(rye(), name)


@pytest.mark.parametrize(
    ("heading_deg", "words"),
    [
        (0.0, "east and west (90°)"),
        (90.0, "north and south (0°)"),
        (45.0, "north-east and south-west (45°)"),
        (135.0, "north-west and south-east (135°)"),
        (85.0, "north and south (5°)"),
        (-2.5, "east and west (92.5°)"),
        (-89.98, "north and south (0°)"),
        (90.02, "north and south (0°)"),
    ],
)
def test_a_line_of_passes_has_two_ends(heading_deg: float, words: str) -> None:
    """Compass degrees clockwise from north, within half a turn, in the words of a driver."""
    assert line_words(math.radians(heading_deg)) == words


def test_the_headline_names_both_lines() -> None:
    """What a driver asks first: along what, and how far off it is covering."""
    assert field_headline(answered("A1")) == "Spread east and west (90°); cover 5° off it"


def test_minutes_are_told_to_five() -> None:
    """No false minutes; the clock only where it is really longer."""
    assert minutes_line(3721.0, 3700.0) == "1 h 00 min of driving and turning"
    assert minutes_line(3600.0, 7200.0).startswith(
        "1 h 00 min of driving and turning; 2 h 00 min by"
    )


def test_a_saving_under_the_noise_is_called_so() -> None:
    """A minute in two hours is luck of where the first pass falls."""
    one = answered("A1").spread
    assert saving_sentence(one).startswith("Along the longest side")
    plan = replace(one.plan, longest_edge_s=one.plan.work_s + 30.0)
    noise = replace(one, plan=plan, saved_s=30.0, saving_is_noise=True)
    assert "too little to tell" in saving_sentence(noise)
    plan = replace(one.plan, longest_edge_s=one.plan.work_s + 900.0)
    real = replace(one, plan=plan, saved_s=900.0, saving_is_noise=False)
    assert "too little" not in saving_sentence(real)
    assert "against" in saving_sentence(real)


def test_the_spreader_is_told_its_order_and_its_loads() -> None:
    """Passes, rounds, and where each load runs empty."""
    answer = answered("A1")
    text = " ".join(spread_lines(rye(), answer, answer.spread))
    assert "31 passes, 40.0 ft from pass to pass" in text
    assert "1 headland round first" in text
    loads = loads_lines(rye(), answer.spread)
    assert len(loads) == len(answer.spread.loads)
    assert loads[-1].endswith("the field is done.")


def test_a_driver_by_eye_gets_marks_and_a_count() -> None:
    """Start, aim, marks, count one more or less, and the rounds last."""
    answer = answered("A4")
    text = " ".join(cover_lines(rye(), answer, answer.covers[0]))
    for words in ("Start at", "steps", "1 more or less", "headland rounds last", "You lap 3.0 ft"):
        assert words in text


def test_water_holds_the_first_pass_off() -> None:
    """The creek on the east of A2: first pass no nearer than the throw and the strip."""
    line, bare = edges_lines(rye(), answered("A2"))
    assert line.startswith("East side (water): middle of the first pass 50 ft in.")
    assert bare.startswith("In all ")


def test_ground_is_never_called_all_covered() -> None:
    """Worked once, twice, missed as planned, and that a driver leaves more."""
    lines = ground_lines(answered("A1"), "us")
    assert all("A driver leaves more" in line for line in lines[:2])
    assert "Area: outline 79.07 ac." in lines


def test_areas_that_differ_are_flagged_and_not_altered() -> None:
    """A3: the office has 4.4 % more; all three are told as they are."""
    text = " ".join(acres_sentences(answered("A3"), "us"))
    assert "outline 28.17 ac, driven 28.40 ac, office 29.40 ac" in text
    assert "4.4 % apart" in text


def test_what_is_left_out_comes_back_as_a_list() -> None:
    """A wet hole of 0.4 ac off 59.31 ac, with a box to tick; a rock pile is not come back to."""
    left = (
        LeftOut(field="A4", what="wet hole", area_m2=0.4 * ACRE_M2, note="north end"),
        LeftOut(field="A4", what="rock pile", area_m2=0.1 * ACRE_M2, come_back=False),
    )
    lines = left_out_sentences(left, 58.81 * ACRE_M2, "us")
    assert lines[0].startswith(
        "Left out: wet hole 0.40 ac, rock pile 0.10 ac. For the record 58.81"
    )
    assert lines[1:] == ["[ ] Come back to: wet hole, 0.40 ac (north end)"]
    assert left_out_sentences((), 0.0, "us") == []
