"""The Today page: what it says before, during and after the day, in both languages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from asking import Reader, readers_closed, text_of
from made_folders import copy_of

MORNING_PLAN = "this is the morning's plan"
FIGURE = re.compile(r"\d[\d:,.]*")


@pytest.fixture(autouse=True)
def _closed() -> Iterator[None]:
    with readers_closed():
        yield


class Day:
    """A farm on October 18, looked at and told of at times of that day."""

    def __init__(self, tmp_path: Path, example: str = "rye-after-soybeans") -> None:
        self.now_at = datetime.fromisoformat("2026-10-18T07:30:00-05:00")
        self.folder = copy_of(example, tmp_path)
        self.reader = self.other()

    def other(self, **cookies: str) -> Reader:
        """Another reader of the same farm."""
        return Reader(self.folder, lambda: self.now_at, **cookies)

    def at(self, clock: str) -> Day:
        """Set the clock."""
        hour, minute = clock.split(":")
        self.now_at = self.now_at.replace(hour=int(hour), minute=int(minute))
        return self

    def told(self, **form: str) -> None:
        """Tell what happened."""
        assert self.reader.post("/log", form).status_code == 200

    def page(self, **cookies: str) -> str:
        """The page as it comes."""
        answer = (self.other(**cookies) if cookies else self.reader).get("/")
        assert answer.status_code == 200, answer.text
        return answer.text

    def answer(self, **cookies: str) -> str:
        """What stands in the one answer."""
        return answer_of(self.page(**cookies))


def part_of(page: str, mark: str, until: str = "</main>") -> str:
    """What a person reads from a mark on."""
    part = page.split(mark, 1)[1].split(until, 1)[0]
    return text_of(f"<main><p{part}</main>").strip()


def answer_of(page: str) -> str:
    """What stands in the one answer of a page."""
    return part_of(page, '<section class="answer"', "</section>")


@pytest.fixture
def day(tmp_path: Path) -> Day:
    """A rye farm on its first day."""
    return Day(tmp_path)


# --- nothing told --------------------------------------------------------------------------


def test_before_the_opening_the_plan_stands_as_it_is(day: Day) -> None:
    """Nobody can have told anything yet."""
    assert "Nothing told" not in day.answer()
    assert "stop spreading at" in day.answer()


def test_a_day_under_way_says_that_nothing_was_told(day: Day) -> None:
    """The plan stays; that it is the morning's is said."""
    before = day.answer()
    during = day.at("11:00").answer()
    assert "Nothing told today; this is the morning's plan." in during
    assert during.startswith(before.split(" pm", 1)[0])


def test_a_day_past_its_close_is_over(day: Day) -> None:
    """At half past nine in the evening it used to say: stop spreading at 2:45 pm."""
    day.reader.post("/today/keep")
    page = day.at("21:30").page()
    answer = answer_of(page)
    assert "The day is over" in answer
    assert "Nothing told today. The morning's plan was: Stop spreading at " in answer
    assert "stop spreading at" not in answer
    assert 'action="/today/keep"' not in page
    assert "Stop ladder" not in page


def test_one_telling_is_enough_to_be_live(day: Day) -> None:
    """Then the sentence goes."""
    day.at("11:00").told(what="begin", machine="Spreader", field="A8")
    assert MORNING_PLAN not in day.answer()


# --- once spreading is done ----------------------------------------------------------------

LOAD = re.compile(r"<button([^>]*)><span>Load done")


def test_after_spreading_there_is_no_ladder_and_no_black_load(day: Day) -> None:
    """What is left to do is to cover."""
    day.at("12:00").told(what="spread", machine="Spreader", field="A8", amount="30")
    before = day.page()
    assert "Stop ladder" in before
    assert LOAD.findall(before) == [' class="main"']
    day.at("13:00").told(what="stop", machine="Spreader")
    after = day.page()
    assert "Spreading is done" in answer_of(after)
    assert "Stop ladder" not in after
    assert LOAD.findall(after) == [""]


# --- two languages -------------------------------------------------------------------------


def test_spanish_and_english_carry_the_same_figures(day: Day) -> None:
    """Open as told and by now, the chance, the stop, the last load; and no headline twice."""
    day.at("12:30").told(what="spread", machine="Spreader", field="A8", amount="30")
    day.told(what="covered", machine="Cultivator 1", field="A8", amount="20")
    day.at("12:50")
    english, spanish = day.answer(), day.answer(lang="es")
    open_told, by_now = re.findall(r"(\d+) ac lie open as told; about (\d+) ac", english)[0]
    assert f"{open_told} ac " in spanish
    assert f"{by_now} ac a esta hora" in spanish
    assert "19 in 20" in english
    assert "19 de cada 20" in spanish
    assert set(FIGURE.findall(spanish)) <= set(FIGURE.findall(english))
    stop = re.findall(r"parar de esparcir a las (\d+:\d\d)", spanish)[0]
    assert "Deje de esparcir a las" not in spanish
    assert stop in english


ENGLISH = re.compile(r"\b(the|spread|after|everything|worked|stop|told|load|open)\b", re.IGNORECASE)


@pytest.mark.parametrize("clock", ["7:30", "11:00", "13:00", "15:30", "21:30"])
def test_no_english_where_the_crew_reads_spanish(day: Day, clock: str) -> None:
    """In the morning, during the day, after the stop and in the evening."""
    if clock in ("13:00", "15:30"):
        day.at("12:30").told(what="spread", machine="Spreader", field="A8", amount="30")
    if clock == "15:30":
        day.at("15:00").told(what="stop", machine="Spreader")
    answer = day.at(clock).answer(lang="es")
    assert ENGLISH.findall(answer) == [], answer


# --- the log -------------------------------------------------------------------------------


def test_rain_called_for_later_stands_where_it_was_told(day: Day) -> None:
    """It used to head the log with 4:30 pm at two in the afternoon."""
    day.at("14:00").told(what="rain", at="16:30")
    day.at("14:10").told(what="note", note="dust")
    log = part_of(day.page(), 'class="log"')
    assert "2:00 pm rain called for 4:30 pm" in log
    assert log.index("2:10 pm") < log.index("2:00 pm")


def test_clashes_are_said_without_ids(day: Day) -> None:
    """The buttons stand beside the sentence."""
    day.at("12:00").told(what="spread", machine="Spreader", field="A8", amount="30")
    for minute, phone in (("12:01", "one"), ("12:02", "other")):
        sent = day.other(device=phone).post(
            "/log", {"what": "covered", "machine": "Cultivator 1", "field": "A8", "amount": "20"}
        )
        assert sent.status_code == 200
        day.at(minute)
    page = day.page()
    clash = part_of(page, 'class="clash"', "</div>")
    assert "Perhaps told twice" in clash
    assert "worked in 20.0 ac" in clash
    for word in ("covered", "say both", "undo one"):
        assert word not in clash
    assert not re.search(r"[0-9a-f]{8}-[0-9a-f]{4}", clash)


def test_a_load_larger_than_its_field_is_a_hint_at_its_button(tmp_path: Path) -> None:
    """On a farm of small fields every load is: it is nothing that looks wrong."""
    day = Day(tmp_path, "forty-fields")
    day.at("12:00").told(what="load", machine="Spreader 1", field="C3")
    page = day.page()
    acts = part_of(page, '<div class="acts"')
    assert re.search(r"\d+ ac of this load lie beyond C3: tell which field next\.", acts)
    assert 'class="clash"' not in page


def test_a_telling_hard_to_believe_is_asked_about_and_does_not_count(day: Day) -> None:
    """Told right away for the whole field it would move the stop; it waits for a word."""
    day.at("10:30").told(what="begin", machine="Cultivator 1", field="A8")
    day.told(what="spread", machine="Spreader", field="A8", amount="30")
    day.at("10:40").told(what="covered", machine="Cultivator 1", field="A8", how="open")
    page = day.at("10:45").page()
    assert 'class="clash"' in page
    clash = page.split('class="clash"', 1)[1].split("</div>", 1)[0]
    assert 'value="both"' in clash
    assert 'value="undo"' in clash


# --- the plan kept -------------------------------------------------------------------------


def test_the_same_plan_is_kept_once_and_says_so(day: Day) -> None:
    """It used to be taken any number of times without a word."""
    for _ in range(2):
        day.reader.post("/today/keep")
    page = day.page()
    assert sum(one.what == "plan" for one in day.reader.desk.farm().told) == 1
    assert "Today&#39;s plan of 7:30 am: stop " in page
    assert re.search(r"<button[^>]* disabled>Take this as today", page)


# --- small words ---------------------------------------------------------------------------


def test_a_field_that_is_not_finished_says_how_much_of_it(day: Day) -> None:
    """25 ac on this page beside 40 ac on another used to be two numbers of one field."""
    fields = part_of(day.page(), 'class="fields"', "</ol>")
    assert re.search(r"A\d \d+ of \d+ ac spread", fields)


def test_changes_that_bring_nothing_are_not_listed(day: Day) -> None:
    """They used to stand among what would be worth something."""
    page = day.page()
    assert "worth nothing" not in page
    assert not re.search(r"<li>[^<]*: -\d+ ac</li>", page)
