"""May I seed this field this way? What a careful neighbor would ask before the first field.

Questions with their figures, never verdicts: the office, the label and the law decide. The
sentences stand in ``duskline.words.check``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import shapely
from shapely.affinity import translate

from duskline.answers.check_season import season_questions
from duskline.answers.machines import cover_rate_m2_per_s
from duskline.answers.questions import SOURCES, Ask, Question, QuestionKey, Severity, Value
from duskline.answers.seed import LotAnswer, SeedAnswer, lot_fitness, seed_answer
from duskline.core.crew import SMALL_TRACTOR_W, YOUNGEST_DRIVER_YEARS
from duskline.core.errors import OutOfRange
from duskline.core.farm import (
    Acres,
    Cultivator,
    Edge,
    Farm,
    Field,
    LeftOut,
    Lot,
    Person,
    SpreaderNoun,
)
from duskline.core.light import daylight, local_midnight_at, moment_at
from duskline.core.seed import FitnessLevel
from duskline.core.trays import TrayTest, mean_pattern
from duskline.core.weather import first_rain_s, hours_between, rain_by

__all__ = [
    "SOURCES",
    "Ask",
    "CheckAnswer",
    "FieldAcres",
    "Question",
    "QuestionKey",
    "Severity",
    "Value",
    "check_answer",
    "field_acres",
]

RAIN_LOOK_AHEAD = timedelta(days=4)
WGS84_AXIS_M = 6_378_137.0
WGS84_ECCENTRICITY_2 = 6.694379990141e-3


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldAcres:
    """What one field's areas are by every measure, none of them altered.

    Attributes
    ----------
    field
        Its name.
    acres
        Outline, driven and office area side by side. [m2]
    record_m2
        The outline less what is left out: what may be put on the record. [m2]
    left_out
        The ground left out.
    apart
        The two stated figures that lie farthest apart, "outline", "driven" or "office".
    apart_fraction
        How far, as a share of the outline's (of the office's where the outline is neither).
    differs
        Whether that is more than the farm's limit.
    """

    field: str
    acres: Acres
    record_m2: float
    left_out: tuple[LeftOut, ...] = ()
    apart: tuple[str, str] | None = None
    apart_fraction: float = 0.0
    differs: bool = False

    @property
    def payment_differs(self) -> bool:
        """Whether the record's area is not the outline's, so that payment must be asked for."""
        return bool(self.left_out)


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckAnswer:
    """All questions, the gravest first; ``on`` is the day they were asked for.

    ``acres`` has the fields with more than their outline's area to tell, in the farm's order.
    """

    on: date | None
    questions: tuple[Question, ...]
    acres: tuple[FieldAcres, ...] = ()

    @property
    def come_back(self) -> tuple[LeftOut, ...]:
        """Ground to be done later, when it dries."""
        return tuple(one for row in self.acres for one in row.left_out if one.come_back)

    @property
    def stop(self) -> bool:
        """Whether something must be asked before the first field."""
        return any(one.severity is Severity.STOP_AND_ASK for one in self.questions)

    def of(self, severity: Severity) -> tuple[Question, ...]:
        """Return the questions of one severity."""
        return tuple(one for one in self.questions if one.severity is severity)


def check_answer(farm: Farm, today: date | None) -> CheckAnswer:
    """Return what to ask, and whom, before this farm's fields are seeded this way.

    Parameters
    ----------
    today
        The day the first field may be seeded; None for the season's first day, else that of the
        forecast, else of the stated windows. Without any of them, questions about days ask
        without counting.

    Notes
    -----
    A question is raised from what the farm folder says; nothing here says that a thing is
    allowed, will be accepted or will be paid. No question is no permission.

    Source
    ------
    ``SOURCES``, question by question.
    """
    on = today or _first_day(farm)
    seed, refused = _seed(farm)
    acres = field_acres(farm)
    found = (
        *_program_questions(farm, on),
        *_rate_questions(farm, seed),
        *refused,
        *_lot_questions(farm),
        *_saved_seed_questions(farm),
        *_bin_questions(seed),
        *_field_questions(farm, on),
        *_rain_questions(farm, on),
        *_overlap_questions(farm),
        *_acre_questions(acres),
        *_record_questions(farm),
        *_people_questions(farm),
        *_day_questions(farm, on),
        *season_questions(farm, on),
    )
    severities, keys = list(Severity), list(QuestionKey)
    ordered = sorted(found, key=lambda q: (severities.index(q.severity), keys.index(q.key)))
    return CheckAnswer(on=on, questions=tuple(ordered), acres=acres)


def _first_day(farm: Farm) -> date | None:
    if farm.season.first_on is not None:
        return farm.season.first_on
    if farm.forecast is not None and farm.forecast.hours_at:
        return farm.forecast.hours_at[0].astimezone(ZoneInfo(farm.time_zone)).date()
    return min((window.on for window in farm.windows if not window.closed), default=None)


def _seed(farm: Farm) -> tuple[SeedAnswer | None, tuple[Question, ...]]:
    """Return the seed answer, or the question about the figure that stands in its way."""
    try:
        return seed_answer(farm), ()
    except OutOfRange as wrong:
        return None, (_cannot_be(wrong),)


def _cannot_be(wrong: OutOfRange) -> Question:
    return Question(
        key=QuestionKey.FIGURE_CANNOT_BE,
        severity=Severity.STOP_AND_ASK,
        ask=Ask.CREW,
        subject=wrong.name,
        values={"value": wrong.value, "low": wrong.low, "high": wrong.high},
    )


# --------------------------------------------------------------------------- the program


def _has_program(farm: Farm) -> bool:
    program = farm.program
    return bool(
        program.name
        or program.method
        or program.sow_by
        or program.live_floor_kg_per_m2 is not None
        or program.tillage == "not allowed"
    )


def _program_questions(farm: Farm, on: date | None) -> Iterator[Question]:
    program = farm.program
    if not _has_program(farm):
        yield Question(key=QuestionKey.PROGRAM_NOT_STATED, severity=Severity.NOTE, ask=Ask.OFFICE)
        return
    names = {"program": program.name}
    if program.tillage != "allowed":
        forbidden = program.tillage == "not allowed"
        yield Question(
            key=QuestionKey.TILLAGE,
            severity=Severity.STOP_AND_ASK if forbidden else Severity.ASK,
            ask=Ask.OFFICE,
            values={**names, "forbidden": forbidden},
        )
    method = program.method.lower()
    if "broadcast" not in method and any(word in method for word in ("drill", "till")):
        yield Question(
            key=QuestionKey.METHOD,
            severity=Severity.STOP_AND_ASK,
            ask=Ask.OFFICE,
            values={**names, "method": program.method},
        )
    yield from _sow_by_questions(farm, on)


def _sow_by_questions(farm: Farm, on: date | None) -> Iterator[Question]:
    sow_by = farm.program.sow_by
    if sow_by is None:
        return
    values: dict[str, Value] = {"program": farm.program.name, "sow_by": sow_by}
    late = tuple(
        one.name
        for one in farm.fields
        if one.ready_at is not None and _local_date(farm, one.ready_at) > sow_by
    )
    if late:
        yield Question(
            key=QuestionKey.READY_AFTER_SOW_BY,
            severity=Severity.STOP_AND_ASK,
            ask=Ask.OFFICE,
            values={**values, "fields": late},
        )
    if on is None:
        return
    days = (sow_by - on).days
    if days < 0:
        yield Question(
            key=QuestionKey.SOW_BY_PASSED,
            severity=Severity.STOP_AND_ASK,
            ask=Ask.OFFICE,
            values={**values, "days": -days},
        )
    elif days <= farm.defaults["sow_by_near_days"].value:
        earlier = farm.defaults["sow_by_broadcast_earlier_days"]
        yield Question(
            key=QuestionKey.SOW_BY_NEAR,
            severity=Severity.ASK,
            ask=Ask.OFFICE,
            values={
                **values,
                "days": days,
                "earlier_low_days": earlier.low,
                "earlier_high_days": earlier.high,
            },
        )


def _local_date(farm: Farm, moment: datetime) -> date:
    return moment.astimezone(ZoneInfo(farm.time_zone)).date()


def _earliest(farm: Farm, one: Field, on: date | None) -> date | None:
    """Return the first day a field can be seeded on."""
    ready = _local_date(farm, one.ready_at) if one.ready_at is not None else None
    days = [day for day in (on, ready) if day is not None]
    return max(days, default=None)


# --------------------------------------------------------------------------- seed


def _rate_questions(farm: Farm, seed: SeedAnswer | None) -> Iterator[Question]:
    for answer in seed.lots if seed is not None else ():
        floor = answer.floor
        if floor is not None and not floor.met:
            yield Question(
                key=QuestionKey.RATE_BELOW_FLOOR,
                severity=Severity.STOP_AND_ASK,
                ask=Ask.OFFICE,
                subject=answer.lot.name,
                values={
                    "program": farm.program.name,
                    "live_kg_per_m2": floor.live_kg_per_m2,
                    "floor_kg_per_m2": floor.floor_live_kg_per_m2,
                    "short_live_kg_per_m2": floor.short_live_kg_per_m2,
                    "add_bulk_kg_per_m2": floor.short_bulk_kg_per_m2,
                },
            )
        if answer.lot.parts and farm.program.live_floor_kg_per_m2 is not None:
            yield Question(
                key=QuestionKey.MIX_AND_FLOOR,
                severity=Severity.ASK,
                ask=Ask.OFFICE,
                subject=answer.lot.name,
                values={
                    "program": farm.program.name,
                    "parts": answer.lot.parts,
                    "floor_kg_per_m2": farm.program.live_floor_kg_per_m2,
                },
            )


def _sown_lots(farm: Farm) -> tuple[Lot, ...]:
    """Return the lots and mixes that fields are sown with, each once."""
    names = dict.fromkeys(farm.lot(one.lot).name for one in farm.fields)
    return tuple(farm.lot(name) for name in names)


def _seed_lots(farm: Farm) -> tuple[Lot, ...]:
    """Return the plain lots that come into the spreader, mixes taken apart."""
    names: dict[str, None] = {}
    for lot in _sown_lots(farm):
        names |= dict.fromkeys(lot.parts or (lot.name,))
    return tuple(farm.lot(name) for name in names)


def _lot_questions(farm: Farm) -> Iterator[Question]:
    for lot in _seed_lots(farm):
        yield from _germination_questions(farm, lot)
        if lot.treated:
            yield Question(
                key=QuestionKey.TREATED_SEED,
                severity=Severity.ASK,
                ask=Ask.LABEL,
                subject=lot.name,
            )
        if lot.insects is not None and lot.insects.weevils_count + lot.insects.others_count:
            yield Question(
                key=QuestionKey.INSECTS,
                severity=Severity.ASK,
                ask=Ask.EXTENSION,
                subject=lot.name,
                values={
                    "weevils_count": lot.insects.weevils_count,
                    "others_count": lot.insects.others_count,
                    "sample_kg": lot.insects.sample_kg,
                },
            )
    sown = {lot.name for lot in (*_sown_lots(farm), *_seed_lots(farm))}
    for lot in farm.lots:
        if lot.name not in sown:
            yield Question(
                key=QuestionKey.LOT_UNUSED,
                severity=Severity.NOTE,
                ask=Ask.CREW,
                subject=lot.name,
            )
    yield from _lot_not_stated(farm)


def _germination_questions(farm: Farm, lot: Lot) -> Iterator[Question]:
    fit = lot_fitness(farm, lot)
    usual = farm.defaults["office_germination_floor"].value
    values: dict[str, Value] = {
        "program": farm.program.name,
        "germination_fraction": fit.germination_fraction,
        "usual_fraction": usual,
        "agreed_by": lot.agreed_by,
        "agreed_on": lot.agreed_on,
    }

    def question(key: QuestionKey, severity: Severity, ask: Ask = Ask.OFFICE) -> Question:
        return Question(key=key, severity=severity, ask=ask, subject=lot.name, values=values)

    if fit.level is FitnessLevel.DO_NOT:
        yield question(QuestionKey.GERMINATION_TOO_LOW, Severity.STOP_AND_ASK, Ask.EXTENSION)
    elif fit.waiting:
        yield question(QuestionKey.GERMINATION_NEEDS_AGREEMENT, Severity.STOP_AND_ASK)
    elif fit.agreement is not None:
        yield question(QuestionKey.GERMINATION_AGREED, Severity.NOTE)
    elif fit.germination_fraction < usual and _has_program(farm):
        yield question(QuestionKey.GERMINATION_UNDER_USUAL, Severity.ASK)


def _saved_seed_questions(farm: Farm) -> Iterator[Question]:
    """Ask about saved seed once for the farm, and about its test where a program is stated."""
    saved = tuple(lot.name for lot in _seed_lots(farm) if "certified" not in lot.origin.lower())
    if not saved:
        return
    unnamed = tuple(name for name in saved if not farm.lot(name).variety)
    yield Question(
        key=QuestionKey.SAVED_SEED,
        severity=Severity.ASK,
        ask=Ask.LABEL,
        values={"lots": saved, "unnamed": unnamed},
    )
    if _has_program(farm):
        yield Question(
            key=QuestionKey.LABORATORY_TEST,
            severity=Severity.ASK,
            ask=Ask.OFFICE,
            values={"program": farm.program.name, "lots": saved},
        )


def _lot_not_stated(farm: Farm) -> Iterator[Question]:
    """Ask where a field names no lot though there is more than one to choose from."""
    if len({lot.name for lot in farm.lots} - {part for lot in farm.lots for part in lot.parts}) < 2:
        return
    fields = tuple(one.name for one in farm.fields if one.lot is None)
    if fields:
        yield Question(
            key=QuestionKey.LOT_NOT_STATED,
            severity=Severity.ASK,
            ask=Ask.CREW,
            values={"fields": fields, "lot": farm.lot(None).name},
        )


def _bin_questions(seed: SeedAnswer | None) -> Iterator[Question]:
    for answer in seed.lots if seed is not None else ():
        if answer.bin is not None and not answer.bin.enough:
            yield Question(
                key=QuestionKey.BIN_SHORT,
                severity=Severity.ASK,
                ask=Ask.CREW,
                subject=answer.bin.lot,
                values=_bin_values(answer),
            )


def _bin_values(answer: LotAnswer) -> dict[str, Value]:
    if answer.bin is None:
        return {}
    held = answer.bin.sufficiency
    return {
        "mass_kg": held.mass_kg,
        "needed_kg": held.needed_kg,
        "does_m2": held.area_it_does_m2,
        "area_m2": held.area_needed_m2,
    }


# --------------------------------------------------------------------------- fields


def _field_questions(farm: Farm, on: date | None) -> Iterator[Question]:
    for one in farm.fields:
        yield from _herbicide_questions(farm, one, on)
        if one.erodible:
            yield Question(
                key=QuestionKey.ERODIBLE,
                severity=Severity.ASK,
                ask=Ask.OFFICE,
                subject=one.name,
            )
        for edge in one.edges:
            yield from _edge_questions(farm, one, edge)
    yield from _fly_questions(farm, on)


def _herbicide_questions(farm: Farm, one: Field, on: date | None) -> Iterator[Question]:
    sown = _earliest(farm, one, on)
    for product in one.herbicides:
        over = product.applied_on + timedelta(days=product.interval_days)
        left = (over - sown).days if sown is not None else None
        if left is not None and left <= 0:
            continue
        yield Question(
            key=QuestionKey.HERBICIDE,
            severity=Severity.ASK if left is None else Severity.STOP_AND_ASK,
            ask=Ask.LABEL,
            subject=one.name,
            values={
                "product": product.name,
                "applied_on": product.applied_on,
                "interval_days": product.interval_days,
                "over_on": over,
                "days": left,
                "sown_on": sown,
            },
        )


def _fly_questions(farm: Farm, on: date | None) -> Iterator[Question]:
    wheat = [one for one in farm.fields if _has_wheat(farm, farm.lot(one.lot))]
    free = farm.program.fly_free_date
    if not wheat:
        return
    if free is None:
        yield Question(
            key=QuestionKey.FLY_FREE_NOT_STATED,
            severity=Severity.NOTE,
            ask=Ask.EXTENSION,
            values={"fields": tuple(one.name for one in wheat)},
        )
        return
    early = tuple(
        one.name for one in wheat if (day := _earliest(farm, one, on)) is None or day < free
    )
    if early:
        yield Question(
            key=QuestionKey.FLY_FREE,
            severity=Severity.ASK,
            ask=Ask.EXTENSION,
            values={"fields": early, "fly_free": free, "on": on},
        )


def _has_wheat(farm: Farm, lot: Lot) -> bool:
    return any(farm.lot(name).species.lower() == "wheat" for name in lot.parts or (lot.name,))


EDGE_ASKS = {
    "organic": (Severity.ASK, Ask.NEIGHBOR),
    "seed crop": (Severity.ASK, Ask.NEIGHBOR),
    "water": (Severity.ASK, Ask.OFFICE),
    "ditch": (Severity.NOTE, Ask.OFFICE),
    "road": (Severity.NOTE, Ask.CREW),
    "home": (Severity.NOTE, Ask.NEIGHBOR),
}


def _edge_questions(farm: Farm, one: Field, edge: Edge) -> Iterator[Question]:
    severity, ask = EDGE_ASKS.get(edge.kind, (Severity.NOTE, Ask.NEIGHBOR))
    lot = farm.lot(one.lot)
    tests = _tray_tests(farm, lot)
    widths = [spreader.driving_width_m for spreader in farm.spreaders]
    values: dict[str, Value] = {
        "side": edge.side,
        "kind": edge.kind,
        "note": edge.note,
        "reach_m": max(map(_farthest_catch_m, tests), default=None),
        "reaches_farther": any(map(_throws_past_trays, tests)),
        "driving_width_m": max(widths, default=None),
    }
    yield Question(
        key=QuestionKey.EDGE, severity=severity, ask=ask, subject=one.name, values=values
    )
    treated = any(farm.lot(name).treated for name in lot.parts or (lot.name,))
    if treated and edge.kind in {"water", "ditch"}:
        yield Question(
            key=QuestionKey.TREATED_NEAR_WATER,
            severity=Severity.STOP_AND_ASK,
            ask=Ask.LABEL,
            subject=one.name,
            values={**values, "lot": lot.name},
        )


def _tray_tests(farm: Farm, lot: Lot) -> list[TrayTest]:
    """Return the tray tests of a lot or its parts; else the farm's own ``trays.csv``."""
    named = [farm.lot(name).trays for name in (lot.name, *lot.parts)]
    tests = [farm.trays[name] for name in named if name is not None and name in farm.trays]
    if not tests:
        tests = [test for name, test in farm.trays.items() if name == "trays.csv"]
    return tests


def _farthest_catch_m(test: TrayTest) -> float:
    """Return how far from its driving line the spreader was seen to throw. [m]"""
    caught = mean_pattern(test).catch
    spacing_m = test.positions_m[1] - test.positions_m[0]
    return max(
        abs(place) + spacing_m / 2.0
        for place, amount in zip(test.positions_m, caught, strict=True)
        if amount > 0.0
    )


def _throws_past_trays(test: TrayTest) -> bool:
    """Say whether an end tray caught seed, so that the throw is longer than the row."""
    caught = mean_pattern(test).catch
    return caught[0] > 0.0 or caught[-1] > 0.0


def _rain_questions(farm: Farm, on: date | None) -> Iterator[Question]:
    """Name the fields that carry nothing after rain, where the forecast has rain."""
    fields = tuple(one.name for one in farm.fields if one.not_after_rain)
    if not fields or farm.forecast is None or on is None:
        return
    start_at = local_midnight_at(on, ZoneInfo(farm.time_zone))
    hours = hours_between(farm.forecast, start_at=start_at, end_at=start_at + RAIN_LOOK_AHEAD)
    depth_m = farm.defaults["measurable_rain"].value
    chance = rain_by(
        hours, from_s=0.0, by_s=RAIN_LOOK_AHEAD.total_seconds(), rain_threshold_m=depth_m
    ).shared_fraction
    if chance <= farm.defaults["rain_chance_none"].value + 1e-9:
        return
    begins_s = first_rain_s(
        hours,
        rain_threshold_m=depth_m,
        rain_chance_limit_fraction=farm.defaults["rain_chance_limit"].value,
        after_s=0.0,
    )
    yield Question(
        key=QuestionKey.NOT_AFTER_RAIN,
        severity=Severity.NOTE,
        ask=Ask.CREW,
        values={
            "fields": fields,
            "chance_fraction": chance,
            "rain_at": moment_at(start_at, begins_s) if begins_s is not None else None,
        },
    )


def _overlap_questions(farm: Farm) -> Iterator[Question]:
    """Name pairs of outlines that share ground, as it may be sown and paid for twice."""
    fields = [one for one in farm.fields if one.outline is not None]
    home = (farm.longitude_deg, farm.latitude_deg)
    shapes = [_moved(one, home) for one in fields]
    tree = shapely.STRtree(shapes)
    limit = farm.defaults["outline_overlap_noted"].value
    for first, one in enumerate(fields):
        for second in sorted(tree.query(shapes[first], predicate="intersects").tolist()):
            if second <= first:
                continue
            other = fields[second]
            shared_m2 = _moved(one, one.centre).intersection(_moved(other, one.centre)).area
            share = shared_m2 / min(one.area_m2, other.area_m2)
            if share > limit:
                yield Question(
                    key=QuestionKey.OUTLINES_OVERLAP,
                    severity=Severity.ASK,
                    ask=Ask.CREW,
                    subject=one.name,
                    values={"other": other.name, "shared_m2": shared_m2, "share_fraction": share},
                )


def field_acres(farm: Farm) -> tuple[FieldAcres, ...]:
    """Return the areas of every field that states more than its outline, side by side. [m2]

    Source
    ------
    The limit beyond which two figures are said to differ is the default ``acres_differ``.
    """
    limit = farm.defaults["acres_differ"].value
    return tuple(
        _acres_of(one, limit)
        for one in farm.fields
        if one.driven_area_m2 is not None or one.office_area_m2 is not None or one.left_out
    )


def _acres_of(one: Field, limit: float) -> FieldAcres:
    stated = {
        "outline": one.area_m2,
        "office": one.office_area_m2,
        "driven": one.driven_area_m2,
    }
    known = [(name, area_m2) for name, area_m2 in stated.items() if area_m2 is not None]
    pairs = [
        (abs(other_m2 - area_m2) / area_m2, (name, other))
        for index, (name, area_m2) in enumerate(known)
        for other, other_m2 in known[index + 1 :]
    ]
    share, apart = max(pairs, default=(0.0, None))
    return FieldAcres(
        field=one.name,
        acres=one.acres,
        record_m2=one.record_area_m2,
        left_out=one.left_out,
        apart=apart,
        apart_fraction=share,
        differs=share > limit,
    )


def _acre_questions(acres: tuple[FieldAcres, ...]) -> Iterator[Question]:
    """Name areas that lie apart with both figures, and ground that comes off the record."""
    for row in acres:
        values: dict[str, Value] = {
            "outline_m2": row.acres.outline_m2,
            "driven_m2": row.acres.driven_m2,
            "office_m2": row.acres.office_m2,
        }
        if row.differs and row.apart is not None:
            yield Question(
                key=QuestionKey.ACRES_DIFFER,
                severity=Severity.ASK,
                ask=Ask.OFFICE if "office" in row.apart else Ask.CREW,
                subject=row.field,
                values={
                    **values,
                    "one": row.apart[0],
                    "one_m2": values[f"{row.apart[0]}_m2"],
                    "other": row.apart[1],
                    "other_m2": values[f"{row.apart[1]}_m2"],
                    "share_fraction": row.apart_fraction,
                },
            )
        if row.left_out:
            yield Question(
                key=QuestionKey.LEFT_OUT,
                severity=Severity.ASK,
                ask=Ask.OFFICE,
                subject=row.field,
                values={
                    **values,
                    "left_out_m2": sum(one.area_m2 for one in row.left_out),
                    "record_m2": row.record_m2,
                    "what": tuple(one.what for one in row.left_out),
                    "come_back": tuple(one.what for one in row.left_out if one.come_back),
                },
            )


def _moved(one: Field, origin: tuple[float, float]) -> shapely.Polygon:
    """Return a field's outline in metres east and north of another place near by.

    Lengths of a degree are those of the WGS 84 ellipsoid at the middle latitude, right to
    centimetres between neighboring fields.
    """
    if one.outline is None:
        return shapely.Polygon()
    middle_rad = math.radians((one.centre[1] + origin[1]) / 2.0)
    bent = 1.0 - WGS84_ECCENTRICITY_2 * math.sin(middle_rad) ** 2
    across_m = WGS84_AXIS_M / math.sqrt(bent) * math.cos(middle_rad)
    along_m = WGS84_AXIS_M * (1.0 - WGS84_ECCENTRICITY_2) / bent**1.5
    east_deg = (one.centre[0] - origin[0] + 180.0) % 360.0 - 180.0
    moved: shapely.Polygon = translate(
        one.outline.shape,
        xoff=across_m * math.radians(east_deg),
        yoff=along_m * math.radians(one.centre[1] - origin[1]),
    )
    return moved


def _record_questions(farm: Farm) -> Iterator[Question]:
    """Name what the evening's record will lack."""
    values: dict[str, Value] = {"program": farm.program.name}
    without_crop = tuple(one.name for one in farm.fields if not one.previous_crop)
    if without_crop:
        yield Question(
            key=QuestionKey.PREVIOUS_CROP_MISSING,
            severity=Severity.NOTE,
            ask=Ask.CREW,
            values={**values, "fields": without_crop},
        )
    unnumbered = tuple(
        one.name for one in farm.fields if not (one.farm_no and one.tract_no and one.field_no)
    )
    if unnumbered and farm.program.name:
        yield Question(
            key=QuestionKey.NUMBERS_MISSING,
            severity=Severity.NOTE,
            ask=Ask.OFFICE,
            values={**values, "fields": unnumbered},
        )


# --------------------------------------------------------------------------- people and the day


def _people_questions(farm: Farm) -> Iterator[Question]:
    adult = farm.defaults["adult_helper_years"].value
    for person in farm.people:
        if person.age_years is None or person.age_years >= adult:
            continue
        values: dict[str, Value] = {"age": person.age_years}
        machines = _machines_too_big(farm, person)
        loads = any(truck.driver == person.name for truck in farm.seed_trucks)
        loads = loads or "truck" in person.role.lower() or "load" in person.role.lower()
        if machines:
            yield Question(
                key=QuestionKey.TOO_YOUNG_TO_DRIVE,
                severity=Severity.STOP_AND_ASK,
                ask=Ask.LAW,
                subject=person.name,
                values={**values, "machines": machines},
            )
        if loads and person.age_years < YOUNGEST_DRIVER_YEARS:
            yield Question(
                key=QuestionKey.TOO_YOUNG_TO_LOAD,
                severity=Severity.STOP_AND_ASK,
                ask=Ask.LAW,
                subject=person.name,
                values=values,
            )
        yield Question(
            key=QuestionKey.YOUNG_HELPER,
            severity=Severity.NOTE,
            ask=Ask.CREW,
            subject=person.name,
            values=values,
        )


def _machines(farm: Farm) -> Iterator[SpreaderNoun | Cultivator]:
    yield from farm.spreaders
    yield from farm.cultivators


def _machines_too_big(farm: Farm, person: Person) -> tuple[str, ...]:
    """Return the machines that somebody under 16 is named for; small tractors left out."""
    if person.age_years is None or person.age_years >= YOUNGEST_DRIVER_YEARS:
        return ()
    power_w = {tractor.name: tractor.pto_power_w for tractor in farm.tractors}

    def small(machine: SpreaderNoun | Cultivator) -> bool:
        power = power_w.get(machine.tractor or "")
        return power is not None and power <= SMALL_TRACTOR_W

    return tuple(
        machine.name
        for machine in _machines(farm)
        if (machine.driver == person.name or machine.name in person.drives) and not small(machine)
    )


def _day_questions(farm: Farm, on: date | None) -> Iterator[Question]:
    if on is not None and not farm.rules.home_before_dark:
        yield from _road_questions(farm, on)
    if not farm.emergency_location.strip():
        yield Question(key=QuestionKey.NO_EMERGENCY_PLACE, severity=Severity.ASK, ask=Ask.CREW)
    low = farm.defaults["sure_low"].value
    if farm.rules.sure_fraction < low - 1e-9:
        yield Question(
            key=QuestionKey.LOW_SURENESS,
            severity=Severity.NOTE,
            ask=Ask.CREW,
            values={"sure_fraction": farm.rules.sure_fraction, "usual_fraction": low},
        )
    yield from _efficiency_questions(farm)


def _road_questions(farm: Farm, on: date) -> Iterator[Question]:
    light = daylight(farm.latitude_deg, farm.longitude_deg, on, ZoneInfo(farm.time_zone))
    if light.sunset_at is None:
        return
    lit = {tractor.name: tractor.lights for tractor in farm.tractors}
    unlit = tuple(
        machine.name for machine in _machines(farm) if lit.get(machine.tractor or "") is False
    )
    yield Question(
        key=QuestionKey.ROAD_IN_DARK,
        severity=Severity.ASK if unlit else Severity.NOTE,
        ask=Ask.CREW,
        values={"sunset_at": light.sunset_at, "machines": unlit},
    )


def _efficiency_questions(farm: Farm) -> Iterator[Question]:
    """Name the machines that run on the wide default, and a remembered day that cannot be."""
    unknown: list[str] = []
    for machine in farm.cultivators:
        try:
            if cover_rate_m2_per_s(farm, machine).is_default:
                unknown.append(machine.name)
        except OutOfRange as wrong:
            yield _cannot_be(wrong)
    unknown += [
        spreader.name
        for spreader in farm.spreaders
        if farm.figures[f"spreader.{spreader.name}.efficiency"].is_default
    ]
    if unknown:
        default = farm.defaults["clock_efficiency"]
        yield Question(
            key=QuestionKey.DEFAULT_EFFICIENCY,
            severity=Severity.NOTE,
            ask=Ask.CREW,
            values={
                "machines": tuple(unknown),
                "low_fraction": default.low,
                "high_fraction": default.high,
            },
        )
