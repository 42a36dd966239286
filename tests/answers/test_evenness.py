"""How even the seed lies and which lever to pull: the table against the core, and its rules."""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_folders import EXAMPLES

from duskline.answers.drive import drive_field
from duskline.answers.evenness import (
    EvennessAnswer,
    EvennessRow,
    LeverKey,
    NoTrayTest,
    Response,
    evenness_answer,
    lost_fraction,
)
from duskline.core.errors import OutOfRange
from duskline.core.evenness import (
    Displacement,
    covered,
    crossed,
    cv_after_fraction,
    ground,
    half_rate_twice,
    ripples,
)
from duskline.core.farm import Farm
from duskline.core.lap import skip_fraction
from duskline.core.passes import plan_covering
from duskline.core.trays import TrayPattern, TrayTest, Way, centred, mean_pattern
from duskline.exchange.farmfolder import read_farm

RYE = read_farm(EXAMPLES / "rye-after-soybeans")
OATS = read_farm(EXAMPLES / "oats-and-radish")
FARMS = {"A3": RYE, "B1": OATS}
ANGLE_KEYS = (
    LeverKey.ANGLE_0,
    LeverKey.ANGLE_5,
    LeverKey.ANGLE_10,
    LeverKey.ANGLE_20,
    LeverKey.ANGLE_30,
)
# What turning the covering may change of swath-wide bands: 0.2 points of a hundred.
LITTLE = 0.002


@functools.cache
def answered(field: str) -> EvennessAnswer:
    """Return the answer of a field of the examples, worked out once."""
    return evenness_answer(FARMS[field], field)


def table_of(farm: Farm, field: str = "A3", **asked: float) -> EvennessAnswer:
    """Return the answer of a field without its map."""
    return evenness_answer(farm, field, with_map=False, **asked)  # type: ignore[arg-type]


def with_trays(*runs_g: tuple[float, ...], spacing_m: float = 1.524) -> Farm:
    """Return the rye farm with another tray test, the middle tray on the driving line."""
    half = spacing_m * (len(runs_g[0]) - 1) / 2.0
    test = TrayTest(
        name="made",
        positions_m=tuple(spacing_m * at - half for at in range(len(runs_g[0]))),
        masses_kg=tuple(tuple(one / 1000.0 for one in run) for run in runs_g),
    )
    return replace(RYE, trays={"trays.csv": test})


def with_overlap(overlap_m: float, *, by_eye: bool = True, width_m: float = 9.144) -> Farm:
    """Return the rye farm whose first covering machine is so wide and laps so much."""
    first, *others = RYE.cultivators
    machine = replace(first, overlap_m=overlap_m, by_eye=by_eye, width_m=width_m)
    return replace(RYE, cultivators=(machine, *others))


def rye_pattern() -> TrayPattern:
    """Return the rye's tray pattern."""
    return mean_pattern(RYE.trays["trays.csv"])


def moved(farm: Farm) -> Displacement:
    """Return how covering moves seed by the table of defaults."""
    return Displacement(
        along_sd_m=farm.defaults["displacement_along"].value,
        lateral_sd_m=farm.defaults["displacement_lateral"].value,
    )


EVEN = with_trays((1, 2, 3, 4, 5, 6, 7, 8, 7, 6, 5, 4, 3, 2, 1))
SWATH_M = RYE.spreaders[0].driving_width_m


# --------------------------------------------------------------------------- against the core


def test_evenness_before_and_after_is_that_of_the_ripples() -> None:
    """The top line is the tray pattern driven back and forth, covered at the plan's angle."""
    answer = answered("A3")
    before = ripples(rye_pattern(), driving_width_m=SWATH_M, way=Way.BACK_AND_FORTH)
    angles = (answer.angle_rad,)
    assert answer.before_cv == pytest.approx(before.cv_fraction, rel=1e-12)
    assert answer.after_cv == pytest.approx(
        cv_after_fraction(before, angles_rad=angles, displacement=moved(RYE)), rel=1e-12
    )
    assert answer.present.cv == answer.after_cv
    assert answer.before_cv == pytest.approx(0.1108, abs=5e-5)


def test_the_levers_of_the_spreader_are_those_of_the_core() -> None:
    """Centring, half rate twice and crosswise, each worked out again from the ripples."""
    answer, pattern, how = answered("A3"), rye_pattern(), moved(RYE)
    angle = answer.angle_rad
    once = ripples(pattern, driving_width_m=SWATH_M, way=Way.BACK_AND_FORTH)
    middle = ripples(centred(pattern), driving_width_m=SWATH_M, way=Way.BACK_AND_FORTH)
    twice = half_rate_twice(once, driving_width_m=SWATH_M)
    sets = [
        covered(once, angles_rad=(one,), displacement=how) for one in (angle, 0.5 * math.pi - angle)
    ]
    for key, cv in (
        (LeverKey.CENTRE, cv_after_fraction(middle, angles_rad=(angle,), displacement=how)),
        (LeverKey.HALF_RATE_TWICE, cv_after_fraction(twice, angles_rad=(angle,), displacement=how)),
        (LeverKey.CROSS, 0.5 * math.hypot(*(one.cv_fraction for one in sets))),
    ):
        assert answer.row(key).cv == pytest.approx(cv, rel=1e-12)
    both = crossed(*sets)
    row = answer.row(LeverKey.CROSS)
    assert row.cv == pytest.approx(both.cv_fraction, abs=2e-4)
    # With hardly a strip missed the thinnest tenth is that of the ground itself.
    assert row.thin_tenth_fraction == pytest.approx(both.tenth_quantile_share, abs=1e-3)


def test_two_covering_passes_scatter_twice_and_cross_the_missed_strips() -> None:
    """Variances of both hands add; a strip is missed only where both miss it."""
    farm = with_overlap(0.1)
    answer = table_of(farm)
    row, angle = answer.row(LeverKey.TWO_COVERS), answer.angle_rad
    once = ripples(rye_pattern(), driving_width_m=SWATH_M, way=Way.BACK_AND_FORTH)
    assert row.cv == pytest.approx(
        cv_after_fraction(once, angles_rad=(angle, -angle), displacement=moved(RYE)), rel=1e-12
    )
    assert row.missed_fraction == pytest.approx(answer.present.missed_fraction**2, rel=1e-12)
    assert 0.0 < row.missed_fraction < answer.present.missed_fraction


@pytest.mark.parametrize("field", FARMS)
def test_no_angle_changes_the_bands_by_a_fifth_of_a_point(field: str) -> None:
    """From along the passes to 30 degrees the evenness stays where it is, and is called equal."""
    answer = answered(field)
    for key in ANGLE_KEYS:
        row = answer.row(key)
        assert abs(row.cv - answer.present.cv) < LITTLE
        assert row.verdict == "equal"
        assert row.below_half_fraction == pytest.approx(
            answer.present.below_half_fraction, abs=LITTLE
        )
    falling = [answer.row(key).cv for key in ANGLE_KEYS]
    assert falling == sorted(falling, reverse=True)


@pytest.mark.parametrize("field", FARMS)
def test_the_field_driven_out_agrees_with_the_table(field: str) -> None:
    """With both machines straying, plots of a metre come within half a point of straight passes."""
    answer = answered(field)
    drawn = answer.map
    assert drawn is not None
    assert drawn.before_cv == pytest.approx(answer.before_cv, abs=0.005)
    assert drawn.after_cv == pytest.approx(answer.after_cv, abs=0.005)
    assert drawn.thin_tenth_fraction == pytest.approx(answer.present.thin_tenth_fraction, abs=0.02)
    assert drawn.missed_fraction == pytest.approx(answer.present.missed_fraction, abs=0.002)


def test_the_same_seed_gives_the_same_answer_and_another_only_another_map() -> None:
    """Steering is drawn by the seed; the table does not know it."""
    first, again, other = (evenness_answer(RYE, "A9", seed=seed) for seed in (4, 4, 5))
    assert first.map is not None
    assert again.map is not None
    assert other.map is not None
    assert first.levers == again.levers == other.levers
    assert np.array_equal(first.map.density.sums, again.map.density.sums)
    assert first.map.after_cv == again.map.after_cv
    assert first.map.after_cv != other.map.after_cv


# --------------------------------------------------------------------------- what a lever may do


def test_levers_never_gain_from_nothing() -> None:
    """A pattern that lies perfectly even at its width is not made better by any lever."""
    answer = table_of(EVEN)
    assert answer.before_cv == pytest.approx(0.0, abs=1e-9)
    assert all(row.cv == pytest.approx(0.0, abs=1e-6) for row in answer.levers)
    assert {row.verdict for row in answer.levers} == {"equal"}
    assert (answer.advice.kind, answer.advice.key) == ("even enough", None)


def test_the_best_width_of_an_even_pattern_is_the_width_driven() -> None:
    """No narrower width is named where nothing is to be gained."""
    row = table_of(EVEN).row(LeverKey.BEST_WIDTH)
    assert row.driving_width_m == pytest.approx(SWATH_M, abs=0.01)
    assert row.extra_s == 0.0


def test_centring_a_pattern_that_leans_is_free_and_named_first() -> None:
    """The rye leans two feet to the right: setting it straight takes no minute."""
    answer = answered("A3")
    row = answer.row(LeverKey.CENTRE)
    assert (answer.advice.kind, answer.advice.key) == ("free", LeverKey.CENTRE)
    assert row.extra_s == 0.0
    assert row.extra_cost == 0.0
    assert row.cv < 0.6 * answer.present.cv


def test_a_mix_goes_by_its_worst_seed_whatever_the_lever() -> None:
    """Radish throws least far and rules at 9 m; at 7 m it is the oats that lie least evenly."""
    answer = answered("B1")
    assert answer.ruled_by == answer.present.lot == "Radish"
    best = answer.row(LeverKey.BEST_WIDTH)
    assert best.driving_width_m == pytest.approx(7.0)
    for row in (answer.present, best, answer.row(LeverKey.HALF_RATE_TWICE)):
        width_m = row.driving_width_m or 9.0
        found = {}
        for one in answer.seedings:
            once = ripples(one.pattern, driving_width_m=width_m, way=Way.BACK_AND_FORTH)
            if row.key is LeverKey.HALF_RATE_TWICE:
                once = half_rate_twice(once, driving_width_m=width_m)
            found[one.lot] = cv_after_fraction(
                once, angles_rad=(answer.angle_rad,), displacement=moved(OATS)
            )
        assert row.cv == pytest.approx(max(found.values()), rel=1e-12)
        assert row.lot == max(found, key=lambda lot: found[lot])
    assert best.lot == "Oats"


def test_the_best_width_is_never_wider_than_the_throw_allows() -> None:
    """Nothing lands between passes farther apart than seed flies to both sides."""
    spreader = replace(RYE.spreaders[0], throw_m=6.0)
    row = table_of(replace(RYE, spreaders=(spreader,))).row(LeverKey.BEST_WIDTH)
    assert row.driving_width_m is not None
    assert row.driving_width_m <= SWATH_M + 0.01
    wide = with_trays((1, 2, 4, 7, 9, 10, 10, 10, 10, 10, 9, 7, 4, 2, 1))
    assert (table_of(wide).row(LeverKey.BEST_WIDTH).driving_width_m or 0.0) > SWATH_M


def test_a_wider_width_that_thins_the_thinnest_tenth_is_not_the_best() -> None:
    """45 ft is as even as 40 ft with the rye, but its thinnest tenth is thinner."""
    wider = replace(RYE.spreaders[0], driving_width_m=9 * 1.524)
    there = table_of(replace(RYE, spreaders=(wider,))).present
    here = answered("A3")
    assert there.cv < here.present.cv
    assert there.thin_tenth_fraction < here.present.thin_tenth_fraction - here.limits.gain
    assert here.row(LeverKey.BEST_WIDTH).driving_width_m == pytest.approx(SWATH_M, abs=0.01)


def test_where_evenness_and_thinnest_tenth_disagree_it_is_said() -> None:
    """Driven 45 ft, narrowing by 5 ft is a little less even and yet fills the thinnest tenth."""
    wider = replace(RYE.spreaders[0], driving_width_m=9 * 1.524)
    answer = table_of(replace(RYE, spreaders=(wider,)))
    for row in answer.levers:
        evener = row.cv < answer.present.cv
        fuller = row.thin_tenth_fraction - answer.present.thin_tenth_fraction
        assert row.disagrees == (evener != (fuller > 0.0) and abs(fuller) >= answer.limits.gain)
    assert answer.row(LeverKey.BEST_WIDTH).disagrees


# --------------------------------------------------------------------------- missed strips


def test_missed_strips_come_up_as_bare_ground_does() -> None:
    """With no overlap by eye a strip in 76 is missed; all of it falls under half the stand."""
    farm = with_overlap(0.0)
    answer = table_of(farm)
    first = farm.cultivators[0]
    missed = skip_fraction(
        width_m=first.width_m,
        overlap_m=0.0,
        gap_sd_m=farm.defaults["edge_sd_by_eye"].value,
    )
    present = answer.present
    assert present.missed_fraction == pytest.approx(missed, rel=1e-12)
    assert missed == pytest.approx(0.3 / math.sqrt(2 * math.pi) / 9.144, rel=1e-9)
    share = farm.defaults["emergence_bare"].value / farm.defaults["emergence_covered"].value
    once = ripples(rye_pattern(), driving_width_m=SWATH_M, way=Way.BACK_AND_FORTH)
    after = covered(once, angles_rad=(answer.angle_rad,), displacement=moved(RYE))
    thin = ground(after).below_fraction(0.5 / share)
    assert present.below_half_fraction == pytest.approx(missed * thin, rel=2e-3)


def test_more_overlap_is_worth_it_where_strips_are_missed_and_nowhere_else() -> None:
    """One more foot takes the missed strips away; where none is missed it changes nothing."""
    poor, good = table_of(with_overlap(0.0, width_m=5.0)), answered("A3")
    assert poor.row(LeverKey.MORE_OVERLAP).verdict == "better"
    assert poor.row(LeverKey.MORE_OVERLAP).cv == poor.present.cv
    assert poor.row(LeverKey.SLOWER).below_half_fraction < poor.present.below_half_fraction
    assert good.row(LeverKey.MORE_OVERLAP).verdict == "equal"


def test_who_drives_by_guidance_is_not_told_to_go_slower() -> None:
    """The lever is for a driver by eye."""
    answer = table_of(with_overlap(0.15, by_eye=False))
    assert LeverKey.SLOWER not in {row.key for row in answer.levers}
    with pytest.raises(KeyError):
        answer.row(LeverKey.SLOWER)


def test_a_farm_that_covers_nothing_keeps_what_was_spread() -> None:
    """Without a covering machine there is no angle, and before is after."""
    answer = evenness_answer(replace(RYE, cultivators=()), "A3")
    assert answer.after_cv == answer.before_cv
    assert answer.angle is None
    assert answer.cultivator is None
    assert answer.map is not None
    assert answer.map.missed_fraction == 0.0
    assert {row.key for row in answer.levers} == {
        LeverKey.PRESENT,
        LeverKey.BEST_WIDTH,
        LeverKey.CENTRE,
        LeverKey.HALF_RATE_TWICE,
        LeverKey.CROSS,
    }


# --------------------------------------------------------------------------- plants


def test_plants_are_live_seeds_times_what_comes_up_worked_in() -> None:
    """61 lb live at 41,683 seeds a kilogram; two in three become plants, covering counted once."""
    ruling = answered("A3").ruling
    per_kg = np.mean([832, 841, 828]) / 0.020
    live = RYE.lots[0].wish.live_kg_per_m2 or 0.0
    assert ruling.live_per_m2 == pytest.approx(live * per_kg, rel=1e-3)
    assert ruling.plants is not None
    assert ruling.plants.value == pytest.approx(0.65 * live * per_kg, rel=1e-3)
    assert ruling.plants.low == pytest.approx(0.40 * live * per_kg, rel=1e-3)
    assert ruling.plants.high == pytest.approx(0.80 * live * per_kg, rel=1e-3)


def test_the_stand_that_a_farmer_asked_for_comes_back() -> None:
    """The oats were ordered as 200 plants a square metre, at an emergence the farmer stated."""
    oats = next(one for one in answered("B1").seedings if one.lot == "Oats")
    assert oats.plants is not None
    assert oats.plants.value == pytest.approx(200.0, rel=1e-9)
    assert oats.plants.low is None


@pytest.mark.parametrize("field", FARMS)
def test_the_thinnest_tenth_in_plants_is_its_share_of_the_wanted_stand(field: str) -> None:
    """Each row speaks of its own seed's plants."""
    answer = answered(field)
    plants = {one.lot: one.plants for one in answer.seedings}
    for row in answer.levers:
        wanted = plants[row.lot]
        assert wanted is not None
        assert row.thin_tenth_plants_per_m2 == pytest.approx(
            row.thin_tenth_fraction * float(wanted.value)
        )


def test_without_a_seed_count_no_plants_are_made_up() -> None:
    """A species without a figure and without a count: the share is told, the plants are not."""
    lot = replace(RYE.lots[0], species="phacelia", sample_counts=(), sample_masses_kg=())
    answer = table_of(replace(RYE, lots=(lot,)))
    assert answer.ruling.plants is None
    assert answer.present.thin_tenth_plants_per_m2 is None
    assert answer.present.thin_tenth_fraction > 0.8


# --------------------------------------------------------------------------- minutes and money


def test_minutes_are_those_of_real_plans_of_the_field() -> None:
    """Half rate twice drives the same passes again; an angle and a width have their own plans."""
    answer = answered("A3")
    field = next(one for one in RYE.fields if one.name == "A3")
    assert answer.row(LeverKey.HALF_RATE_TWICE).extra_s == pytest.approx(answer.plan.spread.work_s)
    now = answer.plan.cover
    assert now is not None
    turned = drive_field(
        RYE,
        field,
        spreaders=RYE.spreaders,
        machines=RYE.cultivators[:1],
        angle_rad=math.radians(20.0),
    ).cover
    assert turned is not None
    assert answer.row(LeverKey.ANGLE_20).extra_s == pytest.approx(turned.work_s - now.work_s)
    mix = answered("B1")
    narrow = replace(OATS.spreaders[0], driving_width_m=7.0)
    plan = drive_field(
        OATS,
        next(one for one in OATS.fields if one.name == "B1"),
        spreaders=(narrow,),
        machines=(),
    ).spread
    assert mix.row(LeverKey.BEST_WIDTH).extra_s == pytest.approx(
        plan.work_s - mix.plan.spread.work_s
    )


@pytest.mark.parametrize("field", ["A1", "A2", "A4", "A9", "B1", "B3"])
def test_the_second_covering_goes_to_the_other_hand(field: str) -> None:
    """Its minutes are those of the plan turned the other way; the angle of now costs nothing."""
    farm = RYE if field.startswith("A") else OATS
    answer = table_of(farm, field)
    spread, now = answer.plan.spread, answer.plan.cover
    assert now is not None
    off = now.blocks[0].heading_rad - spread.blocks[0].heading_rad
    other = plan_covering(
        answer.plan.outline,
        spread=spread,
        angles_rad=(-off,),
        driving=now.driving,
        straight_within_m=farm.defaults["straight_within"].value,
        from_m=answer.plan.gate_m,
    )
    turned = math.remainder(other.blocks[0].heading_rad - now.blocks[0].heading_rad, math.pi)
    assert abs(turned) == pytest.approx(2.0 * answer.angle_rad, abs=1e-6)
    assert answer.row(LeverKey.TWO_COVERS).extra_s == pytest.approx(other.work_s, rel=1e-6)
    same = min(ANGLE_KEYS, key=lambda key: abs((answer.row(key).angle_rad or 0) - answer.angle_rad))
    if math.isclose(answer.row(same).angle_rad or 0.0, answer.angle_rad):
        assert answer.row(same).extra_s == pytest.approx(0.0, abs=1e-6)


def test_money_is_fuel_and_time_and_where_ground_is_worked_points() -> None:
    """By hand: half rate twice burns a second spreading; a second covering wears points too."""
    answer, prices = answered("A3"), RYE.prices
    assert prices.fuel_per_m3 is not None
    assert prices.labour_per_s is not None
    assert prices.point_each is not None
    row = answer.row(LeverKey.HALF_RATE_TWICE)
    fuel = RYE.defaults["spreader_fuel"].value * answer.plan.spread_outline.area_m2
    assert row.extra_fuel_m3 == pytest.approx(fuel)
    assert row.extra_cost == pytest.approx(
        fuel * prices.fuel_per_m3 + row.extra_s * prices.labour_per_s
    )
    again = answer.row(LeverKey.TWO_COVERS)
    assert prices.points_count is not None
    assert prices.points_over_m2 is not None
    burnt = again.extra_fuel_m3 / RYE.defaults["cultivator_fuel"].value
    points = burnt * prices.points_count / prices.points_over_m2 * prices.point_each
    assert again.extra_cost == pytest.approx(
        again.extra_fuel_m3 * prices.fuel_per_m3 + again.extra_s * prices.labour_per_s + points
    )


def test_without_prices_no_money_is_made_up() -> None:
    """What is not priced is named, and the money of every lever left open."""
    bare = replace(
        RYE.prices, fuel_per_m3=None, labour_per_s=None, point_each=None, points_count=None
    )
    answer = table_of(replace(RYE, prices=bare))
    assert answer.not_priced == ("fuel", "labour", "points")
    assert {row.extra_cost for row in answer.levers} == {None}


def test_going_slower_takes_the_time_that_speed_is_worth() -> None:
    """A fifth slower is a quarter more on the straight, and no fuel is said to be saved."""
    answer = answered("A3")
    row, now = answer.row(LeverKey.SLOWER), answer.plan.cover
    assert now is not None
    straight_s = (float(now.pass_lengths_m.sum()) + now.rounds_length_m) / now.driving.speed_mps
    # Turns are a hair slower as well: they are taken no faster than the work.
    assert 0.25 * straight_s <= row.extra_s < 0.26 * straight_s
    assert row.extra_fuel_m3 == pytest.approx(0.0, abs=1e-12)


# --------------------------------------------------------------------------- rules and ranges


def is_better(row: EvennessRow, answer: EvennessAnswer) -> bool:
    """Return whether the stated rule calls a row better."""
    now, limits = answer.present, answer.limits
    told = now.cv - row.cv >= limits.gain and row.cv_high < now.cv
    thick = now.below_half_fraction - row.below_half_fraction >= limits.thin_gain
    dense = row.cv - now.cv >= limits.gain and row.cv_low > now.cv
    return told or (thick and not dense)


catches = st.lists(st.floats(1.0, 20.0), min_size=9, max_size=15).map(tuple)


@settings(max_examples=12)
@given(run=catches, angle=st.floats(0.0, 0.7))
def test_the_table_holds_its_rules_for_any_trays(run: tuple[float, ...], angle: float) -> None:
    """Ranges hold their figure, shares are shares, equal is equal, covering never makes stripes."""
    answer = table_of(with_trays(run), angle_rad=angle)
    assert answer.present.extra_s == answer.present.extra_fuel_m3 == answer.present.extra_cost == 0
    assert answer.present.verdict == "equal"
    assert answer.after_cv <= answer.before_cv
    for row in answer.levers:
        assert 0.0 <= row.cv_low <= row.cv <= row.cv_high
        assert 0.0 <= row.below_half_fraction <= 1.0
        assert 0.0 <= row.thin_tenth_fraction <= 1.01
        assert (row.verdict == "better") == is_better(row, answer)
    assert answer.row(LeverKey.CENTRE).extra_s == 0.0
    if answer.advice.kind in {"pull", "free"}:
        assert answer.advice.key is not None
        assert answer.row(answer.advice.key).verdict == "better"


def test_tray_runs_that_differ_widen_the_range() -> None:
    """Two runs that lie far apart say less than two that agree."""
    one = (0, 3, 5, 8, 14, 16, 16, 19, 17, 16, 15, 12, 7, 4, 1)
    other = (0, 1, 8, 12, 8, 20, 12, 22, 14, 20, 10, 16, 4, 6, 1)
    alike, apart = table_of(with_trays(one, one)), table_of(with_trays(one, other))
    widths = [each.present.cv_high - each.present.cv_low for each in (alike, apart)]
    assert widths[1] > widths[0]
    single = table_of(with_trays(one)).present
    assert single.cv_high - single.cv_low > widths[0]


def test_few_seeds_in_the_trays_pull_only_the_low_side_down() -> None:
    """Chance makes trays look less even than the machine is, never more."""
    many = (0, 30, 50, 80, 140, 160, 160, 190, 170, 160, 150, 120, 70, 40, 10)
    few = tuple(one / 100.0 for one in many)
    plenty, scant = table_of(with_trays(many)).present, table_of(with_trays(few)).present
    assert scant.cv == pytest.approx(plenty.cv)
    assert scant.cv_high == pytest.approx(plenty.cv_high)
    assert scant.cv_low < plenty.cv_low


def test_an_uneven_spread_is_told_which_lever_to_pull() -> None:
    """Back and forth with far too wide passes: a lever is named that costs minutes, and gains."""
    wide = replace(RYE.spreaders[0], driving_width_m=18.288)
    answer = table_of(replace(EVEN, spreaders=(wide,)))
    assert answer.present.cv > answer.limits.even_enough
    assert answer.advice.kind == "pull"
    assert answer.advice.key is not None
    chosen = answer.row(answer.advice.key)
    assert answer.present.cv - chosen.cv >= answer.limits.gain
    assert chosen.extra_s > 0.0
    better = [row for row in answer.levers if row.verdict == "better"]
    each = {
        row.key: row.extra_s
        / (
            answer.present.cv
            - row.cv
            + answer.present.below_half_fraction
            - row.below_half_fraction
        )
        for row in better
    }
    assert answer.advice.key == min(each, key=lambda key: each[key])


def test_no_tray_test_is_an_error_that_says_what_to_do() -> None:
    """Without trays nothing is assumed of the spreader."""
    with pytest.raises(NoTrayTest, match="Bin rye: set trays first") as caught:
        evenness_answer(replace(RYE, trays={}), "A3")
    assert caught.value.lot == "Bin rye"


def test_a_seed_of_the_mix_without_trays_is_named() -> None:
    """The oats alone are answered for; the radish is asked for."""
    kept = {"trays-oats.csv": OATS.trays["trays-oats.csv"]}
    answer = table_of(replace(OATS, trays=kept), "B1")
    assert answer.ruled_by == "Oats"
    assert answer.without_trays == ("Radish",)


def test_a_field_that_is_not_there_or_has_no_outline_is_refused() -> None:
    """A name of no field, and a field of which only the acres are known."""
    with pytest.raises(KeyError):
        evenness_answer(RYE, "Z9")
    fields = tuple(replace(one, outline=None, drive_outline=None) for one in RYE.fields)
    with pytest.raises(ValueError, match="no outline"):
        evenness_answer(replace(RYE, fields=fields), "A3")


# --------------------------------------------------------------------------- the angle, the cost


def test_the_angle_eases_ridges_and_leaves_the_bands() -> None:
    """At 5 degrees: ridges under two feet, 30-inch rows a little, the 80 ft repeat not at all."""
    effect = answered("A3").angle
    assert effect is not None
    assert 0.3 < effect.eased_m < 1.0
    assert effect.row_kept < effect.row_kept_along
    assert effect.band_kept > 0.999
    assert effect.along_cv - effect.after_cv < LITTLE
    assert effect.bands_crossed == pytest.approx(
        effect.run_length_m * math.sin(effect.angle_rad) / SWATH_M
    )


@pytest.mark.parametrize(
    ("response", "strength", "cv", "lost"),
    [
        ("quadratic", 0.5, 0.20, 0.02),
        ("exponential", 2.0, 0.10, 0.00316),
        ("exponential", 2.0, 0.20, 0.01304),
        ("plateau", 0.8, 0.15, 0.00795),
        ("plateau", 0.8, 0.25, 0.03756),
    ],
)
def test_cover_lost_is_that_of_the_closed_forms(
    response: Response, strength: float, cv: float, lost: float
) -> None:
    """For a normal stand the exponential and plateau losses have formulas, worked by hand."""
    normal = NormalDist(1.0, cv)
    shares = np.asarray([normal.inv_cdf((at + 0.5) / 20_000) for at in range(20_000)])
    found = lost_fraction(shares, response=response, strength=strength)
    if response == "plateau":
        z = (strength - 1.0) / cv
        standard = NormalDist()
        mean = 1.0 - cv * (standard.pdf(z) - z * (1.0 - standard.cdf(z)))
        assert found == pytest.approx((strength - mean) / strength, rel=1e-3)
    assert found == pytest.approx(lost, rel=3e-3)


@given(
    stand=st.lists(st.floats(0.0, 3.0), min_size=2, max_size=30).filter(lambda one: sum(one) > 0.1),
    strength=st.floats(0.1, 3.0),
    response=st.sampled_from(["quadratic", "exponential", "plateau"]),
)
def test_unevenness_never_gains_cover(
    stand: list[float], strength: float, response: Response
) -> None:
    """Every response is concave, so an even stand is the best there is."""
    shares = np.asarray(stand) / np.mean(stand)
    assert lost_fraction(shares, response=response, strength=strength) >= -1e-12
    even = np.ones(7)
    assert lost_fraction(even, response=response, strength=strength) == pytest.approx(0, abs=1e-12)


def test_a_response_without_strength_is_refused() -> None:
    """Nothing or less than nothing is no response."""
    with pytest.raises(OutOfRange):
        lost_fraction(np.ones(3), response="quadratic", strength=0.0)


def test_the_cost_is_marked_as_ours_and_has_a_range() -> None:
    """Low, middle, high in order; the source says whose judgement it is."""
    for response in ("quadratic", "exponential", "plateau"):
        loss = evenness_answer(RYE, "A3", with_map=False, response=response).loss
        assert loss.lost.low is not None
        assert loss.lost.high is not None
        assert 0.0 <= loss.lost.low <= float(loss.lost.value) <= loss.lost.high
        assert "our judgement" in loss.lost.source
        assert loss.response == response
