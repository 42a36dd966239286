"""The part-load fuel line and the fuel rows against published figures."""

from __future__ import annotations

import pytest

from duskline.core.fuel import fuel_m3_per_m2, fuel_m3_per_s, throttle_saving_fraction
from duskline.defaults import defaults

GALLON_M3 = 0.003785411784
ACRE_M2 = 4046.8564224
HORSEPOWER_W = 745.6998715822702
GAL_PER_H = GALLON_M3 / 3600
GAL_PER_AC = GALLON_M3 / ACRE_M2
FOOT_M, MPH_MPS = 0.3048, 0.44704

PM710 = (
    "Estimating farm machinery costs (PM 710), Iowa State University Extension, p. 6, "
    "https://www.yumpu.com/en/document/view/27603461/estimating-farm-machinery-costs-national-ag-risk-education-library/6"
)
HOY = (
    "Hoy, Nebraska Tractor Test Laboratory, in Farm Industry News, "
    "http://farmindustrynews.com/print/tractors/dollars-saved"
)
G1208 = "University of Missouri Extension: http://www.extension.missouri.edu/p/G1208"
DIGEST = "Corn and Soybean Digest, https://www.farmprogress.com/shift-throttle-back"


def gal_per_h(horsepower: float, share: float) -> float:
    """Return what the line gives for a tractor, in gallons an hour."""
    burnt = fuel_m3_per_s(pto_power_w=horsepower * HORSEPOWER_W, share_fraction=share)
    return burnt / GAL_PER_H


def test_the_line_meets_the_year_round_average_at_more_than_half_load() -> None:
    """MACH-C30: 180 PTO hp burns 7.92 gal/h over the year; on the line that is 58 % of its power.

    0.044 gal/h for each hp, published; 55 to 60 % is where the line reaches it.
    """
    assert gal_per_h(180, 0.55) < 7.92 < gal_per_h(180, 0.60), PM710
    assert gal_per_h(180, 0.579) == pytest.approx(7.92, abs=0.01), PM710


def test_the_line_lies_on_the_high_side_of_tested_tractors() -> None:
    """MACH-C31: 200 hp at 17 hp-h/gal burns 11.76 gal/h; the line says more, by less than 7 %."""
    tested = 200 / 17
    assert tested == pytest.approx(11.76, abs=0.005), HOY
    assert tested < gal_per_h(200, 1.0) < 1.07 * tested, HOY
    assert 200 / gal_per_h(200, 1.0) == pytest.approx(16.1, abs=0.05)


def test_the_line_in_gallons_and_horsepower() -> None:
    """0.0433 X + 0.0189 gal/h for each hp, worked out from 0.22 and 0.096 L/kWh."""
    idle = 2 * gal_per_h(1.0, 0.5) - gal_per_h(1.0, 1.0)
    assert idle == pytest.approx(0.0189, abs=5e-5)
    assert gal_per_h(1.0, 1.0) - idle == pytest.approx(0.0433, abs=5e-5)


def test_the_fuel_row_of_a_field_cultivator_is_the_published_one() -> None:
    """5.5 mph, 5.2 PTO hp a foot: 0.60 gal/ac, and 35 % either side of it."""
    row = defaults()["cultivator_fuel"]
    assert row.typical / GAL_PER_AC == pytest.approx(0.60, abs=0.005), G1208
    assert row.low / row.typical == pytest.approx(0.65, abs=0.005)
    assert row.high / row.typical == pytest.approx(1.35, abs=0.005)


def test_the_line_gives_less_for_that_pass_than_the_older_table() -> None:
    """5.2 hp a foot at 5.5 mph, full load: 0.49 gal/ac against the table's 0.60.

    The table's engines gave 12.8 to 13.9 hp-h/gal; the line's 16.1. Both are stated, and the
    row keeps the table's.
    """
    burnt = fuel_m3_per_s(pto_power_w=5.2 * HORSEPOWER_W, share_fraction=1.0)
    found = fuel_m3_per_m2(fuel_m3_per_s=burnt, work_rate_m2_per_s=FOOT_M * 5.5 * MPH_MPS)
    assert found / GAL_PER_AC == pytest.approx(0.485, abs=0.001), G1208
    assert found < defaults()["cultivator_fuel"].typical


def test_throttling_down_saves_within_what_was_published() -> None:
    """15 to 20 % or more is published, without the cut; 30 % less engine speed gives 19.6 %.

    At half load. The two figures of the saving are from memory; this only shows that they are
    of the right size.
    """
    found = throttle_saving_fraction(share_fraction=0.5, speed_cut_fraction=0.3)
    assert 0.15 <= found <= 0.21, DIGEST
