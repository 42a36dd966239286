"""Compiled sweep behind ``core.density``; imported only when a density map is made.

Row after row of cells, along the covering tool's travel: what the spreader lays down, which
tools go through, where they move the seed. Only the few rows that one tool can reach are held.
A strip is one straight piece of driving; its columns are named below.
"""

# mypy: allow-untyped-defs, allow-untyped-calls, allow-untyped-decorators, no-check-untyped-defs
from __future__ import annotations

import math

import numpy as np
from numba import njit

__all__ = [
    "BINS",
    "MOST_DENSITY",
    "STRIP_COLUMNS",
    "class_taps",
    "row_reach",
    "smooth_tracks",
    "sweep_band",
]

BINS = 4096
MOST_DENSITY = 8.0
"""The last bin holds everything above so many times the planned rate."""

# Start u, v; direction u, v; length; lean of the start and of the end; south- and northmost
# reach; place on its error track at the start; +1 or -1, travel along or against the track;
# number of the track; number of the direction; half the tool's width.
STRIP_COLUMNS = 14
_PU, _PV, _TU, _TV, _LONG, _LEAN0, _LEAN1, _SOUTH, _NORTH, _AT, _WAY, _TRACK, _TURNED, _HALF = (
    range(14)
)

_WHOLE, _NONE = np.float32(1.0 - 1e-5), np.float32(1e-5)
"""Of a cell: shares are running sums, so neither all nor nothing comes out to the last digit."""
_SQRT_HALF = math.sqrt(0.5)
_FEWEST_SD = 0.02  # of a cell: a narrower kernel is one cell


@njit(cache=True)
def smooth_tracks(normals, sd, ratio):  # pragma: no cover - compiled
    """Return smooth steering errors, one row a track: a twice-filtered random walk.

    ``normals`` is ``(n_tracks, n_steps, 2)``; ``ratio`` is one step over the decay length. The
    error and its slope follow the stationary process whose correlation is (1 + x) exp(-x).
    """
    tracks, steps = normals.shape[0], normals.shape[1]
    error = np.empty((tracks, steps))
    fade = math.exp(-ratio)
    # State (e, e' x decay length); exact step of the critically damped filter.
    a00, a01 = fade * (1.0 + ratio), fade * ratio
    a10, a11 = -fade * ratio, fade * (1.0 - ratio)
    q00 = 1.0 - a00 * a00 - a01 * a01
    q01 = -a00 * a10 - a01 * a11
    q11 = 1.0 - a10 * a10 - a11 * a11
    l00 = math.sqrt(max(q00, 0.0))
    l10 = q01 / l00 if l00 > 0.0 else 0.0
    l11 = math.sqrt(max(q11 - l10 * l10, 0.0))
    for i in range(tracks):
        e, slope = normals[i, 0, 0], normals[i, 0, 1]
        error[i, 0] = sd * e
        for k in range(1, steps):
            x, y = normals[i, k, 0], normals[i, k, 1]
            e, slope = a00 * e + a01 * slope + l00 * x, a10 * e + a11 * slope + l10 * x + l11 * y
            error[i, k] = sd * e
    return error


@njit(cache=True)
def _taps(mean, variance, most, taps):  # pragma: no cover - compiled
    """Write the shares that move by whole cells; return the first shift and their number."""
    # A cell's own width spreads the seed by a twelfth of its square; what is left is the tool's.
    sd = math.sqrt(max(variance - 1.0 / 12.0, 0.0))
    if sd < _FEWEST_SD:
        taps[0] = 1.0
        return math.floor(mean + 0.5), 1
    low, high = mean - 4.0 * sd, mean + 4.0 * sd
    first = math.floor(low + 0.5)
    count = min(math.floor(high + 0.5) - first + 1, most)
    total = 0.0
    for k in range(count):
        left = max(first + k - 0.5, low)
        right = min(first + k + 0.5, high)
        share = 0.5 * (
            math.erf((right - mean) / sd * _SQRT_HALF) - math.erf((left - mean) / sd * _SQRT_HALF)
        )
        taps[k] = share
        total += share
    for k in range(count):
        taps[k] /= total
    return first, count


@njit(cache=True)
def class_taps(means, variances, along, across, shape):  # pragma: no cover - compiled
    """Write the taps of every class; ``shape``: first and count along, first and count across.

    The taps along stand backwards and filled up with zeros to whole fours.
    """
    most = along.shape[1] - 3
    work = np.zeros(max(most, across.shape[1]))
    for c in range(means.shape[0]):
        first, count = _taps(means[c, 0], variances[c, 0], most, work)
        whole = 4 * ((count + 3) // 4) if count > 1 else 1
        for k in range(count):
            along[c, whole - 1 - k] = work[k]
        shape[c, 0], shape[c, 1] = first, whole
        first, count = _taps(means[c, 1], variances[c, 1], across.shape[1], work)
        for k in range(count):
            across[c, k] = work[k]
        shape[c, 2], shape[c, 3] = first, count


@njit(cache=True)
def row_reach(edges, low, high):  # pragma: no cover - compiled
    """Write for each row the first and last column an edge, in cells, comes to."""
    rows = low.shape[0]
    for k in range(edges.shape[0]):
        x0, y0, x1, y1 = edges[k, 0], edges[k, 1], edges[k, 2], edges[k, 3]
        if y0 > y1:
            x0, y0, x1, y1 = x1, y1, x0, y0
        for r in range(max(int(y0), 0), min(int(y1), rows - 1) + 1):
            if y1 > y0:
                xa = x0 + (max(y0, float(r)) - y0) / (y1 - y0) * (x1 - x0)
                xb = x0 + (min(y1, r + 1.0) - y0) / (y1 - y0) * (x1 - x0)
            else:
                xa, xb = x0, x1
            low[r] = min(low[r], math.floor(min(xa, xb)))
            high[r] = max(high[r], math.ceil(max(xa, xb)))


@njit(cache=True)
def _clip(alpha, beta, low, high):  # pragma: no cover - compiled
    """Return the part of low to high where alpha + beta u >= 0."""
    if abs(beta) < 1e-12:
        if alpha < 0.0:
            return low, low - 1.0
        return low, high
    at = -alpha / beta
    if beta > 0.0:
        return max(low, at), high
    return low, min(high, at)


@njit(cache=True)
def _span(strip, v, reach, cell, low, high):  # pragma: no cover - compiled
    """Return the columns of one row that a strip can reach, and d and a at column 0."""
    tu, tv = strip[_TU], strip[_TV]
    a0 = (v - strip[_PV]) * tv + (0.5 * cell - strip[_PU]) * tu
    d0 = (v - strip[_PV]) * tu - (0.5 * cell - strip[_PU]) * tv
    da, dd = cell * tu, -cell * tv
    begin, end = float(low), float(high - 1)
    begin, end = _clip(a0 - strip[_LEAN0] * d0, da - strip[_LEAN0] * dd, begin, end)
    begin, end = _clip(strip[_LONG] - a0 + strip[_LEAN1] * d0, -da + strip[_LEAN1] * dd, begin, end)
    begin, end = _clip(reach - d0, -dd, begin, end)
    begin, end = _clip(reach + d0, dd, begin, end)
    if end < begin:
        return 0, 0, d0, a0
    return math.ceil(begin), math.floor(end) + 1, d0, a0


@njit(cache=True)
def _error(track, strip, a, step):  # pragma: no cover - compiled
    """Return how far to the left of its line the machine runs at a. [m]"""
    at = (strip[_AT] + strip[_WAY] * a) / step
    at = min(max(at, 0.0), track.shape[0] - 1.001)
    i = int(at)
    return strip[_WAY] * (track[i] + (at - i) * (track[i + 1] - track[i]))


@njit(cache=True)
def _ramp(places, x, dx):  # pragma: no cover - compiled
    """Write the nearest place in the table for each cell of a stretch."""
    # The table has no places below 0, so cutting off the decimals after adding half rounds.
    x, dx = np.float32(x + 0.5), np.float32(dx)
    for k in range(places.shape[0]):
        places[k] = np.int32(x + np.float32(k) * dx)


@njit(cache=True)
def _sow(
    line, v, low, high, strips, tracks, step, cell, knot, reach, pattern, places
):  # pragma: no cover - compiled
    """Write what all spreader passes leave on one row of cells."""
    table, first, per_m = pattern
    line[low:high] = np.float32(0.0)
    for s in range(strips.shape[0]):
        strip = strips[s]
        if v < strip[_SOUTH] or v > strip[_NORTH]:
            continue
        begin, end, d0, a0 = _span(strip, v, reach, cell, low, high)
        if end <= begin:
            continue
        track = tracks[int(strip[_TRACK])]
        da, dd = cell * strip[_TU], -cell * strip[_TV]
        # Right of travel counts positive, as trays do.
        here = _error(track, strip, a0 + begin * da, step) - d0 - begin * dd
        j = begin
        while j < end:
            count = min(knot, end - j)
            there = _error(track, strip, a0 + (j + count) * da, step) - d0 - (j + count) * dd
            _ramp(places[j : j + count], (here - first) * per_m, (there - here) * per_m / count)
            here = there
            j += count
        # Looked up over the whole length at once: checking that the arrays do not overlap
        # costs more than a short stretch does.
        part, where = line[begin:end], places[begin:end]
        for k in range(end - begin):
            part[k] += table[np.uint32(where[k])]


@njit(cache=True)
def _stamp(kind, j, turned, most):  # pragma: no cover - compiled
    """Mark one cell as gone through once more."""
    was = kind[j]
    if was == 0:
        kind[j] = turned
    elif was < most:
        kind[j] = was + np.uint16(most) * turned


@njit(cache=True)
def _till(
    kind, v, low, high, strips, tracks, step, cell, knot, stray, most
):  # pragma: no cover - compiled
    """Write which tools go through the cells of one row."""
    kind[low:high] = 0
    for s in range(strips.shape[0]):
        strip = strips[s]
        if v < strip[_SOUTH] or v > strip[_NORTH]:
            continue
        half = strip[_HALF]
        begin, end, d0, a0 = _span(strip, v, half + stray, cell, low, high)
        if end <= begin:
            continue
        turned = np.uint16(strip[_TURNED] + 1)
        track = tracks[int(strip[_TRACK])]
        da, dd = cell * strip[_TU], -cell * strip[_TV]
        here = d0 + begin * dd - _error(track, strip, a0 + begin * da, step)
        j = begin
        while j < end:
            count = min(knot, end - j)
            there = d0 + (j + count) * dd - _error(track, strip, a0 + (j + count) * da, step)
            if abs(here) <= half and abs(there) <= half:
                for k in range(j, j + count):
                    _stamp(kind, k, turned, most)
            elif not ((here > half and there > half) or (here < -half and there < -half)):
                slope = (there - here) / count
                for k in range(count):
                    if abs(here + k * slope) <= half:
                        _stamp(kind, j + k, turned, most)
            here = there
            j += count


@njit(cache=True)
def _along(source, count, taps, wide, hold, moved):  # pragma: no cover - compiled
    """Write the seed of a stretch after its move along the row; ``count + wide - 1`` cells."""
    for k in range(wide - 1):
        hold[k] = np.float32(0.0)
        hold[count + wide - 1 + k] = np.float32(0.0)
    hold[wide - 1 : wide - 1 + count] = source
    length = count + wide - 1
    for k in range(0, wide, 4):
        a, b, c, d = taps[k], taps[k + 1], taps[k + 2], taps[k + 3]
        p, q, r, s = hold[k:], hold[k + 1 :], hold[k + 2 :], hold[k + 3 :]
        if k == 0:
            for j in range(length):
                moved[j] = a * p[j] + b * q[j] + c * r[j] + d * s[j]
        else:
            for j in range(length):
                moved[j] += a * p[j] + b * q[j] + c * r[j] + d * s[j]


@njit(cache=True)
def _add(target, moved, share):  # pragma: no cover - compiled
    for j in range(target.shape[0]):
        target[j] += share * moved[j]


@njit(cache=True)
def _move(
    row, rows, low, high, before, kind, after, kernels, hold, moved
):  # pragma: no cover - compiled
    """Move the seed of one row where tools went through; leave the rest where it lies."""
    classes, along, across, shape = kernels
    held = after.shape[0]
    begin = low
    while begin < high:
        what = kind[begin]
        end = begin + 1
        while end < high and kind[end] == what:
            end += 1
        source = before[begin:end]
        if what == 0:
            _add(after[row % held, begin:end], source, np.float32(1.0))
        else:
            c = classes[what]
            wide = shape[c, 1]
            at = begin + shape[c, 0]
            length = end - begin
            if wide > 1:
                _along(source, length, along[c], wide, hold, moved)
                length += wide - 1
            else:
                moved[:length] = source
            for k in range(shape[c, 3]):
                to = row + shape[c, 2] + k
                if 0 <= to < rows:
                    _add(after[to % held, at : at + length], moved, across[c, k])
        begin = end


@njit(cache=True)
def _bin(density):  # pragma: no cover - compiled
    return np.uint32(min(np.int32(density * np.float32(BINS / MOST_DENSITY)), np.int32(BINS - 1)))


@njit(cache=True)
def _count_whole(before, after, sums, counts):  # pragma: no cover - compiled
    """Add a stretch of cells that lie inside with all their ground."""
    s1, s2, s3, s4 = 0.0, 0.0, 0.0, 0.0
    sown, left = counts[0], counts[1]
    for j in range(before.shape[0]):
        b, a = np.float64(before[j]), np.float64(after[j])
        s1 += b
        s2 += b * b
        s3 += a
        s4 += a * a
        sown[_bin(before[j])] += 1
        left[_bin(after[j])] += 1
    sums[0] += before.shape[0]
    sums[1] += s1
    sums[2] += s2
    sums[3] += s3
    sums[4] += s4


@njit(cache=True)
def _count_parts(weight, before, after, sums, shares):  # pragma: no cover - compiled
    """Add a stretch of cells of which some lie inside in part, or not at all."""
    for j in range(before.shape[0]):
        w = np.float64(weight[j])
        if w > _NONE:
            b, a = np.float64(before[j]), np.float64(after[j])
            sums[0] += w
            sums[1] += w * b
            sums[2] += w * b * b
            sums[3] += w * a
            sums[4] += w * a * a
            shares[0, _bin(before[j])] += w
            shares[1, _bin(after[j])] += w


@njit(cache=True)
def _all_inside(weight):  # pragma: no cover - compiled
    outside = 0
    for j in range(weight.shape[0]):
        outside += weight[j] < _WHOLE
    return outside == 0


@njit(cache=True)
def _count(
    low, high, weight, before, after, kind, most, sums, shares, counts
):  # pragma: no cover - compiled
    """Add one finished row to the sums and the histograms."""
    while low < high and weight[low] <= _NONE:
        low += 1
    begin = low
    while begin < high:
        what = kind[begin]
        end = begin + 1
        while end < high and kind[end] == what:
            end += 1
        state = 0 if what == 0 else (1 if what < most else 2)
        # The first and the last stretch of a row hold the cells on the edge; they are few.
        first, last = begin, end
        while first < end and weight[first] < _WHOLE:
            first += 1
        while last > first and weight[last - 1] < _WHOLE:
            last -= 1
        if not _all_inside(weight[first:last]):
            last = first
        for a, b in ((begin, first), (last, end)):
            _count_parts(weight[a:b], before[a:b], after[a:b], sums[state], shares[state])
        _count_whole(before[first:last], after[first:last], sums[state], counts[state])
        begin = end


@njit(cache=True)
def _draw(
    target, row, weight, judged, before, after, kind, most, block, skirt
):  # pragma: no cover - compiled
    """Add one finished row to the coarse maps.

    They hold ground, density before and after, times worked, and judged ground.
    """
    r = (row - skirt[0]) // block
    if row < skirt[0] or r >= target.shape[1]:
        return
    ground, sown, left, worked = target[0, r], target[1, r], target[2, r], target[3, r]
    counted = target[4, r]
    for c in range(target.shape[2]):
        begin = skirt[1] + c * block
        g, b, a, t = np.float32(0.0), np.float32(0.0), np.float32(0.0), np.float32(0.0)
        q = np.float32(0.0)
        for j in range(begin, min(begin + block, weight.shape[0])):
            w = weight[j]
            if w > _NONE:
                g += w
                q += judged[j]
                b += w * before[j]
                a += w * after[j]
                t += w * np.float32(np.int32(kind[j] > 0) + np.int32(kind[j] >= most))
        ground[c] += g
        counted[c] += q
        sown[c] += b
        left[c] += a
        worked[c] += t


@njit(cache=True)
def sweep_band(
    top, done, rows, reaches, sower, tools, cell, knots, kernels, held, weights, results, block
):  # pragma: no cover - compiled
    """Finish the rows from ``top`` that ``weights`` covers; return how many rows are sown."""
    low, high, judged_low, judged_high = reaches
    spread, spread_tracks, spread_step, spread_reach, pattern = sower
    cover, cover_tracks, cover_step, stray, most = tools
    before, kind, after, hold, moved, places, ahead = held
    inside, judged = weights
    sums, shares, counts, drawn, totals, skirt = results
    count, ring = inside.shape[0], after.shape[0]
    for row in range(top, top + count):
        while done < min(row + ahead + 1, rows):
            at = done % ring
            v = (done + 0.5) * cell
            begin, end = low[done], high[done]
            if end > begin:
                _sow(
                    before[at], v, begin, end, spread, spread_tracks, spread_step, cell,
                    knots[0], spread_reach, pattern, places,
                )  # fmt: skip
                _till(
                    kind[at], v, begin, end, cover, cover_tracks, cover_step, cell, knots[1],
                    stray, most,
                )  # fmt: skip
                _move(done, rows, begin, end, before[at], kind[at], after, kernels, hold, moved)
            done += 1
        at = row % ring
        begin, end = judged_low[row], judged_high[row]
        if end > begin:
            _count(
                begin, end, judged[row - top], before[at], after[at], kind[at], most, sums,
                shares, counts,
            )  # fmt: skip
            if block > 0:
                _draw(
                    drawn, row, inside[row - top], judged[row - top], before[at], after[at],
                    kind[at], most, block, skirt,
                )  # fmt: skip
        if totals.shape[0]:
            for j in range(low[row], high[row]):
                totals[0] += before[at, j]
            for j in range(after.shape[1]):
                totals[1] += after[at, j]
        after[at] = np.float32(0.0)
    return done
