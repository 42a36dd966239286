"""Ground worked once, twice, missed and outside the outline, by exact area.

For a map every ring adds to each cell the share of it that the ring covers, worked out from the
edges and not from the cell's middle. For the areas lines are laid across all passes, and along
each the lengths worked once, twice and not at all are exact; no cells are needed. Rings turning
left add, rings turning right take away.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutlineRefused, OutOfRange
from duskline.core.outline import FloatArray, Outline

__all__ = [
    "DepthMap",
    "Grid",
    "Ground",
    "Rings",
    "Worked",
    "coverage",
    "ground_worked",
    "path_rings",
    "rings_of",
    "swath_rings",
    "worked",
]

DepthMap: TypeAlias = NDArray[np.float32]

_MOST_CELLS = 400_000_000
_MOST_LINES = 10_000
_SLANT_RAD = 0.3
_SAME_LINE_M = 1e-9
_BAND_BYTES = 400_000
"""A band of rows stays in the core's own memory: the cells are written out only once."""
_MOST_BAND_ROWS = 64
_ROUND_STEP_RAD = math.pi / 32.0
_TIGHT_RAD = math.radians(30.0)
_TIGHT_SHARE = 0.5
"""A bend is tight when its inner edge eats more than half of a step of the path beside it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Grid:
    """Square cells over the plane; row 0 lies in the south, column 0 in the west.

    Attributes
    ----------
    origin_m
        South-west corner, x and y. [m]
    cell_m
        Side of a cell. [m]
    rows, columns
        How many to the north and to the east.
    """

    origin_m: tuple[float, float]
    cell_m: float
    rows: int
    columns: int

    def __post_init__(self) -> None:
        check_positive("side of a cell", self.cell_m)
        check_within("rows of cells", self.rows, 1, _MOST_CELLS)
        check_within("columns of cells", self.columns, 1, _MOST_CELLS)
        check_within("cells", self.rows * self.columns, 1, _MOST_CELLS)

    @property
    def cell_m2(self) -> float:
        """Ground in one cell. [m2]"""
        return self.cell_m * self.cell_m

    @staticmethod
    def around(points_m: FloatArray, *, cell_m: float) -> Grid:
        """Return the smallest grid that holds all points, ``(n, 2)`` x, y. [m]"""
        check_positive("side of a cell", cell_m)
        low, high = points_m.min(axis=0), points_m.max(axis=0)
        if not (np.isfinite(low).all() and np.isfinite(high).all()):
            raise OutOfRange("a corner of a pass", float("nan"))
        columns, rows = (
            max(1, math.ceil((b - a) / cell_m)) for a, b in zip(low, high, strict=True)
        )
        return Grid(
            origin_m=(float(low[0]), float(low[1])), cell_m=cell_m, rows=rows, columns=columns
        )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Rings:
    """Many rings end to end, open (the first corner not repeated).

    Attributes
    ----------
    coords_m
        Corners of all rings, ``(n, 2)`` x, y. [m]
    offsets
        Where each ring begins, and where the last one ends, ``(n_rings + 1,)``.
    """

    coords_m: FloatArray
    offsets: NDArray[np.int64]

    def __post_init__(self) -> None:
        coords_m = np.ascontiguousarray(self.coords_m, dtype=np.float64).reshape(-1, 2)
        offsets = np.ascontiguousarray(self.offsets, dtype=np.int64)
        if not np.isfinite(coords_m).all():
            raise OutOfRange("a corner of a pass", float("nan"))
        if (
            not len(offsets)
            or offsets[0] != 0
            or offsets[-1] != len(coords_m)
            or (np.diff(offsets) < 3).any()
        ):
            raise OutlineRefused("a ring needs three corners, and every corner a ring")
        object.__setattr__(self, "coords_m", coords_m)
        object.__setattr__(self, "offsets", offsets)

    def __len__(self) -> int:
        """How many rings."""
        return len(self.offsets) - 1

    @property
    def areas_m2(self) -> FloatArray:
        """Area of each ring, left-turning positive, ``(n_rings,)``. [m2]"""
        if not len(self):
            return np.zeros(0)
        # From a corner of its own, or far from the origin the last digits would be lost.
        first = np.repeat(self.coords_m[self.offsets[:-1]], np.diff(self.offsets), axis=0)
        here = self.coords_m - first
        after = _following(self)
        cross = here[:, 0] * here[after, 1] - here[after, 0] * here[:, 1]
        halves: FloatArray = 0.5 * np.add.reduceat(cross, self.offsets[:-1])
        return halves

    @property
    def shapes(self) -> NDArray[np.object_]:
        """Each ring as a shapely geometry of its own, ``(n_rings,)``."""
        if not len(self):
            return np.empty(0, dtype=object)
        number = np.repeat(np.arange(len(self)), np.diff(self.offsets))
        shapes: NDArray[np.object_] = shapely.polygons(
            shapely.linearrings(self.coords_m, indices=number)
        )
        return shapes


def rings_of(*parts: Rings) -> Rings:
    """Return several lots of rings as one."""
    starts = np.cumsum([0, *(len(part.coords_m) for part in parts)])
    return Rings(
        coords_m=np.concatenate([np.empty((0, 2)), *(part.coords_m for part in parts)]),
        offsets=np.concatenate(
            [[0], *(part.offsets[1:] + start for part, start in zip(parts, starts, strict=False))]
        ),
    )


def _rings_from(corners: list[FloatArray]) -> Rings:
    return Rings(
        coords_m=np.concatenate([np.empty((0, 2)), *corners]),
        offsets=np.cumsum([0, *(len(ring) for ring in corners)]),
    )


# ------------------------------------------------------------------------------ what is swept


def swath_rings(lines_m: FloatArray, *, width_m: float) -> Rings:
    """Return the ground of straight passes, one left-turning rectangle each.

    Parameters
    ----------
    lines_m
        Start and end of each pass, ``(n, 2, 2)``. [m]
    width_m
        Working width. [m]

    Raises
    ------
    OutOfRange
        No width, or a pass without length.
    """
    check_positive("width", width_m)
    lines_m = np.asarray(lines_m, dtype=np.float64).reshape(-1, 2, 2)
    along = lines_m[:, 1] - lines_m[:, 0]
    length_m = np.hypot(along[:, 0], along[:, 1])
    if len(length_m) and not length_m.min() > 0.0:
        raise OutOfRange("length of a pass", float(length_m.min()), 0.0)
    side = 0.5 * width_m * np.column_stack([-along[:, 1], along[:, 0]]) / length_m[:, None]
    start, end = lines_m[:, 0], lines_m[:, 1]
    corners = np.stack([start - side, end - side, end + side, start + side], axis=1)
    return Rings(coords_m=corners.reshape(-1, 2), offsets=4 * np.arange(len(lines_m) + 1))


def path_rings(path_m: FloatArray, *, width_m: float) -> Rings:
    """Return the ground a machine sweeps along a path, without counting its own bends twice.

    Parameters
    ----------
    path_m
        Where the middle of the machine went, ``(k, 2)``; points on one spot are one. [m]
    width_m
        Working width. [m]

    Returns
    -------
    Rings
        A ring for each stretch without tight bends, and one or more for each tight bend.

    Notes
    -----
    At every point of the path two steps share one edge, along the line that halves their bend,
    so nothing is counted twice and nothing falls between: the area of a stretch is length times
    width, to the last digits. A bend is tight where a single point turns by more than 30
    degrees, or where the inner edge would eat more than half of a step beside it (turning about
    less than half the width). The steps around it are taken together as one piece of ground
    with round outer corners (chords of pi / 32, short of the arc by 0.04 % of it), and what the
    inner end goes over again there is not counted. A tight stretch that turns right round is
    cut after a full circle: ground that is driven over again on the next round counts again.
    """
    check_positive("width", width_m)
    path = _distinct(np.asarray(path_m, dtype=np.float64).reshape(-1, 2))
    if len(path) < 2:
        return Rings(coords_m=np.empty((0, 2)), offsets=np.zeros(1, dtype=np.int64))
    half = 0.5 * width_m
    steps = np.diff(path, axis=0)
    length = np.hypot(steps[:, 0], steps[:, 1])
    unit = steps / length[:, None]
    normal = np.column_stack([-unit[:, 1], unit[:, 0]])
    bend = np.abs(_bends(unit))
    eaten = half * np.tan(0.5 * np.minimum(bend, 3.0))
    tight = (eaten > _TIGHT_SHARE * np.minimum(length[:-1], length[1:])) | (bend > _TIGHT_RAD)
    # At each inner point the shared edge: the normal stretched along the halving line.
    halving = normal[:-1] + normal[1:]
    stretch = 2.0 / np.maximum(np.sum(halving * halving, axis=1), 1e-9)
    ends = np.concatenate([normal[:1], halving * stretch[:, None], normal[-1:]])
    middle = 0.5 * (path[:-1] + path[1:])
    pieces: list[FloatArray] = []
    # Stretches and bends take turns; they meet in the middle of a step, on the step's normal.
    point, last = 0, len(path) - 1
    while True:
        stop = point
        while stop < last - 1 and not tight[stop]:
            stop += 1
        at_bend = stop < last - 1
        spots = [path[point + 1 : stop + 1]]
        bars = [ends[point + 1 : stop + 1]]
        spots = [path[:1] if point == 0 else middle[point][None], *spots]
        bars = [ends[:1] if point == 0 else normal[point][None], *bars]
        spots.append(middle[stop][None] if at_bend else path[-1:])
        bars.append(normal[stop][None] if at_bend else ends[-1:])
        line, bar = np.concatenate(spots), half * np.concatenate(bars)
        if len(line) > 2 or np.abs(line[1] - line[0]).max() > 1e-9:
            pieces.append(np.concatenate([line - bar, (line + bar)[::-1]]))
        if not at_bend:
            return _rings_from(pieces)
        begin, turned = stop, 0.0
        while stop < last - 1 and tight[stop] and turned < math.tau:
            turned += bend[stop]
            stop += 1
        # Inner point i of the bends is point i + 1 of the path, between steps i and i + 1.
        bent = np.concatenate([middle[begin][None], path[begin + 1 : stop + 1], middle[stop][None]])
        pieces += _swept_together(bent, half)
        point = stop


def _distinct(path: FloatArray) -> FloatArray:
    """Return the path without points that stand still."""
    if not np.isfinite(path).all():
        raise OutOfRange("a point of the path", float("nan"))
    moved = np.ones(len(path), dtype=bool)
    moved[1:] = np.abs(np.diff(path, axis=0)).max(axis=1, initial=0.0) > 1e-6
    return path[moved]


def _bends(unit: FloatArray) -> FloatArray:
    """Return how far the path turns at each inner point, left positive. [rad]"""
    cross = unit[:-1, 0] * unit[1:, 1] - unit[:-1, 1] * unit[1:, 0]
    turned: FloatArray = np.arctan2(cross, np.sum(unit[:-1] * unit[1:], axis=1))
    return turned


def _swept_together(line: FloatArray, half: float) -> list[FloatArray]:
    """Return the rings of the union of a line's rectangles and round outer corners."""
    rectangles = swath_rings(np.stack([line[:-1], line[1:]], axis=1), width_m=2.0 * half)
    steps = np.diff(line, axis=0)
    angle = np.arctan2(steps[:, 1], steps[:, 0])
    fans = []
    for point, before, turned in zip(
        line[1:-1], angle[:-1], _bends(steps / np.hypot(*steps.T)[:, None]), strict=True
    ):
        count = max(1, math.ceil(abs(turned) / _ROUND_STEP_RAD))
        outer = -math.copysign(0.5 * math.pi, turned)
        arc = before + outer + turned * np.arange(count + 1) / count
        rim = point + half * np.column_stack([np.cos(arc), np.sin(arc)])
        if abs(turned) > 1e-12:
            fans.append(shapely.Polygon(np.concatenate([point[None], rim])))
    whole = shapely.union_all([*rectangles.shapes, *fans])
    return _corners_of(whole)


def _corners_of(shape: shapely.Geometry) -> list[FloatArray]:
    """Return the open rings of a shape, outer ones left-turning, holes right-turning."""
    found = []
    for part in shapely.get_parts(shape):
        for number, ring in enumerate((part.exterior, *part.interiors)):
            corners = shapely.get_coordinates(ring)[:-1]
            found.append(corners if ring.is_ccw == (number == 0) else corners[::-1])
    return found


# ------------------------------------------------------------------------------------ cells


def coverage(grid: Grid, rings: Rings, *, workers: int = 1) -> DepthMap:
    """Return how deep each cell is covered: the shares of all rings added up, ``(rows, columns)``.

    Parameters
    ----------
    grid
        The cells. Ground beyond them is left out.
    rings
        Left-turning rings add, right-turning ones take away.
    workers
        Threads that share the rows; the figures do not depend on it.

    Notes
    -----
    Every edge adds, row by row, the exact area between it and the row's eastern end; running
    sums along the row give the cells. Worked in double precision, handed out in single: a cell
    is right to 6e-8 of its depth, the sum over all cells to 1e-9.

    Source
    ------
    Derived here; checked against shapely in tests/published/test_coverage.py and against a
    plain form in tests/core/test_coverage.py.
    """
    from duskline.core.coverage_kernel import fill

    depth = np.empty((grid.rows, grid.columns), dtype=np.float32)
    edges = _edges(grid, rings)
    band = _band_rows(grid)
    first, listed = _by_band(edges, grid.rows, band)
    bands = len(first) - 1

    def some(low: int, high: int) -> None:
        fill(edges, first, listed, band, low, high, depth)

    if workers <= 1 or bands < 2:
        some(0, bands)
        return depth
    cuts = np.linspace(0, bands, min(workers, bands) + 1).astype(int).tolist()
    with ThreadPoolExecutor(max_workers=len(cuts) - 1) as pool:
        for done in [pool.submit(some, a, b) for a, b in pairwise(cuts)]:
            done.result()
    return depth


def _edges(grid: Grid, rings: Rings) -> FloatArray:
    """Return the edges that climb or fall, from below, in cells: x, y, x, y, sign. ``(m, 5)``."""
    here = (rings.coords_m - np.asarray(grid.origin_m)) / grid.cell_m
    there = here[_following(rings)]
    climbs = there[:, 1] > here[:, 1]
    low, high = np.where(climbs[:, None], here, there), np.where(climbs[:, None], there, here)
    edges = np.column_stack([low, high, np.where(climbs, -1.0, 1.0)])
    # Read from the west, a falling edge opens a left-turning ring's ground and a climbing one
    # ends it.
    used = (high[:, 1] > low[:, 1]) & (high[:, 1] > 0.0) & (low[:, 1] < grid.rows)
    used &= np.minimum(low[:, 0], high[:, 0]) < grid.columns
    return np.ascontiguousarray(edges[used])


def _band_rows(grid: Grid) -> int:
    fit = _BAND_BYTES // (8 * (grid.columns + 2))
    return int(min(max(fit, 1), _MOST_BAND_ROWS, grid.rows))


def _by_band(
    edges: FloatArray, rows: int, band: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return for each band of rows which edges meet it: where its list begins, and the lists."""
    from duskline.core.coverage_kernel import list_edges

    bands = -(-rows // band)
    first, listed = list_edges(edges, rows, band, bands)
    return first, listed


@dataclass(frozen=True, kw_only=True, slots=True)
class Ground:
    """Ground worked, whatever outline it lies in.

    Attributes
    ----------
    worked_m2
        Worked at least once. [m2]
    twice_m2
        Worked twice or more, counted once. [m2]
    summed_m2
        All passes added up. [m2]
    """

    worked_m2: float
    twice_m2: float
    summed_m2: float


def ground_worked(rings: Rings) -> Ground:
    """Return the ground that passes work, at least once and twice or more. [m2]

    Parameters
    ----------
    rings
        The passes' ground, from ``swath_rings`` or ``path_rings``.

    Notes
    -----
    As ``worked``, without an outline.
    """
    _, _, once_m2, twice_m2 = _measured(rings, None)
    return Ground(
        worked_m2=once_m2 + twice_m2, twice_m2=twice_m2, summed_m2=float(rings.areas_m2.sum())
    )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Worked:
    """A field's ground by how often it is worked. [m2]

    Attributes
    ----------
    area_m2
        Ground inside the outline.
    once_m2, twice_m2, missed_m2
        Of it: worked once, worked twice or more, worked by no pass. They add up to the area.
    outside_m2
        Ground beyond the outline, or in its holes, that is worked too.
    summed_m2
        All passes added up, wherever they lie.
    grid, depth
        Cells and how deep each is worked, ``(rows, columns)``; None unless asked for.
    """

    area_m2: float
    once_m2: float
    twice_m2: float
    missed_m2: float
    outside_m2: float
    summed_m2: float
    grid: Grid | None = None
    depth: DepthMap | None = None

    @property
    def missed_fraction(self) -> float:
        """Share of the field that no pass works."""
        return self.missed_m2 / self.area_m2

    @property
    def twice_fraction(self) -> float:
        """Share of the field that is worked twice or more."""
        return self.twice_m2 / self.area_m2


def worked(outline: Outline, swaths: Rings, *, cell_m: float | None = None) -> Worked:
    """Return the field's ground worked once, twice, missed, and what is worked outside. [m2]

    Parameters
    ----------
    outline
        The field, holes and all.
    swaths
        The passes' ground, from ``swath_rings`` or ``path_rings``.
    cell_m
        Side of the cells of a map of how deep each is worked; None for the areas only. [m]

    Notes
    -----
    The plane is turned so that most edges run steeply, and cut into slabs at every corner.
    Within a slab edges are straight, so a line through its middle gives its exact areas, worked
    once, twice, missed and outside alike; where edges cross, the slab is halved until less
    than a square centimetre is at stake. Up to 10,000 corners this is exact to about 1e-9 of
    the ground and 1e-4 m2 a crossing. Beyond, 10,000 even slabs are laid: corners within a slab
    then cost about the square of its height times the change of slope each, of either sign:
    a few 1e-6 of the ground on drives recorded every metre. Nothing as large as a grid is held.

    Judging each cell by its depth alone would be quicker on dense tracks, but two edges that
    coincide, as on a second guided round, then count half a cell too much all along.

    Source
    ------
    Derived here; against shapely's exact union in tests/published/test_coverage.py.
    """
    outside_m2, missed_m2, once_m2, twice_m2 = _measured(swaths, outline)
    grid = depth = None
    if cell_m is not None:
        corners_m = np.concatenate([outline.exterior_m, swaths.coords_m])
        grid = Grid.around(corners_m, cell_m=cell_m)
        depth = coverage(grid, swaths)
    return Worked(
        area_m2=outline.area_m2,
        once_m2=once_m2,
        twice_m2=twice_m2,
        missed_m2=missed_m2,
        outside_m2=outside_m2,
        summed_m2=float(swaths.areas_m2.sum()),
        grid=grid,
        depth=depth,
    )


def _measured(swaths: Rings, outline: Outline | None) -> tuple[float, float, float, float]:
    """Return ground worked outside, missed, worked once and worked twice or more. [m2]"""
    from duskline.core.coverage_kernel import sweep

    field = () if outline is None else (outline.exterior_m, *outline.holes_m)
    both = rings_of(swaths, _rings_from(list(field)))
    if not len(both):
        return 0.0, 0.0, 0.0, 0.0
    of_field = np.zeros(len(both.coords_m), dtype=bool)
    of_field[len(swaths.coords_m) :] = True
    # From the middle, or far from the origin the last digits would be lost.
    here = both.coords_m - both.coords_m.mean(axis=0)
    after = _following(both)
    steps = here[after] - here
    # The way that most edges run, to and fro being one, by doubled angles.
    angle = np.arctan2(steps[:, 1], steps[:, 0])
    weight = np.sum(steps * steps, axis=1)
    run_rad = 0.5 * math.atan2(
        float(weight @ np.sin(2.0 * angle)), float(weight @ np.cos(2.0 * angle))
    )
    # Not quite upright: headlands square to the passes must not lie along the lines.
    turn = 0.5 * math.pi - run_rad + _SLANT_RAD
    here = here @ np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    there = here[after]
    climbs = (there[:, 1] > here[:, 1])[:, None]
    low, high = np.where(climbs, here, there), np.where(climbs, there, here)
    used = high[:, 1] > low[:, 1]
    order = np.argsort(low[used, 1], kind="stable")
    edges = np.column_stack([low, high])[used][order]
    sign = np.where(climbs[:, 0], -1, 1)[used][order]
    bounds = _slabs(here[:, 1])
    sums = sweep(edges, sign, of_field[used][order], outline is not None, bounds)
    outside_m2, missed_m2, once_m2, twice_m2 = (float(value) for value in sums)
    if outline is None:
        once_m2, twice_m2 = outside_m2, missed_m2
        return 0.0, 0.0, once_m2, twice_m2
    return outside_m2, missed_m2, once_m2, twice_m2


def _slabs(corners_m: FloatArray) -> FloatArray:
    """Return the bounds of the slabs: at every corner, or evenly where corners are too many."""
    bounds = np.unique(corners_m)
    kept = np.concatenate([[True], np.diff(bounds) > _SAME_LINE_M])
    bounds = bounds[kept]
    if len(bounds) > _MOST_LINES:
        bounds = np.linspace(bounds[0], bounds[-1], _MOST_LINES + 1)
    return bounds


def _following(rings: Rings) -> NDArray[np.int64]:
    """Return for each corner the next one of its ring."""
    after = np.arange(1, len(rings.coords_m) + 1)
    if len(rings):
        after[rings.offsets[1:] - 1] = rings.offsets[:-1]
    return after
