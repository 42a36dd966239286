"""What a crew can do in a day, against the day balance, and the draws of many seasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.day import Cover, DayTask, FieldTask, Spreader, Takeover, average_day
from duskline.core.errors import OutOfRange
from duskline.core.season import Ready, SeasonField
from duskline.core.season_days import (
    CrewRates,
    DayUncertainty,
    balanced_area_m2,
    draw_day_areas,
    draw_ready_days,
    lost_m2_per_s,
)
from duskline.core.season_weather import SeasonWeathers

ACRE_M2 = 4046.8564224
HOUR_S = 3600.0
AC_PER_H = ACRE_M2 / HOUR_S
FIRST = date(2026, 10, 18)
CREW = CrewRates(
    spread_m2_per_s=26.0 * AC_PER_H,
    cover_m2_per_s=14.0 * AC_PER_H,
    takeover_m2_per_s=13.0 * AC_PER_H,
    lead_s=0.25 * HOUR_S,
    changeover_s=0.5 * HOUR_S,
)
CALM = DayUncertainty(
    season_rate_cv=0.0,
    shared_rate_cv=0.0,
    spread_rate_cv=0.0,
    cover_rate_cv=0.0,
    breakdown_per_s=0.0,
    repair_mean_s=0.0,
)
UNSURE = DayUncertainty(
    season_rate_cv=0.08,
    shared_rate_cv=0.1,
    spread_rate_cv=0.06,
    cover_rate_cv=0.05,
    breakdown_per_s=0.05 / HOUR_S,
    repair_mean_s=1800.0,
)


def usual_day(rates: CrewRates, times_s: Sequence[float]) -> DayTask:
    """The same day for the day balance: refills take no time, the field has no end."""
    spread_opens, spread_closes, cover_opens, cover_closes = times_s
    covers, takeovers = [], []
    if rates.cover_m2_per_s > 0.0:
        covers.append(
            Cover(
                name="first",
                rate_m2_per_s=rates.cover_m2_per_s,
                opens_s=cover_opens,
                closes_s=cover_closes,
            )
        )
    if rates.takeover_m2_per_s > 0.0:
        takeovers.append(
            Takeover(
                name="second",
                rate_m2_per_s=rates.takeover_m2_per_s,
                opens_s=cover_opens,
                closes_s=cover_closes,
                changeover_s=rates.changeover_s,
            )
        )
    return DayTask(
        spread_intervals=((spread_opens, spread_closes),),
        spreaders=(
            Spreader(
                name="spreader",
                moving_rate_m2_per_s=rates.spread_m2_per_s,
                hopper_kg=1e9,
                refill_s=0.0,
            ),
        ),
        covers=tuple(covers),
        takeovers=tuple(takeovers),
        fields=(FieldTask(name="endless", area_m2=1e12, rate_kg_per_m2=1.0),),
        lead_s=rates.lead_s,
    )


def area_m2(rates: CrewRates, times_s: Sequence[float]) -> float:
    """The balanced area of one day."""
    spread_opens, spread_closes, cover_opens, cover_closes = times_s
    return float(
        balanced_area_m2(
            rates,
            spread_opens_s=spread_opens,
            spread_closes_s=spread_closes,
            cover_opens_s=cover_opens,
            cover_closes_s=cover_closes,
        )
    )


def lost(rates: CrewRates, times_s: Sequence[float]) -> float:
    """The area a second costs on one day."""
    spread_opens, spread_closes, cover_opens, cover_closes = times_s
    return float(
        lost_m2_per_s(
            rates,
            spread_opens_s=spread_opens,
            spread_closes_s=spread_closes,
            cover_opens_s=cover_opens,
            cover_closes_s=cover_closes,
        )
    )


def hours(*clock: float) -> list[float]:
    """Clock times in hours as seconds."""
    return [one * HOUR_S for one in clock]


RATES = st.builds(
    lambda spread, cover, takeover, lead, change: CrewRates(
        spread_m2_per_s=spread,
        cover_m2_per_s=cover if cover + takeover > 0.0 else 5.0,
        takeover_m2_per_s=takeover,
        lead_s=lead,
        changeover_s=change,
    ),
    st.floats(min_value=5.0, max_value=40.0),
    st.one_of(st.just(0.0), st.floats(min_value=3.0, max_value=40.0)),
    st.one_of(st.just(0.0), st.floats(min_value=3.0, max_value=40.0)),
    st.floats(min_value=0.0, max_value=2.0 * HOUR_S),
    st.floats(min_value=0.0, max_value=2.0 * HOUR_S),
)
TIMES = st.builds(
    lambda opens, head, spread, cover: [opens, opens + spread, opens + head, opens + head + cover],
    st.floats(min_value=6.0 * HOUR_S, max_value=12.0 * HOUR_S),
    st.one_of(st.just(0.0), st.floats(min_value=-2.0 * HOUR_S, max_value=4.0 * HOUR_S)),
    st.floats(min_value=0.5 * HOUR_S, max_value=11.0 * HOUR_S),
    st.floats(min_value=0.5 * HOUR_S, max_value=11.0 * HOUR_S),
)


def test_a_day_worked_by_hand() -> None:
    """Spread 26, cover 14 and then 13 more ac/h, 10 h, lead 15 min, changeover 30 min.

    26 x = 14 (10 - 0.25) + 13 (10 - x - 0.5): x = (136.5 + 123.5) / 39 = 6.667 h, 173.3 ac.
    A minute less: 26 * 27 / 39 = 18 ac/h.
    """
    day = hours(8, 18, 8, 18)
    assert area_m2(CREW, day) / ACRE_M2 == pytest.approx(26 * 260 / 39)
    assert lost(CREW, day) / AC_PER_H == pytest.approx(18.0)


@given(RATES, TIMES)
def test_it_is_the_day_balance_on_days_of_one_stretch(
    rates: CrewRates, times_s: list[float]
) -> None:
    """Head starts, late covering, no machines taken over or only such: as the day's own search."""
    expected = average_day(usual_day(rates, times_s)).spread_area_m2
    assert area_m2(rates, times_s) == pytest.approx(expected, rel=1e-6, abs=0.02)


@pytest.mark.parametrize(
    ("changed", "times_h", "acres"),
    [
        # Covering 30 ac/h keeps up all day; only the lead at the close is missed: 26 * 9.75.
        ({"cover_m2_per_s": 30.0 * AC_PER_H}, (8, 18, 8, 18), 26 * 9.75),
        # Wind shuts spreading at noon: 26 * 4.
        ({}, (8, 12, 8, 18), 26 * 4),
        # Nobody covers from the start: 26 x = 13 (10 - x - 0.5).
        ({"cover_m2_per_s": 0.0}, (8, 18, 8, 18), 26 * 13 * 9.5 / 39),
        # Nobody is taken over: 26 x = 14 * 9.75.
        ({"takeover_m2_per_s": 0.0}, (8, 18, 8, 18), 14 * 9.75),
        # Covering opens at 14: spreading is over long before, both machines work 4 h: 27 * 4.
        ({}, (6, 18, 14, 18), 27 * 4),
        # No covering at all: nothing may be spread.
        ({}, (8, 18, 9, 9), 0.0),
        # The changeover is longer than what is left of the day: 14 * 1 / 26 h of spreading.
        ({"lead_s": 0.0, "changeover_s": 2 * HOUR_S}, (8, 18, 8, 9), 14 * 1),
    ],
)
def test_each_kind_of_day_by_hand(
    changed: dict[str, float], times_h: tuple[float, ...], acres: float
) -> None:
    """What limits the day decides what it holds; the hand-work stands beside each."""
    assert area_m2(replace(CREW, **changed), hours(*times_h)) / ACRE_M2 == pytest.approx(acres)


@given(RATES, TIMES)
def test_a_second_off_the_day_costs_what_is_said(rates: CrewRates, times_s: list[float]) -> None:
    """Half a second either way lies between the rates on both sides; no kink, the same."""
    area = area_m2(rates, times_s)
    told = lost(rates, times_s)
    assert told > 0.0
    shorter, longer = (
        [times_s[0], times_s[1] + by, times_s[2], times_s[3] + by] for by in (-0.5, 0.5)
    )
    after, before = area_m2(rates, shorter), area_m2(rates, longer)
    if after <= 0.0:
        return
    sides = sorted([(area - after) / 0.5, (before - area) / 0.5])
    assert sides[0] - 1e-6 <= told <= sides[1] + 1e-6


def test_arrays_of_days_give_what_each_day_gives() -> None:
    """Two days and two paces at once: shape (2, 2)."""
    closes = np.array([[16.0], [18.0]]) * HOUR_S
    pace = np.array([1.0, 0.9])
    found = balanced_area_m2(
        CREW,
        spread_opens_s=8 * HOUR_S,
        spread_closes_s=closes,
        cover_opens_s=8 * HOUR_S,
        cover_closes_s=closes,
        spread_pace=pace,
        cover_pace=pace,
    )
    assert found.shape == (2, 2)
    assert found[1, 0] == pytest.approx(area_m2(CREW, hours(8, 18, 8, 18)))
    assert found[:, 1] == pytest.approx(0.9 * found[:, 0])


def test_crews_that_cannot_work_are_refused() -> None:
    """No spreading, no covering at all, a lead below nought."""
    for wrong in (
        {"spread_m2_per_s": 0.0},
        {"cover_m2_per_s": 0.0, "takeover_m2_per_s": 0.0},
        {"lead_s": -1.0},
    ):
        with pytest.raises(OutOfRange):
            replace(CREW, **wrong)


# Draws


def weathers(
    count: int, days: int, *, cover_h: float = 8.0, opens_h: float | None = None
) -> SeasonWeathers:
    """The same hours every day; without an opening as from climate."""
    shape = (count, days)
    opens = np.full(shape, np.nan if opens_h is None else opens_h * HOUR_S)
    return SeasonWeathers(
        days=tuple(FIRST + timedelta(days=n) for n in range(days)),
        spread_s=np.full(shape, 8.0 * HOUR_S),
        cover_s=np.full(shape, cover_h * HOUR_S),
        spread_opens_s=opens.copy(),
        cover_opens_s=opens.copy(),
        wet=np.zeros(shape, dtype=np.bool_),
        closed=np.full(shape, cover_h <= 0.0),
        from_forecast=np.zeros(days, dtype=np.bool_),
    )


def test_without_luck_every_day_is_the_balanced_day_times_what_is_dared() -> None:
    """8 h for both: 0.9 of the day balance; the budget is area over loss."""
    found = draw_day_areas([CREW], weathers(3, 2), dared_fraction=0.9, uncertainty=CALM, seed=1)
    day = hours(8, 16, 8, 16)
    assert found.area_m2 == pytest.approx(np.full((3, 2, 1), 0.9 * area_m2(CREW, day)))
    assert found.lost_m2_per_s == pytest.approx(np.full((3, 2, 1), 0.9 * lost(CREW, day)))
    assert found.budget_s == pytest.approx(found.area_m2 / found.lost_m2_per_s)


def test_days_from_climate_close_together_and_forecast_days_open_at_their_hour() -> None:
    """6 h of covering and 8 of spreading: closing together two hours are a head start."""
    climate, near = (
        draw_day_areas(
            [CREW], weathers(1, 1, cover_h=6.0, opens_h=opens), dared_fraction=1.0,
            uncertainty=CALM, seed=1,
        )
        for opens in (None, 8.0)
    )  # fmt: skip
    assert climate.area_m2[0, 0, 0] == pytest.approx(area_m2(CREW, hours(8, 16, 10, 16)))
    assert near.area_m2[0, 0, 0] == pytest.approx(area_m2(CREW, hours(8, 16, 8, 14)))


def test_closed_days_and_days_off_hold_nothing() -> None:
    """No covering, no area; a crew off has none while the other works."""
    shut = draw_day_areas(
        [CREW], weathers(5, 2, cover_h=0.0), dared_fraction=0.9, uncertainty=UNSURE, seed=1
    )
    assert not shut.area_m2.any()
    assert (shut.lost_m2_per_s > 0.0).all()
    off = np.array([[True, False]])
    found = draw_day_areas(
        [CREW, CREW], weathers(5, 1), dared_fraction=0.9, uncertainty=UNSURE, seed=1, off=off
    )
    assert not found.area_m2[:, 0, 0].any()
    assert (found.area_m2[:, 0, 1] > 0.0).all()


def test_draws_stay_when_a_rate_a_crew_a_day_or_a_season_is_added() -> None:
    """The same luck: only what was changed changes."""

    def drawn(
        crews: list[CrewRates], count: int = 40, days: int = 4, seed: int = 7
    ) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        return draw_day_areas(
            crews, weathers(count, days), dared_fraction=0.9, uncertainty=UNSURE, seed=seed
        ).area_m2

    base = drawn([CREW, CREW])
    assert np.array_equal(base, drawn([CREW, CREW]))
    assert np.array_equal(base, drawn([CREW, CREW, CREW])[:, :, :2])
    assert np.array_equal(base, drawn([CREW, CREW], days=6)[:, :4])
    assert np.array_equal(base, drawn([CREW, CREW], count=90)[:40])
    quicker = replace(CREW, spread_m2_per_s=30.0 * AC_PER_H)
    assert np.array_equal(base[:, :, 1], drawn([quicker, CREW])[:, :, 1])
    assert (drawn([quicker, CREW])[:, :, 0] >= base[:, :, 0]).all()
    assert not np.array_equal(base, drawn([CREW, CREW], seed=8))


def test_factors_have_mean_one_and_the_spread_that_is_stated() -> None:
    """Season 8 %, day 10 %, both on all rates: the area strays by about 12.8 %."""
    unsure = replace(CALM, season_rate_cv=0.08, shared_rate_cv=0.1)
    found = draw_day_areas(
        [CREW, CREW], weathers(20_000, 2), dared_fraction=1.0, uncertainty=unsure, seed=3
    ).area_m2
    part = found / area_m2(CREW, hours(8, 16, 8, 16))
    assert part.mean() == pytest.approx(1.0, abs=0.004)
    assert part[:, 0, 0].std() == pytest.approx((0.08**2 + 0.1**2 + 0.008**2) ** 0.5, abs=0.003)
    assert np.allclose(part[:, :, 0], part[:, :, 1])
    days = np.asarray(np.corrcoef(part[:, :, 0].T))[0, 1]
    assert days == pytest.approx(0.08**2 / (0.08**2 + 0.1**2), abs=0.02)


def test_breakdowns_come_at_their_rate_and_take_their_time() -> None:
    """0.1 an hour for 8 h: none on e**-0.8 of days, 0.8 of half an hour on average.

    Covering alone: each hour of standing costs 14 ac.
    """
    alone = replace(CREW, takeover_m2_per_s=0.0, lead_s=0.0)
    unsure = replace(CALM, breakdown_per_s=0.1 / HOUR_S, repair_mean_s=0.5 * HOUR_S)
    found = draw_day_areas(
        [alone], weathers(20_000, 1), dared_fraction=1.0, uncertainty=unsure, seed=3
    ).area_m2
    lost_h = (14 * 8 - found / ACRE_M2) / 14
    assert np.mean(lost_h < 1e-9) == pytest.approx(np.exp(-0.8), abs=0.01)
    assert lost_h.mean() == pytest.approx(0.4, abs=0.015)


def test_draws_that_cannot_be_are_refused() -> None:
    """No crew, nothing dared, days off of another shape, luck below nought."""
    for crews, dared, off in (
        ([], 0.9, None),
        ([CREW], 0.0, None),
        ([CREW], 1.1, None),
        ([CREW], 0.9, np.zeros((3, 1), dtype=np.bool_)),
    ):
        with pytest.raises(OutOfRange):
            draw_day_areas(
                crews, weathers(2, 2), dared_fraction=dared, uncertainty=CALM, seed=1, off=off
            )
    with pytest.raises(OutOfRange):
        replace(CALM, shared_rate_cv=-0.1)


# Ready days


def field(name: str, early: int, likely: int, late: int) -> SeasonField:
    """A field that comes ready about then."""
    return SeasonField(
        name=name,
        area_m2=ACRE_M2,
        ready=Ready(early_day=early, likely_day=likely, late_day=late),
    )


def test_ready_days_keep_their_limits_and_their_triangle() -> None:
    """4, 6, 12: up to the peak a quarter of seasons; mean 22 / 3; a sure day is that day.

    Day 4 is what rounds to it: (0.5 / 8) (0.5 / 2) of seasons, 1.6 %.
    """
    found = draw_ready_days(
        [field("a", 4, 6, 12), field("b", 3, 3, 3)], count=40_000, seed=2, link=0.5
    )
    assert found.shape == (40_000, 2)
    assert (found[:, 0].min(), found[:, 0].max()) == (4, 12)
    assert np.mean(found[:, 0] == 4) == pytest.approx(0.5 * 0.5 / 16, abs=0.003)
    assert np.mean(found[:, 0] <= 6) == pytest.approx(1 - 5.5**2 / 48, abs=0.01)
    assert found[:, 0].mean() == pytest.approx(22 / 3, abs=0.05)
    assert (found[:, 1] == 3).all()


def test_one_late_harvest_makes_all_late_as_far_as_they_are_linked() -> None:
    """Correlation 0, about a half, and 1."""
    pair = [field("a", 0, 20, 40), field("b", 0, 20, 40)]
    for link in (0.0, 0.5, 1.0):
        found = draw_ready_days(pair, count=20_000, seed=2, link=link)
        assert np.asarray(np.corrcoef(found.T))[0, 1] == pytest.approx(link, abs=0.02)


def test_a_field_more_leaves_the_others_days() -> None:
    """Throws go by name, not by place in the list."""
    a, b = field("a", 0, 5, 9), field("b", 0, 5, 9)
    alone = draw_ready_days([b], count=50, seed=2, link=0.5)[:, 0]
    assert np.array_equal(alone, draw_ready_days([a, b], count=50, seed=2, link=0.5)[:, 1])
    with pytest.raises(OutOfRange):
        draw_ready_days([a], count=50, seed=2, link=1.5)
