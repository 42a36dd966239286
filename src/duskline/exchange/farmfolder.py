"""Reading a whole farm folder: every file, every problem at once, every default named.

``read_farm`` gives a ``Farm`` in SI or raises ``FolderProblem`` with all that is wrong.
"""

from __future__ import annotations

import difflib
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from duskline.answers.telling import with_log
from duskline.core import farm as nouns
from duskline.core.lap import effective_width_m
from duskline.defaults import defaults, given
from duskline.exchange.farm_toml import (
    BinTable,
    CultivatorTable,
    FarmToml,
    LeftOutTable,
    LotTable,
    SeedTruckTable,
    SpreaderTable,
    read_farm_toml,
)
from duskline.exchange.field_facts import LeftOutFact
from duskline.exchange.prices import check_prices, per_kg, prices_of
from duskline.exchange.problems import FolderProblem, Problem
from duskline.exchange.season_rules import (
    away_of,
    check_season,
    climate_of,
    crews_of,
    season_of,
)
from duskline.units import BUSHEL_M3

if TYPE_CHECKING:
    from duskline.core.log import Event
    from duskline.core.trays import TrayTest
    from duskline.core.weather import Forecast
    from duskline.exchange.outlines import FieldShape

__all__ = ["FolderRead", "read_farm", "read_folder"]

TOML = "farm.toml"
FORECASTS = ("forecast.csv", "forecast.json")
MOST_UNKNOWN_TOLD = 50


@dataclass(kw_only=True, slots=True)
class FolderRead:
    """What reading gave: the farm if it can be used, all problems, and notes."""

    farm: nouns.Farm | None = None
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def read_farm(folder: Path) -> nouns.Farm:
    """Return the farm of a folder.

    Raises
    ------
    FolderProblem
        Anything that has to be put right first; all of it, with file and line or key.
    """
    read = read_folder(folder)
    if read.farm is None or read.problems:
        raise FolderProblem(tuple(read.problems))
    return read.farm


def read_folder(folder: Path, *, events: Iterable[Event] | None = None) -> FolderRead:
    """Read everything in the folder, collecting problems instead of stopping at the first.

    Parameters
    ----------
    events
        The log, where it is kept elsewhere than in ``log.csv``, which is not read then.
    """
    read = FolderRead()
    if not folder.is_dir():
        read.problems.append(
            Problem(file=str(folder), where="", read="no such folder", expected="a farm folder")
        )
        return read
    if not (folder / TOML).is_file():
        read.problems.append(
            Problem(file=TOML, where="", read="no such file", expected=f"{TOML} in {folder}")
        )
        return read
    try:
        raw = _bounded(folder / TOML)
    except OSError as wrong:
        reason = f"nothing ({(wrong.strerror or 'not readable').lower()})"
        read.problems.append(
            Problem(file=TOML, where="", read=reason, expected="a file that can be read")
        )
        return read
    form, _text, problems = read_farm_toml(raw)
    read.problems += problems
    zone = _zone(form, read)
    yard = (form.farm.longitude, form.farm.latitude) if form else None
    shapes, all_read = _outlines(folder, yard, read)
    forecast = _forecast(folder, zone, read)
    told = tuple(events) if events is not None else _log(folder, zone, read)
    trays = _trays(folder, form, read)
    if form is None:
        return read
    fields = _fields(shapes, form, zone, read)
    file = shapes[0].file if shapes else "fields.geojson"
    read.problems += _cross_check(form, fields, trays, file)
    if all_read and events is None:
        read.problems += _check_log(form, fields, told)
    if not read.problems:
        read.farm = with_log(_farm(form, fields, forecast, trays, read.notes), told)
    return read


def _bounded(path: Path) -> bytes:
    """Return at most a little over the largest size a farm.toml may have."""
    from duskline.exchange.farm_toml import LARGEST_BYTES

    with path.open("rb") as file:
        return file.read(LARGEST_BYTES + 1)


def _zone(form: FarmToml | None, read: FolderRead) -> ZoneInfo:
    if form is None:
        return ZoneInfo("UTC")
    try:
        return ZoneInfo(form.farm.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        from zoneinfo import available_timezones

        near = difflib.get_close_matches(form.farm.time_zone, sorted(available_timezones()), n=1)
        read.problems.append(
            Problem(
                file=TOML,
                where="farm.time_zone",
                read=repr(form.farm.time_zone),
                expected='a time zone such as "America/Chicago"',
                hint=f"Did you mean {near[0]!r}?" if near else "",
            )
        )
        return ZoneInfo("UTC")


def _outlines(
    folder: Path, yard: tuple[float, float] | None, read: FolderRead
) -> tuple[tuple[FieldShape, ...], bool]:
    """Return the fields, and whether every outline could be read."""
    from duskline.exchange.vectorfiles import read_field_files

    found = read_field_files(folder, yard_lonlat_deg=yard)
    read.problems += found.problems
    read.notes += found.notes
    read.notes += [f"{one.file}, {one.name}: {note}" for one in found.fields for note in one.notes]
    return found.fields, not found.problems


def _forecast(folder: Path, zone: ZoneInfo, read: FolderRead) -> Forecast | None:
    """Return the folder's forecast; of two the one made last, with a note."""
    from duskline.exchange.forecast import read_forecast

    found: list[tuple[str, Forecast]] = []
    for name in FORECASTS:
        if not (folder / name).is_file():
            continue
        one = read_forecast(folder / name, zone=zone)
        read.problems += one.problems
        read.notes += [note.sentence for note in one.notes]
        if one.forecast is not None:
            found.append((name, one.forecast))
    if len(found) < 2:
        return found[0][1] if found else None
    # The first of equals: a forecast.csv that was written by hand is meant.
    taken, other = sorted(found, key=_issued_s, reverse=True)
    told = [
        f"{name} ({one.issued_at:%Y-%m-%d %H:%M})" if one.issued_at else f"{name} (not said when)"
        for name, one in (taken, other)
    ]
    read.notes.append(f"Two forecasts: {told[0]} is taken, {told[1]} is left aside.")
    return taken[1]


def _issued_s(named: tuple[str, Forecast]) -> float:
    """Return when a forecast was made; one that does not say counts as the oldest. [s]"""
    issued_at = named[1].issued_at
    return issued_at.timestamp() if issued_at is not None else -math.inf


def _log(folder: Path, zone: ZoneInfo, read: FolderRead) -> tuple[Event, ...]:
    from duskline.exchange.log_csv import read_log

    path = folder / "log.csv"
    if not path.is_file():
        return ()
    events, problems = read_log(path, zone=zone)
    read.problems += problems
    return events


def _trays(folder: Path, form: FarmToml | None, read: FolderRead) -> dict[str, TrayTest]:
    """Return the tray tests by file name: those that lots name, and ``trays.csv``."""
    from duskline.exchange.trays_csv import read_trays

    named = {lot.trays for lot in form.lot if lot.trays} if form else set()
    tests: dict[str, TrayTest] = {}
    for name in sorted(named | {"trays.csv"}):
        path = folder / name
        if Path(name).name != name or not path.is_file():
            if name in named:
                read.problems.append(
                    Problem(
                        file=TOML,
                        where="lot.trays",
                        read=repr(name),
                        expected="the name of a tray file in this folder",
                    )
                )
            continue
        try:
            tests[name] = read_trays(path)
        except FolderProblem as wrong:
            read.problems += wrong.problems
    return tests


def _fields(
    shapes: tuple[FieldShape, ...], form: FarmToml, zone: ZoneInfo, read: FolderRead
) -> tuple[nouns.Field, ...]:
    """Return the fields, each with what is left out of it in either file."""
    written: dict[str, list[LeftOutFact]] = {}
    for table in form.left_out:
        written.setdefault(table.field, []).append(_left_out(table))
    return tuple(_field(shape, written.get(shape.name, []), zone, read) for shape in shapes)


def _left_out(table: LeftOutTable) -> LeftOutFact:
    return LeftOutFact(
        what=table.what,
        area_m2=table.area,
        at_lonlat_deg=table.at,
        ring_lonlat_deg=table.ring,
        come_back=table.come_back,
        note=table.note,
        file=TOML,
    )


def _field(
    shape: FieldShape, written: list[LeftOutFact], zone: ZoneInfo, read: FolderRead
) -> nouns.Field:
    from duskline.exchange.left_out import lay_out

    facts = shape.facts
    laid = lay_out(shape, (*facts.left_out, *written), file=shape.file)
    read.problems += laid.problems
    read.notes += [f"{shape.file}, {shape.name}: {note}" for note in laid.notes]
    early, ready, late = (
        _local(moment, zone) for moment in (facts.ready_early, facts.ready_from, facts.ready_late)
    )
    read.problems += _check_ready(shape, early, ready, late)
    return nouns.Field(
        name=shape.name,
        area_m2=shape.area_m2,
        centre=(shape.centre_lon_deg, shape.centre_lat_deg),
        outline=shape.outline_m,
        ready_at=ready,
        lot=facts.lot or None,
        customer=facts.customer,
        previous_crop=facts.previous_crop,
        farm_no=facts.farm_no,
        tract_no=facts.tract_no,
        field_no=facts.field_no,
        notes=facts.notes,
        edges=facts.edges,
        erodible=bool(facts.erodible),
        not_after_rain=bool(facts.not_after_rain),
        herbicides=facts.herbicide,
        gates_lonlat_deg=facts.gates_lonlat_deg,
        driven_area_m2=facts.driven_area_m2,
        office_area_m2=facts.office_area_m2,
        slope_fraction=facts.slope_fraction,
        downhill_to=facts.downhill_to,
        left_out=laid.left_out,
        drive_outline=laid.drive_outline,
        plane_lonlat_deg=(shape.plane.lon_deg, shape.plane.lat_deg),
        gates_m=tuple(
            (x_m, y_m)
            for x_m, y_m in shape.plane.to_plane(
                np.asarray(facts.gates_lonlat_deg).reshape(-1, 2)
            ).tolist()
        ),
        ready_early_at=early,
        ready_late_at=late,
        due_on=facts.due,
        may_split=facts.split,
        priority=facts.priority,
    )


def _local(moment: datetime | None, zone: ZoneInfo) -> datetime | None:
    """Return the moment by the farm's clock where it was written without an offset."""
    return moment.replace(tzinfo=zone) if moment is not None and moment.tzinfo is None else moment


def _check_ready(
    shape: FieldShape, early: datetime | None, ready: datetime | None, late: datetime | None
) -> Iterator[Problem]:
    """Refuse an early day after the likely one, and a late one before it."""
    for key, wrong, expected in (
        (
            "ready_early",
            early is not None and (ready is None or early > ready),
            "a moment no later than ready_from",
        ),
        (
            "ready_late",
            late is not None and ready is not None and late < ready,
            "a moment no earlier than ready_from",
        ),
    ):
        if wrong:
            read = f"{early if key == 'ready_early' else late:%Y-%m-%d %H:%M}"
            beside = f"{ready:%Y-%m-%d %H:%M}" if ready is not None else "now"
            yield Problem(
                file=shape.file,
                where=f'field "{shape.name}", {key}',
                read=read,
                expected=expected,
                hint=f"ready_from is {beside}.",
            )


# --------------------------------------------------------------------------- names that must meet


def _unknown(where: str, name: str, known: list[str], what: str) -> Problem:
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    hint = f"Did you mean {near[0]!r}?" if near else f"Known: {', '.join(known) or 'none'}."
    return Problem(
        file=TOML, where=where, read=repr(name), expected=f"the name of a {what}", hint=hint
    )


def _twice(where: str, names: list[str]) -> list[Problem]:
    return [
        Problem(file=TOML, where=where, read=f"{name!r} twice", expected="each name once")
        for name, count in sorted(Counter(names).items())
        if count > 1
    ]


def _cross_check(
    form: FarmToml,
    fields: tuple[nouns.Field, ...],
    trays: Mapping[str, TrayTest],
    fields_file: str,
) -> list[Problem]:
    people = [person.name for person in form.person]
    tractors = [tractor.name for tractor in form.tractor]
    spreaders = [spreader.name for spreader in form.spreader]
    cultivators = [cultivator.name for cultivator in form.cultivator]
    machines = spreaders + cultivators
    lots = [lot.name for lot in form.lot]
    names = [field_.name for field_ in fields]
    problems = [
        *_twice("person.name", people),
        *_twice("tractor.name", tractors),
        *_twice("machine names", machines),
        *_twice("lot.name", lots),
        *_twice("window.date", [str(window.date) for window in form.window]),
    ]
    machines_in_form: list[tuple[str, SpreaderTable | CultivatorTable]] = [
        *(("spreader", spreader) for spreader in form.spreader),
        *(("cultivator", cultivator) for cultivator in form.cultivator),
    ]
    for kind, table in machines_in_form:
        if table.driver is not None and table.driver not in people:
            problems.append(_unknown(f"{kind}.driver", table.driver, people, "person"))
        if table.tractor is not None and table.tractor not in tractors:
            problems.append(_unknown(f"{kind}.tractor", table.tractor, tractors, "tractor"))
    for person in form.person:
        problems += [
            _unknown("person.drives", name, machines, "machine")
            for name in person.drives
            if name not in machines
        ]
    for tractor in form.tractor:
        problems += [
            _unknown("tractor.pulls", name, machines, "machine")
            for name in tractor.pulls
            if name not in machines
        ]
    problems += [
        Problem(
            file=TOML,
            where=f"lot {lot.name}, bushel_rate",
            read=f"bushels of {lot.species}, which has no standard bushel here",
            expected='a weight, such as bulk_rate = "60 lb/ac"',
        )
        for lot in form.lot
        if lot.bushel_rate is not None and _bushel_kg(lot.species, form.farm.country) is None
    ]
    for lot in form.lot:
        parts = [other.name for other in form.lot if not other.parts]
        problems += [
            _unknown("lot.parts", part, parts, "lot") for part in lot.parts if part not in parts
        ]
    problems += [
        _unknown("bin.lot", stock.lot, lots, "lot") for stock in form.bin if stock.lot not in lots
    ]
    problems += [
        _unknown("day.order", name, names, "field") for name in form.day.order if name not in names
    ]
    problems += [
        Problem(
            file=fields_file,
            where=f'field "{field_.name}", lot',
            read=repr(field_.lot),
            expected="the name of a lot in farm.toml",
            hint=f"Known: {', '.join(lots)}.",
        )
        for field_ in fields
        if field_.lot is not None and field_.lot not in lots
    ]
    for day in form.remembered:
        problems += [
            _unknown("remembered.cultivators", name, cultivators, "cultivator")
            for name in day.cultivators
            if name not in cultivators
        ]
    problems += check_season(form)
    problems += check_prices(
        form, {lot.name: _bushel_kg(lot.species, form.farm.country) for lot in form.lot}
    )
    for where, machine in (
        *(("points.cultivator", row.cultivator) for row in form.points),
        *(("pokes.cultivator", poke.cultivator) for poke in form.pokes),
    ):
        if machine not in cultivators:
            problems.append(_unknown(where, machine, cultivators, "cultivator"))
    problems += _twice("points", [f"{row.cultivator}, row {row.row}" for row in form.points])
    problems += _twice("pokes.cultivator", [poke.cultivator for poke in form.pokes])
    problems += [
        _unknown("left_out.field", piece.field, names, "field")
        for piece in form.left_out
        if piece.field not in names
    ]
    for spreader in form.spreader:
        if spreader.driving_width is None and not trays:
            problems.append(
                Problem(
                    file=TOML,
                    where=f"spreader {spreader.name}, driving_width",
                    read="nothing, and no tray test",
                    expected='the driving width, such as "40 ft", or a trays.csv',
                )
            )
        problems += [
            Problem(
                file=TOML,
                where=f"spreader {spreader.name}, hopper",
                read="a volume",
                expected=f"test_weight on the lot {name!r}",
            )
            for name in _lots_without_weight(form, fields)
            if spreader.hopper is not None
        ]
    for stock in form.bin:
        held = next((lot for lot in form.lot if lot.name == stock.lot), None)
        if held is not None and stock.mass is None and held.test_weight is None:
            problems.append(
                Problem(
                    file=TOML,
                    where="bin.diameter",
                    read="a measured bin",
                    expected=f"test_weight on the lot {held.name!r}",
                )
            )
    return problems


def _machines(form: FarmToml) -> list[SpreaderTable | CultivatorTable | SeedTruckTable]:
    return [*form.spreader, *form.cultivator, *form.seed_truck]


def _check_log(
    form: FarmToml, fields: tuple[nouns.Field, ...], events: tuple[Event, ...]
) -> list[Problem]:
    """Return the names in the log that no machine and no field has, each once."""
    tables = _machines(form)
    machines = [*(table.name for table in tables), *(was for table in tables for was in table.was)]
    names = [one.name for one in fields]
    found: dict[tuple[str, str], Problem] = {}
    for event in events:
        for what, name, known in (
            ("machine", event.machine, machines),
            ("field", event.field, names),
        ):
            if name and name not in known and (what, name) not in found:
                where = f"{event.at:%Y-%m-%d %H:%M}, {what}"
                found[what, name] = replace(_unknown(where, name, known, what), file="log.csv")
            if len(found) >= MOST_UNKNOWN_TOLD:
                return list(found.values())
    return list(found.values())


def _lots_without_weight(form: FarmToml, fields: tuple[nouns.Field, ...]) -> list[str]:
    """Return the lots that fields are sown with whose load by volume cannot be weighed."""
    tables = {table.name: table for table in form.lot}
    mixed = {part for table in form.lot for part in table.parts}
    first = next((name for name in tables if name not in mixed), form.lot[0].name)
    sown = dict.fromkeys(one.lot or first for one in fields if (one.lot or first) in tables)

    def weighed(name: str) -> bool:
        own, parts = tables[name], [tables[part] for part in tables[name].parts if part in tables]
        parts_weighed = bool(parts) and all(part.test_weight is not None for part in parts)
        return own.test_weight is not None or parts_weighed

    return [name for name in sown if not weighed(name)]


# --------------------------------------------------------------------------- to the nouns


@dataclass(slots=True)
class _Filler:
    """Takes a stated figure, else the default, and keeps where it came from."""

    figures: dict[str, nouns.Given]

    def __call__(self, place: str, stated: float | None, key: str, unit: str = "") -> float:
        if stated is not None:
            self.figures[place] = nouns.Given(
                value=stated, unit=unit or defaults()[key].unit, source=TOML
            )
            return stated
        self.figures[place] = given(key)
        return self.figures[place].value


def _farm(
    form: FarmToml,
    fields: tuple[nouns.Field, ...],
    forecast: Forecast | None,
    trays: Mapping[str, TrayTest],
    notes: list[str],
) -> nouns.Farm:
    figures: dict[str, nouns.Given] = {}
    fill = _Filler(figures)
    lots = tuple(_lot(table, form) for table in form.lot)
    cultivators = tuple(_cultivator(table, fill) for table in form.cultivator)
    return nouns.Farm(
        name=form.farm.name,
        latitude_deg=form.farm.latitude,
        longitude_deg=form.farm.longitude,
        time_zone=form.farm.time_zone,
        system=form.farm.units,
        country=form.farm.country,
        emergency_location=form.farm.emergency_location,
        emergency_phone=form.farm.emergency_phone,
        people=tuple(
            nouns.Person(
                name=p.name, age_years=p.age, drives=p.drives, language=p.language, role=p.role
            )
            for p in form.person
        ),
        tractors=tuple(
            nouns.Tractor(
                name=t.name,
                pto_power_w=t.pto_power,
                guided=t.guided,
                lights=t.lights,
                pulls=t.pulls,
                drive=t.drive,
                list_price=t.list_price.amount if t.list_price is not None else None,
                hours_s=t.hours,
                yearly_hours_s=t.yearly_hours,
            )
            for t in form.tractor
        ),
        spreaders=tuple(_spreader(table, trays, fill) for table in form.spreader),
        cultivators=cultivators,
        renamed={was: table.name for table in _machines(form) for was in table.was},
        seed_trucks=tuple(
            nouns.SeedTruckNoun(
                name=t.name, driver=t.driver, holds_kg=t.holds, turnaround_s=t.turnaround
            )
            for t in form.seed_truck
        ),
        lots=lots,
        bins=tuple(_bin(table, fill) for table in form.bin),
        fields=fields,
        program=nouns.Program(
            name=form.program.name,
            live_floor_kg_per_m2=form.program.live_floor,
            method=form.program.method,
            sow_by=form.program.sow_by,
            tillage=form.program.tillage,
            fly_free_date=form.program.fly_free_date,
        ),
        windows=tuple(
            nouns.StatedWindow(on=w.date, spread=w.spread, cover=w.cover, closed=w.closed)
            for w in form.window
        ),
        remembered=tuple(
            nouns.Remembered(
                area_m2=r.area,
                span_s=_clock_s(r.hours[1]) - _clock_s(r.hours[0]),
                cultivators=r.cultivators,
            )
            for r in form.remembered
        ),
        rules=_rules(form, fill),
        forecast=forecast,
        forecast_issued_at=forecast.issued_at if forecast is not None else None,
        trays=trays,
        figures=figures,
        defaults={key: given(key) for key in defaults()},
        notes=tuple(notes),
        prices=prices_of(form),
        point_rows=tuple(
            nouns.PointRow(
                cultivator=row.cultivator,
                row=row.row,
                points_count=row.count,
                worn_m=row.worn,
                over_m2=row.over,
                limit_m=row.limit,
            )
            for row in form.points
        ),
        pokes=tuple(
            nouns.Poke(cultivator=poke.cultivator, front_m=poke.front, rear_m=poke.rear)
            for poke in form.pokes
        ),
        season=season_of(form, fill),
        crews=crews_of(form),
        away=away_of(form),
        climate=climate_of(form, figures),
    )


def _clock_s(clock: str) -> float:
    hours, minutes = clock.split(":")
    return int(hours) * 3600.0 + int(minutes) * 60.0


def _lot(table: LotTable, form: FarmToml) -> nouns.Lot:
    bushel = _bushel_kg(table.species, form.farm.country)
    bulk = table.bulk_rate
    if table.bushel_rate is not None and bushel is not None:
        bulk = table.bushel_rate / BUSHEL_M3 * bushel
    samples = table.samples
    if not samples and table.seeds_per_mass is not None:
        samples = ((1.0, round(table.seeds_per_mass)),)
    return nouns.Lot(
        name=table.name,
        species=table.species,
        wish=nouns.RateWish(
            live_kg_per_m2=table.live_rate,
            bulk_kg_per_m2=bulk,
            stand_per_m2=table.stand,
            emergence_fraction=table.emergence,
        ),
        alive_counts=tuple(alive for alive, _ in table.germination),
        tested_counts=tuple(tested for _, tested in table.germination),
        purity_fraction=table.purity,
        hard_fraction=table.hard_seed,
        sample_masses_kg=tuple(mass for mass, _ in samples),
        sample_counts=tuple(count for _, count in samples),
        density_kg_per_m3=table.test_weight,
        bushel_kg=bushel,
        parts=table.parts,
        trays=table.trays,
        variety=table.variety,
        origin=table.origin,
        tested_on=table.tested_on,
        treated=table.treated,
        price_per_kg=per_kg(table.price, bushel_kg=bushel),
        cleaning_per_kg=per_kg(table.cleaning, bushel_kg=bushel),
        agreed_by=table.agreed_by,
        agreed_on=table.agreed_on,
        insects=nouns.Insects(
            weevils_count=table.insects.weevils,
            others_count=table.insects.others,
            sample_kg=table.insects.sample,
        )
        if table.insects
        else None,
    )


def _bushel_kg(species: str, country: str) -> float | None:
    """Return the standard bushel of a grain in a country; the US one where none is known."""
    for key in (
        f"bushel_kg_{species.lower()}_{country.lower()}",
        f"bushel_kg_{species.lower()}_us",
        f"bushel_kg_{species.lower()}",
    ):
        if key in defaults():
            return defaults()[key].typical
    return None


def _spreader(
    table: SpreaderTable, trays: Mapping[str, TrayTest], fill: _Filler
) -> nouns.SpreaderNoun:
    place = f"spreader.{table.name}"
    width = table.driving_width
    if width is None:
        width = _tray_width_m(trays)
        fill.figures[f"{place}.driving_width"] = nouns.Given(
            value=width, unit="m", source="tray test: the widest that holds back and forth"
        )
    else:
        fill.figures[f"{place}.driving_width"] = nouns.Given(value=width, unit="m", source=TOML)
    hopper = table.hopper * table.filled if table.hopper is not None else None
    return nouns.SpreaderNoun(
        name=table.name,
        driving_width_m=width,
        speed_mps=fill(f"{place}.speed", table.speed, "spreader_speed"),
        efficiency_fraction=fill(f"{place}.efficiency", table.efficiency, "spreader_efficiency"),
        load_kg=table.load,
        hopper_m3=hopper,
        refill_s=fill(f"{place}.refill", table.refill, "refill"),
        driver=table.driver,
        tractor=table.tractor,
        full_at_start=table.full_at_start,
        turning_radius_m=fill(f"{place}.turning_radius", table.turning_radius, "turning_radius"),
        throw_m=table.throw,
        fuel_m3_per_m2=table.fuel,
        list_price=table.list_price.amount if table.list_price is not None else None,
        hours_s=table.hours,
        yearly_hours_s=table.yearly_hours,
    )


def _tray_width_m(trays: Mapping[str, TrayTest]) -> float:
    """Return the narrowest of the widest driving widths that the tray tests hold to. [m]"""
    from duskline.core.trays import (
        acceptable_widths,
        evenness,
        good_interval,
        mean_pattern,
        throw_m,
        whole_widths_m,
    )

    limit = defaults()["tray_evenness_good"].typical
    share = defaults()["tray_narrowest_share_of_throw"].typical
    found = []
    for test in trays.values():
        pattern = mean_pattern(test)
        widths = whole_widths_m(pattern)
        even = evenness(pattern, driving_widths_m=widths)
        intervals = acceptable_widths(
            driving_widths_m=widths, cv_fractions=even.back_and_forth_fraction, limit_fraction=limit
        )
        good = good_interval(intervals, narrowest_m=share * throw_m(pattern))
        found.append(good.widest_m if good is not None else float(widths[0]))
    return min(found)


def _cultivator(table: CultivatorTable, fill: _Filler) -> nouns.Cultivator:
    place = f"cultivator.{table.name}"
    if table.overlap is not None:
        overlap, source = table.overlap, TOML
    elif table.overlap_share is not None:
        overlap, source = table.overlap_share * table.width, TOML
    elif table.counted is not None:
        effective = effective_width_m(
            across_m=table.counted.across, passes_count=table.counted.passes
        )
        overlap, source = table.width - effective, f"{TOML}: passes counted"
    else:
        default = given("overlap_by_eye" if table.by_eye else "overlap_guided")
        overlap, source = default.value * table.width, default.source
    fill.figures[f"{place}.overlap"] = nouns.Given(
        value=overlap, unit="m", source=source, is_default=source.startswith("default")
    )
    fill.figures[f"{place}.width"] = nouns.Given(value=table.width, unit="m", source=TOML)
    return nouns.Cultivator(
        name=table.name,
        width_m=table.width,
        overlap_m=overlap,
        speed_mps=fill(f"{place}.speed", table.speed, "cultivator_speed"),
        efficiency_fraction=fill(f"{place}.efficiency", table.efficiency, "clock_efficiency"),
        by_eye=table.by_eye,
        driver=table.driver,
        tractor=table.tractor,
        turning_radius_m=fill(f"{place}.turning_radius", table.turning_radius, "turning_radius"),
        reverses=table.reverses,
        trailing_m=table.trailing or 0.0,
        shanks_count=table.shanks,
        depth_m=table.depth,
        fuel_m3_per_m2=table.fuel,
        list_price=table.list_price.amount if table.list_price is not None else None,
        hours_s=table.hours,
        yearly_hours_s=table.yearly_hours,
    )


def _bin(table: BinTable, fill: _Filler) -> nouns.Bin:
    place = f"bin.{table.lot}"
    measured = table.mass is None
    return nouns.Bin(
        lot=table.lot,
        mass_kg=table.mass,
        diameter_m=table.diameter,
        depth_m=table.depth,
        heap_m=table.heap,
        pack_fraction=fill(f"{place}.pack", table.pack, "bin_pack") if measured else 0.0,
        cleaning_loss_fraction=fill(f"{place}.cleaning_loss", table.cleaning_loss, "cleaning_loss")
        if measured
        else table.cleaning_loss or 0.0,
    )


def _rules(form: FarmToml, fill: _Filler) -> nouns.DayRules:
    day = form.day
    changeover = day.changeover
    if changeover is None:
        parts = [given(f"changeover_{part}") for part in ("unhitch", "walk", "hitch")]
        changeover = sum(part.value for part in parts)
        fill.figures["day.changeover"] = nouns.Given(
            value=changeover,
            unit="s",
            source="defaults: unhitch, walk, hitch added up",
            low=sum(part.low or 0.0 for part in parts),
            high=sum(part.high or 0.0 for part in parts),
            is_default=True,
        )
    else:
        fill.figures["day.changeover"] = nouns.Given(value=changeover, unit="s", source=TOML)
    fill("day.breakdowns", day.breakdowns, "breakdown")
    fill("day.repair", day.repair, "repair")
    return nouns.DayRules(
        lead_s=fill("day.lead", day.lead, "lead"),
        changeover_s=changeover,
        sure_fraction=fill("day.sure", day.sure, "sure"),
        margin_s=fill("day.margin", day.margin, "margin"),
        wind_limit_mps=fill("day.wind_limit", day.wind_limit, "wind_limit"),
        gust_limit_mps=day.gust_limit,
        start_clock=day.start,
        move_s=day.move,
        road_speed_mps=fill("day.road_speed", day.road_speed, "road_speed"),
        fold_s=fill("day.fold", day.fold, "fold"),
        turn_angle_rad=fill("day.turn_angle", day.turn_angle, "turn_angle"),
        order=day.order,
        home_before_dark=day.home_before_dark,
    )
