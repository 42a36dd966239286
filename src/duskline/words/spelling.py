"""English as it is spelled where the reader farms."""

from __future__ import annotations

from duskline.units import System

__all__ = ["spelled"]

_US = {
    "fertiliser": "fertilizer",
    "labour": "labor",
    "litre": "liter",
    "neighbour": "neighbor",
    "plough": "plow",
}


def spelled(text: str, system: System) -> str:
    """Return a text in the spelling of the reader's country: "fertilizer" in US units.

    Titles of other people's works are not to be passed here: they stay as printed.
    """
    if system == "us":
        for british, american in _US.items():
            text = text.replace(british, american)
            text = text.replace(british.capitalize(), american.capitalize())
    return text
