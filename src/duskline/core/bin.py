"""The bin and the loads: what it holds, how many acres that does, and how it goes out by loads.

A tape on the wall and a test weight give the mass to a few parts in a hundred, which decides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from duskline.core.checks import check_positive, check_within

__all__ = [
    "BinStock",
    "FieldLoads",
    "LoadPart",
    "SeedLeft",
    "Sufficiency",
    "bin_stock",
    "bin_volume_m3",
    "bushel_density_kg_per_m3",
    "bushels_count",
    "cone_height_m",
    "cone_volume_m3",
    "cylinder_volume_m3",
    "enough",
    "load_sequence",
    "loads_count",
    "run_out_area_m2",
    "seed_left",
    "split_loads",
]

_CRUMB = 1e-9  # of a load or of the need: less than this is rounding of the arithmetic, not seed


# ---------------------------------------------------------------------------------------------
# Volume


def cylinder_volume_m3(*, diameter_m: float, depth_m: float) -> float:
    """Return the volume of level grain in a round bin [m3].

    Parameters
    ----------
    diameter_m
        Inside diameter. [m]
    depth_m
        Depth of the grain. [m]

    Returns
    -------
    float
        pi / 4 x diameter^2 x depth.

    Raises
    ------
    OutOfRange
        A diameter that is not above 0 or a negative depth.

    Source
    ------
    Iowa Department of Agriculture, Grain Warehouse Bureau, Measuring grain (0.7854 D^2 h).
    """
    check_positive("bin diameter", diameter_m)
    check_within("grain depth", depth_m, 0.0, math.inf)
    return math.pi / 4.0 * diameter_m**2 * depth_m


def cone_volume_m3(*, diameter_m: float, height_m: float) -> float:
    """Return the volume of a heap, or of the funnel drawn out of the middle [m3].

    Parameters
    ----------
    diameter_m
        Diameter of the base. [m]
    height_m
        Height of the heap or depth of the funnel. [m]

    Returns
    -------
    float
        pi / 12 x diameter^2 x height.

    Raises
    ------
    OutOfRange
        A diameter that is not above 0 or a negative height.

    Source
    ------
    Iowa Department of Agriculture, Grain Warehouse Bureau, Measuring grain (0.2618 D^2 h).
    """
    return cylinder_volume_m3(diameter_m=diameter_m, depth_m=height_m) / 3.0


def cone_height_m(*, diameter_m: float, repose_rad: float) -> float:
    """Return how high a heap stands, or how deep a funnel goes, when it was not measured [m].

    Parameters
    ----------
    diameter_m
        Diameter of the base: the bin, when the cone reaches the wall. [m]
    repose_rad
        Angle at which the grain comes to rest. [rad]

    Returns
    -------
    float
        radius x tan(angle).

    Raises
    ------
    OutOfRange
        A diameter that is not above 0, or an angle outside 0 to 60 degrees.

    Source
    ------
    Iowa Department of Agriculture, Grain Warehouse Bureau, Measuring grain (0.4 and 0.5 of the
    radius); the tangent is derived here.
    """
    check_positive("bin diameter", diameter_m)
    check_within("angle of repose", repose_rad, 0.0, math.pi / 3.0)
    return diameter_m / 2.0 * math.tan(repose_rad)


def bin_volume_m3(
    *, diameter_m: float, wall_depth_m: float, heap_m: float = 0.0, funnel_m: float = 0.0
) -> float:
    """Return the volume of grain in a round flat-floored bin [m3].

    Parameters
    ----------
    diameter_m
        Inside diameter. [m]
    wall_depth_m
        Depth of the grain at the wall. [m]
    heap_m
        Height of the heap above the wall depth; 0 when level. [m]
    funnel_m
        Depth of the drawn-down funnel below the wall depth; 0 when level. [m]

    Returns
    -------
    float
        Cylinder plus heap, or less funnel.

    Raises
    ------
    OutOfRange
        A negative figure, or both a heap and a funnel.

    Notes
    -----
    A funnel deeper than the grain stands on the bare floor; only the part of its cone above the
    floor is taken out: cone x (1 - ((funnel - depth) / funnel)^3).

    Source
    ------
    Iowa Department of Agriculture, Grain Warehouse Bureau, Measuring grain; the funnel standing
    on the floor is derived here.
    """
    check_within("heap height", heap_m, 0.0, math.inf)
    check_within("funnel depth", funnel_m, 0.0, 0.0 if heap_m > 0.0 else math.inf)
    level = cylinder_volume_m3(diameter_m=diameter_m, depth_m=wall_depth_m)
    heap = cone_volume_m3(diameter_m=diameter_m, height_m=heap_m)
    funnel = cone_volume_m3(diameter_m=diameter_m, height_m=funnel_m)
    if funnel_m > wall_depth_m:
        funnel *= 1.0 - ((funnel_m - wall_depth_m) / funnel_m) ** 3
    return level + heap - funnel


def bushels_count(*, volume_m3: float, bushel_m3: float) -> float:
    """Return the volume in bushels of a given size [count].

    Parameters
    ----------
    volume_m3
        Volume of grain. [m3]
    bushel_m3
        Volume of the bushel: the Imperial one is a thirty-second larger than that of the
        United States, and pages rarely say which they use. [m3]

    Returns
    -------
    float
        volume / bushel.

    Raises
    ------
    OutOfRange
        A negative volume or a bushel that is not above 0.

    Source
    ------
    Derived here.
    """
    check_within("volume", volume_m3, 0.0, math.inf)
    check_positive("volume of a bushel", bushel_m3)
    return volume_m3 / bushel_m3


# ---------------------------------------------------------------------------------------------
# Mass


@dataclass(frozen=True, kw_only=True, slots=True)
class BinStock:
    """Seed in the bin, before and after cleaning.

    Attributes
    ----------
    volume_m3
        Grain in the bin. [m3]
    density_kg_per_m3
        Test weight with the pack in it. [kg/m3]
    cleaning_loss_fraction
        Share that cleaning takes out.
    """

    volume_m3: float
    density_kg_per_m3: float
    cleaning_loss_fraction: float

    def __post_init__(self) -> None:
        check_within("volume", self.volume_m3, 0.0, math.inf)
        check_positive("bulk density", self.density_kg_per_m3)
        check_within("cleaning loss", self.cleaning_loss_fraction, 0.0, 1.0)

    @property
    def gross_kg(self) -> float:
        """Mass in the bin before cleaning [kg]."""
        return self.volume_m3 * self.density_kg_per_m3

    @property
    def mass_kg(self) -> float:
        """Clean seed the bin gives [kg]."""
        return self.gross_kg * (1.0 - self.cleaning_loss_fraction)


def bushel_density_kg_per_m3(*, bushel_kg: float, bushel_m3: float) -> float:
    """Return the bulk density that a weight per bushel means [kg/m3].

    Parameters
    ----------
    bushel_kg
        Mass of one measured bushel of this lot. [kg]
    bushel_m3
        Volume of that bushel. [m3]

    Returns
    -------
    float
        mass / volume.

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Source
    ------
    Derived here; the United States bushel is 2,150.42 cubic inches (US grain standards, 810.102).
    """
    check_positive("mass of a bushel", bushel_kg)
    check_positive("volume of a bushel", bushel_m3)
    return bushel_kg / bushel_m3


def bin_stock(
    *,
    volume_m3: float,
    test_weight_kg_per_m3: float,
    pack_fraction: float,
    cleaning_loss_fraction: float,
) -> BinStock:
    """Return the clean seed a bin gives [kg].

    Parameters
    ----------
    volume_m3
        Grain in the bin. [m3]
    test_weight_kg_per_m3
        Bulk density of a weighed measure of the lot. [kg/m3]
    pack_fraction
        How much denser the grain lies in the bin than in the measure. An uncertain figure: work
        the answer at its low, typical and high.
    cleaning_loss_fraction
        Share that cleaning will take out; 0 when the seed is already clean.

    Returns
    -------
    BinStock
        Volume, density, and mass before and after cleaning.

    Raises
    ------
    OutOfRange
        A figure outside what can be true.

    Notes
    -----
    mass = volume x test weight x (1 + pack) x (1 - cleaning loss).

    Source
    ------
    Iowa Department of Agriculture, Grain Warehouse Bureau, Measuring grain; the need of a pack
    factor: USDA-ARS, Pack factor study.
    """
    check_positive("test weight", test_weight_kg_per_m3)
    check_within("pack", pack_fraction, 0.0, 0.5)
    return BinStock(
        volume_m3=volume_m3,
        density_kg_per_m3=test_weight_kg_per_m3 * (1.0 + pack_fraction),
        cleaning_loss_fraction=cleaning_loss_fraction,
    )


# ---------------------------------------------------------------------------------------------
# Is it enough


@dataclass(frozen=True, kw_only=True, slots=True)
class Sufficiency:
    """Whether the seed on hand does the area.

    Attributes
    ----------
    mass_kg, needed_kg
        On hand, and needed at the planned rate. [kg]
    area_needed_m2
        The area to sow. [m2]
    area_it_does_m2
        The area the seed on hand does at the planned rate; may be more than there is. [m2]
    spare_fraction
        On hand over needed, less 1: also how much too heavy the spreader may run before the
        bin is empty with the last acre. Negative when it falls short.
    """

    mass_kg: float
    needed_kg: float
    area_needed_m2: float
    area_it_does_m2: float
    spare_fraction: float

    @property
    def enough(self) -> bool:
        """Whether the seed on hand does the whole area at the planned rate."""
        return self.spare_fraction >= -_CRUMB

    @property
    def spare_kg(self) -> float:
        """Seed left over; negative when it falls short [kg]."""
        return self.mass_kg - self.needed_kg


def enough(*, mass_kg: float, rate_kg_per_m2: float, area_m2: float) -> Sufficiency:
    """Return whether the seed on hand does the area, and what is spare [kg, m2].

    Parameters
    ----------
    mass_kg
        Clean seed on hand. [kg]
    rate_kg_per_m2
        Planned bulk rate. [kg/m2]
    area_m2
        Area to sow. [m2]

    Returns
    -------
    Sufficiency
        Needed, spare, and the area the seed does.

    Raises
    ------
    OutOfRange
        A negative mass, or a rate or area that is not above 0.

    Source
    ------
    Derived here.
    """
    check_within("seed on hand", mass_kg, 0.0, math.inf)
    check_positive("area to sow", area_m2)
    does_m2 = run_out_area_m2(mass_kg=mass_kg, rate_kg_per_m2=rate_kg_per_m2)
    needed_kg = rate_kg_per_m2 * area_m2
    return Sufficiency(
        mass_kg=mass_kg,
        needed_kg=needed_kg,
        area_needed_m2=area_m2,
        area_it_does_m2=does_m2,
        spare_fraction=mass_kg / needed_kg - 1.0,
    )


def run_out_area_m2(*, mass_kg: float, rate_kg_per_m2: float, heavy_fraction: float = 0.0) -> float:
    """Return the area after which the seed is gone [m2].

    Parameters
    ----------
    mass_kg
        Clean seed on hand. [kg]
    rate_kg_per_m2
        Planned bulk rate. [kg/m2]
    heavy_fraction
        How much heavier than planned the spreader runs: 0.05 for five per cent; negative when
        it runs light.

    Returns
    -------
    float
        mass / (rate x (1 + heavy)).

    Raises
    ------
    OutOfRange
        A negative mass, a rate that is not above 0, or a spreader that lays nothing.

    Source
    ------
    Derived here.
    """
    check_within("seed on hand", mass_kg, 0.0, math.inf)
    check_positive("rate", rate_kg_per_m2)
    check_positive("share of the planned rate that is laid", 1.0 + heavy_fraction)
    return mass_kg / (rate_kg_per_m2 * (1.0 + heavy_fraction))


@dataclass(frozen=True, kw_only=True, slots=True)
class SeedLeft:
    """Seed left after part of the work, and the area it still does.

    Attributes
    ----------
    mass_kg
        Seed left. [kg]
    corrected_area_m2
        Area it does once the spreader is put right to the planned rate. [m2]
    uncorrected_area_m2
        Area it does if the spreader goes on as it ran. [m2]
    """

    mass_kg: float
    corrected_area_m2: float
    uncorrected_area_m2: float


def seed_left(
    *, mass_kg: float, used_kg: float, planned_kg_per_m2: float, actual_kg_per_m2: float
) -> SeedLeft:
    """Return the seed left and the area it does, put right or not [kg, m2].

    Parameters
    ----------
    mass_kg
        Clean seed there was. [kg]
    used_kg
        Seed spread so far. [kg]
    planned_kg_per_m2, actual_kg_per_m2
        The rate planned and the rate the first load showed. [kg/m2]

    Returns
    -------
    SeedLeft
        Mass left, and both areas.

    Raises
    ------
    OutOfRange
        More used than there was, or a rate that is not above 0.

    Source
    ------
    Derived here.
    """
    check_within("seed there was", mass_kg, 0.0, math.inf)
    check_within("seed used", used_kg, 0.0, mass_kg)
    left_kg = mass_kg - used_kg
    return SeedLeft(
        mass_kg=left_kg,
        corrected_area_m2=run_out_area_m2(mass_kg=left_kg, rate_kg_per_m2=planned_kg_per_m2),
        uncorrected_area_m2=run_out_area_m2(mass_kg=left_kg, rate_kg_per_m2=actual_kg_per_m2),
    )


# ---------------------------------------------------------------------------------------------
# Loads


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldLoads:
    """The loads of one field, started with an empty hopper and emptied in it.

    Attributes
    ----------
    field_index
        Place of the field in the list given.
    area_m2
        Its area. [m2]
    mass_kg
        Seed it takes. [kg]
    full_loads_count
        Full loads.
    last_load_kg
        The part load that finishes it; 0 when the full loads come out even. [kg]
    """

    field_index: int
    area_m2: float
    mass_kg: float
    full_loads_count: int
    last_load_kg: float

    @property
    def fills_count(self) -> int:
        """How often the hopper is filled for this field."""
        return self.full_loads_count + (1 if self.last_load_kg > 0.0 else 0)


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadPart:
    """What one load lays in one field, when loads carry over from field to field.

    Attributes
    ----------
    load_index
        Place of the load in the day, from 0.
    field_index
        Place of the field in the list given.
    mass_kg
        Seed of this load laid in this field. [kg]
    area_m2
        Area it does there. [m2]
    empties
        Whether the hopper runs out here.
    """

    load_index: int
    field_index: int
    mass_kg: float
    area_m2: float
    empties: bool


def loads_count(*, mass_kg: float, load_kg: float) -> float:
    """Return how many loads a mass of seed makes, parts included [count].

    Parameters
    ----------
    mass_kg
        Seed to spread. [kg]
    load_kg
        A full load. [kg]

    Returns
    -------
    float
        mass / load; round it up for the fills.

    Raises
    ------
    OutOfRange
        A negative mass or a load that is not above 0.

    Source
    ------
    Derived here.
    """
    check_within("seed to spread", mass_kg, 0.0, math.inf)
    check_positive("load", load_kg)
    return mass_kg / load_kg


def split_loads(
    *, area_m2s: tuple[float, ...], rate_kg_per_m2: float, load_kg: float
) -> tuple[FieldLoads, ...]:
    """Return the loads of each field, each begun with an empty hopper [kg].

    Parameters
    ----------
    area_m2s
        Areas of the fields, in the order they are done. [m2]
    rate_kg_per_m2
        Bulk rate. [kg/m2]
    load_kg
        A full load. [kg]

    Returns
    -------
    tuple of FieldLoads
        One for each field: full loads and the last part load.

    Raises
    ------
    OutOfRange
        An area, rate or load that is not above 0.

    Notes
    -----
    This is the way for two lots, or two customers, that must never share a hopper. With one lot
    :func:`load_sequence` fills fewer times.

    Source
    ------
    Derived here.
    """
    check_positive("rate", rate_kg_per_m2)
    check_positive("load", load_kg)
    return tuple(
        _field_loads(index, area, area * rate_kg_per_m2, load_kg)
        for index, area in enumerate(area_m2s)
    )


def load_sequence(
    *, area_m2s: tuple[float, ...], rate_kg_per_m2: float, load_kg: float
) -> tuple[LoadPart, ...]:
    """Return one run of full loads across the fields, what is left carried on [kg, m2].

    Parameters
    ----------
    area_m2s
        Areas of the fields, in the order they are done. [m2]
    rate_kg_per_m2
        Bulk rate, the same in all fields. [kg/m2]
    load_kg
        A full load. [kg]

    Returns
    -------
    tuple of LoadPart
        In the order of driving. Every load but the last is full; the parts of a field sum to
        what it takes, the parts of a load to the load.

    Raises
    ------
    OutOfRange
        An area, rate or load that is not above 0.

    Source
    ------
    Derived here.
    """
    check_positive("rate", rate_kg_per_m2)
    check_positive("load", load_kg)
    parts: list[LoadPart] = []
    load_index, in_hopper_kg = 0, load_kg
    for field_index, area in enumerate(area_m2s):
        check_positive("field area", area)
        to_lay_kg = area * rate_kg_per_m2
        while to_lay_kg > _CRUMB * load_kg:
            if in_hopper_kg == 0.0:
                load_index, in_hopper_kg = load_index + 1, load_kg
            laid_kg, to_lay_kg, in_hopper_kg = _lay(to_lay_kg, in_hopper_kg, load_kg)
            parts.append(
                LoadPart(
                    load_index=load_index,
                    field_index=field_index,
                    mass_kg=laid_kg,
                    area_m2=laid_kg / rate_kg_per_m2,
                    empties=in_hopper_kg == 0.0,
                )
            )
    return tuple(parts)


def _lay(to_lay_kg: float, in_hopper_kg: float, load_kg: float) -> tuple[float, float, float]:
    """Return seed laid, still to lay and left in the hopper, crumbs swept to nothing."""
    if abs(to_lay_kg - in_hopper_kg) <= _CRUMB * load_kg:
        return to_lay_kg, 0.0, 0.0
    laid_kg = min(to_lay_kg, in_hopper_kg)
    return laid_kg, to_lay_kg - laid_kg, in_hopper_kg - laid_kg


def _field_loads(index: int, area: float, mass_kg: float, load_kg: float) -> FieldLoads:
    check_positive("field area", area)
    full = math.floor(mass_kg / load_kg + _CRUMB)
    rest_kg = mass_kg - full * load_kg
    return FieldLoads(
        field_index=index,
        area_m2=area,
        mass_kg=mass_kg,
        full_loads_count=full,
        last_load_kg=rest_kg if rest_kg > _CRUMB * load_kg else 0.0,
    )
