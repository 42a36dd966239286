"""Parts of a cost and their sum, cleaning, repairs, what a machine is still worth."""

from __future__ import annotations

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.cost import (
    Part,
    capital_recovery,
    cleaning_per_m2,
    owning_per_s,
    recovery_factor,
    remaining_fraction,
    repair_fraction,
    repairs_per_s,
    total_of,
)
from duskline.core.errors import OutOfRange

HOUR_S = 3600.0
TILLAGE = (0.891, 0.110, 0.0)


def parts() -> st.SearchStrategy[Part]:
    """Parts of a cost with a low and a high side."""
    amounts = st.floats(0.0, 1e3)
    return st.tuples(amounts, amounts, amounts).map(
        lambda three: Part(low=min(three), value=sorted(three)[1], high=max(three))
    )


def test_ranges_of_a_total_add_in_quadrature() -> None:
    """10 (7 to 13) and 20 (16 to 24): 30, less and more 5."""
    found = total_of((Part(value=10, low=7, high=13), Part(value=20, low=16, high=24)))
    assert (found.low, found.value, found.high) == (25.0, 30.0, 35.0)


def test_a_total_of_exact_parts_has_no_range() -> None:
    """Nothing to doubt, nothing to show; no part at all is no money."""
    found = total_of((Part.exact(1.5), Part.exact(2.5)))
    assert found == Part.exact(4.0)
    assert not found.has_range
    assert total_of(()) == Part.exact(0.0)


@given(st.lists(parts(), max_size=7))
def test_a_total_lies_within_what_its_parts_allow(held: list[Part]) -> None:
    """The sum of the values; a range no wider than lows and highs added, nor than any one part."""
    found = total_of(held)
    assert found.value == pytest.approx(sum(part.value for part in held))
    assert found.low >= sum(part.low for part in held) - 1e-6
    assert found.high <= sum(part.high for part in held) + 1e-6
    for part in held:
        assert found.high - found.value >= part.high - part.value - 1e-6


@given(parts(), st.floats(0.0, 100.0))
def test_a_part_at_another_price_keeps_its_shares(part: Part, factor: float) -> None:
    """Low, value and high all go with the price."""
    found = part.times(factor)
    assert (found.low, found.value, found.high) == (
        part.low * factor,
        part.value * factor,
        part.high * factor,
    )


def test_a_part_out_of_order_is_refused() -> None:
    """Low above the value, or money below zero."""
    with pytest.raises(OutOfRange):
        Part(value=1.0, low=2.0, high=3.0)
    with pytest.raises(OutOfRange):
        Part(value=1.0, low=-1.0, high=3.0)


def test_cleaning_is_charged_on_what_goes_in() -> None:
    """96 lb sown at a loss of 4 % is 100 lb run: at a cent each a dollar."""
    found = cleaning_per_m2(sown_kg_per_m2=96.0, loss_fraction=0.04, price_per_kg_run=0.01)
    assert found == pytest.approx(1.0)


@pytest.mark.parametrize("loss", [-0.1, 1.0, 1.5, float("nan")])
def test_a_cleaner_that_takes_all_is_refused(loss: float) -> None:
    """A loss of everything, more than that, or below nothing."""
    with pytest.raises(OutOfRange, match="cleaning loss"):
        cleaning_per_m2(sown_kg_per_m2=0.01, loss_fraction=loss, price_per_kg_run=0.02)


def test_repairs_ahead_by_hand() -> None:
    """$10,000, RF1 0.27, RF2 1.4, from 500 to 600 h: 0.27 (0.6^1.4 - 0.5^1.4) of it over 100 h."""
    found = repairs_per_s(
        list_price=10_000.0, used_s=500 * HOUR_S, coming_s=100 * HOUR_S, rf1=0.27, rf2=1.4
    )
    assert found * HOUR_S == pytest.approx(10_000 * 0.27 * (0.6**1.4 - 0.5**1.4) / 100)
    assert found * HOUR_S == pytest.approx(2.975, abs=0.0005)


@given(st.floats(0.0, 5000.0), st.floats(10.0, 500.0))
def test_an_older_machine_costs_more_in_repairs(hours: float, ahead: float) -> None:
    """With a power above one, the same year costs more the later it comes."""

    def rate(used_h: float) -> float:
        return repairs_per_s(
            list_price=1e4, used_s=used_h * HOUR_S, coming_s=ahead * HOUR_S, rf1=0.27, rf2=1.4
        )

    assert rate(hours + 100.0) > rate(hours) > 0.0
    assert repair_fraction(used_s=0.0, rf1=0.27, rf2=1.4) == 0.0


def test_capital_recovery_of_a_tractor() -> None:
    """MACH-C43, results derived: $150,000 list, $130,000 paid, 15 y, 8 %, 23 % of list left.

    $34,500 left, factor 0.11683, $13,917 a year. The inputs are the example's of A3-29, Iowa
    State University Extension.
    """
    salvage = 0.23 * 150_000
    assert salvage == pytest.approx(34_500)
    assert recovery_factor(years=15, interest_fraction=0.08) == pytest.approx(0.11683, abs=5e-6)
    found = capital_recovery(paid=130_000, salvage=salvage, years=15, interest_fraction=0.08)
    assert found == pytest.approx(13_917, abs=0.5)


def test_without_interest_the_loss_is_spread_evenly() -> None:
    """$130,000 less $30,000 over ten years: $10,000 a year."""
    found = capital_recovery(paid=130_000, salvage=30_000, years=10, interest_fraction=0.0)
    assert found == pytest.approx(10_000)


@given(st.floats(1e3, 1e6), st.floats(0.0, 1.0), st.integers(1, 30), st.floats(0.001, 0.3))
def test_payments_are_worth_what_was_paid(
    paid: float, left: float, years: int, interest: float
) -> None:
    """Brought back to the start at that interest, payments and what is left make the price."""
    salvage = left * paid
    yearly = capital_recovery(paid=paid, salvage=salvage, years=years, interest_fraction=interest)
    present = sum(yearly / (1 + interest) ** year for year in range(1, years + 1))
    assert present + salvage / (1 + interest) ** years == pytest.approx(paid, rel=1e-6)


def test_owning_a_cultivator_for_a_year_by_hand() -> None:
    """$40,000 new, 4 years old at 100 h a year, 10 %: value lost plus interest, over 100 h.

    Worth (0.891 - 0.110 x 2)^2 = 45.02 % now and (0.891 - 0.110 x 5^0.5)^2 = 41.60 % in a year.
    """
    found = owning_per_s(
        list_price=40_000.0,
        used_s=400 * HOUR_S,
        yearly_s=100 * HOUR_S,
        interest_fraction=0.10,
        c1=TILLAGE[0],
        c2=TILLAGE[1],
        c3=TILLAGE[2],
    )
    now, then = 40_000 * 0.671**2, 40_000 * (0.891 - 0.110 * sqrt(5.0)) ** 2
    assert found * 100 * HOUR_S == pytest.approx(now - then + 0.10 * now)


@given(st.floats(0.0, 100.0), st.floats(0.0, 1000.0))
def test_a_machine_never_gains_by_age(years: float, hours: float) -> None:
    """Worth falls with the years to nothing and no further."""
    c1, c2, c3 = 0.942, 0.100, 0.0008
    now, later = (
        remaining_fraction(age_years=age, yearly_s=hours * HOUR_S, c1=c1, c2=c2, c3=c3)
        for age in (years, years + 1.0)
    )
    assert 0.0 <= later <= now < 1.0


def test_worth_more_at_the_end_is_refused() -> None:
    """No machine is bought for less than it is sold for."""
    with pytest.raises(OutOfRange, match="worth at the end"):
        capital_recovery(paid=10.0, salvage=11.0, years=5, interest_fraction=0.08)
