"""The live answer in words: what it was, what it is now, why; and what lies open.

``crew_lines`` is the short set a crew member sees, in English or Spanish; the Spanish has not been
read by a native speaker who farms.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal, TypeAlias

from duskline.answers.live import Cause, CauseKey, LiveAnswer
from duskline.answers.live_leave import Leave, Trouble
from duskline.answers.live_seed import LoadCheck, SeedNow
from duskline.units import System, show, show_chance, show_span, to_display
from duskline.words import day as day_words
from duskline.words.clock import STEP, about, no_later

__all__ = [
    "cause_line",
    "causes_lines",
    "change_line",
    "closed_line",
    "crew_lines",
    "end_line",
    "headline",
    "kept_line",
    "leave_lines",
    "load_lines",
    "not_heard_lines",
    "open_line",
    "pace_lines",
    "seed_lines",
    "standing_lines",
    "sure_line",
]

Language: TypeAlias = Literal["en", "es"]

TINY_M2 = 400.0
"""Ground not worth a word: a tenth of an acre."""


def headline(answer: LiveAnswer, system: System) -> str:
    """Return the one answer: when to stop, or that it is done."""
    if answer.day is None:
        if answer.told_open_m2 < TINY_M2:
            return "All that was spread is worked in" if answer.end.did_area_m2 else "No work now"
        return f"{_area(answer.told_open_m2, system)} lie open as told"
    if answer.stopped:
        return "Spreading is done: cover"
    return day_words.headline(answer.day, system)


def closed_line(answer: LiveAnswer) -> str:
    """Return why there is nothing to plan; "" where there is."""
    return f"Nothing to plan: {answer.closed}." if answer.closed else ""


def sure_line(answer: LiveAnswer, system: System) -> str:
    """Return how sure the answer is, and by when all is worked in."""
    if answer.day is None:
        return ""
    text = day_words.sure_line(answer.day, system)
    if answer.stopped and not answer.day.hopeless:
        return (
            f"{text} At average rates it is done about {about(answer.day.average.done_at, system)}."
        )
    return text


def change_line(answer: LiveAnswer, system: System) -> str:
    """Return "Was 3:25 pm, now 2:50 pm, because covering runs 12.3 ac/h (plan 15.3)."."""
    if answer.day is None or answer.was is None or answer.stopped:
        return ""
    was, now = no_later(answer.was.stop_at, system), no_later(answer.day.stop_at, system)
    if abs(answer.day.stop_at - answer.was.stop_at) < STEP:
        return f"As before: {now}."
    reasons = _reasons(answer, system)
    because = f", because {' and '.join(reasons)}" if reasons else ""
    return f"Was {was}, now {now}{because}."


def _reasons(answer: LiveAnswer, system: System) -> list[str]:
    """Return the reasons that pull the way the stop went: the first, and one nearly as strong."""
    if answer.day is None or answer.was is None:
        return []
    earlier = answer.day.stop_at < answer.was.stop_at
    ways = [c for c in answer.causes if (c.earlier_s > 0.0) == earlier]
    kept = [c for c in ways[:2] if abs(c.earlier_s) >= 0.5 * abs(ways[0].earlier_s)]
    return [_reason(cause, answer, system) for cause in kept]


def _reason(cause: Cause, answer: LiveAnswer, system: System) -> str:
    if cause.key in (CauseKey.COVERING, CauseKey.SPREADING):
        what = "covering" if cause.key is CauseKey.COVERING else "spreading"
        now = show(cause.now_value or 0.0, "work rate", system)
        plan = show(cause.planned_value or 0.0, "work rate", system).split(" ")[0]
        return f"{what} runs {now} (plan {plan})"
    if cause.key is CauseKey.RAIN:
        at = about(answer.rain_at, system) if answer.rain_at else "today"
        return f"rain is called for {at}"
    names = " and ".join(cause.machines)
    if cause.key is CauseKey.HALT:
        up = [name for name, _ in answer.standing if name in cause.machines]
        if up:
            stand = "stands" if len(up) == 1 else "stand"
            return f"{' and '.join(up)} {stand}"
        ends = [h.to_at for h in answer.halts if h.machine in cause.machines and h.to_at]
        if ends and max(ends) > answer.now_at:
            return f"{names} stands till {about(max(ends), system)}"
        return f"{names} stood {show_span(cause.now_value or 0.0)}"
    if cause.key is CauseKey.LATE_START:
        return f"{names} began {show_span(cause.now_value or 0.0)} late"
    return f"{_area(cause.now_value or 0.0, system)} lay open in the morning"


def cause_line(cause: Cause, answer: LiveAnswer, system: System) -> str:
    """Return one thing that moved the stop, and by how much by itself."""
    text = _reason(cause, answer, system)
    way = "earlier" if cause.earlier_s > 0.0 else "later"
    return f"{text[0].upper()}{text[1:]}: {show_span(abs(cause.earlier_s))} {way} for that alone."


def causes_lines(answer: LiveAnswer, system: System) -> list[str]:
    """Return everything that moved the stop, the most first."""
    return [cause_line(cause, answer, system) for cause in answer.causes]


def kept_line(answer: LiveAnswer, system: System) -> str:
    """Return the chance left if the spreader keeps to the stop that was."""
    if answer.day is None or answer.was is None or answer.kept_chance_fraction is None:
        return ""
    if answer.stopped or answer.day.stop_at >= answer.was.stop_at - STEP:
        return ""
    if answer.was.stop_at <= answer.now_at:
        return ""
    return (
        f"Keeping to {no_later(answer.was.stop_at, system)}: everything is worked in "
        f"{show_chance(answer.kept_chance_fraction)} times."
    )


def open_line(answer: LiveAnswer, system: System) -> str:
    """Return what lies open: as told, and carried on to now."""
    told, now = answer.told_open_m2, answer.open_m2
    if told < TINY_M2 and now < TINY_M2:
        return "Nothing lies open."
    text = f"{_area(told, system)} lie open as told"
    if told < TINY_M2:
        text = "Nothing lies open as told"
    if abs(now - told) < TINY_M2:
        return f"{text}."
    by_now = f"about {_area(now, system)}" if now >= TINY_M2 else "none"
    return f"{text}; {by_now} by now, work since then counted on."


def pace_lines(answer: LiveAnswer, system: System) -> list[str]:
    """Return each machine's pace: shown, planned, and what is reckoned with."""
    lines = []
    for one in answer.now.machines:
        if one.shown_m2_per_s is None:
            continue
        shown = show(one.shown_m2_per_s, "work rate", system)
        plan = show(one.planned_m2_per_s, "work rate", system)
        text = f"{one.machine}: {shown} so far, plan {plan}"
        if one.pace is not None:
            text += f"; reckoned with {show(one.rate_m2_per_s, 'work rate', system)}"
        if one.odd:
            text += ". That is hard to believe: look whether a telling is wrong or missing"
        lines.append(f"{text}.")
    return lines


def load_lines(answer: LiveAnswer, system: System) -> list[str]:
    """Return what the last load of each spreader says of its gate, and all of them together."""
    last: dict[str, LoadCheck] = {one.spreader: one for one in answer.loads}
    return [line for one in last.values() for line in _load(one, answer, system)]


def _load(one: LoadCheck, answer: LiveAnswer, system: System) -> list[str]:
    planned = show(one.planned_area_m2, "area", system)
    count = sum(1 for other in answer.loads if other.spreader == one.spreader)
    line = (
        f"{one.spreader}, load {one.number}: {show(one.mass_kg, 'mass', system)} did "
        f"{show(one.area_m2, 'area', system)}, plan {planned}: {_heavy(one.found.heavy_fraction)}"
    )
    found = one.together
    if found.beyond_reading:
        advice = f"Set the gate to {found.gate_factor:.3f} of the flow."
        if count > 1:
            advice = f"All {count} loads: {_heavy(found.heavy_fraction)} {advice}"
        return [line, advice]
    return [line, "That is within what weight and acres can be out: leave the gate."]


def _heavy(fraction: float) -> str:
    if abs(fraction) < 0.0005:
        return "as planned."
    return f"{abs(fraction):.1%} {'heavy' if fraction > 0.0 else 'light'}."


def seed_lines(answer: LiveAnswer, system: System) -> list[str]:
    """Return the seed left of each lot, and where it runs out."""
    return [_seed(one, system) for one in answer.seed]


def _seed(one: SeedNow, system: System) -> str:
    left = f"{one.lot}: {show(one.mass_kg, 'mass', system)} left"
    if one.enough:
        return f"{left}, {show(one.needed_kg, 'mass', system)} still to spread: it reaches."
    at = f" about {about(one.runs_out_at, system)}" if one.runs_out_at else ""
    text = f"{left}: it runs out in {one.runs_out_in}{at}, {_area(one.short_m2, system)} short"
    reach, put_right = one.left.uncorrected_area_m2, one.left.corrected_area_m2
    if put_right - reach > TINY_M2:
        text += (
            f"; it does {show(put_right, 'area', system)} once the gate is right, "
            f"{show(reach, 'area', system)} if not"
        )
    return f"{text}."


TROUBLES = {
    Trouble.WATER: "water or a ditch beside it",
    Trouble.SLOPE: "it slopes",
    Trouble.ERODIBLE: "its soil washes",
    Trouble.NOT_AFTER_RAIN: "it cannot be worked after rain",
    Trouble.BESIDE_OTHERS: "a road, a home or another's crop beside it",
}


def leave_lines(answer: LiveAnswer, system: System) -> list[str]:
    """Return which ground to leave open, and why, where not all can be covered any more."""
    return [_leave(one, system) for one in answer.leave]


def _leave(one: Leave, system: System) -> str:
    why = ", ".join(TROUBLES[kind] for kind in one.troubles)
    if not why:
        why = (
            "level, no water beside it" if one.slope_known else "no water beside it; slope not told"
        )
    if one.leave_m2 < TINY_M2:
        return f"Cover {one.field} first, {_area(one.open_m2, system)} open: {why}."
    part = "" if one.open_m2 - one.leave_m2 < TINY_M2 else f" of {_area(one.open_m2, system)}"
    return f"Leave {one.field}, {_area(one.leave_m2, system)}{part}: {why}."


def standing_lines(answer: LiveAnswer, system: System) -> list[str]:
    """Return the machines that stand, and when they are taken to run again."""
    return [
        f"{name} stands; reckoned to run again about {about(at, system)}, the usual length of a "
        "repair. Say when it runs."
        for name, at in answer.standing
    ]


def not_heard_lines(answer: LiveAnswer) -> list[str]:
    """Return the machines that told nothing though their work is open."""
    return [
        f"Nothing told of {name} today: it is counted as not begun." for name in answer.not_heard
    ]


def end_line(answer: LiveAnswer, system: System) -> str:
    """Return the day's last line: "Said 3:05 pm and 148 ac, did 3:20 pm and 151 ac"."""
    end = answer.end
    if end.did_stop_at is None and end.did_area_m2 < TINY_M2:
        return ""
    if answer.day is not None and not answer.stopped:
        return ""
    did = f"did {_at(end.did_stop_at, answer, system)}{_area(end.did_area_m2, system)}"
    said = ""
    if end.said_stop_at is not None:
        area = f" and {_area(end.said_area_m2, system)}" if end.said_area_m2 is not None else ""
        said = f"said {about(end.said_stop_at, system)}{area}, "
    text = f"{said}{did}"
    left = "all worked in" if end.open_m2 < TINY_M2 else f"{_area(end.open_m2, system)} lie open"
    if end.covered_by is not None and end.open_m2 < TINY_M2:
        left += f" by {_clock(end.covered_by, answer, system)}"
    return f"{text[0].upper()}{text[1:]}; {left}."


def _at(moment: datetime | None, answer: LiveAnswer, system: System) -> str:
    return f"{_clock(moment, answer, system)} and " if moment is not None else ""


def _clock(moment: datetime, answer: LiveAnswer, system: System) -> str:
    return about(moment.astimezone(answer.now_at.tzinfo), system)


def _area(area_m2: float, system: System) -> str:
    """Return an area to the whole acre from ten on, to the tenth below; hectares to the tenth."""
    digits = 0 if system == "us" and to_display(area_m2, "area", system)[0] >= 9.95 else 1
    return show(area_m2, "area", system, digits)


# --------------------------------------------------------------------------- for the crew

CREW: dict[Language, dict[str, str]] = {
    "en": {
        "stop": "Stop spreading at {at}.",
        "stop now": "Stop spreading now.",
        "spread all": "All is spread by about {at}.",
        "stopped": "Spreading is done. Cover.",
        "nothing": "No work now.",
        "was": "It was {at}.",
        "open": "{area} spread and not yet worked in.",
        "none open": "All that is spread is worked in.",
        "until": "Worked in by {at}.",
        "stands": "{machine} stands.",
        "seed": "Seed runs out in {field}.",
        "rain": "Rain is called for {at}.",
    },
    "es": {
        "stop": "Deje de esparcir a las {at}.",
        "stop now": "Deje de esparcir ahora.",
        "spread all": "Todo estará esparcido a las {at}, más o menos.",
        "stopped": "Ya no se esparce. Tape la semilla.",
        "nothing": "No hay trabajo ahora.",
        "was": "Antes era a las {at}.",
        "open": "{area} esparcidos y sin tapar.",
        "none open": "Toda la semilla está tapada.",
        "until": "Todo tapado antes de las {at}.",
        "stands": "{machine} está parado.",
        "seed": "La semilla se acaba en {field}.",
        "rain": "Se espera lluvia a las {at}.",
    },
}


def crew_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return the few lines a crew member needs, numbers and clock times the same in both."""
    say = CREW[language]
    lines = [_crew_stop(answer, system, say)]
    day = answer.day
    was = answer.was if not answer.stopped else None
    if day is not None and was is not None and abs(day.stop_at - was.stop_at) >= STEP:
        lines.append(say["was"].format(at=no_later(was.stop_at, system)))
    # Nobody is told that all is done before somebody has told it.
    open_m2 = answer.open_m2 if answer.open_m2 >= TINY_M2 else answer.told_open_m2
    if open_m2 >= TINY_M2:
        lines.append(say["open"].format(area=_area(open_m2, system)))
    elif answer.end.did_area_m2 > 0.0:
        lines.append(say["none open"])
    if day is not None:
        lines.append(say["until"].format(at=about(day.windows_cover_until, system)))
    if answer.rain_at is not None:
        lines.append(say["rain"].format(at=about(answer.rain_at, system)))
    lines += [say["stands"].format(machine=name) for name, _ in answer.standing]
    lines += [say["seed"].format(field=one.runs_out_in) for one in answer.seed if not one.enough]
    return lines


def _crew_stop(answer: LiveAnswer, system: System, say: dict[str, str]) -> str:
    day = answer.day
    if day is None:
        return say["nothing"]
    if answer.stopped:
        return say["stopped"]
    if day.hopeless or day.spread_area_m2 - day.spread_before_m2 < TINY_M2:
        return say["stop now"]
    if day.limited_by == "acres":
        return say["spread all"].format(at=about(day.stop_at, system))
    return say["stop"].format(at=no_later(day.stop_at, system))
