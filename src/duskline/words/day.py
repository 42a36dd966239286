"""The day's answer in words: the headline, how sure, the last load, and why."""

from __future__ import annotations

from typing import Literal, TypeAlias

from duskline.answers.day import DayAnswer, Lever, LeverKey
from duskline.answers.lap import LapAnswer
from duskline.core.weather import NoteKind, WeatherNote
from duskline.units import System, clock, show, show_chance, show_span
from duskline.words.clock import about, no_later

__all__ = [
    "Language",
    "about",
    "acres",
    "asks",
    "chance_text",
    "date_text",
    "headline",
    "lap_line",
    "last_load",
    "lever_line",
    "no_later",
    "sure_line",
    "tomorrow",
    "why",
]

Language: TypeAlias = Literal["en", "es"]

LOAD_STEP_KG = {"us": 100 * 0.45359237, "metric": 50.0}


SAY: dict[Language, dict[str, str]] = {
    "en": {
        "stop now": "Stop spreading now",
        "do not": "Do not spread today",
        "all spread": "All is spread by about {at}",
        "stop": "Stop spreading at {at}",
        "each": "each spreader ",
        "no more": "{each}after load {count}, do not fill again.",
        "after": "after load {count}, ",
        "one part": "one part load: ",
        "put in": "{each}{before}put in {mass}; you run empty about then.",
        "bare": "Even so about {area} will stay bare at {at}.",
        "sure": "{chance}: everything spread is worked in by {at}.",
        "asks": "Which {area} can lie open tonight? Leave level ground away from ditches; "
        "work in slopes and edges first.",
    },
    "es": {
        "stop now": "Deje de esparcir ahora",
        "do not": "Hoy no esparza",
        "all spread": "Todo estará esparcido hacia las {at}",
        "stop": "Deje de esparcir a las {at}",
        "each": "cada esparcidora: ",
        "no more": "{each}después de la carga {count}, no cargue más.",
        "after": "después de la carga {count}, ",
        "one part": "una carga parcial: ",
        "put in": "{each}{before}eche {mass}; se vacía más o menos a esa hora.",
        "bare": "Aun así, unos {area} quedarán sin tapar a las {at}.",
        "sure": "{chance}: todo lo esparcido queda tapado antes de las {at}.",
        "asks": "¿Qué {area} pueden quedar sin tapar esta noche? Deje lo plano, lejos de las "
        "zanjas; tape primero las pendientes y las orillas.",
    },
}


def chance_text(fraction: float, language: Language = "en") -> str:
    """Return a chance as a person bets on it: "19 in 20", "19 de cada 20"."""
    text = show_chance(fraction)
    if language == "en":
        return text
    for english, spanish in (
        ("more than", "más de"), ("less than", "menos de"), (" in ", " de cada "),
    ):  # fmt: skip
        text = text.replace(english, spanish)
    return text


def acres(area_m2: float, system: System) -> str:
    """Return an area to the whole acre, or to a tenth of a hectare."""
    return show(area_m2, "area", system, 0 if system == "us" else 1)


def date_text(answer: DayAnswer) -> str:
    """Return the date with its weekday: "Sunday, October 18, 2026"."""
    return f"{answer.on:%A}, {answer.on:%B} {answer.on.day}, {answer.on.year}"


def headline(answer: DayAnswer, system: System, *, language: Language = "en") -> str:
    """Return the one answer: when to stop spreading."""
    say = SAY[language]
    if answer.hopeless:
        return say["stop now"]
    if answer.spread_area_m2 - answer.spread_before_m2 < 400.0:
        return say["do not"] if answer.now_at is None else say["stop now"]
    if answer.limited_by == "acres":
        return say["all spread"].format(at=about(answer.stop_at, system))
    return say["stop"].format(at=no_later(answer.stop_at, system))


def last_load(answer: DayAnswer, system: System, *, language: Language = "en") -> str:
    """Return the last load as the driver decides it: fill again, and with how much?"""
    if answer.hopeless or answer.spread_area_m2 - answer.spread_before_m2 < 400.0:
        return ""
    say = SAY[language]
    step = LOAD_STEP_KG[system]
    kg = int(answer.last_load_kg / step) * step
    full = answer.full_loads_count
    each = say["each"] if len(answer.task.spreaders) > 1 else ""
    if not answer.last_load_worth_filling or kg <= 0.0:
        return _upper(say["no more"].format(each=each, count=full)) if full else ""
    before = say["after"].format(count=full) if full else say["one part"]
    mass = show(kg, "mass", system)
    return _upper(say["put in"].format(each=each, before=before, mass=mass))


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def sure_line(answer: DayAnswer, system: System, *, language: Language = "en") -> str:
    """Return how sure the answer is, and by when all is worked in."""
    say = SAY[language]
    by = about(answer.windows_cover_until, system)
    if answer.hopeless:
        bare = acres(answer.bare_if_hopeless_m2, system)
        return say["bare"].format(area=bare, at=by)
    chance = _upper(chance_text(answer.chance_fraction, language))
    return say["sure"].format(chance=chance, at=by)


def asks(answer: DayAnswer, system: System, *, language: Language = "en") -> str:
    """Return the question a hopeless day leaves: which ground to leave."""
    if not answer.hopeless:
        return ""
    return SAY[language]["asks"].format(area=acres(answer.bare_if_hopeless_m2, system))


def lever_line(lever: Lever, system: System) -> str:
    """Return what one change would be worth today."""
    step = {
        LeverKey.HEAD_START: lambda: f"Start spreading {show_span(lever.step)} earlier",
        LeverKey.WIDER_CULTIVATOR: lambda: (
            f"Cultivators {show(lever.step, 'length', system, 0 if system == 'us' else 1)} wider"
        ),
        LeverKey.FASTER_SPREAD: lambda: f"Spread {lever.step:.0%} faster",
        LeverKey.SHORTER_CHANGEOVER: lambda: f"Change over {show_span(lever.step)} sooner",
        LeverKey.SHORTER_REFILL: lambda: f"Each refill {show_span(lever.step)} shorter",
    }[lever.key]()
    worth = lever.area_m2
    if abs(worth) < 0.5 * 4046.8564224:
        return f"{step}: worth nothing today"
    return f"{step}: {'+' if worth > 0 else '-'}{acres(abs(worth), system)}"


def lap_line(lap: LapAnswer, system: System) -> str:
    """Return what a covering driver's overlap leaves missed, and what to aim for."""
    way = "by eye" if lap.by_eye else "guided"
    best = lap.advised
    low, high = (show(value, "length", system) for value in (best.low_m, best.high_m))
    lapping = f"lapping {show(lap.overlap_m, 'length', system)}"
    if lap.overlap_m < 0.0:
        lapping = f"no lap but {show(-lap.overlap_m, 'length', system)} open between passes"
    return (
        f"{lap.machine}, {way}: {lapping} leaves about "
        f"{lap.skip_fraction * 100:.1f} % missed ({lap.skip_low_fraction * 100:.1f} to "
        f"{lap.skip_high_fraction * 100:.1f} %); {low} to {high} would be enough."
    )


def tomorrow(answer: DayAnswer, system: System) -> str:
    """Return what is left after today, and what the forecast says of the rain."""
    left = sum(area for _, area in answer.left_after_today)
    if left < 400.0:
        return "Nothing is left for tomorrow."
    count = len(answer.left_after_today)
    text = f"Left after today: {acres(left, system)} in {count} field{'s' if count > 1 else ''}."
    if answer.rain_tomorrow is None:
        return f"{text} No forecast for tomorrow."
    shared, _ = answer.rain_tomorrow
    return f"{text} Rain tomorrow: {shared:.0%}."


# --------------------------------------------------------------------------- why


def why(answer: DayAnswer, system: System) -> list[str]:
    """Return the reasons, the ones that set the day first."""
    lines = [
        *_hopeless(answer, system),
        *_pace(answer, system),
        *_close(answer, system),
        *_spread_close(answer, system),
        _rates(answer, system),
        *_average(answer, system),
        *_rain(answer),
        *_defaults(answer),
        *_dark(answer, system),
        *_stated(answer, system),
        *_weather(answer, system),
        *_carried_on(answer, system),
        *_crew(answer),
    ]
    return [line for line in lines if line]


def _at(answer: DayAnswer, seconds: float, system: System) -> str:
    return clock(answer.moment(seconds), system)


def _hopeless(answer: DayAnswer, system: System) -> list[str]:
    if not answer.hopeless:
        return []
    open_now = answer.spread_before_m2 - answer.covered_before_m2
    return [
        f"{acres(open_now, system)} lie open and the crew can work in "
        f"{acres(open_now - answer.bare_if_hopeless_m2, system)} in the time left."
    ]


def _pace(answer: DayAnswer, system: System) -> list[str]:
    observed = answer.cover_rate_observed_m2_per_s
    if observed is None:
        return []
    plan = answer.first_cover_rate_m2_per_s
    if abs(observed / plan - 1.0) < 0.02:
        return [f"Covering is running on plan, {show(observed, 'work rate', system)}."]
    words = (
        f"Covering is running {show(observed, 'work rate', system)}, "
        f"plan {show(plan, 'work rate', system)}."
    )
    if answer.average_observed is None:
        return [words]
    return [
        f"{words} At average rates that is {about(answer.average_observed.stop_at, system)} "
        f"instead of {about(answer.average.stop_at, system)}."
    ]


HOW_FIRM = {
    "rain": "hard: nothing may lie bare in it",
    "civil dusk": "firm for a driver who follows a mark",
    "dew on": "firm: damp ground plugs the tines",
}


def _firm(because: str) -> str:
    return HOW_FIRM.get(because, "firm, the crew's own limit")


def _close(answer: DayAnswer, system: System) -> list[str]:
    windows = answer.windows
    because = windows.cover_closes_because
    margin = (
        f", {show_span(windows.margin_s)} kept as the crew's own margin"
        if windows.margin_s > 0
        else ""
    )
    until = clock(answer.windows_cover_until, system)
    lines = [f"Covering must be done by {until}: {because} ({_firm(because)}){margin}."]
    working = {name for name, _ in answer.crew.covers}
    working |= {name for name, *_ in answer.crew.takeovers}
    for name, closes in sorted(windows.cover_closes_s.items()):
        if name in working and closes < answer.task.covered_by_s - 60.0:
            reason = windows.cover_because.get(name, "")
            lines.append(
                f"{name} must be out of the field by {_at(answer, closes, system)}: {reason} "
                f"({_firm(reason)})."
            )
    return lines


def _spread_close(answer: DayAnswer, system: System) -> list[str]:
    windows = answer.windows
    lines = []
    closes = windows.spread_intervals_s[-1][1]
    covering = max(windows.cover_closes_s.values())
    if closes < covering - 60.0:
        lines.append(
            f"{windows.spread_closes_because.capitalize()} ends spreading at "
            f"{_at(answer, closes, system)}; covering goes on."
        )
    lines += [
        f"No spreading from {_at(answer, begin, system)} to {_at(answer, end, system)}: wind over "
        "the limit. Covering goes on."
        for begin, end in windows.wind_holes_s
    ]
    if answer.limited_by == "acres":
        lines.append("What ends spreading today is the acres: all that is ready is spread.")
    return lines


def _rates(answer: DayAnswer, system: System) -> str:
    covering = show(answer.first_cover_rate_m2_per_s, "work rate", system)
    if _is_done_spreading(answer):
        return f"Spreading is done; covering does {covering}, all machines together."
    first = f"covering {covering} from the start"
    if not answer.crew.covers:
        return (
            f"Spreading does {show(answer.spread_rate_m2_per_s, 'work rate', system)} with its "
            "refills. Nobody covers until the spreader stops; then "
            f"{show(answer.takeover_rate_m2_per_s, 'work rate', system)} after "
            f"{show_span(answer.changeover_s)}."
        )
    text = (
        f"Spreading does {show(answer.spread_rate_m2_per_s, 'work rate', system)} with its "
        f"refills; {first}"
    )
    if not answer.crew.takeovers:
        return f"{text}; no machine is left to be taken over."
    more = show(answer.takeover_rate_m2_per_s, "work rate", system)
    return f"{text} and {more} more, {show_span(answer.changeover_s)} after the spreader stops."


def _is_done_spreading(answer: DayAnswer) -> bool:
    """Say whether the spreaders' drivers are on their covering machines, or have none left."""
    ends = max(end - begin for begin, end in answer.task.spread_intervals)
    return answer.now_at is not None and ends < 1.0


def _average(answer: DayAnswer, system: System) -> list[str]:
    average = answer.average
    if answer.hopeless:
        return []
    lines = []
    if average.limited_by == "covering":
        # Moves take acres that this stop does not know of: none are told beside it then.
        area = f" with {acres(average.spread_area_m2, system)}" if not answer.moves_count else ""
        lines.append(
            f"At average rates the stop would be {about(average.stop_at, system)}{area}; that "
            f"would hold on {show_chance(answer.average_chance_fraction)} days."
        )
    even = answer.by_sureness[0]
    cost = even.spread_area_m2 - answer.spread_area_m2
    if cost > 400.0:
        lines.append(
            f"Being {show_chance(answer.sure_fraction)} sure instead of "
            f"{show_chance(even.sure_fraction)} costs {acres(cost, system)}."
        )
    if answer.open_if_no_changeover_m2 > 400.0:
        lines.append(
            "If the spreader never stopped for its driver to cover, "
            f"{acres(answer.open_if_no_changeover_m2, system)} would lie bare at the close."
        )
    if answer.moves_count:
        minutes = sum(row.move_s for row in answer.fields)
        lines.append(
            f"{answer.moves_count} move{'s' if answer.moves_count > 1 else ''} between fields, "
            f"{show_span(minutes)} in all, are counted in."
        )
    return lines


def _rain(answer: DayAnswer) -> list[str]:
    if answer.rain_today is None:
        return []
    shared, apart = answer.rain_today
    windows = answer.windows
    ends = {windows.cover_closes_because, windows.spread_closes_because}
    if "rain" in {*ends, *windows.cover_because.values()}:
        return []
    if apart < 0.005:
        return ["No rain in the forecast for the hours of work."]
    if shared <= 0.10:
        return [f"Rain in the hours of work: {shared:.0%}, taken as none."]
    return [
        f"Rain in the hours of work: {shared:.0%} if the hours share one chance, {apart:.0%} if "
        "each is on its own; the first is counted."
    ]


def _defaults(answer: DayAnswer) -> list[str]:
    if not answer.default_rates:
        return []
    names = ", ".join(answer.default_rates)
    return [
        f"Not your figures yet: the clock efficiency of {names} is a wide default. "
        "Ask again after two hours of log, or tell a day you remember."
    ]


def _dark(answer: DayAnswer, system: System) -> list[str]:
    windows = answer.windows
    if windows.sunset_s is None or windows.dusk_s is None:
        return []
    soft = ", ".join(sorted(windows.dark_soft_s))
    text = (
        f"Sunset {_at(answer, windows.sunset_s, system)}, "
        f"dark {_at(answer, windows.dusk_s, system)}"
    )
    if soft and not windows.stated:
        return [f"{text}; dark is soft for {soft} (guided, with lights), firm for the rest."]
    return [f"{text}."]


def _stated(answer: DayAnswer, system: System) -> list[str]:
    found = [
        f"{difference.work} {'opens' if difference.opens else 'closes'} at "
        f"{_at(answer, difference.derived_s, system)} ({difference.because})"
        for difference in answer.windows.differences
    ]
    if not found:
        return []
    return [f"Your stated hours are kept; forecast and sun would say: {', '.join(found)}."]


def _weather(answer: DayAnswer, system: System) -> list[str]:
    lines = []
    for note in answer.windows.weather_notes:
        text = _note(answer, note, system)
        if text:
            lines.append(text)
    return lines


def _note(answer: DayAnswer, note: WeatherNote, system: System) -> str:
    spans = ", ".join(
        f"{_at(answer, begin, system)} to {_at(answer, end, system)}" for begin, end in note.spans_s
    )
    age = show_span(note.age_s) if note.age_s is not None else ""
    return {
        NoteKind.NO_FORECAST: "There is no forecast for this day.",
        NoteKind.MISSING_HOURS: f"The forecast has no hours for {spans}; taken as the hour before.",
        NoteKind.STALE: f"The forecast is {age} old: get a new one.",
        NoteKind.NOT_DATED: "The forecast does not say when it was made.",
        NoteKind.ISSUED_LATER: "The forecast was made after the time you ask for.",
        NoteKind.RAIN_EARLIER: f"Rain before work opens ({spans}): see whether the ground is fit.",
        NoteKind.WIND_STAYS: f"Wind stays over the limit for {note.machine}.",
        NoteKind.DEW_STAYS: f"Dew does not go off for {note.machine}.",
        NoteKind.RAIN_STAYS: f"Rain does not stop for {note.machine}.",
    }.get(note.kind, "")


def _carried_on(answer: DayAnswer, system: System) -> list[str]:
    if answer.if_carried_on is None:
        return []
    stop_at, bare = answer.if_carried_on
    return [
        f"Carrying on to {about(stop_at, system)}, the stop without the rain, would leave "
        f"{acres(bare, system)} bare."
    ]


def _crew(answer: DayAnswer) -> list[str]:
    return [
        f"{refusal.person} ({refusal.age_years}) is not put on {refusal.machine}: under 16 no "
        "tractor above 20 PTO horsepower, no hitching, no auger. Local law may ask more."
        for refusal in answer.crew.refusals
    ]
