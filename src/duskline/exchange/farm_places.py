"""Problems of ``farm.toml`` brought back to the table, entry and key of the form they belong to."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from duskline.exchange.farm_files import folder_with
from duskline.exchange.farm_form import FormKey, FormTable, form_tables
from duskline.exchange.farm_toml import read_farm_toml
from duskline.exchange.farm_values import content_of, entries_of, value_at
from duskline.exchange.farmfolder import TOML, read_folder
from duskline.exchange.problems import FolderProblem, Problem
from duskline.units import System

__all__ = ["FieldProblem", "check_text"]

_LINE = re.compile(r"^line \d+(?:, |$)")
_LONGEST_ZONE = 80
_EXAMPLE = re.compile(r'such as "[^"]*"')
_LIMITS = re.compile(r"(an? [a-z ]+) from ([^()]+) \(([^()]+)\)")
_DOTTED = re.compile(r"^(\w+)((?:\.[^.\s,]+)*)$")


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldProblem:
    """A problem with the place in the form where it is to be shown.

    Attributes
    ----------
    table, entry, key
        The table, its entry counted from 0, and the key; empty or None where it cannot be
        brought to one.
    name
        The entry's name, where it has one.
    lacking
        Whether something that every farm needs is not there yet, so that it may be kept as
        a draft.
    problem
        What was read, what was expected.
    """

    problem: Problem
    table: str = ""
    entry: int | None = None
    key: str = ""
    name: str = ""
    lacking: bool = False

    @property
    def sentence(self) -> str:
        """The problem as it stands beside the key: what was read and what was expected."""
        hint = f" {self.problem.hint}" if self.problem.hint else ""
        return f"Read {self.problem.read}; expected {self.problem.expected}.{hint}"

    @property
    def mark(self) -> tuple[str, ...]:
        """What tells it from another problem, wherever its line now is."""
        own = self.name or ("" if self.entry is None else str(self.entry))
        what = self.problem
        where = "" if self.table else _LINE.sub("", what.where)
        return (what.file, where, self.table, own, self.key, what.read, what.expected)


def check_text(
    text: str, *, folder: Path | None = None, beside: Mapping[str, bytes] | None = None
) -> tuple[FieldProblem, ...]:
    """Return every problem of a ``farm.toml``, each with its place in the form.

    Parameters
    ----------
    folder
        The farm folder whose other files it has to agree with; without one only the text
        itself is checked.
    beside
        Other files of the folder as they will be.
    """
    raw = text.encode("utf-8", "replace")
    form, _, found = read_farm_toml(raw)
    if folder is not None and folder.is_dir():
        with folder_with(folder, {**(beside or {}), TOML: raw}) as whole:
            found = read_folder(whole).problems
    elif form is not None:
        found = []
    try:
        content = content_of(text)
    except FolderProblem:
        content = {}
    if form is None:
        found = [*found, *_zone_problem(content)]
    return tuple(_placed(problem, content) for problem in found)


def _placed(problem: Problem, content: Mapping[str, Any]) -> FieldProblem:
    """Return a problem with the table, entry and key it belongs to."""
    lacking = (problem.read == "nothing" and problem.expected.startswith("the key ")) or (
        problem.read == "none" and problem.expected.startswith("at least one [[")
    )
    if problem.file != TOML:
        no_outlines = problem.read == "no such file" and problem.file.startswith("fields.")
        return FieldProblem(problem=problem, lacking=no_outlines)
    where = _LINE.sub("", problem.where)
    found = _by_dots(where, problem, content) or _by_name(where, content)
    table = form_tables().get(found[0]) if found else None
    if found is None or table is None:
        return FieldProblem(problem=problem, lacking=lacking)
    _, entry, key = found
    entries = entries_of(content, table)
    name = entries[entry].get("name") if entry is not None and entry < len(entries) else None
    key = key or _key_in(table, problem, lacking=lacking)
    farm = content.get("farm")
    metric = isinstance(farm, dict) and farm.get("units") == "metric"
    return FieldProblem(
        problem=_in_units(problem, table.keys.get(key), "metric" if metric else "us"),
        table=table.table,
        entry=entry if table.repeated else None,
        key=key,
        name=name if isinstance(name, str) else "",
        lacking=lacking,
    )


def _in_units(problem: Problem, key: FormKey | None, system: System) -> Problem:
    """Return a problem whose right form and limits are in the units of the farm alone."""
    expected = problem.expected
    limits = _LIMITS.fullmatch(expected)
    if limits is not None:
        expected = f"{limits[1]} from {limits[2] if system == 'us' else limits[3]}"
    if key is not None and key.kind in {"quantity", "price"}:
        form = key.example(system).split(", ")[0]
        expected = _EXAMPLE.sub(lambda _: f'such as "{form}"', expected)
    return replace(problem, expected=expected)


_Found = tuple[str, int | None, str]


def _by_dots(where: str, problem: Problem, content: Mapping[str, Any]) -> _Found | None:
    """Return the place of "spreader.1.load" or "spreader.driver"."""
    if where == "machine names":
        for kind in ("cultivator", "spreader"):
            entry = _entry_with(kind, "name", problem, content)
            if entry is not None:
                return kind, entry, "name"
    match = _DOTTED.match(where)
    table = form_tables().get(match[1]) if match else None
    if match is None or table is None:
        return None
    parts = [part for part in match[2].split(".") if part]
    numbers = [int(part) - 1 for part in parts[:1] if part.isdecimal() and len(part) < 6]
    names = [part for part in parts if not part.isdecimal()]
    key = next(
        (name for name in (".".join(names), *names[:1]) if name in table.keys),
        next((name for name in table.keys if names and name.startswith(f"{names[0]}.")), ""),
    )
    entry = numbers[0] if numbers else _entry_with(table.table, key, problem, content)
    return table.table, entry if table.repeated else None, key


def _entry_with(table: str, key: str, problem: Problem, content: Mapping[str, Any]) -> int | None:
    """Return the entry whose value is what was read; the last one where it stands twice."""
    found = None
    for number, held in enumerate(entries_of(content, form_tables()[table])):
        value = value_at(held, key.split(".")) if key else None
        shown = [repr(item) for item in (value if isinstance(value, list) else [value])]
        shown += [repr(item.isoformat()) for item in [value] if isinstance(item, dt.date)]
        if problem.read in shown:
            return number
        if any(problem.read == f"{one} twice" for one in shown):
            found = number
    return found


def _by_name(where: str, content: Mapping[str, Any]) -> _Found | None:
    """Return the place of "lot Bin rye, price" or "crew Crew 1"."""
    for table in form_tables().values():
        rest = where.removeprefix(f"{table.table} ")
        if rest == where:
            continue
        for number, held in enumerate(entries_of(content, table)):
            name = held.get("name")
            if rest == name:
                return table.table, number, ""
            if isinstance(name, str) and rest.startswith(f"{name}, "):
                key = rest[len(name) + 2 :]
                return table.table, number, key if key in table.keys else ""
    return None


def _key_in(table: FormTable, problem: Problem, *, lacking: bool) -> str:
    """Return the first key that a problem of a whole entry speaks of."""
    if lacking:
        return ""
    for said in (problem.expected, problem.read):
        word: str
        for word in re.findall(r"[a-z_]+", said):
            if word in table.keys:
                return word
    return ""


def _zone_problem(content: Mapping[str, Any]) -> list[Problem]:
    """Return that a farm still being written names no known time zone."""
    farm = content.get("farm")
    name = farm.get("time_zone") if isinstance(farm, dict) else None
    if not isinstance(name, str) or not name or len(name) > _LONGEST_ZONE:
        return []
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        expected = 'a time zone such as "America/Chicago"'
        return [Problem(file=TOML, where="farm.time_zone", read=repr(name), expected=expected)]
    return []
