"""The order of fields: near ones first, one batch after the other, the owner's word above all."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.order import Stop, ground_distance_m, order_fields


def stop(name: str, lon: float, **extra: object) -> Stop:
    """Return a field on the equator."""
    values = {"takes_s": 3600.0, "ready_s": 0.0, **extra}
    return Stop(name=name, place=(lon, 0.0), **values)  # type: ignore[arg-type]


def names(stops: list[Stop], **extra: object) -> list[str]:
    """Return the order from the yard at longitude 0, midnight."""
    ordered = order_fields(stops, start=(0.0, 0.0), start_s=0.0, **extra)  # type: ignore[arg-type]
    return [one.name for one in ordered]


def test_a_degree_on_the_equator_is_111_km() -> None:
    """2 pi R / 360 with the mean radius."""
    assert ground_distance_m((0.0, 0.0), (1.0, 0.0)) == pytest.approx(111_195, abs=1)
    assert ground_distance_m((0.0, 0.0), (0.0, 0.0)) == 0.0


def test_the_nearest_ready_field_is_next() -> None:
    """From the yard 0: 0.1, then 0.2, then 0.5."""
    assert names([stop("c", 0.5), stop("a", 0.1), stop("b", 0.2)]) == ["a", "b", "c"]


def test_a_field_not_ready_waits_its_turn() -> None:
    """The nearest is ready only after an hour: another first."""
    assert names([stop("near", 0.1, ready_s=1800.0), stop("far", 0.3)]) == ["far", "near"]


def test_if_none_is_ready_the_soonest_is_awaited() -> None:
    """Both are late; the earlier one first, even if farther."""
    late = [stop("near", 0.1, ready_s=9000.0), stop("far", 0.9, ready_s=7200.0)]
    assert names(late) == ["far", "near"]


def test_a_batch_is_finished_before_the_next() -> None:
    """One customer's lot after the other, though the other's field is nearer."""
    stops = [stop("a1", 0.1, batch="a"), stop("b1", 0.15, batch="b"), stop("a2", 0.5, batch="a")]
    assert names(stops) == ["a1", "a2", "b1"]


def test_what_cannot_wait_for_the_rain_comes_first() -> None:
    """The flood plain is farther and still first."""
    assert names([stop("near", 0.1), stop("flood", 0.4, hurry=True)]) == ["flood", "near"]


def test_the_owners_order_stands() -> None:
    """He names the farthest first; the rest follow by nearness from there."""
    stops = [stop("a", 0.1), stop("b", 0.2), stop("c", 0.9)]
    assert names(stops, first=("c", "unknown")) == ["c", "b", "a"]


@given(st.lists(st.floats(-1, 1), min_size=1, max_size=12), st.integers(0, 11))
def test_every_field_comes_once(places: list[float], late: int) -> None:
    """Whatever the places and ready times, nothing is lost and nothing doubled."""
    stops = [stop(str(n), lon, ready_s=5000.0 * (n == late)) for n, lon in enumerate(places)]
    assert sorted(names(stops), key=int) == [str(n) for n in range(len(places))]
