"""The store: events that are on the disk when ``append`` returns, and the farm's files.

One class for SQLite and PostgreSQL. Events are only ever added; a file that is saved anew keeps
its number counting, and of the files a person writes by hand every version stays.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine, Row, delete, func, insert, select, text, update
from sqlalchemy.exc import DBAPIError

from duskline.core.log import Event, identified
from duskline.store.engines import (
    is_address,
    plain_errors,
    postgres_engine,
    shown,
    sqlite_engine,
)
from duskline.store.errors import FileChanged, FileRefused, StoreDamaged, StoreError, StoreMissing
from duskline.store.files import sync_folder
from duskline.store.locks import OneWriter
from duskline.store.paths import LOG, STORE, plain_path
from duskline.store.rows import checked, event_of, moment_of_us, row_of, us_of
from duskline.store.schema import HEAD, bring_up, version_of
from duskline.store.tables import EVENTS, FILES, META

__all__ = ["FileVersion", "Store", "file_of_place", "is_address", "open_store", "utc_now"]

Clock = Callable[[], datetime]

KEPT = ("farm.toml", "fields.geojson", LOG)
"""Files of which every version stays; of others only the last."""

LARGEST_FILE_BYTES = 64_000_000
MOST_FILES_COUNT = 2000
MOST_VERSIONS_COUNT = 10_000
LONGEST_NAME = 200
WAIT_S = 5.0
CHUNK_COUNT = 400
MOST_CHANGES_BYTES = 64_000_000
ADVISORY_LOCK = 0x4475736B
"""The number PostgreSQL's writers agree on."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FileVersion:
    """One saved version of a file; ``gone`` where it was taken out of the folder."""

    path: str
    version: int
    saved_at: datetime
    saved_by: str
    size: int
    sha256: str
    gone: bool = False


def utc_now() -> datetime:
    """Return the moment on this machine's clock."""
    return datetime.now(UTC)


def file_of_place(place: str | Path) -> Path:
    """Return the SQLite file of a place: the file itself, or a farm folder's own."""
    path = Path(place).expanduser().absolute()
    return path / STORE if path.is_dir() else path


def open_store(
    url_or_path: str | Path,
    *,
    create: bool = True,
    clock: Clock = utc_now,
    wait_s: float = WAIT_S,
) -> Store:
    """Return the store, made or brought to the present form where needed.

    Parameters
    ----------
    url_or_path
        A farm folder (its ``duskline.db`` is meant), a file, or ``postgresql://...``.
    create
        Whether one is made where there is none.
    clock
        Says when an event was taken in.
    wait_s
        How long a writer waits for another one. [s]

    Raises
    ------
    StoreMissing, NotAStore, StoreNewer, StoreDamaged, StoreUnreachable, StoreBusy, StoreFull
        It cannot be used; the sentence says why and what to do.
    """
    if is_address(url_or_path):
        address = str(url_or_path)
        engine = postgres_engine(address)
        steady = engine.execution_options(isolation_level="REPEATABLE READ")
        store = Store(shown(address), steady, engine, OneWriter(None, wait_s), clock, file=None)
    else:
        file = file_of_place(url_or_path)
        if not create and not file.is_file():
            raise StoreMissing(file, "there is no log here yet. `duskline log FARM` begins one.")
        if not file.parent.is_dir():
            raise StoreMissing(file.parent, "there is no such folder. Make it, or name another.")
        lock = OneWriter(file.with_name(file.name + ".lock"), wait_s)
        reading, writing = sqlite_engine(file, writes=False), sqlite_engine(file, writes=True)
        store = Store(str(file), reading, writing, lock, clock, file=file)
    try:
        store.prepare(create=create)
    except BaseException:
        store.close()
        raise
    return store


class Store:
    """The log and the files of one farm. Any number of threads may use it.

    Made by ``open_store``.

    Attributes
    ----------
    place
        The file, or the address without its password.
    file
        The SQLite file; None for a database server.
    """

    def __init__(
        self,
        place: str,
        reading: Engine,
        writing: Engine,
        lock: OneWriter,
        clock: Clock,
        *,
        file: Path | None,
    ) -> None:
        self.place = place
        self.file = file
        self._reading = reading
        self._writing_engine = writing
        self._lock = lock
        self._clock = clock

    # ----------------------------------------------------------------------- open and close

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close all connections; what was appended is on the disk already."""
        self._reading.dispose()
        self._writing_engine.dispose()
        self._lock.close()

    def prepare(self, *, create: bool) -> None:
        """Make the tables, or bring them to the present form."""
        if self.file is None or (self.file.is_file() and self.file.stat().st_size):
            # Nothing is written into a file before it is known to be a store.
            with self.reading() as connection:
                ready = version_of(connection, self.place) == HEAD
                if ready and (self.file is None or _changes_apart(connection)):
                    return
        if self.file is not None:
            self._keep_changes_apart(self.file)
        with self.writing() as connection:
            if not create and version_of(connection, self.place) is None:
                raise StoreMissing(self.place, "there is no log in it yet.")
            bring_up(connection, self.place, self._clock())

    def _keep_changes_apart(self, file: Path) -> None:
        """Set the journal mode, which the file keeps, and put its name on the disk."""
        with self._lock.alone(), plain_errors(self.place):
            raw = self._writing_engine.raw_connection()
            try:
                cursor = raw.cursor()
                cursor.execute("PRAGMA journal_mode")
                if cursor.fetchone() != ("wal",):
                    cursor.execute("PRAGMA journal_mode = WAL")
                    sync_folder(file.parent)
                cursor.close()
            finally:
                raw.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that only reads, all of it as of one moment."""
        with plain_errors(self.place), self._reading.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give the connection that writes, alone; kept on the disk at the end, or not at all."""
        with self._lock.alone(), plain_errors(self.place):
            self._put_changes_in()
            connection = self._writing_engine.connect()
            try:
                with connection.begin():
                    if self.file is None:
                        self._wait_on_server(connection)
                    yield connection
            except DBAPIError:
                # After a failed write the connection is not trusted with the next one.
                connection.invalidate()
                raise
            finally:
                connection.close()

    def _wait_on_server(self, connection: Connection) -> None:
        """Wait for the other writers, on this machine or elsewhere."""
        wait_ms = max(1, round(1000 * self._lock.wait_s))
        connection.execute(
            text("SELECT set_config('lock_timeout', :wait, true)"), {"wait": str(wait_ms)}
        )
        connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": ADVISORY_LOCK})

    def _put_changes_in(self) -> None:
        """Put the changes into the file once they are many, while nobody else writes."""
        if self.file is None:
            return
        try:
            size = self.file.with_name(self.file.name + "-wal").stat().st_size
        except OSError:
            return
        if size > MOST_CHANGES_BYTES:
            raw = self._writing_engine.raw_connection()
            try:
                raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
            finally:
                raw.close()

    # ----------------------------------------------------------------------- events

    def append(self, events: Iterable[Event]) -> tuple[Event, ...]:
        """Return the events as taken in; they are on the disk then.

        All of them or none. One that is in the store already (same id, same telling) is returned
        as it was first taken in.

        Raises
        ------
        EventRefused
            One that no log can hold.
        StoreFull, StoreBusy, StoreUnreachable
            Nothing was written; the store can be used on.
        """
        return self._take_in(events, keep_moment=False)

    def take_in(self, events: Iterable[Event]) -> tuple[Event, ...]:
        """Append events of another store or of a log file, with the moments they were taken in."""
        return self._take_in(events, keep_moment=True)

    def _take_in(self, events: Iterable[Event], *, keep_moment: bool) -> tuple[Event, ...]:
        told = [checked(event) for event in identified(events)]
        if not told:
            return ()
        with self.writing() as connection:
            now_at = self._clock()
            known = _known(connection, {event.id for event in told})
            seq = _last_seq(connection)
            rows, found = [], []
            for event in told:
                key = (event.id, event.digest)
                if key not in known:
                    keep = keep_moment and event.server_at is not None
                    known[key] = event if keep else replace(event, server_at=now_at)
                    seq += 1
                    rows.append({**row_of(known[key]), "seq": seq})
                found.append(known[key])
            if rows:
                connection.execute(insert(EVENTS), rows)
        return tuple(found)

    def events(self, since_seq: int = 0) -> list[tuple[int, Event]]:
        """Return the events taken in after number ``since_seq``, each with its number.

        Raises
        ------
        StoreDamaged
            A row is no event.
        """
        rows = select(EVENTS).where(EVENTS.c.seq > since_seq).order_by(EVENTS.c.seq)
        with self.reading() as connection, _whole_rows(self.place):
            return [(row["seq"], event_of(row)) for row in connection.execute(rows).mappings()]

    def all_events(self) -> tuple[Event, ...]:
        """Return every event, in the order they were taken in, times in UTC."""
        return tuple(event for _, event in self.events())

    def last_seq(self) -> int:
        """Return the number of the event taken in last; 0 while there is none."""
        with self.reading() as connection:
            return _last_seq(connection)

    # ----------------------------------------------------------------------- facts

    @property
    def farm_id(self) -> str:
        """The store's own name, the same in every copy of it."""
        return self.fact("farm_id")

    def fact(self, key: str) -> str:
        """Return a fact the store keeps of itself; empty where it has none."""
        with self.reading() as connection:
            found = connection.execute(select(META.c.value).where(META.c.key == key)).scalar()
        return str(found) if found is not None else ""

    def set_fact(self, key: str, value: str) -> None:
        """Keep a fact."""
        with self.writing() as connection:
            changed = connection.execute(
                update(META).where(META.c.key == key).values(value=value)
            ).rowcount
            if not changed:
                connection.execute(insert(META).values(key=key, value=value))

    # ----------------------------------------------------------------------- files

    def put_file(
        self,
        path: str,
        content: bytes,
        *,
        by: str = "",
        expected_version: int | None = None,
    ) -> FileVersion:
        """Return the version saved; the last one, if it holds the same bytes.

        Parameters
        ----------
        path
            Relative to the farm folder, parted by "/".
        by
            Who saves it.
        expected_version
            The version that was read before it was changed, 0 for none; saving over a newer
            one is refused.

        Raises
        ------
        FileRefused
            No name for a farm folder, or more than 64 MB.
        FileChanged
            Somebody saved it since it was read.
        StoreFull, StoreBusy, StoreUnreachable
            Nothing was written.
        """
        return self._save(plain_path(path), content, by, expected_version, gone=False)

    def remove_file(
        self, path: str, *, by: str = "", expected_version: int | None = None
    ) -> FileVersion:
        """Take a file out of the folder; its last version stays in its history."""
        return self._save(plain_path(path), b"", by, expected_version, gone=True)

    def _save(
        self, path: str, content: bytes, by: str, expected: int | None, *, gone: bool
    ) -> FileVersion:
        if len(content) > LARGEST_FILE_BYTES:
            raise FileRefused("", f"{path} is larger than 64 MB. Leave out what is not needed.")
        if len(by) > LONGEST_NAME or "\x00" in by:
            raise FileRefused("", "The name of who saves it is too long.")
        with self.writing() as connection:
            last = _last_version(connection, path)
            have = last.version if last is not None else 0
            if expected is not None and expected != have:
                raise FileChanged(
                    "",
                    f"{path} was saved by {(last and last.saved_by) or 'somebody'} since you "
                    "opened it. Look at the new one first, then make your change in it.",
                )
            digest = hashlib.sha256(content).hexdigest()
            if last is not None and last.sha256 == digest and last.gone == gone:
                return last
            _check_room(connection, path, have)
            saved = FileVersion(
                path=path,
                version=have + 1,
                saved_at=self._clock(),
                saved_by=by,
                size=len(content),
                sha256=digest,
                gone=gone,
            )
            if path not in KEPT and not gone:
                connection.execute(delete(FILES).where(FILES.c.path == path))
            connection.execute(insert(FILES).values(**_file_row(saved), content=content))
        return saved

    def get_file(self, path: str, version: int | None = None) -> bytes:
        """Return the bytes of a file: of its last version, or of the one named.

        Raises
        ------
        StoreMissing
            No such file, or no such version of it; or it was taken out.
        """
        wanted = select(FILES.c.content, FILES.c.gone).where(FILES.c.path == path)
        if version is not None:
            wanted = wanted.where(FILES.c.version == version)
        with self.reading() as connection:
            row = connection.execute(wanted.order_by(FILES.c.version.desc()).limit(1)).first()
        if row is None or row.gone:
            raise StoreMissing(self.place, f"there is no {path[:LONGEST_NAME]} in the store.")
        return bytes(row.content)

    def files(self) -> list[FileVersion]:
        """Return the files as they are now, by name, without their bytes."""
        with self.reading() as connection:
            return [one for one in _last_versions(connection) if not one.gone]

    def history(self, path: str) -> list[FileVersion]:
        """Return the versions kept of a file, the first one first."""
        with self.reading() as connection:
            rows = connection.execute(
                select(*_FACTS).where(FILES.c.path == path).order_by(FILES.c.version)
            )
            return [_file_version(row) for row in rows]


# --------------------------------------------------------------------------- rows


_FACTS = tuple(column for column in FILES.c if column.name != "content")


@contextmanager
def _whole_rows(place: str) -> Iterator[None]:
    try:
        yield
    except StoreError:
        raise
    except (ValueError, TypeError, OverflowError) as wrong:
        raise StoreDamaged(
            place,
            "an event in it cannot be read. `duskline doctor` says which; bring the last "
            "backup in with `duskline restore`.",
        ) from wrong


def _changes_apart(connection: Connection) -> bool:
    return connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"


def _known(connection: Connection, ids: set[str]) -> dict[tuple[str, str], Event]:
    """Return the events in the store under these ids, by id and fingerprint."""
    found: dict[tuple[str, str], Event] = {}
    ordered = sorted(ids)
    for start in range(0, len(ordered), CHUNK_COUNT):
        part: Sequence[str] = ordered[start : start + CHUNK_COUNT]
        for row in connection.execute(select(EVENTS).where(EVENTS.c.id.in_(part))).mappings():
            found[row["id"], row["digest"]] = event_of(row)
    return found


def _last_seq(connection: Connection) -> int:
    return int(connection.execute(select(func.max(EVENTS.c.seq))).scalar() or 0)


def _last_version(connection: Connection, path: str) -> FileVersion | None:
    row = connection.execute(
        select(*_FACTS).where(FILES.c.path == path).order_by(FILES.c.version.desc()).limit(1)
    ).first()
    return _file_version(row) if row is not None else None


def _last_versions(connection: Connection) -> list[FileVersion]:
    last = select(FILES.c.path, func.max(FILES.c.version).label("version")).group_by(FILES.c.path)
    newest = last.subquery()
    rows = connection.execute(
        select(*_FACTS).join(
            newest, (FILES.c.path == newest.c.path) & (FILES.c.version == newest.c.version)
        )
    )
    return sorted((_file_version(row) for row in rows), key=lambda one: one.path)


def _check_room(connection: Connection, path: str, have: int) -> None:
    if have >= MOST_VERSIONS_COUNT:
        raise FileRefused("", f"{path} has been saved {have} times; no more are kept.")
    count = connection.execute(select(func.count(func.distinct(FILES.c.path)))).scalar() or 0
    if not have and count >= MOST_FILES_COUNT:
        raise FileRefused("", f"The farm has {count} files already; take some out first.")


def _file_row(saved: FileVersion) -> dict[str, Any]:
    return {
        "path": saved.path,
        "version": saved.version,
        "saved_us": us_of(saved.saved_at),
        "saved_by": saved.saved_by,
        "gone": int(saved.gone),
        "size": saved.size,
        "sha256": saved.sha256,
    }


def _file_version(row: Row[Any]) -> FileVersion:
    return FileVersion(
        path=row.path,
        version=row.version,
        saved_at=moment_of_us(row.saved_us),
        saved_by=row.saved_by,
        size=row.size,
        sha256=row.sha256,
        gone=bool(row.gone),
    )
