"""The farm folder and its store: which is the record, and how one becomes the other.

Where a folder has a store, the store's events are the log and ``log.csv`` is only written out of
it. The files stay in the folder for people to edit; the store keeps a copy of each.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from duskline.answers.telling import with_log
from duskline.core.farm import Farm
from duskline.core.log import Event
from duskline.exchange.farmfolder import FolderRead, read_farm, read_folder
from duskline.exchange.log_csv import LARGEST_BYTES, read_log, write_log
from duskline.exchange.problems import FolderProblem, Problem
from duskline.store.errors import FileRefused, StoreMissing
from duskline.store.files import put_in_place
from duskline.store.locks import OneWriter
from duskline.store.paths import LOG, STORE, plain_path

if TYPE_CHECKING:
    from datetime import datetime, tzinfo

    from duskline.store.store import FileVersion, Store

__all__ = [
    "export_log",
    "folder_into_store",
    "has_store",
    "in_zone",
    "log_edited_by_hand",
    "open_farm_store",
    "read_farm_with_store",
    "read_folder_with_store",
    "save_file",
    "store_into_folder",
]

TAKEN_IN = "folder_taken_in"
WRITTEN = "log_csv_sha256"
TOML = "farm.toml"
MOST_FILES_COUNT = 1000
MOST_BYTES = 256_000_000
EXPORT_WAIT_S = 30.0
_SERVERS = ("postgresql://", "postgres://", "postgresql+psycopg://")


# --------------------------------------------------------------------------- reading


def has_store(folder: Path) -> bool:
    """Return whether the log of this folder is kept in a store."""
    return (folder / STORE).is_file()


def read_farm_with_store(folder_or_url: str | Path) -> Farm:
    """Return the farm of a folder or of a database, with its events as the log.

    Raises
    ------
    FolderProblem
        Anything in the files that has to be put right first.
    StoreError
        The store cannot be used.
    """
    read = read_folder_with_store(folder_or_url)
    if read.farm is None or read.problems:
        raise FolderProblem(tuple(read.problems))
    return read.farm


def read_folder_with_store(folder_or_url: str | Path) -> FolderRead:
    """Read everything as ``read_folder`` does, the events from the store where there is one."""
    if str(folder_or_url).startswith(_SERVERS):
        return _read_server(str(folder_or_url))
    folder = Path(folder_or_url)
    if not has_store(folder):
        return read_folder(folder)
    from duskline.store.store import open_store

    read = read_folder(folder, events=())
    with open_store(folder, create=False) as store:
        return _with_events(read, store.all_events())


def _read_server(address: str) -> FolderRead:
    from duskline.store.store import open_store

    with (
        open_store(address, create=False) as store,
        tempfile.TemporaryDirectory(prefix="duskline-") as name,
    ):
        store_into_folder(store, Path(name))
        return _with_events(read_folder(Path(name), events=()), store.all_events())


def _with_events(read: FolderRead, events: Iterable[Event]) -> FolderRead:
    if read.farm is not None:
        read.farm = with_log(read.farm, in_zone(events, ZoneInfo(read.farm.time_zone)))
    return read


def in_zone(events: Iterable[Event], zone: tzinfo) -> tuple[Event, ...]:
    """Return the events with the times that people read in the farm's zone."""
    return tuple(
        replace(
            event,
            at=event.at.astimezone(zone),
            stop_at=event.stop_at.astimezone(zone) if event.stop_at is not None else None,
        )
        for event in events
    )


# --------------------------------------------------------------------------- the store of a folder


def open_farm_store(
    folder: Path,
    *,
    place: str | Path | None = None,
    by: str = "",
    clock: Callable[[], datetime] | None = None,
) -> Store:
    """Return the store of a folder; a new one takes in the ``log.csv`` that is there.

    Files that were changed in the folder since are copied in.

    Parameters
    ----------
    place
        Where the store is, if not in the folder: a file, or the address of a database.
    by
        Who is said to have changed them.
    clock
        Says when an event was taken in; else this machine's.

    Raises
    ------
    FolderProblem
        The log that was to be taken in has lines that cannot be read; there is no store then.
    StoreError
        The store cannot be used.
    """
    from duskline.store.store import open_store, utc_now

    written = None if place is not None or has_store(folder) else _written_log(folder)
    store = open_store(place if place is not None else folder, clock=clock or utc_now)
    try:
        if not store.fact(TAKEN_IN):
            _take_in_log(store, written if written is not None else _written_log(folder))
            store.set_fact(TAKEN_IN, "yes")
        folder_into_store(folder, store, by=by)
    except BaseException:
        store.close()
        raise
    return store


def _written_log(folder: Path) -> tuple[bytes, tuple[Event, ...]]:
    """Return the log.csv of a folder that has no store: its bytes and its events."""
    path = folder / LOG
    if not path.is_file():
        return b"", ()
    zone = ZoneInfo(read_farm(folder).time_zone)
    events, problems = read_log(path, zone=zone)
    if problems:
        raise FolderProblem(tuple(problems))
    return path.read_bytes(), events


def _take_in_log(store: Store, written: tuple[bytes, tuple[Event, ...]]) -> None:
    content, events = written
    if content:
        store.put_file(LOG, content, by="as it was written before the store")
    store.take_in(events)
    store.set_fact(WRITTEN, hashlib.sha256(content).hexdigest())


def export_log(store: Store, folder: Path, *, zone: tzinfo, system: str) -> Path | None:
    """Write ``log.csv`` anew from the store, whole or not at all; one at a time.

    Returns
    -------
    pathlib.Path or None
        Where a log.csv that was changed by hand since was kept; None where there was none.
    """
    lock = OneWriter(folder / f"{STORE}.export.lock", EXPORT_WAIT_S)
    try:
        with lock.alone():
            return _export_alone(store, folder, zone, system)
    finally:
        lock.close()


def _export_alone(store: Store, folder: Path, zone: tzinfo, system: str) -> Path | None:
    text = write_log(store.all_events(), zone, "metric" if system == "metric" else "us")
    content = text.encode()
    path, digest = folder / LOG, hashlib.sha256(content).hexdigest()
    aside = None
    if log_edited_by_hand(store, folder) and path.read_bytes() != content:
        aside = _free_name(folder / "log-edited.csv")
        put_in_place(aside, path.read_bytes())
    before = store.fact(WRITTEN).rpartition(" ")[2]
    if before != digest:
        # Both are known as ours while the new one is on its way.
        store.set_fact(WRITTEN, f"{before} {digest}")
    put_in_place(path, content)
    return aside


def log_edited_by_hand(store: Store, folder: Path) -> bool:
    """Return whether ``log.csv`` is not as the store wrote it."""
    path = folder / LOG
    if not path.is_file() or path.stat().st_size > LARGEST_BYTES:
        return path.is_file()
    return hashlib.sha256(path.read_bytes()).hexdigest() not in store.fact(WRITTEN).split()


def _free_name(path: Path) -> Path:
    for number in range(1, MOST_FILES_COUNT):
        one = path.with_stem(f"{path.stem}-{number}")
        if not one.exists():
            return one
    raise FileRefused(path, "there are too many of its kind. Move some away.")


def save_file(
    folder: Path,
    store: Store,
    path: str,
    content: bytes,
    *,
    by: str = "",
    expected_version: int | None = None,
) -> FileVersion:
    """Save a file into the store and the folder: the store first, so that no version is lost.

    A version edited in the folder by hand meanwhile is copied in before, and counts as newer
    than the one that was read.

    Raises
    ------
    FileRefused, FileChanged, StoreError
        Nothing was saved.
    """
    target = _inside(folder, plain_path(path))
    if target.is_file():
        store.put_file(path, target.read_bytes())
    saved = store.put_file(path, content, by=by, expected_version=expected_version)
    target.parent.mkdir(parents=True, exist_ok=True)
    put_in_place(target, content)
    return saved


# --------------------------------------------------------------------------- both ways


def folder_into_store(folder: Path, store: Store, *, by: str = "") -> list[Problem]:
    """Copy into the store what is new or changed in the folder, and take out what is gone.

    Returns
    -------
    list of Problem
        Files that were left out, and why.
    """
    have = {one.path: one for one in store.files() if one.path != LOG}
    if TOML in have and not (folder / TOML).exists():
        # No farm was ever without it: the folder is new, or its files have yet to be brought in.
        store_into_folder(store, folder)
    left: list[Problem] = []
    found: set[str] = set()
    total = 0
    for number, (name, file) in enumerate(_files(folder)):
        try:
            plain_path(name)
            size = file.stat().st_size
            total += size
            if number >= MOST_FILES_COUNT or total > MOST_BYTES:
                raise FileRefused("", "The folder holds more than 1,000 files or 256 MB.")
            found.add(name)
            if name not in have or not _same(file, have[name]):
                store.put_file(name, file.read_bytes(), by=by)
        except (FileRefused, OSError) as wrong:
            found.add(name)
            left.append(_left_out(name, wrong))
    for name in have.keys() - found:
        store.remove_file(name, by=by)
    return left


def _left_out(name: str, wrong: Exception) -> Problem:
    shown = "".join(letter if letter.isprintable() else "?" for letter in name[:100])
    return Problem(
        file=shown, where="", read=str(wrong).rstrip("."), expected="a file the store can keep"
    )


def _same(file: Path, saved: FileVersion) -> bool:
    if file.stat().st_size != saved.size:
        return False
    return hashlib.sha256(file.read_bytes()).hexdigest() == saved.sha256


def _files(folder: Path) -> Iterator[tuple[str, Path]]:
    """Give the files of a folder by their path in it; no links, nothing hidden, no store."""
    for place, folders, names in os.walk(folder, followlinks=False):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(names):
            file = Path(place) / name
            path = file.relative_to(folder).as_posix()
            # The store's own files are never opened: closing them would let go of its locks.
            own = path == LOG or path.lower().startswith(STORE) or file.suffix.lower() == ".db"
            if not own and not name.startswith(".") and not file.is_symlink() and file.is_file():
                yield path, file


def store_into_folder(store: Store, folder: Path) -> list[str]:
    """Write the store's files into a folder; one that is there and differs is left as it is.

    Returns
    -------
    list of str
        Those that were left as they are.
    """
    kept = []
    for one in store.files():
        if one.path == LOG:
            continue
        target = _inside(folder, plain_path(one.path))
        content = store.get_file(one.path)
        if target.exists():
            if not target.is_file() or target.read_bytes() != content:
                kept.append(one.path)
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        put_in_place(target, content)
    return kept


def _inside(folder: Path, path: str) -> Path:
    """Return where a file of the folder lies; a link on the way that leads out is refused."""
    base = folder.resolve()
    target = (base / path).resolve()
    if not target.is_relative_to(base) or target == base:
        raise FileRefused("", f"{path} leads out of the farm folder. Take the link away.")
    if not base.is_dir():
        raise StoreMissing(folder, "there is no such folder. Make it, or name another.")
    return target
