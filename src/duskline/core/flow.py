"""Flow, the bucket and the first load: does the spreader lay what was planned.

Rate, flow, driving width and speed hang together; the first load's weight and acres settle it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from duskline.core.checks import check_positive, check_within

__all__ = [
    "FirstLoad",
    "area_per_load_m2",
    "bucket_fill_s",
    "first_load",
    "flow_from_bucket_kg_per_s",
    "flow_kg_per_s",
    "hopper_load_kg",
    "rate_from_flow_kg_per_m2",
    "rate_from_weight_kg_per_m2",
    "speed_at_same_flow_mps",
    "speed_for_rate_mps",
    "travel_m",
]


# ---------------------------------------------------------------------------------------------
# Rate, flow, width, speed


def flow_kg_per_s(*, rate_kg_per_m2: float, driving_width_m: float, speed_mps: float) -> float:
    """Return the flow through the gate that lays a rate [kg/s].

    Parameters
    ----------
    rate_kg_per_m2
        Bulk rate. [kg/m2]
    driving_width_m
        Distance between passes, not the thrown width. [m]
    speed_mps
        Speed over the ground while spreading. [m/s]

    Returns
    -------
    float
        rate x driving width x speed.

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Notes
    -----
    The same law holds in litres: a rate in m3/m2 gives a flow in m3/s.

    Source
    ------
    Rate formula R = 600 Q / (W v) in a slurry tank manual, 2016, p. 185.
    """
    check_positive("rate", rate_kg_per_m2)
    check_positive("driving width", driving_width_m)
    check_positive("speed", speed_mps)
    return rate_kg_per_m2 * driving_width_m * speed_mps


def rate_from_flow_kg_per_m2(
    *, flow_kg_per_s: float, driving_width_m: float, speed_mps: float
) -> float:
    """Return the rate that a flow lays [kg/m2].

    Parameters
    ----------
    flow_kg_per_s
        Flow through the gate. [kg/s]
    driving_width_m
        Distance between passes. [m]
    speed_mps
        Speed over the ground. [m/s]

    Returns
    -------
    float
        flow / (driving width x speed).

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Source
    ------
    Rate formula R = 600 Q / (W v) in a slurry tank manual, 2016, p. 185.
    """
    check_positive("flow", flow_kg_per_s)
    check_positive("driving width", driving_width_m)
    check_positive("speed", speed_mps)
    return flow_kg_per_s / (driving_width_m * speed_mps)


def speed_for_rate_mps(
    *, flow_kg_per_s: float, rate_kg_per_m2: float, driving_width_m: float
) -> float:
    """Return the speed at which a flow lays a rate [m/s].

    Parameters
    ----------
    flow_kg_per_s
        Flow through the gate. [kg/s]
    rate_kg_per_m2
        Bulk rate wanted. [kg/m2]
    driving_width_m
        Distance between passes. [m]

    Returns
    -------
    float
        flow / (rate x driving width).

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Source
    ------
    Rate formula R = 600 Q / (W v) in a slurry tank manual, 2016, p. 185.
    """
    check_positive("flow", flow_kg_per_s)
    check_positive("rate", rate_kg_per_m2)
    check_positive("driving width", driving_width_m)
    return flow_kg_per_s / (rate_kg_per_m2 * driving_width_m)


def speed_at_same_flow_mps(
    *, speed_mps: float, rate_kg_per_m2: float, wanted_kg_per_m2: float
) -> float:
    """Return the speed that corrects the rate with the gate left alone [m/s].

    Parameters
    ----------
    speed_mps
        Speed at which the rate was found. [m/s]
    rate_kg_per_m2
        The rate found at that speed. [kg/m2]
    wanted_kg_per_m2
        The rate wanted. [kg/m2]

    Returns
    -------
    float
        speed x rate found / rate wanted.

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Notes
    -----
    For a spreader whose flow does not follow the wheels.

    Source
    ------
    v2 = v1 R1 / R2 at the same flow, slurry tank manual, 2016, p. 185.
    """
    check_positive("speed", speed_mps)
    check_positive("rate found", rate_kg_per_m2)
    check_positive("rate wanted", wanted_kg_per_m2)
    return speed_mps * rate_kg_per_m2 / wanted_kg_per_m2


# ---------------------------------------------------------------------------------------------
# The bucket


def bucket_fill_s(*, flow_kg_per_s: float, bucket_m3: float, density_kg_per_m3: float) -> float:
    """Return how long a level bucket takes to fill [s].

    Parameters
    ----------
    flow_kg_per_s
        Flow through the gate. [kg/s]
    bucket_m3
        Level volume of the bucket. [m3]
    density_kg_per_m3
        Bulk density of the seed, from its test weight. [kg/m3]

    Returns
    -------
    float
        bucket x density / flow.

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Notes
    -----
    A bucket sold as five gallons holds more to the brim than to the mark: measure it once with
    water. Catch the seed with the spinner stopped and the shaft guarded.

    Source
    ------
    Derived here.
    """
    check_positive("flow", flow_kg_per_s)
    check_positive("bucket", bucket_m3)
    check_positive("bulk density", density_kg_per_m3)
    return bucket_m3 * density_kg_per_m3 / flow_kg_per_s


def flow_from_bucket_kg_per_s(
    *, fill_s: float, bucket_m3: float, density_kg_per_m3: float
) -> float:
    """Return the flow that filled a level bucket in a timed span [kg/s].

    Parameters
    ----------
    fill_s
        Time from the first seed to level full. [s]
    bucket_m3
        Level volume of the bucket. [m3]
    density_kg_per_m3
        Bulk density of the seed. [kg/m3]

    Returns
    -------
    float
        bucket x density / time.

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Source
    ------
    Derived here: :func:`bucket_fill_s` turned round.
    """
    check_positive("time to fill", fill_s)
    check_positive("bucket", bucket_m3)
    check_positive("bulk density", density_kg_per_m3)
    return bucket_m3 * density_kg_per_m3 / fill_s


# ---------------------------------------------------------------------------------------------
# Loads


def hopper_load_kg(
    *,
    hopper_m3: float,
    filled_fraction: float,
    density_kg_per_m3: float,
    limit_kg: float | None = None,
) -> float:
    """Return the mass of one load [kg].

    Parameters
    ----------
    hopper_m3
        Level volume of the hopper. [m3]
    filled_fraction
        How full it is filled.
    density_kg_per_m3
        Bulk density of the seed or mix. [kg/m3]
    limit_kg
        The most the axle, the road or the maker allows; None where nothing does. [kg]

    Returns
    -------
    float
        The lesser of hopper x filled x density and the limit.

    Raises
    ------
    OutOfRange
        A figure that is not above 0, or a hopper more than full.

    Source
    ------
    Derived here.
    """
    check_positive("hopper", hopper_m3)
    check_positive("filling", filled_fraction)
    check_within("filling", filled_fraction, 0.0, 1.0)
    check_positive("bulk density", density_kg_per_m3)
    load_kg = hopper_m3 * filled_fraction * density_kg_per_m3
    if limit_kg is None:
        return load_kg
    check_positive("load limit", limit_kg)
    return min(load_kg, limit_kg)


def area_per_load_m2(*, load_kg: float, rate_kg_per_m2: float) -> float:
    """Return the area one load does [m2].

    Parameters
    ----------
    load_kg
        The load. [kg]
    rate_kg_per_m2
        Bulk rate. [kg/m2]

    Returns
    -------
    float
        load / rate.

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Source
    ------
    Derived here.
    """
    check_positive("load", load_kg)
    check_positive("rate", rate_kg_per_m2)
    return load_kg / rate_kg_per_m2


def travel_m(*, area_m2: float, driving_width_m: float) -> float:
    """Return the distance driven in work to do an area [m].

    Parameters
    ----------
    area_m2
        The area: of a load, a field, or a test strip. [m2]
    driving_width_m
        Distance between passes. [m]

    Returns
    -------
    float
        area / driving width; turns are not in it.

    Raises
    ------
    OutOfRange
        A negative area or a width that is not above 0.

    Source
    ------
    Virginia Tech 418-121 (area = width x length).
    """
    check_within("area", area_m2, 0.0, math.inf)
    check_positive("driving width", driving_width_m)
    return area_m2 / driving_width_m


# ---------------------------------------------------------------------------------------------
# The first load


@dataclass(frozen=True, kw_only=True, slots=True)
class FirstLoad:
    """What the first load says of the gate.

    Attributes
    ----------
    planned_kg_per_m2
        Bulk rate planned. [kg/m2]
    actual_kg_per_m2
        Bulk rate laid: the load over the area it did. [kg/m2]
    reading_fraction
        How far the weight and the area together may be out, as a share; None when not given.
    """

    planned_kg_per_m2: float
    actual_kg_per_m2: float
    reading_fraction: float | None

    @property
    def heavy_fraction(self) -> float:
        """How much heavier than planned it ran; negative when light."""
        return self.actual_kg_per_m2 / self.planned_kg_per_m2 - 1.0

    @property
    def gate_factor(self) -> float:
        """What the flow must be multiplied by; below 1 closes the gate."""
        return self.planned_kg_per_m2 / self.actual_kg_per_m2

    @property
    def actual_low_kg_per_m2(self) -> float:
        """Bulk rate laid, low side of the readings [kg/m2]."""
        return self.actual_kg_per_m2 / self._spread

    @property
    def actual_high_kg_per_m2(self) -> float:
        """Bulk rate laid, high side of the readings [kg/m2]."""
        return self.actual_kg_per_m2 * self._spread

    @property
    def gate_low_factor(self) -> float:
        """Gate factor if the rate laid was at its high side."""
        return self.gate_factor / self._spread

    @property
    def gate_high_factor(self) -> float:
        """Gate factor if the rate laid was at its low side."""
        return self.gate_factor * self._spread

    @property
    def beyond_reading(self) -> bool | None:
        """Whether the difference is more than the readings can be out; None when not known."""
        if self.reading_fraction is None:
            return None
        return not self.actual_low_kg_per_m2 <= self.planned_kg_per_m2 <= self.actual_high_kg_per_m2

    @property
    def _spread(self) -> float:
        return 1.0 + (self.reading_fraction or 0.0)


def rate_from_weight_kg_per_m2(*, mass_kg: float, area_m2: float) -> float:
    """Return the rate laid, from a weight and the area it did [kg/m2].

    Parameters
    ----------
    mass_kg
        Seed laid or caught. [kg]
    area_m2
        Area it did: a load's acres, a test strip, or a sheet on the ground. [m2]

    Returns
    -------
    float
        mass / area.

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Source
    ------
    Virginia Tech 418-121 (weigh before and after, or run out a known weight).
    """
    check_positive("seed laid", mass_kg)
    check_positive("area it did", area_m2)
    return mass_kg / area_m2


def first_load(
    *,
    load_kg: float,
    area_m2: float,
    planned_kg_per_m2: float,
    load_within_kg: float | None = None,
    area_within_m2: float | None = None,
) -> FirstLoad:
    """Return what the first load says of the gate [kg/m2 and a factor].

    Parameters
    ----------
    load_kg
        Seed that went in. [kg]
    area_m2
        Area done when it ran empty. [m2]
    planned_kg_per_m2
        Bulk rate planned. [kg/m2]
    load_within_kg, area_within_m2
        How far each reading may be out; leave out what is not known. [kg], [m2]

    Returns
    -------
    FirstLoad
        Rate laid, how heavy, the gate factor, and their low and high.

    Raises
    ------
    OutOfRange
        A figure that is not above 0, or a reading that may be out by half of itself or more.

    Notes
    -----
    rate = load / area; gate factor = planned / rate. The two readings err by themselves, so
    their shares add as squares: sqrt((dm/m)^2 + (da/a)^2), first order. Low and high are the
    rate divided and multiplied by 1 + that share, so that those of the factor fit them.

    Source
    ------
    Virginia Tech 418-121 for the rate; the rest is derived here.
    """
    actual = rate_from_weight_kg_per_m2(mass_kg=load_kg, area_m2=area_m2)
    check_positive("planned rate", planned_kg_per_m2)
    return FirstLoad(
        planned_kg_per_m2=planned_kg_per_m2,
        actual_kg_per_m2=actual,
        reading_fraction=_reading_fraction(load_kg, load_within_kg, area_m2, area_within_m2),
    )


def _reading_fraction(
    load_kg: float, load_within_kg: float | None, area_m2: float, area_within_m2: float | None
) -> float | None:
    if load_within_kg is None and area_within_m2 is None:
        return None
    load_out, area_out = load_within_kg or 0.0, area_within_m2 or 0.0
    check_within("give-or-take of the load", load_out, 0.0, 0.5 * load_kg)
    check_within("give-or-take of the area", area_out, 0.0, 0.5 * area_m2)
    return math.hypot(load_out / load_kg, area_out / area_m2)
