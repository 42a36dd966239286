"""Compiled cell sums behind ``core.coverage``; imported only when ground is measured.

``fill``: an edge from (x, y) up to (x, y), in cells, adds to each row what lies between it and
the row's eastern end; running sums along the row turn that into the share of each cell.
``sweep``: lines across all edges, one a slab, and the lengths between the edges they meet.
"""

# mypy: allow-untyped-defs, allow-untyped-calls, allow-untyped-decorators, no-check-untyped-defs
from __future__ import annotations

import numpy as np
from numba import njit

__all__ = ["fill", "list_edges", "sweep"]


@njit(cache=True, nogil=True)
def list_edges(edges, rows, band, bands):  # pragma: no cover - compiled
    """Return for each band of rows where its list of edges begins, and the lists."""
    first = np.zeros(bands + 1, np.int64)
    for k in range(edges.shape[0]):
        low = int(max(edges[k, 1], 0.0)) // band
        high = min(int(np.ceil(edges[k, 3])) - 1, rows - 1) // band
        for b in range(low, high + 1):
            first[b + 1] += 1
    for b in range(bands):
        first[b + 1] += first[b]
    listed = np.empty(first[bands], np.int64)
    place = first[:bands].copy()
    for k in range(edges.shape[0]):
        low = int(max(edges[k, 1], 0.0)) // band
        high = min(int(np.ceil(edges[k, 3])) - 1, rows - 1) // band
        for b in range(low, high + 1):
            listed[place[b]] = k
            place[b] += 1
    return first, listed


@njit(cache=True, nogil=True, inline="always")
def _part(line, xa, xb, d):  # pragma: no cover - compiled
    """Add to one row the part of an edge from xa to xb >= xa, both on the grid, d high."""
    i = int(xa)
    if xb <= i + 1.0:
        at = 0.5 * (xa + xb) - i
        line[i] += d * (1.0 - at)
        line[i + 1] += d * at
        return
    j = int(np.ceil(xb))
    s = 1.0 / (xb - xa)
    out = 1.0 - (xa - i)
    into = xb - (j - 1)
    first = 0.5 * s * out * out
    last = 0.5 * s * into * into
    line[i] += d * first
    if j == i + 2:
        line[i + 1] += d * (1.0 - first - last)
    else:
        second = s * (out + 0.5)
        line[i + 1] += d * (second - first)
        step = d * s
        for x in range(i + 2, j - 1):
            line[x] += step
        before = second + (j - i - 3) * s
        line[j - 1] += d * (1.0 - before - last)
    line[j] += d * last


@njit(cache=True, nogil=True, inline="always")
def _row(line, xa, xb, d, columns):  # pragma: no cover - compiled
    """Add a part of an edge that may leave the grid: west of it all counts, east nothing."""
    if xa > xb:
        xa, xb = xb, xa
    if xa >= 0.0 and xb <= columns:
        _part(line, xa, xb, d)
        return
    if xb <= 0.0:
        line[0] += d
        return
    if xa >= columns:
        return
    per = d / (xb - xa)
    if xa < 0.0:
        line[0] += -xa * per
        xa = 0.0
    end = min(xb, columns)
    _part(line, xa, end, (end - xa) * per)


@njit(cache=True, nogil=True)
def _gather(edges, listed, low, high, top, columns, rows):  # pragma: no cover - compiled
    """Add the listed edges to a band of rows that begins at row ``top``."""
    count = rows.shape[0]
    width = float(columns)
    for place in range(low, high):
        k = listed[place]
        x0, y0, x1, y1, sign = edges[k, 0], edges[k, 1], edges[k, 2], edges[k, 3], edges[k, 4]
        slope = (x1 - x0) / (y1 - y0)
        begin = max(int(y0) if y0 > 0.0 else 0, top)
        stop = min(int(np.ceil(y1)), top + count)
        for r in range(begin, stop):
            ya, yb = max(y0, float(r)), min(y1, r + 1.0)
            xa = x0 if ya == y0 else x0 + (ya - y0) * slope
            xb = x1 if yb == y1 else x0 + (yb - y0) * slope
            _row(rows[r - top], xa, xb, sign * (yb - ya), width)


@njit(cache=True, nogil=True)
def fill(edges, first, listed, band, low, high, depth):  # pragma: no cover - compiled
    """Write the depth of the bands from low to high."""
    rows, columns = depth.shape
    hold = np.zeros((band, columns + 2))
    for b in range(low, high):
        top = b * band
        count = min(band, rows - top)
        if first[b] == first[b + 1]:
            depth[top : top + count] = 0.0
            continue
        _gather(edges, listed, first[b], first[b + 1], top, columns, hold[:count])
        # Four rows side by side: each running sum waits for its last addition, four do not.
        r = 0
        while r + 4 <= count:
            s0 = s1 = s2 = s3 = 0.0
            h0, h1, h2, h3 = hold[r], hold[r + 1], hold[r + 2], hold[r + 3]
            t = top + r
            d0, d1, d2, d3 = depth[t], depth[t + 1], depth[t + 2], depth[t + 3]
            for x in range(columns):
                s0 += h0[x]
                s1 += h1[x]
                s2 += h2[x]
                s3 += h3[x]
                d0[x] = s0
                d1[x] = s1
                d2[x] = s2
                d3[x] = s3
            r += 4
        for rest in range(r, count):
            total = 0.0
            for x in range(columns):
                total += hold[rest, x]
                depth[top + rest, x] = total
        hold[:count] = 0.0


@njit(cache=True, nogil=True)
def _line(edges, active, count, y, at, order):  # pragma: no cover - compiled
    """Put the active edges in order along the line at height y; return how many it meets."""
    met = 0
    for place in range(count):
        k = active[place]
        if edges[k, 1] <= y < edges[k, 3]:
            x = edges[k, 0] + (y - edges[k, 1]) * (
                (edges[k, 2] - edges[k, 0]) / (edges[k, 3] - edges[k, 1])
            )
            # Nearly in order already: each goes a few places back.
            spot = met
            while spot > 0 and at[spot - 1] > x:
                at[spot] = at[spot - 1]
                order[spot] = order[spot - 1]
                spot -= 1
            at[spot] = x
            order[spot] = k
            met += 1
    return met


@njit(cache=True, nogil=True)
def _crosses(edges, order, met, low, high, stake):  # pragma: no cover - compiled
    """Return whether neighbours on the line change places between low and high."""
    before_low = before_high = -1e300
    for place in range(met):
        k = order[place]
        slope = (edges[k, 2] - edges[k, 0]) / (edges[k, 3] - edges[k, 1])
        x_low = edges[k, 0] + (max(low, edges[k, 1]) - edges[k, 1]) * slope
        x_high = edges[k, 0] + (min(high, edges[k, 3]) - edges[k, 1]) * slope
        if (before_low - x_low) * (high - low) > stake:
            return True
        if (before_high - x_high) * (high - low) > stake:
            return True
        before_low, before_high = x_low, x_high
    return False


@njit(cache=True, nogil=True)
def sweep(edges, sign, of_field, bounded, bounds):  # pragma: no cover - compiled
    """Return ground outside once or more, missed, once, twice; edges in order of their feet.

    Unbounded: ground once in the first place, twice or more in the second.
    """
    stake = 1e-4
    halvings = 12
    total = edges.shape[0]
    active = np.empty(total, np.int64)
    order = np.empty(total, np.int64)
    at = np.empty(total)
    stack = np.empty((halvings + 2, 3))
    sums = np.zeros(4)
    count = after = 0
    for slab in range(bounds.shape[0] - 1):
        bottom, top = bounds[slab], bounds[slab + 1]
        # Keep last slab's order, drop what ended, add what begins below this slab's top.
        kept = 0
        for place in range(count):
            k = active[place]
            if edges[k, 3] > bottom:
                active[kept] = k
                kept += 1
        count = kept
        while after < total and edges[after, 1] < top:
            active[count] = after
            count += 1
            after += 1
        stack[0, 0], stack[0, 1], stack[0, 2] = bottom, top, 0.0
        height = 1
        while height > 0:
            height -= 1
            low, high, deep = stack[height, 0], stack[height, 1], stack[height, 2]
            middle = 0.5 * (low + high)
            met = _line(edges, active, count, middle, at, order)
            if deep < halvings and _crosses(edges, order, met, low, high, stake):
                stack[height, 0], stack[height, 1], stack[height, 2] = low, middle, deep + 1
                stack[height + 1, 0], stack[height + 1, 1] = middle, high
                stack[height + 1, 2] = deep + 1
                height += 2
                continue
            depth, inside = 0, 0
            for place in range(met - 1):
                k = order[place]
                if of_field[k]:
                    inside += sign[k]
                else:
                    depth += sign[k]
                length = (at[place + 1] - at[place]) * (high - low)
                if not bounded:
                    if depth == 1:
                        sums[0] += length
                    elif depth > 1:
                        sums[1] += length
                elif inside > 0:
                    if depth <= 0:
                        sums[1] += length
                    elif depth == 1:
                        sums[2] += length
                    else:
                        sums[3] += length
                elif depth > 0:
                    sums[0] += length
        # Leave the active edges in the order of the last line, those it missed after them.
        _reorder(edges, active, count, middle, order, met)
    return sums


@njit(cache=True, nogil=True)
def _reorder(edges, active, count, y, order, met):  # pragma: no cover - compiled
    """Put the edges the line met first, in its order; the others behind."""
    last = count - 1
    for place in range(count - 1, -1, -1):
        k = active[place]
        if not edges[k, 1] <= y < edges[k, 3]:
            active[last] = k
            last -= 1
    for place in range(met):
        active[place] = order[place]
