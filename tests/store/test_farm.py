"""Folder and store: which is the record, and that one becomes the other without loss."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from threading import Thread
from zoneinfo import ZoneInfo

import pytest
from made_folders import ACRE_M2, copy_of
from made_stores import MORNING, covered

from duskline.exchange.farmfolder import read_farm
from duskline.exchange.log_csv import read_log
from duskline.exchange.problems import FolderProblem
from duskline.store.errors import FileChanged, FileRefused
from duskline.store.farm import (
    export_log,
    folder_into_store,
    log_edited_by_hand,
    open_farm_store,
    read_farm_with_store,
    save_file,
    store_into_folder,
)
from duskline.store.store import open_store

RYE = "rye-after-soybeans"
CHICAGO = ZoneInfo("America/Chicago")
HAND = (
    "time,machine,what,field,amount,took,note\n"
    "2026-10-18T10:00,Spreader,spread,A1,60 ac,,\n"
    "# lunch\n"
    "2026-10-18T13:00,Cultivator 1,covered,A1,39 ac,2 h,dusty\n"
)


def rye(folder: Path, log: str | None = HAND) -> Path:
    """A copy of the example, with a log written by hand."""
    farm = copy_of(RYE, folder)
    if log is not None:
        (farm / "log.csv").write_text(log)
    return farm


def contents(folder: Path) -> dict[str, bytes]:
    """The files of a folder but the log and the store."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.name.startswith(("duskline.db", "log.csv"))
    }


def test_a_folder_without_a_store_is_read_as_ever(tmp_path: Path) -> None:
    """The same farm, and no store comes of reading."""
    farm = rye(tmp_path)
    assert read_farm_with_store(farm).told == read_farm(farm).told
    assert not (farm / "duskline.db").exists()


def test_a_new_store_takes_in_the_log_that_was_written_by_hand(tmp_path: Path) -> None:
    """Its events, and its text as it was."""
    farm = rye(tmp_path)
    by_hand = read_farm(farm)
    with open_farm_store(farm) as store:
        assert store.get_file("log.csv") == HAND.encode()
    read = read_farm_with_store(farm)
    assert [replace(one, server_at=None) for one in read.told] == list(by_hand.told)
    assert [one.area_m2 for one in read.log] == [60 * ACRE_M2, 39 * ACRE_M2]
    with open_farm_store(farm) as store:
        assert store.last_seq() == 2


def test_the_store_of_a_folder_may_lie_elsewhere(place: str, tmp_path: Path) -> None:
    """On a server, say; the log that was written by hand is taken in all the same, once."""
    farm = rye(tmp_path)
    for _ in range(2):
        with open_farm_store(farm, place=place, clock=lambda: MORNING) as store:
            assert [one.server_at for one in store.all_events()] == [MORNING, MORNING]
            assert store.get_file("farm.toml") == (farm / "farm.toml").read_bytes()


def test_once_there_is_a_store_the_log_file_counts_for_nothing(tmp_path: Path) -> None:
    """Not even a broken one keeps the farm from being read."""
    farm = rye(tmp_path)
    open_farm_store(farm).close()
    (farm / "log.csv").write_text("no log at all\n")
    assert len(read_farm_with_store(farm).told) == 2


def test_a_log_that_cannot_be_read_makes_no_store(tmp_path: Path) -> None:
    """Else its lines would be lost."""
    farm = rye(tmp_path, HAND + "noon,,note,,,,\n")
    with pytest.raises(FolderProblem, match="a time such as"):
        open_farm_store(farm)
    assert not (farm / "duskline.db").exists()


def test_the_log_file_written_out_is_the_store_once_more(tmp_path: Path) -> None:
    """Every event, with everything it holds."""
    farm = rye(tmp_path)
    with open_farm_store(farm) as store:
        store.append([covered(5, area_m2=1e4 / 3, note="=1+1", clock_at=MORNING)])
        assert export_log(store, farm, zone=CHICAGO, system="us") is None
        events, problems = read_log(farm / "log.csv", zone=CHICAGO)
        assert problems == []
        assert set(events) == set(store.all_events())
        assert not log_edited_by_hand(store, farm)


def test_several_that_write_the_log_file_out_leave_the_newest(tmp_path: Path) -> None:
    """Page and commands at once: the file has every event, and none took it for edited."""
    farm = rye(tmp_path)
    with open_farm_store(farm) as store:

        def tell(thread: int) -> None:
            for number in range(6):
                store.append([covered(number, id=f"t{thread}-{number}")])
                export_log(store, farm, zone=CHICAGO, system="us")

        threads = [Thread(target=tell, args=(n,)) for n in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        events, problems = read_log(farm / "log.csv", zone=CHICAGO)
        assert problems == []
        assert {one.id for one in events} == {one.id for one in store.all_events()}
        assert len(events) == 4 * 6 + 2
    assert list(farm.glob("log-edited*")) == []


def test_a_log_file_changed_by_hand_is_kept_aside_before_it_is_written_anew(
    tmp_path: Path,
) -> None:
    """Twice, under two names; one that was not touched is simply written."""
    farm = rye(tmp_path)
    with open_farm_store(farm) as store:
        assert export_log(store, farm, zone=CHICAGO, system="us") is None
        for number in (1, 2):
            (farm / "log.csv").write_text(f"mine {number}")
            assert log_edited_by_hand(store, farm)
            store.append([covered(number)])
            aside = export_log(store, farm, zone=CHICAGO, system="us")
            assert aside == farm / f"log-edited-{number}.csv"
            assert aside.read_text() == f"mine {number}"
        store.append([covered(3)])
        assert export_log(store, farm, zone=CHICAGO, system="us") is None
        assert "e3" in (farm / "log.csv").read_text()


def test_folder_to_store_to_folder_is_byte_for_byte(place: str, tmp_path: Path) -> None:
    """Comments, line ends, folders within; a file that is not text; and the same farm."""
    farm = rye(tmp_path, log=None)
    (farm / "season").mkdir()
    (farm / "season" / "plan 1.json").write_bytes(b'{"a": 1}\r\n')
    (farm / "photo.jpg").write_bytes(bytes(range(256)))
    (farm / "farm.toml").write_bytes((farm / "farm.toml").read_bytes() + b"# at the end\r\n")
    out = tmp_path / "out"
    out.mkdir()
    with open_store(place) as store:
        assert folder_into_store(farm, store, by="Owner") == []
        assert store_into_folder(store, out) == []
        assert contents(out) == contents(farm)
        store.append([covered(1)])
    if place.startswith("postgresql"):
        read = read_farm_with_store(place)
        assert [one.id for one in read.told] == ["e1"]
        assert read.fields == read_farm(farm).fields


def test_what_was_changed_or_taken_out_of_the_folder_follows_into_the_store(
    tmp_path: Path,
) -> None:
    """Only that; the farm file's earlier text stays in its history."""
    farm = rye(tmp_path)
    with open_farm_store(farm, by="Owner") as store:
        before = {one.path: one.version for one in store.files()}
    toml = (farm / "farm.toml").read_bytes()
    (farm / "farm.toml").write_bytes(toml + b"# more\n")
    (farm / "trays.csv").unlink()
    with open_farm_store(farm, by="Helper") as store:
        after = {one.path: one.version for one in store.files()}
        assert after == {
            **{name: version for name, version in before.items() if name != "trays.csv"},
            "farm.toml": 2,
        }
        assert store.get_file("farm.toml", version=1) == toml
        assert [one.saved_by for one in store.history("farm.toml")] == ["Owner", "Helper"]


def test_links_hidden_files_and_stores_are_not_taken_along(tmp_path: Path) -> None:
    """A link could lead to anything; the store's own files are not to be opened."""
    farm = rye(tmp_path)
    (tmp_path / "secret").write_text("x")
    (farm / "link.csv").symlink_to(tmp_path / "secret")
    (farm / "away").symlink_to(tmp_path)
    (farm / ".hidden").write_text("x")
    (farm / "backup.db").write_text("x")
    (farm / "bad|name.csv").write_text("x")
    with open_farm_store(farm) as store:
        left = folder_into_store(farm, store)
        names = {one.path for one in store.files()}
    assert names == {"farm.toml", "fields.geojson", "forecast.csv", "log.csv", "trays.csv"}
    assert [one.file for one in left] == ["bad|name.csv"]


def test_laying_files_out_never_writes_over_one_nor_out_of_the_folder(tmp_path: Path) -> None:
    """A file that differs stays; a folder that is a link to elsewhere is refused."""
    out, elsewhere = tmp_path / "out", tmp_path / "elsewhere"
    out.mkdir()
    elsewhere.mkdir()
    (out / "farm.toml").write_text("mine")
    with open_store(tmp_path / "one.db") as store:
        store.put_file("farm.toml", b"theirs")
        assert store_into_folder(store, out) == ["farm.toml"]
        assert (out / "farm.toml").read_text() == "mine"
        store.put_file("season/plan.json", b"{}")
        (out / "season").symlink_to(elsewhere)
        with pytest.raises(FileRefused, match="leads out"):
            store_into_folder(store, out)
    assert list(elsewhere.iterdir()) == []


def test_a_file_saved_over_the_page_is_in_folder_and_store(tmp_path: Path) -> None:
    """With who; a change made in the folder meanwhile is not overwritten unseen."""
    farm = rye(tmp_path)
    with open_farm_store(farm) as store:
        saved = save_file(farm, store, "farm.toml", b"# a\n", by="Owner", expected_version=1)
        assert (farm / "farm.toml").read_bytes() == b"# a\n"
        (farm / "farm.toml").write_bytes(b"# by hand\n")
        with pytest.raises(FileChanged):
            save_file(
                farm, store, "farm.toml", b"# b\n", by="Helper", expected_version=saved.version
            )
        assert (farm / "farm.toml").read_bytes() == b"# by hand\n"
        assert store.get_file("farm.toml") == b"# by hand\n"


def test_a_store_brought_into_an_empty_folder_lays_its_files_out(tmp_path: Path) -> None:
    """They are not taken for removed."""
    farm = rye(tmp_path)
    open_farm_store(farm).close()
    new = tmp_path / "new"
    new.mkdir()
    (new / "duskline.db").write_bytes((farm / "duskline.db").read_bytes())
    open_farm_store(new).close()
    assert contents(new) == contents(farm)
