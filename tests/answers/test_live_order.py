"""The fields keep the morning's order through the day; what moves one is said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from made_days import RYE, farm_of
from made_live import at, begin, covered, rye_day_one, spread

from duskline.answers.day import DayQuestion, day_answer
from duskline.answers.live import LiveAnswer, live_answer
from duskline.answers.live_order import OrderChange, OrderWhy, field_order
from duskline.core.farm import Farm
from duskline.core.log import Event, identified

FARM = farm_of(RYE)
MORNING = tuple(
    one.name for one in day_answer(FARM, DayQuestion(on=at(9).date(), replications=500)).task.fields
)


def live(events: Iterable[Event], now: datetime, farm: Farm = FARM) -> LiveAnswer:
    """The live answer on few drawn days."""
    return live_answer(farm, now, events=identified(events), replications=500)


def names(answer: LiveAnswer) -> list[str]:
    """The fields from now on, in their order."""
    assert answer.day is not None
    return [task.name for task in answer.day.task.fields]


def order(
    begun: tuple[str, ...] = (),
    *,
    rain: bool = False,
    farm: Farm = FARM,
    now: datetime | None = None,
) -> tuple[list[str], tuple[OrderChange, ...]]:
    """The order of a day on which nothing but these fields was begun."""
    left = {one.name: one.record_area_m2 for one in farm.fields}
    found, changes = field_order(
        farm, begun, MORNING, start_at=at(0), now_at=now or at(12), left_m2=left, rain_called=rain
    )
    return list(found), changes


def test_all_day_the_fields_left_are_the_mornings_in_the_mornings_order() -> None:
    """Every half hour of a day worked in that order: never reshuffled, and no change to say."""
    first, second = MORNING[:2]
    told = [begin("Spreader", at(9, 30), first), begin("Cultivator 1", at(9, 52), first)]
    told += [spread(12.0, at(10) + timedelta(minutes=25 * n), first) for n in range(2)]
    told += [
        Event(at=at(11), what="spread", machine="Spreader", field=first, whole=True),
        begin("Spreader", at(11, 5), second),
        spread(10.0, at(11, 40), second),
    ]
    for step in range(9):
        now = at(9, 45) + timedelta(minutes=30 * step)
        found = live([event for event in told if event.at <= now], now)
        left = names(found)
        assert left == [name for name in MORNING if name in left]
        assert found.order_changes == ()


def test_a_field_begun_before_its_turn_comes_first_and_is_named() -> None:
    """The third field begun: it, then the morning's others as they were."""
    found, changes = order((MORNING[2],))
    assert found == [MORNING[2], *(name for name in MORNING if name != MORNING[2])]
    assert changes == (OrderChange(field=MORNING[2], why=OrderWhy.BEGUN),)


def test_a_corner_left_over_is_no_field_to_go_back_to_first() -> None:
    """The rye day at 14:00: A1 has 0.2 ac left, and only A4, at work, comes before its turn."""
    found = live([e for e in rye_day_one() if e.at <= at(14)], at(14))
    assert names(found)[0] == "A4"
    assert names(found)[-1] == "A1"
    assert [change.field for change in found.order_changes] == ["A4"]


def test_called_rain_brings_a_field_forward_that_cannot_wait_and_says_so() -> None:
    """The last field cannot be worked after rain: first with rain called, last without."""
    last = MORNING[-1]
    fields = tuple(replace(one, not_after_rain=one.name == last) for one in FARM.fields)
    farm = replace(FARM, fields=fields)
    assert order(farm=farm) == (list(MORNING), ())
    found, changes = order(farm=farm, rain=True)
    assert found == [last, *MORNING[:-1]]
    assert changes == (OrderChange(field=last, why=OrderWhy.RAIN),)


def test_a_field_not_ready_at_its_turn_waits_and_says_so() -> None:
    """The first of the morning is ready at three: at noon the second goes before it."""
    first = MORNING[0]
    fields = tuple(
        replace(one, ready_at=at(15) if one.name == first else None) for one in FARM.fields
    )
    found, changes = order(farm=replace(FARM, fields=fields))
    assert found[0] == MORNING[1]
    assert found.index(first) > 0
    assert [name for name in found if name != first] == list(MORNING[1:])
    assert changes == (OrderChange(field=first, why=OrderWhy.NOT_READY, ready_at=at(15)),)


def test_the_published_order_may_be_handed_in() -> None:
    """The page knows the morning's fields: another order given is the one kept."""
    other = tuple(reversed(MORNING))
    told = identified((covered(3.0, at(10, 20)), spread(12.0, at(10), MORNING[0])))
    first = live_answer(FARM, at(10, 30), events=told, replications=500).first
    assert first is not None
    assert first.order == MORNING
    found = live_answer(
        FARM, at(10, 30), events=told, morning=replace(first, order=other), replications=500
    )
    left = names(found)
    assert left[0] == MORNING[0]
    assert left[1:] == [name for name in other if name in left[1:]]
