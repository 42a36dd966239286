"""What ``farm.toml`` may hold, described for a form: each key with its label, kind and example.

The keys and kinds come from the models of ``duskline.exchange.farm_toml``; the words beside them
from ``data/farm_form.toml``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from duskline.defaults import defaults
from duskline.exchange.farm_toml import FarmToml
from duskline.exchange.season_toml import DaysInARow, MonthDay, Weekday
from duskline.exchange.toml_forms import (
    Clock,
    Count,
    Day,
    LonLat,
    Price,
    Quantity,
    Sample,
    Span,
    Sure,
    Used,
)
from duskline.units import KINDS, PRICES, System, UnitError, parse, show, show_chance
from duskline.words.defaults import value_text
from duskline.words.spelling import spelled

__all__ = ["PAGES", "DefaultText", "FormKey", "FormTable", "Kind", "Language", "form_tables"]

Language = Literal["en", "es"]
Kind = Literal[
    "quantity", "price", "text", "words", "choice", "yes or no", "whole number", "number", "name",
    "date", "clock", "span", "counted", "sample", "chance", "used", "place", "weekday",
    "month and day", "days in a row",
]  # fmt: skip

PAGES = ("today", "season", "fields", "seed", "spreader", "covering", "people", "cost")
"""The pages on which the tables are edited."""

_WORDS_FROM_CHARACTERS = 100
_DAY, _CORNER = "2026-10-18", "-93.5, 42.0"
# What reads a value of each form; the aliases of toml_forms carry their reader first.
_FORMS: tuple[tuple[Any, Kind], ...] = (
    (Clock, "clock"), (Span, "span"), (Count, "counted"), (Sample, "sample"), (Sure, "chance"),
    (Day, "date"), (Used, "used"), (LonLat, "place"), (Weekday, "weekday"),
    (MonthDay, "month and day"), (DaysInARow, "days in a row"),
)  # fmt: skip
_BY_READER: dict[Any, Kind] = {alias.__metadata__[0].func: kind for alias, kind in _FORMS}


@dataclass(frozen=True, kw_only=True, slots=True)
class DefaultText:
    """What is taken while a key is empty, in the reader's units, and where it comes from."""

    typical: str
    low: str
    high: str
    source: str


@dataclass(frozen=True, kw_only=True, slots=True)
class FormKey:
    """One key of a table.

    Attributes
    ----------
    table, key
        Where it stands; a key of a table within has a dot: "counted.passes".
    label, label_es, help
        What stands beside it; the Spanish is empty where no crew member sees the key.
    kind
        What may stand in it.
    quantity
        For a quantity the kind of ``duskline.units.KINDS``.
    many
        Whether it is a list of such values.
    choices
        The words to choose from.
    refers
        The tables whose names may stand here; "field" is the outlines'.
    required
        Whether its table is refused without it; never so within a table of its own.
    assumed
        What an empty key means, as typed text, where that is fixed.
    default
        The row of the table of defaults taken while it is empty.
    longest
        The most letters of a text; None where the form bounds it.
    """

    table: str
    key: str
    label: str
    kind: Kind
    example_us: str
    example_metric: str
    label_es: str = ""
    help: str = ""
    quantity: str = ""
    many: bool = False
    choices: tuple[str, ...] = ()
    refers: tuple[str, ...] = ()
    required: bool = False
    assumed: str = ""
    default: str = ""
    longest: int | None = None

    def named(self, system: System, language: Language = "en") -> str:
        """Return the label as the reader spells it; English where it has no Spanish."""
        return self.label_es if language == "es" and self.label_es else spelled(self.label, system)

    def example(self, system: System) -> str:
        """Return the right form in the reader's units; empty for choices."""
        return self.example_us if system == "us" else self.example_metric

    def default_text(self, system: System) -> DefaultText | None:
        """Return what is taken while the key is empty; None where no row says."""
        if not self.default:
            return None
        row = defaults()[self.default]
        low, typical, high = (
            show_chance(value) if self.kind == "chance" else value_text(row, value, system)
            for value in (row.low, row.typical, row.high)
        )
        return DefaultText(typical=typical, low=low, high=high, source=row.source_line)


@dataclass(frozen=True, kw_only=True, slots=True)
class FormTable:
    """One table of the file.

    Attributes
    ----------
    table
        Its name in the file.
    label, label_es, one
        Its heading, and what one entry is called; ``one`` is empty for a single table.
    page
        Where it is edited: one of ``PAGES``.
    repeated, named
        Whether there may be several of it, and whether each has a name.
    required
        Whether a farm needs one.
    need
        What is asked for while it is missing.
    about
        What it holds.
    keys
        In the order in which they are written.
    """

    table: str
    label: str
    page: str
    keys: Mapping[str, FormKey]
    label_es: str = ""
    one: str = ""
    repeated: bool = False
    named: bool = False
    required: bool = False
    need: str = ""
    about: str = ""

    def heading(self, system: System, language: Language = "en") -> str:
        """Return the heading as the reader spells it; English where it has no Spanish."""
        return self.label_es if language == "es" and self.label_es else spelled(self.label, system)


@lru_cache(maxsize=1)
def form_tables() -> Mapping[str, FormTable]:
    """Return every table of ``farm.toml`` by its name, in the order of the models.

    Raises
    ------
    KeyError
        The words name no label for a key of the models.
    """
    words = tomllib.loads(
        resources.files("duskline").joinpath("data/farm_form.toml").read_text(encoding="utf-8")
    )
    return {name: _table(name, field, words[name]) for name, field in FarmToml.model_fields.items()}


def _table(name: str, field: FieldInfo, words: Mapping[str, Any]) -> FormTable:
    model = _model(field.annotation)
    if model is None:
        raise KeyError(name)
    keys = {key: _key(name, key, found, words["keys"][key]) for key, found in _keys(model)}
    return FormTable(
        table=name,
        label=words["label"],
        label_es=words.get("es", ""),
        one=words.get("one", ""),
        page=words["page"],
        repeated=get_origin(field.annotation) is tuple,
        named="name" in keys and get_origin(field.annotation) is tuple,
        required=field.is_required(),
        need=words.get("need", ""),
        about=" ".join((model.__doc__ or "").replace("``", "").split()),
        keys=keys,
    )


def _keys(model: type[BaseModel], above: str = "") -> Iterator[tuple[str, FieldInfo]]:
    """Give each key as it stands in the file, those of tables within behind a dot."""
    for name, field in model.model_fields.items():
        key = f"{above}{field.alias or name}"
        within = _model(field.annotation)
        if within is not None:
            yield from _keys(within, f"{key}.")
        else:
            yield key, field


def _model(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (_model(part) for part in get_args(annotation))
    return next((model for model in found if model is not None), None)


def _key(table: str, key: str, field: FieldInfo, words: Mapping[str, Any]) -> FormKey:
    notes = [*field.metadata, *_notes(field.annotation)]
    refers = tuple(words.get("refers", ()))
    longest = max((one.max_length for one in notes if hasattr(one, "max_length")), default=None)
    many = _is_list(field.annotation)
    kind = "name" if refers else _kind(field.annotation, notes, longest)
    quantity = next((one for one in notes if isinstance(one, Quantity)), None)
    us = words.get("us") or _example(kind, notes)
    return FormKey(
        table=table,
        key=key,
        label=words["label"],
        label_es=words.get("es", ""),
        help=words.get("help", ""),
        kind=kind,
        quantity=quantity.kind if quantity is not None else "",
        many=many,
        choices=_choices(field.annotation),
        refers=refers,
        required=field.is_required() and "." not in key,
        assumed=_assumed(field, quantity),
        default=words.get("default", ""),
        longest=longest if kind in {"text", "words", "name"} and not many else None,
        example_us=us,
        example_metric=words.get("metric") or _metric(us, quantity),
    )


def _notes(annotation: Any) -> Iterator[Any]:
    """Give what stands beside the types of an annotation, however deep."""
    for note in getattr(annotation, "__metadata__", ()):
        yield from note.metadata if isinstance(note, FieldInfo) else (note,)
    if hasattr(annotation, "__metadata__"):
        yield from _notes(annotation.__origin__)
    for part in get_args(annotation):
        if not isinstance(part, str):
            yield from _notes(part)


def _reader(notes: list[Any]) -> Kind | None:
    return next((_BY_READER[one.func] for one in notes if _is_reader(one)), None)


def _is_reader(note: Any) -> bool:
    return getattr(note, "func", None) in _BY_READER


def _is_list(annotation: Any) -> bool:
    """Say whether the annotation is ``tuple[X, ...]``; pairs are read from one text."""
    return get_origin(annotation) is tuple and get_args(annotation)[-1] is Ellipsis


def _kind(annotation: Any, notes: list[Any], longest: int | None) -> Kind:
    if any(isinstance(one, Quantity) for one in notes):
        return "quantity"
    if any(isinstance(one, Price) for one in notes):
        return "price"
    if _choices(annotation):
        return "choice"
    plain: dict[Any, Kind] = {bool: "yes or no", int: "whole number", float: "number"}
    bare = next(_plain_types(annotation), str)
    text: Kind = "words" if (longest or 0) > _WORDS_FROM_CHARACTERS else "text"
    return _reader(notes) or plain.get(bare, text)


def _plain_types(annotation: Any) -> Iterator[type]:
    if annotation in {bool, int, float, str}:
        yield annotation
    elif hasattr(annotation, "__metadata__"):
        yield from _plain_types(annotation.__origin__)
    else:
        for part in get_args(annotation):
            if not isinstance(part, str):
                yield from _plain_types(part)


def _choices(annotation: Any) -> tuple[str, ...]:
    if get_origin(annotation) is Literal:
        return tuple(get_args(annotation))
    found = (_choices(part) for part in get_args(annotation) if not isinstance(part, str))
    return next((choices for choices in found if choices), ())


def _example(kind: Kind, notes: list[Any]) -> str:
    for one in notes:
        if isinstance(one, Quantity):
            return one.example or KINDS[one.kind].example
        if isinstance(one, Price):
            return PRICES[one.per[0]][1]
        examples = (getattr(one, "json_schema", None) or {}).get("examples")
        if examples:
            return str(examples[0])
    return {"date": _DAY, "place": _CORNER}.get(kind, "")


def _metric(us: str, quantity: Quantity | None) -> str:
    """Return the example in metric units, to two figures; as it is where it has no unit."""
    if quantity is None:
        return us
    return ", ".join(_two_figures(part, quantity.kind) for part in us.split(", "))


def _two_figures(text: str, kind: str) -> str:
    unit, factor, _ = KINDS[kind].metric
    if KINDS[kind].us == KINDS[kind].metric:
        return text
    try:
        value = parse(text, kind) / factor
    except UnitError as wrong:
        raise ValueError(f"example {text!r} is no {kind}") from wrong
    return f"{float(f'{value:.2g}'):g} {unit}"


def _assumed(field: FieldInfo, quantity: Quantity | None) -> str:
    value = field.default
    if value is PydanticUndefined or value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and quantity is not None:
        return show(value, quantity.kind, "metric")
    return str(value) if isinstance(value, str | int) else ""
