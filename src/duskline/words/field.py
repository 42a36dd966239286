"""How a field is driven, in sentences: spreader, covering machines, edges, ground."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from duskline.answers.drive import EdgePlan
from duskline.answers.field import CoverField, FieldAnswer, SpreadField
from duskline.answers.working import Figure
from duskline.core.farm import Farm, LeftOut
from duskline.core.lap import CheckMark, CountCheck
from duskline.core.lie import Reason, grade_fraction
from duskline.core.loads import PassLoad
from duskline.core.passes import PassPlan, pass_numbers
from duskline.core.sides import compass_rad
from duskline.units import System, number, show, show_span, to_display
from duskline.words.aim import (
    WINDS,
    Language,
    aim_sentence,
    check_mark_sentences,
    compass_deg,
    corner_name,
    count_sentences,
    has_corners,
    heading_words,
    order_sentence,
    rounds_sentence,
    side_name,
)
from duskline.words.lap import (
    advised_sentence,
    angle_sentences,
    joints_sentence,
    minutes_text,
    more_lap_sentences,
    skip_sentence,
)
from duskline.words.sides import edge_sentences, heading_reasons, not_found_sentence

__all__ = [
    "acres_sentences",
    "by_eye_sentences",
    "clock_tells",
    "counted_sentences",
    "cover_lines",
    "edges_lines",
    "empty_at",
    "field_headline",
    "ground_lines",
    "left_out_sentences",
    "line_words",
    "loads_lines",
    "minutes_line",
    "missed_sentences",
    "passes_words",
    "saving_sentence",
    "slope_sentences",
    "spread_lines",
    "turned_deg",
    "way_words",
]

_ROUND_DEG = 0.05
LINES = {
    "en": (
        "north and south",
        "north-east and south-west",
        "east and west",
        "north-west and south-east",
    ),
    "es": ("norte y sur", "noreste y suroeste", "este y oeste", "noroeste y sureste"),
}
PHRASES = {
    "en": {
        "spread": "Spread {way}",
        "cover": "cover {way}",
        "cover off": "cover {angle}° off it",
        "rounds": "in rounds alone",
        "strips": "in rounds and {passes} between them",
        "pass": "1 pass",
        "passes": "{count} passes",
        "runs": "{passes} in {runs} runs",
        "drive": "Drive {heading}.",
        "from pass 1": "the middle of pass 1, square across",
        "land": "The other land begins {far} from {corner}: set a flag there.",
        "land along": "The other land begins {far} from {corner} along the {side} side: set a flag "
        "there.",
        "part": "Part {number}: {text}",
        "load": "Load {number}: {mass}, {area}; empty at {where}.",
        "no way": ": no way round it with this hopper",
        "done": ", the field is done",
        "leg": "leg {number} of the headland rounds",
        "end of": "the end of {name}",
        "place in": "a place in {name}",
        "short run": "a short run beside the passes",
        "pass number": "pass {number}",
        "wind end": "the {wind} end of {name}",
        "before end": "a place in {name}, before its {wind} end",
        "rounds only": "Rounds alone do this field, {apart} from round to round.",
        "rounds strips": "Rounds and {passes} between them do this field, {apart} from round to "
        "round.",
        "work": "{work} of driving and turning",
        "clock": "; {clock} by the clock, at this machine's rate on this farm",
        "no fills": ", filling not counted.",
        "slower": "{here}; along the longest side it would be {longest}.",
        "no quicker": "Along the longest side, {longest}: nothing tried was quicker.",
        "noise": "{here} against {longest} along the longest side: too little to tell; drive "
        "whichever you like.",
        "saved parts": "{here} in {count} parts, against {longest} along the longest side.",
        "saved": "{here} against {longest} along the longest side.",
        "tried": "Tried as well: {ways}.",
        "room": "A turn needs {need} of room; the headland has {have}.",
        "no room": "A turn needs {need} of room and this field leaves {have}: back up, or turn "
        "outside it.",
        "over edge": "In {count} of {turns} turns a plain swing goes over the edge: swing inward "
        "first, or back up.",
        "over edge all": "In every turn a plain swing goes over the edge: swing inward first, or "
        "back up.",
        "side part": "the {side} part {line}",
        "in parts": "In {count} parts: {parts}.",
        "steep": "Downhill is written for this field but not how steep it is: the heading goes by "
        "the minutes alone. Write slope as well.",
        "slope little": "The slope of {slope} % matters little: along the passes it is {along} %.",
        "slope none": "The slope of {slope} % asks for no other heading: along the passes it is "
        "{along} %.",
        "fuel book": "Fuel about {fuel} ({low} to {high}, a book figure until your own tank says).",
        "fuel own": "Fuel about {fuel}, by your own tank.",
        "apart": "{line}, {off}{passes}, {width} from pass to pass.",
        "turned": "turned {angle}° off the spread passes; ",
        "unseeded": "In all {area} along these edges gets no seed of its own.",
        "as planned": "{machine}, as planned: worked once {once}, twice or more {twice}, missed "
        "{missed} ({area}). A driver leaves more, and no tool buries every seed.",
        "too wide": "{machine} is too wide at {width} for parts of this field, and they would lie "
        "bare: {again}. Where nothing gets in, throw no seed there and put them under left_out in "
        "farm.toml.",
        "again": "go over them once more at another angle or with a narrower tool",
        "let other": "let {other} do the field, which gets into them, or {again}",
        "area": "Area: {areas}.",
        "outline": "outline",
        "driven": "driven",
        "office": "office",
        "areas apart": "{One} and {other} are {apart} % apart: none is altered here; ask the "
        "office which one they pay on.",
        "left out": "Left out: {named}. For the record {area}; tell the office before it pays.",
        "come back": "[ ] Come back to: {what}, {area}",
    },
    "es": {
        "spread": "Esparza {way}",
        "cover": "tape {way}",
        "cover off": "tape a {angle}° de esa línea",
        "rounds": "solo en vueltas",
        "strips": "en vueltas y {passes} entre ellas",
        "pass": "1 pasada",
        "passes": "{count} pasadas",
        "runs": "{passes} en {runs} tramos",
        "drive": "Maneje hacia: {heading}.",
        "from pass 1": "el centro de la pasada 1, a escuadra",
        "land": "La otra parte empieza a {far} de {corner}: ponga ahí una bandera.",
        "land along": "La otra parte empieza a {far} de {corner} por el lado {side}: ponga ahí una "
        "bandera.",
        "part": "Parte {number}: {text}",
        "load": "Carga {number}: {mass}, {area}; vacía en {where}.",
        "no way": ": con esta tolva no hay otra manera",
        "done": ", el lote queda listo",
        "leg": "la parte {number} de las vueltas de cabecera",
        "end of": "el final de {name}",
        "place in": "un punto de {name}",
        "short run": "un tramo corto junto a las pasadas",
        "pass number": "la pasada {number}",
        "wind end": "el extremo {wind} de {name}",
        "before end": "un punto de {name}, antes de su extremo {wind}",
        "rounds only": "Este lote se hace solo con vueltas, {apart} de una a otra.",
        "rounds strips": "Este lote se hace con vueltas y {passes} entre ellas, {apart} de una "
        "vuelta a otra.",
        "work": "{work} manejando y girando",
        "clock": "; {clock} por reloj, al ritmo de esta máquina en esta finca",
        "no fills": ", sin contar las cargas.",
        "slower": "{here}; por el lado más largo serían {longest}.",
        "no quicker": "Por el lado más largo, {longest}: no se halló nada más rápido.",
        "noise": "{here} contra {longest} por el lado más largo: la diferencia es muy poca; maneje "
        "como guste.",
        "saved parts": "{here} en {count} partes, contra {longest} por el lado más largo.",
        "saved": "{here} contra {longest} por el lado más largo.",
        "tried": "También se probó: {ways}.",
        "room": "Un giro pide {need} de espacio; la cabecera tiene {have}.",
        "no room": "Un giro pide {need} de espacio y este lote deja {have}: dé reversa o gire "
        "afuera.",
        "over edge": "En {count} de {turns} giros, girando sin más se sale de la orilla: abra "
        "primero hacia adentro, o dé reversa.",
        "over edge all": "En todos los giros, girando sin más se sale de la orilla: abra primero "
        "hacia adentro, o dé reversa.",
        "side part": "la parte {side} {line}",
        "in parts": "En {count} partes: {parts}.",
        "steep": "Está escrito hacia dónde baja este lote pero no cuánto: el rumbo va solo por los "
        "minutos. Escriba también la pendiente.",
        "slope little": "La pendiente de {slope} % importa poco: a lo largo de las pasadas es de "
        "{along} %.",
        "slope none": "La pendiente de {slope} % no pide otro rumbo: a lo largo de las pasadas es "
        "de {along} %.",
        "fuel book": "Combustible, unos {fuel} ({low} a {high}, cifra de libro hasta que hable su "
        "propio tanque).",
        "fuel own": "Combustible, unos {fuel}, según su propio tanque.",
        "apart": "{line}, {off}{passes}, {width} de una a otra.",
        "turned": "a {angle}° de las pasadas de esparcir; ",
        "unseeded": "En total {area} junto a estas orillas queda sin semilla propia.",
        "as planned": "{machine}, según el plan: pasado una vez {once}, dos o más {twice}, sin "
        "pasar {missed} ({area}). Un chofer deja más, y ninguna máquina entierra toda la semilla.",
        "too wide": "{machine} es muy ancha, {width}, para partes de este lote, y quedarían sin "
        "tapar: {again}. Donde nada entra, no tire semilla y póngalas en left_out en farm.toml.",
        "again": "páselas otra vez en otro ángulo o con una máquina más angosta",
        "let other": "que {other} haga el lote, que sí entra, o {again}",
        "area": "Superficie: {areas}.",
        "outline": "contorno",
        "driven": "manejada",
        "office": "oficina",
        "areas apart": "{One} y {other} difieren en {apart} %: aquí no se cambia ninguna; pregunte "
        "en la oficina cuál pagan.",
        "left out": "Sin hacer: {named}. Para el registro {area}; avise a la oficina antes de que "
        "pague.",
        "come back": "[ ] Volver a: {what}, {area}",
    },
}
_CRUMB_M2 = 20.0
_TOLD_S = 30.0


def line_words(heading_rad: float, language: Language = "en") -> str:
    """Return the line of passes as a driver says it: "east and west (90°)".

    Parameters
    ----------
    heading_rad
        Counter-clockwise from east. [rad]
    """
    # A hair under half a turn is north and south, 0 degrees, like a hair over none.
    degrees = round(compass_deg(heading_rad), 1) % 180.0
    shown = number(degrees, 0) if abs(degrees - round(degrees)) < _ROUND_DEG else f"{degrees:.1f}"
    return f"{LINES[language][round(degrees / 45.0) % 4]} ({shown}°)"


def turned_deg(cover: PassPlan, spread: PassPlan) -> float:
    """Return the angle between covering and spread passes in the largest part. [deg]"""
    off = math.degrees(cover.heading_rad - spread.heading_rad) % 180.0
    return min(off, 180.0 - off)


def field_headline(answer: FieldAnswer, language: Language = "en") -> str:
    """Return the one line: both lines of driving."""
    say = PHRASES[language]
    spread, cover = answer.spread.plan, None if answer.cover is None else answer.cover.plan
    rounds = _rounds_words(spread, language)
    told = say["spread"].format(way=rounds or line_words(spread.heading_rad, language))
    if cover is None:
        return told
    way = _rounds_words(cover, language)
    if way or rounds:
        way = way or line_words(cover.heading_rad, language)
        return f"{told}; {say['cover'].format(way=way)}"
    return f"{told}; {say['cover off'].format(angle=number(turned_deg(cover, spread), 0))}"


def way_words(plan: PassPlan, language: Language = "en") -> str:
    """Return how a plan does its field: the line of its passes, or in rounds alone."""
    return _rounds_words(plan, language) or line_words(plan.heading_rad, language)


def _rounds_words(plan: PassPlan, language: Language = "en") -> str:
    """Return that rounds do the field, with strips between them where some are; "" for passes."""
    say = PHRASES[language]
    if not plan.passes_count:
        return say["rounds"]
    if not plan.only_strips:
        return ""
    return say["strips"].format(passes=passes_words(plan, language))


def _in_rounds(plan: PassPlan, system: System, language: Language) -> str:
    """Return the line of a field that rounds do, all but strips between them; "" for passes."""
    say = PHRASES[language]
    apart = show(plan.driving.driving_width_m, "length", system)
    if not plan.passes_count:
        return say["rounds only"].format(apart=apart)
    if plan.only_strips:
        return say["rounds strips"].format(passes=passes_words(plan, language), apart=apart)
    return ""


def minutes_line(work_s: float, clock_s: float, language: Language = "en") -> str:
    """Return the time at the wheel as planned, and what the farm's own clock makes of it."""
    say = PHRASES[language]
    text = say["work"].format(work=minutes_text(work_s, language))
    if clock_tells(work_s, clock_s):
        text += say["clock"].format(clock=minutes_text(clock_s, language))
    return text


def clock_tells(work_s: float, clock_s: float) -> bool:
    """Return whether the clock's time is worth a word: no more than a hair above, it is not."""
    return clock_s > work_s * 1.05


def saving_sentence(one: SpreadField, language: Language = "en") -> str:
    """Return what this heading saves against the longest side, and whether that means anything."""
    longest = show_span(round(one.plan.longest_edge_s / 60.0) * 60.0)
    here = show_span(round(one.plan.work_s / 60.0) * 60.0)
    count = len(one.plan.blocks)
    if one.saved_s < -_TOLD_S:
        key = "slower"
    elif one.saved_s < 1.0:
        key = "no quicker"
    elif one.saving_is_noise:
        key = "noise"
    else:
        key = "saved parts" if count > 1 else "saved"
    return PHRASES[language][key].format(here=here, longest=longest, count=count)


def _others(one: SpreadField, language: Language) -> list[str]:
    """Return the time along other sides: what the heading was chosen from."""
    told = [
        f"{line_words(heading_rad, language)} {show_span(round(work_s / 60.0) * 60.0)}"
        for heading_rad, work_s in one.others
    ]
    return [PHRASES[language]["tried"].format(ways="; ".join(told))] if told else []


def _turn_room(plan: PassPlan, system: System, language: Language) -> str:
    need = show(plan.driving.room_m(plan.order), "length", system, 0)
    have = show(plan.headland_m, "length", system, 0)
    return PHRASES[language]["room" if plan.turns_fit else "no room"].format(need=need, have=have)


def spread_lines(
    farm: Farm, answer: FieldAnswer, one: SpreadField, *, language: Language = "en"
) -> list[str]:
    """Return what the spreader's driver needs in this field."""
    system, plan, say = farm.system, one.plan, PHRASES[language]
    lines = [minutes_line(plan.work_s, one.clock_s, language) + say["no fills"]]
    in_rounds = _in_rounds(plan, system, language)
    if in_rounds:
        lines.insert(0, in_rounds)
    else:
        way = say["apart"].format(
            line=line_words(plan.heading_rad, language),
            off="",
            passes=passes_words(plan, language),
            width=show(plan.driving.driving_width_m, "length", system),
        )
        lines = [way, *lines, saving_sentence(one, language), *_others(one, language)]
    holes = bool(answer.plan.outline.holes_m)
    lines += [rounds_sentence(plan.rounds_count, last=False, holes=holes, language=language)]
    if len(plan.passes_m) > 1 and not plan.only_strips:
        lines.append(order_sentence(plan.order.way, step=plan.order.step, language=language))
    if not plan.turns_fit and len(plan.passes_m) > 1:
        lines.append(_turn_room(plan, system, language))
    lines += _over_edge(one.over_edge_count, plan, language)
    lines += _parts(plan, language)
    lines += slope_sentences(farm, answer, one, language=language)
    lines.append(_fuel(one.fuel_m3, system, language))
    return lines


def passes_words(plan: PassPlan, language: Language = "en") -> str:
    """Return how many passes, and in how many runs where holes or notches break them."""
    count, say = plan.passes_count, PHRASES[language]
    text = say["pass" if count == 1 else "passes"].format(count=count)
    runs = len(plan.passes_m)
    return text if runs == count else say["runs"].format(passes=text, runs=runs)


def slope_sentences(
    farm: Farm, answer: FieldAnswer, one: SpreadField, *, language: Language = "en"
) -> list[str]:
    """Return what slope and wind had to say about the heading, and what is not known of the lie.

    A slope that was written down is never passed over in silence.
    """
    field, kept = answer.field, answer.plan.kept
    told = [] if kept is None else heading_reasons(kept, language)
    slope, limit = field.slope_fraction, farm.defaults["slope_that_matters"].value
    if field.downhill_to is not None and slope is None and not field.erodible:
        told.append(PHRASES[language]["steep"])
    downhill_rad = None if field.downhill_to is None else compass_rad(field.downhill_to)
    if slope is None or downhill_rad is None or not one.plan.passes_count:
        return told
    about_slope = {Reason.CONTOUR, Reason.NOT_DOWNHILL, Reason.NO_LEVEL_HEADING}
    if kept is not None and about_slope & set(kept.reasons):
        return told
    grade = grade_fraction(
        heading_rad=one.plan.heading_rad,
        downhill_rad=downhill_rad,
        slope_fraction=slope,
    )
    told.append(
        PHRASES[language]["slope little" if slope < limit else "slope none"].format(
            slope=number(100.0 * slope, 1), along=number(100.0 * grade, 1)
        )
    )
    return told


def _over_edge(count: int, plan: PassPlan, language: Language) -> list[str]:
    """Return how many turns go over the edge when swung the plain way."""
    if not count:
        return []
    key = "over edge" if count < plan.turns_count else "over edge all"
    return [PHRASES[language][key].format(count=count, turns=plan.turns_count)]


def _parts(plan: PassPlan, language: Language) -> list[str]:
    """Return the parts of a field and their headings, where it has several."""
    if len(plan.blocks) == 1:
        return []
    middles = [block.region.centroid for block in plan.blocks]
    mean_x = sum(one.x for one in middles) / len(middles)
    mean_y = sum(one.y for one in middles) / len(middles)
    say, names = PHRASES[language], []
    for block, middle in zip(plan.blocks, middles, strict=True):
        away = math.atan2(middle.y - mean_y, middle.x - mean_x)
        side = heading_words(away, language).split(" (")[0].split(",")[0]
        line = line_words(block.heading_rad, language)
        names.append(say["side part"].format(side=side, line=line))
    return [say["in parts"].format(count=len(names), parts="; ".join(names))]


def _fuel(fuel: Figure, system: System, language: Language) -> str:
    say, text = PHRASES[language], _two_figures(float(fuel.value), system)
    if fuel.low is not None and fuel.high is not None:
        low, high = (_two_figures(one, system) for one in (fuel.low, fuel.high))
        return say["fuel book"].format(fuel=text, low=low, high=high)
    return say["fuel own"].format(fuel=text)


def _two_figures(fuel_m3: float, system: System) -> str:
    """Return an amount of fuel to two figures, so that a small field's is not none."""
    value, _ = to_display(fuel_m3, "fuel volume", system)
    digits = 0 if value <= 0.0 else max(0, 1 - math.floor(math.log10(value)))
    return show(fuel_m3, "fuel volume", system, digits)


def loads_lines(farm: Farm, one: SpreadField, *, language: Language = "en") -> list[str]:
    """Return each load, what it does, and where the spreader runs empty."""
    system, say = farm.system, PHRASES[language]
    lines = []
    for number_, load in enumerate(one.loads, start=1):
        where = empty_at(one, load, language=language)
        if not load.at_run_end:
            where += say["no way"]
        elif number_ == len(one.loads):
            where += say["done"]
        lines.append(
            say["load"].format(
                number=number_,
                mass=show(load.mass_kg, "mass", system),
                area=show(load.area_m2, "area", system),
                where=where,
            )
        )
    return lines


def empty_at(one: SpreadField, load: PassLoad, *, language: Language = "en") -> str:
    """Return where a load ends, in passes as they are counted: "the east end of pass 12".

    Parameters
    ----------
    one
        The spreader.
    load
        One of its loads.
    """
    plan, run, say = one.plan, load.last_index - one.first_run_index, PHRASES[language]
    if run < 0:
        leg = say["leg"].format(number=load.last_index + 1)
        return say["end of" if load.at_run_end else "place in"].format(name=leg)
    start_m, end_m = plan.passes_m[run].tolist()
    way_deg = compass_deg(math.atan2(end_m[1] - start_m[1], end_m[0] - start_m[0]))
    wind = WINDS[language][round(way_deg / 45.0) % 8]
    place = pass_numbers(plan)[run]
    name = say["short run"] if place is None else say["pass number"].format(number=place)
    return say["wind end" if load.at_run_end else "before end"].format(wind=wind, name=name)


def counted_sentences(one: CoverField, system: System, *, language: Language = "en") -> list[str]:
    """Return the passes to count: as many as the map has, of the largest part.

    The count that the width across gives may be one off what the plan lays out; nobody is told
    both.
    """
    check, plan = one.count, one.plan
    if check is None:
        return []
    part = max(range(len(plan.blocks)), key=lambda at: plan.blocks[at].region.area)
    laid = len(np.unique(plan.row_indices[plan.block_indices == part]))
    width_m = plan.driving.worked_m
    across_m = (width_m - check.overlap_if_more_m) * check.high_count
    told = CountCheck(
        passes_count=laid,
        overlap_if_fewer_m=width_m - across_m / (laid - 1) if laid > 1 else None,
        overlap_if_more_m=width_m - across_m / (laid + 1),
    )
    first, *others = count_sentences(told, system, language=language)
    if len(plan.blocks) > 1:
        first = PHRASES[language]["part"].format(number=part + 1, text=first)
    return [first, *others]


def edges_lines(farm: Farm, answer: FieldAnswer, *, language: Language = "en") -> list[str]:
    """Return what each flagged edge asks of the spreader."""
    lines = []
    for plan in answer.plan.edges:
        if not plan.sides:
            lines.append(
                not_found_sentence(
                    word=plan.edge.side,
                    kind=plan.edge.kind,
                    understood=plan.understood,
                    language=language,
                )
            )
            continue
        lines.append(" ".join(_edge(farm, plan, answer.spread.rate_kg_per_m2, language)))
    if answer.plan.unseeded_m2 > _CRUMB_M2 and lines:
        area = show(answer.plan.unseeded_m2, "area", farm.system, 2)
        lines.append(PHRASES[language]["unseeded"].format(area=area))
    return lines


def _side_word(plan: EdgePlan, language: Language) -> str:
    """Return a flagged side as the reader calls it; as it was written where it has no one name."""
    word = plan.edge.side.strip().lower().replace(" ", "-")
    if word in WINDS["en"]:
        return WINDS[language][WINDS["en"].index(word)]
    names = {side_name(one, language) for one in plan.sides}
    return names.pop() if len(names) == 1 else plan.edge.side


def _edge(farm: Farm, plan: EdgePlan, rate_kg_per_m2: float, language: Language) -> list[str]:
    side = plan.edge.side
    if language != "en":
        side = _side_word(plan, language)
    return edge_sentences(
        plan.first,
        side=side,
        kind=plan.edge.kind,
        dose=plan.dose,
        thin_below_fraction=farm.defaults["edge_thin_below"].value,
        system=farm.system,
        rate_kg_per_m2=rate_kg_per_m2,
        row_too_short=plan.row_too_short,
        wind_towards=plan.blown_m > 0.0,
        language=language,
    )


def by_eye_sentences(
    farm: Farm, answer: FieldAnswer, one: CoverField, *, language: Language = "en"
) -> list[str]:
    """Return where pass 1 starts, what to aim at, and the marks to check by."""
    first = one.plan.first
    if first is None:
        return []
    say = PHRASES[language]
    pace = farm.defaults["pace"].value
    within_m = farm.defaults["straight_within"].value
    outline = answer.plan.outline
    lines = [
        aim_sentence(
            outline, first, farm.system, straight_within_m=within_m, pace_m=pace, language=language
        ),
        say["drive"].format(heading=heading_words(first.aim_rad, language)),
    ]
    if one.marks is None:
        return lines
    corner: str = corner_name(
        outline, one.marks.corner_m, straight_within_m=within_m, language=language
    )
    side: str | None = side_name(one.marks.side, language)
    marks = one.marks.marks
    if not has_corners(outline, straight_within_m=within_m):
        corner, side = say["from pass 1"], None
        marks = _from_pass_1(one, marks)
    if one.plan.order.way == "lands":
        far = show(marks[0].from_corner_m, "length", farm.system, 0)
        key = "land" if side is None else "land along"
        lines.append(say[key].format(far=far, corner=corner, side=side))
        return lines
    return [
        *lines,
        *check_mark_sentences(
            marks, farm.system, corner=corner, side=side, pace_m=pace, language=language
        ),
    ]


def _from_pass_1(one: CoverField, marks: Sequence[CheckMark]) -> tuple[CheckMark, ...]:
    """Return the marks as they lie from the middle of pass 1, where no corner is to be found."""
    width_m = one.plan.driving.driving_width_m
    return tuple(replace(mark, from_corner_m=(mark.pass_number - 0.5) * width_m) for mark in marks)


def cover_lines(
    farm: Farm, answer: FieldAnswer, one: CoverField, *, language: Language = "en"
) -> list[str]:
    """Return what the driver of a covering machine needs in this field."""
    system, plan = farm.system, one.plan
    holes = bool(answer.plan.outline.holes_m)
    lines = [
        _in_rounds(plan, system, language) or _cover_way(answer, plan, system, language),
        f"{minutes_line(plan.work_s, one.clock_s, language)}.",
    ]
    if len(plan.passes_m) > 1 and not plan.only_strips:
        lines.append(order_sentence(plan.order.way, step=plan.order.step, language=language))
    lines += [
        rounds_sentence(plan.rounds_count, last=True, holes=holes, language=language),
        *([_turn_room(plan, system, language)] if len(plan.passes_m) > 1 else []),
        *_over_edge(one.over_edge_count, plan, language),
        *by_eye_sentences(farm, answer, one, language=language),
        *counted_sentences(one, system, language=language),
        *_lap_lines(farm, one, language),
        *_angle_lines(farm, answer, one, language),
        _fuel(one.fuel_m3, system, language),
    ]
    return lines


def _cover_way(answer: FieldAnswer, plan: PassPlan, system: System, language: Language) -> str:
    """Return the line of a covering machine's passes, their number, and how far apart they lie."""
    say, off = PHRASES[language], ""
    if not _rounds_words(answer.spread.plan):
        off = say["turned"].format(angle=number(turned_deg(plan, answer.spread.plan), 0))
    return say["apart"].format(
        line=line_words(plan.heading_rad, language),
        off=off,
        passes=passes_words(plan, language),
        width=show(plan.driving.driving_width_m, "length", system),
    )


def _lap_lines(farm: Farm, one: CoverField, language: Language) -> list[str]:
    """Return the lap advised, what it leaves, and what one more foot of it costs."""
    system = farm.system
    return [
        advised_sentence(
            one.lap.advised, now_m=one.lap.overlap_m, system=system, language=language
        ),
        skip_sentence(
            one.lap.skip_fraction,
            low_fraction=one.lap.skip_low_fraction,
            high_fraction=one.lap.skip_high_fraction,
            language=language,
        ),
        *more_lap_sentences(
            one.more_day,
            more_m=one.more_m,
            system=system,
            currency=farm.prices.currency,
            field=one.more_field,
            language=language,
        ),
    ]


def _angle_lines(farm: Farm, answer: FieldAnswer, one: CoverField, language: Language) -> list[str]:
    """Return where joints pile up, and what the covering angle is for and costs."""
    system, plan, lines = farm.system, one.plan, []
    if one.joints is not None:
        noun = next(c for c in farm.cultivators if c.name == one.machine)
        warning = joints_sentence(
            one.joints,
            spread_driving_width_m=answer.spread.plan.driving.driving_width_m,
            cover_spacing_m=noun.working_width_m,
            system=system,
            language=language,
        )
        lines += [warning] if warning else []
    if answer.plan.angle is not None and one is answer.cover and not _rounds_words(plan):
        lines += angle_sentences(
            answer.plan.angle,
            driven_rad=math.radians(turned_deg(plan, answer.spread.plan)),
            price=one.price,
            system=system,
            language=language,
        )
    return lines


def ground_lines(answer: FieldAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return what is worked once, twice and missed as planned, and the field's areas."""
    lines = []
    for one in answer.covers:
        ground = one.worked
        lines.append(
            PHRASES[language]["as planned"].format(
                machine=one.machine,
                once=_share(ground.once_m2, ground.area_m2),
                twice=_share(ground.twice_m2, ground.area_m2),
                missed=_share(ground.missed_m2, ground.area_m2),
                area=show(ground.missed_m2, "area", system, 2),
            )
        )
        lines += missed_sentences(answer, one, system, language=language)
    return [*lines, *acres_sentences(answer, system, language=language)]


def missed_sentences(
    answer: FieldAnswer, one: CoverField, system: System, *, language: Language = "en"
) -> list[str]:
    """Return what to do about ground a machine cannot get into; nothing where it is a trifle."""
    if not one.misses_ground:
        return []
    say = PHRASES[language]
    others = sorted(
        (other for other in answer.covers if not other.misses_ground),
        key=lambda other: other.worked.missed_m2,
    )
    again = say["again"]
    if others:
        again = say["let other"].format(other=others[0].machine, again=again)
    width = show(one.plan.driving.worked_m, "length", system)
    return [say["too wide"].format(machine=one.machine, width=width, again=again)]


def acres_sentences(answer: FieldAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return the field's areas side by side, and what is left out of the record."""
    field, say = answer.field, PHRASES[language]
    stated = [("outline", field.area_m2)]
    if field.driven_area_m2 is not None:
        stated.append(("driven", field.driven_area_m2))
    if field.office_area_m2 is not None:
        stated.append(("office", field.office_area_m2))
    text = ", ".join(f"{say[name]} {show(area, 'area', system, 2)}" for name, area in stated)
    lines = [say["area"].format(areas=text)]
    acres = answer.acres
    if acres is not None and acres.differs and acres.apart is not None:
        one, other = (say[name] for name in acres.apart)
        apart = number(100.0 * acres.apart_fraction, 1)
        lines.append(say["areas apart"].format(One=one.capitalize(), other=other, apart=apart))
    return [
        *lines,
        *left_out_sentences(field.left_out, field.record_area_m2, system, language=language),
    ]


def left_out_sentences(
    left_out: Sequence[LeftOut], record_area_m2: float, system: System, *, language: Language = "en"
) -> list[str]:
    """Return what is left out, what that leaves for the record, and what to come back to."""
    if not left_out:
        return []
    say = PHRASES[language]
    named = ", ".join(f"{one.what} {show(one.area_m2, 'area', system, 2)}" for one in left_out)
    lines = [say["left out"].format(named=named, area=show(record_area_m2, "area", system, 2))]
    lines += [
        say["come back"].format(what=one.what, area=show(one.area_m2, "area", system, 2))
        + (f" ({one.note})" if one.note else "")
        for one in left_out
        if one.come_back
    ]
    return lines


def _share(part_m2: float, whole_m2: float) -> str:
    share = 100.0 * part_m2 / whole_m2
    return f"{share:.2f} %" if 0.0 < share < 1.0 else f"{share:.0f} %"
