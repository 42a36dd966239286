"""Place the invented example fields on the earth and write their ``fields.geojson``.

The fields are drawn in metres from their own south-west corner; each corner lies at an offset
from the farm's yard. Run ``python tools/place_examples.py`` to write all three files again;
the same input gives the same bytes. All farms, people and numbers are invented.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from duskline.core.outline import FloatArray
from duskline.exchange.projection import LocalPlane

__all__ = ["EXAMPLES", "Example", "Placed", "feature_collection_text", "main"]

# A centimetre on the ground; RFC 7946 advises no more. [decimals of a degree]
DECIMALS = 7


@dataclass(frozen=True, kw_only=True, slots=True)
class Placed:
    """One invented field: corners from its own south-west corner, and where that corner lies.

    The first gate stands at that corner; ``more_gates_m`` are the others, drawn like corners.
    """

    name: str
    at_km: tuple[float, float]
    corners_m: str
    hole_m: str = ""
    more_gates_m: str = ""
    properties: dict[str, object] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, slots=True)
class Example:
    """One invented farm: its folder, its yard, its fields."""

    folder: str
    yard: LocalPlane
    fields: tuple[Placed, ...]


def corners(text: str) -> FloatArray:
    """Return ``"0,0 800,0 ..."`` as corners ``(n, 2)`` [m]."""
    return np.asarray([corner.split(",") for corner in text.split()], dtype=np.float64)


def shaped(code: str) -> str:
    """Return the corners of a coded shape, counter-clockwise from the south-west.

    R w/h rectangle; Z a/b/h trapezoid, base a, top b centred, height h; L w/h/cw/ch rectangle
    less a notch cw by ch at its north-east; T b/h/ax triangle, apex above x = ax.
    """
    kind, sizes = code[0], [float(size) for size in code[1:].split("/")]
    if kind == "R":
        w, h = sizes
        points = [(0, 0), (w, 0), (w, h), (0, h)]
    elif kind == "Z":
        a, b, h = sizes
        points = [(0, 0), (a, 0), ((a + b) / 2, h), ((a - b) / 2, h)]
    elif kind == "L":
        w, h, cw, ch = sizes
        points = [(0, 0), (w, 0), (w, h - ch), (w - cw, h - ch), (w - cw, h), (0, h)]
    elif kind == "T":
        b, h, ax = sizes
        points = [(0, 0), (b, 0), (ax, h)]
    else:
        raise ValueError(code)
    return " ".join(f"{x:g},{y:g}" for x, y in points)


# --- rye after soybeans: 42.0 N 93.5 W, day 1 is 18 October 2026 -------------------------------


def _rye(
    name: str, corners_m: str, at_km: tuple[float, float], ready_from: str, **more: object
) -> Placed:
    number = int(name[1:])
    hole_m, more_gates_m = str(more.pop("hole_m", "")), str(more.pop("more_gates_m", ""))
    properties: dict[str, object] = {
        "ready_from": ready_from,
        "previous_crop": "soybeans",
        "farm_no": "1204",
        "tract_no": str(3310 + (number - 1) // 3),
        "field_no": str(1 + (number - 1) % 3),
        **more,
    }
    return Placed(
        name=name,
        at_km=at_km,
        corners_m=corners_m,
        hole_m=hole_m,
        more_gates_m=more_gates_m,
        properties=properties,
    )


RYE_AFTER_SOYBEANS = Example(
    folder="rye-after-soybeans",
    yard=LocalPlane(lon_deg=-93.5, lat_deg=42.0),
    fields=(
        _rye("A1", "0,0 800,0 800,400 0,400", (0.2, 0.1), "now"),
        _rye(
            "A2",
            "0,0 402,0 430,120 380,260 415,402 0,402",
            (2.6, -0.4),
            "2026-10-19T09:00",
            ready_early="2026-10-18T15:00",
            ready_late="2026-10-20T12:00",
            edges=[{"side": "east", "kind": "water", "note": "creek"}],
            notes="Creek on the east side.",
        ),
        _rye(
            "A3",
            "0,0 600,0 0,380",
            (-1.4, 0.9),
            "now",
            notes="Point rows.",
            driven_area="28.4 ac",
            office_area="29.4 ac",
        ),
        _rye(
            "A4",
            "0,0 800,0 800,200 400,200 400,400 0,400",
            (1.1, 1.8),
            "now",
            more_gates_m="800,200",
        ),
        _rye(
            "A5",
            "0,0 400,0 400,400 0,400",
            (-2.2, -1.0),
            "2026-10-20T17:00",
            ready_early="2026-10-19T12:00",
            ready_late="2026-10-22T09:00",
            hole_m="180,60 196,60 216,340 200,340",
            notes="The hole is a grass waterway.",
        ),
        _rye(
            "A6",
            "0,0 402,0 402,402 0,402",
            (0.2, -1.6),
            "2026-10-18T12:00",
            ready_early="2026-10-17T17:00",
            ready_late="2026-10-19T09:00",
            driven_area="39.6 ac",
            office_area="40.2 ac",
        ),
        _rye("A7", "0,0 500,0 420,300 60,300", (3.5, 1.2), "now"),
        _rye(
            "A8",
            "0,0 900,0 900,150 0,150",
            (-0.9, -2.4),
            "now",
            not_after_rain=True,
            notes="Flood plain: not after rain.",
        ),
        _rye(
            "A9",
            "0,0 260,0 260,130 200,130 200,210 0,210",
            (2.2, 0.6),
            "now",
            notes="Graveyard in the notch.",
        ),
    ),
)


# --- oats and radish after peas: 43.6 S 171.7 E, 1 and 2 March 2026 ---------------------------


def _oats(name: str, corners_m: str, at_km: tuple[float, float], **more: object) -> Placed:
    properties: dict[str, object] = {
        "ready_from": "now",
        "previous_crop": "peas",
        "field_no": name[1:],
        **more,
    }
    return Placed(name=name, at_km=at_km, corners_m=corners_m, properties=properties)


OATS_AND_RADISH = Example(
    folder="oats-and-radish",
    yard=LocalPlane(lon_deg=171.7, lat_deg=-43.6),
    fields=(
        _oats("B1", "0,0 620,0 560,180 300,240 0,210", (0.3, 1.1)),
        _oats(
            "B2",
            "0,0 410,0 410,300 0,300",
            (0.8, 0.2),
            notes="Pine shelterbelt on the north side.",
        ),
        _oats("B3", "0,0 340,0 340,260 0,380", (-0.7, 0.4)),
        _oats("B4", "0,0 480,0 120,330", (-1.5, -0.6)),
        _oats("B5", "0,0 900,0 900,140 0,140", (0.1, -0.9)),
        _oats("B6", "0,0 500,0 500,160 220,160 220,340 0,340", (1.6, -0.4)),
        _oats("B7", "0,0 250,0 250,150 0,190", (-0.1, 0.2)),
    ),
)


# --- forty fields of four customers: 37.4 N 76.6 W, day 1 is 15 October 2026 -------------------

# number, shape, offset from the yard [km], harvested by the start of day N
FORTY = """
1 Z720/640/260 @-1.3,2.8 d1; 2 R780/280 @-1.3,1.5 d1; 3 L520/300/220/120 @0.7,-0.2 d1;
4 R800/360 @-1.1,-1.5 d2; 5 R800/340 @1.1,0.1 d1; 6 Z400/240/300 @-1.6,-2.1 d1;
7 L600/400/160/160 @1.7,-2.1 d1; 8 Z640/560/240 @0.5,0.7 d1; 9 R580/360 @-1.2,-1.9 d1;
10 Z680/600/340 @2.9,2.7 d2; 11 L720/340/200/120 @-2.6,-2.8 d1; 12 L680/320/220/160 @-2.4,1.4 d1;
13 L440/360/180/120 @2.4,-0.4 d1; 14 R400/260 @2.8,1 d1; 15 R400/240 @6.3,2.1 d1;
16 R560/380 @8.6,3.9 d2; 17 L560/300/220/160 @11.7,1.3 d1; 18 T620/280/80 @10.5,1.2 d2;
19 Z640/480/360 @10.3,4.2 d2; 20 L720/340/220/100 @9.2,2.3 d1; 21 L640/340/220/100 @6.2,4.1 d1;
22 R300/260 @11.8,2 d1; 23 L440/300/220/140 @10.6,3 d3; 24 Z400/280/280 @6.2,1.6 d4;
25 Z560/360/260 @8.7,5.7 d2; 26 L720/400/180/100 @-6.8,10 d1; 27 Z640/560/360 @-3.3,10.6 d1;
28 R700/220 @-2.6,10.4 d2; 29 R420/340 @-2,7.6 d2; 30 R420/360 @-2.5,9.5 d1;
31 L680/400/200/100 @-3.6,6.3 d4; 32 R300/200 @-6.2,5.1 d4; 33 R640/220 @-5.4,8.5 d1;
34 Z480/400/380 @-2.8,8.7 d1; 35 Z640/560/280 @12.8,-5.3 d1; 36 Z480/320/340 @11.7,-6.9 d1;
37 L440/300/120/100 @9.7,-7.8 d4; 38 R740/240 @12.4,-7.9 d4; 39 R600/300 @13.7,-8.6 d1;
40 R360/300 @14.8,-4.1 d2
"""
# customer, first and last field, lot, previous crop
CUSTOMERS = (
    ("P", 1, 14, "W", "corn"),
    ("Q", 15, 25, "Y", "soybeans"),
    ("R", 26, 34, "K", "corn"),
    ("T", 35, 40, "W", "soybeans"),
)


# Fields whose harvest is not in our hands: the earliest and the latest day it can be over.
UNSURE_DAYS = {24: (17, 20), 31: (17, 21), 32: (17, 21), 37: (18, 19), 38: (18, 20)}


def _unsure(number: int) -> dict[str, object]:
    if number not in UNSURE_DAYS:
        return {}
    early_day, late_day = UNSURE_DAYS[number]
    return {"ready_early": f"2026-10-{early_day}", "ready_late": f"2026-10-{late_day}"}


def _forty() -> Iterable[Placed]:
    for entry in FORTY.replace("\n", " ").split(";"):
        number_text, code, at, day = entry.split()
        number, harvested_day = int(number_text), int(day[1:])
        letter, first, _, lot, previous_crop = next(
            customer for customer in CUSTOMERS if customer[1] <= number <= customer[2]
        )
        east_km, north_km = (float(offset) for offset in at[1:].split(","))
        yield Placed(
            name=f"C{number}",
            at_km=(east_km, north_km),
            corners_m=shaped(code),
            properties={
                "ready_from": f"2026-10-{14 + harvested_day}",
                **_unsure(number),
                "previous_crop": previous_crop,
                "customer": f"Customer {letter}",
                "lot": lot,
                "farm_no": str(2100 + ord(letter)),
                "tract_no": str(5000 + 10 * ord(letter) + (number - first) // 5),
                "field_no": str(1 + (number - first) % 5),
            },
        )


FORTY_FIELDS = Example(
    folder="forty-fields",
    yard=LocalPlane(lon_deg=-76.6, lat_deg=37.4),
    fields=tuple(_forty()),
)

EXAMPLES = (RYE_AFTER_SOYBEANS, OATS_AND_RADISH, FORTY_FIELDS)


# --- writing ----------------------------------------------------------------------------------


def feature_collection_text(example: Example) -> str:
    """Return the farm's fields as GeoJSON, one field a line."""
    lines = ",\n".join(
        json.dumps(_feature(placed, example.yard), ensure_ascii=False) for placed in example.fields
    )
    about = json.dumps("Invented fields; any likeness to a real one is chance.")
    return f'{{"type": "FeatureCollection", "description": {about}, "features": [\n{lines}\n]}}\n'


def _feature(placed: Placed, yard: LocalPlane) -> dict[str, object]:
    """Return one field; its gate stands at its south-west corner."""
    east_m, north_m = (1000.0 * offset for offset in placed.at_km)
    gate_lon_deg, gate_lat_deg = yard.to_lonlat(np.asarray([[east_m, north_m]]))[0].tolist()
    plane = LocalPlane(lon_deg=gate_lon_deg, lat_deg=gate_lat_deg)
    rings = [_closed_ring(plane, corners(placed.corners_m))]
    if placed.hole_m:
        rings.append(_closed_ring(plane, corners(placed.hole_m)[::-1]))
    properties = {"name": placed.name, **placed.properties, "gate": rings[0][0]}
    if placed.more_gates_m:
        properties["gates"] = _closed_ring(plane, corners(placed.more_gates_m))[:-1]
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": "Polygon", "coordinates": rings},
    }


def _closed_ring(plane: LocalPlane, corners_m: FloatArray) -> list[list[float]]:
    ring_deg = plane.to_lonlat(corners_m)
    ring = [[round(lon, DECIMALS), round(lat, DECIMALS)] for lon, lat in ring_deg.tolist()]
    return [*ring, ring[0]]


def main(folder: Path) -> None:
    """Write every example's ``fields.geojson`` under a folder."""
    for example in EXAMPLES:
        path = folder / example.folder / "fields.geojson"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(feature_collection_text(example), encoding="utf-8", newline="\n")
        print(path)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1] / "examples")
