"""Outlines: corners, sides, headlands and extents, worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from made_fields import corners, drawn, fields, rectangle

from duskline.core.errors import OutlineRefused, OutOfRange
from duskline.core.outline import (
    Outline,
    edge_headings_rad,
    extent_across_m,
    extent_along_m,
    hull_edges,
    inset,
    longest_edge,
    outlines_of,
    sides,
    thinned,
)

# 800 x 400 m at an angle to its long side, in 9 m widths. Derived: L sin a + W cos a.
MACH_C71 = [
    (0, 44.44),
    (3, 49.04),
    (5, 52.02),
    (8, 56.38),
    (10, 59.20),
    (15, 65.94),
    (20, 72.17),
    (30, 82.93),
    (45, 94.28),
    (90, 88.89),
]
# Triangle (0,0) (500,0) (0,400): extent across each side's direction. Derived.
MACH_C74 = [((500.0, 0.0), 400.00), ((-500.0, 400.0), 312.35), ((0.0, 400.0), 500.00)]


def test_a_rectangle_has_its_area_and_its_way_round() -> None:
    """800 x 400 m: 320,000 m2, 2,400 m round, four edges."""
    field = rectangle(800.0, 400.0)
    assert field.area_m2 == pytest.approx(320_000.0)
    assert field.perimeter_m == pytest.approx(2_400.0)
    lengths_m = np.hypot(*(field.edges_m[:, 1] - field.edges_m[:, 0]).T)
    assert lengths_m.tolist() == pytest.approx([800.0, 400.0, 800.0, 400.0])


def test_holes_are_taken_off_the_area_but_not_off_the_way_round() -> None:
    """A5: 400 x 400 m less a waterway 16 m wide and 280 m long is 155,520 m2."""
    field = drawn("0,0 400,0 400,400 0,400", "180,60 196,60 216,340 200,340")
    assert field.area_m2 == pytest.approx(160_000.0 - 16.0 * 280.0)
    assert field.perimeter_m == pytest.approx(1_600.0)


def test_rings_come_to_one_form_whichever_way_they_were_drawn() -> None:
    """Closed and clockwise, or open and counter-clockwise: the same corners, the same hand."""
    clockwise = drawn("0,0 0,4 8,4 8,0 0,0", "2,1 3,1 3,2 2,2")
    ring = shapely.LinearRing(clockwise.exterior_m)
    assert ring.is_ccw
    assert len(clockwise.exterior_m) == 4
    assert not shapely.LinearRing(clockwise.holes_m[0]).is_ccw


def test_outlines_with_the_same_corners_are_equal() -> None:
    """Reading a file twice gives equal fields; moving one corner does not."""
    assert rectangle(8.0, 4.0) == rectangle(8.0, 4.0)
    assert hash(rectangle(8.0, 4.0)) == hash(rectangle(8.0, 4.0))
    assert rectangle(8.0, 4.0) != rectangle(8.0, 5.0)
    assert rectangle(8.0, 4.0) != drawn("0,0 8,0 8,4 0,4", "2,1 3,1 3,2 2,2")


def test_corners_cannot_be_changed_afterwards() -> None:
    """An outline that was checked stays as it was checked."""
    drawn_m = corners("0,0 8,0 8,4 0,4")
    field = Outline(exterior_m=drawn_m)
    drawn_m[0, 0] = 99.0
    assert field.exterior_m[0, 0] == 0.0
    with pytest.raises(ValueError, match="read-only"):
        field.exterior_m[0, 0] = 1.0


@pytest.mark.parametrize(
    ("exterior", "holes", "reason"),
    [
        ("0,0 8,0", (), "three at least"),
        ("0,0 8,0 nan,4", (), "not a number"),
        ("0,0 8,0 inf,4", (), "not a number"),
        ("0,0 8,4 8,0 0,4", (), "do not hold together"),
        ("0,0 8,0 8,4 0,4", ("20,1 21,1 21,2 20,2",), "do not hold together"),
        ("0,0 8,0 8,4 0,4", ("2,1 3,1",), "hole 1 has 2 corners"),
    ],
)
def test_what_is_no_outline_is_refused(exterior: str, holes: tuple[str, ...], reason: str) -> None:
    """A line, a missing figure, a figure of eight, a hole outside."""
    with pytest.raises(OutlineRefused, match=reason):
        drawn(exterior, *holes)


def test_corners_need_an_x_and_a_y_each() -> None:
    """Three figures a corner are refused, not guessed at."""
    with pytest.raises(OutlineRefused, match="an x and a y"):
        Outline(exterior_m=np.zeros((4, 3)))


def test_a_headland_leaves_the_field_smaller_on_every_side() -> None:
    """800 x 400 m less 20 m all round: 760 x 360 m."""
    (left,) = inset(rectangle(800.0, 400.0), depth_m=20.0)
    assert left.area_m2 == pytest.approx(760.0 * 360.0)
    assert left.shape.bounds == pytest.approx((20.0, 20.0, 780.0, 380.0))


def test_a_headland_runs_round_holes_too() -> None:
    """400 x 400 m with a hole 20 x 20 m, headland 10 m: 380 x 380 less 40 x 40 m."""
    field = drawn("0,0 400,0 400,400 0,400", "190,190 210,190 210,210 190,210")
    (left,) = inset(field, depth_m=10.0)
    assert left.area_m2 == pytest.approx(380.0**2 - 40.0**2)
    assert len(left.holes_m) == 1


def test_a_narrow_neck_parts_what_the_headland_leaves() -> None:
    """Two blocks joined by a neck 20 m wide: a 12 m headland fills the neck."""
    field = drawn(
        "0,0 200,0 200,90 300,90 300,0 400,0 400,200 300,200 300,110 200,110 200,200 0,200"
    )
    left = inset(field, depth_m=12.0)
    assert [round(piece.area_m2) for piece in left] == [176 * 176, 76 * 176]


def test_a_field_narrower_than_two_headlands_leaves_nothing() -> None:
    """30 m wide with a headland of 15 m or more."""
    assert inset(rectangle(400.0, 30.0), depth_m=16.0) == ()


def test_no_headland_leaves_the_whole_field() -> None:
    """Depth 0 changes nothing; a negative depth is refused."""
    field = rectangle(400.0, 30.0)
    assert inset(field, depth_m=0.0) == (field,)
    with pytest.raises(OutOfRange):
        inset(field, depth_m=-1.0)


def test_pieces_without_ground_are_left_out() -> None:
    """A line and a sliver are no field."""
    mixed = shapely.GeometryCollection(
        [
            shapely.LineString([(0, 0), (5, 5)]),
            shapely.box(0.0, 0.0, 1e-3, 1e-3),
            shapely.box(10.0, 10.0, 20.0, 20.0),
        ]
    )
    assert [piece.area_m2 for piece in outlines_of(mixed)] == pytest.approx([100.0])


def test_a_side_walked_with_its_wiggles_is_one_side() -> None:
    """A point every 10 m, each up to 0.4 m off the line, is still a side of 800 m."""
    south = [(x, 0.4 * math.sin(x)) for x in np.arange(10.0, 800.0, 10.0)]
    ring = np.asarray([(0.0, 0.0), *south, (800.0, 0.0), (800.0, 400.0), (0.0, 400.0)])
    field = Outline(exterior_m=ring)
    assert len(sides(field, straight_within_m=0.0)) == len(ring)
    straight = sides(field, straight_within_m=1.0)
    assert [side.length_m for side in straight] == pytest.approx([800.0, 400.0, 800.0, 400.0])
    assert longest_edge(field, straight_within_m=1.0).length_m == pytest.approx(800.0)
    assert longest_edge(field, straight_within_m=0.0).length_m == pytest.approx(800.0)


def test_sides_stay_when_the_straightening_is_wider_than_the_field() -> None:
    """Nothing collapses: a narrow strip keeps its four sides."""
    assert len(sides(rectangle(400.0, 0.5), straight_within_m=1.0)) == 4
    with pytest.raises(OutOfRange):
        sides(rectangle(400.0, 20.0), straight_within_m=-1.0)


def test_the_longest_side_of_the_point_rows_field_is_its_slope() -> None:
    """A3: 600 m and 380 m meet at a right angle, so the third side is 710.2 m."""
    longest = longest_edge(drawn("0,0 600,0 0,380"), straight_within_m=1.0)
    assert longest.length_m == pytest.approx(math.hypot(600.0, 380.0))
    assert longest.start_m == (600.0, 0.0)
    assert math.degrees(longest.heading_rad) == pytest.approx(147.65, abs=0.005)


def test_distance_from_a_side_is_positive_on_the_field() -> None:
    """The field lies to the left of every side as it is walked."""
    south = sides(rectangle(800.0, 400.0), straight_within_m=0.0)[0]
    assert south.distance_m((300.0, 18.0)) == pytest.approx(18.0)
    assert south.distance_m((300.0, -2.0)) == pytest.approx(-2.0)


def test_sides_of_a_notch_do_not_have_the_field_to_one_hand() -> None:
    """A4, an L: four of its six sides are outer ones, the two in the notch are not."""
    field = drawn("0,0 800,0 800,200 400,200 400,400 0,400")
    outer = {side.start_index for side in hull_edges(field, straight_within_m=1.0)}
    assert outer == {0, 1, 4, 5}


def test_headings_of_sides_start_with_the_longest() -> None:
    """The triangle's slope first, then 600 m, then 380 m; a hole's sides count too."""
    headings_deg = np.degrees(edge_headings_rad(drawn("0,0 600,0 0,380"), straight_within_m=1.0))
    assert headings_deg.tolist() == pytest.approx([147.65, 147.65, 0.0, 90.0], abs=0.01)
    with_hole = drawn("0,0 400,0 400,400 0,400", "180,60 196,60 216,340 200,340")
    assert len(edge_headings_rad(with_hole, straight_within_m=1.0)) == 1 + 4 + 4


@pytest.mark.parametrize(("angle_deg", "widths"), MACH_C71)
def test_extent_of_a_rectangle_at_an_angle(angle_deg: float, widths: float) -> None:
    """MACH-C71, derived: 800 x 400 m, in widths of 9 m, to half the last digit."""
    field = rectangle(800.0, 400.0)
    extent_m = extent_across_m(field, heading_rad=math.radians(angle_deg))
    assert extent_m / 9.0 == pytest.approx(widths, abs=0.005)


@pytest.mark.parametrize(("direction", "extent_m"), MACH_C74)
def test_extent_of_a_triangle_along_each_side(
    direction: tuple[float, float], extent_m: float
) -> None:
    """MACH-C74, derived: least along the longest side, to half the last digit."""
    heading_rad = math.atan2(direction[1], direction[0])
    field = drawn("0,0 500,0 0,400")
    assert extent_across_m(field, heading_rad=heading_rad) == pytest.approx(extent_m, abs=0.005)


def test_extent_along_a_heading_is_the_extent_across_it_turned() -> None:
    """800 x 400 m: 800 m long to the east, 400 m to the north."""
    field = rectangle(800.0, 400.0)
    assert extent_along_m(field, heading_rad=0.0) == pytest.approx(800.0)
    assert extent_along_m(field, heading_rad=math.pi / 2.0) == pytest.approx(400.0)


@given(field=fields(), heading_rad=st.floats(0.0, math.pi))
def test_a_field_is_narrowest_across_one_side_of_its_hull(
    field: Outline, heading_rad: float
) -> None:
    """MACH-C75: no heading makes the field narrower than the best along a hull side."""
    (hull,) = outlines_of(field.shape.convex_hull)
    narrowest_m = min(
        extent_across_m(field, heading_rad=float(side_rad))
        for side_rad in edge_headings_rad(hull, straight_within_m=0.0)
    )
    assert extent_across_m(field, heading_rad=heading_rad) >= narrowest_m * (1.0 - 1e-9)


@given(field=fields(), depths_m=st.tuples(st.floats(0.0, 60.0), st.floats(0.0, 60.0)))
def test_a_deeper_headland_never_leaves_more(field: Outline, depths_m: tuple[float, float]) -> None:
    """What is left is never larger than the field, nor than a shallower headland leaves."""
    shallow_m2, deep_m2 = (
        sum(piece.area_m2 for piece in inset(field, depth_m=depth_m))
        for depth_m in sorted(depths_m)
    )
    assert deep_m2 <= shallow_m2 * (1.0 + 1e-9)
    assert shallow_m2 <= field.area_m2 * (1.0 + 1e-9)


@given(field=fields(), depth_m=st.floats(0.5, 60.0))
def test_what_is_left_keeps_its_distance_from_every_edge(field: Outline, depth_m: float) -> None:
    """No corner of what is left lies nearer to an edge or a hole than the headland is deep."""
    for piece in inset(field, depth_m=depth_m):
        assert piece.shape.distance(field.shape.boundary) >= depth_m - 1e-6
        assert field.shape.covers(piece.shape)


@given(field=fields(), straight_within_m=st.floats(0.0, 20.0))
def test_straightened_sides_join_end_to_end(field: Outline, straight_within_m: float) -> None:
    """However wide the straightening, the sides go once round from corner to corner."""
    found = sides(field, straight_within_m=straight_within_m)
    assert len(found) >= 3
    for side, following in zip(found, [*found[1:], found[0]], strict=True):
        assert side.end_m == following.start_m
        assert side.start_m == tuple(field.exterior_m[side.start_index].tolist())


def walked_circle(corners_count: int, *, wobble_m: float) -> Outline:
    """Return a round field of 200 m radius as it is walked, corners straying by a little."""
    angles = math.tau * np.arange(corners_count) / corners_count
    radii_m = 200.0 + wobble_m * np.sin(17.0 * angles)
    return Outline(exterior_m=radii_m[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1))


def test_a_walked_outline_is_thinned_within_what_is_asked() -> None:
    """5,000 corners to under 300 within 10 cm, its area kept to a tenth of a percent."""
    walked = walked_circle(5_000, wobble_m=1.0)
    thin = thinned(walked, within_m=0.1, area_within_fraction=0.001)
    assert thin.corners_count < 300
    assert thin.area_m2 == pytest.approx(walked.area_m2, rel=0.001)
    assert shapely.hausdorff_distance(thin.shape, walked.shape) <= 0.1 + 1e-9


def test_an_outline_that_would_lose_too_much_comes_back_as_it_was() -> None:
    """Within 20 m a circle turns to a few sides and loses a tenth of its ground."""
    walked = walked_circle(500, wobble_m=0.0)
    assert thinned(walked, within_m=20.0, area_within_fraction=0.001) is walked
    assert thinned(walked, within_m=20.0, area_within_fraction=1.0).corners_count < 20


def test_thinning_leaves_no_hole_out() -> None:
    """A rock pile smaller than the distance is not straightened away with its corners."""
    field = drawn("0,0 400,0 400,400 0,400", "100,100 103,100 103,103 100,103")
    thin = thinned(field, within_m=10.0, area_within_fraction=0.01)
    assert len(thin.holes_m) == 1
    with pytest.raises(OutOfRange, match="stray"):
        thinned(field, within_m=-1.0, area_within_fraction=0.01)


@given(field=fields(), within_m=st.floats(0.0, 5.0))
def test_a_thinned_outline_never_strays_further_than_asked(field: Outline, within_m: float) -> None:
    """No corner left out lies further from the edge that takes its place."""
    thin = thinned(field, within_m=within_m, area_within_fraction=1.0)
    assert thin.corners_count <= field.corners_count
    for ring_m in (field.exterior_m, *field.holes_m):
        far_m = shapely.distance(thin.shape.boundary, shapely.points(ring_m))
        assert float(far_m.max()) <= within_m + 1e-6
