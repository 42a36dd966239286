"""Daylight at the farm: sunrise, sunset, civil dawn and dusk of one working day.

Also the day's own clock: seconds elapsed since local midnight, right when clocks change.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from astral import Observer
from astral.sun import elevation, noon

from duskline.core.errors import OutOfRange

__all__ = [
    "Daylight",
    "civil_dawn_at",
    "civil_dusk_at",
    "day_length_s",
    "daylight",
    "local_midnight_at",
    "moment_at",
    "seconds_after",
    "sunrise_at",
    "sunset_at",
]

# Definitions, not defaults: US Naval Observatory, "Rise, Set, and Twilight Definitions",
# quoted at http://www.physics.csbsju.edu/astro/rise-set/rise-set3.html. The sun's centre is
# 50 minutes of arc (34 of refraction, 16 of radius) below a level horizon at sunset.
_SUNSET_DEG = -50.0 / 60.0
_CIVIL_DEG = -6.0
_HALF_DAY_S = 12.0 * 3600.0
# The package counts whole seconds of the clock; nearer than this there is nothing to find.
_NEAR_S = 0.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Daylight:
    """The light of one working day at one place; every moment in the farm's own zone.

    Attributes
    ----------
    noon_at
        The sun's highest moment. The day's other events are those on either side of it, so
        the dusk that ends a June day far north is found even when it falls after midnight.
    civil_dawn_at, sunrise_at, sunset_at, civil_dusk_at
        None where the sun does not cross that height: up, or below it, the whole day.
    noon_height_rad
        How high the sun stands at noon, without refraction; tells the two apart. [rad]
    """

    noon_at: datetime
    civil_dawn_at: datetime | None
    sunrise_at: datetime | None
    sunset_at: datetime | None
    civil_dusk_at: datetime | None
    noon_height_rad: float

    @property
    def sun_never_rises(self) -> bool:
        """Whether the sun stays under the horizon all day."""
        return self.sunrise_at is None and self.noon_height_rad < math.radians(_SUNSET_DEG)

    @property
    def dark_all_day(self) -> bool:
        """Whether it does not even get light enough to work outdoors."""
        return self.civil_dawn_at is None and self.noon_height_rad < math.radians(_CIVIL_DEG)


def local_midnight_at(day: date, zone: tzinfo) -> datetime:
    """Return the moment the local calendar day begins.

    Where clocks go forward at midnight itself, this is the first moment that exists.
    """
    midnight = datetime(day.year, day.month, day.day, tzinfo=zone)
    return midnight.astimezone(UTC).astimezone(zone)


def day_length_s(day: date, zone: tzinfo) -> float:
    """Return how long the local calendar day lasts: 23, 24 or 25 hours as a rule [s]."""
    first_at = local_midnight_at(day, zone)
    return seconds_after(first_at, local_midnight_at(day + timedelta(days=1), zone))


def seconds_after(day_start_at: datetime, moment: datetime) -> float:
    """Return the time elapsed from the start of the day to a moment [s].

    Notes
    -----
    Both are turned to UTC first: taking two moments of one zone apart directly gives the
    difference of the wall clocks, an hour wrong across a clock change.

    Raises
    ------
    OutOfRange
        A moment without a time zone.
    """
    return (_utc(moment) - _utc(day_start_at)).total_seconds()


def moment_at(day_start_at: datetime, elapsed_s: float) -> datetime:
    """Return the moment that lies so many elapsed seconds after the start of the day.

    The zone is that of ``day_start_at``. The way back from ``seconds_after``.
    """
    moment = _utc(day_start_at) + timedelta(seconds=elapsed_s)
    return moment.astimezone(day_start_at.tzinfo)


def daylight(latitude_deg: float, longitude_deg: float, day: date, zone: tzinfo) -> Daylight:
    """Return the light of one local day at a place.

    Parameters
    ----------
    latitude_deg, longitude_deg
        North and east positive. [deg]
    day
        The farm's own calendar date.
    zone
        The farm's own time zone.

    Raises
    ------
    OutOfRange
        A latitude beyond the poles or a longitude beyond 180 degrees.

    Notes
    -----
    Level horizon at sea level. A hill, a tree line or cloud makes it dark sooner. Events agree
    with published tables within a minute up to 61 degrees (tests/published/test_light.py).

    Only the sun's height is taken from the package, and the crossing is searched for on either
    side of noon. Its own search goes by UTC days: it raises or answers for the evening before
    where dusk falls on the next UTC day, and at 45 N 100 E it has no dawn for 9 February 2026.

    Source
    ------
    NOAA/Meeus series as the ``astral`` package computes it, without its refraction: the height
    of sunset already holds the standard refraction, and civil twilight is geometric.
    """
    place = _place(latitude_deg, longitude_deg)
    noon_at = _noon(place, day, zone)
    return Daylight(
        noon_at=noon_at,
        civil_dawn_at=_crossing(place, noon_at, _CIVIL_DEG, -_HALF_DAY_S),
        sunrise_at=_crossing(place, noon_at, _SUNSET_DEG, -_HALF_DAY_S),
        sunset_at=_crossing(place, noon_at, _SUNSET_DEG, _HALF_DAY_S),
        civil_dusk_at=_crossing(place, noon_at, _CIVIL_DEG, _HALF_DAY_S),
        noon_height_rad=math.radians(_height_deg(place, noon_at, 0.0)),
    )


def sunset_at(
    latitude_deg: float, longitude_deg: float, day: date, zone: tzinfo
) -> datetime | None:
    """Return when the sun sets on the local day, in its zone; None where it does not.

    Parameters, range and source as for ``daylight``.
    """
    return daylight(latitude_deg, longitude_deg, day, zone).sunset_at


def sunrise_at(
    latitude_deg: float, longitude_deg: float, day: date, zone: tzinfo
) -> datetime | None:
    """Return when the sun rises on the local day, in its zone; None where it does not.

    Parameters, range and source as for ``daylight``.
    """
    return daylight(latitude_deg, longitude_deg, day, zone).sunrise_at


def civil_dusk_at(
    latitude_deg: float, longitude_deg: float, day: date, zone: tzinfo
) -> datetime | None:
    """Return when it gets too dark to work by eye; None where twilight lasts all night.

    The sun's centre 6 degrees below the horizon. Parameters and source as for ``daylight``.
    """
    return daylight(latitude_deg, longitude_deg, day, zone).civil_dusk_at


def civil_dawn_at(
    latitude_deg: float, longitude_deg: float, day: date, zone: tzinfo
) -> datetime | None:
    """Return when it gets light enough to work by eye; None where twilight lasts all night.

    The sun's centre 6 degrees below the horizon. Parameters and source as for ``daylight``.
    """
    return daylight(latitude_deg, longitude_deg, day, zone).civil_dawn_at


def _utc(moment: datetime) -> datetime:
    if moment.utcoffset() is None:
        raise OutOfRange("the hours a moment's clock is ahead of UTC", math.nan, -24.0, 24.0)
    return moment.astimezone(UTC)


def _place(latitude_deg: float, longitude_deg: float) -> Observer:
    if not abs(latitude_deg) <= 90.0:
        raise OutOfRange("latitude in degrees", latitude_deg, -90.0, 90.0)
    if not abs(longitude_deg) <= 180.0:
        raise OutOfRange("longitude in degrees", longitude_deg, -180.0, 180.0)
    return Observer(latitude=latitude_deg, longitude=longitude_deg, elevation=0.0)


def _noon(place: Observer, day: date, zone: tzinfo) -> datetime:
    """Return the highest sun nearest the local day's clock noon.

    The library counts days in UTC; west of Greenwich or with a far-off zone the wanted noon
    may belong to a neighbouring UTC day, so all three are asked.
    """
    clock_noon = datetime(day.year, day.month, day.day, 12, tzinfo=zone).astimezone(UTC)
    days = (day + timedelta(days=step) for step in (-1, 0, 1))
    nearest = min((noon(place, near) for near in days), key=lambda at: abs(at - clock_noon))
    return nearest.astimezone(zone)


def _height_deg(place: Observer, noon_at: datetime, away_s: float) -> float:
    """How high the sun stands so long after (before, if negative) noon, without refraction."""
    moment = noon_at.astimezone(UTC) + timedelta(seconds=away_s)
    return elevation(place, moment, with_refraction=False)


def _crossing(
    place: Observer, noon_at: datetime, height_deg: float, midnight_s: float
) -> datetime | None:
    """When the sun passes a height between noon and the midnight so far from it; None if never."""
    if not _height_deg(place, noon_at, 0.0) > height_deg > _height_deg(place, noon_at, midnight_s):
        return None
    above_s, below_s = 0.0, midnight_s
    while abs(below_s - above_s) > _NEAR_S:
        middle_s = (above_s + below_s) / 2.0
        if _height_deg(place, noon_at, middle_s) > height_deg:
            above_s = middle_s
        else:
            below_s = middle_s
    return moment_at(noon_at, (above_s + below_s) / 2.0)
