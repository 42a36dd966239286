"""Repairs, remaining value and prices of hired work against published tables."""

from __future__ import annotations

import pytest

from duskline.core.cost import Part, remaining_fraction, repair_fraction
from duskline.defaults import defaults

HOUR_S = 3600.0
ACRE_M2 = 4046.8564224
GALLON_M3 = 0.003785411784

PM710_TABLES = (
    "Estimating farm machinery costs (PM 710), Iowa State University Extension, tables 1a and 3, "
    "as transcribed at https://huggingface.co/spaces/rylieweber/Homework2, "
    "repair_table_data.py and salvage_table_data.py"
)
ILLINOIS = (
    "http://www.agprofessional.com/news/u_of_il_machinery_cost_estimates_for_2006_120147049.html"
)
IOWA_2019 = "https://www.minnstarbank.com/2019/04/08/selected-2019-farm-custom-rates/"
PENNSYLVANIA = "https://www.farmprogress.com/farm-business/check-out-pennsylvania-custom-rates"

# Repairs so far in per cent of list price, at equal steps of hours.
DISK = [1, 4, 8, 12, 18, 25, 32, 40, 49, 58]
TRACTOR = [1, 3, 6, 11, 18, 25, 34, 45, 57, 70]


@pytest.mark.parametrize(("step", "percent"), list(enumerate(DISK, start=1)))
def test_repairs_of_a_tandem_disk(step: int, percent: int) -> None:
    """MACH-C40: each 200 h to 2,000 h with RF1 0.18, RF2 1.7 (both from memory), to the digit."""
    found = repair_fraction(used_s=200 * step * HOUR_S, rf1=0.18, rf2=1.7)
    assert 100 * found == pytest.approx(percent, abs=0.5), PM710_TABLES


@pytest.mark.parametrize(("step", "percent"), list(enumerate(TRACTOR, start=1)))
def test_repairs_of_a_tractor(step: int, percent: int) -> None:
    """MACH-C41: each 1,000 h to 10,000 h with Duskline's own rows, to the digit printed."""
    rows = defaults()
    found = repair_fraction(
        used_s=1000 * step * HOUR_S,
        rf1=rows["repair_rf1_tractor_2wd"].typical,
        rf2=rows["repair_rf2_tractor_2wd"].typical,
    )
    assert 100 * found == pytest.approx(percent, abs=0.5 + 1e-9), PM710_TABLES


@pytest.mark.parametrize(("years", "percent"), [(1, 60), (5, 43), (10, 32), (15, 25), (20, 20)])
def test_what_a_small_tractor_is_still_worth(years: int, percent: int) -> None:
    """MACH-C42: 30-79 hp, 400 h a year; within 0.7 points, as neither rounding fits all five."""
    rows = defaults()
    c1, c2, c3 = (rows[f"remaining_c{index}_tractor_small"].typical for index in (1, 2, 3))
    found = remaining_fraction(age_years=years, yearly_s=400 * HOUR_S, c1=c1, c2=c2, c3=c3)
    assert 100 * found == pytest.approx(percent, abs=0.7), PM710_TABLES


def test_a_dollar_on_a_gallon_is_sixty_cents_on_an_acre() -> None:
    """MACH-C33: planting at 0.60 gal/ac: fuel dearer by $1.00 a gallon costs $0.60 an acre more."""
    used = Part.exact(0.60 * GALLON_M3 / ACRE_M2)
    cheap, dear = (used.times(price / GALLON_M3).value for price in (2.50, 3.50))
    assert (dear - cheap) * ACRE_M2 == pytest.approx(0.60), ILLINOIS


def test_rows_of_hired_work_are_the_published_ones() -> None:
    """Field cultivator $16.00 an acre, Iowa 2019; bulk broadcasting $14.20 (8 to 17), PA 2022."""
    rows = defaults()
    cultivator, broadcast = rows["custom_field_cultivator"], rows["custom_broadcast"]
    assert cultivator.typical * ACRE_M2 == pytest.approx(16.0), IOWA_2019
    assert [end * ACRE_M2 for end in (broadcast.low, broadcast.typical, broadcast.high)] == [
        pytest.approx(value) for value in (8.0, 14.2, 17.0)
    ], PENNSYLVANIA
    assert "Iowa 2019" in cultivator.name
    assert "Pennsylvania 2022" in broadcast.name
