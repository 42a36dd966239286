"""The form of a field: every property it may have, and right forms that are right."""

from __future__ import annotations

from typing import Literal

import pytest

from duskline.exchange.field_facts import KNOWN_KEYS, read_facts
from duskline.exchange.fields_edit import typed_value
from duskline.exchange.fields_form import field_keys


def test_the_form_has_every_property_that_is_read() -> None:
    """A property that is read can be typed, and none can be typed that is not read."""
    assert set(field_keys()) == set(KNOWN_KEYS)


@pytest.mark.parametrize("system", ["us", "metric"])
def test_every_right_form_shown_is_taken(system: Literal["us", "metric"]) -> None:
    """What a hint shows as an example, the reader reads."""
    wrong: list[str] = []

    def report(key: str, *, read: str, expected: str, hint: str = "") -> None:
        wrong.append(f"{key}: read {read}, expected {expected} {hint}")

    properties: dict[str, object] = {}
    for key, one in field_keys().items():
        if one.parts:
            entry = {
                part: typed_value(
                    form, form.choices[0] if form.choices else form.example(system) or "no"
                )
                for part, form in one.parts.items()
            }
            properties[key] = [entry]
        else:
            typed = one.form.choices[0] if one.form.choices else one.form.example(system) or "yes"
            properties[key] = typed_value(one.form, typed)
    facts = read_facts(properties, report)
    assert wrong == []
    assert facts.edges[0].off_m == pytest.approx(30 * 0.3048 if system == "us" else 10.0)
    assert len(facts.gates_lonlat_deg) == 2
    assert facts.herbicide[0].interval_days == 120
    assert facts.left_out[0].come_back is False


def test_us_forms_have_no_metric_units_and_the_other_way_round() -> None:
    """US or metric, never mixed."""
    for one in field_keys().values():
        for form in (one.form, *one.parts.values()):
            assert not form.example_us.endswith((" ha", " m"))
            assert not form.example_metric.endswith((" ac", " ft"))
