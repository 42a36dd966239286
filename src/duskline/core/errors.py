"""What can go wrong, named as the farmer would say it.

The tree; each error carries its values in SI as attributes, the edge writes the sentence::

    DusklineError
    ├── OutOfRange (ValueError)            a figure lies outside what can be true
    ├── BinHoldsTooLittle (ValueError)     the bin runs out before the acres do
    ├── OutlineRefused (ValueError)        an outline cannot be mended safely
    ├── FieldTooNarrow (ValueError)        the machine fits nowhere between the edges
    ├── NobodyMayDrive (ValueError)        a machine has no driver allowed on it
    └── NoWindow (ValueError)              the day has no hour to work in
"""

from __future__ import annotations

__all__ = [
    "BinHoldsTooLittle",
    "DusklineError",
    "FieldTooNarrow",
    "NoWindow",
    "NobodyMayDrive",
    "OutOfRange",
    "OutlineRefused",
]


class DusklineError(Exception):
    """Anything Duskline refuses, with a reason a person can act on."""


class OutOfRange(DusklineError, ValueError):
    """A figure lies outside what can be true.

    Attributes
    ----------
    name
        What the figure is, in the trade's words.
    value
        The figure as given, in SI.
    low, high
        The limits it must lie between, in SI; None where there is none.
    """

    def __init__(
        self, name: str, value: float, low: float | None = None, high: float | None = None
    ) -> None:
        super().__init__(f"{name} is {value}; it must lie between {low} and {high}")
        self.name = name
        self.value = value
        self.low = low
        self.high = high


class BinHoldsTooLittle(DusklineError, ValueError):
    """The bin runs out before the acres do."""

    def __init__(self, *, needed_kg: float, mass_kg: float) -> None:
        super().__init__(f"{needed_kg} kg needed, {mass_kg} kg in the bin")
        self.needed_kg = needed_kg
        self.mass_kg = mass_kg


class OutlineRefused(DusklineError, ValueError):
    """An outline cannot be mended safely; ``reason`` says why."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class FieldTooNarrow(DusklineError, ValueError):
    """A machine fits nowhere between the edges of a field; ``width_m`` is what it works."""

    def __init__(self, *, width_m: float) -> None:
        super().__init__(f"no room for a tool {width_m} m wide")
        self.width_m = width_m


class NobodyMayDrive(DusklineError, ValueError):
    """A machine that the day needs has no driver who may drive it."""

    def __init__(self, machine: str, reason: str) -> None:
        super().__init__(f"{machine}: {reason}")
        self.machine = machine
        self.reason = reason


class NoWindow(DusklineError, ValueError):
    """The day has no hour fit for the work; ``reason`` says what closes it."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason
