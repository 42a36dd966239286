"""log.csv: what happened, with every bad line named."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from made_folders import ACRE_M2, POUND_KG

from duskline.exchange.log_csv import read_log

ZONE = ZoneInfo("America/Chicago")


def read(tmp_path: Path, text: str) -> tuple[list[tuple[str, float | None]], list[str]]:
    """Return what and how much of each event, and the problems."""
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    events, problems = read_log(path, zone=ZONE)
    return [(e.what, e.area_m2 or e.mass_kg) for e in events], [p.sentence for p in problems]


def test_events_come_in_order_of_time_with_amounts_in_si(tmp_path: Path) -> None:
    """A load in pounds, an area in acres, a time without an offset in the farm's zone."""
    events, problems = read(
        tmp_path,
        "# crew log\ntime,machine,what,field,amount,took\n"
        "2026-10-18T13:00,Cultivator 1,covered,A1,40 ac,2 h 40 min\n"
        "2026-10-18T09:30-05:00,Spreader,load,,6000 lb,\n",
    )
    assert problems == []
    assert [what for what, _ in events] == ["load", "covered"]
    assert events[0][1] == pytest.approx(6000 * POUND_KG)
    assert events[1][1] == pytest.approx(40 * ACRE_M2)


def test_every_bad_line_is_named(tmp_path: Path) -> None:
    """A wrong time, a wrong word, a wrong unit: each with its line and column."""
    events, problems = read(
        tmp_path,
        "time,what,amount\nyesterday,spread,4 ac\n2026-10-18T10:00,sprayed,4 ac\n"
        "2026-10-18T11:00,spread,4 lb\n2026-10-18T12:00,spread,4 ac\n",
    )
    assert len(events) == 1
    assert len(problems) == 3
    assert "log.csv, line 2, time" in problems[0]
    assert "log.csv, line 3, what" in problems[1]
    assert "log.csv, line 4, amount" in problems[2]


@pytest.mark.parametrize("text", ["when,what\n", "time\n", "what,amount,colour\n"])
def test_an_unknown_heading_is_refused_with_the_known_one(tmp_path: Path, text: str) -> None:
    """The columns that may stand there are told."""
    events, problems = read(tmp_path, text)
    assert events == []
    assert "columns time, machine, what" in problems[0]


def test_an_empty_log_is_no_problem(tmp_path: Path) -> None:
    """Nothing has happened yet."""
    assert read(tmp_path, "") == ([], [])
    assert read(tmp_path, "# nothing\n") == ([], [])


def test_bytes_that_are_no_text_and_huge_files_get_a_sentence(tmp_path: Path) -> None:
    """No trace, no hang."""
    path = tmp_path / "log.csv"
    path.write_bytes(b"\xff\xfe\x00")
    assert "UTF-8" in read_log(path, zone=ZONE)[1][0].sentence
    path.write_bytes(b"x" * 5_000_001)
    assert "no more than 5 MB" in read_log(path, zone=ZONE)[1][0].sentence
