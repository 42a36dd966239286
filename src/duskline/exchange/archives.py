"""Zip archives from other hands: looked through before a byte of them is unpacked."""

from __future__ import annotations

import io
import stat
import zipfile
import zlib
from collections.abc import Mapping

from duskline.core.errors import DusklineError

__all__ = ["ArchiveRefused", "unpacked"]

MOST_MEMBERS = 200
MOST_UNPACKED_BYTES = 60_000_000
_LONGEST_NAME = 200
# Outlines shrink to a fifth or a tenth of their size; what shrinks more than this is a bomb.
_MOST_SHRUNK = 120
_SMALL_BYTES = 100_000
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1
_ARCHIVES = (
    ".zip", ".kmz", ".gz", ".tgz", ".tar", ".bz2", ".xz", ".7z", ".rar", ".zst", ".jar", ".cab",
)  # fmt: skip
_ARCHIVE_STARTS = (b"PK\x03\x04", b"\x1f\x8b", b"7z\xbc\xaf", b"Rar!", b"BZh", b"\xfd7zXZ")
_JUNK_FOLDERS = ("__MACOSX/",)


class ArchiveRefused(DusklineError, ValueError):
    """An archive is not unpacked; ``read`` and ``expected`` say why."""

    def __init__(self, read: str, expected: str = "a plain zip of one map file") -> None:
        super().__init__(f"read {read}; expected {expected}")
        self.read = read
        self.expected = expected


def unpacked(data: bytes, *, kinds: tuple[str, ...]) -> Mapping[str, bytes]:
    """Return the members of an archive that end in one of ``kinds``, by name.

    Parameters
    ----------
    data
        The archive.
    kinds
        Endings in small letters, such as ".shp"; other members stay packed.

    Raises
    ------
    ArchiveRefused
        Not a zip; too many members, too large, or shrunk beyond belief; a name that leads out
        of the archive, a link, a member twice, an archive inside, a password.

    Notes
    -----
    Sizes are taken from the list of members first and held to while unpacking, as the list
    may lie.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = [one for one in archive.infolist() if not _is_junk(one)]
            _check(members)
            return _read(archive, [one for one in members if _ends(one, kinds)])
    except (zipfile.BadZipFile, zlib.error, EOFError) as wrong:
        raise ArchiveRefused("an archive that is broken or no zip") from wrong
    except (RuntimeError, NotImplementedError, ValueError) as wrong:
        if isinstance(wrong, ArchiveRefused):
            raise
        raise ArchiveRefused("an archive that cannot be unpacked") from wrong


def _is_junk(member: zipfile.ZipInfo) -> bool:
    return member.is_dir() or member.filename.startswith(_JUNK_FOLDERS)


def _ends(member: zipfile.ZipInfo, kinds: tuple[str, ...]) -> bool:
    return member.filename.lower().endswith(kinds)


def _check(members: list[zipfile.ZipInfo]) -> None:
    if len(members) > MOST_MEMBERS:
        raise ArchiveRefused(f"an archive of {len(members)} files", f"at most {MOST_MEMBERS}")
    if len({one.filename.lower() for one in members}) < len(members):
        raise ArchiveRefused("an archive with one name twice")
    for one in members:
        _check_name(one)
        if stat.S_ISLNK(one.external_attr >> 16):
            raise ArchiveRefused("an archive with a link in it")
        if one.flag_bits & _ENCRYPTED:
            raise ArchiveRefused("an archive with a password", "one without")
        if one.compress_type not in _METHODS:
            raise ArchiveRefused("an archive packed in an unusual way")
        if one.file_size > _SMALL_BYTES and one.file_size > _MOST_SHRUNK * one.compress_size:
            raise ArchiveRefused("an archive that would grow beyond belief")
    if sum(one.file_size for one in members) > MOST_UNPACKED_BYTES:
        raise ArchiveRefused(
            f"an archive of more than {MOST_UNPACKED_BYTES // 1_000_000} MB unpacked",
            "field outlines, seldom over 1 MB",
        )


def _check_name(member: zipfile.ZipInfo) -> None:
    # orig_filename is what stands in the file; zipfile has mended filename already.
    for name in (member.filename, member.orig_filename):
        if (
            len(name) > _LONGEST_NAME
            or name.startswith("/")
            or "\\" in name
            or ":" in name
            or "\x00" in name
            or ".." in name.split("/")
        ):
            raise ArchiveRefused("an archive with a file name that leads out of it")
        if name.lower().endswith(_ARCHIVES):
            raise ArchiveRefused("an archive inside the archive", "the map file itself in it")


def _read(archive: zipfile.ZipFile, members: list[zipfile.ZipInfo]) -> dict[str, bytes]:
    found, left_bytes = {}, MOST_UNPACKED_BYTES
    for one in members:
        with archive.open(one) as file:
            content = file.read(min(one.file_size, left_bytes) + 1)
        left_bytes -= len(content)
        if len(content) > one.file_size or left_bytes < 0:
            raise ArchiveRefused("an archive that would grow beyond belief")
        if content.startswith(_ARCHIVE_STARTS):
            raise ArchiveRefused("an archive inside the archive", "the map file itself in it")
        found[one.filename] = content
    return found
