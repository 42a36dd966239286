"""What holds of any tray row, any driving width and any covering."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from duskline.core.evenness import (
    Displacement,
    Ripples,
    covered,
    crossed,
    cv_after_fraction,
    ground,
    half_rate_twice,
    profile,
    ripples,
)
from duskline.core.trays import TrayPattern, Way, evenness

catches = st.lists(st.integers(0, 50), min_size=3, max_size=25).filter(any)
patterns = st.builds(
    lambda catch, offset, spacing: TrayPattern(
        first_tray_m=-spacing * (len(catch) - 1) / 2 + offset,
        spacing_m=spacing,
        catch=tuple(float(amount) for amount in catch),
    ),
    catches,
    st.sampled_from([0.0, 0.25, -1.1, 3.0]),
    st.sampled_from([0.5, 1.0, 1.5]),
)
ways = st.sampled_from(list(Way))
widths = st.floats(1.5, 30.0)
angles = st.floats(-math.pi, math.pi)
moves = st.builds(
    lambda along, lateral: Displacement(along_sd_m=along, lateral_sd_m=lateral),
    st.floats(0.0, 2.0),
    st.floats(0.0, 1.0),
)


@given(pattern=patterns, width_m=widths, way=ways)
def test_ripples_miss_no_more_of_the_evenness_than_they_say(
    pattern: TrayPattern, width_m: float, way: Way
) -> None:
    """Any row at any width: the squares of the ripples fall short by less than the stated tail."""
    found = ripples(pattern, driving_width_m=width_m, way=way)
    table = evenness(pattern, driving_widths_m=[width_m], straight_lines=True)
    missing = float(table.of(way)[0]) ** 2 - found.cv_fraction**2
    assert -1e-9 <= missing <= found.tail_fraction + 1e-9


@given(pattern=patterns, width_m=widths, way=ways, moved=moves, angle=angles, more=angles)
def test_covering_never_makes_an_unskipped_field_less_even(
    pattern: TrayPattern,
    width_m: float,
    way: Way,
    moved: Displacement,
    angle: float,
    more: float,
) -> None:
    """A pass more never raises the CV, the order of passes is nothing, no pass changes nothing."""
    before = ripples(pattern, driving_width_m=width_m, way=way)
    one = cv_after_fraction(before, angles_rad=(angle,), displacement=moved)
    two = cv_after_fraction(before, angles_rad=(angle, more), displacement=moved)
    turned = cv_after_fraction(before, angles_rad=(more, angle), displacement=moved)
    one_by_one = covered(
        covered(before, angles_rad=(more,), displacement=moved),
        angles_rad=(angle,),
        displacement=moved,
    )
    assert two <= one + 1e-12
    assert one <= before.cv_fraction + 1e-12
    assert turned == pytest.approx(two, abs=1e-12)
    assert one_by_one.cv_fraction == pytest.approx(two, abs=1e-12)
    assert cv_after_fraction(before, angles_rad=(), displacement=moved) == pytest.approx(
        before.cv_fraction
    )


@given(pattern=patterns, width_m=widths, way=ways, moved=moves, slight=st.floats(0.0, math.pi / 2))
def test_a_wider_angle_never_leaves_more_where_travel_scatters_most(
    pattern: TrayPattern, width_m: float, way: Way, moved: Displacement, slight: float
) -> None:
    """With more scatter along than across, turning further never raises the CV, either way."""
    along, lateral = sorted((moved.along_sd_m, moved.lateral_sd_m), reverse=True)
    rolled = Displacement(along_sd_m=along, lateral_sd_m=lateral)
    before = ripples(pattern, driving_width_m=width_m, way=way)
    figures = [
        cv_after_fraction(before, angles_rad=(angle,), displacement=rolled)
        for angle in (0.0, slight, math.pi / 2)
    ]
    assert figures[2] - 1e-12 <= figures[1] <= figures[0] + 1e-12
    mirrored = cv_after_fraction(before, angles_rad=(-slight,), displacement=rolled)
    assert mirrored == pytest.approx(figures[1], abs=1e-12)


@given(
    wavelength_m=st.floats(10.0, 60.0),
    cv=st.floats(0.0, 0.25),
    along=st.floats(0.0, 0.4),
    share=st.floats(0.0, 1.0),
)
def test_slight_angle_does_nothing_to_bands_as_wide_as_the_throw(
    wavelength_m: float, cv: float, along: float, share: float
) -> None:
    """Bands of 10 m and more, scatter up to 0.4 m: 30 degrees takes under 0.2 points off the CV.

    For any unevenness up to 25 %, where the bands of the tray test end.
    """
    moved = Displacement(along_sd_m=along, lateral_sd_m=share * along)
    band = Ripples(
        mean=1.0,
        repeat_m=wavelength_m,
        wavelength_m=np.array([wavelength_m]),
        amplitude_fraction=np.array([cv * math.sqrt(2.0)]),
        phase_rad=np.zeros(1),
        tail_fraction=0.0,
    )
    along_cv = cv_after_fraction(band, angles_rad=(0.0,), displacement=moved)
    turned_cv = cv_after_fraction(band, angles_rad=(math.pi / 6,), displacement=moved)
    assert 0.0 <= along_cv - turned_cv + 1e-12 < 0.002


@given(pattern=patterns, width_m=widths, way=ways, moved=moves, angle=angles)
def test_seed_is_neither_made_nor_lost(
    pattern: TrayPattern, width_m: float, way: Way, moved: Displacement, angle: float
) -> None:
    """Before and after covering the mean is the mean, and the ground adds up to the field."""
    before = ripples(pattern, driving_width_m=width_m, way=way)
    after = covered(before, angles_rad=(angle,), displacement=moved)
    for across in (before, after, half_rate_twice(before, driving_width_m=width_m)):
        shares = profile(across, points_count=1024)
        assert shares.mean() == pytest.approx(1.0, abs=1e-9)
        assert float(shares.std()) == pytest.approx(across.cv_fraction, abs=1e-9)


@given(
    pattern=patterns, width_m=widths, way=ways, level=st.floats(0.0, 3.0), q=st.floats(0.01, 0.99)
)
def test_shares_of_the_ground_are_in_order(
    pattern: TrayPattern, width_m: float, way: Way, level: float, q: float
) -> None:
    """More ground lies under a higher dose, and the dose a share stays under gives the share."""
    found = ground(ripples(pattern, driving_width_m=width_m, way=way), points_count=1024)
    assert 0.0 <= found.below_fraction(level) <= found.below_fraction(level + 0.1) <= 1.0
    dose = found.quantile_share(q)
    assert found.below_fraction(dose - 1e-9) <= q + 1e-6
    assert found.below_fraction(dose + 1e-9) >= q - 1e-6
    assert found.tenth_quantile_share <= 1.0 + 1e-9


@settings(max_examples=30)
@given(pattern=patterns, width_m=widths, way=ways, level=st.floats(0.1, 1.5))
def test_half_rate_twice_never_hurts_and_crossing_takes_a_root_of_two(
    pattern: TrayPattern, width_m: float, way: Way, level: float
) -> None:
    """Two half doses are never less even than one whole; square sets come to CV / sqrt(2).

    Nor is more seed missing under any level, over all the ground. The brim of the thinnest
    tenth may fall all the same, where the thin strip was narrower than a tenth.
    """
    once = ripples(pattern, driving_width_m=width_m, way=way)
    twice = half_rate_twice(once, driving_width_m=width_m)
    both = crossed(once, once)
    assert twice.cv_fraction <= once.cv_fraction + 1e-12
    assert both.cv_fraction == pytest.approx(once.cv_fraction / math.sqrt(2.0), abs=2e-3)
    alone, halves, square = (
        float(np.maximum(level - found.shares, 0.0).mean())
        for found in (ground(once), ground(twice), both)
    )
    assert halves <= alone + 1e-4
    assert square <= alone + 1e-4
