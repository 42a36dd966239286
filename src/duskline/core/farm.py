"""The nouns: farm, field, person, tractor, spreader, cultivator, lot, bin and the day's rules.

All figures in SI. Where a figure came from stands beside it in ``Farm.figures``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from duskline.core.log import Event
    from duskline.core.outline import Outline
    from duskline.core.trays import TrayTest
    from duskline.core.weather import Forecast

__all__ = [
    "Bin",
    "Cultivator",
    "DayRules",
    "Edge",
    "Farm",
    "Field",
    "Given",
    "Herbicide",
    "Insects",
    "Lot",
    "Person",
    "Program",
    "RateWish",
    "Remembered",
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
    """A tractor: power at the PTO, guidance, lights, and what it can pull."""

    name: str
    pto_power_w: float | None = None
    guided: bool = False
    lights: bool = False
    pulls: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class SpreaderNoun:
    """A spinner spreader. ``efficiency_fraction`` is clock efficiency without refills."""

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


@dataclass(frozen=True, kw_only=True, slots=True)
class Cultivator:
    """A covering machine. ``overlap_m`` is what the driver laps over the last pass."""

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
    """An edge of a field that matters to what lies beyond it."""

    side: str
    kind: str
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Herbicide:
    """A product on the field whose label sets a waiting time."""

    name: str
    applied_on: date
    interval_days: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Field:
    """One field. ``area_m2`` is on the ellipsoid; ``centre`` is (longitude, latitude)."""

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
class Farm:
    """A whole farm folder, read and converted.

    Attributes
    ----------
    figures
        Where each figure came from, by its place ("spreader.Spreader.speed", "day.lead").
    defaults
        The table of defaults in SI, by key; what the figures above did not state.
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
    log: tuple[Event, ...] = ()
    figures: Mapping[str, Given] = field(default_factory=dict)
    defaults: Mapping[str, Given] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def lot(self, name: str | None) -> Lot:
        """Return the lot of that name; the first whole lot where none is named."""
        mixed = {part for lot in self.lots for part in lot.parts}
        for candidate in self.lots:
            if candidate.name == name or (name is None and candidate.name not in mixed):
                return candidate
        return self.lots[0]
