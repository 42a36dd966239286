"""When rain arrives, and how long after it the ground is fit."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_weather import hourly

from duskline.core.errors import OutOfRange
from duskline.core.weather import (
    DryingRule,
    DryingWeather,
    Hours,
    RainArrival,
    Range,
    block_numbers,
    drying_power_m_per_s,
    drying_weather,
    fit_after_rain_s,
    fit_times_s,
    hours_of_day,
    rain_arrival,
)

CHICAGO = ZoneInfo("America/Chicago")
MIDNIGHT = datetime(2026, 10, 18, tzinfo=CHICAGO)  # 05:00 UTC
HOUR_S = 3600.0
DAY_S = 86400.0
RULE = DryingRule(
    ignored_share=0.2,
    hold=Range(low=0.0025, typical=0.0045, high=0.007),
    soaking_m=0.025,
    drain_s=Range(low=2 * DAY_S, typical=2.5 * DAY_S, high=4 * DAY_S),
    drying_m_per_s=Range(low=0.0015 / DAY_S, typical=0.003 / DAY_S, high=0.005 / DAY_S),
    slow_power_m_per_s=0.0025 / DAY_S,
    fast_power_m_per_s=0.0065 / DAY_S,
)

chances_list = st.lists(st.floats(min_value=0.0, max_value=1.0), min_size=1, max_size=24)


def hours_with(chances: list[float]) -> Hours:
    """Hours of 18 October from midnight with these chances of rain."""
    forecast = hourly(MIDNIGHT, air_c=[15.0] * len(chances), rain_chance=chances)
    return hours_of_day(forecast, MIDNIGHT)


def arrival(chances: list[float], *, from_s: float = 0.0, block_h: float = 6.0) -> RainArrival:
    """When rain arrives on that day."""
    return rain_arrival(
        hours_with(chances), from_s=from_s, rain_threshold_m=0.000254, block_s=block_h * HOUR_S
    )


@given(chances_list, st.sampled_from([1.0, 3.0, 6.0, 12.0]))
def test_the_four_readings_keep_their_order(chances: list[float], block_h: float) -> None:
    """One rain, blocks apart, hours apart, the sum: never in another order, never falling."""
    found = arrival(chances, block_h=block_h)
    readings = (
        found.shared_fraction,
        found.blocks_fraction,
        found.independent_fraction,
        found.at_most_fraction,
    )
    for less, more in pairwise(readings):
        assert np.all(less <= more + 1e-12)
    for reading in readings:
        assert np.all(np.diff(reading) >= -1e-12)


def test_ten_hours_of_one_fifth_are_one_fifth_or_nine_tenths() -> None:
    """20 % in ten hours: 0.2 as one rain, 1 - 0.8^10 = 0.893 as ten throws.

    01:00 to 10:59 Chicago is 06:00 to 15:59 UTC, two blocks of six hours: 1 - 0.8^2 = 0.36.
    """
    found = arrival([0.0] + [0.2] * 10)
    assert found.shared_fraction[-1] == pytest.approx(0.2)
    assert found.independent_fraction[-1] == pytest.approx(0.893, abs=0.0005)
    assert found.blocks_fraction[-1] == pytest.approx(0.36)
    assert found.at_most_fraction[-1] == 1.0


def test_blocks_begin_by_universal_time() -> None:
    """Midnight in Chicago is 05:00 UTC: one hour of the first block, then six and six."""
    numbers = block_numbers(hours_with([0.1] * 14), block_s=6 * HOUR_S)
    assert numbers.tolist() == [0] + [1] * 6 + [2] * 6 + [3]


def test_when_a_chance_is_reached_is_told_at_both_ends() -> None:
    """10, 20, 30 %: 30 % has come by the hour at 02:00 as one rain, by 02:00 too if apart.

    Apart: 0.1, 1 - 0.9 * 0.8 = 0.28, 0.496. 25 %: at 01:00 apart, at 02:00 as one rain.
    """
    found = arrival([0.1, 0.2, 0.3])
    assert found.reached_s(0.25) == (HOUR_S, 2 * HOUR_S)
    assert found.reached_s(0.3) == (2 * HOUR_S, 2 * HOUR_S)
    assert found.reached_s(0.4) == (2 * HOUR_S, np.inf)
    with pytest.raises(OutOfRange):
        found.reached_s(0.0)


def test_hours_before_the_moment_asked_for_do_not_count() -> None:
    """From half past one, the hour at 01:00 counts whole and that at 00:00 not."""
    found = arrival([0.9, 0.2, 0.1], from_s=1.5 * HOUR_S)
    assert found.starts_s.tolist()[0] == 1.5 * HOUR_S
    assert found.shared_fraction.tolist()[:2] == pytest.approx([0.2, 0.2])


# Ground


def test_a_light_rain_dries_in_a_day_and_a_soaking_one_drains_first() -> None:
    """3 mm at 3 mm a day: one day. 25 mm: 2.5 days draining, then 4.5 mm, 1.5 days: four days."""
    light = fit_after_rain_s(0.003, weather=DryingWeather.MIDDLE, rule=RULE)
    assert light.typical == pytest.approx(DAY_S)
    soaking = fit_after_rain_s(0.025, weather=DryingWeather.MIDDLE, rule=RULE)
    assert soaking.typical == pytest.approx(4.0 * DAY_S)
    assert soaking.low < soaking.typical < soaking.high


def test_a_sprinkle_does_not_count() -> None:
    """0.6 mm is a fifth of a day's drying: nothing; a little more counts."""
    ignored = fit_after_rain_s(0.0006, weather=DryingWeather.SLOW, rule=RULE)
    assert (ignored.low, ignored.typical, ignored.high) == (0.0, 0.0, 0.0)
    assert fit_after_rain_s(0.0007, weather=DryingWeather.SLOW, rule=RULE).typical > 0.0


@given(
    st.floats(min_value=0.0, max_value=0.2),
    st.floats(min_value=0.0, max_value=0.05),
    st.floats(min_value=0.0, max_value=1.0),
)
def test_more_rain_never_dries_sooner(depth_m: float, more_m: float, share: float) -> None:
    """More rain, slower ground or a slower day never make it fit earlier."""
    times = [
        float(fit_times_s(depth, RULE.rate_m_per_s(day), rule=RULE, ground_share=share))
        for depth, day in (
            (depth_m, DryingWeather.FAST),
            (depth_m, DryingWeather.MIDDLE),
            (depth_m + more_m, DryingWeather.MIDDLE),
            (depth_m + more_m, DryingWeather.SLOW),
        )
    ]
    assert all(less <= more + 1e-6 for less, more in pairwise(times))
    slower = fit_times_s(depth_m, RULE.rate_m_per_s(DryingWeather.FAST), rule=RULE,
                         ground_share=min(1.0, share + 0.1))  # fmt: skip
    assert float(slower) >= times[0] - 1e-6


def test_damp_still_air_dries_slowly_and_a_dry_wind_fast() -> None:
    """Air at its dew point takes up nothing; 25 C over 5 C in 6 m/s takes up the most."""
    figures = [(10.0, 10.0, 5.0), (18.0, 9.0, 3.0), (25.0, 5.0, 6.0)]
    classes = [
        drying_weather(
            float(drying_power_m_per_s(air_c=air, dew_point_c=dew, wind_mps=wind)), rule=RULE
        )
        for air, dew, wind in figures
    ]
    assert classes == [DryingWeather.SLOW, DryingWeather.MIDDLE, DryingWeather.FAST]
    assert float(drying_power_m_per_s(air_c=10.0, dew_point_c=10.0, wind_mps=5.0)) == 0.0


@pytest.mark.parametrize("figures", [(2.0, 1.0, 3.0), (1.0, 3.0, 2.0), (-1.0, 0.0, 1.0)])
def test_low_typical_and_high_out_of_order_are_refused(
    figures: tuple[float, float, float],
) -> None:
    """Low, typical, high, from nought up."""
    with pytest.raises(OutOfRange):
        Range(low=figures[0], typical=figures[1], high=figures[2])


def test_a_range_is_met_at_its_three_points_and_never_below_nought() -> None:
    """One in ten under 1, half under 3, one in ten over 9; the least is 0.5, then not below 0."""
    assert Range(low=1.0, typical=3.0, high=9.0).at([0.1, 0.5, 0.9]).tolist() == pytest.approx(
        [1.0, 3.0, 9.0]
    )
    assert Range(low=0.1, typical=3.0, high=9.0).at(0.0) == 0.0
