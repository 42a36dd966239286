"""The cost in words: the one number, its parts, what hiring costs, what is not counted."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import NamedTuple

from duskline.answers.cost import CostAnswer, Custom, Lack, Missing, Note, PartKey, ToolMatch
from duskline.answers.working import Figure, Step
from duskline.core.machine import Verdict
from duskline.defaults import defaults
from duskline.units import ACRE_M2, GALLON_M3, HECTARE_M2, POUND_KG, System, number, show
from duskline.words.working import working_lines

__all__ = [
    "CostRow",
    "cost_headline",
    "cost_lines",
    "cost_notes",
    "cost_rows",
    "cost_steps",
    "cost_units",
    "cost_why",
    "custom_lines",
    "match_lines",
    "missing_lines",
    "money",
    "money_per_area",
]

HOUR_S = 3600.0
SIGNS = {"USD": "$", "CAD": "C$", "AUD": "A$", "NZD": "NZ$", "EUR": "€", "GBP": "£"}
COLUMN = 10

# What one unit of the working's denominator is in the reader's: word and size in SI.
PER: dict[str, dict[System, tuple[str, float]]] = {
    "m2": {"us": ("an acre", ACRE_M2), "metric": ("a hectare", HECTARE_M2)},
    "kg": {"us": ("a pound", POUND_KG), "metric": ("a kilogram", 1.0)},
    "m3": {"us": ("a gallon", GALLON_M3), "metric": ("a litre", 1e-3)},
    "s": {"us": ("an hour", HOUR_S), "metric": ("an hour", HOUR_S)},
    "point": {"us": ("each", 1.0), "metric": ("each", 1.0)},
}
WHAT: dict[Lack, str] = {
    "seed price": "the price of the seed",
    "cleaning price": "the price of cleaning the seed",
    "fuel price": "the price of fuel",
    "labour price": "what an hour of {labour} costs",
    "point price": "the price of one point",
    "points used": "how many points you use up, or their wear with its limit",
    "hours": "the hours",
    "list price": "the list price",
    "hours a year": "the hours a year",
    "power": "the power",
}
NOTES = {
    Note.OWN_SEED: "Own-bin seed charged at your price.",
    Note.REPAIRS_NOT_COUNTED: "Repairs not counted: no list price is given.",
    Note.REPAIRS_PARTLY: "Repairs are of the machines with a list price only.",
    Note.OWNERSHIP_NOT_COUNTED: "Machine ownership not counted.",
    Note.OWNERSHIP_BARE: "Ownership is value lost and interest; taxes, insurance and shed are not.",
    Note.FUEL_ASSUMED: "Fuel is from book figures, not your tank: real use may be a third off.",
    Note.SEAT_TIME_ONLY: "{Labour} is time in the seats only: no seed truck, no moves, no waits.",
    Note.LABOUR_FROM_PLAN: "{Labour} is by the hours of the plan.",
    Note.CLEANING_LOSS_ASSUMED: "What the cleaner takes out is assumed.",
    Note.POINTS_FROM_WEAR: "Points are counted by the wear you measured.",
    Note.LEFT_OUT: "Ground left out of a field is not in these {areas}.",
}
VERDICTS = {
    Verdict.ENOUGH: "has enough power for",
    Verdict.TIGHT: "is tight for",
    Verdict.NOT_ENOUGH: "does not have the power for",
}


class CostRow(NamedTuple):
    """One part of the cost: for an area, over the whole job, and its range; "" where none."""

    name: str
    each: str
    whole: str
    range: str


def money(amount: float, currency: str, digits: int = 2) -> str:
    """Return an amount of money with its sign, or its code where no sign is known."""
    sign = SIGNS.get(currency, f"{currency} ")
    text = number(abs(amount), digits)
    return f"-{sign}{text}" if amount < 0.0 and float(text.replace(",", "")) else sign + text


def money_per_area(per_m2: float, currency: str, system: System) -> str:
    """Return money for the reader's area: "$19.83 an acre", "NZ$49.00 a hectare"."""
    word, size = PER["m2"][system]
    return f"{money(per_m2 * size, currency)} {word}"


def cost_headline(answer: CostAnswer, system: System) -> str:
    """Return the one number; where a price is missing, that it is of what is stated."""
    text = money_per_area(_value(answer.total), answer.currency, system)
    if answer.whole:
        return text
    return f"{text}, without what is MISSING" if any(answer.parts.values()) else "No price stated"


def cost_lines(answer: CostAnswer, system: System) -> list[str]:
    """Return the answer: the number, its parts, what is missing, hiring, what is not counted."""
    lines = [cost_headline(answer, system), *_table(answer, system)]
    lines += [f"  {text}" for text in missing_lines(answer, system)]
    custom = custom_lines(answer, system)
    lines += ["", f"  {custom[0]}", *(f"    {text}" for text in custom[1:])] if custom else []
    lines += ["", *(f"  {text}" for text in cost_notes(answer, system))]
    matches = match_lines(answer.matches, system)
    return [*lines, *([""] if matches else []), *matches]


def match_lines(matches: Iterable[ToolMatch], system: System) -> list[str]:
    """Return for each covering tool whether its tractor has the power, and the share used."""
    lines = []
    for one in matches:
        match, needed = one.match, one.match.needed
        low, high = match.share_range
        lines.append(
            f"  {one.tractor} {VERDICTS[match.verdict]} {one.machine}: about "
            f"{show(needed.typical_w, 'power', system)} of "
            f"{show(match.pto_power_w, 'power', system)} at the PTO, "
            f"{_percent(match.share_fraction)} of it ({_percent(low)} to {_percent(high)})."
        )
        if one.assumed:
            lines.append(f"    Not your figures: {', '.join(one.assumed)}.")
        if one.fuel_m3_per_m2 is not None:
            lines.append(
                f"    Pulling it burns about {show(one.fuel_m3_per_m2, 'fuel use', system)} by the "
                "tested tractors' line, turns and road left out; your own tank knows better."
            )
        if one.throttle_saving_fraction is not None:
            lines.append(
                "    A gear up at a fifth less engine speed would save about "
                f"{_percent(one.throttle_saving_fraction)} of its fuel; keep within what the "
                "maker allows."
            )
    if lines:
        lines.append("  (the high side of a range is fine soil not worked since harvest)")
    return lines


def cost_why(answer: CostAnswer, system: System) -> list[str]:
    """Return the working as lines, money and fuel in the reader's units."""
    return working_lines(cost_steps(answer, system), system)


def cost_steps(answer: CostAnswer, system: System) -> tuple[Step, ...]:
    """Return the working with money and fuel as texts in the reader's units."""
    return tuple(_told(step, system) for step in answer.working)


def cost_units(answer: CostAnswer, system: System) -> tuple[str, str]:
    """Return the heads of the two columns of figures: "an acre", "over 362.8 ac"."""
    return PER["m2"][system][0], f"over {show(answer.area_m2, 'area', system)}"


def cost_rows(answer: CostAnswer, system: System) -> list[CostRow]:
    """Return a row a part, the total last; a part without a price says MISSING."""
    _, size = PER["m2"][system]

    def row(name: str, figure: Figure | None) -> CostRow:
        if figure is None:
            return CostRow(name, "MISSING", "", "")
        value = _value(figure)
        return CostRow(
            name,
            money(value * size, answer.currency),
            money(value * answer.area_m2, answer.currency, 0),
            _range(figure, answer.currency, size),
        )

    rows = [row(_name(key, system), figure) for key, figure in answer.parts.items()]
    return [*rows, row("total", answer.total if any(answer.parts.values()) else None)]


def missing_lines(answer: CostAnswer, system: System) -> list[str]:
    """Return what is not stated and would be needed."""
    return [f"MISSING: {_missing(one, system)}" for one in answer.missing]


def cost_notes(answer: CostAnswer, system: System) -> list[str]:
    """Return what is not in the total, or only assumed."""
    return [_labour(text, system) for text in _notes(answer)]


# --------------------------------------------------------------------------- pieces


def _value(figure: Figure) -> float:
    return float(figure.value)


def _percent(fraction: float) -> str:
    return f"{fraction * 100:.0f} %"


def _labour(text: str, system: System) -> str:
    """Return the text with the words that differ between readers filled in."""
    labour = "labor" if system == "us" else "labour"
    areas = "acres" if system == "us" else "hectares"
    return text.format(labour=labour, Labour=labour.capitalize(), areas=areas)


def _name(key: PartKey, system: System) -> str:
    return _labour("{labour}", system) if key is PartKey.LABOUR else key.value


def _table(answer: CostAnswer, system: System) -> list[str]:
    """Return a line a part, for an area and over the whole job, and the total."""
    unit = "an acre" if system == "us" else "a ha"
    over = show(answer.area_m2, "area", system)
    lines = [f"  {'':<10}{unit:>{COLUMN}}{'in all':>{COLUMN + 2}}   (over {over})"]
    for row in cost_rows(answer, system):
        line = f"  {row.name:<10}{row.each:>{COLUMN}}{row.whole:>{COLUMN + 2}}   {row.range}"
        lines.append(line.rstrip())
    if answer.total.low is not None and answer.total.high is not None:
        lines.append("  (the range of the total takes the parts to err each on its own)")
    return lines


def _range(figure: Figure, currency: str, size: float) -> str:
    if figure.low is None or figure.high is None:
        return ""
    return f"({money(figure.low * size, currency)} to {money(figure.high * size, currency)})"


def _missing(one: Missing, system: System) -> str:
    """Return one missing thing: "the price of the seed (Bin rye)"."""
    text = _labour(WHAT[one.what], system)
    return f"{text} ({one.name})" if one.name else text


def custom_lines(answer: CostAnswer, system: System) -> list[str]:
    """Return what hiring the same work costs, with year and place, beside the farm's own."""
    if not answer.custom:
        return []
    lines = ["Hiring the work done, without seed, at prices of their year:"]
    for one in answer.custom:
        lines.append(
            f"{_custom_name(one)}: "
            f"{money_per_area(_value(one.per_m2), answer.currency, system)}"
            f" {_range(one.per_m2, answer.currency, PER['m2'][system][1])}".rstrip()
        )
    published = [one for one in answer.custom if one.key != "offer"]
    if len(published) > 1:
        both = sum(_value(one.per_m2) for one in published)
        lines.append(f"the two together: {money_per_area(both, answer.currency, system)}")
    if not any(part.part in _WORK for part in answer.missing):
        counted = (
            ""
            if Note.OWNERSHIP_NOT_COUNTED not in answer.notes
            else (", your machines' worth not counted; a hired man's price has his in it")
        )
        own = money_per_area(_value(answer.work), answer.currency, system)
        lines.append(f"your own: {own}{counted}")
    return lines


_WORK = tuple(key for key in PartKey if key not in {PartKey.SEED, PartKey.CLEANING})


def _custom_name(one: Custom) -> str:
    if one.key == "offer":
        return "the offer you have"
    return defaults()[one.key].name


def _notes(answer: CostAnswer) -> list[str]:
    """Return what is not in the total; own seed and owning stand in one sentence."""
    told = dict(NOTES)
    if {Note.OWN_SEED, Note.OWNERSHIP_NOT_COUNTED} <= set(answer.notes):
        told[Note.OWN_SEED] = "Own-bin seed charged at your price, machine ownership not counted."
        del told[Note.OWNERSHIP_NOT_COUNTED]
    return [text for note, text in told.items() if note in answer.notes]


def _told(step: Step, system: System) -> Step:
    """Return a step whose money and fuel are texts in the reader's units."""
    return replace(
        step,
        title=_labour_word(step.title, system),
        inputs=tuple(_told_figure(figure, system) for figure in step.inputs),
        result=_told_figure(step.result, system),
    )


def _labour_word(text: str, system: System) -> str:
    return text.replace("labour", "labor") if system == "us" else text


def _told_figure(figure: Figure, system: System) -> Figure:
    named = replace(figure, name=_labour_word(figure.name, system))
    if isinstance(figure.value, str):
        return named
    if figure.unit == "m3/m2":
        text = _with_range(figure, lambda value: show(value, "fuel use", system))
    elif figure.unit == "N":
        text = _with_range(figure, lambda value: show(value, "force", system))
    elif figure.unit == "depth":
        text = _with_range(figure, lambda value: show(value, "short length", system))
    elif figure.unit == "point/m2":
        word, size = ("ac", ACRE_M2) if system == "us" else ("ha", HECTARE_M2)
        text = _with_range(figure, lambda value: f"{value * size * 100:.1f} for 100 {word}")
    elif figure.unit == "s":
        text = _with_range(figure, lambda value: f"{number(value / HOUR_S, 1)} h")
    else:
        currency, slash, per = figure.unit.partition("/")
        if slash and per in PER and len(currency) == 3:
            word, size = PER[per][system]
            digits = 4 if per == "kg" else 2
            text = _with_range(
                figure, lambda value: f"{money(value * size, currency, digits)} {word}"
            )
        elif len(figure.unit) == 3 and figure.unit.isupper():
            text = money(figure.value, figure.unit, 0)
        else:
            return named
    return replace(named, value=text, unit="", low=None, high=None)


def _with_range(figure: Figure, tell: Callable[[float], str]) -> str:
    """Return the figure told, with its low and high where it has them."""
    text = tell(_value(figure))
    if figure.low is None or figure.high is None or figure.low == figure.high:
        return text
    return f"{text} ({tell(figure.low)} to {tell(figure.high)})"
