"""A farm from nothing: its first ``farm.toml``, and what it still lacks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from duskline.exchange.farm_edit import Change, changed_text
from duskline.exchange.farm_form import form_tables
from duskline.exchange.farm_places import FieldProblem, check_text
from duskline.exchange.problems import FolderProblem

__all__ = ["Missing", "NewFarm", "missing", "new_farm", "time_zones"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Missing:
    """Something a farm needs and has not yet: in which table and on which page."""

    page: str
    table: str
    key: str
    sentence: str


@dataclass(frozen=True, kw_only=True, slots=True)
class NewFarm:
    """What a person answered on the first visit, as typed.

    Attributes
    ----------
    farm
        Keys of the table ``farm``: name, latitude, longitude, time_zone, units, country.
    entries
        Table and keys of each further entry, such as ("spreader", {"name": "Spreader"}).
    """

    farm: Mapping[str, str]
    entries: tuple[tuple[str, Mapping[str, str]], ...] = ()


def new_farm(answers: NewFarm) -> str:
    """Return a ``farm.toml`` that a person can read, sound as soon as all it needs is there.

    Whether it is, ``check_text`` and ``missing`` tell.

    Raises
    ------
    FolderProblem
        An answer for a table or key that there is not.
    """
    tables = form_tables()
    changes = [Change(what="set", table="farm", key=k, typed=v) for k, v in answers.farm.items()]
    order = list(tables)
    entries = sorted(answers.entries, key=lambda one: order.index(one[0]) if one[0] in order else 0)
    for name, typed in entries:
        repeated = name not in tables or tables[name].repeated
        if repeated:
            changes.append(Change(what="add", table=name))
        entry = -1 if repeated else None
        changes += [
            Change(what="set", table=name, entry=entry, key=key, typed=text)
            for key, text in typed.items()
        ]
    metric = answers.farm.get("units", "").strip().lower() == "metric"
    examples = '"12 m", "68 kg/ha"' if metric else '"40 ft", "61 lb/ac"'
    head = (
        "# Every quantity is a text with its unit, such as "
        f"{examples}. Lines that begin with # are notes.\n"
        '# Change it here or on the pages; "duskline check" tells whether all fits together.\n'
    )
    text, refused = changed_text(head, changes, explain=True)
    if refused:
        raise FolderProblem(tuple(one.problem for one in refused))
    return text


def missing(text: str, *, folder: Path | None = None) -> tuple[Missing, ...]:
    """Return what a farm still needs, in words and with the page where it is given.

    Parameters
    ----------
    folder
        The farm folder; the outlines of the fields are asked for where it has none.
    """
    found = [_lack(one) for one in check_text(text, folder=folder) if one.lacking]
    return tuple(dict.fromkeys(found))


def _lack(problem: FieldProblem) -> Missing:
    if not problem.table:
        sentence = "The outlines of your fields: bring a file of them, such as fields.geojson."
        return Missing(page="fields", table="", key="", sentence=sentence)
    table = form_tables()[problem.table]
    if not problem.key:
        sentence = f"Still needed: {table.need}."
    else:
        label = table.keys[problem.key].label
        of = f" of {problem.name}" if problem.name else ""
        sentence = f"{table.label}: still needed is {label[0].lower()}{label[1:]}{of}."
    return Missing(page=table.page, table=problem.table, key=problem.key, sentence=sentence)


@lru_cache(maxsize=1)
def time_zones() -> tuple[str, ...]:
    """Return the names of the time zones to choose from, by continent and city."""
    from zoneinfo import available_timezones

    continents = (
        "Africa",
        "America",
        "Asia",
        "Atlantic",
        "Australia",
        "Europe",
        "Indian",
        "Pacific",
    )
    return tuple(
        sorted(name for name in available_timezones() if name.partition("/")[0] in continents)
    )
