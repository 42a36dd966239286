"""The strip picture of a tray test, and evenness by driving width.

What falls across two passes at one driving width: as dots on the ground and as bars.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from typing import Any

import svg

from duskline.answers.trays import TrayAnswer
from duskline.core.trays import Fold, TrayTest, Way, fold, mean_pattern
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
    rect,
)
from duskline.draw.place import Box, Ground
from duskline.draw.strings import Language, words
from duskline.draw.typeface import text_width
from duskline.units import System, show, to_display

__all__ = ["evenness_chart", "tray_strip"]

Point = tuple[float, float]
_TYPE_NARROW, _TYPE_WIDE, _NARROW = 15.0, 17.0, 700.0
_THIN_SHARE = 0.8
"""A place with less than this share of the mean is marked thin (a fifth short: our judgement)."""
_DOT_APART = 5.0


def tray_strip(
    test: TrayTest,
    system: System,
    *,
    driving_width_m: float,
    width: float,
    height: float,
    way: Way = Way.BACK_AND_FORTH,
    language: Language = "en",
    black_and_white: bool = False,
    text_size: float | None = None,
) -> str:
    """Return the strip picture of a tray test at one driving width, as SVG text.

    Parameters
    ----------
    test
        The tray test.
    system
        The reader's units.
    driving_width_m
        Distance between passes. [m]
    width, height
        Size in pixels, or in points on paper.
    way
        Way of driving; the picture shows one whole repeat of it, twice for round and round.

    Notes
    -----
    The upper band is the ground from above: dots as dense as the seed. Below it a bar for each
    tray point, its share of the mean; a triangle marks the thin places.
    """
    ink = INKED if black_and_white else COLOURED
    size = text_size or (_TYPE_NARROW if width < _NARROW else _TYPE_WIDE)
    folded = fold(mean_pattern(test), driving_width_m=driving_width_m, way=way)
    places, shares = _two_passes(folded, driving_width_m, way)
    picture = _Picture(
        ink=ink, size=size, width=width, height=height, places=places, shares=shares,
        across_m=2.0 * driving_width_m, driving_width_m=driving_width_m, language=language,
        system=system,
    )  # fmt: skip
    way_word = words(language, "back and forth" if way is Way.BACK_AND_FORTH else "round and round")
    return document(
        width=width,
        height=height,
        title=words(language, "tray title"),
        story=words(
            language,
            "tray story",
            width=_length(driving_width_m, system),
            way=way_word,
            thin=f"{min(shares):.0%}",
            heavy=f"{max(shares):.0%}",
        ),
        defs=picture.defs(),
        elements=list(picture.draw()),
    )


def _two_passes(folded: Fold, driving_width_m: float, way: Way) -> tuple[list[float], list[float]]:
    """Return places and shares of the mean over two driving widths."""
    places = [float(place) for place in folded.positions_m]
    shares = [float(share) for share in folded.relative_rates]
    if way is Way.ROUND_AND_ROUND:
        places += [place + driving_width_m for place in places]
        shares += shares
    return places, shares


class _Picture:
    """The strip picture with its scales."""

    def __init__(
        self,
        *,
        ink: Ink,
        size: float,
        width: float,
        height: float,
        places: Sequence[float],
        shares: Sequence[float],
        across_m: float,
        driving_width_m: float,
        language: Language,
        system: System,
    ) -> None:
        self.ink, self.size, self.language, self.system = ink, size, language, system
        self.places, self.shares = places, shares
        self.across_m, self.driving_width_m = across_m, driving_width_m
        self.left = text_width("100%", size) + 8.0
        self.right = width - 2.0
        self.ground_top = 1.5 * size
        self.ground_bottom = self.ground_top + max(2.6 * size, 0.22 * height)
        self.bars_top = self.ground_bottom + 1.6 * size
        self.bottom = height - 1.8 * size
        self.most = max(1.25, *shares) * 1.02
        self.name = prefix("trays", tuple(places), tuple(shares), width, height, ink.paper)

    def x(self, place_m: float) -> float:
        return self.left + place_m / self.across_m * (self.right - self.left)

    def y(self, share: float) -> float:
        return self.bottom - share / self.most * (self.bottom - self.bars_top)

    def defs(self) -> list[svg.Element]:
        return [hatch(f"{self.name}-bar", colour=self.ink.spread, every=6.0, width=1.6)]

    def draw(self) -> Iterator[svg.Element]:
        yield from self._ground()
        yield from self._bars()
        yield from self._mean()
        yield from self._paths()

    def _cells(self) -> list[tuple[float, float, float]]:
        """Each point's share and the ground it stands for: half a spacing to either side."""
        half = 0.5 * (self.places[1] - self.places[0]) if len(self.places) > 1 else self.across_m
        cells = []
        for place, share in zip(self.places, self.shares, strict=True):
            begin, end = place - half, place + half
            cells.append((share, max(begin, 0.0), min(end, self.across_m)))
            if begin < -1e-9:
                cells.append((share, self.across_m + begin, self.across_m))
        return sorted(cells, key=lambda cell: cell[1])

    def _ground(self) -> Iterator[svg.Element]:
        """Dots as dense as the seed; the same dots every time."""
        ink, top, bottom = self.ink, self.ground_top, self.ground_bottom
        yield rect(
            self.left,
            top,
            self.right - self.left,
            bottom - top,
            fill="none",
            stroke=ink.soft,
            stroke_width=0.8,
        )
        cells, heaviest = self._cells(), max(self.shares)
        chance = random.Random(1)  # noqa: S311 - scatters dots, the same ones every time
        columns = round((self.right - self.left) / _DOT_APART)
        rows = round((bottom - top - 5.0) / _DOT_APART)
        for place in range(columns * rows):
            column, row = divmod(place, rows)
            across, down, drawn = (chance.random() for _ in range(3))
            place_m = (column + across) / columns * self.across_m
            share = next((share for share, _, end in cells if place_m <= end), 0.0)
            if drawn * heaviest < share:
                y = top + 2.5 + (row + down) / rows * (bottom - top - 5.0)
                yield svg.Circle(cx=number(self.x(place_m)), cy=number(y), r=1.1, fill=ink.spread)

    def _bars(self) -> Iterator[svg.Element]:
        ink = self.ink
        for share, begin, end in self._cells():
            x0, x1, y = self.x(begin), self.x(end), self.y(share)
            yield rect(
                x0,
                y,
                x1 - x0,
                self.bottom - y,
                fill=f"url(#{self.name}-bar)",
                stroke=ink.spread,
                stroke_width=1,
            )
        yield line((self.left, self.bottom), (self.right, self.bottom), stroke=ink.text,
                   stroke_width=1.5)  # fmt: skip
        for begin, end in self._thin_spans():
            x = self.x(0.5 * (begin + end))
            top = self.ground_bottom + 3.0
            yield polygon([(x - 7.0, top), (x + 7.0, top), (x, top + 11.0)], fill=ink.text)

    def _thin_spans(self) -> list[tuple[float, float]]:
        spans: list[tuple[float, float]] = []
        for share, begin, end in self._cells():
            if share >= _THIN_SHARE:
                continue
            if spans and begin - spans[-1][1] < 1e-6:
                spans[-1] = (spans[-1][0], end)
            else:
                spans.append((begin, end))
        return spans

    def _mean(self) -> Iterator[svg.Element]:
        ink, y = self.ink, self.y(1.0)
        yield line((self.left, y), (self.right, y), stroke=ink.text, stroke_width=2)
        yield label((self.left - 6.0, y + 0.34 * self.size), "100%", self.size, fill=ink.text,
                    anchor="end")  # fmt: skip
        half = self.y(0.5)
        yield line((self.left, half), (self.right, half), stroke=ink.hair, stroke_width=1)
        yield label((self.left - 6.0, half + 0.34 * self.size), "50%", self.size, fill=ink.soft,
                    anchor="end")  # fmt: skip
        spans = self._thin_spans()
        if not spans:
            return
        x = self.x(0.5 * sum(spans[0]))
        text, at = words(self.language, "thin"), self.ground_bottom + 3.0 + 0.76 * self.size
        right = x + 10.0 + text_width(text, self.size) <= self.right
        yield label((x + (10.0 if right else -10.0), at), text, self.size, fill=ink.text,
                    anchor="start" if right else "end")  # fmt: skip

    def _paths(self) -> Iterator[svg.Element]:
        """The driving lines, and the driving width between two of them."""
        ink, base = self.ink, self.bottom + 1.25 * self.size
        step, at = self.driving_width_m, []
        for index in range(3):
            x = self.x(index * step)
            at.append(x)
            yield line((x, self.ground_top - 4.0), (x, self.bottom + 6.0), stroke=ink.text,
                       stroke_width=1.4, stroke_dasharray=[7, 4])  # fmt: skip
        text = _length(step, self.system)
        middle = 0.5 * (at[0] + at[1])
        yield label((middle, base), text, self.size, fill=ink.text, anchor="middle", bold=True)
        half = 0.5 * text_width(text, self.size, bold=True) + 8.0
        y = base - 0.3 * self.size
        for tip, start in ((at[0] + 2.0, middle - half), (at[1] - 2.0, middle + half)):
            back = 7.0 if tip < start else -7.0
            yield line((start, y), (tip, y), stroke=ink.text, stroke_width=1.4)
            yield path([(tip + back, y - 4.0), (tip, y), (tip + back, y + 4.0)], fill="none",
                       stroke=ink.text, stroke_width=1.4)  # fmt: skip
        above = words(self.language, "seen from above")
        yield label((self.left, self.ground_top - 0.5 * self.size), above, self.size,
                    fill=ink.soft)  # fmt: skip
        yield label((at[2] - 4.0, base), words(self.language, "path"), self.size, fill=ink.soft,
                    anchor="end")  # fmt: skip


def evenness_chart(
    answer: TrayAnswer,
    system: System,
    *,
    good_limit_fraction: float,
    usable_limit_fraction: float,
    width: float,
    height: float,
    language: Language = "en",
    black_and_white: bool = False,
    text_size: float | None = None,
) -> str:
    """Return unevenness by driving width with the two limits, as SVG text.

    Parameters
    ----------
    answer
        The tray test's answer.
    good_limit_fraction, usable_limit_fraction
        The limits it was judged by. [fraction]
    width, height
        Size in pixels, or in points on paper.

    Notes
    -----
    Back and forth is a solid line with round marks, round and round a dashed one with squares.
    Widths so uneven that nobody would drive them are cut off at the top.
    """
    ink = INKED if black_and_white else COLOURED
    size = text_size or (_TYPE_NARROW if width < _NARROW else _TYPE_WIDE)
    chart = _Chart(answer, system, ink, size, width, height, usable_limit_fraction, language)
    good_m = answer.good_to_back_and_forth_m
    good = words(language, "nothing good") if good_m is None else _length(good_m, system)
    return document(
        width=width,
        height=height,
        title=words(language, "evenness title"),
        story=words(language, "evenness story", good=good),
        elements=list(chart.draw(good_limit_fraction, usable_limit_fraction)),
    )


class _Chart:
    """Evenness by driving width with its scales."""

    def __init__(
        self,
        answer: TrayAnswer,
        system: System,
        ink: Ink,
        size: float,
        width: float,
        height: float,
        usable: float,
        language: Language,
    ) -> None:
        self.answer, self.system, self.ink, self.size = answer, system, ink, size
        self.language = language
        self.most = 2.2 * usable
        self.left = text_width("30%", size) + 8.0
        self.right = width - 6.0
        self.top = 1.6 * size
        self.bottom = height - 3.1 * size
        widths = [row.driving_width_m for row in answer.widths]
        self.first_m, self.last_m = min(widths), max(widths)

    def x(self, width_m: float) -> float:
        span = max(self.last_m - self.first_m, 1e-9)
        return self.left + 8.0 + (width_m - self.first_m) / span * (self.right - self.left - 16.0)

    def y(self, cv: float) -> float:
        return self.bottom - min(cv, self.most) / self.most * (self.bottom - self.top)

    def draw(self, good: float, usable: float) -> Iterator[svg.Element]:
        ground = Ground(
            bounds=Box(left=self.left, top=self.top - self.size, right=self.right,
                       bottom=self.bottom)
        )  # fmt: skip
        yield from self._axes()
        lines = []
        for way in ("cv_back_and_forth", "cv_round"):
            points = [(self.x(r.driving_width_m), self.y(getattr(r, way)))
                      for r in self.answer.widths]  # fmt: skip
            lines.append(points)
            ground.add_line(points)
        if self.answer.good_to_back_and_forth_m is not None:
            pole = self.x(self.answer.good_to_back_and_forth_m)
            ground.add_line([(pole, self.top), (pole, self.bottom)])
        for limit in (good, usable):
            ground.add_line([(self.left, self.y(limit)), (self.right, self.y(limit))])
        yield from self._limit(ground, good, "good", 2.2)
        yield from self._limit(ground, usable, "usable", 1.2)
        yield from self._line(lines[1], dashed=True)
        yield from self._line(lines[0], dashed=False)
        yield from self._answer_mark()
        yield from self._key()

    def _axes(self) -> Iterator[svg.Element]:
        ink = self.ink
        yield line((self.left, self.bottom), (self.right, self.bottom), stroke=ink.text,
                   stroke_width=1.5)  # fmt: skip
        yield label((0.0, self.top - 0.55 * self.size), words(self.language, "uneven"), self.size,
                    fill=ink.soft)  # fmt: skip
        percent, step = 10, 10
        while percent / 100.0 <= self.most:
            y = self.y(percent / 100.0)
            yield line((self.left, y), (self.right, y), stroke=ink.hair, stroke_width=1)
            yield label((self.left - 6.0, y + 0.34 * self.size), f"{percent}%", self.size,
                        fill=ink.soft, anchor="end")  # fmt: skip
            percent += step
        first, unit = to_display(self.first_m, "length", self.system)
        last, _ = to_display(self.last_m, "length", self.system)
        step_shown = nice_step(last - first + 1e-9, 6)
        per_unit_m = self.first_m / first
        value = step_shown * -(-first // step_shown)
        while value <= last + 1e-9:
            x = self.x(value * per_unit_m)
            text = f"{value:g} {unit}" if value + step_shown > last else f"{value:g}"
            x_text = min(x, self.right - 0.5 * text_width(text, self.size))
            yield line((x, self.bottom), (x, self.bottom + 5.0), stroke=ink.text, stroke_width=1)
            yield label((x_text, self.bottom + 5.0 + self.size), text, self.size, fill=ink.soft,
                        anchor="middle")  # fmt: skip
            value += step_shown

    def _limit(
        self, ground: Ground, limit: float, key: str, weight: float
    ) -> Iterator[svg.Element]:
        y, text = self.y(limit), words(self.language, key, limit=f"{limit:.0%}")
        yield line((self.left, y), (self.right, y), stroke=self.ink.text, stroke_width=weight)
        wide = text_width(text, self.size)
        starts = [self.left + 6.0 + share * (self.right - self.left - wide - 10.0)
                  for share in (0.0, 1.0, 0.5, 0.25, 0.75, 0.12, 0.37, 0.62, 0.88)]  # fmt: skip
        tried = [((x, y + up), "start")
                 for up in (-0.45 * self.size, 1.05 * self.size) for x in starts]  # fmt: skip
        at, anchor = ground.place(text, self.size, tried) or ((starts[0], tried[0][0][1]), "start")
        yield label(at, text, self.size, fill=self.ink.text, anchor=anchor)

    def _line(self, points: Sequence[Point], *, dashed: bool) -> Iterator[svg.Element]:
        ink = self.ink
        dash: dict[str, Any] = {"stroke_dasharray": [7, 5]} if dashed else {}
        colour = ink.soft if dashed else ink.cover
        yield path(points, fill="none", stroke=colour, stroke_width=2.4, **dash)
        for x, y in points:
            if y <= self.top + 0.01:
                continue
            if dashed:
                yield rect(x - 3.2, y - 3.2, 6.4, 6.4, fill=ink.paper, stroke=colour,
                           stroke_width=1.6)  # fmt: skip
            else:
                yield svg.Circle(cx=number(x), cy=number(y), r=4, fill=colour)

    def _answer_mark(self) -> Iterator[svg.Element]:
        """A pole at the widest width that is good back and forth."""
        good_m = self.answer.good_to_back_and_forth_m
        if good_m is None:
            return
        x, text = self.x(good_m), _length(good_m, self.system)
        yield line((x, self.top - 2.0), (x, self.bottom), stroke=self.ink.text, stroke_width=2)
        half = 0.5 * text_width(text, self.size, bold=True)
        at = min(max(x, self.left + half), self.right - half)
        yield label((at, self.top - 0.55 * self.size), text, self.size, fill=self.ink.text,
                    anchor="middle", bold=True)  # fmt: skip

    def _key(self) -> Iterator[svg.Element]:
        base, x = self.bottom + 2.75 * self.size, self.left
        for key, dashed in (("back and forth", False), ("round and round", True)):
            yield from self._line([(x, base - 0.3 * self.size), (x + 30.0, base - 0.3 * self.size)],
                                  dashed=dashed)  # fmt: skip
            text = words(self.language, key)
            yield label((x + 38.0, base), text, self.size, fill=self.ink.text)
            x += 38.0 + text_width(text, self.size) + 18.0


def _length(length_m: float, system: System) -> str:
    """Return a width, without decimals where it is whole."""
    value, _ = to_display(length_m, "length", system)
    return show(length_m, "length", system, 0 if abs(value - round(value)) < 0.05 else 1)
