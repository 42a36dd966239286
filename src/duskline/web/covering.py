"""The Covering page: what to do about points or overlap first, and does the angle help?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from duskline.answers.cost import ToolMatch, tool_matches
from duskline.answers.evenness import EvennessAnswer, EvennessRow, NoTrayTest, evenness_answer
from duskline.answers.lap import LapAnswer, lap_answers
from duskline.answers.points import (
    NO_FIGURE,
    PointsAnswer,
    RowAnswer,
    check_cards,
    ground_to_cover,
    points_answer,
    worked_in_m2,
)
from duskline.answers.telling import settled
from duskline.core.errors import DusklineError
from duskline.core.farm import Farm
from duskline.core.machine import Verdict
from duskline.draw.bands import OldRows, bands_picture
from duskline.draw.density import Which, density_picture
from duskline.exchange.season_plan import kept_order, latest_plan
from duskline.web.desk import Desk
from duskline.web.drives import day_order
from duskline.web.editing import edit_sections
from duskline.web.render import Reader, drawing, fragment, page, reader_of
from duskline.words import evenness as even_words
from duskline.words import points as point_words
from duskline.words.aim import lap_text
from duskline.words.cost import match_lines
from duskline.words.errors import sentences
from duskline.words.lap import (
    advised_sentence,
    lap_headline,
    lap_state,
    now_sentence,
    skip_sentence,
)

__all__ = ["router"]

router = APIRouter()
PHONE, DESK = (350.0, 520.0), (820.0, 520.0)
MAP_PHONE, MAP_DESK = (350.0, 390.0), (560.0, 430.0)
DRAWN: tuple[Which, ...] = ("before", "after")
LOSING = ("open", "less")
"""Overlap that leaves strips, so that seed stays bare with every pass."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Head:
    """The one answer: what to do first, what else of it, and the other question's line."""

    say: str
    then: str
    beside: str


# --------------------------------------------------------------------------- the page


@router.get("/covering", response_class=HTMLResponse, include_in_schema=False)
def covering(request: Request, field: str = "", whole: str = "") -> HTMLResponse:
    """Show what to do first, overlap, points, level, check cards, tractors, and evenness."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    system, language = reader.system, reader.language
    points, laps = _points(desk, farm), lap_answers(farm)
    cards = [
        point_words.check_card_lines(card, system, language=language)
        for card in check_cards(farm, points)
    ]
    matches = tool_matches(farm)
    named = [one.name for one in farm.fields if one.outline is not None]
    chosen = field if field in named else next(iter(named), "")
    return page(
        request,
        desk,
        "covering.html",
        here="covering",
        title=reader.say("page covering"),
        farm=farm,
        head=_head(points, laps, reader) if farm.cultivators else None,
        laps=[_lap(one, reader) for one in laps],
        points=points,
        rows=[_row(one, points, reader) for one in points.rows],
        unmeasured=[point_words.unmeasured_line(one, system) for one in points.unmeasured],
        swaps=point_words.swap_lines(points, system),
        alone=point_words.ALONE if points.alone and points.swaps_sure else "",
        in_hand=point_words.in_hand_lines(points, system),
        no_figure=NO_FIGURE,
        pokes=[_poke(one.name, points, reader) for one in farm.cultivators],
        cards=[_card(one) for one in cards],
        cautions=_cautions(cards, reader),
        matches=[_match(one, reader) for one in matches],
        match_note=_plain(match_lines(matches, system)[-1:]),
        working=point_words.points_working(points.working, system),
        match_working=[step for one in matches for step in one.working],
        fields=named,
        chosen=chosen,
        evenness=_evenness(desk, farm, chosen, reader) if whole and chosen else None,
        ground=_ground(desk, farm, chosen, reader) if whole and chosen else None,
        edit=edit_sections(desk, "covering", system),
    )


def _points(desk: Desk, farm: Farm) -> PointsAnswer:
    """Return the points over the ground still to be worked in, in the order it is planned."""
    account = settled(farm)
    try:
        kept = latest_plan(desk.folder)
    except DusklineError:  # the Season page says what is wrong with it
        kept = None
    first = day_order(desk, farm).today if kept is None else kept_order(kept)
    order, worked_m2 = ground_to_cover(farm, account, first), worked_in_m2(account)
    return desk.answer(("points", order), lambda: points_answer(farm, order, worked_m2=worked_m2))


def _head(points: PointsAnswer, laps: Sequence[LapAnswer], reader: Reader) -> Head:
    """Return what is worse: points that are due, strips left bare, a swap to come, or waste."""
    system = reader.system
    due = any(row.is_due or row.point_at_limit for row in points.rows) or any(
        not swap.after and swap.in_field_m2 <= 0.0 for swap in points.swaps_likely
    )
    worst = max(laps, key=lambda one: one.skip_fraction)
    losing = [one for one in laps if _state(one, reader) in LOSING]
    wasting = [one for one in laps if _state(one, reader) == "more"]
    told = point_words.headline(points, system)
    if due or (points.swaps_sure and not losing):
        return _points_head(told, beside=_advised((losing or wasting or [worst])[0], reader))
    if losing or wasting:
        first = (
            max(losing, key=lambda one: one.skip_fraction)
            if losing
            else max(wasting, key=lambda one: one.overlap_m)
        )
        now = now_sentence(
            first.advised, now_m=first.overlap_m, system=system, language=reader.language
        )
        return Head(say=lap_headline(first, system), then=now, beside=f"{told}.")
    return _points_head(told, beside=_advised(worst, reader))


def _points_head(told: str, *, beside: str) -> Head:
    """Return the points' one line with what most likely is so after what is sure."""
    first, _, then = told.partition("; ")
    return Head(say=first, then=f"{then[:1].upper()}{then[1:]}", beside=beside)


def _state(lap: LapAnswer, reader: Reader) -> str:
    return lap_state(lap.advised, now_m=lap.overlap_m, system=reader.system)


def _advised(lap: LapAnswer, reader: Reader) -> str:
    told = advised_sentence(
        lap.advised, now_m=lap.overlap_m, system=reader.system, language=reader.language
    )
    return f"{lap.machine}: {told[:1].lower()}{told[1:]}"


def _lap(lap: LapAnswer, reader: Reader) -> dict[str, Any]:
    """Return one machine's overlap: the range advised, the lap of now, and what is missed."""
    system = reader.system
    low, high = (lap_text(one, system) for one in (lap.advised.low_m, lap.advised.high_m))
    state = _state(lap, reader)
    return {
        "machine": lap.machine,
        "way": reader.say("covering by eye" if lap.by_eye else "covering guided"),
        "advised": low if low == high else f"{low} – {high}",
        "now": lap_text(abs(lap.overlap_m), system),
        "now_name": reader.say("covering gap" if state == "open" else "covering now"),
        "state": state,
        "advice": advised_sentence(
            lap.advised, now_m=lap.overlap_m, system=system, language=reader.language
        ),
        "missed": skip_sentence(
            lap.skip_fraction,
            low_fraction=lap.skip_low_fraction,
            high_fraction=lap.skip_high_fraction,
            language=reader.language,
        ),
    }


def _row(row: RowAnswer, points: PointsAnswer, reader: Reader) -> dict[str, Any]:
    """Return one row of points; its bar is the wear beside the wear at which it is swapped."""
    system = reader.system
    name = point_words.row_name(row.machine, row.row)
    return {
        "name": f"{name[:1].upper()}{name[1:]}",
        "machine": row.machine,
        "row": row.row,
        "left": point_words.left_words(row, system),
        "worn_m": round(row.wear.worn_m, 6),
        "limit_m": round(row.limit_m, 6),
        "worn": point_words.worn_words(row, system),
        "lines": _plain(point_words.row_lines(row, points, system)[1:]),
    }


def _poke(machine: str, points: PointsAnswer, reader: Reader) -> dict[str, Any]:
    found = next((one for one in points.pokes if one.machine == machine), None)
    if found is None:
        return {"machine": machine, "verdict": "", "lines": [reader.say("covering not poked")]}
    verdict = point_words.level_words(found, reader.system, reader.language)
    return {
        "machine": machine,
        "verdict": f"{verdict[:1].upper()}{verdict[1:]}",
        "lines": _plain(point_words.poke_lines(found, reader.system)[1:]),
    }


def _card(lines: Sequence[str]) -> dict[str, Any]:
    """Return a check card's title and its five lines to tick."""
    title, *others = lines
    checks = [one for one in others if one.startswith(point_words.BOX)]
    return {"title": title, "checks": [one.removeprefix(point_words.BOX).strip() for one in checks]}


def _cautions(cards: Sequence[Sequence[str]], reader: Reader) -> list[str]:
    """Return the cautions of the check cards, which are the same on all, and one about jacks."""
    found = [one for one in cards[0][1:] if not one.startswith(point_words.BOX)] if cards else []
    return [*found[:1], reader.say("covering jack"), *found[1:]] if found else []


def _match(one: ToolMatch, reader: Reader) -> dict[str, Any]:
    """Return whether a tractor has the power for its tool."""
    first, *others = _plain(match_lines([one], reader.system)[:-1])
    return {
        "machine": one.machine,
        "first": first,
        "lines": others,
        "short": one.match.verdict is not Verdict.ENOUGH,
    }


def _plain(lines: Sequence[str]) -> list[str]:
    """Return lines of the desktop without their indent."""
    return [one.strip() for one in lines if one.strip()]


# --------------------------------------------------------------------------- evenness


@router.get("/covering/evenness", response_class=HTMLResponse, include_in_schema=False)
def evenness(request: Request, field: str = "") -> HTMLResponse:
    """Return how even the seed of one field lies, as a part of the page."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    facts = _evenness(desk, farm, field, reader)
    status = 200 if facts["known"] else 404
    return HTMLResponse(
        fragment("covering_evenness.html", reader, evenness=facts, ground=None), status
    )


@router.get("/covering/ground", response_class=HTMLResponse, include_in_schema=False)
def ground(request: Request, field: str = "") -> HTMLResponse:
    """Return one field driven out: the maps before and after covering, as a part of the page."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    facts = _ground(desk, farm, field, reader)
    status = 200 if facts["known"] else 404
    return HTMLResponse(fragment("covering_ground.html", reader, ground=facts), status)


def _answer(
    desk: Desk, farm: Farm, name: str, *, with_map: bool
) -> EvennessAnswer | DusklineError | None:
    """Return how even a field's seed lies, why that is not known, or None without an outline."""
    if not any(one.name == name and one.outline is not None for one in farm.fields):
        return None

    def make() -> EvennessAnswer | DusklineError:
        try:
            return evenness_answer(farm, name, with_map=with_map)
        except DusklineError as wrong:
            return wrong

    return desk.answer(("evenness", name, with_map), make, of_log=False)


def _why_not(wrong: DusklineError | None, name: str, reader: Reader) -> dict[str, Any]:
    """Return what a part shows that has no answer."""
    texts = [reader.say("drives missing", name=name[:80])]
    if wrong is not None:
        texts = sentences(wrong, reader.system)
    return {
        "known": wrong is not None,
        "field": name[:80],
        "why_not": texts,
        "trays": isinstance(wrong, NoTrayTest),
    }


def _evenness(desk: Desk, farm: Farm, name: str, reader: Reader) -> dict[str, Any]:
    """Return what the part about evenness shows of one field, the field not driven out."""
    answer = _answer(desk, farm, name, with_map=False)
    if not isinstance(answer, EvennessAnswer):
        return _why_not(answer, name, reader)
    system = reader.system
    told = {even_words.rests_on(row.key): row for row in reversed(answer.levers)}
    return {
        "known": True,
        "field": name,
        "why_not": [],
        "headline": even_words.evenness_headline(answer, system),
        "lines": even_words.lines(answer, system),
        "before": even_words.points_text(answer.before_cv),
        "after": even_words.points_text(answer.after_cv),
        "covers": answer.cultivator is not None,
        "angle": [] if answer.angle is None else even_words.angle_lines(answer.angle, system),
        "bands": _bands(answer, reader),
        "heads": [" ".join(one).strip() for one in even_words.lever_heads(answer, system)],
        "levers": [_lever(answer, row, reader) for row in answer.levers],
        "notes": even_words.table_notes(answer, system),
        "rests": [
            f"{even_words.lever_name(answer, row, system)}: {text}"
            for text, row in reversed(told.items())
        ],
        "loss": even_words.loss_sentence(answer.loss),
        "working": even_words.evenness_working(answer.working, system),
    }


def _lever(answer: EvennessAnswer, row: EvennessRow, reader: Reader) -> dict[str, Any]:
    """Return one row of the lever table, its verdict as a word."""
    name, *cells = even_words.lever_cells(answer, row, reader.system)
    is_present = row is answer.present
    cells[0] = cells[0].rstrip(" +=-")
    return {
        "name": name,
        "cells": cells,
        "verdict": "" if is_present else reader.say(f"covering {row.verdict}"),
        "kind": "now" if is_present else row.verdict,
        "cv": row.cv,
    }


def _bands(answer: EvennessAnswer, reader: Reader) -> dict[str, Any] | None:
    """Return the strips before and after covering, drawn; None where no machine covers."""
    angle = answer.angle
    if angle is None:
        return None
    rows = OldRows(
        spacing_m=angle.row_spacing_m,
        kept_along_fraction=angle.row_kept_along,
        kept_across_fraction=angle.row_kept,
    )
    return {
        kind: drawing(
            bands_picture(
                answer.sown,
                answer.worked_in,
                reader.system,
                driving_width_m=answer.driving_width_m,
                angle_rad=angle.angle_rad,
                old_rows=rows,
                width=width,
                height=height,
                language=reader.language,
            )
        )
        for kind, (width, height) in (("phone", PHONE), ("desk", DESK))
    }


def _ground(desk: Desk, farm: Farm, name: str, reader: Reader) -> dict[str, Any]:
    """Return the maps of one field driven out, and what they say."""
    answer = _answer(desk, farm, name, with_map=True)
    if not isinstance(answer, EvennessAnswer) or answer.map is None:
        return _why_not(answer if isinstance(answer, DusklineError) else None, name, reader)
    plants, drawn = answer.ruling.plants, answer.map
    return {
        "known": True,
        "field": name,
        "why_not": [],
        "lines": even_words.map_sentences(drawn, reader.system),
        "maps": [
            (
                kind,
                [
                    drawing(
                        density_picture(
                            drawn.density,
                            answer.plan.outline,
                            reader.system,
                            which=which,
                            name=name,
                            width=width,
                            height=height,
                            plants_per_m2=None if plants is None else float(plants.value),
                            language=reader.language,
                        )
                    )
                    for which in DRAWN
                ],
            )
            for kind, (width, height) in (("phone", MAP_PHONE), ("desk", MAP_DESK))
        ],
    }
