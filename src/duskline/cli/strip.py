"""The day strip for a terminal: two curves in block characters, 76 columns wide."""

from __future__ import annotations

from duskline.answers.day import DayAnswer
from duskline.units import System, clock, to_display
from duskline.words.day import acres

__all__ = ["day_strip_text"]

WIDTH = 60
HEIGHT = 9
OPEN, DONE, SKY = "░", "█", " "


def day_strip_text(answer: DayAnswer, system: System) -> list[str]:
    """Return the lines of the strip: spread above, worked in below, open acres between."""
    curves = answer.curves
    count = len(curves.at)
    columns = [round(i * (count - 1) / (WIDTH - 1)) for i in range(WIDTH)]
    top = max(curves.spread_m2) or 1.0
    lines = []
    stop = min(
        range(WIDTH), key=lambda c: abs((curves.at[columns[c]] - answer.stop_at).total_seconds())
    )
    lines.append(" " * (10 + stop) + "▼ stop")
    for row in range(HEIGHT, 0, -1):
        level = top * (row - 0.5) / HEIGHT
        cells = "".join(
            DONE if curves.covered_m2[c] >= level else OPEN if curves.spread_m2[c] >= level else SKY
            for c in columns
        )
        label = f"{to_display(top, 'area', system)[0]:7.0f}" if row == HEIGHT else " " * 7
        lines.append(f"{label} ┤ {cells}".rstrip())
    lines.append(f"{0:7d} └─{'─' * WIDTH}")
    first, last = curves.at[0], curves.at[-1]
    middle = curves.at[count // 2]
    axis = clock(first, system).ljust(WIDTH // 2 - 4) + clock(middle, system)
    axis = axis.ljust(WIDTH - len(clock(last, system))) + clock(last, system)
    lines.append(" " * 10 + axis)
    peak = max(s - c for s, c in zip(curves.spread_m2, curves.covered_m2, strict=True))
    lines.append(
        f"          {OPEN} spread, lying open (at most {acres(peak, system)})   {DONE} worked in"
    )
    return lines
