"""How much ground a driver means who says "12 passes", "2 rounds", "half" or "all of it".

A pass is as long as the field lets it be: the drive plan of that machine in that field says how
long on average, and how much a round takes. Nothing told is exact, so each area has its range.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

import numpy as np

from duskline.answers.drive import drive_field
from duskline.answers.working import Figure, Step
from duskline.core.checks import check_within
from duskline.core.errors import DusklineError, OutOfRange
from duskline.core.farm import Cultivator, Farm, Field, SpreaderNoun
from duskline.core.passes import PassPlan

__all__ = ["PassTable", "Told", "ToldArea", "ToldAs", "told_area"]

MOST_PLANS = 512
MOST_COUNT = 10_000.0
TOLD_RANGE_SD = 2.0
"""Low and high lie two standard deviations off: 19 times in 20."""
OWN = "worked out here"


class ToldAs(StrEnum):
    """How an amount was told."""

    PASSES = "passes"
    ROUNDS = "rounds"
    HALF = "half"
    ALL = "all"
    AREA = "area"


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """An amount as it was told: so many passes or rounds, half, all, or an area [m2]."""

    how: ToldAs
    amount: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class ToldArea:
    """The ground meant. [m2]

    Attributes
    ----------
    area_m2, low_m2, high_m2
        The ground, and the range it lies in 19 times in 20.
    over_m2
        What the words would come to beyond the ground there is: it is left out of ``area_m2``,
        and worth a question.
    guessed
        Whether the field has no outline, so that its passes had to be guessed from its area.
    """

    area_m2: float
    low_m2: float
    high_m2: float
    over_m2: float
    guessed: bool
    working: tuple[Step, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Lengths:
    """What one machine drives in one field.

    ``new_fraction`` is the share of it that is new ground: ends of passes lap the headland, and
    all passes and rounds together are the field once.
    """

    width_m: float
    pass_m: float
    pass_sd_m: float
    passes_count: int
    rounds_m: tuple[float, ...]
    new_fraction: float
    guessed: bool


@dataclass(slots=True)
class PassTable:
    """Pass and round lengths, kept for every machine and field they were once asked for.

    One object serves a whole farm, and may outlive its edits: a field whose outline, or a
    machine whose width changes, is planned anew.
    """

    kept: OrderedDict[Hashable, _Lengths] = field(default_factory=OrderedDict)

    def lengths(
        self, farm: Farm, field_noun: Field, machine: Cultivator | SpreaderNoun
    ) -> _Lengths:
        """Return what one machine drives in one field, planned once."""
        key = _key(farm, field_noun, machine)
        # Taken out and put back at the end: two askers at once at worst plan it twice.
        found = self.kept.pop(key, None) or _planned(farm, field_noun, machine)
        self.kept[key] = found
        while len(self.kept) > MOST_PLANS:
            self.kept.popitem(last=False)
        return found


def told_area(
    farm: Farm,
    field_name: str,
    machine_name: str,
    told: Told,
    *,
    work: Literal["spread", "covered"],
    left_m2: float,
    open_m2: float,
    table: PassTable | None = None,
) -> ToldArea:
    """Return the ground a telling means.

    Parameters
    ----------
    field_name, machine_name
        Where, and which spreader or covering machine.
    told
        The amount as it was told.
    work
        Spread, or covered.
    left_m2
        What is left of the field for that work; no telling means more. [m2]
    open_m2
        What of it lies spread and not covered: "half" of covering is half of that. [m2]
    table
        Keeps the lengths; None plans the field anew.

    Raises
    ------
    KeyError
        No field or no machine of that name.
    OutOfRange
        A count or an area below zero, or beyond any field.
    """
    field_noun = {one.name: one for one in farm.fields}[field_name]
    machines: dict[str, Cultivator | SpreaderNoun] = {s.name: s for s in farm.spreaders}
    machines |= {c.name: c for c in farm.cultivators}
    machine = machines[machine_name]
    check_within("amount told", told.amount, 0.0, 1e9 if told.how is ToldAs.AREA else MOST_COUNT)
    check_within("ground left", left_m2, 0.0, math.inf)
    if told.how is ToldAs.ALL:
        return _bounded(left_m2, 0.0, left_m2, (_step("all that is left", (), left_m2),))
    if told.how is ToldAs.HALF:
        whole = min(open_m2, left_m2) if work == "covered" and open_m2 > 0.0 else left_m2
        sd = 0.5 * whole * farm.defaults["told_half_cv"].value
        what = Figure(
            name="lying open" if whole != left_m2 else "left of the field",
            value=whole,
            unit="m2",
            source="the log",
        )
        return _bounded(0.5 * whole, sd, left_m2, (_step("half of it", (what,), 0.5 * whole),))
    if told.how is ToldAs.AREA:
        sd = told.amount * farm.defaults["told_area_cv"].value
        return _bounded(told.amount, sd, left_m2, (_step("as told", (), told.amount),))
    lengths = (table or PassTable()).lengths(farm, field_noun, machine)
    if told.how is ToldAs.PASSES:
        return _by_passes(farm, told.amount, lengths, left_m2)
    return _by_rounds(farm, told.amount, lengths, left_m2)


def _by_passes(farm: Farm, count: float, lengths: _Lengths, left_m2: float) -> ToldArea:
    """Return so many passes of mean length.

    Which passes they were is not told: the spread of their sum is that of so many drawn from all
    the field has, and it is nothing once all are driven.
    """
    new_m = lengths.width_m * lengths.new_fraction
    area = count * new_m * lengths.pass_m
    apart = max(0.0, 1.0 - count / max(lengths.passes_count, 1))
    which = math.sqrt(count * apart) * lengths.pass_sd_m * new_m
    width = area * farm.defaults["told_pass_width_cv"].value
    step = _step(
        "passes x width x mean length x share that is new ground",
        (
            Figure(name="passes", value=count, unit="count", source="as told"),
            Figure(name="width", value=lengths.width_m, unit="m", source="farm.toml"),
            Figure(
                name="mean length of a pass",
                value=lengths.pass_m,
                unit="m",
                source="square root of the area: no outline" if lengths.guessed else OWN,
            ),
            _new_ground(lengths),
        ),
        area,
    )
    return _bounded(area, math.hypot(which, width), left_m2, (step,), guessed=lengths.guessed)


def _by_rounds(farm: Farm, count: float, lengths: _Lengths, left_m2: float) -> ToldArea:
    """Return so many rounds, the outermost first; further ones are like the innermost."""
    if not lengths.rounds_m:
        raise OutOfRange("rounds", count, 0.0, 0.0)
    full = int(count)
    driven = [lengths.rounds_m[min(i, len(lengths.rounds_m) - 1)] for i in range(min(full, 200))]
    part = lengths.rounds_m[min(full, len(lengths.rounds_m) - 1)] * (count - full)
    length_m = sum(driven) + part
    area = length_m * lengths.width_m * lengths.new_fraction
    step = _step(
        "length of the rounds x width x share that is new ground",
        (
            Figure(name="rounds", value=count, unit="count", source="as told"),
            Figure(name="length of them", value=length_m, unit="m", source=OWN),
            Figure(name="width", value=lengths.width_m, unit="m", source="farm.toml"),
            _new_ground(lengths),
        ),
        area,
    )
    sd = area * farm.defaults["told_pass_width_cv"].value
    return _bounded(area, sd, left_m2, (step,), guessed=lengths.guessed)


def _new_ground(lengths: _Lengths) -> Figure:
    return Figure(
        name="share that is new ground",
        value=lengths.new_fraction,
        unit="fraction",
        source="no outline" if lengths.guessed else "the drive plan: laps and headland taken off",
    )


def _step(formula: str, inputs: tuple[Figure, ...], area_m2: float) -> Step:
    return Step(
        title="Ground told",
        formula=formula,
        inputs=inputs,
        result=Figure(name="ground", value=area_m2, unit="m2", source=OWN),
    )


def _bounded(
    area_m2: float, sd_m2: float, left_m2: float, steps: tuple[Step, ...], *, guessed: bool = False
) -> ToldArea:
    """Return the area within what is left, with its range."""
    kept = min(area_m2, left_m2)
    return ToldArea(
        area_m2=kept,
        low_m2=min(kept, max(0.0, area_m2 - TOLD_RANGE_SD * sd_m2)),
        high_m2=min(left_m2, area_m2 + TOLD_RANGE_SD * sd_m2),
        over_m2=max(0.0, area_m2 - left_m2),
        guessed=guessed,
        working=steps,
    )


# --------------------------------------------------------------------------- the drive plan


def _key(farm: Farm, one: Field, machine: Cultivator | SpreaderNoun) -> Hashable:
    ground = one.ground
    rings = () if ground is None else (ground.exterior_m, *ground.holes_m)
    return (
        one.name,
        one.area_m2,
        tuple(ring.tobytes() for ring in rings),
        one.edges,
        one.slope_fraction,
        one.downhill_to,
        one.gates_m,
        machine,
        farm.spreaders,
        farm.rules.turn_angle_rad,
    )


def _width_m(machine: Cultivator | SpreaderNoun) -> float:
    if isinstance(machine, SpreaderNoun):
        return machine.driving_width_m
    return machine.working_width_m


def _planned(farm: Farm, one: Field, machine: Cultivator | SpreaderNoun) -> _Lengths:
    width = _width_m(machine)
    if one.ground is None or not farm.spreaders:
        return _guessed(one, width)
    try:
        if isinstance(machine, SpreaderNoun):
            plan = drive_field(farm, one, spreaders=(machine,), machines=()).spreads[machine.name]
        else:
            plan = drive_field(farm, one, spreaders=farm.spreaders, machines=(machine,)).covers[
                machine.name
            ]
    except DusklineError:
        return _guessed(one, width)
    rows = _row_lengths_m(plan)
    if not rows.size:
        return _guessed(one, width)
    rounds = _round_lengths_m(plan)
    return _Lengths(
        width_m=width,
        pass_m=float(rows.mean()),
        pass_sd_m=float(rows.std()),
        passes_count=len(rows),
        rounds_m=rounds,
        new_fraction=min(1.0, one.ground.area_m2 / (width * (float(rows.sum()) + sum(rounds)))),
        guessed=False,
    )


def _row_lengths_m(plan: PassPlan) -> np.ndarray:
    """Return the length of every pass; runs of one row, broken by a hole, are one pass."""
    lengths = plan.pass_lengths_m
    rows: dict[tuple[int, int], float] = {}
    for block, row, length in zip(plan.block_indices, plan.row_indices, lengths, strict=True):
        rows[int(block), int(row)] = rows.get((int(block), int(row)), 0.0) + float(length)
    return np.array(list(rows.values()))


def _round_lengths_m(plan: PassPlan) -> tuple[float, ...]:
    """Return the length of every round, the outermost first, its legs together."""
    rounds: dict[int, float] = {}
    for leg in plan.rounds.legs:
        rounds[leg.round_index] = rounds.get(leg.round_index, 0.0) + leg.length_m
    return tuple(rounds[index] for index in sorted(rounds))


def _guessed(one: Field, width_m: float) -> _Lengths:
    side = math.sqrt(one.area_m2)
    return _Lengths(
        width_m=width_m,
        pass_m=side,
        pass_sd_m=0.25 * side,
        passes_count=max(1, round(side / width_m)),
        rounds_m=(max(0.0, 4.0 * (side - width_m)),),
        new_fraction=1.0,
        guessed=True,
    )
