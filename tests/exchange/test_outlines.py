"""Reading fields.geojson: what is mended, what is refused, and every problem at once."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import corners, fields

from duskline.core.errors import OutlineRefused
from duskline.core.farm import Edge
from duskline.core.outline import Outline
from duskline.defaults import defaults
from duskline.exchange.mending import mend
from duskline.exchange.outlines import (
    LARGEST_FILE_BYTES,
    MOST_CORNERS,
    FieldShape,
    FieldsRead,
    parse_outlines,
    read_outlines,
)
from duskline.exchange.projection import LocalPlane

YARD = LocalPlane(lon_deg=-93.5, lat_deg=42.0)
SQUARE = "0,0 400,0 400,400 0,400 0,0"


def ring(text: str) -> list[list[float]]:
    """Return corners in metres from the yard as longitude and latitude."""
    lonlat: list[list[float]] = YARD.to_lonlat(corners(text)).round(9).tolist()
    return lonlat


def feature(name: object, *rings: str, **properties: object) -> dict[str, Any]:
    """Return one field drawn by texts, the outer edge first."""
    return {
        "type": "Feature",
        "properties": {"name": name, **properties},
        "geometry": {"type": "Polygon", "coordinates": [ring(text) for text in rings]},
    }


def parsed(*features: object, **members: object) -> FieldsRead:
    """Return a collection of features as the reader sees it."""
    document = {"type": "FeatureCollection", "features": list(features), **members}
    return parse_outlines(json.dumps(document).encode(), file="fields.geojson")


def only(found: FieldsRead) -> FieldShape:
    """Return the one field of a file without problems."""
    assert sentences(found) == []
    (shape,) = found.fields
    return shape


def sentences(found: FieldsRead) -> list[str]:
    """Return the problems as sentences."""
    return [problem.sentence for problem in found.problems]


def refused(found: FieldsRead) -> str:
    """Return the one problem of a file without a usable field."""
    assert found.fields == ()
    (sentence,) = sentences(found)
    return sentence


# --- what is read -----------------------------------------------------------------------------


def test_a_field_is_read_with_its_area_and_its_place() -> None:
    """400 x 400 m, its south-west corner at the yard: 160,000 m2, its middle 200 m from both."""
    shape = only(parsed(feature("Home", SQUARE)))
    assert shape.name == "Home"
    assert shape.area_m2 == pytest.approx(160_000.0, rel=1e-6)
    assert shape.outline_m.area_m2 == pytest.approx(160_000.0, rel=1e-6)
    middle_m = YARD.to_plane(np.asarray([[shape.centre_lon_deg, shape.centre_lat_deg]]))[0]
    assert middle_m == pytest.approx([200.0, 200.0], abs=0.01)
    assert shape.notes == ()


def test_longitude_comes_first() -> None:
    """A corner [-93.5, 42.0] lies in the corn belt: x grows to the east, y to the north.

    To a decimetre: north at the field's middle differs from north at the yard by a hair.
    """
    shape = only(parsed(feature("Home", "0,0 800,0 800,400 0,400 0,0")))
    reach_m = np.ptp(shape.outline_m.exterior_m, axis=0)
    assert reach_m == pytest.approx([800.0, 400.0], abs=0.1)


def test_holes_are_read_and_taken_off() -> None:
    """A waterway 16 m wide and 280 m long."""
    shape = only(parsed(feature("A5", SQUARE, "180,60 216,340 200,340 180,60")))
    assert len(shape.outline_m.holes_m) == 1
    assert shape.area_m2 == pytest.approx(160_000.0 - 0.5 * 16.0 * 280.0, rel=1e-6)


def test_heights_are_left_alone() -> None:
    """A third figure of a corner is its height; it changes nothing."""
    drawn = feature("Home", SQUARE)
    for corner in drawn["geometry"]["coordinates"][0]:
        corner.append(312.5)
    assert only(parsed(drawn)).area_m2 == pytest.approx(160_000.0, rel=1e-6)


def test_a_single_feature_is_a_farm_of_one_field() -> None:
    """Not wrapped in a collection."""
    data = json.dumps(feature("Home", SQUARE)).encode()
    assert only(parse_outlines(data, file="fields.geojson")).name == "Home"


def test_one_part_in_a_list_of_parts_is_one_field() -> None:
    """Drawing programs often write every field so."""
    drawn = feature("Home", SQUARE)
    drawn["geometry"] = {
        "type": "MultiPolygon",
        "coordinates": [drawn["geometry"]["coordinates"]],
    }
    assert only(parsed(drawn)).area_m2 == pytest.approx(160_000.0, rel=1e-6)


def test_a_byte_order_mark_does_no_harm() -> None:
    """Some editors put one at the start of a file."""
    data = b"\xef\xbb\xbf" + json.dumps(feature("Home", SQUARE)).encode()
    assert only(parse_outlines(data, file="fields.geojson")).name == "Home"


def test_a_field_across_the_180th_meridian_is_read() -> None:
    """Taveuni's fields lie on both sides of it."""
    plane = LocalPlane(lon_deg=180.0, lat_deg=-16.9)
    drawn = feature("Taveuni", SQUARE)
    drawn["geometry"]["coordinates"] = [plane.to_lonlat(corners(SQUARE) - 200.0).tolist()]
    assert only(parsed(drawn)).area_m2 == pytest.approx(160_000.0, rel=1e-6)


@given(field=fields())
@settings(max_examples=40, deadline=None)
def test_any_sound_outline_is_read_as_it_was_drawn(field: Outline) -> None:
    """Nothing is mended, refused or lost; areas agree to a millionth."""
    rings = [
        [*ring_m.tolist(), ring_m[0].tolist()] for ring_m in (field.exterior_m, *field.holes_m)
    ]
    drawn = feature("Home", SQUARE)
    drawn["geometry"]["coordinates"] = [
        YARD.to_lonlat(np.asarray(ring_m)).tolist() for ring_m in rings
    ]
    shape = only(parsed(drawn))
    assert shape.notes == ()
    assert shape.area_m2 == pytest.approx(field.area_m2, rel=1e-6)
    assert len(shape.outline_m.exterior_m) == len(field.exterior_m)


# --- what is mended ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("drawn", "note"),
    [
        ("0,0 0,400 400,400 400,0 0,0", "the other way round"),
        ("0,0 400,0 400,400 0,400", "was not closed"),
        ("0,0 400,0 400,0 400,400 400,400 0,400 0,0", "repeated corners"),
        ("0,0 400,0 400,0.004 400,400 0,400 0,0", "repeated corners"),
        ("0,0 400,0 400,200 460,200 400,200.1 400,400 0,400 0,0", "thin spike"),
        ("0,0 400,0 400,200 460,200 400,200 400,400 0,400 0,0", "thin spike"),
        ("0,0 400,0 400,398 399,401 401,401 399,398 390,400 0,400 0,0", "crossed by a hair"),
    ],
)
def test_slips_of_the_pen_are_mended_with_a_note(drawn: str, note: str) -> None:
    """The ground stays the same to a thousandth, and the note says what was done."""
    shape = only(parsed(feature("Home", drawn)))
    assert shape.area_m2 == pytest.approx(160_000.0, rel=1e-3)
    assert len(shape.notes) == 1
    assert note in shape.notes[0]


def test_a_hole_drawn_along_the_edge_is_cut_out_of_it() -> None:
    """A waterway drawn to the fence: its ground comes off, and no hole is left."""
    mended = mend(corners(SQUARE), [corners("100,0 100,200 120,200 120,0 100,0")])
    assert mended.outline.area_m2 == pytest.approx(160_000.0 - 20.0 * 200.0)
    assert mended.outline.holes_m == ()
    assert mended.notes == ("a hole that met the edge or another hole was joined to it",)


def test_a_hole_from_fence_to_fence_is_refused() -> None:
    """It touches two fences at a point each: that is two fields."""
    with pytest.raises(OutlineRefused, match="part the field in two"):
        mend(corners(SQUARE), [corners("0,200 200,150 400,200 200,250 0,200")])


def test_a_hole_in_a_hole_is_refused() -> None:
    """An island in a pond is a field of its own, or a slip."""
    pond, island = "100,100 300,100 300,300 100,300", "150,150 250,150 250,250 150,250"
    with pytest.raises(OutlineRefused, match="one hole lies inside another"):
        mend(corners(SQUARE), [corners(pond), corners(island)])


def test_a_hole_without_ground_is_left_out() -> None:
    """A double click drew it."""
    shape = only(parsed(feature("Home", SQUARE, "100,100 100,120 100,100")))
    assert shape.outline_m.holes_m == ()
    assert any("hole without ground" in note for note in shape.notes)


def test_a_track_with_a_corner_every_pace_is_thinned() -> None:
    """12,000 corners along a round field come down to some hundreds, the ground the same."""
    angles_rad = math.tau * np.arange(12_000) / 12_000
    track_m = 300.0 * np.stack([np.cos(angles_rad), np.sin(angles_rad)], axis=1)
    mended = mend(np.vstack([track_m, track_m[:1]]))
    assert len(mended.outline.exterior_m) < 300
    assert mended.outline.area_m2 == pytest.approx(math.pi * 300.0**2, rel=1e-3)
    assert "thinned" in mended.notes[0]


@given(field=fields(), index=st.integers(0, 40), reach_m=st.floats(2.0, 60.0))
@settings(max_examples=40, deadline=None)
def test_mending_keeps_the_ground(field: Outline, index: int, reach_m: float) -> None:
    """A repeated corner and a spike on any side: the ground stays the same to a thousandth."""
    count = len(field.exterior_m)
    start_m, end_m = field.exterior_m[index % count], field.exterior_m[(index + 1) % count]
    middle_m, side_m = 0.5 * (start_m + end_m), end_m - start_m
    out_m = reach_m * np.asarray([side_m[1], -side_m[0]]) / np.hypot(*side_m)
    spoilt_m = np.insert(
        field.exterior_m, index % count + 1, [start_m, middle_m, middle_m + out_m, middle_m], axis=0
    )
    mended = mend(spoilt_m, field.holes_m)
    assert mended.outline.area_m2 == pytest.approx(field.area_m2, rel=1e-3)
    assert any("spike" in note for note in mended.notes)
    assert any("repeated" in note for note in mended.notes)


# --- what is refused --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rings", "words"),
    [
        (["0,0 400,400 400,0 0,400 0,0"], "crosses or meets itself near -93.497"),
        (["0,0 400,300 400,0 0,400 0,0"], "crosses or meets itself"),
        (["0,0 200,200 400,0 400,400 200,200 0,400 0,0"], "crosses or meets itself"),
        ([SQUARE, "900,0 950,0 950,50 900,0"], "hole lies outside"),
        ([SQUARE, "350,100 450,100 450,200 350,200 350,100"], "crosses or meets itself"),
        ([SQUARE, "0,100 400,100 400,200 0,200 0,100"], "crosses or meets itself"),
        (["0,0 400,0 0,0"], "three at least"),
        (["0,0 400,0 200,0.001 0,0"], "less ground than a house"),
        (["0,0 8,0 8,8 0,8 0,0"], "less ground than a house"),
    ],
)
def test_an_outline_that_cannot_be_mended_safely_is_refused(rings: list[str], words: str) -> None:
    """A figure of eight, a pinch, a hole beyond the fence, a line, a speck."""
    sentence = refused(parsed(feature("Home", *rings)))
    assert words in sentence
    assert 'field "Home"' in sentence


def test_parts_apart_are_refused_with_what_to_do() -> None:
    """Two blocks under one name: each needs its own."""
    drawn = feature("Home", SQUARE)
    other = ring("500,0 900,0 900,400 500,400 500,0")
    drawn["geometry"] = {
        "type": "MultiPolygon",
        "coordinates": [drawn["geometry"]["coordinates"], [other]],
    }
    assert "Give each part a feature and a name of its own." in refused(parsed(drawn))


@pytest.mark.parametrize(
    ("geometry", "words"),
    [
        (None, "no outline"),
        ({"type": "LineString", "coordinates": [[-93.5, 42.0]]}, "LineString"),
        ({"type": "Polygon", "coordinates": []}, "no corners"),
        ({"type": "Polygon", "coordinates": [[]]}, "the outer edge"),
        ({"type": "Polygon", "coordinates": [[[-93.5, "42"]]]}, "two numbers"),
        ({"type": "Polygon", "coordinates": [[[-93.5, True]]]}, "two numbers"),
        ({"type": "Polygon", "coordinates": [[-93.5, 42.0]]}, "two numbers"),
        ({"type": "Polygon", "coordinates": "none"}, "no corners"),
        ({"type": "MultiPolygon", "coordinates": []}, "no corners"),
        ("here", "a geometry of type nothing"),
    ],
)
def test_what_is_no_outline_is_refused(geometry: object, words: str) -> None:
    """A line, nothing, a text for a number."""
    drawn = feature("Home", SQUARE)
    drawn["geometry"] = geometry
    assert words in refused(parsed(drawn))


@pytest.mark.parametrize(
    ("lon_first", "yard_deg"),
    [
        ((42.0, -93.5), None),
        ((37.4, -76.6), None),
        ((-43.6, 171.7), None),
        ((52.0, 11.5), (11.5, 52.0)),
    ],
)
def test_swapped_figures_are_refused(
    lon_first: tuple[float, float], yard_deg: tuple[float, float] | None
) -> None:
    """Iowa, Virginia and Canterbury show it by themselves; Saxony needs the farm's place."""
    drawn = feature("Home", SQUARE)
    lon_deg, lat_deg = lon_first
    drawn["geometry"]["coordinates"] = [
        [
            [lon_deg, lat_deg],
            [lon_deg, lat_deg + 0.005],
            [lon_deg + 0.003, lat_deg],
            [lon_deg, lat_deg],
        ]
    ]
    found = parse_outlines(json.dumps(drawn).encode(), file="f", yard_lonlat_deg=yard_deg)
    assert "The two look swapped." in refused(found)


@pytest.mark.parametrize("east_m", [0.0, 448_000.0])
def test_metres_are_refused(east_m: float) -> None:
    """Metres from the yard, or of a map grid: both are told from degrees."""
    drawn = feature("Home", SQUARE)
    north_m = 4_650_000.0 if east_m else 0.0
    drawn["geometry"]["coordinates"] = [
        [[east_m + x, north_m + y] for x, y in corners("0,0 60,0 60,40 0,40 0,0").tolist()]
    ]
    assert "metres" in refused(parsed(drawn))


def test_a_corner_far_off_is_refused() -> None:
    """One corner 100 km away is no field."""
    drawn = feature("Home", SQUARE)
    drawn["geometry"]["coordinates"][0][2][1] += 0.9
    assert "one corner may be far off" in refused(parsed(drawn))


@pytest.mark.parametrize(
    ("name", "usable"),
    [
        ("urn:ogc:def:crs:OGC:1.3:CRS84", True),
        ("urn:ogc:def:crs:EPSG::4326", True),
        ("urn:ogc:def:crs:EPSG::26915", False),
    ],
)
def test_an_old_file_that_names_another_grid_is_refused(name: str, usable: bool) -> None:
    """Files written before 2016 may name their grid; only longitude and latitude are taken."""
    crs = {"type": "name", "properties": {"name": name}}
    found = parsed(feature("Home", SQUARE), crs=crs)
    assert len(found.fields) == usable
    assert usable or "EPSG:4326" in refused(found)


# --- the file ---------------------------------------------------------------------------------


def test_a_missing_file_is_a_problem_not_a_crash(tmp_path: Path) -> None:
    """The sentence says so; a folder in its place too."""
    assert "no such file" in refused(read_outlines(tmp_path / "fields.geojson"))
    assert "read nothing" in refused(read_outlines(tmp_path))


def test_a_file_too_large_is_refused_before_it_is_read_to_its_end(tmp_path: Path) -> None:
    """One byte over 20 MB."""
    path = tmp_path / "fields.geojson"
    with path.open("wb") as file:
        file.truncate(LARGEST_FILE_BYTES + 1)
    assert "more than 20 MB" in refused(read_outlines(path))


def test_a_million_corners_are_refused_before_they_are_parsed() -> None:
    """The sentence names the limit; the text need not even be whole."""
    data = b'{"type": "FeatureCollection", "features": [' + b"[1,2]," * 1_000_000
    assert "at most 200,000" in refused(parse_outlines(data, file="fields.geojson"))


def test_a_corner_too_many_is_refused() -> None:
    """200,001 in all, over two fields."""
    drawn = [feature("One", SQUARE), feature("Two", SQUARE)]
    drawn[0]["geometry"]["coordinates"] = [[[-93.5, 42.0]] * (MOST_CORNERS - 4)]
    assert "200,001 corners" in refused(parsed(*drawn))


@pytest.mark.parametrize("opening", ["[", '{"a":'])
def test_a_nest_without_end_is_refused(opening: str) -> None:
    """A hundred thousand brackets deep."""
    data = opening.encode() * 100_000
    assert "nested too deep" in refused(parse_outlines(data, file="fields.geojson"))


@pytest.mark.parametrize("token", ["NaN", "Infinity", "-Infinity"])
def test_a_figure_that_is_no_number_is_refused_with_its_line(token: str) -> None:
    """JSON has no such figure, though some programs write it."""
    text = json.dumps(feature("Home", SQUARE), indent=1).replace("42.0,", f"{token},", 1)
    text = text.replace("-93.5,", f"{token},", 1)
    line = text[: text.index(token)].count("\n") + 1
    sentence = refused(parse_outlines(text.encode(), file="fields.geojson"))
    assert sentence.startswith(f"fields.geojson, line {line}: read {token}")


def test_a_figure_too_large_to_be_a_number_is_refused() -> None:
    """1e999 is read as infinite, and so are five thousand digits."""
    text = json.dumps(feature("Home", SQUARE))
    for figure in ("1e999", "9" * 5000):
        data = text.replace("-93.5,", f"{figure},", 1).encode()
        assert "two numbers" in refused(parse_outlines(data, file="fields.geojson"))


def test_a_slip_in_the_json_is_told_with_line_and_column() -> None:
    """A comma missing after the type."""
    data = b'{\n "type": "FeatureCollection"\n "features": []\n}\n'
    sentence = refused(parse_outlines(data, file="fields.geojson"))
    assert sentence.startswith("fields.geojson, line 3, column 2: ")


def test_letters_of_another_code_are_told_with_their_line() -> None:
    """A name in Latin-1."""
    data = '{\n "name": "Grüner Weg"}'.encode("latin-1")
    assert "line 2" in refused(parse_outlines(data, file="fields.geojson"))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[]", "a list of 0"),
        ("{}", "type nothing"),
        ('{"type": "Topology"}', "Topology"),
        ('{"type": "FeatureCollection", "features": {}}', "FeatureCollection"),
        ('{"type": "FeatureCollection", "features": []}', "no features"),
        ('{"type": "FeatureCollection", "features": [7]}', "feature 1"),
        ("", "expecting value"),
    ],
)
def test_json_that_holds_no_fields_is_refused(text: str, words: str) -> None:
    """Another format, an empty list, an empty file."""
    assert words in refused(parse_outlines(text.encode(), file="fields.geojson"))


def test_a_key_written_twice_is_told() -> None:
    """The second would silently win."""
    text = json.dumps(feature("Home", SQUARE)).replace(
        '"name": "Home"', '"name": "Home", "name": "Away"'
    )
    found = parse_outlines(text.encode(), file="fields.geojson")
    assert ['the key "name" twice' in sentence for sentence in sentences(found)] == [True]


@given(data=st.binary(max_size=200))
@settings(max_examples=100, deadline=None)
def test_no_bytes_crash_the_reader(data: bytes) -> None:
    """Whatever comes in, problems come out."""
    assert parse_outlines(data, file="fields.geojson").problems


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=12,
)


@given(geometry=json_values, properties=json_values, values=st.lists(json_values, max_size=6))
@settings(max_examples=100, deadline=None)
def test_no_json_crashes_the_reader(
    geometry: object, properties: object, values: list[object]
) -> None:
    """Nor does any value in any place."""
    keys = ("name", "ready_from", "edges", "herbicide", "gate", "lot")
    drawn = {"type": "Feature", "geometry": geometry, "properties": properties}
    known = feature("Home", SQUARE)
    known["properties"] |= dict(zip(keys, values, strict=False))
    found = parsed(
        drawn, known, {"type": "Feature", "geometry": {"type": "Polygon", "coordinates": geometry}}
    )
    assert len(found.fields) <= 1
    assert found.problems


# --- fields against each other ----------------------------------------------------------------


def test_every_problem_is_told_at_once() -> None:
    """Three bad fields and a good one: three problems, one field."""
    found = parsed(
        feature("Eight", "0,0 400,400 400,0 0,400 0,0"),
        feature("", "500,0 900,0 900,400 500,400 500,0"),
        feature("Home", SQUARE, ready_from="soon"),
        feature("Speck", "0,0 8,0 8,8 0,8 0,0"),
    )
    assert [shape.name for shape in found.fields] == ["Home"]
    assert [problem.where for problem in found.problems] == [
        'field "Eight"',
        "feature 2, name",
        'field "Home", ready_from',
        'field "Speck"',
    ]


def test_a_name_taken_is_told_capitals_or_not() -> None:
    """North 40 and north 40 are one name to a driver."""
    found = parsed(
        feature("North 40", SQUARE), feature("north 40", "500,0 900,0 900,400 500,400 500,0")
    )
    assert [shape.name for shape in found.fields] == ["North 40"]
    assert "its name a second time" in sentences(found)[0]


def test_the_same_ground_under_two_names_is_told() -> None:
    """Nobody is to seed it twice."""
    found = parsed(feature("One", SQUARE), feature("Two", SQUARE))
    assert [shape.name for shape in found.fields] == ["One"]
    assert 'the same ground as field "One"' in sentences(found)[0]


def test_fields_that_overlap_are_noted_on_both() -> None:
    """40 m of 400 m is 10 % of each; a shared fence is no overlap."""
    found = parsed(
        feature("West", SQUARE),
        feature("Middle", "360,0 760,0 760,400 360,400 360,0"),
        feature("East", "760,0 1160,0 1160,400 760,400 760,0"),
    )
    assert sentences(found) == []
    notes = {shape.name: shape.notes for shape in found.fields}
    assert notes == {
        "West": ('it and "Middle" overlap by 10 % of the smaller one',),
        "Middle": ('it and "West" overlap by 10 % of the smaller one',),
        "East": (),
    }


def test_a_field_in_the_hole_of_another_does_not_overlap_it() -> None:
    """A paddock inside a field."""
    found = parsed(
        feature("Outer", SQUARE, "100,100 100,200 200,200 200,100 100,100"),
        feature("Inner", "100,100 200,100 200,200 100,200 100,100"),
    )
    assert [shape.notes for shape in found.fields] == [(), ()]


def test_a_field_far_from_the_farm_is_noted() -> None:
    """A slip in the farm's place or in the outline; both are worth a look."""
    data = json.dumps(feature("Home", SQUARE)).encode()
    found = parse_outlines(data, file="fields.geojson", yard_lonlat_deg=(-76.6, 37.4))
    assert only(found).notes == ("it lies far from the farm's place",)


# --- properties -------------------------------------------------------------------------------


def test_known_properties_are_read() -> None:
    """Every one of them, in its form."""
    shape = only(
        parsed(
            feature(
                "Home",
                SQUARE,
                ready_from="2026-10-18",
                farm_no=1204,
                tract_no="3310",
                field_no=" 1 ",
                previous_crop="soybeans",
                notes="Creek on the east.",
                customer="Customer P",
                lot="W",
                edges=[
                    {"side": "east", "kind": "water", "note": "creek"},
                    {"where": "along the lane", "kind": "road"},
                ],
                erodible=True,
                not_after_rain=False,
                herbicide=[
                    {"name": "a residual", "applied_on": "2026-06-01", "interval_days": 120}
                ],
                gate=[-93.5, 42.0],
                colour="#aa0000",
            )
        )
    )
    facts = shape.facts
    assert facts.ready_from is not None
    assert facts.ready_from.isoformat() == "2026-10-18T00:00:00"
    assert (facts.farm_no, facts.tract_no, facts.field_no) == ("1204", "3310", "1")
    assert (facts.previous_crop, facts.customer, facts.lot) == ("soybeans", "Customer P", "W")
    assert facts.notes == "Creek on the east."
    assert facts.edges == (
        Edge(side="east", kind="water", note="creek"),
        Edge(side="along the lane", kind="road"),
    )
    assert facts.erodible
    assert not facts.not_after_rain
    assert facts.herbicide[0].applied_on.isoformat() == "2026-06-01"
    assert facts.herbicide[0].interval_days == 120
    assert facts.gate_lonlat_deg == (-93.5, 42.0)
    assert shape.properties["colour"] == "#aa0000"
    assert shape.notes == ()


def test_what_is_not_stated_is_empty() -> None:
    """Ready now, no numbers, nothing to mind; null counts as not stated."""
    facts = only(parsed(feature("Home", SQUARE, ready_from="now", lot=None))).facts
    assert facts.ready_from is None
    assert (facts.farm_no, facts.lot, facts.edges, facts.erodible) == ("", "", (), False)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("ready_from", "soon", '"2026-10-18T09:00"'),
        ("ready_from", 20261018, '"2026-10-18T09:00"'),
        ("ready_from", "2026-02-30", '"2026-10-18T09:00"'),
        ("ready_early", "2026-10-18", "ready_early alone; expected ready_from beside it"),
        ("ready_late", "2026-10-18", "ready_late alone; expected ready_from beside it"),
        ("ready_late", "now", 'expected a day such as "2026-10-18", or a day and time'),
        ("due", "Oct 21", 'expected a day such as "2026-10-21"'),
        ("due", "2026-10-21T09:00", 'expected a day such as "2026-10-21"'),
        ("due", "1926-10-21", "does not lie between 2000 and 2100"),
        ("due", 20261021, 'expected a day such as "2026-10-21"'),
        ("split", "no", "true or false"),
        ("priority", 0, "It must be above 0"),
        ("priority", -1, "It must be above 0"),
        ("priority", 1e9, "at most 1000"),
        ("priority", True, 'a number above 0, or "first", "normal" or "last"'),
        ("priority", "urgent", 'a number above 0, or "first", "normal" or "last"'),
        ("priority", "9" * 400, 'a number above 0, or "first", "normal" or "last"'),
        ("priority", [2], 'a number above 0, or "first", "normal" or "last"'),
        ("lot", ["W"], "a text"),
        ("notes", "x" * 2001, "longer than 2000"),
        ("erodible", "yes", "true or false"),
        ("not_after_rain", 1, "true or false"),
        ("gate", [42.0, -93.5], "Longitude comes first."),
        ("gate", [-93.5], "longitude and latitude"),
        ("gate", {"lon": -93.5}, "longitude and latitude"),
        ("edges", "creek", '"kind": "water"'),
        ("edges", [{"side": "east", "kind": "river"}], 'The kind "river" is none of these.'),
        ("edges", [{"kind": "water"}], '"side" or "where"'),
        ("herbicide", [{"name": "a", "applied_on": "June"}], "must be whole days"),
        (
            "herbicide",
            [{"name": "a", "applied_on": "June", "interval_days": 9}],
            'The day "June" is not',
        ),
        (
            "herbicide",
            [{"name": "a", "applied_on": "2026-06-01", "interval_days": -9}],
            "between 0 and ten years",
        ),
        ("herbicide", [{"applied_on": "2026-06-01", "interval_days": 9}], 'its "name"'),
    ],
)
def test_a_property_that_cannot_be_read_is_a_problem_and_the_field_stays(
    key: str, value: object, words: str
) -> None:
    """The sentence names field and key, what was read, and the right form."""
    found = parsed(feature("Home", SQUARE, **{key: value}))
    assert [shape.name for shape in found.fields] == ["Home"]
    (sentence,) = sentences(found)
    assert sentence.startswith(f'fields.geojson, field "Home", {key}: read ')
    assert words in sentence


def test_what_a_field_says_about_the_season_is_read() -> None:
    """Harvest early, likely and late; its own last day; not to be split; first."""
    facts = only(
        parsed(
            feature(
                "Home",
                SQUARE,
                ready_early="2026-10-17",
                ready_from="2026-10-18T12:00",
                ready_late="2026-10-20T09:00-05:00",
                due="2026-10-21",
                split=False,
                priority="First",
            )
        )
    ).facts
    found = (facts.ready_early, facts.ready_from, facts.ready_late)
    assert [str(moment) for moment in found] == [
        "2026-10-17 00:00:00",
        "2026-10-18 12:00:00",
        "2026-10-20 09:00:00-05:00",
    ]
    assert str(facts.due) == "2026-10-21"
    assert not facts.split
    assert facts.priority == defaults()["field_priority_first"].typical


@pytest.mark.parametrize(
    ("written", "priority"),
    [("normal", 1.0), (" LAST ", 0.5), (2, 2.0), (0.25, 0.25), ("2.5", 2.5)],
)
def test_a_priority_is_a_word_or_a_number(written: object, priority: float) -> None:
    """Numbers may stand in quotes, as other programs write them."""
    assert only(parsed(feature("Home", SQUARE, priority=written))).facts.priority == priority


def test_a_field_says_nothing_about_the_season() -> None:
    """It may be split, costs the usual price and follows the season's last day."""
    facts = only(parsed(feature("Home", SQUARE))).facts
    assert (facts.ready_early, facts.ready_late, facts.due) == (None, None, None)
    assert facts.split
    assert facts.priority == 1.0


def test_a_day_from_another_program_ends_in_midnight() -> None:
    """A column of moments holds the 21st as its first one."""
    facts = only(parsed(feature("Home", SQUARE, due="2026-10-21T00:00:00.000"))).facts
    assert str(facts.due) == "2026-10-21"


@pytest.mark.parametrize(
    ("key", "meant"),
    [
        ("ready-from", "ready_from"),
        ("ready_lat", "ready_late"),
        ("Ready From", "ready_from"),
        ("previos_crop", "previous_crop"),
        ("herbicides", "herbicide"),
    ],
)
def test_a_key_that_is_nearly_known_gets_a_note(key: str, meant: str) -> None:
    """It is not guessed at, and not passed over in silence."""
    shape = only(parsed(feature("Home", SQUARE, **{key: "x"})))
    assert shape.notes == (f'"{key}" is not a known key; meant "{meant}"?',)


def test_a_field_without_a_name_is_told_with_the_key_it_may_have_meant() -> None:
    """Name with a capital is another key to the file."""
    drawn = feature("", SQUARE)
    drawn["properties"] = {"Name": "Home"}
    assert 'meant "name"?' in refused(parsed(drawn))


@pytest.mark.parametrize("name", ["a\nb", "x" * 61, 4.5, True, " ", None])
def test_a_name_must_fit_on_a_line(name: object) -> None:
    """It is printed on sheets and typed on a command line."""
    assert "feature 1, name" in refused(parsed(feature(name, SQUARE)))


def test_a_number_will_do_as_a_name() -> None:
    """Field 7 is often written without quotation marks."""
    assert only(parsed(feature(7, SQUARE))).name == "7"


def test_a_gate_far_from_its_field_is_noted() -> None:
    """Half a degree away is a slip, and so is half a kilometre; beside the field it is none."""
    shape = only(parsed(feature("Home", SQUARE, gate=[-93.0, 42.0])))
    assert shape.notes == ("its gate lies far from the field",)
    east_m = float(shape.outline_m.exterior_m[:, 0].max())
    for beyond_m, notes in ((500.0, shape.notes), (200.0, ()), (-10.0, ())):
        (gate,) = shape.plane.to_lonlat(np.asarray([[east_m + beyond_m, 0.0]])).tolist()
        assert only(parsed(feature("Home", SQUARE, gate=gate))).notes == notes


# --- acres, gates, lie of the land -----------------------------------------------------------


def test_acres_gates_slope_and_strips_are_read() -> None:
    """Areas with their unit, every gate once, a compass word long or short, a strip's width."""
    facts = only(
        parsed(
            feature(
                "Home",
                SQUARE,
                driven_area="39.6 ac",
                office_area="16.1 ha",
                gate=[-93.5, 42.0],
                gates=[[-93.499, 42.0], [-93.5, 42.0]],
                slope="6 %",
                downhill="NE",
                edges=[{"side": "east", "kind": "organic", "off": "30 ft"}],
            )
        )
    ).facts
    assert facts.driven_area_m2 == pytest.approx(39.6 * 4046.8564224)
    assert facts.office_area_m2 == pytest.approx(161_000.0)
    assert facts.gate_lonlat_deg == (-93.5, 42.0)
    assert facts.gates_lonlat_deg == ((-93.5, 42.0), (-93.499, 42.0))
    assert facts.slope_fraction == pytest.approx(0.06)
    assert facts.downhill_to == "north-east"
    assert facts.edges == (Edge(side="east", kind="organic", off_m=30 * 0.3048),)


def test_gates_alone_are_gates() -> None:
    """The first of the list is the field's first gate."""
    facts = only(parsed(feature("Home", SQUARE, gates=[[-93.499, 42.0], [-93.5, 42.0]]))).facts
    assert facts.gate_lonlat_deg == (-93.499, 42.0)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("driven_area", 39.6, "an area with its unit"),
        ("driven_area", "39.6", "an area with its unit"),
        ("office_area", "0 ac", "too much or too little"),
        ("gates", [-93.5, 42.0], "a list of gates"),
        ("slope", "6", "a slope such as"),
        ("slope", "200 %", "too much or too little"),
        ("downhill", "down the hill", "one of north, north-east"),
        ("edges", [{"side": "east", "kind": "water", "off": 30}], "off is 30"),
        ("left_out", [{"what": "hole"}], 'either its "area"'),
        ("left_out", [{"area": "0.4 ac"}], 'Each needs its "what"'),
        ("left_out", [{"what": "hole", "area": "0.4 ac", "come_back": "yes"}], "a list such as"),
        ("left_out", [{"what": "hole", "ring": [[-93.5, 42.0]]}], "three corners or more"),
        ("left_out", {"what": "hole", "area": "0.4 ac"}, "a list such as"),
    ],
)
def test_a_slip_in_the_newer_properties_is_told(key: str, value: object, words: str) -> None:
    """With the form that was wanted; the field itself is still read."""
    found = parsed(feature("Home", SQUARE, **{key: value}))
    assert len(found.fields) == 1
    (sentence,) = sentences(found)
    assert words in sentence
    assert key in sentence


def test_a_left_out_ring_that_names_no_what_is_told() -> None:
    """A ring without a word for it; its field is read all the same."""
    found = parsed(feature("Home", SQUARE), feature("x", SQUARE, left_out_of="Home"))
    (sentence,) = sentences(found)
    assert 'left out of "Home"' in sentence
    assert [one.name for one in found.fields] == ["Home"]
