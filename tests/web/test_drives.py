"""The Drive plans: order, figures, units, words for a driver, downloads, and strange names."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import date, datetime
from functools import cache
from pathlib import Path
from urllib.parse import quote

import pytest
from browsing import PHONE, Hands, laid_out, served
from made_folders import copy_of
from pages_read import IMPERIAL, METRIC, Asking, asking
from playwright.sync_api import Browser, Page

from duskline.answers.day import DayQuestion, day_answer
from duskline.answers.field import CoverField, FieldAnswer, SpreadField, field_answer
from duskline.core.log import Event
from duskline.exchange.farmfolder import read_farm
from duskline.units import show_span
from duskline.words.field import by_eye_sentences, counted_sentences, line_words, loads_lines
from duskline.words.lap import minutes_text

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
RYE, NOON = "rye-after-soybeans", "2026-10-18T13:00:00-05:00"
OATS, MORNING = "oats-and-radish", "2026-03-01T09:00:00+13:00"
LIST = "/drives?part=list"
PHONE_MAP = 350.0
"""How wide the phone's map is drawn."""


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
def answered(name: str, example: str = RYE, on: date = date(2026, 10, 18)) -> FieldAnswer:
    """Return how a field of an example is driven, not by way of a page."""
    return field_answer(read_farm(EXAMPLES / example), name, on=on)


def renamed(folder: Path, place: int, name: str) -> Path:
    """Return the folder with one of its fields called otherwise."""
    path = folder / "fields.geojson"
    fields = json.loads(path.read_text(encoding="utf-8"))
    fields["features"][place]["properties"]["name"] = name
    path.write_text(json.dumps(fields), encoding="utf-8")
    return folder


# --------------------------------------------------------------------------- the list


def test_fields_stand_in_the_order_of_the_day_and_then_the_rest(rye: Asking) -> None:
    """Today's fields as the day's plan has them, then all others."""
    farm = read_farm(EXAMPLES / RYE)
    today = [one.name for one in day_answer(farm, DayQuestion(on=date(2026, 10, 18))).fields]
    others = [one.name for one in farm.fields if one.name not in today]
    page = rye.read(LIST)
    assert len(today) > 1
    assert page.values("data-field") == [*today, *others]
    assert f"{', '.join(today)} {today[0]}: Spread" in page.text


def test_the_list_has_every_machine_s_own_figures(rye: Asking) -> None:
    """Heading, passes, rounds, minutes, and where the driver by eye starts and aims."""
    page = rye.read(LIST)
    farm = read_farm(EXAMPLES / RYE)
    counts = iter(page.values("data-passes"))
    for name in page.values("data-field"):
        answer = answered(name)
        driven: list[SpreadField | CoverField] = [*answer.spreads, *answer.covers]
        for one in driven:
            assert next(counts) == str(one.plan.passes_count)
            assert line_words(one.plan.heading_rad) in page.text
            assert minutes_text(one.plan.work_s) in page.text
        assert by_eye_sentences(farm, answer, answer.covers[0])[0] in page.text
    assert next(counts, None) is None


def test_machines_that_drive_alike_are_told_together(tmp_path: Path) -> None:
    """Two spreaders of one kind are one entry; fields of another day are folded away."""
    with asking(copy_of("forty-fields", tmp_path), "2026-10-15T09:00:00-04:00") as farm:
        page = farm.read(LIST)
    assert len(page.values("data-field")) == 40
    assert page.values("data-machine")[0] == "Spreader 1, Spreader 2"
    folds = [attrs for tag, attrs in page.elements if tag == "details"]
    assert {attrs["class"] for attrs in folds} == {"fold"}
    assert 20 < len(folds) < 40


def test_machines_that_drive_alike_are_named_as_several(tmp_path: Path) -> None:
    """Two spreaders spread; one covering machine works in, in both languages."""
    with asking(copy_of("forty-fields", tmp_path), "2026-10-15T09:00:00-04:00") as farm:
        page, spanish = farm.read(LIST), farm.read(LIST, lang="es")
    assert "Spreader 1, Spreader 2 spread " in page.text
    assert "Spreader 2 spreads" not in page.text
    assert "works in" in page.text
    assert "Spreader 1, Spreader 2 esparcen " in spanish.text


def test_a_field_done_in_part_today_says_how_much_of_it(rye: Asking) -> None:
    """The acres beside the field are those of the day's plan, as Today has them."""
    farm = read_farm(EXAMPLES / RYE)
    rows = day_answer(farm, DayQuestion(on=date(2026, 10, 18))).fields
    whole_m2 = {one.name: one.record_area_m2 for one in farm.fields}
    parted = [one for one in rows if one.area_m2 < whole_m2[one.name] - 4000.0]
    assert parted
    text = rye.read(LIST).text
    for one in rows:
        part, whole = (round(m2 / 4046.8564224) for m2 in (one.area_m2, whole_m2[one.name]))
        assert f"{one.name} {f'{part} of ' if one in parted else ''}{whole} ac" in text


def test_the_first_visit_has_the_names_at_once_and_fetches_the_plans(rye: Asking) -> None:
    """Until the plans are worked out the page does not wait for them; without a script, a link."""
    first = rye.read("/drives")
    assert first.values("data-fetch") == [LIST]
    assert "/drives/A7" in first.values("href")
    assert "/drives?whole=1" in first.values("href")
    assert rye.read("/drives?whole=1").values("data-field")
    again = rye.read("/drives")
    assert again.values("data-fetch") == []
    assert len(again.values("data-field")) == 9


def test_a_day_without_hours_has_the_order_of_the_folder_and_says_so(tmp_path: Path) -> None:
    """The crew has closed the day: the ground is not fit."""
    with asking(copy_of(RYE, tmp_path), "2026-10-20T13:00:00-05:00") as farm:
        page = farm.read(LIST)
    assert page.values("data-field") == [f"A{place}" for place in range(1, 10)]
    assert "No plan for Tuesday, October 20" in page.text


def test_what_is_told_stands_on_the_field_and_does_not_turn_the_order_round(rye: Asking) -> None:
    """Spread and worked in, with areas; what is all spread no longer leads."""
    before = rye.read(LIST).values("data-field")
    at = datetime.fromisoformat("2026-10-18T12:00:00-05:00")
    rye.desk.append([
        Event(at=at, what="spread", machine="Spreader", field=before[0], whole=True),
        Event(at=at, what="covered", machine="Cultivator 1", field=before[0], area_m2=8093.7),
    ])  # fmt: skip
    page = rye.read(LIST)
    assert page.values("data-field") == before
    assert "Spread 33 ac, of it worked in 2 ac" in page.text
    lead = f"In this order on Sunday, October 18 {before[1]}, then {before[2]} {before[1]}: S"
    assert lead in page.text


# --------------------------------------------------------------------------- one field


def test_the_field_page_has_the_driver_s_part_as_the_words_have_it(rye: Asking) -> None:
    """Start, aim, count, checks; both headings with their minutes; loads; ground."""
    farm, answer = read_farm(EXAMPLES / RYE), answered("A3")
    page = rye.read("/drives/A3")
    for one in answer.covers:
        for text in (*by_eye_sentences(farm, answer, one), *counted_sentences(one, "us")):
            assert text in page.text
    for text in loads_lines(farm, answer.spread):
        assert text in page.text
    weighed = ((answer.spread.plan.heading_rad, answer.spread.plan.work_s), *answer.spread.others)
    assert len(weighed) > 1
    for heading_rad, work_s in weighed:
        assert line_words(heading_rad) in page.text
        assert show_span(work_s) in page.text
    assert "worked once" in page.text
    assert "Never under a raised cultivator" in page.text
    assert "/drives/A3/sheet.pdf" in page.values("href")
    assert page.values("data-machine")[0] == "Cultivator 1"


def test_the_machine_asked_for_comes_first_with_its_own_map(rye: Asking) -> None:
    """The driver chooses his machine; one that is not there changes nothing."""
    assert rye.read("/drives/A1?machine=Cultivator%202").values("data-machine")[:2] == [
        "Cultivator 2",
        "Cultivator 1",
    ]
    assert rye.read("/drives/A1?machine=Spreader").values("data-machine")[0] == "Spreader"
    plain = rye.get("/drives/A1").text
    assert rye.get("/drives/A1?machine=nobody").text == plain
    assert rye.get("/drives/A1?machine=Spreader").text != plain


def test_a_driver_who_has_said_who_he_is_sees_his_own_machine(rye: Asking) -> None:
    """The owner drives Cultivator 2, the neighbor Cultivator 1."""
    assert rye.read("/drives/A1", person="Owner").values("data-machine")[0] == "Cultivator 2"
    assert rye.read("/drives/A1", person="Neighbor").values("data-machine")[0] == "Cultivator 1"


@pytest.mark.parametrize("path", [LIST, "/drives/A5"])
def test_a_metric_reader_of_a_us_farm_sees_no_foot_and_no_acre(rye: Asking, path: str) -> None:
    """And the other way round; numbers of passes are the same."""
    metric, us = rye.read(path, units="metric"), rye.read(path)
    assert METRIC.search(metric.text)
    assert IMPERIAL.search(us.text)
    assert not IMPERIAL.search(metric.text)
    assert not METRIC.search(us.text)
    assert metric.values("data-passes") == us.values("data-passes")


def test_a_us_reader_of_a_metric_farm_sees_no_metre(oats: Asking) -> None:
    """The reader's units rule, not the farm's."""
    page = oats.read("/drives/B3", units="us")
    assert IMPERIAL.search(page.text)
    assert not METRIC.search(page.text)


def test_the_driver_reads_his_part_in_spanish(rye: Asking) -> None:
    """The figures are those of the English page."""
    page = rye.read("/drives/A1", lang="es")
    answer = answered("A1")
    laid = counted_sentences(answer.covers[0], "us", language="es")[0]
    assert laid.startswith("Cuente ")
    assert laid in page.text
    assert "Empiece en el lado norte" in page.text
    assert "Drive pass beside pass" not in page.text


CREW_ENGLISH = re.compile(
    r"\b(driving and turning|from pass to pass|[Tt]urns?|headland|[Ff]uel|worked once|missed|"
    r"overlap|[Ll]eft between|spread passes|longest side|[Ss]eed flies|side|the clock|"
    r"engine|[Nn]ever|doctor|edge)\b"
)


@pytest.mark.parametrize("name", ["A1", "A2", "A5", "A9"])
def test_nothing_the_crew_reads_of_a_field_is_english(rye: Asking, name: str) -> None:
    """Minutes, turns, fuel, edges, ground, and all four cautions: none left out, none English."""
    text = rye.read(f"/drives/{name}", lang="es").text
    own = next(one.notes for one in read_farm(EXAMPLES / RYE).fields if one.name == name)
    crew = text.split("El cálculo entero")[0].replace(own, "")
    assert crew != text
    assert CREW_ENGLISH.findall(crew) == []
    for caution in ("disco quieto", "cultivador levantado", "Fugas de aceite", "En el camino"):
        assert caution in text


def test_a_time_by_the_clock_under_the_driving_is_left_out(rye: Asking) -> None:
    """The clock's time is told only where it is longer than driving and turning."""
    for name in ("A1", "A5"):
        answer = answered(name)
        html = rye.get(f"/drives/{name}").text
        driven: list[SpreadField | CoverField] = [*answer.spreads, *answer.covers]
        told = re.findall(r'data-head="By the clock">([^<]*)<', html)
        assert told == [
            minutes_text(one.clock_s) for one in driven if one.clock_s > 1.05 * one.plan.work_s
        ]
        short = [one for one in driven if one.clock_s <= 1.05 * one.plan.work_s]
        assert len(told) + len(short) == len(driven)


def test_an_unknown_field_is_not_found_and_a_near_one_is_offered(rye: Asking) -> None:
    """A slip in the name, for the page and for both downloads."""
    for path in ("/drives/A11", "/drives/A11/sheet.pdf", "/drives/A11/passes.geojson"):
        page = rye.read(path, 404)
        assert "There is no field “A11”" in page.text
        assert "/drives/A1" in page.values("href")


# --------------------------------------------------------------------------- downloads


def test_the_passes_download_is_every_run_round_and_turn(rye: Asking) -> None:
    """One feature for each, in the field's own place on earth."""
    answer = rye.get("/drives/A1/passes.geojson")
    found = answer.json()
    runs = [one for one in found["features"] if one["properties"]["kind"] == "pass"]
    plans = [*answered("A1").plan.spreads.values(), *answered("A1").plan.covers.values()]
    assert len(runs) == sum(len(plan.passes_m) for plan in plans)
    assert found["features"][0]["geometry"]["coordinates"][0][0] == pytest.approx(-93.5, abs=0.2)
    assert answer.headers["content-type"] == "application/geo+json"
    assert 'filename="field-A1.geojson"' in answer.headers["content-disposition"]


def test_the_sheet_is_on_the_reader_s_paper(rye: Asking) -> None:
    """Letter for US units, A4 for metric ones."""
    for units, width in (("us", 612), ("metric", 595)):
        answer = rye.get("/drives/A2/sheet.pdf", units=units)
        assert answer.content.startswith(b"%PDF-")
        boxes = re.findall(rb"/MediaBox ?\[0 0 ([\d.]+) ", answer.content)
        assert {round(float(box)) for box in boxes} == {width}


# --------------------------------------------------------------------------- strangers


def test_a_hostile_name_is_only_text(tmp_path: Path) -> None:
    """A name that would be markup, a path or a header is shown, linked and downloaded as it is."""
    name = "<script>alert(1)</script> a/../b \"'&?#%"
    address = f"/drives/{quote(name, safe='')}"
    with asking(renamed(copy_of(RYE, tmp_path), 0, name), NOON) as farm:
        page, sheet = farm.read(LIST), farm.read(address)
        passes = farm.get(f"{address}/passes.geojson")
    assert name in page.values("data-field")
    assert address in page.values("href")
    assert page.strange() == sheet.strange() == []
    assert name in sheet.text
    assert passes.json()["features"]
    plain = r"[A-Za-z0-9-]+\.geojson"
    said = passes.headers["content-disposition"]
    assert re.fullmatch(f"attachment; filename=\"{plain}\"; filename\\*=UTF-8''{plain}", said)


def test_a_name_in_another_script_downloads_under_itself(tmp_path: Path) -> None:
    """Header bytes stay plain; the name comes along encoded."""
    with asking(renamed(copy_of(RYE, tmp_path), 0, "Señor Ñandú"), NOON) as farm:
        answer = farm.get(f"/drives/{quote('Señor Ñandú')}/sheet.pdf")
    said = answer.headers["content-disposition"]
    assert said.isascii()
    assert f"filename*=UTF-8''{quote('field-Señor-Ñandú.pdf')}" in said


def test_a_field_too_narrow_for_a_machine_says_so_in_the_reader_s_units(tmp_path: Path) -> None:
    """A cultivator wider than the field: no map but what to do, and the list stands."""
    folder = copy_of(RYE, tmp_path, farm_toml=[('width = "28 ft"', 'width = "190 ft"')])
    path = folder / "fields.geojson"
    fields = json.loads(path.read_text(encoding="utf-8"))
    lon, lat = fields["features"][8]["geometry"]["coordinates"][0][0]
    strip = [[lon, lat], [lon + 0.01, lat], [lon + 0.01, lat + 0.0002], [lon, lat + 0.0002]]
    fields["features"][8]["geometry"]["coordinates"] = [[*strip, strip[0]]]
    path.write_text(json.dumps(fields), encoding="utf-8")
    with asking(folder, NOON) as farm:
        page, every = farm.read("/drives/A9", units="metric"), farm.read(LIST)
        download = farm.get("/drives/A9/sheet.pdf")
    assert "There is no room in this field for a machine" in page.text
    assert not IMPERIAL.search(page.text)
    assert "There is no room in this field" in every.text
    assert len(every.values("data-field")) == 9
    assert download.headers["content-type"].startswith("text/html")


# --------------------------------------------------------------------------- the map moves


@pytest.fixture
def field_page(browser: Browser, tmp_path: Path) -> Iterator[Page]:
    """Open a field's page on a phone."""
    hands = Hands(datetime.fromisoformat(NOON))
    with served(laid_out(RYE, tmp_path), hands) as address:
        context = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
        page = context.new_page()
        page.goto(f"{address}/drives/A1", wait_until="networkidle")
        yield page
        context.close()


def view_of(page: Page) -> list[float]:
    """Return what part of the map is shown: left, top, width, height."""
    text = page.locator("figure.zoom.for-phone svg").get_attribute("viewBox") or ""
    return [float(part) for part in text.split()]


def test_the_map_comes_closer_and_moves_by_buttons_and_keys(field_page: Page) -> None:
    """Closer, along with the arrows, never off the map, and back to the whole field."""
    whole = view_of(field_page)
    figure = field_page.locator("figure.zoom.for-phone")
    figure.get_by_role("button", name="Closer").press("Enter")
    closer = view_of(field_page)
    assert closer[2] < whole[2]
    assert closer[2] / closer[3] == pytest.approx(whole[2] / whole[3])
    figure.locator("svg").focus()
    field_page.keyboard.press("ArrowRight")
    assert view_of(field_page)[0] > closer[0]
    for _ in range(20):
        field_page.keyboard.press("ArrowRight")
    left, _, width, _ = view_of(field_page)
    assert left + width == pytest.approx(whole[2])
    figure.get_by_role("button", name="Whole").click()
    assert view_of(field_page) == whole


def test_a_finger_moves_the_map_once_it_is_closer(field_page: Page) -> None:
    """Dragging to the left shows what lies to the right; on the whole map it changes nothing."""
    figure = field_page.locator("figure.zoom.for-phone")

    def drag() -> float:
        box = figure.locator("svg").bounding_box()
        assert box is not None
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        field_page.mouse.move(x, y)
        field_page.mouse.down()
        field_page.mouse.move(x - 40, y, steps=4)
        field_page.mouse.up()
        return box["width"]

    whole = view_of(field_page)
    drag()
    assert view_of(field_page) == whole
    figure.get_by_role("button", name="Closer").click()
    before = view_of(field_page)
    width_px = drag()
    after = view_of(field_page)
    assert after[0] - before[0] == pytest.approx(40 * before[2] / width_px, rel=0.05)


def test_two_fingers_bring_the_map_closer_and_the_page_stays(
    browser: Browser, tmp_path: Path
) -> None:
    """Spread apart over the map, they change what part of it is shown, not the whole page."""
    hands = Hands(datetime.fromisoformat(NOON))
    with served(laid_out(RYE, tmp_path), hands) as address:
        context = browser.new_context(
            viewport={"width": PHONE[0], "height": PHONE[1]}, has_touch=True
        )
        page = context.new_page()
        page.goto(f"{address}/drives/A1", wait_until="networkidle")
        box = page.locator("figure.zoom.for-phone svg").bounding_box()
        assert box is not None
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        hand = context.new_cdp_session(page)
        for kind, apart in (("touchStart", 30), ("touchMove", 50), ("touchMove", 60)):
            points = [{"x": x - apart, "y": y, "id": 0}, {"x": x + apart, "y": y, "id": 1}]
            hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        assert view_of(page)[2] == pytest.approx(0.5 * PHONE_MAP, rel=0.02)
        assert page.evaluate("visualViewport.scale") == 1
        context.close()
