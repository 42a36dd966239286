"""Prices as written: one currency, SI, bushels by their weight; and names that must meet."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_folders import ACRE_M2, EXAMPLES, HECTARE_M2, POUND_KG, copy_of

from duskline.exchange.farmfolder import read_farm, read_folder

RYE = "rye-after-soybeans"
GALLON_M3 = 0.003785411784


def sentences(folder: Path) -> list[str]:
    """All problems of a folder."""
    return [problem.sentence for problem in read_folder(folder).problems]


def test_the_rye_farms_prices() -> None:
    """A 56 lb bushel at $9.00, fuel, labor, points, all in SI; what is not stated stays out."""
    farm = read_farm(EXAMPLES / RYE)
    prices, (lot,) = farm.prices, farm.lots
    assert prices.currency == "USD"
    assert lot.price_per_kg == pytest.approx(9.00 / (56 * POUND_KG))
    assert lot.cleaning_per_kg == pytest.approx(0.60 / (56 * POUND_KG))
    assert prices.fuel_per_m3 == pytest.approx(3.60 / GALLON_M3)
    assert prices.fuel_m3_per_m2 == pytest.approx(0.58 * GALLON_M3 / ACRE_M2)
    assert prices.labour_per_s == pytest.approx(24.0 / 3600.0)
    assert prices.labour_s == 75 * 3600.0
    assert (prices.point_each, prices.points_count) == (11.0, 68)
    assert prices.points_over_m2 == pytest.approx(1500 * ACRE_M2)
    assert prices.custom_per_m2 is None
    assert not prices.ownership


def test_the_new_zealand_farms_prices() -> None:
    """Dollars of its own, tonnes, litres and hectares."""
    farm = read_farm(EXAMPLES / "oats-and-radish")
    assert farm.prices.currency == "NZD"
    assert farm.lot("Oats").price_per_kg == pytest.approx(0.52)
    assert farm.lot("Radish").price_per_kg == pytest.approx(7.50)
    assert farm.lot("Oats and radish").price_per_kg is None
    assert farm.prices.fuel_per_m3 == pytest.approx(1950.0)
    assert farm.prices.labour_per_s == pytest.approx(38.0 / 3600.0)
    assert farm.prices.custom_per_m2 == pytest.approx(95.0 / HECTARE_M2)


@pytest.mark.parametrize(
    ("text", "per_kg"),
    [
        ("9.00 per bu", 9.0 / (56 * POUND_KG)),
        ("$9.00/bu", 9.0 / (56 * POUND_KG)),
        ("9 USD per bushel", 9.0 / (56 * POUND_KG)),
        ("0.16 per lb", 0.16 / POUND_KG),
        ("16 per cwt", 0.16 / POUND_KG),
        ("350 per t", 0.35),
    ],
)
def test_seed_is_priced_by_bushel_or_weight(text: str, per_kg: float, tmp_path: Path) -> None:
    """However it is written."""
    folder = copy_of(RYE, tmp_path, farm_toml=[("9.00 per bu", text)])
    assert read_farm(folder).lots[0].price_per_kg == pytest.approx(per_kg)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("11 each", "€11 each", "read a price in EUR; expected prices in USD"),
        ("11 each", "11 NZD each", "read a price in NZD; expected prices in USD"),
        ("[prices]", '[prices]\ncurrency = "EUR"\ncustom = "$28 per ac"', "read a price in $"),
        ('country = "US"', 'country = "ZZ"', "the three letters of the money"),
        ('species = "rye"', 'species = "phacelia"', "which has no standard bushel here"),
    ],
)
def test_prices_that_do_not_go_together_are_told(
    old: str, new: str, says: str, tmp_path: Path
) -> None:
    """Two currencies, none, and a bushel of something nobody sells by the bushel."""
    assert any(says in text for text in sentences(copy_of(RYE, tmp_path, farm_toml=[(old, new)])))


def test_a_mix_has_no_price_of_its_own(tmp_path: Path) -> None:
    """Its parts do."""
    mix = 'parts = ["Oats", "Radish"]'
    folder = copy_of("oats-and-radish", tmp_path, farm_toml=[(mix, f'{mix}\nprice = "1 per kg"')])
    assert any("prices on its parts only" in text for text in sentences(folder))


def test_a_country_names_its_money(tmp_path: Path) -> None:
    """Canada without a currency stated: Canadian dollars; a dollar sign is not refused there."""
    folder = copy_of(RYE, tmp_path, farm_toml=[('country = "US"', 'country = "CA"'),
                                               ("11 each", "$11 each")])  # fmt: skip
    assert read_farm(folder).prices.currency == "CAD"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('cultivator = "Cultivator 1"\nrow = "front"', 'cultivator = "Cultivator"\nrow = "front"',
         "points.cultivator: read 'Cultivator'; expected the name of a cultivator. Did you mean"),
        ('cultivator = "Cultivator 1"\nfront', 'cultivator = "Tiller"\nfront', "pokes.cultivator"),
        ('row = "second"', 'row = "front"', "'Cultivator 1, row front' twice"),
    ],
)  # fmt: skip
def test_points_and_pokes_name_a_cultivator(old: str, new: str, says: str, tmp_path: Path) -> None:
    """With the nearest name; one row is measured once."""
    assert any(says in text for text in sentences(copy_of(RYE, tmp_path, farm_toml=[(old, new)])))


def test_machines_carry_what_was_stated_and_defaults_else() -> None:
    """Shanks, depth and drive; the spreader's radius is a default and says so."""
    farm = read_farm(EXAMPLES / RYE)
    first = farm.cultivators[0]
    assert (first.shanks_count, first.reverses, first.trailing_m) == (60, False, 0.0)
    assert first.depth_m == pytest.approx(0.0381)
    assert [one.drive for one in farm.tractors] == ["front assist", "2wd"]
    assert farm.figures["spreader.Spreader.turning_radius"].is_default
    assert sum(farm.point_rows[0].worn_m) / 6 == pytest.approx(0.018)
    assert sum(farm.pokes[0].front_m) / 4 == pytest.approx(1.1 * 0.0254)
