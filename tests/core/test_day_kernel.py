"""The compiled sweep against a plain account of one drawn day, fleet by fleet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from day_models import DrawnDay, made_fleet, usual_uncertainty

from duskline.core.day import draw_day, simulate_day

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
