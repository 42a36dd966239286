"""What covering does to strips: the wide ones of the spreader, and the narrow ones of old rows.

Two curves across three passes, before and after; under them one old row, three times.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import svg

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange
from duskline.core.evenness import FloatArray, Ripples, profile
from duskline.draw.ink import (
    COLOURED,
    INKED,
    Ink,
    Points,
    document,
    hatch,
    label,
    line,
    path,
    polygon,
    prefix,
    rect,
)
from duskline.draw.strings import Language, words
from duskline.draw.typeface import text_width
from duskline.units import System, show, to_display

__all__ = ["OldRows", "bands_picture"]

Point = tuple[float, float]

_TYPE_NARROW, _TYPE_WIDE, _NARROW = 15.0, 17.0, 700.0
_PASSES = 3
_POINTS_COUNT = 240  # of one repeat
_HALF = 0.5
_HARDLY_ANY = 0.05
"""Strips that rise and fall by less than this are not worth a word (our judgement)."""
_STAYS, _GONE = 0.9, 0.1
"""Of the strongest strip's height (our judgement)."""
_WAVES = 3
"""Old rows in each small picture."""
_ROW_HEIGHT = 0.8
"""How high the untouched row is drawn, of its picture: only what is left of it is a figure."""


@dataclass(frozen=True, kw_only=True, slots=True)
class OldRows:
    """Old rows or ridges that seed has gathered in, and what covering leaves of them.

    Attributes
    ----------
    spacing_m
        From row to row. [m]
    kept_along_fraction, kept_across_fraction
        Share of their height that is left when covered along them, and at the angle. [fraction]
    """

    spacing_m: float
    kept_along_fraction: float
    kept_across_fraction: float

    def __post_init__(self) -> None:
        check_positive("row spacing", self.spacing_m)
        check_within("share left along the rows", self.kept_along_fraction, 0.0, 1.0)
        check_within("share left at the angle", self.kept_across_fraction, 0.0, 1.0)


def bands_picture(
    before: Ripples,
    after: Ripples,
    system: System,
    *,
    driving_width_m: float,
    angle_rad: float,
    old_rows: OldRows,
    width: float,
    height: float,
    language: Language = "en",
    black_and_white: bool = False,
    text_size: float | None = None,
) -> str:
    """Return the strips before and after covering as SVG text.

    Parameters
    ----------
    before, after
        Seed across the driving as spread, and as covered at the angle.
    system
        The reader's units.
    driving_width_m
        Distance between passes. [m]
    angle_rad
        Angle between covering and spread passes. [rad]
    old_rows
        Rows along the spread passes, and what is left of them.
    width, height
        Size in pixels, or in points on paper.

    Raises
    ------
    OutOfRange
        Before and after do not repeat over the same ground.

    Notes
    -----
    The mean is "100%". Ground under half of it is hatched. In the lower picture only how much of
    a row is left is a figure: how high a row stood at first is not known.
    """
    check_positive("driving width", driving_width_m)
    if abs(before.repeat_m - after.repeat_m) > 1e-6 * before.repeat_m:
        raise OutOfRange("ground the strips repeat over", after.repeat_m,
                         before.repeat_m, before.repeat_m)  # fmt: skip
    ink = INKED if black_and_white else COLOURED
    size = text_size or (_TYPE_NARROW if width < _NARROW else _TYPE_WIDE)
    drawing = _Bands(
        before, after, system, driving_width_m, angle_rad, old_rows, ink, size, width, height,
        language,
    )  # fmt: skip
    return document(
        width=width,
        height=height,
        title=words(language, "bands title"),
        story=words(
            language,
            "bands story",
            width=_length(driving_width_m, system),
            verdict=words(language, _verdict(before, after)),
            rows=_row_length(old_rows.spacing_m, system),
            along=f"{old_rows.kept_along_fraction:.0%}",
            crossed=f"{old_rows.kept_across_fraction:.0%}",
            angle=_angle_words(angle_rad, language),
        ),
        defs=drawing.defs(),
        elements=list(drawing.draw()),
    )


def _verdict(before: Ripples, after: Ripples) -> str:
    """Return the key of the words for what becomes of the strongest strip."""
    strongest = int(before.amplitude_fraction.argmax())
    height = float(before.amplitude_fraction[strongest])
    if height < _HARDLY_ANY:
        return "bands even"
    kept = float(after.amplitude_fraction[strongest]) / height
    if kept >= _STAYS:
        return "bands stay"
    return "bands gone" if kept < _GONE else "bands eased"


def _angle(angle_rad: float) -> str:
    return f"{math.degrees(angle_rad):.0f}°"


def _angle_words(angle_rad: float, language: Language) -> str:
    if round(math.degrees(angle_rad)) == 0:
        return words(language, "at no angle")
    return words(language, "at angle", angle=_angle(angle_rad))


class _Bands:
    """Both pictures with their scales."""

    def __init__(
        self,
        before: Ripples,
        after: Ripples,
        system: System,
        driving_width_m: float,
        angle_rad: float,
        old_rows: OldRows,
        ink: Ink,
        size: float,
        width: float,
        height: float,
        language: Language,
    ) -> None:
        self.system, self.driving_width_m, self.angle_rad = system, driving_width_m, angle_rad
        self.old_rows, self.ink, self.size, self.language = old_rows, ink, size, language
        self.width, self.verdict = width, _verdict(before, after)
        self.across_m = _PASSES * driving_width_m
        self.places_m, self.before = self._across(before)
        _, self.after = self._across(after)
        # From nothing up: a curve that starts at half would make a mild strip look wild.
        self.most = 1.08 * max(1.25, float(self.before.max()), float(self.after.max()))
        self.left = max(text_width("100%", size), text_width(words(language, "half line"), size))
        self.left += 8.0
        self.right = width - 4.0
        caption, gap = 1.5 * size, 0.7 * size
        foot = 1.8 * size
        rows_top = caption + 2.7 * size
        room = height - 2.0 * caption - foot - rows_top - 2.0 * gap
        check_positive("room for the curves", room)
        self.curve_height = 0.38 * room
        self.row_height = 0.24 * room
        self.tops = (caption, 2.0 * caption + self.curve_height + gap)
        self.rows_top = self.tops[1] + self.curve_height + foot + gap
        self.name = prefix("bands", self.before.tolist(), self.after.tolist(), width, height,
                           ink.paper)  # fmt: skip

    def _across(self, seed: Ripples) -> tuple[FloatArray, FloatArray]:
        """Return places across the passes and the dose there, whole repeats and a part of one."""
        one = profile(seed, points_count=_POINTS_COUNT)
        step_m = seed.repeat_m / _POINTS_COUNT
        places = np.arange(round(self.across_m / step_m) + 1)
        places_m: FloatArray = step_m * places.astype(np.float64)
        doses: FloatArray = np.maximum(one[places % _POINTS_COUNT], 0.0)
        return places_m, doses

    def x(self, place_m: float) -> float:
        return self.left + place_m / self.across_m * (self.right - self.left)

    def y(self, share: float, top: float) -> float:
        return top + self.curve_height * (1.0 - share / self.most)

    def defs(self) -> list[svg.Element]:
        return [hatch(f"{self.name}-thin", colour=self.ink.text, every=5.0, width=1.4, angle=-45.0)]

    def draw(self) -> Iterator[svg.Element]:
        angle = _angle_words(self.angle_rad, self.language)
        captions = (
            words(self.language, "bands before"),
            words(self.language, "bands after", angle=angle),
        )
        looks = ((self.before, self.ink.spread), (self.after, self.ink.cover))
        for top, caption, (curve, colour) in zip(self.tops, captions, looks, strict=True):
            yield label((4.0, top - 0.5 * self.size), caption, self.size, fill=self.ink.text,
                        bold=True)  # fmt: skip
            yield from self._axes(top)
            yield from self._curve(curve, top, colour)
        yield from self._thin_key()
        yield from self._say_verdict(captions[1])
        yield from self._passes()
        yield from self._old_rows()

    # ------------------------------------------------------------------- wide strips

    def _axes(self, top: float) -> Iterator[svg.Element]:
        ink, size = self.ink, self.size
        bottom = top + self.curve_height
        half = words(self.language, "half line")
        for share, text, colour, weight in ((_HALF, half, ink.hair, 1), (1.0, "100%", ink.soft, 1)):
            y = self.y(share, top)
            yield line((self.left, y), (self.right, y), stroke=colour, stroke_width=weight)
            yield label((self.left - 6.0, y + 0.34 * size), text, size, fill=ink.soft,
                        anchor="end")  # fmt: skip
        for number in range(_PASSES + 1):
            x = self.x(number * self.driving_width_m)
            yield line((x, top), (x, bottom + 5.0), stroke=ink.text, stroke_width=1.2,
                       stroke_dasharray=[7, 4])  # fmt: skip
        yield line((self.left, bottom), (self.right, bottom), stroke=ink.text, stroke_width=1.5)

    def _points(self, curve: FloatArray, top: float) -> Points:
        return [
            (self.x(place), self.y(share, top))
            for place, share in zip(self.places_m.tolist(), curve.tolist(), strict=True)
        ]

    def _curve(self, curve: FloatArray, top: float, colour: str) -> Iterator[svg.Element]:
        points = list(self._points(curve, top))
        bottom = top + self.curve_height
        yield polygon([(points[0][0], bottom), *points, (points[-1][0], bottom)], fill=colour,
                      fill_opacity=0.16, stroke="none")  # fmt: skip
        for first, last in self._thin_spans(curve):
            # Where passes are narrow on the drawing a thin place is a point: it still shows.
            left, right = points[first][0] - 0.5, points[last][0] + 0.5
            yield rect(left, self.y(_HALF, top), right - left, bottom - self.y(_HALF, top),
                       fill=f"url(#{self.name}-thin)", stroke="none")  # fmt: skip
        if top != self.tops[0]:
            yield path(self._points(self.before, top), fill="none", stroke=self.ink.soft,
                       stroke_width=1.2, stroke_dasharray=[3, 3])  # fmt: skip
        yield path(points, fill="none", stroke=colour, stroke_width=2.6, stroke_linejoin="round")

    def _thin_spans(self, curve: FloatArray) -> list[tuple[int, int]]:
        """Return first and last point of each place with under half the mean."""
        edges = np.flatnonzero(np.diff(np.concatenate([[0], curve < _HALF, [0]])))
        return [(int(one), int(other) - 1) for one, other in zip(edges[::2], edges[1::2],
                                                                 strict=True)]  # fmt: skip

    def _thin_key(self) -> Iterator[svg.Element]:
        """What the hatch means, beside the first caption, where there is any."""
        if not (np.any(self.before < _HALF) or np.any(self.after < _HALF)):
            return
        text, base = words(self.language, "below half"), self.tops[0] - 0.5 * self.size
        left = self.right - text_width(text, self.size)
        yield label((self.right, base), text, self.size, fill=self.ink.text, anchor="end")
        yield rect(left - 34.0, base - 0.8 * self.size, 28.0, 0.95 * self.size,
                   fill=f"url(#{self.name}-thin)", stroke=self.ink.text,
                   stroke_width=0.9)  # fmt: skip

    def _say_verdict(self, caption: str) -> Iterator[svg.Element]:
        """What becomes of the strips: beside the caption, or under the curves where it is long."""
        text = words(self.language, self.verdict)
        begin = 4.0 + text_width(caption, self.size, bold=True) + 12.0
        if begin + text_width(text, self.size) <= self.right:
            yield label((self.right, self.tops[1] - 0.5 * self.size), text, self.size,
                        fill=self.ink.text, anchor="end")  # fmt: skip
            return
        base = self.tops[1] + self.curve_height + 1.3 * self.size
        yield label((self.right, base), text, self.size, fill=self.ink.text, anchor="end")

    def _passes(self) -> Iterator[svg.Element]:
        """The driving width, from one driving line to the next."""
        text = _length(self.driving_width_m, self.system)
        one, other = self.x(0.0), self.x(self.driving_width_m)
        base = self.tops[1] + self.curve_height + 1.3 * self.size
        middle, y = 0.5 * (one + other), base - 0.3 * self.size
        yield label((middle, base), text, self.size, fill=self.ink.text, anchor="middle", bold=True)
        half = 0.5 * text_width(text, self.size, bold=True) + 6.0
        for tip, start in ((one + 2.0, middle - half), (other - 2.0, middle + half)):
            back = 7.0 if tip < start else -7.0
            yield line((start, y), (tip, y), stroke=self.ink.text, stroke_width=1.4)
            yield path([(tip + back, y - 4.0), (tip, y), (tip + back, y + 4.0)], fill="none",
                       stroke=self.ink.text, stroke_width=1.4)  # fmt: skip

    # ------------------------------------------------------------------- narrow strips

    def _old_rows(self) -> Iterator[svg.Element]:
        """Three small pictures of the same rows: before, covered along them, and at the angle."""
        rows, ink, size = self.old_rows, self.ink, self.size
        yield label(
            (4.0, self.rows_top + size),
            words(self.language, "rows title", rows=_row_length(rows.spacing_m, self.system)),
            size, fill=ink.text, bold=True,
        )  # fmt: skip
        pictures = [
            ("rows before", 1.0, ink.spread),
            ("rows along", rows.kept_along_fraction, ink.cover),
        ]
        if round(math.degrees(self.angle_rad)):
            pictures.append(("rows across", rows.kept_across_fraction, ink.cover))
        gap = 14.0
        wide = (self.right - 4.0 - gap * (len(pictures) - 1)) / len(pictures)
        for index, (key, kept, colour) in enumerate(pictures):
            left = 4.0 + index * (wide + gap)
            yield label((left, self.rows_top + 2.4 * size),
                        words(self.language, key, angle=_angle(self.angle_rad)), size,
                        fill=ink.text)  # fmt: skip
            if index:
                yield label((left, self.rows_top + 3.6 * size),
                            words(self.language, "rows left", share=f"{kept:.0%}"), size,
                            fill=ink.text)  # fmt: skip
            yield from self._waves(left, wide, kept, colour, faint=index > 0)

    def _waves(
        self, left: float, wide: float, kept: float, colour: str, *, faint: bool
    ) -> Iterator[svg.Element]:
        top = self.rows_top + 4.1 * self.size
        bottom = top + self.row_height
        middle, height = 0.5 * (top + bottom), 0.5 * _ROW_HEIGHT * self.row_height
        turns = np.linspace(0.0, 2.0 * math.pi * _WAVES, 40 * _WAVES + 1)
        xs = (left + wide * turns / turns[-1]).tolist()

        def wave(share: float) -> list[Point]:
            ys = (middle - share * height * np.sin(turns)).tolist()
            return list(zip(xs, ys, strict=True))

        points = wave(kept)
        yield polygon([(left, bottom), *points, (left + wide, bottom)], fill=colour,
                      fill_opacity=0.16, stroke="none")  # fmt: skip
        if faint:
            yield path(wave(1.0), fill="none", stroke=self.ink.soft, stroke_width=1.2,
                       stroke_dasharray=[3, 3])  # fmt: skip
        yield path(points, fill="none", stroke=colour, stroke_width=2.6, stroke_linejoin="round")
        yield line((left, bottom), (left + wide, bottom), stroke=self.ink.text, stroke_width=1.5)


def _length(length_m: float, system: System) -> str:
    """Return a driving width, without decimals where it is whole."""
    value, _ = to_display(length_m, "length", system)
    return show(length_m, "length", system, 0 if abs(value - round(value)) < 0.05 else 1)


def _row_length(spacing_m: float, system: System) -> str:
    """Return a row spacing in inches, or in centimetres, which rows are spoken of in."""
    if system == "metric":
        return f"{100.0 * spacing_m:.0f} cm"
    return show(spacing_m, "short length", system, 0)
