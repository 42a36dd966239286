"""Reading log.csv: what happened, and every line that cannot be read."""

from __future__ import annotations

import csv
import io
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from made_folders import ACRE_M2, POUND_KG
from made_stores import events as made_events
from made_stores import in_utc

from duskline.core.log import Event
from duskline.exchange.log_csv import COLUMNS, LARGEST_BYTES, MOST_PROBLEMS, read_log, write_log
from duskline.units import parse

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
            "line 2, what: read 'seeded'; expected begin or spread or load or stop or",
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
    """Over 20 MB, and over 50,000 lines."""
    assert read(tmp_path, b"x" * (LARGEST_BYTES + 1))[1] == [
        "log.csv: read more than 20 MB; expected no more than 20 MB."
    ]
    many = lines(*["2026-10-18T13:00,,note,,,,"] * 50_001)
    assert "read 50002 lines; expected no more than 50000" in read(tmp_path, many)[1][0]


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


# --- what the store writes -----------------------------------------------------------------

EXPORT = (
    "\n".join(
        [
            "time,machine,what,field,amount,took,note,area,told,id,device,person,entered,take"
            "n_in,refers,stop,chance",
            "2026-10-18T08:00-05:00,,plan,,,,,,,p1,desk,Owner,,2026-10-18T08:00:01-05:00,,202"
            "6-10-18T15:05-05:00,95 %",
            "2026-10-18T09:10-05:00,Cultivator 1,begin,A1,,,,,,b1,,,,,,,",
            "2026-10-18T10:00-05:00,Spreader,load,A1,6000 lb,20 min,,76 ac,1 load,l1,truck,,2"
            "026-10-18T10:02:00.000001-05:00,,,,",
            "2026-10-18T12:00-05:00,Cultivator 1,covered,A1,all,,,,,c1,,,,,,,",
            "2026-10-18T12:30-05:00,Cultivator 1,stuck,A1,,25 min,,,,s1,,,,,,,",
            "2026-10-18T12:40-05:00,,wet,A1,0.5 ac,,,,,w1,,,,,,,",
            "2026-10-18T13:00-05:00,,rain,,,,,,,r1,,,,,,,",
            "2026-10-18T13:30-05:00,,undo,,,,,,,u1,,,,,c1,,",
        ]
    )
    + "\n"
)


def test_every_kind_and_every_column_is_read(tmp_path: Path) -> None:
    """A written log: plan, begin, load with its area, all of a field, stuck, wet, rain, undo."""
    events, problems = read(tmp_path, EXPORT)
    assert problems == []
    plan, begin, load, covered, stuck, wet, rain, undo = events
    assert plan.stop_at == datetime(2026, 10, 18, 20, 5, tzinfo=UTC)
    assert plan.chance_fraction == pytest.approx(0.95)
    assert plan.server_at == datetime(2026, 10, 18, 13, 0, 1, tzinfo=UTC)
    assert (begin.what, begin.machine) == ("begin", "Cultivator 1")
    assert load.mass_kg == pytest.approx(6000 * POUND_KG)
    assert load.area_m2 == pytest.approx(76 * ACRE_M2)
    assert (load.told, load.device) == ("1 load", "truck")
    assert load.clock_at == datetime(2026, 10, 18, 15, 2, 0, 1, tzinfo=UTC)
    assert (covered.whole, covered.area_m2) == (True, None)
    assert stuck.took_s == 1500.0
    assert wet.area_m2 == pytest.approx(0.5 * ACRE_M2)
    assert (rain.what, undo.refers) == ("rain", "c1")


def test_what_is_read_is_written_as_it_stood(tmp_path: Path) -> None:
    """The figures a farmer wrote are the figures he finds again."""
    events, _ = read(tmp_path, EXPORT)
    assert write_log(events, CHICAGO, "us") == EXPORT


def test_a_plain_log_gets_no_more_columns_than_it_needs(tmp_path: Path) -> None:
    """The seven of a log that was written by hand."""
    text = lines("2026-10-18T13:00-05:00,Cultivator 1,covered,A1,39 ac,,dusty")
    assert write_log(read(tmp_path, text)[0], CHICAGO, "us") == text
    assert write_log((), CHICAGO, "us") == HEADER + "\n"


def test_figures_are_written_in_the_units_of_the_farm(tmp_path: Path) -> None:
    """Hectares and kilograms where those are used; what has no short form there, in full."""
    text = lines(
        "2026-10-18T13:00-05:00,,covered,A1,16 ha,,", "2026-10-18T14:00-05:00,,load,A1,2700 kg,,"
    )
    events, _ = read(tmp_path, text)
    assert write_log(events, CHICAGO, "metric") == text
    assert "16 ha" not in write_log(events, CHICAGO, "us")


@given(told=st.lists(made_events(), max_size=6), system=st.sampled_from(["us", "metric"]))
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@example(told=[Event(at=datetime(2026, 11, 1, 6, 30, tzinfo=UTC), what="note")], system="us")
@example(told=[Event(at=datetime(2026, 11, 1, 7, 30, tzinfo=UTC), what="note")], system="us")
@example(
    told=[Event(at=datetime(2026, 1, 1, tzinfo=UTC), what="down", whole=True, took_s=5e-324)],
    system="us",
)
def test_any_events_come_back_from_the_file_to_the_last_bit(
    tmp_path: Path, told: list[Event], system: Literal["us", "metric"]
) -> None:
    """Whatever the store can hold: letters, figures, moments, in the order of time."""
    events, problems = read(tmp_path, write_log(told, CHICAGO, system))
    assert problems == []
    wanted = sorted(told, key=lambda event: event.at.timestamp())
    assert [in_utc(event) for event in events] == [in_utc(event) for event in wanted]
    assert [event.digest for event in events] == [event.digest for event in wanted]


@given(st.floats(0.0, 1e8))
@settings(max_examples=300)
def test_a_figure_written_is_read_alike_by_the_program_and_by_units(area_m2: float) -> None:
    """The quick way of reading "39 ac" gives the very figure that ``parse`` gives."""
    text = write_log(
        [Event(at=datetime(2026, 1, 1, tzinfo=UTC), what="covered", area_m2=area_m2)], UTC, "us"
    )
    amount = text.splitlines()[1].split(",")[4]
    if amount.endswith(" ac"):
        assert parse(amount, "area") == area_m2
    else:
        assert amount == f"{area_m2!r} m2"


DANGEROUS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


@pytest.mark.parametrize("first", DANGEROUS)
@pytest.mark.parametrize("before", ["", " ", '"', "x;", 'x; "', "x|"])
def test_no_cell_is_taken_for_a_formula(tmp_path: Path, first: str, before: str) -> None:
    """In a program that parts at commas, and in one that parts at semicolons."""
    note = f"{before}{first}HYPERLINK(A1);{first}1"
    told = Event(at=datetime(2026, 1, 1, tzinfo=UTC), what="note", note=note, machine=note)
    text = write_log([told], UTC, "us")
    for row in csv.reader(io.StringIO(text)):
        assert not any(cell.lstrip(' "').startswith(DANGEROUS) for cell in row)
    for cell in re.split(r"[,;|\t\r\n]", text):
        assert not cell.lstrip(' "').startswith(DANGEROUS)
    assert read(tmp_path, text)[0][0].note == note


def test_an_apostrophe_that_a_hand_wrote_stays(tmp_path: Path) -> None:
    """Only one before what a spreadsheet would reckon is taken off."""
    events, problems = read(tmp_path, lines("2026-10-18T13:00,,note,,,,'tis wet"))
    assert problems == []
    assert events[0].note == "'tis wet"


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("2026-10-18T13:00,,covered,,40 ac,,,30 ac,,", "line 2, area: read '30 ac'; expected the"),
        ("2026-10-18T13:00,,covered,,40 ac,,,,30,", "line 2, mass: read '30'; expected a mass"),
        ("2026-10-18T13:00,,plan,,,,,,,120 %", "line 2, chance: read '120 %'; expected a share"),
        ("2026-10-18T13:00,,plan,,,,,,,nan", "line 2, chance: read 'nan'; expected a share"),
        ("2026-10-18T13:00,,covered,,1e999 m2,,,,,", "expected an area from 0 to"),
        ('2026-10-18T13:00,,note,,,,"\'""\\ud8""",,,', "line 2, note: read"),
    ],
)
def test_a_bad_cell_of_the_further_columns_is_named(tmp_path: Path, row: str, says: str) -> None:
    """A figure twice, a share over one, letters that are none."""
    events, problems = read(tmp_path, f"{HEADER},area,mass,chance\n{row}\n")
    assert events == ()
    assert says in problems[0]


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
