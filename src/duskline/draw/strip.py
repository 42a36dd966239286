"""The day strip: area spread and area worked in along the clock, from light to dusk.

Between the two curves lie the open acres; the stop time and the cut-off stand across them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import svg

from duskline.answers.day import DayAnswer
from duskline.core.light import local_midnight_at, seconds_after
from duskline.draw.ink import (
    COLOURED,
    INKED,
    Ink,
    document,
    dots,
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
from duskline.draw.place import Box, Flag, Ground, Placed, flags, text_box
from duskline.draw.strings import Language, because, words
from duskline.draw.typeface import text_width
from duskline.units import System, clock, show, show_span, to_display
from duskline.words.day import date_text, no_later

__all__ = ["day_strip"]

HOUR_S = 3600.0
Point = tuple[float, float]
Span = tuple[float, float]
Told = tuple[datetime, float, float]
"""A moment, and the area spread and covered by then. [m2]"""

_NARROW = 700.0
_TYPE_NARROW, _TYPE_WIDE = 15.0, 17.0
_STILL_SHARE = 0.2
"""Spreading stands still where it does less than this share of its usual pace."""
_SHORT_S = 360.0
"""A pause shorter than this is not drawn."""
_INSTANT_S = 1.0
_SHORTEST_SHOWN_S = 60.0
_SAME_TIME_S = 300.0
"""Two moments this close get one label."""


def day_strip(
    answer: DayAnswer,
    system: System,
    *,
    width: float,
    height: float,
    language: Language = "en",
    black_and_white: bool = False,
    text_size: float | None = None,
    told: Sequence[Told] = (),
    stopped_at: datetime | None = None,
) -> str:
    """Return the day strip as SVG text.

    Parameters
    ----------
    answer
        The day.
    system
        The reader's units; they also choose the 12 or the 24 hour clock.
    width, height
        Size in pixels, or in points on paper.
    language
        Of the words.
    black_and_white
        Ink on white: every state told apart by line style, hatch or word.
    text_size
        Type size; None chooses one for the width.
    told
        What the log says was spread and worked in by when, in order of time.
    stopped_at
        When spreading ended for the day; None while it may go on.

    Notes
    -----
    The spread line is dashed from the last telling on. Where nothing was told of the past, the
    strip joins where the crew started and where it stands with a straight line.
    """
    ink = INKED if black_and_white else COLOURED
    size = text_size or (_TYPE_NARROW if width < _NARROW else _TYPE_WIDE)
    day = _Day.of(answer, system, language, told, stopped_at)
    for named_in_key in (False, True):
        sheet = _Sheet.lay_out(day, ink, width, height, size, named_in_key=named_in_key)
        drawn = sheet.draw()
        if drawn is not None:
            break
    if drawn is None:
        raise ValueError("the strip is too small for its labels")
    hard = words(language, "hard edge" if day.hard else "soft edge")
    return document(
        width=width,
        height=height,
        title=words(language, "strip title"),
        story=words(
            language,
            "strip story" if stopped_at is None else "strip story stopped",
            date=date_text(answer),
            stop=day.at(day.stop_s) if stopped_at is None else day.clock(day.stop_s),
            cutoff=day.at(day.cutoff_s),
            edge=hard,
        ),
        defs=sheet.defs(),
        elements=drawn,
    )


# --------------------------------------------------------------------------- what is drawn


@dataclass(frozen=True, kw_only=True, slots=True)
class _Day:
    """The answer in seconds after midnight and in the reader's unit of area.

    The curves begin where the day began. ``known_s`` is up to when they were told; None for a plan.
    """

    answer: DayAnswer
    system: System
    language: Language
    midnight_at: datetime
    times_s: tuple[float, ...]
    spread: tuple[float, ...]
    covered: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    unit: str
    stop_s: float
    now_s: float | None
    known_s: float | None
    stopped: bool
    cutoff_s: float
    opens_s: float
    hard: bool

    @classmethod
    def of(
        cls,
        answer: DayAnswer,
        system: System,
        language: Language,
        told: Sequence[Told] = (),
        stopped_at: datetime | None = None,
    ) -> _Day:
        midnight_at = local_midnight_at(answer.on, ZoneInfo(answer.time_zone))
        curves, windows = answer.curves, answer.windows
        stop_s = seconds_after(midnight_at, stopped_at or answer.stop_at)
        times_s = [seconds_after(midnight_at, at) for at in curves.at]
        place = next((i for i, s in enumerate(times_s) if s > stop_s), 0)
        if place and stop_s - times_s[place - 1] < _INSTANT_S:
            place = 0

        def shown(values: Sequence[float], *, stops: bool = False) -> tuple[float, ...]:
            """In the reader's unit, with the stop itself among the moments."""
            areas = list(values)
            if place:
                (t0, t1), (v0, v1) = times_s[place - 1 : place + 1], areas[place - 1 : place + 1]
                between = v0 + (v1 - v0) * (stop_s - t0) / (t1 - t0)
                areas.insert(place, areas[-1] if stops else between)
            return tuple(to_display(area, "area", system)[0] for area in areas)

        spread = shown(curves.spread_m2, stops=True)
        covered = shown(curves.covered_m2)
        low, high = shown(curves.covered_low_m2), shown(curves.covered_high_m2)
        if place:
            times_s.insert(place, stop_s)
        cutoff_s = answer.task.covered_by_s
        last = [name for name, s in windows.cover_closes_s.items() if s >= cutoff_s - 1.0]
        now_s = seconds_after(midnight_at, answer.now_at) if answer.now_at else None
        opens_s = min(windows.spread_intervals_s[0][0], *windows.cover_opens_s.values())
        past: list[tuple[float, float, float]] = []
        known_s = now_s
        if now_s is not None:
            opens_s = min(opens_s, now_s)
            past = [
                (
                    seconds_after(midnight_at, at),
                    min(to_display(spread_m2, "area", system)[0], spread[0]),
                    min(to_display(covered_m2, "area", system)[0], covered[0]),
                )
                for at, spread_m2, covered_m2 in told
            ]
            past, opens_s, known_s = _past(past, opens_s=opens_s, now_s=now_s)
        return cls(
            answer=answer,
            system=system,
            language=language,
            midnight_at=midnight_at,
            times_s=(*(one[0] for one in past), *times_s),
            spread=(*(one[1] for one in past), *spread),
            covered=(*(one[2] for one in past), *covered),
            low=(*(one[2] for one in past), *low),
            high=(*(one[2] for one in past), *high),
            unit=to_display(0.0, "area", system)[1],
            stop_s=stop_s,
            now_s=now_s,
            known_s=known_s,
            stopped=stopped_at is not None,
            cutoff_s=cutoff_s,
            opens_s=opens_s,
            hard=any(windows.cover_hard.get(name, False) for name in last),
        )

    @property
    def span_s(self) -> Span:
        """From the full hour before work to half an hour or more after the cut-off."""
        last_s = self.cutoff_s + 0.5 * HOUR_S
        dusk_s = self.answer.windows.dusk_s
        if dusk_s is not None and dusk_s < self.cutoff_s + 1.5 * HOUR_S:
            last_s = max(last_s, dusk_s + 0.2 * HOUR_S)
        return HOUR_S * (self.opens_s // HOUR_S), last_s

    def at(self, moment_s: float) -> str:
        """The clock time of the stop, rounded down to five minutes: earlier is safe."""
        return no_later(self.midnight_at + timedelta(seconds=moment_s), self.system)

    def clock(self, moment_s: float) -> str:
        return clock(self.answer.moment(moment_s), self.system)

    def word(self, key: str, **blanks: object) -> str:
        return words(self.language, key, **blanks)

    def value_at(self, values: Sequence[float], moment_s: float) -> float:
        """A curve at a moment, straight between its points."""
        for (t0, v0), (t1, v1) in pairwise(zip(self.times_s, values, strict=True)):
            if t0 <= moment_s <= t1:
                return v0 + (v1 - v0) * (moment_s - t0) / (t1 - t0)
        return values[0] if moment_s < self.times_s[0] else values[-1]

    @property
    def spans_still(self) -> tuple[list[Span], list[Span]]:
        """The fills and the moves before the stop, where one spreader alone is at work."""
        if len(self.answer.task.spreaders) != 1:
            return [], []
        moves = [
            (self._seconds(one.spread_to), self._seconds(other.spread_from))
            for one, other in pairwise(self.answer.fields)
            if other.move_s > 0.0
        ]
        fills = []
        for span in self._pauses():
            for begin, end in _less(span, [*moves, *self.answer.windows.wind_holes_s]):
                if end - begin >= _SHORT_S:
                    fills.append((begin, end))
        return fills, [move for move in moves if move[1] <= self.stop_s + 60.0]

    def _seconds(self, moment: datetime) -> float:
        return seconds_after(self.midnight_at, moment)

    def _pauses(self) -> Iterator[Span]:
        first_s = self.answer.windows.spread_intervals_s[0][0]
        ahead = [
            one
            for one in zip(self.times_s, self.spread, strict=True)
            if self.now_s is None or one[0] >= self.now_s
        ]
        steps = [(t0, t1, v1 - v0) for (t0, v0), (t1, v1) in pairwise(ahead)]
        usual = max((step for _, _, step in steps), default=0.0)
        begin: float | None = None
        for t0, t1, step in steps:
            still = step < _STILL_SHARE * usual and t1 <= self.stop_s and t0 >= first_s
            if still and begin is None:
                begin = t0
            if not still and begin is not None:
                yield begin, t0
                begin = None
        if begin is not None and self.stop_s - begin > _SHORT_S:
            yield begin, self.stop_s


def _past(
    told: Sequence[tuple[float, float, float]], *, opens_s: float, now_s: float
) -> tuple[list[tuple[float, float, float]], float, float]:
    """Return what was told before now, from when on the day is drawn, and up to when it was told.

    Before the first work told the day stands at what it began with.
    """
    grows = [i for i, one in enumerate(told) if one[1:] != told[0][1:]]
    if not grows:
        first = (told[0][1], told[0][2]) if told else (0.0, 0.0)
        return ([(opens_s, *first)] if opens_s < now_s else []), opens_s, now_s
    begins_s = min(opens_s, told[grows[0] - 1][0])
    points = [(begins_s, *told[0][1:])]
    points += [one for one in told[grows[0] - 1 :] if begins_s < one[0] < now_s - _INSTANT_S]
    last_s = max(t1[0] for t0, t1 in pairwise(told) if t1[1:] != t0[1:])
    return points, begins_s, min(last_s, now_s)


def _less(span: Span, others: Sequence[Span]) -> list[Span]:
    """Return what is left of a span once others are taken out."""
    left = [span]
    for out, back in others:
        left = [
            piece
            for begin, end in left
            for piece in ((begin, min(end, out)), (max(begin, back), end))
            if piece[1] > piece[0]
        ]
    return left


# --------------------------------------------------------------------------- the drawing


@dataclass(frozen=True, kw_only=True, slots=True)
class _Entry:
    """One entry of the key: a swatch and a word."""

    kind: str
    text: str


@dataclass(slots=True)
class _Sheet:
    """The drawing with its scales. Built by ``lay_out``, drawn by ``draw``."""

    day: _Day
    ink: Ink
    size: float
    width: float
    left: float
    right: float
    top: float
    bottom: float
    sky_top: float
    flags: tuple[Placed, ...]
    flag_base: float
    key: list[list[tuple[float, _Entry]]]
    key_top: float
    most: float
    step: float
    named_in_key: bool
    name: str

    # ------------------------------------------------------------------ scales

    @classmethod
    def lay_out(
        cls, day: _Day, ink: Ink, width: float, height: float, size: float, *, named_in_key: bool
    ) -> _Sheet:
        highest = max(*day.spread, *day.high, 1e-6)
        step = nice_step(highest, 4)
        most = highest * 1.06
        left = text_width(_tick(step * (most // step), day.unit), size) + 8.0
        right = width - 2.0
        begin_s, end_s = day.span_s
        wanted = _wanted_flags(
            day, lambda s: left + (s - begin_s) / (end_s - begin_s) * (right - left)
        )
        row = 1.3 * size
        placed = _flown(wanted, size, width, row)
        rows = max(one.row for one in placed) + 1
        flag_base = row * rows - 0.35 * size
        sky_top = row * rows + 2.0
        key = _key_rows(_entries(day, named_in_key=named_in_key), width, size)
        key_top = height - len(key) * 1.45 * size
        return cls(
            day=day,
            ink=ink,
            size=size,
            width=width,
            left=left,
            right=right,
            top=sky_top + 1.1 * size + 4.0,
            bottom=key_top - 1.75 * size,
            sky_top=sky_top,
            flags=placed,
            flag_base=flag_base,
            key=key,
            key_top=key_top,
            most=most,
            step=step,
            named_in_key=named_in_key,
            name=prefix("strip", day.spread, day.covered, day.stop_s, width, height, ink.paper),
        )

    def fill(self, pattern: str) -> str:
        """A pattern of this drawing, as a fill."""
        return f"url(#{self.name}-{pattern})"

    def x(self, moment_s: float) -> float:
        begin_s, end_s = self.day.span_s
        return self.left + (moment_s - begin_s) / (end_s - begin_s) * (self.right - self.left)

    def y(self, area: float) -> float:
        return self.bottom - area / self.most * (self.bottom - self.top)

    def points(
        self, values: Sequence[float], *, from_s: float | None = None, to_s: float | None = None
    ) -> list[Point]:
        """A curve on the drawing, corners on a straight line left out."""
        day = self.day
        begin = day.times_s[0] if from_s is None else max(from_s, day.times_s[0])
        end = day.times_s[-1] if to_s is None else min(to_s, day.times_s[-1])
        inner = [s for s in day.times_s if begin < s < end]
        return _thinned(
            [(self.x(s), self.y(day.value_at(values, s))) for s in (begin, *inner, end)]
        )

    # ------------------------------------------------------------------ the whole

    def draw(self) -> list[svg.Element] | None:
        """The elements from back to front; None where a curve's name finds no place."""
        ground = self._ground()
        names = self._names(ground)
        if names is None:
            return None
        return [
            *self._grid(),
            *self._after_cutoff(),
            *self._areas(),
            *self._curves(),
            *self._pauses(),
            *self._changeover(),
            *self._poles(),
            *self._sky(),
            *self._axis(),
            *names,
            *self._open_mark(ground),
            *self._key(),
        ]

    def defs(self) -> list[svg.Element]:
        ink, (begin_s, end_s) = self.ink, self.day.span_s
        stops = [
            svg.Stop(offset=number((s - begin_s) / (end_s - begin_s)), stop_color=colour)
            for s, colour in _sky_stops(self.day, ink)
        ]
        return [
            svg.LinearGradient(id=f"{self.name}-sky", x1=0, x2=1, elements=list(stops)),
            dots(f"{self.name}-open", colour=ink.spread, every=7.0, radius=0.85),
            hatch(f"{self.name}-closed", colour=ink.soft, every=7.0, width=1.6),
            hatch(f"{self.name}-thin", colour=ink.soft, every=9.0, width=0.8),
            hatch(f"{self.name}-dusk", colour=ink.text, every=5.0, width=0.7),
            hatch(f"{self.name}-dark", colour=ink.text, every=3.0, width=1.1, angle=-45.0),
        ]

    # ------------------------------------------------------------------ parts

    def _grid(self) -> Iterator[svg.Element]:
        value = self.step
        while value < self.most:
            y = self.y(value)
            yield line((self.left, y), (self.right, y), stroke=self.ink.hair, stroke_width=1)
            last = value + self.step >= self.most
            text = _tick(value, self.day.unit if last else "")
            yield label(
                (self.left - 6.0, y + 0.34 * self.size),
                text,
                self.size,
                fill=self.ink.soft,
                anchor="end",
            )
            value += self.step

    def _after_cutoff(self) -> Iterator[svg.Element]:
        """A wall where nothing may lie open after it; a feathered edge where it may give."""
        x, end = self.x(self.day.cutoff_s), self.right
        if self.day.hard:
            yield rect(x, self.top, end - x, self.bottom - self.top, fill=self.fill("closed"))
            yield line((x, self.top), (x, self.bottom), stroke=self.ink.text, stroke_width=5)
            return
        third = (end - x) / 3.0
        for place, strength in enumerate((0.25, 0.55, 0.9)):
            yield rect(
                x + place * third,
                self.top,
                third,
                self.bottom - self.top,
                fill=self.fill("thin"),
                fill_opacity=strength,
            )
        yield line(
            (x, self.top),
            (x, self.bottom),
            stroke=self.ink.text,
            stroke_width=2,
            stroke_dasharray=[3, 5],
        )

    def _areas(self) -> Iterator[svg.Element]:
        ink, day = self.ink, self.day
        spread, covered = self._both()
        yield polygon([*spread, *reversed(covered)], fill=self.fill("open"))
        if ink.cover_tint > 0.0:
            base = [(covered[-1][0], self.bottom), (covered[0][0], self.bottom)]
            yield polygon([*covered, *base], fill=ink.cover, fill_opacity=ink.cover_tint)
        low = self.points(day.low, from_s=day.now_s, to_s=day.cutoff_s)
        high = self.points(day.high, from_s=day.now_s, to_s=day.cutoff_s)
        yield polygon([*high, *reversed(low)], fill=ink.cover, fill_opacity=ink.band_tint)
        for edge in (low, high):
            yield path(edge, fill="none", stroke=ink.cover, stroke_width=1, stroke_dasharray=[1, 3])

    def _both(self) -> tuple[list[Point], list[Point]]:
        """Both curves from the beginning of the day to the cut-off."""
        day = self.day
        spread = self.points(day.spread, to_s=day.cutoff_s)
        covered = self.points(day.covered, to_s=day.cutoff_s)
        return spread, covered

    def _curves(self) -> Iterator[svg.Element]:
        day = self.day
        begin_s, known_s = day.times_s[0], day.known_s
        end_s = max(day.stop_s, begin_s)
        told_s = end_s if known_s is None else min(known_s, end_s)
        if told_s > begin_s:
            yield from self._spread_line(self.points(day.spread, to_s=told_s), dashed=False)
        if told_s < end_s:
            ahead = self.points(day.spread, from_s=told_s, to_s=end_s)
            yield from self._spread_line(ahead, dashed=True)
        stop = (self.x(end_s), self.y(day.value_at(day.spread, end_s)))
        level = [stop, (self.x(day.cutoff_s), stop[1])]
        yield path(
            level, fill="none", stroke=self.ink.spread, stroke_width=1.6, stroke_dasharray=[2, 4]
        )
        covered = self.points(day.covered, to_s=day.cutoff_s)
        yield path(
            covered, fill="none", stroke=self.ink.cover, stroke_width=3.6, stroke_linejoin="round"
        )
        if known_s is not None and known_s > begin_s:
            done = self.points(day.covered, to_s=known_s)
            yield path(done, fill="none", stroke=self.ink.cover, stroke_width=6.5)

    def _spread_line(self, points: Sequence[Point], *, dashed: bool) -> Iterator[svg.Element]:
        """An open line with cross hatching: two rails, and ticks between them."""
        dash: dict[str, Any] = {"stroke_dasharray": [10, 6]} if dashed else {}
        shape: dict[str, Any] = {"fill": "none", "stroke_linejoin": "round"}
        yield path(points, stroke=self.ink.spread, stroke_width=7, **shape, **dash)
        yield path(points, stroke=self.ink.paper, stroke_width=3.6, **shape, **dash)
        if not dashed:
            yield path(
                points,
                stroke=self.ink.spread,
                stroke_width=3.6,
                stroke_dasharray=[1.4, 3.2],
                **shape,
            )

    def _pauses(self) -> Iterator[svg.Element]:
        fills, moves = self._marks()
        for at in fills:
            yield self._hopper(*at)
        for at in moves:
            yield from self._chevrons(*at)
        for begin, end in self.day.answer.windows.wind_holes_s:
            yield rect(
                self.x(begin),
                self.top,
                self.x(end) - self.x(begin),
                self.bottom - self.top,
                fill=self.fill("thin"),
            )

    def _over(self, begin_s: float, end_s: float) -> Point:
        """A place just above the spread line in the middle of a pause."""
        middle = 0.5 * (begin_s + end_s)
        return self.x(middle), self.y(self.day.value_at(self.day.spread, middle)) - 9.0

    def _marks(self) -> tuple[list[Point], list[Point]]:
        """Where fills and moves are marked; not under the stop's own mark."""
        stop_x = self.x(self.day.stop_s)
        fills, moves = (
            [at for at in (self._over(*span) for span in spans) if abs(at[0] - stop_x) > 15.0]
            for spans in self.day.spans_still
        )
        return fills, moves

    def _hopper(self, x: float, y: float) -> svg.Element:
        shape = [(x - 6.5, y - 8.5), (x + 6.5, y - 8.5), (x + 1.8, y), (x - 1.8, y)]
        return polygon(
            shape,
            fill=self.ink.paper,
            stroke=self.ink.text,
            stroke_width=1.7,
            stroke_linejoin="round",
        )

    def _chevrons(self, x: float, y: float) -> Iterator[svg.Element]:
        for away in (-4.0, 2.0):
            yield path(
                [(x + away, y - 8.0), (x + away + 4.0, y - 4.0), (x + away, y)],
                fill="none",
                stroke=self.ink.text,
                stroke_width=1.7,
                stroke_linejoin="round",
            )

    def _changeover(self) -> Iterator[svg.Element]:
        """A bar with end posts on the clock: nobody of that crew spreads or works in."""
        day = self.day
        if not _has_changeover(day):
            return
        begin, end = self.x(day.stop_s), self.x(day.stop_s + day.answer.changeover_s)
        yield from self._bar(begin, end, self.bottom - 7.0)

    def _bar(self, begin: float, end: float, y: float) -> Iterator[svg.Element]:
        yield line((begin, y), (end, y), stroke=self.ink.text, stroke_width=3.2)
        for x in (begin, end):
            yield line((x, y - 5.0), (x, y + 5.0), stroke=self.ink.text, stroke_width=2)

    def _poles(self) -> Iterator[svg.Element]:
        for one in self.flags:
            y = self.flag_base + one.at[1]
            text_top = y - 0.76 * self.size
            if one.anchor == "middle":
                text_top = y + 0.3 * self.size
            x, needed = one.flag.x, one.flag.needed
            end = self.top - (0.0 if needed else 3.0)
            stroke, weight = (self.ink.text, 1.5) if needed else (self.ink.soft, 1)
            yield line((x, text_top), (x, end), stroke=stroke, stroke_width=weight)
            yield label(
                (one.at[0], y),
                one.flag.text,
                self.size,
                fill=self.ink.text,
                anchor=one.anchor,
                bold=one.flag.bold,
            )
        x = self.x(self.day.stop_s)
        yield line((x, self.top), (x, self.bottom), stroke=self.ink.text, stroke_width=2.4)
        yield polygon(
            [(x - 7.0, self.top), (x + 7.0, self.top), (x, self.top + 11.0)], fill=self.ink.text
        )

    def _sky(self) -> Iterator[svg.Element]:
        height, day = 1.1 * self.size, self.day
        yield rect(
            self.left,
            self.sky_top,
            self.right - self.left,
            height,
            fill=self.fill("sky"),
            stroke=self.ink.soft,
            stroke_width=0.6,
        )
        sunset_s, dusk_s, end_s = (
            day.answer.windows.sunset_s,
            day.answer.windows.dusk_s,
            day.span_s[1],
        )
        if sunset_s is None or dusk_s is None or sunset_s >= end_s:
            return
        x0, x1 = self.x(sunset_s), self.x(min(dusk_s, end_s))
        yield rect(x0, self.sky_top, x1 - x0, height, fill=self.fill("dusk"))
        yield rect(x1, self.sky_top, self.right - x1, height, fill=self.fill("dark"))
        base, radius = self.sky_top + height, 0.42 * height
        if x0 - radius > self.left:
            yield svg.Path(
                d=[
                    svg.M(number(x0 - radius), number(base)),
                    svg.Arc(number(radius), number(radius), 0, False, True, number(x0 + radius),
                            number(base)),
                    svg.Z(),
                ],
                fill=self.ink.paper, stroke=self.ink.text, stroke_width=1.2,
            )  # fmt: skip

    def _axis(self) -> Iterator[svg.Element]:
        ink = self.ink
        yield line((self.left, self.bottom), (self.right, self.bottom), stroke=ink.text,
                   stroke_width=1.5)  # fmt: skip
        begin_s, end_s = self.day.span_s
        hours = list(range(round(begin_s / HOUR_S), int(end_s // HOUR_S) + 1))
        for hour in hours:
            x = self.x(hour * HOUR_S)
            yield line((x, self.bottom), (x, self.bottom + 5.0), stroke=ink.text, stroke_width=1)
        for x, text in self._hour_labels(hours):
            yield label(
                (x, self.bottom + 5.0 + 1.0 * self.size),
                text,
                self.size,
                fill=ink.soft,
                anchor="middle",
            )

    def _hour_labels(self, hours: Sequence[int]) -> list[tuple[float, str]]:
        """As many hours as there is room for: each, every second, every third."""
        for every in (1, 2, 3, 4, 6, 12):
            shown = [hour for hour in hours if hour % every == 0]
            texts = [(self.x(h * HOUR_S), _hour(self.day, h, h == shown[0])) for h in shown]
            edges = [
                (x - 0.5 * text_width(t, self.size), x + 0.5 * text_width(t, self.size))
                for x, t in texts
            ]
            apart = all(b[0] - a[1] >= 6.0 for a, b in pairwise(edges))
            if apart:
                return [
                    one
                    for one, (begin, end) in zip(texts, edges, strict=True)
                    if begin >= 0.0 and end <= self.width
                ]
        return []

    # ------------------------------------------------------------------ labels in the plot

    def _ground(self) -> Ground:
        """Where words may stand: not on a curve, a pole, a mark, nor past the cut-off."""
        day = self.day
        ground = Ground(
            bounds=Box(left=self.left + 2.0, top=self.top + 2.0, right=self.x(day.cutoff_s) - 4.0,
                       bottom=self.bottom - 3.0)
        )  # fmt: skip
        spread, covered = self._both()
        for curve in (spread, covered):
            for away in (-4.0, 4.0):
                ground.add_line([(x, y + away) for x, y in curve])
            ground.add_line(curve)
        stop_x = self.x(day.stop_s)
        ground.lines.append(((stop_x, self.top), (stop_x, self.bottom)))
        ground.boxes.append(
            Box(left=stop_x - 8.0, top=self.top, right=stop_x + 8.0, bottom=self.top + 12.0)
        )
        for x, y in (at for marks in self._marks() for at in marks):
            ground.boxes.append(Box(left=x - 8.0, top=y - 11.0, right=x + 8.0, bottom=y + 3.0))
        if _has_changeover(day):
            end = self.x(day.stop_s + day.answer.changeover_s)
            ground.boxes.append(
                Box(left=stop_x, top=self.bottom - 14.0, right=end + 2.0, bottom=self.bottom)
            )
        if day.now_s is not None:
            x = self.x(day.now_s)
            ground.lines.append(((x, self.top), (x, self.bottom)))
        return ground

    def _names(self, ground: Ground) -> list[svg.Element] | None:
        """The curves' names beside them, off the band's edges too where there is room."""
        if self.named_in_key:
            return []
        spread, covered = self._both()
        day = self.day
        clear = Ground(bounds=ground.bounds, boxes=ground.boxes, lines=list(ground.lines))
        for edge in (day.low, day.high):
            clear.add_line(self.points(edge, to_s=day.cutoff_s))
        found = []
        for key, curve, above, fill in (
            ("spread", spread, True, self.ink.text),
            ("worked in", covered, False, self.ink.cover),
        ):
            text, places = day.word(key), list(self._along(curve, above=above))
            place = clear.place(text, self.size, places, bold=True)
            place = place or ground.place(text, self.size, places, bold=True)
            if place is None:
                return None
            found.append(label(place[0], text, self.size, fill=fill, anchor=place[1], bold=True))
        return list(found)

    def _along(self, curve: Sequence[Point], *, above: bool) -> Iterator[tuple[Point, str]]:
        """Places beside a rising curve: over it to the left, or under it to the right."""
        shares = (0.55, 0.62, 0.48, 0.7, 0.4, 0.78, 0.32, 0.86, 0.25)
        end = self.x(self.day.stop_s) if above else curve[-1][0]
        start = curve[0][0]
        for away in (8.0, 14.0, 22.0, 34.0, 48.0):
            for share in shares:
                x = start + share * (end - start)
                y = _height(curve, x)
                if above:
                    yield (x - away, y - 6.0), "end"
                    yield (x - away, y + 0.5 * self.size), "end"
                else:
                    yield (x + away, y + 0.9 * self.size + away), "start"

    def _open_mark(self, ground: Ground) -> Iterator[svg.Element]:
        """A bracket between the curves: how much lies open now, or when spreading stops."""
        day = self.day
        moment = day.stop_s if day.now_s is None else day.now_s
        spread, covered = (day.value_at(v, moment) for v in (day.spread, day.covered))
        open_area = spread - covered
        x, high, low = self.x(moment), self.y(spread), self.y(covered)
        if day.now_s is not None:
            yield line((x, self.top), (x, high), stroke=self.ink.text, stroke_width=1,
                       stroke_dasharray=[2, 3])  # fmt: skip
            yield line((x, high), (x, low), stroke=self.ink.text, stroke_width=2.4)
        if low - high < 6.0:
            return
        for y in (high, low):
            yield line((x - 5.0, y), (x + 5.0, y), stroke=self.ink.text, stroke_width=2)
        area = show(open_area * _unit_m2(self.day.system), "area", day.system,
                    0 if day.system == "us" else 1)  # fmt: skip
        text = day.word("open", area=area)
        middle = 0.5 * (high + low) + 0.3 * self.size
        tried = [
            ((x + away, middle + up), anchor)
            for up in (0.0, 0.7 * self.size, -0.7 * self.size, 1.4 * self.size)
            for away, anchor in ((8.0, "start"), (-8.0, "end"))
        ]
        # Where the gap is too narrow for words they stand under or over it.
        for away in (8.0, 18.0, 30.0, 45.0, 60.0, 80.0):
            under, over = low + away + 0.9 * self.size, high - away
            tried += [((x + away, under), "start"), ((x - away, over), "end")]
            tried += [((x - 8.0, under + 12.0), "end")]
        place = ground.place(text, self.size, tried, bold=True)
        if place is None:
            return
        box = text_box(place[0], text, self.size, anchor=place[1], bold=True).grown(2.0)
        yield rect(
            box.left,
            box.top,
            box.right - box.left,
            box.bottom - box.top,
            fill=self.ink.paper,
            fill_opacity=0.9,
        )
        yield label(place[0], text, self.size, fill=self.ink.text, anchor=place[1], bold=True)

    # ------------------------------------------------------------------ the key

    def _key(self) -> Iterator[svg.Element]:
        for row, entries in enumerate(self.key):
            base = self.key_top + (row + 1.0) * 1.45 * self.size - 0.3 * self.size
            for x, entry in entries:
                yield from self._swatch(entry.kind, x, base)
                yield label((x + _SWATCH + 5.0, base), entry.text, self.size, fill=self.ink.text)

    def _swatch(self, kind: str, x: float, base: float) -> Iterator[svg.Element]:
        ink, middle = self.ink, base - 0.3 * self.size
        box = (x, base - 0.78 * self.size, _SWATCH, self.size)
        if kind == "open":
            yield rect(*box, fill=self.fill("open"), stroke=ink.soft, stroke_width=0.6)
        elif kind == "band":
            yield rect(*box, fill=ink.cover, fill_opacity=ink.band_tint)
            for y in (box[1], box[1] + box[3]):
                yield line((x, y), (x + _SWATCH, y), stroke=ink.cover, stroke_width=1,
                           stroke_dasharray=[1, 3])  # fmt: skip
        elif kind == "spread":
            yield from self._spread_line([(x, middle), (x + _SWATCH, middle)], dashed=False)
        elif kind == "worked in":
            yield line((x, middle), (x + _SWATCH, middle), stroke=ink.cover, stroke_width=3.6)
        elif kind == "fill":
            yield self._hopper(x + 0.5 * _SWATCH, base - 0.02 * self.size)
        elif kind == "move":
            yield from self._chevrons(x + 0.5 * _SWATCH, base - 0.02 * self.size)
        else:
            yield from self._bar(x + 1.0, x + _SWATCH - 1.0, middle)


_SWATCH = 20.0


def _entries(day: _Day, *, named_in_key: bool) -> list[_Entry]:
    fills, moves = day.spans_still
    entries = []
    if named_in_key:
        entries += [_Entry(kind=kind, text=day.word(kind)) for kind in ("spread", "worked in")]
    entries += [
        _Entry(kind="open", text=day.word("key open")),
        _Entry(kind="band", text=day.word("key band")),
    ]
    if fills:
        entries.append(_Entry(kind="fill", text=day.word("fill")))
    if moves:
        entries.append(_Entry(kind="move", text=day.word("move")))
    if _has_changeover(day):
        span = show_span(day.answer.changeover_s)
        entries.append(_Entry(kind="changeover", text=day.word("changeover", span=span)))
    return entries


def _key_rows(
    entries: Sequence[_Entry], width: float, size: float
) -> list[list[tuple[float, _Entry]]]:
    rows: list[list[tuple[float, _Entry]]] = [[]]
    x = 0.0
    for entry in entries:
        wide = _SWATCH + 5.0 + text_width(entry.text, size)
        if rows[-1] and x + wide > width:
            rows.append([])
            x = 0.0
        rows[-1].append((x, entry))
        x += wide + 11.0
    return rows


def _has_changeover(day: _Day) -> bool:
    changeover_s = day.answer.changeover_s
    if changeover_s < _SHORTEST_SHOWN_S:
        return False
    return bool(day.answer.crew.takeovers) and day.stop_s + changeover_s < day.cutoff_s


def _flown(
    wanted: Sequence[Flag], size: float, width: float, row_height: float
) -> tuple[Placed, ...]:
    """Return the flags in as few rows as may be; on a narrow strip none is worth a row."""
    needed = [flag for flag in wanted if flag.needed]
    tries = [(wanted, 1), (needed, 1), (wanted, 2), (needed, 2), (needed, 3), (needed, 4)]
    if width >= _NARROW:
        tries.insert(1, (wanted, 2))
    for some, rows in tries:
        found = flags(some, size=size, left=0.0, right=width, rows=rows, row_height=row_height)
        if found is not None:
            return found
    raise ValueError("the strip is too narrow for its labels")


def _wanted_flags(day: _Day, x: Callable[[float], float]) -> list[Flag]:
    """Stop and cut-off first, then now; what closes spreading and sunset where there is room."""
    answer, windows = day.answer, day.answer.windows
    spread_ends_s = windows.spread_intervals_s[-1][1]
    why_spread = because(day.language, windows.spread_closes_because)
    why_cover = because(day.language, windows.cover_closes_because)
    stop_now = not day.stopped and day.now_s is not None and day.stop_s - day.now_s < _SAME_TIME_S
    at_close = abs(spread_ends_s - day.stop_s) < _SAME_TIME_S
    if day.stopped:
        stop = day.word("stopped", at=day.clock(day.stop_s))
    elif stop_now:
        stop = day.word("stop now")
    elif at_close and why_spread:
        stop = day.word("stop because", at=day.at(day.stop_s), why=why_spread)
    else:
        stop = day.word("stop", at=day.at(day.stop_s))
    wanted = [Flag(x=x(day.stop_s), text=stop, bold=True)]
    until = day.clock(day.cutoff_s)
    key = "ends" if answer.hopeless else "all in"
    text = (
        day.word(f"{key} because", at=until, why=why_cover)
        if why_cover
        else day.word(key, at=until)
    )
    wanted.append(Flag(x=x(day.cutoff_s), text=text))
    if day.now_s is not None and not stop_now:
        wanted.append(Flag(x=x(day.now_s), text=day.word("now", at=day.clock(day.now_s))))
    early = spread_ends_s < day.cutoff_s - _SAME_TIME_S
    if early and not at_close and why_spread and spread_ends_s > day.span_s[0]:
        closes = day.word("closes", at=day.clock(spread_ends_s), why=why_spread)
        wanted.append(Flag(x=x(spread_ends_s), text=closes, needed=False))
    sunset_s = windows.sunset_s
    if sunset_s is not None and sunset_s < day.span_s[1] and not answer.hopeless:
        text = day.word("sunset", at=day.clock(sunset_s))
        wanted.append(Flag(x=x(sunset_s), text=text, needed=False))
    return wanted


def _sky_stops(day: _Day, ink: Ink) -> list[tuple[float, str]]:
    """Light until two hours before sunset, then warm, red, violet and dark."""
    begin_s, end_s = day.span_s
    sunset_s, dusk_s = day.answer.windows.sunset_s, day.answer.windows.dusk_s
    light, warm, red, violet, dark = ink.sky
    if sunset_s is None or dusk_s is None:
        return [(begin_s, light), (end_s, light)]
    twilight_s = dusk_s - sunset_s
    wanted = [
        (begin_s, light),
        (sunset_s - 4.0 * HOUR_S, light),
        (sunset_s - 1.5 * HOUR_S, warm),
        (sunset_s, red),
        (sunset_s + 0.6 * twilight_s, violet),
        (dusk_s + 0.3 * twilight_s, dark),
    ]
    kept = [(s, colour) for s, colour in wanted if begin_s <= s <= end_s]
    return kept or [(begin_s, light)]


def _hour(day: _Day, hour: int, first: bool) -> str:
    if day.system == "metric":
        return f"{hour % 24}:00" if first else f"{hour % 24}"
    twelve = hour % 12 or 12
    if hour % 24 == 12:
        return day.word("noon")
    half = "pm" if hour % 24 >= 12 else "am"
    return f"{twelve} {half}" if first or hour % 24 == 13 else f"{twelve}"


def _tick(value: float, unit: str) -> str:
    text = f"{value:,.0f}" if value == round(value) else f"{value:.1f}"
    return f"{text} {unit}".strip()


def _unit_m2(system: System) -> float:
    return 1.0 / to_display(1.0, "area", system)[0]


def _thinned(points: Sequence[Point]) -> list[Point]:
    """Return a line without the corners that lie on it."""
    kept = [points[0]]
    for here, ahead in pairwise(points[1:]):
        (x0, y0), (x1, y1), (x2, y2) = kept[-1], here, ahead
        if abs((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) > 0.05 * max(x2 - x0, 1e-6):
            kept.append(here)
    if len(points) > 1:
        kept.append(points[-1])
    return kept


def _height(curve: Sequence[Point], x: float) -> float:
    for (x0, y0), (x1, y1) in pairwise(curve):
        if x0 <= x <= x1 and x1 > x0:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return curve[-1][1]
