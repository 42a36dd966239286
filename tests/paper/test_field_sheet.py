"""The sheet of one field: what both drivers need stands on it, large enough, on two pages."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import pypdf
import pytest
from draw.drawn import colours
from made_answers import answer_of, awkward_answer, awkward_farm
from made_days import ACRE_M2, FORTY, OATS, POUND_KG, RYE, farm_of
from made_fields import rectangle

from duskline.answers.field import FieldAnswer, field_answer
from duskline.core.farm import Farm
from duskline.core.lap import count_check
from duskline.core.swing import turns_over_the_edge
from duskline.paper import field_sheets, make_field_sheets
from duskline.paper.field_content import field_file_name, field_sheet
from duskline.paper.press import PaperSize, press
from duskline.units import FOOT_M
from duskline.words.aim import (
    heading_words,
    order_sentence,
    rounds_sentence,
)
from duskline.words.field import by_eye_sentences, line_words
from duskline.words.lap import advised_sentence, minutes_text

ON = date(2026, 10, 18)
IN_THE_CAB_PT = 13.99
AWKWARD = ("Two arms", "Wet", "Big", "Tiny", "Strip", "Long")


def _paper(farm: Farm) -> PaperSize:
    return "letter" if farm.system == "us" else "a4"


def _pressed(farm: Farm, answer: FieldAnswer) -> bytes:
    return press(field_sheet(farm, answer, paper=_paper(farm)), paper=_paper(farm), on=ON)


@cache
def _pdf(farm_name: str, field: str) -> bytes:
    return _pressed(farm_of(farm_name), answer_of(farm_name, field))


@cache
def _awkward(field: str) -> bytes:
    return _pressed(awkward_farm(), awkward_answer(field))


def _reader(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def _text(pdf: bytes) -> str:
    return _plain("\n".join(page.extract_text() for page in _reader(pdf).pages))


def _pieces(pdf: bytes) -> list[tuple[float, str]]:
    """Every piece of text with the size it is printed in, in the order of the page."""
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


def _large(pdf: bytes) -> str:
    """What can be read in the cab: all text of 14 points or more."""
    return _plain(" ".join(text for size, text in _pieces(pdf) if size >= IN_THE_CAB_PT))


def _squeezed(text: str) -> str:
    """Without spaces, which a PDF does not keep where lines break."""
    return re.sub(r"\s+", "", text)


def _stands(sentence: str, text: str) -> bool:
    return _squeezed(sentence) in _squeezed(text)


# --------------------------------------------------------------------------- every field


@pytest.mark.parametrize("farm_name", [RYE, OATS, FORTY])
def test_every_field_of_the_examples_has_two_pages_at_most(farm_name: str) -> None:
    """Printed on both sides a field is one sheet of paper."""
    for field in farm_of(farm_name).fields:
        assert len(_reader(_pdf(farm_name, field.name)).pages) <= 2, field.name


@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_fields_have_two_pages_at_most(name: str) -> None:
    """Five loads, flagged edges, two parts, a come-back list, no passes at all."""
    assert len(_reader(_awkward(name)).pages) <= 2


@pytest.mark.parametrize(("farm_name", "field"), [(RYE, "A1"), (OATS, "B4"), (FORTY, "C6")])
def test_only_the_fine_print_is_below_fourteen_points(farm_name: str, field: str) -> None:
    """Ten points at the table, fourteen in the cab, and the fine print comes last."""
    pieces = _pieces(_pdf(farm_name, field))
    assert min(size for size, _ in pieces) >= 9.99
    small = [place for place, (size, _) in enumerate(pieces) if size < IN_THE_CAB_PT]
    fine = [text for size, text in pieces[small[0] : small[-1] + 1] if size >= IN_THE_CAB_PT]
    # The foot of the page may stand among it, nothing else.
    assert all(_stands(text, "Field plan. A sheet of this field with another mark is old. 2")
               or re.search(r"[0-9A-F]{4}", text) for text in fine)  # fmt: skip
    tail = _plain(" ".join(text for _, text in pieces[small[0] :]))
    assert "usual rate" in tail
    assert not _stands("Count", tail)


def test_the_same_answer_gives_the_same_bytes() -> None:
    """Set twice, byte for byte."""
    for farm_name, field in ((RYE, "A5"), (OATS, "B4"), (FORTY, "C1")):
        again = _pressed(farm_of(farm_name), field_answer(farm_of(farm_name), field))
        assert again == _pdf(farm_name, field)


def test_the_map_has_no_colour() -> None:
    """Black, white and greys only, for a plain printer."""
    for farm_name, field in ((RYE, "A2"), (OATS, "B4"), (FORTY, "C1")):
        farm = farm_of(farm_name)
        sheet = field_sheet(farm, answer_of(farm_name, field), paper=_paper(farm))
        for colour in colours(sheet.pictures["map.svg"]):
            assert colour[1:3] == colour[3:5] == colour[5:7]


def test_the_sheet_is_tagged_titled_and_in_the_house_typeface() -> None:
    """PDF/UA as the other sheets; nothing depends on the fonts of a machine."""
    reader = _reader(_pdf(RYE, "A1"))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]  # type: ignore[index]
    assert reader.metadata is not None
    assert reader.metadata.title == "Field sheet, A1"
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            assert "AtkinsonHyperlegible" in font.get_object()["/BaseFont"]


def test_units_are_never_mixed() -> None:
    """Feet, acres and pounds at home; metres, hectares and kilograms abroad."""
    us, metric = _text(_pdf(RYE, "A3")), _text(_pdf(OATS, "B4"))
    assert not re.search(r"\d (m|ha|kg|L|cm|kg/ha)\b", us)
    assert not re.search(r"\d (ft|ac|lb|gal|lb/ac)\b", metric)


def test_no_word_of_the_workshop_reaches_the_farmer() -> None:
    """Words that a driver does not use are not on his sheet."""
    for pdf in (_pdf(RYE, "A5"), _awkward("Two arms"), _awkward("Wet")):
        text = _text(pdf).lower()
        for word in ("optimi", "polygon", "algorithm", "coefficient", "none,", "nan", "dataclass"):
            assert word not in text


# --------------------------------------------------------------------------- numbers


def test_every_machine_has_its_numbers() -> None:
    """Heading, driving width, passes, rounds and minutes of both spreaders and three machines."""
    farm, answer = farm_of(FORTY), answer_of(FORTY, "C1")
    data = field_sheet(farm, answer, paper="letter").data
    assert [row[0] for row in data["rows"]] == [
        "Spreader 1, Ana", "Spreader 2, Ben", "Cultivator 1, Carl", "Cultivator 2, Dee",
        "Cultivator 3, Earl",
    ]  # fmt: skip
    for row, one in zip(data["rows"][2:], answer.covers, strict=True):
        assert row[2] == "5°"
        assert row[4] == f"{one.plan.passes_count} ± 1"
        assert row[5] == str(one.plan.rounds_count)
        assert row[6] == minutes_text(one.plan.work_s)
    text = _large(_pdf(FORTY, "C1"))
    for row in data["rows"]:
        assert all(_stands(cell, text) for cell in row)


def test_both_headings_open_the_sheet() -> None:
    """In words and degrees from true north, and how far the covering is turned."""
    answer = answer_of(RYE, "A1")
    spread, cover = answer.spread.plan.first, answer.covers[0].plan.first
    assert spread is not None
    assert cover is not None
    sentence = (
        f"Spread {heading_words(spread.aim_rad)}. Work in {heading_words(cover.aim_rad)}, "
        "turned 5°."
    )
    assert _stands(sentence, _large(_pdf(RYE, "A1")))


def test_minutes_against_the_longest_side_are_told_or_called_no_difference() -> None:
    """A5 saves 5 minutes, B4 under the noise of a round figure, A1 is the longest side's own."""
    assert "Along the longest side it would take 1 h 25 min: 5 min saved." in _text(_pdf(RYE, "A5"))
    assert "no difference worth driving for" in _text(_pdf(OATS, "B4"))
    assert "This is along the longest side of the field." in _text(_pdf(RYE, "A1"))
    kept = answer_of(RYE, "A5")
    slower = replace(kept.spread, saved_s=-900.0)
    given_up = replace(kept, spreads=(slower,))
    lines = field_sheet(farm_of(RYE), given_up, paper="letter").data["spreads"][0]["lines"]
    assert "Along the longest side it would take 1 h 25 min." in lines[0]
    assert "saved" not in lines[0]


def test_the_headings_not_driven_are_told_with_their_minutes() -> None:
    """The triangle A3: what was tried beside the heading driven, so that both can be compared."""
    others = answer_of(RYE, "A3").spread.others
    assert others
    text = _text(_pdf(RYE, "A3"))
    for heading_rad, work_s in others:
        assert _stands(f"{line_words(heading_rad)} {minutes_text(work_s)}", text)
        assert work_s >= answer_of(RYE, "A3").spread.plan.work_s


def test_turns_that_have_no_room_are_told() -> None:
    """B7: how many swings would leave the field, in large type; A6's two machines have none."""
    answer = answer_of(OATS, "B7")
    plan = answer.covers[0].plan
    over = len(turns_over_the_edge(plan, answer.plan.outline))
    assert over > 0
    sentence = f"In {over} of {plan.turns_count} turns a plain swing goes over the edge"
    assert _stands(sentence, _large(_pdf(OATS, "B7")))
    plain = answer_of(RYE, "A6")
    assert turns_over_the_edge(plain.spread.plan, plain.plan.outline) == ()
    lines = field_sheet(farm_of(RYE), plain, paper="letter").data["spreads"][0]["lines"]
    assert "over the edge" not in lines[0]


# --------------------------------------------------------------------------- by eye, story 18


@pytest.mark.parametrize("field", ["A1", "A3", "A5", "A8"])
def test_the_driver_by_eye_has_all_he_needs_in_large_type(field: str) -> None:
    """Aim mark in words, pass count give or take one, headland rounds, order: story 18."""
    farm, answer = farm_of(RYE), answer_of(RYE, field)
    one = answer.covers[0]
    assert one.lap.by_eye
    plan, text = one.plan, _large(_pdf(RYE, field))
    assert plan.first is not None
    outline = answer.plan.outline
    told = by_eye_sentences(farm, answer, one)
    assert told[0].startswith("Start ")
    holes = bool(outline.holes_m)
    for sentence in (
        "Cultivator 1: Neighbor, by eye",
        *told,
        rounds_sentence(plan.rounds_count, last=True, holes=holes),
        order_sentence(plan.order.way, step=plan.order.step),
        f"Count {plan.passes_count} passes, 1 more or less.",
        advised_sentence(one.lap.advised, now_m=one.lap.overlap_m, system="us"),
    ):
        assert _stands(sentence, text), sentence


def test_the_count_is_the_maps_and_says_what_one_less_means() -> None:
    """Where the width across gives one pass more than the plan lays out, the plan's is said.

    By hand: 30 ft worked over 27 ft times the plan's count and a half is one pass more by width;
    that ground shared by one pass less or more than planned leaves the rest of 30 ft as lap.
    """
    answer = answer_of(RYE, "A1")
    one = answer.covers[0]
    laid = one.plan.passes_count
    across_ft = 27.0 * (laid + 0.5)
    check = count_check(across_m=across_ft * FOOT_M, width_m=30 * FOOT_M, overlap_m=3 * FOOT_M)
    assert check.passes_count == laid + 1
    other = replace(answer, covers=(replace(one, count=check), *answer.covers[1:]))
    fewer, more = (30.0 - across_ft / count for count in (laid - 1, laid + 1))
    sentence = (
        f"Count {laid} passes, 1 more or less. {laid - 1} means you lap {fewer:.1f} ft. "
        f"{laid + 1} means you lap {more:.1f} ft."
    )
    text = _large(_pressed(farm_of(RYE), other))
    assert _stands(sentence, text)
    assert _stands(f"{laid} ± 1", text)


def test_a_field_in_two_parts_counts_each_part() -> None:
    """The count is of the part it was made for, and the parts have their headings."""
    answer = awkward_answer("Two arms")
    plan = answer.covers[0].plan
    assert len(plan.blocks) == 2
    in_first = len({row for block, row in zip(plan.block_indices.tolist(),
                                              plan.row_indices.tolist(), strict=True)
                    if block == 0})  # fmt: skip
    text = _large(_awkward("Two arms"))
    assert in_first < plan.passes_count
    assert _stands(f"Part 1: Count {in_first} passes, 1 more or less.", text)
    parts = [heading_words(block.heading_rad) for block in plan.blocks]
    assert _stands(f"Driven in 2 parts: part 1 {parts[0]}, part 2 {parts[1]}.", text)


def test_a_strip_done_in_rounds_is_not_told_to_count_passes() -> None:
    """No aim, no count, no angle; the rounds alone."""
    text = _text(_awkward("Strip"))
    assert "Work it in with rounds alone." in text
    assert "2 headland rounds last" in text
    assert "Count" not in text
    assert "turned 5°" not in text


# --------------------------------------------------------------------------- loads and edges


def test_one_load_is_told_in_a_sentence() -> None:
    """A1 takes less than the 6,000 lb that go in, and ends at a headland."""
    answer = answer_of(RYE, "A1")
    (load,) = answer.spread.loads
    pounds = f"{load.mass_kg / POUND_KG:,.0f} lb"
    text = _large(_pdf(RYE, "A1"))
    assert _stands(f"{pounds} in this field; the hopper takes 6,000 lb", text)
    start_m, end_m = answer.spread.plan.passes_m[-1].tolist()
    wind, last = "east" if end_m[0] > start_m[0] else "west", answer.spread.plan.passes_count
    assert _stands(f"One load does it, empty at the {wind} end of pass {last}.", text)


def test_more_loads_have_a_row_each_with_the_pass_they_end_at() -> None:
    """Five loads on the big field: pounds, acres, and the end and number of the pass."""
    answer = awkward_answer("Big")
    spread = answer.spread
    rows = field_sheet(awkward_farm(), answer, paper="letter").data["spreads"][0]["loads"]
    assert len(rows) == len(spread.loads) == 5
    for row, load in zip(rows, spread.loads, strict=True):
        run = load.last_index - spread.first_run_index
        start_m, end_m = spread.plan.passes_m[run].tolist()
        wind = "east" if end_m[0] > start_m[0] else "west"
        assert row[1] == f"{load.mass_kg / POUND_KG:,.0f} lb"
        assert row[2] == f"{load.area_m2 / ACRE_M2:.1f} ac"
        assert row[3] == f"the {wind} end of pass {run + 1}"
    text = _large(_awkward("Big"))
    assert all(_stands(" ".join(row), text) for row in rows)


def test_a_load_that_ends_elsewhere_is_told_so() -> None:
    """In the middle of a pass, or on the headland rounds: the driver is not sent to a wrong end."""
    answer = awkward_answer("Big")
    first = answer.spread.loads[0]
    mid = replace(first, at_run_end=False)
    rounds = replace(first, last_index=0)
    odd = replace(answer.spread, loads=(mid, rounds))
    sheet = field_sheet(awkward_farm(), replace(answer, spreads=(odd,)), paper="letter")
    ends = [row[3] for row in sheet.data["spreads"][0]["loads"]]
    assert re.fullmatch(r"a place in pass \d+, before its (east|west) end", ends[0])
    assert ends[1] == "the end of leg 1 of the headland rounds"


def test_spreaders_that_load_differently_are_told_apart() -> None:
    """Two spreaders alike share their lines; with another hopper each has its own."""
    farm, answer = farm_of(FORTY), answer_of(FORTY, "C1")
    (alike,) = field_sheet(farm, answer, paper="letter").data["spreads"]
    assert alike["title"] == "Spread:"
    other = replace(answer.spreads[1], load_kg=0.5 * answer.spreads[1].load_kg)
    unlike = replace(answer, spreads=(answer.spreads[0], other))
    titles = [one["title"] for one in field_sheet(farm, unlike, paper="letter").data["spreads"]]
    assert titles == ["Spread, Spreader 1:", "Spread, Spreader 2:"]


def test_flagged_edges_say_how_far_in_the_first_pass_runs() -> None:
    """A2's creek: 50 ft in, no seed on 10 ft, the other sides 20 ft; a wrong word is told."""
    text = _large(_pdf(RYE, "A2"))
    assert _stands("East side (water): middle of the first pass 50 ft in.", text)
    assert _stands("No seed on the 10 ft along it.", text)
    assert _stands("Other sides: middle of the first pass 20 ft in.", text)
    assert _stands("All sides: middle of the first pass 20 ft in.", _large(_pdf(RYE, "A1")))
    assert _stands('The edge "up there" (ditch) is no compass word', _large(_awkward("Wet")))


# --------------------------------------------------------------------------- the record


def test_acres_stand_side_by_side_and_what_differs_is_told() -> None:
    """A3: 28.2 in the outline, 28.4 driven, 29.4 at the office, none altered."""
    text = _large(_pdf(RYE, "A3"))
    line = "outline 28.2 ac driven 28.4 ac office 29.4 ac for the record 28.2 ac"
    assert _stands(line, text)
    assert re.search(r"4\.\d % apart: none of them was altered", text)
    assert "apart" not in _large(_pdf(RYE, "A1"))


def test_left_out_ground_comes_off_the_record_and_onto_the_come_back_list() -> None:
    """The wet hole has a box to tick; the rock pile stays where it is."""
    answer = awkward_answer("Wet")
    text = _large(_awkward("Wet"))
    field = answer.field
    assert _stands(f"for the record {field.record_area_m2 / ACRE_M2:.1f} ac", text)
    assert _stands("1.9 ac left out is off the record: ask what is paid on.", text)
    assert _stands("wet hole, 1.2 ac (by the tile outlet). Done on", text)
    assert "rock pile, " not in text


def test_ground_once_twice_and_missed_adds_up() -> None:
    """For both machines of A1, to a tenth of a percent."""
    answer = answer_of(RYE, "A1")
    rows = field_sheet(farm_of(RYE), answer, paper="letter").data["fine"]["rows"]
    assert len(rows) == 2
    for row, one in zip(rows, answer.covers, strict=True):
        once, twice = (float(cell.removesuffix(" %")) for cell in row[1:3])
        assert row[3] == "next to none"
        assert once == pytest.approx(100.0 * one.worked.once_m2 / one.worked.area_m2, abs=0.051)
        assert once + twice == pytest.approx(100.0, abs=0.11)


def test_cautions_and_blanks_are_on_every_sheet() -> None:
    """Shaft, raised tool, oil and road; room for a pencil."""
    for pdf in (_pdf(RYE, "A1"), _pdf(FORTY, "C6"), _awkward("Strip")):
        text = _large(pdf)
        for words in ("PTO and engine off", "raised cultivator", "cardboard", "On the road"):
            assert words in text
        for blank in ("Started", "Done", "Acres", "Passes"):
            assert blank in text


def test_a_farm_that_covers_nothing_has_a_sheet_for_its_spreader() -> None:
    """No covering machine: the map and the spreader's numbers, no second heading."""
    farm = replace(farm_of(RYE), cultivators=())
    pdf = _pressed(farm, field_answer(farm, "A1"))
    text = _text(pdf)
    assert "Spread east (90°)." in text
    assert "Work in" not in text


# --------------------------------------------------------------------------- files


def test_files_are_named_after_fields_and_stay_in_the_folder(tmp_path: Path) -> None:
    """Path tricks become dashes; names that would fall together are counted."""
    plain = answer_of(RYE, "A1")
    names = ("A1", "../../etc/passwd", "a1", "North 40 / east", "...", "Ñandú 7", "x" * 300)
    answers = [replace(plain, field=replace(plain.field, name=name)) for name in names]
    written = make_field_sheets(farm_of(RYE), answers, tmp_path / "out")
    assert [path.name for path in written] == [
        "field-A1.pdf",
        "field-etc-passwd.pdf",
        "field-a1-2.pdf",
        "field-North-40-east.pdf",
        "field-unnamed.pdf",
        "field-Ñandú-7.pdf",
        f"field-{'x' * 60}.pdf",
    ]
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == sorted(p.name for p in written)
    assert list(tmp_path.iterdir()) == [tmp_path / "out"]


def test_a_name_of_dashes_or_dots_is_never_empty() -> None:
    """Nothing that a file system could take for a folder is left."""
    for name in ("", ".", "..", "/", "\\", "-", "\0", "a/../b", "C:\\x"):
        made = field_file_name(name)
        assert re.fullmatch(r"field-[\w]+(-[\w]+)*", made)


def test_paper_follows_the_farms_units_unless_asked(tmp_path: Path) -> None:
    """Letter at home, A4 abroad."""
    for farm_name, field, paper, width in (
        (RYE, "A1", None, 612.0), (OATS, "B1", None, 595.28), (RYE, "A1", "a4", 595.28),
    ):  # fmt: skip
        (path,) = make_field_sheets(
            farm_of(farm_name),
            [answer_of(farm_name, field)],
            tmp_path,
            paper=paper,  # type: ignore[arg-type]
        )
        box = pypdf.PdfReader(path).pages[0].mediabox
        assert float(box.width) == pytest.approx(width, abs=0.1)


def test_a_sheet_carries_a_mark_that_changes_with_the_plan() -> None:
    """An old sheet is known by it: the same for the same plan, another for another angle."""
    farm = farm_of(RYE)
    one, again = (field_answer(farm, "A1") for _ in range(2))
    turned = field_answer(farm, "A1", angle_rad=math.radians(9.0))
    marks = [sheet.data["mark"] for sheet in field_sheets(farm, [one, again, turned], paper="a4")]
    assert marks[0] == marks[1] != marks[2]
    assert marks[0] in _text(_pdf(RYE, "A1"))


def test_very_many_loads_run_on_and_leave_no_page_half_bare() -> None:
    """68 loads: every one on a page, and the first page filled before the next begins."""
    farm, answer = farm_of(RYE), answer_of(RYE, "A1")
    spreader = replace(farm.spreaders[0], load_kg=100.0 * POUND_KG)
    small = replace(farm, spreaders=(spreader,))
    many = field_answer(small, "A1")
    pdf = _pressed(small, many)
    assert len(many.spread.loads) > 60
    text = _large(pdf)
    rows = field_sheet(small, many, paper="letter").data["spreads"][0]["loads"]
    assert all(_stands(" ".join(row), text) for row in rows)
    first = _reader(pdf).pages[0].extract_text()
    plain = _reader(_pressed(farm, answer)).pages[0].extract_text()
    assert "hopper takes 100 lb" in first
    assert len(first.splitlines()) >= 0.8 * len(plain.splitlines())


def test_a_strip_has_its_one_pass_on_the_sheet_as_on_the_screen() -> None:
    """2,000 x 20 m: rounds and 1 pass between them, in the heading and in the table."""
    farm = awkward_farm()
    outline = rectangle(2000.0, 20.0)
    field = replace(farm.fields[-1], outline=outline, area_m2=outline.area_m2, gates_m=())
    answer = field_answer(replace(farm, fields=(field,)), field.name)
    sheet = field_sheet(farm, answer, paper="letter").data
    assert sheet["headings"].endswith("Work it in with rounds and 1 pass between them.")
    assert [row[4] for row in sheet["rows"][1:]] == ["1", "1"]
    assert [row[2] for row in sheet["rows"][1:]] == ["", ""]
