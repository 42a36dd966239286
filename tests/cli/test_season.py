"""The season and the forecast, run as a person would: print, write, run again after a change."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar
from made_folders import ACRE_M2, asked, asked_json, copy_of

from duskline.exchange.season_plan import latest_plan

RYE = "rye-after-soybeans"
SHORT = ("--average", "--to", "2026-10-22")


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, int]:
    """The rye farm's season, printed and written once: folder, text, exit code."""
    folder = copy_of(RYE, tmp_path_factory.mktemp("season"))
    result = asked("season", folder, *SHORT)
    return folder, result.stdout, result.exit_code


@pytest.fixture(scope="module")
def found(season: tuple[Path, str, int]) -> Any:
    """The same as JSON."""
    return asked_json("season", season[0], *SHORT, "--fresh")


def test_the_answer_stands_first_and_the_days_below(season: tuple[Path, str, int]) -> None:
    """One answer, how sure, then each day with its stop and fields."""
    _, text, code = season
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    assert code == 0
    assert lines[0] == "EVERYTHING IS SOWN BY WEDNESDAY, OCTOBER 21"
    assert "in 20 that all is done by Wednesday, October 21" in lines[1]
    assert "ground not fit" in text
    assert text.count("stop ") >= 3
    assert "No plan of these days can" in text


def test_everything_taken_along_is_written(season: tuple[Path, str, int]) -> None:
    """The plan, the sheet, the calendar and the picture."""
    folder, text, _ = season
    names = {path.name for path in (folder / "season").iterdir()}
    assert names >= {"season-plan-1.json", "season-sheet.pdf", "season.ics", "season.svg"}
    assert "plan 1" in text
    assert (folder / "season" / "season.svg").read_text("utf-8").startswith("<svg")
    calendar = Calendar.from_ical((folder / "season" / "season.ics").read_bytes())
    assert len(list(calendar.walk("VEVENT"))) == 3


def test_the_json_has_its_fixed_names_and_adds_up(found: Any) -> None:
    """Days with fields, what has no day, when it ends, chance, cost, bound, gap, worth."""
    for name in (
        *("days", "unplaced", "finish_on", "chance_by_deadline"),
        *("cost", "bound", "gap", "worth"),
    ):
        assert name in found
    assert found["finish_on"] == "2026-10-21"
    assert found["unplaced"] == []
    sown = sum(field["area_m2"] for day in found["days"] for field in day["fields"])
    assert sown / ACRE_M2 == pytest.approx(362.75, abs=0.2)
    assert {"name", "area_m2", "crew"} <= found["days"][0]["fields"][0].keys()
    assert found["days"][0]["stop_at"].startswith("2026-10-18T1")
    assert found["bound"] <= found["cost"] + 1e-6
    assert found["gap"] == pytest.approx((found["cost"] - found["bound"]) / found["cost"])
    assert found["cost"] == pytest.approx(sum(found["cost_parts"].values()))
    assert 0.0 <= found["chance_by_deadline"] <= 1.0
    for one in found["worth"]:
        assert {"change", "days", "money", "low", "high"} <= one.keys()
        assert one["low"] <= one["money"] <= one["high"]


def test_json_alone_writes_nothing(tmp_path: Path) -> None:
    """Only --out does."""
    folder = copy_of(RYE, tmp_path)
    before = sorted(path.name for path in folder.iterdir())
    asked_json("season", folder, *SHORT)
    assert sorted(path.name for path in folder.iterdir()) == before


def test_a_second_run_keeps_the_plan_and_a_change_makes_a_new_one(
    season: tuple[Path, str, int],
) -> None:
    """The same folder: plan 1 again. A field gone: plan 2 says so, and plan 1 stays as it was."""
    folder, _, _ = season
    first = (folder / "season" / "season-plan-1.json").read_bytes()
    again = asked("season", folder, *SHORT).stdout
    assert "Unchanged: plan 1" in again
    assert not (folder / "season" / "season-plan-2.json").exists()
    outlines = json.loads((folder / "fields.geojson").read_text("utf-8"))
    outlines["features"] = [
        one for one in outlines["features"] if one["properties"]["name"] != "A6"
    ]
    (folder / "fields.geojson").write_text(json.dumps(outlines), encoding="utf-8")
    text = asked("season", folder, *SHORT).stdout
    assert "A6: gone" in text
    assert "the field is no longer in the folder" in " ".join(text.split())
    kept = latest_plan(folder)
    assert kept is not None
    assert kept.version == 2
    assert "A6" in kept.note
    assert (folder / "season" / "season-plan-1.json").read_bytes() == first


def test_a_date_that_is_none_says_what_is_wanted(tmp_path: Path) -> None:
    """The form is shown."""
    result = asked_or_error("season", copy_of(RYE, tmp_path), "--from", "18/10/2026")
    assert "a date such as 2026-10-18" in result


def asked_or_error(*arguments: str | Path) -> str:
    """Return the sentences of an error."""
    from duskline.core.errors import DusklineError
    from duskline.words.errors import sentences

    with pytest.raises(DusklineError) as wrong:
        asked(*arguments)
    return " ".join(sentences(wrong.value))


def test_a_season_that_ends_before_it_begins_is_refused(tmp_path: Path) -> None:
    """No days."""
    text = asked_or_error(
        "season", copy_of(RYE, tmp_path), "--from", "2026-10-20", "--to", "2026-10-18"
    )
    assert "a last day that is not before the first, 2026-10-20" in text


# --- the forecast --------------------------------------------------------------------------


def test_the_forecast_tells_its_age_and_its_hours(tmp_path: Path) -> None:
    """An hour old; four dates, the second with rain from both ends."""
    folder = copy_of(RYE, tmp_path)
    result = asked("forecast", folder, "--now", "2026-10-18T06:00-05:00")
    text = " ".join(result.stdout.split())
    assert result.exit_code == 0
    assert "THE FORECAST IS 1 H 00 MIN OLD" in text
    assert "if it is all one rain, at most" in text
    assert text.count("you stated other hours") == 4
    assert (folder / "forecast_history.csv").exists()


def test_an_old_forecast_ends_with_1(tmp_path: Path) -> None:
    """Two days old: get a new one."""
    folder = copy_of(RYE, tmp_path)
    result = asked("forecast", folder, "--now", "2026-10-20T06:00-05:00")
    assert result.exit_code == 1
    assert "get a new one" in result.stdout


def test_weather_that_came_is_held_against_the_forecast(tmp_path: Path) -> None:
    """The same file as what came: no error at all, but too few days to say so."""
    folder = copy_of(RYE, tmp_path)
    (folder / "weather.csv").write_bytes((folder / "forecast.csv").read_bytes())
    found = asked_json("forecast", folder, "--now", "2026-10-18T06:00-05:00")
    assert {one["figure"] for one in found["bias"]} == {"air_c", "dew_point_c", "wind_mps"}
    assert all(one["too_few"] for one in found["bias"])
    assert all(abs(one["bias"]) < 1e-4 for one in found["bias"])


def test_nothing_but_https_is_fetched(tmp_path: Path) -> None:
    """A file address is refused and the folder's forecast stands."""
    folder = copy_of(RYE, tmp_path)
    result = asked(
        "forecast", folder, "--fetch", "file:///etc/passwd", "--now", "2026-10-18T06:00-05:00"
    )
    assert "Not fetched" in result.stderr
    assert not (folder / "forecast.json").exists()
    assert "1 H 00 MIN OLD" in result.stdout
