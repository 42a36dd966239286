"""From longitude and latitude to metres and back, and the stated area."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_fields import fields, rectangle

from duskline.core.errors import OutOfRange
from duskline.core.outline import Outline
from duskline.exchange.projection import (
    LocalPlane,
    distance_m,
    geodesic_area_m2,
    longitude_span_deg,
    plane_of,
)

CORN_BELT = LocalPlane(lon_deg=-93.5, lat_deg=42.0)
planes = st.builds(LocalPlane, lon_deg=st.floats(-180.0, 180.0), lat_deg=st.floats(-60.0, 70.0))


def test_the_plane_touches_the_earth_at_its_own_point() -> None:
    """The point itself is the origin; east is to the right, north is up."""
    points_deg = np.asarray([[-93.5, 42.0], [-93.49, 42.0], [-93.5, 42.01]])
    here_m, east_m, north_m = CORN_BELT.to_plane(points_deg)
    assert here_m == pytest.approx([0.0, 0.0], abs=1e-6)
    assert east_m[0] > 800.0
    assert east_m[1] == pytest.approx(0.0, abs=0.1)
    assert north_m == pytest.approx([0.0, 1110.7], abs=0.1)


def test_a_degree_of_latitude_has_the_length_the_ellipsoid_gives() -> None:
    """By hand: M = a (1 - e2) / (1 - e2 sin2 B)^1.5 is 6,364,030 m at 42 N; 0.01 degree of it.

    6,364,030 * 0.01 * pi / 180 = 1,110.73 m.
    """
    a_m, flattening = 6_378_137.0, 1.0 / 298.257223563
    e2 = flattening * (2.0 - flattening)
    meridian_m = a_m * (1.0 - e2) / (1.0 - e2 * math.sin(math.radians(42.0)) ** 2) ** 1.5
    half_deg = np.asarray([[-93.5, 41.995], [-93.5, 42.005]])
    south_m, north_m = CORN_BELT.to_plane(half_deg)
    assert meridian_m == pytest.approx(6_364_030.0, abs=0.5)
    assert north_m[1] - south_m[1] == pytest.approx(meridian_m * math.radians(0.01), rel=1e-8)


def test_the_ground_in_a_small_box_is_what_the_ellipsoid_gives() -> None:
    """By hand: M N cos(B) for a box of 0.01 by 0.01 degree, to a millionth."""
    a_m, flattening = 6_378_137.0, 1.0 / 298.257223563
    e2 = flattening * (2.0 - flattening)
    bent = 1.0 - e2 * math.sin(math.radians(42.0)) ** 2
    ground_m2 = (
        a_m**2 * (1.0 - e2) / bent**2 * math.cos(math.radians(42.0)) * math.radians(0.01) ** 2
    )
    box_deg = np.asarray([[-93.5, 41.995], [-93.49, 41.995], [-93.49, 42.005], [-93.5, 42.005]])
    assert geodesic_area_m2(box_deg) == pytest.approx(ground_m2, rel=1e-6)
    assert geodesic_area_m2(box_deg[::-1]) == pytest.approx(ground_m2, rel=1e-6)


def test_holes_are_taken_off_the_stated_area() -> None:
    """A pond of 20 x 20 m in 800 x 400 m."""
    field_deg = CORN_BELT.to_lonlat(rectangle(800.0, 400.0).exterior_m)
    pond_deg = CORN_BELT.to_lonlat(rectangle(20.0, 20.0).exterior_m + 100.0)
    area_m2 = geodesic_area_m2(field_deg, [pond_deg])
    assert area_m2 == pytest.approx(320_000.0 - 400.0, rel=1e-7)


@given(field=fields(), plane=planes)
def test_points_come_back_where_they_were(field: Outline, plane: LocalPlane) -> None:
    """To longitude and latitude and back, to a tenth of a millimetre."""
    back_m = plane.to_plane(plane.to_lonlat(field.exterior_m))
    assert np.abs(back_m - field.exterior_m).max() < 1e-4


@given(field=fields(), plane=planes)
def test_the_plane_keeps_the_ground(field: Outline, plane: LocalPlane) -> None:
    """Area in the plane and area on the ellipsoid agree to a millionth, holes included."""
    rings_deg = [plane.to_lonlat(ring_m) for ring_m in (field.exterior_m, *field.holes_m)]
    assert geodesic_area_m2(rings_deg[0], rings_deg[1:]) == pytest.approx(field.area_m2, rel=1e-6)


@given(field=fields(), plane=planes)
def test_a_field_lies_around_the_middle_of_its_own_plane(field: Outline, plane: LocalPlane) -> None:
    """West and east reach are the same from the plane's point, across the 180th meridian too."""
    lonlat_deg = plane.to_lonlat(field.exterior_m)
    own_m = plane_of(lonlat_deg).to_plane(lonlat_deg)
    assert (own_m.min(axis=0) + own_m.max(axis=0)) == pytest.approx([0.0, 0.0], abs=0.5)


def test_a_field_across_the_180th_meridian_is_one_field() -> None:
    """Corners at 179.999 E and 179.999 W: its middle is at 180, not at 0."""
    plane = LocalPlane(lon_deg=180.0, lat_deg=-17.0)
    lonlat_deg = plane.to_lonlat(rectangle(800.0, 400.0).exterior_m - 200.0)
    assert lonlat_deg[:, 0].max() > 179.0
    assert lonlat_deg[:, 0].min() < -179.0
    assert abs(plane_of(lonlat_deg).lon_deg) > 179.0
    assert geodesic_area_m2(lonlat_deg) == pytest.approx(320_000.0, rel=1e-7)


def test_distance_over_the_ground() -> None:
    """A hundredth of a degree of latitude at 42 N is 1,110.73 m, as worked out above."""
    apart_m = distance_m(from_deg=(-93.5, 41.995), to_deg=(-93.5, 42.005))
    assert apart_m == pytest.approx(1110.73, abs=0.005)


@pytest.mark.parametrize(("lon_deg", "lat_deg"), [(180.1, 0.0), (0.0, 90.1), (math.nan, 0.0)])
def test_a_place_off_the_earth_is_refused(lon_deg: float, lat_deg: float) -> None:
    """Longitude to 180, latitude to 90 degrees, and numbers both."""
    with pytest.raises(OutOfRange):
        LocalPlane(lon_deg=lon_deg, lat_deg=lat_deg)


def test_a_box_that_does_not_cross_the_180th_meridian_spans_its_difference() -> None:
    """Ten degrees from 5 to 15 east."""
    assert longitude_span_deg(west_deg=5.0, east_deg=15.0) == 10.0
