"""The season's picture: a row for each day, and the acres against the deadline."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest
from draw.drawn import NS, colours, outside, overlaps, points, texts, tree
from hypothesis import given, settings
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.draw.ink import COLOURED
from duskline.draw.season import AcresFan, DayRow, season_picture
from duskline.units import ACRE_M2

HOUR_S = 3600.0
FIRST = date(2026, 10, 18)


def row(day: int, acres: float, begin: float = 9.5, stop: float = 15.5, **more: Any) -> DayRow:
    """A day so many days after the first, worked from ``begin`` o'clock to 18:15."""
    work: dict[str, Any] = {}
    if acres:
        work = {
            "spread_s": ((begin * HOUR_S, stop * HOUR_S),),
            "covered_s": (((begin + 0.3) * HOUR_S, 18.25 * HOUR_S),),
            "stop_s": stop * HOUR_S,
        }
    return DayRow(
        on=FIRST + timedelta(days=day), dawn_s=7.2 * HOUR_S, sunset_s=18.5 * HOUR_S,
        dusk_s=18.95 * HOUR_S, area_m2=acres * ACRE_M2, **work, **more,
    )  # fmt: skip


def fan(plan: list[float], total: float) -> AcresFan:
    """Acres that fall a quarter short in a bad season and never pass the plan's best."""

    def m2(share: float) -> tuple[float, ...]:
        return tuple(share * acres * ACRE_M2 for acres in plan)

    return AcresFan(
        plan_m2=m2(1.0), low_m2=m2(0.75), middle_m2=m2(0.95), high_m2=m2(1.05),
        total_m2=total * ACRE_M2,
    )  # fmt: skip


NINE = [
    row(0, 152.4),
    row(1, 80.8, 10.0, 13.4, shut_s=((15.0 * HOUR_S, 20.0 * HOUR_S),)),
    row(2, 0.0, closed="rain"),
    row(3, 129.6, 10.5, 15.88),
]
NINE_FAN = fan([152.4, 233.2, 233.2, 362.8], 362.8)


def picture(rows: Any = NINE, acres: Any = NINE_FAN, system: Any = "us", **options: Any) -> str:
    """The picture of the nine fields on a phone, unless told otherwise."""
    options = {"width": 390.0, "deadline": date(2026, 10, 21), **options}
    return season_picture(rows, acres, system, **options)


def heavy(drawing: str) -> list[tuple[float, float]]:
    """The corners of the plan's line."""
    (found,) = [
        one for one in tree(drawing).iter(f"{NS}path")
        if one.get("stroke-width") == "3" and one.get("stroke") == COLOURED.text
    ]  # fmt: skip
    return points(found)


@pytest.mark.parametrize("width", [354.0, 390.0, 700.0, 1100.0])
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize("count", [1, 4, 14, 62])
def test_labels_keep_apart(width: float, language: str, system: str, count: int) -> None:
    """From one day to two months, on phone and screen, with the deadline near and far."""
    rows = [row(day, 0.0 if day % 5 == 3 else 110.0, closed="rain" if day % 5 == 3 else "")
            for day in range(count)]  # fmt: skip
    acres = fan([110.0 * (day + 1) for day in range(count)], 130.0 * count)
    for deadline in (None, FIRST, FIRST + timedelta(days=count + 5), date(2026, 10, 1)):
        drawing = picture(rows, acres, system, width=width, language=language, deadline=deadline)
        assert overlaps(drawing) == []
        assert outside(drawing) == []


@settings(max_examples=30)
@given(
    st.lists(st.floats(0.0, 400.0), min_size=1, max_size=20),
    st.floats(1.0, 5000.0),
    st.integers(-3, 40),
    st.sampled_from([354.0, 500.0, 900.0]),
)
def test_no_season_makes_labels_collide(
    acres: list[float], total: float, due: int, width: float
) -> None:
    """Whatever the acres and the deadline, text keeps off text and on the drawing."""
    done = [sum(acres[: place + 1]) for place in range(len(acres))]
    drawing = picture(
        [row(day, area) for day, area in enumerate(acres)],
        fan(done, total),
        width=width,
        deadline=FIRST + timedelta(days=due),
    )
    assert overlaps(drawing) == []
    assert outside(drawing) == []


def test_each_day_has_its_acres_stop_or_reason() -> None:
    """Wide: 152.4 ac with the stop rounded down to 5 minutes; the wet day says rain."""
    said = [one.text for one in texts(picture(width=1100.0))]
    assert {"Sun 18", "152.4 ac, stop 3:30 pm", "80.8 ac, stop 1:20 pm"} <= set(said)
    assert "129.6 ac, stop 3:50 pm" in said
    assert "no work, rain" in said
    assert "deadline Oct 21" in said
    assert "all 362.8 ac" in said


def test_metric_readers_see_hectares_and_the_long_clock() -> None:
    """152.4 ac are 61.7 ha; no acre and no "pm" is left."""
    drawing = picture(system="metric", width=1100.0)
    assert "61.7 ha, stop 15:30" in drawing
    assert " ac" not in drawing
    assert " pm" not in drawing


def test_the_plan_line_is_as_high_as_its_acres() -> None:
    """Heights over the ground line go as 152.4, 233.2, 233.2, 362.8; days are equally wide."""
    corners = heavy(picture())
    ground = corners[0][1]
    heights = [ground - y for _, y in corners[1:]]
    for height, acres in zip(heights, (152.4, 233.2, 233.2, 362.8), strict=True):
        assert height / heights[-1] == pytest.approx(acres / 362.8, abs=0.001)
    steps = [b[0] - a[0] for a, b in pairwise(corners)]
    assert max(steps) - min(steps) < 0.05


def test_a_gap_in_the_dates_keeps_its_width() -> None:
    """A plan for the 18th and the 21st alone: the second step is three days wide."""
    corners = heavy(picture([NINE[0], NINE[3]], fan([152.4, 282.0], 282.0)))
    first, second = corners[1][0] - corners[0][0], corners[2][0] - corners[1][0]
    assert second == pytest.approx(3.0 * first, rel=0.001)


def test_the_deadline_stands_at_the_evening_of_its_day() -> None:
    """Due on the first of four days: a quarter of the way along."""
    drawing = picture(deadline=FIRST)
    (mark,) = [one for one in tree(drawing).iter(f"{NS}line") if one.get("stroke-width") == "4"]
    corners = heavy(drawing)
    assert float(mark.get("x1", "0")) == pytest.approx(corners[1][0], abs=0.02)


def test_closed_days_and_hours_are_hatched() -> None:
    """The day of rain from end to end, the second day from 3 pm, and the key's swatch."""
    hatched = [
        one for one in tree(picture()).iter(f"{NS}rect") if one.get("fill", "").endswith("-shut)")
    ]
    whole, part = sorted((float(one.get("width", "0")) for one in hatched), reverse=True)[:2]
    assert len(hatched) == 3
    # From 7:00 to 19:14: the light, and a little of the dark; rain from 15:00.
    assert part / whole == pytest.approx((19.25 - 15.0) / (19.25 - 7.0), abs=0.002)
    dry = picture([NINE[0]], fan([152.4], 152.4))
    assert "rain" not in dry


def test_black_and_white_has_greys_alone_and_the_same_bytes_twice() -> None:
    """Every state has its own hatch, line or word, as the printer has one ink."""
    inked = picture(black_and_white=True)
    assert inked == picture(black_and_white=True)
    for colour in colours(inked):
        assert colour[1:3] == colour[3:5] == colour[5:7]
    fills = {one.get("id", "").rsplit("-", 1)[1] for one in tree(inked).iter(f"{NS}pattern")}
    assert {"shut", "spread", "band", "dark"} <= fills


def test_listeners_hear_the_season() -> None:
    """The description gives days, closed days, acres by the end and the deadline."""
    story = next(tree(picture()).iter(f"{NS}desc")).text or ""
    assert "4 days from Oct 18 to Oct 21, 1 of them without work" in story
    assert "362.8 ac of 362.8 ac" in story
    assert "272.1 ac to 380.9 ac" in story
    assert "Deadline Oct 21" in story


def test_a_reason_with_markup_stays_text() -> None:
    """A word from a file cannot become part of the drawing."""
    drawing = picture([row(0, 0.0, closed="<b>&rain")], None)
    assert "<b>&rain" in [one.text for one in texts(drawing)]


def test_what_cannot_be_a_season_is_refused() -> None:
    """No day, dates going back, a fan of another length, a span ending before it begins."""
    with pytest.raises(OutOfRange):
        picture([], None)
    with pytest.raises(OutOfRange):
        picture([NINE[1], NINE[0]], None)
    with pytest.raises(OutOfRange):
        picture(NINE[:2], NINE_FAN)
    with pytest.raises(OutOfRange):
        row(0, 10.0, 16.0, 15.0)
