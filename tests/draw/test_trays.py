"""The strip picture and evenness by driving width."""

from __future__ import annotations

from typing import Any

import pytest
from draw.drawn import NS, outside, overlaps, texts, tree
from made_days import OATS, RYE, farm_of

from duskline.answers.trays import TrayAnswer, answer_trays
from duskline.core.trays import TrayTest, Way, fold, mean_pattern
from duskline.draw import evenness_chart, tray_strip
from duskline.draw.ink import COLOURED, INKED, contrast
from duskline.units import FOOT_M


def _test(name: str = RYE) -> TrayTest:
    return next(iter(farm_of(name).trays.values()))


def _answer(test: TrayTest) -> TrayAnswer:
    return answer_trays(
        test, good_limit_fraction=0.15, usable_limit_fraction=0.25,
        narrowest_share_of_throw_fraction=0.4, edge_share_limit_fraction=0.15,
        limit_source="this test",
    )  # fmt: skip


def _picture(width_ft: float, width: float = 354.0, **options: Any) -> str:
    return tray_strip(
        _test(), "us", driving_width_m=width_ft * FOOT_M, width=width, height=260.0, **options
    )


@pytest.mark.parametrize("width", [354.0, 1280.0])
@pytest.mark.parametrize("width_ft", [40.0, 45.0, 60.0])
@pytest.mark.parametrize("language", ["en", "es"])
def test_labels_keep_apart(width: float, width_ft: float, language: str) -> None:
    """Strip picture and chart, on a phone and a wide screen."""
    chart = evenness_chart(
        _answer(_test()), "us", good_limit_fraction=0.15, usable_limit_fraction=0.25,
        width=width, height=280.0, language=language,  # type: ignore[arg-type]
    )  # fmt: skip
    for drawing in (_picture(width_ft, width, language=language), chart):
        assert overlaps(drawing) == []
        assert outside(drawing) == []


def _bars(drawing: str) -> list[tuple[float, float]]:
    """Width and height of each bar."""
    return [
        (float(e.get("width", "0")), float(e.get("height", "0")))
        for e in tree(drawing).iter(f"{NS}rect")
        if e.get("fill", "").endswith("-bar)")
    ]


def test_bars_are_as_high_as_the_seed_is_thick() -> None:
    """At 40 ft back and forth: the highest bar over the lowest is the heaviest over the thinnest.

    The half bars at the two ends belong to one tray point, the one on the driving line.
    """
    folded = fold(
        mean_pattern(_test()), driving_width_m=40.0 * FOOT_M, way=Way.BACK_AND_FORTH
    ).relative_rates
    heights = [height for _, height in _bars(_picture(40.0))]
    assert len(heights) == len(folded) + 1
    assert max(heights) / min(heights) == pytest.approx(max(folded) / min(folded), rel=2e-3)
    whole = sum(w * h for w, h in _bars(_picture(40.0)))
    across = sum(w for w, _ in _bars(_picture(40.0)))
    mean = whole / across
    mean_line = next(
        float(e.get("y1", "0"))
        for e in tree(_picture(40.0)).iter(f"{NS}line")
        if e.get("stroke-width") == "2" and e.get("y1") == e.get("y2")
    )
    bottom = max(
        float(e.get("y", "0")) + float(e.get("height", "0"))
        for e in tree(_picture(40.0)).iter(f"{NS}rect")
    )
    assert bottom - mean_line == pytest.approx(mean, rel=5e-3)


def test_thin_places_are_marked_by_shape_and_word() -> None:
    """At 60 ft two strips lie a fifth or more under the mean; at 40 ft none does."""

    def triangles(drawing: str) -> int:
        return sum(
            1 for e in tree(drawing).iter(f"{NS}path")
            if e.get("fill") in {COLOURED.text, INKED.text} and e.get("d", "").strip().endswith("Z")
        )  # fmt: skip

    even, striped = _picture(40.0), _picture(60.0)
    assert triangles(even) == 0
    assert triangles(striped) == 2
    assert any(w.text == "thin" for w in texts(striped))
    assert not any(w.text == "thin" for w in texts(even))


def test_the_ground_shows_fewer_dots_where_it_is_thin() -> None:
    """Dots in the thinnest tray's strip over those in the heaviest, about as the seed."""
    drawing = _picture(60.0, 1280.0)
    dots = [float(e.get("cx", "0")) for e in tree(drawing).iter(f"{NS}circle")]
    frame = next(e for e in tree(drawing).iter(f"{NS}rect") if e.get("fill") == "none")
    left, across = float(frame.get("x", "0")), float(frame.get("width", "0"))
    folded = fold(mean_pattern(_test()), driving_width_m=60.0 * FOOT_M, way=Way.BACK_AND_FORTH)
    shares = folded.relative_rates
    spacing_m = folded.positions_m[1] - folded.positions_m[0]

    def count(index: int) -> int:
        middle = left + folded.positions_m[index] / (120.0 * FOOT_M) * across
        half = 0.5 * spacing_m / (120.0 * FOOT_M) * across
        return sum(1 for x in dots if abs(x - middle) <= half)

    thin, heavy = count(int(shares.argmin())), count(int(shares.argmax()))
    assert thin / heavy == pytest.approx(min(shares) / max(shares), abs=0.12)


def test_the_same_trays_give_the_same_dots() -> None:
    """The scatter is fixed."""
    assert _picture(45.0) == _picture(45.0)


def test_round_and_round_shows_the_same_strip_twice() -> None:
    """One repeat is one driving width; the picture shows two."""
    half = _bars(_picture(45.0, way=Way.ROUND_AND_ROUND))
    heights = [height for width, height in half if width > 1.0]
    middle = len(heights) // 2
    assert heights[:middle] == pytest.approx(heights[middle : 2 * middle], abs=0.02)


def test_the_chart_marks_the_widest_good_width_and_both_limits() -> None:
    """A's trays: good to 45 ft; limits at 15 and 25 percent are written."""
    drawing = evenness_chart(
        _answer(_test()), "us", good_limit_fraction=0.15, usable_limit_fraction=0.25,
        width=354.0, height=280.0,
    )  # fmt: skip
    words = {w.text for w in texts(drawing)}
    assert {"45 ft", "good to 15%", "usable to 25%", "back and forth", "round and round"} <= words
    assert "Good to 45 ft" in (tree(drawing).findtext(f"{NS}desc") or "")


def test_two_ways_of_driving_differ_by_mark_and_dash() -> None:
    """Round marks on a solid line, squares on a dashed one."""
    drawing = evenness_chart(
        _answer(_test(OATS)), "metric", good_limit_fraction=0.15, usable_limit_fraction=0.25,
        width=354.0, height=280.0, black_and_white=True,
    )  # fmt: skip
    lines = [e for e in tree(drawing).iter(f"{NS}path") if e.get("fill") == "none"]
    assert {e.get("stroke-dasharray") for e in lines} == {None, "7 5"}
    assert list(tree(drawing).iter(f"{NS}circle"))
    for written in texts(drawing):
        assert contrast(written.fill, "#FFFFFF") >= 7.0
