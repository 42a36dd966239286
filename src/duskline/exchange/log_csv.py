"""Reading ``log.csv``: what happened, one line an event, amounts with units.

Columns: ``time,machine,what,field,amount,took,note``. ``what`` is spread, covered, load, down or
note; ``amount`` an area ("40 ac") or, for a load, a mass; ``took`` how long it took.
"""

from __future__ import annotations

import csv
import io
from datetime import datetime, tzinfo
from pathlib import Path
from typing import get_args

from duskline.core.log import Event, What
from duskline.exchange.problems import Problem
from duskline.units import UnitError, parse

__all__ = ["read_log"]

COLUMNS = ("time", "machine", "what", "field", "amount", "took", "note")
LARGEST_BYTES = 5_000_000
MOST_LINES = 20_000


def read_log(path: Path, *, zone: tzinfo) -> tuple[tuple[Event, ...], list[Problem]]:
    """Return the events of the file in order of time, and every problem found.

    Parameters
    ----------
    path
        The file; more than 5 MB or 20,000 lines is refused.
    zone
        The farm's time zone, for times without an offset.
    """
    if path.stat().st_size > LARGEST_BYTES:
        size = f"{path.stat().st_size / 1e6:.1f} MB"
        return (), [_problem(path, "", size, "no more than 5 MB")]
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        return (), [_problem(path, f"byte {wrong.start}", "a byte that is no text", "UTF-8")]
    rows = [
        (number, row)
        for number, row in enumerate(csv.reader(io.StringIO(text)), start=1)
        if row and not row[0].lstrip().startswith("#")
    ]
    if not rows:
        return (), []
    if len(rows) > MOST_LINES:
        return (), [_problem(path, "", f"{len(rows)} lines", f"no more than {MOST_LINES}")]
    header = [name.strip().lower() for name in rows[0][1]]
    unknown = [name for name in header if name not in COLUMNS]
    missing = [name for name in ("time", "what") if name not in header]
    if unknown or missing:
        read = ", ".join(header) or "an empty line"
        return (), [_problem(path, f"line {rows[0][0]}", read, f"columns {', '.join(COLUMNS)}")]
    events: list[Event] = []
    problems: list[Problem] = []
    for number, row in rows[1:]:
        cells = dict(zip(header, (cell.strip() for cell in row), strict=False))
        event, found = _event(cells, zone)
        problems += [_problem(path, f"line {number}, {c}", repr(r), e) for c, r, e in found]
        if event is not None and not found:
            events.append(event)
    return tuple(sorted(events, key=lambda event: event.at)), problems


def _problem(path: Path, where: str, read: str, expected: str) -> Problem:
    return Problem(file=path.name, where=where, read=read, expected=expected)


def _event(cells: dict[str, str], zone: tzinfo) -> tuple[Event | None, list[tuple[str, str, str]]]:
    """Return one event, and what is wrong with it as (column, read, expected)."""
    wrong: list[tuple[str, str, str]] = []
    try:
        at = datetime.fromisoformat(cells.get("time", ""))
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
                amounts[figure] = parse(cells[column], figure)
            except UnitError as bad:
                wrong.append((column, cells[column], bad.expected))
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
