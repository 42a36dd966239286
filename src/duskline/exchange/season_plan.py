"""The kept season plans of a farm: ``season/season-plan-1.json``, ``-2.json`` and so on.

A plan once kept is never altered: a new one gets the next number, so that what changed can be
told. Files are written whole or not at all.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import re
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
)

from duskline.exchange.field_facts import shown
from duskline.exchange.problems import FolderProblem, Problem
from duskline.exchange.toml_forms import Day, FormError, is_short, printable

__all__ = [
    "FORMAT",
    "PLANS_FOLDER",
    "KeptField",
    "KeptHours",
    "KeptPlan",
    "KeptStop",
    "KeptUnplaced",
    "keep_plan",
    "kept_order",
    "latest_plan",
    "read_plan",
]

FORMAT = "duskline season plan"
PLANS_FOLDER = "season"
MOST_BYTES = 10_000_000
MOST_STOPS = 20_000
MOST_PROBLEMS = 30
MOST_VERSIONS = 999_999
_LONGEST_NAME = 200
_LONGEST_NOTE = 10_000
_LONGEST_S = 2 * 86400.0
_MOST_AREA_M2 = 1e9
_FILE = re.compile(r"season-plan-([1-9]\d{0,5})\.json")


@dataclass(frozen=True, kw_only=True, slots=True)
class KeptStop:
    """One stop: a crew on a field on a day.

    Attributes
    ----------
    crew
        Empty where the farm names no crews.
    area_m2
        What it sows there that day. [m2]
    lot
        The seed; empty where the field names none.
    starts_s, takes_s
        Working time after the crew's opening, and its length. [s]
    """

    on: date
    crew: str
    field: str
    area_m2: float
    lot: str = ""
    starts_s: float = 0.0
    takes_s: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class KeptHours:
    """What a crew's day could do: in one field without a move, and for each second. [m2]"""

    on: date
    crew: str
    area_m2: float
    lost_m2_per_s: float


@dataclass(frozen=True, kw_only=True, slots=True)
class KeptField:
    """A field as the plan knew it: what was left of it, and when it would be ready."""

    name: str
    area_m2: float
    ready_on: date


@dataclass(frozen=True, kw_only=True, slots=True)
class KeptUnplaced:
    """Ground of a field that the plan has no day for. [m2]"""

    field: str
    area_m2: float


@dataclass(frozen=True, kw_only=True, slots=True)
class KeptPlan:
    """A season plan as kept.

    Attributes
    ----------
    made_at
        Aware; on a whole second.
    note
        What changed since the plan before it, and why; empty where it is the first.
    version
        Its number; 0 where it has not been kept yet.
    """

    made_at: datetime
    stops: tuple[KeptStop, ...]
    unplaced: tuple[KeptUnplaced, ...] = ()
    hours: tuple[KeptHours, ...] = ()
    fields: tuple[KeptField, ...] = ()
    note: str = ""
    version: int = 0


def latest_plan(folder: Path) -> KeptPlan | None:
    """Return the plan kept last in a farm's folder; None where there is none.

    Raises
    ------
    FolderProblem
        It is there and cannot be read.
    """
    version = _latest_version(folder / PLANS_FOLDER)
    return read_plan(_path(folder, version)) if version else None


def kept_order(plan: KeptPlan) -> tuple[str, ...]:
    """Return the fields in the order a kept plan comes to them; those without a day last."""
    stops = sorted(plan.stops, key=lambda stop: (stop.on, stop.starts_s))
    return tuple(
        dict.fromkeys((*(stop.field for stop in stops), *(one.field for one in plan.unplaced)))
    )


def read_plan(path: Path) -> KeptPlan:
    """Return a kept plan.

    Raises
    ------
    FolderProblem
        It cannot be read, with every reason up to ``MOST_PROBLEMS``.
    """
    named = _FILE.fullmatch(path.name)
    if named is None:
        raise _refused(path, "its name", "a file named season-plan-1.json or with another number")
    form = _form(_bounded(path), path)
    if form.version != int(named.group(1)):
        raise _refused(
            path, f"version {form.version}", f"version {named.group(1)}, as its name says"
        )
    return KeptPlan(
        made_at=form.made_at,
        stops=tuple(
            KeptStop(
                on=stop.date,
                crew=stop.crew,
                field=stop.field,
                area_m2=stop.area_m2,
                lot=stop.lot,
                starts_s=stop.starts_s,
                takes_s=stop.takes_s,
            )
            for stop in form.stops
        ),
        unplaced=tuple(KeptUnplaced(field=o.field, area_m2=o.area_m2) for o in form.unplaced),
        hours=tuple(
            KeptHours(on=h.date, crew=h.crew, area_m2=h.area_m2, lost_m2_per_s=h.lost_m2_per_s)
            for h in form.hours
        ),
        fields=tuple(
            KeptField(name=f.name, area_m2=f.area_m2, ready_on=f.ready_on) for f in form.fields
        ),
        note=form.note,
        version=form.version,
    )


def keep_plan(folder: Path, plan: KeptPlan) -> Path:
    """Keep a plan in a farm's folder under the next number, and return its file.

    Parameters
    ----------
    folder
        The farm's; ``season`` in it is made where it is missing.
    plan
        Its own ``version`` is left aside.

    Raises
    ------
    FolderProblem
        The plan could not be read again: a name too long, a figure that is none.
    OSError
        The folder cannot be written to.
    """
    plans = folder / PLANS_FOLDER
    plans.mkdir(exist_ok=True)
    version = _latest_version(plans) + 1
    while True:
        path = _path(folder, version)
        if version > MOST_VERSIONS:
            raise _refused(path, f"{MOST_VERSIONS} plans", "fewer; move old ones elsewhere")
        text = _text(plan, version)
        _form(text, path)
        try:
            _write_new(path, text)
        except FileExistsError:  # somebody else kept a plan in between
            version += 1
        else:
            return path


def _path(folder: Path, version: int) -> Path:
    return folder / PLANS_FOLDER / f"season-plan-{version}.json"


def _latest_version(plans: Path) -> int:
    """Return the highest number among the kept plans; 0 where there is none."""
    if not plans.is_dir():
        return 0
    names = (_FILE.fullmatch(entry.name) for entry in plans.iterdir())
    return max((int(named.group(1)) for named in names if named), default=0)


# --------------------------------------------------------------------------- the form


def _made_at(value: object) -> datetime:
    expected = 'a moment with its offset, such as "2026-10-17T19:30:00-05:00"'
    if not is_short(value):
        raise FormError(value, expected)
    try:
        moment = datetime.fromisoformat(value)
    except ValueError:
        raise FormError(value, expected) from None
    if moment.tzinfo is None or not 2000 <= moment.year <= 2100:
        raise FormError(value, expected)
    return moment


class _Part(BaseModel):
    """A part of the file: no unknown keys, no other kinds of value, no figure that is none."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


_Word = Annotated[str, Field(max_length=_LONGEST_NAME), AfterValidator(printable)]
_Name = Annotated[_Word, Field(min_length=1)]
_Area = Annotated[float, Field(gt=0.0, le=_MOST_AREA_M2)]
_Seconds = Annotated[float, Field(ge=0.0, le=_LONGEST_S)]


class _Stop(_Part):
    date: Day
    crew: _Word = ""
    field: _Name
    area_m2: _Area
    lot: _Word = ""
    starts_s: _Seconds
    takes_s: _Seconds


class _Hours(_Part):
    date: Day
    crew: _Word = ""
    area_m2: _Area
    lost_m2_per_s: Annotated[float, Field(gt=0.0, le=_MOST_AREA_M2)]


class _Known(_Part):
    name: _Name
    area_m2: _Area
    ready_on: Day


class _Unplaced(_Part):
    field: _Name
    area_m2: _Area


class _Form(_Part):
    format: Literal["duskline season plan"]
    version: Annotated[int, Field(ge=1, le=MOST_VERSIONS)]
    made_at: Annotated[datetime, BeforeValidator(_made_at)]
    note: Annotated[str, Field(max_length=_LONGEST_NOTE), AfterValidator(printable)] = ""
    stops: Annotated[tuple[_Stop, ...], Field(max_length=MOST_STOPS)]
    unplaced: Annotated[tuple[_Unplaced, ...], Field(max_length=MOST_STOPS)] = ()
    hours: Annotated[tuple[_Hours, ...], Field(max_length=MOST_STOPS)] = ()
    fields: Annotated[tuple[_Known, ...], Field(max_length=MOST_STOPS)] = ()


def _form(data: bytes, path: Path) -> _Form:
    if len(data) > MOST_BYTES:
        raise _refused(path, f"more than {MOST_BYTES / 1e6:g} MB", "a season plan")
    try:
        form = _Form.model_validate_json(data)
    except ValidationError as wrong:
        errors = wrong.errors(include_url=False)
        problems = [_problem(error, path) for error in errors[:MOST_PROBLEMS]]
        raise FolderProblem(tuple(problems)) from None
    twice = tuple(_twice(form, path))
    if twice:
        raise FolderProblem(twice[:MOST_PROBLEMS])
    return form


def _twice(form: _Form, path: Path) -> Iterator[Problem]:
    """Yield what stands in a plan twice and can only be once."""
    for name, count in Counter(one.name for one in form.fields).items():
        if count > 1:
            yield Problem(
                file=path.name, where="fields", read=f"{name!r} twice", expected="each field once"
            )
    for (on, crew), count in Counter((one.date, one.crew) for one in form.hours).items():
        if count > 1:
            read = f"{on} of {crew!r} twice" if crew else f"{on} twice"
            yield Problem(file=path.name, where="hours", read=read, expected="each day once")


def _problem(error: Any, path: Path) -> Problem:
    parts = (str(part + 1) if isinstance(part, int) else part for part in error["loc"])
    where = "".join(letter if letter.isprintable() else "?" for letter in ".".join(parts))
    raised = error.get("ctx", {}).get("error")
    if error["type"] == "json_invalid":
        read, expected = "text that is not JSON", "a season plan as duskline keeps it"
    elif error["type"] == "missing":
        read, expected = "nothing", f"the key {error['loc'][-1]!r}"
    elif error["type"] == "extra_forbidden":
        read, expected = "an unknown key", "the keys that duskline writes"
    elif isinstance(raised, FormError):
        read, expected = shown(error["input"]), raised.expected
    else:
        read = shown(error["input"])
        expected = error["msg"].removeprefix("Input should be ")
    return Problem(file=path.name, where=where[:_LONGEST_NAME], read=read, expected=expected)


def _refused(path: Path, read: str, expected: str) -> FolderProblem:
    return FolderProblem((Problem(file=path.name, where="", read=read, expected=expected),))


# --------------------------------------------------------------------------- to and from the disk


def _bounded(path: Path) -> bytes:
    if not path.is_file():
        raise _refused(path, "no such file", "a kept season plan")
    try:
        with path.open("rb") as stream:
            return stream.read(MOST_BYTES + 1)
    except OSError as wrong:
        reason = (wrong.strerror or "not readable").lower()
        raise _refused(path, f"nothing ({reason})", "a file that can be read") from None


def _text(plan: KeptPlan, version: int) -> bytes:
    """Return the plan as JSON; the same plan gives the same bytes."""
    content = {
        "format": FORMAT,
        "version": version,
        "made_at": plan.made_at.isoformat(timespec="seconds"),
        "note": plan.note,
        "stops": [
            {
                "date": stop.on.isoformat(),
                "crew": stop.crew,
                "field": stop.field,
                "area_m2": _figure(stop.area_m2),
                "lot": stop.lot,
                "starts_s": _figure(stop.starts_s),
                "takes_s": _figure(stop.takes_s),
            }
            for stop in plan.stops
        ],
        "unplaced": [
            {"field": one.field, "area_m2": _figure(one.area_m2)} for one in plan.unplaced
        ],
        "hours": [
            {
                "date": one.on.isoformat(),
                "crew": one.crew,
                "area_m2": _figure(one.area_m2),
                "lost_m2_per_s": _figure(one.lost_m2_per_s),
            }
            for one in plan.hours
        ],
        "fields": [
            {
                "name": one.name,
                "area_m2": _figure(one.area_m2),
                "ready_on": one.ready_on.isoformat(),
            }
            for one in plan.fields
        ],
    }
    return (json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def _figure(value: float) -> float | None:
    """Return the figure; None, which is refused with its place, where it is none."""
    return float(value) if math.isfinite(value) else None


def _write_new(path: Path, data: bytes) -> None:
    """Put a new file in place whole or not at all.

    Raises
    ------
    FileExistsError
        There is one of that name; it is left as it is.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.chmod(0o644)
        _link_or_rename(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)
    with contextlib.suppress(OSError):  # not every system can sync a folder
        opened = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


def _link_or_rename(temporary: Path, path: Path) -> None:
    """Give the file its name; a link refuses a name that is taken, as a rename does not."""
    try:
        path.hardlink_to(temporary)
    except FileExistsError:
        raise
    except OSError:  # a memory stick has no links
        if path.exists():
            raise FileExistsError(path) from None
        temporary.rename(path)
