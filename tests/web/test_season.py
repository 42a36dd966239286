"""The Season page: what is kept at once, the fresh plan when it is there, and keeping it."""

from __future__ import annotations

import io
import json
import os
import re
import threading
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from asking import INLINE, Reader, readers_closed, text_of
from made_folders import copy_of

from duskline.answers.cost import cost_answer
from duskline.answers.season import SeasonAnswer, SeasonQuestion, season_answer
from duskline.core.errors import NoWindow
from duskline.core.farm import Farm
from duskline.exchange.farmfolder import read_farm
from duskline.web import season as pages
from duskline.web.aside import AsideEnded, aside
from duskline.words import cost as cost_words
from duskline.words import season as words

AT = datetime.fromisoformat("2026-03-01T09:00:00+13:00")
AUTUMN = datetime.fromisoformat("2026-10-18T13:00:00-05:00")
Answering = Callable[..., SeasonAnswer]


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    """Close the stores."""
    with readers_closed():
        yield


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> SeasonAnswer:
    """The oats farm's season, over few seasons of weather so that it is quickly there."""
    return quick(read_farm(copy_of("oats-and-radish", tmp_path_factory.mktemp("plain"))))


def quick(farm: Farm, question: SeasonQuestion | None = None, **kept: Any) -> SeasonAnswer:
    """Answer a season in little time."""
    asked = question or SeasonQuestion(now_at=AT)
    return season_answer(farm, replace(asked, compare=False, weathers_count=40), **kept)


def here(work: Callable[..., object], *asked: object) -> object:
    """Work it out in this process, where the tests can hold it back."""
    return work(*asked)


class Made:
    """Stands where the answer is made: counts how often, and may be held back."""

    def __init__(self, answer: SeasonAnswer) -> None:
        self.answer = answer
        self.count = 0
        self.may = threading.Event()
        self.may.set()

    def __call__(self, _farm: Farm, _question: SeasonQuestion, **_kept: Any) -> SeasonAnswer:
        """Return the answer once it may."""
        self.count += 1
        assert self.may.wait(30.0)
        return self.answer


@pytest.fixture
def made(plain: SeasonAnswer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Made]:
    """Put a season that is answered already in the place of the slow one."""
    one = Made(plain)
    monkeypatch.setattr(pages, "season_answer", one)
    monkeypatch.setattr(pages, "aside", here)
    monkeypatch.setattr(pages, "PATIENCE_S", 0.05)
    yield one
    one.may.set()


def oats(folder: Path, *pairs: tuple[str, str], **cookies: str) -> Reader:
    """Return a reader of the oats farm, some of its text replaced."""
    target = copy_of("oats-and-radish", folder, farm_toml=list(pairs))
    return Reader(target, lambda: AT, **cookies)


def settled(reader: Reader) -> str:
    """Return the page with its fresh plan."""
    page: str = reader.get("/season?wait=1").text
    return page


def test_the_page_is_there_before_the_plan(tmp_path: Path, made: Made) -> None:
    """It says how long, and where the plan is to be fetched; the part is not there yet."""
    made.may.clear()
    reader = oats(tmp_path)
    page = reader.get("/season").text
    assert 'data-fetch="/season/answer"' in page
    assert "Working out the season, usually a quarter of a minute" in page
    assert "No plan is kept yet" in page
    waiting = reader.get("/season/answer")
    assert (waiting.status_code, waiting.text) == (204, "")


def test_the_plan_is_worked_out_once(tmp_path: Path, made: Made) -> None:
    """However many look, and however often."""
    made.may.clear()
    reader = oats(tmp_path)
    for _ in range(3):
        reader.get("/season")
        reader.get("/season/answer")
    made.may.set()
    settled(reader)
    assert 'data-fetch="/season' not in reader.get("/season").text
    assert reader.get("/season/answer").status_code == 200
    assert made.count == 1


def test_a_changed_farm_is_planned_anew(tmp_path: Path, made: Made) -> None:
    """A field file that is another has its own season."""
    reader = oats(tmp_path)
    settled(reader)
    path = tmp_path / "oats-and-radish" / "farm.toml"
    path.write_text(
        path.read_text("utf-8").replace('speed = "9 km/h"', 'speed = "8 km/h"'), "utf-8"
    )
    settled(reader)
    assert made.count == 2


def test_the_answer_is_the_page_s(tmp_path: Path, made: Made) -> None:
    """Headline, chance, each day with its stop and fields, and the fields' chances."""
    text, answer = text_of(settled(oats(tmp_path))), made.answer
    assert words.headline(answer, "metric") in text
    assert words.sure_line(answer, "metric") in text
    for day in answer.days:
        for crew in day.crews:
            assert words.stop_text(crew, "metric") in text
            assert words.visit_text(crew, "metric") in text
    for field in answer.fields:
        assert f"{field.name} {words.field_chance(field, 'metric')}" in text
    assert words.gap_line(answer) in text


def test_the_part_and_the_page_say_the_same(tmp_path: Path, made: Made) -> None:
    """The fetched part is what the page shows where nothing has to be waited for."""
    reader = oats(tmp_path)
    page = settled(reader)
    part = reader.get("/season/answer").text
    assert text_of(f"<main>{part}</main>").strip() in text_of(page)
    assert made.answer.fits


def test_other_units_are_the_reader_s(tmp_path: Path, made: Made) -> None:
    """Acres and a 12 hour clock."""
    text = text_of(settled(oats(tmp_path, units="us"))).split("Change the figures behind")[0]
    assert words.headline(made.answer, "us") in text
    assert "as of 9:00 am" in text
    assert not re.search(r"\d ha\b", text)


def mark_of(page: str) -> str:
    """Return the mark of the plan that the page offers to keep."""
    return page.split('name="mark" value="', 1)[1].split('"', 1)[0]


def test_a_plan_is_kept_with_its_files(tmp_path: Path, made: Made) -> None:
    """Plan, calendar, picture and sheet; the page says under which number, and offers no more."""
    reader = oats(tmp_path)
    kept = reader.post("/season/keep", {"mark": mark_of(settled(reader))})
    assert "Kept as plan 1." in kept.text
    folder = tmp_path / "oats-and-radish" / "season"
    found = sorted(path.name for path in folder.iterdir())
    assert found == ["season-plan-1.json", "season-sheet.pdf", "season.ics", "season.svg"]
    plan = json.loads((folder / "season-plan-1.json").read_text("utf-8"))
    assert datetime.fromisoformat(plan["made_at"]) == AT
    sown = sum(crew.area_m2 for day in made.answer.days for crew in day.crews)
    assert sum(stop["area_m2"] for stop in plan["stops"]) == pytest.approx(sown, abs=20.0)
    assert 'action="/season/keep"' not in settled(reader)


def test_the_same_plan_gets_no_new_number(tmp_path: Path, made: Made) -> None:
    """Kept twice by an impatient thumb."""
    reader = oats(tmp_path)
    mark = mark_of(settled(reader))
    reader.post("/season/keep", {"mark": mark})
    assert "Unchanged: plan 1." in reader.post("/season/keep", {"mark": mark}).text
    assert not (tmp_path / "oats-and-radish" / "season" / "season-plan-2.json").exists()
    assert made.count == 2  # anew against the kept one, then not again


def test_only_the_plan_that_was_seen_is_kept(tmp_path: Path, made: Made) -> None:
    """Another mark: the plan has changed since."""
    reader = oats(tmp_path)
    settled(reader)
    refused = reader.post("/season/keep", {"mark": "00000000"})
    assert "Not kept: the plan has changed since you looked at it." in refused.text
    assert not (tmp_path / "oats-and-radish" / "season").exists()
    assert made.count == 1


def test_what_stands_in_the_way_of_keeping_is_told(tmp_path: Path, made: Made) -> None:
    """A file where the folder would go: nothing is written, and the sentence says so."""
    reader = oats(tmp_path)
    mark = mark_of(settled(reader))
    (tmp_path / "oats-and-radish" / "season").write_text("mine", encoding="utf-8")
    answer = reader.post("/season/keep", {"mark": mark})
    assert answer.status_code == 422
    assert "a folder to write into" in text_of(answer.text)
    assert made.count >= 1


def test_a_kept_plan_is_shown_at_once(tmp_path: Path, made: Made) -> None:
    """While the fresh one is still worked out."""
    reader = oats(tmp_path)
    reader.post("/season/keep", {"mark": mark_of(settled(reader))})
    made.may.clear()
    again = Reader(tmp_path / "oats-and-radish", lambda: AT)
    text = text_of(again.get("/season").text)
    assert "By plan 1, kept Sun 1 Mar at 09:00." in text
    last = max(day.on for day in made.answer.days if day.crews)
    assert f"Everything is sown by {words.day_date(last, 'metric')}" in text
    for day in made.answer.days:
        if day.crews:
            assert words.short_date(day.on, "metric") in text


def test_what_is_taken_along_is_the_plan(tmp_path: Path, made: Made) -> None:
    """Calendar, sheet and lists; looking writes nothing."""
    reader = oats(tmp_path)
    calendar = reader.get("/season/season.ics")
    assert calendar.headers["content-type"].startswith("text/calendar")
    assert "attachment" in calendar.headers["content-disposition"]
    days = sum(len(day.crews) for day in made.answer.days)
    assert calendar.text.count("BEGIN:VEVENT") == days
    sheet = reader.get("/season/season-sheet.pdf")
    assert sheet.headers["content-type"] == "application/pdf"
    assert sheet.content.startswith(b"%PDF-")
    lists = reader.get("/season/season-lists.zip")
    assert "fields.csv" in zipfile.ZipFile(io.BytesIO(lists.content)).namelist()
    assert not (tmp_path / "oats-and-radish" / "season").exists()


def test_a_season_without_days_says_what_to_give(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No plan, a sentence, and nothing to take along."""

    def none(*_asked: object, **_kept: object) -> SeasonAnswer:
        raise NoWindow("nothing says when it begins")

    monkeypatch.setattr(pages, "season_answer", none)
    monkeypatch.setattr(pages, "aside", here)
    reader = oats(tmp_path)
    text = text_of(settled(reader))
    assert "No plan for this season" in text
    assert "nothing says when it begins" in text
    assert reader.get("/season/season.ics").status_code == 422


def test_a_refusal_comes_as_sentences(tmp_path: Path) -> None:
    """A farm whose season has no days; what crosses to the server is text, not an error."""
    farm = read_farm(copy_of("oats-and-radish", tmp_path))
    bare = replace(farm, windows=(), forecast=None, season=replace(farm.season, last_on=None))
    refused = pages.season_or_why(bare, SeasonQuestion(now_at=AT), None)
    assert isinstance(refused, list)
    assert refused[0].startswith("No plan for this season")


def test_a_fault_of_ours_is_no_endless_wait(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """It is told on the page and written down on the server; the next look tries again."""

    def broken(*_asked: object, **_kept: object) -> SeasonAnswer:
        raise RuntimeError("a wheel is off")

    monkeypatch.setattr(pages, "season_answer", broken)
    monkeypatch.setattr(pages, "aside", here)
    reader = oats(tmp_path)
    text = text_of(settled(reader))
    assert "The season could not be worked out." in text
    assert "a wheel is off" not in text
    assert "a wheel is off" in caplog.text
    monkeypatch.setattr(pages, "season_answer", quick)
    assert "could not be worked out" not in settled(reader)


def test_what_an_acre_costs_stands_in_its_parts(tmp_path: Path, made: Made) -> None:
    """Scenario A: $19.83 an acre, and each part of the answer."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    made.may.clear()
    text = text_of(Reader(folder, lambda: AUTUMN).get("/season").text)
    made.may.set()
    answer = cost_answer(read_farm(folder))
    assert "What an acre costs $19.83 an acre" in text
    for row in cost_words.cost_rows(answer, "us"):
        assert f"{row.name} {row.each} {row.whole}" in text
    assert "Own-bin seed charged at your price, machine ownership not counted." in text


def test_a_name_is_never_markup(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A farm named like a script, on the page and in what is fetched."""
    monkeypatch.setattr(pages, "season_answer", quick)
    monkeypatch.setattr(pages, "aside", here)
    name = "<script>alert(1)</script>"
    reader = oats(tmp_path, ('name = "Tarn Flat"', f'name = "{name}"'))
    for page in (settled(reader), reader.get("/season/answer").text):
        assert "<script>alert" not in page
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


def test_the_other_process_answers_the_same(tmp_path: Path, plain: SeasonAnswer) -> None:
    """What comes back through the pipe is what is worked out here."""
    farm = read_farm(copy_of("oats-and-radish", tmp_path))
    question = SeasonQuestion(now_at=AT, compare=False, weathers_count=40)
    found = aside(pages.season_or_why, farm, question, None)
    assert isinstance(found, SeasonAnswer)
    assert (found.days, found.fields) == (plain.days, plain.fields)


def test_a_process_that_dies_is_an_error_not_a_wait() -> None:
    """Killed by the machine, or a fault inside."""
    with pytest.raises(AsideEnded, match="ended with code 7"):
        aside(os._exit, 7)


def test_nothing_is_inline(tmp_path: Path, made: Made) -> None:
    """No style and no script that the page's policy would block."""
    reader = oats(tmp_path)
    assert not INLINE.search(settled(reader))
    assert not INLINE.search(reader.get("/season/answer").text)
    assert made.count == 1
