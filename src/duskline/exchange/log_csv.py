"""Reading ``log.csv``: what happened, one line an event, amounts with units.

Columns: ``time,machine,what,field,amount,took,note``. ``what`` is spread, covered, load, down or
note; ``amount`` an area ("40 ac") or, for a load, a mass; ``took`` how long it took.
"""

from __future__ import annotations

import csv
import re
from datetime import datetime, tzinfo
from pathlib import Path
from typing import get_args

from duskline.core.log import Event, What
from duskline.exchange.problems import Problem
from duskline.units import UnitError, an, parse, show

__all__ = ["read_log"]

COLUMNS = ("time", "machine", "what", "field", "amount", "took", "note")
LARGEST_BYTES = 5_000_000
MOST_LINES = 20_000
MOST_PROBLEMS = 100
LONGEST_CELL = 500
MOST = {"area": 1e8, "mass": 1e6, "time": 7 * 86400.0}
EARLIEST_YEAR, LATEST_YEAR = 2000, 2100


def read_log(path: Path, *, zone: tzinfo) -> tuple[tuple[Event, ...], list[Problem]]:
    """Return the events of the file in order of time, and every problem found.

    Parameters
    ----------
    path
        The file; more than 5 MB or 20,000 lines is refused.
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
        return (), [_problem(path, "", "more than 5 MB", "no more than 5 MB")]
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
    unknown = [name for name in header if name not in COLUMNS or header.count(name) > 1]
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
        if event is not None and not found:
            events.append(event)
    ordered = tuple(sorted(events, key=lambda event: event.at.timestamp()))
    more = len(problems) - MOST_PROBLEMS
    if more > 0:
        problems = [
            *problems[:MOST_PROBLEMS],
            _problem(path, "", f"{more} more of the kind", "none"),
        ]
    return ordered, problems


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


def _positive(text: str, kind: str) -> float:
    value = parse(text, kind)
    if not 0.0 <= value <= MOST[kind]:
        raise UnitError(text, f"{an(kind)} from 0 to {show(MOST[kind], kind, 'us')}")
    return value


def _event(cells: dict[str, str], zone: tzinfo) -> tuple[Event | None, list[tuple[str, str, str]]]:
    """Return one event, and what is wrong with it as (column, read, expected)."""
    wrong: list[tuple[str, str, str]] = []
    try:
        at = datetime.fromisoformat(cells.get("time", ""))
        if not EARLIEST_YEAR <= at.year <= LATEST_YEAR:
            raise ValueError("a year no log was kept in")
        at = at.replace(tzinfo=zone) if at.tzinfo is None else at.astimezone(zone)
    except ValueError:
        wrong.append(("time", cells.get("time", ""), "a time such as 2026-10-18T13:00"))
        at = None
    what = cells.get("what", "")
    if what not in get_args(What):
        wrong.append(("what", what, " or ".join(get_args(What))))
    amounts: dict[str, float | None] = {"area": None, "mass": None, "time": None}
    kind = "mass" if what == "load" else "time" if what == "down" else "area"
    for column, figure in (("amount", kind), ("took", "time")):
        if cells.get(column):
            try:
                amounts[figure] = _positive(cells[column], figure)
            except UnitError as bad:
                wrong.append((column, cells[column], bad.expected))
    wrong += [
        (column, cell, "one line of plain letters")
        for column, cell in cells.items()
        if len(cell) > LONGEST_CELL or not cell.isprintable()
    ]
    if at is None or wrong:
        return None, wrong
    return Event(
        at=at,
        what=what,  # type: ignore[arg-type]
        machine=cells.get("machine", ""),
        field=cells.get("field", ""),
        area_m2=amounts["area"],
        mass_kg=amounts["mass"],
        took_s=amounts["time"],
        note=cells.get("note", ""),
    ), []
