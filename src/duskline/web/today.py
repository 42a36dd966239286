"""The Today page: when must spreading stop, how sure is that, and what changed?"""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from markupsafe import Markup

from duskline.answers.day import AtSureness, DayAnswer, DayQuestion, day_answer
from duskline.answers.live import LiveAnswer, Was, live_answer
from duskline.answers.live_now import stopped_at
from duskline.answers.telling import told_curve
from duskline.core.errors import NoWindow
from duskline.core.farm import Farm
from duskline.core.light import local_midnight_at
from duskline.core.log import ConflictKind, Event, Settled
from duskline.draw import day_strip
from duskline.draw.strings import because
from duskline.units import UnitError, clock, show_chance, to_display
from duskline.web.desk import Desk
from duskline.web.editing import edit_sections
from duskline.web.happened import event_text
from duskline.web.render import Reader, drawing, fragment, page, reader_of
from duskline.words import day as words
from duskline.words import live as live_words
from duskline.words.clock import rounded_down
from duskline.words.log import clash_line, load_beyond_line

__all__ = ["date_of", "date_text", "live_now", "planned_day", "router"]

router = APIRouter()
STRIP_DESK, STRIP_PHONE = (760.0, 360.0), (350.0, 330.0)
TINY_M2 = 400.0
"""Ground not worth a word: a tenth of an acre."""
LEVER_M2 = 0.5 * 4046.8564224
"""What a change has to bring to be worth a word: half an acre."""
PART_FRACTION = 0.02
"""So much of a field left for another day is worth a word."""
MOST_DAYS = 1000
FIRST_YEAR, LAST_YEAR = 2000, 2100
NO_DROPS = (ConflictKind.CLOCK, ConflictKind.COVERED_NOT_SPREAD)
"""What is not put right by taking an event back."""
MOST_OTHER_DAYS = 8


@dataclass(kw_only=True, slots=True)
class View:
    """All that the page shows; texts in the reader's units and language."""

    on: date
    lead: str
    big: str = ""
    suffix: str = ""
    say: str = ""
    then: list[str] = field(default_factory=list)
    was: list[str] = field(default_factory=list)
    sure: list[dict[str, Any]] = field(default_factory=list)
    strip: dict[str, Markup] | None = None
    checks: list[str] = field(default_factory=list)
    leave: list[str] = field(default_factory=list)
    stands: list[str] = field(default_factory=list)
    days: list[dict[str, str]] = field(default_factory=list)
    end: str = ""
    kept: str = ""
    why: list[str] = field(default_factory=list)
    ladder: list[dict[str, Any]] = field(default_factory=list)
    fields: list[dict[str, str]] = field(default_factory=list)
    after: list[str] = field(default_factory=list)
    levers: list[str] = field(default_factory=list)
    events: list[dict[str, Any]] = field(default_factory=list)
    clashes: list[dict[str, Any]] = field(default_factory=list)
    beyond: str = ""
    order: list[str] = field(default_factory=list)
    same: bool = False
    spread: bool = False
    needs_hours: bool = False
    acts: dict[str, Any] = field(default_factory=dict)
    answer: DayAnswer | None = None
    logs: bool = True
    keep: bool = False
    followed: bool = False


# --------------------------------------------------------------------------- routes


@router.get("/", response_class=HTMLResponse, include_in_schema=False)
def today(request: Request, on: str = "", sure: str = "", did: str = "") -> HTMLResponse:
    """Show the day: one answer, how sure, why; and the buttons that tell what happened."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    view = _view(desk, farm, reader, on, sure)
    asked = {name: value for name, value in (("on", on), ("sure", sure)) if value}
    return page(
        request,
        desk,
        "today.html",
        here="today",
        title=reader.say("page today"),
        farm=farm,
        view=view,
        query=urlencode(asked),
        did=did,
        edit=edit_sections(desk, "today", reader.system),
    )


@router.get("/today/live", response_class=HTMLResponse, include_in_schema=False)
def live(request: Request, on: str = "", sure: str = "") -> HTMLResponse:
    """Return the part of the page that changes with time and events."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    view = _view(desk, farm, reader, on, sure)
    return HTMLResponse(fragment("today_live.html", reader, view=view, farm=farm))


# --------------------------------------------------------------------------- what is shown


def _view(desk: Desk, farm: Farm, reader: Reader, on: str, sure: str) -> View:
    now_at = desk.now(farm)
    day = date_of(on) or now_at.date()
    account = desk.account(farm)
    view = View(on=day, lead=date_text(day, reader), logs=day == now_at.date())
    view.events = _events(farm, account, reader, day)
    view.clashes = _clashes(farm, account, reader)
    view.beyond = _beyond(account, reader)
    worked = any(
        one.what != "plan" and one.at.astimezone(now_at.tzinfo).date() == day
        for one in account.events
    )
    view.followed = worked
    view.kept = _kept_plan(farm, account, reader, day)
    answer: DayAnswer | None = None
    if worked and view.logs:
        live = live_now(desk, farm, account, now_at, sure)
        answer = _fill_live(view, live, reader)
        view.clashes += _doubts(live, reader)
    else:
        answer = _fill_planned(view, desk, farm, reader, day, sure)
        if answer is not None and view.logs:
            _nothing_told(view, answer, reader, now_at)
    if answer is not None:
        _parts_of_fields(view, farm, answer, reader)
    view.same = answer is not None and _same_plan(_plans(farm, account, day), answer)
    view.acts = _acts(farm, account, answer)
    spreaders = view.acts["spreaders"]
    midnight = local_midnight_at(now_at.date(), ZoneInfo(farm.time_zone))
    done = spreaders if view.spread else stopped_at(account, spreaders, midnight, now_at)
    view.acts["done_spreading"] = set(done)
    return view


def _nothing_told(view: View, answer: DayAnswer, reader: Reader, now_at: datetime) -> None:
    """Say on a day under way that the page knows of nothing; end it once the day is over."""
    opens_s = [answer.windows.spread_intervals_s[0][0], *answer.windows.cover_opens_s.values()]
    if now_at < answer.moment(min(opens_s)):
        return
    if now_at < answer.windows_cover_until:
        view.stands = [reader.say("nothing told")]
        return
    said = words.headline(answer, reader.system, language=reader.language)
    view.lead, view.big = clock(now_at, reader.system), ""
    view.say = reader.say("day over")
    view.was = [reader.say("nothing told over", said=said)]
    view.then, view.sure, view.ladder, view.levers, view.after = [], [], [], [], []
    view.keep, view.spread = False, True


def _parts_of_fields(view: View, farm: Farm, answer: DayAnswer, reader: Reader) -> None:
    """Say of a field that is not finished today how much of it is."""
    whole = {one.name: one.record_area_m2 for one in farm.fields}
    for row, shown in zip(answer.fields, view.fields, strict=True):
        of_m2 = whole.get(row.name, row.area_m2)
        if of_m2 - row.area_m2 > PART_FRACTION * of_m2:
            part = shown["area"].rpartition(" ")[0]
            shown["area"] = reader.say("part of", part=part, whole=reader.area(of_m2))


def _plans(farm: Farm, account: Settled, day: date) -> list[Event]:
    """Return what was taken as the day's plan, the last one last."""
    zone = ZoneInfo(farm.time_zone)
    return [
        one
        for one in account.events
        if one.what == "plan" and one.stop_at and one.at.astimezone(zone).date() == day
    ]


def _kept_plan(farm: Farm, account: Settled, reader: Reader, day: date) -> str:
    """Return what was taken as the day's plan, the last one; nothing if none was."""
    plans, zone = _plans(farm, account, day), ZoneInfo(farm.time_zone)
    if not plans or plans[-1].stop_at is None:
        return ""
    return reader.say(
        "kept plan",
        at=clock(plans[-1].at.astimezone(zone), reader.system),
        stop=words.no_later(plans[-1].stop_at.astimezone(zone), reader.system),
        area=reader.area(plans[-1].area_m2 or 0.0),
    )


def _same_plan(plans: list[Event], answer: DayAnswer) -> bool:
    """Say whether the plan kept last is the one that stands there."""
    if not plans or plans[-1].stop_at is None:
        return False
    apart_m2 = abs((plans[-1].area_m2 or 0.0) - answer.spread_area_m2)
    same = rounded_down(plans[-1].stop_at.astimezone(answer.stop_at.tzinfo))
    return same == rounded_down(answer.stop_at) and apart_m2 < TINY_M2


def live_now(
    desk: Desk, farm: Farm, account: Settled, now_at: datetime, sure: str = ""
) -> LiveAnswer:
    """Return what holds now; worked out once a minute for each state of the log."""
    minute = now_at.replace(second=0, microsecond=0)
    return desk.answer(
        ("live", minute, sure),
        lambda: live_answer(
            farm,
            minute,
            settled=account,
            morning=_morning(desk, farm, now_at.date(), sure),
            sure_fraction=_sure(sure),
            tap_too=True,
        ),
    )


def _morning(desk: Desk, farm: Farm, day: date, sure: str) -> Was | None:
    """Return what the page said in the morning, worked out once a day; None for a closed day."""
    try:
        answer = planned_day(desk, farm, day, sure)
    except NoWindow:
        return None
    return Was(
        stop_at=answer.stop_at,
        area_m2=answer.spread_area_m2,
        chance_fraction=answer.chance_fraction,
        published_at=None,
        order=tuple(one.name for one in answer.task.fields),
    )


def planned_day(desk: Desk, farm: Farm, day: date, sure: str = "") -> DayAnswer:
    """Return the plan of a whole day, by what was told before it."""
    question = DayQuestion(on=day, sure_fraction=_sure(sure))
    start_at = local_midnight_at(day, ZoneInfo(farm.time_zone))
    before = replace(farm, told=(), log=tuple(one for one in farm.log if one.at < start_at))
    # What happens on the day itself does not change what the morning said.
    key = ("day", day, sure, len(before.log), sum(one.area_m2 or 0.0 for one in before.log))
    return desk.answer(key, lambda: day_answer(before, question), of_log=False)


def date_of(text: str) -> date | None:
    """Return a date typed as 2026-10-18; None where none was."""
    if not text:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError as wrong:
        raise UnitError(text, "a date such as 2026-10-18") from wrong
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise UnitError(text, f"a date from {FIRST_YEAR} to {LAST_YEAR}")
    return day


def _sure(text: str) -> float | None:
    part, _, whole = text.partition(" in ")
    if not text:
        return None
    digits = part.isdigit() and whole.isdigit() and text.isascii()
    if not (digits and 0 < int(part) < int(whole) <= MOST_DAYS):
        raise UnitError(text, 'a chance such as "16 in 20"')
    return int(part) / int(whole)


def date_text(on: date, reader: Reader) -> str:
    """Return a date as the reader has it: "Sunday, October 18"."""
    return f"{on:%A}, {on:%B} {on.day}" if reader.language == "en" else f"{on:%d/%m/%Y}"


def _fill_planned(
    view: View, desk: Desk, farm: Farm, reader: Reader, day: date, sure: str
) -> DayAnswer | None:
    """Put the plan of a day on the page, or why there is none."""
    try:
        answer = planned_day(desk, farm, day, sure)
    except NoWindow as wrong:
        reason = because(reader.language, wrong.reason) or wrong.reason
        view.say = f"{reason[:1].upper()}{reason[1:]}"
        view.days = _other_days(farm, day, reader)
        view.needs_hours = farm.forecast is None and not farm.windows
        return None
    _fill_day(view, answer, reader)
    view.was = [words.sure_line(answer, reader.system, language=reader.language)]
    view.why = words.why(answer, reader.system)
    view.levers = [
        words.lever_line(lever, reader.system)
        for lever in answer.levers
        if lever.area_m2 >= LEVER_M2
    ]
    view.keep = view.logs
    return answer


def _fill_live(view: View, live: LiveAnswer, reader: Reader) -> DayAnswer | None:
    """Put what holds now on the page."""
    system, language = reader.system, reader.language
    if live.day is not None:
        _fill_day(view, live.day, reader, **_so_far(live, live.day))
    if live.day is None or live.stopped or live.day.hopeless:
        view.big, view.say = "", live_words.headline(live, system, language=language)
        view.lead = clock(live.now_at, system)
    view.spread = live.stopped or live.day_over
    if live.stopped:
        view.then, view.sure, view.ladder = [], [], []
    view.was = _live_lines(live, reader)
    view.stands = [
        *live_words.standing_lines(live, system, language=language),
        *live_words.not_heard_lines(live, language=language),
        *live_words.quiet_lines(live, system, language=language),
    ]
    view.leave = live_words.leave_lines(live, system, language=language)
    view.order = live_words.order_lines(live, system, language=language)
    view.checks = [
        *live_words.load_lines(live, system, language=language),
        *live_words.seed_lines(live, system, language=language),
        *live_words.pace_lines(live, system, language=language),
        *live_words.lost_lines(live, system, language=language),
    ]
    view.why = live_words.causes_lines(live, system)
    if live.day is not None:
        # The pace stands among the causes already.
        day = replace(live.day, cover_rate_observed_m2_per_s=None)
        view.why += words.why(day, system)
    if live.day_over or live.stopped:
        view.end = live_words.end_line(live, system, language=language)
    view.keep = live.day is not None and not live.stopped
    return live.day


def _live_lines(live: LiveAnswer, reader: Reader) -> list[str]:
    """Return the lines under the answer; in Spanish the crew's own, with the same figures."""
    system, language = reader.system, reader.language
    if language == "es":
        lines = live_words.crew_lines(live, system, language=language, stop_too=False)
        return [*lines, *_said(live_words.tap_line(live, system, language=language))]
    return _said(
        live_words.change_line(live, system),
        live_words.tap_line(live, system),
        live_words.open_line(live, system),
        live_words.sure_line(live, system),
        live_words.kept_line(live, system),
        live_words.closed_line(live),
    )


def _said(*texts: str) -> list[str]:
    return [text for text in texts if text]


def _other_days(farm: Farm, day: date, reader: Reader) -> list[dict[str, str]]:
    """Return which days have hours, where this one has none."""
    known = {one.on for one in farm.windows if not one.closed}
    if farm.forecast is not None:
        zone = ZoneInfo(farm.time_zone)
        known |= {hour.astimezone(zone).date() for hour in farm.forecast.hours_at}
    return [
        {"on": one.isoformat(), "text": date_text(one, reader)}
        for one in sorted(known)
        if one != day
    ][:MOST_OTHER_DAYS]


def _so_far(live: LiveAnswer, day: DayAnswer) -> dict[str, Any]:
    """Return what the strip draws of the day so far: the tellings, and the stop that happened."""
    start_at = local_midnight_at(live.on, ZoneInfo(live.time_zone))
    opens_s = min(day.windows.spread_intervals_s[0][0], *day.windows.cover_opens_s.values())
    told = told_curve(live.settled, start_at, live.now_at, opens_at=day.moment(opens_s))
    return {"told": told, "stopped_at": live.end.did_stop_at if live.stopped else None}


def _fill_day(view: View, answer: DayAnswer, reader: Reader, **so_far: Any) -> None:
    """Put a day's stop, chance, strip, ladder and fields on the page."""
    system = reader.system
    view.answer = answer
    stops = not answer.hopeless and answer.limited_by != "acres"
    spreads = answer.spread_area_m2 - answer.spread_before_m2 >= TINY_M2 and not answer.hopeless
    if spreads:
        told = words.no_later if stops else words.about
        view.big, _, view.suffix = told(answer.stop_at, system).partition(" ")
        lead = clock(answer.now_at, system) if answer.now_at is not None else view.lead
        view.lead = f"{lead} · {reader.say('stop at' if stops else 'spread by')}"
        view.sure = [_sure_cell(row, answer, reader) for row in reversed(answer.by_sureness)]
    else:
        view.say = reader.say("no spreading" if answer.now_at is None else "stop now")
    view.then = [
        text
        for text in (
            words.last_load(answer, system, language=reader.language),
            words.asks(answer, system, language=reader.language),
        )
        if text
    ]
    view.strip = {
        name: drawing(
            day_strip(
                answer, system, width=size[0], height=size[1], language=reader.language, **so_far
            )
        )
        for name, size in (("desk", STRIP_DESK), ("phone", STRIP_PHONE))
    }
    view.ladder = _ladder(answer, reader)
    view.fields = [
        {"name": row.name, "area": reader.area(row.area_m2), "when": _field_text(row, reader)}
        for row in answer.fields
    ]
    view.after = [words.tomorrow(answer, system)]


def _field_text(row: Any, reader: Reader) -> str:
    first, last = (words.about(one, reader.system) for one in (row.spread_from, row.spread_to))
    text = reader.say("field spread", first=first, last=last)
    if row.covered_by is not None:
        text += reader.say("field covered", at=words.about(row.covered_by, reader.system))
    return text


def _sure_cell(row: AtSureness, answer: DayAnswer, reader: Reader) -> dict[str, Any]:
    twentieths = f"{round(row.sure_fraction * 20)} in 20"
    return {
        "stop": words.no_later(row.stop_at, reader.system),
        "area": reader.area(row.spread_area_m2),
        "chance": _chance(row.sure_fraction, reader),
        "on": row.sure_fraction == answer.sure_fraction,
        "query": urlencode({"on": answer.on.isoformat(), "sure": twentieths}),
    }


def _chance(fraction: float, reader: Reader) -> str:
    """Return a chance in the reader's language: "19 in 20", "19 de 20"."""
    text = show_chance(fraction)
    return text.replace(" in ", " de ") if reader.language == "es" else text


def _ladder(answer: DayAnswer, reader: Reader) -> list[dict[str, Any]]:
    last = answer.moment(answer.windows.spread_intervals_s[-1][1])
    rungs = [rung for rung in answer.ladder if rung.at <= last]
    now_at = answer.now_at
    coming = next((rung for rung in rungs if now_at is not None and rung.at >= now_at), None)
    rows = []
    for rung in rungs:
        area = to_display(rung.open_area_m2, "area", reader.system)[0]
        rows.append(
            {
                "at": clock(rung.at, reader.system),
                # Down to the whole acre: a line that is rounded up is no limit.
                "area": f"{int(area)}" if reader.system == "us" else f"{int(area * 10) / 10:.1f}",
                "loads": f"{rung.loads:.1f}",
                "now": rung is coming,
            }
        )
    return rows


# --------------------------------------------------------------------------- the log


def _events(farm: Farm, account: Settled, reader: Reader, day: date) -> list[dict[str, Any]]:
    """Return the day's events, what was told last first, with who told them."""
    zone = ZoneInfo(farm.time_zone)
    found = []
    # What was told in one minute stands in the order of the log, turned round with the rest.
    for one in sorted(account.all_events, key=_said_at)[::-1]:
        if one.at.astimezone(zone).date() != day or one.what in ("undo", "both"):
            continue
        counts = one.id not in account.not_counted
        resolved = next((e for e in account.events if e.id == one.id), one) if counts else one
        found.append(
            {
                "id": one.id,
                "at": clock(_said_at(one).astimezone(zone), reader.system),
                "text": event_text(_as_told(one, resolved), reader, zone),
                "by": one.person,
                "off": not counts,
                "undo": counts,
            }
        )
    return found


def _said_at(event: Event) -> datetime:
    """Return where an event stands in the log: rain that is called for, when it was told."""
    if event.what == "rain" and event.server_at is not None:
        return event.server_at
    return event.at


def _as_told(told: Event, counted: Event) -> Event:
    """Return the event with its area as it counts, where it was told as a share or a whole."""
    return counted if told.whole and counted.area_m2 is not None else told


def _clashes(farm: Farm, account: Settled, reader: Reader) -> list[dict[str, Any]]:
    if not account.conflicts:
        return []
    zone = ZoneInfo(farm.time_zone)
    by_id = {one.id: one for one in account.all_events}
    found = []
    for clash in account.conflicts:
        if clash.kind is ConflictKind.SPREAD_ELSEWHERE:
            continue  # a hint beside the button of the load
        events = [by_id[name] for name in clash.ids if name in by_id]
        found.append(
            {
                "text": clash_line(clash, by_id, reader.system, zone, language=reader.language),
                "drops": []
                if clash.kind in NO_DROPS
                else [
                    {"id": one.id, "text": clock(one.at.astimezone(zone), reader.system)}
                    for one in events
                    if one.id not in account.not_counted
                ][-4:],
                "both": clash.ids[-1] if clash.kind is ConflictKind.TOLD_TWICE else "",
                "one": False,
            }
        )
    return found


def _beyond(account: Settled, reader: Reader) -> str:
    """Return how much of the loads lies beyond their fields: usual where loads are large."""
    by_id = {one.id: one for one in account.all_events}
    for clash in account.conflicts:
        if clash.kind is ConflictKind.SPREAD_ELSEWHERE:
            return load_beyond_line(clash, by_id, reader.system, language=reader.language)
    return ""


def _doubts(live: LiveAnswer, reader: Reader) -> list[dict[str, Any]]:
    """Return the tellings that are hard to believe; they wait for a word."""
    return [
        {
            "text": live_words.doubt_line(one, live, reader.system, language=reader.language),
            "drops": [
                {
                    "id": one.event.id,
                    "text": clock(one.event.at.astimezone(live.now_at.tzinfo), reader.system),
                }
            ],
            "both": one.event.id,
            "one": True,
        }
        for one in live.doubted
    ]


def _acts(farm: Farm, account: Settled, answer: DayAnswer | None) -> dict[str, Any]:
    """Return what the buttons are about: the likely machine and field stand first."""
    planned = [row.name for row in answer.fields] if answer is not None else []
    names = [*planned, *(one.name for one in farm.fields if one.name not in planned)]
    done = {
        one.name
        for one in farm.fields
        if account.by_field.get(one.name) is not None
        and account.by_field[one.name].spread_m2 >= 0.98 * one.record_area_m2
    }
    to_spread = [name for name in names if name not in done] or names
    opened = [name for name, state in account.by_field.items() if state.open_m2 > 1.0]
    known = [name for name in opened if name in names]
    to_cover = [*known, *(name for name in names if name not in known)]
    spreaders = [one.name for one in farm.spreaders]
    cultivators = [one.name for one in farm.cultivators]
    last = {one.machine: one for one in account.events if one.machine}
    return {
        "loads": [(name, _field_of(last.get(name), to_spread, done)) for name in spreaders],
        "spreaders": spreaders,
        "spread_fields": to_spread,
        "spread_field": _field_of(last.get(spreaders[0]), to_spread, done) if spreaders else "",
        "cultivators": cultivators,
        "cultivator": _last_machine(account, cultivators),
        "cover_fields": to_cover,
        "cover_field": to_cover[0] if to_cover else "",
        "all_fields": names,
        "machines": [*spreaders, *cultivators],
        "halted": [halt.machine for halt in account.halts if halt.to_at is None],
    }


def _field_of(last: Event | None, to_spread: list[str], done: set[str]) -> str:
    """Return the field a spreader is in: where it was last, until that is done."""
    if last is not None and last.field and last.field not in done:
        return last.field
    return to_spread[0] if to_spread else ""


def _last_machine(account: Settled, names: list[str]) -> str:
    for one in reversed(account.events):
        if one.machine in names:
            return one.machine
    return names[0] if names else ""


# --------------------------------------------------------------------------- the plan kept


@router.post("/today/keep", include_in_schema=False)
def keep(request: Request) -> RedirectResponse:
    """Take the answer as it stands as the day's plan: an event like any other."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    now_at = desk.now(farm)
    account = desk.account(farm)
    began = any(
        one.what != "plan" and one.at.astimezone(now_at.tzinfo).date() == now_at.date()
        for one in account.events
    )
    answer = (
        live_now(desk, farm, account, now_at).day
        if began
        else planned_day(desk, farm, now_at.date())
    )
    if answer is not None and not _same_plan(_plans(farm, account, now_at.date()), answer):
        desk.append([_plan_event(answer, now_at, reader)])
    return RedirectResponse("/", status_code=303)


def _plan_event(answer: DayAnswer, now_at: datetime, reader: Reader) -> Event:
    """Return the event that says what was planned."""
    return Event(
        at=now_at,
        what="plan",
        area_m2=answer.spread_area_m2,
        stop_at=answer.stop_at,
        chance_fraction=answer.chance_fraction,
        id=str(uuid.uuid4()),
        device=reader.device,
        person=reader.person,
    )
