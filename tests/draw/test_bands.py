"""Strips before and after covering: curves, hatch, verdict, and the old rows under them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from draw.drawn import NS, colours, outside, overlaps, points, texts, tree
from hypothesis import given, settings
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.evenness import Displacement, Ripples, covered, profile, ripples
from duskline.core.trays import TrayPattern, Way
from duskline.draw.bands import OldRows, bands_picture
from duskline.draw.ink import COLOURED
from duskline.units import FOOT_M

MOVED = Displacement(along_sd_m=0.5, lateral_sd_m=0.12)
ROWS = OldRows(spacing_m=0.762, kept_along_fraction=0.61, kept_across_fraction=0.48)
PLACES_M = np.arange(-24.0, 24.25, 0.5)
PEAK = np.clip(20.0 - np.abs(PLACES_M), 0.0, 8.0) * (0.6 + 0.06 * np.abs(PLACES_M))
LEAN = np.clip((20.0 - np.abs(PLACES_M)) / 12.0, 0.0, 1.0) * (1.0 + PLACES_M / 45.0)
FLAT = np.clip((20.0 - np.abs(PLACES_M)) / 12.0, 0.0, 1.0)


def spread(catch: Any, swath_m: float) -> Ripples:
    """The ripples of a pattern driven back and forth."""
    pattern = TrayPattern(first_tray_m=-24.0, spacing_m=0.5, catch=tuple(catch.tolist()))
    return ripples(pattern, driving_width_m=swath_m, way=Way.BACK_AND_FORTH)


def picture(
    catch: Any, swath_m: float, *, degrees: float = 10.0, moved: Displacement = MOVED,
    width: float = 390.0, rows: OldRows = ROWS, system: Any = "us", **options: Any,
) -> str:  # fmt: skip
    """The drawing of a pattern before and after covering at an angle."""
    before = spread(catch, swath_m)
    return bands_picture(
        before, covered(before, angles_rad=[math.radians(degrees)], displacement=moved), system,
        driving_width_m=swath_m, angle_rad=math.radians(degrees), old_rows=rows,
        width=width, height=460.0, **options,
    )  # fmt: skip


def curves(drawing: str) -> list[list[tuple[float, float]]]:
    """The heavy lines: seed as spread, as covered, then the old rows."""
    return [
        points(one) for one in tree(drawing).iter(f"{NS}path") if one.get("stroke-width") == "2.6"
    ]


@pytest.mark.parametrize("width", [354.0, 390.0, 1100.0])
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize("degrees", [0.0, 10.0, 90.0])
def test_labels_keep_apart(width: float, language: str, system: str, degrees: float) -> None:
    """On phone and screen, with thin strips and without, and never a CV."""
    for catch, swath_m in ((PEAK, 24.0), (LEAN, 18.288), (FLAT, 28.0)):
        drawing = picture(
            catch, swath_m, width=width, language=language, system=system, degrees=degrees
        )
        assert overlaps(drawing) == []
        assert outside(drawing) == []
        assert "CV" not in drawing


def test_the_same_strips_give_the_same_bytes() -> None:
    """Twice the same drawing; in black and white it has greys alone."""
    assert picture(PEAK, 24.0) == picture(PEAK, 24.0)
    for colour in colours(picture(PEAK, 24.0, black_and_white=True)):
        assert colour[1:3] == colour[3:5] == colour[5:7]


@settings(max_examples=25)
@given(st.floats(14.0, 30.0), st.floats(0.0, 90.0))
def test_curves_are_as_high_as_the_seed_is_thick(swath_m: float, degrees: float) -> None:
    """Heights over the ground line against the dose, before and after, three passes across."""
    before = spread(LEAN, swath_m)
    after = covered(before, angles_rad=[math.radians(degrees)], displacement=MOVED)
    drawing = picture(LEAN, swath_m, degrees=degrees)
    lines = [
        one for one in tree(drawing).iter(f"{NS}line")
        if one.get("y1") == one.get("y2") and one.get("stroke") == COLOURED.soft
    ]  # fmt: skip
    grounds = [
        float(one.get("y1", "0")) for one in tree(drawing).iter(f"{NS}line")
        if one.get("stroke-width") == "1.5"
    ]  # fmt: skip
    for seed, curve, mean, ground in zip(
        (before, after), curves(drawing), lines, grounds, strict=False
    ):
        one_unit = ground - float(mean.get("y1", "0"))
        wanted = profile(seed, points_count=240)
        heights = np.array([(ground - y) / one_unit for _, y in curve])
        repeats = np.resize(wanted, len(heights))
        assert heights == pytest.approx(repeats, abs=0.02)
        assert len(heights) == round(240 * 3 * swath_m / seed.repeat_m) + 1


def test_only_ground_under_half_is_hatched() -> None:
    """The peaked pattern at 24 m has places under half; the leaning one at 18 m has none."""

    def hatched(drawing: str) -> list[tuple[float, float]]:
        return [
            (float(one.get("x", "0")), float(one.get("width", "0")))
            for one in tree(drawing).iter(f"{NS}rect")
            if one.get("fill", "").endswith("-thin)") and one.get("stroke") == "none"
        ]

    drawing = picture(PEAK, 24.0, width=1100.0)
    thin = profile(spread(PEAK, 24.0), points_count=2400) < 0.5
    left, right = curves(drawing)[0][0][0], curves(drawing)[0][-1][0]
    first_half = hatched(drawing)[: len(hatched(drawing)) // 2]
    assert sum(wide for _, wide in first_half) / (right - left) == pytest.approx(
        thin.mean(), abs=0.015
    )
    assert any(one.text == "under half" for one in texts(drawing))
    even = picture(LEAN, 18.288, width=1100.0)
    assert hatched(even) == []
    assert not any(one.text == "under half" for one in texts(even))


@pytest.mark.parametrize(
    ("catch", "swath_m", "moved", "said"),
    [
        (PEAK, 24.0, MOVED, "the strips stay"),
        (FLAT, 28.0, MOVED, "there are hardly any strips"),
        (PEAK, 24.0, Displacement(along_sd_m=12.0, lateral_sd_m=3.0), "the strips get weaker"),
        (PEAK, 24.0, Displacement(along_sd_m=12.0, lateral_sd_m=9.0), "the strips are gone"),
    ],
)
def test_the_verdict_is_what_becomes_of_the_strongest_strip(
    catch: Any, swath_m: float, moved: Displacement, said: str
) -> None:
    """Moved by half a metre, strips as wide as a pass stay; moved by metres they would not.

    0.9 and 0.1 of their height are where the words change.
    """
    assert said in {one.text for one in texts(picture(catch, swath_m, moved=moved))}
    assert said in (
        tree(picture(catch, swath_m, moved=moved, width=1100.0)).findtext(f"{NS}desc") or ""
    )


@settings(max_examples=25)
@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_old_rows_are_drawn_as_high_as_what_is_left_of_them(along: float, across: float) -> None:
    """Before, along and at the angle: heights in the proportion the words say."""
    rows = OldRows(spacing_m=0.762, kept_along_fraction=along, kept_across_fraction=across)
    drawing = picture(PEAK, 24.0, rows=rows)
    heights = [max(y for _, y in wave) - min(y for _, y in wave) for wave in curves(drawing)[2:]]
    assert len(heights) == 3
    assert heights[1] / heights[0] == pytest.approx(along, abs=0.002)
    assert heights[2] / heights[0] == pytest.approx(across, abs=0.002)
    said = [one.text for one in texts(drawing) if one.text.endswith(" left")]
    assert said == [f"{along:.0%} left", f"{across:.0%} left"]


def test_lengths_and_angle_stand_in_the_readers_units() -> None:
    """Driving width in feet or metres, rows in inches or centimetres; no third picture at 0."""
    shown = {one.text for one in texts(picture(PEAK, 60.0 * FOOT_M, degrees=8.0))}
    assert {"60 ft", "old rows 30 in apart", "at 8°"} <= shown
    assert "seed after working in at 8° off the passes" in shown
    metric = {one.text for one in texts(picture(PEAK, 18.0, system="metric", degrees=0.0))}
    assert {"18 m", "old rows 76 cm apart"} <= metric
    assert "seed after working in along the passes" in metric
    assert len(curves(picture(PEAK, 18.0, degrees=0.0))) == 4


def test_strips_that_do_not_belong_together_are_refused() -> None:
    """Before and after of other driving widths, no room, and shares that cannot be."""
    one, other = spread(PEAK, 24.0), spread(PEAK, 20.0)
    with pytest.raises(OutOfRange):
        bands_picture(one, other, "us", driving_width_m=24.0, angle_rad=0.0, old_rows=ROWS,
                      width=390.0, height=460.0)  # fmt: skip
    with pytest.raises(OutOfRange):
        bands_picture(one, one, "us", driving_width_m=24.0, angle_rad=0.0, old_rows=ROWS,
                      width=390.0, height=120.0)  # fmt: skip
    for kept in (-0.1, 1.1):
        with pytest.raises(OutOfRange):
            OldRows(spacing_m=0.762, kept_along_fraction=kept, kept_across_fraction=0.5)
    with pytest.raises(OutOfRange):
        OldRows(spacing_m=0.0, kept_along_fraction=0.5, kept_across_fraction=0.5)
