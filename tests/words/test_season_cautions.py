"""What stands against a season's plan, in sentences."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from made_seasons import FIRST, long_season, short_season

from duskline.answers.season import NoEarlier, OpenFirst, Without
from duskline.words.season_cautions import (
    age_text,
    caution_lines,
    no_earlier_line,
    old_plan_line,
    shared_lines,
)

NOW = datetime(2026, 10, 18, 6, tzinfo=ZoneInfo("America/Chicago"))
SEASON = short_season()[1]
ANA = Without(crew="Crew 2", name="Ana", goes_with="Crew 1", days_count=4, home_count=0)


@pytest.mark.parametrize(
    ("hours", "text"),
    [(1, "1 hour"), (19, "19 hours"), (47, "47 hours"), (48, "2 days"), (996, "41 days")],
)
def test_an_age_is_told_in_days_from_two_days_on(hours: int, text: str) -> None:
    """996 hours are 41 and a half days."""
    assert age_text(hours * 3600.0) == text


@pytest.mark.parametrize(
    ("home", "end"),
    [
        (0, "when Crew 1 goes out."),
        (1, "when Crew 1 goes out, and has no day on 1 of them."),
        (4, "when Crew 1 goes out, and has no day then."),
    ],
)
def test_what_a_crew_is_without_is_told_with_what_it_costs(home: int, end: str) -> None:
    """Nothing, a day, or all of them."""
    (line,) = shared_lines(replace(SEASON, without=(replace(ANA, home_count=home),)))
    assert line == f"Crew 2 is without Ana on 4 days, {end}"


def test_a_plan_with_nothing_ahead_is_told() -> None:
    """Its last stop lies before the first day of this one."""
    answer = SEASON
    day = timedelta(days=1)
    assert old_plan_line(3, NOW, FIRST, answer, "us") == ""
    assert old_plan_line(3, NOW, None, answer, "us") == ""
    assert old_plan_line(3, NOW, FIRST - day, answer, "us") == (
        "Plan 3, kept Sun Oct 18, ends on Sat Oct 17, before this one begins: nothing of it lies"
        " ahead."
    )


def test_open_ground_names_the_crew_where_there_are_several() -> None:
    """Alone one is told to cover first; of two the one whose ground it is."""
    answer = SEASON
    area_m2 = 20.0 * 4046.8564224
    first = OpenFirst(on=FIRST, crew="Crew 2", area_m2=area_m2)
    (line,) = caution_lines(replace(answer, open_first=(replace(first, crew=""),)), FIRST, "us")
    assert "20 ac lie spread and not covered. First cover that on Sun Oct 18" in line
    several = replace(long_season()[1], open_first=(first,))
    (line,) = caution_lines(several, FIRST, "metric")
    assert "8.1 ha lie spread and not covered. Crew 2 covers that first on Sun 18 Oct" in line


def test_one_day_past_is_told_as_one() -> None:
    """And from which day on to plan."""
    answer = replace(SEASON, past_on=(FIRST,))
    (line,) = caution_lines(answer, date(2026, 10, 19), "us")
    assert line.startswith("Sun Oct 18 is past (today is Mon Oct 19)")
    assert line.endswith("begin with --from 2026-10-19.")


@pytest.mark.parametrize("why", list(NoEarlier))
def test_every_reason_against_an_earlier_start_has_its_words(why: NoEarlier) -> None:
    """And none where it is offered."""
    assert no_earlier_line(SEASON) == ""
    line = no_earlier_line(replace(SEASON, no_earlier=why))
    assert line.startswith("One day's earlier start: not offered, ")
