"""A row of the table of defaults in words."""

from __future__ import annotations

from duskline.defaults import Default
from duskline.units import System, show, show_span
from duskline.words.cost import money_per_area
from duskline.words.spelling import spelled

__all__ = ["default_lines", "value_text"]

# Shorter than the first a length is told in inches, longer than the second in miles. [m]
_SHORT_M, _FAR_M = 0.3, 5e3
# Times that never reach this are told in seconds. [s]
_LONG_S = 120.0


def value_text(row: Default, value: float, system: System) -> str:
    """Return a figure of a row in the reader's units: small lengths small, long ones long."""
    if row.kind == "time":
        return f"{value:g} s" if row.high < _LONG_S else show_span(value)
    if row.kind in {"count", "temperature", "temperature step"}:
        return f"{value:g}{' C' if row.kind.startswith('temperature') else ''}"
    if row.kind == "money per area":
        return money_per_area(value, row.unit.partition("/")[0], system)
    kind = row.kind
    if kind == "length" and row.high < _SHORT_M:
        kind = "short length"
    elif kind == "length" and row.low > _FAR_M:
        kind = "distance"
    return show(value, kind, system)


def default_lines(row: Default, system: System) -> list[str]:
    """Return a row as lines: key and name, low / typical / high with unit, source."""
    range_text = " / ".join(
        value_text(row, value, system) for value in (row.low, row.typical, row.high)
    )
    named = f"{row.key}: {spelled(row.name, system)}"
    lines = [named, f"    {range_text}", f"    source: {row.source_line}"]
    if row.where:
        lines.append(f"    {spelled(row.where, system)}")
    return lines
