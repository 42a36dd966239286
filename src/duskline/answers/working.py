"""The working of an answer: every figure with its unit and where it came from.

Answers hold the working; the faces print it in the reader's own units.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Figure", "Step"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One number of a working.

    Attributes
    ----------
    name
        What it is, in the trade's words ("driving width").
    value
        The number in SI, or a text where no number fits.
    unit
        SI unit as text: "m", "m2", "kg", "kg/m2", "kg/m3", "kg/s", "m/s", "m2/s", "s",
        "per m2", "per kg", "fraction", "count", "at" (a moment) or "" (a text).
    source
        Where it came from: "farm.toml", "trays.csv", "worked out here", or a default's source.
    low, high
        The range it may lie in, same unit; None where it has none.
    """

    name: str
    value: float | str
    unit: str
    source: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One step of a working: formula, what went in, what came out."""

    title: str
    formula: str
    inputs: tuple[Figure, ...]
    result: Figure
