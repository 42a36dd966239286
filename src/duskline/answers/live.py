"""What holds now: the day re-planned from what has happened, after every event.

The log is settled, every machine's pace is learned from it, its work is carried on to now, and
the day is planned again from there. What the stop was, what it is now and what moved it stand
side by side.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from duskline.answers.day import DayAnswer, answer_of, uncertainty_of
from duskline.answers.day_plan import NOTHING_M2, DayQuestion, PlannedDay, plan_day
from duskline.answers.levers import spreading_ends_s
from duskline.answers.live_leave import Leave, ground_to_leave
from duskline.answers.live_now import (
    LEAST_AREA_M2,
    Ground,
    MachineNow,
    Now,
    halts_today,
    machines_now,
    stopped_at,
    with_paces,
)
from duskline.answers.live_seed import LoadCheck, SeedNow, load_checks, seed_now
from duskline.answers.telling import settled as settled_log
from duskline.core import day as balance
from duskline.core.errors import NoWindow
from duskline.core.farm import Farm
from duskline.core.light import local_midnight_at, moment_at, seconds_after
from duskline.core.log import ELSEWHERE, WORK, Event, Halt, Settled
from duskline.core.pace import Paces

__all__ = [
    "Cause",
    "CauseKey",
    "LiveAnswer",
    "SaidAndDid",
    "Was",
    "live_answer",
    "plan_event",
    "said_and_did",
]

REPLICATIONS = 2_000
MEANS_DAYS = 500
"""Of the drawn days, those that mean areas, the ladder and the causes are taken from."""
HOUR_S = 3600.0
MINUTE_S = 60.0
NO_TIME_S = 1e-5


class CauseKey(StrEnum):
    """What may have moved the stop."""

    COVERING = "covering pace"
    SPREADING = "spreading pace"
    RAIN = "rain"
    HALT = "a halt"
    LATE_START = "late start"
    OPEN_BEFORE = "open from before"


@dataclass(frozen=True, kw_only=True, slots=True)
class Cause:
    """One thing that moved the stop.

    Attributes
    ----------
    earlier_s
        How much later the stop would be had this one thing gone as planned; below zero where it
        helped. Causes do not add up: two slow things cost more, or less, than each alone. [s]
    machines
        Which machines it was.
    now_value, planned_value
        Rates [m2/s] for a pace, seconds for a halt and a late start [s], an area for what lay
        open [m2]; None for rain.
    """

    key: CauseKey
    earlier_s: float
    machines: tuple[str, ...] = ()
    now_value: float | None = None
    planned_value: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Was:
    """The plan before: as it was published, else as the morning would have had it."""

    stop_at: datetime
    area_m2: float | None
    chance_fraction: float | None
    published_at: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class SaidAndDid:
    """The day's last line: what the first plan of the day said, and what was done.

    Attributes
    ----------
    said_stop_at, said_area_m2
        None where no plan was published.
    did_stop_at, did_area_m2, covered_m2, open_m2
        When spreading ended (None while it may go on), what was spread, covered and left open.
    covered_by
        The last telling of covering.
    """

    said_stop_at: datetime | None
    said_area_m2: float | None
    did_stop_at: datetime | None
    did_area_m2: float
    covered_m2: float
    open_m2: float
    covered_by: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class LiveAnswer:
    """What holds now.

    Attributes
    ----------
    day
        The day planned again; None where there is nothing to plan any more (``closed`` says why).
    now
        Machines and fields: told, and carried on to now.
    paces
        What was learned; None where the shown rates are taken as they stand.
    was, first
        The plan before this, and the first of the day.
    causes
        What moved the stop since the morning, the largest first.
    kept_chance_fraction
        The chance that all is covered if the spreader keeps to the stop that was.
    chance_sd_fraction, ladder_chance_sd_fraction
        How far the chances may be out for having drawn no more days.
    day_over
        Covering must be done by now.
    stopped
        All spreaders are done for the day.
    standing
        Machines that stand, with the moment they are expected to run again.
    not_heard
        Machines that should be at work and told nothing today.
    """

    now_at: datetime
    on: date
    time_zone: str
    day: DayAnswer | None
    closed: str
    now: Now
    paces: Paces | None
    was: Was | None
    first: Was | None
    causes: tuple[Cause, ...]
    kept_chance_fraction: float | None
    chance_sd_fraction: float
    ladder_chance_sd_fraction: float
    loads: tuple[LoadCheck, ...]
    seed: tuple[SeedNow, ...]
    leave: tuple[Leave, ...]
    rain_at: datetime | None
    halts: tuple[Halt, ...]
    day_over: bool
    stopped: bool
    standing: tuple[tuple[str, datetime], ...]
    not_heard: tuple[str, ...]
    end: SaidAndDid
    settled: Settled
    replications: int

    @property
    def told_open_m2(self) -> float:
        """Seed lying bare, as told. [m2]"""
        return sum(one.told_open_m2 for one in self.now.ground)

    @property
    def open_m2(self) -> float:
        """Seed lying bare now, work carried on since it was told. [m2]"""
        return sum(one.open_m2 for one in self.now.ground)

    def machine(self, name: str) -> MachineNow | None:
        """Return one machine by its name; None if it is not at work today."""
        return next((one for one in self.now.machines if one.machine == name), None)


def live_answer(
    farm: Farm,
    now_at: datetime,
    *,
    events: Iterable[Event] | None = None,
    settled: Settled | None = None,
    morning: Was | None = None,
    shrink: bool = True,
    sure_fraction: float | None = None,
    replications: int = REPLICATIONS,
    seed: int = 20261018,
    levers_too: bool = False,
) -> LiveAnswer:
    """Return what holds now by what has happened.

    Parameters
    ----------
    now_at
        The moment, time-zone aware.
    events, settled
        What was told, or what it adds up to; the farm's own log where neither is given.
    morning
        The plan of the morning where none was published and it is known already: the ``first``
        of an earlier answer of that day. None works it out.
    shrink
        Whether each machine's pace weighs plan and log; else rates are taken as they were shown.
    sure_fraction
        None for the farm's own.
    replications, seed
        Drawn days. ``LiveAnswer.chance_sd_fraction`` says what their number leaves open.
    levers_too
        Whether to work out the levers, which takes as long again.

    Raises
    ------
    NobodyMayDrive
        A machine the day needs has no driver who may drive it.
    """
    zone = ZoneInfo(farm.time_zone)
    now_at = now_at.astimezone(zone)
    on = now_at.date()
    start_at = local_midnight_at(on, zone)
    told = _with_machines(farm, settled if settled is not None else settled_log(farm, events))
    rain_at = _rain_at(told, start_at, now_at)
    # Rates of the plan are those of the morning: what earlier days' logs have shown.
    before = replace(
        farm, told=(), log=tuple(_as_pace(farm, e) for e in told.events if e.at < start_at)
    )
    question = DayQuestion(
        on=on,
        now_at=now_at,
        left_m2=_left_m2(farm, told, now_at),
        rain_at=rain_at,
        sure_fraction=sure_fraction,
        seed=seed,
        replications=replications,
    )
    asked = _Asked(
        morning=before,
        farm=_current_field_first(before, told, start_at, now_at),
        settled=told,
        question=question,
        start_at=start_at,
        now_at=now_at,
        first=morning,
        shrink=shrink,
        levers_too=levers_too,
    )
    try:
        planned = _plan(asked, rain_at)
    except NoWindow as none:
        return _without_plan(asked, none.reason)
    return _with_plan(asked, planned)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Asked:
    """What is asked; the farm as the morning had it, and with the fields at work put first."""

    morning: Farm
    farm: Farm
    settled: Settled
    question: DayQuestion
    start_at: datetime
    now_at: datetime
    first: Was | None
    shrink: bool
    levers_too: bool

    @property
    def now_s(self) -> float:
        return seconds_after(self.start_at, self.now_at)


def _plan(asked: _Asked, rain_at: datetime | None) -> PlannedDay:
    """Return the day from now on, on the morning's rates."""
    spread, covered = asked.settled.day_m2(asked.start_at, asked.now_at)
    question = replace(asked.question, spread_m2=spread, covered_m2=covered, rain_at=rain_at)
    return plan_day(asked.farm, question, asked.now_at.date(), asked.start_at)


def _with_plan(asked: _Asked, planned: PlannedDay) -> LiveAnswer:
    unsure = uncertainty_of(asked.farm, planned)
    now, paces = machines_now(
        asked.farm,
        planned,
        asked.settled,
        start_at=asked.start_at,
        now_at=asked.now_at,
        left_m2=asked.question.left_m2 or {},
        own_cvs=(*unsure.spreader_rate_cv, *unsure.cover_rate_cv),
        shared_cv=unsure.shared_rate_cv,
        shrink=asked.shrink,
    )
    names = [s.name for s in planned.planned.spreaders]
    stops = stopped_at(asked.settled, names, asked.start_at, asked.now_at)
    plain = _from_now(asked, planned.planned, now, stops)
    live = with_paces(now, plain)
    if asked.now_s >= live.covered_by_s:
        return _without_plan(asked, "", now=now, paces=paces)
    if paces is not None:
        unsure = _unsure_from_now(asked, planned.planned, live, unsure, paces)
    else:
        unsure = _in_order(unsure, planned.planned, live)
    draws = balance.draw_day(
        live, unsure, replications=asked.question.replications, seed=asked.question.seed
    )
    latest = balance.simulate_day(live, draws).latest_stop_s
    by_name = {one.name: one for one in asked.farm.fields}
    today = replace(
        planned,
        planned=plain,
        observed=live,
        observed_rate=_shown(now, live),
        fields=tuple(by_name[one.name] for one in plain.fields),
    )
    question = replace(
        asked.question,
        spread_m2=now.spread_m2,
        covered_m2=min(now.covered_m2, now.spread_m2),
        rain_at=None,
    )
    day = answer_of(
        asked.farm,
        question,
        today,
        average_on=live,
        live=live,
        draws=draws,
        latest_stop_s=latest,
        levers_too=asked.levers_too,
        means_days=min(MEANS_DAYS, asked.question.replications),
    )
    day = _loads_to_come(replace(day, average_observed=None), live, now, len(names))
    first, was = _plans_said(asked)
    if first is None:
        first = was = asked.first or _morning(asked)
    stopped = len(stops) == len(names)
    causes = () if stopped else _causes(asked, planned, now, plain, live, draws, day)
    return _answer(
        asked,
        now=now,
        paces=paces,
        day=day,
        first=first,
        was=was,
        causes=causes,
        kept_chance_fraction=_kept(asked, was, latest),
        stopped=stopped,
        leave=ground_to_leave(asked.farm, now.ground, bare_m2=day.bare_if_hopeless_m2)
        if day.hopeless
        else (),
        not_heard=_not_heard(asked, planned, now),
    )


def _without_plan(
    asked: _Asked, reason: str, *, now: Now | None = None, paces: Paces | None = None
) -> LiveAnswer:
    """Return what is known where there is nothing to plan: the day is closed, or over."""
    first, was = _plans_said(asked)
    if now is None:
        spread, covered = asked.settled.day_m2(asked.start_at, asked.now_at)
        now = Now(
            machines=(),
            ground=_ground_as_told(asked),
            told_spread_m2=spread,
            told_covered_m2=covered,
            spread_m2=spread,
            covered_m2=covered,
            open_in_the_morning_m2=0.0,
        )
    over = not reason
    bare = sum(one.open_m2 for one in now.ground)
    return _answer(
        asked,
        now=now,
        paces=paces,
        closed=reason or "the day is over",
        first=first,
        was=was,
        day_over=over,
        leave=ground_to_leave(asked.farm, now.ground, bare_m2=bare),
    )


def _answer(
    asked: _Asked,
    *,
    now: Now,
    paces: Paces | None,
    first: Was | None,
    was: Was | None,
    leave: tuple[Leave, ...],
    day: DayAnswer | None = None,
    closed: str = "",
    causes: tuple[Cause, ...] = (),
    kept_chance_fraction: float | None = None,
    stopped: bool = False,
    day_over: bool = False,
    not_heard: tuple[str, ...] = (),
) -> LiveAnswer:
    checks = load_checks(asked.farm, asked.settled, start_at=asked.start_at, now_at=asked.now_at)
    days = asked.question.replications
    return LiveAnswer(
        now_at=asked.now_at,
        on=asked.now_at.date(),
        time_zone=asked.farm.time_zone,
        day=day,
        closed=closed,
        now=now,
        paces=paces,
        was=was,
        first=first,
        causes=causes,
        kept_chance_fraction=kept_chance_fraction,
        chance_sd_fraction=_sampling_sd(day.chance_fraction, days) if day else 0.0,
        ladder_chance_sd_fraction=_sampling_sd(day.ladder_chance_fraction, min(MEANS_DAYS, days))
        if day
        else 0.0,
        loads=checks,
        seed=seed_now(asked.farm, now, checks, day),
        leave=leave,
        rain_at=asked.question.rain_at,
        halts=halts_today(asked.settled, asked.start_at, asked.now_at),
        day_over=day_over,
        stopped=stopped,
        standing=tuple((m.machine, m.up_at) for m in now.machines if m.up_at is not None),
        not_heard=not_heard,
        end=said_and_did(asked.settled, start_at=asked.start_at, now_at=asked.now_at),
        settled=asked.settled,
        replications=asked.question.replications,
    )


def _sampling_sd(chance: float, days: int) -> float:
    return math.sqrt(max(0.0, chance * (1.0 - chance)) / days)


# --------------------------------------------------------------------------- from the log


def _with_machines(farm: Farm, settled: Settled) -> Settled:
    """Return the log with the machine named where none was and only one can be meant.

    Parts of an event that the account moves from field to field (their ids have a "/") are
    nobody's work, and stay so.
    """
    only: dict[str, str] = {}
    if len(farm.spreaders) == 1:
        only |= dict.fromkeys(("spread", "load"), farm.spreaders[0].name)
    if len(farm.cultivators) == 1:
        only["covered"] = farm.cultivators[0].name

    def named(event: Event) -> Event:
        if event.machine or event.what not in only or "/" in event.id:
            return event
        return replace(event, machine=only[event.what])

    return replace(
        settled,
        events=tuple(named(event) for event in settled.events),
        all_events=tuple(named(event) for event in settled.all_events),
    )


def _rain_at(settled: Settled, start_at: datetime, now_at: datetime) -> datetime | None:
    """Return for when rain is called today: by the latest call, or by the earliest moment.

    A call for a moment at which work went on after all is past.
    """
    end_at = start_at + timedelta(days=1)
    calls = [e for e in settled.events if e.what == "rain" and start_at <= e.at < end_at]
    known = [e for e in calls if (_told_at(e) or now_at) <= now_at]
    worked_at = max(
        (e.at for e in settled.events if e.what in (*WORK, "load") and e.at <= now_at),
        default=start_at,
    )
    dated = [e for e in known if _told_at(e) is not None]
    if dated:
        latest = max(dated, key=lambda e: (_told_at(e), e.id))
        return latest.at if latest.at > worked_at else None
    return min((e.at for e in known if e.at > worked_at), default=None)


def _as_pace(farm: Farm, event: Event) -> Event:
    """Return an event without its time where that, or its ground, is too little to show a pace."""
    enough = farm.defaults["pace_least_time"].value
    if (event.took_s or 0.0) >= enough and (event.area_m2 or 0.0) >= LEAST_AREA_M2:
        return event
    return replace(event, took_s=None)


def _told_at(event: Event) -> datetime | None:
    return event.clock_at or event.server_at


def _left_m2(farm: Farm, settled: Settled, now_at: datetime) -> dict[str, float]:
    """Return what is left to spread in every field, as told. [m2]"""
    done = settled.by_field_at(now_at)
    left = {}
    for one in farm.fields:
        state = done.get(one.name)
        gone = state.spread_m2 + state.left_out_m2 if state is not None else 0.0
        left[one.name] = max(0.0, one.record_area_m2 - gone)
    return left


def _current_field_first(
    farm: Farm, settled: Settled, start_at: datetime, now_at: datetime
) -> Farm:
    """Return the farm with the fields its spreaders are in before all others in the order."""
    spreaders = {s.name for s in farm.spreaders}
    at_work = {
        event.machine: event.field
        for event in settled.events
        if event.machine in spreaders
        and event.field
        and start_at <= event.at <= now_at
        and event.what in ("begin", "spread", "load")
    }
    if not at_work:
        return farm
    order = tuple(dict.fromkeys((*at_work.values(), *farm.rules.order)))
    return replace(farm, rules=replace(farm.rules, order=order))


def _ground_as_told(asked: _Asked) -> tuple[Ground, ...]:
    left = asked.question.left_m2 or {}
    return tuple(
        Ground(
            field=name,
            told_spread_m2=one.spread_m2,
            told_covered_m2=one.covered_m2,
            spread_m2=one.spread_m2,
            covered_m2=one.covered_m2,
            left_m2=left.get(name, 0.0),
        )
        for name, one in asked.settled.by_field_at(asked.now_at).items()
    )


def _plans_said(asked: _Asked) -> tuple[Was | None, Was | None]:
    """Return the first and the last plan published today."""
    plans = [
        Was(
            stop_at=event.stop_at.astimezone(asked.now_at.tzinfo),
            area_m2=event.area_m2,
            chance_fraction=event.chance_fraction,
            published_at=event.at,
        )
        for event in asked.settled.events
        if event.what == "plan"
        and event.stop_at is not None
        and asked.start_at <= event.at <= asked.now_at
    ]
    return (plans[0], plans[-1]) if plans else (None, None)


def _morning(asked: _Asked) -> Was | None:
    """Return the plan the morning would have had, where none was published."""
    farm = asked.morning
    question = DayQuestion(on=asked.now_at.date(), sure_fraction=asked.question.sure_fraction)
    try:
        planned = plan_day(farm, question, asked.now_at.date(), asked.start_at)
    except NoWindow:
        return None
    task = planned.planned
    draws = balance.draw_day(
        task,
        uncertainty_of(farm, planned),
        replications=asked.question.replications,
        seed=asked.question.seed,
    )
    latest = balance.simulate_day(task, draws).latest_stop_s
    stop_s = _stop_s(task, latest, asked.question.sure_fraction or farm.rules.sure_fraction)
    area, _ = balance.spread_area_by_m2(task, balance.first_days(draws, MEANS_DAYS // 2), stop_s)
    return Was(
        stop_at=moment_at(asked.start_at, stop_s),
        area_m2=area,
        chance_fraction=float((latest >= stop_s - 1e-6).mean()),
        published_at=None,
    )


def _stop_s(task: balance.DayTask, latest: NDArray[np.float64], sure: float) -> float:
    wanted = max(balance.stop_at_chance_s(latest, sure), task.start_s)
    return min(wanted, spreading_ends_s(task))


def _kept(asked: _Asked, was: Was | None, latest: NDArray[np.float64]) -> float | None:
    if was is None:
        return None
    stop_s = max(seconds_after(asked.start_at, was.stop_at), asked.now_s)
    return float((latest >= stop_s - 1e-6).mean())


def _not_heard(asked: _Asked, planned: PlannedDay, now: Now) -> tuple[str, ...]:
    """Return the machines whose work has been open for an hour and that told nothing."""
    first_s = planned.windows.spread_intervals_s[0][0]
    due = {s.name: first_s for s in planned.planned.spreaders}
    due |= {c.name: max(c.opens_s, first_s) for c in planned.planned.covers}
    return tuple(
        one.machine
        for one in now.machines
        if one.heard_at is None and one.machine in due and asked.now_s > due[one.machine] + HOUR_S
    )


# --------------------------------------------------------------------------- the task from now on


def _from_now(
    asked: _Asked, task: balance.DayTask, now: Now, stops: Mapping[str, datetime]
) -> balance.DayTask:
    """Return the day from now on: areas carried on, halts, and who has stopped spreading."""
    left = {one.field: one.left_m2 for one in now.ground}
    elsewhere = sum(one.spread_m2 for one in now.ground if one.field == ELSEWHERE)
    fields = []
    for one in task.fields:
        area = left.get(one.name, one.area_m2)
        # Ground that loads must have reached, nobody has said where: the next fields in order.
        took = min(area, elsewhere)
        elsewhere -= took
        fields.append(replace(one, area_m2=area - took))
    unsown = [f for f in fields if f.area_m2 >= 1.0]
    downs = _downs(asked, now)
    task = replace(
        task,
        fields=tuple(unsown) or (replace(fields[0], area_m2=NOTHING_M2),),
        state=balance.State(
            now_s=asked.now_s,
            spread_m2=now.spread_m2,
            covered_m2=min(now.covered_m2, now.spread_m2),
        ),
        spreaders=tuple(replace(s, down=downs.get(s.name, ())) for s in task.spreaders),
        covers=tuple(replace(c, down=downs.get(c.name, ())) for c in task.covers),
        takeovers=tuple(replace(t, down=downs.get(t.name, ())) for t in task.takeovers),
    )
    return _stopped(asked, task, stops) if stops else task


def _downs(asked: _Asked, now: Now) -> dict[str, tuple[tuple[float, float], ...]]:
    """Return when machines are out of work from now on: to where told, else a usual repair."""
    found: dict[str, tuple[tuple[float, float], ...]] = {}
    for halt in halts_today(asked.settled, asked.start_at, asked.now_at):
        if halt.to_at is not None and halt.to_at > asked.now_at:
            span = (asked.now_s, seconds_after(asked.start_at, halt.to_at))
            found[halt.machine] = (*found.get(halt.machine, ()), span)
    for one in now.machines:
        spans = found.get(one.machine, ())
        if one.up_at is not None:
            spans = (*spans, (asked.now_s, seconds_after(asked.start_at, one.up_at)))
        elif one.refill_left_s > 0.0 and not spans:
            spans = ((asked.now_s, asked.now_s + one.refill_left_s),)
        if spans:
            found[one.machine] = spans
    return found


def _stopped(
    asked: _Asked, task: balance.DayTask, stops: Mapping[str, datetime]
) -> balance.DayTask:
    """Return the day with some spreaders done, their drivers changing over since then."""
    running = tuple(s for s in task.spreaders if s.name not in stops)
    names = [s.name for s in task.spreaders]
    joined = tuple(
        balance.Cover(
            name=t.name,
            rate_m2_per_s=t.rate_m2_per_s,
            opens_s=max(
                t.opens_s,
                seconds_after(asked.start_at, stops[names[t.spreader_index]]) + t.changeover_s,
            ),
            closes_s=t.closes_s,
            closes_sd_s=t.closes_sd_s,
            down=t.down,
        )
        for t in task.takeovers
        if names[t.spreader_index] in stops
    )
    rest = tuple(
        replace(t, spreader_index=[s.name for s in running].index(names[t.spreader_index]))
        for t in task.takeovers
        if names[t.spreader_index] not in stops
    )
    intervals = task.spread_intervals
    if not running:
        # The balance knows no day without a spreader: this one has no time to spread anything.
        intervals = ((task.start_s, task.start_s + NO_TIME_S),)
    return replace(
        task,
        spread_intervals=intervals,
        spread_closes_sd_s=task.spread_closes_sd_s if running else 0.0,
        spreaders=running or task.spreaders[:1],
        covers=(*task.covers, *joined),
        takeovers=rest,
    )


def _machine_names(task: balance.DayTask) -> list[str]:
    return [s.name for s in task.spreaders] + [c.name for c in task.machines]


def _in_order(
    unsure: balance.Uncertainty, planned: balance.DayTask, live: balance.DayTask
) -> balance.Uncertainty:
    """Return the same doubts in the order of the machines from now on."""
    cvs = dict(
        zip(
            _machine_names(planned),
            (*unsure.spreader_rate_cv, *unsure.cover_rate_cv),
            strict=True,
        )
    )
    return replace(
        unsure,
        spreader_rate_cv=tuple(cvs[s.name] for s in live.spreaders),
        cover_rate_cv=tuple(cvs[c.name] for c in live.machines),
    )


def _unsure_from_now(
    asked: _Asked,
    planned: balance.DayTask,
    live: balance.DayTask,
    unsure: balance.Uncertainty,
    paces: Paces,
) -> balance.Uncertainty:
    """Return how far the rest of the day may stray, by what is known of every machine.

    What is left of the day's doubt, and the hours to come, which stray about the day: the fewer
    are left, the more. Never more doubt than the morning had.
    """
    hourly = asked.farm.defaults["hourly_rate_cv"].value
    hours = max(live.covered_by_s - asked.now_s, MINUTE_S) / HOUR_S
    morning = _in_order(unsure, planned, live)
    own_before = dict(
        zip(
            _machine_names(live),
            (*morning.spreader_rate_cv, *morning.cover_rate_cv),
            strict=True,
        )
    )
    by_name = dict(zip(_machine_names(planned), paces.machines, strict=True))
    shared, own = {}, {}
    for name in _machine_names(live):
        pace = by_name[name]
        before = math.log1p(own_before[name] ** 2) + math.log1p(unsure.shared_rate_cv**2)
        shared_var = pace.shared_sd**2
        own_var = min(pace.own_sd**2 + hourly**2 / hours, before - shared_var)
        shared[name] = math.sqrt(math.expm1(shared_var))
        own[name] = math.sqrt(math.expm1(max(own_var, 0.0)))
    return replace(
        unsure,
        shared_rate_cvs=tuple(shared[name] for name in _machine_names(live)),
        spreader_rate_cv=tuple(own[s.name] for s in live.spreaders),
        cover_rate_cv=tuple(own[c.name] for c in live.machines),
    )


def _shown(now: Now, task: balance.DayTask) -> float | None:
    """Return what the machines covering from the start have shown, all together. [m2/s]"""
    names = {c.name for c in task.covers}
    at_work = [m for m in now.machines if m.machine in names]
    shown = [m.shown_m2_per_s for m in at_work]
    if not shown or all(rate is None for rate in shown):
        return None
    return sum(m.shown_m2_per_s or m.planned_m2_per_s for m in at_work)


def _loads_to_come(
    day: DayAnswer, task: balance.DayTask, now: Now, spreaders_count: int
) -> DayAnswer:
    """Return the day with its loads counted from what was spread today, not from what lay open."""
    if spreaders_count != len(task.spreaders) or now.open_in_the_morning_m2 <= 0.0:
        return day
    each_kg = (
        (day.spread_area_m2 - now.open_in_the_morning_m2)
        * task.mean_rate_kg_per_m2
        / spreaders_count
    )
    full = int(max(0.0, each_kg) // day.load_kg)
    return replace(day, full_loads_count=full, last_load_kg=max(0.0, each_kg - full * day.load_kg))


# --------------------------------------------------------------------------- what moved the stop


def _causes(
    asked: _Asked,
    planned: PlannedDay,
    now: Now,
    plain: balance.DayTask,
    live: balance.DayTask,
    draws: balance.Draws,
    day: DayAnswer,
) -> tuple[Cause, ...]:
    """Return what moved the stop, each found by letting that one thing go as planned."""
    some = balance.first_days(draws, MEANS_DAYS)
    latest = balance.simulate_day(live, some).latest_stop_s
    stop_s = _stop_s(live, latest, day.sure_fraction)
    found = []
    for make in (_covering, _spreading, _rain, _halts, _late_start, _open_before):
        what = make(asked, planned, now, plain, live)
        if what is None:
            continue
        cause, task = what
        latest = balance.simulate_day(task, some).latest_stop_s
        earlier = _stop_s(task, latest, day.sure_fraction) - stop_s
        if abs(earlier) >= MINUTE_S:
            found.append(replace(cause, earlier_s=earlier))
    return tuple(sorted(found, key=lambda cause: -abs(cause.earlier_s)))


_Made = tuple[Cause, balance.DayTask] | None
_Make = Callable[[_Asked, PlannedDay, Now, balance.DayTask, balance.DayTask], _Made]


def _moved(
    task: balance.DayTask, *, spread_m2: float = 0.0, covered_m2: float = 0.0
) -> balance.DayTask:
    """Return the task with so much more spread and covered by now; fields give and take it."""
    state = task.state or balance.State(now_s=task.start_s)
    more = max(spread_m2, -state.spread_m2)
    fields, rest = [], more
    for one in task.fields:
        took = min(rest, one.area_m2 - NOTHING_M2) if rest > 0.0 else rest
        rest -= took
        fields.append(replace(one, area_m2=one.area_m2 - took))
    more -= max(rest, 0.0)
    spread = state.spread_m2 + more
    return replace(
        task,
        fields=tuple(fields),
        state=replace(
            state,
            spread_m2=spread,
            covered_m2=min(max(0.0, state.covered_m2 + covered_m2), spread),
        ),
    )


def _covering(
    _asked: _Asked, _planned: PlannedDay, now: Now, plain: balance.DayTask, live: balance.DayTask
) -> _Made:
    at_work = [m for m in now.machines if m.work == "covered"]
    shown = [m for m in at_work if m.shown_m2_per_s is not None]
    if not shown:
        return None
    missed = sum((m.planned_m2_per_s - (m.shown_m2_per_s or 0.0)) * m.took_s for m in shown)
    task = replace(live, covers=plain.covers, takeovers=plain.takeovers)
    return (
        Cause(
            key=CauseKey.COVERING,
            earlier_s=0.0,
            machines=tuple(m.machine for m in shown),
            now_value=sum(m.shown_m2_per_s or 0.0 for m in shown),
            planned_value=sum(m.planned_m2_per_s for m in shown),
        ),
        _moved(task, covered_m2=missed),
    )


def _spreading(
    _asked: _Asked, _planned: PlannedDay, now: Now, plain: balance.DayTask, live: balance.DayTask
) -> _Made:
    shown = [m for m in now.machines if m.work == "spread" and m.shown_m2_per_s is not None]
    if not shown:
        return None
    planned = {s.name: s.moving_rate_m2_per_s for s in plain.spreaders}
    missed = sum((m.planned_m2_per_s - (m.shown_m2_per_s or 0.0)) * m.took_s for m in shown)
    task = replace(
        live,
        spreaders=tuple(replace(s, moving_rate_m2_per_s=planned[s.name]) for s in live.spreaders),
    )
    return (
        Cause(
            key=CauseKey.SPREADING,
            earlier_s=0.0,
            machines=tuple(m.machine for m in shown),
            now_value=sum(m.shown_m2_per_s or 0.0 for m in shown),
            planned_value=sum(m.planned_m2_per_s for m in shown),
        ),
        _moved(task, spread_m2=missed),
    )


def _rain(
    asked: _Asked, _planned: PlannedDay, _now: Now, _plain: balance.DayTask, live: balance.DayTask
) -> _Made:
    if asked.question.rain_at is None:
        return None
    dry = _plan(asked, None).planned
    closes = {c.name: (c.closes_s, c.closes_sd_s) for c in dry.machines}
    task = replace(
        live,
        spread_intervals=dry.spread_intervals,
        spread_closes_sd_s=dry.spread_closes_sd_s,
        rain_hours_s=dry.rain_hours_s,
        rain_chance=dry.rain_chance,
        covers=tuple(
            replace(c, closes_s=closes[c.name][0], closes_sd_s=closes[c.name][1])
            for c in live.covers
        ),
        takeovers=tuple(
            replace(t, closes_s=closes[t.name][0], closes_sd_s=closes[t.name][1])
            for t in live.takeovers
        ),
    )
    return Cause(key=CauseKey.RAIN, earlier_s=0.0), task


def _halts(
    asked: _Asked, _planned: PlannedDay, now: Now, _plain: balance.DayTask, live: balance.DayTask
) -> _Made:
    halts = halts_today(asked.settled, asked.start_at, asked.now_at)
    stood = [m for m in now.machines if any(halt.machine == m.machine for halt in halts)]
    if not stood:
        return None
    task = replace(
        live,
        spreaders=tuple(replace(s, down=()) for s in live.spreaders),
        covers=tuple(replace(c, down=()) for c in live.covers),
        takeovers=tuple(replace(t, down=()) for t in live.takeovers),
    )
    return (
        Cause(
            key=CauseKey.HALT,
            earlier_s=0.0,
            machines=tuple(m.machine for m in stood),
            now_value=sum(_halt_s(asked, halt) for halt in halts),
            planned_value=0.0,
        ),
        _moved(
            task,
            spread_m2=sum(m.rate_m2_per_s * m.stood_s for m in stood if m.work == "spread"),
            covered_m2=sum(m.rate_m2_per_s * m.stood_s for m in stood if m.work == "covered"),
        ),
    )


def _halt_s(asked: _Asked, halt: Halt) -> float:
    """Return how long a machine stands in all, so far where its end is not known. [s]"""
    begin = max(halt.from_at, asked.start_at)
    return max(0.0, ((halt.to_at or asked.now_at) - begin).total_seconds())


def _late_start(
    asked: _Asked, planned: PlannedDay, now: Now, plain: balance.DayTask, live: balance.DayTask
) -> _Made:
    """Return the day as if every machine had begun when its work opened."""
    opens_s = planned.windows.spread_intervals_s[0][0]
    cover_opens = {c.name: max(c.opens_s, opens_s + plain.lead_s) for c in planned.planned.covers}
    late: dict[str, float] = {}
    for one in now.machines:
        due_s = opens_s if one.work == "spread" else cover_opens.get(one.machine)
        if due_s is None or one.began_at is None:
            continue
        late[one.machine] = max(0.0, seconds_after(asked.start_at, one.began_at) - due_s)
    late = {name: span for name, span in late.items() if span >= 5.0 * MINUTE_S}
    if not late:
        return None

    def missed(work: str) -> float:
        return sum(
            m.rate_m2_per_s * late.get(m.machine, 0.0) for m in now.machines if m.work == work
        )

    return (
        Cause(
            key=CauseKey.LATE_START,
            earlier_s=0.0,
            machines=tuple(late),
            now_value=max(late.values()),
            planned_value=0.0,
        ),
        _moved(live, spread_m2=missed("spread"), covered_m2=missed("covered")),
    )


def _open_before(
    _asked: _Asked, _planned: PlannedDay, now: Now, _plain: balance.DayTask, live: balance.DayTask
) -> _Made:
    morning = now.open_in_the_morning_m2
    if morning < 50.0 or live.state is None:
        return None
    spread = max(live.state.covered_m2, live.state.spread_m2 - morning)
    return (
        Cause(key=CauseKey.OPEN_BEFORE, earlier_s=0.0, now_value=morning, planned_value=0.0),
        replace(live, state=replace(live.state, spread_m2=spread)),
    )


# --------------------------------------------------------------------------- said and did


def said_and_did(settled: Settled, *, start_at: datetime, now_at: datetime) -> SaidAndDid:
    """Return what the first published plan of the day said, and what was done up to a moment."""
    today = [event for event in settled.events if start_at <= event.at <= now_at]
    plan = next((e for e in today if e.what == "plan" and e.stop_at is not None), None)
    stops = [event.at for event in today if event.what == "stop"]
    spreading = [event.at for event in today if event.what in ("spread", "load")]
    covering = [event.at for event in today if event.what == "covered"]
    spread, covered = settled.day_m2(start_at, now_at)
    morning = sum(
        one.open_m2 for one in settled.by_field_at(start_at - timedelta(microseconds=1)).values()
    )
    return SaidAndDid(
        said_stop_at=plan.stop_at.astimezone(now_at.tzinfo) if plan and plan.stop_at else None,
        said_area_m2=plan.area_m2 if plan else None,
        did_stop_at=max(stops, default=max(spreading, default=None)),
        did_area_m2=max(0.0, spread - morning),
        covered_m2=covered,
        open_m2=max(0.0, spread - covered),
        covered_by=max(covering, default=None),
    )


def plan_event(answer: LiveAnswer, *, person: str = "", device: str = "") -> Event:
    """Return the event that publishes a plan; it is the next answer's "was".

    Raises
    ------
    NoWindow
        There is nothing to plan.
    """
    if answer.day is None:
        raise NoWindow(answer.closed)
    return Event(
        at=answer.now_at,
        what="plan",
        area_m2=answer.day.spread_area_m2,
        stop_at=answer.day.stop_at,
        chance_fraction=answer.day.chance_fraction,
        person=person,
        device=device,
    )
