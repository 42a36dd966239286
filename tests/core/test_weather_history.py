"""How right the forecast has been on this farm."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from made_weather import hourly

from duskline.core.weather import Forecast
from duskline.core.weather.history import PastHour, chances_kept, forecast_bias

CHICAGO = ZoneInfo("America/Chicago")
FIRST = datetime(2026, 9, 1, tzinfo=CHICAGO)
DRY_M, MEASURABLE_M = 0.0, 0.000254


def seen(days: int, *, rain: list[float] | float = DRY_M) -> Forecast:
    """What came: 15 C and 4 m/s in every hour of so many days."""
    return hourly(FIRST, air_c=[15.0] * (24 * days), wind_mps=4.0, rain_m=rain)


def said(
    day: int, hour: int, *, lead_h: float, air_c: float = 15.0, chance: float = 0.1
) -> PastHour:
    """What a forecast said of an hour, so many hours ahead."""
    for_at = FIRST + timedelta(days=day, hours=hour)
    return PastHour(
        issued_at=for_at - timedelta(hours=lead_h),
        for_at=for_at,
        air_c=air_c,
        dew_point_c=5.0,
        wind_mps=4.0,
        rain_chance_fraction=chance,
    )


def test_a_forecast_two_degrees_warm_is_told_by_lead() -> None:
    """Said 16 and 18 C on alternate days, seen 15: two degrees warm, told for each lead."""
    past = [
        said(day, hour, lead_h=lead, air_c=16.0 if day % 2 else 18.0)
        for day in range(20)
        for hour in (10, 14)
        for lead in (6.0, 30.0)
    ]
    found = forecast_bias(past, seen(20), figure="air_c", least_days=10)
    assert [one.lead_days for one in found] == [0, 1]
    for one in found:
        assert one.days == 20
        assert one.bias == pytest.approx(2.0)
        assert one.low < 2.0 < one.high
        assert not one.too_few
        # Student's: 1.729 * sd / sqrt(20) with sd = sqrt(20 / 19)
        assert one.high - one.bias == pytest.approx(
            1.7291 * math.sqrt(20 / 19) / math.sqrt(20), 1e-4
        )


def test_the_interval_holds_the_truth_nine_times_in_ten() -> None:
    """Over 600 made histories of 12 days, the 90 % interval holds the true error 90 in 100."""
    random = np.random.default_rng(4)
    held = 0
    for _ in range(600):
        past = [
            said(day, 12, lead_h=3.0, air_c=15.0 + 0.7 + float(random.normal(0.0, 1.5)))
            for day in range(12)
        ]
        one = forecast_bias(past, seen(12), figure="air_c", least_days=10)[0]
        held += one.low <= 0.7 <= one.high
    assert 0.87 <= held / 600 <= 0.93


def test_the_hours_of_a_day_are_one_look() -> None:
    """Twenty hours of one day err together: one day, no interval, too few."""
    past = [said(0, hour, lead_h=2.0, air_c=17.0) for hour in range(20)]
    (one,) = forecast_bias(past, seen(1), figure="air_c", least_days=10)
    assert (one.days, one.bias, one.too_few) == (1, 2.0, True)
    assert math.isnan(one.low)


def test_what_was_not_seen_or_was_over_does_not_count() -> None:
    """An hour beyond the seen ones, one told after it began, and a figure left open."""
    past = [
        said(40, 1, lead_h=2.0),
        said(0, 10, lead_h=-1.0),
        said(0, 11, lead_h=1.0, air_c=math.nan),
    ]
    assert forecast_bias(past, seen(2), figure="air_c", least_days=10) == ()


def test_chances_are_held_against_the_share_of_wet_hours() -> None:
    """Said 10 % and 50 %: it rained in 0 and in 8 of 12 hours."""
    rain = [0.001 if n % 24 == 14 and n // 24 < 8 else 0.0 for n in range(24 * 12)]
    past = [
        said(day, hour, lead_h=5.0, chance=chance)
        for day in range(12)
        for hour, chance in ((9, 0.1), (14, 0.5))
    ]
    low, middle = chances_kept(
        past, seen(12, rain=rain), rain_threshold_m=MEASURABLE_M, least_days=10
    )
    assert low.said_fraction == pytest.approx(0.1)
    assert low.rained_fraction == 0.0
    assert middle.said_fraction == 0.5
    assert middle.rained_fraction == pytest.approx(8 / 12)
    assert low.low_fraction == 0.0 < low.high_fraction < 0.3
    assert middle.low_fraction < 0.5 < 8 / 12 < middle.high_fraction
    assert (middle.days, middle.hours, middle.too_few) == (12, 12, False)


def test_few_days_are_called_too_few() -> None:
    """Nine days where it takes ten."""
    past = [said(day, 9, lead_h=5.0) for day in range(9)]
    (one,) = chances_kept(past, seen(9), rain_threshold_m=MEASURABLE_M, least_days=10)
    assert one.too_few
