"""The stories of the day as the crew lives them: on a phone, in the browser, tap by tap."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from browsing import DESK, laid_out
from click.testing import CliRunner
from in_hand import RYE_MORNING, Phone, phone
from numpy.typing import NDArray
from playwright.sync_api import Browser, Locator
from pypdf import PdfReader
from rasterio.io import MemoryFile

from duskline.cli.main import cli
from duskline.draw.ink import contrast


def without_moves(folder: Path) -> None:
    """Let the rye farm's fields lie side by side, as the story has it."""
    path = folder / "farm.toml"
    path.write_text(path.read_text().replace('move = "12 min"', 'move = "0 min"'))


def test_story_22_covering_runs_slower_than_planned(browser: Browser, tmp_path: Path) -> None:
    """At 13:00 96.7 ac are spread and 39.0 covered: an earlier stop, and one sentence why."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    without_moves(folder)
    with phone(browser, folder, RYE_MORNING) as hand:
        morning = hand.stop()
        hand.tap(hand.button("Take this as today's plan"))
        hand.hands.move(13)
        hand.open()
        hand.spread("A1", "79")
        hand.spread("A6", "17.7")
        hand.covered("A1", "39")
        hand.open()
        assert "Was 2:" in hand.answer or "Was 3:" in hand.answer
        assert re.search(r"because covering runs 12\.\d ac/h \(plan 15\.3\)", hand.answer)
        assert re.search(r"5[78] ac lie open", hand.answer)
        assert timedelta(minutes=10) <= morning - hand.stop() <= timedelta(minutes=60)


def test_story_23_rain_is_called_for_half_past_four(browser: Browser, tmp_path: Path) -> None:
    """On plan at 13:00, rain at 16:30: a much earlier stop; keeping to the old one seldom holds."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    without_moves(folder)
    with phone(browser, folder, RYE_MORNING) as hand:
        hand.hands.move(13)
        hand.open()
        hand.spread("A1", "79")
        hand.spread("A6", "17.7")
        hand.covered("A1", "48.4")
        hand.open()
        before = hand.stop()
        form = hand.act("More …")
        form.locator('input[name="at"]').fill("16:30")
        hand.tap(
            form.locator("form", has=hand.page.locator('input[name="at"]')).get_by_role("button")
        )
        assert "rain" in hand.told()
        hand.open()
        assert timedelta(minutes=30) <= before - hand.stop() <= timedelta(minutes=100)
        assert "rain" in hand.answer.lower()
        assert re.search(
            r"Keeping to .*: everything is worked in (less than )?\d in 20", hand.answer
        )
        assert "4:30 pm" in hand.page.locator("main").inner_text()


def test_story_24_wind_not_dark_ends_spreading(browser: Browser, tmp_path: Path) -> None:
    """The oats farm's first day: wind at 13:00; hectares and the 24-hour clock throughout."""
    folder = laid_out("oats-and-radish", tmp_path)
    at = datetime.fromisoformat("2026-03-01T07:00:00+13:00")
    with phone(browser, folder, at) as hand:
        text = hand.page.locator("main").inner_text()
        assert re.search(r"[Ww]ind ends spreading at 13:00", text)
        assert " ha" in text
        assert not re.search(r"\d (ac|lb|ft)\b|\d [ap]m\b", text)


def test_story_25_a_breakdown_stops_both_spreaders_earlier(
    browser: Browser, tmp_path: Path
) -> None:
    """Day 2 of the custom farm, 13:10: a cultivator is down for three hours."""
    folder = laid_out("forty-fields", tmp_path)
    at = datetime.fromisoformat("2026-10-16T13:10:00-04:00")
    with phone(browser, folder, at) as hand:
        # From what the day balance of the morning has: 279 ac spread, 191 covered at 13:10.
        fields = hand.page.locator(".fields li b").all_inner_texts()
        for name in fields[:6]:
            tell(hand, "spread", name, "Spreader 1" if fields.index(name) % 2 else "Spreader 2")
        for name, machine in zip(
            fields[:3], ("Cultivator 1", "Cultivator 2", "Cultivator 3"), strict=True
        ):
            tell(hand, "covered", name, machine)
        hand.open()
        before = hand.stop()
        form = hand.act("Broke down …")
        form.locator(".chips label", has_text="Cultivator 3").click()
        form.locator(".chips label", has_text="120 min").click()
        hand.tap(form.get_by_role("button", name="Record"))
        assert "Cultivator 3" in hand.told()
        hand.open()
        assert hand.stop() < before
        assert "Cultivator 3" in hand.page.locator("main").inner_text()


def tell(hand: Phone, what: str, field: str, machine: str) -> None:
    """Tell a whole field done, without the page."""
    answer = hand.page.request.post(
        hand.address + "/log",
        form={"what": what, "field": field, "machine": machine, "how": "all", "ago": "30"},
        headers={"Accept": "application/json"},
    )
    assert answer.ok, answer.text()


def begin(hand: Phone, field: str, machine: str) -> None:
    """Tell that a machine begins in a field, without the page."""
    answer = hand.page.request.post(
        hand.address + "/log",
        form={"what": "begin", "field": field, "machine": machine},
        headers={"Accept": "application/json"},
    )
    assert answer.ok, answer.text()


def test_story_26_a_hopeless_day_says_what_stays_bare_and_asks_which_ground(
    browser: Browser, tmp_path: Path
) -> None:
    """40 ac spread, 10 covered, 12 + 12 ac/h, half an hour to hitch, 75 minutes left."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    path = folder / "farm.toml"
    text = path.read_text()
    text = text.replace('changeover = "25 min"', 'changeover = "30 min"')
    text = text.replace('overlap_share = "10 %"', 'overlap = "0 ft"').replace(
        'overlap = "0.5 ft"', 'overlap = "0 ft"'
    )
    # 12 ac/h: 8.25 * 12 ft mph at full efficiency.
    text = text.replace('width = "30 ft"\n', 'width = "20 ft"\n').replace(
        'width = "28 ft"\n', 'width = "20 ft"\n'
    )
    text = text.replace(
        'speed = "5.5 mph"\nefficiency = "85 %"', 'speed = "4.95 mph"\nefficiency = "100 %"'
    )
    path.write_text(text)
    with phone(browser, folder, RYE_MORNING) as hand:
        hand.hands.move(15, 40)
        begin(hand, "A1", "Spreader")
        hand.hands.move(16, 10)
        begin(hand, "A1", "Cultivator 1")
        hand.hands.move(17)
        hand.open()
        hand.spread("A1", "40")
        hand.covered("A1", "10")
        hand.open()
        assert "stop spreading now" in hand.answer.lower()
        bare = re.search(r"about (\d+(?:\.\d)?) ac will stay bare", hand.answer)
        assert bare is not None
        assert 4.0 <= float(bare[1]) <= 9.0
        main = hand.page.locator("main").inner_text()
        assert re.search(r"Which \d+(\.\d)? ac can lie open tonight\?", main)
        assert "Leave A1" in main


@pytest.mark.parametrize("entry", ["load", "covered", "stuck", "down"])
def test_story_32_any_entry_takes_three_taps_and_can_be_taken_back(
    browser: Browser, tmp_path: Path, entry: str
) -> None:
    """Three taps at most, targets for a thumb (each tap checks), ten seconds to take it back."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    with phone(browser, folder, RYE_MORNING.replace(hour=12)) as hand:
        log = hand.page.locator(".log li")
        if entry == "load":
            hand.tap(hand.button("Load done"))
        elif entry == "covered":
            form = hand.act("Worked in …")
            hand.tap(form.locator(".chips label", has_text=re.compile("^A1$")).first)
            hand.tap(form.get_by_role("button", name="Half of it"))
        elif entry == "stuck":
            form = hand.act("Stuck, wet spot …")
            hand.tap(form.get_by_role("button", name="Stuck"))
        else:
            form = hand.act("Broke down …")
            hand.tap(form.get_by_role("button", name="Record"))
        assert hand.taps <= 3
        assert hand.told().startswith("Recorded")
        log.first.wait_for()
        assert log.count() == 1
        hand.tap(hand.page.locator("#told button"))
        hand.page.get_by_text("Taken back.", exact=True).wait_for()
        hand.page.locator(".log li.off").wait_for()
        assert log.count() == 1


def test_a_tap_without_signal_outlives_the_page(browser: Browser, tmp_path: Path) -> None:
    """It used to live in the open page alone. Sent at last, it is written down once, as tapped.

    At half past twelve; the signal is back half an hour later by the phone's clock.
    """
    folder = laid_out("rye-after-soybeans", tmp_path)
    with phone(browser, folder, RYE_MORNING.replace(hour=12)) as hand:
        page = hand.page
        page.route("**/log", lambda route: route.abort())
        hand.tap(hand.button("Load done"))
        page.get_by_text("Kept on this device").wait_for()
        page.reload()
        page.get_by_text("Kept on this device").wait_for()
        assert page.locator(".log li").count() == 0
        # Half an hour passes before the signal is back.
        page.evaluate(
            """() => { for (const key of Object.keys(localStorage)) {
                 const tap = JSON.parse(localStorage.getItem(key));
                 tap.tapped -= 30 * 60 * 1000;
                 localStorage.setItem(key, JSON.stringify(tap)); } }"""
        )
        page.unroute("**/log")
        page.reload()
        assert hand.told().startswith("Recorded")
        page.locator(".log li").first.wait_for()
        (line,) = page.locator(".log li").all_inner_texts()
        assert "12:00 pm" in line
        assert page.evaluate("Object.keys(localStorage).length") == 0
        page.reload(wait_until="networkidle")
        assert page.locator(".log li").count() == 1


def test_story_34_pencilled_sheets_are_typed_in_as_they_lie(
    browser: Browser, tmp_path: Path
) -> None:
    """The fields stand in the paper's order, and a field takes no more than two minutes to type.

    Two minutes at two seconds a box and half a second a key: a slow hand.
    """
    folder = laid_out("rye-after-soybeans", tmp_path)
    assert CliRunner().invoke(cli, ["sheets", str(folder), str(tmp_path / "out")]).exit_code == 0
    paper = "".join(
        page.extract_text() for page in PdfReader(tmp_path / "out" / "day-sheet.pdf").pages
    )
    with phone(browser, folder, RYE_MORNING.replace(hour=20)) as hand:
        hand.open("/today/paper?on=2026-10-18")
        names = hand.page.locator(".sheet legend").all_inner_texts()
        on_paper = sorted(names[:3], key=lambda name: paper.index(f"{name} "))
        assert names[:3] == on_paper
        keys, boxes = 0, 0
        for number, (began, ended) in enumerate(
            (("9:30", "10:35"), ("10:45", "1:40 pm"), ("1:50 pm", "2:40 pm"))
        ):
            for work, later in (("spread", ""), ("covered", "5 pm")):
                for blank, text in (("started", began), ("done", (later and "5:15 pm") or ended)):
                    hand.page.locator(f'input[name="{number}.{work}.{blank}"]').fill(text)
                    keys, boxes = keys + len(text), boxes + 1
        assert (0.5 * keys + 2.0 * boxes) / 3 <= 120.0
        hand.page.get_by_role("button", name="Record").click()
        hand.page.wait_for_url(re.compile(r"/\?on="))
        hand.open("/today/followed?on=2026-10-18")
        assert "all worked in" in hand.answer


VISIONS = ("achromatopsia", "protanopia", "deuteranopia", "tritanopia")


def picture(place: Locator) -> NDArray[np.uint8]:
    """Return what is seen in a place, rows by columns by red, green, blue."""
    with MemoryFile(place.screenshot()) as file, file.open() as image:
        bands: NDArray[np.uint8] = image.read()
    return np.moveaxis(bands[:3], 0, -1)


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_story_36_every_state_is_told_apart_without_colour(
    browser: Browser, tmp_path: Path
) -> None:
    """Greyscale and three kinds of colour vision: shape or word, and lines that stand out."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    with phone(browser, folder, RYE_MORNING.replace(hour=12), DESK) as hand:
        hand.spread("A1", "60")
        hand.covered("A1", "30")
        hand.open()
        page = hand.page
        assert "chosen" in page.locator(".sure .on").inner_text()
        marked = page.evaluate(
            "getComputedStyle(document.querySelector('tr.now th'), '::before').content"
        )
        assert "▸" in marked
        words = page.locator(".for-desk svg").text_content() or ""
        assert "spread" in words
        assert "worked in" in words
        strip = page.locator(".for-desk svg")
        seen = picture(strip).astype(int)
        ochre, blue = np.array([0xB3, 0x5C, 0x00]), np.array([0x1F, 0x4E, 0x79])
        where = {
            name: np.abs(seen - colour).sum(axis=2) < 12
            for name, colour in (("spread", ochre), ("covered", blue))
        }
        assert all(mask.sum() > 150 for mask in where.values())
        session = page.context.new_cdp_session(page)
        for vision in VISIONS:
            session.send("Emulation.setEmulatedVisionDeficiency", {"type": vision})
            now = picture(strip)
            paper = "#{:02X}{:02X}{:02X}".format(
                *np.median(now[-30:, :20].reshape(-1, 3), axis=0).astype(int)
            )
            for name, mask in where.items():
                ink = "#{:02X}{:02X}{:02X}".format(*np.median(now[mask], axis=0).astype(int))
                assert contrast(ink, paper) >= 3.0, (vision, name, ink, paper)
        # Shape: the line of spreading is hatched or dashed, that of covering is one whole line.
        assert page.locator(".for-desk svg [stroke-dasharray]").count() > 0
