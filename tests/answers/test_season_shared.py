"""What two crews count on goes with the first of them, and the answer says so."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from made_folders import EXAMPLES

from duskline.answers import season_worth
from duskline.answers.season import SeasonQuestion, season_answer
from duskline.answers.season_crews import Basis
from duskline.answers.season_shared import counted_on
from duskline.answers.season_task import PlannedSeason, plan_season
from duskline.answers.season_worth import ChangeKey
from duskline.core.farm import Away, CrewNoun, Farm
from duskline.core.season import Effort, Schedule
from duskline.core.season_days import DayBudgets
from duskline.core.season_policy import SimulatedSeasons, simulate_policy
from duskline.exchange.farmfolder import read_farm
from duskline.words.season_cautions import shared_lines

FIRST, LAST = date(2026, 10, 15), date(2026, 10, 17)
AVERAGE = SeasonQuestion(first_on=FIRST, last_on=LAST, at_average=True, weathers_count=20)
QUICK = Effort(rounds=500, price_rounds=1, nodes=0, branches=0)
APART = replace(
    read_farm(EXAMPLES / "forty-fields"),
    away=(),
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
"""The forty fields' two crews, which share nothing: crew 1 has Ana, Dee, Earl and Fay."""
CREW_1_AWAY = Away(who="Crew 1", from_on=FIRST, to_on=FIRST, why="at home")


def changed(kind: str, name: str, **facts: Any) -> Farm:
    """The two crews with facts of one machine, person or truck changed."""
    nouns: Any = tuple(replace(n, **facts) if n.name == name else n for n in getattr(APART, kind))
    every: dict[str, Any] = {kind: nouns}
    return replace(APART, **every)


def only_ana(farm: Farm) -> Farm:
    """The same where nobody else drives Cultivator 1."""
    people = tuple(replace(p, drives=()) if p.name == "Carl" else p for p in farm.people)
    return replace(farm, people=people)


ANA_TWICE = only_ana(changed("cultivators", "Cultivator 1", driver="Ana"))
ONE_TRACTOR = changed("cultivators", "Cultivator 1", tractor="Tractor 4")
FAY_TWICE = changed("seed_trucks", "Seed truck 2", driver="Fay")
ANA_LOADS = changed("seed_trucks", "Seed truck 2", driver="Ana")


@functools.cache
def apart() -> PlannedSeason:
    """The crews that share nothing."""
    return plan_season(APART, AVERAGE)


def works(planned: PlannedSeason, crew: str) -> Sequence[date]:
    """The days on which a crew can go out."""
    return [on for on in planned.on if planned.hours[on, crew].works]


def test_crews_that_share_nothing_all_go_out() -> None:
    """Three days each, and nothing to tell."""
    for crew in apart().crews:
        assert len(works(apart(), crew)) == 3
    assert not any(one.without for one in apart().hours.values())


@pytest.mark.parametrize(
    ("farm", "name", "missing"),
    [
        (ANA_TWICE, "Ana", "nobody for Cultivator 1"),
        (ONE_TRACTOR, "Tractor 4", "no cultivator that day"),
        (FAY_TWICE, "Fay", "no seed truck that day"),
        (ANA_LOADS, "Ana", "no seed truck that day"),
    ],
    ids=["driver", "tractor", "seed truck's driver", "driver and seed truck's driver"],
)
def test_what_two_crews_share_goes_with_the_first(farm: Farm, name: str, missing: str) -> None:
    """Crew 1 does as much as with crews apart; crew 2 stays at home and says why."""
    planned = plan_season(farm, AVERAGE)
    assert works(planned, "Crew 1") == works(apart(), "Crew 1")
    for on in planned.on:
        first, second = planned.hours[on, "Crew 1"], planned.hours[on, "Crew 2"]
        assert first.area_m2 == pytest.approx(apart().hours[on, "Crew 1"].area_m2)
        assert first.without == {}
        assert second.without == {name: "Crew 1"}
        assert (second.works, second.basis) == (False, Basis.OFF)
        assert second.because == f"{missing}: {name} goes with Crew 1"


@pytest.mark.parametrize("farm", [ANA_TWICE, ONE_TRACTOR, FAY_TWICE, ANA_LOADS])
def test_on_a_day_the_first_crew_stays_at_home_the_second_has_it(farm: Farm) -> None:
    """Crew 1 is away on the first day: crew 2 goes out that day and no other."""
    planned = plan_season(replace(farm, away=(CREW_1_AWAY,)), AVERAGE)
    assert works(planned, "Crew 2") == [FIRST]
    assert works(planned, "Crew 1") == [on for on in planned.on if on != FIRST]


def test_the_order_of_the_crews_says_whose_it_is() -> None:
    """With crew 2 first in the file crew 1 has nobody for its spreader."""
    planned = plan_season(replace(ANA_TWICE, crews=ANA_TWICE.crews[::-1]), AVERAGE)
    assert len(works(planned, "Crew 2")) == 3
    assert works(planned, "Crew 1") == []
    assert planned.hours[FIRST, "Crew 1"].because == ("nobody for Spreader 1: Ana goes with Crew 2")


def test_a_crew_that_can_do_without_goes_out_and_does_less() -> None:
    """Crew 2 has two cultivators, and one of them shares a tractor with crew 1."""
    crews = (
        replace(APART.crews[0], machines=("Spreader 1", "Cultivator 2")),
        replace(APART.crews[1], machines=("Spreader 2", "Cultivator 1", "Cultivator 3")),
    )
    own = replace(APART, crews=crews)
    shared = replace(ONE_TRACTOR, crews=crews)
    free, held = plan_season(own, AVERAGE), plan_season(shared, AVERAGE)
    assert works(held, "Crew 2") == works(free, "Crew 2")
    one, other = free.hours[FIRST, "Crew 2"], held.hours[FIRST, "Crew 2"]
    assert other.without == {"Tractor 4": "Crew 1"}
    # Cultivator 1 of 40 ft stays behind, Cultivator 3 of 32 ft goes.
    assert 0.2 * one.area_m2 < other.area_m2 < 0.7 * one.area_m2


def test_one_who_alone_can_drive_a_machine_is_counted_on_without_being_named() -> None:
    """Cultivator 1 names no driver, and only Ana is said to drive it."""
    people = tuple(
        replace(p, drives=("Spreader 1", "Cultivator 1")) if p.name == "Ana" else p
        for p in only_ana(APART).people
    )
    farm = replace(changed("cultivators", "Cultivator 1", driver=None), people=people)
    assert "Ana" in counted_on(farm, farm.crews[1])
    assert "Tractor 3" in counted_on(farm, farm.crews[1])
    planned = plan_season(farm, AVERAGE)
    assert works(planned, "Crew 2") == []
    assert planned.hours[FIRST, "Crew 2"].without == {"Ana": "Crew 1"}


def test_the_answer_says_who_goes_without_whom() -> None:
    """One sentence, with the days; and the crew has no field on them."""
    answer = season_answer(
        replace(ANA_TWICE, away=(CREW_1_AWAY,)), replace(AVERAGE, compare=False, effort=QUICK)
    )
    assert list(shared_lines(answer)) == [
        "Crew 2 is without Ana on 2 days, when Crew 1 goes out, and has no day then."
    ]
    assert {day.on for day in answer.days for crew in day.crews if crew.crew == "Crew 2"} <= {FIRST}


def test_one_more_driver_is_offered_for_the_crew_that_stays_at_home() -> None:
    """With him crew 2 goes out too, and that is worth money."""
    question = replace(AVERAGE, last_on=date(2026, 10, 20), effort=QUICK)
    worth = {one.key: one for one in season_answer(ANA_TWICE, question).worth}
    assert worth[ChangeKey.DRIVER].usd_low > 0.0


def test_a_closed_day_knows_what_each_crew_would_have_if_it_opened() -> None:
    """Rain on the 18th: crew 2 would stay at home; crew 1 away, it would go out."""
    question = replace(AVERAGE, last_on=date(2026, 10, 18))
    for away, goes in (((), False), ((replace(CREW_1_AWAY, to_on=date(2026, 10, 18)),), True)):
        planned = plan_season(replace(ANA_TWICE, windows=(), away=away), question)
        for crew, expected in (("Crew 1", not goes), ("Crew 2", goes)):
            hours = planned.hours[date(2026, 10, 18), crew]
            assert (hours.basis, hours.works) == (Basis.CLOSED, False)
            assert hours.because == "rain or wet ground"
            assert hours.if_open is not None
            assert hours.if_open.works is expected


def test_the_chance_does_not_count_a_crew_that_stays_at_home(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """On days planned as closed that one season in five opens crew 1 goes, and crew 2 does not.

    Crew 2 goes out on the first day, when crew 1 is away: so both have a pace.
    """
    budgets: list[DayBudgets] = []
    paces: list[bool] = []

    def seen(schedule: Schedule, drawn: DayBudgets, *rest: Any, **more: Any) -> SimulatedSeasons:
        budgets.append(drawn)
        paces.extend(bool(crew.lot_pace) for crew in schedule.task.crews)
        return simulate_policy(schedule, drawn, *rest, **more)

    monkeypatch.setattr(season_worth, "simulate_policy", seen)
    first_on, last_on = date(2026, 10, 17), date(2026, 10, 19)
    away = Away(who="Crew 1", from_on=first_on, to_on=first_on, why="at home")
    season_answer(
        replace(ANA_TWICE, windows=(), away=(away,)),
        replace(
            AVERAGE,
            first_on=first_on,
            last_on=last_on,
            weathers_count=200,
            compare=False,
            effort=QUICK,
        ),
    )
    (drawn,) = budgets
    assert (drawn.area_m2 > 0.0).any(axis=0).tolist() == [
        [False, True],
        [True, False],
        [True, False],
    ]
    assert paces == [True, True]
