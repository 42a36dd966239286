"""The table of defaults and the bibliography behind it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import duskline.defaults as table
from duskline.answers.check import SOURCES
from duskline.core.crew import YOUNGEST_DRIVER_YEARS
from duskline.defaults import NO_SOURCE, UNITS, Default, Source, defaults, given, sources
from duskline.units import KINDS

GOOD_ROW: dict[str, Any] = {
    "name": "a figure", "low": 1.0, "typical": 2.0, "high": 3.0, "unit": "m",
    "source": "our judgement",
}  # fmt: skip
SOURCE_ROW = {"title": "A title", "publisher": "A publisher", "address": "https://example.org"}


@pytest.fixture
def rows(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, dict[str, Any]]]:
    """An invented table of one good row and one source, in place of the real one."""
    held: dict[str, dict[str, Any]] = {"figure": dict(GOOD_ROW), "known": dict(SOURCE_ROW)}

    def read(name: str) -> dict[str, Any]:
        wanted = "known" if name == "sources.toml" else "figure"
        return {wanted: held[wanted]}

    monkeypatch.setattr(table, "_read", read)
    defaults.cache_clear()
    sources.cache_clear()
    yield held
    defaults.cache_clear()
    sources.cache_clear()


@pytest.mark.parametrize("row", list(defaults().values()), ids=lambda row: row.key)
def test_every_row_is_in_order_and_says_where_it_comes_from(row: Default) -> None:
    """Low, typical, high in order; a known unit; a name; a source of the bibliography or a word."""
    assert row.low <= row.typical <= row.high
    assert row.unit in UNITS
    assert row.kind in {*KINDS, "money per area"} or row.kind.startswith("temperature")
    assert row.name.strip() == row.name != ""
    assert row.source in NO_SOURCE or row.source in sources()
    assert row.source_line
    assert not row.key.isupper()


@pytest.mark.parametrize("source", list(sources().values()), ids=lambda source: source.key)
def test_every_source_can_be_looked_up(source: Source) -> None:
    """A title, a publisher and an address each; a year where one is known, and a likely one."""
    assert source.title
    assert source.publisher
    assert source.address.startswith(("http://", "https://"))
    assert " " not in source.address
    assert source.year is None or 1900 <= source.year <= 2030
    assert source.line.startswith(f"{source.title}, {source.publisher}")


def test_every_entry_of_the_bibliography_is_used() -> None:
    """What no default, question, formula, caution or published check names is listed here.

    Code and tests name a source by its address, by how its title begins, or as "publisher:".
    """
    used = {row.source for row in defaults().values()} | set(SOURCES.values())
    root = Path(__file__).parents[1]
    files = [path for name in ("src", "tests") for path in sorted((root / name).rglob("*.py"))]
    text = "\n".join(path.read_text(encoding="utf-8") for path in files)
    unused = [
        key
        for key, source in sources().items()
        if key not in used
        and not any(
            words in text for words in (source.address, source.title[:24], f"{source.publisher}:")
        )
    ]
    assert unused == []


def test_no_source_stands_in_the_bibliography_twice() -> None:
    """One address, one entry."""
    addresses = Counter(source.address for source in sources().values())
    assert [address for address, count in addresses.items() if count > 1] == []


def test_shares_are_shares_and_nothing_is_below_zero() -> None:
    """Shares lie between 0 and 1; no width, time, mass or rate is negative."""
    for row in defaults().values():
        assert row.low >= 0.0, row.key
        if row.unit == "fraction" and not row.key.startswith(("broadcast_factor", "lever")):
            assert row.high <= 1.0, row.key


def test_limits_of_fitness_are_in_their_own_order() -> None:
    """Do not sow lies below ask first, and that below use, at every column."""
    rows = [defaults()[f"germination_{word}"] for word in ("do_not", "to_ask", "to_use")]
    for column in ("low", "typical", "high"):
        values = [getattr(row, column) for row in rows]
        assert values == sorted(values)


def test_helpers_are_young_to_an_age_above_the_youngest_driver() -> None:
    """The caution for young helpers reaches past the age at which a tractor may be driven."""
    assert defaults()["adult_helper_years"].typical > YOUNGEST_DRIVER_YEARS


def test_a_default_is_given_with_its_range_and_called_one() -> None:
    """The working shows low and high and says that it is a default, with its source."""
    figure = given("clock_efficiency")
    assert (figure.low, figure.value, figure.high) == (0.40, 0.55, 0.70)
    assert figure.is_default
    assert figure.source == "default: our judgement"
    cited = given("spreader_efficiency")
    assert cited.source.startswith("default: Estimating the field capacity of farm machines")
    assert cited.source.endswith("Iowa State University Extension, 2001")


def test_a_good_table_is_read(rows: dict[str, dict[str, Any]]) -> None:
    """The invented row that the next tests spoil is itself good."""
    assert defaults()["figure"].kind == "length"
    rows["figure"]["source"] = "known"
    defaults.cache_clear()
    assert defaults()["figure"].source_line == "A title, A publisher"


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"low": 2.5}, "figure: low, typical, high are not in order"),
        ({"high": 1.5}, "figure: low, typical, high are not in order"),
        ({"typical": float("nan")}, "figure: low, typical, high are not in order"),
        ({"unit": "furlong"}, "figure: unit 'furlong' is unknown"),
        ({"source": "hearsay"}, "figure: source 'hearsay' is not in the bibliography"),
        ({"source": ""}, "figure: source '' is not in the bibliography"),
    ],
)
def test_a_bad_row_is_refused(
    rows: dict[str, dict[str, Any]], changed: dict[str, Any], says: str
) -> None:
    """Figures out of order, an unknown unit, a source nobody can look up: named and refused."""
    rows["figure"] |= changed
    with pytest.raises(ValueError, match=says):
        defaults()


@pytest.mark.parametrize("missing", ["low", "typical", "high", "unit", "source", "name"])
def test_a_row_without_one_of_its_parts_is_refused(
    rows: dict[str, dict[str, Any]], missing: str
) -> None:
    """A row is whole or it is not a row."""
    del rows["figure"][missing]
    with pytest.raises(TypeError, match=missing):
        defaults()


def test_a_row_with_a_part_too_many_is_refused(rows: dict[str, dict[str, Any]]) -> None:
    """A misspelt key does not pass in silence."""
    rows["figure"]["wher"] = "page 3"
    with pytest.raises(TypeError, match="wher"):
        defaults()
