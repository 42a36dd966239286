"""The map of one field: outline, headland rounds, passes, where to start and what to aim at.

Everything is told apart by line style, so that it reads on a black and white print.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import svg

from duskline.core.outline import FloatArray, Outline
from duskline.core.passes import PassPlan
from duskline.draw.ink import (
    COLOURED,
    INKED,
    Ink,
    document,
    hatch,
    label,
    line,
    nice_step,
    number,
    path,
    polygon,
    prefix,
)
from duskline.draw.place import Box, Ground, text_box
from duskline.draw.strings import Language, words
from duskline.draw.typeface import text_width
from duskline.units import System, show, to_display
from duskline.words.aim import heading_words

__all__ = ["field_map"]

Point = tuple[float, float]
_TYPE_NARROW, _TYPE_WIDE, _NARROW = 15.0, 17.0, 700.0
_CLOSEST = 5.0
"""Passes nearer than this on the drawing are thinned out: the pattern is shown, not each pass."""


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

    Notes
    -----
    Where passes would lie too close to tell apart only every second, third ... is drawn.
    """
    ink = INKED if black_and_white else COLOURED
    size = text_size or (_TYPE_NARROW if width < _NARROW else _TYPE_WIDE)
    drawing = _Map(outline, spread, cover, system, ink, size, width, height, language, key)
    led = cover or spread
    first = None if led is None else led.first
    return document(
        width=width,
        height=height,
        title=words(language, "map title", name=name),
        story=words(
            language,
            "map story",
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
    ) -> None:
        self.outline, self.spread, self.cover = outline, spread, cover
        self.system, self.ink, self.size, self.language = system, ink, size, language
        self.width, self.height = width, height
        self.led = cover or spread
        self.first = None if self.led is None else self.led.first
        self.entries = self._entries() if key else []
        self.rows = self._key_rows()
        foot = (1.6 * size) + len(self.rows) * 1.45 * size
        side, head = 1.3 * size + 8.0, 1.5 * size
        room_x, room_y = width - 2.0 * side, height - foot - head - 6.0
        low, high = outline.exterior_m.min(axis=0), outline.exterior_m.max(axis=0)
        span_x, span_y = (high - low).tolist()
        self.scale = min(room_x / span_x, room_y / span_y)
        self.west_m, self.north_m = float(low[0]), float(high[1])
        self.left = side + 0.5 * (room_x - span_x * self.scale)
        self.top = head + 0.5 * (room_y - span_y * self.scale)
        self.foot_top = height - foot
        self.name = prefix("map", outline.exterior_m.tolist(), width, height, ink.paper,
                           None if self.led is None else self.led.heading_rad)  # fmt: skip

    def at(self, point_m: Sequence[float] | FloatArray) -> Point:
        return (
            self.left + (float(point_m[0]) - self.west_m) * self.scale,
            self.top + (self.north_m - float(point_m[1])) * self.scale,
        )

    def defs(self) -> list[svg.Element]:
        return [hatch(f"{self.name}-hole", colour=self.ink.soft, every=6.0, width=1.3)]

    def draw(self) -> Iterator[svg.Element]:
        yield self._ring(self.outline.exterior_m, fill="none", stroke="none", stroke_width=0)
        yield from self._rounds()
        if self.spread is not None:
            yield from self._passes(self.spread, dashed=True)
        if self.cover is not None:
            yield from self._passes(self.cover, dashed=False)
        for hole_m in self.outline.holes_m:
            yield self._ring(hole_m, fill=self.ink.paper, stroke="none", stroke_width=0)
            yield self._ring(hole_m, fill=f"url(#{self.name}-hole)", stroke=self.ink.text,
                             stroke_width=2)  # fmt: skip
        yield self._ring(self.outline.exterior_m, fill="none", stroke=self.ink.text,
                         stroke_width=3.4)  # fmt: skip
        yield from self._first_pass()
        yield from self._north()
        yield from self._scale_bar()
        yield from self._key()

    def _ring(self, ring_m: FloatArray, **style: object) -> svg.Element:
        return polygon([self.at(corner) for corner in ring_m], stroke_linejoin="round", **style)

    def _rounds(self) -> Iterator[svg.Element]:
        if self.led is None:
            return
        for ring_m in self.led.rounds_m:
            yield path([self.at(corner) for corner in ring_m], fill="none", stroke=self.ink.soft,
                       stroke_width=1.1, stroke_dasharray=[1.5, 3])  # fmt: skip

    def _passes(self, plan: PassPlan, *, dashed: bool) -> Iterator[svg.Element]:
        apart = plan.driving.driving_width_m * self.scale
        closest = 2.0 * _CLOSEST if dashed else _CLOSEST
        every = max(1, math.ceil(closest / apart))
        guide = int(plan.row_indices[0]) if len(plan.row_indices) else 0
        for ends_m, row in zip(plan.passes_m, plan.row_indices, strict=True):
            if (int(row) - guide) % every:
                continue
            one, other = self.at(ends_m[0]), self.at(ends_m[1])
            if dashed:
                yield line(one, other, stroke=self.ink.spread, stroke_width=1.7,
                           stroke_dasharray=[7, 5])  # fmt: skip
            else:
                yield line(one, other, stroke=self.ink.cover, stroke_width=1)

    def _first_pass(self) -> Iterator[svg.Element]:
        """The first pass as a heavy arrow, its start, and the mark to aim at."""
        if self.first is None or self.led is None or not len(self.led.passes_m):
            return
        first_row = self.led.row_indices == self.led.row_indices[0]
        of_row = self.led.passes_m[first_row]
        start, end = self.at(of_row[0, 0]), self.at(of_row[-1, 1])
        mark = self.at(self.first.far_mark_m)
        ink = self.ink
        yield line(start, end, stroke=ink.paper, stroke_width=7)
        yield line(start, end, stroke=ink.text, stroke_width=3.6)
        yield line(end, mark, stroke=ink.text, stroke_width=1.4, stroke_dasharray=[3, 3])
        yield from self._arrow_head(start, end)
        yield svg.Circle(cx=number(start[0]), cy=number(start[1]), r=5.5, fill=ink.paper,
                         stroke=ink.text, stroke_width=3)  # fmt: skip
        yield from self._flag(mark)
        yield from self._marks(start, mark)

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
        yield line((x, y), (x, y - 17.0), stroke=self.ink.text, stroke_width=2.4)
        yield polygon([(x, y - 17.0), (x + 11.0, y - 13.0), (x, y - 9.0)], fill=self.ink.text)

    def _marks(self, start: Point, mark: Point) -> Iterator[svg.Element]:
        """The words at the start and at the mark, outside the field where there is room."""
        ground = Ground(bounds=Box(left=0.0, top=0.0, right=self.width, bottom=self.foot_top))
        ground.boxes.append(
            Box(left=mark[0] - 3.0, top=mark[1] - 18.0, right=mark[0] + 12.0, bottom=mark[1])
        )
        ground.boxes.append(self._north_box())
        ring = [self.at(corner) for corner in self.outline.exterior_m]
        for at, key in ((mark, "aim"), (start, "start here")):
            text = words(self.language, key)
            spots = list(_around(at, self.size))
            clear = Ground(bounds=ground.bounds, boxes=ground.boxes, lines=[(start, mark)])
            outside = Ground(bounds=ground.bounds, boxes=ground.boxes, lines=[(start, mark)])
            outside.add_line([*ring, ring[0]])
            place = None
            for where in (outside, clear, ground):
                place = place or where.place(text, self.size, spots, bold=True)
            if place is None:
                continue
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

    def _north_box(self) -> Box:
        right = self.width - 2.0
        return Box(left=right - 1.2 * self.size, top=0.0, right=right, bottom=2.9 * self.size)

    def _north(self) -> Iterator[svg.Element]:
        box = self._north_box()
        x, tip, base = 0.5 * (box.left + box.right), box.top + 1.0, box.top + 1.7 * self.size
        half = 0.36 * self.size
        notch = base - 0.4 * self.size
        yield polygon([(x, tip), (x + half, base), (x, notch), (x - half, base)],
                      fill=self.ink.paper, stroke=self.ink.text, stroke_width=1.4)  # fmt: skip
        yield polygon([(x, tip), (x + half, base), (x, notch)], fill=self.ink.text)
        yield label((x, base + self.size), words(self.language, "north"), self.size,
                    fill=self.ink.text, anchor="middle", bold=True)  # fmt: skip

    def _scale_bar(self) -> Iterator[svg.Element]:
        per_unit_m = 1.0 / to_display(1.0, "length", self.system)[0]
        room = 0.34 * self.width / self.scale / per_unit_m
        step = nice_step(room, 2)
        step = step if step <= room else step / 2.0
        x0, y = 4.0, self.foot_top + 1.0 * self.size
        x1 = x0 + step * per_unit_m * self.scale
        yield line((x0, y), (x1, y), stroke=self.ink.text, stroke_width=2.2)
        for x in (x0, x1):
            yield line((x, y - 5.0), (x, y + 5.0), stroke=self.ink.text, stroke_width=2.2)
        text = show(step * per_unit_m, "length", self.system, 0)
        yield label((x1 + 8.0, y + 0.34 * self.size), text, self.size, fill=self.ink.text)

    def _entries(self) -> list[tuple[str, str]]:
        entries = []
        if self.spread is not None:
            entries.append(("spread", words(self.language, "spread pass")))
        if self.cover is not None:
            entries.append(("cover", words(self.language, "cover pass")))
        if self.led is not None and self.led.rounds_m:
            entries.append(("headland", words(self.language, "headland")))
        return entries

    def _key_rows(self) -> list[list[tuple[float, str, str]]]:
        rows: list[list[tuple[float, str, str]]] = [[]] if self.entries else []
        x = 4.0
        for kind, text in self.entries:
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
                else:
                    yield line(one, other, stroke=self.ink.soft, stroke_width=1.4,
                               stroke_dasharray=[1.5, 3])  # fmt: skip
                yield label((x + 34.0, base), text, self.size, fill=self.ink.text)


def _around(at: Point, size: float) -> Iterator[tuple[Point, str]]:
    """Places round a point, the nearest first."""
    x, y = at
    for away in (8.0, 14.0, 22.0, 34.0):
        for down in (0.34 * size, size + 4.0, -0.5 * size, 2.0 * size, -1.6 * size):
            yield (x + away + 6.0, y + down), "start"
            yield (x - away, y + down), "end"
        yield (x, y + away + size), "middle"
        yield (x, y - away - 12.0), "middle"
