"""Reading log.csv: what happened, and every line that cannot be read."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_folders import ACRE_M2, POUND_KG

from duskline.core.log import Event
from duskline.exchange.log_csv import COLUMNS, LARGEST_BYTES, MOST_PROBLEMS, read_log

CHICAGO = ZoneInfo("America/Chicago")
HEADER = "time,machine,what,field,amount,took,note"


def read(folder: Path, content: str | bytes) -> tuple[tuple[Event, ...], list[str]]:
    """The events of a log with this content, and the sentences of its problems."""
    path = folder / "log.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    events, problems = read_log(path, zone=CHICAGO)
    return events, [problem.sentence for problem in problems]


def lines(*rows: str) -> str:
    """A log of these rows under the usual header."""
    return "\n".join([HEADER, *rows, ""])


# --- what is read --------------------------------------------------------------------------


def test_areas_loads_and_stops_are_read_in_si(tmp_path: Path) -> None:
    """40 acres in 2 h 30 min, a load of 6,000 lb, half an hour down; times by the farm's clock."""
    events, problems = read(
        tmp_path,
        lines(
            '2026-10-18T12:30,Cultivator 1,covered,A1,40 ac,2 h 30 min,"dry, dusty"',
            "2026-10-18T10:00,Spreader,load,,6000 lb,20 min,",
            "2026-10-18T18:00+00:00,Cultivator 1,down,,30 min,,flat tire",
        ),
    )
    assert problems == []
    load, covered, down = events
    assert load.mass_kg == pytest.approx(6000 * POUND_KG)
    assert load.took_s == 1200.0
    assert covered.area_m2 == pytest.approx(40 * ACRE_M2)
    assert covered.took_s == 9000.0
    assert covered.note == "dry, dusty"
    assert covered.at == datetime(2026, 10, 18, 17, 30, tzinfo=UTC)
    assert down.took_s == 1800.0
    assert (down.at.hour, down.at.tzinfo) == (13, CHICAGO)


def test_events_are_put_in_order_of_time_even_when_clocks_go_back(tmp_path: Path) -> None:
    """1:50 before the change comes before 1:10 after it, though the clock says otherwise."""
    events, problems = read(
        tmp_path,
        lines("2026-11-01T01:10-06:00,,note,,,,second", "2026-11-01T01:50-05:00,,note,,,,first"),
    )
    assert problems == []
    assert [event.note for event in events] == ["first", "second"]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n\n",
        b"# nothing yet\n",
        HEADER.encode(),
        b"\xef\xbb\xbf" + HEADER.encode() + b"\r\n",
    ],
)
def test_a_log_with_nothing_in_it_is_a_good_log(tmp_path: Path, content: bytes) -> None:
    """Empty, comments only, a header alone."""
    assert read(tmp_path, content) == ((), [])


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_any_line_ending_and_a_byte_order_mark_are_read(tmp_path: Path, ending: str) -> None:
    """Files saved on any machine, comments and empty lines between."""
    text = lines("# morning", "", "2026-10-18T13:00,Spreader,spread,A1,10 ac,,", ",,,,,,")
    events, problems = read(tmp_path, b"\xef\xbb\xbf" + text.replace("\n", ending).encode())
    assert problems == []
    assert len(events) == 1


def test_columns_may_be_left_out_and_stand_in_any_order(tmp_path: Path) -> None:
    """Only time and what are needed; cells left empty at the end may be left away."""
    events, problems = read(tmp_path, "What, Time,amount\nspread,2026-10-18T13:00\n")
    assert problems == []
    assert events[0].what == "spread"
    assert events[0].area_m2 is None


# --- what is refused -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("noon,,note,,,,", "line 2, time: read 'noon'; expected a time such as 2026-10-18T13:00"),
        (",,note,,,,", "line 2, time: read nothing; expected a time"),
        ("0001-01-01T00:00+14:00,,note,,,,", "expected a time such as 2026-10-18T13:00"),
        ("9999-12-31T23:59,,note,,,,", "expected a time such as 2026-10-18T13:00"),
        (
            "2026-10-18T13:00,,seeded,,,,",
            "line 2, what: read 'seeded'; expected spread or covered or load or down or note",
        ),
        (
            "2026-10-18T13:00,,spread,,40,,",
            "line 2, amount: read '40'; expected an area with its unit, such as \"80 ac\"",
        ),
        ("2026-10-18T13:00,,load,,40 ac,,", "expected a mass with its unit"),
        ("2026-10-18T13:00,,spread,,40 ac,2,", "line 2, took: read '2'; expected a time"),
        ("2026-10-18T13:00,,spread,,-40 ac,,", "read '-40 ac'; expected an area from 0 to"),
        ("2026-10-18T13:00,,spread,,40 ac,99 days,", "expected a time from 0 to"),
        ("2026-10-18T13:00,,note,,,,a,b", "line 2: read 8 cells; expected 7"),
        ('2026-10-18T13:00,"A', "line 2: read '2026-10-18T13:00,\"A'; expected cells parted"),
        ("2026-10-18T13:00,a\x00b,note,,,,", "line 2, machine: read 'a?b'; expected one line"),
        ("2026-10-18T13:00,,note,,,," + "x" * 600, "line 2, note: read 'xxx"),
        ("2026-10-18T13:00,,note,,,," + "x" * 200_000, "line 2: read '2026-10-18T13:00,,note"),
    ],
)
def test_a_bad_line_is_named_with_what_was_expected(tmp_path: Path, row: str, says: str) -> None:
    """Line, column, what was read and what it should look like; the line's event is left out."""
    events, problems = read(tmp_path, lines(row))
    assert events == ()
    assert len(problems) == 1
    assert problems[0].startswith("log.csv, line 2")
    assert says in problems[0]


def test_every_bad_line_is_told_and_the_good_ones_are_kept(tmp_path: Path) -> None:
    """Two of four lines are wrong, one of them twice: three problems, two events."""
    events, problems = read(
        tmp_path,
        lines(
            "2026-10-18T13:00,Spreader,spread,A1,10 ac,,",
            "2026-10-18T14:00,Spreader,spread,A1,10,5,",
            "2026-10-18T15:00,Spreader,spread,A1,10 ac,,",
            "later,Spreader,spread,A1,10 ac,,",
        ),
    )
    assert [event.at.hour for event in events] == [13, 15]
    assert ["line 3, amount" in p or "line 3, took" in p or "line 5" in p for p in problems] == [
        True, True, True,
    ]  # fmt: skip


@pytest.mark.parametrize("header", ["when,what", "time,machine", "time,what,what", "time;what"])
def test_a_header_that_is_not_ours_is_shown_the_right_one(tmp_path: Path, header: str) -> None:
    """An unknown, missing or doubled column stops the reading: nothing below can be trusted."""
    events, problems = read(tmp_path, f"{header}\n2026-10-18T13:00,note\n")
    assert events == ()
    assert len(problems) == 1
    assert f"expected columns {', '.join(COLUMNS)}, each once" in problems[0]


def test_bytes_that_are_not_text_are_named_by_their_line(tmp_path: Path) -> None:
    """A spreadsheet's own format, or another alphabet's bytes."""
    assert read(tmp_path, b"time,what\n\xff\xfe") == (
        (),
        ["log.csv, line 2: read a byte that is no text; expected text in UTF-8."],
    )


def test_too_long_a_log_is_refused_unread(tmp_path: Path) -> None:
    """Over 5 MB, and over 20,000 lines."""
    assert read(tmp_path, b"x" * (LARGEST_BYTES + 1))[1] == [
        "log.csv: read more than 5 MB; expected no more than 5 MB."
    ]
    many = lines(*["2026-10-18T13:00,,note,,,,"] * 20_001)
    assert "read 20002 lines; expected no more than 20000" in read(tmp_path, many)[1][0]


def test_a_thousand_bad_lines_are_counted_not_listed(tmp_path: Path) -> None:
    """The first hundred are told, the rest as a number."""
    _, problems = read(tmp_path, lines(*["noon,,note,,,,"] * 1000))
    assert len(problems) == MOST_PROBLEMS + 1
    assert problems[-1] == "log.csv: read 900 more of the kind; expected none."


def test_a_file_that_cannot_be_opened_is_a_problem(tmp_path: Path) -> None:
    """A folder of that name, for one."""
    (tmp_path / "log.csv").mkdir()
    events, problems = read_log(tmp_path / "log.csv", zone=CHICAGO)
    assert events == ()
    assert "expected a file that can be read" in problems[0].sentence


@given(
    st.binary(max_size=400)
    | st.text(alphabet="0123456789-T:+,\"'\r\n aclbspread.#\x00", max_size=400).map(str.encode)
)
@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_bytes_give_events_or_sentences(tmp_path: Path, content: bytes) -> None:
    """Whatever the file holds, reading ends and every problem is a sentence."""
    _, problems = read(tmp_path, content)
    with_header, more = read(tmp_path, HEADER.encode() + b"\n" + content)
    assert all(p.startswith("log.csv") and p.isprintable() for p in [*problems, *more])
    assert all(event.at.tzinfo is not None for event in with_header)
