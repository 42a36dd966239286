"""What holds now: the day re-planned from what has happened, after every event.

The log is settled, every machine's pace is learned from it, its work is carried on to now, and
the day is planned again from there. What the stop was, what it is now and what moved it stand
side by side.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from duskline.answers.day import DayAnswer, answer_of, uncertainty_of
from duskline.answers.day_plan import NOTHING_M2, DayQuestion, PlannedDay, plan_day
from duskline.answers.levers import spreading_ends_s
from duskline.answers.live_doubt import Doubt, doubted, too_little
from duskline.answers.live_leave import Leave, ground_to_leave
from duskline.answers.live_now import (
    Ground,
    MachineNow,
    Now,
    halts_today,
    machines_now,
    stopped_at,
    with_paces,
)
from duskline.answers.live_order import OrderChange, begun_today, field_order, with_order
from duskline.answers.live_seed import LoadCheck, SeedNow, load_checks, seed_now
from duskline.answers.live_told import (
    as_pace,
    left_to_spread_m2,
    rain_called_at,
    taken_in,
    told_at,
    with_machines,
)
from duskline.answers.telling import settled as settled_log
from duskline.core import day as balance
from duskline.core.errors import NoWindow
from duskline.core.farm import Farm
from duskline.core.light import local_midnight_at, moment_at, seconds_after
from duskline.core.log import ELSEWHERE, Event, Halt, Settled, lost_by_field_m2
from duskline.core.pace import Paces

__all__ = [
    "Cause",
    "CauseKey",
    "LiveAnswer",
    "SaidAndDid",
    "Tap",
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
EVER = datetime.min.replace(tzinfo=UTC)
TINY_M2 = 400.0
"""Ground not worth a word: a tenth of an acre."""


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
    reckoned_value
        Of a pace: what plan and log weighed come to. [m2/s]
    """

    key: CauseKey
    earlier_s: float
    machines: tuple[str, ...] = ()
    now_value: float | None = None
    planned_value: float | None = None
    reckoned_value: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Tap:
    """The newest telling, and what the stop would be now without it; None: no stop at all."""

    event: Event
    was_stop_at: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Was:
    """The plan before: as it was published, else as the morning would have had it.

    ``order`` has its fields in their order, where they are known.
    """

    stop_at: datetime
    area_m2: float | None
    chance_fraction: float | None
    published_at: datetime | None
    order: tuple[str, ...] = ()


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
    quiet
        Machines at work that were last heard of more than an hour ago, and when.
    tap
        The newest telling and the stop without it; None where it was not asked for.
    doubted
        Tellings that are hard to believe and would make the stop later: not counted, or taken
        for fewer than there are, until somebody says that they are right.
    order_changes
        What stands elsewhere than in the morning's order of fields, and why.
    seed_lost_m2
        Ground left out today after it was spread: its seed is lost. [m2]
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
    quiet: tuple[tuple[str, datetime], ...] = ()
    tap: Tap | None = None
    doubted: tuple[Doubt, ...] = ()
    order_changes: tuple[OrderChange, ...] = ()
    seed_lost_m2: float = 0.0

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
    tap_too: bool = False,
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
        of an earlier answer of that day. None works it out, and so is its order of fields.
    shrink
        Whether each machine's pace weighs plan and log; else rates are taken as they were shown.
    sure_fraction
        None for the farm's own.
    replications, seed
        Drawn days. ``LiveAnswer.chance_sd_fraction`` says what their number leaves open.
    levers_too
        Whether to work out the levers, which takes as long again.
    tap_too
        Whether to work out what the stop would be without the newest telling.

    Raises
    ------
    NobodyMayDrive
        A machine the day needs has no driver who may drive it.
    """
    zone = ZoneInfo(farm.time_zone)
    now_at = now_at.astimezone(zone)
    on = now_at.date()
    start_at = local_midnight_at(on, zone)
    told = with_machines(farm, settled if settled is not None else settled_log(farm, events))
    # Rates of the plan are those of the morning: what earlier days' logs have shown.
    before = replace(
        farm, told=(), log=tuple(as_pace(farm, e) for e in told.events if e.at < start_at)
    )
    dawn = None if morning is not None and morning.order else _morning_plan(before, on, start_at)
    asked = _Asked(
        whole=farm,
        morning=before,
        farm=before,
        settled=told,
        question=DayQuestion(
            on=on,
            now_at=now_at,
            sure_fraction=sure_fraction,
            seed=seed,
            replications=replications,
        ),
        start_at=start_at,
        now_at=now_at,
        first=morning,
        dawn=dawn,
        shrink=shrink,
        levers_too=levers_too,
    )
    answer, counted = _believed(_told(asked, told))
    if not tap_too:
        return answer
    return replace(answer, tap=_tap(counted))


def _told(asked: _Asked, told: Settled) -> _Asked:
    """Return what is asked with another log behind it."""
    farm, start_at, now_at = asked.morning, asked.start_at, asked.now_at
    rain_at = rain_called_at(told, start_at, now_at)
    left = left_to_spread_m2(farm, told, now_at)
    order, changes = field_order(
        farm,
        begun_today(farm, told, start_at=start_at, now_at=now_at),
        asked.order,
        start_at=start_at,
        now_at=now_at,
        left_m2=left,
        rain_called=rain_at is not None,
    )
    return replace(
        asked,
        farm=with_order(farm, order),
        settled=told,
        question=replace(asked.question, left_m2=left, rain_at=rain_at),
        order_changes=changes,
    )


def _answered(asked: _Asked) -> LiveAnswer:
    try:
        planned = _plan(asked, asked.question.rain_at)
    except NoWindow as none:
        return _without_plan(asked, none.reason)
    return _with_plan(asked, planned)


def _believed(asked: _Asked) -> tuple[LiveAnswer, _Asked]:
    """Return the answer without tellings that are hard to believe and would do harm if wrong."""
    answer = _answered(asked)
    table = asked.farm.defaults
    doubts = doubted(
        answer.now,
        asked.settled,
        start_at=asked.start_at,
        now_at=asked.now_at,
        most=table["pace_believed"].value,
        least_s=table["pace_least_time"].value,
    )
    slow: tuple[Doubt, ...] = ()
    if answer.day is not None:
        slow = too_little(answer.now, asked.settled, most=table["pace_believed"].value)
    if not doubts and not slow:
        return answer, asked
    without = _without(asked, {one.event.id for one in doubts}) if doubts else asked
    without = replace(without, untrusted=frozenset(one.event.machine for one in slow))
    careful = _answered(without)
    if not _would_be_later(answer, careful):
        return answer, asked
    return replace(careful, doubted=(*doubts, *slow)), without


def _would_be_later(answer: LiveAnswer, careful: LiveAnswer) -> bool:
    """Say whether an answer lets more ground lie open than the careful one."""
    if answer.day is not None and careful.day is not None:
        later = answer.day.stop_at - careful.day.stop_at
        if abs(later) >= timedelta(seconds=MINUTE_S):
            return later > timedelta(0)
    return careful.open_m2 > answer.open_m2


def _without(asked: _Asked, ids: set[str]) -> _Asked:
    """Return what is asked as if some events had not been told."""
    rest = [
        event
        for event in asked.settled.all_events
        if event.id not in ids and event.refers not in ids
    ]
    return _told(asked, with_machines(asked.whole, settled_log(asked.whole, rest)))


def _tap(asked: _Asked) -> Tap | None:
    """Return the newest telling of today, and the stop as it would be now without it."""
    told = [
        event
        for event in asked.settled.all_events
        if event.what not in ("plan", "note")
        and (told_at(event) is not None or event.what != "rain")
        and asked.start_at <= taken_in(event) <= asked.now_at
    ]
    if not told:
        return None
    newest = max(told, key=lambda event: (taken_in(event), event.clock_at or event.at, event.id))
    return Tap(event=newest, was_stop_at=_stop_without(asked, newest))


def _stop_without(asked: _Asked, event: Event) -> datetime | None:
    other = _without(asked, {event.id})
    try:
        planned = _plan(other, other.question.rain_at)
    except NoWindow:
        return None
    found = _from_now_on(other, planned)
    names = {s.name for s in planned.planned.spreaders}
    if other.now_s >= found.live.covered_by_s or names <= found.stops.keys():
        return None
    draws = balance.draw_day(
        found.live,
        found.unsure,
        replications=other.question.replications,
        seed=other.question.seed,
    )
    latest = balance.simulate_day(found.live, draws).latest_stop_s
    sure = other.question.sure_fraction or other.farm.rules.sure_fraction
    return moment_at(other.start_at, _stop_s(found.live, latest, sure))


@dataclass(frozen=True, kw_only=True, slots=True)
class _Asked:
    """What is asked; the farm as the morning had it, and with its fields in today's order.

    ``dawn`` is the day as planned in the morning, where ``first`` does not tell its fields.
    """

    whole: Farm
    morning: Farm
    farm: Farm
    settled: Settled
    question: DayQuestion
    start_at: datetime
    now_at: datetime
    first: Was | None
    dawn: PlannedDay | None
    shrink: bool
    levers_too: bool
    order_changes: tuple[OrderChange, ...] = ()
    untrusted: frozenset[str] = frozenset()

    @property
    def now_s(self) -> float:
        return seconds_after(self.start_at, self.now_at)

    @property
    def order(self) -> tuple[str, ...]:
        """The morning's fields in their order; none on a closed day."""
        if self.first is not None and self.first.order:
            return self.first.order
        return () if self.dawn is None else tuple(one.name for one in self.dawn.fields)


def _plan(asked: _Asked, rain_at: datetime | None) -> PlannedDay:
    """Return the day from now on, on the morning's rates."""
    spread, covered = asked.settled.day_m2(asked.start_at, asked.now_at)
    question = replace(asked.question, spread_m2=spread, covered_m2=covered, rain_at=rain_at)
    return plan_day(asked.farm, question, asked.now_at.date(), asked.start_at)


@dataclass(frozen=True, kw_only=True, slots=True)
class _FromNowOn:
    """The day from now on: where all stand, the task on the plan's rates and on the learned."""

    now: Now
    paces: Paces | None
    stops: Mapping[str, datetime]
    plain: balance.DayTask
    live: balance.DayTask
    unsure: balance.Uncertainty


def _from_now_on(asked: _Asked, planned: PlannedDay) -> _FromNowOn:
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
        untrusted=asked.untrusted,
    )
    names = [s.name for s in planned.planned.spreaders]
    stops = stopped_at(asked.settled, names, asked.start_at, asked.now_at)
    plain = _from_now(asked, planned.planned, now, stops)
    live = with_paces(now, plain)
    if asked.now_s < live.covered_by_s:
        if paces is not None:
            unsure = _unsure_from_now(asked, planned.planned, live, unsure, paces)
        else:
            unsure = _in_order(unsure, planned.planned, live)
    return _FromNowOn(now=now, paces=paces, stops=stops, plain=plain, live=live, unsure=unsure)


def _with_plan(asked: _Asked, planned: PlannedDay) -> LiveAnswer:
    found = _from_now_on(asked, planned)
    now, paces, plain, live, unsure = (
        found.now, found.paces, found.plain, found.live, found.unsure,
    )  # fmt: skip
    names = [s.name for s in planned.planned.spreaders]
    if asked.now_s >= live.covered_by_s:
        return _without_plan(asked, "", now=now, paces=paces)
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
    stopped = len(found.stops) == len(names)
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
        seed=seed_now(asked.farm, now, checks, day, lost_m2=_lost_m2(asked)),
        leave=leave,
        rain_at=asked.question.rain_at,
        halts=tuple(
            _local_halt(halt, asked)
            for halt in halts_today(asked.settled, asked.start_at, asked.now_at)
        ),
        day_over=day_over,
        stopped=stopped,
        standing=tuple((m.machine, m.up_at) for m in now.machines if m.up_at is not None),
        not_heard=not_heard,
        end=said_and_did(asked.settled, start_at=asked.start_at, now_at=asked.now_at),
        settled=asked.settled,
        replications=asked.question.replications,
        quiet=() if stopped and not _told_open(now) else _quiet(asked, now),
        order_changes=asked.order_changes if day is not None and not stopped else (),
        seed_lost_m2=sum(_lost_m2(asked, asked.start_at).values()),
    )


def _local_halt(halt: Halt, asked: _Asked) -> Halt:
    zone = asked.now_at.tzinfo
    return replace(
        halt,
        from_at=halt.from_at.astimezone(zone),
        to_at=None if halt.to_at is None else halt.to_at.astimezone(zone),
    )


def _told_open(now: Now) -> bool:
    return sum(one.told_open_m2 for one in now.ground) >= TINY_M2


def _quiet(asked: _Asked, now: Now) -> tuple[tuple[str, datetime], ...]:
    """Return the machines that work on by what is reckoned and told nothing for an hour."""
    left = any(one.left_m2 >= TINY_M2 for one in now.ground) or any(
        area >= TINY_M2 for area in (asked.question.left_m2 or {}).values()
    )
    goes_on = {"spread": left, "covered": _told_open(now)}
    return tuple(
        (one.machine, one.heard_at.astimezone(asked.now_at.tzinfo))
        for one in now.machines
        if one.heard_at is not None
        and one.up_at is None
        and one.stopped_at is None
        and goes_on[one.work]
        and (asked.now_at - one.heard_at).total_seconds() > HOUR_S
    )


def _lost_m2(asked: _Asked, since_at: datetime = EVER) -> dict[str, float]:
    """Return the ground left out after it had been spread, by field. [m2]"""
    return lost_by_field_m2(e for e in asked.settled.events if since_at <= e.at <= asked.now_at)


def _sampling_sd(chance: float, days: int) -> float:
    return math.sqrt(max(0.0, chance * (1.0 - chance)) / days)


# --------------------------------------------------------------------------- from the log


def _morning_plan(farm: Farm, on: date, start_at: datetime) -> PlannedDay | None:
    """Return the day as the morning had it; None on a closed day."""
    try:
        return plan_day(farm, DayQuestion(on=on), on, start_at)
    except NoWindow:
        return None


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
    planned = asked.dawn or _morning_plan(farm, asked.now_at.date(), asked.start_at)
    if planned is None:
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
        order=tuple(one.name for one in planned.fields),
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
        if abs(earlier) >= MINUTE_S and not _at_odds(cause, earlier):
            found.append(replace(cause, earlier_s=earlier))
    return tuple(sorted(found, key=lambda cause: -abs(cause.earlier_s)))


def _at_odds(cause: Cause, earlier_s: float) -> bool:
    """Say whether what a pace shows and what it is reckoned to do to the stop pull apart."""
    if cause.now_value is None or cause.planned_value is None or cause.reckoned_value is None:
        return False
    shown = cause.now_value - cause.planned_value
    reckoned = cause.reckoned_value - cause.planned_value
    return shown * reckoned < 0.0 or (
        cause.key is CauseKey.COVERING and (shown < 0.0) != (earlier_s > 0.0)
    )


def _reckoned(shown: Iterable[MachineNow]) -> float:
    """Return what machines that have shown a pace are reckoned to do together. [m2/s]"""
    return sum((m.shown_m2_per_s or 0.0) if m.pace is None else m.pace.rate_m2_per_s for m in shown)


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
            reckoned_value=_reckoned(shown),
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
            reckoned_value=_reckoned(shown),
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
