"""When each machine may work on one day: the rules that open and close it.

Spreading and covering open and close separately: tines wait for the dew, the spreader does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from duskline.core.light import Daylight, seconds_after
from duskline.core.weather.dew import dew_off_s, dew_on_s
from duskline.core.weather.forecast import (
    HOUR_S,
    BoolArray,
    Forecast,
    Hours,
    first_time_s,
    hours_of_day,
    missing_spans_s,
    wind_ok_hours,
)
from duskline.core.weather.opening import (
    DayOpenings,
    NoteKind,
    Opening,
    Reason,
    Span,
    WeatherLimits,
    WeatherNote,
    Work,
)
from duskline.core.weather.rain import first_rain_s, rain_hours

__all__ = ["derive_openings"]


def derive_openings(
    *,
    forecast: Forecast,
    light: Daylight,
    day_start_at: datetime,
    works: Sequence[Work],
    limits: WeatherLimits,
    crew_start_s: float,
    crew_end_s: float | None = None,
    now_at: datetime | None = None,
) -> DayOpenings:
    """Return when each machine may work on one local day, and what a person should know.

    Parameters
    ----------
    forecast
        Hours of any number of days; only those of this day are used.
    light
        The day's light, from ``light.daylight``.
    day_start_at
        Local midnight in the farm's zone, from ``light.local_midnight_at``.
    works
        One for each machine.
    limits
        The crew's limits.
    crew_start_s, crew_end_s
        When the crew starts and, if it says so, goes home. Elapsed. [s]
    now_at
        The moment of planning, to tell the forecast's age; None leaves the age out.

    Notes
    -----
    Spreading opens with the sun (civil dawn for a guided machine with lights) or the crew,
    whichever is later, damp ground or not; hours of too much wind are holes in it; rain or
    dark closes it. Covering opens when the dew is off and closes at the first of rain, dew
    and dark. Dark is civil dusk. For a guided machine with lights it does not close: work goes
    on to the next harder cause or the crew's end, and closes at dusk after all if there is
    neither. Rain that is already falling delays the opening until it stops; whether the
    ground is then fit is the crew's to say.

    Source
    ------
    Derived here; worked by hand in tests/core/test_weather_openings.py.
    """
    day = _Day(
        hours=hours_of_day(forecast, day_start_at),
        limits=limits,
        dawn_s=_elapsed(day_start_at, light.civil_dawn_at, always=not light.dark_all_day),
        sunrise_s=_elapsed(day_start_at, light.sunrise_at, always=not light.sun_never_rises),
        noon_s=seconds_after(day_start_at, light.noon_at),
        dusk_s=_elapsed(day_start_at, light.civil_dusk_at, always=False),
        crew_start_s=crew_start_s,
        crew_end_s=crew_end_s,
    )
    found = [_opening(day, work) for work in works]
    openings = tuple(one if isinstance(one, Opening) else None for one in found)
    notes = (
        *_forecast_notes(day, forecast.issued_at, now_at),
        *_rain_earlier(day, openings),
        *(one for one in found if isinstance(one, WeatherNote)),
    )
    return DayOpenings(openings=openings, notes=notes)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Day:
    """The day as the rules below see it; times elapsed since midnight, None for never. [s]."""

    hours: Hours
    limits: WeatherLimits
    dawn_s: float | None
    sunrise_s: float | None
    noon_s: float
    dusk_s: float | None
    crew_start_s: float
    crew_end_s: float | None

    @property
    def rainy(self) -> BoolArray:
        return rain_hours(
            self.hours,
            rain_threshold_m=self.limits.rain_threshold_m,
            rain_chance_limit_fraction=self.limits.rain_chance_limit_fraction,
        )

    def dew_off_s(self, after_s: float) -> float | None:
        return dew_off_s(
            self.hours,
            dew_spread_c=self.limits.dew_spread_c,
            dew_wind_mps=self.limits.dew_wind_mps,
            after_s=after_s,
        )

    def dew_on_s(self, after_s: float) -> float | None:
        return dew_on_s(
            self.hours,
            dew_spread_c=self.limits.dew_spread_c,
            dew_wind_mps=self.limits.dew_wind_mps,
            after_s=max(after_s, self.noon_s),
        )

    def rain_s(self, after_s: float) -> float | None:
        return first_rain_s(
            self.hours,
            rain_threshold_m=self.limits.rain_threshold_m,
            rain_chance_limit_fraction=self.limits.rain_chance_limit_fraction,
            after_s=after_s,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Edge:
    """A moment that opens or closes the work, and why."""

    at_s: float
    reason: Reason
    hard: bool = False


def _opening(day: _Day, work: Work) -> Opening | WeatherNote:
    """The opening of one machine, or the note that says why there is none."""
    opens = _opens(day, work)
    if isinstance(opens, NoteKind):
        return WeatherNote(kind=opens, machine=work.machine)
    closes = _closes(day, work, opens.at_s)
    if closes.at_s <= opens.at_s:
        span_s = (closes.at_s, opens.at_s)
        return WeatherNote(
            kind=NoteKind.CLOSED_BEFORE_OPEN, machine=work.machine, spans_s=(span_s,)
        )
    intervals: tuple[Span, ...] = ((opens.at_s, closes.at_s),)
    if work.kind == "spread":
        intervals = _without_wind(day, opens.at_s, closes.at_s)
        if not intervals:
            return WeatherNote(kind=NoteKind.WIND_STAYS, machine=work.machine)
        if intervals[0][0] > opens.at_s:
            opens = _Edge(at_s=intervals[0][0], reason=Reason.WIND)
        if intervals[-1][1] < closes.at_s:
            closes = _Edge(at_s=intervals[-1][1], reason=Reason.WIND)
    return Opening(
        opens_at_s=opens.at_s,
        closes_at_s=closes.at_s,
        opens_because=opens.reason,
        closes_because=closes.reason,
        hard=closes.hard,
        opens_sd_s=day.limits.sd_s(opens.reason),
        sd_s=day.limits.sd_s(closes.reason),
        intervals=intervals,
        dark_soft_at_s=_soft_dark_s(day, work, opens.at_s, closes.at_s),
    )


def _opens(day: _Day, work: Work) -> _Edge | NoteKind:
    """What opens the work: the latest of light, crew and dew, then the end of any rain."""
    if work.stated_opens_s is not None:
        edge = _Edge(at_s=work.stated_opens_s, reason=Reason.STATED)
    else:
        by_lights = work.kind == "spread" and work.dark_is_soft
        light_s = day.dawn_s if by_lights else day.sunrise_s
        if light_s is None:
            return NoteKind.NO_LIGHT
        light = Reason.CIVIL_DAWN if by_lights else Reason.SUNRISE
        edges = [
            _Edge(at_s=light_s, reason=light),
            _Edge(at_s=day.crew_start_s, reason=Reason.CREW_START),
        ]
        if work.kind == "cover":
            off_s = day.dew_off_s(light_s)
            if off_s is None:
                return NoteKind.DEW_STAYS
            if off_s > light_s:
                edges.append(_Edge(at_s=off_s, reason=Reason.DEW_OFF))
        edge = max(edges, key=lambda one: one.at_s)
    if day.hours.count == 0:
        return edge
    dry_s = first_time_s(day.hours, ~day.rainy, after_s=edge.at_s)
    if dry_s is None:
        return NoteKind.RAIN_STAYS
    return edge if dry_s == edge.at_s else _Edge(at_s=dry_s, reason=Reason.RAIN)


def _closes(day: _Day, work: Work, opens_s: float) -> _Edge:
    """What closes the work: the first cause that binds this machine."""
    edges: list[_Edge] = []

    def add(at_s: float | None, reason: Reason, *, hard: bool = False) -> None:
        if at_s is not None:
            edges.append(_Edge(at_s=at_s, reason=reason, hard=hard))

    add(day.rain_s(opens_s), Reason.RAIN, hard=True)
    if work.stated_closes_s is not None:
        add(work.stated_closes_s, Reason.STATED)
    else:
        if work.kind == "cover":
            add(day.dew_on_s(opens_s), Reason.DEW_ON)
        if not work.dark_is_soft:
            add(day.dusk_s, Reason.CIVIL_DUSK, hard=True)
        add(day.crew_end_s, Reason.CREW_END)
    if not edges:
        add(day.dusk_s, Reason.CIVIL_DUSK)
    if not edges:
        add(day.hours.length_s, Reason.MIDNIGHT)
    return min(edges, key=lambda one: (one.at_s, not one.hard))


def _soft_dark_s(day: _Day, work: Work, opens_s: float, closes_s: float) -> float | None:
    """When it gets dark while a machine that may go on is working; else None."""
    if not work.dark_is_soft or day.dusk_s is None:
        return None
    return day.dusk_s if opens_s < day.dusk_s < closes_s else None


def _without_wind(day: _Day, opens_s: float, closes_s: float) -> tuple[Span, ...]:
    """The stretches in which the wind lets the spreader throw."""
    if day.hours.count == 0:
        return ((opens_s, closes_s),)
    fit = wind_ok_hours(
        day.hours,
        wind_limit_mps=day.limits.wind_limit_mps,
        gust_limit_mps=day.limits.gust_limit_mps,
    )
    spans_s = day.hours.spans_s.copy()
    spans_s[-1, 1] = max(spans_s[-1, 1], closes_s)  # dusk may lie past midnight in the far north
    stretches: list[Span] = []
    for start_s, end_s in np.clip(spans_s[fit], opens_s, closes_s).tolist():
        if end_s <= start_s:
            continue
        if stretches and stretches[-1][1] == start_s:
            start_s = stretches.pop()[0]  # noqa: PLW2901
        stretches.append((start_s, end_s))
    return tuple(stretches)


def _forecast_notes(
    day: _Day, issued_at: datetime | None, now_at: datetime | None
) -> list[WeatherNote]:
    """What is missing from the forecast, and how old it is."""
    notes: list[WeatherNote] = []
    from_s = max(0.0, day.sunrise_s or 0.0)
    to_s = day.hours.length_s if day.dusk_s is None else min(day.dusk_s, day.hours.length_s)
    missing = missing_spans_s(day.hours, from_s=from_s, to_s=to_s)
    if day.hours.count == 0:
        notes.append(WeatherNote(kind=NoteKind.NO_FORECAST))
    elif missing:
        notes.append(WeatherNote(kind=NoteKind.MISSING_HOURS, spans_s=missing))
    if issued_at is None:
        notes.append(WeatherNote(kind=NoteKind.NOT_DATED))
    elif now_at is not None:
        age_s = seconds_after(issued_at, now_at)
        if age_s < 0.0:
            notes.append(WeatherNote(kind=NoteKind.ISSUED_LATER, age_s=age_s))
        elif age_s > day.limits.stale_after_s:
            notes.append(WeatherNote(kind=NoteKind.STALE, age_s=age_s))
    return notes


def _rain_earlier(day: _Day, openings: Sequence[Opening | None]) -> list[WeatherNote]:
    """Rain of the same day before the first machine opens: the ground may not be fit."""
    opens_s = [opening.opens_at_s for opening in openings if opening is not None]
    if not opens_s or not day.hours.count:
        return []
    starts_s = day.hours.starts_s
    before = day.rainy & (starts_s < min(opens_s))
    if not before.any():
        return []
    depth_m = float(np.sum(day.hours.forecast.rain_m[before]))
    return [
        WeatherNote(
            kind=NoteKind.RAIN_EARLIER,
            spans_s=tuple((float(a), float(a) + HOUR_S) for a in starts_s[before]),
            rain_m=None if np.isnan(depth_m) else depth_m,
        )
    ]


def _elapsed(day_start_at: datetime, moment: datetime | None, *, always: bool) -> float | None:
    """Elapsed seconds of an event; where there is none, 0 if its light is always there."""
    if moment is not None:
        return seconds_after(day_start_at, moment)
    return 0.0 if always else None
