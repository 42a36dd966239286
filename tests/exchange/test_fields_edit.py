"""Changing what is known of a field: what is named changes, everything else stays as it was."""

from __future__ import annotations

import datetime as dt
import json
import os
import shutil
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio.raw
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_folders import copy_of

from duskline.exchange import fields_edit
from duskline.exchange.farm_files import as_geojson, write_atomic
from duskline.exchange.farmfolder import read_farm, read_folder
from duskline.exchange.fields_edit import (
    MOST_ENTRIES,
    OUT,
    FieldSaved,
    delete_field,
    save_field,
    view_fields,
)
from duskline.exchange.outlines import read_outlines
from duskline.exchange.vectorfiles import read_field_files

NOW = dt.datetime(2026, 10, 18, 12, 0, tzinfo=dt.UTC)
KEPT = "kept/fields.geojson.20261018T120000Z"
HOSTILE = '<b onclick="x">&amp; "A2" \\ {0.__class__}'


@pytest.fixture
def rye(tmp_path: Path) -> Path:
    """Return a copy of the rye farm."""
    return copy_of("rye-after-soybeans", tmp_path)


def written(folder: Path) -> str:
    """Return the outlines as they are written."""
    return (folder / "fields.geojson").read_bytes().decode("utf-8")


def held(folder: Path, name: str) -> dict[str, Any]:
    """Return the properties of a field as they are in the file."""
    features = json.loads(written(folder).removeprefix("\ufeff"))["features"]
    found: dict[str, Any] = next(
        one["properties"] for one in features if one["properties"].get("name") == name
    )
    return found


def put(folder: Path, name: str, /, **typed: str) -> FieldSaved:
    """Type into boxes of one field; an underscore twice is a dot."""
    paths = {key.replace("__", "."): text for key, text in typed.items()}
    return save_field(folder, name, paths, now=NOW)


def told(saved: FieldSaved) -> list[str]:
    """Return where something is wrong."""
    return [one.key for one in saved.problems]


def test_one_property_changes_and_not_a_letter_beside_it(rye: Path) -> None:
    """The file as it was is kept."""
    before = written(rye)
    assert put(rye, "A2", farm_no="1205", notes="Creek on the east side.") == FieldSaved(name="A2")
    line = next(one for one in before.splitlines() if '"A2"' in one)
    changed = line.replace('"farm_no": "1204"', '"farm_no": "1205"')
    assert changed != line
    assert written(rye) == before.replace(line, changed)
    assert (rye / KEPT).read_text(encoding="utf-8") == before


def test_what_is_left_as_it_was_writes_nothing(rye: Path) -> None:
    """All boxes sent back as they were shown: no file changes, none is kept."""
    before = written(rye)
    for one in view_fields(rye).fields:
        assert save_field(rye, one.name, one.values, now=NOW).problems == ()
    assert written(rye) == before
    assert not (rye / "kept").exists()


def test_every_kind_of_property_is_taken_in_the_form_a_person_types(rye: Path) -> None:
    """Words, days, clock times with am and pm, places with letters, yes and no, lists."""
    saved = put(
        rye,
        "A1",
        ready_from="2026-10-19 9:30 am",
        due="2026-10-31",
        split="no",
        priority="2",
        slope="6 %",
        downhill="north-east",
        gates="42.0009 N, 93.4976 W\n-93.49, 42.001",
        edges__0__side="north",
        edges__0__kind="organic",
        edges__0__off="30 ft",
        herbicide__0__name="the label's name",
        herbicide__0__applied_on="2026-06-01",
        herbicide__0__interval_days="120",
        left_out__0__what="wet hole",
        left_out__0__area="0.4 ac",
        left_out__0__come_back="no",
    )
    assert saved.problems == ()
    properties = held(rye, "A1")
    assert properties["ready_from"] == "2026-10-19T09:30"
    assert properties["split"] is False
    assert properties["priority"] == 2
    assert properties["gates"] == [[-93.4976, 42.0009], [-93.49, 42.001]]
    assert properties["left_out"] == [{"what": "wet hole", "area": "0.4 ac", "come_back": False}]
    field = next(one for one in read_farm(rye).fields if one.name == "A1")
    assert field.due_on == dt.date(2026, 10, 31)
    assert field.edges[0].off_m == pytest.approx(9.144)
    assert field.herbicides[0].interval_days == 120
    assert field.left_out[0].area_m2 == pytest.approx(0.4 * 4046.8564224)


def test_an_entry_of_a_list_changes_alone_and_what_it_has_besides_stays(rye: Path) -> None:
    """Keys of other programs within an entry are kept; an entry taken out is gone."""
    text = written(rye).replace(
        '{"side": "east", "kind": "water", "note": "creek"}',
        '{"where": "east", "kind": "water", "note": "creek", "id": 7.50}, '
        '{"side": "south", "kind": "road"}',
    )
    (rye / "fields.geojson").write_bytes(text.encode())
    assert view_fields(rye).named("A2").values["edges.0.side"] == "east"  # type: ignore[union-attr]
    assert put(rye, "A2", edges__0__side="north", edges__0__note="").problems == ()
    wanted = '"edges": [{"where": "north", "kind": "water", "id": 7.50}, {"side": "south"'
    assert wanted in written(rye)
    assert put(rye, "A2", edges__0=OUT, edges__2__side="east", edges__2__kind="home").problems == ()
    assert held(rye, "A2")["edges"] == [
        {"side": "south", "kind": "road"},
        {"side": "east", "kind": "home"},
    ]
    assert put(rye, "A2", edges__0=OUT, edges__1=OUT).problems == ()
    assert "edges" not in held(rye, "A2")


@pytest.mark.parametrize(
    ("typed", "where"),
    [
        ({"edges.0.kind": "lava"}, "edges.0.kind"),
        ({"edges.1.side": "south"}, "edges.1.kind"),
        ({"edges.0.off": "wide"}, "edges.0.off"),
        ({"slope": "900 %"}, "slope"),
        ({"ready_early": "2026-11-01"}, "ready_early"),
        ({"ready_late": "2026-10-01"}, "ready_late"),
        ({"ready_from": "harvest"}, "ready_from"),
        ({"lot": "Nobody's"}, "lot"),
        ({"left_out.0.what": "hole"}, "left_out.0.area"),
        ({"left_out.0.what": "hole", "left_out.0.area": "4000 ac"}, "left_out.0"),
        ({"left_out.0.area": "1 ac"}, "left_out.0.what"),
        ({"herbicide.0.name": "x", "herbicide.0.interval_days": "12"}, "herbicide.0.applied_on"),
        ({"name": "a1"}, "name"),
        ({"name": " "}, "name"),
        ({"name": "x" * 61}, "name"),
        ({"name": "two\nlines"}, "name"),
        ({"due": "soon"}, "due"),
        ({"priority": "-3"}, "priority"),
        ({"gate": "there"}, "gate"),
        ({"downhill": "up"}, "downhill"),
        ({"driven_area": "29"}, "driven_area"),
        ({"erodible": "perhaps"}, "erodible"),
        ({"notes": "x" * 20_000}, "notes"),
    ],
)
def test_what_is_wrong_comes_back_to_its_box_and_nothing_is_written(
    rye: Path, typed: dict[str, str], where: str
) -> None:
    """The same errors as at any other time, at the box."""
    before = written(rye)
    saved = save_field(rye, "A2", typed, now=NOW, system="metric")
    assert told(saved)[:1] == [where]
    assert written(rye) == before
    assert not (rye / "kept").exists()
    assert " ac" not in saved.problems[0].sentence or "ac" in str(typed)


def test_a_new_name_is_followed_wherever_the_farm_names_the_field(rye: Path) -> None:
    """The day's order, ground left out, and pieces drawn in the file; comments stay."""
    toml = rye / "farm.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text(
        text + '\n[[left_out]]\nfield = "A2" # the creek\nwhat = "hole"\narea = "0.2 ac"\n',
        encoding="utf-8",
    )
    save_order(rye, ["A1", "A2"])
    piece = {
        "type": "Feature",
        "properties": {"left_out_of": "A2", "what": "tiles", "area": "0.1 ac"},
        "geometry": None,
    }
    outlines = written(rye).rstrip()
    (rye / "fields.geojson").write_text(outlines[:-2] + f",\n{json.dumps(piece)}\n]}}\n", "utf-8")
    assert read_folder(rye).problems == []
    saved = put(rye, "A2", name=HOSTILE)
    assert saved == FieldSaved(name=HOSTILE, followed=True)
    farm = tomllib.loads(toml.read_text(encoding="utf-8"))
    assert farm["day"]["order"] == ["A1", HOSTILE]
    assert farm["left_out"][-1]["field"] == HOSTILE
    assert "# the creek" in toml.read_text(encoding="utf-8")
    field = next(one for one in read_farm(rye).fields if one.name == HOSTILE)
    assert {one.what for one in field.left_out} == {"hole", "tiles"}
    assert view_fields(rye).named(HOSTILE).pieces == ("tiles",)  # type: ignore[union-attr]


def save_order(folder: Path, names: list[str]) -> None:
    """Write the day's order into a farm that has none."""
    path = folder / "farm.toml"
    text = path.read_text(encoding="utf-8")
    assert "\norder =" not in text
    line = f"order = {json.dumps(names)}\n"
    found = (
        text.replace("[day]\n", f"[day]\n{line}", 1)
        if "[day]\n" in text
        else f"{text}\n[day]\n{line}"
    )
    path.write_text(found, encoding="utf-8")


def test_a_field_in_the_log_keeps_its_name(rye: Path) -> None:
    """The log cannot be changed; all else of the field can."""
    save = save_field(rye, "A2", {"name": "Creek"}, now=NOW, told={"A2"})
    assert told(save) == ["name"]
    assert "log" in save.problems[0].sentence
    assert (
        save_field(rye, "A2", {"name": "A2", "slope": "2 %"}, now=NOW, told={"A2"}).problems == ()
    )
    assert held(rye, "A2")["slope"] == "2 %"


def test_a_field_is_taken_out_with_what_names_it(rye: Path) -> None:
    """Its neighbours stay letter for letter."""
    before = written(rye)
    save_order(rye, ["A1", "A2"])
    assert delete_field(rye, "A2", now=NOW) == FieldSaved(name="A2", followed=True)
    line = next(one for one in before.splitlines(keepends=True) if '"A2"' in one)
    assert written(rye) == before.replace(line, "")
    assert tomllib.loads((rye / "farm.toml").read_text())["day"]["order"] == ["A1"]
    assert read_folder(rye).problems == []
    assert (rye / KEPT).read_text(encoding="utf-8") == before


def test_a_field_with_work_in_the_log_goes_only_where_that_is_meant(rye: Path) -> None:
    """Asked once; then it goes."""
    asked = delete_field(rye, "A2", now=NOW, told={"A2"})
    assert asked.asks
    assert "log" in asked.problems[0].sentence
    assert view_fields(rye).named("A2") is not None
    assert delete_field(rye, "A2", now=NOW, told={"A2"}, confirmed=True).problems == ()
    assert view_fields(rye).named("A2") is None


def test_the_only_field_stays(rye: Path) -> None:
    """A farm without ground is no farm."""
    for name in [one.name for one in view_fields(rye).fields][1:]:
        assert delete_field(rye, name, now=NOW).problems == ()
    refused = delete_field(rye, "A1", now=NOW)
    assert "only field" in refused.problems[0].sentence
    assert len(view_fields(rye).fields) == 1


def test_a_field_that_somebody_else_changed_is_left_alone(rye: Path) -> None:
    """Another field's change does not stand in the way."""
    view = view_fields(rye)
    seen = {one.name: one.stamp for one in view.fields}
    assert put(rye, "A1", notes="new").problems == ()
    refused = save_field(rye, "A1", {"notes": "mine"}, now=NOW, seen=seen["A1"])
    assert "changed since" in refused.problems[0].sentence
    assert held(rye, "A1")["notes"] == "new"
    assert save_field(rye, "A2", {"notes": "mine"}, now=NOW, seen=seen["A2"]).problems == ()
    assert "changed since" in delete_field(rye, "A2", now=NOW, seen=seen["A2"]).problems[0].sentence


def test_a_problem_that_was_there_before_is_shown_and_stands_not_in_the_way(rye: Path) -> None:
    """One of two is put right first, then the other."""
    text = written(rye).replace('"ready_from": "2026-10-19T09:00"', '"ready_from": "soon"')
    text = text.replace('"farm_no": "1204", "tract_no": "3310", "field_no": "2"', '"slope": 6')
    (rye / "fields.geojson").write_text(text, encoding="utf-8")
    found = view_fields(rye).named("A2")
    assert found is not None
    assert {one.key for one in found.problems} >= {"ready_from", "slope"}
    assert put(rye, "A2", slope="6 %").problems == ()
    assert told(put(rye, "A2", ready_from="later")) == ["ready_from"]
    assert put(rye, "A2", ready_from="2026-10-19").problems == ()
    assert read_folder(rye).problems == []


@pytest.mark.parametrize("form", ["fields.gpkg", "fields.kml", "fields.shp.zip"])
def test_outlines_in_another_form_become_geojson_once_a_field_is_changed(
    rye: Path, form: str
) -> None:
    """The old file goes to what is kept; every field is as it was, but for the change."""
    made = in_form(rye, form)
    before = {one.name: one for one in read_farm(rye).fields}
    view = view_fields(rye)
    assert view.file == form
    assert put(rye, "A2", name="A2").problems == ()
    assert made.exists()
    a2 = view.named("A2")
    assert a2 is not None
    saved = save_field(rye, "A2", {"notes": "dry"}, now=NOW, seen=a2.stamp)
    assert saved.problems == ()
    assert not made.exists()
    assert (rye / "kept" / f"{form}.20261018T120000Z").is_file()
    after = {one.name: one for one in read_farm(rye).fields}
    assert list(after) == list(before)
    assert after["A2"].notes == "dry"
    for name, one in after.items():
        assert one.area_m2 == pytest.approx(before[name].area_m2, rel=1e-7)
        assert one.ready_at == before[name].ready_at


def in_form(folder: Path, form: str) -> Path:
    """Put the outlines of a farm into another form, with names and days of readiness."""
    features = json.loads(written(folder))["features"]
    shapes = shapely.to_wkb([shapely.from_geojson(json.dumps(one["geometry"])) for one in features])
    columns = [
        np.array([str(one["properties"].get(key) or "") for one in features], dtype=object)
        for key in ("name", "ready_from")
    ]
    drivers = {"fields.gpkg": "GPKG", "fields.kml": "KML", "fields.shp.zip": "ESRI Shapefile"}
    target = folder / form
    pyogrio.raw.write(
        target,
        geometry=shapes,
        field_data=columns,
        fields=["name", "ready_from"],
        crs="EPSG:4326",
        geometry_type="Polygon",
        driver=drivers[form],
    )
    (folder / "fields.geojson").unlink()
    return target


def test_a_file_that_cannot_be_read_is_told_and_left_alone(rye: Path) -> None:
    """No field is shown, none can be changed."""
    (rye / "fields.geojson").write_text('{"type": "FeatureCollection", "features": [', "utf-8")
    view = view_fields(rye)
    assert view.fields == ()
    assert view.problems
    assert put(rye, "A2", notes="x").problems
    assert written(rye).endswith("[")


def test_a_property_that_stands_twice_is_not_changed_by_half(rye: Path) -> None:
    """Taking one out would bring the other back."""
    text = written(rye).replace('"farm_no": "1204", ', '"farm_no": "1", "farm_no": "1204", ')
    (rye / "fields.geojson").write_text(text, encoding="utf-8")
    assert "cannot change" in put(rye, "A2", farm_no="").problems[0].sentence
    assert written(rye) == text


def test_a_byte_order_mark_line_ends_and_figures_stay(rye: Path) -> None:
    """As some programs write them."""
    text = "\ufeff" + written(rye).replace("\n", "\r\n").replace("42.0009003", "42.00090030", 1)
    (rye / "fields.geojson").write_bytes(text.encode("utf-8"))
    assert put(rye, "A2", notes="new").problems == ()
    assert written(rye) == text.replace("Creek on the east side.", "new")
    assert put(rye, "A2", name="B2").problems == ()
    assert written(rye) == text.replace("Creek on the east side.", "new").replace('"A2"', '"B2"')


def test_too_much_is_refused(rye: Path) -> None:
    """Strangers type too."""
    many = {f"edges.{at}.side": "east" for at in range(MOST_ENTRIES + 1)}
    assert told(save_field(rye, "A2", many, now=NOW)) == ["edges"]
    boxes = {f"x{at}": "" for at in range(5000)}
    assert "boxes" in save_field(rye, "A2", boxes, now=NOW).problems[0].sentence
    assert "letters" in put(rye, "A2", notes="\ud800").problems[0].sentence
    assert "name of a field" in put(rye, "../farm", notes="x").problems[0].sentence


def test_a_disk_that_refuses_leaves_both_files_as_they_were(
    rye: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The farm's file cannot be written after the outlines were: they go back."""
    save_order(rye, ["A1", "A2"])
    before = {name: (rye / name).read_bytes() for name in ("fields.geojson", "farm.toml")}

    def full(path: Path, data: bytes) -> None:
        if path.name == "farm.toml":
            raise OSError(28, os.strerror(28))
        write_atomic(path, data)

    monkeypatch.setattr(fields_edit, "write_atomic", full)
    with pytest.raises(OSError, match="space"):
        put(rye, "A2", name="Creek")
    assert {name: (rye / name).read_bytes() for name in before} == before


KEYS = [
    "name", "notes", "previous_crop", "customer", "farm_no", "tract_no", "slope", "due",
    "edges.0.note", "edges.0.side", "ready_from", "gate", "erodible", "priority",
]  # fmt: skip
TYPED = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["6 %", "2026-10-20", "yes", "no", "first", "42.0 N, 93.5 W", "now", ""]),
)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    number=st.integers(0, 8),
    typed=st.dictionaries(st.sampled_from(KEYS), TYPED, max_size=4),
    other=st.recursive(
        st.none() | st.booleans() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
        max_leaves=5,
    ),
)
def test_whatever_is_typed_nothing_else_changes(
    tmp_path_factory: pytest.TempPathFactory, number: int, typed: dict[str, str], other: Any
) -> None:
    """Refused: the file is as it was. Taken: other fields, outlines and properties are.

    And the folder reads without a problem, as before.
    """
    folder = copy_of("rye-after-soybeans", tmp_path_factory.mktemp("farm"))
    document = json.loads(written(folder))
    document["features"][number]["properties"]["other program"] = other
    (folder / "fields.geojson").write_text(json.dumps(document), encoding="utf-8")
    before = written(folder)
    name = document["features"][number]["properties"]["name"]
    saved = save_field(folder, name, typed, now=NOW)
    after = json.loads(written(folder))
    if saved.problems:
        assert written(folder) == before
    elif "notes" in typed:
        wanted = typed["notes"].replace("\r\n", "\n").strip()
        assert after["features"][number]["properties"].get("notes", "").strip() == wanted
    assert read_folder(folder).problems == []
    changed = {key.split(".")[0] for key in typed}
    for at, (old, new) in enumerate(zip(document["features"], after["features"], strict=True)):
        assert new["geometry"] == old["geometry"]
        own = changed if at == number else set()
        kept = [key for key in old["properties"] if key not in own]
        assert [key for key in new["properties"] if key not in own] == kept
        assert {key: new["properties"][key] for key in kept} == {
            key: old["properties"][key] for key in kept
        }
    shutil.rmtree(folder)


def test_a_converted_file_is_what_taking_in_would_have_made(rye: Path) -> None:
    """One writer for both ways."""
    in_form(rye, "fields.gpkg")
    whole = as_geojson(read_field_files(rye).fields, {}).decode()
    assert put(rye, "A2", notes="dry").problems == ()
    line = next(one for one in whole.splitlines() if '"A2"' in one)
    assert all(one in written(rye) for one in whole.splitlines() if one != line)
    assert read_outlines(rye / "fields.geojson").problems == ()


def test_a_name_that_looks_like_a_place_keeps_its_problems(rye: Path) -> None:
    """Quotation marks and commas in a name: the problem is still found at its own field."""
    name = 'A2", slope'
    assert put(rye, "A2", name=name).problems == ()
    text = written(rye).replace('"ready_from": "2026-10-19T09:00"', '"ready_from": "soon"')
    (rye / "fields.geojson").write_text(text, encoding="utf-8")
    found = view_fields(rye).named(name)
    assert found is not None
    assert [one.key for one in found.problems] == ["ready_from"]
    assert all(not one.problems for one in view_fields(rye).fields if one.name not in (name, "A6"))


def test_fields_that_were_walked_become_geojson_too(rye: Path) -> None:
    """The folder of walks goes to what is kept, whole."""
    features = json.loads(written(rye))["features"][:3]
    (rye / "outlines").mkdir()
    for one in features:
        points = "".join(
            f'<trkpt lat="{lat}" lon="{lon}"/>' for lon, lat in one["geometry"]["coordinates"][0]
        )
        (rye / "outlines" / f"{one['properties']['name']}.gpx").write_text(
            '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="test">'
            f"<trk><trkseg>{points}</trkseg></trk></gpx>",
            encoding="utf-8",
        )
    (rye / "fields.geojson").unlink()
    assert [one.name for one in view_fields(rye).fields] == ["A1", "A2", "A3"]
    assert put(rye, "A2", name="Creek", due="2026-10-20").problems == ()
    assert not (rye / "outlines").exists()
    assert len(list((rye / "kept" / "outlines.20261018T120000Z").iterdir())) == 3
    assert [one.name for one in read_farm(rye).fields] == ["A1", "Creek", "A3"]
