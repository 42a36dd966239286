"""The farm folder: every problem of every file at once, and where each figure came from."""

from __future__ import annotations

import json
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_folders import ACRE_M2, EXAMPLES, FOOT_M, HECTARE_M2, copy_of

from duskline.exchange.farmfolder import read_farm, read_folder
from duskline.exchange.problems import FolderProblem

RYE = "rye-after-soybeans"


def sentences(folder: Path) -> list[str]:
    """Return every problem of a folder."""
    return [problem.sentence for problem in read_folder(folder).problems]


def test_the_examples_hold_their_fields() -> None:
    """9 fields of 362.75 ac, 7 of 72.66 ha, 40 of 1,629.81 ac."""
    for name, count, area, unit in (
        (RYE, 9, 362.75, ACRE_M2),
        ("oats-and-radish", 7, 72.66, HECTARE_M2),
        ("forty-fields", 40, 1629.81, ACRE_M2),
    ):
        farm = read_farm(EXAMPLES / name)
        assert len(farm.fields) == count
        assert sum(one.area_m2 for one in farm.fields) / unit == pytest.approx(area, abs=0.02)


def test_problems_of_all_files_come_together(tmp_path: Path) -> None:
    """A wrong key, a wrong tray, a wrong hour and a wrong field: one list."""
    farm = copy_of(
        RYE,
        tmp_path,
        farm_toml=[('speed = "8 mph"', 'sped = "8 mph"')],
        trays_csv=[("\n30,", "\n31,")],
        forecast_csv=[("2026-10-18T12:00", "2026-10-18T25:00")],
        fields_geojson=[('"name": "A3"', '"name": "A1"')],
    )
    files = {text.split(",")[0].split(":")[0] for text in sentences(farm)}
    assert files == {"farm.toml", "trays.csv", "forecast.csv", "fields.geojson"}
    with pytest.raises(FolderProblem) as refused:
        read_farm(farm)
    assert len(refused.value.problems) >= 4


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('driver = "Neighbor"', 'driver = "Neighbour"', "Did you mean 'Neighbor'?"),
        ('tractor = "Old tractor"', 'tractor = "Old one"', "the name of a tractor"),
        ('drives = ["Cultivator 1"]', 'drives = ["Cultivator 9"]', "the name of a machine"),
        ('pulls = ["Cultivator 1"]', 'pulls = ["Plough"]', "the name of a machine"),
        ('lot = "Bin rye"', 'lot = "Bin ry"', "Did you mean 'Bin rye'?"),
        ('name = "Cultivator 2"', 'name = "Cultivator 1"', "'Cultivator 1' twice"),
        ("date = 2026-10-19", "date = 2026-10-18", "'2026-10-18' twice"),
        ("America/Chicago", "America/Chicgo", "Did you mean 'America/Chicago'?"),
        ("America/Chicago", "../../etc/passwd", "a time zone such as"),
        ('lead = "20 min"', 'lead = "20 min"\norder = ["A11"]', "the name of a field"),
        ('test_weight = "54 lb/bu"\n', "", "test_weight on the lot 'Bin rye'"),
        ('load = "6000 lb"', 'hopper = "3000 L"', ""),
    ],
)
def test_names_must_meet(tmp_path: Path, old: str, new: str, words: str) -> None:
    """A name that nothing answers to is told with the nearest known one."""
    found = sentences(copy_of(RYE, tmp_path, farm_toml=[(old, new)]))
    assert bool(found) == bool(words)
    assert not words or any(words in text for text in found)


@pytest.mark.parametrize("name", ["../farm.toml", "/etc/passwd", "no.csv", "a/b.csv"])
def test_a_tray_file_stays_in_the_folder(tmp_path: Path, name: str) -> None:
    """No path leads out of the farm folder."""
    lot = 'live_rate = "61 lb/ac"'
    farm = copy_of(RYE, tmp_path, farm_toml=[(lot, f'{lot}\ntrays = "{name}"')])
    assert any("the name of a tray file in this folder" in text for text in sentences(farm))


def test_a_folder_with_nothing_in_it_says_what_is_missing(tmp_path: Path) -> None:
    """No folder, an empty folder, a folder without outlines."""
    assert "no such folder" in sentences(tmp_path / "none")[0]
    assert "no such file" in sentences(tmp_path)[0]
    farm = copy_of(RYE, tmp_path)
    (farm / "fields.geojson").unlink()
    assert any("one outline a field" in text for text in sentences(farm))


def test_forecast_log_and_trays_may_be_missing(tmp_path: Path) -> None:
    """What is not needed need not be there."""
    farm = copy_of(RYE, tmp_path)
    for name in ("forecast.csv", "trays.csv"):
        (farm / name).unlink()
    assert read_farm(farm).forecast is None


def test_a_width_not_stated_comes_from_the_trays(tmp_path: Path) -> None:
    """Without a driving width the tray test's 45 ft is taken, and its place is named."""
    farm = read_farm(copy_of(RYE, tmp_path, farm_toml=[('driving_width = "40 ft"\n', "")]))
    assert farm.spreaders[0].driving_width_m == pytest.approx(45 * FOOT_M)
    assert "tray test" in farm.figures["spreader.Spreader.driving_width"].source


def test_each_figure_knows_whether_it_is_the_farms_own() -> None:
    """Stated figures name farm.toml, the rest their default's source and range."""
    farm = read_farm(EXAMPLES / RYE)
    assert farm.figures["spreader.Spreader.speed"].source == "farm.toml"
    turning = farm.figures["cultivator.Cultivator 1.turning_radius"]
    assert turning.is_default
    assert turning.low is not None


def test_passes_counted_give_the_effective_width(tmp_path: Path) -> None:
    """12 passes over 226 ft with a 21 ft tool: effective 18.8 ft, overlap 10.3 %."""
    counted = 'width = "21 ft"\ncounted = { passes = 12, across = "226 ft" }'
    farm = read_farm(
        copy_of(RYE, tmp_path, farm_toml=[('width = "30 ft"\noverlap_share = "10 %"', counted)])
    )
    machine = farm.cultivators[0]
    assert machine.working_width_m / FOOT_M == pytest.approx(18.83, abs=0.005)
    assert machine.overlap_m / machine.width_m == pytest.approx(0.103, abs=0.0005)


# --- when fields are ready --------------------------------------------------------------------

A2 = '"ready_early": "2026-10-18T15:00", "ready_late": "2026-10-20T12:00"'


def test_a_field_carries_its_harvest_by_the_farms_clock() -> None:
    """A2: 3 pm on the 18th, 9 am on the 19th, noon on the 20th, all five hours behind."""
    (field,) = [one for one in read_farm(EXAMPLES / RYE).fields if one.name == "A2"]
    moments = (field.ready_early_at, field.ready_at, field.ready_late_at)
    assert [moment.isoformat() for moment in moments if moment] == [
        "2026-10-18T15:00:00-05:00",
        "2026-10-19T09:00:00-05:00",
        "2026-10-20T12:00:00-05:00",
    ]
    assert (field.due_on, field.may_split, field.priority) == (None, True, 1.0)


def test_a_field_carries_its_own_due_day_and_care(tmp_path: Path) -> None:
    """Due on the 20th, in one piece, before others."""
    own = f'{A2}, "due": "2026-10-20", "split": false, "priority": "first"'
    farm = read_farm(copy_of(RYE, tmp_path, fields_geojson=[(A2, own)]))
    (field,) = [one for one in farm.fields if one.name == "A2"]
    assert (str(field.due_on), field.may_split, field.priority) == ("2026-10-20", False, 4.0)


@pytest.mark.parametrize(
    ("new", "says"),
    [
        (
            '"ready_early": "2026-10-19T10:00"',
            'field "A2", ready_early: read 2026-10-19 10:00; expected a moment no later than '
            "ready_from. ready_from is 2026-10-19 09:00.",
        ),
        (
            '"ready_late": "2026-10-19"',
            'field "A2", ready_late: read 2026-10-19 00:00; expected a moment no earlier than '
            "ready_from. ready_from is 2026-10-19 09:00.",
        ),
        ('"ready_early": "2026-10-19T10:00-04:00"', ""),
        ('"ready_early": "2026-10-19T10:00-04:30"', "ready_early: read 2026-10-19 10:00"),
    ],
)
def test_early_comes_before_likely_and_late_after_it(tmp_path: Path, new: str, says: str) -> None:
    """Compared as moments: 10 am four hours behind is 9 am five hours behind."""
    found = sentences(copy_of(RYE, tmp_path, fields_geojson=[(A2, new)]))
    assert len(found) == bool(says)
    assert not says or says in found[0]


def test_a_field_ready_now_has_no_early_day_but_may_have_a_late_one(tmp_path: Path) -> None:
    """A1 is ready; an early day makes no sense."""
    now, key = '"ready_from": "now"', "ready_early"
    folder = copy_of(RYE, tmp_path, fields_geojson=[(now, f'{now}, "{key}": "2026-10-18"')])
    assert "expected a moment no later than ready_from. ready_from is now." in sentences(folder)[0]
    late = tmp_path / "late"
    folder = copy_of(RYE, late, fields_geojson=[(now, f'{now}, "ready_late": "2026-10-19"')])
    assert sentences(folder) == []


# --- two forecasts ----------------------------------------------------------------------------


def forecast_reply(updated: str | None, air_c: float = 12.0) -> str:
    """A public reply of a day of hours, said to be made at a moment."""
    begin = datetime(2026, 10, 18, tzinfo=UTC)
    layers: dict[str, object] = {
        name: {
            "uom": unit,
            "values": [{"validTime": f"{begin.isoformat()}/PT24H", "value": value}],
        }
        for name, unit, value in (
            ("temperature", "wmoUnit:degC", air_c),
            ("dewpoint", "wmoUnit:degC", 5.0),
            ("windSpeed", "wmoUnit:km_h-1", 10.0),
        )
    }
    return json.dumps({"properties": layers | ({"updateTime": updated} if updated else {})})


def test_a_public_reply_is_a_forecast(tmp_path: Path) -> None:
    """forecast.json alone is read, and dated."""
    folder = copy_of(RYE, tmp_path)
    (folder / "forecast.csv").unlink()
    (folder / "forecast.json").write_text(forecast_reply("2026-10-17T22:00:00+00:00"), "utf-8")
    farm = read_farm(folder)
    assert farm.forecast is not None
    assert set(farm.forecast.air_c) == {12.0}
    assert farm.forecast_issued_at == datetime(2026, 10, 17, 22, tzinfo=UTC)


@pytest.mark.parametrize(
    ("updated", "taken"),
    [
        ("2026-10-18T10:30:00+00:00", "forecast.json"),  # forecast.csv is of 10:00
        ("2026-10-18T09:30:00+00:00", "forecast.csv"),
        ("2026-10-18T10:00:00+00:00", "forecast.csv"),
        (None, "forecast.csv"),
    ],
)
def test_of_two_forecasts_the_newer_is_taken_and_said(
    tmp_path: Path, updated: str | None, taken: str
) -> None:
    """The one written by hand where they are equal, or where the other is not dated."""
    folder = copy_of(RYE, tmp_path)
    (folder / "forecast.json").write_text(forecast_reply(updated, air_c=29.0), "utf-8")
    read = read_folder(folder)
    assert read.problems == []
    assert read.farm is not None
    assert read.farm.forecast is not None
    assert (set(read.farm.forecast.air_c) == {29.0}) == (taken == "forecast.json")
    (note,) = [note for note in read.notes if note.startswith("Two forecasts")]
    assert f"{taken} (2026-10-18 05:" in note
    assert "is taken" in note.split(",")[0]
    assert note in read.farm.notes


def test_a_reply_that_cannot_be_read_is_a_problem_beside_a_good_forecast(tmp_path: Path) -> None:
    """It is not passed over in silence."""
    folder = copy_of(RYE, tmp_path)
    (folder / "forecast.json").write_text('{"title": "Not Found", "status": 404}', "utf-8")
    assert any(text.startswith("forecast.json: read an error reply") for text in sentences(folder))


@settings(max_examples=40, deadline=None)
@given(
    name=st.sampled_from(
        [
            "farm.toml",
            "fields.geojson",
            "forecast.csv",
            "forecast.json",
            "trays.csv",
            "log.csv",
        ]
    ),
    raw=st.binary(max_size=300),
)
def test_no_bytes_in_any_file_make_the_reader_raise(name: str, raw: bytes) -> None:
    """Whatever stands in a file, the answer is a farm or a list of problems."""
    with tempfile.TemporaryDirectory() as place:
        farm = copy_of(RYE, Path(place))
        (farm / name).write_bytes(raw)
        found = read_folder(farm)
        assert (found.farm is None) == bool(found.problems)
