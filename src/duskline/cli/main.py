"""The ``duskline`` command: read the folder, ask one answer, print it for a person or as JSON.

Heavy imports stay inside the commands, so that ``--help`` is quick.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from duskline import __version__

__all__ = ["cli", "main"]

FOLDER = click.Path(path_type=Path, file_okay=False)
FILE = click.Path(path_type=Path, dir_okay=False)
DONE, NO, BAD_INPUT = 0, 1, 2


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(__version__, prog_name="duskline")
def cli() -> None:
    """Broadcast a cover crop and have everything spread today worked in today.

    Results go to standard output, notes to standard error. Exit code 0: done; 1: the answer is
    no, not safe or not enough; 2: the input has to be put right.
    """


as_json = click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON, in SI.")
with_why = click.option("--why", is_flag=True, help="Open the working: formulas, inputs, sources.")


@cli.command()
@click.argument("folder", type=FOLDER, default=Path("demo"))
@click.option(
    "--example",
    type=click.Choice(["rye-after-soybeans", "oats-and-radish", "forty-fields"]),
    default="rye-after-soybeans",
    show_default=True,
    help="Which invented farm to lay out.",
)
@as_json
def demo(folder: Path, example: str, *, as_json: bool) -> None:
    """Lay an example farm in FOLDER, plan its first day and write the sheets."""
    from duskline.cli import run

    run.demo(folder, example, as_json=as_json)


@cli.command()
@click.argument("farm", type=FOLDER)
@as_json
@with_why
def check(farm: Path, *, as_json: bool, why: bool) -> None:
    """Is the FARM folder complete, and may each field be seeded this way?"""
    from duskline.cli import run

    run.check(farm, as_json=as_json, why=why)


@cli.command()
@click.argument("farm", type=FOLDER)
@click.option("--first-load", help='Area the first full load did: "76 ac".')
@as_json
@with_why
def seed(farm: Path, first_load: str | None, *, as_json: bool, why: bool) -> None:
    """Is the lot fit; what rate, how many loads; is there enough in the bin?"""
    from duskline.cli import run

    run.seed(farm, first_load, as_json=as_json, why=why)


@cli.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--width", "widths", multiple=True, help='A driving width to judge: "47 ft".')
@click.option("--kernel", help='Mass of one seed, to take out the luck of few seeds: "24 mg".')
@click.option("--farm", type=FOLDER, help="Farm folder, for what a narrower width costs.")
@click.option("--svg", type=click.Path(path_type=Path), help="Write the strip picture here.")
@click.option("--metric/--us", "metric", default=None, help="Units to print; else the file's.")
@as_json
@with_why
def trays(
    file: Path,
    widths: tuple[str, ...],
    kernel: str | None,
    farm: Path | None,
    svg: Path | None,
    *,
    metric: bool | None,
    as_json: bool,
    why: bool,
) -> None:
    """How wide may we drive? Evenness by driving width from a tray test FILE.

    FILE may also be a farm folder: then all its tray tests are read, and the narrowest width
    rules where seeds are spread as one mix.
    """
    from duskline.cli import run

    run.trays(
        file,
        widths=widths,
        kernel=kernel,
        farm=farm,
        svg=svg,
        metric=metric,
        as_json=as_json,
        why=why,
    )


def day_options(command: Any) -> Any:
    """Add the options that say which day, and where the crew stands."""
    for option in reversed(
        (
            click.option("--date", "on", help="The day, as 2026-10-18; else the forecast's first."),
            click.option("--now", help="Re-plan from this clock time, as 13:00."),
            click.option("--spread", help='Spread so far today, with --now: "96.7 ac".'),
            click.option("--covered", help='Covered so far today, with --now: "39 ac".'),
            click.option("--rain", help="Rain is called for this clock time."),
            click.option(
                "--down", multiple=True, help='A machine out of work: "Cultivator 3 13:10-16:10".'
            ),
            click.option("--sure", help='Chance to keep: "16 in 20"; else the farm\'s own.'),
            click.option(
                "--rates",
                type=click.Choice(["auto", "planned", "observed"]),
                default="auto",
                show_default=True,
                help="Plan on planned or on observed covering rates; auto: the average on "
                "planned, the chance on observed once covering has run an hour.",
            ),
        )
    ):
        command = option(command)
    return command


@cli.command()
@click.argument("farm", type=FOLDER)
@day_options
@click.option("--svg", type=click.Path(path_type=Path), help="Write the day strip here.")
@as_json
@with_why
def day(farm: Path, svg: Path | None, *, as_json: bool, why: bool, **asked: Any) -> None:
    """When must spreading stop today, how sure is that, and why?"""
    from duskline.cli import run

    run.day(farm, svg, as_json=as_json, why=why, **asked)


@cli.command()
@click.argument("farm", type=FOLDER)
@click.argument("out", type=FOLDER, required=False)
@day_options
@click.option("--paper", type=click.Choice(["letter", "a4"]), help="Else by the farm's units.")
@as_json
def sheets(farm: Path, out: Path | None, paper: Any, *, as_json: bool, **asked: Any) -> None:
    """Write the day's sheets as PDF into OUT (FARM/sheets if not given)."""
    from duskline.cli import run

    run.sheets(farm, out, paper, as_json=as_json, **asked)


@cli.command()
@click.argument("farm", type=FOLDER)
@click.argument("name")
@click.option("--date", "on", help="The day, for the wind of its spreading hours.")
@click.option("--angle", help='Covering off the spread passes: "5 deg"; else the farm\'s own.')
@click.option("--geojson", type=FILE, help="Write every pass, round and turn here.")
@click.option("--svg", type=FILE, help="Write the map here.")
@click.option("--sheet", type=FOLDER, help="Write the field sheet as PDF into this folder.")
@as_json
@with_why
def field(farm: Path, name: str, **asked: Any) -> None:
    """How is field NAME driven by both machines, in what minutes, and what does that leave?"""
    from duskline.cli import fields

    fields.field(farm, name, **asked)


@cli.command()
@click.argument("farm", type=FOLDER)
@click.argument("name")
@click.argument("file", type=FILE)
@click.option("--machine", help="Whose track it is; else the first covering machine's.")
@click.option("--spread", type=FILE, help="The spreader's track of the day: open ground by hour.")
@click.option("--spreader", help="Which spreader; else the first.")
@as_json
@with_why
def track(farm: Path, name: str, file: Path, **asked: Any) -> None:
    """What does a recorded track (GPX or NMEA) in field NAME say: overlap, speed, turns, skips?"""
    from duskline.cli import fields

    fields.track(farm, name, file, **asked)


@cli.command()
@click.argument("farm", type=FOLDER)
@click.argument("name")
@click.option("--angle", help='Covering off the spread passes: "5 deg"; else the farm\'s own.')
@click.option("--cell", help='Side of the map\'s cells, 10 cm to 1 m: "0.25 m".')
@click.option(
    "--which",
    type=click.Choice(["before", "after", "difference", "worked"]),
    default="after",
    show_default=True,
    help="Which map is drawn.",
)
@click.option("--svg", type=FILE, help="Write the map here, with its key.")
@click.option("--png", type=FILE, help="Write the map alone here.")
@click.option("--strips", type=FILE, help="Write the strips before and after covering here.")
@click.option("--sheet", type=FOLDER, help="Write the sheet as PDF into this folder.")
@click.option("--seed", type=int, default=0, show_default=True, help="Of the random steering.")
@click.option(
    "--response",
    type=click.Choice(["quadratic", "exponential", "plateau"]),
    default="quadratic",
    show_default=True,
    help="How cover answers to the stand.",
)
@as_json
@with_why
def evenness(farm: Path, name: str, **asked: Any) -> None:
    """How even does the seed of field NAME lie after covering, and which lever is worth pulling?"""
    from duskline.cli import evenness as command

    command.evenness(farm, name, **asked)


@cli.command()
@click.argument("farm", type=FOLDER)
@click.option("--fetch", "address", help="Fetch it anew from this https address, once an hour.")
@click.option("--now", help="Count the age from here: 2026-10-18T06:00-05:00.")
@as_json
def forecast(farm: Path, **asked: Any) -> None:
    """How old is the forecast, which hours does it give, and how right has it been here?

    Nothing is fetched unless --fetch names an address of the public US forecast service. What
    each forecast said is kept in FARM/forecast_history.csv; put what came into weather.csv.
    """
    from duskline.cli import forecast as command

    command.forecast(farm, **asked)


@cli.command()
@click.argument("farm", type=FOLDER)
@click.option("--from", "first", help="First day, as 2026-10-18; else the day after the log's.")
@click.option("--to", "last", help="Last day of the plan.")
@click.option("--sure", help='Chance to keep each night: "16 in 20"; else the farm\'s own.')
@click.option("--average", is_flag=True, help="Plan at average rates, at no stated chance.")
@click.option("--fresh", is_flag=True, help="Plan as if no plan had been kept before.")
@click.option("--out", type=FOLDER, help="Write into OUT/season; else FARM/season.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), help="Else by the farm's units.")
@click.option("--now", help="Count ages and past days from here: 2026-10-18T06:00-05:00.")
@as_json
@with_why
def season(farm: Path, **asked: Any) -> None:
    """Which field on which day, how sure is that, and what would help?

    Keeps the plan under a number in FARM/season, with a sheet, a picture, a calendar file and,
    with customers, their tables and letters. With --json these are written only if --out is given.
    """
    from duskline.cli import season as command

    command.season(farm, **asked)


@cli.command()
@click.argument("farm", type=FOLDER)
@as_json
@with_why
def cost(farm: Path, *, as_json: bool, why: bool) -> None:
    """What does an acre cost, part by part, and what would hiring it cost?"""
    from duskline.cli import fields

    fields.cost(farm, as_json=as_json, why=why)


@cli.command()
@click.argument("farm", type=FOLDER)
@click.option("--card", is_flag=True, help="Add the check card of each cultivator.")
@as_json
@with_why
def points(farm: Path, *, card: bool, as_json: bool, why: bool) -> None:
    """How many acres are left in the points, and which row is swapped before which field?"""
    from duskline.cli import fields

    fields.points(farm, card=card, as_json=as_json, why=why)


@cli.command()
@click.argument("farm", type=FOLDER)
@click.option("--port", type=click.IntRange(1, 65535), default=8400, show_default=True)
@click.option("--clock", help="Pretend it is this moment, and go on from it.")
def serve(farm: Path, port: int, clock: str | None) -> None:
    """Open the pages of FARM on this machine: every answer, and what happens through the day.

    FARM may be an empty folder: the first page then helps to lay out a farm.
    """
    from duskline.cli import serve as command

    command.serve(farm, port=port, clock=clock)


@cli.command()
@click.argument("farm")
@click.argument(
    "what",
    required=False,
    type=click.Choice(
        ["begin", "spread", "load", "stop", "covered", "stuck", "wet", "down", "up", "rain",
         "note", "undo", "both"]
    ),
)  # fmt: skip
@click.argument("id", required=False)
@click.option("--machine", help="Which machine; needed where more than one could be meant.")
@click.option("--field", help="Which field.")
@click.option("--amount", help='How much: "39 ac", "12 passes", "all", "6000 lb".')
@click.option("--took", help='How long it took, or how long a machine stood: "2 h 30 min".')
@click.option("--at", help='When: "13:00", or 2026-10-18T13:00; else now.')
@click.option("--date", "on", help="The day, as 2026-10-18; else today.")
@click.option("--note", help="Anything worth knowing.")
@click.option("--person", help="Who says so.")
@as_json
def log(farm: str, what: str | None, id: str | None, **asked: Any) -> None:  # noqa: A002
    """What happened today? Takes WHAT in for good, or lists the day.

    Without WHAT: the day's events and what they add up to. ``undo ID`` takes an event back,
    ``both ID`` says that one taken for a second telling is one of its own. The record is
    FARM/duskline.db, begun with the first event; log.csv is written out of it. FARM may also be
    postgresql://user@host/database.
    """
    from duskline.cli import log as command

    command.log(farm, what, id, **asked)


@cli.command()
@click.argument("farm")
@click.argument("to", type=click.Path(path_type=Path))
@as_json
def backup(farm: str, to: Path, **asked: Any) -> None:
    """Write the log and the files of FARM into one file TO, while others go on writing.

    Where TO is a folder, the file is named by the time.
    """
    from duskline.cli import log as command

    command.backup(farm, to, **asked)


@cli.command()
@click.argument("source", type=FILE)
@click.argument("farm", type=FOLDER)
@as_json
def restore(source: Path, farm: Path, **asked: Any) -> None:
    """Bring the backup SOURCE into FARM; what is there is kept beside it."""
    from duskline.cli import log as command

    command.restore(source, farm, **asked)


@cli.command()
@click.argument("farm")
@as_json
def doctor(farm: str, **asked: Any) -> None:
    """Is the log of FARM whole and safe where it is, and is the clock right?"""
    from duskline.cli import log as command

    command.doctor(farm, **asked)


@cli.command()
@click.argument("name", required=False)
@click.option("--metric/--us", "metric", default=False, help="Units to print.")
@as_json
def defaults(name: str | None, *, metric: bool, as_json: bool) -> None:
    """Every default: low, typical, high, unit and source; or only NAME."""
    from duskline.cli import run

    run.show_defaults(name, metric=metric, as_json=as_json)


def main() -> None:
    """Run the command line; errors become sentences, never a trace."""
    from duskline.core.errors import DusklineError

    try:
        cli(standalone_mode=False)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.Abort:
        sys.exit(130)
    except click.ClickException as wrong:
        wrong.show()
        sys.exit(BAD_INPUT)
    except OSError as wrong:
        place = f"{wrong.filename}: " if wrong.filename else ""
        click.echo(f"{place}{wrong.strerror or wrong}. Name a place that can be written.", err=True)
        sys.exit(BAD_INPUT)
    except DusklineError as wrong:
        from duskline.words.errors import sentences

        for line in sentences(wrong):
            click.echo(line, err=True)
        sys.exit(BAD_INPUT)
