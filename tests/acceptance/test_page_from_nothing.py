"""A farm from nothing, in the browser: laid out, its files brought, its first day planned."""

from __future__ import annotations

import json
import re
from datetime import datetime
from pathlib import Path

import pytest
from browsing import DESK, EXAMPLES, PHONE, Hands, laid_out, served
from playwright.sync_api import Browser, Page

MORNING = datetime.fromisoformat("2026-10-18T07:30:00-05:00")
FIRST = {
    "farm.name": "New Place",
    "farm.latitude": "42.0",
    "farm.longitude": "-93.5",
    "farm.time_zone": "America/Chicago",
    "person.name": "Ana",
    "person.age": "44",
    "spreader.load": "6000 lb",
    "spreader.driving_width": "40 ft",
    "cultivator.width": "30 ft",
    "lot.name": "Bin rye",
    "lot.species": "rye",
    "lot.germination": "176 of 200",
    "lot.purity": "97 %",
    "lot.live_rate": "61 lb/ac",
}
RYE = EXAMPLES / "rye-after-soybeans"


def bring(page: Page, kind: str, path: Path) -> str:
    """Bring a file of a kind on the farm's page; return what is said of it."""
    form = page.locator(f'form[action="/farm/files/{kind}"]')
    form.locator('input[type="file"]').set_input_files(path)
    form.get_by_role("button", name="Take in").click()
    said = form.locator(".said p").first
    said.wait_for(timeout=60_000)
    return said.inner_text()


def test_a_farm_is_laid_out_from_nothing_and_its_day_is_planned(
    browser: Browser, tmp_path: Path
) -> None:
    """First visit, what is still missing, outlines and forecast brought, a stop time."""
    folder = tmp_path / "new"
    with served(folder, Hands(MORNING)) as address:
        page = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]}).new_page()
        page.goto(address)
        assert page.url.endswith("/farm")
        for name, text in FIRST.items():
            page.fill(f'[name="{name}"]', text)
        page.get_by_role("button", name="Lay out the farm").click()
        page.get_by_text("Still needed").wait_for()
        text = page.locator("main").inner_text()
        assert "outlines of your fields" in text
        assert "9 fields, 362.7 ac" in bring(page, "outlines", RYE / "fields.geojson")
        # What was needed is there: the list goes without the page being opened anew.
        page.get_by_text("All is laid out").or_(page.get_by_text("Stop and ask first")).wait_for()
        assert "Still needed" not in page.locator("main").inner_text()
        assert "forecast" in bring(page, "forecast", RYE / "forecast.csv").lower()
        assert "trays" in bring(page, "trays", RYE / "trays.csv")
        page.goto(address + "/farm")
        assert "Still needed" not in page.locator("main").inner_text()
        page.goto(address)
        page.wait_for_load_state("networkidle")
        assert re.fullmatch(r"\d{1,2}:\d\d\s*[ap]m", page.locator(".answer .big").inner_text())
        page.context.close()


def test_a_bad_answer_keeps_what_was_typed_and_says_what_to_change(
    browser: Browser, tmp_path: Path
) -> None:
    """A load without its unit: the sentence stands beside, and nothing typed is lost."""
    with served(tmp_path / "new", Hands(MORNING)) as address:
        page = browser.new_context().new_page()
        page.goto(address)
        for name, text in FIRST.items():
            page.fill(f'[name="{name}"]', text if name != "spreader.load" else "6000")
        page.get_by_role("button", name="Lay out the farm").click()
        page.wait_for_load_state("networkidle")
        row = page.locator(".row", has=page.locator('[name="spreader.load"]'))
        assert page.input_value('[name="spreader.load"]') == "6000"
        assert row.locator(".wrong").inner_text().startswith("6000 what?")
        assert page.locator(".row .wrong").count() == 1
        assert "lb" in row.inner_text()
        page.context.close()


def test_a_figure_is_changed_with_the_keyboard_alone_and_the_comments_stay(
    browser: Browser, tmp_path: Path
) -> None:
    """From the Covering page to a width and back; a wrong one is said at its field."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    before = (folder / "farm.toml").read_text()
    with served(folder, Hands(MORNING)) as address:
        page = browser.new_context(viewport={"width": DESK[0], "height": DESK[1]}).new_page()
        page.goto(address + "/covering", wait_until="networkidle", timeout=120_000)
        page.get_by_role("link", name="Cultivator 1", exact=True).focus()
        page.keyboard.press("Enter")
        page.wait_for_url(re.compile("/edit/cultivator"))
        for typed, problem in (("30", True), ("33 ft", False)):
            page.locator('[name="k.width"]').focus()
            page.keyboard.press("ControlOrMeta+a")
            page.keyboard.type(typed)
            with page.expect_navigation(wait_until="networkidle", timeout=120_000):
                page.keyboard.press("Enter")
            if problem:
                row = page.locator(".row", has=page.locator('[name="k.width"]'))
                assert "expected" in row.locator(".wrong").inner_text()
                assert (folder / "farm.toml").read_text() == before
        assert page.url.endswith("/covering")
        assert (folder / "farm.toml").read_text() == before.replace('"30 ft"', '"33 ft"')
        page.context.close()


@pytest.mark.parametrize(
    ("kind", "name", "data"),
    [
        ("outlines", "fields.geojson", b'{"type": "FeatureCollection", "features": []}'),
        ("forecast", "forecast.csv", b"time,wind\n2026-10-18T07:00,five\n"),
        ("trays", "trays.csv", b"position,mass\n"),
        ("track", "drive.gpx", b"<!DOCTYPE x [<!ENTITY a 'b'>]><gpx>&a;</gpx>"),
    ],
)
def test_a_bad_file_changes_nothing_and_says_why(
    browser: Browser, tmp_path: Path, kind: str, name: str, data: bytes
) -> None:
    """Each kind of file: refused in words, and the folder is as it was."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    bad = tmp_path / name
    bad.write_bytes(data)
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix != ".db"}
    with served(folder, Hands(MORNING)) as address:
        page = browser.new_context().new_page()
        page.goto(address + "/farm", wait_until="networkidle")
        assert len(bring(page, kind, bad)) > 20
        assert page.locator(f'form[action="/farm/files/{kind}"] .wrong').count() > 0
        page.context.close()
    for file, content in before.items():
        assert (folder / file).read_bytes() == content


def test_a_file_is_brought_by_dropping_it(browser: Browser, tmp_path: Path) -> None:
    """Two fields fewer, dropped on their place: the farm has seven."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    outlines = json.loads((RYE / "fields.geojson").read_text())
    outlines["features"] = outlines["features"][:7]
    with served(folder, Hands(MORNING)) as address:
        page = browser.new_context().new_page()
        page.goto(address + "/farm", wait_until="networkidle")
        held = page.evaluate_handle(
            """text => { const held = new DataTransfer();
            held.items.add(new File([text], 'fields.geojson', {type: 'application/json'}));
            return held; }""",
            json.dumps(outlines),
        )
        place = 'form[action="/farm/files/outlines"]'
        page.dispatch_event(place, "drop", {"dataTransfer": held})
        said = page.locator(f"{place} .said p").first
        said.wait_for(timeout=60_000)
        assert "7 fields" in said.inner_text()
        page.context.close()


def test_the_day_prints_as_a_sheet(browser: Browser, tmp_path: Path) -> None:
    """Letter paper, no more than four pages, the answer on the first."""
    from pypdf import PdfReader

    folder = laid_out("rye-after-soybeans", tmp_path)
    with served(folder, Hands(MORNING)) as address:
        page = browser.new_context().new_page()
        page.goto(address, wait_until="networkidle")
        out = tmp_path / "today.pdf"
        page.pdf(path=out, format="Letter")
        page.context.close()
    pages = PdfReader(out).pages
    assert len(pages) <= 4
    first = pages[0].extract_text()
    assert "stop spreading at" in first
    assert "Load done" not in "".join(one.extract_text() for one in pages)
