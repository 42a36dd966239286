"""The day made ready for the balance: hours, crew, machines, fields in order, and the state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from enum import StrEnum
from zoneinfo import ZoneInfo

from duskline.answers.machines import cover_rate_m2_per_s, moving_rate_m2_per_s
from duskline.answers.seed import lot_rate_kg_per_m2, spreader_load_kg
from duskline.answers.windows import DayWindows, day_windows
from duskline.core import day as balance
from duskline.core.crew import CrewPlan, Job, assign_crew
from duskline.core.errors import NoWindow, OutOfRange
from duskline.core.farm import Cultivator, Farm, Field, SpreaderNoun
from duskline.core.light import seconds_after
from duskline.core.log import Settled, area_by_field_m2, seeded_by_field_m2
from duskline.core.order import Stop, ground_distance_m, order_fields

__all__ = [
    "NOTHING_M2",
    "DayQuestion",
    "PlannedDay",
    "Rates",
    "day_of",
    "move_between_s",
    "plan_day",
]

REPLICATIONS = 10_000
HOUR_S = 3600.0
NOTHING_M2 = 1e-3
"""A field that is all spread: a day has to have one."""


class Rates(StrEnum):
    """Which covering rates to plan on once covering has begun."""

    PLANNED = "planned"
    OBSERVED = "observed"
    AUTO = "auto"


@dataclass(frozen=True, kw_only=True, slots=True)
class DayQuestion:
    """What is asked: which day, and where the crew stands.

    Attributes
    ----------
    on
        The date; None for the first day of the forecast, else of the stated windows.
    now_at, spread_m2, covered_m2
        The state; areas None are taken from the log. Spread counts ground that lay open in the
        morning.
    left_m2
        What is left to spread in each field; None: what outline and log leave.
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
    left_m2: Mapping[str, float] | None = None
    rain_at: datetime | None = None
    down: Mapping[str, tuple[tuple[datetime, datetime], ...]] = field(default_factory=dict)
    rates: Rates = Rates.AUTO
    sure_fraction: float | None = None
    seed: int = 20261018
    replications: int = REPLICATIONS


def day_of(farm: Farm, question: DayQuestion, zone: ZoneInfo) -> date:
    """Return the date asked about: stated, of ``now_at``, or the first known one.

    Raises
    ------
    NoWindow
        Nothing says which day is meant.
    """
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
class PlannedDay:
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


def plan_day(farm: Farm, question: DayQuestion, on: date, start_at: datetime) -> PlannedDay:
    """Return the day's balance task, on planned and on observed rates, and what it is made of.

    Raises
    ------
    NoWindow
        No hours on that date, or nothing left to spread.
    NobodyMayDrive
        A machine the day needs has no driver who may drive it.
    OutOfRange
        More covered than spread, or a figure that cannot be.
    """
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
    if not fields and question.left_m2 is not None:
        # Nothing is left to spread, but what lies open still has to be covered.
        fields = tuple(f for f in farm.fields if left[f.name] < 1.0)[:1]
        left |= {f.name: NOTHING_M2 for f in fields}
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
    if question.spread_m2 is not None and question.left_m2 is None:
        task = _drop_spread_today(task, question.spread_m2)
    observed_rate = _observed_rate(task, state)
    observed = task if observed_rate is None else _at_observed(task, observed_rate)
    return PlannedDay(
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
    logged = Settled(events=farm.log).day_m2(start_at, question.now_at)
    spread = logged[0] if spread is None else spread
    covered = logged[1] if covered is None else covered
    if spread < 0.0 or not 0.0 <= covered <= spread * (1.0 + 1e-9) + 1.0:
        raise OutOfRange("area covered", covered, 0.0, spread)
    return balance.State(now_s=now_s, spread_m2=spread, covered_m2=min(covered, spread))


def _left_m2(farm: Farm, question: DayQuestion, start_at: datetime) -> dict[str, float]:
    """Return what is left to spread, field by field: outline less what the log has.

    Where today's area is told by word of mouth the log counts up to this morning only.
    """
    if question.left_m2 is not None:
        return {f.name: max(0.0, question.left_m2.get(f.name, 0.0)) for f in farm.fields}
    until = question.now_at if question.now_at and question.spread_m2 is None else start_at
    done = seeded_by_field_m2(e for e in farm.log if e.at <= until)
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


def move_between_s(farm: Farm, one: Field, other: Field) -> float:
    """Return how long a machine takes from one field to another. [s]"""
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
                move_s=move_between_s(farm, fields[index - 1], one) if index else 0.0,
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
        fields = [replace(task.fields[-1], area_m2=NOTHING_M2)]
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
