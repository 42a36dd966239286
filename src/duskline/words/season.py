"""The season in words: does it all fit, how sure, which field on which day, what would help."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime

from duskline.answers.season import (
    CRUMB_M2,
    AtSure,
    Basis,
    CrewPlan,
    FieldPlan,
    SeasonAnswer,
    SeasonDayPlan,
    WhyLeft,
)
from duskline.answers.season_worth import ChangeKey, SeasonWorth
from duskline.core.season import Change
from duskline.units import System, clock, show, show_chance
from duskline.words.clock import no_later
from duskline.words.cost import money
from duskline.words.day import acres

__all__ = [
    "CRUMB_M2",
    "acres_text",
    "at_risk_line",
    "change_lines",
    "cost_line",
    "day_date",
    "day_note",
    "deadline_text",
    "field_chance",
    "gap_line",
    "headline",
    "idle_text",
    "kept_headline",
    "kept_line",
    "left_lines",
    "left_text",
    "season_notes",
    "short_date",
    "stop_text",
    "sure_line",
    "sureness_lines",
    "visit_text",
    "wait_line",
    "without_work",
    "worth_line",
]


WHY_LEFT = {
    WhyLeft.NOT_READY: "not ready by the last day of the plan",
    WhyLeft.NO_SEED: "no seed left of its lot",
    WhyLeft.AFTER_RAIN: "not to be worked after rain",
    WhyLeft.HOURS: "the hours are full, or another day would cost more than it saves",
}
BASES = {
    Basis.STATED: "hours as you stated them",
    Basis.STATED_OFF: "hours as you stated them, though it is a day off",
    Basis.FORECAST: "hours from the forecast",
    Basis.CLIMATE: "no forecast yet: a usual day, counted as often as it is fit",
    Basis.CLOSED: "closed",
    Basis.OFF: "off",
}
WHAT_CHANGED = {
    "moved": "moved",
    "new": "new",
    "gone": "gone",
    "left out": "left out now",
    "area": "other acres",
}
CREW_OFF, MAKES_ROOM = "crew off", "makes room"
WHY_CHANGED = {
    "new field": "a new field",
    "field gone": "the field is no longer in the folder",
    CREW_OFF: "nobody can work that day",
    "not ready": "it is not ready then",
    "after rain": "not to be worked after rain",
    "shorter day": "its day has fewer hours now",
    "longer day": "a day has more hours now",
    "field changed": "the field itself has changed",
    MAKES_ROOM: "to fit in with the other changes",
}
Stops = Sequence[tuple[int, str, float]]
"""(day, crew, area) of each stop of a field."""


def short_date(on: date, system: System) -> str:
    """Return a date as it stands in a table: "Sun Oct 18", "Sun 18 Oct"."""
    return f"{on:%a} {on:%b} {on.day}" if system == "us" else f"{on:%a} {on.day} {on:%b}"


def day_date(on: date, system: System) -> str:
    """Return a date in a sentence: "Wednesday, October 21", "Wednesday 21 October"."""
    return f"{on:%A}, {on:%B} {on.day}" if system == "us" else f"{on:%A} {on.day} {on:%B}"


def acres_text(area_m2: float, system: System) -> str:
    """Return an area to the whole acre, but never as none where there is some."""
    if area_m2 < 0.5 * 4046.8564224:
        return show(area_m2, "area", system, 1 if system == "us" else 2)
    return acres(area_m2, system)


def left_text(area_m2: float, system: System) -> str:
    """Return what is left, or "nothing"."""
    return "nothing" if area_m2 <= CRUMB_M2 else acres_text(area_m2, system)


def deadline_text(answer: SeasonAnswer, system: System) -> str:
    """Return until when everything should be sown."""
    last = answer.due_on or answer.on[-1]
    return f"by {day_date(last, system)}"


def headline(answer: SeasonAnswer, system: System) -> str:
    """Return the one answer: does everything fit, and until when."""
    if not answer.fields:
        return "Everything is sown"
    if answer.unplaced_m2 <= CRUMB_M2 and answer.late_m2 <= CRUMB_M2:
        last = answer.finish_on or answer.on[-1]
        return f"Everything is sown by {day_date(last, system)}"
    missing = answer.unplaced_m2 + answer.late_m2
    if answer.due_on is not None and answer.due_on < answer.on[0]:
        return f"{day_date(answer.due_on, system)} is past: {acres_text(missing, system)} to sow"
    if answer.due_on is None:
        return f"{acres_text(answer.unplaced_m2, system)} do not fit into these days"
    return f"{acres_text(missing, system)} do not fit {deadline_text(answer, system)}"


def sure_line(answer: SeasonAnswer, system: System) -> str:
    """Return how sure the season is, and on what each night's promise rests."""
    if not answer.fields:
        return ""
    chance = answer.chance
    said = show_chance(chance.by_deadline_fraction)
    night = (
        "at average rates, with no chance promised for any night"
        if answer.sure_fraction is None
        else f"with nothing bare overnight {show_chance(answer.sure_fraction)} each day"
    )
    return (
        f"{said[0].upper()}{said[1:]} that all is done {deadline_text(answer, system)},"
        f" over {chance.count:,} seasons of weather, {night}."
    )


def sureness_lines(answer: SeasonAnswer, system: System) -> Iterator[str]:
    """Yield how the plan comes out at each sureness."""
    for row in answer.by_sureness:
        yield f"{_sure_word(row)}: {_outcome(row, system)}"


def _sure_word(row: AtSure) -> str:
    return "at average rates" if row.sure_fraction is None else show_chance(row.sure_fraction)


def _outcome(row: AtSure, system: System) -> str:
    parts = []
    if row.unplaced_m2 > CRUMB_M2:
        parts.append(f"{acres_text(row.unplaced_m2, system)} have no day")
    if row.late_m2 > CRUMB_M2:
        parts.append(f"{acres_text(row.late_m2, system)} late")
    if parts:
        return ", ".join(parts)
    until = "" if row.finish_on is None else f", {short_date(row.finish_on, system)}"
    return f"everything fits{until}"


def day_note(day: SeasonDayPlan) -> str:
    """Return what a day without work is closed by, or what its hours rest on."""
    if day.because:
        return day.because
    return BASES[day.basis]


def without_work(answer: SeasonAnswer, day: SeasonDayPlan) -> list[str]:
    """Return the crews by name that sow nothing on a day others may: "Crew 2 away (ill)".

    None where all work together or nobody can work that day.
    """
    if day.because:
        return []
    hours = [answer.planned.hours[day.on, name] for name in answer.planned.crews]
    away = []
    for one in (one for one in hours if one.crew and not one.works):
        why = f" ({one.because})" if one.because else ""
        away.append(f"{one.crew} {'away' if one.basis is Basis.OFF else 'does not sow'}{why}")
    return [*(f"{name} free" for name in day.idle if name), *away]


def idle_text(answer: SeasonAnswer, day: SeasonDayPlan) -> str:
    """Return why nobody goes out; who is away is named, who has nothing to do is not."""
    others = without_work(answer, day)
    away = f"; {', '.join(others)}" if len(others) > len(day.idle) else ""
    return day.because or f"nothing planned{away}"


def visit_text(crew: CrewPlan, system: System) -> str:
    """Return a crew's fields in order with their acres: "A1 79, A6 40 (part)"."""
    texts = []
    for visit in crew.visits:
        area = acres_text(visit.area_m2, system).split()[0]
        part = " (part)" if visit.is_part else ""
        clean = "clean out, " if visit.clean_out else ""
        texts.append(f"{clean}{visit.field} {area}{part}")
    return ", ".join(texts)


def stop_text(crew: CrewPlan, system: System) -> str:
    """Return when a crew's spreader stops, rounded to the safe side; never after the close."""
    return no_later(min(crew.stop_at, crew.closes_at), system)


def left_lines(answer: SeasonAnswer, system: System) -> Iterator[str]:
    """Yield the fields that have no day, or a late one, and why."""
    for field in answer.fields:
        if field.unplaced_m2 > CRUMB_M2:
            why = WHY_LEFT[field.why_left or WhyLeft.HOURS]
            some = "" if field.unplaced_m2 < field.left_m2 * 0.999 else "all "
            area = acres_text(field.unplaced_m2, system)
            yield f"{field.name}: {some}{area} without a day, {why}"
        elif field.late_m2 > CRUMB_M2 and field.finish_on is not None:
            area = acres_text(field.late_m2, system)
            yield f"{field.name}: {area} late, done {short_date(field.finish_on, system)}"


def field_chance(field: FieldPlan, system: System) -> str:
    """Return a field's chance, and between which days it is done 8 times in 10."""
    chance = show_chance(field.chance_fraction)
    if field.early_on is None:
        return f"{chance}; most likely not within these days"
    early = short_date(field.early_on, system)
    if field.late_on is None:
        return f"{chance}; {early} or later, perhaps not within these days"
    if field.early_on == field.late_on:
        return f"{chance}; {early}"
    return f"{chance}; {early} to {short_date(field.late_on, system)}"


def at_risk_line(answer: SeasonAnswer, system: System) -> str:
    """Return which field is most at risk."""
    field = answer.at_risk
    if field is None or field.chance_fraction >= 0.995:
        return ""
    return f"Most at risk: {field.name}, {field_chance(field, system)}."


def worth_line(one: SeasonWorth, answer: SeasonAnswer, system: System) -> str:
    """Return what one change is worth in days and money, with the range of the average."""
    what = _change_name(one, system)
    if one.no_difference:
        return f"{what}: no difference"
    sign = "+" if one.usd >= 0.0 else "-"
    low, high = (money(value, answer.currency, 0) for value in (one.usd_low, one.usd_high))
    usd = money(abs(one.usd), answer.currency, 0)
    days = _days_text(one)
    chance = f"{show_chance(one.chance_fraction)} done in time"
    fits = ""
    if one.unplaced_m2 is not None and one.late_m2 is not None and not answer.fits:
        rest = one.unplaced_m2 + one.late_m2
        short = f"; {acres_text(rest, system)} still do not fit"
        fits = "; everything fits" if rest <= CRUMB_M2 else short
    return f"{what}: {sign}{usd} ({low} to {high}), {days}, {chance}{fits}"


def _change_name(one: SeasonWorth, system: System) -> str:
    if one.key is ChangeKey.WIDER and one.step is not None:
        step = show(one.step, "length", system, 0 if system == "us" else 1)
        return f"Cultivators {step} wider"
    text = str(one.key)
    return text[0].upper() + text[1:]


def _days_text(one: SeasonWorth) -> str:
    if abs(one.days) < 0.05:
        return "no sooner"
    word = "sooner" if one.days > 0 else "later"
    if one.days_low < 0.0 < one.days_high:
        return f"{abs(one.days):.1f} days {word}, perhaps by luck"
    low, high = sorted((abs(one.days_low), abs(one.days_high)))
    return f"{abs(one.days):.1f} days {word} ({low:.1f} to {high:.1f})"


def cost_line(answer: SeasonAnswer) -> str:
    """Return what the plan costs beside the work itself, in its parts."""
    cost = answer.cost
    parts = (
        ("waiting", cost.wait_usd),
        ("late", cost.late_usd),
        ("not sown", cost.unplaced_usd),
        ("on the road and moving", cost.travel_usd + cost.haul_usd + cost.visits_usd),
        ("clean-outs", cost.clean_outs_usd),
        ("days out", cost.crew_days_usd),
        ("idle", cost.idle_usd),
        ("changes to the plan before", cost.upset_usd),
    )
    told = [f"{name} {money(value, answer.currency, 0)}" for name, value in parts if value >= 0.5]
    whole = money(cost.total_usd, answer.currency, 0)
    parts_text = f": {', '.join(told)}" if told else ""
    return f"Beside the work itself the plan costs {whole}{parts_text}."


def gap_line(answer: SeasonAnswer) -> str:
    """Return how far from the best possible the plan can be."""
    gap = money(answer.gap_usd, answer.currency, 0)
    if answer.gap_usd < 0.5:
        return "No plan of these days can cost less."
    return f"No plan of these days can save more than {gap} ({answer.gap_fraction:.1%})."


def change_lines(changes: Sequence[Change], system: System, *, crews: int) -> Iterator[str]:
    """Yield what is different from the plan before, and why."""
    for change in changes:
        before = _stops(change.before, system, crews)
        after = _stops(change.after, system, crews)
        if before == after:
            continue  # a few square yards
        yield (
            f"{change.field}: {WHAT_CHANGED.get(change.what, change.what)},"
            f" {before} before, {after} now ({_why(change, changes, crews)})"
        )


def _why(change: Change, changes: Sequence[Change], crews: int) -> str:
    """Return why a field's stops changed; of one that made room, for which field."""
    if change.why == CREW_OFF and crews > 1:
        return "its crew cannot work that day"
    if change.why != MAKES_ROOM:
        return WHY_CHANGED.get(change.why, change.why)
    others = [one for one in changes if one.field != change.field]
    lost = _gains(change.after, change.before)
    taker = _most(lost, {one.field: _gains(one.before, one.after) for one in others})
    if taker:
        return f"to make room for {taker}"
    won = _gains(change.before, change.after)
    giver = _most(won, {one.field: _gains(one.after, one.before) for one in others})
    return f"in the room {giver} left" if giver else WHY_CHANGED[MAKES_ROOM]


def _gains(before: Stops, after: Stops) -> dict[tuple[int, str], float]:
    """Return on which day of which crew a field has more area than before, and how much. [m2]"""
    had = {(day, crew): area_m2 for day, crew, area_m2 in before}
    more = {(day, crew): area_m2 - had.get((day, crew), 0.0) for day, crew, area_m2 in after}
    return {slot: area_m2 for slot, area_m2 in more.items() if area_m2 > CRUMB_M2}


def _most(
    slots: Mapping[tuple[int, str], float], gains: Mapping[str, Mapping[tuple[int, str], float]]
) -> str:
    """Return the field that gained most in any of these days; "" where none did."""
    found = {
        name: sum(area_m2 for slot, area_m2 in gain.items() if slot in slots)
        for name, gain in gains.items()
    }
    name = max(found, key=lambda one: found[one], default="")
    return name if found.get(name, 0.0) > 0.0 else ""


def _stops(stops: Stops, system: System, crews: int) -> str:
    if not stops:
        return "no day"
    texts = []
    for day, crew, area_m2 in stops:
        name = f" {crew}" if crews > 1 else ""
        texts.append(
            f"{short_date(date.fromordinal(day), system)}{name} {acres_text(area_m2, system)}"
        )
    return " + ".join(texts)


def kept_headline(unplaced_m2: float, last_on: date | None, system: System) -> str:
    """Return what a plan kept before says: has everything a day, and the last of them."""
    if unplaced_m2 > CRUMB_M2:
        return f"{acres_text(unplaced_m2, system)} have no day"
    if last_on is None:
        return "Nothing is left to sow"
    return f"Everything is sown by {day_date(last_on, system)}"


def kept_line(version: int, made_at: datetime, system: System) -> str:
    """Return which plan is kept, and when it was."""
    return (
        f"By plan {version}, kept {short_date(made_at.date(), system)} at {clock(made_at, system)}."
    )


FEW_FIELDS = 12


def wait_line(took_s: float | None, fields_count: int) -> str:
    """Return about how long the season takes; ``took_s`` is what it took the last time."""
    if took_s is None and fields_count <= FEW_FIELDS:
        return "Working out the season, usually a quarter of a minute; the very first time longer."
    if took_s is None:
        return f"Working out the season: with {fields_count} fields a few minutes."
    if took_s < 50.0:
        return f"Working out the season, about {max(5, 5 * round(took_s / 5.0))} seconds."
    return f"Working out the season, about {max(1, round(took_s / 60.0))} min."


def season_notes(answer: SeasonAnswer, system: System) -> Iterator[str]:
    """Yield what a reader should know of how the plan reckons."""
    if answer.open_m2 > CRUMB_M2:
        yield (
            f"By the log {acres_text(answer.open_m2, system)} lie spread and not covered: cover"
            " them first. The plan does not count the time that takes."
        )
    yield "Nothing is planned to lie bare overnight; each day holds what can be covered that day."
    if any(day.basis is Basis.CLIMATE and day.crews for day in answer.days):
        yield (
            "Days beyond the forecast are usual days, counted as often as such days are fit;"
            " plan them anew when the forecast reaches them."
        )
    if answer.sure_fraction is None:
        yield "At average rates about every second evening would end with seed bare."
    yield "What a change is worth is before what it costs itself."
