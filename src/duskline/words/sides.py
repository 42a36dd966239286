"""Edges in words: how far in the first pass runs, what flies over, how thin the edge stays.

Slope and wind stand here too, as reasons for a heading.
"""

from __future__ import annotations

from duskline.core.lie import HeadingKept, Reason
from duskline.core.sides import EdgeDose, FirstPassFrom
from duskline.units import FOOT_M, POUND_KG, System, number, show
from duskline.words.aim import Language, ground
from duskline.words.lap import minutes_text

__all__ = ["KINDS", "edge_sentences", "heading_reasons", "not_found_sentence"]

KINDS = {
    "en": {
        "organic": "organic field",
        "seed crop": "seed crop",
        "ditch": "ditch",
        "road": "road",
        "water": "water",
        "home": "home",
    },
    "es": {
        "organic": "lote orgánico",
        "seed crop": "cultivo para semilla",
        "ditch": "zanja",
        "road": "camino",
        "water": "agua",
        "home": "casa",
    },
}
PHRASES = {
    "en": {
        "shut": "{Side} side ({kind}): middle of the first pass {far} in.",
        "open": "{Side}: middle of the first pass {far} in.",
        "other sides": "Other sides",
        "side": "{side} side",
        "off": "No seed on the {far} along it.",
        "nothing over": "By the trays no seed reaches the edge.",
        "over": "Seed flies up to {far} over it, {mass} for every {run}.",
        "under": "less than {mass}",
        "over share": "Seed flies up to {far} over it, {share} of what one pass throws.",
        "shut over": "SEED WOULD FLY UP TO {far} OVER IT: stay farther in.",
        "thin": "The first {far} stay thin, under {share} of the rate.",
        "short row": "The row of trays was too short: seed may fly farther. Set it wider.",
        "wind": "Wind towards that side: drive it when the wind has turned.",
        "no word": 'The edge "{word}" ({what}) is no compass word, so no side was held back for '
        'it: write "east", "north-west" and so on, or mind it by eye.',
        "no side": "No side of this field faces {word}, where a {what} was noted: check the word, "
        "nothing was held back for it.",
        "costs": "It costs {minutes} more than the fastest heading.",
    },
    "es": {
        "shut": "Lado {side} ({kind}): centro de la primera pasada a {far}.",
        "open": "{Side}: centro de la primera pasada a {far}.",
        "other sides": "Los demás lados",
        "side": "lado {side}",
        "off": "Sin semilla en los {far} junto a ese lado.",
        "nothing over": "Según las charolas, la semilla no llega a la orilla.",
        "over": "La semilla pasa hasta {far} al otro lado, {mass} por cada {run}.",
        "under": "menos de {mass}",
        "over share": "La semilla pasa hasta {far} al otro lado, {share} de una pasada.",
        "shut over": "LA SEMILLA PASARÍA HASTA {far} AL OTRO LADO: maneje más adentro.",
        "thin": "Los primeros {far} quedan ralos, menos de {share} de la dosis.",
        "short row": "Faltaron charolas en las puntas: puede llegar más lejos. Ponga más.",
        "wind": "Viento hacia ese lado: hágalo cuando cambie el viento.",
        "no word": 'La orilla "{word}" ({what}) no es un rumbo, así que no se dejó margen en '
        'ningún lado: escriba "east", "north-west", etcétera, o cuídela a ojo.',
        "no side": "Ningún lado de este lote da hacia {word}, donde se anotó {what}: revise la "
        "palabra, no se dejó margen.",
        "costs": "Cuesta {minutes} más que el rumbo más rápido.",
    },
}
REASONS = {
    "en": {
        Reason.CONTOUR: "Driven across the slope, because this ground washes.",
        Reason.NOT_DOWNHILL: "Not driven up and down the slope to save minutes.",
        Reason.ALONG_WIND: "Spread along the wind, which would carry the throw to one side.",
        Reason.ASK_DOWNHILL: (
            "This ground washes or slopes, but nobody said how steep it is and which way it "
            "falls: write slope and downhill for the field, and judge the heading yourself."
        ),
        Reason.NO_LEVEL_HEADING: (
            "No side of the field runs level enough; this is the most level heading tried, not "
            "the contour."
        ),
    },
    "es": {
        Reason.CONTOUR: "Se maneja atravesado a la pendiente, porque este suelo se lava.",
        Reason.NOT_DOWNHILL: "No se maneja cuesta arriba y abajo por ahorrar minutos.",
        Reason.ALONG_WIND: "Se esparce a lo largo del viento, que si no llevaría la semilla a un "
        "lado.",
        Reason.ASK_DOWNHILL: (
            "Este suelo se lava o tiene pendiente, pero nadie dijo cuánta ni hacia dónde baja: "
            "escriba la pendiente y hacia dónde baja, y juzgue usted el rumbo."
        ),
        Reason.NO_LEVEL_HEADING: (
            "Ningún lado del lote va bastante a nivel; este es el rumbo más a nivel que se probó, "
            "no la curva de nivel."
        ),
    },
}
# What is less than this share of a pass is not worth a word.
_NOTHING_FRACTION = 0.0005
_WORTH_A_WORD_M = 0.5
_RUN_M: dict[System, float] = {"us": 100 * FOOT_M, "metric": 100.0}


def edge_sentences(
    first: FirstPassFrom,
    *,
    side: str | None,
    kind: str | None,
    dose: EdgeDose | None,
    thin_below_fraction: float,
    system: System,
    rate_kg_per_m2: float | None = None,
    wind_towards: bool = False,
    row_too_short: bool = False,
    language: Language = "en",
) -> list[str]:
    """Return how to drive along one side, and what lands there.

    Parameters
    ----------
    first
        Where the first pass runs.
    side, kind
        What the side is called in the reader's language, and what lies beyond it; a side of None
        speaks of all sides not flagged.
    dose
        What lands beside and beyond it; None where no trays were set.
    thin_below_fraction
        The share of the rate the thin strip was measured with.
    rate_kg_per_m2
        Bulk rate, to say how much seed is lost; None says it as a share. [kg/m2]
    wind_towards
        Whether the wind of the hours blows towards this side.
    row_too_short
        Whether the row of trays ended before the seed did.
    """
    phrases = PHRASES[language]
    name = phrases["other sides"] if side is None else phrases["side"].format(side=side)
    key = "open" if kind is None else "shut"
    found = [
        phrases[key].format(
            Side=_capital(name if kind is None else side or name),
            side=side,
            kind=KINDS[language].get(kind or "", kind),
            far=_at_least(first.from_edge_m, system) if kind else ground(first.from_edge_m, system),
        )
    ]
    if first.off_m > 0.0:
        found.append(phrases["off"].format(far=ground(first.off_m, system)))
    if dose is not None:
        # A row of trays that ended too soon cannot say that nothing reaches the edge.
        if not (row_too_short and dose.over_fraction < _NOTHING_FRACTION):
            found.append(_over(dose, kind, system, rate_kg_per_m2, language))
        if dose.thin_m > _WORTH_A_WORD_M:
            share = f"{thin_below_fraction:.0%}".replace("%", " %")
            found.append(phrases["thin"].format(far=ground(dose.thin_m, system), share=share))
    if row_too_short and dose is not None:
        found.append(phrases["short row"])
    if wind_towards and kind is not None:
        found.append(phrases["wind"])
    return found


def _over(
    dose: EdgeDose,
    kind: str | None,
    system: System,
    rate_kg_per_m2: float | None,
    language: Language,
) -> str:
    phrases = PHRASES[language]
    if dose.over_fraction < _NOTHING_FRACTION:
        return phrases["nothing over"]
    far = ground(dose.over_reach_m, system)
    if kind is not None:
        return phrases["shut over"].format(far=far)
    if rate_kg_per_m2 is None:
        share = f"{number(dose.over_fraction * 100.0, 0)} %"
        return phrases["over share"].format(far=far, share=share)
    run_m = _RUN_M[system]
    lost_kg = dose.over_full_width_m * rate_kg_per_m2 * run_m
    one_kg = POUND_KG if system == "us" else 1.0
    mass = show(lost_kg, "mass", system)
    if lost_kg < one_kg:
        mass = phrases["under"].format(mass=show(one_kg, "mass", system))
    return phrases["over"].format(far=far, mass=mass, run=show(run_m, "length", system, 0))


def _at_least(length_m: float, system: System) -> str:
    """Return a distance that may be longer but never shorter than told: rounded up.

    Near a shut edge the usual rounding could send the driver a step too near.
    """
    unit_m, step = (FOOT_M, 1.0) if system == "us" else (1.0, 0.5)
    steps = -(-(length_m / unit_m - 1e-6) // step)
    rounded = steps * step
    digits = 0 if rounded == int(rounded) else 1
    return show(rounded * unit_m, "length", system, digits)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def not_found_sentence(*, word: str, kind: str, understood: bool, language: Language = "en") -> str:
    """Return what to do about an edge that no side was found for."""
    key = "no side" if understood else "no word"
    return PHRASES[language][key].format(word=word, what=KINDS[language].get(kind, kind))


def heading_reasons(kept: HeadingKept, language: Language = "en") -> list[str]:
    """Return why a heading was kept against the minutes, and what it costs; none if it was not."""
    found = [
        REASONS[language][reason]
        for reason in kept.reasons
        if not (reason is Reason.CONTOUR and Reason.NO_LEVEL_HEADING in kept.reasons)
    ]
    if kept.given_up_s > 0.0:
        minutes = minutes_text(kept.given_up_s, language)
        found.append(PHRASES[language]["costs"].format(minutes=minutes))
    return found
