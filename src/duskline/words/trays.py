"""The tray test in words: how wide, how even, what a narrower width costs."""

from __future__ import annotations

from collections.abc import Sequence

from duskline.answers.trays import (
    AskedWidth,
    MixedWidth,
    TrayAnswer,
    Verdict,
    WayWidths,
    WidthRow,
)
from duskline.units import System, show
from duskline.words.spelling import spelled

__all__ = [
    "asked_word",
    "cost_lines",
    "driven_line",
    "evenness_text",
    "headline",
    "how_to_lines",
    "limit_words",
    "lines",
    "mixed_lines",
    "mixed_way_line",
    "note_lines",
    "ragged_line",
    "spelled",
    "way_lines",
    "width_text",
]

_LIMIT_WORDS = (
    "15 % is a limit of fertiliser and field tests; for a cover crop up to 25 % is usable, "
    "with stripes you may see."
)


_VERDICTS: dict[Verdict, str] = {
    "good": "good",
    "usable": "usable",
    "island": "good, but a width between fails",
    "too uneven": "too uneven",
}
_DRIVEN: dict[Verdict, str] = {
    "good": "even enough",
    "usable": "usable, with stripes you may see",
    "island": "even, but a little closer or a breath of wind is not",
    "too uneven": "too uneven",
}
_WORST: tuple[Verdict, ...] = ("too uneven", "island", "usable", "good")


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
        *(f"  {text}" for text in way_lines(answer, system)),
        f"  {limit_words(system)}",
        "",
        f"  {'driving width':>14}  {'back and forth':>15}  {'round and round':>15}",
    ]
    found += [_row(row, system) for row in _rows_worth_showing(answer)]
    found.append("  (evenness: 0 % is perfectly even; ~ between trays)")
    return found + [f"  {text}" for text in note_lines(answer, system)]


def way_lines(answer: TrayAnswer, system: System) -> list[str]:
    """Return how wide each way of driving may go."""
    return [
        f"Back and forth: {_way(answer.back_and_forth, system)}.",
        f"Round and round: {_way(answer.round_and_round, system)}.",
    ]


def note_lines(answer: TrayAnswer, system: System) -> list[str]:
    """Return how the pattern leans, what the test cannot tell, and how much of it is luck."""
    found = []
    lean = answer.skew.offset_m
    if abs(lean) > 0.02 * (answer.good_to_round_m or 10.0):
        side = "right" if lean > 0 else "left"
        found.append(
            f"The pattern leans {show(abs(lean), 'length', system)} to the {side}: level the "
            "spreader and test in both directions; a lean that changes sides is the machine's."
        )
    return found + [spelled(text, system) for text in answer.notes] + _noise(answer, system)


def evenness_text(cv_fraction: float) -> str:
    """Return an evenness: "11 %", to a tenth where it is not far from a limit."""
    return f"{cv_fraction:.1%}".replace("%", " %")


def asked_word(verdict: Verdict) -> str:
    """Return what the trays say to one width."""
    return _VERDICTS[verdict]


def driven_line(
    name: str,
    verdicts: Sequence[tuple[AskedWidth, float]],
    holds_m: float | None,
    system: System,
) -> str:
    """Return what the trays say to the width that a spreader is driven at, back and forth.

    ``verdicts`` holds what each seed's test says, with its evenness there; the worst of them
    counts. ``holds_m`` is the widest width that holds.
    """
    asked, cv = min(verdicts, key=lambda one: (_WORST.index(one[0].back_and_forth), -one[1]))
    width_m, verdict = asked.driving_width_m, asked.back_and_forth
    text = (
        f"{name} is driven at {width_text(width_m, system)} now: {_DRIVEN[verdict]} "
        f"({evenness_text(cv)})"
    )
    if holds_m is None:
        return f"{text}."
    wide = width_text(holds_m, system)
    if verdict == "good":
        return f"{text}, and {wide} would hold." if holds_m > width_m + 0.01 else f"{text}."
    return f"{text}. Close up to {wide}."


def ragged_line(answer: TrayAnswer, system: System) -> str:
    """Return how thin and how heavy the ground gets at the width that holds; "" without one."""
    good = answer.good_to_back_and_forth_m
    if good is None or answer.thinnest_fraction is None or answer.heaviest_fraction is None:
        return ""
    thin, heavy = answer.thinnest_fraction, answer.heaviest_fraction
    return (
        f"At {width_text(good, system)} the thinnest place gets {thin:.0%} of the rate, the "
        f"heaviest {heavy:.0%}."
    ).replace("%", " %")


def how_to_lines(system: System) -> list[str]:
    """Return how a tray test is made, for who has none yet."""
    apart, width = ("5 ft", "40 ft") if system == "us" else ("1 m", "12 m")
    return [
        f"Lay 15 or more equal trays in a row across the path, {apart} apart, one in the middle; "
        "leave out those that the wheels would hit, or set them beside the wheel. Reach out "
        "farther than the seed flies.",
        "Choose a calm hour and level ground. Gate and engine speed as in work, the seed you will "
        "spread, and drive over the row as fast as in work. Begin well before it.",
        "Weigh what lies in each tray on a kitchen scale, or count it. When it is too little to "
        "weigh, drive over the same trays two or three times.",
        "Drive once each way and write the second down as a run of its own: it shows what is the "
        "wind's.",
        "Write it into trays.csv: where each tray stood, and what it caught, one column a run. "
        f"Then the widest driving width that holds stands here, {width} or another.",
        "Seed flies less far than fertiliser. Test each kind of seed; the width for fertiliser "
        "is too wide.".replace("fertiliser", spelled("fertiliser", system)),
    ]


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


def mixed_way_line(widths_m: Sequence[tuple[str, float | None]], system: System) -> str:
    """Return how wide each seed of a mix could go by itself."""
    texts = [
        f"{name} {'no width' if width is None else width_text(width, system)}"
        for name, width in widths_m
    ]
    return f"Each by itself would hold: {', '.join(texts)}."


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
