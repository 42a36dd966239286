"""A row of the table of defaults in words."""

from __future__ import annotations

from duskline.defaults import Default
from duskline.units import System, show, show_span

__all__ = ["default_lines"]


def default_lines(row: Default, system: System) -> list[str]:
    """Return a row as lines: key and name, low / typical / high with unit, source."""

    def text(value: float) -> str:
        if row.kind == "time":
            return show_span(value)
        if row.kind in {"count", "temperature", "temperature step"}:
            return f"{value:g}{' C' if row.kind.startswith('temperature') else ''}"
        return show(value, row.kind, system)

    range_text = " / ".join(text(value) for value in (row.low, row.typical, row.high))
    lines = [f"{row.key}: {row.name}", f"    {range_text}", f"    source: {row.source_line}"]
    if row.where:
        lines.append(f"    {row.where}")
    return lines
