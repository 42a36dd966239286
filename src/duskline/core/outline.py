"""The field's outline: its edges, its holes, what a headland leaves of it, how wide it lies.

Everything stands in a flat local plane, x to the east and y to the north, in metres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from duskline.core.errors import OutlineRefused, OutOfRange

__all__ = [
    "Edge",
    "FloatArray",
    "Outline",
    "edge_headings_rad",
    "extent_across_m",
    "extent_along_m",
    "hull_edges",
    "inset",
    "longest_edge",
    "outlines_of",
    "sides",
    "thinned",
]

FloatArray: TypeAlias = NDArray[np.float64]

# Slivers a square centimetre or smaller are rounding, not ground.
_NO_GROUND_M2 = 1e-4
# A headland shallower than a micrometre is none; cutting one would only stir the last digits.
_NO_DEPTH_M = 1e-6


@dataclass(frozen=True, kw_only=True, slots=True)
class Edge:
    """One straight side of an outline, walked with the field on the left.

    Attributes
    ----------
    start_index, end_index
        Which corners of its ring it joins; straightening leaves out those between.
    start_m, end_m
        The two corners, x and y. [m]
    """

    start_index: int
    end_index: int
    start_m: tuple[float, float]
    end_m: tuple[float, float]

    @property
    def length_m(self) -> float:
        """How long the side is. [m]."""
        return math.dist(self.start_m, self.end_m)

    @property
    def heading_rad(self) -> float:
        """The direction from start to end, counter-clockwise from east, in [0, 2 pi). [rad]."""
        east_m = self.end_m[0] - self.start_m[0]
        north_m = self.end_m[1] - self.start_m[1]
        return math.atan2(north_m, east_m) % math.tau

    def distance_m(self, point_m: tuple[float, float]) -> float:
        """Return how far a point lies from the line of this side, left of it positive. [m]."""
        return float(_distances_m(self, np.asarray([point_m]))[0])


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Outline:
    """A field's outer edge and the holes in it, as rings of corners in the local plane.

    Building one checks it and brings it to one form: rings open (the first corner not repeated
    at the end), the outer ring counter-clockwise, holes clockwise, arrays read-only. Two
    outlines are equal when all their corners are, in the same order.

    Attributes
    ----------
    exterior_m
        Corners of the outer edge, ``(n, 2)`` x, y. [m]
    holes_m
        One array ``(n, 2)`` for each hole: a pond, a grass waterway, a stand of trees. [m]

    Raises
    ------
    OutlineRefused
        Fewer than three corners, a figure that is no number, an edge that crosses another, a
        hole that leaves the field, or no ground inside.
    """

    exterior_m: FloatArray
    holes_m: tuple[FloatArray, ...] = ()

    def __post_init__(self) -> None:
        exterior_m = _open_ring(self.exterior_m, what="the outer edge", left_turning=True)
        holes_m = tuple(
            _open_ring(hole_m, what=f"hole {number}", left_turning=False)
            for number, hole_m in enumerate(self.holes_m, start=1)
        )
        object.__setattr__(self, "exterior_m", exterior_m)
        object.__setattr__(self, "holes_m", holes_m)
        shape = self.shape
        if not shape.is_valid:
            raise OutlineRefused(f"the edges do not hold together: {_why_invalid(shape)}")
        if shape.area <= 0.0:
            raise OutlineRefused("there is no ground inside the outline")

    def __eq__(self, other: object) -> bool:
        """Whether every corner is the same."""
        if not isinstance(other, Outline):
            return NotImplemented
        mine, theirs = (self.exterior_m, *self.holes_m), (other.exterior_m, *other.holes_m)
        return len(mine) == len(theirs) and all(map(np.array_equal, mine, theirs))

    def __hash__(self) -> int:
        """Equal outlines, equal hashes."""
        return hash(tuple(ring_m.tobytes() for ring_m in (self.exterior_m, *self.holes_m)))

    @property
    def shape(self) -> shapely.Polygon:
        """The outline as a shapely geometry, for cutting and measuring. [m]."""
        return shapely.Polygon(self.exterior_m, self.holes_m)

    @property
    def area_m2(self) -> float:
        """The ground inside, holes taken off. [m2]."""
        return float(self.shape.area)

    @property
    def corners_count(self) -> int:
        """Corners of the outer edge and of every hole."""
        return sum(len(ring_m) for ring_m in (self.exterior_m, *self.holes_m))

    @property
    def perimeter_m(self) -> float:
        """The way round the outer edge; holes do not count. [m]."""
        return float(shapely.LinearRing(self.exterior_m).length)

    @property
    def edges_m(self) -> FloatArray:
        """Edges of the outer ring, ``(n, 2, 2)``: edge, start or end, x or y. [m]."""
        return np.stack([self.exterior_m, np.roll(self.exterior_m, -1, axis=0)], axis=1)


def outlines_of(geometry: shapely.Geometry) -> tuple[Outline, ...]:
    """Return every piece of ground in a shapely geometry as an outline, largest first. [m].

    Pieces without area (points, lines, slivers under a square centimetre) are left out.
    """
    parts = [
        part
        for part in shapely.get_parts(geometry)
        if part.geom_type == "Polygon" and part.area > _NO_GROUND_M2
    ]
    parts.sort(key=lambda part: (-part.area, part.bounds))
    return tuple(
        Outline(
            exterior_m=shapely.get_coordinates(part.exterior),
            holes_m=tuple(shapely.get_coordinates(ring) for ring in part.interiors),
        )
        for part in parts
    )


def inset(outline: Outline, *, depth_m: float) -> tuple[Outline, ...]:
    """Return what a headland of one depth leaves of the field, largest piece first. [m].

    The headland runs along the outer edge and round every hole. A narrow neck parts the rest
    in two or more pieces; a field narrower than two headlands leaves none.

    Parameters
    ----------
    depth_m
        How deep the headland is, zero or more. [m]

    Raises
    ------
    OutOfRange
        A negative depth.

    Notes
    -----
    Corners stay corners (mitred, cut off where sharper than about 23 degrees), so every point
    left is at least ``depth_m`` from every edge.

    Source
    ------
    Derived here; tests/core/test_outline.py checks area and distance on drawn fields.
    """
    if not depth_m >= 0.0:
        raise OutOfRange("headland depth", depth_m, 0.0)
    if depth_m < _NO_DEPTH_M:
        return (outline,)
    return outlines_of(outline.shape.buffer(-depth_m, join_style="mitre", mitre_limit=5.0))


def thinned(outline: Outline, *, within_m: float, area_within_fraction: float) -> Outline:
    """Return an outline with fewer corners, holes too, that strays little from the one given.

    Parameters
    ----------
    within_m
        How far an edge may stray from the corners it leaves out. [m]
    area_within_fraction
        Share of the area it may gain or lose; the outline comes back as it was where it would
        be more.

    Raises
    ------
    OutOfRange
        A distance or a share below zero.

    Source
    ------
    D. H. Douglas and T. K. Peucker, "Algorithms for the reduction of the number of points
    required to represent a digitized line or its caricature", Cartographica 10, 1973, as shapely
    has it, edges kept from crossing; from memory.
    """
    if not within_m >= 0.0:
        raise OutOfRange("distance to stray", within_m, 0.0)
    if not area_within_fraction >= 0.0:
        raise OutOfRange("share of the area", area_within_fraction, 0.0)
    found = outlines_of(shapely.simplify(outline.shape, within_m, preserve_topology=True))
    if len(found) != 1 or len(found[0].holes_m) != len(outline.holes_m):
        return outline
    apart_m2 = abs(found[0].area_m2 - outline.area_m2)
    return found[0] if apart_m2 <= area_within_fraction * outline.area_m2 else outline


def sides(outline: Outline, *, straight_within_m: float) -> tuple[Edge, ...]:
    """Return the sides of the outer edge as a person sees them, wiggles straightened. [m].

    Parameters
    ----------
    straight_within_m
        A run of corners counts as one side while none strays further than this from the
        straight line between its ends; 0 keeps every bend. [m]
    """
    return _sides_of_ring(outline.exterior_m, straight_within_m=straight_within_m)


def hull_edges(outline: Outline, *, straight_within_m: float) -> tuple[Edge, ...]:
    """Return the sides from which the whole field lies to one hand. [m].

    Parameters
    ----------
    straight_within_m
        How far a side may stray from straight, and the field across its line. [m]
    """
    reach_m = straight_within_m + 1e-9 * (1.0 + outline.perimeter_m)
    return tuple(
        side
        for side in sides(outline, straight_within_m=straight_within_m)
        if float(_distances_m(side, outline.exterior_m).min()) >= -reach_m
    )


def longest_edge(outline: Outline, *, straight_within_m: float) -> Edge:
    """Return the longest side of the outer edge; the first of equals, from the first corner. [m].

    Parameters
    ----------
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    """
    found = sides(outline, straight_within_m=straight_within_m)
    longest_m = max(side.length_m for side in found)
    as_long = [side for side in found if side.length_m > longest_m * (1.0 - 1e-9)]
    return min(as_long, key=lambda side: side.start_index)


def edge_headings_rad(outline: Outline, *, straight_within_m: float) -> FloatArray:
    """Return the direction of every side, holes included, ``(n_sides,)`` in [0, pi). [rad].

    The longest side's direction comes first, the others in order of falling length.

    Parameters
    ----------
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    """
    found = list(sides(outline, straight_within_m=straight_within_m))
    first = longest_edge(outline, straight_within_m=straight_within_m)
    for hole_m in outline.holes_m:
        found.extend(_sides_of_ring(hole_m, straight_within_m=straight_within_m))
    found.sort(key=lambda side: -side.length_m)
    headings_rad = [first.heading_rad, *(side.heading_rad for side in found)]
    return np.asarray(headings_rad, dtype=np.float64) % math.pi


def extent_across_m(outline: Outline, *, heading_rad: float) -> float:
    """Return how wide the field lies across a heading: what the passes must cover. [m].

    Parameters
    ----------
    heading_rad
        Driving direction, counter-clockwise from east. [rad]

    Notes
    -----
    For a rectangle L x W at an angle a to its long side: ``L sin(a) + W cos(a)``.

    Source
    ------
    Derived here; MACH-C71 and MACH-C74 in tests/core/test_outline.py.
    """
    return _extent_m(outline, (-math.sin(heading_rad), math.cos(heading_rad)))


def extent_along_m(outline: Outline, *, heading_rad: float) -> float:
    """Return how far the field reaches along a heading: the longest a pass could be. [m].

    Parameters
    ----------
    heading_rad
        Driving direction, counter-clockwise from east. [rad]
    """
    return _extent_m(outline, (math.cos(heading_rad), math.sin(heading_rad)))


def _distances_m(side: Edge, points_m: FloatArray) -> FloatArray:
    (x_m, y_m), (x_end_m, y_end_m) = side.start_m, side.end_m
    to_points_m = points_m - np.asarray(side.start_m)
    cross_m2 = (x_end_m - x_m) * to_points_m[:, 1] - (y_end_m - y_m) * to_points_m[:, 0]
    distances_m: FloatArray = cross_m2 / side.length_m
    return distances_m


def _extent_m(outline: Outline, direction: tuple[float, float]) -> float:
    return float(np.ptp(outline.exterior_m @ np.asarray(direction)))


def _open_ring(corners_m: FloatArray, *, what: str, left_turning: bool) -> FloatArray:
    ring_m = np.array(corners_m, dtype=np.float64)
    if ring_m.ndim != 2 or ring_m.shape[1] != 2:
        raise OutlineRefused(f"{what} is not a list of corners with an x and a y each")
    if not np.isfinite(ring_m).all():
        raise OutlineRefused(f"{what} has a corner that is not a number")
    if len(ring_m) > 1 and np.array_equal(ring_m[0], ring_m[-1]):
        ring_m = ring_m[:-1]
    if len(ring_m) < 3:
        raise OutlineRefused(f"{what} has {len(ring_m)} corners; it needs three at least")
    if (_signed_area_m2(ring_m) > 0.0) != left_turning:
        ring_m = ring_m[::-1].copy()
    ring_m.setflags(write=False)
    return ring_m


def _signed_area_m2(ring_m: FloatArray) -> float:
    # Taken about the first corner: a field far from the origin loses no digits, and the edge
    # that closes the ring adds nothing.
    x_m, y_m = (ring_m - ring_m[0]).T
    return 0.5 * float(x_m[:-1] @ y_m[1:] - x_m[1:] @ y_m[:-1])


def _why_invalid(shape: shapely.Polygon) -> str:
    return str(shapely.is_valid_reason(shape)).lower()


def _sides_of_ring(ring_m: FloatArray, *, straight_within_m: float) -> tuple[Edge, ...]:
    if not straight_within_m >= 0.0:
        raise OutOfRange("straight within", straight_within_m, 0.0)
    kept = _straightened_indices(ring_m, straight_within_m)
    corners = ring_m.tolist()
    return tuple(
        Edge(
            start_index=start,
            end_index=end,
            start_m=(corners[start][0], corners[start][1]),
            end_m=(corners[end][0], corners[end][1]),
        )
        for start, end in zip(kept, [*kept[1:], kept[0]], strict=True)
    )


def _straightened_indices(ring_m: FloatArray, straight_within_m: float) -> list[int]:
    """Return which corners stay when wiggles are straightened, in the ring's own order."""
    # The corner furthest from the middle is a true corner, so the straightening starts there.
    first = int(np.argmax(np.sum((ring_m - ring_m.mean(axis=0)) ** 2, axis=1)))
    closed_m = np.vstack([np.roll(ring_m, -first, axis=0), ring_m[first]])
    line = shapely.simplify(
        shapely.LineString(closed_m), straight_within_m, preserve_topology=False
    )
    index_of = {(x_m, y_m): index for index, (x_m, y_m) in enumerate(ring_m.tolist())}
    kept = sorted({index_of[x_m, y_m] for x_m, y_m in shapely.get_coordinates(line).tolist()})
    return kept if len(kept) >= 3 else list(range(len(ring_m)))
