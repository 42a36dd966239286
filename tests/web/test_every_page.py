"""What holds of every page: accessibility, size, zoom, keyboard, print, no strange code."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from browsing import ALL_PAGES, DESK, PHONE, Hands, accessibility_faults, laid_out, served
from playwright.sync_api import Browser, Page

NOON = datetime.fromisoformat("2026-10-18T13:00:00-05:00")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve the rye farm in the middle of its first day."""
    folder: Path = laid_out("rye-after-soybeans", tmp_path_factory.mktemp("farm"))
    with served(folder, Hands(NOON)) as found:
        yield found


def opened(
    browser: Browser, address: str, path: str, size: tuple[int, int], *, dark: bool = False
) -> Page:
    """Return a page that has settled."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
    )
    page = context.new_page()
    page.goto(address + path, wait_until="networkidle", timeout=120_000)
    return page


@pytest.mark.parametrize(
    ("size", "dark"), [(PHONE, True), (DESK, False)], ids=["phone by night", "desk by day"]
)
@pytest.mark.parametrize("path", ALL_PAGES)
def test_no_rule_of_accessibility_is_broken(
    browser: Browser, address: str, path: str, size: tuple[int, int], *, dark: bool
) -> None:
    """Automated rules, with every working opened."""
    page = opened(browser, address, path, size, dark=dark)
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    assert accessibility_faults(page) == []
    page.context.close()


@pytest.mark.parametrize("path", ALL_PAGES)
def test_the_page_never_scrolls_sideways(browser: Browser, address: str, path: str) -> None:
    """At phone width, at 200 % of a desk's, and at the smallest width of the rules (320)."""
    for size in (PHONE, (640, 450), (320, 640)):
        page = opened(browser, address, path, size)
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0, f"{path} at {size[0]} px is {wide} px too wide"
        page.context.close()


@pytest.mark.parametrize("path", ALL_PAGES)
def test_targets_are_large_enough_for_a_thumb(browser: Browser, address: str, path: str) -> None:
    """48 px, but for links inside running text."""
    page = opened(browser, address, path, PHONE)
    page.evaluate("document.querySelector('details.act')?.setAttribute('open', '')")
    small = page.evaluate(
        """() => [...document.querySelectorAll(
            'button, summary, input, select, nav a, .button, .chips label')]
        .filter(one => one.type !== 'hidden' && one.checkVisibility())
        .map(one => [one, (one.closest('.chips label') ?? one).getBoundingClientRect()])
        .filter(([one, box]) => box.height < 47.5 || box.width < 47.5)
        .map(([one, box]) => `${one.outerHTML.slice(0, 80)} ${box.width} x ${box.height}`)"""
    )
    assert small == []
    page.context.close()


@pytest.mark.parametrize("path", ALL_PAGES)
def test_nothing_is_blocked_and_nothing_comes_from_elsewhere(
    browser: Browser, address: str, path: str
) -> None:
    """No message in the console, no request to another host, less than 150 KB in all."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    said: list[str] = []
    hosts: set[str] = set()
    page.on("console", lambda one: said.append(one.text))
    page.on("pageerror", lambda one: said.append(str(one)))
    page.on("request", lambda one: hosts.add(urlsplit(one.url).netloc or one.url[:5]))
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    bytes_in: list[float] = []
    session.on("Network.loadingFinished", lambda one: bytes_in.append(one["encodedDataLength"]))
    page.goto(address + path, wait_until="networkidle", timeout=120_000)
    assert said == []
    assert hosts <= {urlsplit(address).netloc, "data:"}
    assert 10_000 < sum(bytes_in) < 150_000, f"{path}: {sum(bytes_in):.0f} bytes"
    context.close()


@pytest.mark.parametrize("path", ALL_PAGES)
def test_the_keyboard_reaches_everything_and_shows_where_it_is(
    browser: Browser, address: str, path: str
) -> None:
    """Tab goes through every button and link that can be seen, each with an outline."""
    page = opened(browser, address, path, DESK)
    count = page.evaluate(
        """() => [...document.querySelectorAll('a[href], button, input, select, summary')]
        .filter(one => one.type !== 'hidden' && one.checkVisibility()).length"""
    )
    seen: set[str] = set()
    for _ in range(min(count + 2, 60)):
        page.keyboard.press("Tab")
        where, outline = page.evaluate(
            """() => { const one = document.activeElement; const style = getComputedStyle(one);
            const next = one.nextElementSibling;
            const beside = next ? getComputedStyle(next) : style;
            return [one.outerHTML.slice(0, 200) + one.getBoundingClientRect().top,
                    style.outlineStyle !== 'none' || beside.outlineStyle !== 'none']; }"""
        )
        if "<body" not in where:
            assert outline, f"no outline on {where[:120]}"
            seen.add(where)
    assert len(seen) >= min(count, 50)
    page.context.close()


@pytest.mark.parametrize("path", ALL_PAGES)
def test_print_is_black_on_white_without_buttons(browser: Browser, address: str, path: str) -> None:
    """Navigation and buttons stay on the screen; the sheet is white, whatever the theme."""
    page = opened(browser, address, path, DESK, dark=True)
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    shown = page.evaluate(
        """() => [...document.querySelectorAll('nav, button')]
        .filter(one => one.getClientRects().length > 0).map(one => one.outerHTML.slice(0, 80))"""
    )
    assert shown == []
    page.context.close()
