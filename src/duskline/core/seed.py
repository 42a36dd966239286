"""The lot: how much of it is alive, pure and fit to sow, and how many seeds make a kilogram.

A count on damp towels is a sample; every figure made from it carries its low side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Literal

from scipy import special

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange

__all__ = [
    "REPLICATE_RANGE_ROWS",
    "TEST_AGREEMENT_ROWS",
    "Agreement",
    "Basis",
    "Fitness",
    "FitnessLevel",
    "FitnessLimits",
    "Germination",
    "GrainKind",
    "Infestation",
    "ReplicateTolerance",
    "SeedSample",
    "SeedsPerKg",
    "TwoTests",
    "bulk_mass_kg",
    "chance_of_finding_fraction",
    "fitness",
    "germination",
    "half_width_fraction",
    "infested",
    "insects_hidden_per_kg",
    "live_mass_kg",
    "pure_live_seed_fraction",
    "replicate_tolerance",
    "seeds_per_kg_counted",
    "seeds_per_kg_from_thousand",
    "seeds_to_count",
    "two_tests_agree",
]

Basis = Literal["read", "memory", "derived"]
"""How a rule is known: read in its source, remembered, or derived here."""

REPLICATE_RANGE_ROWS: tuple[tuple[int, int, int | None], ...] = (
    (99, 5, None),
    (98, 6, None),
    (97, 7, 6),
    (96, 8, 6),
    (95, 9, 7),
    (93, 10, 8),
    (91, 11, 9),
    (90, 12, 9),
    (89, 12, 10),
    (88, 13, 10),
    (87, 13, 11),
    (84, 14, 11),
    (81, 15, 12),
    (78, 16, 13),
    (76, 17, 13),
    (73, 17, 14),
    (71, 18, 14),
)
"""Widest range allowed among replicates of 100: lowest mean of the row, 4 and 2 replicates.

7 CFR 201.55, United States Federal Seed Act regulations. A mean p up to 50 is read at 101 - p.
"""

TEST_AGREEMENT_ROWS: tuple[tuple[int, int], ...] = (
    (99, 2),
    (97, 3),
    (94, 4),
    (91, 5),
    (87, 6),
    (82, 7),
    (76, 8),
    (70, 9),
    (60, 10),
    (51, 11),
)
"""Widest difference allowed between two 400-seed tests: lowest mean of the row, points.

Louisiana Administrative Code, title 7, XIII-139. A mean p up to 50 is read at 101 - p.
"""

# Upper 2.5 % points of the range of k standard normal values (the studentized range with no end
# of degrees of freedom); tests/core/test_seed.py works them out again.
_RANGE_OF_NORMALS = {
    2: 3.1698,
    3: 3.6823,
    4: 3.9840,
    5: 4.1970,
    6: 4.3609,
    7: 4.4936,
    8: 4.6049,
}
_TABLE_SEEDS = 100
_FULL_TEST_SEEDS = 400
_HALF_TEST_SEEDS = 200
_HALF_TEST_EXTRA_POINTS = 2


def _nearest_whole(value: float) -> int:
    """Return the nearest whole number, a half going up, as the seed rules round."""
    return math.floor(value + 0.5 + 1e-9)  # a half may be held a hair too low in binary


# ---------------------------------------------------------------------------------------------
# Germination


@dataclass(frozen=True, kw_only=True, slots=True)
class ReplicateTolerance:
    """The widest range replicates of one test may show.

    Attributes
    ----------
    allowed_points
        Highest less lowest replicate, percentage points; None where no rule is known.
    basis
        "read" from the table, "derived" where the table stops, None where no rule is known.
    """

    allowed_points: int | None
    basis: Basis | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Germination:
    """What a count of seedlings says about the lot.

    Attributes
    ----------
    alive_count, seeds_count
        Healthy seedlings and seeds laid out, all replicates together.
    estimate_fraction
        Healthy share of the seeds laid out: the figure the rate is worked from.
    low_fraction
        One-sided lower limit: the lot is at least this good with the chance ``sure_fraction``.
    interval_low_fraction, interval_high_fraction
        Two-sided limits with the chance ``sure_fraction``.
    sure_fraction
        The chance asked for.
    replicates_count
        Rolls or towels counted.
    replicate_range_points
        Best less worst replicate, percentage points; None with one replicate.
    replicate_tolerance_points, replicate_tolerance_basis
        What that range may be, and how the rule is known; None where none is.
    replicates_agree
        Whether the range is allowed; None where no rule is known.
    """

    alive_count: int
    seeds_count: int
    estimate_fraction: float
    low_fraction: float
    interval_low_fraction: float
    interval_high_fraction: float
    sure_fraction: float
    replicates_count: int
    replicate_range_points: float | None
    replicate_tolerance_points: int | None
    replicate_tolerance_basis: Basis | None
    replicates_agree: bool | None


@dataclass(frozen=True, kw_only=True, slots=True)
class TwoTests:
    """Whether two germination tests of one lot may be believed together.

    Attributes
    ----------
    mean_points, difference_points
        Mean of the two results and how far they lie apart, percentage points.
    allowed_points
        The most they may differ; None where no rule is known for tests of this size.
    agree
        Whether they do; None where no rule is known.
    """

    mean_points: float
    difference_points: float
    allowed_points: int | None
    agree: bool | None


def germination(
    *,
    alive_counts: tuple[int, ...],
    seeds_per_replicate: int | tuple[int, ...],
    sure_fraction: float,
) -> Germination:
    """Return the germination of a lot with its low side, from counted replicates [fraction].

    Parameters
    ----------
    alive_counts
        Healthy seedlings, root and shoot, in each roll or towel. (n_replicates,)
    seeds_per_replicate
        Seeds laid out in each; one number when all are alike.
    sure_fraction
        The chance the limits must keep, for example 0.95; at least 0.5, below 1.

    Returns
    -------
    Germination
        Estimate, one-sided low side, two-sided limits, and the check of the replicates.

    Raises
    ------
    OutOfRange
        More seedlings than seeds, no seeds at all, or a chance that keeps no low side.

    Notes
    -----
    Exact limits of a counted share (Clopper and Pearson): with x of n alive and a tail of a,
    the lower limit is the a-quantile of Beta(x, n - x + 1), the upper the (1 - a)-quantile of
    Beta(x + 1, n - x). One-sided a = 1 - sure; two-sided a = (1 - sure) / 2. The limits carry
    only the luck of the count, not a sample drawn badly from the bin.

    Source
    ------
    Derived here from the binomial law; the replicate rule is 7 CFR 201.55.
    """
    sizes = _replicate_sizes(alive_counts, seeds_per_replicate)
    check_within("sureness", sure_fraction, 0.5, 1.0 - 1e-12)
    alive, seeds = sum(alive_counts), sum(sizes)
    tail = 1.0 - sure_fraction
    spread = _range_points(alive_counts, sizes)
    rule = _tolerance_for(alive_counts, sizes)
    return Germination(
        alive_count=alive,
        seeds_count=seeds,
        estimate_fraction=alive / seeds,
        low_fraction=_lower_limit(alive, seeds, tail),
        interval_low_fraction=_lower_limit(alive, seeds, tail / 2),
        interval_high_fraction=1.0 - _lower_limit(seeds - alive, seeds, tail / 2),
        sure_fraction=sure_fraction,
        replicates_count=len(sizes),
        replicate_range_points=spread,
        replicate_tolerance_points=rule.allowed_points,
        replicate_tolerance_basis=rule.basis,
        replicates_agree=_agrees(spread, rule.allowed_points),
    )


def replicate_tolerance(
    *, mean_fraction: float, replicates_count: int, seeds_per_replicate: int
) -> ReplicateTolerance:
    """Return the widest range allowed among the replicates of one test [percentage points].

    Parameters
    ----------
    mean_fraction
        Mean germination of the replicates.
    replicates_count
        How many replicates.
    seeds_per_replicate
        Seeds in each; all must hold the same number.

    Returns
    -------
    ReplicateTolerance
        Points and how they are known. Empty beyond eight replicates or with only one.

    Raises
    ------
    OutOfRange
        A mean outside 0 to 1 or a replicate without seeds.

    Notes
    -----
    Two and four replicates of 100 follow the table, the mean rounded to a whole percent; a mean
    up to 50 is read at 101 - p. Where the table stops, the same rule in figures: q(k) times
    sqrt(p (100 - p) / seeds in a replicate), rounded to a whole point; q(k) is the upper 2.5 %
    point of the range of k normal values. Against the table that rule is right to one point.

    Source
    ------
    7 CFR 201.55 for the table; derived here where the basis says so.
    """
    check_within("mean germination", mean_fraction, 0.0, 1.0)
    check_positive("seeds in a replicate", seeds_per_replicate)
    if seeds_per_replicate == _TABLE_SEEDS:
        read = _table_range_points(mean_fraction, replicates_count)
        if read is not None:
            return ReplicateTolerance(allowed_points=read, basis="read")
    width = _RANGE_OF_NORMALS.get(replicates_count)
    if width is None:
        return ReplicateTolerance(allowed_points=None, basis=None)
    spread_points = 100.0 * math.sqrt(mean_fraction * (1.0 - mean_fraction) / seeds_per_replicate)
    return ReplicateTolerance(allowed_points=_nearest_whole(width * spread_points), basis="derived")


def two_tests_agree(*, first: Germination, second: Germination) -> TwoTests:
    """Return whether two germination tests of one lot agree [percentage points].

    Parameters
    ----------
    first, second
        Two tests of 400 seeds each; one of 200 seeds widens the allowance by two points.

    Returns
    -------
    TwoTests
        Mean, difference and allowance; the allowance is None for tests of another size.

    Notes
    -----
    The row is found by the mean of the two results rounded to a whole percent; a mean up to 50
    is read at 101 - p. A mean above 99 takes the row of 99, the table's tightest.

    Source
    ------
    Louisiana Administrative Code, title 7, XIII-139, tolerances between two 400-seed tests.
    """
    results = (100.0 * first.estimate_fraction, 100.0 * second.estimate_fraction)
    mean, difference = sum(results) / 2, abs(results[0] - results[1])
    allowed = _two_test_points(mean, {first.seeds_count, second.seeds_count})
    return TwoTests(
        mean_points=mean,
        difference_points=difference,
        allowed_points=allowed,
        agree=_agrees(difference, allowed),
    )


def half_width_fraction(
    *, germination_fraction: float, seeds_count: int, sure_fraction: float
) -> float:
    """Return the plain give-or-take of a count, for saying what a bigger count buys [fraction].

    Parameters
    ----------
    germination_fraction
        Share found alive.
    seeds_count
        Seeds laid out.
    sure_fraction
        Two-sided chance.

    Returns
    -------
    float
        z sqrt(p (1 - p) / n).

    Raises
    ------
    OutOfRange
        A share or chance outside 0 to 1, or no seeds.

    Notes
    -----
    The normal law: good in the middle, poor near 0 and 1 and for small counts. The limits shown
    with a test are the exact ones of :func:`germination`.

    Source
    ------
    Derived here from the normal law.
    """
    check_within("germination", germination_fraction, 0.0, 1.0)
    check_positive("seeds counted", seeds_count)
    variance = germination_fraction * (1.0 - germination_fraction) / seeds_count
    return _normal_deviate(sure_fraction) * math.sqrt(variance)


def seeds_to_count(
    *, germination_fraction: float, within_fraction: float, sure_fraction: float
) -> int:
    """Return how many seeds must be laid out to know the germination so closely [count].

    Parameters
    ----------
    germination_fraction
        What the lot is thought to germinate.
    within_fraction
        The give-or-take wanted, for example 0.05 for five points.
    sure_fraction
        Two-sided chance.

    Returns
    -------
    int
        z^2 p (1 - p) / within^2, rounded up.

    Raises
    ------
    OutOfRange
        A share or chance outside 0 to 1, or no give-or-take.

    Source
    ------
    Derived here: :func:`half_width_fraction` turned round.
    """
    check_within("germination", germination_fraction, 0.0, 1.0)
    check_positive("give-or-take", within_fraction)
    variance = germination_fraction * (1.0 - germination_fraction)
    return math.ceil(variance * (_normal_deviate(sure_fraction) / within_fraction) ** 2)


def _replicate_sizes(
    alive_counts: tuple[int, ...], seeds_per_replicate: int | tuple[int, ...]
) -> tuple[int, ...]:
    if not alive_counts:
        raise OutOfRange("replicates counted", 0, 1)
    if isinstance(seeds_per_replicate, int):
        sizes: tuple[int, ...] = (seeds_per_replicate,) * len(alive_counts)
    else:
        sizes = seeds_per_replicate
    if len(sizes) != len(alive_counts):
        raise OutOfRange("replicate sizes given", len(sizes), len(alive_counts), len(alive_counts))
    for alive, size in zip(alive_counts, sizes, strict=True):
        check_within("seeds in a replicate", size, 1, math.inf)
        check_within("seedlings in a replicate", alive, 0, size)
    return sizes


def _lower_limit(alive: int, seeds: int, tail: float) -> float:
    """Return the share below which so many alive would be rarer than ``tail``."""
    if alive == 0:
        return 0.0
    return float(special.betaincinv(alive, seeds - alive + 1, tail))


def _range_points(alive_counts: tuple[int, ...], sizes: tuple[int, ...]) -> float | None:
    if len(sizes) < 2:
        return None
    points = [100.0 * alive / size for alive, size in zip(alive_counts, sizes, strict=True)]
    return max(points) - min(points)


def _tolerance_for(alive_counts: tuple[int, ...], sizes: tuple[int, ...]) -> ReplicateTolerance:
    if len(set(sizes)) > 1:
        return ReplicateTolerance(allowed_points=None, basis=None)
    return replicate_tolerance(
        mean_fraction=sum(alive_counts) / sum(sizes),
        replicates_count=len(sizes),
        seeds_per_replicate=sizes[0],
    )


def _table_percent(mean_points: float) -> int:
    """Return the whole percent under which the seed tables list a mean."""
    rounded = _nearest_whole(mean_points)
    return rounded if rounded > 50 else 101 - rounded


def _table_range_points(mean_fraction: float, replicates_count: int) -> int | None:
    percent = _table_percent(100.0 * mean_fraction)
    if percent > REPLICATE_RANGE_ROWS[0][0]:
        return None
    for lowest, four, two in REPLICATE_RANGE_ROWS:
        if percent >= lowest:
            return {4: four, 2: two}.get(replicates_count)
    return None


def _two_test_points(mean_points: float, seeds_counts: set[int]) -> int | None:
    if not seeds_counts <= {_FULL_TEST_SEEDS, _HALF_TEST_SEEDS}:
        return None
    percent = _table_percent(mean_points)
    allowed = next(points for lowest, points in TEST_AGREEMENT_ROWS if percent >= lowest)
    return allowed + (_HALF_TEST_EXTRA_POINTS if _HALF_TEST_SEEDS in seeds_counts else 0)


def _agrees(found_points: float | None, allowed_points: int | None) -> bool | None:
    if found_points is None or allowed_points is None:
        return None
    return found_points <= allowed_points + 1e-9  # a count of whole seeds, held in binary


def _normal_deviate(sure_fraction: float) -> float:
    check_within("sureness", sure_fraction, 0.0, 1.0 - 1e-12)
    return float(special.ndtri(0.5 + sure_fraction / 2))


# ---------------------------------------------------------------------------------------------
# Pure live seed, and seeds in a kilogram


@dataclass(frozen=True, kw_only=True, slots=True)
class SeedSample:
    """One weighed and counted sample of clean seed.

    Attributes
    ----------
    mass_kg
        What it weighed. [kg]
    seeds_count
        Whole seeds in it.
    """

    mass_kg: float
    seeds_count: int

    def __post_init__(self) -> None:
        check_positive("sample mass", self.mass_kg)
        check_positive("seeds in a sample", self.seeds_count)


@dataclass(frozen=True, kw_only=True, slots=True)
class SeedsPerKg:
    """Seeds in a kilogram, counted.

    Attributes
    ----------
    mean_per_kg
        All seeds over all mass. [1/kg]
    low_per_kg, high_per_kg
        The lowest and highest sample. [1/kg]
    sd_per_kg
        Standard deviation between samples (n - 1); None with one sample. [1/kg]
    samples_count, seeds_count
        Samples weighed, and seeds counted in them all.
    """

    mean_per_kg: float
    low_per_kg: float
    high_per_kg: float
    sd_per_kg: float | None
    samples_count: int
    seeds_count: int

    @property
    def thousand_seed_kg(self) -> float:
        """Mass of a thousand seeds [kg]."""
        return 1000.0 / self.mean_per_kg

    @property
    def spread_fraction(self) -> float | None:
        """Standard deviation between samples as a share of the mean; None with one sample."""
        return None if self.sd_per_kg is None else self.sd_per_kg / self.mean_per_kg


def pure_live_seed_fraction(
    *, purity_fraction: float, germination_fraction: float, hard_fraction: float = 0.0
) -> float:
    """Return the share of the bulk mass that is pure seed able to grow [fraction].

    Parameters
    ----------
    purity_fraction
        Pure seed in the bulk, by mass.
    germination_fraction
        Pure seed that germinates.
    hard_fraction
        Hard or dormant seed, where the programme counts it as live.

    Returns
    -------
    float
        purity x (germination + hard).

    Raises
    ------
    OutOfRange
        A share outside 0 to 1, or germinating and hard seed together above 1.

    Source
    ------
    Penn State, Calculating the Price of Pure Live Seed; PLS vs. bulk seed (hard seed counted).
    """
    check_within("purity", purity_fraction, 0.0, 1.0)
    check_within("germination", germination_fraction, 0.0, 1.0)
    check_within("hard seed", hard_fraction, 0.0, 1.0)
    alive = germination_fraction + hard_fraction
    check_within("germinating and hard seed together", alive, 0.0, 1.0 + 1e-12)
    return purity_fraction * min(alive, 1.0)


def live_mass_kg(*, bulk_mass_kg: float, pure_live_seed_fraction: float) -> float:
    """Return the live seed in a bulk mass; the same holds per area [kg].

    Parameters
    ----------
    bulk_mass_kg
        Seed as it runs from the bin. [kg]
    pure_live_seed_fraction
        Share of it that is pure and alive.

    Returns
    -------
    float
        bulk x pure live seed.

    Raises
    ------
    OutOfRange
        A negative mass or a share outside 0 to 1.

    Source
    ------
    Allamakee SWCD, Cover crop seeding: remember to calculate pure live seed, 2017.
    """
    check_within("bulk mass", bulk_mass_kg, 0.0, math.inf)
    check_within("pure live seed", pure_live_seed_fraction, 0.0, 1.0)
    return bulk_mass_kg * pure_live_seed_fraction


def bulk_mass_kg(*, live_mass_kg: float, pure_live_seed_fraction: float) -> float:
    """Return the bulk mass that holds so much live seed; the same holds per area [kg].

    Parameters
    ----------
    live_mass_kg
        Pure live seed wanted. [kg]
    pure_live_seed_fraction
        Share of the bulk that is pure and alive; above 0.

    Returns
    -------
    float
        live / pure live seed.

    Raises
    ------
    OutOfRange
        A negative mass, or a share of 0 or above 1.

    Source
    ------
    Allamakee SWCD, Cover crop seeding: remember to calculate pure live seed, 2017.
    """
    check_within("live mass", live_mass_kg, 0.0, math.inf)
    check_positive("pure live seed", pure_live_seed_fraction)
    check_within("pure live seed", pure_live_seed_fraction, 0.0, 1.0)
    return live_mass_kg / pure_live_seed_fraction


def seeds_per_kg_counted(samples: tuple[SeedSample, ...]) -> SeedsPerKg:
    """Return the seeds in a kilogram from weighed and counted samples [1/kg].

    Parameters
    ----------
    samples
        At least one; three of 20 g each is the usual advice.

    Returns
    -------
    SeedsPerKg
        Mean over all samples, the lowest and highest, and the spread between them.

    Raises
    ------
    OutOfRange
        No samples.

    Notes
    -----
    Count clean seed, as the purity figure takes out the rest: counting trash with it would
    charge for the trash twice.

    Source
    ------
    Bitzer and Herbek, Seeding rate and drill calibration for wheat, University of Kentucky
    (weigh 20 g and count, at least three times).
    """
    if not samples:
        raise OutOfRange("samples counted", 0, 1)
    each = [sample.seeds_count / sample.mass_kg for sample in samples]
    seeds = sum(sample.seeds_count for sample in samples)
    middle = sum(each) / len(each)
    sd = None
    if len(each) > 1:
        sd = math.sqrt(sum((one - middle) ** 2 for one in each) / (len(each) - 1))
    return SeedsPerKg(
        mean_per_kg=seeds / sum(sample.mass_kg for sample in samples),
        low_per_kg=min(each),
        high_per_kg=max(each),
        sd_per_kg=sd,
        samples_count=len(samples),
        seeds_count=seeds,
    )


def seeds_per_kg_from_thousand(*, thousand_seed_kg: float) -> float:
    """Return the seeds in a kilogram from the thousand-seed mass [1/kg].

    Parameters
    ----------
    thousand_seed_kg
        Mass of a thousand seeds. [kg]

    Returns
    -------
    float
        1000 / thousand-seed mass.

    Raises
    ------
    OutOfRange
        A mass that is not above 0.

    Source
    ------
    Derived here; it is the definition of the thousand-seed mass.
    """
    check_positive("thousand-seed mass", thousand_seed_kg)
    return 1000.0 / thousand_seed_kg


# ---------------------------------------------------------------------------------------------
# Fitness


class FitnessLevel(StrEnum):
    """What may be done with a lot, judged by its germination alone."""

    USE = "use"
    USE_HEAVIER = "use_heavier"
    ASK_FIRST = "ask_first"
    DO_NOT = "do_not"


@dataclass(frozen=True, kw_only=True, slots=True)
class FitnessLimits:
    """Germination limits between the levels of fitness.

    Attributes
    ----------
    use_fraction
        At or above: use.
    ask_fraction
        At or above, below the one before: use heavier. Below: ask the office first.
    do_not_fraction
        Below: do not sow it.
    """

    use_fraction: float
    ask_fraction: float
    do_not_fraction: float

    def __post_init__(self) -> None:
        check_within("germination to use as it is", self.use_fraction, 0.0, 1.0)
        check_within("germination to ask first", self.ask_fraction, 0.0, self.use_fraction)
        check_within("germination not to sow", self.do_not_fraction, 0.0, self.ask_fraction)


@dataclass(frozen=True, kw_only=True, slots=True)
class Agreement:
    """Who at the office agreed to a weak lot, and on what day.

    Attributes
    ----------
    agreed_by
        The person, as the farmer wrote it down.
    agreed_on
        The day.
    """

    agreed_by: str
    agreed_on: date

    def __post_init__(self) -> None:
        if not self.agreed_by.strip():
            raise OutOfRange("letters in the name of who agreed", 0, 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Fitness:
    """The verdict on a lot.

    Attributes
    ----------
    level
        What may be done with it.
    heavier
        Whether it must be sown heavier than a sound lot.
    germination_fraction
        The figure judged.
    office_floor_fraction
        What the programme's office wants at least; None where it is not known.
    agreement
        Who agreed and when; None until it is recorded.
    """

    level: FitnessLevel
    heavier: bool
    germination_fraction: float
    office_floor_fraction: float | None
    agreement: Agreement | None

    @property
    def waiting(self) -> bool:
        """Whether the office must still be asked, or its answer recorded."""
        return self.level is FitnessLevel.ASK_FIRST and self.agreement is None

    @property
    def tick(self) -> bool:
        """Whether the lot may carry a tick: nothing stands against it or is still to be asked."""
        return self.level is not FitnessLevel.DO_NOT and not self.waiting


def fitness(
    *,
    germination_fraction: float,
    limits: FitnessLimits,
    office_floor_fraction: float | None = None,
    agreement: Agreement | None = None,
) -> Fitness:
    """Return what may be done with a lot that germinates so.

    Parameters
    ----------
    germination_fraction
        Germination of the lot.
    limits
        Where the levels part.
    office_floor_fraction
        The least the programme's office accepts without being asked.
    agreement
        Who agreed to the lot and when, once it is recorded.

    Returns
    -------
    Fitness
        Level, whether to sow heavier, and whether a tick may be shown.

    Raises
    ------
    OutOfRange
        A share outside 0 to 1.

    Notes
    -----
    An agreement lifts the question, not the facts: the level stays "ask first" and the tick
    comes. It never lifts "do not". The verdict is about germination; whether the seed may be
    sown, sold or paid for by law is not known here.

    Source
    ------
    Levels are our judgement; that an office lets weak seed in when asked is from the Maryland
    Department of Agriculture, Cover crop program to address low germination in seed stock, 2016.
    """
    check_within("germination", germination_fraction, 0.0, 1.0)
    floor = 0.0 if office_floor_fraction is None else office_floor_fraction
    check_within("office's germination floor", floor, 0.0, 1.0)
    return Fitness(
        level=_level(germination_fraction, limits, floor),
        heavier=germination_fraction < limits.use_fraction,
        germination_fraction=germination_fraction,
        office_floor_fraction=office_floor_fraction,
        agreement=agreement,
    )


def _level(germination_fraction: float, limits: FitnessLimits, floor: float) -> FitnessLevel:
    if germination_fraction < limits.do_not_fraction:
        return FitnessLevel.DO_NOT
    if germination_fraction < max(limits.ask_fraction, floor):
        return FitnessLevel.ASK_FIRST
    if germination_fraction < limits.use_fraction:
        return FitnessLevel.USE_HEAVIER
    return FitnessLevel.USE


# ---------------------------------------------------------------------------------------------
# Insects


class GrainKind(StrEnum):
    """Grains the insect rules tell apart; any other species reads as ``OTHER``, with no rule."""

    WHEAT = "wheat"
    RYE = "rye"
    TRITICALE = "triticale"
    BARLEY = "barley"
    OATS = "oats"
    CORN = "corn"
    OTHER = "other"

    @classmethod
    def _missing_(cls, value: object) -> GrainKind | None:
        return cls.OTHER if isinstance(value, str) else None


@dataclass(frozen=True, kw_only=True, slots=True)
class _InsectRule:
    """A kilogram with at least this many live weevils and this many others is infested."""

    weevils_count: int
    others_count: int
    basis: Basis

    def met(self, weevils: float, others: float) -> bool:
        return weevils >= self.weevils_count and others >= self.others_count


_BREAD_GRAIN_RULES = (
    _InsectRule(weevils_count=1, others_count=1, basis="read"),
    _InsectRule(weevils_count=2, others_count=0, basis="memory"),
    _InsectRule(weevils_count=0, others_count=2, basis="memory"),
)
_FEED_GRAIN_RULES = (
    _InsectRule(weevils_count=2, others_count=0, basis="read"),
    _InsectRule(weevils_count=1, others_count=5, basis="read"),
    _InsectRule(weevils_count=0, others_count=10, basis="read"),
)
_INSECT_RULES: dict[GrainKind, tuple[_InsectRule, ...]] = {
    GrainKind.WHEAT: _BREAD_GRAIN_RULES,
    GrainKind.RYE: _BREAD_GRAIN_RULES,
    GrainKind.TRITICALE: _BREAD_GRAIN_RULES,
    GrainKind.BARLEY: _FEED_GRAIN_RULES,
    GrainKind.OATS: _FEED_GRAIN_RULES,
    GrainKind.CORN: _FEED_GRAIN_RULES,
    GrainKind.OTHER: (),
}
_RULE_SAMPLE_KG = 1.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Infestation:
    """What the insects in a sample mean.

    Attributes
    ----------
    infested
        Whether the grain counts as infested in the sense of the grain standards; None when the
        sample is under a kilogram and cannot tell, or the grain has no rule here.
    basis
        How the rule that decided is known; "derived" when a larger sample was brought down to
        one kilogram; None where nothing was decided.
    weevils_count, others_count
        Live weevils and other live insects found.
    mass_kg
        Mass of the sample. [kg]
    """

    infested: bool | None
    basis: Basis | None
    weevils_count: int
    others_count: int
    mass_kg: float

    @property
    def warn(self) -> bool:
        """Whether a warning belongs beside the germination: any live insect at all."""
        return self.weevils_count + self.others_count > 0

    @property
    def insects_per_kg(self) -> float:
        """Live insects per kilogram of the sample [1/kg]."""
        return (self.weevils_count + self.others_count) / self.mass_kg


def infested(
    *, kind: GrainKind, weevils_count: int, others_count: int, mass_kg: float
) -> Infestation:
    """Return whether a sample counts as infested in the sense of the grain standards.

    Parameters
    ----------
    kind
        The grain.
    weevils_count
        Live rice, granary, maize and cowpea weevils and lesser grain borers.
    others_count
        Other live insects of stored grain: beetles, moths.
    mass_kg
        Mass of the sample; the rules are written for one kilogram. [kg]

    Returns
    -------
    Infestation
        The verdict, and how the rule behind it is known.

    Raises
    ------
    OutOfRange
        A negative count or a sample without mass.

    Notes
    -----
    Wheat, rye, triticale: one weevil and one other; or two weevils; or two others. Barley, oats,
    corn: two weevils; or one weevil and five others; or ten others. A larger sample is brought
    down to a kilogram; a smaller one can show an infestation but never rule one out. These are
    limits of the grain trade: for seed the germination decides, and the insects warn beside it.

    Source
    ------
    Insect infestation tolerance table in an encyclopedia article on stored grain (barley, oats,
    corn; one weevil and one other in wheat, rye, triticale). The other two rules for wheat, rye
    and triticale: memory, of 7 CFR 810.107.
    """
    check_within("live weevils", weevils_count, 0, math.inf)
    check_within("other live insects", others_count, 0, math.inf)
    check_positive("sample mass", mass_kg)
    verdict, basis = _insect_verdict(_INSECT_RULES[kind], weevils_count, others_count, mass_kg)
    return Infestation(
        infested=verdict,
        basis=basis,
        weevils_count=weevils_count,
        others_count=others_count,
        mass_kg=mass_kg,
    )


def chance_of_finding_fraction(*, insects_per_kg: float, mass_kg: float) -> float:
    """Return the chance that a sample holds at least one insect [fraction].

    Parameters
    ----------
    insects_per_kg
        Live insects in a kilogram of the bin. [1/kg]
    mass_kg
        Mass looked through. [kg]

    Returns
    -------
    float
        1 - exp(-density x mass).

    Raises
    ------
    OutOfRange
        A negative density or mass.

    Notes
    -----
    Holds for insects spread by chance. Real ones gather, so the true chance is lower.

    Source
    ------
    Derived here from the Poisson law.
    """
    check_within("insects in a kilogram", insects_per_kg, 0.0, math.inf)
    check_within("sample mass", mass_kg, 0.0, math.inf)
    return -math.expm1(-insects_per_kg * mass_kg)


def insects_hidden_per_kg(*, mass_kg: float, sure_fraction: float) -> float:
    """Return how many insects may hide in the bin when a sample shows none [1/kg].

    Parameters
    ----------
    mass_kg
        Mass looked through without finding one. [kg]
    sure_fraction
        The chance that there are no more than this.

    Returns
    -------
    float
        -ln(1 - sure) / mass.

    Raises
    ------
    OutOfRange
        No mass, or a chance that is not below 1.

    Source
    ------
    Derived here: :func:`chance_of_finding_fraction` turned round.
    """
    check_positive("sample mass", mass_kg)
    check_within("sureness", sure_fraction, 0.0, 1.0 - 1e-12)
    return -math.log1p(-sure_fraction) / mass_kg


def _insect_verdict(
    rules: tuple[_InsectRule, ...], weevils: int, others: int, mass_kg: float
) -> tuple[bool | None, Basis | None]:
    if not rules:
        return None, None
    kilograms = max(mass_kg / _RULE_SAMPLE_KG, 1.0)  # a small sample is never scaled up
    met = [rule for rule in rules if rule.met(weevils / kilograms, others / kilograms)]
    if not met and mass_kg < _RULE_SAMPLE_KG:
        return None, None
    if kilograms > 1.0:
        return bool(met), "derived"
    return bool(met), _basis_of(met, rules)


def _basis_of(met: list[_InsectRule], rules: tuple[_InsectRule, ...]) -> Basis:
    """Return "read" if one read rule decides, or if all rules that clear the grain were read."""
    if met:
        return "read" if any(rule.basis == "read" for rule in met) else "memory"
    return "read" if all(rule.basis == "read" for rule in rules) else "memory"
