"""The season in words, of seasons answered by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from made_days import ACRE_M2
from made_seasons import long_season, made_answer, short_season

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


def test_less_than_a_twentieth_of_a_day_is_no_sooner() -> None:
    """It used to say "0.0 days sooner (0.0 to 0.0)"."""
    one = replace(ANSWER.worth[0], days=0.02, days_low=0.01, days_high=0.04, no_difference=False)
    line = words.worth_line(one, ANSWER, "us")
    assert ", no sooner, " in line
    assert "0.0 days" not in line


@pytest.mark.parametrize("why", list(WhyLeft))
def test_every_reason_for_no_day_has_words(why: WhyLeft) -> None:
    """Each its own."""
    field = replace(ANSWER.fields[0], unplaced_m2=5 * ACRE_M2, why_left=why)
    (line,) = words.left_lines(replace(ANSWER, fields=(field,)), "us")
    assert words.WHY_LEFT[why] in line
    assert "5 ac" in line


def change(
    field: str, before: dict[int, float], after: dict[int, float], *, why: str = "makes room"
) -> Change:
    """A field's acres by the day of the season, before and now."""
    first = ANSWER.on[0].toordinal()
    stops = [
        tuple((first + day, "", acres * ACRE_M2) for day, acres in sorted(some.items()))
        for some in (before, after)
    ]
    return Change(field=field, what="moved", why=why, before=stops[0], after=stops[1])


def test_a_change_of_plan_tells_before_and_now_with_the_reason() -> None:
    """Moved a day; with no other field changed there is nobody to name."""
    (line,) = words.change_lines([change("A4", {0: 59.3}, {1: 59.3})], "us", crews=1)
    assert line.startswith("A4: moved, ")
    assert line.endswith("(to fit in with the other changes)")
    assert line.count("59 ac") == 2


def test_the_field_that_made_room_and_the_one_it_made_room_for_are_named() -> None:
    """A8 takes 40 of A4's acres on day 1, A2 only 5; B1 goes to the room A8 leaves on day 3."""
    changes = [
        change("A4", {1: 59.0}, {2: 59.0}),
        change("A2", {1: 10.0}, {1: 15.0}),
        change("A8", {3: 40.0}, {1: 40.0}, why="not ready"),
        change("B1", {5: 20.0}, {3: 20.0}),
    ]
    lines = list(words.change_lines(changes, "us", crews=1))
    assert lines[0].endswith("(to make room for A8)")
    assert lines[2].endswith("(it is not ready then)")
    assert lines[3].endswith("(in the room A8 left)")


def test_a_crew_that_is_off_is_not_everybody() -> None:
    """With a second crew at work "nobody can work" would be untrue."""
    off = change("A4", {1: 59.0}, {2: 59.0}, why="crew off")
    one, two = (next(words.change_lines([off], "us", crews=count)) for count in (1, 2))
    assert one.endswith("(nobody can work that day)")
    assert two.endswith("(its crew cannot work that day)")


def test_the_price_of_changing_the_plan_is_a_row_and_in_the_total() -> None:
    """150 waiting, 40 on the road, 60 for what changed: 250. It used to say 190."""
    cost = replace(ANSWER.cost, upset_usd=60.0)
    line = words.cost_line(replace(ANSWER, cost=cost))
    assert line == (
        "Beside the work itself the plan costs $250: waiting $150, on the road and moving $40,"
        " changes to the plan before $60."
    )
    assert "changes to" not in words.cost_line(ANSWER)


def test_crews_without_work_are_free_or_away() -> None:
    """Crew 2 is free on the sixth day; on the first it is away, with the reason."""
    farm, answer = long_season()
    sixth = answer.days[5]
    assert words.without_work(answer, sixth) == ["Crew 2 free"]
    days = [replace(day, crews=day.crews[:1]) for day in answer.days]
    away = made_answer(farm, days, answer.fields, away={(answer.on[0], "Crew 2"): "a wedding"})
    assert words.without_work(away, days[0]) == ["Crew 2 away (a wedding)"]
    closed = next(day for day in days if day.because)
    assert words.without_work(away, closed) == []


def test_a_stop_is_never_told_after_the_close() -> None:
    """At average rates seed would still fall at 18:30; covering must be done by 18:15."""
    crew = ANSWER.days[0].crews[0]
    late = replace(crew, stop_at=crew.closes_at + timedelta(minutes=15))
    assert words.stop_text(late, "metric") == "18:15"


def test_the_gap_is_told_in_money_and_percent() -> None:
    """Four dollars of 553."""
    line = words.gap_line(replace(ANSWER, gap_usd=4.2, gap_fraction=0.0076))
    assert line == "No plan of these days can save more than $4 (0.8%)."
    assert words.gap_line(replace(ANSWER, gap_usd=0.2)) == "No plan of these days can cost less."


@pytest.mark.parametrize(
    ("took_s", "fields", "told"),
    [
        (None, 9, "usually a quarter of a minute"),
        (None, 40, "with 40 fields a few minutes."),
        (1.0, 9, "about 5 seconds."),
        (11.2, 9, "about 10 seconds."),
        (126.0, 40, "about 2 min."),
    ],
)
def test_a_wait_is_told_by_what_it_took_before(
    took_s: float | None, fields: int, told: str
) -> None:
    """Or by how many fields there are."""
    assert told in words.wait_line(took_s, fields)


def test_a_kept_plan_says_what_it_leaves() -> None:
    """What has no day comes before the last day."""
    on = ANSWER.on[0]
    assert words.kept_headline(10 * ACRE_M2, on, "us") == "10 ac have no day"
    assert words.kept_headline(0.0, on, "us").startswith("Everything is sown by ")
    assert words.kept_headline(0.0, None, "us") == "Nothing is left to sow"
