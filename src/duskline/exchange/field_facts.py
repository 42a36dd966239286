"""What a field's properties say besides its outline: when it is ready, its numbers, its care.

Unknown keys are left alone; keys that are nearly a known one get a note.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol, TypeVar

from duskline.core.farm import Edge, Herbicide
from duskline.defaults import defaults
from duskline.units import UnitError, parse

__all__ = [
    "COMPASS",
    "EDGE_KINDS",
    "KNOWN_KEYS",
    "FieldFacts",
    "LeftOutFact",
    "Report",
    "near_miss_notes",
    "read_facts",
    "read_left_out",
    "shown",
]

EDGE_KINDS = ("organic", "seed crop", "ditch", "road", "water", "home")
_TEXT_KEYS = ("farm_no", "tract_no", "field_no", "previous_crop", "notes", "customer", "lot")
KNOWN_KEYS = (
    "name",
    "ready_from",
    "ready_early",
    "ready_late",
    "due",
    "split",
    "priority",
    *_TEXT_KEYS,
    "edges",
    "erodible",
    "not_after_rain",
    "herbicide",
    "gate",
    "gates",
    "driven_area",
    "office_area",
    "slope",
    "downhill",
    "left_out",
)
COMPASS = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
)  # fmt: skip
_COMPASS_SHORT = {
    **dict(zip(("n", "ne", "e", "se", "s", "sw", "w", "nw"), COMPASS, strict=True)),
    **{word.replace("-", ""): word for word in COMPASS},
}
_MOST_GATES = 50
_MOST_LEFT_OUT = 200
_MOST_RING_CORNERS = 5000
_WIDEST_STRIP_M = 100.0
_STEEPEST_FRACTION = 1.0
_LEAST_AREA_M2, _MOST_AREA_M2 = 1.0, 1e8
_LONGEST_TEXT = 2000
_LONGEST_INTERVAL_DAYS = 3660
_FIRST_YEAR, _LAST_YEAR = 2000, 2100
# Reading bounds, so that a hostile file costs no time: keys compared, and their length.
_KEYS_COMPARED = 200
_KEY_LENGTH_COMPARED = 40
_MOST_PRIORITY = 1000.0
_MIDNIGHT = re.compile(r"[T ]00:00(:00(\.0+)?)?$")
_NUMBER = re.compile(r"\d{1,6}(\.\d{1,6})?")
_PRIORITY_WORDS = ("first", "normal", "last")
_READY_FORM = 'a day such as "2026-10-18", a day and time "2026-10-18T09:00", or "now"'

Value = TypeVar("Value")


class Report(Protocol):
    """Takes a problem with one key: what was read, what was expected, a hint."""

    def __call__(self, key: str, *, read: str, expected: str, hint: str = "") -> None:
        """Keep the problem."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftOutFact:
    """Ground of a field that is not worked, as written; exactly a ring or an area.

    Attributes
    ----------
    what
        In the farmer's word.
    area_m2
        Its size; None where a ring was drawn. [m2]
    at_lonlat_deg
        Its middle, longitude and latitude; None where only its size is known. [deg]
    ring_lonlat_deg
        Its corners, longitude and latitude; empty where none were drawn. [deg]
    come_back
        Whether it is to be done later.
    file
        The file it stands in, for a problem with it; empty for the file of the outlines.
    """

    what: str
    area_m2: float | None = None
    at_lonlat_deg: tuple[float, float] | None = None
    ring_lonlat_deg: tuple[tuple[float, float], ...] = ()
    come_back: bool = True
    note: str = ""
    file: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldFacts:
    """A field's known properties; a text not stated is empty.

    Attributes
    ----------
    ready_from
        The first moment work may start; None where it is ready now. Without an offset it is
        the farm's local clock; a day alone means its first minute.
    ready_early, ready_late
        The same where the harvest goes well, and where it does not; None where not stated.
    due
        The field's own last day for sowing; None where the season's holds.
    split
        Whether it may be sown on several days or by several crews.
    priority
        How many times the price its lateness costs.
    farm_no, tract_no, field_no, previous_crop, notes, customer, lot
        As written.
    edges
        What lies along the edges.
    erodible, not_after_rain
        Whether the ground washes easily; whether it carries no machine after rain.
    herbicide
        What was sprayed and how long it lasts.
    gate_lonlat_deg
        Longitude and latitude of the first gate; None where not stated. [deg]
    gates_lonlat_deg
        All of them, the first one first. [deg]
    driven_area_m2, office_area_m2
        What a driver's track or monitor said, and what the agency has on file. [m2]
    slope_fraction, downhill_to
        How steep the ground is, and towards which of the eight winds it falls.
    left_out
        Ground that is not worked.
    """

    ready_from: datetime | None = None
    ready_early: datetime | None = None
    ready_late: datetime | None = None
    due: date | None = None
    split: bool = True
    priority: float = 1.0
    farm_no: str = ""
    tract_no: str = ""
    field_no: str = ""
    previous_crop: str = ""
    notes: str = ""
    customer: str = ""
    lot: str = ""
    edges: tuple[Edge, ...] = ()
    erodible: bool = False
    not_after_rain: bool = False
    herbicide: tuple[Herbicide, ...] = ()
    gate_lonlat_deg: tuple[float, float] | None = None
    gates_lonlat_deg: tuple[tuple[float, float], ...] = ()
    driven_area_m2: float | None = None
    office_area_m2: float | None = None
    slope_fraction: float | None = None
    downhill_to: str | None = None
    left_out: tuple[LeftOutFact, ...] = ()


def read_facts(properties: Mapping[str, object], report: Report) -> FieldFacts:
    """Return the known properties of one field; what cannot be read is reported and left out.

    Parameters
    ----------
    properties
        The feature's properties as read from the file.
    report
        Called with every problem found.
    """
    reader = _Reader(properties, report)
    texts = {key: reader.take(key, "", _text, _TEXT_FORM) for key in _TEXT_KEYS}
    gate = reader.take("gate", None, _lonlat_deg, _GATE_FORM)
    more: tuple[tuple[float, float], ...] = reader.take("gates", (), _gates, _GATES_FORM)
    ready = reader.take("ready_from", None, _ready_from, _READY_FORM)
    gates = tuple(dict.fromkeys((*((gate,) if gate else ()), *more)))
    return FieldFacts(
        **texts,
        ready_from=ready,
        ready_early=_harvest(reader, "ready_early", ready),
        ready_late=_harvest(reader, "ready_late", ready),
        due=reader.take("due", None, _due, _DUE_FORM),
        split=reader.take("split", True, _yes_or_no, _YES_NO_FORM),
        priority=reader.take("priority", _priority("normal"), _priority, _PRIORITY_FORM),
        edges=reader.take("edges", (), _edges, _EDGES_FORM),
        erodible=reader.take("erodible", False, _yes_or_no, _YES_NO_FORM),
        not_after_rain=reader.take("not_after_rain", False, _yes_or_no, _YES_NO_FORM),
        herbicide=reader.take("herbicide", (), _herbicides, _HERBICIDE_FORM),
        gate_lonlat_deg=gates[0] if gates else None,
        gates_lonlat_deg=gates,
        driven_area_m2=reader.take("driven_area", None, _area_m2, _AREA_FORM),
        office_area_m2=reader.take("office_area", None, _area_m2, _AREA_FORM),
        slope_fraction=reader.take("slope", None, _slope_fraction, _SLOPE_FORM),
        downhill_to=reader.take("downhill", None, _compass, _COMPASS_FORM),
        left_out=reader.take("left_out", (), _left_outs, _LEFT_OUT_FORM),
    )


def read_left_out(entry: Mapping[str, object]) -> LeftOutFact:
    """Return one piece of ground that is left out.

    Raises
    ------
    ValueError
        It cannot be read; the message says why, or is empty.
    """
    what = _text(entry.get("what") or "")
    if not what:
        raise ValueError('Each needs its "what", such as "wet hole".')
    area, at, ring = entry.get("area"), entry.get("at"), entry.get("ring")
    if (area is None) == (ring is None) or (ring is not None and at is not None):
        raise ValueError('Each needs either its "area", with or without "at", or its "ring".')
    come_back = entry.get("come_back")
    return LeftOutFact(
        what=what,
        area_m2=None if area is None else _area_m2(area),
        at_lonlat_deg=None if at is None else _lonlat_deg(at),
        ring_lonlat_deg=() if ring is None else _ring(ring),
        come_back=True if come_back is None else _yes_or_no(come_back),
        note=_text(entry.get("note") or ""),
    )


def near_miss_notes(properties: Mapping[str, object]) -> tuple[str, ...]:
    """Return a note for every unknown key that is nearly a known one."""
    notes = []
    unknown = [key for key in properties if key not in KNOWN_KEYS]
    for key in unknown[:_KEYS_COMPARED]:
        plain = key[:_KEY_LENGTH_COMPARED].strip().lower().replace("-", "_").replace(" ", "_")
        near = difflib.get_close_matches(plain, KNOWN_KEYS, n=1, cutoff=0.8)
        if near and near[0] not in properties:
            notes.append(f'"{key[:_KEY_LENGTH_COMPARED]}" is not a known key; meant "{near[0]}"?')
    return tuple(notes)


def shown(value: object) -> str:
    """Return a value as it may stand in a sentence, short whatever it is."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "an object in braces"
    text = value if isinstance(value, str) else repr(value)
    text = "".join(letter if letter.isprintable() else "?" for letter in text[:60])
    return f'"{text}"' if isinstance(value, str) else text


_TEXT_FORM = "a text"
_MOMENT_FORM = 'a day such as "2026-10-18", or a day and time "2026-10-18T09:00"'
_DUE_FORM = 'a day such as "2026-10-21"'
_PRIORITY_FORM = 'a number above 0, or "first", "normal" or "last"'
_YES_NO_FORM = "true or false, without quotation marks"
_GATE_FORM = "longitude and latitude in degrees, such as [-93.5, 42.0]"
_GATES_FORM = "a list of gates such as [[-93.5, 42.0], [-93.49, 42.01]]"
_AREA_FORM = 'an area with its unit, such as "39.6 ac"'
_SLOPE_FORM = 'a slope such as "6 %"'
_COMPASS_FORM = f"one of {', '.join(COMPASS)}"
_LEFT_OUT_FORM = (
    'a list such as [{"what": "wet hole", "area": "0.4 ac", "at": [-93.5, 42.0]}] or with a "ring"'
)
_EDGES_FORM = (
    'a list such as [{"side": "east", "kind": "water", "note": "creek"}], each kind one of '
    + ", ".join(EDGE_KINDS)
)
_HERBICIDE_FORM = (
    'a list such as [{"name": "the label\'s name", "applied_on": "2026-06-01", '
    '"interval_days": 120}]'
)


@dataclass(frozen=True, slots=True)
class _Reader:
    """Takes known keys out of the properties, reporting those that cannot be read."""

    properties: Mapping[str, object]
    report: Report

    def take(
        self, key: str, absent: Value, read: Callable[[object], Value], expected: str
    ) -> Value:
        value = self.properties.get(key)
        if value is None:
            return absent
        try:
            return read(value)
        except (ValueError, OverflowError) as error:
            self.report(key, read=shown(value), expected=expected, hint=str(error))
            return absent


def _text(value: object) -> str:
    # Numbers of farms and tracts often come out of other programs without quotation marks.
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if not isinstance(value, str):
        raise ValueError("")
    if len(value) > _LONGEST_TEXT:
        raise ValueError(f"It is longer than {_LONGEST_TEXT} letters.")
    return value.strip()


def _yes_or_no(value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError("")
    return value


def _ready_from(value: object) -> datetime | None:
    if not isinstance(value, str):
        raise ValueError("")
    text = value.strip()
    if text.lower() == "now":
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError("") from None
    _check_year(moment)
    return moment


def _moment(value: object) -> datetime:
    moment = _ready_from(value)
    if moment is None:
        raise ValueError("")
    return moment


def _harvest(reader: _Reader, key: str, ready: datetime | None) -> datetime | None:
    """Return the moment under a key, if there is a likely one (or "now") to hold it against."""
    moment = reader.take(key, None, _moment, _MOMENT_FORM)
    likely = reader.properties.get("ready_from")
    if moment is not None and likely is None:
        read, expected = f"{key} alone", "ready_from beside it: when it is likely ready"
        reader.report(key, read=read, expected=expected)
        return None
    is_now = isinstance(likely, str) and likely.strip().lower() == "now"
    return moment if ready is not None or is_now else None


def _due(value: object) -> date:
    # Other vector files hold a day as its first moment.
    if isinstance(value, str) and _MIDNIGHT.search(value):
        value = _MIDNIGHT.sub("", value)
    return _day(value)


def _priority(value: object) -> float:
    word = value.strip().lower() if isinstance(value, str) else value
    if word in _PRIORITY_WORDS:
        return defaults()[f"field_priority_{word}"].typical
    if isinstance(word, str) and _NUMBER.fullmatch(word):
        word = float(word)
    if isinstance(word, bool) or not isinstance(word, int | float):
        raise ValueError("")
    if not 0.0 < word <= _MOST_PRIORITY:
        raise ValueError(f"It must be above 0 and at most {_MOST_PRIORITY:g}.")
    return float(word)


def _check_year(day: date) -> None:
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise ValueError(
            f"The year {day.year} does not lie between {_FIRST_YEAR} and {_LAST_YEAR}."
        )


def _day(value: object) -> date:
    if not isinstance(value, str):
        raise ValueError("")
    try:
        day = date.fromisoformat(value.strip())
    except ValueError:
        raise ValueError(f'The day {shown(value)} is not of the form "2026-06-01".') from None
    _check_year(day)
    return day


def _lonlat_deg(value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError("")
    if not all(type(figure) in (int, float) and math.isfinite(figure) for figure in value):
        raise ValueError("")
    lon_deg, lat_deg = float(value[0]), float(value[1])
    if abs(lon_deg) > 180.0 or abs(lat_deg) > 90.0:
        raise ValueError("Longitude comes first.")
    return lon_deg, lat_deg


def _gates(value: object) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list) or len(value) > _MOST_GATES:
        raise ValueError("")
    return tuple(_lonlat_deg(gate) for gate in value)


def _ring(value: object) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list) or not 3 <= len(value) <= _MOST_RING_CORNERS:
        raise ValueError("A ring has three corners or more.")
    return tuple(_lonlat_deg(corner) for corner in value)


def _quantity(value: object, kind: str, low: float, high: float) -> float:
    try:
        found = parse(value, kind)
    except UnitError:
        raise ValueError("") from None
    if not low <= found <= high:
        raise ValueError("That is too much or too little.")
    return found


def _area_m2(value: object) -> float:
    return _quantity(value, "area", _LEAST_AREA_M2, _MOST_AREA_M2)


def _slope_fraction(value: object) -> float:
    return _quantity(value, "fraction", 0.0, _STEEPEST_FRACTION)


def _compass(value: object) -> str:
    word = _text(value).lower().replace("-", "").replace(" ", "")
    if word not in _COMPASS_SHORT:
        raise ValueError("")
    return _COMPASS_SHORT[word]


def _left_outs(value: object) -> tuple[LeftOutFact, ...]:
    entries = _objects(value)
    if len(entries) > _MOST_LEFT_OUT:
        raise ValueError(f"More than {_MOST_LEFT_OUT} pieces.")
    return tuple(read_left_out(entry) for entry in entries)


def _objects(value: object) -> list[dict[str, object]]:
    if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
        raise ValueError("")
    return value


def _edges(value: object) -> tuple[Edge, ...]:
    found = []
    for entry in _objects(value):
        written = entry.get("kind")
        kind = " ".join(written.lower().split()) if isinstance(written, str) else None
        if kind not in EDGE_KINDS:
            raise ValueError(f"The kind {shown(written)} is none of these.")
        where = _text(entry.get("side") or entry.get("where") or "")
        if not where:
            raise ValueError('Each needs its "side" or "where".')
        off = entry.get("off")
        found.append(
            Edge(
                side=where,
                kind=kind,
                note=_text(entry.get("note") or ""),
                off_m=None if off is None else _strip_m(off),
            )
        )
    return tuple(found)


def _strip_m(value: object) -> float:
    try:
        return _quantity(value, "length", 0.0, _WIDEST_STRIP_M)
    except ValueError:
        raise ValueError(f'off is {shown(value)}; a strip is a width such as "30 ft".') from None


def _herbicides(value: object) -> tuple[Herbicide, ...]:
    found = []
    for entry in _objects(value):
        name, days = _text(entry.get("name") or ""), entry.get("interval_days")
        if not name:
            raise ValueError('Each needs its "name".')
        if not isinstance(days, int) or isinstance(days, bool):
            raise ValueError(f"interval_days is {shown(days)}; it must be whole days.")
        if not 0 <= days <= _LONGEST_INTERVAL_DAYS:
            raise ValueError(f"interval_days is {days}; it must lie between 0 and ten years.")
        applied_on = _day(entry.get("applied_on"))
        found.append(Herbicide(name=name, applied_on=applied_on, interval_days=days))
    return tuple(found)
