"""The lot: counts, pure live seed, fitness and insects, with the hand-work."""

from __future__ import annotations

import itertools
import math
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from duskline.core.errors import OutOfRange
from duskline.core.seed import (
    Agreement,
    FitnessLevel,
    FitnessLimits,
    Germination,
    GrainKind,
    SeedSample,
    bulk_mass_kg,
    chance_of_finding_fraction,
    fitness,
    germination,
    half_width_fraction,
    infested,
    insects_hidden_per_kg,
    live_mass_kg,
    pure_live_seed_fraction,
    replicate_tolerance,
    seeds_per_kg_counted,
    seeds_per_kg_from_thousand,
    seeds_to_count,
    two_tests_agree,
)

LB_KG = 0.45359237
LIMITS = FitnessLimits(use_fraction=0.85, ask_fraction=0.70, do_not_fraction=0.50)
AGREED = Agreement(agreed_by="A. Clerk, conservation office", agreed_on=date(2026, 10, 1))


def _count(alive: int, seeds: int, sure: float = 0.95) -> Germination:
    return germination(alive_counts=(alive,), seeds_per_replicate=seeds, sure_fraction=sure)


# --- germination ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("alive", "seeds", "low"), [(172, 200, 0.813), (88, 100, 0.813), (176, 200, 0.835)]
)
def test_low_side_of_a_count_is_the_exact_one(alive: int, seeds: int, low: float) -> None:
    """172 of 200 and 88 of 100 plan on 81.3 %, 176 of 200 on 83.5 %."""
    test = _count(alive, seeds)
    assert test.estimate_fraction == alive / seeds
    assert abs(test.low_fraction - low) <= 0.0005


@pytest.mark.parametrize(("alive", "seeds"), [(0, 50), (1, 50), (43, 50), (172, 200), (50, 50)])
def test_low_side_is_where_so_good_a_count_becomes_rare(alive: int, seeds: int) -> None:
    """If the lot were as poor as its low side, 1 count in 20 would still come out this good."""
    low = _count(alive, seeds).low_fraction
    by_luck = float(stats.binom.sf(alive - 1, seeds, low))
    assert by_luck == pytest.approx(0.05 if alive > 0 else 1.0, abs=1e-9)


LIMITS_95 = {  # seeds: {percent alive: (low, high)}, percent, derived from the binomial law
    100: {
        95: (88.7, 98.4),
        90: (82.4, 95.1),
        85: (76.5, 91.4),
        80: (70.8, 87.3),
        70: (60.0, 78.8),
    },
    200: {
        95: (91.0, 97.6),
        90: (85.0, 93.8),
        85: (79.3, 89.6),
        80: (73.8, 85.3),
        70: (63.1, 76.3),
    },
    400: {
        95: (92.4, 96.9),
        90: (86.6, 92.8),
        85: (81.1, 88.4),
        80: (75.7, 83.8),
        70: (65.2, 74.5),
    },
}
ONE_SIDED_95 = {90: (83.6, 85.8, 87.2), 85: (77.8, 80.2, 81.7), 80: (72.3, 74.8, 76.4)}


@pytest.mark.parametrize("seeds", [100, 200, 400])
def test_two_sided_limits_of_the_usual_counts(seeds: int) -> None:
    """95 % limits of 100, 200 and 400 seeds, to the tenth of a point."""
    for percent, (low, high) in LIMITS_95[seeds].items():
        test = _count(percent * seeds // 100, seeds)
        assert abs(100 * test.interval_low_fraction - low) <= 0.05 + 1e-9
        assert abs(100 * test.interval_high_fraction - high) <= 0.05 + 1e-9


def test_one_sided_limits_narrow_as_the_count_grows() -> None:
    """90 % alive: plan on 83.6 with 100 seeds, 85.8 with 200, 87.2 with 400."""
    for percent, lows in ONE_SIDED_95.items():
        found = [_count(percent * n // 100, n).low_fraction for n in (100, 200, 400)]
        assert [round(100 * low, 1) for low in found] == list(lows)


@settings(deadline=None)
@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_limits_always_enclose_the_estimate(counted: tuple[int, int]) -> None:
    """Low, one-sided low, estimate and high stand in this order whatever is counted."""
    test = _count(*counted)
    ordered = [
        0.0,
        test.interval_low_fraction,
        test.low_fraction,
        test.estimate_fraction,
        test.interval_high_fraction,
        1.0,
    ]
    assert all(below <= above + 1e-12 for below, above in itertools.pairwise(ordered))


@settings(deadline=None)
@given(st.integers(1, 200), st.integers(2, 5))
def test_more_of_the_same_narrows_the_limits(alive: int, times: int) -> None:
    """Counting several times as many seeds with the same share alive never lowers the low side."""
    assert _count(alive * times, 200 * times).low_fraction >= _count(alive, 200).low_fraction


def test_asking_to_be_surer_lowers_the_low_side() -> None:
    """99 in 100 plans on less than 95 in 100."""
    assert _count(172, 200, 0.99).low_fraction < _count(172, 200, 0.95).low_fraction


def test_one_towel_has_no_range() -> None:
    """With one replicate there is nothing to compare."""
    test = _count(172, 200)
    assert test.replicate_range_points is None
    assert test.replicates_agree is None


@pytest.mark.parametrize(
    ("counts", "mean", "spread", "allowed", "agree"),
    [
        ((84, 96, 90, 90), 90, 12, 12, True),  # SEED-C22, accepted
        ((83, 96, 91, 90), 90, 13, 12, False),  # SEED-C22, to be done again
        ((85, 72, 83, 84), 81, 13, 15, True),  # SEED-C24
        ((92, 82), 87, 10, 11, True),  # SEED-C25, two replicates
    ],
)
def test_replicates_are_held_to_the_table(
    counts: tuple[int, ...], mean: int, spread: int, allowed: int, agree: bool
) -> None:
    """Range among replicates against what the table allows at their mean."""
    test = germination(alive_counts=counts, seeds_per_replicate=100, sure_fraction=0.95)
    assert test.estimate_fraction == mean / 100
    assert test.replicate_range_points == pytest.approx(spread)
    assert test.replicate_tolerance_points == allowed
    assert test.replicate_tolerance_basis == "read"
    assert test.replicates_agree is agree


@pytest.mark.parametrize(
    ("percent", "four", "two"), [(70, 18, 15), (61, 19, 15), (60, 20, 16), (51, 20, 16)]
)
def test_where_the_table_stops_the_rule_goes_on_and_says_so(
    percent: int, four: int, two: int
) -> None:
    """Below 71 % the table was not seen: 3.98 (or 3.17) times sqrt(p q / 100), marked derived.

    By hand at 60 %: 3.984 * sqrt(60 * 40 / 100) = 19.5, so 20.
    """
    for replicates, allowed in ((4, four), (2, two)):
        rule = replicate_tolerance(
            mean_fraction=percent / 100, replicates_count=replicates, seeds_per_replicate=100
        )
        assert (rule.allowed_points, rule.basis) == (allowed, "derived")


def test_rolls_of_fifty_are_held_to_the_rule() -> None:
    """Four rolls of 50 at 88 %: 3.984 * sqrt(88 * 12 / 50) = 18.3, so 18 points, or 9 seeds."""
    close = germination(alive_counts=(44, 48, 40, 44), seeds_per_replicate=50, sure_fraction=0.95)
    assert (close.replicate_tolerance_points, close.replicate_tolerance_basis) == (18, "derived")
    assert close.replicates_agree is True
    wide = germination(alive_counts=(44, 49, 39, 44), seeds_per_replicate=50, sure_fraction=0.95)
    assert wide.replicates_agree is False


def test_towels_of_different_size_have_no_rule() -> None:
    """One towel of 50 and one of 100 are pooled but not compared with a table."""
    test = germination(alive_counts=(44, 90), seeds_per_replicate=(50, 100), sure_fraction=0.95)
    assert test.estimate_fraction == 134 / 150
    assert test.replicate_range_points == pytest.approx(2.0)
    assert test.replicate_tolerance_points is None
    assert test.replicates_agree is None


def test_the_rule_behind_the_table_is_the_range_of_normals() -> None:
    """The factors are the upper 2.5 % points of the range of k normal values, to four digits."""
    for k in range(2, 9):
        exact = float(stats.studentized_range.ppf(0.975, k, math.inf))
        points = replicate_tolerance(
            mean_fraction=0.5, replicates_count=k, seeds_per_replicate=2500
        ).allowed_points
        assert points == math.floor(exact * 1.0 + 0.5)
        fine = replicate_tolerance(mean_fraction=0.5, replicates_count=k, seeds_per_replicate=1)
        assert fine.allowed_points == math.floor(exact * 50.0 + 0.5)


def test_nine_replicates_have_no_rule() -> None:
    """Beyond eight replicates nothing is claimed."""
    rule = replicate_tolerance(mean_fraction=0.9, replicates_count=9, seeds_per_replicate=100)
    assert (rule.allowed_points, rule.basis) == (None, None)


def test_near_perfect_replicates_are_never_refused() -> None:
    """With at most 4 dead of 400, however they fall, the spread cannot fail the lot."""
    for dead in itertools.product(range(5), repeat=4):
        if sum(dead) <= 4:
            counts = tuple(100 - one for one in dead)
            test = germination(alive_counts=counts, seeds_per_replicate=100, sure_fraction=0.95)
            assert test.replicates_agree is True


@pytest.mark.parametrize(
    ("first", "second", "seeds", "allowed", "agree"),
    [
        (376, 356, 400, 5, True),  # SEED-C23: 94 and 89 %, mean 91.5, differ by 5
        (352, 328, 400, 7, True),  # SEED-C26: 88 and 82 %, mean 85, differ by 6
        (376, 352, 400, 5, False),  # 94 and 88 %, mean 91, differ by 6
        (188, 176, 200, 7, True),  # the same shares from 200 seeds: two points more
    ],
)
def test_two_tests_are_held_to_the_table(
    first: int, second: int, seeds: int, allowed: int, agree: bool
) -> None:
    """Difference of two tests against what the table allows at their mean."""
    verdict = two_tests_agree(first=_count(first, seeds), second=_count(second, seeds))
    assert verdict.allowed_points == allowed
    assert verdict.agree is agree


def test_two_small_tests_get_no_verdict() -> None:
    """The table is for 400 seeds, or 200; for 100 nothing is claimed."""
    verdict = two_tests_agree(first=_count(90, 100), second=_count(80, 100))
    assert verdict.difference_points == pytest.approx(10.0)
    assert (verdict.allowed_points, verdict.agree) == (None, None)


@settings(deadline=None)
@given(st.integers(0, 400), st.integers(0, 400))
def test_agreement_does_not_depend_on_which_test_came_first(one: int, other: int) -> None:
    """Swapping the tests changes nothing, and a test always agrees with itself."""
    there = two_tests_agree(first=_count(one, 400), second=_count(other, 400))
    back = two_tests_agree(first=_count(other, 400), second=_count(one, 400))
    assert there == back
    assert two_tests_agree(first=_count(one, 400), second=_count(one, 400)).agree is True


def test_counting_as_advised_narrows_to_what_was_asked() -> None:
    """The count that gives 5 points either way gives 5 points either way.

    By hand at 85 %: 1.96^2 * 0.85 * 0.15 / 0.05^2 = 195.9, so 196.
    """
    seeds = seeds_to_count(germination_fraction=0.85, within_fraction=0.05, sure_fraction=0.95)
    assert seeds == 196
    for n, within in ((seeds, True), (seeds - 1, False)):
        width = half_width_fraction(germination_fraction=0.85, seeds_count=n, sure_fraction=0.95)
        assert (width <= 0.05) is within


def test_certainty_takes_no_number_of_seeds() -> None:
    """No count makes anybody quite sure."""
    with pytest.raises(OutOfRange):
        seeds_to_count(germination_fraction=0.85, within_fraction=0.05, sure_fraction=1.0)


@pytest.mark.parametrize(
    ("counts", "size", "sure"),
    [((), 100, 0.95), ((101,), 100, 0.95), ((-1,), 100, 0.95), ((0,), 0, 0.95), ((50,), 100, 1.0)],
)
def test_impossible_counts_are_refused(counts: tuple[int, ...], size: int, sure: float) -> None:
    """More seedlings than seeds, no seeds, or certainty: refused."""
    with pytest.raises(OutOfRange):
        germination(alive_counts=counts, seeds_per_replicate=size, sure_fraction=sure)


def test_a_size_for_each_towel_is_asked_for() -> None:
    """Two towels and three sizes do not fit together."""
    with pytest.raises(OutOfRange):
        germination(alive_counts=(40, 41), seeds_per_replicate=(50, 50, 50), sure_fraction=0.95)


# --- pure live seed and seeds in a kilogram ---------------------------------------------------


def test_example_rye_runs_out_of_the_bin_at_85_percent_live() -> None:
    """88 % of 97 % pure is 85.36 % live: 61 live takes 71.46 bulk."""
    live = pure_live_seed_fraction(purity_fraction=0.97, germination_fraction=0.88)
    assert live == pytest.approx(0.8536)
    assert round(bulk_mass_kg(live_mass_kg=61.0, pure_live_seed_fraction=live), 2) == 71.46


def test_bin_grain_at_54_percent_nearly_doubles_the_mass() -> None:
    """90 % purity times 60 % germination is 54 %: 100 lb live is 185 lb out of the bin."""
    live = pure_live_seed_fraction(purity_fraction=0.90, germination_fraction=0.60)
    assert round(bulk_mass_kg(live_mass_kg=100.0, pure_live_seed_fraction=live)) == 185


@settings(deadline=None)
@given(st.floats(0.01, 1.0), st.floats(0.0, 1e6))
def test_live_and_bulk_go_there_and_back(live_fraction: float, mass_kg: float) -> None:
    """Live to bulk to live is the same mass, and bulk is never less than live."""
    bulk = bulk_mass_kg(live_mass_kg=mass_kg, pure_live_seed_fraction=live_fraction)
    back = live_mass_kg(bulk_mass_kg=bulk, pure_live_seed_fraction=live_fraction)
    assert back == pytest.approx(mass_kg)
    assert bulk >= mass_kg


def test_hard_and_germinating_seed_cannot_be_more_than_all() -> None:
    """97 % germinating and 5 % hard is 102 %: refused; 95 and 5 is all of it."""
    with pytest.raises(OutOfRange):
        pure_live_seed_fraction(purity_fraction=1.0, germination_fraction=0.97, hard_fraction=0.05)
    whole = pure_live_seed_fraction(
        purity_fraction=0.98, germination_fraction=0.95, hard_fraction=0.05
    )
    assert whole == pytest.approx(0.98)


def test_dead_seed_has_no_bulk_rate() -> None:
    """No amount of dead seed holds live seed."""
    with pytest.raises(OutOfRange):
        bulk_mass_kg(live_mass_kg=1.0, pure_live_seed_fraction=0.0)


def test_three_counts_of_twenty_grams_make_18907_to_the_pound() -> None:
    """832, 841 and 828 in 20 g: 2501 seeds in 60 g, 18,907 to the pound.

    By hand: 2501 / 0.060 = 41,683 per kg; * 0.45359237 = 18,907. The deviations from 833.67 are
    -1.67, 7.33, -5.67: s = sqrt(88.67 / 2) = 6.66 seeds in 20 g, or 333 per kg, 0.8 %.
    """
    counted = seeds_per_kg_counted(
        tuple(SeedSample(mass_kg=0.020, seeds_count=n) for n in (832, 841, 828))
    )
    assert round(counted.mean_per_kg * LB_KG) == 18907
    assert counted.sd_per_kg == pytest.approx(332.9, abs=0.05)
    assert counted.spread_fraction == pytest.approx(0.0080, abs=0.00005)
    assert counted.low_per_kg == pytest.approx(41400.0)
    assert counted.high_per_kg == pytest.approx(42050.0)
    assert (counted.samples_count, counted.seeds_count) == (3, 2501)


def test_one_sample_has_no_spread() -> None:
    """A single count gives a figure and no measure of how good it is."""
    counted = seeds_per_kg_counted((SeedSample(mass_kg=0.020, seeds_count=832),))
    assert counted.sd_per_kg is None
    assert counted.spread_fraction is None


@pytest.mark.parametrize(
    ("grams", "per_lb"),
    [(25, 18144), (30, 15120), (35, 12960), (40, 11340), (45, 10080), (50, 9072)],
)
def test_thousand_seed_mass_gives_seeds_to_the_pound(grams: int, per_lb: int) -> None:
    """453,592.37 divided by the grams of a thousand seeds."""
    assert round(seeds_per_kg_from_thousand(thousand_seed_kg=grams / 1000) * LB_KG) == per_lb


@settings(deadline=None)
@given(st.lists(st.integers(100, 2000), min_size=1, max_size=6), st.floats(0.005, 0.1))
def test_thousand_seed_mass_and_count_are_one_figure(counts: list[int], mass_kg: float) -> None:
    """From a count to the thousand-seed mass and back; the mean lies among the samples."""
    counted = seeds_per_kg_counted(
        tuple(SeedSample(mass_kg=mass_kg, seeds_count=n) for n in counts)
    )
    back = seeds_per_kg_from_thousand(thousand_seed_kg=counted.thousand_seed_kg)
    assert back == pytest.approx(counted.mean_per_kg)
    assert counted.low_per_kg <= counted.mean_per_kg * (1 + 1e-12)
    assert counted.mean_per_kg <= counted.high_per_kg * (1 + 1e-12)


def test_no_samples_no_count() -> None:
    """Without a sample, or with an empty one, there is no figure."""
    with pytest.raises(OutOfRange):
        seeds_per_kg_counted(())
    with pytest.raises(OutOfRange):
        SeedSample(mass_kg=0.0, seeds_count=10)


# --- fitness ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("germinates", "level", "heavier", "tick"),
    [
        (0.92, FitnessLevel.USE, False, True),
        (0.85, FitnessLevel.USE, False, True),
        (0.849, FitnessLevel.USE_HEAVIER, True, True),
        (0.70, FitnessLevel.USE_HEAVIER, True, True),
        (0.68, FitnessLevel.ASK_FIRST, True, False),
        (0.49, FitnessLevel.DO_NOT, True, False),
    ],
)
def test_levels_of_fitness(
    germinates: float, level: FitnessLevel, heavier: bool, tick: bool
) -> None:
    """85 and above: use. 70 to 84: heavier. Below 70: ask first. Very low: do not."""
    verdict = fitness(germination_fraction=germinates, limits=LIMITS)
    assert (verdict.level, verdict.heavier, verdict.tick) == (level, heavier, tick)


def test_no_tick_until_who_agreed_and_when_is_recorded() -> None:
    """A lot of 68 %: heavier, ask first, no tick; with a name and a day the tick comes."""
    asked = fitness(germination_fraction=0.68, limits=LIMITS)
    assert (asked.level, asked.heavier) == (FitnessLevel.ASK_FIRST, True)
    assert asked.waiting
    assert not asked.tick
    agreed = fitness(germination_fraction=0.68, limits=LIMITS, agreement=AGREED)
    assert agreed.level is FitnessLevel.ASK_FIRST
    assert not agreed.waiting
    assert agreed.tick


def test_an_agreement_without_a_name_is_none() -> None:
    """Somebody said yes is not a record."""
    with pytest.raises(OutOfRange):
        Agreement(agreed_by="  ", agreed_on=date(2026, 10, 1))


def test_no_agreement_lifts_do_not() -> None:
    """Seed that should not be sown gets no tick whoever agreed."""
    assert not fitness(germination_fraction=0.30, limits=LIMITS, agreement=AGREED).tick


def test_the_offices_floor_asks_even_for_sound_seed() -> None:
    """78 % is only heavier by itself; under a floor of 80 % the office is asked first."""
    alone = fitness(germination_fraction=0.78, limits=LIMITS)
    floored = fitness(germination_fraction=0.78, limits=LIMITS, office_floor_fraction=0.80)
    assert alone.level is FitnessLevel.USE_HEAVIER
    assert floored.level is FitnessLevel.ASK_FIRST
    above = fitness(germination_fraction=0.88, limits=LIMITS, office_floor_fraction=0.90)
    assert (above.level, above.heavier) == (FitnessLevel.ASK_FIRST, False)


@settings(deadline=None)
@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_better_seed_is_never_judged_worse(one: float, other: float, floor: float) -> None:
    """The level rises with the germination, and the tick with it."""
    order = list(FitnessLevel)
    low, high = sorted((one, other))
    worse = fitness(germination_fraction=low, limits=LIMITS, office_floor_fraction=floor)
    better = fitness(germination_fraction=high, limits=LIMITS, office_floor_fraction=floor)
    assert order.index(better.level) <= order.index(worse.level)
    assert better.tick >= worse.tick


def test_limits_must_stand_in_order() -> None:
    """The limit to ask cannot lie above the limit to use."""
    with pytest.raises(OutOfRange):
        FitnessLimits(use_fraction=0.7, ask_fraction=0.8, do_not_fraction=0.5)


# --- insects ----------------------------------------------------------------------------------


def test_three_weevils_in_a_kilogram_of_rye_warn() -> None:
    """Three live weevils: infested, a warning; the rule for two weevils in rye is from memory."""
    found = infested(kind=GrainKind.RYE, weevils_count=3, others_count=0, mass_kg=1.0)
    assert found.warn
    assert found.infested is True
    assert found.basis == "memory"
    assert found.insects_per_kg == 3.0


@pytest.mark.parametrize(
    ("kind", "weevils", "others", "verdict", "basis"),
    [
        (GrainKind.WHEAT, 1, 0, False, "memory"),
        (GrainKind.WHEAT, 0, 1, False, "memory"),
        (GrainKind.TRITICALE, 0, 2, True, "memory"),
        (GrainKind.RYE, 1, 1, True, "read"),
        (GrainKind.RYE, 0, 0, False, "memory"),
        (GrainKind.OTHER, 5, 5, None, None),
    ],
)
def test_bread_grains_say_which_rules_are_from_memory(
    kind: GrainKind, weevils: int, others: int, verdict: bool | None, basis: str | None
) -> None:
    """Only one weevil with one other was read for wheat, rye and triticale."""
    found = infested(kind=kind, weevils_count=weevils, others_count=others, mass_kg=1.0)
    assert (found.infested, found.basis) == (verdict, basis)


def test_a_species_without_a_rule_reads_as_other() -> None:
    """Radish is no grain of the standards; rye and corn are."""
    assert GrainKind("radish") is GrainKind.OTHER
    assert GrainKind("rye") is GrainKind.RYE


def test_one_live_insect_warns_without_making_the_grain_infested() -> None:
    """A single beetle is no infestation and still worth a word."""
    found = infested(kind=GrainKind.OATS, weevils_count=0, others_count=1, mass_kg=1.0)
    assert found.infested is False
    assert found.warn


def test_a_small_sample_never_clears_the_grain() -> None:
    """Half a kilogram without insects tells nothing; with two weevils it tells enough."""
    clear = infested(kind=GrainKind.OATS, weevils_count=0, others_count=0, mass_kg=0.5)
    assert (clear.infested, clear.warn) == (None, False)
    bad = infested(kind=GrainKind.OATS, weevils_count=2, others_count=0, mass_kg=0.5)
    assert bad.infested is True


def test_a_large_sample_is_brought_down_to_a_kilogram() -> None:
    """Two weevils in 2 kg of oats are one in a kilogram: not infested, by our own arithmetic."""
    found = infested(kind=GrainKind.OATS, weevils_count=2, others_count=0, mass_kg=2.0)
    assert (found.infested, found.basis) == (False, "derived")


@settings(deadline=None)
@given(
    st.sampled_from(list(GrainKind)), st.integers(0, 12), st.integers(0, 12), st.floats(0.1, 5.0)
)
def test_one_more_insect_never_clears_the_grain(
    kind: GrainKind, weevils: int, others: int, mass_kg: float
) -> None:
    """What is infested stays so with another weevil or another beetle."""
    found = infested(kind=kind, weevils_count=weevils, others_count=others, mass_kg=mass_kg)
    if found.infested:
        more = [
            infested(kind=kind, weevils_count=weevils + 1, others_count=others, mass_kg=mass_kg),
            infested(kind=kind, weevils_count=weevils, others_count=others + 1, mass_kg=mass_kg),
        ]
        assert all(one.infested for one in more)


@pytest.mark.parametrize(
    ("per_kg", "kilograms", "percent"),
    [(1.0, 1, 63), (1.0, 3, 95), (1.0, 5, 99), (0.5, 1, 39), (0.5, 3, 78), (0.5, 5, 92)],
)
def test_chance_of_finding_an_insect(per_kg: float, kilograms: int, percent: int) -> None:
    """One insect a kilogram shows in 63 of 100 samples of one kilogram, 95 of three."""
    chance = chance_of_finding_fraction(insects_per_kg=per_kg, mass_kg=kilograms)
    assert round(100 * chance) == percent


def test_an_empty_kilogram_may_still_hide_three() -> None:
    """No insect in one kilogram: 19 times in 20 there are fewer than three in each, -ln 0.05."""
    hidden = insects_hidden_per_kg(mass_kg=1.0, sure_fraction=0.95)
    assert hidden == pytest.approx(2.996, abs=0.0005)
    assert chance_of_finding_fraction(insects_per_kg=hidden, mass_kg=1.0) == pytest.approx(0.95)
