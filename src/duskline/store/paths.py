"""Names of files in a farm folder: plain relative ones only, the same on every system."""

from __future__ import annotations

import re

from duskline.store.errors import FileRefused

__all__ = ["LOG", "STORE", "plain_path"]

STORE = "duskline.db"
LOG = "log.csv"
LONGEST_PATH = 200
MOST_PARTS = 5
_OWN = re.compile(re.escape(STORE) + r"([-.].*)?", re.IGNORECASE)
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
_FORBIDDEN = set('<>:"|?*\\')


def plain_path(path: str) -> str:
    """Return the path, parts parted by "/", if any farm folder may hold it.

    Raises
    ------
    FileRefused
        It leads out of the folder, is hidden, is the store's own, or cannot stand on every system.
    """
    parts = path.split("/")
    if not path or len(path) > LONGEST_PATH or len(parts) > MOST_PARTS:
        raise _refused(path, "a name of at most 200 letters, at most five folders deep")
    for part in parts:
        if not part or part.startswith(".") or part.endswith((".", " ")) or part.strip() != part:
            raise _refused(path, "a plain name inside the farm folder, without dots in front")
        if not part.isprintable() or _FORBIDDEN & set(part) or _RESERVED.fullmatch(part):
            raise _refused(path, "a name of plain letters that every computer takes")
    if _OWN.fullmatch(parts[0]):
        raise _refused(path, f"another name; {STORE} is where Duskline keeps its log")
    return path


def _refused(path: str, expected: str) -> FileRefused:
    shown = "".join(letter if letter.isprintable() else "?" for letter in path[:60])
    return FileRefused("", f"The file name {shown!r} cannot be used; expected {expected}.")
