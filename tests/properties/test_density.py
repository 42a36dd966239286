"""The density map against a plain reckoning of every cell, on fields and driving at random."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import rectangle
from numpy.typing import NDArray

from duskline.core.density import Displacement, DrivenLines, Steering, Tool, density_map
from duskline.core.outline import FloatArray, Outline
from duskline.core.trays import TrayPattern

CELL_M = 1.0
PATTERN = TrayPattern(first_tray_m=-6.0, spacing_m=2.0, catch=(0.5, 2.0, 3.0, 3.5, 2.5, 1.0, 0.3))
SWATH_M = 8.0
STRAIGHT = Steering(sd_m=0.0)


@st.composite
def runs(draw: st.DrawFn, *, most: int) -> FloatArray:
    """Straight runs anywhere about a 40 m field, each 5 m or longer. (n, 2, 2) [m]"""
    made = []
    for _ in range(draw(st.integers(1, most))):
        start = np.array([draw(st.floats(-10.0, 50.0)), draw(st.floats(-10.0, 50.0))])
        heading = draw(st.floats(0.0, math.tau))
        length_m = draw(st.floats(5.0, 70.0))
        made.append([start, start + length_m * np.array([math.cos(heading), math.sin(heading)])])
    return np.asarray(made)


def beside(run: FloatArray, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far along a run places lie, as a share of it, and how far right of it. [m]"""
    along = run[1] - run[0]
    length_m = math.hypot(*along)
    unit = along / length_m
    off = places - run[0]
    return off @ unit / length_m, off @ np.array([unit[1], -unit[0]])


def plain_before(lines: FloatArray, places: FloatArray) -> FloatArray:
    """What all passes leave at each place, one after the other."""
    total = np.zeros(len(places))
    trays = np.concatenate([[-8.0], PATTERN.positions_m, [8.0]])
    catch = np.concatenate([[0.0], PATTERN.catch, [0.0]])
    for run in lines:
        share, right_m = beside(run, places)
        rate = np.interp(right_m, trays, catch) * SWATH_M / (2.0 * sum(PATTERN.catch))
        total += np.where((share >= 0.0) & (share <= 1.0), rate, 0.0)
    return total


def in_doubt(lines: FloatArray, places: FloatArray, half_m: float) -> NDArray[np.bool_]:
    """Places so near the edge of a run that rounding may put them on either side."""
    doubt = np.zeros(len(places), dtype=bool)
    for run in lines:
        share, right_m = beside(run, places)
        for edge in (share, 1.0 - share, right_m - half_m, right_m + half_m):
            doubt |= np.abs(edge) < 1e-4
    return doubt


def middles(outline: Outline, heading_rad: float) -> FloatArray:
    """Middles of all cells of the grid over an outline, in the field's plane. (rows, cols, 2)"""
    cos, sin = math.cos(heading_rad), math.sin(heading_rad)
    turned = outline.exterior_m @ np.array([[cos, -sin], [sin, cos]])
    low = turned.min(axis=0)
    columns, rows = np.ceil((turned.max(axis=0) - low) / CELL_M).astype(int)
    across, along = np.meshgrid(
        low[1] + CELL_M * (np.arange(rows) + 0.5),
        low[0] + CELL_M * (np.arange(columns) + 0.5),
        indexing="ij",
    )
    places: FloatArray = np.stack([along, across], axis=-1) @ np.array([[cos, sin], [-sin, cos]])
    return places


@settings(max_examples=60)
@given(
    spread=runs(most=6),
    cover=runs(most=6),
    heading_rad=st.floats(0.0, math.pi),
    width_m=st.floats(2.0, 12.0),
)
def test_every_cell_gets_what_a_plain_reckoning_gives_it(
    spread: FloatArray, cover: FloatArray, heading_rad: float, width_m: float
) -> None:
    """Any runs, any heading of the cells: density before, and times worked, cell by cell."""
    outline = rectangle(40.0, 40.0)
    answer = density_map(
        outline,
        spread=DrivenLines(lines_m=spread, row_indices=None),
        pattern=PATTERN,
        driving_width_m=SWATH_M,
        spread_steering=STRAIGHT,
        tools=[
            Tool(
                lines=DrivenLines(lines_m=run[None]),
                width_m=width_m,
                displacement=Displacement(along_sd_m=0.0, lateral_sd_m=0.0),
                steering=STRAIGHT,
            )
            for run in cover
        ],
        heading_rad=heading_rad,
        cell_m=CELL_M,
        map_cell_m=CELL_M,
    )
    assert answer.before is not None
    assert answer.worked is not None
    places = middles(outline, heading_rad)
    assert places.shape[:2] == answer.before.shape
    flat = places.reshape(-1, 2)
    sure = ~np.isnan(answer.before.ravel()) & ~in_doubt(spread, flat, 99.0)
    expected = plain_before(spread, flat)
    np.testing.assert_allclose(answer.before.ravel()[sure], expected[sure], atol=2e-3)
    times = np.zeros(len(flat))
    for run in cover:
        share, right_m = beside(run, flat)
        times += (share >= 0.0) & (share <= 1.0) & (np.abs(right_m) <= 0.5 * width_m)
    sure = ~np.isnan(answer.worked.ravel()) & ~in_doubt(cover, flat, 0.5 * width_m)
    np.testing.assert_array_equal(answer.worked.ravel()[sure], np.minimum(times, 2.0)[sure])
    # Along the field's own edge the cells are cut; what counts is the ground inside.
    np.testing.assert_allclose(answer.judged_m2, shapely.area(outline.shape), rtol=1e-5)


@settings(max_examples=40)
@given(
    spread=runs(most=4),
    cover=runs(most=5),
    heading_rad=st.floats(0.0, math.pi),
    along_sd_m=st.floats(0.0, 2.0),
    lateral_sd_m=st.floats(0.0, 1.0),
    forward_m=st.floats(-1.0, 1.0),
    sd_m=st.floats(0.0, 0.5),
    by_eye=st.booleans(),
    seed=st.integers(0, 1000),
)
def test_covering_neither_makes_nor_loses_seed(
    spread: FloatArray,
    cover: FloatArray,
    heading_rad: float,
    along_sd_m: float,
    lateral_sd_m: float,
    forward_m: float,
    sd_m: float,
    by_eye: bool,
    seed: int,
) -> None:
    """Any driving, steering and displacement: the sums agree to a millionth; shares are shares."""
    legs = (cover.reshape(-1, 2),)
    answer = density_map(
        rectangle(30.0, 25.0),
        spread=DrivenLines(lines_m=spread, legs_m=(spread.reshape(-1, 2),)),
        pattern=PATTERN,
        driving_width_m=SWATH_M,
        spread_steering=Steering(sd_m=sd_m, correlation_m=20.0, by_eye=by_eye),
        tools=[
            Tool(
                lines=DrivenLines(lines_m=cover, legs_m=legs),
                width_m=6.0,
                displacement=Displacement(
                    along_sd_m=along_sd_m, lateral_sd_m=lateral_sd_m, forward_m=forward_m
                ),
                steering=Steering(sd_m=sd_m, correlation_m=20.0, by_eye=by_eye),
            )
        ],
        heading_rad=heading_rad,
        cell_m=0.5,
        seed=seed,
        margin_m=130.0,
    )
    assert answer.sown_cells > 0.0
    np.testing.assert_allclose(answer.left_cells, answer.sown_cells, rtol=1e-6)
    assert sum(answer.state_fraction) == 1.0 or math.isclose(sum(answer.state_fraction), 1.0)
    assert min(answer.state_fraction) >= 0.0
    assert 0.0 <= answer.thin_and_missed_fraction() <= answer.skip_fraction + 1e-12
    np.testing.assert_allclose(
        answer.histograms.sum(axis=2), np.tile(answer.sums[:, 0], (2, 1)), rtol=1e-9
    )
