"""``log.csv``: what happened, one line an event, amounts with units. Read, and written back.

Columns: ``time,machine,what,field,amount,took,note``. ``what`` is one of the kinds of the log;
``amount`` an area ("40 ac"), "all" for all that was left of the field, or, for a load, a mass;
``took`` how long it took. Further columns hold what the store knows of an event; a log written by
hand does without them.

A written log is safe in a spreadsheet: a text that it would take for a formula begins with an
apostrophe, which is taken off again here. One that a line of a file cannot hold (a line break) is
written between quotation marks after the apostrophe, its letters as JSON has them.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Iterable
from datetime import UTC, datetime, tzinfo
from functools import lru_cache
from pathlib import Path
from typing import Any

from duskline.core.log import KINDS, Event
from duskline.exchange.problems import Problem
from duskline.units import KINDS as QUANTITIES
from duskline.units import System, UnitError, an, parse, show

__all__ = [
    "COLUMNS",
    "LONGEST_CELL",
    "MORE_COLUMNS",
    "MOST",
    "in_log_years",
    "read_log",
    "write_log",
]

COLUMNS = ("time", "machine", "what", "field", "amount", "took", "note")
MORE_COLUMNS = (
    "area", "mass", "told", "id", "device", "person", "entered", "taken_in", "refers", "stop",
    "chance",
)  # fmt: skip
LARGEST_BYTES = 20_000_000
MOST_LINES = 50_000
MOST_PROBLEMS = 100
LONGEST_CELL = 500
LONGEST_RAW_CELL = 12 * LONGEST_CELL + 3
MOST = {"area": 1e8, "mass": 1e6, "time": 7 * 86400.0}
EARLIEST_YEAR, LATEST_YEAR = 2000, 2100
ALL = "all"

TEXTS = ("machine", "field", "note", "told", "id", "device", "person", "refers")
_TIMES = {"time": "at", "entered": "clock_at", "taken_in": "server_at", "stop": "stop_at"}
_SI = {"area": "m2", "mass": "kg", "time": "s"}
_EXACT = re.compile(r"(\d+(?:\.\d+)?(?:e[+-]?\d+)?) ?([A-Za-z%][A-Za-z0-9]*)")
_FORMULA = tuple("=+-@＝＋－＠")
_ESCAPED = re.compile(r"'['\"=+\-@＝＋－＠]")
_PARTED = re.compile(r"[;|]\s*[\"']*[=+\-@＝＋－＠]")

Wrong = list[tuple[str, str, str]]
"""What is wrong with a line, as (column, read, expected)."""


# --------------------------------------------------------------------------- reading


def read_log(path: Path, *, zone: tzinfo) -> tuple[tuple[Event, ...], list[Problem]]:
    """Return the events of the file in order of time, and every problem found.

    Parameters
    ----------
    path
        The file; more than 20 MB or 50,000 lines is refused.
    zone
        The farm's time zone, for times without an offset.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except OSError as wrong:
        read = f"nothing ({(wrong.strerror or 'not readable').lower()})"
        return (), [_problem(path, "", read, "a file that can be read")]
    if len(raw) > LARGEST_BYTES:
        most = f"{LARGEST_BYTES // 1_000_000} MB"
        return (), [_problem(path, "", f"more than {most}", f"no more than {most}")]
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = raw.count(b"\n", 0, wrong.start) + 1
        return (), [_problem(path, f"line {line}", "a byte that is no text", "text in UTF-8")]
    rows, problems = _rows(path, text)
    if len(rows) > MOST_LINES:
        return (), [_problem(path, "", f"{len(rows)} lines", f"no more than {MOST_LINES}")]
    if not rows:
        return (), problems
    header = [name.strip().lower() for name in rows[0][1]]
    known = (*COLUMNS, *MORE_COLUMNS)
    unknown = [name for name in header if name not in known or header.count(name) > 1]
    missing = [name for name in ("time", "what") if name not in header]
    if unknown or missing:
        read = _shown(", ".join(header))
        expected = f"columns {', '.join(COLUMNS)}, each once"
        return (), [*problems, _problem(path, f"line {rows[0][0]}", read, expected)]
    events: list[Event] = []
    for number, row in rows[1:]:
        if len(row) > len(header) and any(cell.strip() for cell in row[len(header) :]):
            read = f"{len(row)} cells"
            problems.append(
                _problem(path, f"line {number}", read, f"{len(header)}, as in the header")
            )
            continue
        cells = dict(zip(header, (cell.strip() for cell in row), strict=False))
        event, found = _event(cells, zone)
        problems += [_problem(path, f"line {number}, {c}", _shown(r), e) for c, r, e in found]
        if event is not None:
            events.append(event)
    ordered = tuple(sorted(events, key=lambda event: event.at.timestamp()))
    more = len(problems) - MOST_PROBLEMS
    if more > 0:
        problems = [
            *problems[:MOST_PROBLEMS],
            _problem(path, "", f"{more} more of the kind", "none"),
        ]
    return ordered, problems


def in_log_years(moment: datetime) -> bool:
    """Return whether a moment lies in the years a log is kept of."""
    if not EARLIEST_YEAR - 1 <= moment.year <= LATEST_YEAR + 1:
        return False
    return EARLIEST_YEAR <= moment.astimezone(UTC).year <= LATEST_YEAR


def _rows(path: Path, text: str) -> tuple[list[tuple[int, list[str]]], list[Problem]]:
    """Return the rows with their line numbers; a line that cannot be parted is a problem."""
    rows, problems = [], []
    for number, line in enumerate(re.split(r"\r\n|\n|\r", text), start=1):
        if not line.strip(", \t") or line.lstrip().startswith("#"):
            continue
        try:
            rows.append((number, next(csv.reader([line], strict=True))))
        except csv.Error:
            expected = "cells parted by commas, quotation marks closed"
            problems.append(_problem(path, f"line {number}", _shown(line), expected))
    return rows, problems


def _shown(text: str) -> str:
    clean = "".join(letter if letter.isprintable() else "?" for letter in text[:60])
    return f"'{clean}{'...' if len(text) > 60 else ''}'" if text else "nothing"


def _problem(path: Path, where: str, read: str, expected: str) -> Problem:
    return Problem(file=path.name, where=where, read=read, expected=expected)


def _event(cells: dict[str, str], zone: tzinfo) -> tuple[Event | None, Wrong]:
    """Return one event, and what is wrong with it."""
    wrong: Wrong = []
    values: dict[str, Any] = {}
    for column, name in _TIMES.items():
        if cells.get(column) or column == "time":
            moment = _moment(cells.get(column, ""), zone, logged=column == "time")
            if moment is None:
                wrong.append((column, cells.get(column, ""), "a time such as 2026-10-18T13:00"))
            values[name] = moment
    what = values["what"] = cells.get("what", "")
    if what not in KINDS:
        wrong.append(("what", what, " or ".join(KINDS)))
    amounts, found = _amounts(cells, what)
    values |= amounts
    wrong += found
    wrong += [
        (column, cell, "one line of plain letters")
        for column, cell in cells.items()
        if len(cell) > (LONGEST_RAW_CELL if _is_json(cell) else LONGEST_CELL + 1)
        or not cell.isprintable()
    ]
    if wrong:
        return None, wrong
    for column in TEXTS:
        text = _text_of(cells.get(column, ""))
        if text is None or len(text) > LONGEST_CELL:
            return None, [(column, cells[column], "one line of plain letters")]
        values[column] = text
    return Event(**values), []


def _moment(text: str, zone: tzinfo, *, logged: bool) -> datetime | None:
    """Return a moment in the farm's zone; None if it is none, or of no time a log is kept of."""
    try:
        moment = datetime.fromisoformat(text)
        moment = moment.replace(tzinfo=zone) if moment.tzinfo is None else moment
        if logged and not in_log_years(moment):
            return None
        return moment.astimezone(zone)
    except (ValueError, OverflowError):
        return None


def _amounts(cells: dict[str, str], what: str) -> tuple[dict[str, Any], Wrong]:
    """Return how much and how long, in SI."""
    main = _main_figure(what)
    names = {"area": "area_m2", "mass": "mass_kg", "time": "took_s"}
    values: dict[str, Any] = {}
    wrong: Wrong = []
    amount = cells.get("amount", "")
    whole = amount.lower() == ALL
    columns = (("amount", main), ("area", "area"), ("mass", "mass"), ("took", "time"))
    for column, kind in columns:
        text = cells.get(column, "")
        if not text or (column == "amount" and whole):
            continue
        if names[kind] in values and column != "took":
            wrong.append((column, text, f"the {kind} in one column only"))
            continue
        try:
            values[names[kind]] = _figure(text, kind)
        except UnitError as bad:
            wrong.append((column, text, bad.expected))
    if cells.get("chance"):
        chance = _chance(cells["chance"])
        if chance is None:
            wrong.append(("chance", cells["chance"], 'a share from 0 to 100 %, such as "95 %"'))
        values["chance_fraction"] = chance
    return {**values, "whole": whole}, wrong


def _main_figure(what: str) -> str:
    return "mass" if what == "load" else "time" if what == "down" else "area"


def _figure(text: str, kind: str) -> float:
    exact = _EXACT.fullmatch(text)
    if exact is not None and exact[2] == _SI[kind]:
        value = float(exact[1])
    elif exact is not None and exact[2] in (_unit(kind, "us"), _unit(kind, "metric")):
        value = 0.0 + float(exact[1]) * _factor(exact[2], kind)
    else:
        value = parse(text, kind)
    if not 0.0 <= value <= MOST[kind]:
        raise UnitError(text, f"{an(kind)} from 0 to {show(MOST[kind], kind, 'us')}")
    return value


def _chance(text: str) -> float | None:
    """Return a chance written as "95 %", or as the bare share 0.95."""
    try:
        exact = _EXACT.fullmatch(text)
        if exact is not None and exact[2] == "%":
            value = float(exact[1]) * _factor("%", "fraction")
        else:
            value = float(text) if exact is None else parse(text, "fraction")
    except ValueError:
        return None
    return value if 0.0 <= value <= 1.0 else None


def _unit(kind: str, system: System) -> str:
    found: tuple[str, float, int] = getattr(QUANTITIES[kind], system)
    return found[0]


@lru_cache(maxsize=64)
def _factor(unit: str, kind: str) -> float:
    """Return what one of the unit is in SI, exactly as ``parse`` reckons it."""
    return parse(f"1 {unit}", kind)


def _is_json(cell: str) -> bool:
    return cell.startswith("'\"") and cell.endswith('"') and len(cell) > 2


def _text_of(cell: str) -> str | None:
    """Return the text a cell stands for; None if it stands for none."""
    if _is_json(cell):
        try:
            text = json.loads(cell[1:])
        except ValueError:
            return None
        return text if isinstance(text, str) else None
    return cell[1:] if _ESCAPED.match(cell) else cell


# --------------------------------------------------------------------------- writing


def write_log(events: Iterable[Event], zone: tzinfo, system: System) -> str:
    """Return the events as the text of a ``log.csv``, in order of time.

    Reading it gives the same events back, every figure to the last bit.

    Parameters
    ----------
    zone
        The farm's time zone: times are written in it, with their offset.
    system
        The units of the farm.
    """
    told = sorted(events, key=lambda event: event.at.timestamp())
    lines = [_cells(event, zone, system) for event in told]
    more = [name for name in MORE_COLUMNS if any(line.get(name) for line in lines)]
    header = [*COLUMNS, *more]
    text = io.StringIO()
    write = csv.writer(text, lineterminator="\n")
    write.writerow(header)
    write.writerows([[line.get(name, "") for name in header] for line in lines])
    return text.getvalue()


def _cells(event: Event, zone: tzinfo, system: System) -> dict[str, str]:
    cells = {name: _cell_of(getattr(event, name)) for name in TEXTS}
    for column, name in _TIMES.items():
        moment = getattr(event, name)
        if moment is not None:
            cells[column] = _time_text(moment, zone)
    cells["what"] = event.what
    figures = {
        kind: _figure_text(value, kind, system)
        for kind, value in (
            ("area", event.area_m2),
            ("mass", event.mass_kg),
            ("time", event.took_s),
        )
        if value is not None
    }
    cells["took"] = figures.pop("time", "")
    cells["amount"] = ALL if event.whole else figures.pop(_main_figure(event.what), "")
    cells |= figures
    if event.chance_fraction is not None:
        cells["chance"] = _chance_text(event.chance_fraction)
    return cells


def _time_text(moment: datetime, zone: tzinfo) -> str:
    """Return the moment with its offset, no finer than it is."""
    try:
        local = moment.astimezone(zone)
    except OverflowError:
        local = moment
    if local.microsecond:
        return local.isoformat()
    return local.isoformat(timespec="seconds" if local.second else "minutes")


def _figure_text(value: float, kind: str, system: System) -> str:
    """Return the shortest text in the farmer's unit that is read as just this figure."""
    unit = _unit(kind, system)
    text = _shortest(value, _factor(unit, kind), unit)
    return text or f"{value!r} {_SI[kind]}"


def _chance_text(chance: float) -> str:
    return _shortest(chance, _factor("%", "fraction"), "%") or repr(chance)


def _shortest(value: float, factor: float, unit: str) -> str | None:
    near = value / factor
    for shown in (near, math.nextafter(near, math.inf), math.nextafter(near, 0.0)):
        if not 1e-4 <= shown < 1e15 and shown != 0.0:
            continue
        for digits in range(18):
            text = f"{shown:.{digits}f}"
            if float(text) * factor == value:
                return f"{text} {unit}"
    return None


def _cell_of(text: str) -> str:
    """Return a text as a cell that a line holds and a spreadsheet takes for a text."""
    plain = text.isprintable() and text == text.strip()
    if not plain or _is_json(text) or _PARTED.search(text):
        # A program that parts cells at semicolons must not find one either.
        return "'" + json.dumps(text).replace(";", "\\u003b").replace("|", "\\u007c")
    return f"'{text}" if text[:1] in _FORMULA or _ESCAPED.match(text) else text
