"""The server: one farm, one page for each question."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import resources
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles

from duskline.core.errors import DusklineError
from duskline.draw.typeface import font_folder
from duskline.store.errors import StoreBusy, StoreFull, StoreUnreachable
from duskline.web import (
    covering,
    drives,
    editing,
    evening,
    farm,
    fields,
    happened,
    reader,
    season,
    seed,
    spreader,
    today,
)
from duskline.web.desk import Desk, FarmNotReady
from duskline.web.guard import Guard
from duskline.web.render import page, reader_of
from duskline.words.errors import sentences

__all__ = ["create_app"]

FONTS = {
    "regular.ttf": "AtkinsonHyperlegible-Regular.ttf",
    "bold.ttf": "AtkinsonHyperlegible-Bold.ttf",
}
A_YEAR_S = 365 * 24 * 3600
STATUS = ((StoreFull, 507), (StoreBusy, 503), (StoreUnreachable, 503))
"""What is nobody's slip: the same may be told again later."""

GZIP_FROM_BYTES = 800


def create_app(desk: Desk) -> FastAPI:
    """Return the server of one desk.

    Parameters
    ----------
    desk
        The farm folder with its store; closed when the server stops.
    """

    @asynccontextmanager
    async def life(_app: FastAPI) -> AsyncIterator[None]:
        yield
        desk.close()

    app = FastAPI(title="Duskline", docs_url=None, redoc_url=None, lifespan=life)
    app.state.desk = desk
    app.add_middleware(GZipMiddleware, minimum_size=GZIP_FROM_BYTES)
    app.add_middleware(Guard)
    rooms = (
        today, happened, evening, drives, seed, spreader, covering, season, farm, fields, editing,
        reader,
    )  # fmt: skip
    for room in rooms:
        app.include_router(room.router)
    app.add_api_route("/static/font/{name}", _font, include_in_schema=False)
    static = Path(str(resources.files("duskline.web"))) / "static"
    app.mount("/static", StaticFiles(directory=static), name="static")
    app.add_exception_handler(FarmNotReady, _not_ready)
    app.add_exception_handler(DusklineError, _refused)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _invalid)
    return app


def _font(name: str) -> Response:
    if name not in FONTS:
        raise HTTPException(404)
    return FileResponse(
        Path(font_folder()) / FONTS[name],
        media_type="font/ttf",
        headers={"Cache-Control": f"public, max-age={A_YEAR_S}, immutable"},
    )


# --------------------------------------------------------------------------- what goes wrong


def wants_json(request: Request) -> bool:
    """Say whether a program asks rather than a person."""
    return request.url.path.startswith("/api/") or "application/json" in request.headers.get(
        "accept", ""
    )


async def _not_ready(request: Request, wrong: Exception) -> Response:
    assert isinstance(wrong, FarmNotReady)  # noqa: S101 registered for this class
    if wants_json(request):
        return JSONResponse({"problems": [one.sentence for one in wrong.problems]}, 409)
    return RedirectResponse("/farm", status_code=303)


async def _refused(request: Request, wrong: Exception) -> Response:
    assert isinstance(wrong, DusklineError)  # noqa: S101 registered for this class
    status = next((status for kind, status in STATUS if isinstance(wrong, kind)), 422)
    return _sorry(request, status, sentences(wrong))


async def _http(request: Request, wrong: Exception) -> Response:
    assert isinstance(wrong, HTTPException)  # noqa: S101 registered for this class
    texts = {404: "There is no such page.", 405: "That cannot be done here."}
    return _sorry(request, wrong.status_code, [texts.get(wrong.status_code, str(wrong.detail))])


async def _invalid(request: Request, wrong: Exception) -> Response:
    assert isinstance(wrong, RequestValidationError)  # noqa: S101 registered for this class
    said = [
        f"{'.'.join(str(part) for part in one['loc'][1:])}: {one['msg']}" for one in wrong.errors()
    ]
    return _sorry(request, 422, said)


def _sorry(request: Request, status: int, texts: list[str]) -> Response:
    if wants_json(request):
        return JSONResponse({"problems": texts}, status)
    desk: Desk = request.app.state.desk
    try:
        of_farm = desk.farm()
    except FarmNotReady:
        of_farm = None
    response: HTMLResponse = page(
        request,
        desk,
        "sorry.html",
        here="",
        title=texts[0],
        farm=of_farm,
        status=status,
        texts=texts,
        language=reader_of(request, of_farm).language,
    )
    return response
