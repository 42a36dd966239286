"""What the farmer asks of the cost."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_folders import ACRE_M2, EXAMPLES, POUND_KG

from duskline.answers.cost import CostAnswer, cost_answer
from duskline.cli.cost_json import cost_json
from duskline.core.farm import Prices
from duskline.exchange.farmfolder import read_farm
from duskline.words.cost import cost_lines

HOUR_S = 3600.0
GALLON_M3 = 0.003785411784
STORY = {"seed": 11.48, "cleaning": 0.80, "fuel": 2.09, "labour": 4.96, "points": 0.50}


def scenario_a() -> CostAnswer:
    """Return the rye farm's cost at the prices of the story, over all of its ground."""
    farm = read_farm(EXAMPLES / "rye-after-soybeans")
    bushel_kg = 56 * POUND_KG
    lots = tuple(
        replace(lot, price_per_kg=9.00 / bushel_kg, cleaning_per_kg=0.60 / bushel_kg)
        for lot in farm.lots
    )
    prices = Prices(
        fuel_per_m3=3.60 / GALLON_M3,
        fuel_m3_per_m2=0.58 * GALLON_M3 / ACRE_M2,
        labour_per_s=24 / HOUR_S,
        labour_s=3 * 25 * HOUR_S,
        point_each=11.0,
        points_count=68,
        points_over_m2=1500 * ACRE_M2,
    )
    fields = tuple(replace(field, left_out=()) for field in farm.fields)
    return cost_answer(replace(farm, lots=lots, prices=prices, fields=fields))


def test_story_40_an_acre_of_scenario_a_costs_19_dollars_83() -> None:
    """$19.83 = seed 11.48, cleaning 0.80, fuel 2.09, labour 4.96, points 0.50, each to a cent."""
    found = cost_json(scenario_a())
    assert found["total"] == pytest.approx(19.83, abs=0.005)
    for part, dollars in STORY.items():
        assert found["per_acre"][part] == pytest.approx(dollars, abs=0.005), part
    assert found["currency"] == "USD"
    assert found["whole"] is True


def test_story_40_is_told_with_what_is_not_counted() -> None:
    """The number first, then its parts; own-bin seed at your price, ownership not counted."""
    lines = cost_lines(scenario_a(), "us")
    assert lines[0] == "$19.83 an acre"
    table = {
        line.split()[0]: line.split()[1] for line in lines if line.startswith("  ") and "$" in line
    }
    assert table["seed"] == "$11.48"
    assert table["cleaning"] == "$0.80"
    assert table["fuel"] == "$2.09"
    assert table["labor"] == "$4.96"
    assert table["points"] == "$0.50"
    text = "\n".join(lines).lower()
    assert "own-bin seed charged at your price, machine ownership not counted" in text
