"""The live answer as JSON: fixed names, SI with units in the names, ISO times."""

from __future__ import annotations

import json
import math
from datetime import datetime, timedelta
from typing import Any

import pytest
from made_days import RYE, farm_of
from made_live import at, rye_day_one, story_22

from duskline.answers.live import live_answer
from duskline.cli.live_json import live_json


def numbers(value: Any) -> list[float]:
    """Every number in a JSON value."""
    if isinstance(value, dict):
        return [n for item in value.values() for n in numbers(item)]
    if isinstance(value, list):
        return [n for item in value for n in numbers(item)]
    return [value] if isinstance(value, float) else []


@pytest.mark.parametrize("hour", [7, 13, 15, 20])
def test_it_is_json_through_the_day_and_back(hour: int) -> None:
    """Every hour of the day can be written, with finite numbers, and read again."""
    farm, now = farm_of(RYE), at(hour)
    events = [event for event in rye_day_one() if event.at <= now]
    found = live_json(farm, live_answer(farm, now, events=events, replications=400))
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert all(math.isfinite(number) for number in numbers(found))
    assert datetime.fromisoformat(found["now_at"]) == now
    assert (found["day"] is None) == (hour == 20)


def test_its_figures_are_the_answers() -> None:
    """Stop, chance, open ground, causes and lines are those of the answer."""
    farm = farm_of(RYE)
    answer = live_answer(farm, at(13), events=story_22(), replications=400)
    found = live_json(farm, answer, day_too=False)
    assert answer.day is not None
    stop = datetime.fromisoformat(found["stop_at"])
    assert abs(stop - answer.day.stop_at) < timedelta(seconds=1)
    assert found["chance"] == answer.day.chance_fraction
    assert found["open_m2"] == {"told": answer.told_open_m2, "now": answer.open_m2}
    assert found["causes"][0]["key"] == "covering pace"
    assert found["causes"][0]["line"].startswith(
        "Covering runs 12.3 ac/h (plan 15.3, reckoned with 1"
    )
    assert found["machines"][1]["machine"] == "Cultivator 1"
    assert 0.0 < found["machines"][1]["learned_fraction"] < 1.0
    assert found["day"] is None
