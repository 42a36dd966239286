"""The words on the sheets and cards, English and Spanish; figures and names come from the answers.

The Spanish is from memory and is marked on every card as waiting for a farmer whose language it
is. Safety wording is ours; each figure's source stands beside it. Local codes always win.
"""

from __future__ import annotations

from duskline.words.aim import Language

__all__ = ["Language", "field_safety", "local_law", "say", "truck_safety"]

_EN = {
    "plan mark": "Plan {mark}. Sheets with another mark are old: throw them away.",
    "page": "Page {number}",
    "review": "",
    "and": "and",
    "missing": "MISSING: write it here",
    # windshield
    "ladder title": "Stop ladder",
    "ladder sub": "Most {unit} that may lie open",
    "at": "at",
    "most open": "most open",
    "loads": "loads",
    "unit ac": "acres",
    "unit ha": "hectares",
    "ladder how": (
        "When open {unit} reach the line, stop spreading. Between two times use the lower line."
    ),
    "ladder heavy": "Under each heavy rule one full load less may lie open.",
    "ladder chance": (
        "Open {unit} = spread less worked in. Followed all day the ladder keeps {chance} that "
        "all is worked in by {until}. If nobody counts: stop at {stop}."
    ),
    "ladder now": "Stop spreading now. Everybody works in.",
    # spreader
    "spreader title": "Spreader",
    "width us": "driving width",
    "width metric": "bout width",
    "speed": "speed",
    "gate flow": "gate flow",
    "bucket": "to fill a level {size} bucket",
    "bucket us": "5-gallon",
    "bucket metric": "20-litre",
    "rate": "{rate} of {lot}, as it runs",
    "first load": "First load: {load} should do {area}",
    "ran empty": "ran empty after",
    "flow times": "gate flow times",
    "gate": "so the gate",
    "gate close": "close",
    "gate open": "open",
    "gate good": "leave it",
    "fills": "Loads",
    "load": "load",
    "put in": "put in",
    "when": "about",
    "where": "in field",
    "start full": "before {at}",
    "in hopper": "in the hopper",
    "clean out": "CLEAN OUT FIRST: {lot}",
    "fields": "Fields, in this order",
    "field": "field",
    "heading": "drive",
    "seed": "seed",
    "from to": "about",
    "passes": "passes",
    "headland": "headland",
    "round": "{count} round",
    "rounds": "{count} rounds",
    "part": "load {number}: {mass}",
    "part empties": "load {number}: {mass}, then empty",
    "drive": "Drive {heading} and back.",
    "last none": "After load {full}, do not fill again.",
    "last part": "After load {full}, put in {mass}. You run empty about when spreading must stop.",
    "last one": "One part load: put in {mass}. You run empty about when spreading must stop.",
    "no spreading": "Do not spread today.",
    "no more": "No more loads today.",
    "stop at": "Stop spreading at {at}, whatever is left in the hopper.",
    "wind": "No spreading in wind over {limit}.",
    "part of field": "part",
    "true north": "Degrees are from true north; a compass may be some degrees off.",
    # covering
    "covering title": "Working in",
    "overlap": "over the last pass",
    "overlap open": "left open between passes",
    "width": "from pass to pass",
    "done by": "all worked in by",
    "by eye": "by eye",
    "guided": "guided",
    "join": (
        "{driver} takes this machine after spreading stops: about {at}. Begin where seed still "
        "lies open."
    ),
    "pass count": "{count} passes, give or take 1",
    "part count": "About {count} of {whole} passes",
    "part spread": (
        "Only part of this field is spread today: {area} of {whole}, beside the {side} side. "
        "Work in that part."
    ),
    "part spread somewhere": (
        "Only part of this field is spread today: {area} of {whole}. Work in that part."
    ),
    "headlands last": "Headlands last: {rounds}, where the seed lies thickest.",
    "holes": "Go round the hole ({count}) with the headland rounds, never through it.",
    "wedge": "Short passes are left beside the {side} side: do not miss them.",
    "order": "order",
    "done about": "worked in by about {at}",
    "share": (
        "{count} machines work in one field: each takes a land of its own, all at one heading. "
        "The counts are for one machine alone."
    ),
    "miss": "Do not miss",
    "no outline": "No outline: look at the field first.",
    "do not cross": "Count passes, not {unit}. Lap {overlap} over the last pass, every pass.",
    "do not cross open": (
        "Count passes, not {unit}. By the last count {overlap} stays open between passes: lap over "
        "the last pass, every pass."
    ),
    # seed truck
    "truck title": "Seed truck",
    "safety": "Safety first",
    "emergency": "Emergency",
    "call": "Call",
    "say where": "Say where you are:",
    "truck loads": "Loads",
    "be there": "be there",
    "park": "park at field",
    "bring": "bring",
    "spreader": "spreader",
    "park how": (
        "Park on firm, level ground at the field's entrance, clear of the headland and of wires. "
        "Wait until the spreader stands still and the driver waves you in."
    ),
    "after": ("After the last load take the truck home. Nobody drives a tractor unless told to."),
    "total": "{count} fills, {mass} in all, {lot}",
    # day sheet
    "day title": "Day sheet",
    "choose": "How sure do you want to be? The one with the heavy line is chosen.",
    "same": "The same stop for every chance: {why} comes first.",
    "spread by then": "{area}",
    "ladder day": "Stop ladder: most {unit} that may lie open",
    "fields day": "Fields in order, about when",
    "spread": "spread",
    "worked in": "worked in by",
    "seed loads": "load",
    "left": "Left after today",
    "left sum": "{area} in {count} fields:",
    "left one": "{area} in 1 field:",
    "left none": "Nothing: all fields are spread.",
    "not ready": "Not ready yet: {names}.",
    "rain tomorrow": "Rain tomorrow: {chance}.",
    "rain both": (
        "Rain tomorrow: {low} if its hours share one chance, up to {high} if each is on its own."
    ),
    "rain unknown": "No forecast for tomorrow.",
    "why": "Why",
    "which": "Which ground to leave open tonight?",
    "which how": (
        "You choose. Leave level ground away from ditches and water; work in slopes, edges and "
        "wet ground first."
    ),
    "leave": "Leave:",
    "open fields": "Spread and not yet worked in, with what is known of the ground:",
    # field sheet
    "field title": "Field sheet",
    "field mark": "Field plan {mark}. A sheet of this field with another mark is old.",
    "field spread": "Spread",
    "field heading": "Spread {spread}.",
    "field rounds": "Spread in rounds alone.",
    "field strips": "Spread in rounds and {passes} between them.",
    "cover heading": "Work in {cover}, turned {turned}.",
    "cover alone heading": "Work in {cover}.",
    "cover rounds": "Work it in with rounds alone.",
    "cover strips": "Work it in with rounds and {passes} between them.",
    "alone": "Every machine is counted as if it did the field alone.",
    "field alt": "Map of {name}: passes of the spreader dashed, of {machine} solid, north up.",
    "field alt spread": "Map of {name}: passes of the spreader dashed, north up.",
    "machine": "machine",
    "turned": "turned",
    "round head": "rounds",
    "seat": "in the seat",
    "count give": "{count} ± 1",
    "saved": "Along the longest side it would take {longest}: {saved} saved.",
    "no saving": (
        "Along the longest side it would take {longest}: no difference worth driving for."
    ),
    "longest side": "This is along the longest side of the field.",
    "given up": "Along the longest side it would take {longest}.",
    "in parts": "Driven in {count} parts: {parts}.",
    "in part": "part {number} {heading}",
    "seed line": "{lot}: {rate} as it runs, {mass} in this field; the hopper takes {load}.",
    "one load": "One load does it, empty at {where}.",
    "does": "does",
    "empty at": "empty at",
    "edges": "Edges",
    "evenness title": "{name}: how even the seed lies",
    "evenness card": "Evenness",
    "evenness strips": "Seed across the driving before and after covering, {name}",
    "evenness map": "Map of the seed on {name} after covering",
    "evenness levers": "The levers",
    "evenness angle": "The covering angle",
    "evenness ground": "On the ground",
    "beyond": "Beyond it: {note}.",
    "all sides": "All sides: middle of the first pass {far} in.",
    "over edge": (
        "In {over} of {turns} turns a plain swing goes over the edge: swing inward first, or "
        "back up."
    ),
    "eye": "{machine}: {driver}, by eye",
    "eye nobody": "{machine}: by eye",
    "guided who": "{machine}: {driver}, guided",
    "guided nobody": "{machine}: guided",
    "nothing": "next to none",
    "once": "worked once",
    "twice": "twice or more",
    "missed": "missed",
    "between": "left between passes",
    "usual": "usual rate",
    "up to": "up to {high}",
    "fine clock": (
        "In the seat: passes, rounds and turns counted one by one, no stops. Usual rate: what "
        "this much ground takes at the rate this farm is planned with. Worked once, twice and "
        "missed: as planned; left between passes: expected from how far drivers wander."
    ),
    "tried": "Headings tried for the spreader as well: {tried}.",
    "fine lap": "{machine}: {text}",
    "acres us": "Acres",
    "acres metric": "Hectares",
    "acres outline": "outline",
    "acres driven": "driven",
    "acres office": "office",
    "acres record": "for the record",
    "acres apart": "{apart} % apart: none of them was altered. Ask which one counts.",
    "acres left": "{area} left out is off the record: ask what is paid on.",
    "come back": "Come back",
    "come back row": "{what}, {area}",
    "done on": "Done on",
    "started": "Started",
    "finished": "Done",
    "area done us": "Acres",
    "area done metric": "Hectares",
    "passes counted": "Passes",
    "safety first": "Safety first",
}
_ES = {
    "plan mark": "Plan {mark}. Si la hoja tiene otra marca es vieja: tírela.",
    "page": "Página {number}",
    "review": "Traducción pendiente de revisión por un agricultor nativo.",
    "and": "y",
    "missing": "FALTA: escríbalo aquí",
    "ladder title": "Escalera para parar",
    "ladder sub": "Lo más sin tapar ({unit})",
    "at": "a las",
    "most open": "sin tapar",
    "loads": "cargas",
    "unit ac": "acres",
    "unit ha": "hectáreas",
    "ladder how": (
        "Cuando lo sin tapar llegue al renglón, pare de esparcir. Entre dos horas use el renglón "
        "de abajo."
    ),
    "ladder heavy": "Bajo cada raya gruesa puede quedar una carga entera menos sin tapar.",
    "ladder chance": (
        "Sin tapar = esparcido menos tapado ({unit}). Siguiéndola todo el día hay {chance} de "
        "que todo quede tapado antes de {until}. Si nadie cuenta: pare a las {stop}."
    ),
    "ladder now": "Pare de esparcir ya. Todos a tapar.",
    "spreader title": "Esparcidora",
    "width us": "ancho de pasada",
    "width metric": "ancho de pasada",
    "speed": "velocidad",
    "gate flow": "flujo de la compuerta",
    "bucket": "para llenar al ras una cubeta de {size}",
    "bucket us": "5 galones",
    "bucket metric": "20 litros",
    "rate": "{rate} de {lot}, dosis bruta",
    "first load": "Primera carga: {load} debe alcanzar para {area}",
    "ran empty": "se vació a",
    "flow times": "flujo por",
    "gate": "la compuerta",
    "gate close": "cierre",
    "gate open": "abra",
    "gate good": "déjela",
    "fills": "Cargas",
    "load": "carga",
    "put in": "ponga",
    "when": "como a las",
    "where": "en el lote",
    "start full": "antes de {at}",
    "in hopper": "en la tolva",
    "clean out": "LIMPIE LA TOLVA ANTES: {lot}",
    "fields": "Lotes, en este orden",
    "field": "lote",
    "heading": "maneje",
    "seed": "semilla",
    "from to": "como a las",
    "passes": "pasadas",
    "headland": "cabecera",
    "round": "{count} vuelta",
    "rounds": "{count} vueltas",
    "part": "carga {number}: {mass}",
    "part empties": "carga {number}: {mass}, se vacía",
    "drive": "Maneje al {heading} y de vuelta.",
    "last none": "Después de la carga {full} no cargue más.",
    "last part": (
        "Después de la carga {full} ponga {mass}. Se vacía como a la hora de parar."
    ),
    "last one": "Una carga parcial: ponga {mass}. Se vacía como a la hora de parar.",
    "no spreading": "No esparza hoy.",
    "no more": "No hay más cargas hoy.",
    "stop at": "Pare de esparcir a las {at}, aunque quede semilla en la tolva.",
    "wind": "No esparza con viento de más de {limit}.",
    "part of field": "parte",
    "true north": "Grados desde el norte verdadero; la brújula puede variar unos grados.",
    "covering title": "Tapar la semilla",
    "overlap": "sobre la última pasada",
    "overlap open": "sin tapar entre pasadas",
    "width": "de pasada a pasada",
    "done by": "todo tapado antes de",
    "by eye": "a ojo",
    "guided": "con guía",
    "join": (
        "{driver} toma esta máquina cuando se para de esparcir: como a las {at}. Empiece donde "
        "quede semilla sin tapar."
    ),
    "pass count": "{count} pasadas, 1 más o menos",
    "part count": "Como {count} de {whole} pasadas",
    "part spread": (
        "Hoy se esparce solo parte de este lote: {area} de {whole}, junto al lado {side}. Tape "
        "esa parte."
    ),
    "part spread somewhere": (
        "Hoy se esparce solo parte de este lote: {area} de {whole}. Tape esa parte."
    ),
    "headlands last": "Cabeceras al final: {rounds}, ahí hay más semilla.",
    "holes": "Rodee el hueco ({count}) con las vueltas de cabecera, nunca por en medio.",
    "wedge": "Quedan pasadas cortas junto al lado {side}: no las olvide.",
    "order": "orden",
    "done about": "tapado como a las {at}",
    "share": (
        "{count} máquinas trabajan en un lote: cada una toma su parte, todas con el mismo rumbo. "
        "Las cuentas son para una máquina sola."
    ),
    "miss": "No olvide",
    "no outline": "Sin plano: mire el lote primero.",
    "do not cross": (
        "Cuente pasadas, no superficie. Traslape {overlap} sobre la última pasada, siempre."
    ),
    "do not cross open": (
        "Cuente pasadas, no superficie. Según la última cuenta quedan {overlap} sin tapar entre "
        "pasadas: traslape la última pasada, siempre."
    ),
    "truck title": "Camión de semilla",
    "safety": "Primero la seguridad",
    "emergency": "Emergencia",
    "call": "Llame al",
    "say where": "Diga dónde está:",
    "truck loads": "Cargas",
    "be there": "esté ahí",
    "park": "estaciónese en el lote",
    "bring": "traiga",
    "spreader": "esparcidora",
    "park how": (
        "Estaciónese en suelo firme y parejo a la entrada del lote, lejos de la cabecera y de los "
        "cables. Espere a que la esparcidora esté parada y el operador le haga señas."
    ),
    "after": (
        "Después de la última carga regrese el camión. Nadie maneja un tractor si no se le dijo."
    ),
    "total": "{count} cargas, {mass} en total, {lot}",
}  # fmt: skip

# 1. Western Farm Press: flowing grain holds a grown person within 5 seconds, covers in 25.
#    North Dakota State University Extension, Caught in the grain (AE1102): how people are caught.
# 2. Clemson University, Safety information, January 2022: shields, stop before dismounting,
#    walk round, never step over.
# 3. US OSHA, Youth in agriculture: organic dust. That N95 is the least choice is from memory.
# 4. Successful Farming, Gravity flow wagon safety: children and bystanders, nobody on the load.
# 5. University of Minnesota Extension, Safely handling treated seed, 2013.
_TRUCK_EN = (
    "Stay out of the truck box, wagon and bin while seed can move. Flowing grain holds you in "
    "5 seconds and buries you in 25. Nobody goes in after anybody: stop the flow, call for help.",
    "Auger and PTO: shields on. Engine off, key out, all parts still, before anyone reaches in, "
    "clears or climbs. Walk around a shaft, never over it.",
    "Keep children and bystanders away. Nobody rides on the load or stands behind the spreader.",
    "Dust: stay upwind and wear a dust mask, N95 at least.",
)
_TRUCK_ES = (
    "No entre a la caja del camión, al vagón ni al silo mientras la semilla se pueda mover. El "
    "grano que corre lo atrapa en 5 segundos y lo entierra en 25. Nadie entra a sacar a otro: "
    "pare el flujo y pida ayuda.",
    "Sinfín y toma de fuerza: con guardas. Motor apagado, llave afuera y todo quieto antes de "
    "meter la mano, limpiar o subir. Rodee la flecha, nunca pase por encima.",
    "Niños y curiosos lejos. Nadie viaja sobre la carga ni se para detrás de la esparcidora.",
    "Polvo: póngase contra el viento y use mascarilla, N95 por lo menos.",
)
_TREATED = {
    "en": (
        "This seed is TREATED: chemical-proof gloves, long sleeves, wash before you eat. Never for "
        "food or feed. Cover every spill. Follow the label."
    ),
    "es": (
        "Esta semilla está TRATADA: guantes para químicos, manga larga, lávese antes de comer. "
        "Nunca para comida ni forraje. Tape todo derrame. Siga la etiqueta."
    ),
}
_LOCAL = {
    "en": "Local law may ask more, above all for young workers. It wins over this card.",
    "es": "La ley local puede pedir más, sobre todo con jóvenes. Vale más que esta hoja.",
}
# Clemson (PTO); our judgement (screens, standing behind the spinner).
_SPREADER = {
    "en": (
        "PTO off, engine off, key out, spinner standing still: only then clear, climb or catch "
        "seed in a bucket. Never behind a turning spinner.",
        "Stop before you look at a screen or at this card.",
    ),
    "es": (
        "Toma de fuerza y motor apagados, llave afuera, disco quieto: solo así limpie, suba o "
        "llene la cubeta. Nunca detrás de un disco girando.",
        "Deténgase antes de mirar una pantalla o esta hoja.",
    ),
}
# National Ag Safety Database, Hydraulic systems safety: 2,000 psi and more, leaks by card or
# wood; block what is raised. Dark: our judgement.
_COVERING = {
    "en": (
        "Never under a raised cultivator: lower it, or block it and lock the cylinders. Engine "
        "off, key out first.",
        "Look for oil leaks with cardboard, never by hand. Oil under the skin: doctor at once, "
        "even if it hardly hurts.",
        "Stop before you look at a screen or at this card. If you cannot see the last pass, stop "
        "and call. Nothing on this card is a reason to hurry.",
    ),
    "es": (
        "Nunca debajo de un cultivador levantado: bájelo, o cálcelo y trabe los cilindros. "
        "Primero motor apagado y llave afuera.",
        "Busque fugas de aceite con un cartón, nunca con la mano. Aceite bajo la piel: al médico "
        "de inmediato, aunque casi no duela.",
        "Deténgase antes de mirar una pantalla o esta hoja. Si no ve la última pasada, pare y "
        "avise. Nada de esta hoja es motivo para apurarse.",
    ),
}
# The spreader's and the covering driver's lines above in short. Road: common practice, no source;
# that nobody rides along is from memory.
_FIELD_EN = (
    "PTO and engine off, key out, spinner still: only then clear or climb.",
    "Never under a raised cultivator: lower it, or block it and lock the cylinders.",
    "Oil leaks: look with cardboard, never a hand. Oil under the skin: doctor at once.",
    "On the road: folded and locked, emblem clean, lights on, nobody rides along.",
)
_FIELD_ES = (
    "Toma de fuerza y motor apagados, llave afuera, disco quieto: solo así limpie o suba.",
    "Nunca debajo de un cultivador levantado: bájelo, o cálcelo y trabe los cilindros.",
    "Fugas de aceite: busque con un cartón, nunca con la mano. Aceite bajo la piel: al médico de "
    "inmediato.",
    "En el camino: plegado y trabado, triángulo limpio, luces prendidas, nadie de pasajero.",
)
_TABLE: dict[Language, dict[str, str]] = {"en": _EN, "es": _ES}
CAUTIONS: dict[str, dict[Language, tuple[str, ...]]] = {
    "spreader": {"en": _SPREADER["en"], "es": _SPREADER["es"]},
    "covering": {"en": _COVERING["en"], "es": _COVERING["es"]},
}


def field_safety(language: Language = "en") -> list[str]:
    """Return the safety lines of a field sheet: shaft and spinner, raised tool, oil, road."""
    return list(_FIELD_EN if language == "en" else _FIELD_ES)


def local_law() -> str:
    """Return the line that says whose word wins."""
    return _LOCAL["en"]


def say(language: Language, key: str, /, **blanks: object) -> str:
    """Return the words for a key, its blanks filled in."""
    return _TABLE[language][key].format(**blanks)


def truck_safety(language: Language, *, treated: bool) -> list[str]:
    """Return the safety lines of the seed truck card; treated seed only where the lot is."""
    lines = list(_TRUCK_EN if language == "en" else _TRUCK_ES)
    if treated:
        lines.append(_TREATED[language])
    return [*lines, _LOCAL[language]]
