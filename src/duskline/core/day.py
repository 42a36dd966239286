"""The day balance: how long may spreading go on so that everything spread is covered in time.

First the closed form at average rates, then the simulation with uncertain rates, breakdowns and
cut-offs, from which come the stop time at a stated chance and the stop ladder.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from duskline.core.errors import OutOfRange

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.day_kernel import Plan

__all__ = [
    "Average",
    "Cover",
    "DayTask",
    "Draws",
    "FieldTask",
    "Ladder",
    "Rung",
    "SeedTruck",
    "Simulated",
    "Spreader",
    "State",
    "Takeover",
    "Uncertainty",
    "average_day",
    "draw_day",
    "first_days",
    "fluid_spread_rate_m2_per_s",
    "latest_spreader_stop_s",
    "open_area_allowed_m2",
    "open_if_stopped_at_m2",
    "simulate_day",
    "spread_area_by_m2",
    "steady",
    "stop_at_chance_s",
    "stop_ladder",
    "worked_curves_m2",
]

FOREVER_S = 1e12
"""Stands for "no limit today" among stop times; far past any day."""

Interval = tuple[float, float]
_Crew = tuple[tuple[float, tuple[Interval, ...]], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Spreader:
    """One spreader's day.

    Attributes
    ----------
    moving_rate_m2_per_s
        Area per time while seed is flying, turns and small stops included, refills not. [m2/s]
    hopper_kg
        Seed in one full load. [kg]
    refill_s
        From empty to spreading again with the seed truck waiting. [s]
    full_at_start
        The hopper is full when the ground opens.
    down
        Known times out of work, (from, to). [s]
    now_kg
        Seed in the hopper now, where it is known; None to reckon it from what is spread. [kg]
    """

    name: str
    moving_rate_m2_per_s: float
    hopper_kg: float
    refill_s: float
    full_at_start: bool = True
    down: tuple[Interval, ...] = ()
    now_kg: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Cover:
    """A covering machine with a driver of its own, at work from ``opens_s`` to ``closes_s``."""

    name: str
    rate_m2_per_s: float
    opens_s: float
    closes_s: float
    closes_sd_s: float = 0.0
    down: tuple[Interval, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Takeover(Cover):
    """A covering machine that spreader ``spreader_index``'s driver takes after he stops."""

    changeover_s: float
    spreader_index: int = 0


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldTask:
    """One field of the day, in the order of work."""

    name: str
    area_m2: float
    rate_kg_per_m2: float
    ready_s: float = -FOREVER_S
    move_s: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class SeedTruck:
    """A seed truck: how much it brings and how long it is away for more."""

    holds_kg: float
    turnaround_s: float


@dataclass(frozen=True, kw_only=True, slots=True)
class State:
    """Where the crew stands: spread and covered so far today."""

    now_s: float
    spread_m2: float = 0.0
    covered_m2: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class DayTask:
    """Everything the day balance needs; times in seconds after local midnight.

    Attributes
    ----------
    spread_intervals
        Times in which spreading is allowed, in order, not overlapping (wind makes holes). [s]
    lead_s
        Covering follows the spreader by at least this much. [s]
    fields
        In the order of work; areas are what is left to spread.
    rain_hours_s, rain_chance
        Hour starts and the chance of rain in the day up to the end of that hour. [s], fractions
    """

    spread_intervals: tuple[Interval, ...]
    spreaders: tuple[Spreader, ...]
    covers: tuple[Cover, ...]
    takeovers: tuple[Takeover, ...] = ()
    fields: tuple[FieldTask, ...] = ()
    lead_s: float = 0.0
    seed_trucks: tuple[SeedTruck, ...] = ()
    state: State | None = None
    spread_closes_sd_s: float = 0.0
    rain_hours_s: tuple[float, ...] = ()
    rain_chance: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what cannot be a day: no spreader, no time, rates at or below zero."""
        if not self.spread_intervals or not self.spreaders or not self.fields:
            raise OutOfRange("spreading times, spreaders and fields", 0.0, 1.0, None)
        for name, value in (
            *((f"rate of {s.name}", s.moving_rate_m2_per_s) for s in self.spreaders),
            *((f"load of {s.name}", s.hopper_kg) for s in self.spreaders),
            *((f"rate of {c.name}", c.rate_m2_per_s) for c in self.machines),
            *((f"seed rate on {f.name}", f.rate_kg_per_m2) for f in self.fields),
        ):
            if not value > 0.0:
                raise OutOfRange(name, value, 0.0, None)

    @property
    def start_s(self) -> float:
        """The moment planning starts: now, or the first opening of either work. [s]"""
        if self.state is not None:
            return self.state.now_s
        return min([self.spread_intervals[0][0], *(cover.opens_s for cover in self.covers)])

    @property
    def machines(self) -> tuple[Cover, ...]:
        """All covering machines, those taken over last."""
        return (*self.covers, *self.takeovers)

    @property
    def covered_by_s(self) -> float:
        """The last moment at which any machine may cover. [s]"""
        return max(machine.closes_s for machine in self.machines)

    @property
    def spread_until_s(self) -> float:
        """The last moment at which spreading is allowed. [s]"""
        return self.spread_intervals[-1][1]

    @property
    def spread_before_m2(self) -> float:
        """Already spread today. [m2]"""
        return self.state.spread_m2 if self.state else 0.0

    @property
    def covered_before_m2(self) -> float:
        """Already covered today. [m2]"""
        return self.state.covered_m2 if self.state else 0.0

    @property
    def mean_rate_kg_per_m2(self) -> float:
        """Seed rate over the fields of the day, by area. [kg/m2]"""
        area = sum(one.area_m2 for one in self.fields)
        if area <= 0.0:
            return self.fields[0].rate_kg_per_m2
        return sum(one.rate_kg_per_m2 * one.area_m2 for one in self.fields) / area

    @property
    def area_m2(self) -> float:
        """Spread so far and all that is left in the fields of the day. [m2]"""
        return self.spread_before_m2 + sum(field_task.area_m2 for field_task in self.fields)


# --------------------------------------------------------------------------- closed form


def latest_spreader_stop_s(
    *,
    working_time_s: float,
    spread_rate_m2_per_s: float,
    first_cover_rate_m2_per_s: float,
    second_cover_rate_m2_per_s: float,
    lead_s: float,
    changeover_s: float,
    open_area_m2: float = 0.0,
) -> float:
    """Return how long the spreader may run before its driver must start covering. [s]

    The plain balance for one day with one common opening and one common cut-off. ``average_day``
    gives the same figure and also knows head starts, windows with holes and several machines.

    Parameters
    ----------
    working_time_s
        From the opening (or now) to the moment covering must be done. [s]
    spread_rate_m2_per_s
        With turns and refills in it. [m2/s]
    first_cover_rate_m2_per_s, second_cover_rate_m2_per_s
        All machines covering from the start, and all taken over after the stop. [m2/s]
    lead_s
        Covering begins this much after spreading. [s]
    changeover_s
        From the last seed to the first covered metre of the machine taken over. [s]
    open_area_m2
        Spread and not yet covered at the start. [m2]

    Raises
    ------
    OutOfRange
        The open area alone is more than the crew can cover in the time.

    Notes
    -----
    Area balance at the cut-off, x being the answer and T the working time::

        open + S x = C1 (T - lead) + C2 (T - x - changeover)

    Holds while the first machine never catches up with the spreader (C1 < S) and the second
    still has time to work after the change.

    Source
    ------
    Derived here from the area balance; worked by hand in tests/core/test_day.py.
    """
    covered_m2 = first_cover_rate_m2_per_s * (working_time_s - lead_s)
    covered_m2 += second_cover_rate_m2_per_s * (working_time_s - changeover_s)
    if covered_m2 < open_area_m2:
        raise OutOfRange("open area", open_area_m2, 0.0, covered_m2)
    return (covered_m2 - open_area_m2) / (spread_rate_m2_per_s + second_cover_rate_m2_per_s)


def fluid_spread_rate_m2_per_s(
    spreader: Spreader,
    rate_kg_per_m2: float,
    seed_trucks: tuple[SeedTruck, ...] = (),
    *,
    sharing_count: int = 1,
) -> float:
    """Return the spreader's area per time with its refills in it. [m2/s]

    Parameters
    ----------
    spreader, rate_kg_per_m2, seed_trucks
        The spreader, the seed rate and the trucks that fill it.
    sharing_count
        Spreaders the trucks serve, this one included.

    Notes
    -----
    One load: a = hopper / rate; load time L = a / moving rate + refill. Seed trucks that hold n
    loads each and are then away take turns: K trucks serve K n loads, L / m apart for m
    spreaders, and are missed for ``away + refill - K L / m`` where that is above zero. Nor can
    K trucks fill faster than one load each in a refill. Exact in the long run for one spreader
    and like trucks; the simulation follows every truck.

    Source
    ------
    Derived here; worked by hand and against the simulation in tests/core/test_day.py.
    """
    load_m2 = spreader.hopper_kg / rate_kg_per_m2
    load_s = load_m2 / spreader.moving_rate_m2_per_s + spreader.refill_s
    if seed_trucks:
        trucks = len(seed_trucks)
        loads = sum(max(1, int(t.holds_kg // spreader.hopper_kg)) for t in seed_trucks)
        away_s = sum(truck.turnaround_s for truck in seed_trucks) / trucks
        apart_s = load_s / sharing_count
        missed_s = max(0.0, away_s + spreader.refill_s - trucks * apart_s)
        load_s = sharing_count * max(apart_s + missed_s / loads, spreader.refill_s / trucks)
    return load_m2 / load_s


def _time_within(intervals: tuple[Interval, ...], from_s: float, to_s: float) -> float:
    return sum(max(0.0, min(end, to_s) - max(begin, from_s)) for begin, end in intervals)


def _without(interval: Interval, down: tuple[Interval, ...]) -> tuple[Interval, ...]:
    """Return what is left of ``interval`` once the down times are taken out."""
    left: list[Interval] = []
    begin = interval[0]
    for out, back in sorted(down):
        if back <= begin or out >= interval[1]:
            continue
        if out > begin:
            left.append((begin, out))
        begin = max(begin, back)
    if begin < interval[1]:
        left.append((begin, interval[1]))
    return tuple(left)


@dataclass(frozen=True, kw_only=True, slots=True)
class Average:
    """The day at average rates.

    Attributes
    ----------
    stop_s, spread_area_m2
        When spreading must stop, and what is spread by then (earlier today included).
    limited_by
        "covering" (the balance), "spread window" (wind, light) or "acres" (all is spread).
    done_s
        When the last acre is covered. [s]
    bare_m2
        Stays open even if spreading stops at once; 0 unless hopeless. [m2]
    bare_if_never_stopped_m2
        Open at the cut-off if the spreader's drivers never change over and spread on. [m2]
    """

    stop_s: float
    spread_area_m2: float
    limited_by: str
    done_s: float
    bare_m2: float
    bare_if_never_stopped_m2: float
    spread_rate_m2_per_s: float


@dataclass(frozen=True, slots=True)
class _Curves:
    """Fluid curves of a day: what is spread and what is covered by a moment."""

    task: DayTask
    spread_rate: float
    spreading: tuple[Interval, ...]
    covering: _Crew
    taking: tuple[tuple[float, Takeover, tuple[Interval, ...]], ...]
    breaks: list[float] = field(default_factory=list)

    def spread(self, until_s: float) -> float:
        run_s = _time_within(self.spreading, self.task.start_s, until_s)
        return min(self.task.area_m2, self.task.spread_before_m2 + self.spread_rate * run_s)

    def crew(self, stop_s: float, *, changing: bool = True) -> _Crew:
        """Return who covers when, those who change over after the stop included."""
        taken = tuple(
            (rate, tuple((max(a, stop_s + m.changeover_s), b) for a, b in up))
            for rate, m, up in self.taking
            if changing
        )
        return (*self.covering, *taken)

    def covered(self, stop_s: float, until_s: float, crew: _Crew) -> float:
        """Return what is covered by a moment if spreading stops then. [m2]

        The least, over all earlier moments, of what was ready for covering then and what the
        crew can do since: a crew that waits for ground loses that time for good. Once all is
        ready nothing is lost any more, so that what is over at the end counts as to spare.
        """
        lead_s = self.task.lead_s
        last = min(until_s, stop_s + lead_s)
        moments = {stop_s, last, *self.breaks, *(a for _, up in crew for a, _ in up)}
        least = self.task.covered_before_m2 + _done_m2(crew, self.task.start_s, until_s)
        for moment in moments:
            if self.task.start_s <= moment <= last:
                ready = self.spread(min(moment - lead_s, stop_s))
                least = min(least, ready + _done_m2(crew, moment, until_s))
        return least

    def to_spare(self, stop_s: float, *, changing: bool = True) -> float:
        """Return what is covered at the end less what is spread, if spreading stops then. [m2]"""
        crew = self.crew(stop_s, changing=changing)
        return self.covered(stop_s, FOREVER_S, crew) - self.spread(stop_s)


def _done_m2(crew: _Crew, from_s: float, to_s: float) -> float:
    """Return what a crew that never waits covers between two moments. [m2]"""
    return sum(rate * _time_within(up, from_s, to_s) for rate, up in crew)


def _curves(task: DayTask, rate_kg_per_m2: float) -> _Curves:
    start = task.start_s
    rate = sum(
        fluid_spread_rate_m2_per_s(
            spreader, rate_kg_per_m2, task.seed_trucks, sharing_count=len(task.spreaders)
        )
        for spreader in task.spreaders
    )
    spreading = tuple((max(a, start), b) for a, b in task.spread_intervals if b > start)
    covering = tuple(
        (c.rate_m2_per_s, _without((max(c.opens_s, start), c.closes_s), c.down))
        for c in task.covers
        if c.closes_s > start
    )
    taking = tuple(
        (t.rate_m2_per_s, t, _without((max(t.opens_s, start), t.closes_s), t.down))
        for t in task.takeovers
    )
    edges = {start}
    for interval in (*spreading, *(i for _, up in covering for i in up)):
        edges.update((*interval, interval[0] + task.lead_s, interval[1] + task.lead_s))
    return _Curves(task, rate, spreading, covering, taking, sorted(e for e in edges if e >= start))


def average_day(task: DayTask) -> Average:
    """Return the stop time at average rates, before moves between fields.

    Parameters
    ----------
    task
        The day. Moves, ready times and breakdowns to come are not counted here; the
        simulation counts them.

    Notes
    -----
    With A(x) spread by x and K(u) what the crew can do after u, machines taken over from x plus
    the changeover included, the stop is the largest x for which at every moment u before all is
    ready to be covered (x + lead)::

        ready(u) + K(u) >= A(x),   ready(u) = A(min(u - lead, x))

    The left side falls and the right side rises with x, so there is one such x; found by
    bisection. It counts the time a crew close behind the spreader waits for ground.

    Source
    ------
    Derived here; equals ``latest_spreader_stop_s`` where that form holds
    (tests/properties/test_day.py).
    """
    curves = _curves(task, task.mean_rate_kg_per_m2)
    start, last = task.start_s, max(task.spread_until_s, task.start_s)
    if curves.to_spare(start) < -1e-6:
        stop, limited, bare = start, "covering", -curves.to_spare(start)
    elif curves.to_spare(last) >= -1e-6:
        stop, limited, bare = last, "spread window", 0.0
    else:
        low, high = start, last
        while high - low > 1e-4:
            middle = 0.5 * (low + high)
            low, high = (middle, high) if curves.to_spare(middle) >= -1e-6 else (low, middle)
        stop, limited, bare = low, "covering", 0.0
    area = curves.spread(stop)
    finished = _first_reached(curves.spread, area, start, stop)
    if area >= task.area_m2 - 1e-6 and finished <= stop:
        stop, limited = finished, "acres"
    elif finished < stop - 1.0:
        stop = finished
    return Average(
        stop_s=stop,
        spread_area_m2=area,
        limited_by=limited,
        done_s=_done_s(curves, stop, area),
        bare_m2=bare,
        bare_if_never_stopped_m2=max(0.0, -curves.to_spare(last, changing=False)),
        spread_rate_m2_per_s=curves.spread_rate,
    )


def _first_reached(
    curve: Callable[[float], float], target: float, low: float, high: float
) -> float:
    """Return the first moment at which a rising curve reaches ``target``. [s]"""
    while high - low > 1e-4:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if curve(middle) >= target - 1e-3 else (middle, high)
    return high


def _done_s(curves: _Curves, stop_s: float, area_m2: float) -> float:
    crew = curves.crew(stop_s)
    return _first_reached(
        lambda until_s: curves.covered(stop_s, until_s, crew),
        area_m2,
        stop_s,
        curves.task.covered_by_s,
    )


def open_area_allowed_m2(task: DayTask, at_s: float) -> float:
    """Return what the crew can still cover from ``at_s`` on if spreading stops then. [m2]

    The top rung of the ladder at average rates: first machines at work at once, the others
    after the changeover, each to its own cut-off.

    Source
    ------
    Derived here: C1 (T - t) + C2 (T - t - changeover).
    """
    first = sum(
        c.rate_m2_per_s * _time_within(_without((c.opens_s, c.closes_s), c.down), at_s, FOREVER_S)
        for c in task.covers
    )
    second = sum(
        t.rate_m2_per_s
        * _time_within(_without((t.opens_s, t.closes_s), t.down), at_s + t.changeover_s, FOREVER_S)
        for t in task.takeovers
    )
    return first + second


# --------------------------------------------------------------------------- simulation


@dataclass(frozen=True, kw_only=True, slots=True)
class Uncertainty:
    """How far a real day strays from the plan.

    Attributes
    ----------
    shared_rate_cv
        Spread of the day factor that all machines share (ground, crew, weather).
    spreader_rate_cv, cover_rate_cv
        Each machine's own spread; covers first, then takeovers.
    refill_cv, changeover_cv
        Of one refill and one changeover.
    breakdown_per_s, repair_mean_s
        Each machine's breakdowns per time at work, and their mean length. [1/s], [s]
    shared_rate_cvs
        In place of ``shared_rate_cv``, one for each machine, where the day factor bears on them
        unlike: spreaders, covers, then takeovers. Empty where it bears on all alike.
    """

    shared_rate_cv: float
    spreader_rate_cv: tuple[float, ...]
    cover_rate_cv: tuple[float, ...]
    refill_cv: float
    changeover_cv: float
    breakdown_per_s: float
    repair_mean_s: float
    shared_rate_cvs: tuple[float, ...] = ()


LONG_DAY_S = 12 * 3600.0
BREAKDOWNS_MISSED = 1e-3  # chance that a machine has more in a long day than are drawn


def _breakdowns_drawn(per_s: float) -> int:
    """Return how many breakdowns to draw for each machine: rarely does a long day have more."""
    mean = per_s * LONG_DAY_S
    count, chance = 0, math.exp(-mean)
    missed = 1.0 - chance
    while missed > BREAKDOWNS_MISSED and count < 50:
        count += 1
        chance *= mean / count
        missed -= chance
    return max(count, 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Draws:
    """Random draws of n days, kept so that two plans can be compared on the same days.

    Shapes: ``spreader_rate`` (n, spreaders), ``cover_rate`` (n, covers + takeovers), ``refill``
    (n, spreaders, loads), ``changeover`` (n, takeovers), ``gap_s`` and ``repair_s``
    (n, machines, breakdowns), ``cutoff_z``, ``spread_close_z``, ``rain_u`` (n,).
    """

    spreader_rate: NDArray[np.float64]
    cover_rate: NDArray[np.float64]
    refill: NDArray[np.float64]
    changeover: NDArray[np.float64]
    gap_s: NDArray[np.float64]
    repair_s: NDArray[np.float64]
    cutoff_z: NDArray[np.float64]
    spread_close_z: NDArray[np.float64]
    rain_u: NDArray[np.float64]


LOADS_DRAWN = 8  # refills drawn for each spreader; a longer day uses them again from the first


def _lognormal(z: NDArray[np.floating], cv: NDArray[np.float64] | float) -> NDArray[np.floating]:
    """Return factors with mean 1 and the given CV from standard normals, as exact as those."""
    sigma2 = np.log1p(np.square(np.asarray(cv, dtype=z.dtype)))
    return np.asarray(np.exp(np.sqrt(sigma2) * z - z.dtype.type(0.5) * sigma2))


def draw_day(task: DayTask, uncertainty: Uncertainty, *, replications: int, seed: int) -> Draws:
    """Return the random part of ``replications`` days.

    The draws depend on the numbers of machines, never on their rates or times, so that a change
    of plan is judged on the same days (common random numbers).
    """
    rng = np.random.Generator(np.random.PCG64(seed))
    spreaders, covers = len(task.spreaders), len(task.covers)
    takeovers = len(task.takeovers)
    machines = spreaders + covers + takeovers
    n = replications
    shared = rng.standard_normal((n, 1))
    own = rng.standard_normal((n, machines))
    day = _lognormal(shared, np.array(uncertainty.shared_rate_cvs or uncertainty.shared_rate_cv))
    machine_cv = np.array([*uncertainty.spreader_rate_cv, *uncertainty.cover_rate_cv])
    rate = day * _lognormal(own, machine_cv)
    refill = _lognormal(
        rng.standard_normal((n, spreaders, LOADS_DRAWN), dtype=np.float32), uncertainty.refill_cv
    )
    per_s = uncertainty.breakdown_per_s
    shape = (n, machines, _breakdowns_drawn(per_s))
    gap = rng.standard_exponential(shape) / per_s if per_s > 0 else np.full(shape, FOREVER_S)
    return Draws(
        spreader_rate=np.ascontiguousarray(rate[:, :spreaders]),
        cover_rate=np.ascontiguousarray(rate[:, spreaders:]),
        refill=np.asarray(refill, dtype=np.float64),
        changeover=np.asarray(
            _lognormal(rng.standard_normal((n, takeovers)), uncertainty.changeover_cv), np.float64
        ),
        gap_s=gap,
        repair_s=rng.standard_exponential(shape) * uncertainty.repair_mean_s,
        cutoff_z=rng.standard_normal(n),
        spread_close_z=rng.standard_normal(n),
        rain_u=rng.random(n),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Simulated:
    """What the replications gave.

    Attributes
    ----------
    latest_stop_s : (n,)
        Latest stop with everything covered; ``FOREVER_S`` where spreading on does no harm,
        ``-FOREVER_S`` where even stopping at once leaves ground bare. [s]
    at_s : (k,)
        The moments asked for.
    spread_m2, open_m2, to_spare_m2 : (n, k)
        Spread and open at those moments while spreading goes on, and covered less spread at
        the cut-off if it stops there. [m2]
    """

    latest_stop_s: NDArray[np.float64]
    at_s: NDArray[np.float64]
    spread_m2: NDArray[np.float64]
    open_m2: NDArray[np.float64]
    to_spare_m2: NDArray[np.float64]


def _down_table(machines: list[tuple[Interval, ...]]) -> NDArray[np.float64]:
    most = max((len(down) for down in machines), default=0)
    table = np.full((len(machines), most + 1, 2), FOREVER_S)
    for index, down in enumerate(machines):
        for place, interval in enumerate(sorted(down)):
            table[index, place] = interval
    return table


def _rain_at_s(task: DayTask, rain_u: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return when rain comes in each replication, all hours sharing one draw. [s]

    It comes at the beginning of the first hour whose chance so far reaches the draw.
    """
    if not task.rain_hours_s:
        return np.full(rain_u.shape, FOREVER_S)
    chance = np.maximum.accumulate(np.asarray(task.rain_chance))
    begins = np.append(np.asarray(task.rain_hours_s), FOREVER_S)
    return begins[np.searchsorted(chance, rain_u, side="right")]


def simulate_day(task: DayTask, draws: Draws, at_s: NDArray[np.float64] | None = None) -> Simulated:
    """Return for each drawn day the latest stop that still gets everything covered.

    Parameters
    ----------
    task
        The day, with its fields, moves, loads and seed trucks.
    draws
        From ``draw_day`` for a task with the same numbers of machines.
    at_s : (k,)
        Moments at which the curves are wanted too, rising. [s]

    Notes
    -----
    Event to event, no time grid. Spreaders take the next field when free, refill when empty
    (waiting for a seed truck where there are any), move between fields, break down and wait for
    their window. Covering takes the ground in the order it was spread, one lead later; at each
    field boundary the machine free first moves on, the faster the more often, which costs the
    crew what that machine would cover in one move. Replication by replication the balance of
    ``average_day`` is solved exactly.

    Source
    ------
    Derived here. A plain account, stop by stop, gives the same to a millionth of an hour
    (tests/core/test_day_kernel.py), an independent event simulation the same chances
    (tests/properties/test_day_simpy.py).
    """
    from duskline.core import day_kernel

    times = np.empty(0) if at_s is None else np.ascontiguousarray(at_s, dtype=np.float64)
    n = draws.cutoff_z.shape[0]
    latest, shape = np.empty(n), (n, times.shape[0])
    spread, opened, spare = np.empty(shape), np.empty(shape), np.empty(shape)
    drawn = day_kernel.Drawn(
        rate=np.hstack([draws.spreader_rate, draws.cover_rate]),
        refill=draws.refill,
        changeover=draws.changeover,
        gap=draws.gap_s,
        repair=draws.repair_s,
        cutoff=draws.cutoff_z,
        close=draws.spread_close_z,
        rain=_rain_at_s(task, draws.rain_u),
    )
    day_kernel.sweep_days(_plan(task), drawn, times, latest, spread, opened, spare)
    return Simulated(
        latest_stop_s=latest, at_s=times, spread_m2=spread, open_m2=opened, to_spare_m2=spare
    )


def _rows(kind: np.dtype[np.void], rows: Iterable[tuple[float, ...]]) -> NDArray[np.void]:
    """Return rows of which only the first figures are given; the rest are for the sweep."""
    names = len(kind.names or ())
    return np.array([(*row, *(0,) * (names - len(row))) for row in rows], dtype=kind)


def _plan(task: DayTask) -> Plan:
    """Return the day as the arrays the compiled sweep takes."""
    from duskline.core import day_kernel as kernel

    covers: tuple[Cover | Takeover, ...] = (*task.covers, *task.takeovers)
    machines: tuple[Spreader | Cover | Takeover, ...] = (*task.spreaders, *covers)
    changeovers = (*(0.0 for _ in task.covers), *(t.changeover_s for t in task.takeovers))
    day = (
        *(task.spread_closes_sd_s, task.start_s, task.lead_s),
        *(task.spread_before_m2, task.covered_before_m2, len(task.covers)),
    )
    return kernel.Plan(
        day=_rows(kernel.DAY, [day]),
        windows=np.array(task.spread_intervals, dtype=np.float64).reshape(-1, 2),
        spreaders=_rows(
            kernel.SPREADER,
            (
                (s.moving_rate_m2_per_s, s.hopper_kg, s.refill_s, float(now_kg))
                for s, now_kg in zip(task.spreaders, _hopper_now_kg(task), strict=True)
            ),
        ),
        covers=_rows(
            kernel.COVER,
            (
                (c.rate_m2_per_s, c.opens_s, c.closes_s, c.closes_sd_s, change_s)
                for c, change_s in zip(covers, changeovers, strict=True)
            ),
        ),
        fields=_rows(
            kernel.FIELD,
            ((f.area_m2, f.rate_kg_per_m2, f.ready_s, f.move_s) for f in task.fields),
        ),
        trucks=_rows(kernel.TRUCK, ((t.holds_kg, t.turnaround_s) for t in task.seed_trucks)),
        down=_down_table([machine.down for machine in machines]),
    )


def _hopper_now_kg(task: DayTask) -> NDArray[np.float64]:
    """Return the seed in each hopper at the start: full, empty, or what the plan has left."""
    share_m2 = task.spread_before_m2 / len(task.spreaders)
    rate = task.fields[0].rate_kg_per_m2
    left = []
    for spreader in task.spreaders:
        used = share_m2 * rate % spreader.hopper_kg
        first = spreader.hopper_kg if spreader.full_at_start else 0.0
        reckoned = spreader.hopper_kg - used if share_m2 > 0.0 else first
        left.append(reckoned if spreader.now_kg is None else spreader.now_kg)
    return np.array(left)


def stop_at_chance_s(latest_stop_s: NDArray[np.float64], sure_fraction: float) -> float:
    """Return the latest clock time that keeps the wanted chance. [s]

    The chance of covering everything when stopping at x is the share of days whose latest stop
    is x or later; this is the largest x whose share is at least ``sure_fraction``.
    """
    if not 0.0 < sure_fraction < 1.0:
        raise OutOfRange("sureness", sure_fraction, 0.0, 1.0)
    skip = int(np.floor((1.0 - sure_fraction) * latest_stop_s.shape[0] + 1e-9))
    return float(np.partition(latest_stop_s, skip)[skip])


def spread_area_by_m2(task: DayTask, draws: Draws, stop_s: float) -> tuple[float, float]:
    """Return the mean area spread by a stop, and the mean area left open at the cut-off. [m2]"""
    simulated = simulate_day(task, draws, np.array([stop_s]))
    bare = np.maximum(0.0, -simulated.to_spare_m2[:, 0])
    return float(simulated.spread_m2[:, 0].mean()), float(bare.mean())


@dataclass(frozen=True, kw_only=True, slots=True)
class Rung:
    """One line of the stop ladder: at this time, no more open area than this."""

    at_s: float
    open_area_m2: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Ladder:
    """The stop ladder with its own chance.

    Attributes
    ----------
    share_fraction
        Every rung is this share of what the crew could cover at average rates.
    chance_fraction
        Share of simulated days on which following the ladder left nothing bare.
    mean_spread_m2
        Area spread on those days, on average. [m2]
    """

    rungs: tuple[Rung, ...]
    share_fraction: float
    chance_fraction: float
    mean_spread_m2: float


def stop_ladder(
    task: DayTask, draws: Draws, *, sure_fraction: float, every_s: float = 1800.0
) -> Ladder:
    """Return for each half hour the most open area that keeps the wanted chance.

    The rule the crew follows: stop spreading as soon as the open area reaches the next line of
    the ladder. All lines are one share of what the crew could still cover at average rates; the
    share is the largest one whose rule, simulated on the drawn days with a look every five
    minutes, covers everything with the wanted chance.

    Source
    ------
    Derived here; the chance is measured, not assumed.
    """
    look_s = 300.0
    first = np.floor(task.start_s / every_s) * every_s
    rung_at = np.arange(first, task.covered_by_s + every_s, every_s)
    full = np.array([open_area_allowed_m2(task, float(at)) for at in rung_at])
    looks = np.arange(task.start_s, task.covered_by_s + look_s, look_s)
    simulated = simulate_day(task, draws, looks)
    next_rung = np.minimum(np.searchsorted(rung_at, looks, side="left"), len(rung_at) - 1)
    allowed = full[next_rung]
    share, chance, mean_area = _calibrated_share(simulated, allowed, sure_fraction)
    rungs = tuple(
        Rung(at_s=float(at), open_area_m2=float(area * share))
        for at, area in zip(rung_at, full, strict=True)
        if at >= task.start_s and at <= task.covered_by_s
    )
    return Ladder(
        rungs=rungs, share_fraction=share, chance_fraction=chance, mean_spread_m2=mean_area
    )


def _calibrated_share(
    simulated: Simulated, allowed_m2: NDArray[np.float64], sure_fraction: float
) -> tuple[float, float, float]:
    """Return the largest share whose rule keeps the chance, that chance, and the mean area."""

    def outcome(share: float) -> tuple[float, float]:
        stops = simulated.open_m2 >= share * allowed_m2
        index = np.where(stops.any(axis=1), stops.argmax(axis=1), len(allowed_m2) - 1)
        rows = np.arange(index.shape[0])
        covered = simulated.to_spare_m2[rows, index] >= -1e-6
        return float(covered.mean()), float(simulated.spread_m2[rows, index].mean())

    low, high = 0.0, 2.0
    if outcome(high)[0] >= sure_fraction:
        low = high
    for _ in range(12):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if outcome(middle)[0] >= sure_fraction else (low, middle)
    share = float(np.floor(low * 200.0) / 200.0)
    return (share, *outcome(share))


def steady(task: DayTask) -> tuple[DayTask, Draws]:
    """Return the day without any uncertainty, and the one draw that goes with it."""
    covers = len(task.covers) + len(task.takeovers)
    machines = len(task.spreaders) + covers
    calm = replace(
        task,
        covers=tuple(replace(c, closes_sd_s=0.0) for c in task.covers),
        takeovers=tuple(replace(t, closes_sd_s=0.0) for t in task.takeovers),
        spread_closes_sd_s=0.0,
        rain_hours_s=(),
        rain_chance=(),
    )
    return calm, Draws(
        spreader_rate=np.ones((1, len(task.spreaders))),
        cover_rate=np.ones((1, covers)),
        refill=np.ones((1, len(task.spreaders), LOADS_DRAWN)),
        changeover=np.ones((1, len(task.takeovers))),
        gap_s=np.full((1, machines, 1), FOREVER_S),
        repair_s=np.zeros((1, machines, 1)),
        cutoff_z=np.zeros(1),
        spread_close_z=np.zeros(1),
        rain_u=np.ones(1),
    )


def worked_curves_m2(
    task: DayTask, draws: Draws, *, stop_s: float, at_s: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return area spread and area covered at the given moments when spreading stops at a time.

    After the stop the machines taken over cover too, each from the stop plus its changeover.

    Returns
    -------
    spread_m2, covered_m2 : (n, k)
    """
    intervals = tuple((a, min(b, stop_s)) for a, b in task.spread_intervals if a < stop_s)
    if not intervals:
        intervals = ((task.start_s, task.start_s + 1e-3),)
    joined = tuple(
        Cover(
            name=t.name,
            rate_m2_per_s=t.rate_m2_per_s,
            opens_s=max(t.opens_s, stop_s + t.changeover_s),
            closes_s=t.closes_s,
            closes_sd_s=t.closes_sd_s,
            down=t.down,
        )
        for t in task.takeovers
    )
    stopped = replace(
        task,
        spread_intervals=intervals,
        covers=(*task.covers, *joined),
        takeovers=(),
        spread_closes_sd_s=0.0,
    )
    simulated = simulate_day(stopped, replace(draws, changeover=draws.changeover[:, :0]), at_s)
    return simulated.spread_m2, simulated.spread_m2 - simulated.open_m2


def first_days(draws: Draws, count: int) -> Draws:
    """Return the first ``count`` of the drawn days."""
    return Draws(
        spreader_rate=draws.spreader_rate[:count],
        cover_rate=draws.cover_rate[:count],
        refill=draws.refill[:count],
        changeover=draws.changeover[:count],
        gap_s=draws.gap_s[:count],
        repair_s=draws.repair_s[:count],
        cutoff_z=draws.cutoff_z[:count],
        spread_close_z=draws.spread_close_z[:count],
        rain_u=draws.rain_u[:count],
    )


def open_if_stopped_at_m2(task: DayTask, stop_s: float) -> float:
    """Return what lies open at the cut-off, at average rates, if spreading stops at a time. [m2]"""
    curves = _curves(task, task.mean_rate_kg_per_m2)
    return max(0.0, -curves.to_spare(min(stop_s, task.spread_until_s)))
