"""The command about the season: read, plan, print, and write what is taken along."""

from __future__ import annotations

import shutil
import sys
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Literal
from zoneinfo import ZoneInfo

from duskline.cli.run import (
    DONE,
    NO,
    big,
    date_of,
    dump,
    heading,
    moment_of,
    progress,
    say,
    sure_of,
)
from duskline.core.errors import DusklineError, NoWindow
from duskline.core.farm import Farm
from duskline.exchange.season_files import ahead
from duskline.exchange.season_plan import PLANS_FOLDER, KeptPlan, latest_plan
from duskline.store.farm import read_farm_with_store
from duskline.units import System, UnitError

if TYPE_CHECKING:
    from duskline.answers.season import SeasonAnswer, SeasonDayPlan
    from duskline.paper.season_folder import Kept

__all__ = ["season"]

PICTURE_WIDTH = 1000.0
MOST_LINES = 60
DAY_S = 86400.0
CALENDAR = "season.ics"


class NoSeason(DusklineError, ValueError):
    """Nothing says which days the season has."""


def season(
    folder: Path,
    *,
    first: str | None,
    last: str | None,
    sure: str | None,
    average: bool,
    out: Path | None,
    fresh: bool,
    paper: Literal["letter", "a4"] | None,
    now: str | None,
    as_json: bool,
    why: bool,
) -> None:
    """Print which field is sown on which day, and write sheet, picture, calendar and plan."""
    from duskline.answers.season import SeasonQuestion, season_answer
    from duskline.words.season_cautions import no_season_text

    farm = read_farm_with_store(folder)
    first_on, last_on = date_of(first), date_of(last)
    if first_on is not None and last_on is not None and last_on < first_on:
        raise UnitError(last, f"a last day that is not before the first, {first_on}")
    now_at = (moment_of(now) or datetime.now(UTC)).astimezone(ZoneInfo(farm.time_zone))
    question = SeasonQuestion(
        first_on=first_on,
        last_on=last_on,
        sure_fraction=None if sure is None else sure_of(sure),
        at_average=average,
        now_at=now_at,
    )
    writes = out is not None or not as_json
    if writes:
        _check_place(farm, out or folder, now_at)
    before = None if fresh else latest_plan(out or folder)
    with progress("Planning the season (the first time compiles, which takes a minute) ..."):
        try:
            answer = season_answer(farm, question, before=None if before is None else ahead(before))
        except NoWindow as wrong:
            raise NoSeason(no_season_text(wrong.reason)) from wrong
    written = None
    if writes:
        from duskline.paper.season_folder import keep_season

        written = keep_season(farm, answer, out or folder, before, now_at, paper=paper)
    if as_json:
        from duskline.cli.season_json import season_json

        found = season_json(answer, working=why)
        if written is not None:
            found["plan"] = written.version
            found["written"] = [str(path) for path in written.paths]
        dump(found)
    else:
        _print(farm, answer, before, now_at, why=why)
        if written is not None:
            _print_written(written)
    sys.exit(DONE if answer.fits else NO)


def _check_place(farm: Farm, place: Path, now_at: datetime) -> None:
    """Refuse before the long search what could not be written after it."""
    from duskline.exchange.calendar_ics import write_season_calendar

    folder = place / PLANS_FOLDER
    for one in (place, folder):
        if one.exists() and not one.is_dir():
            raise UnitError(str(one), "a folder to write into, or none yet")
    calendar = folder / CALENDAR
    if calendar.exists() and not calendar.is_file():
        raise UnitError(str(calendar), "the calendar written before, or none yet")
    if calendar.exists():
        # Followed up beside it, so that the reader's own sentences tell what is wrong.
        with TemporaryDirectory() as beside:
            copy = Path(beside) / CALENDAR
            shutil.copyfile(calendar, copy)
            write_season_calendar(copy, (), farm=farm.name, now_at=now_at, system=farm.system)


# ---------------------------------------------------------------------------- printing


def _print(
    farm: Farm, answer: SeasonAnswer, before: KeptPlan | None, now_at: datetime, *, why: bool
) -> None:
    from duskline.words import season as words
    from duskline.words import season_cautions as cautions

    system = farm.system
    big(words.headline(answer, system))
    for line in (
        words.sure_line(answer, system),
        words.at_risk_line(answer, system),
    ):
        if line:
            say(f"  {line}")
    for line in cautions.caution_lines(answer, now_at.date(), system):
        say(f"! {line}")
    if before is not None:
        last_on = max((stop.on for stop in before.stops), default=None)
        old = cautions.old_plan_line(before.version, before.made_at, last_on, answer, system)
        if old:
            say(f"! {old}")
    if not answer.fields:
        return
    heading(f"{farm.name}, the days")
    _print_days(answer, system)
    left = list(words.left_lines(answer, system))
    if left:
        heading("What does not fit")
        _some(left)
    heading("How sure do you want each night to be?")
    for line in words.sureness_lines(answer, system):
        say(f"  {line}")
    heading("Fields, and between which days each is done 8 times in 10")
    _some([f"{field.name}: {words.field_chance(field, system)}" for field in answer.fields])
    heading("What one change is worth, over the same seasons of weather")
    for one in answer.worth:
        say(f"- {words.worth_line(one, answer, system)}")
    if cautions.no_earlier_line(answer):
        say(f"- {cautions.no_earlier_line(answer)}")
    if before is not None:
        age_s = (now_at - before.made_at).total_seconds()
        age = f", {cautions.age_text(age_s)} old" if age_s >= DAY_S else ""
        heading(f"What changes against plan {before.version} of {before.made_at:%Y-%m-%d}{age}")
        changes = list(words.change_lines(answer.changes, system, crews=len(answer.planned.crews)))
        _some(changes or ["Nothing."])
    heading("What it costs")
    say(f"  {words.cost_line(answer)}")
    say(f"  {words.gap_line(answer)}")
    heading("Please know")
    for line in words.season_notes(answer, system):
        say(f"- {line}")
    for line in farm.notes:
        say(f"- {line}")
    if why:
        from duskline.words.working import working_lines

        heading("Working")
        for line in working_lines(answer.working, system):
            say(line)


def _some(lines: list[str]) -> None:
    """Print lines, of very many only the first."""
    for line in lines[:MOST_LINES]:
        say(f"- {line}")
    if len(lines) > MOST_LINES:
        say(f"  ... and {len(lines) - MOST_LINES} more: see the sheet or --json")


def _print_days(answer: SeasonAnswer, system: System) -> None:
    """Print a line for each day and crew, and what is left at night; idle days together."""
    from itertools import groupby

    from duskline.words import season as words

    several = len(answer.planned.crews) > 1
    width = max((len(crew) for crew in answer.planned.crews), default=0) if several else 0
    for why, group in groupby(answer.days, key=lambda day: "" if day.crews else _idle(answer, day)):
        days = list(group)
        if why:
            first, last = (words.short_date(day.on, system) for day in (days[0], days[-1]))
            span = f"{first:<11}" if len(days) == 1 else f"{first} to {last}:"
            say(f"  {span} {why}")
            continue
        for day in days:
            name = f"{words.short_date(day.on, system):<11}"
            for crew in day.crews:
                who = f"{crew.crew:<{width}} " if several else ""
                stop = f"stop {words.stop_text(crew, system):>8}"
                area = words.acres_text(crew.area_m2, system)
                say(f"  {name} {who}{stop} {area:>8}  {words.visit_text(crew, system)}")
                name = " " * 11
            for text in words.without_work(answer, day):
                say(f"  {' ' * 11} {text}")
            say(f"  {' ' * 11} left at night: {words.left_text(day.left_m2, system)}")


def _idle(answer: SeasonAnswer, day: SeasonDayPlan) -> str:
    """Return why nobody goes out; who is away is named, who has nothing to do is not."""
    from duskline.words.season import without_work

    others = without_work(answer, day)
    away = f"; {', '.join(others)}" if len(others) > len(day.idle) else ""
    return day.because or f"nothing planned{away}"


def _print_written(written: Kept) -> None:
    word = "Kept as" if written.new else "Unchanged:"
    heading(f"{word} plan {written.version}")
    for path in written.paths:
        say(f"  {path}")
