"""The doctor: is the store whole, readable here, on a good disk, and is the clock right?"""

from __future__ import annotations

import contextlib
import hashlib
import re
import shutil
import sqlite3
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from sqlalchemy import Connection, Engine, create_engine, func, inspect, select

from duskline.store.engines import (
    is_address,
    plain_errors,
    postgres_engine,
    shown,
    sqlite_engine,
)
from duskline.store.errors import StoreError, StoreMissing
from duskline.store.paths import LOG
from duskline.store.rows import event_of, moment_of_us
from duskline.store.schema import bring_up, version_of
from duskline.store.store import Clock, file_of_place, open_store, utc_now
from duskline.store.tables import EVENTS, FILES, METADATA

__all__ = ["Finding", "doctor", "wrong_in_file"]

Level = Literal["good", "look", "wrong"]

FAULTY_SQLITE = ((3, 7, 0), (3, 51, 2))
"""Versions in which two writers at once can damage a file with a log of changes."""

LEAST_FREE_BYTES, FEW_FREE_BYTES = 50_000_000, 500_000_000
MOST_CHANGES_BYTES = 128_000_000
MOST_TOLD = 5
NETWORK = frozenset(
    ("nfs", "nfs4", "cifs", "smb3", "smbfs", "ncpfs", "afs", "9p", "ceph", "glusterfs", "davfs",
     "fuse.sshfs", "fuse.davfs", "fuse.rclone")
)  # fmt: skip
COPIED = re.compile(r"sync|cloud|drive\b|box\b", re.IGNORECASE)
"""What folders that are copied to other machines as they change are usually called."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One thing looked at: what, whether it is good, worth a look or wrong, and a sentence."""

    key: str
    level: Level
    sentence: str


def doctor(path: str | Path, *, clock: Clock = utc_now) -> list[Finding]:
    """Return what was found, everything that was looked at.

    Parameters
    ----------
    path
        A farm folder, a store's file, or the address of a database.

    Raises
    ------
    StoreMissing
        There is no such place at all.
    """
    if is_address(path):
        engine = postgres_engine(str(path))
        place = shown(str(path))
        with _disposed(engine):
            return list(_looked_through(place, engine, clock))
    file = file_of_place(path)
    if not Path(path).expanduser().exists():
        raise StoreMissing(path, "there is no such folder or file. Name the farm folder.")
    if not file.is_file():
        return [
            Finding(
                key="store",
                level="look",
                sentence=f"No log is kept in {file.parent} yet. `duskline log FARM` begins one.",
            )
        ]
    with _disposed(sqlite_engine(file, writes=False)) as engine:
        found = list(_looked_through(str(file), engine, clock))
    if all(one.level != "wrong" for one in found):
        found += _log_file(file)
    return [*found, *_disk(file), _place(file), _changes(file), _sqlite_version()]


def wrong_in_file(file: Path, *, shown: Path | None = None) -> str:
    """Return what is wrong with a store's file in one sentence; empty where nothing is.

    Raises
    ------
    NotAStore, StoreNewer
        It cannot be looked through at all.
    """
    place = str(shown or file)
    with (
        _disposed(sqlite_engine(file, writes=False)) as engine,
        plain_errors(place),
        engine.connect() as connection,
    ):
        if version_of(connection, place) is None:
            return "there is no log in it."
        found = list(_contents(connection, clock=None))
    return next((one.sentence for one in found if one.level == "wrong"), "")


@contextlib.contextmanager
def _disposed(engine: Engine) -> Iterator[Engine]:
    try:
        yield engine
    finally:
        engine.dispose()


def _looked_through(place: str, engine: Engine, clock: Clock) -> Iterator[Finding]:
    try:
        with plain_errors(place), engine.connect() as connection:
            version = version_of(connection, place)
            if version is None:
                yield Finding(key="schema", level="look", sentence=f"{place} is empty.")
                return
            yield Finding(key="schema", level="good", sentence=f"Form {version}, as it should be.")
            yield from _contents(connection, clock=clock)
    except StoreError as wrong:
        yield Finding(key="store", level="wrong", sentence=str(wrong))


def _contents(connection: Connection, *, clock: Clock | None) -> Iterator[Finding]:
    if connection.dialect.name == "sqlite":
        yield from _whole(connection)
    shape = _shape(connection)
    yield shape
    if shape.level == "wrong":
        return  # what stands there under our names may be anything
    yield _all_there(connection)
    yield _tellings(connection)
    yield _files(connection)
    if clock is not None:
        yield _clock(connection, clock)


def _whole(connection: Connection) -> Iterator[Finding]:
    rows = connection.exec_driver_sql(f"PRAGMA integrity_check({MOST_TOLD})").fetchall()
    if [tuple(row) for row in rows] == [("ok",)]:
        yield Finding(key="integrity", level="good", sentence="The file is whole.")
    else:
        told = "; ".join(str(row[0]).splitlines()[0][:100] for row in rows)
        yield Finding(
            key="integrity",
            level="wrong",
            sentence=f"The file is damaged ({told}). Keep it, and bring the last backup in.",
        )
    if connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall():
        yield Finding(
            key="references", level="wrong", sentence="Rows refer to others that are not there."
        )


def _shape(connection: Connection) -> Finding:
    """Look for tables of another shape, and for anything that would run by itself."""
    look = inspect(connection)
    strange = sorted(set(look.get_table_names()) - {"alembic_version", *METADATA.tables})
    strange += sorted(look.get_view_names())
    if connection.dialect.name == "sqlite":
        ours, theirs = _made_anew(), _written_down(connection)
        strange += sorted(n for n in ours.keys() | theirs.keys() if ours.get(n) != theirs.get(n))
    for name, table in METADATA.tables.items():
        have = {one["name"] for one in look.get_columns(name)} if look.has_table(name) else set()
        if have != {column.name for column in table.columns}:
            strange.append(name)
    strange = list(dict.fromkeys(strange))
    if strange:
        told = ", ".join("".join(c if c.isprintable() else "?" for c in s[:40]) for s in strange)
        return Finding(
            key="tables",
            level="wrong",
            sentence=f"It holds what Duskline did not make ({told[:200]}). Bring the last "
            "backup in.",
        )
    return Finding(key="tables", level="good", sentence="The tables are as they should be.")


def _written_down(connection: Connection) -> dict[str, str]:
    """Return everything a SQLite file holds, each with how it was made."""
    rows = connection.exec_driver_sql("SELECT name, type, sql FROM sqlite_schema")
    return {str(name): f"{kind} {' '.join(str(sql).split())}" for name, kind, sql in rows}


@lru_cache(maxsize=1)
def _made_anew() -> dict[str, str]:
    """Return what a store that is made now holds."""
    with _disposed(create_engine("sqlite://")) as engine, engine.begin() as connection:
        bring_up(connection, "memory", utc_now())
        return _written_down(connection)


def _all_there(connection: Connection) -> Finding:
    count, last = connection.execute(select(func.count(), func.max(EVENTS.c.seq))).one()
    if count != (last or 0):
        return Finding(
            key="events",
            level="wrong",
            sentence=f"{count} events are here, but {last} were taken in: some are missing. "
            "Bring the last backup in.",
        )
    return Finding(key="events", level="good", sentence=f"All {count} events are there.")


def _tellings(connection: Connection) -> Finding:
    changed = []
    for row in connection.execute(select(EVENTS)).mappings():
        try:
            good = event_of(row).digest == row["digest"]
        except (ValueError, TypeError, OverflowError):
            good = False
        if not good:
            changed.append(str(row["id"])[:40])
    if changed:
        return Finding(
            key="tellings",
            level="wrong",
            sentence=f"{len(changed)} events are not as they were told "
            f"({', '.join(changed[:MOST_TOLD])}). Bring the last backup in.",
        )
    return Finding(key="tellings", level="good", sentence="Each event is as it was told.")


def _files(connection: Connection) -> Finding:
    changed = []
    for row in connection.execute(select(FILES).order_by(FILES.c.path)):
        content = bytes(row.content)
        if row.size != len(content) or hashlib.sha256(content).hexdigest() != row.sha256:
            changed.append(f"{row.path}, version {row.version}")
    if changed:
        return Finding(
            key="files",
            level="wrong",
            sentence=f"Files are not as they were saved: {'; '.join(changed[:MOST_TOLD])}.",
        )
    return Finding(key="files", level="good", sentence="Each file is as it was saved.")


def _clock(connection: Connection, clock: Clock) -> Finding:
    newest = connection.execute(select(func.max(EVENTS.c.server_us))).scalar()
    now_at = clock()
    if newest is not None and moment_of_us(newest) > now_at:
        return Finding(
            key="clock",
            level="wrong",
            sentence="The newest event was taken in later than it is now by this machine's clock "
            f"({now_at:%Y-%m-%d %H:%M} UTC). Put the clock right.",
        )
    return Finding(
        key="clock",
        level="good",
        sentence=f"This machine's clock says {now_at:%Y-%m-%d %H:%M} UTC, later than every event.",
    )


# --------------------------------------------------------------------------- around the file


def _log_file(file: Path) -> list[Finding]:
    from duskline.store.farm import log_edited_by_hand

    try:
        with open_store(file, create=False) as store:
            edited = store.fact("log_csv_sha256") and log_edited_by_hand(store, file.parent)
    except StoreError as wrong:
        return [Finding(key="store", level="wrong", sentence=str(wrong))]
    if not edited:
        return []
    return [
        Finding(
            key="log.csv",
            level="look",
            sentence=f"{LOG} was changed by hand. The store is the record: tell the change with "
            "`duskline log`.",
        )
    ]


def _disk(file: Path) -> Iterator[Finding]:
    free = shutil.disk_usage(file.parent).free
    level: Level = "good"
    if free < FEW_FREE_BYTES:
        level = "wrong" if free < LEAST_FREE_BYTES else "look"
    more = "" if level == "good" else " Make room: a full disk takes no more events."
    yield Finding(
        key="disk", level=level, sentence=f"{free / 1e9:,.1f} GB are free on the disk.{more}"
    )


def _place(file: Path) -> Finding:
    kind = _file_system(file.resolve())
    copied = next((one for one in file.resolve().parent.parts if COPIED.search(one)), None)
    if kind in NETWORK:
        return Finding(
            key="place",
            level="look",
            sentence=f"The log lies on a network disk ({kind}), where it can be damaged. Keep it "
            "on this machine's own disk, and put backups there.",
        )
    if copied is not None:
        return Finding(
            key="place",
            level="look",
            sentence=f"Is the folder {copied[:60]!r} copied to other machines as it changes? Then "
            "the log can be damaged there: keep it elsewhere, and put backups there.",
        )
    return Finding(key="place", level="good", sentence="The log lies on a disk of this machine.")


def _file_system(path: Path, mounts: Path = Path("/proc/mounts")) -> str:
    """Return the kind of file system a path lies on; empty where the system does not say."""
    try:
        lines = mounts.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    best, kind = -1, ""
    for line in lines:
        parts = line.split(" ")
        if len(parts) < 3:
            continue
        point = parts[1].replace("\\040", " ")
        if path.is_relative_to(point) and len(point) >= best:
            best, kind = len(point), parts[2]
    return kind


def _changes(file: Path) -> Finding:
    wal = Path(f"{file}-wal")
    size = wal.stat().st_size if wal.is_file() else 0
    if size > MOST_CHANGES_BYTES:
        return Finding(
            key="changes",
            level="look",
            sentence=f"{size / 1e6:,.0f} MB of changes wait to be put into the file. Close every "
            "program that reads the log for long.",
        )
    return Finding(
        key="changes", level="good", sentence=f"{size / 1e6:,.1f} MB of changes wait to be put in."
    )


def _sqlite_version() -> Finding:
    version = sqlite3.sqlite_version
    if FAULTY_SQLITE[0] <= sqlite3.sqlite_version_info <= FAULTY_SQLITE[1]:
        return Finding(
            key="sqlite",
            level="look",
            sentence=f"SQLite {version} on this machine has a rare fault when two programs write "
            "at once. Duskline lets one write at a time; open the log with no other program.",
        )
    return Finding(key="sqlite", level="good", sentence=f"SQLite {version}, Python {_python()}.")


def _python() -> str:
    return ".".join(str(part) for part in sys.version_info[:3])
