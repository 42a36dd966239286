"""A farm's pages served on this machine, on a clock that a test sets, in a real browser."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, Page, sync_playwright

from duskline.web.app import create_app
from duskline.web.desk import Desk

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = ROOT / "examples"
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE, DESK = (390, 844), (1280, 900)
ALL_PAGES = (
    "/", "/today/paper", "/today/followed", "/drives", "/drives/A1", "/seed", "/spreader",
    "/covering", "/season", "/farm", "/farm/fields", "/farm/fields/A2",
    "/edit/cultivator?entry=name:Cultivator%201",
)  # fmt: skip


class Hands:
    """The hands of a clock that only a test moves."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def __call__(self) -> datetime:
        """Return what time it is."""
        return self.at

    def move(self, hour: int, minute: int = 0) -> None:
        """Set the clock to another time of the same day."""
        self.at = self.at.replace(hour=hour, minute=minute, second=0, microsecond=0)


@contextmanager
def served(folder: Path, clock: Hands) -> Iterator[str]:
    """Serve a farm folder; yield its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    app = create_app(Desk(folder, clock=clock, pretends=True))
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
        thread.join(timeout=20)


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start the machine's own Chromium; skip the test where it has none."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("no Chromium on this machine; on Debian and Ubuntu: apt-get install chromium")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()


def laid_out(example: str, beside: Path) -> Path:
    """Return a copy of an example farm."""
    folder = beside / example
    shutil.copytree(EXAMPLES / example, folder)
    return folder


@cache
def _axe() -> str:
    path = ROOT / "tools" / "js" / "node_modules" / "axe-core" / "axe.min.js"
    if not path.is_file():
        pytest.skip("the rules of accessibility are not installed: make .venv/.js")
    return path.read_text(encoding="utf-8")


def accessibility_faults(page: Page) -> list[str]:
    """Return what breaks a rule of accessibility on the page, with where it stands."""
    page.evaluate(_axe())
    found: dict[str, Any] = page.evaluate(
        "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa',"
        " 'best-practice']})"
    )
    return [
        f"{one['id']}: {node['html'][:160]} ({node['failureSummary'][:300]})"
        for one in found["violations"]
        for node in one["nodes"]
    ]
