"""The sweep behind `duskline.core.rows`: runs in every strip from the edges of the ground."""

from __future__ import annotations

import numpy as np
from numba import njit

__all__ = ["put_in_order", "runs_in_strips"]


@njit(cache=True)
def put_in_order(values, count, order):  # type: ignore[no-untyped-def]
    """Fill ``order`` with the places of the first ``count`` values, the least first.

    By insertion: a row is cut a few times only, and a library's sort takes seconds to compile.
    """
    for k in range(count):
        at = k
        while at > 0 and values[order[at - 1]] > values[k]:
            order[at] = order[at - 1]
            at -= 1
        order[at] = k


@njit(cache=True)
def runs_in_strips(edges_m, bottoms_m, width_m, brush_m):  # type: ignore[no-untyped-def]
    """Return the row, start and end of every run, in order of row and start.

    ``edges_m`` is ``(n, 4)`` x0 y0 x1 y1 with the heading along x; ``bottoms_m`` ``(n_rows,)``
    where each strip begins, rising. Strips are narrowed by ``brush_m`` on both sides.
    """
    edges_count, rows_count = edges_m.shape[0], bottoms_m.shape[0]
    # How many intervals each row can get: one an edge, one for two crossings of each strip edge.
    counts = np.zeros(rows_count + 1, np.int64)
    for row in range(rows_count):
        low, high = bottoms_m[row] + brush_m, bottoms_m[row] + width_m - brush_m
        for e in range(edges_count):
            y0, y1 = edges_m[e, 1], edges_m[e, 3]
            if max(y0, y1) >= low and min(y0, y1) <= high:
                counts[row + 1] += 1
    for row in range(rows_count):
        counts[row + 1] += counts[row]
    most = 2 * counts[rows_count] + 4
    out_row = np.empty(most, np.int64)
    out_start = np.empty(most)
    out_end = np.empty(most)
    found = 0
    starts = np.empty(2 * edges_count + 2)
    ends = np.empty(2 * edges_count + 2)
    crossings = np.empty(edges_count + 1)
    order = np.empty(2 * edges_count + 2, np.int64)
    for row in range(rows_count):
        low, high = bottoms_m[row] + brush_m, bottoms_m[row] + width_m - brush_m
        n = 0
        for side in range(2):
            level = low if side == 0 else high
            crossed = 0
            for e in range(edges_count):
                y0, y1 = edges_m[e, 1], edges_m[e, 3]
                if (y0 > level) != (y1 > level):
                    x0, x1 = edges_m[e, 0], edges_m[e, 2]
                    crossings[crossed] = x0 + (x1 - x0) * ((level - y0) / (y1 - y0))
                    crossed += 1
            put_in_order(crossings, crossed, order)
            for k in range(0, crossed - 1, 2):
                starts[n] = crossings[order[k]]
                ends[n] = crossings[order[k + 1]]
                n += 1
        for e in range(edges_count):
            y0, y1 = edges_m[e, 1], edges_m[e, 3]
            if max(y0, y1) < low or min(y0, y1) > high:
                continue
            x0, x1 = edges_m[e, 0], edges_m[e, 2]
            a, b = x0, x1
            if y0 != y1:
                slope = (x1 - x0) / (y1 - y0)
                if y0 < low:
                    a = x0 + slope * (low - y0)
                elif y0 > high:
                    a = x0 + slope * (high - y0)
                if y1 < low:
                    b = x0 + slope * (low - y0)
                elif y1 > high:
                    b = x0 + slope * (high - y0)
            starts[n] = min(a, b)
            ends[n] = max(a, b)
            n += 1
        put_in_order(starts, n, order)
        first = True
        for k in range(n):
            s, t = starts[order[k]], ends[order[k]]
            if not first and s <= out_end[found - 1] + brush_m:
                out_end[found - 1] = max(out_end[found - 1], t)
            else:
                out_row[found] = row
                out_start[found] = s
                out_end[found] = t
                found += 1
                first = False
    return out_row[:found].copy(), out_start[:found].copy(), out_end[:found].copy()
