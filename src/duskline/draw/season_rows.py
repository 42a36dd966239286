"""The season's answer as rows of its picture."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from duskline.answers.season import Basis, SeasonAnswer, SeasonDayPlan
from duskline.core.light import local_midnight_at, moment_at
from duskline.draw.season import AcresFan, DayRow

__all__ = ["season_fan", "season_rows"]

DAY_S = 86400.0
Span = tuple[float, float]


def season_rows(answer: SeasonAnswer) -> tuple[DayRow, ...]:
    """Return a row for each date of the season."""
    zone = ZoneInfo(answer.time_zone)
    return tuple(_row(day, zone) for day in answer.days)


def _row(day: SeasonDayPlan, zone: ZoneInfo) -> DayRow:
    start_at = local_midnight_at(day.on, zone)

    def wall_s(elapsed_s: float) -> float:
        return _wall_s(day.on, moment_at(start_at, elapsed_s))

    def spans(elapsed_s: Iterable[Span]) -> tuple[Span, ...]:
        return _joined((wall_s(begin_s), wall_s(end_s)) for begin_s, end_s in elapsed_s)

    sunset_s = DAY_S if day.sunset_s is None else wall_s(day.sunset_s)
    dusk_s = sunset_s if day.dusk_s is None else wall_s(day.dusk_s)
    stop_at = max((min(crew.stop_at, crew.closes_at) for crew in day.crews), default=None)
    return DayRow(
        on=day.on,
        dawn_s=min(0.0 if day.dawn_s is None else wall_s(day.dawn_s), sunset_s),
        sunset_s=sunset_s,
        dusk_s=max(dusk_s, sunset_s),
        spread_s=spans(span for crew in day.crews for span in crew.spread_s),
        covered_s=spans(span for crew in day.crews for span in crew.covered_s),
        stop_s=None if stop_at is None else _wall_s(day.on, stop_at.astimezone(zone)),
        area_m2=day.area_m2,
        closed=day.because,
        off=day.basis is Basis.OFF,
    )


def _wall_s(on: date, moment: datetime) -> float:
    """Return what a clock on the wall shows, after midnight of a date. [s]

    On the day the clocks change this is not the time elapsed.
    """
    return (moment.replace(tzinfo=None) - datetime.combine(on, time())).total_seconds()


def _joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Return the spans in order, those that meet as one: crews work side by side."""
    found: list[Span] = []
    for begin_s, end_s in sorted(spans):
        if found and begin_s <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end_s))
        else:
            found.append((begin_s, end_s))
    return tuple(found)


def season_fan(answer: SeasonAnswer) -> AcresFan | None:
    """Return the acres by the end of each date, planned and over the seasons of weather."""
    if answer.left_m2 < 1.0:
        return None
    fan = answer.chance.fan_m2
    planned = itertools.accumulate(day.area_m2 for day in answer.days)
    return AcresFan(
        plan_m2=tuple(planned),
        low_m2=fan[0.1],
        middle_m2=fan[0.5],
        high_m2=fan[0.9],
        total_m2=answer.left_m2,
    )
