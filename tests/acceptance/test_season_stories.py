"""What the owner asks of his season: does it fit, what when, and what a change upsets."""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from datetime import date

import pytest
from made_folders import ACRE_M2, EXAMPLES

from duskline.answers.season import (
    Basis,
    SeasonAnswer,
    SeasonQuestion,
    WhyLeft,
    season_answer,
)
from duskline.answers.season_task import plan_season
from duskline.answers.season_worth import ChangeKey, with_spreader
from duskline.core.errors import NoWindow
from duskline.core.farm import Away, Farm, StatedWindow
from duskline.core.season import Effort
from duskline.exchange.farmfolder import read_farm
from duskline.exchange.season_files import ahead, kept_plan
from duskline.words import season as words

RYE = read_farm(EXAMPLES / "rye-after-soybeans")
FORTY = read_farm(EXAMPLES / "forty-fields")
DEADLINE = date(2026, 10, 21)
FEW = 300
QUICK = Effort(rounds=8_000, price_rounds=20, nodes=0, branches=0)
SOME = Effort(rounds=6_000, price_rounds=4, nodes=0, branches=0)
PLAIN = SeasonQuestion(at_average=True, weathers_count=50, compare=False, effort=QUICK)


@functools.cache
def rye(*, average: bool) -> SeasonAnswer:
    """Return the rye farm's season, worked out once."""
    return season_answer(RYE, SeasonQuestion(at_average=average, weathers_count=FEW, effort=QUICK))


@functools.cache
def forty() -> SeasonAnswer:
    """Return the forty fields' season at average rates, worked out once."""
    return season_answer(FORTY, SeasonQuestion(at_average=True, weathers_count=FEW, effort=SOME))


def placed_m2(answer: SeasonAnswer) -> dict[str, float]:
    """Return what the days sow of each field."""
    placed: dict[str, float] = {}
    for day in answer.days:
        for crew in day.crews:
            for visit in crew.visits:
                placed[visit.field] = placed.get(visit.field, 0.0) + visit.area_m2
    return placed


def test_story_27_every_field_is_sown_by_the_deadline_at_average_rates() -> None:
    """Everything by close of 21 October, each field whole."""
    answer = rye(average=True)
    assert answer.fits
    assert answer.finish_on is not None
    assert answer.finish_on <= DEADLINE
    placed = placed_m2(answer)
    for field in RYE.fields:
        assert placed[field.name] == pytest.approx(field.record_area_m2, rel=1e-6)
    assert words.headline(answer, "us") == "Everything is sown by Wednesday, October 21"


def test_story_27_nothing_lies_bare_overnight_and_no_day_is_too_full() -> None:
    """No day holds more than can be covered in it."""
    answer = rye(average=True)
    worked = [(day, crew) for day in answer.days for crew in day.crews]
    assert len(worked) == 3
    for day, crew in worked:
        assert crew.area_m2 <= crew.capacity_m2 * (1.0 + 1e-9)
        assert crew.used_fraction <= 1.0 + 1e-9
        assert crew.stop_at <= crew.closes_at
        last = crew.visits[-1].covered_at
        assert last is not None, day.on
        assert last <= crew.closes_at


def test_story_27_fields_wait_for_the_combine_and_the_flood_plain_for_dry_ground() -> None:
    """No field before it is ready; A8 before the rain of the second day."""
    answer = rye(average=True)
    first = {
        visit.field: visit.from_at
        for day in reversed(answer.days)
        for crew in day.crews
        for visit in crew.visits
    }
    for field in RYE.fields:
        if field.ready_at is not None:
            assert first[field.name] >= field.ready_at, field.name
    assert first["A8"].date() <= date(2026, 10, 19)


def test_story_27_without_the_second_machine_49_acres_are_late() -> None:
    """Three days of the first machine alone, no moves: 313.7 of 362.75 acres."""
    alone = rye(average=True).without_second_m2
    assert alone is not None
    assert alone / ACRE_M2 == pytest.approx(313.7, abs=0.2)
    total = math.fsum(field.area_m2 for field in RYE.fields)
    assert (total - alone) / ACRE_M2 == pytest.approx(49.0, abs=0.3)


def test_story_27_at_19_in_20_about_60_acres_do_not_fit_and_it_is_said() -> None:
    """What does not fit is the headline, and the list says what would make it fit."""
    answer = rye(average=False)
    assert answer.sure_fraction == 0.95
    missing = (answer.unplaced_m2 + answer.late_m2) / ACRE_M2
    # Without moves 305 acres of 363 fit; each move takes 4 acres.
    assert 55.0 < missing < 85.0
    assert not answer.fits
    assert "do not fit by Wednesday, October 21" in words.headline(answer, "us")
    helped = {one.key: one for one in answer.worth}
    assert helped[ChangeKey.DRIVER].unplaced_m2 == pytest.approx(0.0, abs=1.0)
    assert helped[ChangeKey.DRIVER].late_m2 == pytest.approx(0.0, abs=1.0)
    assert "everything fits" in words.worth_line(helped[ChangeKey.DRIVER], answer, "us")


def test_story_27_a_surer_night_fits_no_more() -> None:
    """From average rates to 19 in 20 ever less fits."""
    rows = rye(average=False).by_sureness
    missing = [row.unplaced_m2 + row.late_m2 for row in rows]
    assert [row.sure_fraction for row in rows] == [None, 0.5, 0.8, 0.95]
    assert missing == sorted(missing)


def test_story_25_the_forty_fields_take_until_day_5_or_6() -> None:
    """Day 1 holds 533 acres before moves."""
    answer = forty()
    assert answer.unplaced_m2 == pytest.approx(0.0, abs=1.0)
    assert answer.finish_on in (date(2026, 10, 19), date(2026, 10, 20))
    capacity = {
        day.on: math.fsum(crew.capacity_m2 for crew in day.crews) / ACRE_M2 for day in answer.days
    }
    assert capacity[date(2026, 10, 15)] == pytest.approx(533.0, rel=0.01)


def test_story_25_the_covering_of_four_days_is_less_than_the_ground() -> None:
    """62.75 ac/h over the windows less the lead: 533 + 533 + 188 + 0 before day 5, 1,630 in all."""
    answer = forty()
    before_day_5 = math.fsum(
        hours.average_m2
        for (on, _), hours in answer.planned.hours.items()
        if on < date(2026, 10, 19)
    )
    assert before_day_5 / ACRE_M2 == pytest.approx(533.0 + 533.0 + 188.0, rel=0.01)
    assert before_day_5 < answer.left_m2
    day_5 = math.fsum(
        hours.average_m2
        for (on, _), hours in answer.planned.hours.items()
        if on == date(2026, 10, 19)
    )
    assert before_day_5 + day_5 > answer.left_m2


def test_story_25_a_third_spreader_is_worth_nothing() -> None:
    """Covering limits every day at average rates, so more spreading adds not an acre."""
    answer = forty()
    hired = plan_season(with_spreader(FORTY), SeasonQuestion(at_average=True, weathers_count=5))
    for key, hours in answer.planned.hours.items():
        assert hired.hours[key].average_m2 == pytest.approx(hours.average_m2, rel=1e-6), key


def test_story_30_no_two_lots_share_a_load_without_a_clean_out() -> None:
    """Every change of lot is told as a clean-out, from day to day too."""
    answer = forty()
    lots: dict[str, str] = {}
    changes = 0
    for day in answer.days:
        for crew in day.crews:
            for visit in crew.visits:
                differs = lots.get(crew.crew, visit.lot) != visit.lot
                assert visit.clean_out == differs, (day.on, crew.crew, visit.field)
                changes += differs
                lots[crew.crew] = visit.lot
    assert changes > 0


def test_story_28_deleting_a_field_leaves_the_other_stops() -> None:
    """Four of five other stops keep day and crew."""
    answer = rye(average=True)
    before = ahead(kept_plan(answer, answer.days[0].crews[0].opens_at))
    fewer = replace(RYE, fields=tuple(f for f in RYE.fields if f.name != "A6"))
    after = season_answer(
        fewer,
        PLAIN,
        before=before,
    )
    assert kept_share(answer, after, gone="A6") >= 0.8
    assert any(one.field == "A6" and one.what == "gone" for one in after.changes)


def test_story_28_an_hour_of_rain_changes_only_what_must() -> None:
    """The last day an hour shorter."""
    answer = rye(average=True)
    before = ahead(kept_plan(answer, answer.days[0].crews[0].opens_at))
    wet = replace(
        RYE,
        windows=tuple(
            replace(w, spread=("10:30", "17:15"), cover=("10:30", "17:15"))
            if w.on == DEADLINE
            else w
            for w in RYE.windows
        ),
    )
    after = season_answer(
        wet,
        PLAIN,
        before=before,
    )
    assert kept_share(answer, after) >= 0.8
    assert any(one.why == "shorter day" for one in after.changes) or not after.changes


def kept_share(before: SeasonAnswer, after: SeasonAnswer, gone: str = "") -> float:
    """Return the share of the plan's stops that keep day and crew."""
    old = {
        (name, slot)
        for name, slots in before.schedule.stops().items()
        for slot in slots
        if name != gone
    }
    new = {(name, slot) for name, slots in after.schedule.stops().items() for slot in slots}
    return len(old & new) / len(old)


def test_story_28_the_same_folder_gives_the_same_plan_again() -> None:
    """Nothing changed, nothing moves."""
    answer = rye(average=True)
    before = ahead(kept_plan(answer, answer.days[0].crews[0].opens_at))
    again = season_answer(
        RYE,
        PLAIN,
        before=before,
    )
    assert again.changes == ()
    assert again.schedule.stops() == answer.schedule.stops()


def test_a_day_the_harvest_takes_the_big_tractor_has_no_work() -> None:
    """The spreader has no tractor then."""
    day = date(2026, 10, 18)
    away = Away(who="Big tractor", from_on=day, to_on=day, why="harvest")
    answer = season_answer(
        replace(RYE, away=(away,)),
        PLAIN,
    )
    first = answer.days[0]
    assert first.on == day
    assert first.basis is Basis.OFF
    assert not first.crews


def test_a_field_ready_after_the_plan_ends_is_left_with_its_reason() -> None:
    """It is not ready in time, and that is said."""
    late = RYE.fields[0].ready_at or RYE.fields[1].ready_at
    assert late is not None
    fields = tuple(
        replace(f, ready_at=late.replace(day=30), ready_early_at=None, ready_late_at=None)
        if f.name == "A9"
        else f
        for f in RYE.fields
    )
    answer = season_answer(
        replace(RYE, fields=fields),
        SeasonQuestion(
            at_average=True,
            weathers_count=50,
            compare=False,
            effort=QUICK,
            last_on=date(2026, 10, 24),
        ),
    )
    left = next(one for one in answer.fields if one.name == "A9")
    assert left.why_left is WhyLeft.NOT_READY
    assert left.unplaced_m2 == pytest.approx(left.left_m2)


def test_a_season_without_a_window_or_forecast_asks_for_one() -> None:
    """Nothing says when it begins."""
    bare: Farm = replace(RYE, windows=(), forecast=None, season=replace(RYE.season, first_on=None))
    with pytest.raises(NoWindow):
        season_answer(bare)


def test_a_stated_day_off_stands_in_the_days() -> None:
    """The farm's own word closes the third day."""
    window = StatedWindow(on=date(2026, 10, 20), closed="ground not fit")
    assert any(w.on == window.on and w.closed for w in RYE.windows)
    day = next(d for d in rye(average=True).days if d.on == window.on)
    assert day.basis is Basis.CLOSED
    assert "not fit" in day.because
