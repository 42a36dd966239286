"""What to ask about the season: deadlines, fields too big for a day, crews, weather to come."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from zoneinfo import ZoneInfo

from duskline.answers.machines import cover_rate_m2_per_s
from duskline.answers.questions import Ask, Question, QuestionKey, Severity, Value
from duskline.answers.season_shared import counted_on
from duskline.core.errors import OutOfRange
from duskline.core.farm import Cultivator, Farm, Field, SpreaderNoun, StatedWindow
from duskline.core.light import local_midnight_at, seconds_after

__all__ = ["season_questions"]

LATE = ("late", "late_per_day")
LOSSES = ("waiting", "unsown", "stability")


def season_questions(farm: Farm, on: date | None) -> Iterator[Question]:
    """Return what to ask about the season as the folder states it.

    Parameters
    ----------
    on
        The day the first field may be seeded; without it the forecast's age is not counted.
    """
    yield from _due_questions(farm)
    yield from _big_field_questions(farm)
    yield from _crew_questions(farm)
    yield from _forecast_questions(farm, on)
    yield from _climate_questions(farm)
    yield from _loss_questions(farm)


# --------------------------------------------------------------------------- deadlines


def _due_questions(farm: Farm) -> Iterator[Question]:
    undated = tuple(one.name for one in farm.fields if _due_on(farm, one) is None)
    if undated:
        yield Question(
            key=QuestionKey.DUE_NOT_STATED,
            severity=Severity.ASK if farm.program.name else Severity.NOTE,
            ask=Ask.OFFICE if farm.program.name else Ask.CREW,
            values={
                "fields": undated,
                "all": len(undated) == len(farm.fields),
                "program": farm.program.name,
            },
        )
    late = [one for one in farm.fields if _is_after(farm, one, one.ready_at)]
    sow_by = farm.program.sow_by
    # Those past the program's own date are asked about with the program.
    own = [
        one
        for one in late
        if (ready := _local_date(farm, one.ready_at)) is None or sow_by is None or ready <= sow_by
    ]
    if own:
        yield Question(
            key=QuestionKey.READY_AFTER_DUE,
            severity=Severity.ASK,
            ask=Ask.CREW,
            values=_days(farm, own),
        )
    doubtful = [
        one for one in farm.fields if one not in late and _is_after(farm, one, one.ready_late_at)
    ]
    if doubtful:
        yield Question(
            key=QuestionKey.MAY_BE_READY_AFTER_DUE,
            severity=Severity.NOTE,
            ask=Ask.CREW,
            values=_days(farm, doubtful),
        )


def _due_on(farm: Farm, one: Field) -> date | None:
    return one.due_on if one.due_on is not None else farm.season.due_on


def _is_after(farm: Farm, one: Field, ready_at: datetime | None) -> bool:
    due, ready = _due_on(farm, one), _local_date(farm, ready_at)
    return due is not None and ready is not None and ready > due


def _local_date(farm: Farm, moment: datetime | None) -> date | None:
    return moment.astimezone(ZoneInfo(farm.time_zone)).date() if moment is not None else None


def _days(farm: Farm, fields: list[Field]) -> dict[str, Value]:
    """Return the fields, and their due day where it is the same for all."""
    due = {_due_on(farm, one) for one in fields}
    return {
        "fields": tuple(one.name for one in fields),
        "due": due.pop() if len(due) == 1 else None,
    }


# --------------------------------------------------------------------------- fields and crews


def _big_field_questions(farm: Farm) -> Iterator[Question]:
    """Name the fields that no crew covers in the longest day, even if all its machines cover."""
    longest_s = _longest_cover_s(farm)
    try:
        most_m2 = longest_s * max(
            sum(cover_rate_m2_per_s(farm, machine).value for machine in crew)
            for crew in _covering(farm)
        )
    except OutOfRange:  # told where the machines are looked at
        return
    if not most_m2 > 0.0:
        return
    for split in (False, True):
        big = [one for one in farm.fields if one.area_m2 > most_m2 and one.may_split is split]
        if big:
            yield Question(
                key=QuestionKey.FIELD_BIGGER_THAN_A_DAY,
                severity=Severity.NOTE if split else Severity.ASK,
                ask=Ask.CREW,
                values={
                    "fields": tuple(one.name for one in big),
                    "most_m2": most_m2,
                    "longest_s": longest_s,
                    "may_split": split,
                },
            )


def _longest_cover_s(farm: Farm) -> float:
    """Return the longest time for covering that the farm states or its climate gives. [s]"""
    stated = [_cover_s(window) for window in farm.windows]
    parts = farm.climate.parts if farm.climate is not None else ()
    return max((*stated, *(part.cover_s.high for part in parts)), default=0.0)


def _cover_s(window: StatedWindow) -> float:
    if window.cover is None:
        return 0.0
    opens, closes = (datetime.strptime(text, "%H:%M") for text in window.cover)  # noqa: DTZ007
    return (closes - opens).total_seconds()


def _covering(farm: Farm) -> list[list[Cultivator]]:
    """Return each crew's covering machines; all of them where there are no crews."""
    if not farm.crews:
        return [list(farm.cultivators)]
    return [
        [machine for machine in farm.cultivators if machine.name in crew.machines]
        for crew in farm.crews
    ]


def _crew_questions(farm: Farm) -> Iterator[Question]:
    if not farm.crews:
        return
    taken = {name for crew in farm.crews for name in (*crew.machines, *crew.seed_trucks)}
    names = [one.name for one in (*_machines(farm), *farm.seed_trucks)]
    idle = tuple(name for name in names if name not in taken)
    if idle:
        yield Question(
            key=QuestionKey.IN_NO_CREW,
            severity=Severity.ASK,
            ask=Ask.CREW,
            values={"machines": idle},
        )
    for name, crews in _shared(farm).items():
        yield Question(
            key=QuestionKey.CREWS_SHARE,
            severity=Severity.ASK,
            ask=Ask.CREW,
            subject=name,
            values={"crews": crews},
        )


def _machines(farm: Farm) -> Iterator[SpreaderNoun | Cultivator]:
    yield from farm.spreaders
    yield from farm.cultivators


def _shared(farm: Farm) -> dict[str, tuple[str, ...]]:
    """Return the people and tractors that more than one crew counts on, with these crews."""
    crews: dict[str, dict[str, None]] = {}
    for crew in farm.crews:
        for name in counted_on(farm, crew):
            crews.setdefault(name, {})[crew.name] = None
    return {name: tuple(found) for name, found in crews.items() if len(found) > 1}


# --------------------------------------------------------------------------- weather and money


def _forecast_questions(farm: Farm, on: date | None) -> Iterator[Question]:
    issued_at = farm.forecast_issued_at
    if issued_at is None or on is None:
        return
    age_s = seconds_after(issued_at, local_midnight_at(on, ZoneInfo(farm.time_zone)))
    if age_s > farm.defaults["forecast_stale_after"].value:
        yield Question(
            key=QuestionKey.FORECAST_OLD,
            severity=Severity.ASK,
            ask=Ask.CREW,
            values={
                "on": on,
                "age_s": age_s,
                "issued_at": issued_at.astimezone(ZoneInfo(farm.time_zone)),
            },
        )


def _climate_questions(farm: Farm) -> Iterator[Question]:
    fit, cover = farm.figures.get("climate.fit"), farm.figures.get("climate.cover")
    if fit is None or cover is None or not fit.is_default:
        return
    yield Question(
        key=QuestionKey.CLIMATE_NOT_STATED,
        severity=Severity.NOTE,
        ask=Ask.CREW,
        values={
            "low_fraction": fit.low,
            "typical_fraction": fit.value,
            "high_fraction": fit.high,
            "cover_s": cover.value,
        },
    )


def _loss_questions(farm: Farm) -> Iterator[Question]:
    """Say that a default in US dollars stands among losses in another money."""
    if farm.prices.currency == "USD":
        return
    dated = any(_due_on(farm, one) is not None for one in farm.fields)
    assumed = tuple(
        key
        for key in (*(LATE if dated else ()), *LOSSES)
        if (given := farm.figures.get(f"season.{key}")) is not None and given.is_default
    )
    if assumed:
        yield Question(
            key=QuestionKey.LOSSES_IN_DOLLARS,
            severity=Severity.NOTE,
            ask=Ask.CREW,
            values={"losses": assumed, "currency": farm.prices.currency},
        )
