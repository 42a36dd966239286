"""The season: a row for each day from light to dark, and the acres against the deadline.

Above (or on the left, where the drawing is wide) the calendar of windows; below it the acres worked
in, as planned and as the weather may have it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise

import svg

from duskline.core.checks import check_within
from duskline.core.errors import OutOfRange
from duskline.draw.ink import (
    COLOURED,
    INKED,
    Ink,
    document,
    hatch,
    label,
    line,
    nice_step,
    path,
    polygon,
    prefix,
    rect,
)
from duskline.draw.place import Box, Ground, text_box
from duskline.draw.strings import Language, words
from duskline.draw.typeface import text_width
from duskline.units import System, show, to_display
from duskline.words.clock import no_later

__all__ = ["AcresFan", "DayRow", "season_picture"]

HOUR_S = 3600.0
Span = tuple[float, float]
Point = tuple[float, float]

_NARROW = 700.0
_TYPE_NARROW, _TYPE_WIDE = 15.0, 17.0
_MOST_DAYS = 62
_SWATCH = 20.0


@dataclass(frozen=True, kw_only=True, slots=True)
class DayRow:
    """One day of the calendar; times by the clock on the wall, in seconds after midnight.

    Attributes
    ----------
    dawn_s, sunset_s, dusk_s
        First light, sunset and the dark. [s]
    spread_s, covered_s
        When seed is spread and when it is worked in, as planned. [s]
    shut_s
        When rain or wet ground closes the day. [s]
    stop_s
        The spreader's stop; None on a day without spreading. [s]
    area_m2
        Sown that day, of all crews. [m2]
    closed
        Why the whole day is closed, in a word ("rain"); "" where it is not.
    off
        Closed because nobody works that day, whatever the weather: a blank row, no hatch.
    """

    on: date
    dawn_s: float
    sunset_s: float
    dusk_s: float
    spread_s: tuple[Span, ...] = ()
    covered_s: tuple[Span, ...] = ()
    shut_s: tuple[Span, ...] = ()
    stop_s: float | None = None
    area_m2: float = 0.0
    closed: str = ""
    off: bool = False

    def __post_init__(self) -> None:
        check_within("area of a day", self.area_m2, 0.0, 1e9)
        check_within("first light", self.dawn_s, 0.0, self.sunset_s)
        check_within("dark", self.dusk_s, self.sunset_s, 36.0 * HOUR_S)
        for begin_s, end_s in (*self.spread_s, *self.covered_s, *self.shut_s):
            check_within("end of a span of work", end_s, begin_s, 48.0 * HOUR_S)


@dataclass(frozen=True, kw_only=True, slots=True)
class AcresFan:
    """Area worked in by the end of each day of the calendar; all of one length. [m2]

    ``low_m2``, ``middle_m2`` and ``high_m2`` are what 10, 50 and 90 seasons in 100 stay below;
    ``start_m2`` is done before the first day.
    """

    plan_m2: tuple[float, ...]
    low_m2: tuple[float, ...]
    middle_m2: tuple[float, ...]
    high_m2: tuple[float, ...]
    total_m2: float
    start_m2: float = 0.0

    def __post_init__(self) -> None:
        check_within("area of the season", self.total_m2, 1.0, 1e12)
        rows = zip(self.plan_m2, self.low_m2, self.middle_m2, self.high_m2, strict=True)
        for plan_m2, low_m2, middle_m2, high_m2 in rows:
            check_within("area of the plan", plan_m2, 0.0, 1e12)
            check_within("area done in 10 seasons of 100", low_m2, 0.0, middle_m2)
            check_within("area done in 90 seasons of 100", high_m2, middle_m2, 1e12)


def season_picture(
    rows: Sequence[DayRow],
    fan: AcresFan | None,
    system: System,
    *,
    width: float,
    deadline: date | None = None,
    language: Language = "en",
    black_and_white: bool = False,
    text_size: float | None = None,
) -> str:
    """Return the season's picture as SVG text; its height follows the number of days.

    Parameters
    ----------
    rows
        A row for each day, dates going up.
    fan
        The acres by the end of each of these days; None leaves the lower part out.
    system
        The reader's units; they also choose the 12 or the 24 hour clock.
    width
        In pixels, or in points on paper.
    deadline
        The last day on which seed may be worked in.
    language
        Of the words.
    black_and_white
        Ink on white: every state told apart by line style, hatch or word.
    text_size
        Type size; None chooses one for the width.

    Raises
    ------
    OutOfRange
        No day, more than 62, dates not going up, or a fan of another length.
    """
    check_within("number of days", len(rows), 1, _MOST_DAYS)
    for one, other in pairwise(rows):
        check_within("days from one row to the next", (other.on - one.on).days, 1, _MOST_DAYS)
    if fan is not None and len(fan.plan_m2) != len(rows):
        raise OutOfRange("days of the acres", len(fan.plan_m2), len(rows), len(rows))
    ink = INKED if black_and_white else COLOURED
    size = text_size or (_TYPE_NARROW if width < _NARROW else _TYPE_WIDE)
    sheet = _Sheet.lay_out(_Season(
        rows=tuple(rows), fan=fan, system=system, deadline=deadline, language=language
    ), ink, width, size)  # fmt: skip
    elements = list(sheet.draw())
    return document(
        width=width,
        height=sheet.height,
        title=words(language, "season title"),
        story=sheet.season.story,
        defs=sheet.defs(),
        elements=elements,
    )


# --------------------------------------------------------------------------- what is drawn


@dataclass(frozen=True, kw_only=True, slots=True)
class _Season:
    rows: tuple[DayRow, ...]
    fan: AcresFan | None
    system: System
    deadline: date | None
    language: Language

    def word(self, key: str, **blanks: object) -> str:
        return words(self.language, key, **blanks)

    def area(self, area_m2: float) -> str:
        """An area to a tenth, with its unit."""
        return show(area_m2, "area", self.system)

    def month_day(self, on: date) -> str:
        return self.word("month day", month=self.word(f"month {on.month}"), day=on.day)

    def weekday(self, on: date) -> str:
        return self.word("weekday day", weekday=self.word(f"weekday {on.weekday()}"), day=on.day)

    def stop(self, moment_s: float) -> str:
        """The spreader's stop, rounded down to five minutes: earlier is safe."""
        at = datetime.combine(date(2000, 1, 1), time()) + timedelta(seconds=moment_s)
        return no_later(at, self.system)

    @property
    def span_s(self) -> Span:
        """From the full hour before the first light or work to a little after the last dark."""
        begins = [s for row in self.rows for s, _ in (*row.spread_s, *row.covered_s)]
        ends = [s for row in self.rows for _, s in (*row.spread_s, *row.covered_s)]
        first = min([row.dawn_s for row in self.rows] + begins)
        last = max([row.dusk_s + 0.3 * HOUR_S for row in self.rows] + ends)
        return HOUR_S * (first // HOUR_S), last

    @property
    def last_on(self) -> date:
        """The last date on the acres: that of the rows, or the deadline."""
        last = self.rows[-1].on
        if self.deadline is None or (self.deadline - self.rows[0].on).days > _MOST_DAYS:
            return last
        return max(last, self.deadline)

    @property
    def story(self) -> str:
        """The picture in sentences, for those who listen."""
        last = self.month_day(self.rows[-1].on)
        parts = []
        if self.fan is not None:
            parts.append(self.word(
                "season fan story", last=last, plan=self.area(self.fan.plan_m2[-1]),
                total=self.area(self.fan.total_m2), low=self.area(self.fan.low_m2[-1]),
                high=self.area(self.fan.high_m2[-1]),
            ))  # fmt: skip
        if self.deadline is not None:
            parts.append(self.word("season deadline story", deadline=self.month_day(self.deadline)))
        return self.word(
            "season story", days=len(self.rows), first=self.month_day(self.rows[0].on), last=last,
            closed=sum(bool(row.closed) for row in self.rows), fan=" ".join(parts),
        ).strip()  # fmt: skip


@dataclass(slots=True)
class _Sheet:
    """The drawing with its scales. Built by ``lay_out``, drawn by ``draw``."""

    season: _Season
    ink: Ink
    size: float
    width: float
    height: float
    band_left: float
    band_right: float
    calendar_right: float
    right_words: float
    row: float
    top: float
    long_words: bool
    key: list[list[tuple[float, str, str]]]
    key_top: float
    fan_left: float
    fan_right: float
    fan_top: float
    fan_bottom: float
    most: float
    step: float
    name: str

    # ------------------------------------------------------------------ scales

    @classmethod
    def lay_out(cls, season: _Season, ink: Ink, width: float, size: float) -> _Sheet:
        beside = width >= _NARROW and season.fan is not None
        calendar_right = 0.56 * width if beside else width - 2.0
        left = max(text_width(season.weekday(row.on), size, bold=True) for row in season.rows) + 8.0
        long_words = width >= _NARROW
        right_words = max(
            (text_width(_row_word(season, row, long_words=long_words), size)
             for row in season.rows if not row.closed),
            default=0.0,
        )  # fmt: skip
        row = 1.75 * size
        top = 0.3 * size
        calendar_bottom = top + row * len(season.rows) + 1.9 * size
        key = _key_rows(season, width, size)
        fan = season.fan
        fan_top = fan_bottom = calendar_bottom
        most = step = 1.0
        fan_left, fan_right = 0.0, width - 2.0
        if fan is not None:
            highest = to_display(max(*fan.plan_m2, *fan.high_m2, fan.total_m2), "area",
                                 season.system)[0]  # fmt: skip
            step = nice_step(highest, 4)
            most = highest * 1.04
            tick = _tick(step * math.floor(most / step), season)
            fan_left = (calendar_right + 28.0 if beside else 0.0) + text_width(tick, size) + 8.0
            fan_top = (top if beside else calendar_bottom + 0.9 * size) + 1.4 * size
            fan_bottom = fan_top + 13.0 * size
            if beside:
                fan_bottom = max(fan_bottom, calendar_bottom - 1.9 * size)
        bottom = max(calendar_bottom, fan_bottom + 1.9 * size if fan is not None else 0.0)
        key_top = bottom + 0.2 * size
        return cls(
            season=season,
            ink=ink,
            size=size,
            width=width,
            height=math.ceil(key_top + len(key) * 1.45 * size + 2.0),
            band_left=left,
            band_right=calendar_right - right_words - 8.0,
            calendar_right=calendar_right,
            right_words=right_words,
            row=row,
            top=top,
            long_words=long_words,
            key=key,
            key_top=key_top,
            fan_left=fan_left,
            fan_right=fan_right,
            fan_top=fan_top,
            fan_bottom=fan_bottom,
            most=most,
            step=step,
            name=prefix("season", season.rows, season.fan, season.deadline, width, ink.paper),
        )

    def fill(self, pattern: str) -> str:
        return f"url(#{self.name}-{pattern})"

    def x(self, moment_s: float) -> float:
        begin_s, end_s = self.season.span_s
        share = min(max((moment_s - begin_s) / (end_s - begin_s), 0.0), 1.0)
        return self.band_left + share * (self.band_right - self.band_left)

    def day_x(self, days: float) -> float:
        """Where so many days after the morning of the first day stand on the acres."""
        count = (self.season.last_on - self.season.rows[0].on).days + 1
        return self.fan_left + days / count * (self.fan_right - self.fan_left)

    def y(self, area_m2: float) -> float:
        area = to_display(area_m2, "area", self.season.system)[0]
        return self.fan_bottom - area / self.most * (self.fan_bottom - self.fan_top)

    # ------------------------------------------------------------------ the whole

    def draw(self) -> Iterator[svg.Element]:
        for place, row in enumerate(self.season.rows):
            yield from self._day(row, self.top + place * self.row)
        yield from self._hours()
        if self.season.fan is not None:
            yield from self._acres(self.season.fan)
        yield from self._key()

    def defs(self) -> list[svg.Element]:
        ink = self.ink
        return [
            *self._skies(),
            hatch(f"{self.name}-shut", colour=ink.text, every=5.0, width=1.2, angle=-45.0),
            hatch(f"{self.name}-spread", colour=ink.spread, every=4.5, width=1.7),
            hatch(f"{self.name}-band", colour=ink.cover, every=6.0, width=0.8),
            hatch(f"{self.name}-dark", colour=ink.text, every=3.0, width=0.9, angle=90.0),
        ]

    # ------------------------------------------------------------------ the calendar

    def _skies(self) -> Iterator[svg.Element]:
        """A sky for each day, as dusk comes earlier through the season."""
        begin_s, end_s = self.season.span_s
        light, warm, red, violet, dark = self.ink.sky
        for place, row in enumerate(self.season.rows):
            twilight_s = row.dusk_s - row.sunset_s
            wanted = [
                (begin_s, dark if begin_s < row.dawn_s else light),
                (row.dawn_s, violet),
                (row.dawn_s + 0.7 * HOUR_S, light),
                (row.sunset_s - 3.0 * HOUR_S, light),
                (row.sunset_s - 1.0 * HOUR_S, warm),
                (row.sunset_s, red),
                (row.sunset_s + 0.6 * twilight_s, violet),
                (row.dusk_s + 0.2 * HOUR_S, dark),
            ]
            stops: list[svg.Element] = [
                svg.Stop(offset=round((s - begin_s) / (end_s - begin_s), 3), stop_color=colour)
                for s, colour in sorted(wanted)
                if begin_s <= s <= end_s
            ]
            yield svg.LinearGradient(id=f"{self.name}-sky{place}", x1=0, x2=1, elements=stops)

    def _day(self, row: DayRow, top: float) -> Iterator[svg.Element]:
        season, ink = self.season, self.ink
        place = round((top - self.top) / self.row)
        high = self.row - 0.42 * self.size
        base = top + 0.5 * high + 0.34 * self.size
        yield label((0.0, base), season.weekday(row.on), self.size, fill=ink.text,
                    bold=row.on == season.deadline)  # fmt: skip
        left, right = self.band_left, self.band_right
        if not row.off:
            yield rect(left, top, right - left, high, fill=self.fill(f"sky{place}"))
            dusk_x = self.x(row.dusk_s)
            yield rect(dusk_x, top, right - dusk_x, high, fill=self.fill("dark"))
        shut = ((season.span_s,) if row.closed and not row.off else ()) or row.shut_s
        for begin, end in self._xs(shut):
            yield rect(begin, top, end - begin, high, fill=ink.paper, fill_opacity=0.75)
            yield rect(begin, top, end - begin, high, fill=self.fill("shut"))
        middle = top + 0.5 * high
        for begin, end in self._xs(row.spread_s):
            yield rect(begin, top + 1.5, end - begin, 0.5 * high - 1.5, fill=ink.paper)
            yield rect(begin, top + 1.5, end - begin, 0.5 * high - 1.5, fill=self.fill("spread"),
                       stroke=ink.spread, stroke_width=1.4)  # fmt: skip
        for begin, end in self._xs(row.covered_s):
            yield rect(begin, middle + 1.5, end - begin, 0.5 * high - 3.0, fill=ink.cover)
        yield rect(left, top, right - left, high, fill="none", stroke=ink.soft, stroke_width=0.6)
        if row.stop_s is not None:
            x = self.x(row.stop_s)
            yield line((x, top - 2.5), (x, top + high + 2.5), stroke=ink.paper, stroke_width=5.5)
            yield line((x, top - 2.5), (x, top + high + 2.5), stroke=ink.text, stroke_width=2.6)
        text = _row_word(season, row, long_words=self.long_words)
        if row.closed and text_width(text, self.size) > self.right_words:
            yield from self._reason(row.closed, top, high, base)
        else:
            yield label((right + 8.0, base), text, self.size,
                        fill=ink.text if row.area_m2 else ink.soft)  # fmt: skip

    def _reason(self, why: str, top: float, high: float, base: float) -> Iterator[svg.Element]:
        """Why a day is closed, on the day itself: longer than the words at the right may be."""
        left, right = self.band_left, self.band_right
        text = _cut(why, self.size, right - left - 16.0)
        wide = text_width(text, self.size) + 12.0
        begin = 0.5 * (left + right - wide)
        yield rect(begin, top + 0.6, wide, high - 1.2, fill=self.ink.paper)
        yield label((begin + 6.0, base), text, self.size, fill=self.ink.soft)

    def _xs(self, spans: Sequence[Span]) -> Iterator[Span]:
        """Spans on the drawing; what lies off it is left out."""
        for begin_s, end_s in spans:
            begin, end = self.x(begin_s), self.x(end_s)
            if end > begin:
                yield begin, end

    def _hours(self) -> Iterator[svg.Element]:
        begin_s, end_s = self.season.span_s
        base = self.top + self.row * len(self.season.rows)
        hours = range(math.ceil(begin_s / HOUR_S), int(end_s // HOUR_S) + 1)
        for every in (2, 3, 4, 6, 12, 24):
            chosen = [(self.x(h * HOUR_S), self._hour(h)) for h in hours if h % every == 0]
            if _apart(chosen, self.size, 0.0, self.calendar_right):
                break
        else:
            chosen = []
        for x, text in chosen:
            yield line((x, base - 0.3 * self.size), (x, base + 0.1 * self.size),
                       stroke=self.ink.text, stroke_width=1)  # fmt: skip
            yield label((x, base + 1.1 * self.size), text, self.size, fill=self.ink.soft,
                        anchor="middle")  # fmt: skip

    def _hour(self, hour: int) -> str:
        if self.season.system == "metric":
            return f"{hour % 24}:00"
        if hour % 24 == 12:
            return self.season.word("noon")
        return f"{hour % 12 or 12} {'pm' if hour % 24 >= 12 else 'am'}"

    # ------------------------------------------------------------------ the acres

    def _acres(self, fan: AcresFan) -> Iterator[svg.Element]:
        ink, season = self.ink, self.season
        days = [0, *((row.on - season.rows[0].on).days + 1 for row in season.rows)]
        xs = [self.day_x(day) for day in days]

        def curve(values: Sequence[float]) -> list[Point]:
            return [(x, self.y(v)) for x, v in zip(xs, (fan.start_m2, *values), strict=True)]

        low, middle, high = (curve(v) for v in (fan.low_m2, fan.middle_m2, fan.high_m2))
        plan = curve(fan.plan_m2)
        yield from self._grid()
        yield polygon([*low, *reversed(high)], fill=ink.cover, fill_opacity=ink.band_tint)
        yield polygon([*low, *reversed(high)], fill=self.fill("band"))
        for edge in (low, high):
            yield path(edge, fill="none", stroke=ink.cover, stroke_width=1,
                       stroke_dasharray=[1, 3])  # fmt: skip
        yield path(middle, fill="none", stroke=ink.cover, stroke_width=2.2,
                   stroke_dasharray=[7, 4])  # fmt: skip
        yield path(plan, fill="none", stroke=ink.paper, stroke_width=5.6)
        yield path(plan, fill="none", stroke=ink.text, stroke_width=3)
        total_y = self.y(fan.total_m2)
        yield line((self.fan_left, total_y), (self.fan_right, total_y), stroke=ink.text,
                   stroke_width=1.5)  # fmt: skip
        yield line((self.fan_left, self.fan_bottom), (self.fan_right, self.fan_bottom),
                   stroke=ink.text, stroke_width=1.5)  # fmt: skip
        yield from self._dates()
        ground = Ground(
            bounds=Box(
                left=self.fan_left,
                top=self.fan_top - 1.5 * self.size,
                right=self.width,
                bottom=self.fan_bottom,
            )
        )
        ground.add_line([low[-1], high[-1]])
        for points in (low, middle, high, plan, [(self.fan_left, total_y),
                                                 (self.fan_right, total_y)]):  # fmt: skip
            ground.add_line(points)
        yield from self._deadline(ground)
        yield from self._name_total(ground, fan, total_y)

    def _grid(self) -> Iterator[svg.Element]:
        value = self.step
        while value <= self.most:
            y = self.fan_bottom - value / self.most * (self.fan_bottom - self.fan_top)
            yield line((self.fan_left, y), (self.fan_right, y), stroke=self.ink.hair,
                       stroke_width=1)  # fmt: skip
            last = value + self.step > self.most
            text = _tick(value, self.season) if last else f"{value:,.10g}"
            yield label((self.fan_left - 6.0, y + 0.34 * self.size), text, self.size,
                        fill=self.ink.soft, anchor="end")  # fmt: skip
            value += self.step

    def _dates(self) -> Iterator[svg.Element]:
        first = self.season.rows[0].on
        count = (self.season.last_on - first).days + 1
        for day in range(count + 1):
            x = self.day_x(day)
            yield line((x, self.fan_bottom), (x, self.fan_bottom + 5.0), stroke=self.ink.text,
                       stroke_width=1)  # fmt: skip
        for every in (1, 2, 3, 7, 14, 28, 56):
            chosen = []
            for day in range(0, count, every):
                on = first + timedelta(days=day)
                named = day == 0 or on.day <= every
                text = self.season.month_day(on) if named else str(on.day)
                chosen.append((self.day_x(day + 0.5), text))
            # Under the axis the first date may reach left, where no tick's figure stands.
            if _apart(chosen, self.size, max(self.fan_left - 40.0, 0.0), self.width):
                break
        else:
            chosen = []
        for x, text in chosen:
            yield label((x, self.fan_bottom + 5.0 + self.size), text, self.size,
                        fill=self.ink.soft, anchor="middle")  # fmt: skip

    def _deadline(self, ground: Ground) -> Iterator[svg.Element]:
        deadline = self.season.deadline
        if deadline is None or deadline > self.season.last_on:
            return
        # Seed may be worked in until the evening of the day itself.
        days = max((deadline - self.season.rows[0].on).days + 1, 0)
        x = min(self.day_x(days), self.fan_right - 2.0)
        top = self.fan_top - 1.3 * self.size
        text = self.season.word("season deadline", on=self.season.month_day(deadline))
        base = self.fan_top - 0.4 * self.size
        anchor, at = ("end", x - 6.0)
        if at - text_width(text, self.size, bold=True) < self.fan_left:
            anchor, at = "start", x + 6.0
        yield line((x, top), (x, self.fan_bottom), stroke=self.ink.text, stroke_width=4)
        ground.lines.append(((x, top), (x, self.fan_bottom)))
        ground.boxes.append(text_box((at, base), text, self.size, anchor=anchor, bold=True))
        yield label((at, base), text, self.size, fill=self.ink.text, anchor=anchor, bold=True)

    def _name_total(self, ground: Ground, fan: AcresFan, total_y: float) -> Iterator[svg.Element]:
        text = self.season.word("season all", area=self.season.area(fan.total_m2))
        base = total_y + 1.1 * self.size
        above = total_y - 0.35 * self.size
        wanted = [((self.fan_left + 6.0, y), "start") for y in (base, above)]
        wanted += [((self.fan_right - 6.0, y), "end") for y in (base, above)]
        found = ground.place(text, self.size, wanted)
        if found is not None:
            at, anchor = found
            yield label(at, text, self.size, fill=self.ink.text, anchor=anchor)

    # ------------------------------------------------------------------ the key

    def _key(self) -> Iterator[svg.Element]:
        for place, entries in enumerate(self.key):
            base = self.key_top + (place + 1.0) * 1.45 * self.size - 0.3 * self.size
            for x, kind, text in entries:
                yield from self._swatch(kind, x, base)
                yield label((x + _SWATCH + 5.0, base), text, self.size, fill=self.ink.text)

    def _swatch(self, kind: str, x: float, base: float) -> Iterator[svg.Element]:
        ink, middle, end = self.ink, base - 0.3 * self.size, x + _SWATCH
        box = (x, base - 0.78 * self.size, _SWATCH, self.size)
        if kind == "shut":
            yield rect(*box, fill=self.fill("shut"), stroke=ink.soft, stroke_width=0.6)
        elif kind == "spread":
            yield rect(*box, fill=self.fill("spread"), stroke=ink.spread, stroke_width=1.4)
        elif kind == "worked in":
            yield rect(*box, fill=ink.cover)
        elif kind == "stop":
            yield line((x + 10.0, box[1]), (x + 10.0, box[1] + box[3]), stroke=ink.text,
                       stroke_width=2.6)  # fmt: skip
        elif kind == "band":
            yield rect(*box, fill=ink.cover, fill_opacity=ink.band_tint)
            yield rect(*box, fill=self.fill("band"))
        elif kind == "middle":
            yield line((x, middle), (end, middle), stroke=ink.cover, stroke_width=2.2,
                       stroke_dasharray=[7, 4])  # fmt: skip
        else:
            yield line((x, middle), (end, middle), stroke=ink.text, stroke_width=3)


def _row_word(season: _Season, row: DayRow, *, long_words: bool) -> str:
    """What stands at the right of a day: its acres and stop, or why there is no work."""
    if row.closed:
        return season.word("season none", why=row.closed) if long_words else row.closed
    if not row.area_m2:
        return season.word("season free")
    area = season.area(row.area_m2)
    if long_words and row.stop_s is not None:
        return season.word("season row", area=area, at=season.stop(row.stop_s))
    return area


def _cut(text: str, size: float, room: float) -> str:
    """Return the text, or as much of it as there is room for and three dots."""
    if text_width(text, size) <= room:
        return text
    kept = text
    while kept and text_width(f"{kept.rstrip()}…", size) > room:
        kept = kept[:-1]
    return f"{kept.rstrip()}…"


def _key_rows(season: _Season, width: float, size: float) -> list[list[tuple[float, str, str]]]:
    """Return the key's entries with their places, in as many rows as are needed."""
    entries = [("spread", "spread"), ("worked in", "worked in"), ("stop", "season stop")]
    if any((row.closed and not row.off) or row.shut_s for row in season.rows):
        entries.append(("shut", "season shut"))
    if season.fan is not None:
        entries += [("plan", "season plan"), ("middle", "season middle"), ("band", "season band")]
    rows: list[list[tuple[float, str, str]]] = [[]]
    x = 0.0
    for kind, key in entries:
        text = season.word(key)
        wide = _SWATCH + 5.0 + text_width(text, size)
        if rows[-1] and x + wide > width:
            rows.append([])
            x = 0.0
        rows[-1].append((x, kind, text))
        x += wide + 11.0
    return rows


def _apart(texts: Sequence[tuple[float, str]], size: float, left: float, right: float) -> bool:
    """Whether centred texts keep off one another and within the limits."""
    edges = [(x - 0.5 * text_width(t, size), x + 0.5 * text_width(t, size)) for x, t in texts]
    inside = all(begin >= left and end <= right for begin, end in edges)
    return inside and all(b[0] - a[1] >= 6.0 for a, b in pairwise(edges))


def _tick(value: float, season: _Season) -> str:
    return f"{value:,.10g} {to_display(0.0, 'area', season.system)[1]}"
