"""Field capacity and clock efficiency."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.day import Cover, DayTask, FieldTask, Spreader, Takeover, average_day
from duskline.core.errors import OutOfRange
from duskline.core.machine import (
    clock_efficiency_from_area,
    efficiency_scale_from_remembered,
    field_capacity_m2_per_s,
)

HOUR_S = 3600.0
ACRE_M2 = 4046.8564224


def day(first: float, second: float | None) -> DayTask:
    """Return an eight hour day with a fast spreader; rates in acres an hour."""
    per_h = ACRE_M2 / HOUR_S
    return DayTask(
        spread_intervals=((0.0, 8 * HOUR_S),),
        spreaders=(
            Spreader(name="s", moving_rate_m2_per_s=40 * per_h, hopper_kg=1e9, refill_s=0.0),
        ),
        covers=(
            Cover(name="a", rate_m2_per_s=first * per_h, opens_s=0.0, closes_s=8 * HOUR_S),
        ),
        takeovers=()
        if second is None
        else (
            Takeover(
                name="b", rate_m2_per_s=second * per_h, opens_s=0.0, closes_s=8 * HOUR_S,
                changeover_s=1800.0,
            ),
        ),
        fields=(FieldTask(name="f", area_m2=1e8, rate_kg_per_m2=0.01),),
        lead_s=1200.0,
    )  # fmt: skip


@pytest.mark.parametrize("bad", [(0.0, 3.0, 0.8), (9.0, -1.0, 0.8), (9.0, 3.0, 0.0), (9, 3, 1.1)])
def test_capacity_refuses_what_cannot_be(bad: tuple[float, float, float]) -> None:
    """No width, no speed, no or more than the whole clock."""
    with pytest.raises(OutOfRange):
        field_capacity_m2_per_s(
            working_width_m=bad[0], speed_mps=bad[1], efficiency_fraction=bad[2]
        )


@given(st.floats(1.0, 30.0), st.floats(0.5, 6.0), st.floats(0.05, 1.0))
def test_efficiency_is_read_back_from_the_area_it_gives(
    width_m: float, speed_mps: float, efficiency: float
) -> None:
    """Capacity over an hour, read back, is the same clock efficiency."""
    rate = field_capacity_m2_per_s(
        working_width_m=width_m, speed_mps=speed_mps, efficiency_fraction=efficiency
    )
    found = clock_efficiency_from_area(
        area_m2=rate * HOUR_S, span_s=HOUR_S, working_width_m=width_m, speed_mps=speed_mps
    )
    assert found == pytest.approx(efficiency)


def test_an_area_no_clock_could_hold_is_refused() -> None:
    """More than width times speed times the whole time: a figure is wrong."""
    with pytest.raises(OutOfRange, match="clock efficiency"):
        clock_efficiency_from_area(
            area_m2=40_000.0, span_s=HOUR_S, working_width_m=9.0, speed_mps=1.0
        )


@pytest.mark.parametrize("second", [None, 22.0])
def test_a_remembered_day_is_reproduced(second: float | None) -> None:
    """115 acres from 10 to 6: with the factor found, the balance gives 115 acres.

    With one cultivator at 20 ac/h and full efficiency: 20 x f x (8 - 1/3) = 115, f = 0.75.
    """
    task = day(20.0, second)
    factor = efficiency_scale_from_remembered(task, covered_m2=115 * ACRE_M2)
    if second is None:
        assert factor == pytest.approx(115 / (20 * (8 - 1 / 3)), rel=1e-6)
    again = average_day(day(20.0 * factor, None if second is None else second * factor))
    assert again.spread_area_m2 / ACRE_M2 == pytest.approx(115, abs=1e-3)


def test_a_day_nobody_can_have_had_is_refused() -> None:
    """500 acres in eight hours with one cultivator."""
    with pytest.raises(OutOfRange, match="remembered area"):
        efficiency_scale_from_remembered(day(20.0, None), covered_m2=500 * ACRE_M2)
