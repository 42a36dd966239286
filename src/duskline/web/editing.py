"""Changing the farm folder from a page: a form for each table, with what is wrong at its field."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import date
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException

from duskline.exchange.farm_edit import Change, Edited, save_changes, stamp
from duskline.exchange.farm_form import FormKey, FormTable, form_tables
from duskline.exchange.farm_places import FieldProblem
from duskline.exchange.farm_values import Entry, toml_to_values
from duskline.exchange.farmfolder import TOML
from duskline.exchange.problems import FolderProblem
from duskline.units import System
from duskline.web.desk import Desk, FarmNotReady
from duskline.web.render import Reader, page, reader_of
from duskline.words.check import day_text

__all__ = ["EditSection", "edit_sections", "router", "wrong_at_key"]

router = APIRouter()
PREFIX = "k."
BARE = re.compile(r"'(\d+(?:[.,]\d+)?)'")
WITH_UNIT = re.compile(r'with its unit, such as "[\d.,]+ ([^"]+)"')
ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
LONGEST_TYPED = 10_000
Values = dict[tuple[str, Entry, str], str]


@dataclass(frozen=True, kw_only=True, slots=True)
class EditLink:
    """One entry that can be opened for a change."""

    name: str
    href: str


@dataclass(frozen=True, kw_only=True, slots=True)
class EditSection:
    """One table of the farm on a page: its entries, and how one is added."""

    label: str
    links: tuple[EditLink, ...]
    add: EditLink | None


@dataclass(kw_only=True, slots=True)
class Row:
    """One key in the form."""

    key: FormKey
    label: str
    value: str
    hint: str
    options: tuple[str, ...] = ()
    chosen: tuple[str, ...] = ()
    wrong: str = ""


@dataclass(kw_only=True, slots=True)
class Sheet:
    """The form of one entry."""

    table: FormTable
    title: str
    entry: str
    back: str
    seen: str
    rows: list[Row] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    removable: bool = False


def edit_sections(desk: Desk, page: str, system: System) -> list[EditSection]:
    """Return what of the farm is changed on a page.

    Parameters
    ----------
    page
        A page of ``duskline.exchange.farm_form.PAGES``.
    """
    values = _values(desk)
    back = {"today": "/", "people": "/farm", "fields": "/farm", "cost": "/farm"}.get(
        page, f"/{page}"
    )
    found = []
    for table in form_tables().values():
        if table.page != page:
            continue
        entries = _entries(values, table)
        links = tuple(
            EditLink(
                name=_dated(_called(values, table, entry), system),
                href=_href(table, entry, back),
            )
            for entry in entries
        )
        add = None
        if table.repeated:
            add = EditLink(name=table.one, href=_href(table, "new", back))
        elif not entries:
            links = (EditLink(name=table.label, href=_href(table, None, back)),)
        found.append(EditSection(label=table.label, links=links, add=add))
    return found


def _values(desk: Desk) -> Values:
    try:
        return dict(toml_to_values(_text(desk)))
    except FolderProblem:
        return {}


def _text(desk: Desk) -> str:
    path = desk.folder / TOML
    return path.read_bytes().decode("utf-8", "replace") if path.is_file() else ""


def _entries(values: Values, table: FormTable) -> list[Entry]:
    return list(dict.fromkeys(entry for name, entry, _ in values if name == table.table))


def _called(values: Values, table: FormTable, entry: Entry) -> str:
    """Return what an entry is called: its name, else what tells it from its neighbours."""
    if entry is None:
        return table.label
    if isinstance(entry, str):
        return entry
    first = [
        values[table.table, entry, key] for key in table.keys if (table.table, entry, key) in values
    ]
    return ", ".join(one for one in first[:2] if one) or f"{table.one} {entry + 1}"


def _dated(name: str, system: System) -> str:
    """Return a name with its dates as people write them: "Oct 18" for 2026-10-18."""

    def plain(found: re.Match[str]) -> str:
        try:
            return day_text(date.fromisoformat(found[0]), system)
        except ValueError:
            return found[0]

    return ISO_DATE.sub(plain, name)


def _href(table: FormTable, entry: Entry, back: str) -> str:
    return f"/edit/{table.table}?{urlencode({'entry': _mark(entry), 'back': back})}"


def _mark(entry: Entry) -> str:
    """Return an entry as it stands in an address."""
    if entry is None:
        return ""
    if entry == "new":
        return "new"
    return f"at:{entry}" if isinstance(entry, int) else f"name:{entry}"


def _entry(mark: str) -> Entry:
    kind, _, value = mark.partition(":")
    if kind == "at" and value.isascii() and value.isdigit() and len(value) < 6:
        return int(value)
    return value if kind == "name" else None


# --------------------------------------------------------------------------- the form


@router.get("/edit/{table}", response_class=HTMLResponse, include_in_schema=False)
def edit(request: Request, table: str, entry: str = "", back: str = "/farm") -> Response:
    """Show the form of one entry, or of a new one."""
    desk: Desk = request.app.state.desk
    found = _table(table)
    values = _values(desk)
    if entry not in ("", "new") and _entry(entry) not in _entries(values, found):
        raise HTTPException(404)
    return _shown(request, desk, _sheet(desk, found, entry, back, values, {}, ()), 200)


@router.post("/edit/{table}", include_in_schema=False)
async def save(request: Request, table: str) -> Response:
    """Make the changes of the form; where something is wrong it stands at its field."""
    form = await request.form(max_files=0, max_fields=200, max_part_size=LONGEST_TYPED * 4)
    desk: Desk = request.app.state.desk
    found = _table(table)
    entry, back, seen = (_one(form, name) for name in ("entry", "back", "seen"))
    values = _values(desk)
    typed = _typed(form, found)
    if _one(form, "do") == "remove":
        changes = [Change(what="remove", table=table, entry=_entry(entry))]
    else:
        changes = _changes(found, entry, typed, values)
        changes = _with_earlier_name(desk, changes, values)
    edited = _save(desk, changes, seen)
    if edited.may_save:
        desk.keep_farm_text(reader_of(request, None).person)
        return RedirectResponse(_inside(back), status_code=303)
    sheet = _sheet(desk, found, entry, back, values, typed, edited.problems)
    if _one(form, "do") == "remove":
        sheet.wrong = _not_removed(found, sheet.title, edited.problems) or sheet.wrong
    return _shown(request, desk, sheet, 422)


def _not_removed(table: FormTable, name: str, problems: tuple[FieldProblem, ...]) -> list[str]:
    """Return why an entry stays: it is the only one there is, or others name it."""
    if any(one.lacking and _names_table(one, table) for one in problems):
        return [
            f"{name} is the only {table.one} there is, and a farm needs one. Add another first, "
            "then remove this one."
        ]
    tables = form_tables()
    places = [
        f"{tables[one.table].label} ({tables[one.table].keys[one.key].label.lower()}"
        f"{f' of {one.name}' if one.name else ''})"
        for one in problems
        if one.problem.read == repr(name) and one.key in getattr(tables.get(one.table), "keys", {})
    ]
    if not places:
        return []
    return [f"{name} is still named under {', '.join(dict.fromkeys(places))}. Take it out there."]


def _names_table(problem: FieldProblem, table: FormTable) -> bool:
    expected = problem.problem.expected
    return problem.table == table.table or f"'{table.table}'" in expected


def wrong_at_key(problem: FieldProblem) -> str:
    """Return what is wrong with a key, as it stands beside it.

    A figure alone is offered with the unit that the farm's units make likely: it may be another.
    """
    what = problem.problem
    typed, form = BARE.fullmatch(what.read), WITH_UNIT.search(what.expected)
    if typed is None or form is None:
        return problem.sentence
    unit = form[1]
    own = what.expected.replace(form[0], f'with its unit, such as "{typed[1]} {unit}"')
    return f"{typed[1]} what? {replace(problem, problem=replace(what, expected=own)).sentence}"


def _save(desk: Desk, changes: list[Change], seen: str) -> Edited:
    return save_changes(desk.folder, changes, now=desk.clock(), seen=seen)


def _table(name: str) -> FormTable:
    try:
        return form_tables()[name]
    except KeyError as wrong:
        raise HTTPException(404) from wrong


def _one(form: FormData, name: str) -> str:
    value = form.get(name, "")
    return value[:LONGEST_TYPED] if isinstance(value, str) else ""


def _inside(back: str) -> str:
    safe = back.startswith("/") and not back.startswith(("//", "/\\"))
    return back if safe else "/farm"


def _typed(form: FormData, table: FormTable) -> dict[str, str]:
    """Return what was typed by key; several boxes of one key are lines of one text."""
    found = {}
    for key in table.keys:
        name = f"{PREFIX}{key}"
        if name in form or f"has.{key}" in form:
            lines = [one[:LONGEST_TYPED] for one in form.getlist(name) if isinstance(one, str)]
            found[key] = "\n".join(line for line in lines if line.strip())
    return found


def _changes(table: FormTable, mark: str, typed: dict[str, str], values: Values) -> list[Change]:
    """Return what the form changes; what was left as it was is no change."""
    if mark == "new":
        changes = [Change(what="add", table=table.table)]
        entry: Entry = -1
        before: dict[str, str] = {}
    else:
        changes = []
        entry = _entry(mark)
        before = {
            key: value
            for (name, one, key), value in values.items()
            if name == table.table and one == entry
        }
    renamed = None
    for key, text in typed.items():
        if _same(text, before.get(key, "")):
            continue
        if key == "name" and table.named and mark != "new" and text.strip():
            renamed = Change(what="rename", table=table.table, entry=entry, typed=text.strip())
        else:
            changes.append(Change(what="set", table=table.table, entry=entry, key=key, typed=text))
    return [*changes, renamed] if renamed is not None else changes


def _with_earlier_name(desk: Desk, changes: list[Change], values: Values) -> list[Change]:
    """Return the changes with the old name kept where the log has it: what it did stays its own."""
    renamed = next((one for one in changes if one.what == "rename"), None)
    if renamed is None or "was" not in form_tables()[renamed.table].keys:
        return changes
    old = str(renamed.entry)
    if old not in _told_machines(desk):
        return changes
    before = values.get((renamed.table, renamed.entry, "was"), "")
    names = [*before.splitlines(), old]
    kept = Change(
        what="set",
        table=renamed.table,
        entry=renamed.entry,
        key="was",
        typed="\n".join(name for name in names if name and name != renamed.typed),
    )
    return [*(one for one in changes if one is not renamed), kept, renamed]


def _told_machines(desk: Desk) -> set[str]:
    try:
        return {one.machine for one in desk.farm().told}
    except FarmNotReady:
        return set()


def _same(one: str, other: str) -> bool:
    return one.replace("\r\n", "\n").strip() == other.replace("\r\n", "\n").strip()


def _sheet(
    desk: Desk,
    table: FormTable,
    mark: str,
    back: str,
    values: Values,
    typed: dict[str, str],
    problems: tuple[FieldProblem, ...],
) -> Sheet:
    entry = _entry(mark)
    title = f"New: {table.one}" if mark == "new" else _called(values, table, entry)
    sheet = Sheet(
        table=table,
        title=title,
        entry=mark,
        back=_inside(back),
        seen=stamp(_text(desk)),
        removable=table.repeated and mark != "new",
    )
    names = _names(desk, values)
    for key in table.keys.values():
        value = typed.get(key.key, values.get((table.table, entry, key.key), ""))
        sheet.rows.append(_row(key, value, names))
    at = {row.key.key: row for row in sheet.rows}
    for one in problems:
        if one.table == table.table and one.key in at:
            at[one.key].wrong = wrong_at_key(one)
        else:
            sheet.wrong.append(one.problem.sentence)
    return sheet


def _row(key: FormKey, value: str, names: dict[str, list[str]]) -> Row:
    options: tuple[str, ...] = ()
    if key.refers:
        known = [name for table in key.refers for name in names.get(table, [])]
        options = tuple(dict.fromkeys(known))
    elif key.choices:
        options = key.choices
    elif key.kind == "yes or no":
        options = ("yes", "no")
    chosen = tuple(one.strip() for one in value.splitlines() if one.strip()) if key.many else ()
    if key.many and key.refers and len(chosen) == 1:
        chosen = tuple(one.strip() for one in value.split(",") if one.strip())
    # A name that is gone must still be seen, or saving would drop it in silence.
    options += tuple(one for one in (chosen or (value,)) if one and options and one not in options)
    return Row(key=key, label=key.label, value=value, hint="", options=options, chosen=chosen)


def _names(desk: Desk, values: Values) -> dict[str, list[str]]:
    """Return the names there are, by table; those of the fields from the outlines."""
    found: dict[str, list[str]] = {}
    for (table, _, key), value in values.items():
        if key == "name":
            found.setdefault(table, []).append(value)
    try:
        found["field"] = [one.name for one in desk.farm().fields]
    except FarmNotReady:
        found["field"] = []
    return found


def _shown(request: Request, desk: Desk, sheet: Sheet, status: int) -> HTMLResponse:
    try:
        farm = desk.farm()
    except FarmNotReady:
        farm = None
    reader = reader_of(request, farm)
    sheet.title = _dated(sheet.title, reader.system)
    for row in sheet.rows:
        row.label = row.key.named(reader.system, reader.language)
        row.hint = _hint(row.key, reader)
    return page(
        request,
        desk,
        "edit_entry.html",
        here={"/": "today"}.get(sheet.back, sheet.back.strip("/").split("/")[0] or "farm"),
        title=sheet.title,
        farm=farm,
        status=status,
        sheet=sheet,
    )


def _hint(key: FormKey, reader: Reader) -> str:
    """Return what helps to fill a field: what it is for, the right form, what is taken if empty."""
    parts = [key.help]
    example = key.example(reader.system)
    if example and not key.choices and key.kind != "yes or no":
        parts.append(f"As {example}.")
    default = key.default_text(reader.system)
    if default is not None:
        parts.append(
            f"Left empty: {default.typical} ({default.low} to {default.high}; {default.source})."
        )
    elif key.assumed:
        parts.append(f"Left empty: {key.assumed}.")
    return " ".join(part for part in parts if part)
