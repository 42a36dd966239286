"""Cost: seed, cleaning, fuel, labour, points, repairs and owning, for an area.

Money is in whatever one currency the prices are in. A part has a low and a high side where one
of its figures has; parts are taken to err independently of each other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange

__all__ = [
    "Part",
    "capital_recovery",
    "cleaning_per_m2",
    "owning_per_s",
    "recovery_factor",
    "remaining_fraction",
    "repair_fraction",
    "repairs_per_s",
    "total_of",
]

HOUR_S = 3600.0
THOUSAND_HOURS_S = 1000.0 * HOUR_S


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """One part of a cost with its low and high side, all in the same money and for the same area.

    ``low`` and ``high`` equal ``value`` where the figure has no range.
    """

    value: float
    low: float
    high: float

    def __post_init__(self) -> None:
        check_within("cost", self.low, 0.0, self.high)
        check_within("cost", self.value, self.low, self.high)

    @classmethod
    def exact(cls, value: float) -> Part:
        """Return a part without a range."""
        return cls(value=value, low=value, high=value)

    def times(self, factor: float) -> Part:
        """Return the part at another amount or price; ``factor`` is not below zero."""
        return Part(value=self.value * factor, low=self.low * factor, high=self.high * factor)

    @property
    def has_range(self) -> bool:
        """Whether low or high differ from the value."""
        return self.low < self.value or self.high > self.value


def total_of(parts: Iterable[Part]) -> Part:
    """Return the sum of parts with its low and high side, in the parts' money.

    Notes
    -----
    Values add up; their distances to low and to high are added in quadrature, low and high apart,
    since the parts err independently.

    Source
    ------
    Derived here; ordinary error propagation, worked by hand in tests/core/test_cost.py.
    """
    held = tuple(parts)
    value = sum(part.value for part in held)
    below = sqrt(sum((part.value - part.low) ** 2 for part in held))
    above = sqrt(sum((part.high - part.value) ** 2 for part in held))
    return Part(value=value, low=max(0.0, value - below), high=value + above)


def cleaning_per_m2(
    *, sown_kg_per_m2: float, loss_fraction: float, price_per_kg_run: float
) -> float:
    """Return what cleaning the seed of an area costs. [money/m2]

    Parameters
    ----------
    sown_kg_per_m2
        Bulk rate sown, clean seed. [kg/m2]
    loss_fraction
        Share of the mass that the cleaner takes out, 0 to below 1.
    price_per_kg_run
        Price for each mass run through the cleaner. [money/kg]

    Raises
    ------
    OutOfRange
        No seed, a price below zero, or a loss of all of it.

    Notes
    -----
    What is charged is what goes in: sown / (1 - loss).

    Source
    ------
    Derived here; worked by hand in tests/core/test_cost.py.
    """
    check_positive("rate sown", sown_kg_per_m2)
    check_within("price of cleaning", price_per_kg_run, 0.0, 1e9)
    if not 0.0 <= loss_fraction < 1.0:
        raise OutOfRange("cleaning loss", loss_fraction, 0.0, 1.0)
    return sown_kg_per_m2 / (1.0 - loss_fraction) * price_per_kg_run


def repair_fraction(*, used_s: float, rf1: float, rf2: float) -> float:
    """Return all repairs of a machine so far as a share of its list price. Fraction.

    Parameters
    ----------
    used_s
        Its hours since new. [s]
    rf1, rf2
        Share of list price spent by 1,000 hours, and the power with which it rises.

    Raises
    ------
    OutOfRange
        Hours below zero, or a figure of the row that is not above zero.

    Notes
    -----
    RF1 (h / 1000) ^ RF2.

    Source
    ------
    ASAE D497, Agricultural machinery management data; checked in tests/published/test_cost.py
    against table 3 of Estimating farm machinery costs, Iowa State University Extension.
    """
    check_within("hours of use", used_s, 0.0, 1e12)
    check_positive("repair figure RF1", rf1)
    check_positive("repair figure RF2", rf2)
    return float(rf1 * (used_s / THOUSAND_HOURS_S) ** rf2)


def repairs_per_s(
    *, list_price: float, used_s: float, coming_s: float, rf1: float, rf2: float
) -> float:
    """Return the repairs that come with the next time of use. [money/s]

    Parameters
    ----------
    list_price
        Price of the machine new. [money]
    used_s
        Its hours so far. [s]
    coming_s
        The hours ahead over which to spread repairs: a year's. [s]
    rf1, rf2
        Its row of the table.

    Raises
    ------
    OutOfRange
        A price or time that cannot be.

    Source
    ------
    Derived here: what the repair law gains over the time ahead, over that time.
    """
    check_positive("list price", list_price)
    check_positive("hours ahead", coming_s)
    gained = repair_fraction(used_s=used_s + coming_s, rf1=rf1, rf2=rf2) - repair_fraction(
        used_s=used_s, rf1=rf1, rf2=rf2
    )
    return list_price * gained / coming_s


def remaining_fraction(
    *, age_years: float, yearly_s: float, c1: float, c2: float, c3: float
) -> float:
    """Return what a machine is still worth as a share of its list price. Fraction.

    Parameters
    ----------
    age_years
        Years since new.
    yearly_s
        Its hours a year. [s]
    c1, c2, c3
        Its row of the table.

    Raises
    ------
    OutOfRange
        An age or hours below zero.

    Notes
    -----
    (C1 - C2 n^0.5 - C3 h^0.5)^2 with h in hours; nothing once the root falls below zero.

    Source
    ------
    ASAE D497, Agricultural machinery management data; checked in tests/published/test_cost.py.
    """
    check_within("age in years", age_years, 0.0, 200.0)
    check_within("hours a year", yearly_s, 0.0, 366 * 24 * 3600.0)
    root = c1 - c2 * sqrt(age_years) - c3 * sqrt(yearly_s / HOUR_S)
    return max(0.0, root) ** 2


def recovery_factor(*, years: float, interest_fraction: float) -> float:
    """Return the share of a sum to pay back each year, interest included. Fraction.

    Raises
    ------
    OutOfRange
        No years, or interest below zero.

    Notes
    -----
    i (1+i)^n / ((1+i)^n - 1); 1 / n where no interest is asked.

    Source
    ------
    Estimating farm machinery costs, Iowa State University Extension (A3-29).
    """
    check_positive("years", years)
    check_within("interest", interest_fraction, 0.0, 1.0)
    if interest_fraction == 0.0:
        return 1.0 / years
    grown = (1.0 + interest_fraction) ** years
    return float(interest_fraction * grown / (grown - 1.0))


def capital_recovery(
    *, paid: float, salvage: float, years: float, interest_fraction: float
) -> float:
    """Return what owning costs a year: value lost and interest. [money/year]

    Parameters
    ----------
    paid, salvage
        Worth at the start and at the end of the years. [money]
    years
        How long it is owned.
    interest_fraction
        Yearly interest, 0-1.

    Raises
    ------
    OutOfRange
        Worth more at the end than at the start, no years, or interest below zero.

    Notes
    -----
    (P - S) x factor + S i. Taxes, insurance and a shed are not in it.

    Source
    ------
    Estimating farm machinery costs, Iowa State University Extension (A3-29).
    """
    check_within("worth at the end", salvage, 0.0, paid)
    factor = recovery_factor(years=years, interest_fraction=interest_fraction)
    return (paid - salvage) * factor + salvage * interest_fraction


def owning_per_s(
    *,
    list_price: float,
    used_s: float,
    yearly_s: float,
    interest_fraction: float,
    c1: float,
    c2: float,
    c3: float,
) -> float:
    """Return what owning a machine costs for each time of use in the coming year. [money/s]

    Parameters
    ----------
    list_price
        Price of the machine new. [money]
    used_s, yearly_s
        Its hours so far and its hours a year; the one over the other is its age. [s]
    interest_fraction
        Yearly interest, 0-1.
    c1, c2, c3
        Its row of the remaining-value table.

    Raises
    ------
    OutOfRange
        A price or time that cannot be.

    Source
    ------
    Derived here: capital recovery over one year from its worth now to its worth in a year.
    """
    check_positive("list price", list_price)
    check_positive("hours a year", yearly_s)
    age = used_s / yearly_s
    now, then = (
        list_price * remaining_fraction(age_years=years, yearly_s=yearly_s, c1=c1, c2=c2, c3=c3)
        for years in (age, age + 1.0)
    )
    yearly = capital_recovery(
        paid=now, salvage=then, years=1.0, interest_fraction=interest_fraction
    )
    return yearly / yearly_s
