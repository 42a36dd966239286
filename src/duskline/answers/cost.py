"""What does an acre sown and covered cost on this farm, in parts, and can the tractors pull it?

A part that nobody stated a price for is None and named as missing, never guessed; the total is
then of the stated parts. All money is in the farm's one currency, for a square metre.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import Enum
from typing import Literal

from duskline.answers.machines import cover_rate_m2_per_s, moving_rate_m2_per_s
from duskline.answers.seed import lot_rate_kg_per_m2, spreader_load_kg
from duskline.answers.working import Figure, Step
from duskline.core.checks import check_positive
from duskline.core.cost import (
    Part,
    cleaning_per_m2,
    owning_per_s,
    repairs_per_s,
    total_of,
)
from duskline.core.farm import Cultivator, Farm, Given, Lot, SpreaderNoun, Tractor
from duskline.core.fuel import fuel_m3_per_m2, fuel_m3_per_s, throttle_saving_fraction
from duskline.core.machine import (
    DraftRow,
    Match,
    Power,
    draft_n,
    drawbar_power_w,
    match_tractor,
    pto_power_w,
    tools_across_count,
)

__all__ = [
    "CostAnswer",
    "Custom",
    "Lack",
    "Missing",
    "Note",
    "PartKey",
    "ToolMatch",
    "cost_answer",
    "tool_matches",
]

FARM = "farm.toml"
WORKED_OUT = "worked out here"
ONE_HOUR_S = 3600.0
THROTTLE_CUT = 0.2
SMALL_TRACTOR_W = 80 * 745.6998715822702
LARGE_TRACTOR_W = 150 * 745.6998715822702
CUSTOM_CURRENCY = "USD"
CUSTOM_ROWS = ("custom_field_cultivator", "custom_broadcast")
Machine = SpreaderNoun | Cultivator
Lack = Literal[
    "seed price",
    "cleaning price",
    "fuel price",
    "labour price",
    "point price",
    "points used",
    "hours",
    "list price",
    "hours a year",
    "power",
]
"""What may be missing; the faces write it out."""


class PartKey(Enum):
    """The parts of a cost, in the order in which they are told."""

    SEED = "seed"
    CLEANING = "cleaning"
    FUEL = "fuel"
    LABOUR = "labour"
    POINTS = "points"
    REPAIRS = "repairs"
    OWNERSHIP = "ownership"


OF_SEED = (PartKey.SEED, PartKey.CLEANING)


class Note(Enum):
    """What a reader must know about the total; the faces write the sentence."""

    OWN_SEED = "own-bin seed charged at your price"
    OWNERSHIP_NOT_COUNTED = "machine ownership not counted"
    REPAIRS_NOT_COUNTED = "repairs not counted"
    REPAIRS_PARTLY = "repairs only of machines with a list price"
    OWNERSHIP_BARE = "taxes, insurance and shed not in ownership"
    FUEL_ASSUMED = "fuel from book figures"
    SEAT_TIME_ONLY = "labour is time in the seat only"
    LABOUR_FROM_PLAN = "labour from the plan's hours"
    CLEANING_LOSS_ASSUMED = "cleaning loss assumed"
    POINTS_FROM_WEAR = "points from their wear"
    LEFT_OUT = "ground left out is not in the area"


@dataclass(frozen=True, kw_only=True, slots=True)
class Missing:
    """A price or figure that was not stated: of which part, what, and of which thing."""

    part: PartKey
    what: Lack
    name: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Custom:
    """What hiring the work done costs, as published or offered; ``key`` is its default row.

    ``per_m2`` holds fuel, labour and machine, no seed. [money/m2]
    """

    key: str
    per_m2: Figure


@dataclass(frozen=True, kw_only=True, slots=True)
class ToolMatch:
    """A covering tool on its tractor: power needed and there, and fuel by the part-load line.

    Attributes
    ----------
    assumed
        What was not stated and is a default: "shanks", "depth", "drive", "soil".
    fuel_m3_per_m2
        Fuel of the pass itself, turns left out; None where the tractor lacks the power. [m3/m2]
    throttle_saving_fraction
        What one gear up at a fifth less engine speed would save; None where the load is too
        high for it. Fraction.
    """

    machine: str
    tractor: str
    match: Match
    assumed: tuple[str, ...]
    fuel_m3_per_m2: float | None
    throttle_saving_fraction: float | None
    working: tuple[Step, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class CostAnswer:
    """The cost of the whole farm's sowing for each area, in parts.

    Attributes
    ----------
    parts
        Each part in money per square metre with where it came from; None where a price is
        missing. Repairs and ownership only where they are asked for.
    total
        Sum of the stated parts. [money/m2]
    work
        The same without seed and its cleaning: what compares with hiring. [money/m2]
    currency
        Code of three letters.
    area_m2
        Ground that is sown and covered. [m2]
    """

    parts: Mapping[PartKey, Figure | None]
    total: Figure
    work: Figure
    currency: str
    area_m2: float
    notes: tuple[Note, ...]
    missing: tuple[Missing, ...]
    custom: tuple[Custom, ...]
    matches: tuple[ToolMatch, ...]
    working: tuple[Step, ...]

    @property
    def whole(self) -> bool:
        """Whether nothing that was asked for is missing from the total."""
        return not self.missing


@dataclass(slots=True)
class _Book:
    """What comes together while the parts are worked out, one after the other."""

    currency: str
    area_m2: float
    parts: dict[PartKey, Figure | None]
    costs: dict[PartKey, Part]
    notes: list[Note]
    missing: list[Missing]
    working: list[Step]

    def unit(self, per: str) -> str:
        return f"{self.currency}/{per}"

    def money(self, name: str, part: Part, per: str, source: str) -> Figure:
        return Figure(
            name=name,
            value=part.value,
            unit=self.unit(per),
            source=source,
            low=part.low if part.has_range else None,
            high=part.high if part.has_range else None,
        )

    def lacks(self, key: PartKey, what: Lack, name: str = "") -> None:
        self.missing.append(Missing(part=key, what=what, name=name))

    def put(
        self,
        key: PartKey,
        part: Part,
        *,
        source: str,
        formula: str,
        inputs: tuple[Figure, ...],
    ) -> None:
        figure = self.money(key.value, part, "m2", source)
        self.parts[key] = figure
        self.costs[key] = part
        self.working.append(
            Step(title=f"Cost of {key.value}", formula=formula, inputs=inputs, result=figure)
        )

    def sum_of(self, name: str, skip: tuple[PartKey, ...] = ()) -> Figure:
        whole = total_of(part for key, part in self.costs.items() if key not in skip)
        return self.money(name, whole, "m2", WORKED_OUT)


def cost_answer(farm: Farm, *, labour_s: float | None = None) -> CostAnswer:
    """Return what sowing and covering costs for each area, in parts.

    Parameters
    ----------
    farm
        The farm with its prices.
    labour_s
        Person-time of the whole job by the plan; the farmer's own count wins over it. Without
        either, the time in the seats at the machines' own rates is taken and called that. [s]

    Raises
    ------
    OutOfRange
        No ground to work, or a figure that cannot be true.
    """
    area = sum(field.record_area_m2 for field in farm.fields)
    check_positive("area", area)
    book = _Book(
        currency=farm.prices.currency,
        area_m2=area,
        parts=dict.fromkeys(key for key in PartKey if key not in _machine_parts(farm)),
        costs={},
        notes=[],
        missing=[],
        working=[],
    )
    _seed(farm, book)
    _cleaning(farm, book)
    _fuel(farm, book)
    _labour(farm, book, labour_s)
    _points(farm, book)
    _repairs(farm, book)
    _ownership(farm, book)
    if any(field.left_out for field in farm.fields):
        book.notes.append(Note.LEFT_OUT)
    total = book.sum_of("total")
    work = book.sum_of("work, without seed", skip=OF_SEED)
    stated = tuple(figure for figure in book.parts.values() if figure is not None)
    book.working.append(
        Step(title="Cost in all", formula="sum of the parts", inputs=stated, result=total)
    )
    matches = tool_matches(farm)
    return CostAnswer(
        parts=book.parts,
        total=total,
        work=work,
        currency=book.currency,
        area_m2=area,
        notes=tuple(dict.fromkeys(book.notes)),
        missing=tuple(dict.fromkeys(book.missing)),
        custom=_custom(farm, book),
        matches=matches,
        working=(*book.working, *(step for match in matches for step in match.working)),
    )


def _machine_parts(farm: Farm) -> tuple[PartKey, ...]:
    """Return the parts that are not asked for: no list price, no wish to count owning."""
    left = []
    things: tuple[Machine | Tractor, ...] = (*farm.spreaders, *farm.cultivators, *farm.tractors)
    if not any(thing.list_price for thing in things):
        left.append(PartKey.REPAIRS)
    if not farm.prices.ownership:
        left.append(PartKey.OWNERSHIP)
    return tuple(left)


# --------------------------------------------------------------------------- seed


def _sown(farm: Farm) -> list[tuple[Lot, float, float]]:
    """Return each plain lot with its own rate [kg/m2] and the ground it is sown on [m2]."""
    found: dict[str, tuple[Lot, float, float]] = {}
    for field in farm.fields:
        lot = farm.lot(field.lot)
        for part in tuple(farm.lot(name) for name in lot.parts) or (lot,):
            if part.name not in found:
                found[part.name] = (part, lot_rate_kg_per_m2(farm, part), 0.0)
            _, rate, ground = found[part.name]
            found[part.name] = (part, rate, ground + field.record_area_m2)
    return list(found.values())


def _rate_figure(lot: Lot, rate: float) -> Figure:
    return Figure(name=f"rate of {lot.name}", value=rate, unit="kg/m2", source="the lot's rate")


def _ground_figure(lot: Lot, ground: float) -> Figure:
    return Figure(name=f"ground sown with {lot.name}", value=ground, unit="m2", source="fields")


def _seed(farm: Farm, book: _Book) -> None:
    """Rate sown times price, over the ground of each lot."""
    total, inputs = 0.0, []
    for lot, rate, ground in _sown(farm):
        if lot.price_per_kg is None:
            book.lacks(PartKey.SEED, "seed price", lot.name)
            continue
        if any(stock.lot == lot.name for stock in farm.bins):
            book.notes.append(Note.OWN_SEED)
        total += rate * lot.price_per_kg * ground / book.area_m2
        inputs += [
            _rate_figure(lot, rate),
            _ground_figure(lot, ground),
            book.money(f"price of {lot.name}", Part.exact(lot.price_per_kg), "kg", FARM),
        ]
    if not _lacking(book, PartKey.SEED):
        book.put(
            PartKey.SEED,
            Part.exact(total),
            source=FARM,
            formula="rate sown x price, over the ground of each lot",
            inputs=tuple(inputs),
        )


def _cleaning(farm: Farm, book: _Book) -> None:
    """Mass run through the cleaner times price; seed without a bin is taken as bought clean."""
    parts, inputs, source = [], [], "no bin of it here: taken as bought clean"
    for lot, rate, ground in _sown(farm):
        own = tuple(stock for stock in farm.bins if stock.lot == lot.name)
        if lot.cleaning_per_kg is None:
            if own:
                book.lacks(PartKey.CLEANING, "cleaning price", lot.name)
            continue
        loss = _cleaning_loss(farm, lot.name)
        price, source = lot.cleaning_per_kg, FARM
        if loss.is_default:
            book.notes.append(Note.CLEANING_LOSS_ASSUMED)

        def charged(
            share: float, rate: float = rate, price: float = price, ground: float = ground
        ) -> float:
            each = cleaning_per_m2(sown_kg_per_m2=rate, loss_fraction=share, price_per_kg_run=price)
            return each * ground / book.area_m2

        low, value, high = (charged(share) for share in _ends(loss))
        parts.append(Part(value=value, low=low, high=high))
        inputs += [
            _rate_figure(lot, rate),
            _ground_figure(lot, ground),
            _given(f"cleaning loss of {lot.name}", loss),
            book.money(f"cleaning of {lot.name}", Part.exact(price), "kg", FARM),
        ]
    if not _lacking(book, PartKey.CLEANING):
        book.put(
            PartKey.CLEANING,
            _together(parts),
            source=source,
            formula="rate sown / (1 - cleaning loss) x price of each mass run",
            inputs=tuple(inputs),
        )


def _cleaning_loss(farm: Farm, lot: str) -> Given:
    """Return the loss of a lot's bins, the mean of several; the default where it has no bin."""
    losses = [stock.cleaning_loss_fraction for stock in farm.bins if stock.lot == lot]
    if not losses:
        return farm.defaults["cleaning_loss"]
    stated = farm.figures.get(f"bin.{lot}.cleaning_loss")
    if stated is not None and len(losses) == 1:
        return stated
    return Given(value=sum(losses) / len(losses), unit="fraction", source=FARM)


# --------------------------------------------------------------------------- fuel, labour, points


def _shares(rates: Mapping[str, float]) -> dict[str, float]:
    """Return which share of the ground each machine works when all of them run together."""
    whole = sum(rates.values())
    return {name: rate / whole for name, rate in rates.items()}


def _cover_rates(farm: Farm) -> dict[str, float]:
    return {c.name: cover_rate_m2_per_s(farm, c).value for c in farm.cultivators}


def _spread_rates(farm: Farm) -> dict[str, float]:
    """Return each spreader's area per time with its refills, at the farm's mean rate. [m2/s]"""
    sown = sum(rate * ground for _, rate, ground in _sown(farm))
    mean = sown / sum(field.record_area_m2 for field in farm.fields)
    rates = {}
    for spreader in farm.spreaders:
        load_m2 = spreader_load_kg(farm, spreader, farm.fields[0].lot) / mean
        load_s = load_m2 / moving_rate_m2_per_s(spreader) + spreader.refill_s
        rates[spreader.name] = load_m2 / load_s
    return rates


def _burnt(
    farm: Farm, book: _Book, machines: tuple[Machine, ...], shares: Mapping[str, float], key: str
) -> tuple[Part, list[Figure]]:
    """Return the fuel of machines that share the ground. [m3/m2]"""
    default = farm.defaults[key]
    own, assumed, figures = 0.0, 0.0, []
    for machine in machines:
        if machine.fuel_m3_per_m2 is not None:
            own += shares[machine.name] * machine.fuel_m3_per_m2
            figures.append(
                Figure(
                    name=f"fuel of {machine.name}",
                    value=machine.fuel_m3_per_m2,
                    unit="m3/m2",
                    source="the farm's own tank",
                )
            )
        else:
            assumed += shares[machine.name]
            figures.append(_given(f"fuel of {machine.name}", default, unit="m3/m2"))
    if assumed:
        book.notes.append(Note.FUEL_ASSUMED)
    # The machines of one kind share one default: it is wrong for all of them together.
    low, value, high = (own + assumed * end for end in _ends(default))
    return Part(value=value, low=low, high=high), figures


def _fuel(farm: Farm, book: _Book) -> None:
    """Fuel of the whole job by the farm's own tank, else of spreader and cultivators."""
    price = farm.prices.fuel_per_m3
    if price is None:
        book.lacks(PartKey.FUEL, "fuel price")
        return
    tank = farm.prices.fuel_m3_per_m2
    if tank is not None:
        used = Part.exact(tank)
        source = "the farm's own tank"
        figures = [Figure(name="fuel used", value=tank, unit="m3/m2", source=source)]
    else:
        spread, spread_figures = _burnt(
            farm, book, farm.spreaders, _shares(_spread_rates(farm)), "spreader_fuel"
        )
        cover, cover_figures = _burnt(
            farm, book, farm.cultivators, _shares(_cover_rates(farm)), "cultivator_fuel"
        )
        used, figures = total_of((spread, cover)), spread_figures + cover_figures
        source = "; ".join(dict.fromkeys(figure.source for figure in figures))
    book.put(
        PartKey.FUEL,
        used.times(price),
        source=source,
        formula="fuel for the area x price",
        inputs=(*figures, book.money("price of fuel", Part.exact(price), "m3", FARM)),
    )


def _labour(farm: Farm, book: _Book, planned_s: float | None) -> None:
    """Person-time the farmer counted, else of the plan, else in the seats; times its price."""
    price = farm.prices.labour_per_s
    if price is None:
        book.lacks(PartKey.LABOUR, "labour price")
        return
    if farm.prices.labour_s is not None:
        span, source = Part.exact(farm.prices.labour_s), FARM
    elif planned_s is not None:
        check_positive("labour of the plan", planned_s)
        span, source = Part.exact(planned_s), "the plan's hours"
        book.notes.append(Note.LABOUR_FROM_PLAN)
    else:
        span, source = _seat_time(farm).times(book.area_m2), "the machines' own rates"
        book.notes.append(Note.SEAT_TIME_ONLY)
    book.put(
        PartKey.LABOUR,
        span.times(price / book.area_m2),
        source=source,
        formula="person-time x its price / ground",
        inputs=(
            Figure(
                name="person-time",
                value=span.value,
                unit="s",
                source=source,
                low=span.low if span.has_range else None,
                high=span.high if span.has_range else None,
            ),
            book.money("price of labour", Part.exact(price), "s", FARM),
            Figure(name="ground", value=book.area_m2, unit="m2", source="fields"),
        ),
    )


def _seat_time(farm: Farm) -> Part:
    """Return drivers' time for each area when all machines of a kind run together. [s/m2]"""
    spread = len(farm.spreaders) / sum(_spread_rates(farm).values())
    rates = [cover_rate_m2_per_s(farm, machine) for machine in farm.cultivators]
    slow = sum(r.value * (r.low or r.efficiency_fraction) / r.efficiency_fraction for r in rates)
    fast = sum(r.value * (r.high or r.efficiency_fraction) / r.efficiency_fraction for r in rates)
    return Part(
        value=spread + len(rates) / sum(rate.value for rate in rates),
        low=spread + len(rates) / fast,
        high=spread + len(rates) / slow,
    )


def _points(farm: Farm, book: _Book) -> None:
    """Points the farm uses up over its ground, else as fast as they wear; times the price."""
    price = farm.prices.point_each
    used, figures, source = _points_used(farm, book)
    if price is None:
        book.lacks(PartKey.POINTS, "point price")
    if used is None:
        book.lacks(PartKey.POINTS, "points used")
    if price is None or used is None:
        return
    book.put(
        PartKey.POINTS,
        used.times(price),
        source=source,
        formula="points used up / ground x price of one",
        inputs=(*figures, book.money("price of one point", Part.exact(price), "point", FARM)),
    )


def _points_used(farm: Farm, book: _Book) -> tuple[Part | None, list[Figure], str]:
    """Return how many points an area uses up, from the farm's count or from measured wear."""
    count, over = farm.prices.points_count, farm.prices.points_over_m2
    if count is not None and over is not None:
        figures = [
            Figure(name="points used", value=float(count), unit="count", source=FARM),
            Figure(name="over", value=over, unit="m2", source=FARM),
        ]
        return Part.exact(count / over), figures, FARM
    worn = _points_by_wear(farm)
    if not worn:
        return None, [], ""
    book.notes.append(Note.POINTS_FROM_WEAR)
    shares = _shares({name: rate for name, rate in _cover_rates(farm).items() if name in worn})
    used = total_of(worn[name].times(share) for name, share in shares.items())
    source = f"wear measured on {', '.join(worn)}"
    figures = [
        Figure(
            name=f"points of {name} used up",
            value=part.value,
            unit="point/m2",
            source="worn / limit of every row over its ground",
            low=part.low if part.has_range else None,
            high=part.high if part.has_range else None,
        )
        for name, part in worn.items()
    ]
    return used, figures, source


def _points_by_wear(farm: Farm) -> dict[str, Part]:
    """Return points used up for each area by machine, over its rows that have a limit. [1/m2]"""
    rows: dict[str, list[Part]] = {}
    for row in farm.point_rows:
        if row.limit_m is None or not row.worn_m or row.over_m2 <= 0.0:
            continue
        whole = row.points_count / row.limit_m / row.over_m2
        rows.setdefault(row.cultivator, []).append(
            Part(
                value=whole * sum(row.worn_m) / len(row.worn_m),
                low=whole * min(row.worn_m),
                high=whole * max(row.worn_m),
            )
        )
    known = {machine.name for machine in farm.cultivators}
    return {name: total_of(parts) for name, parts in rows.items() if name in known}


# --------------------------------------------------------------------------- repairs, owning


def _tractor_of(farm: Farm, machine: Machine) -> Tractor | None:
    """Return the tractor that pulls a machine: the one it names, else one that lists it."""
    for tractor in farm.tractors:
        if machine.tractor == tractor.name:
            return tractor
    if machine.tractor is None:
        for tractor in farm.tractors:
            if machine.name in tractor.pulls:
                return tractor
    return None


def _time_of_each(farm: Farm) -> list[tuple[Machine | Tractor, float]]:
    """Return every machine and tractor with its time of use for each area of the farm. [s/m2]"""
    found: dict[str, tuple[Machine | Tractor, float]] = {}
    kinds: tuple[tuple[tuple[Machine, ...], dict[str, float]], ...] = (
        (farm.spreaders, _spread_rates(farm)),
        (farm.cultivators, _cover_rates(farm)),
    )
    for machines, rates in kinds:
        # Running together, each is at work as long as the others: the same time for each area.
        each = 1.0 / sum(rates.values())
        for machine in machines:
            found[f"machine {machine.name}"] = (machine, each)
            tractor = _tractor_of(farm, machine)
            if tractor is not None:
                _, before = found.get(f"tractor {tractor.name}", (tractor, 0.0))
                found[f"tractor {tractor.name}"] = (tractor, before + each)
    return list(found.values())


def _repair_row(farm: Farm, thing: Machine | Tractor) -> tuple[float, float]:
    if isinstance(thing, Tractor):
        key = "tractor_4wd" if thing.drive in {"4wd", "tracks"} else "tractor_2wd"
    else:
        key = "spreader" if isinstance(thing, SpreaderNoun) else "field_cultivator"
    return (
        farm.defaults[f"repair_rf1_{key}"].value,
        farm.defaults[f"repair_rf2_{key}"].value,
    )


def _repairs(farm: Farm, book: _Book) -> None:
    """Repairs of the machines that have a list price, at their age."""
    if PartKey.REPAIRS not in book.parts:
        book.notes.append(Note.REPAIRS_NOT_COUNTED)
        return
    total, inputs = 0.0, []
    for thing, time in _time_of_each(farm):
        if thing.list_price is None:
            book.notes.append(Note.REPAIRS_PARTLY)
            continue
        if thing.hours_s is None:
            book.lacks(PartKey.REPAIRS, "hours", thing.name)
            continue
        rf1, rf2 = _repair_row(farm, thing)
        each = repairs_per_s(
            list_price=thing.list_price,
            used_s=thing.hours_s,
            coming_s=thing.yearly_hours_s or ONE_HOUR_S,
            rf1=rf1,
            rf2=rf2,
        )
        total += each * time
        inputs += _priced(book, thing, "repairs", each)
    if inputs:
        book.put(
            PartKey.REPAIRS,
            Part.exact(total),
            source="list price and hours; repair law of ASAE D497",
            formula="list price x RF1 ((h + year) ^ RF2 - h ^ RF2) / year x time for the area",
            inputs=tuple(inputs),
        )


def _priced(book: _Book, thing: Machine | Tractor, what: str, per_s: float) -> list[Figure]:
    yearly = thing.yearly_hours_s
    return [
        Figure(
            name=f"list price of {thing.name}",
            value=thing.list_price or 0.0,
            unit=book.currency,
            source=FARM,
        ),
        Figure(name=f"hours of {thing.name}", value=thing.hours_s or 0.0, unit="s", source=FARM),
        Figure(
            name=f"hours a year of {thing.name}",
            value="not stated; the next hour" if yearly is None else yearly,
            unit="s",
            source=FARM,
        ),
        book.money(f"{what} of {thing.name}", Part.exact(per_s), "s", WORKED_OUT),
    ]


def _remaining_key(thing: Machine | Tractor) -> str | None:
    """Return the row of the remaining-value table; None for a tractor of unknown power."""
    if isinstance(thing, Cultivator):
        return "tillage"
    if isinstance(thing, SpreaderNoun):
        return "other"
    if thing.pto_power_w is None:
        return None
    if thing.pto_power_w < SMALL_TRACTOR_W - 1.0:
        return "tractor_small"
    return "tractor_middle" if thing.pto_power_w < LARGE_TRACTOR_W - 1.0 else "tractor_large"


def _ownership(farm: Farm, book: _Book) -> None:
    """What owning the machines costs for their time on this job; only where it is asked for."""
    if PartKey.OWNERSHIP not in book.parts:
        book.notes.append(Note.OWNERSHIP_NOT_COUNTED)
        return
    book.notes.append(Note.OWNERSHIP_BARE)
    stated = farm.prices.interest_fraction
    interest = (
        farm.defaults["interest"]
        if stated is None
        else Given(value=stated, unit="fraction", source=FARM)
    )
    parts, inputs = [], [_given("interest", interest)]
    for thing, time in _time_of_each(farm):
        row = _remaining_key(thing)
        absent: dict[Lack, float | str | None] = {
            "list price": thing.list_price,
            "hours": thing.hours_s,
            "hours a year": thing.yearly_hours_s,
            "power": row,
        }
        lacking = [what for what, value in absent.items() if value is None]
        for what in lacking:
            book.lacks(PartKey.OWNERSHIP, what, thing.name)
        if lacking or thing.list_price is None or row is None:
            continue
        low, value, high = (_owning_per_s(farm, thing, row, rate) for rate in _ends(interest))
        parts.append(Part(value=value, low=low, high=high).times(time))
        inputs += _priced(book, thing, "owning", value)
    if parts:
        # One interest for all of them: they err together.
        book.put(
            PartKey.OWNERSHIP,
            _together(parts),
            source="list price and hours; remaining value of ASAE D497",
            formula="(value now - value in a year) + interest x value now, over its hours a year",
            inputs=tuple(inputs),
        )


def _owning_per_s(farm: Farm, thing: Machine | Tractor, row: str, interest: float) -> float:
    c1, c2, c3 = (farm.defaults[f"remaining_c{index}_{row}"].value for index in (1, 2, 3))
    return owning_per_s(
        list_price=thing.list_price or 0.0,
        used_s=thing.hours_s or 0.0,
        yearly_s=thing.yearly_hours_s or 0.0,
        interest_fraction=interest,
        c1=c1,
        c2=c2,
        c3=c3,
    )


# --------------------------------------------------------------------------- hiring, tractors


def _custom(farm: Farm, book: _Book) -> tuple[Custom, ...]:
    """Return what hiring costs: the farmer's own offer, then surveys in the farm's currency."""
    found = []
    offer = farm.prices.custom_per_m2
    if offer is not None:
        figure = book.money("hired, as offered", Part.exact(offer), "m2", FARM)
        found.append(Custom(key="offer", per_m2=figure))
    if farm.prices.currency != CUSTOM_CURRENCY:
        return tuple(found)
    for key in CUSTOM_ROWS:
        row = farm.defaults[key]
        low, value, high = _ends(row)
        figure = book.money(key, Part(value=value, low=low, high=high), "m2", row.source)
        found.append(Custom(key=key, per_m2=figure))
    return tuple(found)


def tool_matches(farm: Farm) -> tuple[ToolMatch, ...]:
    """Return for every covering machine whether its tractor has the power for it.

    Machines without a tractor, or whose tractor's power is not stated, are left out.
    """
    pairs = ((machine, _tractor_of(farm, machine)) for machine in farm.cultivators)
    return tuple(
        _tool_match(farm, machine, tractor, tractor.pto_power_w)
        for machine, tractor in pairs
        if tractor is not None and tractor.pto_power_w is not None
    )


def _tool_match(farm: Farm, machine: Cultivator, tractor: Tractor, has_w: float) -> ToolMatch:
    """Work a tool's need out in worked ground; ground not worked since harvest is its high side."""
    table = farm.defaults
    worked, unworked = _draft_rows(farm)
    soil = table["soil_fineness_field_cultivator"]
    traction = _traction(farm, tractor)
    spacing = table["shank_spacing"]
    shanks = machine.shanks_count or tools_across_count(
        width_m=machine.width_m, spacing_m=spacing.value
    )
    depth = (
        table["cultivator_depth"]
        if machine.depth_m is None
        else Given(value=machine.depth_m, unit="m", source=FARM)
    )

    def pull(row: DraftRow) -> float:
        return draft_n(
            row=row,
            soil_factor=soil.value,
            tools=float(shanks),
            depth_m=depth.value,
            speed_mps=machine.speed_mps,
        )

    low_row, typical_row, _ = worked
    draft = pull(typical_row)
    drawbar = drawbar_power_w(draft_n=draft, speed_mps=machine.speed_mps)
    need = pto_power_w(drawbar_w=drawbar, traction_fraction=traction.value)
    factors = [
        (pull(low_row) / draft, max(pull(worked[2]), pull(unworked)) / draft),
        _factors(soil),
        _factors(traction, upside_down=True),
        _factors(depth),
    ]
    if machine.shanks_count is None:
        factors.append(_factors(spacing, upside_down=True))
    needed = Power.from_factors(need, *factors)
    match = match_tractor(
        needed=needed, pto_power_w=has_w, comfortable_fraction=table["power_comfortable"].value
    )
    share = match.share_fraction
    fuel = saving = None
    if share <= 1.0:
        fuel = fuel_m3_per_m2(
            fuel_m3_per_s=fuel_m3_per_s(pto_power_w=has_w, share_fraction=share),
            work_rate_m2_per_s=machine.working_width_m * machine.speed_mps,
        )
        if share < table["throttle_down_below"].value:
            saving = throttle_saving_fraction(share_fraction=share, speed_cut_fraction=THROTTLE_CUT)
    step = Step(
        title=f"Power for {machine.name} on {tractor.name}",
        formula="soil x (A + B x speed) x shanks x depth x speed / traction",
        inputs=(
            Figure(
                name="shanks",
                value=float(shanks),
                unit="count",
                source=FARM if machine.shanks_count else f"width / spacing, {spacing.source}",
            ),
            _given("depth", depth, unit="depth"),
            Figure(
                name="speed",
                value=machine.speed_mps,
                unit="m/s",
                source=farm.figures[f"cultivator.{machine.name}.speed"].source,
            ),
            _given("soil", soil),
            _given("drawbar share of PTO power", traction),
            Figure(
                name="pull at the drawbar",
                value=draft,
                unit="N",
                source=table["draft_a_field_cultivator_secondary"].source,
            ),
        ),
        result=Figure(
            name="PTO power needed",
            value=needed.typical_w,
            unit="W",
            source=WORKED_OUT,
            low=needed.low_w,
            high=needed.high_w,
        ),
    )
    steps = [step]
    if fuel is not None:
        steps.append(
            Step(
                title=f"Fuel of {tractor.name} pulling {machine.name}",
                formula="burnt at that share of the power / (working width x speed)",
                inputs=(
                    Figure(
                        name="share of the power", value=share, unit="fraction", source=WORKED_OUT
                    ),
                    Figure(name="PTO power", value=has_w, unit="W", source=FARM),
                    Figure(
                        name="working width",
                        value=machine.working_width_m,
                        unit="m",
                        source=FARM,
                    ),
                ),
                result=Figure(
                    name="fuel while pulling", value=fuel, unit="m3/m2", source=WORKED_OUT
                ),
            )
        )
    stated = {
        "shanks": machine.shanks_count is not None,
        "depth": machine.depth_m is not None,
        "drive": tractor.drive is not None,
        "soil": False,
    }
    return ToolMatch(
        machine=machine.name,
        tractor=tractor.name,
        match=match,
        assumed=tuple(what for what, known in stated.items() if not known),
        fuel_m3_per_m2=fuel,
        throttle_saving_fraction=saving,
        working=tuple(steps),
    )


def _traction(farm: Farm, tractor: Tractor) -> Given:
    """Return the drawbar share of a tractor's PTO power; of unknown drive, anything from 2wd up."""
    table = farm.defaults
    if tractor.drive is not None:
        return table[f"traction_{tractor.drive.replace(' ', '_')}"]
    return replace(
        table["traction_front_assist"],
        low=table["traction_2wd"].low,
        high=table["traction_tracks"].high,
    )


def _draft_rows(farm: Farm) -> tuple[tuple[DraftRow, DraftRow, DraftRow], DraftRow]:
    """Return the rows of worked ground (low, typical, high) and of ground not worked yet."""
    a = farm.defaults["draft_a_field_cultivator_secondary"]
    b = farm.defaults["draft_b_field_cultivator_secondary"]
    c = farm.defaults["draft_c_field_cultivator"].value
    low, typical, high = (
        DraftRow(a=at, b=bt, c=c) for at, bt in zip(_ends(a), _ends(b), strict=True)
    )
    unworked = DraftRow(
        a=farm.defaults["draft_a_field_cultivator_primary"].value,
        b=farm.defaults["draft_b_field_cultivator_primary"].value,
        c=c,
    )
    return (low, typical, high), unworked


# --------------------------------------------------------------------------- helpers


def _lacking(book: _Book, key: PartKey) -> bool:
    return any(one.part is key for one in book.missing)


def _together(parts: Iterable[Part]) -> Part:
    """Return the sum of parts that share one doubt and so err together: lows with lows."""
    held = tuple(parts)
    return Part(
        value=sum(part.value for part in held),
        low=sum(part.low for part in held),
        high=sum(part.high for part in held),
    )


def _ends(given: Given) -> tuple[float, float, float]:
    """Return low, value and high of a figure; the value itself where it has no range."""
    low = given.value if given.low is None else given.low
    return low, given.value, given.value if given.high is None else given.high


def _factors(given: Given, *, upside_down: bool = False) -> tuple[float, float]:
    """Return what the low and high end make of something in proportion to a figure.

    ``upside_down`` is for something in inverse proportion to it.
    """
    low, value, high = _ends(given)
    return (value / high, value / low) if upside_down else (low / value, high / value)


def _given(name: str, given: Given, *, unit: str | None = None) -> Figure:
    return Figure(
        name=name,
        value=given.value,
        unit=given.unit if unit is None else unit,
        source=given.source,
        low=given.low,
        high=given.high,
    )
