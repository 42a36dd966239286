"""Taking files into the farm folder: read by what will read them, and only then put in place.

The file that was there is kept beside as ``kept/NAME.TIME``; a file is there whole or not at all.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import tempfile
import threading
import tomllib
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from duskline.core.outline import FloatArray
from duskline.exchange import forecast as forecasts
from duskline.exchange import outlines, tracks, trays_csv
from duskline.exchange.farm_toml import LARGEST_BYTES
from duskline.exchange.farmfolder import FORECASTS, TOML, read_folder
from duskline.exchange.field_facts import KNOWN_KEYS, LeftOutFact
from duskline.exchange.outlines import FieldShape, FieldsRead
from duskline.exchange.problems import FolderProblem, Problem
from duskline.exchange.vectorfiles import (
    FIELD_FILES,
    WALKS_FOLDER,
    parse_vector_file,
    read_field_files,
)
from duskline.units import System, clock, show

__all__ = [
    "FOLDER_LOCK",
    "LARGEST_UPLOAD_BYTES",
    "FileKind",
    "TakenIn",
    "as_geojson",
    "folder_with",
    "keep",
    "lot_renamed",
    "plain_name",
    "put_away",
    "take_in",
    "write_atomic",
]

FileKind = Literal["outlines", "forecast", "trays", "track"]

LARGEST_UPLOAD_BYTES: Mapping[str, int] = {
    "outlines": outlines.LARGEST_FILE_BYTES,
    "forecast": forecasts.MOST_BYTES,
    "trays": trays_csv.LARGEST_FILE_BYTES,
    "track": tracks.LARGEST_BYTES,
}
"""How large a file of each kind may be, as its reader has it. [bytes]"""

KEPT = "kept"
TRACKS = "tracks"
FOLDER_LOCK = threading.RLock()
"""Held while a farm folder is changed, so that two changes follow each other."""

_LONGEST_NAME = 60
_NAMES_TOLD = 5
_DEGREE_DIGITS = 9
_FIELD_ENDINGS = tuple(name.removeprefix("fields") for name in FIELD_FILES)
_ENDINGS: Mapping[str, tuple[str, ...]] = {
    "outlines": (*_FIELD_ENDINGS, ".json", ".zip"),
    "forecast": (".csv", ".json", ".txt"),
    "trays": (".csv", ".txt"),
    "track": (".gpx", ".nmea", ".log", ".txt"),
}
_MEANT = {".json": ".geojson", ".zip": ".shp.zip"}
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True, slots=True)
class TakenIn:
    """What became of a file: where it now is and what is in it, or why it was not taken.

    Attributes
    ----------
    stored_name
        Its name in the folder; empty where it was not taken.
    summary
        What is in it, in words; empty where it was not taken.
    problems
        What stands in the way; nothing was changed then.
    notes
        What was mended or looks odd.
    """

    stored_name: str = ""
    summary: str = ""
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


def take_in(folder: Path, kind: FileKind, filename: str, data: bytes, *, now: datetime) -> TakenIn:
    """Take a file a person brought into the farm folder, once it and the folder are sound with it.

    Parameters
    ----------
    folder
        The farm folder.
    kind
        What the file is brought as.
    filename
        Its name where it came from; only its ending and plain letters are used.
    data
        The bytes; more than ``LARGEST_UPLOAD_BYTES`` is refused.
    now
        The time, for the names of the files that are replaced.

    Raises
    ------
    OSError
        The disk refuses; what was there is then whole.
    """
    name = plain_name(filename)
    refused = _refused(kind, name, data)
    if refused is not None:
        return TakenIn(problems=(refused,))
    with FOLDER_LOCK:
        farm = _farm_of(folder)
        if kind == "outlines":
            plan = _outlines(folder, name, data, farm)
        elif kind == "forecast":
            plan = _forecast(data)
        elif kind == "trays":
            plan = _trays(name, data, farm)
        else:
            plan = _track(name, data)
        if plan.problems:
            return TakenIn(problems=plan.problems, notes=tuple(plan.notes))
        return _put(folder, plan, farm, now)


def write_atomic(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all, also after a power cut.

    Raises
    ------
    OSError
        The disk refuses; what was there is untouched.
    """
    path = Path(os.path.realpath(path))
    handle, held = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:80]}.", suffix=".new")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(OSError):
            Path(held).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o644)
        Path(held).replace(path)
    except BaseException:
        Path(held).unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def keep(folder: Path, names: Sequence[str], *, now: datetime) -> None:
    """Copy files of the folder to ``kept/NAME.TIME``, those that are there."""
    present = [name for name in names if (folder / name).is_file()]
    if not present:
        return
    (folder / KEPT).mkdir(exist_ok=True)
    for name in present:
        write_atomic(_kept_path(folder, name, now), (folder / name).read_bytes())


@contextlib.contextmanager
def folder_with(folder: Path, files: Mapping[str, bytes | None]) -> Iterator[Path]:
    """Give a folder that is the farm folder with some files changed, for reading only.

    Parameters
    ----------
    files
        Their new content by name; None for what would be gone.
    """
    with tempfile.TemporaryDirectory(prefix="duskline-") as held:
        whole = Path(held) / "farm"
        whole.mkdir()
        for one in sorted(folder.iterdir()) if folder.is_dir() else ():
            if one.name not in files and (one.is_file() or one.name == WALKS_FOLDER):
                _lend(one.resolve(), whole / one.name)
        for name, data in files.items():
            if data is not None:
                (whole / name).write_bytes(data)
        yield whole


def lot_renamed(data: bytes, old: str, new: str) -> bytes:
    """Return GeoJSON in which the fields sown with a lot call it by its new name.

    Nothing else of the file changes.
    """
    found = data
    for ascii_only in (True, False):
        was, now = (json.dumps(name, ensure_ascii=ascii_only).encode() for name in (old, new))
        parts = re.split(rb'("lot"\s*:\s*)' + re.escape(was), found)
        found = b"".join(part + now if at % 2 else part for at, part in enumerate(parts))
    return found


def plain_name(filename: str) -> str:
    """Return a file's name without its folders, in letters that any disk takes."""
    name = unicodedata.normalize("NFKC", filename).replace("\\", "/").rsplit("/", 1)[-1]
    name = re.sub(r"[^\w.\-]+", "-", name).strip("-. ")
    ending = next(
        (end for ends in _ENDINGS.values() for end in ends if name.lower().endswith(end)), ""
    )
    stem = name[: len(name) - len(ending)][:_LONGEST_NAME].rstrip("-. ") or "file"
    return f"{'_' if _RESERVED.match(stem) else ''}{stem}{ending.lower()}"


# ------------------------------------------------------------------------------------ the steps


@dataclass(frozen=True, kw_only=True, slots=True)
class _Farm:
    """What of the farm matters for reading a file."""

    system: System
    zone: tzinfo
    yard_lonlat_deg: tuple[float, float] | None
    tray_files: tuple[str, ...]


@dataclass(kw_only=True, slots=True)
class _Plan:
    """What is to be put in place, and how it is read there.

    ``goes`` are the files that give way to it; ``brought`` is kept beside where it was changed.
    """

    name: str
    data: bytes
    read: Callable[[Path, _Farm], tuple[str, list[Problem], list[str]]]
    goes: tuple[str, ...] = ()
    brought: tuple[str, bytes] | None = None
    problems: tuple[Problem, ...] = ()
    notes: list[str] = field(default_factory=list)


def _refused(kind: str, name: str, data: bytes) -> Problem | None:
    """Return why a file is not even looked into."""
    if kind not in _ENDINGS:
        known = ", ".join(_ENDINGS)
        return Problem(file=name, where="", read=f"{kind[:40]!r}", expected=f"one of {known}")
    if not name.endswith(_ENDINGS[kind]):
        endings = ", ".join(_ENDINGS[kind])
        return Problem(
            file=name,
            where="",
            read="a file of another kind",
            expected=f"a file whose name ends in one of {endings}",
        )
    most = LARGEST_UPLOAD_BYTES[kind]
    if len(data) > most:
        mega = f"{most / 1e6:g} MB"
        return Problem(file=name, where="", read=f"more than {mega}", expected=f"at most {mega}")
    if not data:
        return Problem(file=name, where="", read="an empty file", expected="a file that was saved")
    return None


def _farm_of(folder: Path) -> _Farm:
    """Return what the farm's file says, as far as it can be read at all."""
    content: dict[str, Any] = {}
    with contextlib.suppress(OSError, ValueError, RecursionError):
        raw = (folder / TOML).read_bytes()
        if len(raw) <= LARGEST_BYTES:
            content = tomllib.loads(raw.decode("utf-8-sig"))
    farm = content.get("farm")
    farm = farm if isinstance(farm, dict) else {}
    lots = [lot for lot in _listed(content.get("lot")) if isinstance(lot, dict)]
    place = (farm.get("longitude"), farm.get("latitude"))
    yard = (
        (float(place[0]), float(place[1]))
        if isinstance(place[0], int | float) and isinstance(place[1], int | float)
        else None
    )
    return _Farm(
        system="metric" if farm.get("units") == "metric" else "us",
        zone=_zone(farm.get("time_zone")),
        yard_lonlat_deg=yard,
        tray_files=tuple(lot["trays"] for lot in lots if isinstance(lot.get("trays"), str)),
    )


def _listed(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _zone(name: object) -> tzinfo:
    try:
        return ZoneInfo(name) if isinstance(name, str) else UTC
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return UTC


def _put(folder: Path, plan: _Plan, farm: _Farm, now: datetime) -> TakenIn:
    """Read the file where it would be, with the whole folder round it; then put it there."""
    within = "/" not in plan.name
    changed: dict[str, bytes | None] = dict.fromkeys(plan.goes)
    changed[Path(plan.name).name] = plan.data
    with folder_with(folder, changed) as whole:
        summary, problems, notes = plan.read(whole / Path(plan.name).name, farm)
        if within and not problems:
            problems = _worse(folder, whole)
    if problems:
        return TakenIn(problems=tuple(problems), notes=(*plan.notes, *notes))
    keep(folder, tuple(dict.fromkeys((*plan.goes, plan.name))), now=now)
    if plan.brought is not None:
        (folder / KEPT).mkdir(exist_ok=True)
        write_atomic(_kept_path(folder, f"brought-{plan.brought[0]}", now), plan.brought[1])
    (folder / plan.name).parent.mkdir(exist_ok=True)
    write_atomic(folder / plan.name, plan.data)
    for name in plan.goes:
        if name != plan.name:
            put_away(folder, name, now)
    return TakenIn(stored_name=plan.name, summary=summary, notes=(*plan.notes, *notes))


def _worse(folder: Path, whole: Path) -> list[Problem]:
    """Return the problems of the changed folder that the folder as it is has not."""
    after = read_folder(whole).problems if (whole / TOML).is_file() else []
    before = set(read_folder(folder).problems) if after else set()
    return [one for one in after if one not in before]


def put_away(folder: Path, name: str, now: datetime) -> None:
    """Take away what gave way; a folder of walks goes to what is kept."""
    path = folder / name
    if path.is_dir():
        (folder / KEPT).mkdir(exist_ok=True)
        path.rename(_kept_path(folder, name, now))
    else:
        path.unlink(missing_ok=True)


def _kept_path(folder: Path, name: str, now: datetime) -> Path:
    """Return a name among the kept files that is not taken."""
    stem = f"{name.replace('/', '-')}.{now.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    path, number = folder / KEPT / stem, 1
    while path.exists():
        number += 1
        path = folder / KEPT / f"{stem}-{number}"
    return path


def _lend(source: Path, target: Path) -> None:
    """Put a file of the farm folder into a folder for reading, without copying where possible."""
    try:
        target.symlink_to(source, target_is_directory=source.is_dir())
    except OSError:
        if source.is_dir():
            shutil.copytree(source, target)
        else:
            shutil.copyfile(source, target)


def _sync_folder(folder: Path) -> None:
    """Have the disk keep the names of a folder; some systems cannot be asked."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


# ---------------------------------------------------------------------------------- the outlines


def _outlines(folder: Path, name: str, data: bytes, farm: _Farm) -> _Plan:
    ending = next(end for end in _ENDINGS["outlines"] if name.endswith(end))
    stored = f"fields{_MEANT.get(ending, ending)}"
    goes = tuple(
        one for one in (*FIELD_FILES, WALKS_FOLDER) if one == WALKS_FOLDER or one != stored
    )
    goes = tuple(one for one in goes if (folder / one).exists())
    plan = _Plan(name=stored, data=data, read=_read_outlines, goes=goes)
    read = parse_vector_file(data, file=stored, yard_lonlat_deg=farm.yard_lonlat_deg)
    plan.problems = read.problems
    old = read_field_files(folder, yard_lonlat_deg=farm.yard_lonlat_deg)
    if read.problems or not old.fields:
        return plan
    carried = _carried(old, read)
    if carried:
        plan.brought = (name, data)
        plan.data = (
            _with_properties(data, carried)
            if stored.endswith(".geojson")
            else as_geojson(read.fields, carried)
        )
        plan.name = "fields.geojson"
        plan.goes = tuple(one for one in goes if one != plan.name)
        plan.notes.append(f"Kept what was known of {_names(list(carried))}.")
    plan.notes += _comings(old, read)
    return plan


def _read_outlines(path: Path, farm: _Farm) -> tuple[str, list[Problem], list[str]]:
    read = read_field_files(path.parent, yard_lonlat_deg=farm.yard_lonlat_deg)
    total_m2 = sum(shape.area_m2 for shape in read.fields)
    count = len(read.fields)
    summary = f"{count} field{'s' if count != 1 else ''}, {show(total_m2, 'area', farm.system)}"
    notes = [*read.notes, *(f"{one.name}: {note}" for one in read.fields for note in one.notes)]
    return summary, list(read.problems), notes


def _carried(old: FieldsRead, new: FieldsRead) -> dict[str, dict[str, object]]:
    """Return what the old outlines knew of fields of the same name and the new ones do not say."""
    known = {shape.name: shape for shape in old.fields}
    found: dict[str, dict[str, object]] = {}
    for shape in new.fields:
        before = known.get(shape.name)
        if before is None:
            continue
        properties = {
            key: before.properties[key]
            for key in KNOWN_KEYS
            if key not in {"name", "left_out"}
            and before.properties.get(key) is not None
            and shape.properties.get(key) is None
        }
        if before.facts.left_out and not shape.facts.left_out:
            properties["left_out"] = [_left_out(piece) for piece in before.facts.left_out]
        if properties:
            found[shape.name] = properties
    return found


def _left_out(piece: LeftOutFact) -> dict[str, object]:
    entry: dict[str, object] = {"what": piece.what}
    if piece.area_m2 is not None:
        entry["area"] = f"{piece.area_m2:.2f} m2"
    if piece.at_lonlat_deg is not None:
        entry["at"] = list(piece.at_lonlat_deg)
    if piece.ring_lonlat_deg:
        entry["ring"] = [list(corner) for corner in piece.ring_lonlat_deg]
    if not piece.come_back:
        entry["come_back"] = False
    if piece.note:
        entry["note"] = piece.note
    return entry


def _with_properties(data: bytes, carried: Mapping[str, Mapping[str, object]]) -> bytes:
    """Return GeoJSON with properties added to the fields they belong to."""
    document = json.loads(data.decode("utf-8-sig"))
    for feature in document["features"]:
        properties = feature.get("properties") or {}
        added = carried.get(str(properties.get("name", "")).strip())
        if added is not None and not properties.get("left_out_of"):
            feature["properties"] = {**properties, **added}
    return _geojson(document)


def as_geojson(shapes: Sequence[FieldShape], carried: Mapping[str, Mapping[str, object]]) -> bytes:
    """Return fields of another form as GeoJSON, as that form may not hold what was known."""
    features = []
    for shape in shapes:
        own = {
            key: value
            for key, value in shape.properties.items()
            if value is not None and key != "left_out"
        }
        pieces = {"left_out": [_left_out(piece) for piece in shape.facts.left_out]}
        rings = [
            _ring(shape.plane.to_lonlat(ring_m))
            for ring_m in (shape.outline_m.exterior_m, *shape.outline_m.holes_m)
        ]
        features.append(
            {
                "type": "Feature",
                "properties": {
                    **own,
                    **(pieces if shape.facts.left_out else {}),
                    **carried.get(shape.name, {}),
                    "name": shape.name,
                },
                "geometry": {"type": "Polygon", "coordinates": rings},
            }
        )
    return _geojson({"type": "FeatureCollection", "features": features})


def _ring(lonlat_deg: FloatArray) -> list[list[float]]:
    """Return a ring as GeoJSON has it: closed, the first corner once more at the end."""
    closed = np.vstack([lonlat_deg, lonlat_deg[:1]])
    found: list[list[float]] = np.round(closed, _DEGREE_DIGITS).tolist()
    return found


def _geojson(document: Mapping[str, Any]) -> bytes:
    """Return GeoJSON with one feature a line, so that a person can find his field."""
    head = {key: value for key, value in document.items() if key != "features"}
    lines = ",\n".join(
        json.dumps(feature, ensure_ascii=False, allow_nan=False) for feature in document["features"]
    )
    opening = json.dumps(head, ensure_ascii=False, allow_nan=False)[:-1]
    return f'{opening}, "features": [\n{lines}\n]}}\n'.encode()


def _comings(old: FieldsRead, new: FieldsRead) -> list[str]:
    """Return which fields are new and which are gone."""
    before, after = [one.name for one in old.fields], [one.name for one in new.fields]
    gone = [name for name in before if name not in set(after)]
    come = [name for name in after if name not in set(before)]
    return [
        *([f"No longer there: {_names(gone)}."] if gone else []),
        *([f"New: {_names(come)}."] if come else []),
    ]


def _names(names: Sequence[str]) -> str:
    more = len(names) - _NAMES_TOLD
    told = ", ".join(names[:_NAMES_TOLD])
    return f"{told} and {more} more" if more > 0 else told


# ------------------------------------------------------------------------------- the other kinds


def _forecast(data: bytes) -> _Plan:
    as_json = data.removeprefix(b"\xef\xbb\xbf").lstrip()[:1] == b"{"
    name = "forecast.json" if as_json else "forecast.csv"
    goes = tuple(other for other in FORECASTS if other != name)
    return _Plan(name=name, data=data, read=_read_forecast, goes=goes)


def _read_forecast(path: Path, farm: _Farm) -> tuple[str, list[Problem], list[str]]:
    read = forecasts.read_forecast(path, zone=farm.zone)
    notes = [note.sentence for note in read.notes]
    if read.forecast is None:
        return "", list(read.problems), notes
    hours = read.forecast.hours_at
    first = _moment(hours[0].astimezone(farm.zone), farm.system)
    return f"forecast of {len(hours)} hours from {first}", list(read.problems), notes


def _moment(moment: datetime, system: System) -> str:
    """Return a day and hour: "Oct 18 7 am" in US customary, "18 Oct 07:00" in metric."""
    time = clock(moment, system)
    if system == "metric":
        return f"{moment.day} {moment:%b} {time}"
    return f"{moment:%b} {moment.day} {time.replace(':00', '')}"


def _trays(name: str, data: bytes, farm: _Farm) -> _Plan:
    stem = name.rsplit(".", 1)[0]
    stored = f"{stem}.csv"
    notes = []
    if stored not in farm.tray_files:
        if not farm.tray_files:
            stored = "trays.csv"
        elif not stem.lower().startswith("trays"):
            stored = f"trays-{stored}"
        if stored not in farm.tray_files and stored != "trays.csv":
            notes.append(f"No seed lot names {stored} yet: put it at the lot it was thrown with.")
    return _Plan(name=stored, data=data, read=_read_trays, notes=notes)


def _read_trays(path: Path, farm: _Farm) -> tuple[str, list[Problem], list[str]]:
    try:
        test = trays_csv.read_trays(path)
    except FolderProblem as wrong:
        return "", list(wrong.problems), []
    runs = len(test.masses_kg) or len(test.seeds_count)
    across_m = test.positions_m[-1] - test.positions_m[0]
    summary = (
        f"tray test of {len(test.positions_m)} trays over "
        f"{show(across_m, 'length', farm.system)}, {runs} run{'s' if runs != 1 else ''}"
    )
    notes = ["The middle of the row is taken as the driving line."]
    return summary, [], notes if test.path_assumed_in_middle else []


def _track(name: str, data: bytes) -> _Plan:
    return _Plan(name=f"{TRACKS}/{name}", data=data, read=_read_track)


def _read_track(path: Path, farm: _Farm) -> tuple[str, list[Problem], list[str]]:
    track, problems = tracks.read_track(path)
    if track is None:
        return "", problems, []
    first, last = (
        datetime.fromtimestamp(float(moment_s), farm.zone) for moment_s in track.t_s[[0, -1]]
    )
    until = clock(last, farm.system) if first.date() == last.date() else _moment(last, farm.system)
    summary = f"track of {len(track.t_s):,} points from {_moment(first, farm.system)} to {until}"
    dropped = [f"{track.dropped_count} points could not be used."] if track.dropped_count else []
    return summary, problems, dropped
