"""farm.toml: every problem at once, with its line, what was read and the nearest known key."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_folders import EXAMPLES, FOOT_M, POUND_KG

from duskline.exchange.farm_toml import MOST_PROBLEMS, FarmToml, read_farm_toml
from duskline.exchange.problems import Problem

TEXT = (EXAMPLES / "rye-after-soybeans" / "farm.toml").read_text(encoding="utf-8")


def problems(*changes: tuple[str, str]) -> list[Problem]:
    """Return what is found wrong once the texts are changed."""
    text = TEXT
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    form, _, found = read_farm_toml(text.encode())
    assert (form is None) == bool(found)
    return found


@pytest.mark.parametrize("name", ["rye-after-soybeans", "oats-and-radish", "forty-fields"])
def test_the_examples_read_clean(name: str) -> None:
    """No problem in any of the three invented farms."""
    form, _, found = read_farm_toml((EXAMPLES / name / "farm.toml").read_bytes())
    assert form is not None
    assert found == []


def test_quantities_are_read_to_si() -> None:
    """40 ft, 6,000 lb and 19 in 20 arrive as metres, kilograms and a fraction."""
    form, _, _ = read_farm_toml(TEXT.encode())
    assert form is not None
    assert form.spreader[0].driving_width == pytest.approx(40 * FOOT_M)
    assert form.spreader[0].load == pytest.approx(6000 * POUND_KG)
    assert form.day.sure == pytest.approx(0.95)
    assert form.lot[0].germination[0] == (44, 50)


@pytest.mark.parametrize(
    ("old", "new", "read", "expected", "hint"),
    [
        ('speed = "8 mph"', 'sped = "8 mph"', "sped", "known key", "'speed'"),
        ('driving_width = "40 ft"', "driving_width = 40", "40", '"40 ft"', ""),
        ('driving_width = "40 ft"', 'driving_width = "40 lb"', "40 lb", '"40 ft"', ""),
        ('driving_width = "40 ft"', 'driving_width = "0 ft"', "0 ft", "1.6 ft to 196.9 ft", ""),
        ('width = "28 ft"', 'width = "280 ft"', "280 ft", "1.6 ft to 196.9 ft", ""),
        ('load = "6000 lb"', 'load = "-6000 lb"', "-6000 lb", "44 lb to", ""),
        ('efficiency = "80 %"', 'efficiency = "180 %"', "180 %", "5.0 % to 100.0 %", ""),
        ('purity = "97 %"', 'purity = "97"', "97", "a share with its unit", ""),
        ('"44 of 50", "45', '"54 of 50", "45', "54 of 50", "no more sprouted", ""),
        ('"20 g: 832"', '"20 g 832"', "20 g 832", '"20 g: 832"', ""),
        ('sure = "19 in 20"', 'sure = "20 in 20"', "20 in 20", '"19 in 20"', ""),
        ('sure = "19 in 20"', 'sure = "certain"', "certain", '"19 in 20"', ""),
        ('"09:30-18:15"', '"18:15-09:30"', "18:15-09:30", "opening before", ""),
        ('"09:30-18:15"', '"9 to 5"', "9 to 5", '"09:30"', ""),
        ("age = 51", "age = 51.5", "51.5", "whole number", ""),
        ("age = 51", 'age = "old"', "old", "whole number", ""),
        ("guided = true", 'guided = "perhaps"', "perhaps", "true or false", ""),
        ('units = "us"', 'units = "imperial"', "imperial", "us", ""),
        ("latitude = 42.0", "latitude = 95.0", "95.0", "66", ""),
        ("latitude = 42.0", "latitude = nan", "nan", "", ""),
        ("sow_by = 2026-10-21", 'sow_by = "Oct 21"', "Oct 21", "date", ""),
        ('live_rate = "61 lb/ac"', "", "0 rates", "exactly one of", ""),
        (
            'live_rate = "61 lb/ac"',
            'live_rate = "61 lb/ac"\nbulk_rate = "70 lb/ac"',
            "2 rates",
            "exactly one of",
            "",
        ),
        ('live_rate = "61 lb/ac"', 'stand = "22 plants/ft2"', "stand", "emergence beside", ""),
        ('overlap = "0.5 ft"', 'overlap = "0.5 ft"\noverlap_share = "2 %"', "several", "one", ""),
        ('load = "6000 lb"', "", "load and hopper", "either load", ""),
        ('depth = "3.60 ft"', "", "mass, diameter", "both diameter and depth", ""),
        ('cover = "09:30-18:15"', "", "one of two", "both spread and cover", ""),
        ('name = "Plum Hollow"', "", "nothing", "'name'", ""),
    ],
)
def test_each_mistake_gets_its_sentence(
    old: str, new: str, read: str, expected: str, hint: str
) -> None:
    """What was read, what was expected, and the nearest known key."""
    found = problems((old, new))
    assert len(found) == 1, [problem.sentence for problem in found]
    assert read in found[0].read
    assert expected in found[0].expected
    assert hint in found[0].hint


def test_a_problem_names_its_line() -> None:
    """The line of the key stands in the sentence."""
    line = next(n for n, text in enumerate(TEXT.splitlines(), 1) if text.startswith("purity"))
    found = problems(('purity = "97 %"', "purity = 97"))
    assert found[0].where == f"line {line}, lot.1.purity"
    assert found[0].sentence.startswith(f"farm.toml, line {line}, lot.1.purity: read 97;")


def test_all_mistakes_are_told_at_once() -> None:
    """Four mistakes in four tables give four problems."""
    found = problems(
        ('speed = "8 mph"', 'sped = "8 mph"'),
        ('purity = "97 %"', "purity = 97"),
        ('width = "28 ft"', 'width = "28 lb"'),
        ('lead = "20 min"', 'lead = "soon"'),
    )
    assert len(found) == 4


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"\xff\xfe\x00", "a byte that is no text"),
        (b"a = [", "TOML"),
        (b"a=" + b"[" * 50_000, "nested too deep"),
        (b"name = 'x'\nname = 'y'", "TOML"),
        (b" " * 1_000_001, "no more than 1 MB"),
        (b"", "the key 'farm'"),
        (TEXT.encode().replace(b"[day]", b"[[day]]"), "day"),
        (b"[[person]]\n" * 90_000, "more of the kind"),
        (
            TEXT.encode() + b"".join(b'[[person]]\nname="p%d"\n' % i for i in range(20_000)),
            "at most 500",
        ),
    ],
)
def test_a_hostile_file_gets_a_sentence_and_not_a_hang(raw: bytes, words: str) -> None:
    """Binary, broken, deep, huge and repetitive files are refused in plain words."""
    form, _, found = read_farm_toml(raw)
    assert form is None
    assert len(found) <= MOST_PROBLEMS + 1
    assert any(words in problem.sentence for problem in found)


def test_a_byte_order_mark_and_windows_line_ends_are_no_matter() -> None:
    """A file saved elsewhere reads the same."""
    form, _, found = read_farm_toml(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert found == []
    assert form == read_farm_toml(TEXT.encode())[0]


@settings(max_examples=60)
@given(st.binary(max_size=400))
def test_no_bytes_make_the_reader_raise(raw: bytes) -> None:
    """Whatever the bytes, the answer is a list of problems."""
    form, _, found = read_farm_toml(raw)
    assert form is None
    assert found


@settings(max_examples=60)
@given(
    st.sampled_from([line for line in TEXT.splitlines() if " = " in line]),
    st.text(max_size=30),
)
def test_any_value_in_place_of_a_good_one_is_read_or_told(line: str, value: str) -> None:
    """A strange text in any key is either taken (names) or told, never a trace."""
    escaped = value.encode("unicode_escape").decode().replace('"', "'").replace("\\", "")
    key = line.split(" = ", maxsplit=1)[0]
    form, _, found = read_farm_toml(TEXT.replace(line, f'{key} = "{escaped}"', 1).encode())
    assert (form is None) == bool(found)


def test_the_same_form_gives_a_schema() -> None:
    """The schema says that a quantity is a text, and shows one."""
    schema = FarmToml.model_json_schema()
    width = schema["$defs"]["CultivatorTable"]["properties"]["width"]
    assert width["type"] == "string"
    assert width["examples"] == ["40 ft"]
