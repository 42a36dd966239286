"""A telling hard to believe does not move the stop later until somebody says it is right."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import pytest
from made_days import RYE, farm_of
from made_live import ACRE_M2, at, begin, covered, rye_day_one, spread, story_22

from duskline.answers.live import LiveAnswer, live_answer
from duskline.core.log import Event, identified

TOLD = identified(
    (
        begin("Spreader", at(9, 30)),
        begin("Cultivator 1", at(9, 52)),
        covered(10.0, at(10, 30)),
        spread(79.07, at(12, 5)),
    )
)
(SLIP,) = identified((covered(66.0, at(11)),))
"""Sixty-six acres in half an hour."""


def live(events: Iterable[Event], now: datetime) -> LiveAnswer:
    """The live answer of the rye farm on few drawn days."""
    return live_answer(farm_of(RYE), now, events=identified(events), replications=500)


def stop(answer: LiveAnswer) -> datetime:
    """When spreading must stop."""
    assert answer.day is not None
    return answer.day.stop_at


def test_a_slip_of_the_thumb_moves_no_stop_and_is_named() -> None:
    """67 ac/h in the first hour, plan 15.3: as if it had not been told, and told to look at."""
    plain, slip = live(TOLD, at(12, 10)), live((*TOLD, SLIP), at(12, 10))
    assert [one.event.id for one in slip.doubted] == [SLIP.id]
    assert stop(slip) == stop(plain)
    assert slip.told_open_m2 == pytest.approx(plain.told_open_m2)
    assert slip.doubted[0].shown_m2_per_s * 3600 / ACRE_M2 == pytest.approx(76 * 60 / 68, rel=0.01)
    assert plain.doubted == ()


def test_hours_of_silence_do_not_make_it_likelier() -> None:
    """At three it would be a believable pace for the day: it is doubted still."""
    later = (*TOLD, covered(5.0, at(14, 50)))
    assert [one.event.id for one in live((*later, SLIP), at(15)).doubted] == [SLIP.id]


def test_said_to_be_right_it_counts_and_taken_back_it_is_gone() -> None:
    """With a "both" on it the stop goes later. Undone: as before, and nothing to look at."""
    plain = live(TOLD, at(12, 10))
    right = live((*TOLD, SLIP, Event(at=at(12, 6), what="both", refers=SLIP.id)), at(12, 10))
    assert right.doubted == ()
    assert stop(right) > stop(plain)
    assert not any(machine.odd for machine in right.now.machines)
    gone = live((*TOLD, SLIP, Event(at=at(12, 6), what="undo", refers=SLIP.id)), at(12, 10))
    assert gone.doubted == ()
    assert stop(gone) == stop(plain)


def test_it_does_not_close_the_day_either() -> None:
    """At seven in the evening the 66 acres are still open as told, not "all worked in"."""
    found = live((*TOLD, SLIP), at(19))
    assert found.day is None
    assert found.told_open_m2 / ACRE_M2 == pytest.approx(69.07, abs=0.1)
    assert [one.event.id for one in found.doubted] == [SLIP.id]


def test_a_morning_told_late_and_at_once_is_believed() -> None:
    """Two fields told within a minute at noon, 20 and 12 ac since 9:52: nobody is asked."""
    told = (
        begin("Cultivator 1", at(9, 52)),
        spread(60.0, at(12)),
        covered(20.0, at(11, 59)),
        covered(12.0, at(12)),
    )
    assert live(told, at(12)).doubted == ()


@pytest.mark.parametrize("hour", [11, 13, 15, 17])
def test_a_day_as_it_is_leaves_nothing_in_doubt(hour: int) -> None:
    """The rye day and story 22: no telling of theirs is asked about."""
    assert live([e for e in rye_day_one() if e.at <= at(hour)], at(hour)).doubted == ()
    assert live(story_22(), at(13)).doubted == ()


# --------------------------------------------------------------------------- too little told


BEGUN = (begin("Spreader", at(9, 30)), begin("Cultivator 1", at(9, 52)))
HARDLY = identified((*BEGUN, spread(4.0, at(12)), covered(4.0, at(12))))
"""Four acres spread in two and a half hours: seventy more may lie there untold."""


def test_hardly_anything_told_as_spread_moves_the_stop_no_later() -> None:
    """1.6 ac/h told, plan 31: reckoned at the plan's pace since it began, two hours at most."""
    on_plan = live((*BEGUN, spread(77.0, at(12)), covered(32.0, at(12))), at(12, 1))
    found = live(HARDLY, at(12, 1))
    assert stop(found) <= stop(on_plan)
    assert [one.event.what for one in found.doubted] == ["spread"]
    spreader = found.machine("Spreader")
    assert spreader is not None
    assert spreader.rate_m2_per_s == pytest.approx(spreader.planned_m2_per_s, rel=0.05)
    assert 50.0 < found.open_m2 / ACRE_M2 < 80.0
    assert found.told_open_m2 == 0.0


def test_hardly_anything_spread_that_is_said_to_be_right_is_believed() -> None:
    """The spreader did stand about all morning: the stop goes later once that is said."""
    last = next(one for one in HARDLY if one.what == "spread")
    found = live((*HARDLY, Event(at=at(12), what="both", refers=last.id)), at(12, 1))
    assert found.doubted == ()
    assert stop(found) > stop(live(HARDLY, at(12, 1)))


def test_the_missing_telling_ends_the_doubt() -> None:
    """Told what was missing, nobody is asked any more."""
    assert live((*HARDLY, spread(70.0, at(12, 1))), at(12, 2)).doubted == ()


def test_a_spreader_that_is_done_is_not_asked() -> None:
    """Four acres in all and then the stop: spreading moves nothing any more."""
    told = (*HARDLY, Event(at=at(12, 1), what="stop", machine="Spreader"))
    assert live(told, at(12, 2)).doubted == ()
