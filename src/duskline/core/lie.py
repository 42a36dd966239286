"""The lie of the land and the wind: reasons for a heading that outrank minutes.

Erodible ground is worked on the contour, sloping ground is never driven up and down to save
time, and seed is thrown along a known wind when that is free to choose.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange

__all__ = [
    "HeadingKept",
    "Lie",
    "Reason",
    "Wind",
    "contour_rad",
    "grade_fraction",
    "keep_heading",
    "off_line_rad",
]


class Reason(StrEnum):
    """Why a heading is kept, or what could not be judged.

    ``CONTOUR``: erodible ground, so as level as can be. ``NOT_DOWNHILL``: minutes would be saved
    only by driving up and down the slope. ``ALONG_WIND``: the throw would lie across the wind.
    ``ASK_DOWNHILL``: the ground slopes or washes but nobody said which way, or how much.
    ``NO_LEVEL_HEADING``: no heading tried runs near the contour; the most level one was taken.
    """

    CONTOUR = "contour"
    NOT_DOWNHILL = "not_downhill"
    ALONG_WIND = "along_wind"
    ASK_DOWNHILL = "ask_downhill"
    NO_LEVEL_HEADING = "no_level_heading"


@dataclass(frozen=True, kw_only=True, slots=True)
class Lie:
    """How a field lies.

    Attributes
    ----------
    erodible
        Whether the ground washes.
    slope_fraction
        Fall over distance, straight down the slope; None where not stated.
    downhill_rad
        Which way it falls, counter-clockwise from east; None where not stated. [rad]
    """

    erodible: bool
    slope_fraction: float | None = None
    downhill_rad: float | None = None

    def __post_init__(self) -> None:
        if self.slope_fraction is not None:
            check_within("slope", self.slope_fraction, 0.0, 1.0)
        if self.downhill_rad is not None and not math.isfinite(self.downhill_rad):
            raise OutOfRange("downhill direction", self.downhill_rad)


@dataclass(frozen=True, kw_only=True, slots=True)
class Wind:
    """The wind of the spreading hours: its line, counter-clockwise from east [rad], and speed."""

    line_rad: float
    speed_mps: float


@dataclass(frozen=True, kw_only=True, slots=True)
class HeadingKept:
    """Which of the headings tried is kept, and why.

    Attributes
    ----------
    index
        Of the heading kept.
    fastest_index
        Of the one with the fewest minutes; the first of equals.
    reasons
        What outranked minutes or could not be judged, strongest first; none where minutes decided.
    given_up_s
        Minutes given up for those reasons. [s]
    grade_fraction
        Fall over distance along the heading kept; None where slope or its direction is not known.
    """

    index: int
    fastest_index: int
    reasons: tuple[Reason, ...]
    given_up_s: float
    grade_fraction: float | None


def off_line_rad(heading_rad: float, line_rad: float) -> float:
    """Return the angle between two lines, which have no front and back, in [0, pi/2]. [rad]"""
    turn = abs(heading_rad - line_rad) % math.pi
    return min(turn, math.pi - turn)


def grade_fraction(*, heading_rad: float, downhill_rad: float, slope_fraction: float) -> float:
    """Return the slope along a heading: fall over distance driven. Fraction.

    Notes
    -----
    ``slope x |cos(angle to the fall line)|``: nothing on the contour, all of it straight down.

    Source
    ------
    Derived here.
    """
    return slope_fraction * abs(math.cos(heading_rad - downhill_rad))


def contour_rad(downhill_rad: float) -> float:
    """Return the heading of the contour, in [0, pi): one to try beside those along the sides. [rad]

    Source
    ------
    Derived here: square to the fall line.
    """
    return (downhill_rad + math.pi / 2.0) % math.pi


def keep_heading(
    *,
    headings_rad: Sequence[float],
    work_s: Sequence[float],
    lie: Lie,
    wind: Wind | None = None,
    slope_limit_fraction: float,
    contour_within_rad: float,
    wind_limit_mps: float,
    wind_within_rad: float,
) -> HeadingKept:
    """Return which heading to drive: slope first, then wind, then the fewest minutes.

    Parameters
    ----------
    headings_rad, work_s
        Headings tried, counter-clockwise from east, and the time each takes, ``(n,)``. [rad], [s]
    lie
        How the field lies.
    wind
        Wind of the spreading hours; None for covering, or where no forecast says.
    slope_limit_fraction
        Slope from which the lie matters.
    contour_within_rad
        How near the contour a heading counts as on it. [rad]
    wind_limit_mps
        Wind from which its direction matters. [m/s]
    wind_within_rad
        How near the line of the wind a heading counts as along it. [rad]

    Raises
    ------
    OutOfRange
        No heading, not one time for each, or a time that is none.

    Notes
    -----
    Erodible and at or over the limit: only headings near the contour, else the most level one.
    Not erodible and at or over the limit: of the headings tried, none is kept that is steeper
    than the most level one by more than the limit; that is "never downhill to save time".
    Then, with a wind at or over its limit: those along it, if any are left.

    Source
    ------
    Order of the reasons: our judgement. Working on the contour is common practice, no source.
    """
    if not headings_rad:
        raise OutOfRange("number of headings", 0, 1)
    if len(headings_rad) != len(work_s):
        raise OutOfRange(
            "times for the headings", len(work_s), len(headings_rad), len(headings_rad)
        )
    for time_s in work_s:
        if not 0.0 <= time_s < math.inf:
            raise OutOfRange("time of a heading", time_s, 0.0)
    check_positive("slope limit", slope_limit_fraction)

    def fewest(indices: Sequence[int]) -> int:
        return min(indices, key=lambda index: (work_s[index], index))

    allowed = list(range(len(headings_rad)))
    fastest = fewest(allowed)
    reasons: list[Reason] = []
    for reason, left in _by_slope(headings_rad, lie, slope_limit_fraction, contour_within_rad):
        if reason in (Reason.ASK_DOWNHILL, Reason.NO_LEVEL_HEADING) or fastest not in left:
            reasons.append(reason)
        allowed = left
    best_on_slope = fewest(allowed)
    if wind is not None and wind.speed_mps >= wind_limit_mps:
        along = [
            index
            for index in allowed
            if off_line_rad(headings_rad[index], wind.line_rad) <= wind_within_rad + 1e-9
        ]
        if along:
            allowed = along
            if best_on_slope not in along:
                reasons.append(Reason.ALONG_WIND)
    kept = fewest(allowed)
    known = lie.slope_fraction is not None and lie.downhill_rad is not None
    return HeadingKept(
        index=kept,
        fastest_index=fastest,
        reasons=tuple(reasons),
        given_up_s=work_s[kept] - work_s[fastest],
        grade_fraction=grade_fraction(
            heading_rad=headings_rad[kept],
            downhill_rad=lie.downhill_rad or 0.0,
            slope_fraction=lie.slope_fraction or 0.0,
        )
        if known
        else None,
    )


def _by_slope(
    headings_rad: Sequence[float], lie: Lie, limit_fraction: float, contour_within_rad: float
) -> list[tuple[Reason, list[int]]]:
    """Return what the slope demands, each with the headings it leaves; nothing on level ground."""
    everything = list(range(len(headings_rad)))
    if lie.slope_fraction is None:
        # Erodible without a slope: the ground washes, so it slopes; how and where is to be asked.
        return [(Reason.ASK_DOWNHILL, everything)] if lie.erodible else []
    if lie.slope_fraction < limit_fraction:
        return []
    if lie.downhill_rad is None:
        return [(Reason.ASK_DOWNHILL, everything)]
    downhill_rad, slope = lie.downhill_rad, lie.slope_fraction
    grades = [
        grade_fraction(heading_rad=heading, downhill_rad=downhill_rad, slope_fraction=slope)
        for heading in headings_rad
    ]
    level = min(grades) + 1e-12
    if not lie.erodible:
        left = [index for index in everything if grades[index] <= level + limit_fraction]
        return [(Reason.NOT_DOWNHILL, left)]
    contour = contour_rad(downhill_rad)
    near = [
        index
        for index in everything
        if off_line_rad(headings_rad[index], contour) <= contour_within_rad + 1e-9
    ]
    if near:
        return [(Reason.CONTOUR, near)]
    most_level = [index for index in everything if grades[index] <= level]
    return [(Reason.CONTOUR, most_level), (Reason.NO_LEVEL_HEADING, most_level)]
