"""The plan through many seasons, against hand-work and a plain account; chances and worth."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from plain_season import CrewDay as PlainDay
from plain_season import PlainCrew, PlainField, work_season
from scipy.stats import binom

from duskline.core.errors import OutOfRange
from duskline.core.season import (
    CrewDay,
    CrewHours,
    Effort,
    Ready,
    Schedule,
    SeasonCost,
    SeasonCrew,
    SeasonDay,
    SeasonField,
    SeasonLot,
    SeasonPrices,
    SeasonTask,
    Visit,
    schedule_season,
)
from duskline.core.season_days import DayBudgets
from duskline.core.season_policy import (
    SimulatedSeasons,
    compare,
    simulate_policy,
    wilson,
)

ACRE_M2 = 4046.8564224
HOUR_S = 3600.0
AC_PER_H = 10.0
PRICES = SeasonPrices(
    wait_usd_per_m2_day=0.5 / ACRE_M2,
    late_usd_per_m2=15.0 / ACRE_M2,
    late_usd_per_m2_day=2.0 / ACRE_M2,
    unplaced_usd_per_m2=60.0 / ACRE_M2,
    travel_usd_per_m=0.001,
    haul_usd_per_m=0.0005,
    visit_usd=15.0,
    clean_out_usd=25.0,
    crew_day_usd=100.0,
)
Lists = Mapping[str, Sequence[tuple[str, float]]]


def made_field(name: str, acres: float, **more: Any) -> SeasonField:
    """A field by its acres."""
    return SeasonField(name=name, area_m2=acres * ACRE_M2, **more)


def made_plan(
    fields: Sequence[SeasonField],
    lists: Lists,
    *,
    days: int = 5,
    crews: Sequence[SeasonCrew] = (),
    prices: SeasonPrices = PRICES,
    paid: bool = False,
    **more: Any,
) -> Schedule:
    """A plan of which only the order of each crew's visits matters, (field, acres) by crew."""
    crews = crews or [SeasonCrew(name=name) for name in lists]
    hours = CrewHours(area_m2=1.0, lost_m2_per_s=1.0, paid=paid)
    task = SeasonTask(
        fields=tuple(fields),
        days=tuple(SeasonDay(day=d, crews={c.name: hours for c in crews}) for d in range(days)),
        crews=tuple(crews),
        prices=prices,
        **more,
    )
    crew_days = [
        CrewDay(
            day=0,
            crew=crew,
            visits=tuple(
                Visit(
                    field=name,
                    area_m2=acres * ACRE_M2,
                    lot="",
                    clean_out=False,
                    starts_s=0.0,
                    takes_s=0.0,
                    travel_m=0.0,
                )
                for name, acres in stops
            ),
            used_s=0.0,
            budget_s=0.0,
        )
        for crew, stops in lists.items()
    ]
    return Schedule(
        crew_days=tuple(crew_days),
        unplaced_m2={},
        finish_days={},
        cost=SeasonCost(),
        bound_usd=0.0,
        task=task,
    )


def made_budgets(acres: Any, acres_per_h: Any = AC_PER_H) -> DayBudgets:
    """Each crew's acres on each day of each season, (count, days, crews)."""
    area = np.atleast_3d(np.asarray(acres, dtype=np.float64)) * ACRE_M2
    lost = np.broadcast_to(np.asarray(acres_per_h) * ACRE_M2 / HOUR_S, area.shape).copy()
    first = date(2026, 10, 18)
    return DayBudgets(
        days=tuple(first + timedelta(days=d) for d in range(area.shape[1])),
        area_m2=area,
        lost_m2_per_s=lost,
        budget_s=area / lost,
    )


def walked(
    plan: Schedule,
    acres: Any,
    *,
    wet: Sequence[int] = (),
    ready: Sequence[int] | None = None,
    help_out: bool = False,
    from_day: int | None = None,
    acres_per_h: Any = AC_PER_H,
) -> SimulatedSeasons:
    """One season in which the crews can do so many acres a day, (days,) or (days, crews)."""
    table = np.asarray(acres, dtype=np.float64)
    budgets = made_budgets(table.reshape(1, len(table), -1), acres_per_h)
    rain = np.zeros((1, len(table)), dtype=np.bool_)
    rain[0, list(wet)] = True
    days = [0] * len(plan.task.fields) if ready is None else ready
    return simulate_policy(
        plan, budgets, rain, np.array([days]), help_out=help_out, from_day=from_day
    )


def done_acres(found: SimulatedSeasons) -> list[float]:
    """Acres done by the end of each day of the first season."""
    return [round(float(one), 6) for one in found.done_m2[0] / ACRE_M2]


def finish(found: SimulatedSeasons) -> dict[str, int]:
    """Day on which each field is done in the first season."""
    return dict(zip(found.fields, found.finish_day[0].tolist(), strict=True))


# By hand


def test_a_crew_carries_over_what_does_not_fit_and_goes_ahead_when_it_can() -> None:
    """A 30, B 50, C 20 ac; days of 40, 0, 70: A and 10 of B, nothing, then all the rest.

    80 ac wait half a dollar for two days less 10 of B and A that did not: (40 + 20) 2 / 2 = 60.
    """
    fields = [made_field("A", 30), made_field("B", 50), made_field("C", 20)]
    plan = made_plan(fields, {"crew": [("A", 30), ("B", 50), ("C", 20)]}, days=4)
    found = walked(plan, [40, 0, 70, 70])
    assert done_acres(found) == [40, 40, 100, 100]
    assert finish(found) == {"A": 0, "B": 2, "C": 2}
    assert {name: float(usd[0]) for name, usd in found.parts_usd.items()} == pytest.approx(
        {
            "wait": 60.0,
            "late": 0.0,
            "unplaced": 0.0,
            "travel": 0.0,
            "haul": 0.0,
            "visits": 4 * 15.0,
            "clean_outs": 0.0,
            "crew_days": 200.0,
            "idle": 0.0,
        }
    )
    assert float(found.cost_usd[0]) == pytest.approx(320.0)


def test_moves_cost_time_and_money_as_in_the_plan() -> None:
    """A 20 ac 4 km from the yard, B 20 ac 3 km off with another lot, slower by a quarter.

    Yard to A 10 min, visit 6 min, 2 h; fold 12 min, 7.5 min of road, clean-out 30 min, visit
    6 min: 191.5 min gone, so that of a 6 h day 168.5 remain: 2.5 h for B, all done.
    """
    fields = [
        made_field("A", 20, place_m=(4000.0, 0.0)),
        made_field("B", 20, place_m=(4000.0, 3000.0), lot="oats"),
    ]
    crew = SeasonCrew(
        name="crew",
        lot_pace={"oats": 1.25},
        visit_s=360.0,
        fold_s=720.0,
        road_speed_mps=4000.0 / 600.0,
        clean_out_s=1800.0,
        start_m=(0.0, 0.0),
    )
    plan = made_plan(fields, {"crew": [("A", 20), ("B", 20)]}, crews=[crew], days=2)
    found = walked(plan, [60, 60])
    assert done_acres(found) == [40, 40]
    assert float(found.parts_usd["travel"][0]) == pytest.approx(7.0)
    assert float(found.parts_usd["clean_outs"][0]) == 25.0
    # Half an hour less: 138.5 min for B at 7.5 min an acre, the rest next day.
    tight = walked(plan, [55, 60])
    assert done_acres(tight)[0] == pytest.approx(20 + (60 * 5.5 - 191.5) / 7.5)
    assert done_acres(tight)[1] == pytest.approx(40)


def test_the_next_stop_in_the_same_field_needs_no_move() -> None:
    """Two stops of 20 ac in one field, planned on two days, one day of 40 ac: one visit."""
    crew = SeasonCrew(name="crew", visit_s=1800.0, fold_s=1800.0)
    plan = made_plan([made_field("A", 40)], {"crew": [("A", 20), ("A", 20)]}, crews=[crew], days=1)
    found = walked(plan, [45])
    assert done_acres(found) == [40]
    assert float(found.parts_usd["visits"][0]) == 15.0


def test_not_ready_and_wet_fields_are_passed_over_until_they_may_be_sown() -> None:
    """A comes ready on day 2, the bottom B is wet on days 0 and 1: C first, then B only on 2.

    On day 2 A is first on the list again, and B does not fit any more.
    """
    fields = [made_field("A", 30), made_field("B", 30, not_after_rain=True), made_field("C", 20)]
    plan = made_plan(fields, {"crew": [("A", 30), ("B", 30), ("C", 20)]})
    found = walked(plan, [30, 30, 30, 30, 30], wet=[0, 1], ready=[2, 0, 0])
    assert finish(found) == {"A": 2, "B": 3, "C": 0}
    assert done_acres(found) == [20, 20, 50, 80, 80]


def test_a_field_ready_later_today_is_waited_for_only_when_nothing_else_can_begin() -> None:
    """A from the third hour on: B goes first; without B the crew waits 3 of its 6 hours."""
    late = made_field("A", 40, ready=Ready(after_s=3 * HOUR_S))
    plan = made_plan([late, made_field("B", 40)], {"crew": [("A", 40), ("B", 40)]})
    assert finish(walked(plan, [60] * 5)) == {"A": 1, "B": 0}
    alone = made_plan([late], {"crew": [("A", 40)]})
    assert done_acres(walked(alone, [60] * 5))[:2] == [30, 40]


def test_a_field_that_must_not_be_split_waits_for_a_day_that_holds_it() -> None:
    """A 50 ac in one piece: not on a day of 40, not in the 40 left after B, then on day 2."""
    fields = [made_field("B", 20), made_field("A", 50, splittable=False), made_field("C", 15)]
    plan = made_plan(fields, {"crew": [("B", 20), ("A", 50), ("C", 15)]})
    found = walked(plan, [60, 40, 60, 0, 0])
    assert finish(found) == {"B": 0, "A": 2, "C": 0}
    assert done_acres(found) == [35, 35, 85, 85, 85]


def test_a_field_larger_than_any_day_is_left_and_blocks_nothing() -> None:
    """A 90 ac in one piece, days of 60: never; the others are done."""
    fields = [made_field("A", 90, splittable=False), made_field("B", 40)]
    found = walked(made_plan(fields, {"crew": [("A", 90), ("B", 40)]}), [60] * 5)
    assert finish(found) == {"A": -1, "B": 0}
    assert float(found.parts_usd["unplaced"][0]) == pytest.approx(90 * 60)
    assert found.most_at_risk() is not None
    assert found.most_at_risk()[0] == "A"  # type: ignore[index]


def test_a_part_below_the_least_is_not_begun_but_the_last_part_may_be_smaller() -> None:
    """Days of 34 ac, A 30, B 34 in parts of 10 at least: 4 ac of B are not begun on day 0.

    Of B 34 go next day; with 30 that day 4 ac are left, the last part, and begun.
    """
    fields = [made_field("A", 30), made_field("B", 34, least_part_m2=10 * ACRE_M2)]
    plan = made_plan(fields, {"crew": [("A", 30), ("B", 34)]})
    assert done_acres(walked(plan, [34] * 5))[:2] == [30, 64]
    assert done_acres(walked(plan, [34, 30, 30, 30, 30]))[:3] == [30, 60, 64]


def test_a_crew_with_nothing_left_helps_or_does_not() -> None:
    """One crew has 20 ac, the other four fields of 20; 40 ac a day each: the last is taken over."""
    fields = [made_field(name, 20) for name in "ABCDE"]
    lists = {"one": [("A", 20)], "two": [("B", 20), ("C", 20), ("D", 20), ("E", 20)]}
    plan = made_plan(fields, lists, days=3)
    alone = walked(plan, [[40, 40]] * 3)
    assert finish(alone) == {"A": 0, "B": 0, "C": 0, "D": 1, "E": 1}
    helped = walked(plan, [[40, 40]] * 3, help_out=True)
    assert finish(helped) == {"A": 0, "B": 0, "C": 0, "D": 1, "E": 0}
    assert done_acres(helped)[:2] == [80, 100]


def test_help_goes_to_the_crew_with_most_left() -> None:
    """Crew two has 60 ac left over, crew three 50: E of crew two is taken, from its end."""
    sizes = {"A": 50, "B": 30, "C": 30, "D": 25, "E": 25}
    fields = [made_field(name, acres) for name, acres in sizes.items()]
    lists = {"one": [("E", 25)], "two": [("A", 50), ("B", 30)], "three": [("C", 30), ("D", 25)]}
    found = walked(made_plan(fields, lists, days=1), [[60, 50, 30]], help_out=True)
    assert finish(found) == {"A": 0, "B": 0, "C": 0, "D": -1, "E": 0}


def test_what_the_plan_left_out_comes_last_by_due_day() -> None:
    """B due on day 4 and C due on day 2 are on no list: A, then C, then B."""
    fields = [made_field("A", 30), made_field("B", 30, due_day=4), made_field("C", 30, due_day=2)]
    found = walked(made_plan(fields, {"crew": [("A", 30)]}), [30] * 5)
    assert finish(found) == {"A": 0, "B": 2, "C": 1}


def test_the_part_the_plan_left_out_is_sown_too() -> None:
    """Of A's 50 ac the plan has 20: 30 come after B."""
    plan = made_plan([made_field("A", 50), made_field("B", 20)], {"crew": [("A", 20), ("B", 20)]})
    found = walked(plan, [40] * 5)
    assert finish(found) == {"A": 1, "B": 0}
    assert done_acres(found)[:2] == [40, 70]


def test_no_more_is_sown_than_the_bin_holds() -> None:
    """Seed for 40 of 60 ac: A whole, of B 10 ac; C of another lot goes on."""
    fields = [
        made_field("A", 30, lot="rye", rate_kg_per_m2=0.01),
        made_field("B", 30, lot="rye", rate_kg_per_m2=0.01),
        made_field("C", 10, lot="oats", rate_kg_per_m2=0.01),
    ]
    plan = made_plan(
        fields,
        {"crew": [("A", 30), ("B", 30), ("C", 10)]},
        lots=(SeasonLot(name="rye", stock_kg=0.4 * ACRE_M2),),
    )
    found = walked(plan, [100] * 5)
    assert finish(found) == {"A": 0, "B": -1, "C": 0}
    assert done_acres(found)[-1] == pytest.approx(50)
    assert float(found.parts_usd["unplaced"][0]) == pytest.approx(20 * 60)


def test_a_seed_truck_that_is_too_slow_holds_the_crew_back() -> None:
    """3,000 kg a trip, 9 km there and back plus an hour: at 0.02 kg/m2 a trip sows 37 ac.

    A trip takes 2 h of 20 ac each: 40 ac of spreading, so the truck holds the crew to 18.5 ac/h.
    """
    crew = SeasonCrew(name="crew", truck_load_kg=3000.0, truck_speed_mps=2.5, truck_turn_s=HOUR_S)
    plan = made_plan(
        [made_field("A", 100, lot="rye", rate_kg_per_m2=0.02, place_m=(4500.0, 0.0))],
        {"crew": [("A", 100)]},
        crews=[crew],
        lots=(SeasonLot(name="rye", place_m=(0.0, 0.0)),),
    )
    found = walked(plan, [60] * 5, acres_per_h=20.0)  # 3 h a day
    trip_acres = 3000.0 / 0.02 / ACRE_M2
    assert done_acres(found)[0] == pytest.approx(1.5 * trip_acres)
    trips = 100 / trip_acres
    assert float(found.parts_usd["haul"][0]) == pytest.approx(trips * 9000.0 * 0.0005)


def test_late_fields_cost_once_and_for_each_day_and_priority_counts() -> None:
    """A 40 ac, priority 2, due on day 0, 20 ac a day: 20 late by a day: 20 (15 + 2) 2 = 680."""
    plan = made_plan([made_field("A", 40, due_day=0, priority=2.0)], {"crew": [("A", 40)]}, days=2)
    found = walked(plan, [20, 20])
    assert float(found.parts_usd["late"][0]) == pytest.approx(680.0)
    assert float(found.parts_usd["wait"][0]) == pytest.approx(20 * 0.5 * 2)


def test_paid_days_cost_the_same_with_and_without_work() -> None:
    """Three paid days, one of them worked: a crew day and two idle ones."""
    plan = made_plan([made_field("A", 20)], {"crew": [("A", 20)]}, days=3, paid=True)
    found = walked(plan, [40, 40, 40])
    assert float(found.parts_usd["crew_days"][0]) == 100.0
    assert float(found.parts_usd["idle"][0]) == 200.0


def test_days_before_the_first_are_not_worked_and_days_off_hold_nothing() -> None:
    """Beginning on day 2 moves everything by two; a crew missing from a day does nothing."""
    plan = made_plan([made_field("A", 40)], {"crew": [("A", 40)]})
    assert finish(walked(plan, [40] * 5, from_day=2)) == {"A": 2}
    days = tuple(replace(day, crews={} if day.day < 3 else day.crews) for day in plan.task.days)
    away = replace(plan, task=replace(plan.task, days=days))
    assert finish(walked(away, [40] * 5)) == {"A": 3}


def test_arrays_that_do_not_fit_the_plan_are_refused() -> None:
    """Too many days, crews, or ready days of another number of fields."""
    plan = made_plan([made_field("A", 40)], {"crew": [("A", 40)]}, days=2)
    for acres in ([40] * 3, [[40, 40]] * 2):
        with pytest.raises(OutOfRange):
            walked(plan, acres)
    with pytest.raises(OutOfRange):
        walked(plan, [40] * 2, ready=[0, 0])


def test_a_season_without_fields_is_done_at_once() -> None:
    """Nothing to do, nothing at risk, no cost."""
    found = walked(made_plan([], {"crew": []}), [40] * 5)
    assert found.last_finish_day().tolist() == [0]
    assert found.most_at_risk() is None
    assert found.cost_usd.tolist() == [0.0]


# Against the plan itself, and a plain account


def test_in_the_plans_own_weather_the_crew_does_the_plan_at_the_plans_cost() -> None:
    """Nine fields in one piece each, one crew, every day as planned: same days, same money.

    In one piece, so that the crew cannot begin tomorrow's field in what is left of today.
    """
    rng = np.random.default_rng(4)
    acres = [79, 40, 33, 40, 28, 59, 38, 32, 12]
    fields = [
        made_field(
            f"A{n + 1}",
            size,
            place_m=tuple(rng.uniform(-3e3, 3e3, 2)),
            due_day=3,
            splittable=False,
        )
        for n, size in enumerate(acres)
    ]
    crew = SeasonCrew(name="crew", fold_s=600.0, road_speed_mps=6.0, visit_s=300.0)
    hours = CrewHours(area_m2=80 * ACRE_M2, lost_m2_per_s=10.0 * ACRE_M2 / HOUR_S)
    task = SeasonTask(
        fields=tuple(fields),
        days=tuple(SeasonDay(day=d, crews={"crew": hours}) for d in range(7)),
        crews=(crew,),
        prices=PRICES,
        road_factor=1.3,
    )
    effort = Effort(rounds=2_000, price_rounds=1, nodes=0, branches=0)
    plan = schedule_season(task, effort=effort, seed=1)
    budgets = made_budgets(np.full((1, 7, 1), 80.0))
    found = simulate_policy(
        plan, budgets, np.zeros((1, 7), dtype=np.bool_), np.zeros((1, 9), int), help_out=True
    )
    assert finish(found) == dict(plan.finish_days)
    assert plan.cost.late_usd > 0.0
    assert float(found.cost_usd[0]) == pytest.approx(plan.cost.total_usd)
    assert float(found.parts_usd["travel"][0]) == pytest.approx(plan.cost.travel_usd)


def linear_day(area: float, lost: float) -> PlainDay:
    """A day that loses so much area for each second of moves."""
    return PlainDay(most=lambda moved_s: area - lost * moved_s, hour_m2=lost * HOUR_S)


@st.composite
def seasons(draw: st.DrawFn) -> tuple[int, int, int, int, bool]:
    """Seed, fields, days, crews, and whether they help out."""
    return (
        draw(st.integers(min_value=0, max_value=2**32)),
        draw(st.integers(min_value=1, max_value=8)),
        draw(st.integers(min_value=1, max_value=8)),
        draw(st.integers(min_value=1, max_value=3)),
        draw(st.booleans()),
    )


@settings(max_examples=300)
@given(seasons())
def test_every_season_is_as_a_plain_account_tells_it(
    case: tuple[int, int, int, int, bool],
) -> None:
    """Finish days, acres, roads, visits and clean-outs of made-up farms, season by season."""
    seed, n, days, crew_count, help_out = case
    rng = np.random.default_rng(seed)
    crews = [
        SeasonCrew(
            name=f"crew {c}",
            lot_pace={"oats": float(rng.uniform(0.8, 1.3))},
            visit_s=float(rng.choice([0.0, 600.0])),
            fold_s=float(rng.choice([0.0, 900.0])),
            road_speed_mps=float(rng.choice([6.0, math.inf])),
            clean_out_s=1200.0,
            start_m=(0.0, 0.0) if rng.random() < 0.5 else None,
        )
        for c in range(crew_count)
    ]
    fields = [
        made_field(
            f"F{i}",
            float(rng.uniform(5, 60)),
            place_m=tuple(rng.uniform(-4e3, 4e3, 2)),
            lot=str(rng.choice(["rye", "oats"])),
            rate_kg_per_m2=0.01,
            ready=Ready(after_s=float(rng.choice([0.0, 5000.0]))),
            due_day=int(rng.integers(0, days)) if rng.random() < 0.5 else None,
            splittable=bool(rng.random() < 0.7),
            least_part_m2=float(rng.choice([0.0, 5.0])) * ACRE_M2,
            not_after_rain=bool(rng.random() < 0.3),
        )
        for i in range(n)
    ]
    lists: dict[str, list[tuple[str, float]]] = {crew.name: [] for crew in crews}
    for one in rng.permutation(n):
        parts = [1.0] if not fields[one].splittable else rng.choice([[1.0, 0.0], [0.4, 0.6]])
        for part in parts:
            if part > 0.0 and rng.random() < 0.85:
                who = crews[rng.integers(0, crew_count)].name
                lists[who].append((fields[one].name, part * fields[one].area_m2 / ACRE_M2))
    stock_kg = float(rng.uniform(0.1, 2.0)) * n * 0.3 * ACRE_M2
    plan = made_plan(
        fields,
        lists,
        days=days,
        crews=crews,
        road_factor=1.2,
        lots=(SeasonLot(name="oats", stock_kg=stock_kg),),
    )
    count = 3
    area = rng.uniform(0.0, 60.0, (count, days, crew_count)) * (
        rng.random((count, days, crew_count)) < 0.8
    )
    lost = rng.uniform(5.0, 15.0, area.shape)
    wet = rng.random((count, days)) < 0.3
    ready = rng.integers(0, days + 1, (count, n))
    found = simulate_policy(plan, made_budgets(area, lost), wet, ready, help_out=help_out)
    plain_crews = [
        PlainCrew(
            name=c.name,
            spread=1.0,
            cover=1.0,
            takeover=0.0,
            lead_s=0.0,
            changeover_s=0.0,
            fold_s=c.fold_s,
            visit_s=c.visit_s,
            clean_s=c.clean_out_s,
            road_mps=c.road_speed_mps,
            start_m=c.start_m,
            lot_pace=dict(c.lot_pace),
        )
        for c in crews
    ]
    plain_fields = [
        PlainField(
            name=f.name,
            area=f.area_m2,
            place_m=f.place_m,
            due=f.due_day,
            whole=not f.splittable,
            least=f.least_part_m2,
            dry=f.not_after_rain,
            lot=f.lot,
            after_s=f.ready.after_s,
            kg=f.rate_kg_per_m2,
        )
        for f in fields
    ]
    for s in range(count):
        told = work_season(
            plain_fields,
            plain_crews,
            {who: [(name, a * ACRE_M2) for name, a in stops] for who, stops in lists.items()},
            [
                {
                    c.name: linear_day(
                        float(area[s, d, i]) * ACRE_M2, float(lost[s, d, i]) * ACRE_M2 / HOUR_S
                    )
                    for i, c in enumerate(crews)
                }
                for d in range(days)
            ],
            wet[s].tolist(),
            {f.name: int(ready[s, i]) for i, f in enumerate(fields)},
            help_out=help_out,
            road_factor=1.2,
            stock_kg={"oats": stock_kg},
        )
        assert {f: d for f, d in zip(found.fields, found.finish_day[s], strict=True) if d >= 0} == (
            told.finish
        )
        assert found.done_m2[s] == pytest.approx(np.array(told.done_m2), rel=1e-6, abs=1.0)
        assert float(found.parts_usd["travel"][s]) == pytest.approx(0.001 * told.road_m)
        assert float(found.parts_usd["visits"][s]) == pytest.approx(15.0 * told.visits)
        assert float(found.parts_usd["clean_outs"][s]) == pytest.approx(25.0 * told.cleaned)
        assert float(found.parts_usd["crew_days"][s]) == pytest.approx(100.0 * told.went_out)


def test_more_hours_never_leave_less_done_for_one_crew_with_one_list() -> None:
    """One crew, fields that may be split, all ready: another hour each day is never worse."""
    rng = np.random.default_rng(9)
    fields = [made_field(f"F{i}", 30, place_m=tuple(rng.uniform(-3e3, 3e3, 2))) for i in range(8)]
    crew = SeasonCrew(name="crew", fold_s=600.0, road_speed_mps=6.0)
    plan = made_plan(fields, {"crew": [(f.name, 30) for f in fields]}, crews=[crew], days=6)
    acres = rng.uniform(0.0, 60.0, (200, 6, 1))
    wet = np.zeros((200, 6), dtype=np.bool_)
    ready = np.zeros((200, 8), dtype=np.int64)
    less = simulate_policy(plan, made_budgets(acres), wet, ready, help_out=False)
    more = simulate_policy(plan, made_budgets(acres + 10.0), wet, ready, help_out=False)
    assert (more.done_m2 >= less.done_m2 - 1.0).all()
    assert (more.last_finish_day() <= less.last_finish_day()).all()
    worth = compare(less, more)
    assert worth.days_low > 0.0
    assert not worth.no_difference


# Chances, fan, worth


def told(finish_day: NDArray[np.int64], cost_usd: NDArray[np.float64]) -> SimulatedSeasons:
    """Seasons with these finish days of fields A, B ... on days 0 to 9; A due on day 4."""
    count, n = finish_day.shape
    return SimulatedSeasons(
        days=tuple(range(10)),
        fields=tuple("ABCDE"[:n]),
        due_days=(4, *[None] * (n - 1)),
        finish_day=finish_day,
        done_m2=np.cumsum(np.ones((count, 10)), axis=1) * np.arange(1, count + 1)[:, None],
        cost_usd=cost_usd,
        parts_usd={},
    )


def test_chances_count_seasons() -> None:
    """A by day 4 in 3 of 4 seasons, B ever in 2 of 4, both by day 5 in 1 of 4."""
    days = np.array([[3, 5], [4, 6], [5, -1], [2, -1]])
    found = told(days, np.zeros(4))
    assert found.chance_of_field("A").fraction == 0.75
    assert found.chance_of_field("A", 2).fraction == 0.25
    assert found.chance_of_field("B").fraction == 0.5
    assert found.chance_done_by(5).fraction == 0.25
    assert found.last_finish_day().tolist() == [5, 6, 10, 10]
    assert found.most_at_risk() == ("B", found.chance_of_field("B"))
    with pytest.raises(OutOfRange):
        found.chance_of_field("Z")


def test_the_fan_is_the_share_of_seasons_with_less() -> None:
    """Five seasons with 1, 2, 3, 4, 5 m2 a day: the middle 3, the lowest 1."""
    found = told(np.zeros((5, 1), dtype=np.int64), np.zeros(5))
    fan = found.fan_m2([0.0, 0.5, 1.0])
    assert fan.shape == (3, 10)
    assert fan[:, 0].tolist() == [1.0, 3.0, 5.0]
    assert fan[:, 9].tolist() == [10.0, 30.0, 50.0]
    with pytest.raises(OutOfRange):
        found.fan_m2([1.2])


def test_an_interval_of_a_chance_holds_the_true_one_about_19_times_in_20() -> None:
    """Exact binomial sums over all outcomes of 400 seasons, for chances 0.5 to 0.99."""
    for truth in (0.5, 0.7, 0.9, 0.95, 0.99):
        inside = sum(
            binom.pmf(hits, 400, truth)
            for hits in range(401)
            if wilson(hits, 400).low <= truth <= wilson(hits, 400).high
        )
        assert 0.93 <= inside <= 0.975
    assert wilson(0, 50).low == 0.0
    assert wilson(0, 50).high > 0.0
    assert wilson(50, 50).high == 1.0
    with pytest.raises(OutOfRange):
        wilson(1, 0)


def test_the_worth_of_a_change_by_hand() -> None:
    """Two days sooner in half the seasons, not at all in the others: one day, 1 +- t sd / 10."""
    days = np.full((100, 1), 6)
    sooner = days.copy()
    sooner[:50] = 4
    cost = np.full(100, 1000.0)
    found = compare(told(days, cost), told(sooner, cost - 100.0))
    half = 1.98422 * math.sqrt(100 / 99) / 10  # Student's t at 99 degrees: 1.98422
    assert (found.days, found.usd) == (1.0, 100.0)
    assert found.days_low == pytest.approx(1.0 - half, abs=1e-5)
    assert found.days_high == pytest.approx(1.0 + half, abs=1e-5)
    assert (found.usd_low, found.usd_high) == (100.0, 100.0)
    assert not found.no_difference


def test_never_done_is_the_day_after_the_last_and_later_is_below_nought() -> None:
    """From day 6 to never (10): four days later."""
    days = np.full((5, 1), 6)
    found = compare(told(days, np.ones(5)), told(np.full((5, 1), -1), np.ones(5)))
    assert found.days == -4.0


def test_no_difference_is_said_when_nothing_differs_or_only_by_luck() -> None:
    """The same seasons; and one season of a thousand a day sooner, another a day later."""
    days = np.full((1000, 1), 6)
    cost = np.full(1000, 500.0)
    assert compare(told(days, cost), told(days, cost.copy())).no_difference
    other = days.copy()
    other[0], other[1] = 5, 7
    assert compare(told(days, cost), told(other, cost)).no_difference
    all_cheaper = compare(told(days, cost), told(days, cost - 1.0))
    assert not all_cheaper.no_difference  # little, but in every season
    assert compare(told(days, cost), told(days, cost * (1.0 + 1e-14))).no_difference


def test_seasons_that_cannot_be_paired_are_refused() -> None:
    """Another number of seasons, or a single one."""
    one, two = (told(np.zeros((n, 1), dtype=np.int64), np.zeros(n)) for n in (1, 2))
    for base, changed in ((two, one), (one, one)):
        with pytest.raises(OutOfRange):
            compare(base, changed)
