"""Whatever is told, in whatever order: the live answer holds together."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from made_days import RYE, farm_of
from made_live import ACRE_M2, at

from duskline.answers.live import LiveAnswer, live_answer
from duskline.cli.live_json import live_json
from duskline.core.log import Event, identified
from duskline.words import live as words

FARM = farm_of(RYE)
FIELDS = tuple(one.name for one in FARM.fields)
SPREADING, COVERING = ("Spreader",), ("Cultivator 1", "Cultivator 2")
MOMENTS = st.integers(-20 * 60, 11 * 60).map(lambda minute: at(8) + timedelta(minutes=minute))
AREAS = st.one_of(st.none(), st.floats(0.0, 120.0).map(lambda acres: acres * ACRE_M2))
SPANS = st.one_of(st.none(), st.floats(0.0, 4 * 3600.0))

WORKING = st.one_of(
    st.builds(
        Event, at=MOMENTS, what=st.sampled_from(["spread", "load", "begin", "stop"]),
        machine=st.sampled_from(SPREADING), field=st.sampled_from([*FIELDS, "not a field", ""]),
        area_m2=AREAS, whole=st.booleans(), took_s=SPANS,
        mass_kg=st.one_of(st.none(), st.floats(1.0, 4000.0)),
    ),
    st.builds(
        Event, at=MOMENTS, what=st.sampled_from(["covered", "begin"]),
        machine=st.sampled_from([*COVERING, ""]), field=st.sampled_from(FIELDS),
        area_m2=AREAS, whole=st.booleans(), took_s=SPANS,
    ),
    st.builds(
        Event, at=MOMENTS, what=st.sampled_from(["stuck", "down", "up"]),
        machine=st.sampled_from([*SPREADING, *COVERING, "Old plough"]), took_s=SPANS,
    ),
    st.builds(
        Event, at=MOMENTS, what=st.sampled_from(["rain", "wet", "note", "undo", "both", "plan"]),
        field=st.sampled_from(FIELDS), area_m2=AREAS, refers=st.sampled_from(["", "gone"]),
        stop_at=st.one_of(st.none(), MOMENTS), clock_at=st.one_of(st.none(), MOMENTS),
    ),
)  # fmt: skip
HEAPS = st.lists(WORKING, max_size=14).map(identified)


def answer(told: tuple[Event, ...], minute: int, *, shrink: bool) -> LiveAnswer:
    """The live answer so many minutes after 8:00, on few drawn days."""
    now = at(8) + timedelta(minutes=minute)
    return live_answer(FARM, now, events=told, shrink=shrink, replications=40)


@settings(max_examples=60)
@given(HEAPS, st.integers(-60, 11 * 60), st.booleans())
def test_it_holds_together(told: tuple[Event, ...], minute: int, shrink: bool) -> None:
    """Covered is never above spread, nothing is below nought, chances are chances, words come."""
    found = answer(told, minute, shrink=shrink)
    for one in found.now.ground:
        assert -1e-6 <= one.covered_m2 <= one.spread_m2 + 1e-3
        assert one.told_open_m2 >= -1e-6
        assert one.spread_m2 >= one.told_spread_m2 - 1e-6
    assert found.open_m2 >= 0.0
    for machine in found.now.machines:
        assert machine.rate_m2_per_s > 0.0
        assert machine.carried_m2 >= 0.0
        assert machine.took_s >= 0.0
    if found.day is not None:
        assert found.day.stop_at >= found.now_at - timedelta(seconds=1)
        assert 0.0 <= found.day.chance_fraction <= 1.0
        assert found.day.spread_area_m2 >= found.day.spread_before_m2 - 1.0
    for language in ("en", "es"):
        assert words.crew_lines(found, "us", language=language)
    assert live_json(FARM, found)["headline"] == words.headline(found, "us")


@settings(max_examples=25)
@given(HEAPS, st.integers(90, 8 * 60), st.floats(1.0, 40.0))
def test_more_open_ground_never_stops_the_spreader_later(
    told: tuple[Event, ...], minute: int, acres: float
) -> None:
    """Ground open since yesterday, added to any log, leaves the stop or brings it forward."""
    calm = tuple(event for event in told if event.at >= at(0) and event.what != "rain")
    more = Event(
        at=at(16, day=17), what="spread", machine="Spreader", field="A9",
        area_m2=min(acres, 12.0) * ACRE_M2, id="more",
    )  # fmt: skip
    without = answer(calm, minute, shrink=False)
    with_more = answer((*calm, more), minute, shrink=False)
    if without.day is None or with_more.day is None or without.stopped:
        return
    machines = [replace(one, hopper_kg=None) for one in without.now.machines]
    if machines != [replace(one, hopper_kg=None) for one in with_more.now.machines]:
        # What is left or had to wait differs, and with it what was learned and carried on.
        return
    later = with_more.day.average.stop_at - without.day.average.stop_at
    assert later <= timedelta(seconds=1)
