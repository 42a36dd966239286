"""The day in words: what a tired driver reads must be right, safe and short."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import pytest
from made_folders import ACRE_M2, EXAMPLES, POUND_KG

from duskline.answers.day import DayAnswer, DayQuestion, Lever, LeverKey, day_answer
from duskline.exchange.farmfolder import read_farm
from duskline.words import day as words

ZONE = ZoneInfo("America/Chicago")


@cache
def rye() -> DayAnswer:
    """Return the rye farm's first day."""
    farm = read_farm(EXAMPLES / "rye-after-soybeans")
    return day_answer(farm, DayQuestion(replications=2000))


def test_the_stop_time_is_rounded_down_never_up() -> None:
    """2:49 pm is told as 2:45 pm: earlier is safe."""
    late = datetime(2026, 10, 18, 14, 49, 59, tzinfo=ZONE)
    assert words.headline(replace(rye(), stop_at=late), "us") == "Stop spreading at 2:45 pm"
    assert words.headline(replace(rye(), stop_at=late), "metric") == "Stop spreading at 14:45"


def test_about_rounds_to_five_minutes_across_the_hour() -> None:
    """11:58 is about 12:00 pm."""
    assert words.about(datetime(2026, 10, 18, 11, 58, tzinfo=ZONE), "us") == "12:00 pm"


def test_the_last_load_is_told_in_hundreds_of_pounds() -> None:
    """2,948 lb is told as 2,900: what fits before the stop, never more."""
    told = words.last_load(replace(rye(), full_loads_count=2, last_load_kg=2948 * POUND_KG), "us")
    assert told == "After load 2, put in 2,900 lb; you run empty about then."


def test_a_part_load_not_worth_filling_is_not_filled() -> None:
    """Filling takes longer than spreading it: quit after the full load."""
    small = replace(rye(), full_loads_count=2, last_load_worth_filling=False)
    assert words.last_load(small, "us") == "After load 2, do not fill again."


def test_a_hopeless_day_says_what_stays_bare_and_asks_which() -> None:
    """The acres that stay bare are never hidden."""
    lost = replace(rye(), bare_if_hopeless_m2=6 * ACRE_M2)
    assert words.headline(lost, "us") == "Stop spreading now"
    assert "about 6 ac will stay bare" in words.sure_line(lost, "us")
    assert words.asks(lost, "us").startswith("Which 6 ac can lie open tonight?")


def test_a_day_with_nothing_to_promise_says_do_not_spread() -> None:
    """Rain all day: no acre keeps the chance."""
    none = replace(rye(), spread_area_m2=0.0)
    assert words.headline(none, "us") == "Do not spread today"
    assert words.last_load(none, "us") == ""


def test_when_all_is_spread_that_is_what_ends_it() -> None:
    """The fields run out before the time does."""
    done = replace(rye(), limited_by="acres")
    assert words.headline(done, "us").startswith("All is spread by about")
    assert any("acres: all that is ready" in line for line in words.why(done, "us"))


@pytest.mark.parametrize(
    ("area_ac", "words_for_it"),
    [(11.6, ": +12 ac"), (0.2, ": worth nothing today"), (-0.4, ": worth nothing today")],
)
def test_a_lever_of_less_than_half_an_acre_is_worth_nothing(
    area_ac: float, words_for_it: str
) -> None:
    """Equal is called equal."""
    lever = Lever(
        key=LeverKey.HEAD_START, step=3600.0, unit="s", area_m2=area_ac * ACRE_M2,
        average_area_m2=0.0,
    )  # fmt: skip
    assert words.lever_line(lever, "us").endswith(words_for_it)


def test_the_first_reasons_name_the_close_and_the_rates() -> None:
    """What ends the day, then what sets its pace."""
    lines = words.why(rye(), "us")
    assert lines[0].startswith("Covering must be done by 6:15 pm")
    assert "27.6 ac/h with its refills; covering 15.3 ac/h" in lines[1]
    assert any("113 ac would lie bare" in line for line in lines)


def test_stated_hours_and_worked_out_ones_are_told_apart() -> None:
    """Stated hours are kept and the difference is said."""
    told = next(line for line in words.why(rye(), "us") if "stated hours are kept" in line)
    assert "covering opens at 9:00 am (dew off)" in told


def test_tomorrow_says_what_is_left_and_the_rain() -> None:
    """221 ac in 7 fields and rain at 90 %."""
    told = words.tomorrow(rye(), "us")
    assert "fields" in told
    assert "Rain tomorrow: 90%" in told
    assert words.tomorrow(replace(rye(), left_after_today=()), "us") == (
        "Nothing is left for tomorrow."
    )


def test_nothing_a_farmer_never_meets_is_said() -> None:
    """No computer words on the page."""
    text = " ".join(words.why(rye(), "us")).lower()
    for word in ("optimize", "polygon", "algorithm", "dashboard", "quantile", "variation"):
        assert word not in text


def test_a_later_stop_never_reads_earlier() -> None:
    """Through a whole day the told time rises with the stop time."""
    base = datetime(2026, 10, 18, 9, 0, tzinfo=ZONE)
    told = []
    for minutes in range(0, 540, 7):
        moment = base + timedelta(minutes=minutes)
        text = words.no_later(moment, "metric")
        told.append(text)
        assert text <= f"{moment:%H:%M}"
    assert told == sorted(told)


def test_rain_that_ends_the_day_is_not_denied_below() -> None:
    """Covering must be done before rain: no line that none is in the forecast."""
    dry = [line for line in words.why(rye(), "us") if line.startswith("No rain in the forecast")]
    assert dry == ["No rain in the forecast for the hours of work."]
    wet = replace(rye(), windows=replace(rye().windows, cover_closes_because="rain"))
    assert not [line for line in words.why(wet, "us") if line.startswith(("No rain", "Rain in"))]


def test_the_average_stop_names_acres_only_where_no_move_takes_some() -> None:
    """165 ac before moves beside a table that says 153: no acres with moves in the day."""
    assert rye().moves_count > 0
    line = next(line for line in words.why(rye(), "us") if line.startswith("At average rates"))
    assert line.startswith("At average rates the stop would be 3:30 pm; that would hold on")
    alone = next(
        line
        for line in words.why(replace(rye(), moves_count=0), "us")
        if line.startswith("At average rates")
    )
    assert " ac; that would hold on" in alone


def test_the_load_and_the_chance_are_there_in_spanish_with_the_same_figures() -> None:
    """What the driver decides, how sure it is, and what a lost day asks, for the crew."""
    part = replace(rye(), full_loads_count=0)
    full = replace(rye(), last_load_worth_filling=False, full_loads_count=2)
    lost = replace(rye(), bare_if_hopeless_m2=6 * ACRE_M2)
    for answer in (rye(), part, full, lost):
        for make in (words.headline, words.last_load, words.sure_line, words.asks):
            english, spanish = make(answer, "us"), make(answer, "us", language="es")
            assert re.findall(r"[\d:,.]*\d", english) == re.findall(r"[\d:,.]*\d", spanish)
            assert (english == spanish) == (english == "")
    assert words.last_load(rye(), "us", language="es").startswith("Después de la carga 1, eche ")
    assert words.sure_line(rye(), "us", language="es").startswith("19 de cada 20: ")
    assert words.chance_text(0.999, "es") == "más de 19 de cada 20"
    assert words.chance_text(0.001, "es") == "menos de 1 de cada 20"
