"""Clock times as people read them: every face rounds one moment to the same five minutes."""

from __future__ import annotations

from datetime import datetime, timedelta

from duskline.units import System, clock

__all__ = [
    "STEP",
    "about",
    "arrival",
    "no_later",
    "no_sooner",
    "rounded_down",
    "rounded_up",
    "span",
]

STEP = timedelta(minutes=5)
"""To what a clock time is rounded: nobody works by the minute."""


def rounded_down(moment: datetime) -> datetime:
    """Return the last full five minutes that are not after a moment."""
    return moment.replace(minute=moment.minute // 5 * 5, second=0, microsecond=0)


def rounded_up(moment: datetime) -> datetime:
    """Return the first full five minutes that are not before a moment."""
    full = rounded_down(moment)
    return full if full == moment else full + STEP


def about(moment: datetime, system: System) -> str:
    """Return a clock time rounded to five minutes."""
    minutes = round((moment.minute + moment.second / 60) / 5) * 5
    return clock(
        moment.replace(minute=0, second=0, microsecond=0) + timedelta(minutes=minutes), system
    )


def no_later(moment: datetime, system: System) -> str:
    """Return a clock time rounded down to five minutes: earlier is safe."""
    return clock(rounded_down(moment), system)


def no_sooner(moment: datetime, system: System) -> str:
    """Return a clock time rounded up to five minutes."""
    return clock(rounded_up(moment), system)


def span(first: datetime, last: datetime, system: System, *, join: str) -> str:
    """Return two clock times, rounded outwards; one where both are the same.

    Parameters
    ----------
    join
        What stands between them (" to ").
    """
    begin, end = no_later(first, system), no_sooner(last, system)
    return begin if begin == end else f"{begin}{join}{end}"


def arrival(first: datetime, last: datetime, system: System) -> str:
    """Return when somebody gets there in a sentence: "between 9:55 am and 10:25 am"."""
    begin, end = no_later(first, system), no_sooner(last, system)
    return f"about {begin}" if begin == end else f"between {begin} and {end}"
