"""The desk: the farm as it lies in its folder and its store, and the answers worked out from it.

A farm is read again only when a file or the log has changed, and an answer is worked out once for
each state of the farm, whoever asks first.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable
from contextvars import ContextVar
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from stat import S_ISREG
from typing import TypeVar
from zoneinfo import ZoneInfo

from duskline.answers.telling import settled, with_log
from duskline.core.errors import DusklineError
from duskline.core.farm import Farm
from duskline.core.log import Event, Settled
from duskline.exchange.farmfolder import TOML, FolderRead, read_folder
from duskline.exchange.problems import FolderProblem, Problem
from duskline.store import Store
from duskline.store.farm import export_log, open_farm_store

__all__ = ["STORE", "Clock", "Desk", "FarmNotReady", "running_from"]

STORE = "duskline.db"
MOST_ANSWERS = 64
MOST_FILES = 2000

Answer = TypeVar("Answer")
Clock = Callable[[], datetime]


def running_from(start_at: datetime, clock: Clock) -> Clock:
    """Return a clock that shows ``start_at`` now and runs on from there."""
    began_at = clock()
    return lambda: start_at + (clock() - began_at)


def machine_clock() -> datetime:
    """Return what the machine's clock says, in UTC."""
    return datetime.now(UTC)


class FarmNotReady(DusklineError, ValueError):
    """The folder holds no farm yet, or one with problems; ``read`` says which."""

    def __init__(self, read: FolderRead) -> None:
        super().__init__("the farm folder has to be put right first")
        self.read = read

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What has to be put right."""
        return tuple(self.read.problems)


@dataclass(frozen=True, slots=True)
class _Read:
    """A folder as it was read, and by which files."""

    signature: Hashable
    read: FolderRead


@dataclass(frozen=True, slots=True)
class _Held:
    """The farm that a request works with, and the state it was read in."""

    desk: Desk
    state: tuple[Hashable, int]


_held: ContextVar[_Held | None] = ContextVar("held", default=None)
"""Each request runs in a context of its own, so that one never meets what another holds."""


class Desk:
    """One farm folder, its store, and what has been worked out.

    Parameters
    ----------
    folder
        The farm folder; it may be empty, for a first visit.
    clock
        What time it is; a clock that pretends is shown on every page.
    pretends
        Whether it does.
    place
        Where the store is, if not in the folder: a file, or the address of a PostgreSQL server.
    """

    def __init__(
        self,
        folder: Path,
        *,
        clock: Clock = machine_clock,
        pretends: bool = False,
        place: str | Path | None = None,
    ) -> None:
        self.folder = folder
        self._place = place
        self.clock = clock
        self.pretends = pretends
        self._lock = threading.RLock()
        self._telling = threading.Lock()
        self._read: _Read | None = None
        self._store: Store | None = None
        self._events: list[Event] = []
        self._by_id: dict[str, Event] = {}
        self._seq = 0
        self._farm: tuple[tuple[Hashable, int], Farm] | None = None
        self._answers: OrderedDict[Hashable, object] = OrderedDict()
        self._making: dict[Hashable, threading.Lock] = {}

    # ------------------------------------------------------------------ farm and log

    @property
    def store(self) -> Store:
        """The store; made on first use, with an existing ``log.csv`` taken in."""
        with self._lock:
            if self._store is None:
                self._store = open_farm_store(self.folder, place=self._place, clock=self.clock)
            return self._store

    def read(self) -> FolderRead:
        """Return the folder as it stands, its log left to the store."""
        with self._lock:
            signature = _signature(self.folder)
            if self._read is None or self._read.signature != signature:
                self._read = _Read(signature, read_folder(self.folder, events=()))
            return self._read.read

    def farm(self) -> Farm:
        """Return the farm with its log; until it is asked for anew, answers are about this one.

        Raises
        ------
        FarmNotReady
            There is none yet, or it has problems.
        """
        with self._lock:
            read = self.read()
            if read.farm is None or read.problems:
                raise FarmNotReady(read)
            try:
                self._read_events()
            except FolderProblem as wrong:  # of the log.csv that a new store is to take in
                raise FarmNotReady(replace(read, problems=list(wrong.problems))) from wrong
            assert self._read is not None  # noqa: S101 read above, under the lock
            state = (self._read.signature, self._seq)
            if self._farm is None or self._farm[0] != state:
                self._farm = (state, with_log(read.farm, self._events))
            _held.set(_Held(self, state))
            return self._farm[1]

    def account(self, farm: Farm) -> Settled:
        """Return what the log of the farm held adds up to, worked out once for each state of it."""
        return self.answer("account", lambda: settled(farm))

    def _read_events(self) -> None:
        """Take over the events that have come into the store since it was last asked."""
        for seq, event in self.store.events(since_seq=self._seq):
            self._events.append(event)
            self._by_id.setdefault(event.id, event)
            self._seq = seq

    def append(self, events: Iterable[Event]) -> tuple[Event, ...]:
        """Put events into the store; durable when it returns."""
        return self.store.append(events)

    def told(self, event_id: str) -> Event | None:
        """Return the event of this id; None where there is none yet."""
        with self._lock:
            self._read_events()
            return self._by_id.get(event_id)

    def append_once(self, event: Event) -> Event:
        """Put an event into the store, unless one of its id is there; returns the one kept.

        What is told again since its answer was lost may have another moment and another area by
        now: it is the same event all the same.
        """
        with self._telling:
            known = self.told(event.id)
            return known if known is not None else self.append([event])[0]

    def keep_farm_text(self, by: str) -> None:
        """Keep the farm's text as it now stands as a version of it in the store."""
        path = self.folder / TOML
        if path.is_file():
            self.store.put_file(TOML, path.read_bytes(), by=by)

    def now(self, farm: Farm) -> datetime:
        """Return what time it is on the farm."""
        return self.clock().astimezone(ZoneInfo(farm.time_zone))

    def close(self) -> None:
        """Write the log out as ``log.csv`` and close the store."""
        with self._lock:
            if self._store is None:
                return
            try:
                self._export(self._store)
            finally:
                self._store.close()
                self._store = None

    def _export(self, store: Store) -> None:
        farm = self.read().farm
        if farm is not None and self._place is None and store.last_seq():
            zone = ZoneInfo(farm.time_zone)
            export_log(store, self.folder, zone=zone, system=farm.system)

    # ------------------------------------------------------------------ answers

    def answer(self, key: Hashable, make: Callable[[], Answer], *, of_log: bool = True) -> Answer:
        """Return the answer to a question about the farm that the asker holds.

        That is the one ``farm()`` gave in this request. An event or a file that comes in
        meanwhile makes another farm, with answers of its own.

        Parameters
        ----------
        key
            What is asked, all of it.
        make
            Works the answer out; called once for each state of the farm.
        of_log
            Whether the answer hangs on the log.
        """
        state = self._state()
        whole = (key, state if of_log else state[0])
        with self._lock:
            if whole in self._answers:
                self._answers.move_to_end(whole)
                return self._answers[whole]  # type: ignore[return-value]
            making = self._making.setdefault(whole, threading.Lock())
        with making:
            with self._lock:
                if whole in self._answers:
                    return self._answers[whole]  # type: ignore[return-value]
            try:
                made = make()
                with self._lock:
                    self._answers[whole] = made
                    while len(self._answers) > MOST_ANSWERS:
                        self._answers.popitem(last=False)
            finally:
                with self._lock:
                    self._making.pop(whole, None)
            return made

    def _state(self) -> tuple[Hashable, int]:
        """Return the state of the farm that the asker holds; of the present one, if none."""
        held = _held.get()
        if held is None or held.desk is not self:
            self.farm()
            held = _held.get()
        assert held is not None  # noqa: S101 set by farm()
        return held.state


def _signature(folder: Path) -> Hashable:
    """Return what changes whenever a file that the farm is read from does."""
    if not folder.is_dir():
        return None
    found = []
    for path in sorted(folder.iterdir())[:MOST_FILES]:
        if path.name.startswith((STORE, ".")) or path.name == "log.csv":
            continue
        try:
            state = path.stat()
        except OSError:  # taken away since it was listed
            continue
        if S_ISREG(state.st_mode):
            found.append((path.name, state.st_ino, state.st_mtime_ns, state.st_size))
    return tuple(found)
