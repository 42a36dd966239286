"""The planned rate: from a stand, a seed count or a programme's floor to bulk, live and bushels.

A rate never travels bare: it says bulk, live, seeds and bushels together, from one set of figures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from duskline.core.checks import check_positive, check_share, check_within
from duskline.core.errors import DusklineError, OutOfRange
from duskline.core.seed import bulk_mass_kg, pure_live_seed_fraction

__all__ = [
    "FactorAndEmergence",
    "Mix",
    "MixPart",
    "Rate",
    "Shortfall",
    "broadcast_rate",
    "low_side",
    "low_side_shortfall",
    "mix",
    "rate_for_live",
    "rate_for_seeds",
    "rate_for_stand",
    "seeds_per_row_m",
    "shared_rates",
    "shortfall",
]

_SAME = 1e-9  # relative: two rates worked out by different roads are the same within this


class FactorAndEmergence(DusklineError, ValueError):
    """Broadcasting was allowed for twice: by a lower emergence and by a factor on the rate.

    Attributes
    ----------
    emergence_fraction
        The emergence already in the rate; None when a factor was already in it.
    broadcast_factor
        The factor asked for on top.
    """

    def __init__(self, *, emergence_fraction: float | None, broadcast_factor: float) -> None:
        super().__init__(
            f"the rate already allows for broadcasting (emergence {emergence_fraction}); "
            f"a factor of {broadcast_factor} would count it twice"
        )
        self.emergence_fraction = emergence_fraction
        self.broadcast_factor = broadcast_factor


# ---------------------------------------------------------------------------------------------
# The rate


@dataclass(frozen=True, kw_only=True, slots=True)
class Rate:
    """A planned rate with every word for it.

    Attributes
    ----------
    bulk_kg_per_m2
        Seed as it runs from the bin. [kg/m2]
    pure_live_seed_fraction
        Share of it that is pure and alive.
    seeds_per_kg
        Seeds in a kilogram of clean seed; None where they were not counted. [1/kg]
    bushel_kg
        Mass of a standard bushel of this grain in this country; None where it has none. [kg]
    emergence_fraction
        Live seed expected to come up, when the rate was made from a stand; else None.
    broadcast_factor
        Factor on a drilled rate already in this one; None where there is none.
    """

    bulk_kg_per_m2: float
    pure_live_seed_fraction: float
    seeds_per_kg: float | None = None
    bushel_kg: float | None = None
    emergence_fraction: float | None = None
    broadcast_factor: float | None = None

    def __post_init__(self) -> None:
        check_positive("bulk rate", self.bulk_kg_per_m2)
        check_share("pure live seed", self.pure_live_seed_fraction)
        if self.seeds_per_kg is not None:
            check_positive("seeds in a kilogram", self.seeds_per_kg)
        if self.bushel_kg is not None:
            check_positive("mass of a bushel", self.bushel_kg)
        if self.emergence_fraction is not None:
            check_share("emergence", self.emergence_fraction)
        if self.broadcast_factor is not None:
            check_within("broadcast factor", self.broadcast_factor, 1.0, math.inf)

    @property
    def live_kg_per_m2(self) -> float:
        """Pure live seed in the rate [kg/m2]."""
        return self.bulk_kg_per_m2 * self.pure_live_seed_fraction

    @property
    def live_seeds_per_m2(self) -> float | None:
        """Live seeds on a square metre [1/m2]; None where seeds were not counted."""
        return None if self.seeds_per_kg is None else self.live_kg_per_m2 * self.seeds_per_kg

    @property
    def plants_per_m2(self) -> float | None:
        """Plants hoped for [1/m2]; None unless the rate was made from a stand."""
        seeds = self.live_seeds_per_m2
        if seeds is None or self.emergence_fraction is None:
            return None
        return seeds * self.emergence_fraction

    @property
    def bushels_per_m2(self) -> float | None:
        """Standard bushels on a square metre [1/m2]; None where the grain has no bushel."""
        return None if self.bushel_kg is None else self.bulk_kg_per_m2 / self.bushel_kg


def rate_for_stand(
    *,
    target_plants_per_m2: float,
    seeds_per_kg: float,
    purity_fraction: float,
    germination_fraction: float,
    emergence_fraction: float,
    hard_fraction: float = 0.0,
    bushel_kg: float | None = None,
) -> Rate:
    """Return the rate that should raise a wanted stand [kg/m2 and its other words].

    Parameters
    ----------
    target_plants_per_m2
        Plants wanted. [1/m2]
    seeds_per_kg
        Seeds in a kilogram of clean seed. [1/kg]
    purity_fraction, germination_fraction, hard_fraction
        The lot; hard seed only where it may be counted as live.
    emergence_fraction
        LIVE seed that becomes a plant in this field, sown in this way. It has germination
        nowhere in it.
    bushel_kg
        Mass of a standard bushel, when bushels are to be shown. [kg]

    Returns
    -------
    Rate
        Bulk rate and what it was made of.

    Raises
    ------
    OutOfRange
        A stand or count that is not above 0, or a share that is 0 or above 1.

    Notes
    -----
    bulk = plants / (seeds per kg x purity x germination x emergence). The emergence is that of
    broadcast seed, so no broadcast factor may come on top (:func:`broadcast_rate` refuses it).
    Some printed rules subtract losses instead of multiplying shares, and one multiplies by
    (1 - loss) where it must divide; below 80 % the difference is large.

    Source
    ------
    Bitzer and Herbek, Seeding rate and drill calibration for wheat, University of Kentucky;
    PLS vs. bulk seed; the product of shares is derived here.
    """
    check_positive("plants wanted", target_plants_per_m2)
    check_share("emergence", emergence_fraction)
    live_seeds_per_m2 = target_plants_per_m2 / emergence_fraction
    rate = rate_for_seeds(
        live_seeds_per_m2=live_seeds_per_m2,
        seeds_per_kg=seeds_per_kg,
        pure_live_seed_fraction=pure_live_seed_fraction(
            purity_fraction=purity_fraction,
            germination_fraction=germination_fraction,
            hard_fraction=hard_fraction,
        ),
        bushel_kg=bushel_kg,
    )
    return replace(rate, emergence_fraction=emergence_fraction)


def rate_for_seeds(
    *,
    live_seeds_per_m2: float,
    seeds_per_kg: float,
    pure_live_seed_fraction: float,
    bushel_kg: float | None = None,
) -> Rate:
    """Return the rate that lays so many live seeds [kg/m2 and its other words].

    Parameters
    ----------
    live_seeds_per_m2
        Live seeds wanted on the ground. [1/m2]
    seeds_per_kg
        Seeds in a kilogram of clean seed. [1/kg]
    pure_live_seed_fraction
        Share of the bulk that is pure and alive.
    bushel_kg
        Mass of a standard bushel, when bushels are to be shown. [kg]

    Returns
    -------
    Rate
        Bulk rate and what it was made of.

    Raises
    ------
    OutOfRange
        A figure that is not above 0, or a share above 1.

    Notes
    -----
    A recommendation printed in seeds for the drill has the drill's emergence in it; bring it to
    the spreader with :func:`broadcast_rate`.

    Source
    ------
    Bitzer and Herbek, Seeding rate and drill calibration for wheat, University of Kentucky.
    """
    check_positive("live seeds wanted", live_seeds_per_m2)
    check_positive("seeds in a kilogram", seeds_per_kg)
    return rate_for_live(
        live_kg_per_m2=live_seeds_per_m2 / seeds_per_kg,
        pure_live_seed_fraction=pure_live_seed_fraction,
        seeds_per_kg=seeds_per_kg,
        bushel_kg=bushel_kg,
    )


def rate_for_live(
    *,
    live_kg_per_m2: float,
    pure_live_seed_fraction: float,
    seeds_per_kg: float | None = None,
    bushel_kg: float | None = None,
) -> Rate:
    """Return the rate that meets a programme's live seed exactly [kg/m2 and its other words].

    Parameters
    ----------
    live_kg_per_m2
        Pure live seed the programme asks for. [kg/m2]
    pure_live_seed_fraction
        Share of the bulk that is pure and alive.
    seeds_per_kg
        Seeds in a kilogram, when live seeds are to be shown. [1/kg]
    bushel_kg
        Mass of a standard bushel, when bushels are to be shown. [kg]

    Returns
    -------
    Rate
        Bulk rate and what it was made of.

    Raises
    ------
    OutOfRange
        A rate that is not above 0, or a share that is 0 or above 1.

    Notes
    -----
    bulk = live / pure live seed. The programme's figure already says how it is to be sown:
    broadcast and covered, or broadcast bare.

    Source
    ------
    Allamakee SWCD, Cover crop seeding: remember to calculate pure live seed, 2017.
    """
    check_positive("live rate", live_kg_per_m2)
    bulk = bulk_mass_kg(
        live_mass_kg=live_kg_per_m2, pure_live_seed_fraction=pure_live_seed_fraction
    )
    return Rate(
        bulk_kg_per_m2=bulk,
        pure_live_seed_fraction=pure_live_seed_fraction,
        seeds_per_kg=seeds_per_kg,
        bushel_kg=bushel_kg,
    )


def broadcast_rate(*, drilled: Rate, broadcast_factor: float) -> Rate:
    """Return a drilled rate brought up for the spreader [kg/m2 and its other words].

    Parameters
    ----------
    drilled
        A rate recommended for the drill.
    broadcast_factor
        How much more seed broadcasting takes, 1 or above.

    Returns
    -------
    Rate
        The rate times the factor; it remembers the factor.

    Raises
    ------
    FactorAndEmergence
        The rate was made from a stand with an emergence, or has a factor in it already.
    OutOfRange
        A factor below 1.

    Notes
    -----
    Factor or emergence, never both: each is a way of paying for the same losses.

    Source
    ------
    That drilled and broadcast rates stand in a fixed ratio: Allamakee SWCD 2017 (55, 61 and 66
    live lb/ac). That the two ways must not be mixed: our judgement.
    """
    check_within("broadcast factor", broadcast_factor, 1.0, math.inf)
    if drilled.emergence_fraction is not None or drilled.broadcast_factor is not None:
        raise FactorAndEmergence(
            emergence_fraction=drilled.emergence_fraction, broadcast_factor=broadcast_factor
        )
    return replace(
        drilled,
        bulk_kg_per_m2=drilled.bulk_kg_per_m2 * broadcast_factor,
        broadcast_factor=broadcast_factor,
    )


def seeds_per_row_m(*, seeds_per_m2: float, row_width_m: float) -> float:
    """Return the seeds in a metre of drilled row that make so many on a square metre [1/m].

    Parameters
    ----------
    seeds_per_m2
        Seeds on the area. [1/m2]
    row_width_m
        Distance between rows. [m]

    Returns
    -------
    float
        seeds per area x row width.

    Raises
    ------
    OutOfRange
        A figure that is not above 0.

    Source
    ------
    Bitzer and Herbek, Seeding rate and drill calibration for wheat, University of Kentucky.
    """
    check_positive("seeds on the area", seeds_per_m2)
    check_positive("row width", row_width_m)
    return seeds_per_m2 * row_width_m


# ---------------------------------------------------------------------------------------------
# Against a floor, and with the low side of the germination


@dataclass(frozen=True, kw_only=True, slots=True)
class Shortfall:
    """How a rate stands against the live seed a programme asks for.

    Attributes
    ----------
    floor_live_kg_per_m2
        Live seed asked for. [kg/m2]
    live_kg_per_m2
        Live seed the rate lays. [kg/m2]
    short_live_kg_per_m2
        Live seed missing; 0 when the floor is met. [kg/m2]
    short_bulk_kg_per_m2
        Bulk seed to add so that it is met; 0 when it is. [kg/m2]
    """

    floor_live_kg_per_m2: float
    live_kg_per_m2: float
    short_live_kg_per_m2: float
    short_bulk_kg_per_m2: float

    @property
    def met(self) -> bool:
        """Whether the floor is met."""
        return self.short_live_kg_per_m2 == 0.0


def shortfall(*, rate: Rate, floor_live_kg_per_m2: float) -> Shortfall:
    """Return what a rate lacks of a programme's live seed [kg/m2].

    Parameters
    ----------
    rate
        The rate the user set.
    floor_live_kg_per_m2
        Live seed the programme asks for. [kg/m2]

    Returns
    -------
    Shortfall
        Missing live seed, and the bulk that would bring it.

    Raises
    ------
    OutOfRange
        A floor below 0.

    Notes
    -----
    Differences under one part in a thousand million are rounding of the arithmetic, not seed.

    Source
    ------
    Derived here.
    """
    check_within("live floor", floor_live_kg_per_m2, 0.0, math.inf)
    missing = floor_live_kg_per_m2 - rate.live_kg_per_m2
    if missing <= _SAME * floor_live_kg_per_m2:
        missing = 0.0
    return Shortfall(
        floor_live_kg_per_m2=floor_live_kg_per_m2,
        live_kg_per_m2=rate.live_kg_per_m2,
        short_live_kg_per_m2=missing,
        short_bulk_kg_per_m2=missing / rate.pure_live_seed_fraction,
    )


def low_side(*, rate: Rate, low_pure_live_seed_fraction: float) -> Rate:
    """Return the same bulk rate seen with the low side of the germination [kg/m2].

    Parameters
    ----------
    rate
        The rate worked from the germination as counted.
    low_pure_live_seed_fraction
        Pure live seed at the low side of the count.

    Returns
    -------
    Rate
        The same bulk, with the live seed it may hold.

    Raises
    ------
    OutOfRange
        A low side that is 0, or above the one the rate was made with.

    Source
    ------
    Derived here.
    """
    check_positive("pure live seed, low side", low_pure_live_seed_fraction)
    check_within(
        "pure live seed, low side", low_pure_live_seed_fraction, 0.0, rate.pure_live_seed_fraction
    )
    return replace(rate, pure_live_seed_fraction=low_pure_live_seed_fraction)


def low_side_shortfall(
    *, rate: Rate, low_pure_live_seed_fraction: float, floor_live_kg_per_m2: float | None = None
) -> Shortfall:
    """Return what a rate could lack if the lot is only as good as its low side [kg/m2].

    Parameters
    ----------
    rate
        The rate worked from the germination as counted.
    low_pure_live_seed_fraction
        Pure live seed at the low side of the count.
    floor_live_kg_per_m2
        Live seed the programme asks for; without one, what the rate was planned to lay. [kg/m2]

    Returns
    -------
    Shortfall
        Live seed that may be missing, and the bulk that would bring it at the low side.

    Raises
    ------
    OutOfRange
        A low side that is 0, or above the one the rate was made with; a floor below 0.

    Notes
    -----
    The rate stays with the estimate: planning every lot on its low side would sow too heavy
    most of the time. The low side is shown as the shortfall it could mean.

    Source
    ------
    Derived here.
    """
    floor = rate.live_kg_per_m2 if floor_live_kg_per_m2 is None else floor_live_kg_per_m2
    low = low_side(rate=rate, low_pure_live_seed_fraction=low_pure_live_seed_fraction)
    return shortfall(rate=low, floor_live_kg_per_m2=floor)


# ---------------------------------------------------------------------------------------------
# Mixes


@dataclass(frozen=True, kw_only=True, slots=True)
class MixPart:
    """One lot of a mix.

    Attributes
    ----------
    name
        The lot, as the user calls it.
    rate
        Its own rate in the mix.
    density_kg_per_m3
        Its bulk density. [kg/m3]
    """

    name: str
    rate: Rate
    density_kg_per_m3: float

    def __post_init__(self) -> None:
        check_positive("bulk density", self.density_kg_per_m3)


@dataclass(frozen=True, kw_only=True, slots=True)
class Mix:
    """Several lots spread together.

    Attributes
    ----------
    parts
        The lots.
    bulk_kg_per_m2
        Bulk rate of the mix. [kg/m2]
    density_kg_per_m3
        Bulk density of the mix, the low side of what it may be. [kg/m3]
    mass_fractions
        Share of each lot in the mix by mass, in the order of ``parts``; they sum to 1.
    """

    parts: tuple[MixPart, ...]
    bulk_kg_per_m2: float
    density_kg_per_m3: float
    mass_fractions: tuple[float, ...]

    @property
    def live_kg_per_m2(self) -> float:
        """Pure live seed of all lots together [kg/m2]."""
        return sum(part.rate.live_kg_per_m2 for part in self.parts)


def mix(parts: tuple[MixPart, ...]) -> Mix:
    """Return the rate and bulk density of lots spread together [kg/m2, kg/m3].

    Parameters
    ----------
    parts
        The lots, each with its own rate; at least one.

    Returns
    -------
    Mix
        Bulk rate, density and shares by mass.

    Raises
    ------
    OutOfRange
        No lots.

    Notes
    -----
    The volumes are added as if the small seeds did not settle between the large ones:
    density = sum of masses / sum of volumes. A settled mix is denser, so a hopper filled to the
    brim holds rather more than this says; weigh a bucket of the mix to be exact.

    Source
    ------
    Derived here.
    """
    if not parts:
        raise OutOfRange("lots in a mix", 0, 1)
    masses = [part.rate.bulk_kg_per_m2 for part in parts]
    volumes = [part.rate.bulk_kg_per_m2 / part.density_kg_per_m3 for part in parts]
    total = math.fsum(masses)
    return Mix(
        parts=parts,
        bulk_kg_per_m2=total,
        density_kg_per_m3=total / math.fsum(volumes),
        mass_fractions=tuple(mass / total for mass in masses),
    )


def shared_rates(*, full_rates: tuple[Rate, ...], shares: tuple[float, ...]) -> tuple[Rate, ...]:
    """Return the rates of a mix in which each lot gives a share of its full rate [kg/m2].

    Parameters
    ----------
    full_rates
        Rate of each lot if it were sown alone.
    shares
        Share of each, in the same order; they sum to 1.

    Returns
    -------
    tuple of Rate
        Each full rate times its share.

    Raises
    ------
    OutOfRange
        Not one share for each rate, a share that is not above 0, or shares that do not sum to 1.

    Source
    ------
    University of Maryland, Changes to the 2017-2018 cover crop program (half and half, or at
    least 50, 25 and 25 % of the full rates).
    """
    check_within("shares given", len(shares), len(full_rates), len(full_rates))
    for share in shares:
        check_share("share of the full rate", share)
    check_within("sum of the shares", math.fsum(shares), 1.0 - _SAME, 1.0 + _SAME)
    return tuple(
        replace(rate, bulk_kg_per_m2=rate.bulk_kg_per_m2 * share)
        for rate, share in zip(full_rates, shares, strict=True)
    )
