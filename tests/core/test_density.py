"""The density map against formulas, plain smoothing of a whole map, and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from made_fields import drawn, rectangle
from scipy import ndimage

from duskline.core.density import (
    DensityMap,
    Displacement,
    DrivenLines,
    Steering,
    Tool,
    density_map,
    driven_lines,
    field_density,
)
from duskline.core.errors import OutOfRange
from duskline.core.lap import gap_sd_m, skip_fraction
from duskline.core.outline import FloatArray, Outline, inset
from duskline.core.passes import Driving, plan_covering, plan_passes
from duskline.core.trays import TrayPattern, evenness
from duskline.core.turns import TurnRule

STRAIGHT = Steering(sd_m=0.0)
MOVED = Displacement(along_sd_m=0.4, lateral_sd_m=0.12, forward_m=0.3)
STILL = Displacement(along_sd_m=0.0, lateral_sd_m=0.0)

PLACES_M = np.arange(-24.0, 24.25, 0.5)
# Shapes of our own; x is the place of a tray right of the driving line. [m]
SHAPES = {
    "trapezoid": np.clip((20.0 - np.abs(PLACES_M)) / 12.0, 0.0, 1.0),
    "triangle": np.clip(1.0 - np.abs(PLACES_M) / 20.0, 0.0, 1.0),
    "M": np.clip(20.0 - np.abs(PLACES_M), 0.0, 8.0) * (0.6 + 0.06 * np.abs(PLACES_M)),
    "W": np.clip(18.0 - np.abs(PLACES_M), 0.0, 7.0) * (1.0 + 0.9 * np.exp(-((PLACES_M / 3) ** 2))),
    "skewed": np.clip((20.0 - np.abs(PLACES_M)) / 12.0, 0.0, 1.0) * (1.0 + PLACES_M / 45.0),
}
# The tray test of example A, 15 trays at 5 ft, read off every half metre.
SHAPES["example A"] = np.interp(
    PLACES_M,
    1.524 * np.arange(-8, 9),
    [0, 0, 2, 5, 9, 13, 16, 17, 18, 17, 17, 15, 12, 8, 4, 2, 0],
)
# A made tray test, ragged from tray to tray as real ones are.
SHAPES["ragged"] = SHAPES["skewed"] * (1.0 + 0.15 * np.sin(2.7 * np.arange(len(PLACES_M))))


def trays(name: str) -> TrayPattern:
    """One of the shapes as a tray pattern."""
    return TrayPattern(first_tray_m=-24.0, spacing_m=0.5, catch=tuple(SHAPES[name].tolist()))


def parallel(
    *, first_m: float, width_m: float, count: int, along_m: tuple[float, float],
    heading_rad: float = 0.0, turned: bool = True,
) -> DrivenLines:  # fmt: skip
    """Passes side by side, every second one the other way if turned; places in the turned plane."""
    across = first_m + width_m * np.arange(count)
    lines = np.empty((count, 2, 2))
    lines[:, 0, 0], lines[:, 1, 0] = along_m
    lines[:, :, 1] = across[:, None]
    if turned:
        lines[1::2] = lines[1::2, ::-1]
    cos, sin = math.cos(heading_rad), math.sin(heading_rad)
    return DrivenLines(lines_m=lines @ np.array([[cos, sin], [-sin, cos]]))


def mapped(
    outline: Outline,
    *,
    shape: str = "trapezoid",
    spread: DrivenLines,
    cover: DrivenLines | None = None,
    swath_m: float = 16.0,
    tool_m: float = 9.0,
    moved: Displacement = MOVED,
    spread_steering: Steering = STRAIGHT,
    cover_steering: Steering = STRAIGHT,
    heading_rad: float = 0.0,
    cell_m: float = 0.5,
    seed: int = 0,
    map_cell_m: float | None = None,
    margin_m: float = 0.0,
    judged: tuple[Outline, ...] | None = None,
) -> DensityMap:
    """The density map of one spreading and one covering."""
    return density_map(
        outline,
        spread=spread,
        pattern=trays(shape),
        driving_width_m=swath_m,
        spread_steering=spread_steering,
        tools=[]
        if cover is None
        else [Tool(lines=cover, width_m=tool_m, displacement=moved, steering=cover_steering)],
        heading_rad=heading_rad,
        cell_m=cell_m,
        seed=seed,
        map_cell_m=map_cell_m,
        margin_m=margin_m,
        judged=judged,
    )


# ------------------------------------------------------------------------- against the formula


def kept_cv(shape: str, *, swath_m: float, angle_rad: float, moved: Displacement) -> float:
    """CV after covering by formula: each ripple of the fold keeps exp(-2 pi^2 s^2 / L^2)."""
    points = 8192
    period = 2.0 * swath_m
    across = (np.arange(points) + 0.5) * period / points
    dose = np.zeros(points)
    for number in range(-6, 7):
        side = across - number * swath_m
        # Grows to the left of the first pass, and every second pass is driven the other way.
        dose += np.interp(
            -side if number % 2 == 0 else side, PLACES_M, SHAPES[shape], left=0.0, right=0.0
        )
    strengths = np.abs(np.fft.rfft(dose)) ** 2
    variance = (moved.along_sd_m * math.sin(angle_rad)) ** 2 + (
        moved.lateral_sd_m * math.cos(angle_rad)
    ) ** 2
    ripple = np.arange(len(strengths)) / period
    kept = strengths * np.exp(-4.0 * math.pi**2 * variance * ripple**2)
    return math.sqrt(2.0 * kept[1:].sum() / strengths[0])


@pytest.mark.parametrize("shape", list(SHAPES))
@pytest.mark.parametrize("degrees", [0, 5, 20, 45, 90])
def test_without_skips_the_map_keeps_what_the_formula_keeps_of_every_ripple(
    shape: str, degrees: int
) -> None:
    """Ground covered once, at any angle: CV after to 0.0005 of the formula's."""
    angle = math.radians(degrees)
    swath_m = 16.0
    # Eight whole repeats across, so that the mean over the field is the mean over a repeat.
    outline = rectangle(400.0, 16 * swath_m)
    spread = parallel(first_m=-40.0, width_m=swath_m, count=22, along_m=(-60.0, 460.0))
    cover = parallel(
        first_m=-400.0, width_m=9.0, count=100, along_m=(-500.0, 900.0), heading_rad=angle
    )
    answer = mapped(
        outline, shape=shape, spread=spread, cover=cover, heading_rad=angle, cell_m=0.25
    )
    assert answer.skip_fraction < 1e-4
    expected = kept_cv(shape, swath_m=swath_m, angle_rad=angle, moved=MOVED)
    assert answer.after_cv_fraction == pytest.approx(expected, abs=5e-4)
    assert answer.mean_after == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("shape", list(SHAPES))
@pytest.mark.parametrize("turned", [True, False])
def test_before_covering_the_map_has_the_evenness_of_the_tray_test(
    shape: str, turned: bool
) -> None:
    """Both ways of driving, also the lopsided patterns, to 0.0005 in CV.

    In cells small enough for the ragged one: a cell takes the density of its middle.
    """
    spread = parallel(first_m=-56.0, width_m=14.0, count=30, along_m=(-10.0, 60.0), turned=turned)
    answer = mapped(
        rectangle(5.0, 20 * 14.0), shape=shape, spread=spread, swath_m=14.0, cell_m=0.05
    )
    fold = evenness(trays(shape), driving_widths_m=[14.0], straight_lines=True)
    expected = fold.back_and_forth_fraction if turned else fold.round_and_round_fraction
    assert answer.before_cv_fraction == pytest.approx(float(expected[0]), abs=5e-4)
    assert answer.after_cv_fraction == answer.before_cv_fraction


def test_a_plain_smoothing_of_the_whole_map_gives_the_same() -> None:
    """Straight passes, no shift forward: scipy's Gaussian over the map before, to 1e-3."""
    outline = rectangle(200.0, 128.0)
    angle = math.radians(10.0)
    moved = Displacement(along_sd_m=0.5, lateral_sd_m=0.3)
    answer = mapped(
        outline,
        shape="W",
        spread=parallel(
            first_m=-90.0, width_m=16.0, count=20, along_m=(-60.0, 300.0), heading_rad=-angle
        ),
        cover=parallel(first_m=-9.0, width_m=9.0, count=17, along_m=(-50.0, 250.0)),
        moved=moved,
        cell_m=0.25,
        map_cell_m=0.25,
    )
    assert answer.before is not None
    assert answer.after is not None
    smooth = ndimage.gaussian_filter(answer.before.astype(float), (0.3 / 0.25, 0.5 / 0.25))
    inner = np.s_[12:-12, 12:-12]
    assert np.ptp(answer.before) > 0.2
    assert np.abs(answer.after - smooth)[inner].max() < 1e-3


@pytest.mark.parametrize("degrees", [0, 7, 33])
def test_no_seed_is_lost_or_made(degrees: int) -> None:
    """Skips, double covering, rounds and slanted passes: the sums agree to a millionth."""
    angle = math.radians(degrees)
    outline = drawn("0,0 90,10 80,70 40,40 -10,60")
    legs = (np.array([[0.0, 0.0], [85.0, 8.0], [88.0, 30.0], [76.0, 66.0]]),)
    cover = parallel(
        first_m=-60.0, width_m=8.8, count=20, along_m=(-20.0, 120.0), heading_rad=angle
    )
    answer = mapped(
        outline,
        shape="ragged",
        spread=parallel(first_m=5.0, width_m=16.0, count=4, along_m=(0.0, 80.0)),
        cover=DrivenLines(lines_m=cover.lines_m, legs_m=legs),
        spread_steering=Steering(sd_m=0.1),
        cover_steering=Steering(sd_m=0.3),
        heading_rad=angle,
        cell_m=0.25,
        margin_m=60.0,
    )
    assert min(answer.state_fraction) > 0.001
    # Four passes of 80 m at the planned rate on 16 m.
    assert answer.sown_cells * 0.25**2 == pytest.approx(4 * 80.0 * 16.0, rel=2e-3)
    assert answer.left_cells == pytest.approx(answer.sown_cells, rel=1e-6)


def test_finer_cells_move_the_evenness_by_less_than_a_third_of_a_point() -> None:
    """0.25 m against 0.125 m on a field with skips and overlaps."""
    figures = [
        mapped(
            rectangle(250.0, 290.0),
            spread=parallel(first_m=-40.0, width_m=16.0, count=25, along_m=(-30.0, 280.0)),
            cover=parallel(first_m=-9.0, width_m=8.7, count=37, along_m=(-30.0, 280.0)),
            cover_steering=Steering(sd_m=0.2),
            cell_m=cell_m,
        ).after_cv_fraction
        for cell_m in (0.25, 0.125)
    ]
    assert abs(figures[0] - figures[1]) < 0.003
    assert min(figures) > 0.06


# --------------------------------------------------------------------------------------- skips


@pytest.mark.parametrize("by_eye", [False, True])
def test_skips_come_to_the_closed_form_in_both_ways_of_steering(by_eye: bool) -> None:
    """2,400 passes of 120 m, within 3 %."""
    passes, width_m, overlap_m, sd_m = 2400, 9.0, 0.3, 0.3
    # By eye the row wanders far: the field ends well inside the last row.
    step_m = width_m - overlap_m
    outline = Outline(
        exterior_m=rectangle(120.0, (passes - 60) * step_m).exterior_m
        + np.array([0.0, 30 * step_m])
    )
    answer = mapped(
        outline,
        spread=DrivenLines(lines_m=np.empty((0, 2, 2))),
        cover=parallel(first_m=0.0, width_m=step_m, count=passes, along_m=(-5.0, 125.0)),
        moved=STILL,
        cover_steering=Steering(sd_m=sd_m, correlation_m=5.0, by_eye=by_eye),
        cell_m=0.25,
        seed=3,
    )
    expected = skip_fraction(
        width_m=width_m, overlap_m=overlap_m, gap_sd_m=gap_sd_m(edge_sd_m=sd_m, by_eye=by_eye)
    )
    assert answer.skip_fraction == pytest.approx(expected, rel=0.03)


def crossed(degrees: float, seed: int) -> DensityMap:
    """A field covered at an angle, the driving width a whole multiple of the covering's.

    Eight seeds shift the spread passes through one driving width.
    """
    angle = math.radians(degrees)
    return mapped(
        rectangle(400.0, 324.0),
        shape="W",
        spread=parallel(
            first_m=-378.0 + 2.25 * seed,
            width_m=18.0,
            count=62,
            along_m=(-450.0, 850.0),
            heading_rad=-angle,
        ),
        cover=parallel(first_m=-4.5, width_m=9.0, count=38, along_m=(-30.0, 430.0)),
        swath_m=18.0,
        tool_m=9.2,
        cover_steering=Steering(sd_m=0.25, correlation_m=5.0),
        seed=seed,
        map_cell_m=0.5,
    )


def joint_means(answer: DensityMap) -> list[float]:
    """Mean sown density of what was missed along each joint between covering passes."""
    assert answer.before is not None
    assert answer.worked is not None
    missed = answer.worked == 0
    joint = np.broadcast_to((np.arange(len(missed)) // 18)[:, None], missed.shape)
    return [
        float(answer.before[missed & (joint == one)].mean())
        for one in np.unique(joint)
        if (missed & (joint == one)).sum() > 50
    ]


def test_an_angle_does_not_change_how_much_is_thin_and_missed_but_how_it_lies_together() -> None:
    """0, 5 and 10 degrees: the same area within noise; strips nowhere near as uneven."""
    seeds = range(8)
    answers = {degrees: [crossed(degrees, seed) for seed in seeds] for degrees in (0, 5, 10)}
    shares = {
        degrees: np.array([one.thin_and_missed_fraction() for one in found])
        for degrees, found in answers.items()
    }
    straight = shares[0].mean()
    assert straight > 5e-4
    for degrees in (5, 10):
        # At 0 degrees two places of the repeat are missed in a field, at others in the next.
        noise = math.sqrt((shares[0].var() + shares[degrees].var()) / len(seeds))
        assert abs(shares[degrees].mean() - straight) < 2.0 * noise
        assert shares[degrees].std() < 0.5 * shares[0].std()
    together = {
        degrees: float(np.std([mean for one in found for mean in joint_means(one)]))
        for degrees, found in answers.items()
    }
    assert together[5] < 0.5 * together[0]
    assert together[10] < 0.5 * together[0]


def test_a_driver_who_steers_by_eye_still_ends_beside_the_far_headland() -> None:
    """With the drift closed the last row lies on its line, so nothing is missed beyond it."""
    lines = parallel(first_m=4.35, width_m=8.7, count=40, along_m=(-5.0, 105.0))
    answers = [
        density_map(
            rectangle(100.0, 40 * 8.7),
            spread=DrivenLines(lines_m=np.empty((0, 2, 2))),
            pattern=trays("trapezoid"),
            driving_width_m=16.0,
            spread_steering=STRAIGHT,
            tools=[
                Tool(
                    lines=lines,
                    width_m=9.0,
                    displacement=STILL,
                    steering=Steering(sd_m=0.3, by_eye=True),
                )
            ],
            heading_rad=0.0,
            seed=seed,
            map_cell_m=0.25,
            close_drift=close,
        )
        for seed in range(6)
        for close in (True, False)
    ]
    edges = [(one.worked[-6:] == 0).mean() for one in answers if one.worked is not None]
    assert max(edges[::2]) == 0.0
    assert max(edges[1::2]) > 0.1


# ----------------------------------------------------------------------------- where seed goes


def moments(answer: DensityMap, which: str) -> tuple[FloatArray, FloatArray]:
    """Middle and spread of the seed on a map along and across its rows. [m], [m2]"""
    drawn_map = answer.before if which == "before" else answer.after
    assert drawn_map is not None
    assert answer.frame is not None
    weight = np.nan_to_num(drawn_map.astype(float))
    places = [
        answer.frame.cell_m * (np.arange(size) + 0.5) for size in (weight.shape[1], weight.shape[0])
    ]
    shares = [weight.sum(axis=axis) / weight.sum() for axis in (0, 1)]
    middle = np.array([float(s @ p) for s, p in zip(shares, places, strict=True)])
    spread = np.array(
        [float(s @ (p - m) ** 2) for s, p, m in zip(shares, places, middle, strict=True)]
    )
    return middle, spread


@pytest.mark.parametrize(
    ("degrees", "times"), [(0, 1), (180, 1), (90, 1), (45, 1), (0, 2), (225, 2)]
)
def test_seed_moves_forward_with_the_tool_and_spreads_along_and_across(
    degrees: int, times: int
) -> None:
    """One heap of seed under one wide tool: its middle and its spread, once and twice worked."""
    angle = math.radians(degrees)
    moved = Displacement(along_sd_m=0.8, lateral_sd_m=0.4, forward_m=0.9)
    outline = rectangle(80.0, 80.0)
    across = np.array([math.cos(angle), math.sin(angle)])
    line = np.array([[[40.0, 40.0] - 90.0 * across, [40.0, 40.0] + 90.0 * across]])
    answer = mapped(
        outline,
        shape="triangle",
        spread=DrivenLines(lines_m=np.array([[[35.0, 38.0], [44.0, 41.0]]])),
        cover=DrivenLines(lines_m=np.repeat(line, times, axis=0)),
        tool_m=140.0,
        moved=moved,
        cell_m=0.25,
        map_cell_m=0.25,
    )
    was, was_wide = moments(answer, "before")
    middle, wide = moments(answer, "after")
    np.testing.assert_allclose(middle - was, times * 0.9 * across, atol=2e-3)
    cos2, sin2 = math.cos(angle) ** 2, math.sin(angle) ** 2
    expected = [0.64 * cos2 + 0.16 * sin2, 0.64 * sin2 + 0.16 * cos2]
    # Cut at four SD a normal law keeps 0.9989 of its variance.
    np.testing.assert_allclose(wide - was_wide, times * 0.9989 * np.array(expected), atol=2e-3)


def test_the_heavy_side_lies_on_the_right_of_travel() -> None:
    """One pass of a spreader heavy on the right, driven north and driven south."""
    for ends, heavy_east in (((-5.0, 55.0), True), ((55.0, -5.0), False)):
        answer = mapped(
            rectangle(60.0, 50.0),
            shape="skewed",
            spread=DrivenLines(lines_m=np.array([[[30.0, ends[0]], [30.0, ends[1]]]])),
            map_cell_m=1.0,
        )
        assert answer.before is not None
        west, east = answer.before[:, :30].sum(), answer.before[:, 30:].sum()
        assert bool(east > 1.1 * west) is heavy_east
        assert bool(west > 1.1 * east) is not heavy_east


def test_missed_ground_keeps_its_seed_and_worked_ground_beside_it_gives_some_away() -> None:
    """One tool through the middle of an evenly sown field."""
    answer = mapped(
        rectangle(60.0, 60.0),
        spread=parallel(first_m=-60.0, width_m=4.0, count=45, along_m=(-30.0, 90.0)),
        swath_m=4.0,
        cover=DrivenLines(lines_m=np.array([[[-20.0, 30.0], [80.0, 30.0]]])),
        moved=Displacement(along_sd_m=0.4, lateral_sd_m=0.5),
        cell_m=0.25,
        map_cell_m=0.25,
    )
    assert answer.state_fraction == pytest.approx((51 / 60, 9 / 60, 0.0), abs=1e-9)
    assert answer.before is not None
    assert answer.after is not None
    np.testing.assert_allclose(answer.after[:80], answer.before[:80], atol=1e-6)
    # Just beyond the edge comes what half a normal law throws over it, nothing going back.
    beyond = float(answer.after[int(34.5 / 0.25)].mean())
    expected = 1.0 + 0.5 * math.erfc(0.125 / 0.5 / math.sqrt(2.0))
    assert beyond == pytest.approx(expected, abs=0.02)
    assert answer.state_mean(1) < 1.0 < answer.state_mean(0)


def test_a_round_driven_along_a_bend_neither_misses_nor_doubles_the_bend() -> None:
    """Pieces of a leg meet at the bisector: inside no double covering, outside no gap."""
    turn = np.radians(np.linspace(0.0, 90.0, 13))
    path = np.column_stack([40.0 * np.sin(turn), 40.0 - 40.0 * np.cos(turn)])
    path = np.vstack([[-20.0, 0.0], path, [40.0, 60.0]])
    ring = np.vstack([path[1:-1] * 0.99 + [0.0, 0.4], [[0.0, 38.0]]])
    answer = mapped(
        Outline(exterior_m=ring),
        spread=DrivenLines(lines_m=np.empty((0, 2, 2))),
        cover=DrivenLines(lines_m=np.empty((0, 2, 2)), legs_m=(path,)),
        moved=STILL,
        map_cell_m=0.5,
    )
    assert answer.worked is not None
    worked = answer.worked[~np.isnan(answer.worked)]
    assert worked.max() == pytest.approx(1.0)
    middle = np.array([0.0, 40.0])
    rows, columns = np.nonzero(~np.isnan(answer.worked))
    assert answer.frame is not None
    places = np.column_stack([columns, rows]) * 0.5 + 0.25 + answer.frame.origin_m
    from_middle = np.hypot(*(places - middle).T)
    under = (np.abs(from_middle - 40.0) < 4.0) & (np.degrees(
        np.arctan2(places[:, 0] - middle[0], middle[1] - places[:, 1])) < 88.0)  # fmt: skip
    assert under.sum() > 500
    assert worked[under].min() > 0.99


# ------------------------------------------------------------------------------------- figures


def test_the_same_seed_gives_the_same_bytes() -> None:
    """And another seed another map."""

    def made(seed: int) -> DensityMap:
        return mapped(
            rectangle(100.0, 80.0),
            spread=parallel(first_m=8.0, width_m=16.0, count=5, along_m=(0.0, 100.0)),
            cover=parallel(first_m=4.0, width_m=8.7, count=9, along_m=(0.0, 100.0)),
            spread_steering=Steering(sd_m=0.05),
            cover_steering=Steering(sd_m=0.2),
            seed=seed,
            map_cell_m=1.0,
        )

    first, again, other = made(1), made(1), made(2)
    for name in ("before", "after", "worked", "sums", "histograms"):
        assert getattr(first, name).tobytes() == getattr(again, name).tobytes()
    assert first.sums.tobytes() != other.sums.tobytes()


def test_shares_and_quantiles_agree_with_the_cells_themselves() -> None:
    """From the map of single cells: thinnest tenth, its mean, share below half."""
    answer = mapped(
        rectangle(200.0, 160.0),
        shape="M",
        spread=parallel(first_m=8.0, width_m=32.0, count=6, along_m=(0.0, 200.0)),
        swath_m=32.0,
        cover=parallel(first_m=4.0, width_m=9.0, count=18, along_m=(-5.0, 205.0)),
        cover_steering=Steering(sd_m=0.2),
        map_cell_m=0.5,
    )
    assert answer.after is not None
    assert answer.before is not None
    assert answer.worked is not None
    cells = np.sort(answer.after.ravel())
    assert answer.judged_m2 == pytest.approx(200.0 * 160.0)
    assert answer.tenth_density == pytest.approx(np.quantile(cells, 0.1), abs=0.003)
    tenth = cells[: len(cells) // 10].mean()
    assert answer.thinnest_mean(0.1) == pytest.approx(tenth, abs=0.003)
    assert answer.below_half_fraction == pytest.approx((cells < 0.5).mean(), abs=0.003)
    assert answer.after_cv_fraction == pytest.approx(cells.std() / cells.mean(), rel=1e-4)
    assert answer.skip_fraction == pytest.approx((answer.worked == 0).mean(), abs=1e-9)
    missed = answer.worked == 0
    limit = np.quantile(answer.before, 0.2)
    thin = (missed & (answer.before < limit)).mean()
    assert answer.thin_and_missed_fraction() == pytest.approx(thin, rel=0.1)
    with_missed, without = answer.after_cv_fraction, answer.covered_cv_fraction
    kept = answer.after[~missed]
    assert without == pytest.approx(kept.std() / kept.mean(), rel=1e-4)
    assert with_missed != without


def test_a_field_is_judged_without_its_border_when_asked() -> None:
    """Runs end at the edge: the border is thin, the inner ground is not."""
    outline = rectangle(200.0, 160.0)
    spread = parallel(first_m=8.0, width_m=16.0, count=10, along_m=(0.0, 200.0))
    whole = mapped(outline, spread=spread)
    inner = mapped(outline, spread=spread, judged=inset(outline, depth_m=24.0))
    assert inner.judged_m2 == pytest.approx(152.0 * 112.0)
    assert inner.mean_before == pytest.approx(1.0, abs=0.003)
    assert whole.mean_before < 0.98


def test_plots_are_judged_whole_and_hide_what_is_narrower_than_they_are() -> None:
    """1 m plots of the inner field: as evenly sown as cells, heaps along tool edges gone."""
    outline = rectangle(200.0, 160.0)
    inner = inset(outline, depth_m=24.5)
    answer = mapped(
        outline,
        shape="triangle",
        spread=parallel(first_m=-35.0, width_m=10.0, count=24, along_m=(-20.0, 220.0)),
        swath_m=10.0,
        cover=parallel(first_m=-4.0, width_m=8.7, count=21, along_m=(-20.0, 220.0)),
        cover_steering=Steering(sd_m=0.05),
        judged=inner,
        cell_m=0.25,
        map_cell_m=1.0,
    )
    assert answer.judged is not None
    assert answer.judged.sum() == 150 * 110  # half a plot on every side is cut
    assert answer.before is not None
    rates = answer.before[25:-25, 25:-25].astype(float)
    assert answer.plots_cv_fraction(after=False) == pytest.approx(
        rates.std() / rates.mean(), rel=1e-6
    )
    assert answer.before_cv_fraction < 0.001
    assert answer.after_cv_fraction > 0.02
    assert answer.plots_cv_fraction() < 0.5 * answer.after_cv_fraction
    with pytest.raises(OutOfRange):
        mapped(
            outline, spread=parallel(first_m=8.0, width_m=16.0, count=2, along_m=(0.0, 50.0))
        ).plots_cv_fraction()


def test_drive_plans_of_both_machines_sow_and_cover_a_field_with_a_corner_cut_out() -> None:
    """An L-shaped field of about 8 hectares: mean rate, skips and what is worked twice."""
    outline = drawn("0,0 400,0 400,150 220,150 220,260 0,260")
    turn = TurnRule(radius_m=6.0, speed_mps=2.0, fixed_s=5.0)
    spread = plan_passes(
        outline,
        driving=Driving(
            driving_width_m=16.0, speed_mps=3.5, turn=turn, swing_m=1.5, headland_first=True
        ),
        straight_within_m=1.0,
    )
    cover = plan_covering(
        outline,
        spread=spread,
        angles_rad=[math.radians(10.0)],
        driving=Driving(
            driving_width_m=8.4, width_m=9.0, speed_mps=2.5, turn=turn, swing_m=4.5, by_eye=True
        ),
        straight_within_m=1.0,
    )
    answer = field_density(
        outline,
        spread=spread,
        cover=cover,
        pattern=trays("trapezoid"),
        displacement=MOVED,
        spread_steering=Steering(sd_m=0.05),
        cover_steering=Steering(sd_m=0.1, by_eye=True),
        judged=inset(outline, depth_m=20.0),
        map_cell_m=2.0,
    )
    assert answer.mean_before == pytest.approx(1.0, abs=0.06)
    assert answer.skip_fraction < 0.03
    assert 0.02 < answer.state_fraction[2] < 0.4
    assert answer.frame is not None
    assert answer.frame.heading_rad == cover.heading_rad
    again = field_density(
        outline,
        spread=spread,
        cover=cover,
        cover_again=cover,
        pattern=trays("trapezoid"),
        displacement=MOVED,
        spread_steering=Steering(sd_m=0.05),
        cover_steering=Steering(sd_m=0.1, by_eye=True),
        judged=inset(outline, depth_m=20.0),
    )
    # Two coverings that stray on their own: most of what one missed the other finds.
    assert again.skip_fraction <= answer.skip_fraction
    assert again.state_fraction[2] > 0.9
    assert len(driven_lines(cover).legs_m) == len(cover.rounds_m)


def test_figures_that_cannot_be_are_refused() -> None:
    """Cells, drawn cells, seed, spread, quantile and judged ground outside the field."""
    outline = rectangle(50.0, 50.0)
    lines = parallel(first_m=8.0, width_m=16.0, count=2, along_m=(0.0, 50.0))
    for figures in (
        {"cell_m": 0.0},
        {"map_cell_m": 0.7},
        {"seed": -1},
        {"margin_m": -1.0},
        {"swath_m": 0.0},
        {"judged": (Outline(exterior_m=outline.exterior_m + 500.0),)},
    ):
        with pytest.raises(OutOfRange):
            mapped(outline, spread=lines, **figures)
    with pytest.raises(OutOfRange):
        Displacement(along_sd_m=-0.1, lateral_sd_m=0.1)
    with pytest.raises(OutOfRange):
        Steering(sd_m=0.1, correlation_m=0.0)
    with pytest.raises(OutOfRange):
        DrivenLines(lines_m=lines.lines_m, row_indices=np.zeros(3, dtype=np.intp))
    with pytest.raises(OutOfRange):
        mapped(outline, spread=DrivenLines(lines_m=np.zeros((1, 2, 2))))
    with pytest.raises(OutOfRange):
        mapped(outline, spread=lines).quantile(0.0)
