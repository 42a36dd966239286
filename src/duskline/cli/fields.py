"""The commands about one field, what it costs, and the points: read, ask one answer, print."""

from __future__ import annotations

import difflib
import math
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from duskline.cli.run import DONE, NO, big, date_of, dump, heading, note, say
from duskline.core.farm import Cultivator, Farm, Field, SpreaderNoun
from duskline.exchange.projection import LocalPlane
from duskline.store.farm import read_farm_with_store
from duskline.units import UnitError, parse, show

if TYPE_CHECKING:
    from duskline.answers.field import FieldAnswer
    from duskline.core.track import OpenGround, Track

__all__ = ["cost", "field", "points", "track"]

Named = TypeVar("Named")

# Two days of whole hours; a track longer than that is another season's.
_MOST_HOURS = 48


def field_of(farm: Farm, name: str) -> Field:
    """Return the field of that name; a name that is nearly one gets a hint."""
    named = {one.name: one for one in farm.fields}
    found = _by_name(name, named)
    if found is not None:
        return found
    near = difflib.get_close_matches(name, [one.name for one in farm.fields], n=1)
    known = ", ".join(one.name for one in farm.fields[:12])
    raise UnitError(name, f"a field of this farm; {f'nearest: {near[0]}' if near else known}")


def _notes_of(farm: Farm, noun: Field) -> list[str]:
    """Return what looked odd about one field when the folder was read."""
    return [text for text in farm.notes if f", {noun.name}: " in text]


def field(
    folder: Path,
    name: str,
    *,
    on: str | None,
    angle: str | None,
    geojson: Path | None,
    svg: Path | None,
    sheet: Path | None,
    as_json: bool,
    why: bool,
) -> None:
    """Print how one field is driven by every machine."""
    from duskline.answers.field import field_answer

    farm = read_farm_with_store(folder)
    noun = field_of(farm, name)
    if noun.outline is None:
        raise UnitError(name, "a field with an outline")
    angle_rad = None if angle is None else parse(angle, "angle")
    if angle_rad is not None and not 0.0 <= angle_rad <= math.pi / 4.0:
        raise UnitError(angle, 'an angle from 0 to 45 degrees, such as "5 deg"')
    answer = field_answer(farm, noun.name, on=date_of(on), angle_rad=angle_rad)
    for text in _notes_of(farm, noun):
        note(text)
    if geojson is not None:
        from duskline.exchange.passes_geojson import write_passes

        plans = {**answer.plan.spreads, **answer.plan.covers}
        write_passes(geojson, plans, plane=_plane(noun))
    if svg is not None:
        from duskline.draw.fieldmap import field_map, map_marks

        svg.write_text(
            field_map(
                answer.plan.outline,
                answer.spread.plan,
                None if answer.cover is None else answer.cover.plan,
                farm.system,
                name=name,
                width=1100.0,
                height=850.0,
                marks=map_marks(answer),
                turns=True,
            ),
            encoding="utf-8",
        )
    if sheet is not None:
        from duskline.paper import make_field_sheets

        make_field_sheets(farm, [answer], sheet)
    if as_json:
        from duskline.cli.field_json import field_json

        dump(field_json(farm, answer, working=why))
        sys.exit(DONE)
    _print_field(farm, answer, why=why)
    for path in (geojson, svg, sheet):
        if path is not None:
            say(f"Written: {path}")
    sys.exit(DONE)


def _print_field(farm: Farm, answer: FieldAnswer, *, why: bool) -> None:
    from duskline.words import field as words
    from duskline.words.working import working_lines

    area = show(answer.field.area_m2, "area", farm.system)
    heading(f"{answer.field.name}, {area}")
    big(words.field_headline(answer))
    for spread in answer.spreads:
        driver = f" ({spread.driver})" if spread.driver else ""
        heading(f"{spread.machine}{driver} spreads {spread.lot}")
        for line in words.spread_lines(farm, answer, spread):
            say(f"- {line}")
        for line in words.loads_lines(farm, spread):
            say(f"- {line}")
    edges = words.edges_lines(farm, answer)
    if edges:
        heading("Edges")
        for line in edges:
            say(f"- {line}")
    for cover in answer.covers:
        driver = f" ({cover.driver})" if cover.driver else ""
        heading(f"{cover.machine}{driver} covers")
        for line in words.cover_lines(farm, answer, cover):
            say(f"- {line}")
    heading("Ground")
    for line in words.ground_lines(answer, farm.system):
        say(f"- {line}")
    if why:
        heading("Working")
        for line in working_lines(answer.working, farm.system):
            say(line)


def track(
    folder: Path,
    name: str,
    file: Path,
    *,
    machine: str | None,
    spread: Path | None,
    spreader: str | None,
    as_json: bool,
    why: bool,
) -> None:
    """Print what a recorded track says of one machine in one field."""
    from duskline.answers.track import track_answer
    from duskline.cli.field_json import track_json
    from duskline.words import track as words
    from duskline.words.working import working_lines

    farm = read_farm_with_store(folder)
    noun = field_of(farm, name)
    machines: dict[str, Cultivator | SpreaderNoun] = {one.name: one for one in farm.cultivators}
    driver = _machine(machine, machines | {one.name: one for one in farm.spreaders})
    drive = _drive(file, noun)
    answer = track_answer(farm, noun, driver, drive)
    opened = _open_ground(farm, noun, driver, drive, spread, spreader)
    if as_json:
        dump(track_json(answer, opened, working=why))
        sys.exit(DONE)
    big(words.track_headline(answer, farm.system))
    for line in words.track_lines(answer, farm.system):
        say(f"- {line}")
    if opened is not None:
        heading("Open, hour by hour: spread and not yet worked in")
        for line in words.open_lines(opened, noun.outline, farm.time_zone, farm.system):
            say(f"- {line}")
    if why:
        heading("Working")
        for line in working_lines(answer.working, farm.system):
            say(line)
    sys.exit(DONE)


def _machine(name: str | None, machines: dict[str, Named]) -> Named:
    """Return the machine of that name, or the first."""
    if name is None:
        return next(iter(machines.values()))
    found = _by_name(name, machines)
    if found is None:
        raise UnitError(name, f"a machine of this farm: {', '.join(machines)}")
    return found


def _by_name(name: str, named: Mapping[str, Named]) -> Named | None:
    """Return what is called so; capitals and spaces do not count where only one is meant."""
    if name in named:
        return named[name]
    alike = [key for key in named if _plain(key) == _plain(name)]
    return named[alike[0]] if len(alike) == 1 else None


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _drive(file: Path, noun: Field) -> Track:
    """Return a recorded drive in the field's plane."""
    from duskline.exchange.problems import FolderProblem
    from duskline.exchange.tracks import in_plane, read_track

    recorded, problems = read_track(file)
    if recorded is None or problems:
        raise FolderProblem(tuple(problems))
    return in_plane(recorded, _plane(noun))


def _open_ground(
    farm: Farm,
    noun: Field,
    driver: Cultivator | SpreaderNoun,
    cover: Track,
    spread: Path | None,
    spreader: str | None,
) -> OpenGround | None:
    """Return the open ground at every whole hour of the two drives; None without a second."""
    from duskline.answers.track import open_answer

    if spread is None:
        return None
    if not isinstance(driver, Cultivator):
        raise UnitError(driver.name, "a covering machine for FILE; --spread is the spreader's")
    thrower = _machine(spreader, {one.name: one for one in farm.spreaders})
    thrown = _drive(spread, noun)
    begins_s = min(float(thrown.t_s[0]), float(cover.t_s[0]))
    ends_s = max(float(thrown.t_s[-1]), float(cover.t_s[-1]))
    hours = range(math.ceil(begins_s / 3600.0), math.floor(ends_s / 3600.0) + 1)
    at_s = tuple(3600.0 * hour for hour in hours[:_MOST_HOURS])
    return open_answer(
        field=noun,
        spreader=thrower,
        spread=thrown,
        cultivator=driver,
        cover=cover,
        at_s=(*at_s, ends_s),
    )


def _plane(noun: Field) -> LocalPlane:
    lon_deg, lat_deg = noun.plane_lonlat_deg or noun.centre
    return LocalPlane(lon_deg=lon_deg, lat_deg=lat_deg)


def cost(folder: Path, *, as_json: bool, why: bool) -> None:
    """Print what an acre costs in parts."""
    from duskline.answers.cost import cost_answer
    from duskline.cli.cost_json import cost_json
    from duskline.core.machine import Verdict
    from duskline.words.cost import cost_headline, cost_lines, cost_why

    farm = read_farm_with_store(folder)
    answer = cost_answer(farm)
    # A tractor that lacks the power is a no, whatever the acre costs.
    verdicts = [one.match.verdict for one in answer.matches]
    done = NO if Verdict.NOT_ENOUGH in verdicts else DONE
    if as_json:
        dump(cost_json(answer, working=why))
        sys.exit(done)
    big(cost_headline(answer, farm.system))
    for line in cost_lines(answer, farm.system)[1:]:
        say(line)
    if why:
        heading("Working")
        for line in cost_why(answer, farm.system):
            say(line)
    sys.exit(done)


def points(folder: Path, *, card: bool, as_json: bool, why: bool) -> None:
    """Print the acres left in the points, what to swap before which field, and the check card."""
    from duskline.answers.points import check_cards, ground_to_cover, points_answer, worked_in_m2
    from duskline.answers.telling import settled
    from duskline.cli.points_json import points_json
    from duskline.exchange.season_plan import kept_order, latest_plan
    from duskline.words import points as words

    farm = read_farm_with_store(folder)
    account, kept = settled(farm), latest_plan(folder)
    order = ground_to_cover(farm, account, () if kept is None else kept_order(kept))
    answer = points_answer(farm, order, worked_m2=worked_in_m2(account))
    must_swap = bool(answer.swaps_likely) or any(row.point_at_limit for row in answer.rows)
    if as_json:
        dump(points_json(answer, working=why))
        sys.exit(NO if must_swap else DONE)
    big(words.headline(answer, farm.system))
    for line in words.points_lines(answer, farm.system)[1:]:
        say(line)
    if card:
        for one in check_cards(farm, answer):
            heading(f"Check card: {one.machine}")
            for line in words.check_card_lines(one, farm.system):
                say(line)
    if why:
        heading("Working")
        for line in words.points_working_lines(answer.working, farm.system):
            say(line)
    sys.exit(NO if must_swap else DONE)
