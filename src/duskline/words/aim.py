"""Where a driver who goes by eye starts and what he aims at, in words he can use.

Corners and sides are called by the compass, as seen from the middle of the field.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from duskline.core.lap import CheckMark, CountCheck
from duskline.core.outline import Edge, Outline, sides
from duskline.core.passes import FirstPass
from duskline.units import FOOT_M, System, show

__all__ = [
    "Language",
    "Way",
    "aim_sentence",
    "check_mark_sentences",
    "compass_deg",
    "corner_name",
    "count_sentences",
    "ground",
    "has_corners",
    "heading_words",
    "lap_text",
    "order_sentence",
    "rounds_sentence",
    "side_name",
]

Language = Literal["en", "es"]
Way = Literal["next", "fill", "lands", "plain"]
"""Which pass comes next, as ``core.route.Order`` says it."""

WINDS = {
    "en": ("north", "north-east", "east", "south-east", "south", "south-west", "west",
           "north-west"),
    "es": ("norte", "noreste", "este", "sureste", "sur", "suroeste", "oeste", "noroeste"),
}  # fmt: skip
PHRASES = {
    "en": {
        "corner": "the {wind} corner",
        "inside": "the inside corner on the {wind}",
        "corner of": "the {end} of the {count} {wind} corners",
        "inside of": "the {end} of the {count} inside corners on the {wind}",
        "bend": "the bend on the {wind}",
        "bend of": "the {end} of the {count} bends on the {wind}",
        "inside bend": "the inside bend on the {wind}",
        "inside bend of": "the {end} of the {count} inside bends on the {wind}",
        "nth": "number {place} from the {wind}",
        "most": "one farthest {wind}",
        "start": "Start on the {side} side: {along} {wind} of {corner}, then {far} in.",
        "start corner": "Start at {corner}, {far} in from the {side} side.",
        "start past": "Start in line with the {side} side: {along} {wind} of {corner}, then {far} "
        "in.",
        "mark": "Drive at a post or flag on the {side} side, {far} {wind} of {corner}.",
        "at corner": "Drive straight at {corner}.",
        "round": "Start on the {side} side. The middle of pass 1 runs {far} in from the point of "
        "the field farthest {out}. Drive towards the {end} side.",
        "step": " (1 step)",
        "steps": " ({count} steps)",
        "a little": "{wind}, a little {other}",
        "heading": "{wind} ({degrees}°)",
        "count": "Count {count} passes, 1 more or less.",
        "count one": "One pass does it, perhaps 2.",
        "count fewer": "{count} means you lap {lap}.",
        "count fewer gap": "{count} means strips are left: {lap} between passes.",
        "count more": "{count} means you lap {lap}.",
        "count more gap": "{count} means strips are left: {lap} between passes.",
        "rounds first": "{rounds} first, along every side",
        "rounds last": "{rounds} last, along every side",
        "rounds holes": " and round every hole",
        "round one": "1 headland round",
        "round many": "{count} headland rounds",
        "no rounds": "No headland rounds: turn outside the field.",
        "next": "Drive pass beside pass, in order.",
        "fill 2": "Every second pass going out; fill in the others coming back.",
        "fill 3": "Every third pass going out; fill in the others coming back.",
        "fill": "Every {step}th pass going out; fill in the others coming back.",
        "lands": "Two lands: up pass 1, down pass {other}, up pass 2, and so on, always beside "
        "the last pass of that land.",
        "plain": "Drive pass beside pass; finish both ends of a pass before the next one.",
        "after": "After pass {count} you should be {far} from {corner}",
        "after along": ", along the {side} side",
        "after more": "; after pass {count}, {far}",
        "off": "{far} either way is ordinary. Nearer: you lap more than planned. Farther: you lap "
        "less, or leave strips.",
    },
    "es": {
        "corner": "la esquina {wind}",
        "inside": "la esquina de adentro del lado {wind}",
        "corner of": "la {end} de las {count} esquinas del lado {wind}",
        "inside of": "la {end} de las {count} esquinas de adentro del lado {wind}",
        "bend": "la curva del lado {wind}",
        "bend of": "la {end} de las {count} curvas del lado {wind}",
        "inside bend": "la curva hacia adentro del lado {wind}",
        "inside bend of": "la {end} de las {count} curvas hacia adentro del lado {wind}",
        "nth": "número {place} desde el {wind}",
        "most": "más al {wind}",
        "start": "Empiece en el lado {side}: a {along} al {wind} de {corner} y {far} adentro.",
        "start corner": "Empiece en {corner}, a {far} del lado {side}.",
        "start past": "Empiece en línea con el lado {side}: a {along} al {wind} de {corner} y "
        "{far} adentro.",
        "mark": "Maneje recto hacia un poste o bandera en el lado {side}, a {far} al {wind} de "
        "{corner}.",
        "at corner": "Maneje recto hacia {corner}.",
        "round": "Empiece en el lado {side}. El centro de la pasada 1 va a {far} adentro del punto "
        "del lote más al {out}. Maneje hacia el lado {end}.",
        "step": " (1 paso)",
        "steps": " ({count} pasos)",
        "a little": "{wind}, un poco al {other}",
        "heading": "{wind} ({degrees}°)",
        "count": "Cuente {count} pasadas, 1 más o menos.",
        "count one": "Basta 1 pasada, quizá 2.",
        "count fewer": "{count} quiere decir que traslapa {lap}.",
        "count fewer gap": "{count} quiere decir que quedan huecos: {lap} entre pasadas.",
        "count more": "{count} quiere decir que traslapa {lap}.",
        "count more gap": "{count} quiere decir que quedan huecos: {lap} entre pasadas.",
        "rounds first": "{rounds} primero, junto a todos los lados",
        "rounds last": "{rounds} al final, junto a todos los lados",
        "rounds holes": " y alrededor de cada hueco",
        "round one": "1 vuelta de cabecera",
        "round many": "{count} vueltas de cabecera",
        "no rounds": "Sin vueltas de cabecera: dé vuelta fuera del lote.",
        "next": "Una pasada junto a la otra, en orden.",
        "fill 2": "De ida, una pasada sí y una no; de regreso, haga las que faltan.",
        "fill 3": "De ida, una de cada 3 pasadas; de regreso, haga las que faltan.",
        "fill": "De ida, una de cada {step} pasadas; de regreso, haga las que faltan.",
        "lands": "Dos partes: de ida la pasada 1, de regreso la {other}, de ida la 2, y así, "
        "siempre junto a la última pasada de esa parte.",
        "plain": "Una pasada junto a la otra; termine los dos pedazos de una pasada antes de la "
        "siguiente.",
        "after": "Después de la pasada {count} debe estar a {far} de {corner}",
        "after along": ", por el lado {side}",
        "after more": "; después de la {count}, a {far}",
        "off": "{far} más o menos es normal. Más cerca: traslapa más de lo planeado. Más lejos: "
        "traslapa menos o deja huecos.",
    },
}
_LITTLE_DEG = 22.5
_PLAIN_DEG = 0.75
_AT_CORNER_M = 0.5
"""Nearer to a corner than this the corner itself is the mark."""
_SAME_M = 0.01
_CORNER_RAD = math.radians(35.0)
"""A side that turns less than this into the next makes no corner that is found on the ground."""
_WAVER_RAD = math.radians(10.0)
"""A round edge walked or drawn by hand bends in by less than this."""


def compass_deg(heading_rad: float) -> float:
    """Return degrees clockwise from true north, in [0, 360), from radians left of east."""
    return (90.0 - math.degrees(heading_rad)) % 360.0


def heading_words(heading_rad: float, language: Language = "en") -> str:
    """Return a direction in words and degrees: "north, a little east (5°)".

    Parameters
    ----------
    heading_rad
        Direction of driving, counter-clockwise from east. [rad]
    """
    degrees, winds, phrases = compass_deg(heading_rad), WINDS[language], PHRASES[language]
    quarter = round(degrees / 90.0)
    off = degrees - 90.0 * quarter
    if abs(off) > _LITTLE_DEG:
        wind = winds[2 * math.floor(degrees / 90.0) + 1]
    elif abs(off) < _PLAIN_DEG:
        wind = winds[2 * quarter % 8]
    else:
        other = winds[(2 * quarter + (2 if off > 0.0 else -2)) % 8]
        wind = phrases["a little"].format(wind=winds[2 * quarter % 8], other=other)
    return phrases["heading"].format(wind=wind, degrees=round(degrees) % 360)


def side_name(edge: Edge, language: Language = "en") -> str:
    """Return which side of the field an edge is: "south"."""
    outward_deg = compass_deg(edge.heading_rad - math.pi / 2.0)
    return WINDS[language][round(outward_deg / 45.0) % 8]


def corner_name(
    outline: Outline,
    corner_m: tuple[float, float],
    *,
    straight_within_m: float,
    language: Language = "en",
) -> str:
    """Return what a corner of the field is called: "the north-west corner".

    Parameters
    ----------
    outline
        The field.
    corner_m
        A corner of it, x and y. [m]
    straight_within_m
        How far a side may stray from straight and still count as one. [m]

    Notes
    -----
    The compass point from the middle of the field's bounding box, its two extents taken alike,
    so that a long field has the same four names as a square one. A corner the field bends in at
    is an inside corner; one hardly seen on the ground is a bend. Corners of one name are told
    apart by which lies farthest out.
    """
    found = sides(outline, straight_within_m=straight_within_m)
    corners = [side.start_m for side in found]
    kinds = [
        _corner_kind(outline, before, side)
        for before, side in zip((found[-1], *found), found, strict=False)
    ]
    place = min(range(len(corners)), key=lambda index: math.dist(corners[index], corner_m))
    same = [corners[index] for index in range(len(corners)) if kinds[index] == kinds[place]]
    wind, kind = kinds[place]
    phrases, winds = PHRASES[language], WINDS[language]
    if len(same) == 1:
        return phrases[kind].format(wind=winds[wind])
    end = _which_of(same, corners[place], language)
    return phrases[f"{kind} of"].format(end=end, count=len(same), wind=winds[wind])


def has_corners(outline: Outline, *, straight_within_m: float) -> bool:
    """Return whether the field has a corner that can be found on the ground; a round one has none.

    Parameters
    ----------
    outline
        The field.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]

    Notes
    -----
    A field that bends in is not round, gentle as its bends may be: its parts are told by corners.
    """
    found = sides(outline, straight_within_m=straight_within_m)
    turns_rad = (
        _turn_rad(before, after) for before, after in zip((found[-1], *found), found, strict=False)
    )
    return any(not -_WAVER_RAD < turn_rad < _CORNER_RAD for turn_rad in turns_rad)


def _turn_rad(before: Edge, after: Edge) -> float:
    """Return how far one side turns into the next; to the left above zero. [rad]"""
    return math.remainder(after.heading_rad - before.heading_rad, math.tau)


def _corner_kind(outline: Outline, before: Edge, after: Edge) -> tuple[int, str]:
    """Return a corner's compass point (0 north, each 45 degrees clockwise) and what it is."""
    turn_rad = _turn_rad(before, after)
    if abs(turn_rad) >= _CORNER_RAD:
        kind = "corner" if turn_rad > 0.0 else "inside"
    else:
        kind = "bend" if turn_rad > 0.0 else "inside bend"
    return _wind_from_middle(outline, after.start_m), kind


def _wind_from_middle(outline: Outline, point_m: tuple[float, float]) -> int:
    """Return where a point lies as seen from the middle: 0 north, each 45 degrees clockwise."""
    (west_m, south_m), (east_m, north_m) = (
        outline.exterior_m.min(axis=0).tolist(),
        outline.exterior_m.max(axis=0).tolist(),
    )
    x_m, y_m = point_m
    across = (2.0 * x_m - west_m - east_m) / (east_m - west_m)
    up = (2.0 * y_m - south_m - north_m) / (north_m - south_m)
    return _wind(math.atan2(up, across))


def _which_of(
    same: list[tuple[float, float]], corner_m: tuple[float, float], language: Language
) -> str:
    """Return which of several corners of one name this is, along the axis that parts them most."""
    spans = [max(c[axis] for c in same) - min(c[axis] for c in same) for axis in (0, 1)]
    axis = 1 if spans[1] >= spans[0] else 0
    low, high = ((6, 2), (4, 0))[axis]
    ordered = sorted(same, key=lambda corner: (-corner[axis], corner[1 - axis]))
    place = next(i for i, c in enumerate(ordered) if math.dist(c, corner_m) < _SAME_M)
    phrases, winds = PHRASES[language], WINDS[language]
    if place == 0:
        return phrases["most"].format(wind=winds[high])
    if place == len(ordered) - 1:
        return phrases["most"].format(wind=winds[low])
    return phrases["nth"].format(place=place + 1, wind=winds[high])


def ground(length_m: float, system: System) -> str:
    """Return a distance on the ground as it is paced or taped: whole feet, or half metres."""
    rounded_m = _paced_m(length_m, system)
    half = system == "metric" and rounded_m % 1.0 > 0.0
    return show(rounded_m, "length", system, 1 if half else 0)


def _paced_m(length_m: float, system: System) -> float:
    """Return a length as near as it matters: 5 ft or 1 m, a fifth of a short one."""
    unit_m, coarse, fine, short = (FOOT_M, 5.0, 1.0, 20.0) if system == "us" else (1.0, 1.0, 0.5, 5)
    length = length_m / unit_m
    step = coarse if length >= short else fine
    return round(length / step) * step * unit_m


def aim_sentence(
    outline: Outline,
    first: FirstPass,
    system: System,
    *,
    straight_within_m: float,
    pace_m: float | None = None,
    language: Language = "en",
) -> str:
    """Return where pass 1 starts and what to drive at, for a driver who goes by eye.

    Parameters
    ----------
    outline
        The field.
    first
        The first pass of its plan.
    straight_within_m
        How far a side may stray from straight and still count as one. [m]
    pace_m
        One walking step, to say how many; None says none. [m]

    Notes
    -----
    A field without corners has nothing to tape along. There pass 1 is told by how far in from
    the outermost point beside it its line runs: the edge is level with the line there, so that a
    few steps to either side of the point change nothing.
    """
    phrases = PHRASES[language]

    def corner(corner_m: tuple[float, float]) -> str:
        return corner_name(
            outline, corner_m, straight_within_m=straight_within_m, language=language
        )

    def far(told_m: float, text: str) -> str:
        return text + _steps(told_m, pace_m, language)

    def paced(length_m: float) -> str:
        return far(_paced_m(length_m, system), ground(length_m, system))

    def taped(length_m: float) -> str:
        return far(_taped_m(length_m, system), _taped(length_m, system))

    winds = WINDS[language]
    if not has_corners(outline, straight_within_m=straight_within_m):
        out_rad, in_m = _outermost(outline, first)
        return phrases["round"].format(
            side=winds[_wind_from_middle(outline, first.start_m)],
            far=taped(in_m),
            out=heading_words(out_rad, language),
            end=winds[_wind_from_middle(outline, first.far_mark_m)],
        )
    # The first pass rules all others: how far in it lies is told to the foot.
    blanks = {
        "side": side_name(first.start_edge, language),
        "corner": corner(first.start_corner_m),
        "wind": winds[_wind(first.along_start_rad)],
        "far": taped(first.from_start_edge_m),
    }
    along_m = first.along_start_edge_m
    key = "start" if along_m > 0.0 else "start past"
    if along_m < 0.0:
        blanks["wind"] = winds[(_wind(first.along_start_rad) + 4) % 8]
    if abs(along_m) < _AT_CORNER_M and _one_side_called_so(
        outline, first, straight_within_m=straight_within_m
    ):
        key = "start corner"
    start = phrases[key].format(along=paced(abs(along_m)), **blanks)
    if first.along_far_edge_m < _AT_CORNER_M:
        return f"{start} {phrases['at corner'].format(corner=corner(first.far_corner_m))}"
    mark = phrases["mark"].format(
        side=side_name(first.far_edge, language),
        far=paced(first.along_far_edge_m),
        wind=winds[_wind(first.along_far_rad)],
        corner=corner(first.far_corner_m),
    )
    return f"{start} {mark}"


def _steps(length_m: float, pace_m: float | None, language: Language) -> str:
    """Return how many steps a length is: " (12 steps)"; "" for less than one."""
    count = 0 if pace_m is None else round(length_m / pace_m)
    if not count:
        return ""
    return PHRASES[language]["step" if count == 1 else "steps"].format(count=count)


def _outermost(outline: Outline, first: FirstPass) -> tuple[float, float]:
    """Return the way from the line of pass 1 to the nearer end of the field, and how far. [m]"""
    reaches = []
    for out_rad in (first.aim_rad + math.pi / 2.0, first.aim_rad - math.pi / 2.0):
        way = np.asarray([math.cos(out_rad), math.sin(out_rad)])
        beyond_m = float(((outline.exterior_m - np.asarray(first.start_m)) @ way).max())
        reaches.append((out_rad % math.tau, beyond_m))
    return min(reaches, key=lambda reach: reach[1])


def _one_side_called_so(outline: Outline, first: FirstPass, *, straight_within_m: float) -> bool:
    """Return whether the other side at the start's corner has another name."""
    names = [
        side_name(side)
        for side in sides(outline, straight_within_m=straight_within_m)
        if first.start_corner_m in (side.start_m, side.end_m)
    ]
    return names.count(side_name(first.start_edge)) == 1


def _wind(heading_rad: float) -> int:
    """Return the nearest compass point: 0 north, each 45 degrees clockwise one more."""
    return round(compass_deg(heading_rad) / 45.0) % 8


def count_sentences(check: CountCheck, system: System, *, language: Language = "en") -> list[str]:
    """Return how many passes to count, and what one less and one more say about the lap.

    Parameters
    ----------
    check
        What the field should take.

    Notes
    -----
    The count is one more or less: where the first pass starts already moves it by one.
    """
    phrases = PHRASES[language]
    if check.overlap_if_fewer_m is None:
        return [phrases["count one"]]

    def lap(key: str, count: int, overlap_m: float) -> str:
        shown = lap_text(abs(overlap_m), system)
        gap = " gap" if overlap_m < 0.0 and shown != lap_text(0.0, system) else ""
        return phrases[f"count {key}{gap}"].format(count=count, lap=shown)

    return [
        phrases["count"].format(count=check.passes_count),
        lap("fewer", check.low_count, check.overlap_if_fewer_m),
        lap("more", check.high_count, check.overlap_if_more_m),
    ]


def lap_text(overlap_m: float, system: System) -> str:
    """Return an overlap as it is seen from the seat: tenths of a foot, or whole 5 cm."""
    if system == "us":
        return show(overlap_m, "length", system, 1)
    return f"{round(overlap_m * 20.0) * 5} cm"


def rounds_sentence(
    rounds_count: int, *, last: bool, holes: bool = False, language: Language = "en"
) -> str:
    """Return how often to go round the field, and whether first or last.

    Parameters
    ----------
    rounds_count
        Headland rounds; none where the machine turns outside the field.
    last
        Whether they are driven after the passes.
    holes
        Whether the field has holes to be driven round as well.
    """
    phrases = PHRASES[language]
    if rounds_count <= 0:
        return phrases["no rounds"]
    times = phrases["round one" if rounds_count == 1 else "round many"].format(count=rounds_count)
    text = phrases["rounds last" if last else "rounds first"].format(rounds=times)
    return f"{text}{phrases['rounds holes'] if holes else ''}."


def order_sentence(way: Way, *, step: int = 1, language: Language = "en") -> str:
    """Return which pass comes next: "every second pass going out; fill in coming back".

    Parameters
    ----------
    way, step
        As ``core.route.Order`` has them; a step of 1 is pass beside pass.
    """
    phrases = PHRASES[language]
    if way in {"fill", "lands"} and step < 2:
        return phrases["next"]
    if way == "fill":
        return phrases[f"fill {step}" if step in (2, 3) else "fill"].format(step=step)
    if way == "lands":
        return phrases["lands"].format(other=step + 1)
    return phrases[way]


def check_mark_sentences(
    marks: Sequence[CheckMark],
    system: System,
    *,
    corner: str,
    side: str | None = None,
    off_m: float | None = None,
    pace_m: float | None = None,
    language: Language = "en",
) -> list[str]:
    """Return where the driver should be after so many passes, to see if his lap is right.

    Parameters
    ----------
    marks
        Where passes should end; none gives no sentence.
    corner, side
        What the corner and the side walked along are called (``corner_name``, ``side_name``).
    off_m
        How far off the first mark is still ordinary; None says nothing of it. [m]
    pace_m
        One walking step, to say how many to the first mark; None says none. [m]
    """
    if not marks:
        return []
    phrases = PHRASES[language]
    first, *others = marks
    far = _taped(first.from_corner_m, system)
    far += _steps(_taped_m(first.from_corner_m, system), pace_m, language)
    text = phrases["after"].format(count=first.pass_number, far=far, corner=corner)
    if side is not None:
        text += phrases["after along"].format(side=side)
    for mark in others:
        text += phrases["after more"].format(
            count=mark.pass_number, far=_taped(mark.from_corner_m, system)
        )
    found = [f"{text}."]
    if off_m is not None:
        found.append(phrases["off"].format(far=ground(off_m, system)))
    return found


def _taped(length_m: float, system: System) -> str:
    """Return a distance as it is taped: whole feet or half metres, however long."""
    told_m = _taped_m(length_m, system)
    half = system == "metric" and told_m % 1.0 > 0.0
    return show(told_m, "length", system, 1 if half else 0)


def _taped_m(length_m: float, system: System) -> float:
    """Return a length to a whole foot or half a metre. [m]"""
    return round(length_m / FOOT_M) * FOOT_M if system == "us" else round(length_m * 2.0) / 2.0
