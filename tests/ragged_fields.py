"""Ragged fields drawn from a seed: creek sides, notches, tongues, point rows, ponds, rock piles.

Nothing here knows how fields are driven. Sizes and counts are our judgement of row-crop ground,
not a survey; ``python tests/ragged_fields.py`` prints what was drawn.
"""

from __future__ import annotations

import functools
import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

from duskline.core.outline import FloatArray, Outline

__all__ = ["Ragged", "describe", "narrow_share", "ragged", "ragged_field"]

HA_M2 = 1e4
LEAST_HA, MOST_HA = 4.0, 80.0
# Corners are kept to the centimetre, as a survey or a driven track gives them. [m]
GRID_M = 0.01
# Ground that a machine this wide cannot get into without leaving the field. [m]
MACHINE_M = 8.7
# The sharpest corner of a field, or of a notch in it.
NEEDLE_RAD = math.radians(9.0)
SLIT_M = 2.0
ATTEMPTS = 200


@dataclass(frozen=True, kw_only=True, slots=True)
class Ragged:
    """A ragged field and what was drawn into it."""

    outline: Outline
    base: str
    creeks: int
    notches: int
    tongues: int
    slivers: int
    cut_corners: int
    bumps: int


def ragged_field(seed: int) -> Outline:
    """Return the ragged field of a seed, 4 to 80 ha, always the same one."""
    return ragged(seed).outline


@functools.cache
def ragged(seed: int) -> Ragged:
    """Return the ragged field of a seed with the counts of what was drawn into it.

    Raises
    ------
    RuntimeError
        No sound outline came of many attempts; it has not been seen.
    """
    for attempt in range(ATTEMPTS):
        found = _attempt(np.random.default_rng([seed, attempt]))
        if found is not None:
            return found
    raise RuntimeError(f"no field came of seed {seed}")


def narrow_share(outline: Outline, *, width_m: float = MACHINE_M) -> float:
    """Return the share of ground a machine of one width cannot get into, tips left out. [1]"""
    return sum(_narrow_parts_m2(outline, width_m=width_m)) / outline.area_m2


def _attempt(rng: np.random.Generator) -> Ragged | None:
    area_m2 = HA_M2 * math.exp(rng.uniform(math.log(LEAST_HA * 1.02), math.log(MOST_HA * 0.98)))
    names = list(BASES)
    base = names[rng.choice(len(names), p=[0.34, 0.16, 0.12, 0.12, 0.20, 0.06])]
    field = _scaled(BASES[base](rng), area_m2)
    creeks = int(rng.choice(3, p=[0.62, 0.32, 0.06]))
    for _ in range(creeks):
        field = _with_creek(rng, field)
    cut_corners = int(rng.choice(3, p=[0.6, 0.3, 0.1]))
    for _ in range(cut_corners):
        field = _with_cut_corner(rng, field)
    notches = int(rng.choice(5, p=[0.34, 0.30, 0.20, 0.10, 0.06]))
    for _ in range(notches):
        field = _with_notch(rng, field)
    tongues = int(rng.choice(3, p=[0.72, 0.22, 0.06]))
    for _ in range(tongues):
        field = _with_tongue(rng, field, width_m=math.exp(rng.uniform(2.6, 4.4)))
    slivers = int(rng.random() < 0.06)
    for _ in range(slivers):
        field = _with_tongue(rng, field, width_m=rng.uniform(5.0, 8.0), longest_m=35.0)
    bumps = int(rng.choice([0, 0, 0, 1, 2, 4, 8]))
    field = _with_bumps(rng, field, bumps)
    if field.is_empty or field.geom_type != "Polygon" or field.interiors:
        return None
    field = _scaled(field, area_m2)
    holes = _holes(rng, field, int(rng.choice(4, p=[0.42, 0.30, 0.18, 0.10])))
    field = _turned(rng, shapely.Polygon(field.exterior, [hole.exterior for hole in holes]))
    field = shapely.transform(field, lambda corners_m: np.round(corners_m / GRID_M) * GRID_M)
    field = shapely.remove_repeated_points(field)
    if not field.is_valid or not LEAST_HA * HA_M2 <= field.area <= MOST_HA * HA_M2:
        return None
    outline = Outline(
        exterior_m=shapely.get_coordinates(field.exterior),
        holes_m=tuple(shapely.get_coordinates(ring) for ring in field.interiors),
    )
    # A tongue too narrow for the machine is fair where it is small; fields of them are not. Nor
    # has ground needles, or slits a person could step over.
    if narrow_share(outline) > 0.004 or _sharpest_rad(outline) < NEEDLE_RAD or _slit(outline):
        return None
    return Ragged(
        outline=outline,
        base=base,
        creeks=creeks,
        notches=notches,
        tongues=tongues,
        slivers=slivers,
        cut_corners=cut_corners,
        bumps=bumps,
    )


def _rectangle(rng: np.random.Generator) -> shapely.Polygon:
    return shapely.box(0.0, 0.0, math.exp(rng.uniform(0.0, 1.4)), 1.0)


def _slanted(rng: np.random.Generator) -> shapely.Polygon:
    long = math.exp(rng.uniform(0.2, 1.2))
    left, right = rng.uniform(-0.5, 0.5, 2)
    return shapely.Polygon([(0.0, 0.0), (long, 0.0), (long + right, 1.0), (left, 1.0)])


def _triangle(rng: np.random.Generator) -> shapely.Polygon:
    return shapely.Polygon([(0.0, 0.0), (rng.uniform(0.9, 2.2), 0.0), (rng.uniform(0.0, 1.5), 1.0)])


def _elbow(rng: np.random.Generator) -> shapely.Polygon:
    long = rng.uniform(1.0, 2.0)
    east, north = rng.uniform(0.3, 0.75, 2) * (long, 1.0)
    corners = [(0, 0), (long, 0), (long, north), (east, north), (east, 1), (0, 1)]
    return shapely.Polygon(corners)


def _many_sided(rng: np.random.Generator) -> shapely.Polygon:
    count = int(rng.integers(5, 13))
    angles_rad = math.tau * (np.arange(count) + rng.uniform(0.0, 0.7, count)) / count
    radii = rng.uniform(0.55, 1.0, count)
    stretch = rng.uniform(1.0, 2.2)
    return shapely.Polygon(
        np.stack([stretch * radii * np.cos(angles_rad), radii * np.sin(angles_rad)], axis=1)
    )


def _rounded(rng: np.random.Generator) -> shapely.Polygon:
    count = int(rng.integers(24, 64))
    sweep_rad = rng.choice([math.tau, math.pi, 1.5 * math.pi])
    whole = sweep_rad == math.tau
    angles_rad = np.linspace(0.0, sweep_rad, count, endpoint=not whole)
    arc = np.stack([np.cos(angles_rad), np.sin(angles_rad)], axis=1)
    return shapely.Polygon(arc if whole else np.vstack([arc, [(0.0, 0.0)]]))


BASES: dict[str, Callable[[np.random.Generator], shapely.Polygon]] = {
    "rectangle": _rectangle,
    "slanted": _slanted,
    "triangle": _triangle,
    "elbow": _elbow,
    "many-sided": _many_sided,
    "rounded": _rounded,
}


def _with_creek(rng: np.random.Generator, field: shapely.Polygon) -> shapely.Polygon:
    """Put a creek for one of the longer straight sides: bends of 30-150 m, 4-30 m deep."""
    ring_m = _ring(field)
    index, length_m = _side(rng, ring_m)
    points = int(np.clip(length_m / rng.uniform(12.0, 30.0), 6, 40))
    along = np.linspace(0.0, 1.0, points + 1)
    # Bends die away at both ends, so that the corners stay where they are.
    sway_m = np.zeros_like(along)
    for _ in range(3):
        waves = length_m / rng.uniform(60.0, 300.0)
        deep_m = rng.uniform(0.01, 0.04) * min(length_m, 600.0)
        sway_m += deep_m * np.sin(math.tau * waves * along + rng.uniform(0.0, math.tau))
    sway_m = (sway_m + rng.normal(0.0, 0.7, points + 1)) * np.sin(math.pi * along)
    start_m, end_m = ring_m[index], ring_m[(index + 1) % len(ring_m)]
    across = np.asarray([start_m[1] - end_m[1], end_m[0] - start_m[0]]) / length_m
    bent_m = start_m + along[:, None] * (end_m - start_m) + sway_m[:, None] * across
    creek_m = np.vstack([ring_m[: index + 1], bent_m[1:-1], ring_m[index + 1 :]])
    return _sound(shapely.Polygon(creek_m), field)


def _with_cut_corner(rng: np.random.Generator, field: shapely.Polygon) -> shapely.Polygon:
    """Cut a corner off slantwise, as a road or a railway does: it makes point rows."""
    ring_m = _ring(field)
    index = int(rng.integers(len(ring_m)))
    corner_m = ring_m[index]
    before_m, after_m = ring_m[index - 1] - corner_m, ring_m[(index + 1) % len(ring_m)] - corner_m
    one, other = rng.uniform(0.1, 0.9), rng.uniform(0.05, 0.5)
    outward = before_m[0] * after_m[1] - before_m[1] * after_m[0] < 0.0
    if not outward:
        return field
    cut_m = np.asarray([corner_m + one * before_m, corner_m + other * after_m])
    return _sound(shapely.Polygon(np.vstack([ring_m[:index], cut_m, ring_m[index + 1 :]])), field)


def _with_notch(rng: np.random.Generator, field: shapely.Polygon) -> shapely.Polygon:
    """Cut a yard, a well or a grove out of a side: 10 to 120 m wide and deep."""
    ring_m = _ring(field)
    index, length_m = _side(rng, ring_m)
    wide_m = min(rng.uniform(10.0, 120.0), 0.6 * length_m)
    deep_m = rng.uniform(10.0, 120.0)
    narrowing = rng.choice([1.0, 1.0, rng.uniform(0.3, 1.0)])
    return _sound(field.difference(_beside(rng, ring_m, index, wide_m, -deep_m, narrowing)), field)


def _with_tongue(
    rng: np.random.Generator, field: shapely.Polygon, *, width_m: float, longest_m: float = 140.0
) -> shapely.Polygon:
    """Let a strip of ground reach out of a side; it may run out to a point."""
    ring_m = _ring(field)
    index, length_m = _side(rng, ring_m)
    if length_m < 1.5 * width_m:
        return field
    long_m = rng.uniform(min(15.0, width_m), longest_m)
    narrowing = rng.choice([1.0, rng.uniform(0.5, 1.0)])
    return _sound(field.union(_beside(rng, ring_m, index, width_m, long_m, narrowing)), field)


def _beside(
    rng: np.random.Generator,
    ring_m: FloatArray,
    index: int,
    wide_m: float,
    out_m: float,
    narrowing: float,
) -> shapely.Polygon:
    """Return a four-cornered piece that stands on a side, outwards or (negative) inwards."""
    start_m, end_m = ring_m[index], ring_m[(index + 1) % len(ring_m)]
    length_m = math.dist(start_m, end_m)
    along = (end_m - start_m) / length_m
    out = np.asarray([along[1], -along[0]])
    middle_m = start_m + along * rng.uniform(0.5 * wide_m, max(length_m - 0.5 * wide_m, wide_m))
    slant_m = rng.normal(0.0, 0.15) * abs(out_m)
    # It starts well within the other side of the edge, so that no film of ground is left over.
    foot_m = middle_m - 1.0 * math.copysign(1.0, out_m) * out
    head_m = middle_m + out_m * out + slant_m * along
    half = 0.5 * wide_m * along
    return shapely.Polygon(
        [foot_m - half, foot_m + half, head_m + narrowing * half, head_m - narrowing * half]
    )


def _with_bumps(rng: np.random.Generator, field: shapely.Polygon, count: int) -> shapely.Polygon:
    """Put corners on the sides that are nearly in line, as many a drawn outline has them."""
    ring_m = _ring(field)
    for _ in range(count):
        index, length_m = _side(rng, ring_m)
        start_m, end_m = ring_m[index], ring_m[(index + 1) % len(ring_m)]
        across = np.asarray([start_m[1] - end_m[1], end_m[0] - start_m[0]]) / length_m
        point_m = start_m + rng.uniform(0.1, 0.9) * (end_m - start_m)
        point_m = point_m + rng.choice([0.0, rng.normal(0.0, 0.4)]) * across
        ring_m = np.insert(ring_m, index + 1, point_m, axis=0)
    return _sound(shapely.Polygon(ring_m), field)


def _holes(rng: np.random.Generator, field: shapely.Polygon, count: int) -> list[shapely.Polygon]:
    """Return holes that lie in the field and clear of each other; fewer where none fits."""
    found: list[shapely.Polygon] = []
    # Most leave room for a machine to pass; a few leave a neck of one or two widths.
    clear_m = float(rng.choice([25.0, 25.0, 25.0, 10.0]))
    for _ in range(count):
        hole = _hole(rng)
        for _ in range(30):
            moved = _moved_into(rng, hole, field)
            taken = shapely.union_all([field.exterior, *found])
            if field.contains(moved) and shapely.distance(taken, moved) > clear_m:
                found.append(moved)
                break
    return found


def _hole(rng: np.random.Generator) -> shapely.Polygon:
    """Return a pond, a grass waterway or a rock pile of 0.01 to 1 ha round the origin."""
    kind = rng.choice(["pond", "waterway", "rocks"], p=[0.4, 0.25, 0.35])
    if kind == "waterway":
        long_m, wide_m = rng.uniform(60.0, 350.0), rng.uniform(8.0, 25.0)
        along_m = np.linspace(0.0, long_m, int(rng.integers(3, 7)))
        sway_m = rng.normal(0.0, 0.06 * long_m, len(along_m))
        line = shapely.LineString(np.stack([along_m, sway_m], axis=1))
        return line.buffer(0.5 * wide_m, cap_style="flat", join_style="bevel")
    area_m2 = HA_M2 * math.exp(
        rng.uniform(math.log(0.01), math.log(0.06 if kind == "rocks" else 1))
    )
    count = int(rng.integers(4, 8) if kind == "rocks" else rng.integers(8, 22))
    angles_rad = math.tau * (np.arange(count) + rng.uniform(0.0, 0.6, count)) / count
    radii = rng.uniform(0.75, 1.0, count)
    ring = np.stack([rng.uniform(1.0, 2.0) * np.cos(angles_rad), np.sin(angles_rad)], axis=1)
    return _scaled(shapely.Polygon(radii[:, None] * ring), area_m2)


def _moved_into(
    rng: np.random.Generator, hole: shapely.Polygon, field: shapely.Polygon
) -> shapely.Polygon:
    west_m, south_m, east_m, north_m = field.bounds
    centre = hole.centroid
    turned = affinity.rotate(hole, rng.uniform(0.0, math.pi), origin="centroid", use_radians=True)
    return affinity.translate(
        turned, rng.uniform(west_m, east_m) - centre.x, rng.uniform(south_m, north_m) - centre.y
    )


def _turned(rng: np.random.Generator, field: shapely.Polygon) -> shapely.Polygon:
    """Lay the field as it lies in the land: half of them along the section lines."""
    quarter = 0.5 * math.pi * int(rng.integers(4))
    turn_rad = rng.choice([quarter, quarter + rng.normal(0.0, 0.02), rng.uniform(0.0, math.tau)])
    turned = affinity.rotate(field, turn_rad, origin="centroid", use_radians=True)
    away_m = rng.uniform(-500.0, 500.0, 2) - shapely.get_coordinates(turned.centroid)[0]
    return affinity.translate(turned, *away_m)


def _side(rng: np.random.Generator, ring_m: FloatArray) -> tuple[int, float]:
    """Return a side drawn by its length, and its length. [m]"""
    lengths_m = np.hypot(*(np.roll(ring_m, -1, axis=0) - ring_m).T)
    index = int(rng.choice(len(ring_m), p=lengths_m / lengths_m.sum()))
    return index, float(lengths_m[index])


def _ring(field: shapely.Polygon) -> FloatArray:
    ring_m: FloatArray = shapely.get_coordinates(shapely.orient_polygons(field).exterior)[:-1]
    return ring_m


def _scaled(field: shapely.Polygon, area_m2: float) -> shapely.Polygon:
    times = math.sqrt(area_m2 / field.area)
    return affinity.scale(field, times, times, origin=(0.0, 0.0))


def _sound(changed: shapely.Geometry, before: shapely.Polygon) -> shapely.Polygon:
    """Return the largest piece of a changed field; the field before where that is no field."""
    parts = [part for part in shapely.get_parts(changed) if part.geom_type == "Polygon"]
    largest = max(parts, key=lambda part: part.area, default=before)
    kept = largest.is_valid and not largest.interiors and largest.area > 0.6 * before.area
    return largest if kept else before


def _narrow_parts_m2(outline: Outline, *, width_m: float) -> list[float]:
    shape = outline.shape
    kept = shape.buffer(-0.5 * width_m, join_style="mitre", mitre_limit=10.0)
    # A hair more coming back, so that what lies along straight sides does not count.
    kept = kept.buffer(0.5 * width_m + 0.05, join_style="mitre", mitre_limit=10.0)
    parts_m2 = shapely.area(shapely.get_parts(shape.difference(kept)))
    return [float(part_m2) for part_m2 in parts_m2 if part_m2 > 20.0]


def _necks(outline: Outline) -> int:
    """Return how many necks narrower than two machines part the field in pieces of 0.1 ha up."""
    parts_m2 = shapely.area(shapely.get_parts(outline.shape.buffer(-MACHINE_M)))
    return max(int((parts_m2 > 1000.0).sum()) - 1, 0)


def _slit(outline: Outline) -> bool:
    """Return whether a gap of less than 2 m reaches into the ground, or parts it from itself."""
    shape = outline.shape
    closed = shape.buffer(0.5 * SLIT_M, join_style="mitre").buffer(
        -0.5 * SLIT_M, join_style="mitre"
    )
    parts_m2 = shapely.area(shapely.get_parts(closed.difference(shape)))
    return bool((parts_m2 > 2.0).any())


def _turns_rad(ring_m: FloatArray) -> FloatArray:
    """Return how far a ring turns at its corners, to the left positive, from the first on."""
    steps_m = np.diff(np.vstack([ring_m[-1:], ring_m, ring_m[:1]]), axis=0)
    headings_rad = np.arctan2(steps_m[:, 1], steps_m[:, 0])
    turns_rad: FloatArray = (np.diff(headings_rad) + math.pi) % math.tau - math.pi
    return turns_rad


def _sharpest_rad(outline: Outline) -> float:
    """Return the sharpest corner of any ring, ground or hole in its point."""
    rings_m = (outline.exterior_m, *outline.holes_m)
    return math.pi - max(float(np.abs(_turns_rad(ring_m)).max()) for ring_m in rings_m)


def _inward_corners(outline: Outline) -> int:
    """Return the corners of the outer edge that point into the field by 10 degrees or more."""
    return int((_turns_rad(outline.exterior_m) < -math.radians(10.0)).sum())


def describe(count: int, *, first_seed: int = 0) -> str:
    """Return how so many fields are spread in size, corners, holes, notches and slivers."""
    drawn = [ragged(seed) for seed in range(first_seed, first_seed + count)]
    outlines = [field.outline for field in drawn]
    holes_ha = [
        shapely.Polygon(hole_m).area / HA_M2 for field in outlines for hole_m in field.holes_m
    ]
    measured: dict[str, Sequence[float]] = {
        "size, ha": [field.area_m2 / HA_M2 for field in outlines],
        "corners of the outer edge": [len(field.exterior_m) for field in outlines],
        "corners pointing in": [_inward_corners(field) for field in outlines],
        "holes": [len(field.holes_m) for field in outlines],
        "size of a hole, ha": holes_ha,
        "sharpest corner, degrees": [math.degrees(_sharpest_rad(field)) for field in outlines],
        "shortest side, m": [
            float(np.hypot(*(field.edges_m[:, 1] - field.edges_m[:, 0]).T).min())
            for field in outlines
        ],
        "ground as share of the hull": [
            float(field.area_m2 / shapely.convex_hull(field.shape).area) for field in outlines
        ],
        f"too narrow for {MACHINE_M} m, share": [narrow_share(field) for field in outlines],
        f"necks under {2 * MACHINE_M} m": [_necks(field) for field in outlines],
        "creek sides drawn": [field.creeks for field in drawn],
        "notches drawn": [field.notches for field in drawn],
        "tongues drawn": [field.tongues for field in drawn],
        "slivers 5-8 m wide drawn": [field.slivers for field in drawn],
        "cut corners drawn": [field.cut_corners for field in drawn],
        "corners nearly in line drawn": [field.bumps for field in drawn],
    }
    quantiles = (0.0, 0.05, 0.5, 0.95, 1.0)
    heads = "".join(f"{head:>10}" for head in ("least", "5 %", "middle", "95 %", "most", "fields"))
    lines = [f"{f'{count} ragged fields':<32}{heads}"]
    for name, values in measured.items():
        figures = "".join(f"{value:10.3g}" for value in np.quantile(values, quantiles))
        lines.append(f"{name:<32}{figures}{sum(value > 0 for value in values):10d}")
    shapes = {base: sum(field.base == base for field in drawn) for base in BASES}
    lines.append("drawn from: " + ", ".join(f"{base} {times}" for base, times in shapes.items()))
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(describe(1000) + "\n")
