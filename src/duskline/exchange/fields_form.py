"""What may be known of a field, described for a form: each property with its label and form.

What may stand in a property ``duskline.exchange.field_facts`` says; the words beside it come from
``data/field_form.toml``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

from duskline.exchange.farm_form import FormKey
from duskline.exchange.field_facts import COMPASS, EDGE_KINDS

__all__ = ["FIELD", "FieldKey", "field_keys"]

FIELD = "field"
_CHOICES = {"downhill": COMPASS, "edges.kind": EDGE_KINDS}


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldKey:
    """One property of a field.

    Attributes
    ----------
    form
        Its label, kind and right form.
    group
        The heading it stands under.
    parts
        For a list of entries the keys of each; empty for a single value.
    one
        What one such entry is called.
    """

    form: FormKey
    group: str
    parts: Mapping[str, FormKey]
    one: str = ""


@lru_cache(maxsize=1)
def field_keys() -> Mapping[str, FieldKey]:
    """Return every property a field may have, by its key, in the order of the form."""
    text = resources.files("duskline").joinpath("data/field_form.toml").read_text(encoding="utf-8")
    return {
        key: FieldKey(
            form=_form(key, words),
            group=words["group"],
            one=words.get("one", ""),
            parts={
                part: _form(f"{key}.{part}", within)
                for part, within in words.get("parts", {}).items()
            },
        )
        for key, words in tomllib.loads(text).items()
    }


def _form(key: str, words: Mapping[str, Any]) -> FormKey:
    us = words.get("us", "")
    return FormKey(
        table=FIELD,
        key=key,
        label=words["label"],
        help=words.get("help", ""),
        kind=words.get("kind", "words"),
        quantity=words.get("quantity", ""),
        many=words.get("many", False),
        choices=_CHOICES.get(key, ()),
        refers=tuple(words.get("refers", ())),
        required=words.get("required", False),
        assumed=words.get("assumed", ""),
        example_us=us,
        example_metric=words.get("metric", us),
    )
