"""What stands on the sheet of one field: map, numbers of every machine, marks to drive by eye.

Nothing here draws or writes a file; the same answer makes the same sheet.
"""

from __future__ import annotations

import math
import re
import unicodedata
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from duskline.answers.field import CoverField, FieldAnswer, SpreadField
from duskline.core.farm import Farm
from duskline.core.passes import PassPlan
from duskline.core.sides import FirstPassFrom
from duskline.core.swing import turns_over_the_edge
from duskline.draw.fieldmap import field_map, map_marks
from duskline.draw.typeface import text_width
from duskline.paper.content import Sheet
from duskline.paper.press import PaperSize, press, text_width_pt
from duskline.paper.strings import field_safety, local_law, say
from duskline.units import System, number, show, to_display
from duskline.words.aim import (
    compass_deg,
    ground,
    heading_words,
    order_sentence,
    rounds_sentence,
)
from duskline.words.field import (
    by_eye_sentences,
    counted_sentences,
    empty_at,
    line_words,
    missed_sentences,
    passes_words,
    slope_sentences,
    turned_deg,
)
from duskline.words.lap import (
    advised_sentence,
    angle_sentences,
    joints_sentence,
    minutes_text,
    more_lap_sentences,
)
from duskline.words.sides import edge_sentences, not_found_sentence

__all__ = ["field_file_name", "field_sheet"]

TYPE_PT = 14.0
_LINE_PT, _ROW_PT, _TALL_ROW_PT, _TITLE_PT = 17.4, 20.0, 26.0, 22.0
"""What a line of text, a row of a table, one with a box to tick and a title take of a page."""
_PAGE_PT: dict[PaperSize, float] = {"letter": 704.0, "a4": 753.0}
"""Height of a page between its margins."""
_FIXED_PT = 36.0
"""What else the first page has, measured on set pages, and some slack for how lines break."""
_BACK_PT = 58.0
"""What else the second page has, measured likewise."""
_SLACK_PT = 20.0
"""By how much those figures may be too large."""
_FINE_PT, _FINE_LINE_PT = 10.0, 12.0
_MAP_LEAST_PT, _MAP_MOST_PT = 230.0, 430.0
_MAP_FRAME_PT = 105.0
"""What key, labels and scale bar take of a map's height."""
_LONGEST_NAME = 60
_MOST_PAGES = 2
_FINE_HEADS = ("machine", "once", "twice", "missed", "between", "usual")
_ANY_DAY = date(2000, 1, 1)
_NOTHING_FRACTION = 0.0005


def field_file_name(name: str) -> str:
    """Return a file name for a field, without its ending: "field-A1".

    Parameters
    ----------
    name
        What the farmer calls the field; letters and figures of any script stay, all else that
        could mean something to a file system becomes a dash.
    """
    plain = unicodedata.normalize("NFC", name)
    kept = "".join(letter if letter.isalnum() or letter == "_" else "-" for letter in plain)
    parts = [part for part in kept.split("-") if part]
    return f"field-{'-'.join(parts)[:_LONGEST_NAME].strip('-') or 'unnamed'}"


def field_sheet(farm: Farm, answer: FieldAnswer, *, paper: PaperSize) -> Sheet:
    """Return the sheet of one field, not yet set.

    Parameters
    ----------
    farm
        The farm folder.
    answer
        How the field is driven.
    paper
        Size of the page.
    """
    return _Field(farm, answer, paper).sheet()


@dataclass(frozen=True, kw_only=True, slots=True)
class _Layout:
    """How a sheet is divided.

    Attributes
    ----------
    parted
        Whether the covering drivers begin on the second page.
    late
        Whether areas and the come-back list stand after them.
    map_pt
        Height of the map. [pt]
    fine_count
        How many lines of the fine print are set, the last one always.
    """

    parted: bool
    late: bool
    map_pt: float
    fine_count: int


@dataclass(frozen=True, slots=True)
class _Field:
    """One field with its farm, told in the reader's units."""

    farm: Farm
    answer: FieldAnswer
    paper: PaperSize

    @property
    def system(self) -> System:
        return self.farm.system

    @property
    def name(self) -> str:
        return self.answer.field.name

    @property
    def shown(self) -> CoverField | None:
        """The covering machine on the map: the first driven by eye, else the first."""
        by_eye = [one for one in self.answer.covers if one.lap.by_eye]
        return by_eye[0] if by_eye else self.answer.cover

    def area(self, area_m2: float) -> str:
        return show(area_m2, "area", self.system)

    def mass(self, mass_kg: float) -> str:
        return show(mass_kg, "mass", self.system)

    def sheet(self) -> Sheet:
        """Return the first layout that keeps to two pages; with very many machines the last."""
        by_eye = [self._by_eye(one) for one in self.answer.covers if one.lap.by_eye]
        front, guided, fine = self._front(), self._guided(), self._fine()
        record = {"acres": self._acres(), "come_back": self._come_back()}
        title = say("en", "field title")
        data = {
            "card": title,
            "farm": self.farm.name,
            "date": "",
            "review": "",
            "language": "en",
            "mark": say("en", "field mark", mark=self._mark()),
            "name": self.name,
            "area": self.area(self.answer.field.area_m2),
            "alt": self._alt(),
            **front,
            **record,
            "guided": guided,
            "by_eye": by_eye,
            "fine": fine,
            "safety": {"title": say("en", "safety first"), "lines": field_safety()},
            "blanks": self._blanks(),
        }
        for layout in self._layouts(front, record, by_eye, guided, fine):
            made = Sheet(
                name=field_file_name(self.name),
                template="field",
                title=f"{title}, {self.name}",
                language="en",
                data={**data, "parted": layout.parted, "late": layout.late,
                      "fine": {**fine, "lines": [*fine["lines"][: layout.fine_count - 1],
                                                 fine["lines"][-1]]}},
                pictures={"map.svg": self._map(layout.map_pt)},
            )  # fmt: skip
            if _pages_count(made, self.paper) <= _MOST_PAGES:
                break
        return made

    def _layouts(
        self,
        front: dict[str, Any],
        record: dict[str, Any],
        by_eye: Sequence[dict[str, Any]],
        guided: Sequence[dict[str, str]],
        fine: dict[str, Any],
    ) -> Iterator[_Layout]:
        """Return layouts to try, the one liked best first.

        The covering drivers have the second page to themselves where they fit on it; else the
        first of them goes on the first page, and the map makes room. What is for the record
        stands on the first page unless the map wants its room and the second has some.
        """
        page, wanted = _PAGE_PT[self.paper], self._map_wanted_pt()
        front_pt, back_pt = self._front_pt(front), self._back_pt(by_eye, guided, fine)
        record_pt = self._record_pt(record)
        late = page - front_pt - record_pt < wanted and back_pt + record_pt <= page
        room = page - front_pt - (0.0 if late else record_pt)
        every = len(fine["lines"])
        best, least = max(min(wanted, room), _MAP_LEAST_PT), _MAP_LEAST_PT
        if back_pt <= page + _SLACK_PT:
            yield _Layout(parted=True, late=late, map_pt=best, fine_count=every)
            yield _Layout(parted=True, late=False, map_pt=least, fine_count=every)
        if by_eye:
            room -= self._block_pt(by_eye[0]["lines"])
        for fine_count in range(every, 0, -1):
            if fine_count < every:
                yield _Layout(parted=True, late=False, map_pt=best, fine_count=fine_count)
            for map_pt in dict.fromkeys((max(min(wanted, room), least), least)):
                for later in (False, True):
                    yield _Layout(parted=False, late=later, map_pt=map_pt, fine_count=fine_count)

    def _front(self) -> dict[str, Any]:
        """Return the first page's words, all but the map."""
        first = self.answer.spread
        machines = len(self.answer.spreads) + len(self.answer.covers)
        return {
            "headings": self._headings(),
            "note": self.answer.field.notes,
            "heads": [
                say("en", key)
                for key in ("machine", "heading", "turned", f"width {self.system}", "passes",
                            "round head", "seat")
            ],
            "rows": [
                *(self._spread_row(one) for one in self.answer.spreads),
                *(self._cover_row(one) for one in self.answer.covers),
            ],
            "alone": say("en", "alone") if machines > 2 else "",
            "spreads": self._spreads(),
            "load_heads": [say("en", key) for key in ("load", "put in", "does", "empty at")],
            "edges_title": say("en", "edges"),
            "edges": self._edge_lines(first),
        }  # fmt: skip

    def _mark(self) -> str:
        """Return four letters and digits that change when the field is driven another way."""
        plans = [
            *((one.machine, one.plan) for one in self.answer.spreads),
            *((one.machine, one.plan) for one in self.answer.covers),
        ]
        facts = [
            (machine, round(math.degrees(plan.heading_rad), 1), plan.passes_count,
             plan.rounds_count, str(plan.order))
            for machine, plan in plans
        ]  # fmt: skip
        seed = [round(one.rate_kg_per_m2, 7) for one in self.answer.spreads]
        known = (self.name, round(self.answer.field.area_m2), facts, seed)
        return f"{zlib.crc32(repr(known).encode()) & 0xFFFF:04X}"

    def _headings(self) -> str:
        first, shown = self.answer.spread.plan, self.shown
        spread = say("en", "field heading", spread=_drive(first))
        if first.only_strips or not first.passes_count:
            spread = self._in_rounds("field", first)
        if shown is None:
            return spread
        cover = say("en", "cover alone heading", cover=_drive(shown.plan))
        if shown.plan.only_strips or not shown.plan.passes_count:
            cover = self._in_rounds("cover", shown.plan)
        elif self._is_turned(shown.plan):
            cover = say(
                "en", "cover heading", cover=_drive(shown.plan), turned=_turned(shown.plan, first)
            )
        return f"{spread} {cover}"

    def _in_rounds(self, who: str, plan: PassPlan) -> str:
        """Return that rounds do the field, and how many strips between them."""
        if plan.only_strips:
            return say("en", f"{who} strips", passes=passes_words(plan))
        return say("en", f"{who} rounds")

    def _is_turned(self, plan: PassPlan) -> bool:
        """Return whether a plan's passes lie at an angle to the spreader's: both have rows."""
        return all(
            one.passes_count and not one.only_strips for one in (plan, self.answer.spread.plan)
        )

    # ------------------------------------------------------------------- map

    def _map(self, height: float) -> str:
        shown = self.shown
        return field_map(
            self.answer.plan.outline,
            self.answer.spread.plan,
            None if shown is None else shown.plan,
            self.system,
            name=self.name,
            width=text_width_pt(self.paper),
            height=height,
            black_and_white=True,
            text_size=TYPE_PT,
            marks=map_marks(self.answer),
            turns=True,
        )

    def _map_wanted_pt(self) -> float:
        """Return the height of map that the field's shape asks for. [pt]"""
        corners_m = self.answer.plan.outline.exterior_m
        span_x, span_y = (corners_m.max(axis=0) - corners_m.min(axis=0)).tolist()
        wanted: float = _MAP_FRAME_PT + (text_width_pt(self.paper) - 60.0) * span_y / span_x
        return min(max(wanted, _MAP_LEAST_PT), _MAP_MOST_PT)

    def _front_pt(self, front: dict[str, Any]) -> float:
        """Return what the first page has beside map and record. [pt]"""
        spreads = front["spreads"]
        texts = [front["headings"], *front["edges"]]
        texts += [f"{one['title']} {line}" for one in spreads for line in one["lines"]]
        texts += [text for text in (front["note"], front["alone"]) if text]
        taken = _FIXED_PT + _LINE_PT * (1 + _lines_count(texts, text_width_pt(self.paper)))
        taken += _ROW_PT * (2 + len(front["rows"]))
        return taken + _TALL_ROW_PT * sum(len(one["loads"]) + 1 for one in spreads if one["loads"])

    def _record_pt(self, record: dict[str, Any]) -> float:
        """Return what areas and the come-back list take of a page. [pt]"""
        notes, rows = record["acres"]["notes"], record["come_back"]["rows"]
        taken = _LINE_PT * (1 + _lines_count(notes, text_width_pt(self.paper)))
        return taken + (_TITLE_PT + _TALL_ROW_PT * len(rows) if rows else 0.0)

    def _block_pt(self, texts: Sequence[str]) -> float:
        """Return what a block with a title takes of a page. [pt]"""
        lines = _lines_count(texts, text_width_pt(self.paper))
        return _TITLE_PT + _LINE_PT * lines + 1.4 * len(texts)

    def _back_pt(
        self,
        by_eye: Sequence[dict[str, Any]],
        guided: Sequence[dict[str, str]],
        fine: dict[str, Any],
    ) -> float:
        """Return what the covering machines, safety and the fine print take of a page. [pt]"""
        blocks = [one["lines"] for one in by_eye] + [[one["text"]] for one in guided]
        width = text_width_pt(self.paper)
        lines = len(fine["rows"]) + 3 + _lines_count(fine["lines"], width, _FINE_PT)
        return _BACK_PT + sum(map(self._block_pt, blocks)) + _FINE_LINE_PT * lines

    def _alt(self) -> str:
        if self.shown is None:
            return say("en", "field alt spread", name=self.name)
        return say("en", "field alt", name=self.name, machine=self.shown.machine)

    # ------------------------------------------------------------------- spreading

    def _spread_row(self, one: SpreadField) -> list[str]:
        return [*self._row(one.machine, one.driver, one.plan), minutes_text(one.plan.work_s)]

    def _cover_row(self, one: CoverField) -> list[str]:
        row = self._row(one.machine, one.driver, one.plan)
        if self._is_turned(one.plan):
            row[2] = _turned(one.plan, self.answer.spread.plan)
        if one.count is not None:
            row[4] = say("en", "count give", count=one.plan.passes_count)
        return [*row, minutes_text(one.plan.work_s)]

    def _row(self, machine: str, driver: str, plan: PassPlan) -> list[str]:
        aim = "" if plan.first is None else f"{round(compass_deg(plan.first.aim_rad)) % 360}°"
        return [
            _who(machine, driver),
            aim,
            "",
            _width(plan.driving.driving_width_m, self.system),
            str(plan.passes_count),
            str(plan.rounds_count),
        ]

    def _spreads(self) -> list[dict[str, Any]]:
        """Return what is said of the spreaders; those that drive and load alike together."""
        alike: dict[tuple[object, ...], list[SpreadField]] = {}
        for one in self.answer.spreads:
            plan = one.plan
            known = (plan.driving, plan.order, plan.passes_count, plan.rounds_count, one.load_kg)
            alike.setdefault(known, []).append(one)
        found = []
        for group in alike.values():
            title = say("en", "field spread")
            if len(alike) > 1:
                title = f"{title}, {', '.join(one.machine for one in group)}"
            one = group[0]
            found.append(
                {
                    "title": f"{title}:",
                    "lines": [*self._spread_lines(one), *self._seed_lines(one)],
                    "loads": self._load_rows(one) if len(one.loads) > 1 else [],
                }
            )
        return found

    def _spread_lines(self, one: SpreadField) -> list[str]:
        told = [self._saved(one), *slope_sentences(self.farm, self.answer, one)]
        return [" ".join([*self._way_lines(one.plan, last=False), *told])]

    def _seed_lines(self, one: SpreadField) -> list[str]:
        """Return lot, rate and seed; where one load does the field also where it ends."""
        text = say(
            "en", "seed line", lot=one.lot,
            rate=show(one.rate_kg_per_m2, "rate", self.system),
            mass=self.mass(sum(load.mass_kg for load in one.loads)),
            load=self.mass(one.load_kg),
        )  # fmt: skip
        if len(one.loads) == 1:
            row = self._load_rows(one)[0]
            text += " " + say("en", "one load", where=row[-1])
        return [text]

    def _saved(self, one: SpreadField) -> str:
        longest = minutes_text(one.plan.longest_edge_s)
        if one.saved_s < -1.0:
            return say("en", "given up", longest=longest)
        if one.saved_s <= 1.0:
            return say("en", "longest side")
        if one.saving_is_noise or minutes_text(one.plan.work_s) == longest:
            return say("en", "no saving", longest=longest)
        return say("en", "saved", longest=longest, saved=minutes_text(one.saved_s))

    def _way_lines(self, plan: PassPlan, *, last: bool) -> list[str]:
        """Return rounds, parts and order of one plan."""
        holes = bool(self.answer.plan.outline.holes_m)
        lines = [rounds_sentence(plan.rounds_count, last=last, holes=holes)]
        if len(plan.blocks) > 1:
            parts = ", ".join(
                say("en", "in part", number=place, heading=heading_words(block.heading_rad))
                for place, block in enumerate(plan.blocks, start=1)
            )
            lines.append(say("en", "in parts", count=len(plan.blocks), parts=parts))
        if plan.passes_count > 1 and not plan.only_strips:
            lines.append(order_sentence(plan.order.way, step=plan.order.step))
        over = len(turns_over_the_edge(plan, self.answer.plan.outline))
        if over:
            lines.append(say("en", "over edge", over=over, turns=plan.turns_count))
        return lines

    def _load_rows(self, one: SpreadField) -> list[list[str]]:
        return [
            [str(place), self.mass(load.mass_kg), self.area(load.area_m2),
             empty_at(one, load)]
            for place, load in enumerate(one.loads, start=1)
        ]  # fmt: skip

    def _edge_lines(self, one: SpreadField) -> list[str]:
        thin = self.farm.defaults["edge_thin_below"].value
        lines = []
        for plan in self.answer.plan.edges:
            if not plan.sides:
                lines.append(
                    not_found_sentence(
                        word=plan.edge.side, kind=plan.edge.kind, understood=plan.understood
                    )
                )
                continue
            told = edge_sentences(
                plan.first,
                side=plan.edge.side,
                kind=plan.edge.kind,
                dose=plan.dose,
                thin_below_fraction=thin,
                system=self.system,
                rate_kg_per_m2=one.rate_kg_per_m2,
                wind_towards=plan.blown_m > 0.0,
                row_too_short=plan.row_too_short,
            )
            if plan.edge.note:
                told.insert(1, say("en", "beyond", note=plan.edge.note))
            lines.append(" ".join(told))
        half_m = 0.5 * one.plan.driving.driving_width_m
        if not lines:
            lines.append(say("en", "all sides", far=ground(half_m, self.system)))
        else:
            other = FirstPassFrom(from_edge_m=half_m, off_m=0.0, held_by_throw=False)
            lines += edge_sentences(
                other, side=None, kind=None, dose=None, thin_below_fraction=thin,
                system=self.system,
            )  # fmt: skip
        return lines

    # ------------------------------------------------------------------- covering

    def _guided(self) -> list[dict[str, str]]:
        """Return the machines with guidance: how they start and in which order."""
        found = []
        for one in self.answer.covers:
            if not one.lap.by_eye:
                key = "guided who" if one.driver else "guided nobody"
                text = " ".join(
                    [
                        *([] if one.plan.first is None
                          else [say("en", "drive", heading=_drive(one.plan))]),
                        *self._way_lines(one.plan, last=True),
                        advised_sentence(
                            one.lap.advised, now_m=one.lap.overlap_m, system=self.system
                        ),
                        *self._joints(one, warns=True),
                        *missed_sentences(self.answer, one, self.system),
                    ]
                )  # fmt: skip
                title = say("en", key, machine=one.machine, driver=one.driver)
                found.append({"title": title, "text": text})
        return found

    def _by_eye(self, one: CoverField) -> dict[str, Any]:
        """Return what a driver without guidance needs: start, aim, order, count, check marks."""
        plan = one.plan
        told = by_eye_sentences(self.farm, self.answer, one)
        lines = [" ".join(told[:2])] if told else []
        lines.append(" ".join(self._way_lines(plan, last=True)))
        if one.count is not None:
            lines.append(" ".join(counted_sentences(one, self.system)))
        lines += told[2:]
        lines.append(advised_sentence(one.lap.advised, now_m=one.lap.overlap_m, system=self.system))
        lines += self._joints(one, warns=True)
        lines += missed_sentences(self.answer, one, self.system)
        key = "eye" if one.driver else "eye nobody"
        return {"title": say("en", key, machine=one.machine, driver=one.driver), "lines": lines}

    def _joints(self, one: CoverField, *, warns: bool) -> list[str]:
        """Return the warning of joints that pile up, or the remark that the angle avoids it."""
        if one.joints is None or one.joints.warns is not warns:
            return []
        told = joints_sentence(
            one.joints,
            spread_driving_width_m=self.answer.spread.plan.driving.driving_width_m,
            cover_spacing_m=one.plan.driving.driving_width_m,
            system=self.system,
        )
        return [told] if told else []

    def _fine(self) -> dict[str, Any]:
        """Return what is read at the table: ground as planned, skips, what more overlap costs."""
        rows = []
        for one in self.answer.covers:
            worked, lap = one.worked, one.lap
            rows.append(
                [
                    one.machine,
                    *(
                        _share(area_m2 / worked.area_m2)
                        for area_m2 in (worked.once_m2, worked.twice_m2, worked.missed_m2)
                    ),
                    _share_span(lap.skip_low_fraction, lap.skip_high_fraction),
                    minutes_text(one.clock_s),
                ]
            )
        return {
            "heads": [say("en", key) for key in _FINE_HEADS] if rows else [],
            "rows": rows,
            "lines": [say("en", "fine clock"), *self._owner_lines(), self._law()],
        }

    def _law(self) -> str:
        return f"{say('en', 'true north')} {local_law()}"

    def _owner_lines(self) -> list[str]:
        """Return what more overlap costs, what was tried, what the angle costs; first things first.

        Where the page is full the last of them are left out.
        """
        lines, shown = [], self.shown
        if shown is not None:
            told = more_lap_sentences(
                shown.more_day,
                more_m=shown.more_m,
                system=self.system,
                currency=self.farm.prices.currency,
                field=shown.more_field,
            )
            told += self._joints(shown, warns=False)
            lines.append(say("en", "fine lap", machine=shown.machine, text=" ".join(told)))
        tried = "; ".join(
            f"{line_words(heading_rad)} {minutes_text(work_s)}"
            for heading_rad, work_s in self.answer.spread.others
        )
        lines += [say("en", "tried", tried=tried)] if tried else []
        if shown is not None and self.answer.plan.angle is not None and self._is_turned(shown.plan):
            told = angle_sentences(
                self.answer.plan.angle, driven_rad=self.answer.plan.angle_rad,
                price=shown.price, system=self.system,
            )  # fmt: skip
            lines.append(" ".join(told))
        return lines

    # ------------------------------------------------------------------- the record

    def _acres(self) -> dict[str, Any]:
        field, known = self.answer.field, self.answer.acres

        def cell(area_m2: float | None) -> str:
            return "" if area_m2 is None else self.area(area_m2)

        notes = []
        if known is not None and known.differs:
            apart = number(100.0 * known.apart_fraction, 1)
            notes.append(say("en", "acres apart", apart=apart))
        if known is not None and known.payment_differs:
            notes.append(say("en", "acres left", area=self.area(field.left_out_m2)))
        return {
            "title": say("en", f"acres {self.system}"),
            "cells": [
                [say("en", "acres outline"), cell(field.area_m2)],
                [say("en", "acres driven"), cell(field.driven_area_m2)],
                [say("en", "acres office"), cell(field.office_area_m2)],
                [say("en", "acres record"), cell(field.record_area_m2)],
            ],
            "notes": notes,
        }

    def _come_back(self) -> dict[str, Any]:
        rows = []
        for one in self.answer.field.left_out:
            if one.come_back:
                text = say("en", "come back row", what=one.what, area=self.area(one.area_m2))
                rows.append(f"{text} ({one.note})" if one.note else text)
        return {
            "title": say("en", "come back"),
            "rows": rows,
            "done": say("en", "done on"),
        }

    def _blanks(self) -> list[str]:
        keys = ("started", "finished", f"area done {self.system}", "passes counted")
        return [say("en", key) for key in keys]


# --------------------------------------------------------------------------- small words


def _pages_count(sheet: Sheet, paper: PaperSize) -> int:
    """Return how many pages a sheet takes once it is set."""
    pdf = press(sheet, paper=paper, on=_ANY_DAY)
    return max(int(found) for found in re.findall(rb"/Type ?/Pages ?/Count (\d+)", pdf))


def _who(machine: str, driver: str) -> str:
    return f"{machine}, {driver}" if driver else machine


def _drive(plan: PassPlan) -> str:
    """Return the direction of the first pass in words and degrees; "" where rounds do it all."""
    return "" if plan.first is None else heading_words(plan.first.aim_rad)


def _turned(plan: PassPlan, spread: PassPlan) -> str:
    """Return how far one plan's passes are turned off another's: "5°"."""
    return f"{round(turned_deg(plan, spread))}°"


def _width(width_m: float, system: System) -> str:
    value, _ = to_display(width_m, "length", system)
    return show(width_m, "length", system, 0 if abs(value - round(value)) < 0.05 else 1)


def _share(fraction: float) -> str:
    if fraction < _NOTHING_FRACTION:
        return say("en", "nothing")
    return f"{100.0 * fraction:.1f} %"


def _share_span(low: float, high: float) -> str:
    if _share(low) == _share(high):
        return _share(low)
    return (
        say("en", "up to", high=_share(high))
        if low < _NOTHING_FRACTION
        else (f"{_share(low)} to {_share(high)}")
    )


def _lines_count(texts: Iterable[str], width: float, size: float = TYPE_PT) -> int:
    """Return how many lines texts take, one or more each."""
    return sum(max(1, math.ceil(1.03 * text_width(text, size) / width)) for text in texts)
