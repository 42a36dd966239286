"""Mending a drawn outline where that is safe, and refusing it where it is not.

Safe means: the ground inside changes by less than a thousandth.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from duskline.core.errors import OutlineRefused
from duskline.core.outline import FloatArray, Outline

__all__ = ["Mended", "OutlineCrossesItself", "mend"]

# Mending may change the ground inside by this share at most.
_SAFE_FRACTION = 1e-3
# Corners nearer to each other than this are one corner. [m]
_SAME_CORNER_M = 0.01
# Out and back along lines that part by less than this is a slip of the pen. [m]
_SPIKE_WIDTH_M = 0.5
_SPIKE_RAD = math.radians(2.0)
_SPIKE_SWEEPS = 10
# More corners than this are a machine's track, not a drawing; it is thinned to within a few
# centimetres, finer than any machine is driven.
_MANY_CORNERS = 5000
_THINNED_WITHIN_M = 0.05
_MOST_CORNERS_KEPT = 20_000
# Smaller than a house: a slip of the pen, not a field.
_SMALLEST_FIELD_M2 = 100.0
_SMALLEST_HOLE_M2 = 0.1
_HOLE_AT_THE_EDGE = "a hole that met the edge or another hole was joined to it"
_CROSSED_BY_A_HAIR = "edges that crossed by a hair were put straight"
_TOO_SMALL = "the outline holds less ground than a house stands on"


class OutlineCrossesItself(OutlineRefused):
    """The edge crosses or touches itself at ``at_m``, x and y in the field's plane [m]."""

    def __init__(self, at_m: tuple[float, float]) -> None:
        super().__init__("the outline crosses itself")
        self.at_m = at_m


@dataclass(frozen=True, kw_only=True, slots=True)
class Mended:
    """An outline fit for use, and what was done to it in plain words."""

    outline: Outline
    notes: tuple[str, ...]


def mend(exterior_m: FloatArray, holes_m: Sequence[FloatArray] = ()) -> Mended:
    """Return the outline of drawn rings, mended where it is safe [m].

    Parameters
    ----------
    exterior_m
        Corners as drawn, ``(n, 2)`` x, y; the first one repeated at the end. [m]
    holes_m
        One array of the same form for each hole. [m]

    Returns
    -------
    Mended
        Rings closed and turned the right way, repeated corners, thin spikes and knots gone,
        each with a note.

    Raises
    ------
    OutlineRefused
        Fewer than three corners, an edge too ragged to be a field's, less ground than a house
        stands on, a hole outside the field, or ground parted in two.
        ``OutlineCrossesItself`` where an edge crosses another and the ground cannot be told.

    Notes
    -----
    Ground before: outer ring less holes, each by the shoelace sum. In a figure of eight the
    two lobes take from each other in that sum, so it differs from any way of mending and the
    outline is refused.
    """
    notes: list[str] = []
    exterior_m, *tidied_m = [_tidy(ring_m, notes) for ring_m in (exterior_m, *holes_m)]
    holes_m = [hole for hole in tidied_m if abs(_turning_area_m2(hole)) >= _SMALLEST_HOLE_M2]
    if len(holes_m) < len(tidied_m):
        notes.append("a hole without ground in it was left out")
    _check_size(exterior_m, holes_m)
    if _turning_area_m2(exterior_m) < 0.0 or any(_turning_area_m2(hole) > 0.0 for hole in holes_m):
        notes.append("corners were listed the other way round; they were turned")
    outline = _as_outline(exterior_m, holes_m, notes)
    if outline.area_m2 < _SMALLEST_FIELD_M2:
        raise OutlineRefused(_TOO_SMALL)
    return Mended(outline=outline, notes=tuple(dict.fromkeys(notes)))


def _check_size(exterior_m: FloatArray, holes_m: Sequence[FloatArray]) -> None:
    if len(exterior_m) < 3:
        raise OutlineRefused(
            f"the outline has {len(exterior_m)} different corners; it needs three at least"
        )
    if len(exterior_m) + sum(map(len, holes_m)) > _MOST_CORNERS_KEPT:
        raise OutlineRefused("the edge is too ragged to be a field's")
    if shapely.MultiPoint(exterior_m).convex_hull.area < _SMALLEST_FIELD_M2:
        raise OutlineRefused(_TOO_SMALL)


def _tidy(ring_m: FloatArray, notes: list[str]) -> FloatArray:
    """Return the ring open, without repeated corners, spikes or needless corners."""
    if len(ring_m) > 1 and np.array_equal(ring_m[0], ring_m[-1]):
        ring_m = ring_m[:-1]
    elif len(ring_m) > 2:
        notes.append("the outline was not closed; it was closed")
    for mended, note in (
        (_without_repeats, "repeated corners were dropped"),
        (_without_spikes, "a thin spike was cut off"),
        (_thinned, "corners were thinned; the edge moved by no more than a hand's breadth"),
    ):
        kept_m = _if_safe(ring_m, mended)
        if len(kept_m) < len(ring_m):
            notes.append(note)
        ring_m = kept_m
    return ring_m


def _if_safe(ring_m: FloatArray, mended: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Return the mended ring, or the ring as it was where the ground would change."""
    kept_m = mended(ring_m)
    before_m2, after_m2 = abs(_turning_area_m2(ring_m)), abs(_turning_area_m2(kept_m))
    return kept_m if abs(after_m2 - before_m2) <= _SAFE_FRACTION * before_m2 else ring_m


def _without_repeats(ring_m: FloatArray) -> FloatArray:
    kept: list[int] = []
    corners = ring_m.tolist()
    for index, corner in enumerate(corners):
        if not kept or math.dist(corner, corners[kept[-1]]) >= _SAME_CORNER_M:
            kept.append(index)
    while len(kept) > 1 and math.dist(corners[kept[0]], corners[kept[-1]]) < _SAME_CORNER_M:
        kept.pop()
    return ring_m[kept]


def _without_spikes(ring_m: FloatArray) -> FloatArray:
    """Return the ring without corners where the edge goes out and comes back on itself."""
    for _ in range(_SPIKE_SWEEPS):
        if len(ring_m) <= 3:
            break
        back_m = np.roll(ring_m, 1, axis=0) - ring_m
        on_m = np.roll(ring_m, -1, axis=0) - ring_m
        lengths_m = np.stack([np.hypot(*back_m.T), np.hypot(*on_m.T)])
        cross_m2 = back_m[:, 0] * on_m[:, 1] - back_m[:, 1] * on_m[:, 0]
        angle_rad = np.abs(np.arctan2(cross_m2, np.sum(back_m * on_m, axis=1)))
        width_m = np.abs(cross_m2) / np.maximum(lengths_m.max(axis=0), _SAME_CORNER_M)
        spikes = (angle_rad < _SPIKE_RAD) & (width_m < _SPIKE_WIDTH_M)
        # Not two neighbours at once: one may be no spike once the other's tip is gone.
        spikes &= ~np.roll(spikes, 1)
        if not spikes.any():
            break
        ring_m = _without_repeats(ring_m[~spikes])
    return ring_m


def _thinned(ring_m: FloatArray) -> FloatArray:
    if len(ring_m) <= _MANY_CORNERS:
        return ring_m
    closed = shapely.LineString(np.vstack([ring_m, ring_m[:1]]))
    thinned_m: FloatArray = shapely.get_coordinates(
        shapely.simplify(closed, _THINNED_WITHIN_M, preserve_topology=False)
    )[:-1]
    return thinned_m


def _as_outline(exterior_m: FloatArray, holes_m: Sequence[FloatArray], notes: list[str]) -> Outline:
    """Return the rings as an outline, undoing knots where the ground stays the same."""
    drawn = shapely.Polygon(exterior_m, holes_m)
    if not drawn.is_valid:
        ground_m2 = abs(_turning_area_m2(exterior_m)) - sum(
            map(abs, map(_turning_area_m2, holes_m))
        )
        drawn = _unknotted(drawn, ground_m2)
        fewer_holes = len(drawn.interiors) < len(holes_m)
        notes.append(_HOLE_AT_THE_EDGE if fewer_holes else _CROSSED_BY_A_HAIR)
    return Outline(
        exterior_m=shapely.get_coordinates(drawn.exterior),
        holes_m=tuple(shapely.get_coordinates(ring) for ring in drawn.interiors),
    )


def _unknotted(drawn: shapely.Polygon, ground_m2: float) -> shapely.Polygon:
    valid = shapely.make_valid(drawn, method="structure", keep_collapsed=False)
    parts = [part for part in shapely.get_parts(valid) if part.geom_type == "Polygon"]
    largest = max(parts, key=lambda part: part.area, default=None)
    if largest is None or abs(largest.area - ground_m2) > _SAFE_FRACTION * max(ground_m2, 0.0):
        raise _refusal(drawn)
    return largest


def _refusal(drawn: shapely.Polygon) -> OutlineRefused:
    """Return why the outline cannot be mended, in plain words."""
    words, _, place = str(shapely.is_valid_reason(drawn)).lower().partition("[")
    if "self-intersection" in words and place:
        x_m, y_m = (float(figure) for figure in place.rstrip("]").split()[:2])
        return OutlineCrossesItself((x_m, y_m))
    if "outside" in words:
        return OutlineRefused("a hole lies outside the field")
    if "nested" in words:
        return OutlineRefused("one hole lies inside another")
    return OutlineRefused("the holes and the edge part the field in two")


def _turning_area_m2(ring_m: FloatArray) -> float:
    """Return the ring's area, positive where its corners run counter-clockwise [m2]."""
    if len(ring_m) < 3:
        return 0.0
    # Taken about the first corner, so the edge that closes the ring adds nothing.
    x_m, y_m = (ring_m - ring_m[0]).T
    return 0.5 * float(x_m[:-1] @ y_m[1:] - x_m[1:] @ y_m[:-1])
