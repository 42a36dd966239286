"""Reading a tray test: what is accepted, and a sentence for all that is not."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.trays import TrayTest
from duskline.exchange.problems import FolderProblem, Problem
from duskline.exchange.trays_csv import parse_trays, read_trays

GOOD = b"position_ft,run1_g,run2_g\n-5,1,2\n0,4,5\n5,1,2\n"


def problems(content: bytes) -> tuple[Problem, ...]:
    """Everything wrong with the file."""
    with pytest.raises(FolderProblem) as refused:
        parse_trays(content, name="trays", file="trays.csv")
    return refused.value.problems


def one_problem(content: bytes) -> Problem:
    """The only thing wrong with the file."""
    (problem,) = problems(content)
    return problem


def test_a_good_file_is_read_in_si(tmp_path: Path) -> None:
    """5 ft is 1.524 m, 4 g is 0.004 kg, one tuple a run, named after the file."""
    path = tmp_path / "rye.csv"
    path.write_bytes(GOOD)
    test = read_trays(path)
    assert test.name == "rye"
    assert test.positions_m == pytest.approx((-1.524, 0.0, 1.524))
    assert test.masses_kg[0] == pytest.approx((0.001, 0.004, 0.001))
    assert test.masses_kg[1] == pytest.approx((0.002, 0.005, 0.002))
    assert not test.path_assumed_in_middle


def test_places_from_one_end_are_centred_and_said_to_be() -> None:
    """0, 5, 10 ft: the line is taken under the second tray."""
    test = parse_trays(b"position_ft,run1_g\n0,1\n5,4\n10,1\n", name="t", file="t.csv")
    assert test.positions_m == pytest.approx((-1.524, 0.0, 1.524))
    assert test.path_assumed_in_middle


UNITS = [
    ("position_m", "run1_kg", 1.0, 1.0),
    ("position_cm", "run1_g", 0.01, 0.001),
    ("position_in", "run1_oz", 0.0254, 0.028349523125),
    ("position_ft", "run1_lb", 0.3048, 0.45359237),
    ("POSITION_FT", "Run_1_LB", 0.3048, 0.45359237),
]


@pytest.mark.parametrize(("place", "run", "length", "mass"), UNITS)
def test_every_unit_of_the_heading(place: str, run: str, length: float, mass: float) -> None:
    """Exact conversions, capitals or not."""
    text = f"{place},{run}\n-1,2\n0,3\n1,2\n"
    test = parse_trays(text.encode(), name="t", file="t.csv")
    assert test.positions_m == pytest.approx((-length, 0.0, length))
    assert test.masses_kg[0] == pytest.approx((2 * mass, 3 * mass, 2 * mass))


def test_counted_seeds_stay_counts() -> None:
    """A count is not a mass."""
    test = parse_trays(b"position_m,run1_seeds\n-1,20\n0,31\n1,18\n", name="t", file="t.csv")
    assert test.seeds_count == ((20.0, 31.0, 18.0),)
    assert test.masses_kg == ()
    assert test.is_counted


def test_marks_comments_blank_lines_and_line_ends_are_passed_over() -> None:
    """A byte order mark, Windows line ends, comments, blank lines, spaces round the cells."""
    content = (
        b"\xef\xbb\xbf# rye, 3 Oct\r\n\r\nposition_m , run1_g\r\n -1 , 2\r\n0,3\r\n  # x\r\n1,2"
    )
    test = parse_trays(content, name="t", file="t.csv")
    assert test.positions_m == (-1.0, 0.0, 1.0)


@pytest.mark.parametrize("separator", [";", "\t"])
def test_decimal_commas_are_read_between_semicolons_or_tabs(separator: str) -> None:
    """As a spreadsheet set to a decimal comma writes it."""
    lines = [("position_m", "run1_g"), ("-0,5", "2,5"), ("0", "3"), ("0.5", "2,25")]
    content = "\n".join(separator.join(line) for line in lines).encode()
    test = parse_trays(content, name="t", file="t.csv")
    assert test.positions_m == (-0.5, 0.0, 0.5)
    assert test.masses_kg[0] == pytest.approx((0.0025, 0.003, 0.00225))


def test_decimal_commas_between_commas_are_refused_with_the_way_out() -> None:
    """1,5,2 might be 1.5 and 2 or 1 and 5.2; the number of cells gives it away."""
    problem = one_problem(b"position_m,run1_g\n-1,5,2\n0,3\n1,2\n2,2\n")
    assert problem.where == "line 2"
    assert problem.read == "3 cells"
    assert "semicolons" in problem.sentence
    quoted = one_problem(b'position_m,run1_g\n-1,"2,5"\n0,3\n1,2\n')
    assert quoted.where == "line 2, run 1"
    assert "thousands" in quoted.hint


def test_thousands_marks_are_refused() -> None:
    """1.234,5 is no plain number whoever wrote it."""
    problem = one_problem(b"position_m;run1_g\n-1;1.234,5\n0;3\n1;2\n")
    assert problem.read == '"1.234,5"'


def test_every_problem_is_named_at_once_with_its_line() -> None:
    """A word, an empty cell, less than nothing and a missing cell, in one go."""
    content = b"# c\nposition_m,run1_g,run2_g\n-1,two,2\n0,,3\n1,-1,2\n2,3\n"
    found = problems(content)
    assert [problem.where for problem in found] == [
        "line 3, run 1", "line 4, run 1", "line 5, run 1", "line 6",
    ]  # fmt: skip
    assert found[0].read == '"two"'
    assert found[1].read == "an empty cell"
    assert "Write 0" in found[1].hint
    assert "0 or more" in found[2].expected
    assert found[3].read == "2 cells"
    assert all(problem.file == "trays.csv" for problem in found)


@pytest.mark.parametrize(
    "cell", ["nan", "inf", "-inf", "1e999", "1_000", "0x10", "1 2", "١", "--1"]
)
def test_what_looks_like_a_number_and_is_none(cell: str) -> None:
    """Programs read these as numbers; nobody weighs them."""
    problem = one_problem(f"position_m,run1_g\n-1,{cell}\n0,3\n1,2\n".encode())
    assert problem.where == "line 2, run 1"


HEADINGS = [
    ("position,run1_g", "the unit"),
    ("position_yd,run1_g", "ft, m, in, cm"),
    ("position_m,run1", "the unit"),
    ("position_m,run1_stone", "g, kg, oz, lb, seeds"),
    ("position_m", "at least one"),
    ("run1_g,run2_g", "position_ft"),
    ("position_m,position_ft,run1_g", "2 columns"),
    ("position_m,run1_g,run1_g", "twice"),
    ("position_m,run1_g,run2_seeds", "some runs weighed"),
    ("position_m,run1_g,wind", "position_ft,run1_g,run2_g"),
    ("-1,2,3", "position_ft,run1_g,run2_g"),
]


@pytest.mark.parametrize(("heading", "said"), HEADINGS)
def test_a_heading_that_cannot_be_read(heading: str, said: str) -> None:
    """Every way to get the heading wrong gets a sentence that shows the right one."""
    rows = "\n".join(",".join("1" for _ in heading.split(",")) for _ in range(3))
    found = problems(f"{heading}\n{rows}\n".encode())
    assert any(said in problem.sentence for problem in found)
    assert all(problem.where == "line 1" for problem in found)


def test_uneven_trays_are_refused_with_the_row() -> None:
    """The fourth stands 7 ft on where all others stand 5 ft."""
    problem = one_problem(b"position_ft,run1_g\n0,1\n5,2\n10,3\n17,2\n22,1\n27,1\n")
    assert problem.where == "line 5, position"
    assert problem.read == "a tray 7 ft after the one before"
    assert problem.expected == "5 ft, the spacing of the row"


def test_a_row_that_cannot_be_read_is_no_gap_too() -> None:
    """The bad place is named; the trays beside it are not called uneven."""
    found = problems(b"position_ft,run1_g\n0,1\n5,2\nten,3\n15,2\n20,1\n")
    assert [problem.where for problem in found] == ["line 4, position"]


FALLING = [b"position_m,run1_g\n2,1\n1,2\n0,1\n", b"position_m,run1_g\n0,1\n0,2\n0,1\n"]


@pytest.mark.parametrize("content", FALLING)
def test_places_that_do_not_rise_are_refused(content: bytes) -> None:
    """Right to left, or all on one spot."""
    assert "left to right" in one_problem(content).expected


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "heading"),
        (b"# nothing\n\n", "heading"),
        (b"position_m,run1_g\n", "at least 3"),
        (b"position_m,run1_g\n0,1\n1,2\n", "at least 3"),
        (b"position_m,run1_g\n-1,0\n0,0\n1,0\n", "a run that caught seed"),
        (b"position_m,run1_g\n-3,1\n-2,2\n-1,1\n", "both sides"),
        (b"position_m,run1_g\n-900,1\n0,2\n900,1\n", "within 500 m"),
        (b"position_m,run1_kg\n-1,1\n0,2000\n1,1\n", "below 1,000 kg"),
        (b"position_m,run1_seeds\n-1,1\n0,2.5\n1,1\n", "whole number of seeds"),
        (b"position_m,run1_seeds\n-1,1\n0,1e9\n1,1\n", "whole number of seeds"),
        (b'position_m,run1_g\n-1,"2\n0,3\n1,2\n', "quotation marks"),
        (b"position_m,run1_g\n-1,2\xff\n0,3\n1,2\n", "UTF-8"),
        ("position_m,run1_g\n-1,2\n".encode("utf-16"), "UTF-8"),
        (b"position_m,run1_g\n-1,2\x00\n0,3\n1,2\n", "UTF-8"),
    ],
)
def test_a_file_that_is_no_tray_test_gets_a_sentence(content: bytes, said: str) -> None:
    """Empty, too short, nothing caught, one-sided, absurd, broken quotation, another encoding."""
    assert any(said in problem.sentence for problem in problems(content))


def test_too_many_rows_are_refused() -> None:
    """2,001 trays."""
    rows = "".join(f"{place / 10},1\n" for place in range(2001))
    assert "2,000" in one_problem(f"position_m,run1_g\n{rows}".encode()).expected


def test_two_thousand_rows_are_read() -> None:
    """The most that is taken."""
    rows = "".join(f"{place / 10},1\n" for place in range(2000))
    test = parse_trays(f"position_m,run1_g\n{rows}".encode(), name="t", file="t.csv")
    assert len(test.positions_m) == 2000


def test_too_many_runs_are_refused() -> None:
    """51 runs."""
    heading = ",".join(f"run{run}_g" for run in range(51))
    row = ",1" * 51
    content = f"position_m,{heading}\n-1{row}\n0{row}\n1{row}\n"
    assert "at most 50" in one_problem(content.encode()).sentence


def test_too_large_a_file_is_refused_unread(tmp_path: Path) -> None:
    """5 MB and a byte, on disk and in memory."""
    path = tmp_path / "trays.csv"
    with path.open("wb") as file:
        file.truncate(5_000_001)
    with pytest.raises(FolderProblem, match="5,000,000"):
        read_trays(path)
    assert "5,000,000" in one_problem(b"#" * 5_000_001).expected


def test_a_missing_file_is_a_problem_too(tmp_path: Path) -> None:
    """No trace, a sentence; a folder in its place likewise."""
    with pytest.raises(FolderProblem, match=r"trays\.csv"):
        read_trays(tmp_path / "trays.csv")
    with pytest.raises(FolderProblem):
        read_trays(tmp_path)


def test_what_was_read_is_shown_short_and_printable() -> None:
    """A page in a cell, or a terminal's control letters, do not reach the screen whole."""
    problem = one_problem(b"position_m,run1_g\n-1," + b"x" * 500 + b"\n0,3\n1,2\n")
    assert len(problem.read) < 50
    control = one_problem(b"position_m,run1_g\n-1,\x1b[31m\n0,3\n1,2\n")
    assert "\x1b" not in control.read


def tried(content: bytes) -> TrayTest | tuple[Problem, ...]:
    """The tray test, or what is wrong with the file."""
    try:
        return parse_trays(content, name="t", file="t.csv")
    except FolderProblem as refused:
        return refused.problems


@given(st.binary(max_size=400))
def test_no_bytes_crash_the_reader(content: bytes) -> None:
    """A tray test or a list of problems, nothing else."""
    found = tried(b"position_m,run1_g\n" + content)
    assert len(found.positions_m) >= 3 if isinstance(found, TrayTest) else found


@given(st.text(alphabet='positnruwg_m1,;.-0#\n"', max_size=120))
def test_no_text_crashes_the_reader(text: str) -> None:
    """Headings and cells in any disorder."""
    found = tried(text.encode())
    assert isinstance(found, TrayTest) or all(problem.sentence for problem in found)


rows = st.lists(st.tuples(st.integers(-9, 9), st.integers(-5, 50)), min_size=3, max_size=9)


@given(rows)
def test_a_test_that_is_read_is_a_test_the_core_takes(cells: list[tuple[int, int]]) -> None:
    """What the reader lets through never fails later."""
    text = "position_m,run1_g\n" + "".join(f"{place},{mass}\n" for place, mass in cells)
    found = tried(text.encode())
    rising = [place for place, _ in cells]
    if isinstance(found, TrayTest):
        assert rising == sorted(rising)
        assert min(mass for _, mass in cells) >= 0
    else:
        assert found
