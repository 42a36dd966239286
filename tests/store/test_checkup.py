"""The doctor: what is good is called good, and what was done behind its back is found."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from made_stores import MORNING, covered, kept_farm, spoilt

from duskline.store.checkup import Finding, _file_system, doctor
from duskline.store.errors import StoreMissing
from duskline.store.store import Store, open_store


def levels(found: list[Finding]) -> dict[str, str]:
    """What the doctor found, by key."""
    return {one.key: one.level for one in found}


def test_the_doctor_looks_at_everything_and_finds_a_good_store_good(tmp_path: Path) -> None:
    """Nothing wrong; each thing named once."""
    found = doctor(kept_farm(tmp_path / "farm"))
    assert set(levels(found)) == {
        "schema", "integrity", "tables", "events", "tellings", "files", "clock", "disk", "place",
        "changes", "sqlite",
    }  # fmt: skip
    assert "wrong" not in {one.level for one in found if one.key != "disk"}
    assert len(found) == len(levels(found))


@pytest.mark.parametrize(
    ("sql", "key"),
    [
        ("UPDATE events SET note = 'changed'", "tellings"),
        ("DELETE FROM events WHERE seq = 1", "events"),
        ("UPDATE files SET sha256 = 'x'", "files"),
        ("CREATE TABLE mine (x)", "tables"),
        ("UPDATE alembic_version SET version_num = '0099'", "store"),
    ],
)
def test_the_doctor_finds_what_was_done_behind_its_back(tmp_path: Path, sql: str, key: str) -> None:
    """Each kind by its own name."""
    folder = kept_farm(tmp_path / "farm")
    spoilt(folder / "duskline.db", sql)
    found = levels(doctor(folder))
    assert found[key] == "wrong"


def test_the_doctor_finds_damaged_bytes(tmp_path: Path) -> None:
    """A page in the middle overwritten."""
    folder = kept_farm(tmp_path / "farm", count=200)
    with (folder / "duskline.db").open("r+b") as file:
        file.seek(5 * 4096 + 8)
        file.write(b"\xff" * 2000)
    assert "wrong" in levels(doctor(folder)).values()


def test_the_doctor_finds_a_clock_set_back(place: str) -> None:
    """The newest event was taken in after now."""
    with open_store(place, clock=lambda: MORNING) as store:
        store.append([covered(1)])
    assert levels(doctor(place, clock=lambda: MORNING + timedelta(hours=1)))["clock"] == "good"
    assert levels(doctor(place, clock=lambda: MORNING - timedelta(hours=1)))["clock"] == "wrong"


def test_the_doctor_says_where_no_store_is(tmp_path: Path) -> None:
    """Which is nothing wrong."""
    assert levels(doctor(tmp_path)) == {"store": "look"}
    with pytest.raises(StoreMissing, match="no such folder or file"):
        doctor(tmp_path / "nowhere")


def test_the_doctor_finds_a_log_file_changed_by_hand(tmp_path: Path) -> None:
    """log.csv is written out of the store; what is written into it counts for nothing."""
    folder = kept_farm(tmp_path / "farm")
    with open_store(folder) as store:
        store.set_fact("log_csv_sha256", "0" * 64)
    (folder / "log.csv").write_text("time,what\n")
    assert levels(doctor(folder))["log.csv"] == "look"


def test_a_full_disk_and_a_folder_that_is_copied_about_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Thresholds and names are looked at, not guessed."""
    folder = tmp_path / "Our Cloud"
    kept_farm(folder)
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: usage._replace(free=1_000_000))
    found = levels(doctor(folder))
    assert found["place"] == "look"
    assert found["disk"] == "wrong"


def test_the_kind_of_disk_is_that_of_the_nearest_mount(tmp_path: Path) -> None:
    """The longest mount point that holds the path."""
    mounts = tmp_path / "mounts"
    mounts.write_text(
        "/dev/sda / ext4 rw 0 0\nhost:/x /srv/farm\\040disk nfs4 rw 0 0\nx /srv/farm ext4 rw 0 0\n"
    )
    assert _file_system(Path("/srv/farm disk/a"), mounts) == "nfs4"
    assert _file_system(Path("/srv/farm/a"), mounts) == "ext4"
    assert _file_system(Path("/home"), mounts) == "ext4"
    assert _file_system(Path("/home"), tmp_path / "none") == ""


def test_store_is_exported_under_its_names() -> None:
    """What others import."""
    import duskline.store as face

    assert face.Store is Store
    assert face.doctor is doctor
    assert all(getattr(face, name) is not None for name in face.__all__)
    with pytest.raises(AttributeError):
        _ = face.nothing
