"""The printed sheets: what stands on them, how large, in what order, and the same every time."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import cache
from pathlib import Path

import pypdf
import pytest
from made_days import ACRE_M2, day_of
from made_live import at, begin, covered, spread

from duskline.answers.day import DayAnswer, DayQuestion, day_answer
from duskline.answers.plans import field_plans
from duskline.answers.seed import seed_answer
from duskline.answers.telling import settled, told_curve, with_log
from duskline.core.farm import Farm
from duskline.draw import day_strip
from duskline.paper import day_sheets, make_sheets
from duskline.paper.press import PaperSize, press
from duskline.words.aim import side_name
from duskline.words.day import LOAD_STEP_KG, no_later

NAMES = (
    "day-sheet",
    "windshield-card",
    "spreader-card",
    "covering-card",
    "seed-truck-card",
    "seed-truck-card-es",
)
WHY = ("Because of *dew*.", "Because #import is only text.")


def _pressed(
    farm: Farm, answer: DayAnswer, *, paper: PaperSize = "letter", why: Sequence[str] = WHY
) -> dict[str, bytes]:
    plans = field_plans(farm, answer)
    sheets = day_sheets(farm, answer, seed_answer(farm), plans, paper=paper, why=why)
    return {sheet.name: press(sheet, paper=paper, on=answer.on) for sheet in sheets}


@cache
def _sheets(case: str) -> dict[str, bytes]:
    farm, answer = day_of(case)
    return _pressed(farm, answer, paper="letter" if farm.system == "us" else "a4")


def _reader(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def _text(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in _reader(pdf).pages)


def _plain(pdf: bytes) -> str:
    return re.sub(r"\s+", " ", _text(pdf))


def _sizes_pt(pdf: bytes) -> list[tuple[float, str]]:
    """The size each piece of text is printed in: type size times the scale it is drawn at."""
    found: list[tuple[float, str]] = []

    def visit(
        text: str, cm: Sequence[float], tm: Sequence[float], _font: object, size: float
    ) -> None:
        if text.strip():
            scale = math.hypot(cm[2], cm[3]) * math.hypot(tm[2], tm[3])
            found.append((size * scale, text))

    for page in _reader(pdf).pages:
        page.extract_text(visitor_text=visit)
    return found


CASES = ("rye", "rye now", "rye hopeless", "oats", "forty")


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("name", NAMES)
def test_no_type_is_smaller_than_fourteen_points(case: str, name: str) -> None:
    """Reading glasses stay in the truck: every word, those in pictures too, at 14 pt or more."""
    sizes = _sizes_pt(_sheets(case)[name])
    assert sizes
    assert min(size for size, _ in sizes) >= 13.99


@pytest.mark.parametrize("case", CASES)
def test_the_same_day_gives_the_same_bytes(case: str) -> None:
    """Set twice, every file is the same byte for byte."""
    farm, answer = day_of(case)
    again = _pressed(farm, answer, paper="letter" if farm.system == "us" else "a4")
    assert again == _sheets(case)


@pytest.mark.parametrize("name", NAMES)
def test_every_sheet_is_tagged_titled_and_in_its_language(name: str) -> None:
    """PDF/UA: structure tree, title shown, language set."""
    reader = _reader(_sheets("rye")[name])
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]  # type: ignore[index]
    assert "/StructTreeRoot" in root  # type: ignore[operator]
    assert root["/Lang"].startswith("es" if name.endswith("-es") else "en")  # type: ignore[index]
    assert reader.metadata is not None
    assert "2026" in (reader.metadata.title or "")


def test_only_the_house_typeface_is_used() -> None:
    """Fonts of the machine never get in, so that sheets are the same everywhere."""
    for pdf in _sheets("rye").values():
        for page in _reader(pdf).pages:
            fonts = page["/Resources"]["/Font"].values()  # type: ignore[index]
            for font in fonts:
                assert "AtkinsonHyperlegible" in font.get_object()["/BaseFont"]


@pytest.mark.parametrize("name", ["windshield-card", "spreader-card", "seed-truck-card"])
def test_a_card_is_one_page(name: str) -> None:
    """One card, one page, in English and in Spanish."""
    assert len(_reader(_sheets("rye")[name]).pages) == 1


def test_every_spreader_has_a_page() -> None:
    """Two spreaders, two pages, each with its driver."""
    pages = [page.extract_text() for page in _reader(_sheets("forty")["spreader-card"]).pages]
    assert len(pages) == 2
    assert "Ana" in pages[0]
    assert "Ben" in pages[1]


def test_paper_is_letter_at_home_and_a4_abroad(tmp_path: Path) -> None:
    """US units on letter, metric on A4, unless the printer holds another."""
    asked: tuple[tuple[str, PaperSize | None, float], ...] = (
        ("rye", None, 612.0), ("oats", None, 595.28), ("rye", "a4", 595.28),
    )  # fmt: skip
    for case, paper, width in asked:
        farm, answer = day_of(case)
        written = make_sheets(
            farm, answer, seed_answer(farm), field_plans(farm, answer), tmp_path, paper=paper
        )
        for path in written:
            box = pypdf.PdfReader(path).pages[0].mediabox
            assert float(box.width) == pytest.approx(width, abs=0.1)


def test_files_are_written_whole_and_named(tmp_path: Path) -> None:
    """Six files and nothing half written beside them; a second time replaces them."""
    farm, answer = day_of("oats")
    for _ in range(2):
        written = make_sheets(
            farm, answer, seed_answer(farm), field_plans(farm, answer), tmp_path / "sheets"
        )
        assert [path.name for path in written] == [f"{name}.pdf" for name in NAMES]
        assert sorted(p.name for p in (tmp_path / "sheets").iterdir()) == sorted(
            path.name for path in written
        )


# --------------------------------------------------------------------------- the day sheet


def test_the_day_sheet_opens_with_the_stop_time_in_the_largest_type() -> None:
    """The one number of the page: nothing else comes near its size."""
    farm, answer = day_of("rye")
    digits = no_later(answer.stop_at, farm.system).split()[0]
    sizes = _sizes_pt(_sheets("rye")["day-sheet"])
    largest = max(size for size, _ in sizes)
    assert largest >= 80.0
    assert "".join(text for size, text in sizes if size == largest).replace(" ", "") == digits


def test_the_day_sheet_says_how_sure_and_lets_choose() -> None:
    """Three chances with their times and acres, and 19 in 20 in words."""
    farm, answer = day_of("rye")
    text = _plain(_sheets("rye")["day-sheet"])
    for chance, row in zip(("10 in 20", "16 in 20", "19 in 20"), answer.by_sureness, strict=True):
        assert chance in text
        assert no_later(row.stop_at, farm.system) in text
        assert f"{row.spread_area_m2 / ACRE_M2:.0f} ac" in text
    assert "everything spread is worked in by 6:15 pm" in text


def test_a_stop_that_no_chance_moves_is_said_once() -> None:
    """In B the wind ends spreading: one sentence instead of three equal times."""
    text = _plain(_sheets("oats")["day-sheet"])
    assert "The same stop for every chance: wind comes first." in text
    assert text.count("in 20") == 1


def test_the_ladder_on_paper_is_the_answers_ladder() -> None:
    """Every rung while spreading is allowed, areas rounded down, on both sheets."""
    _, answer = day_of("rye")
    day, card = (_plain(_sheets("rye")[n]) for n in ("day-sheet", "windshield-card"))
    last = answer.moment(answer.windows.spread_intervals_s[-1][1])
    rungs = [rung for rung in answer.ladder if rung.at <= last]
    assert len(rungs) > 10
    for rung in rungs:
        half = "pm" if rung.at.hour >= 12 else "am"
        at = f"{rung.at.hour % 12 or 12}:{rung.at.minute:02d} {half}"
        area = int(rung.open_area_m2 / ACRE_M2)
        assert f"{at} {area} {rung.loads:.1f}" in day
        assert f"{at} {area} ac {rung.loads:.1f}" in card


def test_the_windshield_card_says_how_to_read_it() -> None:
    """Two short sentences, the chance it keeps, and what to do if nobody counts."""
    farm, answer = day_of("rye")
    text = _plain(_sheets("rye")["windshield-card"])
    assert "When open acres reach the line, stop spreading. Between two times use the lower" in text
    assert "keeps 19 in 20" in text
    assert f"stop at {no_later(answer.stop_at, farm.system)}" in text


def test_fields_on_paper_add_up_to_the_seed_that_is_told() -> None:
    """Acres of the fields x the rate = full loads and the part load as printed."""
    farm, answer = day_of("rye")
    sheets = day_sheets(farm, answer, seed_answer(farm), field_plans(farm, answer), paper="letter")
    rows = next(sheet for sheet in sheets if sheet.name == "day-sheet").data["fields"]
    acres = sum(float(row[1].split()[0]) for row in rows)
    step_kg = LOAD_STEP_KG["us"]
    told_kg = answer.full_loads_count * answer.load_kg
    told_kg += int(answer.last_load_kg / step_kg) * step_kg
    rate = seed_answer(farm).main.bulk_kg_per_m2
    assert acres == pytest.approx(told_kg / rate / ACRE_M2, abs=0.05 * len(rows))
    assert f"put in {int(answer.last_load_kg / step_kg) * 100:,} lb" in _plain(
        _sheets("rye")["day-sheet"]
    )


def test_times_of_fields_are_rounded_to_five_minutes() -> None:
    """About-times: every clock time in the field list ends in 0 or 5."""
    farm, answer = day_of("forty")
    sheets = day_sheets(farm, answer, seed_answer(farm), field_plans(farm, answer), paper="letter")
    rows = next(sheet for sheet in sheets if sheet.name == "day-sheet").data["fields"]
    times = [at for row in rows for at in re.findall(r"\d+:(\d\d)", " ".join(row[2:4]))]
    assert len(times) >= 3 * len(rows)
    assert all(int(minutes) % 5 == 0 for minutes in times)


def test_what_is_left_and_tomorrows_rain_stand_on_the_day_sheet() -> None:
    """Forty fields: those left are named in running text, with both ends of the chance of rain."""
    _, answer = day_of("forty")
    text = _plain(_sheets("forty")["day-sheet"])
    for name, _ in answer.left_after_today:
        assert f"{name} " in text
    assert answer.rain_tomorrow is not None
    low, high = answer.rain_tomorrow
    assert f"{low:.0%}" in text
    assert f"{high:.0%}" in text


def test_a_hopeless_day_hides_nothing_and_asks_which_ground_to_leave() -> None:
    """The bare acres are in the box, larger than the text, and no ladder promises otherwise."""
    _, answer = day_of("rye hopeless")
    text = _plain(_sheets("rye hopeless")["day-sheet"])
    bare = f"{answer.bare_if_hopeless_m2 / ACRE_M2:.0f} ac will stay bare"
    assert "Stop spreading now" in text
    assert bare in text
    assert "Which ground to leave open tonight?" in text
    assert "Stop ladder" not in text
    assert "in 20" not in text.split("Why")[0]


def test_sentences_from_outside_are_text_and_never_markup() -> None:
    """Stars, hashes and names with signs are printed as they are."""
    text = _plain(_sheets("rye")["day-sheet"])
    assert "Because of *dew*." in text
    assert "Because #import is only text." in text
    farm, answer = day_of("rye")
    odd = replace(farm, name="#panic() *Bold* <A&B>", emergency_location="$x$ \\ @ref #{1}")
    sheets = _pressed(odd, answer)
    assert "#panic() *Bold* <A&B>" in _plain(sheets["windshield-card"])
    assert "$x$ \\ @ref #{1}" in _plain(sheets["seed-truck-card"])


# --------------------------------------------------------------------------- spreader card


def test_the_spreader_card_has_its_settings() -> None:
    """Width, speed, flow, bucket, first load: A's worked figures.

    By hand: 71.46 lb/ac x 40 ft x 8 mph x 88 ft/min / 43,560 = 46.2 lb/min; 5 gal of 54 lb/bu
    fill in 37.7 s; 6,000 lb do 84.0 ac.
    """
    text = _plain(_sheets("rye")["spreader-card"])
    for figure in ("40 ft", "8 mph", "46.2 lb/min", "37.7 s", "6,000 lb should do 84.0 ac"):
        assert figure in text


def test_the_first_load_table_gives_the_gate_factor() -> None:
    """Ran empty after 76 of 84 acres: flow times 0.91, close (0.905 exactly in the trade check)."""
    farm, answer = day_of("rye")
    sheets = day_sheets(farm, answer, seed_answer(farm), field_plans(farm, answer), paper="letter")
    page = next(sheet for sheet in sheets if sheet.name == "spreader-card").data["pages"][0]
    table = {ran: (factor, turn) for ran, factor, turn in page["first"]["columns"]}
    assert table["76"] == ("0.91", "close")
    assert table["84"] == ("1.00", "leave it")
    assert table["101"] == ("1.20", "open")


def test_a_first_load_that_is_not_full_is_checked_for_what_it_is() -> None:
    """On the rain day one part load goes in: the table is for its own acres, not for 84."""
    farm, answer = day_of("rye rain day")
    assert answer.full_loads_count == 0
    sheets = day_sheets(farm, answer, seed_answer(farm), field_plans(farm, answer), paper="letter")
    page = next(sheet for sheet in sheets if sheet.name == "spreader-card").data["pages"][0]
    put_in = page["fills"][0][1]
    assert page["first"]["title"].startswith(f"First load: {put_in} should do ")
    pounds = int(put_in.split()[0].replace(",", ""))
    middle = float(page["first"]["columns"][3][0])
    assert middle == pytest.approx(pounds / 71.462, abs=0.25)


def test_metric_farms_drive_bouts() -> None:
    """Bout width in metric, driving width in US units."""
    assert "bout width" in _plain(_sheets("oats")["spreader-card"])
    assert "driving width" in _plain(_sheets("rye")["spreader-card"])


def test_loads_on_the_spreader_card_add_up() -> None:
    """What the fields get from each load is what was put in, to a pound a line."""
    farm, answer = day_of("forty")
    sheets = day_sheets(farm, answer, seed_answer(farm), field_plans(farm, answer), paper="letter")
    for page in next(s for s in sheets if s.name == "spreader-card").data["pages"]:
        put_in = sum(int(row[1].split()[0].replace(",", "")) for row in page["fills"])
        parts = re.findall(r"load \d+: ([\d,]+) lb", " ".join(row[4] for row in page["fields"]))
        laid = sum(int(part.replace(",", "")) for part in parts)
        assert laid == pytest.approx(put_in, abs=len(parts))
        assert all(row[3] for row in page["fields"])


def test_the_spreader_card_warns_of_shaft_spinner_wind_and_screens() -> None:
    """Cautions sit where the work is."""
    text = _plain(_sheets("rye")["spreader-card"])
    assert "PTO off" in text
    assert "Never behind a turning spinner" in text
    assert "No spreading in wind over 14 mph" in text
    assert "Stop before you look at a screen" in text


# --------------------------------------------------------------------------- covering card


def test_the_driver_by_eye_counts_passes_and_aims_at_posts() -> None:
    """Pass count give or take one, aim mark, heading, rounds, order, overlap; worked in."""
    farm, answer = day_of("rye")
    text = _plain(_sheets("rye")["covering-card"])
    whole = {row.name: row.whole for row in answer.fields}
    for place, (name, plan) in enumerate(field_plans(farm, answer).items(), start=1):
        cover = plan.covers["Cultivator 1"]
        assert f"{place}. {name}" in text
        if whole[name]:
            assert f"{cover.passes_count} passes, give or take 1" in text
    assert "Drive at a post or flag" in text
    assert "a little north (85°)" in text
    assert "Headlands last: 2 rounds" in text
    assert "Lap 3 ft over the last pass" in text
    assert "worked in by about" in text
    assert "covered" not in text


def test_in_a_field_spread_in_part_only_that_part_is_counted() -> None:
    """A6's last part load does about 25 of 39.9 acres: about that share of the passes."""
    farm, answer = day_of("rye")
    last = answer.fields[-1]
    assert not last.whole
    text = _plain(_sheets("rye")["covering-card"])
    found = re.search(
        r"Only part of this field is spread today: ([\d.]+) ac of ([\d.]+) ac, beside the (\w+) "
        r"side\. Work in that part\.",
        text,
    )
    assert found is not None
    plan = field_plans(farm, answer)[last.name]
    passes = plan.covers["Cultivator 1"].passes_count
    part = math.ceil(passes * float(found[1]) / float(found[2]))
    assert re.search(rf"About ({part - 1}|{part}|{part + 1}) of {passes} passes", text)
    assert plan.spread.first is not None
    assert found[3] == side_name(plan.spread.first.near_edge)


def test_the_machine_taken_over_says_when() -> None:
    """The owner joins at the told stop and the changeover: 25 minutes later."""
    _, answer = day_of("rye")
    text = _plain(_sheets("rye")["covering-card"])
    minutes = answer.stop_at.hour * 60 + answer.stop_at.minute // 5 * 5 + 25
    join = f"{minutes // 60 - 12}:{minutes % 60:02d} pm"
    assert f"Owner takes this machine after spreading stops: about {join}" in text


def test_covering_cards_warn_of_raised_tools_and_oil() -> None:
    """And nothing on the card is a reason to hurry."""
    text = _plain(_sheets("oats")["covering-card"])
    assert "Never under a raised cultivator" in text
    assert "never by hand" in text
    assert "Nothing on this card is a reason to hurry" in text


def test_a_field_with_a_hole_says_go_round_it() -> None:
    """A5's grass waterway, and the field's own note."""
    farm, answer = day_of("rye")
    moved = replace(
        answer,
        task=replace(
            answer.task, fields=(replace(answer.task.fields[0], name="A5"), *answer.task.fields[1:])
        ),
        fields=(replace(answer.fields[0], name="A5"), *answer.fields[1:]),
    )
    text = _plain(_pressed(farm, moved)["covering-card"])
    assert "Go round the hole (1) with the headland rounds" in text
    assert "The hole is a grass waterway." in text


# --------------------------------------------------------------------------- seed truck card


@pytest.mark.parametrize("case", ["rye", "oats", "forty"])
def test_safety_comes_first_then_the_emergency_then_the_loads(case: str) -> None:
    """In this order on the page, in both languages."""
    marks = {
        "seed-truck-card": ("Flowing grain", "Call", "be there"),
        "seed-truck-card-es": ("El grano que corre", "Llame al", "esté ahí"),
    }
    for name, words in marks.items():
        text = _plain(_sheets(case)[name])
        places = [text.index(word) for word in words]
        assert places == sorted(places)


def test_phone_and_place_are_very_large() -> None:
    """911 and the yard gate can be read at arm's length in a hurry."""
    farm, _ = day_of("rye")
    sizes = _sizes_pt(_sheets("rye")["seed-truck-card"])
    large = "".join(text for size, text in sizes if size >= 50.0)
    assert "911" in large.replace(" ", "")
    place = "".join(text for size, text in sizes if 20.0 <= size < 22.0)
    assert "2140PlumHollowRoad" in place.replace(" ", "")
    assert farm.emergency_phone == "911"


@pytest.mark.parametrize("case", ["rye", "rye now", "oats", "forty"])
def test_both_languages_hold_the_same_figures_and_clock_times(case: str) -> None:
    """Every number, unit and time of the English card stands on the Spanish one, no more, no less.

    The date is told in each language's own order, so the figures are compared as a bag.
    """
    english, spanish = (
        _plain(_sheets(case)[name]) for name in ("seed-truck-card", "seed-truck-card-es")
    )

    def figures(text: str) -> list[str]:
        return sorted(re.findall(r"\d[\d,.:]*\d|\d", text))

    def with_units(text: str) -> list[str]:
        return sorted(re.findall(r"\d[\d,.:]* (?:lb|kg|ac|ha|am|pm)\b", text))

    assert figures(english) == figures(spanish)
    assert with_units(english) == with_units(spanish)
    assert len(with_units(english)) >= (1 if case == "rye now" else 2)


def test_the_spanish_waits_for_a_farmers_reading() -> None:
    """The card says so itself."""
    text = _plain(_sheets("rye")["seed-truck-card-es"])
    assert "Traducción pendiente de revisión por un agricultor nativo" in text


def test_treated_seed_is_warned_of_only_where_it_is() -> None:
    """Bin rye is not treated; treat it, and both cards say so."""
    farm, answer = day_of("rye")
    assert "TREATED" not in _plain(_sheets("rye")["seed-truck-card"])
    treated = replace(farm, lots=tuple(replace(lot, treated=True) for lot in farm.lots))
    sheets = _pressed(treated, answer)
    assert "TREATED" in _plain(sheets["seed-truck-card"])
    assert "TRATADA" in _plain(sheets["seed-truck-card-es"])


def test_the_truck_is_there_before_the_hopper_is_empty() -> None:
    """Ten minutes before load 2 is wanted, rounded down; and before work opens for load 1."""
    text = _plain(_sheets("rye")["seed-truck-card"])
    assert "9:20 am 6,000 lb A8" in text
    assert re.search(r"12:10 pm [\d,]+ lb A1", text)


def test_loads_on_the_truck_card_are_those_of_the_spreaders() -> None:
    """The same pounds on both cards, and their sum."""
    farm, answer = day_of("forty")
    sheets = {
        sheet.name: sheet.data
        for sheet in day_sheets(
            farm, answer, seed_answer(farm), field_plans(farm, answer), paper="letter"
        )
    }
    truck = sorted(row[1] for row in sheets["seed-truck-card"]["rows"])
    fills = sorted(row[1] for page in sheets["spreader-card"]["pages"] for row in page["fills"])
    assert truck == fills
    total = sum(int(mass.split()[0].replace(",", "")) for mass in truck)
    assert f"{total:,} lb in all" in sheets["seed-truck-card"]["total"]


def test_two_kinds_of_seed_never_share_a_hopper_without_a_clean_out() -> None:
    """Another lot in a spreader's next field: its fill says clean out first, on both cards."""
    farm, answer = day_of("forty")
    second = next(
        run[0]
        for run in next(
            s for s in day_sheets(
                farm, answer, seed_answer(farm), field_plans(farm, answer), paper="letter"
            )
            if s.name == "spreader-card"
        ).data["pages"][1]["fields"][1:2]
    )  # fmt: skip
    mixed = replace(
        farm,
        fields=tuple(replace(f, lot="Y") if f.name == second else f for f in farm.fields),
    )
    sheets = _pressed(mixed, answer)
    assert "CLEAN OUT FIRST: Y" in _plain(sheets["spreader-card"])
    assert "CLEAN OUT FIRST: Y" in _plain(sheets["seed-truck-card"])


def test_with_the_last_load_in_the_hopper_no_more_is_wanted() -> None:
    """At 1:15 the last load is in: the truck card says so, and keeps its safety lines."""
    text = _plain(_sheets("rye now")["seed-truck-card"])
    assert "No more loads today." in text
    assert "Flowing grain" in text
    assert "Do not spread today." in _plain(_sheets("rye hopeless")["seed-truck-card"])


def test_a_missing_emergency_number_leaves_a_line_to_write_on() -> None:
    """Never an empty place where help is called from."""
    farm, answer = day_of("rye")
    sheets = _pressed(replace(farm, emergency_phone="", emergency_location=""), answer)
    assert _plain(sheets["seed-truck-card"]).count("MISSING: write it here") == 2


# --------------------------------------------------------------------------- language and crew


def test_a_driver_who_reads_spanish_gets_spanish_cards() -> None:
    """Spreader, windshield and covering cards follow the person; the figures stay."""
    farm, answer = day_of("rye")
    people = tuple(replace(person, language="es") for person in farm.people)
    english, spanish = _sheets("rye"), _pressed(replace(farm, people=people), answer)
    for name in ("spreader-card", "windshield-card", "covering-card"):
        text = _plain(spanish[name])
        assert "Traducción pendiente de revisión" in text
        times = [
            sorted(set(re.findall(r"\d+:\d\d(?: [ap]m)?", _plain(pdf))))
            for pdf in (english[name], spanish[name])
        ]
        assert times[0] == times[1]
        masses = [
            sorted(re.findall(r"[\d,]+ lb", _plain(pdf))) for pdf in (english[name], spanish[name])
        ]
        assert masses[0] == masses[1]
    assert min(size for size, _ in _sizes_pt(spanish["covering-card"])) >= 13.99


def test_the_owner_sheet_stays_in_english() -> None:
    """The day sheet is the owner's."""
    assert "Stop spreading at" in _plain(_sheets("rye")["day-sheet"])


def test_all_sheets_of_a_day_bear_one_mark_and_another_day_another() -> None:
    """So that an old sheet is seen to be old."""
    marks = [
        {re.search(r"Plan ([0-9A-F]{4})\.", _plain(pdf)).group(1)  # type: ignore[union-attr]
         for pdf in _sheets(case).values()}
        for case in ("rye", "rye now")
    ]  # fmt: skip
    assert len(marks[0]) == len(marks[1]) == 1
    assert marks[0] != marks[1]


def _coloured(pdf: bytes) -> int:
    """How often a colour is set that is not a grey."""
    count = 0
    for page in _reader(pdf).pages:
        content = page.get_contents()
        assert content is not None
        triples = re.findall(
            rb"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG|sc|SC|scn|SCN)\b", content.get_data()
        )
        count += sum(1 for r, g, b in triples if not r == g == b)
    return count


@pytest.mark.parametrize("case", CASES)
def test_no_sheet_uses_colour(case: str) -> None:
    """Grey printers and colour-blind eyes lose nothing: no coloured ink is in the files."""
    assert all(_coloured(pdf) == 0 for pdf in _sheets(case).values())


def test_a_coloured_strip_would_have_been_seen() -> None:
    """The check above does find colour: the page's strip in its place is noticed."""
    farm, answer = day_of("rye")
    sheet = day_sheets(farm, answer, seed_answer(farm), {}, paper="letter")[0]
    bright = replace(
        sheet, pictures={"strip.svg": day_strip(answer, "us", width=532, height=222, text_size=14)}
    )
    assert _coloured(press(bright, paper="letter", on=answer.on)) > 10


def test_pounds_are_whole_and_acres_to_a_tenth() -> None:
    """No false decimals on paper."""
    for name in NAMES:
        text = _plain(_sheets("rye")[name])
        assert not re.search(r"\d\.\d+ lb\b(?!/)", text)
        assert not re.search(r"\d\.\d\d+ ac\b", text)


def test_the_day_sheet_draws_the_day_so_far_as_it_was_told() -> None:
    """A day printed at 13:15 with its log: the strip turns at the tellings.

    Where the areas were given over the log, the log's curve would not end in them and is left out.
    """
    farm, _ = day_of("rye")
    now_at = at(13, 15)
    logged = with_log(farm, (begin("Spreader", at(11)), spread(103, at(12, 30)),
                             covered(52, at(13))))  # fmt: skip

    def strip(question: DayQuestion) -> tuple[str, DayAnswer]:
        answer = day_answer(logged, replace(question, now_at=now_at, replications=400))
        sheet = day_sheets(logged, answer, seed_answer(farm), {}, paper="letter")[0]
        return sheet.pictures["strip.svg"], answer

    def told(answer: DayAnswer, *points: tuple[datetime, float, float]) -> str:
        return day_strip(answer, "us", width=532.0, height=222.0, black_and_white=True,
                         text_size=14.0, told=points)  # fmt: skip

    drawn, answer = strip(DayQuestion())
    assert drawn != told(answer)
    account = settled(logged)
    curve = told_curve(account, at(0), now_at, opens_at=at(9, 30))
    assert curve[-1][1] / ACRE_M2 == pytest.approx(103.0)
    assert drawn == told(answer, *curve)
    given, other = strip(DayQuestion(spread_m2=60 * ACRE_M2, covered_m2=10 * ACRE_M2))
    assert given == told(other)
