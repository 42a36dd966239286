"""How a field is driven, in sentences: spreader, covering machines, edges, ground."""

from __future__ import annotations

import math
from collections.abc import Sequence

from duskline.answers.drive import EdgePlan
from duskline.answers.field import CoverField, FieldAnswer, SpreadField
from duskline.answers.working import Figure
from duskline.core.farm import Farm, LeftOut
from duskline.core.passes import PassPlan
from duskline.units import System, number, show, show_span
from duskline.words.aim import (
    aim_sentence,
    check_mark_sentences,
    compass_deg,
    corner_name,
    count_sentences,
    heading_words,
    order_sentence,
    rounds_sentence,
    side_name,
)
from duskline.words.lap import (
    advised_sentence,
    angle_sentences,
    joints_sentence,
    minutes_text,
    more_lap_sentences,
    skip_sentence,
)
from duskline.words.sides import edge_sentences, heading_reasons, not_found_sentence

__all__ = [
    "acres_sentences",
    "by_eye_sentences",
    "cover_lines",
    "edges_lines",
    "field_headline",
    "ground_lines",
    "left_out_sentences",
    "line_words",
    "loads_lines",
    "minutes_line",
    "saving_sentence",
    "spread_lines",
    "turned_deg",
]

_ROUND_DEG = 0.05
_CRUMB_M2 = 20.0
_TOLD_S = 30.0


def line_words(heading_rad: float) -> str:
    """Return the line of passes as a driver says it: "east and west (90°)".

    Parameters
    ----------
    heading_rad
        Counter-clockwise from east. [rad]
    """
    # A hair under half a turn is north and south, 0 degrees, like a hair over none.
    degrees = round(compass_deg(heading_rad), 1) % 180.0
    shown = number(degrees, 0) if abs(degrees - round(degrees)) < _ROUND_DEG else f"{degrees:.1f}"
    winds = (
        "north and south",
        "north-east and south-west",
        "east and west",
        "north-west and south-east",
    )
    return f"{winds[round(degrees / 45.0) % 4]} ({shown}°)"


def turned_deg(cover: PassPlan, spread: PassPlan) -> float:
    """Return the angle between covering and spread passes in the largest part. [deg]"""
    off = math.degrees(cover.heading_rad - spread.heading_rad) % 180.0
    return min(off, 180.0 - off)


def field_headline(answer: FieldAnswer) -> str:
    """Return the one line: both lines of driving."""
    alone = not answer.spread.plan.passes_count
    spread = f"Spread {line_words(answer.spread.plan.heading_rad)}"
    if alone:
        spread = "Spread in rounds alone"
    if answer.cover is None:
        return spread
    if alone or not answer.cover.plan.passes_count:
        return f"{spread}; cover in rounds alone" if not answer.cover.plan.passes_count else spread
    turned = turned_deg(answer.cover.plan, answer.spread.plan)
    return f"{spread}; cover {number(turned, 0)}° off it"


def minutes_line(work_s: float, clock_s: float) -> str:
    """Return the time at the wheel as planned, and what the farm's own clock makes of it."""
    text = f"{minutes_text(work_s)} of driving and turning"
    if clock_s > work_s * 1.05:
        return f"{text}; {minutes_text(clock_s)} by the clock, at this machine's rate on this farm"
    return text


def saving_sentence(one: SpreadField) -> str:
    """Return what this heading saves against the longest side, and whether that means anything."""
    longest = show_span(round(one.plan.longest_edge_s / 60.0) * 60.0)
    here = show_span(round(one.plan.work_s / 60.0) * 60.0)
    if one.saved_s < -_TOLD_S:
        return f"{here}; along the longest side it would be {longest}."
    if one.saved_s < 1.0:
        return f"Along the longest side, {longest}: nothing tried was quicker."
    if one.saving_is_noise:
        return (
            f"{here} against {longest} along the longest side: too little to tell; drive whichever "
            "you like."
        )
    if len(one.plan.blocks) > 1:
        return f"{here} in {len(one.plan.blocks)} parts, against {longest} along the longest side."
    return f"{here} against {longest} along the longest side."


def _others(one: SpreadField) -> list[str]:
    """Return the time along other sides: what the heading was chosen from."""
    told = [
        f"{line_words(heading_rad)} {show_span(round(work_s / 60.0) * 60.0)}"
        for heading_rad, work_s in one.others
    ]
    return [f"Tried as well: {'; '.join(told)}."] if told else []


def _turn_room(plan: PassPlan, system: System) -> str:
    need = show(plan.driving.room_m(plan.order), "length", system, 0)
    have = show(plan.headland_m, "length", system, 0)
    if plan.turns_fit:
        return f"A turn needs {need} of room; the headland has {have}."
    return f"A turn needs {need} of room and this field leaves {have}: back up, or turn outside it."


def spread_lines(farm: Farm, answer: FieldAnswer, one: SpreadField) -> list[str]:
    """Return what the spreader's driver needs in this field."""
    system, plan = farm.system, one.plan
    width = show(plan.driving.driving_width_m, "length", system)
    runs = "" if len(plan.passes_m) == plan.passes_count else f" in {len(plan.passes_m)} runs"
    lines = [f"{minutes_line(plan.work_s, one.clock_s)}, filling not counted."]
    if plan.passes_count:
        lines = [
            f"{line_words(plan.heading_rad)}, {plan.passes_count} passes{runs}, {width} from pass "
            "to pass.",
            *lines,
            saving_sentence(one),
            *_others(one),
        ]
    else:
        lines.insert(0, f"Rounds alone do this field, {width} from round to round.")
    lines += [
        rounds_sentence(plan.rounds_count, last=False, holes=bool(answer.plan.outline.holes_m)),
    ]
    if len(plan.passes_m) > 1:
        lines.append(order_sentence(plan.order.way, step=plan.order.step))
    if not plan.turns_fit:
        lines.append(_turn_room(plan, system))
    lines += _over_edge(one.over_edge_count, plan)
    lines += _parts(plan)
    if answer.plan.kept is not None:
        lines += heading_reasons(answer.plan.kept)
    lines.append(_fuel(one.fuel_m3, system))
    return lines


def _over_edge(count: int, plan: PassPlan) -> list[str]:
    """Return how many turns go over the edge when swung the plain way."""
    if not count:
        return []
    return [
        f"In {count} of {plan.turns_count} turns a plain swing goes over the edge: swing inward "
        "first, or back up."
    ]


def _parts(plan: PassPlan) -> list[str]:
    """Return the parts of a field and their headings, where it has several."""
    if len(plan.blocks) == 1:
        return []
    middles = [block.region.centroid for block in plan.blocks]
    mean_x = sum(one.x for one in middles) / len(middles)
    mean_y = sum(one.y for one in middles) / len(middles)
    names = []
    for block, middle in zip(plan.blocks, middles, strict=True):
        away = math.atan2(middle.y - mean_y, middle.x - mean_x)
        side = heading_words(away).split(" (")[0].split(",")[0]
        names.append(f"the {side} part {line_words(block.heading_rad)}")
    return [f"In {len(names)} parts: {'; '.join(names)}."]


def _fuel(fuel: Figure, system: System) -> str:
    litres = float(fuel.value)
    text = f"Fuel about {show(litres, 'fuel volume', system, 0)}"
    if fuel.low is not None and fuel.high is not None:
        low, high = (show(x, "fuel volume", system, 0) for x in (fuel.low, fuel.high))
        return f"{text} ({low} to {high}, a book figure until your own tank says)."
    return f"{text}, by your own tank."


def loads_lines(farm: Farm, one: SpreadField) -> list[str]:
    """Return each load, what it does, and where the spreader runs empty."""
    system = farm.system
    lines = []
    for number_, load in enumerate(one.loads, start=1):
        mass = show(load.mass_kg, "mass", system)
        area = show(load.area_m2, "area", system)
        where = _run_name(one, load.last_index)
        if not load.at_run_end:
            where = f"in the middle of {where}: no way round it with this hopper"
        elif number_ == len(one.loads):
            where = f"at the end of {where}, the field is done"
        else:
            where = f"at the end of {where}"
        lines.append(f"Load {number_}: {mass}, {area}; empty {where}.")
    return lines


def _run_name(one: SpreadField, index: int) -> str:
    if index < one.first_run_index:
        return f"headland leg {index + 1}"
    return f"run {index - one.first_run_index + 1}"


def edges_lines(farm: Farm, answer: FieldAnswer) -> list[str]:
    """Return what each flagged edge asks of the spreader."""
    lines = []
    for plan in answer.plan.edges:
        if not plan.sides:
            lines.append(
                not_found_sentence(
                    word=plan.edge.side, kind=plan.edge.kind, understood=plan.understood
                )
            )
            continue
        lines.append(" ".join(_edge(farm, plan, answer.spread.rate_kg_per_m2)))
    if answer.plan.unseeded_m2 > _CRUMB_M2 and lines:
        area = show(answer.plan.unseeded_m2, "area", farm.system, 2)
        lines.append(f"In all {area} along these edges gets no seed of its own.")
    return lines


def _edge(farm: Farm, plan: EdgePlan, rate_kg_per_m2: float) -> list[str]:
    return edge_sentences(
        plan.first,
        side=plan.edge.side,
        kind=plan.edge.kind,
        dose=plan.dose,
        thin_below_fraction=farm.defaults["edge_thin_below"].value,
        system=farm.system,
        rate_kg_per_m2=rate_kg_per_m2,
        row_too_short=plan.row_too_short,
        wind_towards=plan.blown_m > 0.0,
    )


def by_eye_sentences(farm: Farm, answer: FieldAnswer, one: CoverField) -> list[str]:
    """Return where pass 1 starts, what to aim at, and the marks to check by."""
    first = one.plan.first
    if first is None:
        return []
    pace = farm.defaults["pace"].value
    within_m = farm.defaults["straight_within"].value
    outline = answer.plan.outline
    lines = [
        aim_sentence(outline, first, farm.system, straight_within_m=within_m, pace_m=pace),
        f"Drive {heading_words(first.aim_rad)}.",
    ]
    if one.marks is None:
        return lines
    corner = corner_name(outline, one.marks.corner_m, straight_within_m=within_m)
    side = side_name(one.marks.side)
    if one.plan.order.way == "lands":
        far = show(one.marks.marks[0].from_corner_m, "length", farm.system, 0)
        lines.append(
            f"The other land begins {far} from {corner} along the {side} side: set a flag there."
        )
        return lines
    return [
        *lines,
        *check_mark_sentences(one.marks.marks, farm.system, corner=corner, side=side, pace_m=pace),
    ]


def cover_lines(farm: Farm, answer: FieldAnswer, one: CoverField) -> list[str]:
    """Return what the driver of a covering machine needs in this field."""
    system, plan = farm.system, one.plan
    noun = next(c for c in farm.cultivators if c.name == one.machine)
    turned = turned_deg(plan, answer.spread.plan)
    runs = "" if len(plan.passes_m) == plan.passes_count else f" in {len(plan.passes_m)} runs"
    spacing = show(plan.driving.driving_width_m, "length", system)
    way = (
        f"{line_words(plan.heading_rad)}, turned {number(turned, 0)}° off the spread passes; "
        f"{plan.passes_count} passes{runs}, {spacing} from pass to pass."
    )
    if not plan.passes_count:
        way = f"Rounds alone do this field, {spacing} from round to round."
    lines = [way, f"{minutes_line(plan.work_s, one.clock_s)}."]
    if len(plan.passes_m) > 1:
        lines.append(order_sentence(plan.order.way, step=plan.order.step))
    lines += [
        rounds_sentence(plan.rounds_count, last=True, holes=bool(answer.plan.outline.holes_m)),
        *([_turn_room(plan, system)] if plan.passes_count else []),
        *_over_edge(one.over_edge_count, plan),
        *by_eye_sentences(farm, answer, one),
    ]
    if one.count is not None:
        lines += count_sentences(one.count, system)
    lines += [
        advised_sentence(one.lap.advised, now_m=one.lap.overlap_m, system=system),
        skip_sentence(
            one.lap.skip_fraction,
            low_fraction=one.lap.skip_low_fraction,
            high_fraction=one.lap.skip_high_fraction,
        ),
        *more_lap_sentences(
            one.more_day,
            more_m=one.more_m,
            system=system,
            currency=farm.prices.currency,
            field=one.more_field,
        ),
    ]
    if one.joints is not None:
        warning = joints_sentence(
            one.joints,
            spread_driving_width_m=answer.spread.plan.driving.driving_width_m,
            cover_spacing_m=noun.working_width_m,
            system=system,
        )
        lines += [warning] if warning else []
    if answer.plan.angle is not None and one is answer.cover:
        lines += angle_sentences(
            answer.plan.angle, driven_rad=math.radians(turned), price=one.price, system=system
        )
    lines.append(_fuel(one.fuel_m3, system))
    return lines


def ground_lines(answer: FieldAnswer, system: System) -> list[str]:
    """Return what is worked once, twice and missed as planned, and the field's areas."""
    lines = []
    for one in answer.covers:
        ground = one.worked
        missed = show(ground.missed_m2, "area", system, 2)
        lines.append(
            f"{one.machine}, as planned: worked once {_share(ground.once_m2, ground.area_m2)}, "
            f"twice or more {_share(ground.twice_m2, ground.area_m2)}, missed "
            f"{_share(ground.missed_m2, ground.area_m2)} ({missed}). A driver leaves more, and no "
            "tool buries every seed."
        )
    return [*lines, *acres_sentences(answer, system)]


def acres_sentences(answer: FieldAnswer, system: System) -> list[str]:
    """Return the field's areas side by side, and what is left out of the record."""
    field = answer.field
    stated = [("outline", field.area_m2)]
    if field.driven_area_m2 is not None:
        stated.append(("driven", field.driven_area_m2))
    if field.office_area_m2 is not None:
        stated.append(("office", field.office_area_m2))
    text = ", ".join(f"{name} {show(area, 'area', system, 2)}" for name, area in stated)
    lines = [f"Area: {text}."]
    acres = answer.acres
    if acres is not None and acres.differs and acres.apart is not None:
        one, other = acres.apart
        lines.append(
            f"{one.capitalize()} and {other} are {number(100.0 * acres.apart_fraction, 1)} % "
            "apart: none is altered here; ask the office which one they pay on."
        )
    return [*lines, *left_out_sentences(field.left_out, field.record_area_m2, system)]


def left_out_sentences(
    left_out: Sequence[LeftOut], record_area_m2: float, system: System
) -> list[str]:
    """Return what is left out, what that leaves for the record, and what to come back to."""
    if not left_out:
        return []
    named = ", ".join(f"{one.what} {show(one.area_m2, 'area', system, 2)}" for one in left_out)
    lines = [
        f"Left out: {named}. For the record {show(record_area_m2, 'area', system, 2)}; tell the "
        "office before it pays."
    ]
    lines += [
        f"[ ] Come back to: {one.what}, {show(one.area_m2, 'area', system, 2)}"
        + (f" ({one.note})" if one.note else "")
        for one in left_out
        if one.come_back
    ]
    return lines


def _share(part_m2: float, whole_m2: float) -> str:
    share = 100.0 * part_m2 / whole_m2
    return f"{share:.2f} %" if 0.0 < share < 1.0 else f"{share:.0f} %"
