"""Crews of the season: who works with what on a date, and what such a day can do.

A crew is a farm of its own: its machines, its people, its seed trucks. What a day can do comes
from the day balance, with one field as large as need be, so that moves can be taken off later.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from duskline.answers.day import uncertainty_of
from duskline.answers.day_plan import DayQuestion, PlannedDay, plan_day
from duskline.answers.season_shared import counted_on
from duskline.answers.seed import lot_rate_kg_per_m2
from duskline.core import day as balance
from duskline.core.errors import NobodyMayDrive, NoWindow
from duskline.core.farm import (
    CrewNoun,
    Cultivator,
    Farm,
    Field,
    SpreaderNoun,
    StatedWindow,
)
from duskline.core.light import local_midnight_at
from duskline.core.season_days import CrewRates
from duskline.core.weather import Forecast

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

__all__ = [
    "Basis",
    "Hours",
    "away_on",
    "calm_hours",
    "crew_day",
    "crew_farm",
    "crew_rates",
    "crews_of",
    "hours_on",
    "lot_pace",
    "typical_lot",
]

ALL_M2 = 1e10
"""A field that no day ends: the day balance then tells what the hours can do. [m2]"""
REPLICATIONS = 4_000
NOBODY = "nobody"
"""The reason of ``NobodyMayDrive`` where there is simply none."""


class Basis(StrEnum):
    """What a day's hours rest on."""

    STATED = "stated"
    STATED_OFF = "stated on a day off"
    FORECAST = "forecast"
    CLIMATE = "climate"
    CLOSED = "closed"
    OFF = "off"


@dataclass(frozen=True, kw_only=True, slots=True)
class Hours:
    """Hours of one crew on one date, and what they can do.

    Attributes
    ----------
    planned
        The day made ready for the balance; None where nobody works.
    areas_m2
        Sown and covered in one field, by the chance kept; None: at average rates. [m2]
    sure_fraction
        The chance the plan keeps; None: at average rates.
    share_fraction
        How much of such a day is counted on, where the weather is not known yet.
    lost_m2_per_s
        What a second of the whole crew's time is worth. [m2/s]
    second_m2
        Of the average, what the machines that spreaders' drivers take over later add. [m2]
    open_m2, bare_m2
        Lying open in the morning and covered first, and what of it is open at night all the
        same. The areas are what is sown beside it. [m2]
    without
        Whom and what the crew counts on that goes with another crew that day. {name: crew}
    if_open
        Of a day planned as closed, what a usual day would be if it opened; None where that is
        not to be known.
    """

    on: date
    crew: str
    basis: Basis
    because: str = ""
    planned: PlannedDay | None = None
    areas_m2: Mapping[float | None, float] = field(default_factory=dict)
    sure_fraction: float | None = None
    share_fraction: float = 1.0
    lost_m2_per_s: float = 1.0
    second_m2: float = 0.0
    open_m2: float = 0.0
    bare_m2: float = 0.0
    without: Mapping[str, str] = field(default_factory=dict)
    if_open: Hours | None = None

    @property
    def opened(self) -> Hours:
        """The day; of one planned as closed what it would be if it opened."""
        return self if self.if_open is None else self.if_open

    @property
    def stays_home(self) -> bool:
        """Whether nobody can go out, whatever the weather."""
        return self.planned is None and self.basis is Basis.OFF

    @property
    def area_m2(self) -> float:
        """Sown and covered in one field at the chance the plan keeps. [m2]"""
        return self.areas_m2.get(self.sure_fraction, 0.0)

    @property
    def whole_area_m2(self) -> float:
        """The same where the day is fit all through. [m2]"""
        return self.area_m2 / self.share_fraction

    @property
    def average_m2(self) -> float:
        """The same at average rates. [m2]"""
        return self.areas_m2.get(None, 0.0)

    @property
    def works(self) -> bool:
        """Whether there is anything to do with the day."""
        return self.planned is not None and self.average_m2 > 0.0

    @property
    def opens_s(self) -> float:
        """When work begins. [s]"""
        return self.task.spread_intervals[0][0]

    @property
    def closes_s(self) -> float:
        """When covering must be done. [s]"""
        return self.task.covered_by_s

    @property
    def task(self) -> balance.DayTask:
        """The day for the balance."""
        return self.made_ready.planned

    @property
    def made_ready(self) -> PlannedDay:
        """The day made ready for the balance.

        Raises
        ------
        NoWindow
            Nobody works that day.
        """
        if self.planned is None:
            raise NoWindow(self.because or f"nobody works on {self.on}")
        return self.planned


def crews_of(farm: Farm) -> tuple[CrewNoun, ...]:
    """Return the farm's crews; all machines together where it names none."""
    if farm.crews:
        return farm.crews
    machines: tuple[SpreaderNoun | Cultivator, ...] = (*farm.spreaders, *farm.cultivators)
    return (
        CrewNoun(
            name="",
            machines=tuple(machine.name for machine in machines),
            seed_trucks=tuple(truck.name for truck in farm.seed_trucks),
        ),
    )


def away_on(farm: Farm, on: date) -> Mapping[str, str]:
    """Return who and what is not there on a date, with the reason."""
    return {one.who: one.why for one in farm.away if one.on(on)}


def crew_farm(
    farm: Farm, crew: CrewNoun, away: Mapping[str, str], taken: Mapping[str, str]
) -> Farm:
    """Return the crew as a farm of its own, without what is away or at work with another crew.

    Parameters
    ----------
    taken
        People and tractors that work with another crew that day. {name: crew}
    """
    gone = {*away, *taken}

    def manned(driver: str | None) -> str | None:
        return None if driver in gone else driver

    every: tuple[SpreaderNoun | Cultivator, ...] = (*farm.spreaders, *farm.cultivators)
    here = {
        machine.name
        for machine in every
        if machine.name in crew.machines
        and machine.name not in gone
        and _can_be_pulled(farm, machine, gone)
    }
    others = _named_elsewhere(farm, crew)
    return replace(
        farm,
        people=tuple(p for p in farm.people if p.name not in gone and p.name not in others),
        tractors=tuple(t for t in farm.tractors if t.name not in gone),
        spreaders=tuple(
            replace(s, driver=manned(s.driver)) for s in farm.spreaders if s.name in here
        ),
        cultivators=tuple(
            replace(c, driver=manned(c.driver)) for c in farm.cultivators if c.name in here
        ),
        seed_trucks=tuple(
            t
            for t in farm.seed_trucks
            if t.name in crew.seed_trucks and t.name not in gone and t.driver not in gone
        ),
    )


def _named_elsewhere(farm: Farm, crew: CrewNoun) -> set[str]:
    """Return the drivers of machines and seed trucks outside a crew that it does not count on."""
    if len(farm.crews) < 2:
        return set()
    every: tuple[SpreaderNoun | Cultivator, ...] = (*farm.spreaders, *farm.cultivators)
    named = {m.driver for m in every if m.driver and m.name not in crew.machines}
    named |= {t.driver for t in farm.seed_trucks if t.driver and t.name not in crew.seed_trucks}
    return named - set(counted_on(farm, crew))


def _can_be_pulled(farm: Farm, machine: SpreaderNoun | Cultivator, gone: Set[str]) -> bool:
    """Say whether a tractor is there for a machine; with none named it has its own."""
    if machine.tractor is not None:
        return machine.tractor not in gone
    pulling = [tractor.name for tractor in farm.tractors if machine.name in tractor.pulls]
    return not pulling or any(name not in gone for name in pulling)


def typical_lot(farm: Farm, left_m2: Mapping[str, float]) -> str | None:
    """Return the lot most of what is left is sown with."""
    areas: dict[str | None, float] = {}
    for one in farm.fields:
        name = farm.lot(one.lot).name
        areas[name] = areas.get(name, 0.0) + left_m2.get(one.name, one.area_m2)
    return max(areas, key=lambda name: areas[name], default=None)


def _endless_fields(farm: Farm, lot: str | None) -> tuple[Field, ...]:
    """Return a field without end for each spreader, as two never share one."""
    here = (farm.longitude_deg, farm.latitude_deg)
    return tuple(
        Field(name=spreader.name, area_m2=ALL_M2, centre=here, lot=lot)
        for spreader in farm.spreaders
    )


def crew_day(
    farm: Farm,
    on: date,
    basis: Basis,
    *,
    crew: str,
    lot: str | None,
    sure_fraction: float | None,
    levels: Sequence[float],
    seed: int,
    share: float = 1.0,
    open_m2: float = 0.0,
) -> Hours:
    """Return what a crew's day can do.

    Parameters
    ----------
    farm
        The crew as a farm of its own, with the hours of the date stated or forecast.
    lot
        What is sown; its rate says how many loads there are.
    sure_fraction
        The chance with which all spread is to be covered; None for average rates.
    levels
        Chances to tell beside it.
    share
        How much of such a day to count on, where the weather is not known yet.
    open_m2
        Lies spread and not covered in the morning, and is covered before all else. [m2]
    """
    start_at = local_midnight_at(on, _zone(farm))
    bare = replace(
        farm,
        fields=_endless_fields(farm, lot),
        log=(),
        rules=replace(farm.rules, order=(), move_s=0.0),
    )
    question = DayQuestion(on=on)
    try:
        planned = plan_day(bare, question, on, start_at)
    except NoWindow as closed:
        return Hours(on=on, crew=crew, basis=Basis.CLOSED, because=closed.reason)
    except NobodyMayDrive as nobody:
        alone = f"nobody for {nobody.machine}" if nobody.reason == NOBODY else str(nobody)
        return Hours(on=on, crew=crew, basis=Basis.OFF, because=alone)
    if open_m2 > 0.0:
        planned = replace(planned, planned=_with_open(planned.planned, open_m2))
    task = planned.planned
    average = balance.average_day(task)
    sown_m2 = average.spread_area_m2 - open_m2
    areas: dict[float | None, float] = {None: sown_m2 * share}
    wanted = {*levels, *(() if sure_fraction is None else (sure_fraction,))}
    if wanted and sown_m2 > 0.0:
        draws = balance.draw_day(
            task, uncertainty_of(bare, planned), replications=REPLICATIONS, seed=seed
        )
        latest = balance.simulate_day(task, draws).latest_stop_s
        for level in sorted(wanted):
            stop_s = balance.stop_at_chance_s(latest, level)
            stop_s = min(max(stop_s, task.start_s), task.spread_until_s)
            spread_m2 = balance.spread_area_by_m2(task, draws, stop_s)[0]
            areas[level] = max(0.0, spread_m2 - open_m2) * share
    return Hours(
        on=on,
        crew=crew,
        basis=basis,
        because="" if sown_m2 > 0.0 or open_m2 <= 0.0 else "covering what lies open",
        planned=planned,
        areas_m2=areas,
        sure_fraction=sure_fraction,
        share_fraction=share,
        lost_m2_per_s=_lost_m2_per_s(task, average),
        second_m2=(sown_m2 - _alone_m2(task)) * share,
        open_m2=open_m2,
        bare_m2=average.bare_m2,
    )


def _with_open(task: balance.DayTask, open_m2: float) -> balance.DayTask:
    """Return the day with ground that lies spread and not covered as it begins."""
    return replace(task, state=balance.State(now_s=task.start_s, spread_m2=open_m2))


def _sown_m2(task: balance.DayTask) -> float:
    """Return what is sown at average rates, beside what lay open in the morning. [m2]"""
    return balance.average_day(task).spread_area_m2 - task.spread_before_m2


def _lost_m2_per_s(task: balance.DayTask, average: balance.Average) -> float:
    """Return the area a second of the crew's time is worth: the day with and without an hour.

    Half an hour is taken off the end of everything that day, or a quarter of a short day.
    """
    opens_s = task.spread_intervals[0][0]
    step_s = min(1800.0, 0.25 * (task.covered_by_s - opens_s))
    shorter = _shorter(task, step_s)
    if shorter is None:
        return max(average.spread_area_m2, 1.0) / max(task.covered_by_s - opens_s, 1.0)
    lost = average.spread_area_m2 - balance.average_day(shorter).spread_area_m2
    return max(lost / step_s, 1e-3)


def _shorter(task: balance.DayTask, by_s: float) -> balance.DayTask | None:
    """Return the day closed earlier by so much; None if no spreading is left."""
    ends_s = task.spread_intervals[-1][1] - by_s
    kept = tuple((a, min(b, ends_s)) for a, b in task.spread_intervals if a < ends_s)
    if not kept:
        return None

    def earlier(closes_s: float, opens_s: float) -> float:
        return max(opens_s, closes_s - by_s)

    return replace(
        task,
        spread_intervals=kept,
        covers=tuple(replace(c, closes_s=earlier(c.closes_s, c.opens_s)) for c in task.covers),
        takeovers=tuple(
            replace(t, closes_s=earlier(t.closes_s, t.opens_s)) for t in task.takeovers
        ),
    )


def _alone_m2(task: balance.DayTask) -> float:
    """Return the average day without the machines taken over later. [m2]"""
    if not task.takeovers:
        return _sown_m2(task)
    if not task.covers:
        return 0.0
    return _sown_m2(replace(task, takeovers=()))


def crew_rates(hours: Hours) -> CrewRates:
    """Return the crew's rates of that day for the season's weathers."""
    task = hours.task
    return CrewRates(
        spread_m2_per_s=balance.average_day(task).spread_rate_m2_per_s,
        cover_m2_per_s=sum(c.rate_m2_per_s for c in task.covers),
        takeover_m2_per_s=sum(t.rate_m2_per_s for t in task.takeovers),
        lead_s=task.lead_s,
        changeover_s=max((t.changeover_s for t in task.takeovers), default=0.0),
    )


def lot_pace(hours: Hours, farm: Farm, lot: str) -> float:
    """Return how much longer a square metre of a lot takes than of the day's own lot."""
    task = hours.task
    rate = lot_rate_kg_per_m2(farm, farm.lot(lot))
    other = replace(task, fields=tuple(replace(f, rate_kg_per_m2=rate) for f in task.fields))
    area, own = _sown_m2(other), _sown_m2(task)
    return own / area if area > 0.0 else math.inf


def calm_hours(farm: Farm, on: date) -> Forecast:
    """Return a forecast of no weather at all: light and the crew alone say when work goes on."""
    start_at = local_midnight_at(on, _zone(farm))
    count = 30
    none, dry = np.zeros(count), np.full(count, -20.0)
    return Forecast(
        hours_at=tuple(start_at + timedelta(hours=h) for h in range(count)),
        air_c=np.full(count, 15.0),
        dew_point_c=dry,
        humidity_fraction=np.full(count, 0.1),
        wind_mps=none,
        gust_mps=none,
        wind_from_deg=np.full(count, np.nan),
        rain_chance_fraction=none,
        rain_m=none,
        issued_at=start_at,
    )


def hours_on(farm: Farm, on: date, cover_s: float, spread_s: float) -> Farm:
    """Return the farm with such hours stated for a date of which no forecast tells.

    The hours end when light or the crew end them, and begin so much earlier.
    """
    from duskline.answers.windows import day_windows

    calm = replace(farm, forecast=calm_hours(farm, on), forecast_issued_at=None, windows=())
    windows = day_windows(calm, on)
    opens_s = windows.spread_intervals_s[0][0]
    closes_s = max(windows.cover_closes_s.values())
    start_at = local_midnight_at(on, _zone(farm))

    def clock(elapsed_s: float) -> str:
        at = datetime.fromtimestamp(start_at.timestamp() + min(elapsed_s, 86_340.0), tz=_zone(farm))
        return f"{at:%H:%M}"

    closes_s += farm.rules.margin_s
    spread = (clock(max(opens_s, closes_s - spread_s)), clock(windows.spread_intervals_s[-1][1]))
    cover = (clock(max(opens_s, closes_s - cover_s)), clock(closes_s))
    return replace(
        farm,
        forecast=None,
        windows=(StatedWindow(on=on, spread=spread, cover=cover),),
    )


def _zone(farm: Farm) -> ZoneInfo:
    from zoneinfo import ZoneInfo

    return ZoneInfo(farm.time_zone)
