"""What a careful neighbor would ask, raised from what the folder says and from nothing else."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from made_folders import EXAMPLES, asked, copy_of

from duskline.answers.check import Question, QuestionKey, Severity, check_answer
from duskline.exchange.farmfolder import read_farm
from duskline.words.check import sentence

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
