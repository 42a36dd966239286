"""Backups: one file that holds the log and the farm's files, made while others write."""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path

from sqlalchemy import insert, select

from duskline.store.checkup import wrong_in_file
from duskline.store.engines import is_address, plain_errors
from duskline.store.errors import (
    AlreadyThere,
    StoreBusy,
    StoreDamaged,
    StoreError,
    StoreFull,
    StoreMissing,
)
from duskline.store.files import sync_file, sync_folder
from duskline.store.locks import OneWriter
from duskline.store.store import WAIT_S, Clock, Store, file_of_place, open_store, utc_now
from duskline.store.tables import FILES, META

__all__ = ["Restored", "backup", "restore"]

BESIDE = ("-wal", "-shm")


@dataclass(frozen=True, kw_only=True, slots=True)
class Restored:
    """Where the log is now, and where the old one was kept; None where there was none."""

    file: Path
    kept: Path | None


# --------------------------------------------------------------------------- backup


def backup(store_path: str | Path, to: Path, *, clock: Clock = utc_now) -> Path:
    """Return the file the backup was written to; it is whole and on the disk then.

    Parameters
    ----------
    store_path
        A farm folder, a store's file, or the address of a database.
    to
        A file that is not there yet, or a folder: then the file is named by the time.

    Raises
    ------
    AlreadyThere
        There is a file of that name.
    StoreError
        The store cannot be read, or the place not be written.
    """
    target = to.expanduser().absolute()
    if target.is_dir():
        target /= f"duskline-{clock().astimezone(UTC):%Y%m%d-%H%M%SZ}.db"
    if target.exists():
        raise AlreadyThere(target, "there is a file of this name. Name another one.")
    if not target.parent.is_dir():
        raise StoreMissing(target.parent, "there is no such folder. Make it, or name another.")
    with _new_file(target) as beside:
        if is_address(store_path):
            _copy_server(str(store_path), beside)
        else:
            file = file_of_place(store_path)
            if not file.is_file():
                raise StoreMissing(file, "there is no log here yet, so nothing to back up.")
            _vacuum_into(file, beside)
        found = wrong_in_file(beside)
        if found:
            raise StoreDamaged(store_path, f"no backup was made: {found}")
    return target


@contextmanager
def _new_file(target: Path) -> Iterator[Path]:
    """Give a name beside the target; what was written there takes the target's name at the end."""
    beside = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    try:
        yield beside
        with _disk_errors(target):
            sync_file(beside)
            try:
                os.link(beside, target)  # unlike a rename, refuses a name that is taken
            except FileExistsError as wrong:
                raise AlreadyThere(target, "there is a file of this name now.") from wrong
            except OSError:
                beside.rename(target)
            sync_folder(target.parent)
    finally:
        _unlink(beside, *(Path(f"{beside}{end}") for end in (*BESIDE, ".lock", "-journal")))


def _vacuum_into(file: Path, target: Path) -> None:
    with plain_errors(file), contextlib.closing(_connected(file)) as connection:
        connection.execute("VACUUM INTO ?", (str(target),))


def _connected(file: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(file, timeout=WAIT_S, isolation_level=None)
    connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA mmap_size = 0")
    return connection


def _copy_server(address: str, target: Path) -> None:
    """Copy a database of the server into a SQLite file."""
    with open_store(address, create=False) as source, open_store(target) as copy:
        _copy_rows(source, copy)
    with plain_errors(target), contextlib.closing(_connected(target)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


def _copy_rows(source: Store, copy: Store) -> None:
    copy.take_in(source.all_events())
    with source.reading() as given, copy.writing() as taken:
        taken.execute(META.delete())
        taken.execute(insert(META), [dict(row) for row in given.execute(select(META)).mappings()])
        for row in given.execute(select(FILES)).mappings():
            taken.execute(insert(FILES), dict(row))


# --------------------------------------------------------------------------- restore


def restore(source: Path, to: Path, *, clock: Clock = utc_now) -> Restored:
    """Put a backup in the place of the store; the old one is kept beside it.

    Parameters
    ----------
    source
        A backup, or any store's file that nobody has open.
    to
        A farm folder, or the store's file.

    Raises
    ------
    StoreDamaged, NotAStore, StoreNewer
        The backup is not good; everything is left as it was.
    StoreBusy
        Somebody has the store open.
    """
    file, given = file_of_place(to), source.expanduser().absolute()
    if not given.is_file():
        raise StoreMissing(given, "there is no such file. Name the backup.")
    if file.exists() and given.samefile(file):
        raise AlreadyThere(given, "this is the log itself. Name a backup of it.")
    if not file.parent.is_dir():
        raise StoreMissing(file.parent, "there is no such folder. Make it, or name another.")
    beside = file.with_name(f".{file.name}.{secrets.token_hex(4)}")
    lock = OneWriter(file.with_name(f"{file.name}.lock"), WAIT_S)
    try:
        _copy_checked(given, beside)
        with lock.alone():
            _refuse_open(file)
            kept = _keep_old(file, f"{clock().astimezone(UTC):%Y%m%d-%H%M%SZ}")
            with _disk_errors(file):
                # A log of changes that belongs to the old file must never meet the new one.
                _unlink(*(Path(f"{file}{end}") for end in BESIDE))
                os.replace(beside, file)
                sync_folder(file.parent)
    finally:
        lock.close()
        _unlink(beside, *(Path(f"{beside}{end}") for end in BESIDE))
    return Restored(file=file, kept=kept)


def _copy_checked(given: Path, beside: Path) -> None:
    """Copy the backup beside its place, as one file, and refuse one that is not good."""
    _copy_with_changes(given, beside)
    with plain_errors(given), contextlib.closing(_connected(beside)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    found = wrong_in_file(beside, shown=given)
    if found:
        raise StoreDamaged(
            given, f"this backup is not good: {found} Nothing was changed; take another one."
        )
    sync_file(beside)


def _copy_with_changes(given: Path, target: Path) -> None:
    with _disk_errors(target):
        for end in ("", "-wal"):
            if Path(f"{given}{end}").is_file():
                shutil.copyfile(f"{given}{end}", f"{target}{end}")
                sync_file(Path(f"{target}{end}"))


def _refuse_open(file: Path) -> None:
    """Refuse a store that another program has open; a damaged one is nobody's."""
    if not file.is_file():
        return
    try:
        with plain_errors(file), contextlib.closing(sqlite3.connect(file, timeout=0.2)) as one:
            one.isolation_level = None
            one.execute("PRAGMA locking_mode = EXCLUSIVE")
            one.execute("BEGIN EXCLUSIVE")
            one.execute("ROLLBACK")
    except StoreBusy:
        raise StoreBusy(
            file, "another program has the log open. Stop `duskline serve` first, then try again."
        ) from None
    except StoreError:
        return


def _keep_old(file: Path, stamp: str) -> Path | None:
    if not file.is_file():
        return None
    kept = file.with_name(f"{file.name}.before-{stamp}")
    if kept.exists():
        kept = kept.with_name(f"{kept.name}-{secrets.token_hex(4)}")
    _copy_with_changes(file, kept)
    sync_folder(file.parent)
    return kept


@contextmanager
def _disk_errors(place: Path) -> Iterator[None]:
    try:
        yield
    except OSError as wrong:
        reason = (wrong.strerror or "refused").lower()
        raise StoreFull(
            place, f"the disk took no more ({reason}). Make room, or name another place."
        ) from wrong


def _unlink(*files: Path) -> None:
    for file in files:
        with contextlib.suppress(OSError):
            file.unlink()
