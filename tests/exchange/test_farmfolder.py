"""The farm folder: every problem of every file at once, and where each figure came from."""

from __future__ import annotations

import tempfile
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


@settings(max_examples=40, deadline=None)
@given(
    name=st.sampled_from(["farm.toml", "fields.geojson", "forecast.csv", "trays.csv", "log.csv"]),
    raw=st.binary(max_size=300),
)
def test_no_bytes_in_any_file_make_the_reader_raise(name: str, raw: bytes) -> None:
    """Whatever stands in a file, the answer is a farm or a list of problems."""
    with tempfile.TemporaryDirectory() as place:
        farm = copy_of(RYE, Path(place))
        (farm / name).write_bytes(raw)
        found = read_folder(farm)
        assert (found.farm is None) == bool(found.problems)
