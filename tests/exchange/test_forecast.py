"""Reading forecast.csv."""

from __future__ import annotations

import runpy
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.light import local_midnight_at
from duskline.core.weather import Forecast, dew_point_c, hours_of_day
from duskline.exchange.forecast import (
    MOST_BYTES,
    MOST_ROWS,
    ForecastRead,
    parse_forecast,
    read_forecast,
)

CHICAGO = ZoneInfo("America/Chicago")
NEW_YORK = ZoneInfo("America/New_York")
AUCKLAND = ZoneInfo("Pacific/Auckland")
EXAMPLES = Path(__file__).parents[2] / "examples"
US_HEADER = (
    "time,air_f,dew_point_f,humidity_percent,wind_mph,gust_mph,wind_from_deg,"
    "rain_chance_percent,rain_in"
)
SHORT = "time,air_c,humidity_percent,wind_kmh"


def parse(*lines: str, zone: ZoneInfo = CHICAGO) -> ForecastRead:
    """Read these lines as a forecast.csv."""
    return parse_forecast("\n".join(lines), file="forecast.csv", zone=zone)


def good(read: ForecastRead) -> Forecast:
    """The forecast; there must be no problem."""
    assert read.problems == ()
    assert read.forecast is not None
    return read.forecast


def sentence(read: ForecastRead) -> str:
    """The one problem's sentence; there must be exactly one and no forecast."""
    assert read.forecast is None
    assert len(read.problems) == 1, [problem.sentence for problem in read.problems]
    return read.problems[0].sentence


# What is read


def test_us_units_become_si() -> None:
    """68 F is 20 C, 50 F 10 C, 60 % 0.6, 10 mph 4.4704 m/s, 20 mph 8.9408, 0.1 in 2.54 mm."""
    row = "2026-10-18T07:00-05:00,68,50,60,10,20,225,35,0.1"
    weather = good(parse("# issued: 2026-10-18T05:00-05:00", US_HEADER, row))
    assert weather.hours_at == (datetime(2026, 10, 18, 7, tzinfo=CHICAGO),)
    assert weather.issued_at == datetime(2026, 10, 18, 10, tzinfo=UTC)
    figures = {
        "air_c": 20.0,
        "dew_point_c": 10.0,
        "humidity_fraction": 0.6,
        "wind_mps": 4.4704,
        "gust_mps": 8.9408,
        "wind_from_deg": 225.0,
        "rain_chance_fraction": 0.35,
        "rain_m": 0.00254,
    }
    for name, value in figures.items():
        assert getattr(weather, name).tolist() == pytest.approx([value]), name


@pytest.mark.parametrize(
    ("column", "figure"), [("wind_kmh", "36"), ("wind_mps", "10"), ("wind_kn", "19.438445")]
)
def test_wind_is_read_in_every_unit_it_is_forecast_in(column: str, figure: str) -> None:
    """36 km/h, 10 m/s and 19.44 knots are one wind."""
    weather = good(
        parse(f"time,air_c,humidity_percent,{column}", f"2026-10-18T07:00,9,80,{figure}")
    )
    assert weather.wind_mps.tolist() == pytest.approx([10.0])


def test_one_of_dew_point_and_humidity_gives_the_other() -> None:
    """20 C at 50 % has its dew point at 9.26 C; a dew point equal to the air is 100 %."""
    by_humidity = good(parse(SHORT, "2026-10-18T07:00,20,50,5"))
    assert by_humidity.dew_point_c[0] == pytest.approx(9.26, abs=0.005)
    by_dew = good(parse("time,air_c,dew_point_c,wind_kmh", "2026-10-18T07:00,12,12,5"))
    assert by_dew.humidity_fraction[0] == pytest.approx(1.0)
    row_by_row = good(
        parse(
            "time,air_c,dew_point_c,humidity_percent,wind_kmh",
            "2026-10-18T07:00,20,,50,5",
            "2026-10-18T08:00,20,9,,5",
        )
    )
    expected_c = float(dew_point_c(air_c=20.0, humidity_fraction=0.5))
    assert row_by_row.dew_point_c.tolist() == pytest.approx([expected_c, 9.0])


def test_figures_not_given_are_left_open() -> None:
    """No gust column and an empty chance: neither is taken to be nought."""
    weather = good(parse(f"{SHORT},rain_chance_percent", "2026-10-18T07:00,9,80,5,"))
    for values in (weather.gust_mps, weather.rain_chance_fraction, weather.rain_m):
        assert np.isnan(values).all()


def test_dew_point_rounded_above_the_air_is_taken_as_the_air() -> None:
    """Air 12.0 and dew point 12.4 in a saturated hour: 12.0, within the rounding."""
    weather = good(parse("time,air_c,dew_point_c,wind_kmh", "2026-10-18T07:00,12,12.4,5"))
    assert weather.dew_point_c.tolist() == [12.0]


def test_spreadsheet_habits_are_read() -> None:
    """Windows line ends, capitals, spaces, quotes, blank lines, a comment."""
    text = (
        "\r\n# from the kitchen table\r\n Time , AIR_C,Humidity_percent,wind_kmh\r\n"
        '"2026-10-18 07:00", 9 ,80,5\r\n\r\n,,,\r\n'
    )
    assert good(parse_forecast(text, file="forecast.csv", zone=CHICAGO)).air_c.tolist() == [9.0]


# Times


def test_time_without_offset_is_the_farms_own_clock() -> None:
    """07:00 in Chicago on 18 October is 12:00 UTC; with an offset or Z it is what it says."""
    for text in ("2026-10-18T07:00", "2026-10-18T12:00Z", "2026-10-19T01:00+13:00"):
        weather = good(parse(SHORT, f"{text},9,80,5"))
        assert weather.hours_at[0].astimezone(UTC) == datetime(2026, 10, 18, 12, tzinfo=UTC)


def test_hour_that_happens_twice_is_taken_in_the_order_of_the_file() -> None:
    """New York, 1 November 2026: 00, 01, 01, 02 by the clock are four hours on end, with notes."""
    rows = [f"2026-11-01T{hour},9,80,5" for hour in ("00:00", "01:00", "01:00", "02:00")]
    read = parse(SHORT, *rows, zone=NEW_YORK)
    weather = good(read)
    hours = hours_of_day(weather, local_midnight_at(date(2026, 11, 1), NEW_YORK))
    assert hours.starts_s.tolist() == [0.0, 3600.0, 7200.0, 10800.0]
    said = [note.sentence for note in read.notes]
    assert ["first" in said[0], "second" in said[1], len(said)] == [True, True, 2]


def test_hour_that_does_not_happen_is_a_problem() -> None:
    """Auckland, 27 September 2026: clocks go from 02:00 to 03:00, there is no 02:00."""
    said = sentence(parse(SHORT, "2026-09-27T02:00,9,80,5", zone=AUCKLAND))
    assert "line 2" in said
    assert "clocks go forward" in said


def test_hours_out_of_order_are_sorted_with_a_note() -> None:
    """09, 07, 08: read as 07, 08, 09, and said."""
    rows = [f"2026-10-18T{hour}:00,{hour},80,5" for hour in ("09", "07", "08")]
    read = parse(SHORT, *rows)
    assert good(read).air_c.tolist() == [7.0, 8.0, 9.0]
    assert [note.sentence for note in read.notes] == [
        "forecast.csv, line 3: hours are out of order and were sorted."
    ]


def test_same_hour_twice_is_a_problem_with_both_lines() -> None:
    """08:00 by the farm's clock and 13:00 UTC are one hour."""
    rows = ["2026-10-18T08:00,9,80,5", "2026-10-18T09:00,9,80,5", "2026-10-18T13:00Z,9,80,5"]
    said = sentence(parse(SHORT, *rows))
    assert "line 4" in said
    assert "line 2" in said


def test_hours_closer_than_an_hour_are_a_problem() -> None:
    """08:00 and 08:30 cannot both hold for an hour."""
    assert "line 3" in sentence(parse(SHORT, "2026-10-18T08:00,9,80,5", "2026-10-18T08:30,9,80,5"))


@pytest.mark.parametrize(
    "text", ["10/18/2026 7:00", "2026-10-18", "07:00", "", "2026-02-30T07:00", "0001-01-01T00:00Z"]
)
def test_time_in_another_form_is_told_the_right_form(text: str) -> None:
    """A spreadsheet's date, a date alone, an hour alone, nothing, a day that is not."""
    said = sentence(parse(SHORT, f"{text},9,80,5"))
    assert "line 2, time" in said
    assert "2026-10-18T07:00-05:00" in said


def test_issue_time_that_cannot_be_read_is_a_problem() -> None:
    """A forecast whose age is nonsense must not pass as one without an age."""
    read = parse("# issued: this morning", SHORT, "2026-10-18T07:00,9,180,5")
    assert [problem.where for problem in read.problems] == [
        "line 1, issued",
        "line 3, humidity_percent",
    ]


# Problems


@pytest.mark.parametrize(
    ("column", "figure"),
    [
        ("humidity_percent", "101"),
        ("humidity_percent", "-1"),
        ("rain_chance_percent", "120"),
        ("wind_mph", "150"),
        ("wind_mph", "-1"),
        ("air_f", "141"),
        ("air_f", "-77"),
        ("wind_from_deg", "361"),
        ("rain_in", "20"),
        ("rain_in", "trace"),
        ("gust_mph", "nan"),
        ("gust_mph", "1e999"),
        ("wind_mph", "1_0"),
    ],
)
def test_figure_that_cannot_be_is_refused_with_its_place(column: str, figure: str) -> None:
    """The problem names line and column, says what was read and what was expected."""
    cells = dict(
        zip(
            US_HEADER.split(","),
            ["2026-10-18T07:00", "68", "50", "60", "10", "20", "225", "35", "0.1"],
            strict=True,
        )
    )
    cells[column] = figure
    said = sentence(parse(US_HEADER, ",".join(cells.values())))
    assert f"line 2, {column}: read {figure}; expected a number from" in said


def test_highest_and_lowest_figures_that_can_be_are_read() -> None:
    """140 F, -76 F, 100 %, 149.9 mph, 360 degrees and 0 in are at the edge and good."""
    rows = ["2026-10-18T07:00,140,50,100,149.9,0,360,100,0", "2026-10-18T08:00,-76,-76,1,0,0,0,0,0"]
    assert good(parse(US_HEADER, *rows)).air_c.tolist() == pytest.approx([60.0, -60.0])


def test_dew_point_well_above_the_air_is_a_problem() -> None:
    """Air 12 C with a dew point of 13 C: columns swapped, most likely."""
    said = sentence(parse("time,air_c,dew_point_c,wind_kmh", "2026-10-18T07:00,12,13,5"))
    assert "1.0 C above the air" in said


def test_humidity_of_nought_is_a_problem() -> None:
    """No air is perfectly dry: nought is a figure somebody did not have."""
    assert "humidity 0" in sentence(parse(SHORT, "2026-10-18T07:00,12,0,5"))


def test_decimal_comma_is_told_to_be_a_point() -> None:
    """9,5 in quotes is a number by another custom."""
    assert "point" in sentence(parse(SHORT, '2026-10-18T07:00,"9,5",80,5'))


def test_empty_needed_cells_are_problems_and_optional_ones_are_not() -> None:
    """Air, wind and one of dew point and humidity are needed in every row."""
    read = parse(SHORT, "2026-10-18T07:00,,80,5", "2026-10-18T08:00,9,,5", "2026-10-18T09:00,9,80,")
    assert [problem.where for problem in read.problems] == [
        "line 2, air_c",
        "line 3",
        "line 4, wind_kmh",
    ]


def test_every_problem_is_told_at_once() -> None:
    """A bad hour, two bad figures in a row and a short row: four problems in one reading."""
    read = parse(
        SHORT,
        "noon,9,80,5",
        "2026-10-18T08:00,99,180,5",
        "2026-10-18T09:00,9",
        "2026-10-18T10:00,9,80,5",
    )
    assert read.forecast is None
    assert [problem.where for problem in read.problems] == [
        "line 2, time",
        "line 3, air_c",
        "line 3, humidity_percent",
        "line 4",
    ]


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("time,air,humidity_percent,wind_kmh,air_c", ["read air;", "Did you mean air_"]),
        ("time,air_c,wind_kmh", ["dew_point_f, dew_point_c, humidity_percent"]),
        ("time,humidity_percent,wind_kmh", ["air_f, air_c"]),
        ("time,air_c,humidity_percent", ["wind_mph, wind_kmh, wind_mps, wind_kn"]),
        ("time,air_c,air_f,humidity_percent,wind_kmh", ["more than once"]),
        ("time,time,air_c,humidity_percent,wind_kmh", ["time twice"]),
        ("2026-10-18T07:00,9,80,5", ["a header such as time,air_f"]),
        ("time;air_c;humidity_percent;wind_kmh", ["with commas between"]),
    ],
)
def test_header_problem_says_what_is_wanted(header: str, words: list[str]) -> None:
    """Unknown, missing and doubled columns, no header, and cells parted by semicolons."""
    said = sentence(parse(header))
    assert all(word in said for word in words), said


@pytest.mark.parametrize("text", ["", "\n\n", "# issued: 2026-10-18T05:00\n"])
def test_empty_file_is_told_the_form(text: str) -> None:
    """Nothing in it: the header is shown."""
    assert "time,air_f" in sentence(parse(text))


def test_header_without_hours_is_a_problem() -> None:
    """A forecast of no hour is none."""
    assert "no hours" in sentence(parse(SHORT))


def test_open_quote_is_told_with_its_line() -> None:
    """A quotation mark that never closes."""
    assert "line 2" in sentence(parse(SHORT, '"2026-10-18T07:00,9,80,5'))


# Bounds and files


def test_more_hours_than_two_years_hold_are_refused() -> None:
    """One row over the bound stops the reading with one problem."""
    first_s = datetime(2020, 1, 1, tzinfo=UTC).timestamp()
    rows = [
        f"{datetime.fromtimestamp(first_s + 3600 * n, tz=UTC).isoformat(timespec='minutes')},9,80,5"
        for n in range(MOST_ROWS + 1)
    ]
    assert f"at most {MOST_ROWS}" in sentence(parse(SHORT, *rows))


def test_file_over_the_bound_is_not_read(tmp_path: Path) -> None:
    """More than 5 MB is no hourly forecast."""
    path = tmp_path / "forecast.csv"
    path.write_bytes(b"#" * (MOST_BYTES + 1))
    assert "more than 5 MB" in sentence(read_forecast(path, zone=CHICAGO))


def test_file_that_is_not_text_is_told_with_its_line(tmp_path: Path) -> None:
    """Bytes that are not UTF-8 on line 2."""
    path = tmp_path / "forecast.csv"
    path.write_bytes(SHORT.encode() + b"\n2026-10-18T07:00,9\xff,80,5\n")
    said = sentence(read_forecast(path, zone=CHICAGO))
    assert "line 2" in said
    assert "UTF-8" in said


def test_file_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    """Spreadsheets begin a text with three bytes that are not part of it."""
    path = tmp_path / "forecast.csv"
    path.write_bytes(b"\xef\xbb\xbf" + SHORT.encode() + b"\n2026-10-18T07:00,9,80,5\n")
    assert good(read_forecast(path, zone=CHICAGO)).air_c.tolist() == [9.0]


def test_file_that_is_not_there_is_a_problem(tmp_path: Path) -> None:
    """A missing file and a folder in its place are told, not raised."""
    assert "forecast.csv" in sentence(read_forecast(tmp_path / "forecast.csv", zone=CHICAGO))
    assert sentence(read_forecast(tmp_path, zone=CHICAGO))


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused_but_never_raises(text: str) -> None:
    """Whatever stands in the file, the answer is a forecast or problems, never both or neither."""
    for lines in ((text,), (US_HEADER, text), (SHORT, f"2026-10-18T07:00,{text}")):
        read = parse(*lines)
        assert (read.forecast is None) == bool(read.problems)


@given(
    st.lists(
        st.tuples(st.floats(-40, 50), st.integers(1, 100), st.floats(0, 60)),
        min_size=1,
        max_size=20,
    )
)
def test_what_is_written_is_read_back(rows: list[tuple[float, int, float]]) -> None:
    """Temperature, humidity and wind come back as they were written, in SI."""
    first_s = datetime(2026, 10, 18, tzinfo=UTC).timestamp()
    lines = [
        f"{datetime.fromtimestamp(first_s + 3600 * n, tz=UTC).isoformat(timespec='minutes')},"
        f"{air!r},{humid},{wind!r}"
        for n, (air, humid, wind) in enumerate(rows)
    ]
    weather = good(parse("time,air_c,humidity_percent,wind_mps", *lines))
    assert weather.air_c.tolist() == [air for air, _, _ in rows]
    assert weather.humidity_fraction.tolist() == pytest.approx([h / 100 for _, h, _ in rows])
    assert weather.wind_mps.tolist() == [wind for _, _, wind in rows]


# The example farms


@pytest.mark.parametrize(
    ("folder", "zone", "days", "hours_a_day"),
    [
        ("rye-after-soybeans", CHICAGO, (date(2026, 10, 18), 4), 14),
        ("oats-and-radish", AUCKLAND, (date(2026, 3, 1), 2), 14),
        ("forty-fields", NEW_YORK, (date(2026, 10, 15), 6), 13),
    ],
)
def test_example_forecasts_are_read_whole(
    folder: str, zone: ZoneInfo, days: tuple[date, int], hours_a_day: int
) -> None:
    """Every hour of every day from 07:00, without problem or note, made before the first."""
    read = read_forecast(EXAMPLES / folder / "forecast.csv", zone=zone)
    weather = good(read)
    first, count = days
    assert read.notes == ()
    assert len(weather.hours_at) == count * hours_a_day
    assert weather.hours_at[0] == datetime(first.year, first.month, first.day, 7, tzinfo=zone)
    assert weather.issued_at is not None
    assert weather.issued_at < weather.hours_at[0]
    assert {at.hour for at in weather.hours_at} == set(range(7, 7 + hours_a_day))


def test_example_forecasts_are_what_their_tool_writes() -> None:
    """The files in examples/ come from tools/place_forecasts.py and were not edited by hand."""
    tool = runpy.run_path(str(EXAMPLES.parent / "tools" / "place_forecasts.py"))
    for folder, text in tool["forecasts"]().items():
        assert (EXAMPLES / folder / "forecast.csv").read_text(encoding="utf-8") == text
