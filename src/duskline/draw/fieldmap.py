"""The map of one field: outline, headland rounds, passes, where to start and what to aim at.

Everything is told apart by line style and shape, so that it reads on a black and white print.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import svg

from duskline.answers.field import FieldAnswer
from duskline.core.outline import FloatArray, Outline
from duskline.core.passes import PassPlan
from duskline.core.swing import turn_way_m, turns_over_the_edge
from duskline.draw.bearings import north_arrow, north_box, scale_bar
from duskline.draw.ink import (
    COLOURED,
    INKED,
    Ink,
    document,
    dots,
    hatch,
    label,
    line,
    number,
    path,
    polygon,
    prefix,
)
from duskline.draw.place import Box, Ground, text_box
from duskline.draw.strings import Language, words
from duskline.draw.typeface import text_width
from duskline.units import System
from duskline.words.aim import heading_words
from duskline.words.sides import KINDS

__all__ = [
    "FlaggedSide",
    "LeftGround",
    "MapMarks",
    "field_map",
    "map_marks",
]

Point = tuple[float, float]
_TYPE_NARROW, _TYPE_WIDE, _NARROW = 15.0, 17.0, 700.0
_CLOSEST, _CLOSEST_BESIDE = 5.0, 7.0
"""Passes nearer than this on the drawing are thinned out: the pattern is shown, not each pass.
Where the other machine's passes lie between them they need more room."""
_PAGE = (430.0, 220.0)
"""A map at least this wide and high has room for pass numbers and for the turns."""
_NUMBER_EVERY = 10
_SHOWN_FIRST = 4
"""Passes drawn with their turns where there is no room for all: enough to show the order."""
_EDGE_PX = 7.0
_STRIP_PX = 4.0
"""A strip without seed that is narrower on the map hides under the line of the edge."""
_LONGEST_WORD = 22


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FlaggedSide:
    """A side of the field with something beyond it that no seed may reach.

    Attributes
    ----------
    path_m
        Its corners, the field on the left, ``(n, 2)``. [m]
    word
        What lies beyond, as the map says it.
    off_m
        The strip along it that takes no seed. [m]
    """

    path_m: FloatArray
    word: str
    off_m: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class LeftGround:
    """Ground that is not worked: its ring ``(n, 2)`` [m], and the farmer's word for it."""

    ring_m: FloatArray
    word: str


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class MapMarks:
    """What else stands on the map of a field.

    Attributes
    ----------
    gates_m
        Where its gates are, x and y. [m]
    sides
        Flagged sides.
    left_out
        Ground left out of the field.
    empties
        Number of each load, and where the spreader has thrown the last of it, x and y. [m]
    """

    gates_m: tuple[Point, ...] = ()
    sides: tuple[FlaggedSide, ...] = ()
    left_out: tuple[LeftGround, ...] = ()
    empties: tuple[tuple[int, Point], ...] = ()


def map_marks(
    answer: FieldAnswer, *, spreader: str | None = None, language: Language = "en"
) -> MapMarks:
    """Return what to mark on the map of a field that has been answered.

    Parameters
    ----------
    answer
        The field.
    spreader
        Whose loads are marked; None for the first spreader's.

    Notes
    -----
    Left-out ground is what the field's outline holds and the ground to drive does not; each piece
    is called by the note whose area is nearest to its own.
    """
    spread = next((one for one in answer.spreads if one.machine == spreader), answer.spread)
    ring_m = answer.plan.outline.exterior_m
    sides: list[FlaggedSide] = []
    for edge in answer.plan.edges:
        word = KINDS[language].get(edge.edge.kind, edge.edge.kind)
        paths = [_corners_m(ring_m, side.start_index, side.end_index) for side in edge.sides]
        sides.extend(
            FlaggedSide(path_m=path_m, word=word, off_m=edge.first.off_m)
            for path_m in _chained(paths)
        )
    return MapMarks(
        gates_m=answer.field.gates_m,
        sides=tuple(sides),
        left_out=_left_out(answer),
        empties=tuple(
            (number_of, load.empties_at_m) for number_of, load in enumerate(spread.loads, start=1)
        ),
    )


def _corners_m(ring_m: FloatArray, start: int, end: int) -> FloatArray:
    """Return the corners of a ring from one to another, both with it, ``(n, 2)``. [m]"""
    steps = (end - start) % len(ring_m) or len(ring_m)
    corners_m: FloatArray = ring_m[(start + np.arange(steps + 1)) % len(ring_m)]
    return corners_m


def _chained(paths: Sequence[FloatArray]) -> list[FloatArray]:
    """Return paths with those that go on from each other made one."""
    chains: list[FloatArray] = []
    for path_m in paths:
        if chains and np.array_equal(chains[-1][-1], path_m[0]):
            chains[-1] = np.concatenate([chains[-1], path_m[1:]])
        else:
            chains.append(path_m)
    if len(chains) > 1 and np.array_equal(chains[-1][-1], chains[0][0]):
        chains[0] = np.concatenate([chains.pop(), chains[0][1:]])
    return chains


def _left_out(answer: FieldAnswer) -> tuple[LeftGround, ...]:
    drawn, ground = answer.field.outline, answer.field.ground
    notes = list(answer.field.left_out)
    if drawn is None or ground is None or not notes:
        return ()
    cut = shapely.difference(drawn.shape, ground.shape)
    pieces = sorted(
        (piece for piece in shapely.get_parts(cut) if piece.area > 1.0), key=lambda one: -one.area
    )
    found = []
    for piece in pieces:
        if not notes:
            break
        note = min(notes, key=lambda one: abs(one.area_m2 - piece.area))
        notes.remove(note)
        ring_m = np.asarray(piece.exterior.coords)[:-1]
        found.append(LeftGround(ring_m=ring_m, word=note.what))
    return tuple(found)


def field_map(
    outline: Outline,
    spread: PassPlan | None,
    cover: PassPlan | None,
    system: System,
    *,
    name: str,
    width: float,
    height: float,
    language: Language = "en",
    black_and_white: bool = False,
    text_size: float | None = None,
    key: bool = True,
    marks: MapMarks | None = None,
    turns: bool = False,
) -> str:
    """Return the map of a field as SVG text, north up.

    Parameters
    ----------
    outline
        The field.
    spread, cover
        The plans to draw: spread passes dashed, covering passes solid; None leaves one out. The
        start and the aim are those of the covering plan, or of the spread plan without one.
    system
        The reader's units, for the scale bar.
    name
        What the field is called.
    width, height
        Size in pixels, or in points on paper.
    key
        Whether the line styles are explained under the map.
    marks
        Gates, flagged sides, left-out ground, where loads run empty; None for a small map.
    turns
        Whether the turns are drawn as they are driven, where the map has the size of a page.

    Notes
    -----
    Where passes would lie too close to tell apart only every second, third ... is drawn, and the
    key says so. Pass 1, every tenth and the last have their number, in driving order, on a map of
    a page.
    """
    ink = INKED if black_and_white else COLOURED
    size = text_size or (_TYPE_NARROW if width < _NARROW else _TYPE_WIDE)
    drawing = _Map(
        outline, spread, cover, system, ink, size, width, height, language, key,
        marks or MapMarks(), turns,
    )  # fmt: skip
    led = cover or spread
    first = None if led is None else led.first
    return document(
        width=width,
        height=height,
        title=words(language, "map title", name=name),
        story=words(
            language,
            "map story" if led is not None else "map outline story",
            name=name,
            rounds=0 if led is None else led.rounds_count,
            passes=0 if led is None else led.passes_count,
            heading="" if first is None else heading_words(first.aim_rad, language),
        ),
        defs=drawing.defs(),
        elements=list(drawing.draw()),
    )


class _Map:
    """The map with its scale."""

    def __init__(
        self,
        outline: Outline,
        spread: PassPlan | None,
        cover: PassPlan | None,
        system: System,
        ink: Ink,
        size: float,
        width: float,
        height: float,
        language: Language,
        key: bool,
        marks: MapMarks,
        turns: bool,
    ) -> None:
        self.outline, self.spread, self.cover, self.marks = outline, spread, cover, marks
        self.system, self.ink, self.size, self.language = system, ink, size, language
        self.width, self.height = width, height
        self.page = width >= _PAGE[0] and height >= _PAGE[1]
        self.turns = turns and self.page
        self.led = cover or spread
        self.first = None if self.led is None else self.led.first
        corners_m = np.concatenate([outline.exterior_m, *(one.ring_m for one in marks.left_out)])
        low, high = corners_m.min(axis=0), corners_m.max(axis=0)
        span_x, span_y = (high - low).tolist()
        side, head = 1.3 * size + 8.0, 1.5 * size
        room_x = width - 2.0 * side
        # How many rows the key takes depends on the scale, and the scale on the rows: the key of
        # a map without thinning is no shorter by a row, so its rows are counted twice.
        self.rows: list[list[tuple[float, str, str]]] = []
        for _ in range(2):
            foot = (1.6 * size) + len(self.rows) * 1.45 * size
            room_y = height - foot - head - 6.0
            self.scale = min(room_x / span_x, room_y / span_y)
            self.rows = self._key_rows(self._entries() if key else [])
        foot = (1.6 * size) + len(self.rows) * 1.45 * size
        room_y = height - foot - head - 6.0
        self.scale = min(room_x / span_x, room_y / span_y)
        self.west_m, self.north_m = float(low[0]), float(high[1])
        self.left = side + 0.5 * (room_x - span_x * self.scale)
        self.top = head + 0.5 * (room_y - span_y * self.scale)
        self.foot_top = height - foot
        self.ground = Ground(bounds=Box(left=0.0, top=0.0, right=width, bottom=self.foot_top))
        self.ground.boxes.append(north_box(width=self.width, size=self.size))
        self.name = prefix("map", outline.exterior_m.tolist(), width, height, ink.paper,
                           None if self.led is None else self.led.heading_rad)  # fmt: skip

    def at(self, point_m: Sequence[float] | FloatArray) -> Point:
        return (
            self.left + (float(point_m[0]) - self.west_m) * self.scale,
            self.top + (self.north_m - float(point_m[1])) * self.scale,
        )

    def defs(self) -> list[svg.Element]:
        ink = self.ink
        return [
            hatch(f"{self.name}-hole", colour=ink.soft, every=6.0, width=1.3),
            hatch(f"{self.name}-left", colour=ink.soft, every=5.0, width=1.0, angle=-45.0),
            hatch(f"{self.name}-side", colour=ink.text, every=5.0, width=2.6, angle=-45.0),
            dots(f"{self.name}-bare", colour=ink.text, every=6.0, radius=0.9),
        ]

    def draw(self) -> Iterator[svg.Element]:
        yield self._ring(self.outline.exterior_m, fill="none", stroke="none", stroke_width=0)
        yield from self._rounds()
        if self.cover is not None:
            yield from self._passes(self.cover, dashed=False)
        if self.spread is not None:
            yield from self._passes(self.spread, dashed=True)
        if self.turns and self.led is not None:
            yield from self._turns(self.led)
        yield from self._parts()
        yield from self._bare_strips()
        for hole_m in self.outline.holes_m:
            yield self._ring(hole_m, fill=self.ink.paper, stroke="none", stroke_width=0)
            yield self._ring(hole_m, fill=f"url(#{self.name}-hole)", stroke=self.ink.text,
                             stroke_width=2)  # fmt: skip
        for left in self.marks.left_out:
            yield self._ring(left.ring_m, fill=self.ink.paper, stroke="none", stroke_width=0)
            yield self._ring(left.ring_m, fill=f"url(#{self.name}-left)", stroke=self.ink.text,
                             stroke_width=1.4, stroke_dasharray=[4, 3])  # fmt: skip
        yield from self._sides()
        yield self._ring(self.outline.exterior_m, fill="none", stroke=self.ink.text,
                         stroke_width=3.4)  # fmt: skip
        yield from self._first_pass()
        yield from self._symbols()
        yield from self._words()
        yield from north_arrow(
            width=self.width, size=self.size, ink=self.ink, language=self.language
        )
        yield from scale_bar(
            width=self.width, middle=self.foot_top + 1.0 * self.size, scale=self.scale,
            size=self.size, ink=self.ink, system=self.system,
        )  # fmt: skip
        yield from self._key()

    def _ring(self, ring_m: FloatArray, **style: object) -> svg.Element:
        return polygon([self.at(corner) for corner in ring_m], stroke_linejoin="round", **style)

    # ------------------------------------------------------------------- what is driven

    def _rounds(self) -> Iterator[svg.Element]:
        if self.led is None:
            return
        for ring_m in self.led.rounds_m:
            yield path([self.at(corner) for corner in ring_m], fill="none", stroke=self.ink.soft,
                       stroke_width=1.1, stroke_dasharray=[1.5, 3])  # fmt: skip

    def _every(self, plan: PassPlan) -> int:
        """Return which passes are drawn: every one, every second, every third ..."""
        apart: float = plan.driving.driving_width_m * self.scale
        both = self.spread is not None and self.cover is not None
        closest = _CLOSEST_BESIDE if both and self.page else _CLOSEST
        if plan is self.spread:
            closest = 2.0 * _CLOSEST
        return max(1, math.ceil(closest / apart))

    def _passes(self, plan: PassPlan, *, dashed: bool) -> Iterator[svg.Element]:
        every = self._every(plan)
        rows = list(zip(plan.block_indices.tolist(), plan.row_indices.tolist(), strict=True))
        guides = dict(reversed(rows))
        numbered = set(self._numbered(plan).values()) if plan is self.led else set()
        shown = self._shown_first(plan)
        for run, (ends_m, (block, row)) in enumerate(zip(plan.passes_m, rows, strict=True)):
            heavy = (block, row) in numbered
            if (row - guides[block]) % every and not heavy and run not in shown:
                continue
            one, other = self.at(ends_m[0]), self.at(ends_m[1])
            if dashed:
                if self.cover is not None and self.page:
                    yield line(one, other, stroke=self.ink.paper, stroke_width=4)
                yield line(one, other, stroke=self.ink.spread, stroke_width=1.7,
                           stroke_dasharray=[7, 5])  # fmt: skip
            else:
                yield line(one, other, stroke=self.ink.cover, stroke_width=1.8 if heavy else 1)

    def _numbered(self, plan: PassPlan) -> dict[int, tuple[int, int]]:
        """Return the passes that have their number on the map: their part and row."""
        if not self.page or not len(plan.passes_m):
            return {}
        rows = zip(plan.block_indices.tolist(), plan.row_indices.tolist(), strict=True)
        parts = len(plan.blocks)
        order = list(dict.fromkeys((block, row) for block, row in rows if block < parts))
        count = len(order)
        # A round number next to the last one would read as one with it.
        wanted = {1, count, *range(_NUMBER_EVERY, count - _NUMBER_EVERY // 2, _NUMBER_EVERY)}
        if plan.order.way != "next":
            wanted |= {2, 3}
        return {at: order[at - 1] for at in sorted(wanted) if 1 <= at <= count}

    def _shown_first(self, plan: PassPlan) -> range:
        """Return the runs drawn whatever the thinning, because their turns show the order."""
        if self.turns and plan is self.led and self._every(plan) > 1:
            return range(min(_SHOWN_FIRST, len(plan.passes_m)))
        return range(0)

    def _turns(self, plan: PassPlan) -> Iterator[svg.Element]:
        """The turns as they are driven; one that would leave the field only as a link."""
        shown = self._shown_first(plan) or range(len(plan.passes_m))
        over = set(turns_over_the_edge(plan, self.outline))
        stroke = self.ink.cover if plan is self.cover else self.ink.spread
        for run in shown[:-1]:
            way_m = turn_way_m(plan, run)
            if way_m is None:
                continue
            if run in over:
                way_m = way_m[[0, -1]]
            yield path([self.at(point) for point in way_m], fill="none", stroke=stroke,
                       stroke_width=1.1,
                       stroke_dasharray=[2, 2] if run in over else None)  # fmt: skip

    def _parts(self) -> Iterator[svg.Element]:
        """The lines along which a field driven in several parts is cut."""
        if self.led is None or len(self.led.blocks) < 2:
            return
        edge = shapely.LinearRing(self.outline.exterior_m).buffer(0.5)
        for block in self.led.blocks:
            for piece in shapely.get_parts(block.region.exterior.difference(edge)):
                yield path([self.at(point) for point in piece.coords], fill="none",
                           stroke=self.ink.text, stroke_width=2,
                           stroke_dasharray=[9, 3, 2, 3])  # fmt: skip

    # ------------------------------------------------------------------- edges

    def _bare_strips(self) -> Iterator[svg.Element]:
        """Strips along flagged sides that take no seed."""
        for side in self.marks.sides:
            if not self._strip_shows(side):
                continue
            strip = shapely.LineString(side.path_m).buffer(side.off_m, cap_style="flat")
            for piece in shapely.get_parts(shapely.intersection(strip, self.outline.shape)):
                if piece.geom_type == "Polygon" and piece.area > 0.0:
                    ring_m = np.asarray(piece.exterior.coords)[:-1]
                    yield self._ring(ring_m, fill=self.ink.paper, stroke="none", stroke_width=0)
                    yield self._ring(ring_m, fill=f"url(#{self.name}-bare)", stroke=self.ink.text,
                                     stroke_width=0.8)  # fmt: skip

    def _strip_shows(self, side: FlaggedSide) -> bool:
        return self.spread is not None and side.off_m * self.scale >= _STRIP_PX

    def _sides(self) -> Iterator[svg.Element]:
        """A hatched band along the outside of every flagged side."""
        for side in self.marks.sides:
            band = shapely.LineString(side.path_m).buffer(
                -(_EDGE_PX + 1.7) / self.scale, single_sided=True, join_style="mitre"
            )
            for piece in shapely.get_parts(band):
                if piece.geom_type == "Polygon":
                    ring_m = np.asarray(piece.exterior.coords)[:-1]
                    yield self._ring(ring_m, fill=f"url(#{self.name}-side)", stroke=self.ink.text,
                                     stroke_width=1)  # fmt: skip

    # ------------------------------------------------------------------- marks

    def _row_ends(self) -> tuple[Point, Point, Point] | None:
        """Return start and end of the first pass, and the mark to aim at, on the drawing."""
        if self.first is None or self.led is None or not len(self.led.passes_m):
            return None
        plan = self.led
        first_row = (plan.row_indices == plan.row_indices[0]) & (
            plan.block_indices == plan.block_indices[0]
        )
        of_row = plan.passes_m[first_row]
        start_m, aim = plan.passes_m[0, 0], plan.passes_m[0, 1] - plan.passes_m[0, 0]
        ends_m = of_row.reshape(-1, 2)
        far_m = ends_m[int(np.argmax((ends_m - start_m) @ aim))]
        return self.at(start_m), self.at(far_m), self.at(self.first.far_mark_m)

    def _first_pass(self) -> Iterator[svg.Element]:
        """The first pass as a heavy arrow, its start, and the mark to aim at."""
        ends = self._row_ends()
        if ends is None:
            return
        start, end, mark = ends
        ink = self.ink
        yield line(start, end, stroke=ink.paper, stroke_width=7)
        yield line(start, end, stroke=ink.text, stroke_width=3.6)
        yield line(end, mark, stroke=ink.text, stroke_width=1.4, stroke_dasharray=[3, 3])
        yield from self._arrow_head(start, end)
        yield svg.Circle(cx=number(start[0]), cy=number(start[1]), r=5.5, fill=ink.paper,
                         stroke=ink.text, stroke_width=3)  # fmt: skip
        yield from self._flag(mark)

    def _arrow_head(self, start: Point, end: Point) -> Iterator[svg.Element]:
        """A head in the middle of the pass, where nothing hides it."""
        middle = (0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1]))
        away = math.atan2(end[1] - start[1], end[0] - start[0])
        points = [(middle[0] + 11.0 * math.cos(away), middle[1] + 11.0 * math.sin(away))]
        points += [
            (middle[0] + 9.0 * math.cos(away + turn), middle[1] + 9.0 * math.sin(away + turn))
            for turn in (2.5, -2.5)
        ]
        yield polygon(points, fill=self.ink.text, stroke=self.ink.paper, stroke_width=1)

    def _flag(self, at: Point) -> Iterator[svg.Element]:
        """A post with a flag on it."""
        x, y = at
        yield line((x, y), (x, y - 17.0), stroke=self.ink.paper, stroke_width=6)
        yield line((x, y), (x, y - 17.0), stroke=self.ink.text, stroke_width=2.4)
        yield polygon([(x, y - 17.0), (x + 11.0, y - 13.0), (x, y - 9.0)], fill=self.ink.text,
                      stroke=self.ink.paper, stroke_width=0.8)  # fmt: skip
        self.ground.boxes.append(Box(left=x - 3.0, top=y - 18.0, right=x + 12.0, bottom=y))

    def _symbols(self) -> Iterator[svg.Element]:
        """Gates as two posts with a bar, ends of loads as a diamond, the spreader's start."""
        ink = self.ink
        for gate in self.marks.gates_m:
            x, y = self.at(gate)
            yield svg.Rect(x=number(x - 8.0), y=number(y - 4.0), width=16, height=8,
                           fill=ink.paper, stroke="none")  # fmt: skip
            yield line((x - 7.0, y), (x + 7.0, y), stroke=ink.text, stroke_width=1.6)
            for post in (x - 7.0, x + 7.0):
                yield line((post, y - 6.0), (post, y + 6.0), stroke=ink.text, stroke_width=3.4)
            self._take((x, y), 8.0)
        if self.spread is not None:
            for _, empty_m in self.marks.empties:
                x, y = self.at(empty_m)
                yield polygon([(x, y - 6.5), (x + 6.5, y), (x, y + 6.5), (x - 6.5, y)],
                              fill=ink.text, stroke=ink.paper, stroke_width=1.4)  # fmt: skip
                self._take((x, y), 6.0)
        start = self._spread_start()
        if start is not None:
            (x, y), away = start
            points = [
                (x + 7.5 * math.cos(away + turn), y + 7.5 * math.sin(away + turn))
                for turn in (0.0, 2.3, -2.3)
            ]
            yield polygon(points, fill=ink.paper, stroke=ink.text, stroke_width=1.8)
            self._take((x, y), 6.0)

    def _spread_start(self) -> tuple[Point, float] | None:
        """Return where the spreader's pass 1 starts and its direction, on a page of both sets."""
        plan = self.spread
        if not self.page or self.cover is None or plan is None or not len(plan.passes_m):
            return None
        one, other = self.at(plan.passes_m[0, 0]), self.at(plan.passes_m[0, 1])
        return one, math.atan2(other[1] - one[1], other[0] - one[0])

    def _take(self, at: Point, half: float) -> None:
        x, y = at
        self.ground.boxes.append(Box(left=x - half, top=y - half, right=x + half, bottom=y + half))

    # ------------------------------------------------------------------- words

    def _words(self) -> Iterator[svg.Element]:
        """Every word of the map, the most needed first; what finds no room is left out."""
        ends = self._row_ends()
        if ends is not None:
            start, _, mark = ends
            for at, key in ((mark, "aim"), (start, "start here")):
                yield from self._word(words(self.language, key), _around(at, self.size), out=True)
        for side in self.marks.sides:
            yield from self._side_word(side)
        if self.spread is not None:
            for number_of, empty_m in self.marks.empties:
                text = words(self.language, "empty", number=number_of)
                yield from self._word(text, _around(self.at(empty_m), self.size), out=True)
        for left in self.marks.left_out:
            text = _shortened(left.word)
            yield from self._word(text, self._in_or_beside(left.ring_m, text))
        for gate in self.marks.gates_m:
            text = words(self.language, "gate")
            yield from self._word(text, _around(self.at(gate), self.size), out=True)
        if self.page:
            yield from self._page_words()

    def _page_words(self) -> Iterator[svg.Element]:
        start = self._spread_start()
        if start is not None:
            text = words(self.language, "spread start")
            yield from self._word(text, _around(start[0], self.size), out=True)
        for hole_m in self.outline.holes_m:
            middle = shapely.Polygon(hole_m).representative_point()
            if not any(
                shapely.Polygon(left.ring_m).distance(middle) == 0.0 for left in self.marks.left_out
            ):
                text = words(self.language, "hole")
                yield from self._word(text, self._in_or_beside(hole_m, text))
        if self.led is None:
            return
        if len(self.led.blocks) > 1:
            for place, block in enumerate(self.led.blocks, start=1):
                text = words(self.language, "part", number=place)
                yield from self._word(text, self._all_over(block.region))
        yield from self._numbers(self.led)

    def _numbers(self, plan: PassPlan) -> Iterator[svg.Element]:
        """The numbers of a few passes, each where its pass starts."""
        rows = list(zip(plan.block_indices.tolist(), plan.row_indices.tolist(), strict=True))
        numbered = self._numbered(plan)
        last = max(numbered, default=0)
        for at in sorted(numbered, key=lambda one: (one != last, one)):
            run_m = plan.passes_m[rows.index(numbered[at])]
            start, end = self.at(run_m[0]), self.at(run_m[1])
            away = math.atan2(end[1] - start[1], end[0] - start[0])
            spots = []
            for back in (9.0, 14.0, 20.0, 27.0, -12.0, -22.0, -34.0):
                x, y = start[0] - back * math.cos(away), start[1] - back * math.sin(away)
                if not self._in_hole((x, y)):
                    spots.append(((x, y + 0.34 * self.size), "middle"))
            yield from self._word(str(at), spots)

    def _side_word(self, side: FlaggedSide) -> Iterator[svg.Element]:
        """The word of a flagged side beside its band, outside where there is room."""
        ring = [self.at(corner) for corner in side.path_m]
        spots: list[tuple[Point, str]] = []
        line_m = shapely.LineString(ring)
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            at, ahead = (
                line_m.interpolate(min(share + step, 1.0), normalized=True) for step in (0.0, 0.02)
            )
            # y is turned over on the drawing: right of the way is outside.
            along = math.atan2(ahead.y - at.y, ahead.x - at.x)
            out_x, out_y = -math.sin(along), math.cos(along)
            for away in (_EDGE_PX + 4.0, -6.0, -16.0, -30.0):
                x, y = at.x + away * out_x, at.y + away * out_y
                to_right = out_x * away
                anchor = "middle" if abs(out_x) < 0.5 else ("start" if to_right > 0.0 else "end")
                down = 0.34 * self.size if anchor != "middle" else 0.0
                if anchor == "middle":
                    down = 0.8 * self.size if out_y * away > 0.0 else -0.3 * self.size
                spots.append(((x, y + down), anchor))
        spots.sort(key=lambda spot: not self._is_outside(spot[0]))
        yield from self._word(side.word, spots)

    def _on_ground(self, at: Point) -> shapely.Point:
        """Return the place of the field under a point of the drawing. [m]"""
        x_m = self.west_m + (at[0] - self.left) / self.scale
        return shapely.Point(x_m, self.north_m - (at[1] - self.top) / self.scale)

    def _is_outside(self, at: Point) -> bool:
        return not self.outline.shape.contains(self._on_ground(at))

    def _in_hole(self, at: Point) -> bool:
        place, margin_m = self._on_ground(at), 0.5 * self.size / self.scale
        rings = (*self.outline.holes_m, *(left.ring_m for left in self.marks.left_out))
        return any(shapely.Polygon(ring_m).distance(place) < margin_m for ring_m in rings)

    def _inside(self, point_m: Point) -> Iterator[tuple[Point, str]]:
        """Places over a point of the ground, the nearest first."""
        x, y = self.at(point_m)
        for down in (0.0, -1.0, 1.0, -2.0, 2.0):
            yield (x, y + (0.34 + 1.1 * down) * self.size), "middle"

    def _all_over(self, region: shapely.Polygon) -> Iterator[tuple[Point, str]]:
        """Places in a part of the field: its middle first, then wherever else it has ground."""
        middle = region.representative_point()
        yield from self._inside((middle.x, middle.y))
        west, south, east, north = region.bounds
        for up in (0.5, 0.3, 0.7, 0.15, 0.85):
            for along in (0.5, 0.3, 0.7, 0.15, 0.85):
                place = (west + along * (east - west), south + up * (north - south))
                if region.contains(shapely.Point(place)):
                    yield from self._inside(place)

    def _in_or_beside(self, ring_m: FloatArray, text: str) -> Iterator[tuple[Point, str]]:
        """Places for the word of a piece of ground: in it where it fits, else beside it."""
        corners = [self.at(corner) for corner in ring_m]
        xs, ys = zip(*corners, strict=True)
        middle = shapely.Polygon(ring_m).representative_point()
        if text_width(text, self.size, bold=True) < max(xs) - min(xs) and self.size < (
            max(ys) - min(ys)
        ):
            yield from self._inside((middle.x, middle.y))
        x, y = 0.5 * (min(xs) + max(xs)), 0.5 * (min(ys) + max(ys)) + 0.34 * self.size
        yield (max(xs) + 4.0, y), "start"
        yield (min(xs) - 4.0, y), "end"
        yield (x, min(ys) - 5.0), "middle"
        yield (x, max(ys) + 4.0 + 0.76 * self.size), "middle"
        yield from self._inside((middle.x, middle.y))

    def _word(
        self, text: str, spots: Iterable[tuple[Point, str]], *, out: bool = False
    ) -> Iterator[svg.Element]:
        """A word in the first free place, on a ground of paper; outside the field if asked."""
        tried = list(spots)
        ends, boxes = self._row_ends(), self.ground.boxes
        lines = [] if ends is None else [(ends[0], ends[2])]
        clear = Ground(bounds=self.ground.bounds, boxes=boxes, lines=lines)
        outside = Ground(bounds=self.ground.bounds, boxes=boxes, lines=list(lines))
        ring = [self.at(corner) for corner in self.outline.exterior_m]
        outside.add_line([*ring, ring[0]])
        place = None
        for where in (*((outside,) if out else ()), clear, self.ground):
            place = place or where.place(text, self.size, tried, bold=True)
        if place is None:
            return
        box = text_box(place[0], text, self.size, anchor=place[1], bold=True).grown(1.5)
        yield svg.Rect(
            x=number(box.left),
            y=number(box.top),
            width=number(box.right - box.left),
            height=number(box.bottom - box.top),
            fill=self.ink.paper,
            fill_opacity=0.92,
        )
        yield label(place[0], text, self.size, fill=self.ink.text, anchor=place[1], bold=True)

    def _entries(self) -> list[tuple[str, str]]:
        entries = []
        for kind, plan in (("spread", self.spread), ("cover", self.cover)):
            if plan is not None:
                text, every = words(self.language, f"{kind} pass"), self._every(plan)
                if every > 1 and self.page:
                    text += words(self.language, "thinned", every=every)
                entries.append((kind, text))
        if self.led is not None and self.led.rounds_m:
            entries.append(("headland", words(self.language, "headland")))
        if any(self._strip_shows(side) for side in self.marks.sides):
            entries.append(("bare", words(self.language, "no seed")))
        return entries

    def _key_rows(self, entries: list[tuple[str, str]]) -> list[list[tuple[float, str, str]]]:
        rows: list[list[tuple[float, str, str]]] = [[]] if entries else []
        x = 4.0
        for kind, text in entries:
            wide = 36.0 + text_width(text, self.size)
            if rows[-1] and x + wide > self.width:
                rows.append([])
                x = 4.0
            rows[-1].append((x, kind, text))
            x += wide + 14.0
        return rows

    def _key(self) -> Iterator[svg.Element]:
        for number_of, row in enumerate(self.rows):
            base = self.foot_top + 1.6 * self.size + (number_of + 1) * 1.45 * self.size
            base -= 0.45 * self.size
            for x, kind, text in row:
                y = base - 0.3 * self.size
                one, other = (x, y), (x + 28.0, y)
                if kind == "spread":
                    yield line(one, other, stroke=self.ink.spread, stroke_width=1.7,
                               stroke_dasharray=[7, 5])  # fmt: skip
                elif kind == "cover":
                    yield line(one, other, stroke=self.ink.cover, stroke_width=1.6)
                elif kind == "bare":
                    yield svg.Rect(x=number(x), y=number(y - 5.0), width=28, height=10,
                                   fill=f"url(#{self.name}-bare)", stroke=self.ink.text,
                                   stroke_width=0.8)  # fmt: skip
                else:
                    yield line(one, other, stroke=self.ink.soft, stroke_width=1.4,
                               stroke_dasharray=[1.5, 3])  # fmt: skip
                yield label((x + 34.0, base), text, self.size, fill=self.ink.text)


def _shortened(text: str) -> str:
    """Return a farmer's word no longer than a label may be."""
    plain = " ".join(text.split())
    return plain if len(plain) <= _LONGEST_WORD else plain[: _LONGEST_WORD - 1].rstrip() + "…"


def _around(at: Point, size: float) -> Iterator[tuple[Point, str]]:
    """Places round a point, the nearest first."""
    x, y = at
    for away in (8.0, 14.0, 22.0, 34.0):
        for down in (0.34 * size, size + 4.0, -0.5 * size, 2.0 * size, -1.6 * size, 3.1 * size):
            yield (x + away + 6.0, y + down), "start"
            yield (x - away, y + down), "end"
        yield (x, y + away + size), "middle"
        yield (x, y - away - 12.0), "middle"
