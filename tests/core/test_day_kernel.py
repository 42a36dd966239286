"""The compiled sweep against a plain account of one drawn day, fleet by fleet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from day_models import (
    HA_M2,
    DrawnDay,
    hours,
    made_fleet,
    plain_day,
    rye_day,
    usual_uncertainty,
)

from duskline.core.day import FOREVER_S, DayTask, FieldTask, State, draw_day, simulate_day, steady

HOUR_S = 3600.0
SAME_S = 1e-6 * HOUR_S


@pytest.mark.parametrize("seed", range(60))
def test_the_sweep_finds_the_stop_of_the_plain_account(seed: int) -> None:
    """Fleets with holes, late fields, trucks, known down times, moves, a day half done.

    Five times the usual breakdowns; three drawn days each; equal to a millionth of an hour.
    """
    task = made_fleet(seed)
    unsure = replace(usual_uncertainty(task), breakdown_per_s=0.15 / HOUR_S)
    draws = draw_day(task, unsure, replications=3, seed=seed)
    found = simulate_day(task, draws).latest_stop_s
    for day in range(3):
        assert found[day] == pytest.approx(DrawnDay(task, draws, day).latest_stop_s(), abs=SAME_S)


@pytest.mark.parametrize("seed", range(20))
def test_the_curves_stay_in_order(seed: int) -> None:
    """Spread rises, nothing covered that is not spread, the spare falls with a later stop.

    The spare is held to fall as long as it is spare; a breakdown drawn for after the changeover
    moves with the stop and may give a little back later.
    """
    task = made_fleet(seed)
    draws = draw_day(task, usual_uncertainty(task), replications=20, seed=seed)
    at = np.linspace(task.start_s, task.covered_by_s, 60)
    found = simulate_day(task, draws, at)
    assert np.all(np.diff(found.spread_m2, axis=1) >= -1e-6)
    assert np.all(found.open_m2 >= -1e-3)
    falls = np.diff(found.to_spare_m2, axis=1) <= 1e-3
    assert np.all(falls | (found.to_spare_m2[:, :-1] < 0.0))


@pytest.mark.parametrize("seed", range(20))
def test_the_spare_changes_sign_at_the_latest_stop(seed: int) -> None:
    """Just before the latest stop nothing stays bare, just after it something does."""
    task = made_fleet(seed)
    draws = draw_day(task, usual_uncertainty(task), replications=10, seed=seed)
    latest = simulate_day(task, draws).latest_stop_s
    for day, stop in enumerate(latest):
        if abs(stop) < 1e11 and stop > task.start_s + 1.0:
            around = simulate_day(task, draws, np.array([stop - 0.5, stop + 0.5]))
            assert around.to_spare_m2[day, 0] >= -1e-3
            assert around.to_spare_m2[day, 1] <= 1e-3


@pytest.mark.parametrize("seed", range(20))
def test_what_stays_bare_is_what_the_plain_account_leaves(seed: int) -> None:
    """Stopped at five moments of the day: the bare ground is the same to a square decimetre."""
    task = made_fleet(seed)
    draws = draw_day(task, usual_uncertainty(task), replications=2, seed=seed)
    at = np.linspace(task.start_s, task.covered_by_s, 5)
    found = simulate_day(task, draws, at)
    for day in range(2):
        by_hand = DrawnDay(task, draws, day)
        for place, stop in enumerate(at):
            if stop <= by_hand.spread_end_s:
                bare = max(0.0, -found.to_spare_m2[day, place])
                assert bare == pytest.approx(by_hand.left_bare_m2(float(stop)), abs=0.01)


def latest_h(task: DayTask) -> float:
    """Return the latest stop of the steady day, in hours."""
    calm, one = steady(task)
    return float(simulate_day(calm, one).latest_stop_s[0]) / HOUR_S


def test_loads_and_refills_move_the_stop_by_hand() -> None:
    """10 ha/h in loads of 20 ha, half an hour to refill, 4 ha/h behind by 1 h, 10 h long.

    By hand: 36 ha can be covered. Two hours' spreading 20 ha, refill, from 2.5 h again:
    16 ha more by 4.1 h.
    """
    task = plain_day(spread=10, first=4, hours_long=10, lead_h=1.0, load_m2=20 * HA_M2)
    slow = replace(task, spreaders=(replace(task.spreaders[0], refill_s=hours(0.5)),))
    assert latest_h(slow) == pytest.approx(4.1, abs=1e-6)


def test_a_stop_within_the_first_lead_counts_the_waiting_after_it() -> None:
    """40 minutes left, 20 minutes' lead, 12 ha/h spread, 6 ha/h covered: stop at 10 minutes.

    By hand: covering may work 20 of the 40 minutes, 2 ha; spread in 10 minutes. Counting only
    the waiting up to the stop would say 13.3 minutes.
    """
    task = plain_day(spread=12, first=6, hours_long=2 / 3, lead_h=1 / 3)
    assert latest_h(task) == pytest.approx(1 / 6, abs=1e-6)


def test_a_spreader_empty_one_lead_before_the_close_may_as_well_be_refilled() -> None:
    """A crew that keeps up: seed thrown up to 7.3 h is covered by 8, lead half an hour.

    10 ha/h, loads of 70 ha: empty at 7 h, 45 minutes to refill. Stopping at any time until
    7.75 h leaves the same ground, all covered; the first seed after that is too late.
    """
    task = plain_day(spread=10, first=20, hours_long=8, lead_h=0.5, load_m2=70 * HA_M2)
    slow = replace(task, spreaders=(replace(task.spreaders[0], refill_s=hours(0.75)),))
    assert latest_h(slow) == pytest.approx(7.75, abs=1e-6)


def test_a_move_costs_its_time_once_something_lies_in_the_next_field() -> None:
    """Two fields of 20 ha, half an hour between them, 10 and 4 ha/h, no lead, 7 h.

    By hand: 28 ha could be covered without the move; with it 26, of which 6 in the second
    field: the spreader gets there at 2.5 h and stops at 3.1 h. With 5.2 h, 18.8 ha after a
    move: the first field alone is all that can be covered, and the stop is at its end.
    """
    field = FieldTask(name="one", area_m2=20 * HA_M2, rate_kg_per_m2=1.0)
    two = (field, replace(field, name="two", move_s=hours(0.5)))
    task = plain_day(spread=10, first=4, hours_long=7, lead_h=0.0)
    assert latest_h(replace(task, fields=two)) == pytest.approx(3.1, abs=1e-6)
    short = plain_day(spread=10, first=4, hours_long=5.2, lead_h=0.0)
    assert latest_h(replace(short, fields=two)) == pytest.approx(2.5, abs=1e-6)


def test_a_breakdown_after_the_changeover_goes_with_the_machine() -> None:
    """Machine 2 breaks an hour after it begins, for two: its time counts from the changeover.

    By hand: 10 x = 4 * 10 + 5 (10 - x - 0.5 - 2), the repair over before the close:
    15 x = 77.5; x = 5.167, begins at 5.667, breaks at 6.667, mended at 8.667.
    """
    task = plain_day(spread=10, first=4, second=5, hours_long=10, lead_h=0.0)
    calm, one = steady(task)
    one.gap_s[0, 2, 0], one.repair_s[0, 2, 0] = hours(1), hours(2)
    found = float(simulate_day(calm, one).latest_stop_s[0])
    assert found / HOUR_S == pytest.approx(77.5 / 15, abs=1e-6)


def test_a_hopeless_day_and_a_day_without_a_limit_say_so() -> None:
    """Little left to spread: spreading on does no harm. No time to cover anything: no stop will do.

    30 ha/h of covering close behind 10 ha/h until an hour after the window; and 40 ha open with
    a quarter of an hour left.
    """
    task = plain_day(spread=10, first=30, hours_long=8, lead_h=0.5)
    early = replace(task, spread_intervals=((0.0, hours(7)),))
    assert latest_h(early) * HOUR_S == FOREVER_S
    late = replace(rye_day(closes_h=10.0), covers=(), lead_s=0.0)
    far = replace(late, takeovers=(replace(late.takeovers[0], changeover_s=hours(3)),))
    calm, one = steady(far)
    assert float(simulate_day(calm, one).latest_stop_s[0]) == pytest.approx(calm.start_s, abs=0.01)
    open_now = made_open(task)
    assert latest_h(open_now) * HOUR_S == -FOREVER_S


def made_open(task: DayTask) -> DayTask:
    """Return the day at a quarter hour before its close with 40 ha open."""
    state = State(now_s=hours(7.75), spread_m2=40 * HA_M2, covered_m2=0.0)
    return replace(task, state=state)


def test_a_wind_hole_starves_a_crew_that_has_caught_up() -> None:
    """10 ha/h from 0-3 and 5-8 h, 8 ha/h half an hour behind, 9 h long: 58 ha, stop at 7.8 h.

    By hand: the 30 ha of the morning are covered at 4.25 h; nothing is ready before 5.5 h. From
    there 3.5 h at 8 ha/h are 28 ha, spread in 2.8 h.
    """
    task = plain_day(spread=10, first=8, hours_long=9, lead_h=0.5)
    holed = replace(task, spread_intervals=((0.0, hours(3)), (hours(5), hours(8))))
    assert latest_h(holed) == pytest.approx(7.8, abs=1e-6)
