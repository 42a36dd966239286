"""The evening: pencilled sheets typed in, and the plan beside what was done."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from asking import Reader, readers_closed
from made_folders import copy_of

from duskline.core.log import Event

EVENING = datetime.fromisoformat("2026-10-18T20:00:00-05:00")
WRONG = re.compile(r'<p class="wrong" role="alert">(.*?)</p>')


@pytest.fixture(autouse=True)
def _closed() -> Iterator[None]:
    with readers_closed():
        yield


def reader(tmp_path: Path, **cookies: str) -> Reader:
    """Somebody at the kitchen table."""
    return Reader(copy_of("rye-after-soybeans", tmp_path), lambda: EVENING, **cookies)


def typed(one: Reader, **blanks: str) -> list[str]:
    """Type blanks in, named as "0.spread.done"; returns what was wrong with them."""
    form = {name.replace("_", "."): text for name, text in blanks.items()}
    answer = one.post("/today/paper", {"on": "2026-10-18", **form})
    return WRONG.findall(answer.text)


def told(one: Reader) -> tuple[Event, ...]:
    """The log as it stands."""
    return one.desk.farm().told


def test_a_done_before_its_start_is_read_as_the_afternoon(tmp_path: Path) -> None:
    """10:50 to 1:40 on a sheet of twelve hours; it used to be refused as turned round."""
    one = reader(tmp_path)
    assert typed(one, **{"0_spread_started": "10:50", "0_spread_done": "1:40"}) == []
    began, done = sorted(told(one), key=lambda event: event.at)
    assert (began.at.hour, done.at.hour, done.at.minute) == (15, 18, 40)  # in UTC


def test_two_hours_of_the_afternoon_are_read_as_such(tmp_path: Path) -> None:
    """1:10 to 1:55 is not the middle of the night."""
    one = reader(tmp_path)
    assert typed(one, **{"0_spread_started": "1:10", "0_spread_done": "1:55"}) == []
    assert [event.at.hour for event in told(one)] == [18, 18]


@pytest.mark.parametrize(
    ("started", "done"), [("10:50 am", "1:40 am"), ("13:50", "13:40"), ("2:50 pm", "2:40 pm")]
)
def test_times_that_say_it_themselves_are_not_turned(
    tmp_path: Path, started: str, done: str
) -> None:
    """am, pm and 24 hours are what they are."""
    one = reader(tmp_path)
    (sentence,) = typed(one, **{"0_spread_started": started, "0_spread_done": done})
    assert sentence.startswith("It was done before it was started")
    assert told(one) == ()


def test_a_page_of_twentyfour_hours_is_not_guessed_at(tmp_path: Path) -> None:
    """Metric pages have 24 hours: 1:40 is at night."""
    one = reader(tmp_path, units="metric")
    assert typed(one, **{"0_spread_started": "10:50", "0_spread_done": "1:40"}) != []


def test_all_that_is_wrong_is_shown_at_the_first_try(tmp_path: Path) -> None:
    """Three slips in two lines, all three said, and nothing is written."""
    one = reader(tmp_path)
    wrong = typed(
        one,
        **{
            "0_spread_started": "morning", "0_spread_done": "9:75", "0_spread_area": "9999",
            "1_covered_passes": "400", "1_covered_done": "4 pm",
        },
    )  # fmt: skip
    assert len(wrong) == 2
    assert "Read &#39;morning&#39;" in wrong[0]
    assert "Read &#39;9:75&#39;" in wrong[0]
    assert re.search(r"\b\w+ has [\d.]+ ac\.", wrong[0])
    assert re.match(r"\w+ has \d+ passes for Cultivator \d, not 400\.", wrong[1])
    assert told(one) == ()
