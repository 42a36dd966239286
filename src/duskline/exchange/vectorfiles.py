"""Outlines in the map files of other programs: GeoPackage, Shapefile, KML, KMZ and GPX.

A file is looked through first, then its bytes alone are read through GDAL in memory, so that
nothing beside it and nothing it points to is opened. The same checks as for GeoJSON follow.
"""

from __future__ import annotations

import io
import json
import math
import re
import sqlite3
import warnings
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import shapely

from duskline.core.errors import OutlineRefused
from duskline.core.outline import FloatArray
from duskline.exchange.archives import ArchiveRefused, unpacked
from duskline.exchange.field_facts import KNOWN_KEYS
from duskline.exchange.outlines import (
    LARGEST_FILE_BYTES,
    MOST_CORNERS,
    FieldsRead,
    fields_of,
    parse_outlines,
    read_bounded,
)
from duskline.exchange.plain_xml import XmlRefused, plain_xml, written
from duskline.exchange.problems import Problem
from duskline.exchange.projection import plane_of
from duskline.exchange.walks import ring_of_track

__all__ = ["FIELD_FILES", "WALKS_FOLDER", "parse_vector_file", "read_field_files"]

WALKS_FOLDER = "outlines"
MOST_FIELDS = 5000
MOST_LAYERS = 50
_MOST_WALKS = 2000
_MOST_TABLES = 1000
_LONGEST_PRJ = 20_000
_LONGEST_CELL = 100_000
_MOST_COLUMNS = 300
# What dBase, the table beside a shapefile, leaves of a column's name.
_DBASE_LETTERS = 10
_PIECE_KEYS = ("left_out_of", "what", "area", "at", "come_back", "note")
_KEYS = (*KNOWN_KEYS, *_PIECE_KEYS)
_LIST_KEYS = ("edges", "herbicide", "gate", "gates", "left_out", "at")
_YES_NO = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}
_YES_NO_KEYS = ("erodible", "not_after_rain", "come_back", "split")
_TEXT_KEYS = ("name", "farm_no", "tract_no", "field_no", "left_out_of")
# What GDAL adds to every place of a KML file.
_KML_COLUMNS = (
    "id", "description", "timestamp", "begin", "end", "altitudemode", "tessellate", "extrude",
    "visibility", "draworder", "icon",
)  # fmt: skip
_KML_DROPPED = ("Style", "StyleMap", "styleUrl", "Icon", "Link", "Model", "Region", "Snippet")
_KML_REFUSED = ("NetworkLink", "NetworkLinkControl", "GroundOverlay", "PhotoOverlay")
_KML = "http://www.opengis.net/kml/2.2"
_GPX = "http://www.topografix.com/GPX/1/1"
_SQLITE = b"SQLite format 3\x00"
_GPKG_IDS = (b"GPKG", b"GP10", b"GP11")
_SHAPE_START = b"\x00\x00\x27\x0a"
_SHAPE_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")
# Grid files in a description of coordinates are other files.
_NAMES_FILES = re.compile(r"grids|PROJ4|PARAMETERFILE", re.IGNORECASE)
_MADE_BY_SQL = re.compile(r"\bgenerated\b|\bas\s*\(", re.IGNORECASE)
_GDAL_OPTIONS = {"CPL_VSIL_CURL_ALLOWED_FILENAME": "none", "LIBKML_RESOLVE_STYLE": "NO"}


class _Refused(Exception):
    """The file as a whole is not read."""

    def __init__(self, read: str, expected: str, *, hint: str = "", where: str = "") -> None:
        super().__init__(read)
        self.read = read
        self.expected = expected
        self.hint = hint
        self.where = where


@dataclass(frozen=True, kw_only=True, slots=True)
class _Layer:
    """One layer as read: geometries, a dictionary of properties each, and its coordinates."""

    geometries: list[Any]
    properties: list[dict[str, object]]
    crs: str | None


@dataclass(frozen=True, kw_only=True, slots=True)
class _Features:
    """Features as GeoJSON has them, what had to be refused of them, and notes."""

    features: list[dict[str, object]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def read_field_files(
    folder: Path, *, yard_lonlat_deg: tuple[float, float] | None = None
) -> FieldsRead:
    """Return the fields of a farm folder, in whichever form it holds their outlines.

    Parameters
    ----------
    folder
        The farm folder: one ``fields.*`` file, or a folder ``outlines`` with one walked track
        ``NAME.gpx`` for each field.
    yard_lonlat_deg
        The farm's place, longitude and latitude, where known. [deg]
    """
    present = [name for name in FIELD_FILES if (folder / name).is_file()]
    walks = sorted(
        path for path in (folder / WALKS_FOLDER).glob("*") if path.suffix.lower() == ".gpx"
    )
    forms = [*present, *([f"{WALKS_FOLDER}/"] if walks else [])]
    if len(forms) > 1:
        return _whole(
            forms[0],
            _Refused(
                f"{', '.join(forms)} side by side",
                "the outlines in one of them",
                hint=f"Keep the one you draw in and move the rest away; "
                f"{forms[0]} would be looked for first.",
            ),
        )
    if walks:
        return _read_walks(walks, yard_lonlat_deg)
    if not present:
        return _whole("fields.geojson", _nothing(folder))
    data, problems = read_bounded(folder / present[0])
    if problems:
        return FieldsRead(problems=problems)
    wal = folder / f"{present[0]}-wal"
    if wal.is_file() and wal.stat().st_size:
        return _whole(
            present[0],
            _Refused("a file that another program has open", "it saved and closed there"),
        )
    return parse_vector_file(data, file=present[0], yard_lonlat_deg=yard_lonlat_deg)


def _nothing(folder: Path) -> _Refused:
    loose = next((one for one in ("fields.shp", "fields.json") if (folder / one).is_file()), "")
    hints = {
        "fields.shp": "Zip fields.shp, .shx, .dbf and .prj together as fields.shp.zip.",
        "fields.json": "Rename fields.json to fields.geojson.",
    }
    return _Refused(
        "no such file",
        f"one outline a field, in {', '.join(FIELD_FILES[:-1])} or {FIELD_FILES[-1]}",
        hint=hints.get(loose, ""),
    )


def parse_vector_file(
    data: bytes, *, file: str, yard_lonlat_deg: tuple[float, float] | None = None
) -> FieldsRead:
    """Return the fields of a file of outlines as it came in, and its problems.

    Parameters
    ----------
    data
        The bytes of the file.
    file
        Its name; the ending says what is in it.
    yard_lonlat_deg
        The farm's place, longitude and latitude, where known. [deg]

    Notes
    -----
    Files over 20 MB, over 5,000 places or over 200,000 corners are refused. Coordinates in
    another system are brought to WGS 84; KML and GPX are WGS 84 by their standards.
    """
    reader = _READERS[next(end for end in _READERS if file.lower().endswith(end))]
    if reader is None:
        return parse_outlines(data, file=file, yard_lonlat_deg=yard_lonlat_deg)
    try:
        if len(data) > LARGEST_FILE_BYTES:
            raise _Refused(
                f"more than {LARGEST_FILE_BYTES // 1_000_000} MB",
                "a file of field outlines, seldom over 1 MB",
            )
        read = _features(reader(data), file, skip_points=reader in _PIN_READERS)
    except (_Refused, ArchiveRefused, XmlRefused) as refused:
        return _whole(file, refused)
    return _fields(read, file, yard_lonlat_deg)


def _fields(read: _Features, file: str, yard_lonlat_deg: tuple[float, float] | None) -> FieldsRead:
    """Return features as fields, with the problems and notes of reading them."""
    found = FieldsRead()
    if read.features or not read.problems:
        found = fields_of(read.features, file=file, yard_lonlat_deg=yard_lonlat_deg)
    return replace(
        found, problems=(*read.problems, *found.problems), notes=(*read.notes, *found.notes)
    )


def _whole(file: str, refused: _Refused | ArchiveRefused | XmlRefused) -> FieldsRead:
    """Return the one problem of a file that is refused as a whole."""
    where = getattr(refused, "where", "")
    if isinstance(refused, XmlRefused) and refused.line:
        where = f"line {refused.line}"
    problem = Problem(
        file=file,
        where=where,
        read=refused.read,
        expected=refused.expected,
        hint=getattr(refused, "hint", ""),
    )
    return FieldsRead(problems=(problem,))


# --- the forms ------------------------------------------------------------------------------


def _geopackage(data: bytes) -> list[_Layer]:
    if not data.startswith(_SQLITE) or data[68:72] not in _GPKG_IDS:
        raise _Refused("a file that is no GeoPackage", "a GeoPackage")
    _check_tables(data)
    return _layers(data, driver="GPKG")


def _check_tables(data: bytes) -> None:
    """Refuse a database in which reading a table would run somebody's query."""
    connection = sqlite3.connect(":memory:")
    try:
        connection.deserialize(data)
        connection.execute("PRAGMA trusted_schema = OFF")
        rows = connection.execute("SELECT type, sql FROM sqlite_master LIMIT 1001").fetchall()
    except (sqlite3.Error, MemoryError, OverflowError, ValueError) as wrong:
        raise _Refused("a GeoPackage that is broken", "a whole GeoPackage") from wrong
    finally:
        connection.close()
    if len(rows) > _MOST_TABLES:
        raise _Refused(
            f"a GeoPackage with more than {_MOST_TABLES:,} tables",
            "plain tables of outlines",
            hint="Export the fields alone to a new file.",
        )
    for kind, sql in rows:
        text = str(sql or "").lstrip().lower()
        virtual = text.startswith("create virtual") and "using rtree" not in text
        made = kind == "table" and not virtual and _MADE_BY_SQL.search(text)
        if kind == "view" or virtual or made:
            raise _Refused(
                "a GeoPackage with a stored query in it",
                "plain tables of outlines",
                hint="Export the fields alone to a new file.",
            )


def _shapefile(data: bytes) -> list[_Layer]:
    members = unpacked(data, kinds=_SHAPE_PARTS)
    sets: dict[str, dict[str, bytes]] = {}
    for name, content in members.items():
        stem, ending = name[:-4], name[-4:].lower()
        sets.setdefault(stem.lower(), {})[ending] = content
    layers = []
    for stem, parts in sets.items():
        if ".shp" not in parts:
            continue
        missing = [end for end in (".shx", ".dbf") if end not in parts]
        if missing or not parts[".shp"].startswith(_SHAPE_START):
            raise _Refused(
                f"a shapefile without its {missing[0]}" if missing else "a .shp that is none",
                "the .shp, .shx, .dbf and .prj of it zipped together",
                where=stem[-60:],
            )
        if len(parts.get(".prj", b"")) > _LONGEST_PRJ:
            raise _Refused("a .prj far too long", "a description of coordinates")
        layers += _layers(_zipped(parts), driver="ESRI Shapefile")
    if not layers:
        raise _Refused("a zip without a .shp in it", "a shapefile zipped")
    return layers


def _zipped(parts: dict[str, bytes]) -> bytes:
    """Return a shapefile's parts zipped anew under a name of ours, and nothing else."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_STORED) as archive:
        for ending, content in parts.items():
            archive.writestr(f"layer{ending}", content)
    return made.getvalue()


def _first_two(place: ElementTree.Element) -> list[ElementTree.Element]:
    """Return a place and the first place within it, where there is one."""
    return list(islice(place.iter("Placemark"), 2))


def _kml(data: bytes) -> list[_Layer]:
    top = plain_xml(data, root="kml", dropped=_KML_DROPPED, refused=_KML_REFUSED)
    # Folders within folders come out as layers or not at all; places need no folder.
    flat = ElementTree.Element("kml")
    document = ElementTree.SubElement(flat, "Document")
    if any(inner is not place for place in top.iter("Placemark") for inner in _first_two(place)):
        raise _Refused("a place within a place", "each place by itself")
    for kind in ("Schema", "Placemark"):
        document.extend(top.iter(kind))
    return [
        replace(layer, crs="EPSG:4326")
        for layer in _layers(written(flat, namespace=_KML), driver="LIBKML")
    ]


def _kmz(data: bytes) -> list[_Layer]:
    members = unpacked(data, kinds=(".kml",))
    if not members:
        raise _Refused("a KMZ without a .kml in it", "a KMZ with its doc.kml")
    # By the standard the first .kml at the top is the document; the others are links' targets.
    top = [name for name in members if "/" not in name] or list(members)
    return _kml(members[top[0]])


def _gpx(data: bytes) -> list[_Layer]:
    top = plain_xml(data, root="gpx", dropped=("extensions", "link", "url"))
    plain = written(top, namespace=_GPX)
    layers = _layers(plain, driver="GPX", named=("tracks", "routes"))
    if not any(layer.geometries for layer in layers):
        raise _Refused("no track and no route", "the track of a walk round each field")
    return [replace(layer, crs="EPSG:4326") for layer in layers]


_Reads = Callable[[bytes], list[_Layer]]
_READERS: dict[str, _Reads | None] = {
    ".geojson": None,
    ".gpkg": _geopackage,
    ".shp.zip": _shapefile,
    ".kml": _kml,
    ".kmz": _kmz,
    ".gpx": _gpx,
}
# A pin on a map drawn by hand is no field; a point in a table of fields is a slip.
_PIN_READERS = (_kml, _kmz)
FIELD_FILES = tuple(f"fields{ending}" for ending in _READERS)
"""The names under which a farm folder may hold its outlines."""


def _read_walks(paths: Sequence[Path], yard_lonlat_deg: tuple[float, float] | None) -> FieldsRead:
    """Return one field for each track of the folder, named after its file."""
    if len(paths) > _MOST_WALKS:
        return _whole(f"{WALKS_FOLDER}/", _Refused(f"{len(paths)} files", f"at most {_MOST_WALKS}"))
    read = _Features()
    for path in paths:
        file = f"{WALKS_FOLDER}/{path.name}"
        data, unread = read_bounded(path)
        if unread:
            read.problems.extend(replace(problem, file=file) for problem in unread)
            continue
        try:
            if len(data) > LARGEST_FILE_BYTES:
                raise _Refused("more than 20 MB", "one walk round a field")
            walk = _features(_named(_gpx(data), path.stem), file, skip_points=True)
        except (_Refused, XmlRefused) as refused:
            read.problems.extend(_whole(file, refused).problems)
            continue
        read.features.extend(walk.features)
        read.problems.extend(walk.problems)
        read.notes.extend(walk.notes)
    return _fields(read, f"{WALKS_FOLDER}/", yard_lonlat_deg)


def _named(layers: list[_Layer], name: str) -> list[_Layer]:
    """Return the one track of a file under the file's name."""
    count = sum(len(layer.geometries) for layer in layers)
    if count != 1:
        raise _Refused(
            f"{count} tracks",
            "one walk round one field",
            hint="Give each field a file of its own name.",
        )
    return [replace(layer, properties=[{"name": name}] * len(layer.geometries)) for layer in layers]


# --- through GDAL ---------------------------------------------------------------------------


def _layers(data: bytes, *, driver: str, named: tuple[str, ...] = ()) -> list[_Layer]:
    """Return the layers of a file that was looked through, read from memory alone."""
    import pyogrio
    import pyogrio.raw

    pyogrio.set_gdal_config_options(_GDAL_OPTIONS)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # names of columns that were cut, and the like
            # By number: a layer without a name is called anew at each opening.
            numbers = [
                number
                for number, (name, kind) in enumerate(pyogrio.list_layers(data))
                if kind is not None and (not named or name in named)
            ]
            if len(numbers) > MOST_LAYERS:
                raise _Refused(f"{len(numbers)} layers", f"at most {MOST_LAYERS}")
            return [_layer(pyogrio, data, number, driver) for number in numbers]
    except _Refused:
        raise
    except Exception as wrong:
        # A broken file comes out as any error, a NameError among them: changing bytes found it.
        raise _Refused("a file that cannot be read", "a whole file, saved again") from wrong


def _layer(pyogrio: Any, data: bytes, number: int, driver: str) -> _Layer:
    info = pyogrio.read_info(data, layer=number)
    if info["driver"] != driver:
        raise _Refused("a file of another kind than its name says", "what the name says")
    if len(info["fields"]) > _MOST_COLUMNS:
        raise _Refused(f"{len(info['fields'])} columns", "the properties of fields")
    meta, _, shapes, columns = pyogrio.raw.read(
        data, layer=number, force_2d=True, max_features=MOST_FIELDS + 1
    )
    if len(shapes) > MOST_FIELDS:
        raise _Refused(f"more than {MOST_FIELDS:,} places", f"at most {MOST_FIELDS:,}")
    geometries = shapely.from_wkb(shapes, on_invalid="raise")
    if shapely.get_num_coordinates(geometries).sum() > MOST_CORNERS:
        raise _Refused(
            f"more than {MOST_CORNERS:,} corners",
            f"at most {MOST_CORNERS:,}",
            hint="Draw the outlines with fewer corners, or split the file.",
        )
    names = [str(one) for one in meta["fields"]]
    keys = _keys(names, kml=driver == "LIBKML")
    properties = [
        {
            key: _value(key, column[row])
            for key, column in zip(keys, columns, strict=True)
            if key and _value(key, column[row]) is not None
        }
        for row in range(len(geometries))
    ]
    return _Layer(geometries=list(geometries), properties=properties, crs=meta["crs"])


def _keys(names: Sequence[str], *, kml: bool) -> list[str]:
    """Return our key for each column; empty for one that says nothing."""
    keys: list[str] = []
    for name in names:
        plain = name.strip().lower().replace("-", "_").replace(" ", "_")
        if kml and plain in _KML_COLUMNS:
            keys.append("")
            continue
        longer = [key for key in _KEYS if len(plain) == _DBASE_LETTERS and key.startswith(plain)]
        key = plain if plain in _KEYS or len(longer) != 1 else longer[0]
        keys.append("" if key in keys else key if key in _KEYS else name)
    return keys


def _value(key: str, cell: object) -> object:
    """Return a cell as GeoJSON would have held it; None for an empty one."""
    if isinstance(cell, np.datetime64):
        return None if np.isnat(cell) else str(cell)
    if isinstance(cell, np.generic):
        cell = cell.item()
    if isinstance(cell, float):
        if math.isnan(cell):
            return None
        cell = int(cell) if cell.is_integer() else cell
    if key in _YES_NO_KEYS:
        return _YES_NO.get(str(cell).strip().lower(), cell)
    if isinstance(cell, str):
        cell = cell.strip()[:_LONGEST_CELL]
        if key in _LIST_KEYS and cell[:1] in ("[", "{"):
            return _listed(cell)
        return cell or None
    if isinstance(cell, int) and not isinstance(cell, bool) and key in _TEXT_KEYS:
        return str(cell)
    return cell if isinstance(cell, bool | int | float) else None


def _listed(text: str) -> object:
    try:
        found: object = json.loads(text)
    except (ValueError, RecursionError):
        return text  # reported by whoever reads the key
    return found


# --- to features as GeoJSON has them --------------------------------------------------------


def _features(layers: Sequence[_Layer], file: str, *, skip_points: bool) -> _Features:
    found, pins_count = _Features(), 0
    for layer in layers:
        to_lonlat = _to_lonlat(layer, file, found.notes)
        for shape, properties in zip(layer.geometries, layer.properties, strict=True):
            if skip_points and _is_point(shape) and "left_out_of" not in properties:
                pins_count += 1
                continue
            name = str(properties.get("name", "without a name"))[:60]
            try:
                found.features.append(
                    _feature(shape, properties, to_lonlat, f"{file}, {name}", found)
                )
            except OutlineRefused as refused:
                found.problems.append(
                    Problem(
                        file=file,
                        where=f'field "{name}"',
                        read=refused.reason,
                        expected="a walk round the whole field",
                    )
                )
    if pins_count:
        found.notes.append(f"{file}: {pins_count} single points were left out")
    return found


def _is_point(shape: Any) -> bool:
    return shape is not None and shape.geom_type in ("Point", "MultiPoint")


def _to_lonlat(
    layer: _Layer, file: str, notes: list[str]
) -> Callable[[FloatArray], FloatArray] | None:
    """Return what turns a layer's figures to WGS 84; None where they are that already."""
    if not layer.geometries:
        return None
    if not layer.crs or layer.crs.lower().startswith(("undefined", "unknown")):
        bounds = shapely.total_bounds(np.asarray(layer.geometries, dtype=object))
        if not (np.abs(bounds[[0, 2]]) <= 180.0).all() or not (np.abs(bounds[[1, 3]]) <= 90).all():
            raise _Refused(
                "no word on which coordinates these are (.prj)",
                "the .prj of the shapefile beside it, or coordinates set in the file",
                hint="Export again with its coordinates named, best WGS 84 (EPSG:4326).",
            )
        notes.append(
            f"{file}: it does not say which coordinates it has; read as longitude and latitude"
        )
        return None
    return _transform(layer.crs)


def _transform(text: str) -> Callable[[FloatArray], FloatArray] | None:
    import pyproj
    from pyproj import network
    from pyproj.exceptions import ProjError

    refused = _Refused(
        "coordinates that are not known here",
        "coordinates of a known system",
        hint="Export again as WGS 84 (EPSG:4326).",
    )
    if _NAMES_FILES.search(text):
        raise refused
    network.set_network_enabled(active=False)  # type: ignore[attr-defined]
    try:
        system = pyproj.CRS.from_user_input(text)
        if system.is_geocentric or system.is_vertical:
            raise refused
        if system == pyproj.CRS.from_epsg(4326):
            return None
        turn = pyproj.Transformer.from_crs(system, 4326, always_xy=True)
    except ProjError as wrong:
        raise refused from wrong

    def to_lonlat(points: FloatArray) -> FloatArray:
        return np.column_stack(turn.transform(points[:, 0], points[:, 1]))

    return to_lonlat


def _feature(
    shape: Any,
    properties: dict[str, object],
    to_lonlat: Callable[[FloatArray], FloatArray] | None,
    where: str,
    found: _Features,
) -> dict[str, object]:
    if shape is not None and not shape.is_empty:
        if to_lonlat is not None:
            shape = shapely.transform(shape, to_lonlat)
        if shape.geom_type in ("LineString", "MultiLineString"):
            shape = _walked(shape, where, found.notes)
        elif shape.geom_type == "GeometryCollection" and len(shape.geoms) == 1:
            shape = shape.geoms[0]
    return {"type": "Feature", "properties": properties, "geometry": _geometry(shape)}


def _walked(line: Any, where: str, notes: list[str]) -> Any:
    """Return the ring that a track went round, as a shape in longitude and latitude."""
    track_deg = np.concatenate([shapely.get_coordinates(part) for part in shapely.get_parts(line)])
    if not np.isfinite(track_deg).all() or np.abs(track_deg).max(initial=0.0) > 180.0:
        raise OutlineRefused("the track leaves the map")
    plane = plane_of(track_deg)
    walked = ring_of_track(plane.to_plane(track_deg))
    notes += [f"{where}: {note}" for note in walked.notes]
    return shapely.Polygon(plane.to_lonlat(walked.ring_m))


def _geometry(shape: Any) -> dict[str, object] | None:
    """Return a shape as a GeoJSON geometry."""
    if shape is None or shape.is_empty:
        return None
    kind = shape.geom_type
    if kind == "Polygon":
        return {"type": kind, "coordinates": list(_rings(shape))}
    if kind == "MultiPolygon":
        return {"type": kind, "coordinates": [list(_rings(part)) for part in shape.geoms]}
    if kind == "Point":
        return {"type": kind, "coordinates": [shape.x, shape.y]}
    return {"type": kind, "coordinates": []}


def _rings(shape: shapely.Polygon) -> Iterator[list[list[float]]]:
    for ring in (shape.exterior, *shape.interiors):
        yield shapely.get_coordinates(ring).tolist()
