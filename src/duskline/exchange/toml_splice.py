"""Where each table, key and value of a TOML text stands, so that one can be put in another's place.

Everything that is not named in a change stays byte for byte: comments, order, spacing, line ends.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import tomlkit

__all__ = ["Section", "Statement", "inline_with", "literal", "newline_of", "sections"]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_TOKEN = re.compile(
    r"""(?P<text>"{3}(?:\\[\s\S]|[^\\])*?"{3,5}|'{3}[\s\S]*?'{3,5}"""
    r"""|"(?:\\.|[^"\\\n])*"|'[^'\n]*')"""
    r"""|(?P<comment>\#[^\n]*)|(?P<opens>[\[{])|(?P<closes>[\]}])|(?P<line>\n)|(?P<equals>=)"""
    r"""|[^"'#\[\]{}\n=]+|."""
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Statement:
    """One statement with its lines: a heading, a key with its value, or a blank or comment line.

    Attributes
    ----------
    start, end
        Its lines in the text, line end included.
    path
        The names in the heading or the key; empty for a blank or comment line.
    heads
        Whether it is a heading.
    repeated
        Whether the heading has double brackets.
    value_start, value_end
        The value without what stands around it.
    comments
        Whether it is a line with nothing but a comment.
    """

    start: int
    end: int
    path: tuple[str, ...] = ()
    heads: bool = False
    repeated: bool = False
    value_start: int = 0
    value_end: int = 0
    comments: bool = False


@dataclass(kw_only=True, slots=True)
class Section:
    """A heading and what stands under it; the first of a text has no heading and no path.

    ``number`` counts the entries of a repeated table from 0; tables within an entry have its.
    """

    path: tuple[str, ...] = ()
    number: int = 0
    heading: Statement | None = None
    statements: list[Statement] = field(default_factory=list)

    @property
    def pairs(self) -> list[Statement]:
        """The keys with their values."""
        return [one for one in self.statements if one.path]

    @property
    def start(self) -> int:
        """Where the heading's line begins."""
        return self.heading.start if self.heading is not None else 0

    @property
    def end(self) -> int:
        """Where the last key, or the heading alone, ends."""
        last = self.pairs[-1:] or ([self.heading] if self.heading is not None else [])
        return last[0].end if last else 0

    @property
    def end_with_comments(self) -> int:
        """The same with the comment lines right under it, unless they lead the next heading."""
        end = self.end
        below = [one for one in self.statements if one.start >= end]
        for one in below:
            if not one.comments:
                return end
            end = one.end
        return self.end if below else end


def sections(text: str) -> list[Section]:
    """Return the sections of a text that is sound TOML, in order; the first has no heading."""
    found = [Section()]
    counts: dict[str, int] = {}
    for one in _statements(text):
        if not one.heads:
            found[-1].statements.append(one)
            continue
        name = one.path[0]
        if one.repeated and len(one.path) == 1:
            counts[name] = counts.get(name, -1) + 1
        found.append(Section(path=one.path, number=counts.get(name, 0), heading=one))
    return found


def newline_of(text: str) -> str:
    """Return how the lines of a text end."""
    first = text.find("\n")
    return "\r\n" if first > 0 and text[first - 1] == "\r" else "\n"


def _statements(text: str) -> Iterator[Statement]:
    start, depth, equals, comment = 0, 0, -1, -1
    for match in _TOKEN.finditer(text):
        kind = match.lastgroup
        if kind == "opens":
            depth += 1
        elif kind == "closes":
            depth -= 1
        elif depth == 0 and kind == "equals" and equals < 0:
            equals = match.start()
        elif depth == 0 and kind == "comment":
            comment = match.start()
        elif depth == 0 and kind == "line":
            stop = comment if comment >= 0 else match.start()
            yield _statement(text, start, stop, match.end(), equals, comment >= 0)
            start, equals, comment = match.end(), -1, -1
    if start < len(text):
        stop = comment if comment >= 0 else len(text)
        yield _statement(text, start, stop, len(text), equals, comment >= 0)


def _statement(
    text: str, start: int, stop: int, end: int, equals: int, commented: bool
) -> Statement:
    body = text[start:stop].strip()
    if not body:
        return Statement(start=start, end=end, comments=commented)
    if equals < 0:
        path = _path(tomllib.loads(body))
        return Statement(
            start=start, end=end, path=path, heads=True, repeated=body.startswith("[[")
        )
    value = text[equals + 1 : stop]
    value_start = equals + 1 + len(value) - len(value.lstrip())
    return Statement(
        start=start,
        end=end,
        path=_key_path(text[start:equals].strip()),
        value_start=value_start,
        value_end=equals + 1 + len(value.rstrip()),
    )


def _key_path(key: str) -> tuple[str, ...]:
    """Return the names of a key; the parser is asked only where it is quoted or dotted."""
    return (key,) if _BARE.fullmatch(key) else _path(tomllib.loads(f"{key} = 0"))


def _path(content: Any) -> tuple[str, ...]:
    """Return the names one within the other of a heading or key read alone."""
    names: list[str] = []
    while isinstance(content, dict | list) and content:
        if isinstance(content, list):
            content = content[0]
            continue
        name, content = next(iter(content.items()))
        names.append(name)
    return tuple(names)


def literal(value: Any, old: str = "") -> str:
    """Return a value as TOML; a list keeps the spacing and comments of the one it replaces."""
    if isinstance(value, list) and old.startswith("["):
        try:
            return _list_with(value, old)
        except (ValueError, IndexError, TypeError, tomlkit.exceptions.TOMLKitError):
            pass  # an array too odd to keep its looks is written anew
    return str(tomlkit.item(value).as_string())


def _list_with(value: list[Any], old: str) -> str:
    array: Any = tomlkit.parse(f"x = {old}")["x"]
    shared = min(len(array), len(value))
    for number in range(shared):
        if array[number] != value[number]:
            array[number] = value[number]
    for _ in range(len(array) - shared):
        del array[-1]
    for item in value[shared:]:
        array.append(item)
    written = str(array.as_string())
    if tomllib.loads(f"x = {written}")["x"] != value:
        raise ValueError(written)
    return written


def inline_with(old: str, path: Sequence[str], value: Any) -> str:
    """Return a table in braces with one key set, or taken out where the value is None."""
    table: Any = tomlkit.parse(f"x = {old}")["x"]
    within = table
    for name in path[:-1]:
        within = within.setdefault(name, tomlkit.inline_table())
    if value is None:
        del within[path[-1]]
    else:
        within[path[-1]] = value
    written = re.sub(r"^\{[ \t]{2,}", "{ ", str(table.as_string()))
    return f"{written[:-1].rstrip()} }}" if old.endswith(" }") else written
