"""Reading recorded drives: GPX files and NMEA logs, whole, broken and hostile."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_drives import made_drive

from duskline.core.track import read_drive
from duskline.exchange import tracks
from duskline.exchange.projection import LocalPlane
from duskline.exchange.tracks import RecordedTrack, in_plane, read_track

NOON_S = datetime(2026, 10, 18, 12, tzinfo=UTC).timestamp()
PLANE = LocalPlane(lon_deg=-93.1, lat_deg=41.5)


def gpx(*points: str, head: str = "", version: str = "1.1") -> str:
    """A GPX file of one track with these points."""
    space = f"http://www.topografix.com/GPX/{version.replace('.', '/')}"
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{head}<gpx version="{version}" creator="made" '
        f'xmlns="{space}"><trk><trkseg>{"".join(points)}</trkseg></trk></gpx>'
    )


def point(lat: float, lon: float, time: str = "") -> str:
    """One point of a track."""
    told = f"<time>{time}</time>" if time else ""
    return f'<trkpt lat="{lat:.9f}" lon="{lon:.9f}">{told}</trkpt>'


def rmc(time: str, *, lat: str = "4130.00000", lon: str = "09306.00000", status: str = "A") -> str:
    """One RMC sentence of 18 October 2026 with its check sum."""
    body = f"GPRMC,{time},{status},{lat},N,{lon},W,5.0,0.0,181026,,,A"
    return f"${body}*{reduce(xor, body.encode()):02X}"


def read(folder: Path, content: str | bytes) -> tuple[RecordedTrack | None, str]:
    """The track in a file with this content, and its problems in one text."""
    path = folder / "drive.gpx"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    found, problems = read_track(path)
    assert (found is None) == bool(problems)
    return found, "\n".join(problem.sentence for problem in problems)


def track(folder: Path, content: str | bytes) -> RecordedTrack:
    """The track in a file that must be read."""
    found, problems = read(folder, content)
    assert found is not None, problems
    return found


# --- GPX -----------------------------------------------------------------------------------


@pytest.mark.parametrize("version", ["1.0", "1.1"])
def test_a_gpx_track_is_read_with_its_times_whatever_their_offset(
    tmp_path: Path, version: str
) -> None:
    """Noon UTC, half a second later, and 7:00:05 at five hours west: 12:00:05 UTC."""
    found = track(
        tmp_path,
        gpx(
            point(41.5, -93.1, "2026-10-18T12:00:00Z"),
            point(41.5001, -93.1, "2026-10-18T12:00:00.500Z"),
            point(41.5002, -93.1001, "2026-10-18T07:00:05-05:00"),
            version=version,
        ),
    )
    assert found.t_s - NOON_S == pytest.approx([0.0, 0.5, 5.0])
    assert found.lonlat_deg[2] == pytest.approx([-93.1001, 41.5002])
    assert found.dropped_count == 0


def test_points_come_in_order_of_time_and_those_without_are_counted(tmp_path: Path) -> None:
    """Out of order, one without a time, one from before there were such logs."""
    found = track(
        tmp_path,
        gpx(
            point(41.5002, -93.1, "2026-10-18T12:00:02Z"),
            point(41.5, -93.1, "2026-10-18T12:00:00Z"),
            point(41.6, -93.1),
            point(41.7, -93.1, "1980-01-06T00:00:00Z"),
        ),
    )
    assert found.t_s - NOON_S == pytest.approx([0.0, 2.0])
    assert found.dropped_count == 2


def test_a_drive_written_to_gpx_reads_back_its_own_numbers(tmp_path: Path) -> None:
    """Through the file and the plane: 10 passes 8.1 m apart at 2.5 m/s, as they were driven."""
    drive = made_drive(passes=10, length_m=300.0)
    times = [datetime.fromtimestamp(NOON_S + t, tz=UTC).isoformat() for t in drive.t_s.tolist()]
    places = PLANE.to_lonlat(drive.points_m)
    points = [point(lat, lon, t) for (lon, lat), t in zip(places.tolist(), times, strict=True)]
    found = in_plane(track(tmp_path, gpx(*points)), PLANE)
    assert np.abs(found.points_m - drive.points_m).max() < 1e-3
    said = read_drive(found, width_m=9.0)
    assert len(said.passes) == 10
    assert said.joints is not None
    assert said.joints.overlap_m == pytest.approx(0.9, abs=1e-3)
    assert said.speed_mps == pytest.approx(2.5, rel=1e-3)


@pytest.mark.parametrize(
    "head",
    [
        '<!DOCTYPE gpx [<!ENTITY a "b">]>',
        "<!doctype gpx>",
        '<!-- harmless --><!DOCTYPE gpx SYSTEM "file:///etc/passwd">',
    ],
)
def test_document_types_and_entities_are_refused_unread(
    tmp_path: Path, head: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reading library never sees them."""
    import pyogrio.raw

    def never(*_: object, **__: object) -> None:
        raise AssertionError("the file was opened")

    monkeypatch.setattr(pyogrio.raw, "read", never)
    whole = gpx(point(41.5, -93.1, "2026-10-18T12:00:00Z"), head=head)
    _, problems = read(tmp_path, whole)
    assert "expected a" in problems
    inside = gpx("<!ENTITY x SYSTEM 'file:///etc/passwd'>")
    assert "document type" in read(tmp_path, inside)[1]


def test_other_kinds_of_file_dressed_as_gpx_are_refused(tmp_path: Path) -> None:
    """A pointer to further files inside a GPX file, and a GPX tag inside such a pointer."""
    inner = gpx("<OGRVRTDataSource><SrcDataSource>/etc/passwd</SrcDataSource></OGRVRTDataSource>")
    assert "another kind of file" in read(tmp_path, inner)[1]
    outer = "<OGRVRTDataSource><!-- <gpx --></OGRVRTDataSource>"
    assert "neither of them" in read(tmp_path, outer)[1]
    wide = gpx(point(41.5, -93.1, "2026-10-18T12:00:00Z")).encode("utf-16")
    assert "no text" in read(tmp_path, wide)[1]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "neither of them"),
        ("hello", "neither of them"),
        (gpx(), "no track points"),
        (gpx(point(41.5, -93.1), point(41.6, -93.1)), "without times"),
        (gpx(point(41.5, -93.1, "2026-10-18T12:00:00Z")), "1 usable points"),
        (gpx(point(41.5, -93.1, "2026-10-18T12:00:00Z"))[:180], "slip"),
        (
            gpx(point(0.0, 0.0, "2026-10-18T12:00:00Z"), point(0.0, 0.0, "2026-10-18T12:00:01Z")),
            "0 usable points",
        ),
    ],
)
def test_files_that_hold_no_drive_are_told_plainly(tmp_path: Path, content: str, said: str) -> None:
    """Empty, not a track, marks only, no times, one point, cut off, no fix."""
    assert said in read(tmp_path, content)[1]


def test_two_machines_in_one_file_are_refused(tmp_path: Path) -> None:
    """Two tracks at the same time cannot be one machine; one after the other may."""
    one = point(41.5, -93.1, "2026-10-18T12:00:00Z") + point(41.6, -93.1, "2026-10-18T13:00:00Z")
    later = point(41.5, -93.1, "2026-10-18T14:00:00Z") + point(41.6, -93.1, "2026-10-18T15:00:00Z")
    parted = "</trkseg></trk><trk><trkseg>"
    assert "at the same time" in read(tmp_path, gpx(one, parted, one))[1]
    assert len(track(tmp_path, gpx(one, parted, later)).t_s) == 4


def test_files_too_large_and_files_that_are_not_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """More bytes than are read, more points than are kept, and no file at all."""
    found, problems = read_track(tmp_path / "nowhere.gpx")
    assert found is None
    assert "a file that can be read" in problems[0].sentence
    two = gpx(*(point(41.5, -93.1, f"2026-10-18T12:00:0{n}Z") for n in range(2)))
    monkeypatch.setattr(tracks, "MOST_POINTS", 1)
    assert "too many points" in read(tmp_path, two)[1]
    monkeypatch.setattr(tracks, "LARGEST_BYTES", 100)
    assert "more than 0 MB" in read(tmp_path, two)[1]


# --- NMEA ----------------------------------------------------------------------------------


def test_an_nmea_log_is_read_a_fix_a_second(tmp_path: Path) -> None:
    """A receiver at 5 Hz with other sentences between: one fix for each of three seconds."""
    lines = []
    for second in range(3):
        for part in range(0, 10, 2):
            lines.append(rmc(f"12000{second}.{part}0", lat=f"4130.0{second}000"))
            lines.append("$GPVTG,0.0,T,,M,5.0,N,9.3,K,A*0F")
    found = track(tmp_path, "\r\n".join(lines))
    assert found.t_s - NOON_S == pytest.approx([0.0, 1.0, 2.0])
    assert found.lonlat_deg[:, 1] == pytest.approx([41.5, 41.5 + 0.01 / 60, 41.5 + 0.02 / 60])
    assert found.lonlat_deg[0, 0] == pytest.approx(-93.1)


def test_broken_sentences_and_seconds_without_a_fix_are_counted(tmp_path: Path) -> None:
    """One with a wrong check sum, one without a fix, three good ones, prefixed by a logger."""
    good = [f"12:00:0{n} > " + rmc(f"12000{n}.00") for n in range(3)]
    broken = rmc("120003.00")[:-2] + "00"
    unfixed = rmc("120004.00", status="V")
    found = track(tmp_path, "\n".join([*good, broken, unfixed]))
    assert len(found.t_s) == 3
    assert found.dropped_count == 2


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("\n".join(rmc(f"12000{n}.00")[:-2] + "00" for n in range(5)), "broken sentences"),
        ("\n".join(rmc(f"12000{n}.00", status="V") for n in range(5)), "no fix"),
        ("$GPGGA,120000,4130.0,N,09306.0,W,1,08,0.9,300,M,,,,*00", "without dates"),
        (rmc("120000.00"), "1 usable points"),
    ],
)
def test_logs_that_hold_no_drive_are_told_plainly(tmp_path: Path, content: str, said: str) -> None:
    """Broken, no fix, no date, a single fix."""
    assert said in read(tmp_path, content)[1]


@given(st.binary(max_size=300), st.integers(0, 400), st.integers(0, 400))
@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_file_brings_the_reader_down(tmp_path: Path, junk: bytes, at: int, cut: int) -> None:
    """Junk alone, and junk inside a GPX file and an NMEA log: a track or a problem, no crash."""
    whole = gpx(*(point(41.5, -93.1, f"2026-10-18T12:00:0{n}Z") for n in range(3))).encode()
    log = "\n".join(rmc(f"12000{n}.00") for n in range(6)).encode()
    for content in (junk, whole[:at] + junk + whole[at + cut :], log[:at] + junk + log[at + cut :]):
        read(tmp_path, content)
