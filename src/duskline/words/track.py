"""What a recorded track says of a machine, in sentences: overlap, speed, turns, ground left."""

from __future__ import annotations

import math
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from duskline.answers.track import TrackAnswer
from duskline.core.outline import Outline
from duskline.core.track import OpenGround, OpenHour
from duskline.units import System, clock, number, show, show_span
from duskline.words.aim import WINDS, compass_deg, lap_text

__all__ = ["open_lines", "track_headline", "track_lines"]


def track_headline(answer: TrackAnswer, system: System) -> str:
    """Return the one line: what the driver laps, or for a spreader what it did an hour."""
    joints = answer.drive.joints
    if answer.overlap_planned_m is None or joints is None:
        return f"{answer.machine}: {show(answer.drive.rate_m2_per_s, 'work rate', system)}"
    if _is_gap(joints.overlap_m, system):
        return f"{answer.machine}: {lap_text(-joints.overlap_m, system)} left between passes"
    return f"{answer.machine}: laps {lap_text(abs(joints.overlap_m), system)}"


def track_lines(answer: TrackAnswer, system: System) -> list[str]:
    """Return what the track says, figure by figure, beside what the farm folder plans."""
    drive, joints = answer.drive, answer.drive.joints
    lines = []
    if joints is not None and answer.overlap_planned_m is not None:
        text = _lapped(joints.overlap_m, system)
        if joints.overlap_low_m is not None and joints.overlap_high_m is not None:
            low, high = joints.overlap_low_m, joints.overlap_high_m
            text += f" ({_lap_span(low, high, system)})"
        planned_lap = _lapped(answer.overlap_planned_m, system)
        text = f"{text[:1].upper()}{text[1:]}, planned {planned_lap}"
        lines.append(f"{text}; {show(joints.spacing_m, 'length', system)} from pass to pass.")
        lines.append(f"Left between passes: {number(100.0 * joints.skip_fraction, 2)} %.")
    speed, planned = drive.speed_mps, answer.speed_planned_mps
    lines.append(
        f"Speed while working {show(speed, 'speed', system, 1)}, planned "
        f"{show(planned, 'speed', system, 1)}."
    )
    lines.append(
        f"{show(drive.worked.worked_m2, 'area', system)} in {show_span(drive.clock_s)}: "
        f"{show(drive.rate_m2_per_s, 'work rate', system)}; "
        f"{drive.clock_efficiency_fraction:.0%} of width x speed, planned "
        f"{answer.efficiency_planned_fraction:.0%}.".replace("%", " %")
    )
    if drive.turn_s is not None:
        lines.append(
            f"{len(drive.passes)} passes; a turn takes {number(drive.turn_s, 0)} s (the middle one "
            f"of {len(drive.turns)})."
        )
    if drive.stood_s >= 60.0:
        lines.append(f"Stood still for {show_span(drive.stood_s)}.")
    if drive.silent_s >= 60.0:
        lines.append(f"The recorder was off for {show_span(drive.silent_s)}; not counted.")
    ground = answer.ground
    if ground is not None:
        missed = show(ground.missed_m2, "area", system, 2)
        lines.append(
            f"Of {answer.field}: worked once {ground.once_m2 / ground.area_m2:.0%}, twice or more "
            f"{ground.twice_fraction:.0%}, not worked {ground.missed_fraction:.1%} "
            f"({missed}); outside it {show(ground.outside_m2, 'area', system, 2)}.".replace(
                "%", " %"
            )
        )
    return lines


def _lapped(overlap_m: float, system: System) -> str:
    """Return an overlap in words: "lap 3.0 ft", and "1.0 ft left open" where it is below none."""
    if _is_gap(overlap_m, system):
        return f"{lap_text(-overlap_m, system)} left open"
    return f"lap {lap_text(abs(overlap_m), system)}"


def _lap_span(low_m: float, high_m: float, system: System) -> str:
    """Return the range of an overlap, what is left open said so: never a figure below none."""
    gaps = _is_gap(low_m, system), _is_gap(high_m, system)
    low, high = (lap_text(abs(one), system) for one in (low_m, high_m))
    if all(gaps):
        return f"{high} to {low} left open"
    return f"from {low} left open to {high} lapped" if gaps[0] else f"{low} to {high}"


def _is_gap(overlap_m: float, system: System) -> bool:
    return overlap_m < 0.0 and lap_text(-overlap_m, system) != lap_text(0.0, system)


def open_lines(
    opened: OpenGround, outline: Outline | None, time_zone: str, system: System
) -> list[str]:
    """Return the open ground at each moment, and in which part of the field most of it lies.

    Parameters
    ----------
    opened
        Moment by moment.
    outline
        The field; None says nothing of the place.
    time_zone
        Whose clock.
    """
    zone = ZoneInfo(time_zone)
    lines = []
    for hour in opened.hours:
        at = datetime.fromtimestamp(hour.at_s, zone)
        text = f"{clock(at, system)}: open {show(hour.open_m2, 'area', system)}"
        place = _place(opened, hour, outline)
        lines.append(f"{text}{f', most of it {place}' if place else ''}.")
    return lines


def _place(opened: OpenGround, hour: OpenHour, outline: Outline | None) -> str:
    """Return where the open cells lie, as seen from the middle of the field."""
    rows, columns = np.nonzero(hour.where)
    if outline is None or not len(rows):
        return ""
    grid = opened.grid
    x_m = grid.origin_m[0] + (float(columns.mean()) + 0.5) * grid.cell_m
    y_m = grid.origin_m[1] + (float(rows.mean()) + 0.5) * grid.cell_m
    middle = outline.shape.centroid
    away_m = math.hypot(x_m - middle.x, y_m - middle.y)
    if away_m < 0.05 * math.sqrt(outline.area_m2):
        return "in the middle"
    degrees = compass_deg(math.atan2(y_m - middle.y, x_m - middle.x))
    return f"in the {WINDS['en'][round(degrees / 45.0) % 8]}"
