"""Reading ``fields.geojson``: every field's outline, its facts, and all problems at once.

GeoJSON as RFC 7946 has it: longitude first, then latitude, in degrees, WGS 84.
"""

from __future__ import annotations

import difflib
import json
import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from duskline.core.errors import OutlineRefused
from duskline.core.outline import FloatArray, Outline
from duskline.exchange.field_facts import (
    FieldFacts,
    LeftOutFact,
    near_miss_notes,
    read_facts,
    read_left_out,
    shown,
)
from duskline.exchange.mending import OutlineCrossesItself, mend
from duskline.exchange.problems import Problem
from duskline.exchange.projection import (
    LocalPlane,
    distance_m,
    geodesic_area_m2,
    longitude_span_deg,
    plane_of,
)

__all__ = [
    "LARGEST_FILE_BYTES",
    "MOST_CORNERS",
    "FieldShape",
    "FieldsRead",
    "fields_of",
    "parse_outlines",
    "read_bounded",
    "read_outlines",
]

LARGEST_FILE_BYTES = 20_000_000
MOST_CORNERS = 200_000
# Every corner opens one bracket, and rings of four corners or more open few besides: a file
# with more brackets than this holds too many corners and need not be parsed to know it.
_MOST_BRACKETS = 2 * MOST_CORNERS
_LONGEST_NAME = 60
_MOST_REPEATED_KEYS_TOLD = 20
_LONGEST_WHOLE_NUMBER = 18
# No cereal is grown nearer to a pole; a field there has its latitude and longitude swapped.
_NORTHMOST_DEG, _SOUTHMOST_DEG = 71.0, -57.0
# A field does not reach further than this; metres of a map or a county outline do. [deg]
_WIDEST_DEG = 0.5
# Further from the farm's place than this a field is noted; swapped figures refused. [m]
_FAR_FROM_YARD_M = 500e3
# So far from the outline a gate is a slip of the pen, or another field's: a lane is shorter. [m]
_FAR_FROM_GATE_M = 300.0
# Two outlines that share less of the smaller one than the first touch along a drawn line;
# two that share more than the second are one piece of ground drawn twice.
_NOTED_OVERLAP_FRACTION = 0.01
_SAME_GROUND_FRACTION = 0.99
_MOST_PAIRS_COMPARED = 100_000
_WGS84_NAMES = re.compile(r"CRS84|EPSG:{1,2}4326|WGS ?84", re.IGNORECASE)
_NO_NUMBER = re.compile(r"[\[,:]\s*(?:NaN|-?Infinity)")


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldShape:
    """One field as read.

    Attributes
    ----------
    name
        Unique in the file.
    outline_m
        The outline in the field's own plane, x east and y north of its centre. [m]
    plane
        That plane; turns points of the outline back to longitude and latitude.
    area_m2
        The stated area: on the earth's ellipsoid, holes taken off. [m2]
    facts
        The known properties.
    properties
        All properties, as read.
    notes
        What was mended or looks odd, in plain words.
    file
        The file it stands in.
    """

    name: str
    outline_m: Outline
    plane: LocalPlane
    area_m2: float
    facts: FieldFacts
    properties: Mapping[str, object] = field(hash=False)
    notes: tuple[str, ...] = ()
    file: str = "fields.geojson"

    @property
    def centre_lon_deg(self) -> float:
        """Longitude of the middle of the field's reach [deg]."""
        return self.plane.lon_deg

    @property
    def centre_lat_deg(self) -> float:
        """Latitude of the middle of the field's reach [deg]."""
        return self.plane.lat_deg


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldsRead:
    """The fields that can be used, in the file's order, every problem found, and notes."""

    fields: tuple[FieldShape, ...] = ()
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


def read_outlines(path: Path, *, yard_lonlat_deg: tuple[float, float] | None = None) -> FieldsRead:
    """Return the fields of a GeoJSON file, and its problems.

    Parameters
    ----------
    path
        The file, ``fields.geojson``.
    yard_lonlat_deg
        The farm's place, longitude and latitude, where known: shows swapped figures. [deg]

    Notes
    -----
    A file over 20 MB is refused before it is read to its end, one with more than 200,000
    corners before it is parsed or before any geometry is made.
    """
    data, problems = read_bounded(path)
    if problems:
        return FieldsRead(problems=problems)
    return parse_outlines(data, file=path.name, yard_lonlat_deg=yard_lonlat_deg)


def read_bounded(path: Path) -> tuple[bytes, tuple[Problem, ...]]:
    """Return the bytes of a file of outlines, or the problem with reading it.

    A file over 20 MB is not read to its end; one byte more than that is given back.
    """
    try:
        with path.open("rb") as file:
            return file.read(LARGEST_FILE_BYTES + 1), ()
    except OSError as error:
        problem = Problem(
            file=path.name,
            where="",
            read=f"nothing ({(error.strerror or 'not readable').lower()})",
            expected="a file with an outline for each field",
        )
        return b"", (problem,)


def parse_outlines(
    data: bytes, *, file: str, yard_lonlat_deg: tuple[float, float] | None = None
) -> FieldsRead:
    """Return the fields of GeoJSON as it came in, and its problems.

    Parameters
    ----------
    data
        The bytes of the file.
    file
        Its name, for the problems.
    yard_lonlat_deg
        The farm's place, longitude and latitude, where known. [deg]
    """
    problems = _Problems(file=file)
    features = _features(data, problems)
    return _fields_of(features, problems, yard_lonlat_deg)


def fields_of(
    features: Sequence[object],
    *,
    file: str,
    yard_lonlat_deg: tuple[float, float] | None = None,
) -> FieldsRead:
    """Return the fields of features that were read in another form, and their problems.

    Parameters
    ----------
    features
        As GeoJSON has them: dictionaries of type "Feature", longitude and latitude in degrees.
    file, yard_lonlat_deg
        As for ``parse_outlines``.
    """
    problems = _Problems(file=file)
    if not features:
        problems.add("", read="no outlines", expected="one outline for each field")
    return _fields_of(features, problems, yard_lonlat_deg)


def _fields_of(
    features: Sequence[object],
    problems: _Problems,
    yard_lonlat_deg: tuple[float, float] | None,
) -> FieldsRead:
    """Return the features as fields, checked one by one and against each other."""
    fields: list[FieldShape] = []
    left_out: list[tuple[str, LeftOutFact]] = []
    for number, feature in enumerate(features, start=1):
        if (of := _left_out_of(feature)) is not None:
            piece = _left_out(feature, of, number, problems)
            if piece is not None:
                left_out.append((of, piece))
            continue
        shape = _field_shape(feature, number, problems, yard_lonlat_deg)
        if shape is not None:
            fields.append(shape)
    fields = _with_overlaps(_with_own_names(fields, problems), problems)
    return FieldsRead(
        fields=tuple(_with_left_out(fields, left_out, problems)), problems=tuple(problems.found)
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Problems:
    """Collects the problems of one file."""

    file: str
    found: list[Problem] = field(default_factory=list)

    def add(self, where: str, *, read: str, expected: str, hint: str = "") -> None:
        self.found.append(
            Problem(file=self.file, where=where, read=read, expected=expected, hint=hint)
        )


class _NotANumberError(ValueError):
    """NaN or Infinity stands where a number should."""


# --- the file -------------------------------------------------------------------------------


def _features(data: bytes, problems: _Problems) -> list[object]:
    """Return the file's features, none where the file as a whole is refused."""
    document = _document(data, problems)
    if document is None or not _in_degrees(document, problems):
        return []
    features = [document] if document.get("type") == "Feature" else document.get("features")
    if document.get("type") not in ("Feature", "FeatureCollection") or not isinstance(
        features, list
    ):
        problems.add(
            "",
            read=f"type {shown(document.get('type'))}",
            expected='GeoJSON of type "FeatureCollection" with one feature for each field',
        )
        return []
    if not features:
        problems.add("", read="no features", expected="one feature for each field")
    corners_count = sum(map(_corners_count, features))
    if corners_count > MOST_CORNERS:
        problems.add("", **_too_many_corners(f"{corners_count:,} corners"))
        return []
    return features


def _document(data: bytes, problems: _Problems) -> dict[str, object] | None:
    """Return the parsed file; problems tell why where there is none."""
    if len(data) > LARGEST_FILE_BYTES:
        problems.add(
            "",
            read=f"more than {LARGEST_FILE_BYTES // 1_000_000} MB",
            expected="a file of field outlines, seldom over 1 MB",
            hint="Take out what is not a field, or use fewer corners.",
        )
        return None
    if data.count(b"[") > _MOST_BRACKETS:
        problems.add("", **_too_many_corners(f"more than {MOST_CORNERS:,} corners"))
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        problems.add(f"line {line}", read="letters that are not UTF-8", expected="UTF-8 text")
        return None
    document = _json(text, problems)
    if document is not None and not isinstance(document, dict):
        problems.add("", read=shown(document), expected="an object in braces")
        return None
    return document


def _json(text: str, problems: _Problems) -> object | None:
    repeated: set[str] = set()
    try:
        document: object = json.loads(
            text,
            object_pairs_hook=lambda pairs: _object(pairs, repeated),
            parse_constant=_refuse_constant,
            parse_int=_whole_number,
        )
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        problems.add(where, read=error.msg.lower(), expected="JSON without a slip of the pen")
    except RecursionError:
        problems.add("", read="lists nested too deep to follow", expected="GeoJSON outlines")
    except _NotANumberError as error:
        place = _NO_NUMBER.search(text)
        where = f"line {text.count(chr(10), 0, place.end()) + 1}" if place else ""
        problems.add(where, read=str(error), expected="a number")
    else:
        for key in sorted(repeated)[:_MOST_REPEATED_KEYS_TOLD]:
            problems.add("", read=f"the key {shown(key)} twice in one object", expected="it once")
        return document
    return None


def _object(pairs: list[tuple[str, object]], repeated: set[str]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        counts = Counter(key for key, _ in pairs)
        repeated.update(key for key, count in counts.items() if count > 1)
    return found


def _refuse_constant(token: str) -> float:
    raise _NotANumberError(token)


def _whole_number(digits: str) -> int | float:
    return int(digits) if len(digits) <= _LONGEST_WHOLE_NUMBER else float(digits)


def _in_degrees(document: dict[str, object], problems: _Problems) -> bool:
    """Return whether the file is in longitude and latitude; an old ``crs`` member may differ."""
    crs = document.get("crs")
    if crs is None:
        return True
    name = crs.get("properties") if isinstance(crs, dict) else None
    name = name.get("name") if isinstance(name, dict) else name
    if isinstance(name, str) and _WGS84_NAMES.search(name):
        return True
    problems.add(
        "crs",
        read=shown(name),
        expected="longitude and latitude in degrees, WGS 84",
        hint="Export the file again as WGS 84 (EPSG:4326).",
    )
    return False


def _corners_count(feature: object) -> int:
    """Return how many positions a feature holds, whatever its type; nothing is followed deep."""
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    lists: list[Any] = [geometry.get("coordinates")] if isinstance(geometry, dict) else []
    count = 0
    for _ in range(4):
        lists = [part for part in lists if isinstance(part, list) and part]
        count += sum(not isinstance(part[0], list) for part in lists)
        lists = [entry for part in lists if isinstance(part[0], list) for entry in part]
    return count


def _too_many_corners(read: str) -> dict[str, str]:
    return {
        "read": read,
        "expected": f"at most {MOST_CORNERS:,}",
        "hint": "Draw the outlines with fewer corners, or split the file.",
    }


# --- ground that is left out ----------------------------------------------------------------


def _left_out_of(feature: object) -> str | None:
    """Return which field a feature is left out of; None where it is a field itself."""
    properties = feature.get("properties") if isinstance(feature, dict) else None
    of = properties.get("left_out_of") if isinstance(properties, dict) else None
    if isinstance(of, int) and not isinstance(of, bool):
        of = str(of)
    return of.strip() if isinstance(of, str) and of.strip() else None


def _left_out(feature: object, of: str, number: int, problems: _Problems) -> LeftOutFact | None:
    """Return a feature that is drawn as left-out ground; None, with the reason, where it fails."""
    where = f"feature {number}, left out of {shown(of)}"
    entry = dict(feature["properties"]) if isinstance(feature, dict) else {}
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    if isinstance(geometry, dict) and geometry.get("type") == "Point":
        place = geometry.get("coordinates")
        entry["at"] = place[:2] if isinstance(place, list) else None
    elif geometry is not None:
        rings_deg = _rings_deg(geometry, where, problems)
        if rings_deg is None:
            return None
        entry["ring"] = rings_deg[0].tolist()
        entry.pop("area", None)  # what was drawn is measured
    try:
        return read_left_out(entry)
    except ValueError as error:
        expected = 'a ring, or a point with an "area" such as "0.4 ac", and "what" it is'
        problems.add(where, read="what cannot be used", expected=expected, hint=str(error))
        return None


def _with_left_out(
    fields: list[FieldShape], left_out: list[tuple[str, LeftOutFact]], problems: _Problems
) -> list[FieldShape]:
    """Return the fields with the ground that other features leave out of them."""
    own: dict[str, list[LeftOutFact]] = {shape.name: [] for shape in fields}
    for of, piece in left_out:
        if of in own:
            own[of].append(piece)
            continue
        near = difflib.get_close_matches(of[:_LONGEST_NAME], own, n=1, cutoff=0.5)
        problems.add(
            f"left_out_of {shown(of)}",
            read="the name of no field",
            expected="the name of a field in this file",
            hint=f"Did you mean {near[0]!r}?" if near else "",
        )
    return [
        replace(
            shape,
            file=problems.file,
            facts=replace(shape.facts, left_out=(*shape.facts.left_out, *own[shape.name])),
        )
        for shape in fields
    ]


# --- one field ------------------------------------------------------------------------------


def _field_shape(
    feature: object,
    number: int,
    problems: _Problems,
    yard_lonlat_deg: tuple[float, float] | None,
) -> FieldShape | None:
    """Return one feature as a field; None, with the reason among the problems, where it fails."""
    if not isinstance(feature, dict) or feature.get("type") != "Feature":
        problems.add(f"feature {number}", read=shown(feature), expected='a "Feature"')
        return None
    properties = feature.get("properties")
    properties = properties if isinstance(properties, dict) else {}
    name = _name(properties, number, problems)
    where = f"feature {number}" if name is None else f'field "{name}"'

    def report(key: str, *, read: str, expected: str, hint: str = "") -> None:
        problems.add(f"{where}, {key}", read=read, expected=expected, hint=hint)

    facts = read_facts(properties, report)
    rings_deg = _rings_deg(feature.get("geometry"), where, problems)
    if rings_deg is None or not _plausible(rings_deg, where, problems, yard_lonlat_deg):
        return None
    plane = plane_of(rings_deg[0])
    try:
        exterior_m, *holes_m = map(plane.to_plane, rings_deg)
        mended = mend(exterior_m, holes_m)
    except OutlineRefused as refused:
        problems.add(where, **_refusal(refused, plane))
        return None
    if name is None:
        return None
    shape = FieldShape(
        name=name,
        outline_m=mended.outline,
        plane=plane,
        area_m2=_area_m2(mended.outline, plane),
        facts=facts,
        properties=properties,
        notes=(*mended.notes, *near_miss_notes(properties)),
    )
    return _with_far_notes(shape, yard_lonlat_deg)


def _name(properties: dict[str, object], number: int, problems: _Problems) -> str | None:
    name = properties.get("name")
    if isinstance(name, int) and not isinstance(name, bool):
        name = str(name)
    if isinstance(name, str) and name.strip():
        name = name.strip()
        if len(name) <= _LONGEST_NAME and name.isprintable():
            return name
        expected = f"one line of at most {_LONGEST_NAME} letters"
        problems.add(f"feature {number}, name", read=shown(name), expected=expected)
        return None
    problems.add(
        f"feature {number}, name",
        read=shown(name),
        expected='a name for the field, such as "name": "North 40"',
        hint=" ".join(near_miss_notes(properties)),
    )
    return None


def _rings_deg(geometry: object, where: str, problems: _Problems) -> list[FloatArray] | None:
    """Return the outer edge and the holes as arrays of longitude and latitude [deg]."""
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    rings = geometry.get("coordinates") if isinstance(geometry, dict) else None
    if kind == "MultiPolygon" and isinstance(rings, list):
        if len(rings) > 1:
            problems.add(
                where,
                read=f"an outline in {len(rings)} parts",
                expected="one piece of ground under one name",
                hint="Give each part a feature and a name of its own.",
            )
            return None
        rings = rings[0] if rings else None
    elif kind != "Polygon":
        read = "no outline" if geometry is None else f"a geometry of type {shown(kind)}"
        problems.add(where, read=read, expected="an outline round the ground")
        return None
    if not isinstance(rings, list) or not rings:
        problems.add(where, read="no corners", expected="a list of rings of corners")
        return None
    arrays = [_ring_deg(ring) for ring in rings]
    found = [ring_deg for ring_deg in arrays if ring_deg is not None]
    if len(found) < len(arrays):
        place = "the outer edge" if arrays[0] is None else f"hole {arrays.index(None)}"
        problems.add(
            f"{where}, {place}",
            read="a corner that is not two numbers",
            expected="longitude and latitude, such as [-93.5, 42.0]",
        )
        return None
    return found


def _ring_deg(ring: object) -> FloatArray | None:
    """Return one ring as an array; None where a corner is not two finite numbers."""
    if not isinstance(ring, list) or not ring:
        return None
    for corner in ring:
        if not isinstance(corner, list) or len(corner) < 2:
            return None
        if not all(type(figure) in (int, float) and math.isfinite(figure) for figure in corner[:2]):
            return None
    return np.asarray([corner[:2] for corner in ring], dtype=np.float64)


def _plausible(
    rings_deg: list[FloatArray],
    where: str,
    problems: _Problems,
    yard_lonlat_deg: tuple[float, float] | None,
) -> bool:
    """Return whether the figures can be a field's longitude and latitude, in that order."""
    corners_deg = np.concatenate(rings_deg)
    lon_deg, lat_deg = corners_deg[0].tolist()
    read = f"a corner at {lon_deg:.10g}, {lat_deg:.10g}"
    if np.abs(corners_deg).max() > 180.0:
        problems.add(
            where,
            read=read,
            expected="longitude and latitude in degrees",
            hint="These look like metres or feet of a map grid; export as WGS 84 (EPSG:4326).",
        )
        return False
    if _looks_swapped(corners_deg, yard_lonlat_deg):
        problems.add(
            where,
            read=read,
            expected="longitude first, then latitude",
            hint="The two look swapped.",
        )
        return False
    west_deg, south_deg = corners_deg.min(axis=0).tolist()
    east_deg, north_deg = corners_deg.max(axis=0).tolist()
    wide_deg = longitude_span_deg(west_deg=west_deg, east_deg=east_deg)
    wide_deg = min(wide_deg, longitude_span_deg(west_deg=east_deg, east_deg=west_deg))
    if max(wide_deg, north_deg - south_deg) > _WIDEST_DEG:
        problems.add(
            where,
            read=f"an outline {max(wide_deg, north_deg - south_deg):.3g} degrees across",
            expected="one field in longitude and latitude",
            hint="These may be metres, or one corner may be far off.",
        )
        return False
    return True


def _looks_swapped(corners_deg: FloatArray, yard_lonlat_deg: tuple[float, float] | None) -> bool:
    south_deg, north_deg = corners_deg[:, 1].min(), corners_deg[:, 1].max()
    if north_deg > _NORTHMOST_DEG or south_deg < _SOUTHMOST_DEG:
        return True
    if yard_lonlat_deg is None or np.abs(corners_deg[:, 0]).max() > 90.0:
        return False
    lon_deg, lat_deg = corners_deg[0].tolist()
    as_read_m = distance_m(from_deg=yard_lonlat_deg, to_deg=(lon_deg, lat_deg))
    swapped_m = distance_m(from_deg=yard_lonlat_deg, to_deg=(lat_deg, lon_deg))
    return as_read_m > _FAR_FROM_YARD_M > swapped_m


def _refusal(refused: OutlineRefused, plane: LocalPlane) -> dict[str, str]:
    if isinstance(refused, OutlineCrossesItself):
        lon_deg, lat_deg = plane.to_lonlat(np.asarray([refused.at_m]))[0].tolist()
        return {
            "read": f"an edge that crosses or meets itself near {lon_deg:.5f}, {lat_deg:.5f}",
            "expected": "an outline that goes round the ground once",
            "hint": "Put its corners in order, or draw two fields.",
        }
    return {
        "read": refused.reason,
        "expected": "one piece of ground with its holes inside it",
        "hint": "Draw the field again.",
    }


def _area_m2(outline: Outline, plane: LocalPlane) -> float:
    exterior_deg, *holes_deg = map(plane.to_lonlat, (outline.exterior_m, *outline.holes_m))
    return geodesic_area_m2(exterior_deg, holes_deg)


def _with_far_notes(shape: FieldShape, yard_lonlat_deg: tuple[float, float] | None) -> FieldShape:
    """Return the field with a note where it or its gate lies far from where it should."""
    centre_deg = (shape.centre_lon_deg, shape.centre_lat_deg)
    notes = list(shape.notes)
    gates_deg = np.asarray(shape.facts.gates_lonlat_deg, dtype=np.float64).reshape(-1, 2)
    far_m = shapely.distance(shape.outline_m.shape, shapely.points(shape.plane.to_plane(gates_deg)))
    if (far_m > _FAR_FROM_GATE_M).any():
        notes.append("its gate lies far from the field")
    if (
        yard_lonlat_deg
        and distance_m(from_deg=yard_lonlat_deg, to_deg=centre_deg) > _FAR_FROM_YARD_M
    ):
        notes.append("it lies far from the farm's place")
    return replace(shape, notes=tuple(notes))


# --- fields against each other --------------------------------------------------------------


def _with_own_names(fields: list[FieldShape], problems: _Problems) -> list[FieldShape]:
    """Return the fields without those whose name is taken, capitals or not."""
    kept: dict[str, FieldShape] = {}
    for shape in fields:
        taken = kept.setdefault(shape.name.casefold(), shape)
        if taken is not shape:
            problems.add(
                f'field "{shape.name}"',
                read="its name a second time",
                expected="a name of its own for each field",
                hint="The outline is the same, take one out."
                if taken.outline_m == shape.outline_m
                else "",
            )
    return list(kept.values())


def _with_overlaps(fields: list[FieldShape], problems: _Problems) -> list[FieldShape]:
    """Return the fields without those drawn twice, with notes on those that overlap."""
    shapes_deg = [
        shapely.Polygon(shape.plane.to_lonlat(shape.outline_m.exterior_m)) for shape in fields
    ]
    tree = shapely.STRtree(shapes_deg)
    notes: list[list[str]] = [list(shape.notes) for shape in fields]
    dropped: set[int] = set()
    pairs_count = 0
    for first, shape_deg in enumerate(shapes_deg):
        if first in dropped:
            continue
        for second in sorted(tree.query(shape_deg, predicate="intersects").tolist()):
            if second <= first or second in dropped:
                continue
            pairs_count += 1
            if pairs_count > _MOST_PAIRS_COMPARED:
                problems.add("", read="far too many overlaps", expected="one field beside another")
                return []
            share = _shared_fraction(fields[first], fields[second])
            if min(share) > _SAME_GROUND_FRACTION:
                dropped.add(second)
                problems.add(
                    f'field "{fields[second].name}"',
                    read=f'the same ground as field "{fields[first].name}"',
                    expected="each piece of ground once",
                )
            elif max(share) > _NOTED_OVERLAP_FRACTION:
                for one, other in ((first, second), (second, first)):
                    notes[one].append(
                        f'it and "{fields[other].name}" overlap by '
                        f"{100.0 * max(share):.0f} % of the smaller one"
                    )
    return [
        replace(shape, notes=tuple(notes[index]))
        for index, shape in enumerate(fields)
        if index not in dropped
    ]


def _shared_fraction(first: FieldShape, second: FieldShape) -> tuple[float, float]:
    """Return the share of each field's ground that also lies in the other."""
    exterior_m, *holes_m = (
        first.plane.to_plane(second.plane.to_lonlat(ring_m))
        for ring_m in (second.outline_m.exterior_m, *second.outline_m.holes_m)
    )
    other = shapely.make_valid(shapely.Polygon(exterior_m, holes_m))
    shared_m2 = first.outline_m.shape.intersection(other).area
    return shared_m2 / first.area_m2, shared_m2 / second.area_m2
