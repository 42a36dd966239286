"""Clock times as people read them."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from duskline.words import clock

AT = datetime(2026, 10, 18, 10, 47, 40, tzinfo=ZoneInfo("America/Chicago"))


def test_a_moment_between_two_full_fives_goes_down_up_or_to_the_nearer() -> None:
    """10:47:40 is 10:45, 10:50, and nearer to 10:50."""
    assert clock.no_later(AT, "us") == "10:45 am"
    assert clock.no_sooner(AT, "us") == "10:50 am"
    assert clock.about(AT, "metric") == "10:50"


@pytest.mark.parametrize("over", [timedelta(0), timedelta(microseconds=1), timedelta(seconds=299)])
def test_only_a_full_five_stays_as_it_is(over: timedelta) -> None:
    """A millionth of a second after 10:45 is 10:50 rounded up, 10:45 rounded down."""
    full = AT.replace(minute=45, second=0)
    assert clock.rounded_down(full + over) == full
    assert clock.rounded_up(full + over) == (full + clock.STEP if over else full)


def test_a_span_widens_to_full_fives_and_may_be_one_time() -> None:
    """10:47:40 to 11:02 becomes 10:45 to 11:05; at 10:45 sharp it is one time."""
    assert (
        clock.span(AT, AT.replace(hour=11, minute=2), "us", join=" to ") == "10:45 am to 11:05 am"
    )
    full = AT.replace(minute=45, second=0)
    assert clock.span(full, full, "metric", join=" to ") == "10:45"


def test_rounding_up_passes_noon_and_midnight() -> None:
    """11:58 am is noon; 23:58 is the next day's midnight."""
    assert clock.no_sooner(AT.replace(hour=11, minute=58), "us") == "12:00 pm"
    assert clock.rounded_up(AT.replace(hour=23, minute=58)).day == 19


def test_an_arrival_is_a_span_or_about_a_time() -> None:
    """In a sentence."""
    assert clock.arrival(AT, AT, "us") == "between 10:45 am and 10:50 am"
    full = AT.replace(minute=45, second=0)
    assert clock.arrival(full, full, "us") == "about 10:45 am"
