"""``duskline log``, ``backup``, ``restore``, ``doctor`` from the command line."""

from __future__ import annotations

import contextlib
import io
import json
import sqlite3
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from made_folders import ACRE_M2, asked, copy_of
from made_stores import NO_SERVER, postgres_database, server_programs

from duskline.cli.main import main
from duskline.store.farm import folder_into_store
from duskline.store.store import open_store

RYE = "rye-after-soybeans"
DAY = ("--date", "2026-10-18")


def rye(folder: Path) -> Path:
    """A copy of the example farm."""
    return copy_of(RYE, folder)


@dataclass(frozen=True)
class Ended:
    """What the program gave, errors turned into sentences."""

    returncode: int
    stderr: str


def run(*arguments: str | Path) -> Ended:
    """What the whole program gives, as a process would."""
    errors = io.StringIO()
    with (
        pytest.MonkeyPatch.context() as patch,
        contextlib.redirect_stderr(errors),
        contextlib.redirect_stdout(io.StringIO()),
    ):
        patch.setattr(sys, "argv", ["duskline", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
    return Ended(returncode=int(ended.value.code or 0), stderr=errors.getvalue())


def told(farm: Path | str, *arguments: str) -> dict[str, Any]:
    """Take an event in; the JSON answer."""
    found = asked("log", farm, *arguments, *DAY, "--json")
    assert found.exit_code == 0, found.output
    answer: dict[str, Any] = json.loads(found.stdout)
    return answer


def words(text: str) -> str:
    """The text with its line breaks as spaces."""
    return " ".join(text.split())


# --- log -----------------------------------------------------------------------------------


def test_an_event_is_taken_in_and_what_it_adds_up_to_is_said(tmp_path: Path) -> None:
    """60 acres spread, 39 covered: 21 open; the store is there and log.csv is written."""
    farm = rye(tmp_path)
    asked("log", farm, "spread", "--field", "A1", "--amount", "60 ac", "--at", "10:00", *DAY)
    found = asked(
        "log", farm, "covered", "--machine", "cultivator 1", "--field", "a1",
        "--amount", "39 ac", "--at", "13:00", "--note", "dusty", "--person", "Helper", *DAY,
    )  # fmt: skip
    assert found.exit_code == 0
    shown = words(found.stdout)
    assert "Taken in: 1:00 pm, Cultivator 1, A1: covered 39.0 ac; dusty; told by Helper" in shown
    assert "21.0 AC OPEN IN ALL" in shown
    assert "A1: 21.0 ac open (60.0 ac spread, 39.0 ac covered)" in shown
    log = (farm / "log.csv").read_text().splitlines()
    assert log[1].startswith("2026-10-18T10:00-05:00,Spreader,spread,A1,60 ac,,,60 ac,")
    assert log[2].startswith("2026-10-18T13:00-05:00,Cultivator 1,covered,A1,39 ac,,dusty,39 ac,")
    assert (farm / "duskline.db").is_file()


def test_the_day_is_listed_with_ids_conflicts_and_machines_that_stand(tmp_path: Path) -> None:
    """More told of a field than it has; one machine down, another up again."""
    farm = rye(tmp_path)
    told(farm, "spread", "--field", "A1", "--amount", "60 ac", "--at", "10:00")
    twice = told(farm, "spread", "--field", "A1", "--amount", "50 ac", "--at", "14:00")
    told(farm, "down", "--machine", "Cultivator 1", "--at", "14:10", "--note", "flat tire")
    told(farm, "stuck", "--machine", "Cultivator 2", "--at", "14:20")
    told(farm, "up", "--machine", "Cultivator 2", "--at", "14:50")
    told(farm, "rain", "--at", "16:30")
    shown = words(asked("log", farm, *DAY).stdout)
    assert "110.0 ac of A1 told spread, and it has 79.1 ac. Take back what was told" in shown
    assert "Cultivator 1 broken down from 2:10 pm, still standing" in shown
    assert "Cultivator 2 stuck from" not in shown
    assert "4:30 pm: rain called for 4:30 pm" in shown
    undone = told(farm, "undo", twice["event"]["id"][:8])
    assert undone["conflicts"] == []
    assert undone["open_m2"] == pytest.approx(60 * ACRE_M2)
    assert "(does not count)" in asked("log", farm, *DAY).stdout


def test_a_day_without_events_says_so(tmp_path: Path) -> None:
    """And no store comes of looking."""
    farm = rye(tmp_path)
    found = asked("log", farm, *DAY)
    assert found.exit_code == 0
    assert "Nothing was told of this day." in found.stdout
    assert not (farm / "duskline.db").exists()


def test_all_that_was_left_and_loads_are_told_as_the_driver_knows_them(tmp_path: Path) -> None:
    """A load by its weight, or by its acres; the rest of the field as "all"."""
    farm = rye(tmp_path)
    load = told(farm, "load", "--field", "A1", "--amount", "6000 lb", "--at", "10:00")
    assert load["event"]["mass_kg"] == pytest.approx(6000 * 0.45359237)
    by_area = told(farm, "load", "--field", "A2", "--amount", "20 ac", "--at", "11:00")
    assert by_area["event"]["area_m2"] == pytest.approx(20 * ACRE_M2)
    told(farm, "spread", "--field", "A1", "--amount", "all", "--at", "12:00")
    done = told(
        farm, "covered", "--machine", "Cultivator 1", "--field", "A1", "--amount", "all",
        "--at", "13:00", "--took", "2 h",
    )  # fmt: skip
    assert done["event"]["whole"] is True
    assert done["event"]["took_s"] == 7200.0
    assert done["fields"]["A1"]["open_m2"] == pytest.approx(0.0, abs=1e-6)
    assert done["fields"]["A1"]["spread_m2"] > 79 * ACRE_M2


def test_passes_rounds_and_half_are_ground_and_a_load_is_the_spreaders_own(
    tmp_path: Path,
) -> None:
    """More passes are more ground; half the field is half of it; the words are kept."""
    farm = rye(tmp_path)
    load = told(farm, "load", "--field", "A1", "--at", "09:00")
    assert load["event"]["mass_kg"] > 1000.0
    told(farm, "undo", load["event"]["id"])
    half = told(farm, "spread", "--field", "A1", "--amount", "half", "--at", "10:00")
    assert half["event"]["area_m2"] == pytest.approx(79.1 / 2 * ACRE_M2, rel=0.01)
    machine = ("--machine", "Cultivator 1", "--field", "A1")
    few = told(farm, "covered", *machine, "--amount", "2 passes", "--at", "11:00")
    more = told(farm, "covered", *machine, "--amount", "6 passes", "--at", "12:00")
    assert more["event"]["told"] == "6 passes"
    assert more["event"]["area_m2"] == pytest.approx(3 * few["event"]["area_m2"])
    assert 1.0 < few["event"]["area_m2"] / ACRE_M2 < 20.0
    told(farm, "down", "--machine", "Seed truck", "--at", "12:30")


def test_a_metric_farm_is_answered_in_hectares(tmp_path: Path) -> None:
    """Never a mix."""
    farm = copy_of("oats-and-radish", tmp_path)
    name = json.loads((farm / "fields.geojson").read_text())["features"][0]["properties"]["name"]
    args = ("spread", "--field", name, "--amount", "2 ha", "--at", "13:00")
    found = asked("log", farm, *args, "--date", "2027-03-05")
    assert found.exit_code == 0, found.output
    assert f"13:00, Spreader, {name}: spread 2.0 ha" in words(found.stdout)
    assert " ac" not in found.stdout.replace(" acre", "")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("covered",), "Read 'no --machine'; expected which one: Cultivator 1, Cultivator 2"),
        (("spread", "--field", "A1"), "Read 'no --amount'; expected how much, such as"),
        (("spread", "--amount", "5 ac"), "Read 'no --field'; expected which one: A1, A2"),
        (("spread", "--amount", "5", "--field", "A1"), "expected an area with its unit"),
        (("load", "--amount", "5 h", "--field", "A1"), "expected a mass with its unit"),
        (("spread", "--amount", "5 ac", "--field", "A11"), "nearest: A1"),
        (("stuck", "--machine", "Cultivater 1"), "nearest: Cultivator 1"),
        (("rain",), "the time rain is called for"),
        (("rain", "--at", "soon"), 'a clock time such as "13:00"'),
        (("rain", "--at", "16:30", "--amount", "1 in"), "no --amount: rain has none"),
        (("begin", "--took", "1 h"), "no --took: begin has none"),
        (("note",), "what to note"),
        (("undo",), "the id of an event"),
        (("undo", "zz"), "the id of an event"),
        (("stop", "zz"), "no id: stop refers to no other event"),
        (("note", "--note", "x" * 501, "--at", "13:00"), "500 are room"),
        (("note", "--note", "x", "--at", "1999-01-01T13:00"), "no time a log is kept of"),
        (("--machine", "Spreader"), "what happened before it"),
        (("seeded",), "is not one of"),
    ],
)
def test_bad_input_is_a_sentence_and_nothing_is_told(
    tmp_path: Path, arguments: tuple[str, ...], says: str
) -> None:
    """Exit 2, what was read, what was expected."""
    farm = rye(tmp_path)
    found = run("log", farm, *arguments, *DAY)
    assert found.returncode == 2
    assert says in words(found.stderr)
    if (farm / "duskline.db").exists():
        with open_store(farm) as store:
            assert store.last_seq() == 0


def test_a_day_past_needs_its_clock_time(tmp_path: Path) -> None:
    """Now is not on that day."""
    found = run("log", rye(tmp_path), "stop", *DAY)
    assert found.returncode == 2
    assert "the clock time on that day" in words(found.stderr)


def test_a_log_written_by_hand_is_taken_in_and_one_edited_later_is_kept(tmp_path: Path) -> None:
    """Its events count; the edited file is set aside and said so."""
    farm = rye(tmp_path)
    (farm / "log.csv").write_text(
        "time,machine,what,field,amount\n2026-10-18T10:00,Spreader,spread,A1,60 ac\n"
    )
    first = told(farm, "note", "--note", "dew until ten", "--at", "10:30")
    assert first["open_m2"] == pytest.approx(60 * ACRE_M2)
    (farm / "log.csv").write_text("time,what\n")
    found = asked("log", farm, "note", "--note", "=1+1", "--at", "11:00", *DAY)
    assert "kept as log-edited-1.csv" in found.stderr
    assert (farm / "log-edited-1.csv").read_text() == "time,what\n"
    assert ",'=1+1," in (farm / "log.csv").read_text()
    assert "spread,A1,60 ac" in (farm / "log.csv").read_text()


def test_a_broken_log_keeps_its_line_named_and_makes_no_store(tmp_path: Path) -> None:
    """The sentence of the folder's own check."""
    farm = rye(tmp_path)
    (farm / "log.csv").write_text("time,what\nnoon,note\n")
    found = run("log", farm, "stop", "--at", "18:00", *DAY)
    assert found.returncode == 2
    assert "log.csv, line 2, time: read 'noon'" in words(found.stderr)
    assert not (farm / "duskline.db").exists()


def test_letters_that_a_terminal_acts_on_are_not_printed(tmp_path: Path) -> None:
    """A note from somebody else's phone is only ever a text."""
    farm = rye(tmp_path)
    note = "\x1b[2Jgone\nnext"
    found = asked("log", farm, "note", "--note", note, "--at", "13:00", *DAY)
    assert found.exit_code == 0
    assert "\x1b" not in found.stdout
    assert "[2Jgone next" in found.stdout
    assert told(farm, "stop", "--at", "18:00")["events"] == []
    with open_store(farm) as store:
        assert store.all_events()[0].note == note


def test_the_log_of_a_database_server_is_told_and_listed(tmp_path: Path) -> None:
    """The farm's files and events are in PostgreSQL; no folder is needed."""
    if server_programs() is None:
        pytest.skip(NO_SERVER)
    with postgres_database() as address:
        with open_store(address) as store:
            folder_into_store(rye(tmp_path), store)
        told(address, "spread", "--field", "A1", "--amount", "60 ac", "--at", "10:00")
        shown = words(asked("log", address, *DAY).stdout)
        assert "10:00 am, Spreader, A1: spread 60.0 ac" in shown
        assert asked("doctor", address).exit_code == 0
        found = asked("backup", address, tmp_path / "safe.db")
        assert found.exit_code == 0
        with open_store(tmp_path / "safe.db", create=False) as copy:
            assert copy.last_seq() == 1


# --- backup, restore, doctor ---------------------------------------------------------------


def test_a_farm_is_backed_up_and_brought_back_whole(tmp_path: Path) -> None:
    """From one file: the store, the folder's files and log.csv."""
    farm = rye(tmp_path)
    told(farm, "spread", "--field", "A1", "--amount", "60 ac", "--at", "10:00")
    (farm / "farm.toml").write_text((farm / "farm.toml").read_text() + "# the last line\n")
    found = asked("backup", farm, tmp_path / "safe.db")
    assert found.exit_code == 0
    assert found.stdout.strip() == str(tmp_path / "safe.db")
    new = tmp_path / "new"
    back = asked("restore", tmp_path / "safe.db", new)
    assert back.exit_code == 0, back.output
    assert words(back.stdout) == f"1 event back in {new / 'duskline.db'}"
    for name in ("farm.toml", "fields.geojson", "forecast.csv", "trays.csv", "log.csv"):
        assert (new / name).read_bytes() == (farm / name).read_bytes()


def test_restoring_over_a_farm_keeps_what_was_there(tmp_path: Path) -> None:
    """The old store under another name, edited files as they are; both are said."""
    farm = rye(tmp_path)
    told(farm, "stop", "--at", "18:00")
    asked("backup", farm, tmp_path / "safe.db")
    told(farm, "note", "--note", "later", "--at", "19:00")
    mine = (farm / "farm.toml").read_text() + "# mine\n"
    (farm / "farm.toml").write_text(mine)
    found = asked("restore", tmp_path / "safe.db", farm)
    assert found.exit_code == 0, found.output
    assert "The log that was there is kept as duskline.db.before-" in words(found.stderr)
    assert "Left as they are in the folder, other than in the backup: farm.toml" in words(
        found.stderr
    )
    assert (farm / "farm.toml").read_text() == mine
    kept = next(farm.glob("duskline.db.before-*"))
    with open_store(kept, create=False) as old:
        assert old.last_seq() == 2


def test_a_damaged_backup_is_refused_in_a_sentence(tmp_path: Path) -> None:
    """Exit 2, and the farm is as it was."""
    farm = rye(tmp_path)
    told(farm, "stop", "--at", "18:00")
    asked("backup", farm, tmp_path / "safe.db")
    with sqlite3.connect(tmp_path / "safe.db") as raw:
        raw.execute("UPDATE events SET note = 'changed'")
    raw.close()
    found = run("restore", tmp_path / "safe.db", farm)
    assert found.returncode == 2
    assert "this backup is not good" in words(found.stderr)


def test_a_place_that_is_not_there_is_bad_input(tmp_path: Path) -> None:
    """Not a farm without a log."""
    for command in (("doctor",), ("backup", tmp_path / "safe.db")):
        found = run(command[0], tmp_path / "nowhere", *command[1:])
        assert found.returncode == 2
        assert "nowhere" in found.stderr


def test_the_doctor_ends_with_1_where_something_is_wrong(tmp_path: Path) -> None:
    """And with 0 where all is well."""
    farm = rye(tmp_path)
    told(farm, "stop", "--at", "18:00")
    good = asked("doctor", farm)
    assert good.exit_code == 0
    assert "THE LOG IS SAFE" in good.stdout
    with sqlite3.connect(farm / "duskline.db") as raw:
        raw.execute("UPDATE events SET note = 'changed'")
    raw.close()
    bad = asked("doctor", farm, "--json")
    assert bad.exit_code == 1
    found = json.loads(bad.stdout)
    assert found["good"] is False
    assert [one["key"] for one in found["findings"] if one["level"] == "wrong"] == ["tellings"]


def test_a_store_of_a_newer_duskline_is_a_sentence(tmp_path: Path) -> None:
    """Not a trace."""
    farm = rye(tmp_path)
    told(farm, "stop", "--at", "18:00")
    with sqlite3.connect(farm / "duskline.db") as raw:
        raw.execute("UPDATE alembic_version SET version_num = '0099'")
    raw.close()
    found = run("log", farm, *DAY)
    assert found.returncode == 2
    assert "Update Duskline on this machine" in words(found.stderr)
