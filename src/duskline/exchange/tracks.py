"""Reading a recorded drive: a GPX file or a receiver's NMEA log, bounded and checked first.

Times are told as seconds since 1970 UTC; places as longitude and latitude until ``in_plane``
lays them in a field's plane.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from duskline.core.outline import FloatArray
from duskline.core.track import Track
from duskline.exchange.problems import Problem
from duskline.exchange.projection import LocalPlane

__all__ = ["RecordedTrack", "in_plane", "read_track"]

LARGEST_BYTES = 64_000_000
MOST_POINTS = 1_000_000
_EARLIEST_YEAR, _LATEST_YEAR = 2000, 2100
_MOST_BROKEN_SHARE = 0.5
_MEGABYTE = 1_000_000

# A GPX file and nothing else: no document type, hence no entities, and no markup by which the
# reading library would take it for another kind of file that points to further files.
_DECLARED = re.compile(rb"<!(DOCTYPE|ENTITY)", re.IGNORECASE)
_FOREIGN = re.compile(
    rb"<OGRVRT|<VRTDataset|<OGRWMS|<WFSDataSource|opengis\.net/gml", re.IGNORECASE
)
_OPENING = re.compile(
    rb"\A(?:\xef\xbb\xbf)?\s*(?:<\?xml[^>]{0,200}\?>)?\s*(?:<!--.{0,2000}?-->\s*)?<gpx[\s>]",
    re.DOTALL,
)
_SENTENCE = re.compile(rb"\$[A-Z]{2}RMC,(\d{6})[^$\r\n]{0,120}")


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class RecordedTrack:
    """A drive as the file has it, in order of time.

    Attributes
    ----------
    lonlat_deg
        Longitude and latitude, WGS 84, ``(n, 2)``. [deg]
    t_s
        Seconds since 1970-01-01 UTC, ``(n,)``. [s]
    dropped_count
        Points of the file that could not be used: no time, no fix, broken in the writing.
    """

    lonlat_deg: FloatArray
    t_s: FloatArray
    dropped_count: int = 0


def in_plane(recorded: RecordedTrack, plane: LocalPlane) -> Track:
    """Return the drive in a field's plane, cleaned.

    Parameters
    ----------
    recorded
        The drive as read.
    plane
        The field's plane.
    """
    return Track(t_s=recorded.t_s, points_m=plane.to_plane(recorded.lonlat_deg))


def read_track(path: Path) -> tuple[RecordedTrack | None, list[Problem]]:
    """Return the drive in a GPX file or an NMEA log, and every problem found.

    Parameters
    ----------
    path
        The file; told apart by what is in it. More than 64 MB or a million points is refused.

    Notes
    -----
    GPX 1.0 and 1.1 track points with times. Of an NMEA log the RMC sentences, which alone carry
    the date; one a second is read, the rest of a faster receiver is left.

    Source
    ------
    GPX 1.1 schema; NMEA 0183 sentence RMC (memory).
    """
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except OSError as wrong:
        read = f"nothing ({(wrong.strerror or 'not readable').lower()})"
        return None, [_problem(path, read, "a file that can be read")]
    if len(raw) > LARGEST_BYTES:
        most = f"{LARGEST_BYTES // _MEGABYTE} MB"
        return None, [_problem(path, f"more than {most}", f"no more than {most}")]
    if b"\0" in raw:
        return None, [_problem(path, "bytes that are no text", "a GPX file or an NMEA log")]
    if _OPENING.match(raw):
        return _read_gpx(path, raw)
    if _SENTENCE.search(raw):
        return _read_nmea(path, raw)
    if re.search(rb"\$[A-Z]{2}(GGA|GLL),", raw):
        return None, [
            _problem(
                path,
                "a log without dates",
                "RMC sentences, which carry the date",
                hint="Switch RMC on in the receiver's output.",
            )
        ]
    return None, [_problem(path, "neither of them", "a GPX file or an NMEA log")]


def _problem(path: Path, read: str, expected: str, *, hint: str = "") -> Problem:
    return Problem(file=path.name, where="", read=read, expected=expected, hint=hint)


# --------------------------------------------------------------------------------------- GPX


def _read_gpx(path: Path, raw: bytes) -> tuple[RecordedTrack | None, list[Problem]]:
    """Return the track points of a GPX file."""
    if _DECLARED.search(raw):
        read = "a document type or entities"
        return None, [_problem(path, read, "a plain GPX file, as a receiver writes it")]
    if _FOREIGN.search(raw):
        return None, [_problem(path, "parts of another kind of file", "a plain GPX file")]
    if raw.count(b"<trkpt") > MOST_POINTS:
        return None, [_problem(path, "too many points", f"no more than {MOST_POINTS:,} points")]
    import pyogrio.errors
    import pyogrio.raw

    try:
        _, _, places, columns = pyogrio.raw.read(
            raw,
            layer="track_points",
            columns=["track_fid", "time"],
            datetime_as_string=True,
        )
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as wrong:
        line = re.search(r"line (\d+)", str(wrong))
        read = f"a slip in line {line.group(1)}" if line else "a file with slips in it"
        return None, [_problem(path, read, "a whole GPX file", hint="Save it again.")]
    if not len(places):
        hint = "Planned ways and single marks are no drive."
        return None, [_problem(path, "no track points", "a recorded track", hint=hint)]
    import shapely

    lonlat_deg = shapely.get_coordinates(shapely.from_wkb(places))
    t_s = np.array([_moment_s(text) for text in columns[1]])
    if not np.isfinite(t_s).any():
        hint = "Switch on recording of times."
        return None, [_problem(path, "a track without times", "a time at each point", hint=hint)]
    together = _together(columns[0], t_s)
    if together:
        read = "drives that run at the same time"
        return None, [_problem(path, read, "the drive of one machine in a file")]
    return _checked(path, lonlat_deg, t_s, dropped_count=0)


def _moment_s(text: Any) -> float:
    """Return a point's time; a time without an offset is UTC, as GPX says; NaN if there is none."""
    if not isinstance(text, str):
        return float("nan")
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return float("nan")
    at = at.replace(tzinfo=UTC) if at.tzinfo is None else at
    known = _EARLIEST_YEAR <= at.year <= _LATEST_YEAR
    return at.timestamp() if known else float("nan")


def _together(numbers: NDArray[np.int64], t_s: FloatArray) -> bool:
    """Return whether two tracks of the file were driven at the same time."""
    spans = sorted(
        (float(own.min()), float(own.max()))
        for number in np.unique(numbers)
        if len(own := t_s[(numbers == number) & np.isfinite(t_s)])
    )
    return any(after[0] < one[1] for one, after in pairwise(spans))


def _checked(
    path: Path, lonlat_deg: FloatArray, t_s: FloatArray, *, dropped_count: int
) -> tuple[RecordedTrack | None, list[Problem]]:
    """Return the usable points in order of time, or what is wrong with all of them."""
    usable = np.isfinite(t_s) & np.isfinite(lonlat_deg).all(axis=1)
    usable &= (np.abs(lonlat_deg[:, 0]) <= 180.0) & (np.abs(lonlat_deg[:, 1]) <= 90.0)
    # A receiver without a fix writes zeros: a place in the sea, far from any field.
    usable &= np.abs(lonlat_deg).max(axis=1) > 1e-9
    if int(usable.sum()) < 2:
        return None, [_problem(path, f"{int(usable.sum())} usable points", "two points or more")]
    order = np.flatnonzero(usable)[np.argsort(t_s[usable], kind="stable")]
    return RecordedTrack(
        lonlat_deg=lonlat_deg[order],
        t_s=t_s[order],
        dropped_count=dropped_count + int((~usable).sum()),
    ), []


# -------------------------------------------------------------------------------------- NMEA


def _one_a_second(raw: bytes) -> Iterator[bytes]:
    """Give the RMC sentences whose whole second is new."""
    last = b""
    for found in _SENTENCE.finditer(raw):
        if found.group(1) != last:
            last = found.group(1)
            yield found.group(0)


def _read_nmea(path: Path, raw: bytes) -> tuple[RecordedTrack | None, list[Problem]]:
    """Return the fixes of an NMEA log."""
    from pynmeagps import NMEAReader
    from pynmeagps.exceptions import (
        NMEAMessageError,
        NMEAParseError,
        NMEAStreamError,
        NMEATypeError,
    )

    places: list[tuple[float, float]] = []
    times: list[float] = []
    broken_count = unfixed_count = 0
    for sentence in _one_a_second(raw):
        if len(places) >= MOST_POINTS:
            return None, [_problem(path, "too many fixes", f"no more than {MOST_POINTS:,}")]
        try:
            said = NMEAReader.parse(sentence + b"\r\n", validate=1)
            at, place = _fix(said)
        except (
            NMEAMessageError,
            NMEAParseError,
            NMEAStreamError,
            NMEATypeError,
            ValueError,
            TypeError,
            AttributeError,
        ):
            broken_count += 1
            continue
        if place is None:
            unfixed_count += 1
            continue
        places.append(place)
        times.append(at)
    if broken_count > _MOST_BROKEN_SHARE * (broken_count + unfixed_count + len(places)):
        read = f"{broken_count} broken sentences"
        return None, [
            _problem(path, read, "a log whose sentences are whole", hint="Copy it again.")
        ]
    if not places:
        return None, [_problem(path, "no fix", "two points or more")]
    return _checked(
        path, np.array(places), np.array(times), dropped_count=broken_count + unfixed_count
    )


def _fix(said: Any) -> tuple[float, tuple[float, float] | None]:
    """Return when and where a sentence is; no place where the receiver had no fix."""
    if said.status != "A":
        return float("nan"), None
    at = datetime.combine(said.date, said.time, tzinfo=UTC)
    if not _EARLIEST_YEAR <= at.year <= _LATEST_YEAR:
        return float("nan"), None
    return at.timestamp(), (float(said.lon), float(said.lat))
