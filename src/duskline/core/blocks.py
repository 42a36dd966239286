"""Parts of a field that are better driven each along a heading of its own.

A field with an arm or a deep notch is cut along the line of one of its own edges when the turns
saved are worth more than the drive from part to part.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import ops

from duskline.core.outline import FloatArray

__all__ = ["Block", "expected_runs_count", "split_into_blocks"]

# More parts than this make a plan that nobody can keep in his head.
_MOST_BLOCKS = 4
# Corners tried for a cut, those with the longest sides first.
_MOST_CORNERS = 12
# A cut must save this many turns, and this share of all the turns there are, to be worth telling.
_LEAST_TURNS_SAVED = 6.0
_LEAST_SHARE_SAVED = 0.15
# Smaller parts than this many tool widths squared are left with the rest.
_SMALLEST_WIDTHS = 40.0


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Block:
    """One part of a field and the heading its turns are fewest along.

    Attributes
    ----------
    region
        The part, cut from the whole outline. [m]
    heading_rad
        In [0, pi), counter-clockwise from east. [rad]
    """

    region: shapely.Polygon
    heading_rad: float


def expected_runs_count(
    rings_m: Sequence[FloatArray], *, headings_rad: FloatArray, driving_width_m: float
) -> FloatArray:
    """Return how many runs a heading gives on average over where the first pass falls, ``(n,)``.

    Parameters
    ----------
    rings_m
        Corners of every ring, outer edges and holes alike, each ``(n, 2)``. [m]
    headings_rad
        Headings to weigh, ``(n,)``. [rad]
    driving_width_m
        From one pass to the next. [m]

    Notes
    -----
    Each line across the ground enters and leaves it, so with e the edges and n the direction
    across the heading: ``sum(|e . n|) / (2 W)``. Between the directions of two edges the sum is
    concave in the heading, so its least value lies along an edge.

    Source
    ------
    Derived here; tests/core/test_passes.py counts runs over many starts.
    """
    edges_m = np.concatenate([np.roll(ring, -1, axis=0) - ring for ring in rings_m])
    across = np.stack([-np.sin(headings_rad), np.cos(headings_rad)])
    runs: FloatArray = np.abs(edges_m @ across).sum(axis=0) / (2.0 * driving_width_m)
    return runs


def split_into_blocks(
    region: shapely.Polygon, *, driving_width_m: float, straight_within_m: float
) -> tuple[Block, ...]:
    """Return the parts of a field that are worth driving along headings of their own.

    Parameters
    ----------
    region
        The field. [m]
    driving_width_m
        From one pass to the next. [m]
    straight_within_m
        How far a side may stray from straight and still count as one. [m]

    Notes
    -----
    Cuts run from an inward corner along one of its two sides. The best is taken while it saves
    enough expected turns; then its parts are looked at in the same way. Found, not proven best.

    Source
    ------
    Derived here; tests/core/test_blocks.py cuts an L and leaves a rectangle whole.
    """
    whole = _Part(region, driving_width_m, straight_within_m)
    parts = [whole]
    while len(parts) < _MOST_BLOCKS:
        best: tuple[float, int, list[_Part]] | None = None
        for at, part in enumerate(parts):
            for pieces in part.cuts():
                saved = part.runs - sum(piece.runs for piece in pieces)
                if best is None or saved > best[0]:
                    best = saved, at, pieces
        if best is None or best[0] < max(_LEAST_TURNS_SAVED, _LEAST_SHARE_SAVED * whole.runs):
            break
        parts[best[1] : best[1] + 1] = best[2]
    return tuple(Block(region=part.region, heading_rad=part.heading_rad) for part in parts)


class _Part:
    """A part with its straightened sides, its best heading, and the cuts it offers."""

    def __init__(
        self, region: shapely.Polygon, driving_width_m: float, straight_within_m: float
    ) -> None:
        self.region = region
        self._width_m = driving_width_m
        self._within_m = straight_within_m
        self._plain = shapely.simplify(region, straight_within_m, preserve_topology=True)
        rings_m = [shapely.get_coordinates(ring)[:-1] for ring in _rings(self._plain)]
        edges_m = np.concatenate([np.roll(ring, -1, axis=0) - ring for ring in rings_m])
        headings_rad = np.arctan2(edges_m[:, 1], edges_m[:, 0]) % math.pi % math.pi
        runs = expected_runs_count(
            rings_m, headings_rad=headings_rad, driving_width_m=driving_width_m
        )
        best = int(np.argmin(runs))
        self.heading_rad = float(headings_rad[best])
        self.runs = float(runs[best])
        self._cuts: list[list[_Part]] | None = None

    def cuts(self) -> list[list[_Part]]:
        """Return the parts that each cut from an inward corner would leave."""
        if self._cuts is None:
            self._cuts = [pieces for line in self._lines() if (pieces := self._cut(line))]
        return self._cuts

    def _lines(self) -> list[shapely.LineString]:
        """Return the lines worth cutting along: sides run on from inward corners."""
        west_m, south_m, east_m, north_m = self.region.bounds
        reach_m = math.hypot(east_m - west_m, north_m - south_m)
        corner_m = shapely.get_coordinates(shapely.orient_polygons(self._plain).exterior)[:-1]
        back_m = corner_m - np.roll(corner_m, 1, axis=0)
        ahead_m = np.roll(corner_m, -1, axis=0) - corner_m
        inward = back_m[:, 0] * ahead_m[:, 1] - back_m[:, 1] * ahead_m[:, 0] < 0.0
        sides_m = np.hypot(*back_m.T) + np.hypot(*ahead_m.T)
        turn = np.abs(
            np.arctan2(
                back_m[:, 0] * ahead_m[:, 1] - back_m[:, 1] * ahead_m[:, 0],
                (back_m * ahead_m).sum(axis=1),
            )
        )
        inward &= turn > math.radians(30.0)
        corners = np.flatnonzero(inward)
        corners = corners[np.argsort(-sides_m[corners], kind="stable")[:_MOST_CORNERS]]
        lines = []
        for at in corners.tolist():
            for along_m in (back_m[at], -ahead_m[at]):
                unit = along_m / math.hypot(*along_m)
                # A hair back, so that the cut surely parts the ground at the corner itself.
                lines.append(
                    shapely.LineString([corner_m[at] - 1e-6 * unit, corner_m[at] + reach_m * unit])
                )
        return lines

    def _cut(self, line: shapely.LineString) -> list[_Part]:
        """Return the two parts on either side of a line's first stretch, or none."""
        inside = shapely.get_parts(shapely.intersection(line, self._plain))
        inside = [piece for piece in inside if piece.geom_type == "LineString"]
        corner = shapely.get_point(line, 0)
        inside = [piece for piece in inside if shapely.distance(piece, corner) < 1e-3]
        inside.sort(key=lambda piece: -piece.length)
        if not inside or inside[0].length < self._width_m:
            return []
        # Run on a little at both ends: the drawn edge wiggles about the straightened one.
        first_m, last_m = shapely.get_coordinates(inside[0])[[0, -1]]
        unit = (last_m - first_m) / math.dist(first_m, last_m)
        over_m = 2.0 * self._within_m
        cut = shapely.LineString([first_m - over_m * unit, last_m + over_m * unit])
        pieces = [
            piece
            for piece in shapely.get_parts(ops.split(self.region, cut))
            if piece.geom_type == "Polygon"
        ]
        large = [piece for piece in pieces if piece.area > _SMALLEST_WIDTHS * self._width_m**2]
        if len(large) < 2:
            return []
        scraps = [piece for piece in pieces if piece not in large]
        for scrap in scraps:
            near = max(large, key=lambda piece: shapely.intersection(piece, scrap).length)
            joined = shapely.union(near, scrap)
            if joined.geom_type == "Polygon":
                large[large.index(near)] = joined
        return [_Part(piece, self._width_m, self._within_m) for piece in large]


def _rings(shape: shapely.Polygon) -> list[shapely.LinearRing]:
    return [shape.exterior, *shape.interiors]
