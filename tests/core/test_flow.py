"""Flow, the bucket and the first load, with the hand-work."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.flow import (
    area_per_load_m2,
    bucket_fill_s,
    first_load,
    flow_from_bucket_kg_per_s,
    flow_kg_per_s,
    hopper_load_kg,
    rate_from_flow_kg_per_m2,
    rate_from_weight_kg_per_m2,
    speed_at_same_flow_mps,
    speed_for_rate_mps,
    travel_m,
)

LB_KG = 0.45359237
ACRE_M2 = 4046.8564224
LB_PER_AC = LB_KG / ACRE_M2
FT_M = 0.3048
MPH_MPS = 0.44704
BU_M3 = 0.03523907016688
GAL_M3 = 0.003785411784
LB_PER_MIN = LB_KG / 60.0
KMH_MPS = 1 / 3.6

BULK = 61 / (0.88 * 0.97) * LB_PER_AC  # 71.46 lb/ac
RYE_DENSITY = 54 * LB_KG / BU_M3

rates = st.floats(1e-3, 0.05)
widths = st.floats(3.0, 40.0)
speeds = st.floats(0.5, 8.0)


def test_example_rye_flows_at_46_pounds_a_minute() -> None:
    """71.46 lb/ac, 40 ft, 8 mph: 71.46 * 40 * 8 / 495 = 46.2 lb/min."""
    flow = flow_kg_per_s(rate_kg_per_m2=BULK, driving_width_m=40 * FT_M, speed_mps=8 * MPH_MPS)
    assert round(flow / LB_PER_MIN, 1) == 46.2


def test_flow_at_a_hundred_pounds_and_a_hundred_and_twelve_kilograms() -> None:
    """SPREAD-C28: 100 lb/ac, 40 ft, 8 mph: 64.65 lb/min; 112 kg/ha, 12 m, 12 km/h: 26.88 kg/min."""
    us = flow_kg_per_s(
        rate_kg_per_m2=100 * LB_PER_AC, driving_width_m=40 * FT_M, speed_mps=8 * MPH_MPS
    )
    metric = flow_kg_per_s(rate_kg_per_m2=0.0112, driving_width_m=12.0, speed_mps=12 * KMH_MPS)
    assert round(us / LB_PER_MIN, 2) == 64.65
    assert round(metric * 60, 2) == 26.88


def test_mixed_oats_flow_at_21_kilograms_a_minute() -> None:
    """116.9 kg/ha, 9 m, 12 km/h: 116.9 * 9 * 12 / 600 = 21.0 kg/min."""
    flow = flow_kg_per_s(rate_kg_per_m2=0.01169, driving_width_m=9.0, speed_mps=12 * KMH_MPS)
    assert round(flow * 60, 1) == 21.0


@settings(deadline=None)
@given(rates, widths, speeds)
def test_rate_flow_and_speed_go_round(rate: float, width: float, speed: float) -> None:
    """The flow for a rate lays that rate, and asks for that speed."""
    flow = flow_kg_per_s(rate_kg_per_m2=rate, driving_width_m=width, speed_mps=speed)
    back = rate_from_flow_kg_per_m2(flow_kg_per_s=flow, driving_width_m=width, speed_mps=speed)
    assert back == pytest.approx(rate)
    again = speed_for_rate_mps(flow_kg_per_s=flow, rate_kg_per_m2=rate, driving_width_m=width)
    assert again == pytest.approx(speed)


def test_too_heavy_with_the_gate_left_alone_drives_faster() -> None:
    """78.9 lb found at 8 mph, 71.46 wanted: 8 * 78.95 / 71.46 = 8.84 mph."""
    speed = speed_at_same_flow_mps(
        speed_mps=8 * MPH_MPS, rate_kg_per_m2=6000 / 76 * LB_PER_AC, wanted_kg_per_m2=BULK
    )
    assert round(speed / MPH_MPS, 2) == 8.84


# --- bucket -----------------------------------------------------------------------------------


def test_five_gallons_fill_in_38_seconds() -> None:
    """A level 5 US gal at 54 lb/bu is 29.0 lb: 37.7 s at 46.2 lb/min.

    By hand: 5 * 231 / 2150.42 = 0.5371 bu * 54 = 29.00 lb; / 46.2 * 60 = 37.7 s.
    """
    seconds = bucket_fill_s(
        flow_kg_per_s=46.2 * LB_PER_MIN, bucket_m3=5 * GAL_M3, density_kg_per_m3=RYE_DENSITY
    )
    assert round(seconds, 1) == 37.7


def test_bucket_agrees_with_weighing_within_three_percent() -> None:
    """A second late on the stopwatch still agrees with the 46.2 lb/min of the scale.

    By hand: 29.00 lb in 38.7 s is 45.0 lb/min, 2.7 % low.
    """
    by_bucket = flow_from_bucket_kg_per_s(
        fill_s=38.7, bucket_m3=5 * GAL_M3, density_kg_per_m3=RYE_DENSITY
    )
    by_scale = 46.2 * LB_PER_MIN
    assert by_bucket / by_scale == pytest.approx(0.973, abs=0.0005)
    assert abs(by_bucket / by_scale - 1.0) < 0.03


@settings(deadline=None)
@given(st.floats(0.05, 5.0), st.floats(0.005, 0.1), st.floats(200.0, 900.0))
def test_bucket_goes_there_and_back(flow: float, bucket: float, density: float) -> None:
    """The time a flow takes to fill a bucket gives that flow back."""
    seconds = bucket_fill_s(flow_kg_per_s=flow, bucket_m3=bucket, density_kg_per_m3=density)
    back = flow_from_bucket_kg_per_s(fill_s=seconds, bucket_m3=bucket, density_kg_per_m3=density)
    assert back == pytest.approx(flow)


# --- loads ------------------------------------------------------------------------------------


def test_example_load_does_84_acres() -> None:
    """6,000 lb at 71.46 lb/ac is 84.0 acres, 17.3 miles at 40 ft."""
    area = area_per_load_m2(load_kg=6000 * LB_KG, rate_kg_per_m2=BULK)
    assert round(area / ACRE_M2, 1) == 84.0
    miles = travel_m(area_m2=area, driving_width_m=40 * FT_M) / 1609.344
    assert round(miles, 1) == 17.3


def test_area_and_travel_of_a_four_thousand_pound_load() -> None:
    """SPREAD-C29: 4,000 lb at 100 lb/ac and 40 ft: 40 ac, 43,560 ft."""
    area = area_per_load_m2(load_kg=4000 * LB_KG, rate_kg_per_m2=100 * LB_PER_AC)
    assert area / ACRE_M2 == pytest.approx(40.0)
    assert travel_m(area_m2=area, driving_width_m=40 * FT_M) / FT_M == pytest.approx(43_560.0)


def test_hopper_of_five_thousand_litres_of_mixed_oats() -> None:
    """5,000 L filled 95 % at 0.504 kg/L is 2,394 kg, 20.5 ha at 116.9 kg/ha."""
    load = hopper_load_kg(hopper_m3=5.0, filled_fraction=0.95, density_kg_per_m3=504.0)
    assert round(load) == 2394
    assert round(area_per_load_m2(load_kg=load, rate_kg_per_m2=0.01169) / 1e4, 1) == 20.5


def test_the_legal_load_rules_when_it_is_less() -> None:
    """The hopper would hold 2,394 kg; 2,000 kg are allowed, 3,000 change nothing."""
    for limit, load in ((2000.0, 2000.0), (3000.0, 2394.0)):
        assert hopper_load_kg(
            hopper_m3=5.0, filled_fraction=0.95, density_kg_per_m3=504.0, limit_kg=limit
        ) == pytest.approx(load)


def test_a_hopper_more_than_full_is_refused() -> None:
    """Heaped hoppers spill."""
    with pytest.raises(OutOfRange):
        hopper_load_kg(hopper_m3=5.0, filled_fraction=1.05, density_kg_per_m3=504.0)


# --- the first load ---------------------------------------------------------------------------


def test_first_load_ten_percent_heavy() -> None:
    """6,000 lb gone after 76 ac where 84 were planned: 78.9 lb, 10.5 % heavy, gate to 0.905.

    By hand: 6,000 / 76 = 78.95; / 71.46 = 1.1048; 71.46 / 78.95 = 0.9052.
    """
    found = first_load(load_kg=6000 * LB_KG, area_m2=76 * ACRE_M2, planned_kg_per_m2=BULK)
    assert abs(found.actual_kg_per_m2 / LB_PER_AC - 78.9) <= 0.05
    assert round(100 * found.heavy_fraction, 1) == 10.5
    assert round(found.gate_factor, 3) == 0.905
    assert found.beyond_reading is None
    assert found.actual_low_kg_per_m2 == found.actual_kg_per_m2 == found.actual_high_kg_per_m2


def test_first_load_with_readings_that_may_be_out() -> None:
    """100 lb in the weight and 2 ac in the area are 1.7 and 2.6 %, together 3.1 %.

    By hand: sqrt(0.01667^2 + 0.02632^2) = 0.03115; 78.95 / 1.03115 = 76.56, * 1.03115 = 81.41;
    even the low side is heavier than 71.46, so the gate is really open too far.
    """
    found = first_load(
        load_kg=6000 * LB_KG,
        area_m2=76 * ACRE_M2,
        planned_kg_per_m2=BULK,
        load_within_kg=100 * LB_KG,
        area_within_m2=2 * ACRE_M2,
    )
    assert found.reading_fraction == pytest.approx(0.03115, abs=5e-6)
    assert round(found.actual_low_kg_per_m2 / LB_PER_AC, 2) == 76.56
    assert round(found.actual_high_kg_per_m2 / LB_PER_AC, 2) == 81.41
    assert found.gate_low_factor == pytest.approx(BULK / found.actual_high_kg_per_m2)
    assert found.gate_high_factor == pytest.approx(BULK / found.actual_low_kg_per_m2)
    assert found.beyond_reading is True


def test_a_difference_within_the_readings_is_no_reason_to_move_the_gate() -> None:
    """82 ac where 84 were planned, known to 3 ac: 2.4 % heavy, and 3.7 % may be the reading."""
    found = first_load(
        load_kg=6000 * LB_KG,
        area_m2=82 * ACRE_M2,
        planned_kg_per_m2=BULK,
        area_within_m2=3 * ACRE_M2,
    )
    assert round(100 * found.heavy_fraction, 1) == 2.4
    assert found.beyond_reading is False


@settings(deadline=None)
@given(st.floats(100.0, 10_000.0), st.floats(1e4, 1e6), rates, st.floats(0.0, 0.3))
def test_the_gate_factor_puts_the_rate_right(
    load: float, area: float, planned: float, out: float
) -> None:
    """The rate laid times the gate factor is the rate planned; the true one lies between."""
    found = first_load(
        load_kg=load,
        area_m2=area,
        planned_kg_per_m2=planned,
        load_within_kg=out * load,
        area_within_m2=out * area,
    )
    assert found.actual_kg_per_m2 * found.gate_factor == pytest.approx(planned)
    assert found.reading_fraction == pytest.approx(math.sqrt(2) * out)
    assert found.actual_low_kg_per_m2 <= found.actual_kg_per_m2 <= found.actual_high_kg_per_m2
    assert found.gate_low_factor <= found.gate_factor <= found.gate_high_factor


def test_a_reading_that_may_be_out_by_more_than_half_is_refused() -> None:
    """An area known only to 60 % says nothing about the gate."""
    with pytest.raises(OutOfRange):
        first_load(load_kg=100.0, area_m2=1000.0, planned_kg_per_m2=0.1, area_within_m2=600.0)


@pytest.mark.parametrize(("mass", "area"), [(0.0, 1.0), (1.0, 0.0), (float("inf"), 1.0)])
def test_impossible_weights_are_refused(mass: float, area: float) -> None:
    """Nothing laid, or nowhere laid."""
    with pytest.raises(OutOfRange):
        rate_from_weight_kg_per_m2(mass_kg=mass, area_m2=area)
