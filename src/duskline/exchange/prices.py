"""From the prices a farmer wrote to the nouns: one currency, bushels weighed by their grain."""

from __future__ import annotations

from collections.abc import Iterator

from duskline.core.farm import Prices
from duskline.exchange.farm_toml import FarmToml, PricesTable
from duskline.exchange.problems import Problem
from duskline.exchange.season_toml import SeasonTable
from duskline.units import Money

__all__ = ["check_prices", "per_kg", "prices_of"]

TOML = "farm.toml"
# Whose money is meant where the folder names none.
_CURRENCIES = {
    "US": "USD", "CA": "CAD", "MX": "MXN", "AR": "ARS", "BR": "BRL", "UY": "UYU",
    "NZ": "NZD", "AU": "AUD", "ZA": "ZAR", "IN": "INR", "GB": "GBP", "CH": "CHF",
    "DK": "DKK", "SE": "SEK", "NO": "NOK", "PL": "PLN", "CZ": "CZK", "UA": "UAH",
    **dict.fromkeys(("AT", "BE", "DE", "ES", "FI", "FR", "IE", "IT", "LV", "LT", "EE", "NL",
                     "PT", "SI", "SK", "HR", "GR", "LU"), "EUR"),
}  # fmt: skip
# A bare dollar sign can mean any of these.
_DOLLARS = frozenset({"USD", "CAD", "AUD", "NZD", "MXN", "ARS", "UYU", "BRL"})


def prices_of(form: FarmToml) -> Prices:
    """Return the farm's prices, in its one currency and SI."""
    table = form.prices
    labour = table.labor if table.labor is not None else table.labour
    used = table.points_used
    return Prices(
        currency=_currency(form) or "USD",
        fuel_per_m3=_amount(table.fuel),
        labour_per_s=_amount(labour),
        point_each=_amount(table.point),
        labour_s=table.labor_time if table.labor_time is not None else table.labour_time,
        points_count=used[0] if used is not None else None,
        points_over_m2=used[1] if used is not None else None,
        fuel_m3_per_m2=table.fuel_used,
        custom_per_m2=_amount(table.custom),
        ownership=table.ownership,
        interest_fraction=table.interest,
    )


def per_kg(price: Money | None, *, bushel_kg: float | None) -> float | None:
    """Return a seed's price for one kilogram; None where there is none.

    Parameters
    ----------
    bushel_kg
        What a standard bushel of the grain weighs; None where it has none. [kg]
    """
    if price is None:
        return None
    if price.per != "per bushel":
        return price.amount
    return price.amount / bushel_kg if bushel_kg else None


def _amount(price: Money | None) -> float | None:
    return None if price is None else price.amount


def _currency(form: FarmToml) -> str | None:
    return form.prices.currency or _CURRENCIES.get(form.farm.country)


def check_prices(form: FarmToml, bushels_kg: dict[str, float | None]) -> list[Problem]:
    """Return what stands in the way of reckoning with the prices as written.

    Parameters
    ----------
    bushels_kg
        What a standard bushel of each lot weighs, by the lot's name. [kg]
    """
    stated = list(_stated(form))
    currency = _currency(form)
    if stated and currency is None:
        return [
            Problem(
                file=TOML,
                where="prices.currency",
                read="nothing",
                expected='the three letters of the money, such as currency = "USD"',
            )
        ]
    problems = [
        Problem(
            file=TOML,
            where=where,
            read=f"a price in {price.currency}",
            expected=f"prices in {currency}, the currency of this farm",
            hint="All prices stand in one currency; set prices.currency if another is meant.",
        )
        for where, price in stated
        if not _same_money(price.currency, str(currency))
    ]
    for lot in form.lot:
        for key, price in (("price", lot.price), ("cleaning", lot.cleaning)):
            if price is None:
                continue
            if lot.parts:
                problems.append(
                    Problem(
                        file=TOML,
                        where=f"lot {lot.name}, {key}",
                        read="a price of a mix",
                        expected="prices on its parts only",
                    )
                )
            elif price.per == "per bushel" and bushels_kg[lot.name] is None:
                problems.append(
                    Problem(
                        file=TOML,
                        where=f"lot {lot.name}, {key}",
                        read=f"bushels of {lot.species}, which has no standard bushel here",
                        expected='a price by weight, such as "0.80 per lb" or "1.70 per kg"',
                    )
                )
    return problems


def _same_money(written: str, currency: str) -> bool:
    if not written:
        return True
    return currency in _DOLLARS if written == "$" else written == currency


def _stated(form: FarmToml) -> Iterator[tuple[str, Money]]:
    for name, keys in (("prices", PricesTable.model_fields), ("season", SeasonTable.model_fields)):
        for key in keys:
            value = getattr(getattr(form, name), key)
            if isinstance(value, Money):
                yield f"{name}.{key}", value
    for kind, tables in (
        ("tractor", form.tractor),
        ("spreader", form.spreader),
        ("cultivator", form.cultivator),
    ):
        for table in tables:
            if table.list_price is not None:
                yield f"{kind} {table.name}, list_price", table.list_price
    for lot in form.lot:
        for key, price in (("price", lot.price), ("cleaning", lot.cleaning)):
            if price is not None:
                yield f"lot {lot.name}, {key}", price
