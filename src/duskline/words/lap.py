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
    key = "left" if low == high else "left span"
    return say[key].format(share=share(skip_fraction), low=low, high=high)


def more_lap_sentences(
    cost: DayLap,
    *,
    more_m: float,
    system: System,
    currency: str = "USD",
    field: FieldLap | None = None,
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
    parts = [
        f"{show(cost.area_lost_m2, 'area', system)} less covered today, or "
        f"{minutes_text(cost.more_work_s)} more for the same ground"
    ]
    if cost.more_fuel_m3 is not None:
        small = abs(cost.more_fuel_m3) < 10.0 * (GALLON_M3 if system == "us" else 1e-3)
        fuel = show(cost.more_fuel_m3, "fuel volume", system, 1 if small else 0)
        parts.append(f"{fuel} more fuel")
    if cost.more_money is not None:
        parts.append(f"about {money(cost.more_money, currency, 0)} in all")
    found = [f"{_more(more_m, system)} more overlap: {'; '.join(parts)}."]
    if field is not None:
        found.append(_field_sentence(field))
    return found


def _field_sentence(field: FieldLap) -> str:
    if field.more_passes_count == 0:
        return f"In this field it makes no pass more: {field.passes_count} either way."
    after = field.passes_count + field.more_passes_count
    return (
        f"In this field: {after} passes instead of {field.passes_count}, "
        f"{minutes_text(field.more_work_s)} more."
    )


def _more(more_m: float, system: System) -> str:
    if system == "us":
        feet = more_m / FOOT_M
        return "One foot" if math.isclose(feet, 1.0, rel_tol=1e-6) else f"{feet:g} ft"
    return f"{round(more_m * 100.0)} cm"


def angle_sentences(
    angle: Angle, *, driven_rad: float, price: AnglePrice | None, system: System
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
    low, best, high = (
        round(math.degrees(one)) for one in (angle.low_rad, angle.best_rad, angle.high_rad)
    )
    span = f"{best}°" if low == high else f"{best}° ({low}° to {high}°)"
    run = show(angle.run_length_m, "length", system, 0)
    found = [
        f"Cover at {span} to the spread passes: on {run} runs that keeps a skip from lying in "
        "one thin stripe all the way. It does not even out the stripes."
    ]
    if angle.served_fraction < 0.5:
        found.append("Most runs are too short for it to do that; a wider angle buys little.")
    driven_deg = round(math.degrees(driven_rad))
    if price is not None and driven_deg:
        passes = abs(price.more_passes_count)
        word = "more" if price.more_passes_count >= 0 else "fewer"
        text = f"{driven_deg}° costs {passes} passes {word}"
        if passes == 1:
            text = text.replace("passes", "pass")
        if price.is_noise:
            found.append(f"{text}; the minutes are too few to tell.")
        else:
            more = "more" if price.more_work_s > 0.0 else "less"
            found.append(f"{text} and {minutes_text(price.more_work_s)} {more}.")
    return found


def joints_sentence(
    joints: Joints, *, spread_driving_width_m: float, cover_spacing_m: float, system: System
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
    if joints.off_fraction > _NEAR_WHOLE:
        first = f"{spread} between spread passes and {cover} between covering passes keep step"
    elif joints.nearest_count == 1:
        first = f"{cover} between covering passes is close to the {spread} between spread passes"
    else:
        first = f"{wide} is close to {joints.nearest_count} times {narrow}"
    risk = "skips would fall on the same places of the spread stripes over the whole field"
    if joints.warns:
        return f"{first}: {risk}. Turn the covering a little more, or lap a little differently."
    return f"{first}: {risk} if you covered along the spread passes. Your angle avoids it."
