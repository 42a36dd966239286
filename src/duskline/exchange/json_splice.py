"""Changing single values of a JSON text: everything else stays letter for letter.

A path leads from the text's outermost value inwards: names of an object's members, places in a
list. Of a name that stands twice the last one counts, as the readers have it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Path", "cut", "items", "put", "span", "value_of_json"]

Path = Sequence[str | int]

_SPACE = re.compile(r"[ \t\r\n]*")
_LONGEST_WHOLE_NUMBER = 18


def _whole_number(digits: str) -> int | float:
    return int(digits) if len(digits) <= _LONGEST_WHOLE_NUMBER else float(digits)


_DECODER = json.JSONDecoder(parse_int=_whole_number)


@dataclass(frozen=True, slots=True)
class _Part:
    """A member of an object or an item of a list; ``start`` is where its name begins, if any."""

    name: str | int
    start: int
    value_start: int
    end: int


def value_of_json(text: str) -> object:
    """Return what a JSON text holds.

    Raises
    ------
    ValueError, RecursionError
        It is no JSON, or nested too deep.
    """
    found: object = json.loads(text, parse_int=_whole_number)
    return found


def span(text: str, path: Path) -> tuple[int, int] | None:
    """Return where the value at a path begins and ends; None where there is none."""
    start, end = _whole(text)
    for name in path:
        part = next((one for one in reversed(_parts(text, start)) if one.name == name), None)
        if part is None:
            return None
        start, end = part.value_start, part.end
    return start, end


def items(text: str, path: Path) -> list[tuple[int, int]]:
    """Return where each item of the list at a path begins and ends."""
    found = span(text, path)
    return [(one.value_start, one.end) for one in _parts(text, found[0])] if found else []


def put(text: str, path: Path, value: object) -> str:
    """Return the text with a value at a path; a new member or item comes last.

    Raises
    ------
    ValueError
        There is no object or list there to hold it.
    """
    written = json.dumps(value, ensure_ascii=False, allow_nan=False)
    place = span(text, path)
    if place is not None:
        return text[: place[0]] + written + text[place[1] :]
    *above, last = path
    holder = span(text, above)
    if holder is None or text[holder[0]] != ("{" if isinstance(last, str) else "["):
        raise ValueError("nothing there to hold it")
    named = f"{json.dumps(last, ensure_ascii=False)}: " if isinstance(last, str) else ""
    parts = _parts(text, holder[0])
    if not parts:
        return f"{text[: holder[0] + 1]}{named}{written}{text[holder[1] - 1 :]}"
    before = text[parts[-2].end + 1 : parts[-1].start] if len(parts) > 1 else None
    after_opening = text[holder[0] + 1 : parts[0].start]
    gap = before if before is not None and not before.strip() else after_opening or " "
    return f"{text[: parts[-1].end]},{gap}{named}{written}{text[parts[-1].end :]}"


def cut(text: str, path: Path) -> str:
    """Return the text without the member or item at a path; as it is where there is none."""
    *above, last = path
    holder = span(text, above)
    parts = _parts(text, holder[0]) if holder is not None else []
    at = next((at for at, one in reversed(list(enumerate(parts))) if one.name == last), None)
    if at is None:
        return text
    if at + 1 < len(parts):
        return text[: parts[at].start] + text[parts[at + 1].start :]
    start = parts[at - 1].end if at else parts[at].start
    return text[:start] + text[parts[at].end :]


def _whole(text: str) -> tuple[int, int]:
    start = _past_space(text, 0)
    return start, _DECODER.raw_decode(text, start)[1]


def _past_space(text: str, at: int) -> int:
    found = _SPACE.match(text, at)
    return found.end() if found is not None else at


def _parts(text: str, start: int) -> list[_Part]:
    """Return the members or items of the object or list that begins at a place of sound JSON."""
    if text[start] not in "{[":
        return []
    named = text[start] == "{"
    parts: list[_Part] = []
    at = _past_space(text, start + 1)
    while text[at] not in "}]":
        first = value_start = at
        name: str | int = len(parts)
        if named:
            name, at = _DECODER.raw_decode(text, at)
            value_start = _past_space(text, _past_space(text, at) + 1)
        _, end = _DECODER.raw_decode(text, value_start)
        parts.append(_Part(name, first, value_start, end))
        at = _past_space(text, end)
        if text[at] == ",":
            at = _past_space(text, at + 1)
    return parts
