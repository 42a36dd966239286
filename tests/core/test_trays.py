"""The tray test: folding, evenness, widths, counting noise and lean, worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from duskline.core.errors import OutOfRange
from duskline.core.trays import (
    TrayPattern,
    TraysUneven,
    TrayTest,
    Way,
    WidthInterval,
    acceptable_widths,
    centred,
    combined_unevenness_fraction,
    counting_floor_fraction,
    evenness,
    fold,
    good_interval,
    half_of_centre_width_m,
    half_of_maximum_m,
    mean_pattern,
    mean_rate_kg_per_m2,
    nominal_passes_count,
    passes_for_floor_count,
    positions_from_path,
    run_patterns,
    run_spread_fraction,
    sample_cv_fraction,
    seeds_per_tray_count,
    skew,
    split_skew,
    spreading_rate_m2_per_s,
    throw_m,
    tray_rate_kg_per_m2,
    tray_spacing_m,
    whole_widths_m,
    without_counting_noise_fraction,
)

FloatArray = npt.NDArray[np.float64]

# SPREAD-C1: 13 trays 1.5 m apart, grams in 0.25 m2, one pass.
SKEWED = (0.4, 1.6, 3.9, 6.8, 9.7, 12.1, 13.0, 12.6, 11.2, 9.0, 6.1, 3.3, 1.2)
RYE = (0, 2, 5, 9, 13, 16, 17, 18, 17, 17, 15, 12, 8, 4, 2)  # 15 trays at 5 ft
OATS = (0, 1, 3, 6, 10, 14, 16, 17, 17, 18, 17, 16, 15, 14, 11, 7, 4, 1, 0)  # 19 at 1 m
RADISH = (0, 0, 0, 1, 4, 8, 12, 15, 17, 18, 17, 15, 12, 8, 4, 1, 0, 0, 0)
GRAM_KG = 1e-3
HALF_DIGIT = 0.00005  # half the last digit of a percentage printed with two decimals


def row(catch: tuple[float, ...], spacing_m: float, *, off_middle_m: float = 0.0) -> TrayPattern:
    """Trays about a driving line in the middle of the row, or moved off it."""
    return TrayPattern(
        first_tray_m=off_middle_m - spacing_m * (len(catch) - 1) / 2,
        spacing_m=spacing_m,
        catch=catch,
    )


def shape(half_base: float, flat_to: float, steps: int, *, off_m: float = 0.0) -> TrayPattern:
    """A trapezoid (or a triangle, flat to 0) caught in trays ``1 / steps`` apart."""
    count = round(half_base * steps)
    places = np.arange(-count, count + 1) / steps
    catch = np.clip((half_base - np.abs(places)) / (half_base - flat_to), 0.0, 1.0)
    return row(tuple(catch.tolist()), 1 / steps, off_middle_m=off_m)


def plain_cv(
    pattern: TrayPattern, width_m: float, way: Way, *, points_per_spacing: int | None = None
) -> float:
    """Evenness by laying pass beside pass and looking at the ground: the oracle.

    At the tray points, or on a dense grid of straight lines between trays.
    """
    spacing_m = pattern.spacing_m
    repeat_m = width_m * (2 if way is Way.BACK_AND_FORTH else 1)
    count = round(repeat_m / spacing_m * (points_per_spacing or 1))
    if points_per_spacing is None:
        points = pattern.first_tray_m + spacing_m * np.arange(count)
    else:
        points = (np.arange(count) + 0.5) * repeat_m / count
    places = pattern.first_tray_m + spacing_m * np.arange(-1, len(pattern.catch) + 1)
    amounts = np.array([0.0, *pattern.catch, 0.0])
    farthest = math.ceil((np.abs(places).max() + np.abs(points).max()) / width_m) + 1
    dose = np.zeros(count)
    for number in range(-farthest, farthest + 1):
        side = points - number * width_m
        if way is Way.BACK_AND_FORTH and number % 2:
            side = -side
        dose += np.interp(side, places, amounts, left=0.0, right=0.0)
    return float(dose.std() / dose.mean())


def cv(pattern: TrayPattern, width_m: float, way: Way, *, straight_lines: bool = False) -> float:
    """Evenness at one width."""
    figures = evenness(pattern, driving_widths_m=[width_m], straight_lines=straight_lines)
    return float(figures.of(way)[0])


def test_the_catch_adds_up_and_leans_to_the_right() -> None:
    """SPREAD-C1: 90.9 g in all, the middle of it 0.531 m right of the line.

    By hand: sum(place x catch) / 90.9 with places -9 to +9 m.
    """
    pattern = row(SKEWED, 1.5)
    assert sum(pattern.catch) == pytest.approx(90.9, abs=0.05)
    assert skew(pattern).offset_m == pytest.approx(0.531, abs=0.0005)


def test_folding_by_hand_round_and_round() -> None:
    """SPREAD-C2: at 10.5 m, seven tray points a repeat, each the sum of two trays 7 apart.

    By hand, from the line: 13.0; 12.6 + 0.4; 11.2 + 1.6; 9.0 + 3.9; 6.1 + 6.8; 3.3 + 9.7;
    1.2 + 12.1.
    """
    doses = fold(row(SKEWED, 1.5), driving_width_m=10.5, way=Way.ROUND_AND_ROUND)
    assert doses.positions_m == pytest.approx(1.5 * np.arange(7))
    assert doses.doses == pytest.approx([13.0, 13.0, 12.8, 12.9, 12.9, 13.0, 13.3], abs=0.05)
    assert not doses.interpolated


def test_folding_by_hand_back_and_forth() -> None:
    """SPREAD-C2: at 10.5 m, fourteen tray points from one line to the second next."""
    doses = fold(row(SKEWED, 1.5), driving_width_m=10.5, way=Way.BACK_AND_FORTH)
    by_hand = [13.0, 13.8, 14.5, 15.1, 15.1, 14.5, 13.8, 13.0, 12.5, 11.3, 10.7, 10.7, 11.3, 12.5]
    assert doses.doses == pytest.approx(by_hand, abs=0.05)


def test_the_mean_rate_is_the_same_both_ways() -> None:
    """SPREAD-C2: 12.9857 g a tray = 519.4 kg/ha at 10.5 m, whichever way it is driven."""
    grams = row(SKEWED, 1.5)
    for way in Way:
        doses = fold(grams, driving_width_m=10.5, way=way).doses
        assert float(doses.mean()) == pytest.approx(12.9857, abs=0.00005)
    weighed = replace(grams, catch=tuple(GRAM_KG * grams_caught for grams_caught in SKEWED))
    rate = mean_rate_kg_per_m2(weighed, driving_width_m=10.5, tray_area_m2=0.25)
    assert rate == pytest.approx(519.4e-4, abs=0.05e-4)


EVENNESS_OF_SKEWED = [  # width m; back and forth n - 1, n; round and round n - 1: percent
    ("SPREAD-C3, C4", 7.5, 7.69, 7.29, 2.44),
    ("SPREAD-C3, C4", 9.0, 10.99, 10.52, 4.29),
    ("SPREAD-C2, C3, C4", 10.5, 11.98, 11.54, 1.21),
    ("SPREAD-C3, C4", 12.0, 15.67, 15.17, 10.01),
    ("SPREAD-C3, C4", 13.5, 24.04, 23.36, 21.89),
    ("SPREAD-C3, C4", 15.0, 34.48, 33.61, 34.19),
]


@pytest.mark.parametrize(("identity", "width_m", "forth_1", "forth", "about_1"), EVENNESS_OF_SKEWED)
def test_evenness_of_the_skewed_pattern(
    identity: str, width_m: float, forth_1: float, forth: float, about_1: float
) -> None:
    """Evenness of the skewed pattern at whole tray spacings, with n and with n - 1."""
    pattern = row(SKEWED, 1.5)
    for way, printed in ((Way.BACK_AND_FORTH, forth_1), (Way.ROUND_AND_ROUND, about_1)):
        found = sample_cv_fraction(
            cv(pattern, width_m, way), driving_width_m=width_m, spacing_m=1.5, way=way
        )
        assert found == pytest.approx(printed / 100, abs=HALF_DIGIT), identity
    assert cv(pattern, width_m, Way.BACK_AND_FORTH) == pytest.approx(forth / 100, abs=HALF_DIGIT)


def test_one_tray_point_has_no_spread() -> None:
    """Round and round at one tray spacing there is one tray point, and n - 1 is nothing."""
    with pytest.raises(OutOfRange):
        sample_cv_fraction(0.1, driving_width_m=1.5, spacing_m=1.5, way=Way.ROUND_AND_ROUND)


def test_widest_width_and_the_rule_of_half_the_fullest() -> None:
    """SPREAD-C5: with n - 1 and 15 %, 10.5 m back and forth, 12 m round and round.

    Half of 13.0 is 6.5: left between 3.9 at -6.0 and 6.8 at -4.5, at -4.655; right between 9.0
    at 4.5 and 6.1 at 6.0, at 5.793; 10.45 m in all.
    """
    pattern = row(SKEWED, 1.5)
    widths = whole_widths_m(pattern, narrowest_m=6.0)
    figures = evenness(pattern, driving_widths_m=widths)
    for way, widest in ((Way.BACK_AND_FORTH, 10.5), (Way.ROUND_AND_ROUND, 12.0)):
        sampled = [
            sample_cv_fraction(float(figure), driving_width_m=width, spacing_m=1.5, way=way)
            for width, figure in zip(widths.tolist(), figures.of(way), strict=True)
        ]
        found = good_interval(
            acceptable_widths(driving_widths_m=widths, cv_fractions=sampled, limit_fraction=0.15)
        )
        assert found is not None
        assert found.widest_m == pytest.approx(widest)
    ends = half_of_maximum_m(pattern)
    assert ends is not None
    assert ends[0] == pytest.approx(-4.655, abs=0.0005)
    assert ends[1] == pytest.approx(5.793, abs=0.0005)
    assert ends[1] - ends[0] == pytest.approx(10.45, abs=0.005)


TRIANGLE = [("SPREAD-C6", 1.0, 0.0), ("SPREAD-C6", 1.1, 2.52), ("SPREAD-C6", 1.25, 9.55),
            ("SPREAD-C6", 1.4, 18.48), ("SPREAD-C6", 2.0, 57.74)]  # fmt: skip


@pytest.mark.parametrize(("identity", "width", "percent"), TRIANGLE)
def test_a_triangle_follows_its_exact_formula(identity: str, width: float, percent: float) -> None:
    """Triangle of half base 1 driven s apart: CV^2 = s (2 + (2 - s)^3) / 3 - 1, both ways."""
    exact = math.sqrt(max(0.0, width * (2 + (2 - width) ** 3) / 3 - 1))
    pattern = shape(1.0, 0.0, 20)
    for way in Way:
        found = cv(pattern, width, way, straight_lines=True)
        assert found == pytest.approx(exact, abs=1e-6), identity
        assert found == pytest.approx(percent / 100, abs=HALF_DIGIT), identity


@given(st.floats(1.0, 2.0))
def test_a_triangle_follows_its_formula_between_trays_too(width: float) -> None:
    """Straight lines between trays are the triangle itself, so no width is special."""
    exact = width * (2 + (2 - width) ** 3) / 3 - 1
    found = cv(shape(1.0, 0.0, 20), width, Way.ROUND_AND_ROUND, straight_lines=True)
    assert found**2 == pytest.approx(exact, abs=1e-9)


TRAPEZOID = [("SPREAD-C7", 2.0, 0.0), ("SPREAD-C7", 2.2, 10.26), ("SPREAD-C7", 2.4, 20.78)]


@pytest.mark.parametrize(("identity", "width", "percent"), TRAPEZOID)
def test_a_trapezoid_driven_too_wide(identity: str, width: float, percent: float) -> None:
    """Flat to 0.5, nothing at 1.5: even at 2.0, then quickly worse."""
    for way in Way:
        found = cv(shape(1.5, 0.5, 20), width, way, straight_lines=True)
        assert found == pytest.approx(percent / 100, abs=HALF_DIGIT), identity


OFFSET = [("SPREAD-C8", 0.05, 9.66), ("SPREAD-C8", 0.15, 26.83)]


@pytest.mark.parametrize(("identity", "offset", "percent"), OFFSET)
def test_a_lean_costs_back_and_forth_and_not_round_and_round(
    identity: str, offset: float, percent: float
) -> None:
    """A perfect triangle 5 % or 15 % of its half base off the line; centring mends it."""
    pattern = shape(1.0, 0.0, 20, off_m=offset)
    found = cv(pattern, 1.0, Way.BACK_AND_FORTH, straight_lines=True)
    assert found == pytest.approx(percent / 100, abs=HALF_DIGIT), identity
    assert cv(pattern, 1.0, Way.ROUND_AND_ROUND, straight_lines=True) < 1e-6
    assert skew(pattern).offset_m == pytest.approx(offset)
    assert cv(centred(pattern), 1.0, Way.BACK_AND_FORTH, straight_lines=True) < 1e-6


def test_two_independent_causes_add_as_squares() -> None:
    """SPREAD-C11: 10 % and 12 % make 15.67 %."""
    assert combined_unevenness_fraction(0.10, 0.12) == pytest.approx(0.1567, abs=HALF_DIGIT)


def test_counting_noise_of_a_cereal() -> None:
    """SPREAD-C12: 112 kg/ha of 40 mg seed is 70 seeds in 0.25 m2; chance alone gives 11.95 %.

    Five passes: 5.35 %. For 5 %, 400 / 70 = 5.7, so six.
    """
    seeds = seeds_per_tray_count(rate_kg_per_m2=0.0112, tray_area_m2=0.25, kernel_mass_kg=40e-6)
    assert seeds == pytest.approx(70)
    assert counting_floor_fraction(seeds) == pytest.approx(0.1195, abs=HALF_DIGIT)
    assert counting_floor_fraction(5 * seeds) == pytest.approx(0.0535, abs=HALF_DIGIT)
    assert passes_for_floor_count(seeds, floor_fraction=0.05) == 6


def test_counting_noise_is_taken_out_as_squares_and_never_below_nothing() -> None:
    """13 % seen with a floor of 12 % leaves 5 %; 10 % seen leaves nothing."""
    seeds = 1 / 0.12**2
    assert without_counting_noise_fraction(0.13, seeds_count=seeds) == pytest.approx(0.05)
    assert without_counting_noise_fraction(0.10, seeds_count=seeds) == 0.0


def test_exactly_the_floor_needs_no_pass_more() -> None:
    """100 seeds and a floor of 10 %: one pass is enough, not two by a rounding."""
    assert passes_for_floor_count(100, floor_fraction=0.10) == 1
    assert passes_for_floor_count(50, floor_fraction=0.10) == 2


def test_slow_runs_with_the_flow_of_a_fast_one_count_for_more() -> None:
    """SPREAD-C13: 2 runs at 4 km/h with the flow for 10 km/h hold 5 ordinary passes.

    So 10 g in a 0.25 m2 tray is 8 g/m2 a pass, 80 kg/ha.
    """
    passes = nominal_passes_count(runs_count=2, flow_speed_mps=10 / 3.6, driven_speed_mps=4 / 3.6)
    assert passes == pytest.approx(5)
    rate = tray_rate_kg_per_m2(mass_kg=0.010, tray_area_m2=0.25, passes_count=passes)
    assert rate == pytest.approx(0.008)


SCENARIOS = [  # catch, spacing, width in spacings, back and forth %, round and round % (or None)
    (RYE, 8, 11.4, 6.8), (RYE, 9, 10.9, 2.4), (RYE, 10, 15.5, 10.9), (RYE, 12, 33.8, 32.6),
    (OATS, 12, 9.8, None), (OATS, 13, 19.0, None), (RADISH, 9, 14.7, None),
    (RADISH, 10, 26.6, None),
]  # fmt: skip


@pytest.mark.parametrize(("catch", "steps", "forth", "about"), SCENARIOS)
def test_evenness_of_three_seeds(
    catch: tuple[float, ...], steps: int, forth: float, about: float | None
) -> None:
    """Rye, oats and radish over whole tray spacings, to the printed digit."""
    pattern = row(catch, 1.0)
    assert cv(pattern, steps, Way.BACK_AND_FORTH) == pytest.approx(forth / 100, abs=0.0005)
    if about is not None:
        assert cv(pattern, steps, Way.ROUND_AND_ROUND) == pytest.approx(about / 100, abs=0.0005)


def test_with_n_minus_1_the_radish_would_fail_at_nine_metres() -> None:
    """14.7 % with n is under 15 %; 15.2 % with n - 1 is over. Which one is shown matters."""
    about = cv(row(RADISH, 1.0), 9.0, Way.BACK_AND_FORTH)
    assert about < 0.15
    sampled = sample_cv_fraction(about, driving_width_m=9.0, spacing_m=1.0, way=Way.BACK_AND_FORTH)
    assert sampled == pytest.approx(0.152, abs=0.0005)


# --- The sum over meetings against plain folding ------------------------------------------------

catches = st.lists(st.floats(0.0, 100.0), min_size=3, max_size=25).filter(lambda row: sum(row) > 1)
half_steps = st.integers(-12, 12)


@given(catches, half_steps, st.integers(1, 27), st.floats(0.1, 6.0), st.sampled_from(Way))
def test_whole_spacings_equal_a_plain_fold(
    catch: list[float], halves: int, steps: int, spacing_m: float, way: Way
) -> None:
    """Any row, odd or even, the line over a tray or half-way between two, anywhere in the row."""
    first_m = -(len(catch) // 2) * spacing_m + halves * spacing_m / 2
    pattern = TrayPattern(first_tray_m=first_m, spacing_m=spacing_m, catch=tuple(catch))
    expected = plain_cv(pattern, steps * spacing_m, way)
    assert cv(pattern, steps * spacing_m, way) == pytest.approx(expected, rel=1e-7, abs=1e-6)


@settings(max_examples=50)
@given(catches, st.floats(-3.0, 3.0), st.floats(1.0, 27.0), st.sampled_from(Way))
def test_straight_lines_equal_a_dense_fold(
    catch: list[float], first: float, width: float, way: Way
) -> None:
    """Any width, the line anywhere: the exact sum is what an endlessly dense grid would give."""
    pattern = TrayPattern(first_tray_m=first - len(catch) / 2, spacing_m=1.0, catch=tuple(catch))
    expected = plain_cv(pattern, width, way, points_per_spacing=128)
    found = cv(pattern, width, way, straight_lines=True)
    assert found**2 == pytest.approx(expected**2, rel=1e-3, abs=1e-3)


@given(catches, st.integers(2, 20), st.sampled_from(Way))
def test_the_figure_runs_on_without_a_step(catch: list[float], steps: int, way: Way) -> None:
    """Just beside a whole spacing the evenness is just beside the tray points' own."""
    pattern = row(tuple(catch), 1.0)
    at = cv(pattern, float(steps), way)
    for beside in (steps - 1e-4, steps + 1e-4):
        assert cv(pattern, beside, way) ** 2 == pytest.approx(at**2, rel=2e-3, abs=2e-3)


def test_between_trays_is_marked_and_not_kinder_than_straight_lines() -> None:
    """Straight lines cut the tops off; what they miss is put back in proportion."""
    for catch in (RYE, OATS, RADISH, SKEWED):
        pattern = row(catch, 1.0)
        widths = np.linspace(3.0, 15.0, 121)
        figures = evenness(pattern, driving_widths_m=widths)
        lines = evenness(pattern, driving_widths_m=widths, straight_lines=True)
        assert figures.interpolated.sum() == 121 - 13
        assert lines.interpolated.all()
        for way in Way:
            assert np.all(figures.of(way) >= lines.of(way) - 1e-9)
            assert np.all(figures.of(way) <= lines.of(way) + 0.015)


def test_coarse_trays_tell_the_truth_better_with_what_straight_lines_miss() -> None:
    """Two humps known exactly, caught 1 m apart: within 0.2 points, straight lines alone 2."""
    places = np.arange(-260, 261) / 20
    humps = np.exp(-0.5 * ((places + 4) / 2) ** 2) + np.exp(-0.5 * ((places - 4) / 2) ** 2)
    fine, coarse = row(tuple(humps), 0.05), row(tuple(humps[::20]), 1.0)
    widths = np.arange(7.0, 15.0, 0.1)
    truth = evenness(fine, driving_widths_m=widths).back_and_forth_fraction
    seen = evenness(coarse, driving_widths_m=widths).back_and_forth_fraction
    lines = evenness(coarse, driving_widths_m=widths, straight_lines=True).back_and_forth_fraction
    assert np.max(np.abs(seen - truth)) < 0.002
    assert np.max(np.abs(lines - truth)) > 0.01


def test_a_line_off_the_trays_is_read_between_them() -> None:
    """The line 0.3 of a spacing beside a tray: turned passes fall between, and it is said."""
    pattern = row(RYE, 1.0, off_middle_m=0.3)
    figures = evenness(pattern, driving_widths_m=[8.0])
    assert bool(figures.interpolated[0])
    assert not pattern.turned_trays_meet
    round_figure = cv(row(RYE, 1.0), 8.0, Way.ROUND_AND_ROUND)
    assert float(figures.round_and_round_fraction[0]) == pytest.approx(round_figure)
    assert fold(pattern, driving_width_m=8.0, way=Way.BACK_AND_FORTH).interpolated
    assert not fold(pattern, driving_width_m=8.0, way=Way.ROUND_AND_ROUND).interpolated


def test_many_widths_are_worked_in_blocks_with_the_same_result() -> None:
    """A thousand widths at once give what each gives alone."""
    pattern = row(SKEWED, 1.5)
    widths = np.linspace(1.5, 30.0, 1000)
    together = evenness(pattern, driving_widths_m=widths)
    for index in (0, 255, 256, 999):
        alone = cv(pattern, float(widths[index]), Way.BACK_AND_FORTH)
        assert float(together.back_and_forth_fraction[index]) == pytest.approx(alone)
    assert evenness(pattern, driving_widths_m=[]).driving_widths_m.size == 0


# --- What must always hold ----------------------------------------------------------------------


@given(catches, half_steps, st.integers(1, 27), st.sampled_from(Way))
def test_seed_is_neither_lost_nor_found(
    catch: list[float], halves: int, steps: int, way: Way
) -> None:
    """The mean dose is sum of the trays x d / S, whichever way it is driven."""
    pattern = row(tuple(catch), 1.0, off_middle_m=halves / 2 + (len(catch) % 2 - 1) / 2)
    doses = fold(pattern, driving_width_m=steps, way=way).doses
    assert float(doses.mean()) == pytest.approx(sum(catch) / steps)


@given(catches, st.integers(1, 27))
def test_a_mirrored_pattern_makes_both_ways_equal(half: list[float], steps: int) -> None:
    """If left equals right, turning round changes nothing."""
    pattern = row((*half, *half[::-1]), 1.0)
    figures = evenness(pattern, driving_widths_m=[steps])
    forth, about = figures.back_and_forth_fraction[0], figures.round_and_round_fraction[0]
    assert float(forth) == pytest.approx(float(about), rel=1e-7, abs=1e-6)


@given(catches, st.floats(1e-9, 1e9), st.floats(1.0, 27.0), st.sampled_from(Way))
def test_the_scale_of_the_catch_does_not_matter(
    catch: list[float], scale: float, width: float, way: Way
) -> None:
    """Grams, pounds or ten times the rate: the evenness is the same."""
    pattern = row(tuple(catch), 1.0)
    scaled = replace(pattern, catch=tuple(scale * amount for amount in catch))
    expected = cv(pattern, width, way)
    assert cv(scaled, width, way) == pytest.approx(expected, rel=1e-7, abs=1e-6)


@given(catches, st.floats(-20.0, 20.0), st.integers(1, 27))
def test_round_and_round_does_not_see_a_lean(
    catch: list[float], shift_m: float, steps: int
) -> None:
    """Every pass moves the same way, so the overlap keeps."""
    pattern = row(tuple(catch), 1.0)
    moved = replace(pattern, first_tray_m=pattern.first_tray_m + shift_m)
    expected = cv(pattern, steps, Way.ROUND_AND_ROUND)
    assert cv(moved, steps, Way.ROUND_AND_ROUND) == pytest.approx(expected, rel=1e-7, abs=1e-6)


@given(catches, st.integers(1, 27), st.sampled_from(Way))
def test_swapping_left_and_right_changes_nothing(catch: list[float], steps: int, way: Way) -> None:
    """The field does not know which side of the machine is which."""
    expected = cv(row(tuple(catch), 1.0), steps, way)
    found = cv(row(tuple(catch[::-1]), 1.0), steps, way)
    assert found == pytest.approx(expected, rel=1e-7, abs=1e-6)


def test_huge_and_tiny_catches_do_not_overflow() -> None:
    """Nonsense scales still give a number."""
    for scale in (1e-200, 1e200):
        pattern = row(tuple(scale * amount for amount in RYE), 1.0)
        assert cv(pattern, 9.0, Way.BACK_AND_FORTH) == pytest.approx(0.1087, abs=HALF_DIGIT)


# --- Widths, rates, lean and the row itself -------------------------------------------------------


def test_acceptable_widths_are_a_set_of_intervals() -> None:
    """Good, good, bad, good, bad: two intervals, and the first is the one to drive in."""
    found = acceptable_widths(
        driving_widths_m=[8, 9, 10, 11, 12], cv_fractions=[0.1, 0.15, 0.2, 0.12, 0.3],
        limit_fraction=0.15,
    )  # fmt: skip
    assert found == (
        WidthInterval(narrowest_m=8, widest_m=9),
        WidthInterval(narrowest_m=11, widest_m=11),
    )
    assert good_interval(found) == found[0]
    assert good_interval(found, narrowest_m=10) == found[1]
    assert good_interval(found, narrowest_m=12) is None
    assert found[0].holds(8.5)
    assert not found[0].holds(10)


def test_no_acceptable_width_is_said_as_none() -> None:
    """All above the limit."""
    found = acceptable_widths(driving_widths_m=[8, 9], cv_fractions=[1, 1], limit_fraction=0.15)
    assert found == ()
    assert good_interval(found) is None


def test_widths_tried_are_whole_spacings_to_one_beyond_the_row() -> None:
    """5 trays at 2 m: 2 to 12 m; from 5 m on: 6 to 12."""
    pattern = row((1, 2, 3, 2, 1), 2.0)
    assert whole_widths_m(pattern).tolist() == [2, 4, 6, 8, 10, 12]
    assert whole_widths_m(pattern, narrowest_m=5).tolist() == [6, 8, 10, 12]
    assert whole_widths_m(pattern, narrowest_m=6).tolist() == [6, 8, 10, 12]
    assert whole_widths_m(pattern, narrowest_m=20).tolist() == [20]


def test_a_narrower_width_costs_a_quarter_before_loading() -> None:
    """12 km/h at 0.75: 12 m is 10.8 ha/h, 9 m is 8.1; with 20.5 ha loads and 25 min, 6.95.

    By hand: 20.5 / (20.5 / 8.1 + 25 / 60) = 6.95.
    """
    hectares_per_hour = 3600 / 1e4
    for width, expected in ((12.0, 10.8), (9.0, 8.1)):
        rate = spreading_rate_m2_per_s(
            driving_width_m=width, speed_mps=12 / 3.6, efficiency_fraction=0.75
        )
        assert rate * hectares_per_hour == pytest.approx(expected)
    loaded = spreading_rate_m2_per_s(
        driving_width_m=9.0, speed_mps=12 / 3.6, efficiency_fraction=0.75,
        area_per_load_m2=20.5e4, refill_s=1500,
    )  # fmt: skip
    assert loaded * hectares_per_hour == pytest.approx(6.95, abs=0.005)


@pytest.mark.parametrize(
    ("width", "speed", "efficiency", "load", "refill"),
    [(0, 3, 0.7, None, 0), (9, -1, 0.7, None, 0), (9, 3, 1.2, None, 0), (9, 3, 0.7, 0, 0),
     (9, 3, 0.7, 1e4, -1), (math.nan, 3, 0.7, None, 0)],
)  # fmt: skip
def test_a_rate_of_nonsense_is_refused(
    width: float, speed: float, efficiency: float, load: float | None, refill: float
) -> None:
    """Nothing spreads at no width, backwards, or better than all the time."""
    with pytest.raises(OutOfRange):
        spreading_rate_m2_per_s(
            driving_width_m=width, speed_mps=speed, efficiency_fraction=efficiency,
            area_per_load_m2=load, refill_s=refill,
        )  # fmt: skip


def test_a_width_below_one_tray_spacing_is_refused() -> None:
    """The trays know nothing finer than themselves."""
    for width in (0.9, 0.0, -4.0, math.nan, math.inf):
        with pytest.raises(OutOfRange):
            evenness(row(RYE, 1.0), driving_widths_m=[8.0, width])
        with pytest.raises(OutOfRange):
            fold(row(RYE, 1.0), driving_width_m=width, way=Way.BACK_AND_FORTH)


def test_the_centre_rule_adds_left_and_right() -> None:
    """Centre 10, 10, 10; half is 5: at -2.5 and at +3; none when the row ends above half."""
    pattern = row((0, 10, 10, 10, 10, 5, 0), 1.0)
    lopsided = replace(pattern, first_tray_m=-3.0)
    assert half_of_centre_width_m(lopsided, centre_reach_m=1.0) == pytest.approx(2.5 + 2.0)
    assert half_of_centre_width_m(row((8, 9, 8), 1.0), centre_reach_m=1.0) is None
    assert half_of_maximum_m(row((8, 9, 8), 1.0)) is None
    far = replace(pattern, first_tray_m=40.0)
    assert half_of_centre_width_m(far, centre_reach_m=1.0) is None


def test_a_tray_on_the_line_counts_half_to_each_side() -> None:
    """1 left, 2 on the line, 5 right: a quarter and three quarters; middle half a metre right."""
    lean = skew(row((1, 2, 5), 1.0))
    assert (lean.left_fraction, lean.right_fraction) == pytest.approx((0.25, 0.75))
    assert lean.offset_m == pytest.approx(0.5)


def test_both_directions_part_the_machine_from_the_wind() -> None:
    """Out 0.8 m right of the machine, back 0.2 right: machine 0.5, wind 0.3.

    By hand: 0.5 + 0.3 one way; turned round, the wind comes from the other hand: 0.5 - 0.3.
    """
    parts = split_skew(offset_out_m=0.8, offset_back_m=0.2)
    assert parts.machine_m == pytest.approx(0.5)
    assert parts.wind_m == pytest.approx(0.3)


def test_the_throw_is_the_trays_that_caught_anything() -> None:
    """Radish: 13 of 19 trays at 1 m."""
    assert throw_m(row(RADISH, 1.0)) == pytest.approx(13.0)


def test_places_from_one_end_put_the_line_in_the_middle() -> None:
    """0 to 70 becomes -35 to 35 and is said to be assumed; a negative place settles it."""
    assert positions_from_path((0.0, 35.0, 70.0)) == ((-35.0, 0.0, 35.0), True)
    assert positions_from_path((-10.0, 0.0, 10.0)) == ((-10.0, 0.0, 10.0), False)
    assert positions_from_path((-2.0, 0.0, 2.0, 4.0)) == ((-2.0, 0.0, 2.0, 4.0), False)


def test_runs_are_averaged_and_their_spread_is_kept() -> None:
    """Totals 6 and 8: mean 7, SD (n - 1) sqrt 2, spread 20.2 %."""
    test = TrayTest(name="rye", positions_m=(-1, 0, 1), masses_kg=((1, 4, 1), (1, 6, 1)))
    assert mean_pattern(test).catch == pytest.approx((1, 5, 1))
    assert [pattern.catch for pattern in run_patterns(test)] == [(1, 4, 1), (1, 6, 1)]
    assert run_spread_fraction(test) == pytest.approx(math.sqrt(2) / 7)
    one = TrayTest(name="rye", positions_m=(-1, 0, 1), seeds_count=((1, 4, 1),))
    assert run_spread_fraction(one) is None
    assert one.is_counted
    assert not test.is_counted


def test_one_tray_out_of_step_is_named() -> None:
    """0, 5, 10, 17, 20: the fourth stands 7 after the third in a row at 5."""
    with pytest.raises(TraysUneven) as refused:
        tray_spacing_m((0, 5, 10, 17, 20, 25))
    assert refused.value.tray_index == 3
    assert refused.value.gap_m == pytest.approx(7)
    assert refused.value.spacing_m == pytest.approx(5)


def test_a_tape_laid_over_stubble_is_good_enough() -> None:
    """0.5 % off here and there is one spacing; the row's own length over its gaps."""
    assert tray_spacing_m((0, 0.9952, 2.0, 3.0)) == pytest.approx(1.0)


@pytest.mark.parametrize("places", [(0.0, 1.0), (0.0, 1.0, math.nan)])
def test_a_row_without_places_is_refused(places: tuple[float, ...]) -> None:
    """Two trays, or a place that is no number."""
    with pytest.raises(OutOfRange):
        tray_spacing_m(places)


@pytest.mark.parametrize("places", [(2.0, 1.0, 0.0), (0.0, 0.0, 0.0), (0.0, 1.0, 1.0)])
def test_a_row_that_does_not_rise_is_refused(places: tuple[float, ...]) -> None:
    """Right to left, or two trays on one place."""
    with pytest.raises(TraysUneven):
        tray_spacing_m(places)


@pytest.mark.parametrize(
    ("catch", "spacing", "first"),
    [((1, 2), 1, 0), ((0, 0, 0), 1, 0), ((1, -1, 1), 1, 0), ((1, math.nan, 1), 1, 0),
     ((1, 2, 1), 0, 0), ((1, 2, 1), math.inf, 0), ((1, 2, 1), 1, math.nan)],
)  # fmt: skip
def test_an_impossible_pattern_is_refused(
    catch: tuple[float, ...], spacing: float, first: float
) -> None:
    """Two trays, nothing caught, less than nothing, no spacing."""
    with pytest.raises(OutOfRange):
        TrayPattern(first_tray_m=first, spacing_m=spacing, catch=catch)


def test_a_test_is_weighed_or_counted_and_every_run_is_whole() -> None:
    """Neither, both, or a run one tray short."""
    places = (-1.0, 0.0, 1.0)
    runs = ((1.0, 2.0, 1.0),)
    with pytest.raises(OutOfRange):
        TrayTest(name="rye", positions_m=places)
    with pytest.raises(OutOfRange):
        TrayTest(name="rye", positions_m=places, masses_kg=runs, seeds_count=runs)
    with pytest.raises(OutOfRange):
        TrayTest(name="rye", positions_m=places, masses_kg=((1.0, 2.0),))


@pytest.mark.parametrize(
    "refused",
    [
        lambda: counting_floor_fraction(0),
        lambda: passes_for_floor_count(10, floor_fraction=0),
        lambda: seeds_per_tray_count(rate_kg_per_m2=0.01, tray_area_m2=0.25, kernel_mass_kg=0),
        lambda: tray_rate_kg_per_m2(mass_kg=0.01, tray_area_m2=0, passes_count=1),
        lambda: nominal_passes_count(runs_count=2, flow_speed_mps=1, driven_speed_mps=0),
        lambda: mean_rate_kg_per_m2(row(RYE, 1.0), driving_width_m=0, tray_area_m2=0.25),
    ],
)
def test_division_by_nothing_is_refused(refused: object) -> None:
    """No seeds, no floor, no kernel, no tray, no speed, no width."""
    assert callable(refused)
    with pytest.raises(OutOfRange):
        refused()
