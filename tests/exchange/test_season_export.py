"""The custom operator's export: each customer's table and letter, crews' days, totals."""

from __future__ import annotations

import csv
import io
import zipfile
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.farm import Acres
from duskline.exchange.calendar_ics import DayPlan, FieldVisit, SownBetween
from duskline.exchange.season_export import (
    FieldNotListed,
    FieldTwice,
    SeasonField,
    season_files,
    season_zip,
    write_season_folder,
)
from duskline.units import ACRE_M2

ZONE = ZoneInfo("America/New_York")
ON = date(2026, 10, 14)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """A moment of October 2026."""
    return datetime(2026, 10, day, hour, minute, tzinfo=ZONE)


def visit(name: str, customer: str, acres: float, day: int, hour: int, *, part: bool = False,
          lot: str = "rye") -> FieldVisit:  # fmt: skip
    """A visit that begins between 2 and 32 minutes past the hour."""
    return FieldVisit(
        name=name, customer=customer, lot=lot, area_m2=acres * ACRE_M2, is_part=part,
        about_from_at=at(day, hour, 2), about_to_at=at(day, hour, 32),
    )  # fmt: skip


def day(on: int, crew: str, *fields: FieldVisit, off: str = "") -> DayPlan:
    """A day from 9 am to 6 pm, stop at 3:58 pm."""
    return DayPlan(
        on=date(2026, 10, on), crew=crew, opens_at=at(on, 9), stop_at=at(on, 15, 58),
        closes_at=at(on, 18), fields=fields, called_off=off,
    )  # fmt: skip


def field(name: str, customer: str, acres: float, office: float | None = None) -> SeasonField:
    """A field of so many acres by its outline."""
    office_m2 = None if office is None else office * ACRE_M2
    return SeasonField(
        name=name, customer=customer, lot="rye",
        acres=Acres(outline_m2=acres * ACRE_M2, office_m2=office_m2),
    )  # fmt: skip


FIELDS = [
    field("North 40", "Miller", 40.2, 39.8),
    field("Creek", "Miller", 60.0),
    field("Hill", "Miller", 12.3, 12.3),
    field("North 40", "Ortiz", 38.0, 38.0),
]
DAYS = [
    day(16, "East", visit("Creek", "Miller", 25.0, 16, 9, part=True)),
    day(15, "East", visit("North 40", "Miller", 40.2, 15, 9),
        visit("Creek", "Miller", 35.0, 15, 11, part=True)),
    day(15, "West", visit("North 40", "Ortiz", 38.0, 15, 10, lot="wheat")),
    day(17, "East", visit("Hill", "Miller", 12.3, 17, 9), off="rain"),
]  # fmt: skip


def files(system: str = "us") -> dict[str, str]:
    """The export of two customers and two crews."""
    return season_files(DAYS, FIELDS, farm="Tidewater", on=ON, system=system)  # type: ignore[arg-type]


def table(text: str) -> list[dict[str, str]]:
    """The rows of a table."""
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_each_customer_and_crew_has_its_files() -> None:
    """Numbered plain names, whatever the customer is called."""
    assert sorted(files()) == [
        "crews/01-east.csv", "crews/02-west.csv", "customers/01-miller.csv",
        "customers/01-miller.txt", "customers/02-ortiz.csv", "customers/02-ortiz.txt",
        "fields.csv", "letters.csv", "totals.csv",
    ]  # fmt: skip


def test_a_customer_sees_day_window_and_every_acre_figure() -> None:
    """Times rounded outwards to 5 minutes; on-file acres once a field; unknown ones empty."""
    rows = {(one["field"], one["date"]): one for one in table(files()["customers/01-miller.csv"])}
    north = rows["North 40", "2026-10-15"]
    assert (north["there from"], north["there by"]) == ("9:00 am", "9:35 am")
    assert (north["planned (ac)"], north["outline (ac)"], north["office (ac)"]) == (
        "40.2", "40.2", "39.8",
    )  # fmt: skip
    assert north["driven (ac)"] == ""
    first, second = rows["Creek", "2026-10-15"], rows["Creek", "2026-10-16"]
    assert (first["part"], first["planned (ac)"], first["outline (ac)"]) == ("part", "35.0", "60.0")
    assert (second["planned (ac)"], second["outline (ac)"]) == ("25.0", "")
    assert rows["Hill", ""]["part"] == "no day yet"


def test_no_customer_reads_of_another() -> None:
    """Ortiz's files name neither Miller nor Miller's fields, and the other way round."""
    mine = "".join(text for name, text in files().items() if "ortiz" in name)
    assert not any(word in mine for word in ("Miller", "Creek", "Hill"))
    theirs = "".join(text for name, text in files().items() if "miller" in name)
    assert "Ortiz" not in theirs
    assert "38.0" not in theirs


def test_the_letter_speaks_in_plain_sentences() -> None:
    """What, where, when, what waits, which acres to settle."""
    letter = files()["customers/01-miller.txt"]
    for line in (
        "To Miller: Tidewater's plan of Wednesday, October 14, 2026.",
        "We plan to spread 2 fields, 100.2 ac in all, and to work the seed in the same day.",
        "Creek, part of it, 35.0 ac of rye: Thursday, October 15. "
        "We expect to be there between 11:00 am and 11:35 am.",
        "No day yet: Hill (12.3 ac). We will tell you when there is one.",
        "North 40: the outline measures 40.2 ac, the office has 39.8 ac. "
        "Please tell us which holds for the bill.",
    ):
        assert line in letter.splitlines()
    assert "Hill: the outline" not in letter


def test_the_letter_goes_by_the_days_and_not_by_the_names() -> None:
    """North 40 at 9 on the 15th stands before Creek at 11, though C comes before N."""
    letter = files()["customers/01-miller.txt"]
    assert letter.index("North 40, 40.2 ac") < letter.index("Creek, part of it, 35.0 ac")


def test_metric_letters_have_hectares_and_the_long_clock() -> None:
    """40.2 ac are 16.3 ha; nothing of the other system is left in the whole export."""
    whole = files("metric")
    assert (
        "16.3 ha of rye: Thursday 15 October. We expect to be there between 09:00 and 09:35."
        in (whole["customers/01-miller.txt"])
    )
    for text in whole.values():
        assert " ac" not in text
        assert "(ac)" not in text
        assert " pm" not in text
        assert "October 15" not in text


def test_a_crew_has_its_day_in_driving_order() -> None:
    """Stop rounded down to 3:55 pm; the wet day says so."""
    rows = table(files()["crews/01-east.csv"])
    assert [(one["date"][-2:], one["stop"], one["field"]) for one in rows] == [
        ("15", "1", "North 40"), ("15", "2", "Creek"), ("16", "1", "Creek"),
        ("17", "", "no work: rain"),
    ]  # fmt: skip
    assert rows[0]["stop spreading"] == "3:55 pm"
    assert rows[0]["all worked in by"] == "6:00 pm"


def test_totals_add_up_from_every_side() -> None:
    """By customer, lot, crew and date the planned acres come to the same 138.2."""
    rows = table(files()["totals.csv"])
    (whole,) = [one for one in rows if one["total of"] == "all"]
    assert whole["planned (ac)"] == "138.2"
    assert whole["outline (ac)"] == "150.5"
    assert (whole["fields without a day"], whole["fields without an office area"]) == ("1", "1")
    for kind in ("customer", "lot", "crew", "date"):
        parts = [float(one["planned (ac)"]) for one in rows if one["total of"] == kind]
        assert sum(parts) == pytest.approx(138.2)


@given(st.text(max_size=30), st.text(max_size=30), st.text(max_size=20))
def test_no_name_can_become_a_formula_or_a_path(name: str, customer: str, lot: str) -> None:
    """Every cell and file name is harmless, whatever a person wrote; tables stay whole."""
    plan = day(15, customer, visit(name, customer, 5.0, 15, 9, lot=lot), off="")
    made = season_files([plan], [field(name, customer, 5.0)], farm=customer, on=ON, system="us")
    for file, text in made.items():
        assert file.isascii()
        assert ".." not in file
        assert file.count("/") <= 1
        if not file.endswith(".csv"):
            continue
        rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
        assert len({len(one) for one in rows}) == 1
        for cell in (cell for one in rows for cell in one):
            assert not cell.lstrip().startswith(("=", "+", "-", "@", "\t", "\r"))
            assert "\x00" not in cell


@pytest.mark.parametrize("start", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1", "＝1"])
def test_a_formula_gets_an_apostrophe(start: str) -> None:
    """A field named like a formula is shown, not run."""
    made = season_files([], [field(start, "", 5.0)], farm="F", on=ON, system="us")
    (row,) = table(made["fields.csv"])
    assert row["field"] == f"'{start.strip()}"


def test_same_plan_same_zip_with_or_without_the_mark() -> None:
    """The mark stands before tables alone; without it the bytes are plain UTF-8."""
    made = files()
    assert season_zip(made) == season_zip(files())
    for bom in (False, True):
        with zipfile.ZipFile(io.BytesIO(season_zip(made, bom=bom))) as archive:
            assert archive.testzip() is None
            assert sorted(archive.namelist()) == sorted(made)
            for name, text in made.items():
                mark = b"\xef\xbb\xbf" if bom and name.endswith(".csv") else b""
                assert archive.read(name) == mark + text.encode()


def test_the_folder_is_renewed_where_a_figure_differs_and_left_alone_where_none_does(
    tmp_path: Path,
) -> None:
    """An hour later there: the letter says so. It used to keep the hours of the first writing."""
    target = tmp_path / "season" / "plan-1"
    assert write_season_folder(target, files())
    first = (target / "totals.csv").stat().st_ino
    assert not write_season_folder(target, files())
    assert (target / "totals.csv").stat().st_ino == first
    later = [replace(one, stop_at=one.stop_at + timedelta(hours=1)) for one in DAYS]
    moved = season_files(later, FIELDS, farm="Tidewater", on=ON, system="us")
    assert write_season_folder(target, moved)
    rows = table((target / "crews" / "01-east.csv").read_text(encoding="utf-8"))
    assert rows[0]["stop spreading"] == "4:55 pm"
    assert [one.name for one in target.parent.iterdir()] == ["plan-1"]


def test_a_customer_who_is_gone_leaves_no_file_and_a_strangers_file_stays(tmp_path: Path) -> None:
    """Ortiz's field is no more; a note and a signed letter put there by hand are kept."""
    target = tmp_path / "plan-1"
    write_season_folder(target, files(), bom=True)
    assert (target / "totals.csv").read_bytes().startswith(b"\xef\xbb\xbftotal of,")
    (target / "note.md").write_text("ring Miller", encoding="utf-8")
    (target / "customers" / "miller signed.pdf").write_bytes(b"%PDF")
    alone = season_files([DAYS[0], DAYS[1]], FIELDS[:3], farm="T", on=ON, system="us")
    assert write_season_folder(target, alone)
    kept = {one.relative_to(target).as_posix() for one in target.rglob("*") if one.is_file()}
    assert kept == {*alone, "note.md", "customers/miller signed.pdf"}


def test_a_file_of_that_name_is_left_alone(tmp_path: Path) -> None:
    """It is no folder of ours: the writing fails and the file is as it was."""
    target = tmp_path / "plan-1"
    target.write_text("mine", encoding="utf-8")
    with pytest.raises(OSError, match=r"."):
        write_season_folder(target, files())
    assert target.read_text(encoding="utf-8") == "mine"
    assert [one.name for one in tmp_path.iterdir()] == ["plan-1"]


# --- days no forecast reaches -------------------------------------------------------------------


def beyond(early: int | None, late: int | None, *, part: bool = False) -> str:
    """The line on a field planned for the 16th, done between these in 8 seasons of 10."""
    days = SownBetween(
        early_on=None if early is None else date(2026, 10, early),
        late_on=None if late is None else date(2026, 10, late),
        last_on=date(2026, 10, 28),
    )
    seen = replace(visit("Hill", "Miller", 12.3, 16, 9, part=part), between=days)
    made = season_files([day(16, "East", seen)], FIELDS, farm="T", on=ON, system="us")
    letter = made["customers/01-miller.txt"].splitlines()
    assert "We will tell you the day and the hour once the forecast reaches that far." in letter
    (row,) = [one for one in table(made["fields.csv"]) if one["field"] == "Hill"]
    assert (row["there from"], row["there by"]) == ("", "")
    assert row["done from"] == ("" if early is None else f"2026-10-{early}")
    assert row["done by"] == ("" if late is None else f"2026-10-{late}")
    (line,) = [one for one in letter if one.startswith("Hill")]
    assert ":" not in line.partition(": ")[2]
    return line


def test_beyond_the_forecast_a_letter_gives_days_and_no_hours() -> None:
    """It used to promise an hour a week ahead."""
    assert beyond(16, 21) == (
        "Hill, 12.3 ac of rye: done between Friday, October 16, and Wednesday, October 21,"
        " in 8 seasons of 10."
    )
    assert beyond(17, 17) == (
        "Hill, 12.3 ac of rye: done on Saturday, October 17, in 8 seasons of 10."
    )


def test_a_field_that_may_not_be_done_within_the_plan_says_so() -> None:
    """The plan ends on the 28th."""
    assert beyond(16, None) == (
        "Hill, 12.3 ac of rye: done on Friday, October 16 or later, in 9 seasons of 10;"
        " perhaps not by Wednesday, October 28."
    )
    assert beyond(None, None, part=True) == (
        "Hill, part of it, 12.3 ac of rye: the whole field is most likely not done by Wednesday,"
        " October 28."
    )


def test_letters_within_the_forecast_keep_their_hours() -> None:
    """No span of days, and nothing of a forecast to come."""
    letter = files()["customers/01-miller.txt"]
    assert "seasons of 10" not in letter
    assert "once the forecast reaches" not in letter


def test_fields_are_known_by_customer_and_name() -> None:
    """Two customers may both have a North 40; one may not, and no stranger's field is visited."""
    with pytest.raises(FieldTwice):
        season_files([], [FIELDS[0], FIELDS[0]], farm="F", on=ON, system="us")
    with pytest.raises(FieldNotListed) as refused:
        season_files(DAYS, FIELDS[:3], farm="F", on=ON, system="us")
    assert (refused.value.name, refused.value.customer) == ("North 40", "Ortiz")


def test_two_thousand_fields_keep_every_acre() -> None:
    """Forty customers, 12 crews, 14 days: each field stands in the export once."""
    fields = [field(f"F{n}", f"C{n % 40}", 20.0) for n in range(2000)]
    days = [
        day(10 + d, f"crew {c}", *(
            visit(f"F{n}", f"C{n % 40}", 20.0, 10 + d, 10) for n in range(c * 14 + d, 2000, 168)
        ))
        for c in range(12) for d in range(14)
    ]  # fmt: skip
    made = season_files(days, fields, farm="F", on=ON, system="us")
    rows = table(made["fields.csv"])
    assert len(rows) == 2000
    assert {one["field"] for one in rows} == {f"F{n}" for n in range(2000)}
    (whole,) = [one for one in table(made["totals.csv"]) if one["total of"] == "all"]
    assert whole["planned (ac)"] == "40000.0"
