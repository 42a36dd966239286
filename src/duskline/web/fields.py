"""The fields one by one: what is known of each, and how it is changed."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from urllib.parse import quote, urlencode
from zoneinfo import ZoneInfo

import numpy as np
from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData

from duskline.core.farm import Farm
from duskline.draw.fieldmap import LeftGround, MapMarks, field_map
from duskline.exchange.farm_form import FormKey
from duskline.exchange.farm_places import FieldProblem
from duskline.exchange.farm_values import toml_to_values
from duskline.exchange.farmfolder import TOML
from duskline.exchange.fields_edit import (
    MOST_ENTRIES,
    MOST_TYPED,
    OUT,
    FieldSaved,
    FieldsView,
    FieldView,
    delete_field,
    save_field,
    view_fields,
)
from duskline.exchange.fields_form import FieldKey, field_keys
from duskline.exchange.left_out import circle_m
from duskline.exchange.outlines import FieldShape
from duskline.exchange.problems import FolderProblem
from duskline.units import System, clock
from duskline.web.desk import Desk, FarmNotReady
from duskline.web.render import Reader, drawing, page, reader_of
from duskline.words.check import day_text
from duskline.words.spelling import spelled

__all__ = ["router"]

router = APIRouter()
PREFIX = "k."
LOT_NAME = ("lot", "name")
LEFT_OUT = "left_out"
LIST = "/farm/fields"
MOST_BOXES = 3000
MOST_ROWS = 1000
MAP_WIDTH, MAP_LOW, MAP_HIGH = 350.0, 170.0, 380.0
"""The map of the outline: its width, and the least and most height. [px]"""
SUGGESTED = ("customer", "previous_crop")
"""Properties in which fields are often alike: what the others have is offered."""
MOST_SUGGESTED = 50
OPEN = ("The field", "When")
"""Headings that are not folded away: what changes from year to year."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One box of the form."""

    path: str
    label: str
    value: str
    hint: str
    wrong: str = ""
    kind: str = "text"
    options: tuple[str, ...] = ()
    suggested: tuple[str, ...] = ()
    required: bool = False
    fixed: bool = False
    is_place: bool = False

    @property
    def told(self) -> str:
        """What the box holds, short: of a place only that it is known."""
        return self.label.lower() if self.is_place else self.value.replace("\n", ", ")

    @property
    def lines(self) -> int:
        """How many lines a box of several is high."""
        return min(self.value.count("\n") + 2, 8)


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One entry of a list: its boxes, or a new one's."""

    path: str
    title: str
    rows: tuple[Row, ...]
    drawn: str = ""
    wrong: str = ""
    out: bool = False


@dataclass(kw_only=True, slots=True)
class Group:
    """What stands under one heading: boxes, or the entries of a list and room for a new one."""

    title: str
    rows: list[Row] = field(default_factory=list)
    entries: tuple[Entry, ...] = ()
    new: Entry | None = None
    help: str = ""
    said: tuple[str, ...] = ()
    wrong: str = ""

    @property
    def known(self) -> str:
        """What is known under this heading, in a line."""
        told = [row.told for row in self.rows if row.value]
        told += [one.title for one in self.entries]
        return ", ".join(told)

    @property
    def boxes(self) -> list[Row]:
        """All boxes under this heading, also those of entries."""
        entries = self.entries if self.new is None else (*self.entries, self.new)
        return [*self.rows, *(row for one in entries for row in one.rows)]

    @property
    def open(self) -> bool:
        """Whether it is shown at once: the first headings, and where something is wrong."""
        marked = any(one.wrong or one.out for one in self.entries)
        wrong = bool(self.wrong) or any(row.wrong for row in self.boxes)
        return marked or wrong or self.title in OPEN


# --------------------------------------------------------------------------- the list


@router.get(LIST, response_class=HTMLResponse, include_in_schema=False)
def fields(request: Request, saved: str = "", gone: str = "") -> HTMLResponse:
    """Show every field, each with its area, seed and dates."""
    return _list(request, saved=saved, gone=gone)


def _list(
    request: Request, *, saved: str = "", gone: str = "", missing: str = "", status: int = 200
) -> HTMLResponse:
    desk: Desk = request.app.state.desk
    farm, view, reader = _read(request, desk)
    names = [one.name for one in view.fields]
    told = ""
    if saved in names:
        told = f"{saved} is saved."
    elif gone and gone not in names:
        told = f"{gone[:60]} is taken out; the file as it was is kept."
    near = difflib.get_close_matches(missing[:200], names, n=3) if missing else []
    rows = [_line(one, farm, reader, desk) for one in view.fields[:MOST_ROWS]]
    more = len(view.fields) - len(rows)
    return page(
        request,
        desk,
        "fields_list.html",
        here="farm",
        title="Fields",
        farm=farm,
        status=status,
        rows=rows,
        lead=_lead(view, reader),
        then=_then(rows) if not more else "",
        more=more,
        columns=[
            title
            for key, title in (("customer", "Customer"), ("due", "Sown by"))
            if any(row[key] for row in rows)
        ],
        problems=[one.sentence for one in view.problems],
        file=view.file,
        told=told,
        missing=missing,
        near=[(name, _address(name)) for name in near],
    )


def _read(request: Request, desk: Desk) -> tuple[Farm | None, FieldsView, Reader]:
    """Return the farm if it is ready, its fields as their file has them, and who looks."""
    try:
        farm = desk.farm()
    except FarmNotReady:
        farm = None
    reader = reader_of(request, farm)
    problems = desk.read().problems if (desk.folder / TOML).is_file() else None
    return farm, view_fields(desk.folder, problems=problems, system=reader.system), reader


def _lead(view: FieldsView, reader: Reader) -> str:
    """Return how many fields there are, and their ground."""
    count = len(view.fields)
    if not count:
        return "No field yet"
    area_m2 = sum(one.shape.area_m2 for one in view.fields if one.shape is not None)
    return f"{count} field{'s' if count != 1 else ''}, {reader.area(area_m2)}"


def _then(rows: Sequence[dict[str, Any]]) -> str:
    """Return how many are ready, and which comes last."""
    now = sum(row["is_ready"] for row in rows)
    later = sorted((row for row in rows if row["ready_at"]), key=lambda row: row["ready_at"])
    if not later:
        return "All of them are ready." if rows and now == len(rows) else ""
    first, last = later[0], later[-1]
    said = [f"{now or 'None'} {'is' if now < 2 else 'are'} ready {'now' if now else 'yet'}"]
    if not now:
        said.append(f"{first['name']} comes first, {first['ready']}")
    if now or len(later) > 1:
        said.append(f"{last['name']} comes last, {last['ready']}")
    return f"{'; '.join(said)}."


def _line(one: FieldView, farm: Farm | None, reader: Reader, desk: Desk) -> dict[str, Any]:
    """Return what the list shows of one field."""
    facts = one.shape.facts if one.shape is not None else None
    zone = ZoneInfo(farm.time_zone) if farm is not None else None
    ready_at = _local(facts.ready_from, zone) if facts is not None else None
    now_at = desk.clock().astimezone(zone)
    unread = facts is None or any(problem.key == "ready_from" for problem in one.problems)
    is_ready = not unread and (ready_at is None or ready_at <= now_at)
    ready = "now" if is_ready else "not known" if unread else _moment_text(ready_at, reader.system)
    return {
        "name": one.name,
        "address": _address(one.name),
        "area": "" if one.shape is None else reader.area(one.shape.area_m2, 1),
        "lot": _lot(one, farm),
        "own_lot": bool(one.values["lot"]),
        "customer": one.values["customer"],
        "ready": ready,
        "is_ready": is_ready,
        "ready_at": None if is_ready else ready_at,
        "due": _day(facts.due if facts is not None else None, reader.system),
        "wrong": len(one.problems) or int(one.shape is None),
    }


def _lot(one: FieldView, farm: Farm | None) -> str:
    """Return the lot a field is sown with: its own, else the farm's first."""
    if one.values["lot"] or farm is None:
        return one.values["lot"]
    return farm.lot(None).name


def _local(moment: datetime | None, zone: ZoneInfo | None) -> datetime | None:
    if moment is None:
        return None
    return (
        moment.replace(tzinfo=zone) if moment.tzinfo is None and zone else moment.astimezone(zone)
    )


def _moment_text(moment: datetime | None, system: System) -> str:
    if moment is None:
        return "now"
    day = day_text(moment.date(), system)
    first = (moment.hour, moment.minute) == (0, 0)
    return day if first else f"{day}, {clock(moment, system)}"


def _day(day: date | None, system: System) -> str:
    return "" if day is None else day_text(day, system)


def _address(name: str) -> str:
    return f"{LIST}/{quote(name, safe='')}"


# --------------------------------------------------------------------------- one field


@router.get(f"{LIST}/{{name:path}}", response_class=HTMLResponse, include_in_schema=False)
def edit(request: Request, name: str, saved: str = "") -> HTMLResponse:
    """Show what is known of a field, each property in its box."""
    desk: Desk = request.app.state.desk
    farm, view, reader = _read(request, desk)
    found = view.named(name)
    if found is None:
        return _list(request, missing=name, status=404)
    return _sheet(request, desk, farm, view, found, reader, saved=bool(saved))


@router.post(f"{LIST}/{{name:path}}", include_in_schema=False)
async def save(request: Request, name: str) -> Response:
    """Make the changes of the form; where something is wrong it stands at its box."""
    form = await request.form(max_files=0, max_fields=MOST_BOXES, max_part_size=4 * MOST_TYPED)
    desk: Desk = request.app.state.desk
    return await run_in_threadpool(_saved, request, desk, name, form)


def _saved(request: Request, desk: Desk, name: str, form: FormData) -> Response:
    farm, view, reader = _read(request, desk)
    found = view.named(name)
    if found is None:
        return _list(request, missing=name, status=404)
    do, seen, told = _one(form, "do"), _one(form, "seen"), _told(desk)
    typed = _typed(form)
    if do == "remove":
        done = delete_field(
            desk.folder,
            name,
            now=desk.clock(),
            seen=seen,
            told=told,
            confirmed=_one(form, "sure") == "yes",
        )
        typed = {}
    else:
        done = save_field(
            desk.folder,
            name,
            typed,
            now=desk.clock(),
            seen=seen,
            told=told,
            system=reader.system,
        )
    if not done.problems:
        if done.followed:
            desk.keep_farm_text(reader.person)
        return RedirectResponse(_onwards(do, done), status_code=303)
    return _sheet(
        request,
        desk,
        farm,
        view,
        found,
        reader,
        typed=typed,
        problems=done.problems,
        seen=seen,
        status=422,
    )


def _onwards(do: str, done: FieldSaved) -> str:
    """Return where the browser goes after a change."""
    if do == "remove":
        return f"{LIST}?{urlencode({'gone': done.name})}"
    if do == "stay":
        return f"{_address(done.name)}?saved=1"
    return f"{LIST}?{urlencode({'saved': done.name})}"


def _told(desk: Desk) -> frozenset[str]:
    """Return the fields that the log names."""
    try:
        events = desk.farm().told
    except FarmNotReady:
        events = desk.store.all_events()
    return frozenset(one.field for one in events if one.field)


def _one(form: FormData, name: str) -> str:
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def _typed(form: FormData) -> dict[str, str]:
    """Return what was typed, by path."""
    return {
        name.removeprefix(PREFIX): value
        for name, value in form.items()
        if name.startswith(PREFIX) and isinstance(value, str)
    }


def _sheet(
    request: Request,
    desk: Desk,
    farm: Farm | None,
    view: FieldsView,
    found: FieldView,
    reader: Reader,
    *,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[FieldProblem] | None = None,
    seen: str = "",
    saved: bool = False,
    status: int = 200,
) -> HTMLResponse:
    told = found.name in _told(desk)
    in_toml = _in_toml(desk)
    sheet = _Sheet(
        view=view,
        of=found,
        typed=typed or {},
        problems=found.problems if problems is None else problems,
        reader=reader,
        lots=_lots(in_toml),
        left_out=_left_out(in_toml, found.name),
        told=told,
    )
    groups = list(sheet.groups())
    return page(
        request,
        desk,
        "field_edit.html",
        here="farm",
        title=found.name,
        farm=farm,
        status=status,
        field=found,
        address=_address(found.name),
        drives=f"/drives/{quote(found.name, safe='')}" if farm is not None else "",
        groups=groups,
        wrong=sheet.elsewhere(),
        marked=[(row.path, row.label) for group in groups for row in group.boxes if row.wrong],
        refused=problems is not None,
        seen=seen or found.stamp,
        saved=saved,
        told=told,
        area="" if found.shape is None else reader.area(found.shape.area_m2, 1),
        facts=_facts(found, reader),
        notes=() if found.shape is None else found.shape.notes,
        on_paper=_on_paper(groups),
        map=_map(found, reader),
        file=view.file,
        OUT=OUT,
    )


def _in_toml(desk: Desk) -> Mapping[tuple[str, Any, str], str]:
    """Return what the farm's file says, also of a farm that has to be put right first."""
    path = desk.folder / TOML
    try:
        return toml_to_values(path.read_bytes().decode("utf-8", "replace"))
    except (OSError, FolderProblem):
        return {}


def _lots(in_toml: Mapping[tuple[str, Any, str], str]) -> tuple[str, ...]:
    return tuple(value for (table, _, key), value in in_toml.items() if (table, key) == LOT_NAME)


def _left_out(in_toml: Mapping[tuple[str, Any, str], str], name: str) -> tuple[str, ...]:
    """Return what the farm's own file leaves out of a field."""
    entries = [
        entry
        for (table, entry, key), value in in_toml.items()
        if (table, key) == (LEFT_OUT, "field") and value == name
    ]
    return tuple(in_toml.get((LEFT_OUT, entry, "what"), "") for entry in entries)


@dataclass(kw_only=True, slots=True)
class _Sheet:
    """Builds the form of one field."""

    view: FieldsView
    of: FieldView
    typed: Mapping[str, str]
    problems: Sequence[FieldProblem]
    reader: Reader
    lots: tuple[str, ...]
    left_out: tuple[str, ...]
    told: bool
    used: set[int] = field(default_factory=set)

    def groups(self) -> Iterator[Group]:
        """Give each heading with what stands under it."""
        group = Group(title="")
        for key, one in field_keys().items():
            if one.parts:
                yield from [group] if group.rows else []
                group = Group(title="")
                yield self._list(key, one)
                continue
            if one.group != group.title:
                yield from [group] if group.rows else []
                group = Group(title=one.group)
            group.rows.append(self._row(key, one.form))
        yield from [group] if group.rows else []

    def elsewhere(self) -> list[str]:
        """Return what is wrong and stands at no box; asked after the boxes are made."""
        return [
            one.sentence if one.table else one.problem.sentence
            for number, one in enumerate(self.problems)
            if number not in self.used
        ]

    def _wrong(self, path: str) -> str:
        """Return what is wrong at a box."""
        said = []
        for number, one in enumerate(self.problems):
            if one.key == path and one.table:
                self.used.add(number)
                said.append(one.sentence)
        return " ".join(said)

    def _row(self, path: str, form: FormKey) -> Row:
        value = self.typed.get(path, self.of.values.get(path, ""))
        options: tuple[str, ...] = form.choices
        if form.refers:
            options = self.lots
        elif form.kind == "yes or no":
            options = ("yes", "no")
        if options and value and value not in options:
            options += (value,)
        fixed = path == "name" and self.told
        hint = "The log has work in it, so its name stays." if fixed else self._hint(form)
        return Row(
            path=path,
            label=spelled(form.label, self.reader.system),
            value=value,
            hint=hint,
            wrong=self._wrong(path),
            kind="lines" if form.many or form.kind == "words" else "text",
            options=options,
            suggested=self._suggested(path),
            required=form.required,
            fixed=fixed,
            is_place=form.kind == "place",
        )

    def _hint(self, form: FormKey) -> str:
        """Return what helps to fill a box: what it is for, the right form, what if empty."""
        parts = [spelled(form.help, self.reader.system)]
        example = form.example(self.reader.system)
        if example and not form.choices and not form.refers and form.kind != "words":
            parts.append(f"As {example}.")
        if form.many:
            parts.append(self.reader.say("one a line"))
        if form.assumed:
            parts.append(f"Left empty: {form.assumed}.")
        return " ".join(part for part in parts if part)

    def _suggested(self, path: str) -> tuple[str, ...]:
        if path not in SUGGESTED:
            return ()
        known = dict.fromkeys(one.values[path] for one in self.view.fields)
        return tuple(one for one in known if one)[:MOST_SUGGESTED]

    def _list(self, key: str, one: FieldKey) -> Group:
        count = self.of.counts[key]
        numbers = list(range(min(count, MOST_ENTRIES)))
        added = [
            number
            for number in range(count, count + MOST_ENTRIES)
            if any(self.typed.get(f"{key}.{number}.{part}", "").strip() for part in one.parts)
        ]
        said = []
        if key in self.of.unread:
            said.append(
                f"The file has {self.of.unread[key]} here, which cannot be read; "
                "what is added takes its place."
            )
        if key == LEFT_OUT:
            said += [
                f"Drawn in the file as an outline of its own: {one}." for one in self.of.pieces
            ]
            said += [f"On the Farm page as well: {what}." for what in self.left_out if what]
        entries = tuple(self._entry(key, one, number) for number in [*numbers, *added])
        new = self._entry(key, one, (added[-1] if added else count - 1) + 1, blank=True)
        return Group(
            title=one.group,
            entries=entries,
            new=new,
            help=one.form.help,
            said=tuple(said),
            wrong=self._wrong(key),
        )

    def _entry(self, key: str, one: FieldKey, number: int, *, blank: bool = False) -> Entry:
        path = f"{key}.{number}"
        corners = self.of.drawn.get(path, 0)
        rows = tuple(
            self._row(f"{path}.{part}", form)
            for part, form in one.parts.items()
            if not (corners and part in ("area", "at"))
        )
        named = next((row.value for row in rows if row.value), "")
        title = f"Another {one.one}" if blank else named or f"{one.one} {number + 1}"
        return Entry(
            path=path,
            title=title,
            rows=rows,
            drawn=f"Drawn with {corners} corners; its size and place are those of the drawing."
            if corners
            else "",
            wrong=self._wrong(path),
            out=self.typed.get(path) == OUT,
        )


def _on_paper(groups: Sequence[Group]) -> list[tuple[str, str]]:
    """Return what is known, for a print of the page."""
    rows = [(row.label, row.value) for group in groups for row in group.rows if row.path != "name"]
    for group in groups:
        rows += [
            (group.title, "; ".join(f"{row.label}: {row.value}" for row in entry.rows if row.value))
            for entry in group.entries
        ]
    return [(label, value) for label, value in rows if value]


def _facts(found: FieldView, reader: Reader) -> list[tuple[str, str]]:
    """Return what the outline says, and other programs: shown, not to be changed here."""
    shape = found.shape
    said: list[tuple[str, str]] = []
    if shape is not None:
        corners = len(shape.outline_m.exterior_m)
        holes = len(shape.outline_m.holes_m)
        said = [
            ("Area by its outline", reader.area(shape.area_m2, 1)),
            ("Corners", f"{corners}" + (f", and {holes} drawn out of it" if holes else "")),
            ("Middle", _place_text(shape.centre_lon_deg, shape.centre_lat_deg)),
        ]
    return [*said, *((key, value) for key, value in found.others.items())]


def _place_text(lon_deg: float, lat_deg: float) -> str:
    north, east = "NS"[lat_deg < 0.0], "EW"[lon_deg < 0.0]
    return f"{abs(lat_deg):.4f} {north}, {abs(lon_deg):.4f} {east}"


# --------------------------------------------------------------------------- the outline


def _map(found: FieldView, reader: Reader) -> Markup | None:
    """Return the field's outline with its gates and what is left out; None without one."""
    shape = found.shape
    if shape is None:
        return None
    ring_m = shape.outline_m.exterior_m
    across_m, up_m = (ring_m.max(axis=0) - ring_m.min(axis=0)).tolist()
    height = min(MAP_HIGH, max(MAP_LOW, 0.85 * MAP_WIDTH * up_m / max(across_m, 1.0) + 90.0))
    return drawing(
        field_map(
            shape.outline_m,
            None,
            None,
            reader.system,
            name=shape.name,
            width=MAP_WIDTH,
            height=height,
            language=reader.language,
            marks=_marks(shape),
        )
    )


def _marks(shape: FieldShape) -> MapMarks:
    gates_deg = np.asarray(shape.facts.gates_lonlat_deg, dtype=np.float64).reshape(-1, 2)
    left = []
    for piece in shape.facts.left_out:
        if piece.ring_lonlat_deg:
            ring_m = shape.plane.to_plane(np.asarray(piece.ring_lonlat_deg))
        elif piece.at_lonlat_deg is not None and piece.area_m2 is not None:
            middle_m = shape.plane.to_plane(np.asarray([piece.at_lonlat_deg]))[0]
            ring_m = circle_m(middle_m, area_m2=piece.area_m2)
        else:
            continue
        left.append(LeftGround(ring_m=ring_m, word=piece.what))
    return MapMarks(
        gates_m=tuple((x_m, y_m) for x_m, y_m in shape.plane.to_plane(gates_deg).tolist()),
        left_out=tuple(left),
    )
