"""Changing the farm on a page: what may not be taken out, and what entries are called."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from asking import Reader, readers_closed, text_of
from made_folders import copy_of

MORNING = datetime.fromisoformat("2026-10-18T08:00:00-05:00")


@pytest.fixture(autouse=True)
def _closed() -> Iterator[None]:
    with readers_closed():
        yield


def removed(reader: Reader, table: str, name: str) -> str:
    """Take an entry out; returns what the page says of it."""
    shown = reader.get(f"/edit/{table}", {"entry": f"name:{name}"})
    (seen,) = set(re.findall(r'name="seen" value="([^"]*)"', shown.text))
    form = {"entry": f"name:{name}", "back": "/farm", "seen": seen, "do": "remove"}
    return text_of(reader.post(f"/edit/{table}", form).text)


@pytest.mark.parametrize(
    ("table", "name", "called"),
    [("lot", "Bin rye", "seed lot"), ("spreader", "Spreader", "spreader")],
)
def test_the_only_one_is_not_taken_out(tmp_path: Path, table: str, name: str, called: str) -> None:
    """It used to say: read nothing; expected the key 'lot'."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    before = (folder / "farm.toml").read_bytes()
    text = removed(Reader(folder, lambda: MORNING), table, name)
    assert f"{name} is the only {called} there is, and a farm needs one. Add another first" in text
    assert "expected the key" not in text
    assert (folder / "farm.toml").read_bytes() == before


def test_what_others_name_says_where(tmp_path: Path) -> None:
    """One sentence with the places, instead of one for each that is left without it."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    text = removed(Reader(folder, lambda: MORNING), "cultivator", "Cultivator 1")
    assert "Cultivator 1 is still named under People (drives of " in text
    assert "Did you mean" not in text


def test_a_figure_alone_is_offered_with_its_unit(tmp_path: Path) -> None:
    """A width of 33 on a farm of feet: 33 what?"""
    reader = Reader(copy_of("rye-after-soybeans", tmp_path), lambda: MORNING)
    shown = reader.get("/edit/cultivator", {"entry": "name:Cultivator 1"})
    (seen,) = set(re.findall(r'name="seen" value="([^"]*)"', shown.text))
    form = {"entry": "name:Cultivator 1", "back": "/covering", "seen": seen, "k.width": "33"}
    answer = reader.post("/edit/cultivator", form)
    assert answer.status_code == 422
    assert "33 what? Read '33'; expected a length with its unit, such as \"33 ft\"." in text_of(
        answer.text
    ).replace("&#34;", '"')


@pytest.mark.parametrize(("units", "day"), [("us", "Oct 18"), ("metric", "18 Oct")])
def test_stated_hours_are_called_by_their_day(tmp_path: Path, units: str, day: str) -> None:
    """A chip used to be called 2026-10-18."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    page = Reader(folder, lambda: MORNING, units=units).get("/").text
    chips = re.findall(r'href="/edit/window[^"]*"[^>]*>([^<]*)</a>', page)
    assert any(day in chip for chip in chips), chips
    assert not any("2026-" in chip for chip in chips)
    sheet = Reader(folder, lambda: MORNING, units=units).get("/edit/window", {"entry": "at:0"})
    assert f'<p class="say">{day}, ' in sheet.text
