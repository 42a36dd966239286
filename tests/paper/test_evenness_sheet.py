"""The sheet about evenness: advice on top, strips, levers and map, readable in black and white."""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO
from pathlib import Path

import pytest
from made_folders import EXAMPLES
from pypdf import PdfReader

from duskline.answers.evenness import EvennessAnswer, evenness_answer
from duskline.core.farm import Farm
from duskline.exchange.farmfolder import read_farm
from duskline.paper import make_evenness_sheet
from duskline.paper.evenness_content import evenness_sheet

CASES = (("rye-after-soybeans", "A1"), ("oats-and-radish", "B1"))


@lru_cache(maxsize=4)
def answered(example: str, name: str) -> tuple[Farm, EvennessAnswer]:
    """Return a field's evenness with a coarse map."""
    farm = read_farm(EXAMPLES / example)
    return farm, evenness_answer(farm, name, cell_m=1.0, map_cell_m=2.0)


def text_of(path: Path) -> str:
    """Return all words of a PDF on one line."""
    reader = PdfReader(BytesIO(path.read_bytes()))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


@pytest.mark.parametrize(("example", "name"), CASES)
def test_the_sheet_says_what_to_do_and_why(example: str, name: str, tmp_path: Path) -> None:
    """The advice as the title, every lever in the table, the angle and the ground below."""
    farm, answer = answered(example, name)
    path = make_evenness_sheet(farm, answer, tmp_path)
    assert path.name == f"evenness-{name}.pdf"
    text = text_of(path)
    for words in ("The levers", "Half rate, twice", "The covering angle", "On the ground"):
        assert words in text
    assert len(PdfReader(BytesIO(path.read_bytes())).pages) <= 3


def test_the_table_has_a_row_for_every_lever() -> None:
    """Thirteen levers by eye, each with eight cells; the present way first."""
    farm, answer = answered(*CASES[0])
    sheet = evenness_sheet(farm, answer, paper="letter")
    rows = sheet.data["rows"]
    assert len(rows) == len(answer.levers) == 13
    assert {len(row) for row in rows} == {len(sheet.data["heads"]) + 1}
    assert rows[0][0] == "As you drive now"
    assert set(sheet.pictures) == {"strips.svg", "map.svg"}


def test_the_same_answer_gives_the_same_bytes(tmp_path: Path) -> None:
    """Twice the same sheet, byte for byte."""
    farm, answer = answered(*CASES[1])
    first = make_evenness_sheet(farm, answer, tmp_path / "one").read_bytes()
    assert make_evenness_sheet(farm, answer, tmp_path / "two").read_bytes() == first


def test_without_a_map_the_sheet_does_without_it(tmp_path: Path) -> None:
    """The strips and the table stand by themselves."""
    farm = read_farm(EXAMPLES / CASES[0][0])
    answer = evenness_answer(farm, "A1", with_map=False)
    sheet = evenness_sheet(farm, answer, paper="a4")
    assert set(sheet.pictures) == {"strips.svg"}
    assert "Center the spreader" in text_of(make_evenness_sheet(farm, answer, tmp_path, "a4"))
