"""What a careful neighbor asks about the season: deadlines, crews, big fields, weather, money."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from made_folders import ACRE_M2, EXAMPLES, asked, asked_json, copy_of, two_crews

from duskline.answers.check import Ask, Question, QuestionKey, Severity, check_answer
from duskline.core.farm import CrewNoun, Farm
from duskline.exchange.farmfolder import read_farm
from duskline.words.check import sentence

RYE, OATS, FORTY = "rye-after-soybeans", "oats-and-radish", "forty-fields"
RYE_FARM = read_farm(EXAMPLES / RYE)
FORTY_FARM = replace(
    read_farm(EXAMPLES / FORTY),
    crews=(
        CrewNoun(
            name="Crew 1",
            machines=("Spreader 1", "Cultivator 2", "Cultivator 3"),
            seed_trucks=("Seed truck 1",),
        ),
        CrewNoun(
            name="Crew 2",
            machines=("Spreader 2", "Cultivator 1"),
            seed_trucks=("Seed truck 2",),
        ),
    ),
)


def of(farm: Farm, key: QuestionKey, on: date | None = None) -> list[Question]:
    """The questions of one kind."""
    return [one for one in check_answer(farm, on).questions if one.key is key]


def changed(tmp_path: Path, *pairs: tuple[str, str], example: str = RYE) -> Farm:
    """An example with texts of farm.toml changed."""
    return read_farm(copy_of(example, tmp_path, farm_toml=list(pairs)))


def with_fields(farm: Farm, name: str, **facts: object) -> Farm:
    """The farm with facts of one field changed."""
    fields = tuple(
        replace(one, **facts) if one.name == name else one  # type: ignore[arg-type]
        for one in farm.fields
    )
    return replace(farm, fields=fields)


# --- deadlines -----------------------------------------------------------------------------


def test_no_deadline_at_all_is_asked_for() -> None:
    """The oats farm has no program: a note to its own crew, all fields at once."""
    (one,) = of(read_farm(EXAMPLES / OATS), QuestionKey.DUE_NOT_STATED)
    assert (one.severity, one.ask) == (Severity.NOTE, Ask.CREW)
    text = sentence(one, "metric")
    assert "No last sowing day is written down for any field" in text
    assert "season.due" in text


def test_a_program_without_a_deadline_is_a_question_for_its_office(tmp_path: Path) -> None:
    """The forty fields without their due day."""
    (one,) = of(
        changed(tmp_path, ("due = 2026-10-24\n", ""), example=FORTY), QuestionKey.DUE_NOT_STATED
    )
    assert (one.severity, one.ask) == (Severity.ASK, Ask.OFFICE)
    assert "Look in State cover crop program (invented)" in sentence(one, "us")


def test_fields_without_a_day_of_their_own_are_named_where_others_have_one(tmp_path: Path) -> None:
    """Only A1 has a due day, and the season none: the other eight are named."""
    farm = changed(tmp_path, ("due = 2026-10-21\n", ""), ("sow_by = 2026-10-21\n", ""))
    (one,) = of(with_fields(farm, "A1", due_on=date(2026, 10, 20)), QuestionKey.DUE_NOT_STATED)
    assert one.values["fields"] == ("A2", "A3", "A4", "A5", "A6", "A7", "A8", "A9")
    assert "for fields A2, A3" in sentence(one, "us")


def test_nothing_is_asked_where_all_have_a_deadline() -> None:
    """The rye farm's season is due on 21 October."""
    assert of(RYE_FARM, QuestionKey.DUE_NOT_STATED) == []
    assert of(RYE_FARM, QuestionKey.READY_AFTER_DUE) == []


def test_a_field_ready_after_the_due_day_is_late_whatever_the_plan(tmp_path: Path) -> None:
    """Due on the 19th: A5 is ready on the 20th. The program's own day, the 21st, is not past."""
    farm = changed(tmp_path, ("due = 2026-10-21", "due = 2026-10-19"))
    (one,) = of(farm, QuestionKey.READY_AFTER_DUE)
    assert one.values["fields"] == ("A5",)
    assert sentence(one, "us").startswith("Field A5 becomes ready only after Oct 19: late whatever")


def test_a_day_past_the_programs_date_is_asked_once(tmp_path: Path) -> None:
    """Both dates on the 19th: the program's question stands, the season's would repeat it."""
    farm = changed(
        tmp_path,
        ("due = 2026-10-21", "due = 2026-10-19"),
        ("sow_by = 2026-10-21", "sow_by = 2026-10-19"),
    )
    assert of(farm, QuestionKey.READY_AFTER_DUE) == []
    assert len(of(farm, QuestionKey.READY_AFTER_SOW_BY)) == 1


def test_the_due_day_is_a_day_of_the_farms_clock() -> None:
    """Ready on the 19th at 11 pm in Iowa is the 20th in London, and in time on the 19th."""
    ready = datetime(2026, 10, 20, 4, tzinfo=UTC)
    farm = with_fields(RYE_FARM, "A1", ready_at=ready, due_on=date(2026, 10, 19))
    assert of(farm, QuestionKey.READY_AFTER_DUE) == []
    later = with_fields(farm, "A1", ready_at=ready + timedelta(hours=1))
    assert of(later, QuestionKey.READY_AFTER_DUE)[0].values["fields"] == ("A1",)


def test_a_late_harvest_past_the_due_day_is_noted() -> None:
    """A5 is likely ready on the 20th, but late on the 22nd; due on the 21st."""
    (one,) = of(RYE_FARM, QuestionKey.MAY_BE_READY_AFTER_DUE)
    assert (one.values["fields"], one.severity) == (("A5",), Severity.NOTE)
    assert "not before Oct 21 is past" in sentence(one, "us")


def test_different_due_days_are_not_told_as_one() -> None:
    """A2 due on the 19th, A5 on the 21st, both late in a late fall."""
    farm = with_fields(RYE_FARM, "A2", due_on=date(2026, 10, 19))
    (one,) = of(farm, QuestionKey.MAY_BE_READY_AFTER_DUE)
    assert one.values["fields"] == ("A2", "A5")
    assert "not before the last day set for each is past" in sentence(one, "us")


# --- fields and crews ------------------------------------------------------------------------


def test_a_field_bigger_than_a_day_is_named_with_what_a_day_does() -> None:
    """Forty fields: crew 1 covers 37.4 ac/h, 9 h in the longest window: 337 ac; 400 is more."""
    assert of(FORTY_FARM, QuestionKey.FIELD_BIGGER_THAN_A_DAY) == []
    farm = with_fields(FORTY_FARM, "C1", area_m2=400 * ACRE_M2)
    (one,) = of(farm, QuestionKey.FIELD_BIGGER_THAN_A_DAY)
    assert one.severity is Severity.NOTE
    most_m2 = one.values["most_m2"]
    assert isinstance(most_m2, float)
    assert most_m2 / ACRE_M2 == pytest.approx(337, abs=1.0)
    text = sentence(one, "us")
    assert "Field C1 is bigger than one crew covers in a day" in text
    assert "9 h 00 min" in text
    assert "Mark where to stop" in text


def test_without_crews_all_machines_count_together() -> None:
    """62.8 ac/h in all do 400 ac in 9 h, but not 600."""
    farm = replace(FORTY_FARM, crews=())
    key = QuestionKey.FIELD_BIGGER_THAN_A_DAY
    assert of(with_fields(farm, "C1", area_m2=400 * ACRE_M2), key) == []
    assert len(of(with_fields(farm, "C1", area_m2=600 * ACRE_M2), key)) == 1


def test_a_big_field_that_must_not_be_split_is_more_than_a_note() -> None:
    """It can never be done."""
    farm = with_fields(FORTY_FARM, "C1", area_m2=400 * ACRE_M2, may_split=False)
    (one,) = of(farm, QuestionKey.FIELD_BIGGER_THAN_A_DAY)
    assert one.severity is Severity.ASK
    assert "Yet split is false" in sentence(one, "us")


def test_machines_in_no_crew_are_named(tmp_path: Path) -> None:
    """Cultivator 3 and the second seed truck are left out of both crews."""
    pairs = (
        ('"Cultivator 2", "Cultivator 3"', '"Cultivator 2"'),
        ('seed_trucks = ["Seed truck 2"]\n', ""),
    )
    farm = read_farm(two_crews(tmp_path, *pairs))
    (one,) = of(farm, QuestionKey.IN_NO_CREW)
    assert one.values["machines"] == ("Cultivator 3", "Seed truck 2")
    assert "Cultivator 3 and Seed truck 2 stand in no crew" in sentence(one, "us")
    assert of(FORTY_FARM, QuestionKey.IN_NO_CREW) == []
    assert of(RYE_FARM, QuestionKey.IN_NO_CREW) == []


def test_somebody_counted_on_by_two_crews_is_named(tmp_path: Path) -> None:
    """Ana drives Spreader 1 of crew 1 and is written down for Cultivator 1 of crew 2 too."""
    farm = read_farm(two_crews(tmp_path, ('driver = "Carl"', 'driver = "Ana"')))
    (one,) = of(farm, QuestionKey.CREWS_SHARE)
    assert (one.subject, one.values["crews"]) == ("Ana", ("Crew 1", "Crew 2"))
    assert "Ana is counted on in Crew 1 and Crew 2 at the same time" in sentence(one, "us")
    assert of(FORTY_FARM, QuestionKey.CREWS_SHARE) == []


def test_a_tractor_that_alone_pulls_for_two_crews_is_named() -> None:
    """Neither machine names it, but no other pulls them."""
    pulls = {"Tractor 1": ("Spreader 1", "Cultivator 1"), "Tractor 3": ()}
    farm = replace(
        FORTY_FARM,
        tractors=tuple(replace(t, pulls=pulls.get(t.name, t.pulls)) for t in FORTY_FARM.tractors),
        spreaders=tuple(replace(s, tractor=None) for s in FORTY_FARM.spreaders),
        cultivators=tuple(replace(c, tractor=None) for c in FORTY_FARM.cultivators),
    )
    (one,) = of(farm, QuestionKey.CREWS_SHARE)
    assert (one.subject, one.values["crews"]) == ("Tractor 1", ("Crew 1", "Crew 2"))


# --- weather and money -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("on", "age"),
    [
        (date(2026, 10, 18), ""),
        (date(2026, 10, 19), "19 hours"),
        (date(2026, 10, 20), "43 hours"),
        (date(2026, 10, 21), "2 days"),
    ],
)
def test_an_old_forecast_is_told_with_its_age(on: date, age: str) -> None:
    """Made on the 18th at 5 am; at midnight before the 19th it is 19 h old."""
    found = of(RYE_FARM, QuestionKey.FORECAST_OLD, on)
    assert len(found) == bool(age)
    if age:
        text = sentence(found[0], "us")
        assert f"the forecast is {age} old (Oct 18)" in text
        assert f"On Oct {on.day}" in text


def test_a_season_that_starts_later_asks_for_a_newer_forecast(tmp_path: Path) -> None:
    """First day 22 October: four days less five hours after the forecast."""
    farm = changed(tmp_path, ("[season]", "[season]\nfirst_day = 2026-10-22"))
    answer = check_answer(farm, None)
    assert answer.on == date(2026, 10, 22)
    (one,) = [q for q in answer.questions if q.key is QuestionKey.FORECAST_OLD]
    assert "3 days old" in sentence(one, "us")


def test_a_farm_without_a_table_of_its_own_falls_is_told_what_stands_in() -> None:
    """The rye farm has none, the forty fields have."""
    (one,) = of(RYE_FARM, QuestionKey.CLIMATE_NOT_STATED)
    assert one.severity is Severity.NOTE
    row = RYE_FARM.defaults["climate_fit_share"]
    text = sentence(one, "us")
    assert f"{100 * row.value:.0f} % of days fit for covering" in text
    assert "[[climate]]" in text
    assert of(FORTY_FARM, QuestionKey.CLIMATE_NOT_STATED) == []


def test_dollars_standing_in_for_another_money_are_told(tmp_path: Path) -> None:
    """The oats farm states what it loses; without "unsown" US dollars stand in, and lateness
    is not asked for, as there is no due day.
    """
    key = QuestionKey.LOSSES_IN_DOLLARS
    assert of(read_farm(EXAMPLES / OATS), key) == []
    (one,) = of(changed(tmp_path, ('unsown = "180 per ha"\n', ""), example=OATS), key)
    assert one.values["losses"] == ("unsown",)
    assert "taken as NZD" in sentence(one, "metric")
    due = ('unsown = "180 per ha"\n', "due = 2026-03-05\n")
    (one,) = of(changed(tmp_path / "due", due, example=OATS), key)
    assert one.values["losses"] == ("late", "late_per_day", "unsown")
    assert of(RYE_FARM, key) == []


def test_the_command_prints_the_seasons_questions(tmp_path: Path) -> None:
    """They stand among the others, and as JSON."""
    folder = copy_of(OATS, tmp_path)
    assert "No last sowing day is written down" in " ".join(asked("check", folder).stdout.split())
    keys = [one["key"] for one in asked_json("check", folder)["questions"]]
    assert {"due not stated", "climate not stated"} <= set(keys)
