"""Ground lapped over, against a published table.

The tolerance is half of the last digit printed; the table itself comes out exactly.
"""

from __future__ import annotations

import pytest

from duskline.core.lap import lapped_ground

FT_M = 0.3048
FT2_M2 = FT_M**2
ACRE_M2 = 4046.8564224

GRAINEWS = "Alberta AgTech Centre, overlap study, Grainews, 2009, https://www.grainews.ca/2009/04/20/a-study-from-albertas-agtech-centre-calculated-the-true-cost-of-overlap-the-conclusion-is-that-you-cant-afford-to-be-without-gps-guidance"

# MACH-C50, a quarter section 2,640 ft square, a 55 ft seeder, two headland passes at each end:
# overlap [ft], passes, their length [ft], lapped at the headlands and in the rest [ft2], all [ac],
# and MACH-C51: at $86.44 an acre of seed, fertiliser and work for canola.
QUARTER_SECTION = [
    (0, 48, 2420, 0, 0, 0.0, 0.0),
    (1, 49, 2424, 5280, 116_352, 2.792, 241.37),
    (2, 50, 2428, 10_560, 237_944, 5.705, 493.13),
    (3, 51, 2432, 15_840, 364_800, 8.738, 755.34),
]


@pytest.mark.parametrize(
    ("overlap", "passes", "length", "headland", "rest", "acres", "money"), QUARTER_SECTION
)
def test_what_overlap_costs_on_a_quarter_section(
    overlap: int, passes: int, length: int, headland: int, rest: int, acres: float, money: float
) -> None:
    """MACH-C50 and C51: 1 ft of overlap with a 55 ft seeder laps 2.8 ac of 160, $241 of canola."""
    found = lapped_ground(
        across_m=2640 * FT_M,
        along_m=2640 * FT_M,
        width_m=55 * FT_M,
        overlap_m=overlap * FT_M,
        headland_passes_count=2,
    )
    assert found.passes_count == passes, GRAINEWS
    assert abs(found.pass_length_m / FT_M - length) <= 0.5, GRAINEWS
    assert abs(found.headland_m2 / FT2_M2 - headland) <= 0.5, GRAINEWS
    assert abs(found.rest_m2 / FT2_M2 - rest) <= 0.5, GRAINEWS
    assert abs(found.total_m2 / ACRE_M2 - acres) <= 0.0005, GRAINEWS
    assert abs(found.total_m2 / ACRE_M2 * 86.44 - money) <= 0.005, GRAINEWS
