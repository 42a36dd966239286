"""The description of farm.toml for forms: it holds every key once, and its examples can be read."""

from __future__ import annotations

import re
from typing import get_args

import pytest
from made_folders import EXAMPLES

from duskline.defaults import defaults
from duskline.exchange.farm_edit import Change, changed_text
from duskline.exchange.farm_form import PAGES, FormKey, FormTable, Kind, form_tables
from duskline.exchange.farm_places import check_text
from duskline.exchange.farm_toml import FarmToml
from duskline.units import System

KEYS = [key for table in form_tables().values() for key in table.keys.values()]
RYE = (EXAMPLES / "rye-after-soybeans" / "farm.toml").read_text(encoding="utf-8")


def ids(key: FormKey) -> str:
    """A key as it stands in a test's name."""
    return f"{key.table}.{key.key}"


def schema_keys() -> list[str]:
    """Every key of every model by the JSON schema, which pydantic makes on its own."""
    schema = FarmToml.model_json_schema()
    found = []

    def target(entry: dict[str, object]) -> str | None:
        match = re.search(r"#/\$defs/(\w+)", str(entry))
        return match[1] if match else None

    for table, entry in schema["properties"].items():
        for key, held in schema["$defs"][target(entry)]["properties"].items():
            within = target(held)
            names = schema["$defs"][within]["properties"] if within else [""]
            found += [f"{table}.{key}.{name}".rstrip(".") for name in names]
    return found


def test_every_key_of_every_model_is_described_once() -> None:
    """The keys of the description are those of the JSON schema, none more and none twice."""
    described = [ids(key) for key in KEYS]
    assert sorted(described) == sorted(schema_keys())
    assert len(described) == len(set(described)) > 150


@pytest.mark.parametrize("table", form_tables().values(), ids=lambda table: table.table)
def test_every_label_is_its_own(table: FormTable) -> None:
    """Within a table no two keys have one label, in English and in Spanish."""
    english = [key.label for key in table.keys.values()]
    spanish = [key.label_es for key in table.keys.values() if key.label_es]
    assert all(english)
    assert len(set(english)) == len(english)
    assert len(set(spanish)) == len(spanish)
    if table.label_es:
        told = [key.key for key in table.keys.values() if not key.label_es]
        # What is only for the books has no Spanish: prices and hours of a machine's life.
        assert set(told) <= {"list_price", "hours", "yearly_hours"}
    assert "_" not in "".join(english)


def test_tables_stand_on_known_pages_and_say_what_they_are() -> None:
    """Each has a page, a heading of its own, and a repeated one the name of an entry."""
    tables = list(form_tables().values())
    assert {table.page for table in tables} == set(PAGES)
    assert len({table.label for table in tables}) == len(tables)
    assert all(bool(table.one) == table.repeated for table in tables)
    assert [table.table for table in tables if table.required] == [
        "farm", "person", "spreader", "cultivator", "lot",
    ]  # fmt: skip
    assert all(table.need for table in tables if table.required)


def test_kinds_are_found_from_the_models() -> None:
    """One of each kind, by hand."""
    by_name = {ids(key): key for key in KEYS}
    for name, kind, many in (
        ("spreader.driving_width", "quantity", False), ("prices.fuel", "price", False),
        ("farm.name", "text", False), ("person.role", "words", False),
        ("program.tillage", "choice", False), ("tractor.guided", "yes or no", False),
        ("person.age", "whole number", False), ("farm.latitude", "number", False),
        ("person.drives", "name", True), ("program.sow_by", "date", False),
        ("day.start", "clock", False), ("window.spread", "span", False),
        ("lot.germination", "counted", True), ("lot.samples", "sample", True),
        ("day.sure", "chance", False), ("prices.points_used", "used", False),
        ("left_out.at", "place", False), ("left_out.ring", "place", True),
        ("season.weekly_off", "weekday", True), ("climate.from", "month and day", False),
        ("climate.run", "days in a row", False), ("points.worn", "quantity", True),
        ("cultivator.counted.passes", "whole number", False),
    ):  # fmt: skip
        assert (by_name[name].kind, by_name[name].many) == (kind, many), name
    assert {key.kind for key in KEYS} == set(get_args(Kind))
    assert by_name["spreader.driving_width"].quantity == "length"
    assert by_name["program.tillage"].choices == ("allowed", "not allowed", "ask")
    assert by_name["away.who"].refers[-1] == "crew"
    assert by_name["cultivator.by_eye"].assumed == "yes"
    assert by_name["farm.name"].longest == 80
    assert by_name["cultivator.width"].required
    assert not by_name["cultivator.counted.passes"].required


@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize(
    "key",
    [
        key
        for key in KEYS
        if key.kind not in {"name", "choice", "yes or no"}
        and not (key.key == "name" and form_tables()[key.table].named)
    ],
    ids=ids,
)
def test_the_example_of_a_key_is_read_by_its_model(key: FormKey, system: System) -> None:
    """Typed into its own key, the example brings no problem at that key."""
    table = form_tables()[key.table]
    entry = -1 if table.repeated else None
    changes = [Change(what="add", table=key.table)] if table.repeated else []
    changes.append(
        Change(what="set", table=key.table, entry=entry, key=key.key, typed=key.example(system))
    )
    assert key.example(system)
    text, refused = changed_text(RYE, changes)
    assert not refused
    at_key = [
        one.sentence
        for one in check_text(text)
        if one.key == key.key and re.search(rf"\.{key.key}(\.\d+)?$", one.problem.where)
    ]
    assert at_key == []


@pytest.mark.parametrize("key", [key for key in KEYS if key.quantity], ids=ids)
def test_metric_examples_are_in_metric_units(key: FormKey) -> None:
    """No foot, inch, acre, pound or bushel in them, and two figures at most from conversion."""
    assert not re.search(r"\b(ft|in|ac|lb|bu|gal|mph|hp)\b|ft2", key.example("metric"))


@pytest.mark.parametrize("key", [key for key in KEYS if key.default], ids=ids)
def test_a_default_is_a_row_of_the_table_and_of_the_same_kind(key: FormKey) -> None:
    """What is told of it is in the reader's units, with its source."""
    row, text = defaults()[key.default], key.default_text("metric")
    assert text is not None
    assert text.source == row.source_line
    if key.kind == "chance":
        assert text.typical == "19 in 20"
        return
    assert not re.search(r"\b(ft|in|ac|lb|mph)\b", f"{text.low} {text.typical} {text.high}")
    if key.kind == "quantity":
        assert key.quantity.removeprefix("short ") == row.kind


def test_labels_are_told_in_the_reader_s_language_and_spelling() -> None:
    """Spanish where there is one, else English; labour is labor on a US farm."""
    keys = form_tables()["spreader"].keys
    assert keys["load"].named("us", "es") == "Carga"
    assert keys["list_price"].named("us", "es") == "List price of the spreader"
    assert form_tables()["prices"].keys["labour"].named("us") == "An hour's labor"
    assert form_tables()["day"].keys["lead"].default_text("us") is not None
    assert form_tables()["farm"].keys["name"].default_text("us") is None
