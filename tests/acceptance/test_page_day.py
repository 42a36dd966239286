"""The first day of the rye farm from the morning's plan to the evening's line, all by taps."""

from __future__ import annotations

import re
from pathlib import Path

from browsing import laid_out
from in_hand import RYE_MORNING, Phone, phone
from playwright.sync_api import Browser


def at(hand: Phone, hour: int, minute: int = 0) -> None:
    """Let it be another time, and look at the page."""
    hand.hands.move(hour, minute)
    hand.open()


def all_of(hand: Phone, name: str, field: str) -> None:
    """Tell all of a field, spread or worked in."""
    form = hand.act(name)
    hand.tap(form.locator(".chips label", has_text=re.compile(rf"^{field}$")).first)
    hand.tap(form.get_by_role("button", name="All of it"))
    hand.told()


def test_the_first_day_is_run_from_plan_to_evening(browser: Browser, tmp_path: Path) -> None:
    """Each telling moves what stands there as it should; the evening holds day against plan."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    with phone(browser, folder, RYE_MORNING) as hand:
        morning = hand.stop()
        hand.tap(hand.button("Take this as today's plan"))
        assert "Today's plan of 7:30 am: stop 2:45 pm" in hand.page.locator("main").inner_text()
        at(hand, 10, 40)
        all_of(hand, "Spread …", "A8")
        at(hand, 12, 5)
        all_of(hand, "Worked in …", "A8")
        assert re.search(r"Nothing lies open|\d ac lie open", hand.answer)
        at(hand, 12, 25)
        hand.tap(hand.button("Load done"))
        assert "load" in hand.told()
        at(hand, 12, 30)
        assert re.search(r"5\d ac lie open as told", hand.answer)
        before = hand.stop()
        # Cultivator 1 breaks down, and runs again after three quarters of an hour.
        form = hand.act("Broke down …")
        hand.tap(form.locator(".chips label", has_text="Cultivator 1"))
        hand.tap(form.get_by_role("button", name="Record"))
        hand.told()
        hand.open()
        assert "Cultivator 1 stands" in hand.page.locator("main").inner_text()
        assert hand.stop() <= before
        at(hand, 13, 15)
        hand.tap(hand.button("Cultivator 1"))
        hand.told()
        hand.open()
        assert "Cultivator 1 stands" not in hand.page.locator("main").inner_text()
        # Rain is called, and the call taken back.
        now = hand.stop()
        form = hand.act("More …")
        form.locator('input[name="at"]').fill("17:15")
        rain = form.locator("form", has=hand.page.locator('input[name="at"]'))
        rain.get_by_role("button").click()
        hand.told()
        hand.open()
        assert hand.stop() < now
        hand.tap(hand.page.locator(".log li", has_text="rain").get_by_role("button"))
        hand.page.get_by_text("Taken back.").wait_for()
        hand.open()
        assert hand.stop() == now
        at(hand, 14, 25)
        hand.spread("A1", "20")
        form = hand.act("More …")
        form.get_by_role("button", name="Spreader is done for today").click()
        hand.told()
        at(hand, 14, 50)
        assert "Spreading is done" in hand.answer
        all_of(hand, "Worked in …", "A1")
        hand.taps = 0
        at(hand, 17, 40)
        assert "all worked in" in hand.answer
        figures = r"Said (\d:\d\d pm) and (\d+) ac, did (\d:\d\d pm) and (\d+) ac"
        said = re.search(figures, hand.answer)
        assert said is not None, hand.answer
        assert said[1] == f"{morning:%-I:%M} pm"
        hand.open("/today/followed?on=2026-10-18")
        assert said[0] in hand.answer
        kept = hand.page.request.get(hand.address + "/today/followed.json?on=2026-10-18").json()
        assert kept["open_m2"] == 0.0
        assert [one["what"] for one in kept["events"]][:2] == ["plan", "spread"]
        assert (folder / "duskline.db").is_file()
    assert "A8" in (folder / "log.csv").read_text()
