"""Dew point, humidity and damp hours against published figures."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import psychrolib
import pytest

from duskline.core.weather import (
    Forecast,
    dew_point_c,
    humidity_fraction,
    saturation_vapour_pressure_pa,
    wet_by_leaf_tree,
)

# Hourly forecasts issued by the US National Weather Service with temperature, dew point and
# humidity side by side, kept as test data: https://github.com/MatthewFlamm/pynws
# (tests/fixtures). Humidity is printed as a whole per cent.
NATIONAL_WEATHER_SERVICE = [  # id, air F, dew point F, humidity %, half its last digit
    ("DEW-C2", 73, 64, 73, 0.5),
    ("DEW-C3", 72, 64, 76, 0.5),
    ("DEW-C4", 69, 64, 84, 0.5),
    ("DEW-C5", 66, 64, 93, 0.5),
    ("DEW-C6", 66, 65, 97, 0.5),
    ("DEW-C7", 72, 67, 84, 0.5),
    ("DEW-C8", 65, 65, 100, 0.5),
]

# Figures worked by another rule than ours: the row stays, the test asserts what holds.
BY_ANOTHER_RULE = [  # id, what, published, why, how near ours must come
    # FAO Irrigation and Drainage Paper 56, Example 3, quoted at
    # https://www.ncl.ucar.edu/Document/Functions/Crop/satvpr_temp_fao56.shtml. FAO uses
    # Tetens' constants (0.6108, 17.27, 237.3), which lie 0.2 % higher at 15 C; humidity and dew
    # point are ratios and do not see it.
    ("DEW-C1", "saturation at 15 C, kPa", 1.705, "another set of constants", 0.0025 * 1.705),
    # Lawrence 2005, Bull. Amer. Meteor. Soc. 86:225, https://doi.org/10.1175/BAMS-86-2-225: one
    # degree less for each 5 % under 100. A rule of thumb, good to its last whole degree.
    ("DEW-C9", "dew point at 15 C and 90 %, C", 13.0, "a rule of thumb", 0.5),
]

# Gleason et al. 1994 and Kim et al. 2002 (Plant Disease 86:179,
# https://apsnet.org/publications/plantdisease/2002/February/Pages/86_2_179.aspx), the rows with
# their outcome as printed at
# https://bhimchaulagain.netlify.app/post/2019-01-23-lwd-caclculation/.
LEAF_TREE = [  # id, air C, spread C, humidity %, wind m/s, wet
    ("DEW-C11", 19.0, 4.5, 77.0, 2.5, False),
    ("DEW-C12", 20.0, 1.5, 63.0, 3.5, False),
    ("DEW-C13", 5.0, 1.5, 97.0, 4.5, False),
    ("DEW-C14", 9.0, 0.5, 81.0, 2.5, False),
]


def celsius(fahrenheit: float) -> float:
    """Turn degrees F to C."""
    return (fahrenheit - 32.0) / 1.8


@pytest.mark.parametrize("row", NATIONAL_WEATHER_SERVICE, ids=lambda row: str(row[0]))
def test_humidity_agrees_with_the_weather_service(row: tuple[str, int, int, int, float]) -> None:
    """Humidity from temperature and dew point is the one printed beside them."""
    _, air_f, dew_f, percent, half = row
    found = humidity_fraction(air_c=celsius(air_f), dew_point_c=celsius(dew_f))
    assert 100.0 * float(found) == pytest.approx(percent, abs=half)


@pytest.mark.parametrize("row", BY_ANOTHER_RULE, ids=lambda row: str(row[0]))
def test_figure_by_another_rule_lies_as_near_as_the_rules_do(
    row: tuple[str, str, float, str, float],
) -> None:
    """FAO's saturation pressure within 0.25 %, the rule of thumb within half a degree."""
    _, what, published, _, near = row
    if what.startswith("saturation"):
        ours = float(saturation_vapour_pressure_pa(15.0)) / 1000.0
    else:
        ours = float(dew_point_c(air_c=15.0, humidity_fraction=0.9))
    assert ours == pytest.approx(published, abs=near)


@pytest.mark.parametrize("row", LEAF_TREE, ids=lambda row: str(row[0]))
def test_leaf_classifier_gives_the_printed_outcome(
    row: tuple[str, float, float, float, float, bool],
) -> None:
    """Four printed hours, all of them dry: three by the windy branch, one by its wide spread."""
    _, air, spread, percent, wind, wet = row
    blank = np.array([np.nan])
    weather = Forecast(
        hours_at=(datetime(2026, 9, 1, 22, tzinfo=ZoneInfo("America/Chicago")),),
        air_c=np.array([air]),
        dew_point_c=np.array([air - spread]),
        humidity_fraction=np.array([percent / 100.0]),
        wind_mps=np.array([wind]),
        gust_mps=blank,
        wind_from_deg=blank,
        rain_chance_fraction=blank,
        rain_m=blank,
    )
    assert wet_by_leaf_tree(weather).tolist() == [wet]


def test_dew_point_agrees_with_a_reference_library() -> None:
    """Psychrolib (ASHRAE Handbook of Fundamentals 2017) from 1 to 35 C and 40 to 95 %.

    https://github.com/psychrometrics/psychrolib. Within 0.05 C; sets of constants differ by up
    to 0.03. Only above freezing: under it the library counts from ice, a forecast from water.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    for air in range(1, 36):
        for percent in range(40, 96, 5):
            theirs = psychrolib.GetTDewPointFromRelHum(float(air), percent / 100.0)
            if theirs > 0.5:
                ours = float(dew_point_c(air_c=float(air), humidity_fraction=percent / 100.0))
                assert ours == pytest.approx(theirs, abs=0.05), (air, percent)
