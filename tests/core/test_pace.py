"""How a pace is learned: weighed by hand, and against the general formula in matrices."""

from __future__ import annotations

import math
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.pace import Expected, Paces, Seen, learned, nothing_seen, paces, seen

HOUR_S = 3600.0
SHARED, OWN, HOURLY = 0.10, 0.06, 0.15
PLAN = (
    Expected(rate_m2_per_s=30.0, own_cv=OWN),
    Expected(rate_m2_per_s=15.0, own_cv=OWN),
    Expected(rate_m2_per_s=16.0, own_cv=OWN),
)


def shown(machine: int, ratio: float, hours: float) -> Seen:
    """So many hours of work at a share of the planned rate."""
    took = hours * HOUR_S
    return Seen(machine=machine, area_m2=PLAN[machine].rate_m2_per_s * ratio * took, took_s=took)


def learn(*stretches: Seen, shared: float = SHARED, believed: float = 2.5) -> Paces:
    """What the plan of three machines has learned."""
    return learned(PLAN, stretches, shared_cv=shared, hourly_cv=HOURLY, believed=believed)


def var(cv: float) -> float:
    """Variance of the log of a lognormal."""
    return math.log1p(cv * cv)


def test_nothing_seen_is_the_plan() -> None:
    """Rates are the planned means, doubts those of the morning, nothing is learned."""
    found = learn()
    for plan, pace in zip(PLAN, found.machines, strict=True):
        assert pace.rate_m2_per_s == pytest.approx(plan.rate_m2_per_s, rel=1e-12)
        assert pace.weight_fraction == pytest.approx(0.0, abs=1e-12)
        assert pace.own_sd == pytest.approx(math.sqrt(var(OWN)))
        assert pace.shared_sd == pytest.approx(math.sqrt(var(SHARED)))
    assert found.day_factor == pytest.approx(1.0)


def test_one_machine_alone_by_hand() -> None:
    """No shared part: prior variance 0.0036 (about), four hours show it with 0.0225 / 4 = 0.0056.

    By hand, four hours at 0.8 of plan: w = 0.0036 / (0.0036 + 0.0056) = 0.39, and the log rate
    moves 0.39 of log 0.8.
    """
    found = learn(shown(1, 0.8, 4.0), shared=0.0).machines[1]
    prior, noise = var(OWN), HOURLY**2 / 4.0
    weight = prior / (prior + noise)
    assert weight == pytest.approx(0.39, abs=0.002)
    assert found.weight_fraction == pytest.approx(weight)
    middle = weight * (math.log(0.8) + 0.5 * prior)
    assert found.factor == pytest.approx(math.exp(middle + 0.5 * weight * noise - 0.5 * prior))
    assert found.own_sd == pytest.approx(math.sqrt(weight * noise))


def test_a_machine_seen_slow_makes_the_others_a_bit_slow() -> None:
    """They share ground and weather: the others follow, less far, and grow less doubtful."""
    found = learn(shown(1, 0.8, 3.0))
    slow, spreader, other = found.machines[1], found.machines[0], found.machines[2]
    assert 0.8 < slow.factor < other.factor < 1.0
    assert other.factor == pytest.approx(spreader.factor)
    assert 0.0 < other.weight_fraction < slow.weight_fraction < 1.0
    assert found.day_factor < 1.0


def test_what_is_not_shared_tells_nothing_of_the_others() -> None:
    """Without a shared part the others stay on plan."""
    found = learn(shown(1, 0.8, 3.0), shared=0.0)
    assert found.machines[2].factor == pytest.approx(1.0)


def test_one_early_entry_does_not_make_the_pace_jump() -> None:
    """Ten minutes at half or at twice the plan move the pace by under a twelfth of the way."""
    for ratio in (0.5, 2.0):
        pace = learn(shown(1, ratio, 1.0 / 6.0)).machines[1]
        assert pace.weight_fraction < 0.1
        assert abs(math.log(pace.factor)) < 0.1 * abs(math.log(ratio))


@pytest.mark.parametrize("took_s", [1e-6, 1.0, 60.0])
def test_a_moment_says_nothing_however_much_it_claims(took_s: float) -> None:
    """An area told for no time at all does not explode the rate."""
    one = Seen(machine=1, area_m2=40_000.0, took_s=took_s)
    pace = learn(one).machines[1]
    assert pace.factor == pytest.approx(1.0, abs=0.01)


def test_what_cannot_be_believed_is_taken_as_the_most_that_can() -> None:
    """Three hours with a fiftieth of the plan's ground: a telling is missing, not the machine."""
    wild, most = learn(shown(1, 0.02, 3.0)), learn(shown(1, 1.0 / 2.5, 3.0))
    for one, other in zip(wild.machines, most.machines, strict=True):
        assert one.rate_m2_per_s == pytest.approx(other.rate_m2_per_s)


@pytest.mark.parametrize("ratio", [0.8, 0.95, 1.2])
def test_hours_bring_the_pace_from_plan_to_shown(ratio: float) -> None:
    """Nearer to what is shown the longer it is shown, and never beyond; doubt only falls."""
    apart = [abs(math.log(ratio))]
    doubt = [learn().machines[1].sd]
    for hours in (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 100.0):
        pace = learn(shown(1, ratio, hours)).machines[1]
        apart.append(abs(math.log(ratio / pace.factor)))
        doubt.append(pace.sd)
        assert min(1.0, ratio) < pace.factor < max(1.0, ratio)
    assert apart == sorted(apart, reverse=True)
    assert doubt == sorted(doubt, reverse=True)
    assert apart[-1] < 0.1 * apart[0]


def general(stretches: list[Seen], shared: float) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of the log rates by the general formula for normal vectors.

    Independent of the module's: numpy solves the joint normal of machines and observations.
    """
    count = len(PLAN)
    own = np.array([var(one.own_cv) for one in PLAN])
    mean = np.log([one.rate_m2_per_s for one in PLAN]) - 0.5 * (own + var(shared))
    prior = np.diag(own) + var(shared) * np.ones((count, count))
    sees = np.array([[float(one.machine == i) for i in range(count)] for one in stretches])
    noise = np.diag([HOURLY**2 * HOUR_S / one.took_s for one in stretches])
    rates = np.log([one.area_m2 / one.took_s for one in stretches])
    gain = prior @ sees.T @ np.linalg.inv(sees @ prior @ sees.T + noise)
    return mean + gain @ (rates - sees @ mean), prior - gain @ sees @ prior


STRETCHES = st.lists(
    st.builds(
        shown,
        st.integers(0, 2),
        st.floats(0.5, 1.9),
        st.floats(0.05, 8.0),
    ),
    min_size=1,
    max_size=6,
)


@given(STRETCHES, st.sampled_from([0.0, 0.03, 0.10, 0.3]))
def test_the_closed_form_is_the_conditional_of_the_joint_normal(
    stretches: list[Seen], shared: float
) -> None:
    """Means and variances of every machine, and what links two of them, are the general ones."""
    mean, cov = general(stretches, shared)
    found = learn(*stretches, shared=shared).machines
    for index, pace in enumerate(found):
        expected = math.exp(mean[index] + 0.5 * cov[index, index])
        assert pace.rate_m2_per_s == pytest.approx(expected, rel=1e-9)
        assert pace.sd**2 == pytest.approx(cov[index, index], rel=1e-9)
    linked = found[0].shared_sd * found[1].shared_sd
    assert linked == pytest.approx(cov[0, 1], rel=1e-6, abs=1e-15)


@given(STRETCHES, st.randoms(use_true_random=False))
def test_one_after_the_other_is_all_at_once_in_any_order(
    stretches: list[Seen], random: Random
) -> None:
    """Knowledge adds up: every order of tellings ends at the same paces."""
    at_once = learn(*stretches)
    shuffled = list(stretches)
    random.shuffle(shuffled)
    known = nothing_seen(len(PLAN))
    for one in shuffled:
        known = seen(known, PLAN, [one], shared_cv=SHARED, hourly_cv=HOURLY, believed=2.5)
    stepwise = paces(known, PLAN, shared_cv=SHARED)
    for pace, other in zip(at_once.machines, stepwise.machines, strict=True):
        assert pace.rate_m2_per_s == pytest.approx(other.rate_m2_per_s, rel=1e-12)
        assert pace.sd == pytest.approx(other.sd, rel=1e-12)


def test_a_machine_that_never_strays_by_itself_follows_the_day() -> None:
    """Own spread nought: what it shows is the day's, and all others go with it alike."""
    plan = (Expected(rate_m2_per_s=10.0, own_cv=0.0), Expected(rate_m2_per_s=5.0, own_cv=0.0))
    one = Seen(machine=0, area_m2=8.0 * 4 * HOUR_S, took_s=4 * HOUR_S)
    found = learned(plan, [one], shared_cv=0.1, hourly_cv=0.15, believed=2.5).machines
    assert found[0].factor == pytest.approx(found[1].factor)
    assert 0.8 < found[0].factor < 1.0


@pytest.mark.parametrize(
    ("area", "took", "machine"), [(0.0, 1.0, 0), (1.0, 0.0, 0), (1.0, 1.0, 3), (1.0, 1.0, -1)]
)
def test_what_cannot_be_is_refused(area: float, took: float, machine: int) -> None:
    """No area, no time, no such machine."""
    with pytest.raises(OutOfRange):
        learn(Seen(machine=machine, area_m2=area, took_s=took))


@pytest.mark.parametrize(("hourly", "believed"), [(0.0, 2.5), (0.15, 0.5)])
def test_settings_that_cannot_be_are_refused(hourly: float, believed: float) -> None:
    """An hour that never strays would be believed blindly; belief below one is none."""
    with pytest.raises(OutOfRange):
        learned(PLAN, [shown(0, 1.0, 1.0)], shared_cv=0.1, hourly_cv=hourly, believed=believed)
