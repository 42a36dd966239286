"""Changing what is known of a field from a form: the outlines' file stays letter for letter else.

Outlines in another form than GeoJSON become ``fields.geojson``, as when a file is brought. The
folder is read with the change before anything is written; each problem comes back to its key.
"""

from __future__ import annotations

import copy
import datetime as dt
import hashlib
import json
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from duskline.exchange.farm_edit import OUTLINES, Change, changed_text
from duskline.exchange.farm_files import (
    FOLDER_LOCK,
    as_geojson,
    folder_with,
    keep,
    put_away,
    write_atomic,
)
from duskline.exchange.farm_form import FormKey, form_tables
from duskline.exchange.farm_places import FieldProblem
from duskline.exchange.farm_toml import LARGEST_BYTES
from duskline.exchange.farm_values import canon, content_of, entries_of, typed_of, value_at
from duskline.exchange.farm_values import value_of as value_of_key
from duskline.exchange.farmfolder import TOML, read_folder
from duskline.exchange.field_facts import read_facts, shown
from duskline.exchange.fields_form import FIELD, FieldKey, field_keys
from duskline.exchange.json_splice import cut, items, put, span, value_of_json
from duskline.exchange.outlines import LARGEST_FILE_BYTES, FieldShape, read_bounded
from duskline.exchange.problems import FolderProblem, Problem
from duskline.exchange.vectorfiles import FIELD_FILES, WALKS_FOLDER, read_field_files
from duskline.units import System

__all__ = [
    "MOST_ENTRIES",
    "OUT",
    "FieldSaved",
    "FieldView",
    "FieldsView",
    "delete_field",
    "save_field",
    "typed_value",
    "view_fields",
]

MOST_ENTRIES = 200
"""Entries of one list of a field that a form shows and takes."""
OUT = "out"
"""Typed under the path of an entry ("edges.0"): it is taken out."""

MOST_TYPED = 10_000
_MOST_PATHS = 3000
_OTHERS_SHOWN = 60
_BOM = "\ufeff"
_FIELD = 'field "'
_LONGEST_WHERE = 200
_PLACE = re.compile(r"^(?:line|feature) \d+(?:, |$)")
_PLAIN_NUMBER = re.compile(r"\d{1,6}(\.\d{1,6})?")
_WRITTEN_MOMENT = re.compile(r"^(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2})$")
_MOMENT = re.compile(r"(\d{4}-\d{2}-\d{2}) (\d{2}:\d{2})")
_KEY_NAMES = re.compile(r"\b(?:ready_from|ready_early|ready_late)\b")
_FORMS = {
    "place": 'longitude, then latitude, such as "{}"',
    "yes or no": "yes or no",
    "date": 'a day such as "{}"',
    "whole number": 'a whole number such as "{}"',
}


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldView:
    """One field as a form shows it.

    Attributes
    ----------
    name
        Its name.
    values
        What stands in each property as a person would type it; an entry of a list by its
        place: "edges.0.side".
    counts
        How many entries each list has.
    drawn
        How many corners are drawn of an entry of left-out ground: "left_out.0".
    unread
        Lists that hold something else, as it may stand in a sentence.
    others
        Properties of other programs, as they may stand in a sentence; they are kept.
    pieces
        Ground left out of it that the file draws as features of its own.
    shape
        Its outline and facts; None where the outline cannot be used.
    problems
        What is wrong with it, by key.
    stamp
        A short mark of how it is written, to tell later whether it still is.
    """

    name: str
    values: Mapping[str, str]
    counts: Mapping[str, int]
    drawn: Mapping[str, int]
    unread: Mapping[str, str]
    others: Mapping[str, str]
    pieces: tuple[str, ...]
    shape: FieldShape | None
    problems: tuple[FieldProblem, ...]
    stamp: str


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldsView:
    """All fields of a folder in the order of the file, and what is wrong with the file."""

    fields: tuple[FieldView, ...] = ()
    problems: tuple[Problem, ...] = ()
    file: str = OUTLINES

    def named(self, name: str) -> FieldView | None:
        """Return the field of a name, if there is one."""
        return next((one for one in self.fields if one.name == name), None)


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldSaved:
    """What became of a change.

    Attributes
    ----------
    name
        What the field is now called.
    problems
        What stands in the way; nothing was written then.
    asks
        Whether only a confirmation stands in the way.
    followed
        Whether ``farm.toml`` was changed too.
    """

    name: str
    problems: tuple[FieldProblem, ...] = ()
    asks: bool = False
    followed: bool = False


class _NotDone(Exception):
    """A change cannot be made; carries the problems."""

    def __init__(self, *problems: FieldProblem, asks: bool = False) -> None:
        super().__init__("not done")
        self.problems = problems
        self.asks = asks


def view_fields(
    folder: Path, *, problems: Sequence[Problem] | None = None, system: System = "us"
) -> FieldsView:
    """Return every field of a farm folder with what is known of it.

    Parameters
    ----------
    problems
        What is wrong in the folder, where it was just read.
    system
        The reader's units, for the right forms in what is wrong.
    """
    try:
        source = _source(folder)
    except _NotDone as wrong:
        return FieldsView(problems=tuple(one.problem for one in wrong.problems))
    shapes = {shape.name: shape for shape in source.shapes}
    pieces: dict[str, list[str]] = {}
    for feature in source.features:
        if (of := _left_out_of(feature)) is not None:
            pieces.setdefault(of, []).append(shown(_properties(feature).get("what")).strip('"'))
    found = list(problems) if problems is not None else _problems(folder)
    names = {
        name: number
        for number, feature in reversed(list(enumerate(source.features)))
        if _left_out_of(feature) is None and (name := _name(feature)) is not None
    }
    by_name = _by_name(found, names)
    fields = []
    for name, number in sorted(names.items(), key=lambda one: one[1]):
        properties = _properties(source.features[number])
        fields.append(
            _view(
                name,
                properties,
                shape=shapes.get(name),
                pieces=tuple(pieces.get(name, ())),
                problems=tuple(
                    _placed(one, name, number, properties, system) for one in by_name.get(name, ())
                ),
                stamp=_stamp(source.written(number)),
            )
        )
    return FieldsView(fields=tuple(fields), problems=tuple(found), file=source.file)


def _by_name(problems: Sequence[Problem], names: Mapping[str, int]) -> dict[str, list[Problem]]:
    """Return the problems of each field; one pass, as a stranger's file may have many of both."""
    numbered = {f"feature {number + 1}, name": name for name, number in names.items()}
    found: dict[str, list[Problem]] = {}
    for problem in problems:
        where = problem.where
        owner = numbered.get(where)
        if owner is None and where.startswith(_FIELD):
            ends = (at for at, letter in enumerate(where[:_LONGEST_WHERE]) if letter == '"')
            called = (
                where[len(_FIELD) : at] for at in ends if where[at + 1 : at + 3] in ("", ", ")
            )
            owner = next((name for name in called if name in names), None)
        if owner is not None:
            found.setdefault(owner, []).append(problem)
    return found


def _view(
    name: str,
    properties: Mapping[str, Any],
    *,
    shape: FieldShape | None,
    pieces: tuple[str, ...],
    problems: tuple[FieldProblem, ...],
    stamp: str,
) -> FieldView:
    values: dict[str, str] = {}
    counts: dict[str, int] = {}
    drawn: dict[str, int] = {}
    unread: dict[str, str] = {}
    for key, one in field_keys().items():
        held = properties.get(key)
        if not one.parts:
            values[key] = _typed(held, one.form)
            continue
        entries = _entries(held)
        counts[key] = len(entries)
        if (held is not None and not isinstance(held, list)) or len(entries) != len(held or ()):
            unread[key] = shown(held)
        for number, entry in enumerate(entries[:MOST_ENTRIES]):
            for part, form in one.parts.items():
                own = entry.get(_own(entry, key, part))
                values[f"{key}.{number}.{part}"] = _typed(own, form)
            if isinstance(ring := entry.get("ring"), list) and key == "left_out":
                drawn[f"{key}.{number}"] = len(ring)
    others = {
        key[:60]: shown(value)
        for key, value in list(properties.items())[: _OTHERS_SHOWN + len(values)]
        if key not in field_keys() and value is not None
    }
    return FieldView(
        name=name, values=values, counts=counts, drawn=drawn, unread=unread, others=others,
        pieces=pieces, shape=shape, problems=problems, stamp=stamp,
    )  # fmt: skip


def save_field(
    folder: Path,
    name: str,
    typed: Mapping[str, str],
    *,
    now: dt.datetime,
    seen: str = "",
    told: Collection[str] = (),
    system: System = "us",
) -> FieldSaved:
    """Change what is known of a field and write it where the farm is no worse for it.

    The files as they were are kept beside as ``kept/NAME.TIME``. A new name is followed into
    ``farm.toml`` and to the ground the file leaves out of the field.

    Parameters
    ----------
    name
        The field.
    typed
        What was typed, by key as in ``FieldView.values``; a place after the last entry makes a
        new one, ``OUT`` under an entry's own path takes it out. What is left as it was is no
        change.
    now
        The time, for the names of the kept files.
    seen
        The stamp of the field that filled the form; written otherwise by now, it is left alone.
    told
        The fields that the log names; they keep their names.
    system
        The reader's units, for the right forms in what is wrong.

    Raises
    ------
    OSError
        The disk refuses; the files are then as they were.
    """
    with FOLDER_LOCK:
        try:
            source = _source(folder)
            number = _number(source, name, seen)
            old = source.written(number)
            new = _edited(old, typed)
            if new == old:
                return FieldSaved(name=name)
            called = _name(value_of_json(new)) or ""
            after = source.with_feature(number, new)
            toml = None
            if called != name:
                _check_name(source, name, called, told)
                after = _pieces_renamed(after, name, called)
                toml = _toml_renamed(folder, name, called)
            files = _files(after, toml)
            _check(folder, files, source, (name, called), number, _properties_of(new), system)
        except _NotDone as wrong:
            return FieldSaved(name=name, problems=wrong.problems, asks=wrong.asks)
        _write(folder, files, source.goes, now)
        return FieldSaved(name=called, followed=toml is not None)


def delete_field(
    folder: Path,
    name: str,
    *,
    now: dt.datetime,
    seen: str = "",
    told: Collection[str] = (),
    confirmed: bool = False,
) -> FieldSaved:
    """Take a field out of the outlines, and what ``farm.toml`` says of it.

    The files as they were are kept beside as ``kept/NAME.TIME``.

    Parameters
    ----------
    now, seen, told
        As for ``save_field``.
    confirmed
        Whether it goes although the log has work in it.

    Raises
    ------
    OSError
        The disk refuses; the files are then as they were.
    """
    with FOLDER_LOCK:
        try:
            source = _source(folder)
            number = _number(source, name, seen)
            if name in told and not confirmed:
                raise _NotDone(
                    _wrong(
                        name,
                        "a field that the log has work in",
                        "a field nobody has worked in",
                        "Say below that you are sure: the log keeps its work, "
                        "but no plan counts it any more.",
                    ),
                    asks=True,
                )
            after = _without(source, name)
            toml = _toml_without(folder, name)
            files = _files(after, toml)
            _check(folder, files, source, (name, name), number, {}, "us")
        except _NotDone as wrong:
            return FieldSaved(name=name, problems=wrong.problems, asks=wrong.asks)
        _write(folder, files, source.goes, now)
        return FieldSaved(name=name, followed=toml is not None)


# ----------------------------------------------------------------------------------- the source


@dataclass(kw_only=True, slots=True)
class _Source:
    """The outlines as GeoJSON, whatever form they are in.

    ``goes`` are the files that give way where it is written.
    """

    file: str
    text: str
    shapes: Sequence[FieldShape]
    goes: tuple[str, ...] = ()
    features: list[Any] = field(default_factory=list)
    spans: list[tuple[int, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        document = value_of_json(self.text.removeprefix(_BOM))
        assert isinstance(document, dict)  # noqa: S101 its fields were read before
        alone = document.get("type") == "Feature"
        self.features = [document] if alone else document["features"]
        whole = span(self._bare, ())
        self.spans = [whole] if alone and whole else items(self._bare, ("features",))

    @property
    def _bare(self) -> str:
        return self.text.removeprefix(_BOM)

    def written(self, number: int) -> str:
        """The text of one feature."""
        start, end = self.spans[number]
        return self._bare[start:end]

    def with_feature(self, number: int, feature: str) -> str:
        """The whole text with one feature written anew."""
        start, end = self.spans[number]
        bom = _BOM if self.text.startswith(_BOM) else ""
        return f"{bom}{self._bare[:start]}{feature}{self._bare[end:]}"


def _source(folder: Path) -> _Source:
    """Return the outlines of a folder; raises ``_NotDone`` where they must be put right first."""
    read = read_field_files(folder)
    path = folder / OUTLINES
    by_hand = path.is_file()
    if not read.fields or (read.problems and not by_hand):
        raise _NotDone(*(FieldProblem(problem=one) for one in read.problems))
    if by_hand:
        data, _ = read_bounded(path)
        return _Source(file=OUTLINES, text=data.decode("utf-8"), shapes=read.fields)
    goes = tuple(one for one in (*FIELD_FILES, WALKS_FOLDER) if (folder / one).exists())
    text = as_geojson(read.fields, {}).decode("utf-8")
    return _Source(file=goes[0], text=text, shapes=read.fields, goes=goes)


def _properties(feature: object) -> dict[str, Any]:
    held = feature.get("properties") if isinstance(feature, dict) else None
    return held if isinstance(held, dict) else {}


def _properties_of(written: str) -> dict[str, Any]:
    return _properties(value_of_json(written))


def _named(value: object) -> str | None:
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    return value.strip() or None if isinstance(value, str) else None


def _name(feature: object) -> str | None:
    return _named(_properties(feature).get("name"))


def _left_out_of(feature: object) -> str | None:
    return _named(_properties(feature).get("left_out_of"))


def _number(source: _Source, name: str, seen: str) -> int:
    """Return the place of a field among the features, if it is still the one the form showed."""
    found = [
        number
        for number, feature in enumerate(source.features)
        if _name(feature) == name and _left_out_of(feature) is None
    ]
    if not found:
        known = ", ".join(one.name for one in source.shapes)[:200]
        raise _NotDone(_wrong(name, f"{name!r}", "the name of a field", f"Known: {known}."))
    if len(found) > 1:
        raise _NotDone(
            _wrong(name, f"{name!r} twice", "each name once", "Change one in the file first.")
        )
    if seen and seen != _stamp(source.written(found[0])):
        raise _NotDone(
            _wrong(
                name,
                "a field that was changed since this page was opened",
                "the field as the page showed it",
                "Nothing was written. Open the page again and repeat the change.",
            )
        )
    return found[0]


def _wrong(name: str, read: str, expected: str, hint: str = "", *, key: str = "") -> FieldProblem:
    where = f'field "{name}"' + (f", {key}" if key else "")
    return FieldProblem(
        problem=Problem(file=OUTLINES, where=where, read=read, expected=expected, hint=hint),
        table=FIELD,
        key=key,
        name=name,
    )


def _stamp(written: str) -> str:
    return hashlib.sha256(written.encode("utf-8", "surrogatepass")).hexdigest()[:16]


# ----------------------------------------------------------------------------------- the changes


def _typed(value: object, key: FormKey) -> str:
    """Return a value of the file as a person would type it."""
    if value is None:
        return ""
    if key.kind == "clock" and isinstance(value, str):
        return _WRITTEN_MOMENT.sub(r"\1 \2", value)
    if isinstance(value, dict) or (isinstance(value, list) and _is_odd(value)):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, list) and value and all(isinstance(item, list) for item in value):
        return "\n".join(typed_of(item) for item in value)
    return typed_of(value)


def _is_odd(value: list[Any]) -> bool:
    return any(isinstance(item, dict | bool) or item is None for item in value)


def _same(one: str, other: str) -> bool:
    return one.replace("\r\n", "\n").strip() == other.replace("\r\n", "\n").strip()


def typed_value(key: FormKey, typed: str) -> object:
    """Return what was typed into a box as the file holds it; None for nothing."""
    text = typed.strip()
    if not text:
        return None
    if key.key == "priority" and _PLAIN_NUMBER.fullmatch(text):
        return float(text) if "." in text else int(text)
    value = value_of_key(key, text)
    if isinstance(value, dt.date):
        return value.isoformat()
    if key.kind == "clock" and isinstance(value, str):
        return _MOMENT.sub(r"\1T\2", value)
    return value


def _entries(held: object) -> list[dict[str, Any]]:
    """Return the entries of a list; none where it holds something else."""
    if not isinstance(held, list) or not all(isinstance(one, dict) for one in held):
        return []
    return held


def _own(entry: Mapping[str, Any], key: str, part: str) -> str:
    """Return the name a part has in an entry: a side of the field may stand under "where"."""
    other = key == "edges" and part == "side" and not entry.get("side") and entry.get("where")
    return "where" if other else part


def _edited(written: str, typed: Mapping[str, str]) -> str:
    """Return a feature's text with what was typed."""
    _check_typed(typed)
    place = span(written, ("properties",))
    assert place is not None  # noqa: S101 it has a name
    book = _Book(text=written[place[0] : place[1]], held=copy.deepcopy(_properties_of(written)))
    for key, one in field_keys().items():
        if one.parts:
            book.change_list(key, one, typed)
        elif key in typed:
            book.change((key,), one.form, typed[key])
    if canon(value_of_json(book.text)) != canon(book.held):
        name = str(book.held.get("name"))
        raise _NotDone(
            _wrong(
                name,
                "a field that is written in a way pages cannot change",
                "each property once",
                "Put it right in the file.",
            )
        )
    return written[: place[0]] + book.text + written[place[1] :]


def _check_typed(typed: Mapping[str, str]) -> None:
    if len(typed) > _MOST_PATHS:
        raise _NotDone(_wrong("", f"{len(typed)} boxes", f"at most {_MOST_PATHS}"))
    for key, text in typed.items():
        if len(text) > MOST_TYPED:
            read, expected = f"{len(text)} letters", f"at most {MOST_TYPED}"
            raise _NotDone(_wrong("", read, expected, key=key))
        if text.encode("utf-8", "replace").decode("utf-8") != text:
            raise _NotDone(_wrong("", "letters that are none", "letters that can be printed"))


@dataclass(slots=True)
class _Book:
    """The text of a field's properties being changed, and beside it what it has to hold."""

    text: str
    held: dict[str, Any]

    def change(self, path: tuple[str | int, ...], key: FormKey, typed: str) -> None:
        """Set one value to what was typed, if that is another one."""
        *above, last = path
        holder: Any = self.held
        for step in above:
            holder = holder[step]
        old = holder.get(last)
        if _same(_typed(old, key), typed):
            return
        value = typed_value(key, typed)
        if value is None:
            self.text = cut(self.text, path)
            holder.pop(last, None)
        else:
            self.text = put(self.text, path, value)
            holder[last] = copy.deepcopy(value)

    def change_list(self, key: str, one: FieldKey, typed: Mapping[str, str]) -> None:
        """Change, take out and add entries of a list."""
        entries = _entries(self.held.get(key))
        for number, entry in enumerate(entries):
            for part, form in one.parts.items():
                if (text := typed.get(f"{key}.{number}.{part}")) is not None:
                    self.change((key, number, _own(entry, key, part)), form, text)
        added = self._added(key, one, typed, len(entries))
        gone = [
            number
            for number, entry in enumerate(entries)
            if typed.get(f"{key}.{number}") == OUT or not entry
        ]
        for number in reversed(gone):
            self.text = cut(self.text, (key, number))
            del entries[number]
        if len(entries) + len(added) > MOST_ENTRIES:
            read = f"{len(entries) + len(added)} entries"
            raise _NotDone(
                _wrong(str(self.held.get("name")), read, f"at most {MOST_ENTRIES}", key=key)
            )
        if gone and not entries and not added:
            self.text = cut(self.text, (key,))
            del self.held[key]
        elif added:
            self._append(key, added, new=not isinstance(self.held.get(key), list))

    def _append(self, key: str, added: list[dict[str, Any]], *, new: bool) -> None:
        broken = not new and len(_entries(self.held[key])) != len(self.held[key])
        if new or broken:
            self.text = put(self.text, (key,), added)
            self.held[key] = added
            return
        for entry in added:
            self.text = put(self.text, (key, len(self.held[key])), entry)
            self.held[key].append(entry)

    @staticmethod
    def _added(
        key: str, one: FieldKey, typed: Mapping[str, str], count: int
    ) -> list[dict[str, Any]]:
        """Return the entries typed at places after the last one; empty ones are none."""
        found = []
        for number in range(count, count + MOST_ENTRIES):
            values = {
                part: typed_value(form, typed.get(f"{key}.{number}.{part}", ""))
                for part, form in one.parts.items()
            }
            entry = {part: value for part, value in values.items() if value is not None}
            if entry:
                found.append(entry)
        return found


# ------------------------------------------------------------------- names, and what names them


def _check_name(source: _Source, name: str, called: str, told: Collection[str]) -> None:
    """Refuse a new name that is none, is another field's, or that the log would not know."""
    if not called:
        example = field_keys()["name"].form.example_us
        raise _NotDone(_wrong(name, "nothing", f'a name such as "{example}"', key="name"))
    others = {_name(one) for one in source.features if _left_out_of(one) is None} - {name, None}
    if called.casefold() in {one.casefold() for one in others if one is not None}:
        raise _NotDone(_wrong(name, f'"{called[:60]}" twice', "each name once", key="name"))
    if name in told:
        raise _NotDone(
            _wrong(
                name,
                "a new name for a field that the log has work in",
                f'the name "{name}"',
                "The log cannot be changed, and would no longer know the field.",
                key="name",
            )
        )


def _pieces_renamed(text: str, old: str, new: str) -> str:
    """Return the outlines with the ground left out of a field going by its new name."""
    source = _Source(file=OUTLINES, text=text, shapes=())
    bare = text.removeprefix(_BOM)
    for number in reversed(range(len(source.features))):
        if _left_out_of(source.features[number]) == old:
            start, end = source.spans[number]
            feature = put(bare[start:end], ("properties", "left_out_of"), new)
            bare = bare[:start] + feature + bare[end:]
    return (_BOM if text.startswith(_BOM) else "") + bare


def _toml_text(folder: Path) -> str:
    """Return the farm's file as it is; nothing where there is none."""
    path = folder / TOML
    if not path.is_file():
        return ""
    with path.open("rb") as file:
        return file.read(LARGEST_BYTES + 1).decode("utf-8", "surrogateescape")


def _naming(text: str, name: str) -> Iterator[tuple[str, int | None, FormKey, Any]]:
    """Give every key of the farm's file that names a field."""
    try:
        content = content_of(text)
    except FolderProblem as wrong:
        raise _NotDone(*(FieldProblem(problem=one) for one in wrong.problems)) from wrong
    for table in form_tables().values():
        for key in table.keys.values():
            if FIELD not in key.refers:
                continue
            for number, entry in enumerate(entries_of(content, table)):
                value = value_at(entry, key.key.split("."))
                if value == name or (isinstance(value, list) and name in value):
                    yield table.table, number if table.repeated else None, key, value


def _toml_renamed(folder: Path, old: str, new: str) -> str | None:
    """Return the farm's file with a field called by its new name; None where nothing names it."""
    text = _toml_text(folder)
    changes = [
        Change(
            what="set",
            table=table,
            entry=entry,
            key=key.key,
            typed=_lines([new if one == old else one for one in value]) if key.many else new,
        )
        for table, entry, key, value in _naming(text, old)
    ]
    return _toml_changed(text, changes)


def _toml_without(folder: Path, name: str) -> str | None:
    """Return the farm's file without what it says of a field; None where that is nothing."""
    text = _toml_text(folder)
    changes = []
    for table, entry, key, value in reversed(list(_naming(text, name))):
        if key.many:
            left = _lines([one for one in value if one != name])
            changes.append(Change(what="set", table=table, entry=entry, key=key.key, typed=left))
        else:
            changes.append(Change(what="remove", table=table, entry=entry))
    return _toml_changed(text, changes)


def _lines(names: Sequence[object]) -> str:
    return "".join(f"{one}\n" for one in names)


def _toml_changed(text: str, changes: Sequence[Change]) -> str | None:
    if not changes:
        return None
    edited, refused = changed_text(text, changes)
    if refused:
        raise _NotDone(*refused)
    return edited


def _without(source: _Source, name: str) -> str:
    """Return the outlines without a field and without the ground left out of it."""
    if len({_name(one) for one in source.features if _left_out_of(one) is None}) < 2:
        raise _NotDone(
            _wrong(
                name,
                "the only field of the farm",
                "a farm with one field at least",
                "Bring the new outlines on the Farm page; they take its place.",
            )
        )
    bom = _BOM if source.text.startswith(_BOM) else ""
    text = source.text.removeprefix(_BOM)
    for number in reversed(range(len(source.features))):
        feature = source.features[number]
        of = _left_out_of(feature)
        if of == name or (of is None and _name(feature) == name):
            text = cut(text, ("features", number))
    return bom + text


# ------------------------------------------------------------------------- checking and writing


def _files(outlines: str, toml: str | None) -> dict[str, bytes]:
    files = {OUTLINES: outlines.encode("utf-8")}
    if len(files[OUTLINES]) > LARGEST_FILE_BYTES:
        raise _NotDone(_wrong("", "more than 20 MB of outlines", "less text"))
    return files if toml is None else {**files, TOML: toml.encode("utf-8", "surrogateescape")}


def _problems(folder: Path) -> list[Problem]:
    """Return what is wrong in a folder; of its outlines alone while there is no farm yet."""
    if (folder / TOML).is_file():
        return list(read_folder(folder).problems)
    return list(read_field_files(folder).problems)


def _check(
    folder: Path,
    files: Mapping[str, bytes],
    source: _Source,
    names: tuple[str, str],
    number: int,
    properties: Mapping[str, Any],
    system: System,
) -> None:
    """Read the folder as it would be; raises ``_NotDone`` with what would be worse for it.

    ``names`` are the field's name before and after, ``number`` its place among the features.
    """
    gone: dict[str, bytes | None] = dict.fromkeys(source.goes)
    with folder_with(folder, {**gone, **files}) as whole:
        after = _problems(whole)
    if not after:
        return
    old, new = (f'field "{name}"' for name in names)
    known = {
        _mark(replace(one, where=one.where.replace(old, new)), source) for one in _problems(folder)
    }
    worse = [one for one in after if _mark(one, source) not in known]
    if worse:
        raise _NotDone(*(_placed(one, names[1], number, properties, system) for one in worse))


def _mark(problem: Problem, source: _Source) -> tuple[str, ...]:
    """Return what tells a problem from another, wherever its line and feature now are."""
    file = OUTLINES if problem.file == source.file else problem.file
    return (file, _PLACE.sub("", problem.where), problem.read, problem.expected)


def _write(folder: Path, files: Mapping[str, bytes], goes: Sequence[str], now: dt.datetime) -> None:
    """Write files, all or none, and put away what gives way; what was there is kept."""
    keep(folder, tuple(dict.fromkeys((*goes, *files))), now=now)
    before = {name: (folder / name).read_bytes() for name in files if (folder / name).is_file()}
    for name, data in files.items():
        try:
            write_atomic(folder / name, data)
        except OSError:
            for other in files:
                if other == name:
                    break
                if other in before:
                    write_atomic(folder / other, before[other])
            raise
    for name in goes:
        if name not in files:
            put_away(folder, name, now)


# --------------------------------------------------------------------------- where a problem is


def _placed(
    problem: Problem, name: str, number: int, properties: Mapping[str, Any], system: System
) -> FieldProblem:
    """Return a problem with the key of the field it belongs to; elsewhere it has no name."""
    where = f'field "{name}"'
    if problem.where == f"feature {number + 1}, name":
        return FieldProblem(problem=problem, table=FIELD, key="name", name=name)
    if problem.where != where and not problem.where.startswith(f"{where}, "):
        return FieldProblem(problem=problem)
    rest = problem.where[len(where) + 2 :]
    key = rest if rest in field_keys() else ""
    if rest.startswith('left out "'):
        key = _piece(rest[len('left out "') : -1], properties)
    elif key and field_keys()[key].parts:
        key = _part(key, properties)
    told = _in_words(problem, key, properties, system)
    return FieldProblem(problem=told, table=FIELD, key=key, name=name)


def _piece(what: str, properties: Mapping[str, Any]) -> str:
    entries = _entries(properties.get("left_out"))
    found = (at for at, one in enumerate(entries) if str(one.get("what", "")).strip() == what)
    at = next(found, None)
    return "left_out" if at is None else f"left_out.{at}"


def _part(key: str, properties: Mapping[str, Any]) -> str:
    """Return the first entry of a list that cannot be read, and the part that is to blame.

    A part is to blame where the entry can be read with the right form in its place.
    """
    for number, entry in enumerate(_entries(properties.get(key))):
        if _is_read(key, entry):
            continue
        for part, form in field_keys()[key].parts.items():
            right = typed_value(form, form.choices[0] if form.choices else form.example_us or "yes")
            if _is_read(key, {**entry, _own(entry, key, part): right}):
                return f"{key}.{number}.{part}"
        return f"{key}.{number}"
    return key


def _is_read(key: str, entry: Mapping[str, Any]) -> bool:
    wrong: list[str] = []

    def report(key: str, *, read: str, expected: str, hint: str = "") -> None:
        wrong.append(f"{key}{read}{expected}{hint}")

    read_facts({key: [entry]}, report)
    return not wrong


def _in_words(
    problem: Problem, path: str, properties: Mapping[str, Any], system: System
) -> Problem:
    """Return a problem as a person at a form reads it: by labels, in the reader's units."""
    key, *within = path.split(".")
    known = field_keys().get(key)
    if known is None:
        return problem
    read, expected, hint = (
        _KEY_NAMES.sub(lambda found: f'"{field_keys()[found[0]].form.label}"', text)
        for text in (problem.read, problem.expected, problem.hint)
    )
    if len(within) > 1:
        form = known.parts[within[1]]
        entry = _entries(properties[key])[int(within[0])]
        read = shown(entry.get(_own(entry, key, within[1])))
        expected, hint = _right_form(form, system), ""
    elif known.form.kind in _FORMS or known.form.quantity:
        expected = _right_form(known.form, system)
        hint = "" if known.form.kind == "date" else hint
    return replace(problem, read=read, expected=expected, hint=hint)


def _right_form(form: FormKey, system: System) -> str:
    """Return what may be typed, in words."""
    if form.choices:
        return f"one of {', '.join(form.choices)}"
    if form.quantity:
        return f'a figure with its unit, such as "{form.example(system)}"'
    return _FORMS.get(form.kind, 'something such as "{}"').format(form.example(system))
