"""Power cuts, full disks and copies: what was acknowledged is there, and nothing half-written."""

from __future__ import annotations

import os
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
from made_stores import Writer, copy_at_random, covered, forked, kill_at_random

from duskline.store.checkup import doctor
from duskline.store.errors import StoreFull
from duskline.store.store import Store, open_store

ROUNDS_COUNT = 30
COPIES_COUNT = 25


def numbers(folder: Path) -> list[int]:
    """The numbers of the made events in a store, in the order they were taken in."""
    with open_store(folder, create=False) as store:
        return [int(event.id[1:]) for event in store.all_events()]


def wrong(folder: Path) -> list[str]:
    """What the doctor finds wrong."""
    return [one.sentence for one in doctor(folder) if one.level == "wrong" and one.key != "disk"]


def in_a_process(work: Callable[[], None]) -> int:
    """Run it in a child of its own, whose end this one does not share; returns its exit code."""
    child = forked()
    if child == 0:
        code = 1
        try:
            work()
            code = 0
        except BaseException as wrong:
            os.write(2, f"{type(wrong).__name__}: {wrong}\n".encode())
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


# --- power cuts ----------------------------------------------------------------------------


def test_a_writer_killed_at_any_moment_loses_nothing_it_acknowledged(tmp_path: Path) -> None:
    """30 kills: every acknowledged event is there, none twice, and the file is whole."""
    acknowledged, per_round = kill_at_random(tmp_path, ROUNDS_COUNT, seed=6)
    kept = numbers(tmp_path)
    assert len(kept) == len(set(kept))
    assert set(acknowledged) <= set(kept)
    # Of each round at most the one that was on its way is there without having been told.
    assert len(kept) <= len(acknowledged) + ROUNDS_COUNT
    assert sum(1 for told in per_round if told) >= ROUNDS_COUNT // 2
    assert wrong(tmp_path) == []


def test_a_writer_killed_on_a_full_disk_loses_nothing_it_acknowledged(tmp_path: Path) -> None:
    """Room for a few events in each of 15 rounds, then none: it goes on trying until killed."""
    acknowledged, per_round = kill_at_random(tmp_path, 15, seed=8, room_bytes=60_000)
    kept = numbers(tmp_path)
    assert len(kept) == len(set(kept))
    assert set(acknowledged) <= set(kept)
    assert len(kept) <= len(acknowledged) + 15
    assert sum(1 for told in per_round if told) >= 5
    assert max(per_round) < 60_000 // 4096
    assert wrong(tmp_path) == []


@pytest.mark.parametrize("seed", range(3))
def test_a_kill_while_the_store_is_made_leaves_none_or_a_whole_one(
    tmp_path: Path, seed: int
) -> None:
    """Killed after 1, 3, 5 ... thousandths: the next opening goes on from whatever is there."""
    for number in range(6):
        folder = tmp_path / f"farm{number}"
        folder.mkdir()
        child = forked()
        if child == 0:
            with suppress(BaseException):
                open_store(folder)
            os._exit(0)
        signal.sigtimedwait([], 0.001 + 0.002 * number + 0.0007 * seed)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with open_store(folder) as store:
            store.append([covered(1)])
            assert len(store.all_events()) == 1
        assert wrong(folder) == []


def test_two_programs_that_write_at_once_lose_nothing(tmp_path: Path) -> None:
    """Each in a process of its own, and this one beside them, all killed in the end."""
    with Writer(tmp_path, 0) as one, Writer(tmp_path, 1_000_000) as other:
        one.wait_for_the_first()
        other.wait_for_the_first()
        with open_store(tmp_path) as store:
            mine = [store.append([covered(n)])[0].id for n in range(2_000_000, 2_000_020)]
    kept = numbers(tmp_path)
    assert {*one.acknowledged, *other.acknowledged, *(int(name[1:]) for name in mine)} <= set(kept)
    assert len(kept) == len(set(kept))
    assert wrong(tmp_path) == []


# --- copies --------------------------------------------------------------------------------


def test_a_copy_of_file_and_changes_taken_at_any_moment_opens_clean(tmp_path: Path) -> None:
    """Whichever of the two is copied first, without the third: all that was told before is in."""
    folder, copies = tmp_path / "farm", tmp_path / "copies"
    folder.mkdir()
    copies.mkdir()
    made = copy_at_random(folder, copies, COPIES_COUNT, seed=4)
    assert len({len(known) for _, known in made}) > 1
    for copy, known in made:
        kept = numbers(copy)
        assert known <= set(kept)
        assert len(kept) == len(set(kept))
        assert wrong(copy) == []


# --- full disks ----------------------------------------------------------------------------


def fill(store: Store, first: int = 0) -> list[int]:
    """Append until the disk is full; returns what was acknowledged."""
    taken: list[int] = []
    for number in range(first, first + 20_000):
        try:
            store.append([covered(number, note="x" * 400)])
        except StoreFull:
            return taken
        taken.append(number)
    raise AssertionError("the disk never became full")


def hold_to_its_size(store: Store) -> None:
    """Let the file grow by no more than a dozen pages, until a write has failed."""
    with store.writing() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {int(pages or 0) + 12}")


def test_a_file_that_may_not_grow_is_a_full_disk_and_stays_usable(tmp_path: Path) -> None:
    """The same store takes the next event once there is room; files fare no worse."""
    with open_store(tmp_path) as store:
        hold_to_its_size(store)
        taken = fill(store)
        assert taken
        assert [int(one.id[1:]) for one in store.all_events()] == taken
        hold_to_its_size(store)
        with pytest.raises(StoreFull, match="Nothing was written; make room"):
            store.put_file("fields.geojson", b"x" * 1_000_000)
        assert store.files() == []
        store.append([covered(30_000)])
        assert store.last_seq() == len(taken) + 1
    assert numbers(tmp_path) == [*taken, 30_000]
    assert wrong(tmp_path) == []


def test_a_limit_on_file_size_is_a_full_disk_and_stays_usable(tmp_path: Path) -> None:
    """As a quota is: writes stop in the middle of a page, and the store goes on afterwards."""

    def work() -> None:
        with open_store(tmp_path) as store:
            store.append([covered(0)])
            _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
            resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, hard))
            taken = fill(store, first=1)
            assert taken
            kept = [int(one.id[1:]) for one in store.all_events()]
            assert kept == [0, *taken]
            resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
            store.append([covered(30_000)])
            assert store.last_seq() == len(taken) + 2

    assert in_a_process(work) == 0
    assert numbers(tmp_path)[-1] == 30_000
    assert wrong(tmp_path) == []


@contextmanager
def small_disk() -> Iterator[Path]:
    """A disk of 1 MB, in memory."""
    with tempfile.TemporaryDirectory(prefix="duskline-disk-") as name:
        subprocess.run(  # noqa: S603
            ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", name],  # noqa: S607
            check=True,
        )
        try:
            yield Path(name)
        finally:
            subprocess.run(["umount", name], check=True)  # noqa: S603, S607


def may_mount() -> bool:
    """Whether this test may make a disk."""
    try:
        with small_disk():
            return True
    except (OSError, subprocess.CalledProcessError):
        return False


if sys.platform == "linux" and os.getuid() == 0 and may_mount():

    def test_a_disk_that_is_really_full_loses_nothing_and_is_used_on() -> None:
        """A 1 MB disk is filled, a writer is killed on it, room is made, and it goes on."""
        with small_disk() as disk:
            ballast = disk / "ballast"
            ballast.write_bytes(b"x" * 300_000)
            with open_store(disk) as store:
                taken = fill(store)
                assert taken
                assert [int(one.id[1:]) for one in store.all_events()] == taken
                ballast.unlink()
                store.append([covered(30_000)])
            assert numbers(disk) == [*taken, 30_000]
            assert wrong(disk) == []


def test_a_reader_never_waits_for_a_writer(tmp_path: Path) -> None:
    """While one writes, another reads what was there before."""
    with open_store(tmp_path) as store:
        store.append([covered(1)])
        with store.writing() as connection:
            connection.exec_driver_sql("DELETE FROM events")
            assert len(store.all_events()) == 1
            connection.rollback()
        assert len(store.all_events()) == 1


def test_changes_that_gather_are_put_into_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once they are many; else the changes would fill the disk in a long season."""
    monkeypatch.setattr("duskline.store.store.MOST_CHANGES_BYTES", 200_000)
    with open_store(tmp_path) as store:
        most = 0
        for number in range(120):
            store.append([covered(number)])
            most = max(most, (tmp_path / "duskline.db-wal").stat().st_size)
        assert most < 300_000
        assert store.last_seq() == 120
    with sqlite3.connect(tmp_path / "duskline.db") as raw:
        assert raw.execute("SELECT count(*) FROM events").fetchone() == (120,)
    raw.close()
