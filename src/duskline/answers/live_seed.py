"""What the loads say of the gate, and how far the seed left reaches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from duskline.answers.day import DayAnswer
from duskline.answers.live_now import Now
from duskline.answers.seed import lot_rate_kg_per_m2, seed_answer, spreader_load_kg
from duskline.core.bin import SeedLeft, seed_left
from duskline.core.errors import DusklineError, OutOfRange
from duskline.core.farm import Farm, Lot
from duskline.core.flow import FirstLoad, first_load
from duskline.core.log import ELSEWHERE, Event, Settled

__all__ = ["LoadCheck", "SeedNow", "load_checks", "seed_now"]

LEAST_AREA_M2 = 50.0
"""Less ground than this is no load's: it checks nothing."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadCheck:
    """One load run out today: what it should have done, and what it did.

    Attributes
    ----------
    number
        Which load of that spreader today, from 1.
    mass_kg, area_m2, planned_area_m2
        What went in, the area it did, and the area it does at the planned rate.
    found
        What that says of the gate.
    together
        The same of all its loads so far, which the weather of one load cannot fool.
    """

    spreader: str
    lot: str
    number: int
    at: datetime
    mass_kg: float
    area_m2: float
    planned_area_m2: float
    found: FirstLoad
    together: FirstLoad


@dataclass(frozen=True, kw_only=True, slots=True)
class SeedNow:
    """What is left of one lot, and where it runs out.

    Attributes
    ----------
    used_kg, mass_kg
        Spread so far, carried on to now, and left. [kg]
    laid_over_planned
        What the checked loads laid over the planned rate; 1 with none checked.
    needed_kg
        What the fields not yet sown take at the rate that is laid. [kg]
    left
        The area it still does, put right or not.
    runs_out_in, runs_out_at, short_m2
        The field it runs out in and about when, if that is today; "" where it reaches. What
        stays unsown. [m2]
    """

    lot: str
    used_kg: float
    mass_kg: float
    laid_over_planned: float
    needed_kg: float
    left: SeedLeft
    runs_out_in: str
    runs_out_at: datetime | None
    short_m2: float

    @property
    def enough(self) -> bool:
        """Whether it reaches at the rate that is laid."""
        return not self.runs_out_in


def load_checks(
    farm: Farm, settled: Settled, *, start_at: datetime, now_at: datetime
) -> tuple[LoadCheck, ...]:
    """Return every load of today whose area was told, in order of time.

    The area is the one told with the load; else what was told as spread since the load before.
    Loads without either are not checked: an area worked out from the planned rate cannot
    check it.
    """
    counts = [
        event
        for event in settled.all_events
        if event.id not in settled.not_counted and start_at <= event.at <= now_at
    ]
    found: list[LoadCheck] = []
    for spreader in farm.spreaders:
        number, checked, since_m2, mass_sum, area_sum = 0, 0, 0.0, 0.0, 0.0
        for event in counts:
            if event.machine != spreader.name:
                continue
            if event.what == "spread":
                since_m2 += event.area_m2 or 0.0
            if event.what != "load":
                continue
            number += 1
            area = event.area_m2 if event.area_m2 is not None else since_m2
            since_m2 = 0.0
            lot = _lot_of(farm, event.field)
            mass = event.mass_kg or _load_kg(farm, spreader.name, lot)
            if area < LEAST_AREA_M2 or not mass:
                continue
            checked, mass_sum, area_sum = checked + 1, mass_sum + mass, area_sum + area
            one, so_far = (mass, area), (mass_sum, area_sum)
            check = _check(farm, event, lot, number, checked, one, so_far)
            if check is not None:
                found.append(check)
    return tuple(sorted(found, key=lambda one: (one.at, one.spreader, one.number)))


def _lot_of(farm: Farm, field: str) -> Lot:
    return farm.lot(next((one.lot for one in farm.fields if one.name == field), None))


def _load_kg(farm: Farm, spreader: str, lot: Lot) -> float | None:
    try:
        return spreader_load_kg(
            farm, next(s for s in farm.spreaders if s.name == spreader), lot.name
        )
    except DusklineError:
        return None


def _check(
    farm: Farm,
    event: Event,
    lot: Lot,
    number: int,
    checked: int,
    one: tuple[float, float],
    all_so_far: tuple[float, float],
) -> LoadCheck | None:
    """Return what a load says; None where its figures cannot be."""
    weight = farm.defaults["load_weight_within"].value
    ground = farm.defaults["load_area_within"].value

    def says(mass_kg: float, area_m2: float, loads: int) -> FirstLoad:
        # Readings of several loads err each by itself, so that together they err less.
        share = loads**-0.5
        return first_load(
            load_kg=mass_kg,
            area_m2=area_m2,
            planned_kg_per_m2=planned,
            load_within_kg=mass_kg * weight * share,
            area_within_m2=area_m2 * ground * share,
        )

    try:
        planned = lot_rate_kg_per_m2(farm, lot)
        return LoadCheck(
            spreader=event.machine,
            lot=lot.name,
            number=number,
            at=event.at,
            mass_kg=one[0],
            area_m2=one[1],
            planned_area_m2=one[0] / planned,
            found=says(*one, 1),
            together=says(*all_so_far, checked),
        )
    except OutOfRange:
        return None


def seed_now(
    farm: Farm,
    now: Now,
    checks: Sequence[LoadCheck],
    day: DayAnswer | None,
    *,
    lost_m2: Mapping[str, float] | None = None,
) -> tuple[SeedNow, ...]:
    """Return what is left of every lot that is in a bin, and where it runs out.

    Parameters
    ----------
    lost_m2
        Ground left out after it was spread, by field: it took its seed all the same. [m2]

    Notes
    -----
    The seed on hand of the farm folder is what there was before the first telling of the log.
    """
    try:
        answer = seed_answer(farm)
    except DusklineError:
        return ()
    held = {one.bin.lot: one.bin.mass_kg for one in answer.lots if one.bin is not None}
    return tuple(
        _seed_of(farm, now, name, mass_kg, checks, day, lost_m2 or {})
        for name, mass_kg in sorted(held.items())
    )


def _seed_of(
    farm: Farm,
    now: Now,
    name: str,
    mass_kg: float,
    checks: Sequence[LoadCheck],
    day: DayAnswer | None,
    lost_m2: Mapping[str, float],
) -> SeedNow:
    rates = _rates_of(farm, name)
    if len({farm.lot(one.lot).name for one in farm.fields}) == 1:
        # Ground that loads must have reached, nobody has said where, took of the only lot.
        rates[ELSEWHERE] = next(iter(rates.values()), 0.0)
    mine = [check for check in checks if _draws_on(farm.lot(check.lot), name)]
    laid = 1.0
    if mine:
        planned_kg = sum(c.area_m2 * c.found.planned_kg_per_m2 for c in mine)
        laid = sum(c.mass_kg for c in mine) / planned_kg
    used = laid * sum(
        (one.spread_m2 + lost_m2.get(one.field, 0.0)) * rates.get(one.field, 0.0)
        for one in now.ground
    )
    left_kg = max(0.0, mass_kg - used)
    rest = _left_in_order(farm, now, rates, day)
    field, short = _runs_out(left_kg, rest, rates, laid)
    per_m2 = next(iter(rates.values()), 0.0)
    return SeedNow(
        lot=name,
        used_kg=used,
        mass_kg=left_kg,
        laid_over_planned=laid,
        needed_kg=laid * sum(area * rates[one] for one, area in rest),
        left=seed_left(
            mass_kg=mass_kg,
            used_kg=min(used, mass_kg),
            planned_kg_per_m2=per_m2,
            actual_kg_per_m2=per_m2 * laid,
        ),
        runs_out_in=field[0],
        runs_out_at=_when(day, field[0], field[1]),
        short_m2=short,
    )


def _draws_on(lot: Lot, name: str) -> bool:
    return name in {lot.name, *lot.parts}


def _rates_of(farm: Farm, name: str) -> dict[str, float]:
    """Return what each field takes of one held lot, by field. [kg/m2]"""
    own = lot_rate_kg_per_m2(farm, farm.lot(name))
    return {one.name: own for one in farm.fields if _draws_on(farm.lot(one.lot), name)}


def _left_in_order(
    farm: Farm, now: Now, rates: Mapping[str, float], day: DayAnswer | None
) -> list[tuple[str, float]]:
    """Return the fields that draw on a lot and what is left of each, today's first."""
    done = {one.field: one.left_m2 for one in now.ground}
    today = [task.name for task in day.task.fields] if day is not None else []
    order = [*today, *(one.name for one in farm.fields if one.name not in today)]
    area = {one.name: one.record_area_m2 for one in farm.fields}
    return [(one, done.get(one, area[one])) for one in order if one in rates]


def _runs_out(
    mass_kg: float, rest: Sequence[tuple[str, float]], rates: Mapping[str, float], laid: float
) -> tuple[tuple[str, float], float]:
    """Return the field seed runs out in, how much of it is sown by then, and what stays unsown."""
    field, short = ("", 0.0), 0.0
    for name, area in rest:
        needs = area * rates[name] * laid
        if needs <= mass_kg + 1e-6:
            mass_kg -= needs
            continue
        reach = mass_kg / (rates[name] * laid)
        mass_kg = 0.0
        if not field[0]:
            field = (name, reach)
        short += area - reach
    return field, short


def _when(day: DayAnswer | None, name: str, reach_m2: float) -> datetime | None:
    """Return about when so much of a field is spread today; None if it is not."""
    if day is None:
        return None
    row = next((row for row in day.fields if row.name == name), None)
    if row is None or row.area_m2 <= 0.0 or reach_m2 > row.area_m2:
        return None
    span: timedelta = row.spread_to - row.spread_from
    return row.spread_from + span * (reach_m2 / row.area_m2)
