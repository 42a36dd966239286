"""What every request and answer passes: size, origin, and headers that let nothing strange run."""

from __future__ import annotations

import secrets
from ipaddress import ip_address
from urllib.parse import urlsplit

from fastapi import Request
from fastapi.responses import JSONResponse, PlainTextResponse, Response
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["LARGEST_BYTES", "Guard"]

LARGEST_BYTES = 70_000_000
"""More than any reader of a file takes; each reader has its own, smaller bound."""

LONGEST_NUMBER = 12
A_YEAR_S = 365 * 24 * 3600
LOCAL_NAMES = (".local", ".localhost", ".home.arpa", ".internal")
FAULT = (
    "Something went wrong here, and it is no fault of yours. What was recorded before is safe; "
    "the server's own notes say what it was."
)
CHANGING = ("POST", "PUT", "PATCH", "DELETE")
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "font-src 'self'; connect-src 'self'; manifest-src 'self'; form-action 'self'; "
        "base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), payment=(), usb=()",
}


class Guard:
    """Refuse what is too large or comes from another page; add the headers to what goes out.

    A browser that has no name for its device gets one: events carry it.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer it here."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        named = "device" in request.cookies or request.url.path.startswith("/static")

        begun = False

        async def with_headers(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
                if not named:
                    headers.append("Set-Cookie", _device())
            await send(message)

        refused = _refusal(request)
        try:
            await (self.app if refused is None else refused)(scope, receive, with_headers)
        except Exception:
            if not begun:
                await _answer(request, 500, FAULT)(scope, receive, with_headers)
            raise  # into the server's own notes


def _device() -> str:
    return f"device={secrets.token_hex(4)}; Max-Age={A_YEAR_S}; Path=/; HttpOnly; SameSite=Lax"


def _refusal(request: Request) -> Response | None:
    if not _own_name(request.headers.get("host", "")):
        return _answer(request, 421, "This farm's pages are not at that address.")
    if request.method not in CHANGING:
        return None
    length = request.headers.get("content-length", "")
    if not (length.isascii() and length.isdigit()):
        return _answer(request, 411, "The length of what is sent must be stated.")
    if len(length) > LONGEST_NUMBER or int(length) > LARGEST_BYTES:
        most = LARGEST_BYTES // 1_000_000
        return _answer(request, 413, f"More than {most} MB. Send a smaller file.")
    if not _same_origin(request):
        return _answer(request, 403, "This came from another page and was not taken in.")
    return None


def _answer(request: Request, status: int, text: str) -> Response:
    """Return a sentence, in the form that whoever asks can read."""
    if request.url.path.startswith("/api/") or "application/json" in request.headers.get(
        "accept", ""
    ):
        return JSONResponse({"problems": [text]}, status)
    return PlainTextResponse(text, status)


def _own_name(host: str) -> bool:
    """Say whether the server may be called so: by number, or by a name of this or a farm's network.

    A page elsewhere can have its own name lead to this machine, and is then of the same origin;
    a name of the wide net is therefore none of ours.
    """
    try:
        name = urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return False
    try:
        ip_address(name)
    except ValueError:
        return bool(name) and ("." not in name or name.endswith(LOCAL_NAMES))
    return True


def _same_origin(request: Request) -> bool:
    """Say whether the request comes from one of our own pages (or from no page at all)."""
    site = request.headers.get("sec-fetch-site")
    if site is not None and site not in ("same-origin", "none"):
        return False
    origin = request.headers.get("origin")
    if origin is None:
        return True
    try:
        return urlsplit(origin).netloc == request.headers.get("host", "")
    except ValueError:
        return False
