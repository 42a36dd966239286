"""Seasons answered by hand, for the tests of their picture and sheet: every figure is set here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast
from zoneinfo import ZoneInfo

from made_days import ACRE_M2, FORTY, RYE, farm_of

from duskline.answers.season import (
    AtSure,
    Basis,
    CrewPlan,
    FieldPlan,
    SeasonAnswer,
    SeasonDayPlan,
    VisitPlan,
    WhyLeft,
)
from duskline.answers.season_worth import ChangeKey, SeasonChance, SeasonWorth
from duskline.core.farm import CrewNoun, Farm
from duskline.core.light import local_midnight_at, seconds_after
from duskline.core.season import Change, SeasonCost

__all__ = ["FIRST", "long_season", "made_answer", "made_crew", "made_day", "short_season"]

FIRST = date(2026, 10, 18)
HOUR_S = 3600.0
Stop = tuple[str, float, str]
"""Field, acres and lot of one stop."""


def at(zone: str, on: date, hour: float) -> datetime:
    """The moment so many hours after midnight, by the clock on the wall."""
    whole = datetime(on.year, on.month, on.day, tzinfo=ZoneInfo(zone))
    return whole + timedelta(hours=hour)


def made_crew(
    zone: str,
    on: date,
    stops: Sequence[Stop],
    *,
    crew: str = "",
    opens: float = 9.5,
    stop: float = 15.05,
    closes: float = 18.25,
    of_acres: Mapping[str, float] | None = None,
) -> CrewPlan:
    """A crew's day whose stops follow on one another an hour and 7 minutes apart."""
    visits, lot_before = [], stops[0][2] if stops else ""
    for place, (name, acres, lot) in enumerate(stops):
        begins = opens + place * (1.0 + 7.0 / 60.0)
        apart = place * 0.2
        visits.append(
            VisitPlan(
                field=name,
                customer="Hollow Farms" if crew else "",
                lot=lot,
                area_m2=acres * ACRE_M2,
                seed_kg=acres * 40.0,
                is_part=of_acres is not None and acres < of_acres[name] - 0.01,
                clean_out=lot != lot_before,
                travel_m=800.0 * place,
                from_at=at(zone, on, begins),
                covered_at=at(zone, on, begins + 2.0),
                about_from_at=at(zone, on, begins - apart),
                about_to_at=at(zone, on, begins + apart),
            )
        )
        lot_before = lot
    midnight = local_midnight_at(on, ZoneInfo(zone))
    opens_s, stop_s, closes_s = (
        seconds_after(midnight, at(zone, on, hour)) for hour in (opens, stop, closes)
    )
    second = " 2" if crew.endswith("2") else ""
    return CrewPlan(
        crew=crew,
        opens_at=at(zone, on, opens),
        stop_at=at(zone, on, stop),
        closes_at=at(zone, on, closes),
        visits=tuple(visits),
        capacity_m2=150.0 * ACRE_M2,
        used_fraction=0.9,
        spread_s=((opens_s, stop_s),),
        covered_s=((opens_s + 0.3 * HOUR_S, closes_s),),
        drivers=((f"Spreader{second}", f"Ana{second}"), (f"Tines{second}", f"Carl{second}")),
        takeovers=((f"Spare tines{second}", f"Ana{second}"),),
    )


def made_day(
    on: date,
    crews: Sequence[CrewPlan] = (),
    *,
    basis: Basis = Basis.STATED,
    because: str = "",
    fit: float = 1.0,
    idle: Sequence[str] = (),
    left_acres: float = 0.0,
) -> SeasonDayPlan:
    """A day of autumn light: dawn 7:00, sunset 18:24, dark 18:54."""
    return SeasonDayPlan(
        on=on,
        basis=basis,
        because=because,
        fit_fraction=fit,
        crews=tuple(crews),
        idle=tuple(idle),
        dawn_s=7.0 * HOUR_S,
        sunset_s=18.4 * HOUR_S,
        dusk_s=18.9 * HOUR_S,
        left_m2=left_acres * ACRE_M2,
    )


def _field(name: str, acres: float, days: Sequence[SeasonDayPlan], **facts: Any) -> FieldPlan:
    """A field with what the days sow of it; the rest of it has no day."""
    seen = [
        (day.on, visit.area_m2)
        for day in days
        for crew in day.crews
        for visit in crew.visits
        if visit.field == name
    ]
    left_m2 = acres * ACRE_M2
    rest_m2 = max(0.0, left_m2 - sum(area_m2 for _, area_m2 in seen))
    whole = rest_m2 < 1.0
    plain: dict[str, Any] = {
        "name": name,
        "customer": "",
        "lot": "Bin rye",
        "left_m2": left_m2,
        "unplaced_m2": 0.0 if whole else rest_m2,
        "why_left": None if whole else WhyLeft.HOURS,
        "due_on": None,
        "late_m2": 0.0,
        "finish_on": seen[-1][0] if seen and whole else None,
        "chance_fraction": 0.9,
        "chance_low_fraction": 0.88,
        "chance_high_fraction": 0.92,
        "early_on": seen[0][0] if seen else None,
        "late_on": seen[-1][0] + timedelta(days=1) if seen else None,
    }
    return FieldPlan(**{**plain, **facts})


def made_answer(
    farm: Farm,
    days: Sequence[SeasonDayPlan],
    fields: Sequence[FieldPlan],
    *,
    due_on: date | None = None,
    changes: Sequence[Change] = (),
    away: Mapping[tuple[date, str], str] | None = None,
) -> SeasonAnswer:
    """An answer with these days and fields; what the weather may do is set by hand.

    ``away`` says of a crew on a date why it is not there; all others could work.
    """
    left_m2 = sum(field.left_m2 for field in fields)
    done, total = [], 0.0
    for day in days:
        total += day.area_m2
        done.append(total)
    unplaced_m2 = sum(field.unplaced_m2 for field in fields)
    late_m2 = sum(field.late_m2 for field in fields)
    chance = SeasonChance(
        by_deadline_fraction=0.7,
        low_fraction=0.67,
        high_fraction=0.73,
        count=1000,
        fan_m2={
            0.1: tuple(0.7 * area for area in done),
            0.5: tuple(0.95 * area for area in done),
            0.9: tuple(done),
        },
        finish_days={0.1: None, 0.5: None, 0.9: None},
        fields={},
        seasons=cast("Any", None),
    )
    worth = SeasonWorth(
        key=ChangeKey.DRIVER, step=None, unit="", days=1.2, days_low=1.1, days_high=1.3, usd=652.0,
        usd_low=604.0, usd_high=699.0, chance_fraction=0.8, unplaced_m2=0.0, late_m2=0.0,
        no_difference=False,
    )  # fmt: skip
    finish_on = max((day.on for day in days if day.crews), default=None)
    return SeasonAnswer(
        farm=farm.name,
        time_zone=farm.time_zone,
        currency=farm.prices.currency,
        on=tuple(day.on for day in days),
        due_on=due_on,
        sure_fraction=0.95,
        days=tuple(days),
        fields=tuple(fields),
        left_m2=left_m2,
        finish_on=finish_on,
        unplaced_m2=unplaced_m2,
        late_m2=late_m2,
        without_second_m2=None,
        chance=chance,
        by_sureness=tuple(
            AtSure(sure_fraction=sure, unplaced_m2=0.0, late_m2=0.0, finish_on=finish_on)
            for sure in (None, 0.5, 0.8, 0.95)
        ),
        worth=(worth,),
        cost=SeasonCost(wait_usd=150.0, travel_usd=40.0),
        bound_usd=186.0,
        gap_usd=4.0,
        gap_fraction=0.021,
        changes=tuple(changes),
        schedule=cast("Any", None),
        planned=cast("Any", _planned(farm, days, away or {})),
        working=(),
    )


def _planned(
    farm: Farm, days: Sequence[SeasonDayPlan], away: Mapping[tuple[date, str], str]
) -> SimpleNamespace:
    """The crews with who works on which date, as far as words and sheets look at it."""
    crews = tuple(crew.name for crew in farm.crews) or ("",)
    hours = {
        (day.on, crew): SimpleNamespace(
            crew=crew,
            works=not day.because and (day.on, crew) not in away,
            basis=Basis.OFF if (day.on, crew) in away else day.basis,
            because=away.get((day.on, crew), day.because),
        )
        for day in days
        for crew in crews
    }
    return SimpleNamespace(crews=crews, farm=farm, hours=hours)


def short_season() -> tuple[Farm, SeasonAnswer]:
    """Four fields of one crew in five days: a closed day, a field with a part without a day.

    79.3 + 40 + 33.4 + 20 ac; 119.3 ac the first day, 33.4 the third, 15 the fourth; 5 stay.
    """
    farm = farm_of(RYE)
    zone = farm.time_zone
    acres = {"A1": 79.3, "A6": 40.0, "A8": 33.4, "A9": 20.0}
    on = [FIRST + timedelta(days=n) for n in range(5)]
    days = [
        made_day(
            on[0],
            [made_crew(zone, on[0], [("A1", 79.3, "Bin rye"), ("A6", 40.0, "Bin rye")])],
            left_acres=53.4,
        ),
        made_day(on[1], basis=Basis.CLOSED, because="ground not fit", fit=0.0, left_acres=53.4),
        made_day(
            on[2],
            [made_crew(zone, on[2], [("A8", 33.4, "Bin rye")], stop=13.4)],
            basis=Basis.CLIMATE,
            fit=0.6,
            left_acres=20.0,
        ),
        made_day(
            on[3],
            [made_crew(zone, on[3], [("A9", 15.0, "Bin rye")], of_acres=acres)],
            basis=Basis.FORECAST,
            left_acres=5.0,
        ),
        made_day(on[4], basis=Basis.OFF, because="day off", left_acres=5.0),
    ]
    fields = [
        _field(name, area, days, due_on=on[2], chance_fraction=chance)
        for (name, area), chance in zip(acres.items(), (1.0, 0.97, 0.62, 0.2), strict=True)
    ]
    change = Change(
        field="A8",
        what="moved",
        why="shorter day",
        before=((FIRST.toordinal(), "", 33.4 * ACRE_M2),),
        after=((on[2].toordinal(), "", 33.4 * ACRE_M2),),
    )
    return farm, made_answer(farm, days, fields, due_on=on[2], changes=[change])


def long_season(days_count: int = 14) -> tuple[Farm, SeasonAnswer]:
    """Two crews, three stops a day each, every fourth day closed, lots changing at noon.

    Crew 2 is free every sixth day; the fields are of 20 ac, named with their crew and number.
    """
    farm = replace(
        farm_of(FORTY),
        crews=(
            CrewNoun(name="Crew 1", machines=("Spreader 1", "Cultivator 1")),
            CrewNoun(name="Crew 2", machines=("Spreader 2", "Cultivator 2")),
        ),
    )
    zone = farm.time_zone
    stops: list[tuple[SeasonDayPlan, float]] = []
    sown = 0.0
    names: list[tuple[str, str]] = []
    for number in range(days_count):
        on = FIRST + timedelta(days=number)
        if number % 4 == 3:
            closed = made_day(on, basis=Basis.CLOSED, because="ground not fit after the rain")
            stops.append((closed, sown))
            continue
        crews, idle = [], []
        for crew in ("Crew 1", "Crew 2"):
            if crew == "Crew 2" and number % 6 == 5:
                idle.append(crew)
                continue
            here = [(f"{crew[-1]}-{number}-{place}", 20.0, "WWY"[place]) for place in range(3)]
            names += [(name, lot) for name, _, lot in here]
            crews.append(made_crew(zone, on, here, crew=crew, stop=15.0 + 0.4 * int(crew[-1])))
            sown += 60.0
        stops.append((made_day(on, crews, idle=idle), sown))
    total = 20.0 * len(names)
    days = [
        made_day(
            day.on,
            day.crews,
            basis=day.basis,
            because=day.because,
            idle=day.idle,
            left_acres=total - done,
        )
        for day, done in stops
    ]
    fields = [_field(name, 20.0, days, customer="Hollow Farms", lot=lot) for name, lot in names]
    return farm, made_answer(farm, days, fields)
