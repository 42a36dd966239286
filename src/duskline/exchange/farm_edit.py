"""Changing ``farm.toml`` from a form: what is not named in a change stays byte for byte.

A value comes as the text a person typed. The whole new text is checked with the models and the
cross checks that read it at any other time, and each problem is brought back to its key.
"""

from __future__ import annotations

import copy
import datetime as dt
import hashlib
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from duskline.exchange.farm_files import FOLDER_LOCK, keep, lot_renamed, write_atomic
from duskline.exchange.farm_form import FormKey, FormTable, form_tables
from duskline.exchange.farm_places import FieldProblem, check_text
from duskline.exchange.farm_toml import LARGEST_BYTES, read_farm_toml
from duskline.exchange.farm_values import (
    BOM,
    Entry,
    canon,
    content_of,
    entries_of,
    same,
    typed_of,
    value_at,
    value_of,
)
from duskline.exchange.farmfolder import TOML
from duskline.exchange.outlines import LARGEST_FILE_BYTES, read_bounded
from duskline.exchange.problems import FolderProblem, Problem
from duskline.exchange.toml_splice import (
    Section,
    Statement,
    inline_with,
    literal,
    newline_of,
    sections,
)

__all__ = [
    "MOST_CHANGES",
    "Change",
    "Edited",
    "apply_changes",
    "changed_text",
    "save_changes",
    "stamp",
]

MOST_CHANGES = 500
# Letters looked through for all changes: a farm's file is some 10,000, one of 1 MB a stranger's.
_MOST_WORK = 20_000_000
OUTLINES = "fields.geojson"


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One change a person made on a page.

    Attributes
    ----------
    what
        "set" a key to what was typed (nothing typed clears it), "clear" it, "add" an entry of
        a repeated table, "remove" one, or "rename" one and all that names it. To set the name
        of an entry is to rename it; changes after it may use the old name or the new one.
    table
        The table, as in the file.
    entry
        Which entry of a repeated table; the new one's name where one is added.
    key
        The key; "counted.passes" within a table of its own.
    typed
        The text, or the new name.
    """

    what: Literal["set", "clear", "add", "remove", "rename"]
    table: str
    entry: Entry = None
    key: str = ""
    typed: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Edited:
    """The text after the changes, all its problems, and whether it may be written.

    It may not where a change brought a problem that was not there before; what a new farm still
    lacks is no such problem. Where a change could not be made at all the text is the old one.

    Attributes
    ----------
    text
        The new text.
    problems
        Everything that is wrong with it, old and new.
    may_save
        Whether it may be written.
    beside
        Other files of the folder that a new name is followed into, with their new content.
    """

    text: str
    problems: tuple[FieldProblem, ...] = ()
    may_save: bool = True
    beside: Mapping[str, bytes] = field(default_factory=dict)

    @property
    def is_draft(self) -> bool:
        """Whether all that is wrong is what is not there yet."""
        return bool(self.problems) and all(one.lacking for one in self.problems)


class _NotDone(Exception):
    """A change cannot be made; carries the problem with its place."""

    def __init__(
        self, change: Change, read: str, expected: str, hint: str = "", entry: int | None = None
    ) -> None:
        super().__init__(read)
        where = ".".join(part for part in (change.table, change.key) if part)
        self.problem = FieldProblem(
            problem=Problem(file=TOML, where=where, read=read, expected=expected, hint=hint),
            table=change.table if change.table in form_tables() else "",
            entry=entry,
            key=change.key,
        )


def apply_changes(text: str, changes: Sequence[Change], *, folder: Path | None = None) -> Edited:
    """Return the text of a ``farm.toml`` with changes made in order, and its problems.

    Parameters
    ----------
    text
        The file's text, line ends as they are.
    changes
        What the person changed.
    folder
        The farm folder: the text is then also held against its other files.
    """
    edited, refused, renamed = _changed(text, changes)
    if refused:
        return Edited(text=text, problems=refused, may_save=False)
    beside = _beside(folder, renamed)
    after = check_text(edited, folder=folder, beside=beside)
    before = check_text(text, folder=folder) if after else ()
    may_save = _no_worse(before, after)
    return Edited(text=edited, problems=after, may_save=may_save, beside=beside)


def changed_text(
    text: str, changes: Sequence[Change], *, explain: bool = False
) -> tuple[str, tuple[FieldProblem, ...]]:
    """Return the text with changes made in order, or what stands in the way of making them.

    Parameters
    ----------
    explain
        Whether a line over each table that is new to the text tells what it holds.
    """
    edited, refused, _ = _changed(text, changes, explain=explain)
    return edited, refused


_Renamed = list[tuple[str, str, str]]


def _changed(
    text: str, changes: Sequence[Change], *, explain: bool = False
) -> tuple[str, tuple[FieldProblem, ...], _Renamed]:
    """Return the text with the changes made, what stands in their way, and new names in order."""
    try:
        content = content_of(text)
    except FolderProblem as wrong:
        return text, tuple(FieldProblem(problem=one) for one in wrong.problems), []
    book = _Book(text=text.removeprefix(BOM), content=content, explain=explain)
    refused = _run(book, changes)
    if refused:
        return text, tuple(refused), []
    return (BOM if text.startswith(BOM) else "") + book.text, (), book.renamed


def _beside(folder: Path | None, renamed: _Renamed) -> Mapping[str, bytes]:
    """Return the outlines with lots called by their new names, where they name any."""
    lots = [(old, new) for table, old, new in renamed if table == "lot"]
    if folder is None or not lots or not (folder / OUTLINES).is_file():
        return {}
    data, problems = read_bounded(folder / OUTLINES)
    if problems or len(data) > LARGEST_FILE_BYTES:
        return {}
    called = data
    for old, new in lots:
        called = lot_renamed(called, old, new)
    return {OUTLINES: called} if called != data else {}


def save_changes(
    folder: Path, changes: Sequence[Change], *, now: dt.datetime, seen: str = ""
) -> Edited:
    """Make changes to the ``farm.toml`` of a folder and write it where it is no worse for them.

    The old file is kept beside as ``kept/farm.toml.TIME``. A new name of a lot is followed into
    ``fields.geojson`` too; the log, which nobody may change, keeps the names it was written with.

    Parameters
    ----------
    now
        The time, for the name of the kept file.
    seen
        The ``stamp`` of the text that filled the form; another text on disk is left alone.

    Raises
    ------
    OSError
        The disk refuses; the old file is then whole.
    """
    path = folder / TOML
    with FOLDER_LOCK:
        raw = _read(path)
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError:
            problems = tuple(FieldProblem(problem=one) for one in read_farm_toml(raw)[2])
            return Edited(text="", problems=problems, may_save=False)
        if seen and seen != stamp(text):
            return Edited(text=text, problems=(_changed_meanwhile(),), may_save=False)
        edited = apply_changes(text, changes, folder=folder)
        if edited.may_save and edited.text != text:
            keep(folder, (TOML, *edited.beside), now=now)
            for name, data in edited.beside.items():
                write_atomic(folder / name, data)
            write_atomic(path, edited.text.encode("utf-8"))
        return edited


def _read(path: Path) -> bytes:
    """Return the file, at most a little more than is read of it; nothing where there is none."""
    if not path.is_file():
        return b""
    with path.open("rb") as file:
        return file.read(LARGEST_BYTES + 1)


def stamp(text: str) -> str:
    """Return a short mark of a text, to tell later whether it is still the same."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _changed_meanwhile() -> FieldProblem:
    return FieldProblem(
        problem=Problem(
            file=TOML,
            where="",
            read="a file that was changed since this page was opened",
            expected="the file as the page showed it",
            hint="Nothing was written. Open the page again and repeat the change.",
        )
    )


def _no_worse(before: Sequence[FieldProblem], after: Sequence[FieldProblem]) -> bool:
    """Say whether a text has no problem that the old one had not; a new farm may lack much."""
    known = {one.mark for one in before}
    was_whole = not any(one.lacking for one in before)
    return all(one.mark in known or (one.lacking and not was_whole) for one in after)


# ----------------------------------------------------------------------------------- the changes


def _run(book: _Book, changes: Sequence[Change]) -> list[FieldProblem]:
    """Make the changes in order; what stands in the way of any is returned."""
    before = book.text
    most = min(MOST_CHANGES, _MOST_WORK // max(1, len(before)))
    if len(changes) > most:
        return [_refused(f"{len(changes)} changes at once", f"at most {most} at once")]
    if sum(len(one.typed) for one in changes) > LARGEST_BYTES:
        return [_refused("more than 1 MB typed", "less text")]
    try:
        for change in changes:
            book.make(change)
        if changes and book.text != before:
            book.agree(changes[-1])
    except _NotDone as wrong:
        return [wrong.problem]
    return []


def _refused(read: str, expected: str) -> FieldProblem:
    return FieldProblem(problem=Problem(file=TOML, where="", read=read, expected=expected))


@dataclass(slots=True)
class _Book:
    """A text being changed, and beside it what it holds, which has to agree at the end."""

    text: str
    content: dict[str, Any]
    explain: bool = False
    renamed: _Renamed = field(default_factory=list)
    _read: tuple[str, list[Section]] | None = None

    @property
    def sections(self) -> list[Section]:
        """The sections of the text as it now is."""
        if self._read is None or self._read[0] is not self.text:
            self._read = (self.text, sections(self.text))
        return self._read[1]

    def make(self, change: Change) -> None:
        """Make one change; raises ``_NotDone`` with the reason where it cannot be."""
        table = form_tables().get(change.table)
        if table is None:
            raise _NotDone(change, f"the unknown table {change.table[:40]!r}", "a known table")
        typed = change.typed.encode("utf-8", "replace").decode("utf-8")
        if typed != change.typed:
            raise _NotDone(change, "letters that are none", "letters that can be printed")
        match change.what:
            case "add":
                self._add(change, table)
            case "remove":
                self._remove(change, table, self._number(change, table))
            case "rename":
                self._rename(change, table, self._number(change, table))
            case _:
                self._set_key(change, table)

    def agree(self, change: Change) -> None:
        """Hold the text against what it should now hold: a slip of the knife is not passed on.

        ``change`` is the last one made.
        """
        try:
            held = tomllib.loads(self.text)
        except (ValueError, RecursionError):
            held = None
        if held is None or canon(held) != canon(self.content):
            raise _NotDone(
                change,
                "a part of farm.toml that is written in a way pages cannot change",
                "the change made in the file itself",
            )

    # ------------------------------------------------------------------------- entries

    def _number(self, change: Change, table: FormTable) -> int:
        """Return the place of the entry that a change names."""
        entries = entries_of(self.content, table)
        if not table.repeated:
            return 0
        if isinstance(change.entry, int):
            number = change.entry if change.entry >= 0 else len(entries) + change.entry
            if 0 <= number < len(entries):
                return number
        found = [at for at, one in enumerate(entries) if one.get("name") == change.entry]
        for name, old, new in self.renamed if not found else ():
            if (name, old) == (table.table, change.entry):
                found = [at for at, one in enumerate(entries) if one.get("name") == new]
        if len(found) == 1 and isinstance(change.entry, str):
            return found[0]
        read = f"{change.entry!r}" if not found else f"{change.entry!r} twice"
        known = ", ".join(str(one.get("name", at + 1)) for at, one in enumerate(entries))
        hint = f"Known: {known[:200] or 'none'}."
        raise _NotDone(change, read, f"one of the {table.label.lower()}", hint)

    def _sections(self, table: FormTable, number: int) -> list[Section]:
        return [
            one for one in self.sections if one.path[:1] == (table.table,) and one.number == number
        ]

    def _add(self, change: Change, table: FormTable) -> None:
        if not table.repeated:
            raise _NotDone(change, "a second one", f"one [{table.table}] only")
        held: dict[str, Any] = {}
        if isinstance(change.entry, str) and table.named:
            if any(one.get("name") == change.entry for one in entries_of(self.content, table)):
                raise _NotDone(change, f"{change.entry!r} twice", "each name once")
            held["name"] = change.entry.strip()
        self._no_braces(change, table)
        self.content.setdefault(table.table, []).append(held)
        lines = [f"name = {literal(held['name'])}"] if held else []
        self._new_section(table, [f"[[{table.table}]]", *lines])

    def _remove(self, change: Change, table: FormTable, number: int) -> None:
        if table.table not in self.content:
            return
        self._no_braces(change, table)
        for section in reversed(self._sections(table, number)):
            after = section.end + _blank(self.text[section.end :])
            self.text = self.text[: section.start] + self.text[after:]
        held = self.content[table.table]
        if isinstance(held, list):
            del held[number]
        if not held or isinstance(held, dict):
            del self.content[table.table]

    def _rename(self, change: Change, table: FormTable, number: int) -> None:
        new = change.typed.strip()
        if not table.named:
            raise _NotDone(change, "a name", "a table whose entries have names")
        entries = entries_of(self.content, table)
        old = entries[number].get("name")
        if new == old:
            return
        if any(one.get("name") == new for one in entries):
            raise _NotDone(change, f"{new!r} twice", "each name once", entry=number)
        for other, at, key, value in list(self._naming(table.table, old)):
            self._put(change, other, at, key, value=_renamed(value, old, new))
        self._put(change, table, number, table.keys["name"], value=new)
        if isinstance(old, str):
            self.renamed.append((table.table, old, new))

    def _naming(self, table: str, name: object) -> Iterator[tuple[FormTable, int, FormKey, Any]]:
        """Give every key that names an entry, unless its name may be another table's too."""
        if not isinstance(name, str):
            return
        tables = form_tables()
        owners = {
            other.table
            for other in tables.values()
            if other.named
            and any(one.get("name") == name for one in entries_of(self.content, other))
        }
        alone = sum(one.get("name") == name for one in entries_of(self.content, tables[table])) == 1
        for other in tables.values():
            for key in other.keys.values():
                if not alone or table not in key.refers or owners & set(key.refers) != {table}:
                    continue
                for number, held in enumerate(entries_of(self.content, other)):
                    value = value_at(held, key.key.split("."))
                    if value == name or (isinstance(value, list) and name in value):
                        yield other, number, key, value

    # ---------------------------------------------------------------------------- keys

    def _set_key(self, change: Change, table: FormTable) -> None:
        key = table.keys.get(change.key)
        if key is None:
            known = ", ".join(table.keys)
            read = f"the unknown key {change.key[:40]!r}"
            raise _NotDone(change, read, "a known key", f"Known keys: {known}.")
        number = self._number(change, table)
        if table.named and change.key == "name" and change.what == "set" and change.typed.strip():
            self._rename(change, table, number)
            return
        clears = change.what == "clear" or not change.typed.strip()
        if clears and change.what == "set" and self._is_empty(table, number, change.key):
            return
        value = None if clears else value_of(key, change.typed)
        if isinstance(value, list) and not value:
            value = None
        self._put(change, table, number, key, value=value)

    def _is_empty(self, table: FormTable, number: int, key: str) -> bool:
        """Say whether a key is there and shows nothing in a form: an empty list or text."""
        entries = entries_of(self.content, table)
        held = entries[number] if number < len(entries) else {}
        return not typed_of(value_at(held, key.split(".")) or "").strip()

    def _put(
        self, change: Change, table: FormTable, number: int, key: FormKey, *, value: Any
    ) -> None:
        """Set a key to a value, or take it out where the value is None."""
        path = key.key.split(".")
        entries = entries_of(self.content, table)
        old = value_at(entries[number], path) if number < len(entries) else None
        if (old is None and value is None) or same(old, value):
            return
        if old is not None and value is not None and typed_of(old) == typed_of(value):
            return
        self._no_braces(change, table)
        if value is None:
            self._cut(table, number, path)
        else:
            self._write(table, number, path, value)
        self._keep_content(table, number, path, value)

    def _keep_content(self, table: FormTable, number: int, path: list[str], value: Any) -> None:
        if table.repeated:
            held: dict[str, Any] = self.content[table.table][number]
        else:
            held = self.content.setdefault(table.table, {})
        within = held
        for name in path[:-1]:
            within = within.setdefault(name, {})
        if value is not None:
            within[path[-1]] = copy.deepcopy(value)
            return
        within.pop(path[-1], None)
        if len(path) > 1 and not within:
            del held[path[0]]

    def _no_braces(self, change: Change, table: FormTable) -> None:
        """Refuse a table that is written without a heading of its own."""
        first = self.sections[0]
        if any(one.path[0] == table.table for one in first.pairs):
            heading = f"[[{table.table}]]" if table.repeated else f"[{table.table}]"
            raise _NotDone(
                change,
                f"{table.table} written in one line of farm.toml",
                f"{heading} on a line of its own and its keys below",
                "Change it in the file; then it can be edited here.",
            )

    def _find(
        self, table: FormTable, number: int, path: list[str]
    ) -> tuple[Statement, list[str]] | None:
        """Return the statement that holds a key, and the names that lie within its braces."""
        for section in self._sections(table, number):
            for one in section.pairs:
                full = [*section.path[1:], *one.path]
                if full == path[: len(full)]:
                    return one, path[len(full) :]
        return None

    def _write(self, table: FormTable, number: int, path: list[str], value: Any) -> None:
        found = self._find(table, number, path)
        if found is None:
            self._insert(table, number, path, value)
            return
        one, within = found
        old = self.text[one.value_start : one.value_end]
        new = inline_with(old, within, value) if within else literal(value, old)
        self.text = self.text[: one.value_start] + new + self.text[one.value_end :]

    def _cut(self, table: FormTable, number: int, path: list[str]) -> None:
        found = self._find(table, number, path)
        if found is None:
            return
        one, within = found
        old = self.text[one.value_start : one.value_end]
        left = inline_with(old, within, None) if within else ""
        if left.strip("{} \t"):
            self.text = self.text[: one.value_start] + left + self.text[one.value_end :]
            return
        self.text = self.text[: one.start] + self.text[one.end :]
        for section in self._sections(table, number):
            if len(section.path) > 1 and not section.pairs and section.path[1:] == tuple(path[:-1]):
                self.text = self.text[: section.start] + self.text[section.end :]
                return

    def _insert(self, table: FormTable, number: int, path: list[str], value: Any) -> None:
        """Write a key that was not there, where the models' order has it."""
        own = self._sections(table, number)
        main = next((one for one in own if len(one.path) == 1), None)
        within = next((one for one in own if list(one.path[1:]) == path[:-1]), None)
        if len(path) > 1 and within is None:
            dotted = main is not None and any(
                one.path[0] == path[0] and len(one.path) > 1 for one in main.pairs
            )
            line = (
                f"{'.'.join(path)} = {literal(value)}"
                if dotted
                else f"{path[0]} = {{ {path[1]} = {literal(value)} }}"
            )
        else:
            line, main = f"{path[-1]} = {literal(value)}", within or main
        if main is None:
            self._new_section(table, [f"[{table.table}]", line])
            return
        self._lines_at(_place_in(main, table, ".".join(path)), [line])

    def _new_section(self, table: FormTable, lines: list[str]) -> None:
        """Write a heading with its keys after the last section that comes before it."""
        order = list(form_tables())
        rank = order.index(table.table)
        before = [
            one
            for one in self.sections
            if one.path and one.path[0] in order and order.index(one.path[0]) <= rank
        ]
        if self.explain and not any(one.path[0] == table.table for one in before):
            lines = [f"# {table.about}", *lines]
        at = before[-1].end_with_comments if before else len(self.text)
        blank = [""] if self.text[:at].strip() else []
        rest = self.text[at:]
        below = [""] if rest.strip() and not _blank(rest) else []
        self._lines_at(at, [*blank, *lines, *below])

    def _lines_at(self, at: int, lines: list[str]) -> None:
        line_end = newline_of(self.text)
        opens = line_end if at and not self.text[:at].endswith("\n") else ""
        written = opens + "".join(f"{line}{line_end}" for line in lines)
        self.text = self.text[:at] + written + self.text[at:]


def _renamed(value: Any, old: object, new: str) -> Any:
    if isinstance(value, list):
        return [new if item == old else item for item in value]
    return new


def _blank(text: str) -> int:
    """Return how many letters of blank lines a text begins with."""
    return len(text) - len(re.sub(r"\A(?:[ \t]*\r?\n)+", "", text))


def _place_in(section: Section, table: FormTable, key: str) -> int:
    """Return where in a section a new key goes: after the last one that comes before it."""
    order = {name: at for at, name in enumerate(table.keys)}
    for name in table.keys:
        order.setdefault(name.split(".")[0], order[name])
    at = section.heading.end if section.heading is not None else 0
    best = -1
    for one in section.pairs:
        name = ".".join((*section.path[1:], *one.path))
        rank = order.get(name, order.get(one.path[0], -1))
        if best < rank <= order.get(key, len(order)):
            at, best = one.end, rank
    return at
