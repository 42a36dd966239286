"""Edges that matter: which sides a word means, how near the spreader may come, what flies over."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.outline import Outline
from duskline.core.sides import (
    COMPASS_RAD,
    SHUT_KINDS,
    EdgeDose,
    compass_rad,
    edge_dose,
    first_pass_from_edge_m,
    is_shut,
    reach,
    sides_facing,
    wind_shift_m,
)
from duskline.core.trays import TrayPattern, Way
from duskline.exchange.field_facts import EDGE_KINDS

# Rye of an invented test: 15 trays at 1.5 m, the driving line over the eighth.
RYE = (0, 2, 5, 9, 13, 16, 17, 18, 17, 17, 15, 12, 8, 4, 0)
TRIANGLE = (0.0, 1.0, 2.0, 3.0, 4.0, 3.0, 2.0, 1.0, 0.0)


def _pattern(catch: tuple[float, ...], spacing_m: float = 1.5) -> TrayPattern:
    return TrayPattern(
        first_tray_m=-(len(catch) - 1) / 2 * spacing_m, spacing_m=spacing_m, catch=catch
    )


def _field(*corners: tuple[float, float]) -> Outline:
    return Outline(exterior_m=np.array(corners, dtype=float))


OBLONG = _field((0, 0), (800, 0), (800, 400), (0, 400))
CUT = _field((0, 0), (800, 0), (800, 300), (700, 400), (0, 400))
# A notch let in from the south: its walls look east and west over the field itself.
FORKED = _field((0, 0), (200, 0), (200, 200), (400, 200), (400, 0), (600, 0), (600, 400), (0, 400))


def _middles(outline: Outline, word: str) -> list[tuple[float, float]]:
    found = sides_facing(outline, side=word, straight_within_m=1.0)
    assert found.understood
    return sorted(
        ((s.start_m[0] + s.end_m[0]) / 2, (s.start_m[1] + s.end_m[1]) / 2) for s in found.sides
    )


@pytest.mark.parametrize(
    ("word", "middle"),
    [("east", (800, 200)), ("North", (400, 400)), ("w", (0, 200)), ("south side", (400, 0))],
)
def test_a_word_means_the_side_that_faces_there(word: str, middle: tuple[float, float]) -> None:
    """The road on the east lies along the east side, however the farmer writes it."""
    assert _middles(OBLONG, word) == [middle]


def test_between_two_winds_the_cut_corner_is_meant() -> None:
    """North-east of a field with its corner cut is the cut; of a square one, both sides."""
    assert _middles(CUT, "north-east") == [(750, 350)]
    assert _middles(OBLONG, "NE") == [(400, 400), (800, 200)]


def test_in_doubt_a_side_counts() -> None:
    """The cut corner faces north and east alike, so both words mean it too."""
    assert (750, 350) in _middles(CUT, "east")
    assert (750, 350) in _middles(CUT, "north")
    assert (0, 200) not in _middles(CUT, "east")


def test_the_wall_of_a_notch_is_not_the_east_side() -> None:
    """It looks out over the other arm of the same field; the far side of it is the east side."""
    assert _middles(FORKED, "east") == [(600, 200)]
    assert _middles(FORKED, "south") == [(100, 0), (300, 200), (500, 0)]


def test_a_wiggly_side_is_still_one_side() -> None:
    """A fence with a 40 cm kink faces east all along."""
    kinked = _field((0, 0), (300, 0), (300.4, 100), (299.8, 200), (300, 300), (0, 300))
    assert len(_middles(kinked, "east")) == 1


def test_words_that_are_no_wind_are_not_guessed() -> None:
    """The creek is handed back as it was written, not matched to a side."""
    found = sides_facing(OBLONG, side="along the creek", straight_within_m=1.0)
    assert (found.sides, found.understood) == ((), False)
    assert compass_rad("") is None
    assert compass_rad("north-western") == COMPASS_RAD["north-west"]
    assert compass_rad("south east") == pytest.approx(COMPASS_RAD["south-east"])


@given(st.floats(0.0, 2 * math.pi), st.sampled_from(sorted(COMPASS_RAD)))
def test_however_a_square_lies_some_side_faces_every_wind(turn: float, word: str) -> None:
    """A square turned any way has one side within 45 degrees of a wind, or two at the corner."""
    ring = np.array([(0, 0), (300, 0), (300, 300), (0, 300)], dtype=float)
    spun = ring @ np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    found = sides_facing(Outline(exterior_m=spun), side=word, straight_within_m=1.0)
    assert 1 <= len(found.sides) <= 2


def test_the_kinds_are_those_of_the_farm_folder() -> None:
    """Every kind a farmer may write shuts its edge; an unflagged side is open."""
    assert set(SHUT_KINDS) == set(EDGE_KINDS)
    assert all(is_shut(kind) for kind in SHUT_KINDS)
    assert not is_shut(None)
    with pytest.raises(OutOfRange):
        is_shut("lava")


def test_the_throw_is_read_from_the_trays() -> None:
    """Seed in the second tray of 15 from the left and the second from the right, 1.5 m apart.

    By hand: the outermost stand 9.0 m out; half a spacing more is 9.75, a whole one 10.5.
    """
    found = reach(_pattern(RYE))
    assert (found.left_m, found.right_m) == pytest.approx((9.75, 9.75))
    assert (found.safe_left_m, found.safe_right_m) == pytest.approx((10.5, 10.5))
    assert found.end_share_fraction == 0.0
    lopsided = reach(TrayPattern(first_tray_m=-3.0, spacing_m=1.0, catch=(0, 1, 2, 3, 2, 2, 1, 0)))
    assert (lopsided.left_m, lopsided.right_m) == pytest.approx((2.5, 3.5))
    assert lopsided.throw_m == 3.5
    assert lopsided.safe_m == 4.0


def test_a_row_that_ends_in_seed_is_carried_on() -> None:
    """Rye without its empty end trays: the last two hold 4 and 2, and 5 and 2 on the other end.

    By hand, 1.5 m apart: 9.0 m out stands the end tray with 2; falling 2 a tray the right ends
    one spacing on, and so does the left, which falls faster. With ends of 9 and 8 it would take
    eight spacings, held at half of eleven; a row level at its end is not trusted either.
    """
    short = reach(_pattern(RYE[1:-1]))
    assert (short.safe_left_m, short.safe_right_m) == pytest.approx((10.5, 10.5))
    assert short.end_share_fraction == pytest.approx(4 / 18)
    for end in ((9.0, 8.0), (8.0, 8.0)):
        catch = (0.0, 3.0, 6.0, 9.0, 10.0, 10.0, 10.0, 10.0, 9.5, *end)
        found = reach(_pattern(catch))
        assert found.safe_right_m == pytest.approx(7.5 + 5.5 * 1.5)
    gentle = reach(_pattern((0.0, 3.0, 6.0, 9.0, 10.0, 9.0, 8.0, 6.0, 4.0)))
    assert gentle.safe_right_m == pytest.approx(6.0 + 2 * 1.5)


def test_no_seed_may_cross_to_the_organic_field() -> None:
    """10.5 m of throw and a 3 m strip: 13.5 m; wind towards the side adds, away does not."""
    shut = first_pass_from_edge_m(throw_m=10.5, kind="organic", off_m=3.0, driving_width_m=12.0)
    assert shut.from_edge_m == pytest.approx(13.5)
    assert shut.held_by_throw
    for shift, wanted in ((2.0, 15.5), (-2.0, 13.5)):
        found = first_pass_from_edge_m(
            throw_m=10.5, kind="organic", off_m=3.0, driving_width_m=12.0, wind_shift_m=shift
        )
        assert found.from_edge_m == pytest.approx(wanted)


def test_an_ordinary_side_is_driven_half_a_width_off() -> None:
    """12 m from pass to pass: 6 m from the fence, and 8 with a 2 m strip."""
    for off, wanted in ((0.0, 6.0), (2.0, 8.0)):
        found = first_pass_from_edge_m(throw_m=10.5, kind=None, off_m=off, driving_width_m=12.0)
        assert found.from_edge_m == pytest.approx(wanted)
        assert not found.held_by_throw
    with pytest.raises(OutOfRange):
        first_pass_from_edge_m(throw_m=10.5, kind=None, off_m=-1.0, driving_width_m=12.0)
    with pytest.raises(OutOfRange):
        first_pass_from_edge_m(throw_m=0.0, kind=None, off_m=0.0, driving_width_m=12.0)


def _dose(
    pattern: TrayPattern,
    *,
    width_m: float,
    first_m: float,
    way: Way = Way.BACK_AND_FORTH,
    left: bool = True,
    shift_m: float = 0.0,
) -> EdgeDose:
    return edge_dose(
        pattern,
        driving_width_m=width_m,
        first_pass_m=first_m,
        way=way,
        thin_below_fraction=0.8,
        edge_on_left=left,
        wind_shift_m=shift_m,
    )


def test_a_triangle_by_hand() -> None:
    """Trays 1 m apart catch 1 2 3 4 3 2 1: a triangle 4 m to a side, even at 4 m passes.

    First pass 2 m from the fence: beyond it lies a small triangle of 2 x 2 / 2 = 2 of 16 parts,
    which is 0.5 m at the full rate of 16 / 4 = 4, and it reaches 2 m. At the fence stand 2 of 4,
    and both triangles together 4 from 2 m on; 80 % is met at 1.2 m. Missing up to there: 0.5
    falling to 0.2, 0.35 x 1.2 = 0.42 m.
    """
    found = _dose(_pattern(TRIANGLE, 1.0), width_m=4.0, first_m=2.0)
    assert found.over_fraction == pytest.approx(2 / 16)
    assert found.over_full_width_m == pytest.approx(0.5)
    assert found.over_reach_m == pytest.approx(2.0)
    assert found.bare_m == 0.0
    assert found.thin_m == pytest.approx(1.2)
    assert found.short_full_width_m == pytest.approx(0.42)
    assert float(np.interp(0.0, found.places_m, found.shares)) == pytest.approx(0.5)


def test_from_the_whole_throw_nothing_lands_beyond() -> None:
    """The same triangle 4 m off: none over, none at the fence, 80 % at 3.2 m, 1.92 m missing."""
    found = _dose(_pattern(TRIANGLE, 1.0), width_m=4.0, first_m=4.0)
    assert found.over_fraction == 0.0
    assert found.over_reach_m == 0.0
    assert found.thin_m == pytest.approx(3.2)
    assert found.short_full_width_m == pytest.approx(3.2 * 0.6)
    farther = _dose(_pattern(TRIANGLE, 1.0), width_m=4.0, first_m=5.5)
    assert farther.bare_m == pytest.approx(1.5)
    assert farther.thin_m == pytest.approx(4.7)


def test_wind_towards_the_side_is_as_driving_nearer() -> None:
    """1 m of drift is 1 m less distance, seed for seed."""
    blown = _dose(_pattern(TRIANGLE, 1.0), width_m=4.0, first_m=4.0, shift_m=1.0)
    nearer = _dose(_pattern(TRIANGLE, 1.0), width_m=4.0, first_m=3.0)
    assert blown.over_full_width_m == pytest.approx(nearer.over_full_width_m)
    assert blown.over_full_width_m > 0.0
    assert blown.thin_m == pytest.approx(nearer.thin_m)


def test_a_leaning_pattern_throws_over_on_its_long_side() -> None:
    """Leaning right, it throws more over a side on the right than over one on the left."""
    leaning = TrayPattern(first_tray_m=-4.0, spacing_m=1.0, catch=(0, 2, 6, 8, 8, 7, 5, 4, 2, 1, 0))
    right = _dose(leaning, width_m=6.0, first_m=3.0, left=False)
    left = _dose(leaning, width_m=6.0, first_m=3.0, left=True)
    assert right.over_full_width_m > left.over_full_width_m
    assert right.over_reach_m == pytest.approx(3.0)
    assert left.over_reach_m == pytest.approx(1.0)


@settings(max_examples=25)
@given(
    st.lists(st.floats(0.0, 20.0), min_size=3, max_size=17).filter(lambda c: sum(c) > 1.0),
    st.floats(0.5, 2.0),
    st.floats(4.0, 20.0),
    st.floats(0.5, 25.0),
    st.sampled_from(list(Way)),
    st.booleans(),
)
def test_what_flies_over_is_the_fine_sum_beyond_the_side(
    catch: list[float], spacing: float, width: float, first: float, way: Way, left: object
) -> None:
    """Pass after pass laid down on a grid of 1 mm: the same seed beyond, the same dose inside."""
    pattern = _pattern(tuple(catch), spacing)
    found = _dose(pattern, width_m=width, first_m=first, way=way, left=bool(left))
    trays = np.concatenate(
        [[pattern.first_tray_m - spacing], pattern.positions_m,
         [pattern.positions_m[-1] + spacing]]
    )  # fmt: skip
    amounts = np.array([0.0, *catch, 0.0])
    places = np.arange(-20.0, 25.0, 0.001) + 0.0005
    total = np.zeros_like(places)
    for number in range(40):
        away = places - first - number * width
        if (way is Way.BACK_AND_FORTH and number % 2 == 1) == bool(left):
            away = -away
        total += np.interp(away, trays, amounts, left=0.0, right=0.0)
    total /= sum(catch) * spacing / width
    assert found.over_full_width_m == pytest.approx(total[places < 0].sum() * 0.001, abs=1e-3)
    inside = (places > 0) & (places < min(24.0, found.places_m[-1]))
    read = np.interp(places[inside], found.places_m, found.shares)
    assert read == pytest.approx(total[inside], abs=1e-9)
    thin = places[inside][total[inside] >= 0.8]
    if thin.size:
        assert found.thin_m == pytest.approx(float(thin[0]), abs=0.002)


@given(
    st.lists(st.floats(0.0, 20.0), min_size=3, max_size=17).filter(lambda c: sum(c) > 1.0),
    st.floats(3.0, 20.0),
    st.sampled_from(SHUT_KINDS),
    st.floats(0.0, 8.0),
    st.sampled_from(list(Way)),
)
def test_from_its_allowed_distance_a_spreader_never_throws_over(
    catch: list[float], width: float, kind: str, off: float, way: Way
) -> None:
    """Whatever the trays caught, nothing lands beyond a shut edge, nor in its strip."""
    pattern = _pattern(tuple(catch))
    first = first_pass_from_edge_m(
        throw_m=reach(pattern).safe_m, kind=kind, off_m=off, driving_width_m=width
    )
    for left in (True, False):
        found = _dose(pattern, width_m=width, first_m=first.from_edge_m, way=way, left=left)
        assert found.over_full_width_m == pytest.approx(0.0, abs=1e-9)
        assert found.bare_m >= off - 1e-9


@given(st.floats(0.5, 12.0), st.floats(0.1, 5.0))
def test_nearer_throws_more_over_and_leaves_less_thin(first: float, nearer: float) -> None:
    """Seed over the fence against thin ground inside it: one is bought with the other."""
    pattern = _pattern(TRIANGLE, 1.0)
    far = _dose(pattern, width_m=4.0, first_m=first + nearer)
    near = _dose(pattern, width_m=4.0, first_m=first)
    assert near.over_full_width_m >= far.over_full_width_m - 1e-12
    assert near.thin_m <= far.thin_m + 1e-9


def test_the_wind_carries_the_throw_to_the_side_it_blows_at() -> None:
    """A west wind of 4 m/s at 0.55 m each: 2.2 m towards the east side, away from the west one."""
    west_wind = math.pi

    def shift(word: str) -> float:
        (side,) = sides_facing(OBLONG, side=word, straight_within_m=1.0).sides
        return wind_shift_m(side=side, wind_from_rad=west_wind, wind_mps=4.0, shift_m_per_mps=0.55)

    assert shift("east") == pytest.approx(2.2)
    assert shift("west") == pytest.approx(-2.2)
    assert shift("north") == pytest.approx(0.0, abs=1e-9)


def test_a_gusty_hour_may_still_not_throw_over() -> None:
    """With the wind's shift in the distance kept, the carried pattern still ends at the strip."""
    pattern = _pattern(RYE)
    first = first_pass_from_edge_m(
        throw_m=reach(pattern).safe_m, kind="home", off_m=2.0, driving_width_m=12.0,
        wind_shift_m=1.7,
    )  # fmt: skip
    dose = _dose(pattern, width_m=12.0, first_m=first.from_edge_m, shift_m=1.7)
    assert dose.over_full_width_m == 0.0
    assert dose.bare_m == pytest.approx(2.0)


def test_a_short_throw_never_brings_the_first_pass_nearer_than_half_a_width() -> None:
    """4 m of throw at 12 m passes: still 6 m from the road, and the throw is not what held it."""
    found = first_pass_from_edge_m(throw_m=4.0, kind="road", off_m=0.0, driving_width_m=12.0)
    assert found.from_edge_m == pytest.approx(6.0)
    assert not found.held_by_throw
