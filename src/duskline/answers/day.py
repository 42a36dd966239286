"""When must spreading stop today so that everything spread is covered in time?

Composes windows, crew, machines, fields and the day balance; returns the answer with its chance,
its levers and its working. Sentences in a reader's units are the faces' work.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import TypeVar
from zoneinfo import ZoneInfo

import numpy as np

from duskline.answers.machines import cover_rate_m2_per_s, moving_rate_m2_per_s
from duskline.answers.seed import lot_rate_kg_per_m2, spreader_load_kg
from duskline.answers.windows import DayWindows, day_windows
from duskline.answers.working import Figure, Step
from duskline.core import day as balance
from duskline.core.crew import CrewPlan, Job, assign_crew
from duskline.core.errors import NoWindow, OutOfRange
from duskline.core.farm import Cultivator, Farm, Field, SpreaderNoun
from duskline.core.light import local_midnight_at, moment_at, seconds_after
from duskline.core.log import area_by_field_m2, area_on_m2
from duskline.core.order import Stop, ground_distance_m, order_fields
from duskline.core.weather import hours_between, rain_by

__all__ = [
    "AtSureness",
    "DayAnswer",
    "DayQuestion",
    "FieldTimes",
    "Lever",
    "LeverKey",
    "Rates",
    "StripCurves",
    "average_area_by_width_m2",
    "day_answer",
]

AnyCover = TypeVar("AnyCover", bound=balance.Cover)

REPLICATIONS = 10_000
SURENESSES = (0.5, 0.8, 0.95)
HOUR_S = 3600.0


class Rates(StrEnum):
    """Which covering rates to plan on once covering has begun."""

    PLANNED = "planned"
    OBSERVED = "observed"
    AUTO = "auto"


class LeverKey(StrEnum):
    """What might be changed tomorrow."""

    HEAD_START = "head_start"
    WIDER_CULTIVATOR = "wider_cultivator"
    FASTER_SPREAD = "faster_spread"
    SHORTER_CHANGEOVER = "shorter_changeover"
    SHORTER_REFILL = "shorter_refill"


@dataclass(frozen=True, kw_only=True, slots=True)
class DayQuestion:
    """What is asked: which day, and where the crew stands.

    Attributes
    ----------
    on
        The date; None for the first day of the forecast, else of the stated windows.
    now_at, spread_m2, covered_m2
        The state; areas None are taken from the log.
    rain_at
        Rain is called for this moment: everything closes then.
    down
        Machines out of work: name to (from, to).
    rates
        See ``Rates``. AUTO: the closed form on planned rates, the simulation on observed ones
        once covering has gone on for an hour.
    sure_fraction
        None for the farm's own.
    """

    on: date | None = None
    now_at: datetime | None = None
    spread_m2: float | None = None
    covered_m2: float | None = None
    rain_at: datetime | None = None
    down: Mapping[str, tuple[tuple[datetime, datetime], ...]] = field(default_factory=dict)
    rates: Rates = Rates.AUTO
    sure_fraction: float | None = None
    seed: int = 20261018
    replications: int = REPLICATIONS


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
class Lever:
    """One change and what it is worth today. [m2]"""

    key: LeverKey
    step: float
    unit: str
    area_m2: float
    average_area_m2: float


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


# --------------------------------------------------------------------------- the answer


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
    on = _date(farm, question, zone)
    start_at = local_midnight_at(on, zone)
    planned = _plan(farm, question, on, start_at)
    sure = question.sure_fraction or farm.rules.sure_fraction
    chosen = planned.observed if question.rates is Rates.OBSERVED else planned.planned
    live = planned.planned if question.rates is Rates.PLANNED else planned.observed
    average = balance.average_day(chosen)
    uncertainty = _uncertainty(farm, planned)
    draws = balance.draw_day(
        live, uncertainty, replications=question.replications, seed=question.seed
    )
    latest = balance.simulate_day(live, draws).latest_stop_s
    hard_end = _spreading_ends_s(live)
    levels = sorted({*SURENESSES, sure})
    by_sureness = tuple(
        _at_sureness(live, draws, latest, level, hard_end, start_at) for level in levels
    )
    here = next(row for row in by_sureness if row.sure_fraction == sure)
    stop_s = seconds_after(start_at, here.stop_at)
    ladder = balance.stop_ladder(live, draws, sure_fraction=sure)
    load_kg = sum(spreader.hopper_kg for spreader in live.spreaders) / len(live.spreaders)
    mean_rate = _mean_rate(live)
    full, last_kg = _snap(here.spread_area_m2, mean_rate, load_kg, len(live.spreaders))
    levers = _levers(farm, live, draws, sure, here.spread_area_m2)
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
        else ("acres" if balance.average_day(live).limited_by == "acres" else "spread window"),
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
        average_observed=_average(balance.average_day(planned.observed), start_at)
        if planned.observed_rate is not None
        else None,
        average_with_moves=_with_moves(chosen, times, start_at),
        moves_count=sum(1 for row in times if row.move_s > 0.0),
        open_if_no_changeover_m2=average.bare_if_never_stopped_m2,
        open_at_cutoff_m2=here.open_at_cutoff_m2,
        bare_if_hopeless_m2=average.bare_m2,
        if_carried_on=_if_carried_on(farm, question, chosen, start_at),
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
        curves=_curves(live, draws, stop_s, start_at),
        task=live,
        working=_working(farm, planned, average, live),
    )


def average_area_by_width_m2(
    farm: Farm, question: DayQuestion, widths_m: tuple[float, ...]
) -> tuple[float, ...]:
    """Return the area of the day at average rates for each driving width of the spreaders. [m2]"""
    zone = ZoneInfo(farm.time_zone)
    on = _date(farm, question, zone)
    start_at = local_midnight_at(on, zone)
    areas = []
    for width in widths_m:
        spreaders = tuple(replace(s, driving_width_m=width) for s in farm.spreaders)
        planned = _plan(replace(farm, spreaders=spreaders), question, on, start_at)
        areas.append(balance.average_day(planned.planned).spread_area_m2)
    return tuple(areas)


def _date(farm: Farm, question: DayQuestion, zone: ZoneInfo) -> date:
    if question.on is not None:
        return question.on
    if question.now_at is not None:
        return question.now_at.astimezone(zone).date()
    if farm.forecast is not None and len(farm.forecast.hours_at):
        return farm.forecast.hours_at[0].astimezone(zone).date()
    if farm.windows:
        return min(window.on for window in farm.windows)
    raise NoWindow("no date, no forecast and no window to plan for")


@dataclass(frozen=True, kw_only=True, slots=True)
class _Planned:
    """The day made ready for the balance."""

    windows: DayWindows
    crew: CrewPlan
    planned: balance.DayTask
    observed: balance.DayTask
    observed_rate: float | None
    fields: tuple[Field, ...]
    left_m2: dict[str, float]
    not_ready: tuple[str, ...]
    default_rates: tuple[str, ...]


def _plan(farm: Farm, question: DayQuestion, on: date, start_at: datetime) -> _Planned:
    windows = day_windows(farm, on, rain_at=question.rain_at, now_at=question.now_at)
    spread_rates = {s.name: moving_rate_m2_per_s(s) for s in farm.spreaders}
    cover_rates = {c.name: cover_rate_m2_per_s(farm, c) for c in farm.cultivators}
    crew = assign_crew(
        people=farm.people,
        tractors=farm.tractors,
        spreaders=tuple(
            Job(
                machine=s.name,
                rate_m2_per_s=spread_rates[s.name],
                driver=s.driver,
                tractor=_tractor_of(farm, s),
            )
            for s in farm.spreaders
        ),
        covers=tuple(
            Job(
                machine=c.name,
                rate_m2_per_s=cover_rates[c.name].value,
                driver=c.driver,
                tractor=_tractor_of(farm, c),
            )
            for c in farm.cultivators
        ),
    )
    state = _state(farm, question, on, start_at)
    left = _left_m2(farm, question, start_at)
    fields, not_ready = _fields_today(farm, left, windows, start_at)
    if not fields:
        raise NoWindow("no field is ready with anything left to spread")
    down = {
        name: tuple((seconds_after(start_at, a), seconds_after(start_at, b)) for a, b in spans)
        for name, spans in question.down.items()
    }
    order = {machine: index for index, (machine, _) in enumerate(crew.spreaders)}
    closes = windows.cover_closes_s
    spreaders = []
    for machine, _driver in crew.spreaders:
        noun = next(s for s in farm.spreaders if s.name == machine)
        spreaders.append(
            balance.Spreader(
                name=machine,
                moving_rate_m2_per_s=spread_rates[machine],
                hopper_kg=spreader_load_kg(farm, noun, fields[0].lot),
                refill_s=noun.refill_s,
                full_at_start=noun.full_at_start,
                down=down.get(machine, ()),
            )
        )
    hours = windows.rain_hours_s
    task = balance.DayTask(
        spread_intervals=windows.spread_intervals_s,
        spreaders=tuple(spreaders),
        covers=tuple(
            balance.Cover(
                name=machine,
                rate_m2_per_s=cover_rates[machine].value,
                opens_s=windows.cover_opens_s[machine],
                closes_s=closes[machine],
                closes_sd_s=windows.cover_sd_s[machine],
                down=down.get(machine, ()),
            )
            for machine, _driver in crew.covers
        ),
        takeovers=tuple(
            balance.Takeover(
                name=machine,
                rate_m2_per_s=cover_rates[machine].value,
                opens_s=windows.cover_opens_s[machine],
                closes_s=closes[machine],
                closes_sd_s=windows.cover_sd_s[machine],
                changeover_s=_changeover_s(farm, machine, spreader),
                spreader_index=order[spreader],
                down=down.get(machine, ()),
            )
            for machine, _driver, spreader in crew.takeovers
        ),
        fields=tuple(_field_tasks(farm, fields, left, start_at)),
        lead_s=farm.rules.lead_s,
        seed_trucks=tuple(
            balance.SeedTruck(holds_kg=t.holds_kg, turnaround_s=t.turnaround_s)
            for t in farm.seed_trucks
            if t.holds_kg is not None and t.turnaround_s is not None
        ),
        state=state,
        spread_closes_sd_s=windows.spread_sd_s,
        rain_hours_s=hours,
        rain_chance=windows.rain_chance,
    )
    if question.spread_m2 is not None:
        task = _drop_spread_today(task, question.spread_m2)
    observed_rate = _observed_rate(task, state)
    observed = task if observed_rate is None else _at_observed(task, observed_rate)
    return _Planned(
        windows=windows,
        crew=crew,
        planned=task,
        observed=observed,
        observed_rate=observed_rate,
        fields=fields,
        left_m2=left,
        not_ready=not_ready,
        default_rates=tuple(n for n, given in cover_rates.items() if given.is_default),
    )


def _tractor_of(farm: Farm, machine: SpreaderNoun | Cultivator) -> str | None:
    """Return the tractor a machine is named with, else the first that says it pulls it."""
    pulling = (tractor.name for tractor in farm.tractors if machine.name in tractor.pulls)
    return machine.tractor or next(pulling, None)


def _changeover_s(farm: Farm, machine: str, spreader: str) -> float:
    """Return the changeover from a spreader to a covering machine. [s]

    A stated changeover stands. Else: unhitch, walk and hitch where both take the same tractor
    (or none is named); only the walk where the machine stands hitched to another.
    """
    if not farm.figures["day.changeover"].is_default:
        return farm.rules.changeover_s
    cover = next(c for c in farm.cultivators if c.name == machine)
    first = next(s for s in farm.spreaders if s.name == spreader)
    one, other = _tractor_of(farm, cover), _tractor_of(farm, first)
    if one is not None and other is not None and one != other:
        return farm.defaults["changeover_walk"].value
    return farm.rules.changeover_s


# --------------------------------------------------------------------------- state and fields


def _state(farm: Farm, question: DayQuestion, on: date, start_at: datetime) -> balance.State | None:
    if question.now_at is None:
        if question.spread_m2 is not None or question.covered_m2 is not None:
            raise NoWindow("areas spread or covered need the time they were read")
        return None
    now_s = seconds_after(start_at, question.now_at)
    if not 0.0 <= now_s < 26 * HOUR_S:
        raise NoWindow(f"the time given is not on {on}")
    spread, covered = question.spread_m2, question.covered_m2
    if spread is None:
        spread = area_on_m2(farm.log, "spread", on, question.now_at)
    if covered is None:
        covered = area_on_m2(farm.log, "covered", on, question.now_at)
    if spread < 0.0 or not 0.0 <= covered <= spread * (1.0 + 1e-9) + 1.0:
        raise OutOfRange("area covered", covered, 0.0, spread)
    return balance.State(now_s=now_s, spread_m2=spread, covered_m2=min(covered, spread))


def _left_m2(farm: Farm, question: DayQuestion, start_at: datetime) -> dict[str, float]:
    """Return what is left to spread, field by field: outline less what the log has.

    Where today's area is told by word of mouth the log counts up to this morning only.
    """
    until = question.now_at if question.now_at and question.spread_m2 is None else start_at
    done = area_by_field_m2((e for e in farm.log if e.at <= until), "spread")
    covered = area_by_field_m2((e for e in farm.log if e.at <= until), "covered")
    return {
        f.name: max(0.0, f.area_m2 - max(done.get(f.name, 0.0), covered.get(f.name, 0.0)))
        for f in farm.fields
    }


def _fields_today(
    farm: Farm,
    left: dict[str, float],
    windows: DayWindows,
    start_at: datetime,
) -> tuple[tuple[Field, ...], tuple[str, ...]]:
    """Return the fields that can be spread today, in order, and the names of those not ready."""
    last_s = windows.spread_intervals_s[-1][1]
    pace = sum(moving_rate_m2_per_s(spreader) for spreader in farm.spreaders)
    stops, not_ready = [], []
    for candidate in farm.fields:
        ready_s = seconds_after(start_at, candidate.ready_at) if candidate.ready_at else -HOUR_S
        if left[candidate.name] < 1.0:
            continue
        if ready_s >= last_s:
            not_ready.append(candidate.name)
            continue
        stops.append(
            Stop(
                name=candidate.name,
                place=candidate.centre,
                takes_s=left[candidate.name] / pace,
                ready_s=ready_s,
                batch=f"{candidate.customer}/{farm.lot(candidate.lot).name}",
                hurry=candidate.not_after_rain and windows.rain_coming,
            )
        )
    ordered = order_fields(
        stops,
        start=(farm.longitude_deg, farm.latitude_deg),
        start_s=windows.spread_intervals_s[0][0],
        first=farm.rules.order,
    )
    by_name = {f.name: f for f in farm.fields}
    return tuple(by_name[stop.name] for stop in ordered), tuple(not_ready)


def _move_s(farm: Farm, one: Field, other: Field) -> float:
    if farm.rules.move_s is not None:
        return farm.rules.move_s
    road = ground_distance_m(one.centre, other.centre) * farm.defaults["road_detour"].value
    return road / farm.rules.road_speed_mps + farm.rules.fold_s


def _field_tasks(
    farm: Farm, fields: tuple[Field, ...], left: dict[str, float], start_at: datetime
) -> list[balance.FieldTask]:
    tasks = []
    for index, one in enumerate(fields):
        ready = seconds_after(start_at, one.ready_at) if one.ready_at else -balance.FOREVER_S
        tasks.append(
            balance.FieldTask(
                name=one.name,
                area_m2=left[one.name],
                rate_kg_per_m2=lot_rate_kg_per_m2(farm, farm.lot(one.lot)),
                ready_s=ready,
                move_s=_move_s(farm, fields[index - 1], one) if index else 0.0,
            )
        )
    return tasks


def _drop_spread_today(task: balance.DayTask, area_m2: float) -> balance.DayTask:
    """Return the task with what was spread by word of mouth taken off its first fields."""
    fields, rest = [], area_m2
    for one in task.fields:
        took = min(rest, one.area_m2)
        rest -= took
        if one.area_m2 - took > 1.0:
            fields.append(replace(one, area_m2=one.area_m2 - took))
    if not fields:
        fields = [replace(task.fields[-1], area_m2=1e-3)]
    return replace(task, fields=(replace(fields[0], move_s=0.0), *fields[1:]))


def _observed_rate(task: balance.DayTask, state: balance.State | None) -> float | None:
    """Return how fast the machines at work since the opening have covered, or None. [m2/s]"""
    if state is None or not task.covers or state.covered_m2 <= 0.0:
        return None
    began = max(min(c.opens_s for c in task.covers), task.spread_intervals[0][0] + task.lead_s)
    span_s = state.now_s - began
    return state.covered_m2 / span_s if span_s >= HOUR_S else None


def _at_observed(task: balance.DayTask, observed_rate: float) -> balance.DayTask:
    """Return the day with the first machines at the pace they have shown."""
    planned = sum(cover.rate_m2_per_s for cover in task.covers)
    factor = observed_rate / planned
    return replace(
        task,
        covers=tuple(replace(c, rate_m2_per_s=c.rate_m2_per_s * factor) for c in task.covers),
    )


# --------------------------------------------------------------------------- chance and levers


def _uncertainty(farm: Farm, planned: _Planned) -> balance.Uncertainty:
    """Return the spreads; a machine on a default efficiency carries the default's own range."""
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


def _spreading_ends_s(task: balance.DayTask) -> float:
    """Return when spreading ends by itself: window closed or all spread, at average rates."""
    calm, one = balance.steady(task)
    ends = np.arange(task.start_s, task.spread_until_s + 60.0, 60.0)
    spread = balance.simulate_day(calm, one, ends).spread_m2[0]
    full = np.flatnonzero(spread >= task.area_m2 - 1.0)
    return float(ends[full[0]]) if full.size else max(task.spread_until_s, task.start_s)


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


def _mean_rate(task: balance.DayTask) -> float:
    area = sum(f.area_m2 for f in task.fields)
    return sum(f.rate_kg_per_m2 * f.area_m2 for f in task.fields) / area


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


def _changed(task: balance.DayTask, key: LeverKey, step: float, farm: Farm) -> balance.DayTask:
    """Return the day with one lever pulled."""
    if key is LeverKey.HEAD_START:
        (opens, closes), *others = task.spread_intervals
        earlier = max(0.0, opens - step)
        return replace(task, spread_intervals=((earlier, closes), *others))
    if key is LeverKey.WIDER_CULTIVATOR:
        width = {c.name: c.working_width_m for c in farm.cultivators}

        def wider(machine: AnyCover) -> AnyCover:
            factor = (width[machine.name] + step) / width[machine.name]
            return replace(machine, rate_m2_per_s=machine.rate_m2_per_s * factor)

        return replace(
            task,
            covers=tuple(wider(c) for c in task.covers),
            takeovers=tuple(wider(t) for t in task.takeovers),
        )
    if key is LeverKey.FASTER_SPREAD:
        return replace(
            task,
            spreaders=tuple(
                replace(s, moving_rate_m2_per_s=s.moving_rate_m2_per_s * (1.0 + step))
                for s in task.spreaders
            ),
        )
    if key is LeverKey.SHORTER_CHANGEOVER:
        return replace(
            task,
            takeovers=tuple(
                replace(t, changeover_s=max(0.0, t.changeover_s - step)) for t in task.takeovers
            ),
        )
    return replace(
        task,
        spreaders=tuple(replace(s, refill_s=max(0.0, s.refill_s - step)) for s in task.spreaders),
    )


LEVERS = {
    LeverKey.HEAD_START: "lever_head_start",
    LeverKey.WIDER_CULTIVATOR: "lever_width",
    LeverKey.FASTER_SPREAD: "lever_spread_speed",
    LeverKey.SHORTER_CHANGEOVER: "lever_changeover",
    LeverKey.SHORTER_REFILL: "lever_refill",
}


def _levers(
    farm: Farm,
    task: balance.DayTask,
    draws: balance.Draws,
    sure: float,
    area_m2: float,
) -> tuple[Lever, ...]:
    """Return what each lever is worth at the same sureness on the same drawn days."""
    base = balance.average_day(task).spread_area_m2
    found = []
    for key, row in LEVERS.items():
        if key is LeverKey.HEAD_START and task.state is not None:
            continue
        if key is LeverKey.SHORTER_CHANGEOVER and not task.takeovers:
            continue
        step = farm.defaults[row]
        changed = _changed(task, key, step.value, farm)
        latest = balance.simulate_day(changed, draws).latest_stop_s
        end_s = _spreading_ends_s(changed)
        stop_s = min(max(balance.stop_at_chance_s(latest, sure), changed.start_s), end_s)
        area, _ = balance.spread_area_by_m2(changed, draws, stop_s)
        found.append(
            Lever(
                key=key,
                step=step.value,
                unit=step.unit,
                area_m2=area - area_m2,
                average_area_m2=balance.average_day(changed).spread_area_m2 - base,
            )
        )
    return tuple(sorted(found, key=lambda lever: -lever.area_m2))


# --------------------------------------------------------------------------- the rest


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
    before = _plan(farm, replace(question, rain_at=None), start_at.date(), start_at).planned
    stop_s = balance.average_day(before).stop_s
    if stop_s <= balance.average_day(task).stop_s:
        return None
    bare = balance.open_if_stopped_at_m2(task, stop_s)
    return moment_at(start_at, stop_s), bare


def _left_now_m2(planned: _Planned) -> dict[str, float]:
    """Return what is left in every field now, with what was told by word of mouth taken off."""
    today = {one.name: 0.0 for one in planned.fields}
    today |= {task.name: task.area_m2 for task in planned.planned.fields}
    return {**planned.left_m2, **today}


def _field_times(
    planned: _Planned,
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


def _working(
    farm: Farm, planned: _Planned, average: balance.Average, task: balance.DayTask
) -> tuple[Step, ...]:
    """Return the working of the closed form and what the simulation adds to it."""
    figures, steps = farm.figures, []

    def taken(name: str, place: str) -> Figure:
        given = figures[place]
        return Figure(
            name=name,
            value=given.value,
            unit=given.unit,
            source=given.source,
            low=given.low,
            high=given.high,
        )

    rate = _mean_rate(task)
    for spreader in task.spreaders:
        place = f"spreader.{spreader.name}"
        steps.append(
            Step(
                title=f"{spreader.name}: area per time with refills",
                formula="a / (a / (width x speed x efficiency) + refill), a = load / rate",
                inputs=(
                    taken("driving width", f"{place}.driving_width"),
                    taken("speed", f"{place}.speed"),
                    taken("clock efficiency", f"{place}.efficiency"),
                    taken("refill", f"{place}.refill"),
                    Figure(name="load", value=spreader.hopper_kg, unit="kg", source="farm.toml"),
                    Figure(name="rate", value=rate, unit="kg/m2", source="worked out, see seed"),
                ),
                result=Figure(
                    name="spreading",
                    value=balance.fluid_spread_rate_m2_per_s(spreader, rate, task.seed_trucks),
                    unit="m2/s",
                    source="worked out here",
                ),
            )
        )
    for machine in planned.planned.machines:
        place = f"cultivator.{machine.name}"
        efficiency = cover_rate_m2_per_s(
            farm, next(c for c in farm.cultivators if c.name == machine.name)
        )
        steps.append(
            Step(
                title=f"{machine.name}: area per time",
                formula="(width - overlap) x speed x clock efficiency",
                inputs=(
                    taken("width", f"{place}.width"),
                    taken("overlap", f"{place}.overlap"),
                    taken("speed", f"{place}.speed"),
                    Figure(
                        name="clock efficiency",
                        value=efficiency.efficiency_fraction,
                        unit="fraction",
                        source=efficiency.source,
                        low=efficiency.low,
                        high=efficiency.high,
                    ),
                ),
                result=Figure(
                    name="covering",
                    value=machine.rate_m2_per_s,
                    unit="m2/s",
                    source="worked out here",
                ),
            )
        )
    steps.append(
        Step(
            title="Stop time at average rates, before moves",
            formula="S x = C1 (T - lead) + C2 (T - x - changeover), with head start and windows",
            inputs=(
                taken("lead", "day.lead"),
                taken("changeover", "day.changeover"),
                Figure(
                    name="spreading S",
                    value=average.spread_rate_m2_per_s,
                    unit="m2/s",
                    source="worked out above",
                ),
                Figure(
                    name="covering from the start C1",
                    value=sum(c.rate_m2_per_s for c in task.covers),
                    unit="m2/s",
                    source="worked out above",
                ),
                Figure(
                    name="covering after the stop C2",
                    value=sum(t.rate_m2_per_s for t in task.takeovers),
                    unit="m2/s",
                    source="worked out above",
                ),
            ),
            result=Figure(
                name="spread by then",
                value=average.spread_area_m2,
                unit="m2",
                source="worked out here",
            ),
        )
    )
    table = farm.defaults
    steps.append(
        Step(
            title="How far a real day strays",
            formula="10,000 drawn days; the stop is the latest time that keeps the chance",
            inputs=tuple(
                Figure(
                    name=name,
                    value=given.value,
                    unit=given.unit,
                    source=given.source,
                    low=given.low,
                    high=given.high,
                )
                for name, given in (
                    ("all rates together, spread", table["shared_rate_cv"]),
                    ("one machine's own, spread", table["machine_rate_cv"]),
                    ("one refill, spread", table["refill_cv"]),
                    ("the changeover, spread", table["changeover_cv"]),
                    ("breakdowns of a machine", figures["day.breakdowns"]),
                    ("mean length of a breakdown", figures["day.repair"]),
                )
            ),
            result=Figure(
                name="closing time, one standard deviation",
                value=max((c.closes_sd_s for c in task.covers), default=0.0),
                unit="s",
                source=planned.windows.sd_source,
            ),
        )
    )
    return tuple(steps)
