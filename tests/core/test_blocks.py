"""Fields driven in parts: an arm is cut off, a rectangle is left whole, nothing is lost."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import drawn, fields, rectangle
from ragged_fields import ragged_field

from duskline.core.blocks import Block, expected_runs_count, split_into_blocks
from duskline.core.outline import Outline

any_field = st.one_of(fields(), st.builds(ragged_field, st.integers(0, 100_000)))
LONG_ARMS = drawn("0,0 900,0 900,120 120,120 120,900 0,900")


def parts(
    field: Outline, *, width_m: float = 10.0, straight_within_m: float = 2.0
) -> tuple[Block, ...]:
    """Return the parts for a machine 10 m wide."""
    return split_into_blocks(
        field.shape, driving_width_m=width_m, straight_within_m=straight_within_m
    )


def runs_of(shape: shapely.Polygon, heading_rad: float, width_m: float = 10.0) -> float:
    """Return the expected runs of a shape along a heading."""
    rings = [shapely.get_coordinates(ring)[:-1] for ring in (shape.exterior, *shape.interiors)]
    return float(
        expected_runs_count(rings, headings_rad=np.asarray([heading_rad]), driving_width_m=width_m)[
            0
        ]
    )


def test_an_l_with_long_arms_is_driven_arm_by_arm() -> None:
    """Arms of 120 m, 900 m long: 12 runs along each arm and none of the other's 78 short ones."""
    found = parts(LONG_ARMS)
    assert len(found) == 2
    assert sorted(block.heading_rad for block in found) == pytest.approx([0.0, math.pi / 2])
    for block in found:
        assert runs_of(block.region, block.heading_rad) == pytest.approx(12.0)
        west_m, south_m, east_m, north_m = block.region.bounds
        long_east = east_m - west_m > north_m - south_m
        assert (block.heading_rad == pytest.approx(0.0)) == long_east
    # 12 and 12 runs instead of 90 along either arm.
    assert runs_of(LONG_ARMS.shape, 0.0) == pytest.approx(90.0)


@pytest.mark.parametrize(
    "field",
    [
        rectangle(800.0, 400.0),
        drawn("0,0 500,0 0,400"),
        # Arms as wide as they are long: a cut saves no turn.
        drawn("0,0 300,0 300,150 150,150 150,300 0,300"),
        # A dent no deeper than two passes.
        drawn("0,0 400,0 400,20 800,20 800,400 0,400"),
    ],
)
def test_a_field_without_arms_is_left_whole(field: Outline) -> None:
    """One part, the field itself, along the side with the fewest turns."""
    (block,) = parts(field)
    assert block.region.equals(field.shape)
    headings_rad = [
        math.atan2(*reversed(edge_m[1] - edge_m[0])) % math.pi for edge_m in field.edges_m
    ]
    fewest = min(runs_of(field.shape, heading_rad) for heading_rad in headings_rad)
    assert runs_of(field.shape, block.heading_rad) == pytest.approx(fewest)


def test_a_wide_machine_cuts_less() -> None:
    """With 60 m from pass to pass the arms save 11 turns; one of 200 m gets no parts."""
    assert len(parts(LONG_ARMS, width_m=60.0)) == 1
    assert len(parts(LONG_ARMS, width_m=10.0)) == 2


def test_a_ragged_arm_is_cut_like_a_straight_one() -> None:
    """Wiggles of a metre on every side, headings still within two degrees of the arms."""
    random = np.random.default_rng(5)
    edge = shapely.segmentize(LONG_ARMS.shape.exterior, 30.0)
    corners_m = shapely.get_coordinates(edge)[:-1]
    corners_m = corners_m + random.uniform(-1.0, 1.0, corners_m.shape)
    found = parts(Outline(exterior_m=corners_m), straight_within_m=3.0)
    headings_deg = sorted((math.degrees(block.heading_rad) + 45.0) % 180.0 for block in found)
    assert headings_deg == pytest.approx([45.0, 135.0], abs=2.0)


@given(field=any_field, width_m=st.floats(6.0, 20.0))
@settings(max_examples=100)
def test_parts_make_up_the_field(field: Outline, width_m: float) -> None:
    """Their ground adds up to the field's, none of it twice; four parts at most."""
    found = parts(field, width_m=width_m)
    assert 1 <= len(found) <= 4
    regions = [block.region for block in found]
    assert sum(region.area for region in regions) == pytest.approx(field.area_m2, rel=1e-9)
    assert shapely.union_all(regions).area == pytest.approx(field.area_m2, rel=1e-6)
    for number, region in enumerate(regions):
        assert region.is_valid
        assert region.difference(field.shape.buffer(1e-6)).area < 1e-6
        for other in regions[:number]:
            assert region.intersection(other).area < 1e-6 * field.area_m2


@given(field=any_field, width_m=st.floats(6.0, 20.0))
@settings(max_examples=40)
def test_parts_save_turns(field: Outline, width_m: float) -> None:
    """More parts than one only where they take at least six turns fewer, sides straightened."""
    found = parts(field, width_m=width_m)
    if len(found) == 1:
        return
    assert all(block.region.area > 40.0 * width_m**2 for block in found)
    plain = field.shape.simplify(2.0)
    rings = [plain.exterior, *plain.interiors]
    edges_m = np.concatenate([np.diff(shapely.get_coordinates(ring), axis=0) for ring in rings])
    whole = min(runs_of(plain, math.atan2(y_m, x_m), width_m) for x_m, y_m in edges_m.tolist())
    apart = sum(runs_of(b.region.simplify(2.0), b.heading_rad, width_m) for b in found)
    assert whole - apart >= 6.0 - 1e-6


@pytest.mark.parametrize("heading_deg", [0.0, 20.0, 90.0, 133.0])
def test_expected_runs_are_the_mean_over_where_the_first_pass_falls(heading_deg: float) -> None:
    """Lines 10 m apart over an L with a pond, counted at 200 starts: within half a percent."""
    field = drawn("0,0 800,0 800,200 400,200 400,400 0,400", "150,150 250,160 240,240 160,230")
    heading_rad = math.radians(heading_deg)
    along = np.asarray([math.cos(heading_rad), math.sin(heading_rad)])
    across = np.asarray([-along[1], along[0]])
    counts = []
    for start_m in np.linspace(-1000.0, -990.0, 200, endpoint=False):
        middles_m = np.arange(start_m, 1000.0, 10.0)[:, None] * across
        lines = shapely.linestrings(np.stack([middles_m - 2e3 * along, middles_m + 2e3 * along], 1))
        cut = shapely.intersection(lines, field.shape)
        counts.append(int(shapely.get_num_geometries(cut[~shapely.is_empty(cut)]).sum()))
    assert np.mean(counts) == pytest.approx(runs_of(field.shape, heading_rad), rel=0.005)
