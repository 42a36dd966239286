"""The farm's forecast: hourly weather with units in the header, or public JSON, read into SI.

Every problem of the file is collected with its line, so that one look mends them all.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from difflib import get_close_matches
from itertools import pairwise
from pathlib import Path

import numpy as np

from duskline.core.weather import Forecast, dew_point_c, humidity_fraction
from duskline.exchange.problems import Problem
from duskline.units import KINDS

__all__ = ["FileNote", "ForecastRead", "parse_forecast", "read_forecast"]

# Bounds on what is read at all: two years of hours, generously written.
MOST_BYTES = 5_000_000
MOST_ROWS = 20_000

# How far a rounded dew point may lie above a rounded air temperature of the same hour.
ROUNDING_C = 0.5

_MPH = KINDS["speed"].us[1]
_KMH = KINDS["speed"].metric[1]
_KNOT = 1852.0 / 3600.0
_INCH = KINDS["rain"].us[1]
_TIME_FORM = "a time such as 2026-10-18T07:00-05:00, or 2026-10-18T07:00 by the farm's clock"
_TIME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}")
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")
_ISSUED = re.compile(r"#\s*issued\s*:\s*(.*)", re.IGNORECASE)
_EXAMPLE = "time,air_f,dew_point_f,wind_mph,gust_mph,wind_from_deg,rain_chance_percent,rain_in"


@dataclass(frozen=True, kw_only=True, slots=True)
class _Column:
    """What one header name means: ``si = (figure - zero) * factor``, with limits in SI."""

    quantity: str
    factor: float
    low: float
    high: float
    zero: float = 0.0
    below_high: bool = False

    def si(self, figure: float) -> float:
        return (figure - self.zero) * self.factor

    def fits(self, value: float) -> bool:
        return self.low <= value and (value < self.high if self.below_high else value <= self.high)

    @property
    def expected(self) -> str:
        low, high = self.low / self.factor + self.zero, self.high / self.factor + self.zero
        return f"a number from {low:g} to {'under ' * self.below_high}{high:g}"


def _columns() -> dict[str, _Column]:
    found: dict[str, _Column] = {}
    for name, low in (("air", -60.0), ("dew_point", -90.0)):
        found[f"{name}_f"] = _Column(
            quantity=f"{name}_c", factor=5.0 / 9.0, zero=32.0, low=low, high=60.0
        )
        found[f"{name}_c"] = _Column(quantity=f"{name}_c", factor=1.0, low=low, high=60.0)
    for name in ("wind", "gust"):
        for unit, factor in (("mph", _MPH), ("kmh", _KMH), ("mps", 1.0), ("kn", _KNOT)):
            found[f"{name}_{unit}"] = _Column(
                quantity=f"{name}_mps", factor=factor, low=0.0, high=150.0 * _MPH, below_high=True
            )
    for name in ("humidity", "rain_chance"):
        found[f"{name}_percent"] = _Column(
            quantity=f"{name}_fraction", factor=0.01, low=0.0, high=1.0
        )
    found["wind_from_deg"] = _Column(quantity="wind_from_deg", factor=1.0, low=0.0, high=360.0)
    for unit, factor in (("in", _INCH), ("mm", 1e-3)):
        found[f"rain_{unit}"] = _Column(quantity="rain_m", factor=factor, low=0.0, high=0.5)
    return found


_COLUMNS = _columns()
_OPTIONAL = ("gust_mps", "wind_from_deg", "rain_chance_fraction", "rain_m")


@dataclass(frozen=True, kw_only=True, slots=True)
class FileNote:
    """Something about a file that was read well enough, but that a person may want to know."""

    file: str
    where: str
    text: str

    @property
    def sentence(self) -> str:
        """The note as one line."""
        return f"{self.file}, {self.where}: {self.text}."


@dataclass(frozen=True, kw_only=True, slots=True)
class ForecastRead:
    """What reading gave: a forecast, or every problem that stands in its way; and notes."""

    forecast: Forecast | None
    problems: tuple[Problem, ...]
    notes: tuple[FileNote, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Row:
    """One hour of the file; ``hour_at`` in UTC, since one zone's own clock may run back."""

    line: int
    hour_at: datetime
    figures: Mapping[str, float]


def read_forecast(path: Path, *, zone: tzinfo) -> ForecastRead:
    """Return the forecast in a file, or the problems that stand in its way.

    Parameters
    ----------
    path
        The file, UTF-8 text: ``forecast.csv``, or a reply of the public US service in JSON,
        hourly periods or raw grid layers.
    zone
        The farm's zone, for times written without an offset.
    """
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as wrong:
        return _refused(path.name, "", wrong.strerror or "nothing", "a file that can be read")
    if len(data) > MOST_BYTES:
        size = f"more than {MOST_BYTES / 1e6:g} MB"
        return _refused(path.name, "", size, "an hourly forecast of a few days")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = data.count(b"\n", 0, wrong.start) + 1
        return _refused(path.name, f"line {line}", "bytes that are not text", "text saved as UTF-8")
    if text.lstrip().startswith("{"):  # by what it holds: a reply is often saved under any name
        from duskline.exchange.gridpoint import parse_forecast_json

        return parse_forecast_json(text, file=path.name, zone=zone)
    return parse_forecast(text, file=path.name, zone=zone)


def parse_forecast(text: str, *, file: str, zone: tzinfo) -> ForecastRead:
    """Return the forecast in the text of a ``forecast.csv``, or every problem in it.

    Parameters
    ----------
    text
        One header line with units in the names (``time``, ``air_f`` or ``air_c``,
        ``dew_point_f``, ``dew_point_c`` or ``humidity_percent``, ``wind_mph``, ``wind_kmh``,
        ``wind_mps`` or ``wind_kn``; if known ``gust_..``, ``wind_from_deg``,
        ``rain_chance_percent``, ``rain_in`` or ``rain_mm``), then a line for each hour. A
        line ``# issued: 2026-10-18T05:00-05:00`` tells when it was made.
    file
        Its name, for the problems.
    zone
        The farm's zone, for times written without an offset. An hour that happens twice when
        clocks go back is taken in the order it stands in the file.
    """
    reading = _Reading(file=file, zone=zone)
    reading.read(text)
    rows = reading.in_order()
    if not rows and not reading.problems:
        reading.problem("", "no hours", "a line for each hour under the header")
    forecast = None if reading.problems else _forecast(rows, reading.issued_at, zone)
    return ForecastRead(
        forecast=forecast, problems=tuple(reading.problems), notes=tuple(reading.notes)
    )


class _Reading:
    """One reading of one file: what was understood so far, and what was not."""

    def __init__(self, *, file: str, zone: tzinfo) -> None:
        self.file = file
        self.zone = zone
        self.issued_at: datetime | None = None
        self.problems: list[Problem] = []
        self.notes: list[FileNote] = []
        self.rows: list[_Row] = []
        self._twice: dict[datetime, int] = {}

    def problem(self, where: str, read: str, expected: str, hint: str = "") -> None:
        read = read if len(read) <= 60 else read[:57] + "..."
        self.problems.append(
            Problem(file=self.file, where=where, read=read, expected=expected, hint=hint)
        )

    def note(self, where: str, text: str) -> None:
        self.notes.append(FileNote(file=self.file, where=where, text=text))

    def read(self, text: str) -> None:
        """Read header and hours; stop early where nothing below could be understood."""
        header: list[str] | None = None
        for line, cells in self._lines(text):
            if header is None:
                header = [cell.strip().lower() for cell in cells]
                if not self._header_is_good(line, header):
                    return
                continue
            if len(self.rows) >= MOST_ROWS:
                self.problem(f"line {line}", "more hours", f"at most {MOST_ROWS} of them")
                return
            self._row(line, header, cells)
        if header is None:
            self.problem("", "no header", f"a first line such as {_EXAMPLE}")

    def in_order(self) -> list[_Row]:
        """Return the rows in order of time; hours given twice or too close are problems."""
        for row, following in pairwise(self.rows):
            if following.hour_at < row.hour_at:
                self.note(f"line {following.line}", "hours are out of order and were sorted")
                break
        rows = sorted(self.rows, key=lambda row: (row.hour_at, row.line))
        for row, following in pairwise(rows):
            apart_s = (following.hour_at - row.hour_at).total_seconds()
            if apart_s < 3600.0:
                first, second = sorted((row.line, following.line))
                local = following.hour_at.astimezone(self.zone).isoformat(timespec="minutes")
                read = f"{local} a second time" if apart_s == 0.0 else local
                self.problem(f"line {second}", read, f"an hour apart from line {first}")
        return rows

    def _lines(self, text: str) -> Iterator[tuple[int, list[str]]]:
        """Number the lines and part them into cells; comments are looked at and left out."""
        for line, raw in enumerate(re.split(r"\r\n|\n|\r", text), start=1):
            stripped = raw.strip()
            if stripped.startswith("#"):
                self._comment(line, stripped)
            elif stripped.strip(",;\t "):
                try:
                    yield line, next(csv.reader([raw], strict=True))
                except csv.Error:
                    self.problem(f"line {line}", stripped, "cells parted by commas")

    def _comment(self, line: int, comment: str) -> None:
        match = _ISSUED.match(comment)
        if match is None:
            return
        where = f"line {line}, issued"
        self.issued_at = self._moment(where, match.group(1).strip()) or self.issued_at

    def _header_is_good(self, line: int, header: list[str]) -> bool:
        where, before = f"line {line}, header", len(self.problems)
        if "time" not in header:
            form = f"a header such as {_EXAMPLE}"
            hint = "Save the file with commas between the cells." if len(header) == 1 else ""
            self.problem(where, ",".join(header), form, hint)
            return False
        names = [name for name in header if name != "time"]
        for name in names:
            if name not in _COLUMNS:
                nearest = get_close_matches(name, _COLUMNS, n=1, cutoff=0.5)
                hint = f"Did you mean {nearest[0]}?" if nearest else ""
                self.problem(where, name or "an empty name", "a known column with its unit", hint)
        known = [_COLUMNS[name].quantity for name in names if name in _COLUMNS]
        self._needed(where, known, "air_c")
        self._needed(where, known, "dew_point_c", "humidity_fraction")
        self._needed(where, known, "wind_mps")
        for quantity in ["time"] * (header.count("time") > 1) + _repeated(known):
            read = "time twice" if quantity == "time" else f"{_names(quantity)} more than once"
            self.problem(where, read, "each figure in one column")
        return len(self.problems) == before

    def _needed(self, where: str, known: list[str], *quantities: str) -> None:
        if not any(quantity in known for quantity in quantities):
            names = ", ".join(_names(quantity) for quantity in quantities)
            self.problem(where, "no such column", f"one of {names}")

    def _row(self, line: int, header: list[str], cells: list[str]) -> None:
        if len(cells) != len(header):
            count = f"{len(cells)} cells"
            self.problem(f"line {line}", count, f"{len(header)} cells as in the header")
            return
        before = len(self.problems)
        hour_at: datetime | None = None
        figures: dict[str, float] = {}
        for name, cell in zip(header, cells, strict=True):
            where = f"line {line}, {name}"
            if name == "time":
                hour_at = self._moment(where, cell.strip(), row=True)
            else:
                self._figure(where, _COLUMNS[name], cell.strip(), figures)
        self._damp(line, figures)
        if len(self.problems) == before and hour_at is not None:
            self.rows.append(_Row(line=line, hour_at=hour_at.astimezone(UTC), figures=figures))

    def _figure(self, where: str, column: _Column, cell: str, figures: dict[str, float]) -> None:
        """Read one cell into ``figures``; NaN stands for one that was there but wrong."""
        if not cell:
            if column.quantity in {"air_c", "wind_mps"}:
                self.problem(where, "an empty cell", column.expected)
            return
        value = column.si(float(cell)) if _NUMBER.fullmatch(cell) else math.nan
        if not column.fits(value):
            comma = re.fullmatch(r"[+-]?[0-9]+,[0-9]+", cell)
            hint = "Write decimals with a point." if comma else ""
            self.problem(where, cell, column.expected, hint)
            value = math.nan
        figures[column.quantity] = value

    def _damp(self, line: int, figures: dict[str, float]) -> None:
        """Fill in the one of dew point and humidity that is missing; refuse a contradiction."""
        air_c, where = figures.get("air_c", math.nan), f"line {line}"
        dew_c, humid = figures.get("dew_point_c"), figures.get("humidity_fraction")
        if dew_c is None and humid is None:
            self.problem(where, "an empty cell", "a dew point or a humidity")
        elif math.isnan(air_c) or math.isnan(dew_c or 0.0) or math.isnan(humid or 0.0):
            return  # told already
        elif dew_c is not None and dew_c > air_c + ROUNDING_C:
            read = f"a dew point {dew_c - air_c:.1f} C above the air"
            self.problem(where, read, "a dew point at or below the air temperature")
        elif humid == 0.0:
            self.problem(where, "humidity 0", "a humidity above 0 and up to 100 percent")
        elif dew_c is not None:
            figures["dew_point_c"] = min(dew_c, air_c)
            if humid is None:
                damp = humidity_fraction(air_c=air_c, dew_point_c=min(dew_c, air_c))
                figures["humidity_fraction"] = float(damp)
        elif humid is not None:
            dew = dew_point_c(air_c=air_c, humidity_fraction=humid)
            figures["dew_point_c"] = float(dew)

    def _moment(self, where: str, cell: str, *, row: bool = False) -> datetime | None:
        """Read a moment; without an offset it is the farm's own clock."""
        try:
            moment = datetime.fromisoformat(cell) if _TIME.match(cell) else None
        except ValueError:
            moment = None
        if moment is None or not 1900 <= moment.year <= 2200:
            self.problem(where, cell or "an empty cell", _TIME_FORM)
            return None
        if moment.tzinfo is not None:
            return moment.astimezone(self.zone)
        return self._by_the_farms_clock(where, moment, row=row)

    def _by_the_farms_clock(self, where: str, wall: datetime, *, row: bool) -> datetime | None:
        first = wall.replace(tzinfo=self.zone, fold=0)
        second = wall.replace(tzinfo=self.zone, fold=1)
        if first.utcoffset() == second.utcoffset():
            return first
        if first.astimezone(UTC).astimezone(self.zone).replace(tzinfo=None) != wall:
            expected = "a time the farm's clock shows; clocks go forward over this one"
            self.problem(where, wall.isoformat(timespec="minutes"), expected)
            return None
        seen = self._twice.get(wall, 0)
        if row:
            self._twice[wall] = seen + 1
        which = "second" if seen else "first"
        shown = wall.isoformat(timespec="minutes")
        self.note(where, f"{shown} happens twice as clocks go back; taken as the {which}")
        return second if seen else first


def _forecast(rows: list[_Row], issued_at: datetime | None, zone: tzinfo) -> Forecast:
    names = ("air_c", "dew_point_c", "humidity_fraction", "wind_mps", *_OPTIONAL)
    columns = {
        name: np.array([row.figures.get(name, math.nan) for row in rows], dtype=np.float64)
        for name in names
    }
    hours_at = tuple(row.hour_at.astimezone(zone) for row in rows)
    return Forecast(hours_at=hours_at, issued_at=issued_at, **columns)


def _names(quantity: str) -> str:
    return ", ".join(name for name, column in _COLUMNS.items() if column.quantity == quantity)


def _repeated(known: list[str]) -> list[str]:
    return sorted({quantity for quantity in known if known.count(quantity) > 1})


def _refused(file: str, where: str, read: str, expected: str) -> ForecastRead:
    problem = Problem(file=file, where=where, read=read, expected=expected)
    return ForecastRead(forecast=None, problems=(problem,), notes=())
