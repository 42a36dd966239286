"""Taking files into a farm folder: whole, sound, and with the old one kept beside."""

from __future__ import annotations

import datetime as dt
import io
import json
import os
import zipfile
from pathlib import Path

import pytest
from made_folders import EXAMPLES, copy_of

from duskline.exchange.farm_files import (
    LARGEST_UPLOAD_BYTES,
    FileKind,
    TakenIn,
    folder_with,
    keep,
    plain_name,
    take_in,
    write_atomic,
)
from duskline.exchange.farmfolder import read_farm, read_folder

NOW = dt.datetime(2026, 10, 18, 12, 0, tzinfo=dt.UTC)
LATER = NOW + dt.timedelta(hours=1)
RYE = EXAMPLES / "rye-after-soybeans"
GPX = """<?xml version="1.0"?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="us"><trk><trkseg>
<trkpt lat="42.0" lon="-93.5"><time>2026-10-18T14:31:00Z</time></trkpt>
<trkpt lat="42.001" lon="-93.5"><time>2026-10-18T14:32:00Z</time></trkpt>
</trkseg></trk></gpx>
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The rye farm, to be changed."""
    return copy_of("rye-after-soybeans", tmp_path)


def files(folder: Path) -> dict[str, bytes]:
    """Everything in a folder, by name."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def bare(names: tuple[str, ...] = ()) -> dict[str, object]:
    """The farm's outlines without anything known of the fields but their names."""
    document = json.loads((RYE / "fields.geojson").read_bytes())
    features = [
        {**feature, "properties": {"name": feature["properties"]["name"]}}
        for feature in document["features"]
        if "left_out_of" not in feature["properties"]
        and (not names or feature["properties"]["name"] in names)
    ]
    return {"type": "FeatureCollection", "features": features}


def as_kml(document: dict[str, object]) -> bytes:
    """The same outlines in the form of another program."""

    def ring(corners: list[list[float]], side: str) -> str:
        pairs = " ".join(f"{corner[0]},{corner[1]}" for corner in corners)
        lines = f"<LinearRing><coordinates>{pairs}</coordinates></LinearRing>"
        return f"<{side}BoundaryIs>{lines}</{side}BoundaryIs>"

    places = "".join(
        f"<Placemark><name>{feature['properties']['name']}</name><Polygon>"
        + "".join(
            ring(corners, "inner" if number else "outer")
            for number, corners in enumerate(feature["geometry"]["coordinates"])
        )
        + "</Polygon></Placemark>"
        for feature in document["features"]  # type: ignore[attr-defined]
    )
    return (
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
        f"{places}</Document></kml>"
    ).encode()


def zipped(name: str, data: bytes) -> bytes:
    """One file in an archive."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, data)
    return held.getvalue()


# --- each kind -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "filename", "source", "stored", "summary"),
    [
        ("outlines", "my fields.GeoJSON", "fields.geojson", "fields.geojson", "9 fields, 362.7 ac"),
        ("outlines", "fields.json", "fields.geojson", "fields.geojson", "9 fields, 362.7 ac"),
        ("forecast", "today.csv", "forecast.csv", "forecast.csv",
         "forecast of 56 hours from Oct 18 7 am"),
        ("trays", "Test 3.csv", "trays.csv", "trays.csv",
         "tray test of 15 trays over 70.0 ft, 2 runs"),
    ],
)  # fmt: skip
def test_a_file_of_each_kind_is_taken_in(
    folder: Path, kind: FileKind, filename: str, source: str, stored: str, summary: str
) -> None:
    """Under the name the folder has for it, byte for byte; the old one is kept."""
    data, before = (RYE / source).read_bytes(), files(folder)
    taken = take_in(folder, kind, filename, data, now=NOW)
    assert taken.problems == ()
    assert (taken.stored_name, taken.summary) == (stored, summary)
    assert files(folder) == {**before, f"kept/{stored}.20261018T120000Z": data}
    assert read_folder(folder).problems == []


def test_a_track_is_kept_among_the_tracks(folder: Path) -> None:
    """By the farm's clock; a second one of its name takes its place and the first is kept."""
    taken = take_in(folder, "track", "C:\\My tracks\\Creek 18.gpx", GPX.encode(), now=NOW)
    assert taken == TakenIn(
        stored_name="tracks/Creek-18.gpx",
        summary="track of 2 points from Oct 18 9:31 am to 9:32 am",
    )
    assert (folder / "tracks" / "Creek-18.gpx").read_text(encoding="utf-8") == GPX
    take_in(folder, "track", "Creek 18.gpx", GPX.replace("42.001", "42.002").encode(), now=LATER)
    kept = (folder / "kept" / "tracks-Creek-18.gpx.20261018T130000Z").read_text(encoding="utf-8")
    assert kept == GPX
    broken = take_in(folder, "track", "x.gpx", b"<gpx/>", now=NOW)
    assert broken.problems[0].expected
    assert not (folder / "tracks" / "x.gpx").exists()


def test_metric_farms_are_told_in_hectares_and_on_their_clock(tmp_path: Path) -> None:
    """The same files on the farm in New Zealand."""
    folder = copy_of("oats-and-radish", tmp_path)
    source = EXAMPLES / "oats-and-radish"
    outlines = (source / "fields.geojson").read_bytes()
    assert take_in(folder, "outlines", "f.geojson", outlines, now=NOW).summary.endswith(" ha")
    forecast = (source / "forecast.csv").read_bytes()
    told = take_in(folder, "forecast", "f.csv", forecast, now=NOW).summary
    assert told.endswith("1 Mar 07:00")


# --- outlines ------------------------------------------------------------------------------


def test_new_outlines_keep_what_is_known_of_fields_of_the_same_name(folder: Path) -> None:
    """A bare drawing: numbers, edges, gates, readiness and ground left out stay with the names."""
    before = read_farm(folder)
    data = json.dumps(bare()).encode()
    taken = take_in(folder, "outlines", "drawn.geojson", data, now=NOW)
    assert taken.problems == ()
    assert any(note.startswith("Kept what was known of ") for note in taken.notes)
    after = read_farm(folder)
    for old, new in zip(before.fields, after.fields, strict=True):
        for name in (
            "name", "ready_at", "lot", "customer", "previous_crop", "farm_no", "tract_no",
            "field_no", "notes", "edges", "erodible", "herbicides", "gates_lonlat_deg",
            "driven_area_m2", "office_area_m2", "slope_fraction", "downhill_to", "due_on",
        ):  # fmt: skip
            assert getattr(new, name) == getattr(old, name), name
    kept = files(folder)
    assert kept["kept/brought-drawn.geojson.20261018T120000Z"] == data
    assert kept["kept/fields.geojson.20261018T120000Z"] == (RYE / "fields.geojson").read_bytes()


@pytest.mark.parametrize("form", ["geojson", "kml"])
def test_ground_left_out_stays_with_the_field(folder: Path, form: str) -> None:
    """A piece by its size and place, one by its corners, and one drawn as a feature of its own."""
    document = json.loads((RYE / "fields.geojson").read_bytes())
    lon, lat = read_farm(folder).fields[0].centre
    ring = [[lon, lat], [lon + 4e-4, lat], [lon + 4e-4, lat + 4e-4], [lon, lat]]
    first = document["features"][0]["properties"]
    first["left_out"] = [
        {"what": "rocks", "area": "0.1 ac", "at": [lon - 4e-4, lat], "come_back": False},
        {"what": "trees", "ring": ring[:3], "note": "old oaks"},
    ]
    hole = {"left_out_of": first["name"], "what": "wet hole"}
    low = [[x - 1e-3, y - 1e-3] for x, y in ring]
    document["features"].append(
        {
            "type": "Feature",
            "properties": hole,
            "geometry": {"type": "Polygon", "coordinates": [low]},
        }
    )
    (folder / "fields.geojson").write_text(json.dumps(document), encoding="utf-8")
    before = read_farm(folder).fields[0].left_out
    assert [piece.what for piece in before] == ["rocks", "trees", "wet hole"]
    data = json.dumps(bare()).encode() if form == "geojson" else as_kml(bare())
    assert take_in(folder, "outlines", f"drawn.{form}", data, now=NOW).problems == ()
    after = read_farm(folder).fields[0].left_out
    for old, new in zip(before, after, strict=True):
        assert (new.what, new.note, new.come_back) == (old.what, old.note, old.come_back)
        assert new.area_m2 == pytest.approx(old.area_m2, rel=1e-4)


def test_what_new_outlines_say_wins(folder: Path) -> None:
    """A property in both is the new one's."""
    document = bare()
    first = document["features"][0]  # type: ignore[index]
    first["properties"]["notes"] = "drawn anew"
    take_in(folder, "outlines", "f.geojson", json.dumps(document).encode(), now=NOW)
    field = read_farm(folder).fields[0]
    assert field.notes == "drawn anew"
    assert field.name == first["properties"]["name"]


@pytest.mark.parametrize("ending", ["kml", "kmz"])
def test_outlines_of_another_form_become_the_folder_s_one(folder: Path, ending: str) -> None:
    """What was known fits in GeoJSON alone; the areas are those of the drawing."""
    kml = as_kml(bare())
    data = kml if ending == "kml" else zipped("doc.kml", kml)
    areas = [field.area_m2 for field in read_farm(folder).fields]
    taken = take_in(folder, "outlines", f"drawn.{ending}", data, now=NOW)
    assert (taken.stored_name, taken.summary) == ("fields.geojson", "9 fields, 362.7 ac")
    assert [one.area_m2 for one in read_farm(folder).fields] == pytest.approx(areas, rel=1e-6)
    assert files(folder)[f"kept/brought-drawn.{ending}.20261018T120000Z"] == data


def test_outlines_of_another_form_push_the_old_form_aside(folder: Path) -> None:
    """Where nothing was known it stays the file it is; two forms never lie side by side."""
    (folder / "fields.geojson").write_bytes(json.dumps(bare()).encode())
    taken = take_in(folder, "outlines", "drawn.kml", as_kml(bare()), now=NOW)
    assert taken.stored_name == "fields.kml"
    assert not (folder / "fields.geojson").exists()
    assert (folder / "kept" / "fields.geojson.20261018T120000Z").is_file()
    assert len(read_farm(folder).fields) == 9


def test_walked_outlines_give_way_to_a_file(folder: Path) -> None:
    """The folder of walks goes to what is kept, whole."""
    (folder / "fields.geojson").unlink()
    (folder / "outlines").mkdir()
    (folder / "outlines" / "A1.gpx").write_text(GPX, encoding="utf-8")
    data = (RYE / "fields.geojson").read_bytes()
    assert take_in(folder, "outlines", "f.geojson", data, now=NOW).problems == ()
    assert (folder / "kept" / "outlines.20261018T120000Z" / "A1.gpx").is_file()
    assert not (folder / "outlines").exists()


def test_fields_that_come_and_go_are_told(folder: Path) -> None:
    """A drawing of two of the nine, one of them new."""
    names = [field.name for field in read_farm(folder).fields]
    document = bare((names[0], names[1]))
    document["features"][1]["properties"]["name"] = "New one"  # type: ignore[index]
    taken = take_in(folder, "outlines", "f.geojson", json.dumps(document).encode(), now=NOW)
    assert taken.problems == ()
    assert "New: New one." in taken.notes
    gone = next(note for note in taken.notes if note.startswith("No longer there: "))
    assert names[1] in gone
    assert "and 3 more" in gone


def test_outlines_that_the_farm_does_not_go_with_are_refused(folder: Path) -> None:
    """Its order of fields names one that the drawing has not; nothing in the folder changes."""
    toml = folder / "farm.toml"
    name = read_farm(folder).fields[-1].name
    text = toml.read_text(encoding="utf-8").replace("[day]\n", f'[day]\norder = ["{name}"]\n')
    toml.write_text(text, encoding="utf-8")
    before = files(folder)
    first = read_farm(folder).fields[0].name
    data = json.dumps(bare((first,))).encode()
    taken = take_in(folder, "outlines", "f.geojson", data, now=NOW)
    assert [problem.where for problem in taken.problems] == ["day.order"]
    assert taken.stored_name == ""
    assert files(folder) == before


# --- forecasts and trays -------------------------------------------------------------------


def test_a_new_forecast_pushes_the_other_form_aside(folder: Path) -> None:
    """The one just brought is the one that holds."""
    (folder / "forecast.json").write_text("{}", encoding="utf-8")
    data = (RYE / "forecast.csv").read_bytes()
    assert take_in(folder, "forecast", "f.csv", data, now=NOW).problems == ()
    assert not (folder / "forecast.json").exists()
    assert (folder / "kept" / "forecast.json.20261018T120000Z").read_bytes() == b"{}"


def test_what_was_wrong_before_does_not_keep_a_good_file_out(folder: Path) -> None:
    """A tray test that cannot be read is another matter; the forecast is taken all the same."""
    (folder / "trays.csv").write_text("nonsense", encoding="utf-8")
    data = (RYE / "forecast.csv").read_bytes()
    assert take_in(folder, "forecast", "f.csv", data, now=NOW).stored_name == "forecast.csv"
    assert {problem.file for problem in read_folder(folder).problems} == {"trays.csv"}


def test_a_reply_in_json_is_told_by_what_it_holds(folder: Path) -> None:
    """Saved under any ending; its problems come back, and the old forecast stays."""
    before = files(folder)
    taken = take_in(folder, "forecast", "reply.txt", b'{"properties": {"periods": []}}', now=NOW)
    assert taken.problems
    assert taken.problems[0].file == "forecast.json"
    assert files(folder) == before


def test_tray_files_go_to_the_lot_that_names_them(tmp_path: Path) -> None:
    """A known name keeps it; an unknown one is told, and no other file is written over."""
    folder = copy_of("oats-and-radish", tmp_path)
    data = (folder / "trays-oats.csv").read_bytes()
    for filename, stored, noted in (
        ("trays-oats.csv", "trays-oats.csv", False),
        ("Trays-Peas.csv", "Trays-Peas.csv", True),
        ("forecast.csv", "trays-forecast.csv", True),
        ("log.csv", "trays-log.csv", True),
    ):
        taken = take_in(folder, "trays", filename, data, now=NOW)
        assert taken.stored_name == stored
        assert any("No seed lot names" in note for note in taken.notes) is noted
        assert read_folder(folder).problems == []


# --- hostile files -------------------------------------------------------------------------


@pytest.mark.parametrize("kind", LARGEST_UPLOAD_BYTES)
def test_too_large_a_file_is_not_looked_into(folder: Path, kind: FileKind) -> None:
    """One byte over what its reader takes."""
    before = files(folder)
    name = {"outlines": "a.geojson", "track": "a.gpx"}.get(kind, "a.csv")
    data = bytes(LARGEST_UPLOAD_BYTES[kind] + 1)
    taken = take_in(folder, kind, name, data, now=NOW)
    assert "more than" in taken.problems[0].read
    assert files(folder) == before


@pytest.mark.parametrize(
    ("kind", "filename", "data"),
    [
        ("outlines", "a.geojson", b""),
        ("outlines", "a.geojson", b"\x00\xff"),
        ("outlines", "a.exe", b"x"),
        ("outlines", "farm.toml", b"x = 1"),
        ("outlines", "a.kmz", zipped("../../doc.kml", b"<kml/>")),
        ("outlines", "a.shp.zip", zipped("a.shp", b"\x00" * 100)),
        ("outlines", "a.zip", b"PK\x03\x04nonsense"),
        ("outlines", "a.gpkg", b"SQLite format 3\x00" + b"\x00" * 100),
        ("outlines", "a.kml", b'<!DOCTYPE k [<!ENTITY a "b">]><kml>&a;</kml>'),
        ("forecast", "a.csv", b"time\n"),
        ("forecast", "a.csv", b"\xff\xfe"),
        ("forecast", "a.json", b"{" * 10_000),
        ("trays", "a.csv", b"position_ft,run1_g\n0,1\n"),
        ("track", "a.gpx", b'<!DOCTYPE gpx [<!ENTITY a "b">]><gpx/>'),
        ("track", "a.nmea", b"$GPGGA,1,2,3\n"),
        ("counts", "a.csv", b"x"),
    ],
)
def test_a_file_that_cannot_be_read_changes_nothing(
    folder: Path, kind: FileKind, filename: str, data: bytes
) -> None:
    """Its problem is told as the reader tells it; the folder is as it was, nothing left over."""
    before = files(folder)
    taken = take_in(folder, kind, filename, data, now=NOW)
    assert taken.problems
    assert taken.stored_name == ""
    assert all(problem.expected for problem in taken.problems)
    assert files(folder) == before


@pytest.mark.parametrize(
    ("brought", "plain"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\farm\\my fields.geojson", "my-fields.geojson"),
        ("..", "file"),
        (".hidden.csv", "hidden.csv"),
        ("a\x00b\n.csv", "a-b.csv"),
        ("CON.csv", "_CON.csv"),
        ("x" * 300 + ".SHP.ZIP", "x" * 60 + ".shp.zip"),
        ("Año \u202e1.gpx", "Año-1.gpx"),
        ("", "file"),
        ("<script>.csv", "script.csv"),
    ],
)
def test_names_are_plain_and_have_no_folder(brought: str, plain: str) -> None:
    """Only letters, figures, points and dashes are left of a stranger's name."""
    assert plain_name(brought) == plain


# --- writing -------------------------------------------------------------------------------


def test_a_write_that_fails_leaves_the_old_file_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full at the last moment: the old content stands, no half file lies about."""
    path = tmp_path / "a.txt"
    write_atomic(path, b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_atomic(path, b"new")
    assert files(tmp_path) == {"a.txt": b"old"}


def test_a_write_keeps_the_rights_of_the_file_and_follows_a_link(tmp_path: Path) -> None:
    """A farm folder may be a link into another one."""
    path, link = tmp_path / "a.txt", tmp_path / "link.txt"
    write_atomic(path, b"old")
    assert path.stat().st_mode & 0o777 == 0o644
    path.chmod(0o600)
    link.symlink_to(path)
    write_atomic(link, b"new")
    assert path.read_bytes() == b"new"
    assert link.is_symlink()
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_folder_for_reading_does_not_touch_the_farm(folder: Path) -> None:
    """It shows a changed and a missing file; the farm has both as they were."""
    before = files(folder)
    with folder_with(folder, {"farm.toml": b"x", "trays.csv": None}) as whole:
        assert (whole / "farm.toml").read_bytes() == b"x"
        assert not (whole / "trays.csv").exists()
        assert (whole / "forecast.csv").read_bytes() == before["forecast.csv"]
    assert not whole.exists()
    assert files(folder) == before


def test_a_folder_for_reading_is_copied_where_links_are_refused(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some systems allow no links; the farm is read all the same."""

    def refuse(*_: object, **__: object) -> None:
        raise OSError(1, "not allowed")

    monkeypatch.setattr(os, "symlink", refuse)
    with folder_with(folder, {}) as whole:
        assert not (whole / "farm.toml").is_symlink()
        assert read_folder(whole).problems == []


def test_files_of_one_second_are_all_kept(folder: Path) -> None:
    """None is written over, and what is not there is passed over."""
    for _ in range(3):
        keep(folder, ("trays.csv", "nothing.csv"), now=NOW)
    assert [path.name for path in sorted((folder / "kept").iterdir())] == [
        "trays.csv.20261018T120000Z",
        "trays.csv.20261018T120000Z-2",
        "trays.csv.20261018T120000Z-3",
    ]
