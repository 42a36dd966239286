"""North arrow and scale bar: what tells the reader of a map which way and how far."""

from __future__ import annotations

from collections.abc import Iterator

import svg

from duskline.draw.ink import Ink, label, line, nice_step, polygon
from duskline.draw.place import Box
from duskline.draw.strings import Language, words
from duskline.units import System, show, to_display

__all__ = ["north_arrow", "north_box", "scale_bar"]

_LEFT_PX = 4.0
# The longest bar, of the drawing's width.
_LONGEST_SHARE = 0.34
_TICK_PX = 5.0


def north_box(*, width: float, size: float) -> Box:
    """Return the room the north arrow takes in the top right corner of a drawing.

    Parameters
    ----------
    width
        Of the drawing. [px]
    size
        Of its type. [px]
    """
    right = width - 2.0
    return Box(left=right - 1.2 * size, top=0.0, right=right, bottom=2.9 * size)


def north_arrow(
    *, width: float, size: float, ink: Ink, language: Language
) -> Iterator[svg.Element]:
    """Yield an arrow to the top of the drawing with its letter under it.

    Parameters
    ----------
    width, size
        Of the drawing and of its type. [px]
    ink
        Its colours.
    language
        Of the letter.
    """
    box = north_box(width=width, size=size)
    x, tip, base = 0.5 * (box.left + box.right), box.top + 1.0, box.top + 1.7 * size
    half, notch = 0.36 * size, base - 0.4 * size
    yield polygon([(x, tip), (x + half, base), (x, notch), (x - half, base)],
                  fill=ink.paper, stroke=ink.text, stroke_width=1.4)  # fmt: skip
    yield polygon([(x, tip), (x + half, base), (x, notch)], fill=ink.text)
    yield label((x, base + size), words(language, "north"), size,
                fill=ink.text, anchor="middle", bold=True)  # fmt: skip


def scale_bar(
    *, width: float, middle: float, scale: float, size: float, ink: Ink, system: System
) -> Iterator[svg.Element]:
    """Yield a bar of a round length, a third of the drawing at the most, with its figure.

    Parameters
    ----------
    width, size
        Of the drawing and of its type. [px]
    middle
        Height on the drawing at which the bar lies. [px]
    scale
        Of the map. [px/m]
    ink
        Its colours.
    system
        Feet or metres.
    """
    per_unit_m = 1.0 / to_display(1.0, "length", system)[0]
    room = _LONGEST_SHARE * width / scale / per_unit_m
    step = nice_step(room, 2)
    step = step if step <= room else step / 2.0
    end = _LEFT_PX + step * per_unit_m * scale
    yield line((_LEFT_PX, middle), (end, middle), stroke=ink.text, stroke_width=2.2)
    for x in (_LEFT_PX, end):
        yield line((x, middle - _TICK_PX), (x, middle + _TICK_PX), stroke=ink.text,
                   stroke_width=2.2)  # fmt: skip
    text = show(step * per_unit_m, "length", system, 0)
    yield label((end + 8.0, middle + 0.34 * size), text, size, fill=ink.text)
