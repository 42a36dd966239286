"""Labels find places where nothing is in their way."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from duskline.draw.place import Box, Flag, Ground, flags, text_box


def _box(left: float, top: float, right: float, bottom: float) -> Box:
    return Box(left=left, top=top, right=right, bottom=bottom)


def test_boxes_overlap_when_they_share_ground() -> None:
    """Touching edges share none."""
    assert _box(0, 0, 10, 10).overlaps(_box(9, 9, 20, 20))
    assert not _box(0, 0, 10, 10).overlaps(_box(10, 0, 20, 10))
    assert not _box(0, 0, 10, 10).overlaps(_box(2, 11, 8, 20))


def test_a_line_meets_a_box_it_passes_through() -> None:
    """Also when both its ends lie outside; not when it passes by."""
    box = _box(10, 10, 20, 20)
    assert box.meets((0, 15), (30, 15))
    assert box.meets((0, 0), (30, 30))
    assert box.meets((12, 12), (14, 14))
    assert not box.meets((0, 25), (30, 25))
    assert not box.meets((0, 15), (9, 15))
    assert not box.meets((0, 30), (15, 21))


def test_the_first_free_place_is_taken_and_then_it_is_not_free() -> None:
    """The same label twice goes to two places; a third finds none."""
    ground = Ground(bounds=_box(0, 0, 200, 100))
    places = [((10.0, 30.0), "start"), ((10.0, 60.0), "start")]
    assert ground.place("open", 14.0, places) == places[0]
    assert ground.place("open", 14.0, places) == places[1]
    assert ground.place("open", 14.0, places) is None


def test_a_drawn_line_is_in_the_way() -> None:
    """A label that would stand on a curve goes elsewhere."""
    ground = Ground(bounds=_box(0, 0, 200, 100))
    ground.add_line([(0.0, 26.0), (200.0, 26.0)])
    assert ground.place("open", 14.0, [((10.0, 30.0), "start"), ((10.0, 60.0), "start")]) == (
        (10.0, 60.0),
        "start",
    )


POLES = st.lists(st.floats(0.0, 354.0), min_size=1, max_size=4)
WORDS = ("stop 2:45 pm", "all in by 6:15 pm", "now 1:15 pm", "sunset 6:28 pm")


@given(POLES)
def test_flags_never_collide_wherever_their_poles_stand(poles: list[float]) -> None:
    """No text over text, none off the drawing, none over another flag's pole below its row."""
    wanted = [Flag(x=x, text=text) for x, text in zip(poles, WORDS, strict=False)]
    placed = flags(wanted, size=15.0, left=0.0, right=354.0, rows=4, row_height=20.0)
    if placed is None:
        return
    boxes = [text_box(one.at, one.flag.text, 15.0, anchor=one.anchor) for one in placed]
    for first, second in combinations(boxes, 2):
        assert not first.overlaps(second)
    for one, box in zip(placed, boxes, strict=True):
        assert box.left >= -0.5
        assert box.right <= 354.5
        for other in placed:
            if other.row > one.row:
                assert not box.left < other.flag.x < box.right


def test_two_flags_side_by_side_fly_apart_in_one_row() -> None:
    """The left one to the left of its pole, the right one to the right."""
    wanted = [Flag(x=150.0, text="stop 2:45 pm"), Flag(x=160.0, text="now 2:50 pm")]
    placed = flags(wanted, size=15.0, left=0.0, right=354.0, rows=1, row_height=20.0)
    assert placed is not None
    assert [one.anchor for one in placed] == ["end", "start"]
    assert {one.row for one in placed} == {0}


def test_flags_that_cannot_fit_say_so() -> None:
    """Three long labels on one narrow row."""
    wanted = [Flag(x=50.0, text=text) for text in WORDS[:3]]
    assert flags(wanted, size=15.0, left=0.0, right=150.0, rows=1, row_height=20.0) is None
