"""The day strip: nothing collides, nothing is told by colour alone, every mark is in its place."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from draw.drawn import NS, colours, outside, overlaps, points, texts, tree
from made_days import ACRE_M2, CASES, day_of

from duskline.core.weather.opening import Reason
from duskline.draw import day_strip
from duskline.draw.ink import COLOURED, INKED, contrast
from duskline.draw.place import Box
from duskline.draw.strings import Language, because

SIZES = ((354.0, 300.0), (390.0, 320.0), (1280.0, 420.0), (532.0, 222.0))


def _strip(case: str, width: float, height: float, **options: Any) -> str:
    farm, answer = day_of(case)
    return day_strip(answer, farm.system, width=width, height=height, **options)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("case", CASES)
def test_no_label_lies_over_another(
    case: str, width: float, height: float, language: Language
) -> None:
    """On a phone, a wide screen and on paper; in both languages; none leaves the drawing."""
    drawing = _strip(case, width, height, language=language)
    assert overlaps(drawing) == []
    assert outside(drawing) == []


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("width", [354.0, 1280.0])
def test_no_pole_stands_in_a_label(case: str, width: float) -> None:
    """Upright lines pass beside the flags, never through their words."""
    drawing = _strip(case, width, 320.0)
    poles = [
        (float(e.get("x1", "0")), float(e.get("y1", "0")), float(e.get("y2", "0")))
        for e in tree(drawing).iter(f"{NS}line")
        if e.get("x1") == e.get("x2") and float(e.get("x1", "0")) > 0.0  # not a pattern's
    ]
    for written in texts(drawing):
        if " open" in written.text or "sin tapar" in written.text:
            continue  # it has its own paper under it
        for x, top, bottom in poles:
            assert not written.box.meets((x, top), (x, bottom)), written.text


@pytest.mark.parametrize("black_and_white", [False, True])
@pytest.mark.parametrize("case", CASES)
def test_text_stands_out_and_is_never_ochre(case: str, black_and_white: bool) -> None:
    """At least 7 to 1 on its paper, and 14 px or more."""
    ink = INKED if black_and_white else COLOURED
    drawing = _strip(case, 354.0, 300.0, black_and_white=black_and_white)
    for written in texts(drawing):
        assert contrast(written.fill, ink.paper) >= 7.0
        assert written.fill != COLOURED.spread
        assert written.size >= 14.0


def test_black_and_white_has_no_colour() -> None:
    """Every colour is a grey: red, green and blue alike."""
    for colour in colours(_strip("rye", 532.0, 222.0, black_and_white=True)):
        assert colour[1:3] == colour[3:5] == colour[5:7]


@pytest.mark.parametrize("black_and_white", [False, True])
def test_the_two_curves_differ_by_shape(black_and_white: bool) -> None:
    """The spread line is two rails with ticks, the covered one plain: styles, not colours.

    Drawn in black they differ by the number of strokes laid over each other and their widths.
    """
    drawing = _strip("rye", 532.0, 222.0, black_and_white=black_and_white)
    ink = INKED if black_and_white else COLOURED
    widths = [
        (e.get("stroke"), float(e.get("stroke-width", "0")), e.get("stroke-dasharray"))
        for e in tree(drawing).iter(f"{NS}path")
        if e.get("fill") == "none"
    ]
    assert (ink.spread, 7.0, None) in widths
    assert (ink.paper, 3.6, None) in widths
    assert (ink.spread, 3.6, "1.4 3.2") in widths
    assert (ink.cover, 3.6, None) in widths


def test_the_same_answer_gives_the_same_drawing() -> None:
    """Byte for byte; and another day gives another."""
    assert _strip("rye", 354.0, 300.0) == _strip("rye", 354.0, 300.0)
    assert _strip("rye", 354.0, 300.0) != _strip("rye now", 354.0, 300.0)


def test_two_drawings_on_a_page_share_no_pattern() -> None:
    """A page with two strips: the second's sky is not the first's."""
    names = [
        {element.get("id") for element in tree(_strip(case, 354.0, 300.0)).iter()} - {None}
        for case in ("rye", "oats")
    ]
    assert names[0]
    assert not names[0] & names[1]


@pytest.mark.parametrize("case", CASES)
def test_every_curve_stays_inside_the_drawing(case: str) -> None:
    """No corner of a path leaves the frame."""
    for element in tree(_strip(case, 390.0, 320.0)).iter(f"{NS}path"):
        if "A" in element.get("d", ""):
            continue  # the half sun
        for x, y in points(element):
            assert -0.5 <= x <= 390.5
            assert -0.5 <= y <= 320.5


def _covered_curve(drawing: str) -> list[tuple[float, float]]:
    return next(
        points(e)
        for e in tree(drawing).iter(f"{NS}path")
        if e.get("stroke") == COLOURED.cover and e.get("stroke-width") == "3.6"
    )


def _spread_curve(drawing: str) -> list[tuple[float, float]]:
    return next(
        points(e)
        for e in tree(drawing).iter(f"{NS}path")
        if e.get("stroke") == COLOURED.spread and e.get("stroke-width") == "7"
    )


@pytest.mark.parametrize("case", ["rye", "oats", "forty"])
def test_the_curves_rise_and_covered_stays_under_spread(case: str) -> None:
    """Area never falls along the clock; y grows downwards on a drawing."""
    drawing = _strip(case, 1280.0, 420.0)
    for curve in (_spread_curve(drawing), _covered_curve(drawing)):
        assert all(b[1] <= a[1] + 0.02 for a, b in pairwise(curve))
    top = min(y for _, y in _spread_curve(drawing))
    assert all(y >= top - 0.02 for _, y in _covered_curve(drawing))


def test_the_stop_stands_at_its_time_on_the_axis() -> None:
    """The marker lies as far between two hour labels as the stop lies between the hours."""
    _, answer = day_of("rye")
    drawing = _strip("rye", 1280.0, 420.0)
    hours = {w.text: 0.5 * (w.box.left + w.box.right) for w in texts(drawing)}
    noon, three = hours["noon"], hours["3"]
    stop = answer.stop_at.hour + answer.stop_at.minute / 60 + answer.stop_at.second / 3600
    expected = noon + (stop - 12.0) / 3.0 * (three - noon)
    mark = next(
        e for e in tree(drawing).iter(f"{NS}line")
        if e.get("stroke-width") == "2.4" and e.get("x1") == e.get("x2")
    )  # fmt: skip
    assert float(mark.get("x1", "0")) == pytest.approx(expected, abs=0.6)


def test_the_stop_is_told_rounded_down() -> None:
    """The label is at most five minutes early and never late."""
    _, answer = day_of("rye")
    label = next(w.text for w in texts(_strip("rye", 354.0, 300.0)) if w.text.startswith("stop "))
    minutes = answer.stop_at.minute // 5 * 5
    assert label == f"stop {answer.stop_at.hour - 12}:{minutes:02d} pm"


def test_hours_follow_the_readers_clock() -> None:
    """Twelve hours with noon in US units, twenty-four in metric ones."""
    us = {w.text for w in texts(_strip("rye", 1280.0, 420.0))}
    metric = {w.text for w in texts(_strip("oats", 1280.0, 420.0))}
    assert {"9 am", "noon", "1 pm"} <= us
    assert {"8:00", "13", "16"} <= metric
    assert not {"noon", "1 pm"} & metric


def test_a_hard_cut_off_is_a_wall_and_a_soft_one_is_feathered() -> None:
    """Rain is a solid line with hatching; the crew's own hour a dashed one that fades."""
    hard, soft = _strip("oats", 354.0, 300.0), _strip("rye", 354.0, 300.0)

    def walls(drawing: str) -> list[str]:
        return [e.get("stroke-width", "") for e in tree(drawing).iter(f"{NS}line")
                if e.get("stroke-width") == "5"]  # fmt: skip

    def shades(drawing: str) -> list[str]:
        return [e.get("fill-opacity", "") for e in tree(drawing).iter(f"{NS}rect")
                if e.get("fill", "").endswith("-thin)")]  # fmt: skip

    assert walls(hard)
    assert not shades(hard)
    assert not walls(soft)
    assert shades(soft) == sorted(shades(soft))
    assert len(shades(soft)) == 3
    assert any("rain" in w.text for w in texts(hard))


def test_after_now_the_spread_line_is_dashed() -> None:
    """And before now it is not; a plan made in the morning has no dashes."""

    def dashes(case: str) -> list[str | None]:
        return [
            e.get("stroke-dasharray")
            for e in tree(_strip(case, 354.0, 300.0)).iter(f"{NS}path")
            if e.get("stroke") == COLOURED.spread and e.get("stroke-width") == "7"
        ]

    assert dashes("rye now") == [None, "10 6"]
    assert dashes("rye") == [None]


def test_what_lies_open_now_is_written_in_acres() -> None:
    """103 acres spread and 52 worked in: 51 open, at every width."""
    for width in (354.0, 1280.0):
        assert any(w.text == "51 ac open" for w in texts(_strip("rye now", width, 320.0)))


def test_fills_and_moves_are_marked_where_spreading_stands_still() -> None:
    """A's day: one fill and two moves; each has its mark and its word in the key."""
    drawing = _strip("rye", 1280.0, 420.0)
    words = {w.text for w in texts(drawing)}
    assert {"fill", "move", "changeover 25 min"} <= words
    hoppers = [
        e for e in tree(drawing).iter(f"{NS}path")
        if e.get("stroke-width") == "1.7" and e.get("fill") == COLOURED.paper
    ]  # fmt: skip
    assert len(hoppers) == 2  # one on the line, one in the key


def test_without_a_second_machine_there_is_no_changeover() -> None:
    """Forty fields: every covering machine has its own driver."""
    assert not any("changeover" in w.text for w in texts(_strip("forty", 1280.0, 420.0)))


def test_a_hopeless_day_does_not_promise_that_all_gets_in() -> None:
    """It says stop now, and when work ends."""
    words = [w.text for w in texts(_strip("rye hopeless", 354.0, 300.0))]
    assert "stop now" in words
    assert any(word.startswith("work ends") for word in words)
    assert not any(word.startswith("all in") for word in words)


def test_listeners_get_the_answer_in_words() -> None:
    """Title and description say stop, end and what lies between the curves."""
    root = tree(_strip("rye", 354.0, 300.0))
    story = root.findtext(f"{NS}desc") or ""
    assert root.get("role") == "img"
    assert root.findtext(f"{NS}title") == "The day strip"
    assert "Stop spreading 2:" in story
    assert "6:15 pm" in story


def test_the_sky_is_dark_only_after_dusk() -> None:
    """On rain day work ends at three: the sky over it has no dusk in it."""
    early, late = _strip("oats", 354.0, 300.0), _strip("rye", 354.0, 300.0)
    assert COLOURED.sky[-1] not in colours(early)
    assert COLOURED.sky[-1] in colours(late)


def test_a_day_with_wind_shows_its_hole() -> None:
    """Two hours closed to spreading are shaded over the plot."""
    farm, answer = day_of("rye")
    holed = replace(
        answer, windows=replace(answer.windows, wind_holes_s=((11 * 3600.0, 13 * 3600.0),))
    )
    plain = _strip("rye", 1280.0, 420.0)
    windy = day_strip(holed, farm.system, width=1280.0, height=420.0)
    shaded = [
        [e for e in tree(d).iter(f"{NS}rect") if e.get("fill", "").endswith("-thin)")]
        for d in (plain, windy)
    ]
    assert len(shaded[1]) == len(shaded[0]) + 1


def test_labels_keep_off_the_curves() -> None:
    """The names of the curves stand beside them, never on them."""
    drawing = _strip("rye", 354.0, 300.0)
    for written in texts(drawing):
        if written.text in {"spread", "worked in"}:
            core = Box(
                left=written.box.left, top=written.box.top, right=written.box.right,
                bottom=written.box.bottom,
            )  # fmt: skip
            for curve in (_spread_curve(drawing), _covered_curve(drawing)):
                assert not any(core.meets(a, b) for a, b in pairwise(curve))


def _told(
    *points_told: tuple[int, int, float, float],
) -> tuple[tuple[datetime, float, float], ...]:
    """Moments of the rye farm's Sunday with the acres spread and covered by then."""
    zone = ZoneInfo("America/Chicago")
    return tuple(
        (datetime(2026, 10, 18, hour, minute, tzinfo=zone), s * ACRE_M2, c * ACRE_M2)
        for hour, minute, s, c in points_told
    )


def _hours(drawing: str) -> tuple[float, float]:
    """Where noon stands on the drawing, and how wide an hour is. [px]"""
    place = {w.text: 0.5 * (w.box.left + w.box.right) for w in texts(drawing)}
    return place["noon"], (place["3"] - place["noon"]) / 3.0


MORNING = _told((9, 30, 0, 0), (11, 0, 0, 0), (12, 30, 103, 20), (13, 15, 103, 52))


def test_the_past_is_drawn_as_it_was_told() -> None:
    """Nothing spread before 11:00: the line lies on the axis until then, and turns there."""
    drawing = _strip("rye now", 1280.0, 420.0, told=MORNING)
    noon, hour = _hours(drawing)
    for curve in (_spread_curve(drawing), _covered_curve(drawing)):
        floor = curve[0][1]
        corner = next(one for one, after in pairwise(curve) if after[1] < floor - 0.1)
        assert corner[0] == pytest.approx(noon - hour, abs=0.6)
        assert corner[1] == pytest.approx(floor, abs=0.1)


def test_the_spread_line_is_dashed_from_the_last_telling_on() -> None:
    """Told until 12:30, now 13:15: what lies between is reckoned, not told."""
    told = _told((9, 30, 0, 0), (12, 30, 90, 40), (13, 15, 90, 40))
    drawing = _strip("rye now", 1280.0, 420.0, told=told)
    noon, hour = _hours(drawing)
    assert _spread_curve(drawing)[-1][0] == pytest.approx(noon + 0.5 * hour, abs=0.6)
    thick = next(
        points(e) for e in tree(drawing).iter(f"{NS}path")
        if e.get("stroke") == COLOURED.cover and e.get("stroke-width") == "6.5"
    )  # fmt: skip
    assert thick[-1][0] == pytest.approx(noon + 0.5 * hour, abs=0.6)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_stop_that_happened_stands_where_it_happened(
    width: float, height: float, language: Language
) -> None:
    """Stopped at 12:30: its mark stands there and says so; nobody is told to stop now."""
    stopped_at = MORNING[2][0]
    drawing = _strip("rye now", width, height, told=MORNING, stopped_at=stopped_at,
                     language=language)  # fmt: skip
    said = {w.text: w for w in texts(drawing)}
    text = {"en": "stopped 12:30 pm", "es": "paró 12:30 pm"}[language]
    assert text in said
    assert not any(one.startswith(("stop ", "pare ")) for one in said)
    assert overlaps(drawing) == []
    assert outside(drawing) == []
    if width > 1000.0 and language == "en":
        noon, hour = _hours(drawing)
        mark = next(
            e for e in tree(drawing).iter(f"{NS}line")
            if e.get("stroke-width") == "2.4" and e.get("x1") == e.get("x2")
        )  # fmt: skip
        assert float(mark.get("x1", "0")) == pytest.approx(noon + 0.5 * hour, abs=0.6)
        assert "stopped 12:30 pm" in (tree(drawing).findtext(f"{NS}desc") or "")


def test_ground_open_in_the_morning_lies_open_from_the_start() -> None:
    """20 acres lay open: the spread line begins over the covered one."""
    told = _told((9, 30, 20, 0), (11, 0, 60, 20), (13, 15, 103, 52))
    drawing = _strip("rye now", 1280.0, 420.0, told=told)
    assert _covered_curve(drawing)[0][1] - _spread_curve(drawing)[0][1] > 20.0


@pytest.mark.parametrize("reason", list(Reason))
def test_every_reason_has_its_words(reason: Reason) -> None:
    """What opens or closes work is told in Spanish too, never by its English name."""
    spanish = because("es", str(reason))
    assert spanish != str(reason)
    assert reason is Reason.STATED or spanish
