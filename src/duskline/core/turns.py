"""Turns: the shortest way from the end of one pass to the start of the next, and its room.

A machine that cannot bend tighter than its turning radius drives arcs and straight lines. Forward
only, the shortest way is one of six words of three parts (L, S, R: left, straight, right); with
reverse it has up to five parts. Both are searched whole, so lengths are exact, not sampled.

The shortest way with reverse goes back into the pass just worked, and bends while it backs up: no
driver does that with a pulled tool. What he drives is a fishtail: bend, back up on a straight
line, bend. So a turn's time and room come from the forward way or the fishtail; the shortest with
reverse is the least that any machine could do.

Importing this module loads the compiler (about 0.3 s): callers that start often import it where
they use it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange

__all__ = [
    "PassTurn",
    "Turn",
    "TurnPath",
    "TurnRule",
    "driven_turn",
    "fishtail_depth_m",
    "fishtail_length_m",
    "fishtail_turn",
    "forward_depth_m",
    "forward_length_m",
    "forward_lengths_m",
    "pass_turn",
    "reverse_lengths_m",
    "room_needed_m",
    "shortest_fishtail_m",
    "shortest_forward_m",
    "shortest_turn",
    "shortest_with_reverse_m",
    "turn_depth_m",
    "turn_path_m",
    "turn_time_s",
    "turn_times_s",
]

Floats = NDArray[np.float64]
Pose = tuple[float, float, float]
"""Where a machine stands and which way it faces: x, y [m], heading [rad]."""
_Found = tuple[float, int, float, float, float]
"""Length, word and its three free parts; in turning radii and radians."""

_PI = math.pi
_TAU = 2.0 * math.pi
_QUARTER = 0.5 * math.pi
_FULL_CIRCLE_RAD = _TAU - 1e-10
"""An arc longer than this is rounding of no arc at all; without it a straight way gains a loop."""
_TOUCH = 1e-9
"""Circles that miss each other by less than this touch, or are one; in radii: some nanometres.

Without it rounding adds a loop to a bend along one circle, and to one that touches another.
"""
_MIRRORED = 16
"""Added to a word's number where left and right are exchanged."""

_F = TypeVar("_F", bound=Callable[..., object])


def _compiled(function: _F) -> _F:
    return cast(_F, njit(cache=True)(function))


# The kernels work in turning radii, in the frame of the start: it stands at the origin and faces
# along x. Complex numbers stand behind the formulas: with z the centre of the last circle as seen
# from the centre of the first left one, (0, 1), a word is one equation in z and the arcs:
#   L S L: z = u e^(it)                         L S R: z = (u - 2i) e^(it)
#   L R L: z = 4 sin(u/2) e^(i(t - u/2))        L R L R: z = -2i e^(it) (1 - e^(-iu) + e^(i(w-u)))
#   L R S L, L R S R, L R S L R: as above with a quarter circle q in second (and fourth) place.
# Words that begin with R are these with y and the heading negated.


@_compiled
def _framed(
    x0: float, y0: float, h0: float, x1: float, y1: float, h1: float, radius: float
) -> tuple[float, float, float]:  # pragma: no cover - compiled
    """Return the end as seen from the start, in turning radii."""
    east, north = (x1 - x0) / radius, (y1 - y0) / radius
    c, s = math.cos(h0), math.sin(h0)
    return c * east + s * north, c * north - s * east, h1 - h0


@_compiled
def _arc(angle: float) -> float:  # pragma: no cover - compiled
    """Return the same angle as an arc driven forward, in [0, full circle)."""
    angle -= _TAU * math.floor(angle / _TAU)
    return angle if angle < _FULL_CIRCLE_RAD else 0.0


@_compiled
def _short(angle: float) -> float:  # pragma: no cover - compiled
    """Return the same angle as the shorter arc, driven backward where negative."""
    return angle - _TAU * math.floor((angle + _PI) / _TAU)


@_compiled
def _forward_left(
    x: float, y: float, phi: float, s: float, c: float
) -> _Found:  # pragma: no cover - compiled
    """Return the shortest of L S L (0), L S R (1) and L R L (2)."""
    zx, zy = x - s, y - 1.0 + c
    far = math.hypot(zx, zy)
    theta = math.atan2(zy, zx)
    t = _arc(theta) if far > _TOUCH else _arc(phi)
    u = far
    v = _arc(phi - t)
    best, word = t + u + v, 0
    if far <= 4.0 + _TOUCH:
        # The middle arc is the long way round: the short one never wins without reverse.
        middle = _TAU - 2.0 * math.asin(min(0.25 * far, 1.0))
        first = _arc(theta + 0.5 * middle)
        last = _arc(phi - first + middle)
        if first + middle + last < best:
            best, word, t, u, v = first + middle + last, 2, first, middle, last
    zx, zy = x + s, y - 1.0 - c
    free = zx * zx + zy * zy - 4.0
    if free >= -_TOUCH:
        middle = math.sqrt(max(free, 0.0))
        first = _arc(math.atan2(zy * middle + 2.0 * zx, zx * middle - 2.0 * zy))
        last = _arc(first - phi)
        if first + middle + last < best:
            best, word, t, u, v = first + middle + last, 1, first, middle, last
    return best, word, t, u, v


@_compiled
def _forward(x: float, y: float, phi: float) -> _Found:  # pragma: no cover - compiled
    """Return the shortest of the six forward words."""
    s, c = math.sin(phi), math.cos(phi)
    left = _forward_left(x, y, phi, s, c)
    right = _forward_left(x, -y, -phi, -s, c)
    if right[0] < left[0]:
        return right[0], right[1] + _MIRRORED, right[2], right[3], right[4]
    return left


@_compiled
def _fishtail_left(
    x: float, y: float, phi: float, s: float, c: float
) -> _Found:  # pragma: no cover - compiled
    """Return the shorter of L S L (0) and L S R (1), bends forward and the straight backward."""
    zx, zy = x - s, y - 1.0 + c
    far = math.hypot(zx, zy)
    t = _arc(math.atan2(zy, zx) + _PI) if far > _TOUCH else _arc(phi)
    v = _arc(phi - t)
    best, word, u = t + far + v, 0, -far
    zx, zy = x + s, y - 1.0 - c
    free = zx * zx + zy * zy - 4.0
    if free >= -_TOUCH:
        middle = math.sqrt(max(free, 0.0))
        first = _arc(math.atan2(zy, zx) + _QUARTER + math.atan2(middle, 2.0))
        last = _arc(first - phi)
        if first + middle + last < best:
            best, word, t, u, v = first + middle + last, 1, first, -middle, last
    return best, word, t, u, v


@_compiled
def _fishtail(x: float, y: float, phi: float) -> _Found:  # pragma: no cover - compiled
    """Return the shortest of the four fishtails."""
    s, c = math.sin(phi), math.cos(phi)
    left = _fishtail_left(x, y, phi, s, c)
    right = _fishtail_left(x, -y, -phi, -s, c)
    if right[0] < left[0]:
        return right[0], right[1] + _MIRRORED, right[2], right[3], right[4]
    return left


@_compiled
def _quarters(
    x: float, y: float, phi: float, s: float, c: float, word: int
) -> _Found:  # pragma: no cover - compiled
    """Return the shortest of L R S L and L R S R with a quarter circle in second place.

    Words: ``word`` and the next are L R S L, the two after L R S R; of each pair the first has
    the quarter driven backward.
    """
    zx, zy = x - s, y - 1.0 + c
    best, found, bt, bu, bv = np.inf, word, 0.0, 0.0, 0.0
    free = zx * zx + zy * zy - 4.0
    if free >= -_TOUCH:
        root = math.sqrt(max(free, 0.0))
        theta, lean = math.atan2(zy, zx), math.atan2(root, 2.0)
        for forward in range(2):
            quarter = _QUARTER if forward else -_QUARTER
            t = _short(theta + lean if forward else theta + _PI - lean)
            u = root - 2.0 if forward else 2.0 - root
            v = _short(phi - t + quarter)
            length = abs(t) + _QUARTER + abs(u) + abs(v)
            if length < best:
                best, found, bt, bu, bv = length, word + forward, t, u, v
    zx, zy = x + s, y - 1.0 - c
    far = math.hypot(zx, zy)
    t = _short(math.atan2(zy, zx) + _QUARTER)
    for forward in range(2):
        quarter = _QUARTER if forward else -_QUARTER
        u = far - 2.0 if forward else 2.0 - far
        v = _short(t - quarter - phi)
        length = abs(t) + _QUARTER + abs(u) + abs(v)
        if length < best:
            best, found, bt, bu, bv = length, word + 2 + forward, t, u, v
    return best, found, bt, bu, bv


@_compiled
def _reverse_left(
    x: float, y: float, phi: float, s: float, c: float
) -> _Found:  # pragma: no cover - compiled
    """Return the shortest word that has a left circle first, or last behind a quarter.

    Every arc may be driven either way, so one equation stands for all the gears of its word; what
    a word gives is always drivable, and the best of a set that holds the shortest is exact.
    """
    # L S L (0) and L R L (2).
    zx, zy = x - s, y - 1.0 + c
    far = math.hypot(zx, zy)
    theta = math.atan2(zy, zx)
    best, word, bt, bu, bv = np.inf, 0, 0.0, 0.0, 0.0
    for gear in (1.0, -1.0):
        t = _short(theta if gear > 0.0 else theta + _PI)
        v = _short(phi - t)
        length = abs(t) + far + abs(v)
        if length < best:
            best, word, bt, bu, bv = length, 0, t, gear * far, v
        if far <= 4.0 + _TOUCH:
            u = gear * 2.0 * math.asin(min(0.25 * far, 1.0))
            middle = _short((theta if gear > 0.0 else theta + _PI) + 0.5 * u)
            v = _short(phi - middle + u)
            length = abs(middle) + abs(u) + abs(v)
            if length < best:
                best, word, bt, bu, bv = length, 2, middle, u, v
    # L S R (1), L R L R with equal middle arcs (3: gear changes between them, 4: around them),
    # L R S L R with two quarters (5, 6).
    zx, zy = x + s, y - 1.0 - c
    square = zx * zx + zy * zy
    theta = math.atan2(zy, zx)
    if square >= 4.0 - _TOUCH:
        root = math.sqrt(max(square - 4.0, 0.0))
        lean = math.atan2(root, 2.0)
        for gear in (1.0, -1.0):
            t = _short(theta + _QUARTER - gear * lean)
            v = _short(t - phi)
            length = abs(t) + root + abs(v)
            if length < best:
                best, word, bt, bu, bv = length, 1, t, gear * root, v
            t = _short(theta + lean if gear > 0.0 else theta + _PI - lean)
            u = gear * (root - 4.0)
            v = _short(t - phi)
            length = abs(t) + _PI + abs(u) + abs(v)
            if length < best:
                best, word, bt, bu, bv = length, 6 if gear > 0.0 else 5, t, u, v
    if square <= 4.0 + _TOUCH:
        arc = math.acos(min(0.25 * (2.0 + math.sqrt(square)), 1.0))
        for gear in (1.0, -1.0):
            u = gear * arc
            t = _short(theta + _QUARTER + u)
            v = _short(t - 2.0 * u - phi)
            length = abs(t) + 2.0 * arc + abs(v)
            if length < best:
                best, word, bt, bu, bv = length, 3, t, u, v
    if 4.0 - _TOUCH <= square <= 20.0 + _TOUCH:
        arc = math.acos(min(max((20.0 - square) / 16.0, 0.0), 1.0))
        lean = math.atan2(math.sin(arc), 2.0 - math.cos(arc))
        for gear in (1.0, -1.0):
            t = _short(theta + _QUARTER - gear * lean)
            v = _short(t - phi)
            length = abs(t) + 2.0 * arc + abs(v)
            if length < best:
                best, word, bt, bu, bv = length, 4, t, gear * arc, v
    # A quarter circle in second place (7 to 10); in the last but one (11 to 14) it is the same
    # way with its parts in the opposite order, which is the way to another end.
    found = _quarters(x, y, phi, s, c, 7)
    if found[0] < best:
        best, word, bt, bu, bv = found
    found = _quarters(x * c + y * s, x * s - y * c, phi, s, c, 11)
    if found[0] < best:
        best, word, bt, bu, bv = found
    return best, word, bt, bu, bv


@_compiled
def _reverse(x: float, y: float, phi: float) -> _Found:  # pragma: no cover - compiled
    """Return the shortest way with reverse."""
    s, c = math.sin(phi), math.cos(phi)
    left = _reverse_left(x, y, phi, s, c)
    right = _reverse_left(x, -y, -phi, -s, c)
    if right[0] < left[0]:
        return right[0], right[1] + _MIRRORED, right[2], right[3], right[4]
    return left


@_compiled
def _spell(
    word: int, t: float, u: float, v: float, sides: Floats, arcs: Floats
) -> int:  # pragma: no cover - compiled
    """Write the parts of a word: side (1 left, 0 straight, -1 right), signed length; count them."""
    side = 1.0
    if word >= _MIRRORED:
        side = -1.0
        word -= _MIRRORED
    if word <= 2:
        count = 3
        middle = -side if word == 2 else 0.0
        last = -side if word == 1 else side
        sides[0], sides[1], sides[2] = side, middle, last
        arcs[0], arcs[1], arcs[2] = t, u, v
    elif word <= 4:
        count = 4
        sides[0], sides[1], sides[2], sides[3] = side, -side, side, -side
        arcs[0], arcs[1], arcs[2], arcs[3] = t, u, -u if word == 3 else u, v
    elif word <= 6:
        count = 5
        quarter = -_QUARTER if word == 5 else _QUARTER
        sides[0], sides[1], sides[2], sides[3], sides[4] = side, -side, 0.0, side, -side
        arcs[0], arcs[1], arcs[2], arcs[3], arcs[4] = t, quarter, u, quarter, v
    else:
        count = 4
        flipped = word >= 11
        kind = word - 11 if flipped else word - 7
        quarter = _QUARTER if kind % 2 else -_QUARTER
        last = side if kind < 2 else -side
        if flipped:
            sides[0], sides[1], sides[2], sides[3] = last, 0.0, -side, side
            arcs[0], arcs[1], arcs[2], arcs[3] = v, u, quarter, t
        else:
            sides[0], sides[1], sides[2], sides[3] = side, -side, 0.0, last
            arcs[0], arcs[1], arcs[2], arcs[3] = t, quarter, u, v
    return count


@_compiled
def shortest_forward_m(
    x0: float, y0: float, h0: float, x1: float, y1: float, h1: float, radius: float
) -> float:  # pragma: no cover - compiled
    """Return the length of the shortest way driven forward only. [m]

    Compiled, for use in other compiled code; unchecked.

    Parameters
    ----------
    x0, y0, x1, y1
        Start and end. [m]
    h0, h1
        Heading at the start and at the end. [rad]
    radius
        The smallest turning radius. [m]

    Notes
    -----
    The least of L S L, R S R, L S R, R S L, L R L and R L R (Dubins 1957).

    Source
    ------
    Derived here from the circles' centres; tests/properties/test_turns.py drives each word to its
    end and searches for a shorter one; tests/published/test_turns.py has other people's formulas.
    """
    x, y, phi = _framed(x0, y0, h0, x1, y1, h1, radius)
    return radius * _forward(x, y, phi)[0]


@_compiled
def shortest_with_reverse_m(
    x0: float, y0: float, h0: float, x1: float, y1: float, h1: float, radius: float
) -> float:  # pragma: no cover - compiled
    """Return the length of the shortest way with reverse allowed anywhere. [m]

    Compiled, for use in other compiled code; unchecked. Parameters as ``shortest_forward_m``.

    Notes
    -----
    The 48 words of Reeds and Shepp (1990). An arc may be driven either way at the same length, so
    words that differ in gear alone share one equation here.

    Source
    ------
    The set of words: Reeds and Shepp 1990, memory. The equations: derived here; the tests drive
    each word to its end and compare with a search over all ways of up to five parts.
    """
    x, y, phi = _framed(x0, y0, h0, x1, y1, h1, radius)
    return radius * _reverse(x, y, phi)[0]


@_compiled
def shortest_fishtail_m(
    x0: float, y0: float, h0: float, x1: float, y1: float, h1: float, radius: float
) -> float:  # pragma: no cover - compiled
    """Return the length of the shortest fishtail: bend, back up straight, bend. [m]

    Compiled, for use in other compiled code; unchecked. Parameters as ``shortest_forward_m``.

    Notes
    -----
    The least of L S L, R S R, L S R and R S L with the straight backward: what a pulled tool
    stands, for it backs up in line only.

    Source
    ------
    Derived here; tests/properties/test_turns.py drives each to its end.
    """
    x, y, phi = _framed(x0, y0, h0, x1, y1, h1, radius)
    return radius * _fishtail(x, y, phi)[0]


@_compiled
def _lengths(
    starts: Floats, ends: Floats, radius: float, reverse: bool, found: Floats
) -> None:  # pragma: no cover - compiled
    for i in range(starts.shape[0]):
        x, y, phi = _framed(
            starts[i, 0], starts[i, 1], starts[i, 2], ends[i, 0], ends[i, 1], ends[i, 2], radius
        )
        best = _reverse(x, y, phi) if reverse else _forward(x, y, phi)
        found[i] = radius * best[0]


@_compiled
def _quickest(
    starts: Floats, ends: Floats, radius: float, speed: float, gear_s: float, found: Floats
) -> None:  # pragma: no cover - compiled
    """Write the time on the way, by fishtail where its gear changes are worth it."""
    for i in range(starts.shape[0]):
        x, y, phi = _framed(
            starts[i, 0], starts[i, 1], starts[i, 2], ends[i, 0], ends[i, 1], ends[i, 2], radius
        )
        forward = _forward(x, y, phi)[0]
        backing = _fishtail(x, y, phi)[0]
        found[i] = min(radius * forward / speed, radius * backing / speed + 2.0 * gear_s)


@_compiled
def _gear_changes(arcs: Floats, count: int) -> int:  # pragma: no cover - compiled
    """Return how often the gear changes; it is forward before and behind the turn."""
    changes, gear = 0, 1.0
    for k in range(count):
        if abs(arcs[k]) > 1e-9 and (arcs[k] > 0.0) != (gear > 0.0):
            changes, gear = changes + 1, -gear
    return changes if gear > 0.0 else changes + 1


@dataclass(frozen=True, kw_only=True, slots=True)
class TurnRule:
    """How a machine turns at the end of a pass.

    Attributes
    ----------
    radius_m
        The smallest turning radius of tractor and tool. [m]
    speed_mps
        Speed in the turn. [m/s]
    fixed_s
        Lift, lower and slowing down: what any turn takes however short. The way the tool needs
        to come into line behind the tractor belongs here too. [s]
    reverses
        Whether the driver backs up in a turn; then he makes a fishtail where it is quicker.
    trailing_m
        How far the tool follows behind the tractor's turning point. [m]
    gear_s
        Each change between forward and reverse. [s]

    Raises
    ------
    OutOfRange
        A radius or speed not above zero, or a negative time or length.
    """

    radius_m: float
    speed_mps: float
    fixed_s: float = 0.0
    reverses: bool = False
    trailing_m: float = 0.0
    gear_s: float = 0.0

    def __post_init__(self) -> None:
        check_positive("turning radius", self.radius_m)
        check_positive("turning speed", self.speed_mps)
        check_within("fixed part of a turn", self.fixed_s, 0.0, 3600.0)
        check_within("trailing length", self.trailing_m, 0.0, 100.0)
        check_within("gear change", self.gear_s, 0.0, 3600.0)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class TurnPath:
    """Points along a turn, for a map.

    Attributes
    ----------
    points_m
        ``(n, 2)`` x, y [m]; the ends of every part are among them.
    headings_rad
        Which way the machine faces, ``(n,)`` [rad].
    gears
        1 forward, -1 reverse, ``(n,)``: the gear the machine came in; at the first point, the
        gear it leaves in.
    """

    points_m: Floats
    headings_rad: Floats
    gears: NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Turn:
    """The shortest way from one pose to another.

    Attributes
    ----------
    start
        x, y [m] and heading [rad].
    radius_m
        The radius of its arcs. [m]
    sides
        Of each part: 1 left, 0 straight, -1 right.
    parts_m
        The length of each part, negative in reverse. [m]
    """

    start: Pose
    radius_m: float
    sides: tuple[int, ...]
    parts_m: tuple[float, ...]

    @property
    def word(self) -> str:
        """Its parts as letters, such as LSR; with signs, such as R+S-R+, where it backs up."""
        letters = ["SLR"[side] for side in self.sides]
        if self.gear_changes_count:
            letters = [
                letter + ("-" if part < 0.0 else "+")
                for letter, part in zip(letters, self.parts_m, strict=True)
            ]
        return "".join(letters)

    @property
    def length_m(self) -> float:
        """How far the machine drives. [m]"""
        return sum(abs(part) for part in self.parts_m)

    @property
    def gear_changes_count(self) -> int:
        """How often the gear changes, being forward before and behind the turn."""
        arcs = np.array(self.parts_m) / self.radius_m
        return int(_gear_changes(arcs, len(arcs)))

    @property
    def end(self) -> Pose:
        """Where the way ends: x, y [m], heading [rad], driven part by part."""
        return self.poses[-1]

    @property
    def poses(self) -> tuple[Pose, ...]:
        """The start and the end of every part: x, y [m], heading [rad]."""
        poses = [self.start]
        for side, part in zip(self.sides, self.parts_m, strict=True):
            poses.append(_driven(poses[-1], side, part, self.radius_m))
        return tuple(poses)

    def depth_m(self, *, end_line_rad: float | None = None) -> float:
        """Return how far the way goes beyond the end line through its start, along the pass. [m]

        Parameters
        ----------
        end_line_rad
            The line's direction; square to the pass where not given. [rad]

        Raises
        ------
        OutOfRange
            A line along the pass.

        Notes
        -----
        Of a slanted line the room is measured along the pass: the distance square to the line
        over the cosine of its slant.

        Source
        ------
        Derived here; checked as ``reach_m``.
        """
        heading = self.start[2]
        if end_line_rad is None:
            return self.reach_m((math.cos(heading), math.sin(heading)))
        square = (-math.sin(end_line_rad), math.cos(end_line_rad))
        slant = square[0] * math.cos(heading) + square[1] * math.sin(heading)
        if abs(slant) < 1e-9:
            raise OutOfRange("end line off the heading of the pass", 0.0, 1e-9)
        return self.reach_m((square[0] / slant, square[1] / slant))

    def reach_m(self, toward: tuple[float, float]) -> float:
        """Return how far the way reaches from its start toward a direction. [m]

        Parameters
        ----------
        toward
            x and y of the direction; a longer one than 1 stretches the answer.

        Notes
        -----
        The most of ``toward . (p - start)``: at the end of a part, or where an arc runs square to
        the direction, at ``toward . (centre - start) + radius |toward|``.

        Source
        ------
        Derived here; checked against points along the way in tests/properties/test_turns.py.
        """
        across = math.atan2(toward[1], toward[0])
        best = 0.0
        for pose, side, part in zip(self.poses, self.sides, self.parts_m, strict=False):
            x, y, heading = pose
            end = _driven(pose, side, part, self.radius_m)
            best = max(best, _along(end, self.start, toward))
            if side == 0:
                continue
            # The heading at the farthest point of the circle is square to the direction.
            ahead = (across + side * _QUARTER - heading) * side * math.copysign(1.0, part)
            if ahead % _TAU <= abs(part) / self.radius_m:
                centre = (
                    x - side * self.radius_m * math.sin(heading),
                    y + side * self.radius_m * math.cos(heading),
                    0.0,
                )
                best = max(
                    best, _along(centre, self.start, toward) + self.radius_m * math.hypot(*toward)
                )
        return best

    def path(self, step_m: float) -> TurnPath:
        """Return points along the way, no farther apart than a step.

        Parameters
        ----------
        step_m
            The most from one point to the next, along the way. [m]

        Raises
        ------
        OutOfRange
            A step not above zero.

        Source
        ------
        Derived here; its ends and steps are checked in tests/core/test_turns.py.
        """
        check_positive("step along a turn", step_m)
        poses, gears = [self.start], [0]
        for pose, side, part in zip(self.poses, self.sides, self.parts_m, strict=False):
            steps_count = math.ceil(abs(part) / step_m)
            for k in range(1, steps_count + 1):
                poses.append(_driven(pose, side, part * k / steps_count, self.radius_m))
                gears.append(1 if part > 0.0 else -1)
        gears[0] = gears[1] if len(gears) > 1 else 1
        found = np.array(poses)
        return TurnPath(
            points_m=found[:, :2].copy(), headings_rad=found[:, 2].copy(), gears=np.array(gears)
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class PassTurn:
    """The turn from one pass into another that runs beside it.

    Attributes
    ----------
    kind
        ``half circle`` (the passes lie two radii apart or more), ``bulb`` (swing out first) or
        ``fishtail`` (back up once, on a straight line).
    length_m
        How far the tractor drives from end line to end line. [m]
    depth_m
        How far the tractor's turning point goes beyond the end line, along the pass, with the
        tool's trailing length: the tool must clear the line before the turn begins. [m]
    time_s
        On the way, and the fixed part. [s]
    """

    kind: str
    length_m: float
    depth_m: float
    time_s: float


def _driven(pose: Pose, side: int, part_m: float, radius_m: float) -> Pose:
    """Return the pose after one part."""
    x, y, heading = pose
    if side == 0:
        return x + part_m * math.cos(heading), y + part_m * math.sin(heading), heading
    turned = heading + side * part_m / radius_m
    bend = side * radius_m
    return (
        x + bend * (math.sin(turned) - math.sin(heading)),
        y - bend * (math.cos(turned) - math.cos(heading)),
        turned,
    )


def _along(pose: Pose, start: Pose, toward: tuple[float, float]) -> float:
    return (pose[0] - start[0]) * toward[0] + (pose[1] - start[1]) * toward[1]


def _checked(poses: Floats, name: str) -> Floats:
    """Return poses as a whole array of numbers, ``(n, 3)``."""
    found = np.ascontiguousarray(poses, dtype=np.float64)
    if found.ndim != 2 or found.shape[1] != 3:
        raise ValueError(f"{name}: an array of shape (n, 3) is needed, not {found.shape}")
    if not np.isfinite(found).all():
        raise OutOfRange(name, float(found[~np.isfinite(found)][0]))
    return found


def _pair(starts: Floats, ends: Floats) -> tuple[Floats, Floats]:
    first, last = _checked(starts, "start of a turn"), _checked(ends, "end of a turn")
    if first.shape != last.shape:
        raise ValueError(f"{len(first)} starts of turns and {len(last)} ends")
    return first, last


def forward_lengths_m(starts: Floats, ends: Floats, *, radius_m: float) -> Floats:
    """Return the lengths of the shortest ways driven forward only, ``(n,)`` [m].

    Parameters
    ----------
    starts, ends
        ``(n, 3)`` x, y [m], heading [rad].
    radius_m
        The smallest turning radius. [m]

    Raises
    ------
    OutOfRange
        A radius not above zero, or a pose that is no number.
    ValueError
        Arrays of another shape.

    Notes
    -----
    See ``shortest_forward_m``.

    Source
    ------
    As ``shortest_forward_m``.
    """
    return _all_lengths_m(starts, ends, radius_m=radius_m, reverse=False)


def reverse_lengths_m(starts: Floats, ends: Floats, *, radius_m: float) -> Floats:
    """Return the lengths of the shortest ways with reverse allowed, ``(n,)`` [m].

    Parameters and errors as ``forward_lengths_m``.

    Source
    ------
    As ``shortest_with_reverse_m``.
    """
    return _all_lengths_m(starts, ends, radius_m=radius_m, reverse=True)


def _all_lengths_m(starts: Floats, ends: Floats, *, radius_m: float, reverse: bool) -> Floats:
    check_positive("turning radius", radius_m)
    first, last = _pair(starts, ends)
    found = np.empty(len(first))
    _lengths(first, last, radius_m, reverse, found)
    return found


def shortest_turn(start: Pose, end: Pose, *, radius_m: float, reverse: bool = False) -> Turn:
    """Return the shortest way from one pose to another, part by part.

    Parameters
    ----------
    start, end
        x, y [m], heading [rad].
    radius_m
        The smallest turning radius. [m]
    reverse
        Whether the machine may back up.

    Raises
    ------
    OutOfRange
        A radius not above zero, or a pose that is no number.

    Source
    ------
    As ``shortest_forward_m`` and ``shortest_with_reverse_m``.
    """
    x, y, phi = _checked_frame(start, end, radius_m)
    found = _reverse(x, y, phi) if reverse else _forward(x, y, phi)
    return _spelt(start, radius_m, found)


def fishtail_turn(start: Pose, end: Pose, *, radius_m: float) -> Turn:
    """Return the shortest fishtail from one pose to another: bend, back up straight, bend.

    Parameters and errors as ``shortest_turn``.

    Source
    ------
    As ``shortest_fishtail_m``.
    """
    return _spelt(start, radius_m, _fishtail(*_checked_frame(start, end, radius_m)))


def driven_turn(start: Pose, end: Pose, rule: TurnRule) -> Turn:
    """Return the turn that this driver makes, the one that ``turn_times_s`` counts.

    Parameters
    ----------
    start, end
        x, y [m], heading [rad].
    rule
        How the machine turns.

    Raises
    ------
    OutOfRange
        A pose that is no number.

    Notes
    -----
    The shortest forward; the fishtail where the driver backs up and it is quicker, its two gear
    changes counted.

    Source
    ------
    Derived here.
    """
    forward = shortest_turn(start, end, radius_m=rule.radius_m)
    if not rule.reverses:
        return forward
    fishtail = fishtail_turn(start, end, radius_m=rule.radius_m)
    gears_m = 2.0 * rule.gear_s * rule.speed_mps
    return fishtail if fishtail.length_m + gears_m < forward.length_m else forward


def _checked_frame(start: Pose, end: Pose, radius_m: float) -> tuple[float, float, float]:
    check_positive("turning radius", radius_m)
    for pose in (start, end):
        for value in pose:
            if not math.isfinite(value):
                raise OutOfRange("end of a turn", value)
    return _framed(*start, *end, radius_m)


def _spelt(start: Pose, radius_m: float, found: _Found) -> Turn:
    sides, arcs = np.empty(5), np.empty(5)
    count = _spell(*found[1:], sides, arcs)
    return Turn(
        start=start,
        radius_m=radius_m,
        sides=tuple(int(side) for side in sides[:count]),
        parts_m=tuple(radius_m * float(arc) for arc in arcs[:count]),
    )


def turn_path_m(
    start: Pose, end: Pose, *, radius_m: float, step_m: float, reverse: bool = False
) -> Floats:
    """Return points along the shortest way, for a map, ``(n, 2)`` x, y [m].

    Parameters
    ----------
    start, end
        x, y [m], heading [rad].
    radius_m
        The smallest turning radius. [m]
    step_m
        The most from one point to the next, along the way. [m]
    reverse
        Whether the machine may back up; ``Turn.path`` gives the gears beside the points.

    Raises
    ------
    OutOfRange
        A radius or step not above zero, or a pose that is no number.

    Source
    ------
    As ``shortest_turn``.
    """
    return shortest_turn(start, end, radius_m=radius_m, reverse=reverse).path(step_m).points_m


def turn_depth_m(
    start: Pose,
    end: Pose,
    *,
    radius_m: float,
    reverse: bool = False,
    end_line_rad: float | None = None,
) -> float:
    """Return how far the shortest way reaches beyond the end line, along the pass. [m]

    Parameters
    ----------
    start, end
        x, y [m], heading [rad]; the end line runs through the start.
    radius_m
        The smallest turning radius. [m]
    reverse
        Whether the machine may back up.
    end_line_rad
        The line's direction; square to the pass where not given. [rad]

    Raises
    ------
    OutOfRange
        A radius not above zero, a pose that is no number, or a line along the pass.

    Notes
    -----
    Exact, from the circles: ``Turn.depth_m``, which any other turn has too.

    Source
    ------
    Derived here; MACH-C60 to C65 in tests/core/test_turns.py, points along the way in
    tests/properties/test_turns.py.
    """
    turn = shortest_turn(start, end, radius_m=radius_m, reverse=reverse)
    return turn.depth_m(end_line_rad=end_line_rad)


def forward_length_m(*, between_m: float, radius_m: float, offset_m: float = 0.0) -> float:
    """Return the length of the forward turn between passes that lie side by side. [m]

    Parameters
    ----------
    between_m
        From one pass to the next, across. [m]
    radius_m
        The smallest turning radius. [m]
    offset_m
        How much farther out (or in) the next pass begins: the headland's slant. [m]

    Raises
    ------
    OutOfRange
        A negative distance or a radius not above zero.

    Notes
    -----
    With d across, e the offset and r the radius::

        d >= 2r              pi r + hypot(d - 2r, e)                       half circle
        d2 + e2 <= 4 r2      r (3 pi - 4 asin(hypot(d + 2r, e) / (4r)))    bulb
        else                 r (pi + 2 asin(2r/f) - 2 asin(d/f)) + sqrt(f2 - 4 r2),
                             f = hypot(d, e)                               one-sided bulb

    Source
    ------
    Derived here; equal to the six-word search in tests/properties/test_turns.py, MACH-C60 to
    C67 in tests/core/test_turns.py.
    """
    _check_across(between_m, radius_m)
    d, e, r = between_m, offset_m, radius_m
    if d >= 2.0 * r:
        return _PI * r + math.hypot(d - 2.0 * r, e)
    f = math.hypot(d, e)
    if f <= 2.0 * r:
        return r * (3.0 * _PI - 4.0 * math.asin(min(math.hypot(d + 2.0 * r, e) / (4.0 * r), 1.0)))
    bend = _PI + 2.0 * (math.asin(2.0 * r / f) - math.asin(d / f))
    return r * bend + math.sqrt(f * f - 4.0 * r * r)


def forward_depth_m(*, between_m: float, radius_m: float, offset_m: float = 0.0) -> float:
    """Return how far the forward turn between passes side by side goes past the pass end. [m]

    Parameters and errors as ``forward_length_m``; the depth is along the pass, from the end of
    the pass just driven.

    Notes
    -----
    With d, e, r as there; a = atan2(e, d + 2r), p = acos(hypot(d + 2r, e) / (4r))::

        d >= 2r              r + max(e, 0)
        d2 + e2 <= 4 r2      r + 2 r sin(p + a)
        else, e > 0          r + e          else, e < 0          r

    In a half circle the next pass may begin farther out: its arc is then the far one. In the bulb
    the middle circle stands 2 r sin(p + a) out; in the one-sided bulb the last circle stands e
    out, or the first on the line.

    Source
    ------
    Derived here; equal to ``turn_depth_m`` in tests/properties/test_turns.py.
    """
    _check_across(between_m, radius_m)
    d, e, r = between_m, offset_m, radius_m
    if d < 2.0 * r and math.hypot(d, e) <= 2.0 * r:
        far = math.hypot(d + 2.0 * r, e)
        return r + 2.0 * r * math.sin(
            math.acos(min(far / (4.0 * r), 1.0)) + math.atan2(e, d + 2.0 * r)
        )
    return r + max(e, 0.0)


def fishtail_length_m(*, between_m: float, radius_m: float, offset_m: float = 0.0) -> float:
    """Return the length of a fishtail: bend, back up on a straight line, bend. [m]

    Parameters and errors as ``forward_length_m``; for passes nearer than two radii.

    Notes
    -----
    ``pi r + hypot(2r - d, e)``; without offset ``(pi + 2) r - d``. From two radii apart on it is
    the half circle. No fishtail is shorter; backing up in a bend is
    (``shortest_with_reverse_m``).

    Source
    ------
    Derived here; MACH-C60 to C65 in tests/core/test_turns.py, the four-word search in
    tests/properties/test_turns.py.
    """
    _check_across(between_m, radius_m)
    return _PI * radius_m + math.hypot(2.0 * radius_m - between_m, offset_m)


def fishtail_depth_m(*, between_m: float, radius_m: float, offset_m: float = 0.0) -> float:
    """Return how far a fishtail goes past the pass end, along the pass. [m]

    Parameters and errors as ``forward_length_m``.

    Notes
    -----
    ``max(r cos(a), r - |e|) + max(e, 0)``, cos(a) = (2r - d) / hypot(2r - d, e): one bend runs
    past its top, the other stops short of it by the slant a of the line the driver backs up on.

    Source
    ------
    Derived here; equal to the depth of the way driven in tests/properties/test_turns.py.
    """
    _check_across(between_m, radius_m)
    d, e, r = between_m, offset_m, radius_m
    if d >= 2.0 * r:
        return r + max(e, 0.0)
    top = max(r * (2.0 * r - d) / math.hypot(2.0 * r - d, e), r - abs(e))
    return top + max(e, 0.0)


def _check_across(between_m: float, radius_m: float) -> None:
    check_positive("turning radius", radius_m)
    check_within("distance between passes", between_m, 0.0, 1e6)


def turn_time_s(length_m: float, rule: TurnRule) -> float:
    """Return the time of a turn: its length at turning speed, and the fixed part. [s]

    Parameters
    ----------
    length_m
        How far the machine drives. [m]
    rule
        How it turns.

    Raises
    ------
    OutOfRange
        A negative length.

    Source
    ------
    Derived here.
    """
    check_within("length of a turn", length_m, 0.0, 1e6)
    return length_m / rule.speed_mps + rule.fixed_s


def turn_times_s(starts: Floats, ends: Floats, rule: TurnRule) -> Floats:
    """Return the times of turns, ``(n,)`` [s].

    Parameters
    ----------
    starts, ends
        ``(n, 3)`` x, y [m], heading [rad].
    rule
        How the machine turns; where its driver backs up, the quicker of the shortest fishtail
        (with its two gear changes) and the shortest way forward.

    Raises
    ------
    OutOfRange
        A pose that is no number.
    ValueError
        Arrays of another shape.

    Source
    ------
    Derived here; lengths as ``shortest_forward_m`` and ``shortest_fishtail_m``.
    """
    first, last = _pair(starts, ends)
    found = np.empty(len(first))
    if rule.reverses:
        _quickest(first, last, rule.radius_m, rule.speed_mps, rule.gear_s, found)
    else:
        _lengths(first, last, rule.radius_m, False, found)
        found /= rule.speed_mps
    return found + rule.fixed_s


def pass_turn(rule: TurnRule, *, between_m: float, offset_m: float = 0.0) -> PassTurn:
    """Return the turn into a pass that lies beside this one.

    Parameters
    ----------
    rule
        How the machine turns.
    between_m
        From this pass to the next one driven, across. [m]
    offset_m
        How much farther out the next pass begins. [m]

    Raises
    ------
    OutOfRange
        A negative distance.

    Notes
    -----
    As ``driven_turn``, the passes lying opposite ways.

    Source
    ------
    Derived here; MACH-C60 to C65 in tests/core/test_turns.py.
    """
    _check_across(between_m, rule.radius_m)
    turn = driven_turn((0.0, 0.0, _QUARTER), (between_m, offset_m, -_QUARTER), rule)
    time_s = turn_time_s(turn.length_m, rule) + rule.gear_s * turn.gear_changes_count
    return PassTurn(
        kind=_kind(turn),
        length_m=turn.length_m,
        depth_m=turn.depth_m() + rule.trailing_m,
        time_s=time_s,
    )


def _kind(turn: Turn) -> str:
    if turn.gear_changes_count:
        return "fishtail"
    # Two radii apart the half circle is also a bulb whose first and last bend are nothing.
    sides = {
        side
        for side, part in zip(turn.sides, turn.parts_m, strict=True)
        if side and abs(part) > 1e-9 * turn.radius_m
    }
    return "half circle" if len(sides) == 1 else "bulb"


def room_needed_m(rule: TurnRule, between_m: float, half_width_m: float) -> float:
    """Return how deep a headland must be for the turn into a pass beside this one. [m]

    Parameters
    ----------
    rule
        How the machine turns.
    between_m
        From this pass to the next one driven, across. [m]
    half_width_m
        Half the machine's full width: at the top of the turn it reaches that far out. [m]

    Raises
    ------
    OutOfRange
        A negative distance or width.

    Source
    ------
    Derived here: the turn's depth, the trailing length and half the width.
    """
    check_within("half width", half_width_m, 0.0, 1e3)
    return pass_turn(rule, between_m=between_m).depth_m + half_width_m
