"""What the farmer asks of a tray test."""

from __future__ import annotations

import pytest
from made_folders import EXAMPLES, FOOT_M, asked, asked_json

A = EXAMPLES / "rye-after-soybeans" / "trays.csv"
B = EXAMPLES / "oats-and-radish"


def cv(found: object, width_m: float, way: str) -> float:
    """Return the evenness at a width, in percent."""
    rows = found["widths"]  # type: ignore[index]
    row = min(rows, key=lambda one: abs(one["driving_width_m"] - width_m))
    assert row["driving_width_m"] == pytest.approx(width_m)
    return float(row[way]) * 100


def test_story_9_the_rye_trays_hold_to_45_feet() -> None:
    """Back and forth 40 ft 11 %, 45 ft 11 %, 50 ft 15.5 %, 60 ft 34 %: 45 ft at most."""
    found = asked_json("trays", A)
    for feet, forth, about in ((40, 11, 6.8), (45, 11, 2.4), (50, 15.5, 10.9), (60, 34, 33)):
        half = 0.05 if forth % 1 else 0.5
        assert cv(found, feet * FOOT_M, "cv_back_and_forth") == pytest.approx(forth, abs=half)
        half = 0.05 if about % 1 else 0.5
        assert cv(found, feet * FOOT_M, "cv_round") == pytest.approx(about, abs=half)
    assert found["good_to_back_and_forth_m"] == pytest.approx(45 * FOOT_M)
    assert "DRIVE 45 FT AT MOST" in asked("trays", A).stdout


def test_story_12_the_narrow_seed_rules_a_mix_and_the_cost_is_said() -> None:
    """Oats hold to 12 m, radish to 9: drive 9 m, 10.8 -> 8.1 ha/h before loading."""
    found = asked_json("trays", B)
    good = {test["name"]: test["good_to_back_and_forth_m"] for test in found["tests"]}
    assert good == {"trays-oats": pytest.approx(12.0), "trays-radish": pytest.approx(9.0)}
    assert found["mixed"]["driving_width_m"] == pytest.approx(9.0)
    oats, radish = found["tests"]
    assert cv(oats, 12.0, "cv_back_and_forth") == pytest.approx(9.8, abs=0.05)
    assert cv(oats, 13.0, "cv_back_and_forth") == pytest.approx(19.0, abs=0.05)
    assert cv(radish, 9.0, "cv_back_and_forth") == pytest.approx(14.7, abs=0.05)
    assert cv(radish, 10.0, "cv_back_and_forth") == pytest.approx(26.6, abs=0.05)
    assert "8.10 ha/h instead of 10.80 ha/h" in " ".join(asked("trays", B).stdout.split())
