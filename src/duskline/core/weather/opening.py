"""The words for a day's openings: limits, machines' work, openings, reasons and notes.

The rules that fill them stand in ``derive.py``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from typing import Literal

from duskline.core.errors import OutOfRange

__all__ = [
    "DayOpenings",
    "NoteKind",
    "Opening",
    "Reason",
    "Span",
    "WeatherLimits",
    "WeatherNote",
    "Work",
    "with_margin",
]

Span = tuple[float, float]


class Reason(StrEnum):
    """What opens or closes the time a machine may work."""

    DEW_OFF = "dew off"
    SUNRISE = "sunrise"
    CIVIL_DAWN = "civil dawn"
    CREW_START = "crew start"
    WIND = "wind"
    DEW_ON = "dew on"
    RAIN = "rain"
    CIVIL_DUSK = "civil dusk"
    CREW_END = "crew end"
    HOME_BEFORE_DARK = "home before dark"
    MIDNIGHT = "midnight"
    STATED = "stated in farm.toml"


class NoteKind(StrEnum):
    """What a person should know about the weather behind a day's openings."""

    NO_FORECAST = "no forecast for the day"
    MISSING_HOURS = "hours of daylight missing from the forecast"
    STALE = "forecast is old"
    NOT_DATED = "forecast does not say when it was made"
    ISSUED_LATER = "forecast was made after now"
    RAIN_EARLIER = "rain before work opens"
    NO_LIGHT = "no daylight"
    DEW_STAYS = "dew does not go off"
    RAIN_STAYS = "rain does not stop"
    WIND_STAYS = "wind stays over the limit"
    CLOSED_BEFORE_OPEN = "closed before it could open"


@dataclass(frozen=True, kw_only=True, slots=True)
class WeatherNote:
    """One note with the values it speaks of; the faces write the sentence.

    Attributes
    ----------
    machine
        Which machine cannot work, for the kinds that say so; else empty.
    spans_s
        The hours it speaks of, elapsed since midnight. [s]
    age_s
        Age of the forecast; None where not the point. [s]
    rain_m
        Depth of rain; None where not the point or not known. [m]
    """

    kind: NoteKind
    machine: str = ""
    spans_s: tuple[Span, ...] = ()
    age_s: float | None = None
    rain_m: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Opening:
    """The time one machine may work on one day; all times elapsed since local midnight.

    Attributes
    ----------
    opens_at_s, closes_at_s
        First and last moment of work. [s]
    opens_because, closes_because
        What opens and closes it.
    hard
        Whether the close admits no seed left bare after it: rain, or dark for one who
        follows a mark by eye. Dew, wind and the crew's own hours are firm but not hard.
    opens_sd_s, sd_s
        How unsure the opening and the close are, one standard deviation. [s]
    intervals
        The stretches of work from opening to close, in order, without the hours of too much
        wind; one stretch where the wind is no matter. [s]
    dark_soft_at_s
        When it gets dark for a guided machine with lights, which may work on; None where
        dark is no matter or already closes the work. [s]

    Raises
    ------
    OutOfRange
        Stretches that are empty, overlap, or do not run from opening to close.
    """

    opens_at_s: float
    closes_at_s: float
    opens_because: Reason
    closes_because: Reason
    hard: bool
    opens_sd_s: float
    sd_s: float
    intervals: tuple[Span, ...]
    dark_soft_at_s: float | None = None

    def __post_init__(self) -> None:
        """Check that the stretches are in order and run from opening to close."""
        edges_s = [edge_s for interval in self.intervals for edge_s in interval]
        whole = bool(edges_s) and edges_s[0] == self.opens_at_s and edges_s[-1] == self.closes_at_s
        if not whole or any(b <= a for a, b in pairwise(edges_s)):
            raise OutOfRange("stretches of work", self.closes_at_s - self.opens_at_s, 0.0)
        if not min(self.sd_s, self.opens_sd_s) >= 0.0:
            raise OutOfRange("uncertainty in seconds", min(self.sd_s, self.opens_sd_s), 0.0)

    @property
    def reasons(self) -> tuple[Reason, Reason]:
        """What opens and what closes the work."""
        return self.opens_because, self.closes_because

    @property
    def open_s(self) -> float:
        """How long the machine may work, holes for wind taken out. [s]."""
        return sum(end_s - start_s for start_s, end_s in self.intervals)


@dataclass(frozen=True, kw_only=True, slots=True)
class WeatherLimits:
    """The crew's limits and how unsure each kind of event is.

    Attributes
    ----------
    dew_spread_c, dew_wind_mps
        Damp when the air is less than this above its dew point in less than this wind.
    wind_limit_mps, gust_limit_mps
        Spreading stops above either; None for no limit on gusts. [m/s]
    rain_threshold_m
        Depth that counts as rain in an hour without a stated chance. [m]
    rain_chance_limit_fraction
        Chance from which on an hour counts as rain.
    stale_after_s
        Age from which on a forecast is called old. [s]
    dew_sd_s, rain_sd_s, wind_sd_s, light_sd_s, stated_sd_s
        Standard deviation of when dew, rain, wind, light and stated times come true. [s]
    """

    dew_spread_c: float
    dew_wind_mps: float
    wind_limit_mps: float
    gust_limit_mps: float | None
    rain_threshold_m: float
    rain_chance_limit_fraction: float
    stale_after_s: float
    dew_sd_s: float
    rain_sd_s: float
    wind_sd_s: float
    light_sd_s: float
    stated_sd_s: float

    def __post_init__(self) -> None:
        """Check that no limit is below zero and that chances are chances."""
        for name in self.__slots__:
            value = getattr(self, name)
            if value is not None and not value >= 0.0:
                raise OutOfRange(name, value, 0.0)
        if not 0.0 < self.rain_chance_limit_fraction <= 1.0:
            raise OutOfRange(
                "chance that counts as rain", self.rain_chance_limit_fraction, 0.0, 1.0
            )

    def sd_s(self, reason: Reason) -> float:
        """Return how unsure the moment of an event is, one standard deviation [s]."""
        return {
            Reason.DEW_OFF: self.dew_sd_s,
            Reason.DEW_ON: self.dew_sd_s,
            Reason.RAIN: self.rain_sd_s,
            Reason.WIND: self.wind_sd_s,
            Reason.SUNRISE: self.light_sd_s,
            Reason.CIVIL_DAWN: self.light_sd_s,
            Reason.CIVIL_DUSK: self.light_sd_s,
        }.get(reason, self.stated_sd_s)


@dataclass(frozen=True, kw_only=True, slots=True)
class Work:
    """One machine's work on the day.

    Attributes
    ----------
    machine
        Its name, to tell the answers apart.
    kind
        "spread" or "cover".
    guided
        Whether a guidance line leads the driver; else a mark followed by eye.
    lights
        Whether the machine can be worked in the dark by its lights.
    stated_opens_s, stated_closes_s
        Times the farm states for this day; they stand in place of dew, light and crew hours,
        but rain still closes and wind still stops the spreader. Elapsed. [s]
    """

    machine: str
    kind: Literal["spread", "cover"]
    guided: bool
    lights: bool
    stated_opens_s: float | None = None
    stated_closes_s: float | None = None

    @property
    def dark_is_soft(self) -> bool:
        """Whether this machine may work on after dark."""
        return self.guided and self.lights


@dataclass(frozen=True, kw_only=True, slots=True)
class DayOpenings:
    """The openings of one day, in the order the machines were given, and the notes.

    A machine that cannot work at all that day has None, and a note with its name says why.
    """

    openings: tuple[Opening | None, ...]
    notes: tuple[WeatherNote, ...]


def with_margin(opening: Opening, margin_s: float) -> Opening | None:
    """Return the opening closed earlier by the crew's own margin; None if nothing is left.

    Parameters
    ----------
    margin_s
        How much before the close the crew wants to be done. [s]

    Raises
    ------
    OutOfRange
        A margin below zero.
    """
    if not margin_s >= 0.0:
        raise OutOfRange("margin in seconds", margin_s, 0.0)
    last_s = opening.closes_at_s - margin_s
    kept = tuple((a, min(b, last_s)) for a, b in opening.intervals if a < last_s)
    if not kept:
        return None
    dark_s = opening.dark_soft_at_s
    return replace(
        opening,
        closes_at_s=kept[-1][1],
        intervals=kept,
        dark_soft_at_s=dark_s if dark_s is not None and dark_s < kept[-1][1] else None,
    )
