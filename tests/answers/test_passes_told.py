"""What a driver means by "12 passes": hand-worked in a plain square, and over real fields."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_days import OATS, RYE, farm_of
from made_live import ACRE_M2

from duskline.answers.passes_told import PassTable, Told, ToldArea, ToldAs, told_area
from duskline.core.errors import OutOfRange
from duskline.core.farm import Farm, Field

TABLE = PassTable()
COVER, SPREADER = "Cultivator 1", "Spreader"


def field_of(farm: Farm, name: str) -> Field:
    """One field by its name."""
    return next(one for one in farm.fields if one.name == name)


def told(
    how: ToldAs,
    amount: float = 0.0,
    *,
    field: str = "A1",
    machine: str = COVER,
    farm: Farm | None = None,
    left_m2: float | None = None,
    open_m2: float = 0.0,
    table: PassTable = TABLE,
) -> ToldArea:
    """A telling of covering in a field of the rye farm."""
    farm = farm or farm_of(RYE)
    left = field_of(farm, field).area_m2 if left_m2 is None else left_m2
    return told_area(
        farm, field, machine, Told(how=how, amount=amount),
        work="covered", left_m2=left, open_m2=open_m2, table=table,
    )  # fmt: skip


def test_passes_in_a_rectangle_by_hand() -> None:
    """A1 is 800 by 400 m: the 40 ft spreader's 10 passes along it are about 10 x 12.2 x 776 m.

    By hand: a round takes 12.2 m off each end, so a pass is 800 - 2 x 12.2 = 776 m; 10 passes are
    94,600 m2, 23.4 ac.
    """
    found = told(ToldAs.PASSES, 10, machine=SPREADER)
    width = 40 * 0.3048
    assert found.area_m2 == pytest.approx(10 * width * (800 - 2 * width), rel=0.02)
    assert found.low_m2 < found.area_m2 < found.high_m2
    assert not found.guessed


@pytest.mark.parametrize("name", ["A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8", "A9"])
@pytest.mark.parametrize("machine", [COVER, "Cultivator 2"])
def test_all_passes_and_all_rounds_are_the_field(name: str, machine: str) -> None:
    """Whatever the shape: the driver who told them all told the field once."""
    farm = farm_of(RYE)
    noun = next(one for one in farm.cultivators if one.name == machine)
    lengths = TABLE.lengths(farm, field_of(farm, name), noun)
    area = field_of(farm, name).area_m2
    passes = told(ToldAs.PASSES, lengths.passes_count, field=name, machine=machine)
    rounds = told(ToldAs.ROUNDS, len(lengths.rounds_m), field=name, machine=machine)
    assert passes.area_m2 + rounds.area_m2 == pytest.approx(area, rel=1e-6)


def test_fewer_passes_are_told_less_surely_than_their_share() -> None:
    """In a triangle two passes may be two long ones or two short ones; all of them are all."""
    farm = farm_of(RYE)
    count = TABLE.lengths(farm, field_of(farm, "A3"), farm.cultivators[0]).passes_count
    few, many = told(ToldAs.PASSES, 2, field="A3"), told(ToldAs.PASSES, count, field="A3")
    spread = [(one.high_m2 - one.low_m2) / one.area_m2 for one in (few, many)]
    assert spread[0] > 3 * spread[1]


def test_the_outermost_round_is_the_longest() -> None:
    """One round, then two: the second adds less ground than the first."""
    one, two = told(ToldAs.ROUNDS, 1), told(ToldAs.ROUNDS, 2)
    assert one.area_m2 < two.area_m2 < 2 * one.area_m2
    half = told(ToldAs.ROUNDS, 0.5)
    assert half.area_m2 == pytest.approx(0.5 * one.area_m2)


def test_half_of_covering_is_half_of_what_lies_open() -> None:
    """30 of 79 acres spread and open: half is 15, give or take; nothing spread: half the field."""
    half = told(ToldAs.HALF, open_m2=30 * ACRE_M2)
    assert half.area_m2 == pytest.approx(15 * ACRE_M2)
    assert half.low_m2 < half.area_m2 < half.high_m2
    bare = told(ToldAs.HALF)
    assert bare.area_m2 == pytest.approx(0.5 * field_of(farm_of(RYE), "A1").area_m2)


def test_all_of_it_is_what_is_left() -> None:
    """No more and no less, and nothing unsure about it."""
    found = told(ToldAs.ALL, left_m2=12345.0)
    assert found.area_m2 == found.low_m2 == found.high_m2 == 12345.0


def test_an_area_is_taken_as_told_with_its_range() -> None:
    """Ten acres: within the table's spread of a told area, two standard deviations each way."""
    found = told(ToldAs.AREA, 10 * ACRE_M2)
    cv = farm_of(RYE).defaults["told_area_cv"].value
    assert found.area_m2 == 10 * ACRE_M2
    assert found.high_m2 - found.low_m2 == pytest.approx(4 * cv * found.area_m2)


def test_more_than_is_left_is_cut_and_told() -> None:
    """Forty passes where ten acres are left: ten acres, and what is over is kept for a question."""
    found = told(ToldAs.PASSES, 40, left_m2=10 * ACRE_M2)
    assert found.area_m2 == 10 * ACRE_M2 == found.high_m2
    assert found.over_m2 > 30 * ACRE_M2


def test_a_field_without_an_outline_is_guessed_and_says_so() -> None:
    """Width times the side of a square of that area."""
    farm = farm_of(RYE)
    plain = replace(field_of(farm, "A6"), outline=None, drive_outline=None)
    found = told(ToldAs.PASSES, 10, field="A6", farm=replace(farm, fields=(plain,)))
    width = farm.cultivators[0].working_width_m
    assert found.guessed
    assert found.area_m2 == pytest.approx(10 * width * plain.area_m2**0.5)
    assert any("no outline" in figure.source for figure in found.working[0].inputs)


def test_a_plan_is_made_once_and_again_when_the_width_changes() -> None:
    """The table keeps what it has planned, field by field and machine by machine."""
    farm, table = farm_of(RYE), PassTable()
    first = told(ToldAs.PASSES, 10, table=table)
    assert told(ToldAs.PASSES, 10, table=table) == first
    assert len(table.kept) == 1
    wide = replace(farm.cultivators[0], width_m=12.0)
    wider = replace(farm, cultivators=(wide, *farm.cultivators[1:]))
    assert told(ToldAs.PASSES, 10, farm=wider, table=table).area_m2 > first.area_m2
    assert len(table.kept) == 2


def test_the_working_multiplies_out() -> None:
    """Passes x width x mean length x share that is new ground is the ground told."""
    found = told(ToldAs.PASSES, 7, field="A7")
    product = 1.0
    for figure in found.working[0].inputs:
        assert isinstance(figure.value, float | int)
        product *= figure.value
    assert product == pytest.approx(found.area_m2)
    assert found.working[0].result.value == pytest.approx(found.area_m2)


@pytest.mark.parametrize("amount", [-1.0, float("nan"), float("inf"), 1e7])
@pytest.mark.parametrize("how", [ToldAs.PASSES, ToldAs.ROUNDS])
def test_counts_that_cannot_be_are_refused(how: ToldAs, amount: float) -> None:
    """Below zero, no number, or more than any field has."""
    with pytest.raises(OutOfRange):
        told(how, amount)


def test_names_that_are_none_are_refused() -> None:
    """No such field, no such machine."""
    with pytest.raises(KeyError):
        told(ToldAs.ALL, machine="Plough", left_m2=1.0)
    with pytest.raises(KeyError):
        told(ToldAs.ALL, field="Z9", left_m2=1.0)


def test_a_metric_farm_too() -> None:
    """Every paddock of the New Zealand farm: ten passes of each machine are under the paddock."""
    farm = farm_of(OATS)
    for one in farm.fields:
        for machine in farm.cultivators:
            found = told(ToldAs.PASSES, 10, field=one.name, machine=machine.name, farm=farm)
            assert 0.0 < found.area_m2 < one.area_m2
