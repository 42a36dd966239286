"""One writer at a time, over all threads and all processes on this machine.

SQLite has a lock of its own; ours goes around the whole of a write, checkpoint included, since
versions 3.7.0 to 3.51.2 can damage the file when one connection resets the log of changes while
another writes. The system lets go of it when a process dies.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from duskline.store.errors import StoreBusy, StoreUnreachable

__all__ = ["OneWriter"]

STEP_S = 0.002


class OneWriter:
    """Lets one writer in; the others wait, then are told that somebody else is writing.

    Parameters
    ----------
    path
        The lock file; None where the database server keeps order itself.
    wait_s
        How long to wait for the others. [s]
    """

    def __init__(self, path: Path | None, wait_s: float) -> None:
        self._path = path
        self.wait_s = wait_s
        self._threads = threading.Lock()
        self._handle: int | None = None

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Hold the lock.

        Raises
        ------
        StoreBusy
            Another writer did not finish in time.
        """
        until = time.monotonic() + self.wait_s
        if not self._threads.acquire(timeout=self.wait_s):
            raise self._busy()
        try:
            if self._path is None:
                yield
                return
            handle = self._opened(self._path)
            while not _locked(handle):
                if time.monotonic() > until:
                    raise self._busy()
                time.sleep(STEP_S)
            try:
                yield
            finally:
                _unlock(handle)
        finally:
            self._threads.release()

    def close(self) -> None:
        """Let go of the lock file."""
        with self._threads:
            if self._handle is not None:
                os.close(self._handle)
                self._handle = None

    def _busy(self) -> StoreBusy:
        place = self._path.with_suffix("") if self._path else ""
        return StoreBusy(
            place,
            f"somebody else has been writing for {self.wait_s:g} seconds. Nothing was written; "
            "try again.",
        )

    def _opened(self, path: Path) -> int:
        if self._handle is None:
            try:
                flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
                self._handle = os.open(path, flags, 0o644)
            except OSError as wrong:
                raise StoreUnreachable(
                    path.with_suffix(""),
                    f"the folder cannot be written ({(wrong.strerror or 'refused').lower()}). "
                    "Nothing was written; make room, or allow writing there.",
                ) from wrong
        return self._handle


if sys.platform == "win32":
    import msvcrt

    def _locked(handle: int) -> bool:
        os.lseek(handle, 0, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _unlock(handle: int) -> None:
        os.lseek(handle, 0, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _locked(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _unlock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_UN)
