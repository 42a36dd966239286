"""The example farms' fields: placed on the earth with the areas they were drawn for."""

from __future__ import annotations

import importlib.util
import math
import sys
from collections import Counter
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from duskline.core.passes import Driving, missed_fraction, plan_covering, plan_passes
from duskline.core.turns import TurnRule
from duskline.exchange.outlines import FieldShape, read_outlines
from duskline.exchange.projection import LocalPlane, distance_m

ROOT = Path(__file__).parents[2]
ACRE_M2 = 4046.8564224
FOOT_M = 0.3048
RYE_ACRES = {
    "A1": 79.07,
    "A2": 40.29,
    "A3": 28.17,
    "A4": 59.31,
    "A5": 38.43,
    "A6": 39.93,
    "A7": 31.88,
    "A8": 33.36,
    "A9": 12.31,
}
OATS_HECTARES = {
    "B1": 12.75,
    "B2": 12.30,
    "B3": 10.88,
    "B4": 7.92,
    "B5": 12.60,
    "B6": 11.96,
    "B7": 4.25,
}
CUSTOMER_ACRES = {
    "Customer P": 644.85,
    "Customer Q": 381.14,
    "Customer R": 384.00,
    "Customer T": 219.82,
}
# Checked field by field by whoever drew them.
FORTY_ACRES = {"C1": 43.69, "C17": 32.82, "C18": 21.45, "C38": 43.89}
YARDS_DEG = {
    "rye-after-soybeans": (-93.5, 42.0),
    "oats-and-radish": (171.7, -43.6),
    "forty-fields": (-76.6, 37.4),
}


def example(folder: str) -> dict[str, FieldShape]:
    """Return an example's fields by name; it must read without a problem or a note."""
    path = ROOT / "examples" / folder / "fields.geojson"
    found = read_outlines(path, yard_lonlat_deg=YARDS_DEG[folder])
    assert [problem.sentence for problem in found.problems] == []
    assert [shape.name for shape in found.fields if shape.notes] == []
    return {shape.name: shape for shape in found.fields}


def placing_tool() -> ModuleType:
    """Return the program that places the examples."""
    spec = importlib.util.spec_from_file_location(
        "place_examples", ROOT / "tools" / "place_examples.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_rye_fields_have_their_acres() -> None:
    """Each of the nine within 0.02 ac, 362.75 ac in all within 0.05."""
    acres = {name: shape.area_m2 / ACRE_M2 for name, shape in example("rye-after-soybeans").items()}
    assert acres == pytest.approx(RYE_ACRES, abs=0.02)
    assert sum(acres.values()) == pytest.approx(362.75, abs=0.05)


def test_oats_paddocks_have_their_hectares() -> None:
    """Each of the seven within 0.01 ha, 72.66 ha in all within 0.02."""
    hectares = {name: shape.area_m2 / 1e4 for name, shape in example("oats-and-radish").items()}
    assert hectares == pytest.approx(OATS_HECTARES, abs=0.01)
    assert sum(hectares.values()) == pytest.approx(72.66, abs=0.02)


def test_customers_of_the_forty_fields_have_their_acres() -> None:
    """Four customers' totals within 0.02 ac each, 1,629.81 ac in all."""
    fields = example("forty-fields")
    acres = dict.fromkeys(CUSTOMER_ACRES, 0.0)
    for shape in fields.values():
        acres[shape.facts.customer] += shape.area_m2 / ACRE_M2
    assert acres == pytest.approx(CUSTOMER_ACRES, abs=0.02)
    assert sum(acres.values()) == pytest.approx(1629.81, abs=0.05)
    for name, field_acres in FORTY_ACRES.items():
        assert fields[name].area_m2 / ACRE_M2 == pytest.approx(field_acres, abs=0.02)


def test_rye_fields_say_when_they_are_ready_and_what_to_mind() -> None:
    """Day 1 is 18 October 2026; the flood plain is not for after rain; the creek is noted."""
    facts = {name: shape.facts for name, shape in example("rye-after-soybeans").items()}
    ready_from = {
        name: fact.ready_from.isoformat() for name, fact in facts.items() if fact.ready_from
    }
    assert ready_from == {
        "A2": "2026-10-19T09:00:00",
        "A5": "2026-10-20T17:00:00",
        "A6": "2026-10-18T12:00:00",
    }
    unsure = {
        name: (fact.ready_early.isoformat(), fact.ready_late.isoformat())
        for name, fact in facts.items()
        if fact.ready_early and fact.ready_late
    }
    assert unsure == {
        "A2": ("2026-10-18T15:00:00", "2026-10-20T12:00:00"),
        "A5": ("2026-10-19T12:00:00", "2026-10-22T09:00:00"),
        "A6": ("2026-10-17T17:00:00", "2026-10-19T09:00:00"),
    }
    assert [name for name, fact in facts.items() if fact.not_after_rain] == ["A8"]
    assert [(edge.side, edge.kind) for edge in facts["A2"].edges] == [("east", "water")]
    assert {fact.previous_crop for fact in facts.values()} == {"soybeans"}
    numbers = {(fact.farm_no, fact.tract_no, fact.field_no) for fact in facts.values()}
    assert len(numbers) == 9


def test_the_forty_fields_have_their_lots_and_days() -> None:
    """P and T sow lot W, Q lot Y, R lot K; field 24 is harvested by the start of day 4."""
    fields = example("forty-fields")
    lots = {(shape.facts.customer[-1], shape.facts.lot) for shape in fields.values()}
    assert lots == {("P", "W"), ("Q", "Y"), ("R", "K"), ("T", "W")}
    ready_on = {
        name: shape.facts.ready_from.date().isoformat()
        for name, shape in fields.items()
        if shape.facts.ready_from
    }
    assert ready_on["C24"] == "2026-10-18"
    assert Counter(ready_on.values()) == {
        "2026-10-15": 25,
        "2026-10-16": 9,
        "2026-10-17": 1,
        "2026-10-18": 5,
    }


@pytest.mark.parametrize("folder", YARDS_DEG)
def test_fields_stand_at_their_offsets_from_the_yard(folder: str) -> None:
    """Each gate, the south-west corner, within 2 cm of its place in the yard's plane."""
    tool, fields = placing_tool(), example(folder)
    (drawn,) = [farm for farm in tool.EXAMPLES if farm.folder == folder]
    lon_deg, lat_deg = YARDS_DEG[folder]
    yard = LocalPlane(lon_deg=lon_deg, lat_deg=lat_deg)
    for placed in drawn.fields:
        gate_deg = fields[placed.name].facts.gate_lonlat_deg
        assert gate_deg is not None
        gate_m = yard.to_plane(np.asarray([gate_deg]))[0]
        assert gate_m / 1000.0 == pytest.approx(placed.at_km, abs=2e-5)
        away_m = math.hypot(*placed.at_km) * 1000.0
        assert distance_m(from_deg=(lon_deg, lat_deg), to_deg=gate_deg) == pytest.approx(
            away_m, rel=1e-4, abs=0.02
        )


def test_the_files_are_what_the_tool_writes(tmp_path: Path) -> None:
    """Byte for byte; run tools/place_examples.py after changing a drawing."""
    tool = placing_tool()
    tool.main(tmp_path)
    for folder in YARDS_DEG:
        written = (tmp_path / folder / "fields.geojson").read_bytes()
        assert written == (ROOT / "examples" / folder / "fields.geojson").read_bytes()


@pytest.mark.parametrize("folder", YARDS_DEG)
def test_every_example_field_is_driven_with_next_to_nothing_missed(folder: str) -> None:
    """Spread every 40 ft, covered 5 degrees off it every 27 ft: at most 0.5 % is missed."""
    turn = TurnRule(radius_m=6.5, speed_mps=2.0, fixed_s=5.0)
    spreader = Driving(
        driving_width_m=40.0 * FOOT_M,
        speed_mps=3.58,
        turn=turn,
        swing_m=1.5,
        headland_first=True,
    )
    cultivator = Driving(
        driving_width_m=27.0 * FOOT_M,
        width_m=30.0 * FOOT_M,
        speed_mps=2.46,
        turn=turn,
        swing_m=15.0 * FOOT_M,
        by_eye=True,
    )
    angle_rad = math.radians(5.0)
    for shape in example(folder).values():
        field = shape.outline_m
        spread = plan_passes(field, driving=spreader, straight_within_m=1.0)
        cover = plan_covering(
            field,
            spread=spread,
            angles_rad=(angle_rad, -angle_rad),
            driving=cultivator,
            straight_within_m=1.0,
        )
        assert len(cover.blocks) == len(spread.blocks)
        for over, under in zip(cover.blocks, spread.blocks, strict=True):
            apart_deg = math.degrees(over.heading_rad - under.heading_rad) % 180.0
            assert min(apart_deg, 180.0 - apart_deg) == pytest.approx(5.0)
        assert spread.work_s <= spread.longest_edge_s
        assert spread.turns_fit
        assert cover.turns_fit
        assert missed_fraction(field, spread) <= 0.005
        assert missed_fraction(field, cover) <= 0.005
