"""The guard: what is too large or comes from elsewhere stays out, and nothing strange runs."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import pytest
from aside import aside
from fastapi import FastAPI
from hypothesis import given
from hypothesis import strategies as st
from made_folders import copy_of
from starlette.types import ASGIApp

from duskline.web.app import create_app
from duskline.web.desk import Desk
from duskline.web.guard import LARGEST_BYTES

NOON = datetime.fromisoformat("2026-10-18T13:00:00-05:00")
FORM = ("content-type", "application/x-www-form-urlencoded")
JSON = ("content-type", "application/json")
PROGRAM = ("accept", "application/json")


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back over the wire."""

    status: int
    headers: list[tuple[str, str]]
    body: bytes

    def header(self, name: str) -> str:
        """Return one header; empty where it is not there."""
        return ", ".join(value for one, value in self.headers if one == name)

    @property
    def text(self) -> str:
        """The answer's body."""
        return self.body.decode()


def asked(
    app: ASGIApp,
    method: str,
    path: str,
    *headers: tuple[str, str],
    body: bytes = b"",
    length: str | None = "",
    host: str = "farm",
) -> Answer:
    """Return the answer to a request with just these headers.

    ``length`` is told instead of the true one; with None none is told.
    """
    sent = [("host", host), *headers]
    if length is not None and (body or length):
        sent.append(("content-length", length or str(len(body))))
    plain, _, query = path.partition("?")
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
        "scheme": "http", "path": plain, "raw_path": plain.encode(), "query_string": query.encode(),
        "root_path": "", "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80),
        "headers": [(name.encode(), value.encode("latin-1")) for name, value in sent],
    }  # fmt: skip
    parts: list[dict[str, Any]] = [{"type": "http.request", "body": body, "more_body": False}]
    said: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        if not parts:
            await asyncio.Event().wait()  # the browser stays on the line
        return parts.pop(0)

    async def send(message: Any) -> None:
        said.append(message)

    async def ask() -> None:
        await app(scope, receive, send)

    aside(ask())
    return Answer(
        said[0]["status"],
        [(name.decode().lower(), value.decode("latin-1")) for name, value in said[0]["headers"]],
        b"".join(one.get("body", b"") for one in said[1:]),
    )


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """The server of a rye farm, with one page that fails."""
    desk = Desk(copy_of("rye-after-soybeans", tmp_path_factory.mktemp("farm")), clock=lambda: NOON)
    found = create_app(desk)

    def fails() -> None:
        raise RuntimeError("a secret of the machine")

    found.add_api_route("/fails", fails, methods=["GET", "POST"])
    yield found
    desk.close()


def events_in(app: FastAPI) -> int:
    """How many events the log holds."""
    desk: Desk = app.state.desk
    return len(desk.farm().told)


NOTE = b"what=note&note=dust"
POLICY_PARTS = (
    "default-src 'none'", "script-src 'self'", "style-src 'self'", "connect-src 'self'",
    "form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'",
)  # fmt: skip


# --- headers on whatever goes out ----------------------------------------------------------


@pytest.mark.parametrize(
    ("method", "path", "headers", "status"),
    [
        ("GET", "/covering", (), 200),
        ("GET", "/static/page.js", (), 200),
        ("GET", "/static/font/regular.ttf", (), 200),
        ("GET", "/api/events", (), 200),
        ("GET", "/nowhere", (), 404),
        ("GET", "/static/../app.py", (), 404),
        ("GET", "/static/font/..%2Fapp.py", (), 404),
        ("DELETE", "/", (("content-length", "0"),), 405),
        ("POST", "/log", (("content-length", "0"),), 422),
        ("POST", "/log", (), 411),
        ("POST", "/log", (("content-length", "70000001"),), 413),
        ("POST", "/log", (("content-length", "0"), ("origin", "http://elsewhere")), 403),
        ("POST", "/reader", (("content-length", "0"),), 303),
        ("POST", "/api/events", (("content-length", "0"),), 422),
    ],
)  # fmt: skip
def test_every_kind_of_answer_carries_the_policy(
    app: FastAPI, method: str, path: str, headers: Iterable[tuple[str, str]], status: int
) -> None:
    """Pages, files, refusals and redirections alike."""
    answer = asked(app, method, path, *headers)
    assert answer.status == status
    policy = answer.header("content-security-policy")
    for part in POLICY_PARTS:
        assert part in policy
    assert "unsafe" not in policy
    assert answer.header("x-content-type-options") == "nosniff"
    assert answer.header("referrer-policy") == "same-origin"
    assert answer.header("cross-origin-opener-policy") == "same-origin"
    assert answer.header("cross-origin-resource-policy") == "same-origin"
    assert answer.header("cache-control")
    assert not answer.header("access-control-allow-origin")


@pytest.mark.parametrize("headers", [(), (PROGRAM,)], ids=["person", "program"])
def test_a_fault_of_our_own_carries_the_policy_and_tells_no_secret(
    app: FastAPI, headers: tuple[tuple[str, str], ...]
) -> None:
    """The error goes into the server's notes, a sentence to the reader."""

    async def survived(scope: Any, receive: Any, send: Any) -> None:
        with pytest.raises(RuntimeError, match="a secret"):
            await app(scope, receive, send)

    answer = asked(survived, "GET", "/fails", *headers)
    assert answer.status == 500
    assert "default-src 'none'" in answer.header("content-security-policy")
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    assert "recorded before is safe" in answer.text
    if headers:
        assert json.loads(answer.body)["problems"][0].startswith("Something went wrong here")


def test_pages_are_not_kept_by_caches_and_letters_are(app: FastAPI) -> None:
    """A page is of its moment; a letter's shape is for ever."""
    assert asked(app, "GET", "/covering").header("cache-control") == "no-store"
    assert "immutable" in asked(app, "GET", "/static/font/bold.ttf").header("cache-control")


# --- a name for the device -----------------------------------------------------------------


def test_a_device_without_a_name_gets_one_once(app: FastAPI) -> None:
    """Out of reach of scripts and of other pages; not with files, not a second time."""
    first = asked(app, "GET", "/covering").header("set-cookie")
    assert first.startswith("device=")
    assert "HttpOnly" in first
    assert "SameSite=Lax" in first
    assert first != asked(app, "GET", "/covering").header("set-cookie")
    assert not asked(app, "GET", "/covering", ("cookie", "device=1a2b3c4d")).header("set-cookie")
    assert not asked(app, "GET", "/static/page.css").header("set-cookie")


# --- size ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "status"),
    [
        (None, 411),
        ("many", 411),
        ("-1", 411),
        ("²", 411),
        ("1e3", 411),
        (str(LARGEST_BYTES + 1), 413),
        ("9" * 5000, 413),
    ],
)
def test_what_is_too_large_or_of_no_known_size_is_refused_unread(
    app: FastAPI, length: str | None, status: int
) -> None:
    """Before a byte of it is taken in; a figure that is none is no fault of ours."""
    before = events_in(app)
    answer = asked(app, "POST", "/log", FORM, PROGRAM, body=NOTE, length=length)
    assert answer.status == status
    said = json.loads(answer.body)["problems"]
    assert said == [
        "The length of what is sent must be stated."
        if status == 411
        else "More than 70 MB. Send a smaller file."
    ]
    assert events_in(app) == before


# --- where it comes from -------------------------------------------------------------------


@pytest.mark.parametrize(
    "headers",
    [
        (),
        (("origin", "http://farm"),),
        (("origin", "http://farm"), ("sec-fetch-site", "same-origin")),
        (("sec-fetch-site", "none"),),
    ],
)
def test_our_own_pages_and_programs_may_tell(
    app: FastAPI, headers: tuple[tuple[str, str], ...]
) -> None:
    """From a page of ours, from the address bar, or from no page at all."""
    before = events_in(app)
    assert asked(app, "POST", "/log", FORM, *headers, body=NOTE).status == 303
    assert events_in(app) == before + 1


@pytest.mark.parametrize(
    "headers",
    [
        (("origin", "http://elsewhere.example"),),
        (("origin", "null"),),
        (("origin", "http://farm:8080"),),
        (("origin", "http://farm.elsewhere.example"),),
        (("origin", "http://[farm"),),
        (("origin", ""),),
        (("sec-fetch-site", "cross-site"),),
        (("sec-fetch-site", "same-site"),),
        (("origin", "http://farm"), ("sec-fetch-site", "cross-site")),
    ],
)
@pytest.mark.parametrize("path", ["/log", "/api/events", "/today/keep", "/reader"])
def test_another_pages_form_changes_nothing(
    app: FastAPI, path: str, headers: tuple[tuple[str, str], ...]
) -> None:
    """Whatever the form is sent to."""
    before = events_in(app)
    answer = asked(app, "POST", path, FORM, *headers, body=NOTE)
    assert answer.status == 403
    assert "This came from another page and was not taken in." in answer.text
    assert events_in(app) == before


@pytest.mark.parametrize(
    "host",
    ["127.0.0.1:8765", "localhost:8765", "[::1]:8765", "192.168.4.20", "barn", "barn.local:80"],
)
def test_the_server_may_be_called_by_number_or_by_a_name_of_the_farm(
    app: FastAPI, host: str
) -> None:
    """On this machine, and on a network of one's own."""
    assert asked(app, "GET", "/api/events", host=host).status == 200
    own = ("origin", f"http://{host}")
    assert asked(app, "POST", "/log", FORM, own, body=NOTE, host=host).status == 303


@pytest.mark.parametrize(
    "host",
    ["elsewhere.example", "elsewhere.example:8765", "127.0.0.1.elsewhere.example", "local.example",
     "", "[", "[::1", "barn.local.example", "elsewhere.example."],
)  # fmt: skip
def test_a_strange_name_that_leads_here_is_not_answered(app: FastAPI, host: str) -> None:
    """A page whose own name leads to this machine would be of one origin with ours."""
    answer = asked(app, "GET", "/api/events", host=host)
    assert answer.status == 421
    assert json.loads(answer.body) == {"problems": ["This farm's pages are not at that address."]}
    before = events_in(app)
    own = ("origin", f"http://{host}")
    assert asked(app, "POST", "/log", FORM, own, body=NOTE, host=host).status == 421
    assert events_in(app) == before


HEADER_TEXT = st.text(st.characters(min_codepoint=32, max_codepoint=255), max_size=40)


@given(
    host=HEADER_TEXT,
    origin=st.none() | HEADER_TEXT,
    site=st.none() | HEADER_TEXT,
    length=st.none() | HEADER_TEXT,
)
def test_no_header_makes_the_guard_fail(
    app: FastAPI, host: str, origin: str | None, site: str | None, length: str | None
) -> None:
    """Whatever stands in them: refused, or no more than a form without anything in it."""
    headers = [
        (name, value)
        for name, value in (("origin", origin), ("sec-fetch-site", site), ("cookie", origin))
        if value is not None
    ]
    answer = asked(app, "POST", "/log", FORM, *headers, length=length, host=host)
    assert answer.status in {403, 411, 413, 421, 422}
    assert answer.header("content-security-policy")
