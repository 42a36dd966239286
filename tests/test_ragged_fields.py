"""The drawn fields the plans are tried on: sound, within their sizes, and truly ragged."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from made_fields import drawn, rectangle
from ragged_fields import HA_M2, describe, narrow_share, ragged, ragged_field

SEEDS = range(300)


@pytest.mark.parametrize("seed", [0, 7, 123_456])
def test_a_seed_always_gives_the_same_field(seed: int) -> None:
    """A field that fails today can be looked at again tomorrow."""
    first = ragged_field(seed)
    ragged.cache_clear()
    assert ragged_field(seed) == first
    assert ragged_field(seed) != ragged_field(seed + 1)


def test_every_field_is_sound_and_between_4_and_80_ha() -> None:
    """Outlines hold together, holes lie inside and apart, 0.01 to 1 ha each, at most three."""
    for seed in SEEDS:
        field = ragged_field(seed)
        assert field.shape.is_valid
        assert 4.0 * HA_M2 <= field.area_m2 <= 80.0 * HA_M2
        assert len(field.holes_m) <= 3
        holes = [shapely.Polygon(hole_m) for hole_m in field.holes_m]
        outside = shapely.LinearRing(field.exterior_m)
        for number, hole in enumerate(holes):
            assert 0.0095 * HA_M2 <= hole.area <= 1.05 * HA_M2
            others = [outside, *holes[:number], *holes[number + 1 :]]
            assert min(hole.distance(other) for other in others) > 9.9


def test_the_fields_are_as_ragged_as_real_ones() -> None:
    """Among 300: three corners and sixty, point rows, notches, holes, tongues, necks."""
    fields = [ragged(seed) for seed in SEEDS]
    corners = np.asarray([len(field.outline.exterior_m) for field in fields])
    holes = np.asarray([len(field.outline.holes_m) for field in fields])
    assert corners.min() <= 4
    assert (corners >= 60).sum() >= 5
    assert (corners > 12).mean() > 0.4
    assert all((holes == count).sum() >= 10 for count in range(4))
    assert np.mean([field.notches > 0 for field in fields]) > 0.5
    assert np.mean([field.creeks > 0 for field in fields]) > 0.3
    assert sum(field.tongues > 0 for field in fields) > 50
    assert sum(field.slivers > 0 for field in fields) > 5
    sizes_ha = np.asarray([field.outline.area_m2 for field in fields]) / HA_M2
    assert (sizes_ha < 8.0).sum() > 30
    assert (sizes_ha > 50.0).sum() > 20


def test_ground_too_narrow_for_the_machine_is_rare_and_small() -> None:
    """A strip that cannot be worked without leaving the field is at most 0.4 % of it."""
    shares = np.asarray([narrow_share(ragged_field(seed)) for seed in SEEDS])
    assert shares.max() <= 0.004
    assert (shares > 0.0).mean() < 0.15


def test_no_field_has_needles_or_slits() -> None:
    """Corners of 9 degrees at the sharpest, and no gap in the ground narrower than 2 m."""
    for seed in SEEDS:
        field = ragged_field(seed)
        for ring_m in (field.exterior_m, *field.holes_m):
            into_m, out_m = (
                ring_m - np.roll(ring_m, 1, axis=0),
                np.roll(ring_m, -1, axis=0) - ring_m,
            )
            lengths_m2 = np.hypot(*into_m.T) * np.hypot(*out_m.T)
            assert (np.sum(-into_m * out_m, axis=1) / lengths_m2).max() < np.cos(np.radians(9.0))
        filled = field.shape.buffer(0.99, join_style="mitre").buffer(-0.99, join_style="mitre")
        filled_m2 = shapely.area(shapely.get_parts(filled.difference(field.shape)))
        assert filled_m2.max(initial=0.0) < 3.0


def test_narrow_ground_is_measured_on_a_tongue_by_hand() -> None:
    """A tongue 6 m wide and 30 m long beside 200 x 100 m: 180 of 20 180 m2, the plain field none.

    The strip is taken in where it meets the field over less than a machine width, so a little
    of it counts as wide enough.
    """
    field = drawn("0,0 200,0 200,40 230,40 230,46 200,46 200,100 0,100")
    assert narrow_share(rectangle(200.0, 100.0)) == 0.0
    assert narrow_share(field) == pytest.approx(180.0 / 20_180.0, rel=0.05)


def test_the_distribution_is_printed() -> None:
    """Size, corners, holes, notches and slivers each have their line."""
    text = describe(20)
    for word in ("size, ha", "corners", "holes", "notches", "slivers", "too narrow"):
        assert word in text
    assert text == describe(20)
