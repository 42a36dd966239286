"""The season made ready: its dates, hours and weathers, and the fields still to be sown."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from duskline.answers.season_crews import (
    Basis,
    Hours,
    away_on,
    calm_hours,
    crew_day,
    crew_farm,
    crews_of,
    hours_on,
    lot_pace,
    typical_lot,
)
from duskline.answers.season_shared import at_work, counted_on, why_without
from duskline.answers.seed import lot_rate_kg_per_m2, seed_answer
from duskline.answers.windows import day_windows, weather_limits
from duskline.core.checks import check_within
from duskline.core.errors import NoWindow
from duskline.core.farm import CrewNoun, Farm, Field
from duskline.core.light import daylight, local_midnight_at, seconds_after
from duskline.core.log import area_by_field_m2, seeded_by_field_m2
from duskline.core.order import plane_m
from duskline.core.season import (
    CrewHours,
    Effort,
    Ready,
    Schedule,
    SeasonCrew,
    SeasonDay,
    SeasonField,
    SeasonLot,
    SeasonPrices,
    SeasonTask,
    schedule_season,
)
from duskline.core.season_weather import (
    Climate,
    DayFrame,
    ErrorGrowth,
    ForecastErrors,
    SeasonWeathers,
    season_weathers,
)
from duskline.core.weather import DryingRule, Range

__all__ = [
    "SURENESSES",
    "PlannedSeason",
    "SeasonQuestion",
    "at_level",
    "drying_rule",
    "frames_of",
    "late_m2",
    "left_m2",
    "open_by_crew_m2",
    "plan_season",
    "quick_schedule",
    "season_dates",
    "weathers_of",
]

DAY_S = 86400.0
SURENESSES = (0.5, 0.8, 0.95)
"""Chances told beside the wanted one."""
MOST_DAYS = 62
"""Two months: a season longer than that is two."""
NOON_S = 12 * 3600.0
CRUMB_SHARE, CRUMB_M2 = 0.01, 2000.0
"""A logged field with less than this left (a hundredth, half an acre) is done."""
LEAST_HOURS = 10
"""A forecast with fewer hours of a date than this does not tell of it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonQuestion:
    """What is asked of the season.

    Attributes
    ----------
    first_on, last_on
        Its first and last day; None for the farm's own.
    sure_fraction
        The chance with which each day's seed is to be covered that day; None for the farm's own.
    at_average
        Plan each day at average rates instead, at no stated chance.
    weathers_count
        Seasons of weather drawn.
    now_at
        What is counted as past and as old; None: nothing is.
    compare
        Whether other surenesses and changes are worked out beside the plan.
    effort
        How hard to look for the plan; None: by its size.
    """

    first_on: date | None = None
    last_on: date | None = None
    sure_fraction: float | None = None
    at_average: bool = False
    now_at: datetime | None = None
    weathers_count: int = 1000
    compare: bool = True
    effort: Effort | None = None
    seed: int = 20261018


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedSeason:
    """The season made ready for the schedule.

    Attributes
    ----------
    hours
        Of every date and crew, dates first. {(date, crew): Hours}
    frames, weathers
        What light and the crew leave of each date, and the weathers that could come.
    left_m2
        Still to be sown, by field.
    open_m2
        Lying open and with no day to be covered on. [m2]
    """

    farm: Farm
    on: tuple[date, ...]
    crews: tuple[str, ...]
    hours: Mapping[tuple[date, str], Hours]
    frames: tuple[DayFrame, ...]
    weathers: SeasonWeathers
    left_m2: Mapping[str, float]
    sure_fraction: float | None
    task: SeasonTask
    open_m2: float = 0.0


def season_dates(farm: Farm, question: SeasonQuestion) -> tuple[date, ...]:
    """Return the dates of the season in order.

    Raises
    ------
    NoWindow
        Nothing says when it begins, or it ends before.
    OutOfRange
        It is longer than two months.
    """
    zone = ZoneInfo(farm.time_zone)
    seen = [window.on for window in farm.windows]
    if farm.forecast is not None and len(farm.forecast.hours_at):
        hours = farm.forecast.hours_at
        seen += [hours[0].astimezone(zone).date(), hours[-1].astimezone(zone).date()]
    first = question.first_on or _begins_on(farm, zone, seen)
    if first is None:
        raise NoWindow("no first day, no forecast and no stated hours to plan the season from")
    length = int(farm.defaults["season_length_days"].value)
    due = farm.season.due_on
    last = question.last_on or farm.season.last_on
    if last is None:
        last = max(
            [first + timedelta(days=length - 1), *([due] if due else []), *(d for d in seen)]
        )
        last = min(last, first + timedelta(days=MOST_DAYS - 1))
    if last < first:
        raise NoWindow(f"it would begin on {first} and end on {last}")
    check_within("days of the season", (last - first).days + 1, 1, MOST_DAYS)
    return tuple(first + timedelta(days=n) for n in range((last - first).days + 1))


def _begins_on(farm: Farm, zone: ZoneInfo, seen: Sequence[date]) -> date | None:
    """Return the farm's first day, or the day after the last one in the log."""
    first = farm.season.first_on or (min(seen) if seen else None)
    if not farm.log:
        return first
    worked = max(event.at for event in farm.log).astimezone(zone).date() + timedelta(days=1)
    return worked if first is None else max(first, worked)


def left_m2(farm: Farm, on: date) -> dict[str, float]:
    """Return what is left to sow of each field on the morning of a date, by the log. [m2]"""
    start_at = local_midnight_at(on, ZoneInfo(farm.time_zone))
    before = [event for event in farm.log if event.at < start_at]
    spread = seeded_by_field_m2(before)
    covered = area_by_field_m2(before, "covered")
    left = {}
    for one in farm.fields:
        done = max(spread.get(one.name, 0.0), covered.get(one.name, 0.0))
        rest = max(0.0, one.record_area_m2 - done)
        # A log in whole acres leaves a crumb of a field that is done.
        crumb = max(CRUMB_SHARE * one.record_area_m2, CRUMB_M2)
        left[one.name] = 0.0 if done > 0.0 and rest <= crumb else rest
    return left


def open_by_crew_m2(farm: Farm, on: date) -> dict[str, float]:
    """Return what lies spread and not covered on the morning of a date, by the log. [m2]

    A field is the crew's whose machine spread it last; the first crew's where the log names no
    machine of a crew.
    """
    start_at = local_midnight_at(on, ZoneInfo(farm.time_zone))
    before = sorted((one for one in farm.log if one.at < start_at), key=lambda one: one.at)
    covered = area_by_field_m2(before, "covered")
    crews = crews_of(farm)
    whose = {machine: crew.name for crew in crews for machine in crew.machines}
    spread_by = {
        one.field: one.machine
        for one in before
        if one.what in ("spread", "load") and one.machine in whose
    }
    lying: dict[str, float] = {}
    for name, area in area_by_field_m2(before, "spread").items():
        left = area - covered.get(name, 0.0)
        if left > 0.0:
            crew = whose.get(spread_by.get(name, ""), crews[0].name)
            lying[crew] = lying.get(crew, 0.0) + left
    return lying


# ------------------------------------------------------------------------------- weathers


def _range(farm: Farm, key: str, scale: float = 1.0) -> Range:
    row = farm.defaults[key]
    low = row.value if row.low is None else row.low
    high = row.value if row.high is None else row.high
    return Range(low=low * scale, typical=row.value * scale, high=high * scale)


def _errors(farm: Farm) -> ForecastErrors:
    table = farm.defaults
    return ForecastErrors(
        spread_c=ErrorGrowth(
            first=table["forecast_spread_error"].value,
            per_day=table["forecast_spread_error_growth"].value,
        ),
        wind_mps=ErrorGrowth(
            first=table["forecast_wind_error"].value,
            per_day=table["forecast_wind_error_growth"].value,
        ),
        day_link=table["forecast_day_link"].value,
        block_s=table["forecast_rain_block"].value,
        block_link=table["forecast_rain_block_link"].value,
        wet_hour_m=_range(farm, "wet_hour_rain"),
        spread_ground_share=table["ground_spread_share"].value,
    )


def drying_rule(farm: Farm) -> DryingRule:
    """Return how long after rain ground is fit, by the farm's table."""
    table = farm.defaults
    return DryingRule(
        ignored_share=table["ground_rain_ignored"].value,
        hold=_range(farm, "ground_hold"),
        soaking_m=table["ground_soaking_rain"].value,
        drain_s=_range(farm, "ground_drain_time"),
        drying_m_per_s=_range(farm, "ground_drying", 1.0 / DAY_S),
        slow_power_m_per_s=table["ground_slow_power"].value / DAY_S,
        fast_power_m_per_s=table["ground_fast_power"].value / DAY_S,
    )


def frames_of(farm: Farm, dates: Sequence[date], *, longer_s: float = 0.0) -> tuple[DayFrame, ...]:
    """Return what light, the crew and stated hours leave of each date, weather aside.

    Parameters
    ----------
    longer_s
        Every day's close this much later, dew and rain permitting. [s]
    """
    return tuple(_frame(farm, on, longer_s) for on in dates)


def _works_on(farm: Farm, on: date) -> bool:
    """Say whether anybody works on a date: hours stated for it count for more than a day off."""
    stated = any(window.on == on and not window.closed for window in farm.windows)
    return stated or farm.season.works_on(on)


def _frame(farm: Farm, on: date, longer_s: float) -> DayFrame:
    zone = ZoneInfo(farm.time_zone)
    start_at = local_midnight_at(on, zone)
    light = daylight(farm.latitude_deg, farm.longitude_deg, on, zone)
    noon_s = NOON_S
    if light.sunrise_at is not None and light.sunset_at is not None:
        noon_s = 0.5 * (
            seconds_after(start_at, light.sunrise_at) + seconds_after(start_at, light.sunset_at)
        )
    calm = replace(farm, forecast=calm_hours(farm, on), forecast_issued_at=None)
    stated = next((window for window in farm.windows if window.on == on), None)
    try:
        windows = day_windows(calm, on)
    except NoWindow:
        return DayFrame(
            on=on,
            start_at=start_at,
            spread_opens_s=NOON_S,
            spread_closes_s=NOON_S,
            cover_opens_s=NOON_S,
            cover_closes_s=NOON_S,
            noon_s=noon_s,
            stated=stated is not None,
            shut=True,
        )
    closes = windows.cover_closes_s
    last = max(closes, key=lambda name: closes[name])
    return DayFrame(
        on=on,
        start_at=start_at,
        spread_opens_s=windows.spread_intervals_s[0][0],
        spread_closes_s=windows.spread_intervals_s[-1][1] + longer_s,
        cover_opens_s=min(windows.cover_opens_s.values()),
        cover_closes_s=min(closes[last] + longer_s, 1.9 * DAY_S),
        noon_s=noon_s,
        closes_sd_s=windows.cover_sd_s[last],
        stated=stated is not None,
        shut=not _works_on(farm, on),
    )


def weathers_of(farm: Farm, frames: Sequence[DayFrame], question: SeasonQuestion) -> SeasonWeathers:
    """Return the seasons of weather that could come on these dates."""
    return season_weathers(
        farm.forecast,
        _climate(farm),
        frames,
        question.weathers_count,
        question.seed,
        errors=_errors(farm),
        drying=drying_rule(farm),
        limits=weather_limits(farm),
    )


def _climate(farm: Farm) -> Climate:
    """Return the farm's table of falls; a farm not read from a folder needs one too."""
    if farm.climate is None:
        raise NoWindow("no table of what falls are like")
    return farm.climate


# ---------------------------------------------------------------------------------- hours


def _reached(farm: Farm, on: date) -> bool:
    """Say whether the forecast has most of a date's hours."""
    if farm.forecast is None:
        return False
    zone = ZoneInfo(farm.time_zone)
    start_at = local_midnight_at(on, zone)
    end_at = start_at + timedelta(days=1)
    hours = sum(1 for at in farm.forecast.hours_at if start_at <= at < end_at)
    return hours >= LEAST_HOURS


def _hours_of_date(
    farm: Farm,
    on: date,
    weathers: SeasonWeathers,
    index: int,
    question: SeasonQuestion,
    lot: str | None,
    levels: Sequence[float],
    lying: Mapping[str, float],
) -> dict[str, Hours]:
    """Return each crew's hours of a date; ``lying`` is open in the morning, by crew. [m2]"""
    crews = crews_of(farm)
    if not _works_on(farm, on):
        return {
            c.name: Hours(on=on, crew=c.name, basis=Basis.OFF, because="day off") for c in crews
        }
    stated = any(window.on == on for window in farm.windows)
    reached = _reached(farm, on)
    sure = None if question.at_average else question.sure_fraction or farm.rules.sure_fraction
    seed = question.seed + on.toordinal()
    if stated:
        basis = Basis.STATED if farm.season.works_on(on) else Basis.STATED_OFF
        asked = _Asked(on, basis, lot, sure, levels, seed, lying=lying)
        return _crews_of_date(farm, farm, asked)
    if reached and float(weathers.closed[:, index].mean()) <= 0.5:
        asked = _Asked(on, Basis.FORECAST, lot, sure, levels, seed, lying=lying)
        return _crews_of_date(farm, farm, asked)
    part = _climate(farm).part(on)
    try:
        usual = hours_on(farm, on, part.cover_s.typical, part.spread_s.typical)
    except NoWindow as closed:
        return {
            c.name: Hours(on=on, crew=c.name, basis=Basis.CLOSED, because=closed.reason)
            for c in crews
        }
    if reached:
        opened = _crews_of_date(farm, usual, _Asked(on, Basis.CLIMATE, lot, None, (), seed))
        because = "rain or wet ground"
        return {
            name: Hours(on=on, crew=name, basis=Basis.CLOSED, because=because, if_open=hours)
            for name, hours in opened.items()
        }
    share = part.fit_share.typical
    asked = _Asked(on, Basis.CLIMATE, lot, sure, levels, seed, share=share, lying=lying)
    return _crews_of_date(farm, usual, asked)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked of all crews' hours of one date, as in ``crew_day``."""

    on: date
    basis: Basis
    lot: str | None
    sure_fraction: float | None
    levels: Sequence[float]
    seed: int
    share: float = 1.0
    lying: Mapping[str, float] = field(default_factory=dict)


def _crews_of_date(farm: Farm, dated: Farm, asked: _Asked) -> dict[str, Hours]:
    """Return each crew's hours of a date; what two share goes with the first of them.

    Parameters
    ----------
    dated
        The farm with the hours of the date.
    """
    on = asked.on
    away, taken = away_on(farm, on), dict[str, str]()
    found: dict[str, Hours] = {}
    for crew in crews_of(farm):
        if crew.name in away:
            found[crew.name] = Hours(
                on=on, crew=crew.name, basis=Basis.OFF, because=away[crew.name]
            )
            continue
        own = crew_farm(dated, crew, away, taken)
        without = {name: taken[name] for name in counted_on(farm, crew) if name in taken}
        missing = _missing(own, crew)
        hours = (
            Hours(on=on, crew=crew.name, basis=Basis.OFF, because=f"no {missing} that day")
            if missing
            else crew_day(
                own,
                on,
                asked.basis,
                crew=crew.name,
                lot=asked.lot,
                sure_fraction=asked.sure_fraction,
                levels=asked.levels,
                seed=asked.seed,
                share=asked.share,
                open_m2=asked.lying.get(crew.name, 0.0),
            )
        )
        taken |= dict.fromkeys(at_work(own, hours), crew.name)
        found[crew.name] = replace(
            hours,
            without=without,
            because=why_without(hours.because, without) if hours.stays_home else hours.because,
        )
    return found


def _missing(own: Farm, crew: CrewNoun) -> str:
    """Return what a crew cannot go out without and has not; "" where it has all."""
    if not own.spreaders:
        return "spreader"
    if not own.cultivators:
        return "cultivator"
    return "seed truck" if crew.seed_trucks and not own.seed_trucks else ""


# ----------------------------------------------------------------------------------- task


def plan_season(
    farm: Farm,
    question: SeasonQuestion,
    *,
    levels: Sequence[float] = (),
    like: PlannedSeason | None = None,
) -> PlannedSeason:
    """Return the season made ready for the schedule.

    Parameters
    ----------
    levels
        Chances to tell beside the wanted one.
    like
        A season of the same dates and weather, whose frames and weathers are taken over.

    Raises
    ------
    NoWindow
        Nothing says when the season begins.
    OutOfRange
        A figure that cannot be.
    """
    dates = season_dates(farm, question)
    if like is not None and like.on == dates:
        frames, weathers = like.frames, like.weathers
    else:
        frames = frames_of(farm, dates)
        weathers = weathers_of(farm, frames, question)
    left = left_m2(farm, dates[0])
    lot = typical_lot(farm, left)
    hours: dict[tuple[date, str], Hours] = {}
    lying = open_by_crew_m2(farm, dates[0])
    for index, on in enumerate(dates):
        found = _hours_of_date(farm, on, weathers, index, question, lot, levels, lying)
        for name, one in found.items():
            hours[on, name] = one
            if one.planned is not None and name in lying:
                lying[name] = one.bare_m2
    crews = tuple(crew.name for crew in crews_of(farm))
    sure = None if question.at_average else question.sure_fraction or farm.rules.sure_fraction
    return PlannedSeason(
        farm=farm,
        on=dates,
        crews=crews,
        hours=hours,
        frames=frames,
        weathers=weathers,
        left_m2=left,
        sure_fraction=sure,
        task=_task(farm, dates, crews, hours, weathers, left),
        open_m2=math.fsum(lying.values()),
    )


def at_level(planned: PlannedSeason, level: float | None) -> PlannedSeason:
    """Return the same season at another chance; None: at average rates."""
    hours = {
        key: replace(one, sure_fraction=level) if one.planned is not None else one
        for key, one in planned.hours.items()
    }
    return replace(
        planned,
        hours=hours,
        sure_fraction=level,
        task=_task(
            planned.farm, planned.on, planned.crews, hours, planned.weathers, planned.left_m2
        ),
    )


def _task(
    farm: Farm,
    dates: Sequence[date],
    crews: Sequence[str],
    hours: Mapping[tuple[date, str], Hours],
    weathers: SeasonWeathers,
    left: Mapping[str, float],
) -> SeasonTask:
    opening = {
        on: min((hours[on, c].opens_s for c in crews if hours[on, c].works), default=None)
        for on in dates
    }
    closing = {
        on: max((hours[on, c].closes_s for c in crews if hours[on, c].works), default=None)
        for on in dates
    }
    planned_m2 = max((one.area_m2 for one in hours.values() if one.works), default=0.0)
    whole_m2 = max((one.whole_area_m2 for one in hours.values() if one.works), default=0.0)
    fields = tuple(
        _season_field(
            farm, one, left[one.name], opening, closing, fits_a_day=(planned_m2, whole_m2)
        )
        for one in farm.fields
        if left[one.name] > farm.defaults["season_least_part"].value * 1e-3
    )
    return SeasonTask(
        fields=fields,
        days=tuple(
            SeasonDay(
                day=on.toordinal(),
                crews={
                    c: CrewHours(
                        area_m2=hours[on, c].area_m2, lost_m2_per_s=hours[on, c].lost_m2_per_s
                    )
                    for c in crews
                    if hours[on, c].works
                },
                after_rain=bool(weathers.wet[:, index].mean() > 0.5),
            )
            for index, on in enumerate(dates)
        ),
        crews=tuple(_season_crew(farm, c, [hours[on, c].opened for on in dates]) for c in crews),
        prices=_prices(farm, len(crews)),
        lots=_lots(farm),
        road_factor=farm.defaults["road_detour"].value,
    )


def _season_field(
    farm: Farm,
    one: Field,
    area_m2: float,
    opening: Mapping[date, float | None],
    closing: Mapping[date, float | None],
    *,
    fits_a_day: tuple[float, float],
) -> SeasonField:
    """Return a field for the schedule.

    One that must be sown in one go and is larger than any planned day, but not than a whole day,
    may be parted in the plan: days beyond the forecast are counted only in part.
    """
    origin = (farm.longitude_deg, farm.latitude_deg)
    lot = farm.lot(one.lot)
    due = one.due_on or farm.season.due_on
    return SeasonField(
        name=one.name,
        area_m2=area_m2,
        place_m=plane_m(one.centre, origin),
        lot=lot.name,
        rate_kg_per_m2=lot_rate_kg_per_m2(farm, lot),
        ready=_ready(farm, one, opening, closing),
        due_day=None if due is None else due.toordinal(),
        splittable=one.may_split or fits_a_day[0] < area_m2 <= fits_a_day[1],
        least_part_m2=min(area_m2, farm.defaults["season_least_part"].value),
        not_after_rain=one.not_after_rain,
        priority=one.priority,
        customer=one.customer,
    )


def _ready(
    farm: Farm,
    one: Field,
    opening: Mapping[date, float | None],
    closing: Mapping[date, float | None],
) -> Ready:
    """Return the day a field is ready, and how long after that day's opening."""
    zone = ZoneInfo(farm.time_zone)
    first = min(opening)

    def day_of(at: datetime | None) -> tuple[int, float]:
        if at is None or at.astimezone(zone).date() < first:
            return first.toordinal(), 0.0  # waiting before the season is nobody's choice any more
        local = at.astimezone(zone)
        on = local.date()
        after_s = seconds_after(local_midnight_at(on, zone), local)
        opens_s, closes_s = opening.get(on), closing.get(on)
        if opens_s is None or closes_s is None:
            return on.toordinal() + (1 if after_s > NOON_S else 0), 0.0
        if after_s >= closes_s:
            return on.toordinal() + 1, 0.0
        return on.toordinal(), max(0.0, after_s - opens_s)

    likely, after_s = day_of(one.ready_at)
    early = day_of(one.ready_early_at)[0] if one.ready_early_at else likely
    late = day_of(one.ready_late_at)[0] if one.ready_late_at else likely
    return Ready(
        early_day=min(early, likely),
        likely_day=likely,
        late_day=max(late, likely),
        after_s=after_s,
    )


def _season_crew(farm: Farm, name: str, hours: Sequence[Hours]) -> SeasonCrew:
    """Return a crew with what its moves and lots take.

    Each spreader has a field of its own, with the machines behind it, so a move stops only that
    part of the crew: it takes its time divided by the spreaders.
    """
    working = next((one for one in hours if one.works), None)
    lots = {farm.lot(f.lot).name for f in farm.fields}
    rules = farm.rules
    parts = 1 if working is None else max(1, len(working.task.spreaders))
    flat = rules.move_s is not None
    return SeasonCrew(
        name=name,
        lot_pace={} if working is None else {lot: lot_pace(working, farm, lot) for lot in lots},
        fold_s=(rules.move_s if rules.move_s is not None else rules.fold_s) / parts,
        road_speed_mps=math.inf if flat else rules.road_speed_mps * parts,
        clean_out_s=farm.defaults["lot_clean_out"].value,
        start_m=(0.0, 0.0),
        starts_early=True,
    )


def _prices(farm: Farm, crews: int) -> SeasonPrices:
    rules, table = farm.season, farm.defaults
    wages = (farm.prices.labour_per_s or 0.0) * max(1.0, len(farm.people) / crews)
    return SeasonPrices(
        wait_usd_per_m2_day=rules.waiting_usd_per_m2_day,
        late_usd_per_m2=rules.late_usd_per_m2,
        late_usd_per_m2_day=rules.late_usd_per_m2_day,
        unplaced_usd_per_m2=rules.unsown_usd_per_m2,
        travel_usd_per_m=wages / farm.rules.road_speed_mps,
        visit_usd=wages * (farm.rules.move_s or farm.rules.fold_s),
        clean_out_usd=wages * table["lot_clean_out"].value,
        crew_day_usd=wages * table["season_day_start"].value,
    )


def _lots(farm: Farm) -> tuple[SeasonLot, ...]:
    """Return the lots and what is left of each; no end of one that no bin is stated for.

    What a bin holds is as stated, less what the log says was spread of it since.
    """
    stock = {
        answer.lot.name: answer.bin.sufficiency.area_it_does_m2 * answer.bulk_kg_per_m2
        for answer in seed_answer(farm).lots
        if answer.bin is not None
    }
    spread = seeded_by_field_m2(farm.log)
    for one in farm.fields:
        lot = farm.lot(one.lot)
        if lot.name in stock and one.name in spread:
            used_kg = spread[one.name] * lot_rate_kg_per_m2(farm, lot)
            stock[lot.name] = max(0.0, stock[lot.name] - used_kg)
    return tuple(
        SeasonLot(name=lot.name, stock_kg=stock.get(lot.name, math.inf)) for lot in farm.lots
    )


# ------------------------------------------------------------------------------ schedules


def late_m2(schedule: Schedule) -> dict[str, float]:
    """Return what of each field is planned after its last day, by name. [m2]"""
    due = {f.name: f.due_day for f in schedule.task.fields}
    late: dict[str, float] = {}
    for one in schedule.crew_days:
        for visit in one.visits:
            last = due[visit.field]
            if last is not None and one.day > last:
                late[visit.field] = late.get(visit.field, 0.0) + visit.area_m2
    return late


def quick_schedule(planned: PlannedSeason, seed: int) -> Schedule:
    """Return a schedule without much search and with no bound to speak of."""
    slots = len(planned.on) * len(planned.crews)
    usual = Effort.for_size(fields=len(planned.task.fields), slots=slots)
    quick = Effort(rounds=min(usual.rounds, 5_000), price_rounds=0, nodes=0, branches=0)
    return schedule_season(planned.task, effort=quick, seed=seed)
