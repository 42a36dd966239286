"""Finding statements in TOML: every letter belongs to one, and values end where they do."""

from __future__ import annotations

import tomllib

import pytest
from made_folders import EXAMPLES

from duskline.exchange.toml_splice import inline_with, literal, newline_of, sections

ODD = '''# first
"a b".c = """x
# [no]
key = "\\""""   # after
[ "x y" ] # heading
q = [ 1, # ] = "
 2,
]
[[z]]
i = { a = "=#", b = [1] }
[z.w]
k = '\\'
[other]
[[z]]
i = {}
d = 2026-10-18 07:00:00'''


def test_values_end_where_they_do_however_they_are_written() -> None:
    """Quotes, hashes, brackets and equals signs inside texts and lists are no statements."""
    found = {
        (*section.path, section.number, *one.path): ODD[one.value_start : one.value_end]
        for section in sections(ODD)
        for one in section.pairs
    }
    assert found == {
        (0, "a b", "c"): '"""x\n# [no]\nkey = "\\""""',
        ("x y", 0, "q"): '[ 1, # ] = "\n 2,\n]',
        ("z", 0, "i"): '{ a = "=#", b = [1] }',
        ("z", "w", 0, "k"): "'\\'",
        ("z", 1, "i"): "{}",
        ("z", 1, "d"): "2026-10-18 07:00:00",
    }


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*/farm.toml")), ids=lambda p: p.parent.name)
def test_every_letter_belongs_to_one_statement(path: object) -> None:
    """Statements follow each other without a gap, and their values are those of the parser."""
    text = path.read_text(encoding="utf-8")  # type: ignore[attr-defined]
    content = tomllib.loads(text)
    end = 0
    for section in sections(text):
        for one in [*([section.heading] if section.heading else []), *section.statements]:
            assert one.start == end
            end = one.end
            if one.path:
                held = content[section.path[0]]
                held = held[section.number] if isinstance(held, list) else held
                if not one.heads:
                    value = text[one.value_start : one.value_end]
                    assert tomllib.loads(f"x = {value}")["x"] == held[one.path[0]]
    assert end == len(text)


def test_comments_under_the_last_key_stay_with_it_unless_they_lead_a_heading() -> None:
    """A comment right under a key is the section's; one right over a heading is the next one's."""
    text = "[a]\nx = 1\n# of a\n\n# of b\n[b]\n# of c\n[c]\n"
    first, second, third = sections(text)[1:]
    assert text[first.start : first.end] == "[a]\nx = 1\n"
    assert text[first.start : first.end_with_comments] == "[a]\nx = 1\n# of a\n"
    assert text[second.start : second.end_with_comments] == "[b]\n"
    assert text[third.start : third.end_with_comments] == "[c]\n"


@pytest.mark.parametrize(
    "value",
    ['a"b', "a\nb", "a\x00b\x7f", "é\"'\\#[", "", True, 3, -93.5, ["a", "b,"], [[1.5, 2.0]], []],
)
def test_a_literal_reads_back_as_the_value(value: object) -> None:
    """Whatever is in a text, TOML reads the same out of it again."""
    assert tomllib.loads(f"x = {literal(value)}") == {"x": value}


def test_a_list_keeps_its_comments_and_lines() -> None:
    """Only the item that differs is another."""
    old = '[\n  "a",  # one\n  "b",  # two\n]'
    assert literal(["a", "x"], old) == '[\n  "a",  # one\n  "x",  # two\n]'
    assert tomllib.loads(f"x = {literal(['x', 'b', 'c'], old)}")["x"] == ["x", "b", "c"]
    assert "# one" in literal(["a"], old)


def test_one_key_in_braces_changes_alone() -> None:
    """The others keep their place, and the braces their spaces."""
    old = '{ passes = 12, across = "330 ft" }'
    assert inline_with(old, ["passes"], 13) == '{ passes = 13, across = "330 ft" }'
    added = inline_with("{ passes = 12 }", ["across"], "3 ft")
    assert tomllib.loads(f"x = {added}")["x"] == {"passes": 12, "across": "3 ft"}
    assert tomllib.loads(f"x = {inline_with(old, ['across'], None)}")["x"] == {"passes": 12}


def test_line_ends_are_those_of_the_text() -> None:
    """The first line tells."""
    assert newline_of("a = 1\r\nb = 2\r\n") == "\r\n"
    assert newline_of("a = 1\nb = 2\r\n") == "\n"
    assert newline_of("") == "\n"
