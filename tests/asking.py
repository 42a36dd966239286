"""Somebody who asks the pages of a farm folder, without a browser and without a network."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import httpx
from aside import aside

from duskline.web.app import create_app
from duskline.web.desk import Desk

__all__ = ["INLINE", "Reader", "readers_closed", "text_of"]

INLINE = re.compile(r"<style|\sstyle=|\son[a-z]+=|<script(?![^>]*\ssrc=)")
"""What the pages' policy would block."""
_open: list[Reader] = []


class Reader:
    """A reader with cookies of his own; closes the desk with :func:`readers_closed`."""

    def __init__(self, folder: Path, clock: Callable[[], datetime], **cookies: str) -> None:
        self.desk = Desk(folder, clock=clock)
        self.app = create_app(self.desk)
        self.cookies = cookies
        _open.append(self)

    def get(self, path: str, params: dict[str, str] | None = None) -> httpx.Response:
        """Return the answer to a look at a page."""
        return self._answer("GET", path, params=params)

    def post(self, path: str, data: dict[str, str] | None = None) -> httpx.Response:
        """Return the answer to a form, where it sends the browser on to."""
        return self._answer("POST", path, data=data or {})

    def _answer(self, method: str, path: str, **sent: dict[str, str] | None) -> httpx.Response:
        return aside(self._ask(method, path, **sent))

    async def _ask(self, method: str, path: str, **sent: dict[str, str] | None) -> httpx.Response:
        transport = httpx.ASGITransport(app=self.app)
        async with httpx.AsyncClient(
            transport=transport,
            base_url="http://farm",
            cookies=self.cookies,
            follow_redirects=True,
        ) as client:
            return await client.request(method, path, **sent)  # type: ignore[arg-type]


@contextmanager
def readers_closed() -> Iterator[None]:
    """Close the desks of all readers at the end."""
    try:
        yield
    finally:
        while _open:
            _open.pop().desk.close()


def text_of(page: str) -> str:
    """Return what a person reads on a page, in one line."""
    main = page.split("<main", 1)[1].split("</main>", 1)[0].split(">", 1)[1]
    plain = re.sub(r"<[^>]*>", " ", main)
    for sign, letter in (("&#39;", "'"), ("&lt;", "<"), ("&gt;", ">"), ("&amp;", "&")):
        plain = plain.replace(sign, letter)
    return re.sub(r"\s+", " ", plain)
