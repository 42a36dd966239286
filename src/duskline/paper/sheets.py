"""Writes sheets: the day sheet, the windshield card, the crew's cards, fields, the season."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

from duskline.answers.day import DayAnswer
from duskline.answers.drive import FieldPlan
from duskline.answers.evenness import EvennessAnswer
from duskline.answers.field import FieldAnswer
from duskline.answers.season import SeasonAnswer
from duskline.answers.seed import SeedAnswer
from duskline.core.farm import Farm
from duskline.paper.content import (
    Desk,
    Sheet,
    covering_sheet,
    day_sheet,
    seed_truck_sheet,
    spreader_sheet,
    windshield_sheet,
)
from duskline.paper.evenness_content import evenness_sheet
from duskline.paper.field_content import field_sheet
from duskline.paper.press import PaperSize, press, text_width_pt
from duskline.paper.season_content import season_sheet

__all__ = [
    "day_sheets",
    "field_sheets",
    "make_evenness_sheet",
    "make_field_sheets",
    "make_season_sheet",
    "make_sheets",
]

_NO_DAY = date(2000, 1, 1)
"""The day that a field sheet carries which is made for no day."""


def day_sheets(
    farm: Farm,
    answer: DayAnswer,
    seed: SeedAnswer,
    plans: Mapping[str, FieldPlan],
    *,
    paper: PaperSize,
    why: Sequence[str] = (),
) -> tuple[Sheet, ...]:
    """Return every sheet of the day, not yet set.

    Parameters
    ----------
    farm
        The farm folder.
    answer, seed, plans
        The day, the seed, and how each field is driven.
    paper
        Size of the page.
    why
        Sentences that say why, for the day sheet.
    """
    desk = Desk.of(farm, answer, seed, plans, text_width_pt=text_width_pt(paper))
    return (
        day_sheet(desk, why),
        windshield_sheet(desk),
        spreader_sheet(desk),
        covering_sheet(desk),
        seed_truck_sheet(desk, "en"),
        seed_truck_sheet(desk, "es"),
    )


def make_sheets(
    farm: Farm,
    answer: DayAnswer,
    seed: SeedAnswer,
    plans: Mapping[str, FieldPlan],
    folder: Path,
    *,
    paper: Literal["letter", "a4"] | None = None,
    why: Sequence[str] = (),
) -> tuple[Path, ...]:
    """Write every sheet of the day into a folder; return the files written.

    Parameters
    ----------
    farm
        The farm folder.
    answer, seed, plans
        The day, the seed, and how each field is driven.
    folder
        Where the PDF files go; made if it is not there. Files of the same names are replaced,
        each whole or not at all.
    paper
        None for letter in US units and A4 in metric ones.
    why
        Sentences that say why, for the day sheet.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    size = _paper(farm, paper)
    sheets = day_sheets(farm, answer, seed, plans, paper=size, why=why)
    return _write(sheets, folder, size, answer.on)


def field_sheets(
    farm: Farm, answers: Sequence[FieldAnswer], *, paper: PaperSize
) -> tuple[Sheet, ...]:
    """Return the sheet of each field, not yet set; no two have one file name.

    Parameters
    ----------
    farm
        The farm folder.
    answers
        How each field is driven.
    paper
        Size of the page.
    """
    found: list[Sheet] = []
    taken: set[str] = set()
    for answer in answers:
        sheet = field_sheet(farm, answer, paper=paper)
        name, count = sheet.name, 1
        # Some disks do not tell "a1" from "A1".
        while name.casefold() in taken:
            count += 1
            name = f"{sheet.name}-{count}"
        taken.add(name.casefold())
        found.append(replace(sheet, name=name))
    return tuple(found)


def make_field_sheets(
    farm: Farm,
    answers: Sequence[FieldAnswer],
    folder: Path,
    paper: PaperSize | None = None,
    *,
    on: date | None = None,
) -> tuple[Path, ...]:
    """Write one PDF for each field into a folder; return the files written.

    Parameters
    ----------
    farm
        The farm folder.
    answers
        How each field is driven.
    folder
        Where the PDF files go; made if it is not there. Files of the same names are replaced,
        each whole or not at all.
    paper
        None for letter in US units and A4 in metric ones.
    on
        The day the files carry, so that the same answer gives the same bytes; None for the first
        hour of the forecast, and a fixed day where there is none.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    size = _paper(farm, paper)
    if on is None:
        on = farm.forecast.hours_at[0].date() if farm.forecast else _NO_DAY
    return _write(field_sheets(farm, answers, paper=size), folder, size, on)


def make_evenness_sheet(
    farm: Farm, answer: EvennessAnswer, folder: Path, paper: PaperSize | None = None
) -> Path:
    """Write the sheet about a field's evenness into a folder; return the file written.

    Parameters
    ----------
    farm
        The farm folder.
    answer
        How even the seed lies.
    folder
        Where the PDF goes; made if it is not there. A file of that name is replaced whole.
    paper
        None for letter in US units and A4 in metric ones.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    size = _paper(farm, paper)
    on = farm.forecast.hours_at[0].date() if farm.forecast else _NO_DAY
    return _write((evenness_sheet(farm, answer, paper=size),), folder, size, on)[0]


def make_season_sheet(
    farm: Farm,
    answer: SeasonAnswer,
    out: Path,
    *,
    paper: PaperSize | None = None,
    version: int | None = None,
    made_on: date | None = None,
) -> Path:
    """Write the season sheet, with a page for each crew where there are several.

    Parameters
    ----------
    farm
        The farm folder.
    answer
        Which field on which day.
    out
        The file where its name ends in ".pdf"; else the folder in which the file is named
        "season-sheet.pdf". Folders are made; a file of that name is replaced whole.
    paper
        None for letter in US units and A4 in metric ones.
    version
        Number of the kept plan; None for a plan that is not kept.
    made_on
        The day the plan was made, which the file carries too; None for today on the farm.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    size = _paper(farm, paper)
    made = made_on or datetime.now(ZoneInfo(farm.time_zone)).date()
    sheet = season_sheet(farm, answer, paper=size, made_on=made, version=version)
    if out.suffix.lower() != ".pdf":
        return _write((sheet,), out, size, made)[0]
    named = replace(sheet, name=out.name[: -len(out.suffix)])
    written = _write((named,), out.parent, size, made)[0]
    return written if written.name == out.name else written.replace(out)


def _paper(farm: Farm, paper: PaperSize | None) -> PaperSize:
    return paper or ("letter" if farm.system == "us" else "a4")


def _write(sheets: Sequence[Sheet], folder: Path, paper: PaperSize, on: date) -> tuple[Path, ...]:
    """Write each sheet whole or not at all."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for sheet in sheets:
        target = folder / f"{sheet.name}.pdf"
        beside = target.with_suffix(".pdf.part")
        beside.write_bytes(press(sheet, paper=paper, on=on))
        os.replace(beside, target)
        written.append(target)
    return tuple(written)
