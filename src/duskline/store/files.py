"""Putting files in place whole or not at all, and onto the disk."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from pathlib import Path

from duskline.store.errors import StoreFull, StoreUnreachable

__all__ = ["put_in_place", "sync_file", "sync_folder"]


def put_in_place(path: Path, content: bytes) -> None:
    """Write a file whole or not at all; an old one of its name is replaced.

    Raises
    ------
    StoreFull, StoreUnreachable
        It could not be written; the old one stands.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            Path(name).chmod(path.stat().st_mode & 0o777 if path.is_file() else 0o644)
            os.replace(name, path)
        except BaseException:
            with contextlib.suppress(OSError):
                Path(name).unlink()
            raise
    except OSError as wrong:
        if wrong.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise StoreFull(path, "the disk is full. Make room and try again.") from wrong
        reason = (wrong.strerror or "refused").lower()
        raise StoreUnreachable(
            path, f"it cannot be written ({reason}). Allow writing there, or name another place."
        ) from wrong
    sync_folder(path.parent)


def sync_file(path: Path) -> None:
    """Put what was written into a file onto the disk."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Put the names in a folder onto the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
