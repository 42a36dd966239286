"""Reads a tray test from a CSV file: places in the first column, one column a run.

The heading carries the units (``position_ft,run1_g,run2_g``). Everything wrong is collected.
"""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

from duskline import units
from duskline.core.trays import TrayTest, positions_from_path
from duskline.exchange.problems import FolderProblem, Problem

__all__ = ["parse_trays", "read_trays"]

LARGEST_FILE_BYTES = 5_000_000
_MOST_ROWS_COUNT = 2_000
_MOST_RUNS_COUNT = 50
_FEWEST_TRAYS_COUNT = 3
_SPACING_TOLERANCE_FRACTION = 0.00999  # a hair tighter than the core's, which would raise
_FARTHEST_TRAY_M = 500.0
_HEAVIEST_CATCH_KG = 1_000.0
_MOST_SEEDS_COUNT = 10_000_000.0

_FORM = "position_ft,run1_g,run2_g"
_PLACE_UNITS = ("ft", "m", "in", "cm")
_MASS_UNITS = ("g", "kg", "oz", "lb")
_SEEDS = "seeds"
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?\Z", re.ASCII)
_PLACE_HEADING = re.compile(r"position(?:_(\w+))?\Z", re.ASCII)
_RUN_HEADING = re.compile(r"run_?(\d+)(?:_(\w+))?\Z", re.ASCII)


@dataclass(kw_only=True, slots=True)
class _Sheet:
    """The file while it is read: its lines, its columns and what is wrong so far."""

    file: str
    separator: str = ","
    place_column: int = 0
    place_unit: str = ""
    run_columns: list[tuple[int, str]] = field(default_factory=list)
    column_count: int = 0
    lines: list[int] = field(default_factory=list)
    order: list[int] = field(default_factory=list)
    places: list[float] = field(default_factory=list)
    rows: list[list[float]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def wrong(self, where: str, read: str, expected: str, hint: str = "") -> None:
        self.problems.append(
            Problem(file=self.file, where=where, read=read, expected=expected, hint=hint)
        )

    def stop_if_wrong(self) -> None:
        if self.problems:
            raise FolderProblem(tuple(self.problems))


def read_trays(path: Path) -> TrayTest:
    """Return the tray test in a CSV file, named after the file.

    Parameters
    ----------
    path
        The file; not above 5 MB nor 2,000 rows.

    Raises
    ------
    FolderProblem
        Every problem in the file, each with its line, what was read and what was expected.

    Notes
    -----
    See ``parse_trays`` for the form.

    Source
    ------
    Our own format.
    """
    sheet = _Sheet(file=path.name)
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            sheet.wrong("", f"{size:,} bytes", f"at most {LARGEST_FILE_BYTES:,} bytes")
            sheet.stop_if_wrong()
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        sheet.wrong("", error.strerror or "a file that cannot be opened", "a tray test in CSV")
        sheet.stop_if_wrong()
        raise
    return parse_trays(content, name=path.stem, file=path.name)


def parse_trays(content: bytes, *, name: str, file: str) -> TrayTest:
    """Return the tray test written in the bytes of a CSV file.

    Parameters
    ----------
    content
        UTF-8 text, with or without a byte order mark. Lines that start with ``#`` and empty
        lines are passed over. The heading is ``position_UNIT`` (ft, m, in, cm) and one
        ``runN_UNIT`` a run (g, kg, oz, lb, or seeds for a count). Cells are parted by commas,
        or by semicolons or tabs; then a comma in a number is read as its decimal point.
    name
        What was tested.
    file
        The file's name, for problems.

    Raises
    ------
    FolderProblem
        Every problem found, each with its line, what was read and what was expected.

    Notes
    -----
    Places rise from left to right at one spacing (to 1 %). If any is negative they are
    distances from the driving line, else the middle of the row is the driving line.

    Source
    ------
    Our own format.
    """
    sheet = _Sheet(file=file)
    table = _table(sheet, _text(sheet, content))
    sheet.stop_if_wrong()
    _read_heading(sheet, *table[0])
    sheet.stop_if_wrong()
    _read_rows(sheet, table[1:])
    _check_places(sheet)
    _check_runs(sheet)
    sheet.stop_if_wrong()
    return _tray_test(sheet, name)


def _text(sheet: _Sheet, content: bytes) -> str:
    if len(content) > LARGEST_FILE_BYTES:
        sheet.wrong("", "a longer file", f"at most {LARGEST_FILE_BYTES:,} bytes")
        sheet.stop_if_wrong()
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        sheet.wrong(
            f"line {line}", "bytes that are not UTF-8 text", "CSV text in UTF-8",
            'Save it again as "CSV UTF-8".',
        )  # fmt: skip
        sheet.stop_if_wrong()
        raise
    if "\0" in text:
        sheet.wrong("", "zero bytes", "CSV text in UTF-8", 'Save it again as "CSV UTF-8".')
    return text


def _table(sheet: _Sheet, text: str) -> list[tuple[int, list[str]]]:
    """Return the heading and the rows, each with its line number and its cells."""
    numbered = [
        (number, line)
        for number, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not numbered:
        sheet.wrong("", "no heading and no rows", f"a heading such as {_FORM}")
        return []
    if len(numbered) - 1 > _MOST_ROWS_COUNT:
        sheet.wrong("", f"{len(numbered) - 1:,} rows", f"at most {_MOST_ROWS_COUNT:,} trays")
        return []
    heading = numbered[0][1]
    sheet.separator = ";" if ";" in heading else "\t" if "\t" in heading else ","
    return [(number, _cells(sheet, number, line)) for number, line in numbered]


def _cells(sheet: _Sheet, number: int, line: str) -> list[str]:
    try:
        cells = next(csv.reader([line], delimiter=sheet.separator, strict=True))
    except csv.Error:
        sheet.wrong(f"line {number}", _shown(line), "short cells, quotation marks closed")
        return []
    return [cell.strip() for cell in cells]


def _shown(text: str) -> str:
    """Return what was read, short and printable, in quotation marks."""
    clean = "".join(letter if letter.isprintable() else "?" for letter in text)
    return f'"{clean[:40]}…"' if len(clean) > 40 else f'"{clean}"'


# --- Heading ------------------------------------------------------------------------------------


def _read_heading(sheet: _Sheet, line: int, cells: list[str]) -> None:
    sheet.column_count = len(cells)
    where = f"line {line}"
    place_columns: list[int] = []
    seen: set[str] = set()
    for column, cell in enumerate(cells):
        word = cell.lower()
        if word in seen:
            sheet.wrong(where, f"the column {_shown(cell)} twice", "each column once")
        seen.add(word)
        if place := _PLACE_HEADING.match(word):
            place_columns.append(column)
            sheet.place_unit = _unit(sheet, where, cell, place.group(1), _PLACE_UNITS)
        elif run := _RUN_HEADING.match(word):
            units_known = (*_MASS_UNITS, _SEEDS)
            unit = _unit(sheet, where, cell, run.group(2), units_known)
            sheet.run_columns.append((column, unit))
        else:
            sheet.wrong(where, f"the column {_shown(cell)}", f"a heading such as {_FORM}")
    _check_columns(sheet, where, place_columns)


def _unit(sheet: _Sheet, where: str, cell: str, unit: str | None, known: tuple[str, ...]) -> str:
    if unit is None or unit not in known:
        hint = "" if unit else "The heading must carry the unit."
        sheet.wrong(where, f"the column {_shown(cell)}", f"a unit out of {', '.join(known)}", hint)
        return ""
    return unit


def _check_columns(sheet: _Sheet, where: str, place_columns: list[int]) -> None:
    if len(place_columns) != 1:
        sheet.wrong(
            where,
            f"{len(place_columns)} columns of places",
            "one, such as position_ft or position_m",
        )
    else:
        sheet.place_column = place_columns[0]
    if not sheet.run_columns:
        sheet.wrong(where, "no column of a run", "at least one, such as run1_g or run1_seeds")
    if len(sheet.run_columns) > _MOST_RUNS_COUNT:
        sheet.wrong(where, f"{len(sheet.run_columns)} runs", f"at most {_MOST_RUNS_COUNT}")
    kinds = {unit == _SEEDS for _, unit in sheet.run_columns if unit}
    if len(kinds) > 1:
        sheet.wrong(where, "some runs weighed and some counted", "all weighed or all counted")


# --- Rows ---------------------------------------------------------------------------------------


def _read_rows(sheet: _Sheet, table: list[tuple[int, list[str]]]) -> None:
    for index, (line, cells) in enumerate(table):
        if len(cells) != sheet.column_count:
            hint = ""
            if sheet.separator == "," and len(cells) > sheet.column_count:
                hint = "With decimal commas, part the columns by semicolons."
            sheet.wrong(
                f"line {line}", f"{len(cells)} cells", f"{sheet.column_count}, as in the heading",
                hint,
            )  # fmt: skip
            continue
        place = _place(sheet, line, cells[sheet.place_column])
        catches = [
            _catch(sheet, line, f"run {run}", cells[column], unit)
            for run, (column, unit) in enumerate(sheet.run_columns, start=1)
        ]
        if place is not None:
            sheet.lines.append(line)
            sheet.order.append(index)
            sheet.places.append(place)
            sheet.rows.append([0.0 if catch is None else catch for catch in catches])


def _place(sheet: _Sheet, line: int, cell: str) -> float | None:
    number = _number(sheet, cell)
    where = f"line {line}, position"
    if number is None:
        sheet.wrong(where, _read_cell(cell), f"a number of {sheet.place_unit}", _comma_hint(cell))
        return None
    place_m = number * units.parse(f"1 {sheet.place_unit}", "length")
    if abs(place_m) > _FARTHEST_TRAY_M:
        sheet.wrong(
            where, _shown(cell), f"a tray within {_FARTHEST_TRAY_M:g} m of the driving line"
        )
        return None
    return place_m


def _catch(sheet: _Sheet, line: int, run: str, cell: str, unit: str) -> float | None:
    where = f"line {line}, {run}"
    number = _number(sheet, cell)
    what = "a whole number of seeds" if unit == _SEEDS else f"a weight in {unit}"
    if number is None:
        hint = "Write 0 for an empty tray." if not cell else _comma_hint(cell)
        sheet.wrong(where, _read_cell(cell), what, hint)
        return None
    if number < 0:
        sheet.wrong(
            where, _shown(cell), f"{what}, 0 or more", "Was the empty tray's weight taken off?"
        )
        return None
    if unit == _SEEDS:
        if number != math.floor(number) or number > _MOST_SEEDS_COUNT:
            sheet.wrong(where, _shown(cell), f"{what}, up to {_MOST_SEEDS_COUNT:,.0f}")
            return None
        return number
    mass_kg = number * units.parse(f"1 {unit}", "mass")
    if mass_kg > _HEAVIEST_CATCH_KG:
        sheet.wrong(where, _shown(cell), f"{what} below {_HEAVIEST_CATCH_KG:,.0f} kg")
        return None
    return mass_kg


def _number(sheet: _Sheet, cell: str) -> float | None:
    """Return the cell as a number; a lone comma is a decimal point unless commas part cells."""
    if "," in cell:
        if sheet.separator == "," or "." in cell or cell.count(",") > 1:
            return None
        cell = cell.replace(",", ".")
    if not _NUMBER.match(cell):
        return None
    number = float(cell)
    return number if math.isfinite(number) else None


def _read_cell(cell: str) -> str:
    return _shown(cell) if cell else "an empty cell"


def _comma_hint(cell: str) -> str:
    return (
        "Write numbers without thousands marks, the decimals after a point." if "," in cell else ""
    )


# --- The row of trays ---------------------------------------------------------------------------


def _check_places(sheet: _Sheet) -> None:
    if len(sheet.places) < _FEWEST_TRAYS_COUNT:
        if not sheet.problems:
            sheet.wrong(
                "", f"{len(sheet.places)} trays", f"at least {_FEWEST_TRAYS_COUNT}, one row a tray"
            )
        return
    gaps = [right - left for left, right in zip(sheet.places, sheet.places[1:], strict=False)]
    usual = median(gaps)
    unit = sheet.place_unit
    size_m = units.parse(f"1 {unit}", "length")
    if usual <= 0:
        sheet.wrong("", "places that do not rise", "the trays from left to right, places rising")
        return
    for index, gap in enumerate(gaps, start=1):
        neighbours = sheet.order[index] == sheet.order[index - 1] + 1
        if neighbours and abs(gap - usual) > _SPACING_TOLERANCE_FRACTION * usual:
            sheet.wrong(
                f"line {sheet.lines[index]}, position",
                f"a tray {gap / size_m:.6g} {unit} after the one before",
                f"{usual / size_m:.6g} {unit}, the spacing of the row",
                "All trays must stand at one spacing.",
            )
    if max(sheet.places) < 0:
        sheet.wrong("", "every tray left of zero", "trays on both sides of the driving line")


def _check_runs(sheet: _Sheet) -> None:
    if sheet.problems:
        return
    for run, catches in enumerate(zip(*sheet.rows, strict=True), start=1):
        if not any(catches):
            sheet.wrong(f"run {run}", "nothing in any tray", "a run that caught seed")


def _tray_test(sheet: _Sheet, name: str) -> TrayTest:
    positions_m, assumed = positions_from_path(sheet.places)
    runs = tuple(tuple(run) for run in zip(*sheet.rows, strict=True))
    counted = sheet.run_columns[0][1] == _SEEDS
    return TrayTest(
        name=name,
        positions_m=positions_m,
        masses_kg=() if counted else runs,
        seeds_count=runs if counted else (),
        path_assumed_in_middle=assumed,
    )
