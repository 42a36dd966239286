"""Letters that the typeface lacks."""

from __future__ import annotations

import pytest

from duskline.draw.typeface import in_typeface


@pytest.mark.parametrize(
    ("read", "set_as"),
    [
        ("North forty, 78 ac", "North forty, 78 ac"),
        ("Café Niño", "Café Niño"),
        ("two\nlines", "two\nlines"),
        ("\U0001f33e wheat", "? wheat"),
        ("Поле", "????"),
        ("北", "?"),
    ],
)
def test_a_letter_the_typeface_lacks_is_drawn_as_a_question_mark(read: str, set_as: str) -> None:
    """What it has stays; so do line ends."""
    assert in_typeface(read) == set_as
