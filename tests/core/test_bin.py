"""The bin and the loads: volume, mass, whether it is enough, and the loads, with the hand-work."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from duskline.core.bin import (
    BinStock,
    bin_stock,
    bin_volume_m3,
    bushel_density_kg_per_m3,
    bushels_count,
    cone_height_m,
    cone_volume_m3,
    cylinder_volume_m3,
    enough,
    load_sequence,
    loads_count,
    run_out_area_m2,
    seed_left,
    split_loads,
)
from duskline.core.errors import OutOfRange

LB_KG = 0.45359237
ACRE_M2 = 4046.8564224
LB_PER_AC = LB_KG / ACRE_M2
FT_M = 0.3048
BU_M3 = 0.03523907016688

BULK_LB_PER_AC = 61 / (0.88 * 0.97)  # 71.46
ACRES = 362.75

lengths = st.floats(0.1, 30.0)


def _example_bin() -> BinStock:
    """15 ft across, 3.60 ft level, rye of 54 lb/bu, 4 % out in cleaning, no pack."""
    return bin_stock(
        volume_m3=bin_volume_m3(diameter_m=15 * FT_M, wall_depth_m=3.60 * FT_M),
        test_weight_kg_per_m3=bushel_density_kg_per_m3(bushel_kg=54 * LB_KG, bushel_m3=BU_M3),
        pack_fraction=0.0,
        cleaning_loss_fraction=0.04,
    )


# --- volume -----------------------------------------------------------------------------------


def test_level_bin_of_eighteen_feet() -> None:
    """SEED-C32: 18 ft across, 10 ft level: 0.7854 * 324 * 10 = 2,544.7 ft3, 2,045 bushels."""
    volume = bin_volume_m3(diameter_m=18 * FT_M, wall_depth_m=10 * FT_M)
    assert round(bushels_count(volume_m3=volume, bushel_m3=BU_M3)) == 2045


def test_heap_at_its_angle_of_rest() -> None:
    """SEED-C33: the same with a heap at 25 degrees: 9 * tan 25 = 4.197 ft high, 2,331 bushels."""
    height = cone_height_m(diameter_m=18 * FT_M, repose_rad=math.radians(25))
    assert round(height / FT_M, 3) == 4.197
    volume = bin_volume_m3(diameter_m=18 * FT_M, wall_depth_m=10 * FT_M, heap_m=height)
    assert round(bushels_count(volume_m3=volume, bushel_m3=BU_M3)) == 2331


def test_funnel_and_pack() -> None:
    """SEED-C34: 24 ft, 12 ft at the wall, funnel 0.47 of the radius, 60 lb/bu, 2 % pack.

    By hand: 5,428.7 - 0.2618 * 576 * 5.64 = 4,578 ft3, 3,679 bushels; * 1.02 = 3,752 of 60 lb.
    """
    volume = bin_volume_m3(diameter_m=24 * FT_M, wall_depth_m=12 * FT_M, funnel_m=0.47 * 12 * FT_M)
    assert round(bushels_count(volume_m3=volume, bushel_m3=BU_M3)) == 3679
    stock = bin_stock(
        volume_m3=volume,
        test_weight_kg_per_m3=bushel_density_kg_per_m3(bushel_kg=60 * LB_KG, bushel_m3=BU_M3),
        pack_fraction=0.02,
        cleaning_loss_fraction=0.0,
    )
    assert round(stock.mass_kg / (60 * LB_KG)) == 3752


@settings(deadline=None)
@given(lengths, lengths)
def test_a_heap_is_a_third_of_its_cylinder(diameter: float, height: float) -> None:
    """Level depth of a heap is a third of its height."""
    cone = cone_volume_m3(diameter_m=diameter, height_m=height)
    assert cone == pytest.approx(cylinder_volume_m3(diameter_m=diameter, depth_m=height / 3))


@settings(deadline=None)
@given(lengths, lengths, st.floats(0.0, 60.0))
def test_a_funnel_never_takes_out_more_than_there_is(
    diameter: float, depth: float, funnel: float
) -> None:
    """However deep the funnel, what is left is between nothing and level."""
    left = bin_volume_m3(diameter_m=diameter, wall_depth_m=depth, funnel_m=funnel)
    level = bin_volume_m3(diameter_m=diameter, wall_depth_m=depth)
    assert 0.0 <= left <= level * (1 + 1e-12)


def test_a_funnel_to_the_bare_floor_by_slices() -> None:
    """A funnel of 6 m over 2 m of grain: slice by slice the same ring of grain is left.

    At height z over the floor the hole has radius R * (z + 4) / 6.
    """
    slices = 200_000
    radius, ring = 5.0, 0.0
    for index in range(slices):
        z = 2.0 * (index + 0.5) / slices
        hole = radius * (z + 4.0) / 6.0
        ring += math.pi * (radius**2 - hole**2) * 2.0 / slices
    left = bin_volume_m3(diameter_m=2 * radius, wall_depth_m=2.0, funnel_m=6.0)
    assert left == pytest.approx(ring, rel=1e-9)


@settings(deadline=None)
@given(lengths, lengths, st.floats(0.01, 10.0))
def test_heap_adds_and_funnel_takes_the_same(diameter: float, depth: float, cone: float) -> None:
    """A funnel that keeps off the floor takes out what a heap of its height would add."""
    cone = min(cone, depth)
    level = bin_volume_m3(diameter_m=diameter, wall_depth_m=depth)
    heap = bin_volume_m3(diameter_m=diameter, wall_depth_m=depth, heap_m=cone)
    funnel = bin_volume_m3(diameter_m=diameter, wall_depth_m=depth, funnel_m=cone)
    assert heap - level == pytest.approx(level - funnel)


def test_heap_and_funnel_at_once_are_refused() -> None:
    """Grain is heaped or drawn down, not both."""
    with pytest.raises(OutOfRange):
        bin_volume_m3(diameter_m=5.0, wall_depth_m=2.0, heap_m=0.5, funnel_m=0.5)


@pytest.mark.parametrize(("diameter", "depth"), [(0.0, 1.0), (5.0, -1.0), (float("nan"), 1.0)])
def test_impossible_bins_are_refused(diameter: float, depth: float) -> None:
    """No width, or less than no depth."""
    with pytest.raises(OutOfRange):
        bin_volume_m3(diameter_m=diameter, wall_depth_m=depth)


# --- mass and enough --------------------------------------------------------------------------


def test_example_bin_holds_26501_pounds_clean() -> None:
    """15 ft across and 3.60 ft level: 511 bushels by volume, 26,501 lb after 4 % cleaning.

    By hand: 0.7854 * 225 * 3.60 / 1.244456 = 511.2; * 54 * 0.96 = 26,501.
    """
    stock = _example_bin()
    assert round(bushels_count(volume_m3=stock.volume_m3, bushel_m3=BU_M3)) == 511
    assert round(stock.mass_kg / LB_KG) == 26501
    assert stock.mass_kg == pytest.approx(0.96 * stock.gross_kg)


def test_example_bin_is_enough_with_two_percent_to_spare() -> None:
    """71.46 lb over 362.75 acres is 25,923 lb (463 bu of 56 lb): enough, 2.2 % to spare."""
    answer = enough(
        mass_kg=_example_bin().mass_kg,
        rate_kg_per_m2=BULK_LB_PER_AC * LB_PER_AC,
        area_m2=ACRES * ACRE_M2,
    )
    assert round(answer.needed_kg / LB_KG) == 25923
    assert round(answer.needed_kg / (56 * LB_KG)) == 463
    assert answer.enough
    assert round(100 * answer.spare_fraction, 1) == 2.2
    assert round(answer.area_it_does_m2 / ACRE_M2, 1) == 370.8
    assert round(answer.spare_kg / LB_KG) == 578


def test_five_percent_heavy_runs_out_at_353_acres() -> None:
    """26,501 / (71.46 * 1.05) = 353.2 acres."""
    area = run_out_area_m2(
        mass_kg=_example_bin().mass_kg,
        rate_kg_per_m2=BULK_LB_PER_AC * LB_PER_AC,
        heavy_fraction=0.05,
    )
    assert round(area / ACRE_M2) == 353


@settings(deadline=None)
@given(st.floats(100.0, 1e6), st.floats(1e-3, 0.05), st.floats(1e3, 1e7))
def test_spare_is_how_heavy_it_may_run(mass: float, rate: float, area: float) -> None:
    """Running heavy by exactly the spare empties the bin with the last acre."""
    answer = enough(mass_kg=mass, rate_kg_per_m2=rate, area_m2=area)
    ends = run_out_area_m2(mass_kg=mass, rate_kg_per_m2=rate, heavy_fraction=answer.spare_fraction)
    assert ends == pytest.approx(area)
    assert answer.enough == (answer.spare_kg >= -1e-9 * answer.needed_kg)


def test_short_bin_says_how_far_it_goes() -> None:
    """900 kg at 100 kg/ha does 9 of 10 ha: a tenth short."""
    answer = enough(mass_kg=900.0, rate_kg_per_m2=0.01, area_m2=100_000.0)
    assert not answer.enough
    assert answer.area_it_does_m2 == pytest.approx(90_000.0)
    assert answer.spare_fraction == pytest.approx(-0.1)


@settings(deadline=None)
@given(st.floats(1e-3, 0.05), st.floats(1e3, 1e7))
def test_exactly_enough_is_enough(rate: float, area: float) -> None:
    """Seed bought to the last kernel is not called short by the arithmetic."""
    mass = run_out_area_m2(mass_kg=area * rate, rate_kg_per_m2=rate) * rate
    assert enough(mass_kg=mass, rate_kg_per_m2=rate, area_m2=area).enough


def test_seed_left_after_a_heavy_first_load() -> None:
    """20,501 lb left do 286.9 acres once the gate is right, 259.7 if it is left alone.

    By hand: 20,501 / 71.46 = 286.9; 20,501 / 78.95 = 259.7.
    """
    left = seed_left(
        mass_kg=26_501 * LB_KG,
        used_kg=6_000 * LB_KG,
        planned_kg_per_m2=BULK_LB_PER_AC * LB_PER_AC,
        actual_kg_per_m2=6_000 / 76 * LB_PER_AC,
    )
    assert round(left.mass_kg / LB_KG) == 20501
    assert round(left.corrected_area_m2 / ACRE_M2, 1) == 286.9
    assert round(left.uncorrected_area_m2 / ACRE_M2, 1) == 259.7


def test_more_used_than_there_was_is_refused() -> None:
    """A bin does not give more than it held."""
    with pytest.raises(OutOfRange):
        seed_left(mass_kg=100.0, used_kg=101.0, planned_kg_per_m2=0.01, actual_kg_per_m2=0.01)


def test_oats_on_hand_for_the_paddocks() -> None:
    """9,000 kg of oats on hand, 113.5 kg/ha on 72.66 ha needs 8,247 kg: 9.1 % to spare."""
    answer = enough(mass_kg=9000.0, rate_kg_per_m2=0.01135, area_m2=726_600.0)
    assert round(answer.needed_kg) == 8247
    assert round(100 * answer.spare_fraction, 1) == 9.1


# --- loads ------------------------------------------------------------------------------------


def test_example_campaign_is_four_loads_and_a_third() -> None:
    """25,923 lb in loads of 6,000 lb: 4.32."""
    loads = loads_count(mass_kg=BULK_LB_PER_AC * ACRES * LB_KG, load_kg=6000 * LB_KG)
    assert round(loads, 2) == 4.32


def test_each_field_by_itself_ends_on_a_part_load() -> None:
    """At 100 kg/ha with 1,000 kg loads: 25 ha takes two full and 500 kg, 10 ha just one."""
    first, second, third = split_loads(
        area_m2s=(250_000.0, 100_000.0, 4_000.0), rate_kg_per_m2=0.01, load_kg=1000.0
    )
    assert (first.full_loads_count, first.fills_count) == (2, 3)
    assert first.last_load_kg == pytest.approx(500.0)
    assert (second.full_loads_count, second.last_load_kg, second.fills_count) == (1, 0.0, 1)
    assert (third.full_loads_count, third.fills_count) == (0, 1)
    assert third.last_load_kg == pytest.approx(40.0)


def test_loads_carried_on_fill_fewer_times() -> None:
    """The same fields in one run: 3,540 kg in four loads, where apart they took five fills."""
    areas = (250_000.0, 100_000.0, 4_000.0)
    parts = load_sequence(area_m2s=areas, rate_kg_per_m2=0.01, load_kg=1000.0)
    run = [(part.load_index, part.field_index, round(part.mass_kg)) for part in parts]
    assert run == [(0, 0, 1000), (1, 0, 1000), (2, 0, 500), (2, 1, 500), (3, 1, 500), (3, 2, 40)]
    assert [part.empties for part in parts] == [True, True, False, True, False, False]


fields = st.lists(st.floats(1e2, 1e6), min_size=1, max_size=12)


@settings(deadline=None)
@given(fields, st.floats(1e-3, 0.05), st.floats(2_000.0, 20_000.0))
def test_seed_is_kept_from_bin_to_field(areas: list[float], rate: float, load_kg: float) -> None:
    """Every kilogram of every load lands in a field, and every field gets its own."""
    parts = load_sequence(area_m2s=tuple(areas), rate_kg_per_m2=rate, load_kg=load_kg)
    for index, area in enumerate(areas):
        laid = math.fsum(part.mass_kg for part in parts if part.field_index == index)
        covered = math.fsum(part.area_m2 for part in parts if part.field_index == index)
        assert laid == pytest.approx(area * rate, abs=1e-8 * load_kg)
        assert covered == pytest.approx(area, abs=1e-8 * load_kg / rate)


@settings(deadline=None)
@given(fields, st.floats(1e-3, 0.05), st.floats(2_000.0, 20_000.0))
def test_every_load_but_the_last_is_full(areas: list[float], rate: float, load_kg: float) -> None:
    """Loads come in order and only the last may be a part load; it is never more than full."""
    parts = load_sequence(area_m2s=tuple(areas), rate_kg_per_m2=rate, load_kg=load_kg)
    last = parts[-1].load_index
    order = [(part.field_index, part.load_index) for part in parts]
    assert order == sorted(order)
    for load_index in range(last + 1):
        mass = math.fsum(part.mass_kg for part in parts if part.load_index == load_index)
        assert mass <= load_kg * (1 + 1e-8)
        if load_index < last:
            assert mass == pytest.approx(load_kg, rel=1e-6)
    needed = loads_count(mass_kg=sum(areas) * rate, load_kg=load_kg)
    assert abs(last + 1 - math.ceil(needed)) <= (1 if abs(needed - round(needed)) < 1e-6 else 0)


@settings(deadline=None)
@given(fields, st.floats(1e-3, 0.05), st.floats(2_000.0, 20_000.0))
def test_loads_of_each_field_sum_to_the_field(
    areas: list[float], rate: float, load_kg: float
) -> None:
    """Full loads and the part load make what the field takes; the part is less than full."""
    for field in split_loads(area_m2s=tuple(areas), rate_kg_per_m2=rate, load_kg=load_kg):
        total = field.full_loads_count * load_kg + field.last_load_kg
        assert total == pytest.approx(field.mass_kg, abs=1e-8 * load_kg)
        assert 0.0 <= field.last_load_kg < load_kg


def test_loads_that_come_out_even_leave_no_crumb() -> None:
    """Three fields of a third of a load each end exactly on the load, crumbs or no crumbs."""
    parts = load_sequence(area_m2s=(0.1, 0.2, 0.3), rate_kg_per_m2=1.0, load_kg=0.6)
    assert [part.load_index for part in parts] == [0, 0, 0]
    assert parts[-1].empties
    (alone,) = split_loads(area_m2s=(0.1 + 0.2,), rate_kg_per_m2=1.0, load_kg=0.3)
    assert (alone.full_loads_count, alone.last_load_kg) == (1, 0.0)


@pytest.mark.parametrize(
    ("area", "rate", "load"), [(0.0, 0.01, 1000.0), (1e4, 0.0, 1000.0), (1e4, 0.01, 0.0)]
)
def test_impossible_loads_are_refused(area: float, rate: float, load: float) -> None:
    """No field, no rate, no hopper: no loads."""
    with pytest.raises(OutOfRange):
        split_loads(area_m2s=(area,), rate_kg_per_m2=rate, load_kg=load)
    with pytest.raises(OutOfRange):
        load_sequence(area_m2s=(area,), rate_kg_per_m2=rate, load_kg=load)
