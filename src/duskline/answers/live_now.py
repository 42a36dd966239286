"""Where every machine stands now: what it has told, its pace, and what it has done since.

What was told is never quite now. Each machine's work is carried on from its last telling at its
own pace, spread seed too: seed that lies and is not told yet is what leaves ground bare.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Literal, TypeAlias

from duskline.answers.day_plan import PlannedDay, move_between_s
from duskline.core import day as balance
from duskline.core.farm import Farm
from duskline.core.light import moment_at, seconds_after
from duskline.core.log import RUNNING, Event, Halt, Settled, area_by_field_m2, worked
from duskline.core.pace import Expected, Pace, Paces, Seen, learned

__all__ = [
    "LEAST_AREA_M2",
    "Ground",
    "MachineNow",
    "Now",
    "halts_today",
    "machines_now",
    "stopped_at",
    "with_paces",
]

LEAST_AREA_M2 = 50.0
"""Less ground than this shows no pace."""

Work: TypeAlias = Literal["spread", "covered"]
Span: TypeAlias = tuple[float, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class MachineNow:
    """One machine now. Areas in m2, rates in m2/s, spans in s.

    Attributes
    ----------
    field
        Where it was last heard of; "" if it was not.
    heard_at, began_at
        When it was last heard of today, and when it began; None if it was not.
    told_m2, took_s
        What it told today, and the time behind it: stops, moves and refills taken off.
    shown_m2_per_s
        The one over the other; None where there is too little, or where it may have waited for
        ground to cover.
    planned_m2_per_s, pace
        The planned rate, and what plan and log together say.
    odd
        Whether what it has shown is so far from the plan that a telling is likelier to be wrong
        or missing.
    carried_m2, carried_s
        What it is taken to have done since its last telling, and how long that was.
    hopper_kg, refill_left_s
        A spreader's seed now, and what is left of its refill; None for other machines.
    stood_s
        How long it has stood today. [s]
    up_at
        While it stands: when it is expected to run again, by the usual length of a repair.
    stopped_at
        When its spreading ended for the day.
    """

    machine: str
    work: Work
    field: str = ""
    heard_at: datetime | None = None
    began_at: datetime | None = None
    told_m2: float = 0.0
    took_s: float = 0.0
    shown_m2_per_s: float | None = None
    planned_m2_per_s: float
    pace: Pace | None = None
    odd: bool = False
    carried_m2: float = 0.0
    carried_s: float = 0.0
    hopper_kg: float | None = None
    refill_left_s: float = 0.0
    stood_s: float = 0.0
    up_at: datetime | None = None
    stopped_at: datetime | None = None

    @property
    def rate_m2_per_s(self) -> float:
        """The rate it is reckoned with. [m2/s]"""
        return self.planned_m2_per_s if self.pace is None else self.pace.rate_m2_per_s


@dataclass(frozen=True, kw_only=True, slots=True)
class Ground:
    """One field now: told, and carried on to now. [m2]"""

    field: str
    told_spread_m2: float
    told_covered_m2: float
    spread_m2: float
    covered_m2: float
    left_m2: float

    @property
    def told_open_m2(self) -> float:
        """Spread and not covered, as told. [m2]"""
        return self.told_spread_m2 - self.told_covered_m2

    @property
    def open_m2(self) -> float:
        """Spread and not covered, carried on to now. [m2]"""
        return max(0.0, self.spread_m2 - self.covered_m2)


@dataclass(frozen=True, kw_only=True, slots=True)
class Now:
    """All machines and fields now; the day's areas count ground that lay open in the morning."""

    machines: tuple[MachineNow, ...]
    ground: tuple[Ground, ...]
    told_spread_m2: float
    told_covered_m2: float
    spread_m2: float
    covered_m2: float
    open_in_the_morning_m2: float
    day_factor: float = 1.0


@dataclass(slots=True)
class _Day:
    """What all the steps below need of the day."""

    farm: Farm
    planned: PlannedDay
    settled: Settled
    start_at: datetime
    now_at: datetime
    events: Mapping[str, list[Event]] = field(default_factory=dict)
    untrusted: frozenset[str] = frozenset()

    @property
    def task(self) -> balance.DayTask:
        return self.planned.planned

    @property
    def opens_s(self) -> float:
        return self.planned.windows.spread_intervals_s[0][0]

    @property
    def now_s(self) -> float:
        return seconds_after(self.start_at, self.now_at)

    def s(self, moment: datetime) -> float:
        return seconds_after(self.start_at, moment)

    def open_in_the_morning(self) -> bool:
        """Whether ground lay open in the morning: covering need not wait for the spreader."""
        before = self.settled.by_field_at(self.start_at - timedelta(microseconds=1))
        return any(one.open_m2 > 1.0 for one in before.values())

    def default(self, key: str) -> float:
        return self.farm.defaults[key].value


def machines_now(
    farm: Farm,
    planned: PlannedDay,
    settled: Settled,
    *,
    start_at: datetime,
    now_at: datetime,
    left_m2: Mapping[str, float],
    own_cvs: Sequence[float],
    shared_cv: float,
    shrink: bool,
    untrusted: frozenset[str] = frozenset(),
) -> tuple[Now, Paces | None]:
    """Return where machines and fields stand, and the paces learned.

    Parameters
    ----------
    planned
        The day as planned, its rates those of the morning.
    left_m2
        What is left to spread in each field, as told.
    own_cvs, shared_cv
        How far each machine's day strays by itself, and all of them together.
    shrink
        Whether the pace is plan and log weighed; else what was shown, as it stands.
    untrusted
        Spreaders that have told so little that a telling is likelier to be missing: their pace
        is the plan's, and what they lack of it is taken to lie spread and not told.
    """
    day = _Day(
        farm,
        planned,
        settled,
        start_at,
        now_at,
        _events_today(settled, start_at, now_at),
        untrusted,
    )
    told = _told(day)
    found: Paces | None = None
    if shrink:
        found = _learned(day, told, own_cvs, shared_cv)
        rates = [pace.rate_m2_per_s for pace in found.machines]
        told = [
            replace(m, pace=p, odd=_odd(day, m)) for m, p in zip(told, found.machines, strict=True)
        ]
    else:
        rates = [m.shown_m2_per_s or m.planned_m2_per_s for m in told]
    machines, ground = _carried_on(day, told, rates, left_m2)
    spread, covered = settled.day_m2(start_at, now_at)
    morning = sum(
        one.open_m2 for one in settled.by_field_at(start_at - timedelta(microseconds=1)).values()
    )
    return (
        Now(
            machines=tuple(machines),
            ground=tuple(ground),
            told_spread_m2=spread,
            told_covered_m2=covered,
            spread_m2=spread + sum(m.carried_m2 for m in machines if m.work == "spread"),
            covered_m2=covered + sum(m.carried_m2 for m in machines if m.work == "covered"),
            open_in_the_morning_m2=morning,
            day_factor=1.0 if found is None else found.day_factor,
        ),
        found,
    )


def with_paces(now: Now, task: balance.DayTask) -> balance.DayTask:
    """Return the day's task with every machine's rate and a spreader's hopper as they are now."""
    by_name = {m.machine: m for m in now.machines}

    def rate(name: str, planned: float) -> float:
        one = by_name.get(name)
        if one is None:
            return planned
        return one.pace.rate_m2_per_s if one.pace else one.shown_m2_per_s or planned

    return replace(
        task,
        spreaders=tuple(
            replace(
                s,
                moving_rate_m2_per_s=rate(s.name, s.moving_rate_m2_per_s),
                now_kg=by_name[s.name].hopper_kg if s.name in by_name else None,
            )
            for s in task.spreaders
        ),
        covers=tuple(replace(c, rate_m2_per_s=rate(c.name, c.rate_m2_per_s)) for c in task.covers),
        takeovers=tuple(
            replace(t, rate_m2_per_s=rate(t.name, t.rate_m2_per_s)) for t in task.takeovers
        ),
    )


def stopped_at(
    settled: Settled, spreaders: Sequence[str], start_at: datetime, now_at: datetime
) -> dict[str, datetime]:
    """Return which spreaders are done for the day, and since when.

    A ``stop`` without a machine is all of them. One that spreads again afterwards is not done.
    """
    found: dict[str, datetime] = {}
    for event in settled.events:
        if not start_at <= event.at <= now_at:
            continue
        if event.what == "stop":
            for name in spreaders if not event.machine else (event.machine,):
                if name in spreaders:
                    found.setdefault(name, event.at)
        elif (
            event.what in ("spread", "load", "begin")
            and found.get(event.machine, now_at) < event.at
        ):
            del found[event.machine]
    return found


def halts_today(settled: Settled, start_at: datetime, now_at: datetime) -> tuple[Halt, ...]:
    """Return the halts that touch today and have begun."""
    return tuple(
        halt
        for halt in settled.halts
        if halt.from_at <= now_at
        and (halt.to_at is None or halt.to_at > start_at)
        # A machine that broke down on an earlier day and was never told to run again is not
        # taken to stand for ever.
        and (halt.to_at is not None or halt.from_at >= start_at)
    )


# --------------------------------------------------------------------------- as told


def _events_today(settled: Settled, start_at: datetime, now_at: datetime) -> dict[str, list[Event]]:
    found: dict[str, list[Event]] = {}
    for event in settled.events:
        if start_at <= event.at <= now_at:
            found.setdefault(event.machine, []).append(event)
    return found


def _told(day: _Day) -> list[MachineNow]:
    """Return every machine as it told, spreaders, covers, then those taken over."""
    task = day.task
    stops = stopped_at(day.settled, [s.name for s in task.spreaders], day.start_at, day.now_at)
    spreaders = [_spreader_told(day, s, stops.get(s.name)) for s in task.spreaders]
    began = min((m.began_at for m in spreaders if m.began_at), default=None)
    ready_s = (day.s(began) if began else day.opens_s) + task.lead_s
    return [*spreaders, *(_cover_told(day, c, ready_s) for c in task.machines)]


def _spreader_told(day: _Day, spreader: balance.Spreader, stop_at: datetime | None) -> MachineNow:
    rate_kg = day.task.mean_rate_kg_per_m2
    planned = spreader.moving_rate_m2_per_s
    found = _machine_told(day, spreader.name, "spread", planned, day.opens_s)
    loads = found.told_m2 * rate_kg / spreader.hopper_kg
    # Hair over a whole load is that load, just run out: its refill is still to come.
    refills = max(0, int(-(-(loads - 0.02) // 1)) - 1) + (0 if spreader.full_at_start else 1)
    took_s = found.took_s - refills * spreader.refill_s
    return replace(
        found,
        took_s=max(0.0, took_s),
        shown_m2_per_s=_shown(day, found.told_m2, took_s),
        stopped_at=stop_at,
    )


def _cover_told(day: _Day, cover: balance.Cover, ready_s: float) -> MachineNow:
    opens_s = cover.opens_s if day.open_in_the_morning() else max(cover.opens_s, ready_s)
    if isinstance(cover, balance.Takeover):
        opens_s = max(opens_s, _takeover_from_s(day, cover))
    found = _machine_told(day, cover.name, "covered", cover.rate_m2_per_s, opens_s)
    shown = _shown(day, found.told_m2, found.took_s)
    if shown is not None and shown < cover.rate_m2_per_s and _waited(day, found):
        shown = None
    return replace(found, shown_m2_per_s=shown)


def _takeover_from_s(day: _Day, cover: balance.Takeover) -> float:
    """Return from when on a machine taken over is at work: its spreader's stop, changeover on."""
    names = [s.name for s in day.task.spreaders]
    stops = stopped_at(day.settled, names, day.start_at, day.now_at)
    stop = stops.get(names[min(cover.spreader_index, len(names) - 1)])
    return day.opens_s if stop is None else day.s(stop) + cover.changeover_s


def _machine_told(
    day: _Day, machine: str, work: Work, planned: float, opens_s: float
) -> MachineNow:
    events = day.events.get(machine, [])
    kinds = ("spread", "load") if work == "spread" else ("covered",)
    tellings = [e for e in events if e.what in kinds and e.area_m2 is not None]
    running = [e for e in events if e.what in RUNNING]
    begins = [e for e in events if e.what == "begin"]
    began_at: datetime | None = None
    if begins and (not tellings or begins[0].at <= tellings[0].at):
        began_at = begins[0].at
    elif tellings:
        first = tellings[0]
        took = first.took_s if first.took_s is not None else (first.area_m2 or 0.0) / planned
        told_from = day.s(first.at) - took
        began_at = moment_at(
            day.start_at,
            opens_s if first.took_s is None and opens_s < day.s(first.at) else told_from,
        )
    halts = [h for h in halts_today(day.settled, day.start_at, day.now_at) if h.machine == machine]
    found = None
    if began_at is not None:
        found = worked(day.settled, machine, work, opens_at=began_at, until=day.now_at)
    moves_s = _moves_s(day.farm, tellings)
    last = next((e for e in reversed(running) if e.field), None)
    return MachineNow(
        machine=machine,
        work=work,
        field=last.field if last else "",
        heard_at=running[-1].at if running else None,
        began_at=began_at,
        told_m2=found.area_m2 if found else 0.0,
        took_s=max(0.0, found.took_s - moves_s) if found else 0.0,
        planned_m2_per_s=planned,
        stood_s=sum(_stood_s(day, halt) for halt in halts),
        up_at=next((_up_at(day, h) for h in halts if h.to_at is None), None),
    )


def _stood_s(day: _Day, halt: Halt) -> float:
    begin, end = max(halt.from_at, day.start_at), min(halt.to_at or day.now_at, day.now_at)
    return max(0.0, (end - begin).total_seconds())


def _up_at(day: _Day, halt: Halt) -> datetime:
    """Return when a standing machine may run again: a repair's mean is the same at any age."""
    repair_s = day.farm.figures["day.repair"].value
    return max(day.now_at, halt.from_at.astimezone(day.now_at.tzinfo)) + timedelta(seconds=repair_s)


def _moves_s(farm: Farm, tellings: Sequence[Event]) -> float:
    """Return the planned time of a machine's moves between the fields it told of, in order."""
    total, last = 0.0, ""
    for event in tellings:
        if event.took_s is None and last and event.field != last:
            total += _move_s(farm, last, event.field)
        last = event.field
    return total


def _move_s(farm: Farm, one: str, other: str) -> float:
    by_name = {field.name: field for field in farm.fields}
    if one not in by_name or other not in by_name:
        return 0.0
    return move_between_s(farm, by_name[one], by_name[other])


def _shown(day: _Day, area_m2: float, took_s: float) -> float | None:
    if area_m2 < LEAST_AREA_M2 or took_s < day.default("pace_least_time"):
        return None
    return area_m2 / took_s


def _odd(day: _Day, machine: MachineNow) -> bool:
    said = {one.refers for one in day.settled.all_events if one.what == "both"}
    if any(event.id in said for event in day.events.get(machine.machine, [])):
        return False
    most = day.default("pace_believed")
    ratio = (machine.shown_m2_per_s or machine.planned_m2_per_s) / machine.planned_m2_per_s
    return not 1.0 / most <= ratio <= most


def _waited(day: _Day, machine: MachineNow) -> bool:
    """Say whether a machine had so little open ground when last heard of that it may wait."""
    if machine.heard_at is None:
        return False
    fields = day.settled.by_field_at(machine.heard_at).values()
    return sum(one.open_m2 for one in fields) < day.task.lead_s * machine.planned_m2_per_s


def _learned(
    day: _Day, told: Sequence[MachineNow], own_cvs: Sequence[float], shared_cv: float
) -> Paces:
    return learned(
        [
            Expected(rate_m2_per_s=m.planned_m2_per_s, own_cv=cv)
            for m, cv in zip(told, own_cvs, strict=True)
        ],
        [
            Seen(machine=index, area_m2=m.told_m2, took_s=m.took_s)
            for index, m in enumerate(told)
            if m.shown_m2_per_s is not None and m.machine not in day.untrusted
        ],
        shared_cv=shared_cv,
        hourly_cv=day.default("hourly_rate_cv"),
        believed=day.default("pace_believed"),
    )


# --------------------------------------------------------------------------- carried on


def _carried_on(
    day: _Day, told: Sequence[MachineNow], rates: Sequence[float], left_m2: Mapping[str, float]
) -> tuple[list[MachineNow], list[Ground]]:
    fields = day.settled.by_field_at(day.now_at)
    spread = {name: one.spread_m2 for name, one in fields.items()}
    covered = {name: one.covered_m2 for name, one in fields.items()}
    left = dict(left_m2)
    told_only = area_by_field_m2((e for e in day.settled.events if e.at <= day.now_at), "spread")
    # What was covered was spread, though nobody told: that much of the carrying on is there.
    credit = {name: area - told_only.get(name, 0.0) for name, area in spread.items()}
    machines, fresh = [], 0.0
    by_name = {s.name: s for s in day.task.spreaders}
    for one, rate in zip(told, rates, strict=True):
        if one.work == "spread":
            now, places = _spread_on(day, one, by_name[one.machine], rate, left, credit)
            for name, area in places.items():
                spread[name] = spread.get(name, 0.0) + area
                left[name] = left.get(name, 0.0) - area
            fresh += min(rate * _fresh_s(day, now), now.carried_m2)
            machines.append(now)
    open_m2 = {name: spread[name] - covered.get(name, 0.0) for name in spread}
    # The last seed may not be covered for a while yet: what fell within the lead stays open.
    for one, rate in zip(told, rates, strict=True):
        if one.work == "covered":
            ready = max(0.0, sum(open_m2.values()) - fresh)
            now, places = _cover_on(day, one, rate, open_m2, ready)
            for name, area in places.items():
                covered[name] = covered.get(name, 0.0) + area
                open_m2[name] -= area
            machines.append(now)
    ground = [
        Ground(
            field=name,
            told_spread_m2=fields[name].spread_m2 if name in fields else 0.0,
            told_covered_m2=fields[name].covered_m2 if name in fields else 0.0,
            spread_m2=spread[name],
            covered_m2=covered.get(name, 0.0),
            left_m2=max(0.0, left.get(name, 0.0)),
        )
        for name in sorted(spread)
    ]
    return machines, ground


def _fresh_s(day: _Day, machine: MachineNow) -> float:
    """Return how much of the lead's time is left since a spreader is taken to have spread. [s]"""
    last = _last_telling(day, machine)
    if last is None or machine.carried_m2 <= 0.0:
        return 0.0
    ended_s = min(day.now_s, day.s(last.at) + day.default("carry_on_most"))
    if machine.stopped_at is not None:
        ended_s = min(ended_s, day.s(machine.stopped_at))
    return max(0.0, day.task.lead_s - (day.now_s - ended_s))


def _last_telling(day: _Day, machine: MachineNow) -> Event | None:
    """Return the event a machine's work is carried on from: its last area, or where it began."""
    kinds = ("begin", "spread", "load") if machine.work == "spread" else ("begin", "covered")
    events = [
        e
        for e in day.events.get(machine.machine, [])
        if e.what in kinds and (e.what == "begin" or e.area_m2 is not None)
    ]
    return events[-1] if events else None


def _working_s(day: _Day, machine: MachineNow, begin_s: float, spans: Sequence[Span]) -> float:
    """Return how long a machine can have worked from then to now, its halts taken off. [s]"""
    end_s = min(day.now_s, begin_s + day.default("carry_on_most"))
    if machine.stopped_at is not None:
        end_s = min(end_s, day.s(machine.stopped_at))
        if end_s - begin_s < day.default("pace_least_time"):
            return 0.0
    pieces = [(max(a, begin_s), min(b, end_s)) for a, b in spans]
    for halt in day.settled.halts:
        if halt.machine == machine.machine:
            out, back = day.s(halt.from_at), day.s(halt.to_at) if halt.to_at else balance.FOREVER_S
            pieces = [p for a, b in pieces for p in ((a, min(b, out)), (max(a, back), b))]
    return sum(max(0.0, b - a) for a, b in pieces)


def _spread_on(
    day: _Day,
    machine: MachineNow,
    spreader: balance.Spreader,
    rate: float,
    left: Mapping[str, float],
    credit: dict[str, float],
) -> tuple[MachineNow, dict[str, float]]:
    """Return a spreader with what it has spread since it told, and where.

    ``credit`` is counted as spread already: it is used up first.
    """
    seed_kg = _hopper_kg(day, machine, spreader)
    last = _last_telling(day, machine)
    if last is None:
        return replace(machine, hopper_kg=seed_kg), {}
    begin_s = day.s(last.at)
    if machine.machine in day.untrusted:
        begin_s -= max(0.0, machine.took_s - machine.told_m2 / machine.planned_m2_per_s)
    time_s = _working_s(day, machine, begin_s, day.planned.windows.spread_intervals_s)
    kg = day.task.mean_rate_kg_per_m2
    places: dict[str, float] = {}
    refill_left_s, spent_s = 0.0, 0.0
    queue = [last.field, *(f.name for f in day.planned.fields if f.name != last.field)]
    for before, name in zip(("", *queue), queue, strict=False):
        if places:
            spent_s += _move_s(day.farm, before, name)
        known = max(0.0, credit.get(name, 0.0))
        rest = left.get(name, 0.0) + known
        while rest > 1.0 and spent_s < time_s:
            if seed_kg <= 1e-6:
                spent_s += spreader.refill_s
                seed_kg = spreader.hopper_kg
                refill_left_s = max(0.0, spent_s - time_s)
                continue
            area = min(rest, seed_kg / kg, rate * (time_s - spent_s))
            places[name] = places.get(name, 0.0) + area
            rest -= area
            seed_kg -= area * kg
            spent_s += area / rate
        if places.get(name, 0.0) > 0.0:
            credit[name] = max(0.0, known - places[name])
            places[name] = max(0.0, places[name] - known)
        if spent_s >= time_s:
            break
    return (
        replace(
            machine,
            carried_m2=sum(places.values()),
            carried_s=time_s,
            hopper_kg=seed_kg,
            refill_left_s=refill_left_s,
        ),
        places,
    )


def _hopper_kg(day: _Day, machine: MachineNow, spreader: balance.Spreader) -> float:
    """Return the seed in a hopper at the spreader's last telling. [kg]

    After a load run out it is empty; after that, and from the morning on, what was spread is
    taken off load by load.
    """
    since_m2, ran_out = 0.0, False
    for event in day.events.get(machine.machine, []):
        if event.what == "load":
            since_m2, ran_out = 0.0, True
        elif event.what == "spread":
            since_m2 += max(0.0, event.area_m2 or 0.0)
    used_kg = since_m2 * day.task.mean_rate_kg_per_m2
    if used_kg <= 1e-6:
        return 0.0 if ran_out or not spreader.full_at_start else spreader.hopper_kg
    over = used_kg % spreader.hopper_kg
    return 0.0 if over <= 1e-6 else spreader.hopper_kg - over


def _cover_on(
    day: _Day, machine: MachineNow, rate: float, open_m2: Mapping[str, float], ready_m2: float
) -> tuple[MachineNow, dict[str, float]]:
    """Return a covering machine with what it has covered since it told, and where."""
    last = _last_telling(day, machine)
    if last is None:
        return machine, {}
    cover = next(c for c in day.task.machines if c.name == machine.machine)
    time_s = _working_s(day, machine, day.s(last.at), [(cover.opens_s, cover.closes_s)])
    rest = min(rate * time_s, ready_m2)
    done, places = rest, {}
    for name in sorted(open_m2, key=lambda name: (name != last.field, name)):
        area = min(rest, max(0.0, open_m2[name]))
        if area > 0.0:
            places[name] = area
            rest -= area
    return replace(machine, carried_m2=done - rest, carried_s=time_s), places
