"""What must hold on any day: orders, limits, and the plain balance where it applies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from day_models import (
    HA_AN_HOUR,
    HA_M2,
    HOUR_S,
    common_day,
    custom_day,
    hours,
    made_fleet,
    oats_day,
    plain_day,
    rye_day,
    usual_uncertainty,
)
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from duskline.core.day import (
    DayTask,
    State,
    average_day,
    draw_day,
    latest_spreader_stop_s,
    simulate_day,
    spread_area_by_m2,
    steady,
    stop_at_chance_s,
    worked_curves_m2,
)

SURE = (0.5, 0.8, 0.95)
FEW = 400
rates = st.floats(3.0, 30.0)
seeds = st.integers(0, 10_000)


@given(
    spread=rates, first_share=st.floats(0.1, 0.9), second=rates, long=st.floats(4.0, 12.0),
    lead=st.floats(0.0, 0.8), change=st.floats(0.1, 1.0), open_share=st.floats(0.0, 0.5),
)  # fmt: skip
def test_the_balance_equals_the_plain_form_where_it_holds(
    *, spread: float, first_share: float, second: float, long: float, lead: float, change: float,
    open_share: float,
) -> None:  # fmt: skip
    """One opening, one close, covering slower than spreading, time left after the change."""
    first = spread * first_share
    stop_h = (first * (long - lead) + second * (long - change)) / (spread + second)
    assume(0.05 < stop_h < long - change - 0.05)
    assume(stop_h < long - lead)
    task = plain_day(
        spread=spread, first=first, second=second, hours_long=long, lead_h=lead,
        changeover_h=change,
    )  # fmt: skip
    plain = latest_spreader_stop_s(
        working_time_s=hours(long),
        spread_rate_m2_per_s=spread * HA_AN_HOUR,
        first_cover_rate_m2_per_s=first * HA_AN_HOUR,
        second_cover_rate_m2_per_s=second * HA_AN_HOUR,
        lead_s=hours(lead),
        changeover_s=hours(change),
    )
    assert average_day(task).stop_s == pytest.approx(plain, abs=0.01)
    # So much open that the first machine never waits for ground.
    spread_now = (stop_h * open_share * spread + first * (lead + 0.1)) * HA_M2
    state = State(now_s=hours(1.0), spread_m2=spread_now, covered_m2=0.0)
    again = average_day(replace(task, state=state))
    left_h = long - 1.0
    by_hand = first * left_h + second * (left_h - change) - state.spread_m2 / HA_M2
    if by_hand < 0:
        assert again.bare_m2 / HA_M2 == pytest.approx(-by_hand, abs=1e-3)
    elif by_hand / (spread + second) < left_h - change:
        run_h = by_hand / (spread + second)
        assert (again.stop_s - hours(1.0)) / HOUR_S == pytest.approx(run_h, abs=1e-4)


@settings(max_examples=25, deadline=None)
@given(seed=seeds)
def test_small_loads_bring_the_simulation_to_the_balance(seed: int) -> None:
    """A steady day in a hundredth of the load and refill, small fields, no moves: closed form."""
    task = common_day(seed % 40)
    small = replace(
        task,
        spreaders=tuple(
            replace(s, hopper_kg=s.hopper_kg / 100, refill_s=s.refill_s / 100)
            for s in task.spreaders
        ),
        fields=tuple(
            replace(task.fields[0], area_m2=sum(f.area_m2 for f in task.fields) / 200, move_s=0.0)
            for _ in range(200)
        ),
        rain_hours_s=(),
        rain_chance=(),
    )
    calm, one = steady(small)
    found = float(simulate_day(calm, one).latest_stop_s[0])
    average = average_day(calm)
    if average.limited_by == "covering":
        assert found == pytest.approx(average.stop_s, abs=120.0)
    else:
        assert found > 1e11 or found >= average.stop_s - 120.0


@settings(max_examples=25, deadline=None)
@given(seed=seeds, share=st.floats(0.0, 1.0))
def test_covered_never_exceeds_spread(seed: int, share: float) -> None:
    """Whatever the fleet and whenever it stops."""
    task = made_fleet(seed)
    draws = draw_day(task, usual_uncertainty(task), replications=20, seed=seed)
    stop = task.start_s + share * (task.spread_until_s - task.start_s)
    at = np.linspace(task.start_s, task.covered_by_s, 40)
    spread, covered = worked_curves_m2(task, draws, stop_s=stop, at_s=at)
    assert np.all(covered <= spread + 1e-3)
    assert np.all(np.diff(covered, axis=1) >= -1e-3)


def stops(task: DayTask, seed: int) -> list[float]:
    """Return the closed form's stop and the stops at three chances, always on the same days."""
    draws = draw_day(task, usual_uncertainty(task), replications=FEW, seed=seed)
    latest = simulate_day(task, draws).latest_stop_s
    return [average_day(task).stop_s, *(stop_at_chance_s(latest, sure) for sure in SURE)]


def never_earlier(task: DayTask, better: DayTask, seed: int) -> None:
    """Check that the better day never stops the spreader earlier."""
    for before, after in zip(stops(task, seed), stops(better, seed), strict=True):
        assert after >= before - 0.01


@settings(max_examples=25, deadline=None)
@given(seed=seeds, more_s=st.floats(0.0, 7200.0))
def test_a_longer_day_never_stops_the_spreader_earlier(seed: int, more_s: float) -> None:
    """Every close later by the same time."""
    task = common_day(seed)
    longer = replace(
        task,
        covers=tuple(replace(c, closes_s=c.closes_s + more_s) for c in task.covers),
        takeovers=tuple(replace(t, closes_s=t.closes_s + more_s) for t in task.takeovers),
    )
    never_earlier(task, longer, seed)


@settings(max_examples=25, deadline=None)
@given(seed=seeds, factor=st.floats(1.0, 1.6))
def test_a_faster_covering_machine_never_stops_the_spreader_earlier(
    seed: int, factor: float
) -> None:
    """One machine of the fleet faster."""
    task = replace(common_day(seed), fields=common_day(seed).fields[:1])
    if task.covers:
        first, *rest = task.covers
        faster = replace(
            task, covers=(replace(first, rate_m2_per_s=first.rate_m2_per_s * factor), *rest)
        )
        never_earlier(task, faster, seed)


@settings(max_examples=25, deadline=None)
@given(seed=seeds, less=st.floats(0.0, 1.0))
def test_a_shorter_changeover_never_stops_the_spreader_earlier(seed: int, less: float) -> None:
    """Every changeover shorter by the same share."""
    task = common_day(seed)
    quicker = replace(
        task,
        takeovers=tuple(
            replace(t, changeover_s=t.changeover_s * (1.0 - less)) for t in task.takeovers
        ),
    )
    never_earlier(task, quicker, seed)


@settings(max_examples=25, deadline=None)
@given(earlier_h=st.floats(0.0, 2.0), seed=seeds)
def test_an_earlier_head_start_never_takes_acres_or_running_time(
    earlier_h: float, seed: int
) -> None:
    """Spreading opens earlier, covering as before: more acres, and the spreader runs longer.

    Its clock stop comes earlier, for more lies open by then: S x = C1 T + C2 (T - x - change).
    """
    task = rye_day(close_sd_s=600.0)
    (opens, closes), *_ = task.spread_intervals
    early = replace(task, spread_intervals=((opens - hours(earlier_h), closes),))
    before, after = average_day(task), average_day(early)
    assert after.spread_area_m2 >= before.spread_area_m2 - 1.0
    assert after.stop_s - (opens - hours(earlier_h)) >= before.stop_s - opens - 0.01
    areas = []
    for one in (task, early):
        draws = draw_day(one, usual_uncertainty(one), replications=FEW, seed=seed)
        stop = stop_at_chance_s(simulate_day(one, draws).latest_stop_s, 0.8)
        areas.append(spread_area_by_m2(one, draws, stop)[0])
    assert areas[1] >= areas[0] * 0.995


@settings(max_examples=25, deadline=None)
@given(seed=seeds)
def test_more_sureness_never_stops_later(seed: int) -> None:
    """0.5, 0.8, 0.95: each no later than the one before."""
    _, *by_sureness = stops(common_day(seed), seed)
    assert by_sureness == sorted(by_sureness, reverse=True)


def test_scenarios_bent_by_a_seed_agree_with_the_plain_balance() -> None:
    """Sixty bent versions of the three farms: other rates, hours and changes, one form.

    Nothing is fitted to the examples: each is worked again by the plain balance.
    """
    rng = np.random.default_rng(11)
    checked = 0
    for make in (rye_day, custom_day, oats_day):
        for _ in range(20):
            factor = rng.uniform(0.7, 1.4, 4)
            shift = hours(float(rng.uniform(-1.5, 1.5)))
            base = make()
            task = replace(
                base,
                spread_intervals=tuple(
                    (a + shift, b + shift * factor[3]) for a, b in base.spread_intervals
                ),
                spreaders=tuple(
                    replace(s, moving_rate_m2_per_s=s.moving_rate_m2_per_s * factor[0])
                    for s in base.spreaders
                ),
                covers=tuple(
                    replace(c, rate_m2_per_s=c.rate_m2_per_s * factor[1], opens_s=c.opens_s + shift)
                    for c in base.covers
                ),
                takeovers=tuple(
                    replace(t, rate_m2_per_s=t.rate_m2_per_s * factor[2], opens_s=t.opens_s + shift)
                    for t in base.takeovers
                ),
            )
            found = average_day(task)
            first = sum(c.rate_m2_per_s for c in task.covers)
            second = sum(t.rate_m2_per_s for t in task.takeovers)
            change = max((t.changeover_s for t in task.takeovers), default=0.0)
            opens, until = task.spread_intervals[0][0], task.covered_by_s
            plain = latest_spreader_stop_s(
                working_time_s=until - opens,
                spread_rate_m2_per_s=found.spread_rate_m2_per_s,
                first_cover_rate_m2_per_s=first,
                second_cover_rate_m2_per_s=second,
                lead_s=task.lead_s,
                changeover_s=change,
            )
            if found.limited_by == "covering" and first < found.spread_rate_m2_per_s:
                assert found.stop_s - opens == pytest.approx(plain, abs=0.5)
                assert found.spread_area_m2 == pytest.approx(
                    plain * found.spread_rate_m2_per_s, rel=1e-4
                )
                checked += 1
            elif found.limited_by == "spread window":
                assert found.stop_s - opens <= plain + 0.5
                checked += 1
    assert checked >= 40
