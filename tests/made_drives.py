"""Drives made up for the tests: straight passes to and fro with round turns, all of it known."""

from __future__ import annotations

import math

import numpy as np

from duskline.core.track import Track

__all__ = ["made_drive"]


def made_drive(
    *,
    passes: int = 20,
    spacing_m: float = 8.1,
    length_m: float = 600.0,
    speed_mps: float = 2.5,
    turn_s: float = 8.0,
    every_s: float = 1.0,
    heading_rad: float = 0.3,
    jitter_m: float = 0.0,
    start_s: float = 0.0,
    marked: bool = False,
) -> Track:
    """Return a drive to and fro, turning in half circles, a point every so many seconds.

    Passes lie left of each other. ``marked`` says at each point whether the tool was down.
    """
    lap_s = length_m / speed_mps + turn_s
    t_s = np.arange(0.0, passes * lap_s - turn_s + 1e-9, every_s)
    number = np.minimum((t_s // lap_s).astype(int), passes - 1)
    into_s = t_s - number * lap_s
    way = np.where(number % 2 == 0, 1.0, -1.0)
    at_work = into_s <= length_m / speed_mps
    driven_m = np.minimum(into_s * speed_mps, length_m)
    along = np.where(way > 0.0, driven_m, length_m - driven_m)
    bend = np.where(at_work, 0.0, (into_s - length_m / speed_mps) / turn_s * math.pi)
    along += way * 0.5 * spacing_m * np.sin(bend)
    across = number * spacing_m + 0.5 * spacing_m * (1.0 - np.cos(bend))
    c, s = math.cos(heading_rad), math.sin(heading_rad)
    points = np.column_stack([along, across]) @ np.array([[c, s], [-s, c]])
    points += np.random.default_rng(11).normal(0.0, 1.0, points.shape) * jitter_m
    return Track(t_s=start_s + t_s, points_m=points, working=at_work if marked else None)
