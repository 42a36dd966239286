"""The way from run to run round whatever lies between, for `duskline.core.route`."""

from __future__ import annotations

import numpy as np
from numba import njit

from duskline.core.rows_kernel import put_in_order

__all__ = ["nearest_next", "ways_round"]


@njit(cache=True)
def _rope(corners, side, straight):  # type: ignore[no-untyped-def]
    """Return a rope's length from 0, 0 to ``straight``, 0 round the corners on one side."""
    count = 2
    for corner in corners:
        count += corner[1] * side > 0.0
    if count == 2:
        return straight
    points = np.zeros((count, 2))
    points[1, 0] = straight
    at = 2
    for corner in corners:
        if corner[1] * side > 0.0:
            points[at, 0], points[at, 1] = corner[0], corner[1] * side
            at += 1
    # The hull, from its left end over the top and back along the bottom.
    sequence = np.empty(count, np.int64)
    put_in_order(points[:, 0], count, sequence)
    hull = np.empty((count, 2))
    around = 0.0
    for way in range(2):
        kept = 0
        for i in range(count):
            place = sequence[i if way == 0 else count - 1 - i]
            x, y = points[place, 0], points[place, 1]
            while kept > 1:
                ux = hull[kept - 1, 0] - hull[kept - 2, 0]
                uy = hull[kept - 1, 1] - hull[kept - 2, 1]
                if ux * (y - hull[kept - 1, 1]) - uy * (x - hull[kept - 1, 0]) < 0.0:
                    break
                kept -= 1
            hull[kept, 0], hull[kept, 1] = x, y
            kept += 1
        for i in range(kept - 1):
            around += np.hypot(hull[i + 1, 0] - hull[i, 0], hull[i + 1, 1] - hull[i, 1])
    # The straight way itself is one side of the hull.
    return around - straight


@njit(cache=True)
def ways_round(starts_m, ends_m, edges_m, ring_of, arc_m, ring_m, found_m):  # type: ignore[no-untyped-def]
    """Fill ``found_m`` with the way from each start to each end, ``(n,)``.

    ``edges_m`` is ``(e, 4)`` x0 y0 x1 y1 of every ring of the ground, ``ring_of`` the ring of
    each edge, ``arc_m`` the way along the ring to the edge's beginning, ``ring_m`` each ring's
    whole length. Where the straight way lies outside between two places on one ring, the way is
    a rope pulled tight round that ring's corners between them, the shorter way round.
    """
    edges_count = edges_m.shape[0]
    shares = np.empty(edges_count)
    rings = np.empty(edges_count, np.int64)
    places = np.empty(edges_count)
    corners = np.empty((edges_count, 2))
    bent_round = np.zeros(edges_count, np.bool_)
    order = np.empty(edges_count, np.int64)
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
        put_in_order(shares, crossed, order)
        first = 0 if inside else 1
        bent_round[:] = False
        for c in range(first, crossed - 1, 2):
            out, back = order[c], order[c + 1]
            if rings[out] != rings[back]:
                continue
            low, high = min(places[out], places[back]), max(places[out], places[back])
            between = high - low <= 0.5 * ring_m[rings[out]]
            for e in range(edges_count):
                if ring_of[e] == rings[out] and (low < arc_m[e] < high) == between:
                    bent_round[e] = True
        corners_count = 0
        for e in range(edges_count):
            if bent_round[e]:
                ax, ay = edges_m[e, 0] - x0, edges_m[e, 1] - y0
                corners[corners_count, 0] = (ax * dx + ay * dy) / straight
                corners[corners_count, 1] = (dx * ay - dy * ax) / straight
                corners_count += 1
        for side in (-1.0, 1.0):
            found_m[k] += _rope(corners[:corners_count], side, straight) - straight


@njit(cache=True)
def nearest_next(between_s, own_s, start_s, final_s, cell_of, cells_count, firsts):  # type: ignore[no-untyped-def]
    """Return the states driven, one a cell: nearest next from each first, the quickest of them.

    ``between_s`` is ``(n, n)`` from the end of each state to the start of each; ``own_s``,
    ``start_s`` and ``final_s`` ``(n,)`` what a state takes itself, to reach and to leave;
    ``cell_of`` its cell, ``firsts`` the states to begin with.
    """
    count = own_s.shape[0]
    best_s = np.inf
    best = np.zeros(cells_count, np.int64)
    chosen = np.zeros(cells_count, np.int64)
    done = np.zeros(cells_count, np.bool_)
    for first in firsts:
        done[:] = False
        chosen[0] = first
        done[cell_of[first]] = True
        total = start_s[first] + own_s[first]
        for at in range(1, cells_count):
            last = chosen[at - 1]
            least, following = np.inf, -1
            for state in range(count):
                if done[cell_of[state]]:
                    continue
                way = between_s[last, state] + own_s[state]
                if at == cells_count - 1:
                    way += final_s[state]
                if way < least:
                    least, following = way, state
            total += between_s[last, following] + own_s[following]
            chosen[at] = following
            done[cell_of[following]] = True
        total += final_s[chosen[cells_count - 1]]
        if total < best_s:
            best_s = total
            best[:] = chosen
    return best
