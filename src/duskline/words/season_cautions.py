"""What to look at before trusting a season's plan: what is past, old, shared, or lies open."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING

from duskline.answers.season import CRUMB_M2, NoEarlier, SeasonAnswer, Without
from duskline.units import System, clock
from duskline.words.season import acres_text, short_date

if TYPE_CHECKING:
    from duskline.answers.season import CrewPlan, OpenFirst

__all__ = [
    "age_text",
    "caution_lines",
    "no_earlier_line",
    "no_season_text",
    "old_plan_line",
    "shared_lines",
]

DAY_S = 86400.0
NO_EARLIER = {
    NoEarlier.BEGUN: "the log has work on the day before",
    NoEarlier.LONG: "the plan has as many days as one may have",
    NoEarlier.TODAY: "the plan begins today",
}


def age_text(age_s: float) -> str:
    """Return an age in whole days, in hours where it is under two days."""
    days, hours = int(age_s // DAY_S), round(age_s / 3600.0)
    return f"{days} days" if days >= 2 else f"{hours} hour{'' if hours == 1 else 's'}"


def no_season_text(reason: str) -> str:
    """Return why there is no plan for a season, and what to change."""
    return (
        f"No plan for this season: {reason}. Give its days (first_day and last_day under [season]"
        " in farm.toml, or --from and --to), or put a newer forecast in the folder."
    )


def caution_lines(answer: SeasonAnswer, today: date, system: System) -> Iterator[str]:
    """Yield what stands against the plan as it is, the gravest first."""
    if answer.past_on:
        yield _past_line(answer, today, system)
    if answer.forecast_is_old and answer.forecast_age_s is not None:
        yield (
            f"The forecast is {age_text(answer.forecast_age_s)} old: put a new one in the folder"
            " and plan again."
        )
    for day in answer.days:
        for crew in day.crews:
            text = _too_much(crew, system)
            if text:
                who = f"{crew.crew}, " if crew.crew else ""
                yield f"{who}{short_date(day.on, system)}: {text}"
    for one in answer.open_first:
        yield _open_line(one, answer, system)
    yield from shared_lines(answer)


def _too_much(crew: CrewPlan, system: System) -> str:
    """Return what is wrong with a crew's day, load by load; "" where nothing is."""
    closes = clock(crew.closes_at, system)
    if crew.stops_too_late:
        stop = clock(crew.stop_at, system)
        return (
            f"at average rates seed still falls at {stop}, when covering must be done by {closes}."
            " Stop in time and leave the rest."
        )
    if crew.bare_m2 > CRUMB_M2:
        bare = acres_text(crew.bare_m2, system)
        return (
            f"load by load and at average rates {bare} would not be covered by {closes}."
            " Leave that for another day."
        )
    return ""


def _past_line(answer: SeasonAnswer, today: date, system: System) -> str:
    now = short_date(today, system)
    first, last = (short_date(on, system) for on in (answer.past_on[0], answer.past_on[-1]))
    if len(answer.past_on) == len(answer.on):
        return (
            f"Every day of this plan is past, {first} to {last} (today is {now} {today.year}): it"
            " tells what could have been. Give the days to plan with --from and --to, or in"
            " farm.toml, and put a newer forecast in the folder."
        )
    days = f"{first} is" if len(answer.past_on) == 1 else f"{first} to {last} are"
    return (
        f"{days} past (today is {now}), and the plan still gives them work. Write what was done"
        f" into the log, or begin with --from {today.isoformat()}."
    )


def _open_line(one: OpenFirst, answer: SeasonAnswer, system: System) -> str:
    several = len(answer.planned.crews) > 1
    who = f"{one.crew} covers" if several else "First cover"
    first = " first" if several else ""
    return (
        f"By the log {acres_text(one.area_m2, system)} lie spread and not covered. {who} that"
        f"{first} on {short_date(one.on, system)}; the time it takes is off that day."
    )


def old_plan_line(
    version: int, made_at: datetime, last_on: date | None, answer: SeasonAnswer, system: System
) -> str:
    """Return that a plan kept before has nothing ahead of it; "" where it has."""
    if last_on is None or last_on >= answer.on[0]:
        return ""
    return (
        f"Plan {version}, kept {short_date(made_at.date(), system)}, ends on"
        f" {short_date(last_on, system)}, before this one begins: nothing of it lies ahead."
    )


def shared_lines(answer: SeasonAnswer) -> Iterator[str]:
    """Yield what two crews count on, and which of them goes without it."""
    for one in answer.without:
        home = _home_text(one)
        days = "1 day" if one.days_count == 1 else f"{one.days_count} days"
        yield f"{one.crew} is without {one.name} on {days}, when {one.goes_with} goes out{home}."


def _home_text(one: Without) -> str:
    if not one.home_count:
        return ""
    if one.home_count == one.days_count:
        return ", and has no day then"
    return f", and has no day on {one.home_count} of them"


def no_earlier_line(answer: SeasonAnswer) -> str:
    """Return why a start one day earlier is not offered; "" where it is."""
    if answer.no_earlier is None or answer.left_m2 <= CRUMB_M2:
        return ""
    return f"One day's earlier start: not offered, {NO_EARLIER[answer.no_earlier]}."
