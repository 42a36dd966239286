"""What the crew asks of the paper: the same in both languages, and readable without colour."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from made_folders import EXAMPLES, asked
from pypdf import PdfReader

RYE = EXAMPLES / "rye-after-soybeans"
NUMBER = re.compile(r"\d[\d,.:]*\s*(?:am|pm|lb|ac|ft|mph)?")


@cache
def sheets() -> Path:
    """Return a folder with the rye farm's sheets, written by the command."""
    folder = Path(mkdtemp())
    assert asked("sheets", RYE, folder).exit_code == 0
    return folder


def text_of(name: str) -> str:
    """Return the text of a sheet, page after page."""
    return "\n".join(page.extract_text() for page in PdfReader(sheets() / name).pages)


def sizes_of(name: str) -> set[float]:
    """Return every size of type on a sheet, in points."""
    sizes: set[float] = set()

    def visit(text: str, cm: list[float], tm: list[float], _font: object, size: float) -> None:
        if text.strip():
            sizes.add(round(abs(size * tm[3] * cm[3]), 1))

    for page in PdfReader(sheets() / name).pages:
        page.extract_text(visitor_text=visit)
    return sizes


def test_story_35_the_spanish_card_says_the_same_numbers_safety_first() -> None:
    """Numbers, units and clock times are those of the English card; safety stands first."""
    english, spanish = text_of("seed-truck-card.pdf"), text_of("seed-truck-card-es.pdf")
    loads = ("Loads", "Cargas")
    told = [
        NUMBER.findall(card[card.index(word) :]) for card, word in
        zip((english, spanish), loads, strict=True)
    ]  # fmt: skip
    clock_times = [[n for n in numbers if n.endswith(("am", "pm"))] for numbers in told]
    weights = [[n for n in numbers if n.endswith("lb")] for numbers in told]
    assert clock_times[0] == clock_times[1] != []
    assert weights[0] == weights[1] != []
    assert english.index("Safety first") < english.index("Emergency") < english.index("Loads")
    assert (
        spanish.index("Primero la seguridad")
        < spanish.index("Emergencia")
        < spanish.index("Cargas")
    )
    assert "agricultor nativo" in spanish


def test_story_36_states_are_told_apart_without_colour(tmp_path: Path) -> None:
    """Spread, worked in, open and the cut-off differ by line, hatch or word, not only by colour."""
    strip = tmp_path / "strip.svg"
    assert asked("day", RYE, "--svg", strip).exit_code == 0
    picture = strip.read_text(encoding="utf-8")
    assert "<pattern" in picture
    for word in ("spread", "worked in", "open", "stop 2:45 pm", "all in by 6:15 pm"):
        assert word in picture
    shown = asked("day", RYE).stdout
    assert "░" in shown
    assert "█" in shown
    assert "*19 in 20" in shown


def test_every_sheet_is_set_in_14_points_or_more() -> None:
    """Reading glasses are in the truck. A field sheet's fine print is for the kitchen table."""
    cards = [path for path in sheets().glob("*.pdf") if not path.name.startswith("field-")]
    assert len(cards) == 6
    for path in sorted(cards):
        assert min(sizes_of(path.name)) >= 13.9, path.name


def test_story_18_the_card_of_a_driver_by_eye_counts_passes() -> None:
    """Aim mark in words, pass count give or take one, headland rounds, order."""
    card = " ".join(text_of("covering-card.pdf").split())
    assert "Count passes, not acres" in card
    assert re.search(r"\d+ passes, give or take 1", card)
    assert re.search(r"Drive at a post or flag on the \w+ side, [\d,]+ ft", card)
    assert re.search(r"Headlands last: \d+ rounds", card)
    assert card.index("1. A8") < card.index("2. A1")


def test_the_windshield_card_is_the_ladder_of_the_answer() -> None:
    """Each half hour with its acres, as on the screen."""
    card = " ".join(text_of("windshield-card.pdf").split())
    for line in asked("day", RYE).stdout.splitlines():
        rung = re.match(r"\s+(\d+:\d\d [ap]m)\s+(\d+)\s+\d+\.\d$", line)
        if rung:
            assert f"{rung.group(1)} {rung.group(2)} ac" in card
