"""The Farm page: a first visit, and what is said of a farm laid out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from asking import Reader, readers_closed, text_of
from made_folders import copy_of

MORNING = datetime.fromisoformat("2026-10-18T08:00:00-05:00")
FIRST = {
    "farm.name": "Plum Hollow", "farm.latitude": "42", "farm.longitude": "-93.5",
    "farm.time_zone": "America/Chicago", "farm.units": "us", "farm.country": "US",
    "person.name": "Owner", "spreader.name": "Spreader", "spreader.load": "6000 lb",
    "spreader.driving_width": "40 ft", "cultivator.name": "Cultivator",
    "cultivator.width": "30 ft", "lot.name": "Bin rye", "lot.species": "rye",
    "lot.germination": "176 of 200", "lot.purity": "97 %", "lot.live_rate": "61 lb/ac",
}  # fmt: skip


@pytest.fixture(autouse=True)
def _closed() -> Iterator[None]:
    with readers_closed():
        yield


def at_its_field(page: str, name: str) -> str:
    """What is wrong with one answer, as it stands in that answer's own row."""
    row = page.split(f'name="{name}"', 1)[1].split('<div class="row">', 1)[0]
    found = re.search(r'class="wrong" role="alert">(.*?)</p>', row)
    return text_of(f"<main><p>{found[1]}</main>").strip() if found else ""


def test_what_is_wrong_in_a_first_answer_stands_at_its_field(tmp_path: Path) -> None:
    """It used to stand at the top, with the line of a file that the farmer has not seen."""
    reader = Reader(tmp_path / "new", lambda: MORNING)
    typed = {
        **FIRST, "spreader.load": "6000", "farm.latitude": "91", "lot.germination": "176",
        "farm.time_zone": "America/Chicgo",
    }  # fmt: skip
    answer = reader.post("/farm/new", typed)
    assert answer.status_code == 422
    page = answer.text
    assert "farm.toml" not in page
    assert "line " not in text_of(page)
    assert at_its_field(page, "farm.latitude").startswith("Read 91.0; expected a number of at most")
    assert "Read '176'; expected sprouted of tested" in at_its_field(page, "lot.germination")
    assert "Read 'America/Chicgo'" in at_its_field(page, "farm.time_zone")
    assert at_its_field(page, "spreader.load").startswith("6000 what? ")
    assert 'such as "6000 lb"' in at_its_field(page, "spreader.load").replace("&#34;", '"')
    assert at_its_field(page, "cultivator.width") == ""
    assert page.count('aria-invalid="true"') == 4
    assert "4 answers to put right below." in page


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_unit_offered_is_of_the_farms_units(tmp_path: Path, units: str) -> None:
    """Pounds on a farm of pounds, kilograms on one of kilograms; never both."""
    reader = Reader(tmp_path / "new", lambda: MORNING)
    typed = {**FIRST, "farm.units": units, "spreader.load": "2700", "lot.live_rate": "68,5"}
    page = reader.post("/farm/new", typed).text
    load, rate = (at_its_field(page, name) for name in ("spreader.load", "lot.live_rate"))
    mass, per = ("lb", "lb/ac") if units == "us" else ("kg", "kg/ha")
    assert f'"2700 {mass}"' in load.replace("&#34;", '"')
    assert f'"68,5 {per}"' in rate.replace("&#34;", '"')


def test_one_of_a_thing_is_not_many(tmp_path: Path) -> None:
    """It used to say 1 spreaders and 1 lots of seed."""
    reader = Reader(copy_of("rye-after-soybeans", tmp_path), lambda: MORNING)
    text = text_of(reader.get("/farm").text)
    assert "1 spreader, 2 covering machines, 1 lot of seed." in text


def test_a_metric_farm_reads_no_acres(tmp_path: Path) -> None:
    """Neither in its figures nor in what it is asked."""
    reader = Reader(copy_of("rye-after-soybeans", tmp_path), lambda: MORNING, units="metric")
    text = text_of(reader.get("/farm").text)
    assert not re.search(r"\bacres?\b", text, re.IGNORECASE)


def test_a_farm_without_hours_and_forecast_says_where_to_put_them(tmp_path: Path) -> None:
    """Today used to say only that there are none."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    for path in folder.glob("forecast*"):
        path.unlink()
    path = folder / "farm.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(re.sub(r"\[\[window\]\](\n[^\[].*)*", "", text), encoding="utf-8")
    reader = Reader(folder, lambda: MORNING)
    page = reader.get("/").text
    assert 'href="/farm#bring"' in page
    assert 'href="/edit/window?entry=new&amp;back=/"' in page
    assert reader.get("/edit/window", {"entry": "new", "back": "/"}).status_code == 200
