"""A drive over a field of the farm, beside what the farm says of the machine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_drives import made_drive
from made_fields import drawn
from made_folders import EXAMPLES

from duskline.answers.track import (
    TrackElsewhere,
    TrackWithoutPass,
    full_width_m,
    open_answer,
    track_answer,
)
from duskline.core.track import Track
from duskline.exchange.farmfolder import read_farm

FARM = read_farm(EXAMPLES / "rye-after-soybeans")
FIELD = replace(
    FARM.fields[0], outline=drawn("0,-4.5 600,-4.5 600,90 0,90", "100,20 110,20 110,30 100,30")
)
MACHINE = replace(FARM.cultivators[0], width_m=9.0, overlap_m=0.5)


def test_a_drive_is_told_beside_what_the_farm_says() -> None:
    """Ten passes of 600 m, 8.1 m apart, 9 m wide: worked from -4.5 to 77.4 m, 12.6 m missed.

    By hand: missed 600 x 12.6 = 7,560 m2; the rock pile of 100 m2 outside; overlap 0.9 m, 0.5 m
    planned.
    """
    track = made_drive(passes=10, heading_rad=0.0)
    answer = track_answer(FARM, FIELD, MACHINE, track)
    assert answer.machine == MACHINE.name
    assert answer.field == FIELD.name
    assert answer.overlap_planned_m == 0.5
    assert answer.ground is not None
    assert answer.ground.missed_m2 == pytest.approx(7560.0, rel=0.01)
    assert answer.ground.outside_m2 == pytest.approx(100.0, abs=60.0)
    assert answer.drive.joints is not None
    assert answer.drive.joints.overlap_m == pytest.approx(0.9, abs=1e-3)
    parts = answer.ground.once_m2 + answer.ground.twice_m2 + answer.ground.missed_m2
    assert parts == pytest.approx(600.0 * 94.5 - 100.0)


def test_the_working_holds_every_figure_with_where_it_came_from() -> None:
    """Speed, clock efficiency, turn, overlap, skip, missed, outside; results equal the answer."""
    answer = track_answer(FARM, FIELD, MACHINE, made_drive(passes=10, heading_rad=0.0))
    results = {step.title: step.result for step in answer.working}
    assert list(results) == [
        "Working speed",
        "Clock efficiency",
        "A turn",
        "True overlap",
        "Skipped between passes",
        "Missed",
        "Worked outside the field",
    ]
    assert answer.drive.joints is not None
    assert results["True overlap"].value == answer.drive.joints.overlap_m
    assert results["True overlap"].low == answer.drive.joints.overlap_low_m
    assert results["Clock efficiency"].value == answer.drive.clock_efficiency_fraction
    assert all(figure.source for step in answer.working for figure in (*step.inputs, step.result))


def test_a_spreader_works_its_driving_width_and_one_pass_tells_no_overlap() -> None:
    """One pass of the spreader on a field without an outline: fewer steps, no ground."""
    spreader = FARM.spreaders[0]
    answer = track_answer(FARM, replace(FIELD, outline=None), spreader, made_drive(passes=1))
    assert answer.drive.width_m == full_width_m(spreader) == spreader.driving_width_m
    assert answer.overlap_planned_m is None
    assert answer.ground is None
    assert [step.title for step in answer.working] == ["Working speed", "Clock efficiency"]


def test_a_drive_on_another_field_is_refused() -> None:
    """A track that never touches the field says nothing about it."""
    far = replace(FIELD, outline=drawn("9000,9000 9600,9000 9600,9090 9000,9090"))
    with pytest.raises(TrackElsewhere, match=f"{MACHINE.name} never touches {far.name}"):
        track_answer(FARM, far, MACHINE, made_drive(passes=2))


@pytest.mark.parametrize("astray", ["spread", "cover"])
def test_open_ground_refuses_a_drive_on_another_field(astray: str) -> None:
    """The spreader's track is looked at like the covering one: the file of another field is one."""
    spreader = replace(FARM.spreaders[0], driving_width_m=9.0)
    drives = {
        "spread": made_drive(passes=6, spacing_m=9.0, heading_rad=0.0),
        "cover": made_drive(passes=6, spacing_m=9.0, heading_rad=0.0, start_s=3600.0),
    }
    away = drives[astray]
    drives[astray] = Track(t_s=away.t_s, points_m=away.points_m + np.asarray([0.0, 5000.0]))
    with pytest.raises(TrackElsewhere) as wrong:
        open_answer(
            field=FIELD, spreader=spreader, cultivator=MACHINE, at_s=(3600.0, 9000.0), **drives
        )
    assert wrong.value.machine == (spreader if astray == "spread" else MACHINE).name


def test_a_track_that_stands_still_has_no_pass() -> None:
    """Parked in the field all day: said in words, not as a count out of range."""
    parked = Track(t_s=np.arange(600.0), points_m=np.full((600, 2), 30.0))
    with pytest.raises(TrackWithoutPass, match="no pass in it"):
        track_answer(FARM, FIELD, MACHINE, parked)


def test_open_ground_follows_the_two_drives() -> None:
    """Spread all, then cover all: everything open before covering starts, nothing in the end."""
    spreader = replace(FARM.spreaders[0], driving_width_m=9.0)
    spread = made_drive(passes=6, spacing_m=9.0)
    cover = made_drive(passes=6, spacing_m=9.0, start_s=3600.0)
    found = open_answer(
        field=replace(FIELD, outline=None),
        spreader=spreader,
        spread=spread,
        cultivator=MACHINE,
        cover=cover,
        at_s=(3600.0, 9000.0),
    )
    before, after = found.hours
    assert before.open_m2 == pytest.approx(6 * 9.0 * 600.0, rel=0.01)
    assert after.open_m2 == pytest.approx(0.0, abs=1.0)
