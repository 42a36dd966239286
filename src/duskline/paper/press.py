"""Turns a sheet into a PDF: templates and data in memory, the same bytes for the same sheet.

Tagged PDF/UA-1 with title and language; only the house typeface, never one of the machine's.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time
from functools import lru_cache
from importlib import resources
from typing import Any, Literal

from duskline.draw.typeface import font_folder, in_typeface
from duskline.paper.content import Sheet

__all__ = ["PAPERS", "PaperSize", "press", "text_width_pt"]

PaperSize = Literal["letter", "a4"]
PAPERS: dict[PaperSize, tuple[str, float]] = {"letter": ("us-letter", 612.0), "a4": ("a4", 595.28)}
"""Name for the typesetter and width in points."""
MARGIN_PT = 40.0


def text_width_pt(paper: PaperSize) -> float:
    """Return the width between the margins. [pt]"""
    return PAPERS[paper][1] - 2.0 * MARGIN_PT


@lru_cache(maxsize=1)
def _templates() -> dict[str, bytes]:
    folder = resources.files("duskline.paper").joinpath("templates")
    return {one.name: one.read_bytes() for one in folder.iterdir() if one.name.endswith(".typ")}


@lru_cache(maxsize=1)
def _fonts() -> Any:
    import typst

    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[font_folder()]
    )


def press(sheet: Sheet, *, paper: PaperSize, on: date) -> bytes:
    """Return the sheet as PDF.

    Parameters
    ----------
    sheet
        Data and pictures.
    paper
        Size of the page.
    on
        The day of the plan; it is the time the PDF carries, so that bytes do not change.
    """
    import typst

    data = {
        "paper": PAPERS[paper][0],
        "title": sheet.title,
        "language": sheet.language,
        "body": sheet.data,
    }
    files = {
        "common.typ": _templates()["common.typ"],
        "main.typ": _templates()[f"{sheet.template}.typ"],
        "data.json": in_typeface(json.dumps(data, ensure_ascii=False)).encode(),
        **{name: in_typeface(text).encode() for name, text in sheet.pictures.items()},
    }
    pressed = typst.compile(
        files,
        font_paths=_fonts(),
        pdf_standards=["ua-1"],
        timestamp=int(datetime.combine(on, time(), tzinfo=UTC).timestamp()),
    )
    if not isinstance(pressed, bytes):
        raise TypeError("one sheet gives one file")
    return pressed
