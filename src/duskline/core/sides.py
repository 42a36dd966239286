"""The field's edges that matter: which sides they are, how near the spreader may drive to them.

Beyond an organic field, a seed crop, a ditch, water, a road or a home no seed may land: there
the first pass keeps its whole throw away. Along any other side it drives half a width off, and
what flies over is said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange
from duskline.core.outline import Edge, Outline, sides
from duskline.core.trays import TrayPattern, Way

__all__ = [
    "COMPASS_RAD",
    "SHUT_KINDS",
    "EdgeDose",
    "FirstPassFrom",
    "MatchedSides",
    "Reach",
    "compass_rad",
    "edge_dose",
    "first_pass_from_edge_m",
    "is_shut",
    "reach",
    "sides_facing",
    "wind_shift_m",
]

FloatArray = npt.NDArray[np.float64]

SHUT_KINDS = ("organic", "seed crop", "ditch", "road", "water", "home")
"""What may lie beyond an edge that no seed may cross."""

_WINDS = ("east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east")
COMPASS_RAD = {wind: index * math.pi / 4.0 for index, wind in enumerate(_WINDS)}
"""Compass words, counter-clockwise from east. [rad]"""
_SHORT = {"e": "east", "n": "north", "w": "west", "s": "south"}
_FACES_RAD = math.pi / 4.0 + 1e-6
_FACES_CLOSELY_RAD = math.pi / 8.0 + 1e-6
# A look outward that meets less of the field than this grazes its own side, not another part.
_SAME_GROUND_M = 0.05


# --- Which side is meant -------------------------------------------------------------------------


def compass_rad(word: str) -> float | None:
    """Return a compass word's direction, counter-clockwise from east; None if it is none. [rad]

    "east", "North-East", "northeast", "north east", "NE" are all understood.

    Source
    ------
    Derived here.
    """
    plain = word.strip().lower().replace("-", "").replace(" ", "").removesuffix("side")
    for wind, direction_rad in COMPASS_RAD.items():
        first, *rest = wind.split("-")
        short = first[0] + "".join(part[0] for part in rest)
        if plain in (wind.replace("-", ""), short, wind.replace("-", "") + "ern"):
            return direction_rad
    return None


@dataclass(frozen=True, kw_only=True, slots=True)
class MatchedSides:
    """The sides that a word for an edge means.

    Attributes
    ----------
    sides
        Found sides, in the outline's order; none where the word is no compass word or no side
        faces there.
    understood
        Whether the word is a compass word.
    """

    sides: tuple[Edge, ...]
    understood: bool


def sides_facing(outline: Outline, *, side: str, straight_within_m: float) -> MatchedSides:
    """Return the sides of the outer edge that face a compass word.

    Parameters
    ----------
    outline
        The field.
    side
        A compass word ("east", "north-west").
    straight_within_m
        How far a side may stray from straight and still count as one. [m]

    Notes
    -----
    A side faces the word when the direction out of the field, square to it, lies within 45
    degrees of it. For a word between two winds, sides within 22.5 degrees are taken if there are
    any, so that the north-east of a field with its corner cut off is the cut and not two whole
    sides. A side that looks out over another part of the same field, across a notch, is not
    meant. In doubt a side counts: a flag too many costs a strip, one too few a neighbour.

    Source
    ------
    Our judgement.
    """
    wanted_rad = compass_rad(side)
    if wanted_rad is None:
        return MatchedSides(sides=(), understood=False)
    facing = [
        (abs(_turn_rad(one.heading_rad - math.pi / 2.0 - wanted_rad)), one)
        for one in sides(outline, straight_within_m=straight_within_m)
    ]
    outer = [
        (off, one)
        for off, one in facing
        if off <= _FACES_RAD and _looks_out(outline, one, wanted_rad)
    ]
    closely = [one for off, one in outer if off <= _FACES_CLOSELY_RAD]
    between = round(wanted_rad / (math.pi / 4.0)) % 2 == 1
    found = closely if between and closely else [one for _, one in outer]
    return MatchedSides(sides=tuple(found), understood=True)


def _turn_rad(angle_rad: float) -> float:
    """Return an angle in (-pi, pi]. [rad]"""
    return math.pi - (math.pi - angle_rad) % math.tau


def _looks_out(outline: Outline, side: Edge, direction_rad: float) -> bool:
    """Return whether nothing of the field lies beyond the middle of the side."""
    span_m = outline.perimeter_m
    x_m = (side.start_m[0] + side.end_m[0]) / 2.0
    y_m = (side.start_m[1] + side.end_m[1]) / 2.0
    look = shapely.LineString(
        [
            (x_m, y_m),
            (x_m + span_m * math.cos(direction_rad), y_m + span_m * math.sin(direction_rad)),
        ]
    )
    # A straightened side may stand a little inside its own wiggles.
    ground = shapely.Polygon(outline.exterior_m).intersection(look)
    near_m = max(_SAME_GROUND_M, 0.02 * side.length_m)
    return float(ground.length) <= near_m


# --- How near the spreader may drive -------------------------------------------------------------


def is_shut(kind: str | None) -> bool:
    """Return whether no seed may cross an edge of that kind; an unflagged side (None) is open."""
    if kind is not None and kind not in SHUT_KINDS:
        raise OutOfRange(f"kind of edge {kind!r}", 0.0)
    return kind is not None


@dataclass(frozen=True, kw_only=True, slots=True)
class Reach:
    """How far seed flies to each side of the driving line, by the trays.

    Attributes
    ----------
    left_m, right_m
        To the outermost tray with seed and half a spacing: the throw as it is told. [m]
    safe_left_m, safe_right_m
        To the first empty tray beyond it: no seed was found there. Where the row ends before
        that, to where the fall of its last two trays would run out. [m]
    end_share_fraction
        The fuller of the two end trays over the fullest: how much of the row was cut off.
    """

    left_m: float
    right_m: float
    safe_left_m: float
    safe_right_m: float
    end_share_fraction: float

    @property
    def throw_m(self) -> float:
        """The farther of the two sides. [m]"""
        return max(self.left_m, self.right_m)

    @property
    def safe_m(self) -> float:
        """The farther of the two sides, to where no seed is looked for. [m]"""
        return max(self.safe_left_m, self.safe_right_m)


def reach(pattern: TrayPattern) -> Reach:
    """Return how far seed flies to each side of the driving line. [m]

    Notes
    -----
    An end tray that holds seed hides what fell beyond it. Its fall from the tray before it is
    carried on to nothing, one spacing at least; a row that does not fall at its end is carried on
    by as many spacings as there are trays on that half, which is as good as not known.

    Source
    ------
    Derived here; carrying on a row that is too short is our judgement.
    """
    catch = pattern.catch
    filled = [index for index, amount in enumerate(catch) if amount > 0.0]
    step_m = pattern.spacing_m
    left_m = -(pattern.first_tray_m + filled[0] * step_m)
    right_m = pattern.first_tray_m + filled[-1] * step_m
    return Reach(
        left_m=left_m + 0.5 * step_m,
        right_m=right_m + 0.5 * step_m,
        safe_left_m=left_m + step_m * _beyond_count(catch[::-1]),
        safe_right_m=right_m + step_m * _beyond_count(catch),
        end_share_fraction=max(catch[0], catch[-1]) / max(catch),
    )


def _beyond_count(catch: Sequence[float]) -> float:
    """Return how many spacings beyond its last seed a row may still have caught some."""
    last, before = catch[-1], catch[-2]
    if last <= 0.0:
        return 1.0
    most = len(catch) / 2.0
    return min(max(last / (before - last), 1.0), most) if before > last else most


@dataclass(frozen=True, kw_only=True, slots=True)
class FirstPassFrom:
    """Where the middle of the first spreader pass runs along a side. [m]

    Attributes
    ----------
    from_edge_m
        From the side to the middle of the spreader.
    off_m
        Strip along the side that takes no seed.
    held_by_throw
        Whether the throw, and not half the driving width, set it.
    """

    from_edge_m: float
    off_m: float
    held_by_throw: bool


def first_pass_from_edge_m(
    *,
    throw_m: float,
    kind: str | None,
    off_m: float,
    driving_width_m: float,
    wind_shift_m: float = 0.0,
) -> FirstPassFrom:
    """Return how far from a side the middle of the first spreader pass must run. [m]

    Parameters
    ----------
    throw_m
        How far seed flies to one side; from trays the safe reach. [m]
    kind
        What lies beyond the side, one of ``SHUT_KINDS``; None for any other side.
    off_m
        Strip along the side that takes no seed. [m]
    driving_width_m
        From one spreader pass to the next. [m]
    wind_shift_m
        How far the wind carries the throw towards the side; below zero away from it, which is
        not counted on. [m]

    Raises
    ------
    OutOfRange
        An unknown kind, a throw or width not above zero, a strip below zero.

    Notes
    -----
    Where nothing may cross: ``throw + strip + wind shift``, and never nearer than half a driving
    width. Any other side: half a driving width and the strip.

    Source
    ------
    Derived here.
    """
    check_positive("throw", throw_m)
    check_positive("driving width", driving_width_m)
    check_within("strip that takes no seed", off_m, 0.0, 1e4)
    half_m = 0.5 * driving_width_m + off_m
    if not is_shut(kind):
        return FirstPassFrom(from_edge_m=half_m, off_m=off_m, held_by_throw=False)
    kept_m = throw_m + off_m + max(wind_shift_m, 0.0)
    return FirstPassFrom(
        from_edge_m=max(kept_m, half_m), off_m=off_m, held_by_throw=kept_m > half_m
    )


def wind_shift_m(
    *, side: Edge, wind_from_rad: float, wind_mps: float, shift_m_per_mps: float
) -> float:
    """Return how far the wind carries the throw towards a side; below zero away from it. [m]

    Parameters
    ----------
    side
        The side, walked with the field on its left.
    wind_from_rad, wind_mps
        Where the wind comes from, counter-clockwise from east, and its speed. [rad], [m/s]
    shift_m_per_mps
        How far each metre per second carries the throw. [m]

    Notes
    -----
    ``shift x speed x cos(angle between where the wind goes and the way out of the field)``. In
    proportion to the wind is near enough: worked out with drag, 2 m/s carries 1.12 m down the
    wind and 1.13 m against it.

    Source
    ------
    Derived here.
    """
    check_within("wind", wind_mps, 0.0, 60.0)
    out_rad = side.heading_rad - math.pi / 2.0
    return shift_m_per_mps * wind_mps * math.cos(wind_from_rad + math.pi - out_rad)


# --- What lands at the edge and beyond it --------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class EdgeDose:
    """What the passes leave beside one side of the field and throw over it.

    Attributes
    ----------
    over_reach_m
        How far beyond the side the last seed lands. [m]
    over_fraction
        Share of one pass's seed that lands beyond.
    over_full_width_m
        The same as a strip at the full rate: times the rate, seed lost for each metre of side. [m]
    bare_m
        From the side to the first seed. [m]
    thin_m
        From the side to where the wanted share of the full rate is first met. [m]
    short_full_width_m
        Seed missing in the thin strip, as a strip at the full rate. [m]
    places_m, shares
        From the side inward: distance, and dose over the mean dose, ``(n,)``; straight between.
    """

    over_reach_m: float
    over_fraction: float
    over_full_width_m: float
    bare_m: float
    thin_m: float
    short_full_width_m: float
    places_m: FloatArray
    shares: FloatArray


def edge_dose(
    pattern: TrayPattern,
    *,
    driving_width_m: float,
    first_pass_m: float,
    way: Way,
    thin_below_fraction: float,
    edge_on_left: bool = True,
    wind_shift_m: float = 0.0,
) -> EdgeDose:
    """Return what lands beyond a side and how thin the strip along it stays.

    Only passes from inside reach there; no neighbour fills in from outside.

    Parameters
    ----------
    pattern
        What one pass leaves.
    driving_width_m, first_pass_m
        From one pass to the next; from the side to the middle of the first. [m]
    way
        Back and forth turns every second pass round; round and round none.
    thin_below_fraction
        Share of the mean dose under which a strip is called thin.
    edge_on_left
        Whether the side lies to the left of the first pass.
    wind_shift_m
        How far the wind carries every pass towards the side. [m]

    Raises
    ------
    OutOfRange
        A width or a distance that is not above zero.

    Notes
    -----
    A pass is straight lines between trays, nothing one spacing beyond the row, so every integral
    is exact: trapezoids between the bends of all passes, cut at the side. The mean dose is one
    pass's catch over the driving width.

    Source
    ------
    Derived here; a fine sum of the same lines in tests/core/test_sides.py.
    """
    check_positive("driving width", driving_width_m)
    check_positive("distance of the first pass", first_pass_m)
    check_within("share called thin", thin_below_fraction, 1e-6, 1.0)
    step_m = pattern.spacing_m
    steps = np.arange(-1, len(pattern.catch) + 1, dtype=np.float64)
    lines_m: FloatArray = pattern.first_tray_m + step_m * steps
    amounts: FloatArray = np.array([0.0, *pattern.catch, 0.0], dtype=np.float64)
    whole = sum(pattern.catch) * step_m
    mean = whole / driving_width_m
    first_m = first_pass_m - wind_shift_m
    widest_m = float(np.max(np.abs(lines_m)))
    # Inward as far as the first pass of this side still matters, and one repeat more.
    inward_m = max(first_m, 0.0) + widest_m + 2.0 * driving_width_m
    passes = math.ceil((inward_m + widest_m - first_m) / driving_width_m) + 2

    # x runs inward from the side; a pass with the side to its left has its left at lower x.
    knots: list[FloatArray] = []
    curves: list[tuple[FloatArray, FloatArray]] = []
    for index in range(passes):
        turned = way is Way.BACK_AND_FORTH and index % 2 == 1
        mirrored = turned is edge_on_left
        own_m = -lines_m[::-1] if mirrored else lines_m
        curve_m: FloatArray = own_m + (first_m + index * driving_width_m)
        curves.append((curve_m, amounts[::-1] if mirrored else amounts))
        knots.append(curve_m)
    places_m = np.unique(np.concatenate([*knots, [0.0, inward_m]]))
    shares = np.zeros_like(places_m)
    for curve_m, heights in curves:
        shares += np.interp(places_m, curve_m, heights, left=0.0, right=0.0)
    shares /= mean

    outside = places_m <= 0.0
    over_m = float(np.trapezoid(shares[outside], places_m[outside]))
    lowest_m = min(
        float(curve_m[int(np.flatnonzero(heights)[0]) - 1]) for curve_m, heights in curves
    )
    inside = (places_m >= 0.0) & (places_m <= inward_m)
    inside_m, inside_shares = places_m[inside], shares[inside]
    thin_m = _first_at_m(inside_m, inside_shares, thin_below_fraction)
    return EdgeDose(
        over_reach_m=max(0.0, -lowest_m),
        over_fraction=over_m * mean / whole,
        over_full_width_m=over_m,
        bare_m=max(0.0, lowest_m),
        thin_m=thin_m,
        short_full_width_m=_short_m(inside_m, inside_shares, thin_m),
        places_m=inside_m,
        shares=inside_shares,
    )


def _first_at_m(places_m: FloatArray, shares: FloatArray, share: float) -> float:
    """Return the first place at which the dose meets a share, on straight lines. [m]"""
    met = np.flatnonzero(shares >= share * (1.0 - 1e-12))
    if not met.size:
        return float(places_m[-1])
    after = int(met[0])
    if after == 0:
        return 0.0
    low, high = float(shares[after - 1]), float(shares[after])
    part = (share - low) / (high - low)
    return float(places_m[after - 1] + part * (places_m[after] - places_m[after - 1]))


def _short_m(places_m: FloatArray, shares: FloatArray, to_m: float) -> float:
    """Return what is missing from the full rate between the side and a place. [m]"""
    if to_m <= 0.0:
        return 0.0
    cut_m = np.unique(np.append(places_m[places_m < to_m], to_m))
    missing = 1.0 - np.interp(cut_m, places_m, shares)
    return float(np.trapezoid(missing, cut_m))
