"""What each forecast said, kept; and a fetched one's copy. No test leaves this machine."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from made_weather import hourly

from duskline.core.weather import Forecast
from duskline.core.weather.history import forecast_bias
from duskline.exchange import forecast_history
from duskline.exchange.forecast_history import (
    MOST_FETCHED,
    FetchedForecast,
    add_to_history,
    fetch_forecast,
    read_history,
)

CHICAGO = ZoneInfo("America/Chicago")
FIVE = datetime(2026, 10, 18, 5, tzinfo=CHICAGO)
NOW = datetime(2026, 10, 18, 12, tzinfo=UTC)


def made(issued_at: datetime | None = FIVE, *, air_c: float = 15.0) -> Forecast:
    """Twelve hours from 03:00, two of them over when it was made."""
    return hourly(
        datetime(2026, 10, 18, 3, tzinfo=CHICAGO),
        air_c=[air_c] * 12,
        wind_mps=4.0,
        rain_chance=[0.2] * 11 + [float("nan")],
        issued_at=issued_at,
    )


def test_a_forecast_is_kept_and_read_again(tmp_path: Path) -> None:
    """Ten hours from 05:00 on; an open chance stays open."""
    path = tmp_path / "forecast_history.csv"
    assert add_to_history(path, made()) == 10
    found = read_history(path)
    assert found.problems == ()
    assert len(found.hours) == 10
    first = found.hours[0]
    assert (first.issued_at, first.for_at) == (FIVE, FIVE)
    assert (first.air_c, first.wind_mps, first.rain_chance_fraction) == (15.0, 4.0, 0.2)
    assert str(found.hours[-1].rain_chance_fraction) == "nan"


def test_the_same_forecast_is_kept_once_and_a_new_one_beside_it(tmp_path: Path) -> None:
    """Used twice it counts once; the one an hour later is added and the first left as it was."""
    path = tmp_path / "forecast_history.csv"
    add_to_history(path, made())
    before = path.read_bytes()
    assert add_to_history(path, made()) == 0
    assert path.read_bytes() == before
    assert add_to_history(path, made(FIVE + timedelta(hours=1))) == 9
    assert path.read_bytes().startswith(before)


def test_a_forecast_without_a_date_is_not_kept(tmp_path: Path) -> None:
    """How long ahead it was said is not known."""
    path = tmp_path / "forecast_history.csv"
    assert add_to_history(path, made(None)) == 0
    assert not path.exists()


def test_a_line_cut_off_spoils_itself_alone(tmp_path: Path) -> None:
    """A power cut in the middle of a line: told, and the next forecast is whole."""
    path = tmp_path / "forecast_history.csv"
    add_to_history(path, made())
    path.write_bytes(path.read_bytes()[:-12])
    assert add_to_history(path, made(FIVE + timedelta(hours=1))) == 9
    found = read_history(path)
    assert len(found.hours) == 9 + 9
    assert "line 11" in found.problems[0].sentence


@pytest.mark.parametrize(
    "line", ["2026-10-18T10:00:00Z,2026-10-18T11:00:00Z,x,5,4,20", "a,b,1,2,3,4", "1,2",
             "2026-10-18T10:00:00,2026-10-18T11:00:00,1,2,3,4",
             "2026-10-18T10:00:00Z,2026-10-18T11:00:00Z,1,2,3,400"]
)  # fmt: skip
def test_lines_that_cannot_be_read_are_told(tmp_path: Path, line: str) -> None:
    """Words, too few cells, no zone, a chance of 400 %."""
    path = tmp_path / "forecast_history.csv"
    path.write_text(line + "\n", encoding="utf-8")
    found = read_history(path)
    assert found.hours == ()
    assert "line 1" in found.problems[0].sentence


def test_a_history_that_is_not_there_is_empty(tmp_path: Path) -> None:
    """No file, no hours, no problem."""
    assert read_history(tmp_path / "none.csv").hours == ()


def test_the_history_tells_the_bias_of_this_farm(tmp_path: Path) -> None:
    """Said 17 C, seen 15: two degrees warm, on one day only, which is too few."""
    path = tmp_path / "forecast_history.csv"
    add_to_history(path, made(air_c=17.0))
    (one,) = forecast_bias(read_history(path).hours, made(), figure="air_c", least_days=10)
    assert (one.bias, one.days, one.too_few) == (2.0, 1, True)


# Fetching


@pytest.fixture
def server() -> Iterator[str]:
    """A server on this machine: /good, /long, /away (leads to a file), else not found."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = b'{"properties": {}}' if self.path == "/good" else b""
            if self.path == "/long":
                body = b"x" * (MOST_FETCHED + 10)
            away = self.path == "/away"
            self.send_response(302 if away else 200 if body else 404)
            if away:
                self.send_header("Location", "ftp://127.0.0.1/etc/hostname")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    found = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=found.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{found.server_port}"
    found.shutdown()
    thread.join()
    found.server_close()


def fetch(url: str, path: Path, *, now_at: datetime = NOW) -> FetchedForecast:
    """Fetch from this machine, where plain http is allowed to the test alone."""
    return forecast_history._fetch(url, path, now_at, 3600.0, 5.0, schemes=("https", "http"))


def test_a_fetched_forecast_is_kept_with_its_age(server: str, tmp_path: Path) -> None:
    """Fetched at noon; half an hour later the copy is 1,800 s old and not asked for again."""
    path = tmp_path / "forecast.json"
    assert fetch(f"{server}/good", path) == FetchedForecast(path=path, age_s=0.0)
    assert path.read_bytes() == b'{"properties": {}}'
    later = fetch("http://127.0.0.1:9/never", path, now_at=NOW + timedelta(minutes=30))
    assert later == FetchedForecast(path=path, age_s=1800.0)


@pytest.mark.parametrize("place", ["/missing", "/long", "/away"])
def test_what_cannot_be_fetched_leaves_the_old_copy(
    server: str, tmp_path: Path, place: str
) -> None:
    """Not found, too long, led away: the copy of the day before stays, with age and reason."""
    path = tmp_path / "forecast.json"
    fetch(f"{server}/good", path)
    found = fetch(f"{server}{place}", path, now_at=NOW + timedelta(days=1))
    assert found.age_s == 86400.0
    assert found.failed
    assert path.read_bytes() == b'{"properties": {}}'
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("url", ["file:///etc/hostname", "http://127.0.0.1:9/", "ftp://x/", ""])
def test_nothing_but_https_is_opened(tmp_path: Path, url: str) -> None:
    """Files, plain http and others are refused before anything is opened."""
    found = fetch_forecast(url, tmp_path / "forecast.json", now_at=NOW)
    assert found.failed == "the address is not https"
    assert found.age_s is None
