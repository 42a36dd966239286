"""Stores and events for the tests: a PostgreSQL of our own, made events, writers to be killed."""

from __future__ import annotations

import atexit
import contextlib
import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Self
from urllib.parse import quote

import psycopg
from hypothesis import strategies as st

from duskline.core.log import KINDS, Event
from duskline.store.errors import StoreFull
from duskline.store.store import open_store

MORNING = datetime(2026, 10, 18, 14, tzinfo=UTC)
DEBIAN = Path("/usr/lib/postgresql")
NO_SERVER = "PostgreSQL's server programs are not on this machine (Debian: postgresql)"


def covered(number: int, *, area_m2: float = 4000.0, **more: object) -> Event:
    """An event of its own: some ground covered, ``number`` minutes into the morning."""
    found: dict[str, object] = {
        "at": MORNING + timedelta(minutes=number),
        "what": "covered",
        "machine": "Cultivator 1",
        "field": "A1",
        "area_m2": area_m2,
        "id": f"e{number}",
        "device": "desk",
    }
    return Event(**{**found, **more})  # type: ignore[arg-type]


def in_utc(event: Event) -> tuple[object, ...]:
    """Everything an event holds, moments as UTC: equal for equal events in whatever zone.

    Two moments of an hour that comes twice are never equal across zones, so they are not
    compared as they stand.
    """
    values = (getattr(event, name) for name in Event.__slots__)
    return tuple(one.astimezone(UTC) if isinstance(one, datetime) else one for one in values)


# --------------------------------------------------------------------------- made events

_TEXT = st.text(max_size=40) | st.sampled_from(
    ["", "=1+1", "+44", "-", "@home", "'quoted", "'=x", "''", '\'"not json"', "a;=1", "tab\t=1",
     "two\nlines", " spaced ", "#", "naïve, \"so\"", "＝SUM(A1)", "null", "all"]
)  # fmt: skip
TEXTS = _TEXT.filter(
    lambda text: "\x00" not in text and not any("\ud800" <= one <= "\udfff" for one in text)
)
MOMENTS = st.datetimes(
    min_value=datetime(2000, 1, 3),  # noqa: DTZ001
    max_value=datetime(2100, 12, 29),  # noqa: DTZ001
    timezones=st.just(UTC),
)


def figures(most: float) -> st.SearchStrategy[float | None]:
    """Nothing, or any figure up to the most a log takes."""
    return st.none() | st.floats(0.0, most) | st.integers(0, 500).map(lambda n: n * 4046.8564224)


@st.composite
def events(draw: st.DrawFn) -> Event:
    """Any event a log can hold."""
    return Event(
        at=draw(MOMENTS),
        what=draw(st.sampled_from(KINDS)),
        machine=draw(TEXTS),
        field=draw(TEXTS),
        area_m2=draw(figures(1e8)),
        mass_kg=draw(st.none() | st.floats(0.0, 1e6)),
        took_s=draw(st.none() | st.floats(0.0, 7 * 86400.0) | st.integers(0, 900).map(float)),
        note=draw(TEXTS),
        whole=draw(st.booleans()),
        told=draw(TEXTS),
        id=draw(st.uuids().map(str) | TEXTS.filter(bool)),
        device=draw(TEXTS),
        person=draw(TEXTS),
        clock_at=draw(st.none() | MOMENTS),
        server_at=draw(st.none() | MOMENTS),
        refers=draw(TEXTS),
        stop_at=draw(st.none() | MOMENTS),
        chance_fraction=draw(
            st.none() | st.floats(0.0, 1.0) | st.integers(0, 20).map(lambda n: n / 20)
        ),
    )


def kept_farm(folder: Path, count: int = 3) -> Path:
    """A folder with a store of so many events and two files."""
    folder.mkdir()
    with open_store(folder) as store:
        store.append([covered(n) for n in range(count)])
        store.put_file("farm.toml", b"# one\n", by="Owner")
        store.put_file("farm.toml", b"# two\n", by="Helper")
        store.put_file("season/plan.json", b"{}")
    return folder


def spoilt(path: Path, sql: str) -> None:
    """Change a store behind its back."""
    with sqlite3.connect(path) as raw:
        raw.executescript(sql)
    raw.close()


# --------------------------------------------------------------------------- PostgreSQL


def server_programs() -> Path | None:
    """Where the server's programs lie; None where there are none."""
    found = shutil.which("initdb")
    if found:
        return Path(found).parent
    versions = sorted(DEBIAN.glob("*/bin/initdb"), key=lambda path: path.parts[-3])
    return versions[-1].parent if versions else None


class _Server:
    """A server of our own in a new folder; it ends with the process that started it."""

    def __init__(self, programs: Path) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="duskline-pg-"))
        data = self.folder / "data"
        data.mkdir()
        # The server refuses to run as root, and must not outlive a test run that is killed.
        ended = ["setpriv", "--pdeathsig", "QUIT"]
        as_user: list[str] = []
        if os.getuid() == 0:
            as_user = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"]
            ended = [*as_user, *ended[1:]]
            for path in (self.folder, data):
                shutil.chown(path, "postgres", "postgres")
        subprocess.run(  # noqa: S603
            [
                *as_user, str(programs / "initdb"), "-D", str(data), "-U", "postgres",
                "-A", "trust", "-E", "UTF8", "-N",
            ],
            cwd=self.folder,
            stdout=subprocess.DEVNULL,
            check=True,
        )  # fmt: skip
        self._log = (self.folder / "log").open("wb")
        self._server = subprocess.Popen(  # noqa: S603
            [
                *ended, str(programs / "postgres"), "-D", str(data), "-k", str(self.folder),
                "-c", "listen_addresses=", "-c", "fsync=off", "-c", "max_connections=60",
            ],
            cwd=self.folder,
            stdin=subprocess.DEVNULL,
            stdout=self._log,
            stderr=subprocess.STDOUT,
        )  # fmt: skip
        self._wait()

    def _wait(self) -> None:
        until = time.monotonic() + 60.0
        while True:
            try:
                self.connection().close()
                return
            except psycopg.OperationalError:
                assert self._server.poll() is None, (self.folder / "log").read_text()
                assert time.monotonic() < until
                time.sleep(0.05)

    def connection(self) -> psycopg.Connection:
        """A connection that makes and drops databases."""
        return psycopg.connect(f"host={self.folder} user=postgres dbname=postgres", autocommit=True)

    def stop(self) -> None:
        """Stop at once; nothing in it is kept."""
        self._server.send_signal(signal.SIGQUIT)
        self._server.wait(30)
        self._log.close()
        shutil.rmtree(self.folder, ignore_errors=True)


_servers: list[_Server] = []


def stop_servers() -> None:
    """Stop the server of this process; the end of a test run calls it."""
    while _servers:
        _servers.pop().stop()


_database_count = 0


@contextmanager
def postgres_database() -> Iterator[str]:
    """Give the address of an empty database."""
    global _database_count  # noqa: PLW0603
    if not _servers:
        programs = server_programs()
        assert programs is not None
        _servers.append(_Server(programs))
        atexit.register(stop_servers)
    server = _servers[0]
    _database_count += 1
    name = f"farm{_database_count}"
    with server.connection() as one:
        one.execute(f"CREATE DATABASE {name}")
        try:
            yield f"postgresql://postgres@/{name}?host={quote(str(server.folder))}"
        finally:
            one.execute(f"DROP DATABASE {name} WITH (FORCE)")


# --------------------------------------------------------------------------- writers to be killed


def append_for_ever(folder: Path, first: int, tell: Callable[[int], None]) -> None:
    """Open the store and append event after event, each told once it is on the disk.

    On a full disk the same event is told again and again.
    """
    store = open_store(folder)
    number = first
    while True:
        with contextlib.suppress(StoreFull):
            store.append([covered(number)])
            tell(number)
            number += 1


def forked() -> int:
    """Part into two processes; the child's number here, 0 in the child."""
    with warnings.catch_warnings():
        # The child touches nothing that another thread of the test runner may hold.
        warnings.simplefilter("ignore", DeprecationWarning)
        return os.fork()


class Writer:
    """A writer in a process of its own, killed at the end without a word."""

    def __init__(self, folder: Path, first: int = 0, most_bytes: int | None = None) -> None:
        self.acknowledged: list[int] = []
        self._rest = b""
        self._pipe, telling = os.pipe()
        self._child = forked()
        if self._child == 0:
            try:
                if most_bytes is not None:
                    _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
                    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, hard))
                append_for_ever(folder, first, lambda number: _tell(telling, number))
            finally:
                os._exit(1)
        os.close(telling)
        os.set_blocking(self._pipe, False)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        os.kill(self._child, signal.SIGKILL)
        os.waitpid(self._child, 0)
        self.listen()
        os.close(self._pipe)

    def wait_for_the_first(self) -> None:
        """Return once it has acknowledged something; the others are killed while they open."""
        until = time.monotonic() + 30.0
        while not self.listen():
            assert time.monotonic() < until
            time.sleep(0.001)

    def listen(self) -> list[int]:
        """Return everything it has acknowledged by now."""
        with contextlib.suppress(BlockingIOError):
            while more := os.read(self._pipe, 65536):
                self._rest += more
        *told, self._rest = self._rest.split(b"\n")
        self.acknowledged += map(int, told)
        return self.acknowledged


def _tell(pipe: int, number: int) -> None:
    os.write(pipe, b"%d\n" % number)


def kill_at_random(
    folder: Path, rounds: int, seed: int, room_bytes: int | None = None
) -> tuple[list[int], list[int]]:
    """Kill a writer at random moments, again and again.

    Parameters
    ----------
    room_bytes
        By how much the store's files may grow in a round; the disk is full then.

    Returns
    -------
    tuple of list of int
        The numbers it acknowledged, and how many of each round.
    """
    chance = random.Random(seed)  # noqa: S311
    acknowledged: list[int] = []
    per_round = []
    first = 0
    for _ in range(rounds):
        most_bytes = None
        if room_bytes is not None:
            with open_store(folder) as store:
                store.last_seq()
            most_bytes = (folder / "duskline.db").stat().st_size + room_bytes
        with Writer(folder, first, most_bytes) as writer:
            if chance.random() < 0.8:
                writer.wait_for_the_first()
            time.sleep(0.06 * chance.random())
        acknowledged += writer.acknowledged
        per_round.append(len(writer.acknowledged))
        # One more may be on the disk, killed before it was told.
        first = max(acknowledged, default=first) + 2
    return acknowledged, per_round


def copy_at_random(
    folder: Path, copies: Path, count: int, seed: int
) -> list[tuple[Path, set[int]]]:
    """Copy the file and its changes at random moments while a writer runs.

    Returns
    -------
    list of (path, set of int)
        Each copy, and what was acknowledged before it was begun.
    """
    chance = random.Random(seed)  # noqa: S311
    made = []
    with Writer(folder) as writer:
        writer.wait_for_the_first()
        for number in range(count):
            time.sleep(0.05 * chance.random())
            known = set(writer.listen())
            copy = copies / f"copy{number}"
            copy.mkdir()
            names = ["duskline.db", "duskline.db-wal"]
            chance.shuffle(names)
            for name in names:
                if (folder / name).exists():
                    shutil.copyfile(folder / name, copy / name)
            made.append((copy, known))
    return made
