"""A recorded drive read back: passes, turns, speed, overlap, ground, and what lies open."""

from __future__ import annotations

import math

import numpy as np
import pytest
from made_drives import made_drive

from duskline.core.errors import OutOfRange
from duskline.core.track import Track, open_by_hour, read_drive

WIDTH_M = 9.0


# --- a known drive gives back its own numbers ----------------------------------------------


@pytest.mark.parametrize("marked", [False, True], ids=["no mark", "tool down marked"])
@pytest.mark.parametrize("heading_rad", [0.0, 0.3, 1.6, 4.0])
def test_a_straight_drive_reads_back_its_own_numbers(*, marked: bool, heading_rad: float) -> None:
    """20 passes of 600 m at 2.5 m/s, 8.1 m apart with 9 m of tool, 19 turns of 8 s.

    By hand: overlap 10 %; 600 x (9 + 19 x 8.1) = 97,740 m2 worked once or more;
    20 x 240 + 19 x 8 = 4,952 s; clock efficiency 97,740 / (4,952 x 9 x 2.5) = 0.877.
    """
    drive = read_drive(made_drive(marked=marked, heading_rad=heading_rad), width_m=WIDTH_M)
    assert (len(drive.passes), len(drive.turns)) == (20, 19)
    assert drive.speed_mps == pytest.approx(2.5, rel=1e-3)
    assert drive.joints is not None
    assert drive.joints.count == 19
    assert drive.joints.spacing_m == pytest.approx(8.1, abs=1e-3)
    assert drive.joints.overlap_fraction == pytest.approx(0.10, abs=1e-4)
    assert drive.joints.skip_fraction == 0.0
    assert drive.turn_s == pytest.approx(8.0, abs=1.0)
    assert drive.clock_s == pytest.approx(4952.0, abs=1.0)
    assert drive.worked.worked_m2 == pytest.approx(97_740.0, rel=3e-3)
    assert drive.clock_efficiency_fraction == pytest.approx(0.8772, abs=0.003)
    assert drive.rate_m2_per_s == pytest.approx(97_740.0 / 4952.0, rel=3e-3)


def test_ground_worked_twice_is_the_overlap() -> None:
    """19 joints of 0.9 m over 600 m: 10,260 m2 worked twice."""
    drive = read_drive(made_drive(), width_m=WIDTH_M)
    assert drive.worked.twice_m2 == pytest.approx(19 * 0.9 * 600.0, rel=5e-3)


def test_passes_too_far_apart_show_as_skip() -> None:
    """9.27 m from line to line with 9 m of tool: 0.27 / 9.27 = 2.9 % skipped, overlap -3 %."""
    drive = read_drive(made_drive(spacing_m=9.27), width_m=WIDTH_M)
    assert drive.joints is not None
    assert drive.joints.skip_fraction == pytest.approx(0.27 / 9.27, rel=1e-3)
    assert drive.joints.overlap_fraction == pytest.approx(-0.03, abs=1e-4)


def test_jitter_of_the_receiver_moves_little() -> None:
    """5 cm of jitter: speed within 1 %, overlap inside its own interval, turns within a second."""
    drive = read_drive(made_drive(jitter_m=0.05), width_m=WIDTH_M)
    joints = drive.joints
    assert len(drive.passes) == 20
    assert drive.speed_mps == pytest.approx(2.5, rel=0.01)
    assert drive.turn_s == pytest.approx(8.0, abs=1.0)
    assert joints is not None
    assert joints.overlap_low_m is not None
    assert joints.overlap_high_m is not None
    assert joints.overlap_low_m < 0.9 < joints.overlap_high_m
    assert joints.overlap_high_m - joints.overlap_low_m < 0.05


def test_a_poor_receiver_still_finds_the_passes() -> None:
    """30 cm of jitter at every point: all passes, overlap within 2 cm, ground within 1 %."""
    drive = read_drive(made_drive(jitter_m=0.3), width_m=WIDTH_M)
    assert (len(drive.passes), len(drive.turns)) == (20, 19)
    assert drive.joints is not None
    assert drive.joints.overlap_m == pytest.approx(0.9, abs=0.02)
    assert drive.worked.worked_m2 == pytest.approx(97_740.0, rel=0.01)


def test_a_point_every_five_seconds_is_enough() -> None:
    """A phone that writes every 5 s: passes and overlap hold, a turn is off by two seconds."""
    drive = read_drive(made_drive(every_s=5.0), width_m=WIDTH_M)
    assert len(drive.passes) == 20
    assert drive.joints is not None
    assert drive.joints.overlap_m == pytest.approx(0.9, abs=0.01)
    assert drive.turn_s == pytest.approx(8.0, abs=2.0)


def test_the_interval_of_the_overlap_is_students_over_pairs() -> None:
    """Three gaps of 8.0, 8.2 and 8.4 m on equal passes: 8.2 +/- 4.303 x 0.2 / sqrt(3) m."""
    lines = [0.0, 8.0, 16.2, 24.6]
    points, times = [], []
    for number, y in enumerate(lines):
        x = np.arange(0.0, 300.1, 2.5)
        points.append(np.column_stack([x if number % 2 == 0 else x[::-1], np.full(len(x), y)]))
        times.append(400.0 * number + np.arange(len(x)))  # the recorder is off in the turns
    track = Track(t_s=np.concatenate(times), points_m=np.concatenate(points))
    joints = read_drive(track, width_m=WIDTH_M).joints
    assert joints is not None
    assert joints.overlap_m == pytest.approx(0.8, abs=1e-6)
    half = 4.3027 * 0.2 / math.sqrt(3.0)
    assert joints.overlap_low_m == pytest.approx(0.8 - half, abs=1e-4)
    assert joints.overlap_high_m == pytest.approx(0.8 + half, abs=1e-4)


# --- what goes wrong with recorders --------------------------------------------------------


def changed(track: Track, keep: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Track:
    """The track with only some of its points."""
    return Track(t_s=track.t_s[keep], points_m=track.points_m[keep])


def test_a_gap_makes_up_no_ground() -> None:
    """Two minutes lost in the third pass: 300 m x 9 m fewer, no time of work, no turn for it."""
    whole = made_drive(spacing_m=12.0)
    lost = (whole.t_s > 560.0) & (whole.t_s < 680.0)
    drive, all_of_it = (
        read_drive(track, width_m=WIDTH_M) for track in (changed(whole, ~lost), whole)
    )
    assert len(drive.passes) == 21
    assert len(drive.turns) == 19
    assert drive.silent_s == pytest.approx(120.0, abs=2.0)
    assert drive.clock_s == pytest.approx(all_of_it.clock_s - 120.0, abs=2.0)
    missing_m2 = all_of_it.worked.worked_m2 - drive.worked.worked_m2
    assert missing_m2 == pytest.approx(300.0 * 9.0, rel=0.02)


def test_points_written_twice_and_out_of_order_change_nothing() -> None:
    """A recorder that restarts and repeats its last minutes, and shuffles a few."""
    whole = made_drive()
    order = np.concatenate([np.arange(900), np.arange(700, len(whole.t_s))])
    order[100:104] = order[[103, 101, 102, 100]]
    again = Track(t_s=whole.t_s[order], points_m=whole.points_m[order])
    assert np.array_equal(again.t_s, whole.t_s)
    assert np.array_equal(again.points_m, whole.points_m)


def test_points_thrown_far_out_and_points_without_figures_are_dropped() -> None:
    """A point 5 km off for a second, and one that is no number."""
    whole = made_drive()
    points = whole.points_m.copy()
    points[500] += 5000.0
    points[800] = np.nan
    cleaned = Track(t_s=whole.t_s, points_m=points)
    assert len(cleaned.t_s) == len(whole.t_s) - 2
    drive = read_drive(cleaned, width_m=WIDTH_M)
    assert len(drive.passes) == 20
    assert drive.worked.worked_m2 == pytest.approx(97_740.0, rel=3e-3)


@pytest.mark.parametrize("jitter_m", [0.0, 0.3])
def test_a_refill_at_the_headland_is_standing_not_turning(jitter_m: float) -> None:
    """Twenty minutes' stop in the middle of the second turn: 1,200 s stood, the turn still 8 s."""
    whole = made_drive(jitter_m=jitter_m)
    stop = int(np.searchsorted(whole.t_s, 2 * 240.0 + 8.0 + 4.0))
    wait = np.arange(1.0, 1201.0)
    noise = np.random.default_rng(2).normal(0.0, 1.0, (1200, 2)) * jitter_m
    track = Track(
        t_s=np.concatenate(
            [whole.t_s[: stop + 1], whole.t_s[stop] + wait, whole.t_s[stop + 1 :] + 1200.0]
        ),
        points_m=np.concatenate(
            [whole.points_m[: stop + 1], whole.points_m[stop] + noise, whole.points_m[stop + 1 :]]
        ),
    )
    drive = read_drive(track, width_m=WIDTH_M)
    assert (len(drive.passes), len(drive.turns)) == (20, 19)
    assert drive.stood_s == pytest.approx(1200.0, abs=10.0)
    assert drive.turns[1].stood_s == pytest.approx(1200.0, abs=10.0)
    assert drive.turns[1].took_s == pytest.approx(8.0, abs=5.0)
    assert drive.turn_s == pytest.approx(8.0, abs=1.0)


def rounds(count: int, *, width_m: float, corner_m: float = 8.0) -> Track:
    """Rounds inwards along a field of 500 x 300 m at 2.5 m/s with round corners, tool down."""
    points = []
    for number in range(count):
        off = 4.5 + number * width_m
        east, north = 500.0 - off, 300.0 - off
        for x, y, first in (
            (east - corner_m, off + corner_m, -0.5),
            (east - corner_m, north - corner_m, 0.0),
            (off + corner_m, north - corner_m, 0.5),
            (off + corner_m, off + width_m + corner_m, 1.0),
        ):
            angle = math.pi * (first + 0.5 * np.linspace(0.0, 1.0, 15))
            points.append([x, y] + corner_m * np.column_stack([np.cos(angle), np.sin(angle)]))
    path = np.concatenate(points)
    way_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at_m = np.arange(0.0, way_m[-1], 2.5)
    spots = np.column_stack([np.interp(at_m, way_m, path[:, k]) for k in (0, 1)])
    t_s = np.arange(float(len(at_m)))
    return Track(t_s=t_s, points_m=spots, working=np.ones(len(t_s), dtype=bool))


def test_headland_rounds_are_passes_on_four_sides_and_their_corners_count() -> None:
    """Three rounds 8.4 m apart with 9 m of tool: 12 sides, overlap 0.6 m, ground on all the way.

    Marked at work throughout, so the corners are worked ground too: the way times 9 m less what
    the rounds lap. Without the mark the corners are not seen and the ground is less.
    """
    track = rounds(3, width_m=8.4)
    drive = read_drive(track, width_m=WIDTH_M)
    assert len(drive.passes) == 11  # the first side is not driven before the first corner
    assert len(drive.stretches) == 1
    assert drive.joints is not None
    assert drive.joints.overlap_m == pytest.approx(0.6, abs=0.02)
    way_m = float(np.hypot(*np.diff(track.points_m, axis=0).T).sum())
    assert drive.worked.summed_m2 == pytest.approx(way_m * WIDTH_M, rel=2e-3)
    unmarked = read_drive(Track(t_s=track.t_s, points_m=track.points_m), width_m=WIDTH_M)
    assert len(unmarked.passes) == 11
    assert unmarked.worked.worked_m2 < drive.worked.worked_m2
    assert unmarked.worked.worked_m2 > 0.9 * drive.worked.worked_m2


def test_passes_of_two_blocks_are_not_taken_for_neighbours() -> None:
    """Two blocks at right angles, each with 9 gaps of 8.1 m: 18 pairs, none across the corner."""
    first = made_drive(passes=10, heading_rad=0.0)
    second = made_drive(passes=10, heading_rad=math.pi / 2, start_s=first.t_s[-1] + 60.0)
    track = Track(
        t_s=np.concatenate([first.t_s, second.t_s]),
        points_m=np.concatenate([first.points_m, second.points_m - [50.0, 0.0]]),
    )
    drive = read_drive(track, width_m=WIDTH_M)
    assert drive.joints is not None
    assert drive.joints.count == 18
    assert drive.joints.overlap_m == pytest.approx(0.9, abs=1e-3)


def test_one_pass_has_no_neighbour_and_no_turn() -> None:
    """A single pass: ground and speed, nothing about joints or turns."""
    drive = read_drive(made_drive(passes=1), width_m=WIDTH_M)
    assert drive.joints is None
    assert drive.turn_s is None
    assert drive.worked.worked_m2 == pytest.approx(5400.0, rel=1e-6)
    assert drive.clock_efficiency_fraction == pytest.approx(1.0, rel=1e-3)


def test_tracks_that_say_nothing_are_refused() -> None:
    """No points, one point, a machine that stands, a width of nothing, figures that do not pair."""
    with pytest.raises(OutOfRange, match="points of the track"):
        read_drive(Track(t_s=np.zeros(0), points_m=np.zeros((0, 2))), width_m=WIDTH_M)
    with pytest.raises(OutOfRange, match="points of the track"):
        read_drive(Track(t_s=np.zeros(5), points_m=np.zeros((5, 2))), width_m=WIDTH_M)
    still = Track(t_s=np.arange(50.0), points_m=np.zeros((50, 2)))
    with pytest.raises(OutOfRange, match="passes found"):
        read_drive(still, width_m=WIDTH_M)
    with pytest.raises(OutOfRange, match="width"):
        read_drive(made_drive(), width_m=0.0)
    with pytest.raises(OutOfRange, match="points of the track"):
        Track(t_s=np.arange(4.0), points_m=np.zeros((5, 2)))


# --- open ground ---------------------------------------------------------------------------


def test_open_ground_hour_by_hour_by_hand() -> None:
    """Spread 16 m a pass of 500 m every 208 s; worked in 8 m a pass, an hour later.

    After the first hour 17 passes are spread and the 18th is on its way. The first covering pass
    runs from 4 m below the first spread line, which reaches 8 m: at the end of the day that edge
    of 4 m x 500 m still lies open.
    """
    spread = read_drive(
        made_drive(passes=20, spacing_m=16.0, length_m=500.0, heading_rad=0.0), width_m=16.0
    )
    cover = read_drive(
        made_drive(
            passes=41,
            spacing_m=8.0,
            length_m=500.0,
            heading_rad=0.0,
            start_s=3600.0,
        ),
        width_m=8.0,
    )
    moments = (0.0, 3600.0, 7200.0, 20_000.0)
    open_ground = open_by_hour(spread=spread, cover=cover, at_s=moments)
    hours = open_ground.hours
    assert hours[0].spread_m2 == 0.0
    lap_s = 500.0 / 2.5 + 8.0
    done = 3600.0 // lap_s + (3600.0 % lap_s) / (lap_s - 8.0)
    assert hours[1].spread_m2 == pytest.approx(done * 16.0 * 500.0, rel=0.01)
    assert hours[1].open_m2 == pytest.approx(hours[1].spread_m2)
    assert hours[2].spread_m2 == pytest.approx(20 * 16.0 * 500.0, rel=0.01)
    assert hours[2].open_m2 == pytest.approx(hours[2].spread_m2 - hours[2].covered_m2, rel=1e-4)
    assert 0.0 < hours[2].covered_m2 < hours[2].spread_m2
    # Wider passes turn wider and are followed up to 2 m farther into the turn at both ends.
    assert 2000.0 <= hours[3].open_m2 <= 2000.0 + 320.0 * 2 * 2.0


def test_open_cells_lie_where_nothing_was_worked_in() -> None:
    """One pass spread 16 m wide, its left 8 m worked in: the right half is marked open."""
    spread = read_drive(made_drive(passes=1, heading_rad=0.0), width_m=16.0)
    line = np.column_stack([np.arange(0.0, 600.1, 2.5), np.full(241, 4.0)])
    cover = read_drive(Track(t_s=1000.0 + np.arange(241.0), points_m=line), width_m=8.0)
    found = open_by_hour(spread=spread, cover=cover, at_s=(500.0, 2000.0), cell_m=1.0)
    before, after = found.hours
    assert before.open_m2 == pytest.approx(9600.0, rel=1e-6)
    assert after.open_m2 == pytest.approx(4800.0, rel=1e-6)
    open_rows = np.flatnonzero(after.where.any(axis=1))
    assert found.grid.origin_m[1] + open_rows.max() + 1.0 == pytest.approx(0.0, abs=1e-6)
    with pytest.raises(OutOfRange, match="order"):
        open_by_hour(spread=spread, cover=cover, at_s=(5.0, 1.0))
