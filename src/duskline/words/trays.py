"""The tray test in words: how wide, how even, what a narrower width costs."""

from __future__ import annotations

from collections.abc import Sequence

from duskline.answers.trays import MixedWidth, TrayAnswer, WayWidths, WidthRow
from duskline.units import System, show
from duskline.words.spelling import spelled

__all__ = [
    "cost_lines",
    "headline",
    "limit_words",
    "lines",
    "mixed_lines",
    "spelled",
    "width_text",
]

_LIMIT_WORDS = (
    "15 % is a limit of fertiliser and field tests; for a cover crop up to 25 % is usable, "
    "with stripes you may see."
)


def limit_words(system: System) -> str:
    """Return what the limit of spreading tests is worth for a cover crop."""
    return spelled(_LIMIT_WORDS, system)


def width_text(width_m: float, system: System) -> str:
    """Return a driving width without false decimals."""
    feet = round(width_m / 0.3048, 6)
    digits = 0 if system == "us" and feet == int(feet) else 1
    if system == "metric" and round(width_m, 6) == int(round(width_m, 6)):
        digits = 0
    return show(width_m, "length", system, digits)


def headline(answer: TrayAnswer, system: System) -> str:
    """Return the one answer: the widest driving width back and forth that holds."""
    good = answer.good_to_back_and_forth_m
    if good is None:
        usable = answer.usable_to_back_and_forth_m
        if usable is None:
            return "No driving width is even enough"
        return f"None is good; {width_text(usable, system)} is usable"
    return f"Drive {width_text(good, system)} at most"


def lines(answer: TrayAnswer, system: System) -> list[str]:
    """Return the answer's lines after the headline."""
    found = [
        f"  Back and forth: {_way(answer.back_and_forth, system)}.",
        f"  Round and round: {_way(answer.round_and_round, system)}.",
        f"  {limit_words(system)}",
        "",
        f"  {'driving width':>14}  {'back and forth':>15}  {'round and round':>15}",
    ]
    found += [_row(row, system) for row in _rows_worth_showing(answer)]
    found.append("  (evenness: 0 % is perfectly even; ~ between trays)")
    lean = answer.skew.offset_m
    if abs(lean) > 0.02 * (answer.good_to_round_m or 10.0):
        side = "right" if lean > 0 else "left"
        found.append(
            f"  The pattern leans {show(abs(lean), 'length', system)} to the {side}: level the "
            "spreader and test in both directions; a lean that changes sides is the machine's."
        )
    found += [f"  {spelled(text, system)}" for text in answer.notes]
    found += _noise(answer, system)
    return found


def cost_lines(costs: Sequence[tuple[float, float]], system: System) -> list[str]:
    """Return what each width would let the crew finish today, at average rates.

    ``costs`` holds (driving width [m], area [m2]), the reference first.
    """
    if not costs:
        return []
    reference, base = costs[0]
    found = [
        f"  Today at average rates: {width_text(reference, system)} does "
        f"{show(base, 'area', system, 0)}"
    ]
    for width, area in costs[1:]:
        change = area - base
        word = "more" if change > 0 else "fewer"
        found.append(
            f"    {width_text(width, system)}: {show(abs(change), 'area', system, 1)} {word}"
        )
    return found


def mixed_lines(mixed: MixedWidth, system: System) -> list[str]:
    """Return which seed rules the width of a mix, and what that choice costs."""
    found = [f"{', '.join(mixed.ruled_by)} throws least far and rules the width."]
    if mixed.one_trip is None:
        return found
    widest = max(cost.moving_rate_m2_per_s for _, cost in mixed.each_alone)
    found.append(
        f"Before loading {show(mixed.one_trip.moving_rate_m2_per_s, 'work rate', system)} "
        f"instead of {show(widest, 'work rate', system)} at the widest seed's own width."
    )
    if mixed.separate_trips_m2_per_s is not None:
        found.append(
            "Spreading each seed on a trip of its own would do "
            f"{show(mixed.separate_trips_m2_per_s, 'work rate', system)}."
        )
    return found


def _way(way: WayWidths, system: System) -> str:
    if way.good_to_m is None:
        text = "good at no width"
    else:
        text = f"good to {width_text(way.good_to_m, system)}"
    if way.usable_to_m is not None and way.usable_to_m != way.good_to_m:
        text += f", usable to {width_text(way.usable_to_m, system)}"
    for island in way.islands:
        text += (
            f" (also {width_text(island.narrowest_m, system)} to "
            f"{width_text(island.widest_m, system)}, but a width between fails)"
        )
    if way.is_broken_below:
        text += " (narrower is not always better: see the table)"
    return text


def _rows_worth_showing(answer: TrayAnswer) -> list[WidthRow]:
    """Return the widths near the limits; the table of all is in --json."""
    good = answer.good_to_round_m or answer.good_to_back_and_forth_m or 0.0
    usable = answer.usable_to_round_m or good
    return [
        row
        for row in answer.widths
        if row.interpolated or 0.5 * good <= row.driving_width_m <= 1.35 * max(usable, good)
    ]


def _row(row: WidthRow, system: System) -> str:
    width = width_text(row.driving_width_m, system)
    mark = "~" if row.interpolated else " "
    return (
        f"  {width:>14}{mark} {row.cv_back_and_forth * 100:>13.1f} % {row.cv_round * 100:>14.1f} %"
    )


def _noise(answer: TrayAnswer, system: System) -> list[str]:
    if not answer.noise:
        return []
    good = answer.good_to_back_and_forth_m or answer.noise[0].driving_width_m
    row = min(answer.noise, key=lambda one: abs(one.driving_width_m - good))
    text = (
        f"  At {width_text(row.driving_width_m, system)} about {row.seeds_per_tray:.0f} seeds "
        f"fall in a tray; luck alone gives {row.floor:.1%}, "
        f"{row.cv_back_and_forth_less_chance:.1%} is the machine's"
    )
    if row.passes_needed:
        text += f"; {row.passes_needed} runs over the same trays would settle it"
    return [text.replace("%", " %") + "."]
