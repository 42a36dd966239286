"""The season from this morning on: what lies open, what is past or old, and what is offered."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from made_folders import ACRE_M2, EXAMPLES

from duskline.answers.season import (
    CRUMB_M2,
    NoEarlier,
    SeasonAnswer,
    SeasonQuestion,
    _crew_plan,
    season_answer,
)
from duskline.answers.season_crews import Basis, Hours, crew_rates
from duskline.answers.season_task import (
    PlannedSeason,
    open_by_crew_m2,
    plan_season,
    quick_schedule,
)
from duskline.answers.season_worth import ChangeKey, chance_of, why_no_earlier
from duskline.core.errors import NoWindow
from duskline.core.farm import CrewNoun, Farm, StatedWindow
from duskline.core.log import Event
from duskline.core.season import CrewDay, Effort, Visit
from duskline.exchange.farmfolder import read_farm
from duskline.words.season import BASES, season_notes
from duskline.words.season_cautions import caution_lines, no_earlier_line, no_season_text

RYE = read_farm(EXAMPLES / "rye-after-soybeans")
FORTY = read_farm(EXAMPLES / "forty-fields")
ZONE = ZoneInfo("America/Chicago")
BEGUN_ON, NEXT_ON = date(2026, 10, 18), date(2026, 10, 19)
QUICK = Effort(rounds=500, price_rounds=1, nodes=0, branches=0)
AVERAGE = SeasonQuestion(at_average=True, weathers_count=50, compare=False, effort=QUICK)


def spread(acres: float, field: str = "A1", machine: str = "Spreader", day: int = 18) -> Event:
    """Seed on the ground, at 4 pm."""
    at = datetime(2026, 10, day, 16, tzinfo=ZONE)
    return Event(at=at, what="spread", machine=machine, field=field, area_m2=acres * ACRE_M2)


def covered(acres: float, field: str = "A1") -> Event:
    """The same ground covered an hour later."""
    at = datetime(2026, 10, 18, 17, tzinfo=ZONE)
    return Event(at=at, what="covered", field=field, area_m2=acres * ACRE_M2)


@functools.cache
def rye_from_next(open_acres: float, sure_fraction: float | None = None) -> PlannedSeason:
    """The rye farm on the 19th, with so much of A1's 40 acres open since the 18th."""
    log = (spread(40.0), *([covered(40.0 - open_acres)] if open_acres < 40.0 else []))
    question = replace(AVERAGE, at_average=sure_fraction is None, sure_fraction=sure_fraction)
    return plan_season(replace(RYE, log=log), question)


def first_day(planned: PlannedSeason) -> Hours:
    """The one crew's first day out."""
    return next(hours for hours in planned.hours.values() if hours.works)


# --- ground that lies open from the day before ------------------------------------------------


def test_open_ground_takes_its_time_off_the_first_day() -> None:
    """S x = C1 T1 + C2 (T2 - x) - open: the stop falls by open / (S + C2), the area by S of it."""
    clear, lying = first_day(rye_from_next(0.0)), first_day(rye_from_next(40.0))
    rates = crew_rates(clear)
    open_m2 = 40.0 * ACRE_M2
    # In the lead, 20 minutes, covering otherwise waits for the first seed.
    idle_m2 = rates.cover_m2_per_s * rates.lead_s
    assert (clear.on, lying.on) == (NEXT_ON, NEXT_ON)
    assert clear.open_m2 == 0.0
    assert lying.open_m2 == pytest.approx(open_m2)
    share = rates.spread_m2_per_s / (rates.spread_m2_per_s + rates.takeover_m2_per_s)
    lost_m2 = (open_m2 - idle_m2) * share
    assert clear.area_m2 - lying.area_m2 == pytest.approx(lost_m2, rel=1e-6)
    assert lying.lost_m2_per_s == pytest.approx(clear.lost_m2_per_s, rel=0.02)


def test_no_other_day_is_shorter_for_it() -> None:
    """Covered on the first day, it is gone."""
    clear, lying = rye_from_next(0.0), rye_from_next(40.0)
    later = [key for key in clear.hours if key[0] > NEXT_ON]
    assert len(later) >= 4
    for key in later:
        assert lying.hours[key].area_m2 == clear.hours[key].area_m2
        assert lying.hours[key].open_m2 == 0.0


def test_a_sure_day_gives_up_as_much_for_it() -> None:
    """At 19 in 20 the area falls too, and not by more than lies open."""
    clear, lying = (first_day(rye_from_next(acres, 0.95)).area_m2 for acres in (0.0, 40.0))
    assert 0.5 * 40.0 * ACRE_M2 < clear - lying < 1.02 * 40.0 * ACRE_M2


def test_more_than_a_day_covers_goes_on_the_next() -> None:
    """Nothing is sown on the first day, and the rest comes off the second day out."""
    log = tuple(spread(45.0, name) for name in ("A1", "A2", "A3", "A4", "A5", "A6"))
    planned = plan_season(replace(RYE, log=log), AVERAGE)
    first = planned.hours[NEXT_ON, ""]
    assert not first.works
    assert first.because == "covering what lies open"
    assert 0.0 < first.bare_m2 < first.open_m2
    assert first.open_m2 / ACRE_M2 == pytest.approx(270.0)
    second = first_day(planned)
    assert second.open_m2 == pytest.approx(first.bare_m2)
    assert planned.open_m2 == 0.0


def test_each_crew_covers_what_its_own_spreader_left() -> None:
    """Crew 2's spreader left C4 open; what no machine is named for is the first crew's."""
    crews = (
        CrewNoun(name="Crew 1", machines=("Spreader 1", "Cultivator 2", "Cultivator 3")),
        CrewNoun(name="Crew 2", machines=("Spreader 2", "Cultivator 1")),
    )
    log = (spread(20.0, "C4", "Spreader 2", 15), spread(10.0, "C5", "", 15))
    farm = replace(FORTY, crews=crews, away=(), log=log)
    lying = open_by_crew_m2(farm, date(2026, 10, 16))
    assert lying == {
        "Crew 2": pytest.approx(20.0 * ACRE_M2),
        "Crew 1": pytest.approx(10.0 * ACRE_M2),
    }
    planned = plan_season(farm, replace(AVERAGE, last_on=date(2026, 10, 17)))
    opened = {crew: planned.hours[date(2026, 10, 16), crew].open_m2 for crew in planned.crews}
    assert opened == lying


def test_a_field_told_only_by_its_loads_lies_open_too() -> None:
    """A "load done" of Spreader 2 in C3, and one of nobody: the season is planned all the same."""
    crews = (
        CrewNoun(name="Crew 1", machines=("Spreader 1", "Cultivator 2", "Cultivator 3")),
        CrewNoun(name="Crew 2", machines=("Spreader 2", "Cultivator 1")),
    )
    load = replace(spread(20.0, "C3", "Spreader 2", 15), what="load")
    nobodys = replace(spread(10.0, "C5", "", 15), what="load")
    farm = replace(FORTY, crews=crews, away=(), log=(load, nobodys))
    assert open_by_crew_m2(farm, date(2026, 10, 16)) == {
        "Crew 2": pytest.approx(20.0 * ACRE_M2),
        "Crew 1": pytest.approx(10.0 * ACRE_M2),
    }


def test_the_chance_counts_the_time_too() -> None:
    """Less is sown by the first day, and all of it in the end."""
    fans: list[Mapping[float, tuple[float, ...]]] = []
    for acres in (0.0, 40.0):
        planned = rye_from_next(acres)
        schedule = quick_schedule(planned, AVERAGE.seed)
        fans.append(chance_of(planned, schedule, AVERAGE).fan_m2)
    clear, lying = (np.array(fan[0.5]) for fan in fans)
    assert lying[-1] == pytest.approx(clear[-1], rel=1e-6)
    lost = (clear[0] - lying[0]) / ACRE_M2
    assert 15.0 < lost < 41.0


@functools.cache
def begun() -> SeasonAnswer:
    """The rye farm's season the morning after, 40 acres lying open."""
    return season_answer(replace(RYE, log=(spread(40.0),)), AVERAGE)


def test_the_answer_tells_the_day_that_begins_with_covering() -> None:
    """One sentence, and not the other that says the time is not counted."""
    (one,) = begun().open_first
    assert one.on == NEXT_ON
    assert one.area_m2 == pytest.approx(40.0 * ACRE_M2)
    text = " ".join(caution_lines(begun(), NEXT_ON, "us"))
    assert "40 ac lie spread and not covered. First cover that on Mon Oct 19" in text
    assert "does not count the time" not in " ".join(season_notes(begun(), "us"))


def test_clock_times_of_that_day_count_the_open_ground() -> None:
    """The first field is spread at the opening, and covered when the open ground is done too."""
    clear = season_answer(replace(RYE, log=(spread(40.0), covered(40.0))), AVERAGE)
    for answer in (begun(), clear):
        crew = answer.days[0].crews[0]
        assert crew.area_m2 <= crew.capacity_m2 * (1.0 + 1e-9)
        assert crew.bare_m2 < 0.03 * crew.area_m2
    day = begun().days[0].crews[0]
    first, second = day.visits
    rates = crew_rates(first_day(begun().planned))
    assert first.from_at == day.opens_at
    spread_s = (second.from_at - first.from_at).total_seconds()
    assert first.area_m2 / rates.spread_m2_per_s < spread_s + 600.0
    assert first.covered_at is not None
    # Cultivator 1 from the opening on, cultivator 2 from the changeover after the stop on.
    alone_s = (first.covered_at - day.opens_at).total_seconds()
    both_s = (first.covered_at - day.stop_at).total_seconds() - rates.changeover_s
    done_m2 = rates.cover_m2_per_s * alone_s + rates.takeover_m2_per_s * max(0.0, both_s)
    assert done_m2 == pytest.approx(40.0 * ACRE_M2 + first.area_m2, rel=0.02)


# --- past and old -----------------------------------------------------------------------------


def test_days_that_are_over_are_named() -> None:
    """At noon of the 20th the 18th and 19th are past; the 20th is not."""
    now_at = datetime(2026, 10, 20, 12, tzinfo=ZONE)
    answer = season_answer(RYE, replace(AVERAGE, now_at=now_at))
    assert answer.past_on == (BEGUN_ON, NEXT_ON)
    text = " ".join(caution_lines(answer, now_at.date(), "us"))
    assert "Sun Oct 18 to Mon Oct 19 are past (today is Tue Oct 20)" in text
    assert "--from 2026-10-20" in text


def test_today_is_a_day_of_the_farms_clock() -> None:
    """4 am UTC of the 19th is still the 18th in Iowa."""
    now_at = datetime(2026, 10, 19, 4, tzinfo=UTC)
    assert season_answer(RYE, replace(AVERAGE, now_at=now_at)).past_on == ()


def test_an_old_forecast_is_told_in_days() -> None:
    """Made on the 18th at 5 am: 41 days later it is 41 days old, not 996 hours."""
    now_at = datetime(2026, 11, 28, 17, tzinfo=UTC)
    answer = season_answer(RYE, replace(AVERAGE, now_at=now_at))
    assert answer.forecast_is_old
    lines = list(caution_lines(answer, now_at.date(), "us"))
    assert any(line.startswith("The forecast is 41 days old") for line in lines)
    assert any(line.startswith("Every day of this plan is past") for line in lines)


def test_nothing_is_told_on_the_morning_the_forecast_was_made() -> None:
    """An hour old, and no day over."""
    now_at = datetime(2026, 10, 18, 6, tzinfo=ZONE)
    answer = season_answer(RYE, replace(AVERAGE, now_at=now_at))
    assert list(caution_lines(answer, now_at.date(), "us")) == []
    assert answer.forecast_age_s == pytest.approx(3600.0)
    assert not answer.forecast_is_old


# --- no days at all ---------------------------------------------------------------------------


def test_a_season_over_before_it_begins_says_which_days_it_would_have() -> None:
    """The log goes on after the last day."""
    farm = replace(RYE, log=(spread(1.0, day=28),))
    with pytest.raises(NoWindow, match="begin on 2026-10-29 and end on 2026-10-25") as wrong:
        plan_season(farm, AVERAGE)
    text = no_season_text(wrong.value.reason)
    assert "--from and --to" in text
    assert "--date" not in text


# --- clock times ------------------------------------------------------------------------------


@pytest.mark.parametrize("zone", [ZONE, UTC, ZoneInfo("Asia/Tokyo")])
def test_a_field_is_ready_at_the_same_moment_in_every_zone(zone: ZoneInfo) -> None:
    """Ready on the 18th at 2 pm in Iowa, which is the 19th in Tokyo: not before 2 pm."""
    ready_at = datetime(2026, 10, 18, 14, tzinfo=ZONE).astimezone(zone)
    fields = tuple(
        replace(one, ready_at=ready_at, ready_early_at=None, ready_late_at=None)
        for one in RYE.fields
    )
    answer = season_answer(
        replace(RYE, fields=fields), replace(AVERAGE, last_on=date(2026, 10, 19))
    )
    assert answer.days[0].crews
    first = answer.days[0].crews[0].visits[0]
    assert first.from_at >= ready_at
    assert first.from_at < ready_at + timedelta(minutes=10)


def test_a_stop_after_the_close_is_not_hidden() -> None:
    """A close earlier than the last seed stands as it is, and is told."""
    answer = begun()
    day = answer.days[0]
    crew = day.crews[0]
    late = replace(crew, stop_at=crew.closes_at + timedelta(minutes=20))
    told = replace(answer, days=(replace(day, crews=(late,)), *answer.days[1:]))
    assert not crew.stops_too_late
    assert late.stops_too_late
    lines = [line for line in caution_lines(told, NEXT_ON, "us") if "seed still" in line]
    assert len(lines) == 1
    assert lines[0].startswith("Mon Oct 19: at average rates seed still falls at 3:20 pm")


def test_what_is_not_quite_covered_load_by_load_is_told() -> None:
    """Two acres are told, a tenth of one is not; and it goes with a field that is never done."""
    answer = begun()
    day = answer.days[0]
    for acres, told in ((2.0, True), (0.04, False)):
        crew = replace(day.crews[0], bare_m2=acres * ACRE_M2)
        lines = caution_lines(replace(answer, days=(replace(day, crews=(crew,)),)), NEXT_ON, "us")
        assert any("2 ac would not be covered by 3:00 pm" in line for line in lines) is told
    for one in (crew for other in answer.days for crew in other.crews):
        done = [visit.covered_at for visit in one.visits]
        assert (one.bare_m2 > 50.0) == (None in done)


def test_a_plan_that_spreads_past_the_close_shows_both_moments() -> None:
    """Spreading may go on until 6 pm, covering until 3 pm, and more is planned than can be."""
    window = StatedWindow(on=BEGUN_ON, spread=("10:00", "18:00"), cover=("10:00", "15:00"))
    farm = replace(RYE, windows=(window,), forecast=None)
    planned = plan_season(farm, replace(AVERAGE, last_on=NEXT_ON))
    hours = planned.hours[BEGUN_ON, ""]
    (most,) = (one for one in planned.task.fields if one.name == "A4")
    visit = Visit(
        field="A4",
        area_m2=9.0e5,
        lot=most.lot,
        clean_out=False,
        starts_s=0.0,
        takes_s=1.0,
        travel_m=0.0,
    )
    one = CrewDay(day=BEGUN_ON.toordinal(), crew="", visits=(visit,), used_s=1.0, budget_s=1.0)
    crew = _crew_plan(planned, one, hours, datetime(2026, 10, 18, tzinfo=ZONE))
    assert (crew.closes_at.hour, crew.closes_at.minute) == (15, 0)
    assert crew.stop_at.hour >= 17
    assert crew.stops_too_late
    assert crew.bare_m2 > 1e5
    assert crew.visits[0].covered_at is None


def test_the_close_is_when_covering_must_be_done_whatever_the_stop() -> None:
    """Each day's close is that of its hours."""
    for farm in (RYE, FORTY):
        answer = season_answer(farm, replace(AVERAGE, last_on=date(2026, 10, 20)))
        for day in answer.days:
            for crew in day.crews:
                hours = answer.planned.hours[day.on, crew.crew]
                midnight = datetime.combine(day.on, datetime.min.time(), crew.closes_at.tzinfo)
                closes_s = (crew.closes_at - midnight).total_seconds()
                assert closes_s == pytest.approx(hours.closes_s, abs=1.0)
                assert not crew.stops_too_late


# --- one day's earlier start ------------------------------------------------------------------


def why(farm: Farm, question: SeasonQuestion = AVERAGE) -> NoEarlier | None:
    """Why the start cannot be a day earlier."""
    return why_no_earlier(plan_season(farm, question), question)


def test_an_earlier_start_is_offered_unless_that_day_is_worked_already() -> None:
    """Work on the 18th: not from the 19th on, but from the 21st on one could begin on the 20th."""
    farm = replace(RYE, log=(spread(40.0), covered(40.0)))
    assert why(RYE) is None
    assert why(farm) is NoEarlier.BEGUN
    assert why(farm, replace(AVERAGE, first_on=date(2026, 10, 21))) is None
    question = replace(AVERAGE, first_on=date(2026, 10, 21), compare=True)
    answer = season_answer(farm, question)
    assert ChangeKey.EARLIER in {one.key for one in answer.worth}
    assert no_earlier_line(answer) == ""


def test_a_plan_that_begins_today_cannot_begin_yesterday() -> None:
    """Nor is it offered."""
    now_at = datetime(2026, 10, 18, 6, tzinfo=ZONE)
    assert why(RYE, replace(AVERAGE, now_at=now_at)) is NoEarlier.TODAY
    assert why(RYE, replace(AVERAGE, now_at=now_at - timedelta(days=3))) is None


def test_why_it_is_not_offered_is_said() -> None:
    """In the list of changes, where it would stand."""
    farm = replace(RYE, log=(spread(40.0), covered(40.0)))
    answer = season_answer(farm, replace(AVERAGE, compare=True))
    assert ChangeKey.EARLIER not in {one.key for one in answer.worth}
    assert no_earlier_line(answer) == (
        "One day's earlier start: not offered, the log has work on the day before."
    )
    assert answer.left_m2 > CRUMB_M2
    assert any(day.basis is not Basis.OFF for day in answer.days)


# --- hours stated for a day off --------------------------------------------------------------


def test_hours_stated_for_a_day_off_are_worked_and_noted() -> None:
    """The oats farm rests on Sundays and states hours for Sunday, March 1: it works, and says so.

    The Sunday after has none stated: off. One stated as closed stays off too.
    """
    oats = read_farm(EXAMPLES / "oats-and-radish")
    first, next_one = date(2026, 3, 1), date(2026, 3, 8)
    assert oats.season.weekly_off == (6,)
    planned = plan_season(oats, AVERAGE)
    crew = planned.crews[0]
    assert planned.hours[first, crew].works
    assert planned.hours[first, crew].basis is Basis.STATED_OFF
    assert not planned.frames[planned.on.index(first)].shut
    assert planned.hours[next_one, crew].basis is Basis.OFF
    assert BASES[Basis.STATED_OFF].endswith("though it is a day off")
    shut = replace(oats, windows=(StatedWindow(on=first, closed="church"),))
    assert plan_season(shut, AVERAGE).hours[first, crew].basis is Basis.OFF
