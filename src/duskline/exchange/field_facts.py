"""What a field's properties say besides its outline: when it is ready, its numbers, its care.

Unknown keys are left alone; keys that are nearly a known one get a note.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol, TypeVar

from duskline.core.farm import Edge, Herbicide

__all__ = [
    "EDGE_KINDS",
    "KNOWN_KEYS",
    "FieldFacts",
    "Report",
    "near_miss_notes",
    "read_facts",
    "shown",
]

EDGE_KINDS = ("organic", "seed crop", "ditch", "road", "water", "home")
_TEXT_KEYS = ("farm_no", "tract_no", "field_no", "previous_crop", "notes", "customer", "lot")
KNOWN_KEYS = (
    "name",
    "ready_from",
    *_TEXT_KEYS,
    "edges",
    "erodible",
    "not_after_rain",
    "herbicide",
    "gate",
)
_LONGEST_TEXT = 2000
_LONGEST_INTERVAL_DAYS = 3660
_FIRST_YEAR, _LAST_YEAR = 2000, 2100
# Reading bounds, so that a hostile file costs no time: keys compared, and their length.
_KEYS_COMPARED = 200
_KEY_LENGTH_COMPARED = 40
_READY_FORM = 'a day such as "2026-10-18", a day and time "2026-10-18T09:00", or "now"'

Value = TypeVar("Value")


class Report(Protocol):
    """Takes a problem with one key: what was read, what was expected, a hint."""

    def __call__(self, key: str, *, read: str, expected: str, hint: str = "") -> None:
        """Keep the problem."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldFacts:
    """A field's known properties; a text not stated is empty.

    Attributes
    ----------
    ready_from
        The first moment work may start; None where it is ready now. Without an offset it is
        the farm's local clock; a day alone means its first minute.
    farm_no, tract_no, field_no, previous_crop, notes, customer, lot
        As written.
    edges
        What lies along the edges.
    erodible, not_after_rain
        Whether the ground washes easily; whether it carries no machine after rain.
    herbicide
        What was sprayed and how long it lasts.
    gate_lonlat_deg
        Longitude and latitude of the gate; None where not stated. [deg]
    """

    ready_from: datetime | None = None
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
    return FieldFacts(
        **texts,
        ready_from=reader.take("ready_from", None, _ready_from, _READY_FORM),
        edges=reader.take("edges", (), _edges, _EDGES_FORM),
        erodible=reader.take("erodible", False, _yes_or_no, _YES_NO_FORM),
        not_after_rain=reader.take("not_after_rain", False, _yes_or_no, _YES_NO_FORM),
        herbicide=reader.take("herbicide", (), _herbicides, _HERBICIDE_FORM),
        gate_lonlat_deg=reader.take("gate", None, _lonlat_deg, _GATE_FORM),
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
_YES_NO_FORM = "true or false, without quotation marks"
_GATE_FORM = "longitude and latitude in degrees, such as [-93.5, 42.0]"
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


def _objects(value: object) -> list[dict[str, object]]:
    if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
        raise ValueError("")
    return value


def _edges(value: object) -> tuple[Edge, ...]:
    found = []
    for entry in _objects(value):
        kind = entry.get("kind")
        if kind not in EDGE_KINDS:
            raise ValueError(f"The kind {shown(kind)} is none of these.")
        where = _text(entry.get("side") or entry.get("where") or "")
        if not where:
            raise ValueError('Each needs its "side" or "where".')
        found.append(Edge(side=where, kind=str(kind), note=_text(entry.get("note") or "")))
    return tuple(found)


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
