"""Seed on the ground, cell by cell: what the spreader leaves, and what covering makes of it.

The cells lie along the covering tool's travel. Both machines stray from their lines; where the
tool goes through, it carries seed along and across, and where it misses, seed stays where it lay.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from duskline.core.checks import check_positive, check_share, check_within
from duskline.core.coverage import Grid, Rings, coverage
from duskline.core.errors import OutOfRange
from duskline.core.outline import FloatArray, Outline
from duskline.core.trays import TrayPattern

if TYPE_CHECKING:
    from duskline.core.passes import PassPlan

__all__ = [
    "DensityMap",
    "Displacement",
    "DrivenLines",
    "MapFrame",
    "Steering",
    "Tool",
    "density_map",
    "driven_lines",
    "field_density",
]

CellMap: TypeAlias = NDArray[np.float32]

_TABLE_STEP_M = 0.002  # read to the nearest: off by 1 mm at most
_LONGEST_ERROR_STEP_M = 1.0
_SECTORS = 72  # directions of travel are told apart to 5 degrees, from the grid's own
_NO_GROUND = 1e-3  # of a drawn cell
_MOST_DIRECTIONS = 254
_BAND_ROWS = 32
_STEADIEST_LEAN = math.tan(math.radians(30.0))
_MATERN = math.sqrt(3.0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Displacement:
    """How a covering tool moves seed: a shift forward, and a spread about it both ways.

    Attributes
    ----------
    along_sd_m, lateral_sd_m
        Spread along travel and across it. [m]
    forward_m
        Mean shift in the direction of travel. [m]
    """

    along_sd_m: float
    lateral_sd_m: float
    forward_m: float = 0.0

    def __post_init__(self) -> None:
        check_within("spread along travel", self.along_sd_m, 0.0, 20.0)
        check_within("spread across travel", self.lateral_sd_m, 0.0, 20.0)
        check_within("shift forward", self.forward_m, -20.0, 20.0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Steering:
    """How a machine strays from its line.

    Attributes
    ----------
    sd_m
        By guided line: the spread of the machine about it. By eye: the spread of the gap to the
        last pass's edge. [m]
    correlation_m
        How far along the line the error is felt. [m]
    by_eye
        Whether each pass follows the last one's edge, so that places drift.
    """

    sd_m: float
    correlation_m: float = 40.0
    by_eye: bool = False

    def __post_init__(self) -> None:
        check_within("spread of steering", self.sd_m, 0.0, 20.0)
        check_within("reach of a steering error", self.correlation_m, 1.0, 1e5)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class DrivenLines:
    """What one machine drives once over a field.

    Attributes
    ----------
    lines_m
        Straight runs from start to end, ``(n, 2, 2)`` run, end, x or y. [m]
    row_indices
        Which row each run belongs to, ``(n,)``; runs of one row share one line, and by eye row
        k + 1 follows row k (or k follows k + 1). None: each run is a row.
    group_indices
        Parts of the field with rows of their own, ``(n,)``. None: one part.
    legs_m
        Rounds along the edges, ``(k, 2)`` corners each, in driving order. [m]
    """

    lines_m: FloatArray
    row_indices: NDArray[np.intp] | None = None
    group_indices: NDArray[np.intp] | None = None
    legs_m: tuple[FloatArray, ...] = ()

    def __post_init__(self) -> None:
        lines_m = np.asarray(self.lines_m, dtype=np.float64).reshape(-1, 2, 2)
        count = len(lines_m)
        rows = np.arange(count) if self.row_indices is None else np.asarray(self.row_indices)
        groups = (
            np.zeros(count, dtype=np.intp)
            if self.group_indices is None
            else np.asarray(self.group_indices)
        )
        if len(rows) != count or len(groups) != count:
            raise OutOfRange("rows of the runs", len(rows), count, count)
        object.__setattr__(self, "lines_m", lines_m)
        object.__setattr__(self, "row_indices", rows)
        object.__setattr__(self, "group_indices", groups)


def driven_lines(plan: PassPlan) -> DrivenLines:
    """Return the runs and rounds of a drive plan."""
    return DrivenLines(
        lines_m=plan.passes_m,
        row_indices=plan.row_indices,
        group_indices=plan.block_indices,
        legs_m=plan.rounds_m,
    )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Tool:
    """One covering of the field.

    Attributes
    ----------
    lines
        What it drives.
    width_m
        What one pass works. [m]
    displacement, steering
        How it moves seed and how it strays.
    """

    lines: DrivenLines
    width_m: float
    displacement: Displacement
    steering: Steering

    def __post_init__(self) -> None:
        check_positive("tool width", self.width_m)


@dataclass(frozen=True, kw_only=True, slots=True)
class MapFrame:
    """Where a drawn map lies: cell (row, column) begins so far along and across the heading.

    Attributes
    ----------
    heading_rad
        Columns run this way, rows to the left of it; counter-clockwise from east. [rad]
    origin_m
        First corner of cell (0, 0), x and y in the field's plane. [m]
    cell_m
        Side of a drawn cell. [m]
    """

    heading_rad: float
    origin_m: tuple[float, float]
    cell_m: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class DensityMap:
    """Seed on the ground before and after covering; 1 is the planned rate.

    Attributes
    ----------
    cell_m
        Side of the cells it was worked out on. [m]
    sums
        Judged ground not worked, worked once, worked more: its cells, and the sums of density
        and its square before and after, ``(3, 5)``.
    histograms
        The same cells by density: before or after, times worked, bin, ``(2, 3, 4096)``.
    sown_cells, left_cells
        Sums over all cells of the grid before and after, where a margin was asked for, else 0.
    frame
        Where the drawn maps lie; None where none was asked for.
    before, after, worked
        Drawn maps, block means, NaN outside the field, ``(rows, columns)``; ``worked`` counts
        two for more than once.
    judged
        Drawn cells that lie in the judged ground as a whole, ``(rows, columns)``.
    """

    cell_m: float
    sums: FloatArray
    histograms: FloatArray
    sown_cells: float
    left_cells: float
    frame: MapFrame | None = None
    before: CellMap | None = field(default=None, repr=False)
    after: CellMap | None = field(default=None, repr=False)
    worked: CellMap | None = field(default=None, repr=False)
    judged: NDArray[np.bool_] | None = field(default=None, repr=False)

    @property
    def judged_m2(self) -> float:
        """Ground the figures speak of. [m2]"""
        return float(self.sums[:, 0].sum()) * self.cell_m**2

    @property
    def state_fraction(self) -> tuple[float, float, float]:
        """Share of the judged ground missed, worked once, worked more. Fraction."""
        missed, once, more = (self.sums[:, 0] / self.sums[:, 0].sum()).tolist()
        return missed, once, more

    @property
    def skip_fraction(self) -> float:
        """Share of the judged ground no tool went through. Fraction."""
        return self.state_fraction[0]

    @property
    def mean_before(self) -> float:
        """Mean density before covering, of the planned rate. Fraction."""
        return self._moments(1, (0, 1, 2))[0]

    @property
    def mean_after(self) -> float:
        """Mean density after covering, of the planned rate. Fraction."""
        return self._moments(3, (0, 1, 2))[0]

    @property
    def before_cv_fraction(self) -> float:
        """SD over mean before covering. Fraction."""
        return self._cv(1, (0, 1, 2))

    @property
    def after_cv_fraction(self) -> float:
        """SD over mean after covering. Fraction."""
        return self._cv(3, (0, 1, 2))

    @property
    def covered_cv_fraction(self) -> float:
        """SD over mean after covering, missed ground left out. Fraction."""
        return self._cv(3, (1, 2))

    def state_mean(self, state: int, *, after: bool = True) -> float:
        """Return the mean density of ground missed (0), worked once (1) or more (2).

        NaN where there is no such ground.
        """
        check_within("times worked", state, 0, 2)
        return self._moments(3 if after else 1, (state,))[0]

    def below_fraction(self, density: float, *, after: bool = True) -> float:
        """Return the share of the judged ground below a density. Fraction.

        Parameters
        ----------
        density
            Of the planned rate.
        after
            Whether covering is done.
        """
        check_within("density", density, 0.0, math.inf)
        counts = self.histograms[int(after)].sum(axis=0)
        return _below(counts, density) / float(counts.sum())

    def quantile(self, share: float, *, after: bool = True) -> float:
        """Return the density that a share of the judged ground lies below, of the planned rate.

        Parameters
        ----------
        share
            0.1 for the limit of the thinnest tenth.
        after
            Whether covering is done.
        """
        check_share("share of the ground", share)
        return _quantile(self.histograms[int(after)].sum(axis=0), share)

    def thinnest_mean(self, share: float, *, after: bool = True) -> float:
        """Return the mean density of the thinnest share of the ground, of the planned rate."""
        check_share("share of the ground", share)
        counts = self.histograms[int(after)].sum(axis=0)
        wanted = share * counts.sum()
        taken = np.clip(wanted - (np.cumsum(counts) - counts), 0.0, counts)
        return float((taken * _bin_middles()).sum() / wanted)

    @property
    def tenth_density(self) -> float:
        """Density after covering that a tenth of the ground lies below."""
        return self.quantile(0.1)

    @property
    def below_half_fraction(self) -> float:
        """Share of the ground below half the planned rate after covering. Fraction."""
        return self.below_fraction(0.5)

    def thin_and_missed_fraction(self, *, thin_share: float = 0.2) -> float:
        """Return the share of the ground that was sown thin and that no tool went through.

        Parameters
        ----------
        thin_share
            Thin is the thinnest such share of the ground before covering.
        """
        counts = self.histograms[0]
        limit = self.quantile(thin_share, after=False)
        return _below(counts[0], limit) / float(counts.sum())

    def plots_cv_fraction(self, *, after: bool = True) -> float:
        """Return SD over mean of plots as large as a drawn cell, judged ones alone. Fraction.

        Parameters
        ----------
        after
            Whether covering is done.

        Raises
        ------
        OutOfRange
            No map was drawn, or no drawn cell lies in the judged ground as a whole.

        Notes
        -----
        The figure to show: a tool leaves heaps and gaps a hand wide along its edges, which fill
        the figure of single cells and which plants of neighbouring rows level out.
        """
        drawn = self.after if after else self.before
        plots = 0 if self.judged is None else int(self.judged.sum())
        if drawn is None or not plots:
            raise OutOfRange("plots in the judged ground", plots, 1)
        rates = drawn[self.judged].astype(np.float64)
        return float(rates.std() / rates.mean())

    def _moments(self, at: int, states: tuple[int, ...]) -> tuple[float, float]:
        cells, total, squares = self.sums[np.ix_(states, (0, at, at + 1))].sum(axis=0).tolist()
        if cells <= 0.0:
            return math.nan, math.nan
        mean = total / cells
        return mean, max(squares / cells - mean * mean, 0.0)

    def _cv(self, at: int, states: tuple[int, ...]) -> float:
        mean, variance = self._moments(at, states)
        return math.sqrt(variance) / mean if mean > 0.0 else math.nan


def _bin_middles() -> FloatArray:
    from duskline.core import density_kernel as kernel

    bins = np.arange(kernel.BINS, dtype=np.float64)
    return (bins + 0.5) * (kernel.MOST_DENSITY / kernel.BINS)


def _below(counts: FloatArray, density: float) -> float:
    """Return how many cells lie below a density, a bin's own spread evenly over it."""
    from duskline.core import density_kernel as kernel

    at = min(density * kernel.BINS / kernel.MOST_DENSITY, float(kernel.BINS))
    whole = int(at)
    part = (at - whole) * counts[whole] if whole < len(counts) else 0.0
    return float(counts[:whole].sum() + part)


def _quantile(counts: FloatArray, share: float) -> float:
    from duskline.core import density_kernel as kernel

    rising = np.cumsum(counts)
    wanted = share * rising[-1]
    at = int(np.searchsorted(rising, wanted))
    before = rising[at] - counts[at]
    return float((at + (wanted - before) / counts[at]) * kernel.MOST_DENSITY / kernel.BINS)


# ------------------------------------------------------------------------------------ the map


def field_density(
    outline: Outline,
    *,
    spread: PassPlan,
    cover: PassPlan | None,
    pattern: TrayPattern,
    displacement: Displacement,
    spread_steering: Steering,
    cover_steering: Steering,
    cover_again: PassPlan | None = None,
    cell_m: float = 0.25,
    seed: int = 0,
    map_cell_m: float | None = None,
    judged: Sequence[Outline] | None = None,
) -> DensityMap:
    """Return the density on one field driven by the plans of both machines.

    Parameters
    ----------
    outline
        The field.
    spread, cover, cover_again
        The spreader's plan, the covering plan, and that of a second covering. None: not done.
    pattern
        What one pass of the spreader leaves, left to right of its travel.
    displacement
        How covering moves seed.
    spread_steering, cover_steering
        How the machines stray.
    cell_m, map_cell_m
        Cells to reckon with, and those of the drawn maps; None draws none. [m]
    seed
        The same seed gives the same map to the last byte.
    judged
        Ground the figures speak of, such as the field less its headland; None for all.

    Notes
    -----
    See `density_map`. Each run is laid as the plan drives it, the pattern turned with it. By
    eye the drift is closed: see `density_map`.

    Source
    ------
    Derived here; see `density_map`.
    """
    tools = [
        Tool(
            lines=driven_lines(plan),
            width_m=plan.driving.worked_m,
            displacement=displacement,
            steering=cover_steering,
        )
        for plan in (cover, cover_again)
        if plan is not None
    ]
    return density_map(
        outline,
        spread=driven_lines(spread),
        pattern=pattern,
        driving_width_m=spread.driving.driving_width_m,
        spread_steering=spread_steering,
        tools=tools,
        heading_rad=spread.heading_rad if cover is None else cover.heading_rad,
        cell_m=cell_m,
        seed=seed,
        map_cell_m=map_cell_m,
        judged=judged,
        close_drift=True,
    )


def density_map(
    outline: Outline,
    *,
    spread: DrivenLines,
    pattern: TrayPattern,
    driving_width_m: float,
    spread_steering: Steering,
    tools: Sequence[Tool],
    heading_rad: float,
    cell_m: float = 0.25,
    seed: int = 0,
    map_cell_m: float | None = None,
    judged: Sequence[Outline] | None = None,
    margin_m: float = 0.0,
    close_drift: bool = False,
) -> DensityMap:
    """Return the density of seed before and after covering; 1 is the planned rate.

    Parameters
    ----------
    outline
        The field.
    spread, pattern, driving_width_m, spread_steering
        What the spreader drives, what one pass leaves, the driving width its rate is set for
        [m], and how it strays.
    tools
        The coverings, in the order they are done; all with tools that move seed alike or not.
    heading_rad
        The cells lie along this line, best the first covering's; counter-clockwise from east.
    cell_m, map_cell_m
        Cells to reckon with, and those of the drawn maps, whole times larger. [m]
    seed
        For the steering errors.
    judged
        Ground the figures speak of; None for the outline.
    margin_m
        Reckon also so far beyond the field, and give the sums of all cells: past throw and
        tool's reach no seed is lost. [m]
    close_drift
        By eye: share out what has come together at the last row over all rows, so that the last
        one still meets its headland; gaps keep their spread. Without it the last row ends
        wherever it ends.

    Raises
    ------
    OutOfRange
        Cells, seed, margin or a figure of the machines that cannot be.

    Notes
    -----
    Before: each cell's middle gets ``f(x - e) S / integral of f`` from every pass whose length
    it lies beside, x being right of travel, f straight lines between trays and nothing one
    spacing beyond, S the driving width. Bends of a round are mitred: a place belongs to the
    piece on its side of the bisector.

    Steering errors are smooth: correlation (1 + z) exp(-z), z = sqrt(3) distance / reach, known
    every metre, or every twentieth of the reach where that is less, and straight between. By
    guided line each row has its own; by eye each adds its own to that of the row before. Rounds
    each have their own, either way.

    Worked: the cell's middle lies under a tool, counted up to two. After: each worked cell's
    seed is moved once or twice by a normal law along and across its tool's travel, cut at four
    SD and brought back to a whole; a cell's own width (cell^2 / 12) is taken off its variance,
    so that finer cells give the same. Travel slanting to the cells is told apart to 5 degrees,
    and the link between its shift along rows and across them is left out.

    Twice worked seed is moved twice from where it was sown, not first by one pass and then by
    the next: along the edges of passes a little other than driven. On even ground, laps of
    0.3 m, 0.12 m moved across, the heaps along edges so have a CV of 0.028 and pass after pass
    0.063; in plots of 1 m 0.005 and 0.007, hence `DensityMap.plots_cv_fraction`.

    Finer cells: from 0.25 to 0.125 m the CV of single cells moved by 0.2 to 0.3 points of a
    hundred where machines stray. Where none does, a lap is a whole number of cells wide, and it
    moved by 0.8. Passes begin and end square, without the arc a spinner leaves.

    Source
    ------
    Derived here. Against the share of a ripple kept by formula, a plain smoothing of the whole
    map and the closed form of skips, in tests/core/test_density.py.
    """
    check_positive("side of a cell", cell_m)
    check_positive("driving width", driving_width_m)
    check_within("margin", margin_m, 0.0, 1e4)
    check_within("seed", seed, 0, 2**63)
    block = 0 if map_cell_m is None else round(map_cell_m / cell_m)
    if map_cell_m is not None and (block < 1 or abs(block * cell_m - map_cell_m) > 1e-6 * cell_m):
        raise OutOfRange("side of a drawn cell", map_cell_m, cell_m)
    turn = _Turn(heading_rad)
    step_m = _error_step_m([spread_steering, *(tool.steering for tool in tools)])
    sown = _lay_strips(
        spread,
        spread_steering,
        turn,
        step_m=step_m,
        rng=np.random.default_rng([seed, 0]),
        close=close_drift,
    )
    tilled = [
        _lay_strips(
            tool.lines,
            tool.steering,
            turn,
            step_m=step_m,
            rng=np.random.default_rng([seed, 1 + number]),
            close=close_drift,
        )
        for number, tool in enumerate(tools)
    ]
    return _sweep(
        outline=turn.rings([outline]),
        judged=None if judged is None else turn.rings(judged),
        sown=sown,
        table=_pattern_table(pattern, driving_width_m, sown.most_m),
        spread_steering=spread_steering,
        tools=tools,
        tilled=tilled,
        step_m=step_m,
        turn=turn,
        cell_m=cell_m,
        block=block,
        margin_m=margin_m,
    )


class _Turn:
    """The field's plane turned so that a heading lies along the rows of cells."""

    def __init__(self, heading_rad: float) -> None:
        self.heading_rad = heading_rad
        cos, sin = math.cos(heading_rad), math.sin(heading_rad)
        self._matrix = np.array([[cos, -sin], [sin, cos]])

    def turned(self, points_m: FloatArray) -> FloatArray:
        turned_m: FloatArray = np.asarray(points_m, dtype=np.float64) @ self._matrix
        return turned_m

    def back(self, point_m: tuple[float, float]) -> tuple[float, float]:
        x_m, y_m = (self._matrix @ np.asarray(point_m)).tolist()
        return x_m, y_m

    def rings(self, outlines: Sequence[Outline]) -> Rings:
        rings = [
            self.turned(ring)
            for outline in outlines
            for ring in (outline.exterior_m, *outline.holes_m)
        ]
        return Rings(
            coords_m=np.concatenate([np.empty((0, 2)), *rings]),
            offsets=np.cumsum([0, *(len(ring) for ring in rings)]),
        )


# --------------------------------------------------------------------------- strips and errors


class _Strips(NamedTuple):
    """Straight pieces of driving, and the errors they are driven with."""

    table: FloatArray
    tracks: FloatArray
    most_m: float


def _lay_strips(
    lines: DrivenLines,
    steering: Steering,
    turn: _Turn,
    *,
    step_m: float,
    rng: np.random.Generator,
    close: bool,
) -> _Strips:
    """Return all pieces one machine drives, turned into the grid, with their error tracks."""
    from duskline.core import density_kernel as kernel

    runs_m = turn.turned(lines.lines_m.reshape(-1, 2)).reshape(-1, 2, 2)
    legs_m = [turn.turned(leg) for leg in lines.legs_m]
    pieces, tracks_needed, rows = [], 0, []
    reach_m = 0.0
    groups, row_numbers = np.asarray(lines.group_indices), np.asarray(lines.row_indices)
    for group in np.unique(groups).tolist():
        chosen = np.flatnonzero(groups == group)
        numbers = row_numbers[chosen]
        table, rows_count, length_m = _row_pieces(runs_m[chosen], numbers, tracks_needed)
        pieces.append(table)
        rows.append((tracks_needed, rows_count, bool(numbers[0] > numbers[-1])))
        tracks_needed += rows_count
        reach_m = max(reach_m, length_m)
    for leg in legs_m:
        table, length_m = _leg_pieces(leg, tracks_needed)
        if len(table):
            pieces.append(table)
            tracks_needed += 1
            reach_m = max(reach_m, length_m)
    steps = math.ceil(reach_m / step_m) + 3
    if steering.sd_m > 0.0 and tracks_needed:
        normals = rng.standard_normal((tracks_needed, steps, 2))
        ratio = _MATERN * step_m / steering.correlation_m
        tracks: FloatArray = kernel.smooth_tracks(normals, steering.sd_m, ratio)
        if steering.by_eye:
            for first, rows_count, backward in rows:
                _drift(tracks[first : first + rows_count], backward=backward, close=close)
    else:
        tracks = np.zeros((max(tracks_needed, 1), steps))
    table = np.concatenate([np.empty((0, kernel.STRIP_COLUMNS)), *pieces])
    return _Strips(table=table, tracks=tracks, most_m=float(np.abs(tracks).max(initial=0.0)) + 1e-6)


def _drift(tracks: FloatArray, *, backward: bool, close: bool) -> None:
    """Add up the gaps from row to row, from the row driven first; in place."""
    if backward:
        tracks = tracks[::-1]
    count = len(tracks)
    tracks[0] = 0.0  # the first row lies on its line; the next ones follow it
    if close and count > 2:
        # The mean gap is taken off, and the spread that takes away is given back.
        gaps = tracks[1:]
        gaps -= gaps.mean(axis=0)
        gaps *= math.sqrt((count - 1) / (count - 2))
    np.cumsum(tracks, axis=0, out=tracks)


def _row_pieces(
    runs_m: FloatArray, rows: NDArray[np.intp], first_track: int
) -> tuple[FloatArray, int, float]:
    """Return the strips of parallel runs, how many rows they are, and how long all lie."""
    from duskline.core import density_kernel as kernel

    along = runs_m[:, 1] - runs_m[:, 0]
    length_m = np.hypot(along[:, 0], along[:, 1])
    if not length_m.min() > 0.0:
        raise OutOfRange("length of a pass", float(length_m.min()), 0.0)
    unit = along / length_m[:, None]
    # One axis for all: errors of neighbouring rows must be compared at the same place.
    axis = unit[0]
    way = np.where(unit @ axis < 0.0, -1.0, 1.0)
    keys, track = np.unique(rows, return_inverse=True)
    at_m = np.einsum("ni,i->n", runs_m[:, 0], axis)
    ends_m = at_m + way * length_m
    low_m = float(min(at_m.min(), ends_m.min()))
    table = np.zeros((len(runs_m), kernel.STRIP_COLUMNS))
    table[:, 0:2] = runs_m[:, 0]
    table[:, 2:4] = unit
    table[:, 4] = length_m
    table[:, 9] = at_m - low_m
    table[:, 10] = way
    table[:, 11] = first_track + track
    return table, len(keys), float(max(at_m.max(), ends_m.max())) - low_m


def _leg_pieces(path_m: FloatArray, track: int) -> tuple[FloatArray, float]:
    """Return the strips of one leg of a round, mitred at its bends, and its length."""
    from duskline.core import density_kernel as kernel

    step = np.diff(path_m, axis=0)
    kept = np.hypot(step[:, 0], step[:, 1]) > 1e-6
    starts, step = path_m[:-1][kept], step[kept]
    length_m = np.hypot(step[:, 0], step[:, 1])
    table = np.zeros((len(step), kernel.STRIP_COLUMNS))
    if not len(step):
        return table, 0.0
    unit = step / length_m[:, None]
    cross = unit[:-1, 0] * unit[1:, 1] - unit[:-1, 1] * unit[1:, 0]
    bend = np.arctan2(cross, np.einsum("ni,ni->n", unit[:-1], unit[1:]))
    lean = np.clip(np.tan(0.5 * bend), -_STEADIEST_LEAN, _STEADIEST_LEAN)
    table[:, 0:2] = starts
    table[:, 2:4] = unit
    table[:, 4] = length_m
    # On the inner side, left of a left bend, a piece is shorter.
    table[1:, 5] = lean
    table[:-1, 6] = -lean
    table[:, 9] = np.concatenate([[0.0], np.cumsum(length_m)[:-1]])
    table[:, 10] = 1.0
    table[:, 11] = track
    return table, float(length_m.sum())


def _bounded(table: FloatArray, reach_m: float, origin_m: tuple[float, float]) -> FloatArray:
    """Return the strips from the grid's corner, each with how far south and north it reaches."""
    table = table.copy()
    table[:, 0:2] -= origin_m
    start, end = table[:, 1], table[:, 1] + table[:, 4] * table[:, 3]
    lean = np.abs(table[:, 5:7]).max(axis=1, initial=0.0)
    reach = reach_m * (np.abs(table[:, 2]) + lean * np.abs(table[:, 3]))
    table[:, 7] = np.minimum(start, end) - reach
    table[:, 8] = np.maximum(start, end) + reach
    return table


class _Table(NamedTuple):
    """One pass at small steps from left to right, 1 the planned rate."""

    rates: CellMap
    first_m: float
    reach_m: float


def _pattern_table(pattern: TrayPattern, driving_width_m: float, stray_m: float) -> _Table:
    """Return one pass as a line table that reaches as far as a straying pass is asked for."""
    spacing_m = pattern.spacing_m
    places = np.concatenate(
        [
            [pattern.first_tray_m - spacing_m],
            pattern.positions_m,
            [pattern.positions_m[-1] + spacing_m],
        ]
    )
    catch = np.asarray(pattern.catch)
    rates = np.concatenate([[0.0], catch, [0.0]]) * driving_width_m / (spacing_m * catch.sum())
    throw_m = float(np.abs(places).max())
    far_m = throw_m + 2.0 * stray_m + 4.0 * _TABLE_STEP_M
    steps = np.arange(-math.ceil(far_m / _TABLE_STEP_M), math.ceil(far_m / _TABLE_STEP_M) + 1)
    table = np.interp(steps * _TABLE_STEP_M, places, rates, left=0.0, right=0.0)
    return _Table(
        rates=table.astype(np.float32),
        first_m=float(steps[0] * _TABLE_STEP_M),
        reach_m=throw_m + stray_m,
    )


# --------------------------------------------------------------------------------- the sweep


class _Kernels(NamedTuple):
    """How the seed of every kind of worked cell moves."""

    classes: NDArray[np.int64]
    along: CellMap
    across: CellMap
    shape: NDArray[np.int64]


def _kernels(
    tools: Sequence[Tool], tilled: Sequence[_Strips], cell_m: float
) -> tuple[list[NDArray[np.int64]], int, _Kernels]:
    """Return each strip's direction number, how many there are and one more, and the taps."""
    from duskline.core import density_kernel as kernel

    sectors = [
        np.round(np.arctan2(strips.table[:, 3], strips.table[:, 2]) * _SECTORS / math.tau).astype(
            np.int64
        )
        % _SECTORS
        for strips in tilled
    ]
    moves = [tool.displacement for tool in tools]
    kinds = {move: number for number, move in reversed(list(enumerate(moves)))}
    codes = [kinds[move] * _SECTORS + sector for move, sector in zip(moves, sectors, strict=True)]
    known, numbers = np.unique(np.concatenate([np.empty(0, int), *codes]), return_inverse=True)
    angle = (known % _SECTORS) * math.tau / _SECTORS
    figures = np.asarray(
        [(one.forward_m, one.along_sd_m, one.lateral_sd_m) for one in moves]
    ).reshape(-1, 3)[known // _SECTORS]
    forward, along, lateral = figures.T / cell_m
    # Squared parts of the direction are exact at the quarters.
    cos, sin = np.round(np.cos(angle), 12), np.round(np.sin(angle), 12)
    mean = np.column_stack([forward * cos, forward * sin])
    variance = np.column_stack(
        [(along * cos) ** 2 + (lateral * sin) ** 2, (along * sin) ** 2 + (lateral * cos) ** 2]
    )
    count = len(known)
    # Two of them must fit one after the other into 16 bits.
    check_within("directions of travel", count, 0, _MOST_DIRECTIONS)
    first, second = np.triu_indices(count)
    means = np.concatenate([mean, mean[first] + mean[second]])
    variances = np.concatenate([variance, variance[first] + variance[second]])
    most = count + 1
    classes = np.zeros(most * most, dtype=np.int64)
    classes[1:most] = np.arange(count)
    pair = count + np.arange(len(first))
    classes[(first + 1) + most * (second + 1)] = pair
    classes[(second + 1) + most * (first + 1)] = pair
    widest = 3 + np.ceil(8.0 * np.sqrt(variances)).max(axis=0, initial=0.0).astype(int)
    filled_along = np.zeros((len(means), 4 * ((int(widest[0]) + 3) // 4) + 3), dtype=np.float32)
    filled_across = np.zeros((len(means), int(widest[1])), dtype=np.float32)
    shape = np.zeros((len(means), 4), dtype=np.int64)
    kernel.class_taps(means, variances, filled_along, filled_across, shape)
    split = np.cumsum([len(code) for code in codes])[:-1]
    return (
        list(np.split(numbers.astype(np.int64), split)) if codes else [],
        most,
        _Kernels(classes=classes, along=filled_along, across=filled_across, shape=shape),
    )


def _error_step_m(steerings: Iterable[Steering]) -> float:
    """Return at what distance errors are drawn, so that straight lines between lose little. [m]"""
    straying = [one.correlation_m for one in steerings if one.sd_m > 0.0]
    return min(_LONGEST_ERROR_STEP_M, min(straying, default=math.inf) / 20.0)


def _knot(cell_m: float, steerings: Iterable[Steering]) -> int:
    """Return over how many cells all errors may be taken as straight."""
    straying = [one.correlation_m for one in steerings if one.sd_m > 0.0]
    return int(max(min(straying, default=1e4) / (10.0 * cell_m), 1.0))


def _bands(grid: Grid, rings: Rings) -> Iterator[CellMap]:
    """Yield how much of each cell lies inside, a band of rows at a time."""
    for top in range(0, grid.rows, _BAND_ROWS):
        yield coverage(
            Grid(
                origin_m=(grid.origin_m[0], grid.origin_m[1] + top * grid.cell_m),
                cell_m=grid.cell_m,
                rows=min(_BAND_ROWS, grid.rows - top),
                columns=grid.columns,
            ),
            rings,
        )


def _sweep(
    *,
    outline: Rings,
    judged: Rings | None,
    sown: _Strips,
    table: _Table,
    spread_steering: Steering,
    tools: Sequence[Tool],
    tilled: Sequence[_Strips],
    step_m: float,
    turn: _Turn,
    cell_m: float,
    block: int,
    margin_m: float,
) -> DensityMap:
    """Go over the grid in bands of rows, holding only the rows a tool can reach."""
    from duskline.core import density_kernel as kernel

    directions, most, kernels = _kernels(tools, tilled, cell_m)
    ahead, beside = _kernel_reach(kernels.shape)
    margin = math.ceil(margin_m / cell_m)
    field_grid = Grid.around(outline.coords_m, cell_m=cell_m)
    grid, skirt = _with_skirt(field_grid, rows=ahead + margin, columns=2 * beside + 1 + margin)
    reaches = _reaches(grid, outline, ahead=ahead, beside=beside, whole=margin > 0)
    cover, tracks, stray_m = _one_tool(tools, tilled, directions)
    half_m = float(cover[:, 13].max(initial=0.0)) + stray_m
    wide = grid.columns + 4 * beside + 64
    held = (
        np.zeros((2 * ahead + 2, grid.columns), dtype=np.float32),
        np.zeros((2 * ahead + 2, grid.columns), dtype=np.uint16),
        np.zeros((2 * ahead + 2, grid.columns), dtype=np.float32),
        np.zeros(wide, dtype=np.float32),
        np.zeros(wide, dtype=np.float32),
        np.zeros(grid.columns, dtype=np.int32),
        ahead,
    )
    blocks = (-(-field_grid.rows // block), -(-field_grid.columns // block)) if block else (0, 0)
    results = (
        np.zeros((3, 5)),
        np.zeros((3, 2, kernel.BINS)),
        np.zeros((3, 2, kernel.BINS), dtype=np.int64),
        np.zeros((5, *blocks), dtype=np.float32),
        np.zeros(2 if margin else 0),
        skirt,
    )
    sower = (
        _bounded(sown.table, table.reach_m, grid.origin_m),
        sown.tracks,
        step_m,
        table.reach_m,
        (table.rates, table.first_m, 1.0 / _TABLE_STEP_M),
    )
    tilling = (_bounded(cover, half_m, grid.origin_m), tracks, step_m, stray_m, most)
    knots = (
        _knot(cell_m, [spread_steering]),
        _knot(cell_m, [tool.steering for tool in tools]),
    )
    done = 0
    judged_bands = None if judged is None else _bands(grid, judged)
    for number, inside in enumerate(_bands(grid, outline)):
        counted = inside if judged_bands is None else next(judged_bands)
        done = kernel.sweep_band(
            number * _BAND_ROWS,
            done,
            grid.rows,
            reaches,
            sower,
            tilling,
            cell_m,
            knots,
            kernels,
            held,
            (inside, counted),
            results,
            block,
        )
    sums, shares, counts, drawn, totals, _ = results
    if not sums[:, 0].sum() > 0.0:
        raise OutOfRange("judged ground", 0.0, 0.0)
    answer = DensityMap(
        cell_m=cell_m,
        sums=sums,
        histograms=(shares + counts).swapaxes(0, 1).copy(),
        sown_cells=float(totals[0]) if margin else 0.0,
        left_cells=float(totals[1]) if margin else 0.0,
    )
    if not block:
        return answer
    frame = MapFrame(
        heading_rad=turn.heading_rad,
        origin_m=turn.back(field_grid.origin_m),
        cell_m=block * cell_m,
    )
    ground = np.where(drawn[0] > _NO_GROUND * block * block, drawn[0], np.float32(np.nan))
    before, after, worked = drawn[1:4] / ground
    return replace(
        answer,
        frame=frame,
        before=before,
        after=after,
        worked=worked,
        judged=drawn[4] > (1.0 - _NO_GROUND) * block * block,
    )


def _kernel_reach(shape: NDArray[np.int64]) -> tuple[int, int]:
    """Return how many rows and how many columns seed may be moved, either way."""
    if not len(shape):
        return 0, 0
    across = np.maximum(-shape[:, 2], shape[:, 2] + shape[:, 3] - 1)
    along = np.maximum(-shape[:, 0], shape[:, 0] + shape[:, 1] - 1)
    return max(int(across.max()), 0), max(int(along.max()), 0)


def _with_skirt(grid: Grid, *, rows: int, columns: int) -> tuple[Grid, tuple[int, int]]:
    """Return the grid with so many rows and columns more on every side, and the two counts."""
    wider = Grid(
        origin_m=(
            grid.origin_m[0] - columns * grid.cell_m,
            grid.origin_m[1] - rows * grid.cell_m,
        ),
        cell_m=grid.cell_m,
        rows=grid.rows + 2 * rows,
        columns=grid.columns + 2 * columns,
    )
    return wider, (rows, columns)


def _one_tool(
    tools: Sequence[Tool], tilled: Sequence[_Strips], directions: Sequence[NDArray[np.int64]]
) -> tuple[FloatArray, FloatArray, float]:
    """Return the strips of all coverings as one lot, their tracks, and how far they stray."""
    from duskline.core import density_kernel as kernel

    if not tilled:
        return np.zeros((0, kernel.STRIP_COLUMNS)), np.zeros((1, 3)), 0.0
    longest = max(strips.tracks.shape[1] for strips in tilled)
    tables, tracks, first = [], [], 0
    for tool, strips, direction in zip(tools, tilled, directions, strict=True):
        table = strips.table.copy()
        table[:, 11] += first
        table[:, 12] = direction
        table[:, 13] = 0.5 * tool.width_m
        tables.append(table)
        short = longest - strips.tracks.shape[1]
        tracks.append(np.pad(strips.tracks, ((0, 0), (0, short))))
        first += len(strips.tracks)
    stray_m = max(strips.most_m for strips in tilled)
    return np.concatenate(tables), np.concatenate(tracks), stray_m


def _reaches(
    grid: Grid, rings: Rings, *, ahead: int, beside: int, whole: bool
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Return for each row the columns to sow, from and to, and those of the field itself."""
    from duskline.core import density_kernel as kernel

    cells = (rings.coords_m - np.asarray(grid.origin_m)) / grid.cell_m
    after = np.arange(1, len(cells) + 1)
    after[rings.offsets[1:] - 1] = rings.offsets[:-1]
    low = np.full(grid.rows, grid.columns, dtype=np.int64)
    high = np.zeros(grid.rows, dtype=np.int64)
    kernel.row_reach(np.column_stack([cells, cells[after]]), low, high)
    judged_low, judged_high = np.maximum(low, 0), np.minimum(high, grid.columns)
    if whole:
        edge = 2 * beside + 1 if beside else 0
        wide_low = np.full(grid.rows, edge, dtype=np.int64)
        wide_high = np.full(grid.rows, grid.columns - edge, dtype=np.int64)
        return wide_low, wide_high, judged_low, judged_high
    wide_low, wide_high = judged_low.copy(), judged_high.copy()
    for shift in range(1, ahead + 1):
        wide_low[:-shift] = np.minimum(wide_low[:-shift], judged_low[shift:])
        wide_low[shift:] = np.minimum(wide_low[shift:], judged_low[:-shift])
        wide_high[:-shift] = np.maximum(wide_high[:-shift], judged_high[shift:])
        wide_high[shift:] = np.maximum(wide_high[shift:], judged_high[:-shift])
    filled = wide_high > wide_low
    wide_low[filled] -= beside
    wide_high[filled] += beside
    return wide_low, wide_high, judged_low, judged_high
