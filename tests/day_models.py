"""Days to test the day balance on, and two other ways to work one out.

``latest_stop_s`` is a plain account of one drawn day, stop time by stop time; ``DayByHand`` is
an event simulation written from the description of a day, with random draws of its own.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from contextlib import suppress
from dataclasses import dataclass, field, replace

import numpy as np
import simpy

from duskline.core.day import (
    FOREVER_S,
    Cover,
    DayTask,
    Draws,
    FieldTask,
    SeedTruck,
    Spreader,
    State,
    Takeover,
    Uncertainty,
)

ACRE_M2 = 4046.8564224
HA_M2 = 10_000.0
LB_KG = 0.45359237
FT_M = 0.3048
MPH_MPS = 0.44704
KMH_MPS = 1.0 / 3.6
HOUR_S = 3600.0
MINUTE_S = 60.0
ACRES_AN_HOUR = ACRE_M2 / HOUR_S
HA_AN_HOUR = HA_M2 / HOUR_S
TINY_M2 = 1e-6

Interval = tuple[float, float]

# --- the three invented farms -----------------------------------------------------------------

RYE_FIELDS_AC = (79.07, 39.93, 33.36, 40.29, 28.17, 59.31, 38.43, 31.88, 12.31)
RYE_M1 = 30 * 0.9 * FT_M * 5.5 * MPH_MPS * 0.85
RYE_M2 = 27.5 * FT_M * 5.5 * MPH_MPS * 0.85
RYE_SPREADER = Spreader(
    name="spreader",
    moving_rate_m2_per_s=40 * FT_M * 8 * MPH_MPS * 0.8,
    hopper_kg=6000 * LB_KG,
    refill_s=20 * MINUTE_S,
)
RYE_RATE = 71.46 * LB_KG / ACRE_M2


def hours(clock: float) -> float:
    """Return a clock time in hours as seconds after midnight."""
    return clock * HOUR_S


def rye_day(
    *,
    opens_h: float = 9.5,
    closes_h: float = 18.25,
    state: State | None = None,
    first_rate: float = RYE_M1,
    close_sd_s: float = 0.0,
    fields: tuple[FieldTask, ...] | None = None,
) -> DayTask:
    """Return scenario A: 40 ft spreader, 30 ft cultivator by eye, 28 ft one taken over."""
    opens, closes = hours(opens_h), hours(closes_h)
    return DayTask(
        spread_intervals=((opens, closes),),
        spreaders=(RYE_SPREADER,),
        covers=(
            Cover(
                name="first",
                rate_m2_per_s=first_rate,
                opens_s=opens,
                closes_s=closes,
                closes_sd_s=close_sd_s,
            ),
        ),
        takeovers=(
            Takeover(
                name="second",
                rate_m2_per_s=RYE_M2,
                opens_s=opens,
                closes_s=closes,
                closes_sd_s=close_sd_s,
                changeover_s=25 * MINUTE_S,
            ),
        ),
        fields=fields
        or (FieldTask(name="all", area_m2=362.75 * ACRE_M2, rate_kg_per_m2=RYE_RATE),),
        lead_s=20 * MINUTE_S,
        state=state,
        spread_closes_sd_s=close_sd_s,
    )


def rye_fields(move_s: float) -> tuple[FieldTask, ...]:
    """Return the nine fields of scenario A with the same move between any two."""
    return tuple(
        FieldTask(
            name=f"A{number}",
            area_m2=acres * ACRE_M2,
            rate_kg_per_m2=RYE_RATE,
            move_s=move_s if number else 0.0,
        )
        for number, acres in enumerate(RYE_FIELDS_AC)
    )


def oats_day(*, second: bool = True) -> DayTask:
    """Return scenario B, day 1: wind ends spreading at 13:00, rain ends covering at 16:00."""
    opens, wind, rain = hours(8.5), hours(13.0), hours(16.0)
    return DayTask(
        spread_intervals=((opens, wind),),
        spreaders=(
            Spreader(
                name="spreader",
                moving_rate_m2_per_s=9.0 * 12 * KMH_MPS * 0.75,
                hopper_kg=5.0 * 0.95 * 504,
                refill_s=25 * MINUTE_S,
            ),
        ),
        covers=(
            Cover(
                name="first",
                rate_m2_per_s=6.0 * 0.92 * 9 * KMH_MPS * 0.80,
                opens_s=opens,
                closes_s=rain,
            ),
        ),
        takeovers=(
            Takeover(
                name="second",
                rate_m2_per_s=4.4 * 9 * KMH_MPS * 0.80,
                opens_s=opens,
                closes_s=rain,
                changeover_s=25 * MINUTE_S,
            ),
        )
        if second
        else (),
        fields=(FieldTask(name="all", area_m2=72.66 * HA_M2, rate_kg_per_m2=116.9 / HA_M2),),
        lead_s=20 * MINUTE_S,
    )


def custom_day(
    *, state: State | None = None, third_down: tuple[Interval, ...] = (), spreaders: int = 2
) -> DayTask:
    """Return scenario C on wheat: two spreaders, three covering machines, 09:00 to 18:00."""
    opens, closes = hours(9.0), hours(18.0)
    rates = (40 * 0.97 * 6.5, 36 * 0.92 * 6.0, 32 * 0.90 * 6.0)
    return DayTask(
        spread_intervals=((opens, closes),),
        spreaders=tuple(
            Spreader(
                name=f"spreader {number}",
                moving_rate_m2_per_s=50 * FT_M * 9 * MPH_MPS * 0.78,
                hopper_kg=12_000 * LB_KG,
                refill_s=16 * MINUTE_S,
            )
            for number in range(spreaders)
        ),
        covers=tuple(
            Cover(
                name=f"M{number + 1}",
                rate_m2_per_s=ft_mph * FT_M * MPH_MPS * 0.83,
                opens_s=opens,
                closes_s=closes,
                down=third_down if number == 2 else (),
            )
            for number, ft_mph in enumerate(rates)
        ),
        fields=(
            FieldTask(name="all", area_m2=1600 * ACRE_M2, rate_kg_per_m2=120 * LB_KG / ACRE_M2),
        ),
        lead_s=30 * MINUTE_S,
        state=state,
    )


def usual_uncertainty(task: DayTask) -> Uncertainty:
    """Return how far days stray in these tests."""
    return Uncertainty(
        shared_rate_cv=0.10,
        spreader_rate_cv=tuple(0.06 for _ in task.spreaders),
        cover_rate_cv=tuple(0.06 for _ in (*task.covers, *task.takeovers)),
        refill_cv=0.30,
        changeover_cv=0.30,
        breakdown_per_s=0.03 / HOUR_S,
        repair_mean_s=0.7 * HOUR_S,
    )


def plain_day(  # the plain form of the closed balance, in hours and area an hour
    *,
    spread: float,
    first: float,
    second: float = 0.0,
    hours_long: float,
    lead_h: float,
    changeover_h: float = 0.5,
    unit_m2: float = HA_M2,
    load_m2: float | None = None,
) -> DayTask:
    """Return a day that opens at 0 h with nearly weightless loads: rates are rates."""
    closes = hours(hours_long)
    per_hour = unit_m2 / HOUR_S
    return DayTask(
        spread_intervals=((0.0, closes),),
        spreaders=(
            Spreader(
                name="spreader",
                moving_rate_m2_per_s=spread * per_hour,
                hopper_kg=load_m2 or 1e9,
                refill_s=0.0,
            ),
        ),
        covers=(Cover(name="first", rate_m2_per_s=first * per_hour, opens_s=0.0, closes_s=closes),)
        if first
        else (),
        takeovers=(
            Takeover(
                name="second",
                rate_m2_per_s=second * per_hour,
                opens_s=0.0,
                closes_s=closes,
                changeover_s=hours(changeover_h),
            ),
        )
        if second
        else (),
        fields=(FieldTask(name="all", area_m2=1e9, rate_kg_per_m2=1.0),),
        lead_s=hours(lead_h),
    )


# --- fleets of all kinds ----------------------------------------------------------------------


def _down(rng: np.random.Generator, chance: float) -> tuple[Interval, ...]:
    times: list[Interval] = []
    while rng.random() < chance:
        out = hours(rng.uniform(8.0, 17.0))
        times.append((out, out + hours(rng.uniform(0.2, 2.0))))
    return tuple(times)


def made_fleet(
    seed: int,
    *,
    odd: bool = True,
    most_spreaders: int = 3,
    most_covers: int = 4,
    most_pace: float = 1.15,
    least_fields: int = 1,
) -> DayTask:
    """Return a made-up day: fleets, windows, fields, loads and trucks of every size.

    ``odd`` adds what is rare: holes in the window, known times out of work, fields that get
    ready late, seed trucks, machines that close at different hours, a day half done.
    ``most_pace`` is how fast covering is at most, as a share of spreading.
    """
    rng = np.random.default_rng(seed)
    spreaders = int(rng.integers(1, most_spreaders + 1))
    covers = int(rng.integers(1, most_covers + 1))
    taken = int(rng.integers(0, min(spreaders, 2) + 1))
    opens, closes = hours(rng.uniform(8.0, 11.0)), hours(rng.uniform(15.0, 19.0))
    sd_s = float(rng.choice([0.0, 900.0, 1800.0]))
    pace = rng.uniform(8.0, 16.0) * HA_AN_HOUR  # of all spreaders
    cover_pace = pace * rng.uniform(0.45, most_pace)
    share = rng.dirichlet(np.full(covers + taken, 8.0))
    rate = rng.uniform(80.0, 140.0) / HA_M2
    fields = int(rng.integers(least_fields, 8))
    closing = [closes + (hours(rng.uniform(-1.0, 1.0)) if odd else 0.0) for _ in share]
    chance = 0.25 if odd else 0.0
    windows: tuple[Interval, ...] = ((opens - hours(rng.choice([0.0, 1.0])), closes),)
    if odd and rng.random() < 0.3:
        hole = hours(rng.uniform(11.5, 13.0))
        windows = ((windows[0][0], hole), (hole + hours(rng.uniform(0.3, 1.5)), closes))
    task = DayTask(
        spread_intervals=windows,
        spreaders=tuple(
            Spreader(
                name=f"S{number}",
                moving_rate_m2_per_s=pace / spreaders * rng.uniform(0.8, 1.25) * 1.15,
                hopper_kg=rng.uniform(1500.0, 6000.0),
                refill_s=rng.uniform(5.0, 25.0) * MINUTE_S,
                full_at_start=bool(rng.random() < 0.8),
                down=_down(rng, chance),
            )
            for number in range(spreaders)
        ),
        covers=tuple(
            Cover(
                name=f"C{number}",
                rate_m2_per_s=cover_pace * share[number],
                opens_s=opens + (hours(rng.uniform(0.0, 1.5)) if odd else 0.0),
                closes_s=closing[number],
                closes_sd_s=sd_s,
                down=_down(rng, chance),
            )
            for number in range(covers)
        ),
        takeovers=tuple(
            Takeover(
                name=f"T{number}",
                rate_m2_per_s=cover_pace * share[covers + number],
                opens_s=opens,
                closes_s=closing[covers + number],
                changeover_s=rng.uniform(10.0, 45.0) * MINUTE_S,
                spreader_index=number,
                closes_sd_s=sd_s,
                down=_down(rng, chance / 2),
            )
            for number in range(taken)
        ),
        fields=tuple(
            FieldTask(
                name=f"F{number}",
                area_m2=rng.uniform(0.6, 1.6) * 140.0 * HA_M2 / fields,
                rate_kg_per_m2=rate * rng.uniform(0.9, 1.1),
                ready_s=hours(rng.uniform(7.0, 14.0)) if odd and number > 1 else -FOREVER_S,
                move_s=rng.uniform(3.0, 25.0) * MINUTE_S if number else 0.0,
            )
            for number in range(fields)
        ),
        lead_s=rng.uniform(5.0, 40.0) * MINUTE_S,
        seed_trucks=tuple(
            SeedTruck(
                holds_kg=rng.uniform(4000.0, 15_000.0), turnaround_s=rng.uniform(20, 90) * MINUTE_S
            )
            for _ in range(int(rng.integers(0, 3)) if odd else 0)
        ),
        spread_closes_sd_s=sd_s,
    )
    if odd and rng.random() < 0.3:
        spread = rng.uniform(5.0, 40.0) * HA_M2
        state = State(
            now_s=hours(rng.uniform(11.0, 14.0)),
            spread_m2=spread,
            covered_m2=spread * rng.uniform(0.3, 1.0),
        )
        task = replace(task, state=state)
    if odd and rng.random() < 0.3:
        begins = tuple(hours(h) for h in range(12, 19))
        task = replace(
            task, rain_hours_s=begins, rain_chance=tuple(np.linspace(0.02, 0.4, len(begins)))
        )
    return task


# --- the plain account of one drawn day -------------------------------------------------------


def _left(begin: float, end: float, out: list[Interval]) -> list[Interval]:
    """Return what is left of a span when some times are taken out."""
    left = [(begin, end)] if begin < end else []
    for out_from, out_to in out:
        cut = []
        for a, b in left:
            cut += [(a, min(b, out_from))] if a < out_from else []
            cut += [(max(a, out_to), b)] if b > out_to else []
        left = [(a, b) for a, b in cut if a < b]
    return sorted(left)


def _broken(begin: float, gaps: np.ndarray, repairs: np.ndarray) -> list[Interval]:
    """Return the drawn times out of work of a machine that starts at ``begin``."""
    times, t = [], begin
    for gap, repair in zip(gaps, repairs, strict=True):
        times.append((t + gap, t + gap + repair))
        t += gap + repair
    return times


@dataclass
class _SpreaderNow:
    clock: float
    seed_kg: float
    rest_m2: float = 0.0
    rate_kg_per_m2: float = 1.0
    loads: int = 0
    fields: int = 0


@dataclass
class DrawnDay:
    """One drawn day of a task, laid out: runs of the spreaders, times of the machines."""

    task: DayTask
    draws: Draws
    index: int
    runs: list[tuple[float, float, float]] = field(default_factory=list)
    first: list[tuple[float, list[Interval]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Lay the day out."""
        task, draws, n = self.task, self.draws, self.index
        self.rain_s = FOREVER_S
        for begin, chance in reversed(list(zip(task.rain_hours_s, task.rain_chance, strict=True))):
            if draws.rain_u[n] < chance:
                self.rain_s = begin
        close = task.spread_until_s + task.spread_closes_sd_s * float(draws.spread_close_z[n])
        self.spread_close_s = min(close, self.rain_s)
        self.runs = self._runs()
        for k, cover in enumerate(task.covers):
            begin = max(task.start_s, cover.opens_s)
            self.first.append((self._pace(k), self._times(k, begin)))

    def _machine(self, k: int) -> Cover | Takeover:
        return (*self.task.covers, *self.task.takeovers)[k]

    def _pace(self, k: int) -> float:
        return self._machine(k).rate_m2_per_s * float(self.draws.cover_rate[self.index, k])

    def _times(self, k: int, begin: float) -> list[Interval]:
        """Return when covering machine k works if it starts at ``begin``."""
        machine, row = self._machine(k), len(self.task.spreaders) + k
        late = machine.closes_sd_s * float(self.draws.cutoff_z[self.index])
        gap, repair = self.draws.gap_s[self.index, row], self.draws.repair_s[self.index, row]
        out = [*machine.down, *_broken(begin, gap, repair)]
        return _left(begin, min(machine.closes_s + late, self.rain_s), out)

    def _throwing_times(self, i: int) -> list[Interval]:
        begin = max(self.task.start_s, self.task.spread_intervals[0][0])
        gap, repair = self.draws.gap_s[self.index, i], self.draws.repair_s[self.index, i]
        out = [*self.task.spreaders[i].down, *_broken(begin, gap, repair)]
        *earlier, (last, _) = self.task.spread_intervals
        windows = [(a, min(b, self.spread_close_s)) for a, b in earlier]
        return sorted(
            piece
            for a, b in (*windows, (last, self.spread_close_s))
            for piece in _left(max(a, begin), b, out)
        )

    def _runs(self) -> list[tuple[float, float, float]]:
        """Return (from, to, area per time) for every stretch of any spreader."""
        task, draws, n = self.task, self.draws, self.index
        share_kg = task.spread_before_m2 / len(task.spreaders) * task.fields[0].rate_kg_per_m2
        now = [
            _SpreaderNow(
                clock=task.start_s,
                seed_kg=s.hopper_kg - share_kg % s.hopper_kg
                if share_kg
                else (s.hopper_kg if s.full_at_start else 0.0),
            )
            for s in task.spreaders
        ]
        times = [self._throwing_times(i) for i in range(len(now))]
        trucks = [[task.start_s, truck.holds_kg] for truck in task.seed_trucks]
        waiting, runs, busy = list(task.fields), [], set(range(len(now)))
        while busy:
            i = min(busy, key=lambda j: (now[j].clock, j))
            spreader, s = task.spreaders[i], now[i]
            if s.rest_m2 <= TINY_M2:
                if not waiting:
                    busy.discard(i)
                    continue
                one = waiting.pop(0)
                s.clock = max(s.clock + (one.move_s if s.fields else 0.0), one.ready_s)
                s.rest_m2, s.rate_kg_per_m2, s.fields = one.area_m2, one.rate_kg_per_m2, 1
                continue
            if s.seed_kg <= TINY_M2:
                factors = draws.refill[n, i]
                took = spreader.refill_s * float(factors[s.loads % len(factors)])
                if trucks:
                    k = min(range(len(trucks)), key=lambda j: (trucks[j][0], j))
                    s.clock = max(s.clock, trucks[k][0])
                    trucks[k] = [s.clock + took, trucks[k][1] - spreader.hopper_kg]
                    if trucks[k][1] < spreader.hopper_kg:
                        stated = task.seed_trucks[k]
                        trucks[k] = [trucks[k][0] + stated.turnaround_s, stated.holds_kg]
                s.clock, s.seed_kg, s.loads = s.clock + took, spreader.hopper_kg, s.loads + 1
                continue
            rate = spreader.moving_rate_m2_per_s * float(draws.spreader_rate[n, i])
            left = [(max(a, s.clock), b) for a, b in times[i] if b > s.clock]
            if not left:
                busy.discard(i)
                continue
            begin, end = left[0]
            end = min(end, begin + min(s.rest_m2, s.seed_kg / s.rate_kg_per_m2) / rate)
            runs.append((begin, end, rate))
            s.rest_m2 -= rate * (end - begin)
            s.seed_kg -= rate * (end - begin) * s.rate_kg_per_m2
            s.clock = end
        return runs

    @property
    def spread_end_s(self) -> float:
        """The end of the last stretch spread if nobody stops it. [s]"""
        return max((b for _, b, _ in self.runs), default=self.task.start_s)

    def left_bare_m2(self, stop_s: float) -> float:
        """Return what lies open at the end when spreading stops then: one walk through the day."""
        task = self.task
        runs = [(a, min(b, stop_s), rate) for a, b, rate in self.runs if a < stop_s]
        crew = list(self.first)
        for k, machine in enumerate(task.takeovers):
            change = machine.changeover_s * float(self.draws.changeover[self.index, k])
            place = len(task.covers) + k
            begin = max(machine.opens_s, stop_s + change)
            crew.append((self._pace(place), self._times(place, begin)))
        paces = [pace for pace, _ in self.first]
        mover = sum(pace * pace for pace in paces) / (sum(paces) or 1.0)  # mostly a fast one
        bounds = list(task.spread_before_m2 + np.cumsum([f.area_m2 for f in task.fields])[:-1])
        moves = [f.move_s * mover for f in task.fields[1:]]
        spread = task.spread_before_m2 + sum((b - a) * rate for a, b, rate in runs)
        lead = task.lead_s
        edges = {a + lead for a, _, _ in runs} | {b + lead for _, b, _ in runs}
        edges |= {edge for _, spans in crew for span in spans for edge in span}
        t, covered, owed = task.start_s, task.covered_before_m2, 0.0
        while covered < spread - TINY_M2:
            flow = sum(pace for pace, spans in crew if any(a <= t < b for a, b in spans))
            come = sum(rate for a, b, rate in runs if a + lead <= t < b + lead)
            ready = task.spread_before_m2 + sum(
                rate * (min(b, t - lead) - a) for a, b, rate in runs if a + lead < t
            )
            if bounds and covered >= bounds[0] - TINY_M2:
                owed += moves.pop(0)
                bounds.pop(0)
                continue
            later = [edge for edge in edges if edge > t]
            if not later:
                break
            until = min(later)
            does, pays = flow, 0.0
            if owed > TINY_M2:
                does, pays = 0.0, flow
                until = min(until, t + owed / flow) if flow else until
            elif ready - covered <= TINY_M2:
                does = min(flow, come)
            elif flow > come:
                until = min(until, t + (ready - covered) / (flow - come))
            if does:
                until = min(until, t + (min([*bounds[:1], spread]) - covered) / does)
            covered += does * (until - t)
            owed -= pays * (until - t)
            t = until
        return max(0.0, spread - covered)

    def latest_stop_s(self) -> float:
        """Return the latest stop that leaves nothing bare, by halving. [s]"""
        low, high = self.task.start_s, self.spread_end_s
        if self.left_bare_m2(low) > 2 * TINY_M2:
            return -FOREVER_S
        if self.left_bare_m2(high) <= 2 * TINY_M2:
            return FOREVER_S
        while high - low > 1e-5:
            middle = 0.5 * (low + high)
            if self.left_bare_m2(middle) <= 2 * TINY_M2:
                low = middle
            else:
                high = middle
        return low


# --- an event simulation of its own -----------------------------------------------------------


def stretched(rng: np.random.Generator, cv: float) -> float:
    """Return a factor with mean 1 that varies by ``cv``."""
    sigma = math.sqrt(math.log(1.0 + cv * cv))
    return float(rng.lognormal(-0.5 * sigma * sigma, sigma))


Wait = Generator[simpy.Event, None, None]


class Machine:
    """A machine in the event simulation: it breaks down by the clock and is mended."""

    def __init__(self, env: simpy.Environment, rate: float, rng: np.random.Generator) -> None:
        self.env, self.rate, self.rng = env, rate, rng
        self.mended: simpy.Event | None = None
        self.at_work: simpy.Process | None = None

    def trouble(self, per_s: float, mean_repair_s: float) -> Wait:
        """Break down now and then; whoever is at work with the machine is told."""
        while True:
            yield self.env.timeout(self.rng.exponential(1.0 / per_s))
            self.mended = self.env.event()
            if self.at_work is not None:
                self.at_work.interrupt()
            yield self.env.timeout(self.rng.exponential(mean_repair_s))
            mended, self.mended = self.mended, None
            mended.succeed()

    def works(
        self, span_s: float, process: simpy.Process | None
    ) -> Generator[simpy.Event, None, float]:
        """Work for a span or until it breaks down; the time worked comes back."""
        began, self.at_work = self.env.now, process
        with suppress(simpy.Interrupt):
            yield self.env.timeout(span_s)
        self.at_work = None
        return float(self.env.now - began)


class DayByHand:
    """One day as it might go: machines that throw, refill, move, follow, break and change over.

    Written from what a day is, with draws of its own: spreaders throw load by load; ground is
    covered in the order it was spread, one lead later; a covering machine takes a piece, and
    leaves what it cannot finish to the others; the first machine into a field has moved there.
    """

    POLL_S = 30.0
    BLINK_S = 1e-6
    SCRAP_M2 = 0.01
    GRAIN_FRACTION = 0.0006

    def __init__(
        self, task: DayTask, unsure: Uncertainty, rng: np.random.Generator, stop_s: float
    ) -> None:
        self.task, self.unsure, self.rng = task, unsure, rng
        self.env = simpy.Environment(initial_time=task.start_s)
        day = stretched(rng, unsure.shared_rate_cv)
        self.spreaders = [
            Machine(self.env, s.moving_rate_m2_per_s * day * stretched(rng, cv), rng)
            for s, cv in zip(task.spreaders, unsure.spreader_rate_cv, strict=True)
        ]
        self.covers = [
            Machine(self.env, c.rate_m2_per_s * day * stretched(rng, cv), rng)
            for c, cv in zip((*task.covers, *task.takeovers), unsure.cover_rate_cv, strict=True)
        ]
        rain_s = self._rain_s()
        late = rng.standard_normal()
        self.closes = [
            min(c.closes_s + c.closes_sd_s * late, rain_s) for c in (*task.covers, *task.takeovers)
        ]
        close = task.spread_until_s + task.spread_closes_sd_s * rng.standard_normal()
        self.spread_close_s = min(close, rain_s, stop_s)
        self.waiting = list(task.fields)
        self.thrown: list[list[float]] = []  # from, to, rate; not yet all ready
        self.ready_m2 = task.spread_before_m2
        self.taken_m2 = task.covered_before_m2
        self.covered_m2 = task.covered_before_m2
        self.left_over_m2 = 0.0
        whole = np.cumsum([f.area_m2 for f in task.fields])
        self.bounds = [float(b) for b in task.spread_before_m2 + whole[:-1]]
        self.moves = [f.move_s for f in task.fields[1:]]
        self.grain_m2 = self.GRAIN_FRACTION * task.area_m2

    def _rain_s(self) -> float:
        """Return when rain comes: hour by hour, if not before, then in this one."""
        so_far = 0.0
        for begin, chance in zip(self.task.rain_hours_s, self.task.rain_chance, strict=True):
            if chance > so_far:
                if self.rng.random() < (chance - so_far) / (1.0 - so_far):
                    return begin
                so_far = chance
        return FOREVER_S

    # -- spreading

    def _window(self) -> Interval | None:
        """Return the stretch of time spreading is allowed in, now or next."""
        now = self.env.now
        *earlier, (last, _) = self.task.spread_intervals
        for begin, end in (*earlier, (last, FOREVER_S)):
            close = min(end, self.spread_close_s)
            if now < close - self.BLINK_S and begin < close:
                return max(begin, now), close
        return None

    def _spread(self, index: int) -> Wait:
        env, machine, facts = self.env, self.spreaders[index], self.task.spreaders[index]
        seed_kg = facts.hopper_kg if facts.full_at_start else 0.0
        moved = False
        while self.waiting:
            one = self.waiting.pop(0)
            if moved:
                yield env.timeout(one.move_s)
            moved = True
            yield env.timeout(max(0.0, one.ready_s - env.now))
            rest_m2 = one.area_m2
            while rest_m2 > TINY_M2:
                if seed_kg <= TINY_M2:
                    yield env.timeout(facts.refill_s * stretched(self.rng, self.unsure.refill_cv))
                    seed_kg = facts.hopper_kg
                window = self._window()
                if window is None:
                    return
                if window[0] > env.now:
                    yield env.timeout(window[0] - env.now)
                elif machine.mended is not None:
                    yield machine.mended
                else:
                    most_m2 = min(rest_m2, seed_kg / one.rate_kg_per_m2)
                    run = [env.now, FOREVER_S, machine.rate]
                    self.thrown.append(run)
                    span_s = min(most_m2 / machine.rate, window[1] - env.now)
                    took_s = yield from machine.works(span_s, env.active_process)
                    run[1] = env.now
                    rest_m2 -= took_s * machine.rate
                    seed_kg -= took_s * machine.rate * one.rate_kg_per_m2

    # -- covering

    def _count_ready(self) -> float:
        """Return the ground spread at least one lead ago. [m2]"""
        then, going_on_m2, still = self.env.now - self.task.lead_s, 0.0, []
        for run in self.thrown:
            if run[1] <= then:
                self.ready_m2 += (run[1] - run[0]) * run[2]
            else:
                still.append(run)
                going_on_m2 += max(0.0, then - run[0]) * run[2]
        self.thrown = still
        return self.ready_m2 + going_on_m2

    def _piece(self) -> tuple[float, float]:
        """Return the next piece to cover and the move to it: (area, time)."""
        if self.left_over_m2 > self.SCRAP_M2:
            piece, self.left_over_m2 = self.left_over_m2, 0.0
            return piece, 0.0
        move_s = 0.0
        ready = self._count_ready()
        while self.bounds and self.taken_m2 >= self.bounds[0] - TINY_M2 and ready > self.bounds[0]:
            self.bounds.pop(0)
            move_s += self.moves.pop(0)
        more_to_come = bool(self.thrown) and not (self.bounds and ready >= self.bounds[0])
        ready = min([ready, *self.bounds[:1]]) - self.taken_m2
        if ready <= (self.grain_m2 if more_to_come else self.SCRAP_M2):
            return 0.0, move_s
        crew = len(self.covers)
        piece = ready if crew == 1 else max(ready / (2 * crew), min(ready, self.grain_m2))
        self.taken_m2 += piece
        return piece, move_s

    def _cover(self, index: int, opens_s: float) -> Wait:
        env, machine = self.env, self.covers[index]
        yield env.timeout(max(0.0, opens_s - env.now))
        if self.unsure.breakdown_per_s > 0.0:
            env.process(machine.trouble(self.unsure.breakdown_per_s, self.unsure.repair_mean_s))
        while env.now < self.closes[index] - self.BLINK_S:
            if machine.mended is not None:
                yield machine.mended
                continue
            piece, move_s = self._piece()
            if move_s > 0.0:
                yield env.timeout(move_s)
            if piece <= 0.0:
                yield env.timeout(self.POLL_S)
                continue
            span_s = max(0.0, min(piece / machine.rate, self.closes[index] - env.now))
            took_s = 0.0
            if machine.mended is None:
                took_s = yield from machine.works(span_s, env.active_process)
            did_m2 = min(piece, took_s * machine.rate)
            self.covered_m2 += did_m2
            self.left_over_m2 += piece - did_m2

    def _change_over(self, index: int, spreading: simpy.Event) -> Wait:
        """Leave the spreader once spreading is over, and go and cover."""
        over = max(0.0, self.spread_close_s - self.env.now)
        yield self.env.timeout(over) | spreading
        machine = self.task.takeovers[index]
        span_s = machine.changeover_s * stretched(self.rng, self.unsure.changeover_cv)
        yield from self._cover(
            len(self.task.covers) + index, max(machine.opens_s, self.env.now + span_s)
        )

    def _begin_trouble(self, machine: Machine, opens_s: float) -> Wait:
        yield self.env.timeout(max(0.0, opens_s - self.env.now))
        yield from machine.trouble(self.unsure.breakdown_per_s, self.unsure.repair_mean_s)

    def all_covered(self) -> bool:
        """Say whether the day, run to its end, leaves no more bare than half a piece a machine."""
        env, task = self.env, self.task
        spreading = env.all_of([env.process(self._spread(i)) for i in range(len(self.spreaders))])
        for machine in self.spreaders:
            if self.unsure.breakdown_per_s > 0.0:
                env.process(self._begin_trouble(machine, task.spread_intervals[0][0]))
        for k, cover in enumerate(task.covers):
            env.process(self._cover(k, cover.opens_s))
        for k in range(len(task.takeovers)):
            env.process(self._change_over(k, spreading))
        env.run(until=max(*self.closes, self.spread_close_s, env.now) + task.lead_s + 1.0)
        spread = self._count_ready()
        return self.covered_m2 >= spread - 0.5 * self.grain_m2 * len(self.covers)


def common_day(seed: int) -> DayTask:
    """Return a made-up day without rarities; every third with a chance of rain."""
    task = made_fleet(
        seed, odd=False, most_spreaders=2, most_covers=3, most_pace=0.95, least_fields=3
    )
    if seed % 3 == 0:
        begins = tuple(hours(h) for h in range(12, 19))
        chance = tuple(float(c) for c in np.linspace(0.0, 0.08, len(begins)))
        task = replace(task, rain_hours_s=begins, rain_chance=chance)
    return task
