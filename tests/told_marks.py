"""Read a driver's sentence back into places: from corners, sides and distances to x and y.

Nothing here knows how the sentence was made; it goes by what a person can look up on the ground.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from duskline.core.outline import Edge, FloatArray, Outline, sides
from duskline.words.aim import WINDS, compass_deg, corner_name, side_name

__all__ = ["told_line_m", "told_mark_m", "told_start_m"]

UNIT_M = {"ft": 0.3048, "m": 1.0}
FAR = r"([\d.,]+) (ft|m)(?: \(\d+ steps?\))?"
WIND = r"((?:north|south)(?:-east|-west)?|east|west)"
ON_SIDE = re.compile(rf"Start on the {WIND} side: {FAR} {WIND} of (the .+?), then {FAR} in\.")
IN_LINE = re.compile(
    rf"Start in line with the {WIND} side: {FAR} {WIND} of (the .+?), then {FAR} in\."
)
AT_CORNER = re.compile(rf"Start at (the .+?), {FAR} in from the {WIND} side\.")
MARK = re.compile(rf"Drive at a post or flag on the {WIND} side, {FAR} {WIND} of (the .+?)\.")
STRAIGHT = re.compile(r"Drive straight at (the .+?)\.")

ROUND = re.compile(
    rf"Start on the {WIND} side\. The middle of pass 1 runs {FAR} in from the point of the field "
    rf"farthest [^(]+\((\d+)°\)\. Drive towards the {WIND} side\."
)


def told_line_m(text: str, outline: Outline) -> FloatArray | None:
    """Return a place that pass 1 runs through by the words of a round field; None of others."""
    said = ROUND.search(text)
    if said is None:
        return None
    _, far, unit, degrees, _ = said.groups()
    out = np.radians(90.0 - float(degrees))
    way = np.asarray([np.cos(out), np.sin(out)])
    outermost_m = outline.exterior_m[int(np.argmax(outline.exterior_m @ way))]
    return np.asarray(outermost_m - _m(far, unit) * way)


def told_start_m(text: str, outline: Outline, *, straight_within_m: float) -> list[FloatArray]:
    """Return every place the words of a start may mean, ``(2,)`` each; one, if they are good."""
    found = sides(outline, straight_within_m=straight_within_m)
    corners = _corners(outline, found, straight_within_m)
    if said := ON_SIDE.search(text):
        side, along, unit, wind, corner, deep, deep_unit = said.groups()
        return [
            at_m + _m(along, unit) * way + _m(deep, deep_unit) * _inward(edge)
            for at_m, edge, way in _from_corner(found, corners[corner])
            if side_name(edge) == side and _wind(way) == wind
        ]
    if said := IN_LINE.search(text):
        side, along, unit, wind, corner, deep, deep_unit = said.groups()
        return [
            at_m - _m(along, unit) * way + _m(deep, deep_unit) * _inward(edge)
            for at_m, edge, way in _from_corner(found, corners[corner])
            if side_name(edge) == side and _wind(-way) == wind
        ]
    said = AT_CORNER.search(text)
    assert said is not None, text
    corner, deep, deep_unit, side = said.groups()
    return [
        at_m + _m(deep, deep_unit) * _inward(edge)
        for at_m, edge, _ in _from_corner(found, corners[corner])
        if side_name(edge) == side
    ]


def told_mark_m(text: str, outline: Outline, *, straight_within_m: float) -> list[FloatArray]:
    """Return every place the words of a mark may mean, ``(2,)`` each; one, if they are good."""
    found = sides(outline, straight_within_m=straight_within_m)
    corners = _corners(outline, found, straight_within_m)
    if said := STRAIGHT.search(text):
        return [np.asarray(corners[said[1]])]
    said = MARK.search(text)
    assert said is not None, text
    side, far, unit, wind, corner = said.groups()
    return [
        at_m + _m(far, unit) * way
        for at_m, edge, way in _from_corner(found, corners[corner])
        if side_name(edge) == side and _wind(way) == wind
    ]


def _corners(
    outline: Outline, found: tuple[Edge, ...], straight_within_m: float
) -> dict[str, tuple[float, float]]:
    named = {
        corner_name(outline, side.start_m, straight_within_m=straight_within_m): side.start_m
        for side in found
    }
    assert len(named) == len(found)
    return named


def _from_corner(
    found: tuple[Edge, ...], corner_m: tuple[float, float]
) -> Iterator[tuple[FloatArray, Edge, FloatArray]]:
    """Yield both sides at a corner, with the way along each away from it."""
    at_m = np.asarray(corner_m)
    for edge in found:
        way = np.subtract(edge.end_m, edge.start_m) / edge.length_m
        if edge.start_m == corner_m:
            yield at_m, edge, way
        if edge.end_m == corner_m:
            yield at_m, edge, -way


def _inward(edge: Edge) -> FloatArray:
    east_m, north_m = np.subtract(edge.end_m, edge.start_m) / edge.length_m
    return np.asarray([-north_m, east_m])


def _wind(way: FloatArray) -> str:
    return WINDS["en"][round(compass_deg(float(np.arctan2(way[1], way[0]))) / 45.0) % 8]


def _m(figure: str, unit: str) -> float:
    return float(figure.replace(",", "")) * UNIT_M[unit]
