"""The live answer after events: the stories, what is learned, what is carried on, what moved it."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

import pytest
from made_days import FORTY, OATS, RYE, farm_of
from made_live import ACRE_M2, POUND_KG, at, begin, covered, rye_day_one, spread, story_22

from duskline.answers.day import DayQuestion, day_answer
from duskline.answers.live import (
    CauseKey,
    LiveAnswer,
    live_answer,
    plan_event,
    said_and_did,
)
from duskline.answers.live_leave import Trouble
from duskline.answers.season_task import left_m2
from duskline.answers.telling import settled
from duskline.core.errors import NoWindow
from duskline.core.farm import Edge, Farm
from duskline.core.log import Event, identified
from duskline.exchange.farmfolder import read_farm

EXAMPLES = Path(__file__).parents[2] / "examples"
DAYS = 1000


def live(
    events: Iterable[Event],
    now: datetime,
    *,
    farm: Farm | None = None,
    shrink: bool = True,
) -> LiveAnswer:
    """The live answer of the rye farm, or another, on few drawn days."""
    told = identified(events)
    return live_answer(farm or farm_of(RYE), now, events=told, shrink=shrink, replications=DAYS)


def minutes(one: datetime, other: datetime) -> float:
    """How much later one moment is than another."""
    return (one - other).total_seconds() / 60.0


def acres(area_m2: float) -> float:
    """An area in acres."""
    return area_m2 / ACRE_M2


@cache
def slow() -> LiveAnswer:
    """Story 22, with what was shown weighed with the plan."""
    return live(story_22(), at(13))


# --------------------------------------------------------------------------- the stories


def test_story_22_as_it_was_shown() -> None:
    """At 13:00 with 39.0 ac covered instead of 48.4: 14:54 and 149 ac at average rates."""
    found = live(story_22(), at(13), shrink=False)
    assert found.day is not None
    assert abs(minutes(found.day.average.stop_at, at(14, 54))) <= 5
    assert acres(found.day.average.spread_area_m2) == pytest.approx(149, rel=0.01)
    cause = found.causes[0]
    assert cause.key is CauseKey.COVERING
    assert cause.earlier_s > 1200.0
    assert (cause.now_value or 0.0) * 3600 / ACRE_M2 == pytest.approx(12.3, abs=0.05)
    assert (cause.planned_value or 0.0) * 3600 / ACRE_M2 == pytest.approx(15.3, abs=0.05)
    assert found.paces is None


def test_the_learned_stop_lies_between_plan_and_shown() -> None:
    """Plan and log weighed: later than what was shown alone, earlier than the plan's rates."""
    shown = live(story_22(), at(13), shrink=False).day
    plan = live(story_22(covered_acres=48.4), at(13)).day
    learned = slow().day
    assert shown is not None
    assert plan is not None
    assert learned is not None
    assert shown.average.stop_at < learned.average.stop_at < plan.average.stop_at
    machine = slow().machine("Cultivator 1")
    assert machine is not None
    assert machine.pace is not None
    assert 12.4 < machine.pace.rate_m2_per_s * 3600 / ACRE_M2 < 15.0


def test_hours_bring_the_learned_stop_to_what_is_shown() -> None:
    """The same slow covering for one hour, two, and four: each time nearer to the shown pace."""
    apart = []
    for hours in (1, 2, 4):
        now = at(9, 50) + timedelta(hours=hours)
        refill = 1 / 3 if hours == 4 else 0.0
        told = (spread(31.03 * (hours + 1 / 3 - refill), now), covered(12.3 * hours, now))
        machine = live(told, now).machine("Cultivator 1")
        assert machine is not None
        assert machine.shown_m2_per_s is not None
        assert machine.shown_m2_per_s * 3600 / ACRE_M2 == pytest.approx(12.3, rel=0.01)
        assert machine.rate_m2_per_s > machine.shown_m2_per_s
        apart.append(machine.rate_m2_per_s - machine.shown_m2_per_s)
    assert apart == sorted(apart, reverse=True)
    assert apart[-1] < 0.6 * apart[0]


def test_one_load_does_not_make_the_stop_jump() -> None:
    """Ten minutes after covering began, half of what it should be: the stop moves little."""
    told = (begin("Spreader", at(9, 30)), begin("Cultivator 1", at(9, 50)), spread(15.0, at(10)))
    on_plan = live((*told, covered(2.55, at(10))), at(10)).day
    half = live((*told, covered(1.3, at(10))), at(10)).day
    assert on_plan is not None
    assert half is not None
    assert 0.0 <= minutes(on_plan.stop_at, half.stop_at) < 12.0


def test_a_slow_first_machine_makes_the_second_a_bit_slow_too() -> None:
    """They share the ground: machine 2 is reckoned slower than planned before it has begun."""
    second = slow().machine("Cultivator 2")
    first = slow().machine("Cultivator 1")
    assert first is not None
    assert second is not None
    assert second.pace is not None
    assert first.pace is not None
    assert first.pace.factor < second.pace.factor < 1.0
    assert slow().now.day_factor < 1.0


def test_story_23_a_rain_call_moves_the_stop_and_taking_it_back_does_not() -> None:
    """On plan at 13:00, rain at 16:30: 14:14 and 131 ac at average rates; undone, as before."""
    on_plan = story_22(covered_acres=48.4)
    call = replace(Event(at=at(16, 30), what="rain", clock_at=at(13)), id="rain-1")
    rainy = live((*on_plan, call), at(13), shrink=False)
    assert rainy.day is not None
    assert rainy.rain_at == at(16, 30)
    assert abs(minutes(rainy.day.average.stop_at, at(14, 14))) <= 5
    assert acres(rainy.day.average.spread_area_m2) == pytest.approx(131, rel=0.01)
    assert rainy.causes[0].key is CauseKey.RAIN
    undo = Event(at=at(13), what="undo", refers="rain-1")
    dry = live((*on_plan, call, undo), at(13), shrink=False)
    before = live(on_plan, at(13), shrink=False)
    assert dry.rain_at is None
    assert dry.day == before.day


def test_the_last_rain_call_counts_and_one_that_work_outlived_is_past() -> None:
    """16:30 called first, 17:00 after it: 17:00. Covering told after a called rain: none came."""
    on_plan = story_22(covered_acres=48.4)
    first = Event(at=at(16, 30), what="rain", clock_at=at(12))
    second = Event(at=at(17), what="rain", clock_at=at(12, 30))
    assert live((*on_plan, second, first), at(13)).rain_at == at(17)
    past = Event(at=at(12, 30), what="rain", clock_at=at(11))
    assert live((*on_plan, past), at(13)).rain_at is None


def test_story_25_a_breakdown_of_known_length_stops_both_spreaders_earlier() -> None:
    """Scenario C day 2 in events: machine 3 down from 13:10 for three hours; 15:18 for 15:59.

    By hand at 13:10: 76.4 x 4.17 h spread by two spreaders, 62.75 x 3.67 h covered by three
    machines; shown rates are the planned ones.
    """
    farm = farm_of(FORTY)
    moment = datetime(2026, 10, 16, 13, 10, tzinfo=ZoneInfo(farm.time_zone))
    then = moment + timedelta(seconds=1)
    names = [one.name for one in farm.fields]
    told = [
        Event(at=moment, what="spread", machine=s.name, field=names[i], area_m2=159.17 * ACRE_M2)
        for i, s in enumerate(farm.spreaders)
    ]
    rates = {"Cultivator 1": 25.37, "Cultivator 2": 19.99, "Cultivator 3": 17.38}
    told += [
        Event(
            at=moment, what="covered", machine=name, field=names[i % 2],
            area_m2=rate * 3.667 * ACRE_M2,
        )
        for i, (name, rate) in enumerate(rates.items())
    ]  # fmt: skip
    down = Event(at=then, what="down", machine="Cultivator 3", took_s=3 * 3600.0)
    whole, broken = live(told, then, farm=farm), live((*told, down), then, farm=farm)
    assert whole.day is not None
    assert broken.day is not None
    assert acres(whole.told_open_m2) == pytest.approx(88, abs=1)
    lost = minutes(whole.day.average.stop_at, broken.day.average.stop_at)
    assert lost == pytest.approx(41, abs=5)
    assert CauseKey.HALT in {cause.key for cause in broken.causes}
    assert broken.standing == ()


# --------------------------------------------------------------------------- machines that stand


def test_a_machine_that_stands_is_expected_back_after_a_usual_repair() -> None:
    """Open-ended: named, reckoned with the mean repair from now on, and it costs minutes."""
    on_plan = story_22(covered_acres=48.4)
    when = at(13) + timedelta(seconds=1)
    down = Event(at=when, what="down", machine="Cultivator 1", field="A1")
    stands = live((*on_plan, down), when)
    runs = live(on_plan, when)
    assert stands.day is not None
    assert runs.day is not None
    repair_s = farm_of(RYE).figures["day.repair"].value
    assert stands.standing == (("Cultivator 1", when + timedelta(seconds=repair_s)),)
    assert stands.day.stop_at < runs.day.stop_at
    halt = next(cause for cause in stands.causes if cause.key is CauseKey.HALT)
    assert halt.machines == ("Cultivator 1",)
    assert halt.earlier_s / 60.0 == pytest.approx(
        minutes(runs.day.stop_at, stands.day.stop_at), abs=6
    )
    up = live((*on_plan, down, Event(at=at(13, 1), what="up", machine="Cultivator 1")), at(13, 1))
    assert up.standing == ()


def test_time_that_a_machine_stood_does_not_make_it_slow() -> None:
    """An hour down, then the same work: the pace shown is that of the hours it ran."""
    down = Event(at=at(11), what="down", machine="Cultivator 1", took_s=3600.0)
    told = (spread(79.0, at(13)), covered(15.3 * 2.1667, at(13)))
    stood = live((*told, down), at(13)).machine("Cultivator 1")
    assert stood is not None
    assert stood.shown_m2_per_s is not None
    assert stood.shown_m2_per_s * 3600 / ACRE_M2 == pytest.approx(15.3, rel=0.01)
    assert stood.stood_s == 3600.0


def test_a_breakdown_never_told_as_mended_does_not_last_till_the_next_day() -> None:
    """Down on the 17th, nothing since: on the 18th it is not taken to stand."""
    down = Event(at=at(15, day=17), what="down", machine="Cultivator 1")
    assert live((down, *story_22(covered_acres=48.4)), at(13)).standing == ()


# --------------------------------------------------------------------------- carried on


def test_work_goes_on_after_the_last_telling_and_both_figures_are_kept() -> None:
    """Told at 12:00, asked at 12:30: half an hour of both machines' pace is added."""
    told = (spread(60.0, at(12)), covered(30.0, at(12)))
    then, later = live(told, at(12)), live(told, at(12, 30))
    assert later.told_open_m2 == then.told_open_m2 == then.open_m2
    spreader, cover = later.machine("Spreader"), later.machine("Cultivator 1")
    assert spreader is not None
    assert cover is not None
    assert spreader.carried_m2 == pytest.approx(spreader.rate_m2_per_s * 1800.0)
    assert cover.carried_m2 == pytest.approx(cover.rate_m2_per_s * 1800.0)
    assert later.open_m2 == pytest.approx(
        later.told_open_m2 + spreader.carried_m2 - cover.carried_m2
    )
    assert later.day is not None
    assert later.day.spread_before_m2 == pytest.approx(later.now.spread_m2)


def test_a_spreader_that_ran_empty_refills_before_it_goes_on() -> None:
    """Empty at 12:00, 20 minutes to refill, asked at 12:30: ten minutes of spreading."""
    load = Event(at=at(12), what="load", machine="Spreader", field="A1", area_m2=70.0 * ACRE_M2)
    found = live((load, begin("Cultivator 1", at(9, 50))), at(12, 30)).machine("Spreader")
    assert found is not None
    assert found.carried_m2 == pytest.approx(
        min(found.rate_m2_per_s * 600.0, 9.07 * ACRE_M2), rel=1e-3
    )
    refilling = live((load,), at(12, 15)).machine("Spreader")
    assert refilling is not None
    assert refilling.carried_m2 == 0.0
    assert refilling.refill_left_s == pytest.approx(300.0)


def test_nothing_is_carried_on_for_ever() -> None:
    """A machine not heard of for five hours is taken to have worked two of them at most."""
    told = (begin("Spreader", at(9, 30)), begin("Cultivator 1", at(9, 50)))
    found = live(told, at(15)).machine("Spreader")
    most_s = farm_of(RYE).defaults["carry_on_most"].value
    assert found is not None
    assert found.carried_s == most_s
    assert found.carried_m2 <= found.rate_m2_per_s * most_s + 1.0


def test_covering_is_never_carried_beyond_what_is_spread() -> None:
    """Ten acres spread and a spreader that stopped: two hours of covering do ten acres."""
    stop = Event(at=at(11), what="stop", machine="Spreader")
    told = (spread(10.0, at(10, 59)), covered(1.0, at(11)), stop)
    found = live(told, at(13))
    assert found.open_m2 == pytest.approx(0.0, abs=1.0)
    assert acres(found.now.covered_m2) == pytest.approx(10.0, abs=0.01)
    assert acres(found.told_open_m2) == pytest.approx(9.0)


def test_covering_told_before_spreading_is_not_counted_on_twice() -> None:
    """Seven acres covered and none told spread: the spreader's own hour has them in it."""
    told = (
        begin("Spreader", at(9, 30)),
        begin("Cultivator 1", at(9, 50)),
        covered(6.8, at(10, 20)),
    )
    found = live(told, at(10, 30))
    spreader = found.machine("Spreader")
    assert spreader is not None
    assert found.now.spread_m2 == pytest.approx(spreader.rate_m2_per_s * 3600.0, rel=1e-6)


def test_a_telling_without_its_machine_is_the_only_ones() -> None:
    """One spreader on the farm: an area told as spread is its; two cultivators: nobody's."""
    told = [replace(event, machine="", id="") for event in story_22()]
    found = live(told, at(13))
    spreader, cover = found.machine("Spreader"), found.machine("Cultivator 1")
    assert spreader is not None
    assert cover is not None
    assert acres(spreader.told_m2) == pytest.approx(96.7)
    assert cover.told_m2 == 0.0
    assert acres(found.now.covered_m2) == pytest.approx(39.0)


def test_a_load_that_reached_beyond_its_field_is_counted_open_and_used() -> None:
    """A load of 84 ac told in A9, which has 12.3: 84 spread, seed gone, 84 fewer left to sow."""
    load = Event(
        at=at(12, 30), what="load", machine="Spreader", field="A9", mass_kg=6000 * POUND_KG
    )
    found = live((load,), at(12, 30))
    assert acres(found.told_open_m2) == pytest.approx(84.0, abs=0.1)
    assert found.seed[0].used_kg / POUND_KG == pytest.approx(6000.0, abs=1.0)
    assert found.day is not None
    left = sum(task.area_m2 for task in found.day.task.fields)
    later = sum(area for name, area in found.day.left_after_today if name in found.day.not_ready)
    whole = sum(one.area_m2 for one in farm_of(RYE).fields)
    assert acres(whole - left - later) == pytest.approx(84.0, abs=0.5)
    spreader = found.machine("Spreader")
    assert spreader is not None
    assert acres(spreader.told_m2) == pytest.approx(84.0, abs=0.1)


def test_covering_that_says_where_a_load_went_is_no_work_of_the_spreader() -> None:
    """The same load, then 20 ac covered in A1: the load lay there; the spreader told no more."""
    load = Event(
        at=at(12, 30), what="load", machine="Spreader", field="A9", mass_kg=6000 * POUND_KG
    )
    found = live((load, covered(20.0, at(13))), at(13))
    spreader = found.machine("Spreader")
    assert spreader is not None
    assert acres(spreader.told_m2) == pytest.approx(84.0, abs=0.1)
    assert spreader.heard_at == at(12, 30)
    assert acres(found.told_open_m2) == pytest.approx(64.0, abs=0.1)


def test_a_machine_not_heard_of_is_named() -> None:
    """Spreading told for hours, the covering machine not once: named, and nothing counted."""
    found = live((spread(60.0, at(12)),), at(12))
    assert found.not_heard == ("Cultivator 1",)
    assert found.now.covered_m2 == 0.0
    assert live((), at(9, 45)).not_heard == ()


# --------------------------------------------------------------------------- other days and ends


def test_ground_open_since_yesterday_brings_the_stop_forward() -> None:
    """Twenty acres spread on the 17th and not covered: earlier, and named as the cause."""
    yesterday = spread(20.0, at(16, day=17), "A9")
    told = story_22(covered_acres=48.4)
    with_open, without = live((yesterday, *told), at(13)), live(told, at(13))
    assert with_open.day is not None
    assert without.day is not None
    assert acres(with_open.told_open_m2 - without.told_open_m2) == pytest.approx(20.0)
    assert with_open.day.stop_at < without.day.stop_at - timedelta(minutes=15)
    cause = next(c for c in with_open.causes if c.key is CauseKey.OPEN_BEFORE)
    assert acres(cause.now_value or 0.0) == pytest.approx(20.0)
    assert acres(with_open.end.did_area_m2) == pytest.approx(96.7)


def test_a_stopped_spreader_puts_its_driver_on_the_second_machine() -> None:
    """Stopped at 13:00: nothing more is spread, machine 2 covers from 13:25, all is done by 17:00.

    By hand: 57.7 ac open at 13:00; 15.3 ac/h and from 13:25 15.58 more: 57.7 = 15.3 t + 15.58
    (t - 0.42), t = 2.08 h: 15:05.
    """
    told = (*story_22(covered_acres=39.0), Event(at=at(13), what="stop", machine="Spreader"))
    found = live(told, at(13), shrink=False)
    assert found.day is not None
    assert found.stopped
    assert {cover.name for cover in found.day.task.covers} == {"Cultivator 1", "Cultivator 2"}
    assert found.day.task.takeovers == ()
    assert found.day.spread_area_m2 == pytest.approx(96.7 * ACRE_M2, rel=1e-6)
    by_hand = (57.7 + 15.58 * 25 / 60) / (12.316 + 15.58)
    assert minutes(found.day.average.done_at, at(13)) / 60.0 == pytest.approx(by_hand, abs=0.03)
    assert found.day.chance_fraction > 0.99
    again = live((*told, begin("Spreader", at(13, 5), "A4")), at(13, 5))
    assert not again.stopped


def test_the_day_is_answered_when_all_is_spread() -> None:
    """Every field told as spread whole: no field is left, and covering is planned still."""
    farm = farm_of(RYE)
    told = [
        Event(at=at(12), what="spread", machine="Spreader", field=one.name, whole=True)
        for one in farm.fields
    ]
    found = live(told, at(12))
    assert found.day is not None
    assert found.open_m2 == pytest.approx(sum(one.area_m2 for one in farm.fields))
    assert found.day.spread_area_m2 == pytest.approx(found.open_m2, rel=1e-6)


def test_after_the_close_there_is_nothing_to_plan_and_what_lies_open_is_said() -> None:
    """At 19:00: no day, the open ground as told, and which to be covered first."""
    found = live((spread(40.0, at(16)), covered(30.0, at(17, 30))), at(19))
    assert found.day is None
    assert found.day_over
    assert acres(found.told_open_m2) == pytest.approx(10.0)
    with pytest.raises(NoWindow):
        plan_event(found)


def test_a_closed_day_still_shows_what_lies_open() -> None:
    """On the 20th the ground is not fit: no plan, its reason, and what is open since the 19th."""
    found = live((spread(5.0, at(14, day=19)),), at(10, day=20))
    assert found.day is None
    assert not found.day_over
    assert "not fit" in found.closed
    assert acres(found.told_open_m2) == pytest.approx(5.0)


def test_events_in_any_order_and_twice_give_the_same_answer() -> None:
    """The log is a heap: shuffled and with copies, the answer is the same to the last figure."""
    told = [event for event in rye_day_one() if event.at <= at(13)]
    mixed = [*told, *told[::3]]
    Random(7).shuffle(mixed)  # noqa: S311
    assert live(mixed, at(13)) == live(told, at(13))


def test_a_log_of_earlier_days_sets_the_plan_and_todays_moves_it() -> None:
    """Yesterday's telling with its time is the plan's rate; today's does not replace it."""
    yesterday = replace(covered(24.0, at(16, day=17)), took_s=2 * 3600.0)
    told = (spread(24.0, at(14, day=17)), yesterday)
    today = replace(covered(1.0, at(10, 20)), took_s=1200.0)
    found = live((*told, spread(25.8, at(10, 20)), today), at(10, 20)).machine("Cultivator 1")
    assert found is not None
    assert found.planned_m2_per_s * 3600 / ACRE_M2 == pytest.approx(12.0)
    assert 3.0 < found.rate_m2_per_s * 3600 / ACRE_M2 < 12.0
    assert found.rate_m2_per_s > 0.85 * found.planned_m2_per_s


# --------------------------------------------------------------------------- was and now


def test_the_published_plan_is_what_it_was() -> None:
    """The last one published counts as was, the first as the morning's word."""
    plans = (
        Event(at=at(9), what="plan", stop_at=at(15, 29), area_m2=165 * ACRE_M2),
        Event(at=at(11), what="plan", stop_at=at(15, 10), area_m2=158 * ACRE_M2),
    )
    found = live((*plans, *story_22()), at(13))
    assert found.first is not None
    assert found.was is not None
    assert (found.first.stop_at, found.was.stop_at) == (at(15, 29), at(15, 10))
    assert found.kept_chance_fraction is not None
    assert found.day is not None
    assert found.kept_chance_fraction < found.day.chance_fraction


def test_without_a_published_plan_the_mornings_is_worked_out() -> None:
    """It is the plan of that date before anything happened."""
    first = live((), at(7)).was
    later = slow().was
    assert first is not None
    assert later is not None
    assert first == later
    assert first.published_at is None
    morning = live((), at(7)).day
    assert morning is not None
    assert abs(minutes(first.stop_at, morning.stop_at)) < 3.0


def test_an_answer_published_is_the_next_ones_was() -> None:
    """The event carries stop, area and chance, and comes back as what it was."""
    event = plan_event(slow(), person="Owner")
    later = live((*story_22(), event), at(13, 5))
    assert slow().day is not None
    assert later.was is not None
    assert later.was.stop_at == slow().day.stop_at  # type: ignore[union-attr]
    assert later.was.chance_fraction == slow().day.chance_fraction  # type: ignore[union-attr]
    assert event.person == "Owner"


def test_a_late_start_is_named() -> None:
    """Both began an hour late by their own word: that alone costs minutes of the stop."""
    told = (
        begin("Spreader", at(10, 30)),
        begin("Cultivator 1", at(10, 50)),
        spread(20.0, at(11, 10)),
        covered(5.1, at(11, 10)),
    )
    found = live(told, at(11, 10))
    late = next(cause for cause in found.causes if cause.key is CauseKey.LATE_START)
    assert late.now_value == pytest.approx(3600.0)
    assert set(late.machines) == {"Spreader", "Cultivator 1"}


def test_going_as_planned_moves_nothing_much() -> None:
    """All on plan at 13:00: no cause above ten minutes, and the stop within ten of the morning."""
    found = live(story_22(covered_acres=48.4), at(13))
    assert found.was is not None
    assert found.day is not None
    assert all(abs(cause.earlier_s) < 600.0 for cause in found.causes)
    assert abs(minutes(found.was.stop_at, found.day.stop_at)) < 15.0


def test_the_chance_tells_its_own_sampling_error() -> None:
    """At 19 in 20 of 1,000 days: sqrt(0.95 x 0.05 / 1000), 0.7 points."""
    found = slow()
    assert found.replications == DAYS
    assert found.chance_sd_fraction == pytest.approx((0.95 * 0.05 / DAYS) ** 0.5, rel=0.05)


# --------------------------------------------------------------------------- seed and loads


def test_story_11_a_load_that_ran_empty_early() -> None:
    """6,000 lb did 76 ac, plan 84: 10.5 % heavy, gate 0.905; 286.9 ac put right, 259.7 if not."""
    load = Event(
        at=at(12, 30), what="load", machine="Spreader", field="A1",
        mass_kg=6000 * POUND_KG, area_m2=76.0 * ACRE_M2,
    )  # fmt: skip
    found = live((load,), at(12, 30))
    check = found.loads[0]
    assert acres(check.planned_area_m2) == pytest.approx(84.0, abs=0.05)
    assert check.found.heavy_fraction == pytest.approx(0.105, abs=0.0005)
    assert check.found.gate_factor == pytest.approx(0.905, abs=0.0005)
    assert check.found.beyond_reading
    seed = found.seed[0]
    assert seed.used_kg / POUND_KG == pytest.approx(6000.0, abs=1.0)
    assert acres(seed.left.corrected_area_m2) == pytest.approx(286.9, abs=0.1)
    assert acres(seed.left.uncorrected_area_m2) == pytest.approx(259.7, abs=0.1)


def test_seed_that_does_not_reach_names_the_field() -> None:
    """At 10.5 % over, 20,501 lb do 259.7 of 286.7 acres: 27 short, in the last field."""
    load = Event(
        at=at(12, 30), what="load", machine="Spreader", field="A1",
        mass_kg=6000 * POUND_KG, area_m2=76.0 * ACRE_M2,
    )  # fmt: skip
    seed = live((load,), at(12, 30)).seed[0]
    assert not seed.enough
    assert acres(seed.short_m2) == pytest.approx(362.75 - 76.0 - 259.7, abs=0.2)
    assert seed.runs_out_in in {one.name for one in farm_of(RYE).fields}
    assert seed.runs_out_at is None


def test_seed_that_runs_out_today_says_about_when() -> None:
    """A bin of 1.5 ft: the day's own fields are more than it sows."""
    farm = farm_of(RYE)
    small = replace(farm, bins=tuple(replace(one, depth_m=0.40) for one in farm.bins))
    found = live(story_22(covered_acres=48.4), at(13), farm=small)
    seed = found.seed[0]
    assert found.day is not None
    assert seed.runs_out_in in {row.name for row in found.day.fields}
    assert seed.runs_out_at is None or at(13) < seed.runs_out_at <= found.day.stop_at + timedelta(
        minutes=30
    )


def test_all_loads_together_are_weighed_less_unsurely_than_one() -> None:
    """Two loads 5 % heavy: each within what scales and acres can be out, both together less so."""

    def load(hour: int, minute: int, area: float) -> Event:
        return Event(
            at=at(hour, minute), what="load", machine="Spreader", field="A1",
            mass_kg=6000 * POUND_KG, area_m2=area * ACRE_M2,
        )  # fmt: skip

    found = live((load(12, 15, 79.0), load(15, 0, 81.0)), at(15)).loads
    assert [one.number for one in found] == [1, 2]
    assert found[1].together.heavy_fraction == pytest.approx(2 * 83.96 / 160.0 - 1.0, abs=0.001)
    first, both = found[0].found.reading_fraction, found[1].together.reading_fraction
    assert first is not None
    assert both is not None
    assert both == pytest.approx(first / 2**0.5)


def test_a_load_without_an_area_checks_nothing() -> None:
    """Its area would come from the planned rate, which it is to check."""
    load = Event(at=at(12), what="load", machine="Spreader", field="A1", mass_kg=6000 * POUND_KG)
    found = live((load,), at(12))
    assert found.loads == ()
    assert found.seed[0].laid_over_planned == 1.0


# --------------------------------------------------------------------------- hopeless


def hopeless_farm(tmp_path: Path) -> Farm:
    """Story 26: 12 + 12 ac/h and half an hour to hitch."""
    folder = tmp_path / "farm"
    shutil.copytree(EXAMPLES / RYE, folder)
    text = (folder / "farm.toml").read_text(encoding="utf-8")
    for old, new in (
        ('width = "30 ft"\noverlap_share = "10 %"', 'width = "20 ft"\noverlap = "0 ft"'),
        ('width = "28 ft"\noverlap = "0.5 ft"', 'width = "20 ft"\noverlap = "0 ft"'),
        ('speed = "5.5 mph"\nefficiency = "85 %"', 'speed = "4.95 mph"\nefficiency = "100 %"'),
        ('changeover = "25 min"', 'changeover = "30 min"'),
    ):
        assert old in text
        text = text.replace(old, new)
    (folder / "farm.toml").write_text(text, encoding="utf-8")
    return read_farm(folder)


def test_story_26_hopeless_says_how_much_and_which_ground_to_leave(tmp_path: Path) -> None:
    """40 ac spread, 10 covered, 75 min left: about 6 ac stay bare, and level ground is left first.

    By hand: 10 + 12 x 1.25 + 12 x 0.75 = 34 covered of 40. Open: 10 ac in A1 (level, nothing
    beside it), 12 in A2 (creek), 8 in A8 (not after rain).
    """
    farm = hopeless_farm(tmp_path)
    fields = tuple(
        replace(one, slope_fraction=0.005) if one.name == "A1" else one for one in farm.fields
    )
    told = (
        spread(20.0, at(15)),
        spread(12.0, at(16), "A2"),
        spread(8.0, at(17), "A8"),
        covered(10.0, at(17)),
    )
    found = live_answer(
        replace(farm, fields=fields),
        at(17),
        events=identified(
            (*told, begin("Cultivator 1", at(16, 10)), Event(at=at(17), what="stop"))
        ),
        shrink=False,
        replications=DAYS,
    )
    assert found.day is not None
    assert acres(found.day.bare_if_hopeless_m2) == pytest.approx(6.0, abs=0.1)
    assert [one.field for one in found.leave] == ["A1", "A8", "A2"]
    assert acres(found.leave[0].leave_m2) == pytest.approx(6.0, abs=0.1)
    assert found.leave[0].troubles == ()
    assert found.leave[0].slope_known
    assert found.leave[1].troubles == (Trouble.NOT_AFTER_RAIN,)
    assert found.leave[2].troubles == (Trouble.WATER,)
    assert found.leave[2].leave_m2 == 0.0


def test_ground_that_slopes_washes_or_lies_by_a_ditch_is_left_last() -> None:
    """One trouble a field: the order is level, neighbors, after rain, washes, slopes, ditch."""
    farm = farm_of(RYE)
    change = {
        "A1": {"slope_fraction": 0.06},
        "A3": {"erodible": True},
        "A4": {"edges": (Edge(side="north", kind="ditch"),)},
        "A5": {"edges": (Edge(side="north", kind="road"),)},
        "A8": {"not_after_rain": True},
        "A7": {},
    }
    fields = tuple(
        replace(one, **change[one.name])  # type: ignore[arg-type]
        for one in farm.fields
        if one.name in change
    )
    told = [spread(5.0, at(16), name) for name in change]
    found = live(told, at(19), farm=replace(farm, fields=fields))
    assert [one.field for one in found.leave] == ["A7", "A5", "A8", "A3", "A1", "A4"]


# --------------------------------------------------------------------------- said and did


def test_the_day_ends_with_what_was_said_and_done() -> None:
    """Said 14:50 and 137.5 ac; stopped 14:41 with 137.8; the last telling of covering 17:39."""
    farm = farm_of(RYE)
    end = said_and_did(settled(farm, rye_day_one()), start_at=at(0), now_at=at(20))
    assert end.said_stop_at == at(14, 50)
    assert end.did_stop_at == at(14, 41)
    assert acres(end.said_area_m2 or 0.0) == pytest.approx(137.5)
    assert acres(end.did_area_m2) == pytest.approx(137.8, abs=0.1)
    assert end.covered_by == at(17, 39)


def test_a_metric_farm_in_another_zone_is_answered_too() -> None:
    """The New Zealand farm on its first day, told in its own zone."""
    farm = farm_of(OATS)
    now = datetime(2026, 3, 1, 11, 0, tzinfo=ZoneInfo(farm.time_zone))
    spreader, cover = farm.spreaders[0].name, farm.cultivators[0].name
    field = farm.fields[0].name
    told = (
        Event(at=now, what="spread", machine=spreader, field=field, area_m2=12e4),
        Event(at=now, what="covered", machine=cover, field=field, area_m2=8e4),
    )
    found = live(told, now, farm=farm)
    assert found.day is not None
    assert found.told_open_m2 == pytest.approx(4e4)
    assert found.now_at.utcoffset() == now.utcoffset()
    assert found.day.stop_at >= now


# --------------------------------------------------------------------------- mended


def utc(events: Iterable[Event]) -> tuple[Event, ...]:
    """The events as a store gives them back: their moments in UTC."""
    return tuple(replace(one, at=one.at.astimezone(UTC)) for one in identified(events))


def test_moments_kept_in_utc_come_back_in_the_farms_zone() -> None:
    """Rain, halts, a machine back and one not heard of: all on the farm's own clock."""
    told = utc(
        (
            *story_22(covered_acres=48.4),
            Event(at=at(16, 30), what="rain", clock_at=at(13)),
            Event(at=at(13), what="down", machine="Cultivator 1", took_s=1800.0),
            Event(at=at(14, 50), what="down", machine="Spreader"),
        )
    )
    found = live(told, at(15))
    zone = at(13).utcoffset()
    assert found.rain_at is not None
    assert found.rain_at.utcoffset() == zone
    assert {halt.from_at.utcoffset() for halt in found.halts} == {zone}
    assert [moment.utcoffset() for _, moment in found.standing] == [zone]
    assert [moment.utcoffset() for _, moment in found.quiet] == [zone]


def test_the_stop_before_the_newest_telling_is_worked_out() -> None:
    """The breakdown is the newest: without it the stop is that of the same log without it."""
    told = identified(story_22(covered_acres=44.0))
    down = Event(at=at(13, 1), what="down", machine="Cultivator 1", id="down-0001")
    note = Event(at=at(13, 2), what="note", note="dust", id="note-0001")
    farm = farm_of(RYE)
    with_it = live_answer(
        farm, at(13, 2), events=(*told, down, note), replications=DAYS, tap_too=True
    )
    without = live(told, at(13, 2))
    assert with_it.tap is not None
    assert with_it.day is not None
    assert without.day is not None
    assert with_it.tap.event.id == "down-0001"
    assert with_it.tap.was_stop_at == without.day.stop_at
    assert with_it.day.stop_at < without.day.stop_at - timedelta(minutes=5)
    assert without.tap is None


def test_a_pace_and_its_minutes_never_pull_apart() -> None:
    """Covering a hair above its plan, reckoned a hair below: no cause that contradicts itself."""
    seen = 0
    for acres_covered in range(30, 60, 3):
        found = live(story_22(covered_acres=float(acres_covered)), at(13))
        for cause in found.causes:
            if cause.key is not CauseKey.COVERING:
                continue
            seen += 1
            assert cause.now_value is not None
            assert cause.planned_value is not None
            assert cause.reckoned_value is not None
            slow = cause.now_value < cause.planned_value
            assert slow == (cause.earlier_s > 0.0)
            assert slow == (cause.reckoned_value < cause.planned_value)
    assert seen >= 6


def test_after_the_stop_nothing_stays_open_that_the_crew_had_the_time_for() -> None:
    """Spread till 14:40 and stopped at 14:50 untold; by 18:00 all of it is reckoned worked in.

    The ten minutes' seed is too fresh to be worked in at 14:52, not hours later.
    """
    told = (
        begin("Spreader", at(9, 30)),
        begin("Cultivator 1", at(9, 52)),
        spread(60.0, at(14, 40)),
        Event(at=at(14, 50), what="stop", machine="Spreader"),
    )
    soon = (*told, covered(60.0, at(14, 40)))
    found = live(soon, at(14, 52))
    spreader = found.machine("Spreader")
    assert spreader is not None
    assert spreader.carried_m2 == pytest.approx(600.0 * spreader.rate_m2_per_s)
    assert found.open_m2 > 0.5 * spreader.carried_m2
    later = (*told, covered(58.0, at(16)))
    assert live(later, at(17)).open_m2 == pytest.approx(0.0, abs=1.0)


def test_a_wet_hole_told_after_spreading_is_lost_seed_and_not_open_ground() -> None:
    """All of A9 (12.3 ac) spread, 0.4 ac left out, the rest worked in: nothing lies open."""
    told = (
        Event(at=at(12), what="spread", machine="Spreader", field="A9", whole=True),
        Event(at=at(12, 30), what="wet", field="A9", area_m2=0.4 * ACRE_M2),
        Event(at=at(13, 30), what="covered", machine="Cultivator 1", field="A9", whole=True),
    )
    found = live(told, at(13, 30))
    assert found.told_open_m2 == pytest.approx(0.0, abs=1.0)
    assert acres(found.seed_lost_m2) == pytest.approx(0.4)
    assert live(told[:1], at(13, 30)).seed_lost_m2 == 0.0
    dry = live((told[0], told[2]), at(13, 30))
    assert found.seed[0].used_kg == pytest.approx(dry.seed[0].used_kg, rel=1e-3)


def test_ground_whose_seed_was_lost_is_not_planned_again_the_next_day() -> None:
    """A hole of 3 ac left out of A9 after all of it was spread: A9 has nothing left to sow."""
    farm = farm_of(RYE)
    told = identified(
        (
            Event(at=at(12), what="spread", machine="Spreader", field="A9", whole=True),
            Event(at=at(12, 30), what="wet", field="A9", area_m2=3.0 * ACRE_M2),
        )
    )
    after = replace(farm, log=settled(farm, told).events)
    assert left_m2(after, at(9, day=19).date())["A9"] == 0.0
    planned = day_answer(after, DayQuestion(on=at(9, day=19).date(), replications=200))
    assert "A9" not in {task.name for task in planned.task.fields}
    assert {task.name for task in planned.task.fields} >= {"A1", "A4"}


def test_a_day_whose_spreading_is_done_shows_no_working_of_a_stop() -> None:
    """No changeover of nothing, no covering "after the stop": that step is gone."""
    stopped = live((*story_22(), Event(at=at(13), what="stop", machine="Spreader")), at(13)).day
    assert stopped is not None
    assert slow().day is not None
    titles = [[step.title for step in day.working] for day in (slow().day, stopped) if day]
    assert "Stop time at average rates, before moves" in titles[0]
    assert [t for t in titles[0] if not t.startswith("Stop time")] == titles[1]


def test_a_machine_quiet_for_an_hour_is_named_until_it_stands_or_is_done() -> None:
    """Both told at 11:00: not named at 11:50, named at 12:10; a stopped spreader is not."""
    told = (spread(30.0, at(11)), covered(10.0, at(11)))
    assert live(told, at(11, 50)).quiet == ()
    assert live(told, at(12, 10)).quiet == (("Spreader", at(11)), ("Cultivator 1", at(11)))
    stop = Event(at=at(11, 1), what="stop", machine="Spreader")
    assert live((*told, stop), at(12, 10)).quiet == (("Cultivator 1", at(11)),)
    down = Event(at=at(11, 5), what="down", machine="Cultivator 1")
    assert live((*told, stop, down), at(12, 10)).quiet == ()
