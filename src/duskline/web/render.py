"""Turning answers into pages: templates, the reader's units and language, and drawings' colours."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import jinja2
from fastapi import Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from duskline.core.farm import Farm
from duskline.draw.ink import COLOURED
from duskline.draw.strings import Language
from duskline.units import System, clock, show, show_chance, show_span
from duskline.web.desk import Desk
from duskline.web.strings import words
from duskline.words.working import figure_text

__all__ = ["Reader", "drawing", "fragment", "page", "reader_of"]

Theme = Literal["auto", "day", "night"]
PAGES = (
    ("today", "/", "Today"),
    ("drives", "/drives", "Drive plans"),
    ("seed", "/seed", "Seed"),
    ("spreader", "/spreader", "Spreader"),
    ("covering", "/covering", "Covering"),
    ("season", "/season", "Season"),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Reader:
    """Who looks: units, language, theme, and the name and device they log under."""

    system: System
    language: Language
    theme: Theme
    person: str
    device: str

    def area(self, area_m2: float, digits: int | None = None) -> str:
        """Return an area to the whole acre or a tenth of a hectare, unless told otherwise."""
        if digits is None:
            digits = 0 if self.system == "us" else 1
        return show(area_m2, "area", self.system, digits)

    def say(self, key: str, **facts: object) -> str:
        """Return a text of the pages in the reader's language."""
        return words(self.language, key, **facts)


def reader_of(request: Request, farm: Farm | None) -> Reader:
    """Return who looks, from the page's own cookies; anything odd in them is as if not there."""
    cookies = request.cookies
    units, theme = cookies.get("units"), cookies.get("theme")
    system: System = farm.system if farm is not None else "us"
    if units in ("us", "metric"):
        system = units  # type: ignore[assignment]
    people = [] if farm is None else [one.name for one in farm.people]
    person = _text(cookies.get("person", ""))
    language: Language = "en"
    if cookies.get("lang") in ("en", "es"):
        language = cookies["lang"]  # type: ignore[assignment]
    elif farm is not None and person in people:
        language = next(one.language for one in farm.people if one.name == person)
    return Reader(
        system=system,
        language=language,
        theme=theme if theme in ("day", "night") else "auto",  # type: ignore[arg-type]
        person=person if person in people else "",
        device=_text(cookies.get("device", "")),
    )


def _text(value: str) -> str:
    """Return a cookie's text as it was put in, or nothing."""
    from urllib.parse import unquote

    plain = unquote(value)
    return plain if plain.isprintable() and len(plain) <= 80 else ""


@lru_cache(maxsize=1)
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("duskline.web", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(
        show=show,
        clock=clock,
        show_span=show_span,
        chance=show_chance,
        figure_text=figure_text,
        pages=PAGES,
    )
    return environment


def page(
    request: Request,
    desk: Desk,
    template: str,
    *,
    here: str,
    title: str,
    farm: Farm | None,
    status: int = 200,
    **facts: Any,
) -> HTMLResponse:
    """Return a whole page."""
    reader = reader_of(request, farm)
    now_at = desk.now(farm) if farm is not None else desk.clock()
    text = (
        _environment()
        .get_template(template)
        .render(
            here=here,
            title=title,
            farm=farm,
            reader=reader,
            say=reader.say,
            system=reader.system,
            now_at=now_at,
            pretends=desk.pretends,
            path=request.url.path,
            **facts,
        )
    )
    return HTMLResponse(text, status_code=status)


def fragment(template: str, reader: Reader, **facts: Any) -> str:
    """Return a part of a page."""
    return (
        _environment()
        .get_template(template)
        .render(reader=reader, say=reader.say, system=reader.system, **facts)
    )


def drawing(text: str) -> Markup:
    """Return one of our own drawings for a page: as wide as its place, in the page's colours.

    The colours become the page's own, so that the night theme reaches into the drawing.
    """
    for name in ("paper", "text", "soft", "hair", "spread", "cover"):
        text = text.replace(getattr(COLOURED, name), f"var(--ink-{name})")
    return Markup(text)  # noqa: S704 made by our own writer, which escapes
