"""Outlines in GeoJSON against the examples of its standard.

Source of both rows: RFC 7946, The GeoJSON Format, IETF, 2016, with its errata,
https://rfc-editor.org/errata/rfc7946. Exact: the figures are whole degrees.
"""

from __future__ import annotations

import numpy as np
import pytest

from duskline.core.outline import Outline
from duskline.exchange.projection import longitude_span_deg

# id, box (west, south, east, north), degrees of longitude it spans
BOXES = [
    ("GEO-C1", (177.0, -20.0, -178.0, -16.0), 5.0),
]
# id, ring as published (clockwise), ring as corrected
RINGS = [
    (
        "GEO-C2",
        [[100, 0], [100, 1], [101, 1], [101, 0], [100, 0]],
        [[100, 0], [101, 0], [101, 1], [100, 1], [100, 0]],
    ),
]


@pytest.mark.parametrize(("row", "box_deg", "span_deg"), BOXES)
def test_a_box_across_the_180th_meridian_spans_what_was_published(
    row: str, box_deg: tuple[float, float, float, float], span_deg: float
) -> None:
    """West 177 E to east 178 W is 5 degrees, not 355."""
    assert longitude_span_deg(west_deg=box_deg[0], east_deg=box_deg[2]) == span_deg, row


@pytest.mark.parametrize(("row", "drawn", "corrected"), RINGS)
def test_a_clockwise_ring_is_turned_as_the_correction_turns_it(
    row: str, drawn: list[list[int]], corrected: list[list[int]]
) -> None:
    """The same corners in the same turning order, wherever the ring starts."""
    ring = Outline(exterior_m=np.asarray(drawn, dtype=np.float64)).exterior_m.tolist()
    start = ring.index(corrected[0])
    assert [*ring[start:], *ring[:start], ring[start]] == corrected, row
