"""The season's nouns: which days are worked, who is away, and figures that cannot be."""

from __future__ import annotations

from datetime import date

import pytest

from duskline.core.errors import OutOfRange
from duskline.core.farm import Away, SeasonRules

SUNDAY = date(2026, 10, 25)


def test_nobody_works_on_days_off_and_on_weekly_days_off() -> None:
    """Sundays and 22 October off: the 21st is worked, the 22nd and 25th are not."""
    rules = SeasonRules(days_off=(date(2026, 10, 22),), weekly_off=(6,))
    assert rules.works_on(date(2026, 10, 21))
    assert not rules.works_on(date(2026, 10, 22))
    assert not rules.works_on(SUNDAY)
    assert SeasonRules().works_on(SUNDAY)


def test_away_holds_from_the_first_day_to_the_last() -> None:
    """Both days count."""
    away = Away(who="Old tractor", from_on=date(2026, 10, 18), to_on=date(2026, 10, 19))
    days = [date(2026, 10, day) for day in (17, 18, 19, 20)]
    assert [away.on(day) for day in days] == [False, True, True, False]


def test_a_season_may_be_one_day_long() -> None:
    """First and last day the same."""
    assert SeasonRules(first_on=SUNDAY, last_on=SUNDAY).last_on == SUNDAY


@pytest.mark.parametrize(
    ("rules", "name"),
    [
        ({"first_on": SUNDAY, "last_on": date(2026, 10, 24)}, "days of the season"),
        ({"weekly_off": (7,)}, "weekday"),
        ({"late_usd_per_m2": -1.0}, "late_usd_per_m2"),
        ({"unsown_usd_per_m2": float("nan")}, "unsown_usd_per_m2"),
        ({"stability_usd": -0.01}, "stability_usd"),
    ],
)
def test_rules_that_cannot_be_are_refused(rules: dict[str, object], name: str) -> None:
    """The figure is named."""
    with pytest.raises(OutOfRange) as wrong:
        SeasonRules(**rules)  # type: ignore[arg-type]
    assert wrong.value.name == name
