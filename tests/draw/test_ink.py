"""Colours, and the small pieces of every drawing."""

from __future__ import annotations

import pytest
from draw.drawn import tree

from duskline.draw.ink import COLOURED, INKED, contrast, document, label, nice_step, number


def test_contrast_of_black_on_white_is_twenty_one() -> None:
    """The two ends of the scale of the Web Content Accessibility Guidelines."""
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#777777") == pytest.approx(1.0)


@pytest.mark.parametrize("ink", [COLOURED, INKED])
def test_text_colours_stand_out_seven_to_one(ink: object) -> None:
    """Every colour that text is set in, on its paper."""
    for name in ("text", "soft", "cover"):
        assert contrast(getattr(ink, name), ink.paper) >= 7.0  # type: ignore[attr-defined]


def test_ochre_would_not_do_for_text() -> None:
    """Why the spread line's colour is never a text colour."""
    assert contrast(COLOURED.spread, COLOURED.paper) < 7.0


def test_names_with_signs_are_escaped() -> None:
    """A field called <A&B> stays text; the drawing stays well-formed."""
    drawing = document(
        width=10, height=10, title="<A&B>", story="a < b & c",
        elements=[label((0, 5), "<A&B>", 14, fill="#000000")],
    )  # fmt: skip
    found = [element.text for element in tree(drawing).iter() if element.text]
    assert found == ["<A&B>", "a < b & c", "<A&B>"]


def test_coordinates_are_rounded_to_a_hundredth() -> None:
    """No false digits, no minus zero."""
    assert number(1.23456) == 1.23
    assert str(number(2.0)) == "2"
    assert str(number(-0.001)) == "0"


@pytest.mark.parametrize(
    ("span", "most", "step"), [(145.0, 4, 50.0), (33.0, 4, 10.0), (1.9, 4, 0.5), (420.0, 3, 200.0)]
)
def test_steps_are_ones_twos_and_fives(span: float, most: int, step: float) -> None:
    """The fewest digits that part a span in at most so many."""
    assert nice_step(span, most) == pytest.approx(step)
    assert span / step <= most
