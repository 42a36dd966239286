"""The way from run to run round whatever lies between, for `duskline.core.route`."""

from __future__ import annotations

import numpy as np
from numba import njit

__all__ = ["ways_round"]


@njit(cache=True)
def ways_round(starts_m, ends_m, edges_m, ring_of, arc_m, ring_m, found_m):  # type: ignore[no-untyped-def]
    """Fill ``found_m`` with the way from each start to each end, ``(n,)``.

    ``edges_m`` is ``(e, 4)`` x0 y0 x1 y1 of every ring of the ground, ``ring_of`` the ring of
    each edge, ``arc_m`` the way along the ring to the edge's beginning, ``ring_m`` each ring's
    whole length. Where the straight way lies outside between two places on one ring, it goes
    along that ring, the shorter way round.
    """
    edges_count = edges_m.shape[0]
    shares = np.empty(edges_count)
    rings = np.empty(edges_count, np.int64)
    places = np.empty(edges_count)
    for k in range(starts_m.shape[0]):
        x0, y0 = starts_m[k, 0], starts_m[k, 1]
        dx, dy = ends_m[k, 0] - x0, ends_m[k, 1] - y0
        straight = np.hypot(dx, dy)
        found_m[k] = straight
        if straight == 0.0:
            continue
        crossed = 0
        # Whether the start lies inside, by a ray to the east.
        inside = False
        for e in range(edges_count):
            ax, ay = edges_m[e, 0] - x0, edges_m[e, 1] - y0
            bx, by = edges_m[e, 2] - x0, edges_m[e, 3] - y0
            if (ay > 0.0) != (by > 0.0) and ax + (bx - ax) * (ay / (ay - by)) > 0.0:
                inside = not inside
            # Which side of the straight way each end of the edge lies on.
            left_a = dx * ay - dy * ax
            left_b = dx * by - dy * bx
            if (left_a > 0.0) != (left_b > 0.0):
                part = left_a / (left_a - left_b)
                px, py = ax + (bx - ax) * part, ay + (by - ay) * part
                share = (px * dx + py * dy) / (straight * straight)
                if 0.0 < share < 1.0:
                    shares[crossed] = share
                    rings[crossed] = ring_of[e]
                    places[crossed] = arc_m[e] + np.hypot(bx - ax, by - ay) * part
                    crossed += 1
        if crossed < 2:
            continue
        order = np.argsort(shares[:crossed])
        first = 0 if inside else 1
        for c in range(first, crossed - 1, 2):
            out, back = order[c], order[c + 1]
            if rings[out] != rings[back]:
                continue
            gone = abs(places[out] - places[back])
            gone = min(gone, ring_m[rings[out]] - gone)
            beeline = (shares[back] - shares[out]) * straight
            found_m[k] += max(gone - beeline, 0.0)
