"""The log in sentences: what was told, what it adds up to, and what looks wrong in it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import tzinfo
from typing import Literal, TypeAlias

from duskline.core.log import Conflict, ConflictKind, Event, FieldState, Halt, Settled
from duskline.units import System, clock, show, show_chance, show_span

__all__ = [
    "clash_line",
    "conflict_line",
    "conflict_lines",
    "event_line",
    "field_line",
    "halt_line",
    "load_beyond_line",
    "open_line",
    "what_text",
]

Language: TypeAlias = Literal["en", "es"]

_DONE = {
    "begin": "begins",
    "stop": "done spreading for the day",
    "stuck": "stuck",
    "down": "broken down",
    "up": "running again",
    "both": "counted beside the other telling",
}


def event_line(event: Event, system: System, zone: tzinfo) -> str:
    """Return one event: "1:00 pm, Cultivator 1, A1: covered 39.0 ac"."""
    who = [plain(text) for text in (event.machine, event.field) if text]
    head = ", ".join([clock(event.at.astimezone(zone), system), *who])
    more = [what_text(event, system, zone)]
    if event.took_s is not None:
        more.append(f"took {show_span(event.took_s)}")
    if event.note and event.what != "note":
        more.append(plain(event.note))
    if event.person:
        more.append(f"told by {plain(event.person)}")
    return f"{head}: {'; '.join(more)}"


def what_text(event: Event, system: System, zone: tzinfo) -> str:
    """Return what happened: "covered 39.0 ac", "rain called for 4:30 pm"."""
    if event.what in _DONE:
        return _DONE[event.what]
    if event.what == "note":
        return plain(event.note)
    if event.what == "undo":
        return "one telling taken back"
    if event.what == "rain":
        return f"rain called for {clock(event.at.astimezone(zone), system)}"
    if event.what == "plan":
        return _plan_text(event, system, zone)
    amount = "all that was left" if event.whole else _amount(event, system)
    return {
        "spread": f"spread {amount}",
        "covered": f"covered {amount}",
        "load": f"a load of {amount} run out" if amount else "a load run out",
        "wet": f"left out, too wet: {amount}" if amount else "a wet spot left out",
    }[event.what].strip()


def _amount(event: Event, system: System) -> str:
    if event.mass_kg is not None:
        return show(event.mass_kg, "mass", system)
    return show(event.area_m2, "area", system) if event.area_m2 is not None else ""


def _plan_text(event: Event, system: System, zone: tzinfo) -> str:
    if event.stop_at is None:
        return "a plan handed out"
    text = f"a plan handed out: stop at {clock(event.stop_at.astimezone(zone), system)}"
    if event.chance_fraction is None:
        return text
    return f"{text}, {show_chance(event.chance_fraction)} times covered"


def field_line(name: str, state: FieldState, system: System) -> str:
    """Return how one field stands: "A1: 57.7 ac open (96.7 ac spread, 39.0 ac covered)"."""
    parts = [
        f"{show(state.spread_m2, 'area', system)} spread",
        f"{show(state.covered_m2, 'area', system)} covered",
    ]
    if state.left_out_m2:
        parts.append(f"{show(state.left_out_m2, 'area', system)} left out")
    return f"{plain(name) or 'Elsewhere'}: {_open(state.open_m2, system)} ({', '.join(parts)})"


def open_line(settled: Settled, system: System) -> str:
    """Return what lies bare over all fields."""
    return f"{_open(settled.open_m2, system)} in all"


def _open(open_m2: float, system: System) -> str:
    return f"{show(open_m2, 'area', system)} open"


def halt_line(halt: Halt, system: System, zone: tzinfo) -> str:
    """Return when a machine stood: "Cultivator 1 broken down from 1:10 pm, still standing"."""
    begin = clock(halt.from_at.astimezone(zone), system)
    end = "still standing"
    if halt.to_at is not None:
        end = f"until {clock(halt.to_at.astimezone(zone), system)}"
    return f"{plain(halt.machine) or 'A machine'} {_DONE[halt.what]} from {begin}, {end}"


# --------------------------------------------------------------------------- what looks wrong


def conflict_lines(settled: Settled, system: System, zone: tzinfo) -> list[str]:
    """Return everything that looks wrong in the log, a sentence each."""
    told = {event.id: event for event in settled.all_events}
    return [conflict_line(one, told, system, zone) for one in settled.conflicts]


def conflict_line(
    conflict: Conflict, told: Mapping[str, Event], system: System, zone: tzinfo
) -> str:
    """Return what looks wrong and what to do about it.

    Parameters
    ----------
    told
        The events by their ids.
    """
    events = [told[name] for name in conflict.ids if name in told]
    lines = [event_line(event, system, zone) for event in events]
    field = plain(conflict.field) or "a field without a name"
    value, limit = conflict.value or 0.0, conflict.limit or 0.0
    if conflict.kind is ConflictKind.SAME_ID:
        return (
            f"Two tellings carry one number ({plain(conflict.ids[0])}); this one counts: "
            f"{lines[0] if lines else 'none'}. Tell the other one again if it is right."
        )
    if conflict.kind is ConflictKind.TOLD_TWICE:
        return _twice(conflict, events, lines)
    if conflict.kind is ConflictKind.MORE_THAN_FIELD:
        done = "spread" if conflict.machine == "spread" else "covered"
        return (
            f"{show(value, 'area', system)} of {field} told {done}, and it has "
            f"{show(limit, 'area', system)}. Take back what was told wrongly."
        )
    if conflict.kind is ConflictKind.COVERED_NOT_SPREAD:
        return (
            f"{show(value, 'area', system)} of {field} told covered, and only "
            f"{show(limit, 'area', system)} told spread. Tell what was spread there."
        )
    if conflict.kind is ConflictKind.SPREAD_ELSEWHERE:
        return (
            f"Loads reach {show(value, 'area', system)} beyond the fields they were told in. "
            "Tell which other field was spread."
        )
    if conflict.kind is ConflictKind.UNDO_OF_UNDO:
        return "What was taken back stays so: a taking-back cannot be taken back. Tell it anew."
    if conflict.kind is ConflictKind.CLOCK:
        return (
            f"The clock of {plain(conflict.machine) or 'a device'} is {show_span(value)} ahead. "
            "Put it right; its times count as told."
        )
    return f"There is no field {field} in the farm folder. Name it there, or tell it of another."


def _twice(conflict: Conflict, events: list[Event], lines: list[str]) -> str:
    both = " / ".join(lines)
    counts = "only the first counts"
    if any(event.what != "covered" for event in events):
        counts = "both count until you say"
    return (
        f"Perhaps told twice: {both}; {counts}. If both are right, say both "
        f"{plain(conflict.ids[-1])}; if not, undo one."
    )


_CLASH: dict[Language, dict[str, str]] = {
    "en": {
        "same id": "Two tellings came as one; this one counts: {one}. Tell the other anew if it is "
        "right.",
        "twice covered": "Perhaps told twice: {both}. Only the first counts until you say.",
        "twice": "Perhaps told twice: {both}. Both count until you say.",
        "more spread": "{value} told spread in {field}, and it has {limit}. Take back what is "
        "wrong.",
        "more covered": "{value} told worked in in {field}, and it has {limit}. Take back what is "
        "wrong.",
        "not spread": "{value} told worked in in {field}, and only {limit} told spread. Tell what "
        "was spread there.",
        "beyond": "{value} of this load lie beyond {field}: tell which field next.",
        "undo": "What was taken back stays so. If it was right after all, tell it anew.",
        "clock": "The clock of {machine} is {span} ahead. Put it right; its times count as told.",
        "no field": "There is no field {field} on this farm. Put it in, or tell it of another.",
        "device": "a device",
        "nameless": "a field without a name",
        "none": "none",
        "spread": "spread {amount}",
        "covered": "worked in {amount}",
        "load": "load run out {amount}",
        "all": "all of it",
    },
    "es": {
        "same id": "Dos anotaciones llegaron como una; vale esta: {one}. Si la otra es cierta, "
        "anótela de nuevo.",
        "twice covered": "Quizás anotado dos veces: {both}. Vale solo la primera hasta que usted "
        "diga.",
        "twice": "Quizás anotado dos veces: {both}. Valen las dos hasta que usted diga.",
        "more spread": "{value} anotados como esparcidos en {field}, que tiene {limit}. Deshaga "
        "lo que esté mal.",
        "more covered": "{value} anotados como tapados en {field}, que tiene {limit}. Deshaga lo "
        "que esté mal.",
        "not spread": "{value} anotados como tapados en {field}, y solo {limit} como esparcidos. "
        "Anote lo que se esparció ahí.",
        "beyond": "{value} de esta carga quedan fuera de {field}: diga qué lote sigue.",
        "undo": "Lo deshecho queda así. Si era cierto, anótelo de nuevo.",
        "clock": "El reloj de {machine} va {span} adelantado. Corríjalo; sus horas valen como "
        "están.",
        "no field": "No hay ningún lote {field} en esta finca. Póngalo, o anótelo en otro.",
        "device": "un aparato",
        "nameless": "un lote sin nombre",
        "none": "ninguna",
        "spread": "esparcido {amount}",
        "covered": "tapado {amount}",
        "load": "carga vacía {amount}",
        "all": "todo",
    },
}


def clash_line(
    conflict: Conflict,
    told: Mapping[str, Event],
    system: System,
    zone: tzinfo,
    *,
    language: Language = "en",
) -> str:
    """Return what looks wrong, for a page whose buttons stand beside it: no ids, no commands.

    Parameters
    ----------
    told
        The events by their ids.
    """
    say = _CLASH[language]
    events = [told[name] for name in conflict.ids if name in told]
    lines = [_short(event, system, zone, say) for event in events]
    facts = {
        "one": lines[0] if lines else say["none"],
        "both": " / ".join(lines),
        "field": plain(conflict.field) or say["nameless"],
        "machine": plain(conflict.machine) or say["device"],
    }
    if conflict.kind is ConflictKind.CLOCK:
        facts["span"] = show_span(conflict.value or 0.0)
    else:
        facts["value"] = show(conflict.value or 0.0, "area", system)
        facts["limit"] = show(conflict.limit or 0.0, "area", system)
    if conflict.kind is ConflictKind.SPREAD_ELSEWHERE:
        return load_beyond_line(conflict, told, system, language=language)
    return say[_clash_key(conflict, events)].format(**facts)


def _clash_key(conflict: Conflict, events: list[Event]) -> str:
    if conflict.kind is ConflictKind.TOLD_TWICE:
        return "twice" if any(event.what != "covered" for event in events) else "twice covered"
    if conflict.kind is ConflictKind.MORE_THAN_FIELD:
        return f"more {'spread' if conflict.machine == 'spread' else 'covered'}"
    return {
        ConflictKind.SAME_ID: "same id",
        ConflictKind.COVERED_NOT_SPREAD: "not spread",
        ConflictKind.UNDO_OF_UNDO: "undo",
        ConflictKind.CLOCK: "clock",
    }.get(conflict.kind, "no field")


def load_beyond_line(
    conflict: Conflict, told: Mapping[str, Event], system: System, *, language: Language = "en"
) -> str:
    """Return how much of the loads lies beyond the field of the last: where it is can be told."""
    say = _CLASH[language]
    loads = [told[name] for name in conflict.ids if name in told]
    field = plain(loads[-1].field) if loads else ""
    return say["beyond"].format(
        value=show(conflict.value or 0.0, "area", system, 0 if system == "us" else 1),
        field=field or say["nameless"],
    )


def _short(event: Event, system: System, zone: tzinfo, say: Mapping[str, str]) -> str:
    """Return one event: "1:00 pm, Cultivator 1, A1: worked in 39.0 ac"."""
    who = [plain(text) for text in (event.machine, event.field) if text]
    head = ", ".join([clock(event.at.astimezone(zone), system), *who])
    if event.what not in ("spread", "covered", "load"):
        return head
    amount = say["all"] if event.whole else _amount(event, system)
    return f"{head}: {say[event.what].format(amount=amount).strip()}"


def plain(text: str) -> str:
    """Return a text that others wrote with nothing in it that a screen would act on."""
    return "".join(letter if letter.isprintable() else " " for letter in text)
