"""Fields made up for the tests: drawn from a line of text, or at random for the properties."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import strategies as st

from duskline.core.outline import FloatArray, Outline

__all__ = ["corners", "drawn", "fields", "rectangle"]


def corners(text: str) -> FloatArray:
    """Return ``"0,0 800,0 ..."`` as corners ``(n, 2)`` [m]."""
    return np.asarray([corner.split(",") for corner in text.split()], dtype=np.float64)


def drawn(text: str, *holes: str) -> Outline:
    """Return the outline drawn by texts, the outer edge first."""
    return Outline(exterior_m=corners(text), holes_m=tuple(map(corners, holes)))


def rectangle(east_m: float, north_m: float) -> Outline:
    """Return a rectangle with a corner at the origin."""
    return drawn(f"0,0 {east_m},0 {east_m},{north_m} 0,{north_m}")


@st.composite
def fields(draw: st.DrawFn, *, with_hole: bool | None = None) -> Outline:
    """Return fields of 5 to 9 corners seen from their middle, often with a hole there."""
    count = draw(st.integers(5, 9))
    reach_m = draw(st.floats(80.0, 400.0))
    radii = draw(st.lists(st.floats(0.6, 1.0), min_size=count, max_size=count))
    jitter = draw(st.lists(st.floats(0.0, 0.6), min_size=count, max_size=count))
    angles_rad = math.tau * (np.arange(count) + np.asarray(jitter)) / count
    exterior_m = reach_m * np.asarray(radii)[:, None] * _directions(angles_rad)
    hole = draw(st.booleans()) if with_hole is None else with_hole
    if not hole:
        return Outline(exterior_m=exterior_m)
    sizes = draw(st.lists(st.floats(0.05, 0.25), min_size=4, max_size=4))
    turn_rad = draw(st.floats(0.0, math.pi))
    hole_angles_rad = turn_rad + math.tau * np.arange(4) / 4
    hole_m = 0.6 * reach_m * np.asarray(sizes)[:, None] * _directions(hole_angles_rad)
    return Outline(exterior_m=exterior_m, holes_m=(hole_m,))


def _directions(angles_rad: FloatArray) -> FloatArray:
    return np.stack([np.cos(angles_rad), np.sin(angles_rad)], axis=1)
