"""A field in sentences: lines of driving, minutes, savings, loads, areas, what is left out."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from made_fields import drawn, rectangle
from made_folders import ACRE_M2, EXAMPLES

from duskline.answers.field import FieldAnswer, field_answer
from duskline.core.farm import Farm, LeftOut
from duskline.core.outline import Outline
from duskline.core.passes import pass_numbers
from duskline.exchange.farmfolder import read_farm
from duskline.words.field import (
    acres_sentences,
    by_eye_sentences,
    counted_sentences,
    cover_lines,
    edges_lines,
    empty_at,
    field_headline,
    ground_lines,
    left_out_sentences,
    line_words,
    loads_lines,
    minutes_line,
    missed_sentences,
    passes_words,
    saving_sentence,
    slope_sentences,
    spread_lines,
    way_words,
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
    for words in ("Start on", "steps", "1 more or less", "headland rounds last", "You lap 3.0 ft"):
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


def on(outline: Outline, **changed: Any) -> FieldAnswer:
    """Return the answer of A1 with another outline and other facts."""
    field = replace(
        rye().fields[0], outline=outline, drive_outline=None, area_m2=outline.area_m2, gates_m=(),
        **changed,
    )  # fmt: skip
    return field_answer(replace(rye(), fields=(field,)), field.name)


def test_a_strip_says_its_one_pass_and_no_angle() -> None:
    """2,000 x 20 m: rounds and 1 pass between them, on every line; nothing is turned off it."""
    answer = on(rectangle(2000.0, 20.0))
    assert field_headline(answer) == (
        "Spread in rounds alone; cover in rounds and 1 pass between them"
    )
    for cover in answer.covers:
        lines = cover_lines(rye(), answer, cover)
        assert lines[0].startswith("Rounds and 1 pass between them do this field")
        text = " ".join(lines)
        for words in ("0 passes", "turned", "Count", "keep step", "°) to the spread"):
            assert words not in text


def test_ground_too_narrow_for_the_tool_is_told_with_what_to_do() -> None:
    """A triangle of half a hectare: 4 % missed by both; a good field says nothing."""
    answer = on(drawn("0,0 90,0 0,50"))
    text = " ".join(ground_lines(answer, "us"))
    for cover in answer.covers:
        assert cover.misses_ground
        assert f"{cover.machine} is too wide" in text
    assert "left_out in farm.toml" in text
    assert "too wide" not in " ".join(ground_lines(answered("A1"), "us"))
    first, second = answer.covers
    gets_in = replace(second, misses_ground=False)
    one = missed_sentences(replace(answer, covers=(first, gets_in)), first, "us")
    assert f"let {second.machine} do the field" in one[0]


def test_fuel_of_a_small_field_is_not_none() -> None:
    """Half a hectare takes under a gallon: two figures, never 0 gal."""
    answer = on(drawn("0,0 90,0 0,50"))
    line = spread_lines(rye(), answer, answer.spread)[-1]
    figures = [float(one) for one in re.findall(r"([\d.]+) gal", line)]
    assert len(figures) == 3
    assert 0.0 < figures[1] < figures[0] < figures[2] < 1.0


def test_loads_end_at_passes_counted_as_on_the_sheet() -> None:
    """No runs: the pass and its end, a place in one, a leg of the rounds, a short run beside."""
    answer = answered("A5")
    spread, plan = answer.spread, answer.spread.plan
    load = spread.loads[-1]
    begin = spread.first_run_index
    lines = loads_lines(rye(), spread)
    assert " run " not in " ".join(lines)
    last = pass_numbers(plan)[load.last_index - begin]
    assert f"end of pass {last}, the field is done." in lines[-1]
    assert (
        empty_at(spread, replace(load, last_index=0)) == "the end of leg 1 of the headland rounds"
    )
    mid = empty_at(spread, replace(load, last_index=begin, at_run_end=False))
    assert re.fullmatch(r"a place in pass 1, before its (north|south|east|west) end", mid)
    beside = replace(plan, block_indices=np.full(len(plan.passes_m), len(plan.blocks)))
    odd = empty_at(replace(spread, plan=beside), load)
    assert odd.endswith(" end of a short run beside the passes")


def test_a_round_field_is_told_without_corners() -> None:
    """A circle of 300 m: marks lie so many widths less a half from the middle of pass 1.

    It used to say "the number 3 from the east of the 9 north corners".
    """
    turns = np.arange(72) * math.tau / 72.0
    answer = on(Outline(exterior_m=300.0 * np.column_stack([np.cos(turns), np.sin(turns)])))
    told = 0
    for cover in answer.covers:
        text = " ".join(by_eye_sentences(rye(), answer, cover))
        assert "corner" not in text
        for count, feet in re.findall(r"After pass (\d+) you should be ([\d,]+) ft", text):
            width_ft = cover.plan.driving.driving_width_m / 0.3048
            want = (int(count) - 0.5) * width_ft
            assert float(feet.replace(",", "")) == pytest.approx(want, abs=0.51)
            assert "from the middle of pass 1, square across" in text
            told += 1
    assert told >= 1


def test_the_count_on_the_screen_is_that_of_the_passes() -> None:
    """Never a count beside another one: what the plan lays out is what is counted."""
    for name in ("A1", "A4", "A9"):
        answer = answered(name)
        for cover in answer.covers:
            laid = len(np.unique(cover.plan.row_indices[cover.plan.block_indices == 0]))
            assert counted_sentences(cover, "us")[0] == f"Count {laid} passes, 1 more or less."


def test_a_slope_that_was_written_is_never_passed_over() -> None:
    """Downhill without a slope is asked about; a slope says what it comes to along the passes."""
    square = rectangle(500.0, 400.0)
    bare = on(square)
    assert slope_sentences(rye(), bare, bare.spread) == []
    asks = on(square, downhill_to="east")
    (text,) = slope_sentences(rye(), asks, asks.spread)
    assert "Write slope as well" in text
    across = on(square, downhill_to="north", slope_fraction=0.08)
    (text,) = slope_sentences(rye(), across, across.spread)
    assert text == ("The slope of 8.0 % asks for no other heading: along the passes it is 0.0 %.")
    gentle = on(square, downhill_to="east", slope_fraction=0.01)
    (text,) = slope_sentences(rye(), gentle, gentle.spread)
    assert text == "The slope of 1.0 % matters little: along the passes it is 1.0 %."


@pytest.mark.parametrize("name", ["A1", "A3", "A5"])
def test_the_driver_s_part_in_spanish_has_the_figures_of_the_english_one(name: str) -> None:
    """Start, aim, marks and count: the same numbers, and no English word of the card."""
    answer = answered(name)
    for one in answer.covers:
        english, spanish = (
            " ".join([
                *by_eye_sentences(rye(), answer, one, language=language),
                *counted_sentences(one, "us", language=language),
            ])
            for language in ("en", "es")
        )  # fmt: skip
        found = re.compile(r"\d[\d,.]*\d|\d")
        assert sorted(found.findall(english)) == sorted(found.findall(spanish))
        assert re.search(r"\b(Start|Drive|corner|side|pass|passes|lap|land)\b", spanish) is None


def test_the_headline_in_spanish_has_the_lines_of_the_english_one() -> None:
    """Lines of driving, passes and runs in both languages."""
    assert field_headline(answered("A1"), "es") == (
        "Esparza este y oeste (90°); tape a 5° de esa línea"
    )
    plan = answered("A5").spread.plan
    assert passes_words(plan) == "31 passes in 35 runs"
    assert passes_words(plan, "es") == "31 pasadas en 35 tramos"
    assert way_words(plan, "es") == "norte y sur (0°)"


def test_loads_in_spanish_end_where_they_end_in_english() -> None:
    """The same weights, areas and passes, the compass point turned into Spanish."""
    spread = answered("A1").spread
    (english,), (spanish,) = (loads_lines(rye(), spread, language=one) for one in ("en", "es"))
    assert re.findall(r"[\d,.]+\d", english) == re.findall(r"[\d,.]+\d", spanish)
    assert english.endswith("empty at the east end of pass 31, the field is done.")
    assert spanish.endswith("vacía en el extremo este de la pasada 31, el lote queda listo.")


def test_every_line_of_a_field_is_there_in_spanish() -> None:
    """As many lines, the same figures in the same order, no line as in English."""
    figures = re.compile(r"\d[\d,.]*\d|\d")
    for name in ("A1", "A2", "A3", "A5"):
        farm, answer = rye(), answered(name)
        pairs = [
            (ground_lines(answer, "us"), ground_lines(answer, "us", language="es")),
            (edges_lines(farm, answer), edges_lines(farm, answer, language="es")),
            (
                spread_lines(farm, answer, answer.spread),
                spread_lines(farm, answer, answer.spread, language="es"),
            ),
            *(
                (cover_lines(farm, answer, one), cover_lines(farm, answer, one, language="es"))
                for one in answer.covers
            ),
        ]
        for english, spanish in pairs:
            assert len(english) == len(spanish)
            for told, said in zip(english, spanish, strict=True):
                assert told != said
                assert sorted(figures.findall(told.replace("One foot", "1"))) == sorted(
                    figures.findall(said.replace("Un pie", "1"))
                )


def test_all_turns_over_the_edge_are_every_turn() -> None:
    """Not "in 23 of 23"."""
    answer = answered("A3")
    turns = answer.spread.plan.turns_count
    every = replace(answer.spread, over_edge_count=turns)
    some = replace(answer.spread, over_edge_count=turns - 1)
    assert any(one.startswith("In every turn ") for one in spread_lines(rye(), answer, every))
    told = f"In {turns - 1} of {turns} turns"
    assert any(one.startswith(told) for one in spread_lines(rye(), answer, some))
