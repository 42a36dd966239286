"""Archives from other hands: nothing is unpacked that could do harm."""

from __future__ import annotations

import io
import stat
import struct
import zipfile

import pytest

from duskline.exchange.archives import MOST_MEMBERS, ArchiveRefused, unpacked


def archive(*members: tuple[str | zipfile.ZipInfo, bytes], packed: bool = True) -> bytes:
    """A zip of members in their order."""
    made = io.BytesIO()
    method = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    with zipfile.ZipFile(made, "w", method) as file:
        for name, content in members:
            file.writestr(name, content, compress_type=method)
    return made.getvalue()


def refusal(data: bytes) -> str:
    """Why an archive is refused."""
    with pytest.raises(ArchiveRefused) as refused:
        unpacked(data, kinds=(".shp",))
    return refused.value.read


def link(name: str, to: bytes) -> bytes:
    """An archive with a link in it."""
    member = zipfile.ZipInfo(name)
    member.external_attr = (stat.S_IFLNK | 0o777) << 16
    return archive((member, to))


def test_only_the_kinds_asked_for_are_unpacked() -> None:
    """Capitals or not; what a computer adds to every zip is passed over."""
    data = archive(("a/F.SHP", b"shape"), ("a/read me.txt", b"x"), ("__MACOSX/a/F.shp", b"y"))
    assert unpacked(data, kinds=(".shp",)) == {"a/F.SHP": b"shape"}


@pytest.mark.parametrize(
    "name", ["/etc/x.shp", "../x.shp", "a/../../x.shp", "C:x.shp", "a\\..\\x.shp", "x" * 300]
)
def test_a_name_that_leads_out_is_refused(name: str) -> None:
    """From the root, upwards, on another drive, and one longer than any name."""
    assert "leads out" in refusal(archive((name, b"x")))


def test_a_link_is_refused() -> None:
    """A link could point at any file of this machine."""
    assert "a link" in refusal(link("x.shp", b"/etc/passwd"))


@pytest.mark.parametrize("name", ["in.zip", "in.KMZ", "in.tar.gz", "in.7z"])
def test_an_archive_inside_is_refused_by_its_name(name: str) -> None:
    """An archive in an archive may hold another, without end."""
    assert "inside the archive" in refusal(archive((name, b"x")))


def test_an_archive_inside_is_refused_by_its_first_bytes() -> None:
    """Whatever it is called."""
    inner = archive(("x.shp", b"x"))
    assert "inside the archive" in refusal(archive(("x.shp", inner)))


def test_a_bomb_is_refused_before_it_goes_off() -> None:
    """50 MB of nothing packs to 50 kB: a thousand to one is no map."""
    assert "beyond belief" in refusal(archive(("x.shp", bytes(50_000_000))))


def test_many_large_members_are_refused_together() -> None:
    """Sixty-one megabytes, stored as they are."""
    data = archive(*((f"{n}.shp", bytes(1_000_000)) for n in range(61)), packed=False)
    assert "more than 60 MB" in refusal(data)


def test_a_size_that_lies_is_found_out_while_unpacking() -> None:
    """The list says 10 bytes, the member holds a hundred thousand."""
    data = bytearray(archive(("x.shp", b"a" * 100_000)))
    true = struct.pack("<L", 100_000)
    for _ in range(2):
        at = data.index(true)
        data[at : at + 4] = struct.pack("<L", 10)
    with pytest.raises(ArchiveRefused):
        unpacked(bytes(data), kinds=(".shp",))


def test_a_password_a_name_twice_and_too_many_members_are_refused() -> None:
    """None of them is how anybody sends a map of fields."""
    locked = bytearray(archive(("x.shp", b"x")))
    for start in (b"PK\x03\x04", b"PK\x01\x02"):
        at = locked.index(start) + (6 if start.endswith(b"\x04") else 8)
        locked[at] |= 1
    assert "a password" in refusal(bytes(locked))
    with pytest.warns(UserWarning, match="Duplicate name"):
        twice = archive(("x.shp", b"x"), ("x.shp", b"y"))
    assert "one name twice" in refusal(twice)
    many = archive(*((f"{n}.txt", b"") for n in range(MOST_MEMBERS + 1)))
    assert f"{MOST_MEMBERS + 1} files" in refusal(many)


def test_an_unusual_packing_is_refused() -> None:
    """Only stored and deflated members are opened."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_LZMA) as file:
        file.writestr("x.shp", b"x" * 1000)
    assert "unusual way" in refusal(made.getvalue())
