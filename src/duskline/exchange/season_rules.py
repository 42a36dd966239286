"""From the season a farmer wrote to the nouns: its rules, crews, who is away, and the climate."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

from duskline.core.farm import Away, CrewNoun, Given, SeasonRules
from duskline.defaults import given
from duskline.exchange.farm_toml import FarmToml
from duskline.exchange.problems import Problem
from duskline.exchange.season_toml import ClimateTable
from duskline.units import Money

if TYPE_CHECKING:
    from duskline.core.season_weather import Climate, ClimatePart

__all__ = ["MONEY_KEYS", "Fill", "away_of", "check_season", "climate_of", "crews_of", "season_of"]

TOML = "farm.toml"
MONEY_KEYS = ("late", "late_per_day", "waiting", "unsown", "stability")
_NEW_YEAR = (1, 1)


class Fill(Protocol):
    """Takes a stated figure, else the default, and keeps where it came from."""

    figures: dict[str, Given]

    def __call__(self, place: str, stated: float | None, key: str, unit: str = "") -> float:
        """Return the figure in SI."""


def season_of(form: FarmToml, fill: Fill) -> SeasonRules:
    """Return the rules of the season; losses not stated come from the defaults.

    Where the season states no due day, the program's last sowing day is it.
    """
    table = form.season
    rules = SeasonRules(
        first_on=table.first_day,
        last_on=table.last_day,
        due_on=table.due if table.due is not None else form.program.sow_by,
        days_off=tuple(sorted(set(table.days_off))),
        weekly_off=tuple(sorted(set(table.weekly_off))),
        late_usd_per_m2=fill("season.late", _amount(table.late), "season_late"),
        late_usd_per_m2_day=fill(
            "season.late_per_day", _amount(table.late_per_day), "season_late_per_day"
        ),
        waiting_usd_per_m2_day=fill("season.waiting", _amount(table.waiting), "season_waiting"),
        unsown_usd_per_m2=fill("season.unsown", _amount(table.unsown), "season_unsown"),
        stability_usd=fill("season.stability", _amount(table.stability), "season_stability"),
    )
    fill.figures["season.stability"] = replace(fill.figures["season.stability"], unit="USD")
    return rules


def _amount(price: Money | None) -> float | None:
    return None if price is None else price.amount


def crews_of(form: FarmToml) -> tuple[CrewNoun, ...]:
    """Return the crews; none where the farm names none, as all its machines are then one."""
    return tuple(
        CrewNoun(name=crew.name, machines=crew.machines, seed_trucks=crew.seed_trucks)
        for crew in form.crew
    )


def away_of(form: FarmToml) -> tuple[Away, ...]:
    """Return who and what is away, a single day where no last one is stated."""
    return tuple(
        Away(who=one.who, from_on=one.from_, to_on=one.to or one.from_, why=one.why)
        for one in form.away
    )


def climate_of(form: FarmToml, figures: dict[str, Given]) -> Climate:
    """Return the farm's own table of falls; the defaults' one part where it has none.

    Where each figure came from is kept in ``figures`` under "climate.10-15.fit" for a stated
    part, under "climate.fit" for the defaults; so are "run", "spread" and "cover".
    """
    from duskline.core.season_weather import Climate

    if not form.climate:
        return Climate(parts=(_default_part(figures),))
    tables = sorted(form.climate, key=lambda table: table.from_)
    return Climate(parts=tuple(_part(table, figures) for table in tables))


def _default_part(figures: dict[str, Given]) -> ClimatePart:
    from duskline.core.season_weather import ClimatePart
    from duskline.core.weather.drying import Range

    rows = {
        name: given(f"climate_{key}")
        for name, key in (
            ("fit", "fit_share"),
            ("run", "fit_run"),
            ("spread", "spread_time"),
            ("cover", "cover_time"),
        )
    }
    figures.update({f"climate.{name}": row for name, row in rows.items()})

    def three(name: str) -> Range:
        row = rows[name]
        low = row.value if row.low is None else row.low
        high = row.value if row.high is None else row.high
        return Range(low=low, typical=row.value, high=high)

    return ClimatePart(
        from_month=_NEW_YEAR[0],
        from_day=_NEW_YEAR[1],
        fit_share=three("fit"),
        fit_run_days=rows["run"].value,
        spread_s=three("spread"),
        cover_s=three("cover"),
    )


def _part(table: ClimateTable, figures: dict[str, Given]) -> ClimatePart:
    from duskline.core.season_weather import ClimatePart
    from duskline.core.weather.drying import Range

    place = f"climate.{_month_day(table)}"
    threes = {"fit": table.fit, "spread": table.spread, "cover": table.cover}
    for name, (low, typical, high) in threes.items():
        unit = "fraction" if name == "fit" else "s"
        figures[f"{place}.{name}"] = Given(
            value=typical, unit=unit, source=TOML, low=low, high=high
        )
    figures[f"{place}.run"] = Given(value=table.run, unit="count", source=TOML)
    ranges = {
        name: Range(low=low, typical=typical, high=high)
        for name, (low, typical, high) in threes.items()
    }
    return ClimatePart(
        from_month=table.from_[0],
        from_day=table.from_[1],
        fit_share=ranges["fit"],
        fit_run_days=table.run,
        spread_s=ranges["spread"],
        cover_s=ranges["cover"],
    )


def _month_day(table: ClimateTable) -> str:
    month, day = table.from_
    return f"{month:02d}-{day:02d}"


# --------------------------------------------------------------------------- names that must meet


def check_season(form: FarmToml) -> list[Problem]:
    """Return what does not go together: crews, who is away, and parts of the climate."""
    return [*_check_crews(form), *_check_away(form), *_check_climate(form)]


def _check_crews(form: FarmToml) -> Iterator[Problem]:
    kinds = {one.name: "spreader" for one in form.spreader}
    kinds |= {one.name: "cultivator" for one in form.cultivator}
    trucks = [truck.name for truck in form.seed_truck]
    named = _names(form)
    for name, count in sorted(Counter(crew.name for crew in form.crew).items()):
        if count > 1:
            yield _problem("crew.name", f"{name!r} twice", "each name once")
    for crew in form.crew:
        where = f"crew {crew.name}"
        if crew.name in named:
            what = named[crew.name]
            yield _problem(where, f"the name of a {what}", "a name of its own for the crew")
        for machine in crew.machines:
            if machine not in kinds:
                yield _unknown(f"{where}, machines", machine, list(kinds), "machine")
        for truck in crew.seed_trucks:
            if truck not in trucks:
                yield _unknown(f"{where}, seed_trucks", truck, trucks, "seed truck")
        have = {kinds.get(machine) for machine in crew.machines}
        if None in have:
            continue
        for kind, why in (("spreader", "spreads"), ("cultivator", "covers what it spreads")):
            if kind not in have:
                yield _problem(
                    f"{where}, machines", f"no {kind}", f"a {kind} in each crew, that {why}"
                )
    yield from _in_two_crews(form, "machines", "machine")
    yield from _in_two_crews(form, "seed_trucks", "seed truck")


def _in_two_crews(form: FarmToml, key: str, what: str) -> Iterator[Problem]:
    crews: dict[str, list[str]] = {}
    for crew in form.crew:
        for name in getattr(crew, key):
            crews.setdefault(name, []).append(crew.name)
    for name, found in crews.items():
        if len(found) > 1:
            where = " and ".join(dict.fromkeys(found))
            read = f"{name!r} in {where}" if len(set(found)) > 1 else f"{name!r} twice in {where}"
            yield _problem(f"crew.{key}", read, f"each {what} in one crew, once")


def _names(form: FarmToml) -> Mapping[str, str]:
    """Return what each name of the farm belongs to, crews left out."""
    return {
        one.name: what
        for what, tables in (
            ("person", form.person),
            ("tractor", form.tractor),
            ("spreader", form.spreader),
            ("cultivator", form.cultivator),
            ("seed truck", form.seed_truck),
        )
        for one in tables
    }


def _check_away(form: FarmToml) -> Iterator[Problem]:
    known = [*_names(form), *(crew.name for crew in form.crew)]
    for one in form.away:
        if one.who not in known:
            what = "person, tractor, machine, seed truck or crew"
            yield _unknown("away.who", one.who, known, what)


def _check_climate(form: FarmToml) -> Iterator[Problem]:
    for day, count in sorted(Counter(_month_day(table) for table in form.climate).items()):
        if count > 1:
            yield _problem("climate.from", f"{day!r} twice", "each month and day once")


def _problem(where: str, read: str, expected: str, hint: str = "") -> Problem:
    return Problem(file=TOML, where=where, read=read, expected=expected, hint=hint)


def _unknown(where: str, name: str, known: list[str], what: str) -> Problem:
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    hint = f"Did you mean {near[0]!r}?" if near else f"Known: {', '.join(known) or 'none'}."
    return _problem(where, repr(name), f"the name of a {what}", hint)
