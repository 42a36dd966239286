"""The season sheet: the answer big on top, every day and field below, a page for each crew."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pypdf
import pytest
from draw.drawn import colours
from made_days import ACRE_M2, OATS, RYE, farm_of
from made_seasons import FIRST, long_season, made_answer, made_crew, made_day, short_season

from duskline.answers.season import Basis, SeasonAnswer, SeasonQuestion, season_answer
from duskline.cli.season_json import season_json
from duskline.core.farm import Acres, Farm
from duskline.exchange.calendar_ics import season_calendar
from duskline.exchange.season_export import SeasonField, season_files
from duskline.exchange.season_files import calendar_days
from duskline.paper import make_season_sheet
from duskline.paper.content import Sheet
from duskline.paper.press import PaperSize, press
from duskline.paper.season_content import arrival_text, season_sheet
from duskline.words import season as words

MADE_ON = date(2026, 10, 17)
ARMS_LENGTH_PT = 10.99
CASES = {
    "short": short_season,
    "long": long_season,
}


@cache
def _sheet(case: str, paper: PaperSize = "letter", version: int | None = 3) -> Sheet:
    farm, answer = CASES[case]()
    return season_sheet(farm, answer, paper=paper, made_on=MADE_ON, version=version)


@cache
def _pdf(case: str, paper: PaperSize = "letter") -> bytes:
    return press(_sheet(case, paper), paper=paper, on=MADE_ON)


@cache
def _pages(pdf: bytes) -> tuple[str, ...]:
    return tuple(
        re.sub(r"\s+", " ", page.extract_text()) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages
    )


def _squeezed(text: str) -> str:
    """Without spaces, which a PDF does not keep where lines break."""
    return re.sub(r"\s+", "", text)


@cache
def _whole(pdf: bytes) -> str:
    return _squeezed("".join(_pages(pdf)))


def _stands(sentence: str, pdf: bytes) -> bool:
    return _squeezed(sentence) in _whole(pdf)


@cache
def _pieces(pdf: bytes) -> list[tuple[float, str]]:
    """Every piece of text with the size it is printed in."""
    found: list[tuple[float, str]] = []

    def visit(
        text: str, cm: Sequence[float], tm: Sequence[float], _font: object, size: float
    ) -> None:
        if text.strip():
            scale = math.hypot(cm[2], cm[3]) * math.hypot(tm[2], tm[3])
            found.append((size * scale, text.strip()))

    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(visitor_text=visit)
    return found


@pytest.fixture(scope="module")
def nine() -> tuple[Farm, SeasonAnswer]:
    """The nine fields as they are answered, over few seasons of weather."""
    farm = farm_of(RYE)
    return farm, season_answer(farm, SeasonQuestion(at_average=True, weathers_count=200))


# --------------------------------------------------------------------------- the answer on paper


def test_the_headline_is_the_largest_type_and_how_sure_stands_under_it() -> None:
    """5 ac do not fit; 14 in 20 for the rest; nothing on the sheet is larger than the headline."""
    pdf = _pdf("short")
    largest = max(size for size, _ in _pieces(pdf))
    big = " ".join(text for size, text in _pieces(pdf) if size > largest - 0.01)
    assert _squeezed(big) == _squeezed("5 ac do not fit by Tuesday, October 20")
    assert largest >= 30.0
    assert _stands("14 in 20 that all is done by Tuesday, October 20", pdf)


@pytest.mark.parametrize("case", ["short", "long"])
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_every_day_and_field_stands_on_the_sheet(case: str, paper: PaperSize) -> None:
    """Dates, stop times, fields with acres, acres left, chances: nothing is cut off."""
    farm, answer = CASES[case]()
    pdf = _pdf(case, paper)
    for day in answer.days:
        assert _stands(words.short_date(day.on, farm.system), pdf)
        for crew in day.crews:
            assert _stands(words.stop_text(crew, farm.system), pdf)
            for visit in crew.visits:
                assert _stands(f"{visit.field} {round(visit.area_m2 / ACRE_M2)}", pdf)
    for field in answer.fields:
        chance, _, likely = words.field_chance(field, farm.system).partition("; ")
        assert _stands(chance, pdf)
        assert _stands(likely, pdf)


def test_days_on_the_sheet_have_the_answers_figures() -> None:
    """119 ac on Sunday and 53 left; Monday closed; Tuesday due; Wednesday a part; Thursday off."""
    rows = _sheet("short").data["days"]["rows"]
    assert [row["on"] for row in rows] == [
        "Sun Oct 18", "Mon Oct 19", "Tue Oct 20", "Wed Oct 21", "Thu Oct 22",
    ]  # fmt: skip
    first = rows[0]["crews"][0]
    assert (first["area"], rows[0]["left"]) == ("119", "53")
    assert first["stop"] == "3:00\u00a0pm"
    assert first["fields"].replace("\u00a0", " ") == "A1 79, A6 40"
    assert first["hours"].replace("\u00a0", " ") == "9:30 am to 6:15 pm"
    assert rows[1]["none"] == "closed: ground not fit"
    assert [row["due"] for row in rows] == [False, False, True, False, False]
    assert rows[3]["crews"][0]["fields"].replace("\u00a0", " ") == "A9 15 (part)"
    assert rows[4]["none"] == "day off"


def test_what_the_hours_rest_on_stands_beside_the_day() -> None:
    """As stated, from the forecast, or a usual day with how often it is fit (0.6: 12 in 20)."""
    rows = _sheet("short").data["days"]["rows"]
    assert [row["basis"] for row in rows] == [
        "as stated", "", "fit 12 in 20", "by the forecast", "",
    ]  # fmt: skip


def test_what_does_not_fit_says_why() -> None:
    """The 5 acres of A9 with their reason, and the sentence is on the first page."""
    (line,) = _sheet("short").data["left"]
    assert line.startswith("A9: 5 ac without a day, ")
    assert _squeezed(line) in _squeezed(_pages(_pdf("short"))[0])


def test_fields_stand_in_the_order_they_are_done_with_chance_and_days() -> None:
    """A9 keeps 5 acres without a day and comes last; the one most at risk is named."""
    data = _sheet("short").data
    rows = data["fields"]["rows"]
    assert [row[0] for row in rows] == ["A1", "A6", "A8", "A9"]
    assert rows[2] == ["A8", "33", "Tue Oct 20", "12 in 20", "Tue Oct 20 to Wed Oct 21"]
    assert rows[3][2] == "no day"
    assert data["risk"].startswith("Most at risk: A9, 4 in 20")


def test_a_crumb_without_a_day_does_not_leave_a_field_undone() -> None:
    """100 m2, not a twentieth of an acre: the field is done on the day of its last visit."""
    farm, answer = short_season()
    fields = tuple(
        replace(one, unplaced_m2=100.0, finish_on=None) if one.name == "A8" else one
        for one in answer.fields
    )
    sheet = season_sheet(
        farm, replace(answer, fields=fields), paper="letter", made_on=MADE_ON, version=None
    )
    assert next(row for row in sheet.data["fields"]["rows"] if row[0] == "A8")[2] == "Tue Oct 20"


def test_changes_worth_cost_and_gap_are_the_words_of_the_screen() -> None:
    """The same sentences as the terminal prints."""
    farm, answer = short_season()
    pdf = _pdf("short")
    for line in words.change_lines(answer.changes, farm.system, crews=1):
        assert _stands(line, pdf)
    assert _stands(words.worth_line(answer.worth[0], answer, farm.system), pdf)
    assert _stands(words.cost_line(answer), pdf)
    assert _stands(words.gap_line(answer), pdf)


def test_the_sureness_of_this_plan_has_the_heavy_line() -> None:
    """Planned at 19 in 20."""
    chosen = [row["chance"] for row in _sheet("short").data["sureness"] if row["chosen"]]
    assert chosen == ["19 in 20"]


# --------------------------------------------------------------------------- pages and type


def test_a_short_season_is_one_sheet_of_paper_printed_on_both_sides() -> None:
    """Two pages on either paper, and no crew pages where all work together."""
    assert len(_pages(_pdf("short"))) == 2
    assert len(_pages(_pdf("short", "a4"))) == 2
    assert _sheet("short").data["crews"] == []


def test_tables_repeat_their_heads_on_every_page() -> None:
    """The days of two crews in two weeks go over the page: the head is there again."""
    pages = [page for page in _pages(_pdf("long")) if "fields, in this order" in page]
    assert len(pages) >= 2


@pytest.mark.parametrize("case", ["short", "long"])
def test_only_the_assumptions_and_crews_safety_are_below_eleven_points(case: str) -> None:
    """Days, fields and crew lists are read at arm's length."""
    data = _sheet(case).data
    fine = [*data["assumed"], *data["safety"], *data["worth"]]
    told = _squeezed(" ".join(fine))
    for size, text in _pieces(_pdf(case)):
        if size < ARMS_LENGTH_PT:
            assert size >= 9.49
            assert _squeezed(text) in told, text


def test_two_months_of_work_flow_over_the_pages() -> None:
    """60 days: pictures of 24 days at most, all dates there, the last page with the last crew."""
    farm, answer = long_season(60)
    sheet = season_sheet(farm, answer, paper="letter", made_on=MADE_ON, version=None)
    assert len(sheet.pictures) == 2
    pdf = press(sheet, paper="letter", on=MADE_ON)
    pages = _pages(pdf)
    assert all(_stands(words.short_date(day.on, farm.system), pdf) for day in answer.days)
    assert len(pages) <= 30


def test_the_picture_has_no_colour() -> None:
    """Black, white and greys only, for a plain printer."""
    for drawing in _sheet("long").pictures.values():
        for colour in colours(drawing):
            assert colour[1:3] == colour[3:5] == colour[5:7]


def test_the_same_answer_gives_the_same_bytes() -> None:
    """Set twice, byte for byte."""
    again = press(_sheet("short"), paper="letter", on=MADE_ON)
    assert again == _pdf("short")


# --------------------------------------------------------------------------- crews


def test_each_crew_has_pages_of_its_own() -> None:
    """Crew 1's page holds its fields and none of Crew 2's; both have page numbers from 1."""
    _, answer = long_season()
    pages = _pages(_pdf("long"))
    starts = [place for place, text in enumerate(pages) if "Crew sheet" in text]
    assert len(starts) == 2
    first = " ".join(pages[starts[0] : starts[1]])
    second = " ".join(pages[starts[1] :])
    for day in answer.days:
        for crew in day.crews:
            mine, other = (first, second) if crew.crew == "Crew 1" else (second, first)
            for visit in crew.visits:
                assert visit.field in mine
                assert visit.field not in other


def test_a_crews_page_tells_when_where_which_seed_for_whom_and_clean_outs() -> None:
    """Third stop: 2 h 14 min after 9:30, 24 min on either side, outwards to 5 minutes."""
    pages = _sheet("long").data["crews"]
    assert [page["name"] for page in pages] == ["Crew 1", "Crew 2"]
    visits = pages[0]["days"][0]["visits"]
    assert visits[0]["cells"] == ["1-0-0", "9:30\u00a0am", "Hollow Farms", "W", "20"]
    assert visits[2]["cells"][:2] == ["1-0-2", "11:20\u00a0am to 12:10\u00a0pm"]
    assert [visit["clean"] for visit in visits] == ["", "", "CLEAN OUT FIRST: Y"]
    assert "after the stop Ana takes Spare tines" in pages[0]["days"][0]["people"]


def test_arrival_is_rounded_outwards() -> None:
    """From 9:58 to 10:22 becomes 9:55 to 10:25; a full five minutes stays as it is."""
    crew = made_crew("America/Chicago", FIRST, [("A1", 20.0, "r")], opens=9.0)
    (visit,) = crew.visits
    early, late = (visit.from_at + timedelta(minutes=m) for m in (58, 82))
    shown = arrival_text(replace(visit, about_from_at=early, about_to_at=late), "us")
    assert shown == "9:55 am to 10:25 am"
    assert arrival_text(visit, "metric") == "09:00"


def test_a_crew_that_is_free_is_named() -> None:
    """Crew 2 has nothing to do on the sixth day."""
    rows = _sheet("long").data["days"]["rows"]
    assert [row["on"] for row in rows if row["idle"] == ["Crew 2 free"]] == ["Fri Oct 23"]


def test_a_crew_that_is_away_is_not_called_free() -> None:
    """Crew 2 at a wedding: named so beside Crew 1's work, and where Crew 1 has nothing to do."""
    farm, answer = long_season()
    first, second = answer.days[:2]
    days = [
        replace(first, crews=first.crews[:1]),
        replace(second, crews=(), idle=("Crew 1",)),
        *answer.days[2:],
    ]
    away = {(one.on, "Crew 2"): "a wedding" for one in days[:2]}
    made = made_answer(farm, days, answer.fields, away=away)
    sheet = season_sheet(farm, made, paper="letter", made_on=MADE_ON, version=None)
    rows = sheet.data["days"]["rows"]
    assert rows[0]["idle"] == ["Crew 2 away (a wedding)"]
    assert rows[1]["none"] == "Crew 1 free, Crew 2 away (a wedding)"


def test_paper_tables_and_calendar_show_the_same_clock() -> None:
    """Begin 9:33, at the second field from 10:27 to 10:51, done 18:14: 5 minutes everywhere."""
    farm, answer = long_season()
    zone = farm.time_zone
    stops = [("F1", 20.0, "W"), ("F2", 20.0, "W")]
    crew = made_crew(zone, FIRST, stops, crew="Crew 1", opens=9.55, stop=15.11, closes=18.24)
    days = [made_day(FIRST, [crew])]
    fields = [
        replace(one, name=name, customer="Hollow Farms")
        for one, name in zip(answer.fields[:2], ("F1", "F2"), strict=True)
    ]
    made = made_answer(farm, days, fields)
    page = season_sheet(farm, made, paper="letter", made_on=MADE_ON, version=1).data["crews"][0]
    told = page["days"][0]
    assert told["hours"] == "begin 9:30 am, stop spreading 3:05 pm, all worked in by 6:10 pm"
    assert told["visits"][1]["cells"][1] == "10:25\u00a0am to 10:55\u00a0am"
    plans = calendar_days(made)
    tables = season_files(
        plans,
        [
            SeasonField(name=one.name, lot="W", acres=Acres(outline_m2=1.0), customer=one.customer)
            for one in fields
        ],
        farm="T",
        on=FIRST,
        system="us",
    )
    row = list(csv.DictReader(io.StringIO(tables["crews/01-crew-1.csv"], newline="")))[1]
    assert [row[key] for key in ("starts", "stop spreading", "all worked in by")] == [
        "9:30 am", "3:05 pm", "6:10 pm",
    ]  # fmt: skip
    assert (row["there from"], row["there by"]) == ("10:25 am", "10:55 am")
    now_at = crew.opens_at
    calendar = season_calendar(plans, farm="T", now_at=now_at, system="us").decode()
    text = calendar.replace("\r\n ", "").replace("\\,", ",")
    assert "Start 9:30 am, stop spreading 3:05 pm, all worked in by 6:10 pm" in text
    assert "there between 10:25 am and 10:55 am" in text


def test_a_stop_with_no_time_of_being_covered_breaks_no_writer() -> None:
    """Covering does not get to its end within the hours: sheet, picture, tables, calendar, JSON."""
    farm, answer = long_season()
    crew = made_crew(farm.time_zone, FIRST, [("F1", 20.0, "W")], crew="Crew 1")
    late = replace(
        crew,
        visits=tuple(replace(one, covered_at=None) for one in crew.visits),
        covered_s=(),
        stop_at=crew.closes_at + timedelta(minutes=3),
    )
    field = replace(answer.fields[0], name="F1")
    made = made_answer(farm, [made_day(FIRST, [late])], [field])
    sheet = season_sheet(farm, made, paper="letter", made_on=MADE_ON, version=None)
    assert _stands("F1 20", press(sheet, paper="letter", on=MADE_ON))
    plans = calendar_days(made)
    noun = SeasonField(name="F1", lot="W", acres=Acres(outline_m2=1.0), customer=field.customer)
    tables = season_files(plans, [noun], farm="T", on=FIRST, system="us")
    assert "F1, 20.0 ac of W" in tables["customers/01-hollow-farms.txt"]
    assert b"F1: 20.0 ac" in season_calendar(
        plans, farm="T", now_at=crew.opens_at, system="us"
    ).replace(b"\r\n ", b"")
    assert season_json(made)["days"][0]["fields"][0]["covered_at"] is None


# --------------------------------------------------------------------------- safety, sources, mark


def test_safety_stands_on_the_sheet_and_on_every_crews_pages() -> None:
    """Tiredness, shaft, road and dusk; treated seed only where it is sown."""
    data = _sheet("long").data
    for lines in (data["safety"], *(page["safety"] for page in data["crews"])):
        said = " ".join(lines)
        assert "tired" in said
        assert "PTO" in said
        assert "dusk" in said
        assert "TREATED" not in said
    farm, answer = long_season()
    dressed = replace(farm, lots=tuple(replace(lot, treated=True) for lot in farm.lots))
    sheet = season_sheet(dressed, answer, paper="letter", made_on=MADE_ON, version=None)
    assert "TREATED" in " ".join(sheet.data["safety"])


def test_assumed_figures_name_their_source_and_range() -> None:
    """Our judgement is called so, with low, typical and high; the farm's own are left out."""
    said = " ".join(_sheet("short").data["assumed"])
    assert "Our judgement: " in said
    assert "over a whole season, one standard deviation 8.0 % (4.0 % to 15.0 %)" in said
    assert "sown after the due day" not in said


def test_the_foot_of_each_page_names_the_plan_and_its_day() -> None:
    """A kept plan by its number; one that is not kept by a mark that changes with it."""
    for page in _pages(_pdf("long")):
        assert "Plan 3, made Saturday, October 17, 2026." in page
    farm, answer = short_season()
    loose = _sheet("short", version=None).data["mark"]
    gone = (replace(answer.days[0], crews=()), *answer.days[1:])
    other = season_sheet(
        farm, replace(answer, days=gone), paper="letter", made_on=MADE_ON, version=None
    )
    assert re.fullmatch(r"Plan [0-9A-F]{4}, not kept, made Saturday, October 17, 2026\.", loose)
    assert loose != other.data["mark"]


def test_names_from_outside_are_text_and_never_markup() -> None:
    """A field called after a command of the typesetter is printed as it is written."""
    farm, answer = short_season()
    odd = '#read("x") *A* $1 @b'
    days = [
        made_day(FIRST, [made_crew(farm.time_zone, FIRST, [(odd, 79.3, "Bin rye")])]),
        made_day(FIRST + timedelta(days=1), basis=Basis.CLOSED, because="_wet_ #pagebreak()"),
    ]
    fields = [replace(answer.fields[0], name=odd)]
    made = made_answer(farm, days, fields)
    pdf = press(
        season_sheet(farm, made, paper="a4", made_on=MADE_ON, version=1), paper="a4", on=MADE_ON
    )
    assert _stands(odd, pdf)
    assert _stands("_wet_ #pagebreak()", pdf)


# --------------------------------------------------------------------------- files


def test_what_speaks_against_the_plan_stands_on_the_sheet() -> None:
    """The first day of a plan made on its second is past: the sheet says what the screen says."""
    farm, answer = short_season()
    old = replace(answer, past_on=(FIRST,))
    sheet = season_sheet(farm, old, paper="letter", made_on=FIRST + timedelta(days=1), version=None)
    assert sheet.data["know"][0].startswith("Sun Oct 18 is past (today is Mon Oct 19)")
    assert "past" not in " ".join(_sheet("short").data["know"])


def test_the_file_is_written_where_asked(tmp_path: Path) -> None:
    """A folder gets season-sheet.pdf, a name ending in .pdf is the file; nothing else is left."""
    farm, answer = short_season()
    first = make_season_sheet(farm, answer, tmp_path / "out", made_on=MADE_ON)
    assert first == tmp_path / "out" / "season-sheet.pdf"
    named = make_season_sheet(
        farm, answer, tmp_path / "wall.pdf", paper="a4", version=3, made_on=MADE_ON
    )
    assert named == tmp_path / "wall.pdf"
    assert named.read_bytes() == _pdf("short", "a4")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["out", "wall.pdf"]
    assert [one.name for one in (tmp_path / "out").iterdir()] == ["season-sheet.pdf"]
    wide, high = (float(length) for length in pypdf.PdfReader(first).pages[0].mediabox[2:])
    assert (wide, high) == (612.0, 792.0)


def test_metric_farms_get_a4_hectares_and_the_long_clock(tmp_path: Path) -> None:
    """40 acres are 16.2 ha; 3:00 pm is 15:00."""
    farm = farm_of(OATS)
    days = [made_day(FIRST, [made_crew(farm.time_zone, FIRST, [("B1", 40.0, "x")])])]
    field = replace(short_season()[1].fields[1], name="B1", lot="Oats", finish_on=FIRST)
    path = make_season_sheet(farm, made_answer(farm, days, [field]), tmp_path, made_on=MADE_ON)
    pdf = path.read_bytes()
    assert float(pypdf.PdfReader(path).pages[0].mediabox[2]) == pytest.approx(595.28, abs=0.01)
    assert _stands("B1 16.2", pdf)
    assert _stands("15:00", pdf)
    assert _stands("made Saturday 17 October 2026.", pdf)
    assert not any(" pm" in page for page in _pages(pdf))


def test_a_season_that_is_sown_still_gives_a_sheet(tmp_path: Path) -> None:
    """No field left: the headline says so, and no table of fields stands empty."""
    farm, answer = short_season()
    empty: dict[str, Any] = {"fields": (), "left_m2": 0.0, "unplaced_m2": 0.0, "late_m2": 0.0}
    days = tuple(replace(day, crews=()) for day in answer.days)
    done = replace(answer, **empty, days=days, worth=(), by_sureness=(), changes=())
    pdf = make_season_sheet(farm, done, tmp_path, made_on=MADE_ON).read_bytes()
    assert _stands("Everything is sown", pdf)
    assert not _stands("Each field", pdf)


def test_the_nine_fields_as_answered_make_a_whole_sheet(
    nine: tuple[Farm, SeasonAnswer], tmp_path: Path
) -> None:
    """Acres by day on the sheet add up to what is to be sown, but for what has no day."""
    farm, answer = nine
    sheet = season_sheet(farm, answer, paper="letter", made_on=MADE_ON, version=1)
    told = sum(int(crew["area"]) for row in sheet.data["days"]["rows"] for crew in row["crews"])
    sown = (answer.left_m2 - answer.unplaced_m2) / ACRE_M2
    assert told == pytest.approx(sown, abs=0.5 * len(answer.days))
    pdf = make_season_sheet(farm, answer, tmp_path, version=1, made_on=MADE_ON).read_bytes()
    assert len(_pages(pdf)) == 2
    assert _stands(words.headline(answer, farm.system), pdf)
    assert _stands(words.sure_line(answer, farm.system), pdf)
    assert _stands("seed", pdf)


def test_long_names_share_the_room_and_push_nothing_off_the_page() -> None:
    """Sixty letters for a field and its customer leave room for days and chances.

    The seed's column, which wants little, keeps what it wants; the two others share the rest.
    """
    farm, answer = long_season()
    name, customer = "The quarter behind the old school " * 2, "Brothers and Daughters " * 3
    fields = tuple(replace(one, name=name, customer=customer) for one in answer.fields)
    sheet = season_sheet(
        farm, replace(answer, fields=fields), paper="letter", made_on=MADE_ON, version=None
    )
    names, short = sheet.data["fields"]["names"], _sheet("long").data["fields"]["names"]
    assert sum(short) < sum(names) < 532.0 - 250.0
    assert names[2] == short[2]
    assert names[0] == pytest.approx(names[1], abs=0.2)
