"""What stands on each sheet: formatted figures and words as plain data, ready for a template.

Nothing here draws or writes a file; the same data makes the same sheet.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from duskline.answers.day import DayAnswer
from duskline.answers.drive import FieldPlan
from duskline.answers.plans import (
    NO_SPREADING_M2,
    FieldRun,
    Fill,
    SpreaderDay,
    spreader_days,
)
from duskline.answers.seed import FlowAnswer, LotAnswer, SeedAnswer
from duskline.answers.telling import told_curve
from duskline.core.farm import Cultivator, Farm, Field, SpreaderNoun
from duskline.core.flow import first_load
from duskline.core.light import local_midnight_at
from duskline.core.log import Settled, area_by_field_m2
from duskline.core.passes import PassPlan
from duskline.draw import day_strip, field_map
from duskline.draw.strings import because
from duskline.paper.strings import CAUTIONS, Language, say, truck_safety
from duskline.units import FOOT_M, System, clock, number, show, show_chance, to_display
from duskline.words import day as words
from duskline.words.aim import aim_sentence, heading_words, side_name

__all__ = [
    "Desk",
    "Sheet",
    "covering_sheet",
    "day_sheet",
    "seed_truck_sheet",
    "spreader_sheet",
    "windshield_sheet",
]

TYPE_PT = 14.0
SHARES_TRIED = (0.80, 0.90, 0.95, 1.00, 1.05, 1.10, 1.20)
"""Of the planned area, at which the first load may run empty: rows of a table to read off."""
COARSE_ACRES = 50.0
"""A load that does more is read off in whole acres, a smaller one in halves."""
LEAVE_IT = 0.02
"""A gate within this share of right is left alone: weights and acres are read no better."""
LADDER_END_S = 60.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """One printed file: its template, its data and the pictures the template calls for."""

    name: str
    template: str
    title: str
    language: Language
    data: Mapping[str, Any]
    pictures: Mapping[str, str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Desk:
    """Everything the sheets are made from, gathered once."""

    farm: Farm
    answer: DayAnswer
    seed: SeedAnswer
    plans: Mapping[str, FieldPlan]
    days: tuple[SpreaderDay, ...]
    text_width_pt: float

    @classmethod
    def of(
        cls,
        farm: Farm,
        answer: DayAnswer,
        seed: SeedAnswer,
        plans: Mapping[str, FieldPlan],
        *,
        text_width_pt: float,
    ) -> Desk:
        """Gather a farm, its answers and the plans of its fields."""
        last_kg = _told_kg(answer.last_load_kg, farm.system)
        return cls(
            farm=farm, answer=answer, seed=seed, plans=plans,
            days=spreader_days(farm, answer, last_load_kg=last_kg), text_width_pt=text_width_pt,
        )  # fmt: skip

    @property
    def system(self) -> System:
        """The reader's units."""
        return self.farm.system

    def area(self, area_m2: float) -> str:
        """Return an area to a tenth, with its unit."""
        return show(area_m2, "area", self.system, 1)

    def mass(self, mass_kg: float) -> str:
        """Return a mass to the pound or kilogram, with its unit."""
        return show(mass_kg, "mass", self.system)

    def about(self, moment: datetime) -> str:
        """Return a clock time to five minutes."""
        return words.about(moment, self.system)

    def field(self, name: str) -> Field:
        """Return the field of that name."""
        return next(one for one in self.farm.fields if one.name == name)

    def lot_answer(self, lot: str) -> LotAnswer:
        """Return the seed answer of a lot."""
        return next(one for one in self.seed.lots if one.lot.name == lot)

    def language_of(self, person: str) -> Language:
        """Return the language a person reads."""
        return next((one.language for one in self.farm.people if one.name == person), "en")

    @property
    def until(self) -> str:
        """When everything must be worked in."""
        return clock(self.answer.windows_cover_until, self.system)

    @property
    def stop(self) -> str:
        """The stop time, rounded down to five minutes."""
        return words.no_later(self.answer.stop_at, self.system)

    @property
    def unit(self) -> str:
        """The reader's unit of area."""
        return to_display(1.0, "area", self.system)[1]

    @property
    def mark(self) -> str:
        """Return four letters and digits that change with the plan, the same on every sheet."""
        facts = (
            self.answer.stop_at.isoformat(),
            self.answer.now_at and self.answer.now_at.isoformat(),
            round(self.answer.spread_area_m2),
            [(row.name, round(row.area_m2)) for row in self.answer.fields],
        )
        return f"{zlib.crc32(repr(facts).encode()) & 0xFFFF:04X}"

    def frame(
        self, language: Language, card: str, title: str = "", who: str = ""
    ) -> dict[str, str]:
        """Return head and foot of a page: which card, its own title, and for whom."""
        made = self.answer.now_at
        date = _date(self.answer, language, self.system)
        return {
            "card": card,
            "title": title,
            "who": who,
            "farm": self.farm.name,
            "date": f"{date}, {clock(made, self.system)}" if made else date,
            "mark": say(language, "plan mark", mark=self.mark),
            "review": say(language, "review"),
            "language": language,
        }


_DAYS_ES = ("lunes", "martes", "miércoles", "jueves", "viernes", "sábado", "domingo")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS_ES = (
    "enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre",
    "octubre", "noviembre", "diciembre",
)  # fmt: skip


def _date(answer: DayAnswer, language: Language, system: System) -> str:
    on = answer.on
    if language == "es":
        return f"{_DAYS_ES[on.weekday()]} {on.day} de {_MONTHS_ES[on.month - 1]} de {on.year}"
    if system == "metric":
        return f"{_DAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1]} {on.year}"
    return f"{_DAYS[on.weekday()]}, {_MONTHS[on.month - 1]} {on.day}, {on.year}"


def _told_kg(load_kg: float, system: System) -> float:
    """Return a part load as the crew is told it: rounded down, as the day's words have it. [kg]"""
    step = words.LOAD_STEP_KG[system]
    return int(load_kg / step + 1e-9) * step


def _parted(clock_time: str) -> tuple[str, str]:
    """Return the digits and the half of the day: ("2:45", "pm")."""
    digits, _, half = clock_time.partition(" ")
    return digits, half


# --------------------------------------------------------------------------- ladder


def ladder_rows(desk: Desk) -> list[dict[str, Any]]:
    """Return the rungs while spreading is allowed; areas rounded down, lower is safe.

    ``heavy`` marks the first rung under which one full load less may lie open.
    """
    last = desk.answer.moment(desk.answer.windows.spread_intervals_s[-1][1] + LADDER_END_S)
    rows: list[dict[str, Any]] = []
    before: int | None = None
    for rung in desk.answer.ladder:
        if rung.at > last:
            break
        area = to_display(rung.open_area_m2, "area", desk.system)[0]
        shown = f"{int(area)}" if desk.system == "us" else f"{int(area * 10) / 10:.1f}"
        whole = int(round(rung.loads, 1))
        rows.append(
            {
                "at": clock(rung.at, desk.system),
                "open": shown,
                "loads": f"{rung.loads:.1f}",
                "heavy": before is not None and whole < before,
            }
        )
        before = whole
    return rows


def windshield_sheet(desk: Desk) -> Sheet:
    """Return the stop ladder alone, to tape to the glass."""
    language = desk.language_of(desk.days[0].driver) if desk.days else "en"
    answer, unit = desk.answer, say(language, f"unit {desk.unit}")
    chance = _chance(answer.ladder_chance_fraction, language)
    title = say(language, "ladder title")
    return Sheet(
        name="windshield-card",
        template="windshield",
        title=f"{title}, {_date(answer, language, desk.system)}",
        language=language,
        data={
            **desk.frame(language, title, title, say(language, "ladder sub", unit=unit)),
            "heads": [say(language, key) for key in ("at", "most open", "loads")],
            "unit": desk.unit,
            "rows": ladder_rows(desk),
            "how": say(language, "ladder how", unit=unit),
            "heavy": say(language, "ladder heavy"),
            "chance": say(
                language,
                "ladder chance",
                unit=unit,
                chance=chance,
                until=desk.until,
                stop=desk.stop,
            ),
            "now": say(language, "ladder now") if answer.hopeless else "",
        },
        pictures={},
    )


def _chance(fraction: float, language: Language) -> str:
    text = show_chance(fraction)
    return text.replace(" in ", " de ") if language == "es" else text


# --------------------------------------------------------------------------- day sheet


def day_sheet(desk: Desk, why: Sequence[str]) -> Sheet:
    """Return the owner's sheet: when to stop, how sure, the strip, the ladder, the fields."""
    answer, system = desk.answer, desk.system
    headline = words.headline(answer, system)
    parts = headline.rsplit(" at ", 1) if headline.startswith("Stop spreading at ") else None
    big, half = _parted(parts[1]) if parts else (headline, "")
    strip = day_strip(
        answer,
        system,
        width=desk.text_width_pt,
        height=222.0,
        black_and_white=True,
        text_size=TYPE_PT,
        told=_told_so_far(desk),
    )
    title = say("en", "day title")
    return Sheet(
        name="day-sheet",
        template="day",
        title=f"{title}, {_date(answer, 'en', system)}",
        language="en",
        data={
            **desk.frame("en", title),
            "kicker": parts[0] + " at" if parts else "",
            "big": big,
            "half": half,
            "load": words.last_load(answer, system),
            "sure": "" if answer.hopeless else words.sure_line(answer, system),
            "choose": say("en", "choose"),
            "chances": _chances(desk),
            "strip_alt": _strip_alt(desk),
            "ladder_title": say("en", "ladder day", unit=say("en", f"unit {desk.unit}")),
            "ladder_heads": [say("en", "at"), desk.unit, say("en", "loads")],
            "ladder": [] if answer.hopeless else ladder_rows(desk),
            "ladder_how": say("en", "ladder how", unit=say("en", f"unit {desk.unit}")),
            "fields_title": say("en", "fields day"),
            "field_heads": _field_heads(desk),
            "fields": _field_rows(desk),
            "hopeless": _hopeless(desk),
            "left_title": say("en", "left"),
            "left": _left(desk),
            "why_title": say("en", "why"),
            "why": list(why),
        },
        pictures={"strip.svg": strip},
    )


def _strip_alt(desk: Desk) -> str:
    return (
        f"Day strip: spreading stops at {desk.stop}, everything is worked in by {desk.until}; "
        "between the two curves the seed lies open."
    )


def _chances(desk: Desk) -> dict[str, Any]:
    """Return the three chances side by side, or one sentence where the stop is the same."""
    answer, system = desk.answer, desk.system
    if answer.hopeless:
        return {"same": "", "rows": []}
    stops = {words.no_later(row.stop_at, system) for row in answer.by_sureness}
    if len(stops) == 1 and answer.limited_by != "covering":
        reason = because("en", answer.windows.spread_closes_because) or "the end of spreading"
        if answer.limited_by == "acres":
            reason = "the last acre" if system == "us" else "the last hectare"
        return {"same": say("en", "same", why=f"{reason}"), "rows": []}
    rows = [
        {
            "chance": show_chance(row.sure_fraction),
            "stop": words.no_later(row.stop_at, system),
            "area": words.acres(row.spread_area_m2, system),
            "chosen": row.sure_fraction == answer.sure_fraction,
        }
        for row in answer.by_sureness
    ]
    return {"same": "", "rows": rows}


def _field_heads(desk: Desk) -> list[str]:
    return [
        say("en", "field"),
        desk.unit,
        say("en", "spread"),
        say("en", "worked in"),
        say("en", "seed loads"),
    ]


def _field_rows(desk: Desk) -> list[list[str]]:
    """Return the day's fields: both spreaders' shares together, about when, which loads."""
    covered = {row.name: row.covered_by for row in desk.answer.fields}
    many = len(desk.days) > 1
    rows = []
    for name, runs in _by_field(desk).items():
        first, last = min(r.from_at for _, r in runs), max(r.to_at for _, r in runs)
        done_at = covered.get(name)
        area = to_display(sum(r.area_m2 for _, r in runs), "area", desk.system)[0]
        whole = all(run.whole for _, run in runs)
        loads = "; ".join(
            (f"{spreader}: " if many else "") + _listed([part.number for part in run.parts])
            for spreader, run in runs
        )
        rows.append(
            [
                name,
                f"{area:.1f}" + ("" if whole else f" ({say('en', 'part of field')})"),
                _span(desk, first, last),
                desk.about(done_at) if done_at else "",
                loads,
            ]
        )
    return rows


def _by_field(desk: Desk) -> dict[str, list[tuple[str, FieldRun]]]:
    """Return the runs in each field, fields in the order in which work begins."""
    runs = [(day.spreader, run) for day in desk.days for run in day.runs]
    runs.sort(key=lambda pair: pair[1].from_at)
    found: dict[str, list[tuple[str, FieldRun]]] = {}
    for spreader, run in runs:
        found.setdefault(run.field, []).append((spreader, run))
    return found


def _listed(numbers: Sequence[int]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]} to {numbers[-1]}"
    return ", ".join(str(number_of) for number_of in numbers)


def _span(desk: Desk, first: datetime, last: datetime) -> str:
    """Return "9:30 to 10:35 am": the half of the day once where both share it."""
    begin, end = desk.about(first), desk.about(last)
    if desk.system == "us" and begin[-2:] == end[-2:]:
        begin = begin[:-3]
    return f"{begin} to {end}"


def _left(desk: Desk) -> list[str]:
    answer, system = desk.answer, desk.system
    left = dict(_left_after(desk))
    lines = []
    if not left:
        lines.append(say("en", "left none"))
    else:
        key = "left one" if len(left) == 1 else "left sum"
        total = words.acres(sum(left.values()), system)
        names = ", ".join(
            f"{name}\u00a0{number(to_display(area, 'area', system)[0], 1)}"
            for name, area in left.items()
        )
        lines.append(f"{say('en', key, area=total, count=len(left))} {names}.")
    if answer.not_ready:
        lines.append(say("en", "not ready", names=", ".join(answer.not_ready)))
    lines.append(_rain(desk))
    return lines


def _left_after(desk: Desk) -> list[tuple[str, float]]:
    """Return what is left of each field once today's loads are spread. [m2]

    From the day's own list of what is left, which knows what was spread by word of mouth too;
    fields that are not ready yet come after it.
    """
    today = {name: sum(run.area_m2 for _, run in runs) for name, runs in _by_field(desk).items()}
    left = [(one.name, one.area_m2 - today.get(one.name, 0.0)) for one in desk.answer.task.fields]
    later = dict(desk.answer.left_after_today)
    left += [(name, later[name]) for name in desk.answer.not_ready if name in later]
    order = [one.name for one in desk.farm.fields]
    left.sort(key=lambda pair: order.index(pair[0]))
    return [(name, area) for name, area in left if area > 50.0]


def _rain(desk: Desk) -> str:
    rain = desk.answer.rain_tomorrow
    if rain is None:
        return say("en", "rain unknown")
    low, high = (f"{value:.0%}" for value in rain)
    if low == high:
        return say("en", "rain tomorrow", chance=low)
    return say("en", "rain both", low=low, high=high)


def _hopeless(desk: Desk) -> dict[str, Any]:
    """Return the question a hopeless day leaves: which ground stays bare, and what it is like."""
    answer = desk.answer
    if not answer.hopeless:
        return {}
    return {
        "bare": words.sure_line(answer, desk.system),
        "which": say("en", "which"),
        "how": say("en", "which how"),
        "leave": say("en", "leave"),
        "known": say("en", "open fields"),
        "fields": [f"{name}: {_ground(desk.field(name))}" for name in _open_fields(desk)],
    }


def _open_fields(desk: Desk) -> list[str]:
    """Return the fields that the log has spread but not wholly worked in until now."""
    answer = desk.answer
    if answer.now_at is None:
        return []
    events = [event for event in desk.farm.log if event.at <= answer.now_at]
    spread, covered = (area_by_field_m2(events, what) for what in ("spread", "covered"))
    known = {one.name for one in desk.farm.fields}
    return [
        name for name, area in spread.items()
        if name in known and area - covered.get(name, 0.0) > NO_SPREADING_M2
    ]  # fmt: skip


def _told_so_far(desk: Desk) -> tuple[tuple[datetime, float, float], ...]:
    """Return what the log has of a day under way; nothing where areas were given over it."""
    answer = desk.answer
    if answer.now_at is None:
        return ()
    windows = answer.windows
    opens_s = min(windows.spread_intervals_s[0][0], *windows.cover_opens_s.values())
    told = told_curve(
        Settled(events=desk.farm.log),
        local_midnight_at(answer.on, ZoneInfo(answer.time_zone)),
        answer.now_at,
        opens_at=answer.moment(opens_s),
    )
    now_m2 = answer.curves.spread_m2[0], answer.curves.covered_m2[0]
    same = all(abs(a - b) < NO_SPREADING_M2 for a, b in zip(told[-1][1:], now_m2, strict=True))
    return told if same else ()


def _ground(field: Field) -> str:
    facts = [field.notes.rstrip(".")] if field.notes else []
    facts += [f"{edge.note or edge.kind} on the {edge.side}" for edge in field.edges]
    facts += ["washes easily"] if field.erodible else []
    return "; ".join(facts) or "nothing noted"


# --------------------------------------------------------------------------- spreader card


def spreader_sheet(desk: Desk) -> Sheet:
    """Return one page for every spreader, in its driver's language."""
    pages = [_spreader_page(desk, day) for day in desk.days]
    language: Language = pages[0]["language"] if pages else "en"
    return Sheet(
        name="spreader-card",
        template="spreader",
        title=f"{say(language, 'spreader title')}, {_date(desk.answer, language, desk.system)}",
        language=language,
        data={"pages": pages},
        pictures={},
    )


def _spreader_page(desk: Desk, day: SpreaderDay) -> dict[str, Any]:
    language, system = desk.language_of(day.driver), desk.system
    noun = next(one for one in desk.farm.spreaders if one.name == day.spreader)
    lots = list(dict.fromkeys(run.lot for run in day.runs)) or [desk.seed.main.lot.name]
    limit = show(desk.farm.rules.wind_limit_mps, "speed", system, 0)
    return {
        **desk.frame(language, say(language, "spreader title"), day.spreader, day.driver),
        "figures": _spreader_figures(desk, noun, lots[0], language),
        "rates": [_rate_line(desk, noun, lot, language, also=lot != lots[0]) for lot in lots],
        "first": _first_load(desk, noun, day, lots[0], language),
        "fills_title": say(language, "fills"),
        "fill_heads": [say(language, key) for key in ("load", "put in", "when", "where")],
        "fills": [_fill_row(desk, day, fill, language) for fill in day.fills],
        "last": _last_words(desk, language),
        "stop": "" if not day.runs else say(language, "stop at", at=desk.stop),
        "fields_title": say(language, "fields"),
        "field_heads": [
            say(language, "field"),
            desk.unit,
            say(language, "from to"),
            say(language, "heading"),
            say(language, "loads"),
        ],
        "fields": [_run_row(desk, day, run, language) for run in day.runs],
        "cautions": [
            *CAUTIONS["spreader"][language],
            say(language, "wind", limit=limit),
        ],
        "north": say(language, "true north"),
    }


def _flow(desk: Desk, noun: SpreaderNoun, lot: str) -> FlowAnswer:
    return next(flow for flow in desk.lot_answer(lot).flows if flow.spreader == noun.name)


def _width(width_m: float, system: System) -> str:
    value, _ = to_display(width_m, "length", system)
    return show(width_m, "length", system, 0 if abs(value - round(value)) < 0.05 else 1)


def _spreader_figures(
    desk: Desk, noun: SpreaderNoun, lot: str, language: Language
) -> list[dict[str, str]]:
    system, flow = desk.system, _flow(desk, noun, lot)
    speed = to_display(noun.speed_mps, "speed", system)[0]
    figures = [
        (_width(noun.driving_width_m, system), say(language, f"width {system}")),
        (show(noun.speed_mps, "speed", system, 0 if speed == round(speed) else 1),
         say(language, "speed")),
        (show(flow.flow_kg_per_s, "flow", system), say(language, "gate flow")),
    ]  # fmt: skip
    if flow.bucket_s is not None:
        size = say(language, "bucket us" if system == "us" else "bucket metric")
        figures.append((f"{flow.bucket_s:.1f} s", say(language, "bucket", size=size)))
    return [_figure(value, caption) for value, caption in figures]


def _figure(value: str, caption: str) -> dict[str, str]:
    amount, _, unit = value.partition(" ")
    return {"amount": amount, "unit": unit, "caption": caption}


def _rate_line(desk: Desk, noun: SpreaderNoun, lot: str, language: Language, *, also: bool) -> str:
    """Return the bulk rate of a lot; for further lots of the day also their flow."""
    rate = show(desk.lot_answer(lot).bulk_kg_per_m2, "rate", desk.system)
    text = say(language, "rate", rate=rate, lot=lot)
    if also:
        flow = _flow(desk, noun, lot)
        text += f": {show(flow.flow_kg_per_s, 'flow', desk.system)}"
        if flow.bucket_s is not None:
            text += f", {flow.bucket_s:.1f} s"
    return text


def _first_load(
    desk: Desk, noun: SpreaderNoun, day: SpreaderDay, lot: str, language: Language
) -> dict[str, Any]:
    """Return a table to read the gate off: ran empty after so much, flow times so much.

    For the load that really goes in first; where that was before now, for a full one.
    """
    flow, system = _flow(desk, noun, lot), desk.system
    planned = desk.lot_answer(lot).bulk_kg_per_m2
    load_kg = flow.load_kg
    if day.fills and day.fills[0].number == 1:
        load_kg = day.fills[0].mass_kg
    load_area_m2 = load_kg / planned
    unit_m2 = 1.0 / to_display(1.0, "area", system)[0]
    step = 0.1
    if system == "us":
        step = 1.0 if load_area_m2 / unit_m2 >= COARSE_ACRES else 0.5
    columns = []
    for share in SHARES_TRIED:
        ran = round(load_area_m2 * share / unit_m2 / step) * step
        found = first_load(load_kg=load_kg, area_m2=ran * unit_m2, planned_kg_per_m2=planned)
        turn = "gate close" if found.gate_factor < 1.0 else "gate open"
        if abs(found.gate_factor - 1.0) < LEAVE_IT:
            turn = "gate good"
        columns.append(
            [number(ran, 0 if step == 1.0 else 1), f"{found.gate_factor:.2f}",
             say(language, turn)]
        )  # fmt: skip
    return {
        "title": say(
            language,
            "first load",
            load=desk.mass(load_kg),
            area=desk.area(load_area_m2),
        ),
        "heads": [
            f"{say(language, 'ran empty')} ({desk.unit})",
            say(language, "flow times"),
            say(language, "gate"),
        ],
        "columns": columns,
    }


def _fill_row(desk: Desk, day: SpreaderDay, fill: Fill, language: Language) -> list[str]:
    if fill.at is not None:
        when = desk.about(fill.at)
    elif desk.answer.now_at is not None:
        when = say(language, "in hopper")
    else:
        when = say(language, "start full", at=desk.about(day.runs[0].from_at))
    where = fill.field
    if fill.clean_out:
        where += f". {say(language, 'clean out', lot=fill.lot)}"
    return [str(fill.number), desk.mass(fill.mass_kg), when, where]


def _last_words(desk: Desk, language: Language) -> str:
    answer = desk.answer
    if not any(day.runs for day in desk.days):
        return say(language, "no spreading")
    full = answer.full_loads_count
    last_kg = _told_kg(answer.last_load_kg, desk.system)
    if not answer.last_load_worth_filling or last_kg <= 0.0:
        return say(language, "last none", full=full)
    key = "last part" if full else "last one"
    return say(language, key, full=full, mass=desk.mass(last_kg))


def _run_row(desk: Desk, day: SpreaderDay, run: FieldRun, language: Language) -> list[str]:
    area = f"{to_display(run.area_m2, 'area', desk.system)[0]:.1f}"
    if not run.whole:
        area += f" ({say(language, 'part of field')})"
    plan = desk.plans.get(run.field)
    drive = ""
    if plan is not None:
        led = plan.spreads.get(day.spreader, plan.spread)
        drive = heading_words(led.first.aim_rad, language) if led.first else ""
    loads = [
        say(
            language,
            "part empties" if part.empties else "part",
            number=part.number,
            mass=desk.mass(part.mass_kg),
        )
        for part in run.parts
    ]
    return [run.field, area, _span(desk, run.from_at, run.to_at), drive, "; ".join(loads)]


# --------------------------------------------------------------------------- covering card


def covering_sheet(desk: Desk) -> Sheet:
    """Return the covering drivers' cards: pages for every machine, in its driver's language."""
    crew = desk.answer.crew
    manned = [(machine, driver, False) for machine, driver in crew.covers]
    manned += [(machine, driver, True) for machine, driver, _ in crew.takeovers]
    pictures: dict[str, str] = {}
    pages = [_covering_page(desk, *row, pictures) for row in manned]
    language: Language = pages[0]["language"] if pages else "en"
    return Sheet(
        name="covering-card",
        template="covering",
        title=f"{say(language, 'covering title')}, {_date(desk.answer, language, desk.system)}",
        language=language,
        data={"pages": pages},
        pictures=pictures,
    )


def _covering_page(
    desk: Desk, machine: str, driver: str, joins: bool, pictures: dict[str, str]
) -> dict[str, Any]:
    language, system = desk.language_of(driver), desk.system
    noun = next(one for one in desk.farm.cultivators if one.name == machine)
    join_at = _told_stop_at(desk) + timedelta(seconds=desk.answer.changeover_s)
    names = list(_by_field(desk))
    covered = {row.name: row.covered_by for row in desk.answer.fields}
    if joins:
        late = [n for n in names if covered.get(n) is None or (covered[n] or join_at) > join_at]
        names = late or names[-1:]
    speed = to_display(noun.speed_mps, "speed", system)[0]
    # Fewer passes counted than the width needs: no lap at all, and the card must not ask for it.
    gap = " open" if noun.overlap_m < 0.0 else ""
    lap = _lap(abs(noun.overlap_m), system)
    figures = [
        _figure(lap, say(language, f"overlap{gap}")),
        _figure(_width(noun.working_width_m, system), say(language, "width")),
        _figure(
            show(noun.speed_mps, "speed", system, 0 if speed == round(speed) else 1),
            say(language, "speed"),
        ),
        _figure(desk.until, say(language, "done by")),
    ]
    crowd = len(desk.answer.crew.covers)
    rounds = _rounds_everywhere(desk, machine, names)
    eye = say(language, "by eye" if noun.by_eye else "guided")
    join = say(language, "join", driver=driver, at=desk.about(join_at)) if joins else ""
    return {
        **desk.frame(language, say(language, "covering title"), machine, f"{driver}, {eye}"),
        "figures": figures,
        "rule": say(
            language, f"do not cross{gap}", overlap=lap, unit=say(language, f"unit {desk.unit}")
        ),
        "notes": [
            *([join] if joins else []),
            *([say(language, "share", count=crowd)] if crowd > 1 and not joins else []),
            *([_headlands(rounds, language)] if rounds else []),
        ],
        "cautions": list(CAUTIONS["covering"][language]),
        "fields": [
            _covering_field(desk, noun, name, place, language, pictures, rounds)
            for place, name in enumerate(names, start=1)
        ],
        "north": say(language, "true north"),
    }


def _told_stop_at(desk: Desk) -> datetime:
    """Return the stop as the sheets say it: rounded down to five minutes."""
    at = desk.answer.stop_at
    return at.replace(minute=at.minute // 5 * 5, second=0, microsecond=0)


def _lap(overlap_m: float, system: System) -> str:
    """Return the overlap in feet or inches, metres or millimetres: the unit it is seen in."""
    if system == "us":
        if overlap_m < FOOT_M - 1e-6:
            return show(overlap_m, "short length", system, 0)
        return show(overlap_m, "length", system, 1).replace(".0 ", " ")
    return show(overlap_m, "length" if overlap_m >= 0.3 else "short length", system)


def _covering_field(
    desk: Desk,
    noun: Cultivator,
    name: str,
    place: int,
    language: Language,
    pictures: dict[str, str],
    rounds: int,
) -> dict[str, Any]:
    runs = _by_field(desk)[name]
    covered = next((r.covered_by for r in desk.answer.fields if r.name == name), None)
    field = desk.field(name)
    block: dict[str, Any] = {
        "place": str(place),
        "name": name,
        "area": desk.area(sum(run.area_m2 for _, run in runs)),
        "done": say(language, "done about", at=desk.about(covered)) if covered else "",
        "lines": [say(language, "no outline")],
        "count": "",
        "miss": _miss(field, None, language, rounds),
        "map": "",
        "alt": "",
    }
    plan = desk.plans.get(name)
    cover = plan.covers.get(noun.name) if plan else None
    if plan is None or cover is None:
        return block
    picture = f"map-{len(pictures)}.svg"
    pictures[picture] = field_map(
        plan.outline,
        plan.spread,
        cover,
        desk.system,
        name=name,
        width=MAP_PT,
        height=_map_height_pt(plan),
        language=language,
        black_and_white=True,
        text_size=TYPE_PT,
        key=False,
    )
    block["map"] = picture
    block["alt"] = say(language, "pass count", count=cover.passes_count) + f", {name}"
    spread_m2 = sum(run.area_m2 for _, run in runs)
    block["count"] = _pass_count(field, spread_m2, cover, language)
    block["lines"] = _drive_lines(desk, plan, cover, language)
    block["miss"] = [
        *_part_spread(desk, field, [run for _, run in runs], plan, language),
        *_miss(field, cover, language, rounds),
    ]
    return block


WHOLE_SHARE = 0.98
"""From this share of a field on it counts as spread whole: outlines are read no better."""


def _pass_count(field: Field, spread_m2: float, cover: PassPlan, language: Language) -> str:
    """Return the passes to count; in a field spread in part those over that part."""
    share = spread_m2 / field.area_m2
    if share >= WHOLE_SHARE:
        return say(language, "pass count", count=cover.passes_count)
    part = max(1, math.ceil(share * cover.passes_count))
    return say(language, "part count", count=part, whole=cover.passes_count)


def _part_spread(
    desk: Desk, field: Field, runs: Sequence[FieldRun], plan: FieldPlan, language: Language
) -> list[str]:
    """Return which part of a field is spread, told by the side where the spreader begins.

    Where some of the field was spread on an earlier day, its side is not told.
    """
    spread_m2 = sum(run.area_m2 for run in runs)
    if spread_m2 >= WHOLE_SHARE * field.area_m2:
        return []
    blanks = {"area": desk.area(spread_m2), "whole": desk.area(field.area_m2)}
    first = plan.spread.first
    if first is None or runs[0].whole_area_m2 < WHOLE_SHARE * field.area_m2:
        return [say(language, "part spread somewhere", **blanks)]
    return [say(language, "part spread", side=side_name(first.near_edge, language), **blanks)]


MAP_PT = 210.0
_MAP_FRAME_PT = 76.0
"""What labels, north arrow and scale bar take of a map's height."""


def _map_height_pt(plan: FieldPlan) -> float:
    """Return a height that fits the field's shape, so that no paper is wasted. [pt]"""
    span_x, span_y = plan.outline.exterior_m.max(axis=0) - plan.outline.exterior_m.min(axis=0)
    wanted = _MAP_FRAME_PT + (MAP_PT - 60.0) * float(span_y / span_x)
    return min(max(wanted, 118.0), 166.0)


def _drive_lines(desk: Desk, plan: FieldPlan, cover: PassPlan, language: Language) -> list[str]:
    lines = []
    if cover.first is not None:
        pace = desk.farm.defaults.get("pace")
        aim = aim_sentence(
            plan.outline,
            cover.first,
            desk.system,
            straight_within_m=desk.farm.defaults["straight_within"].value,
            pace_m=pace.value if pace else None,
            language=language,
        )
        to = heading_words(cover.first.aim_rad, language)
        lines += [aim, say(language, "drive", heading=to)]
    return lines


def _rounds_everywhere(desk: Desk, machine: str, names: Sequence[str]) -> int:
    """Return the headland rounds of all these fields where they are the same, else 0."""
    counts = {
        plan.covers[machine].rounds_count
        for name in names
        if (plan := desk.plans.get(name)) and machine in plan.covers
    }
    return counts.pop() if len(counts) == 1 else 0


def _headlands(count: int, language: Language) -> str:
    rounds = say(language, "round" if count == 1 else "rounds", count=count)
    return say(language, "headlands last", rounds=rounds)


def _miss(field: Field, cover: PassPlan | None, language: Language, said_rounds: int) -> list[str]:
    """Return what a tired driver forgets: headlands, short passes, holes, and the field's notes."""
    lines = []
    if cover is not None:
        if cover.rounds_count not in {0, said_rounds}:
            lines.append(_headlands(cover.rounds_count, language))
        holes = len(field.outline.holes_m) if field.outline else 0
        if holes:
            lines.append(say(language, "holes", count=holes))
        if cover.first is not None and len(cover.row_indices) and int(cover.row_indices[0]) > 0:
            side = side_name(cover.first.near_edge, language)
            lines.append(say(language, "wedge", side=side))
    if field.notes:
        lines.append(field.notes)
    return lines


# --------------------------------------------------------------------------- seed truck card


def seed_truck_sheet(desk: Desk, language: Language) -> Sheet:
    """Return the seed truck card: safety, emergency, then when to bring how much where."""
    farm, answer = desk.farm, desk.answer
    used = {run.lot for day in desk.days for run in day.runs} or {desk.seed.main.lot.name}
    treated = any(_treated(farm, lot) for lot in used)
    drivers = [truck.driver for truck in farm.seed_trucks if truck.driver]
    title = say(language, "truck title")
    rows, spreads = _truck_rows(desk, language), any(day.runs for day in desk.days)
    missing = say(language, "missing")
    return Sheet(
        name="seed-truck-card" + ("-es" if language == "es" else ""),
        template="truck",
        title=f"{title}, {_date(answer, language, desk.system)}",
        language=language,
        data={
            **desk.frame(language, title, title, ", ".join(drivers)),
            "safety_title": say(language, "safety"),
            "safety": truck_safety(language, treated=treated),
            "emergency": say(language, "emergency"),
            "call": say(language, "call"),
            "phone": farm.emergency_phone or missing,
            "say_where": say(language, "say where"),
            "location": farm.emergency_location or missing,
            "loads_title": say(language, "truck loads"),
            "heads": [say(language, key) for key in ("be there", "bring", "park")]
            + ([say(language, "spreader")] if len(desk.days) > 1 else []),
            "rows": rows,
            "none": "" if rows else say(language, "no more" if spreads else "no spreading"),
            "total": _truck_total(desk, language),
            "park": say(language, "park how"),
            "after": say(language, "after"),
        },
        pictures={},
    )


def _treated(farm: Farm, name: str) -> bool:
    lot = farm.lot(name)
    return lot.treated or any(farm.lot(part).treated for part in lot.parts)


def _truck_rows(desk: Desk, language: Language) -> list[list[str]]:
    """Return the fills that want the truck, by the clock: be there early, rounded down."""
    early = timedelta(seconds=desk.farm.defaults["seed_truck_early"].value)
    rows = []
    for day in desk.days:
        for fill in day.fills:
            if fill.at is None and desk.answer.now_at is not None:
                continue
            begins = day.runs[0].from_at
            due = (fill.at or begins) - early
            at = words.no_later(due, desk.system)
            place = fill.field
            if fill.clean_out:
                place += f". {say(language, 'clean out', lot=fill.lot)}"
            row = [at, desk.mass(fill.mass_kg), place]
            if len(desk.days) > 1:
                row.append(day.spreader)
            rows.append((due, row))
    return [row for _, row in sorted(rows, key=lambda pair: pair[0])]


def _truck_total(desk: Desk, language: Language) -> str:
    fills = [fill for day in desk.days for fill in day.fills
             if fill.at is not None or desk.answer.now_at is None]  # fmt: skip
    if not fills:
        return ""
    total = sum(fill.mass_kg for fill in fills)
    lots = ", ".join(dict.fromkeys(fill.lot for fill in fills))
    return say(language, "total", count=len(fills), mass=desk.mass(total), lot=lots)
