"""Overlap and skip: the formulas against simulated passes, by guided line and by eye."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.lap import effective_width_m, gap_sd_m, overlap_advised_m, skip_fraction

FOOT_M = 0.3048


def test_story_14_passes_counted_give_the_effective_width() -> None:
    """12 passes over 226 ft with a 21 ft tool: 18.8 ft, 10.3 % overlap."""
    width = effective_width_m(across_m=226 * FOOT_M, passes_count=12)
    assert width / FOOT_M == pytest.approx(18.83, abs=0.005)
    assert 1 - width / (21 * FOOT_M) == pytest.approx(0.103, abs=0.0005)
    with pytest.raises(OutOfRange):
        effective_width_m(across_m=10.0, passes_count=0)


@pytest.mark.parametrize(
    ("width", "overlap", "sd", "share"),
    [
        (9.0, 0.45, 0.20, 0.85e-3 / 8.55),  # mean skip 0.85 mm
        (13.7, 0.30, 0.30, 0.0019),  # mean skip 25 mm of a 13.4 m spacing
    ],
)
def test_hand_worked_skip_shares(width: float, overlap: float, sd: float, share: float) -> None:
    """Sd [phi(z) - z (1 - Phi(z))] / (width - overlap), worked with a table of the normal."""
    found = skip_fraction(width_m=width, overlap_m=overlap, gap_sd_m=sd)
    assert found == pytest.approx(share, rel=0.02)


@pytest.mark.parametrize("by_eye", [True, False])
@pytest.mark.parametrize(
    ("sd", "overlap"), [(0.05, 0.1), (0.2, 0.3), (0.3, 0.3), (0.5, 0.6), (0.3, 0.6)]
)
def test_the_share_missed_agrees_with_simulated_passes(
    sd: float, overlap: float, *, by_eye: bool
) -> None:
    """400,000 places on passes of 9 m: within 3 % of the closed form, in both ways of steering.

    Guided: every line is off by itself, the gap is the difference of two errors. By eye: each
    pass is laid against the edge of the last, so the gap is one error.
    """
    rng = np.random.default_rng(7)
    errors = rng.normal(0.0, sd, (200, 2001))
    gaps = errors[:, 1:] if by_eye else np.diff(errors, axis=1)
    missed = np.maximum(0.0, gaps - overlap).mean() / (9.0 - overlap)
    found = skip_fraction(
        width_m=9.0, overlap_m=overlap, gap_sd_m=gap_sd_m(edge_sd_m=sd, by_eye=by_eye)
    )
    assert found == pytest.approx(missed, rel=0.03)


@pytest.mark.parametrize(
    ("sd", "overlap", "guided", "by_eye"),
    [
        (0.05, 0.1, 0.00028, 0.00005),
        (0.2, 0.3, 0.00241, 0.00067),
        (0.3, 0.3, 0.00688, 0.00287),
        (0.3, 0.6, 0.00179, 0.00030),
        (0.5, 0.6, 0.00928, 0.00334),
    ],
)
def test_the_table_of_skips_for_nine_metres(
    sd: float, overlap: float, guided: float, by_eye: float
) -> None:
    """Pass edges off by 5 to 50 cm: shares missed on guided lines and driving by the last edge."""
    for share, eye in ((guided, False), (by_eye, True)):
        found = skip_fraction(
            width_m=9.0, overlap_m=overlap, gap_sd_m=gap_sd_m(edge_sd_m=sd, by_eye=eye)
        )
        assert found == pytest.approx(share, abs=0.000005)


def test_without_error_only_a_negative_overlap_misses() -> None:
    """Passes set 10 cm apart miss 10 cm in every 9.1 m."""
    assert skip_fraction(width_m=9.0, overlap_m=0.2, gap_sd_m=0.0) == 0.0
    assert skip_fraction(width_m=9.0, overlap_m=-0.1, gap_sd_m=0.0) == pytest.approx(0.1 / 9.1)
    with pytest.raises(OutOfRange):
        skip_fraction(width_m=9.0, overlap_m=9.0, gap_sd_m=0.1)


def test_the_advised_overlap_costs_least() -> None:
    """No overlap on a fine grid costs less than the advised one: c W / (W - o) + v f(o)."""
    ratio, sd, width = 0.2, 0.3, 9.0
    best = overlap_advised_m(
        width_m=width, gap_sd_m=sd, work_over_loss_low=ratio, work_over_loss_high=ratio
    ).best_m

    def cost(overlap: float) -> float:
        skip = skip_fraction(width_m=width, overlap_m=overlap, gap_sd_m=sd)
        return ratio * width / (width - overlap) + skip

    assert cost(best) <= min(cost(o) for o in np.linspace(0.0, 1.5, 301)) + 1e-9


@given(st.floats(3.0, 20.0), st.floats(0.02, 0.6), st.floats(0.05, 0.4), st.floats(1.0, 2.0))
def test_ranges_and_shares_are_in_order(width: float, sd: float, low: float, factor: float) -> None:
    """A dearer miss asks for more overlap; more overlap never misses more."""
    found = overlap_advised_m(
        width_m=width, gap_sd_m=sd, work_over_loss_low=low, work_over_loss_high=low * factor
    )
    assert 0.0 <= found.low_m <= found.best_m + 1e-9 <= found.high_m + 2e-9
    less = skip_fraction(width_m=width, overlap_m=found.low_m, gap_sd_m=sd)
    more = skip_fraction(width_m=width, overlap_m=found.high_m, gap_sd_m=sd)
    assert more <= less + 1e-12
