"""The season's plan through many seasons of weather: how the crews go on, and what comes of it.

A plan is made for one weather; the crews meet another. One plain policy says what they do then,
and from many seasons come the chances of being done by a day and the worth of a change.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from duskline.core.checks import check_within
from duskline.core.errors import OutOfRange

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.season import Schedule, SeasonCrew, SeasonField, SeasonTask
    from duskline.core.season_days import DayBudgets
    from duskline.core.season_policy_kernel import Case

    FloatArray = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]
    IntArray = NDArray[np.int64]

__all__ = ["Chance", "SimulatedSeasons", "Worth", "compare", "simulate_policy", "wilson"]

SURE_FRACTION = 0.95
"""Of the intervals below."""
SAME_FRACTION = 0.005
"""Of a day, and of the cost: a mean difference below this is none, if luck could explain it."""
ROUNDING = 1e-9
NEVER_DAY = 2**40
SPARE = 1e-7
"""Of a field's area: less than this is not left out but rounding."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Chance:
    """A share of simulated seasons, with the interval their number allows (95 %)."""

    fraction: float
    low: float
    high: float


def wilson(hits: int, count: int) -> Chance:
    """Return the chance that ``hits`` of ``count`` seasons speak for.

    Raises
    ------
    OutOfRange
        No seasons, or more hits than seasons.

    Source
    ------
    Wilson's score interval for a share (memory); held to exact binomial tails in
    tests/core/test_season_policy.py.
    """
    from scipy.special import ndtri

    check_within("seasons", count, 1, math.inf)
    check_within("seasons that came good", hits, 0, count)
    z = float(ndtri(0.5 + 0.5 * SURE_FRACTION))
    share, spread = hits / count, z * z / count
    middle = (share + 0.5 * spread) / (1.0 + spread)
    half = math.sqrt(share * (1.0 - share) * spread + 0.25 * spread * spread) / (1.0 + spread)
    low = 0.0 if hits == 0 else max(0.0, middle - half)
    high = 1.0 if hits == count else min(1.0, middle + half)
    return Chance(fraction=share, low=low, high=high)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SimulatedSeasons:
    """What became of a plan in many seasons; arrays read-only.

    Attributes
    ----------
    days
        Day numbers, as in ``SeasonDay.day``.
    fields, due_days
        Names, and the last day each should be done; None: no deadline.
    finish_day : (count, fields)
        Day number; -1: not done in these days.
    done_m2 : (count, days)
        Sown and covered by the end of each day. [m2]
    cost_usd : (count,)
        Waiting, lateness, what is left out, roads, seed hauls, visits, clean-outs and crew days
        at the plan's prices.
    parts_usd
        Its parts, each (count,), by their names in ``SeasonCost`` without ``_usd``.
    """

    days: tuple[int, ...]
    fields: tuple[str, ...]
    due_days: tuple[int | None, ...]
    finish_day: IntArray
    done_m2: FloatArray
    cost_usd: FloatArray
    parts_usd: Mapping[str, FloatArray]

    def __post_init__(self) -> None:
        """Lock the arrays."""
        for array in (self.finish_day, self.done_m2, self.cost_usd, *self.parts_usd.values()):
            array.setflags(write=False)

    @property
    def count(self) -> int:
        """How many seasons there are."""
        return len(self.cost_usd)

    def last_finish_day(self, never: int | None = None) -> IntArray:
        """Return the day on which the last field is done in each season. (count,)

        ``never`` stands for seasons that leave one undone; None: the day after the last.
        """
        beyond = self.days[-1] + 1 if never is None else never
        days = np.where(self.finish_day < 0, beyond, self.finish_day)
        return np.asarray(days.max(axis=1, initial=self.days[0]), dtype=np.int64)

    def chance_done_by(self, day: int) -> Chance:
        """Return the chance that every field is done by the end of a day."""
        done = (self.finish_day >= 0) & (self.finish_day <= day)
        return wilson(int(done.all(axis=1).sum()), self.count)

    def chance_of_field(self, name: str, by_day: int | None = None) -> Chance:
        """Return the chance that a field is done by a day.

        Parameters
        ----------
        name
            Of the field.
        by_day
            None: its due day, or the last day where it has none.

        Raises
        ------
        OutOfRange
            No field of that name.
        """
        if name not in self.fields:
            raise OutOfRange(f"fields named {name}", 0, 1)
        at = self.fields.index(name)
        due = self.due_days[at]
        by = by_day if by_day is not None else due if due is not None else self.days[-1]
        days = self.finish_day[:, at]
        return wilson(int(((days >= 0) & (days <= by)).sum()), self.count)

    def most_at_risk(self) -> tuple[str, Chance] | None:
        """Return the field with the least chance by its due day, and that chance.

        Of fields with one chance the one done latest on average; None where there is no field.
        """
        if not self.fields:
            return None
        beyond = np.where(self.finish_day < 0, self.days[-1] + 1, self.finish_day).mean(axis=0)
        chances = [self.chance_of_field(name) for name in self.fields]
        at = min(range(len(chances)), key=lambda i: (chances[i].fraction, -float(beyond[i]), i))
        return self.fields[at], chances[at]

    def fan_m2(self, levels: Sequence[float]) -> FloatArray:
        """Return what is done by each day in so many shares of seasons. (levels, days) [m2]

        At level 0.1 one season in ten has less done, nine have as much or more.
        """
        for level in levels:
            check_within("level of the fan", level, 0.0, 1.0)
        return np.asarray(np.quantile(self.done_m2, np.asarray(levels), axis=0))


def simulate_policy(
    schedule: Schedule,
    budgets: DayBudgets,
    wet: BoolArray,
    ready_day: IntArray,
    *,
    help_out: bool,
    from_day: int | None = None,
) -> SimulatedSeasons:
    """Return what becomes of a plan when the crews follow it through many seasons.

    Parameters
    ----------
    schedule
        The plan with its task: fields, days, crews, prices.
    budgets : (count, days, crews)
        What each crew can do, days and crews in the task's order.
    wet : (count, days)
        Not a day for fields that must not be worked after rain.
    ready_day : (count, fields)
        The day number on which each field comes ready.
    help_out
        A crew that can do nothing more on its own list takes over stops of the others.
    from_day
        Nobody works before this day number; None: from the first day.

    Raises
    ------
    OutOfRange
        Arrays of shapes that do not go together, or days numbered below nought.

    Notes
    -----
    The policy, day by day. Each crew works down its list, the visits of the plan in their order,
    whatever day they were planned for: it goes on ahead of the plan when a day allows and
    carries over what does not fit. It takes the first stop that is ready, allowed (not after
    rain) and fits: a field that must not be split only if the whole of it fits in what is left
    of the day, so that one larger than any day is left and blocks nothing; a part below the
    field's least part is not begun. Where nothing can begin at once it waits for what comes
    ready soonest that day. A crew that can do nothing on its list takes the last such stop of
    the crew with most area left, if ``help_out``; then what the plan left out, by due day. Crews
    work side by side: whoever is free first chooses first. A stop once begun is worked until it
    is done or the day is over. The list is begun anew each morning.

    Legs, visits and clean-outs within a day cost working time and money as in the plan
    (`duskline.core.season`); a crew going on in the field it stands in has none of them. The
    pace is the drawn day's, slower by lot and not faster than the seed trucks. No lot gives more
    than the bin holds.

    Source
    ------
    Derived here; a plain account written apart gives the same season by season
    (tests/core/test_season_policy.py) and seasons drawn and worked apart come as often as said
    (tests/properties/test_season_chances.py).
    """
    from duskline.core.season_policy_kernel import PARTS, walk_seasons

    task = schedule.task
    count, days, crews = budgets.area_m2.shape
    for name, got, want in (
        ("days with budgets", days, len(task.days)),
        ("crews with budgets", crews, len(task.crews)),
        ("seasons of wet days", wet.shape[0], count),
        ("wet days", wet.shape[1], days),
        ("seasons of ready days", ready_day.shape[0], count),
        ("fields with ready days", ready_day.shape[1], len(task.fields)),
    ):
        check_within(name, got, want, want)
    check_within("days", days, 1, math.inf)
    check_within("first day number", task.days[0].day, 0, math.inf)
    case = _lay_out(schedule, task.days[0].day if from_day is None else from_day)
    finish = np.full((count, len(task.fields)), -1, dtype=np.int64)
    done, parts = np.zeros((count, days)), np.zeros((count, len(PARTS)))
    walk_seasons(
        case,
        _locked(budgets.budget_s, np.float64),
        _locked(budgets.lost_m2_per_s, np.float64),
        _locked(wet, np.bool_),
        _locked(ready_day, np.int64),
        bool(help_out),
        finish,
        done,
        parts,
    )
    return SimulatedSeasons(
        days=tuple(one.day for one in task.days),
        fields=tuple(one.name for one in task.fields),
        due_days=tuple(one.due_day for one in task.fields),
        finish_day=finish,
        done_m2=done,
        cost_usd=parts.sum(axis=1),
        parts_usd={name: np.ascontiguousarray(parts[:, at]) for at, name in enumerate(PARTS)},
    )


def _locked(array: NDArray[Any], kind: type[Any]) -> NDArray[Any]:
    """Return the array, or a view, read-only: one kind of array is compiled for only once."""
    view = np.ascontiguousarray(array, dtype=kind).view()
    view.setflags(write=False)
    return view


def _lay_out(schedule: Schedule, from_day: int) -> Case:
    """Return the plan and its task in arrays."""
    from duskline.core import season_policy_kernel as kernel

    task = schedule.task
    fields, crews, days, prices = task.fields, task.crews, task.days, task.prices
    lots = {lot.name: lot for lot in task.lots}
    lot_names = [*lots, *sorted({f.lot for f in fields} - {*lots})]
    lot_at = {name: at for at, name in enumerate(lot_names)}
    stops, first = _stops(schedule)
    places = np.array([f.place_m for f in fields], dtype=np.float64).reshape(len(fields), 2)
    across = places[:, None, :] - places[None, :, :]
    shape = (len(days), len(crews))
    return kernel.Case(
        fields=np.array(
            [
                (
                    *(f.area_m2, f.least_part_m2, f.rate_kg_per_m2, f.priority, f.ready.after_s),
                    *(lot_at[f.lot], _due(f), not f.splittable, f.not_after_rain),
                )
                for f in fields
            ],
            dtype=kernel.FIELD,
        ),
        crews=np.array(
            [
                (
                    *(c.fold_s, 1.0 / c.road_speed_mps),
                    *(0.0 if c.starts_early else 1.0 / c.road_speed_mps, c.clean_out_s, c.visit_s),
                )
                for c in crews
            ],
            dtype=kernel.CREW,
        ),
        pairs=np.array(
            [_pair(crew, one, task) for crew in crews for one in fields], dtype=kernel.PAIR
        ).reshape(len(crews), len(fields)),
        road_m=np.hypot(across[..., 0], across[..., 1]) * task.road_factor,
        stops=np.array(stops, dtype=kernel.STOP),
        first=np.array(first, dtype=np.int64),
        stock_kg=np.array(
            [lots[name].stock_kg if name in lots else math.inf for name in lot_names],
            dtype=np.float64,
        ),
        day=np.array([one.day for one in days], dtype=np.int64),
        there=np.array(
            [[one.day >= from_day and c.name in one.crews for c in crews] for one in days],
            dtype=np.bool_,
        ).reshape(shape),
        paid=np.array(
            [[c.name in one.crews and one.crews[c.name].paid for c in crews] for one in days],
            dtype=np.bool_,
        ).reshape(shape),
        prices=np.array(
            [
                (
                    *(prices.wait_usd_per_m2_day, prices.late_usd_per_m2),
                    *(prices.late_usd_per_m2_day, prices.unplaced_usd_per_m2),
                    *(prices.travel_usd_per_m, prices.visit_usd),
                    *(prices.clean_out_usd, prices.crew_day_usd),
                )
            ],
            dtype=kernel.PRICES,
        ),
    )


def _due(one: SeasonField) -> int:
    return NEVER_DAY if one.due_day is None else one.due_day


def _pair(crew: SeasonCrew, one: SeasonField, task: SeasonTask) -> tuple[float, ...]:
    """Return a crew's way to a field, its pace there, its seed trucks' pace, and the haul's money.

    [m], over the usual, [s/m2], [USD/m2]
    """
    start_m = 0.0
    if crew.start_m is not None:
        start_m = math.dist(crew.start_m, one.place_m) * task.road_factor
        start_m *= 2.0 if crew.starts_early else 1.0
    pace = crew.lot_pace.get(one.lot, 1.0)
    if crew.truck_load_kg is None:
        return start_m, pace, 0.0, 0.0
    bins = {lot.name: lot.place_m for lot in task.lots}
    place, round_m = bins.get(one.lot), 0.0
    if place is not None:
        round_m = 2.0 * math.dist(place, one.place_m) * task.road_factor
    trips = one.rate_kg_per_m2 / crew.truck_load_kg
    trip_s = round_m / crew.truck_speed_mps + crew.truck_turn_s
    return start_m, pace, trips * trip_s, trips * round_m * task.prices.haul_usd_per_m


def _stops(schedule: Schedule) -> tuple[list[tuple[float, int]], list[int]]:
    """Return the stops' areas and fields, crew by crew and then of no crew, and where each begins.

    A field's stops add up to its area: what the plan does not place is a stop of no crew.
    """
    task = schedule.task
    field_at = {one.name: at for at, one in enumerate(task.fields)}
    left = [one.area_m2 for one in task.fields]
    stops: list[tuple[float, int]] = []
    first = [0]
    for crew in task.crews:
        mine = [one for one in schedule.crew_days if one.crew == crew.name]
        for crew_day in sorted(mine, key=lambda one: one.day):
            for visit in crew_day.visits:
                at = field_at.get(visit.field)
                if at is not None and left[at] > 0.0:
                    area = min(visit.area_m2, left[at])
                    stops.append((area, at))
                    left[at] -= area
        first.append(len(stops))
    rest = [at for at, one in enumerate(task.fields) if left[at] > SPARE * one.area_m2]
    rest.sort(key=lambda at: (_due(task.fields[at]), at))
    return [*stops, *((left[at], at) for at in rest)], first


# ---------------------------------------------------------------------- the worth of a change


@dataclass(frozen=True, kw_only=True, slots=True)
class Worth:
    """What a change is worth, season by season against the same luck; means with 95 % intervals.

    Attributes
    ----------
    days, days_low, days_high
        How much sooner the last field is done; below nought: later. [days]
    usd, usd_low, usd_high
        How much less it costs; below nought: more.
    no_difference
        Nothing differs in any season, or less than luck and half a percent can tell.
    """

    days: float
    days_low: float
    days_high: float
    usd: float
    usd_low: float
    usd_high: float
    no_difference: bool


def compare(base: SimulatedSeasons, changed: SimulatedSeasons) -> Worth:
    """Return what a change is worth: the mean of paired differences, base less changed.

    Parameters
    ----------
    base, changed
        Simulated with the same seed, so that season n is the same weather in both. A season
        that leaves a field undone counts as done on the day after the last.

    Raises
    ------
    OutOfRange
        Fewer than two seasons, or not the same number in both.

    Notes
    -----
    The interval is that of the mean of the differences, by Student's t.

    Source
    ------
    Textbook statistics (memory).
    """
    check_within("seasons", base.count, 2, math.inf)
    check_within("seasons of the change", changed.count, base.count, base.count)
    never = max(base.days[-1], changed.days[-1]) + 1
    sooner = base.last_finish_day(never) - changed.last_finish_day(never)
    saved = base.cost_usd - changed.cost_usd
    saved = np.where(np.abs(saved) > ROUNDING * np.abs(base.cost_usd), saved, 0.0)
    days, usd = _mean(sooner.astype(np.float64)), _mean(saved)
    small_usd = SAME_FRACTION * abs(float(base.cost_usd.mean()))
    same = not (sooner.any() or saved.any())
    unclear = days[1] <= 0.0 <= days[2] and usd[1] <= 0.0 <= usd[2]
    small = abs(days[0]) < SAME_FRACTION and abs(usd[0]) < small_usd
    return Worth(
        days=days[0],
        days_low=days[1],
        days_high=days[2],
        usd=usd[0],
        usd_low=usd[1],
        usd_high=usd[2],
        no_difference=same or (small and unclear),
    )


def _mean(values: FloatArray) -> tuple[float, float, float]:
    """Return the mean and its interval."""
    from scipy.special import stdtrit

    count = len(values)
    wide = float(stdtrit(count - 1, 0.5 + 0.5 * SURE_FRACTION))
    mean = float(values.mean())
    half = wide * float(values.std(ddof=1)) / math.sqrt(count)
    return mean, mean - half, mean + half
