"""The cost in words: the number first, each reader's units, nothing hidden."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import get_args

import pytest
from made_folders import ACRE_M2, EXAMPLES, POUND_KG

from duskline.answers.cost import Lack, Note, PartKey, cost_answer
from duskline.cli.cost_json import cost_json
from duskline.core.farm import Farm, Prices
from duskline.exchange.farmfolder import read_farm
from duskline.words.cost import (
    NOTES,
    WHAT,
    cost_headline,
    cost_lines,
    cost_why,
    match_lines,
    money,
)

HOUR_S = 3600.0
GALLON_M3 = 0.003785411784
FORBIDDEN = ("optimi", "polygon", "algorithm", "sync", "dashboard", "coefficient")
US_WORDS = re.compile(r"\b(acres?|ac|lb|pounds?|gal|gallons?|ft|mph|hp|lbf|labor|(?<=\d )in)\b")
METRIC_WORDS = re.compile(r"\b(hectares?|ha|kg|kilograms?|litres?|L|m|mm|km/h|kW|kN|labour)\b")


@cache
def rye() -> Farm:
    """Return the rye farm with every price stated but the fuel used."""
    farm = read_farm(EXAMPLES / "rye-after-soybeans")
    bushel_kg = 56 * POUND_KG
    prices = Prices(
        fuel_per_m3=3.60 / GALLON_M3,
        labour_per_s=24 / HOUR_S,
        point_each=11.0,
        labour_s=75 * HOUR_S,
        points_count=68,
        points_over_m2=1500 * ACRE_M2,
    )
    lots = tuple(
        replace(lot, price_per_kg=9 / bushel_kg, cleaning_per_kg=0.6 / bushel_kg)
        for lot in farm.lots
    )
    return replace(farm, prices=prices, lots=lots)


def priced(**changed: object) -> Farm:
    """Return the rye farm with some prices changed."""
    return replace(rye(), prices=replace(rye().prices, **changed))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("amount", "currency", "text"),
    [
        (19.831, "USD", "$19.83"),
        (4166.2, "NZD", "NZ$4,166.20"),
        (12.5, "EUR", "€12.50"),
        (12.5, "SEK", "SEK 12.50"),
        (-3.0, "GBP", "-£3.00"),
        (-0.001, "USD", "$0.00"),
    ],
)
def test_money_has_its_sign_or_its_code(amount: float, currency: str, text: str) -> None:
    """A dollar of another country is never taken for a US one; no "-$0.00"."""
    assert money(amount, currency) == text


def test_the_one_number_comes_first() -> None:
    """In dollars an acre for one reader, in dollars a hectare for the other."""
    answer = cost_answer(rye())
    lines = cost_lines(answer, "us")
    total = float(answer.total.value)
    assert lines[0] == f"${total * ACRE_M2:.2f} an acre"
    assert cost_headline(answer, "metric") == f"${total * 1e4:.2f} a hectare"


def test_parts_stand_in_a_table_with_their_range_and_the_total() -> None:
    """Each for an acre and over the whole job; fuel by the book has its range."""
    lines = cost_lines(cost_answer(rye()), "us")
    fuel = next(line for line in lines if line.strip().startswith("fuel"))
    assert "$2.70" in fuel
    assert "($1.92 to $3.48)" in fuel
    assert any(line.split()[:1] == ["total"] and " to " in line for line in lines)
    seed = next(line for line in lines if line.strip().startswith("seed"))
    assert seed.split()[1:3] == ["$11.48", "$4,166"]


def test_what_is_missing_is_said_in_the_number_and_in_the_table() -> None:
    """No fuel price: the first line says so, the row says MISSING, and what to state."""
    lines = cost_lines(cost_answer(priced(fuel_per_m3=None)), "us")
    assert lines[0].endswith("an acre, without what is MISSING")
    assert any(line.split() == ["fuel", "MISSING"] for line in lines)
    assert "  MISSING: the price of fuel" in lines
    assert not any("your own:" in line for line in lines)


def test_no_price_at_all_is_no_number() -> None:
    """Nothing stated: no total of nought dollars."""
    lots = tuple(replace(lot, price_per_kg=None, cleaning_per_kg=None) for lot in rye().lots)
    answer = cost_answer(replace(rye(), prices=Prices(), lots=lots))
    lines = cost_lines(answer, "us")
    assert lines[0] == "No price stated"
    assert any(line.split() == ["total", "MISSING"] for line in lines)
    assert "  MISSING: the price of the seed (Bin rye)" in lines
    assert "  MISSING: what an hour of labor costs" in lines
    assert cost_json(answer)["total"] is None


def test_hiring_names_place_and_year() -> None:
    """Iowa 2019 and Pennsylvania 2022, and the farm's own beside them without seed."""
    text = "\n".join(cost_lines(cost_answer(rye()), "us"))
    assert "Iowa 2019: $16.00 an acre" in text
    assert "Pennsylvania 2022: $14.20 an acre ($8.00 to $17.00)" in text
    assert "the two together: $30.20 an acre" in text
    assert "your machines' worth not counted" in text


def test_an_offer_in_another_currency_stands_alone() -> None:
    """NZ$95 a hectare; no survey in US dollars beside it."""
    text = "\n".join(cost_lines(cost_answer(priced(currency="NZD", custom_per_m2=95e-4)), "metric"))
    assert "the offer you have: NZ$95.00 a hectare" in text
    assert "Iowa" not in text


def test_what_is_not_counted_is_said_in_one_sentence() -> None:
    """Own-bin seed at the farmer's price, machines' ownership not in it."""
    lines = cost_lines(cost_answer(rye()), "us")
    assert "  Own-bin seed charged at your price, machine ownership not counted." in lines


@pytest.mark.parametrize("system", ["us", "metric"])
def test_units_are_never_mixed_and_words_are_plain(system: str) -> None:
    """All lines and the working: one system, no word of the office; kilowatts or horsepower."""
    reader = "us" if system == "us" else "metric"
    answer = cost_answer(priced(labour_s=None))
    lines = cost_lines(answer, reader) + cost_why(answer, reader)  # type: ignore[arg-type]
    # What stands in square brackets or behind "hired" names a source in its own words.
    text = "\n".join(re.sub(r"\[.*\]|.*hired by the acre.*", "", line) for line in lines)
    other = METRIC_WORDS if system == "us" else US_WORDS
    assert other.findall(text) == []
    assert not any(word in text.lower() for word in FORBIDDEN)


def test_everything_that_may_be_missing_or_noted_has_its_words() -> None:
    """No lack and no note without a sentence."""
    assert set(WHAT) == set(get_args(Lack))
    assert set(NOTES) == set(Note)


def test_hours_of_the_seats_are_called_that() -> None:
    """Labor from the machines' rates is not the whole of it; labour to the other reader."""
    answer = cost_answer(priced(labour_s=None))
    us, metric = cost_lines(answer, "us"), cost_lines(answer, "metric")
    tail = "is time in the seats only: no seed truck, no moves, no waits."
    assert f"  Labor {tail}" in us
    assert f"  Labour {tail}" in metric


def test_owning_is_counted_with_what_is_left_out_of_it() -> None:
    """Asked for, but no list price: MISSING by machine, and taxes, insurance, shed named."""
    answer = cost_answer(priced(ownership=True))
    lines = cost_lines(answer, "us")
    assert answer.parts[PartKey.OWNERSHIP] is None
    assert "  MISSING: the list price (Old tractor)" in lines
    assert "  Own-bin seed charged at your price." in lines
    assert any("taxes, insurance and shed" in line for line in lines)


def test_the_working_shows_prices_as_they_are_quoted() -> None:
    """Dollars a gallon, an hour, a pound; the tank's gallons an acre."""
    text = "\n".join(cost_why(cost_answer(rye()), "us"))
    assert "price of fuel: $3.60 a gallon" in text
    assert "price of labor: $24.00 an hour" in text
    assert "price of Bin rye: $0.1607 a pound" in text
    assert "0.60 gal/ac (0.39 gal/ac to 0.81 gal/ac)" in text
    assert "USD" not in text


def test_a_tractor_is_told_plainly() -> None:
    """Enough power, the share of it, and what is not the farmer's own figure."""
    lines = match_lines(cost_answer(rye()).matches, "us")
    assert lines[0].startswith("  Old tractor has enough power for Cultivator 1: about ")
    assert "hp of 150 hp at the PTO" in lines[0]
    assert match_lines((), "us") == []


def test_json_has_its_fixed_names_and_nulls() -> None:
    """per_acre with every part, total, currency; null for what is missing or not asked for."""
    found = cost_json(cost_answer(priced(point_each=None)))
    assert set(found["per_acre"]) == {
        "seed", "cleaning", "fuel", "labour", "points", "repairs", "ownership",
    }  # fmt: skip
    assert found["currency"] == "USD"
    assert found["per_acre"]["points"] is None
    assert found["per_acre"]["ownership"] is None
    assert "ownership" in found["not_counted"]
    assert found["missing"] == [{"part": "points", "what": "point price", "name": None}]
    stated = [value for value in found["per_acre"].values() if value is not None]
    assert found["total"] == pytest.approx(sum(stated), abs=1e-5)
    assert found["per_hectare"]["seed"] == pytest.approx(
        found["per_acre"]["seed"] * 1e4 / ACRE_M2, abs=1e-5
    )
    assert found["ranges_per_acre"]["fuel"]["low"] < found["per_acre"]["fuel"]
