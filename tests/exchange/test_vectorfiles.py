"""Outlines in other programs' files: read alike, and refused with a sentence where they must."""

from __future__ import annotations

import io
import json
import math
import sqlite3
import warnings
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio.raw
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_folders import ACRE_M2, EXAMPLES, copy_of
from pyproj import Transformer

from duskline.exchange.farmfolder import read_farm, read_folder
from duskline.exchange.outlines import FieldsRead, read_outlines
from duskline.exchange.projection import LocalPlane
from duskline.exchange.vectorfiles import FIELD_FILES, parse_vector_file, read_field_files

RYE = EXAMPLES / "rye-after-soybeans"
PLANE = LocalPlane(lon_deg=-93.5, lat_deg=42.0)
UTM = "EPSG:32615"
BOX_M = [(0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0)]
KML = (
    '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{}</Document></kml>'
)


def drawn() -> tuple[list[Any], list[dict[str, Any]]]:
    """The rye farm's fields as shapes in degrees, and their properties."""
    features = json.loads((RYE / "fields.geojson").read_text("utf-8"))["features"]
    shapes = [
        shapely.Polygon(one["geometry"]["coordinates"][0], one["geometry"]["coordinates"][1:])
        for one in features
    ]
    return shapes, [one["properties"] for one in features]


def written(path: Path, driver: str, *, crs: str | None = "EPSG:4326", lists: bool = True) -> bytes:
    """The rye fields as another program writes them; lists of things as text."""
    shapes, properties = drawn()
    if crs not in (None, "EPSG:4326"):
        turn = Transformer.from_crs(4326, crs, always_xy=True)
        shapes = [
            shapely.transform(one, lambda xy: np.column_stack(turn.transform(xy[:, 0], xy[:, 1])))
            for one in shapes
        ]
    keys = [*dict.fromkeys(key for one in properties for key in one)]
    keys = [key for key in keys if lists or key not in ("edges", "gate", "gates")]
    columns = []
    for key in keys:
        cells = [one.get(key) for one in properties]
        if any(isinstance(cell, bool) for cell in cells):
            columns.append(np.asarray([bool(cell) for cell in cells]))
            continue
        texts = [json.dumps(cell) if isinstance(cell, list) else cell for cell in cells]
        columns.append(np.asarray(texts, dtype=object))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # dBase cuts the names of columns
        pyogrio.raw.write(
            path,
            np.asarray([shapely.to_wkb(one) for one in shapes], dtype=object),
            columns,
            np.asarray(keys),
            layer="fields",
            driver=driver,
            geometry_type="Polygon",
            crs=crs,
        )
    return path.read_bytes()


def zipped(**members: bytes) -> bytes:
    """A zip of members; two underscores in a name stand for a dot."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name.replace("__", "."), content)
    return made.getvalue()


def shapefile(folder: Path, *, crs: str | None = "EPSG:4326", without: str = "") -> bytes:
    """The rye fields as a zipped shapefile, one part of it left out."""
    folder.mkdir(exist_ok=True)
    written(folder / "layer.shp", "ESRI Shapefile", crs=crs)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in sorted(folder.iterdir()):
            if part.suffix != without:
                archive.write(part, f"export/{part.name}")
    return made.getvalue()


def read(data: bytes, file: str) -> FieldsRead:
    """What reading gives, with the yard known."""
    return parse_vector_file(data, file=file, yard_lonlat_deg=(-93.5, 42.0))


def told(data: bytes, file: str) -> str:
    """The one sentence about a file that is refused."""
    found = read(data, file)
    assert found.fields == ()
    (problem,) = found.problems
    assert problem.sentence.isprintable()
    assert len(problem.sentence) < 400
    return problem.sentence


def track(points_m: list[tuple[float, float]], *, name: str = "North") -> bytes:
    """A GPX file of one walk, points in metres from the yard."""
    points = "".join(
        f'<trkpt lat="{lat:.8f}" lon="{lon:.8f}"><ele>300</ele></trkpt>'
        for lon, lat in PLANE.to_lonlat(np.asarray(points_m))
    )
    return (
        '<?xml version="1.0"?><gpx version="1.1" creator="t" '
        'xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><name>{name}</name><trkseg>{points}</trkseg></trk></gpx>"
    ).encode()


def walked(
    step_m: float = 2.0, *, to: float = 1.0, past_m: float = 0.0
) -> list[tuple[float, float]]:
    """Places along the box, ``to`` of the way round and ``past_m`` on past the start."""
    line = shapely.LinearRing(BOX_M)
    ways = [*np.arange(0.0, to * line.length, step_m), *np.arange(0.0, past_m, step_m)]
    return [(point.x, point.y) for point in map(line.interpolate, ways)]


# --- every form gives what GeoJSON gives -----------------------------------------------------


@pytest.mark.parametrize(
    "form", ["gpkg", "gpkg in UTM", "shp.zip", "shp.zip in feet", "kml", "kmz"]
)
def test_every_form_gives_the_same_fields(form: str, tmp_path: Path) -> None:
    """Names, acres to a thousandth, gates, edges and days as GeoJSON has them."""
    expected = read_outlines(RYE / "fields.geojson", yard_lonlat_deg=(-93.5, 42.0)).fields
    feet = "EPSG:26975"  # state plane of northern Iowa
    if form.startswith("gpkg"):
        crs = UTM if "UTM" in form else "EPSG:4326"
        found = read(written(tmp_path / "f.gpkg", "GPKG", crs=crs), "fields.gpkg")
    elif form.startswith("shp"):
        crs = feet if "feet" in form else "EPSG:4326"
        found = read(shapefile(tmp_path / "s", crs=crs), "fields.shp.zip")
    else:
        text = written(tmp_path / "f.kml", "LIBKML")
        found = read(text if form == "kml" else zipped(doc__kml=text), f"fields.{form}")
    assert [problem.sentence for problem in found.problems] == []
    assert [one.name for one in found.fields] == [one.name for one in expected]
    for one, other in zip(found.fields, expected, strict=True):
        assert one.area_m2 / ACRE_M2 == pytest.approx(other.area_m2 / ACRE_M2, abs=1e-3)
        assert len(one.outline_m.holes_m) == len(other.outline_m.holes_m)
        assert one.facts == other.facts
        assert one.file == f"fields.{form.split(maxsplit=1)[0]}"


@pytest.mark.parametrize(
    ("driver", "days"),
    [("GPKG", "datetime64[D]"), ("GPKG", "datetime64[ms]"), ("GPKG", "text"), ("LIBKML", "text")],
)
def test_what_a_field_says_about_the_season_is_read_from_columns(
    driver: str, days: str, tmp_path: Path
) -> None:
    """Yes and no, a day as a date, a moment or a text, a priority as a whole number."""
    shape = shapely.Polygon(PLANE.to_lonlat(np.asarray(BOX_M)))
    due = np.asarray(["2026-10-21"], dtype=object if days == "text" else days)
    columns = {
        "name": np.asarray(["Home"], dtype=object),
        "split": np.asarray([False]),
        "priority": np.asarray([2]),
        "due": due,
        "ready_from": np.asarray(["2026-10-18"], dtype=object),
        "ready_late": np.asarray(["2026-10-19"], dtype=object),
    }
    path = tmp_path / ("fields.gpkg" if driver == "GPKG" else "fields.kml")
    pyogrio.raw.write(
        path,
        np.asarray([shapely.to_wkb(shape)], dtype=object),
        list(columns.values()),
        np.asarray(list(columns)),
        layer="fields",
        driver=driver,
        geometry_type="Polygon",
        crs="EPSG:4326",
    )
    found = read(path.read_bytes(), path.name)
    assert [problem.sentence for problem in found.problems] == []
    facts = found.fields[0].facts
    assert (facts.split, facts.priority, str(facts.due)) == (False, 2.0, "2026-10-21")
    assert str(facts.ready_late) == "2026-10-19 00:00:00"


def test_a_folder_is_read_with_another_file_in_place_of_the_geojson(tmp_path: Path) -> None:
    """The farm comes out the same, field for field."""
    farm = copy_of("rye-after-soybeans", tmp_path)
    written(farm / "fields.gpkg", "GPKG")
    (farm / "fields.geojson").unlink()
    names = [one.name for one in read_farm(farm).fields]
    assert names == [one.name for one in read_farm(RYE).fields]


def test_two_files_of_outlines_are_one_too_many(tmp_path: Path) -> None:
    """Which one is right cannot be known; the sentence names both and says to keep one."""
    farm = copy_of("rye-after-soybeans", tmp_path)
    written(farm / "fields.gpkg", "GPKG")
    (sentence,) = [problem.sentence for problem in read_folder(farm).problems]
    assert "fields.geojson, fields.gpkg side by side" in sentence
    assert "Keep the one you draw in" in sentence


def test_a_loose_shapefile_is_told_to_be_zipped(tmp_path: Path) -> None:
    """A .shp alone is four files; the hint says which to zip."""
    (tmp_path / "fields.shp").write_bytes(b"x")
    (problem,) = read_field_files(tmp_path).problems
    assert "as fields.shp.zip" in problem.hint


def test_two_layers_and_several_parts_are_read_as_geojson_is(tmp_path: Path) -> None:
    """Fields of two layers come together; one name on ground in two parts is refused."""
    path = tmp_path / "two.gpkg"
    box = shapely.box(-93.5, 42.0, -93.495, 42.003)
    away = shapely.box(-93.48, 42.0, -93.475, 42.003)
    for layer, name, shape in (
        ("north", "N", box),
        ("south", "S", away),
        (
            "parts",
            "P",
            shapely.MultiPolygon(
                [shapely.box(-93.4, 42, -93.39, 42.01), shapely.box(-93.38, 42, -93.37, 42.01)]
            ),
        ),
    ):
        pyogrio.raw.write(
            path, np.asarray([shapely.to_wkb(shape)], dtype=object),
            [np.asarray([name], dtype=object)], np.asarray(["NAME"]), layer=layer, driver="GPKG",
            geometry_type="Unknown", crs="EPSG:4326", append=path.exists(),
        )  # fmt: skip
    found = read(path.read_bytes(), "fields.gpkg")
    assert [one.name for one in found.fields] == ["N", "S"]
    (problem,) = found.problems
    assert "an outline in 2 parts" in problem.sentence


# --- coordinates ---------------------------------------------------------------------------


def test_a_shapefile_without_prj_is_read_only_where_the_figures_are_degrees(tmp_path: Path) -> None:
    """Degrees are read and noted; metres of a map are refused with what to do."""
    found = read(shapefile(tmp_path / "deg", without=".prj"), "fields.shp.zip")
    assert len(found.fields) == 9
    assert any("does not say which coordinates" in note for note in found.notes)
    sentence = told(shapefile(tmp_path / "utm", crs=UTM, without=".prj"), "fields.shp.zip")
    assert "(.prj)" in sentence


@pytest.mark.parametrize(
    "prj",
    [
        'LOCAL_CS["field grid",UNIT["metre",1]]',
        "no coordinates at all",
        'PROJCS["x",GEOGCS["g",DATUM["d",SPHEROID["s",6378137,298]],PRIMEM["Greenwich",0],'
        'UNIT["degree",0.0174532925199433]],PROJECTION["Mercator_1SP"],UNIT["metre",1],'
        'EXTENSION["PROJ4","+proj=merc +nadgrids=/etc/passwd"]]',
    ],
)
def test_a_prj_that_names_no_place_or_other_files_is_refused(prj: str, tmp_path: Path) -> None:
    """A field grid, a slip, and a grid file on this machine: no outlines come of them."""
    shapefile(tmp_path / "s", crs=UTM)
    (tmp_path / "s" / "layer.prj").write_text(prj)
    made = zipped(
        **{f"l__{part.suffix[1:]}": part.read_bytes() for part in (tmp_path / "s").iterdir()}
    )
    assert "oordinates" in told(made, "fields.shp.zip")


# --- walks ---------------------------------------------------------------------------------


def test_a_walk_becomes_a_field(tmp_path: Path) -> None:
    """A box of 400 by 300 m walked with a place every 2 m: 12.00 ha, four corners and few more."""
    (tmp_path / "fields.gpx").write_bytes(track(walked()))
    found = read_field_files(tmp_path)
    assert [problem.sentence for problem in found.problems] == []
    (field,) = found.fields
    assert field.name == "North"
    assert field.area_m2 == pytest.approx(120_000.0, rel=1e-3)
    assert len(field.outline_m.exterior_m) <= 8
    assert any("a track of 700 places" in note for note in found.notes)


def test_walks_in_a_folder_are_named_after_their_files(tmp_path: Path) -> None:
    """One file a field; a farm folder with them is read, and a second track in one is refused."""
    farm = copy_of("rye-after-soybeans", tmp_path)
    (farm / "fields.geojson").unlink()
    (farm / "outlines").mkdir()
    (farm / "outlines" / "Creek 40.gpx").write_bytes(track(walked(), name="whatever"))
    (one,) = read_farm(farm).fields
    assert one.name == "Creek 40"
    two = track(walked()).replace(b"</trk></gpx>", b"</trk><trk><trkseg/></trk></gpx>")
    (farm / "outlines" / "Two.gpx").write_bytes(two)
    (problem,) = read_folder(farm).problems
    assert "outlines/Two.gpx: read 2 tracks" in problem.sentence


def test_a_walk_that_stops_short_is_refused_with_the_distance(tmp_path: Path) -> None:
    """Three sides of four: the ends lie 300 m apart, in feet and metres."""
    (tmp_path / "fields.gpx").write_bytes(track(walked(to=1100.0 / 1400.0)))
    (problem,) = read_field_files(tmp_path).problems
    assert "984 ft (300 m)" in problem.sentence or "978 ft (298 m)" in problem.sentence
    assert "does not come back" in problem.sentence


# --- left out ------------------------------------------------------------------------------


def test_kml_places_may_be_left_out_of_a_field_and_pins_are_not_fields() -> None:
    """A drawn pond comes off its field; a pin is passed over with a note."""
    ring = "-93.5,42.0 -93.495,42.0 -93.495,42.003 -93.5,42.003 -93.5,42.0"
    pond = "-93.498,42.001 -93.497,42.001 -93.497,42.002 -93.498,42.002 -93.498,42.001"

    def place(name: str, corners: str, data: str = "") -> str:
        return (
            f"<Placemark><name>{name}</name><ExtendedData>{data}</ExtendedData><Polygon>"
            f"<outerBoundaryIs><LinearRing><coordinates>{corners}</coordinates></LinearRing>"
            "</outerBoundaryIs></Polygon></Placemark>"
        )

    data = (
        '<Data name="left_out_of"><value>Home</value></Data>'
        '<Data name="what"><value>pond</value></Data>'
    )
    pin = (
        "<Placemark><name>gate</name><Point><coordinates>-93.5,42</coordinates></Point></Placemark>"
    )
    text = KML.format(place("Home", ring) + place("x", pond, data) + pin)
    found = read(text.encode(), "fields.kml")
    assert [problem.sentence for problem in found.problems] == []
    (field,) = found.fields
    (piece,) = field.facts.left_out
    assert (piece.what, len(piece.ring_lonlat_deg)) == ("pond", 5)
    assert found.notes == ("fields.kml: 1 single points were left out",)


# --- hostile files -------------------------------------------------------------------------

LAUGHS = (
    '<!DOCTYPE kml [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    '<kml xmlns="http://www.opengis.net/kml/2.2"><name>&b;</name></kml>'
)
OUTSIDE = (
    '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    '<gpx version="1.1"><trk><name>&x;</name></trk></gpx>'
)
LINK = KML.format("<NetworkLink><Link><href>http://127.0.0.1:9/x.kml</href></Link></NetworkLink>")
VRT = (
    '<OGRVRTDataSource><OGRVRTLayer name="x"><SrcDataSource>/etc/passwd</SrcDataSource>'
    "</OGRVRTLayer></OGRVRTDataSource>"
)


@pytest.mark.parametrize(
    ("file", "text", "says"),
    [
        ("fields.kml", LAUGHS, "a document type or an entity"),
        ("fields.gpx", OUTSIDE, "a document type or an entity"),
        ("fields.kml", LINK, "a link to another place"),
        ("fields.kml", VRT, "a file of <OGRVRTDataSource>"),
        ("fields.gpx", VRT, "a file of <OGRVRTDataSource>"),
        ("fields.gpkg", VRT, "no GeoPackage"),
        ("fields.kml", KML.format(f"<!-- {VRT} -->"), "no outlines"),
        ("fields.kml", "<kml>" + "<Folder>" * 100_000, "more than can be field outlines"),
        ("fields.kml", "", "XML with a slip in it"),
        ("fields.gpx", "<gpx><wpt/></gpx>", ""),
        ("fields.kmz", "", "broken or no zip"),
        ("fields.shp.zip", "PK", "broken or no zip"),
    ],
)
def test_hostile_text_is_refused(file: str, text: str, says: str) -> None:
    """Entities, links, other kinds of file in disguise and bottomless nesting."""
    assert says in told(text.encode(), file)


def test_a_style_from_elsewhere_is_dropped_unread() -> None:
    """A style that points to a server is not part of an outline and never reaches the reader."""
    ring = "-93.5,42.0 -93.495,42.0 -93.495,42.003 -93.5,42.003 -93.5,42.0"
    text = KML.format(
        "<Style><IconStyle><Icon><href>http://127.0.0.1:9/i.png</href></Icon></IconStyle></Style>"
        "<Placemark><name>N</name><styleUrl>http://127.0.0.1:9/s.kml#x</styleUrl><Polygon>"
        f"<outerBoundaryIs><LinearRing><coordinates>{ring}</coordinates></LinearRing>"
        "</outerBoundaryIs></Polygon></Placemark>"
    )
    found = read(text.encode(), "fields.kml")
    assert [one.name for one in found.fields] == ["N"]


@pytest.mark.parametrize(
    "sql",
    [
        "CREATE VIEW v AS WITH RECURSIVE c(x) AS (SELECT 1 UNION SELECT x FROM c) SELECT x FROM c",
        "CREATE VIRTUAL TABLE v USING fts4(x)",
        "CREATE TABLE v (a, b AS (zeroblob(900000000)))",
        "CREATE TABLE v (a, b GENERATED ALWAYS AS (hex(a)) VIRTUAL)",
    ],
)
def test_a_geopackage_with_a_stored_query_is_refused(sql: str, tmp_path: Path) -> None:
    """Views and made columns would run when a table is read."""
    path = tmp_path / "f.gpkg"
    written(path, "GPKG")
    with sqlite3.connect(path) as database:
        database.execute(sql)
    database.close()
    assert "a stored query" in told(path.read_bytes(), "fields.gpkg")


def test_a_geopackage_still_open_in_another_program_is_not_read(tmp_path: Path) -> None:
    """What was drawn last may stand in the file beside it."""
    written(tmp_path / "fields.gpkg", "GPKG")
    (tmp_path / "fields.gpkg-wal").write_bytes(b"more")
    (problem,) = read_field_files(tmp_path).problems
    assert "another program has open" in problem.sentence


@pytest.mark.parametrize("missing", [".shx", ".dbf", ".shp"])
def test_a_shapefile_with_a_part_missing_is_refused(missing: str, tmp_path: Path) -> None:
    """Without index, table or shapes it is no shapefile."""
    sentence = told(shapefile(tmp_path / "s", without=missing), "fields.shp.zip")
    assert "without" in sentence


def test_too_many_corners_and_too_many_places_are_refused(tmp_path: Path) -> None:
    """201,000 corners, and 5,001 fields."""
    turns = np.linspace(0.0, math.tau, 201_000, endpoint=False)
    ring = shapely.Polygon([(-93.5 + 0.01 * math.cos(t), 42.0 + 0.01 * math.sin(t)) for t in turns])
    many = [shapely.box(-93.5, 42.0, -93.499, 42.001)] * 5001
    for shapes, says in (([ring], "200,000 corners"), (many, "5,000 places")):
        path = tmp_path / f"{len(shapes)}.gpkg"
        pyogrio.raw.write(
            path, np.asarray([shapely.to_wkb(one) for one in shapes], dtype=object),
            [np.asarray([str(n) for n in range(len(shapes))], dtype=object)], np.asarray(["name"]),
            layer="f", driver="GPKG", geometry_type="Polygon", crs="EPSG:4326",
        )  # fmt: skip
        assert says in told(path.read_bytes(), "fields.gpkg")


@pytest.mark.parametrize("file", FIELD_FILES)
@settings(max_examples=25, deadline=None)
@given(data=st.binary(max_size=300))
def test_any_bytes_get_a_sentence(file: str, data: bytes) -> None:
    """Noise under any name is refused without a crash."""
    found = read(data, file)
    assert found.fields == ()
    assert found.problems


FORMS = ["gpkg", "shp.zip", "kml"]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """One good file of each form."""
    folder = tmp_path_factory.mktemp("whole")
    return {
        "gpkg": written(folder / "f.gpkg", "GPKG"),
        "shp.zip": shapefile(folder / "s"),
        "kml": written(folder / "f.kml", "LIBKML"),
    }


@pytest.mark.parametrize("form", FORMS)
@settings(max_examples=40, deadline=None)
@given(places=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), min_size=1, max_size=6))
def test_a_file_with_bytes_changed_never_crashes(
    form: str, places: list[tuple[float, int]], whole: dict[str, bytes]
) -> None:
    """Fields, or problems with a sentence each; nothing else."""
    data = bytearray(whole[form])
    for share, byte in places:
        data[int(share * (len(data) - 1))] = byte
    found = read(bytes(data), f"fields.{form}")
    assert found.fields or found.problems
    assert all(problem.sentence for problem in found.problems)
