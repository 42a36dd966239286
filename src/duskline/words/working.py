"""Printing the working of an answer: formula, inputs with units and sources, result."""

from __future__ import annotations

from collections.abc import Iterable

from duskline.answers.working import Figure, Step
from duskline.units import System, show, show_span

__all__ = ["figure_text", "working_lines"]

KIND_OF_UNIT = {
    "m": "length",
    "m2": "area",
    "m3": "volume",
    "kg": "mass",
    "kg/m2": "rate",
    "kg/m3": "density",
    "kg/s": "flow",
    "m/s": "speed",
    "m2/s": "work rate",
    "per m2": "stand",
    "1/m2": "stand",
    "per kg": "seeds per mass",
    "1/kg": "seeds per mass",
    "fraction": "fraction",
    "1/s": "per time",
    "W": "power",
    "rad": "angle",
    "count": "count",
    "1": "count",
}


def figure_text(figure: Figure, system: System) -> str:
    """Return the figure's value with its unit and, where it has one, its range."""
    if isinstance(figure.value, str):
        return figure.value

    def text(value: float) -> str:
        if figure.unit == "s":
            return show_span(value)
        kind = KIND_OF_UNIT.get(figure.unit)
        if kind is None:
            return f"{value:g} {figure.unit}".strip()
        if kind == "count":
            return f"{value:g}"
        return show(value, kind, system)

    shown = text(figure.value)
    if figure.low is not None and figure.high is not None:
        shown += f" ({text(figure.low)} to {text(figure.high)})"
    elif figure.low is not None:
        shown += f" (low side {text(figure.low)})"
    return shown


def working_lines(steps: Iterable[Step], system: System) -> list[str]:
    """Return the working as lines: title, formula, one line an input, the result."""
    lines: list[str] = []
    for step in steps:
        lines += [step.title, f"  {step.formula}"]
        lines += [
            f"    {figure.name}: {figure_text(figure, system)}  [{figure.source}]"
            for figure in step.inputs
        ]
        lines += [f"  = {step.result.name}: {figure_text(step.result, system)}", ""]
    return lines
