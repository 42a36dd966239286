"""What went wrong, as sentences: what was asked, what stands in the way, what to change."""

from __future__ import annotations

from duskline.core.errors import (
    DusklineError,
    FieldTooNarrow,
    NobodyMayDrive,
    NoWindow,
    OutlineRefused,
    OutOfRange,
)
from duskline.units import System, UnitError, show

__all__ = ["sentences"]


def sentences(error: DusklineError, system: System = "us") -> list[str]:
    """Return the error as one or more lines for the person at the screen."""
    problems = getattr(error, "problems", None)
    if problems is not None:
        count = len(problems)
        head = f"{count} thing{'s' if count > 1 else ''} to put right:"
        return [head, *(f"  {problem.sentence}" for problem in problems)]
    if isinstance(error, UnitError):
        return [f"Read {error.read!r}; expected {error.expected}."]
    if isinstance(error, NoWindow):
        return [
            f"No plan for this day: {error.reason}. State the hours in farm.toml, choose another "
            "--date, or bring a newer forecast."
        ]
    if isinstance(error, NobodyMayDrive):
        return [_nobody(error)]
    if isinstance(error, OutlineRefused):
        return [f"The outline cannot be used: {error.reason}."]
    if isinstance(error, FieldTooNarrow):
        return [
            f"There is no room in this field for a machine {show(error.width_m, 'length', system)} "
            "wide: no part of it is as wide as that. Do it with a narrower machine, drive it "
            "together with the field beside it, or leave it out; else check the width in farm.toml "
            "and the outline."
        ]
    if isinstance(error, OutOfRange):
        return [_range(error, system)]
    return [str(error)]


def _nobody(error: NobodyMayDrive) -> str:
    if error.reason.startswith("under 16"):
        return (
            f"{error.machine} has no driver: {error.reason}. Nobody under 16 is put on a tractor "
            "above 20 PTO horsepower, on hitching or on an auger; local law may ask more. Name "
            "another driver in farm.toml."
        )
    return (
        f"{error.machine} has no driver: name one ([[{_table(error)}]] driver, or drives of a "
        "person) in farm.toml."
    )


def _table(error: NobodyMayDrive) -> str:
    return "spreader" if "spread" in error.machine.lower() else "cultivator"


def _range(error: OutOfRange, system: System) -> str:
    kind = next(
        (
            kind
            for word, kind in (
                ("area", "area"), ("rate of", "work rate"), ("load", "mass"), ("width", "length"),
                ("overlap", "length"), ("seed rate", "rate"), ("efficiency", "fraction"),
                ("germination", "fraction"), ("purity", "fraction"), ("sureness", "fraction"),
                ("time", "time"), ("radius", "length"), ("throw", "length"), ("strip", "length"),
                ("angle", "angle"), ("speed", "speed"), ("power", "power"), ("slope", "fraction"),
            )
            if word in error.name
        ),
        None,
    )  # fmt: skip

    def text(value: float) -> str:
        return show(value, kind, system) if kind else f"{value:g}"

    limits = ""
    if error.low is not None and error.high is not None:
        limits = f"; it must lie between {text(error.low)} and {text(error.high)}"
    elif error.low is not None:
        limits = f"; it must be above {text(error.low)}"
    elif error.high is not None:
        limits = f"; it must be below {text(error.high)}"
    return f"{error.name.capitalize()} is {text(error.value)}{limits}. Put it right and ask again."
