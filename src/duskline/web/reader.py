"""What the reader sets for himself: units, language, day or night, and who he is."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse

__all__ = ["router"]

router = APIRouter()
A_YEAR_S = 365 * 24 * 3600
CHOICES = {"units": ("us", "metric"), "lang": ("en", "es"), "theme": ("day", "night", "auto")}


@router.post("/reader", include_in_schema=False)
def set_reader(
    back: Annotated[str, Form(max_length=400)] = "/",
    units: Annotated[str, Form(max_length=10)] = "",
    lang: Annotated[str, Form(max_length=10)] = "",
    theme: Annotated[str, Form(max_length=10)] = "",
    person: Annotated[str | None, Form(max_length=80)] = None,
) -> RedirectResponse:
    """Keep one choice and go back to the page it was made on."""
    inside = back.startswith("/") and not back.startswith(("//", "/\\"))
    response = RedirectResponse(back if inside else "/", status_code=303)
    for name, value in (("units", units), ("lang", lang), ("theme", theme)):
        if value in CHOICES[name]:
            response.set_cookie(name, value, max_age=A_YEAR_S, httponly=True, samesite="lax")
    if person is not None:
        response.set_cookie(
            "person", quote(person), max_age=A_YEAR_S, httponly=True, samesite="lax"
        )
    return response
