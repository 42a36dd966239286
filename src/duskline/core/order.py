"""In which order to take the fields today: near ones first, one lot after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, cos, pi, radians, sin, sqrt

__all__ = ["Stop", "ground_distance_m", "order_fields", "plane_m"]

EARTH_RADIUS_M = 6_371_008.8
"""Mean radius of the WGS 84 ellipsoid; distances between fields need no better."""

LonLat = tuple[float, float]


def ground_distance_m(one: LonLat, other: LonLat) -> float:
    """Return the distance between two (longitude, latitude) places on a sphere. [m]

    Source
    ------
    The haversine form; within 0.5 % of the ellipsoid.
    """
    lon1, lat1, lon2, lat2 = (radians(value) for value in (*one, *other))
    half = sin((lat2 - lat1) / 2) ** 2 + cos(lat1) * cos(lat2) * sin((lon2 - lon1) / 2) ** 2
    return 2 * EARTH_RADIUS_M * asin(sqrt(half))


def plane_m(place: LonLat, origin: LonLat) -> tuple[float, float]:
    """Return how far east and north of ``origin`` a (longitude, latitude) place lies. [m]

    Source
    ------
    A plane laid at the origin; within 0.5 % of ``ground_distance_m`` over 50 km.
    """
    lon, lat, lon_0, lat_0 = (radians(value) for value in (*place, *origin))
    across = (lon - lon_0 + pi) % (2.0 * pi) - pi
    return EARTH_RADIUS_M * cos(0.5 * (lat + lat_0)) * across, EARTH_RADIUS_M * (lat - lat_0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Stop:
    """A field to go to: where it lies, how long it takes, when it is ready."""

    name: str
    place: LonLat
    takes_s: float
    ready_s: float
    batch: str = ""
    hurry: bool = False


def order_fields(
    stops: Sequence[Stop], *, start: LonLat, start_s: float, first: Sequence[str] = ()
) -> list[Stop]:
    """Return the fields in the order of work.

    Parameters
    ----------
    stops
        Fields with something left to spread.
    start, start_s
        Where and when the crew sets out.
    first
        Names the owner wants first, in his order.

    Notes
    -----
    The owner's order stands. Of the others, always the nearest that is ready by then: first
    those of the same batch (customer and lot), and among them those that cannot wait for
    after the rain. If none is ready, the one that is ready soonest. A sensible order, not
    a best one.

    Source
    ------
    Derived here (nearest next).
    """
    left = {stop.name: stop for stop in stops}
    ordered: list[Stop] = []
    place, clock_s, batch = start, start_s, ""

    def take(stop: Stop) -> None:
        nonlocal place, clock_s, batch
        ordered.append(left.pop(stop.name))
        place, batch = stop.place, stop.batch
        clock_s = max(clock_s, stop.ready_s) + stop.takes_s

    for name in first:
        if name in left:
            take(left[name])
    while left:
        ready = [stop for stop in left.values() if stop.ready_s <= clock_s]
        if not ready:
            take(min(left.values(), key=lambda stop: (stop.ready_s, stop.name)))
            continue
        same = [stop for stop in ready if stop.batch == batch] or ready
        urgent = [stop for stop in same if stop.hurry]
        here = place
        take(
            min(urgent or same, key=lambda s: (round(ground_distance_m(here, s.place), 1), s.name))
        )
    return ordered
