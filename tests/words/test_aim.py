"""Aim marks in words: corners by the compass, distances by feet, metres and steps."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from duskline.core.outline import Outline, sides
from duskline.core.passes import Driving, PassPlan, plan_at_heading
from duskline.words.aim import (
    aim_sentence,
    compass_deg,
    corner_name,
    ground,
    heading_words,
    side_name,
)

STRAIGHT_M = 1.0
OBLONG = Outline(exterior_m=np.array([[0, 0], [800, 0], [800, 400], [0, 400]], dtype=float))
NOTCHED = Outline(
    exterior_m=np.array(
        [[0, 0], [260, 0], [260, 130], [200, 130], [200, 210], [0, 210]], dtype=float
    )
)


def _plan(outline: Outline, heading_deg: float, width_m: float = 8.0) -> PassPlan:
    driving = Driving(driving_width_m=width_m, speed_mps=2.5, turn_s=20.0, turning_depth_m=16.0)
    return plan_at_heading(
        outline,
        heading_rad=math.radians(heading_deg),
        driving=driving,
        straight_within_m=STRAIGHT_M,
    )


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
    """5 degrees off the long side of 800 x 400 m, rounds 2 x 8 m deep.

    By hand: the pass clears the corner of what the headland leaves at (16, 16); its middle lies
    between 16 and 24 m north there, and over 784 m it gains 784 tan 5 = 68.6 m: the mark stands
    84.6 to 92.6 m north of the south-east corner, which is to its left for a driver going east.
    """
    plan = _plan(OBLONG, 5.0)
    assert plan.first is not None
    text = aim_sentence(OBLONG, plan.first, "metric", straight_within_m=STRAIGHT_M)
    found = re.fullmatch(
        r"Start at the south-west corner, (\d+) m in from the south side\. "
        r"Drive at a post or flag (\d+) m to the left of the south-east corner\.",
        text,
    )
    assert found is not None, text
    assert 16 <= int(found[1]) <= 24
    assert 84 <= int(found[2]) <= 93


def test_steps_are_the_told_distance_paced_off() -> None:
    """65 ft in 0.75 m steps is 26: the steps fit the feet on the card, not the hidden metres."""
    plan = _plan(OBLONG, 5.0)
    assert plan.first is not None
    text = aim_sentence(OBLONG, plan.first, "us", straight_within_m=STRAIGHT_M, pace_m=0.75)
    pairs = re.findall(r"(\d+) ft \((\d+) steps\)", text)
    assert len(pairs) == 2
    for feet, steps in pairs:
        assert int(steps) == round(int(feet) * 0.3048 / 0.75)
        assert int(feet) % 5 == 0


def test_both_languages_say_the_same_numbers() -> None:
    """A Spanish card never sends the driver to another post."""
    for outline, degrees in ((OBLONG, 5.0), (NOTCHED, 175.0), (NOTCHED, 95.0)):
        plan = _plan(outline, degrees, width_m=5.0)
        assert plan.first is not None
        english, spanish = (
            aim_sentence(
                outline,
                plan.first,
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
    plan = _plan(OBLONG, 5.0)
    assert plan.first is not None
    text = aim_sentence(OBLONG, plan.first, "us", straight_within_m=STRAIGHT_M, language="es")
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
