"""The example farms with their answers, worked out once for all tests of drawings and sheets."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from duskline.answers.day import DayAnswer, DayQuestion, day_answer
from duskline.core.farm import Farm
from duskline.exchange.farmfolder import read_farm

EXAMPLES = Path(__file__).parents[1] / "examples"
ACRE_M2 = 4046.8564224
POUND_KG = 0.45359237
RYE, OATS, FORTY = "rye-after-soybeans", "oats-and-radish", "forty-fields"
CASES = ("rye", "rye rain day", "rye now", "rye rain called", "rye hopeless", "oats", "forty")
DAYS_DRAWN = 400


@cache
def farm_of(name: str) -> Farm:
    """An example farm."""
    return read_farm(EXAMPLES / name)


def _question(case: str) -> tuple[str, DayQuestion]:
    zone = ZoneInfo("America/Chicago")
    at = datetime(2026, 10, 18, 13, 15, tzinfo=zone)
    now = DayQuestion(now_at=at, spread_m2=103 * ACRE_M2, covered_m2=52 * ACRE_M2)
    return {
        "rye": (RYE, DayQuestion()),
        "rye rain day": (RYE, DayQuestion(on=date(2026, 10, 19))),
        "rye now": (RYE, now),
        "rye rain called": (RYE, replace(now, rain_at=at.replace(hour=16, minute=30))),
        "rye hopeless": (
            RYE,
            DayQuestion(
                now_at=at.replace(hour=17, minute=0),
                spread_m2=60 * ACRE_M2,
                covered_m2=10 * ACRE_M2,
            ),
        ),
        "oats": (OATS, DayQuestion()),
        "forty": (FORTY, DayQuestion()),
    }[case]


@cache
def day_of(case: str) -> tuple[Farm, DayAnswer]:
    """A farm and the answer for one of ``CASES``, on few drawn days."""
    name, question = _question(case)
    farm = farm_of(name)
    return farm, day_answer(farm, replace(question, replications=DAYS_DRAWN))
