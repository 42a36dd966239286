"""The season for a custom operator as a folder or zip of tables and letters.

For each customer a table and a text, for each crew its days, and the acres all told. A customer's
files hold nothing of another customer's.
"""

from __future__ import annotations

import csv
import io
import os
import re
import tempfile
import unicodedata
import zipfile
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from duskline.core.errors import DusklineError
from duskline.core.farm import Acres
from duskline.exchange.calendar_ics import DayPlan, FieldVisit, SownBetween, plain
from duskline.units import System, show, to_display
from duskline.words.clock import arrival, no_later, no_sooner
from duskline.words.season import day_date

__all__ = [
    "FieldNotListed",
    "FieldTwice",
    "SeasonField",
    "season_files",
    "season_zip",
    "write_season_folder",
]

_BOM = "\ufeff"
# What a spreadsheet takes for the start of a formula; the wide forms are folded by some.
_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_OURS = re.compile(
    r"(customers/\d{2,}-[a-z0-9-]+\.(csv|txt)|crews/\d{2,}-[a-z0-9-]+\.csv"
    r"|letters\.csv|fields\.csv|totals\.csv)"
)
_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
Key = tuple[str, str]
Row = Sequence[str]


class FieldNotListed(DusklineError, ValueError):
    """A day visits a field that is not among the fields of the season."""

    def __init__(self, *, name: str, customer: str) -> None:
        super().__init__(f"{name} of {customer or 'the farm'} is visited but not listed")
        self.name = name
        self.customer = customer


class FieldTwice(DusklineError, ValueError):
    """One customer has two fields of one name."""

    def __init__(self, *, name: str, customer: str) -> None:
        super().__init__(f"{name} of {customer or 'the farm'} is listed twice")
        self.name = name
        self.customer = customer


@dataclass(frozen=True, kw_only=True, slots=True)
class SeasonField:
    """A field of the season, whether it has a day or not; "" as customer is the farm's own."""

    name: str
    lot: str
    acres: Acres
    customer: str = ""


def season_files(
    days: Sequence[DayPlan],
    fields: Sequence[SeasonField],
    *,
    farm: str,
    on: date,
    system: System,
) -> dict[str, str]:
    """Return the export: the text of each file by its name, slashes between folder and file.

    Parameters
    ----------
    days
        The plan.
    fields
        Every field of the season; those without a day are named as such.
    farm
        Who writes to the customer.
    on
        The day the plan was made.
    system
        Of acres and clock times.

    Returns
    -------
    dict
        ``customers/01-name.csv`` and ``.txt``, ``crews/01-name.csv``, ``letters.csv`` (each
        customer's text in a row, for a mail merge), ``fields.csv`` and ``totals.csv``.

    Raises
    ------
    FieldNotListed
        A day visits a field that is not in ``fields``.
    FieldTwice
        A customer has two fields of one name.

    Notes
    -----
    Texts that a spreadsheet would run as a formula get an apostrophe before them. Times of
    arrival are rounded outwards to five minutes. Areas on file are never altered: planned,
    outline, driven and office stand side by side, and one that is not known is left empty.
    """
    season = _Season.of(days, fields, farm=farm, on=on, system=system)
    files: dict[str, str] = {}
    letters = []
    customers = sorted({field.customer for field in fields})
    for name, stem in _stems(customers, "own").items():
        letter = season.letter(name)
        files[f"customers/{stem}.csv"] = _table(
            season.field_head(), season.field_rows(name, with_customer=False)
        )
        files[f"customers/{stem}.txt"] = letter
        letters.append((_cell(name), _cell(letter.strip(), lines=True)))
    for crew, stem in _stems(sorted({day.crew for day in days}), "crew").items():
        files[f"crews/{stem}.csv"] = _table(season.crew_head(), season.crew_rows(crew))
    files["letters.csv"] = _table(("customer", "text"), letters)
    files["fields.csv"] = _table(
        ("customer", *season.field_head()),
        [row for name in customers for row in season.field_rows(name, with_customer=True)],
    )
    files["totals.csv"] = _table(season.total_head(), season.total_rows())
    return files


def season_zip(files: Mapping[str, str], *, bom: bool = False) -> bytes:
    """Return the export as a zip; the same plan gives the same bytes.

    Parameters
    ----------
    bom
        Begin each table with the mark by which older spreadsheets know UTF-8.
    """
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in sorted(files.items()):
            info = zipfile.ZipInfo(name, _ZIP_DATE)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            archive.writestr(info, _encoded(name, text, bom=bom))
    return whole.getvalue()


def write_season_folder(path: Path, files: Mapping[str, str], *, bom: bool = False) -> bool:
    """Write the export as a folder, whole or not at all, over an older export of that name.

    Files in it that are no part of an export stay.

    Returns
    -------
    bool
        Whether anything in it is different now.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    content = {name: _encoded(name, text, bom=bom) for name, text in files.items()}
    before = _read_folder(path)
    if {name: text for name, text in before.items() if _is_ours(name)} == content:
        return False
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=".season-") as beside:
        whole, old = Path(beside) / "whole", Path(beside) / "old"
        others = {name: text for name, text in before.items() if not _is_ours(name)}
        for name, text in (others | content).items():
            target = whole / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(text)
        replaced = path.is_dir()
        if replaced:
            os.rename(path, old)
        try:
            os.rename(whole, path)
        except OSError:
            if replaced:
                os.rename(old, path)
            raise
    return True


def _read_folder(path: Path) -> dict[str, bytes]:
    """Return every file of a folder by its name under it."""
    return {
        one.relative_to(path).as_posix(): one.read_bytes()
        for one in sorted(path.rglob("*"))
        if one.is_file()
    }


def _is_ours(name: str) -> bool:
    """Say whether a file of an export's folder is one that an export writes."""
    return _OURS.fullmatch(name) is not None


# --- the season sorted by customer and crew ----------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class _Season:
    days: tuple[DayPlan, ...]
    fields: Mapping[Key, SeasonField]
    visits: Mapping[Key, tuple[tuple[DayPlan, FieldVisit], ...]]
    farm: str
    on: date
    system: System

    @classmethod
    def of(
        cls,
        days: Sequence[DayPlan],
        fields: Sequence[SeasonField],
        *,
        farm: str,
        on: date,
        system: System,
    ) -> _Season:
        known: dict[Key, SeasonField] = {}
        for field in sorted(fields, key=lambda one: (one.customer, one.name)):
            if (field.customer, field.name) in known:
                raise FieldTwice(name=field.name, customer=field.customer)
            known[field.customer, field.name] = field
        visits: dict[Key, list[tuple[DayPlan, FieldVisit]]] = defaultdict(list)
        ordered = tuple(sorted(days, key=lambda day: (day.on, day.crew, day.opens_at)))
        for day in ordered:
            for visit in day.fields if not day.called_off else ():
                if (visit.customer, visit.name) not in known:
                    raise FieldNotListed(name=visit.name, customer=visit.customer)
                visits[visit.customer, visit.name].append((day, visit))
        return cls(
            days=ordered,
            fields=known,
            visits={key: tuple(found) for key, found in visits.items()},
            farm=farm,
            on=on,
            system=system,
        )

    # ------------------------------------------------------------------ figures

    @property
    def unit(self) -> str:
        return to_display(0.0, "area", self.system)[1]

    def area(self, area_m2: float | None) -> str:
        """An area as a bare figure to a tenth, for a column that names its unit."""
        return "" if area_m2 is None else f"{to_display(area_m2, 'area', self.system)[0]:.1f}"

    def planned_m2(self, key: Key) -> float:
        return sum(visit.area_m2 for _, visit in self.visits.get(key, ()))

    def four_areas(self, keys: Iterable[Key]) -> tuple[str, ...]:
        """Planned, outline, driven, office; a sum of those known, empty where none is."""
        keys = list(keys)
        acres = [self.fields[key].acres for key in keys]
        sums: list[float | None] = [
            sum(self.planned_m2(key) for key in keys),
            sum(one.outline_m2 for one in acres),
        ]
        for on_file in ([a.driven_m2 for a in acres], [a.office_m2 for a in acres]):
            known = [area for area in on_file if area is not None]
            sums.append(sum(known) if known else None)
        return tuple(self.area(one) for one in sums)

    def keys(self, customer: str) -> list[Key]:
        return [key for key in self.fields if key[0] == customer]

    # ------------------------------------------------------------------ tables

    def field_head(self) -> Row:
        areas = [f"{what} ({self.unit})" for what in ("planned", "outline", "driven", "office")]
        return ("field", "lot", "date", "there from", "there by", "done from", "done by", "crew",
                "part", *areas)  # fmt: skip

    def field_rows(self, customer: str, *, with_customer: bool) -> list[Row]:
        """A row for each visit; the areas on file stand in a field's first row alone.

        A day no forecast reaches has no hours but the dates between which the field is done.
        """
        rows: list[Row] = []
        for key in self.keys(customer):
            field = self.fields[key]
            head = (_cell(customer),) if with_customer else ()
            on_file = self.four_areas([key])[1:]
            visits = self.visits.get(key, ())
            for place, (day, visit) in enumerate(visits):
                rows.append((
                    *head, _cell(field.name), _cell(visit.lot), day.on.isoformat(),
                    *(self.window(visit) if visit.between is None else ("", "")),
                    *_dates(visit.between), _cell(day.crew), "part" if visit.is_part else "",
                    self.area(visit.area_m2), *(("",) * 3 if place else on_file),
                ))  # fmt: skip
            if not visits:
                rows.append((
                    *head, _cell(field.name), _cell(field.lot), *("",) * 6, "no day yet",
                    self.area(0.0), *on_file,
                ))  # fmt: skip
        return rows

    def crew_head(self) -> Row:
        return (
            "date", "starts", "stop spreading", "all worked in by", "stop", "field", "customer",
            "lot", "part", "there from", "there by", f"planned ({self.unit})",
        )  # fmt: skip

    def crew_rows(self, crew: str) -> list[Row]:
        """A row for each field in driving order; a day called off is a row of its own."""
        rows: list[Row] = []
        for day in (one for one in self.days if one.crew == crew):
            if day.called_off:
                why = _cell(f"no work: {day.called_off}")
                rows.append((day.on.isoformat(), *("",) * 4, why, *("",) * 6))
                continue
            hours = [no_later(at, self.system) for at in (day.opens_at, day.stop_at, day.closes_at)]
            for place, visit in enumerate(day.fields, start=1):
                rows.append((
                    day.on.isoformat(), *hours, str(place), _cell(visit.name),
                    _cell(visit.customer), _cell(visit.lot), "part" if visit.is_part else "",
                    *self.window(visit), self.area(visit.area_m2),
                ))  # fmt: skip
        return rows

    def total_head(self) -> Row:
        areas = [f"{what} ({self.unit})" for what in ("planned", "outline", "driven", "office")]
        return ("total of", "name", "fields", *areas, "fields without a day",
                "fields without an office area")  # fmt: skip

    def total_rows(self) -> list[Row]:
        """By customer, then lot, crew and day (planned alone), then all."""
        rows: list[Row] = [
            ("customer", _cell(name), *self.counts(self.keys(name)))
            for name in dict.fromkeys(key[0] for key in self.fields)
        ]
        shared: dict[tuple[str, str], list[tuple[Key, float]]] = defaultdict(list)
        for key, visits in self.visits.items():
            for day, visit in visits:
                for per in (("lot", visit.lot), ("crew", day.crew), ("date", day.on.isoformat())):
                    shared[per].append((key, visit.area_m2))
        for kind in ("lot", "crew", "date"):
            for (what, name), parts in sorted(shared.items()):
                if what == kind:
                    fields = len({key for key, _ in parts})
                    planned = self.area(sum(area_m2 for _, area_m2 in parts))
                    rows.append((kind, _cell(name), str(fields), planned, *("",) * 5))
        return [*rows, ("all", "", *self.counts(list(self.fields)))]

    def counts(self, keys: Sequence[Key]) -> Row:
        no_day = sum(not self.visits.get(key) for key in keys)
        no_office = sum(self.fields[key].acres.office_m2 is None for key in keys)
        return (str(len(keys)), *self.four_areas(keys), str(no_day), str(no_office))

    def window(self, visit: FieldVisit) -> tuple[str, str]:
        """From when to when the crew may get there, rounded outwards."""
        return (
            no_later(visit.about_from_at, self.system),
            no_sooner(visit.about_to_at, self.system),
        )

    # ------------------------------------------------------------------ letters

    def letter(self, customer: str) -> str:
        """The text for one customer, in plain sentences."""
        keys = self.keys(customer)
        placed = sorted(
            (key for key in keys if self.visits.get(key)),
            key=lambda key: (self.visits[key][0][0].on, self.visits[key][0][1].about_from_at),
        )
        to = plain(customer)
        lines = [
            f"{'To ' + to if to else 'Our own fields'}: {plain(self.farm)}'s plan of "
            f"{self.date(self.on)}{',' if self.system == 'us' else ''} {self.on.year}.",
        ]
        if placed:
            area = show(sum(self.planned_m2(key) for key in placed), "area", self.system)
            many = "1 field" if len(placed) == 1 else f"{len(placed)} fields"
            lines.append(
                f"We plan to spread {many}, {area} in all, and to work the seed in the same day."
            )
        lines += [line for key in placed for line in self.visit_lines(key)]
        waiting = [key for key in keys if key not in placed]
        if waiting:
            names = ", ".join(
                f"{plain(key[1])} ({show(self.fields[key].acres.outline_m2, 'area', self.system)})"
                for key in waiting
            )
            lines.append(f"No day yet: {names}. We will tell you when there is one.")
        lines += [line for key in keys for line in self.acre_lines(key)]
        if any(visit.between for key in placed for _, visit in self.visits[key]):
            lines.append(
                "We will tell you the day and the hour once the forecast reaches that far."
            )
        lines.append("Rain, dew or wind can move a day; we will tell you if it does.")
        return "\n".join(lines) + "\n"

    def visit_lines(self, key: Key) -> list[str]:
        lines = []
        for day, visit in self.visits[key]:
            area = show(visit.area_m2, "area", self.system)
            part = "part of it, " if visit.is_part else ""
            lot = f" of {plain(visit.lot)}" if plain(visit.lot) else ""
            when = self.day_text(day, visit) if visit.between is None else self.days_text(visit)
            lines.append(f"{plain(key[1])}, {part}{area}{lot}: {when}")
        return lines

    def day_text(self, day: DayPlan, visit: FieldVisit) -> str:
        """The day with the hours of arrival."""
        when = arrival(visit.about_from_at, visit.about_to_at, self.system)
        return f"{self.date(day.on)}. We expect to be there {when}."

    def days_text(self, visit: FieldVisit) -> str:
        """The days between which the field is done, where no forecast tells the hours."""
        days = visit.between
        if days is None:
            return ""
        whole = "the whole field is " if visit.is_part else ""
        last = self.date(days.last_on)
        if days.early_on is None:
            return f"{whole}most likely not done by {last}."
        first = self.date(days.early_on)
        if days.late_on is None:
            return f"{whole}done on {first} or later, in 9 seasons of 10; perhaps not by {last}."
        if days.late_on == days.early_on:
            return f"{whole}done on {first}, in 8 seasons of 10."
        comma = "," if self.system == "us" else ""
        return (
            f"{whole}done between {first}{comma} and {self.date(days.late_on)}{comma}"
            " in 8 seasons of 10."
        )

    def date(self, on: date) -> str:
        return day_date(on, self.system)

    def acre_lines(self, key: Key) -> list[str]:
        """What to ask the customer where the office has other acres than the outline."""
        acres = self.fields[key].acres
        outline = show(acres.outline_m2, "area", self.system)
        if acres.office_m2 is None or show(acres.office_m2, "area", self.system) == outline:
            return []
        office = show(acres.office_m2, "area", self.system)
        return [
            f"{plain(key[1])}: the outline measures {outline}, the office has {office}. "
            "Please tell us which holds for the bill."
        ]


def _dates(days: SownBetween | None) -> tuple[str, str]:
    """Return the dates between which a field is done; empty where not known or after the plan."""
    if days is None:
        return ("", "")
    first, last = ("" if on is None else on.isoformat() for on in (days.early_on, days.late_on))
    return (first, last)


# --- text and bytes ----------------------------------------------------------------------------


def _table(head: Row, rows: Iterable[Row]) -> str:
    """Return a table as RFC 4180 has it, lines ending in CRLF."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows(rows)
    return text.getvalue()


def _cell(text: str, *, lines: bool = False) -> str:
    """Return a person's text for a table: harmless to a spreadsheet, on one line."""
    kept = "\n".join(plain(line) for line in text.split("\n")) if lines else plain(text)
    return f"'{kept}" if kept.startswith(_FORMULA) else kept


def _stems(names: Sequence[str], empty: str) -> dict[str, str]:
    """Return a file name for each: a number for uniqueness, then plain letters."""
    wide = max(2, len(str(len(names))))
    return {
        name: f"{place:0{wide}d}-{_slug(name) or empty}"
        for place, name in enumerate(names, start=1)
    }


def _slug(name: str) -> str:
    letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", letters.lower()).strip("-")[:40].strip("-")


def _encoded(name: str, text: str, *, bom: bool) -> bytes:
    return f"{_BOM if bom and name.endswith('.csv') else ''}{text}".encode()
