"""How sure the season is, field by field, and what one change would be worth.

The schedule is worked down through many seasons of weather; a change meets the same seasons.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from duskline.answers.day import uncertainty_of
from duskline.answers.season_crews import Hours, crew_rates, crews_of
from duskline.answers.season_task import (
    MOST_DAYS,
    PlannedSeason,
    SeasonQuestion,
    frames_of,
    late_m2,
    plan_season,
    quick_schedule,
    weathers_of,
)
from duskline.core.farm import CrewNoun, Cultivator, Farm, Person
from duskline.core.season import CrewHours, Schedule
from duskline.core.season_days import (
    CrewRates,
    DayBudgets,
    DayUncertainty,
    draw_day_areas,
    draw_ready_days,
)
from duskline.core.season_policy import (
    Chance,
    SimulatedSeasons,
    compare,
    simulate_policy,
    wilson,
)

if TYPE_CHECKING:
    from duskline.core.season_weather import SeasonWeathers

__all__ = [
    "ChangeKey",
    "FieldChance",
    "NoEarlier",
    "SeasonChance",
    "SeasonWorth",
    "chance_of",
    "why_no_earlier",
    "with_spreader",
    "worth_of",
]

HOUR_S = 3600.0
FAN = (0.1, 0.5, 0.9)
FloatArray = NDArray[np.float64]
LEAST_USD, LEAST_DAYS = 1.0, 0.005
"""A change worth less than this makes no difference to anybody."""
LEAST_DARED = 0.01
"""A crew that dares nothing by the promise still does a little."""
MOST_FIELDS_REPLANNED = 60
"""With more fields a change is only simulated, not planned anew."""


class ChangeKey(StrEnum):
    """What might be changed this season."""

    LONGER_DAY = "one more hour a day"
    DRIVER = "one more driver"
    SPREADER = "a hired spreader"
    WIDER = "wider cultivators"
    EARLIER = "one day's earlier start"
    NO_SECOND = "without the second machine"


class NoEarlier(StrEnum):
    """Why a start one day earlier is not offered."""

    BEGUN = "the log has work on that day"
    LONG = "the plan is as long as one may be"
    TODAY = "the plan begins today"


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldChance:
    """Chance that a field is done by its last day, and the days it is done between.

    ``early_day`` and ``late_day`` hold 8 seasons in 10; None: not within the season.
    """

    fraction: float
    low_fraction: float
    high_fraction: float
    early_day: int | None
    late_day: int | None


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonChance:
    """What the seasons of weather say of the plan.

    Attributes
    ----------
    by_deadline_fraction, low_fraction, high_fraction
        Chance that every field is done by its last day, with its interval (95 %).
    count
        Seasons drawn.
    fan_m2
        Sown by the end of each day of the season: what 10, 50 and 90 seasons in 100 stay below.
    finish_days
        The day number by which all is done in 1, 5 and 9 seasons of 10; None: not within it.
    """

    by_deadline_fraction: float
    low_fraction: float
    high_fraction: float
    count: int
    fan_m2: Mapping[float, tuple[float, ...]]
    finish_days: Mapping[float, int | None]
    fields: Mapping[str, FieldChance]
    seasons: SimulatedSeasons


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonWorth:
    """What one change is worth, over the same seasons of weather, before what it costs itself.

    Attributes
    ----------
    step, unit
        How much of it, where it has a size.
    days, usd
        Sooner done, and saved, on average; each with the interval of the average (95 %).
    chance_fraction
        Of all done in time, with the change.
    unplaced_m2, late_m2
        What of the plan then has no day or is late; None where it was not planned anew. [m2]
    no_difference
        It changes nothing that matters.
    """

    key: ChangeKey
    step: float | None
    unit: str
    days: float
    days_low: float
    days_high: float
    usd: float
    usd_low: float
    usd_high: float
    chance_fraction: float
    unplaced_m2: float | None
    late_m2: float | None
    no_difference: bool


# ---------------------------------------------------------------------------------- chance


def chance_of(planned: PlannedSeason, schedule: Schedule, question: SeasonQuestion) -> SeasonChance:
    """Return what the seasons of weather say of a schedule."""
    seasons = _seasons(planned, schedule, question)
    said = _all_in_time(seasons)
    fields = {}
    last = planned.on[-1].toordinal()
    for at, field in enumerate(schedule.task.fields):
        one = seasons.chance_of_field(field.name)
        done = np.where(seasons.finish_day[:, at] < 0, last + 1, seasons.finish_day[:, at])
        early, late = np.quantile(done, (0.1, 0.9), method="inverted_cdf")
        fields[field.name] = FieldChance(
            fraction=one.fraction,
            low_fraction=one.low,
            high_fraction=one.high,
            early_day=_within(early, last),
            late_day=_within(late, last),
        )
    done = seasons.last_finish_day()
    return SeasonChance(
        by_deadline_fraction=said.fraction,
        low_fraction=said.low,
        high_fraction=said.high,
        count=question.weathers_count,
        fan_m2={
            level: tuple(float(v) for v in row)
            for level, row in zip(FAN, seasons.fan_m2(FAN), strict=True)
        },
        finish_days={
            level: _within(np.quantile(done, level, method="inverted_cdf"), last) for level in FAN
        },
        fields=fields,
        seasons=seasons,
    )


def _within(day: float, last: int) -> int | None:
    return None if day > last else int(day)


def _all_in_time(seasons: SimulatedSeasons) -> Chance:
    """Return the chance that every field is done by its last day, or the season's."""
    due = np.array([seasons.days[-1] if day is None else day for day in seasons.due_days])
    done = (seasons.finish_day >= 0) & (seasons.finish_day <= due)
    return wilson(int(done.all(axis=1).sum()), seasons.count)


def _seasons(
    planned: PlannedSeason,
    schedule: Schedule,
    question: SeasonQuestion,
    *,
    longer_s: float = 0.0,
) -> SimulatedSeasons:
    """Work a schedule down through the seasons of weather.

    A day that the plan takes as closed is worked where a season's weather opens it.
    """
    farm, weathers = planned.farm, planned.weathers
    if longer_s > 0.0:
        weathers = weathers_of(farm, frames_of(farm, planned.on, longer_s=longer_s), question)
    first = {name: _first_hours(planned, name) for name in planned.crews}
    some = next((one for one in first.values() if one is not None), None)
    ready = draw_ready_days(
        planned.task.fields,
        count=question.weathers_count,
        seed=question.seed,
        link=farm.defaults["harvest_link"].value,
    )
    if some is None:
        return _nothing_done(planned, question)
    off = np.array(
        [[planned.hours[on, name].opened.stays_home for name in planned.crews] for on in planned.on]
    )
    rates = [
        tuple(crew_rates(_hours_of(planned, first, on, name, some)) for name in planned.crews)
        for on in planned.on
    ]
    budgets = _budgets(planned, weathers, rates, off, _uncertainty(farm, some), question.seed)
    none = CrewHours(area_m2=0.0, lost_m2_per_s=1.0)
    days = tuple(
        replace(
            day,
            crews={
                name: day.crews.get(name, none)
                for c, name in enumerate(planned.crews)
                if not off[index, c]
            },
        )
        for index, day in enumerate(planned.task.days)
    )
    return simulate_policy(
        replace(schedule, task=replace(planned.task, days=days)),
        budgets,
        weathers.wet,
        ready,
        help_out=len(planned.crews) > 1,
    )


def _hours_of(
    planned: PlannedSeason,
    first: Mapping[str, Hours | None],
    on: date,
    name: str,
    some: Hours,
) -> Hours:
    """Return a crew's hours of a date; of one on which it cannot work those of its first day."""
    hours = planned.hours[on, name].opened
    return hours if hours.works else first[name] or some


def _budgets(
    planned: PlannedSeason,
    weathers: SeasonWeathers,
    rates: Sequence[tuple[CrewRates, ...]],
    off: NDArray[np.bool_],
    uncertainty: DayUncertainty,
    seed: int,
) -> DayBudgets:
    """Return what each crew can do on each day, with the machines it has that day.

    Draws are keyed by date, so that days of other machines meet the same luck.
    """
    whole: DayBudgets | None = None
    area, lost = np.empty(0), np.empty(0)
    for one in dict.fromkeys(rates):
        found = draw_day_areas(
            one,
            weathers,
            dared_fraction=_dared(planned),
            uncertainty=uncertainty,
            seed=seed,
            off=off,
        )
        if whole is None:
            whole, area, lost = found, found.area_m2.copy(), found.lost_m2_per_s.copy()
        here = [index for index, other in enumerate(rates) if other == one]
        area[:, here] = found.area_m2[:, here]
        lost[:, here] = found.lost_m2_per_s[:, here]
    for index, name in enumerate(planned.crews):
        _cover_first(planned, name, area[:, :, index], lost[:, :, index])
    return DayBudgets(days=weathers.days, area_m2=area, lost_m2_per_s=lost, budget_s=area / lost)


def _cover_first(
    planned: PlannedSeason, crew: str, area_m2: FloatArray, lost_m2_per_s: FloatArray
) -> None:
    """Take the covering of ground that lies open off a crew's first days; (count, days) in place.

    All its covering machines work it off before anything is sown.
    """
    first = next((h for (_, c), h in planned.hours.items() if c == crew and h.open_m2 > 0.0), None)
    if first is None:
        return
    rates = crew_rates(first)
    left_s = np.full(len(area_m2), first.open_m2 / (rates.cover_m2_per_s + rates.takeover_m2_per_s))
    for day in range(area_m2.shape[1]):
        taken_s = np.minimum(left_s, area_m2[:, day] / lost_m2_per_s[:, day])
        area_m2[:, day] -= taken_s * lost_m2_per_s[:, day]
        left_s -= taken_s


def _nothing_done(planned: PlannedSeason, question: SeasonQuestion) -> SimulatedSeasons:
    """Return seasons in which no crew has an hour."""
    task, count = planned.task, question.weathers_count
    left = math.fsum(f.area_m2 * f.priority for f in task.fields)
    cost = np.full(count, left * task.prices.unplaced_usd_per_m2)
    return SimulatedSeasons(
        days=tuple(day.day for day in task.days),
        fields=tuple(f.name for f in task.fields),
        due_days=tuple(f.due_day for f in task.fields),
        finish_day=np.full((count, len(task.fields)), -1, dtype=np.int64),
        done_m2=np.zeros((count, len(task.days))),
        cost_usd=cost,
        parts_usd={"unplaced": cost.copy()},
    )


def _first_hours(planned: PlannedSeason, crew: str) -> Hours | None:
    opened = (planned.hours[on, crew].opened for on in planned.on)
    return next((hours for hours in opened if hours.works), None)


def _dared(planned: PlannedSeason) -> list[float]:
    """Return the share of the balanced area each crew dares: sure over average, over its days."""
    shares = []
    for name in planned.crews:
        here = [planned.hours[on, name] for on in planned.on if planned.hours[on, name].works]
        average = math.fsum(one.average_m2 for one in here)
        area = math.fsum(one.area_m2 for one in here)
        share = area / average if average > 0.0 else 1.0
        shares.append(min(1.0, max(LEAST_DARED, share)))
    return shares


def _uncertainty(farm: Farm, hours: Hours) -> DayUncertainty:
    """Return how unsure a crew's days are: of several like machines the spread partly evens out."""
    day = uncertainty_of(farm, hours.made_ready)
    task = hours.task
    machines = max(1, len(task.covers) + len(task.takeovers))
    cover = math.sqrt(sum(cv * cv for cv in day.cover_rate_cv)) / machines
    spread = math.sqrt(sum(cv * cv for cv in day.spreader_rate_cv)) / len(day.spreader_rate_cv)
    return DayUncertainty(
        season_rate_cv=farm.defaults["season_rate_cv"].value,
        shared_rate_cv=day.shared_rate_cv,
        spread_rate_cv=spread,
        cover_rate_cv=cover,
        breakdown_per_s=day.breakdown_per_s * machines,
        repair_mean_s=day.repair_mean_s / machines,
    )


# ----------------------------------------------------------------------------------- worth


def worth_of(
    farm: Farm,
    planned: PlannedSeason,
    schedule: Schedule,
    question: SeasonQuestion,
    base: SeasonChance,
) -> tuple[SeasonWorth, ...]:
    """Return what each change is worth, the most money first."""
    if not schedule.task.fields:
        return ()
    found = []
    replan = len(schedule.task.fields) <= MOST_FIELDS_REPLANNED
    for key in ChangeKey:
        changed = _changed(farm, planned, question, key)
        if changed is None:
            continue
        other_farm, other_question, step, unit, longer_s = changed
        other = planned
        if other_farm is not farm or other_question is not question:
            other = plan_season(other_farm, other_question, like=planned)
            other = _like(other, planned)
        seasons = _seasons(other, schedule, other_question, longer_s=longer_s)
        worth = compare(base.seasons, seasons)
        new = None
        if replan:
            new = quick_schedule(_longer(other, longer_s), question.seed)
        found.append(
            SeasonWorth(
                key=key,
                step=step,
                unit=unit,
                days=worth.days,
                days_low=worth.days_low,
                days_high=worth.days_high,
                usd=worth.usd,
                usd_low=worth.usd_low,
                usd_high=worth.usd_high,
                chance_fraction=_all_in_time(seasons).fraction,
                unplaced_m2=None if new is None else math.fsum(new.unplaced_m2.values()),
                late_m2=None if new is None else math.fsum(late_m2(new).values()),
                no_difference=worth.no_difference
                or (abs(worth.usd) < LEAST_USD and abs(worth.days) < LEAST_DAYS),
            )
        )
    return tuple(sorted(found, key=lambda one: -one.usd))


def _like(other: PlannedSeason, planned: PlannedSeason) -> PlannedSeason:
    """Return a changed season at the prices of the plan, and with its moves.

    What a hired driver is paid is not part of what he is worth, and a spreader more does not
    make covering machines move less.
    """
    same = {crew.name: crew for crew in planned.task.crews}
    crews = tuple(
        replace(
            crew,
            fold_s=same[crew.name].fold_s,
            road_speed_mps=same[crew.name].road_speed_mps,
        )
        for crew in other.task.crews
    )
    return replace(other, task=replace(other.task, prices=planned.task.prices, crews=crews))


def _longer(planned: PlannedSeason, longer_s: float) -> PlannedSeason:
    """Return the season with every crew's day so much longer."""
    if longer_s <= 0.0:
        return planned
    days = tuple(
        replace(
            day,
            crews={
                name: replace(hours, area_m2=hours.area_m2 + longer_s * hours.lost_m2_per_s)
                for name, hours in day.crews.items()
            },
        )
        for day in planned.task.days
    )
    return replace(planned, task=replace(planned.task, days=days))


def _changed(
    farm: Farm, planned: PlannedSeason, question: SeasonQuestion, key: ChangeKey
) -> tuple[Farm, SeasonQuestion, float | None, str, float] | None:
    """Return farm and question with one change, its size, and longer days; None: not possible."""
    if key is ChangeKey.LONGER_DAY:
        return farm, question, HOUR_S, "s", HOUR_S
    if key is ChangeKey.EARLIER:
        earlier = planned.on[0] - timedelta(days=1)
        if why_no_earlier(planned, question) is not None:
            return None
        asked = replace(question, first_on=earlier, last_on=planned.on[-1])
        return farm, asked, None, "", 0.0
    if key is ChangeKey.WIDER:
        step = farm.defaults["lever_width"].value
        wider = tuple(replace(c, width_m=c.width_m + step) for c in farm.cultivators)
        return replace(farm, cultivators=wider), question, step, "m", 0.0
    if key is ChangeKey.SPREADER:
        return with_spreader(farm), question, None, "", 0.0
    waiting = _waiting_machines(planned)
    if not waiting:
        return None
    if key is ChangeKey.DRIVER:
        return _with_driver(farm, waiting), question, None, "", 0.0
    taken_over = {m for m, taken in waiting.items() if taken}
    if not taken_over:
        return None
    fewer = tuple(c for c in farm.cultivators if c.name not in taken_over)
    crews = tuple(
        replace(crew, machines=tuple(m for m in crew.machines if m not in taken_over))
        for crew in farm.crews
    )
    return replace(farm, cultivators=fewer, crews=crews), question, None, "", 0.0


def why_no_earlier(planned: PlannedSeason, question: SeasonQuestion) -> NoEarlier | None:
    """Return why the season cannot begin a day earlier; None where it can."""
    farm = planned.farm
    zone = ZoneInfo(farm.time_zone)
    earlier = planned.on[0] - timedelta(days=1)
    if any(event.at.astimezone(zone).date() >= earlier for event in farm.log):
        return NoEarlier.BEGUN
    if len(planned.on) >= MOST_DAYS:
        return NoEarlier.LONG
    today = None if question.now_at is None else question.now_at.astimezone(zone).date()
    return NoEarlier.TODAY if planned.on[0] == today else None


def _waiting_machines(planned: PlannedSeason) -> dict[str, bool]:
    """Return covering machines without a driver of their own: True where taken over later.

    Of a crew that stays at home those whose driver or tractor goes with another crew.
    """
    waiting: dict[str, bool] = {}
    machines = {crew.name: crew.machines for crew in crews_of(planned.farm)}
    for (_, name), hours in planned.hours.items():
        if hours.planned is None:
            waiting |= {
                one.name: False
                for one in planned.farm.cultivators
                if one.name in machines[name] and {one.driver, one.tractor} & set(hours.without)
            }
            continue
        waiting |= dict.fromkeys(hours.planned.crew.idle, False)
        waiting |= {machine: True for machine, _, _ in hours.planned.crew.takeovers}
    return waiting


def _with_driver(farm: Farm, waiting: Mapping[str, bool]) -> Farm:
    """Return the farm with a driver, and a tractor, for the first machine that waits for one."""
    name = max(waiting, key=lambda one: next(c.width_m for c in farm.cultivators if c.name == one))
    driver = "one more driver"

    def manned(machine: Cultivator) -> Cultivator:
        if machine.name != name:
            return machine
        return replace(machine, driver=driver, tractor=None)

    return replace(
        farm,
        people=(*farm.people, Person(name=driver, drives=(name,))),
        cultivators=tuple(manned(c) for c in farm.cultivators),
        tractors=tuple(
            replace(t, pulls=tuple(m for m in t.pulls if m != name)) for t in farm.tractors
        ),
    )


def with_spreader(farm: Farm) -> Farm:
    """Return the farm with a spreader like its first, hired with tractor and driver."""
    name, driver = "hired spreader", "its driver"
    first = crews_of(farm)[0]
    like = next(s for s in farm.spreaders if s.name in first.machines)
    crews: tuple[CrewNoun, ...] = tuple(
        replace(crew, machines=(*crew.machines, name)) if crew.name == first.name else crew
        for crew in farm.crews
    )
    return replace(
        farm,
        people=(*farm.people, Person(name=driver, drives=(name,))),
        spreaders=(*farm.spreaders, replace(like, name=name, driver=driver, tractor=None)),
        crews=crews,
    )
