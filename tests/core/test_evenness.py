"""What covering leaves of the spreader's ripples, against plain sums on a fine grid."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from duskline.core.errors import OutOfRange
from duskline.core.evenness import (
    Displacement,
    Ground,
    Ripples,
    combined_sd_m,
    covered,
    crossed,
    cv_after_fraction,
    forward_shift_m,
    ground,
    half_rate_twice,
    mixed_between_fraction,
    profile,
    retained_fraction,
    ripple_eased_by_angle_m,
    ripple_kept_table,
    ripples,
    sd_to_keep_m,
    spread_sd_m,
    with_counting_noise_fraction,
)
from duskline.core.trays import (
    TrayPattern,
    Way,
    centred,
    evenness,
    without_counting_noise_fraction,
)

Floats = NDArray[np.float64]

FORTH, ROUND = Way.BACK_AND_FORTH, Way.ROUND_AND_ROUND
MOVED = Displacement(along_sd_m=0.4, lateral_sd_m=0.12, forward_m=0.3)
WIDTH_M = 16.0
GRID_COUNT = 16_384
"""Points of the plain grid over two driving widths: 2 mm of ground each."""


def _row(half_m: float, spacing_m: float) -> Floats:
    steps = round(half_m / spacing_m)
    return np.arange(-steps, steps + 1, dtype=np.float64) * np.float64(spacing_m)


def _pattern(catch: Floats, spacing_m: float, half_m: float) -> TrayPattern:
    amounts = np.maximum(catch, 0.0).tolist()
    return TrayPattern(first_tray_m=-half_m, spacing_m=spacing_m, catch=tuple(amounts))


TRAYS_M = _row(12.0, 0.5)
SIDES = np.minimum(1.0, (12.0 - np.abs(TRAYS_M)) / 6.6)  # flat to 5.4 m, nothing from 12 m on
PATTERNS = {
    "trapezoid": _pattern(SIDES, 0.5, 12.0),
    "triangle": _pattern(12.0 - np.abs(TRAYS_M), 0.5, 12.0),
    "M": _pattern(SIDES * (0.3 + 0.7 * np.minimum(np.abs(TRAYS_M) / 6.0, 1.0)), 0.5, 12.0),
    "W": _pattern(SIDES * (0.75 + 0.25 * np.cos(2 * math.pi * TRAYS_M / 8.0)), 0.5, 12.0),
    "skewed": _pattern(SIDES * (1.0 + 0.35 * TRAYS_M / 12.0), 0.5, 12.0),
    "A": TrayPattern(  # SPREAD-C1 of the reference pack
        first_tray_m=-9.0,
        spacing_m=1.5,
        catch=(0.4, 1.6, 3.9, 6.8, 9.7, 12.1, 13.0, 12.6, 11.2, 9.0, 6.1, 3.3, 1.2),
    ),
}
EACH = pytest.mark.parametrize("name", list(PATTERNS))
BOTH = pytest.mark.parametrize("way", list(Way))


def _width_m(name: str) -> float:
    return 10.5 if name == "A" else WIDTH_M


def _laid(pattern: TrayPattern, places_m: Floats, way: Way, width_m: float) -> Floats:
    """The dose at the places, pass by pass, over its mean: no ripple and no fold of the tool."""
    trays_m = np.concatenate(
        [
            [pattern.positions_m[0] - pattern.spacing_m],
            pattern.positions_m,
            [pattern.positions_m[-1] + pattern.spacing_m],
        ]
    )
    catch = np.concatenate([[0.0], pattern.catch, [0.0]])
    dose = np.zeros_like(places_m)
    for index in range(-8, 12):
        side_m = places_m - index * width_m
        turned = way is FORTH and index % 2 == 1
        dose += np.interp(-side_m if turned else side_m, trays_m, catch)
    mean = sum(pattern.catch) * pattern.spacing_m / width_m
    return np.asarray(dose / mean)


def _grid(width_m: float) -> Floats:
    return np.arange(GRID_COUNT, dtype=np.float64) * np.float64(2.0 * width_m / GRID_COUNT)


def _smeared(dose: Floats, *, step_m: float, sd_m: float) -> Floats:
    """The dose with every grain scattered, summed place by place round the repeat."""
    reach = math.ceil(8.0 * sd_m / step_m)
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) * step_m / sd_m) ** 2)
    wrapped = np.concatenate([dose[-reach:], dose, dose[:reach]])
    return np.asarray(np.convolve(wrapped, weights / weights.sum(), mode="valid"), np.float64)


def _cv(dose: Floats) -> float:
    return float(dose.std() / dose.mean())


# --- the ripples -------------------------------------------------------------------------------


@EACH
@BOTH
@pytest.mark.parametrize("width_m", [7.5, 9.0, 10.5, 13.3, 16.0])
def test_ripples_add_up_to_the_evenness_of_the_trays(name: str, way: Way, width_m: float) -> None:
    """The squares of the ripples are the evenness that the tray test gives, to a millionth.

    What is missing is never more than the tail the ripples state.
    """
    pattern = PATTERNS[name]
    found = ripples(pattern, driving_width_m=width_m, way=way)
    table = evenness(pattern, driving_widths_m=[width_m], straight_lines=True)
    want = float(table.of(way)[0])
    missing = want**2 - found.cv_fraction**2
    assert found.cv_fraction == pytest.approx(want, abs=1e-6)
    assert -1e-12 <= missing <= found.tail_fraction + 1e-12


@EACH
@BOTH
def test_few_ripples_miss_no_more_than_they_say(name: str, way: Way) -> None:
    """Cut off after 3, 8 or 20 ripples, the rest lies under the stated tail, and is not nothing."""
    pattern, width_m = PATTERNS[name], _width_m(name)
    whole = ripples(pattern, driving_width_m=width_m, way=way, count=4000).cv_fraction
    for count in (3, 8, 20):
        few = ripples(pattern, driving_width_m=width_m, way=way, count=count)
        assert 0.0 < whole**2 - few.cv_fraction**2 <= few.tail_fraction


@EACH
def test_covering_shrinks_what_few_ripples_miss(name: str) -> None:
    """Ripples cut off at 20 are shorter than the last kept, so covering takes more of them."""
    pattern, width_m = PATTERNS[name], _width_m(name)
    square = (math.pi / 2,)
    whole = ripples(pattern, driving_width_m=width_m, way=FORTH, count=4000)
    few = ripples(pattern, driving_width_m=width_m, way=FORTH, count=20)
    after = covered(few, angles_rad=square, displacement=MOVED)
    whole_after = cv_after_fraction(whole, angles_rad=square, displacement=MOVED)
    assert -1e-15 <= whole_after**2 - after.cv_fraction**2 <= after.tail_fraction
    last_kept = retained_fraction(few.repeat_m / 20, 0.4)
    assert after.tail_fraction == pytest.approx(few.tail_fraction * last_kept**2)


@EACH
@BOTH
def test_profile_is_the_dose_laid_pass_by_pass(name: str, way: Way) -> None:
    """From the driving line on, the ripples draw the dose that the passes leave."""
    pattern, width_m = PATTERNS[name], _width_m(name)
    found = ripples(pattern, driving_width_m=width_m, way=way)
    drawn = profile(found, points_count=1024)
    places_m = np.linspace(0.0, found.repeat_m, 1024, endpoint=False, dtype=np.float64)
    assert np.abs(drawn - _laid(pattern, places_m, way, width_m)).max() < 2e-3
    assert drawn.mean() == pytest.approx(1.0, abs=1e-12)


def test_lopsided_pattern_needs_two_widths_back_and_forth() -> None:
    """Right on right and left on left repeat every second pass; alike sides every pass."""
    assert ripples(PATTERNS["skewed"], driving_width_m=16.0, way=FORTH).repeat_m == 32.0
    assert ripples(PATTERNS["skewed"], driving_width_m=16.0, way=ROUND).repeat_m == 16.0
    for name in ("trapezoid", "triangle", "M", "W"):
        assert ripples(PATTERNS[name], driving_width_m=16.0, way=FORTH).repeat_m == 16.0


def test_mean_is_the_catch_over_the_driving_width() -> None:
    """SPREAD-C2: 90.9 g over 13 trays 1.5 m apart, driven 10.5 m: 12.9857 g."""
    for way in Way:
        found = ripples(PATTERNS["A"], driving_width_m=10.5, way=way)
        assert found.mean == pytest.approx(12.9857, abs=5e-5)


def test_triangle_driven_at_its_half_base_is_even() -> None:
    """Every ripple of a triangle falls on a zero when passes meet at the foot."""
    found = ripples(PATTERNS["triangle"], driving_width_m=12.0, way=ROUND)
    assert found.cv_fraction == pytest.approx(0.0, abs=1e-12)


def test_driving_width_and_ripples_must_make_sense() -> None:
    """No width below a tray spacing, no endless one, and at least one ripple."""
    for wrong_m in (0.4, 0.0, -3.0, math.nan, math.inf):
        with pytest.raises(OutOfRange):
            ripples(PATTERNS["M"], driving_width_m=wrong_m, way=ROUND)
    with pytest.raises(OutOfRange):
        ripples(PATTERNS["M"], driving_width_m=16.0, way=ROUND, count=0)


# --- covering ----------------------------------------------------------------------------------


@EACH
@BOTH
@pytest.mark.parametrize("degrees", [0, 5, 10, 20, 30, 45, 60, 90])
def test_covering_agrees_with_scattering_grain_by_grain(name: str, way: Way, degrees: int) -> None:
    """CV before and after, six patterns, both ways of driving, angles 0 to 90: to a millionth."""
    pattern, width_m = PATTERNS[name], _width_m(name)
    before = ripples(pattern, driving_width_m=width_m, way=way)
    dose = _laid(pattern, _grid(width_m), way, width_m)
    assert before.cv_fraction == pytest.approx(_cv(dose), abs=1e-6)
    angle = math.radians(degrees)
    sd_m = math.sqrt((0.4 * math.sin(angle)) ** 2 + (0.12 * math.cos(angle)) ** 2)
    smeared = _smeared(dose, step_m=2.0 * width_m / GRID_COUNT, sd_m=sd_m)
    after = cv_after_fraction(before, angles_rad=(angle,), displacement=MOVED)
    assert after == pytest.approx(_cv(smeared), abs=1e-6)
    if degrees == 20:
        drawn = ground(covered(before, angles_rad=(angle,), displacement=MOVED))
        plain = np.sort(smeared)
        assert drawn.tenth_quantile_share == pytest.approx(float(np.quantile(plain, 0.1)), abs=2e-4)


# Prototypes 1: shapes that the table's own figures give back. CV in per cent at W 16 m: now,
# covered at 10, 30 and 90 degrees, twice at +-10, half rate twice, crossed; then W 15.24, 14, 12.
TABLE = [
    ("trapezoid", ROUND, (9.0, 8.97, 8.92, 8.77, 8.94, 2.9, 6.4), (12.8, 17.0, 17.6)),
    ("triangle", ROUND, (14.3, 14.31, 14.24, 14.04, 14.27, 6.4, 10.1), (10.7, 5.3, 0.0)),
    ("skewed", FORTH, (18.3, 18.30, 18.27, 18.15, 18.28, 11.6, 13.0), (20.5, 23.3, 23.0)),
    ("skewed", ROUND, (11.1, 11.09, 11.04, 10.88, 11.06, 2.9, 7.9), (13.7, 17.2, 17.7)),
]


@pytest.mark.parametrize(("name", "way", "row", "widths"), TABLE)
def test_worked_table_comes_out_again(
    name: str, way: Way, row: tuple[float, ...], widths: tuple[float, ...]
) -> None:
    """The table of the first trials, for the three shapes known from their figures.

    The flat top of the trapezoid (5.4 m) and the lean of the skewed one (0.35) were not written
    down: these fit all ten figures of each to about a tenth of a point, so that is the tolerance.
    The M and the W of the table could not be drawn again.
    """
    pattern = PATTERNS[name]
    before = ripples(pattern, driving_width_m=16.0, way=way)

    def after(*degrees: float) -> float:
        angles = [math.radians(value) for value in degrees]
        return cv_after_fraction(before, angles_rad=angles, displacement=MOVED)

    twice = half_rate_twice(before, driving_width_m=16.0)
    figures = [before.cv_fraction, after(10), after(30), after(90), after(10, -10)]
    figures += [twice.cv_fraction, crossed(before, before).cv_fraction]
    figures += [
        ripples(pattern, driving_width_m=width_m, way=way).cv_fraction
        for width_m in (15.24, 14.0, 12.0)
    ]
    assert [100 * figure for figure in figures] == pytest.approx([*row, *widths], abs=0.1)


KEPT = [  # prototypes 1.3: share of a ripple left at 0, 5, 10, 20, 30, 90 degrees
    (0.3, (0.042, 0.033, 0.016, 0.001, 0.0, 0.0), 0.0005),
    (0.5, (0.32, 0.29, 0.23, 0.08, 0.02, 0.0), 0.005),
    (0.76, (0.61, 0.59, 0.53, 0.34, 0.18, 0.0), 0.005),
    (1.5, (0.88, 0.87, 0.85, 0.76, 0.64, 0.25), 0.005),
    (3.0, (0.97, 0.97, 0.96, 0.93, 0.90, 0.70), 0.0055),  # 0.8946 was written down as 0.90
]


@pytest.mark.parametrize(("wavelength_m", "shares", "half_digit"), KEPT)
def test_angle_takes_ridges_and_old_rows_and_nothing_longer(
    wavelength_m: float, shares: tuple[float, ...], half_digit: float
) -> None:
    """Of 30-inch rows 0.61 is left at 0 degrees, 0.53 at 10 and 0.18 at 30."""
    table = ripple_kept_table(
        wavelengths_m=[wavelength_m, 16.0],
        angles_rad=np.radians([0.0, 5.0, 10.0, 20.0, 30.0, 90.0]),
        displacement=MOVED,
    )
    assert table.shape == (2, 6)
    assert table[0] == pytest.approx(np.array(shares), abs=half_digit * 1.0001)
    assert table[1].min() > 0.98


def test_eased_by_the_angle_alone() -> None:
    """Prototypes 1.3: a tenth off ripples up to 0.46 m at 5 degrees, 0.9 at 10, 1.8, 2.6 m.

    The last two were written with the parallel scatter let in at one place or another; 5 %.
    """
    for degrees, length_m in ((5, 0.46), (10, 0.9), (20, 1.8), (30, 2.6)):
        found = ripple_eased_by_angle_m(MOVED, angle_rad=math.radians(degrees), eased_fraction=0.1)
        assert found == pytest.approx(length_m, rel=0.05)
        plain = retained_fraction(found, spread_sd_m(MOVED, 0.0))
        turned = retained_fraction(found, spread_sd_m(MOVED, math.radians(degrees)))
        assert turned / plain == pytest.approx(0.9, abs=1e-12)
    sideways = Displacement(along_sd_m=0.1, lateral_sd_m=0.2)
    assert ripple_eased_by_angle_m(sideways, angle_rad=1.0, eased_fraction=0.1) == 0.0
    with pytest.raises(OutOfRange):
        ripple_eased_by_angle_m(MOVED, angle_rad=1.0, eased_fraction=1.0)


SPREAD_C40 = [  # id, scatter across, wavelength, share left, half its last digit
    ("SPREAD-C40", 0.15, 12.0, 0.997, 0.0005),
    ("SPREAD-C41", 0.15, 0.5, 0.169, 0.0005),
    ("SPREAD-C42", 0.4 * math.sin(math.radians(15.0)), 12.0, 0.9985, 0.00005),
]


@pytest.mark.parametrize(("row", "sd_m", "wavelength_m", "share", "half_digit"), SPREAD_C40)
def test_share_left_of_a_stripe(
    row: str, sd_m: float, wavelength_m: float, share: float, half_digit: float
) -> None:
    """The derived rows of the reference pack: long stripes stay, gaps under a metre blur."""
    assert abs(retained_fraction(wavelength_m, sd_m) - share) <= half_digit, row


def test_halving_a_wide_band_would_take_three_metres_of_scatter() -> None:
    """A band of 16 m is halved by a scatter of 3.0 m; a cultivator gives a tenth of that."""
    wanted_m = sd_to_keep_m(16.0, kept_fraction=0.5)
    assert wanted_m == pytest.approx(3.0, abs=0.05)
    assert retained_fraction(16.0, wanted_m) == pytest.approx(0.5, abs=1e-12)
    assert sd_to_keep_m(16.0, kept_fraction=1.0) == 0.0
    with pytest.raises(OutOfRange):
        sd_to_keep_m(16.0, kept_fraction=0.0)
    with pytest.raises(OutOfRange):
        retained_fraction(0.0, 0.1)


def test_scatter_across_the_spread_passes() -> None:
    """Parallel covering scatters by the side throw, square covering by the travel; passes add.

    By hand: sqrt(0.3^2 sin^2 30 + 0.1^2 cos^2 30) = sqrt(0.0225 + 0.0075) = 0.1732.
    """
    moved = Displacement(along_sd_m=0.3, lateral_sd_m=0.1, forward_m=0.4)
    assert spread_sd_m(moved, 0.0) == pytest.approx(0.1)
    assert spread_sd_m(moved, math.pi / 2) == pytest.approx(0.3)
    assert spread_sd_m(moved, math.pi / 6) == pytest.approx(math.sqrt(0.03))
    assert spread_sd_m(moved, -math.pi / 6) == pytest.approx(math.sqrt(0.03))
    assert combined_sd_m(moved, (math.pi / 6, -math.pi / 6)) == pytest.approx(math.sqrt(0.06))
    assert combined_sd_m(moved, ()) == 0.0
    assert forward_shift_m(moved, math.pi / 6) == pytest.approx(0.2)
    assert forward_shift_m(moved, 0.0) == 0.0


def test_mean_move_shifts_a_stripe_and_smooths_none() -> None:
    """Grain carried 0.3 m on and scattered leaves the same evenness as grain scattered in place."""
    dose = _laid(PATTERNS["M"], _grid(16.0), ROUND, 16.0)
    step_m = 32.0 / GRID_COUNT
    carried = np.roll(_smeared(dose, step_m=step_m, sd_m=0.2), round(0.3 / step_m))
    still = Displacement(along_sd_m=0.2, lateral_sd_m=0.2, forward_m=0.0)
    moving = Displacement(along_sd_m=0.2, lateral_sd_m=0.2, forward_m=0.3)
    before = ripples(PATTERNS["M"], driving_width_m=16.0, way=ROUND)
    for moved in (still, moving):
        after = cv_after_fraction(before, angles_rad=(0.7,), displacement=moved)
        assert after == pytest.approx(_cv(carried), abs=1e-6)


def test_one_sided_scatter_leaves_a_wide_band_as_a_normal_one_does() -> None:
    """Seed thrown forward only, thinning out evenly, SD 0.5 m: a 16 m band is left the same.

    Of a 0.76 m ripple such a scatter leaves more than the normal one, so the tool does not
    understate what stays.
    """
    step_m = 0.002
    thrown_m = np.arange(0.0, 15.0, step_m) + step_m / 2
    weights = np.exp(-thrown_m / 0.5)
    weights /= weights.sum()

    def left(wavelength_m: float) -> float:
        turn = np.exp(2j * math.pi * thrown_m / wavelength_m)
        return float(abs((weights * turn).sum()))

    assert left(16.0) == pytest.approx(retained_fraction(16.0, 0.5), abs=0.0005)
    assert left(0.76) > retained_fraction(0.76, 0.5) + 0.1


def test_impossible_scatter_is_refused() -> None:
    """A scatter below nothing, or that is no number, is named."""
    for wrong in (-0.1, math.nan, math.inf):
        with pytest.raises(OutOfRange, match="scatter along"):
            Displacement(along_sd_m=wrong, lateral_sd_m=0.1)
        with pytest.raises(OutOfRange, match="scatter across"):
            Displacement(along_sd_m=0.1, lateral_sd_m=wrong)


# --- levers ------------------------------------------------------------------------------------


@EACH
@BOTH
@pytest.mark.parametrize("first_turned", [0, 1])
def test_half_rate_twice_is_two_half_doses_half_a_width_apart(
    name: str, way: Way, first_turned: int
) -> None:
    """Two sets laid pass by pass, the second starting to the left or to the right: one result.

    Evenness, thinnest tenth and ground under nine tenths of the mean all agree.
    """
    pattern, width_m = PATTERNS[name], _width_m(name)
    once = ripples(pattern, driving_width_m=width_m, way=way)
    twice = half_rate_twice(once, driving_width_m=width_m)
    places_m = _grid(width_m)
    shift_m = width_m / 2 + first_turned * width_m
    first = _laid(pattern, places_m, way, width_m)
    second = _laid(pattern, places_m - shift_m, way, width_m)
    dose = (first + second) / 2.0
    assert twice.cv_fraction == pytest.approx(_cv(dose), abs=1e-6)
    found = ground(twice)
    assert found.tenth_quantile_share == pytest.approx(float(np.quantile(dose, 0.1)), abs=5e-4)
    below = float((dose < 0.9).mean())
    assert found.below_fraction(0.9) == pytest.approx(below, abs=2e-3)


def test_half_rate_twice_round_and_round_is_half_the_width() -> None:
    """Passes every half width, all the same way about, are passes at that width."""
    for pattern in PATTERNS.values():
        once = ripples(pattern, driving_width_m=12.0, way=ROUND)
        twice = half_rate_twice(once, driving_width_m=12.0)
        narrow = ripples(pattern, driving_width_m=6.0, way=ROUND)
        assert twice.cv_fraction == pytest.approx(narrow.cv_fraction, abs=1e-7)


def test_half_rate_twice_does_little_for_a_lean_and_for_a_centre_peak() -> None:
    """A lean back and forth shrinks by sqrt(2) only; a W rippled twice a width is as it was."""
    lean = ripples(PATTERNS["skewed"], driving_width_m=16.0, way=FORTH)
    twice = half_rate_twice(lean, driving_width_m=16.0)
    odd = slice(0, None, 2)
    assert twice.amplitude_fraction[odd] == pytest.approx(
        lean.amplitude_fraction[odd] / math.sqrt(2.0), abs=1e-12
    )
    assert twice.amplitude_fraction[1::4] == pytest.approx(0.0, abs=1e-12)
    assert twice.amplitude_fraction[3::4] == pytest.approx(lean.amplitude_fraction[3::4], abs=1e-12)
    with pytest.raises(OutOfRange):
        half_rate_twice(lean, driving_width_m=10.0)


@pytest.mark.parametrize("degrees", [15, 30, 90])
def test_crossing_sets_meet_every_dose_with_every_other(degrees: int) -> None:
    """A field 2 km across, laid in two directions and counted: the same ground at any crossing."""
    spread = ripples(PATTERNS["A"], driving_width_m=10.5, way=FORTH)
    angle = math.radians(degrees)
    # Places that fill a square evenly without following either set (golden-ratio steps).
    number = np.arange(400_000, dtype=np.float64)
    east_m = 2000.0 * ((number * 0.7548776662466927) % 1.0)
    north_m = 2000.0 * ((number * 0.5698402909980532) % 1.0)
    over_m = (east_m * math.cos(angle) + north_m * math.sin(angle)) % spread.repeat_m
    dose = (
        _laid(PATTERNS["A"], east_m % spread.repeat_m, FORTH, 10.5)
        + _laid(PATTERNS["A"], over_m, FORTH, 10.5)
    ) / 2.0
    found = crossed(spread, spread)
    assert found.cv_fraction == pytest.approx(_cv(dose), abs=3e-4)
    assert found.cv_fraction == pytest.approx(spread.cv_fraction / math.sqrt(2.0), abs=1e-5)
    assert found.tenth_quantile_share == pytest.approx(float(np.quantile(dose, 0.1)), abs=1e-3)
    assert found.below_fraction(0.9) == pytest.approx(float((dose < 0.9).mean()), abs=3e-3)


def test_crossed_sets_are_covered_each_at_its_own_angle() -> None:
    """Covering along the first set runs square to the second: CV^2 is a quarter of both squares."""
    spread = ripples(PATTERNS["M"], driving_width_m=16.0, way=ROUND)
    along = covered(spread, angles_rad=(0.0,), displacement=MOVED)
    square = covered(spread, angles_rad=(math.pi / 2,), displacement=MOVED)
    want = math.hypot(along.cv_fraction, square.cv_fraction) / 2.0
    assert crossed(along, square).cv_fraction == pytest.approx(want, abs=2e-5)
    assert crossed(along, square).shares.mean() == pytest.approx(1.0, abs=1e-9)


def test_centring_helps_back_and_forth_only() -> None:
    """SPREAD-C1 leans half a metre right: centred it is evener back and forth, the same round."""
    leaning, straight = PATTERNS["A"], centred(PATTERNS["A"])
    for way, gains in ((FORTH, True), (ROUND, False)):
        before = ripples(leaning, driving_width_m=10.5, way=way).cv_fraction
        after = ripples(straight, driving_width_m=10.5, way=way).cv_fraction
        assert (after < 0.5 * before) is gains
        assert gains or after == pytest.approx(before, abs=1e-12)


# --- shares of the ground ----------------------------------------------------------------------


def test_ground_of_a_triangle_ripple_by_hand() -> None:
    """Doses rising evenly from 0.5 to 1.5: a tenth lies under 0.6, a quarter under 0.75."""
    even = Ground(shares=0.5 + (np.arange(1000) + 0.5) / 1000)
    assert even.tenth_quantile_share == pytest.approx(0.6, abs=1e-9)
    assert even.below_fraction(0.75) == pytest.approx(0.25, abs=1e-9)
    assert even.below_fraction(0.4) == 0.0
    assert even.below_fraction(1.6) == 1.0
    assert even.cv_fraction == pytest.approx(1 / math.sqrt(12), rel=1e-5)
    with pytest.raises(OutOfRange):
        Ground(shares=np.array([1.0, 0.9, 1.1]))


def test_ground_of_one_ripple_is_an_arcsine() -> None:
    """A single ripple of amplitude a: under 1 - a/2 lies a third of the ground."""
    one = Ripples(
        mean=1.0,
        repeat_m=16.0,
        wavelength_m=np.array([16.0]),
        amplitude_fraction=np.array([0.3]),
        phase_rad=np.array([0.4]),
        tail_fraction=0.0,
    )
    found = ground(one)
    assert found.below_fraction(0.85) == pytest.approx(1 / 3, abs=1e-4)
    assert found.tenth_quantile_share == pytest.approx(1 - 0.3 * math.cos(0.1 * math.pi), abs=1e-4)
    assert found.cv_fraction == pytest.approx(0.3 / math.sqrt(2.0), abs=1e-9)
    places_m = np.arange(64) * 0.25
    wave = 1.0 + 0.3 * np.cos(2 * math.pi * places_m / 16.0 + 0.4)
    assert profile(one, points_count=64) == pytest.approx(wave, abs=1e-12)


def test_bare_strips_stay_thin_after_covering() -> None:
    """Driven too wide, the bare strip between passes is still under half after covering at 20."""
    wide = ripples(PATTERNS["triangle"], driving_width_m=24.0, way=ROUND)
    after = ground(covered(wide, angles_rad=(math.radians(20.0),), displacement=MOVED))
    assert ground(wide).below_fraction(0.5) == pytest.approx(0.25, abs=0.002)
    assert after.below_fraction(0.5) == pytest.approx(0.25, abs=0.002)


# --- counts and burial -------------------------------------------------------------------------


COUNTS = [  # prototypes 1.6: 25 seeds to the square foot
    (0.0625, 0.24),
    (0.09290304, 0.20),
    (0.25, 0.12),
    (1.0, 0.06),
]


@pytest.mark.parametrize(("area_m2", "cv"), COUNTS)
def test_counts_of_an_even_stand_are_uneven(area_m2: float, cv: float) -> None:
    """25 seeds/ft2, perfectly spread: 20 % in a square foot, 6 % in a square metre."""
    seeds = 25.0 / 0.09290304 * area_m2
    found = with_counting_noise_fraction(0.0, seeds_count=seeds)
    assert found == pytest.approx(cv, abs=0.005)


def test_counting_noise_goes_in_and_out_again() -> None:
    """SPREAD-C12's 70 seeds, and a stand of CV 15 %: put in and taken out it is 15 % again."""
    assert with_counting_noise_fraction(0.0, seeds_count=70.0) == pytest.approx(0.1195, abs=5e-5)
    shown = with_counting_noise_fraction(0.15, seeds_count=25.0)
    assert shown == pytest.approx(0.25)  # 15 and 20 make 25
    assert without_counting_noise_fraction(shown, seeds_count=25.0) == pytest.approx(0.15)
    with pytest.raises(OutOfRange):
        with_counting_noise_fraction(0.1, seeds_count=0.0)


def test_counts_of_seed_by_chance_have_that_spread() -> None:
    """A plain draw: mean 12 seeds in a frame, the mean itself uneven by 18 %."""
    rng = np.random.default_rng(4)
    expected = 12.0 * (1.0 + 0.18 * math.sqrt(2.0) * np.cos(2 * math.pi * rng.random(400_000)))
    counts = rng.poisson(expected)
    want = with_counting_noise_fraction(0.18, seeds_count=12.0)
    assert _cv(counts.astype(np.float64)) == pytest.approx(want, abs=0.002)


def test_nothing_lies_below_the_worked_depth() -> None:
    """0.30 mixed through 100 mm: 0.15 under 50 mm, none under 100 mm; depths in order."""

    def between(from_m: float, to_m: float, *, passes: int = 1) -> float:
        return mixed_between_fraction(
            0.3, worked_depth_m=0.1, from_m=from_m, to_m=to_m, passes_count=passes
        )

    assert between(0.05, 0.3) == pytest.approx(0.15)
    assert between(0.1, 0.3) == 0.0
    assert between(0.0, 0.1, passes=2) == pytest.approx(0.51)  # 1 - 0.7 x 0.7
    with pytest.raises(OutOfRange):
        between(0.05, 0.02)
