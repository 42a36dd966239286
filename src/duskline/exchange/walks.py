"""From a walked or driven track to the ring it went round."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from duskline.core.errors import OutlineRefused
from duskline.core.outline import FloatArray
from duskline.units import show

__all__ = ["Walked", "ring_of_track"]

# A track is closed over a gap up to the first, or the second share of its length. [m]
_GAP_M = 25.0
_GAP_FRACTION = 0.02
# Whoever walks on past the start has come back to it in this last part of the way.
_COMES_BACK_FRACTION = 0.5
# Nearer together than the first, and straighter than the second, no receiver is right. [m]
_SAME_PLACE_M = 0.3
_THINNED_WITHIN_M = 0.3
_SAFE_FRACTION = 1e-3


@dataclass(frozen=True, kw_only=True, slots=True)
class Walked:
    """A ring and what was done to the track to get it, in plain words.

    ``ring_m`` is ``(n, 2)`` x, y with the first corner repeated at the end. [m]
    """

    ring_m: FloatArray
    notes: tuple[str, ...]


def ring_of_track(track_m: FloatArray) -> Walked:
    """Return the ring that a track went round, closed, cut where it had come round, thinned. [m]

    Parameters
    ----------
    track_m
        Points in the order they were passed, ``(n, 2)`` x, y. [m]

    Raises
    ------
    OutlineRefused
        Fewer than four places, or a track that does not come back to where it began.

    Notes
    -----
    The end is where the second half of the way comes nearest to the start. Thinning moves the
    ring by no more than 0.3 m and is left off where the ground would change by a thousandth.

    Source
    ------
    Derived here; checked with made tracks in tests/exchange/test_walks.py.
    """
    points_m = _apart(track_m)
    if len(points_m) < 4:
        raise OutlineRefused(f"the track has {len(points_m)} places; it needs four at least")
    way_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points_m, axis=0).T))])
    late = int(np.searchsorted(way_m, _COMES_BACK_FRACTION * way_m[-1]))
    gaps_m = np.hypot(*(points_m[late:] - points_m[0]).T)
    end = late + int(np.argmin(gaps_m))
    gap_m = float(gaps_m.min())
    if gap_m > max(_GAP_M, _GAP_FRACTION * way_m[-1]):
        raise OutlineRefused(
            f"the track does not come back to its start: {_both(gap_m)} are left open; "
            "walk it to the end, or draw the field"
        )
    notes = [f"its outline is a track of {len(track_m)} places"]
    if way_m[-1] - way_m[end] > _GAP_M:
        notes.append(f"the last {_both(way_m[-1] - way_m[end])} went on past the start; cut off")
    if gap_m > _SAME_PLACE_M:
        notes.append(f"its ends lie {_both(gap_m)} apart; closed")
    ring_m = np.vstack([points_m[: end + 1], points_m[:1]])
    return Walked(ring_m=_thinned(ring_m), notes=tuple(notes))


def _both(length_m: float) -> str:
    return f"{show(length_m, 'length', 'us', 0)} ({show(length_m, 'length', 'metric', 0)})"


def _apart(track_m: FloatArray) -> FloatArray:
    """Return the points without those logged while standing still."""
    kept = [0] if len(track_m) else []
    for index in range(1, len(track_m)):
        step_m = track_m[index] - track_m[kept[-1]]
        if float(np.hypot(*step_m)) >= _SAME_PLACE_M:
            kept.append(index)
    return track_m[kept]


def _thinned(ring_m: FloatArray) -> FloatArray:
    line = shapely.LineString(ring_m)
    thinned_m: FloatArray = shapely.get_coordinates(shapely.simplify(line, _THINNED_WITHIN_M))
    if len(thinned_m) < 4:
        return ring_m
    before_m2, after_m2 = (_turning_area_m2(ring) for ring in (ring_m, thinned_m))
    return thinned_m if abs(after_m2 - before_m2) <= _SAFE_FRACTION * before_m2 else ring_m


def _turning_area_m2(ring_m: FloatArray) -> float:
    x_m, y_m = (ring_m - ring_m[0]).T
    return abs(0.5 * float(x_m[:-1] @ y_m[1:] - x_m[1:] @ y_m[:-1]))
