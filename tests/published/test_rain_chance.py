"""Chances of rain and forecast units against published figures."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from duskline.core.weather import Forecast, chance_if_independent_fraction
from duskline.exchange.forecast import parse_forecast

# Probability of precipitation (encyclopaedia copy),
# http://piglix.com/piglix/Probability_of_precipitation: hourly 0.3, three hours, independent.
INDEPENDENT_HOURS = [  # id, hourly chance, hours, published dry, published rain, half last digit
    ("POP-C1", 0.3, 3, 0.34, 0.66, 0.005),
]

# US National Weather Service grid data issued 2022-02-04 for TAE/58,65, kept as test data:
# https://github.com/MatthewFlamm/pynws (tests/fixtures). The service
# counts in whole knots and hundredths of an inch and prints km/h and mm.
SERVICE_UNITS = [  # id, column, printed figure, column, the whole figure it stands for, half digit
    ("WND-C1", "wind_kmh", "20.372", "wind_kn", "11", 0.0005 / 3.6),
    ("QPF-C2", "rain_mm", "4.826", "rain_in", "0.19", 0.0005 / 1000),
    ("QPF-C2", "rain_mm", "2.032", "rain_in", "0.08", 0.0005 / 1000),
]


@pytest.mark.parametrize("row", INDEPENDENT_HOURS, ids=lambda row: str(row[0]))
def test_independent_hours_add_up_as_published(
    row: tuple[str, float, int, float, float, float],
) -> None:
    """0.7 * 0.7 * 0.7 = 0.343 dry, 0.657 rain."""
    _, hourly, count, dry, rain, half = row
    found = float(chance_if_independent_fraction([hourly] * count)[-1])
    assert found == pytest.approx(rain, abs=half)
    assert 1.0 - found == pytest.approx(dry, abs=half)


@pytest.mark.parametrize("row", SERVICE_UNITS, ids=lambda row: f"{row[0]} {row[2]}")
def test_printed_units_read_as_the_whole_figure_behind_them(
    row: tuple[str, str, str, str, str, float],
) -> None:
    """20.372 km/h is 11 kn; 4.826 mm is 0.19 in; 2.032 mm is 0.08 in."""
    _, printed_name, printed, whole_name, whole, half = row
    one, other = read_figure(printed_name, printed), read_figure(whole_name, whole)
    assert one == pytest.approx(other, abs=half)


def read_figure(name: str, figure: str) -> float:
    """Read one figure through a forecast file, in SI."""
    wind = "" if name.startswith("wind") else ",wind_mps"
    calm = "" if name.startswith("wind") else ",2"
    text = f"time,air_c,humidity_percent,{name}{wind}\n2022-02-04T06:00Z,9,80,{figure}{calm}\n"
    read = parse_forecast(text, file="forecast.csv", zone=ZoneInfo("America/New_York"))
    assert isinstance(read.forecast, Forecast), read.problems
    values = read.forecast.wind_mps if name.startswith("wind") else read.forecast.rain_m
    return float(values[0])
