"""What the farmer asks of the seed, as he would ask it at the command line."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_folders import ACRE_M2, EXAMPLES, POUND_KG, asked, asked_json, copy_of

LB_PER_AC = POUND_KG / ACRE_M2
RYE = "rye-after-soybeans"
COUNTS = 'germination = ["44 of 50", "45 of 50", "43 of 50", "44 of 50"]'


def with_counts(folder: Path, counts: str) -> Path:
    """Return the rye farm with another germination count."""
    return copy_of(RYE, folder, farm_toml=[(COUNTS, f"germination = {counts}")])


def test_story_1_a_count_of_172_in_200_reads_86_plan_on_81(tmp_path: Path) -> None:
    """172 of 200 normal: "86 % (plan on 81 %)", the exact one-sided 95 % low side 81.3 %."""
    farm = with_counts(tmp_path, '["172 of 200"]')
    assert "86 % (plan on 81 %)" in asked("seed", farm).stdout
    assert asked_json("seed", farm)["germination"]["low"] == pytest.approx(0.813, abs=0.0005)


@pytest.mark.parametrize(("count", "low"), [("88 of 100", 0.813), ("176 of 200", 0.835)])
def test_story_2_a_bigger_count_narrows_the_low_side(
    tmp_path: Path, count: str, low: float
) -> None:
    """88 of 100 and 176 of 200 are both 88 %; the low sides are 81.3 and 83.5 %."""
    farm = with_counts(tmp_path, f'["{count}"]')
    found = asked("seed", farm)
    assert asked_json("seed", farm)["germination"] == {
        "estimate": pytest.approx(0.88),
        "low": pytest.approx(low, abs=0.0005),
    }
    assert "a bigger count would narrow it" in " ".join(found.stdout.split())
    assert found.exit_code in {0, 1}


def test_story_3_one_box_says_bulk_bushels_and_live() -> None:
    """61 lb live of an 88/97 rye: 71.5 lb bulk, 1.28 bu, 61.0 live, each with its word."""
    line = next(
        line for line in asked("seed", EXAMPLES / RYE).stdout.splitlines() if "Rate:" in line
    )
    assert "71.5 lb/ac bulk" in line
    assert "1.28 bu/ac (56 lb bushels)" in line
    assert "61.0 lb/ac live" in line


def test_story_4_a_set_bulk_rate_is_held_against_the_floor(tmp_path: Path) -> None:
    """68 lb bulk of the same lot is 58.0 live, 3.0 short of the floor of 61, +3.5 lb bulk."""
    farm = copy_of(RYE, tmp_path, farm_toml=[('live_rate = "61 lb/ac"', 'bulk_rate = "68 lb/ac"')])
    text = " ".join(asked("seed", farm).stdout.split())
    assert "58.0 lb/ac live" in text
    assert "3.0 lb/ac live short of the floor: needs +3.5 lb/ac bulk" in text
    assert asked("seed", farm).exit_code == 1


def test_story_6_weevils_warn_beside_the_germination(tmp_path: Path) -> None:
    """Three live weevils in a kilogram: the warning stands beside the germination, not instead."""
    lot = 'test_weight = "54 lb/bu"'
    insects = f'{lot}\ninsects = {{ weevils = 3, sample = "1 kg" }}'
    farm = copy_of(RYE, tmp_path, farm_toml=[(lot, insects)])
    text = asked("seed", farm).stdout
    assert "INSECTS: 3 live weevils" in text
    assert "88 % (plan on 84 %)" in text


def test_story_7_the_country_changes_the_bushel_and_not_the_pounds(tmp_path: Path) -> None:
    """Oats: 32 lb a bushel in the US, 34 in Canada; pounds an acre stay as they are."""
    changes = [('species = "rye"', 'species = "oats"')]
    us = asked_json("seed", copy_of(RYE, tmp_path / "us", farm_toml=changes))
    changes.append(('country = "US"', 'country = "CA"'))
    canada = asked_json("seed", copy_of(RYE, tmp_path / "ca", farm_toml=changes))
    ratio = us["rate"]["bushels_per_acre"] / canada["rate"]["bushels_per_acre"]
    assert ratio == pytest.approx(34 / 32)
    assert us["rate"]["bulk_kg_per_m2"] == canada["rate"]["bulk_kg_per_m2"]


def test_story_8_the_bin_is_enough_by_two_percent() -> None:
    """26,501 lb clean, 25,923 needed: 2.2 % to spare; at 5 % over it runs out at 353 acres."""
    text = " ".join(asked("seed", EXAMPLES / RYE).stdout.split())
    assert "26,501 lb on hand, 25,923 lb needed, 2.2 % to spare" in text
    assert "at 5 % over you run out at 353 ac" in text
    found = asked_json("seed", EXAMPLES / RYE)
    assert found["bin"]["enough"] is True
    assert found["loads"] == pytest.approx(4.32, abs=0.005)
    assert found["bin"]["volume_m3"] / 0.03523907016688 == pytest.approx(511, abs=0.5)


def test_story_10_the_bucket_agrees_with_weighing() -> None:
    """46.2 lb/min of 54 lb rye fills a level 5 gallon bucket in 37.7 s; weighing agrees in 3 %."""
    flow = asked_json("seed", EXAMPLES / RYE)["flow"][0]
    assert flow["flow_kg_per_s"] * 60 / POUND_KG == pytest.approx(46.2, abs=0.05)
    assert flow["bucket_s"] == pytest.approx(37.7, abs=0.05)
    weighed_kg = 54 * POUND_KG * (5 * 0.003785411784 / 0.03523907016688)
    assert weighed_kg / flow["flow_kg_per_s"] == pytest.approx(flow["bucket_s"], rel=0.03)


def test_story_11_the_first_load_sets_the_gate() -> None:
    """6,000 lb ran empty after 76 ac: 78.9 lb bulk, 10.5 % heavy, gate to 0.905 of flow."""
    text = " ".join(asked("seed", EXAMPLES / RYE, "--first-load", "76 ac").stdout.split())
    assert "78.9 lb/ac bulk, 10.5 % heavy: close the gate to 0.905 of flow" in text
    assert "The 20,501 lb left do 286.9 ac once corrected, 259.7 ac if not" in text
