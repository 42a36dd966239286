"""The day strip on Today: the past as it was told, and the stop that happened."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest
from draw.drawn import NS, points, texts, tree
from made_folders import copy_of
from made_live import at, begin, covered, spread
from pages_read import Asking, asking

from duskline.core.log import Event, identified

RYE = "rye-after-soybeans"
WIDE = 700.0


def strip_of(page: Asking, lang: str = "en") -> str:
    """Return the wide strip of the page."""
    html: str = page.get("/", lang=lang).text
    found: list[str] = re.findall(r"<svg.*?</svg>", html, re.DOTALL)
    found = [one for one in found if "strip" in one]
    return next(one for one in found if float(tree(one).get("width", "0")) > WIDE)


def spread_line(strip: str) -> list[tuple[float, float]]:
    """Return the spread line as far as it was told: the first with rails."""
    return next(points(e) for e in tree(strip).iter(f"{NS}path") if e.get("stroke-width") == "7")


@pytest.mark.parametrize("lang", ["en", "es"])
def test_the_strip_has_what_was_told_and_the_stop_that_happened(tmp_path: Path, lang: str) -> None:
    """Begun at 11:00, stopped at 14:40: flat until then, marked there, nobody is to stop now."""
    told = identified((
        begin("Spreader", at(11)), spread(60, at(12, 30)), covered(20, at(13)),
        spread(18, at(14, 30)), Event(at=at(14, 40), what="stop", machine="Spreader"),
    ))  # fmt: skip
    with asking(copy_of(RYE, tmp_path), "2026-10-18T15:30:00-05:00") as page:
        page.desk.append(told)
        strip = strip_of(page, lang)
    said = [one.text for one in texts(strip)]
    assert {"en": "stopped 2:40 pm", "es": "paró 2:40 pm"}[lang] in said
    assert not {"stop now", "pare ya"} & set(said)
    place = {one.text: 0.5 * (one.box.left + one.box.right) for one in texts(strip)}
    noon = place["noon" if lang == "en" else "12 pm"]
    hour = (place["3"] - noon) / 3.0
    curve = spread_line(strip)
    corner = next(one for one, after in pairwise(curve)
                  if after[1] < curve[0][1] - 0.1)  # fmt: skip
    assert corner[0] == pytest.approx(noon - hour, abs=0.6)
    assert curve[-1][0] == pytest.approx(noon + 2.5 * hour, abs=0.6)
