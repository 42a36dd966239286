"""Slope and wind as reasons for a heading that outrank minutes."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.lie import (
    HeadingKept,
    Lie,
    Reason,
    Wind,
    contour_rad,
    grade_fraction,
    keep_heading,
    off_line_rad,
)

EAST, SOUTH = 0.0, -math.pi / 2


def _keep(
    headings_deg: tuple[float, ...],
    minutes: tuple[float, ...],
    lie: Lie,
    wind: Wind | None = None,
) -> HeadingKept:
    return keep_heading(
        headings_rad=[math.radians(one) for one in headings_deg],
        work_s=[60.0 * one for one in minutes],
        lie=lie,
        wind=wind,
        slope_limit_fraction=0.03,
        contour_within_rad=math.radians(10.0),
        wind_limit_mps=2.7,
        wind_within_rad=math.radians(30.0),
    )


def test_level_ground_takes_the_fewest_minutes() -> None:
    """No slope, no wind: 190 min beats 200, and no reason is given."""
    found = _keep((0, 90), (200, 190), Lie(erodible=False, slope_fraction=0.01, downhill_rad=SOUTH))
    assert (found.index, found.reasons, found.given_up_s) == (1, (), 0.0)
    assert _keep((0, 90), (200, 200), Lie(erodible=False)).index == 0


def test_erodible_ground_is_driven_on_the_contour() -> None:
    """It falls 4 % to the south: east and west are the contour, and cost 10 min here."""
    lie = Lie(erodible=True, slope_fraction=0.04, downhill_rad=SOUTH)
    found = _keep((90, 5, 40), (190, 200, 180), lie)
    assert found.index == 1
    assert found.fastest_index == 2
    assert found.reasons == (Reason.CONTOUR,)
    assert found.given_up_s == pytest.approx(20 * 60)
    assert found.grade_fraction == pytest.approx(0.04 * math.sin(math.radians(5)))


def test_minutes_on_the_contour_are_no_sacrifice() -> None:
    """Where the fastest heading lies on the contour, slope has taken nothing and is not named."""
    lie = Lie(erodible=True, slope_fraction=0.04, downhill_rad=SOUTH)
    found = _keep((0, 90), (180, 200), lie)
    assert (found.index, found.reasons, found.given_up_s) == (0, (), 0.0)


def test_without_a_level_heading_the_most_level_is_taken_and_said() -> None:
    """Sides at 30 and 60 degrees to the contour: 30 it is, and the contour is not claimed."""
    lie = Lie(erodible=True, slope_fraction=0.05, downhill_rad=SOUTH)
    found = _keep((60, 30), (100, 130), lie)
    assert found.index == 1
    assert found.reasons == (Reason.CONTOUR, Reason.NO_LEVEL_HEADING)


def test_steep_ground_is_never_driven_downhill_to_save_time() -> None:
    """It falls 6 % to the east and is not called erodible: north and south, though slower."""
    lie = Lie(erodible=False, slope_fraction=0.06, downhill_rad=EAST)
    found = _keep((0, 90), (180, 200), lie)
    assert found.index == 1
    assert found.reasons == (Reason.NOT_DOWNHILL,)
    assert found.given_up_s == pytest.approx(20 * 60)


def test_a_slope_nobody_gave_a_direction_is_asked_for() -> None:
    """The minutes stand, and the sheet asks which way it falls."""
    for lie in (Lie(erodible=True), Lie(erodible=True, slope_fraction=0.05)):
        found = _keep((0, 90), (200, 190), lie)
        assert found.index == 1
        assert found.reasons == (Reason.ASK_DOWNHILL,)
        assert found.grade_fraction is None


def test_seed_is_thrown_along_the_wind() -> None:
    """A south wind of 4 m/s: north and south, at 15 min more; a light air changes nothing."""
    level = Lie(erodible=False)
    found = _keep((0, 80), (180, 195), level, Wind(line_rad=math.pi / 2, speed_mps=4.0))
    assert found.index == 1
    assert found.reasons == (Reason.ALONG_WIND,)
    assert found.given_up_s == pytest.approx(15 * 60)
    assert _keep((0, 80), (180, 195), level, Wind(line_rad=math.pi / 2, speed_mps=2.0)).index == 0


def test_the_contour_outranks_the_wind() -> None:
    """Erodible ground falling south under a south wind: still east and west."""
    lie = Lie(erodible=True, slope_fraction=0.04, downhill_rad=SOUTH)
    found = _keep((0, 90), (200, 190), lie, Wind(line_rad=math.pi / 2, speed_mps=5.0))
    assert found.index == 0
    assert found.reasons == (Reason.CONTOUR,)


def test_lines_have_no_front_and_no_back() -> None:
    """170 and 10 degrees lie 20 apart; the grade is the same up and down."""
    assert off_line_rad(math.radians(170), math.radians(10)) == pytest.approx(math.radians(20))
    assert off_line_rad(math.radians(-90), math.radians(90)) == pytest.approx(0.0)
    down = grade_fraction(heading_rad=SOUTH, downhill_rad=SOUTH, slope_fraction=0.04)
    up = grade_fraction(heading_rad=SOUTH + math.pi, downhill_rad=SOUTH, slope_fraction=0.04)
    assert down == pytest.approx(0.04)
    assert up == pytest.approx(0.04)


def test_headings_without_their_times_are_refused() -> None:
    """No heading, a time too few, a time that is none, a slope of 200 %."""
    for headings, minutes in (((), ()), ((0, 90), (200,)), ((0,), (math.nan,))):
        with pytest.raises(OutOfRange):
            _keep(headings, minutes, Lie(erodible=False))
    with pytest.raises(OutOfRange):
        Lie(erodible=False, slope_fraction=2.0)
    with pytest.raises(OutOfRange):
        Lie(erodible=False, downhill_rad=math.inf)


@given(
    st.lists(st.tuples(st.floats(0.0, 179.0), st.floats(60.0, 400.0)), min_size=1, max_size=12),
    st.booleans(),
    st.one_of(st.none(), st.floats(0.0, 0.2)),
    st.one_of(st.none(), st.floats(-3.0, 3.0)),
    st.one_of(st.none(), st.tuples(st.floats(0.0, 3.0), st.floats(0.0, 9.0))),
)
def test_minutes_are_given_up_only_for_a_reason(
    tried: list[tuple[float, float]],
    erodible: bool,
    slope: float | None,
    downhill: float | None,
    air: tuple[float, float] | None,
) -> None:
    """Nothing is given up without saying why; sloping ground is never steeper than the fastest."""
    lie = Lie(erodible=erodible, slope_fraction=slope, downhill_rad=downhill)
    wind = None if air is None else Wind(line_rad=air[0], speed_mps=air[1])
    found = _keep(tuple(h for h, _ in tried), tuple(m for _, m in tried), lie, wind)
    assert found.given_up_s >= 0.0
    binding = set(found.reasons) - {Reason.ASK_DOWNHILL, Reason.NO_LEVEL_HEADING}
    if found.given_up_s > 0.0:
        assert binding
    if not binding:
        assert found.index == found.fastest_index
    if slope is not None and downhill is not None and slope >= 0.03:
        grades = [
            grade_fraction(heading_rad=math.radians(h), downhill_rad=downhill, slope_fraction=slope)
            for h, _ in tried
        ]
        assert grades[found.index] <= min(grades) + max(
            0.03, slope * math.sin(math.radians(10.001))
        )


def test_the_contour_itself_may_be_tried() -> None:
    """Ground that falls to the south-east lies level to the north-east; there the grade is none."""
    falls = math.radians(-45.0)
    level = contour_rad(falls)
    assert math.degrees(level) == pytest.approx(45.0)
    grade = grade_fraction(heading_rad=level, downhill_rad=falls, slope_fraction=0.08)
    assert grade == pytest.approx(0.0, abs=1e-12)
    lie = Lie(erodible=True, slope_fraction=0.08, downhill_rad=falls)
    found = _keep((0.0, 90.0, math.degrees(level)), (100, 101, 130), lie)
    assert (found.index, found.reasons) == (2, (Reason.CONTOUR,))


def test_a_wind_that_agrees_with_the_minutes_is_no_reason() -> None:
    """The fastest heading runs along the wind already: nothing given up, nothing said."""
    found = _keep(
        (0, 90), (200, 190), Lie(erodible=False), Wind(line_rad=math.pi / 2, speed_mps=5.0)
    )
    assert (found.index, found.reasons, found.given_up_s) == (1, (), 0.0)
