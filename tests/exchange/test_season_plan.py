"""Kept season plans: numbered, never written over, written whole, and read without belief."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.exchange import season_plan
from duskline.exchange.problems import FolderProblem
from duskline.exchange.season_plan import (
    KeptField,
    KeptHours,
    KeptPlan,
    KeptStop,
    KeptUnplaced,
    keep_plan,
    kept_order,
    latest_plan,
    read_plan,
)

MADE_AT = datetime(2026, 10, 17, 19, 30, tzinfo=ZoneInfo("America/Chicago"))
STOP = KeptStop(
    on=date(2026, 10, 18),
    crew="North crew",
    field="A1",
    area_m2=323_748.5,
    lot="Bin rye",
    starts_s=0.0,
    takes_s=9_000.25,
)
PLAN = KeptPlan(
    made_at=MADE_AT,
    stops=(STOP, replace(STOP, field="Ñandú, 2", lot="", crew="", starts_s=9_000.25)),
    unplaced=(KeptUnplaced(field="A5", area_m2=0.1),),
    note="A5 comes late: rain on the 20th.\nNothing else moved.",
)


def refused(path: Path) -> list[str]:
    """Why a plan is not read."""
    with pytest.raises(FolderProblem) as wrong:
        read_plan(path)
    return [problem.sentence for problem in wrong.value.problems]


def spoiled(path: Path, change: Callable[[dict[str, Any]], object]) -> list[str]:
    """Why a plan is not read whose content was changed."""
    content = json.loads(path.read_text("utf-8"))
    change(content)
    path.write_text(json.dumps(content), "utf-8")
    return refused(path)


def test_what_is_kept_is_read_again_to_the_last_digit(tmp_path: Path) -> None:
    """Names in any letters, figures bit for bit, the moment with its offset; it gets number 1."""
    path = keep_plan(tmp_path, PLAN)
    assert path == tmp_path / "season" / "season-plan-1.json"
    assert read_plan(path) == replace(PLAN, version=1)
    assert read_plan(path).made_at.utcoffset() == MADE_AT.utcoffset()
    assert json.loads(path.read_text("utf-8"))["format"] == "duskline season plan"


def test_the_latest_is_the_one_with_the_highest_number(tmp_path: Path) -> None:
    """The tenth comes after the ninth; other files in the folder are nobody's plan."""
    assert latest_plan(tmp_path) is None
    for number in range(1, 11):
        keep_plan(tmp_path, replace(PLAN, note=f"number {number}"))
    for name in ("season-plan-99.json.bak", "season-plan-099.json", "plan-99.json", ".x.tmp"):
        (tmp_path / "season" / name).write_text("{}", "utf-8")
    found = latest_plan(tmp_path)
    assert found is not None
    assert (found.version, found.note) == (10, "number 10")


def test_a_plan_once_kept_is_never_altered(tmp_path: Path) -> None:
    """The same plan again gets a new number and the same words; the first file keeps its bytes."""
    first = keep_plan(tmp_path, PLAN)
    before = first.read_bytes()
    second = keep_plan(tmp_path, replace(PLAN, version=1))
    assert second.name == "season-plan-2.json"
    assert first.read_bytes() == before
    assert second.read_bytes() == before.replace(b'"version": 1', b'"version": 2')
    assert sorted(os.listdir(tmp_path / "season")) == [first.name, second.name]


def test_two_who_keep_a_plan_at_once_get_two_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Number 2 is taken in between: it stays, and ours becomes number 3."""
    keep_plan(tmp_path, PLAN)
    write_new = season_plan._write_new
    calls: list[str] = []

    def late(path: Path, data: bytes) -> None:
        if not calls:
            path.write_text("another's", "utf-8")
        calls.append(path.name)
        write_new(path, data)

    monkeypatch.setattr(season_plan, "_write_new", late)
    assert keep_plan(tmp_path, PLAN).name == "season-plan-3.json"
    assert calls == ["season-plan-2.json", "season-plan-3.json"]
    assert (tmp_path / "season" / "season-plan-2.json").read_text("utf-8") == "another's"


def test_a_disk_without_links_keeps_plans_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A memory stick refuses links: the file is renamed in, and one that is there stays."""

    def refuse(*_paths: Path) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    path = keep_plan(tmp_path, PLAN)
    assert read_plan(path) == replace(PLAN, version=1)
    with pytest.raises(FileExistsError):
        season_plan._write_new(path, b"{}")
    assert read_plan(path) == replace(PLAN, version=1)
    assert os.listdir(tmp_path / "season") == [path.name]


def test_a_write_that_fails_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full: no half plan, no left-over, and the next one gets the number."""

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(os, "fsync", full)
        with pytest.raises(OSError, match="No space left"):
            keep_plan(tmp_path, PLAN)
    assert os.listdir(tmp_path / "season") == []
    assert keep_plan(tmp_path, PLAN).name == "season-plan-1.json"


@pytest.mark.parametrize(
    ("plan", "says"),
    [
        (replace(PLAN, made_at=MADE_AT.replace(tzinfo=None)), "made_at: read"),
        (replace(PLAN, stops=(replace(STOP, area_m2=math.nan),)), "stops.1.area_m2: read nothing"),
        (replace(PLAN, stops=(replace(STOP, area_m2=0.0),)), "stops.1.area_m2: read 0.0"),
        (replace(PLAN, stops=(replace(STOP, field=""),)), "stops.1.field"),
        (replace(PLAN, stops=(replace(STOP, crew="a\x1b[31mb"),)), "stops.1.crew"),
        (replace(PLAN, stops=(replace(STOP, takes_s=-1.0),)), "stops.1.takes_s: read -1.0"),
        (replace(PLAN, note="x" * 10_001), "note"),
        (replace(PLAN, unplaced=(KeptUnplaced(field="A1", area_m2=-1.0),)), "unplaced.1.area_m2"),
    ],
)
def test_a_plan_that_could_not_be_read_again_is_not_kept(
    tmp_path: Path, plan: KeptPlan, says: str
) -> None:
    """The place is named; nothing is written."""
    with pytest.raises(FolderProblem) as wrong:
        keep_plan(tmp_path, plan)
    assert says in str(wrong.value)
    assert os.listdir(tmp_path / "season") == []


def test_a_plan_too_large_to_be_read_again_is_not_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The limit holds on both sides."""
    monkeypatch.setattr(season_plan, "MOST_BYTES", 500)
    with pytest.raises(FolderProblem, match="read more than"):
        keep_plan(tmp_path, PLAN)
    assert os.listdir(tmp_path / "season") == []


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda c: c.update(format="another plan"), 'format: read "another plan"; expected \'dusk'),
        (lambda c: c.update(version=2), "read version 2; expected version 1, as its name says"),
        (lambda c: c.update(version=True), "version: read true"),
        (lambda c: c.update(made_at="2026-10-17T19:30:00"), "expected a moment with its offset"),
        (lambda c: c.update(made_at="0001-01-01T00:00:00+14:00"), "expected a moment with its off"),
        (lambda c: c.update(made_at=1_760_000_000), "made_at: read 1760000000; expected a moment"),
        (lambda c: c.pop("stops"), "stops: read nothing; expected the key 'stops'"),
        (lambda c: c.update(stops={}), "stops: read an object in braces"),
        (lambda c: c.update({"\x1b[2J": 1}), "?[2J: read an unknown key; expected the keys that"),
        (lambda c: c["stops"][0].update(date="2026-10-48"), 'stops.1.date: read "2026-10-48"'),
        (lambda c: c["stops"][0].update(date="1926-10-18"), "expected a date from 2000 to 2100"),
        (lambda c: c["stops"][0].update(area_m2="12"), 'stops.1.area_m2: read "12"; expected a va'),
        (
            lambda c: c["stops"][0].update(area_m2=1e300),
            "expected less than or equal to 1000000000",
        ),
        (lambda c: c["stops"][0].update(area_m2=math.nan), "stops.1.area_m2: read nan; expected a"),
        (lambda c: c["stops"][0].update(starts_s=1e6), "stops.1.starts_s: read 1000000.0; expect"),
        (lambda c: c["stops"][0].update(field="x" * 201), 'stops.1.field: read "xxx'),
        (lambda c: c["stops"][0].update(field="a\nb\x00"), 'stops.1.field: read "a?b?"'),
        (lambda c: c["stops"].append(3), "stops.3: read 3"),
    ],
)
def test_a_changed_file_is_refused_with_the_place(
    tmp_path: Path, change: Callable[[dict[str, Any]], object], says: str
) -> None:
    """One line that can be printed for each thing wrong."""
    found = spoiled(keep_plan(tmp_path, PLAN), change)
    assert any(says in sentence for sentence in found), found
    assert all(sentence.isprintable() for sentence in found)


@pytest.mark.parametrize("key", ["fields", "hours"])
def test_what_stands_twice_is_refused_as_the_file_is_read(tmp_path: Path, key: str) -> None:
    """And not by the long search that follows; nor is it kept."""
    on = date(2026, 10, 18)
    hours = KeptHours(on=on, crew="North crew", area_m2=9e5, lost_m2_per_s=20.0)
    known = KeptField(name="A1", area_m2=4e5, ready_on=on)
    plan = replace(PLAN, hours=(hours, replace(hours, crew="")), fields=(known,))
    path = keep_plan(tmp_path, plan)
    assert read_plan(path).hours == plan.hours
    says = {
        "fields": "season-plan-1.json, fields: read 'A1' twice; expected each field once.",
        "hours": "season-plan-1.json, hours: read 2026-10-18 of 'North crew' twice; expected each"
        " day once.",
    }
    assert spoiled(path, lambda c: c[key].append(c[key][0])) == [says[key]]
    with pytest.raises(FolderProblem, match="twice"):
        keep_plan(tmp_path, replace(plan, **{key: getattr(plan, key) * 2}))


def test_hostile_files_are_bounded(tmp_path: Path) -> None:
    """Nested without end, far too large, too many stops, no text, a folder, a pipe, no file."""
    path = keep_plan(tmp_path, PLAN)
    for raw in (b"[" * 200_000, b"\xff\xfe", b"", b'{"version": ' + b"9" * 10_000 + b"}"):
        path.write_bytes(raw)
        assert refused(path)
    path.write_bytes(b" " * (season_plan.MOST_BYTES + 1))
    assert refused(path) == ["season-plan-1.json: read more than 10 MB; expected a season plan."]
    content = b'{"stops": [' + b",".join([b"1"] * 100_000) + b"]}"
    path.write_bytes(content)
    assert 1 <= len(refused(path)) <= season_plan.MOST_PROBLEMS
    path.unlink()
    assert "no such file" in refused(path)[0]
    path.mkdir()
    assert "no such file" in refused(path)[0]
    path.rmdir()
    os.mkfifo(path)
    assert "no such file" in refused(path)[0]
    assert "expected a file named season-plan-1.json" in refused(tmp_path / "other.json")[0]


@given(st.binary(max_size=300))
def test_any_bytes_are_a_plan_or_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, raw: bytes
) -> None:
    """Nothing else is ever raised."""
    path = tmp_path_factory.mktemp("plans") / "season-plan-1.json"
    path.write_bytes(raw)
    assert all(refused(path))


NAMES = st.text(
    st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=40
).filter(str.isprintable)


@given(
    stops=st.lists(
        st.builds(
            KeptStop,
            on=st.dates(date(2000, 1, 1), date(2100, 12, 31)),
            crew=NAMES,
            field=NAMES,
            area_m2=st.floats(1e-3, 1e9),
            lot=NAMES,
            starts_s=st.floats(0.0, 86400.0),
            takes_s=st.floats(0.0, 86400.0),
        ),
        max_size=5,
    ),
    made_at=st.datetimes(datetime(2000, 1, 2), datetime(2100, 12, 30)),  # noqa: DTZ001
)
def test_every_plan_survives_the_round_trip(
    tmp_path_factory: pytest.TempPathFactory, stops: list[KeptStop], made_at: datetime
) -> None:
    """What goes in comes out, to the last bit of every figure."""
    plan = KeptPlan(
        made_at=made_at.replace(microsecond=0, tzinfo=UTC),
        stops=tuple(stops),
    )
    folder = tmp_path_factory.mktemp("farm")
    assert read_plan(keep_plan(folder, plan)) == replace(plan, version=1)


def test_a_kept_plan_says_in_which_order_it_comes_to_the_fields() -> None:
    """By day and by the time of day, each field once; what has no day comes last."""

    def stop(field: str, day: int, starts_s: float = 0.0) -> KeptStop:
        return KeptStop(
            on=date(2026, 10, day), crew="", field=field, area_m2=1.0, starts_s=starts_s
        )

    stops = (stop("C", 19), stop("B", 18, 3600.0), stop("A", 18), stop("B", 20))
    rest = (KeptUnplaced(field="D", area_m2=1.0), KeptUnplaced(field="C", area_m2=1.0))
    assert kept_order(replace(PLAN, stops=stops, unplaced=rest)) == ("A", "B", "C", "D")
