"""A farm's pages in a hand: a phone in a browser that counts the taps."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from browsing import PHONE, Hands, served
from playwright.sync_api import Browser, Locator, Page

__all__ = ["RYE_MORNING", "Phone", "phone"]

RYE_MORNING = datetime.fromisoformat("2026-10-18T07:30:00-05:00")


class Phone:
    """A page in a hand: counts the taps."""

    def __init__(self, page: Page, address: str, hands: Hands) -> None:
        self.page = page
        self.address = address
        self.hands = hands
        self.taps = 0

    def open(self, path: str = "/") -> None:
        """Open a page."""
        self.page.goto(self.address + path, wait_until="networkidle", timeout=120_000)

    def tap(self, what: Locator) -> None:
        """Tap with a thumb: the target has to be large enough for one."""
        box = what.bounding_box()
        assert box is not None, f"{what} cannot be seen"
        assert min(box["width"], box["height"]) >= 47.5, f"{what} is too small for a thumb: {box}"
        what.click()
        self.taps += 1

    def button(self, name: str) -> Locator:
        """Return a button by its words."""
        return self.page.get_by_role("button", name=re.compile(re.escape(name))).first

    def act(self, name: str) -> Locator:
        """Open one of the big buttons that ask more; return its form.

        The message of the telling before is put away, so that ``told`` waits for a new one.
        """
        self.page.evaluate("document.getElementById('told').replaceChildren()")
        self.tap(self.page.locator("summary", has_text=name))
        return self.page.locator("details.act[open]")

    def told(self) -> str:
        """Wait for the short message that something was taken in; return it."""
        message = self.page.locator("#told span")
        message.wait_for(timeout=60_000)
        return message.inner_text()

    def spread(self, field: str, area: str) -> None:
        """Tell an area spread."""
        self._amount("Spread …", field, area)

    def covered(self, field: str, area: str) -> None:
        """Tell an area covered."""
        self._amount("Worked in …", field, area)

    def _amount(self, name: str, field: str, area: str) -> None:
        form = self.act(name)
        form.locator(".chips label", has_text=re.compile(rf"^{field}$")).first.click()
        form.locator('input[name="amount"]').fill(area)
        form.locator('button[value="area"]').click()
        self.told()
        self.page.locator("details.act[open]").wait_for(state="detached", timeout=60_000)

    @property
    def answer(self) -> str:
        """All that stands in the one answer."""
        return self.page.locator("section.answer").first.inner_text()

    def stop(self) -> datetime:
        """Return the stop time that stands there large."""
        text = self.page.locator(".answer .big").inner_text().replace("\n", " ").strip()
        for form in ("%I:%M %p", "%I:%M%p", "%H:%M"):
            try:
                clock = datetime.strptime(text.upper(), form)  # noqa: DTZ007 a clock time alone
            except ValueError:
                continue
            return self.hands.at.replace(hour=clock.hour, minute=clock.minute)
        raise AssertionError(f"no clock time: {text!r}")


@contextmanager
def phone(
    browser: Browser, folder: Path, at: datetime, size: tuple[int, int] = PHONE
) -> Iterator[Phone]:
    """Serve a farm and open it in a hand."""
    hands = Hands(at)
    with served(folder, hands) as address:
        context = browser.new_context(viewport={"width": size[0], "height": size[1]})
        found = Phone(context.new_page(), address, hands)
        found.open()
        yield found
        context.close()
