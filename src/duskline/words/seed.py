"""The seed answer in words: fit or not, the rate in every word for it, the bin, the loads."""

from __future__ import annotations

from typing import Literal, NamedTuple

from duskline.answers.seed import BinAnswer, FieldLoad, LotAnswer, SeedAnswer
from duskline.core.bin import seed_left
from duskline.core.flow import FirstLoad, first_load
from duskline.core.seed import FitnessLevel
from duskline.units import System, number, show

__all__ = [
    "RateCell",
    "agreement_line",
    "bin_line",
    "bin_short",
    "cautions",
    "first_load_lines",
    "fit_line",
    "flow_lines",
    "germination_line",
    "insect_line",
    "loads_line",
    "loads_text",
    "lots_line",
    "office_lines",
    "rate_cells",
    "rate_line",
    "shortfall_lines",
]

Language = Literal["en", "es"]
COUNTRIES = {"US": "United States", "CA": "Canada", "GB": "Britain"}


class RateCell(NamedTuple):
    """One way to say a rate: the figure, the word that belongs to it, and what it means."""

    figure: str
    word: str
    note: str


def germination_line(answer: LotAnswer) -> str:
    """Return "86 % (plan on 81 %)": the count, and its low side."""
    counted = answer.germination
    if counted is None:
        return "not tested"
    text = f"{counted.estimate_fraction:.0%}".replace("%", " %")
    low = f"{counted.low_fraction:.0%}".replace("%", " %")
    line = f"{text} (plan on {low}), {counted.alive_count} of {counted.seeds_count} sprouted"
    if counted.replicates_agree is False:
        line += (
            f"; replicates differ by {counted.replicate_range_points:.0f} points, more than the "
            f"{counted.replicate_tolerance_points} allowed: test again"
        )
    elif counted.seeds_count < 400:
        line += "; a bigger count would narrow it"
    return line


def fit_line(answer: LotAnswer) -> str:
    """Return the verdict on the lot, without a tick while the office has not agreed."""
    verdict = answer.fitness
    if verdict is None:
        return ""
    text = {
        FitnessLevel.USE: "USE",
        FitnessLevel.USE_HEAVIER: "USE HEAVIER",
        FitnessLevel.ASK_FIRST: "USE HEAVIER, ASK THE OFFICE FIRST",
        FitnessLevel.DO_NOT: "DO NOT SOW",
    }[verdict.level]
    if verdict.agreement is not None and verdict.level is FitnessLevel.ASK_FIRST:
        text = "USE HEAVIER, THE OFFICE HAS AGREED"
    named = answer.lot.parts and verdict.level is not FitnessLevel.USE
    return f"{text} ({answer.fitness_lot})" if named else text


def agreement_line(answer: LotAnswer) -> str:
    """Return who agreed to a weak lot and when, or nothing."""
    verdict = answer.fitness
    if verdict is None or verdict.agreement is None:
        return ""
    return f"Agreed by {verdict.agreement.agreed_by}, {verdict.agreement.agreed_on}."


def rate_line(answer: LotAnswer, system: System) -> str:
    """Return bulk, live and bushels together, each word attached."""
    parts = [f"{show(answer.bulk_kg_per_m2, 'rate', system)} bulk"]
    if answer.rate is not None:
        if answer.rate.bushels_per_m2 is not None and system == "us":
            bushels = answer.rate.bushels_per_m2 * 4046.8564224
            pounds = number((answer.rate.bushel_kg or 0.0) / 0.45359237, 0)
            parts.append(f"{bushels:.2f} bu/ac ({pounds} lb bushels)")
        parts.append(f"{show(answer.rate.live_kg_per_m2, 'rate', system)} live")
        if answer.rate.live_seeds_per_m2 is not None:
            seeds = show(answer.rate.live_seeds_per_m2, "stand", system)
            parts.append(seeds.replace(" per ", " live seeds per "))
    if answer.mix is not None:
        parts.append(
            " + ".join(
                f"{part.name} {show(part.rate.bulk_kg_per_m2, 'rate', system, 2)}"
                for part in answer.mix.parts
            )
        )
    return " = ".join(parts)


def rate_cells(answer: LotAnswer, system: System, country: str = "") -> list[RateCell]:
    """Return the rate in each of its words; of a mix, the whole and its parts.

    ``country`` is whose bushel is meant.
    """
    cells = [
        RateCell(show(answer.bulk_kg_per_m2, "rate", system), "bulk", "as it runs from the bin")
    ]
    if answer.mix is not None:
        return cells + [
            RateCell(
                show(part.rate.bulk_kg_per_m2, "rate", system, 2),
                f"bulk, {part.name}",
                f"{show(part.rate.live_kg_per_m2, 'rate', system, 2)} live",
            )
            for part in answer.mix.parts
        ]
    rate = answer.rate
    if rate is None:
        return cells
    if rate.bushels_per_m2 is not None and system == "us":
        pounds = number((rate.bushel_kg or 0.0) / 0.45359237, 0)
        whose = COUNTRIES.get(country, country)
        note = f"of {pounds} lb ({whose})" if whose else f"of {pounds} lb"
        cells.append(RateCell(f"{rate.bushels_per_m2 * 4046.8564224:.2f} bu/ac", "bushels", note))
    cells.append(
        RateCell(
            show(rate.live_kg_per_m2, "rate", system), "live", "pure live seed (PLS): what can grow"
        )
    )
    if rate.live_seeds_per_m2 is not None:
        figure, _, per = show(rate.live_seeds_per_m2, "stand", system).partition(" per ")
        cells.append(RateCell(figure, f"live seeds per {per}", "to count against later"))
    return cells


def office_lines(answer: LotAnswer) -> list[str]:
    """Return what to ask the office of a weak lot before anything is spread; none if it has."""
    verdict = answer.fitness
    if verdict is None or not verdict.waiting:
        return []
    share = f"{verdict.germination_fraction:.0%}".replace("%", " %")
    return [
        f"Ask before anything is spread: does the office take {answer.fitness_lot} at {share}, at "
        "which rate, and must the stand be checked?",
        "Write down who agreed and on which day. Until then nothing here says that the lot is "
        "cleared.",
    ]


def lots_line(answer: SeedAnswer) -> str:
    """Return how many of several lots stand in the way."""
    count = len(answer.lots)
    bad = [one for one in answer.lots if not _clear(one)]
    if not bad:
        reach = " and reach" if all(one.bin is not None for one in answer.lots) else ""
        return f"All {count} lots are fit{reach}."
    return f"{len(bad)} of {count} lots {'needs' if len(bad) == 1 else 'need'} you first."


def _clear(answer: LotAnswer) -> bool:
    return (
        (answer.fitness is None or answer.fitness.tick)
        and (answer.bin is None or answer.bin.enough)
        and (answer.floor is None or answer.floor.met)
    )


def shortfall_lines(answer: LotAnswer, system: System) -> list[str]:
    """Return what is missing against the program's floor, and what the low side could mean."""
    lines = []
    if answer.floor is not None:
        if answer.floor.met:
            floor = show(answer.floor.floor_live_kg_per_m2, "rate", system)
            lines.append(f"Meets the program's {floor} live.")
        else:
            lines.append(
                f"{show(answer.floor.short_live_kg_per_m2, 'rate', system)} live short of the "
                f"floor: needs +{show(answer.floor.short_bulk_kg_per_m2, 'rate', system)} bulk."
            )
    if answer.low_side is not None and not answer.low_side.met:
        lines.append(
            "If the lot is only as good as its low side, "
            f"{show(answer.low_side.short_live_kg_per_m2, 'rate', system)} live would be missing."
        )
    return lines


def insect_line(answer: LotAnswer) -> str:
    """Return the insect warning that stands beside the germination."""
    found = answer.insects
    if found is None or not found.warn:
        return ""
    text = (
        f"INSECTS: {found.weevils_count} live weevils and {found.others_count} others in the sample"
    )
    if found.infested:
        return f"{text}: infested by the grain standards. Treat or choose other seed; ask first."
    return f"{text}. Look again before sowing."


def bin_line(answer: BinAnswer, system: System) -> str:
    """Return whether the bin reaches, by how much, and where it would run out."""
    held = show(answer.mass_kg, "mass", system)
    needed = show(answer.sufficiency.needed_kg, "mass", system)
    spare = abs(answer.sufficiency.spare_fraction)
    if answer.enough:
        text = f"ENOUGH {answer.lot}: {held} on hand, {needed} needed, {spare:.1%} to spare"
        if answer.run_out_if_heavy_m2 < answer.sufficiency.area_needed_m2:
            runs = show(answer.run_out_if_heavy_m2, "area", system, 0)
            text += f"; at 5% over you run out at {runs}"
    else:
        does = show(answer.sufficiency.area_it_does_m2, "area", system, 0)
        text = (
            f"NOT ENOUGH {answer.lot}: {held} on hand, {needed} needed; it does {does} of "
            f"{show(answer.sufficiency.area_needed_m2, 'area', system, 0)}"
        )
    if answer.mass_high_kg > answer.mass_low_kg:
        low, high = (
            show(value, "mass", system) for value in (answer.mass_low_kg, answer.mass_high_kg)
        )
        text += f" (pack unknown: {low} to {high})"
    return text.replace("%", " %") + "."


def bin_short(answer: BinAnswer, system: System) -> str:
    """Return in one short sentence whether the bin reaches."""
    if answer.enough:
        spare = f"{answer.sufficiency.spare_fraction:.1%}".replace("%", " %")
        return f"Enough {answer.lot}: {spare} to spare."
    does, needed = (
        show(area_m2, "area", system, 0 if system == "us" else 1)
        for area_m2 in (answer.sufficiency.area_it_does_m2, answer.sufficiency.area_needed_m2)
    )
    return f"Not enough {answer.lot}: it does {does} of {needed}."


def loads_text(row: FieldLoad, system: System) -> str:
    """Return which loads serve a field: "load 1 to its end (350 lb), 2,530 lb of load 2"."""
    texts = []
    for index, mass_kg, empties in row.loads:
        mass = show(mass_kg, "mass", system)
        texts.append(f"load {index} to its end ({mass})" if empties else f"{mass} of load {index}")
    return ", ".join(texts)


def loads_line(answer: LotAnswer, system: System) -> str:
    """Return the loads for all fields of the lot."""
    if not answer.flows:
        return ""
    flow = answer.flows[0]
    return (
        f"{answer.loads_count:.2f} loads of {show(flow.load_kg, 'mass', system)}, "
        f"{show(flow.load_area_m2, 'area', system)} a load"
    )


def flow_lines(answer: LotAnswer, system: System) -> list[str]:
    """Return gate flow and bucket seconds for each spreader."""
    lines = []
    for flow in answer.flows:
        text = f"{flow.spreader}: gate flow {show(flow.flow_kg_per_s, 'flow', system)}"
        if flow.bucket_s is not None:
            size = "5 gal" if system == "us" else "20 L"
            text += f", a level {size} bucket in {flow.bucket_s:.1f} s"
        lines.append(f"{text}; the first load must do {show(flow.load_area_m2, 'area', system)}.")
    return lines


def cautions(answer: LotAnswer) -> list[str]:
    """Return the cautions that stand where the seed is handled."""
    lines = [
        "Bin: never enter with grain moving; lock out the auger, one man outside, harness on.",
        "Dust: wear at least a dust mask rated for grain dust when cleaning and loading.",
    ]
    if answer.lot.treated:
        lines.append(
            "Treated seed: gloves, long sleeves, no dust; never feed or food; cover spills; "
            "follow the label."
        )
    if "own" in answer.lot.origin.lower() or "bin" in answer.lot.origin.lower():
        lines.append(
            "Saved seed: a protected or patented variety may not be sown from the bin; "
            "the tag or the seller knows."
        )
    return lines


_FIRST_LOAD: dict[Language, dict[str, str]] = {
    "en": {
        "heavy": "First load: {rate} bulk, {share} heavy: close the gate to {factor} of flow.",
        "light": "First load: {rate} bulk, {share} light: open the gate to {factor} of flow.",
        "right": "First load: {rate} bulk, as planned. Leave the gate alone.",
        "left": "The {mass} left do {right} once corrected, {wrong} if not.",
    },
    "es": {
        "heavy": "Primera carga: {rate} bruta, {share} de más: cerrar la compuerta a {factor} del "
        "flujo.",
        "light": "Primera carga: {rate} bruta, {share} de menos: abrir la compuerta a {factor} del "
        "flujo.",
        "right": "Primera carga: {rate} bruta, como estaba planeado. No tocar la compuerta.",
        "left": "Los {mass} que quedan alcanzan para {right} corregido, {wrong} si no.",
    },
}
SAME_FRACTION = 0.0005
"""A load this near to the plan is told as right: its share would be told as 0.0 %."""


def first_load_lines(
    answer: LotAnswer, area_m2: float, system: System, language: Language = "en"
) -> list[str]:
    """Return what the first load says of the gate, and how far the seed left reaches."""
    lines = []
    for flow in answer.flows[:1]:
        found = first_load(
            load_kg=flow.load_kg, area_m2=area_m2, planned_kg_per_m2=answer.bulk_kg_per_m2
        )
        lines.append(_gate_line(found, system, language))
        # Of a mix the bin holds one part only: the load says nothing of it by itself.
        if answer.mix is None and answer.bin is not None and flow.load_kg < answer.bin.mass_kg:
            left = seed_left(
                mass_kg=answer.bin.mass_kg,
                used_kg=flow.load_kg,
                planned_kg_per_m2=answer.bulk_kg_per_m2,
                actual_kg_per_m2=found.actual_kg_per_m2,
            )
            lines.append(
                _FIRST_LOAD[language]["left"].format(
                    mass=show(left.mass_kg, "mass", system),
                    right=show(left.corrected_area_m2, "area", system),
                    wrong=show(left.uncorrected_area_m2, "area", system),
                )
            )
    return lines


def _gate_line(found: FirstLoad, system: System, language: Language) -> str:
    heavy = found.heavy_fraction
    key = "heavy" if heavy > 0.0 else "light"
    if abs(heavy) < SAME_FRACTION:
        key = "right"
    return _FIRST_LOAD[language][key].format(
        rate=show(found.actual_kg_per_m2, "rate", system),
        share=f"{abs(heavy):.1%}".replace("%", " %"),
        factor=f"{found.gate_factor:.3f}",
    )
