"""Writes the sheets of a day: day sheet, windshield card, and a card for everybody of the crew."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Literal

from duskline.answers.day import DayAnswer
from duskline.answers.drive import FieldPlan
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
from duskline.paper.press import PaperSize, press, text_width_pt

__all__ = ["day_sheets", "make_sheets"]


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
    size: PaperSize = paper or ("letter" if farm.system == "us" else "a4")
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for sheet in day_sheets(farm, answer, seed, plans, paper=size, why=why):
        target = folder / f"{sheet.name}.pdf"
        beside = target.with_suffix(".pdf.part")
        beside.write_bytes(press(sheet, paper=size, on=answer.on))
        os.replace(beside, target)
        written.append(target)
    return tuple(written)
