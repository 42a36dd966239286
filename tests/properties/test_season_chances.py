"""Chances said for a season, against seasons drawn and worked by plain loops written apart.

What is said to have nine chances in ten must come true in 88 to 92 of a hundred seasons; and
where the plain seasons leave out something that matters the same check must fail.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from made_weather import hourly, limits
from plain_season import (
    Mistake,
    PlainCrew,
    PlainField,
    Three,
    Told,
    Truth,
    Window,
    plain_season,
)

from duskline.core.light import local_midnight_at
from duskline.core.season import (
    CrewDay,
    CrewHours,
    Ready,
    Schedule,
    SeasonCost,
    SeasonCrew,
    SeasonDay,
    SeasonField,
    SeasonPrices,
    SeasonTask,
    Visit,
)
from duskline.core.season_days import CrewRates, DayUncertainty, draw_day_areas, draw_ready_days
from duskline.core.season_policy import SimulatedSeasons, simulate_policy
from duskline.core.season_weather import (
    Climate,
    ClimatePart,
    DayFrame,
    ErrorGrowth,
    ForecastErrors,
    SeasonWeathers,
    season_weathers,
)
from duskline.core.weather import DryingRule, Range

ACRE_M2 = 4046.8564224
HOUR_S = 3600.0
DAY_S = 86400.0
AC_PER_H = ACRE_M2 / HOUR_S
CHICAGO = ZoneInfo("America/Chicago")
FIRST = date(2026, 10, 18)
SAID_SEASONS, TRUE_SEASONS, WRONG_SEASONS = 10_000, 3_000, 2_000
LEAST, MOST = 0.88, 0.92

# A day known for sure: spreading opens at 07:30, covering at 09:00.
SURE = Window(
    spread_opens=7.5 * HOUR_S, spread_s=9.0 * HOUR_S, cover_opens=9.0 * HOUR_S, cover_s=9.0 * HOUR_S
)


@dataclass(frozen=True, kw_only=True)
class Farm:
    """A farm told twice over: the figures, its fields, crews and their lists."""

    truth: Truth
    fields: tuple[PlainField, ...]
    crews: tuple[PlainCrew, ...]
    lists: dict[str, list[tuple[str, float]]]
    help_out: bool


def nine_fields() -> Farm:
    """Nine fields, one crew, two sure days; some come ready late, one is a bottom, one whole."""
    acres = (79, 40, 33, 40, 28, 59, 38, 32, 12)
    places = ((0, 0), (900, 400), (-700, 1200), (2500, -300), (3100, 800), (2200, 1900),
              (-2800, -900), (-3300, 300), (400, -2600))  # fmt: skip
    ready = {1: (0, 1, 4), 4: (2, 4, 8), 5: (3, 5, 7)}
    fields = tuple(
        PlainField(
            name=f"A{n + 1}",
            area=size * ACRE_M2,
            place_m=(float(places[n][0]), float(places[n][1])),
            ready=ready.get(n, (0, 0, 0)),
            due=10,
            whole=n == 4,
            dry=n == 6,
            least=3.0 * ACRE_M2,
        )
        for n, size in enumerate(acres)
    )
    crew = PlainCrew(
        name="crew",
        spread=16.0 * AC_PER_H,
        cover=8.0 * AC_PER_H,
        takeover=4.0 * AC_PER_H,
        lead_s=900.0,
        changeover_s=1800.0,
        fold_s=600.0,
        visit_s=600.0,
        road_mps=6.0,
    )
    truth = Truth(
        days=14,
        near=(SURE, SURE),
        fit_share=(0.42, 0.6, 0.75),
        run_days=4.0,
        spread_h=(5.0, 8.0, 10.0),
        cover_h=(4.0, 7.0, 9.0),
        season_cv=0.10,
        shared_cv=0.12,
        spread_cv=0.06,
        cover_cv=0.06,
        breaks_per_h=0.1,
        repair_h=1.0,
        dared=0.9,
        link=0.5,
        road_factor=1.3,
    )
    return Farm(
        truth=truth,
        fields=fields,
        crews=(crew,),
        lists={"crew": [(one.name, one.area) for one in fields]},
        help_out=False,
    )


def two_crews() -> Farm:
    """Sixteen fields, two crews of different strength that help out, two lots, no sure day."""
    rng = np.random.default_rng(11)
    fields = tuple(
        PlainField(
            name=f"C{n + 1}",
            area=float(rng.integers(20, 70)) * ACRE_M2,
            place_m=(float(rng.uniform(-4e3, 4e3)), float(rng.uniform(-4e3, 4e3))),
            ready=(0, 0, 0) if n % 3 else (0, 2, 5),
            due=9,
            lot="oats" if n in (4, 5, 12, 13) else "rye",
            least=3.0 * ACRE_M2,
        )
        for n in range(16)
    )
    one = PlainCrew(
        name="one",
        spread=20.0 * AC_PER_H,
        cover=12.0 * AC_PER_H,
        takeover=0.0,
        lead_s=900.0,
        changeover_s=0.0,
        fold_s=600.0,
        clean_s=1800.0,
        road_mps=6.0,
        start_m=(0.0, 0.0),
        lot_pace={"oats": 1.2},
    )
    two = replace(
        one, name="two", spread=12.0 * AC_PER_H, cover=5.0 * AC_PER_H, takeover=4.0 * AC_PER_H
    )
    lists = {
        "one": [(f.name, f.area) for f in fields[:9]],
        "two": [(f.name, f.area) for f in fields[9:15]],  # the last is on no list
    }
    truth = replace(
        nine_fields().truth,
        near=(),
        days=12,
        fit_share=(0.6, 0.75, 0.87),
        spread_h=(6.5, 8.0, 9.5),
        cover_h=(5.5, 7.0, 8.5),
        season_cv=0.13,
        shared_cv=0.13,
    )
    return Farm(truth=truth, fields=fields, crews=(one, two), lists=lists, help_out=True)


FARMS = {"nine fields": nine_fields, "two crews": two_crews}


# The tool's side


def three(values: Three, unit: float = 1.0) -> Range:
    """Low, typical and high as the tool takes them."""
    low, typical, high = (unit * value for value in values)
    return Range(low=low, typical=typical, high=high)


def drawn_weathers(truth: Truth) -> SeasonWeathers:
    """The tool's seasons: sure days from a calm dry forecast and stated hours, then climate."""
    near = len(truth.near)
    frames = []
    for n in range(truth.days):
        on = FIRST + timedelta(days=n)
        stated = n < near
        frames.append(
            DayFrame(
                on=on,
                start_at=local_midnight_at(on, CHICAGO),
                spread_opens_s=SURE.spread_opens if stated else 6.0 * HOUR_S,
                spread_closes_s=SURE.spread_opens + SURE.spread_s if stated else 19.0 * HOUR_S,
                cover_opens_s=SURE.cover_opens if stated else 6.0 * HOUR_S,
                cover_closes_s=SURE.cover_opens + SURE.cover_s if stated else 19.0 * HOUR_S,
                noon_s=13.0 * HOUR_S,
                stated=stated,
            )
        )
    forecast = None
    if near:
        forecast = hourly(
            local_midnight_at(FIRST, CHICAGO),
            air_c=[15.0] * (24 * near),
            rain_chance=0.0,
            rain_m=0.0,
            issued_at=local_midnight_at(FIRST, CHICAGO),
        )
    none = ErrorGrowth(first=0.0, per_day=0.0)
    part = ClimatePart(
        from_month=10,
        from_day=1,
        fit_share=three(truth.fit_share),
        fit_run_days=truth.run_days,
        spread_s=three(truth.spread_h, HOUR_S),
        cover_s=three(truth.cover_h, HOUR_S),
    )
    return season_weathers(
        forecast,
        Climate(parts=(part,)),
        frames,
        SAID_SEASONS,
        20261018,
        errors=ForecastErrors(
            spread_c=none,
            wind_mps=none,
            day_link=0.0,
            block_s=6 * HOUR_S,
            block_link=0.0,
            wet_hour_m=three((0.0, 0.0, 0.0)),
            spread_ground_share=0.5,
        ),
        drying=DryingRule(
            ignored_share=0.2,
            hold=three((0.0025, 0.0045, 0.007)),
            soaking_m=0.025,
            drain_s=three((2.0, 2.5, 4.0), DAY_S),
            drying_m_per_s=three((0.0015, 0.003, 0.005), 1.0 / DAY_S),
            slow_power_m_per_s=0.0025 / DAY_S,
            fast_power_m_per_s=0.0065 / DAY_S,
        ),
        limits=limits(),
    )


def plan_of(farm: Farm) -> Schedule:
    """The lists as a plan."""
    hours = CrewHours(area_m2=1.0, lost_m2_per_s=1.0)
    task = SeasonTask(
        fields=tuple(
            SeasonField(
                name=f.name,
                area_m2=f.area,
                place_m=f.place_m,
                lot=f.lot,
                ready=Ready(early_day=f.ready[0], likely_day=f.ready[1], late_day=f.ready[2]),
                due_day=f.due,
                splittable=not f.whole,
                least_part_m2=f.least,
                not_after_rain=f.dry,
            )
            for f in farm.fields
        ),
        days=tuple(
            SeasonDay(day=d, crews={c.name: hours for c in farm.crews})
            for d in range(farm.truth.days)
        ),
        crews=tuple(
            SeasonCrew(
                name=c.name,
                lot_pace=c.lot_pace,
                visit_s=c.visit_s,
                fold_s=c.fold_s,
                road_speed_mps=c.road_mps,
                clean_out_s=c.clean_s,
                start_m=c.start_m,
            )
            for c in farm.crews
        ),
        prices=SeasonPrices(unplaced_usd_per_m2=0.01),
        road_factor=farm.truth.road_factor,
    )
    crew_days = tuple(
        CrewDay(
            day=0,
            crew=crew,
            visits=tuple(
                Visit(
                    field=name,
                    area_m2=area,
                    lot="",
                    clean_out=False,
                    starts_s=0.0,
                    takes_s=0.0,
                    travel_m=0.0,
                )
                for name, area in stops
            ),
            used_s=0.0,
            budget_s=0.0,
        )
        for crew, stops in farm.lists.items()
    )
    return Schedule(
        crew_days=crew_days,
        unplaced_m2={},
        finish_days={},
        cost=SeasonCost(),
        bound_usd=0.0,
        task=task,
    )


@functools.cache
def said(name: str) -> SimulatedSeasons:
    """What the tool says of a farm's season."""
    farm = FARMS[name]()
    truth, plan = farm.truth, plan_of(farm)
    weathers = drawn_weathers(truth)
    budgets = draw_day_areas(
        [
            CrewRates(
                spread_m2_per_s=c.spread,
                cover_m2_per_s=c.cover,
                takeover_m2_per_s=c.takeover,
                lead_s=c.lead_s,
                changeover_s=c.changeover_s,
            )
            for c in farm.crews
        ],
        weathers,
        dared_fraction=truth.dared,
        uncertainty=DayUncertainty(
            season_rate_cv=truth.season_cv,
            shared_rate_cv=truth.shared_cv,
            spread_rate_cv=truth.spread_cv,
            cover_rate_cv=truth.cover_cv,
            breakdown_per_s=truth.breaks_per_h / HOUR_S,
            repair_mean_s=truth.repair_h * HOUR_S,
        ),
        seed=20261018,
    )
    ready = draw_ready_days(plan.task.fields, count=SAID_SEASONS, seed=20261018, link=truth.link)
    return simulate_policy(plan, budgets, weathers.wet, ready, help_out=farm.help_out)


@functools.cache
def true_seasons(name: str, count: int, mistake: Mistake = Mistake.NONE) -> list[Told]:
    """The plain seasons of the same farm."""
    farm = FARMS[name]()
    return [
        plain_season(
            *(9_000_000 + n, farm.truth, farm.fields, farm.crews, farm.lists),
            help_out=farm.help_out,
            mistake=mistake,
        )
        for n in range(count)
    ]


# The check


@dataclass(frozen=True, kw_only=True)
class Event:
    """Something said to have a chance, and how often it came true."""

    what: str
    said: float
    came: float


def acres_events(name: str, seasons: Sequence[Told]) -> list[Event]:
    """Acres done at least by the evening of a day, said with nine chances in ten."""
    found = said(name)
    tenth = found.fan_m2([0.1])[0]
    done = np.array([one.done_m2 for one in seasons])
    total = sum(one.area for one in FARMS[name]().fields)
    return [
        Event(
            what=f"{tenth[d] / ACRE_M2:.0f} ac by day {d}",
            said=0.9,
            came=float(np.mean(done[:, d] >= tenth[d])),
        )
        for d in range(len(tenth))
        if 0.0 < tenth[d] < 0.999 * total
    ]


def field_events(name: str, seasons: Sequence[Told]) -> list[Event]:
    """A field done by a day, where that is said to have 85 to 95 chances in a hundred."""
    found = said(name)
    events = []
    for field in found.fields:
        days = np.array([one.finish.get(field, 10**6) for one in seasons])
        for d in found.days:
            chance = found.chance_of_field(field, d).fraction
            if 0.85 <= chance <= 0.95:
                came = float(np.mean(days <= d))
                events.append(Event(what=f"{field} by day {d}", said=chance, came=came))
    return events


def come_true(events: Sequence[Event]) -> bool:
    """Whether all come as often as said, give or take two in a hundred."""
    return all(abs(one.came - one.said) <= 0.02 for one in events)


@pytest.mark.parametrize("name", FARMS)
def test_what_is_said_to_have_nine_chances_in_ten_comes_true_so_often(name: str) -> None:
    """Acres by each day within 88 and 92 %, fields by their day within 2 % of what is said."""
    seasons = true_seasons(name, TRUE_SEASONS)
    acres, fields = acres_events(name, seasons), field_events(name, seasons)
    assert len(acres) >= 5
    assert len(fields) >= 5
    assert [one for one in acres if not LEAST <= one.came <= MOST] == []
    assert come_true(acres)
    assert [one for one in fields if abs(one.came - one.said) > 0.02] == []


@pytest.mark.parametrize("mistake", [one for one in Mistake if one is not Mistake.NONE])
def test_the_check_fails_where_the_true_seasons_are_other_ones(mistake: Mistake) -> None:
    """Days without runs, no breakdowns, or no luck in common: not what was said of the acres."""
    seasons = true_seasons("nine fields", WRONG_SEASONS, mistake)
    assert not come_true(acres_events("nine fields", seasons))
    assert not come_true(field_events("nine fields", seasons))


@pytest.mark.parametrize("name", FARMS)
def test_acres_by_each_evening_are_spread_as_in_the_true_seasons(name: str) -> None:
    """Share of seasons with at least so many acres, forty amounts each evening: within 3 %."""
    found, total = said(name), sum(one.area for one in FARMS[name]().fields)
    done = np.array([one.done_m2 for one in true_seasons(name, TRUE_SEASONS)])
    amounts = total * (np.arange(40) + 0.5) / 40
    told, came = (np.mean(side[:, :, None] >= amounts, axis=0) for side in (found.done_m2, done))
    assert np.abs(told - came).max() < 0.03
