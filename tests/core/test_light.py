"""Daylight and the day's clock."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta, timezone
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.light import (
    civil_dawn_at,
    civil_dusk_at,
    day_length_s,
    daylight,
    local_midnight_at,
    moment_at,
    seconds_after,
    sunrise_at,
    sunset_at,
)

CHICAGO = ZoneInfo("America/Chicago")
NEW_YORK = ZoneInfo("America/New_York")
AUCKLAND = ZoneInfo("Pacific/Auckland")
HOUR_S = 3600.0


@pytest.mark.parametrize(
    ("place", "zone", "day", "sunset", "dusk"),
    [
        ((42.0, -93.5), CHICAGO, date(2026, 10, 18), "18:29", "18:56"),
        ((42.0, -93.5), CHICAGO, date(2026, 10, 21), "18:24", "18:51"),
        ((-43.6, 171.7), AUCKLAND, date(2026, 3, 1), "20:21", "20:49"),
        ((37.4, -76.6), NEW_YORK, date(2026, 10, 15), "18:31", "18:55"),
    ],
)
def test_evening_of_the_example_farms_comes_when_their_crews_expect_it(
    place: tuple[float, float], zone: ZoneInfo, day: date, sunset: str, dusk: str
) -> None:
    """Sunset and civil dusk of three farms in two hemispheres, within three minutes."""
    evening = (sunset_at(*place, day, zone), civil_dusk_at(*place, day, zone))
    for expected, found_at in zip((sunset, dusk), evening, strict=True):
        assert found_at is not None
        expected_at = datetime.fromisoformat(f"{day}T{expected}").replace(tzinfo=zone)
        assert abs(found_at - expected_at) <= timedelta(minutes=3)
        assert found_at.tzinfo is zone


def test_dusk_that_falls_on_the_next_utc_day_belongs_to_the_farms_evening() -> None:
    """At 98.9 W the dusk of 15 September comes at 01:1x UTC on the 16th.

    Asked for by UTC days the package raises or answers for the evening before.
    """
    dusk = civil_dusk_at(44.0, -98.9, date(2026, 9, 15), CHICAGO)
    assert dusk is not None
    assert dusk.date() == date(2026, 9, 15)
    assert dusk.astimezone(UTC).date() == date(2026, 9, 16)


def test_dawn_that_slips_over_utc_midnight_is_not_lost() -> None:
    """At 45 N 100 E dawn passes 07:00 local, 00:00 UTC, in February: every day still has one.

    The package's own search by UTC days gives 8 February 00:00:46 and then 9 February 23:58, so
    that the dawn of the 9th was missing.
    """
    zone = timezone(timedelta(hours=7))
    dawns = [civil_dawn_at(45.0, 100.0, date(2026, 2, day), zone) for day in range(5, 14)]
    times = [dawn.astimezone(UTC) for dawn in dawns if dawn is not None]
    assert len(times) == 9
    for before, after in pairwise(times):
        assert timedelta(hours=23, minutes=58) < after - before < timedelta(hours=24)


def test_sun_that_never_sets_or_never_rises_has_no_events() -> None:
    """At 78 N: June has neither sunset nor dusk; in December it is dark all day."""
    zone = ZoneInfo("Arctic/Longyearbyen")
    june = daylight(78.2, 15.6, date(2026, 6, 21), zone)
    assert (june.sunrise_at, june.sunset_at, june.civil_dusk_at) == (None, None, None)
    assert not june.sun_never_rises
    assert not june.dark_all_day
    december = daylight(78.2, 15.6, date(2026, 12, 21), zone)
    assert (december.sunrise_at, december.civil_dawn_at) == (None, None)
    assert december.sun_never_rises
    assert december.dark_all_day


def test_twilight_without_sun_is_told_apart_from_full_dark() -> None:
    """At 68 N in December the sun stays down but it gets light at midday."""
    light = daylight(68.0, 20.0, date(2026, 12, 21), ZoneInfo("Europe/Stockholm"))
    assert light.sunset_at is None
    assert light.sun_never_rises
    assert light.civil_dusk_at is not None
    assert not light.dark_all_day


def test_far_north_the_dusk_after_midnight_ends_the_day_before_it() -> None:
    """At 60 N at midsummer civil dusk falls after midnight; it still closes the evening."""
    light = daylight(60.2, 24.9, date(2026, 6, 10), ZoneInfo("Europe/Helsinki"))
    assert light.sunset_at is not None
    assert light.civil_dusk_at is not None
    assert light.sunset_at.date() == date(2026, 6, 10)
    assert light.civil_dusk_at.date() == date(2026, 6, 11)
    assert timedelta(0) < light.civil_dusk_at - light.sunset_at < timedelta(hours=2.5)


def test_autumn_runs_the_other_way_round_in_the_south() -> None:
    """From March to May the day shortens in New Zealand and lengthens in Iowa."""
    for latitude_deg, longitude_deg, zone, longer in (
        (-43.6, 171.7, AUCKLAND, False),
        (42.0, -93.5, CHICAGO, True),
    ):
        lengths_s = []
        for month in (3, 5):
            light = daylight(latitude_deg, longitude_deg, date(2026, month, 1), zone)
            assert light.sunrise_at is not None
            assert light.sunset_at is not None
            lengths_s.append(seconds_after(light.sunrise_at, light.sunset_at))
        assert (lengths_s[1] > lengths_s[0] + HOUR_S) is longer


def test_day_of_the_clock_change_is_an_hour_longer_and_dusk_later_on_its_own_clock() -> None:
    """New York, 1 November 2026: the day lasts 25 h; a 17:03 sunset is 18 h 03 min into it."""
    day = date(2026, 11, 1)
    assert day_length_s(day, NEW_YORK) == 25 * HOUR_S
    sunset = sunset_at(37.4, -76.6, day, NEW_YORK)
    assert sunset is not None
    clock_s = sunset.hour * HOUR_S + sunset.minute * 60.0 + sunset.second
    clock_s += sunset.microsecond / 1e6
    elapsed_s = seconds_after(local_midnight_at(day, NEW_YORK), sunset)
    assert elapsed_s == pytest.approx(clock_s + HOUR_S)


@pytest.mark.parametrize(("day", "hours"), [(date(2026, 9, 27), 23), (date(2026, 4, 5), 25)])
def test_southern_clock_changes_come_in_their_own_seasons(day: date, hours: int) -> None:
    """Auckland goes forward on 27 September 2026 and back on 5 April 2026."""
    assert day_length_s(day, AUCKLAND) == hours * HOUR_S
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=AUCKLAND)
    elapsed_s = seconds_after(local_midnight_at(day, AUCKLAND), noon)
    assert elapsed_s == (12 + hours - 24) * HOUR_S


def test_day_whose_midnight_does_not_exist_begins_with_its_first_moment() -> None:
    """Sao Paulo, 4 November 2018: clocks went from 00:00 to 01:00."""
    zone = ZoneInfo("America/Sao_Paulo")
    midnight = local_midnight_at(date(2018, 11, 4), zone)
    assert (midnight.day, midnight.hour) == (4, 1)
    assert day_length_s(date(2018, 11, 4), zone) == 23 * HOUR_S


@given(st.floats(min_value=-48 * HOUR_S, max_value=48 * HOUR_S))
def test_elapsed_time_goes_there_and_back(elapsed_s: float) -> None:
    """A moment so many seconds into the longest day lies that many seconds into it."""
    midnight = local_midnight_at(date(2026, 11, 1), NEW_YORK)
    assert seconds_after(midnight, moment_at(midnight, elapsed_s)) == pytest.approx(
        elapsed_s, abs=1e-6
    )


@given(
    st.floats(min_value=-55.0, max_value=55.0),
    st.floats(min_value=-180.0, max_value=180.0),
    st.dates(min_value=date(2000, 1, 1), max_value=date(2050, 12, 31)),
)
def test_light_comes_and_goes_in_order(
    latitude_deg: float, longitude_deg: float, day: date
) -> None:
    """Dawn, sunrise, noon, sunset, dusk: each follows the one before, all on one solar day."""
    light = daylight(latitude_deg, longitude_deg, day, UTC)
    events = [
        light.civil_dawn_at,
        light.sunrise_at,
        light.noon_at,
        light.sunset_at,
        light.civil_dusk_at,
    ]
    times = [at for at in events if at is not None]
    assert len(times) == 5
    assert times == sorted(times)
    assert times[-1] - times[0] < timedelta(hours=24)
    tilt_rad = math.radians(23.45)
    assert light.noon_height_rad >= math.pi / 2 - abs(math.radians(latitude_deg)) - tilt_rad


def test_morning_mirrors_the_evening_about_noon() -> None:
    """Sunrise and dawn lie as far before noon as sunset and dusk after it, to two minutes."""
    place = (42.0, -93.5, date(2026, 10, 18), CHICAGO)
    noon = daylight(*place).noon_at
    for before, after in (
        (sunrise_at(*place), sunset_at(*place)),
        (civil_dawn_at(*place), civil_dusk_at(*place)),
    ):
        assert before is not None
        assert after is not None
        assert abs((noon - before) - (after - noon)) < timedelta(minutes=2)


@pytest.mark.parametrize(("latitude_deg", "longitude_deg"), [(91.0, 0.0), (0.0, -181.0)])
def test_place_off_the_globe_is_refused(latitude_deg: float, longitude_deg: float) -> None:
    """A latitude of 91 or a longitude of -181 is no place."""
    with pytest.raises(OutOfRange):
        daylight(latitude_deg, longitude_deg, date(2026, 10, 18), CHICAGO)


def test_moment_without_a_zone_is_refused() -> None:
    """A bare wall clock cannot be counted from midnight."""
    with pytest.raises(OutOfRange):
        seconds_after(local_midnight_at(date(2026, 11, 1), NEW_YORK), datetime(2026, 11, 1))  # noqa: DTZ001
