"""What the log adds up to."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from duskline.core.log import Event, area_by_field_m2, area_on_m2, observed_rate_m2_per_s


def at(hour: int, day: int = 18) -> datetime:
    """Return a moment of October 2026."""
    return datetime(2026, 10, day, hour, tzinfo=UTC)


EVENTS = (
    Event(at=at(10), what="spread", machine="S", field="A", area_m2=100.0, took_s=50.0),
    Event(at=at(11), what="spread", machine="S", field="B", area_m2=60.0),
    Event(at=at(12), what="covered", machine="M", field="A", area_m2=80.0, took_s=100.0),
    Event(at=at(14), what="covered", machine="M", field="A", area_m2=40.0, took_s=20.0),
    Event(at=at(9, 19), what="spread", machine="S", field="A", area_m2=7.0),
    Event(at=at(15), what="note", note="wet hole"),
)


def test_areas_add_up_field_by_field() -> None:
    """Spread: A 107, B 60; covered: A 120."""
    assert area_by_field_m2(EVENTS, "spread") == {"A": 107.0, "B": 60.0}
    assert area_by_field_m2(EVENTS, "covered") == {"A": 120.0}


def test_the_day_counts_up_to_the_moment() -> None:
    """By noon on the 18th 160 are spread and 80 covered."""
    assert area_on_m2(EVENTS, "spread", date(2026, 10, 18), at(12)) == 160.0
    assert area_on_m2(EVENTS, "covered", date(2026, 10, 18), at(12)) == 80.0
    assert area_on_m2(EVENTS, "spread", date(2026, 10, 20), at(12, 20)) == 0.0


def test_the_observed_rate_is_all_area_over_all_time() -> None:
    """(80 + 40) / (100 + 20); lines without a time do not count; None where there is none."""
    assert observed_rate_m2_per_s(EVENTS, "M", "covered") == pytest.approx(1.0)
    assert observed_rate_m2_per_s(EVENTS, "S", "spread") == pytest.approx(2.0)
    assert observed_rate_m2_per_s(EVENTS, "X", "covered") is None
