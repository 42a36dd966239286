"""The Seed page: is the lot fit, what rate, is there enough in the bin?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import svg
from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from duskline.answers.seed import BinAnswer, LotAnswer, seed_answer
from duskline.core.errors import DusklineError
from duskline.core.farm import Farm, RateWish
from duskline.core.seed import FitnessLevel
from duskline.draw.ink import COLOURED, document, dots, hatch, label, line, polygon, prefix, rect
from duskline.draw.typeface import text_width
from duskline.units import System, UnitError, parse, show, to_display
from duskline.web.desk import Desk
from duskline.web.editing import edit_sections
from duskline.web.render import Reader, drawing, page, reader_of
from duskline.words import seed as words
from duskline.words.errors import sentences

__all__ = ["bin_bar", "quantity", "router"]

router = APIRouter()
LONGEST_TEXT = 40
MOST_SEEDS = 100_000
_NARROW = 700.0
BAR_WIDTHS = {"for-phone": 350.0, "for-desk": 1000.0}


@router.get("/seed", response_class=HTMLResponse, include_in_schema=False)
def seed_page(
    request: Request, lot: str = "", sprouted: str = "", tested: str = "", bulk: str = ""
) -> HTMLResponse:
    """Show every lot: fit or not, the rate three ways, bin, loads; and what another count means."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    system = reader.system
    answer = desk.answer(
        ("seed", system), lambda: seed_answer(replace(farm, system=system)), of_log=False
    )
    lots = [_lot(farm, one, system) for one in sorted(answer.lots, key=_first)]
    cautions = list(dict.fromkeys(text for one in answer.lots for text in words.cautions(one)))
    return page(
        request,
        desk,
        "seed.html",
        here="seed",
        title="Seed",
        farm=farm,
        lots=lots,
        lots_line=words.lots_line(answer) if len(lots) > 1 else "",
        cautions=cautions,
        trial=_trial(farm, reader, lot=lot, sprouted=sprouted, tested=tested, bulk=bulk),
        edit=edit_sections(desk, "seed", system),
    )


def _first(answer: LotAnswer) -> tuple[bool, bool, float]:
    """Return a key by which what stands in the way comes first, then the largest area."""
    fits = answer.fitness is None or answer.fitness.tick
    return fits, answer.bin is None or answer.bin.enough, -answer.area_m2


# --------------------------------------------------------------------------- one lot


def _lot(farm: Farm, answer: LotAnswer, system: System) -> dict[str, Any]:
    """Return what the page says of one lot."""
    return {
        "answer": answer,
        "mark": _mark(answer),
        "fit": words.fit_line(answer) or "NOT TESTED",
        "germination": words.germination_line(answer),
        "agreement": words.agreement_line(answer),
        "insects": words.insect_line(answer),
        "office": words.office_lines(answer),
        "cells": words.rate_cells(answer, system, farm.country),
        "short": words.shortfall_lines(answer, system),
        "parts": [_part(farm, name) for name in answer.lot.parts],
        "bin_short": words.bin_short(answer.bin, system) if answer.bin is not None else "",
        "bin": words.bin_line(answer.bin, system) if answer.bin is not None else "",
        "bars": _bars(answer.bin, system),
        "loads": words.loads_line(answer, system),
        "fields": [
            {
                "name": row.field,
                "area": show(row.area_m2, "area", system),
                "mass": show(row.mass_kg, "mass", system),
                "loads": words.loads_text(row, system),
            }
            for row in answer.fields
        ],
    }


def _mark(answer: LotAnswer) -> str:
    """Return which drawn mark stands beside the verdict."""
    verdict = answer.fitness
    if verdict is None:
        return "ask"
    if verdict.level is FitnessLevel.ASK_FIRST and verdict.agreement is not None:
        return "agreed"
    return {
        FitnessLevel.USE: "use",
        FitnessLevel.USE_HEAVIER: "heavier",
        FitnessLevel.ASK_FIRST: "ask",
        FitnessLevel.DO_NOT: "not",
    }[verdict.level]


def _part(farm: Farm, name: str) -> dict[str, Any]:
    """Return what the page says of one part of a mix."""
    answer = _alone(farm, name)
    return {
        "name": name,
        "mark": _mark(answer),
        "fit": words.fit_line(answer),
        "germination": words.germination_line(answer),
        "insects": words.insect_line(answer),
    }


def _alone(farm: Farm, name: str) -> LotAnswer:
    """Return the answer to a plain lot; to a part of a mix as if it were sown by itself.

    A program's floor is not held against a part: it is meant for all that is sown.
    """
    fields = tuple(
        replace(one, lot=name) if name in farm.lot(one.lot).parts else one for one in farm.fields
    )
    program = farm.program
    if any(name in lot.parts for lot in farm.lots):
        program = replace(program, live_floor_kg_per_m2=None)
    answer = seed_answer(replace(farm, fields=fields, spreaders=(), program=program))
    return next(one for one in answer.lots if one.lot.name == name)


# --------------------------------------------------------------------------- the bin's bar


def _bars(answer: BinAnswer | None, system: System) -> dict[str, Markup]:
    if answer is None:
        return {}
    return {
        place: drawing(bin_bar(answer, system, width=width)) for place, width in BAR_WIDTHS.items()
    }


def bin_bar(answer: BinAnswer, system: System, *, width: float) -> str:
    """Return the ground that the seed on hand does, beside the ground to sow, as SVG text.

    What is done is solid, what is short hatched, what is spare stippled; a pole stands where a
    spreader that runs heavy would run out.
    """
    return _Bar(answer, system, width).document()


class _Bar:
    """The bin's bar with its scale: ground from nothing to what is needed or what is done."""

    def __init__(self, answer: BinAnswer, system: System, width: float) -> None:
        self.answer, self.system, self.width = answer, system, width
        self.size = 15.0 if width < _NARROW else 17.0
        self.does_m2 = answer.sufficiency.area_it_does_m2
        self.needed_m2 = answer.sufficiency.area_needed_m2
        self.left, self.right = 2.0, width - 2.0
        self.top = 1.9 * self.size
        self.bottom = self.top + 34.0
        self.name = prefix("bin", answer.lot, self.does_m2, self.needed_m2, width)

    def x(self, area_m2: float) -> float:
        share = area_m2 / max(self.does_m2, self.needed_m2)
        return self.left + share * (self.right - self.left)

    def area(self, area_m2: float) -> str:
        return show(area_m2, "area", self.system, 0 if self.system == "us" else 1)

    def document(self) -> str:
        below = self._below()
        return document(
            width=self.width,
            height=self.bottom + (2.2 * self.size if below else 4.0),
            title=f"Seed on hand: {self.answer.lot}",
            story=f"It does {self.area(self.does_m2)}; {self.area(self.needed_m2)} are to sow.",
            defs=[
                hatch(f"{self.name}-short", colour=COLOURED.spread, every=8.0, width=2.4),
                dots(f"{self.name}-spare", colour=COLOURED.soft, every=8.0, radius=1.1),
            ],
            elements=[*self._box(), *self._to_sow(), *below],
        )

    def _box(self) -> Iterator[svg.Element]:
        top, high = self.top, self.bottom - self.top
        middle = self.x(min(self.does_m2, self.needed_m2))
        rest = "spare" if self.does_m2 >= self.needed_m2 else "short"
        yield rect(self.left, top, middle - self.left, high, fill=COLOURED.cover)
        yield rect(middle, top, self.right - middle, high, fill=f"url(#{self.name}-{rest})")
        yield rect(
            self.left,
            top,
            self.right - self.left,
            high,
            fill="none",
            stroke=COLOURED.text,
            stroke_width=2,
        )

    def _to_sow(self) -> Iterator[svg.Element]:
        at = self.x(self.needed_m2)
        yield line((at, self.top - 5.0), (at, self.bottom), stroke=COLOURED.text, stroke_width=3)
        yield self._label(at, self.top - 0.6 * self.size, f"to sow {self.area(self.needed_m2)}")

    def _below(self) -> list[svg.Element]:
        """Return the pole where seed runs out; none where it lasts even 5 % over."""
        heavy_m2 = self.answer.run_out_if_heavy_m2
        if self.does_m2 < self.needed_m2:
            at, text = self.x(self.does_m2), f"runs out at {self.area(self.does_m2)}"
        elif heavy_m2 < self.needed_m2:
            at, text = self.x(heavy_m2), f"5 % over: out at {self.area(heavy_m2)}"
        else:
            return []
        tip = self.bottom + 9.0
        return [
            line((at, self.top), (at, self.bottom), stroke=COLOURED.paper, stroke_width=3),
            polygon(((at, self.bottom), (at - 6.0, tip), (at + 6.0, tip)), fill=COLOURED.text),
            self._label(at, self.bottom + 1.6 * self.size, text),
        ]

    def _label(self, at: float, base: float, text: str) -> svg.Element:
        half = 0.5 * text_width(text, self.size, bold=True)
        middle = min(max(at, self.left + half), self.right - half)
        return label(
            (middle, base), text, self.size, fill=COLOURED.text, anchor="middle", bold=True
        )


# --------------------------------------------------------------------------- what if


@dataclass(frozen=True, kw_only=True, slots=True)
class Trial:
    """The little form and what came of it; ``wrong`` by the name of the input."""

    lots: tuple[str, ...]
    lot: str
    given: dict[str, str]
    wrong: dict[str, str]
    unit: str
    asked: bool
    answer: LotAnswer | None = None
    mark: str = ""
    lines: tuple[str, ...] = ()
    fit: str = ""
    cells: tuple[words.RateCell, ...] = ()


def _trial(farm: Farm, reader: Reader, *, lot: str, **typed: str) -> Trial:
    """Return the form as it was filled in, and the answer where it can be given."""
    names = _plain_names(farm)
    given = {key: text.strip()[:LONGEST_TEXT] for key, text in typed.items()}
    chosen = lot if lot in names else (names[0] if names else "")
    form = Trial(
        lots=names,
        lot=chosen,
        given=given,
        wrong={},
        unit=to_display(1.0, "rate", reader.system)[1],
        asked=any(given.values()),
    )
    if not form.asked or not chosen:
        return form
    wrong: dict[str, str] = {}
    count = _count(given, wrong)
    rate = quantity(given["bulk"], "rate", reader.system, wrong, "bulk")
    if wrong:
        return replace(form, wrong=wrong)
    try:
        return _tried(farm, form, reader.system, count, rate)
    except DusklineError as refused:
        place = "sprouted" if count is not None else "bulk"
        return replace(form, wrong={place: " ".join(sentences(refused, reader.system))})


def _plain_names(farm: Farm) -> tuple[str, ...]:
    """Return the lots that are sown, a mix by its parts."""
    sown = dict.fromkeys(farm.lot(one.lot).name for one in farm.fields)
    found = [name for one in sown for name in (farm.lot(one).parts or (one,))]
    return tuple(dict.fromkeys(found))


def _tried(
    farm: Farm, form: Trial, system: System, count: tuple[int, int] | None, rate: float | None
) -> Trial:
    lot = farm.lot(form.lot)
    other = lot
    if count is not None:
        other = replace(other, alive_counts=(count[0],), tested_counts=(count[1],))
    if rate is not None:
        other = replace(other, wish=RateWish(bulk_kg_per_m2=rate))
    lots = tuple(other if one is lot else one for one in farm.lots)
    answer = _alone(replace(farm, lots=lots), form.lot)
    lines = [f"Germination {words.germination_line(answer)}."]
    lines += words.shortfall_lines(answer, system)
    if answer.bin is not None:
        lines.append(words.bin_line(answer.bin, system))
    return replace(
        form,
        answer=answer,
        mark=_mark(answer),
        fit=words.fit_line(answer),
        cells=tuple(words.rate_cells(answer, system, farm.country)),
        lines=tuple(lines),
    )


def _count(given: dict[str, str], wrong: dict[str, str]) -> tuple[int, int] | None:
    """Return (sprouted, tested); what cannot be true goes into ``wrong``."""
    if not given["sprouted"] and not given["tested"]:
        return None
    found: dict[str, int] = {}
    for name, least in (("sprouted", 0), ("tested", 1)):
        text = given[name].replace(",", "")
        if not (text.isascii() and text.isdigit()) or not least <= int(text) <= MOST_SEEDS:
            wrong[name] = f"A whole number from {least} to {MOST_SEEDS:,}, such as 176 and 200."
        else:
            found[name] = int(text)
    if len(found) == 2 and found["sprouted"] > found["tested"]:
        wrong["sprouted"] = (
            f"{found['sprouted']} cannot sprout of {found['tested']}: count again, or swap them."
        )
    return None if wrong else (found["sprouted"], found["tested"])


def quantity(
    text: str, kind: str, system: System, wrong: dict[str, str], name: str
) -> float | None:
    """Return a quantity typed into a form, in SI; a bare number is in the reader's unit.

    None where nothing was typed, or where it goes into ``wrong`` under ``name``.
    """
    if not text:
        return None
    plain = text.replace(",", "")
    bare = plain.replace(".", "", 1).isdigit() and plain.isascii()
    unit = to_display(1.0, kind, system)[1]
    try:
        found = parse(f"{plain} {unit}" if bare else text, kind)
    except UnitError as refused:
        wrong[name] = sentences(refused)[0]
        return None
    if not 0.0 < found < float("inf"):
        wrong[name] = f"Read {text}; expected more than nothing, in {unit}."
        return None
    return found
