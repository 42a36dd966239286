"""The season as written: days, losses, crews, who is away, the climate; and how slips are told."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from made_folders import ACRE_M2, EXAMPLES, HECTARE_M2, copy_of, two_crews

from duskline.core.farm import Away, CrewNoun, Farm
from duskline.core.weather import Range
from duskline.defaults import defaults
from duskline.exchange.farmfolder import read_farm, read_folder

RYE = "rye-after-soybeans"
FORTY = "forty-fields"
OATS = "oats-and-radish"
WHOLE = """
[season]
first_day = 2026-10-18
last_day = 2026-10-31
due = 2026-10-21
days_off = [2026-10-25, 2026-10-24, 2026-10-25]
weekly_off = ["Sunday", "sat"]
late = "$15 per ac"
late_per_day = "$2 per ac"
waiting = "$0.50 per ac"
unsown = "$60 per ac"
stability = "$150"

[[crew]]
name = "North crew"
machines = ["Spreader", "Cultivator 1"]
seed_trucks = ["Seed truck"]

[[away]]
who = "Old tractor"
from = 2026-10-18
to = 2026-10-19
why = "harvest"

[[away]]
who = "North crew"
from = 2026-10-22

[[climate]]
from = "11-01"
fit = ["20 %", "30 %", "50 %"]
run = "2 days"
spread = ["3 h", "4 h", "6 h"]
cover = ["3 h", "4 h", "6 h"]

[[climate]]
from = "10-15"
fit = ["30 %", "50 %", "70 %"]
run = "2.5 d"
spread = ["4 h", "6 h", "8 h"]
cover = ["4 h", "5 h 30 min", "8 h"]
"""
OWN_SEASON = (EXAMPLES / RYE / "farm.toml").read_text("utf-8").split("[season]\n")[1]
OWN_SEASON = "[season]\n" + OWN_SEASON.split("\n\n")[0] + "\n"


def folder_with(tmp_path: Path, text: str, *pairs: tuple[str, str]) -> Path:
    """The rye farm with another season; texts of it replaced, each of which must be there."""
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    folder = copy_of(RYE, tmp_path, farm_toml=[(OWN_SEASON, "")])
    with (folder / "farm.toml").open("a", encoding="utf-8") as file:
        file.write(text)
    return folder


def farm_with(tmp_path: Path, text: str, *pairs: tuple[str, str]) -> Farm:
    """The farm; there must be no problem."""
    return read_farm(folder_with(tmp_path, text, *pairs))


def told(tmp_path: Path, *pairs: tuple[str, str]) -> list[str]:
    """The sentences of the problems."""
    folder = folder_with(tmp_path, WHOLE, *pairs)
    return [problem.sentence for problem in read_folder(folder).problems]


# --- what is read --------------------------------------------------------------------------


def test_the_days_of_the_season(tmp_path: Path) -> None:
    """Dates as written, each day off once; Saturday is 5 and Sunday 6."""
    season = farm_with(tmp_path, WHOLE).season
    assert (season.first_on, season.last_on) == (date(2026, 10, 18), date(2026, 10, 31))
    assert season.due_on == date(2026, 10, 21)
    assert season.days_off == (date(2026, 10, 24), date(2026, 10, 25))
    assert season.weekly_off == (5, 6)
    assert not season.works_on(date(2026, 10, 31))  # a Saturday
    assert season.works_on(date(2026, 10, 30))


def test_losses_become_money_per_square_metre(tmp_path: Path) -> None:
    """$15, $2, $0.50 and $60 an acre; $150 whole; all named as the farm's own."""
    farm = farm_with(tmp_path, WHOLE)
    season = farm.season
    assert season.late_usd_per_m2 == pytest.approx(15 / ACRE_M2)
    assert season.late_usd_per_m2_day == pytest.approx(2 / ACRE_M2)
    assert season.waiting_usd_per_m2_day == pytest.approx(0.50 / ACRE_M2)
    assert season.unsown_usd_per_m2 == pytest.approx(60 / ACRE_M2)
    assert season.stability_usd == 150.0
    for key in ("late", "late_per_day", "waiting", "unsown", "stability"):
        assert farm.figures[f"season.{key}"].source == "farm.toml"
    assert farm.figures["season.stability"].unit == "USD"


def test_losses_not_stated_are_defaults_with_their_range(tmp_path: Path) -> None:
    """An empty season: every loss from the table, and the program's last day is the due day."""
    farm = farm_with(tmp_path, "")
    table = defaults()
    assert farm.season.late_usd_per_m2 == table["season_late"].typical
    assert farm.season.unsown_usd_per_m2 == table["season_unsown"].typical
    assert farm.season.stability_usd == table["season_stability"].typical
    late = farm.figures["season.late"]
    assert late.is_default
    assert (late.low, late.high) == (table["season_late"].low, table["season_late"].high)
    assert farm.season.due_on == farm.program.sow_by == date(2026, 10, 21)
    assert farm.season.first_on is None
    assert farm.season.last_on is None


def test_the_farms_own_due_day_goes_before_the_programs(tmp_path: Path) -> None:
    """Due on the 19th under a program that ends on the 21st."""
    assert farm_with(tmp_path, "[season]\ndue = 2026-10-19\n").season.due_on == date(2026, 10, 19)


def test_crews_and_who_is_away(tmp_path: Path) -> None:
    """One crew; a tractor away for two days, the crew itself for one."""
    farm = farm_with(tmp_path, WHOLE)
    assert farm.crews == (
        CrewNoun(
            name="North crew",
            machines=("Spreader", "Cultivator 1"),
            seed_trucks=("Seed truck",),
        ),
    )
    tractor, crew = farm.away
    assert tractor == Away(
        who="Old tractor",
        from_on=date(2026, 10, 18),
        to_on=date(2026, 10, 19),
        why="harvest",
    )
    assert tractor.on(date(2026, 10, 19))
    assert not tractor.on(date(2026, 10, 20))
    assert (crew.who, crew.from_on, crew.to_on) == (
        "North crew",
        date(2026, 10, 22),
        date(2026, 10, 22),
    )


def test_a_climate_of_the_farms_own_in_order_of_its_days(tmp_path: Path) -> None:
    """The part from 15 October stands before that from 1 November; in August the last one holds."""
    farm = farm_with(tmp_path, WHOLE)
    assert farm.climate is not None
    early, late = farm.climate.parts
    assert (early.from_month, early.from_day, late.from_month) == (10, 15, 11)
    assert early.fit_share == Range(low=0.3, typical=0.5, high=0.7000000000000001)
    assert early.fit_run_days == 2.5
    assert early.cover_s.typical == 5.5 * 3600.0
    assert farm.climate.part(date(2026, 8, 1)) is late
    figure = farm.figures["climate.10-15.cover"]
    assert (figure.value, figure.low, figure.is_default) == (19_800.0, 14_400.0, False)
    assert "climate.fit" not in farm.figures


def test_without_a_climate_the_defaults_are_one_part_for_the_whole_year(tmp_path: Path) -> None:
    """The table's rows, said to be defaults."""
    farm = farm_with(tmp_path, "")
    assert farm.climate is not None
    (part,) = farm.climate.parts
    row = defaults()["climate_fit_share"]
    assert part.fit_share == Range(low=row.low, typical=row.typical, high=row.high)
    assert part.cover_s.high == defaults()["climate_cover_time"].high
    assert farm.climate.part(date(2026, 1, 1)) is part
    for name in ("fit", "run", "spread", "cover"):
        assert farm.figures[f"climate.{name}"].is_default


def test_the_examples_state_their_seasons() -> None:
    """Rye to 25 October; oats in their own dollars, Sundays off; the forty fields to 28 October."""
    rye, oats, forty = (read_farm(EXAMPLES / name) for name in (RYE, OATS, FORTY))
    assert (rye.season.due_on, rye.season.last_on) == (date(2026, 10, 21), date(2026, 10, 25))
    assert rye.crews == ()
    assert oats.season.due_on is None
    assert oats.season.weekly_off == (6,)
    assert oats.season.unsown_usd_per_m2 == pytest.approx(180 / HECTARE_M2)
    assert (forty.season.due_on, forty.season.last_on) == (date(2026, 10, 24), date(2026, 10, 28))
    assert forty.crews == ()


def test_the_forty_fields_part_into_two_crews(tmp_path: Path) -> None:
    """Every machine stands in one of them."""
    forty = read_farm(two_crews(tmp_path))
    assert [crew.machines for crew in forty.crews] == [
        ("Spreader 1", "Cultivator 2", "Cultivator 3"),
        ("Spreader 2", "Cultivator 1"),
    ]
    machines = {one.name for one in forty.spreaders} | {one.name for one in forty.cultivators}
    assert {name for crew in forty.crews for name in crew.machines} == machines


# --- slips, one at a time ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("late = ", "lat = ", "season.lat: read the unknown key 'lat'; expected a known key. Did"),
        ("who = ", "whom = ", "away.1.whom: read the unknown key 'whom'"),
        ("from = 2026-10-22", "form = 2026-10-22", "Did you mean 'from'?"),
        ('late = "$15 per ac"', "late = 15", "season.late: read 15; expected a price such as"),
        ('late = "$15 per ac"', 'late = "$15 per h"', "expected a price such as"),
        ('"$150"', '"$150 per ac"', "season.stability: read '$150 per ac'; expected a price such"),
        (
            'late = "$15 per ac"',
            'late = "€15 per ac"',
            "season.late: read a price in EUR; expected",
        ),
        ('"sat"', '"Saturn"', 'expected a day of the week in English, such as "Sunday"'),
        (
            '["Sunday", "sat"]',
            '["mon", "tue", "wed", "thu", "fri", "sat", "sun"]',
            "read every day of the week off; expected one day of work a week at least",
        ),
        ("2026-10-24", '"24 Oct"', "season.days_off.2: read '24 Oct'; expected a date such as"),
        (
            "last_day = 2026-10-31",
            "last_day = 2026-10-17",
            "read last_day 2026-10-17 before first_day 2026-10-18; expected a last_day on or after",
        ),
        ("last_day = 2026-10-31", "last_day = 2028-10-31", "expected a season of 366 days at most"),
        ("to = 2026-10-19", "to = 2026-10-17", "read to 2026-10-17 before from 2026-10-18; expec"),
        ('from = "11-01"', 'from = "11-31"', "climate.1.from: read '11-31'; expected month and"),
        ('from = "11-01"', 'from = "Nov 1"', 'expected month and day, such as "10-15"'),
        ('"2.5 d"', '"0.5 d"', "climate.2.run: read '0.5 d'; expected days in a row from 1 to 60"),
        ('"2.5 d"', '"9999999999 d"', "expected days in a row from 1 to 60"),
        (
            '["30 %", "50 %", "70 %"]',
            '["30 %", "70 %", "50 %"]',
            "climate.2: read fit out of order; expected a poor, a usual and a good fall",
        ),
        ('["30 %", "50 %", "70 %"]', '["30 %", "70 %"]', "climate.2.fit: read a list of 2; expe"),
        ('["30 %", "50 %", "70 %"]', '["30 %", "50 %", "170 %"]', "read '170 %'; expected a frac"),
        ('["4 h", "6 h", "8 h"]', '["4 h", "6 h", "25 h"]', "read '25 h'; expected a time from"),
        ('["4 h", "6 h", "8 h"]', "[4, 6, 8]", "expected a time with its unit"),
        ('from = "11-01"', 'from = "10-15"', "climate.from: read '10-15' twice; expected each mo"),
        # names that must meet
        ('who = "Old tractor"', 'who = "Old tractr"', "Did you mean 'Old tractor'?"),
        ('"Cultivator 1"]', '"Cultivator 11"]', "read 'Cultivator 11'; expected the name of a mac"),
        ('"Cultivator 1"]', '"Seed truck"]', "expected the name of a machine"),
        ('seed_trucks = ["Seed truck"]', 'seed_trucks = ["Truck"]', "the name of a seed truck"),
        (
            'machines = ["Spreader", "Cultivator 1"]',
            'machines = ["Spreader"]',
            "crew North crew, machines: read no cultivator; expected a cultivator in each crew",
        ),
        (
            'machines = ["Spreader", "Cultivator 1"]',
            'machines = ["Cultivator 1"]',
            "crew North crew, machines: read no spreader; expected a spreader in each crew",
        ),
        ('"Spreader", "Cult', '"Spreader", "Spreader", "Cult', "read 'Spreader' twice in North"),
        ('name = "North crew"', 'name = "Neighbor"', "read the name of a person; expected a name"),
    ],
)
def test_a_slip_is_told_with_what_was_expected(
    tmp_path: Path, old: str, new: str, says: str
) -> None:
    """One slip, told; every sentence names the file."""
    found = told(tmp_path, (old, new))
    assert any(says in sentence for sentence in found), found
    assert all(sentence.startswith("farm.toml, ") for sentence in found)


def test_a_machine_or_truck_in_two_crews_and_a_crew_named_twice(tmp_path: Path) -> None:
    """Each is told once, with both crews."""
    other = (
        '[[crew]]\nname = "South crew"\nmachines = ["Spreader", "Cultivator 2"]\n'
        'seed_trucks = ["Seed truck"]\n\n[[crew]]\nname = "South crew"\n'
        'machines = ["Spreader", "Cultivator 2"]\n\n[[away]]\nwho = "Old tractor"'
    )
    found = told(tmp_path, ('[[away]]\nwho = "Old tractor"', other))
    assert sorted(sentence.split(": ")[1] for sentence in found) == [
        "read 'Cultivator 2' twice in South crew; expected each machine in one crew, once.",
        "read 'Seed truck' in North crew and South crew; expected each seed truck in one crew, "
        "once.",
        "read 'South crew' twice; expected each name once.",
        "read 'Spreader' in North crew and South crew; expected each machine in one crew, once.",
    ]


def test_losses_stand_in_the_farms_one_currency(tmp_path: Path) -> None:
    """A farm that counts in New Zealand dollars names no euros."""
    folder = copy_of(
        OATS, tmp_path, farm_toml=[('unsown = "180 per ha"', 'unsown = "€180 per ha"')]
    )
    (problem,) = read_folder(folder).problems
    assert problem.where == "season.unsown"
    assert "prices in NZD" in problem.expected
