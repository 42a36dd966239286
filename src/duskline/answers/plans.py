"""How is each field of the day driven, and when is each load due?

Passes for every machine of the day, and the spreaders' day laid out load by load at average rates.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from math import cos, dist, pi, radians

from duskline.answers.day import DayAnswer
from duskline.answers.drive import FieldPlan, drive_field, spreading_wind
from duskline.core import day as balance
from duskline.core.errors import FieldTooNarrow
from duskline.core.farm import Farm, Field

__all__ = [
    "NO_SPREADING_M2",
    "FieldRun",
    "Fill",
    "LoadPart",
    "Pause",
    "SpreaderDay",
    "field_plans",
    "spreader_days",
    "way_out_m",
]

_CRUMB_KG = 1e-6
_CRUMB_M2 = 1e-3
_EARTH_M = 6.371e6
NO_SPREADING_M2 = 400.0
"""Under a tenth of an acre is no spreading."""


# --------------------------------------------------------------------------- passes


def field_plans(farm: Farm, answer: DayAnswer) -> dict[str, FieldPlan]:
    """Return how each field of the day is driven, by field name in the day's order.

    Each is left by the way out that lies nearest to the next. Fields without an outline, and
    those too narrow for a machine, are left out.

    Parameters
    ----------
    farm
        The farm folder.
    answer
        The day: which fields, which machines.
    """
    at_hand = {one.name: one for one in farm.spreaders}
    spreaders = [at_hand[name] for name, _ in answer.crew.spreaders]
    tools = {one.name: one for one in farm.cultivators}
    machines = [tools[name] for name, _ in answer.crew.covers]
    machines += [tools[name] for name, _, _ in answer.crew.takeovers]
    wind = spreading_wind(farm, answer.on, answer.windows)
    nouns = {one.name: one for one in farm.fields}
    today = [nouns[row.name] for row in answer.fields if nouns[row.name].outline is not None]
    plans = {}
    for at, noun in enumerate(today):
        following = today[at + 1] if at + 1 < len(today) else None
        with suppress(FieldTooNarrow):
            plans[noun.name] = drive_field(
                farm,
                noun,
                spreaders=spreaders,
                machines=machines,
                wind=wind,
                to_m=None if following is None else way_out_m(noun, following),
            )
    return plans


def way_out_m(field: Field, following: Field) -> tuple[float, float]:
    """Return where the machines leave a field for the next one, in the field's plane. [m]

    By the gate nearest to the next field; without gates, towards its middle.
    """
    lon_deg, lat_deg = field.plane_lonlat_deg or field.centre
    next_lon_deg, next_lat_deg = following.centre
    # Flat enough over a farm: only which way out is nearer is asked.
    metre_deg = 180.0 / (pi * _EARTH_M)
    towards_m = (
        (next_lon_deg - lon_deg) * cos(radians(lat_deg)) / metre_deg,
        (next_lat_deg - lat_deg) / metre_deg,
    )
    return min(field.gates_m, key=lambda gate_m: dist(gate_m, towards_m), default=towards_m)


# --------------------------------------------------------------------------- loads


@dataclass(frozen=True, kw_only=True, slots=True)
class Fill:
    """One filling of a hopper.

    Attributes
    ----------
    number
        Of this spreader's loads today, from 1.
    mass_kg
        Seed to put in. [kg]
    field, lot
        Where the spreader stands then, and the seed it takes.
    at
        When it runs empty and wants the seed truck, at average rates; None where the hopper is
        full before work opens, or was filled before now.
    clean_out
        Another lot or another customer was in the hopper before.
    """

    number: int
    mass_kg: float
    field: str
    lot: str
    at: datetime | None
    clean_out: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadPart:
    """What one load lays in one field. [kg], [m2]"""

    number: int
    mass_kg: float
    area_m2: float
    empties: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldRun:
    """One spreader's work in one field: about when, how much, from which loads."""

    field: str
    lot: str
    customer: str
    area_m2: float
    whole_area_m2: float
    rate_kg_per_m2: float
    from_at: datetime
    to_at: datetime
    parts: tuple[LoadPart, ...]

    @property
    def mass_kg(self) -> float:
        """Seed laid here. [kg]"""
        return sum(part.mass_kg for part in self.parts)

    @property
    def whole(self) -> bool:
        """Whether all that was left of the field is spread."""
        return self.area_m2 >= self.whole_area_m2 - 50.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Pause:
    """A time in which no seed flies: ``why`` is "fill", "move", "wait" or "closed"."""

    why: str
    from_at: datetime
    to_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class SpreaderDay:
    """One spreader's day at average rates.

    Attributes
    ----------
    spreader, driver
        Machine and person.
    fills
        Every load, the one in the hopper at the start included.
    runs
        Its fields in the order of work.
    pauses
        When no seed flies, and why.
    """

    spreader: str
    driver: str
    fills: tuple[Fill, ...]
    runs: tuple[FieldRun, ...]
    pauses: tuple[Pause, ...]


@dataclass(slots=True)
class _Hand:
    """One spreader while its day is laid out."""

    spreader: balance.Spreader
    clock_s: float
    seed_kg: float
    to_load_kg: float
    number: int
    first_kg: float
    place: int = -1
    rest_m2: float = 0.0
    kind: tuple[str, str] | None = None
    dirty: bool = False
    fills: list[Fill] = field(default_factory=list)
    pieces: list[tuple[int, int, float, float, float]] = field(default_factory=list)
    pauses: list[tuple[str, float, float]] = field(default_factory=list)


def spreader_days(
    farm: Farm, answer: DayAnswer, *, last_load_kg: float | None = None
) -> tuple[SpreaderDay, ...]:
    """Return each spreader's loads and fields, about when, at average rates.

    Every spreader takes the next field of the day when it is free, as the day's simulation has
    it, and spreads the seed that the answer gives it: so many full loads and one part load.

    Parameters
    ----------
    farm
        The farm folder.
    answer
        The day.
    last_load_kg
        The part load as the crew is told it, rounded down; None for the answer's own. [kg]

    Notes
    -----
    At average rates nothing breaks, so the last load runs out a little before the stop time.

    Source
    ------
    Derived here; tests/answers/test_plans.py lays the fluid curve of the day beside it.
    """
    task = answer.task
    kinds = [_kind(farm, one.name) for one in task.fields]
    part_kg = answer.last_load_kg if last_load_kg is None else last_load_kg
    part_kg = part_kg if answer.last_load_worth_filling else 0.0
    hands = [_hand(answer, index, part_kg) for index in range(len(task.spreaders))]
    trucks = [[task.start_s, truck.holds_kg] for truck in task.seed_trucks]
    queue = 0
    while hands_left := [hand for hand in hands if hand.clock_s < balance.FOREVER_S]:
        hand = min(hands_left, key=lambda one: one.clock_s)
        if hand.seed_kg <= _CRUMB_KG and hand.to_load_kg <= _CRUMB_KG:
            hand.clock_s = balance.FOREVER_S
        elif hand.rest_m2 <= _CRUMB_M2:
            queue = _next_field(task, hand, queue, kinds)
        elif hand.seed_kg <= _CRUMB_KG:
            _fill(answer, hand, trucks, kinds)
        else:
            _spread(task, hand)
    return tuple(_day(answer, kinds, hand) for hand in hands)


def _kind(farm: Farm, name: str) -> tuple[str, str]:
    """Return the lot and the customer of a field: two kinds never share a hopper."""
    noun = next(one for one in farm.fields if one.name == name)
    return farm.lot(noun.lot).name, noun.customer


def _hand(answer: DayAnswer, index: int, part_kg: float) -> _Hand:
    """Return a spreader at the start: what it carries and what it is still to be given."""
    task = answer.task
    spreader = task.spreaders[index]
    today_kg = answer.full_loads_count * spreader.hopper_kg + part_kg
    if answer.spread_area_m2 - task.spread_before_m2 < NO_SPREADING_M2:
        today_kg = 0.0
    share_m2 = task.spread_before_m2 / len(task.spreaders)
    used_kg = share_m2 * task.fields[0].rate_kg_per_m2
    left_kg = max(0.0, today_kg - used_kg)
    number = int(used_kg // spreader.hopper_kg) + 1
    if used_kg > 0.0:
        seed_kg = min(left_kg, number * spreader.hopper_kg - used_kg)
    else:
        seed_kg = min(left_kg, spreader.hopper_kg) if spreader.full_at_start else 0.0
    return _Hand(
        spreader=spreader,
        clock_s=task.start_s,
        seed_kg=seed_kg,
        to_load_kg=left_kg - seed_kg,
        number=number if seed_kg > 0.0 else number - 1,
        first_kg=today_kg - (number - 1) * spreader.hopper_kg,
    )


def _next_field(
    task: balance.DayTask, hand: _Hand, queue: int, kinds: list[tuple[str, str]]
) -> int:
    """Send the spreader to the next field; return the one after it."""
    if queue >= len(task.fields):
        hand.clock_s = balance.FOREVER_S
        return queue
    one, left_s = task.fields[queue], hand.clock_s
    if hand.place >= 0:
        hand.clock_s += one.move_s
        hand.pauses.append(("move", left_s, hand.clock_s))
    if one.ready_s > hand.clock_s:
        hand.pauses.append(("wait", hand.clock_s, one.ready_s))
        hand.clock_s = one.ready_s
    hand.dirty = hand.kind is not None and kinds[queue] != hand.kind
    hand.kind = kinds[queue]
    hand.place, hand.rest_m2 = queue, one.area_m2
    return queue + 1


def _fill(
    answer: DayAnswer, hand: _Hand, trucks: list[list[float]], kinds: list[tuple[str, str]]
) -> None:
    """Fill the hopper, waiting for a seed truck where the farm counts its rounds."""
    task, spreader, empty_s = answer.task, hand.spreader, hand.clock_s
    begin_s = empty_s
    if trucks:
        index = min(range(len(trucks)), key=lambda place: trucks[place][0])
        truck, noun = trucks[index], task.seed_trucks[index]
        begin_s = max(empty_s, truck[0])
        truck[1] -= spreader.hopper_kg
        truck[0] = begin_s + spreader.refill_s
        if truck[1] < spreader.hopper_kg:
            truck[0] += noun.turnaround_s
            truck[1] = noun.holds_kg
    hand.clock_s = begin_s + spreader.refill_s
    hand.pauses.append(("fill", empty_s, hand.clock_s))
    mass_kg = min(spreader.hopper_kg, hand.to_load_kg)
    hand.seed_kg, hand.to_load_kg = mass_kg, hand.to_load_kg - mass_kg
    hand.number += 1
    hand.fills.append(
        Fill(
            number=hand.number,
            mass_kg=mass_kg,
            field=task.fields[hand.place].name,
            lot=kinds[hand.place][0],
            at=answer.moment(empty_s),
            clean_out=hand.dirty,
        )
    )
    hand.dirty = False


def _spread(task: balance.DayTask, hand: _Hand) -> None:
    """Spread until the field, the hopper or the time in which spreading is allowed runs out."""
    spreader, rate = hand.spreader, task.fields[hand.place].rate_kg_per_m2
    span = _open_span(task, spreader, hand.clock_s)
    if span is None:
        hand.clock_s = balance.FOREVER_S
        return
    begin_s, end_s = span
    if begin_s > hand.clock_s:
        hand.pauses.append(("closed", hand.clock_s, begin_s))
    area_m2 = min(hand.rest_m2, hand.seed_kg / rate)
    area_m2 = min(area_m2, (end_s - begin_s) * spreader.moving_rate_m2_per_s)
    hand.clock_s = begin_s + area_m2 / spreader.moving_rate_m2_per_s
    hand.rest_m2 -= area_m2
    hand.seed_kg -= area_m2 * rate
    hand.pieces.append((hand.place, hand.number, area_m2, begin_s, hand.clock_s))


def _open_span(
    task: balance.DayTask, spreader: balance.Spreader, clock_s: float
) -> tuple[float, float] | None:
    """Return the next time the spreader may spread, known breakdowns taken out."""
    for opens_s, closes_s in task.spread_intervals:
        begin_s = max(clock_s, opens_s)
        end_s = closes_s
        for out_s, back_s in sorted(spreader.down):
            if out_s <= begin_s < back_s:
                begin_s = back_s
            elif begin_s < out_s < end_s:
                end_s = out_s
        if begin_s < end_s - 1e-6:
            return begin_s, end_s
    return None


def _day(answer: DayAnswer, kinds: list[tuple[str, str]], hand: _Hand) -> SpreaderDay:
    runs = [_run(answer, kinds, hand, place) for place in dict.fromkeys(p[0] for p in hand.pieces)]
    driver = next(name for machine, name in answer.crew.spreaders if machine == hand.spreader.name)
    fills = list(hand.fills)
    if runs and (not fills or fills[0].number > runs[0].parts[0].number):
        fills.insert(0, _first_fill(hand, runs[0]))
    return SpreaderDay(
        spreader=hand.spreader.name,
        driver=driver,
        fills=tuple(fills),
        runs=tuple(runs),
        pauses=tuple(
            Pause(why=why, from_at=answer.moment(a), to_at=answer.moment(b))
            for why, a, b in hand.pauses
        ),
    )


def _first_fill(hand: _Hand, first: FieldRun) -> Fill:
    """Return the load in the hopper at the start; before now its whole weight is told."""
    return Fill(
        number=first.parts[0].number,
        mass_kg=min(hand.spreader.hopper_kg, hand.first_kg),
        field=first.field,
        lot=first.lot,
        at=None,
        clean_out=False,
    )


def _run(answer: DayAnswer, kinds: list[tuple[str, str]], hand: _Hand, place: int) -> FieldRun:
    one = answer.task.fields[place]
    pieces = [piece for piece in hand.pieces if piece[0] == place]
    emptied = {fill.number - 1 for fill in hand.fills if fill.field == one.name}
    if place == hand.pieces[-1][0] and hand.seed_kg <= _CRUMB_KG:
        emptied.add(hand.number)
    parts = []
    for number in dict.fromkeys(piece[1] for piece in pieces):
        area_m2 = sum(piece[2] for piece in pieces if piece[1] == number)
        parts.append(
            LoadPart(
                number=number,
                mass_kg=area_m2 * one.rate_kg_per_m2,
                area_m2=area_m2,
                empties=number in emptied,
            )
        )
    return FieldRun(
        field=one.name,
        lot=kinds[place][0],
        customer=kinds[place][1],
        area_m2=sum(piece[2] for piece in pieces),
        whole_area_m2=one.area_m2,
        rate_kg_per_m2=one.rate_kg_per_m2,
        from_at=answer.moment(pieces[0][3]),
        to_at=answer.moment(pieces[-1][4]),
        parts=tuple(parts),
    )
