"""What a recorded drive says about a machine on a field, beside what the farm says of it."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from duskline.answers.working import Figure, Step
from duskline.core.coverage import Worked, worked
from duskline.core.errors import DusklineError, OutOfRange
from duskline.core.farm import Cultivator, Farm, Field, SpreaderNoun
from duskline.core.track import Drive, OpenGround, Track, open_by_hour, read_drive

__all__ = ["TrackAnswer", "TrackElsewhere", "TrackWithoutPass", "open_answer", "track_answer"]

_HERE = "worked out here"
_FROM = "recorded track"
_OPEN_CELL_M = 2.0
# A drive counts from this many tool widths beside the field on; a turn needs some room.
_BESIDE_WIDTHS = 3.0
_LEAST_POINTS = 2


@dataclass(frozen=True, kw_only=True, slots=True)
class TrackAnswer:
    """One machine's drive over one field, read back.

    Attributes
    ----------
    machine, field
        Their names.
    drive
        Passes, turns, speed, joints and times.
    ground
        The field by how often it was worked; None where the field has no outline.
    overlap_planned_m, speed_planned_mps, efficiency_planned_fraction
        What the farm folder says of the machine; the overlap None for a spreader.
    working
        How each figure came about.
    """

    machine: str
    field: str
    drive: Drive
    ground: Worked | None
    overlap_planned_m: float | None
    speed_planned_mps: float
    efficiency_planned_fraction: float
    working: tuple[Step, ...]


class TrackElsewhere(DusklineError, ValueError):
    """A recorded drive that never touches the field; names of both."""

    def __init__(self, *, machine: str, field: str) -> None:
        super().__init__(
            f"The track of {machine} never touches {field}: it is another field's. Name the field "
            "it was driven in, or bring the file of this one."
        )
        self.machine = machine
        self.field = field


class TrackWithoutPass(DusklineError, ValueError):
    """A recorded drive in the field with no straight pass in it; names of both."""

    def __init__(self, *, machine: str, field: str) -> None:
        super().__init__(
            f"The track of {machine} in {field} has no pass in it: nothing longer than a few tool "
            "widths was driven straight there. Bring a track with a point every few seconds."
        )
        self.machine = machine
        self.field = field


def full_width_m(machine: SpreaderNoun | Cultivator) -> float:
    """Return the width that one pass works. [m]

    A spreader works its driving width: the throw beyond it is made to lap.
    """
    return machine.width_m if isinstance(machine, Cultivator) else machine.driving_width_m


def track_answer(
    farm: Farm, field: Field, machine: SpreaderNoun | Cultivator, track: Track
) -> TrackAnswer:
    """Return what a drive says of a machine on a field, with its working.

    Parameters
    ----------
    farm, field, machine
        Whose drive it is; the field's outline and the track stand in one plane.
    track
        The drive.

    Raises
    ------
    TrackElsewhere
        The track does not touch the field.
    TrackWithoutPass
        No pass in the track there.
    """
    drive = _drive_on_field(track, field, machine)
    ground = None
    if field.outline is not None:
        ground = worked(field.outline, drive.rings)
        inside_m2 = ground.once_m2 + ground.twice_m2
        if not inside_m2 > 0.0:
            raise TrackElsewhere(machine=machine.name, field=field.name)
    width_from = _width_source(farm, machine)
    return TrackAnswer(
        machine=machine.name,
        field=field.name,
        drive=drive,
        ground=ground,
        overlap_planned_m=machine.overlap_m if isinstance(machine, Cultivator) else None,
        speed_planned_mps=machine.speed_mps,
        efficiency_planned_fraction=machine.efficiency_fraction,
        working=(*_drive_steps(drive, width_from), *_ground_steps(ground)),
    )


def _drive_on_field(track: Track, field: Field, machine: SpreaderNoun | Cultivator) -> Drive:
    """Return a machine's drive over one field.

    Raises
    ------
    TrackElsewhere
        The track does not touch the field.
    TrackWithoutPass
        No pass in the track there.
    """
    try:
        return read_drive(_on_field(track, field, machine), width_m=full_width_m(machine))
    except OutOfRange as wrong:
        raise TrackWithoutPass(machine=machine.name, field=field.name) from wrong


def _on_field(track: Track, field: Field, machine: SpreaderNoun | Cultivator) -> Track:
    """Return the part of a track in and beside the field: the road there is no work."""
    if field.outline is None:
        return track
    width_m = full_width_m(machine)
    near = shapely.buffer(field.outline.shape, _BESIDE_WIDTHS * width_m)
    shapely.prepare(near)
    kept = shapely.contains_xy(near, track.points_m[:, 0], track.points_m[:, 1])
    if int(kept.sum()) < _LEAST_POINTS:
        raise TrackElsewhere(machine=machine.name, field=field.name)
    working = None if track.working is None else track.working[kept]
    return Track(t_s=track.t_s[kept], points_m=track.points_m[kept], working=working)


def open_answer(
    *,
    field: Field,
    spreader: SpreaderNoun,
    spread: Track,
    cultivator: Cultivator,
    cover: Track,
    at_s: tuple[float, ...],
) -> OpenGround:
    """Return the ground spread and not yet worked in at each moment, and where. [m2]

    Parameters
    ----------
    field
        Where both were driven.
    spreader, spread, cultivator, cover
        The two machines and their drives, on one clock and in the field's plane.
    at_s
        The moments, rising: the whole hours of the day. [s]

    Raises
    ------
    TrackElsewhere
        One of the tracks does not touch the field.
    TrackWithoutPass
        No pass in one of them there.
    """
    return open_by_hour(
        spread=_drive_on_field(spread, field, spreader),
        cover=_drive_on_field(cover, field, cultivator),
        at_s=at_s,
        cell_m=_OPEN_CELL_M,
    )


def _width_source(farm: Farm, machine: SpreaderNoun | Cultivator) -> str:
    """Return where the machine's width came from."""
    kind, key = (
        ("cultivator", "width")
        if isinstance(machine, Cultivator)
        else ("spreader", "driving_width")
    )
    given = farm.figures.get(f"{kind}.{machine.name}.{key}")
    return given.source if given is not None else "farm.toml"


def _drive_steps(drive: Drive, width_from: str) -> tuple[Step, ...]:
    """Return the working of what the drive says by itself."""
    width = Figure(name="working width", value=drive.width_m, unit="m", source=width_from)
    speed = Figure(name="working speed", value=drive.speed_mps, unit="m/s", source=_FROM)
    once = Figure(name="ground worked", value=drive.worked.worked_m2, unit="m2", source=_HERE)
    clock = Figure(name="time from first pass to last", value=drive.clock_s, unit="s", source=_FROM)
    passes = Figure(name="passes", value=float(len(drive.passes)), unit="count", source=_FROM)
    steps = [
        Step(
            title="Working speed",
            formula="middle speed over the time at work",
            inputs=(passes,),
            result=speed,
        ),
        Step(
            title="Clock efficiency",
            formula="ground worked / (time x width x speed)",
            inputs=(once, clock, width, speed),
            result=Figure(
                name="clock efficiency",
                value=drive.clock_efficiency_fraction,
                unit="fraction",
                source=_HERE,
            ),
        ),
    ]
    if drive.turn_s is not None:
        count = Figure(name="turns", value=float(len(drive.turns)), unit="count", source=_FROM)
        steps.append(
            Step(
                title="A turn",
                formula="middle time from pass to pass, stops left out",
                inputs=(count,),
                result=Figure(name="turn", value=drive.turn_s, unit="s", source=_FROM),
            )
        )
    joints = drive.joints
    if joints is not None:
        spacing = Figure(
            name="distance between passes", value=joints.spacing_m, unit="m", source=_FROM
        )
        pairs = Figure(
            name="pairs of neighbours", value=float(joints.count), unit="count", source=_FROM
        )
        steps.append(
            Step(
                title="True overlap",
                formula="working width - mean distance between passes",
                inputs=(width, spacing, pairs),
                result=Figure(
                    name="overlap",
                    value=joints.overlap_m,
                    unit="m",
                    source=_HERE,
                    low=joints.overlap_low_m,
                    high=joints.overlap_high_m,
                ),
            )
        )
        steps.append(
            Step(
                title="Skipped between passes",
                formula="sum of the gaps wider than the machine / sum of all distances",
                inputs=(width, pairs),
                result=Figure(
                    name="skip share", value=joints.skip_fraction, unit="fraction", source=_FROM
                ),
            )
        )
    return tuple(steps)


def _ground_steps(ground: Worked | None) -> tuple[Step, ...]:
    """Return the working of how often the field's ground was worked."""
    if ground is None:
        return ()

    def area(name: str, value: float) -> Figure:
        return Figure(name=name, value=value, unit="m2", source=_HERE)

    field = area("field", ground.area_m2)
    return (
        Step(
            title="Missed",
            formula="field - worked once - worked twice",
            inputs=(field, area("once", ground.once_m2), area("twice", ground.twice_m2)),
            result=area("missed", ground.missed_m2),
        ),
        Step(
            title="Worked outside the field",
            formula="ground of the passes beyond the outline or in its holes",
            inputs=(area("all passes added up", ground.summed_m2),),
            result=area("outside", ground.outside_m2),
        ),
    )
