"""The season's folder: plan, calendar, picture, sheet and the customers' files, written as one."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from duskline.answers.season import SeasonAnswer
from duskline.core.farm import Farm
from duskline.draw.season import season_picture
from duskline.draw.season_rows import season_fan, season_rows
from duskline.exchange.calendar_ics import season_calendar, write_season_calendar
from duskline.exchange.season_export import season_files, season_zip, write_season_folder
from duskline.exchange.season_files import calendar_days, kept_plan, same_plan, season_fields
from duskline.exchange.season_plan import PLANS_FOLDER, KeptPlan, keep_plan, read_plan
from duskline.paper.press import PaperSize
from duskline.paper.sheets import make_season_sheet
from duskline.units import System, UnitError
from duskline.words.season import change_lines

__all__ = ["Kept", "calendar_file", "export_file", "keep_season", "plan_mark", "sheet_file"]

CALENDAR = "season.ics"
PICTURE_WIDTH = 1000.0
MOST_BYTES = 20_000_000


@dataclass(frozen=True, kw_only=True, slots=True)
class Kept:
    """The number of the plan, whether it is a new one, and where everything went."""

    version: int
    new: bool
    paths: tuple[Path, ...]


def plan_mark(answer: SeasonAnswer) -> str:
    """Return a short mark of what a plan sends where: the plan seen is the plan kept."""
    stops = [
        (one.day, one.crew, visit.field, round(visit.area_m2))
        for one in answer.schedule.crew_days
        for visit in one.visits
    ]
    return f"{zlib.crc32(repr(stops).encode()):08x}"


def keep_season(
    farm: Farm,
    answer: SeasonAnswer,
    place: Path,
    before: KeptPlan | None,
    now_at: datetime,
    *,
    paper: PaperSize | None = None,
) -> Kept:
    """Keep a plan in a farm's folder, with calendar, picture, sheet and the customers' files.

    A plan that sends everybody where the one before it did gets no new number; its files are
    written again.

    Raises
    ------
    UnitError, FolderProblem
        Something else stands where the files would go; then nothing is written.
    OSError
        The folder cannot be written to.
    """
    now_at = now_at.replace(microsecond=0)
    folder = place / PLANS_FOLDER
    _check_place(folder)
    calendar_file(farm, answer, place, now_at, farm.system)
    note = "; ".join(change_lines(answer.changes, farm.system, crews=len(answer.planned.crews)))
    plan = kept_plan(answer, now_at, note=note)
    new = before is None or not same_plan(plan, before)
    version = before.version if before is not None else 0
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    if new:
        paths.append(keep_plan(place, plan))
        version = read_plan(paths[0]).version
    calendar, picture = folder / CALENDAR, folder / "season.svg"
    write_season_calendar(
        calendar, calendar_days(answer), farm=farm.name, now_at=now_at, system=farm.system
    )
    picture.write_text(_picture(farm, answer), encoding="utf-8")
    on = now_at.date()
    sheet = make_season_sheet(farm, answer, folder, paper=paper, version=version, made_on=on)
    paths += [sheet, calendar, picture]
    if any(one.customer for one in farm.fields):
        export = folder / f"plan-{version}-customers"
        write_season_folder(export, _export(farm, answer, now_at, farm.system))
        paths.append(export)
    return Kept(version=version, new=new, paths=tuple(paths))


def _check_place(folder: Path) -> None:
    """Refuse what could not be written, before anything is."""
    if folder.exists() and not folder.is_dir():
        raise UnitError(str(folder), "a folder to write into, or none yet")
    calendar = folder / CALENDAR
    if calendar.exists() and not calendar.is_file():
        raise UnitError(str(calendar), "the calendar written before, or none yet")


def _picture(farm: Farm, answer: SeasonAnswer) -> str:
    return season_picture(
        season_rows(answer),
        season_fan(answer),
        farm.system,
        width=PICTURE_WIDTH,
        deadline=answer.due_on,
    )


def _export(farm: Farm, answer: SeasonAnswer, now_at: datetime, system: System) -> dict[str, str]:
    return season_files(
        calendar_days(answer),
        season_fields(farm),
        farm=farm.name,
        on=now_at.date(),
        system=system,
    )


# --------------------------------------------------------------------------- to take along


def calendar_file(
    farm: Farm, answer: SeasonAnswer, place: Path, now_at: datetime, system: System
) -> bytes:
    """Return the season as a calendar file that follows up the one kept in the folder.

    Raises
    ------
    FolderProblem
        A file stands there that is no calendar of ours.
    """
    kept = place / PLANS_FOLDER / CALENDAR
    previous = None
    if kept.is_file() and kept.stat().st_size <= MOST_BYTES:
        previous = kept.read_bytes()
    return season_calendar(
        calendar_days(answer), farm=farm.name, now_at=now_at, system=system, previous=previous
    )


def export_file(farm: Farm, answer: SeasonAnswer, now_at: datetime, system: System) -> bytes:
    """Return the lists for customers, crews and totals as a zip."""
    return season_zip(_export(farm, answer, now_at, system))


def sheet_file(farm: Farm, answer: SeasonAnswer, version: int | None, now_at: datetime) -> bytes:
    """Return the season sheet as PDF, in the farm's units."""
    with TemporaryDirectory() as beside:
        path = make_season_sheet(farm, answer, Path(beside), version=version, made_on=now_at.date())
        return path.read_bytes()
