"""The public US forecast's intervals, totals and blocks against published figures."""

from __future__ import annotations

import json
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from duskline.core.weather import hours_of_day, rain_arrival
from duskline.exchange.gridpoint import interval_span, parse_forecast_json

NEW_YORK = ZoneInfo("America/New_York")
SERVICE_DAY = datetime(2022, 2, 4, tzinfo=NEW_YORK)

# US National Weather Service interface description, OpenAPI 3.8.1 (C1, C3: the specification's
# own pair), https://github.com/api-evangelist/weather-gov; C2, C4: grid data issued 2022-02-04
# for TAE/58,65, https://github.com/MatthewFlamm/pynws (tests/fixtures/detailed_forecast.json).
INTERVALS = [  # id, interval, begins, ends
    ("ISO-C1", "2007-03-01T13:00:00Z/P1Y2M10DT2H30M", "2007-03-01T13:00Z", "2008-05-11T15:30Z"),
    ("ISO-C2", "2022-02-03T21:00:00+00:00/P7DT14H", "2022-02-03T21:00Z", "2022-02-11T11:00Z"),
    ("ISO-C3", "P1Y2M10DT2H30M/2008-05-11T15:30:00Z", "2007-03-01T13:00Z", "2008-05-11T15:30Z"),
    ("ISO-C4", "2022-02-04T06:00:00+00:00/PT6H", "2022-02-04T06:00Z", "2022-02-04T12:00Z"),
]

# The same grid data: depth in mm over six hours from 06 UTC on 4 February.
DEPTHS_MM = [
    ("2022-02-04T06:00:00+00:00/PT6H", 2.032),
    ("2022-02-04T12:00:00+00:00/PT6H", 4.826),
    ("2022-02-04T18:00:00+00:00/PT6H", 4.826),
    ("2022-02-05T00:00:00+00:00/PT6H", 3.048),
    ("2022-02-05T06:00:00+00:00/PT6H", 2.286),
]
# The same grid data: chance in per cent over three hours each.
CHANCES = [
    ("2022-02-04T12:00:00+00:00/PT3H", 68),
    ("2022-02-04T15:00:00+00:00/PT3H", 87),
    ("2022-02-04T18:00:00+00:00/PT3H", 71),
]


def reply() -> str:
    """A reply of our own making around those figures; air, dew and wind are made up."""
    whole = "2022-02-04T06:00:00+00:00/PT30H"

    def layer(uom: str, values: list[tuple[str, float]]) -> dict[str, object]:
        return {"uom": uom, "values": [{"validTime": when, "value": one} for when, one in values]}

    layers = {
        "temperature": layer("wmoUnit:degC", [(whole, 15)]),
        "dewpoint": layer("wmoUnit:degC", [(whole, 12)]),
        "windSpeed": layer("wmoUnit:km_h-1", [(whole, 20.372)]),
        "quantitativePrecipitation": layer("wmoUnit:mm", DEPTHS_MM),
        "probabilityOfPrecipitation": layer("wmoUnit:percent", [(a, b) for a, b in CHANCES]),
    }
    return json.dumps({"properties": layers})


@pytest.mark.parametrize("row", INTERVALS, ids=lambda row: str(row[0]))
def test_intervals_end_where_the_service_says(row: tuple[str, str, str, str]) -> None:
    """Years and months by the calendar, days and hours elapsed, from either end."""
    _, text, begins, ends = row
    assert interval_span(text) == (datetime.fromisoformat(begins), datetime.fromisoformat(ends))


def test_depths_over_six_hours_keep_their_total_and_part_evenly() -> None:
    """QPF-C1: 17.018 mm, 0.67 in, in all. QPF-C3: 12 to 18 UTC is 0.804 mm an hour."""
    read = parse_forecast_json(reply(), file="grid.json", zone=NEW_YORK)
    assert read.forecast is not None
    assert read.forecast.rain_m.sum() == pytest.approx(0.017018, abs=5e-7)
    assert read.forecast.rain_m.sum() / 0.0254 == pytest.approx(0.67, abs=0.005)
    assert read.forecast.rain_m[6:12] * 1000 == pytest.approx([0.804] * 6, abs=0.0005)


def test_wind_of_the_service_is_eleven_knots() -> None:
    """WND-C1: 20.372 km/h is 11 knots, 12.66 mph."""
    read = parse_forecast_json(reply(), file="grid.json", zone=NEW_YORK)
    assert read.forecast is not None
    assert read.forecast.wind_mps[0] / (1852 / 3600) == pytest.approx(11.0, abs=0.001)
    assert read.forecast.wind_mps[0] / 0.44704 == pytest.approx(12.66, abs=0.005)


def test_blocks_add_up_between_the_largest_and_the_sum() -> None:
    """POP-C4 (derived): 68, 87, 71 %: largest 0.87, blocks apart 0.988, sum capped at 1."""
    read = parse_forecast_json(reply(), file="grid.json", zone=NEW_YORK)
    assert read.forecast is not None
    found = rain_arrival(
        hours_of_day(read.forecast, SERVICE_DAY),
        from_s=7 * 3600.0,
        rain_threshold_m=0.000254,
        block_s=3 * 3600.0,
    )
    by_21_utc = 16 - 7  # hours from 07:00 to 16:00 in New York
    assert found.shared_fraction[by_21_utc - 1] == pytest.approx(0.87)
    assert found.blocks_fraction[by_21_utc - 1] == pytest.approx(0.988, abs=0.0005)
    assert found.at_most_fraction[by_21_utc - 1] == 1.0
