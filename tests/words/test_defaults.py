"""Rows of the table of defaults in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from duskline.defaults import defaults
from duskline.words.defaults import default_lines
from duskline.words.spelling import spelled

BRITISH = ("fertilis", "labour", "litre", "neighbour", "plough")


def test_names_are_spelled_as_the_reader_spells() -> None:
    """Every row: nothing British in US units but the titles of others' works; nothing changed in
    metric. The evenness limits used to be of "fertiliser" on a US farm.
    """
    seen = 0
    for row in defaults().values():
        american = [
            line for line in default_lines(row, "us") if not line.startswith("    source: ")
        ]
        assert not any(word in line.lower() for word in BRITISH for line in american[1:]), row.key
        assert not any(word in american[0].partition(": ")[2].lower() for word in BRITISH), row.key
        metric = default_lines(row, "metric")
        assert metric[0] == f"{row.key}: {row.name}"
        seen += "fertiliser" in row.name
    assert seen >= 2


def test_titles_and_keys_stay_as_they_are() -> None:
    """The name of a row in farm.toml is the same everywhere, and a book keeps its title."""
    row = replace(next(iter(defaults().values())), key="labour_x", name="labour")
    lines = default_lines(row, "us")
    assert lines[0] == "labour_x: labor"
    cited = next(r for r in defaults().values() if "fertiliser" in r.source_line)
    assert f"    source: {cited.source_line}" in default_lines(cited, "us")


@pytest.mark.parametrize(
    ("british", "american"),
    [("Neighbour", "Neighbor"), ("ploughshares", "plowshares"), ("20 litres", "20 liters")],
)
def test_capitals_and_compounds_are_respelled(british: str, american: str) -> None:
    """In US units alone."""
    assert spelled(british, "us") == american
    assert spelled(british, "metric") == british
