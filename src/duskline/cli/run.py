"""What each command does: read, ask one answer, print. Imported only when a command runs."""

from __future__ import annotations

import json
import shutil
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal
from zoneinfo import ZoneInfo

import click

from duskline.answers.day import DayAnswer, DayQuestion, Rates, day_answer
from duskline.answers.lap import lap_answers
from duskline.core.farm import Farm
from duskline.store.farm import read_farm_with_store, read_folder_with_store
from duskline.units import System, UnitError, clock, parse, show, show_chance

if TYPE_CHECKING:
    from duskline.answers.trays import MixedWidth, SpreadingWork, TrayAnswer
    from duskline.core.trays import TrayTest

__all__ = ["check", "day", "demo", "seed", "sheets", "show_defaults", "trays"]

Paper = Literal["letter", "a4"]

DONE, NO, BAD_INPUT = 0, 1, 2
COLUMNS = 80


# --------------------------------------------------------------------------- printing


def say(text: str = "") -> None:
    """Print one line of the answer, folded at 80 columns."""
    import textwrap

    indent = " " * (len(text) - len(text.lstrip()))
    bullet = "  " if text.lstrip().startswith("- ") else ""
    lines = (
        textwrap.wrap(
            text,
            COLUMNS,
            subsequent_indent=indent + bullet,
            break_on_hyphens=False,
            break_long_words=False,
        )
        if len(text) > COLUMNS
        else [text]
    )
    for line in lines:
        click.echo(line)


def note(text: str) -> None:
    """Print a note on standard error."""
    click.echo(text, err=True)


def big(text: str) -> None:
    """Print the one answer, set off from everything else."""
    click.echo()
    click.secho(f"  {text.upper()}", bold=True)


def heading(text: str) -> None:
    """Print a heading."""
    click.echo()
    click.secho(text, bold=True)


def dump(found: Any) -> None:
    """Print JSON."""
    click.echo(json.dumps(found, indent=2, ensure_ascii=False, allow_nan=False))


@contextmanager
def progress(text: str) -> Iterator[None]:
    """Say on standard error what takes long, but only once it takes over a second."""
    import threading

    timer = threading.Timer(1.0, note, args=(text,))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


# --------------------------------------------------------------------------- questions


def _clock_on(text: str, on: date, zone: ZoneInfo) -> datetime:
    """Return a clock time of the day as a moment."""
    try:
        hours, minutes = (int(part) for part in text.strip().split(":"))
        return datetime(on.year, on.month, on.day, hours, minutes, tzinfo=zone)
    except ValueError as wrong:
        raise UnitError(text, 'a clock time such as "13:00"') from wrong


def _question(farm: Farm, asked: dict[str, Any]) -> DayQuestion:
    """Turn the options of the command line into one question in SI."""
    zone = ZoneInfo(farm.time_zone)
    day = date_of(asked["on"]) or _first_day(farm, zone)
    question = DayQuestion(on=day, rates=Rates(asked["rates"]))
    if asked["now"]:
        question = replace(question, now_at=_clock_on(asked["now"], day, zone))
    if asked["spread"]:
        question = replace(question, spread_m2=parse(asked["spread"], "area"))
    if asked["covered"]:
        question = replace(question, covered_m2=parse(asked["covered"], "area"))
    if asked["rain"]:
        question = replace(question, rain_at=_clock_on(asked["rain"], day, zone))
    if asked["down"]:
        question = replace(question, down=_down(farm, asked["down"], day, zone))
    if asked["sure"]:
        question = replace(question, sure_fraction=sure_of(asked["sure"]))
    return question


def _first_day(farm: Farm, zone: ZoneInfo) -> date:
    if farm.forecast is not None and len(farm.forecast.hours_at):
        return farm.forecast.hours_at[0].astimezone(zone).date()
    if farm.windows:
        return min(window.on for window in farm.windows)
    raise UnitError("no --date", "a date: the folder has neither a forecast nor a window")


def date_of(text: str | None) -> date | None:
    """Return a date typed as 2026-10-18; None where none was."""
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as wrong:
        raise UnitError(text, "a date such as 2026-10-18") from wrong


def moment_of(text: str | None) -> datetime | None:
    """Return a moment typed as 2026-10-18T06:00-05:00; None where none was."""
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as wrong:
        raise UnitError(text, "a moment such as 2026-10-18T06:00-05:00") from wrong
    if moment.tzinfo is None:
        raise UnitError(text, "a moment with its offset, such as 2026-10-18T06:00-05:00")
    return moment


def sure_of(text: str) -> float:
    """Return a chance typed as "16 in 20"."""
    part, _, whole = text.partition(" in ")
    if not (part.strip().isdigit() and whole.strip().isdigit()) or not (0 < int(part) < int(whole)):
        raise UnitError(text, 'a chance such as "16 in 20"')
    return int(part) / int(whole)


def _down(
    farm: Farm, texts: tuple[str, ...], day: date, zone: ZoneInfo
) -> dict[str, tuple[tuple[datetime, datetime], ...]]:
    names = [s.name for s in farm.spreaders] + [c.name for c in farm.cultivators]
    found: dict[str, tuple[tuple[datetime, datetime], ...]] = {}
    for text in texts:
        name, _, span = text.strip().rpartition(" ")
        if name not in names or "-" not in span:
            raise UnitError(text, f'a machine and its hours, such as "{names[0]} 13:10-16:10"')
        begin, end = (_clock_on(part, day, zone) for part in span.split("-", 1))
        if end <= begin:
            raise UnitError(text, "an end after the beginning")
        found[name] = (*found.get(name, ()), (begin, end))
    return found


# --------------------------------------------------------------------------- day


def day(folder: Path, svg: Path | None, *, as_json: bool, why: bool, **asked: Any) -> None:
    """Print the day's answer."""
    from duskline.words.working import working_lines

    farm = read_farm_with_store(folder)
    with progress("Drawing 10,000 days (the first time compiles, which takes a few seconds) ..."):
        answer = day_answer(farm, _question(farm, asked))
    for text in farm.notes:
        note(text)
    if svg is not None:
        from duskline.draw import day_strip

        picture = day_strip(answer, farm.system, width=1000, height=430)
        svg.write_text(picture, encoding="utf-8")
    if as_json:
        from duskline.cli.json_out import day_json

        dump(day_json(farm, answer, working=why))
    else:
        print_day(farm, answer)
        if why:
            heading("Working")
            for line in working_lines(answer.working, farm.system):
                say(line)
    sys.exit(NO if answer.hopeless else DONE)


def print_day(farm: Farm, answer: DayAnswer) -> None:
    """Print the day for a person: one answer, how sure, then why."""
    from duskline.cli.strip import day_strip_text
    from duskline.words import day as words

    system: System = farm.system
    say(
        f"{farm.name}, {words.date_text(answer)}"
        + (f", from {clock(answer.now_at, system)}" if answer.now_at else "")
    )
    big(words.headline(answer, system))
    for text in (
        words.last_load(answer, system),
        words.sure_line(answer, system),
        words.asks(answer, system),
    ):
        if text:
            say(f"  {text}")
    if not answer.hopeless:
        heading("How sure do you want to be?")
        _sureness_table(answer, system)
    click.echo()
    for line in day_strip_text(answer, system):
        click.echo(line)
    heading(
        f"Stop ladder ({show_chance(answer.ladder_chance_fraction)} if you follow it): "
        "stop spreading"
    )
    say("when open acres (spread, not yet worked in) reach the line; between two")
    say("times use the lower line.")
    _ladder_table(answer, system)
    heading("Why")
    for text in words.why(answer, system):
        say(f"- {text}")
    if answer.levers:
        heading("What would be worth how much today")
        for lever in answer.levers:
            say(f"- {words.lever_line(lever, system)}")
    heading("Overlap")
    for lap in lap_answers(farm):
        say(f"- {words.lap_line(lap, system)}")
    heading("Fields, about")
    _field_table(answer, system)
    say(words.tomorrow(answer, system))


def _sureness_table(answer: DayAnswer, system: System) -> None:
    from duskline.words.day import acres, no_later

    rows = answer.by_sureness
    marks = ["*" if row.sure_fraction == answer.sure_fraction else " " for row in rows]
    for cells in (
        [f"{m}{show_chance(row.sure_fraction)}" for m, row in zip(marks, rows, strict=True)],
        [f" {no_later(row.stop_at, system)}" for row in rows],
        [f" {acres(row.spread_area_m2, system)}" for row in rows],
    ):
        click.echo("  " + "".join(cell.ljust(14) for cell in cells).rstrip())


def _ladder_table(answer: DayAnswer, system: System) -> None:
    from duskline.units import to_display

    unit = to_display(1.0, "area", system)[1]
    click.echo(f"  {'at':>9}  {'most ' + unit + ' open':>12}  {'loads':>6}")
    last = answer.moment(answer.windows.spread_intervals_s[-1][1])
    for rung in answer.ladder:
        area = to_display(rung.open_area_m2, "area", system)[0]
        shown = f"{int(area)}" if system == "us" else f"{int(area * 10) / 10:.1f}"
        if rung.at <= last:
            click.echo(f"  {clock(rung.at, system):>9}  {shown:>12}  {rung.loads:>6.1f}")


def _field_table(answer: DayAnswer, system: System) -> None:
    from duskline.words.day import about

    for row in answer.fields:
        part = "" if row.whole else f" of {show(row.whole_area_m2, 'area', system)}"
        done = f", worked in by {about(row.covered_by, system)}" if row.covered_by else ""
        say(
            f"  {row.name}: {show(row.area_m2, 'area', system)}{part}, "
            f"{show(row.seed_kg, 'mass', system)}, spread {about(row.spread_from, system)} to "
            f"{about(row.spread_to, system)}{done}"
        )


# --------------------------------------------------------------------------- seed and trays


def seed(folder: Path, first: str | None, *, as_json: bool, why: bool) -> None:
    """Print fitness, rate, bin, loads and flow."""
    from duskline.answers.seed import seed_answer
    from duskline.words.seed import cautions
    from duskline.words.working import working_lines

    farm = read_farm_with_store(folder)
    answer = seed_answer(farm)
    if as_json:
        from duskline.cli.json_out import seed_json

        dump(seed_json(answer, working=why))
        sys.exit(DONE if answer.good else NO)
    for lot in answer.lots:
        _print_lot(lot, farm.system, first)
        if why:
            heading("Working")
            for line in working_lines(lot.working, farm.system):
                say(line)
    heading("Where seed is handled")
    for text in dict.fromkeys(text for lot in answer.lots for text in cautions(lot)):
        say(f"! {text}")
    sys.exit(DONE if answer.good else NO)


def _print_lot(answer: Any, system: System, first: str | None) -> None:
    from duskline.words import seed as words

    heading(f"{answer.lot.name}: {show(answer.area_m2, 'area', system)}")
    fit = words.fit_line(answer)
    if fit:
        big(fit)
    for text in (words.agreement_line(answer), words.insect_line(answer)):
        if text:
            say(f"  {text}")
    say(f"  Germination {words.germination_line(answer)}.")
    say(f"  Rate: {words.rate_line(answer, system)}")
    for text in words.shortfall_lines(answer, system):
        say(f"  {text}")
    if answer.bin is not None:
        say(f"  {words.bin_line(answer.bin, system)}")
    say(f"  {words.loads_line(answer, system)}")
    for text in words.flow_lines(answer, system):
        say(f"  {text}")
    if first is not None:
        for text in words.first_load_lines(answer, parse(first, "area"), system):
            say(f"  {text}")


def trays(
    file: Path,
    *,
    widths: tuple[str, ...],
    kernel: str | None,
    farm: Path | None,
    svg: Path | None,
    metric: bool | None,
    as_json: bool,
    why: bool,
) -> None:
    """Print evenness by driving width, of one tray test or of all in a farm folder."""
    folder = file if file.is_dir() else farm
    if folder is None and (file.parent / "farm.toml").is_file():
        folder = file.parent
    place = read_farm_with_store(folder) if folder is not None else None
    system: System = place.system if place is not None else "us"
    if metric is not None:
        system = "metric" if metric else "us"
    tests = _tray_tests(file, place)
    asked = tuple(parse(text, "length") for text in widths)
    mass = parse(kernel, "kernel mass") if kernel else None
    answers = {test.name: _tray_answer(test, place, asked, mass) for test in tests}
    if svg is not None:
        from duskline.draw import tray_strip

        width = asked[0] if asked else answers[tests[0].name].good_to_back_and_forth_m
        if width is None:
            width = answers[tests[0].name].widths[-1].driving_width_m
        picture = tray_strip(tests[0], system, driving_width_m=width, width=1000, height=430)
        svg.write_text(picture, encoding="utf-8")
    mixed = _mixed(answers, place) if len(answers) > 1 else None
    if as_json:
        from duskline.cli.json_out import plain, trays_json

        found = [trays_json(answer, working=why) for answer in answers.values()]
        dump(found[0] if len(found) == 1 else {"tests": found, "mixed": plain(mixed)})
    else:
        for answer in answers.values():
            _print_trays(answer, folder if len(answers) == 1 else None, system, why=why)
        if mixed is not None:
            from duskline.words import trays as words

            big(f"As one mix: drive {words.width_text(mixed.driving_width_m, system)}")
            for line in words.mixed_lines(mixed, system):
                say(f"  {line}")
    good = all(answer.good_to_back_and_forth_m is not None for answer in answers.values())
    sys.exit(DONE if good else NO)


def _tray_tests(file: Path, place: Farm | None) -> list[TrayTest]:
    from duskline.exchange.trays_csv import read_trays

    if not file.is_dir():
        return [read_trays(file)]
    if place is None or not place.trays:
        raise UnitError(str(file), "a tray test, or a farm folder that holds one")
    return list(place.trays.values())


def _spreading_work(place: Farm) -> SpreadingWork:
    from duskline.answers.seed import lot_rate_kg_per_m2, spreader_load_kg
    from duskline.answers.trays import SpreadingWork

    machine, lot = place.spreaders[0], place.lot(None)
    load = spreader_load_kg(place, machine, lot.name)
    return SpreadingWork(
        speed_mps=machine.speed_mps,
        efficiency_fraction=machine.efficiency_fraction,
        area_per_load_m2=load / lot_rate_kg_per_m2(place, lot),
        refill_s=machine.refill_s,
    )


def _tray_answer(
    test: TrayTest, place: Farm | None, asked_m: tuple[float, ...], kernel_kg: float | None
) -> TrayAnswer:
    from duskline.answers.trays import answer_trays
    from duskline.defaults import defaults

    table = defaults()
    return answer_trays(
        test,
        good_limit_fraction=table["tray_evenness_good"].typical,
        usable_limit_fraction=table["tray_evenness_usable"].typical,
        narrowest_share_of_throw_fraction=table["tray_narrowest_share_of_throw"].typical,
        edge_share_limit_fraction=table["tray_edge_share"].typical,
        limit_source=table["tray_evenness_good"].source_line,
        asked_widths_m=asked_m,
        kernel_mass_kg=kernel_kg,
        counting_floor_goal_fraction=table["tray_counting_floor"].typical if kernel_kg else None,
        work=_spreading_work(place) if place is not None else None,
    )


def _mixed(answers: dict[str, TrayAnswer], place: Farm | None) -> MixedWidth | None:
    """Return the width for seeds spread as one mix: the narrowest rules."""
    from duskline.answers.trays import mixed_lots

    widths = {
        name: answer.good_to_back_and_forth_m
        for name, answer in answers.items()
        if answer.good_to_back_and_forth_m is not None
    }
    if len(widths) < len(answers):
        return None
    return mixed_lots(widths, work=_spreading_work(place) if place is not None else None)


def _print_trays(answer: TrayAnswer, folder: Path | None, system: System, *, why: bool) -> None:
    from duskline.words import trays as words
    from duskline.words.working import working_lines

    heading(f"Tray test: {answer.name}")
    big(words.headline(answer, system))
    for line in words.lines(answer, system):
        say(line)
    for line in words.cost_lines(_width_costs(folder, answer), system):
        say(line)
    if why:
        heading("Working")
        for line in working_lines(answer.working, system):
            say(line)


def _width_costs(folder: Path | None, answer: TrayAnswer) -> list[tuple[float, float]]:
    """Return what the good, the usable and a narrower width would finish on the first day."""
    from duskline.answers.day import average_area_by_width_m2
    from duskline.core.errors import NoWindow

    good = answer.good_to_back_and_forth_m
    if folder is None or good is None:
        return []
    farm = read_farm_with_store(folder)
    step = answer.widths[1].driving_width_m - answer.widths[0].driving_width_m
    widths = [good, good - step, good - 2 * step]
    usable = answer.usable_to_back_and_forth_m
    if usable is not None and usable > good:
        widths.append(usable)
    widths = [width for width in widths if width > step]
    try:
        areas = average_area_by_width_m2(farm, DayQuestion(), tuple(widths))
    except NoWindow:
        return []
    return list(zip(widths, areas, strict=True))


# --------------------------------------------------------------------------- check


def check(folder: Path, *, as_json: bool, why: bool) -> None:
    """Print what has to be put right, and what a careful neighbour would ask."""
    from duskline.answers.check import Severity, check_answer
    from duskline.cli.json_out import plain
    from duskline.words.check import acre_lines, come_back_lines, sentence

    read = read_folder_with_store(folder)
    if read.farm is None or read.problems:
        if as_json:
            dump({"complete": False, "problems": plain(read.problems), "questions": []})
        else:
            count = len(read.problems)
            big(f"{count} thing{'s' if count > 1 else ''} to put right")
            for problem in read.problems:
                say(f"- {problem.sentence}")
        sys.exit(BAD_INPUT)
    farm = read.farm
    answer = check_answer(farm, None)
    stop = [q for q in answer.questions if q.severity is Severity.STOP_AND_ASK]
    if as_json:
        dump(
            {
                "complete": True,
                "problems": [],
                "notes": read.notes,
                "questions": [
                    {
                        "key": q.key.value,
                        "severity": q.severity.value,
                        "ask": q.ask.value,
                        "subject": q.subject,
                        "question": sentence(q, farm.system),
                    }
                    for q in answer.questions
                ],
                "acres": plain(answer.acres),
                "come_back": plain(answer.come_back),
            }
        )
        sys.exit(NO if stop else DONE)
    area = show(sum(one.area_m2 for one in farm.fields), "area", farm.system)
    big("Stop and ask first" if stop else "The folder is complete")
    say(
        f"  {farm.name}: {len(farm.fields)} fields, {area}; {len(farm.spreaders)} spreader(s), "
        f"{len(farm.cultivators)} covering machine(s), {len(farm.people)} people."
    )
    for severity, title in (
        (Severity.STOP_AND_ASK, "Before anything is spread"),
        (Severity.ASK, "Ask; the office or the label decides, not this program"),
        (Severity.NOTE, "Worth a look"),
    ):
        found = [q for q in answer.questions if q.severity is severity]
        if found:
            heading(title)
            for q in found:
                say(f"- {sentence(q, farm.system)}")
    if answer.acres:
        heading(
            "Acres side by side; none is altered"
            if farm.system == "us"
            else "Areas side by side; none is altered"
        )
        for line in acre_lines(answer, farm.system):
            click.echo(line)
    if answer.come_back:
        heading("To come back to")
        for line in come_back_lines(answer, farm.system):
            say(line)
    if why:
        heading("Figures that are defaults, not yours")
        for place, figure in sorted(farm.figures.items()):
            if figure.is_default:
                say(f"- {place}: {figure.source}")
    if read.notes:
        heading("Notes")
        for text in read.notes:
            say(f"- {text}")
    sys.exit(NO if stop else DONE)


# --------------------------------------------------------------------------- sheets and demo


def _write_sheets(
    farm: Farm, answer: DayAnswer, out: Path, paper: Paper | None
) -> tuple[Path, ...]:
    from duskline.answers.field import field_answer
    from duskline.answers.plans import field_plans
    from duskline.answers.seed import seed_answer
    from duskline.paper import make_field_sheets, make_sheets
    from duskline.words.day import why

    out.mkdir(parents=True, exist_ok=True)
    plans = field_plans(farm, answer)
    written = make_sheets(
        farm,
        answer,
        seed_answer(farm),
        plans,
        out,
        why=why(answer, farm.system),
        paper=paper,
    )
    fields = [field_answer(farm, name, on=answer.on) for name in plans]
    return (*written, *make_field_sheets(farm, fields, out, paper, on=answer.on))


def sheets(
    folder: Path, out: Path | None, paper: Paper | None, *, as_json: bool, **asked: Any
) -> None:
    """Write the sheets of a day."""
    farm = read_farm_with_store(folder)
    with progress("Planning the day and setting the sheets ..."):
        answer = day_answer(farm, _question(farm, asked))
        written = _write_sheets(farm, answer, out or folder / "sheets", paper)
    if as_json:
        dump({"date": answer.on.isoformat(), "sheets": [str(path) for path in written]})
    else:
        for path in written:
            say(str(path))
    sys.exit(NO if answer.hopeless else DONE)


def example_folder(name: str) -> Path:
    """Return where an example farm lies, in the repository or in the installed package."""
    inside = Path(str(resources.files("duskline"))) / "data" / "examples" / name
    beside = Path(__file__).resolve().parents[3] / "examples" / name
    return inside if inside.is_dir() else beside


def demo(folder: Path, example: str, *, as_json: bool) -> None:
    """Lay out an example farm, plan its first day, write the sheets."""
    started = time.perf_counter()
    source = example_folder(example)
    if folder.exists() and any(folder.iterdir()) and not (folder / "farm.toml").is_file():
        raise UnitError(str(folder), "an empty folder, or one that holds a farm already")
    folder.mkdir(parents=True, exist_ok=True)
    kept = []
    for path in sorted(source.iterdir()):
        if (folder / path.name).exists():
            kept.append(path.name)
        else:
            shutil.copyfile(path, folder / path.name)
    if kept:
        note(f"Kept as they are in {folder}: {', '.join(kept)}")
    farm = read_farm_with_store(folder)
    with progress("Drawing 10,000 days (the first time compiles, which takes a few seconds) ..."):
        answer = day_answer(farm, DayQuestion())
        written = _write_sheets(farm, answer, folder / "sheets", None)
    if as_json:
        from duskline.cli.json_out import day_json

        found = day_json(farm, answer, working=False)
        found["sheets"] = [str(path) for path in written]
        dump(found)
        return
    print_day(farm, answer)
    from duskline.words import day as words

    heading(f"Sheets in {folder / 'sheets'}")
    for path in written:
        say(f"  {path.name}")
    big(words.headline(answer, farm.system))
    say(f"  {words.last_load(answer, farm.system)}")
    note(f"Took {time.perf_counter() - started:.1f} s. Next: duskline day {folder} --why")


# --------------------------------------------------------------------------- defaults


def show_defaults(name: str | None, *, metric: bool, as_json: bool) -> None:
    """Print the table of defaults, or one row of it."""
    import difflib

    from duskline.cli.json_out import plain
    from duskline.defaults import defaults

    table = defaults()
    if name is not None and name not in table:
        near = difflib.get_close_matches(name, table, n=1)
        hint = (
            f"one of the names that `duskline defaults` lists; nearest: {near[0]}"
            if near
            else "one of the names that `duskline defaults` lists"
        )
        raise UnitError(name, hint)
    rows = [table[name]] if name is not None else list(table.values())
    if as_json:
        dump([{**plain(row), "source_line": row.source_line} for row in rows])
        return
    from duskline.words.defaults import default_lines

    system: System = "metric" if metric else "us"
    for row in rows:
        for line in default_lines(row, system):
            say(line)
