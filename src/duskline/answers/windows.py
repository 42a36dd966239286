"""From when until when may each machine work on a date, and what opens and closes it.

Hours stated in the farm folder win over those worked out from forecast and sun, and the
difference is kept so that it can be said. Wind over the limit still makes a hole in spreading.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np

from duskline.core.errors import NoWindow
from duskline.core.farm import Farm, StatedWindow
from duskline.core.light import Daylight, daylight, local_midnight_at, seconds_after
from duskline.core.weather import (
    Forecast,
    Opening,
    Reason,
    WeatherLimits,
    WeatherNote,
    Work,
    derive_openings,
    hours_between,
    hours_of_day,
    rain_by,
    with_margin,
)

__all__ = ["DayWindows", "Difference", "day_windows", "weather_limits"]

HOUR_S = 3600.0
Span = tuple[float, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """A stated time and what forecast and sun would have given. [s after midnight]"""

    work: str
    opens: bool
    stated_s: float
    derived_s: float
    because: str


@dataclass(frozen=True, kw_only=True, slots=True)
class DayWindows:
    """The hours of one date; all times in seconds after local midnight.

    Attributes
    ----------
    cover_opens_s, cover_closes_s, cover_sd_s, cover_hard, cover_because
        For each cultivator by name; ``hard`` where nothing may lie bare after it.
    spread_closes_because, cover_closes_because
        The reason words; for covering, of the machine that closes last.
    rain_hours_s, rain_chance
        Hour starts and the chance of rain up to the end of that hour, hours shared.
    dark_soft_s
        When dark falls on machines that may work on by their lights, by name.
    """

    on: date
    stated: bool
    spread_intervals_s: tuple[Span, ...]
    spread_sd_s: float
    cover_opens_s: Mapping[str, float]
    cover_closes_s: Mapping[str, float]
    cover_sd_s: Mapping[str, float]
    cover_hard: Mapping[str, bool]
    cover_because: Mapping[str, str]
    spread_opens_because: str
    spread_closes_because: str
    cover_opens_because: str
    cover_closes_because: str
    differences: tuple[Difference, ...]
    wind_holes_s: tuple[Span, ...]
    weather_notes: tuple[WeatherNote, ...]
    rain_hours_s: tuple[float, ...]
    rain_chance: tuple[float, ...]
    rain_coming: bool
    sunset_s: float | None
    dusk_s: float | None
    dark_soft_s: Mapping[str, float]
    sd_source: str
    margin_s: float


def day_windows(
    farm: Farm, on: date, *, rain_at: datetime | None = None, now_at: datetime | None = None
) -> DayWindows:
    """Return the hours of a date for spreading and for each covering machine.

    Parameters
    ----------
    rain_at
        Rain is called for this moment: everything closes there, hard.

    Raises
    ------
    NoWindow
        The date is stated closed, or there is neither a stated window nor a forecast.
    """
    zone = ZoneInfo(farm.time_zone)
    start_at = local_midnight_at(on, zone)
    light = _light(farm.latitude_deg, farm.longitude_deg, on, zone)
    stated = next((window for window in farm.windows if window.on == on), None)
    if stated is not None and stated.closed:
        raise NoWindow(stated.closed)
    derived = _derived(farm, light, start_at, now_at, None)
    chosen = derived if stated is None else _derived(farm, light, start_at, now_at, stated)
    if chosen is None:
        raise NoWindow(f"no hours are stated for {on} and the forecast has none")
    spread, covers, notes = chosen
    spread, covers = _closed_by_rain(farm, spread, covers, rain_at, start_at)
    spread = None if spread is None else with_margin(spread, farm.rules.margin_s)
    closing = {
        name: with_margin(opening, farm.rules.margin_s) if opening is not None else None
        for name, opening in covers.items()
    }
    closing = _home_before_dark(farm, closing, light, start_at)
    working = {name: opening for name, opening in closing.items() if opening is not None}
    if spread is None or not working:
        raise NoWindow(_why_none(notes, spread is None))
    last = max(working.values(), key=lambda opening: opening.closes_at_s)
    first = min(working.values(), key=lambda opening: opening.opens_at_s)
    hours, chance = _rain_table(farm, start_at, spread.opens_at_s, last.closes_at_s)
    because = _reasons(spread, first, last, derived if stated is not None else None)
    return DayWindows(
        on=on,
        stated=stated is not None,
        spread_intervals_s=spread.intervals,
        spread_sd_s=spread.sd_s,
        cover_opens_s={c.name: _or(working, c.name, first).opens_at_s for c in farm.cultivators},
        cover_closes_s={
            c.name: working[c.name].closes_at_s if c.name in working else first.opens_at_s
            for c in farm.cultivators
        },
        cover_sd_s={c.name: _or(working, c.name, first).sd_s for c in farm.cultivators},
        cover_hard={
            name: opening.hard or because[3] == str(Reason.RAIN)
            for name, opening in working.items()
        },
        cover_because={
            name: because[3]
            if opening.closes_because is last.closes_because
            and opening.closes_at_s == last.closes_at_s
            else str(opening.closes_because)
            for name, opening in working.items()
        },
        spread_opens_because=because[0],
        spread_closes_because=because[1],
        cover_opens_because=because[2],
        cover_closes_because=because[3],
        differences=_differences(stated, derived, start_at, zone),
        wind_holes_s=tuple(
            (end, begin)
            for (_, end), (begin, _) in zip(spread.intervals, spread.intervals[1:], strict=False)
        ),
        weather_notes=notes,
        rain_hours_s=hours,
        rain_chance=chance,
        rain_coming=_rain_coming(farm, start_at),
        sunset_s=seconds_after(start_at, light.sunset_at) if light.sunset_at else None,
        dusk_s=seconds_after(start_at, light.civil_dusk_at) if light.civil_dusk_at else None,
        dark_soft_s={
            name: opening.dark_soft_at_s
            for name, opening in working.items()
            if opening.dark_soft_at_s is not None
        },
        sd_source="default for this kind of closing, our judgement",
        margin_s=farm.rules.margin_s,
    )


# A live day asks for the same sun after every event.
_light = lru_cache(maxsize=64)(daylight)

SAME_S = 900.0
"""A stated and a worked-out time this close to each other are the same event."""


def _reasons(
    spread: Opening, first: Opening, last: Opening, derived: Openings | None
) -> tuple[str, str, str, str]:
    """Return what opens and closes each work; a stated hour that meets an event takes its name."""
    plain = (
        str(spread.opens_because),
        str(spread.closes_because),
        str(first.opens_because),
        str(last.closes_because),
    )
    if derived is None or derived[0] is None:
        return plain
    working = [opening for opening in derived[1].values() if opening is not None]
    if not working:
        return plain
    opened = min(working, key=lambda opening: opening.opens_at_s)
    closed = max(working, key=lambda opening: opening.closes_at_s)
    events = (
        (spread.opens_at_s, derived[0].opens_at_s, derived[0].opens_because),
        (spread.closes_at_s, derived[0].closes_at_s, derived[0].closes_because),
        (first.opens_at_s, opened.opens_at_s, opened.opens_because),
        (last.closes_at_s, closed.closes_at_s, closed.closes_because),
    )
    named = [
        str(reason) if word == str(Reason.STATED) and abs(one - other) < SAME_S else word
        for word, (one, other, reason) in zip(plain, events, strict=True)
    ]
    return named[0], named[1], named[2], named[3]


def _or(working: Mapping[str, Opening], name: str, other: Opening) -> Opening:
    return working.get(name, other)


Openings = tuple[Opening | None, dict[str, Opening | None], tuple[WeatherNote, ...]]


def weather_limits(farm: Farm) -> WeatherLimits:
    """Return the farm's limits on dew, wind and rain, and how unsure each is."""
    table = farm.defaults
    return WeatherLimits(
        dew_spread_c=table["dew_spread"].value,
        dew_wind_mps=table["dew_wind"].value,
        wind_limit_mps=farm.rules.wind_limit_mps,
        gust_limit_mps=farm.rules.gust_limit_mps,
        rain_threshold_m=table["measurable_rain"].value,
        rain_chance_limit_fraction=table["rain_chance_limit"].value,
        stale_after_s=table["forecast_stale_after"].value,
        dew_sd_s=table["dew_time_sd"].value,
        rain_sd_s=table["rain_time_sd"].value,
        wind_sd_s=table["wind_time_sd"].value,
        light_sd_s=table["light_time_sd"].value,
        stated_sd_s=table["stated_close_sd"].value,
    )


def _derived(
    farm: Farm,
    light: Daylight,
    start_at: datetime,
    now_at: datetime | None,
    stated: StatedWindow | None,
) -> Openings | None:
    """Return the openings from forecast and sun, or with stated edges in their place."""
    forecast = farm.forecast
    if stated is not None:
        forecast = _dry(forecast) if forecast is not None else None
    tractors = {tractor.name: tractor for tractor in farm.tractors}
    zone = start_at.tzinfo
    spread_span = _span_s(stated.spread if stated else None, start_at, zone)
    cover_span = _span_s(stated.cover if stated else None, start_at, zone)
    if forecast is None:
        return _stated_alone(farm, spread_span, cover_span)
    works = [
        Work(
            machine="spreading",
            kind="spread",
            guided=any(tractors[s.tractor].guided for s in farm.spreaders if s.tractor),
            lights=any(tractors[s.tractor].lights for s in farm.spreaders if s.tractor),
            stated_opens_s=spread_span[0] if spread_span else None,
            stated_closes_s=spread_span[1] if spread_span else None,
        )
    ]
    for machine in farm.cultivators:
        tractor = tractors.get(machine.tractor or "")
        works.append(
            Work(
                machine=machine.name,
                kind="cover",
                guided=not machine.by_eye,
                lights=bool(tractor and tractor.lights),
                stated_opens_s=cover_span[0] if cover_span else None,
                stated_closes_s=cover_span[1] if cover_span else None,
            )
        )
    crew_start = _clock_s(farm.rules.start_clock, start_at) if farm.rules.start_clock else 0.0
    found = derive_openings(
        forecast=forecast,
        light=light,
        day_start_at=start_at,
        works=works,
        limits=weather_limits(farm),
        crew_start_s=crew_start,
        now_at=now_at,
    )
    names = [machine.name for machine in farm.cultivators]
    return found.openings[0], dict(zip(names, found.openings[1:], strict=True)), found.notes


def _stated_alone(farm: Farm, spread: Span | None, cover: Span | None) -> Openings | None:
    """Return stated hours as they stand where there is no forecast at all."""
    if spread is None or cover is None:
        return None
    sd_s = farm.defaults["stated_close_sd"].value

    def opening(span: Span) -> Opening:
        return Opening(
            opens_at_s=span[0],
            closes_at_s=span[1],
            opens_because=Reason.STATED,
            closes_because=Reason.STATED,
            hard=False,
            opens_sd_s=sd_s,
            sd_s=sd_s,
            intervals=(span,),
        )

    return opening(spread), {c.name: opening(cover) for c in farm.cultivators}, ()


def _dry(forecast: Forecast) -> Forecast:
    """Return the same hours without rain: stated hours are not closed by a forecast."""
    dry = np.zeros(len(forecast.hours_at))
    return replace(forecast, rain_chance_fraction=dry, rain_m=dry)


def _clock_s(clock: str, start_at: datetime) -> float:
    """Return a clock time of the date in elapsed seconds after its midnight."""
    hours, minutes = clock.split(":")
    moment = start_at.replace(hour=int(hours), minute=int(minutes))
    return seconds_after(start_at, moment)


def _span_s(span: tuple[str, str] | None, start_at: datetime, _zone: object) -> Span | None:
    if span is None:
        return None
    return _clock_s(span[0], start_at), _clock_s(span[1], start_at)


def _closed_by_rain(
    farm: Farm,
    spread: Opening | None,
    covers: dict[str, Opening | None],
    rain_at: datetime | None,
    start_at: datetime,
) -> tuple[Opening | None, dict[str, Opening | None]]:
    """Return the openings cut at a called rain."""
    if rain_at is None:
        return spread, covers
    rain_s = seconds_after(start_at, rain_at)
    sd_s = farm.defaults["called_rain_sd"].value

    def cut(opening: Opening | None) -> Opening | None:
        if opening is None or opening.closes_at_s <= rain_s:
            return opening
        kept = tuple((a, min(b, rain_s)) for a, b in opening.intervals if a < rain_s)
        if not kept:
            return None
        return replace(
            opening,
            intervals=kept,
            closes_at_s=kept[-1][1],
            closes_because=Reason.RAIN,
            hard=True,
            sd_s=sd_s,
        )

    return cut(spread), {name: cut(opening) for name, opening in covers.items()}


def _home_before_dark(
    farm: Farm,
    covers: dict[str, Opening | None],
    light: Daylight,
    start_at: datetime,
) -> dict[str, Opening | None]:
    """Return the openings cut so that machines are off the road by sunset, if wanted."""
    if not farm.rules.home_before_dark or light.sunset_at is None:
        return covers
    from duskline.core.order import ground_distance_m

    home = (farm.longitude_deg, farm.latitude_deg)
    farthest = max((ground_distance_m(home, one.centre) for one in farm.fields), default=0.0)
    way_s = farthest * farm.defaults["road_detour"].value / farm.rules.road_speed_mps
    leave_s = seconds_after(start_at, light.sunset_at) - way_s - farm.rules.fold_s

    def off_the_road(opening: Opening | None) -> Opening | None:
        if opening is None or opening.closes_at_s <= leave_s:
            return opening
        earlier = with_margin(opening, opening.closes_at_s - leave_s)
        if earlier is None:
            return None
        return replace(earlier, closes_because=Reason.HOME_BEFORE_DARK, hard=False)

    return {name: off_the_road(opening) for name, opening in covers.items()}


def _rain_table(
    farm: Farm, start_at: datetime, from_s: float, to_s: float
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return hour starts and the chance of rain up to the end of each, hours shared."""
    if farm.forecast is None:
        return (), ()
    hours = hours_of_day(farm.forecast, start_at)
    begins = [max(float(s), from_s) for s in hours.starts_s if s + HOUR_S > from_s and s < to_s]
    chances = [
        rain_by(
            hours,
            from_s=from_s,
            by_s=begin + 1.0,
            rain_threshold_m=farm.defaults["measurable_rain"].value,
        ).shared_fraction
        for begin in begins
    ]
    none = farm.defaults["rain_chance_none"].value
    return tuple(begins), tuple(0.0 if chance <= none + 1e-9 else chance for chance in chances)


def _rain_coming(farm: Farm, start_at: datetime) -> bool:
    """Say whether the forecast has rain after today."""
    if farm.forecast is None:
        return False
    later = hours_between(
        farm.forecast,
        start_at=start_at + timedelta(days=1),
        end_at=start_at + timedelta(days=4),
    )
    if not later.count:
        return False
    chance = rain_by(
        later,
        from_s=0.0,
        by_s=72 * HOUR_S,
        rain_threshold_m=farm.defaults["measurable_rain"].value,
    )
    return chance.shared_fraction >= farm.defaults["rain_chance_limit"].value


def _differences(
    stated: StatedWindow | None, derived: Openings | None, start_at: datetime, zone: ZoneInfo
) -> tuple[Difference, ...]:
    """Return where stated hours and worked-out hours part by a quarter hour or more."""
    if stated is None or derived is None:
        return ()
    spread, covers, _ = derived
    working = [opening for opening in covers.values() if opening is not None]
    found = []
    for work, span, openings in (
        ("spreading", stated.spread, [spread] if spread is not None else []),
        ("covering", stated.cover, working),
    ):
        limits = _span_s(span, start_at, zone)
        if limits is None or not openings:
            continue
        first = min(openings, key=lambda opening: opening.opens_at_s)
        last = max(openings, key=lambda opening: opening.closes_at_s)
        for opens, said, reason, worked in (
            (True, limits[0], first.opens_because, first.opens_at_s),
            (False, limits[1], last.closes_because, last.closes_at_s),
        ):
            if abs(said - worked) >= SAME_S:
                found.append(
                    Difference(
                        work=work,
                        opens=opens,
                        stated_s=said,
                        derived_s=worked,
                        because=str(reason),
                    )
                )
    return tuple(found)


def _why_none(notes: tuple[WeatherNote, ...], spreading: bool) -> str:
    words = [str(note.kind) for note in notes if note.machine]
    what = "spreading" if spreading else "covering"
    return f"no hours for {what}: {', '.join(words) or 'closed before it opens'}"
