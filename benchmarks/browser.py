"""What the pages weigh and how soon Today can be used, in the machine's own Chromium.

``duskline serve`` runs as a process of its own on a copy of the rye farm, warm; the browser comes
with an empty cache each time. Weight is what travels for the first look at a page, all files
together. Today is opened on a processor slowed down four times: until the big number is painted
and "Load done" can be pressed, and, after a tap on it, until the page shows the renewed answer.
The baseline, in the same run, is an empty page of our own server's. Run it with
``.venv/bin/python benchmarks/browser.py``; it exits 1 when a target is missed.
"""

from __future__ import annotations

import json
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from browsing import ALL_PAGES, PHONE, chromium
from made_live import rye_day_one
from made_servers import Client, Serving
from playwright.sync_api import Browser, CDPSession, Page

from duskline.store import open_store

FARM = Path(__file__).resolve().parents[1] / "examples" / "rye-after-soybeans"
LARGEST_BYTES = 150_000
USABLE_MS = 1000.0
SLOWED = 4
ROUNDS_COUNT = 7
EMPTY = "/static/mark.svg"

WATCH = """
let scripted = false;
// The page's own script has run by then: a tap is answered without leaving the page.
document.addEventListener('DOMContentLoaded', () => { scripted = true; });
window.usable = new Promise((done) => {
  const usable = () => {
    const big = document.querySelector('.answer .big, .answer .say');
    const button = document.querySelector('.acts form[data-log] button.main');
    return big && big.textContent.trim() && button && !button.disabled
      && scripted && big.getBoundingClientRect().height > 0;
  };
  const look = () => {
    if (!usable()) { requestAnimationFrame(look); return; }
    // Painted with the frame that follows.
    requestAnimationFrame(() => setTimeout(() => done(performance.now()), 0));
  };
  requestAnimationFrame(look);
});
"""
ANSWERED = "performance.getEntriesByType('navigation')[0].responseEnd"
PAINTED = """new Promise(done => requestAnimationFrame(
  () => setTimeout(() => done(performance.now()), 0)))"""
RENEWED = """() => new Promise((done) => {
  const before = document.querySelectorAll('.log li').length;
  let begun = 0;
  const look = () => {
    if (document.querySelectorAll('.log li').length > before) {
      requestAnimationFrame(() => setTimeout(() => done(performance.now() - begun), 0));
    } else { requestAnimationFrame(look); }
  };
  look();
  begun = performance.now();
  document.querySelector('.acts form[data-log] button.main').click();
})"""


@contextmanager
def opened(browser: Browser, *, slowed: int = 1) -> Iterator[tuple[Page, CDPSession]]:
    """Give a phone's page with an empty cache, on a processor slowed down so many times."""
    context = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.setCacheDisabled", {"cacheDisabled": True})
    session.send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    try:
        yield page, session
    finally:
        context.close()


def weight_bytes(browser: Browser, address: str) -> tuple[float, int]:
    """Return what travels for the first look at a page, and in how many files."""
    with opened(browser) as (page, session):
        taken: list[float] = []
        session.on("Network.loadingFinished", lambda one: taken.append(one["encodedDataLength"]))
        page.goto(address, wait_until="networkidle", timeout=180_000)
        return sum(taken), len(taken)


def usable_ms(browser: Browser, address: str) -> tuple[float, float]:
    """Return when the whole answer is there, and when Today can be used. [ms]

    Both are counted from the beginning of the navigation.
    """
    with opened(browser, slowed=SLOWED) as (page, _):
        page.add_init_script(WATCH)
        page.goto(address, wait_until="commit")
        usable = float(page.evaluate("window.usable"))
        return float(page.evaluate(ANSWERED)), usable


def painted_ms(browser: Browser, address: str) -> tuple[float, float]:
    """Return when an almost empty page is there, and when it is painted. [ms]"""
    with opened(browser, slowed=SLOWED) as (page, _):
        page.goto(address, wait_until="load")
        painted = float(page.evaluate(PAINTED))
        return float(page.evaluate(ANSWERED)), painted


def renewed_ms(browser: Browser, server: Serving) -> tuple[float, float]:
    """Return how long from a tap on "Load done" until the renewed answer is painted, twice. [ms]

    The load is taken back afterwards, so that each tap meets the same day.
    """
    with opened(browser, slowed=SLOWED) as (page, _):
        page.goto(f"http://127.0.0.1:{server.port}/", wait_until="networkidle")
        taken = float(page.evaluate(RENEWED))
    with Client(server.port) as client:
        _, text = client.get("/api/events")
        load = [one for one in json.loads(text) if one["what"] == "load"][-1]
        undo = {"id": f"undo-{load['id']}", "at": load["at"], "what": "undo", "refers": load["id"]}
        client.post("/api/events", [undo])
    return taken, taken


def show(name: str, work: Callable[[], tuple[float, float]], most_ms: float | None = None) -> bool:
    """Print medians and longest of some rounds; returns whether the median is within bounds."""
    taken = [work() for _ in range(ROUNDS_COUNT)]
    answered = statistics.median(one for one, _ in taken)
    middle, longest = statistics.median(one for _, one in taken), max(one for _, one in taken)
    target = "" if most_ms is None else f"   at most {most_ms:.0f}"
    print(f"{name:44}{answered:9.0f}{middle:9.0f}{longest:9.0f}{target}")
    return most_ms is None or middle <= most_ms


def weigh(browser: Browser, address: str) -> bool:
    """Print what every page weighs; returns whether all are light enough."""
    good = True
    print(f"{'first look, empty cache':44}{'bytes':>9}{'files':>9}   at most {LARGEST_BYTES}")
    for path in ALL_PAGES:
        warm_s = time.perf_counter()
        weight_bytes(browser, address + path)
        warm_s = time.perf_counter() - warm_s
        weight, files = weight_bytes(browser, address + path)
        light = 0 < weight < LARGEST_BYTES
        good = good and light
        fault = "" if light else "   TOO HEAVY"
        print(f"{path:44}{weight:9.0f}{files:9d}   first look {warm_s:.1f} s{fault}")
    return good


def today(browser: Browser, server: Serving, folder: Path) -> bool:
    """Print how soon Today can be used and is renewed; returns whether it is soon enough."""
    address = f"http://127.0.0.1:{server.port}"
    print(f"\n{f'processor slowed down {SLOWED} times':44}{'answered':>9}{'p50 ms':>9}{'max':>9}")
    show("baseline: a drawing of 260 bytes", lambda: painted_ms(browser, address + EMPTY))
    usable_ms(browser, address + "/")
    soon = show("Today in the morning", lambda: usable_ms(browser, address + "/"), USABLE_MS)
    with open_store(folder, create=False) as store:
        store.append([one for one in rye_day_one() if one.at.hour < 13])
    usable_ms(browser, address + "/")
    soon &= show("Today at one", lambda: usable_ms(browser, address + "/"), USABLE_MS)
    show('tap on "Load done" until renewed', lambda: renewed_ms(browser, server))
    return soon


def main() -> int:
    """Print the tables; 1 when a target is missed."""
    with tempfile.TemporaryDirectory(prefix="duskline-bench-") as beside, chromium() as browser:
        folder = Path(beside) / FARM.name
        shutil.copytree(FARM, folder)
        with Serving(folder).wait() as server:
            soon = today(browser, server, folder)
            light = weigh(browser, f"http://127.0.0.1:{server.port}")
    return int(not (soon and light))


if __name__ == "__main__":
    raise SystemExit(main())
