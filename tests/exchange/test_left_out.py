"""Ground that is left out: what comes off the record, and what the drivers go round."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from made_folders import ACRE_M2, EXAMPLES, copy_of

from duskline.core.farm import Field
from duskline.exchange.farmfolder import read_farm, read_folder
from duskline.exchange.field_facts import LeftOutFact
from duskline.exchange.left_out import circle_m, lay_out
from duskline.exchange.outlines import FieldShape, read_outlines
from duskline.exchange.projection import geodesic_area_m2

RYE = "rye-after-soybeans"
SHAPES = {one.name: one for one in read_outlines(EXAMPLES / RYE / "fields.geojson").fields}


def box(
    shape: FieldShape, west_m: float, south_m: float, wide_m: float, high_m: float
) -> LeftOutFact:
    """A drawn piece, in metres from the south-west corner of a field's reach."""
    low_m = shape.outline_m.exterior_m.min(axis=0)
    ring_m = low_m + np.asarray(
        [
            (west_m, south_m),
            (west_m + wide_m, south_m),
            (west_m + wide_m, south_m + high_m),
            (west_m, south_m + high_m),
        ]
    )
    ring = tuple((lon, lat) for lon, lat in shape.plane.to_lonlat(ring_m).tolist())
    return LeftOutFact(what="wet hole", ring_lonlat_deg=ring)


def refusal(shape: FieldShape, *pieces: LeftOutFact) -> str:
    """The first sentence about pieces that cannot be laid out."""
    laid = lay_out(shape, pieces, file="fields.geojson")
    assert laid.problems
    return laid.problems[0].sentence


def in_toml(tmp_path: Path, text: str) -> Path:
    """The rye farm with more in its farm.toml."""
    folder = copy_of(RYE, tmp_path)
    with (folder / "farm.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n{text}\n")
    return folder


def field_of(folder: Path, name: str) -> Field:
    """One field of a folder."""
    return next(one for one in read_farm(folder).fields if one.name == name)


def test_a_wet_hole_with_a_place_comes_off_record_and_outline(tmp_path: Path) -> None:
    """0.4 ac at a point in A4: 58.91 ac for the record, a round hole of 0.4 ac to go round."""
    hole = '[[left_out]]\nfield = "A4"\nwhat = "wet hole"\narea = "0.4 ac"\nat = [-93.484, 42.0175]'
    one = field_of(in_toml(tmp_path, hole), "A4")
    assert one.area_m2 - one.record_area_m2 == pytest.approx(0.4 * ACRE_M2)
    assert one.area_m2 == pytest.approx(SHAPES["A4"].area_m2)
    assert one.outline is not None
    assert one.drive_outline is not None
    assert one.ground == one.drive_outline
    assert len(one.drive_outline.holes_m) == 1
    lost_m2 = one.outline.area_m2 - one.drive_outline.area_m2
    assert lost_m2 == pytest.approx(0.4 * ACRE_M2, rel=1e-6)
    assert one.left_out[0].come_back


def test_a_piece_without_a_place_comes_off_the_record_alone(tmp_path: Path) -> None:
    """Nobody knows where: the drivers have the outline as it is."""
    text = '[[left_out]]\nfield = "A4"\nwhat = "rocks"\narea = "0.2 ac"\ncome_back = false'
    one = field_of(in_toml(tmp_path, text), "A4")
    assert one.left_out_m2 == pytest.approx(0.2 * ACRE_M2)
    assert one.drive_outline is None
    assert one.ground == one.outline
    assert not one.left_out[0].come_back


def test_a_drawn_ring_is_measured() -> None:
    """40 by 50 m inside A1: 0.2 ha on the ground, whichever way it was drawn."""
    shape = SHAPES["A1"]
    piece = box(shape, 300.0, 100.0, 40.0, 50.0)
    turned = LeftOutFact(what="x", ring_lonlat_deg=piece.ring_lonlat_deg[::-1])
    for one in (piece, turned):
        laid = lay_out(shape, [one], file="f")
        assert laid.left_out[0].area_m2 == pytest.approx(2000.0, rel=1e-5)
        assert laid.drive_outline is not None
        assert len(laid.drive_outline.holes_m) == 1


def test_a_ring_over_the_edge_counts_inside_alone() -> None:
    """Half of it lies next door: half comes off, the edge gets a notch, and a note says so."""
    shape = SHAPES["A1"]
    laid = lay_out(shape, [box(shape, -20.0, 100.0, 40.0, 50.0)], file="f")
    assert laid.left_out[0].area_m2 == pytest.approx(1000.0, rel=1e-3)
    assert laid.drive_outline is not None
    assert laid.drive_outline.holes_m == ()
    assert "50 %" in laid.notes[0]


def test_ground_left_out_twice_comes_off_once() -> None:
    """Two boxes of 2,000 m2 that share a quarter: 3,500 m2."""
    shape = SHAPES["A1"]
    pieces = [box(shape, 300.0, 100.0, 40.0, 50.0), box(shape, 330.0, 100.0, 40.0, 50.0)]
    laid = lay_out(shape, pieces, file="f")
    assert sum(one.area_m2 for one in laid.left_out) == pytest.approx(3500.0, rel=1e-4)
    assert laid.drive_outline is not None
    lost_m2 = shape.outline_m.area_m2 - laid.drive_outline.area_m2
    assert lost_m2 == pytest.approx(3500.0, rel=1e-4)


def test_what_cannot_be_laid_out_is_told() -> None:
    """Elsewhere, crossed, too much, and a strip that parts the field."""
    shape = SHAPES["A1"]
    assert "outside the field" in refusal(shape, box(shape, 2000.0, 0.0, 50.0, 50.0))
    away = LeftOutFact(what="x", area_m2=100.0, at_lonlat_deg=(-93.4, 42.0))
    assert "a place outside the field" in refusal(shape, away)
    corners = box(shape, 300.0, 100.0, 40.0, 50.0).ring_lonlat_deg
    eight = LeftOutFact(what="x", ring_lonlat_deg=tuple(corners[n] for n in (0, 2, 1, 3)))
    assert "crosses itself" in refusal(shape, eight)
    assert "more left out" in refusal(shape, LeftOutFact(what="x", area_m2=shape.area_m2))
    assert "parts the field in 2" in refusal(shape, box(shape, 300.0, -10.0, 40.0, 500.0))


def test_a_feature_of_the_file_may_be_left_out_of_a_field(tmp_path: Path) -> None:
    """As a ring of its own, and as a place with a size in the field's properties."""
    folder = copy_of(RYE, tmp_path)
    path = folder / "fields.geojson"
    document = json.loads(path.read_text("utf-8"))
    ring = [list(corner) for corner in box(SHAPES["A4"], 100.0, 100.0, 40.0, 50.0).ring_lonlat_deg]
    document["features"].append(
        {
            "type": "Feature",
            "properties": {"left_out_of": "A4", "what": "slough", "come_back": False},
            "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
        }
    )
    document["features"][0]["properties"]["left_out"] = [{"what": "gully", "area": "0.1 ac"}]
    path.write_text(json.dumps(document), encoding="utf-8")
    one, other = field_of(folder, "A4"), field_of(folder, "A1")
    assert one.left_out_m2 == pytest.approx(2000.0, rel=1e-5)
    assert not one.left_out[0].come_back
    assert other.left_out_m2 == pytest.approx(0.1 * ACRE_M2)
    assert len(read_farm(folder).fields) == 9


@pytest.mark.parametrize("of", ["A44", "Z"])
def test_ground_left_out_of_no_field_is_told(of: str, tmp_path: Path) -> None:
    """In farm.toml, and among the outlines, with the nearest name."""
    folder = in_toml(tmp_path, f'[[left_out]]\nfield = "{of}"\nwhat = "hole"\narea = "0.4 ac"')
    (sentence,) = [problem.sentence for problem in read_folder(folder).problems]
    assert f"'{of}'" in sentence
    assert "the name of a field" in sentence


@given(area_m2=st.floats(1.0, 1e5), x_m=st.floats(-500.0, 500.0), y_m=st.floats(-500.0, 500.0))
def test_a_circle_has_its_area(area_m2: float, x_m: float, y_m: float) -> None:
    """Twenty-four sides, all corners as far from the middle, the ground as asked."""
    ring_m = circle_m(np.asarray([x_m, y_m]), area_m2=area_m2)
    assert ring_m.shape == (24, 2)
    assert shapely.Polygon(ring_m).area == pytest.approx(area_m2, rel=1e-6)
    away_m = np.hypot(*(ring_m - [x_m, y_m]).T)
    assert away_m == pytest.approx(np.full(24, away_m[0]))
    assert away_m[0] > math.sqrt(area_m2 / math.pi)


def test_the_record_and_the_drivers_agree_on_the_earth() -> None:
    """What is left to drive, measured on the ellipsoid, is what goes on the record."""
    shape = SHAPES["A5"]
    laid = lay_out(shape, [box(shape, 20.0, 20.0, 60.0, 50.0)], file="f")
    assert laid.drive_outline is not None
    driven = laid.drive_outline
    ground_m2 = geodesic_area_m2(
        shape.plane.to_lonlat(driven.exterior_m), [*map(shape.plane.to_lonlat, driven.holes_m)]
    )
    assert ground_m2 == pytest.approx(shape.area_m2 - laid.left_out[0].area_m2, abs=0.01)
