"""Where labels go: never over each other, never over a line, never off the drawing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import product

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
        self.lines.extend(zip(points, points[1:], strict=False))

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
    best: tuple[Placed, ...] | None = None
    best_cost = float("inf")
    ways = [
        [(row, side) for row in range(rows) for side in (*flag.sides, "slid")] for flag in wanted
    ]
    for chosen in product(*ways):
        cost = sum(row * 10 + (5 if side == "slid" else 0) for row, side in chosen) + sum(
            flag.sides.index(side)
            for flag, (_, side) in zip(wanted, chosen, strict=True)
            if side != "slid"
        )
        if cost >= best_cost:
            continue
        placed = tuple(
            _fly(flag, row, side, size, span, row_height, gap)
            for flag, (row, side) in zip(wanted, chosen, strict=True)
        )
        if _clear(placed, size, span, gap):
            best, best_cost = placed, cost
    return best


def _fly(
    flag: Flag,
    row: int,
    side: str,
    size: float,
    span: tuple[float, float],
    row_height: float,
    gap: float,
) -> Placed:
    y = -row_height * row
    if side == "slid":
        half = 0.5 * text_width(flag.text, size, bold=flag.bold)
        middle = min(max(flag.x, span[0] + half), span[1] - half)
        return Placed(flag=flag, row=row, at=(middle, y), anchor="middle")
    away = -gap if side == "left" else gap
    return Placed(
        flag=flag, row=row, at=(flag.x + away, y), anchor="end" if side == "left" else "start"
    )


def _clear(
    placed: tuple[Placed, ...],
    size: float,
    span: tuple[float, float],
    gap: float,
) -> bool:
    boxes = [
        text_box(one.at, one.flag.text, size, anchor=one.anchor, bold=one.flag.bold)
        for one in placed
    ]
    for place, (one, box) in enumerate(zip(placed, boxes, strict=True)):
        if box.left < span[0] - 0.5 or box.right > span[1] + 0.5:
            return False
        for other_place, (other, other_box) in enumerate(zip(placed, boxes, strict=True)):
            if place == other_place:
                continue
            if box.grown(gap / 2.0).overlaps(other_box.grown(gap / 2.0)):
                return False
            # A pole that stands from a higher row passes the rows below it.
            passes = other.row > one.row or (other.row == one.row and other.anchor != "middle")
            if passes and box.left - 0.8 * gap < other.flag.x < box.right + 0.8 * gap:
                return False
    return True
