"""The map of seed on the ground, before and after covering, and of where the tool went.

What is little is light and what is much is dark, on a grey print too; what was lost is hatched.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, assert_never

import numpy as np
import svg
from numpy.typing import NDArray

from duskline.core.checks import check_positive
from duskline.core.density import CellMap, DensityMap, MapFrame
from duskline.core.errors import OutOfRange
from duskline.core.outline import FloatArray, Outline
from duskline.draw.bearings import north_arrow, scale_bar
from duskline.draw.ink import (
    COLOURED,
    INKED,
    Ink,
    document,
    hatch,
    label,
    number,
    polygon,
    prefix,
    rect,
)
from duskline.draw.raster import Pixels, data_address, diverging, png_bytes, rgb_of, sequential
from duskline.draw.strings import Language, words
from duskline.draw.typeface import text_width
from duskline.units import System, to_display

__all__ = ["DensityClass", "Which", "density_classes", "density_picture", "density_png"]

Which = Literal["before", "after", "difference", "worked"]
Point = tuple[float, float]

_TYPE_NARROW, _TYPE_WIDE, _NARROW = 15.0, 17.0, 700.0
_DOSE_EDGES = (0.5, 0.8, 1.2, 1.5)
"""Half the planned rate, as the levers count it; a fifth short, as the strip picture marks it; and
as far over. Of the planned rate. The choice is our judgement."""
_CHANGE_EDGES = (-0.3, -0.1, 0.1, 0.3)
_WORKED_EDGES = (0.5, 1.5)
"""A drawn cell is missed, or twice worked, where half of it or more is."""
_WHOLE_FROM = 10.0
"""Plants are shown whole from here on, in the reader's unit."""
_FINE = 2.0
"""Pixels of the map for one of the drawing: a screen may show two for one, and paper more."""
_MOST_SAMPLES = 4
_BAND_ROWS = 64
_HATCH_EVERY, _HATCH_WIDE = 6.0, 1.5


@dataclass(frozen=True, kw_only=True, slots=True)
class DensityClass:
    """One class of the map: its colour, the lines over it if hatched, and what it stands for.

    Attributes
    ----------
    colour, hatched
        Of the ground, and of the lines over it; None where there are none.
    text
        What it stands for, in the reader's words and units.
    """

    colour: str
    hatched: str | None
    text: str


# ------------------------------------------------------------------------------------ classes


def density_classes(
    density: DensityMap,
    system: System,
    *,
    which: Which,
    plants_per_m2: float | None = None,
    language: Language = "en",
    black_and_white: bool = False,
) -> tuple[str, tuple[DensityClass, ...]]:
    """Return the heading of the map's key and its classes, from little to much.

    Parameters
    ----------
    density
        The map; its shares of ground missed and worked twice stand in the key.
    system
        The reader's units.
    which
        Seed before covering, after it, the difference, or times worked.
    plants_per_m2
        Plants that the planned rate stands for; None for percent of the planned rate.

    Notes
    -----
    Five classes, parted at 50, 80, 120 and 150 percent of the planned rate; a difference at 10
    and 30 percent of it either way.
    """
    if plants_per_m2 is not None:
        check_positive("plants at the planned rate", plants_per_m2)
    if which == "worked":
        return words(language, "times worked"), _worked_classes(density, language, black_and_white)
    edges = _CHANGE_EDGES if which == "difference" else _DOSE_EDGES
    if plants_per_m2 is None:
        heading = words(language, "dose percent")
        numbers = [f"{abs(edge) * 100.0:.0f}" for edge in edges]
    else:
        planned, _ = to_display(plants_per_m2, "stand", system)
        digits = 0 if planned >= _WHOLE_FROM else 1
        heading = words(
            language, "dose plants", unit=words(language, f"plants {system}"),
            planned=f"{planned:.{digits}f}",
        )  # fmt: skip
        numbers = [f"{abs(edge) * planned:.{digits}f}" for edge in edges]
    if which == "difference":
        far, near = numbers[0], numbers[1]
        texts = [
            words(language, "lost over", far=far),
            words(language, "lost", near=near, far=far),
            words(language, "unchanged", near=near),
            words(language, "gained", near=near, far=far),
            words(language, "gained over", far=far),
        ]
        colours = diverging(2, grey=black_and_white)
        paper = (INKED if black_and_white else COLOURED).paper
        lines = [paper, paper, None, None, None]
    else:
        texts = [
            words(language, "dose under", high=numbers[0]),
            *(
                words(language, "dose between", low=low, high=high)
                for low, high in pairwise(numbers)
            ),
            words(language, "dose over", low=numbers[-1]),
        ]
        colours, lines = sequential(5, grey=black_and_white), [None] * 5
    classes = tuple(
        DensityClass(colour=colour, hatched=over, text=text)
        for colour, over, text in zip(colours, lines, texts, strict=True)
    )
    return heading, classes


def _worked_classes(
    density: DensityMap, language: Language, grey: bool
) -> tuple[DensityClass, ...]:
    ink = INKED if grey else COLOURED
    blue = 0.0 if grey else -12.0
    looks: tuple[tuple[str, str | None], ...] = (
        (ink.text, None),
        (rgb_of((88.0, 0.0, 0.5 * blue)), None),
        # Not as dark as missed ground: a sliver of these lines must not pass for a skip.
        (rgb_of((78.0, 0.0, blue)), rgb_of((52.0, 0.0, 2.0 * blue))),
    )
    keys = ("worked missed", "worked once", "worked twice")
    return tuple(
        DensityClass(colour=colour, hatched=over, text=words(language, key, share=_share(share)))
        for key, (colour, over), share in zip(keys, looks, density.state_fraction, strict=True)
    )


def _share(share: float) -> str:
    """Return a share of the ground in percent; a little is never called none."""
    if 0.0 < share < 0.0005:
        return "<0.1%"
    return f"{share:.1%}" if share < 0.1 else f"{share:.0%}"


# ------------------------------------------------------------------------------------ pixels


def _values(density: DensityMap, which: Which) -> tuple[CellMap, MapFrame]:
    """Return the drawn map that is asked for, and where it lies."""
    before, after, worked, frame = density.before, density.after, density.worked, density.frame
    if before is None or after is None or worked is None or frame is None:
        raise OutOfRange("cells of the drawn map", 0, 1)
    match which:
        case "before":
            return before, frame
        case "after":
            return after, frame
        case "difference":
            return after - before, frame
        case "worked":
            return worked, frame
        case _:
            assert_never(which)


def _edges(which: Which) -> tuple[float, ...]:
    if which == "worked":
        return _WORKED_EDGES
    return _CHANGE_EDGES if which == "difference" else _DOSE_EDGES


@dataclass(frozen=True, kw_only=True, slots=True)
class _Window:
    """North-up pixels over the field: their north-west corner, side and count."""

    west_m: float
    north_m: float
    pixel_m: float
    columns: int
    rows: int


def _window(outline: Outline, pixel_m: float) -> _Window:
    low, high = outline.exterior_m.min(axis=0), outline.exterior_m.max(axis=0)
    columns, rows = (max(1, math.ceil(span / pixel_m - 1e-9)) for span in (high - low).tolist())
    return _Window(
        west_m=float(low[0]), north_m=float(high[1]), pixel_m=pixel_m, columns=columns, rows=rows
    )


def _north_up(values: CellMap, frame: MapFrame, window: _Window) -> FloatArray:
    """Return the map turned north up: means of the cells that a pixel covers, NaN off the map.

    A pixel larger than a cell takes several samples, or passes would beat with the pixels and
    show strips that are not there.
    """
    samples = min(_MOST_SAMPLES, max(1, math.ceil(window.pixel_m / frame.cell_m)))
    cos, sin = math.cos(frame.heading_rad), math.sin(frame.heading_rad)
    total = np.zeros((window.rows, window.columns))
    count = np.zeros((window.rows, window.columns), dtype=np.int64)
    parts = (np.arange(samples) + 0.5) / samples
    for down in parts:
        y_m = window.north_m - (np.arange(window.rows) + down) * window.pixel_m
        north_m = (y_m - frame.origin_m[1])[:, None]
        for across in parts:
            x_m = window.west_m + (np.arange(window.columns) + across) * window.pixel_m
            east_m = (x_m - frame.origin_m[0])[None, :]
            column = np.floor((east_m * cos + north_m * sin) / frame.cell_m).astype(np.intp)
            row = np.floor((north_m * cos - east_m * sin) / frame.cell_m).astype(np.intp)
            on = (column >= 0) & (column < values.shape[1]) & (row >= 0) & (row < values.shape[0])
            found = np.where(on, values[row * on, column * on], np.nan)
            known = ~np.isnan(found)
            total += np.where(known, found, 0.0)
            count += known
    means: FloatArray = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return means


def _inside(outline: Outline, window: _Window) -> NDArray[np.bool_]:
    """Return which pixels' middles lie in the field and in none of its holes."""
    inside = np.zeros((window.rows, window.columns + 1), dtype=np.int64)
    y_m = window.north_m - (np.arange(window.rows) + 0.5) * window.pixel_m
    for ring_m in (outline.exterior_m, *outline.holes_m):
        for one, other in zip(ring_m, np.roll(ring_m, -1, axis=0), strict=True):
            crossed = np.flatnonzero((one[1] <= y_m) != (other[1] <= y_m))
            share = (y_m[crossed] - one[1]) / (other[1] - one[1])
            x_m = one[0] + share * (other[0] - one[0])
            # From the first pixel whose middle lies east of the side on, in is out and out is in.
            first = np.ceil((x_m - window.west_m) / window.pixel_m - 0.5).astype(np.intp)
            np.add.at(inside, (crossed, np.clip(first, 0, window.columns)), 1)
    odd: NDArray[np.bool_] = np.cumsum(inside, axis=1)[:, :-1] % 2 == 1
    return odd


def _pixels(
    density: DensityMap,
    outline: Outline,
    window: _Window,
    classes: tuple[DensityClass, ...],
    *,
    which: Which,
    fine: float,
) -> Pixels:
    """Return the map as coloured pixels, see-through where there is no ground, (rows, cols, 4)."""
    values, frame = _values(density, which)
    pixels = np.zeros((window.rows, window.columns, 4), dtype=np.uint8)
    every, lined = max(3, round(_HATCH_EVERY * fine)), max(1, round(_HATCH_WIDE * fine))
    # A band at a time, so that a large field on a large screen takes no memory to speak of.
    for first in range(0, window.rows, _BAND_ROWS):
        band = replace(
            window,
            north_m=window.north_m - first * window.pixel_m,
            rows=min(_BAND_ROWS, window.rows - first),
        )
        means = _north_up(values, frame, band)
        ground = _inside(outline, band) & ~np.isnan(means)
        group = np.digitize(means, _edges(which))
        rows, columns = np.arange(first, first + band.rows), np.arange(band.columns)
        over = (rows[:, None] + columns[None, :]) % every < lined
        part = pixels[first : first + band.rows]
        for index, one in enumerate(classes):
            here = ground & (group == index)
            part[here] = _rgba(one.colour)
            if one.hatched is not None:
                part[here & over] = _rgba(one.hatched)
    return pixels


def _rgba(colour: str) -> tuple[int, int, int, int]:
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return red, green, blue, 255


def density_png(
    density: DensityMap,
    outline: Outline,
    *,
    which: Which,
    width: int,
    height: int,
    black_and_white: bool = False,
) -> bytes:
    """Return the map alone as the bytes of a PNG file, north up, see-through outside the field.

    Parameters
    ----------
    density, outline
        The map, and its field in the same plane.
    which
        Seed before covering, after it, the difference, or times worked.
    width, height
        Pixels it must fit into; the field fills one of them.

    Raises
    ------
    OutOfRange
        No map was drawn with the density, or a size below one pixel.

    Notes
    -----
    The colours of ``density_picture``; ``density_classes`` says what they stand for. The edge
    of the ground is drawn in ink.
    """
    check_positive("width of the picture", width)
    check_positive("height of the picture", height)
    span_m = outline.exterior_m.max(axis=0) - outline.exterior_m.min(axis=0)
    window = _window(outline, float(max(span_m[0] / width, span_m[1] / height)))
    _, classes = density_classes(density, "metric", which=which, black_and_white=black_and_white)
    pixels = _pixels(density, outline, window, classes, which=which, fine=1.0)
    solid = np.pad(pixels[:, :, 3] > 0, 1)
    around = solid[:-2, 1:-1] & solid[2:, 1:-1] & solid[1:-1, :-2] & solid[1:-1, 2:]
    edge = solid[1:-1, 1:-1] & ~around
    pixels[edge] = _rgba((INKED if black_and_white else COLOURED).text)
    return png_bytes(pixels)


# ------------------------------------------------------------------------------------ drawing


def density_picture(
    density: DensityMap,
    outline: Outline,
    system: System,
    *,
    which: Which,
    name: str,
    width: float,
    height: float,
    plants_per_m2: float | None = None,
    language: Language = "en",
    black_and_white: bool = False,
    text_size: float | None = None,
) -> str:
    """Return the map of seed on a field as SVG text, north up.

    Parameters
    ----------
    density, outline
        The map, and its field in the same plane.
    system
        The reader's units.
    which
        Seed before covering, after it, the difference, or times worked.
    name
        What the field is called.
    width, height
        Size in pixels, or in points on paper.
    plants_per_m2
        Plants that the planned rate stands for; None for percent of the planned rate.

    Raises
    ------
    OutOfRange
        No map was drawn with the density.

    Notes
    -----
    The ground is a picture inside the drawing, two pixels for one of the drawing but none finer
    than half a cell. A pixel shows the mean of the cells under it.
    """
    ink = INKED if black_and_white else COLOURED
    size = text_size or (_TYPE_NARROW if width < _NARROW else _TYPE_WIDE)
    heading, classes = density_classes(
        density, system, which=which, plants_per_m2=plants_per_m2, language=language,
        black_and_white=black_and_white,
    )  # fmt: skip
    drawing = _Density(
        density, outline, system, which, ink, size, width, height, language, heading, classes
    )
    what = words(language, f"density {which}")
    if which == "worked":
        story = ", ".join(one.text for one in classes)
    else:
        below = density.below_fraction(0.5, after=which != "before")
        story = words(language, "density story", share=_share(below))
    return document(
        width=width,
        height=height,
        title=words(language, "density title", name=name, what=what),
        story=story,
        defs=drawing.defs(),
        elements=list(drawing.draw()),
    )


class _Density:
    """The map with its scale."""

    def __init__(
        self,
        density: DensityMap,
        outline: Outline,
        system: System,
        which: Which,
        ink: Ink,
        size: float,
        width: float,
        height: float,
        language: Language,
        heading: str,
        classes: tuple[DensityClass, ...],
    ) -> None:
        self.density, self.outline, self.which, self.system = density, outline, which, system
        self.ink, self.size, self.width, self.language = ink, size, width, language
        self.heading, self.classes = heading, classes
        self.rows = self._key_rows()
        side, head = 4.0, 3.0 * size
        foot = (1.6 + 1.5 + 1.45 * len(self.rows)) * size
        low, high = outline.exterior_m.min(axis=0), outline.exterior_m.max(axis=0)
        span_x, span_y = (high - low).tolist()
        room_x, room_y = width - 2.0 * side, height - foot - head - 6.0
        check_positive("room for the map", min(room_x, room_y))
        self.scale = min(room_x / span_x, room_y / span_y)
        self.west_m, self.north_m = float(low[0]), float(high[1])
        self.left = side + 0.5 * (room_x - span_x * self.scale)
        self.top = head + 0.5 * (room_y - span_y * self.scale)
        self.foot_top = height - foot
        self.name = prefix("density", outline.exterior_m.tolist(), which, width, height, ink.paper)

    def at(self, point_m: FloatArray) -> Point:
        return (
            self.left + (float(point_m[0]) - self.west_m) * self.scale,
            self.top + (self.north_m - float(point_m[1])) * self.scale,
        )

    def defs(self) -> list[svg.Element]:
        return [
            hatch(f"{self.name}-{index}", colour=one.hatched, every=_HATCH_EVERY / math.sqrt(2.0),
                  width=_HATCH_WIDE)
            for index, one in enumerate(self.classes) if one.hatched is not None
        ]  # fmt: skip

    def draw(self) -> Iterator[svg.Element]:
        yield label((4.0, 1.05 * self.size), words(self.language, f"density {self.which}"),
                    self.size, fill=self.ink.text, bold=True)  # fmt: skip
        yield self._ground()
        for ring_m, wide in (
            *((hole_m, 1.4) for hole_m in self.outline.holes_m),
            (self.outline.exterior_m, 2.4),
        ):
            yield polygon([self.at(corner) for corner in ring_m], fill="none",
                          stroke=self.ink.text, stroke_width=wide,
                          stroke_linejoin="round")  # fmt: skip
        yield from north_arrow(
            width=self.width, size=self.size, ink=self.ink, language=self.language
        )
        yield from scale_bar(
            width=self.width, middle=self.foot_top + 0.8 * self.size, scale=self.scale,
            size=self.size, ink=self.ink, system=self.system,
        )  # fmt: skip
        yield from self._key()

    def _ground(self) -> svg.Element:
        _, frame = _values(self.density, self.which)
        pixel_m = max(1.0 / (_FINE * self.scale), 0.5 * frame.cell_m)
        window = _window(self.outline, pixel_m)
        pixels = _pixels(self.density, self.outline, window, self.classes, which=self.which,
                         fine=1.0 / (pixel_m * self.scale))  # fmt: skip
        return svg.Image(
            x=number(self.left),
            y=number(self.top),
            width=number(window.columns * pixel_m * self.scale),
            height=number(window.rows * pixel_m * self.scale),
            href=data_address(png_bytes(pixels)),
        )

    def _key_rows(self) -> list[list[tuple[float, int]]]:
        """Return each row of the key: where a class begins, and which one."""
        rows: list[list[tuple[float, int]]] = [[]]
        x = 4.0
        for index, one in enumerate(self.classes):
            wide = 34.0 + text_width(one.text, self.size)
            if rows[-1] and x + wide > self.width - 2.0:
                rows.append([])
                x = 4.0
            rows[-1].append((x, index))
            x += wide + 14.0
        return rows

    def _key(self) -> Iterator[svg.Element]:
        base = self.foot_top + 2.75 * self.size
        yield label((4.0, base), self.heading, self.size, fill=self.ink.text)
        for row in self.rows:
            base += 1.45 * self.size
            for x, index in row:
                one = self.classes[index]
                box = (x, base - 0.8 * self.size, 28.0, 0.95 * self.size)
                yield rect(*box, fill=one.colour, stroke="none")
                if one.hatched is not None:
                    yield rect(*box, fill=f"url(#{self.name}-{index})", stroke="none")
                yield rect(*box, fill="none", stroke=self.ink.text, stroke_width=0.9)
                yield label((x + 34.0, base), one.text, self.size, fill=self.ink.text)
