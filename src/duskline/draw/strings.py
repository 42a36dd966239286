"""The words on drawings, English and Spanish.

The Spanish is from memory and waits for a farmer whose language it is.
"""

from __future__ import annotations

from typing import Literal

__all__ = ["Language", "because", "words"]

Language = Literal["en", "es"]

_EN = {
    "strip title": "The day strip",
    "strip story": (
        "Area spread and worked in through {date}. Stop spreading {stop}. All worked in by "
        "{cutoff}, {edge}. Between the two curves the seed lies open."
    ),
    "strip story stopped": (
        "Area spread and worked in through {date}. Spreading stopped {stop}. All worked in by "
        "{cutoff}, {edge}. Between the two curves the seed lies open."
    ),
    "hard edge": "a hard limit",
    "soft edge": "a limit that may give a little",
    "stop": "stop {at}",
    "stop because": "stop {at}, {why}",
    "stop now": "stop now",
    "stopped": "stopped {at}",
    "all in": "all in by {at}",
    "all in because": "all in by {at}, {why}",
    "ends": "work ends {at}",
    "ends because": "work ends {at}, {why}",
    "closes": "no spreading from {at}, {why}",
    "now": "now {at}",
    "sunset": "sunset {at}",
    "spread": "spread",
    "worked in": "worked in",
    "open": "{area} open",
    "key open": "open: bare seed",
    "key band": "8 days in 10",
    "fill": "fill",
    "move": "move",
    "changeover": "changeover {span}",
    "wind": "wind",
    "because": {
        "dew off": "dew off", "sunrise": "sunrise", "civil dawn": "first light",
        "crew start": "crew starts", "wind": "wind", "dew on": "dew", "rain": "rain",
        "civil dusk": "dark", "crew end": "crew stops", "midnight": "midnight",
        "stated in farm.toml": "",
        "ground not fit": "ground not fit", "home before dark": "home before dark",
    },
    "noon": "noon",
    "tray title": "What falls across the driving",
    "tray story": (
        "Seed across two passes at {width}, {way}. Thinnest {thin} of the mean, heaviest {heavy}."
    ),
    "back and forth": "back and forth",
    "round and round": "round and round",
    "mean": "mean",
    "thin": "thin",
    "path": "driving line",
    "seen from above": "as it lies on the ground",
    "dose": "share of the mean",
    "evenness title": "Evenness by driving width",
    "evenness story": (
        "Unevenness at each driving width. Good to {good} back and forth. Lower is more even."
    ),
    "good": "good to {limit}",
    "usable": "usable to {limit}",
    "nothing good": "no width is good",
    "uneven": "unevenness (CV)",
    "driving width": "driving width",
    "map title": "Field {name}",
    "map story": (
        "Field {name}: {rounds} headland rounds, {passes} passes to work it in, heading {heading}."
    ),
    "map outline story": "Field {name}: its outline, north up.",
    "start here": "start",
    "aim": "aim here",
    "spread pass": "spread",
    "cover pass": "worked in",
    "headland": "headland rounds",
    "north": "N",
    "gate": "gate",
    "hole": "hole",
    "part": "part {number}",
    "empty": "load {number} empty",
    "no seed": "no seed",
    "spread start": "spreader starts",
    "thinned": ", 1 of {every} drawn",
    "density title": "Field {name}: {what}",
    "density story": "Below half the planned rate: {share} of the ground.",
    "density before": "seed as spread",
    "density after": "seed after working in",
    "density difference": "what working in changed",
    "density worked": "where the tool went",
    "dose percent": "percent of the planned rate",
    "dose plants": "{unit}, {planned} planned",
    "plants us": "plants per ft2",
    "plants metric": "plants per m2",
    "dose under": "under {high}",
    "dose between": "{low} to {high}",
    "dose over": "over {low}",
    "lost over": "over {far} lost",
    "lost": "{near} to {far} lost",
    "unchanged": "less than {near} either way",
    "gained": "{near} to {far} gained",
    "gained over": "over {far} gained",
    "times worked": "share of the ground",
    "worked missed": "missed {share}",
    "worked once": "once {share}",
    "worked twice": "twice {share}",
    "bands title": "What working in does to strips",
    "bands story": (
        "Seed across three passes {width} apart, before and after working in: {verdict}. Old rows "
        "{rows} apart: {along} of their height stays when worked along them, {crossed} {angle}."
    ),
    "bands before": "seed as spread",
    "bands after": "seed after working in {angle}",
    "at angle": "at {angle} off the passes",
    "at no angle": "along the passes",
    "bands even": "there are hardly any strips",
    "bands stay": "the strips stay",
    "bands eased": "the strips get weaker",
    "bands gone": "the strips are gone",
    "half line": "half",
    "below half": "under half",
    "rows title": "old rows {rows} apart",
    "rows before": "before",
    "rows along": "along them",
    "rows across": "at {angle}",
    "rows left": "{share} left",
    "season title": "The season, day by day",
    "season story": "{days} days from {first} to {last}, {closed} of them without work. {fan}",
    "season fan story": "By {last} the plan covers {plan} of {total}; 8 seasons in 10 cover "
    "{low} to {high}.",
    "season deadline story": "Deadline {deadline}.",
    "season free": "free",
    "season shut": "closed",
    "season none": "no work, {why}",
    "season row": "{area}, stop {at}",
    "season plan": "plan",
    "season middle": "middle season",
    "season band": "8 seasons in 10",
    "season all": "all {area}",
    "season deadline": "deadline {on}",
    "season stop": "stop spreading",
    "weekday 0": "Mon", "weekday 1": "Tue", "weekday 2": "Wed", "weekday 3": "Thu",
    "weekday 4": "Fri", "weekday 5": "Sat", "weekday 6": "Sun",
    "month 1": "Jan", "month 2": "Feb", "month 3": "Mar", "month 4": "Apr", "month 5": "May",
    "month 6": "Jun", "month 7": "Jul", "month 8": "Aug", "month 9": "Sep", "month 10": "Oct",
    "month 11": "Nov", "month 12": "Dec",
    "month day": "{month} {day}",
    "weekday day": "{weekday} {day}",
}  # fmt: skip

_ES = {
    "strip title": "La tira del día",
    "strip story": (
        "Superficie esparcida y tapada el {date}. Pare de esparcir {stop}. Todo tapado antes de "
        "las {cutoff}, {edge}. Entre las dos curvas la semilla está sin tapar."
    ),
    "strip story stopped": (
        "Superficie esparcida y tapada el {date}. Se paró de esparcir {stop}. Todo tapado antes de "
        "las {cutoff}, {edge}. Entre las dos curvas la semilla está sin tapar."
    ),
    "hard edge": "un límite firme",
    "soft edge": "un límite que puede ceder un poco",
    "stop": "pare {at}",
    "stop because": "pare {at}, {why}",
    "stop now": "pare ya",
    "stopped": "paró {at}",
    "all in": "todo tapado {at}",
    "all in because": "todo tapado {at}, {why}",
    "ends": "se acaba {at}",
    "ends because": "se acaba {at}, {why}",
    "closes": "no esparcir desde {at}, {why}",
    "now": "ahora {at}",
    "sunset": "puesta del sol {at}",
    "spread": "esparcido",
    "worked in": "tapado",
    "open": "{area} sin tapar",
    "key open": "semilla sin tapar",
    "key band": "8 días de 10",
    "fill": "carga",
    "move": "traslado",
    "changeover": "cambio {span}",
    "wind": "viento",
    "because": {
        "dew off": "sin rocío", "sunrise": "salida del sol", "civil dawn": "primera luz",
        "crew start": "empieza la gente", "wind": "viento", "dew on": "rocío", "rain": "lluvia",
        "civil dusk": "oscuro", "crew end": "para la gente", "midnight": "medianoche",
        "stated in farm.toml": "",
        "ground not fit": "suelo no está para entrar", "home before dark": "a casa con luz",
    },
    "noon": "12 pm",
    "tray title": "Lo que cae a lo ancho",
    "tray story": (
        "Semilla a lo ancho de dos pasadas a {width}, {way}. Lo más ralo {thin} del promedio, lo "
        "más cargado {heavy}."
    ),
    "back and forth": "ida y vuelta",
    "round and round": "en redondo",
    "mean": "promedio",
    "thin": "ralo",
    "path": "línea de paso",
    "seen from above": "como queda en el suelo",
    "dose": "parte del promedio",
    "evenness title": "Parejo según el ancho de pasada",
    "evenness story": (
        "Desparejo a cada ancho de pasada. Bueno hasta {good} ida y vuelta. Menos es más parejo."
    ),
    "good": "bueno hasta {limit}",
    "usable": "usable hasta {limit}",
    "nothing good": "ningún ancho es bueno",
    "uneven": "desparejo (CV)",
    "driving width": "ancho de pasada",
    "map title": "Lote {name}",
    "map story": (
        "Lote {name}: {rounds} vueltas de cabecera, {passes} pasadas para tapar, rumbo {heading}."
    ),
    "map outline story": "Lote {name}: su contorno, el norte arriba.",
    "start here": "empiece",
    "aim": "apunte aquí",
    "spread pass": "esparcir",
    "cover pass": "tapar",
    "headland": "vueltas de cabecera",
    "north": "N",
    "gate": "entrada",
    "hole": "hueco",
    "part": "parte {number}",
    "empty": "carga {number} vacía",
    "no seed": "sin semilla",
    "spread start": "empieza la esparcidora",
    "thinned": ", se dibuja 1 de {every}",
    "density title": "Lote {name}: {what}",
    "density story": "Con menos de la mitad de lo previsto: {share} del suelo.",
    "density before": "semilla como cae",
    "density after": "semilla después de tapar",
    "density difference": "lo que cambia al tapar",
    "density worked": "por dónde pasó la máquina",
    "dose percent": "por ciento de lo previsto",
    "dose plants": "{unit}, {planned} previstas",
    "plants us": "plantas por ft2",
    "plants metric": "plantas por m2",
    "dose under": "menos de {high}",
    "dose between": "{low} a {high}",
    "dose over": "más de {low}",
    "lost over": "más de {far} menos",
    "lost": "{near} a {far} menos",
    "unchanged": "menos de {near} de cambio",
    "gained": "{near} a {far} más",
    "gained over": "más de {far} más",
    "times worked": "parte del suelo",
    "worked missed": "sin pasar {share}",
    "worked once": "una vez {share}",
    "worked twice": "dos veces {share}",
    "bands title": "Lo que tapar hace con las franjas",
    "bands story": (
        "Semilla a lo ancho de tres pasadas a {width}, antes y después de tapar: {verdict}. "
        "Hileras viejas cada {rows}: queda {along} de su altura si se tapa a lo largo, "
        "{crossed} {angle}."
    ),
    "bands before": "semilla como cae",
    "bands after": "semilla tapada {angle}",
    "at angle": "a {angle} de las pasadas",
    "at no angle": "a lo largo de las pasadas",
    "bands even": "casi no hay franjas",
    "bands stay": "las franjas quedan",
    "bands eased": "las franjas se suavizan",
    "bands gone": "las franjas desaparecen",
    "half line": "mitad",
    "below half": "menos de la mitad",
    "rows title": "hileras viejas cada {rows}",
    "rows before": "antes",
    "rows along": "a lo largo",
    "rows across": "a {angle}",
    "rows left": "queda {share}",
    "season title": "La temporada, día por día",
    "season story": "{days} días del {first} al {last}, {closed} de ellos sin trabajo. {fan}",
    "season fan story": "Hasta el {last} el plan cubre {plan} de {total}; 8 temporadas de 10 "
    "cubren {low} a {high}.",
    "season deadline story": "Fecha límite {deadline}.",
    "season free": "libre",
    "season shut": "cerrado",
    "season none": "sin trabajo, {why}",
    "season row": "{area}, pare {at}",
    "season plan": "plan",
    "season middle": "temporada del medio",
    "season band": "8 temporadas de 10",
    "season all": "todo, {area}",
    "season deadline": "fecha límite {on}",
    "season stop": "pare de esparcir",
    "weekday 0": "lun", "weekday 1": "mar", "weekday 2": "mié", "weekday 3": "jue",
    "weekday 4": "vie", "weekday 5": "sáb", "weekday 6": "dom",
    "month 1": "ene", "month 2": "feb", "month 3": "mar", "month 4": "abr", "month 5": "may",
    "month 6": "jun", "month 7": "jul", "month 8": "ago", "month 9": "sep", "month 10": "oct",
    "month 11": "nov", "month 12": "dic",
    "month day": "{day} {month}",
    "weekday day": "{weekday} {day}",
}  # fmt: skip

_TABLE: dict[Language, dict[str, str | dict[str, str]]] = {"en": _EN, "es": _ES}  # type: ignore[dict-item]


def words(language: Language, key: str, /, **fields: object) -> str:
    """Return the words for a key, its blanks filled in."""
    text = _TABLE[language][key]
    if isinstance(text, dict):
        raise KeyError(key)
    return text.format(**fields)


def because(language: Language, reason: str) -> str:
    """Return what opens or closes work, in a word or two; "" where the crew stated it."""
    table = _TABLE[language]["because"]
    return table.get(reason, reason) if isinstance(table, dict) else reason
