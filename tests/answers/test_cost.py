"""The cost of a farm in parts: what is stated, what is assumed, what is missing."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_folders import ACRE_M2, EXAMPLES, POUND_KG

from duskline.answers.cost import (
    CostAnswer,
    Lack,
    Missing,
    Note,
    PartKey,
    cost_answer,
    tool_matches,
)
from duskline.answers.machines import moving_rate_m2_per_s
from duskline.core.cost import owning_per_s, repairs_per_s
from duskline.core.errors import OutOfRange
from duskline.core.farm import Cultivator, Farm, LeftOut, Lot, PointRow, Prices, SpreaderNoun
from duskline.core.machine import Verdict
from duskline.exchange.farmfolder import read_farm

HOUR_S = 3600.0
HORSEPOWER_W = 745.6998715822702
GALLON_M3 = 0.003785411784
GAL_PER_AC = GALLON_M3 / ACRE_M2
BUSHEL_KG = 56 * POUND_KG
PRICES = Prices(
    fuel_per_m3=3.60 / GALLON_M3,
    labour_per_s=24 / HOUR_S,
    point_each=11.0,
    labour_s=75 * HOUR_S,
    points_count=68,
    points_over_m2=1500 * ACRE_M2,
    fuel_m3_per_m2=0.58 * GAL_PER_AC,
)


def bare_machine(machine: SpreaderNoun) -> SpreaderNoun:
    """Return a spreader without prices, hours or a fuel figure."""
    return replace(machine, fuel_m3_per_m2=None, list_price=None, hours_s=None, yearly_hours_s=None)


def bare_tool(machine: Cultivator) -> Cultivator:
    """Return a cultivator without prices, hours, fuel, shanks or depth."""
    return replace(
        machine,
        fuel_m3_per_m2=None,
        list_price=None,
        hours_s=None,
        yearly_hours_s=None,
        shanks_count=None,
        depth_m=None,
    )


def priced_lot(lot: Lot) -> Lot:
    """Return a lot at $9.00 a 56 lb bushel, cleaned for $0.60 a bushel run."""
    return replace(lot, price_per_kg=9.00 / BUSHEL_KG, cleaning_per_kg=0.60 / BUSHEL_KG)


@cache
def rye() -> Farm:
    """Return the rye farm with the prices of the story and nothing else that bears on cost."""
    farm = read_farm(EXAMPLES / "rye-after-soybeans")
    return replace(
        farm,
        lots=tuple(priced_lot(lot) for lot in farm.lots),
        prices=PRICES,
        spreaders=tuple(bare_machine(s) for s in farm.spreaders),
        cultivators=tuple(bare_tool(c) for c in farm.cultivators),
        tractors=tuple(
            replace(t, list_price=None, hours_s=None, yearly_hours_s=None, drive=None)
            for t in farm.tractors
        ),
        fields=tuple(replace(field, left_out=()) for field in farm.fields),
        point_rows=(),
    )


def with_prices(**changed: object) -> Farm:
    """Return the rye farm with some prices changed."""
    return replace(rye(), prices=replace(PRICES, **changed))  # type: ignore[arg-type]


def per_acre(answer: CostAnswer, key: PartKey) -> float:
    """Return one part in money an acre."""
    figure = answer.parts[key]
    assert figure is not None
    return float(figure.value) * ACRE_M2


def test_every_part_of_the_rye_farm_by_hand() -> None:
    """71.46 lb at $9/56, / 0.96 at $0.60/56, 0.58 x 3.60, 75 x 24 / 362.75, 68 x 11 / 1,500."""
    answer = cost_answer(rye())
    sown_lb = 61 / (0.88 * 0.97)
    acres = answer.area_m2 / ACRE_M2
    assert acres == pytest.approx(362.75, abs=0.02)
    wanted = {
        PartKey.SEED: sown_lb * 9.00 / 56,
        PartKey.CLEANING: sown_lb / 0.96 * 0.60 / 56,
        PartKey.FUEL: 0.58 * 3.60,
        PartKey.LABOUR: 75 * 24 / acres,
        PartKey.POINTS: 68 * 11 / 1500,
    }
    assert set(answer.parts) == set(wanted)
    for key, value in wanted.items():
        assert per_acre(answer, key) == pytest.approx(value, rel=1e-6), key
    assert float(answer.total.value) * ACRE_M2 == pytest.approx(sum(wanted.values()), rel=1e-6)
    assert answer.total.low is None
    assert answer.whole
    assert answer.currency == "USD"
    assert set(answer.notes) == {
        Note.OWN_SEED,
        Note.OWNERSHIP_NOT_COUNTED,
        Note.REPAIRS_NOT_COUNTED,
    }


@pytest.mark.parametrize(
    ("price", "part", "what"),
    [
        ("fuel_per_m3", PartKey.FUEL, "fuel price"),
        ("labour_per_s", PartKey.LABOUR, "labour price"),
        ("point_each", PartKey.POINTS, "point price"),
        ("points_count", PartKey.POINTS, "points used"),
    ],
)
def test_a_price_not_stated_is_missing_and_never_guessed(
    price: str, part: PartKey, what: Lack
) -> None:
    """The part is None, named; the total is that of the others."""
    answer = cost_answer(with_prices(**{price: None}))
    assert answer.parts[part] is None
    assert answer.missing == (Missing(part=part, what=what),)
    assert not answer.whole
    whole = cost_answer(rye())
    left = float(whole.total.value) * ACRE_M2 - per_acre(whole, part)
    assert float(answer.total.value) * ACRE_M2 == pytest.approx(left)


def test_seed_without_a_price_is_missing_by_its_name() -> None:
    """The lot is named; own seed without a cleaning price lacks that too."""
    lots = tuple(replace(lot, price_per_kg=None, cleaning_per_kg=None) for lot in rye().lots)
    answer = cost_answer(replace(rye(), lots=lots))
    assert answer.parts[PartKey.SEED] is answer.parts[PartKey.CLEANING] is None
    assert answer.missing == (
        Missing(part=PartKey.SEED, what="seed price", name="Bin rye"),
        Missing(part=PartKey.CLEANING, what="cleaning price", name="Bin rye"),
    )
    assert Note.OWN_SEED not in answer.notes


def test_bought_seed_needs_no_cleaning() -> None:
    """No bin of it and no cleaning price: nothing to clean, and nothing is missing."""
    lots = tuple(replace(lot, cleaning_per_kg=None) for lot in rye().lots)
    answer = cost_answer(replace(rye(), lots=lots, bins=()))
    assert per_acre(answer, PartKey.CLEANING) == 0.0
    assert answer.whole
    assert Note.OWN_SEED not in answer.notes


def test_cleaning_without_a_bin_takes_the_assumed_loss_with_its_range() -> None:
    """4 % (2 to 10): the range of the part is that of the loss."""
    answer = cost_answer(replace(rye(), bins=()))
    figure = answer.parts[PartKey.CLEANING]
    assert figure is not None
    assert figure.low is not None
    assert figure.high is not None
    loss = rye().defaults["cleaning_loss"]
    assert loss.high is not None
    assert figure.high / float(figure.value) == pytest.approx((1 - loss.value) / (1 - loss.high))
    assert Note.CLEANING_LOSS_ASSUMED in answer.notes


def test_fuel_by_the_book_carries_its_range_to_the_total() -> None:
    """0.15 + 0.60 gal/ac at $3.60; 0.05 and 0.21 in quadrature either side."""
    answer = cost_answer(with_prices(fuel_m3_per_m2=None))
    figure = answer.parts[PartKey.FUEL]
    assert figure is not None
    assert per_acre(answer, PartKey.FUEL) == pytest.approx(0.75 * 3.60)
    doubt = (0.05**2 + 0.21**2) ** 0.5 * 3.60
    assert figure.low is not None
    assert answer.total.low is not None
    assert answer.total.high is not None
    assert (float(figure.value) - figure.low) * ACRE_M2 == pytest.approx(doubt)
    assert (float(answer.total.value) - answer.total.low) * ACRE_M2 == pytest.approx(doubt)
    assert (answer.total.high - float(answer.total.value)) * ACRE_M2 == pytest.approx(doubt)
    assert Note.FUEL_ASSUMED in answer.notes


def test_a_machines_own_tank_comes_before_the_book() -> None:
    """Spreader 0.12, cultivators 0.45 gal/ac by their tanks: 0.57, no range, no note."""
    farm = with_prices(fuel_m3_per_m2=None)
    farm = replace(
        farm,
        spreaders=tuple(replace(s, fuel_m3_per_m2=0.12 * GAL_PER_AC) for s in farm.spreaders),
        cultivators=tuple(replace(c, fuel_m3_per_m2=0.45 * GAL_PER_AC) for c in farm.cultivators),
    )
    answer = cost_answer(farm)
    assert per_acre(answer, PartKey.FUEL) == pytest.approx(0.57 * 3.60)
    figure = answer.parts[PartKey.FUEL]
    assert figure is not None
    assert figure.low is None
    assert Note.FUEL_ASSUMED not in answer.notes


def test_one_tank_of_two_counts_for_its_share_of_the_ground() -> None:
    """15.30 and 15.58 ac/h: the first works 49.5 % of the ground."""
    farm = with_prices(fuel_m3_per_m2=None)
    first, second = farm.cultivators
    one = replace(first, fuel_m3_per_m2=0.40 * GAL_PER_AC)
    answer = cost_answer(replace(farm, cultivators=(one, second)))
    share = 15.30 / (15.30 + 15.58)
    wanted = 0.15 + share * 0.40 + (1 - share) * 0.60
    assert per_acre(answer, PartKey.FUEL) == pytest.approx(wanted * 3.60, abs=0.001)
    assert Note.FUEL_ASSUMED in answer.notes


def test_hours_of_the_plan_are_taken_where_none_are_stated() -> None:
    """The farmer's own count wins; the plan's 60 h come next, and are called that."""
    assert per_acre(cost_answer(rye(), labour_s=60 * HOUR_S), PartKey.LABOUR) == pytest.approx(
        75 * 24 / 362.75, abs=0.001
    )
    answer = cost_answer(with_prices(labour_s=None), labour_s=60 * HOUR_S)
    assert per_acre(answer, PartKey.LABOUR) == pytest.approx(60 * 24 / 362.75, abs=0.001)
    assert Note.LABOUR_FROM_PLAN in answer.notes


def test_without_hours_the_seats_are_counted_by_hand() -> None:
    """31.03 ac/h with 20 min a load of 84 ac, two cultivators at 15.30 and 15.58 ac/h."""
    answer = cost_answer(with_prices(labour_s=None))
    spreader = rye().spreaders[0]
    load_ac = 6000 / (61 / (0.88 * 0.97))
    moving = moving_rate_m2_per_s(spreader) * HOUR_S / ACRE_M2
    spread_ac_h = load_ac / (load_ac / moving + 20 / 60)
    hours = 1 / spread_ac_h + 2 / (15.30 + 15.58)
    assert per_acre(answer, PartKey.LABOUR) == pytest.approx(24 * hours, rel=1e-3)
    assert Note.SEAT_TIME_ONLY in answer.notes


def test_points_are_counted_by_their_wear() -> None:
    """18 of 30 mm over 420 ac on 15 points: 9 points for 420 ac at $11."""
    row = PointRow(
        cultivator="Cultivator 1",
        row="front",
        points_count=15,
        worn_m=(0.016, 0.018, 0.020),
        over_m2=420 * ACRE_M2,
        limit_m=0.030,
    )
    answer = cost_answer(replace(with_prices(points_count=None), point_rows=(row,)))
    figure = answer.parts[PartKey.POINTS]
    assert figure is not None
    assert per_acre(answer, PartKey.POINTS) == pytest.approx(9 * 11 / 420)
    assert figure.low is not None
    assert figure.low / float(figure.value) == pytest.approx(16 / 18)
    assert Note.POINTS_FROM_WEAR in answer.notes
    assert "Cultivator 1" in figure.source


def test_a_row_without_a_limit_says_nothing_about_points_used() -> None:
    """Wear without the wear at which to swap is no life."""
    row = PointRow(
        cultivator="Cultivator 1", row="front", points_count=15, worn_m=(0.018,), over_m2=1e6
    )
    answer = cost_answer(replace(with_prices(points_count=None), point_rows=(row,)))
    assert answer.parts[PartKey.POINTS] is None


def test_repairs_only_of_what_has_a_list_price() -> None:
    """One cultivator at $40,000 and 500 h: its repairs a second over both machines' rate."""
    first, second = rye().cultivators
    priced = replace(first, list_price=40_000.0, hours_s=500 * HOUR_S, yearly_hours_s=100 * HOUR_S)
    answer = cost_answer(replace(rye(), cultivators=(priced, second)))
    each = repairs_per_s(
        list_price=40_000.0, used_s=500 * HOUR_S, coming_s=100 * HOUR_S, rf1=0.27, rf2=1.4
    )
    wanted = each * HOUR_S / (15.30 + 15.58)
    assert per_acre(answer, PartKey.REPAIRS) == pytest.approx(wanted, rel=1e-3)
    assert Note.REPAIRS_NOT_COUNTED not in answer.notes
    assert Note.REPAIRS_PARTLY in answer.notes


def test_repairs_without_hours_are_missing() -> None:
    """A list price alone says nothing about age."""
    first, second = rye().cultivators
    answer = cost_answer(replace(rye(), cultivators=(replace(first, list_price=40_000.0), second)))
    assert answer.parts[PartKey.REPAIRS] is None
    assert Missing(part=PartKey.REPAIRS, what="hours", name="Cultivator 1") in answer.missing


def test_owning_only_if_asked_and_only_what_is_known() -> None:
    """One cultivator at 8 % (5 to 10); every other machine is named for what it lacks."""
    first, second = rye().cultivators
    priced = replace(first, list_price=40_000.0, hours_s=400 * HOUR_S, yearly_hours_s=100 * HOUR_S)
    farm = replace(with_prices(ownership=True), cultivators=(priced, second))
    answer = cost_answer(farm)
    each = owning_per_s(
        list_price=40_000.0,
        used_s=400 * HOUR_S,
        yearly_s=100 * HOUR_S,
        interest_fraction=0.08,
        c1=0.891,
        c2=0.110,
        c3=0.0,
    )
    assert per_acre(answer, PartKey.OWNERSHIP) == pytest.approx(
        each * HOUR_S / (15.30 + 15.58), rel=1e-3
    )
    lacking = {(one.name, one.what) for one in answer.missing}
    assert ("Spreader", "list price") in lacking
    assert ("Cultivator 2", "hours a year") in lacking
    assert not any(name == "Cultivator 1" for name, _ in lacking)
    assert Note.OWNERSHIP_NOT_COUNTED not in answer.notes
    assert PartKey.OWNERSHIP not in cost_answer(replace(farm, prices=PRICES)).parts


def test_a_tractor_of_two_machines_is_counted_for_both() -> None:
    """The big tractor spreads and covers: its repairs run in both times."""
    big, old = rye().tractors
    priced = replace(big, list_price=2e5, hours_s=2000 * HOUR_S, yearly_hours_s=300 * HOUR_S)
    answer = cost_answer(replace(rye(), tractors=(priced, old)))
    each = repairs_per_s(
        list_price=2e5, used_s=2000 * HOUR_S, coming_s=300 * HOUR_S, rf1=0.007, rf2=2.0
    )
    load_ac = 6000 / (61 / (0.88 * 0.97))
    spread = load_ac / (load_ac / 31.03 + 20 / 60)
    hours = 1 / spread + 1 / (15.30 + 15.58)
    assert per_acre(answer, PartKey.REPAIRS) == pytest.approx(each * HOUR_S * hours, rel=1e-3)


def test_hiring_is_compared_in_the_surveys_own_currency_only() -> None:
    """Two surveys in dollars; none in another currency; an offer stands in any."""
    assert [one.key for one in cost_answer(rye()).custom] == [
        "custom_field_cultivator",
        "custom_broadcast",
    ]
    abroad = cost_answer(with_prices(currency="NZD", custom_per_m2=95e-4))
    assert [one.key for one in abroad.custom] == ["offer"]
    assert abroad.custom[0].per_m2.value == pytest.approx(95e-4)
    assert abroad.total.unit == "NZD/m2"


def test_what_compares_with_hiring_leaves_the_seed_out() -> None:
    """Work is the total less seed and cleaning."""
    answer = cost_answer(rye())
    seed = per_acre(answer, PartKey.SEED) + per_acre(answer, PartKey.CLEANING)
    assert float(answer.work.value) * ACRE_M2 == pytest.approx(
        float(answer.total.value) * ACRE_M2 - seed
    )


def test_a_mix_is_charged_lot_by_lot() -> None:
    """Oats and radish each at their own rate and price over the same ground."""
    farm = read_farm(EXAMPLES / "oats-and-radish")
    prices = {"Oats": 0.50, "Radish": 7.00}
    lots = tuple(replace(lot, price_per_kg=prices.get(lot.name)) for lot in farm.lots)
    answer = cost_answer(replace(farm, lots=lots))
    seed = next(step for step in answer.working if step.title == "Cost of seed")
    rates = {f.name: float(f.value) for f in seed.inputs if f.name.startswith("rate of")}
    wanted = sum(rates[f"rate of {name}"] * price for name, price in prices.items())
    assert per_acre(answer, PartKey.SEED) == pytest.approx(wanted * ACRE_M2)
    assert rates.keys() == {"rate of Oats", "rate of Radish"}


def test_a_wet_hole_left_out_is_said_and_its_seed_not_charged() -> None:
    """2 ac of a field left out: labour stated for the job is spread over 2 ac less."""
    first, *others = rye().fields
    hole = LeftOut(field=first.name, what="wet hole", area_m2=2 * ACRE_M2)
    farm = replace(rye(), fields=(replace(first, left_out=(hole,)), *others))
    answer = cost_answer(farm)
    assert answer.area_m2 == pytest.approx(cost_answer(rye()).area_m2 - 2 * ACRE_M2)
    assert per_acre(answer, PartKey.SEED) == pytest.approx(
        per_acre(cost_answer(rye()), PartKey.SEED)
    )
    assert per_acre(answer, PartKey.LABOUR) > per_acre(cost_answer(rye()), PartKey.LABOUR)
    assert Note.LEFT_OUT in answer.notes


@pytest.mark.parametrize(
    ("horsepower", "row"), [(60, "small"), (80, "middle"), (149, "middle"), (150, "large")]
)
def test_a_tractor_is_valued_by_its_power(horsepower: int, row: str) -> None:
    """Under 80 hp, 80 to 149, 150 and more have rows of their own; interest as stated."""
    big, old = rye().tractors
    valued = replace(
        old,
        pto_power_w=horsepower * HORSEPOWER_W,
        list_price=1e5,
        hours_s=1200 * HOUR_S,
        yearly_hours_s=300 * HOUR_S,
    )
    farm = with_prices(ownership=True, interest_fraction=0.06)
    answer = cost_answer(replace(farm, tractors=(big, valued)))
    c1, c2, c3 = (rye().defaults[f"remaining_c{i}_tractor_{row}"].value for i in (1, 2, 3))
    each = owning_per_s(
        list_price=1e5,
        used_s=1200 * HOUR_S,
        yearly_s=300 * HOUR_S,
        interest_fraction=0.06,
        c1=c1,
        c2=c2,
        c3=c3,
    )
    wanted = each * HOUR_S / (15.30 + 15.58)
    assert per_acre(answer, PartKey.OWNERSHIP) == pytest.approx(wanted, rel=1e-3)
    figure = answer.parts[PartKey.OWNERSHIP]
    assert figure is not None
    assert figure.low is None


def test_a_tractor_of_unknown_power_cannot_be_valued() -> None:
    """Its row is not known: named for its power."""
    big, old = rye().tractors
    valued = replace(
        old, pto_power_w=None, list_price=1e5, hours_s=HOUR_S, yearly_hours_s=300 * HOUR_S
    )
    answer = cost_answer(replace(with_prices(ownership=True), tractors=(big, valued)))
    assert Missing(part=PartKey.OWNERSHIP, what="power", name="Old tractor") in answer.missing


@pytest.mark.parametrize(
    ("drive", "rf1"),
    [("2wd", 0.007), ("front assist", 0.007), ("4wd", 0.003), ("tracks", 0.003), (None, 0.007)],
)
def test_tractors_of_four_driven_wheels_have_their_own_repairs(
    drive: Literal["2wd", "front assist", "4wd", "tracks"] | None, rf1: float
) -> None:
    """Four-wheel drive and tracks on one row, the rest on the other."""
    big, old = rye().tractors
    priced = replace(
        old, drive=drive, list_price=1e5, hours_s=1000 * HOUR_S, yearly_hours_s=300 * HOUR_S
    )
    answer = cost_answer(replace(rye(), tractors=(big, priced)))
    each = repairs_per_s(
        list_price=1e5, used_s=1000 * HOUR_S, coming_s=300 * HOUR_S, rf1=rf1, rf2=2.0
    )
    wanted = each * HOUR_S / (15.30 + 15.58)
    assert per_acre(answer, PartKey.REPAIRS) == pytest.approx(wanted, rel=1e-3)


def test_a_tractor_is_found_by_what_it_pulls() -> None:
    """A cultivator that names no tractor is pulled by the one that lists it."""
    tools = tuple(replace(c, tractor=None) for c in rye().cultivators)
    found = tool_matches(replace(rye(), cultivators=tools))
    assert [one.tractor for one in found] == ["Old tractor", "Big tractor"]


def test_a_farm_without_ground_is_refused() -> None:
    """No field, no cost of an acre."""
    with pytest.raises(OutOfRange, match="area"):
        cost_answer(replace(rye(), fields=()))


@given(st.floats(0.1, 10.0))
def test_twice_the_prices_are_twice_the_cost(factor: float) -> None:
    """All prices by one factor: every part and the total by the same."""
    prices = replace(
        PRICES,
        fuel_per_m3=3.60 / GALLON_M3 * factor,
        labour_per_s=24 / HOUR_S * factor,
        point_each=11.0 * factor,
    )
    lots = tuple(
        replace(
            lot,
            price_per_kg=(lot.price_per_kg or 0.0) * factor,
            cleaning_per_kg=(lot.cleaning_per_kg or 0.0) * factor,
        )
        for lot in rye().lots
    )
    found = cost_answer(replace(rye(), prices=prices, lots=lots))
    assert float(found.total.value) == pytest.approx(float(cost_answer(rye()).total.value) * factor)


# --------------------------------------------------------------------------- tractors


def test_both_tractors_of_the_rye_farm_have_enough() -> None:
    """Shanks, depth, drive and soil are assumed and named; both have far more than is needed."""
    found = tool_matches(rye())
    assert [(one.machine, one.tractor) for one in found] == [
        ("Cultivator 1", "Old tractor"),
        ("Cultivator 2", "Big tractor"),
    ]
    for one in found:
        assert one.match.verdict is Verdict.ENOUGH
        assert one.assumed == ("shanks", "depth", "drive", "soil")
        assert one.match.needed.low_w < one.match.needed.typical_w < one.match.needed.high_w


def test_power_needed_by_hand() -> None:
    """60 shanks, 6 cm, 5.5 mph, medium soil, worked ground, front-assist: 50.3 kW.

    0.85 x (32 + 1.9 x 8.851) x 60 x 6 = 14,939 N; x 2.4587 m/s = 36.7 kW; / 0.73 = 50.3 kW.
    """
    first, second = rye().cultivators
    tool = replace(first, shanks_count=60, depth_m=0.06)
    found = tool_matches(replace(rye(), cultivators=(tool, second)))[0]
    assert found.match.needed.typical_w / 1e3 == pytest.approx(50.31, abs=0.05)
    assert found.assumed == ("drive", "soil")


@pytest.mark.parametrize(
    ("pto_kw", "verdict"),
    [(200.0, Verdict.ENOUGH), (55.0, Verdict.TIGHT), (45, Verdict.NOT_ENOUGH)],
)
def test_a_smaller_tractor_is_tight_and_then_not_enough(pto_kw: float, verdict: Verdict) -> None:
    """50.3 kW typical: 200 kW is enough, 55 tight, 45 not enough and burns no figure."""
    first, second = rye().cultivators
    tool = replace(first, shanks_count=60, depth_m=0.06)
    big, old = rye().tractors
    tractors = (big, replace(old, pto_power_w=pto_kw * 1e3))
    farm = replace(rye(), cultivators=(tool, second), tractors=tractors)
    found = tool_matches(farm)[0]
    assert found.match.verdict is verdict
    assert (found.fuel_m3_per_m2 is None) is (verdict is Verdict.NOT_ENOUGH)
    assert (found.throttle_saving_fraction is not None) is (verdict is Verdict.ENOUGH)


def test_fuel_while_pulling_by_hand() -> None:
    """50.3 of 111.9 kW is 45 %: (0.22 x 0.45 + 0.096) x 111.9 = 21.8 L/h over 15.30 / 0.85 ac/h."""
    first, second = rye().cultivators
    tool = replace(first, shanks_count=60, depth_m=0.06)
    found = tool_matches(replace(rye(), cultivators=(tool, second)))[0]
    litres_an_hour = (0.22 * 50.31 / 111.855 + 0.096) * 111.855
    acres_an_hour = 15.30 / 0.85
    assert found.fuel_m3_per_m2 is not None
    assert found.fuel_m3_per_m2 * ACRE_M2 * 1e3 == pytest.approx(
        litres_an_hour / acres_an_hour, rel=1e-3
    )


def test_a_known_drive_narrows_what_is_needed() -> None:
    """Front-assist stated: the typical need stays, its range is that of the ground alone."""
    big, old = rye().tractors
    known = replace(rye(), tractors=(big, replace(old, drive="front assist")))
    guessed, stated = tool_matches(rye())[0], tool_matches(known)[0]
    assert stated.match.needed.typical_w == pytest.approx(guessed.match.needed.typical_w)
    assert guessed.match.needed.low_w < stated.match.needed.low_w
    assert guessed.match.needed.high_w > stated.match.needed.high_w


def test_a_tractor_of_unknown_power_is_left_out() -> None:
    """Nothing is said where nothing is known."""
    tractors = tuple(replace(t, pto_power_w=None) for t in rye().tractors)
    assert tool_matches(replace(rye(), tractors=tractors)) == ()
