"""From longitude and latitude to a flat plane in metres for each field, and back.

Every field has a plane of its own, centred on it, so lengths, angles and areas are true there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from pyproj import Geod, Proj

from duskline.core.errors import OutOfRange
from duskline.core.outline import FloatArray

__all__ = [
    "LocalPlane",
    "distance_m",
    "geodesic_area_m2",
    "longitude_span_deg",
    "plane_of",
]

_WGS84 = Geod(ellps="WGS84")


@dataclass(frozen=True, kw_only=True, slots=True)
class LocalPlane:
    """A flat plane touching the earth at one point: x to the east, y to true north there.

    Attributes
    ----------
    lon_deg, lat_deg
        The point, WGS 84, east and north positive. [deg]

    Raises
    ------
    OutOfRange
        A longitude beyond 180 or a latitude beyond 90 degrees.

    Notes
    -----
    Transverse Mercator on the WGS 84 ellipsoid with scale 1 on the central meridian. At a
    distance d from the point lengths grow by ``d^2 / (2 R^2)``: 1e-8 at 1 km.

    Source
    ------
    The projection is PROJ's; the size of the error derived here, checked against geodesic
    areas in tests/exchange/test_projection.py.
    """

    lon_deg: float
    lat_deg: float

    def __post_init__(self) -> None:
        if not -180.0 <= self.lon_deg <= 180.0:
            raise OutOfRange("longitude", self.lon_deg, -180.0, 180.0)
        if not -90.0 <= self.lat_deg <= 90.0:
            raise OutOfRange("latitude", self.lat_deg, -90.0, 90.0)

    def to_plane(self, lonlat_deg: FloatArray) -> FloatArray:
        """Return points in the plane [m].

        Parameters
        ----------
        lonlat_deg
            Longitude, latitude, ``(n, 2)``. [deg]

        Returns
        -------
        FloatArray
            x, y, ``(n, 2)``. [m]
        """
        x_m, y_m = _proj(self.lon_deg, self.lat_deg)(lonlat_deg[:, 0], lonlat_deg[:, 1])
        return np.column_stack([x_m, y_m])

    def to_lonlat(self, points_m: FloatArray) -> FloatArray:
        """Return points of the plane as longitude and latitude [deg].

        Parameters
        ----------
        points_m
            x, y, ``(n, 2)``. [m]

        Returns
        -------
        FloatArray
            Longitude, latitude, ``(n, 2)``. [deg]
        """
        proj = _proj(self.lon_deg, self.lat_deg)
        lon_deg, lat_deg = proj(points_m[:, 0], points_m[:, 1], inverse=True)
        return np.column_stack([lon_deg, lat_deg])


def plane_of(lonlat_deg: FloatArray) -> LocalPlane:
    """Return the plane centred on the middle of a field's reach, west to east and south to north.

    Parameters
    ----------
    lonlat_deg
        Corners of the outer edge, longitude and latitude, ``(n, 2)``; a field across the
        180th meridian may have corners on both sides. [deg]
    """
    first_deg = lonlat_deg[0, 0]
    east_deg = (lonlat_deg[:, 0] - first_deg + 180.0) % 360.0 - 180.0
    lon_deg = first_deg + 0.5 * (east_deg.min() + east_deg.max())
    lat_deg = 0.5 * (lonlat_deg[:, 1].min() + lonlat_deg[:, 1].max())
    return LocalPlane(lon_deg=float((lon_deg + 180.0) % 360.0 - 180.0), lat_deg=float(lat_deg))


def geodesic_area_m2(exterior_deg: FloatArray, holes_deg: Sequence[FloatArray] = ()) -> float:
    """Return the ground inside an outline on the earth's ellipsoid, holes taken off [m2].

    This is the area stated for a field. Corners may be listed either way round.

    Parameters
    ----------
    exterior_deg
        Outer edge, longitude and latitude, ``(n, 2)``. [deg]
    holes_deg
        One array of the same form for each hole. [deg]

    Source
    ------
    Edges as geodesics on WGS 84, by pyproj's ``Geod``.
    """
    outer_m2, *inner_m2 = (
        abs(_WGS84.polygon_area_perimeter(ring_deg[:, 0], ring_deg[:, 1])[0])
        for ring_deg in (exterior_deg, *holes_deg)
    )
    return float(outer_m2 - sum(inner_m2))


def distance_m(*, from_deg: tuple[float, float], to_deg: tuple[float, float]) -> float:
    """Return how far two points lie apart over the ground [m].

    Parameters
    ----------
    from_deg, to_deg
        Longitude, latitude. [deg]
    """
    return float(_WGS84.inv(*from_deg, *to_deg)[2])


def longitude_span_deg(*, west_deg: float, east_deg: float) -> float:
    """Return how many degrees lie from a western to an eastern longitude [deg].

    A box whose west is greater than its east crosses the 180th meridian.

    Parameters
    ----------
    west_deg, east_deg
        The two sides of the box. [deg]

    Source
    ------
    RFC 7946, The GeoJSON Format, IETF, 2016, section 5.2, https://rfc-editor.org/rfc/rfc7946;
    its example is tested as GEO-C1.
    """
    if west_deg <= east_deg:
        return east_deg - west_deg
    return east_deg - west_deg + 360.0


@lru_cache(maxsize=4096)
def _proj(lon_deg: float, lat_deg: float) -> Proj:
    return Proj(proj="tmerc", lon_0=lon_deg, lat_0=lat_deg, k=1.0, ellps="WGS84", units="m")
