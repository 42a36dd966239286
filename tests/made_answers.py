"""Fields answered whole, for the tests of maps and field sheets: the examples' and awkward ones."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import shapely
from made_days import farm_of
from made_fields import corners

from duskline.answers.field import FieldAnswer, field_answer
from duskline.core.farm import Edge, Farm, Field, LeftOut
from duskline.core.outline import Outline, outlines_of

__all__ = ["WET_HOLE_M2", "answer_of", "awkward_answer", "awkward_farm"]

WET_HOLE_M2 = 1600.0 * math.pi


def _field(name: str, outline: Outline, **facts: object) -> Field:
    model = farm_of("rye-after-soybeans").fields[0]
    plain = replace(
        model, name=name, outline=outline, area_m2=outline.area_m2, gates_m=((0.0, 0.0),), notes=""
    )
    return replace(plain, **facts)  # type: ignore[arg-type]


def _rectangle(name: str, east_m: float, north_m: float, **facts: object) -> Field:
    ring_m = [(0.0, 0.0), (east_m, 0.0), (east_m, north_m), (0.0, north_m)]
    return _field(name, Outline(exterior_m=np.asarray(ring_m)), **facts)


def _wet() -> Field:
    """A hole in the outline; a wet hole and a rock pile at the edge left out by hand."""
    drawn = Outline(
        exterior_m=corners("0,0 500,20 520,480 -20,500"),
        holes_m=(corners("350,300 400,300 400,360 350,360"),),
    )
    wet = shapely.Point(150.0, 200.0).buffer(40.0, quad_segs=6)
    rocks = shapely.Point(520.0, 0.0).buffer(60.0, quad_segs=6)
    (ground,) = outlines_of(drawn.shape.difference(wet).difference(rocks))
    place = {"field": "Wet", "centre_lonlat_deg": (0.0, 0.0)}
    return _field(
        "Wet",
        drawn,
        drive_outline=ground,
        left_out=(
            LeftOut(what="rock pile", area_m2=2800.0, come_back=False, **place),  # type: ignore[arg-type]
            LeftOut(what="wet hole", area_m2=WET_HOLE_M2, note="by the tile outlet", **place),  # type: ignore[arg-type]
        ),
        edges=(Edge(side="west", kind="home"), Edge(side="up there", kind="ditch")),
        driven_area_m2=230000.0,
    )


@cache
def awkward_farm() -> Farm:
    """The rye farm with fields that nobody would choose."""
    arms = corners("0,0 900,0 900,220 560,220 560,900 380,900 380,220 0,220")
    return replace(
        farm_of("rye-after-soybeans"),
        fields=(
            _field(
                "Two arms",
                Outline(exterior_m=arms),
                edges=(
                    Edge(side="south", kind="road", note="County road 12"),
                    Edge(side="east", kind="organic"),
                ),
                gates_m=((0.0, 0.0), (450.0, 900.0)),
            ),
            _wet(),
            _rectangle(
                "Big", 1600.0, 1000.0, edges=(Edge(side="north", kind="seed crop", off_m=40.0),)
            ),
            _rectangle("Tiny", 60.0, 50.0),
            _rectangle("Strip", 30.0, 900.0),
            _rectangle("Long", 1500.0, 60.0, gates_m=()),
        ),
    )


@cache
def awkward_answer(name: str) -> FieldAnswer:
    """The answer for one of the awkward fields."""
    return field_answer(awkward_farm(), name)


@cache
def answer_of(farm_name: str, field: str) -> FieldAnswer:
    """The answer for a field of an example."""
    return field_answer(farm_of(farm_name), field)
