"""The table of defaults: every row in order, with a unit we can print and a source we can name."""

from __future__ import annotations

from typing import Any

import pytest

import duskline.defaults as module
from duskline.defaults import NO_SOURCE, UNITS, defaults, given, sources

ROW = {
    "name": "changeover",
    "low": 900.0,
    "typical": 1500.0,
    "high": 2700.0,
    "unit": "s",
    "source": "memory",
}


@pytest.mark.parametrize("key", sorted(defaults()))
def test_every_row_is_in_order_and_says_where_it_comes_from(key: str) -> None:
    """Low, typical, high; a known unit; a source in the bibliography or plain words for none."""
    row = defaults()[key]
    assert row.low <= row.typical <= row.high
    assert row.unit in UNITS
    assert row.source in NO_SOURCE or row.source in sources()
    assert row.name
    assert row.source_line


def test_a_default_carries_its_range_and_is_marked_as_one() -> None:
    """The working shows typical, low, high and the source of every default."""
    figure = given("lead")
    assert figure.is_default
    assert figure.source == "default: common practice, no source"
    assert (figure.low, figure.value, figure.high) == (600.0, 1200.0, 1800.0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"low": 2000.0}, "not in order"),
        ({"unit": "fortnight"}, "unit 'fortnight' is unknown"),
        ({"source": "a-book"}, "'a-book' is not in the bibliography"),
    ],
)
def test_a_bad_row_is_refused_by_name(
    monkeypatch: pytest.MonkeyPatch, change: dict[str, Any], words: str
) -> None:
    """The row's key stands in the error."""
    tables = {"defaults.toml": {"changeover": {**ROW, **change}}, "sources.toml": {}}
    monkeypatch.setattr(module, "_read", lambda name: tables[name])
    module.defaults.cache_clear()
    module.sources.cache_clear()
    try:
        with pytest.raises(ValueError, match=words):
            module.defaults()
    finally:
        monkeypatch.undo()
        module.defaults.cache_clear()
        module.sources.cache_clear()
