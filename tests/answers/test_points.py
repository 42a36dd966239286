"""How long the points last, where they are swapped, and whether the tool runs level."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from made_folders import ACRE_M2, EXAMPLES, FOOT_M

from duskline.answers.points import check_cards, ground_to_cover, points_answer, worked_in_m2
from duskline.answers.telling import settled
from duskline.answers.working import Step
from duskline.core.errors import OutOfRange
from duskline.core.farm import Farm, PointRow, Poke
from duskline.core.log import Event, What, identified
from duskline.exchange.farmfolder import read_farm

INCH_M = 0.0254
FIELDS = tuple((name, acres * ACRE_M2) for name, acres in (
    ("home", 60.0), ("creek", 50.0), ("long", 90.0), ("hill", 70.0), ("last", 95.0),
))  # fmt: skip
"""365 acres: 60, 110, 200, 270, 365 at the ends of the fields."""


@cache
def bare() -> Farm:
    """Return the rye farm without points, pokes or a price of points."""
    farm = read_farm(EXAMPLES / "rye-after-soybeans")
    prices = replace(farm.prices, point_each=None)
    return replace(farm, point_rows=(), pokes=(), prices=prices)


def row(**changed: Any) -> PointRow:
    """Return a front row of 12 points, all measured at 18 mm in 420 ac, limit 30 mm."""
    made: dict[str, Any] = {
        "cultivator": "Cultivator 1", "row": "front", "points_count": 12,
        "worn_m": (0.018,) * 12, "over_m2": 420 * ACRE_M2, "limit_m": 0.030,
    }  # fmt: skip
    return PointRow(**{**made, **changed})


def farm_with(*rows: PointRow, **changed: Any) -> Farm:
    """Return the bare farm with these rows of points."""
    return replace(bare(), point_rows=rows, **changed)


def test_the_row_says_what_is_left_and_the_field_before_which_to_swap() -> None:
    """280 ac left: after home, creek, long and hill (270) it would not finish the last field.

    The low side lies above 110 and below 200 ac, so to be sure it is swapped before "long".
    """
    (found,) = points_answer(farm_with(row()), FIELDS).rows
    assert found.left is not None
    assert found.left.best_m2 / ACRE_M2 == pytest.approx(280.0)
    assert 110 < found.left.low_m2 / ACRE_M2 < 200
    (likely,) = found.swaps_likely
    assert (likely.field, likely.after, likely.side) == ("last", "hill", "likely")
    assert (found.swaps_sure[0].field, found.swaps_sure[0].after) == ("long", "creek")
    assert found.job_m2 / ACRE_M2 == pytest.approx(365.0)


def test_a_job_that_fits_needs_no_swap_and_no_points() -> None:
    """Two fields of 110 ac in all: the front row lasts on either side."""
    answer = points_answer(farm_with(row()), FIELDS[:2])
    assert answer.swaps_sure == answer.swaps_likely == ()
    assert (answer.in_hand_sure_count, answer.in_hand_likely_count) == (0, 0)


def test_swaps_of_all_rows_stand_in_the_order_of_the_fields() -> None:
    """The row behind the wheels wears faster and comes first; points in hand add up."""
    wheels = row(row="behind the wheels", points_count=4, worn_m=(0.026,) * 4)
    answer = points_answer(farm_with(row(), wheels), FIELDS)
    places = [swap.field_index for swap in answer.swaps_sure]
    assert places == sorted(places)
    assert answer.swaps_sure[0].row == "behind the wheels"
    assert answer.in_hand_sure_count == sum(one.points_in_hand_count for one in answer.rows)
    assert answer.in_hand_sure_count >= answer.in_hand_likely_count == 12 + 4
    assert not any("behind the tractor's wheels" in text for text in answer.measure)


def test_a_price_gives_what_the_points_in_hand_and_the_wear_cost() -> None:
    """$11 each: a set of 12 is $132; 12 points that do 700 ac wear for 18.9 cents an acre."""
    farm = farm_with(row(), prices=replace(bare().prices, point_each=11.0))
    answer = points_answer(farm, FIELDS)
    assert answer.in_hand_likely_cost == pytest.approx(132.0)
    assert answer.wear_cost_per_m2 is not None
    assert answer.wear_cost_per_m2 * ACRE_M2 == pytest.approx(12 * 11 / 700)
    free = points_answer(farm_with(row()), FIELDS)
    assert (free.in_hand_sure_cost, free.wear_cost_per_m2) == (None, None)
    unworn = farm_with(row(worn_m=(0.0,)), prices=farm.prices)
    assert points_answer(unworn, FIELDS).wear_cost_per_m2 is None


def test_a_machine_that_works_half_the_ground_swaps_later() -> None:
    """Half of every field: 182.5 ac of the job, within 280, so most likely no swap."""
    farm = farm_with(row(), prices=replace(bare().prices, point_each=11.0))
    alone, half = (points_answer(farm, FIELDS, shares=s) for s in (None, {"Cultivator 1": 0.5}))
    assert (alone.alone, half.alone) == (True, False)
    assert half.rows[0].job_m2 / ACRE_M2 == pytest.approx(182.5)
    assert half.swaps_likely == ()
    assert len(alone.swaps_likely) == 1
    assert half.wear_cost_per_m2 == pytest.approx(0.5 * (alone.wear_cost_per_m2 or math.nan))
    with pytest.raises(OutOfRange):
        points_answer(farm, FIELDS, shares={"Cultivator 1": 1.5})


def test_a_farm_without_readings_gets_a_wide_range_that_is_not_its_own() -> None:
    """30 ft less 3 ft of overlap: 9 to 168 km are 18.3 to 341.6 ac; and what to measure.

    By hand: 9,000 m x 27 ft x 0.3048 = 74,066 m2 = 18.3 ac.
    """
    answer = points_answer(bare(), FIELDS)
    assert (len(answer.rows), len(answer.swaps_sure)) == (0, 0)
    first = answer.unmeasured[0]
    assert first.machine == "Cultivator 1"
    assert first.life.low_m2 == pytest.approx(9e3 * 27 * FOOT_M)
    assert first.life.high_m2 / ACRE_M2 == pytest.approx(341.6, abs=0.05)
    assert first.life.low_m2 < first.life.best_m2 < first.life.high_m2
    assert any(text.startswith("Cultivator 1: measure how much") for text in answer.measure)
    assert any("not this farm's figure" in step.result.name for step in answer.working)


def test_an_unstated_limit_is_assumed_marked_and_asked_for() -> None:
    """No limit: the default's, a wider range, and a line that asks for the maker's."""
    stated, assumed = (
        points_answer(farm_with(row(limit_m=limit)), FIELDS) for limit in (0.030, None)
    )
    first, second = stated.rows[0], assumed.rows[0]
    assert (first.limit_is_assumed, second.limit_is_assumed) == (False, True)
    assert second.limit_m == bare().defaults["points_limit"].value
    assert first.left is not None
    assert second.left is not None
    assert second.left.low_m2 < first.left.low_m2
    assert any("wear to swap at is our guess" in text for text in assumed.measure)
    assert not any("our guess" in text for text in stated.measure)


def test_one_reading_is_wider_than_all_twelve_and_asks_for_more() -> None:
    """One of twelve at 18 mm: the same best guess, a lower low side, and "measure 6"."""
    one, whole = (
        points_answer(farm_with(row(worn_m=worn)), FIELDS) for worn in ((0.018,), (0.018,) * 12)
    )
    left_one, left_whole = one.rows[0].left, whole.rows[0].left
    assert left_one is not None
    assert left_whole is not None
    assert left_one.best_m2 == pytest.approx(left_whole.best_m2)
    assert left_one.low_m2 < left_whole.low_m2
    assert any("1 of 12 points measured; measure 6" in text for text in one.measure)


def test_points_not_worn_yet_give_no_figure() -> None:
    """All readings zero: nothing left is told, nothing is swapped, measure again."""
    answer = points_answer(farm_with(row(worn_m=(0.0, 0.0))), FIELDS)
    (found,) = answer.rows
    assert (found.left, found.new_set, found.first_point_left_m2, found.new_set_m) == (None,) * 4
    assert (found.is_due, found.points_in_hand_count) == (False, 0)
    assert any("nothing worn yet" in text for text in answer.measure)


def test_a_row_at_its_limit_is_due_before_the_first_field() -> None:
    """30 of 30 mm: swap now, before the first field, on either side."""
    answer = points_answer(farm_with(row(worn_m=(0.030,) * 12)), FIELDS)
    assert answer.rows[0].is_due
    for swaps in (answer.swaps_sure, answer.swaps_likely):
        assert (swaps[0].field, swaps[0].after, swaps[0].in_field_m2) == ("home", "", 0.0)


def test_points_told_by_travel_agree_with_ground_over_width() -> None:
    """700 ac at 27 ft is 344 km; a machine the farm does not have has no such figure."""
    (found,) = points_answer(farm_with(row()), FIELDS).rows
    assert found.new_set_m == pytest.approx(700 * ACRE_M2 / (27 * FOOT_M))
    (other,) = points_answer(farm_with(row(cultivator="borrowed")), FIELDS).rows
    assert other.new_set_m is None
    assert other.left is not None


def test_ten_pokes_give_the_level_and_no_stand() -> None:
    """Story 15's pokes: rear 0.7 in deeper; ten are enough, eight want two more."""
    poke = Poke(
        cultivator="Cultivator 1",
        front_m=tuple(one * INCH_M for one in (1.0, 1.2, 1.1, 0.9, 1.3)),
        rear_m=tuple(one * INCH_M for one in (1.8, 1.9, 1.6, 2.0, 1.7)),
    )
    answer = points_answer(farm_with(pokes=(poke,)), FIELDS)
    (found,) = answer.pokes
    assert found.check.rear_deeper_m / INCH_M == pytest.approx(0.7)
    assert not found.check.is_level
    assert found.more_count == 0
    short = replace(poke, front_m=poke.front_m[:4], rear_m=poke.rear_m[:4])
    assert points_answer(farm_with(pokes=(short,)), FIELDS).pokes[0].more_count == 2
    assert not any("Cultivator 1: poke" in text for text in answer.measure)
    assert any("Cultivator 2: poke" in text for text in answer.measure)


def test_every_figure_of_the_working_has_a_source() -> None:
    """Wear, ground left and a new set for the row; the results are those of the answer."""
    answer = points_answer(farm_with(row()), FIELDS)
    steps = {step.title: step for step in answer.working}
    for step in answer.working:
        assert isinstance(step, Step)
        assert all(figure.source for figure in (*step.inputs, step.result))
    assert answer.rows[0].left is not None
    left = steps["Cultivator 1, front: ground left"].result
    assert (left.value, left.low) == (answer.rows[0].left.best_m2, answer.rows[0].left.low_m2)
    assert "Cultivator 1, front: a new set" in steps


def test_what_worn_points_do_is_told_with_a_source_and_without_a_figure() -> None:
    """No number was found for what a worn point costs, so none is said."""
    for effect in points_answer(farm_with(row()), FIELDS).effects:
        assert effect.source
        assert not any(letter.isdigit() for letter in effect.text)


def test_every_machine_gets_a_check_card_with_its_own_figures() -> None:
    """Wanted depth, level, the machine's rows, speed and overlap."""
    farm = farm_with(row())
    first, second = check_cards(farm, points_answer(farm, FIELDS))
    assert (first.machine, second.machine) == ("Cultivator 1", "Cultivator 2")
    assert [one.row for one in first.rows] == ["front"]
    assert second.rows == ()
    assert first.overlap_m == pytest.approx(3 * FOOT_M)
    assert (first.by_eye, second.by_eye) == (True, False)
    assert (first.shallow_m, first.deep_m) == pytest.approx((0.5 * INCH_M, 1.5 * INCH_M))
    assert first.level_within_m == pytest.approx(0.5 * INCH_M)
    assert (first.pokes_count, first.poke) == (10, None)


def told(name: str, what: What, acres: float, machine: str = "") -> Event:
    """Return so many acres told of a field on the rye farm's first day."""
    at = datetime(2026, 10, 18, 12, 0, tzinfo=ZoneInfo("America/Chicago"))
    return Event(at=at, what=what, field=name, machine=machine, area_m2=acres * ACRE_M2)


def test_what_is_left_to_cover_stands_in_the_order_asked_for_and_then_the_farm_s() -> None:
    """A4 first, then all others; 10 ac of A4 told as covered are off it; A9 is done."""
    farm = bare()
    acres = {one.name: one.record_area_m2 / ACRE_M2 for one in farm.fields}
    account = settled(farm, identified((
        told("A4", "spread", 30), told("A4", "covered", 10, "Cultivator 1"),
        told("A9", "spread", acres["A9"]), told("A9", "covered", acres["A9"], "Cultivator 2"),
    )))  # fmt: skip
    found = ground_to_cover(farm, account, ("A4", "no such field"))
    others = [name for name in acres if name not in ("A4", "A9")]
    assert [name for name, _ in found] == ["A4", *others]
    assert found[0][1] / ACRE_M2 == pytest.approx(acres["A4"] - 10.0)
    assert worked_in_m2(account) == pytest.approx(
        {"Cultivator 1": 10.0 * ACRE_M2, "Cultivator 2": acres["A9"] * ACRE_M2}
    )


def test_ground_worked_since_is_off_what_is_left_and_never_below_none() -> None:
    """280 ac left less 100 worked: 180; less 400: none, so it is swapped now."""
    less, none = (
        points_answer(farm_with(row()), FIELDS, worked_m2={"Cultivator 1": acres * ACRE_M2}).rows[0]
        for acres in (100.0, 400.0)
    )
    assert less.left is not None
    assert less.left.best_m2 / ACRE_M2 == pytest.approx(180.0)
    assert less.swaps_likely[0].field == "long"
    assert none.is_due
    assert none.swaps_likely[0].after == ""
    other = points_answer(farm_with(row()), FIELDS, worked_m2={"Cultivator 2": 100.0}).rows[0]
    assert other.left is not None
    assert other.left.best_m2 / ACRE_M2 == pytest.approx(280.0)
