"""When must spreading stop today so that everything spread is covered in time?

Composes windows, crew, machines, fields and the day balance; returns the answer with its chance,
its levers and its working. Sentences in a reader's units are the faces' work.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from duskline.answers.day_plan import DayQuestion, PlannedDay, Rates, day_of, plan_day
from duskline.answers.day_working import day_working
from duskline.answers.levers import Lever, LeverKey, levers_of, spreading_ends_s
from duskline.answers.windows import DayWindows
from duskline.answers.working import Step
from duskline.core import day as balance
from duskline.core.crew import CrewPlan
from duskline.core.farm import Farm
from duskline.core.light import local_midnight_at, moment_at, seconds_after
from duskline.core.weather import hours_between, rain_by

__all__ = [
    "AtSureness",
    "AverageDay",
    "DayAnswer",
    "DayQuestion",
    "FieldTimes",
    "LadderRung",
    "Lever",
    "LeverKey",
    "Rates",
    "StripCurves",
    "answer_of",
    "average_area_by_width_m2",
    "day_answer",
    "uncertainty_of",
]

SURENESSES = (0.5, 0.8, 0.95)
HOUR_S = 3600.0


@dataclass(frozen=True, kw_only=True, slots=True)
class AtSureness:
    """The stop time at one chance, and what it means in area."""

    sure_fraction: float
    stop_at: datetime
    spread_area_m2: float
    open_at_cutoff_m2: float
    chance_fraction: float


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldTimes:
    """One field of the plan: its area today, its seed, and about when it is worked."""

    name: str
    area_m2: float
    whole_area_m2: float
    lot: str
    seed_kg: float
    move_s: float
    spread_from: datetime
    spread_to: datetime
    covered_by: datetime | None
    whole: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class StripCurves:
    """The two curves of the day strip, at average rates, with the middle 80 % of covered area."""

    at: tuple[datetime, ...]
    spread_m2: tuple[float, ...]
    covered_m2: tuple[float, ...]
    covered_low_m2: tuple[float, ...]
    covered_high_m2: tuple[float, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class LadderRung:
    """One line of the stop ladder."""

    at: datetime
    open_area_m2: float
    loads: float


@dataclass(frozen=True, kw_only=True, slots=True)
class AverageDay:
    """The closed form, with clock times."""

    stop_at: datetime
    spread_area_m2: float
    done_at: datetime
    limited_by: str


@dataclass(frozen=True, kw_only=True, slots=True)
class DayAnswer:
    """The day's answer; see the attributes' names. Areas in m2, moments in the farm's zone."""

    on: date
    time_zone: str
    now_at: datetime | None
    windows: DayWindows
    crew: CrewPlan
    stop_at: datetime
    spread_area_m2: float
    sure_fraction: float
    chance_fraction: float
    limited_by: str
    by_sureness: tuple[AtSureness, ...]
    ladder: tuple[LadderRung, ...]
    ladder_chance_fraction: float
    ladder_share_fraction: float
    ladder_spread_area_m2: float
    load_kg: float
    load_area_m2: float
    full_loads_count: int
    last_load_kg: float
    last_load_worth_filling: bool
    average: AverageDay
    average_chance_fraction: float
    average_observed: AverageDay | None
    average_with_moves: AverageDay | None
    moves_count: int
    open_if_no_changeover_m2: float
    open_at_cutoff_m2: float
    bare_if_hopeless_m2: float
    if_carried_on: tuple[datetime, float] | None
    levers: tuple[Lever, ...]
    fields: tuple[FieldTimes, ...]
    left_after_today: tuple[tuple[str, float], ...]
    not_ready: tuple[str, ...]
    rain_tomorrow: tuple[float, float] | None
    rain_today: tuple[float, float] | None
    spread_before_m2: float
    covered_before_m2: float
    cover_rate_observed_m2_per_s: float | None
    first_cover_rate_m2_per_s: float
    takeover_rate_m2_per_s: float
    spread_rate_m2_per_s: float
    changeover_s: float
    default_rates: tuple[str, ...]
    curves: StripCurves
    task: balance.DayTask
    working: tuple[Step, ...]

    @property
    def windows_cover_until(self) -> datetime:
        """When the last covering machine must be done."""
        return self.moment(self.task.covered_by_s)

    def moment(self, elapsed_s: float) -> datetime:
        """Return the moment so many seconds after the day's midnight."""
        return moment_at(local_midnight_at(self.on, ZoneInfo(self.time_zone)), elapsed_s)

    @property
    def hopeless(self) -> bool:
        """Even stopping at once leaves ground bare at average rates."""
        return self.bare_if_hopeless_m2 > 0.0


def day_answer(farm: Farm, question: DayQuestion) -> DayAnswer:
    """Return when spreading must stop, how sure that is, and why.

    Raises
    ------
    NoWindow
        No hours on that date, or nothing left to spread.
    NobodyMayDrive
        A machine the day needs has no driver who may drive it.
    OutOfRange
        More covered than spread, or a time that is not on the day.
    """
    zone = ZoneInfo(farm.time_zone)
    on = day_of(farm, question, zone)
    start_at = local_midnight_at(on, zone)
    planned = plan_day(farm, question, on, start_at)
    live = planned.planned if question.rates is Rates.PLANNED else planned.observed
    draws = balance.draw_day(
        live,
        uncertainty_of(farm, planned),
        replications=question.replications,
        seed=question.seed,
    )
    return answer_of(
        farm,
        question,
        planned,
        average_on=planned.observed if question.rates is Rates.OBSERVED else planned.planned,
        live=live,
        draws=draws,
        latest_stop_s=balance.simulate_day(live, draws).latest_stop_s,
    )


def answer_of(
    farm: Farm,
    question: DayQuestion,
    planned: PlannedDay,
    *,
    average_on: balance.DayTask,
    live: balance.DayTask,
    draws: balance.Draws,
    latest_stop_s: NDArray[np.float64],
    levers_too: bool = True,
    means_days: int | None = None,
) -> DayAnswer:
    """Return the day's answer for a task that is made ready.

    Parameters
    ----------
    planned
        The day it was made from.
    average_on, live
        The task for the figures at average rates, and the one that is simulated.
    draws, latest_stop_s
        The drawn days and the latest stop of each, ``(n,)``. [s]
    levers_too
        Whether to work out what each lever is worth, which takes half the time.
    means_days
        Mean areas and the ladder are taken from so many of the drawn days; None: all of them.
    """
    start_at = local_midnight_at(planned.windows.on, ZoneInfo(farm.time_zone))
    on, latest = planned.windows.on, latest_stop_s
    sure = question.sure_fraction or farm.rules.sure_fraction
    average = balance.average_day(average_on)
    average_live = average if live is average_on else balance.average_day(live)
    hard_end = spreading_ends_s(live)
    some = draws if means_days is None else balance.first_days(draws, means_days)
    levels = sorted({*SURENESSES, sure})
    by_sureness = tuple(
        _at_sureness(live, some, latest, level, hard_end, start_at) for level in levels
    )
    here = next(row for row in by_sureness if row.sure_fraction == sure)
    stop_s = seconds_after(start_at, here.stop_at)
    ladder = balance.stop_ladder(live, some, sure_fraction=sure)
    load_kg = sum(spreader.hopper_kg for spreader in live.spreaders) / len(live.spreaders)
    mean_rate = live.mean_rate_kg_per_m2
    full, last_kg = _snap(here.spread_area_m2, mean_rate, load_kg, len(live.spreaders))
    levers = levers_of(farm, live, draws, sure, here.spread_area_m2) if levers_too else ()
    times = _field_times(planned, live, stop_s, here.spread_area_m2, start_at)
    spread_today = {row.name: row.area_m2 for row in times}
    return DayAnswer(
        on=on,
        time_zone=farm.time_zone,
        now_at=question.now_at,
        windows=planned.windows,
        crew=planned.crew,
        stop_at=here.stop_at,
        spread_area_m2=here.spread_area_m2,
        sure_fraction=sure,
        chance_fraction=here.chance_fraction,
        limited_by="covering"
        if stop_s < hard_end - 60.0
        else ("acres" if average_live.limited_by == "acres" else "spread window"),
        by_sureness=by_sureness,
        ladder=tuple(
            LadderRung(
                at=moment_at(start_at, rung.at_s),
                open_area_m2=rung.open_area_m2,
                loads=rung.open_area_m2 * mean_rate / load_kg,
            )
            for rung in ladder.rungs
        ),
        ladder_chance_fraction=ladder.chance_fraction,
        ladder_share_fraction=ladder.share_fraction,
        ladder_spread_area_m2=ladder.mean_spread_m2,
        load_kg=load_kg,
        load_area_m2=load_kg / mean_rate,
        full_loads_count=full,
        last_load_kg=last_kg,
        last_load_worth_filling=_worth_filling(live, last_kg / mean_rate),
        average=_average(average, start_at),
        average_chance_fraction=float((latest >= average.stop_s - 1e-6).mean()),
        average_observed=_average(
            average_live if planned.observed is live else balance.average_day(planned.observed),
            start_at,
        )
        if planned.observed_rate is not None
        else None,
        average_with_moves=_with_moves(average_on, times, start_at),
        moves_count=sum(1 for row in times if row.move_s > 0.0),
        open_if_no_changeover_m2=average.bare_if_never_stopped_m2,
        open_at_cutoff_m2=here.open_at_cutoff_m2,
        bare_if_hopeless_m2=average.bare_m2,
        if_carried_on=_if_carried_on(farm, question, average_on, start_at),
        levers=levers,
        fields=times,
        left_after_today=tuple(
            (name, left - spread_today.get(name, 0.0))
            for name, left in _left_now_m2(planned).items()
            if left - spread_today.get(name, 0.0) > 50.0
        ),
        not_ready=planned.not_ready,
        rain_tomorrow=_rain(farm, start_at + timedelta(days=1), 24.0),
        rain_today=_rain(
            farm, moment_at(start_at, live.start_s), (live.covered_by_s - live.start_s) / HOUR_S
        ),
        spread_before_m2=live.spread_before_m2,
        covered_before_m2=live.covered_before_m2,
        cover_rate_observed_m2_per_s=planned.observed_rate,
        first_cover_rate_m2_per_s=sum(c.rate_m2_per_s for c in planned.planned.covers),
        takeover_rate_m2_per_s=sum(t.rate_m2_per_s for t in planned.planned.takeovers),
        spread_rate_m2_per_s=average.spread_rate_m2_per_s,
        changeover_s=max((t.changeover_s for t in live.takeovers), default=0.0),
        default_rates=planned.default_rates,
        curves=_curves(live, some, stop_s, start_at),
        task=live,
        working=day_working(farm, planned, average, live, days_count=len(latest)),
    )


def average_area_by_width_m2(
    farm: Farm, question: DayQuestion, widths_m: tuple[float, ...]
) -> tuple[float, ...]:
    """Return the area of the day at average rates for each driving width of the spreaders. [m2]"""
    zone = ZoneInfo(farm.time_zone)
    on = day_of(farm, question, zone)
    start_at = local_midnight_at(on, zone)
    areas = []
    for width in widths_m:
        spreaders = tuple(replace(s, driving_width_m=width) for s in farm.spreaders)
        planned = plan_day(replace(farm, spreaders=spreaders), question, on, start_at)
        areas.append(balance.average_day(planned.planned).spread_area_m2)
    return tuple(areas)


# --------------------------------------------------------------------------- chance


def uncertainty_of(farm: Farm, planned: PlannedDay) -> balance.Uncertainty:
    """Return how unsure the rates, refills and machines of a planned day are.

    A machine on a default efficiency carries that default's own range.
    """
    table, figures = farm.defaults, farm.figures
    own = table["machine_rate_cv"].value
    wide = table["clock_efficiency"]
    # Half of a low-high range taken as 1.64 sd: nine days in ten lie inside it.
    default_cv = ((wide.high or 0.0) - (wide.low or 0.0)) / 2.0 / 1.64 / wide.value
    task = planned.planned
    return balance.Uncertainty(
        shared_rate_cv=table["shared_rate_cv"].value,
        spreader_rate_cv=tuple(own for _ in task.spreaders),
        cover_rate_cv=tuple(
            default_cv if machine.name in planned.default_rates else own
            for machine in task.machines
        ),
        refill_cv=table["refill_cv"].value,
        changeover_cv=table["changeover_cv"].value,
        breakdown_per_s=figures["day.breakdowns"].value,
        repair_mean_s=figures["day.repair"].value,
    )


def _at_sureness(
    task: balance.DayTask,
    draws: balance.Draws,
    latest: np.ndarray,
    sure: float,
    hard_end_s: float,
    start_at: datetime,
) -> AtSureness:
    wanted = balance.stop_at_chance_s(latest, sure)
    stop_s = min(max(wanted, task.start_s), hard_end_s)
    area, bare = balance.spread_area_by_m2(task, draws, stop_s)
    return AtSureness(
        sure_fraction=sure,
        stop_at=moment_at(start_at, stop_s),
        spread_area_m2=area,
        open_at_cutoff_m2=bare,
        chance_fraction=float((latest >= stop_s - 1e-6).mean()),
    )


def _snap(
    area_m2: float, rate_kg_per_m2: float, load_kg: float, spreaders: int
) -> tuple[int, float]:
    """Return full loads of each spreader, and what goes into its last part load. [kg]"""
    each = area_m2 * rate_kg_per_m2 / spreaders
    full = int(each // load_kg)
    return full, each - full * load_kg


def _worth_filling(task: balance.DayTask, part_m2: float) -> bool:
    """Say whether a part load takes longer to spread than to fill."""
    spreader = task.spreaders[0]
    return part_m2 / spreader.moving_rate_m2_per_s > spreader.refill_s


def _average(average: balance.Average, start_at: datetime) -> AverageDay:
    return AverageDay(
        stop_at=moment_at(start_at, average.stop_s),
        spread_area_m2=average.spread_area_m2,
        done_at=moment_at(start_at, average.done_s),
        limited_by=average.limited_by,
    )


def _with_moves(
    task: balance.DayTask, times: tuple[FieldTimes, ...], start_at: datetime
) -> AverageDay | None:
    """Return the closed form with the plan's moves taken off the clock; None without any.

    Moves made before the stop by the spreader and by the first machines: the working time is
    shorter by their sum, and the stop later by it on the clock.
    """
    moves_s = sum(row.move_s for row in times)
    if moves_s <= 0.0 or task.state is not None or len(task.spreaders) > 1:
        return None
    found = _with_time_off(task, moves_s)
    if found is None:
        return None
    return _average(
        replace(found, stop_s=found.stop_s + moves_s, done_s=found.done_s + moves_s), start_at
    )


def _with_time_off(task: balance.DayTask, moves_s: float) -> balance.Average | None:
    """Return the closed form of a day that is shorter by the moves; None if nothing is left."""
    *before, (opens, closes) = task.spread_intervals
    if closes - moves_s <= opens:
        return None
    return balance.average_day(
        replace(
            task,
            spread_intervals=(*before, (opens, closes - moves_s)),
            covers=tuple(replace(c, closes_s=c.closes_s - moves_s) for c in task.covers),
            takeovers=tuple(replace(t, closes_s=t.closes_s - moves_s) for t in task.takeovers),
        )
    )


def _if_carried_on(
    farm: Farm, question: DayQuestion, task: balance.DayTask, start_at: datetime
) -> tuple[datetime, float] | None:
    """Return the stop of the plan without the called rain, and what it would leave bare."""
    if question.rain_at is None:
        return None
    before = plan_day(farm, replace(question, rain_at=None), start_at.date(), start_at).planned
    stop_s = balance.average_day(before).stop_s
    if stop_s <= balance.average_day(task).stop_s:
        return None
    bare = balance.open_if_stopped_at_m2(task, stop_s)
    return moment_at(start_at, stop_s), bare


def _left_now_m2(planned: PlannedDay) -> dict[str, float]:
    """Return what is left in every field now, with what was told by word of mouth taken off."""
    today = {one.name: 0.0 for one in planned.fields}
    today |= {task.name: task.area_m2 for task in planned.planned.fields}
    return {**planned.left_m2, **today}


def _field_times(
    planned: PlannedDay,
    task: balance.DayTask,
    stop_s: float,
    area_m2: float,
    start_at: datetime,
) -> tuple[FieldTimes, ...]:
    """Return about when each field is spread and covered: times at average rates, the area told."""
    calm, one = balance.steady(task)
    at = np.arange(task.start_s, max(task.covered_by_s, stop_s) + 60.0, 60.0)
    spread, covered = (
        curve[0] for curve in balance.worked_curves_m2(calm, one, stop_s=stop_s, at_s=at)
    )
    total = min(float(spread.max()), area_m2)
    rows, begin = [], task.spread_before_m2
    for place, field_task in enumerate(task.fields):
        end = min(begin + field_task.area_m2, total)
        if end - begin < 50.0:
            break
        last = int(np.argmax(spread >= end - 1.0))
        first = max(0, int(np.argmax(spread > begin + 1.0)) - 1)
        done = np.flatnonzero(covered >= end - 50.0)
        rows.append(
            FieldTimes(
                name=field_task.name,
                area_m2=end - begin,
                whole_area_m2=field_task.area_m2,
                lot=planned.fields[place].lot or "",
                seed_kg=(end - begin) * field_task.rate_kg_per_m2,
                move_s=field_task.move_s,
                spread_from=moment_at(start_at, float(at[first])),
                spread_to=moment_at(start_at, float(at[last])),
                covered_by=moment_at(start_at, float(at[done[0]])) if done.size else None,
                whole=end - begin >= field_task.area_m2 - 50.0,
            )
        )
        begin += field_task.area_m2
    return tuple(rows)


def _rain(farm: Farm, from_at: datetime, hours: float) -> tuple[float, float] | None:
    """Return the chance of rain over a stretch, shared and independent hours, or None."""
    if farm.forecast is None or hours <= 0.0:
        return None
    stretch = hours_between(
        farm.forecast, start_at=from_at, end_at=from_at + timedelta(hours=hours)
    )
    if not stretch.count:
        return None
    chance = rain_by(
        stretch,
        from_s=0.0,
        by_s=hours * HOUR_S,
        rain_threshold_m=farm.defaults["measurable_rain"].value,
    )
    return chance.shared_fraction, chance.independent_fraction


def _curves(
    task: balance.DayTask, draws: balance.Draws, stop_s: float, start_at: datetime
) -> StripCurves:
    at = np.arange(task.start_s, task.covered_by_s + 300.0, 300.0)
    calm, one = balance.steady(task)
    spread, covered = balance.worked_curves_m2(calm, one, stop_s=stop_s, at_s=at)
    some = balance.first_days(draws, 1000)
    _, many = balance.worked_curves_m2(task, some, stop_s=stop_s, at_s=at)
    low, high = np.quantile(many, (0.1, 0.9), axis=0)
    return StripCurves(
        at=tuple(moment_at(start_at, float(s)) for s in at),
        spread_m2=tuple(float(v) for v in spread[0]),
        covered_m2=tuple(float(v) for v in covered[0]),
        covered_low_m2=tuple(float(v) for v in low),
        covered_high_m2=tuple(float(v) for v in high),
    )
