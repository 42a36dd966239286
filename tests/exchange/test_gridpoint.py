"""The public US forecast in JSON, hourly periods and raw grid layers; files made by ourselves."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.weather import Forecast
from duskline.exchange.forecast import ForecastRead, read_forecast
from duskline.exchange.gridpoint import MOST_HOURS, interval_span, parse_forecast_json

CHICAGO = ZoneInfo("America/Chicago")
NOON = datetime(2026, 10, 18, 12, tzinfo=UTC)


def layer(uom: str | None, *values: tuple[str, object]) -> dict[str, Any]:
    """One raw layer: intervals after 2026-10-18T, and their values."""
    body: dict[str, Any] = {
        "values": [{"validTime": f"2026-10-18T{when}", "value": value} for when, value in values]
    }
    return body if uom is None else body | {"uom": uom}


def grid(**changed: object) -> dict[str, Any]:
    """A small grid reply: six hours from 12:00 UTC."""
    layers: dict[str, object] = {
        "updateTime": "2026-10-18T10:15:00+00:00",
        "temperature": layer("wmoUnit:degC", ("12:00:00+00:00/PT6H", 20)),
        "dewpoint": layer("wmoUnit:degC", ("12:00:00+00:00/PT6H", 10)),
        "relativeHumidity": layer("wmoUnit:percent", ("12:00:00+00:00/PT6H", 52)),
        "windSpeed": layer("wmoUnit:km_h-1", ("12:00:00+00:00/PT2H", 18), ("14:00:00Z/PT4H", 36)),
    }
    properties = {name: body for name, body in (layers | changed).items() if body is not None}
    return {"type": "Feature", "geometry": None, "properties": properties}


def period(hour: int, **changed: object) -> dict[str, Any]:
    """One hour of a periods reply, from 07:00 Chicago on."""
    start_at = datetime(2026, 10, 18, 7 + hour, tzinfo=CHICAGO)
    figures: dict[str, object] = {
        "number": hour + 1,
        "startTime": start_at.isoformat(),
        "endTime": (start_at + timedelta(hours=1)).isoformat(),
        "temperature": 50,
        "temperatureUnit": "F",
        "dewpoint": {"unitCode": "wmoUnit:degC", "value": 5.0},
        "relativeHumidity": {"unitCode": "wmoUnit:percent", "value": 71},
        "probabilityOfPrecipitation": {"unitCode": "wmoUnit:percent", "value": 20},
        "windSpeed": "5 to 10 mph",
        "windDirection": "SSW",
    }
    return figures | changed


def periods(*hours: object) -> dict[str, Any]:
    """A periods reply."""
    return {"properties": {"updateTime": "2026-10-18T10:15:00+00:00", "periods": list(hours)}}


def parse(reply: object) -> ForecastRead:
    """Read a reply."""
    return parse_forecast_json(json.dumps(reply), file="grid.json", zone=CHICAGO)


def good(read: ForecastRead) -> Forecast:
    """The forecast; there must be no problem."""
    assert [problem.sentence for problem in read.problems] == []
    assert read.forecast is not None
    return read.forecast


def sentences(read: ForecastRead) -> str:
    """What stands in the way; there must be something and no forecast."""
    assert read.forecast is None
    assert read.problems
    return "\n".join(problem.sentence for problem in read.problems)


# Grid layers


def test_intervals_are_cut_into_hours_by_the_farms_clock() -> None:
    """12:00 to 18:00 UTC are six hours from 07:00 in Chicago; wind 5, 5, then 10 m/s."""
    weather = good(parse(grid()))
    assert weather.hours_at[0] == datetime(2026, 10, 18, 7, tzinfo=CHICAGO)
    assert weather.hours_at[0].tzinfo is CHICAGO
    assert len(weather.hours_at) == 6
    assert weather.wind_mps.tolist() == pytest.approx([5.0] * 2 + [10.0] * 4)
    assert weather.humidity_fraction.tolist() == pytest.approx([0.52] * 6)
    assert weather.issued_at == datetime(2026, 10, 18, 10, 15, tzinfo=UTC)


def test_a_chance_holds_for_its_interval_and_a_depth_is_parted() -> None:
    """30 % over six hours is 30 % in each; 6 mm over six hours is 1 mm in each."""
    weather = good(
        parse(
            grid(
                probabilityOfPrecipitation=layer("wmoUnit:percent", ("12:00:00Z/PT6H", 30)),
                quantitativePrecipitation=layer("wmoUnit:mm", ("12:00:00Z/PT6H", 6.0)),
            )
        )
    )
    assert weather.rain_chance_fraction.tolist() == pytest.approx([0.3] * 6)
    assert weather.rain_m.tolist() == pytest.approx([0.001] * 6)


def test_a_depth_over_half_hours_keeps_its_total() -> None:
    """3 mm from 12:30 to 14:00 are 1 mm in the first half hour and 2 mm in the hour after."""
    rain = layer("wmoUnit:mm", ("12:30:00Z/PT1H30M", 3.0))
    weather = good(parse(grid(quantitativePrecipitation=rain)))
    assert weather.rain_m[:2].tolist() == pytest.approx([0.001, 0.002])


@pytest.mark.parametrize("prefix", ["wmo:", "wmoUnit:", "unit:", "uc:", "nwsUnit:", ""])
def test_a_units_prefix_does_not_matter(prefix: str) -> None:
    """The part after the colon counts."""
    weather = good(parse(grid(windSpeed=layer(f"{prefix}km_h-1", ("12:00:00Z/PT6H", 18)))))
    assert weather.wind_mps.tolist() == pytest.approx([5.0] * 6)


@pytest.mark.parametrize(
    ("name", "uom", "figure", "field", "value"),
    [
        ("temperature", "wmoUnit:degF", 68, "air_c", 20.0),
        ("temperature", "wmoUnit:K", 293.15, "air_c", 20.0),
        ("windSpeed", "wmoUnit:m_s-1", 7, "wind_mps", 7.0),
        ("windSpeed", "wmoUnit:kt", 10, "wind_mps", 5.14444),
        ("quantitativePrecipitation", "wmoUnit:in", 0.6, "rain_m", 0.00254),
        ("windDirection", "wmoUnit:degree_(angle)", 200, "wind_from_deg", 200.0),
    ],
)
def test_every_unit_is_honoured(
    name: str, uom: str, figure: float, field: str, value: float
) -> None:
    """The unit stands beside the figure and is never guessed."""
    weather = good(parse(grid(**{name: layer(uom, ("12:00:00Z/PT6H", figure))})))
    assert getattr(weather, field).tolist() == pytest.approx([value] * 6, rel=1e-5)


def test_an_unknown_or_missing_unit_is_told() -> None:
    """Furlongs a fortnight, and a wind without a unit."""
    for uom in ("wmoUnit:furlong", None):
        wind = layer(uom, ("12:00:00Z/PT6H", 18))
        assert "windSpeed.values[0].value: read the unit" in sentences(parse(grid(windSpeed=wind)))


def test_nulls_leave_their_hours_open_or_out() -> None:
    """No gust is left open; an hour without wind is left out with a note."""
    weather_read = parse(
        grid(
            windGust=layer("wmoUnit:km_h-1", ("12:00:00Z/PT6H", None)),
            windSpeed=layer("wmoUnit:km_h-1", ("12:00:00Z/PT5H", 18), ("17:00:00Z/PT1H", None)),
        )
    )
    weather = good(weather_read)
    assert len(weather.hours_at) == 5
    assert np.isnan(weather.gust_mps).all()
    assert "1 hour without" in weather_read.notes[0].sentence


def test_humidity_stands_in_for_a_missing_dew_point() -> None:
    """20 C at 50 % has its dew point at 9.26 C."""
    humid = layer("wmoUnit:percent", ("12:00:00Z/PT6H", 50))
    weather = good(parse(grid(dewpoint=None, relativeHumidity=humid)))
    assert weather.dew_point_c[0] == pytest.approx(9.26, abs=0.005)


# Hourly periods


def test_hourly_periods_are_read() -> None:
    """50 F is 10 C; "5 to 10 mph" counts as 10; south-south-west is 202.5 degrees."""
    weather = good(parse(periods(*(period(hour) for hour in range(3)))))
    assert weather.hours_at[0] == datetime(2026, 10, 18, 7, tzinfo=CHICAGO)
    assert weather.air_c.tolist() == pytest.approx([10.0] * 3)
    assert weather.wind_mps.tolist() == pytest.approx([4.4704] * 3)
    assert weather.wind_from_deg.tolist() == [202.5] * 3
    assert weather.rain_chance_fraction.tolist() == pytest.approx([0.2] * 3)
    assert np.isnan(weather.rain_m).all()


def test_the_newer_form_of_a_period_is_read() -> None:
    """Temperature and wind as objects with their units; a chance of null stays open."""
    weather = good(
        parse(
            periods(
                period(
                    0,
                    temperature={"unitCode": "wmoUnit:degC", "value": 10},
                    windSpeed={"unitCode": "wmoUnit:km_h-1", "minValue": 10, "maxValue": 18},
                    probabilityOfPrecipitation={"unitCode": "wmoUnit:percent", "value": None},
                )
            )
        )
    )
    assert weather.air_c.tolist() == [10.0]
    assert weather.wind_mps.tolist() == pytest.approx([5.0])
    assert np.isnan(weather.rain_chance_fraction).all()


def test_the_half_day_forecast_is_refused_for_the_hourly_one() -> None:
    """Periods of twelve hours say too little about dew."""
    long = period(0, endTime="2026-10-18T19:00:00-05:00")
    assert "hourly forecast" in sentences(parse(periods(long)))


# Hostile or broken text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "not JSON"),
        ("[" * 100_000, "not JSON"),
        ('{"properties": {"temperature": NaN}}', "not JSON"),
        ('{"a": ' + "9" * 5000 + "}", "not JSON"),
        ("[1, 2]", "a JSON object"),
        ('{"properties": 7}', "an object with the forecast"),
        ("{}", "layers such as temperature"),
        ('{"title": "Not Found", "status": 404}', "error reply: Not Found"),
        ('{"properties": {"periods": {"a": 1}}}', "a list of at most"),
    ],
)
def test_text_that_is_no_forecast_is_told_and_not_followed(text: str, said: str) -> None:
    """Deep nesting, endless figures, no numbers, error replies: one plain problem each."""
    assert said in sentences(parse_forecast_json(text, file="grid.json", zone=CHICAGO))


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ([("12:00:00Z/P9999D", 20)], "at most"),
        ([("12:00:00Z/P9999Y", 20)], "interval"),
        ([("12:00:00/PT6H", 20)], "interval"),
        ([("12:00:00Z/PT0H", 20)], "interval"),
        ([("NOW/PT6H", 20)], "interval"),
        ([("12:00:00Z/PT6H", 900)], "temperature"),
        ([("12:00:00Z/PT6H", "warm")], "temperature"),
        ([("12:00:00Z/PT6H", True)], "temperature"),
        ([("12:00:00Z/PT6H", 20), ("13:00:00Z/PT6H", 21)], "each hour once"),
    ],
)
def test_values_that_cannot_be_are_told_with_their_place(
    values: list[tuple[str, object]], said: str
) -> None:
    """Endless or empty intervals, no zone, heat, words, hours told twice."""
    told = sentences(parse(grid(temperature=layer("wmoUnit:degC", *values))))
    assert "temperature.values[" in told
    assert said in told


def test_hours_without_end_are_bounded() -> None:
    """Weeks upon weeks in many intervals stop at the bound."""
    start_at = datetime(2026, 10, 18, tzinfo=UTC)
    values = [
        {"validTime": f"{(start_at + timedelta(days=50 * n)).isoformat()}/P50D", "value": 9}
        for n in range(60)
    ]
    reply = grid(temperature={"uom": "wmoUnit:degC", "values": values})
    assert f"more than {MOST_HOURS} hours" in sentences(parse(reply))


def test_many_problems_are_cut_short() -> None:
    """A thousand bad values are not a thousand lines."""
    values = [("12:00:00Z/PT1H", "warm")] * 1000
    read = parse(grid(temperature=layer("wmoUnit:degC", *values)))
    assert len(read.problems) == 30


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=6,
)


@given(
    st.sampled_from(["temperature", "dewpoint", "windSpeed", "quantitativePrecipitation"]),
    json_values,
)
def test_nonsense_in_a_layer_never_breaks_the_reader(name: str, nonsense: object) -> None:
    """Whatever stands there: a forecast or a problem, never an error."""
    for body in (nonsense, {"uom": "wmoUnit:mm", "values": nonsense}, layer(None, ("x", nonsense))):
        read = parse(grid(**{name: body}))
        assert (read.forecast is None) == bool(read.problems)


@given(
    st.sampled_from(["startTime", "temperature", "windSpeed", "windDirection", "dewpoint"]),
    json_values,
)
def test_nonsense_in_a_period_never_breaks_the_reader(name: str, nonsense: object) -> None:
    """Whatever stands there: a forecast or a problem, never an error."""
    read = parse(periods(period(0), period(1, **{name: nonsense}), period(2)))
    assert (read.forecast is None) == bool(read.problems)


# Intervals and files


@given(st.integers(min_value=1, max_value=300), st.integers(min_value=0, max_value=59))
def test_an_interval_is_the_same_from_either_end(hours: int, minutes: int) -> None:
    """Start and duration, duration and end, start and end: one interval."""
    end_at = NOON + timedelta(hours=hours, minutes=minutes)
    length = f"PT{hours}H{minutes}M"
    start, end = NOON.isoformat(), end_at.isoformat()
    for text in (f"{start}/{length}", f"{length}/{end}", f"{start}/{end}"):
        assert interval_span(text) == (NOON, end_at)


@pytest.mark.parametrize(
    "text", ["", "2026-10-18T12:00Z", "2026-10-18T12:00Z/P", "2026-10-18T12:00Z/PT", "P1D/P1D",
             "2026-10-18T12:00Z/2026-10-18T11:00Z", "2026-13-18T12:00Z/PT1H"]
)  # fmt: skip
def test_what_is_no_interval_is_refused(text: str) -> None:
    """Empty, one end alone, an empty duration, the end before the start, month 13."""
    with pytest.raises(ValueError, match=r".*"):
        interval_span(text)


def test_a_reply_saved_in_the_farm_folder_is_read_by_what_it_holds(tmp_path: Path) -> None:
    """The same reader takes a reply in JSON, whatever the file is called."""
    path = tmp_path / "forecast.csv"
    path.write_text(json.dumps(grid()), encoding="utf-8")
    assert len(good(read_forecast(path, zone=CHICAGO)).hours_at) == 6
