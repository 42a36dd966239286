"""Overlap in words: what to aim for, what is missed, what one more foot of it costs today.

The covering angle stands here too: what it is for, what it costs, and when joints pile up.
"""

from __future__ import annotations

import math
from typing import Literal

from duskline.answers.lap import LapAnswer
from duskline.core.angle import Angle, AnglePrice, Joints
from duskline.core.lap import DayLap, FieldLap, Overlap
from duskline.units import FOOT_M, GALLON_M3, System, show, show_span
from duskline.words.aim import Language, lap_text
from duskline.words.cost import money

__all__ = [
    "advised_sentence",
    "angle_sentences",
    "joints_sentence",
    "lap_headline",
    "lap_state",
    "minutes_text",
    "more_lap_sentences",
    "now_sentence",
    "skip_sentence",
]

_MINUTES_STEP_S = 300.0
_SMALLEST_SHARE = 0.0005
# How near a whole number a ratio is called so; whether it matters is judged by the model.
_NEAR_WHOLE = 0.1

LapState = Literal["open", "more", "less", "enough"]
PHRASES = {
    "en": {
        "about": "Lap about {best}.",
        "span": "Lap {low} to {high}; near {best} is best, and in between costs much the same.",
        "open": "You leave {now} open between passes.",
        "more": "You lap {now}: more than you need.",
        "less": "You lap {now}: strips will be left.",
        "enough": "You lap {now}: leave it.",
        "short": "under 5 min",
        "none": "next to nothing",
        "left": "Left between passes: {share}.",
        "left span": "Left between passes: about {share} ({low} to {high}).",
        "left bare": "Left between passes: next to nothing.",
        "left up to": "Left between passes: next to nothing, at most {high}.",
        "more lap": "{more} more overlap: {parts}.",
        "one foot": "One foot",
        "lost": "{area} less covered today, or {minutes} more for the same ground",
        "more fuel": "{fuel} more fuel",
        "in all": "about {money} in all",
        "no more passes": "In this field it makes no pass more: {count} either way.",
        "more passes": "In this field: {after} passes instead of {count}, {minutes} more.",
        "angle": "Cover at {span} to the spread passes: on {run} runs that keeps a skip from lying "
        "in one thin stripe all the way. It does not even out the stripes.",
        "angle short": "Most runs are too short for it to do that; a wider angle buys little.",
        "angle span": "{best}° ({low}° to {high}°)",
        "costs more": "{angle}° costs {count} passes more",
        "costs fewer": "{angle}° costs {count} passes fewer",
        "cost more one": "{angle}° costs 1 pass more",
        "cost fewer one": "{angle}° costs 1 pass fewer",
        "minutes noise": "; the minutes are too few to tell.",
        "minutes more": " and {minutes} more.",
        "minutes less": " and {minutes} less.",
        "in step": "{spread} between spread passes and {cover} between covering passes keep step",
        "close one": "{cover} between covering passes is close to the {spread} between spread "
        "passes",
        "close times": "{wide} is close to {count} times {narrow}",
        "piled": "{first}: {risk}. Turn the covering a little more, or lap a little differently.",
        "piled along": "{first}: {risk} if you covered along the spread passes. Your angle avoids "
        "it.",
        "risk": "skips would fall on the same places of the spread stripes over the whole field",
    },
    "es": {
        "about": "Traslape unos {best}.",
        "span": "Traslape de {low} a {high}; lo mejor es cerca de {best}, y entre medio da casi lo "
        "mismo.",
        "open": "Deja {now} sin tapar entre pasadas.",
        "more": "Traslapa {now}: más de lo que hace falta.",
        "less": "Traslapa {now}: van a quedar huecos.",
        "enough": "Traslapa {now}: déjelo así.",
        "short": "menos de 5 min",
        "none": "casi nada",
        "left": "Queda entre pasadas: {share}.",
        "left span": "Queda entre pasadas: más o menos {share} ({low} a {high}).",
        "left bare": "Queda entre pasadas: casi nada.",
        "left up to": "Queda entre pasadas: casi nada, cuando mucho {high}.",
        "more lap": "{more} más de traslape: {parts}.",
        "one foot": "Un pie",
        "lost": "{area} menos tapado hoy, o {minutes} más para el mismo terreno",
        "more fuel": "{fuel} más de combustible",
        "in all": "unos {money} en total",
        "no more passes": "En este lote no da ni una pasada más: {count} de todos modos.",
        "more passes": "En este lote: {after} pasadas en vez de {count}, {minutes} más.",
        "angle": "Tape a {span} de las pasadas de esparcir: en tramos de {run} así un hueco no "
        "queda todo en una misma franja rala. No empareja las franjas.",
        "angle short": "Casi todos los tramos son muy cortos para eso; más ángulo sirve de poco.",
        "angle span": "{best}° ({low}° a {high}°)",
        "costs more": "{angle}° cuesta {count} pasadas más",
        "costs fewer": "{angle}° cuesta {count} pasadas menos",
        "cost more one": "{angle}° cuesta 1 pasada más",
        "cost fewer one": "{angle}° cuesta 1 pasada menos",
        "minutes noise": "; los minutos son muy pocos para notarlo.",
        "minutes more": " y {minutes} más.",
        "minutes less": " y {minutes} menos.",
        "in step": "{spread} entre pasadas de esparcir y {cover} entre pasadas de tapar van al "
        "mismo paso",
        "close one": "{cover} entre pasadas de tapar es casi lo mismo que {spread} entre pasadas "
        "de esparcir",
        "close times": "{wide} es casi {count} veces {narrow}",
        "piled": "{first}: {risk}. Tape con un poco más de ángulo, o traslape un poco distinto.",
        "piled along": "{first}: {risk} si tapara a lo largo de las pasadas de esparcir. Su ángulo "
        "lo evita.",
        "risk": "los huecos caerían en los mismos lugares de las franjas en todo el lote",
    },
}


def minutes_text(span_s: float, language: Language = "en") -> str:
    """Return a time to 5 minutes: "25 min", "1 h 10 min", "under 5 min"."""
    steps = round(abs(span_s) / _MINUTES_STEP_S)
    return show_span(steps * _MINUTES_STEP_S) if steps else PHRASES[language]["short"]


def advised_sentence(
    advised: Overlap, *, now_m: float, system: System, language: Language = "en"
) -> str:
    """Return the overlap to aim for as a range, and where the driver is now.

    Parameters
    ----------
    advised
        The range within which the cost hardly changes.
    now_m
        What the driver laps now. [m]
    """
    low, best, high = (
        lap_text(one, system) for one in (advised.low_m, advised.best_m, advised.high_m)
    )
    key = "about" if low == high else "span"
    text = PHRASES[language][key].format(low=low, best=best, high=high)
    return f"{text} {now_sentence(advised, now_m=now_m, system=system, language=language)}"


def now_sentence(
    advised: Overlap, *, now_m: float, system: System, language: Language = "en"
) -> str:
    """Return what the driver laps now, and whether that is too little or too much.

    Parameters
    ----------
    now_m
        What he laps; below zero where ground stays open between passes. [m]
    """
    state = lap_state(advised, now_m=now_m, system=system)
    return PHRASES[language][state].format(now=lap_text(abs(now_m), system))


def lap_state(advised: Overlap, *, now_m: float, system: System) -> LapState:
    """Return how the lap of now stands to the one advised, as far as a driver could see it.

    Parameters
    ----------
    now_m
        What the driver laps now; below zero where ground stays open between passes. [m]
    """
    now = lap_text(abs(now_m), system)
    if now_m < 0.0 and now != lap_text(0.0, system):
        return "open"
    if now_m > advised.high_m and now != lap_text(advised.high_m, system):
        return "more"
    if now_m < advised.low_m and now != lap_text(advised.low_m, system):
        return "less"
    return "enough"


def lap_headline(lap: LapAnswer, system: System) -> str:
    """Return the overlap to drive with one machine: "Cultivator 1: lap 0.4 ft to 1.1 ft"."""
    low, high = (lap_text(one, system) for one in (lap.advised.low_m, lap.advised.high_m))
    return f"{lap.machine}: lap {low if low == high else f'{low} to {high}'}"


def skip_sentence(
    skip_fraction: float,
    *,
    low_fraction: float,
    high_fraction: float,
    language: Language = "en",
) -> str:
    """Return the share of ground left between passes, as a range over how drivers wander."""
    say = PHRASES[language]

    def share(value: float) -> str:
        if value < _SMALLEST_SHARE:
            return say["none"]
        return f"{value * 100.0:.1f} %"

    low, high = share(low_fraction), share(high_fraction)
    if share(skip_fraction) == say["none"] and high == say["none"]:
        return say["left bare"]
    if share(skip_fraction) == say["none"]:
        return say["left up to"].format(high=high)
    key = "left" if low == high else "left span"
    return say[key].format(share=share(skip_fraction), low=low, high=high)


def more_lap_sentences(
    cost: DayLap,
    *,
    more_m: float,
    system: System,
    currency: str = "USD",
    field: FieldLap | None = None,
    language: Language = "en",
) -> list[str]:
    """Return what so much more overlap costs today, and in this field in whole passes.

    Parameters
    ----------
    cost
        On the ground of the day.
    more_m
        How much more overlap. [m]
    currency
        Of the money.
    field
        In one field; None leaves it out.
    """
    say = PHRASES[language]
    area = show(cost.area_lost_m2, "area", system)
    minutes = minutes_text(cost.more_work_s, language)
    parts = [say["lost"].format(area=area, minutes=minutes)]
    if cost.more_fuel_m3 is not None:
        small = abs(cost.more_fuel_m3) < 10.0 * (GALLON_M3 if system == "us" else 1e-3)
        fuel = show(cost.more_fuel_m3, "fuel volume", system, 1 if small else 0)
        parts.append(say["more fuel"].format(fuel=fuel))
    if cost.more_money is not None:
        parts.append(say["in all"].format(money=money(cost.more_money, currency, 0)))
    more = _more(more_m, system, language)
    found = [say["more lap"].format(more=more, parts="; ".join(parts))]
    if field is not None:
        found.append(_field_sentence(field, language))
    return found


def _field_sentence(field: FieldLap, language: Language) -> str:
    return PHRASES[language]["more passes" if field.more_passes_count else "no more passes"].format(
        count=field.passes_count,
        after=field.passes_count + field.more_passes_count,
        minutes=minutes_text(field.more_work_s, language),
    )


def _more(more_m: float, system: System, language: Language) -> str:
    if system == "us":
        feet = more_m / FOOT_M
        one = math.isclose(feet, 1.0, rel_tol=1e-6)
        return PHRASES[language]["one foot"] if one else f"{feet:g} ft"
    return f"{round(more_m * 100.0)} cm"


def angle_sentences(
    angle: Angle,
    *,
    driven_rad: float,
    price: AnglePrice | None,
    system: System,
    language: Language = "en",
) -> list[str]:
    """Return the covering angle advised, what it is for, and its price.

    Parameters
    ----------
    angle
        What is advised.
    driven_rad
        The angle of the plan. [rad]
    price
        What the plan's angle costs over covering along the spread passes; None says nothing.
    """
    say = PHRASES[language]
    low, best, high = (
        round(math.degrees(one)) for one in (angle.low_rad, angle.best_rad, angle.high_rad)
    )
    span = f"{best}°" if low == high else say["angle span"].format(low=low, best=best, high=high)
    run = show(angle.run_length_m, "length", system, 0)
    found = [say["angle"].format(span=span, run=run)]
    if angle.served_fraction < 0.5:
        found.append(say["angle short"])
    driven_deg = round(math.degrees(driven_rad))
    if price is not None and driven_deg:
        found.append(_price_sentence(price, driven_deg, language))
    return found


def _price_sentence(price: AnglePrice, driven_deg: int, language: Language) -> str:
    """Return what an angle costs in passes, and in minutes where they can be told apart."""
    say, count = PHRASES[language], abs(price.more_passes_count)
    way = "more" if price.more_passes_count >= 0 else "fewer"
    key = f"cost {way} one" if count == 1 else f"costs {way}"
    text = say[key].format(angle=driven_deg, count=count)
    if price.is_noise:
        return text + say["minutes noise"]
    minutes = minutes_text(price.more_work_s, language)
    key = "minutes more" if price.more_work_s > 0.0 else "minutes less"
    return text + say[key].format(minutes=minutes)


def joints_sentence(
    joints: Joints,
    *,
    spread_driving_width_m: float,
    cover_spacing_m: float,
    system: System,
    language: Language = "en",
) -> str | None:
    """Return a warning where covering joints fall on the same place of every stripe, else None.

    Parameters
    ----------
    joints
        What was found.
    spread_driving_width_m, cover_spacing_m
        From one spread pass to the next; from one covering pass to the next. [m]
    """
    if not joints.warns_parallel:
        return None
    widths_m = (spread_driving_width_m, cover_spacing_m)
    spread, cover = (show(one, "length", system) for one in widths_m)
    wide, narrow = (show(one, "length", system) for one in sorted(widths_m, reverse=True))
    say = PHRASES[language]
    key = "close one" if joints.nearest_count == 1 else "close times"
    if joints.off_fraction > _NEAR_WHOLE:
        key = "in step"
    first = say[key].format(
        spread=spread, cover=cover, wide=wide, narrow=narrow, count=joints.nearest_count
    )
    return say["piled" if joints.warns else "piled along"].format(first=first, risk=say["risk"])
