"""The points and the level of the cultivators in words, and the driver's check card."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

from duskline.answers.points import (
    NO_FIGURE,
    CheckCard,
    FieldSwap,
    PointsAnswer,
    PokeAnswer,
    RowAnswer,
    Unmeasured,
)
from duskline.answers.working import Figure, Step
from duskline.units import System, number, show, show_chance, to_display
from duskline.words.cost import money, money_per_area
from duskline.words.working import working_lines

__all__ = [
    "check_card_lines",
    "headline",
    "in_hand_lines",
    "left_words",
    "level_words",
    "points_lines",
    "points_working",
    "points_working_lines",
    "poke_lines",
    "row_lines",
    "row_name",
    "swap_lines",
    "unmeasured_line",
    "worn_words",
]

Language = Literal["en", "es"]

BOX = "[ ]"
ALONE = "Each machine is taken to work every field alone; with two it comes later."
_TOLD_M2 = 50.0
"""Less ground than this is not worth a line."""
_SHORT_M = 0.3
"""Wear, limits and depths are told in inches or millimetres, never in tenths of a foot."""

_CARD = {
    "en": {
        "title": "Before you start: {machine}",
        "depth": "Depth: stop after 100 steps, poke for seed {count} times, half behind the front "
        "row, half behind the rear. Wanted {low} to {high}.",
        "shanks": " (Shanks set to {depth}; seed lies shallower than that.)",
        "level": "Level: front and rear within {apart} of each other.",
        "poked": " Last poked: {words}.",
        "points": "Points: lay an old one beside a new one; behind the tractor's wheels first.",
        "row": " {row}: {worn} worn, swap at {limit}.",
        "due": " {row}: swap now ({worn} worn, limit {limit}).",
        "speed": "Speed: {speed}, the same all day; depth changes with it.",
        "eye": "Overlap: {overlap} over the last pass; look back at the edge, not at the tire.",
        "guided": "Overlap: {overlap}, set in the guidance; look back now and then.",
        "open": "Overlap: none now, {overlap} stays open between passes; lap over the last pass "
        "and look back at the edge, not at the tire.",
        "level ok": "level",
        "front": "level it: front is {apart} deeper",
        "rear": "level it: rear is {apart} deeper",
        "cautions": (
            "Lower it to the ground, or block it and lock the cylinders. Never work under a tool "
            "that only hydraulics hold up.",
            "Engine off, key out, tractor braked. Let the pressure off before you loosen a hose.",
            "Gloves and eye protection: worn points are sharp, and steel chips fly.",
            "The maker's manual and local rules win over this card.",
        ),
    },
    "es": {
        "title": "Antes de empezar: {machine}",
        "depth": "Profundidad: pare a los 100 pasos, busque semilla {count} veces, la mitad detrás "
        "de la fila delantera y la mitad detrás de la trasera. Debe estar de {low} a {high}.",
        "shanks": " (Rejas puestas a {depth}; la semilla queda menos honda.)",
        "level": "Nivel: delantera y trasera con no más de {apart} de diferencia.",
        "poked": " Última medida: {words}.",
        "points": "Puntas: compare una usada con una nueva; primero detrás de las ruedas del "
        "tractor.",
        "row": " {row}: {worn} de desgaste, cambie a {limit}.",
        "due": " {row}: cambie ahora ({worn} de desgaste, límite {limit}).",
        "speed": "Velocidad: {speed}, igual todo el día; la profundidad cambia con ella.",
        "eye": "Traslape: {overlap} sobre la última pasada; mire el borde, no la llanta.",
        "guided": "Traslape: {overlap}, puesto en la guía; mire atrás de vez en cuando.",
        "open": "Traslape: ahora ninguno, quedan {overlap} sin tapar entre pasadas; traslape la "
        "última y mire el borde, no la llanta.",
        "level ok": "a nivel",
        "front": "nivele: la delantera va {apart} más honda",
        "rear": "nivele: la trasera va {apart} más honda",
        "cautions": (
            "Bájelo al suelo, o cálcelo y trabe los cilindros. Nunca trabaje debajo de algo que "
            "solo sostiene el hidráulico.",
            "Motor apagado, llave afuera, tractor frenado. Quite la presión antes de aflojar una "
            "manguera.",
            "Guantes y lentes: las puntas gastadas cortan y saltan astillas de acero.",
            "El manual del fabricante y las reglas del lugar valen más que esta hoja.",
        ),
    },
}
# Blocking, locks and pressure: National Ag Safety Database, Hydraulic systems safety. Gloves and
# glasses, and the seed lying shallower than the shanks run: common practice, no source.


def _short(length_m: float, system: System, digits: int = 2) -> str:
    """Return a wear or depth: inches to two decimals (or ``digits``), whole millimetres."""
    return show(length_m, "short length", system, digits if system == "us" else 0)


def _about(area_m2: float, system: System) -> str:
    """Return an estimated area without false decimals: whole from ten on."""
    value, _ = to_display(area_m2, "area", system)
    return show(area_m2, "area", system, 0 if value >= 10.0 or value <= 0.0 else 1)


def headline(answer: PointsAnswer, system: System) -> str:
    """Return the one answer: which row is swapped first, and before which field."""
    if worn := [row for row in answer.rows if row.point_at_limit and not row.is_due]:
        return _worn_point_headline(worn[0], system)
    if answer.swaps_sure:
        return _swap_headline(answer, answer.swaps_sure[0], system)
    if answer.rows and all(row.left is not None for row in answer.rows):
        if answer.unmeasured:
            return "The rows measured last the job; the others are not measured"
        return "The points last the job"
    return "Measure the points first"


def _swap_headline(answer: PointsAnswer, first: FieldSwap, system: System) -> str:
    """Return the first swap on the sure side, the likely one, and if more readings come first."""
    row = next(one for one in answer.rows if (one.machine, one.row) == (first.machine, first.row))
    name, sure = row_name(first.machine, first.row), _where(first, system)
    likely = _where(row.swaps_likely[0], system) if row.swaps_likely else ""
    if likely == sure:
        return f"Swap {name} {sure}"
    few = row.wear.measured_count < min(answer.to_measure_count, row.wear.points_count)
    more = name.removeprefix("the points ") if name.startswith("the points ") else f"of {name}"
    start = f"Measure more points {more}, or swap them" if few else f"Swap {name}"
    then = f"{likely} is soon enough" if likely else "it lasts the job"
    return f"{start} {sure} to be sure; most likely {then}"


def _worn_point_headline(row: RowAnswer, system: System) -> str:
    """Return that a point is at its limit now, and what becomes of the rest of its row."""
    name = row_name(row.machine, row.row)
    start = f"Swap the most worn point of {name.removeprefix('the points ')} now"
    if name.startswith("the points "):
        start = f"Swap the most worn point {name.removeprefix('the points ')} now"
    if not row.swaps_sure:
        return f"{start}; the others last the job"
    return f"{start}; to be sure the whole row {_where(row.swaps_sure[0], system)}"


def points_lines(answer: PointsAnswer, system: System) -> list[str]:
    """Return the answer in the reader's units, line by line, the headline first."""
    found = [headline(answer, system)]
    for row in answer.rows:
        found += row_lines(row, answer, system)
    for one in answer.unmeasured:
        found.append(unmeasured_line(one, system))
    found += _order_lines(answer, system)
    found += in_hand_lines(answer, system)
    for poke in answer.pokes:
        found += poke_lines(poke, system)
    if answer.measure:
        found += ["Next time:", *(f"  {text}" for text in answer.measure)]
    if answer.rows or answer.unmeasured:
        found.append("Worn points:")
        found += [f"  {one.text} [{one.source}]" for one in answer.effects]
        found.append(f"  {NO_FIGURE}")
    return found


def row_name(machine: str, row: str) -> str:
    """Return what to call a row: "the front row of ...", "the points behind the wheels of ..."."""
    words = row.split()
    if words[-1].lower() in {"row", "rows"}:
        return f"the {row} of {machine}"
    return f"the {row} row of {machine}" if len(words) == 1 else f"the points {row} of {machine}"


def _where(swap: FieldSwap, system: System) -> str:
    """Return where a swap comes: "before A4 (after A3)", "now, before A1"."""
    if swap.in_field_m2 > 0.0:
        return f"in {swap.field} once {_about(swap.in_field_m2, system)} of it are done"
    if not swap.after:
        return f"now, before {swap.field}"
    return f"before {swap.field} (after {swap.after})"


def worn_words(row: RowAnswer, system: System) -> str:
    """Return the wear of a row beside the wear at which it is swapped."""
    return f"{_short(row.wear.worn_m, system)} worn, swap at {_short(row.limit_m, system)}"


def left_words(row: RowAnswer, system: System) -> str:
    """Return the ground a row has left in a few words: "280 ac left"."""
    if row.left is None:
        return "Nothing worn yet"
    return "Swap it now" if row.is_due else f"{_about(row.left.best_m2, system)} left"


def row_lines(row: RowAnswer, answer: PointsAnswer, system: System) -> list[str]:
    """Return what is known of one row: wear, ground left, the job, a new set."""
    wear = row.wear
    found = [
        f"{row.machine}, {row.row}: {_short(wear.worn_m, system)} worn in "
        f"{show(wear.over_m2, 'area', system)}, swap at {_short(row.limit_m, system)}"
        f"{' (assumed)' if row.limit_is_assumed else ''}; "
        f"{wear.measured_count} of {wear.points_count} points measured"
        + (f", the most worn {_short(wear.most_worn_m, system)}." if wear.spread_m else ".")
    ]
    if row.left is None or row.new_set is None:
        found.append("  Nothing worn yet, so nothing to reckon from.")
        return found
    left = row.left
    if row.is_due:
        found.append("  At its limit: swap it now.")
    else:
        chance = show_chance(answer.sure_fraction)
        if math.isfinite(left.high_m2):
            span = f"{_about(left.low_m2, system)} to {_about(left.high_m2, system)}; {chance}"
        else:
            span = f"at least {_about(left.low_m2, system)}; too little worn to say how many"
        found.append(f"  {_about(left.best_m2, system)} left on that row ({span}).")
    if row.worked_m2 > _TOLD_M2:
        worked = _about(row.worked_m2, system)
        found.append(f"  The {worked} told as worked in count as done since it was measured.")
    found.append(f"  {_job_words(row, system)}")
    first_m2 = row.first_point_left_m2
    if first_m2 is not None and wear.spread_m and first_m2 < left.best_m2:
        found.append(
            "  The most worn point is at the limit now."
            if first_m2 <= 0.0
            else f"  The most worn point gets there after {_about(first_m2, system)}."
        )
    new = f"  A new set does about {_about(row.new_set.best_m2, system)}"
    if row.new_set_m is not None:
        far, unit = to_display(row.new_set_m, "distance", system)
        new += f", {number(far, 0)} {unit} for each point"
    found.append(new + ".")
    return found


def _job_words(row: RowAnswer, system: System) -> str:
    """Return whether the row lasts the job, and if not the swap to plan and the likely one."""
    job = show(row.job_m2, "area", system)
    if not row.swaps_sure:
        return f"The job is {job}: it lasts."
    sure = _where(row.swaps_sure[0], system)
    likely = _where(row.swaps_likely[0], system) if row.swaps_likely else ""
    if likely == sure:
        return f"The job is {job}: swap {sure}."
    instead = "measure then" if row.swaps_sure[0].after else "measure more points"
    if row.point_at_limit:
        then = f"{likely} for the others" if likely else "the others last"
    else:
        then = f"{likely} is soon enough" if likely else "it lasts"
    return f"The job is {job}: to be sure, swap {sure}, or {instead}; most likely {then}."


def unmeasured_line(one: Unmeasured, system: System) -> str:
    """Return what such points do elsewhere, for a machine nobody has measured."""
    return (
        f"{one.machine}: points not measured. Elsewhere a new set did "
        f"{_about(one.life.low_m2, system)} to {_about(one.life.high_m2, system)} at this width, "
        "by soil and stones; that is not your own figure. The job is "
        f"{show(one.job_m2, 'area', system)}."
    )


def swap_lines(answer: PointsAnswer, system: System) -> list[str]:
    """Return every swap planned on the sure side, in the order of the fields."""
    return [
        f"{_where(swap, system)}: {row_name(swap.machine, swap.row)}, {swap.points_count} points"
        for swap in answer.swaps_sure
    ]


def _order_lines(answer: PointsAnswer, system: System) -> list[str]:
    if not answer.swaps_sure:
        return []
    found = ["Swaps in the order of the fields, planned on the sure side:"]
    found += [f"  {BOX} {text}" for text in swap_lines(answer, system)]
    if answer.alone:
        found.append(f"  {ALONE}")
    found.append("  Before you swap:")
    found += [f"    {text}" for text in _CARD["en"]["cautions"]]
    return found


def in_hand_lines(answer: PointsAnswer, system: System) -> list[str]:
    """Return how many points to have in hand, and what wear costs."""
    found = []
    if any(row.left is not None for row in answer.rows):
        text = f"Points to have in hand: {answer.in_hand_sure_count}"
        if answer.in_hand_sure_cost is not None and answer.in_hand_sure_count:
            text += f" ({money(answer.in_hand_sure_cost, answer.currency, 0)})"
        if answer.in_hand_likely_count != answer.in_hand_sure_count:
            text += f"; most likely you use {answer.in_hand_likely_count}"
        found.append(text + ".")
    if answer.wear_cost_per_m2 is not None:
        each = money_per_area(answer.wear_cost_per_m2, answer.currency, system)
        found.append(f"Wear costs about {each} in points.")
    return found


def level_words(poke: PokeAnswer, system: System, language: Language = "en") -> str:
    """Return the verdict on the level: "level it: rear is 0.7 in deeper", or "level"."""
    check, phrases = poke.check, _CARD[language]
    if check.is_level:
        return str(phrases["level ok"])
    side = "rear" if check.rear_deeper_m > 0.0 else "front"
    return str(phrases[side]).format(apart=_short(abs(check.rear_deeper_m), system, 1))


def poke_lines(poke: PokeAnswer, system: System) -> list[str]:
    """Return level and depth of one machine as poked."""
    check = poke.check
    found = [
        f"{poke.machine}: {level_words(poke, system)}.",
        f"  Poked {_short(check.front_m, system, 1)} deep behind the front, "
        f"{_short(check.rear_m, system, 1)} behind the rear "
        f"({check.front_count} and {check.rear_count} pokes); wanted "
        f"{_short(poke.shallow_m, system, 1)} to {_short(poke.deep_m, system, 1)}, "
        f"within {_short(poke.level_within_m, system, 1)} of each other.",
    ]
    found += _depth_lines(poke, system)
    if check.is_close_call or poke.more_count:
        few = f"{poke.more_count} more" if poke.more_count else "as many again"
        found.append(f"  Poke {few} before you turn a bolt: so few can mislead.")
    found.append("  This is about the machine only; what comes up is not promised by it.")
    return found


def _depth_lines(poke: PokeAnswer, system: System) -> list[str]:
    """Return what is wrong with the depths, and what levelling alone would do about it."""
    check = poke.check
    if check.front == check.rear:
        if check.front == "right":
            return []
        way = "shallower" if check.front == "too deep" else "deeper"
        return [f"  Both run {check.front}: set it {way}."]
    wrong = " and ".join(
        f"the {name} runs {depth}"
        for name, depth in (("front", check.front), ("rear", check.rear))
        if depth != "right"
    )
    middle = f"at about {_short(check.mean_m, system, 1)}"
    middle += ", as wanted" if check.middle == "right" else f", still {check.middle}"
    levelled = "" if check.is_level else f"; levelled, both would be {middle}"
    return [f"  {wrong[:1].upper()}{wrong[1:]}{levelled}."]


def check_card_lines(card: CheckCard, system: System, *, language: Language = "en") -> list[str]:
    """Return the check card of one machine: a title, five boxes to tick, and the cautions.

    The Spanish is to be read by a native farmer before anybody relies on it.
    """
    say = _CARD[language]

    def text(key: str, **blanks: object) -> str:
        return str(say[key]).format(**blanks)

    depth = text(
        "depth",
        count=card.pokes_count,
        low=_short(card.shallow_m, system, 1),
        high=_short(card.deep_m, system, 1),
    )
    if card.shank_depth_m is not None:
        depth += text("shanks", depth=_short(card.shank_depth_m, system, 1))
    level = text("level", apart=_short(card.level_within_m, system, 1))
    if card.poke is not None:
        level += text("poked", words=level_words(card.poke, system, language))
    points = text("points")
    for row in card.rows:
        points += text(
            "due" if row.is_due else "row",
            row=row.row[:1].upper() + row.row[1:],
            worn=_short(row.wear.worn_m, system),
            limit=_short(row.limit_m, system),
        )
    key = "eye" if card.by_eye else "guided"
    if card.overlap_m < 0.0:
        key = "open"
    overlap = text(key, overlap=show(abs(card.overlap_m), "length", system))
    speed = text("speed", speed=show(card.speed_mps, "speed", system))
    return [
        text("title", machine=card.machine),
        *(f"{BOX} {line}" for line in (depth, level, points, speed, overlap)),
        *say["cautions"],
    ]


def points_working_lines(steps: Iterable[Step], system: System) -> list[str]:
    """Return the working as lines, wear and depths in inches or millimetres."""
    return working_lines(points_working(steps, system), system)


def points_working(steps: Iterable[Step], system: System) -> list[Step]:
    """Return the working with wear and depths told in inches or millimetres."""
    return [
        replace(
            step,
            inputs=tuple(_told_short(figure, system) for figure in step.inputs),
            result=_told_short(step.result, system),
        )
        for step in steps
    ]


def _told_short(figure: Figure, system: System) -> Figure:
    """Return a short length as the text it is told in; any other figure as it is."""
    if figure.unit != "m" or isinstance(figure.value, str):
        return figure
    if abs(figure.value) >= _SHORT_M:
        if figure.value < 1e3:
            return figure
        told = [show(each, "distance", system, 0) for each in _values(figure)]
    else:
        told = [show(each, "short length", system, 2 if system == "us" else 1)
                for each in _values(figure)]  # fmt: skip
    text = told[0] if len(told) == 1 else f"{told[0]} ({told[1]} to {told[2]})"
    return replace(figure, value=text, unit="", low=None, high=None)


def _values(figure: Figure) -> list[float]:
    """Return the value, and low and high where it has both."""
    if isinstance(figure.value, str):
        return []
    if figure.low is None or figure.high is None:
        return [figure.value]
    return [figure.value, figure.low, figure.high]
