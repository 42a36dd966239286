"""The same day as an event simulation in simpy: the frozen baseline of benchmarks/day.py.

Frozen on purpose: kept as it was when the ratio was first stated, whatever becomes of the model
in the tests.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from contextlib import suppress

import numpy as np
import simpy

from duskline.core.day import FOREVER_S, DayTask, Uncertainty

__all__ = ["DayByHand"]

TINY_M2 = 1e-6
Interval = tuple[float, float]


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
    LEFT_FRACTION = 0.0005

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
        """Say whether the day, run to its end, leaves no more bare than pieces are rough."""
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
        return self.covered_m2 >= spread - self.LEFT_FRACTION * task.area_m2
