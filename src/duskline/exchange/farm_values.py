"""What stands in ``farm.toml`` as the text a person would type, and back."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from duskline.exchange.farm_form import FormKey, FormTable, form_tables
from duskline.exchange.farm_toml import LARGEST_BYTES, read_farm_toml
from duskline.exchange.farmfolder import TOML
from duskline.exchange.problems import FolderProblem, Problem

__all__ = [
    "BOM",
    "Entry",
    "address_of",
    "canon",
    "content_of",
    "entries_of",
    "same",
    "toml_to_values",
    "typed_of",
    "value_at",
    "value_of",
]

Entry = str | int | None
"""Which entry of a repeated table: its name, or its place from 0 (-1 is the last)."""

BOM = "\ufeff"
_YES = frozenset({"yes", "y", "true", "on", "1", "sí", "si", "s"})
_NO = frozenset({"no", "n", "false", "off", "0"})
_WHOLE = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+|[+-]?\d{1,15}")
_NUMBER = re.compile(r"[+-]?\d{1,15}(?:[.,]\d{1,15})?")
_CLOCK_12 = re.compile(r"\b(1[0-2]|0?[1-9])(?::([0-5]\d))?\s*([ap])\.?\s?m\b\.?", re.IGNORECASE)
_DEGREES = re.compile(r"\s*([+-]?\d{1,3}(?:\.\d{1,15})?)\s*°?\s*([NSEWO]?)\s*", re.IGNORECASE)
# A comma with three digits after it parts thousands, not items.
_BETWEEN_ITEMS = re.compile(r"[;\n]|,(?=\s)|,(?!\d{3}(?!\d))")
_DEEPEST = 20
_MANY_LINES = "\n"


def toml_to_values(text: str) -> dict[tuple[str, Entry, str], str]:
    """Return every value of a ``farm.toml`` as the text a person would type.

    Keys are (table, entry, key): the entry is None for a single table, its name where it has
    one of its own, else its place from 0. An entry stands in even where it holds nothing, under
    the key "". What the models do not know is left out.

    Raises
    ------
    FolderProblem
        The text is no TOML.
    """
    content = content_of(text)
    values: dict[tuple[str, Entry, str], str] = {}
    for table in form_tables().values():
        for number, held in enumerate(entries_of(content, table)):
            entry = address_of(content, table, number)
            if table.repeated:
                values[table.table, entry, ""] = ""
            for key in table.keys:
                value = value_at(held, key.split("."))
                if value is not None:
                    values[table.table, entry, key] = typed_of(value)
    return values


def value_of(key: FormKey, typed: str) -> object:
    """Return what was typed in the TOML form the model wants; as text where it has none."""
    if key.many:
        return [_one(key, item) for item in _items(key, typed)]
    return _one(key, typed)


def _items(key: FormKey, typed: str) -> list[str]:
    if key.kind == "place":
        found = re.split(r"[;\n]", typed)
    elif _MANY_LINES in typed:
        found = typed.split("\n")
    else:
        found = _BETWEEN_ITEMS.split(typed)
    return [item.strip() for item in found if item.strip()]


def _one(key: FormKey, typed: str) -> object:
    text = typed.strip()
    match key.kind:
        case "yes or no":
            word = text.lower()
            return True if word in _YES else False if word in _NO else text
        case "whole number":
            return int(text.replace(",", "")) if _WHOLE.fullmatch(text) else text
        case "number":
            return float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else text
        case "choice":
            return next((one for one in key.choices if one.lower() == text.lower()), text)
        case "date":
            return _date(text)
        case "clock" | "span":
            return _CLOCK_12.sub(_clock_24, text)
        case "place":
            return _place(text)
    return text.replace("\r\n", "\n")


def _date(text: str) -> object:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return text


def _clock_24(match: re.Match[str]) -> str:
    """Return a clock time with am or pm on the clock of 24 hours."""
    hour = int(match[1]) % 12 + (12 if match[3].lower() == "p" else 0)
    return f"{hour:02d}:{match[2] or '00'}"


def _place(text: str) -> object:
    """Return longitude and latitude: in this order, or told by their letters."""
    parts = [_DEGREES.fullmatch(part) for part in text.strip("[] ").split(",")]
    if len(parts) != 2 or parts[0] is None or parts[1] is None:
        return text
    letters = [part[2].upper() for part in parts if part is not None]
    figures = [float(part[1]) for part in parts if part is not None]
    signed = [
        -abs(figure) if letter in {"S", "W", "O"} else figure
        for figure, letter in zip(figures, letters, strict=True)
    ]
    return signed[::-1] if letters[0] in {"N", "S"} else signed


def typed_of(value: object) -> str:
    """Return a value of the file as a person would type it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return _typed_list(value)
    return str(value)


def _typed_list(value: list[Any]) -> str:
    if value and all(isinstance(item, list) for item in value):
        return "; ".join(_typed_list(item) for item in value)
    items = [typed_of(item) for item in value]
    if any(len(_BETWEEN_ITEMS.split(item)) > 1 for item in items):
        return "".join(f"{item}\n" for item in items)
    return ", ".join(items)


def content_of(text: str) -> dict[str, Any]:
    """Return the tables and keys of a text.

    Raises
    ------
    FolderProblem
        It is no TOML, too large, or nested deeper than a farm's tables are.
    """
    raw = text.encode("utf-8", "replace")
    if len(raw) > LARGEST_BYTES:
        raise FolderProblem(tuple(read_farm_toml(raw)[2]))
    try:
        content = tomllib.loads(text.removeprefix(BOM))
    except (ValueError, RecursionError) as wrong:
        raise FolderProblem(tuple(read_farm_toml(raw)[2])) from wrong
    if _is_deep(content):
        read, expected = "lists nested too deep to follow", "a farm's own tables"
        raise FolderProblem((Problem(file=TOML, where="", read=read, expected=expected),))
    return content


def _is_deep(content: Mapping[str, Any]) -> bool:
    level: list[Any] = [content]
    for _ in range(_DEEPEST):
        level = [
            held
            for one in level
            for held in (one.values() if isinstance(one, dict) else one)
            if isinstance(held, dict | list)
        ]
    return bool(level)


def entries_of(content: Mapping[str, Any], table: FormTable) -> list[dict[str, Any]]:
    """Return the entries of a table, one for a single table that is there."""
    held = content.get(table.table)
    found = held if isinstance(held, list) else [] if held is None else [held]
    return [one for one in found if isinstance(one, dict)]


def address_of(content: Mapping[str, Any], table: FormTable, number: int) -> Entry:
    """Return how an entry is called: by its name where no other has it, else by its place."""
    if not table.repeated:
        return None
    names = [one.get("name") for one in entries_of(content, table)]
    name = names[number]
    alone = table.named and isinstance(name, str) and names.count(name) == 1
    return name if alone else number


def value_at(held: Mapping[str, Any], path: Sequence[str]) -> Any:
    """Return the value under a key of an entry, names one within the other; None for none."""
    for name in path[:-1]:
        within = held.get(name)
        if not isinstance(within, dict):
            return None
        held = within
    return held.get(path[-1])


def canon(value: object) -> object:
    """Return a value in a form in which equal means the same TOML."""
    if isinstance(value, dict):
        return sorted((key, canon(held)) for key, held in value.items())
    if isinstance(value, list):
        return [canon(item) for item in value]
    return (type(value).__name__, repr(value))


def same(old: object, new: object) -> bool:
    """Say whether the file need not be touched for a value."""
    if isinstance(old, int | float) and isinstance(new, int | float):
        return isinstance(old, bool) == isinstance(new, bool) and old == new
    if isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        return all(same(one, other) for one, other in zip(old, new, strict=True))
    return canon(old) == canon(new)
