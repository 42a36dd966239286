"""Overlap and skip of each covering machine of a farm."""

from __future__ import annotations

from made_folders import EXAMPLES, FOOT_M

from duskline.answers.lap import lap_answers
from duskline.core.lap import gap_sd_m, skip_fraction
from duskline.exchange.farmfolder import read_farm


def test_each_machine_gets_its_own_drivers_way() -> None:
    """The neighbor goes by eye (one error), the owner by guided line (two errors)."""
    farm = read_farm(EXAMPLES / "rye-after-soybeans")
    first, second = lap_answers(farm)
    assert (first.by_eye, second.by_eye) == (True, False)
    by_eye = farm.defaults["edge_sd_by_eye"].value
    assert first.skip_fraction == skip_fraction(
        width_m=30 * FOOT_M, overlap_m=3 * FOOT_M, gap_sd_m=by_eye
    )
    guided = gap_sd_m(edge_sd_m=farm.defaults["edge_sd_guided"].value, by_eye=False)
    assert second.skip_fraction == skip_fraction(
        width_m=28 * FOOT_M, overlap_m=0.5 * FOOT_M, gap_sd_m=guided
    )


def test_ranges_are_in_order_and_hold_the_best() -> None:
    """Low to high, for what is missed and for what is advised."""
    for lap in lap_answers(read_farm(EXAMPLES / "forty-fields")):
        assert lap.skip_low_fraction <= lap.skip_fraction <= lap.skip_high_fraction
        assert 0.0 <= lap.advised.low_m <= lap.advised.best_m <= lap.advised.high_m
