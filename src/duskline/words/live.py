"""The live answer in words: what it was, what it is now, why; and what lies open.

``crew_lines`` is the short set a crew member sees. Everything is in English or Spanish; the
Spanish has not been read by a native speaker who farms.
"""

from __future__ import annotations

from datetime import datetime

from duskline.answers.live import Cause, CauseKey, LiveAnswer
from duskline.answers.live_doubt import Doubt
from duskline.answers.live_leave import Leave, Trouble
from duskline.answers.live_order import OrderChange
from duskline.answers.live_seed import LoadCheck, SeedNow
from duskline.core.log import Event
from duskline.units import System, clock, show, show_span, to_display
from duskline.words import day as day_words
from duskline.words.clock import about, no_later
from duskline.words.day import Language, chance_text

__all__ = [
    "cause_line",
    "causes_lines",
    "change_line",
    "closed_line",
    "crew_lines",
    "doubt_line",
    "end_line",
    "headline",
    "kept_line",
    "leave_lines",
    "load_lines",
    "lost_lines",
    "not_heard_lines",
    "open_line",
    "order_lines",
    "pace_lines",
    "quiet_lines",
    "seed_lines",
    "standing_lines",
    "sure_line",
    "tap_line",
]

TINY_M2 = 400.0
"""Ground not worth a word: a tenth of an acre."""

SAY: dict[Language, dict[str, str]] = {
    "en": {
        "all in": "All that was spread is worked in",
        "may lie open": "About {area} may lie open: tell what was spread last",
        "no work": "No work now",
        "open told": "{area} lie open as told",
        "done": "Spreading is done: cover",
        "closed": "Nothing to plan: {why}.",
        "done at": "At average rates it is done about {at}.",
        "before": "As before: {at}.",
        "was": "Was {was}, now {now}{because}.",
        "because": ", because {why}",
        "and": " and ",
        "tap": "Before the last telling the stop was {was}; now {now}, because {why}.",
        "covering": "covering runs {now} (plan {plan})",
        "spreading": "spreading runs {now} (plan {plan})",
        "reckoned": "{plan}, reckoned with {rate}",
        "rain": "rain is called for {at}",
        "rain today": "rain is called for today",
        "stands": "{names} stands",
        "stand": "{names} stand",
        "stands till": "{names} stands till {at}",
        "stood": "{names} stood {span}",
        "late": "{names} began {span} late",
        "open before": "{area} lay open in the morning",
        "earlier": "{text}: {span} earlier for that alone.",
        "later": "{text}: {span} later for that alone.",
        "kept": "Keeping to {at}: everything is worked in {chance} times.",
        "nothing open": "Nothing lies open.",
        "nothing open told": "Nothing lies open as told",
        "by now": "{told}; {now} by now, work since then counted on.",
        "by now untold": "{told}; {now} by now: {why}.",
        "untold": "{machine} told nothing from {since} to its stop at {stop}",
        "about area": "about {area}",
        "none": "none",
        "pace": "{machine}: {shown} so far, plan {plan}",
        "pace reckoned": "; reckoned with {rate}",
        "pace odd": ". That is hard to believe: look whether a telling is wrong or missing",
        "load": "{machine}, load {number}: {mass} did {area}, plan {plan}: {heavy}",
        "gate": "Set the gate to {factor} of the flow.",
        "all loads": "All {count} loads: {heavy} {advice}",
        "leave gate": "That is within what weight and acres can be out: leave the gate.",
        "as planned": "as planned.",
        "heavy": "{share} heavy.",
        "light": "{share} light.",
        "seed left": "{lot}: {mass} left",
        "seed reaches": "{left}, {needed} still to spread: it reaches.",
        "seed short": "{left}: it runs out in {field}{at}, {area} short",
        "seed at": " about {at}",
        "seed gate": "; it does {right} once the gate is right, {wrong} if not",
        "cover first": "Cover {field} first, {area} open: {why}.",
        "leave": "Leave {field}, {area}: {why}.",
        "of": "{part} of {whole}",
        "level": "level, no water beside it",
        "no slope": "no water beside it; slope not told",
        "machine stands": "{machine} stands; reckoned to run again about {at}, the usual length "
        "of a repair. Say when it runs.",
        "not heard": "Nothing told of {machine} today: it is counted as not begun.",
        "quiet": "{machine}: nothing told since {at}; tell what it has done.",
        "lost": "{area} left out after they were spread: their seed is lost, there is nothing "
        "to work in.",
        "doubt": "{machine}, {field}: {area} told at {at} would be {pace}, plan {plan}. Not "
        "counted until you say that it is right.",
        "doubt little": "{machine}: what is told up to {at} is {pace}, plan {plan}. Tell what is "
        "missing; until you say that it is right, it is reckoned at the planned pace.",
        "order begun": "{field} comes first: it was begun before its turn.",
        "order rain": "{field} comes earlier: rain is called for, and it cannot be worked after.",
        "order ready": "{field} waits: it is not ready before {at}.",
        "order not ready": "{field} waits: it is not ready at its turn.",
        "said": "said {at}{area}, ",
        "and area": " and {area}",
        "did": "{said}did {at}{area}; {left}.",
        "at and": "{at} and ",
        "all worked": "all worked in",
        "told worked": "all that was told is worked in",
        "lie open": "{area} lie open",
        "by": " by {at}",
        "tap down": "{machine} stands",
        "tap up": "{machine} runs again",
        "tap stop": "{machine} is done spreading",
        "tap undo": "a telling was taken back",
        "tap both": "a telling was said to be right",
        "tap told": "of what was told of {machine} at {at}",
        "tap field": "of what was told of {field} at {at}",
        "the work": "the work",
    },
    "es": {
        "all in": "Todo lo esparcido está tapado",
        "may lie open": "Quizá {area} sin tapar: anote lo último esparcido",
        "no work": "No hay trabajo ahora",
        "open told": "{area} sin tapar según lo anotado",
        "done": "Ya no se esparce: tape la semilla",
        "closed": "Nada que planear: {why}.",
        "done at": "Al ritmo medio se termina hacia las {at}.",
        "before": "Igual que antes: {at}.",
        "was": "Antes {was}, ahora {now}{because}.",
        "because": ", porque {why}",
        "and": " y ",
        "tap": "Antes de lo último anotado se paraba a las {was}; ahora {now}, porque {why}.",
        "covering": "se tapa a {now} (plan {plan})",
        "spreading": "se esparce a {now} (plan {plan})",
        "reckoned": "{plan}, se cuenta con {rate}",
        "rain": "se espera lluvia a las {at}",
        "rain today": "se espera lluvia hoy",
        "stands": "{names} está parado",
        "stand": "{names} están parados",
        "stands till": "{names} está parado hasta las {at}",
        "stood": "{names} estuvo parado {span}",
        "late": "{names} empezó {span} tarde",
        "open before": "{area} amanecieron sin tapar",
        "earlier": "{text}: {span} antes solo por eso.",
        "later": "{text}: {span} después solo por eso.",
        "kept": "Si sigue hasta las {at}: todo queda tapado {chance} veces.",
        "nothing open": "No queda nada sin tapar.",
        "nothing open told": "Nada sin tapar según lo anotado",
        "by now": "{told}; {now} a esta hora, contando el trabajo hecho desde entonces.",
        "by now untold": "{told}; {now} a esta hora: {why}.",
        "untold": "de {machine} no se anotó nada desde las {since} hasta que paró a las {stop}",
        "about area": "unos {area}",
        "none": "nada",
        "pace": "{machine}: {shown} hasta ahora, plan {plan}",
        "pace reckoned": "; se cuenta con {rate}",
        "pace odd": ". Cuesta creerlo: vea si algo se anotó mal o falta",
        "load": "{machine}, carga {number}: {mass} alcanzaron para {area}, plan {plan}: {heavy}",
        "gate": "Ponga la compuerta a {factor} del flujo.",
        "all loads": "Las {count} cargas: {heavy} {advice}",
        "leave gate": "Está dentro de lo que fallan la báscula y la medida: no mueva la compuerta.",
        "as planned": "como en el plan.",
        "heavy": "{share} de más.",
        "light": "{share} de menos.",
        "seed left": "{lot}: quedan {mass}",
        "seed reaches": "{left}, faltan por esparcir {needed}: alcanza.",
        "seed short": "{left}: se acaba en {field}{at}, faltan {area}",
        "seed at": " hacia las {at}",
        "seed gate": "; alcanza para {right} con la compuerta bien puesta, {wrong} si no",
        "cover first": "Tape primero {field}, {area} sin tapar: {why}.",
        "leave": "Deje {field}, {area}: {why}.",
        "of": "{part} de {whole}",
        "level": "plano, sin agua al lado",
        "no slope": "sin agua al lado; no se sabe la pendiente",
        "machine stands": "{machine} está parado; se cuenta con que ande otra vez hacia las {at}, "
        "lo que tarda un arreglo normal. Avise cuando ande.",
        "not heard": "Hoy no se anotó nada de {machine}: se cuenta como si no hubiera empezado.",
        "quiet": "{machine}: nada anotado desde las {at}; anote lo que hizo.",
        "lost": "{area} se dejaron fuera después de esparcir: esa semilla se pierde, ahí no hay "
        "nada que tapar.",
        "doubt": "{machine}, {field}: {area} anotados a las {at} serían {pace}, plan {plan}. No "
        "cuentan hasta que diga que está bien.",
        "doubt little": "{machine}: lo anotado hasta las {at} da {pace}, plan {plan}. Anote lo que "
        "falta; hasta que diga que está bien, se cuenta al ritmo del plan.",
        "order begun": "{field} va primero: se empezó antes de su turno.",
        "order rain": "{field} va antes: se espera lluvia y después no se puede trabajar.",
        "order ready": "{field} espera: no está listo antes de las {at}.",
        "order not ready": "{field} espera: no está listo a su turno.",
        "said": "el plan decía {at}{area}, ",
        "and area": " y {area}",
        "did": "{said}se hizo {at}{area}; {left}.",
        "at and": "{at} y ",
        "all worked": "todo tapado",
        "told worked": "todo lo anotado está tapado",
        "lie open": "{area} sin tapar",
        "by": " a las {at}",
        "tap down": "{machine} está parado",
        "tap up": "{machine} anda otra vez",
        "tap stop": "{machine} terminó de esparcir",
        "tap undo": "se quitó algo anotado",
        "tap both": "se dijo que algo anotado está bien",
        "tap told": "se anotó el trabajo de {machine} a las {at}",
        "tap field": "se anotó algo de {field} a las {at}",
        "the work": "el trabajo",
    },
}

TROUBLES: dict[Language, dict[Trouble, str]] = {
    "en": {
        Trouble.WATER: "water or a ditch beside it",
        Trouble.SLOPE: "it slopes",
        Trouble.ERODIBLE: "its soil washes",
        Trouble.NOT_AFTER_RAIN: "it cannot be worked after rain",
        Trouble.BESIDE_OTHERS: "a road, a home or another's crop beside it",
    },
    "es": {
        Trouble.WATER: "tiene agua o una zanja al lado",
        Trouble.SLOPE: "tiene pendiente",
        Trouble.ERODIBLE: "su tierra se lava",
        Trouble.NOT_AFTER_RAIN: "no se puede trabajar después de llover",
        Trouble.BESIDE_OTHERS: "tiene un camino, una casa o el cultivo de otro al lado",
    },
}


# --------------------------------------------------------------------------- the one answer


def headline(answer: LiveAnswer, system: System, *, language: Language = "en") -> str:
    """Return the one answer: when to stop, or that it is done."""
    say = SAY[language]
    if answer.day is None:
        if answer.told_open_m2 < TINY_M2 and _spread_untold(answer, system):
            return say["may lie open"].format(area=_area(answer.open_m2, system))
        if answer.told_open_m2 < TINY_M2:
            return say["all in"] if answer.end.did_area_m2 else say["no work"]
        return say["open told"].format(area=_area(answer.told_open_m2, system))
    if answer.stopped:
        return say["done"]
    return day_words.headline(answer.day, system, language=language)


def closed_line(answer: LiveAnswer, *, language: Language = "en") -> str:
    """Return why there is nothing to plan; "" where there is."""
    if not answer.closed:
        return ""
    why = CLOSED_ES.get(answer.closed, answer.closed) if language == "es" else answer.closed
    return SAY[language]["closed"].format(why=why)


CLOSED_ES = {
    "the day is over": "el día terminó",
    "no field is ready with anything left to spread": "no hay lote listo con algo por esparcir",
    "ground not fit": "la tierra no está para trabajar",
}


def sure_line(answer: LiveAnswer, system: System, *, language: Language = "en") -> str:
    """Return how sure the answer is, and by when all is worked in."""
    if answer.day is None:
        return ""
    text = day_words.sure_line(answer.day, system, language=language)
    if answer.stopped and not answer.day.hopeless:
        done = SAY[language]["done at"].format(at=about(answer.day.average.done_at, system))
        return f"{text} {done}"
    return text


def change_line(answer: LiveAnswer, system: System, *, language: Language = "en") -> str:
    """Return "Was 3:25 pm, now 2:50 pm, because covering runs 12.3 ac/h (plan 15.3)."."""
    if answer.day is None or answer.was is None or answer.stopped:
        return ""
    say = SAY[language]
    was, now = no_later(answer.was.stop_at, system), no_later(answer.day.stop_at, system)
    if was == now:
        return say["before"].format(at=now)
    reasons = _reasons(answer, system, language)
    because = say["because"].format(why=say["and"].join(reasons)) if reasons else ""
    return say["was"].format(was=was, now=now, because=because)


def tap_line(answer: LiveAnswer, system: System, *, language: Language = "en") -> str:
    """Return what the newest telling did to the stop; "" where it did nothing to speak of."""
    tap, day = answer.tap, answer.day
    if tap is None or tap.was_stop_at is None or day is None or answer.stopped:
        return ""
    was, now = no_later(tap.was_stop_at, system), no_later(day.stop_at, system)
    if was == now:
        return ""
    why = _tap_reason(tap.event, answer, system, language)
    return SAY[language]["tap"].format(was=was, now=now, why=why)


def _tap_reason(event: Event, answer: LiveAnswer, system: System, language: Language) -> str:
    say = SAY[language]
    machine = _plain(event.machine) or say["the work"]
    if event.what == "rain":
        return say["rain"].format(at=_clock(event.at, answer, system))
    key = {"stuck": "tap down", "down": "tap down"}.get(event.what, f"tap {event.what}")
    if key in say:
        return say[key].format(machine=machine)
    at = clock(event.at.astimezone(answer.now_at.tzinfo), system)
    if not event.machine and event.field:
        return say["tap field"].format(field=_plain(event.field), at=at)
    return say["tap told"].format(machine=machine, at=at)


def _reasons(answer: LiveAnswer, system: System, language: Language) -> list[str]:
    """Return the reasons that pull the way the stop went: the first, and one nearly as strong."""
    if answer.day is None or answer.was is None:
        return []
    earlier = answer.day.stop_at < answer.was.stop_at
    ways = [c for c in _told_causes(answer, system) if (c.earlier_s > 0.0) == earlier]
    kept = [c for c in ways[:2] if abs(c.earlier_s) >= 0.5 * abs(ways[0].earlier_s)]
    return [_reason(cause, answer, system, language) for cause in kept]


def _told_causes(answer: LiveAnswer, system: System) -> list[Cause]:
    """Return the causes that say something: not a pace that reads the same as the plan's."""

    def reads(value: float | None) -> str:
        return show(value or 0.0, "work rate", system)

    paces = (CauseKey.COVERING, CauseKey.SPREADING)
    return [
        cause
        for cause in answer.causes
        if cause.key not in paces or reads(cause.now_value) != reads(cause.planned_value)
    ]


def _reason(
    cause: Cause,
    answer: LiveAnswer,
    system: System,
    language: Language,
    *,
    reckoned: bool = False,
) -> str:
    say = SAY[language]
    if cause.key in (CauseKey.COVERING, CauseKey.SPREADING):
        what = "covering" if cause.key is CauseKey.COVERING else "spreading"
        now, plan, rate = (
            show(value or 0.0, "work rate", system)
            for value in (cause.now_value, cause.planned_value, cause.reckoned_value)
        )
        plan = plan.split(" ")[0]
        if reckoned and cause.reckoned_value is not None and rate != now:
            plan = say["reckoned"].format(plan=plan, rate=rate.split(" ")[0])
        return say[what].format(now=now, plan=plan)
    if cause.key is CauseKey.RAIN:
        if answer.rain_at is None:
            return say["rain today"]
        return say["rain"].format(at=_clock(answer.rain_at, answer, system))
    names = say["and"].join(_plain(name) for name in cause.machines)
    span = show_span(cause.now_value or 0.0)
    if cause.key is CauseKey.HALT:
        up = [_plain(name) for name, _ in answer.standing if name in cause.machines]
        if up:
            return say["stands" if len(up) == 1 else "stand"].format(names=say["and"].join(up))
        ends = [h.to_at for h in answer.halts if h.machine in cause.machines and h.to_at]
        if ends and max(ends) > answer.now_at:
            return say["stands till"].format(names=names, at=_clock(max(ends), answer, system))
        return say["stood"].format(names=names, span=span)
    if cause.key is CauseKey.LATE_START:
        return say["late"].format(names=names, span=span)
    return say["open before"].format(area=_area(cause.now_value or 0.0, system))


def cause_line(
    cause: Cause, answer: LiveAnswer, system: System, *, language: Language = "en"
) -> str:
    """Return one thing that moved the stop, and by how much by itself."""
    say = SAY[language]
    text = _reason(cause, answer, system, language, reckoned=True)
    way = "earlier" if cause.earlier_s > 0.0 else "later"
    return say[way].format(text=_upper(text), span=show_span(abs(cause.earlier_s)))


def causes_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return everything that moved the stop, the most first."""
    return [
        cause_line(cause, answer, system, language=language)
        for cause in _told_causes(answer, system)
    ]


def kept_line(answer: LiveAnswer, system: System, *, language: Language = "en") -> str:
    """Return the chance left if the spreader keeps to the stop that was."""
    if answer.day is None or answer.was is None or answer.kept_chance_fraction is None:
        return ""
    was = no_later(answer.was.stop_at, system)
    later = answer.was.stop_at > answer.day.stop_at and answer.was.stop_at > answer.now_at
    if answer.stopped or not later or was == no_later(answer.day.stop_at, system):
        return ""
    chance = chance_text(answer.kept_chance_fraction, language)
    return SAY[language]["kept"].format(at=was, chance=chance)


# --------------------------------------------------------------------------- what lies open


def open_line(answer: LiveAnswer, system: System, *, language: Language = "en") -> str:
    """Return what lies open: as told, and carried on to now."""
    say = SAY[language]
    told, now = answer.told_open_m2, answer.open_m2
    if told < TINY_M2 and now < TINY_M2:
        return say["nothing open"]
    text = say["open told"].format(area=_area(told, system))
    if told < TINY_M2:
        text = say["nothing open told"]
    if abs(now - told) < TINY_M2:
        return f"{text}."
    by_now = say["about area"].format(area=_area(now, system)) if now >= TINY_M2 else say["none"]
    why = _untold(answer, system, language) if now > told else ""
    if why:
        return say["by now untold"].format(told=text, now=by_now, why=why)
    return say["by now"].format(told=text, now=by_now)


def _spread_untold(answer: LiveAnswer, system: System) -> bool:
    """Say whether a spreader ran on to its stop and what it spread then was not told."""
    return answer.open_m2 >= TINY_M2 and bool(_untold(answer, system, "en"))


def _untold(answer: LiveAnswer, system: System, language: Language) -> str:
    """Return which spreader told nothing up to its stop: what it may have spread lies open."""
    for one in answer.now.machines:
        if one.work == "spread" and one.carried_m2 >= TINY_M2 and one.stopped_at is not None:
            told_at = max(
                (
                    event.at
                    for event in answer.settled.events
                    if event.machine == one.machine
                    and event.what in ("begin", "spread", "load")
                    and event.at <= one.stopped_at
                ),
                default=None,
            )
            if told_at is not None:
                return SAY[language]["untold"].format(
                    machine=_plain(one.machine),
                    since=_clock(told_at, answer, system),
                    stop=_clock(one.stopped_at, answer, system),
                )
    return ""


def lost_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return what was left out after it was spread: neither open nor to be worked in."""
    if answer.seed_lost_m2 < TINY_M2 / 4.0:
        return []
    return [SAY[language]["lost"].format(area=show(answer.seed_lost_m2, "area", system, 1))]


def doubt_line(
    doubt: Doubt, answer: LiveAnswer, system: System, *, language: Language = "en"
) -> str:
    """Return one telling that is hard to believe, and what is reckoned with until it is not."""
    event = doubt.event
    key = "doubt" if event.what == "covered" else "doubt little"
    return SAY[language][key].format(
        machine=_plain(event.machine),
        field=_plain(event.field),
        area=show(event.area_m2 or 0.0, "area", system),
        at=clock(event.at.astimezone(answer.now_at.tzinfo), system),
        pace=show(doubt.shown_m2_per_s, "work rate", system),
        plan=show(doubt.planned_m2_per_s, "work rate", system),
    )


# --------------------------------------------------------------------------- pace, loads, seed


def pace_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return each machine's pace: shown, planned, and what is reckoned with."""
    say, lines = SAY[language], []
    asked = {one.event.machine for one in answer.doubted}
    for one in answer.now.machines:
        if one.shown_m2_per_s is None:
            continue
        text = say["pace"].format(
            machine=_plain(one.machine),
            shown=show(one.shown_m2_per_s, "work rate", system),
            plan=show(one.planned_m2_per_s, "work rate", system),
        )
        if one.pace is not None:
            text += say["pace reckoned"].format(rate=show(one.rate_m2_per_s, "work rate", system))
        if one.odd and one.machine not in asked:
            text += say["pace odd"]
        lines.append(f"{text}.")
    return lines


def load_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return what the last load of each spreader says of its gate, and all of them together."""
    last: dict[str, LoadCheck] = {one.spreader: one for one in answer.loads}
    return [line for one in last.values() for line in _load(one, answer, system, language)]


def _load(one: LoadCheck, answer: LiveAnswer, system: System, language: Language) -> list[str]:
    say = SAY[language]
    count = sum(1 for other in answer.loads if other.spreader == one.spreader)
    line = say["load"].format(
        machine=_plain(one.spreader),
        number=one.number,
        mass=show(one.mass_kg, "mass", system),
        area=show(one.area_m2, "area", system),
        plan=show(one.planned_area_m2, "area", system),
        heavy=_heavy(one.found.heavy_fraction, language),
    )
    found = one.together
    if found.beyond_reading:
        advice = say["gate"].format(factor=f"{found.gate_factor:.3f}")
        if count > 1:
            heavy = _heavy(found.heavy_fraction, language)
            advice = say["all loads"].format(count=count, heavy=heavy, advice=advice)
        return [line, advice]
    return [line, say["leave gate"]]


def _heavy(fraction: float, language: Language) -> str:
    say = SAY[language]
    if abs(fraction) < 0.0005:
        return say["as planned"]
    return say["heavy" if fraction > 0.0 else "light"].format(share=f"{abs(fraction):.1%}")


def seed_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return the seed left of each lot, and where it runs out."""
    return [_seed(one, answer, system, language) for one in answer.seed]


def _seed(one: SeedNow, answer: LiveAnswer, system: System, language: Language) -> str:
    say = SAY[language]
    left = say["seed left"].format(lot=_plain(one.lot), mass=show(one.mass_kg, "mass", system))
    if one.enough:
        return say["seed reaches"].format(left=left, needed=show(one.needed_kg, "mass", system))
    at = ""
    if one.runs_out_at is not None:
        at = say["seed at"].format(at=_clock(one.runs_out_at, answer, system))
    text = say["seed short"].format(
        left=left, field=_plain(one.runs_out_in), at=at, area=_area(one.short_m2, system)
    )
    reach, put_right = one.left.uncorrected_area_m2, one.left.corrected_area_m2
    if put_right - reach > TINY_M2:
        text += say["seed gate"].format(
            right=show(put_right, "area", system), wrong=show(reach, "area", system)
        )
    return f"{text}."


# --------------------------------------------------------------------------- ground and machines


def leave_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return which ground to leave open, and why, where not all can be covered any more."""
    if answer.day is None and answer.told_open_m2 < TINY_M2:
        # Nothing that is known lies open: there is no ground to choose.
        return []
    return [_leave(one, system, language) for one in answer.leave]


def _leave(one: Leave, system: System, language: Language) -> str:
    say, field = SAY[language], _plain(one.field)
    why = ", ".join(TROUBLES[language][kind] for kind in one.troubles)
    if not why:
        why = say["level"] if one.slope_known else say["no slope"]
    whole, part = _area(one.open_m2, system), _area(one.leave_m2, system)
    if one.leave_m2 < TINY_M2:
        return say["cover first"].format(field=field, area=whole, why=why)
    if one.open_m2 - one.leave_m2 >= TINY_M2:
        part = say["of"].format(part=part, whole=whole)
    return say["leave"].format(field=field, area=part, why=why)


def standing_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return the machines that stand, and when they are taken to run again."""
    text = SAY[language]["machine stands"]
    return [
        text.format(machine=_plain(name), at=_clock(at, answer, system))
        for name, at in answer.standing
    ]


def not_heard_lines(answer: LiveAnswer, *, language: Language = "en") -> list[str]:
    """Return the machines that told nothing though their work is open."""
    text = SAY[language]["not heard"]
    return [text.format(machine=_plain(name)) for name in answer.not_heard]


def quiet_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return the machines not heard of for an hour: their part of "by now" is a guess."""
    text = SAY[language]["quiet"]
    return [text.format(machine=_plain(name), at=clock(at, system)) for name, at in answer.quiet]


def order_lines(answer: LiveAnswer, system: System, *, language: Language = "en") -> list[str]:
    """Return why the fields are not in the morning's order."""
    return [_moved(one, answer, system, language) for one in answer.order_changes]


def _moved(one: OrderChange, answer: LiveAnswer, system: System, language: Language) -> str:
    say = SAY[language]
    key = {"BEGUN": "order begun", "RAIN": "order rain"}.get(one.why.name, "order not ready")
    if key == "order not ready" and one.ready_at is not None:
        at = _clock(one.ready_at, answer, system)
        return say["order ready"].format(field=_plain(one.field), at=at)
    return say[key].format(field=_plain(one.field))


# --------------------------------------------------------------------------- the day's end


def end_line(answer: LiveAnswer, system: System, *, language: Language = "en") -> str:
    """Return the day's last line: "Said 3:05 pm and 148 ac, did 3:20 pm and 151 ac"."""
    say, end = SAY[language], answer.end
    if end.did_stop_at is None and end.did_area_m2 < TINY_M2:
        return ""
    if answer.day is not None and not answer.stopped:
        return ""
    said = ""
    if end.said_stop_at is not None:
        area = ""
        if end.said_area_m2 is not None:
            area = say["and area"].format(area=_area(end.said_area_m2, system))
        # Rounded as the plan was said, or the farmer does not know it again.
        said = say["said"].format(at=no_later(end.said_stop_at, system), area=area)
    at = ""
    if end.did_stop_at is not None:
        at = say["at and"].format(at=_clock(end.did_stop_at, answer, system))
    left = say["lie open"].format(area=_area(end.open_m2, system))
    if end.open_m2 < TINY_M2:
        left = say["told worked" if _spread_untold(answer, system) else "all worked"]
        if end.covered_by is not None:
            left += say["by"].format(at=_clock(end.covered_by, answer, system))
    return _upper(
        say["did"].format(said=said, at=at, area=_area(end.did_area_m2, system), left=left)
    )


def _clock(moment: datetime, answer: LiveAnswer, system: System) -> str:
    """Return a clock time of the farm, whatever zone the moment was kept in."""
    return about(moment.astimezone(answer.now_at.tzinfo), system)


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _plain(text: str) -> str:
    """Return a text that others wrote with nothing in it that a screen would act on."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


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
        "open both": "{told} spread and not yet worked in as told; {now} by now.",
        "none open": "All that is spread is worked in.",
        "until sure": "{chance}: worked in by {at}.",
        "bare": "{area} will stay bare at {at}.",
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
        "open both": "{told} esparcidos y sin tapar según lo anotado; {now} a esta hora.",
        "none open": "Toda la semilla está tapada.",
        "until sure": "{chance}: todo tapado antes de las {at}.",
        "bare": "{area} quedarán sin tapar a las {at}.",
        "stands": "{machine} está parado.",
        "seed": "La semilla se acaba en {field}.",
        "rain": "Se espera lluvia a las {at}.",
    },
}


def crew_lines(
    answer: LiveAnswer, system: System, *, language: Language = "en", stop_too: bool = True
) -> list[str]:
    """Return the few lines a crew member needs, numbers and clock times the same in both.

    Parameters
    ----------
    stop_too
        Whether the stop stands first; not where a page has said it above.
    """
    say = CREW[language]
    lines = [_crew_stop(answer, system, say)] if stop_too else []
    day = answer.day
    was = answer.was if not answer.stopped else None
    if day is not None and was is not None:
        before = no_later(was.stop_at, system)
        if before != no_later(day.stop_at, system):
            lines.append(say["was"].format(at=before))
    lines += _crew_open(answer, system, language)
    if day is not None:
        at = about(day.windows_cover_until, system)
        if day.hopeless:
            bare = day_words.acres(day.bare_if_hopeless_m2, system)
            lines.append(say["bare"].format(area=bare, at=at))
        else:
            chance = chance_text(day.chance_fraction, language)
            lines.append(say["until sure"].format(chance=_upper(chance), at=at))
    if answer.rain_at is not None and answer.rain_at > answer.now_at:
        lines.append(say["rain"].format(at=_clock(answer.rain_at, answer, system)))
    lines += [say["stands"].format(machine=_plain(name)) for name, _ in answer.standing]
    lines += [
        say["seed"].format(field=_plain(one.runs_out_in)) for one in answer.seed if not one.enough
    ]
    return lines


def _crew_open(answer: LiveAnswer, system: System, language: Language) -> list[str]:
    """Return what lies open, told and by now; nobody hears that all is done before it was told."""
    say, told, now = CREW[language], answer.told_open_m2, answer.open_m2
    if told < TINY_M2 and now < TINY_M2:
        return [say["none open"]] if answer.end.did_area_m2 > 0.0 else []
    if abs(now - told) < TINY_M2 or now < TINY_M2:
        return [say["open"].format(area=_area(told, system))]
    if told < TINY_M2:
        return [say["open"].format(area=_area(now, system))]
    by_now = SAY[language]["about area"].format(area=_area(now, system))
    return [say["open both"].format(told=_area(told, system), now=by_now)]


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
