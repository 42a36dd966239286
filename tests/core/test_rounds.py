"""Headland rounds: their legs by hand, their corners drawn, and that no tool leaves the field."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_fields import drawn, fields, rectangle
from ragged_fields import ragged_field

from duskline.core.errors import OutOfRange
from duskline.core.outline import Outline, inset
from duskline.core.rounds import (
    Rounds,
    begun_near,
    corner_time_s,
    drive_rounds,
    rounds_depth_m,
    rounds_needed_count,
)
from duskline.core.turns import TurnRule, turn_times_s

RULE = TurnRule(radius_m=6.0, speed_mps=2.0, fixed_s=5.0)
BACKING = TurnRule(radius_m=6.0, speed_mps=2.0, fixed_s=5.0, reverses=True, gear_s=3.0)
any_field = st.one_of(fields(), st.builds(ragged_field, st.integers(0, 100_000)))
L_SHAPE = drawn("0,0 300,0 300,120 120,120 120,300 0,300")


def rounds_of(
    field: Outline, *, count: int = 1, width_m: float = 10.0, driving_width_m: float | None = None
) -> Rounds:
    """Return the rounds of a machine 10 m wide."""
    return drive_rounds(
        field,
        count=count,
        driving_width_m=width_m if driving_width_m is None else driving_width_m,
        width_m=width_m,
        rule=RULE,
    )


def swept(rounds: Rounds, width_m: float = 10.0) -> list[shapely.Polygon]:
    """Return the ground of every leg and every strip's run, bends rounded."""
    lines = [shapely.LineString(leg.path_m) for leg in rounds.legs]
    lines.extend(shapely.linestrings(rounds.odd_m).tolist())
    return [line.buffer(0.5 * width_m, cap_style="flat", quad_segs=16) for line in lines]


def missed_m2(field: Outline, rounds: Rounds, width_m: float = 10.0) -> float:
    """Return what the rounds should have gone over and did not."""
    driven = shapely.union_all(swept(rounds, width_m), grid_size=1e-4)
    left = shapely.union_all([piece.shape for piece in rounds.inner])
    return float(field.shape.difference(driven).difference(left).area)


# --- how many, how deep ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("room_m", "driving_width_m", "width_m", "count"),
    [
        (12.0, 8.2, 8.2, 2),
        (12.0, 12.2, 12.2, 1),
        (0.0, 12.2, 12.2, 1),
        (24.4, 12.2, 12.2, 2),
        (24.5, 12.2, 12.2, 3),
        # 9.14 m of tool leave 9.14 m of headland even where rounds lie 8.23 m apart.
        (9.0, 8.23, 9.14, 1),
        (9.2, 8.23, 9.14, 2),
    ],
)
def test_rounds_make_the_room_the_turns_need(
    room_m: float, driving_width_m: float, width_m: float, count: int
) -> None:
    """The fewest rounds whose headland is as deep as the turn reaches; one at least."""
    found = rounds_needed_count(room_m=room_m, driving_width_m=driving_width_m, width_m=width_m)
    assert found == count
    for number, enough in ((found, True), (found - 1, False)):
        depth_m = rounds_depth_m(count=number, driving_width_m=driving_width_m, width_m=width_m)
        assert number == 0 or (depth_m >= room_m) == enough


def test_a_headland_is_never_less_deep_than_the_tool_is_wide() -> None:
    """One round every 8.23 m of a 9.14 m tool is 9.14 m deep, two are 16.46 m, none is none."""
    depths_m = [
        rounds_depth_m(count=count, driving_width_m=8.23, width_m=9.14) for count in (0, 1, 2)
    ]
    assert depths_m == pytest.approx([0.0, 9.14, 16.46])


@pytest.mark.parametrize(
    ("room_m", "driving_width_m", "width_m"),
    [(-1.0, 9.0, 9.0), (math.nan, 9.0, 9.0), (5.0, 0.0, 9.0), (5.0, 9.1, 9.0)],
)
def test_room_and_widths_that_cannot_be_are_refused(
    room_m: float, driving_width_m: float, width_m: float
) -> None:
    """No turn reaches less than nothing out; a tool is as wide as its passes lie apart."""
    with pytest.raises(OutOfRange):
        rounds_needed_count(room_m=room_m, driving_width_m=driving_width_m, width_m=width_m)


def test_no_round_is_no_headland_to_drive() -> None:
    """Rounds are asked for by ones."""
    with pytest.raises(OutOfRange):
        rounds_of(rectangle(100.0, 100.0), count=0)


# --- legs by hand -----------------------------------------------------------------------------


def test_a_rectangle_of_two_rounds_by_hand() -> None:
    """800 x 400 m: each leg runs 5 m past its corner, to the edge ahead.

    Round 0 lies 5 m in, 2 (790 + 390) + 4 x 5 = 2,380 m; round 1 lies 15 m in and runs on 5 m
    as well, 2 (770 + 370) + 4 x 5 = 2,300 m. Left: 760 x 360 m.
    """
    rounds = rounds_of(rectangle(800.0, 400.0), count=2)
    assert [leg.round_index for leg in rounds.legs] == [0] * 4 + [1] * 4
    assert [leg.ring_index for leg in rounds.legs] == [0] * 4 + [1] * 4
    lengths_m = sorted(leg.length_m for leg in rounds.legs)
    assert lengths_m == pytest.approx([375.0, 375.0, 395.0, 395.0, 775.0, 775.0, 795.0, 795.0])
    assert rounds.length_m == pytest.approx(2380.0 + 2300.0)
    assert [piece.area_m2 for piece in rounds.inner] == pytest.approx([760.0 * 360.0])
    assert rounds.odd_m.shape == (0, 2, 2)


def test_rounds_go_left_about_the_field_and_right_about_a_pond() -> None:
    """The edge lies on the driver's right hand, a pond on his right too: so he goes round it."""
    field = drawn("0,0 300,0 300,300 0,300", "140,140 160,140 160,160 140,160")
    rounds = rounds_of(field)
    assert [leg.ring_index for leg in rounds.legs] == [0] * 4 + [1] * 4
    for leg in rounds.legs:
        x_m, y_m, heading_rad = leg.start
        right_m = (
            x_m + 5.5 * math.sin(heading_rad) + 20.0 * math.cos(heading_rad),
            y_m - 5.5 * math.cos(heading_rad) + 20.0 * math.sin(heading_rad),
        )
        assert not field.shape.covers(shapely.Point(right_m))


def test_turns_between_legs_are_the_corners_and_the_way_to_the_next_round() -> None:
    """Three square corners run past by 5 m, the way to round two, three corners again."""
    rounds = rounds_of(rectangle(800.0, 400.0), count=2)
    corner_s = corner_time_s(turn_rad=math.pi / 2, past_m=5.0, rule=RULE)
    step = turn_times_s(np.asarray([rounds.legs[3].end]), np.asarray([rounds.legs[4].start]), RULE)[
        0
    ]
    assert rounds.turn_s.tolist() == pytest.approx([corner_s] * 3 + [step] + [corner_s] * 3)


def test_a_square_corner_is_filled_to_its_tip() -> None:
    """200 x 100 m: the round goes over all but what it leaves for passes."""
    field = rectangle(200.0, 100.0)
    assert missed_m2(field, rounds_of(field)) < 1e-3


def test_a_leaning_field_misses_a_sliver_at_each_corner() -> None:
    """Corners of 75 degrees lose what the edge ahead bars, those of 105 what turns away.

    By hand, width w: at 75 degrees d = w / tan(75), d^2 tan(37.5) = 5.51 m2, as below. At 105 the
    first leg ends square to the tip, the second begins p = w / 2 tan(37.5) along its side; the
    15 degrees between are p^2 tan(15) / 2 = 1.97 m2.
    """
    lean_m = 100.0 / math.tan(math.radians(75.0))
    field = drawn(f"0,0 200,0 {200 + lean_m},100 {lean_m},100")
    sharp_m2 = 100.0 / math.tan(math.radians(75.0)) ** 2 * math.tan(math.radians(37.5))
    begun_m = 5.0 * math.tan(math.radians(37.5))
    blunt_m2 = 0.5 * begun_m**2 * math.tan(math.radians(15.0))
    # The tool may brush the edge by 2 mm, which moves the barred ground by as little.
    by_hand_m2 = 2.0 * (sharp_m2 + blunt_m2)
    assert missed_m2(field, rounds_of(field)) == pytest.approx(by_hand_m2, rel=2e-3)


@pytest.mark.parametrize("corner_deg", [40.0, 45.0, 60.0])
def test_a_sharp_corner_is_not_filled(corner_deg: float) -> None:
    """Both legs stop where the inner end of the tool meets the other side.

    By hand, corner a and width w: each leg ends d = w / tan(a) short of the tip; between the two
    ends and the tip lie two triangles of d by d tan(a / 2), so d^2 tan(a / 2) is missed.
    """
    corner_rad = math.radians(corner_deg)
    apex_m = 300.0 * np.asarray([math.cos(corner_rad), math.sin(corner_rad)])
    field = drawn(f"0,0 300,0 {apex_m[0]},{apex_m[1]}")
    tip = shapely.box(-1.0, -1.0, 60.0, 60.0)
    rounds = rounds_of(field)
    left = shapely.union_all([*swept(rounds), *(piece.shape for piece in rounds.inner)])
    short_m = 10.0 / math.tan(corner_rad)
    by_hand_m2 = short_m**2 * math.tan(0.5 * corner_rad)
    found = field.shape.intersection(tip).difference(left.buffer(1e-6))
    assert found.area == pytest.approx(by_hand_m2, rel=5e-3)


def test_an_inward_corner_is_filled() -> None:
    """An L: the legs run on past the inward corner until they have gone round it."""
    for count in (1, 2):
        assert missed_m2(L_SHAPE, rounds_of(L_SHAPE, count=count)) < 1e-3


def test_a_bend_that_is_driven_through_does_not_end_a_leg() -> None:
    """A corner cut in two far apart: 40 and 50 degrees are driven through, 70 degrees are not."""
    for bend_deg, legs in ((40.0, 3), (70.0, 4)):
        turned = np.radians(bend_deg)
        out_m = 200.0 + 150.0 * math.cos(turned), 150.0 * math.sin(turned)
        field = drawn(f"0,0 200,0 {out_m[0]},{out_m[1]} {out_m[0]},300 0,300")
        assert len(rounds_of(field).legs) == legs


def test_a_round_field_is_one_leg_that_closes() -> None:
    """A pivot circle of 60 sides: no corner, one leg that comes back to its beginning."""
    angles_rad = math.tau * np.arange(60) / 60
    field = Outline(exterior_m=150.0 * np.stack([np.cos(angles_rad), np.sin(angles_rad)], axis=1))
    (leg,) = rounds_of(field).legs
    assert leg.path_m[0].tolist() == leg.path_m[-1].tolist()
    # A ring of n sides and apothem a is 2 n a tan(pi / n) long.
    apothem_m = 150.0 * math.cos(math.pi / 60) - 5.0
    assert leg.length_m == pytest.approx(120 * apothem_m * math.tan(math.pi / 60))


def test_a_corner_cut_in_two_still_ends_a_leg() -> None:
    """Two bends of 45 degrees 2 m apart are a corner to a tool 10 m wide; 30 m apart they are not.

    Corners of a rectangle cut off: with short cuts four legs, with long cuts one that closes.
    """
    for cut_m, legs in ((1.5, 4), (40.0, 1)):
        field = drawn(
            f"{cut_m},0 {300 - cut_m},0 300,{cut_m} 300,{300 - cut_m} {300 - cut_m},300 "
            f"{cut_m},300 0,{300 - cut_m} 0,{cut_m}"
        )
        assert len(rounds_of(field).legs) == legs


def test_a_neck_too_narrow_for_one_more_round_gets_a_run_of_its_own() -> None:
    """Two squares joined by a neck 28 m wide, two rounds of 10 m: 8 m down its middle are left."""
    field = drawn(
        "0,0 200,0 200,86 320,86 320,0 520,0 520,200 320,200 320,114 200,114 200,200 0,200"
    )
    rounds = rounds_of(field, count=2)
    assert len(rounds.odd_m) == 1
    assert rounds.odd_m[0, :, 1].tolist() == pytest.approx([100.0, 100.0])
    assert abs(rounds.odd_m[0, 1, 0] - rounds.odd_m[0, 0, 0]) >= 100.0
    assert missed_m2(field, rounds) < 0.001 * field.area_m2
    # A neck of 42 m takes both rounds and has rows.
    wide = drawn(
        "0,0 200,0 200,79 320,79 320,0 520,0 520,200 320,200 320,121 200,121 200,200 0,200"
    )
    assert rounds_of(wide, count=2).odd_m.shape == (0, 2, 2)


def test_ground_narrower_than_the_tool_has_no_rounds() -> None:
    """9 m wide, tool 10 m: no leg, nothing left for passes."""
    rounds = rounds_of(rectangle(300.0, 9.0))
    assert (rounds.legs, rounds.inner, rounds.length_m) == ((), (), 0.0)


# --- corners ----------------------------------------------------------------------------------


@pytest.mark.parametrize("turn_deg", [60.0, 75.0, 90.0, 120.0, 150.0, 175.0])
@pytest.mark.parametrize("past_m", [0.0, 5.0, 18.0])
def test_the_loop_at_a_corner_is_as_long_as_it_is_drawn(turn_deg: float, past_m: float) -> None:
    """Drawn centimetre by centimetre: left until the second circle lies straight ahead, on, left.

    It comes out at the corner heading along the next side, always turning left. Lifted, it swings
    out ahead by one radius, as every way forward must.
    """
    turn_rad, radius_m = math.radians(turn_deg), 6.0
    end_centre_m = np.asarray([-radius_m * math.sin(turn_rad), radius_m * math.cos(turn_rad)])
    to_centre_m = end_centre_m - np.asarray([past_m, radius_m])
    steps = 20_000
    line_rad = math.atan2(to_centre_m[1], to_centre_m[0]) % math.tau
    last_rad = (turn_rad - line_rad) % math.tau
    headings_rad = np.concatenate(
        [
            np.linspace(0.0, line_rad, steps),
            np.full(steps, line_rad),
            np.linspace(line_rad, line_rad + last_rad, steps),
        ]
    )
    parts_m = (radius_m * line_rad, math.hypot(*to_centre_m), radius_m * last_rad)
    step_m = np.concatenate([np.full(steps, part_m / (steps - 1)) for part_m in parts_m])
    middles_rad = 0.5 * (headings_rad[1:] + headings_rad[:-1])
    inside = np.ones(3 * steps - 1, dtype=bool)
    inside[[steps - 1, 2 * steps - 1]] = False
    moved_m = np.stack([np.cos(middles_rad), np.sin(middles_rad)], axis=1) * step_m[1:, None]
    path_m = np.asarray([past_m, 0.0]) + np.cumsum(moved_m[inside], axis=0)
    assert path_m[-1].tolist() == pytest.approx([0.0, 0.0], abs=1e-4)
    off_rad = (headings_rad[-1] - turn_rad + math.pi) % math.tau - math.pi
    assert off_rad == pytest.approx(0.0, abs=1e-9)
    assert path_m[:, 0].max() == pytest.approx(past_m + radius_m, abs=1e-3)
    drawn_m = np.hypot(*np.diff(path_m, axis=0).T).sum() + step_m[1]
    time_s = corner_time_s(turn_rad=turn_rad, past_m=past_m, rule=RULE)
    assert time_s == pytest.approx(drawn_m / 2.0 + 5.0, rel=1e-5)


def test_a_square_corner_by_hand() -> None:
    """Radius 6 m, run past by 5 m: circles 11 m and 6 m apart, one whole turn and a quarter.

    From the first circle's middle the second lies 11 m west and 6 m south; heading to it is
    208.6 degrees, from there to 90 degrees it is 241.4: 450 degrees in all. 47.12 m of arcs and
    12.53 m straight at 2 m/s, and 5 s.
    """
    by_hand_s = (6.0 * 2.5 * math.pi + math.hypot(11.0, 6.0)) / 2.0 + 5.0
    time_s = corner_time_s(turn_rad=math.pi / 2, past_m=5.0, rule=RULE)
    assert time_s == pytest.approx(by_hand_s)


@pytest.mark.parametrize("turn_deg", [-60.0, -90.0, -150.0])
def test_round_an_inward_corner_the_driver_takes_the_shortest_way(turn_deg: float) -> None:
    """To the right there is room on both hands."""
    turn_rad = math.radians(turn_deg)
    shortest = turn_times_s(np.asarray([[5.0, 0.0, 0.0]]), np.asarray([[0.0, 0.0, turn_rad]]), RULE)
    assert corner_time_s(turn_rad=turn_rad, past_m=5.0, rule=RULE) == shortest[0]


def test_who_backs_up_turns_at_a_corner_without_the_loop() -> None:
    """At a square corner backing up is quicker, its two changes of gear counted."""
    with_reverse_s = corner_time_s(turn_rad=math.pi / 2, past_m=5.0, rule=BACKING)
    shortest = turn_times_s(
        np.asarray([[5.0, 0.0, 0.0]]), np.asarray([[0.0, 0.0, math.pi / 2]]), BACKING
    )
    assert with_reverse_s == shortest[0]
    assert with_reverse_s < corner_time_s(turn_rad=math.pi / 2, past_m=5.0, rule=RULE)


# --- where the rounds begin ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place_m", "start_m"),
    [((-50.0, -9.0), (5.0, 5.0)), ((900.0, 0.0), (795.0, 5.0)), ((800.0, 500.0), (795.0, 395.0))],
)
def test_rounds_begin_at_the_corner_nearest_to_the_gate(
    place_m: tuple[float, float], start_m: tuple[float, float]
) -> None:
    """A rectangle: the corner by the gate, then the next round where the first one ended."""
    rounds = begun_near(rounds_of(rectangle(800.0, 400.0), count=2), place_m=place_m, rule=RULE)
    assert rounds.legs[0].path_m[0].tolist() == pytest.approx(start_m)
    gaps_m = [math.dist(rounds.legs[3].path_m[-1], leg.path_m[0]) for leg in rounds.legs[4:]]
    assert gaps_m[0] == min(gaps_m)


@given(field=any_field, place_m=st.tuples(st.floats(-500.0, 500.0), st.floats(-500.0, 500.0)))
@settings(max_examples=40)
def test_begun_elsewhere_the_rounds_are_the_same_rounds(
    field: Outline, place_m: tuple[float, float]
) -> None:
    """The same legs, outermost round first, each ring on end, the nearest leg first."""
    rounds = rounds_of(field, count=2)
    begun = begun_near(rounds, place_m=place_m, rule=RULE)
    assert {id(leg) for leg in begun.legs} == {id(leg) for leg in rounds.legs}
    assert len(begun.legs) == len(rounds.legs)
    assert begun.length_m == pytest.approx(rounds.length_m)
    order = [leg.round_index for leg in begun.legs]
    assert order == sorted(order)
    rings = [leg.ring_index for leg in begun.legs]
    assert sum(one != other for one, other in pairwise(rings)) == len(set(rings)) - 1
    outer = [leg for leg in begun.legs if leg.round_index == 0]
    if outer:
        gaps_m = [math.dist(leg.path_m[0], place_m) for leg in outer]
        assert gaps_m[0] == min(gaps_m)
    assert len(begun.turn_s) == max(len(begun.legs) - 1, 0)


# --- on the ground ----------------------------------------------------------------------------


@given(
    field=any_field,
    width_m=st.floats(6.0, 16.0),
    lap=st.floats(0.0, 0.2),
    count=st.integers(1, 3),
)
@settings(max_examples=80)
def test_the_tool_never_leaves_the_field_on_its_rounds(
    field: Outline, width_m: float, lap: float, count: int
) -> None:
    """The ground of every leg and of every strip's run lies within the outline to 1 cm."""
    rounds = rounds_of(field, count=count, width_m=width_m, driving_width_m=width_m / (1.0 + lap))
    grown = field.shape.buffer(0.01)
    assert shapely.covers(grown, swept(rounds, width_m)).all()


@given(field=any_field, width_m=st.floats(6.0, 12.0), lap=st.floats(0.0, 0.2))
@settings(max_examples=40)
def test_what_the_rounds_leave_keeps_their_depth_from_every_edge(
    field: Outline, width_m: float, lap: float
) -> None:
    """Two rounds: every piece left lies two driving widths in, largest first."""
    driving_m = width_m / (1.0 + lap)
    rounds = rounds_of(field, count=2, width_m=width_m, driving_width_m=driving_m)
    expected = inset(field, depth_m=2 * driving_m) if rounds.legs else ()
    assert [piece.area_m2 for piece in rounds.inner] == [piece.area_m2 for piece in expected]
    for piece in rounds.inner:
        assert piece.shape.distance(field.shape.boundary) >= 2 * driving_m - 1e-4


def test_a_strip_round_a_corner_gets_runs_along_both_arms() -> None:
    """An L 40 m wide, 9 m tool: a third round has no room, 4 m stay in the middle of both arms."""
    field = drawn("0,0 300,0 300,40 40,40 40,300 0,300")
    rounds = rounds_of(field, count=3, width_m=9.0)
    ways = {
        round(math.degrees(math.atan2(*(run_m[1] - run_m[0])[::-1].tolist()))) % 180
        for run_m in rounds.odd_m
    }
    assert ways == {0, 90}
    assert missed_m2(field, rounds, 9.0) < 0.005 * field.area_m2
