"""Aim marks in words: corners by the compass, distances by feet, metres and steps."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
from made_folders import EXAMPLES
from ragged_fields import ragged_field
from told_marks import told_line_m, told_mark_m, told_start_m

from duskline.answers.drive import drive_field
from duskline.core.aim_mark import FirstPass, first_pass
from duskline.core.farm import Edge
from duskline.core.lap import CheckMark, check_marks, count_check
from duskline.core.outline import Outline, sides
from duskline.core.passes import PassPlan
from duskline.exchange.farmfolder import read_farm
from duskline.units import System
from duskline.words import aim
from duskline.words.aim import (
    Language,
    Way,
    aim_sentence,
    check_mark_sentences,
    compass_deg,
    corner_name,
    count_sentences,
    ground,
    heading_words,
    order_sentence,
    rounds_sentence,
    side_name,
)

STRAIGHT_M = 1.0
RYE = read_farm(EXAMPLES / "rye-after-soybeans")
SYSTEMS: tuple[System, ...] = get_args(System)
OBLONG = Outline(exterior_m=np.array([[0, 0], [800, 0], [800, 400], [0, 400]], dtype=float))
NOTCHED = Outline(
    exterior_m=np.array(
        [[0, 0], [260, 0], [260, 130], [200, 130], [200, 210], [0, 210]], dtype=float
    )
)


def _first(
    outline: Outline, start_m: tuple[float, float], heading_deg: float, length_m: float
) -> FirstPass:
    """Return the marks of a pass drawn by hand: where it starts, its heading, its length."""
    heading = math.radians(heading_deg)
    end_m = (
        start_m[0] + length_m * math.cos(heading),
        start_m[1] + length_m * math.sin(heading),
    )
    found = sides(outline, straight_within_m=STRAIGHT_M)
    return first_pass(np.array([start_m, end_m]), straight_sides=found, drawn_sides=found)


SLANTED = _first(OBLONG, (16.0, 20.0), 5.0, 770.0)


@pytest.mark.parametrize(
    ("left_of_east_deg", "degrees", "words"),
    [
        (90.0, 0.0, "north (0°)"),
        (0.0, 90.0, "east (90°)"),
        (5.0, 85.0, "east, a little north (85°)"),
        (-5.0, 95.0, "east, a little south (95°)"),
        (185.0, 265.0, "west, a little south (265°)"),
        (95.0, 355.0, "north, a little west (355°)"),
        (45.0, 45.0, "north-east (45°)"),
        (240.0, 210.0, "south-west (210°)"),
        (90.3, 359.7, "north (0°)"),
    ],
)
def test_headings_are_compass_words_and_degrees(
    left_of_east_deg: float, degrees: float, words: str
) -> None:
    """Counter-clockwise from east inside, clockwise from north on the card."""
    assert compass_deg(math.radians(left_of_east_deg)) == pytest.approx(degrees)
    assert heading_words(math.radians(left_of_east_deg)) == words


def test_headings_in_spanish_keep_their_degrees() -> None:
    """85 degrees is 85 degrees in both languages."""
    assert heading_words(math.radians(5.0), "es") == "este, un poco al norte (85°)"


@pytest.mark.parametrize(
    ("corner", "name"),
    [
        ((0.0, 0.0), "the south-west corner"),
        ((800.0, 0.0), "the south-east corner"),
        ((800.0, 400.0), "the north-east corner"),
        ((0.0, 400.0), "the north-west corner"),
    ],
)
def test_a_long_field_has_the_same_four_corners_as_a_square_one(
    corner: tuple[float, float], name: str
) -> None:
    """Twice as long as wide, and still a north-east corner."""
    assert corner_name(OBLONG, corner, straight_within_m=STRAIGHT_M) == name


def test_a_notch_has_an_inside_corner() -> None:
    """The corner beside the graveyard, where the field bends in, is called so."""
    name = corner_name(NOTCHED, (200.0, 130.0), straight_within_m=STRAIGHT_M)
    assert name.startswith("the inside corner on the ")


def test_no_two_corners_of_a_field_have_one_name() -> None:
    """A field with two corners to the north-east tells them apart by how far north they lie."""
    ragged = Outline(
        exterior_m=np.array(
            [[0, 0], [400, 0], [400, 260], [340, 300], [300, 400], [0, 400]], dtype=float
        )
    )
    for language in ("en", "es"):
        names = [
            corner_name(ragged, tuple(c), straight_within_m=STRAIGHT_M, language=language)
            for c in ragged.exterior_m.tolist()
        ]
        assert len(set(names)) == len(names)


def test_sides_are_called_by_where_they_face() -> None:
    """The side from corner to corner along the bottom of the map is the south side."""
    names = [side_name(side) for side in sides(OBLONG, straight_within_m=STRAIGHT_M)]
    assert sorted(names) == ["east", "north", "south", "west"]
    bottom = next(
        side
        for side in sides(OBLONG, straight_within_m=STRAIGHT_M)
        if side.start_m[1] == 0.0 == side.end_m[1]
    )
    assert side_name(bottom) == "south"


def test_the_mark_stands_where_the_line_meets_the_far_side() -> None:
    """5 degrees off the long side of 800 x 400 m, from a point 16 m east and 20 m north.

    By hand: over the 784 m to the east side it gains 784 tan 5 = 68.6 m, so the mark stands
    88.6 m north of the south-east corner, which is to its left for a driver going east.
    """
    text = aim_sentence(OBLONG, SLANTED, "metric", straight_within_m=STRAIGHT_M)
    assert text == (
        "Start on the south side: 16 m east of the south-west corner, then 20 m in. "
        "Drive at a post or flag on the east side, 89 m north of the south-east corner."
    )


def test_a_pass_that_cuts_a_corner_starts_and_ends_on_the_sides_it_meets() -> None:
    """From 12 m beside the west side down to the south side: both distances from one corner.

    By hand: 60 m north and 12 m in; 8 degrees right of east it falls 60 m over 426.9 m, so the
    mark stands 438.9 m east of the corner; nearer, 361.1 m, to the other end of that side.
    """
    first = _first(OBLONG, (12.0, 60.0), -8.0, 350.0)
    text = aim_sentence(OBLONG, first, "metric", straight_within_m=STRAIGHT_M)
    assert text == (
        "Start on the west side: 60 m north of the south-west corner, then 12 m in. "
        "Drive at a post or flag on the south side, 361 m west of the south-east corner."
    )


def test_a_start_that_no_side_lies_squarely_by_is_told_past_a_corner() -> None:
    """In the middle of a star with four long points: on in line with a side, then in."""
    tips = [(300.0, 0.0), (0.0, 300.0), (-300.0, 0.0), (0.0, -300.0)]
    dents = [(14.0, 14.0), (-14.0, 14.0), (-14.0, -14.0), (14.0, -14.0)]
    ring_m = [corner for pair in zip(tips, dents, strict=True) for corner in pair]
    star = Outline(exterior_m=np.asarray(ring_m))
    first = _first(star, (3.0, 1.0), 2.0, 100.0)
    text = aim_sentence(star, first, "metric", straight_within_m=STRAIGHT_M)
    assert text.startswith("Start in line with the ")
    (place_m,) = told_start_m(text, star, straight_within_m=STRAIGHT_M)
    assert math.dist(place_m, (3.0, 1.0)) <= 1.0


@pytest.mark.parametrize("seed", range(16))
@pytest.mark.parametrize("flagged", [False, True])
def test_the_words_lead_to_the_start_of_pass_1_and_along_it(seed: int, *, flagged: bool) -> None:
    """Worked back into x and y the told places lie within 1 m, for every machine, ragged ground.

    A flagged side holds the spreader off it: its marks are told from the field's own corners.
    """
    outline = ragged_field(seed)
    edges = (Edge(side="east", kind="water"),) if flagged else ()
    field = replace(
        RYE.fields[0], outline=outline, drive_outline=None, edges=edges,
        area_m2=outline.area_m2, gates_m=(),
    )  # fmt: skip
    plan = drive_field(RYE, field, spreaders=RYE.spreaders, machines=RYE.cultivators)
    plans = [*plan.spreads.values(), *plan.covers.values()]
    assert any(len(one.passes_m) for one in plans)
    for one in plans:
        if len(one.passes_m):
            leads_to_pass_1(outline, one)


def leads_to_pass_1(outline: Outline, plan: PassPlan) -> None:
    """Hold the told start and mark against the first pass itself."""
    first, (start_m, end_m) = plan.first, plan.passes_m[0]
    assert first is not None
    ahead = (end_m - start_m) / math.dist(start_m, end_m)
    for system in SYSTEMS:
        text = aim_sentence(outline, first, system, straight_within_m=STRAIGHT_M, pace_m=0.75)
        line_m = told_line_m(text, outline)
        if line_m is not None:
            east_m, north_m = line_m - start_m
            assert abs(ahead[0] * north_m - ahead[1] * east_m) <= 1.0, text
            continue
        (told_m,) = told_start_m(text, outline, straight_within_m=STRAIGHT_M)
        assert math.dist(told_m, start_m) <= 1.0, text
        (mark_m,) = told_mark_m(text, outline, straight_within_m=STRAIGHT_M)
        east_m, north_m = mark_m - start_m
        assert abs(ahead[0] * north_m - ahead[1] * east_m) <= 1.0, text
        assert (mark_m - end_m) @ ahead >= -2.0, text


def test_the_corners_of_half_a_circle_are_two_and_the_rest_are_bends() -> None:
    """They used to be one of 5 east and one of 5 west corners."""
    half = Outline(exterior_m=ROUND.exterior_m[:37])
    names = [
        corner_name(half, side.start_m, straight_within_m=STRAIGHT_M)
        for side in sides(half, straight_within_m=STRAIGHT_M)
    ]
    assert {name for name in names if "corner" in name} == {
        "the south-east corner", "the south-west corner",
    }  # fmt: skip
    assert len(set(names)) == len(names)
    assert all("bend" in name or "corner" in name for name in names)


ROUND = Outline(
    exterior_m=np.array(
        [
            (400.0 + 390.0 * math.cos(turn), 400.0 + 390.0 * math.sin(turn))
            for turn in np.arange(72) * math.tau / 72.0
        ]
    )
)
"""Drawn with 72 corners of 5 degrees, none of which is one on the ground."""


def test_a_round_field_has_no_corner_and_others_have() -> None:
    """An eight-cornered field still has corners; so has half a circle."""
    assert not aim.has_corners(ROUND, straight_within_m=STRAIGHT_M)
    eight = Outline(exterior_m=ROUND.exterior_m[::9])
    half = Outline(exterior_m=ROUND.exterior_m[:37])
    for outline in (eight, half, OBLONG, NOTCHED):
        assert aim.has_corners(outline, straight_within_m=STRAIGHT_M)


@pytest.mark.parametrize("heading_deg", [0.0, 90.0, 133.0, 268.0])
@pytest.mark.parametrize("in_m", [20.0, 95.0])
def test_on_a_round_field_pass_1_is_told_from_the_outermost_point(
    heading_deg: float, in_m: float
) -> None:
    """It used to count 24 corners. The told line, worked back, is the line of pass 1 to 1 m.

    Off the told point by 10 m along the edge, the line would be off by 10 x 10 / (2 x 390) m.
    """
    heading = math.radians(heading_deg)
    ahead, left = (
        np.array([math.cos(way), math.sin(way)]) for way in (heading, heading + math.pi / 2.0)
    )
    middle_m = np.array([400.0, 400.0]) + (390.0 - in_m) * left
    half_m = math.sqrt(390.0**2 - (390.0 - in_m) ** 2) - 15.0
    start_m = middle_m - half_m * ahead
    first = _first(ROUND, (float(start_m[0]), float(start_m[1])), heading_deg, 2.0 * half_m)
    text = aim_sentence(ROUND, first, "metric", straight_within_m=STRAIGHT_M, pace_m=0.75)
    assert "corner" not in text
    told_m = told_line_m(text, ROUND)
    assert told_m is not None
    assert abs(float((told_m - start_m) @ left)) <= 1.0
    side, end = re.findall(r"(?:on|towards) the ([a-z-]+) side", text)
    seen = (
        compass_deg(math.atan2(*reversed(point - [400.0, 400.0])))
        for point in (start_m, middle_m + half_m * ahead)
    )
    winds = [aim.WINDS["en"][round(degrees / 45.0) % 8] for degrees in seen]
    assert [side, end] == winds


def test_a_round_field_reads_the_same_in_both_languages() -> None:
    """Same figures; neither speaks of corners."""
    first = _first(ROUND, (200.0, 700.0), 0.0, 400.0)
    english, spanish = (
        aim_sentence(ROUND, first, "us", straight_within_m=STRAIGHT_M, language=language)
        for language in ("en", "es")
    )
    assert english == (
        "Start on the north-west side. The middle of pass 1 runs 295 ft in from the point of the "
        "field farthest north (0°). Drive towards the north-east side."
    )
    assert spanish == (
        "Empiece en el lado noroeste. El centro de la pasada 1 va a 295 ft adentro del punto del "
        "lote más al norte (0°). Maneje hacia el lado noreste."
    )


def test_steps_are_the_told_distance_paced_off() -> None:
    """66 ft in 0.75 m steps is 27: the steps fit the feet on the card, not the hidden metres."""
    text = aim_sentence(OBLONG, SLANTED, "us", straight_within_m=STRAIGHT_M, pace_m=0.75)
    pairs = re.findall(r"(\d+) ft \((\d+) steps\)", text)
    assert len(pairs) == 3
    for feet, steps in pairs:
        assert int(steps) == round(int(feet) * 0.3048 / 0.75)
    assert [int(feet) for feet, _ in pairs] == [50, 66, 290]


def test_both_languages_say_the_same_numbers() -> None:
    """A Spanish card never sends the driver to another post."""
    for outline, first in (
        (OBLONG, SLANTED),
        (NOTCHED, _first(NOTCHED, (250.0, 20.0), 175.0, 230.0)),
        (NOTCHED, _first(NOTCHED, (25.0, 10.0), 95.0, 185.0)),
    ):
        english, spanish = (
            aim_sentence(
                outline,
                first,
                "us",
                straight_within_m=STRAIGHT_M,
                pace_m=0.75,
                language=language,
            )
            for language in ("en", "es")
        )
        assert re.findall(r"\d+", english) == re.findall(r"\d+", spanish)
        assert english != spanish


def test_spanish_straight_is_not_spanish_right() -> None:
    """Derecho (straight) beside derecha (right) would mislead; the card says recto."""
    text = aim_sentence(OBLONG, SLANTED, "us", straight_within_m=STRAIGHT_M, language="es")
    assert "derecho" not in text.lower()
    assert "recto" in text


@pytest.mark.parametrize(
    ("length_m", "us", "metric"),
    [
        (42.9, "140 ft", "43 m"),
        (4.1, "13 ft", "4 m"),
        (4.3, "14 ft", "4.5 m"),
        (18.0, "60 ft", "18 m"),
    ],
)
def test_distances_are_as_near_as_they_are_paced(length_m: float, us: str, metric: str) -> None:
    """Five feet or a metre; single feet and half metres where it is short."""
    assert ground(length_m, "us") == us
    assert ground(length_m, "metric") == metric


FOOT_M = 0.3048
LANGUAGES: tuple[Language, ...] = ("en", "es")


def test_the_count_says_what_one_less_and_one_more_mean() -> None:
    """226 ft, 21 ft tool lapping 2.2 ft: 13 passes; 12 lap 2.2 ft, 14 lap 4.9 ft."""
    check = count_check(across_m=226 * FOOT_M, width_m=21 * FOOT_M, overlap_m=2.2 * FOOT_M)
    assert count_sentences(check, "us") == [
        "Count 13 passes, 1 more or less.",
        "12 means you lap 2.2 ft.",
        "14 means you lap 4.9 ft.",
    ]
    assert count_sentences(check, "metric", language="es") == [
        "Cuente 13 pasadas, 1 más o menos.",
        "12 quiere decir que traslapa 65 cm.",
        "14 quiere decir que traslapa 150 cm.",
    ]


def test_too_few_passes_are_called_strips_left_and_not_a_lap() -> None:
    """100 m with a 9 m tool and no lap: 12; 11 would leave 9 cm between passes."""
    check = count_check(across_m=100.0, width_m=9.0, overlap_m=0.0)
    assert count_sentences(check, "metric")[1] == "11 means strips are left: 10 cm between passes."
    for language in LANGUAGES:
        assert "-" not in "".join(count_sentences(check, "metric", language=language))


def test_a_field_of_one_pass_is_not_told_to_drive_none() -> None:
    """A strip 8 m wide under a 9 m tool."""
    check = count_check(across_m=8.0, width_m=9.0, overlap_m=0.0)
    assert count_sentences(check, "us") == ["One pass does it, perhaps 2."]


def test_rounds_are_said_with_their_turn_and_their_holes() -> None:
    """The covering driver goes round last, the spreader first; a pond is gone round too."""
    assert rounds_sentence(2, last=True, holes=True) == (
        "2 headland rounds last, along every side and round every hole."
    )
    assert rounds_sentence(1, last=False) == ("1 headland round first, along every side.")
    assert rounds_sentence(0, last=True) == "No headland rounds: turn outside the field."
    assert rounds_sentence(3, last=True, language="es") == (
        "3 vueltas de cabecera al final, junto a todos los lados."
    )


@pytest.mark.parametrize(
    ("way", "step", "words"),
    [
        ("next", 1, "Drive pass beside pass, in order."),
        ("fill", 1, "Drive pass beside pass, in order."),
        ("fill", 2, "Every second pass going out; fill in the others coming back."),
        ("fill", 3, "Every third pass going out; fill in the others coming back."),
        ("fill", 5, "Every 5th pass going out; fill in the others coming back."),
    ],
)
def test_the_order_is_said_as_the_driver_counts(way: Way, step: int, words: str) -> None:
    """Skipping every second pass is said so; a skip of none is pass beside pass."""
    assert order_sentence(way, step=step) == words


def test_two_lands_name_the_first_pass_of_each() -> None:
    """Lands four passes apart: up pass 1, down pass 5."""
    assert "pass 5" in order_sentence("lands", step=4)
    assert "la 5" in order_sentence("lands", step=4, language="es")
    assert order_sentence("plain", language="es") != order_sentence("plain")


def test_after_ten_passes_the_driver_knows_where_he_should_be() -> None:
    """Tool 8.29 m a pass going east: ten passes are 82.9 m, 272 ft, up the west side."""
    marks = check_marks(
        start_m=(0.0, 4.145),
        aim_rad=0.0,
        next_on_left=True,
        driving_width_m=8.29,
        corner_m=(0.0, 0.0),
        side_end_m=(0.0, 400.0),
        every_count=10,
        passes_count=24,
    )
    found = check_mark_sentences(
        marks, "us", corner="the south-west corner", side="west", off_m=1.8, pace_m=0.75
    )
    assert found == [
        "After pass 10 you should be 272 ft (111 steps) from the south-west corner, along the "
        "west side; after pass 20, 544 ft.",
        "6 ft either way is ordinary. Nearer: you lap more than planned. Farther: you lap less, "
        "or leave strips.",
    ]
    assert check_mark_sentences((), "us", corner="the south-west corner") == []


def test_check_marks_keep_to_one_system_and_half_metres() -> None:
    """A metric card holds no foot, a US card no metre; 82.7 m is told as 82.5."""
    marks = (CheckMark(pass_number=10, from_corner_m=82.7),)
    metric = " ".join(check_mark_sentences(marks, "metric", corner="x", off_m=1.0))
    assert "82.5 m" in metric
    assert " ft" not in metric
    us = " ".join(check_mark_sentences(marks, "us", corner="x", off_m=1.0))
    assert re.search(r"\d m\b", us) is None


def test_both_languages_count_and_mark_alike() -> None:
    """Counts, marks, rounds and orders: the same numbers on the Spanish card, other words."""
    check = count_check(across_m=300.0, width_m=9.0, overlap_m=0.4)
    marks = (CheckMark(pass_number=10, from_corner_m=86.0),)
    told = {
        language: [
            *count_sentences(check, "us", language=language),
            *check_mark_sentences(
                marks, "us", corner="", off_m=1.5, pace_m=0.75, language=language
            ),
            rounds_sentence(2, last=True, holes=True, language=language),
            order_sentence("fill", step=4, language=language),
            order_sentence("lands", step=4, language=language).replace("Dos partes", "Two lands"),
        ]
        for language in LANGUAGES
    }
    for english, spanish in zip(told["en"], told["es"], strict=True):
        assert re.findall(r"\d+", english) == re.findall(r"\d+", spanish)
        assert english != spanish


@pytest.mark.parametrize(
    ("length_m", "en", "es"),
    [(0.6, "(1 step)", "(1 paso)"), (1.5, "(2 steps)", "(2 pasos)"), (0.3, "", "")],
)
def test_one_step_is_one_step_and_none_is_left_out(length_m: float, en: str, es: str) -> None:
    """At 75 cm a step: 2 ft is one step, 5 ft two, 1 ft not worth a step."""
    spoken: tuple[tuple[Language, str], ...] = (("en", en), ("es", es))
    for language, told in spoken:
        mark = CheckMark(pass_number=2, from_corner_m=length_m)
        (text,) = check_mark_sentences([mark], "us", corner="X", pace_m=0.75, language=language)
        assert told in text
        assert bool(told) == ("(" in text)
