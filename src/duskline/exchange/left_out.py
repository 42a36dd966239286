"""Ground that is left out, laid on its field: what comes off the record, what is driven round."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from duskline.core.farm import LeftOut
from duskline.core.outline import FloatArray, Outline, outlines_of
from duskline.exchange.field_facts import LeftOutFact
from duskline.exchange.outlines import FieldShape
from duskline.exchange.problems import Problem
from duskline.exchange.projection import geodesic_area_m2

__all__ = ["LaidOut", "circle_m", "lay_out"]

# A place of which only middle and size are known is driven round as a circle of this many sides.
_SIDES = 24
# Less of a ring inside the field than this is a ring drawn in another place.
_LEAST_INSIDE_M2 = 1.0
# More of a ring outside the field than this share is worth a note.
_NOTED_OUTSIDE_FRACTION = 0.02
# What is left may fall apart in slivers up to this share of it; they are not driven.
_SLIVER_FRACTION = 0.005


@dataclass(frozen=True, kw_only=True, slots=True)
class LaidOut:
    """The left-out ground of one field.

    Attributes
    ----------
    left_out
        Each piece with its area. [m2]
    drive_outline
        The outline with the pieces whose place is known cut out; None where there is none. [m]
    problems, notes
        What has to be put right, and what looks odd.
    """

    left_out: tuple[LeftOut, ...] = ()
    drive_outline: Outline | None = None
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


def lay_out(shape: FieldShape, pieces: Sequence[LeftOutFact], *, file: str) -> LaidOut:
    """Return a field's left-out ground and the outline that is left to drive. [m], [m2]

    Parameters
    ----------
    shape
        The field.
    pieces
        What is left out of it, as written.
    file
        The file of the outlines, for the problems.

    Notes
    -----
    A ring counts with its ground inside the field that no earlier ring took. A middle and a
    size count with the size as written and are driven round as a circle of that area.

    Source
    ------
    Derived here; checked against areas by hand in tests/exchange/test_left_out.py.
    """
    ground = shape.outline_m.shape
    taken: shapely.Geometry = shapely.Polygon()
    found: list[LeftOut] = []
    problems: list[Problem] = []
    notes: list[str] = []

    def refuse(piece: LeftOutFact, *, read: str, expected: str) -> None:
        where = f'field "{shape.name}", left out "{piece.what}"'
        problems.append(Problem(file=piece.file or file, where=where, read=read, expected=expected))

    for piece in pieces:
        area_m2, centre_deg = piece.area_m2 or 0.0, piece.at_lonlat_deg
        if piece.ring_lonlat_deg:
            whole = shapely.Polygon(shape.plane.to_plane(np.asarray(piece.ring_lonlat_deg)))
            if not whole.is_valid:
                refuse(piece, read="a ring that crosses itself", expected="a ring round the ground")
                continue
            cut = shapely.difference(shapely.intersection(whole, ground), taken)
            if cut.area < _LEAST_INSIDE_M2:
                refuse(piece, read="a ring outside the field", expected="ground of the field")
                continue
            if whole.area - cut.area > _NOTED_OUTSIDE_FRACTION * whole.area:
                notes.append(
                    f'{100.0 * (1.0 - cut.area / whole.area):.0f} % of "{piece.what}" lies outside '
                    "it or is left out already; only the rest comes off"
                )
            area_m2, centre_deg = _ground_m2(cut, shape), _middle_deg(cut, shape)
        elif centre_deg is not None:
            centre_m = shape.plane.to_plane(np.asarray([centre_deg]))[0]
            if not shapely.contains_xy(ground, *centre_m):
                refuse(piece, read="a place outside the field", expected="a place in the field")
                continue
            whole = shapely.Polygon(circle_m(centre_m, area_m2=area_m2))
        else:
            whole = shapely.Polygon()
        # Whole, not cut at the edge: rounding there would leave a bridge as thin as a hair.
        taken = shapely.union(taken, whole)
        found.append(
            LeftOut(
                field=shape.name,
                what=piece.what,
                area_m2=area_m2,
                centre_lonlat_deg=centre_deg,
                ring_lonlat_deg=piece.ring_lonlat_deg or None,
                come_back=piece.come_back,
                note=piece.note,
            )
        )
    if pieces and sum(one.area_m2 for one in found) >= shape.area_m2:
        refuse(pieces[-1], read="more left out than the field has", expected="less than the field")
        return LaidOut(problems=tuple(problems))
    driven = None
    if not taken.is_empty:
        left = outlines_of(shapely.difference(ground, taken))
        slivers_m2 = sum(part.area_m2 for part in left[1:])
        if not left or slivers_m2 > _SLIVER_FRACTION * left[0].area_m2:
            refuse(
                pieces[-1],
                read=f"left-out ground that parts the field in {len(left)}",
                expected="one piece of ground to drive; draw the parts as fields of their own",
            )
        else:
            driven = left[0]
    return LaidOut(
        left_out=tuple(found),
        drive_outline=driven,
        problems=tuple(problems),
        notes=tuple(notes),
    )


def circle_m(centre_m: FloatArray, *, area_m2: float) -> FloatArray:
    """Return the corners of an even 24-sided ring of one area round a point, ``(24, 2)``. [m]

    Parameters
    ----------
    centre_m
        x, y. [m]
    area_m2
        Its area. [m2]

    Notes
    -----
    An even ring of n corners at radius r holds ``n r^2 sin(2 pi / n) / 2``.
    """
    radius_m = math.sqrt(2.0 * area_m2 / (_SIDES * math.sin(math.tau / _SIDES)))
    turns_rad = np.arange(_SIDES) * (math.tau / _SIDES)
    ring_m: FloatArray = centre_m + radius_m * np.column_stack(
        [np.cos(turns_rad), np.sin(turns_rad)]
    )
    return ring_m


def _ground_m2(cut: shapely.Geometry, shape: FieldShape) -> float:
    """Return what a piece holds on the earth's ellipsoid. [m2]"""
    return sum(
        geodesic_area_m2(
            shape.plane.to_lonlat(part.exterior_m), [*map(shape.plane.to_lonlat, part.holes_m)]
        )
        for part in outlines_of(cut)
    )


def _middle_deg(cut: shapely.Geometry, shape: FieldShape) -> tuple[float, float]:
    """Return a point inside the piece, longitude and latitude. [deg]"""
    point = shapely.point_on_surface(cut)
    lon_deg, lat_deg = shape.plane.to_lonlat(np.asarray([[point.x, point.y]]))[0].tolist()
    return lon_deg, lat_deg
