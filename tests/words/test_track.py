"""A recorded drive in sentences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from made_drives import made_drive
from made_folders import EXAMPLES

from duskline.answers.track import TrackAnswer, open_answer, track_answer
from duskline.core.track import Track
from duskline.exchange.farmfolder import read_farm
from duskline.words.track import open_lines, track_headline, track_lines

FARM = read_farm(EXAMPLES / "rye-after-soybeans")
FIELD = FARM.fields[0]


def read_back(spacing_m: float) -> TrackAnswer:
    """Return what a drive of cultivator 1, 30 ft wide, says at a spacing."""
    drive = made_drive(passes=10, spacing_m=spacing_m, length_m=500.0, heading_rad=0.0)
    moved = Track(t_s=drive.t_s, points_m=drive.points_m - np.asarray([250.0, 100.0]))
    return track_answer(FARM, FIELD, FARM.cultivators[0], moved)


def test_overlap_stands_on_top() -> None:
    """27 ft between passes of a 30 ft tool: 3 ft; 31 ft: 1 ft left open."""
    assert track_headline(read_back(27 * 0.3048), "us") == "Cultivator 1: laps 3.0 ft"
    assert track_headline(read_back(31 * 0.3048), "us") == (
        "Cultivator 1: 1.0 ft left between passes"
    )


def test_a_lap_below_none_is_called_ground_left_open() -> None:
    """31 ft between passes of a 30 ft tool: no figure with a minus sign, on any line."""
    answer = read_back(31 * 0.3048)
    assert answer.drive.joints is not None
    spans = [(-0.6, -0.1), (-0.3, 0.3), (0.1, 0.4), (-0.001, 0.3)]
    told = []
    for low_m, high_m in spans:
        joints = replace(answer.drive.joints, overlap_low_m=low_m, overlap_high_m=high_m)
        told += track_lines(replace(answer, drive=replace(answer.drive, joints=joints)), "us")[:1]
    assert not any("-" in line for line in told)
    assert told[0].startswith("1.0 ft left open (0.3 ft to 2.0 ft left open), planned lap 3.0 ft")
    assert "(from 1.0 ft left open to 1.0 ft lapped)" in told[1]
    assert "(0.3 ft to 1.3 ft)" in told[2]
    assert "(0.0 ft to 1.0 ft)" in told[3]


def test_figures_stand_beside_what_was_planned() -> None:
    """Overlap, speed and clock efficiency each with the folder's figure."""
    text = " ".join(track_lines(read_back(27 * 0.3048), "us"))
    for words in ("planned lap 3.0 ft", "planned 5.5 mph", "planned 85 %", "10 passes", "Of A1:"):
        assert words in text


def test_standing_and_a_silent_recorder_are_told() -> None:
    """Only where it was a minute or more."""
    answer = read_back(8.0)
    assert not any("Stood" in line for line in track_lines(answer, "us"))
    drive = replace(answer.drive, stood_s=300.0, silent_s=600.0)
    text = " ".join(track_lines(replace(answer, drive=drive), "us"))
    assert "Stood still for 5 min" in text
    assert "The recorder was off for 10 min" in text


def test_open_ground_says_when_and_where() -> None:
    """Spread over the whole width, covered from the south: what is open lies in the north."""
    spread = made_drive(passes=20, spacing_m=12.192, length_m=600.0, heading_rad=0.0, speed_mps=4.0)
    cover = made_drive(passes=14, spacing_m=8.23, length_m=600.0, heading_rad=0.0)
    shift = np.asarray([300.0, 120.0])
    opened = open_answer(
        field=FIELD,
        spreader=FARM.spreaders[0],
        spread=Track(t_s=spread.t_s, points_m=spread.points_m - shift),
        cultivator=FARM.cultivators[0],
        cover=Track(t_s=cover.t_s + 2000.0, points_m=cover.points_m - shift),
        at_s=(float(spread.t_s[-1]), float(cover.t_s[-1]) + 2000.0),
    )
    lines = open_lines(opened, FIELD.outline, "America/Chicago", "us")
    assert len(lines) == 2
    assert "open" in lines[0]
    assert lines[1].endswith("most of it in the north.")
