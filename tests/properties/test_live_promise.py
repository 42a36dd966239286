"""Is the live promise kept? Days drawn from the model, told at one moment, then lived to the end.

Each day draws its ground and weather, each machine its own day, and every hour strays about that.
The morning is told to the live answer, its stop is kept, and the rest of the day, breakdowns and
refills drawn too, says whether all was covered.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest
from made_days import RYE, farm_of
from made_live import at

from duskline.answers.day import DayQuestion, day_answer
from duskline.answers.live import live_answer
from duskline.core import day as balance
from duskline.core.light import seconds_after
from duskline.core.log import Event, identified

FARM = farm_of(RYE)
DAYS, OPENS_H, CLOSES_H = 100, 9.83, 18.25


def stray(rng: np.random.Generator, cv: float, count: int) -> np.ndarray:
    """Logs of factors of mean one with that spread."""
    var = math.log1p(cv * cv)
    return np.asarray(rng.standard_normal(count) * math.sqrt(var) - 0.5 * var)


def at_rates(task: balance.DayTask, factors: np.ndarray) -> balance.DayTask:
    """The day with its spreader, cover and takeover at so many times the planned rates."""
    plan = planned()
    return replace(
        task,
        spreaders=(
            replace(
                task.spreaders[0],
                moving_rate_m2_per_s=plan.spreaders[0].moving_rate_m2_per_s * factors[0],
            ),
        ),
        covers=(replace(task.covers[0], rate_m2_per_s=plan.covers[0].rate_m2_per_s * factors[1]),),
        takeovers=(
            replace(task.takeovers[0], rate_m2_per_s=plan.takeovers[0].rate_m2_per_s * factors[2]),
        ),
    )


@cache
def planned() -> balance.DayTask:
    """The rye farm's first day as the morning plans it."""
    return day_answer(FARM, DayQuestion(replications=50)).task


def told_at(hour: float, factors: np.ndarray) -> tuple[Event, ...]:
    """What a day at those rates tells at one moment, field by field."""
    calm, one = balance.steady(at_rates(planned(), factors))
    found = balance.simulate_day(calm, one, np.array([hour * 3600.0]))
    spread = float(found.spread_m2[0, 0])
    covered = spread - float(found.open_m2[0, 0])
    now = at(0) + timedelta(hours=hour)
    events = []
    for done, machine, area in (
        ("spread", "Spreader", spread),
        ("covered", "Cultivator 1", covered),
    ):
        for one_field in planned().fields:
            part = min(area, one_field.area_m2)
            area -= part  # noqa: PLW2901
            if part > 1.0:
                events.append(
                    Event(
                        at=now,
                        what="spread" if done == "spread" else "covered",
                        machine=machine,
                        field=one_field.name,
                        area_m2=part,
                    )
                )
    return identified(events)


@cache
def kept(hour: float, *, shrink: bool) -> tuple[float, float]:
    """How often the live stop leaves nothing bare, and how far apart the stops are. [h]"""
    table, rng = FARM.defaults, np.random.default_rng(7)
    hourly = table["hourly_rate_cv"].value
    nothing = balance.Uncertainty(
        shared_rate_cv=0.0,
        spreader_rate_cv=(0.0,),
        cover_rate_cv=(0.0, 0.0),
        refill_cv=table["refill_cv"].value,
        changeover_cv=table["changeover_cv"].value,
        breakdown_per_s=FARM.figures["day.breakdowns"].value,
        repair_mean_s=FARM.figures["day.repair"].value,
    )
    good, stops = 0, []
    for number in range(DAYS):
        day = stray(rng, table["shared_rate_cv"].value, 1) + stray(
            rng, table["machine_rate_cv"].value, 3
        )
        before = np.exp(day + stray(rng, hourly / math.sqrt(hour - OPENS_H), 3))
        after = np.exp(day + stray(rng, hourly / math.sqrt(CLOSES_H - hour), 3))
        now = at(0) + timedelta(hours=hour)
        answer = live_answer(
            FARM, now, events=told_at(hour, before), shrink=shrink, replications=400, seed=number
        )
        assert answer.day is not None
        true = at_rates(answer.day.task, after)
        draws = balance.draw_day(true, nothing, replications=1, seed=1000 + number)
        latest = balance.simulate_day(true, draws).latest_stop_s[0]
        stop_s = seconds_after(at(0), answer.day.stop_at)
        good += latest >= stop_s - 1e-6
        stops.append(stop_s / 3600.0)
    return good / DAYS, float(np.std(stops))


@pytest.mark.parametrize("hour", [11.0, 13.0])
def test_nineteen_in_twenty_is_kept(hour: float) -> None:
    """On 100 days the promise of 19 in 20 holds on 89 at least: three sampling errors."""
    share, _ = kept(hour, shrink=True)
    assert 0.95 - 3 * (0.95 * 0.05 / DAYS) ** 0.5 < share < 0.999


def test_rates_as_they_were_shown_promise_too_much() -> None:
    """At 11:00, taking an hour's pace for the day's: stops jump about, and the promise breaks."""
    plain, learned = kept(11.0, shrink=False), kept(11.0, shrink=True)
    assert plain[0] < 0.90 < learned[0]
    assert plain[1] > 2 * learned[1]
