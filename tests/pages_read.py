"""A farm's pages asked for without a server or a browser, and read: elements and words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from html.parser import HTMLParser
from pathlib import Path

import httpx
from aside import aside

from duskline.web.app import create_app
from duskline.web.desk import Desk

__all__ = ["IMPERIAL", "METRIC", "Asking", "Read", "asking"]

IMPERIAL = re.compile(r"\d\.\d+ in\b|\d (ft|ac|lb|gal|mph|mi|hp|ac/h|per ft2)\b")
METRIC = re.compile(r"\d (m|mm|cm|ha|kg|L|km/h|km|kW|ha/h|per m2)\b")


class Read(HTMLParser):
    """A page's elements with their attributes, and the words on it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self._words: list[str] = []
        self._hidden = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element."""
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        self._hidden += tag in ("script", "style", "title")

    def handle_endtag(self, tag: str) -> None:
        """Note its end."""
        self._hidden -= tag in ("script", "style", "title")

    def handle_data(self, data: str) -> None:
        """Note words that can be seen."""
        if not self._hidden:
            self._words.append(data)

    @property
    def text(self) -> str:
        """All words, single spaces between them."""
        return " ".join(" ".join(self._words).split())

    def values(self, attribute: str) -> list[str]:
        """Return an attribute of every element that has it, in order."""
        return [attrs[attribute] for _, attrs in self.elements if attribute in attrs]

    def strange(self) -> list[str]:
        """Return what the page must not hold: scripts or styles of its own, handlers, others'."""
        found = []
        for tag, attrs in self.elements:
            if tag == "style" or (tag == "script" and not attrs.get("src", "").startswith("/")):
                found.append(tag)
            found += [name for name in attrs if name == "style" or name.startswith("on")]
            found += [attrs[name] for name in ("src", "href") if attrs.get(name, "/")[:4] == "http"]
        return found


class Asking:
    """One farm folder at one moment, and its pages."""

    def __init__(self, folder: Path, at: str) -> None:
        moment = datetime.fromisoformat(at)
        self.desk = Desk(folder, clock=lambda: moment)
        self._app = create_app(self.desk)

    def get(self, path: str, **cookies: str) -> httpx.Response:
        """Return the answer to a request of a reader with these cookies."""

        async def ask() -> httpx.Response:
            transport = httpx.ASGITransport(app=self._app)
            async with httpx.AsyncClient(transport=transport, base_url="http://farm") as client:
                told = "; ".join(f"{name}={value}" for name, value in cookies.items())
                return await client.get(path, headers={"Cookie": told} if told else {})

        return aside(ask())

    def read(self, path: str, status: int = 200, **cookies: str) -> Read:
        """Return a page read, its status checked."""
        answer = self.get(path, **cookies)
        if answer.status_code != status:
            raise AssertionError(f"{path}: {answer.status_code}, {answer.text[:400]}")
        return Read(answer.text)


@contextmanager
def asking(folder: Path, at: str) -> Iterator[Asking]:
    """Yield the pages of a farm folder at a moment; close its desk at the end."""
    found = Asking(folder, at)
    try:
        yield found
    finally:
        found.desk.close()
