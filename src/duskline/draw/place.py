"""Where labels go: never over each other, never over a line, never off the drawing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from duskline.draw.typeface import text_width

__all__ = ["Box", "Flag", "Ground", "Placed", "flags", "text_box"]

Point = tuple[float, float]
ASCENT, DESCENT = 0.76, 0.24
"""How far letters reach above and below the baseline, in type sizes."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """An upright rectangle of a drawing; y grows downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box) -> bool:
        """Whether the two share ground."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def within(self, other: Box) -> bool:
        """Whether it lies wholly inside the other."""
        return (
            self.left >= other.left
            and self.right <= other.right
            and self.top >= other.top
            and self.bottom <= other.bottom
        )

    def grown(self, by: float) -> Box:
        """Return the box with a margin all round."""
        return Box(
            left=self.left - by, top=self.top - by, right=self.right + by, bottom=self.bottom + by
        )

    def meets(self, one: Point, other: Point) -> bool:
        """Whether a straight line from point to point passes through the box."""
        begin, end = 0.0, 1.0
        for place, low, high in ((0, self.left, self.right), (1, self.top, self.bottom)):
            step = other[place] - one[place]
            if step == 0.0:
                if not low < one[place] < high:
                    return False
                continue
            first, last = sorted(((low - one[place]) / step, (high - one[place]) / step))
            begin, end = max(begin, first), min(end, last)
        return begin < end


def text_box(
    at: Point, text: str, size: float, *, anchor: str = "start", bold: bool = False
) -> Box:
    """Return the ground a line of text covers, its baseline at a point."""
    width = text_width(text, size, bold=bold)
    left = at[0] - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * width
    return Box(
        left=left, top=at[1] - ASCENT * size, right=left + width, bottom=at[1] + DESCENT * size
    )


@dataclass(slots=True)
class Ground:
    """The part of a drawing where labels may go, and what is in their way."""

    bounds: Box
    boxes: list[Box] = field(default_factory=list)
    lines: list[tuple[Point, Point]] = field(default_factory=list)

    def is_free(self, box: Box, *, gap: float = 2.0) -> bool:
        """Whether nothing lies in a box and its margin, and it is on the drawing."""
        wide = box.grown(gap)
        return (
            box.within(self.bounds)
            and not any(wide.overlaps(other) for other in self.boxes)
            and not any(wide.meets(one, other) for one, other in self.lines)
        )

    def add_line(self, points: Sequence[Point]) -> None:
        """Put a drawn line in the way."""
        self.lines.extend(pairwise(points))

    def place(
        self,
        text: str,
        size: float,
        candidates: Iterable[tuple[Point, str]],
        *,
        bold: bool = False,
    ) -> tuple[Point, str] | None:
        """Return the first of the (point, anchor) candidates that is free, and take it."""
        for at, anchor in candidates:
            box = text_box(at, text, size, anchor=anchor, bold=bold)
            if self.is_free(box):
                self.boxes.append(box)
                return at, anchor
        return None


@dataclass(frozen=True, kw_only=True, slots=True)
class Flag:
    """A label on a pole: the pole stands at ``x``, the text flies to one side of it."""

    x: float
    text: str
    bold: bool = False
    needed: bool = True
    sides: tuple[str, ...] = ("left", "right")


@dataclass(frozen=True, kw_only=True, slots=True)
class Placed:
    """A flag with its row (0 is the lowest) and the point and anchor of its text."""

    flag: Flag
    row: int
    at: Point
    anchor: str


def flags(
    wanted: Sequence[Flag],
    *,
    size: float,
    left: float,
    right: float,
    rows: int,
    row_height: float,
    gap: float = 5.0,
) -> tuple[Placed, ...] | None:
    """Return how flags fly side by side without collision, lowest rows first; None if they cannot.

    All ways to put each flag in a row and to a side are tried; they are few.

    Parameters
    ----------
    left, right
        Text stays between these.
    rows
        How many rows there are; row r's baseline lies ``row_height * r`` above 0.
    """
    return _best(wanted, size, (left, right), rows, row_height, gap)


def _best(
    wanted: Sequence[Flag],
    size: float,
    span: tuple[float, float],
    rows: int,
    row_height: float,
    gap: float,
) -> tuple[Placed, ...] | None:
    """Return the way of least cost: low rows, the sides asked for first, nothing slid."""
    ways = [_ways(flag, size, span, rows, row_height, gap) for flag in wanted]
    best: list[tuple[float, tuple[_Way, ...]]] = []

    def go_on(chosen: tuple[_Way, ...], cost: float) -> None:
        if best and cost >= best[0][0]:
            return
        if len(chosen) == len(ways):
            best[:] = [(cost, chosen)]
            return
        for way in ways[len(chosen)]:
            if all(_apart(way, other, gap) and _apart(other, way, gap) for other in chosen):
                go_on((*chosen, way), cost + way.cost)

    go_on((), 0.0)
    return tuple(way.placed for way in best[0][1]) if best else None


@dataclass(frozen=True, kw_only=True, slots=True)
class _Way:
    """One way to fly a flag, the ground its text covers, and how little it is liked."""

    placed: Placed
    box: Box
    cost: float


def _ways(
    flag: Flag,
    size: float,
    span: tuple[float, float],
    rows: int,
    row_height: float,
    gap: float,
) -> list[_Way]:
    """Return the ways to fly a flag that keep its text on the drawing, the best first."""
    half = 0.5 * text_width(flag.text, size, bold=flag.bold)
    middle = min(max(flag.x, span[0] + half), span[1] - half)
    places = {
        "left": (flag.x - gap, "end"),
        "right": (flag.x + gap, "start"),
        "slid": (middle, "middle"),
    }
    found = []
    for row in range(rows):
        for dislike, side in enumerate((*flag.sides, "slid")):
            x, anchor = places[side]
            at = (x, -row_height * row)
            box = text_box(at, flag.text, size, anchor=anchor, bold=flag.bold)
            if box.left < span[0] - 0.5 or box.right > span[1] + 0.5:
                continue
            cost = 10.0 * row + (5.0 if side == "slid" else dislike)
            placed = Placed(flag=flag, row=row, at=at, anchor=anchor)
            found.append(_Way(placed=placed, box=box, cost=cost))
    return sorted(found, key=lambda way: way.cost)


def _apart(one: _Way, other: _Way, gap: float) -> bool:
    """Whether a text keeps off another, and off the other's pole where that passes its row."""
    wide = replace(one.box, left=one.box.left - gap, right=one.box.right + gap)
    if wide.overlaps(other.box):
        return False
    level = other.placed.row == one.placed.row and other.placed.anchor != "middle"
    if other.placed.row > one.placed.row or level:
        away = 0.8 * gap
        return not one.box.left - away < other.placed.flag.x < one.box.right + away
    return True
