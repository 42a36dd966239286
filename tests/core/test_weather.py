"""Dew, rain and wind hour by hour."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_weather import KMH, MPH, hourly

from duskline.core.errors import OutOfRange
from duskline.core.light import local_midnight_at
from duskline.core.weather import (
    Forecast,
    Hours,
    chance_if_independent_fraction,
    chance_if_shared_fraction,
    dew_off_s,
    dew_on_s,
    dew_point_c,
    first_rain_s,
    first_time_s,
    hours_of_day,
    humidity_fraction,
    missing_spans_s,
    rain_arrival_s,
    rain_by,
    rain_hours,
    wet_by_dew,
    wet_by_leaf_tree,
    wetting_s,
    wind_ok_hours,
)

CHICAGO = ZoneInfo("America/Chicago")
NEW_YORK = ZoneInfo("America/New_York")
AUCKLAND = ZoneInfo("Pacific/Auckland")
HOUR_S = 3600.0
SEVEN = datetime(2026, 10, 18, 7, tzinfo=CHICAGO)
MIDNIGHT = datetime(2026, 10, 18, tzinfo=CHICAGO)
MEASURABLE_M = 0.000254

chances_list = st.lists(st.floats(min_value=0.0, max_value=1.0), min_size=1, max_size=24)


def day_of(forecast: Forecast) -> Hours:
    """The hours of 18 October 2026 in Chicago."""
    return hours_of_day(forecast, MIDNIGHT)


# Dew point and humidity


@given(
    st.floats(min_value=-30.0, max_value=45.0),
    st.floats(min_value=0.02, max_value=1.0),
)
def test_humidity_and_dew_point_go_there_and_back(air_c: float, humid: float) -> None:
    """The dew point of a humidity has that humidity again, and never lies above the air."""
    dew_c = dew_point_c(air_c=air_c, humidity_fraction=humid)
    assert dew_c <= air_c
    assert float(humidity_fraction(air_c=air_c, dew_point_c=dew_c)) == pytest.approx(humid)


def test_half_damp_air_at_twenty_degrees_drops_its_water_near_nine() -> None:
    """20 C at 50 %: g = ln 0.5 + 17.625 * 20 / 263.04 = 0.64696; 243.04 g / (17.625 - g) = 9.26."""
    assert float(dew_point_c(air_c=20.0, humidity_fraction=0.5)) == pytest.approx(9.26, abs=0.005)


@pytest.mark.parametrize("humid", [0.0, -0.1, 1.01, float("nan")])
def test_humidity_that_cannot_be_is_refused(humid: float) -> None:
    """Humidity lies above 0 and up to 1."""
    with pytest.raises(OutOfRange):
        dew_point_c(air_c=10.0, humidity_fraction=humid)


def test_dew_point_above_the_air_is_refused() -> None:
    """Air at 10 C cannot have a dew point of 12 C."""
    with pytest.raises(OutOfRange):
        humidity_fraction(air_c=10.0, dew_point_c=12.0)


# Damp hours


def test_hour_is_damp_only_when_near_its_dew_point_and_calm() -> None:
    """Limit 3 C and 7 mph: 2.9 C in 6 mph is damp; 3.0 C or 7 mph is not."""
    weather = hourly(
        SEVEN,
        air_c=[10.0] * 4,
        spread_c=[2.9, 3.0, 2.9, 0.0],
        wind_mps=[6 * MPH, 0.0, 7 * MPH, 0.0],
    )
    damp = wet_by_dew(weather, dew_spread_c=3.0, dew_wind_mps=7 * MPH)
    assert damp.tolist() == [True, False, False, True]


def test_leaf_classifier_tells_wet_from_just_dry() -> None:
    """15 C, 0.8 C, 95 %, 0.5 m/s gives 16.40, wet; 15, 2.5, 85, 1.0 gives 14.43, dry by 0.03.

    By hand, the second: 1.6064 * 3.8730 + 0.0036 * 225 + 0.1531 * 85 - 0.4599 * 2.5
    - 0.0035 * 15 * 85 = 6.222 + 0.810 + 13.014 - 1.150 - 4.463 = 14.43 against 14.4674.
    A quarter degree more damp tips it: 14.43 + 0.4599 * 0.25 = 14.55.
    """
    weather = leaf([15.0, 15.0, 15.0], [0.8, 2.5, 2.25], [95.0, 85.0, 85.0], [0.5, 1.0, 1.0])
    assert wet_by_leaf_tree(weather).tolist() == [True, False, True]


def test_leaf_classifier_calls_a_wide_spread_dry_whatever_else() -> None:
    """From 3.7 C between air and dew point an hour is dry, even where the index says wet."""
    weather = leaf([15.0, 15.0], [3.65, 3.75], [99.0, 99.0], [0.0, 0.0])
    assert wet_by_leaf_tree(weather).tolist() == [True, False]


def test_leaf_classifier_almost_never_says_wet_in_wind() -> None:
    """Wind 2.5 m/s and more needs W D near 50: 3.6 C needs over 30 m/s at 10 C.

    By hand at 40 m/s, 5 C, 3.6 C, 95 %: 1.771 + 0.437 - 95.556 - 7.800 + 152.827 = 51.7 > 37.
    """
    weather = leaf([5.0, 5.0, 5.0], [3.6, 3.6, 3.6], [95.0, 95.0, 87.0], [10.0, 40.0, 40.0])
    assert wet_by_leaf_tree(weather).tolist() == [False, True, False]


def leaf(air: list[float], spread: list[float], humid: list[float], wind: list[float]) -> Forecast:
    """A forecast with dew point and humidity set apart from each other, as printed rows do."""
    made = hourly(SEVEN, air_c=air, humidity=[one / 100.0 for one in humid], wind_mps=wind)
    return Forecast(
        hours_at=made.hours_at,
        air_c=made.air_c,
        dew_point_c=made.air_c - np.array(spread),
        humidity_fraction=made.humidity_fraction,
        wind_mps=made.wind_mps,
        gust_mps=made.gust_mps,
        wind_from_deg=made.wind_from_deg,
        rain_chance_fraction=made.rain_chance_fraction,
        rain_m=made.rain_m,
    )


def test_dew_goes_off_with_the_first_dry_hour_after_sunrise() -> None:
    """Damp to 10:00, sunrise 07:30: off at 10:00; sunrise in a dry hour: no dew to wait for."""
    hours = day_of(hourly(SEVEN, air_c=[8.0] * 6, spread_c=[1, 2, 2.5, 4, 5, 6]))
    rule = {"dew_spread_c": 3.0, "dew_wind_mps": 3.0}
    assert dew_off_s(hours, **rule, after_s=7.5 * HOUR_S) == 10 * HOUR_S
    assert dew_off_s(hours, **rule, after_s=10.25 * HOUR_S) == 10.25 * HOUR_S


def test_dew_that_never_goes_off_gives_no_time() -> None:
    """All hours damp and calm: the dew does not go off that day."""
    hours = day_of(hourly(SEVEN, air_c=[8.0] * 6, spread_c=1.0))
    assert dew_off_s(hours, dew_spread_c=3.0, dew_wind_mps=3.0, after_s=7 * HOUR_S) is None


def test_dew_comes_on_with_the_first_damp_hour_of_the_evening() -> None:
    """Damp from 19:00: on at 19:00; looked for at 19:40 it is there already."""
    hours = day_of(hourly(SEVEN, air_c=[8.0] * 14, spread_c=[1.0] + [6.0] * 11 + [2.0] * 2))
    rule = {"dew_spread_c": 3.0, "dew_wind_mps": 3.0}
    assert dew_on_s(hours, **rule, after_s=13 * HOUR_S) == 19 * HOUR_S
    assert dew_on_s(hours, **rule, after_s=19.6 * HOUR_S) == 19.6 * HOUR_S


def test_hours_of_wetting_count_dew_and_rain_through_the_night() -> None:
    """From 19:30, damp at 20, 22 and 23 h and rain at 01 h: four hours; from 20:15, 3 h 45."""
    spread = [6.0, 2.0, 6.0, 2.0, 2.0, 6.0, 6.0, 6.0]
    rain = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.001, 0.0]
    evening = datetime(2026, 10, 18, 19, tzinfo=CHICAGO)
    weather = hourly(evening, air_c=[8.0] * 8, spread_c=spread, rain_m=rain)
    rule = {
        "dew_spread_c": 3.0,
        "dew_wind_mps": 3.0,
        "rain_threshold_m": MEASURABLE_M,
        "rain_chance_limit_fraction": 0.5,
    }
    until_at = evening + timedelta(hours=8)
    for minutes, hours in ((30, 4.0), (75, 3.75)):
        found_s = wetting_s(
            weather, from_at=evening + timedelta(minutes=minutes), until_at=until_at, **rule
        )
        assert found_s == pytest.approx(hours * HOUR_S)


# Rain


def test_one_block_told_ten_times_stays_one_chance() -> None:
    """Ten hourly 20 % cut from one block are 20 %; as ten throws they would be 89.3 %."""
    chances = [0.2] * 10
    assert chance_if_shared_fraction(chances)[-1] == pytest.approx(0.2)
    assert chance_if_independent_fraction(chances)[-1] == pytest.approx(0.893, abs=0.0005)


def test_both_ends_of_three_blocks() -> None:
    """68, 87 and 71 %: at least 87 %, and 1 - 0.32 * 0.13 * 0.29 = 98.8 % if independent."""
    chances = [0.68, 0.87, 0.71]
    assert chance_if_shared_fraction(chances).tolist() == [0.68, 0.87, 0.87]
    assert chance_if_independent_fraction(chances)[-1] == pytest.approx(0.988, abs=0.0005)


@given(chances_list)
def test_shared_chance_is_never_above_the_independent_one(chances: list[float]) -> None:
    """The truth lies between the two ends, both only grow, and neither leaves 0 to 1."""
    shared = chance_if_shared_fraction(chances)
    apart = chance_if_independent_fraction(chances)
    assert np.all(shared <= apart + 1e-12)
    for one in (shared, apart):
        assert np.all(np.diff(one) >= -1e-12)
        assert np.all((one >= 0.0) & (one <= 1.0))


def test_chance_above_one_is_refused() -> None:
    """A chance of 20 is a percentage that was not turned into a fraction."""
    with pytest.raises(OutOfRange):
        chance_if_shared_fraction([20.0])


def test_rain_by_a_moment_counts_the_hours_begun_before_it() -> None:
    """Chances 0, 10, 30, 60 % from 07:00: by 09:30, 30 %; by 10:00 still; by 10:01, 60 %."""
    hours = day_of(hourly(SEVEN, air_c=[8.0] * 4, rain_chance=[0.0, 0.1, 0.3, 0.6]))
    for by_h, shared in ((9.5, 0.3), (10.0, 0.3), (10.02, 0.6)):
        found = rain_by(hours, from_s=7 * HOUR_S, by_s=by_h * HOUR_S, rain_threshold_m=MEASURABLE_M)
        assert found.shared_fraction == pytest.approx(shared)
        assert found.independent_fraction >= shared
    from_ten = rain_by(hours, from_s=10 * HOUR_S, by_s=10 * HOUR_S, rain_threshold_m=0.0)
    assert from_ten.shared_fraction == 0.0


def test_depth_without_a_chance_is_certain_rain_or_none() -> None:
    """1.2 mm forecast without a chance: rain for certain; 0.2 mm is not measurable rain."""
    hours = day_of(hourly(SEVEN, air_c=[8.0] * 3, rain_m=[0.0, 0.0002, 0.0012]))
    before = rain_by(hours, from_s=0.0, by_s=9 * HOUR_S, rain_threshold_m=MEASURABLE_M)
    after = rain_by(hours, from_s=0.0, by_s=10 * HOUR_S, rain_threshold_m=MEASURABLE_M)
    assert (before.shared_fraction, after.shared_fraction) == (0.0, 1.0)


def test_rain_hour_is_decided_by_its_chance_where_one_is_given() -> None:
    """Limit 50 %: 2 mm at 40 % is no rain hour, 0.1 mm at 50 % is; without chance the depth."""
    nan = float("nan")
    hours = day_of(
        hourly(
            SEVEN,
            air_c=[8.0] * 4,
            rain_chance=[0.4, 0.5, nan, nan],
            rain_m=[0.002, 0.0001, 0.002, nan],
        )
    )
    rule = {"rain_threshold_m": MEASURABLE_M, "rain_chance_limit_fraction": 0.5}
    assert rain_hours(hours, **rule).tolist() == [False, True, True, False]
    assert first_rain_s(hours, **rule, after_s=0.0) == 8 * HOUR_S
    assert first_rain_s(hours, **rule, after_s=8.5 * HOUR_S) == 8.5 * HOUR_S


def test_rain_arrives_with_the_first_hour_whose_chance_beats_the_draw() -> None:
    """Chances 10, 40, 30, 70 % from 07:00: draw 0.05 at 07, 0.35 at 08, 0.5 at 10, 0.7 dry."""
    hours = day_of(hourly(SEVEN, air_c=[8.0] * 4, rain_chance=[0.1, 0.4, 0.3, 0.7]))
    draws = np.array([[0.05, 0.35], [0.5, 0.7]])
    found_s = rain_arrival_s(hours, draws, from_s=7 * HOUR_S, rain_threshold_m=MEASURABLE_M)
    assert found_s.tolist() == [[7 * HOUR_S, 8 * HOUR_S], [10 * HOUR_S, np.inf]]


@given(chances_list.filter(lambda chances: len(chances) <= 12))
def test_share_of_rainy_draws_is_the_shared_chance(chances: list[float]) -> None:
    """Over evenly laid draws, the share with rain by an hour's end is the running largest."""
    hours = day_of(hourly(SEVEN, air_c=[8.0] * len(chances), rain_chance=chances))
    draws = (np.arange(1000) + 0.5) / 1000
    arrivals_s = rain_arrival_s(hours, draws, from_s=7 * HOUR_S, rain_threshold_m=MEASURABLE_M)
    for index, expected in enumerate(chance_if_shared_fraction(chances)):
        share = np.mean(arrivals_s < (8 + index) * HOUR_S)
        assert share == pytest.approx(expected, abs=0.001)


def test_draw_of_one_is_refused() -> None:
    """Draws lie from 0 up to, not including, 1."""
    hours = day_of(hourly(SEVEN, air_c=[8.0]))
    with pytest.raises(OutOfRange):
        rain_arrival_s(hours, 1.0, from_s=0.0, rain_threshold_m=MEASURABLE_M)


# Wind


def test_wind_at_the_limit_may_be_thrown_in_and_over_it_not() -> None:
    """Limit 20 km/h: 18 and 20 pass, 23 does not; 20 written as 20 / 3.6 counts as 20."""
    wind = [18 * KMH, 20 * KMH, 20 / 3.6, 23 * KMH]
    hours = day_of(hourly(SEVEN, air_c=[8.0] * 4, wind_mps=wind))
    fit = wind_ok_hours(hours, wind_limit_mps=20 * KMH)
    assert fit.tolist() == [True, True, True, False]


def test_gust_closes_an_hour_only_where_both_gust_and_limit_are_known() -> None:
    """Gusts of 9 m/s close an hour at a limit of 8; an unknown gust and no limit do not."""
    weather = hourly(SEVEN, air_c=[8.0] * 3, wind_mps=3.0, gust_mps=[9.0, float("nan"), 7.0])
    hours = day_of(weather)
    with_limit = wind_ok_hours(hours, wind_limit_mps=5.0, gust_limit_mps=8.0)
    assert with_limit.tolist() == [False, True, True]
    assert wind_ok_hours(hours, wind_limit_mps=5.0).all()


# Hours of a day


def test_value_holds_from_its_hour_to_the_next() -> None:
    """Flagged hours 09 and 10: found at 09:00, at 10:59 still, at 11:00 no more."""
    hours = day_of(hourly(SEVEN, air_c=[8.0] * 5))
    flags = np.array([False, False, True, True, False])
    assert first_time_s(hours, flags, after_s=0.0) == 9 * HOUR_S
    assert first_time_s(hours, flags, after_s=10.98 * HOUR_S) == 10.98 * HOUR_S
    assert first_time_s(hours, flags, after_s=11 * HOUR_S) is None


def test_missing_hour_is_like_the_one_before_and_is_told() -> None:
    """07, 08, (09 missing), 10: from 07:00 to 12:00 the gaps are 09-10 and 11-12."""
    hours = day_of(hourly(SEVEN, air_c=[8.0] * 4, skip=[2]))
    assert hours.spans_s[:, 0].tolist() == [0.0, 8 * HOUR_S, 10 * HOUR_S]
    assert hours.spans_s[:, 1].tolist() == [8 * HOUR_S, 10 * HOUR_S, 24 * HOUR_S]
    gaps_s = missing_spans_s(hours, from_s=7 * HOUR_S, to_s=12 * HOUR_S)
    assert gaps_s == ((9 * HOUR_S, 10 * HOUR_S), (11 * HOUR_S, 12 * HOUR_S))


@pytest.mark.parametrize(
    ("zone", "day", "count"),
    [
        (NEW_YORK, datetime(2026, 11, 1), 25),  # noqa: DTZ001
        (AUCKLAND, datetime(2026, 9, 27), 23),  # noqa: DTZ001
        (AUCKLAND, datetime(2026, 4, 5), 25),  # noqa: DTZ001
        (CHICAGO, datetime(2026, 10, 18), 24),  # noqa: DTZ001
    ],
)
def test_day_has_as_many_hours_as_its_clocks_make_it(
    zone: ZoneInfo, day: datetime, count: int
) -> None:
    """Out of three days of hours a day takes 23, 24 or 25, from its midnight to the next."""
    midnight = local_midnight_at(day.date(), zone)
    weather = hourly(midnight - timedelta(hours=30), air_c=[8.0] * 90)
    hours = hours_of_day(weather, midnight)
    assert hours.count == count
    assert hours.length_s == count * HOUR_S
    assert hours.starts_s.tolist() == [HOUR_S * n for n in range(count)]


def test_day_without_forecast_has_no_hours() -> None:
    """A forecast that ended the day before leaves nothing for the day."""
    weather = hourly(SEVEN - timedelta(days=2), air_c=[8.0] * 3)
    assert day_of(weather).count == 0


def test_hours_that_begin_at_half_past_are_cut_to_the_day() -> None:
    """A feed on the half hour: the hour from 23:30 reaches half an hour into the day."""
    weather = hourly(MIDNIGHT - timedelta(minutes=90), air_c=[8.0] * 3)
    assert day_of(weather).starts_s.tolist() == [-1800.0, 1800.0]
    assert day_of(weather).spans_s[0].tolist() == [0.0, 1800.0]


def test_forecast_refuses_what_cannot_be() -> None:
    """Hours out of order, unequal columns, a humidity of 94, a wind that is missing."""
    good = hourly(SEVEN, air_c=[8.0, 9.0])
    columns = {
        name: getattr(good, name)
        for name in (
            "hours_at",
            "air_c",
            "dew_point_c",
            "humidity_fraction",
            "wind_mps",
            "gust_mps",
            "wind_from_deg",
            "rain_chance_fraction",
            "rain_m",
        )
    }
    for changed in (
        {"hours_at": good.hours_at[::-1]},
        {"hours_at": (SEVEN.replace(tzinfo=None),) * 2},
        {"air_c": np.array([8.0])},
        {"humidity_fraction": np.array([94.0, 0.9])},
        {"wind_mps": np.array([np.nan, 2.0])},
    ):
        with pytest.raises(OutOfRange):
            Forecast(**(columns | changed))


def test_forecast_cannot_be_changed_under_the_hand() -> None:
    """Its arrays are its own and read-only."""
    weather = hourly(SEVEN, air_c=[8.0, 9.0])
    with pytest.raises(ValueError, match="read-only"):
        weather.air_c[0] = 30.0
