"""The nouns of the season: fields, lots, days, crews and prices in; visits, cost and schedule out.

Used through `duskline.core.season`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange

__all__ = [
    "Change",
    "CrewDay",
    "CrewHours",
    "Effort",
    "Place",
    "Ready",
    "Schedule",
    "SeasonCost",
    "SeasonCrew",
    "SeasonDay",
    "SeasonField",
    "SeasonLot",
    "SeasonPrices",
    "SeasonTask",
    "Visit",
    "When",
]

Place = tuple[float, float]
When = Literal["early", "likely", "late"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Ready:
    """From when a field may be sown: the harvest decides, so early, likely and late.

    Attributes
    ----------
    early_day, likely_day, late_day
        Day numbers, as in ``SeasonDay.day``.
    after_s
        On that day, this much after the crew's opening. [s]
    """

    early_day: int = 0
    likely_day: int = 0
    late_day: int = 0
    after_s: float = 0.0

    def __post_init__(self) -> None:
        """Refuse early after likely after late."""
        check_within("likely ready day", self.likely_day, self.early_day, self.late_day)
        check_within("ready after the opening", self.after_s, 0.0, math.inf)

    def on(self, when: When) -> int:
        """Return the day number, seen hopefully, likely or carefully."""
        return {"early": self.early_day, "likely": self.likely_day, "late": self.late_day}[when]


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonField:
    """A field, or what is left of it.

    Attributes
    ----------
    place_m
        x, y on the same plane as all other places. [m]
    rate_kg_per_m2, lot
        What is sown; a lot not among the task's lots has no end of seed.
    ready, due_day
        First day it may be sown, last day it should be; None: no deadline.
    splittable
        May be sown on several days, or by several crews.
    least_part_m2
        No part is smaller than this, nor than a fiftieth of the field; a smaller field is sown
        whole or left out.
    not_after_rain
        Not on a day marked as after rain (a wet bottom).
    priority
        Its waiting, lateness and being left out cost this many times the price.
    """

    name: str
    area_m2: float
    place_m: Place = (0.0, 0.0)
    lot: str = ""
    rate_kg_per_m2: float = 0.0
    ready: Ready = field(default_factory=Ready)
    due_day: int | None = None
    splittable: bool = True
    least_part_m2: float = 0.0
    not_after_rain: bool = False
    priority: float = 1.0
    customer: str = ""

    def __post_init__(self) -> None:
        """Refuse a field without area or with an impossible rate or priority."""
        check_positive(f"area of {self.name}", self.area_m2)
        check_positive(f"priority of {self.name}", self.priority)
        check_within(f"seed rate on {self.name}", self.rate_kg_per_m2, 0.0, math.inf)
        check_within(f"least part of {self.name}", self.least_part_m2, 0.0, math.inf)


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonLot:
    """A seed lot: what the bin holds, and where it stands."""

    name: str
    stock_kg: float = math.inf
    place_m: Place | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class CrewHours:
    """What one crew can do on one day, from the day balance at the wanted sureness.

    Attributes
    ----------
    area_m2
        Sown and covered in one field at the typical seed rate, without a move. [m2]
    lost_m2_per_s
        Area lost for each second spent on a move, a visit or a clean-out: how fast ``area_m2``
        falls as the window shrinks. [m2/s]
    paid
        The crew's day is paid whether or not there is work: it costs nothing more to go out.
    """

    area_m2: float
    lost_m2_per_s: float
    paid: bool = False

    def __post_init__(self) -> None:
        """Refuse less than nothing, and a rate that is no rate."""
        check_within("a crew's area in a day", self.area_m2, 0.0, math.inf)
        check_positive("area lost for each second", self.lost_m2_per_s)


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonDay:
    """One day: its number, each crew's hours by name (missing: off), and whether it is wet."""

    day: int
    crews: Mapping[str, CrewHours]
    after_rain: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonCrew:
    """A crew with its machines.

    Attributes
    ----------
    lot_pace
        How much longer than the typical a square metre of a lot takes, by lot name; 1 if not
        named (a heavier rate means more loads). Fractions above 0.
    visit_s
        Each field: opening it up, headland set-up. [s]
    fold_s
        Each move between fields: fold, unfold, gates. [s]
    road_speed_mps
        On the road; an infinite speed leaves the flat ``fold_s`` alone.
    clean_out_s
        Emptying and cleaning between two lots. [s]
    start_m
        Where it sets out each day; None: the way to the first field lies before the opening and
        the way home after the close, so neither counts.
    starts_early
        It sets out early enough to begin at the opening: the way from ``start_m`` to the day's
        first field costs money, there and home again, and no working time.
    truck_load_kg, truck_speed_mps, truck_turn_s
        Seed truck: what all trucks together bring, how fast they go to the lot's bin and back,
        loading there. None: seed is never waited for.
    spread_s_per_m2, cover_s_per_m2
        For the order of fields in a day with flat moves; None: not asked.
    """

    name: str
    lot_pace: Mapping[str, float] = field(default_factory=dict)
    visit_s: float = 0.0
    fold_s: float = 0.0
    road_speed_mps: float = math.inf
    clean_out_s: float = 0.0
    start_m: Place | None = None
    starts_early: bool = False
    truck_load_kg: float | None = None
    truck_speed_mps: float = math.inf
    truck_turn_s: float = 0.0
    spread_s_per_m2: float | None = None
    cover_s_per_m2: float | None = None

    def __post_init__(self) -> None:
        """Refuse times below zero and speeds at zero."""
        for name, value in (
            ("visit", self.visit_s),
            ("fold and unfold", self.fold_s),
            ("clean-out", self.clean_out_s),
            ("truck turn", self.truck_turn_s),
        ):
            check_within(f"{name} of {self.name}", value, 0.0, math.inf)
        for name, value in (
            *((f"pace of {self.name} on {lot}", pace) for lot, pace in self.lot_pace.items()),
            (f"road speed of {self.name}", self.road_speed_mps),
            (f"truck speed of {self.name}", self.truck_speed_mps),
        ):
            if not value > 0.0:
                raise OutOfRange(name, value, 0.0)
        if self.truck_load_kg is not None:
            check_positive(f"truck load of {self.name}", self.truck_load_kg)


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonPrices:
    """What everything but bare seed costs; money in one currency, called USD.

    Attributes
    ----------
    wait_usd_per_m2_day
        Each square metre for each day it waits after it is ready.
    late_usd_per_m2, late_usd_per_m2_day
        Sown after the due day: once, and for each day after it.
    unplaced_usd_per_m2
        Not sown at all in these days.
    travel_usd_per_m
        Each metre the crew drives on the road.
    haul_usd_per_m
        Each metre the seed truck drives between bin and field.
    visit_usd, clean_out_usd, crew_day_usd
        Each visit to a field, each clean-out within a day, each day a crew goes out.
    """

    wait_usd_per_m2_day: float = 0.0
    late_usd_per_m2: float = 0.0
    late_usd_per_m2_day: float = 0.0
    unplaced_usd_per_m2: float
    travel_usd_per_m: float = 0.0
    haul_usd_per_m: float = 0.0
    visit_usd: float = 0.0
    clean_out_usd: float = 0.0
    crew_day_usd: float = 0.0

    def __post_init__(self) -> None:
        """Refuse prices below zero."""
        for name in (
            "wait_usd_per_m2_day",
            "late_usd_per_m2",
            "late_usd_per_m2_day",
            "unplaced_usd_per_m2",
            "travel_usd_per_m",
            "haul_usd_per_m",
            "visit_usd",
            "clean_out_usd",
            "crew_day_usd",
        ):
            check_within(name, getattr(self, name), 0.0, math.inf)


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonTask:
    """Everything the season needs.

    Attributes
    ----------
    hoppers
        The lot each crew's spreader holds now, by crew name; only flags the first clean-out.
    ready
        Whether fields come ready as early, as likely or as late as they may.
    road_factor
        Road distance over straight distance.
    """

    fields: tuple[SeasonField, ...]
    days: tuple[SeasonDay, ...]
    crews: tuple[SeasonCrew, ...]
    prices: SeasonPrices
    lots: tuple[SeasonLot, ...] = ()
    hoppers: Mapping[str, str] = field(default_factory=dict)
    ready: When = "likely"
    road_factor: float = 1.0

    def __post_init__(self) -> None:
        """Refuse two of one name, and hours of a crew that is not there."""
        check_within("road over straight distance", self.road_factor, 1.0, math.inf)
        for what, names in (
            ("fields", [f.name for f in self.fields]),
            ("crews", [c.name for c in self.crews]),
            ("lots", [lot.name for lot in self.lots]),
            ("days", [str(d.day) for d in self.days]),
        ):
            if len(set(names)) < len(names):
                raise OutOfRange(f"{what} of one name", len(names) - len(set(names)), 0, 0)
        if any(a.day >= b.day for a, b in zip(self.days, self.days[1:], strict=False)):
            raise OutOfRange("days out of order", 1, 0, 0)
        known = {crew.name for crew in self.crews}
        for day in self.days:
            for name in day.crews:
                if name not in known:
                    raise OutOfRange(f"hours of unknown crew {name}", 1, 0, 0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Visit:
    """One stop of a crew's day.

    Attributes
    ----------
    clean_out
        The spreader must be emptied and cleaned before this field: another lot was in it.
    starts_s, takes_s
        Working time after the crew's opening, and its length with the visit's own set-up. [s]
    travel_m
        On the road from the stop before. [m]
    """

    field: str
    area_m2: float
    lot: str
    clean_out: bool
    starts_s: float
    takes_s: float
    travel_m: float


@dataclass(frozen=True, kw_only=True, slots=True)
class CrewDay:
    """What one crew does on one day, of how much working time."""

    day: int
    crew: str
    visits: tuple[Visit, ...]
    used_s: float
    budget_s: float

    @property
    def area_m2(self) -> float:
        """Sown and covered. [m2]"""
        return sum(visit.area_m2 for visit in self.visits)


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonCost:
    """The cost in its parts.

    ``idle_usd`` is for paid days of crews with nothing to do, ``upset_usd`` the price of changing
    yesterday's plan.
    """

    wait_usd: float = 0.0
    late_usd: float = 0.0
    unplaced_usd: float = 0.0
    travel_usd: float = 0.0
    haul_usd: float = 0.0
    visits_usd: float = 0.0
    clean_outs_usd: float = 0.0
    crew_days_usd: float = 0.0
    idle_usd: float = 0.0
    upset_usd: float = 0.0

    @property
    def total_usd(self) -> float:
        """All parts together."""
        return math.fsum(getattr(self, name) for name in self.__dataclass_fields__)


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """What is different from the plan before, and why.

    Attributes
    ----------
    what
        "moved" (to another day or crew), "new", "gone" (the field is no longer there), "left out"
        (no longer placed) or "area" (the same day and crew, another area).
    why
        "new field", "field gone", "crew off", "not ready", "after rain", "shorter day",
        "longer day", "field changed", "makes room" (follows from another change).
    before, after
        (day, crew, area) of each stop before and now.
    """

    field: str
    what: str
    why: str
    before: tuple[tuple[int, str, float], ...]
    after: tuple[tuple[int, str, float], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Schedule:
    """Days and crews with their visits, what is left out, the cost and the bound beside it.

    Attributes
    ----------
    crew_days
        Each crew's day with hours, in order of days, then crews as given; idle days too.
    unplaced_m2
        What is left of fields not (wholly) placed, by name.
    finish_days
        Last day of each field that is wholly placed, by name.
    bound_usd
        No schedule of this task costs less.
    """

    crew_days: tuple[CrewDay, ...]
    unplaced_m2: Mapping[str, float]
    finish_days: Mapping[str, int]
    cost: SeasonCost
    bound_usd: float
    changes: tuple[Change, ...] = ()
    task: SeasonTask

    @property
    def gap_usd(self) -> float:
        """How much a better schedule could save at most."""
        return max(0.0, self.cost.total_usd - self.bound_usd)

    @property
    def gap_fraction(self) -> float:
        """The same as a share of the cost; 0 where nothing costs anything."""
        total = self.cost.total_usd
        return self.gap_usd / total if total > 0.0 else 0.0

    @property
    def finish_day(self) -> int | None:
        """The day on which the last field is done; None if any is left out."""
        if self.unplaced_m2 or not self.finish_days:
            return None
        return max(self.finish_days.values())

    def stops(self) -> dict[str, dict[tuple[int, str], float]]:
        """Return for each field the area by (day, crew). [m2]"""
        stops: dict[str, dict[tuple[int, str], float]] = {}
        for one in self.crew_days:
            for visit in one.visits:
                at = stops.setdefault(visit.field, {})
                at[one.day, one.crew] = at.get((one.day, one.crew), 0.0) + visit.area_m2
        return stops


@dataclass(frozen=True, kw_only=True, slots=True)
class Effort:
    """How hard to look, in steps and never in seconds, so that the answer is always the same.

    Attributes
    ----------
    rounds
        Of taking fields out and placing them again, for each search from a plan made of the
        bound's days; where none is made, half of them at first and half then.
    price_rounds
        Of the bound: times that prices are moved at most.
    dives
        Plans made of the days that the bound is made of.
    windows
        Of a few crew-days, planned anew to the best.
    nodes
        Of the model of whole numbers, for small seasons only; 0: not at all.
    branches
        Questions asked of the bound, each with its two answers (is this field sown on that
        day, or not).
    """

    rounds: int
    price_rounds: int
    nodes: int
    branches: int
    dives: int = 0
    windows: int = 0

    @classmethod
    def for_size(cls, *, fields: int, slots: int) -> Effort:
        """Return what ends within a minute on an ordinary laptop.

        Source
        ------
        Our judgement, from benchmarks/season.py.
        """
        pairs = fields * slots
        if pairs <= 250:
            return cls(rounds=40_000, price_rounds=100, nodes=2_000, branches=60, dives=4)
        if pairs <= 3_000:
            return cls(rounds=250_000, price_rounds=100, nodes=0, branches=60, dives=8, windows=30)
        if pairs <= 40_000:
            return cls(rounds=250_000, price_rounds=60, nodes=0, branches=0, dives=4)
        return cls(rounds=105_000, price_rounds=0, nodes=0, branches=0)
