"""How long do the points last, before which field is each row swapped, and does it run level?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from duskline.answers.working import Figure, Step
from duskline.core.errors import OutOfRange
from duskline.core.farm import Cultivator, Farm, Given, PointRow, Poke
from duskline.core.log import FieldState, Settled
from duskline.core.points import (
    AreaRange,
    PokeCheck,
    RowWear,
    area_left,
    first_point_left_m2,
    life_area_m2,
    life_m,
    new_set_area,
    poke_check,
    row_wear,
    swap_list,
)

__all__ = [
    "EFFECTS",
    "CheckCard",
    "Effect",
    "FieldSwap",
    "PointsAnswer",
    "PokeAnswer",
    "RowAnswer",
    "Unmeasured",
    "check_cards",
    "ground_to_cover",
    "points_answer",
    "worked_in_m2",
]

CRUMB_M2 = 50.0
"""Less than this left of a field is nothing left."""
MEASURED = "farm.toml"
TOLD = "the log"
HERE = "worked out here"
WHEEL_WORDS = ("wheel", "track", "tire", "tyre")

Side = Literal["sure", "likely"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Effect:
    """Something a worn point is known to do, and who says so. No figure was found for any."""

    text: str
    source: str


EFFECTS = (
    Effect(
        text="A worn point stops going in and smears; those behind the tractor's tires go first.",
        source="Successful Farming: tillage checklist",
    ),
    Effect(
        text="Worn edges make the depth uneven and raise pull and fuel.",
        source="AgriEngineering: article 81 of volume 8, issue 3, 2026",
    ),
    Effect(
        text="Points of one machine wore over two-fold unlike, by soil, row and wheel track.",
        source="Owsiak, Wear of spring tine cultivator points, 1999",
    ),
)
NO_FIGURE = "By how much, nobody has measured for these points: no acres or pounds are put on it."


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldSwap:
    """One swap of one row.

    Attributes
    ----------
    machine, row, points_count
        What is swapped.
    field, field_index
        The field it comes before, and its place in the order.
    after
        The field before that one; empty where it is the first, so the swap is due now.
    in_field_m2
        What of the field is worked first, where the field is more than a new set does. [m2]
    side
        "sure": planned on the low side; "likely": on the best guess.
    """

    machine: str
    row: str
    points_count: int
    field: str
    field_index: int
    after: str
    in_field_m2: float
    side: Side


@dataclass(frozen=True, kw_only=True, slots=True)
class RowAnswer:
    """One row of points.

    Attributes
    ----------
    machine, row
        Which.
    wear
        What was measured; its mean is zero where nothing is worn yet.
    limit_m, limit_is_assumed
        Wear at which it is swapped, and whether the farm left that to us. [m]
    left, new_set
        Ground to the limit, for these points and for new ones; None with nothing worn. [m2]
    first_point_left_m2
        Ground until the most worn measured point is at the limit. [m2]
    new_set_m
        How far a new set travels; None where the machine's width is not known. [m]
    job_m2
        What this machine works in the fields asked about. [m2]
    worked_m2
        What it has worked since, taken off what is left. [m2]
    swaps_sure, swaps_likely
        Where it is swapped, on the low side and on the best guess.
    """

    machine: str
    row: str
    wear: RowWear
    limit_m: float
    limit_is_assumed: bool
    left: AreaRange | None
    new_set: AreaRange | None
    first_point_left_m2: float | None
    new_set_m: float | None
    job_m2: float
    worked_m2: float
    swaps_sure: tuple[FieldSwap, ...]
    swaps_likely: tuple[FieldSwap, ...]

    @property
    def point_at_limit(self) -> bool:
        """Whether one of its points has reached the limit, whatever the row has left."""
        return self.first_point_left_m2 is not None and self.first_point_left_m2 <= 0.0

    @property
    def is_due(self) -> bool:
        """Whether the mean wear has reached the limit."""
        return self.left is not None and self.left.best_m2 <= 0.0

    @property
    def points_in_hand_count(self) -> int:
        """Points to have before the job starts, on the sure side."""
        return len(self.swaps_sure) * self.wear.points_count


@dataclass(frozen=True, kw_only=True, slots=True)
class Unmeasured:
    """A machine whose points nobody has measured: what such points do elsewhere. [m2]

    Not the farm's own figure, and wide on purpose. ``points_count`` is the shanks, if stated.
    """

    machine: str
    points_count: int | None
    life: AreaRange
    job_m2: float


@dataclass(frozen=True, kw_only=True, slots=True)
class PokeAnswer:
    """Level and depth of one machine; ``more_count`` pokes are wanting to the usual number."""

    machine: str
    check: PokeCheck
    shallow_m: float
    deep_m: float
    level_within_m: float
    more_count: int


@dataclass(frozen=True, kw_only=True, slots=True)
class PointsAnswer:
    """Points of every covering machine over the fields asked about.

    Attributes
    ----------
    rows, unmeasured
        Rows that were measured, and machines without any.
    swaps_sure, swaps_likely
        All swaps in the order of the fields, on the low side and on the best guess.
    in_hand_sure_count, in_hand_likely_count
        Points that those take.
    in_hand_sure_cost, in_hand_likely_cost, currency
        What they cost; None where no price of a point is stated.
    wear_cost_per_m2
        Price of the wear itself over the ground, all measured rows, one machine working each
        square metre; None without price or wear.
    pokes
        Depth and level.
    alone
        Whether each machine was taken to work every field by itself, for want of shares.
    sure_fraction
        Chance that the ground left lies in its range.
    to_measure_count
        Points of a row to measure.
    measure
        What to measure next, in plain words.
    effects
        What worn points are known to do.
    working
        How the answer was come by.
    """

    rows: tuple[RowAnswer, ...]
    unmeasured: tuple[Unmeasured, ...]
    swaps_sure: tuple[FieldSwap, ...]
    swaps_likely: tuple[FieldSwap, ...]
    in_hand_sure_count: int
    in_hand_likely_count: int
    in_hand_sure_cost: float | None
    in_hand_likely_cost: float | None
    currency: str
    wear_cost_per_m2: float | None
    pokes: tuple[PokeAnswer, ...]
    alone: bool
    sure_fraction: float
    to_measure_count: int
    measure: tuple[str, ...]
    effects: tuple[Effect, ...]
    working: tuple[Step, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckCard:
    """What a covering driver checks before he starts: depth, level, points, speed, overlap.

    ``poke`` and ``rows`` are what was last measured; ``shank_depth_m`` is how deep the shanks
    are set, where stated, which is not how deep the seed lies.
    """

    machine: str
    shallow_m: float
    deep_m: float
    level_within_m: float
    pokes_count: int
    shank_depth_m: float | None
    poke: PokeAnswer | None
    rows: tuple[RowAnswer, ...]
    to_measure_count: int
    speed_mps: float
    overlap_m: float
    by_eye: bool


def points_answer(
    farm: Farm,
    field_order: tuple[tuple[str, float], ...],
    *,
    shares: Mapping[str, float] | None = None,
    worked_m2: Mapping[str, float] | None = None,
) -> PointsAnswer:
    """Return how long the points last over the fields, where they are swapped, and the level.

    Parameters
    ----------
    farm
        With its measured rows and pokes.
    field_order
        Name and area of the fields still to be worked, in order. [m2]
    shares
        Share of that ground each machine works, by its name; a machine not named works it all.
        None takes every machine as if it worked all of it alone, which is the sure side.
    worked_m2
        What each machine has worked since its points were measured, by its name. [m2]

    Raises
    ------
    OutOfRange
        A share outside 0 to 1, or a measured row that cannot be true.

    Notes
    -----
    The low side rules the swap; the best guess is said beside it. See
    ``duskline.core.points`` for the law of wear and the range.
    """
    for name, share in (shares or {}).items():
        if not 0.0 <= share <= 1.0:
            raise OutOfRange(f"share of the ground of {name}", share, 0.0, 1.0)
    portions = {machine.name: (shares or {}).get(machine.name, 1.0) for machine in farm.cultivators}
    rows = tuple(
        _row(
            farm,
            row,
            field_order,
            portions.get(row.cultivator, 1.0),
            (worked_m2 or {}).get(row.cultivator, 0.0),
        )
        for row in farm.point_rows
    )
    measured = {row.cultivator for row in farm.point_rows}
    job_m2 = sum(area for _, area in field_order)
    unmeasured = tuple(
        _unmeasured(farm, machine, job_m2 * portions[machine.name])
        for machine in farm.cultivators
        if machine.name not in measured
    )
    pokes = tuple(_poke(farm, poke) for poke in farm.pokes)
    sure = tuple(sorted((s for r in rows for s in r.swaps_sure), key=_place))
    likely = tuple(sorted((s for r in rows for s in r.swaps_likely), key=_place))
    sure_count, likely_count = (sum(s.points_count for s in swaps) for swaps in (sure, likely))
    each = farm.prices.point_each
    return PointsAnswer(
        rows=rows,
        unmeasured=unmeasured,
        swaps_sure=sure,
        swaps_likely=likely,
        in_hand_sure_count=sure_count,
        in_hand_likely_count=likely_count,
        in_hand_sure_cost=None if each is None else each * sure_count,
        in_hand_likely_cost=None if each is None else each * likely_count,
        currency=farm.prices.currency,
        wear_cost_per_m2=_wear_cost_per_m2(rows, each, portions, exact=shares is not None),
        pokes=pokes,
        alone=shares is None and len(farm.cultivators) > 1,
        sure_fraction=farm.defaults["points_sure"].value,
        to_measure_count=_count(farm, "points_to_measure"),
        measure=_measure(farm, rows, unmeasured, pokes),
        effects=EFFECTS,
        working=(
            *(step for row in rows for step in _row_steps(farm, row)),
            *(_life_step(farm, one) for one in unmeasured),
            *(_poke_step(farm, one) for one in pokes),
        ),
    )


def ground_to_cover(
    farm: Farm, account: Settled, first: Sequence[str] = ()
) -> tuple[tuple[str, float], ...]:
    """Return the fields still to be worked in, with what is left of each. [m2]

    Parameters
    ----------
    account
        The log settled.
    first
        The fields that come first, in order; all others follow as the farm has them.
    """
    by_name = {one.name: one for one in farm.fields}
    left = []
    for name in dict.fromkeys((*(one for one in first if one in by_name), *by_name)):
        covered_m2 = account.by_field.get(name, FieldState()).covered_m2
        left_m2 = by_name[name].record_area_m2 - covered_m2
        if left_m2 > CRUMB_M2:
            left.append((name, left_m2))
    return tuple(left)


def worked_in_m2(account: Settled) -> dict[str, float]:
    """Return what each machine has told as worked in. [m2]"""
    found: dict[str, float] = {}
    for event in account.events:
        if event.what == "covered" and event.machine and event.area_m2 is not None:
            found[event.machine] = found.get(event.machine, 0.0) + event.area_m2
    return found


def check_cards(farm: Farm, answer: PointsAnswer) -> tuple[CheckCard, ...]:
    """Return the check card of each covering machine."""
    pokes = {one.machine: one for one in answer.pokes}
    return tuple(
        CheckCard(
            machine=machine.name,
            shallow_m=farm.defaults["poke_shallow"].value,
            deep_m=farm.defaults["poke_deep"].value,
            level_within_m=farm.defaults["poke_level"].value,
            pokes_count=_count(farm, "pokes_wanted"),
            shank_depth_m=machine.depth_m,
            poke=pokes.get(machine.name),
            rows=tuple(row for row in answer.rows if row.machine == machine.name),
            to_measure_count=answer.to_measure_count,
            speed_mps=machine.speed_mps,
            overlap_m=machine.overlap_m,
            by_eye=machine.by_eye,
        )
        for machine in farm.cultivators
    )


def _count(farm: Farm, key: str) -> int:
    return round(farm.defaults[key].value)


def _place(swap: FieldSwap) -> tuple[int, float]:
    return swap.field_index, swap.in_field_m2


def _machine(farm: Farm, name: str) -> Cultivator | None:
    return next((one for one in farm.cultivators if one.name == name), None)


def _limit(farm: Farm, row: PointRow) -> Given:
    if row.limit_m is None:
        return farm.defaults["points_limit"]
    return Given(value=row.limit_m, unit="m", source=MEASURED)


def _row(
    farm: Farm,
    row: PointRow,
    field_order: tuple[tuple[str, float], ...],
    share: float,
    worked_m2: float,
) -> RowAnswer:
    wear = row_wear(
        worn_m=row.worn_m,
        points_count=row.points_count,
        over_m2=row.over_m2,
        measuring_sd_m=farm.defaults["points_reading_sd"].value,
        spread_fraction=farm.defaults["points_spread"].value,
        spread_worth_count=farm.defaults["points_spread_worth"].value,
    )
    limit = _limit(farm, row)
    machine = _machine(farm, row.cultivator)
    areas = [area * share for _, area in field_order]
    left = new_set = None
    swaps: dict[Side, tuple[FieldSwap, ...]] = {"sure": (), "likely": ()}
    if wear.worn_m > 0.0:
        left, new_set = (
            work(
                wear,
                limit_m=limit.value,
                limit_low_m=limit.low,
                limit_high_m=limit.high,
                ahead_spread_fraction=farm.defaults["points_ahead_spread"].value,
                sure_fraction=farm.defaults["points_sure"].value,
            )
            for work in (area_left, new_set_area)
        )
        left = AreaRange(
            low_m2=max(0.0, left.low_m2 - worked_m2),
            best_m2=max(0.0, left.best_m2 - worked_m2),
            high_m2=max(0.0, left.high_m2 - worked_m2),
        )
        names = [name for name, _ in field_order]
        swaps = {
            "sure": _swaps(row, names, areas, left.low_m2, new_set.low_m2, "sure"),
            "likely": _swaps(row, names, areas, left.best_m2, new_set.best_m2, "likely"),
        }
    return RowAnswer(
        machine=row.cultivator,
        row=row.row,
        wear=wear,
        limit_m=limit.value,
        limit_is_assumed=row.limit_m is None,
        left=left,
        new_set=new_set,
        first_point_left_m2=None
        if left is None
        else max(0.0, first_point_left_m2(wear, limit_m=limit.value) - worked_m2),
        new_set_m=None
        if machine is None or new_set is None
        else life_m(area_m2=new_set.best_m2, working_width_m=machine.working_width_m),
        job_m2=sum(areas),
        worked_m2=worked_m2,
        swaps_sure=swaps["sure"],
        swaps_likely=swaps["likely"],
    )


def _swaps(
    row: PointRow,
    names: list[str],
    areas: list[float],
    left_m2: float,
    new_set_m2: float,
    side: Side,
) -> tuple[FieldSwap, ...]:
    return tuple(
        FieldSwap(
            machine=row.cultivator,
            row=row.row,
            points_count=row.points_count,
            field=names[swap.field_index],
            field_index=swap.field_index,
            after=names[swap.field_index - 1] if swap.field_index else "",
            in_field_m2=swap.in_field_m2,
            side=side,
        )
        for swap in swap_list(areas, left_m2=left_m2, new_set_m2=new_set_m2)
    )


def _unmeasured(farm: Farm, machine: Cultivator, job_m2: float) -> Unmeasured:
    life = farm.defaults["points_life"]
    low, best, high = (
        life_area_m2(life_m=far, working_width_m=machine.working_width_m)
        for far in (life.low or life.value, life.value, life.high or life.value)
    )
    return Unmeasured(
        machine=machine.name,
        points_count=machine.shanks_count,
        life=AreaRange(low_m2=low, best_m2=best, high_m2=high),
        job_m2=job_m2,
    )


def _poke(farm: Farm, poke: Poke) -> PokeAnswer:
    shallow, deep, level = (
        farm.defaults[key].value for key in ("poke_shallow", "poke_deep", "poke_level")
    )
    return PokeAnswer(
        machine=poke.cultivator,
        check=poke_check(
            front_m=poke.front_m,
            rear_m=poke.rear_m,
            shallow_m=shallow,
            deep_m=deep,
            level_within_m=level,
        ),
        shallow_m=shallow,
        deep_m=deep,
        level_within_m=level,
        more_count=max(0, _count(farm, "pokes_wanted") - len(poke.front_m) - len(poke.rear_m)),
    )


def _wear_cost_per_m2(
    rows: tuple[RowAnswer, ...],
    point_each: float | None,
    portions: Mapping[str, float],
    *,
    exact: bool,
) -> float | None:
    """Return the price of wear over ground; without shares the dearest machine's alone.

    With shares, each machine's wear counts for its part of the ground.
    """
    if point_each is None:
        return None
    by_machine: dict[str, float] = {}
    for row in rows:
        if row.new_set is not None:
            part = point_each * row.wear.points_count / row.new_set.best_m2
            by_machine[row.machine] = by_machine.get(row.machine, 0.0) + part
    if not by_machine:
        return None
    if not exact:
        return max(by_machine.values())
    return sum(cost * portions.get(name, 1.0) for name, cost in by_machine.items())


def _measure(
    farm: Farm,
    rows: tuple[RowAnswer, ...],
    unmeasured: tuple[Unmeasured, ...],
    pokes: tuple[PokeAnswer, ...],
) -> tuple[str, ...]:
    """Return what to measure next, the most telling first."""
    wanted = _count(farm, "points_to_measure")
    found = [
        f"{one.machine}: measure how much {wanted} points of each row have lost since new, and "
        "write down what the machine has worked since."
        for one in unmeasured
    ]
    for row in rows:
        who = f"{row.machine}, {row.row}"
        few = min(wanted, row.wear.points_count)
        if row.wear.measured_count < few:
            found.append(
                f"{who}: {row.wear.measured_count} of {row.wear.points_count} points measured; "
                f"measure {few} and the range gets narrower."
            )
        if row.limit_is_assumed:
            found.append(
                f"{who}: the wear to swap at is our guess; take the maker's, or lay a worn out "
                "point beside a new one."
            )
        if row.left is None:
            found.append(f"{who}: nothing worn yet; measure again after the next field.")
    for name in dict.fromkeys(row.machine for row in rows):
        said = [row.row.lower() for row in rows if row.machine == name]
        if not any(word in one for one in said for word in WHEEL_WORDS):
            found.append(
                f"{name}: keep the points behind the tractor's wheels as a row of their own; "
                "they wear fastest."
            )
    poked = {one.machine for one in pokes}
    found += [
        f"{machine.name}: poke for seed {_count(farm, 'pokes_wanted')} times, half behind the "
        "front row and half behind the rear."
        for machine in farm.cultivators
        if machine.name not in poked
    ]
    return tuple(found)


def _given(name: str, given: Given) -> Figure:
    return Figure(
        name=name,
        value=given.value,
        unit=given.unit,
        source=given.source,
        low=given.low,
        high=given.high,
    )


def _area(name: str, area: AreaRange) -> Figure:
    return Figure(
        name=name,
        value=area.best_m2,
        unit="m2",
        source=HERE,
        low=area.low_m2,
        high=area.high_m2 if math.isfinite(area.high_m2) else None,
    )


def _row_steps(farm: Farm, row: RowAnswer) -> list[Step]:
    who = f"{row.machine}, {row.row}"
    wear = row.wear
    over = Figure(name="worked since new", value=wear.over_m2, unit="m2", source=MEASURED)
    worn = Figure(
        name="mean wear",
        value=wear.worn_m,
        unit="m",
        source=HERE,
        low=max(0.0, wear.worn_m - wear.standard_error_m),
        high=wear.worn_m + wear.standard_error_m,
    )
    spread = Figure(
        name="spread between the points measured",
        value="one point measured" if wear.spread_m is None else wear.spread_m,
        unit="" if wear.spread_m is None else "m",
        source=MEASURED,
    )
    steps = [
        Step(
            title=f"{who}: wear",
            formula="mean of the points measured; its error from their spread, pooled with the "
            "assumed one, and the error of a reading (shown: one standard deviation each way)",
            inputs=(
                Figure(
                    name="points measured", value=wear.measured_count, unit="count", source=MEASURED
                ),
                Figure(
                    name="points in the row", value=wear.points_count, unit="count", source=MEASURED
                ),
                spread,
                *(
                    _given(name, farm.defaults[key])
                    for name, key in (
                        ("assumed spread between points", "points_spread"),
                        ("measured differences it weighs", "points_spread_worth"),
                        ("error of a reading", "points_reading_sd"),
                    )
                ),
            ),
            result=worn,
        )
    ]
    if row.left is None or row.new_set is None:
        return steps
    limit = farm.defaults["points_limit"] if row.limit_is_assumed else None
    swapped_at = (
        Figure(name="wear to swap at", value=row.limit_m, unit="m", source=MEASURED)
        if limit is None
        else _given("wear to swap at", limit)
    )
    ahead = _given("wear ahead against so far", farm.defaults["points_ahead_spread"])
    return [
        *steps,
        Step(
            title=f"{who}: ground left",
            formula="worked since new x (wear to swap at / mean wear - 1) - worked since "
            "measured, wear taken as even over the ground worked",
            inputs=(
                over,
                worn,
                swapped_at,
                Figure(name="worked since measured", value=row.worked_m2, unit="m2", source=TOLD),
                ahead,
                _given("chance", farm.defaults["points_sure"]),
            ),
            result=_area("ground left", row.left),
        ),
        Step(
            title=f"{who}: a new set",
            formula="worked since new x wear to swap at / mean wear",
            inputs=(over, worn, swapped_at),
            result=_area("a new set does", row.new_set),
        ),
    ]


def _life_step(farm: Farm, one: Unmeasured) -> Step:
    machine = next(each for each in farm.cultivators if each.name == one.machine)
    return Step(
        title=f"{one.machine}: points not measured, so a life from elsewhere",
        formula="how far a point lasts x (width less overlap)",
        inputs=(
            _given("how far a point lasts", farm.defaults["points_life"]),
            Figure(
                name="width less overlap",
                value=machine.working_width_m,
                unit="m",
                source=MEASURED,
            ),
        ),
        result=_area("a set of points does, not this farm's figure", one.life),
    )


def _poke_step(farm: Farm, one: PokeAnswer) -> Step:
    check = one.check
    return Step(
        title=f"{one.machine}: level",
        formula="mean depth behind the rear rows less mean depth behind the front rows",
        inputs=(
            Figure(name="front", value=check.front_m, unit="m", source=MEASURED),
            Figure(name="rear", value=check.rear_m, unit="m", source=MEASURED),
            _given("still level within", farm.defaults["poke_level"]),
            _given("wanted depth from", farm.defaults["poke_shallow"]),
            _given("wanted depth to", farm.defaults["poke_deep"]),
        ),
        result=Figure(
            name="rear deeper by",
            value=check.rear_deeper_m,
            unit="m",
            source=HERE,
            low=None
            if check.standard_error_m is None
            else check.rear_deeper_m - check.standard_error_m,
            high=None
            if check.standard_error_m is None
            else check.rear_deeper_m + check.standard_error_m,
        ),
    )
