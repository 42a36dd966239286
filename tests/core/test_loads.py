"""The spreader's loads laid on its runs: what goes in, where each ends, nothing lost."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.loads import PassLoad, lay_loads

RATE = 0.01
"""10 g/m2: a load of 100 kg does 10,000 m2."""


def up_and_down(areas_m2: list[float]) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Return the ends of runs 400 m long, up and down, 10 m apart."""
    return [
        ((10.0 * at, 0.0), (10.0 * at, 400.0))
        if at % 2 == 0
        else ((10.0 * at, 400.0), (10.0 * at, 0.0))
        for at in range(len(areas_m2))
    ]


def laid(
    areas_m2: list[float], *, load_kg: float = 100.0, truck_m: tuple[float, float] | None = None
) -> tuple[PassLoad, ...]:
    """Return the loads of runs driven up and down at 10 g/m2."""
    return lay_loads(
        run_areas_m2=areas_m2,
        run_paths_m=up_and_down(areas_m2),
        rate_kg_per_m2=RATE,
        load_kg=load_kg,
        truck_m=truck_m,
    )


# --- by hand ------------------------------------------------------------------------------------


def test_a_load_does_as_many_whole_runs_as_it_holds() -> None:
    """100 kg at 10 g/m2 is 10,000 m2: two runs of 4,000 m2 a load, the odd run alone."""
    loads = laid([4000.0] * 5)
    assert [(one.first_index, one.last_index) for one in loads] == [(0, 1), (2, 3), (4, 4)]
    assert [one.mass_kg for one in loads] == pytest.approx([80.0, 80.0, 40.0])
    assert [one.empties_at_m for one in loads] == [(10.0, 0.0), (30.0, 0.0), (40.0, 400.0)]


def test_runs_that_fill_the_hopper_to_the_brim_are_one_load() -> None:
    """Ten runs of 1,000 m2 are exactly 100 kg, however the sum is rounded."""
    loads = laid([1000.0] * 10)
    assert len(loads) == 1
    assert loads[0].mass_kg == pytest.approx(100.0)
    thirds = laid([10_000.0 / 3.0] * 6)
    assert [(one.first_index, one.last_index) for one in thirds] == [(0, 2), (3, 5)]


def test_a_small_hopper_cuts_a_long_run_and_says_where() -> None:
    """A run of 25,000 m2: empty at 160 m and 320 m of 400 m, then on with a part of the next."""
    loads = laid([25_000.0, 3000.0, 3000.0])
    assert [one.at_run_end for one in loads] == [False, False, True, True]
    places_m = [one.empties_at_m for one in loads[:2]]
    assert [x_m for x_m, _ in places_m] == [0.0, 0.0]
    assert [y_m for _, y_m in places_m] == pytest.approx([160.0, 320.0])
    assert [one.mass_kg for one in loads] == pytest.approx([100.0, 100.0, 80.0, 30.0])
    assert [(one.first_index, one.last_index) for one in loads] == [(0, 0), (0, 0), (0, 1), (2, 2)]


def test_a_load_ends_at_the_trucks_side_of_the_field_where_that_costs_little() -> None:
    """Truck in the south: of five runs a load could do, it does four and is empty in the south."""
    anywhere = laid([2000.0] * 12)
    assert [one.last_index for one in anywhere] == [4, 9, 11]
    south = laid([2000.0] * 12, truck_m=(0.0, -20.0))
    assert [one.last_index for one in south] == [3, 7, 11]
    assert all(one.empties_at_m[1] == 0.0 for one in south)


def test_a_load_is_not_halved_to_end_by_the_truck() -> None:
    """Of two runs a load could do, one would be half of it: it does two and drives over."""
    north = laid([4000.0] * 6, truck_m=(0.0, 420.0))
    assert [one.last_index for one in north] == [1, 3, 5]


def test_no_runs_take_no_load() -> None:
    """A field that needs no run needs no seed."""
    assert laid([]) == ()


@pytest.mark.parametrize(("rate", "load_kg"), [(0.0, 100.0), (0.01, 0.0), (0.01, -1.0)])
def test_a_rate_or_a_hopper_of_nothing_is_refused(rate: float, load_kg: float) -> None:
    """Neither can be laid on a field."""
    with pytest.raises(OutOfRange):
        lay_loads(
            run_areas_m2=[1.0],
            run_paths_m=[((0.0, 0.0), (0.0, 1.0))],
            rate_kg_per_m2=rate,
            load_kg=load_kg,
        )


def test_each_run_needs_its_ends() -> None:
    """Two runs and the ends of one are refused."""
    with pytest.raises(OutOfRange):
        lay_loads(
            run_areas_m2=[1.0, 1.0],
            run_paths_m=[((0.0, 0.0), (0.0, 1.0))],
            rate_kg_per_m2=RATE,
            load_kg=1.0,
        )


# --- always -------------------------------------------------------------------------------------

AREAS = st.lists(st.floats(10.0, 60_000.0), min_size=1, max_size=40)
HOPPERS = st.floats(20.0, 900.0)
TRUCKS = st.none() | st.tuples(st.floats(-500.0, 500.0), st.floats(-500.0, 900.0))


@given(areas_m2=AREAS, load_kg=HOPPERS, truck_m=TRUCKS)
def test_all_loads_together_hold_what_the_runs_take(
    areas_m2: list[float], load_kg: float, truck_m: tuple[float, float] | None
) -> None:
    """Not a pound is lost or made, and no load holds more than the hopper."""
    loads = laid(areas_m2, load_kg=load_kg, truck_m=truck_m)
    assert sum(one.area_m2 for one in loads) == pytest.approx(sum(areas_m2))
    for one in loads:
        assert one.mass_kg == pytest.approx(RATE * one.area_m2)
        assert 0.0 < one.mass_kg <= load_kg * (1.0 + 1e-6)


@given(areas_m2=AREAS, load_kg=HOPPERS, truck_m=TRUCKS)
def test_loads_follow_each_other_run_by_run(
    areas_m2: list[float], load_kg: float, truck_m: tuple[float, float] | None
) -> None:
    """The first begins at run 1, each next where the last one stopped, the last ends the field."""
    loads = laid(areas_m2, load_kg=load_kg, truck_m=truck_m)
    assert loads[0].first_index == 0
    assert loads[-1].last_index == len(areas_m2) - 1
    assert loads[-1].at_run_end
    for one, after in pairwise(loads):
        assert after.first_index == one.last_index + (1 if one.at_run_end else 0)


@given(areas_m2=AREAS, load_kg=HOPPERS, truck_m=TRUCKS)
def test_a_load_ends_at_the_end_of_a_run_unless_the_run_takes_more_than_a_load(
    areas_m2: list[float], load_kg: float, truck_m: tuple[float, float] | None
) -> None:
    """Mid-field only where nothing else can be done, and then with a full hopper."""
    ends_m = up_and_down(areas_m2)
    for one in laid(areas_m2, load_kg=load_kg, truck_m=truck_m):
        if one.at_run_end:
            assert one.empties_at_m == ends_m[one.last_index][1]
        else:
            assert areas_m2[one.last_index] > load_kg / RATE
            assert one.mass_kg == pytest.approx(load_kg)
            (x0, y0), (x1, y1) = ends_m[one.last_index]
            walked_m = math.dist((x0, y0), one.empties_at_m) + math.dist(one.empties_at_m, (x1, y1))
            assert walked_m == pytest.approx(math.dist((x0, y0), (x1, y1)))


@given(areas_m2=AREAS, load_kg=HOPPERS)
def test_one_more_run_would_not_go_into_the_hopper(areas_m2: list[float], load_kg: float) -> None:
    """Without a truck to be near to, no load stops while a whole run more would fit."""
    loads = laid(areas_m2, load_kg=load_kg)
    for one in loads[:-1]:
        if one.at_run_end:
            assert one.mass_kg + RATE * areas_m2[one.last_index + 1] > load_kg * (1.0 - 1e-6)


@given(areas_m2=AREAS, load_kg=HOPPERS, truck_m=TRUCKS)
def test_the_truck_never_takes_more_than_a_quarter_of_a_load(
    areas_m2: list[float], load_kg: float, truck_m: tuple[float, float] | None
) -> None:
    """A load cut short for the truck does three quarters of what it could have done from there."""
    most_m2 = load_kg / RATE
    for one in laid(areas_m2, load_kg=load_kg, truck_m=truck_m)[:-1]:
        if one.at_run_end:
            after_m2 = areas_m2[one.last_index + 1]
            if one.area_m2 + after_m2 <= most_m2 * (1.0 - 1e-6):
                assert one.area_m2 >= 0.75 * (one.area_m2 + after_m2) * (1.0 - 1e-9)
