"""Backups, bringing one back, and the doctor: nothing is overwritten, nothing bad gets in."""

from __future__ import annotations

import os
import random
import sqlite3
import threading
from pathlib import Path

import pytest
from made_stores import MORNING, covered, forked, kept_farm, spoilt

from duskline.store.checkup import doctor
from duskline.store.errors import (
    AlreadyThere,
    NotAStore,
    StoreBusy,
    StoreDamaged,
    StoreError,
    StoreMissing,
    StoreNewer,
)
from duskline.store.keep import backup, restore
from duskline.store.store import open_store


def told(place: str | Path) -> list[str]:
    """The ids in a store."""
    with open_store(place, create=False) as store:
        return [one.id for one in store.all_events()]


# --- backup --------------------------------------------------------------------------------


def test_a_backup_holds_everything_and_is_one_file(place: str, tmp_path: Path) -> None:
    """Events with their moments and numbers, every version of the farm file, the farm's id."""
    with open_store(place) as store:
        store.append([covered(n) for n in range(3)])
        store.put_file("farm.toml", b"# one\n", by="Owner")
        store.put_file("farm.toml", b"# two\n", by="Helper")
        written = backup(place, tmp_path / "safe.db")
        assert [path.name for path in tmp_path.glob("*safe*")] == ["safe.db"]
        with open_store(written, create=False) as copy:
            assert copy.events() == store.events()
            assert copy.history("farm.toml") == store.history("farm.toml")
            assert copy.get_file("farm.toml", version=1) == b"# one\n"
            assert copy.farm_id == store.farm_id


def test_a_backup_into_a_folder_is_named_by_the_time(tmp_path: Path) -> None:
    """So that the next one does not meet it."""
    written = backup(kept_farm(tmp_path / "farm"), tmp_path, clock=lambda: MORNING)
    assert written == tmp_path / "duskline-20261018-140000Z.db"
    assert told(written) == ["e0", "e1", "e2"]


def test_a_backup_never_writes_over_a_file(tmp_path: Path) -> None:
    """Whatever it is."""
    (tmp_path / "safe.db").write_bytes(b"mine")
    with pytest.raises(AlreadyThere, match="Name another one"):
        backup(kept_farm(tmp_path / "farm"), tmp_path / "safe.db")
    assert (tmp_path / "safe.db").read_bytes() == b"mine"


def test_there_is_nothing_to_back_up_where_nothing_is_kept(tmp_path: Path) -> None:
    """And no empty file is left."""
    with pytest.raises(StoreMissing, match="nothing to back up"):
        backup(tmp_path, tmp_path / "safe.db")
    with pytest.raises(StoreMissing, match="no such folder"):
        backup(kept_farm(tmp_path / "farm"), tmp_path / "nowhere" / "safe.db")
    assert [path.name for path in tmp_path.iterdir()] == ["farm"]


def test_a_backup_made_while_others_write_holds_all_that_was_told_before(tmp_path: Path) -> None:
    """Ten backups beside a writer that does not stop."""
    done = threading.Event()
    with open_store(tmp_path) as store:

        def write() -> None:
            number = 0
            while not done.is_set():
                store.append([covered(number)])
                number += 1

        writer = threading.Thread(target=write)
        writer.start()
        try:
            for number in range(10):
                before = store.last_seq()
                written = backup(tmp_path, tmp_path / f"safe{number}.db")
                assert len(told(written)) >= before
                assert all(one.level != "wrong" for one in doctor(written) if one.key != "disk")
        finally:
            done.set()
            writer.join()


def test_no_backup_is_made_of_a_store_that_is_not_good(tmp_path: Path) -> None:
    """It would be taken for one."""
    folder = kept_farm(tmp_path / "farm")
    spoilt(folder / "duskline.db", "UPDATE events SET area_m2 = 1.0 WHERE id = 'e1'")
    with pytest.raises(StoreDamaged, match="not as they were told"):
        backup(folder, tmp_path / "safe.db")
    assert [path.name for path in tmp_path.iterdir()] == ["farm"]


# --- restore -------------------------------------------------------------------------------


def test_a_backup_brought_back_is_the_store_and_the_old_one_is_kept(tmp_path: Path) -> None:
    """With its changes that had not been put into the file yet."""
    folder = kept_farm(tmp_path / "farm")
    written = backup(folder, tmp_path / "safe.db")
    child = forked()
    if child == 0:
        open_store(folder).append([covered(9)])
        os._exit(0)  # as in a power cut: the changes stay beside the file
    os.waitpid(child, 0)
    assert (folder / "duskline.db-wal").stat().st_size > 0
    done = restore(written, folder, clock=lambda: MORNING)
    assert done.kept == folder / "duskline.db.before-20261018-140000Z"
    assert told(folder) == ["e0", "e1", "e2"]
    assert told(done.kept) == ["e0", "e1", "e2", "e9"]


def test_a_backup_brought_into_an_empty_folder_makes_the_store(tmp_path: Path) -> None:
    """Nothing to keep then."""
    written = backup(kept_farm(tmp_path / "farm"), tmp_path / "safe.db")
    (tmp_path / "new").mkdir()
    done = restore(written, tmp_path / "new")
    assert done.kept is None
    assert told(tmp_path / "new") == ["e0", "e1", "e2"]
    with sqlite3.connect(tmp_path / "new" / "duskline.db") as raw:
        assert raw.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    raw.close()
    left = {path.name for path in (tmp_path / "new").iterdir()}
    assert left == {"duskline.db", "duskline.db.lock"}


@pytest.mark.parametrize(
    ("sql", "kind", "says"),
    [
        ("UPDATE events SET area_m2 = 1.0 WHERE id = 'e1'", StoreDamaged, "as they were told"),
        ("UPDATE events SET what = 'gone' WHERE id = 'e1'", StoreDamaged, "as they were told"),
        ("DELETE FROM events WHERE id = 'e1'", StoreDamaged, "some are missing"),
        ("UPDATE files SET content = x'00'", StoreDamaged, "not as they were saved"),
        ("CREATE TRIGGER t AFTER INSERT ON events BEGIN DELETE FROM events; END",
         StoreDamaged, "did not make"),
        ("CREATE VIEW v AS SELECT 1", StoreDamaged, "did not make"),
        ("CREATE INDEX i ON events (abs(seq))", StoreDamaged, "did not make"),
        ("DROP TABLE events; CREATE VIEW events AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL "
         "SELECT x + 1 FROM n) SELECT x AS seq FROM n", StoreDamaged, "did not make"),
        ("DROP TABLE files", StoreError, "did not make|cannot be used"),
        ("UPDATE alembic_version SET version_num = '0099'", StoreNewer, "newer Duskline"),
        ("PRAGMA application_id = 7", NotAStore, "something else"),
    ],
)  # fmt: skip
def test_a_backup_that_is_not_good_is_refused_and_all_left_as_it_was(
    tmp_path: Path, sql: str, kind: type[StoreError], says: str
) -> None:
    """Changed, cut short, of another program, or of a newer one."""
    folder = kept_farm(tmp_path / "farm", count=5)
    written = backup(kept_farm(tmp_path / "other"), tmp_path / "safe.db")
    spoilt(written, sql)
    with pytest.raises(kind, match=says):
        restore(written, folder)
    assert len(told(folder)) == 5
    assert {path.name for path in folder.iterdir()} == {"duskline.db", "duskline.db.lock"}


def test_a_backup_with_damaged_bytes_is_never_brought_in_wrong(tmp_path: Path) -> None:
    """A hundred files with a run of bytes overwritten, or cut off: refused, or good as ever."""
    folder = kept_farm(tmp_path / "farm", count=40)
    whole = backup(folder, tmp_path / "safe.db").read_bytes()
    want = told(folder)
    chance = random.Random(3)  # noqa: S311
    refused = 0
    for _ in range(100):
        spoiled = bytearray(whole)
        at = chance.randrange(len(whole))
        if chance.random() < 0.3:
            del spoiled[at:]
        else:
            spoiled[at : at + 64] = chance.randbytes(min(64, len(whole) - at))
        (tmp_path / "bad.db").write_bytes(spoiled)
        try:
            restore(tmp_path / "bad.db", folder)
        except StoreError:
            refused += 1
        assert told(folder) == want
    assert refused > 30


def test_a_store_that_somebody_has_open_is_not_replaced(tmp_path: Path) -> None:
    """The page's server would write on into a file that is no longer there."""
    folder = kept_farm(tmp_path / "farm")
    written = backup(folder, tmp_path / "safe.db")
    ready, telling = os.pipe()
    stop, stopping = os.pipe()
    child = forked()
    if child == 0:
        store = open_store(folder)
        store.append([covered(9)])
        os.write(telling, b"!")
        os.read(stop, 1)
        os._exit(0)
    os.read(ready, 1)
    try:
        with pytest.raises(StoreBusy, match="Stop `duskline serve` first"):
            restore(written, folder)
    finally:
        os.write(stopping, b"!")
        os.waitpid(child, 0)
    assert "e9" in told(folder)


def test_a_damaged_store_is_replaced_and_kept_aside(tmp_path: Path) -> None:
    """That is what backups are for."""
    folder = kept_farm(tmp_path / "farm")
    written = backup(folder, tmp_path / "safe.db")
    (folder / "duskline.db").write_bytes(b"nothing of the kind" * 300)
    done = restore(written, folder)
    assert told(folder) == ["e0", "e1", "e2"]
    assert done.kept is not None
    assert done.kept.read_bytes() == b"nothing of the kind" * 300


def test_a_backup_that_is_not_there_or_the_store_itself_is_refused(tmp_path: Path) -> None:
    """Said plainly."""
    folder = kept_farm(tmp_path / "farm")
    with pytest.raises(StoreMissing, match="Name the backup"):
        restore(tmp_path / "none.db", folder)
    with pytest.raises(AlreadyThere, match="the log itself"):
        restore(folder / "duskline.db", folder)
    assert told(folder) == ["e0", "e1", "e2"]
