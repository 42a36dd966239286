"""What happened, told on a page: a form or a program's message becomes an event of the log."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, field_validator

from duskline.answers.passes_told import PassTable, Told, ToldArea, ToldAs, told_area
from duskline.core.errors import DusklineError
from duskline.core.farm import Cultivator, Farm, SpreaderNoun
from duskline.core.log import KINDS, Event, FieldState, Settled, What
from duskline.exchange.log_csv import in_log_years
from duskline.units import UnitError, clock, parse, show, to_display
from duskline.web.desk import Desk
from duskline.web.render import Reader, reader_of

__all__ = ["MOST_OVER", "NotTold", "counted_area", "event_text", "router"]

router = APIRouter()

SPREADING = ("spread", "load", "stop")
COUNTED = ("passes", "rounds", "half")
NEEDS_FIELD = ("begin", "spread", "load", "covered", "wet")
MOST_OVER = 1.1
"""More than this share of a field cannot be told of it: it is a slip of the thumb."""
MOST_OVER_GUESS = 3.0
"""The same where the field has no outline, so that its passes are a guess."""
NOTHING_M2 = 40.0
"""Ground that nobody tells of: a hundredth of an acre."""
ID = re.compile(r"[A-Za-z0-9-]{8,64}")
MINUTES = re.compile(r"[0-9]{1,5}")
MOST_SPAN_S = 7 * 86400.0
LONGEST = 300
MOST_AT_ONCE = 500


class NotTold(DusklineError, ValueError):
    """An event cannot be taken in as it was told; the text says what to change."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Told:
    """What the form holds, all of it text."""

    what: str
    machine: str
    field: str
    how: str
    amount: str
    ago: str
    at: str
    took: str
    note: str
    refers: str
    id: str
    clock_at: str


@router.post("/log", include_in_schema=False)
def tell(
    request: Request,
    what: Annotated[str, Form(max_length=20)],
    machine: Annotated[str, Form(max_length=LONGEST)] = "",
    field: Annotated[str, Form(max_length=LONGEST)] = "",
    how: Annotated[str, Form(max_length=20)] = "",
    amount: Annotated[str, Form(max_length=40)] = "",
    ago: Annotated[str, Form(max_length=10)] = "",
    at: Annotated[str, Form(max_length=40)] = "",
    took: Annotated[str, Form(max_length=40)] = "",
    note: Annotated[str, Form(max_length=LONGEST)] = "",
    refers: Annotated[str, Form(max_length=64)] = "",
    id: Annotated[str, Form(max_length=64)] = "",  # noqa: A002 the name in the log
    clock_at: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Take in one event from a form; the answer is given once it is on the disk."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    told = _Told(
        what=what, machine=machine, field=field, how=how, amount=amount, ago=ago, at=at,
        took=took, note=note, refers=refers, id=id, clock_at=clock_at,
    )  # fmt: skip
    kept = desk.told(told.id) if ID.fullmatch(told.id) else None
    if kept is None:
        kept = desk.append_once(_event(desk, farm, reader, told))
    if "application/json" in request.headers.get("accept", ""):
        text = event_text(kept, reader, ZoneInfo(farm.time_zone))
        return JSONResponse({"id": kept.id, "what": kept.what, "text": text})
    return RedirectResponse(f"/?did={kept.id}", status_code=303)


def _event(desk: Desk, farm: Farm, reader: Reader, told: _Told) -> Event:
    """Return the event that a form tells of.

    Raises
    ------
    NotTold, UnitError
        Something is missing or cannot be.
    """
    if told.what not in KINDS or told.what == "plan":
        raise NotTold(f"There is no event {told.what!r}.")
    what: What = told.what
    now_at = desk.now(farm)
    account = desk.account(farm)
    machine = _machine(farm, what, told.machine)
    field = _field(farm, what, told.field)
    at = _rain_at(told, now_at, reader) if what == "rain" else _moment(told, now_at)
    area_m2, whole, said = _amount(desk, farm, account, reader, told, machine, field)
    took = told.took.strip()
    return Event(
        at=at,
        what=what,
        machine=machine,
        field=field,
        area_m2=area_m2,
        mass_kg=_load_kg(farm, machine, field) if what == "load" else None,
        took_s=_span_s(took) if took else None,
        note=_line(told.note),
        whole=whole,
        told=said,
        id=told.id if ID.fullmatch(told.id) else str(uuid.uuid4()),
        device=reader.device,
        person=reader.person,
        clock_at=_device_clock(told.clock_at, desk),
        refers=_refers(what, told.refers, account),
    )


def _line(text: str) -> str:
    return " ".join("".join(one if one.isprintable() else " " for one in text).split())


def _machine(farm: Farm, what: What, name: str) -> str:
    spreaders = [one.name for one in farm.spreaders]
    cultivators = [one.name for one in farm.cultivators]
    known = {
        "covered": cultivators,
        **dict.fromkeys(SPREADING, spreaders),
    }.get(what, [*spreaders, *cultivators, *(one.name for one in farm.seed_trucks)])
    if name in known:
        return name
    if not name and what not in ("begin", "covered", "stuck", "down", "up", *SPREADING):
        return ""
    if not name and len(known) == 1:
        return known[0]
    raise NotTold(f"Choose the machine: {', '.join(known)}.")


def _field(farm: Farm, what: What, name: str) -> str:
    known = [one.name for one in farm.fields]
    if name in known or (not name and what not in NEEDS_FIELD):
        return name
    raise NotTold(f"Choose the field: {', '.join(known[:12])}.")


def _moment(told: _Told, now_at: datetime, *, ahead: bool = False) -> datetime:
    """Return when it was: a clock time of today, so many minutes ago, or now."""
    if told.at.strip():
        typed = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", told.at.strip())
        if typed is None:
            raise UnitError(told.at, "a clock time such as 13:05")
        at = now_at.replace(hour=int(typed[1]), minute=int(typed[2]), second=0, microsecond=0)
        if at > now_at and not ahead:
            raise NotTold(f"{told.at} has not come yet. Tell what happened once it has.")
        return at
    if told.ago.strip():
        if not MINUTES.fullmatch(told.ago.strip()) or int(told.ago) > 24 * 60:
            raise UnitError(told.ago, "minutes, such as 20")
        return now_at - timedelta(minutes=int(told.ago))
    return now_at


def _rain_at(told: _Told, now_at: datetime, reader: Reader) -> datetime:
    """Return when rain is called for; an hour that is past would end the day."""
    at = _moment(told, now_at, ahead=True)
    if at < now_at.replace(second=0, microsecond=0):
        raise NotTold(
            f"{clock(at, reader.system)} is past, and rain ends the day's work. Give the time "
            f"that rain is still called for; if it rains now, {clock(now_at, reader.system)}."
        )
    return at


def _amount(
    desk: Desk, farm: Farm, account: Settled, reader: Reader, told: _Told, machine: str, field: str
) -> tuple[float | None, bool, str]:
    """Return the area told, whether it is the whole field, and the words it was told in. [m2]"""
    if told.what not in ("spread", "covered", "wet"):
        return None, False, ""
    noun = next(one for one in farm.fields if one.name == field)
    state = account.by_field.get(field, FieldState())
    whole_m2 = noun.record_area_m2
    if told.how not in ("all", "open", *COUNTED) or told.what == "wet":
        return _area(reader, told, whole_m2), False, told.amount.strip()
    left_m2 = whole_m2 - state.left_out_m2
    left_m2 -= state.covered_m2 if told.what == "covered" else state.spread_m2
    _check_left(told, state, left_m2)
    if told.how == "all":
        return None, True, "all"
    if told.how == "open":
        return state.open_m2, False, "all that lies open"
    found = counted_area(
        desk,
        farm,
        reader,
        field,
        machine,
        Told(how=ToldAs(told.how), amount=_count(told)),
        covers=told.what == "covered",
        left_m2=max(0.0, left_m2),
        open_m2=state.open_m2,
    )
    said = told.how if told.how == "half" else f"{_count(told):g} {told.how}"
    return found.area_m2, False, said


def _check_left(told: _Told, state: FieldState, left_m2: float) -> None:
    """Refuse a share of nothing: it would be written down as work done.

    Raises
    ------
    NotTold
        Nothing lies open, or nothing is left of the field.
    """
    covers = told.what == "covered"
    of_open = told.how == "open" or (told.how == "half" and state.spread_m2 > NOTHING_M2)
    if covers and of_open and state.open_m2 < NOTHING_M2:
        raise NotTold(f"Nothing lies open in {told.field}. Tell first what was spread there.")
    if told.how == "open" and not covers:
        raise NotTold("What lies open can be worked in, not spread. Choose how much was spread.")
    if left_m2 < NOTHING_M2:
        work = "worked in" if covers else "spread"
        raise NotTold(
            f"Nothing is left of {told.field}: all of it is told {work} already. Take back what "
            "was told wrongly, or choose the field it was."
        )


def counted_area(
    desk: Desk,
    farm: Farm,
    reader: Reader,
    field: str,
    machine: str,
    told: Told,
    *,
    covers: bool,
    left_m2: float,
    open_m2: float,
) -> ToldArea:
    """Return the ground that so many passes or rounds, or half, of a field are.

    Raises
    ------
    NotTold
        The field cannot have so many.
    """
    table: PassTable = desk.answer("passes", PassTable, of_log=False)
    found = told_area(
        farm,
        field,
        machine,
        told,
        work="covered" if covers else "spread",
        left_m2=left_m2,
        open_m2=open_m2,
        table=table,
    )
    if told.how is ToldAs.HALF:
        return found
    noun = next(one for one in farm.fields if one.name == field)
    nouns: list[Cultivator | SpreaderNoun] = [*farm.spreaders, *farm.cultivators]
    lengths = table.lengths(farm, noun, next(one for one in nouns if one.name == machine))
    most = MOST_OVER_GUESS if found.guessed else MOST_OVER
    told_m2 = found.area_m2 + found.over_m2
    if told.how is ToldAs.PASSES and told.amount > max(
        most * lengths.passes_count, lengths.passes_count + 1
    ):
        about = "about " if found.guessed else ""
        raise NotTold(
            f"{field} has {about}{lengths.passes_count} passes for {machine}, not "
            f"{told.amount:g}. Tell the rest under the field it was in."
        )
    if told_m2 > most * noun.record_area_m2:
        has = show(noun.record_area_m2, "area", reader.system)
        raise NotTold(
            f"{told.amount:g} {told.how.value} of {machine} would be "
            f"{show(told_m2, 'area', reader.system, 0)}, and {field} has {has}. Tell the rest "
            "under the field it was in."
        )
    if found.over_m2 > (most - 1.0) * noun.record_area_m2:
        work = "work in" if covers else "spread"
        raise NotTold(
            f"{told.amount:g} {told.how.value} are {show(told_m2, 'area', reader.system)}, and "
            f"only {show(left_m2, 'area', reader.system)} of {field} are left to {work}. Tell "
            "only what was done since the last telling."
        )
    return found


def _count(told: _Told) -> float:
    """Return how many passes or rounds were told."""
    if told.how == "half":
        return 0.0
    text = told.amount.strip().replace(",", ".")
    if not re.fullmatch(r"\d{1,3}(\.\d)?", text) or float(text) <= 0.0:
        raise UnitError(told.amount, f"how many {told.how}, such as 12")
    return float(text)


def _area(reader: Reader, told: _Told, whole_m2: float) -> float:
    text = told.amount.strip()
    unit = to_display(1.0, "area", reader.system)[1]
    if re.fullmatch(r"\d+([.,]\d+)?", text):
        text = f"{text.replace(',', '.')} {unit}"
    area = parse(text, "area")
    if area <= 0.0:
        raise UnitError(told.amount, f'an area above nothing, such as "12 {unit}"')
    if area > MOST_OVER * whole_m2:
        has = show(whole_m2, "area", reader.system)
        raise NotTold(
            f"{told.field} has {has}; {show(area, 'area', reader.system)} is more. "
            "Tell the rest under the field it was in."
        )
    return area


def _load_kg(farm: Farm, machine: str, field: str) -> float:
    """Return what one load of the spreader is. [kg]"""
    from duskline.answers.seed import spreader_load_kg

    noun = next(one for one in farm.spreaders if one.name == machine)
    lot = next(one.lot for one in farm.fields if one.name == field)
    return spreader_load_kg(farm, noun, lot)


def _span_s(text: str) -> float:
    span_s = parse(f"{text} min" if MINUTES.fullmatch(text) else text, "time")
    if not 0.0 < span_s <= MOST_SPAN_S:
        raise UnitError(text, 'how long it stands, at most a week, such as "40 min" or "2 h"')
    return span_s


def _device_clock(text: str, desk: Desk) -> datetime | None:
    """Return what the device's clock said; a page that pretends has none to compare with."""
    if desk.pretends or not text:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo is not None and in_log_years(moment) else None


def _refers(what: What, refers: str, account: Settled) -> str:
    if what not in ("undo", "both"):
        return ""
    if refers not in {one.id for one in account.all_events}:
        raise NotTold("That event is not in the log; look at the log again.")
    return refers


# --------------------------------------------------------------------------- programs


class EventIn(BaseModel):
    """One event as a program tells it: SI, times with their offset."""

    model_config = ConfigDict(extra="forbid")

    id: Annotated[str, Field(pattern=f"^{ID.pattern}$")]
    at: AwareDatetime
    what: What
    machine: Annotated[str, Field(max_length=LONGEST)] = ""
    field: Annotated[str, Field(max_length=LONGEST)] = ""
    area_m2: Annotated[float, Field(ge=0.0, le=1e8, allow_inf_nan=False)] | None = None
    mass_kg: Annotated[float, Field(ge=0.0, le=1e6, allow_inf_nan=False)] | None = None
    took_s: Annotated[float, Field(ge=0.0, le=MOST_SPAN_S, allow_inf_nan=False)] | None = None
    note: Annotated[str, Field(max_length=LONGEST)] = ""
    whole: bool = False
    told: Annotated[str, Field(max_length=60)] = ""
    device: Annotated[str, Field(max_length=80)] = ""
    person: Annotated[str, Field(max_length=80)] = ""
    clock_at: AwareDatetime | None = None
    refers: Annotated[str, Field(max_length=64)] = ""

    @field_validator("at", "clock_at")
    @classmethod
    def _of_the_log(cls, moment: datetime | None) -> datetime | None:
        if moment is not None and not in_log_years(moment):
            raise ValueError("no time a log is kept of")
        return moment


@router.post("/api/events")
def take_in(
    request: Request, events: Annotated[list[EventIn], Field(max_length=MOST_AT_ONCE)]
) -> dict[str, Any]:
    """Take in events; each is on the disk, and once, when the answer comes."""
    desk: Desk = request.app.state.desk
    kept = desk.append([Event(**one.model_dump()) for one in events])
    return {
        "taken": [
            {"id": one.id, "server_at": one.server_at.astimezone(UTC).isoformat()}
            for one in kept
            if one.server_at is not None
        ]
    }


@router.get("/api/events")
def events(request: Request) -> list[dict[str, Any]]:
    """Return every event that was told, in order of time."""
    desk: Desk = request.app.state.desk
    return [_plain(one) for one in desk.account(desk.farm()).all_events]


def _plain(event: Event) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name in Event.__dataclass_fields__:
        value = getattr(event, name)
        found[name] = value.isoformat() if isinstance(value, datetime) else value
    return found


# --------------------------------------------------------------------------- words


def event_text(event: Event, reader: Reader, zone: tzinfo) -> str:
    """Return an event in a few words of the reader's language, by the farm's clock."""
    amount = ""
    if event.area_m2 is not None:
        amount = show(event.area_m2, "area", reader.system)
    elif event.mass_kg is not None:
        amount = show(event.mass_kg, "mass", reader.system)
    elif event.whole:
        amount = reader.say("all of it").lower()
    elif event.took_s is not None:
        amount = reader.say("minutes", minutes=round(event.took_s / 60.0))
    where = reader.say("in field", field=event.field) if event.field else ""
    at = clock(event.at.astimezone(zone), reader.system)
    parts: Iterable[str] = (
        event.machine, reader.say(f"event {event.what}", at=at), amount, where,
    )  # fmt: skip
    text = " ".join(part for part in parts if part)
    return f"{text}: {event.note}" if event.note else text
