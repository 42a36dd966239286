"""The season in words, of seasons answered by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_days import ACRE_M2
from made_seasons import short_season

from duskline.answers.season import WhyLeft
from duskline.answers.season_worth import ChangeKey
from duskline.core.season import Change
from duskline.words import season as words

FARM, ANSWER = short_season()


def test_what_fits_is_the_headline() -> None:
    """Done by the last day of the plan."""
    fits = replace(ANSWER, unplaced_m2=0.0, late_m2=0.0)
    assert words.headline(fits, "us").startswith("Everything is sown by ")


def test_what_does_not_fit_is_the_headline() -> None:
    """Late ground and ground without a day count together."""
    short = replace(ANSWER, unplaced_m2=10 * ACRE_M2, late_m2=30 * ACRE_M2)
    assert words.headline(short, "us").startswith("40 ac do not fit")
    assert words.headline(short, "metric").startswith("16.2 ha do not fit")


def test_next_to_nothing_left_is_not_called_nothing() -> None:
    """Three tenths of an acre."""
    assert words.acres_text(0.3 * ACRE_M2, "us") == "0.3 ac"
    assert words.acres_text(79.4 * ACRE_M2, "us") == "79 ac"


def test_no_fields_left_says_so() -> None:
    """Everything is sown."""
    assert words.headline(replace(ANSWER, fields=()), "us") == "Everything is sown"


@pytest.mark.parametrize("key", list(ChangeKey))
def test_a_change_without_a_difference_says_so(key: ChangeKey) -> None:
    """No money, no days."""
    one = replace(ANSWER.worth[0], key=key, no_difference=True)
    assert words.worth_line(one, ANSWER, "us").endswith(": no difference")


def test_a_change_is_told_with_its_range() -> None:
    """Money, days, chance; and whether everything then fits."""
    short = replace(ANSWER, unplaced_m2=10 * ACRE_M2)
    one = replace(
        ANSWER.worth[0],
        key=ChangeKey.DRIVER,
        usd=652.0,
        usd_low=604.0,
        usd_high=699.0,
        days=1.0,
        days_low=0.9,
        days_high=1.1,
        chance_fraction=0.8,
        unplaced_m2=0.0,
        late_m2=0.0,
        no_difference=False,
    )
    line = words.worth_line(one, short, "us")
    assert line == (
        "One more driver: +$652 ($604 to $699), 1.0 days sooner (0.9 to 1.1),"
        " 16 in 20 done in time; everything fits"
    )


@pytest.mark.parametrize("why", list(WhyLeft))
def test_every_reason_for_no_day_has_words(why: WhyLeft) -> None:
    """Each its own."""
    field = replace(ANSWER.fields[0], unplaced_m2=5 * ACRE_M2, why_left=why)
    (line,) = words.left_lines(replace(ANSWER, fields=(field,)), "us")
    assert words.WHY_LEFT[why] in line
    assert "5 ac" in line


def test_a_change_of_plan_tells_before_and_now_with_the_reason() -> None:
    """Moved a day, to make room."""
    day = ANSWER.on[0].toordinal()
    change = Change(
        field="A4",
        what="moved",
        why="makes room",
        before=((day, "", 59.3 * ACRE_M2),),
        after=((day + 1, "", 59.3 * ACRE_M2),),
    )
    (line,) = words.change_lines([change], "us", crews=1)
    assert line.startswith("A4: moved, ")
    assert line.endswith("(to make room)")
    assert line.count("59 ac") == 2


def test_the_gap_is_told_in_money_and_percent() -> None:
    """Four dollars of 553."""
    line = words.gap_line(replace(ANSWER, gap_usd=4.2, gap_fraction=0.0076))
    assert line == "No plan of these days can save more than $4 (0.8%)."
    assert words.gap_line(replace(ANSWER, gap_usd=0.2)) == "No plan of these days can cost less."
