"""Colours, line styles and the small pieces that every drawing is made of.

Typed elements only. Text is escaped here and nowhere else; numbers are rounded here, so that the
same answer gives the same drawing byte for byte.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import svg

from duskline.draw.typeface import FAMILY

__all__ = [
    "COLOURED",
    "INKED",
    "Ink",
    "Points",
    "contrast",
    "document",
    "dots",
    "hatch",
    "label",
    "line",
    "nice_step",
    "number",
    "path",
    "polygon",
    "prefix",
    "rect",
]

Points = Sequence[tuple[float, float]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Ink:
    """The colours of one drawing; text is only ever ``text``, ``soft`` or ``cover``."""

    paper: str
    text: str
    soft: str
    hair: str
    spread: str
    cover: str
    cover_tint: float
    band_tint: float
    sky: tuple[str, str, str, str, str]


COLOURED = Ink(
    paper="#FBF7EF",
    text="#1E1B18",
    soft="#514A42",
    hair="#D9CFBF",
    spread="#B35C00",
    cover="#1F4E79",
    cover_tint=0.14,
    band_tint=0.24,
    sky=("#E6EEF3", "#F6EBD2", "#E8B98A", "#8A6A86", "#2C3556"),
)
INKED = Ink(
    paper="#FFFFFF",
    text="#000000",
    soft="#000000",
    hair="#BBBBBB",
    spread="#000000",
    cover="#000000",
    cover_tint=0.0,
    band_tint=0.13,
    sky=("#FFFFFF", "#FFFFFF", "#EEEEEE", "#BBBBBB", "#666666"),
)


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, from 1 to 21.

    Source
    ------
    Web Content Accessibility Guidelines 2.2, W3C, 2023: relative luminance and contrast ratio.
    """
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    channels = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def number(value: float) -> float | int:
    """Return a coordinate to a hundredth, whole where it is whole."""
    rounded = round(float(value), 2)
    return int(rounded) if rounded == int(rounded) else rounded


def label(
    at: tuple[float, float],
    text: str,
    size: float,
    *,
    fill: str,
    anchor: str = "start",
    bold: bool = False,
) -> svg.Text:
    """Return a line of text whose baseline starts, is centred or ends at a point."""
    return svg.Text(
        x=number(at[0]),
        y=number(at[1]),
        text=svg.escape(text),
        font_family=f"{FAMILY}, sans-serif",
        font_size=number(size),
        font_weight="bold" if bold else None,
        text_anchor=None if anchor == "start" else anchor,  # type: ignore[arg-type]
        fill=fill,
    )


def line(one: tuple[float, float], other: tuple[float, float], **style: Any) -> svg.Line:
    """Return a straight line; style as the element's own attributes."""
    return svg.Line(
        x1=number(one[0]), y1=number(one[1]), x2=number(other[0]), y2=number(other[1]), **style
    )


def rect(left: float, top: float, width: float, height: float, **style: Any) -> svg.Rect:
    """Return a rectangle."""
    return svg.Rect(
        x=number(left), y=number(top), width=number(width), height=number(height), **style
    )


def path(points: Points, *, closed: bool = False, **style: Any) -> svg.Path:
    """Return a line through points, open unless asked otherwise."""
    commands: list[svg.PathData] = [svg.M(number(points[0][0]), number(points[0][1]))]
    commands += [svg.L(number(x), number(y)) for x, y in points[1:]]
    if closed:
        commands.append(svg.Z())
    return svg.Path(d=commands, **style)


def polygon(points: Points, **style: Any) -> svg.Path:
    """Return a closed shape."""
    return path(points, closed=True, **style)


def hatch(
    name: str, *, colour: str, every: float, width: float, angle: float = 45.0
) -> svg.Pattern:
    """Return a pattern of parallel lines: ``fill="url(#name)"``."""
    return svg.Pattern(
        id=name,
        width=number(every),
        height=number(every),
        patternUnits="userSpaceOnUse",
        patternTransform=[svg.Rotate(number(angle))],
        elements=[line((0, 0), (0, every), stroke=colour, stroke_width=number(width))],
    )


def dots(name: str, *, colour: str, every: float, radius: float) -> svg.Pattern:
    """Return a light stipple: two dots a tile."""
    return svg.Pattern(
        id=name,
        width=number(every),
        height=number(every),
        patternUnits="userSpaceOnUse",
        elements=[
            svg.Circle(
                cx=number(every * share), cy=number(every * share), r=number(radius), fill=colour
            )
            for share in (0.25, 0.75)
        ],
    )


def document(
    *,
    width: float,
    height: float,
    title: str,
    story: str,
    elements: Iterable[svg.Element],
    defs: Sequence[svg.Element] = (),
) -> str:
    """Return the whole drawing as text, with a title and a description for those who listen."""
    inside: list[svg.Element] = [
        svg.Title(text=svg.escape(title)),
        svg.Desc(text=svg.escape(story)),
    ]
    if defs:
        inside.append(svg.Defs(elements=list(defs)))
    return svg.SVG(
        width=number(width),
        height=number(height),
        viewBox=svg.ViewBoxSpec(0, 0, number(width), number(height)),
        # The widths that labels were placed by are those of plain figures.
        extra={"role": "img", "font-variant": "normal"},
        elements=[*inside, *elements],
    ).as_str()


def prefix(kind: str, *facts: object) -> str:
    """Return a name for a drawing's own patterns, so that two drawings on a page never share one.

    The same facts give the same name.
    """
    return f"{kind}-{zlib.crc32(repr(facts).encode()):08x}"


def nice_step(span: float, most: int) -> float:
    """Return the step of 1, 2 or 5 times ten to a power that parts a span in at most so many."""
    power = 10.0 ** math.floor(math.log10(span / most))
    return next(power * f for f in (1.0, 2.0, 5.0, 10.0, 20.0) if power * f * most >= span)
