"""Take pictures of the pages of an example farm with the machine's own Chromium.

``python tools/take_pictures.py`` renews the picture of the Today page in ``docs/pictures``.
``--out DIR`` takes every page at phone and desk width, by day and by night, to look at.
"""

from __future__ import annotations

import argparse
import shutil
import socket
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import uvicorn
from playwright.sync_api import Page, sync_playwright

from duskline.web.app import create_app
from duskline.web.desk import Desk, machine_clock, running_from

ROOT = Path(__file__).resolve().parents[1]
PAGES = ("/", "/drives", "/seed", "/spreader", "/covering", "/season", "/farm")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}


def chromium() -> str:
    """Return where the machine's Chromium is."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        raise SystemExit("No Chromium here; on Debian and Ubuntu: apt-get install chromium")
    return found


@contextmanager
def served(folder: Path, at: datetime | None) -> Iterator[str]:
    """Serve a farm folder on this machine, on a clock that starts at ``at``; yield its address."""
    clock = machine_clock if at is None else running_from(at, machine_clock)
    app = create_app(Desk(folder, clock=clock, pretends=at is not None))
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = uvicorn.Server(
        uvicorn.Config(app, host="127.0.0.1", port=port, log_level="warning", lifespan="on")
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(timeout=10)


def take(page: Page, address: str, path: Path, *, whole: bool) -> None:
    """Open a page and take its picture."""
    page.goto(address, wait_until="networkidle", timeout=120_000)
    page.evaluate("document.fonts.ready")
    page.screenshot(path=path, full_page=whole)


def main() -> None:
    """Take the pictures asked for."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--out", type=Path)
    asked.add_argument("--pages", default=",".join(PAGES))
    asked.add_argument("--farm", default="rye-after-soybeans", help="an example, or a folder")
    asked.add_argument("--clock", default="2026-10-18T13:00:00-05:00")
    asked.add_argument("--night", action="store_true", help="by night as well")
    given = asked.parse_args()
    example = ROOT / "examples" / given.farm
    with tempfile.TemporaryDirectory() as beside:
        folder = Path(given.farm) if Path(given.farm).is_dir() else Path(beside) / given.farm
        if not folder.exists():
            shutil.copytree(example, folder)
        with served(folder, datetime.fromisoformat(given.clock)) as address:
            if given.out is None:
                _picture_of_today(address)
            else:
                _all(address, given.out, given.pages.split(","), night=given.night)


def _all(address: str, out: Path, pages: list[str], *, night: bool) -> None:
    out.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium(), args=FLAGS)
        for theme in ("light", "dark") if night else ("light",):
            for name, (width, height) in WIDTHS.items():
                context = browser.new_context(
                    viewport={"width": width, "height": height},
                    color_scheme=theme,
                )
                page = context.new_page()
                page.on("console", lambda said: print("console:", said.text))
                page.on("pageerror", lambda wrong: print("error:", wrong))
                for path in pages:
                    called = path.strip("/").replace("/", "-").replace("?", "-") or "today"
                    take(page, address + path, out / f"{called}-{name}-{theme}.png", whole=True)
                context.close()
        browser.close()


FORENOON: tuple[dict[str, str | float | bool], ...] = (
    {"what": "begin", "machine": "Spreader", "field": "A8", "at": "9:30"},
    {"what": "begin", "machine": "Cultivator 1", "field": "A8", "at": "9:50"},
    {"what": "spread", "machine": "Spreader", "field": "A8", "how": "all", "at": "10:40"},
    {"what": "covered", "machine": "Cultivator 1", "field": "A8", "how": "all", "at": "12:50"},
    {"what": "load", "machine": "Spreader", "field": "A1", "at": "12:25"},
)  # fmt: skip
"""What the invented crew told until one o'clock."""


def _picture_of_today(address: str) -> None:
    out = ROOT / "docs" / "pictures"
    out.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium(), args=FLAGS)
        page = browser.new_page(viewport={"width": 1280, "height": 1080})
        for told in FORENOON:
            answer = page.request.post(address + "/log", form=told)
            if not answer.ok:
                raise SystemExit(answer.text())
        take(page, address + "/", out / "today.png", whole=False)
        browser.close()


if __name__ == "__main__":
    main()
