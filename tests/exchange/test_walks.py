"""From a walk to a ring: closed, cut, thinned, or refused with the distance that is left."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.errors import OutlineRefused
from duskline.core.outline import FloatArray
from duskline.exchange.walks import ring_of_track

ROUND_M = 1400.0


def walk(*, step_m: float = 1.5, start_m: float = 0.0, way_m: float = ROUND_M) -> FloatArray:
    """Places along a box of 400 by 300 m, a way of ``way_m`` from ``start_m`` on."""
    ring = shapely.LinearRing([(0, 0), (400, 0), (400, 300), (0, 300)])
    ways_m = np.arange(start_m, start_m + way_m, step_m) % ROUND_M
    places_m: FloatArray = shapely.get_coordinates(shapely.line_interpolate_point(ring, ways_m))
    return places_m


def area_m2(ring_m: FloatArray) -> float:
    """The ground in a ring."""
    return float(shapely.Polygon(ring_m).area)


@pytest.mark.parametrize("start_m", [0.0, 137.0, 550.0])
def test_a_walk_is_closed_and_thinned_to_its_corners(start_m: float) -> None:
    """A box is a box again, wherever it was begun: 12 ha, eight places or fewer."""
    walked = ring_of_track(walk(start_m=start_m))
    assert area_m2(walked.ring_m) == pytest.approx(120_000.0, rel=1e-3)
    assert len(walked.ring_m) <= 9
    assert np.array_equal(walked.ring_m[0], walked.ring_m[-1])


def test_who_walks_on_past_the_start_is_cut_off_there() -> None:
    """60 m on: the ground stays the same, and the note says how far."""
    walked = ring_of_track(walk(way_m=ROUND_M + 60.0))
    assert area_m2(walked.ring_m) == pytest.approx(120_000.0, rel=1e-3)
    assert any("went on past the start" in note for note in walked.notes)


def test_a_small_gap_is_closed_with_a_note() -> None:
    """20 m short of the start: closed along the side it lay on."""
    walked = ring_of_track(walk(step_m=1.0, way_m=ROUND_M - 20.0))
    assert area_m2(walked.ring_m) == pytest.approx(120_000.0, rel=1e-3)
    assert any("(21 m) apart" in note for note in walked.notes)


def test_a_large_gap_is_refused_with_its_length() -> None:
    """100 m short: the reason has it in feet and metres."""
    with pytest.raises(OutlineRefused, match=r"\(10[01] m\) are left open"):
        ring_of_track(walk(way_m=ROUND_M - 100.0))


def test_a_line_out_is_no_field() -> None:
    """Out along a lane, and three places in all."""
    with pytest.raises(OutlineRefused, match="does not come back"):
        ring_of_track(np.column_stack([np.arange(0.0, 500.0, 2.0), np.zeros(250)]))
    with pytest.raises(OutlineRefused, match="four at least"):
        ring_of_track(np.asarray([[0.0, 0.0], [50.0, 0.0], [50.0, 50.0]]))


def test_standing_still_leaves_no_knot() -> None:
    """Two minutes at a gate, the receiver wandering by centimetres: no corner more."""
    rng = np.random.default_rng(3)
    stood = walk()[300] + rng.normal(0.0, 0.05, (120, 2))
    walked = ring_of_track(np.vstack([walk()[:300], stood, walk()[300:]]))
    assert shapely.Polygon(walked.ring_m).is_valid
    assert len(walked.ring_m) <= 12


@given(
    radius_m=st.floats(60.0, 600.0),
    step_m=st.floats(0.8, 4.0),
    wander_m=st.floats(0.0, 0.4),
    seed=st.integers(0, 1000),
)
def test_closing_and_thinning_hardly_move_the_ground(
    radius_m: float, step_m: float, wander_m: float, seed: int
) -> None:
    """Round fields of 1 to 113 ha, the receiver wandering: within 0.4 % of all their places."""
    turns = np.arange(0.0, math.tau, step_m / radius_m)
    rng = np.random.default_rng(seed)
    track_m = radius_m * np.column_stack([np.cos(turns), np.sin(turns)])
    track_m = track_m + rng.normal(0.0, wander_m, track_m.shape)
    walked = ring_of_track(track_m)
    kept, whole = abs(_shoelace_m2(walked.ring_m)), abs(_shoelace_m2(track_m))
    assert kept == pytest.approx(whole, rel=4e-3)
    assert len(walked.ring_m) <= len(track_m) + 2


def _shoelace_m2(ring_m: FloatArray) -> float:
    x_m, y_m = ring_m.T
    return 0.5 * float(np.sum(x_m * np.roll(y_m, -1) - y_m * np.roll(x_m, -1)))
