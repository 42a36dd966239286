"""In the evening: the pencilled sheets typed in, and the plan beside what was done."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from duskline.answers.day import DayAnswer
from duskline.answers.live import LiveAnswer, live_answer
from duskline.answers.passes_told import Told, ToldAs
from duskline.core.errors import DusklineError, NoWindow
from duskline.core.farm import Farm
from duskline.core.light import local_midnight_at
from duskline.core.log import Event, Settled
from duskline.units import UnitError, clock, parse, show, to_display
from duskline.web.desk import Desk
from duskline.web.happened import MOST_OVER, counted_area, event_text
from duskline.web.render import Reader, page, reader_of
from duskline.web.today import date_of, date_text, planned_day
from duskline.words import day as day_words
from duskline.words import live as live_words

__all__ = ["router"]

router = APIRouter()
CLOCK = re.compile(r"([01]?\d|2[0-3])[:.]?([0-5]\d)")
HOUR = re.compile(r"(1[0-2]|[1-9])")
"""Alone only with am or pm behind it."""
TOKEN = re.compile(r"[0-9a-f]{12}")
LONGEST_TYPED = 40
FIRST_LIGHT_H = 5
"""On a sheet of twelve hours an earlier hour is one of the afternoon: nobody spreads by night."""
MOST_FIELDS = 60
WORKS = ("spread", "covered")


@dataclass(kw_only=True, slots=True)
class Line:
    """One line of a field's sheet: what one machine did there, as pencilled."""

    name: str
    work: str
    machines: list[str]
    typed: dict[str, str]
    wrong: str = ""


class LineWrong(DusklineError, ValueError):
    """A pencilled line cannot be read; the text says what to change."""


# --------------------------------------------------------------------------- sheets typed in


@router.get("/today/paper", response_class=HTMLResponse, include_in_schema=False)
def paper(request: Request, on: str = "") -> HTMLResponse:
    """Show the day's fields in the order of the paper, a line for each machine's blanks."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    day = date_of(on) or desk.now(farm).date()
    return _paper_page(request, desk, farm, day, _lines(desk, farm, day, {}), _token())


def _token() -> str:
    return uuid.uuid4().hex[:12]


def _lines(desk: Desk, farm: Farm, day: date, typed: Mapping[str, str]) -> list[Line]:
    """Return two lines a field: spread, and worked in."""
    try:
        planned = [row.name for row in planned_day(desk, farm, day).fields]
    except NoWindow:
        planned = []
    names = [*planned, *(one.name for one in farm.fields if one.name not in planned)]
    machines = {
        "spread": [one.name for one in farm.spreaders],
        "covered": [one.name for one in farm.cultivators],
    }
    return [
        Line(
            name=name,
            work=work,
            machines=machines[work],
            typed={
                blank: typed.get(f"{number}.{work}.{blank}", "")
                for blank in ("machine", "started", "done", "area", "passes")
            },
        )
        for number, name in enumerate(names[:MOST_FIELDS])
        for work in WORKS
    ]


def _paper_page(
    request: Request,
    desk: Desk,
    farm: Farm,
    day: date,
    lines: list[Line],
    token: str,
    status: int = 200,
) -> HTMLResponse:
    reader = reader_of(request, farm)
    return page(
        request,
        desk,
        "paper.html",
        here="today",
        title=reader.say("type in"),
        farm=farm,
        status=status,
        day=day.isoformat(),
        day_text=date_text(day, reader),
        lines=lines,
        token=token,
    )


@router.post("/today/paper", include_in_schema=False)
async def type_in(request: Request) -> Response:
    """Take in every line that holds something; all of them, or none."""
    form = await request.form(max_files=0, max_fields=20 * MOST_FIELDS)
    from starlette.concurrency import run_in_threadpool

    return await run_in_threadpool(_typed_in, request, form)


def _typed_in(request: Request, form: FormData) -> Response:
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    typed = {
        name: value[:LONGEST_TYPED].strip()
        for name, value in form.multi_items()
        if isinstance(value, str)
    }
    day = date_of(typed.get("on", "")) or desk.now(farm).date()
    token = typed.get("token", "")
    token = token if TOKEN.fullmatch(token) else _token()
    lines = _lines(desk, farm, day, typed)
    events: list[Event] = []
    for number, line in enumerate(lines):
        try:
            events += _events_of(desk, farm, reader, line, day, f"{token}-{number}")
        except DusklineError as wrong:
            line.wrong = _sentence(wrong)
    if any(line.wrong for line in lines):
        return _paper_page(request, desk, farm, day, lines, token, 422)
    desk.append(events)
    return RedirectResponse(f"/?on={day.isoformat()}", status_code=303)


def _sentence(wrong: DusklineError) -> str:
    from duskline.words.errors import sentences

    return " ".join(sentences(wrong))


def _events_of(
    desk: Desk, farm: Farm, reader: Reader, line: Line, day: date, name: str
) -> list[Event]:
    """Return the events of one line: when it began, and what was done by when.

    Raises
    ------
    LineWrong
        Something in it cannot be read; the sentence says all of it.
    """
    blanks = line.typed
    if not any(blanks[blank] for blank in ("started", "done", "area", "passes")):
        return []
    wrong: list[str] = []
    machine = blanks["machine"] or line.machines[0]
    if machine not in line.machines:
        wrong.append(f"Choose the machine: {', '.join(line.machines)}.")
    began_at = done_at = None
    if blanks["started"]:
        began_at = _tried(wrong, lambda: _moment(blanks["started"], day, farm, reader))
    if blanks["done"]:
        done_at = _tried(wrong, lambda: _moment(blanks["done"], day, farm, reader, began_at))
    else:
        wrong.append("When was it done? A clock time such as 2:15 pm or 14:15.")
    if began_at is not None and done_at is not None and began_at >= done_at:
        wrong.append("It was done before it was started: turn the two times round.")
    amount = None
    if machine in line.machines:
        amount = _tried(wrong, lambda: _amount(desk, farm, reader, line, machine))
    if wrong or amount is None or done_at is None:
        raise LineWrong(" ".join(wrong))
    plain = Event(
        at=done_at,
        what="spread" if line.work == "spread" else "covered",
        machine=machine,
        field=line.name,
        device=reader.device,
        person=reader.person,
    )
    area_m2, said = amount
    done = replace(plain, id=f"{name}-done", area_m2=area_m2, whole=area_m2 is None, told=said)
    if began_at is None:
        return [done]
    return [replace(plain, at=began_at, what="begin", id=f"{name}-begin"), done]


Read = TypeVar("Read")


def _tried(wrong: list[str], read: Callable[[], Read]) -> Read | None:
    """Return what was read; None, with the sentence put down, where it cannot be."""
    try:
        return read()
    except DusklineError as problem:
        wrong.append(_sentence(problem))
        return None


def _moment(
    text: str, day: date, farm: Farm, reader: Reader, after: datetime | None = None
) -> datetime:
    """Return a clock time of the day; "2:15 pm", "14:15" and "1415" are read.

    Parameters
    ----------
    after
        When it was started: on a page of twelve hours "1:40" after 10:50 am is 1:40 pm.
    """
    plain = text.lower().replace(" ", "").replace("a.m.", "am").replace("p.m.", "pm")
    half = plain[-2:] if plain.endswith(("am", "pm")) else ""
    plain = plain.removesuffix(half)
    if half and HOUR.fullmatch(plain):
        plain += ":00"
    found = CLOCK.fullmatch(plain)
    if found is None or (half and not 1 <= int(found[1]) <= 12):
        raise UnitError(text, "a clock time such as 2:15 pm or 14:15")
    hour = int(found[1])
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    at = datetime(
        day.year, day.month, day.day, hour, int(found[2]), tzinfo=ZoneInfo(farm.time_zone)
    )
    open_to_both = not half and reader.system == "us" and 1 <= hour < 12
    if open_to_both and (hour < FIRST_LIGHT_H or (after is not None and at <= after)):
        return at.replace(hour=hour + 12)
    return at


def _amount(
    desk: Desk, farm: Farm, reader: Reader, line: Line, machine: str
) -> tuple[float | None, str]:
    """Return the area of a line, None for the whole field, and how it was told. [m2]"""
    text, passes = line.typed["area"], line.typed["passes"]
    whole_m2 = next(one.record_area_m2 for one in farm.fields if one.name == line.name)
    if text:
        unit = to_display(1.0, "area", reader.system)[1]
        if re.fullmatch(r"\d+([.,]\d+)?", text):
            text = f"{text.replace(',', '.')} {unit}"
        area = parse(text, "area")
        if not 0.0 < area <= MOST_OVER * whole_m2:
            raise LineWrong(f"{line.name} has {show(whole_m2, 'area', reader.system)}.")
        return area, line.typed["area"]
    if passes:
        if not re.fullmatch(r"\d{1,3}", passes) or passes == "0":
            raise UnitError(passes, "how many passes, such as 51")
        found = counted_area(
            desk,
            farm,
            reader,
            line.name,
            machine,
            Told(how=ToldAs.PASSES, amount=float(passes)),
            covers=line.work == "covered",
            left_m2=whole_m2,
            open_m2=whole_m2,
        )
        return found.area_m2, f"{passes} passes"
    return None, "all"


# --------------------------------------------------------------------------- plan and day


@router.get("/today/followed", response_class=HTMLResponse, include_in_schema=False)
def followed(request: Request, on: str = "") -> HTMLResponse:
    """Show the plan that was followed beside what was done; printed, it is the day's account."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    day = date_of(on) or desk.now(farm).date()
    account = desk.account(farm)
    live = _end_of(farm, account, day)
    return page(
        request,
        desk,
        "followed.html",
        here="today",
        title=reader.say("followed"),
        farm=farm,
        day=day.isoformat(),
        day_text=date_text(day, reader),
        end=live_words.end_line(live, reader.system, language=reader.language),
        plans=_plans(farm, account, reader, day),
        rows=_rows(desk, farm, account, reader, day),
        events=_told(farm, account, reader, day),
        seed=live_words.seed_lines(live, reader.system, language=reader.language),
    )


@router.get("/today/followed.json", include_in_schema=False)
def followed_json(request: Request, on: str = "") -> Response:
    """Return the day's account in SI, to be kept."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    day = date_of(on) or desk.now(farm).date()
    account = desk.account(farm)
    end = _end_of(farm, account, day).end
    zone = ZoneInfo(farm.time_zone)
    found: dict[str, Any] = {
        "farm": farm.name,
        "date": day.isoformat(),
        **{name: _plain(getattr(end, name)) for name in end.__dataclass_fields__},
        "events": [
            {
                name: _plain(getattr(one, name))
                for name in Event.__dataclass_fields__
                if getattr(one, name) not in (None, "", False)
            }
            for one in account.all_events
            if one.at.astimezone(zone).date() == day
        ],
    }
    name = f"duskline-{day.isoformat()}.json"
    return JSONResponse(found, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _plain(value: object) -> object:
    return value.isoformat() if isinstance(value, datetime) else value


def _end_of(farm: Farm, account: Settled, day: date) -> LiveAnswer:
    """Return the account of a day as it stood at its end."""
    midnight = local_midnight_at(day, ZoneInfo(farm.time_zone))
    return live_answer(farm, midnight + timedelta(days=1, seconds=-1), settled=account)


def _plans(farm: Farm, account: Settled, reader: Reader, day: date) -> list[str]:
    zone = ZoneInfo(farm.time_zone)
    return [
        reader.say(
            "kept plan",
            at=clock(one.at.astimezone(zone), reader.system),
            stop=day_words.no_later(one.stop_at.astimezone(zone), reader.system),
            area=reader.area(one.area_m2 or 0.0),
        )
        for one in account.events
        if one.what == "plan" and one.stop_at and one.at.astimezone(zone).date() == day
    ]


def _rows(
    desk: Desk, farm: Farm, account: Settled, reader: Reader, day: date
) -> list[dict[str, str]]:
    """Return the fields of plan and log: planned area, spread, worked in, by when."""
    zone = ZoneInfo(farm.time_zone)
    try:
        answer: DayAnswer | None = planned_day(desk, farm, day)
    except NoWindow:
        answer = None
    planned = {row.name: row for row in answer.fields} if answer is not None else {}
    spread: dict[str, float] = {}
    covered: dict[str, float] = {}
    last: dict[str, datetime] = {}
    for one in account.events:
        at = one.at.astimezone(zone)
        if at.date() != day or one.area_m2 is None or one.what == "wet":
            continue
        done = covered if one.what == "covered" else spread
        done[one.field] = done.get(one.field, 0.0) + one.area_m2
        if one.what == "covered":
            last[one.field] = at
    names = [*planned, *(name for name in {**spread, **covered} if name and name not in planned)]
    return [
        {
            "name": name,
            "planned": reader.area(planned[name].area_m2) if name in planned else "",
            "spread": reader.area(spread[name], 1) if spread.get(name) else "",
            "covered": reader.area(covered[name], 1) if covered.get(name) else "",
            "by": clock(last[name], reader.system) if name in last else "",
        }
        for name in names
    ]


def _told(farm: Farm, account: Settled, reader: Reader, day: date) -> list[dict[str, Any]]:
    zone = ZoneInfo(farm.time_zone)
    return [
        {
            "at": clock(one.at.astimezone(zone), reader.system),
            "text": event_text(one, reader, zone),
            "by": one.person,
            "off": one.id in account.not_counted,
        }
        for one in account.all_events
        if one.at.astimezone(zone).date() == day and one.what not in ("undo", "both")
    ]
