"""How to drive a field: headland rounds, headings, passes, their order and their minutes.

Headings are tried along the field's own sides; the plan with the fewest minutes is kept. The
tool never leaves the field: see `duskline.core.rounds` and `duskline.core.rows`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from duskline.core.aim_mark import FirstPass, first_pass
from duskline.core.blocks import Block, expected_runs_count, split_into_blocks
from duskline.core.coverage import Rings, path_rings, rings_of, swath_rings, worked
from duskline.core.errors import FieldTooNarrow, OutOfRange
from duskline.core.outline import FloatArray, Outline, edge_headings_rad, longest_edge, sides
from duskline.core.rounds import (
    Rounds,
    begun_near,
    drive_rounds,
    rounds_depth_m,
    rounds_needed_count,
)
from duskline.core.route import Ground, Order, Route, find_route, ground_of
from duskline.core.rows import Rows, lay_rows, rows_count
from duskline.core.scan import scan_headings
from duskline.core.turns import TurnRule, room_needed_m, turn_times_s

__all__ = [
    "Driving",
    "FirstPass",
    "PassPlan",
    "candidate_headings_rad",
    "expected_turns_count",
    "missed_fraction",
    "orders_for",
    "pass_numbers",
    "plan_at_heading",
    "plan_covering",
    "plan_passes",
    "plan_swaths",
    "plans_along",
    "rows_count",
    "turned_heading_rad",
    "with_marks",
]

_HAIR = 1e-9
# Two sides whose directions differ by less are one direction to a driver. [rad]
_SAME_HEADING_RAD = math.radians(0.25)
# Of the headings along a ragged outline only this many, those with the fewest expected turns,
# are laid out, and of those this many are driven through turn by turn.
_HEADINGS_LAID_OUT = 24
_HEADINGS_DRIVEN = 4
# A gap in a row up to this, a pond or a rock pile, may be jumped. [m]
_SHORT_GAP_M = 80.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Driving:
    """How one machine drives.

    Attributes
    ----------
    driving_width_m
        From one pass to the next, overlap already taken off. [m]
    width_m
        What one pass works; None for the driving width. [m]
    speed_mps
        Working speed. [m/s]
    turn
        How it turns at the end of a pass.
    swing_m
        How far the machine reaches to the side of its own path while it turns: half a raised
        tool's width. [m]
    by_eye
        Whether the driver follows the last pass's edge, and so must drive beside it.
    headland_first
        Whether the rounds are driven before the passes; a covering machine drives them last.

    Raises
    ------
    OutOfRange
        A width or a speed that is not above zero, a driving width above the width, a swing
        below zero.
    """

    driving_width_m: float
    speed_mps: float
    turn: TurnRule
    width_m: float | None = None
    swing_m: float = 0.0
    by_eye: bool = False
    headland_first: bool = False

    def __post_init__(self) -> None:
        for name, value in (("driving width", self.driving_width_m), ("speed", self.speed_mps)):
            if not 0.0 < value < math.inf:
                raise OutOfRange(name, value, 0.0)
        if self.width_m is not None and not self.driving_width_m <= self.width_m < math.inf:
            raise OutOfRange("width", self.width_m, self.driving_width_m)
        if not 0.0 <= self.swing_m < math.inf:
            raise OutOfRange("swing", self.swing_m, 0.0)

    @property
    def worked_m(self) -> float:
        """What one pass works, overlap included. [m]"""
        return self.driving_width_m if self.width_m is None else self.width_m

    def room_m(self, order: Order) -> float:
        """Return how deep a headland the turns of an order need. [m]"""
        return room_needed_m(self.turn, order.step * self.driving_width_m, self.swing_m)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class PassPlan:
    """One way to drive one field with one machine.

    Attributes
    ----------
    heading_rad
        The line the passes lie along, counter-clockwise from east, in [0, pi); of the largest
        part where the field is driven in several. [rad]
    driving
        The machine the plan is for.
    blocks
        The parts of the field and each one's heading; one for most fields.
    order
        Which row comes next.
    rounds
        Headland rounds along every edge and hole.
    passes_count
        Rows of passes across what the headland leaves, all parts together. A row broken by a
        hole or a notch is driven in more than one run. Where the rounds leave no row, the strips
        between them.
    passes_m
        The runs in driving order, ``(n_runs, 2, 2)``: run, start or end, x or y. [m]
    row_indices, block_indices
        The row and the part each run belongs to, ``(n_runs,)``, from 0; strips too narrow for
        one more round stand behind the last part, unless they are all there is.
    turn_s
        From each run to the next, ``(n_runs - 1,)``. [s]
    link_s
        Between the rounds and the passes. [s]
    work_s
        Driving, turning and the rounds. [s]
    longest_edge_s
        The same machine driving along the longest side, the field in one part; of a covering
        plan, whose heading the spreader's gives, its own time. [s]
    first
        Where pass 1 starts and aims; None where rounds alone do the field.
    only_strips
        Whether the passes are but strips between the rounds, each with a heading of its own; the
        plan's is then the longest one's.
    """

    heading_rad: float
    driving: Driving
    blocks: tuple[Block, ...]
    order: Order
    rounds: Rounds
    passes_count: int
    passes_m: FloatArray
    row_indices: np.ndarray
    block_indices: np.ndarray
    turn_s: FloatArray
    link_s: float
    work_s: float
    longest_edge_s: float
    first: FirstPass | None
    only_strips: bool = False

    @property
    def rounds_count(self) -> int:
        """Headland rounds along the edge."""
        return self.rounds.count

    @property
    def rounds_m(self) -> tuple[FloatArray, ...]:
        """The middle line of each leg of the rounds, ``(n, 2)`` each. [m]"""
        return tuple(leg.path_m for leg in self.rounds.legs)

    @property
    def pass_lengths_m(self) -> FloatArray:
        """How long each run is, ``(n_runs,)``. [m]"""
        lengths_m: FloatArray = np.hypot(*(self.passes_m[:, 1] - self.passes_m[:, 0]).T)
        return lengths_m

    @property
    def turns_count(self) -> int:
        """Turns from the end of one run to the start of the next."""
        return max(len(self.passes_m) - 1, 0)

    @property
    def rounds_length_m(self) -> float:
        """Driven in rounds, all of them together. [m]"""
        return self.rounds.length_m

    @property
    def turning_s(self) -> float:
        """Turns between runs and at corners, and the way between rounds and passes. [s]"""
        return float(self.turn_s.sum() + self.rounds.turn_s.sum()) + self.link_s

    @property
    def headland_m(self) -> float:
        """How deep the headland is. [m]"""
        return rounds_depth_m(
            count=self.rounds.count,
            driving_width_m=self.driving.driving_width_m,
            width_m=self.driving.worked_m,
        )

    @property
    def turns_fit(self) -> bool:
        """Whether the headland is as deep as the turns need."""
        return self.headland_m >= self.driving.room_m(self.order) * (1.0 - _HAIR)

    @property
    def saved_s(self) -> float:
        """Time saved against driving along the longest side. [s]"""
        return self.longest_edge_s - self.work_s


def turned_heading_rad(*, heading_rad: float, angle_rad: float) -> float:
    """Return a heading turned by an angle, in [0, pi). [rad]

    Parameters
    ----------
    heading_rad
        The heading to start from, counter-clockwise from east. [rad]
    angle_rad
        How far to turn; to the left where positive. [rad]
    """
    return _half_turn_rad(heading_rad + angle_rad)


def expected_turns_count(
    outline: Outline, *, headings_rad: FloatArray, driving_width_m: float
) -> FloatArray:
    """Return how many runs a heading gives on average over where the first pass falls, ``(n,)``.

    Parameters
    ----------
    headings_rad
        Headings to weigh, ``(n,)``. [rad]
    driving_width_m
        From one pass to the next. [m]

    Source
    ------
    `duskline.core.blocks.expected_runs_count`.
    """
    return expected_runs_count(
        (outline.exterior_m, *outline.holes_m),
        headings_rad=headings_rad,
        driving_width_m=driving_width_m,
    )


def candidate_headings_rad(
    outline: Outline, *, driving_width_m: float, straight_within_m: float
) -> tuple[float, ...]:
    """Return the headings worth laying out, in [0, pi), the longest side's first. [rad]

    Parameters
    ----------
    driving_width_m
        From one pass to the next. [m]
    straight_within_m
        How far a side may stray from straight and still count as one. [m]

    Notes
    -----
    One for each direction of a side, holes included, taken as one where they differ by less
    than a quarter of a degree. Of a ragged outline's many, those with the fewest expected
    turns.
    """
    headings_rad = edge_headings_rad(outline, straight_within_m=straight_within_m)
    bins = np.round(headings_rad / _SAME_HEADING_RAD) % round(math.pi / _SAME_HEADING_RAD)
    _, first_of_bin = np.unique(bins, return_index=True)
    headings_rad = headings_rad[np.sort(first_of_bin)]
    if len(headings_rad) > _HEADINGS_LAID_OUT:
        turns = expected_turns_count(
            outline, headings_rad=headings_rad[1:], driving_width_m=driving_width_m
        )
        fewest = np.sort(np.argsort(turns, kind="stable")[: _HEADINGS_LAID_OUT - 1])
        headings_rad = np.concatenate([headings_rad[:1], headings_rad[1:][fewest]])
    return tuple(headings_rad.tolist())


def orders_for(driving: Driving) -> tuple[Order, ...]:
    """Return the orders of passes that suit a machine and its driver.

    Notes
    -----
    Row after row always. Where the turning circle is wider than that, a guided driver may also
    skip rows and fill them in on the way back; one who goes by eye may drive two lands, so that
    all rows but one of each pair of lands have a driven neighbour.

    Source
    ------
    Derived here: a half circle takes passes two turning radii apart.
    """
    circle = 2.0 * driving.turn.radius_m / driving.driving_width_m
    if circle <= 1.0 + _HAIR:
        return (Order(way="next"),)
    step = math.ceil(circle - _HAIR)
    wide = Order(way="lands", step=step + 1) if driving.by_eye else Order(way="fill", step=step)
    return Order(way="next"), wide


def plan_passes(
    outline: Outline,
    *,
    driving: Driving,
    straight_within_m: float,
    from_m: tuple[float, float] | None = None,
    to_m: tuple[float, float] | None = None,
) -> PassPlan:
    """Return the plan with the fewest minutes among headings along the field's sides.

    Never slower than driving along the longest side, which is one of the headings tried and
    is kept when another is no faster.

    Parameters
    ----------
    outline
        The field.
    driving
        The machine.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    from_m, to_m
        Where the machine comes in and where it leaves, x and y. [m]

    Raises
    ------
    FieldTooNarrow
        The machine fits nowhere between the edges.

    Source
    ------
    Derived here; MACH-C74 and the triangle of tests/core/test_passes.py.
    """
    desk = _Desk(outline, driving, straight_within_m, from_m, to_m)
    headings_rad = candidate_headings_rad(
        outline, driving_width_m=driving.driving_width_m, straight_within_m=straight_within_m
    )
    along_longest = desk.best([[headings_rad[0]]])
    others = [desk.best([[heading] for heading in headings_rad[1:]])] if headings_rad[1:] else []
    return _kept(along_longest, [*others, *desk.in_parts()])


def plan_at_heading(
    outline: Outline,
    *,
    heading_rad: float,
    driving: Driving,
    straight_within_m: float,
    from_m: tuple[float, float] | None = None,
    to_m: tuple[float, float] | None = None,
) -> PassPlan:
    """Return the plan for one heading, its minutes beside those along the longest side.

    Parameters
    ----------
    outline
        The field.
    heading_rad
        The line of the passes, counter-clockwise from east. [rad]
    driving
        The machine.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    from_m, to_m
        Where the machine comes in and where it leaves, x and y. [m]

    Raises
    ------
    FieldTooNarrow
        The machine fits nowhere between the edges.
    """
    desk = _Desk(outline, driving, straight_within_m, from_m, to_m)
    longest = longest_edge(outline, straight_within_m=straight_within_m)
    along_longest = desk.best([[_half_turn_rad(longest.heading_rad)]])
    chosen = desk.best([[_half_turn_rad(heading_rad)]])
    return replace(chosen, longest_edge_s=along_longest.work_s)


def plan_covering(
    outline: Outline,
    *,
    spread: PassPlan,
    angles_rad: Sequence[float],
    driving: Driving,
    straight_within_m: float,
    from_m: tuple[float, float] | None = None,
    to_m: tuple[float, float] | None = None,
) -> PassPlan:
    """Return the covering plan: in each part its heading lies at an angle to the spread heading.

    Of the angles the one with the fewest minutes is kept, the first of equals: turned to the
    left and to the right, usually.

    Parameters
    ----------
    outline
        The field.
    spread
        How the spreader drove.
    angles_rad
        Angles from the spread heading to choose among, to the left where positive. [rad]
    driving
        The covering machine.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    from_m, to_m
        Where the machine comes in and where it leaves, x and y. [m]

    Raises
    ------
    FieldTooNarrow
        The machine fits nowhere between the edges.
    """
    desk = _Desk(outline, driving, straight_within_m, from_m, to_m)
    turned = [
        [_half_turn_rad(block.heading_rad + angle_rad) for block in spread.blocks]
        for angle_rad in angles_rad
    ]
    regions = [block.region for block in spread.blocks] if len(spread.blocks) > 1 else None
    return desk.best(turned, regions=regions)


def plans_along(
    outline: Outline,
    *,
    headings_rad: Sequence[float],
    driving: Driving,
    straight_within_m: float,
    from_m: tuple[float, float] | None = None,
    to_m: tuple[float, float] | None = None,
) -> tuple[PassPlan, ...]:
    """Return one plan for each heading, in the order given, to be chosen among by other reasons.

    Parameters
    ----------
    outline
        The field.
    headings_rad
        The lines of the passes, counter-clockwise from east. [rad]
    driving
        The machine.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    from_m, to_m
        Where the machine comes in and where it leaves, x and y. [m]

    Raises
    ------
    FieldTooNarrow
        The machine fits nowhere between the edges.
    """
    desk = _Desk(outline, driving, straight_within_m, from_m, to_m)
    longest = longest_edge(outline, straight_within_m=straight_within_m)
    along_longest = desk.best([[_half_turn_rad(longest.heading_rad)]])
    return tuple(
        replace(desk.best([[_half_turn_rad(one)]]), longest_edge_s=along_longest.work_s)
        for one in headings_rad
    )


def with_marks(plan: PassPlan, outline: Outline, *, straight_within_m: float) -> PassPlan:
    """Return a plan with the marks of its first pass, told from the sides of an outline.

    Parameters
    ----------
    plan
        The plan, its passes as they are driven.
    outline
        The field whose corners a person sees.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    """
    if not len(plan.passes_m):
        return replace(plan, first=None)
    first = first_pass(
        plan.passes_m[0],
        straight_sides=sides(outline, straight_within_m=straight_within_m),
        drawn_sides=sides(outline, straight_within_m=0.0),
    )
    return replace(plan, first=first)


def pass_numbers(plan: PassPlan) -> tuple[int | None, ...]:
    """Return which pass each run belongs to, in driving order, ``(n_runs,)``.

    Passes are counted from 1 as they are driven. A pass broken by a hole has several runs; a
    short run beside the passes has no number and gives None.
    """
    rows = list(zip(plan.block_indices.tolist(), plan.row_indices.tolist(), strict=True))
    parts = len(plan.blocks)
    order = list(dict.fromkeys(row for row in rows if row[0] < parts))
    number_of = {row: place for place, row in enumerate(order, start=1)}
    return tuple(number_of.get(row) for row in rows)


def plan_swaths(plan: PassPlan) -> Rings:
    """Return the ground every run and every leg of the rounds goes over, as rings. [m]"""
    width_m = plan.driving.worked_m
    return rings_of(
        swath_rings(plan.passes_m, width_m=width_m),
        *(path_rings(path_m, width_m=width_m) for path_m in plan.rounds_m),
    )


def missed_fraction(outline: Outline, plan: PassPlan) -> float:
    """Return the share of the field that no pass and no round goes over.

    Parameters
    ----------
    outline
        The field the plan was made for.
    plan
        The plan, driven exactly.

    Notes
    -----
    A pass goes over its length and half its width to each side; a leg of a round likewise, its
    gentle bends rounded.

    Source
    ------
    `duskline.core.coverage.worked`.
    """
    return worked(outline, plan_swaths(plan)).missed_fraction


def _kept(along_longest: PassPlan, others: Sequence[PassPlan]) -> PassPlan:
    """Return the quickest plan; the longest side's unless another is truly quicker."""
    best = min(others, key=lambda plan: plan.work_s, default=along_longest)
    if best.work_s >= along_longest.work_s * (1.0 - _HAIR):
        best = along_longest
    return replace(best, longest_edge_s=along_longest.work_s)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Headland:
    """Rounds for one order of passes, and the ground they leave."""

    order: Order
    rounds: Rounds
    ground: Ground
    rounds_s: float
    outer_starts_m: FloatArray


class _Desk:
    """One field and one machine while plans are drawn up: what all of them share."""

    def __init__(
        self,
        outline: Outline,
        driving: Driving,
        straight_within_m: float,
        from_m: tuple[float, float] | None,
        to_m: tuple[float, float] | None,
    ) -> None:
        self._outline = outline
        self._driving = driving
        self._within_m = straight_within_m
        self._from_m, self._to_m = from_m, to_m
        made: dict[int, Rounds] = {}
        self._headlands = []
        for order in orders_for(driving):
            count = rounds_needed_count(
                room_m=driving.room_m(order),
                driving_width_m=driving.driving_width_m,
                width_m=driving.worked_m,
            )
            # No point of a field lies as deep as the side of a square of the same area.
            deepest = math.ceil(math.sqrt(outline.area_m2) / driving.driving_width_m)
            count = max(min(count, deepest), 1)
            if count not in made:
                made[count] = self._rounds(count)
            self._headlands.append(self._headland(order, made[count]))

    def _rounds(self, count: int) -> Rounds:
        rounds = drive_rounds(
            self._outline,
            count=count,
            driving_width_m=self._driving.driving_width_m,
            width_m=self._driving.worked_m,
            rule=self._driving.turn,
        )
        if not rounds.legs:
            raise FieldTooNarrow(width_m=self._driving.worked_m)
        return begun_near(rounds, place_m=self._from_m, rule=self._driving.turn)

    def _headland(self, order: Order, rounds: Rounds) -> _Headland:
        # Lifted, the machine may drive wherever its own half width keeps off the edges.
        depth_m = min(self._driving.swing_m, 0.5 * self._driving.worked_m)
        ground = self._outline.shape.buffer(-depth_m, join_style="mitre", mitre_limit=5.0)
        return _Headland(
            order=order,
            rounds=rounds,
            ground=ground_of(ground),
            rounds_s=rounds.length_m / self._driving.speed_mps + float(rounds.turn_s.sum()),
            outer_starts_m=np.asarray(
                [leg.path_m[0] for leg in rounds.legs if leg.round_index == 0]
            ),
        )

    def best(
        self,
        headings: Sequence[Sequence[float]],
        *,
        regions: Sequence[shapely.Polygon] | None = None,
    ) -> PassPlan:
        """Return the quickest plan of some headings, one for each part, over all orders."""
        laid = [
            (headland, chosen, rows, route)
            for headland in self._headlands
            for chosen, rows in self._likeliest(headland, headings, regions)
            for route in self._routes(headland, rows)
        ]
        spent_s = [
            self._passes_s(route) + headland.rounds_s + self._link_s(headland, route)
            for headland, _, _, route in laid
        ]
        # Which leg the rounds begin at moves a covering plan by some seconds more: the quickest
        # few are laid out to the end.
        quickest = np.argsort(spent_s, kind="stable")[: 1 if self._driving.headland_first else 3]
        finished = [
            self._finished(headland, route, rows, chosen, regions)
            for headland, chosen, rows, route in (laid[at] for at in quickest.tolist())
        ]
        quickest_plan = min(finished, key=lambda plan: plan.work_s)
        return with_marks(quickest_plan, self._outline, straight_within_m=self._within_m)

    def in_parts(self) -> list[PassPlan]:
        """Return the plan with the field in parts, where parts are worth it."""
        blocks = split_into_blocks(
            self._outline.shape,
            driving_width_m=self._driving.driving_width_m,
            straight_within_m=self._within_m,
        )
        if len(blocks) == 1:
            return []
        regions = [block.region for block in blocks]
        return [self.best([[block.heading_rad for block in blocks]], regions=regions)]

    def _likeliest(
        self,
        headland: _Headland,
        tried: Sequence[Sequence[float]],
        regions: Sequence[shapely.Polygon] | None,
    ) -> list[tuple[Sequence[float], list[Rows]]]:
        """Return the few headings that promise the least time, with their rows laid out."""
        likeliest = tried
        if regions is None and len(tried) > _HEADINGS_DRIVEN:
            likeliest = self._promising(headland, tried)
        pieces = _pieces(headland.rounds.inner, regions)
        return [
            (
                chosen,
                [
                    lay_rows(
                        rings_m,
                        heading_rad=heading_rad,
                        driving_width_m=self._driving.driving_width_m,
                        width_m=self._driving.worked_m,
                    )
                    if rings_m
                    else _no_rows(heading_rad)
                    for rings_m, heading_rad in zip(pieces, chosen, strict=True)
                ],
            )
            for chosen in likeliest
        ]

    def _promising(
        self, headland: _Headland, tried: Sequence[Sequence[float]]
    ) -> list[Sequence[float]]:
        """Return the headings whose lengths and runs promise the least time."""
        inner = headland.rounds.inner
        if not inner:
            return list(tried[:_HEADINGS_DRIVEN])
        scan = scan_headings(
            inner,
            headings_rad=np.asarray([heading_rad for (heading_rad,) in tried]),
            width_m=self._driving.driving_width_m,
        )
        turn_s = self._typical_turn_s(headland.order)
        likely_s = scan.lengths_m / self._driving.speed_mps + scan.runs_count * turn_s
        return [tried[at] for at in np.argsort(likely_s, kind="stable")[:_HEADINGS_DRIVEN]]

    def _typical_turn_s(self, order: Order) -> float:
        across_m = order.step * self._driving.driving_width_m
        start, end = np.asarray([[0.0, 0.0, 0.0]]), np.asarray([[0.0, across_m, math.pi]])
        return float(turn_times_s(start, end, self._driving.turn)[0])

    def _routes(self, headland: _Headland, rows: Sequence[Rows]) -> Iterator[Route]:
        """Yield routes that jump no gap in a row, short ones, and all, where that differs."""
        odd = [_single_run(run_m) for run_m in headland.rounds.odd_m]
        rounds_end_m = tuple(headland.rounds.legs[-1].path_m[-1].tolist())
        gaps_m = np.concatenate([_gaps_m(one) for one in rows]) if rows else np.empty(0)
        tried: set[int] = set()
        for jump_m in (0.0, _SHORT_GAP_M, math.inf):
            jumped = int((gaps_m <= jump_m).sum())
            if jumped in tried:
                continue
            tried.add(jumped)
            yield find_route(
                [*rows, *odd],
                order=headland.order,
                rule=self._driving.turn,
                ground=headland.ground,
                from_m=rounds_end_m if self._driving.headland_first else self._from_m,
                to_m=self._to_m if self._driving.headland_first else None,
                guide_first=self._driving.by_eye,
                jump_m=jump_m,
            )

    def _passes_s(self, route: Route) -> float:
        lengths_m = np.hypot(*(route.passes_m[:, 1] - route.passes_m[:, 0]).T)
        return float(lengths_m.sum()) / self._driving.speed_mps + float(route.turn_s.sum())

    def _link_s(self, headland: _Headland, route: Route) -> float:
        """Return the time between the rounds and the passes of a route. [s]"""
        if not len(route.passes_m):
            return 0.0
        turn = self._driving.turn
        if self._driving.headland_first:
            gaps_m = route.passes_m[0, 0] - headland.rounds.legs[-1].path_m[-1]
        else:
            gaps_m = headland.outer_starts_m - route.passes_m[-1, 1]
        gap_m = float(np.hypot(gaps_m[..., 0], gaps_m[..., 1]).min())
        return gap_m / turn.speed_mps + turn.fixed_s

    def _joined(self, headland: _Headland, route: Route) -> tuple[Rounds, float]:
        """Return the rounds as they are driven beside a route, and the way between the two. [s]"""
        rounds = headland.rounds
        if len(route.passes_m) and not self._driving.headland_first:
            last_m = (float(route.passes_m[-1, 1, 0]), float(route.passes_m[-1, 1, 1]))
            rounds = begun_near(rounds, place_m=last_m, rule=self._driving.turn)
        return rounds, self._link_s(headland, route)

    def _work_s(self, route: Route, rounds: Rounds, link_s: float) -> float:
        rounds_s = rounds.length_m / self._driving.speed_mps + float(rounds.turn_s.sum())
        return self._passes_s(route) + rounds_s + link_s

    def _finished(
        self,
        headland: _Headland,
        route: Route,
        rows: Sequence[Rows],
        chosen: Sequence[float],
        regions: Sequence[shapely.Polygon] | None,
    ) -> PassPlan:
        driving = self._driving
        rounds, link_s = self._joined(headland, route)
        work_s = self._work_s(route, rounds, link_s)
        shapes = [self._outline.shape] if regions is None else list(regions)
        largest = int(np.argmax([shape.area for shape in shapes]))
        heading_rad, passes_count = chosen[largest], sum(one.rows_count for one in rows)
        row_indices, block_indices = route.row_indices, route.block_indices
        only_strips = not passes_count and len(route.passes_m) > 0
        if only_strips:
            passes_count = len(route.passes_m)
            row_indices = np.arange(passes_count)
            block_indices = np.full(passes_count, largest)
            start_m, end_m = max(route.passes_m, key=lambda run_m: math.dist(run_m[0], run_m[1]))
            heading_rad = _half_turn_rad(math.atan2(end_m[1] - start_m[1], end_m[0] - start_m[0]))
        return PassPlan(
            heading_rad=heading_rad,
            driving=driving,
            blocks=tuple(
                Block(region=shape, heading_rad=heading_rad)
                for shape, heading_rad in zip(shapes, chosen, strict=True)
            ),
            order=headland.order,
            rounds=rounds,
            passes_count=passes_count,
            passes_m=route.passes_m,
            row_indices=row_indices,
            block_indices=block_indices,
            turn_s=route.turn_s,
            link_s=link_s,
            work_s=work_s,
            longest_edge_s=work_s,
            first=None,
            only_strips=only_strips,
        )


def _pieces(
    inner: Sequence[Outline], regions: Sequence[shapely.Polygon] | None
) -> list[list[FloatArray]]:
    """Return the rings of the ground for passes, part by part."""
    if regions is None:
        return [[ring for piece in inner for ring in (piece.exterior_m, *piece.holes_m)]]
    ground = shapely.MultiPolygon([piece.shape for piece in inner])
    found = []
    for region in regions:
        parts = shapely.get_parts(shapely.intersection(ground, region))
        found.append(
            [
                shapely.get_coordinates(ring)[:-1]
                for part in parts
                if part.geom_type == "Polygon" and part.area > 1e-2
                for ring in (part.exterior, *part.interiors)
            ]
        )
    return found


def _gaps_m(rows: Rows) -> FloatArray:
    """Return what lies between neighbouring runs of the same row, ``(n_gaps,)``. [m]"""
    same = rows.row_indices[1:] == rows.row_indices[:-1]
    gaps_m: FloatArray = (rows.spans_m[1:, 0] - rows.spans_m[:-1, 1])[same]
    return gaps_m


def _no_rows(heading_rad: float) -> Rows:
    """Return the rows of a part that its rounds do whole; it keeps its place among the parts."""
    return Rows(
        heading_rad=heading_rad,
        rows_count=0,
        row_indices=np.empty(0, dtype=np.intp),
        spans_m=np.empty((0, 2)),
        middles_m=np.empty(0),
    )


def _single_run(run_m: FloatArray) -> Rows:
    """Return one run as a row of its own."""
    (x0_m, y0_m), (x1_m, y1_m) = run_m.tolist()
    heading_rad = math.atan2(y1_m - y0_m, x1_m - x0_m)
    cos, sin = math.cos(heading_rad), math.sin(heading_rad)
    return Rows(
        heading_rad=heading_rad,
        rows_count=1,
        row_indices=np.zeros(1, dtype=np.intp),
        spans_m=np.asarray([[x0_m * cos + y0_m * sin, x1_m * cos + y1_m * sin]]),
        middles_m=np.asarray([y0_m * cos - x0_m * sin]),
    )


def _half_turn_rad(heading_rad: float) -> float:
    # Twice, because a hair below 0 comes back as pi itself the first time.
    return heading_rad % math.pi % math.pi
