"""The tray test in words: what a spreader's own width is told."""

from __future__ import annotations

import pytest

from duskline.answers.trays import AskedWidth, Verdict
from duskline.words import trays as words

FOOT_M = 0.3048


def asked(feet: float, verdict: Verdict, cv: float) -> tuple[AskedWidth, float]:
    """Return what one test says to a width back and forth."""
    width = AskedWidth(
        driving_width_m=feet * FOOT_M, back_and_forth=verdict, round_and_round="good"
    )
    return width, cv


@pytest.mark.parametrize(
    ("verdict", "holds_ft", "told"),
    [
        ("good", 45.0, "even enough (11.4 %), and 45 ft would hold."),
        ("good", 40.0, "even enough (11.4 %)."),
        ("usable", 35.0, "usable, with stripes you may see (11.4 %). Close up to 35 ft."),
        ("too uneven", 35.0, "too uneven (11.4 %). Close up to 35 ft."),
        ("island", 35.0, "or a breath of wind is not (11.4 %). Close up to 35 ft."),
        ("too uneven", None, "too uneven (11.4 %)."),
    ],
)
def test_a_driven_width_is_told_what_to_do(
    verdict: Verdict, holds_ft: float | None, told: str
) -> None:
    """40 ft, whatever the trays say of it."""
    holds_m = None if holds_ft is None else holds_ft * FOOT_M
    line = words.driven_line("Spreader", [asked(40.0, verdict, 0.114)], holds_m, "us")
    assert line.startswith("Spreader is driven at 40 ft now: ")
    assert line.endswith(told)


def test_the_worst_seed_of_a_mix_speaks() -> None:
    """Oats are even at 40 ft, radish is not."""
    both = [asked(40.0, "good", 0.05), asked(40.0, "too uneven", 0.41)]
    assert "too uneven (41.0 %)" in words.driven_line("S", both, 30.0 * FOOT_M, "us")
    even = [asked(30.0, "good", 0.12), asked(30.0, "good", 0.147)]
    assert "even enough (14.7 %)" in words.driven_line("S", even, 30.0 * FOOT_M, "us")


def test_how_a_test_is_made_is_told_in_the_reader_s_units() -> None:
    """Feet and fertilizer, or metres and fertiliser."""
    us, metric = (" ".join(words.how_to_lines(system)) for system in ("us", "metric"))
    assert "5 ft apart" in us
    assert "fertilizer" in us
    assert " m apart" in metric
    assert "fertiliser" in metric
    assert " ft" not in metric
