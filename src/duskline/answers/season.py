"""Which field on which day, how sure, and how far from the best possible.

Composes the crews' hours, the schedule with its bound, and the seasons of weather that could
come. Sentences in a reader's units are the faces' work.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from zoneinfo import ZoneInfo

import numpy as np

from duskline.answers.season_before import PlanBefore, schedule_before
from duskline.answers.season_crews import Basis, Hours
from duskline.answers.season_shared import Without, shared_of
from duskline.answers.season_task import (
    SURENESSES,
    PlannedSeason,
    SeasonQuestion,
    at_level,
    late_m2,
    plan_season,
    quick_schedule,
)
from duskline.answers.season_working import season_working
from duskline.answers.season_worth import (
    NoEarlier,
    SeasonChance,
    SeasonWorth,
    chance_of,
    why_no_earlier,
    worth_of,
)
from duskline.answers.working import Step
from duskline.core import day as balance
from duskline.core.farm import Farm
from duskline.core.light import daylight, local_midnight_at, moment_at, seconds_after
from duskline.core.season import Change, CrewDay, Schedule, SeasonCost, schedule_season

__all__ = [
    "AtSure",
    "Basis",
    "CrewPlan",
    "FieldPlan",
    "NoEarlier",
    "OpenFirst",
    "SeasonAnswer",
    "SeasonDayPlan",
    "SeasonQuestion",
    "VisitPlan",
    "WhyLeft",
    "Without",
    "season_answer",
]

DAY_S = 86400.0
GRID_S = 60.0
CRUMB_M2 = 200.0
"""A twentieth of an acre: less than that is not told."""
MIDDLE_80 = 1.2816
"""Standard deviations on either side that hold the middle 80 cases of 100."""


class WhyLeft(StrEnum):
    """Why a field has no day."""

    NOT_READY = "not ready by the last day"
    NO_SEED = "seed runs out"
    AFTER_RAIN = "not after rain"
    HOURS = "no hours left"


@dataclass(frozen=True, kw_only=True, slots=True)
class VisitPlan:
    """One stop of a crew's day.

    Attributes
    ----------
    is_part
        The field is not done with this visit, or was begun on another.
    from_at, covered_at
        When spreading begins there, and about when all is covered; at average rates.
    about_from_at, about_to_at
        The crew gets there between these, 8 days in 10.
    """

    field: str
    customer: str
    lot: str
    area_m2: float
    seed_kg: float
    is_part: bool
    clean_out: bool
    travel_m: float
    from_at: datetime
    covered_at: datetime | None
    about_from_at: datetime
    about_to_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class CrewPlan:
    """One crew's day: its hours, its stop, its fields in driving order.

    Attributes
    ----------
    capacity_m2
        What the day could do in one field, without a move. [m2]
    stop_at, closes_at
        When the last seed falls at average rates, and when covering must be done.
    spread_s, covered_s
        When seed is spread and when it is worked in, elapsed since midnight. [s]
    drivers, takeovers
        (machine, driver) from the start, and of the machines taken over after the stop.
    bare_m2
        Not covered by the close at average rates, load by load and move by move; the plan itself
        reckons with loads and moves spread over the day. [m2]
    """

    crew: str
    opens_at: datetime
    stop_at: datetime
    closes_at: datetime
    visits: tuple[VisitPlan, ...]
    capacity_m2: float
    used_fraction: float
    spread_s: tuple[tuple[float, float], ...]
    covered_s: tuple[tuple[float, float], ...]
    drivers: tuple[tuple[str, str], ...]
    takeovers: tuple[tuple[str, str], ...]
    bare_m2: float = 0.0

    @property
    def stops_too_late(self) -> bool:
        """Whether at average rates seed still falls when covering must be done."""
        return self.stop_at > self.closes_at

    @property
    def area_m2(self) -> float:
        """Sown that day. [m2]"""
        return sum(visit.area_m2 for visit in self.visits)


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonDayPlan:
    """One date: what its hours rest on, who works, what is left at night.

    Attributes
    ----------
    because
        Why nobody can work; "" where somebody can.
    fit_fraction
        Share of the seasons of weather in which there is covering that day.
    dawn_s, sunset_s, dusk_s
        Elapsed since midnight; None where the sun does not cross. [s]
    left_m2
        Not yet sown when the day ends, if all goes by the plan. [m2]
    """

    on: date
    basis: Basis
    because: str
    fit_fraction: float
    crews: tuple[CrewPlan, ...]
    idle: tuple[str, ...]
    dawn_s: float | None
    sunset_s: float | None
    dusk_s: float | None
    left_m2: float

    @property
    def area_m2(self) -> float:
        """Sown that day, of all crews. [m2]"""
        return sum(crew.area_m2 for crew in self.crews)

    @property
    def stop_at(self) -> datetime | None:
        """When the last spreader stops; None where none runs."""
        return max((crew.stop_at for crew in self.crews if crew.visits), default=None)


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldPlan:
    """One field of the season.

    Attributes
    ----------
    left_m2, unplaced_m2
        To sow at the beginning, and what of it has no day. [m2]
    due_on
        Its last day; None without one.
    late_m2
        Planned after that day. [m2]
    finish_on
        When it is done by the plan; None where some of it has no day.
    chance_fraction, chance_low_fraction, chance_high_fraction
        Of being done by its last day (or the season's), over the seasons of weather.
    early_on, late_on
        It is done between these, 8 seasons in 10; None: not within the season.
    """

    name: str
    customer: str
    lot: str
    left_m2: float
    unplaced_m2: float
    why_left: WhyLeft | None
    due_on: date | None
    late_m2: float
    finish_on: date | None
    chance_fraction: float
    chance_low_fraction: float
    chance_high_fraction: float
    early_on: date | None
    late_on: date | None


@dataclass(frozen=True, kw_only=True, slots=True)
class AtSure:
    """The plan at one sureness: what has no day by the deadline, and when it ends.

    ``sure_fraction`` None: at average rates, at no stated chance.
    """

    sure_fraction: float | None
    unplaced_m2: float
    late_m2: float
    finish_on: date | None


@dataclass(frozen=True, kw_only=True, slots=True)
class OpenFirst:
    """Ground that lies open from before, and the crew's day that begins with covering it."""

    on: date
    crew: str
    area_m2: float


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonAnswer:
    """The season's answer; areas in m2, money in ``currency``, moments in the farm's zone.

    Attributes
    ----------
    open_m2
        Lying open from before, with no day in which it could be covered. [m2]
    open_first
        Lying open from before, and the days that begin with covering it.
    without
        People and tractors that two crews count on.
    past_on
        Dates of the plan that are over.
    forecast_age_s
        Since the forecast was made; None where it does not say, or nothing is counted. [s]
    no_earlier
        Why a start one day earlier is not among the changes; None where it is.
    """

    farm: str
    time_zone: str
    currency: str
    on: tuple[date, ...]
    due_on: date | None
    sure_fraction: float | None
    days: tuple[SeasonDayPlan, ...]
    fields: tuple[FieldPlan, ...]
    left_m2: float
    finish_on: date | None
    unplaced_m2: float
    late_m2: float
    without_second_m2: float | None
    chance: SeasonChance
    by_sureness: tuple[AtSure, ...]
    worth: tuple[SeasonWorth, ...]
    cost: SeasonCost
    bound_usd: float
    gap_usd: float
    gap_fraction: float
    changes: tuple[Change, ...]
    schedule: Schedule
    planned: PlannedSeason
    working: tuple[Step, ...]
    open_m2: float = 0.0
    open_first: tuple[OpenFirst, ...] = ()
    without: tuple[Without, ...] = ()
    past_on: tuple[date, ...] = ()
    forecast_age_s: float | None = None
    no_earlier: NoEarlier | None = None

    @property
    def forecast_is_old(self) -> bool:
        """Whether the forecast is older than the age from which on it is called old."""
        if self.forecast_age_s is None:
            return False
        return self.forecast_age_s > self.planned.farm.defaults["forecast_stale_after"].value

    @property
    def fits(self) -> bool:
        """Everything has a day, and no later than it should be sown."""
        return self.unplaced_m2 <= CRUMB_M2 and self.late_m2 <= CRUMB_M2

    @property
    def at_risk(self) -> FieldPlan | None:
        """The field with the least chance of being done in time; None without fields."""
        return min(self.fields, key=lambda one: one.chance_fraction, default=None)


def season_answer(
    farm: Farm, question: SeasonQuestion | None = None, *, before: PlanBefore | None = None
) -> SeasonAnswer:
    """Return which field is sown on which day, how sure that is, and what would help.

    Parameters
    ----------
    farm, question
        The farm, and what is asked of its season.
    before
        The plan kept before; what need not change is left as it was.

    Raises
    ------
    NoWindow
        Nothing says when the season begins.
    OutOfRange
        A figure that cannot be.
    """
    question = question or SeasonQuestion()
    planned = plan_season(farm, question, levels=SURENESSES)
    previous = None if before is None else schedule_before(planned, before)
    schedule = schedule_season(
        planned.task,
        previous=previous,
        stability_usd=farm.season.stability_usd if previous is not None else 0.0,
        effort=question.effort,
        seed=question.seed,
    )
    chance = chance_of(planned, schedule, question)
    late = late_m2(schedule)
    return SeasonAnswer(
        farm=farm.name,
        time_zone=farm.time_zone,
        currency=farm.prices.currency,
        on=planned.on,
        due_on=farm.season.due_on,
        sure_fraction=planned.sure_fraction,
        days=_days(planned, schedule),
        fields=_fields(schedule, chance),
        left_m2=math.fsum(planned.left_m2.values()),
        finish_on=_date(schedule.finish_day),
        unplaced_m2=math.fsum(schedule.unplaced_m2.values()),
        late_m2=math.fsum(late.values()),
        without_second_m2=_without_second_m2(planned),
        chance=chance,
        by_sureness=_by_sureness(question, planned, schedule) if question.compare else (),
        worth=worth_of(farm, planned, schedule, question, chance) if question.compare else (),
        cost=schedule.cost,
        bound_usd=schedule.bound_usd,
        gap_usd=schedule.gap_usd,
        gap_fraction=schedule.gap_fraction,
        changes=schedule.changes,
        schedule=schedule,
        planned=planned,
        working=season_working(farm, planned, schedule, chance),
        open_m2=planned.open_m2,
        open_first=_open_first(planned),
        without=shared_of(planned.hours),
        past_on=_past_on(planned, question),
        forecast_age_s=_forecast_age_s(farm, question),
        no_earlier=why_no_earlier(planned, question) if question.compare else None,
    )


def _date(day: int | None) -> date | None:
    return None if day is None else date.fromordinal(day)


def _open_first(planned: PlannedSeason) -> tuple[OpenFirst, ...]:
    return tuple(
        OpenFirst(on=on, crew=crew, area_m2=hours.open_m2 - hours.bare_m2)
        for (on, crew), hours in planned.hours.items()
        if hours.open_m2 - hours.bare_m2 > CRUMB_M2
    )


def _past_on(planned: PlannedSeason, question: SeasonQuestion) -> tuple[date, ...]:
    if question.now_at is None:
        return ()
    today = question.now_at.astimezone(ZoneInfo(planned.farm.time_zone)).date()
    return tuple(on for on in planned.on if on < today)


def _forecast_age_s(farm: Farm, question: SeasonQuestion) -> float | None:
    issued_at = farm.forecast_issued_at
    if farm.forecast is not None and farm.forecast.issued_at is not None:
        issued_at = farm.forecast.issued_at
    if issued_at is None or question.now_at is None:
        return None
    return seconds_after(issued_at, question.now_at)


def _without_second_m2(planned: PlannedSeason) -> float | None:
    """Return what the days up to the deadline do at average rates, no takeovers and no moves.

    None where no machine is taken over.
    """
    if not any(hours.second_m2 > 0.0 for hours in planned.hours.values()):
        return None
    due = planned.farm.season.due_on or planned.on[-1]
    return math.fsum(
        hours.average_m2 - hours.second_m2
        for (on, _), hours in planned.hours.items()
        if hours.works and on <= due
    )


# ------------------------------------------------------------------------------------ days


def _days(planned: PlannedSeason, schedule: Schedule) -> tuple[SeasonDayPlan, ...]:
    zone = ZoneInfo(planned.farm.time_zone)
    by_day: dict[int, list[CrewDay]] = {}
    for one in schedule.crew_days:
        by_day.setdefault(one.day, []).append(one)
    left, rows = math.fsum(planned.left_m2.values()), []
    for index, on in enumerate(planned.on):
        start_at = local_midnight_at(on, zone)
        light = daylight(planned.farm.latitude_deg, planned.farm.longitude_deg, on, zone)
        crews = tuple(
            _crew_plan(planned, one, planned.hours[on, one.crew], start_at)
            for one in by_day.get(on.toordinal(), [])
            if one.visits
        )
        left -= math.fsum(crew.area_m2 for crew in crews)
        here = [planned.hours[on, name] for name in planned.crews]
        working = [hours for hours in here if hours.works]
        rows.append(
            SeasonDayPlan(
                on=on,
                basis=working[0].basis if working else here[0].basis,
                because="" if working else here[0].because,
                fit_fraction=float((~planned.weathers.closed[:, index]).mean()),
                crews=crews,
                idle=tuple(
                    hours.crew
                    for hours in working
                    if hours.crew not in {crew.crew for crew in crews}
                ),
                dawn_s=_elapsed(start_at, light.civil_dawn_at),
                sunset_s=_elapsed(start_at, light.sunset_at),
                dusk_s=_elapsed(start_at, light.civil_dusk_at),
                left_m2=max(0.0, left),
            )
        )
    return tuple(rows)


def _elapsed(start_at: datetime, moment: datetime | None) -> float | None:
    return None if moment is None else seconds_after(start_at, moment)


def _crew_plan(planned: PlannedSeason, one: CrewDay, hours: Hours, start_at: datetime) -> CrewPlan:
    """Return a crew's day with its clock times, at average rates."""
    farm, crew = planned.farm, hours.made_ready
    names = {f.name: f for f in planned.task.fields}
    task = replace(
        hours.task,
        fields=tuple(
            balance.FieldTask(
                name=visit.field,
                area_m2=visit.area_m2,
                rate_kg_per_m2=names[visit.field].rate_kg_per_m2,
                ready_s=_ready_s(planned, visit.field, start_at),
                move_s=_between_s(planned, one, index),
            )
            for index, visit in enumerate(one.visits)
        ),
    )
    at_s, spread, covered = _curves(task)
    spread, covered = spread - task.spread_before_m2, covered - task.spread_before_m2
    total = min(one.area_m2, float(spread[-1]))
    stop_s = float(at_s[int(np.argmax(spread >= total - 1.0))])
    cv = math.hypot(farm.defaults["shared_rate_cv"].value, farm.defaults["machine_rate_cv"].value)
    opens_s = task.spread_intervals[0][0]
    visits, begin = [], 0.0
    for visit in one.visits:
        end = min(begin + visit.area_m2, total)
        first = max(0, int(np.argmax(spread > begin + 1.0)) - 1) if end > begin + 1.0 else -1
        from_s = float(at_s[first])
        done = np.flatnonzero(covered >= end - 50.0)
        on_the_way = max(0.0, from_s - opens_s)
        visits.append(
            VisitPlan(
                field=visit.field,
                customer=names[visit.field].customer,
                lot=visit.lot,
                area_m2=visit.area_m2,
                seed_kg=visit.area_m2 * names[visit.field].rate_kg_per_m2,
                is_part=visit.area_m2 < planned.left_m2[visit.field] * (1.0 - 1e-3),
                clean_out=visit.clean_out,
                travel_m=visit.travel_m,
                from_at=moment_at(start_at, from_s),
                covered_at=moment_at(start_at, float(at_s[done[0]])) if done.size else None,
                about_from_at=moment_at(
                    start_at, opens_s + on_the_way * max(0.0, 1.0 - MIDDLE_80 * cv)
                ),
                about_to_at=moment_at(start_at, opens_s + on_the_way * (1.0 + MIDDLE_80 * cv)),
            )
        )
        begin += visit.area_m2
    return CrewPlan(
        crew=one.crew,
        opens_at=moment_at(start_at, opens_s),
        stop_at=moment_at(start_at, stop_s),
        closes_at=moment_at(start_at, task.covered_by_s),
        visits=tuple(visits),
        capacity_m2=hours.area_m2,
        used_fraction=one.used_s / one.budget_s if one.budget_s > 0.0 else 0.0,
        spread_s=tuple((a, min(b, stop_s)) for a, b in task.spread_intervals if a < stop_s),
        covered_s=_covered_s(at_s, covered),
        drivers=(*crew.crew.spreaders, *crew.crew.covers),
        takeovers=tuple((machine, driver) for machine, driver, _ in crew.crew.takeovers),
        bare_m2=max(0.0, total - float(covered[-1])),
    )


def _curves(
    task: balance.DayTask,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the clock and what is spread and covered by then, at average rates. [s], [m2]

    The takeover follows the stop, so the stop is found first: when all of the day is spread.
    """
    calm, one = balance.steady(task)
    at_s = np.arange(task.start_s, max(task.covered_by_s, task.spread_until_s) + GRID_S, GRID_S)
    spread = balance.worked_curves_m2(calm, one, stop_s=task.spread_until_s, at_s=at_s)[0][0]
    stop_s = float(at_s[int(np.argmax(spread >= min(task.area_m2, spread[-1]) - 1.0))])
    spread, covered = (
        curve[0] for curve in balance.worked_curves_m2(calm, one, stop_s=stop_s, at_s=at_s)
    )
    return at_s, spread, covered


def _covered_s(at_s: np.ndarray, covered: np.ndarray) -> tuple[tuple[float, float], ...]:
    moving = np.flatnonzero(np.diff(covered) > 1.0)
    if not moving.size:
        return ()
    return ((float(at_s[moving[0]]), float(at_s[moving[-1] + 1])),)


def _between_s(planned: PlannedSeason, one: CrewDay, index: int) -> float:
    """Return the time from a stop's field to the next: road, fold and a clean-out. [s]"""
    if index == 0:
        return 0.0
    before, here = one.visits[index - 1], one.visits[index]
    crew = next(c for c in planned.task.crews if c.name == one.crew)
    rules = planned.farm.rules
    move_s = rules.move_s
    if move_s is None:
        move_s = rules.fold_s + here.travel_m / rules.road_speed_mps
    return move_s + (crew.clean_out_s if here.lot != before.lot else 0.0)


def _ready_s(planned: PlannedSeason, name: str, start_at: datetime) -> float:
    noun = next(f for f in planned.farm.fields if f.name == name)
    if noun.ready_at is None or noun.ready_at.astimezone(start_at.tzinfo).date() != start_at.date():
        return -balance.FOREVER_S
    return seconds_after(start_at, noun.ready_at)


# ---------------------------------------------------------------------------------- fields


def _fields(schedule: Schedule, chance: SeasonChance) -> tuple[FieldPlan, ...]:
    late = late_m2(schedule)
    used: dict[str, float] = {}
    for one in schedule.crew_days:
        for visit in one.visits:
            used[visit.lot] = used.get(visit.lot, 0.0) + visit.area_m2 * _rate(
                schedule, visit.field
            )
    rows = []
    for field in schedule.task.fields:
        unplaced = schedule.unplaced_m2.get(field.name, 0.0)
        said = chance.fields[field.name]
        rows.append(
            FieldPlan(
                name=field.name,
                customer=field.customer,
                lot=field.lot,
                left_m2=field.area_m2,
                unplaced_m2=unplaced,
                why_left=_why_left(schedule, field.name, used) if unplaced else None,
                due_on=_date(field.due_day),
                late_m2=late.get(field.name, 0.0),
                finish_on=_date(schedule.finish_days.get(field.name)),
                chance_fraction=said.fraction,
                chance_low_fraction=said.low_fraction,
                chance_high_fraction=said.high_fraction,
                early_on=_date(said.early_day),
                late_on=_date(said.late_day),
            )
        )
    return tuple(rows)


def _rate(schedule: Schedule, name: str) -> float:
    return next(f.rate_kg_per_m2 for f in schedule.task.fields if f.name == name)


def _why_left(schedule: Schedule, name: str, used: Mapping[str, float]) -> WhyLeft:
    field = next(f for f in schedule.task.fields if f.name == name)
    ready = field.ready.on(schedule.task.ready)
    working = [d for d in schedule.task.days if d.crews]
    days = [d for d in working if d.day >= ready]
    if working and not days:
        return WhyLeft.NOT_READY
    if not days:
        return WhyLeft.HOURS
    if field.not_after_rain and all(d.after_rain for d in days):
        return WhyLeft.AFTER_RAIN
    stock = {lot.name: lot.stock_kg for lot in schedule.task.lots}.get(field.lot, math.inf)
    if stock - used.get(field.lot, 0.0) < field.rate_kg_per_m2 * field.least_part_m2:
        return WhyLeft.NO_SEED
    return WhyLeft.HOURS


def _by_sureness(
    question: SeasonQuestion, planned: PlannedSeason, schedule: Schedule
) -> tuple[AtSure, ...]:
    """Return how the plan comes out at the usual surenesses and at average rates."""
    rows = []
    levels: list[float | None] = [None, *SURENESSES]
    if planned.sure_fraction not in levels:
        levels.append(planned.sure_fraction)
    for level in levels:
        found = schedule
        if level != planned.sure_fraction:
            found = quick_schedule(at_level(planned, level), question.seed)
        rows.append(
            AtSure(
                sure_fraction=level,
                unplaced_m2=math.fsum(found.unplaced_m2.values()),
                late_m2=math.fsum(late_m2(found).values()),
                finish_on=_date(found.finish_day),
            )
        )
    return tuple(sorted(rows, key=lambda row: row.sure_fraction or 0.0))
