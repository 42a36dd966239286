"""The Covering page: what comes first, overlap, points, cards, evenness, units, strange names."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, datetime
from functools import cache
from pathlib import Path

import pytest
from made_folders import copy_of
from pages_read import IMPERIAL, METRIC, Asking, asking

from duskline.answers.day import DayQuestion, day_answer
from duskline.answers.evenness import EvennessAnswer, evenness_answer
from duskline.answers.lap import lap_answers
from duskline.answers.points import PointsAnswer, points_answer
from duskline.core.log import Event
from duskline.exchange.farmfolder import read_farm
from duskline.exchange.season_plan import KeptPlan, KeptStop, keep_plan
from duskline.words import evenness as even_words
from duskline.words import points as point_words
from duskline.words.lap import advised_sentence, lap_headline

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
RYE, NOON = "rye-after-soybeans", "2026-10-18T13:00:00-05:00"
OATS, MORNING = "oats-and-radish", "2026-03-01T09:00:00+13:00"
EVENNESS = "/covering/evenness?field="
GROUND = "/covering/ground?field="


@pytest.fixture
def rye(tmp_path: Path) -> Iterator[Asking]:
    """Yield the rye farm at noon of its first day."""
    with asking(copy_of(RYE, tmp_path), NOON) as found:
        yield found


@pytest.fixture
def oats(tmp_path: Path) -> Iterator[Asking]:
    """Yield the metric farm in the morning."""
    with asking(copy_of(OATS, tmp_path), MORNING) as found:
        yield found


@cache
def points_of(example: str) -> PointsAnswer:
    """Return the points of an example in the order of its first day's plan, then of its folder."""
    farm = read_farm(EXAMPLES / example)
    on = date.fromisoformat({RYE: NOON, OATS: MORNING}[example][:10])
    today = [one.name for one in day_answer(farm, DayQuestion(on=on)).fields]
    by_name = {one.name: one.record_area_m2 for one in farm.fields}
    order = dict.fromkeys((*today, *by_name))
    return points_answer(farm, tuple((name, by_name[name]) for name in order))


@cache
def evenness_of(name: str) -> EvennessAnswer:
    """Return how even a field of the rye farm lies."""
    return evenness_answer(read_farm(EXAMPLES / RYE), name, with_map=False)


def first_line(page_html: str) -> str:
    """Return the one answer of a page."""
    return page_html.split('<p class="say" lang="en">')[1].split("</p>", maxsplit=1)[0]


def swaps_of(page_html: str) -> list[str]:
    """Return where each row is swapped, as the page lists it."""
    return re.findall(r'name="swap-\d+"[^>]*><span>([^<]*)</span>', page_html)


# --------------------------------------------------------------------------- what comes first


def test_a_swap_to_come_leads_where_no_ground_is_lost_by_the_overlap(rye: Asking) -> None:
    """The sure side first, the likely one after it; the overlap in a line of its own."""
    told = point_words.headline(points_of(RYE), "us")
    sure, likely = told.split("; ")
    page = rye.get("/covering").text
    assert first_line(page) == sure
    assert f"{likely[:1].upper()}{likely[1:]}" in page
    assert "You lap 3.0 ft: more than you need." in page


def test_strips_left_bare_lead_before_a_swap_to_come(tmp_path: Path) -> None:
    """Every pass of a machine that laps too little leaves seed bare; the swap has time."""
    folder = copy_of(RYE, tmp_path, farm_toml=[('overlap = "0.5 ft"', 'overlap = "0 ft"')])
    lap = lap_answers(read_farm(folder))[1]
    with asking(folder, NOON) as farm:
        page = farm.get("/covering").text
    assert first_line(page) == lap_headline(lap, "us") == "Cultivator 2: lap 0.2 ft to 0.4 ft"
    assert "You lap 0.0 ft: strips will be left." in page
    assert point_words.headline(points_of(RYE), "us") in page


def test_points_that_are_due_lead_before_everything(tmp_path: Path) -> None:
    """A row at its limit is swapped before the next pass, whatever the overlap."""
    folder = copy_of(
        RYE, tmp_path,
        farm_toml=[
            ('overlap = "0.5 ft"', 'overlap = "0 ft"'),
            ('worn = ["11 mm", "14 mm"]', 'worn = ["30 mm", "31 mm"]'),
        ],
    )  # fmt: skip
    with asking(folder, NOON) as farm:
        page = farm.get("/covering").text
    assert "behind the wheels of Cultivator 1" in first_line(page)
    assert "now" in first_line(page)
    assert "You lap 0.0 ft: strips will be left." in page


def test_overlap_driven_for_nothing_leads_where_the_points_last(oats: Asking) -> None:
    """No swap falls into the job, and half a metre of every pass is driven twice."""
    page = oats.get("/covering").text
    assert first_line(page) == "Tines 6: lap 10 cm to 30 cm"
    assert "The rows measured last the job" in page


# --------------------------------------------------------------------------- figures


def test_every_machine_has_its_overlap_and_what_it_leaves(rye: Asking) -> None:
    """The sentences of the answers, in the reader's units."""
    page = rye.read("/covering")
    metric = rye.read("/covering", units="metric")
    for lap in lap_answers(read_farm(EXAMPLES / RYE)):
        assert advised_sentence(lap.advised, now_m=lap.overlap_m, system="us") in page.text
        assert advised_sentence(lap.advised, now_m=lap.overlap_m, system="metric") in metric.text


def test_every_row_has_its_wear_and_the_ground_it_has_left(rye: Asking) -> None:
    """The bar is the wear beside the limit; the swaps stand in the order of the fields."""
    answer, page = points_of(RYE), rye.read("/covering")
    assert page.values("data-row") == [row.row for row in answer.rows]
    bars = [attrs for tag, attrs in page.elements if tag == "progress"]
    for row, bar in zip(answer.rows, bars, strict=True):
        assert float(bar["value"]) == pytest.approx(row.wear.worn_m, abs=1e-5)
        assert float(bar["max"]) == pytest.approx(row.limit_m, abs=1e-5)
        assert point_words.left_words(row, "us") in page.text
    swaps = point_words.swap_lines(answer, "us")
    places = [page.text.index(text) for text in swaps]
    assert places == sorted(places)
    assert len(places) == 3


def test_level_and_pokes_stand_on_the_page_without_a_promise(rye: Asking) -> None:
    """Story 15: the rear is 0.7 in deeper; nothing is said of what comes up."""
    page = rye.read("/covering")
    assert "Level it: rear is 0.7 in deeper" in page.text
    assert "what comes up is not promised by it" in page.text
    assert "Not poked yet." in page.text


def test_every_cultivator_has_five_boxes_to_tick_in_the_reader_s_language(rye: Asking) -> None:
    """The Spanish card has the figures of the English one."""
    for language, title in (("en", "Before you start: "), ("es", "Antes de empezar: ")):
        page = rye.read("/covering", lang=language)
        swaps = len(points_of(RYE).swaps_sure)
        boxes = [attrs for _, attrs in page.elements if attrs.get("type") == "checkbox"]
        assert len(boxes) == swaps + 2 * 5
        assert f"{title}Cultivator 1" in page.text
        assert "5.5 mph" in page.text


def test_the_cautions_of_a_raised_tool_stand_with_the_points(rye: Asking) -> None:
    """Blocks, cylinders, and that a jack holds nothing."""
    text = rye.read("/covering").text
    assert "block it and lock the cylinders" in text
    assert "A jack lifts, it does not hold" in text


def test_a_tractor_without_the_power_is_told(tmp_path: Path) -> None:
    """The verdict of the answer, in words."""
    folder = copy_of(RYE, tmp_path, farm_toml=[('pto_power = "150 hp"', 'pto_power = "30 hp"')])
    with asking(folder, NOON) as farm:
        text = farm.read("/covering").text
    assert "Old tractor does not have the power for Cultivator 1" in text
    assert "Big tractor has enough power for Cultivator 2" in text


# --------------------------------------------------------------------------- evenness


def test_the_page_comes_first_and_fetches_the_evenness_of_a_field(rye: Asking) -> None:
    """The field asked for; without a script a link shows everything at once."""
    assert rye.read("/covering").values("data-fetch") == [f"{EVENNESS}A1"]
    assert rye.read("/covering?field=A4").values("data-fetch") == [f"{EVENNESS}A4"]
    whole = rye.read("/covering?field=A4&whole=1")
    assert whole.values("data-fetch") == []
    assert whole.values("data-ground") == ["A4"]


def test_the_lever_table_has_the_answer_s_rows_and_says_each_verdict(rye: Asking) -> None:
    """The present way on top; better, worse or the same in a word, not a colour."""
    answer, page = evenness_of("A1"), rye.read(f"{EVENNESS}A1")
    assert page.values("data-cv") == [f"{row.cv:.6f}" for row in answer.levers]
    for row in answer.levers:
        assert even_words.lever_name(answer, row, "us") in page.text
    words = {"better": "better", "equal": "nobody could tell", "worse": "worse"}
    for verdict, word in words.items():
        told = sum(1 for row in answer.levers[1:] if row.verdict == verdict)
        cells = rye.get(f"{EVENNESS}A1").text.count(f'verdict">{word}<')
        assert cells == told


def test_it_is_said_plainly_that_the_angle_does_not_even_out_stripes(rye: Asking) -> None:
    """With the farm's own figures before and after, and what the angle is good for."""
    answer, text = evenness_of("A1"), rye.read(f"{EVENNESS}A1").text
    assert "What no angle does: even out stripes as wide as the spreader throws." in text
    assert f"{even_words.points_text(answer.before_cv)} as spread" in text
    assert f"{even_words.points_text(answer.after_cv)} as you cover" in text
    assert "it eases ridges and old rows up to" in text


def test_the_field_driven_out_is_a_picture_made_when_it_is_asked_for(rye: Asking) -> None:
    """Before and after, each as a picture inside the drawing; nothing from elsewhere."""
    first = rye.read(f"{EVENNESS}A9")
    assert first.values("data-open") == [f"{GROUND}A9"]
    page = rye.read(f"{GROUND}A9")
    pictures = [attrs["href"] for tag, attrs in page.elements if tag == "image"]
    assert len(pictures) == 4
    assert all(one.startswith("data:image/png;base64,") for one in pictures)
    assert "This field driven out with both machines" in page.text
    assert page.strange() == []


def test_without_trays_the_page_says_what_to_do(tmp_path: Path) -> None:
    """No figures are made up; the way to the tray test is a link."""
    with asking(copy_of("forty-fields", tmp_path), "2026-10-15T09:00:00-04:00") as farm:
        page = farm.read(f"{EVENNESS}C1")
        whole = farm.read("/covering")
    assert "No tray test for W: set trays first." in page.text
    assert "/spreader" in page.values("href")
    assert "%" not in page.text
    assert "points not measured" in whole.text


@pytest.mark.parametrize("path", [EVENNESS, GROUND])
def test_an_unknown_field_is_not_found(rye: Asking, path: str) -> None:
    """And its name comes back as text."""
    page = rye.read(f"{path}%3Cscript%3Ealert(1)%3C/script%3E", 404)
    assert "There is no field “<script>alert(1)</script>” on this farm." in page.text
    assert page.strange() == []


# --------------------------------------------------------------------------- reader and strangers


@pytest.mark.parametrize("path", ["/covering", f"{EVENNESS}A3", f"{GROUND}A3"])
def test_a_metric_reader_of_a_us_farm_sees_no_foot_and_no_acre(rye: Asking, path: str) -> None:
    """And the other way round."""
    # What the owner wrote into the folder is shown as he wrote it where he changes it.
    metric, us = (
        rye.read(path, units=units).text.split("Change the figures", maxsplit=1)[0]
        for units in ("metric", "us")
    )
    assert METRIC.search(metric)
    assert IMPERIAL.search(us)
    assert not IMPERIAL.search(metric)
    assert not METRIC.search(us)


def test_hostile_names_are_only_text(tmp_path: Path) -> None:
    """Machines and rows with markup in their names."""
    name = "<img src=x onerror=alert(1)>"
    folder = copy_of(
        RYE, tmp_path, farm_toml=[("Cultivator 1", name), ('row = "front"', 'row = "<b>front</b>"')]
    )
    with asking(folder, NOON) as farm:
        page = farm.read("/covering")
    assert page.strange() == []
    assert name in page.values("data-machine")
    assert not [tag for tag, attrs in page.elements if tag == "img" and attrs.get("src") == "x"]
    assert f"The <b>front</b> row of {name}" in page.text


# --------------------------------------------------------------------------- in which order


def test_swaps_follow_the_kept_season_plan(tmp_path: Path) -> None:
    """A plan kept from A9 down to A1: a swap comes before a field the crew comes to later."""
    folder = copy_of(RYE, tmp_path)
    farm = read_farm(folder)
    backwards = [one.name for one in reversed(farm.fields)]
    stops = tuple(
        KeptStop(on=date(2026, 10, 18 + place), crew="", field=name, area_m2=40_000.0)
        for place, name in enumerate(backwards)
    )
    keep_plan(folder, KeptPlan(made_at=datetime.fromisoformat(NOON), stops=stops))
    with asking(folder, NOON) as served:
        told = swaps_of(served.get("/covering").text)
    assert told
    for text in told:
        if said := re.match(r"before (A\d) \(after (A\d)\)", text):
            assert int(said[1][1]) == int(said[2][1]) - 1
    order = tuple((name, one.record_area_m2) for name in backwards for one in farm.fields
                  if one.name == name)  # fmt: skip
    assert told == point_words.swap_lines(points_answer(farm, order), "us")


def test_ground_worked_in_is_done_and_has_worn_the_points(rye: Asking) -> None:
    """The day's first field told as worked in: no swap is named for it, and less is left."""
    first = points_of(RYE)
    name = next(one.name for one in day_answer(read_farm(EXAMPLES / RYE),
                DayQuestion(on=date(2026, 10, 18))).fields)  # fmt: skip
    area_m2 = next(one.record_area_m2 for one in read_farm(EXAMPLES / RYE).fields
                   if one.name == name)  # fmt: skip
    at = datetime.fromisoformat("2026-10-18T12:00:00-05:00")
    rye.desk.append([
        Event(at=at, what="spread", machine="Spreader", field=name, whole=True),
        Event(at=at, what="covered", machine="Cultivator 1", field=name, whole=True),
    ])  # fmt: skip
    page = rye.get("/covering").text
    for one in first.rows:
        assert one.left is not None
        if one.machine != "Cultivator 1":
            continue
        shown = (one.left.best_m2 - area_m2) / 4046.8564224
        assert f"{shown:.0f} ac left" in page
    assert "told as worked in count as done since it was measured" in page
    assert not any(f"before {name} " in text for text in swaps_of(page))
