"""Changing one value of a JSON text: the rest stays letter for letter."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.exchange.json_splice import cut, items, put, span, value_of_json

ODD = '\n{ "a" : 1.500,\r\n\t"b":[ {"c": 1e2 } , null, "x" ],"a\\u0062": {} , "d": -0 }\n'


def test_a_value_is_replaced_and_nothing_else_moves() -> None:
    """The odd spaces and the odd figures of the file are the person's own."""
    assert put(ODD, ("b", 0, "c"), 7) == ODD.replace("1e2", "7")
    assert put(ODD, ("ab",), "é") == ODD.replace("{} ,", '"é" ,')


def test_a_member_that_is_new_comes_last_in_its_object() -> None:
    """Between two members stands what stood between the last two."""
    assert put('{"a": 1, "b": 2}', ("c",), True) == '{"a": 1, "b": 2, "c": true}'
    assert put('{\n  "a": 1,\n  "b": 2\n}', ("c",), 3) == '{\n  "a": 1,\n  "b": 2,\n  "c": 3\n}'
    assert put(ODD, ("ab", "new"), [1]) == ODD.replace("{}", '{"new": [1]}')
    assert put("[1, 2]", (2,), 3) == "[1, 2, 3]"


def test_a_member_is_cut_with_its_comma() -> None:
    """First, middle, last and only."""
    assert cut('{"a": 1, "b": 2, "c": 3}', ("a",)) == '{"b": 2, "c": 3}'
    assert cut('{"a": 1, "b": 2, "c": 3}', ("b",)) == '{"a": 1, "c": 3}'
    assert cut('{"a": 1, "b": 2, "c": 3}', ("c",)) == '{"a": 1, "b": 2}'
    assert cut('{"a": 1}', ("a",)) == "{}"
    assert cut('{"a": 1}', ("b",)) == '{"a": 1}'
    assert cut('{"a": [1, 2]}', ("a", 0)) == '{"a": [2]}'


def test_a_place_that_is_not_there_is_none() -> None:
    """Nothing is found where nothing stands, and nothing put where nothing can hold it."""
    assert span(ODD, ("nothing",)) is None
    assert span(ODD, ("a", 0)) is None
    assert len(items(ODD, ("b",))) == 3
    with pytest.raises(ValueError, match="nothing there"):
        put(ODD, ("a", "b"), 1)


def test_of_a_name_that_stands_twice_the_last_counts() -> None:
    """As every reader of JSON has it."""
    assert put('{"a": 1, "a": 2}', ("a",), 3) == '{"a": 1, "a": 3}'


plain = st.recursive(
    st.none() | st.booleans() | st.integers(-999, 999) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=12,
)


@given(st.dictionaries(st.text(max_size=3), plain, min_size=1), plain, st.data())
def test_any_change_of_one_member_is_that_change_alone(
    held: dict[str, Any], value: Any, data: st.DataObject
) -> None:
    """Whatever the object, the indent and the value."""
    indent = data.draw(st.sampled_from([None, 0, 2]))
    text = json.dumps(held, indent=indent, ensure_ascii=data.draw(st.booleans()))
    name = data.draw(st.sampled_from(sorted(held)) | st.text(max_size=3))
    wanted = copy.deepcopy(held)
    wanted[name] = value
    assert value_of_json(put(text, (name,), value)) == wanted
    wanted.pop(name)
    assert value_of_json(cut(text, (name,))) == wanted
