"""The nouns: farm, field, person, tractor, spreader, cultivator, lot, bin and the day's rules.

All figures in SI. Where a figure came from stands beside it in ``Farm.figures``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING, Literal

from duskline.core.checks import check_within

if TYPE_CHECKING:
    from duskline.core.log import Event
    from duskline.core.outline import Outline
    from duskline.core.season_weather import Climate
    from duskline.core.trays import TrayTest
    from duskline.core.weather import Forecast

__all__ = [
    "Acres",
    "Away",
    "Bin",
    "CrewNoun",
    "Cultivator",
    "DayRules",
    "Edge",
    "Farm",
    "Field",
    "Given",
    "Herbicide",
    "Insects",
    "LeftOut",
    "Lot",
    "Person",
    "PointRow",
    "Poke",
    "Prices",
    "Program",
    "RateWish",
    "Remembered",
    "SeasonRules",
    "SeedTruckNoun",
    "SpreaderNoun",
    "StatedWindow",
    "Tractor",
]


@dataclass(frozen=True, kw_only=True, slots=True)
class Given:
    """A figure and where it came from; ``low`` and ``high`` where it is a default with a range."""

    value: float
    unit: str
    source: str
    low: float | None = None
    high: float | None = None
    is_default: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Person:
    """Somebody of the crew, and what he or she may drive."""

    name: str
    age_years: int | None = None
    drives: tuple[str, ...] = ()
    language: Literal["en", "es"] = "en"
    role: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Tractor:
    """A tractor: power at the PTO, drive, guidance, lights, what it can pull, its list price."""

    name: str
    pto_power_w: float | None = None
    guided: bool = False
    lights: bool = False
    pulls: tuple[str, ...] = ()
    drive: Literal["2wd", "front assist", "4wd", "tracks"] | None = None
    list_price: float | None = None
    hours_s: float | None = None
    yearly_hours_s: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class SpreaderNoun:
    """A spinner spreader. ``efficiency_fraction`` is clock efficiency without refills.

    ``throw_m`` is how far seed flies to each side of the path, where the farm stated it;
    ``fuel_m3_per_m2`` what the farm's own tank says it burns.
    """

    name: str
    driving_width_m: float
    speed_mps: float
    efficiency_fraction: float
    load_kg: float | None
    hopper_m3: float | None
    refill_s: float
    driver: str | None = None
    tractor: str | None = None
    full_at_start: bool = True
    turning_radius_m: float = 6.5
    throw_m: float | None = None
    fuel_m3_per_m2: float | None = None
    list_price: float | None = None
    hours_s: float | None = None
    yearly_hours_s: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Cultivator:
    """A covering machine. ``overlap_m`` is what the driver laps over the last pass.

    ``reverses`` is whether its driver backs up in a turn; ``trailing_m`` how far the tool
    follows behind the tractor's turning point; ``fuel_m3_per_m2`` what the farm's own tank says.
    """

    name: str
    width_m: float
    overlap_m: float
    speed_mps: float
    efficiency_fraction: float
    by_eye: bool
    driver: str | None = None
    tractor: str | None = None
    turning_radius_m: float = 6.5
    closes_s: float | None = None
    reverses: bool = False
    trailing_m: float = 0.0
    shanks_count: int | None = None
    depth_m: float | None = None
    fuel_m3_per_m2: float | None = None
    list_price: float | None = None
    hours_s: float | None = None
    yearly_hours_s: float | None = None

    @property
    def working_width_m(self) -> float:
        """Width less overlap. [m]"""
        return self.width_m - self.overlap_m


@dataclass(frozen=True, kw_only=True, slots=True)
class SeedTruckNoun:
    """A seed truck, its driver, and its rounds where they are known."""

    name: str
    driver: str | None = None
    holds_kg: float | None = None
    turnaround_s: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Insects:
    """Live insects found in a sample."""

    weevils_count: int
    others_count: int
    sample_kg: float


@dataclass(frozen=True, kw_only=True, slots=True)
class RateWish:
    """How the rate of a lot is set: exactly one of the four, SI."""

    live_kg_per_m2: float | None = None
    bulk_kg_per_m2: float | None = None
    stand_per_m2: float | None = None
    emergence_fraction: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Lot:
    """A seed lot with its tests; a mix names its parts instead."""

    name: str
    species: str
    wish: RateWish
    alive_counts: tuple[int, ...] = ()
    tested_counts: tuple[int, ...] = ()
    purity_fraction: float | None = None
    hard_fraction: float = 0.0
    sample_masses_kg: tuple[float, ...] = ()
    sample_counts: tuple[int, ...] = ()
    density_kg_per_m3: float | None = None
    bushel_kg: float | None = None
    parts: tuple[str, ...] = ()
    trays: str | None = None
    variety: str = ""
    origin: str = ""
    tested_on: date | None = None
    treated: bool = False
    price_per_kg: float | None = None
    cleaning_per_kg: float | None = None
    agreed_by: str = ""
    agreed_on: date | None = None
    insects: Insects | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Bin:
    """Seed on hand: a measured bin, or a weighed heap (``mass_kg``)."""

    lot: str
    mass_kg: float | None = None
    diameter_m: float | None = None
    depth_m: float | None = None
    heap_m: float = 0.0
    pack_fraction: float = 0.0
    cleaning_loss_fraction: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Edge:
    """An edge of a field that matters to what lies beyond it.

    ``side`` is a compass word; ``off_m`` a strip along it that takes no seed, where the farm
    set one.
    """

    side: str
    kind: str
    note: str = ""
    off_m: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftOut:
    """Ground of a field that is not worked: a wet hole, a rock pile, a stand of trees.

    Attributes
    ----------
    what
        In the farmer's word.
    area_m2
        How much; from ``ring_lonlat_deg`` where a ring was drawn. [m2]
    centre_lonlat_deg, ring_lonlat_deg
        Where it lies, as a point or as a ring of (longitude, latitude); None where only its
        size is known. [deg]
    come_back
        Whether it is to be done later, when it dries.
    """

    field: str
    what: str
    area_m2: float
    centre_lonlat_deg: tuple[float, float] | None = None
    ring_lonlat_deg: tuple[tuple[float, float], ...] | None = None
    come_back: bool = True
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Acres:
    """A field's three areas, kept side by side and never altered. [m2]

    ``outline_m2`` is measured in the outline, ``driven_m2`` what a driver's track or monitor
    said, ``office_m2`` what the agency has on file.
    """

    outline_m2: float
    driven_m2: float | None = None
    office_m2: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Herbicide:
    """A product on the field whose label sets a waiting time."""

    name: str
    applied_on: date
    interval_days: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Field:
    """One field. ``area_m2`` is on the ellipsoid; ``centre`` is (longitude, latitude).

    ``drive_outline`` is the outline less the left-out ground whose place is known; None where
    there is none of it. ``plane_lonlat_deg`` is where on earth the outline's plane has its zero,
    ``gates_m`` the gates in that plane. [deg], [m]

    ``ready_early_at`` and ``ready_late_at`` are when the harvest leaves the field if all goes
    well and if it does not; None where only ``ready_at`` is stated. ``due_on`` is its own last
    day; None where the season's holds. ``may_split`` is whether it may be sown on several days or
    by several crews. Its lateness costs ``priority`` times the season's price.
    """

    name: str
    area_m2: float
    centre: tuple[float, float]
    outline: Outline | None = None
    ready_at: datetime | None = None
    lot: str | None = None
    customer: str = ""
    previous_crop: str = ""
    farm_no: str = ""
    tract_no: str = ""
    field_no: str = ""
    notes: str = ""
    edges: tuple[Edge, ...] = ()
    erodible: bool = False
    not_after_rain: bool = False
    herbicides: tuple[Herbicide, ...] = ()
    gates_lonlat_deg: tuple[tuple[float, float], ...] = ()
    driven_area_m2: float | None = None
    office_area_m2: float | None = None
    slope_fraction: float | None = None
    downhill_to: str | None = None
    left_out: tuple[LeftOut, ...] = ()
    drive_outline: Outline | None = None
    plane_lonlat_deg: tuple[float, float] | None = None
    gates_m: tuple[tuple[float, float], ...] = ()
    ready_early_at: datetime | None = None
    ready_late_at: datetime | None = None
    due_on: date | None = None
    may_split: bool = True
    priority: float = 1.0

    @property
    def ground(self) -> Outline | None:
        """The outline to drive: with the left-out ground that has a place cut out of it."""
        return self.drive_outline or self.outline

    @property
    def acres(self) -> Acres:
        """Outline, driven and office area side by side."""
        return Acres(
            outline_m2=self.area_m2, driven_m2=self.driven_area_m2, office_m2=self.office_area_m2
        )

    @property
    def left_out_m2(self) -> float:
        """Ground left out, all of it together. [m2]"""
        return sum(one.area_m2 for one in self.left_out)

    @property
    def record_area_m2(self) -> float:
        """What may be put on the record: the outline less what is left out. [m2]"""
        return self.area_m2 - self.left_out_m2


@dataclass(frozen=True, kw_only=True, slots=True)
class PointRow:
    """Points of one row of shanks, as measured: how much is worn since they were new.

    Attributes
    ----------
    cultivator, row
        Which machine, and the farmer's word for the row ("front", "behind the wheels").
    points_count
        How many points the row has.
    worn_m
        What each measured point has lost of its length, one figure a point. [m]
    over_m2
        What the machine has worked since they were new. [m2]
    limit_m
        The wear at which they are swapped. [m]
    """

    cultivator: str
    row: str
    points_count: int
    worn_m: tuple[float, ...]
    over_m2: float
    limit_m: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Poke:
    """Seeding depths poked behind one cultivator, front and rear rows, one figure a poke. [m]"""

    cultivator: str
    front_m: tuple[float, ...]
    rear_m: tuple[float, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Prices:
    """What things cost on this farm, in one currency; None where not stated.

    Attributes
    ----------
    fuel_per_m3, labour_per_s, point_each
        Fuel, a person's time, one point.
    labour_s
        Person-time of the whole job as the farmer counts it; None to take it from the plan. [s]
    points_count, points_over_m2
        How many points the farm uses over how much ground; None to take it from wear. [m2]
    fuel_m3_per_m2
        All fuel of the job over its ground, from the farm's own tank.
    custom_per_m2
        What hiring it done would cost, where the farmer has an offer.
    ownership
        Whether the cost of owning the machines is asked for.
    interest_fraction
        Yearly interest for it.
    """

    currency: str = "USD"
    fuel_per_m3: float | None = None
    labour_per_s: float | None = None
    point_each: float | None = None
    labour_s: float | None = None
    points_count: int | None = None
    points_over_m2: float | None = None
    fuel_m3_per_m2: float | None = None
    custom_per_m2: float | None = None
    ownership: bool = False
    interest_fraction: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Program:
    """The rules of the agency's program, as the farmer read them off his contract."""

    name: str = ""
    live_floor_kg_per_m2: float | None = None
    method: str = ""
    sow_by: date | None = None
    tillage: Literal["allowed", "not allowed", "ask"] = "ask"
    fly_free_date: date | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class StatedWindow:
    """Hours that the crew states for one date; they win over derived ones. Clock times."""

    on: date
    spread: tuple[str, str] | None = None
    cover: tuple[str, str] | None = None
    closed: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Remembered:
    """A day the farmer remembers: so much covered between these times with these machines."""

    area_m2: float
    span_s: float
    cultivators: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class DayRules:
    """The rules of a day on this farm. Spans in seconds, chances as fractions."""

    lead_s: float
    changeover_s: float
    sure_fraction: float
    margin_s: float
    wind_limit_mps: float
    gust_limit_mps: float | None
    start_clock: str | None
    move_s: float | None
    road_speed_mps: float
    fold_s: float
    turn_angle_rad: float
    order: tuple[str, ...] = ()
    home_before_dark: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonRules:
    """The rules of the season on this farm; money in the farm's currency, called USD.

    Attributes
    ----------
    first_on, last_on
        First and last day of the season; None where the farm named none.
    due_on
        The last day all should be sown by: the farm's, else the program's; None: no deadline.
    days_off, weekly_off
        Dates and weekdays (0 Monday to 6 Sunday) on which nobody works.
    late_usd_per_m2, late_usd_per_m2_day
        Lost where sown after the due day: once, and for each day after it.
    waiting_usd_per_m2_day
        What a day of waiting costs where the ground is ready.
    unsown_usd_per_m2
        Lost where it is not sown at all.
    stability_usd
        What moving one stop to another day or crew must save at least.
    """

    first_on: date | None = None
    last_on: date | None = None
    due_on: date | None = None
    days_off: tuple[date, ...] = ()
    weekly_off: tuple[int, ...] = ()
    late_usd_per_m2: float = 0.0
    late_usd_per_m2_day: float = 0.0
    waiting_usd_per_m2_day: float = 0.0
    unsown_usd_per_m2: float = 0.0
    stability_usd: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a last day before the first, weekdays that are none and losses below zero."""
        if self.first_on is not None and self.last_on is not None:
            days = (self.last_on - self.first_on).days + 1
            check_within("days of the season", days, 1, math.inf)
        for weekday in self.weekly_off:
            check_within("weekday", weekday, 0, 6)
        for name in (
            "late_usd_per_m2",
            "late_usd_per_m2_day",
            "waiting_usd_per_m2_day",
            "unsown_usd_per_m2",
            "stability_usd",
        ):
            check_within(name, getattr(self, name), 0.0, math.inf)

    def works_on(self, on: date) -> bool:
        """Say whether anybody works on a date at all."""
        return on not in self.days_off and on.weekday() not in self.weekly_off


@dataclass(frozen=True, kw_only=True, slots=True)
class CrewNoun:
    """A crew of the farm: machines that work together, and the seed trucks that feed them."""

    name: str
    machines: tuple[str, ...]
    seed_trucks: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Away:
    """A person, tractor, machine, seed truck or crew that is not there; both days inclusive."""

    who: str
    from_on: date
    to_on: date
    why: str = ""

    def on(self, day: date) -> bool:
        """Say whether it is away on that date."""
        return self.from_on <= day <= self.to_on


@dataclass(frozen=True, kw_only=True, slots=True)
class Farm:
    """A whole farm folder, read and converted.

    Attributes
    ----------
    figures
        Where each figure came from, by its place ("spreader.Spreader.speed", "day.lead").
    defaults
        The table of defaults in SI, by key; what the figures above did not state.
    renamed
        Names machines had before, to the ones they have now; the log may have either.
    told, log
        The events as they were told, and those of them that count, each with its area.
    crews
        Empty where the farm named none: all machines are one crew.
    climate
        What falls are like, for days the forecast does not reach: the farm's table, else the
        defaults. None only where a farm is not read from a folder.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    time_zone: str
    system: Literal["us", "metric"]
    country: str
    emergency_location: str
    emergency_phone: str
    people: tuple[Person, ...]
    tractors: tuple[Tractor, ...]
    spreaders: tuple[SpreaderNoun, ...]
    cultivators: tuple[Cultivator, ...]
    seed_trucks: tuple[SeedTruckNoun, ...]
    lots: tuple[Lot, ...]
    bins: tuple[Bin, ...]
    fields: tuple[Field, ...]
    program: Program
    windows: tuple[StatedWindow, ...]
    remembered: tuple[Remembered, ...]
    rules: DayRules
    forecast: Forecast | None = None
    forecast_issued_at: datetime | None = None
    trays: Mapping[str, TrayTest] = field(default_factory=dict)
    renamed: Mapping[str, str] = field(default_factory=dict)
    told: tuple[Event, ...] = ()
    log: tuple[Event, ...] = ()
    figures: Mapping[str, Given] = field(default_factory=dict)
    defaults: Mapping[str, Given] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    prices: Prices = field(default_factory=Prices)
    point_rows: tuple[PointRow, ...] = ()
    pokes: tuple[Poke, ...] = ()
    season: SeasonRules = field(default_factory=SeasonRules)
    crews: tuple[CrewNoun, ...] = ()
    away: tuple[Away, ...] = ()
    climate: Climate | None = None

    def lot(self, name: str | None) -> Lot:
        """Return the lot of that name; the first whole lot where none is named."""
        mixed = {part for lot in self.lots for part in lot.parts}
        for candidate in self.lots:
            if candidate.name == name or (name is None and candidate.name not in mixed):
                return candidate
        return self.lots[0]
