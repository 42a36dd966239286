"""What a careful neighbor would ask, raised from what the folder says and from nothing else."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from made_folders import ACRE_M2, EXAMPLES, asked, copy_of

from duskline.answers.check import FieldAcres, Question, QuestionKey, Severity, check_answer
from duskline.exchange.farmfolder import read_farm
from duskline.words.check import acre_lines, come_back_lines, sentence

RYE = "rye-after-soybeans"


def questions(folder: Path, on: date | None = None) -> tuple[Question, ...]:
    """Return the questions of a folder."""
    return check_answer(read_farm(folder), on).questions


def changed(tmp_path: Path, *pairs: tuple[str, str]) -> Path:
    """Return the rye farm with texts of farm.toml changed."""
    return copy_of(RYE, tmp_path, farm_toml=list(pairs))


def severities(found: tuple[Question, ...]) -> list[Severity]:
    """Return how grave each is."""
    return [question.severity for question in found]


def test_the_gravest_come_first() -> None:
    """Stop and ask, then ask, then notes."""
    order = list(Severity)
    for name in (RYE, "oats-and-radish", "forty-fields"):
        places = [order.index(s) for s in severities(questions(EXAMPLES / name))]
        assert places == sorted(places)


def test_a_program_that_forbids_tillage_stops_everything(tmp_path: Path) -> None:
    """Working in is tillage: stop and ask, exit code 1; the office decides."""
    farm = changed(tmp_path, ('tillage = "allowed"', 'tillage = "not allowed"'))
    told = asked("check", farm)
    assert told.exit_code == 1
    assert "STOP AND ASK FIRST" in told.stdout
    assert Severity.STOP_AND_ASK in severities(questions(farm))


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([('tillage = "allowed"', 'tillage = "ask"')], "tillage"),
        ([("sow_by = 2026-10-21", "sow_by = 2026-10-10")], "Oct 10"),
        ([('live_rate = "61 lb/ac"', 'bulk_rate = "60 lb/ac"')], "live"),
        ([('species = "rye"', 'species = "wheat"')], "fly-free"),
        ([('"44 of 50", "45 of 50", "43 of 50", "44 of 50"', '"130 of 200"')], "65 %"),
        ([("tested_on", "treated = true\ntested_on")], "reated"),
        ([('diameter = "15 ft"', 'diameter = "10 ft"')], "on hand"),
        ([("age = 58", "age = 15")], "15"),
        ([('emergency_location = "Yard', 'country = "US"\n# "Yard')], ""),
    ],
)
def test_each_circumstance_raises_its_question(
    tmp_path: Path, pairs: list[tuple[str, str]], words: str
) -> None:
    """A changed figure brings a question that was not there, in plain words."""
    before = {sentence(q, "us") for q in questions(EXAMPLES / RYE)}
    if not words:
        pairs = [
            (
                next(
                    line
                    for line in (EXAMPLES / RYE / "farm.toml").read_text("utf-8").splitlines()
                    if line.startswith("emergency_location")
                ),
                "",
            )
        ]
    new = {sentence(q, "us") for q in questions(changed(tmp_path, *pairs))} - before
    assert any(words in text for text in new), new


def test_a_herbicide_interval_not_over_is_told_with_the_days_left(tmp_path: Path) -> None:
    """60 days from 1 September end on 31 October: 13 days are left on the 18th."""
    herbicide = (
        '"name": "A3", "herbicide": [{"name": "Product X", "applied_on": "2026-09-01", '
        '"interval_days": 60}]'
    )
    farm = copy_of(RYE, tmp_path, fields_geojson=[('"name": "A3"', herbicide)])
    told = [sentence(q, "us") for q in questions(farm) if q.key is QuestionKey.HERBICIDE]
    assert len(told) == 1
    assert "Product X" in told[0]
    assert "13" in told[0]
    assert "label" in told[0].lower()


def test_no_sentence_gives_a_verdict_of_law_or_payment() -> None:
    """The office or the label decides; nothing is called legal, approved or safe to plant."""
    for name in (RYE, "oats-and-radish", "forty-fields"):
        for question in questions(EXAMPLES / name):
            text = sentence(question, "us").lower()
            for word in ("is legal", "is approved", "will be paid", "you may plant"):
                assert word not in text


def test_every_question_has_a_source_or_says_it_is_ours() -> None:
    """A bibliography key, or our judgement."""
    from duskline.defaults import NO_SOURCE, sources

    for question in questions(EXAMPLES / RYE):
        assert question.source in NO_SOURCE or question.source in sources()


# --- acres -----------------------------------------------------------------------------------


def acres_of(folder: Path) -> dict[str, FieldAcres]:
    """The fields with more than their outline's area to tell."""
    return {row.field: row for row in check_answer(read_farm(folder), None).acres}


def test_three_acre_figures_stand_side_by_side_and_none_is_altered() -> None:
    """A3 and A6 state three figures; each stays what it was."""
    rows = acres_of(EXAMPLES / RYE)
    assert sorted(rows) == ["A3", "A6"]
    acres = rows["A3"].acres
    assert acres.outline_m2 / ACRE_M2 == pytest.approx(28.17, abs=0.01)
    assert acres.driven_m2 == pytest.approx(28.4 * ACRE_M2)
    assert acres.office_m2 == pytest.approx(29.4 * ACRE_M2)


def test_a_difference_over_two_percent_is_flagged_with_both_figures() -> None:
    """A3: 28.2 in the outline, 29.4 at the office, 4.4 % apart; A6 within 1.5 % is left alone."""
    (one,) = [q for q in questions(EXAMPLES / RYE) if q.key is QuestionKey.ACRES_DIFFER]
    assert one.subject == "A3"
    text = sentence(one, "us")
    assert "28.2 ac" in text
    assert "29.4 ac" in text
    assert "4.4 %" in text
    assert "ac" not in sentence(one, "metric").split()
    assert not acres_of(EXAMPLES / RYE)["A6"].differs


@pytest.mark.parametrize(("office", "flagged"), [("40.7 ac", False), ("40.8 ac", True)])
def test_the_limit_is_two_percent(office: str, flagged: bool, tmp_path: Path) -> None:
    """A6's outline holds 39.93 ac: 40.7 is 1.9 % more, 40.8 is 2.2 % more."""
    pairs = [('"driven_area": "39.6 ac", "office_area": "40.2 ac"', f'"office_area": "{office}"')]
    assert acres_of(copy_of(RYE, tmp_path, fields_geojson=pairs))["A6"].differs is flagged


def test_driven_and_office_are_compared_with_each_other(tmp_path: Path) -> None:
    """39.3 driven and 40.6 at the office are each within 2 % of 39.93, but 3.2 % apart."""
    pairs = [
        (
            '"driven_area": "39.6 ac", "office_area": "40.2 ac"',
            '"driven_area": "39.3 ac", "office_area": "40.6 ac"',
        )
    ]
    row = acres_of(copy_of(RYE, tmp_path, fields_geojson=pairs))["A6"]
    assert row.differs
    assert row.apart == ("office", "driven")


def test_a_wet_hole_comes_off_the_record_and_stands_on_the_come_back_list(tmp_path: Path) -> None:
    """0.4 ac of A4: 58.9 of 59.3 ac, payment to be asked for, a line to tick when done."""
    folder = copy_of(RYE, tmp_path)
    with (folder / "farm.toml").open("a", encoding="utf-8") as file:
        file.write('\n[[left_out]]\nfield = "A4"\nwhat = "wet hole"\narea = "0.4 ac"\n')
        file.write('\n[[left_out]]\nfield = "A1"\nwhat = "rocks"\narea = "0.1 ac"\n')
        file.write("come_back = false\n")
    answer = check_answer(read_farm(folder), None)
    row = next(row for row in answer.acres if row.field == "A4")
    assert (row.acres.outline_m2 - row.record_m2) / ACRE_M2 == pytest.approx(0.4)
    assert row.payment_differs
    (line,) = come_back_lines(answer, "us")
    assert line.startswith("[ ] A4: wet hole, 0.4 ac; its place is not written down.")
    texts = [sentence(q, "us") for q in answer.questions if q.key is QuestionKey.LEFT_OUT]
    assert any("58.9 ac of 59.3 ac go on the record" in text for text in texts)
    assert all("payment" in text for text in texts)
    assert any(line.startswith("A4") and "58.9 ac" in line for line in acre_lines(answer, "us"))


def test_the_table_of_acres_marks_what_differs_and_what_is_missing() -> None:
    """One line a field under a line of headings; nothing where nothing is stated."""
    lines = acre_lines(check_answer(read_farm(EXAMPLES / RYE), None), "us")
    assert lines[0].split() == ["field", "outline", "driven", "office", "for", "the", "record"]
    assert lines[1].endswith("<- 4.4 % apart")
    assert "<-" not in lines[2]
    assert acre_lines(check_answer(read_farm(EXAMPLES / "oats-and-radish"), None), "metric") == []
