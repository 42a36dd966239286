"""The day balance by hand: closed form, ladder, seed trucks, draws, and what-ifs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from day_models import (
    ACRE_M2,
    HA_AN_HOUR,
    HA_M2,
    HOUR_S,
    MINUTE_S,
    custom_day,
    hours,
    oats_day,
    plain_day,
    rye_day,
    usual_uncertainty,
)

from duskline.core.day import (
    DayTask,
    FieldTask,
    SeedTruck,
    Spreader,
    State,
    Takeover,
    average_day,
    draw_day,
    fluid_spread_rate_m2_per_s,
    latest_spreader_stop_s,
    open_area_allowed_m2,
    open_if_stopped_at_m2,
    simulate_day,
    spread_area_by_m2,
    steady,
    stop_at_chance_s,
    stop_ladder,
    worked_curves_m2,
)
from duskline.core.errors import OutOfRange


def acres(area_m2: float) -> float:
    """Return acres."""
    return area_m2 / ACRE_M2


# --- the closed form ---------------------------------------------------------------------------


def test_stop_leaves_exactly_the_time_to_cover() -> None:
    """8 ha/h spread, 4 + 4 ha/h cover, 10 h, no lead, half an hour to change: stop at 6.5 h.

    By hand: 8 x = 4 * 10 + 4 * (10 - x - 0.5); 12 x = 78; x = 6.5; 52 ha = 40 + 12.
    """
    stop = latest_spreader_stop_s(
        working_time_s=10 * HOUR_S,
        spread_rate_m2_per_s=8.0 * HA_AN_HOUR,
        first_cover_rate_m2_per_s=4.0 * HA_AN_HOUR,
        second_cover_rate_m2_per_s=4.0 * HA_AN_HOUR,
        lead_s=0.0,
        changeover_s=0.5 * HOUR_S,
    )
    assert stop / HOUR_S == pytest.approx(6.5)


def test_more_open_than_can_be_covered_is_refused() -> None:
    """40 ha open, 24 ha can be covered."""
    with pytest.raises(OutOfRange, match="open area"):
        latest_spreader_stop_s(
            working_time_s=2 * HOUR_S,
            spread_rate_m2_per_s=10 * HA_AN_HOUR,
            first_cover_rate_m2_per_s=6 * HA_AN_HOUR,
            second_cover_rate_m2_per_s=6 * HA_AN_HOUR,
            lead_s=0.0,
            changeover_s=0.0,
            open_area_m2=40 * HA_M2,
        )


@pytest.mark.parametrize(
    ("row", "spread", "first", "second", "hours_long", "lead_h", "change_h", "stop_h", "area"),
    [
        ("MACH-C90", 12.0, 5.0, 4.0, 9.0, 0.5, 0.5, 4.78125, 57.375),
        ("MACH-C91", 15.0, 7.0, 0.0, 9.0, 0.5, 0.0, 59.5 / 15, 59.5),
        ("MACH-C92", 30.0, 11.0, 9.0, 8.5, 0.5, 0.4, 160.9 / 39, 30 * 160.9 / 39),
    ],
)
def test_worked_days_of_one_opening_and_one_close(
    row: str, spread: float, first: float, second: float,
    hours_long: float, lead_h: float, change_h: float, stop_h: float, area: float,
) -> None:  # fmt: skip
    """Each worked from a + b balances: spread x = first (T - lead) + second (T - x - change)."""
    found = average_day(
        plain_day(
            spread=spread, first=first, second=second, hours_long=hours_long, lead_h=lead_h,
            changeover_h=change_h,
        )
    )  # fmt: skip
    assert found.stop_s / HOUR_S == pytest.approx(stop_h, abs=1e-5), row
    assert found.spread_area_m2 / HA_M2 == pytest.approx(area, rel=1e-5), row


def test_the_three_farms_stop_as_worked_by_hand() -> None:
    """Rye 15:29 and 165.4 ac; oats 13:00 by the window, 31.3 ha; custom 15:59 and 533 ac."""
    rye = average_day(rye_day())
    assert rye.stop_s / HOUR_S == pytest.approx(15 + 29 / 60, abs=0.02)
    assert acres(rye.spread_area_m2) == pytest.approx(165.4, abs=0.2)
    assert acres(rye.bare_if_never_stopped_m2) == pytest.approx(113, abs=0.5)
    oats = average_day(oats_day())
    assert oats.stop_s == pytest.approx(hours(13))
    assert oats.limited_by == "spread window"
    assert oats.spread_area_m2 / HA_M2 == pytest.approx(31.3, abs=0.05)
    custom = average_day(custom_day())
    assert custom.stop_s / HOUR_S == pytest.approx(15 + 59 / 60, abs=0.03)
    assert acres(custom.spread_area_m2) == pytest.approx(533, abs=1.5)


def test_an_hours_head_start_is_worth_its_covering() -> None:
    """Spreading opens at 8:30, covering at 9:30 without a lead to wait for.

    By hand: S (x - 8.5) = C1 8.75 + C2 (18.25 - 25/60 - x); the spreader runs longer and the
    clock time is earlier: 8 % more acres.
    """
    task = rye_day()
    early = replace(task, spread_intervals=((hours(8.5), hours(18.25)),))
    rate = average_day(task).spread_rate_m2_per_s
    first, second = task.covers[0].rate_m2_per_s, task.takeovers[0].rate_m2_per_s
    run_s = (first * hours(8.75) + second * (hours(9.75) - 25 * MINUTE_S)) / (rate + second)
    found = average_day(early)
    assert found.stop_s - hours(8.5) == pytest.approx(run_s, abs=0.01)
    assert found.stop_s < average_day(task).stop_s
    assert found.spread_area_m2 / average_day(task).spread_area_m2 == pytest.approx(1.08, abs=0.005)


def test_covering_faster_than_spreading_is_held_by_the_lead() -> None:
    """20 ha/h behind 10 ha/h for 8 h with half an hour's lead: spread until just before 7.5 h.

    The last seed is ready half an hour after it fell; what fell in the last lead is covered in
    the time left: 10 x <= 10 (x - 0.5) + 20 (8 - x - ...), so x = 7.5.
    """
    found = average_day(plain_day(spread=10, first=20, hours_long=8, lead_h=0.5))
    assert found.stop_s / HOUR_S == pytest.approx(7.5, abs=0.01)


def test_acres_may_end_the_day() -> None:
    """50 ac at 27.6 ac/h: spread after 1.81 h; that is what ends it."""
    few = (FieldTask(name="only", area_m2=50 * ACRE_M2, rate_kg_per_m2=0.008),)
    found = average_day(rye_day(fields=few))
    assert found.limited_by == "acres"
    assert acres(found.spread_area_m2) == pytest.approx(50)


def test_a_hole_in_the_window_takes_its_hour_off() -> None:
    """Window 6 h with wind from 2 to 3: five hours of spreading, all covered by 12 h."""
    task = plain_day(spread=10, first=8, hours_long=12, lead_h=0.0)
    holed = replace(task, spread_intervals=((0.0, hours(2)), (hours(3), hours(6))))
    found = average_day(holed)
    assert found.spread_area_m2 / HA_M2 == pytest.approx(50, rel=1e-6)
    assert found.limited_by == "spread window"


def test_a_crew_starved_by_a_wind_hole_loses_that_time() -> None:
    """10 ha/h from 0-3 and 5-8 h, 8 ha/h half an hour behind, 9 h long: 58 ha, stop at 7.8 h.

    By hand: the 30 ha of the morning are covered at 4.25 h; nothing is ready before 5.5 h. From
    there 3.5 h at 8 ha/h are 28 ha, spread in 2.8 h. With a close at 5.7 h only 0.2 h is left
    after the hole: 1.6 ha, stop at 5.16 h, before the first of it is even ready.
    """
    task = plain_day(spread=10, first=8, hours_long=9, lead_h=0.5)
    windows = ((0.0, hours(3)), (hours(5), hours(8)))
    found = average_day(replace(task, spread_intervals=windows))
    assert found.stop_s / HOUR_S == pytest.approx(7.8, abs=1e-5)
    assert found.spread_area_m2 / HA_M2 == pytest.approx(58, abs=1e-4)
    assert found.done_s / HOUR_S == pytest.approx(9.0, abs=1e-5)
    short = plain_day(spread=10, first=8, hours_long=5.7, lead_h=0.5)
    found = average_day(replace(short, spread_intervals=windows))
    assert found.stop_s / HOUR_S == pytest.approx(5.16, abs=1e-5)


def test_a_stop_within_the_first_lead_counts_the_waiting_after_it() -> None:
    """40 minutes left, 20 minutes' lead, 12 ha/h spread, 6 ha/h covered: stop at 10 minutes.

    By hand: covering may work 20 of the 40 minutes, 2 ha; spread in 10 minutes.
    """
    found = average_day(plain_day(spread=12, first=6, hours_long=2 / 3, lead_h=1 / 3))
    assert found.stop_s / MINUTE_S == pytest.approx(10, abs=0.01)


@pytest.mark.parametrize(
    ("opens_h", "closes_h", "stop_h", "area_ac"),
    [(10.0, 15.0, 13 + 18 / 60, 91.3), (10.5, 18.25, 15 + 46 / 60, 145.6)],
)
def test_the_other_days_of_the_rye(
    opens_h: float, closes_h: float, stop_h: float, area_ac: float
) -> None:
    """Day 2, rain at 15:00: 13:18 and 91.3 ac; day 4 from 10:30: 15:46 and 145.6 ac."""
    found = average_day(rye_day(opens_h=opens_h, closes_h=closes_h))
    assert found.stop_s / HOUR_S == pytest.approx(stop_h, abs=0.5 / 60 + 1e-3)
    assert acres(found.spread_area_m2) == pytest.approx(area_ac, abs=0.05)


def test_slow_covering_seen_at_one_oclock_brings_the_stop_forward() -> None:
    """96.7 ac spread, 39.0 covered in 3 h 10 min, machine 2 as planned: 14:54 and 149 ac.

    By hand: (39.0 + 12.32 * 5.25 + 15.58 * (5.25 - 0.4167) - 96.7) / (27.63 + 15.58) = 1.90 h.
    """
    state = State(now_s=hours(13), spread_m2=96.7 * ACRE_M2, covered_m2=39.0 * ACRE_M2)
    seen = 39.0 * ACRE_M2 / hours(3 + 10 / 60)
    found = average_day(rye_day(state=state, first_rate=seen))
    assert found.stop_s / HOUR_S == pytest.approx(14.9, abs=0.02)
    assert acres(found.spread_area_m2) == pytest.approx(149, abs=0.5)


def test_rain_moved_forward_brings_the_stop_forward() -> None:
    """At 13:00 on plan, rain at 16:30: stop at 14:14, 131 ac."""
    state = State(now_s=hours(13), spread_m2=96.7 * ACRE_M2, covered_m2=48.4 * ACRE_M2)
    found = average_day(rye_day(closes_h=16.5, state=state))
    assert found.stop_s / HOUR_S == pytest.approx(14 + 14 / 60, abs=0.02)
    assert acres(found.spread_area_m2) == pytest.approx(131, abs=0.5)


def test_one_machine_alone_is_late_for_the_rain_over_the_oats() -> None:
    """31.3 ha spread by 13:00, 28.5 covered by 16:00: 2.8 short; with the second done at 15:15."""
    alone = average_day(oats_day(second=False))
    assert alone.limited_by == "covering"
    assert alone.bare_if_never_stopped_m2 / HA_M2 == pytest.approx(2.8, abs=0.05)
    assert average_day(oats_day()).done_s / HOUR_S == pytest.approx(15.25, abs=0.02)


def test_a_third_spreader_changes_nothing_where_covering_is_the_limit() -> None:
    """Custom day: 533 ac with two spreaders and with three; only the stop comes earlier."""
    two, three = average_day(custom_day()), average_day(custom_day(spreaders=3))
    assert three.spread_area_m2 == pytest.approx(two.spread_area_m2, rel=1e-6)
    assert three.stop_s < two.stop_s - 1800.0


def test_hopeless_is_counted_and_not_hidden() -> None:
    """40 spread, 10 covered, 12 + 12 an hour, 30 min to hitch, 75 min left: 6 stay bare."""
    task = plain_day(spread=20, first=12, second=12, hours_long=8, lead_h=0.3, changeover_h=0.5)
    state = State(now_s=hours(6.75), spread_m2=40 * HA_M2, covered_m2=10 * HA_M2)
    found = average_day(replace(task, state=state))
    assert found.stop_s == hours(6.75)
    assert found.bare_m2 / HA_M2 == pytest.approx(6)


def test_a_breakdown_known_ahead_moves_the_stop() -> None:
    """Custom day at 13:10, 88 ac ahead, machine 3 out for three hours: 15:18, 163 ac more."""
    spread, covered = 76.4 * 25 / 6 * ACRE_M2, 62.75 * (25 / 6 - 0.5) * ACRE_M2
    at = hours(13) + 10 * MINUTE_S
    task = replace(custom_day(), state=State(now_s=at, spread_m2=spread, covered_m2=covered))
    *others, third = task.covers
    broken = replace(task, covers=(*others, replace(third, down=((at, at + hours(3)),))))
    found = average_day(broken)
    assert found.stop_s / HOUR_S == pytest.approx(15.3, abs=5 / 60)
    assert acres(found.spread_area_m2 - spread) == pytest.approx(163, rel=0.02)


def test_going_on_leaves_what_the_balance_says() -> None:
    """Stopping at 15:29 with rain at 16:30 from 13:00 on plan: 54 ac bare."""
    state = State(now_s=hours(13), spread_m2=96.7 * ACRE_M2, covered_m2=48.4 * ACRE_M2)
    task = rye_day(closes_h=16.5, state=state)
    assert acres(open_if_stopped_at_m2(task, hours(15 + 29 / 60))) == pytest.approx(54, abs=0.5)


# --- loads and seed trucks ---------------------------------------------------------------------


def test_a_load_cycle_by_hand() -> None:
    """4,000 kg at 0.0112 kg/m2 is 35.71 ha; at 14.4 ha/h 148.8 min plus 30.6 min: 11.94 ha/h."""
    spreader = Spreader(
        name="s", moving_rate_m2_per_s=14.4 * HA_AN_HOUR, hopper_kg=4000.0, refill_s=1836.0
    )
    rate = fluid_spread_rate_m2_per_s(spreader, 0.0112)
    assert rate / HA_AN_HOUR == pytest.approx(11.944, abs=0.005)


@pytest.mark.parametrize(
    ("hopper_kg", "kg_ha", "metres", "kmh", "run_m", "turn_s", "fill_min", "load_min", "ha_h"),
    [
        (4000.0, 112.0, 12.0, 12.0, 400.0, 15.0, 12.0, 179.41, 11.944),
        (2700.0, 135.0, 10.0, 9.7, 390.0, 18.0, 15.0, 154.10, 7.787),
    ],
)
def test_a_spreader_cycle_with_its_turns(
    hopper_kg: float, kg_ha: float, metres: float, kmh: float, run_m: float, turn_s: float,
    fill_min: float, load_min: float, ha_h: float,
) -> None:  # fmt: skip
    """One load: spreading, a turn at each end of a run, a refill. By hand for the first:

    35.71 ha at 14.4 ha/h 148.81 min, 74.4 turns of 15 s 18.60 min, refill 12 min: 179.41 min.
    """
    load_m2 = hopper_kg / kg_ha * HA_M2
    throwing_s = load_m2 / (metres * kmh / 3.6)
    turning_s = load_m2 / (metres * run_m) * turn_s
    spreader = Spreader(
        name="s", moving_rate_m2_per_s=load_m2 / (throwing_s + turning_s), hopper_kg=hopper_kg,
        refill_s=fill_min * MINUTE_S,
    )  # fmt: skip
    rate = fluid_spread_rate_m2_per_s(spreader, kg_ha / HA_M2)
    assert load_m2 / rate / MINUTE_S == pytest.approx(load_min, abs=0.005)
    assert rate / HA_AN_HOUR == pytest.approx(ha_h, abs=0.0005)


@pytest.mark.parametrize(
    ("spreaders", "trucks", "loads", "per_spreader_h"),
    [(1, 1, 1, 3.5), (1, 1, 2, 3.0), (1, 2, 1, 2.5), (2, 1, 1, 7.0), (2, 2, 1, 3.5)],
)
def test_seed_trucks_by_hand_and_in_the_simulation(
    spreaders: int, trucks: int, loads: int, per_spreader_h: float
) -> None:
    """Loads of 20 ha: two hours to spread, half an hour to fill; a truck is away three hours.

    One truck of one load: 3 h away and half an hour filling, 3.5 h a load. Of two loads: the
    second is spread in 2 h, an hour before it is back; 6 h for two. Two such trucks in turns
    are always there: 2.5 h. One for two spreaders: 3.5 h a load, 7 h each; two for two, 3.5 h.
    """
    spreader = Spreader(
        name="s", moving_rate_m2_per_s=10 * HA_AN_HOUR, hopper_kg=2000.0, refill_s=hours(0.5)
    )
    carts = (SeedTruck(holds_kg=2000.0 * loads, turnaround_s=hours(3)),) * trucks
    rate = fluid_spread_rate_m2_per_s(spreader, 0.01, carts, sharing_count=spreaders)
    assert 20 / (rate / HA_AN_HOUR) == pytest.approx(per_spreader_h)
    long = plain_day(spread=10, first=1, hours_long=500, lead_h=0.0)
    calm, one = steady(
        replace(
            long,
            spreaders=(spreader,) * spreaders,
            seed_trucks=carts,
            fields=(FieldTask(name="f", area_m2=1e9, rate_kg_per_m2=0.01),) * spreaders,
        )
    )
    at = np.array([hours(80), hours(80 + 42 * 9)])  # whole cycles of 7, 6, 3.5, 3, 2.5 h
    spread = simulate_day(calm, one, at).spread_m2[0]
    seen = (spread[1] - spread[0]) / (at[1] - at[0])
    assert seen == pytest.approx(rate * spreaders, rel=0.01)


def test_a_slow_seed_truck_holds_the_spreader_back() -> None:
    """One truck, one load, an hour away: a load takes at least the hour and its refill."""
    spreader = Spreader(
        name="s", moving_rate_m2_per_s=20 * HA_AN_HOUR, hopper_kg=1000.0, refill_s=600.0
    )
    alone = fluid_spread_rate_m2_per_s(spreader, 0.01)
    truck = (SeedTruck(holds_kg=1000.0, turnaround_s=3600.0),)
    held = fluid_spread_rate_m2_per_s(spreader, 0.01, truck)
    assert alone / HA_AN_HOUR == pytest.approx(10 / (0.5 + 1 / 6))
    assert held / HA_AN_HOUR == pytest.approx(10 / (1 + 1 / 6), rel=1e-6)


def test_the_simulation_waits_for_the_seed_truck_too() -> None:
    """The same truck in the steady day: after many loads the area is the fluid rate's."""
    task = plain_day(spread=20, first=1, hours_long=40, lead_h=0.0)
    spreader = Spreader(
        name="s", moving_rate_m2_per_s=20 * HA_AN_HOUR, hopper_kg=100_000.0, refill_s=600.0
    )
    trucked = replace(
        task,
        spreaders=(spreader,),
        seed_trucks=(SeedTruck(holds_kg=100_000.0, turnaround_s=3600.0),),
    )
    calm, one = steady(trucked)
    spread = simulate_day(calm, one, np.array([hours(40)])).spread_m2[0, 0]
    held = fluid_spread_rate_m2_per_s(spreader, 1.0, trucked.seed_trucks)
    assert spread == pytest.approx(held * hours(40), rel=0.05)


# --- chance and ladder -------------------------------------------------------------------------


def test_the_stop_at_a_chance_is_a_rank_of_the_latest_stops() -> None:
    """Of ten latest stops 1..10: at 0.8 two may fail, so the third; at 0.95 none, the first."""
    latest = np.arange(1.0, 11.0)
    assert stop_at_chance_s(latest, 0.8) == 3.0
    assert stop_at_chance_s(latest, 0.95) == 1.0
    with pytest.raises(OutOfRange):
        stop_at_chance_s(latest, 1.0)


def test_draws_have_the_means_and_spreads_asked_for() -> None:
    """Factors of mean 1; shared 10 % and own 6 % give 11.7 %; the seed repeats them."""
    task = rye_day()
    unsure = replace(
        usual_uncertainty(task), shared_rate_cv=0.10, spreader_rate_cv=(0.06,),
        cover_rate_cv=(0.06, 0.06),
    )  # fmt: skip
    draws = draw_day(task, unsure, replications=40_000, seed=5)
    assert draws.spreader_rate.mean() == pytest.approx(1.0, abs=0.003)
    assert draws.cover_rate.std() == pytest.approx(np.hypot(0.10, 0.06), rel=0.03)
    shared = np.corrcoef(draws.spreader_rate[:, 0], draws.cover_rate[:, 0])[0, 1]
    assert shared == pytest.approx(0.10**2 / (0.10**2 + 0.06**2), abs=0.02)
    again = draw_day(task, unsure, replications=40_000, seed=5)
    assert np.array_equal(draws.gap_s, again.gap_s)


def test_a_day_factor_may_bear_on_each_machine_unlike() -> None:
    """10 % on the spreader, none on the first cover, 4 % on the other; alike is as before."""
    task = rye_day()
    alone = replace(
        usual_uncertainty(task), spreader_rate_cv=(0.0,), cover_rate_cv=(0.0, 0.0),
        shared_rate_cvs=(0.10, 0.0, 0.04),
    )  # fmt: skip
    draws = draw_day(task, alone, replications=20_000, seed=5)
    assert draws.spreader_rate[:, 0].std() == pytest.approx(0.10, rel=0.03)
    assert np.ptp(draws.cover_rate[:, 0]) == pytest.approx(0.0, abs=1e-12)
    assert draws.cover_rate[:, 1].std() == pytest.approx(0.04, rel=0.03)
    alike = draw_day(task, replace(alone, shared_rate_cvs=(0.1,) * 3), replications=50, seed=5)
    one = draw_day(task, replace(alone, shared_rate_cvs=()), replications=50, seed=5)
    assert np.array_equal(alike.cover_rate, one.cover_rate)


def test_a_hopper_known_to_be_empty_costs_its_refill() -> None:
    """At 13:00 with a full hopper or an empty one: the spread is a refill's time apart at 14:00."""
    task = replace(
        rye_day(), state=State(now_s=hours(13.0), spread_m2=60 * ACRE_M2, covered_m2=40 * ACRE_M2)
    )

    def spread_by_two(now_kg: float) -> float:
        spreader = replace(task.spreaders[0], now_kg=now_kg)
        calm, one = steady(replace(task, spreaders=(spreader,)))
        return float(simulate_day(calm, one, np.array([hours(14.0)])).spread_m2[0, 0])

    spreader = task.spreaders[0]
    apart = spread_by_two(spreader.hopper_kg) - spread_by_two(0.0)
    assert apart == pytest.approx(spreader.refill_s * spreader.moving_rate_m2_per_s)


def test_refills_changeovers_and_breakdowns_are_drawn_as_asked() -> None:
    """Refills and changeovers 30 %, mean 1; breakdowns every 33 h for 42 minutes on average."""
    task = rye_day()
    draws = draw_day(task, usual_uncertainty(task), replications=20_000, seed=6)
    days, machines = 20_000, 3
    assert draws.refill.shape[:2] == (days, 1)
    assert draws.changeover.shape == (days, 1)
    assert draws.gap_s.shape == draws.repair_s.shape
    assert draws.gap_s.shape[:2] == (days, machines)
    for factor in (draws.refill, draws.changeover):
        assert factor.mean() == pytest.approx(1.0, abs=0.01)
        assert factor.std() == pytest.approx(0.30, rel=0.03)
    assert draws.gap_s.mean() == pytest.approx(HOUR_S / 0.03, rel=0.02)
    assert draws.repair_s.mean() == pytest.approx(0.7 * HOUR_S, rel=0.02)
    assert draws.cutoff_z.std() == pytest.approx(1.0, rel=0.03)
    other = draw_day(task, usual_uncertainty(task), replications=20_000, seed=7)
    assert not np.array_equal(draws.gap_s, other.gap_s)


@pytest.mark.parametrize("per_h", [0.01, 0.03, 0.1, 0.3])
def test_hardly_a_day_has_more_breakdowns_than_are_drawn(per_h: float) -> None:
    """Twelve hours' work: on at most 2 days in 1,000 would a machine break down once more."""
    task = rye_day()
    unsure = replace(usual_uncertainty(task), breakdown_per_s=per_h / HOUR_S)
    gaps = draw_day(task, unsure, replications=50_000, seed=8).gap_s
    rng = np.random.default_rng(9)
    once_more = gaps.sum(axis=2) + rng.exponential(HOUR_S / per_h, gaps.shape[:2])
    assert float((once_more < hours(12)).mean()) <= 0.002


def test_the_same_days_are_drawn_for_another_plan() -> None:
    """Common random numbers: rates and times of the plan do not change the draws."""
    task = rye_day()
    wider = rye_day(opens_h=8.0, first_rate=3.0)
    unsure = usual_uncertainty(task)
    one, other = (draw_day(t, unsure, replications=50, seed=1) for t in (task, wider))
    assert np.array_equal(one.cover_rate, other.cover_rate)
    assert np.array_equal(one.refill, other.refill)


def test_the_ladder_at_average_rates() -> None:
    """156 ac at 1 pm, 94 at 3, 32 at 5: C1 (T - t) + C2 (T - t - 25 min)."""
    task = rye_day()
    found = [acres(open_area_allowed_m2(task, hours(h))) for h in (13, 15, 17)]
    assert found == [pytest.approx(v, abs=0.6) for v in (156, 94, 32)]


def test_the_ladder_keeps_its_chance_and_falls_through_the_day() -> None:
    """Every rung is one share of what could be covered; the chance is measured."""
    task = rye_day(close_sd_s=900.0)
    draws = draw_day(task, usual_uncertainty(task), replications=4000, seed=2)
    for sure in (0.5, 0.8, 0.95):
        ladder = stop_ladder(task, draws, sure_fraction=sure)
        assert ladder.chance_fraction >= sure
        assert ladder.chance_fraction <= sure + 0.03
        areas = [rung.open_area_m2 for rung in ladder.rungs]
        assert areas == sorted(areas, reverse=True)
        for rung in ladder.rungs:
            full = open_area_allowed_m2(task, rung.at_s)
            assert rung.open_area_m2 == pytest.approx(ladder.share_fraction * full)


def test_a_live_ladder_beats_a_clock_time_of_the_same_chance() -> None:
    """Reading open acres wins back some of what a fixed time gives away."""
    task = rye_day(close_sd_s=900.0)
    draws = draw_day(task, usual_uncertainty(task), replications=4000, seed=2)
    stop = stop_at_chance_s(simulate_day(task, draws).latest_stop_s, 0.95)
    by_clock, _ = spread_area_by_m2(task, draws, stop)
    assert stop_ladder(task, draws, sure_fraction=0.95).mean_spread_m2 > by_clock


def test_the_curves_meet_at_the_cut_off_when_stopped_in_time() -> None:
    """Stopped at the steady day's latest stop, everything is covered just at the close."""
    calm, one = steady(rye_day())
    stop = float(simulate_day(calm, one).latest_stop_s[0])
    at = np.linspace(calm.start_s, calm.covered_by_s, 200)
    spread, covered = worked_curves_m2(calm, one, stop_s=stop, at_s=at)
    assert np.all(covered <= spread + 1e-6)
    assert covered[0, -1] == pytest.approx(spread[0, -1], rel=1e-6)
    assert covered[0, -3] < spread[0, -3]


def test_rain_of_a_chance_comes_on_that_share_of_days() -> None:
    """30 % by 14:00: stopping at the close is safe on at most 70 % of days."""
    task = replace(rye_day(), rain_hours_s=(hours(13),), rain_chance=(0.3,))
    draws = draw_day(task, usual_uncertainty(task), replications=20_000, seed=3)
    dry = simulate_day(replace(task, rain_hours_s=(), rain_chance=()), draws).latest_stop_s
    wet = simulate_day(task, draws).latest_stop_s
    assert float((wet < dry - 1.0).mean()) == pytest.approx(0.3, abs=0.015)


def test_a_day_of_nothing_is_refused() -> None:
    """No spreader, no window, no field, or a rate of nothing."""
    task = rye_day()
    for change in (
        {"spreaders": ()},
        {"spread_intervals": ()},
        {"fields": ()},
        {"takeovers": (replace(task.takeovers[0], rate_m2_per_s=0.0),)},
    ):
        with pytest.raises(OutOfRange):
            replace(task, **change)


def test_two_machines_taken_over_count_each() -> None:
    """Two spreaders, each driver takes a cultivator: S x = C (T - x - change) summed.

    20 x = 2 * 8 (10 - x - 0.5); 36 x = 152; x = 4.222.
    """
    task = plain_day(spread=10, first=0, second=8, hours_long=10, lead_h=0.0)
    pair: DayTask = replace(
        task,
        spreaders=(task.spreaders[0], replace(task.spreaders[0], name="other")),
        takeovers=(
            task.takeovers[0],
            Takeover(
                name="other", rate_m2_per_s=8 * HA_AN_HOUR, opens_s=0.0, closes_s=hours(10),
                changeover_s=hours(0.5), spreader_index=1,
            ),
        ),
    )  # fmt: skip
    assert average_day(pair).stop_s / HOUR_S == pytest.approx(152 / 36, abs=1e-4)
