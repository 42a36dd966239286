"""The season and the forecast, run as a person would: print, write, run again after a change."""

from __future__ import annotations

import json
import re
import shutil
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar
from made_folders import ACRE_M2, asked, asked_json, copy_of, two_crews

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


# --- what is past, old or shared, and what is refused before the long search ----------------


def test_days_past_and_an_old_forecast_stand_below_the_answer(tmp_path: Path) -> None:
    """On the 20th: two days are over, and the forecast is two days old."""
    folder = copy_of(RYE, tmp_path)
    text = " ".join(
        asked("season", folder, *SHORT, "--now", "2026-10-20T12:00-05:00").stdout.split()
    )
    assert "! Sun Oct 18 to Mon Oct 19 are past (today is Tue Oct 20)" in text
    assert "! The forecast is 2 days old: put a new one in the folder" in text
    found = asked_json("season", folder, *SHORT, "--now", "2026-10-20T12:00-05:00")
    assert found["past_on"] == ["2026-10-18", "2026-10-19"]
    assert found["forecast_old"] is True
    assert found["forecast_age_s"] == pytest.approx((2 * 24 + 7) * 3600.0)
    kept = latest_plan(folder)
    assert kept is not None
    assert kept.made_at.isoformat() == "2026-10-20T12:00:00-05:00"


def test_on_the_morning_of_the_forecast_nothing_is_told(tmp_path: Path) -> None:
    """No line begins with a mark."""
    folder = copy_of(RYE, tmp_path)
    found = asked("season", folder, *SHORT, "--now", "2026-10-18T06:00-05:00").stdout
    assert "\n! " not in found


def test_a_plan_kept_before_is_told_with_its_age(
    season: tuple[Path, str, int], tmp_path: Path
) -> None:
    """Kept now, looked at ten days on."""
    folder = tmp_path / "farm"
    shutil.copytree(season[0], folder)
    kept = latest_plan(folder)
    assert kept is not None
    later = (kept.made_at + timedelta(days=10, hours=1)).isoformat()
    first = f"against plan {kept.version} of {kept.made_at:%Y-%m-%d}"
    assert f"{first}\n" in asked("season", folder, *SHORT).stdout
    text = asked("season", folder, *SHORT, "--now", later).stdout
    assert f"{first}, 10 days old\n" in text


@pytest.fixture
def no_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search that would be a fault if it were begun."""

    def begun(*_: Any, **__: Any) -> None:
        raise AssertionError("the search was begun")

    monkeypatch.setattr("duskline.answers.season.season_answer", begun)


@pytest.mark.usefixtures("no_search")
@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("season.ics", "no calendar", "season.ics: read a file that is no whole calendar"),
        ("season-plan-1.json", "{}", "season-plan-1.json, version: read nothing; expected the key"),
    ],
)
def test_a_bad_plan_or_calendar_is_refused_before_the_search(
    tmp_path: Path, name: str, content: str, says: str
) -> None:
    """Not after a minute of it."""
    folder = copy_of(RYE, tmp_path)
    (folder / "season").mkdir()
    (folder / "season" / name).write_text(content, encoding="utf-8")
    assert says in asked_or_error("season", folder, *SHORT)
    assert (folder / "season" / name).read_text("utf-8") == content
    assert len(list((folder / "season").iterdir())) == 1


@pytest.mark.usefixtures("no_search")
def test_a_file_where_the_plans_would_go_is_refused_before_the_search(tmp_path: Path) -> None:
    """It is left alone."""
    folder = copy_of(RYE, tmp_path)
    (folder / "season").write_text("mine", encoding="utf-8")
    assert "a folder to write into, or none yet" in asked_or_error("season", folder, *SHORT)
    assert (folder / "season").read_text("utf-8") == "mine"


@pytest.mark.usefixtures("no_search")
def test_a_folder_where_the_calendar_would_go_is_refused_too(tmp_path: Path) -> None:
    """Before the search."""
    folder = copy_of(RYE, tmp_path)
    (folder / "season" / "season.ics").mkdir(parents=True)
    assert "the calendar written before, or none yet" in asked_or_error("season", folder, *SHORT)


@pytest.mark.usefixtures("no_search")
def test_a_moment_without_its_offset_is_refused(tmp_path: Path) -> None:
    """As for the forecast."""
    text = asked_or_error("season", copy_of(RYE, tmp_path), "--now", "2026-10-18T06:00")
    assert "a moment with its offset" in text


def test_a_folder_that_names_no_day_is_told_what_helps(tmp_path: Path) -> None:
    """The season has no --date."""
    folder = copy_of(RYE, tmp_path)
    (folder / "forecast.csv").unlink()
    text = (folder / "farm.toml").read_text("utf-8")
    parts = re.split(r"(?m)^(?=\[)", text)
    text = "".join(part for part in parts if not part.startswith("[[window]]"))
    (folder / "farm.toml").write_text(text, encoding="utf-8")
    said = asked_or_error("season", folder)
    assert "No plan for this season: no first day, no forecast and no stated hours" in said
    assert "first_day and last_day under [season]" in said
    assert "--from and --to" in said
    assert "--date" not in said


def test_two_crews_that_share_somebody_read_of_it(tmp_path: Path) -> None:
    """In the text and in the JSON."""
    folder = two_crews(tmp_path, ('driver = "Carl"', 'driver = "Ana"'))
    days = ("--average", "--from", "2026-10-15", "--to", "2026-10-15")
    text = " ".join(asked("season", folder, *days).stdout.split())
    assert "! Crew 2 is without Ana on 1 day, when Crew 1 goes out." in text
    (one,) = asked_json("season", folder, *days)["without"]
    assert one["goes_with"] == "Crew 1"
    assert (one["crew"], one["name"]) == ("Crew 2", "Ana")


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


def test_a_folder_without_a_forecast_is_told_what_file_is_wanted(tmp_path: Path) -> None:
    """The command has no --date to choose another of."""
    folder = copy_of(RYE, tmp_path)
    (folder / "forecast.csv").unlink()
    said = asked_or_error("forecast", folder)
    assert "a folder with a forecast in it: forecast.csv or forecast.json" in said
    assert "--date" not in said


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
