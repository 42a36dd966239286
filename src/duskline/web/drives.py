"""The Drive plans: which field next, and how is each driven?"""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from urllib.parse import quote
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from duskline.answers.day import DayQuestion, FieldTimes, day_answer
from duskline.answers.field import CoverField, FieldAnswer, SpreadField, field_answer
from duskline.answers.telling import settled
from duskline.core.errors import DusklineError
from duskline.core.farm import Farm, Field
from duskline.core.light import local_midnight_at
from duskline.core.log import FieldState
from duskline.core.passes import PassPlan
from duskline.draw.fieldmap import field_map, map_marks
from duskline.draw.strings import Language
from duskline.exchange.passes_geojson import passes_geojson
from duskline.exchange.projection import LocalPlane
from duskline.paper import field_sheets
from duskline.paper.field_content import field_file_name
from duskline.paper.press import PaperSize, press
from duskline.paper.strings import field_safety
from duskline.units import number, show, show_span
from duskline.web.desk import Desk
from duskline.web.editing import edit_sections
from duskline.web.render import Reader, drawing, fragment, page, reader_of
from duskline.web.today import date_text
from duskline.words import field as words
from duskline.words.aim import heading_words, order_sentence, rounds_sentence
from duskline.words.errors import sentences
from duskline.words.lap import advised_sentence, minutes_text

__all__ = ["Order", "day_order", "router"]

router = APIRouter()
MOST_OPEN = 12
"""On a farm of more fields those of another day are folded away."""
MOST_IN_LEAD = 4
SMALL, PHONE, DESK = (340.0, 130.0, 240.0), (350.0, 250.0, 420.0), (700.0, 420.0, 680.0)
"""Maps: width, and the least and most height, which goes by the field. [px]"""
AROUND = 0.85
"""Share of a map's width that the field may take; the rest is for its labels."""
NO_DAY = date(2000, 1, 1)
LIST = "list"
ROOM_M2 = 50.0
"""Less than this left of a field is nothing left."""

Found = FieldAnswer | DusklineError | None
"""How a field is driven, why it cannot be, or None where it has no outline."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Order:
    """The fields in the order of the day's plan; ``known`` is whether there is such a plan.

    ``parts_m2`` has what the plan spreads today of the fields it does not finish. [m2]
    """

    today: tuple[str, ...]
    later: tuple[str, ...]
    known: bool
    parts_m2: Mapping[str, float]


@dataclass(slots=True)
class _WorkedOut:
    """Whether the list is at hand; until it is, the page comes first and fetches it."""

    is_so: bool = False


# --------------------------------------------------------------------------- the list


@router.get("/drives", response_class=HTMLResponse, include_in_schema=False)
def drives(request: Request, part: str = "", whole: str = "") -> HTMLResponse:
    """Show every field in the order of the day's plan; ``part=list`` gives the list alone."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    if part == LIST:
        return HTMLResponse(fragment("drives_list.html", reader, **_list(desk, farm, reader)))
    later = not whole and not _worked_out(desk, farm).is_so
    return page(
        request,
        desk,
        "drives.html",
        here="drives",
        title=reader.say("page drives"),
        farm=farm,
        later=later,
        names=[(one.name, _address(one.name)) for one in farm.fields],
        edit=edit_sections(desk, "drives", reader.system),
        **({} if later else _list(desk, farm, reader)),
    )


def _worked_out(desk: Desk, farm: Farm) -> _WorkedOut:
    """Return whether today's list has been worked out since the farm was last changed."""
    on = desk.now(farm).date()
    return desk.answer(("drives worked out", on), _WorkedOut, of_log=False)


def _list(desk: Desk, farm: Farm, reader: Reader) -> dict[str, Any]:
    """Return all that the list shows: the order in a few words, and every field's card."""
    order = day_order(desk, farm)
    groups = _groups(desk, farm, order, reader)
    _worked_out(desk, farm).is_so = True
    on = date_text(desk.now(farm).date(), reader)
    key = "drives lead" if order.known else "drives no day"
    ahead = _ahead(farm, order)
    ways = {row["name"]: row["way"] for group in groups for row in group["rows"]}
    way = ways[ahead[0]] if ahead else ""
    then = f"{ahead[0]}: {way}." if way else ""
    return {
        "lead": _lead(ahead, reader) if ahead else reader.say("drives none"),
        "over": reader.say(key, date=on) if ahead else reader.say("page drives"),
        "then": then if ahead else reader.say("drives none how"),
        "groups": groups,
    }


def _ahead(farm: Farm, order: Order) -> tuple[str, ...]:
    """Return the fields still to be spread, in order; all of them once none is left."""
    states = settled(farm).by_field
    nouns = {one.name: one for one in farm.fields}
    names = order.today or order.later
    left = [
        name
        for name in names
        if states.get(name, FieldState()).spread_m2 < nouns[name].record_area_m2 - ROOM_M2
    ]
    return tuple(left) or names


def _lead(names: Sequence[str], reader: Reader) -> str:
    """Return the first fields in a few words: "A8, then A1"."""
    first, *others = names
    more = len(others) - (MOST_IN_LEAD - 1)
    if len(others) == 1:
        return reader.say("drives then", first=first, next=others[0])
    text = ", ".join([first, *others[: MOST_IN_LEAD - 1]])
    return reader.say("drives and more", names=text, count=more) if more > 0 else text


def day_order(desk: Desk, farm: Farm) -> Order:
    """Return the fields in the order of today's plan as it stood in the morning.

    What is told during the day does not turn the order round under the driver.
    """
    on = desk.now(farm).date()
    begins_at = local_midnight_at(on, ZoneInfo(farm.time_zone))
    before = tuple(one for one in farm.log if one.at < begins_at)

    def make() -> Order:
        morning = replace(farm, log=before, told=before)
        names = tuple(one.name for one in farm.fields)
        try:
            rows = day_answer(morning, DayQuestion(on=on)).fields
        except DusklineError:
            return Order(today=(), later=names, known=False, parts_m2={})
        today = tuple(one.name for one in rows)
        later = tuple(name for name in names if name not in today)
        return Order(today=today, later=later, known=True, parts_m2=_parts_m2(morning, rows))

    return desk.answer(("drives order", on, before), make, of_log=False)


def _parts_m2(morning: Farm, rows: Sequence[FieldTimes]) -> dict[str, float]:
    """Return what a day's plan spreads of the fields it does not finish. [m2]"""
    states = settled(morning).by_field
    whole_m2 = {one.name: one.record_area_m2 for one in morning.fields}
    return {
        one.name: one.area_m2
        for one in rows
        if one.area_m2 + states.get(one.name, FieldState()).spread_m2 < whole_m2[one.name] - ROOM_M2
    }


def _groups(desk: Desk, farm: Farm, order: Order, reader: Reader) -> list[dict[str, Any]]:
    """Return the cards of the list under their headings."""
    on = desk.now(farm).date()
    found = desk.answer(
        ("drives list", on),
        lambda: {one.name: _try(farm, one, on) for one in farm.fields},
        of_log=False,
    )
    nouns = {one.name: one for one in farm.fields}
    states = settled(farm).by_field
    read = replace(farm, system=reader.system)
    parts = [("drives today", order.today), ("drives later", order.later)]
    if not order.known:
        parts = [("drives all", order.later)]
    return [
        {
            "title": reader.say(key),
            "folded": key != "drives today" and len(nouns) > MOST_OPEN,
            "rows": [
                _card(read, nouns[name], found[name], states.get(name), reader)
                | _part(nouns[name], order.parts_m2.get(name), reader)
                for name in names
            ],
        }
        for key, names in parts
        if names
    ]


def _part(field: Field, part_m2: float | None, reader: Reader) -> dict[str, str]:
    """Return how much of a field the day's plan spreads; nothing where it is the whole field."""
    area = reader.area(field.area_m2)
    if part_m2 is None or reader.area(part_m2) == area:
        return {}
    part = reader.area(part_m2).split(" ")[0]
    return {"area": reader.say("drives part", part=part, area=area)}


def _try(farm: Farm, field: Field, on: date) -> Found:
    if field.outline is None:
        return None
    try:
        return field_answer(farm, field.name, on=on)
    except DusklineError as wrong:
        return wrong


def _card(
    farm: Farm, field: Field, found: Found, state: FieldState | None, reader: Reader
) -> dict[str, Any]:
    """Return what the list shows of one field."""
    card: dict[str, Any] = {
        "name": field.name,
        "address": _address(field.name),
        "area": reader.area(field.area_m2),
        "state": _state_text(field, state, reader),
        "way": "",
        "why_not": [],
        "machines": [],
        "aim": "",
        "map": None,
    }
    if found is None:
        card["why_not"] = [reader.say("drives no outline")]
    elif isinstance(found, DusklineError):
        card["why_not"] = sentences(found, reader.system)
    else:
        card |= {
            "way": words.field_headline(found, reader.language),
            "machines": _alike([_machine_row(one, found, reader) for one in _machines(found)]),
            "aim": _first_aim(farm, found, reader),
            "map": _small_map(found, reader),
        }
    return card


def _state_text(field: Field, state: FieldState | None, reader: Reader) -> str:
    """Return what the log has of a field; "" where it has nothing."""
    if state is None or state.spread_m2 < ROOM_M2:
        return ""
    if state.covered_m2 >= field.record_area_m2 - ROOM_M2:
        return reader.say("drives worked in")
    return reader.say(
        "drives state", spread=reader.area(state.spread_m2), covered=reader.area(state.covered_m2)
    )


def _machines(found: FieldAnswer) -> list[SpreadField | CoverField]:
    return [*found.spreads, *found.covers]


def _machine_row(
    one: SpreadField | CoverField, found: FieldAnswer, reader: Reader
) -> dict[str, Any]:
    """Return one machine's figures in a field, each in words."""
    language, plan = reader.language, one.plan
    covers = isinstance(one, CoverField)
    holes = bool(found.plan.outline.holes_m)
    return {
        "machine": one.machine,
        "driver": one.driver,
        "does": reader.say("drives covers" if covers else "drives spreads"),
        "do": reader.say("drives cover" if covers else "drives spread"),
        "by_eye": isinstance(one, CoverField) and one.lap.by_eye,
        "way": words.way_words(plan, language),
        "passes": words.passes_words(plan, language) if plan.passes_count else "",
        "passes_count": plan.passes_count,
        "rounds": rounds_sentence(
            plan.rounds_count, last=covers, holes=holes, language=language
        ).rstrip("."),
        "minutes": minutes_text(plan.work_s, language),
    }


def _alike(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return rows with machines that do a field alike told once, by all their names."""
    told: dict[str, dict[str, Any]] = {}
    for row in rows:
        rest = {key: value for key, value in row.items() if key not in ("machine", "driver")}
        same = told.setdefault(repr(rest), {**rest, "machine": "", "driver": ""})
        for key in ("machine", "driver"):
            same[key] = ", ".join(one for one in (same[key], row[key]) if one)
        if same["machine"] != row["machine"]:
            same["does"] = same["do"]
    return list(told.values())


def _first_aim(farm: Farm, found: FieldAnswer, reader: Reader) -> str:
    """Return where pass 1 starts and aims: of the machine driven by eye, else of the first."""
    cover = next((one for one in found.covers if one.lap.by_eye), found.cover)
    if cover is None:
        return ""
    told = words.by_eye_sentences(farm, found, cover, language=reader.language)
    return f"{cover.machine}: {told[0]}" if told else ""


def _small_map(found: FieldAnswer, reader: Reader) -> Any:
    width, height = _size(found, SMALL)
    return drawing(
        field_map(
            found.plan.outline,
            found.spread.plan,
            None if found.cover is None else found.cover.plan,
            reader.system,
            name=found.field.name,
            width=width,
            height=height,
            language=reader.language,
            key=False,
        )
    )


def _size(found: FieldAnswer, room: tuple[float, float, float]) -> tuple[float, float]:
    """Return width and height of a map: a long low field does not stand in an empty square."""
    width, least, most = room
    ring_m = found.plan.outline.exterior_m
    across_m, up_m = (ring_m.max(axis=0) - ring_m.min(axis=0)).tolist()
    return width, min(most, max(least, AROUND * width * up_m / across_m + 0.25 * most))


def _address(name: str) -> str:
    return f"/drives/{quote(name, safe='')}"


# --------------------------------------------------------------------------- one field


@router.get("/drives/{name:path}/passes.geojson", include_in_schema=False)
def passes(request: Request, name: str) -> Response:
    """Give every pass, round and turn of a field to other programs."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    field = _field(farm, name)
    if field is None:
        return _missing(request, desk, farm, name)
    found = _found(desk, farm, field)
    if not isinstance(found, FieldAnswer):
        return _field_page(request, desk, farm, field, found, "")
    lon_deg, lat_deg = field.plane_lonlat_deg or field.centre
    plans = {**found.plan.spreads, **found.plan.covers}
    plane = LocalPlane(lon_deg=lon_deg, lat_deg=lat_deg)
    text = json.dumps(passes_geojson(plans, plane=plane), ensure_ascii=False, allow_nan=False)
    return _download(text.encode(), "application/geo+json", f"{field_file_name(name)}.geojson")


@router.get("/drives/{name:path}/sheet.pdf", include_in_schema=False)
def sheet(request: Request, name: str) -> Response:
    """Give the field's printed sheet in the reader's units."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    field = _field(farm, name)
    if field is None:
        return _missing(request, desk, farm, name)
    found = _found(desk, farm, field)
    if not isinstance(found, FieldAnswer):
        return _field_page(request, desk, farm, field, found, "")
    system = reader_of(request, farm).system
    read = replace(farm, system=system)
    size: PaperSize = "letter" if system == "us" else "a4"
    on = farm.forecast.hours_at[0].date() if farm.forecast else NO_DAY
    (one,) = field_sheets(read, [found], paper=size)
    return _download(press(one, paper=size, on=on), "application/pdf", f"{one.name}.pdf")


@router.get("/drives/{name:path}", response_class=HTMLResponse, include_in_schema=False)
def drive(request: Request, name: str, machine: str = "") -> HTMLResponse:
    """Show how one field is driven: the driver's part first, map, spreader, minutes, working."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    field = _field(farm, name)
    if field is None:
        return _missing(request, desk, farm, name)
    return _field_page(request, desk, farm, field, _found(desk, farm, field), machine)


def _field(farm: Farm, name: str) -> Field | None:
    return next((one for one in farm.fields if one.name == name), None)


def _found(desk: Desk, farm: Farm, field: Field) -> Found:
    on = desk.now(farm).date()
    return desk.answer(("drive", field.name, on), lambda: _try(farm, field, on))


def _missing(request: Request, desk: Desk, farm: Farm, name: str) -> HTMLResponse:
    """Say that there is no such field, and which one may be meant."""
    names = [one.name for one in farm.fields]
    near = difflib.get_close_matches(name[:200], names, n=3) or names[:MOST_OPEN]
    return page(
        request,
        desk,
        "drives_missing.html",
        here="drives",
        title=reader_of(request, farm).say("page drives"),
        farm=farm,
        status=404,
        near=near,
        asked=name[:80],
        address=_address,
    )


def _download(data: bytes, kind: str, name: str) -> Response:
    plain = "".join(one if one.isascii() else "-" for one in name)
    said = f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name)}"
    return Response(data, media_type=kind, headers={"Content-Disposition": said})


def _field_page(
    request: Request, desk: Desk, farm: Farm, field: Field, found: Found, machine: str
) -> HTMLResponse:
    reader = reader_of(request, farm)
    read = replace(farm, system=reader.system)
    state = settled(farm).by_field.get(field.name)
    facts: dict[str, Any] = {
        "field": field,
        "base": _address(field.name),
        "area": reader.area(field.area_m2, 1),
        "state": _state_text(field, state, reader),
        "notes": [text for text in farm.notes if f", {field.name}: " in text],
    }
    if not isinstance(found, FieldAnswer):
        why_not = [reader.say("drives no outline")]
        if found is not None:
            why_not = sentences(found, reader.system)
        return page(
            request, desk, "drives_none.html", here="drives", title=field.name, farm=farm,
            why_not=why_not, edit=edit_sections(desk, "drives", reader.system), **facts,
        )  # fmt: skip
    chosen = _chosen(found, machine, reader)
    covers = sorted(found.covers, key=lambda one: one.machine != chosen)
    shown = replace(found, covers=tuple(covers))
    return page(
        request,
        desk,
        "drives_field.html",
        here="drives",
        title=field.name,
        farm=farm,
        answer=found,
        way=words.field_headline(shown, reader.language),
        chosen=chosen,
        choices=[one.machine for one in _machines(found)],
        maps=_maps(shown, chosen, reader),
        covers=[_cover_part(read, shown, one, reader) for one in covers],
        spreads=_alike([_spread_part(read, shown, one, reader) for one in found.spreads]),
        spreader_first=chosen not in [one.machine for one in covers],
        table=[_minutes_row(one, reader) for one in _machines(found)],
        compared=_compared(found.spread, reader),
        ground=words.ground_lines(found, reader.system, language=reader.language),
        edges=words.edges_lines(read, found, language=reader.language),
        safety=field_safety(reader.language),
        edit=edit_sections(desk, "drives", reader.system),
        **facts,
    )


def _chosen(found: FieldAnswer, asked: str, reader: Reader) -> str:
    """Return whose map and marks come first: asked for, the reader's own, driven by eye."""
    covers = [one.machine for one in found.covers]
    names = [one.machine for one in _machines(found)]
    own = [one.machine for one in found.covers if one.driver and one.driver == reader.person]
    by_eye = [one.machine for one in found.covers if one.lap.by_eye]
    if asked in names:
        return asked
    return next(iter([*own, *by_eye, *covers, *names]))


def _maps(found: FieldAnswer, chosen: str, reader: Reader) -> dict[str, Any]:
    """Return the map for the phone and for the desk: the chosen machine's passes and turns."""
    spread = next((one for one in found.spreads if one.machine == chosen), None)
    cover = None if spread is not None else found.cover
    return {
        kind: drawing(
            field_map(
                found.plan.outline,
                (spread or found.spread).plan,
                None if cover is None else cover.plan,
                reader.system,
                name=found.field.name,
                width=width,
                height=height,
                language=reader.language,
                marks=map_marks(
                    found,
                    spreader=None if spread is None else spread.machine,
                    language=reader.language,
                ),
                turns=True,
            )
        )
        for kind, (width, height) in (("phone", _size(found, PHONE)), ("desk", _size(found, DESK)))
    }


def _cover_part(farm: Farm, found: FieldAnswer, one: CoverField, reader: Reader) -> dict[str, Any]:
    """Return what a covering driver needs, large, and what else there is to know."""
    language, system, plan = reader.language, reader.system, one.plan
    told = words.by_eye_sentences(farm, found, one, language=language)
    count = words.counted_sentences(one, system, language=language)
    order = ""
    if len(plan.passes_m) > 1 and not plan.only_strips:
        order = order_sentence(plan.order.way, step=plan.order.step, language=language)
    holes = bool(found.plan.outline.holes_m)
    rounds = rounds_sentence(plan.rounds_count, last=True, holes=holes, language=language)
    lap = advised_sentence(
        one.lap.advised, now_m=one.lap.overlap_m, system=system, language=language
    )
    steps = [
        ("drives aim", told[:2]),
        ("drives order", [order]),
        ("drives rounds", [rounds]),
        ("drives check", [*told[2:], *count[1:]]),
        ("drives lap", [lap]),
    ]
    return {
        **_machine_row(one, found, reader),
        "count": count[0] if count else words.way_words(plan, language),
        "steps": [
            (reader.say(key), [text for text in texts if text])
            for key, texts in steps
            if any(texts)
        ],
        "details": _others(
            words.cover_lines(farm, found, one, language=language), farm, found, one, language
        ),
    }


def _others(
    lines: Sequence[str], farm: Farm, found: FieldAnswer, one: CoverField, language: Language
) -> list[str]:
    """Return the lines of a covering machine that do not stand large above them."""
    system, plan = farm.system, one.plan
    holes = bool(found.plan.outline.holes_m)
    large = {
        *words.by_eye_sentences(farm, found, one, language=language),
        *words.counted_sentences(one, system, language=language),
        order_sentence(plan.order.way, step=plan.order.step, language=language),
        rounds_sentence(plan.rounds_count, last=True, holes=holes, language=language),
        advised_sentence(
            one.lap.advised, now_m=one.lap.overlap_m, system=system, language=language
        ),
    }
    return [text for text in lines if text not in large]


def _spread_part(
    farm: Farm, found: FieldAnswer, one: SpreadField, reader: Reader
) -> dict[str, Any]:
    """Return what a spreader's driver needs, and what else there is to know."""
    language, plan = reader.language, one.plan
    holes = bool(found.plan.outline.holes_m)
    lines = words.spread_lines(farm, found, one, language=language)
    order = order_sentence(plan.order.way, step=plan.order.step, language=language)
    steps = [("drives rounds", [_rounds(one, holes, language)])]
    large = {_rounds(one, holes, language), order}
    if len(plan.passes_m) > 1 and not plan.only_strips:
        steps = [("drives passes", [_apart(plan, reader)]), ("drives order", [order]), *steps]
        lines = lines[1:]
    steps.append(("drives empty", words.loads_lines(farm, one, language=language)))
    return {
        **_machine_row(one, found, reader),
        "lot": one.lot,
        "heading": _drive(plan, reader),
        "steps": [(reader.say(key), texts) for key, texts in steps],
        "lines": [text for text in lines if text not in large],
    }


def _rounds(one: SpreadField, holes: bool, language: Language) -> str:
    return rounds_sentence(one.plan.rounds_count, last=False, holes=holes, language=language)


def _apart(plan: PassPlan, reader: Reader) -> str:
    """Return how many passes, and how far one is from the next."""
    width = show(plan.driving.driving_width_m, "length", reader.system)
    passes = words.passes_words(plan, reader.language)
    return reader.say("drives apart", passes=passes, width=width)


def _drive(plan: PassPlan, reader: Reader) -> str:
    return "" if plan.first is None else heading_words(plan.first.aim_rad, reader.language)


def _minutes_row(one: SpreadField | CoverField, reader: Reader) -> dict[str, str]:
    plan, language = one.plan, reader.language
    return {
        "machine": one.machine,
        "heading": words.way_words(plan, language),
        "passes": number(plan.passes_count, 0),
        "turns": number(plan.turns_count, 0),
        "minutes": minutes_text(plan.work_s, language),
        "turning": minutes_text(plan.turning_s, language),
        "clock": minutes_text(one.clock_s, language)
        if words.clock_tells(plan.work_s, one.clock_s)
        else "",
    }


def _compared(one: SpreadField, reader: Reader) -> list[dict[str, Any]]:
    """Return the spreader's headings that were weighed, the one driven first."""
    if not one.plan.passes_count:
        return []
    weighed: Iterable[tuple[float, float]] = (
        (one.plan.heading_rad, one.plan.work_s),
        *one.others,
    )
    return [
        {
            "heading": words.line_words(heading_rad, reader.language),
            "minutes": show_span(work_s),
            "driven": place == 0,
        }
        for place, (heading_rad, work_s) in enumerate(weighed)
    ]
