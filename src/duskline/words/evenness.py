"""Evenness in words: which lever to pull, the table of levers, what the angle does and does not."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from duskline.answers.evenness import (
    AngleEffect,
    EvennessAnswer,
    EvennessRow,
    FieldMap,
    LeverKey,
    Loss,
)
from duskline.answers.working import Figure, Step
from duskline.units import FOOT_M, GALLON_M3, KINDS, System, number, show, to_display
from duskline.words.cost import money
from duskline.words.lap import minutes_text
from duskline.words.trays import limit_words, width_text
from duskline.words.working import working_lines

__all__ = [
    "advice_sentence",
    "angle_lines",
    "evenness_headline",
    "evenness_working",
    "evenness_working_lines",
    "lever_cells",
    "lever_heads",
    "lever_name",
    "lever_table",
    "lines",
    "loss_sentence",
    "map_sentences",
    "points_text",
    "rests_on",
    "share_text",
    "table_notes",
]

# Lengths under this read better in inches or centimetres. [m]
_SHORT_M = 2.0
_MINUTES_STEP_S = 300.0
# From so much more time a lever's table is in hours. [s]
_HOURS_FROM_S = 60_000.0
# Areas of so much and more are told without tenths.
_MOST_WITH_TENTHS = 100.0
_MOST_COLUMNS = 80
_WIDTHS = (22, 12, 9, 6, 4, 5, 7, 5)
"""Columns of the lever table where its figures are of the usual size."""
_ROUND_DEG = 0.05
# More seed than planned that is worth a sentence.
_NOTED = 0.01
# Of the passes, driven opposite to the one beside them.
_MOSTLY = 0.9
# Under this a share is nothing to speak of.
_CRUMB = 0.0005
# Heaps along laps that the size of the cells could have made are not told.
_CELL_ERROR = 0.003

MARKS = {"better": "+", "equal": "=", "worse": "-"}
RESTS_ON = {
    LeverKey.PRESENT: "Your tray test, your driving width and your covering angle.",
    LeverKey.BEST_WIDTH: (
        "Your tray test, read at every whole tray spacing; minutes of a plan of this field at "
        "that width. The seed, and so the loads, stay the same."
    ),
    LeverKey.CENTRE: (
        "Your tray test moved until its middle lies on the driving line. Whether yours can be "
        "set so, the next tray test tells; a lean that changes sides with the way is the wind's."
    ),
    LeverKey.HALF_RATE_TWICE: (
        "The pattern is taken to keep its shape at half the rate; another opening may change it. "
        "The passes are driven twice, the second set half a width over; no load more."
    ),
    LeverKey.CROSS: (
        "Half the rate along and half across, the pattern taken to keep its shape. Minutes of a "
        "second plan of this field at right angles."
    ),
    LeverKey.TWO_COVERS: (
        "A second covering to the other hand. It also covers seed the first left on top, which "
        "is not counted here."
    ),
    LeverKey.SLOWER: (
        "A driver who strays as little as the steadiest; how much slower that takes is our "
        "judgement, and one study found no gain."
    ),
    LeverKey.MORE_OVERLAP: "Fewer missed strips by the spread of the gaps; minutes of a plan.",
}
_ANGLE_RESTS = "How far covering scatters seed, a range with little measured; minutes of a plan."
PRICED = {"fuel": "fuel", "labour": "your time", "points": "points"}


# --------------------------------------------------------------------------- small texts


def share_text(share: float, digits: int = 0) -> str:
    """Return a share of the ground: "3 %", "next to none"."""
    if share < _CRUMB:
        return "next to none"
    if digits == 0 and share < 0.01:
        digits = 1
    return f"{share * 100.0:.{digits}f} %"


def points_text(fraction: float) -> str:
    """Return an evenness as whole points of a hundred: "11 %"."""
    return f"{fraction * 100.0:.0f} %"


def _more_time(span_s: float, *, in_hours: bool) -> str:
    """Return minutes more or less, to 5, or whole hours: "+135", "-15", "0"."""
    return _more(span_s / 3600.0 if in_hours else 5.0 * round(span_s / _MINUTES_STEP_S))


def _more_area(area: float) -> str:
    """Return an area more or less, to a tenth under a hundred."""
    return _more(area, 1 if abs(area) < _MOST_WITH_TENTHS else 0)


def _in_hours(answer: EvennessAnswer) -> bool:
    """Say whether the field is so large that its table tells hours."""
    return any(abs(row.extra_s) >= _HOURS_FROM_S for row in answer.levers)


def _more(value: float, digits: int = 0) -> str:
    text = number(value, digits)
    if float(text.replace(",", "")) == 0.0:
        return number(0.0, digits)
    return f"+{text}" if value > 0.0 else text


def _degrees(angle_rad: float) -> str:
    return f"{round(math.degrees(angle_rad))}°"


def _lap(more_m: float, system: System) -> str:
    if system == "us":
        feet = more_m / FOOT_M
        return f"{number(feet, 0 if abs(feet - round(feet)) < _ROUND_DEG else 1)} ft"
    return f"{round(more_m * 100.0)} cm"


def lever_name(answer: EvennessAnswer, row: EvennessRow, system: System) -> str:
    """Return the lever as a driver says it, with its figure: "Drive 23 ft instead"."""
    if row.angle_rad is not None and row.key is not LeverKey.PRESENT:
        if row.angle_rad < math.radians(_ROUND_DEG):
            return "Cover along the passes"
        return f"Cover at {_degrees(row.angle_rad)}"
    if row.key is LeverKey.BEST_WIDTH:
        width = row.driving_width_m or answer.driving_width_m
        if math.isclose(width, answer.driving_width_m, abs_tol=0.01):
            return "Best width: as now"
        return f"Drive {width_text(width, system)} instead"
    if row.key is LeverKey.SLOWER and row.speed_mps is not None:
        return f"Cover at {show(row.speed_mps, 'speed', system)}"
    if row.key is LeverKey.MORE_OVERLAP and row.overlap_m is not None:
        return f"Lap {_lap(row.overlap_m, system)} in all"
    return {
        LeverKey.PRESENT: "As you drive now",
        LeverKey.CENTRE: "Center the spreader" if system == "us" else "Centre the spreader",
        LeverKey.HALF_RATE_TWICE: "Half rate, twice",
        LeverKey.CROSS: "Half rate, crosswise",
        LeverKey.TWO_COVERS: "Cover twice",
    }[row.key]


def rests_on(key: LeverKey) -> str:
    """Return what a lever's figures rest on."""
    return RESTS_ON.get(key, _ANGLE_RESTS)


# --------------------------------------------------------------------------- the one answer


def evenness_headline(answer: EvennessAnswer, system: System) -> str:
    """Return the one line: the lever to pull, or that none is worth it.

    Where straight passes, which the levers are of, do not speak for the field, it says so.
    """
    told = _advised(answer, system)
    if not answer.not_straight:
        return told
    return f"In straight passes: {told[:1].lower()}{told[1:]}. {_driven_out(answer)}"


def _driven_out(answer: EvennessAnswer) -> str:
    """Return in a few words what the field driven out is, where it is not as in the table."""
    drawn, why = answer.map, answer.not_straight
    if drawn is None or "rounds" in why:
        return "Rounds do most of this field"
    if "uneven" in why:
        return f"This field: {points_text(drawn.after_cv)}, not {points_text(answer.present.cv)}"
    if "missed" in why:
        return f"This field: {share_text(drawn.missed_fraction)} missed"
    return f"This field: {_more_seed(drawn)} than planned"


def _more_seed(drawn: FieldMap) -> str:
    more = drawn.density.mean_before - 1.0
    return f"{abs(more) * 100.0:.0f} % {'more' if more > 0.0 else 'less'} seed"


def _not_straight_sentence(answer: EvennessAnswer) -> str:
    """Return why the table does not speak for the field, all of it, and what does."""
    drawn, why = answer.map, answer.not_straight
    begin = "The levers are reckoned for straight passes back and forth"
    if drawn is None:
        return f"{begin}, and rounds do most of this field."
    told = {
        "rounds": "its headland is most of it",
        "uneven": f"its evenness is {points_text(drawn.after_cv)} and not "
        f"{points_text(answer.present.cv)}",
        "missed": f"covering misses {share_text(drawn.missed_fraction)} of the ground",
        "seed": f"between its headlands lies {_more_seed(drawn)} than planned",
    }
    reasons = "; ".join(told[one] for one in why)
    return (
        f"{begin}, and driven out this field is not that: {reasons}. Go by what stands under On "
        "the ground."
    )


def _advised(answer: EvennessAnswer, system: System) -> str:
    advice = answer.advice
    if advice.kind == "even enough":
        return "Present way is even enough"
    if advice.key is None:
        return "Uneven, and no lever helps by much"
    return lever_name(answer, answer.row(advice.key), system)


def advice_sentence(answer: EvennessAnswer, system: System) -> str:
    """Return which lever to pull, what it gains and takes, or that none is worth it."""
    advice, present = answer.advice, answer.present
    now = points_text(present.cv)
    if advice.key is None:
        if advice.kind == "even enough":
            return (
                f"Present way is even enough: the seed strays {now} from its mean, and no lever "
                "helps by more than could be told."
            )
        return (
            f"The seed strays {now} from its mean, and no lever helps by more than could be told: "
            "a new tray test at another setting of the spreader may."
        )
    row = answer.row(advice.key)
    name = lever_name(answer, row, system)
    gain = _gain(answer, row, system)
    if advice.kind == "even enough":
        return (
            f"Present way is even enough: the seed strays {now} from its mean. "
            f'"{name}" would bring {gain}, for {_takes(answer, row)}; only if you '
            "want it."
        )
    if advice.kind == "free":
        return f"{name}: that brings {gain}, and takes no time in the field."
    return f"{name}: that brings {gain}, for {_takes(answer, row)}."


def _gain(answer: EvennessAnswer, row: EvennessRow, system: System) -> str:
    present = answer.present
    if present.cv - row.cv >= answer.limits.gain:
        text = f"evenness from {points_text(present.cv)} to {points_text(row.cv)}"
        stands = present.thin_tenth_plants_per_m2, row.thin_tenth_plants_per_m2
        if row.lot == present.lot and None not in stands:
            was, will = (show(one or 0.0, "stand", system) for one in stands)
            fuller = row.thin_tenth_fraction - present.thin_tenth_fraction
            if fuller >= answer.limits.gain:
                text += f" and the thinnest tenth from {was} to {will}"
            elif fuller >= 0.0:
                text += f", though the thinnest tenth hardly gains ({was} to {will})"
        return text
    was, will = (share_text(one.below_half_fraction, 1) for one in (present, row))
    return f"the ground under half the wanted stand from {was} to {will}"


def _takes(answer: EvennessAnswer, row: EvennessRow) -> str:
    if abs(row.extra_s) < 0.5 * _MINUTES_STEP_S:
        return "no minutes to speak of"
    word = "more" if row.extra_s > 0.0 else "less"
    text = f"{minutes_text(row.extra_s)} {word} in this field"
    if row.extra_cost is not None and row.extra_s > 0.0:
        text += f" and about {money(row.extra_cost, answer.currency, 0)}"
    return text


# --------------------------------------------------------------------------- lines


def lines(answer: EvennessAnswer, system: System) -> list[str]:
    """Return what is so now: evenness, plants, what is thin, and what the figures are."""
    present, ruling = answer.present, answer.ruling
    width = width_text(answer.driving_width_m, system)
    found = [advice_sentence(answer, system)]
    if answer.not_straight:
        found.append(_not_straight_sentence(answer))
    driven = f"As you drive now, {width} back and forth"
    if answer.cultivator is not None:
        driven += f", covered at {_degrees(answer.angle_rad)} by {answer.cultivator}"
    low, high = points_text(present.cv_low), points_text(present.cv_high)
    found.append(
        f"{driven}: evenness {points_text(present.cv)} ({low} to {high}). 0 % is perfectly even."
    )
    if len(answer.seedings) > 1:
        found.append(f"{ruling.lot} lies least evenly of the mix and rules; the figures are of it.")
    if answer.without_trays:
        names = ", ".join(answer.without_trays)
        found.append(f"No tray test for {names}: set trays for it as well.")
    if answer.cultivator is not None:
        found.append(_covering(answer))
    if ruling.plants is not None and present.thin_tenth_plants_per_m2 is not None:
        wanted = show(float(ruling.plants.value), "stand", system)
        if ruling.plants.low is not None and ruling.plants.high is not None:
            ends = (
                number(_stand(one, system), _digits(system))
                for one in (ruling.plants.low, ruling.plants.high)
            )
            wanted += f" ({' to '.join(ends)} by how much comes up)"
        tenth = show(present.thin_tenth_plants_per_m2, "stand", system)
        found.append(
            f"Plants to come on the whole: {wanted}. The thinnest tenth of the ground has under "
            f"{tenth}. Under half the wanted stand: {share_text(present.below_half_fraction)} of "
            "the ground."
        )
    else:
        found.append(
            f"The thinnest tenth of the ground has under "
            f"{points_text(present.thin_tenth_fraction)} of the wanted stand. Count the seeds in a "
            "small sample of the lot, and it is told in plants."
        )
    if answer.cultivator is not None:
        found.append(_buried(answer))
    found.append(f"{limit_words(system)} The plants and the thin ground are what counts.")
    if answer.opposite_fraction < _MOSTLY:
        found.append(
            "Not every pass of your plan is driven opposite to the one beside it, as the table "
            "takes it: a pattern that leans lies a little otherwise."
        )
    return found


def _buried(answer: EvennessAnswer) -> str:
    """Return how much of the seed covering buries, never all of it."""
    once, twice = answer.buried, answer.buried_twice

    def span(figure: Figure) -> str:
        return f"{float(figure.low or 0.0) * 100:.0f} to {float(figure.high or 0.0) * 100:.0f} %"

    return (
        f"One pass buries {span(once)} of the seed on top where it was measured, two perhaps "
        f"{span(twice)}; some always stays on top."
    )


def _stand(per_m2: float, system: System) -> float:
    return to_display(per_m2, "stand", system)[0]


def _digits(system: System) -> int:
    return 1 if system == "us" else 0


def _covering(answer: EvennessAnswer) -> str:
    before, after = (f"{one * 100.0:.1f} %" for one in (answer.before_cv, answer.after_cv))
    if before == after:
        return f"Covering leaves the stripes as they were: {before} before and after."
    if answer.before_cv - answer.after_cv < answer.limits.gain:
        return f"Covering hardly touches the stripes: {before} before it, {after} after."
    return f"Covering evens the stripes: {before} before it, {after} after."


def map_sentences(drawn: FieldMap, system: System) -> list[str]:
    """Return what the field driven out by straying drivers shows beyond the table."""
    plot = f"{number(drawn.plot_m / FOOT_M, 1)} ft" if system == "us" else f"{drawn.plot_m:g} m"
    before, after = (f"{one * 100.0:.1f} %" for one in (drawn.before_cv, drawn.after_cv))
    found = [
        "This field driven out with both machines straying as they do, headland left out: "
        f"evenness {before} as spread, {after} covered, in plots {plot} square; "
        f"missed by the covering: {share_text(drawn.missed_fraction, 1)}; under half the wanted "
        f"stand: {share_text(drawn.below_half_fraction, 1)}. Finer cells would move the evenness "
        "by less than 0.3 points."
    ]
    more = drawn.density.mean_before - 1.0
    if more >= _NOTED:
        found.append(
            f"Passes are whole, so the last ones lap: that ground gets {more * 100.0:.0f} % more "
            "seed on the whole than planned, in one heavy strip."
        )
    if drawn.after_cv > drawn.before_cv + _CELL_ERROR:
        found.append(
            "Where passes lap, the edges of the tool heap a little seed: that takes back what "
            "covering evens."
        )
    return found


def angle_lines(angle: AngleEffect, system: System) -> list[str]:
    """Return what the covering angle does, and what it does not."""
    rows = _apart(angle.row_spacing_m, system)
    if angle.angle_rad < math.radians(_ROUND_DEG):
        return [
            "You cover along the spread passes: a missed strip lies in one stripe all the way.",
            f"Of old ridges {rows} apart {points_text(angle.row_kept_along)} is left.",
            _not_done(angle),
        ]
    eased = _apart(angle.eased_m, system)
    run = show(angle.run_length_m, "length", system, 0)
    passes = number(angle.bands_crossed, 0 if angle.bands_crossed >= 2.0 else 1)
    return [
        f"What {_degrees(angle.angle_rad)} does: it eases ridges and old rows up to {eased} apart. "
        f"Of ridges {rows} apart {points_text(angle.row_kept)} is left, "
        f"{points_text(angle.row_kept_along)} without the angle.",
        f"It keeps a missed strip from lying in one thin stripe: on {run} runs it crosses "
        f"{passes} spread passes.",
        _not_done(angle),
    ]


def _apart(apart_m: float, system: System) -> str:
    """Return a short spacing as a person says it: "30 in", "76 cm"."""
    if system == "us":
        return show(apart_m, "short length", system, 0)
    return f"{round(apart_m * 100.0)} cm"


def _not_done(angle: AngleEffect) -> str:
    before, along, after = (
        f"{one * 100.0:.1f} %" for one in (angle.before_cv, angle.along_cv, angle.after_cv)
    )
    return (
        "What no angle does: even out stripes as wide as the spreader throws. Evenness is "
        f"{before} as spread, {along} covered along the passes, {after} covered your way."
    )


def loss_sentence(loss: Loss) -> str:
    """Return what the unevenness costs in cover, and that it is no yield."""
    text = f"Unevenness takes about {_lost(loss.lost.value)} of the cover of an even stand"
    if loss.lost.low is not None and loss.lost.high is not None:
        text += f" ({_lost(loss.lost.low)} to {_lost(loss.lost.high)})"
    return f"{text}. How cover answers to a stand is our judgement, and it says nothing of yield."


def _lost(share: float | str) -> str:
    return f"{float(share) * 100.0:.1f} %"


# --------------------------------------------------------------------------- the working


def evenness_working_lines(steps: Iterable[Step], system: System) -> list[str]:
    """Return the working as lines, steering and scatter in inches or centimetres."""
    return working_lines(evenness_working(steps, system), system)


def evenness_working(steps: Iterable[Step], system: System) -> list[Step]:
    """Return the working with steering and scatter told in inches or centimetres."""
    return [
        replace(
            step,
            inputs=tuple(_short(figure, system) for figure in step.inputs),
            result=_short(step.result, system),
        )
        for step in steps
    ]


def _short(figure: Figure, system: System) -> Figure:
    """Return the figure with its text in inches or centimetres where it is a short length."""
    if figure.unit != "m" or isinstance(figure.value, str) or abs(figure.value) >= _SHORT_M:
        return figure

    def text(value: float) -> str:
        if system == "us":
            return show(value, "short length", system)
        return f"{number(value * 100.0, 0)} cm"

    shown = text(figure.value)
    if figure.low is not None and figure.high is not None:
        shown += f" ({text(figure.low)} to {text(figure.high)})"
    return replace(figure, value=shown, unit="", low=None, high=None)


# --------------------------------------------------------------------------- the table


def lever_heads(answer: EvennessAnswer, system: System) -> list[tuple[str, str]]:
    """Return the heads of the lever table's columns after the name, in two lines each."""
    stand = KINDS["stand"].us[0] if system == "us" else KINDS["stand"].metric[0]
    area = "ac" if system == "us" else "ha"
    return [
        ("", "evenness"),
        ("thinnest", stand if _in_plants(answer) else "tenth"),
        ("under", "half"),
        ("more", "h" if _in_hours(answer) else "min"),
        ("gal" if system == "us" else "L", "more"),
        ("money", "more"),
        (area, "lost"),
    ]


def lever_cells(answer: EvennessAnswer, row: EvennessRow, system: System) -> list[str]:
    """Return one lever's cells: name, then one for each head."""
    mark = "" if row.key is LeverKey.PRESENT else MARKS[row.verdict]
    span = f"{row.cv * 100:.0f} % ({row.cv_low * 100:.0f}-{row.cv_high * 100:.0f})"
    if _in_plants(answer):
        tenth = number(_stand(row.thin_tenth_plants_per_m2 or 0.0, system), _digits(system))
    else:
        tenth = f"{row.thin_tenth_fraction * 100:.0f} %"
    return [
        lever_name(answer, row, system),
        f"{span} {mark}".rstrip(),
        tenth + ("!" if row.disagrees else ""),
        f"{row.below_half_fraction * 100:.1f} %",
        _more_time(row.extra_s, in_hours=_in_hours(answer)),
        _more(row.extra_fuel_m3 / (GALLON_M3 if system == "us" else 1e-3)),
        "-" if row.extra_cost is None else _more(row.extra_cost),
        _more_area(to_display(row.area_lost_m2, "area", system)[0]),
    ]


def lever_table(answer: EvennessAnswer, system: System) -> list[str]:
    """Return the levers as a table of at most 80 columns, the present way on top."""
    heads = lever_heads(answer, system)
    rows = [["", *(head[line] for head in heads)] for line in range(2)]
    marks = [""] * len(rows)
    for row in answer.levers:
        mark = "" if row.key is LeverKey.PRESENT else MARKS[row.verdict]
        name, span, *others = lever_cells(answer, row, system)
        rows.append([name, span.removesuffix(f" {mark}"), *others])
        marks.append(mark)
    needed = [max(map(len, column)) for column in zip(*rows, strict=True)]
    widths = [max(pair) for pair in zip(needed, _WIDTHS, strict=True)]
    if len(_laid_out(rows[0], widths, mark="")) > _MOST_COLUMNS:
        # The thinnest tenth stands beside the mark, so it keeps its space.
        widths = [*needed[:2], needed[2] + 1, *needed[3:]]
    return [_laid_out(row, widths, mark=mark) for row, mark in zip(rows, marks, strict=True)]


def _laid_out(cells: Sequence[str], widths: Sequence[int], *, mark: str) -> str:
    name, span, tenth, *others = (
        f"{cell:{'<' if place == 0 else '>'}{width}}"
        for place, (cell, width) in enumerate(zip(cells, widths, strict=True))
    )
    return " ".join([f"  {name}", span, f"{mark or ' '}{tenth}", *others])


def _in_plants(answer: EvennessAnswer) -> bool:
    """Say whether the thinnest tenth can be told in plants."""
    return len(answer.seedings) == 1 and answer.present.thin_tenth_plants_per_m2 is not None


def table_notes(answer: EvennessAnswer, system: System) -> list[str]:
    """Return how the table is read, and the rule by which a lever counts."""
    limits = answer.limits
    area = "Acres" if system == "us" else "Hectares"
    found = [
        "Evenness: how far the seed strays from its mean after covering, with its range; less is "
        "more even. + better, = nobody could tell, - worse.",
        "Thinnest: a tenth of the ground has less than this. Under half: ground under half the "
        "wanted stand.",
        f"{area} lost: what the machine that drives more would do in that time; they are lost "
        "to the day only where that machine is the slow one.",
        f"A lever counts when it gains {limits.gain * 100:.0f} points and the evenness of now "
        f"lies outside its range, or takes {limits.thin_gain * 100:.0f} % of the ground out of "
        f"the thin. Up to {limits.even_enough * 100:.0f} % only a lever without minutes is "
        "advised. The points and the thin ground are our judgement.",
        "Half the rate is taken to keep the pattern's shape: a tray test at that opening tells.",
    ]
    if any(row.disagrees for row in answer.levers):
        found.append(
            "! The evenness and the thinnest tenth point different ways there: trust the plants."
        )
    if answer.not_priced:
        names = ", ".join(PRICED[one] for one in answer.not_priced)
        found.append(f"Money leaves out {names}: no price is given.")
    for lot in dict.fromkeys(one.lot for one in answer.levers if one.lot != answer.ruled_by):
        told = ", ".join(
            f'"{lever_name(answer, one, system)}"' for one in answer.levers if one.lot == lot
        )
        found.append(f"With {told} it is {lot} that lies least evenly: those rows are of it.")
    return found
