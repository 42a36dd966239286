"""The seed answer on whole farm folders: fitness, rate, bin, loads and flow."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_folders import ACRE_M2, EXAMPLES, FOOT_M, HECTARE_M2, POUND_KG, copy_of

from duskline.answers.seed import (
    LotAnswer,
    SeedAnswer,
    lot_rate_kg_per_m2,
    seed_answer,
    spreader_load_kg,
)
from duskline.core.errors import OutOfRange
from duskline.core.seed import FitnessLevel
from duskline.exchange.farmfolder import read_farm
from duskline.units import BUSHEL_M3

LB_PER_AC = POUND_KG / ACRE_M2
RYE, OATS, FORTY = "rye-after-soybeans", "oats-and-radish", "forty-fields"
COUNTS = '["44 of 50", "45 of 50", "43 of 50", "44 of 50"]'
LIVE = 'live_rate = "61 lb/ac"'
BIN = 'cleaning_loss = "4 %"'


def answered(folder: Path, example: str, *pairs: tuple[str, str]) -> SeedAnswer:
    """The answer for an example with texts of its farm.toml replaced."""
    return seed_answer(read_farm(copy_of(example, folder, farm_toml=list(pairs))))


def rye(folder: Path, *pairs: tuple[str, str]) -> LotAnswer:
    """The one lot of the rye farm."""
    (lot,) = answered(folder, RYE, *pairs).lots
    return lot


def lot_of(answer: SeedAnswer, name: str) -> LotAnswer:
    """The lot of that name."""
    (found,) = [one for one in answer.lots if one.lot.name == name]
    return found


# --- germination and fitness ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("count", "estimate", "low"),
    [("172 of 200", 0.86, 0.813), ("88 of 100", 0.88, 0.813), ("176 of 200", 0.88, 0.835)],
)
def test_the_low_side_of_a_count(tmp_path: Path, count: str, estimate: float, low: float) -> None:
    """172 of 200 is 86 %, plan on 81; 88 of 100 has the same low side, 176 of 200 a better one."""
    found = rye(tmp_path, (COUNTS, f'["{count}"]')).germination
    assert found is not None
    assert found.estimate_fraction == pytest.approx(estimate, abs=1e-12)
    assert found.low_fraction == pytest.approx(low, abs=0.0005)


@pytest.mark.parametrize(
    ("count", "level", "tick"),
    [
        ("85 of 100", FitnessLevel.USE, True),
        ("84 of 100", FitnessLevel.USE_HEAVIER, True),
        ("68 of 100", FitnessLevel.ASK_FIRST, False),
        ("49 of 100", FitnessLevel.DO_NOT, False),
    ],
)
def test_the_levels_of_fitness(tmp_path: Path, count: str, level: FitnessLevel, tick: bool) -> None:
    """85 use; below that heavier; below 70 ask the office first; below 50 do not sow."""
    fit = rye(tmp_path, (COUNTS, f'["{count}"]')).fitness
    assert fit is not None
    assert (fit.level, fit.tick) == (level, tick)


def test_a_weak_lot_has_its_tick_once_it_is_written_down_who_agreed(tmp_path: Path) -> None:
    """68 %: no tick before the office has agreed; with a name and a day there is one."""
    weak = (COUNTS, '["68 of 100"]')
    assert not answered(tmp_path / "before", RYE, weak).good
    agreed = (LIVE, f'{LIVE}\nagreed_by = "J. Doe, county office"\nagreed_on = 2026-10-01')
    fit = rye(tmp_path / "after", weak, agreed).fitness
    assert fit is not None
    assert fit.level is FitnessLevel.ASK_FIRST
    assert fit.tick
    half = (LIVE, f'{LIVE}\nagreed_by = "J. Doe, county office"')
    without_day = rye(tmp_path / "half", weak, half).fitness
    assert without_day is not None
    assert not without_day.tick


def test_insects_stand_beside_the_germination_and_not_in_its_place(tmp_path: Path) -> None:
    """Three live weevils in a kilogram of rye: infested, and still 88 % and fit."""
    insects = (LIVE, f'{LIVE}\ninsects = {{ weevils = 3, sample = "1 kg" }}')
    lot = rye(tmp_path, insects)
    assert lot.insects is not None
    assert lot.insects.infested
    assert lot.insects.warn
    assert lot.fitness is not None
    assert lot.fitness.level is FitnessLevel.USE


def test_the_weakest_part_decides_on_a_mix(tmp_path: Path) -> None:
    """Good oats with radish that germinates 60 %: no tick on the mix, and the radish is named."""
    weak = ('germination = ["90 of 100", "90 of 100"]', 'germination = ["60 of 100"]')
    answer = answered(tmp_path, OATS, weak)
    assert answer.main.fitness is not None
    assert answer.main.fitness_lot == "Radish"
    assert not answer.main.fitness.tick
    assert not answer.good


def test_insects_in_any_part_of_a_mix_are_told(tmp_path: Path) -> None:
    """Weevils in the radish, of which there is least, are still weevils in the spreader."""
    live = 'live_rate = "3.0 kg/ha"'
    lot = answered(tmp_path, OATS, (live, f'{live}\ninsects = {{ others = 2, sample = "1 kg" }}'))
    assert lot.main.insects is not None
    assert lot.main.insects.warn


# --- rates ---------------------------------------------------------------------------------


def test_one_live_rate_in_bulk_bushels_and_live() -> None:
    """61 lb live at 88 and 97 %: 61 / 0.8536 = 71.46 lb bulk, 71.46 / 56 = 1.28 bu, 61.0 live."""
    (lot,) = seed_answer(read_farm(EXAMPLES / RYE)).lots
    assert lot.rate is not None
    assert lot.rate.bushels_per_m2 is not None
    assert lot.bulk_kg_per_m2 / LB_PER_AC == pytest.approx(71.46, abs=0.005)
    assert lot.rate.bushels_per_m2 * ACRE_M2 == pytest.approx(1.28, abs=0.005)
    assert lot.rate.live_kg_per_m2 / LB_PER_AC == pytest.approx(61.0, abs=1e-9)
    assert lot.rate.live_seeds_per_m2 == pytest.approx(26.5 / FOOT_M**2, abs=0.05 / FOOT_M**2)
    assert lot.floor is not None
    assert lot.floor.met


def test_a_set_bulk_rate_against_the_floor(tmp_path: Path) -> None:
    """68 lb bulk is 58.0 live, 3.0 short of 61: 3.0 / 0.8536 = 3.5 lb bulk more."""
    lot = rye(tmp_path, (LIVE, 'bulk_rate = "68 lb/ac"'))
    assert lot.rate is not None
    assert lot.floor is not None
    assert not lot.floor.met
    assert lot.rate.live_kg_per_m2 / LB_PER_AC == pytest.approx(58.0, abs=0.05)
    assert lot.floor.short_live_kg_per_m2 / LB_PER_AC == pytest.approx(3.0, abs=0.05)
    assert lot.floor.short_bulk_kg_per_m2 / LB_PER_AC == pytest.approx(3.5, abs=0.05)


@pytest.mark.parametrize(("country", "pounds"), [("US", 32), ("CA", 34)])
def test_the_country_sets_the_bushel_of_oats(tmp_path: Path, country: str, pounds: int) -> None:
    """A bushel of oats is 32 lb in the US and 34 in Canada; the pounds an acre stay."""
    lot = rye(tmp_path, ('species = "rye"', 'species = "oats"'), ('"US"', f'"{country}"'))
    assert lot.lot.bushel_kg == pytest.approx(pounds * POUND_KG, rel=1e-4)
    assert lot.rate is not None
    assert lot.rate.bushels_per_m2 is not None
    assert lot.rate.bushels_per_m2 * ACRE_M2 == pytest.approx(71.462 / pounds, rel=1e-4)
    assert lot.bulk_kg_per_m2 / LB_PER_AC == pytest.approx(71.462, abs=0.001)


def test_a_rate_in_bushels_follows_the_country_too(tmp_path: Path) -> None:
    """2 bu of oats an acre is 64 lb in the US, 68 lb in Canada: there the pounds change."""
    oats = (('species = "rye"', 'species = "oats"'), (LIVE, 'bushel_rate = "2 bu/ac"'))
    us = rye(tmp_path / "us", *oats)
    canada = rye(tmp_path / "ca", *oats, ('"US"', '"CA"'))
    assert us.bulk_kg_per_m2 / LB_PER_AC == pytest.approx(64.0, rel=1e-4)
    assert canada.bulk_kg_per_m2 / LB_PER_AC == pytest.approx(68.0, rel=1e-4)


def test_oats_by_stand_and_radish_by_live_rate_make_one_mix() -> None:
    """Oats 200 / (27,778 x 0.9062 x 0.7) = 113.5 kg/ha, radish 3.0 / 0.891 = 3.37: 116.9."""
    (lot,) = seed_answer(read_farm(EXAMPLES / OATS)).lots
    assert lot.mix is not None
    rates = {part.name: part.rate.bulk_kg_per_m2 * HECTARE_M2 for part in lot.mix.parts}
    assert rates["Oats"] == pytest.approx(113.5, abs=0.05)
    assert rates["Radish"] == pytest.approx(3.37, abs=0.005)
    assert lot.bulk_kg_per_m2 * HECTARE_M2 == pytest.approx(116.9, abs=0.05)


def test_the_mix_fills_the_hopper_and_flows() -> None:
    """5,000 L x 0.95 x 0.504 = 2,394 kg; / 116.9 = 20.5 ha; 9 m x 200 m/min x 116.9 = 21.0."""
    (lot,) = seed_answer(read_farm(EXAMPLES / OATS)).lots
    (flow,) = lot.flows
    assert flow.load_kg == pytest.approx(2394, abs=0.5)
    assert flow.load_area_m2 / HECTARE_M2 == pytest.approx(20.5, abs=0.05)
    assert flow.flow_kg_per_s * 60 == pytest.approx(21.0, abs=0.05)


@pytest.mark.parametrize(
    ("name", "bulk", "bushels", "total_lb"),
    [("W", 120.0, 2.0, 103_761), ("Y", 73.98, 1.32, 28_198), ("K", 137.1, 2.74, 52_657)],
)
def test_three_lots_of_a_custom_operator(
    name: str, bulk: float, bushels: float, total_lb: int
) -> None:
    """Wheat by bushels, rye by live pounds, triticale by stand, over their own fields.

    The totals were worked from acres to two decimals a field; the outlines of the example are
    drawn to a centimetre, which is worth 2 lb over 865 acres.
    """
    lot = lot_of(seed_answer(read_farm(EXAMPLES / FORTY)), name)
    assert lot.rate is not None
    assert lot.rate.bushels_per_m2 is not None
    digits = 0.05 if bulk > 100 else 0.005
    assert lot.bulk_kg_per_m2 / LB_PER_AC == pytest.approx(bulk, abs=digits)
    assert lot.rate.bushels_per_m2 * ACRE_M2 == pytest.approx(bushels, abs=0.005)
    assert lot.bulk_kg_per_m2 * lot.area_m2 / POUND_KG == pytest.approx(total_lb, abs=2.0)


def test_two_bushels_of_wheat_in_live_pounds_and_live_seeds() -> None:
    """120 lb x 0.91 x 0.982 = 107.2 lb live; x 13,600 / 43,560 = 33.5 live seeds a square foot."""
    lot = lot_of(seed_answer(read_farm(EXAMPLES / FORTY)), "W")
    assert lot.rate is not None
    assert lot.rate.live_kg_per_m2 / LB_PER_AC == pytest.approx(107.2, abs=0.05)
    assert lot.rate.live_seeds_per_m2 == pytest.approx(33.5 / FOOT_M**2, abs=0.05 / FOOT_M**2)


def test_the_lot_of_most_acres_is_the_main_one() -> None:
    """Wheat on 865 acres, rye on 381, triticale on 384."""
    answer = seed_answer(read_farm(EXAMPLES / FORTY))
    assert answer.main.lot.name == "W"
    assert sum(one.area_m2 for one in answer.lots) / ACRE_M2 == pytest.approx(1629.81, abs=0.02)


def test_hard_seed_counts_as_live(tmp_path: Path) -> None:
    """80 % sprouted and 8 % hard is 88 % alive: the same 71.46 lb bulk."""
    lot = rye(tmp_path, (COUNTS, '["80 of 100"]'), (LIVE, f'{LIVE}\nhard_seed = "8 %"'))
    assert lot.bulk_kg_per_m2 / LB_PER_AC == pytest.approx(71.46, abs=0.005)


# --- the bin -------------------------------------------------------------------------------


def test_the_bin_does_it_with_little_to_spare() -> None:
    """636.2 ft3 / 1.24446 = 511 bu x 54 x 0.96 = 26,501 lb; need 25,923; 2.2 % spare; 353 ac."""
    (lot,) = seed_answer(read_farm(EXAMPLES / RYE)).lots
    assert lot.bin is not None
    assert lot.bin.volume_m3 is not None
    held = lot.bin.sufficiency
    assert lot.bin.volume_m3 / BUSHEL_M3 == pytest.approx(511, abs=0.5)
    assert lot.bin.mass_kg / POUND_KG == pytest.approx(26_501, abs=0.5)
    assert held.needed_kg / POUND_KG == pytest.approx(25_923, abs=0.5)
    assert held.spare_fraction == pytest.approx(0.022, abs=0.0005)
    assert lot.bin.run_out_if_heavy_m2 / ACRE_M2 == pytest.approx(353, abs=0.5)
    assert lot.loads_count == pytest.approx(4.32, abs=0.005)
    assert lot.bin.mass_low_kg == lot.bin.mass_high_kg == lot.bin.mass_kg


def test_an_unknown_pack_gives_the_bin_a_range(tmp_path: Path) -> None:
    """Without a stated pack the mass has a low and a high side about the typical one."""
    lot = rye(tmp_path, ('pack = "0 %"\n', ""))
    assert lot.bin is not None
    assert lot.bin.mass_low_kg < lot.bin.mass_kg < lot.bin.mass_high_kg
    assert lot.bin.mass_low_kg / POUND_KG == pytest.approx(26_501, abs=0.5)


def test_the_oats_of_the_mix_are_enough() -> None:
    """72.66 ha x 113.5 = 8,247 kg needed of 9,000."""
    (lot,) = seed_answer(read_farm(EXAMPLES / OATS)).lots
    assert lot.bin is not None
    assert lot.bin.lot == "Oats"
    assert lot.bin.mass_kg == pytest.approx(9000)
    assert lot.bin.sufficiency.needed_kg == pytest.approx(8247, abs=0.5)
    assert lot.bin.enough


def test_of_a_mix_the_part_that_runs_short_is_told(tmp_path: Path) -> None:
    """Oats enough, radish 100 kg of the 245 needed: it does 29.7 of 72.7 ha."""
    mass = 'mass = "9000 kg"'
    radish = (mass, f'{mass}\n\n[[bin]]\nlot = "Radish"\nmass = "100 kg"')
    lot = answered(tmp_path, OATS, radish).main
    assert lot.bin is not None
    assert lot.bin.lot == "Radish"
    assert not lot.bin.enough
    assert lot.bin.sufficiency.area_it_does_m2 / HECTARE_M2 == pytest.approx(29.7, abs=0.05)


def test_a_bin_may_hold_the_mix_itself(tmp_path: Path) -> None:
    """The mix ready in one heap of 9,000 kg: 8,492 kg needed at 116.87 kg/ha."""
    lot = answered(tmp_path, OATS, ('lot = "Oats"', 'lot = "Oats and radish"')).main
    assert lot.bin is not None
    assert lot.bin.sufficiency.needed_kg == pytest.approx(72.66 * 116.871, rel=1e-4)


def test_two_bins_of_one_lot_add_up(tmp_path: Path) -> None:
    """The measured bin and 1,000 lb in sacks are 27,501 lb."""
    sacks = (BIN, f'{BIN}\n\n[[bin]]\nlot = "Bin rye"\nmass = "1000 lb"')
    lot = rye(tmp_path, sacks)
    assert lot.bin is not None
    assert lot.bin.mass_kg / POUND_KG == pytest.approx(27_501, abs=0.5)


def test_fields_sown_alone_and_in_a_mix_draw_on_one_bin(tmp_path: Path) -> None:
    """Oats alone on B7 and mixed elsewhere: both need the oats of all 72.66 ha."""
    species = 'species = "oats"'
    folder = copy_of(
        OATS,
        tmp_path,
        farm_toml=[(species, f'{species}\ntest_weight = "50 kg/hL"')],
        fields_geojson=[('"name": "B7",', '"name": "B7", "lot": "Oats",')],
    )
    answer = seed_answer(read_farm(folder))
    assert {one.lot.name for one in answer.lots} == {"Oats and radish", "Oats"}
    for lot in answer.lots:
        assert lot.bin is not None
        assert lot.bin.sufficiency.needed_kg == pytest.approx(8247, abs=0.5)


def test_an_empty_bin_does_nothing(tmp_path: Path) -> None:
    """0 lb on hand is a plain "not enough", not an error."""
    empty = ('diameter = "15 ft"\ndepth = "3.60 ft"\npack = "0 %"', 'mass = "0 lb"')
    lot = rye(tmp_path, empty)
    assert lot.bin is not None
    assert not lot.bin.enough
    assert lot.bin.sufficiency.area_it_does_m2 == 0.0


def test_a_funnel_may_stand_on_the_bare_floor(tmp_path: Path) -> None:
    """A 20 ft funnel in 3.6 ft of grain: 1178.1 ft3 x (1 - (16.4 / 20)^3) = 528.5 out of 636.2.

    Left are 107.7 ft3 / 1.24446 = 86.5 bu, and the cone's tip under the floor is not missed.
    """
    lot = rye(tmp_path, ('depth = "3.60 ft"', 'depth = "3.60 ft"\nheap = "-20 ft"'))
    assert lot.bin is not None
    assert lot.bin.volume_m3 is not None
    assert lot.bin.volume_m3 / BUSHEL_M3 == pytest.approx(86.5, abs=0.05)


def test_a_load_by_volume_needs_a_test_weight() -> None:
    """A farm put together without one is refused where the load is asked for."""
    farm = read_farm(EXAMPLES / OATS)
    with pytest.raises(OutOfRange, match="test weight"):
        spreader_load_kg(farm, farm.spreaders[0], "Oats")


# --- loads and flow ------------------------------------------------------------------------


def test_loads_follow_the_fields_and_carry_their_seed() -> None:
    """Every field's parts of loads add up to its seed; loads are numbered on and on."""
    (lot,) = seed_answer(read_farm(EXAMPLES / RYE)).lots
    numbers = [part[0] for field in lot.fields for part in field.loads]
    assert numbers == sorted(numbers)
    assert numbers[0] == 1
    assert numbers[-1] == 5
    for field in lot.fields:
        assert sum(part[1] for part in field.loads) == pytest.approx(field.mass_kg)
        assert field.mass_kg == pytest.approx(field.area_m2 * lot.bulk_kg_per_m2)


def test_flow_and_bucket_agree() -> None:
    """40 ft x 8 mph x 71.46 / 495 = 46.2 lb/min; 5 gal at 54 lb/bu (29.0 lb) fills in 37.7 s."""
    (lot,) = seed_answer(read_farm(EXAMPLES / RYE)).lots
    (flow,) = lot.flows
    assert flow.flow_kg_per_s * 60 / POUND_KG == pytest.approx(46.2, abs=0.05)
    assert flow.bucket_s == pytest.approx(37.7, abs=0.05)
    assert flow.load_area_m2 / ACRE_M2 == pytest.approx(84.0, abs=0.05)


def test_without_a_test_weight_there_are_no_bucket_seconds(tmp_path: Path) -> None:
    """Wheat of unknown test weight still has a flow, but nobody can say how a bucket fills."""
    lot = answered(tmp_path, FORTY, ('test_weight = "60 lb/bu"\n', "")).main
    assert lot.flows[0].bucket_s is None
    assert lot.flows[0].flow_kg_per_s > 0.0


def test_every_step_of_the_working_names_its_figures() -> None:
    """Each step has inputs with units and sources, and the rate steps multiply out."""
    farm = read_farm(EXAMPLES / RYE)
    (lot,) = seed_answer(farm).lots
    titles = [step.title for step in lot.working]
    assert titles == [
        "Bin rye: germination", "Bin rye: pure live seed", "Bin rye: rate", "Bin rye: seed on hand"
    ]  # fmt: skip
    for step in lot.working:
        assert step.inputs
        assert all(figure.source for figure in (*step.inputs, step.result))
    assert lot.working[2].result.value == pytest.approx(lot_rate_kg_per_m2(farm, lot.lot))
