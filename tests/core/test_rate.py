"""The planned rate: stand, seeds, floor, low side and mixes, with the hand-work."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.rate import (
    FactorAndEmergence,
    MixPart,
    Rate,
    broadcast_rate,
    low_side,
    low_side_shortfall,
    mix,
    rate_for_live,
    rate_for_seeds,
    rate_for_stand,
    seeds_per_row_m,
    shared_rates,
    shortfall,
)

LB_KG = 0.45359237
ACRE_M2 = 4046.8564224
FT2_M2 = 0.09290304
LB_PER_AC = LB_KG / ACRE_M2
HA_M2 = 10_000.0

RYE_LIVE = 0.88 * 0.97  # the example lot of rye, 176 of 200 alive and 97 % pure
RYE_SEEDS_PER_KG = 2501 / 0.060  # 832, 841 and 828 seeds in 20 g


def _rye(live_lb_per_ac: float) -> Rate:
    return rate_for_live(
        live_kg_per_m2=live_lb_per_ac * LB_PER_AC,
        pure_live_seed_fraction=RYE_LIVE,
        seeds_per_kg=RYE_SEEDS_PER_KG,
        bushel_kg=56 * LB_KG,
    )


shares = st.floats(0.05, 1.0)
counts = st.floats(1e3, 1e6)


def test_example_rye_in_all_its_words() -> None:
    """61 lb live of 88/97 rye is 71.46 lb bulk, 1.28 bushels of 56 lb and 26.5 live seeds/ft2.

    By hand: 61 / 0.8536 = 71.46; / 56 = 1.276; 61 * 18,907 / 43,560 = 26.48.
    """
    rate = _rye(61.0)
    assert round(rate.bulk_kg_per_m2 / LB_PER_AC, 2) == 71.46
    assert round(rate.live_kg_per_m2 / LB_PER_AC, 1) == 61.0
    assert rate.bushels_per_m2 is not None
    assert round(rate.bushels_per_m2 * ACRE_M2, 2) == 1.28
    assert rate.live_seeds_per_m2 is not None
    assert round(rate.live_seeds_per_m2 * FT2_M2, 1) == 26.5
    assert rate.plants_per_m2 is None


def test_sixty_eight_bulk_is_three_short_of_the_floor() -> None:
    """68 lb bulk of that lot lays 58.0 live, 3.0 short of 61, and needs 3.5 lb bulk more."""
    set_rate = Rate(bulk_kg_per_m2=68 * LB_PER_AC, pure_live_seed_fraction=RYE_LIVE)
    missing = shortfall(rate=set_rate, floor_live_kg_per_m2=61 * LB_PER_AC)
    assert round(missing.live_kg_per_m2 / LB_PER_AC, 1) == 58.0
    assert round(missing.short_live_kg_per_m2 / LB_PER_AC, 1) == 3.0
    assert round(missing.short_bulk_kg_per_m2 / LB_PER_AC, 1) == 3.5
    assert not missing.met


def test_a_rate_above_the_floor_is_short_of_nothing() -> None:
    """75 lb bulk lays 64 live: met, nothing to add."""
    rate = Rate(bulk_kg_per_m2=75 * LB_PER_AC, pure_live_seed_fraction=RYE_LIVE)
    met = shortfall(rate=rate, floor_live_kg_per_m2=61 * LB_PER_AC)
    assert met.met
    assert (met.short_live_kg_per_m2, met.short_bulk_kg_per_m2) == (0.0, 0.0)


@settings(deadline=None)
@given(st.floats(1e-4, 0.05), shares)
def test_a_rate_made_for_a_floor_always_meets_it(live: float, fraction: float) -> None:
    """Rounding in the arithmetic never makes a rate miss the floor it was made for."""
    rate = rate_for_live(live_kg_per_m2=live, pure_live_seed_fraction=fraction)
    assert shortfall(rate=rate, floor_live_kg_per_m2=live).met


@settings(deadline=None)
@given(st.floats(1e-4, 0.05), shares, st.floats(1e-4, 0.05))
def test_adding_the_missing_bulk_meets_the_floor(bulk: float, live: float, floor: float) -> None:
    """Whatever the rate, the bulk said to be missing is the bulk that was missing."""
    rate = Rate(bulk_kg_per_m2=bulk, pure_live_seed_fraction=live)
    missing = shortfall(rate=rate, floor_live_kg_per_m2=floor)
    filled = Rate(bulk_kg_per_m2=bulk + missing.short_bulk_kg_per_m2, pure_live_seed_fraction=live)
    assert shortfall(rate=filled, floor_live_kg_per_m2=floor).met


def test_low_side_of_the_count_is_shown_as_what_it_could_mean() -> None:
    """If only 83.54 % grow, the 71.46 lb hold 57.9 live: 3.1 short, 3.8 lb more bulk.

    By hand: 71.46 * 0.97 * 0.8354 = 57.91; 61 - 57.91 = 3.09; / (0.97 * 0.8354) = 3.81.
    """
    low = low_side_shortfall(rate=_rye(61.0), low_pure_live_seed_fraction=0.97 * 0.8354)
    assert round(low.live_kg_per_m2 / LB_PER_AC, 1) == 57.9
    assert round(low.short_live_kg_per_m2 / LB_PER_AC, 1) == 3.1
    assert round(low.short_bulk_kg_per_m2 / LB_PER_AC, 1) == 3.8


def test_low_side_keeps_the_bulk_rate() -> None:
    """The low side changes what the seed may be worth, not what the spreader is set to."""
    rate = _rye(61.0)
    low = low_side(rate=rate, low_pure_live_seed_fraction=0.97 * 0.8354)
    assert low.bulk_kg_per_m2 == rate.bulk_kg_per_m2
    assert low.live_kg_per_m2 < rate.live_kg_per_m2


def test_low_side_above_the_estimate_is_refused() -> None:
    """A low side must not be better than the lot."""
    with pytest.raises(OutOfRange):
        low_side(rate=_rye(61.0), low_pure_live_seed_fraction=0.95)


def test_low_side_against_a_lower_floor() -> None:
    """Against a floor of 55 lb even the low side of that rate is enough."""
    low = low_side_shortfall(
        rate=_rye(61.0),
        low_pure_live_seed_fraction=0.97 * 0.8354,
        floor_live_kg_per_m2=55 * LB_PER_AC,
    )
    assert low.met


# --- from a stand -----------------------------------------------------------------------------


def test_oats_for_a_stand_of_two_hundred() -> None:
    """200 plants/m2, 36 g, germ 92, purity 98.5, emergence 70 %: 113.5 kg/ha.

    By hand: 200 / (27,778 * 0.92 * 0.985 * 0.70) = 0.011350 kg/m2.
    """
    rate = rate_for_stand(
        target_plants_per_m2=200.0,
        seeds_per_kg=1 / 36e-6,
        purity_fraction=0.985,
        germination_fraction=0.92,
        emergence_fraction=0.70,
    )
    assert round(rate.bulk_kg_per_m2 * HA_M2, 1) == 113.5
    assert rate.plants_per_m2 == pytest.approx(200.0)
    assert rate.live_seeds_per_m2 == pytest.approx(200.0 / 0.70)


def test_weak_triticale_for_a_stand() -> None:
    """22 plants/ft2, 14,200/lb, 68/96.5, emergence 75 %: 137.1 lb, 2.74 bushels of 50 lb.

    By hand: 22 * 43,560 / (14,200 * 0.68 * 0.965 * 0.75) = 958,320 / 6,988.5 = 137.13.
    """
    rate = rate_for_stand(
        target_plants_per_m2=22 / FT2_M2,
        seeds_per_kg=14_200 / LB_KG,
        purity_fraction=0.965,
        germination_fraction=0.68,
        emergence_fraction=0.75,
        bushel_kg=50 * LB_KG,
    )
    assert round(rate.bulk_kg_per_m2 / LB_PER_AC, 1) == 137.1
    assert rate.bushels_per_m2 is not None
    assert round(rate.bushels_per_m2 * ACRE_M2, 2) == 2.74


def test_two_bushels_of_wheat_by_programme() -> None:
    """2 bu of 60 lb at 91/98.2: 120 lb bulk, 107.2 live, 33.5 live seeds/ft2 at 13,600/lb."""
    rate = Rate(
        bulk_kg_per_m2=2 * 60 * LB_PER_AC,
        pure_live_seed_fraction=0.91 * 0.982,
        seeds_per_kg=13_600 / LB_KG,
        bushel_kg=60 * LB_KG,
    )
    assert round(rate.live_kg_per_m2 / LB_PER_AC, 1) == 107.2
    assert rate.live_seeds_per_m2 is not None
    assert round(rate.live_seeds_per_m2 * FT2_M2, 1) == 33.5
    assert rate.bushels_per_m2 is not None
    assert rate.bushels_per_m2 * ACRE_M2 == pytest.approx(2.0)


def test_rye_of_eighty_five_and_ninety_seven() -> None:
    """61 lb live at 85/97.0 is 73.98 lb bulk, 1.32 bushels."""
    rate = rate_for_live(
        live_kg_per_m2=61 * LB_PER_AC, pure_live_seed_fraction=0.85 * 0.97, bushel_kg=56 * LB_KG
    )
    assert round(rate.bulk_kg_per_m2 / LB_PER_AC, 2) == 73.98
    assert rate.bushels_per_m2 is not None
    assert round(rate.bushels_per_m2 * ACRE_M2, 2) == 1.32


def test_pounds_per_acre_from_plants_and_thousand_seed_grams() -> None:
    """Plants/ft2 x grams x 0.096033 / survival: the exact constant, not the rule's 0.1."""
    rate = rate_for_stand(
        target_plants_per_m2=1 / FT2_M2,
        seeds_per_kg=1e6,
        purity_fraction=1.0,
        germination_fraction=1.0,
        emergence_fraction=1.0,
    )
    assert rate.bulk_kg_per_m2 / LB_PER_AC == pytest.approx(0.096033, abs=5e-7)


def test_iowa_floors_in_live_seeds() -> None:
    """55, 61 and 66 lb of live rye at 21,596 to the pound are about 27, 30 and 33 seeds/ft2."""
    for pounds, seeds in ((55, 27), (61, 30), (66, 33)):
        rate = rate_for_live(
            live_kg_per_m2=pounds * LB_PER_AC,
            pure_live_seed_fraction=0.85,
            seeds_per_kg=21_596 / LB_KG,
        )
        assert rate.live_seeds_per_m2 is not None
        assert abs(rate.live_seeds_per_m2 * FT2_M2 - seeds) <= 0.5


@settings(deadline=None)
@given(st.floats(10.0, 1000.0), counts, shares, shares, shares)
def test_a_stand_goes_to_a_rate_and_back(
    plants: float, seeds_per_kg: float, purity: float, germinates: float, emerges: float
) -> None:
    """The rate for a stand raises that stand; each share below 1 takes more seed."""
    rate = rate_for_stand(
        target_plants_per_m2=plants,
        seeds_per_kg=seeds_per_kg,
        purity_fraction=purity,
        germination_fraction=germinates,
        emergence_fraction=emerges,
    )
    assert rate.plants_per_m2 == pytest.approx(plants)
    assert rate.bulk_kg_per_m2 >= plants / seeds_per_kg * (1 - 1e-12)


@settings(deadline=None)
@given(st.floats(1.0, 1000.0), counts, shares)
def test_seeds_go_to_a_rate_and_back(seeds: float, per_kg: float, live: float) -> None:
    """The rate for so many live seeds lays so many live seeds."""
    rate = rate_for_seeds(
        live_seeds_per_m2=seeds, seeds_per_kg=per_kg, pure_live_seed_fraction=live
    )
    assert rate.live_seeds_per_m2 == pytest.approx(seeds)


def test_hard_seed_counts_when_the_programme_says_so() -> None:
    """Clover of 80 % germination and 10 % hard seed needs 80/90 of the seed."""
    plain, hard = (
        rate_for_stand(
            target_plants_per_m2=100.0,
            seeds_per_kg=330_000.0,
            purity_fraction=0.98,
            germination_fraction=0.80,
            hard_fraction=fraction,
            emergence_fraction=0.5,
        )
        for fraction in (0.0, 0.10)
    )
    assert hard.bulk_kg_per_m2 / plain.bulk_kg_per_m2 == pytest.approx(80 / 90)


# --- factor or emergence ----------------------------------------------------------------------


def test_a_drilled_rate_is_brought_up_for_the_spreader() -> None:
    """A drilled 100 lb with a factor of 1.25 is 125 lb, and remembers the factor."""
    drilled = Rate(bulk_kg_per_m2=100 * LB_PER_AC, pure_live_seed_fraction=0.9)
    spread = broadcast_rate(drilled=drilled, broadcast_factor=1.25)
    assert spread.bulk_kg_per_m2 / LB_PER_AC == pytest.approx(125.0)
    assert spread.broadcast_factor == 1.25


def test_factor_on_top_of_emergence_is_refused() -> None:
    """A rate made from a stand has its losses in it: no factor comes on top."""
    stand = rate_for_stand(
        target_plants_per_m2=200.0,
        seeds_per_kg=28_000.0,
        purity_fraction=0.98,
        germination_fraction=0.9,
        emergence_fraction=0.65,
    )
    with pytest.raises(FactorAndEmergence) as refused:
        broadcast_rate(drilled=stand, broadcast_factor=1.25)
    assert refused.value.emergence_fraction == 0.65
    assert refused.value.broadcast_factor == 1.25


def test_a_factor_is_not_taken_twice() -> None:
    """What has been brought up for the spreader is not brought up again."""
    drilled = Rate(bulk_kg_per_m2=0.01, pure_live_seed_fraction=0.9)
    once = broadcast_rate(drilled=drilled, broadcast_factor=1.1)
    with pytest.raises(FactorAndEmergence):
        broadcast_rate(drilled=once, broadcast_factor=1.1)


def test_broadcasting_never_takes_less_seed_than_drilling() -> None:
    """A factor below 1 is a slip of the pencil."""
    drilled = Rate(bulk_kg_per_m2=0.01, pure_live_seed_fraction=0.9)
    with pytest.raises(OutOfRange):
        broadcast_rate(drilled=drilled, broadcast_factor=0.8)


# --- mixes ------------------------------------------------------------------------------------


def _oats_and_radish() -> tuple[MixPart, MixPart]:
    oats = rate_for_stand(
        target_plants_per_m2=200.0,
        seeds_per_kg=1 / 36e-6,
        purity_fraction=0.985,
        germination_fraction=0.92,
        emergence_fraction=0.70,
    )
    radish = rate_for_live(live_kg_per_m2=3.0 / HA_M2, pure_live_seed_fraction=0.90 * 0.99)
    return (
        MixPart(name="oats", rate=oats, density_kg_per_m3=500.0),
        MixPart(name="radish", rate=radish, density_kg_per_m3=690.0),
    )


def test_oats_by_stand_and_radish_by_live_mass() -> None:
    """113.5 kg of oats and 3.0 / (0.90 * 0.99) = 3.37 kg of radish make 116.9 kg/ha.

    With oats at 500 and radish at 690 kg/m3: 116.87 / (113.50 / 500 + 3.37 / 690) = 504 kg/m3.
    """
    both = mix(_oats_and_radish())
    assert round(both.parts[1].rate.bulk_kg_per_m2 * HA_M2, 2) == 3.37
    assert round(both.bulk_kg_per_m2 * HA_M2, 1) == 116.9
    assert round(both.density_kg_per_m3) == 504
    assert both.mass_fractions[1] == pytest.approx(0.0288, abs=0.00005)


def test_live_seed_of_a_mix_is_the_sum() -> None:
    """Live oats and live radish together."""
    parts = _oats_and_radish()
    expected = parts[0].rate.live_kg_per_m2 + parts[1].rate.live_kg_per_m2
    assert mix(parts).live_kg_per_m2 == pytest.approx(expected)


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(1e-4, 0.05), st.floats(100.0, 900.0)), min_size=1, max_size=5))
def test_a_mix_keeps_its_mass_and_lies_between_its_densities(
    lots: list[tuple[float, float]],
) -> None:
    """The rates add, the shares sum to 1, and the density is between lightest and heaviest."""
    both = mix(
        tuple(
            MixPart(
                name=str(index),
                rate=Rate(bulk_kg_per_m2=rate, pure_live_seed_fraction=0.9),
                density_kg_per_m3=density,
            )
            for index, (rate, density) in enumerate(lots)
        )
    )
    densities = [density for _, density in lots]
    assert both.bulk_kg_per_m2 == pytest.approx(sum(rate for rate, _ in lots))
    assert sum(both.mass_fractions) == pytest.approx(1.0)
    assert min(densities) * (1 - 1e-9) <= both.density_kg_per_m3 <= max(densities) * (1 + 1e-9)


def test_half_and_half_takes_half_of_each_full_rate() -> None:
    """Half of 100 lb rye and half of 20 lb vetch: 50 and 10 lb."""
    full = tuple(
        Rate(bulk_kg_per_m2=pounds * LB_PER_AC, pure_live_seed_fraction=0.9) for pounds in (100, 20)
    )
    half = shared_rates(full_rates=full, shares=(0.5, 0.5))
    assert [rate.bulk_kg_per_m2 / LB_PER_AC for rate in half] == pytest.approx([50.0, 10.0])


@pytest.mark.parametrize("wrong", [(0.5, 0.6), (0.5,), (1.0, 0.0)])
def test_shares_must_fit_and_sum_to_the_whole(wrong: tuple[float, ...]) -> None:
    """Too much, too few, or a share of nothing: refused."""
    full = (Rate(bulk_kg_per_m2=0.01, pure_live_seed_fraction=0.9),) * 2
    with pytest.raises(OutOfRange):
        shared_rates(full_rates=full, shares=wrong)


def test_a_mix_of_nothing_is_refused() -> None:
    """No lots, no mix."""
    with pytest.raises(OutOfRange):
        mix(())


@pytest.mark.parametrize(
    ("bulk", "live", "seeds", "bushel"),
    [
        (0.0, 0.9, None, None),
        (float("nan"), 0.9, None, None),
        (0.01, 0.0, None, None),
        (0.01, 1.01, None, None),
        (0.01, 0.9, 0.0, None),
        (0.01, 0.9, None, -1.0),
    ],
)
def test_impossible_rates_are_refused(
    bulk: float, live: float, seeds: float | None, bushel: float | None
) -> None:
    """A rate of nothing, dead seed, or more live seed than seed cannot be built."""
    with pytest.raises(OutOfRange):
        Rate(
            bulk_kg_per_m2=bulk,
            pure_live_seed_fraction=live,
            seeds_per_kg=seeds,
            bushel_kg=bushel,
        )


def test_words_that_were_not_given_stay_away() -> None:
    """Without a count or a bushel no seeds and no bushels are shown."""
    rate = Rate(bulk_kg_per_m2=0.01, pure_live_seed_fraction=0.9)
    assert rate.live_seeds_per_m2 is None
    assert rate.bushels_per_m2 is None
    assert rate.plants_per_m2 is None


@settings(deadline=None)
@given(st.floats(1.0, 1000.0), st.floats(0.05, 1.0))
def test_rows_of_seed_cover_the_area(seeds: float, width_m: float) -> None:
    """Seeds in a metre of row times the rows on a metre of ground give the seeds per area."""
    in_row = seeds_per_row_m(seeds_per_m2=seeds, row_width_m=width_m)
    assert in_row / width_m == pytest.approx(seeds)
