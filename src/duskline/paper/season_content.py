"""What stands on the season sheet: the answer, the days, the fields, and a page for each crew.

Nothing here draws or writes a file; the same answer makes the same sheet.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from duskline.answers.season import (
    Basis,
    CrewPlan,
    FieldPlan,
    SeasonAnswer,
    SeasonDayPlan,
    VisitPlan,
)
from duskline.core.farm import Farm
from duskline.defaults import NO_SOURCE, Default, defaults
from duskline.draw.season import season_picture
from duskline.draw.season_rows import season_fan, season_rows
from duskline.draw.typeface import text_width
from duskline.paper.content import Sheet
from duskline.paper.press import PaperSize, press, text_width_pt
from duskline.paper.strings import field_safety, local_law, truck_safety
from duskline.units import System, show_chance, to_display
from duskline.words import season as words
from duskline.words import season_cautions as cautions
from duskline.words.clock import no_later, span
from duskline.words.defaults import value_text
from duskline.words.spelling import spelled

__all__ = ["arrival_text", "season_sheet"]

_PICTURE, _TYPE = 760.0, 16.0
"""Width the picture is drawn at and its type, so that on the page no type is under 11 pt."""
_MOST_ROWS = 24
"""Days of a picture that still leave room for its words on a page."""
_ROW_PT, _LEAST_PT, _INSET_PT, _CREW_PT = 12.5, 11.0, 9.0, 90.0
"""Types a column is measured in, what it needs beside its text, the widest for a crew."""
_LIKELY_PT, _CREW_REST_PT = 140.0, 165.0
"""Most that is kept for the days a field is done in; what box, acres and pencil of a crew take."""
_CREW_SIZES = (13.0, 12.0, 11.0)
"""Type of a crew's list, the one liked best first. [pt]"""
_ASSUMED_ALWAYS = (
    "season_rate_cv", "shared_rate_cv", "machine_rate_cv", "harvest_link", "season_least_part",
    "season_day_start",
)  # fmt: skip
_CLIMATE = {
    "climate.fit": "climate_fit_share",
    "climate.run": "climate_fit_run",
    "climate.spread": "climate_spread_time",
    "climate.cover": "climate_cover_time",
}
_OF_ITS_OWN = ", where the farm has no table"
"""So ends the name of a default that this part of the sheet is about anyway."""
_PRICES = ("late", "late_per_day", "waiting", "unsown")
_EN = {
    "card": "Season sheet",
    "crew card": "Crew sheet",
    "span": "{first} to {last} {year}",
    "kept": "Plan {version}, made {made}. A sheet with a lower number is old.",
    "not kept": "Plan {mark}, not kept, made {made}.",
    "picture": "The season day by day, and the acres worked in against the deadline.",
    "days": "Which field on which day",
    "day": "day",
    "hours": "hours",
    "crew": "crew",
    "stop": "stop spreading",
    "fields": "fields, in this order",
    "left": "left",
    "done": "done (pencil)",
    "deadline": "deadline",
    "closed": "closed: {why}",
    "off": "off",
    "free": "free",
    "fit": "fit {chance}",
    "fit how": "Fit 12 in 20: in 12 of 20 seasons of weather the day allows some covering.",
    "basis stated": "as stated",
    "basis stated on a day off": "as stated, a day off",
    "basis forecast": "by the forecast",
    "all crews free": "all crews free",
    "clean": "clean out, then ",
    "part": " (part)",
    "does not fit": "What does not fit, and why",
    "each field": "Each field",
    "field": "field",
    "customer": "customer",
    "lot": "seed",
    "plan": "planned",
    "due": "due",
    "chance": "in time",
    "likely": "done, 8 seasons in 10",
    "no day": "no day",
    "chance how": (
        "In time: by its last day, over {count:,} seasons of weather, each crew working down "
        "its list."
    ),
    "sure": "With another chance for each night (the heavy line is this plan)",
    "worth": "What the plan costs, and what a change is worth",
    "worth none": "No change that was tried makes a difference.",
    "changes": "What is different from the plan before",
    "safety": "Safety first",
    "assumed": "Assumed, for want of your own figures",
    "own": "{source}: {rows}.",
    "crew basis stated": "Hours as stated.",
    "crew basis stated on a day off": "Hours as stated, though it is a day off.",
    "crew basis forecast": "Hours by the forecast.",
    "crew basis climate": "A usual day, {fit}: look at the forecast first.",
    "crew basis closed": "",
    "crew basis off": "",
    "crew day": "begin {opens}, stop spreading {stop}, all worked in by {closes}",
    "drivers": "{machine}: {driver}",
    "takeover": "after the stop {driver} takes {machine}",
    "about": "there between",
    "clean first": "CLEAN OUT FIRST: {lot}",
    "crew how": (
        "You get to a field between these times 8 days in 10. When it is time to stop, stop, "
        "whatever is left of the list: nothing spread may lie bare overnight."
    ),
    "unit ac": "acres",
    "unit ha": "ha",
}
# Ours; those of shaft, spinner, road and treated seed are the other sheets' own.
_TIRED = (
    "Long days, day after day: whoever is tired stops and says so. Nothing on this sheet is a "
    "reason to hurry or to skip sleep."
)
_DUSK = "Move on the road before dusk where you can: low sun and dusk hide a slow, wide machine."


def season_sheet(
    farm: Farm,
    answer: SeasonAnswer,
    *,
    paper: PaperSize,
    made_on: date,
    version: int | None = None,
) -> Sheet:
    """Return the season sheet, not yet set.

    Parameters
    ----------
    farm
        The farm folder.
    answer
        Which field on which day.
    paper
        Size of the page.
    made_on
        The day the plan was made.
    version
        Number of the kept plan; None for a plan that is not kept.
    """
    return _Season(farm, answer, paper, made_on, version).sheet()


def arrival_text(visit: VisitPlan, system: System) -> str:
    """Return between when a crew gets to a field, outwards to five minutes."""
    return span(visit.about_from_at, visit.about_to_at, system, join=" to ")


@dataclass(frozen=True, slots=True)
class _Season:
    """One season with its farm, told in the reader's units."""

    farm: Farm
    answer: SeasonAnswer
    paper: PaperSize
    made_on: date
    version: int | None

    @property
    def system(self) -> System:
        return self.farm.system

    @property
    def unit(self) -> str:
        return _EN[f"unit {to_display(1.0, 'area', self.system)[1]}"]

    @property
    def crews(self) -> tuple[str, ...]:
        """The crews by name; none where all work together."""
        return tuple(crew.name for crew in self.farm.crews) if len(self.farm.crews) > 1 else ()

    @property
    def lots(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(one.lot for one in self.answer.fields))

    def area(self, area_m2: float) -> str:
        return words.acres_text(area_m2, self.system).split()[0]

    def sheet(self) -> Sheet:
        """Return the sheet in the largest type of those that take the fewest pages."""
        made = self._made()
        made = self._fewest(made, [{"small": small} for small in (False, True)], crews=False)
        return self._fewest(made, [{"crew_size": size} for size in _CREW_SIZES], crews=True)

    def _fewest(self, made: Sheet, ways: Sequence[dict[str, Any]], *, crews: bool) -> Sheet:
        """Return the sheet set in the first of the ways that takes the fewest pages."""
        if crews and not made.data["crews"]:
            return made
        tried = [replace(made, data={**made.data, **way}) for way in ways]
        bare: dict[str, Any] = {} if crews else {"crews": []}
        return min(
            tried,
            key=lambda one: self._pages_count(replace(one, data={**one.data, **bare})),
        )

    def _pages_count(self, sheet: Sheet) -> int:
        pdf = press(sheet, paper=self.paper, on=self.made_on)
        return max(int(found) for found in re.findall(rb"/Type ?/Pages ?/Count (\d+)", pdf))

    def _made(self) -> Sheet:
        answer, system = self.answer, self.system
        pictures = self._pictures()
        title = _EN["card"]
        risk, cost = words.at_risk_line(answer, self.system), [_ended(words.cost_line(answer))]
        data = {
            **self._frame(title),
            "small": False,
            "crew_size": _CREW_SIZES[0],
            "headline": "\u00a0".join(words.headline(answer, system).rsplit(" ", 1)),
            "sure": words.sure_line(answer, system),
            "pictures": list(pictures),
            "alt": _EN["picture"],
            "days": self._days(),
            "left_title": _EN["does not fit"],
            "left": [_ended(line) for line in words.left_lines(answer, system)],
            "fields": self._fields(),
            "risk": risk,
            "sure_title": _EN["sure"],
            "sureness": self._sureness(),
            "worth_title": _EN["worth"],
            "worth": self._worth(),
            "changes_title": _EN["changes"],
            "changes": self._changes(),
            "cost": [*cost, words.gap_line(answer)] if answer.fields else [],
            "know": self._notes(),
            "safety_title": _EN["safety"],
            "safety": self._safety(),
            "assumed_title": _EN["assumed"],
            "assumed": list(self._assumed()),
            "crews": [page for name in self.crews if (page := self._crew_page(name))],
        }
        return Sheet(
            name="season-sheet",
            template="season",
            title=f"{title}, {self._span()}",
            language="en",
            data=data,
            pictures=pictures,
        )

    # ------------------------------------------------------------------- head and foot

    def _frame(self, card: str) -> dict[str, str]:
        return {
            "farm": self.farm.name,
            "card": card,
            "date": self._span(),
            "mark": self._mark(),
            "review": "",
            "language": "en",
        }

    def _span(self) -> str:
        first, last = self.answer.on[0], self.answer.on[-1]
        return _EN["span"].format(
            first=words.short_date(first, self.system),
            last=words.short_date(last, self.system),
            year=last.year,
        )

    def _mark(self) -> str:
        comma = "," if self.system == "us" else ""
        made = f"{words.day_date(self.made_on, self.system)}{comma} {self.made_on.year}"
        if self.version is not None:
            return _EN["kept"].format(version=self.version, made=made)
        known = [
            (day.on, crew.crew, visit.field, round(visit.area_m2))
            for day in self.answer.days
            for crew in day.crews
            for visit in crew.visits
        ]
        mark = f"{zlib.crc32(repr(known).encode()) & 0xFFFF:04X}"
        return _EN["not kept"].format(mark=mark, made=made)

    def _pictures(self) -> dict[str, str]:
        """Return the season's picture; of a long season only the days with work, parted."""
        rows = season_rows(self.answer)
        long = len(rows) > _MOST_ROWS
        parts = [rows]
        if long:
            worked = tuple(row for row in rows if row.area_m2)
            parts = [worked[at : at + _MOST_ROWS] for at in range(0, len(worked), _MOST_ROWS)]
        fan = None if long else season_fan(self.answer)
        return {
            f"season{place}.svg": season_picture(
                part,
                fan,
                self.system,
                width=_PICTURE,
                deadline=self.answer.due_on,
                black_and_white=True,
                text_size=_TYPE,
            )
            for place, part in enumerate(parts)
        }

    # ------------------------------------------------------------------- days

    def _days(self) -> dict[str, Any]:
        heads = ["day", "hours", *(["crew"] if self.crews else []), "stop", "fields"]
        return {
            "title": _EN["days"],
            "heads": [*(_EN[key] for key in heads), self.unit, _EN["left"], _EN["done"]],
            "crews": bool(self.crews),
            "crew_pt": min(_wanted_pt(_EN["crew"], self.crews), _CREW_PT),
            "deadline": _EN["deadline"],
            "rows": [self._day(day) for day in self.answer.days],
        }

    def _notes(self) -> list[str]:
        fit = any(day.basis is Basis.CLIMATE for day in self.answer.days)
        return [
            *cautions.caution_lines(self.answer, self.made_on, self.system),
            *([_EN["fit how"]] if fit else []),
            *words.season_notes(self.answer, self.system),
        ]

    def _day(self, day: SeasonDayPlan) -> dict[str, Any]:
        return {
            "on": words.short_date(day.on, self.system),
            "due": day.on == self.answer.due_on,
            "none": self._no_work(day),
            "basis": _basis(day) if any(crew.visits for crew in day.crews) else "",
            "left": self.area(day.left_m2) if day.left_m2 > words.CRUMB_M2 else "0",
            "crews": [self._crew_row(crew) for crew in day.crews if crew.visits],
            "idle": words.without_work(self.answer, day) if day.crews else [],
        }

    def _no_work(self, day: SeasonDayPlan) -> str:
        """Return why a day has no work; "" where it has."""
        if any(crew.visits for crew in day.crews):
            return ""
        if day.basis is Basis.OFF:
            return day.because or _EN["off"]
        if day.because:
            return _EN["closed"].format(why=day.because)
        others = words.without_work(self.answer, day)
        away = len(others) > len(day.idle)
        free = ", ".join(others) if away else _EN["all crews free" if self.crews else "free"]
        return f"{free}, {_basis(day)}" if day.basis is Basis.CLIMATE else free

    def _crew_row(self, crew: CrewPlan) -> dict[str, str]:
        return {
            "hours": self._hours(crew),
            "crew": crew.crew,
            "stop": words.stop_text(crew, self.system).replace(" ", "\u00a0"),
            "fields": ", ".join(self._visit(visit) for visit in crew.visits),
            "area": self.area(crew.area_m2),
        }

    def _hours(self, crew: CrewPlan) -> str:
        opens, closes = (no_later(at, self.system) for at in (crew.opens_at, crew.closes_at))
        return _held(f"{opens} to {closes}")

    def _visit(self, visit: VisitPlan) -> str:
        """Return a stop with its acres, held together on one line but for a clean-out."""
        clean = _EN["clean"] if visit.clean_out else ""
        part = _EN["part"] if visit.is_part else ""
        text = f"{visit.field} {self.area(visit.area_m2)}{part}"
        return clean + (text.replace(" ", "\u00a0") if len(text) <= 24 else text)

    # ------------------------------------------------------------------- fields

    def _fields(self) -> dict[str, Any]:
        fields = sorted(
            self.answer.fields, key=lambda one: (self._done_on(one) or date.max, one.name)
        )
        customers = any(one.customer for one in fields)
        lots = len(self.lots) > 1
        dues = len({one.due_on for one in fields}) > 1
        heads = [
            "field",
            *(["customer"] if customers else []),
            *(["lot"] if lots else []),
            *(["due"] if dues else []),
        ]

        def cells(field: FieldPlan) -> list[str]:
            chance, _, likely = words.field_chance(field, self.system).partition("; ")
            done_on = self._done_on(field)
            planned = _EN["no day"] if done_on is None else words.short_date(done_on, self.system)
            due = "" if field.due_on is None else words.short_date(field.due_on, self.system)
            return [
                field.name,
                *([field.customer] if customers else []),
                *([field.lot] if lots else []),
                *([due] if dues else []),
                self.area(field.left_m2),
                planned,
                chance,
                likely,
            ]

        tail = [self.unit, _EN["plan"], _EN["chance"], _EN["likely"]]
        rows = [cells(field) for field in fields]
        *near_pt, far_pt = (
            _wanted_pt(head, [row[at - len(tail)] for row in rows], bold=False)
            for at, head in enumerate(tail)
        )
        return {
            "title": _EN["each field"],
            "heads": [*(_EN[key] for key in heads), *tail],
            "rows": rows,
            "names": self._name_widths(
                [_EN[key] for key in heads],
                [row[: len(heads)] for row in rows],
                beside_pt=sum(near_pt) + min(far_pt, _LIKELY_PT),
            ),
            "how": _EN["chance how"].format(count=self.answer.chance.count),
        }

    def _name_widths(
        self, heads: Sequence[str], rows: Sequence[Sequence[str]], *, beside_pt: float
    ) -> list[float]:
        """Return the widths of columns that names stand in; long names share what room there is.

        ``beside_pt`` is what the other columns take.
        """
        room = text_width_pt(self.paper) - beside_pt
        wanted = [_wanted_pt(head, [row[at] for row in rows]) for at, head in enumerate(heads)]
        given: dict[int, float] = {}
        for at in sorted(range(len(wanted)), key=wanted.__getitem__):
            given[at] = min(wanted[at], room / (len(wanted) - len(given)))
            room -= given[at]
        return [round(given[at], 1) for at in range(len(wanted))]

    def _done_on(self, field: FieldPlan) -> date | None:
        """Return the day a field is done but for a crumb; None where more has no day."""
        if field.unplaced_m2 > words.CRUMB_M2:
            return None
        return max(
            (
                day.on
                for day in self.answer.days
                for crew in day.crews
                for visit in crew.visits
                if visit.field == field.name
            ),
            default=field.finish_on,
        )

    # ------------------------------------------------------------------- what would help

    def _sureness(self) -> list[dict[str, Any]]:
        lines = words.sureness_lines(self.answer, self.system)
        rows = []
        for line, row in zip(lines, self.answer.by_sureness, strict=True):
            chance, _, outcome = line.partition(": ")
            chosen = row.sure_fraction == self.answer.sure_fraction
            rows.append({"chance": chance, "outcome": outcome, "chosen": chosen})
        return rows

    def _worth(self) -> list[str]:
        told = [
            words.worth_line(one, self.answer, self.system)
            for one in self.answer.worth
            if not one.no_difference
        ]
        return [_ended(line) for line in told] or [_EN["worth none"]]

    def _changes(self) -> list[str]:
        lines = words.change_lines(self.answer.changes, self.system, crews=max(len(self.crews), 1))
        return [_ended(line) for line in lines]

    # ------------------------------------------------------------------- safety and sources

    def _safety(self) -> list[str]:
        shaft, *_, road = field_safety()
        lines = [_TIRED, shaft, f"{road} {_DUSK}"]
        if any(self._treated(lot) for lot in self.lots):
            lines.append(truck_safety("en", treated=True)[-2])
        return [*lines, local_law()]

    def _treated(self, name: str) -> bool:
        lot = self.farm.lot(name or None)
        return lot.treated or any(self.farm.lot(part).treated for part in lot.parts)

    def _assumed(self) -> Iterator[str]:
        """Yield the defaults that the plan rests on, those of one source together."""
        by_source: dict[str, list[str]] = {}
        for row in self._assumed_rows():
            low, typical, high = (
                value_text(row, value, self.system) for value in (row.low, row.typical, row.high)
            )
            by_source.setdefault(row.source_line, []).append(
                f"{spelled(row.name.partition(_OF_ITS_OWN)[0], self.system)} {typical}"
                f" ({low} to {high})"
            )
        # What nobody has measured comes first.
        for source in sorted(by_source, key=lambda line: (line not in NO_SOURCE, line)):
            rows = "; ".join(by_source[source])
            yield _EN["own"].format(source=source[0].upper() + source[1:], rows=rows)

    def _assumed_rows(self) -> Iterator[Default]:
        if not self.answer.fields:
            return
        table, figures = defaults(), self.farm.figures
        yield from (table[key] for key in _ASSUMED_ALWAYS)
        late = any(one.due_on is not None for one in self.answer.fields)
        for price in _PRICES:
            given = figures.get(f"season.{price}")
            if given is not None and given.is_default and (late or "late" not in price):
                yield table[f"season_{price}"]
        if any(day.basis is Basis.CLIMATE for day in self.answer.days):
            for place, key in _CLIMATE.items():
                given = figures.get(place)
                if given is not None and given.is_default:
                    yield table[key]

    # ------------------------------------------------------------------- a crew's own page

    def _crew_page(self, name: str) -> dict[str, Any] | None:
        """Return a crew's days for its drivers; None where it has no work."""
        days = [
            (day, crew)
            for day in self.answer.days
            for crew in day.crews
            if crew.crew == name and crew.visits
        ]
        if not days:
            return None
        plans = [crew for _, crew in days]
        customers = any(visit.customer for crew in plans for visit in crew.visits)
        keys = ["field", "about", *(["customer"] if customers else []), "lot"]
        told = [self._crew_day(day, crew, customers=customers) for day, crew in days]
        return {
            **self._frame(_EN["crew card"]),
            "name": name,
            "area": f"{self.area(sum(crew.area_m2 for crew in plans))} {self.unit}",
            "how": _EN["crew how"],
            "heads": ["", *(_EN[key] for key in keys), self.unit, _EN["done"]],
            "names": self._name_widths(
                [_EN[key] for key in keys],
                [visit["cells"][: len(keys)] for day in told for visit in day["visits"]],
                beside_pt=_CREW_REST_PT,
            ),
            "days": told,
            "safety": self._safety(),
        }

    def _crew_day(self, day: SeasonDayPlan, crew: CrewPlan, *, customers: bool) -> dict[str, Any]:
        opens, closes = (no_later(at, self.system) for at in (crew.opens_at, crew.closes_at))
        stop = words.stop_text(crew, self.system)
        people = [
            _EN["drivers"].format(machine=machine, driver=driver)
            for machine, driver in crew.drivers
        ]
        people += [
            _EN["takeover"].format(machine=machine, driver=driver)
            for machine, driver in crew.takeovers
        ]
        return {
            "on": words.short_date(day.on, self.system),
            "hours": _EN["crew day"].format(opens=opens, stop=stop, closes=closes),
            "people": f"{'; '.join(people)}.",
            "basis": _EN[f"crew basis {day.basis}"].format(fit=_basis(day)),
            "visits": [
                {
                    "clean": (_EN["clean first"].format(lot=visit.lot) if visit.clean_out else ""),
                    "cells": [
                        visit.field + (_EN["part"] if visit.is_part else ""),
                        _held(arrival_text(visit, self.system)),
                        *([visit.customer] if customers else []),
                        visit.lot,
                        self.area(visit.area_m2),
                    ],
                }
                for visit in crew.visits
            ],
        }


def _held(hours: str) -> str:
    """Return clock times that no line break parts from their am or pm."""
    return hours.replace(" am", "\u00a0am").replace(" pm", "\u00a0pm")


def _wanted_pt(head: str, cells: Sequence[str], *, bold: bool = True) -> float:
    """Return what a column of a table would like to have; names are bold and larger. [pt]"""
    size = _ROW_PT if bold else _LEAST_PT
    return max(text_width(cell, size, bold=bold) for cell in (head, *cells)) + _INSET_PT


def _ended(line: str) -> str:
    """Return a sentence with its full stop."""
    return line if line.endswith((".", "!", "?")) else f"{line}."


def _basis(day: SeasonDayPlan) -> str:
    """Return in a few words what a day's hours rest on."""
    if day.basis is Basis.CLIMATE:
        return _EN["fit"].format(chance=show_chance(day.fit_fraction))
    return _EN.get(f"basis {day.basis}", "")
