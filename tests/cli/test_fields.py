"""The commands about one field, its track, the cost and the points, run as a person would."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import shapely
from made_drives import made_drive
from made_folders import EXAMPLES, HECTARE_M2, asked, asked_json, copy_of

from duskline.core.track import Track
from duskline.exchange.farmfolder import read_farm
from duskline.exchange.projection import LocalPlane
from duskline.units import UnitError

RYE = "rye-after-soybeans"
OATS = "oats-and-radish"


def written_gpx(path: Path, drive: Track, plane: LocalPlane) -> Path:
    """Write a drive as a GPX file and return where."""
    points = "".join(
        f'<trkpt lat="{lat:.9f}" lon="{lon:.9f}"><time>'
        f"{datetime.fromtimestamp(at, UTC).isoformat()}</time></trkpt>"
        for (lon, lat), at in zip(
            plane.to_lonlat(drive.points_m).tolist(), drive.t_s.tolist(), strict=True
        )
    )
    path.write_text(
        '<?xml version="1.0"?><gpx version="1.1" creator="made" '
        f'xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{points}</trkseg></trk></gpx>',
        encoding="utf-8",
    )
    return path


def field_plane(name: str) -> LocalPlane:
    """Return the plane of a field of example A."""
    noun = next(one for one in read_farm(EXAMPLES / RYE).fields if one.name == name)
    assert noun.plane_lonlat_deg is not None
    return LocalPlane(lon_deg=noun.plane_lonlat_deg[0], lat_deg=noun.plane_lonlat_deg[1])


def test_a_field_is_told_for_both_machines() -> None:
    """One line on top, then spreader, edges, both cultivators and the ground."""
    found = asked("field", EXAMPLES / RYE, "A2")
    assert found.exit_code == 0
    text = " ".join(found.stdout.split())
    for words in (
        "SPREAD EAST AND WEST (90°); COVER 5° OFF IT",
        "Spreader (Owner) spreads Bin rye",
        "Load 1: 2,8",
        "East side (water): middle of the first pass",
        "Cultivator 1 (Neighbor) covers",
        "Cultivator 2 (Owner) covers",
        "missed 0.00 %",
    ):
        assert words in text


def test_the_json_of_a_field_has_its_fixed_names() -> None:
    """The names that other programs read; headings clockwise from north, within half a turn."""
    found = asked_json("field", EXAMPLES / RYE, "A3")
    assert found["area_m2"] == pytest.approx(11.4 * HECTARE_M2, rel=1e-3)
    assert set(found["spread"]) >= {"heading_deg", "passes", "minutes", "longest_edge_minutes"}
    assert set(found["cover"]) >= {"heading_deg", "turned_deg", "passes", "rounds", "minutes"}
    assert found["spread"]["minutes"] <= found["spread"]["longest_edge_minutes"] * (1.0 + 1e-9)
    assert found["cover"]["turned_deg"] == pytest.approx(5.0, abs=1.0)
    assert 0.0 <= found["spread"]["heading_deg"] < 180.0
    assert 0.0 <= found["missed_fraction"] <= 0.005
    assert 0.0 < found["twice_fraction"] < 0.5
    assert 0.0 <= found["skip_fraction"] < 0.05
    advised = found["overlap_advised_m"]
    assert 0.0 < advised["low"] <= advised["best"] <= advised["high"]


def test_the_angle_can_be_asked_for() -> None:
    """Ten degrees asked for, ten driven, by every machine."""
    found = asked_json("field", EXAMPLES / RYE, "A1", "--angle", "10 deg")
    turned = [one["turned_deg"] for one in found["machines"] if one["work"] == "cover"]
    assert turned == pytest.approx([10.0, 10.0], abs=0.01)


def test_passes_are_written_as_geojson_inside_the_field(tmp_path: Path) -> None:
    """Every pass, round and turn in lon/lat with machine, kind and order; passes stay inside."""
    path = tmp_path / "a5.geojson"
    assert asked("field", EXAMPLES / RYE, "A5", "--geojson", path).exit_code == 0
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    kinds = {one["properties"]["kind"] for one in features}
    assert kinds == {"pass", "round", "turn"}
    machines = {one["properties"]["machine"] for one in features}
    assert machines == {"Spreader", "Cultivator 1", "Cultivator 2"}
    for machine in machines:
        orders = [
            one["properties"]["order"]
            for one in features
            if one["properties"]["machine"] == machine
        ]
        assert orders == list(range(1, len(orders) + 1))
    noun = next(one for one in read_farm(EXAMPLES / RYE).fields if one.name == "A5")
    assert noun.outline is not None
    plane = field_plane("A5")
    field = noun.outline.shape.buffer(0.05)
    for one in features:
        if one["properties"]["kind"] == "turn":
            continue
        line = plane.to_plane(np.asarray(one["geometry"]["coordinates"]))
        assert shapely.covers(field, shapely.LineString(line))


def test_turns_join_what_they_lie_between(tmp_path: Path) -> None:
    """A turn begins where the last pass ended and ends where the next begins, to a decimetre."""
    path = tmp_path / "a1.geojson"
    asked("field", EXAMPLES / RYE, "A1", "--geojson", path)
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    plane = field_plane("A1")
    lines = [plane.to_plane(np.asarray(one["geometry"]["coordinates"])) for one in features]
    joined = 0
    for at, one in enumerate(features):
        if one["properties"]["kind"] == "turn":
            assert np.hypot(*(lines[at][0] - lines[at - 1][-1])) < 0.1
            assert np.hypot(*(lines[at][-1] - lines[at + 1][0])) < 0.1
            joined += 1
    assert joined > 50


def test_the_map_is_written(tmp_path: Path) -> None:
    """--svg writes a drawing that opens."""
    path = tmp_path / "a4.svg"
    assert asked("field", EXAMPLES / RYE, "A4", "--svg", path).exit_code == 0
    assert path.read_text(encoding="utf-8").startswith("<svg")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("A11",), "nearest: A1"),
        (("A1", "--angle", "60 deg"), "from 0 to 45 degrees"),
        (("A1", "--angle", "5"), "with its unit"),
        (("A1", "--date", "tomorrow"), "a date such as 2026-10-18"),
    ],
)
def test_a_slip_is_told_with_what_is_expected(
    arguments: tuple[str, ...], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong name, angle or date: one sentence, exit code 2."""
    from duskline.cli.main import main

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["duskline", "field", str(EXAMPLES / RYE), *arguments])
        with pytest.raises(SystemExit) as left:
            main()
    assert left.value.code == 2
    assert words in capsys.readouterr().err


def test_a_metric_farm_reads_metric() -> None:
    """Hectares, metres, litres and kilograms; never a foot."""
    text = asked("field", EXAMPLES / OATS, "B4").stdout
    assert " ha" in text
    assert " kg" in text
    assert " L " in text
    assert " ft" not in text
    assert " ac" not in text
    assert " lb" not in text


def test_why_opens_the_working_of_a_field() -> None:
    """The formula, the room for a turn and where each figure came from."""
    text = " ".join(asked("field", EXAMPLES / RYE, "A1", "--why").stdout.split())
    assert "(passes + rounds) / speed + turning" in text
    assert "room for a turn" in text
    assert "our judgement" in text


def test_a_track_is_read_back(tmp_path: Path) -> None:
    """A drive made with 27 ft between passes of a 30 ft tool reads 3 ft of overlap."""
    plane = field_plane("A1")
    drive = made_drive(passes=12, spacing_m=27 * 0.3048, length_m=500.0, heading_rad=0.0)
    moved = Track(t_s=drive.t_s + 1.76e9, points_m=drive.points_m - np.asarray([250.0, 150.0]))
    path = written_gpx(tmp_path / "drive.gpx", moved, plane)
    found = asked("track", EXAMPLES / RYE, "A1", path)
    assert found.exit_code == 0
    assert "LAPS 3.0 FT" in found.stdout
    answer = asked_json("track", EXAMPLES / RYE, "A1", path)
    assert answer["joints"]["overlap_m"] == pytest.approx(3 * 0.3048, abs=0.02)
    assert answer["speed_mps"] == pytest.approx(2.5, rel=0.02)
    assert answer["passes"] == 12


def test_open_ground_is_told_by_the_hour(tmp_path: Path) -> None:
    """The spreader an hour ahead: open ground rises, then falls to nothing at the end."""
    plane = field_plane("A1")
    begin = 1_792_330_200.0  # 09:30 in the farm's zone on 18 October 2026
    shift = np.asarray([250.0, 150.0])
    spread = made_drive(passes=16, spacing_m=12.192, length_m=500.0, heading_rad=0.0, speed_mps=3.0)
    cover = made_drive(passes=24, spacing_m=8.23, length_m=500.0, heading_rad=0.0)
    first = Track(t_s=begin + spread.t_s, points_m=spread.points_m - shift)
    second = Track(t_s=begin + 3600.0 + cover.t_s, points_m=cover.points_m - shift)
    thrown = written_gpx(tmp_path / "spread.gpx", first, plane)
    worked = written_gpx(tmp_path / "cover.gpx", second, plane)
    answer = asked_json("track", EXAMPLES / RYE, "A1", worked, "--spread", thrown)
    opened = [hour["open_m2"] for hour in answer["open"]]
    assert max(opened) > 2.0 * HECTARE_M2
    assert opened[-1] < 0.05 * max(opened)
    text = asked("track", EXAMPLES / RYE, "A1", worked, "--spread", thrown).stdout
    assert "10:00 am: open" in text


def test_the_cost_of_an_acre_and_its_json() -> None:
    """Story 40 by the command: parts that add up, and what is not counted."""
    found = asked("cost", EXAMPLES / RYE)
    assert "$19.83 AN ACRE" in found.stdout
    assert "machine ownership not counted" in found.stdout
    answer = asked_json("cost", EXAMPLES / RYE)
    parts = answer["per_acre"]
    assert answer["currency"] == "USD"
    assert sum(parts[key] for key in ("seed", "cleaning", "fuel", "labour", "points")) == (
        pytest.approx(answer["total"], abs=1e-9)
    )


def test_points_are_told_and_the_exit_says_swap() -> None:
    """Rows that do not last the job: exit code 1, and the field before which to swap."""
    found = asked("points", EXAMPLES / RYE, "--card")
    assert found.exit_code == 1
    text = " ".join(found.stdout.split())
    assert "280 ac left on that row" in text
    assert "Check card: Cultivator 1" in text
    assert "level it: rear is 0.7 in deeper" in text


def test_check_puts_the_acres_side_by_side() -> None:
    """Three figures of a field in one row, and the one that differs is marked."""
    found = asked("check", EXAMPLES / RYE)
    assert "outline   driven   office" in found.stdout
    assert "4.4 % apart" in found.stdout
    assert asked_json("check", EXAMPLES / RYE)["acres"]


def test_left_out_ground_goes_on_the_come_back_list(tmp_path: Path) -> None:
    """A wet hole written in farm.toml comes off the record and is to be come back to."""
    folder = copy_of(RYE, tmp_path)
    toml = folder / "farm.toml"
    toml.write_text(
        toml.read_text(encoding="utf-8")
        + '\n[[left_out]]\nfield = "A4"\nwhat = "wet hole"\narea = "0.4 ac"\n',
        encoding="utf-8",
    )
    text = asked("check", folder).stdout
    assert "[ ] A4: wet hole, 0.4 ac" in text
    before, after = (asked_json("field", at, "A4") for at in (EXAMPLES / RYE, folder))
    lost_m2 = before["record_area_m2"] - after["record_area_m2"]
    assert lost_m2 == pytest.approx(0.4 * 4046.8564224, rel=1e-9)
    assert "Come back to: wet hole, 0.40 ac" in asked("field", folder, "A4").stdout


def test_names_are_found_whatever_their_capitals(tmp_path: Path) -> None:
    """Field a1 and cultivator 1, typed in a hurry, and an edge kind in capitals in the file."""
    folder = copy_of(RYE, tmp_path, fields_geojson=[('"water"', '"Water"')])
    assert "A2, " in asked("field", folder, "a2").stdout
    plain = asked_json("field", EXAMPLES / RYE, "A2")
    assert asked_json("field", folder, "a2")["edges"] == plain["edges"]
    with pytest.raises(UnitError, match="a field of this farm"):
        asked("field", folder, "zz")


def test_a_tractor_that_is_too_weak_is_a_no(tmp_path: Path) -> None:
    """25 hp in front of a 30 ft tool: the cost is told, and the exit says not enough."""
    folder = copy_of(RYE, tmp_path, farm_toml=[('pto_power = "150 hp"', 'pto_power = "25 hp"')])
    found = asked("cost", folder)
    assert "does not have the power for" in found.stdout
    assert found.exit_code == asked("cost", folder, "--json").exit_code == 1
    assert asked("cost", EXAMPLES / RYE).exit_code == 0


def test_a_gate_far_from_its_field_is_said_where_the_field_is_planned(tmp_path: Path) -> None:
    """Three kilometres off: a line on the side of the answer, and none for a good gate."""
    folder = copy_of(RYE, tmp_path)
    path = folder / "fields.geojson"
    fields = json.loads(path.read_text(encoding="utf-8"))
    properties = fields["features"][0]["properties"]
    lon_deg, lat_deg = fields["features"][0]["geometry"]["coordinates"][0][0]
    properties["gate"] = [lon_deg, lat_deg + 0.03]
    path.write_text(json.dumps(fields), encoding="utf-8")
    assert "its gate lies far from the field" in asked("field", folder, "A1").stderr
    assert "gate" not in asked("field", EXAMPLES / RYE, "A1").stderr
