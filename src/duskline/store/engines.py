"""Connections: SQLite set so that what is told is on the disk, PostgreSQL by its address."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import QueuePool

from duskline.store.errors import (
    NotAStore,
    StoreBusy,
    StoreDamaged,
    StoreError,
    StoreFull,
    StoreUnreachable,
)

__all__ = ["PRAGMAS", "is_address", "plain_errors", "postgres_engine", "shown", "sqlite_engine"]

BUSY_MS = 5000
PRAGMAS = (
    f"busy_timeout = {BUSY_MS}",
    "synchronous = FULL",
    "foreign_keys = ON",
    "trusted_schema = OFF",
    "cell_size_check = ON",
    "mmap_size = 0",
    "wal_autocheckpoint = 0",
)
"""Of every connection; the journal mode is kept in the file and set when it is made.

Changes are put into the file when the store is closed, or when a great many have gathered, and
not every few moments: a copy of the file and of its changes, taken by whatever program at whatever
moment in between, then holds together.
"""

SCHEMES = ("postgresql://", "postgres://", "postgresql+psycopg://")
READERS_COUNT, MORE_READERS_COUNT = 5, 40


def is_address(place: str | Path) -> bool:
    """Return whether a place is the address of a database server."""
    return isinstance(place, str) and place.startswith(SCHEMES)


def shown(address: str) -> str:
    """Return the address as it may be shown: without its password."""
    return _url(address).render_as_string(hide_password=True)


def _url(address: str) -> URL:
    try:
        return make_url(address).set(drivername="postgresql+psycopg")
    except (ArgumentError, ValueError) as wrong:
        raise StoreUnreachable(
            "", "The address cannot be read; write it as postgresql://user@host/database."
        ) from wrong


def sqlite_engine(path: Path, *, writes: bool) -> Engine:
    """Return connections to the file: one that writes, or several that only read."""
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        connect_args={
            "timeout": BUSY_MS / 1000,
            "isolation_level": None,
            "check_same_thread": False,
        },
        poolclass=QueuePool,
        pool_size=1 if writes else READERS_COUNT,
        max_overflow=0 if writes else MORE_READERS_COUNT,
    )

    @event.listens_for(engine, "connect")
    def _set(connection: Any, _record: Any) -> None:
        for pragma in PRAGMAS if writes else (*PRAGMAS, "query_only = ON"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def postgres_engine(address: str) -> Engine:
    """Return connections to the server.

    Raises
    ------
    StoreUnreachable
        The address cannot be read, or the driver is not installed.
    """
    try:
        return create_engine(
            _url(address),
            pool_pre_ping=True,
            connect_args={"connect_timeout": 10},
        )
    except (ImportError, NoSuchModuleError) as wrong:
        raise StoreUnreachable(
            "", "PostgreSQL needs its driver: install duskline[postgres]."
        ) from wrong


@contextmanager
def plain_errors(place: object) -> Iterator[None]:
    """Turn what the databases say into sentences."""
    try:
        yield
    except DBAPIError as wrong:
        raise _plain(place, wrong.orig, wrong) from wrong
    except SQLAlchemyError as wrong:
        raise StoreUnreachable(place, f"the store does not answer ({_first(wrong)}).") from wrong
    except sqlite3.Error as wrong:
        raise _plain(place, wrong, wrong) from wrong


def _plain(place: object, cause: BaseException | None, wrong: BaseException) -> StoreError:
    code = getattr(cause, "sqlite_errorcode", None)
    state = getattr(cause, "sqlstate", None)
    first = (code or 0) & 0xFF
    if first == sqlite3.SQLITE_FULL or state == "53100":
        return StoreFull(
            place,
            "the disk is full. Nothing was written; make room and tell it again.",
        )
    if first in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) or state in ("55P03", "40P01"):
        return StoreBusy(place, "somebody else is writing. Nothing was written; try again.")
    if first == sqlite3.SQLITE_NOTADB:
        return NotAStore(place, "this file is no Duskline log. Name another, or move it away.")
    if first == sqlite3.SQLITE_CORRUPT:
        return StoreDamaged(
            place,
            "the file is damaged. Keep it as it is, and bring the last backup in with "
            "`duskline restore`.",
        )
    if first == sqlite3.SQLITE_IOERR:
        return StoreFull(
            place,
            "the disk took no more (full, a limit, or failing). Nothing was written; make room "
            "and tell it again.",
        )
    return StoreUnreachable(place, f"the store cannot be used now ({_first(cause or wrong)}).")


def _first(wrong: BaseException) -> str:
    return (str(wrong).strip().splitlines() or [type(wrong).__name__])[0][:200]
