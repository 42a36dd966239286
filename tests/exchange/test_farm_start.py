"""A farm from nothing: the first file, what is still needed, and the way to a first plan."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from made_folders import EXAMPLES

from duskline.exchange.farm_edit import Change, apply_changes, save_changes
from duskline.exchange.farm_files import take_in, write_atomic
from duskline.exchange.farm_form import PAGES
from duskline.exchange.farm_places import check_text
from duskline.exchange.farm_start import NewFarm, missing, new_farm, time_zones
from duskline.exchange.farmfolder import read_farm
from duskline.exchange.problems import FolderProblem

NOW = dt.datetime(2026, 10, 18, 12, 0, tzinfo=dt.UTC)
FARM = {
    "name": 'The "Home" place',
    "latitude": "42.0",
    "longitude": "-93.5",
    "time_zone": "America/Chicago",
    "units": "us",
}
ENTRIES = (
    ("lot", {"name": "Rye", "species": "rye", "germination": "44 of 50", "purity": "97 %",
             "live_rate": "61 lb/ac"}),
    ("cultivator", {"name": "Tines", "width": "30 ft", "driver": "Ben"}),
    ("person", {"name": "Ana", "drives": "Spreader"}),
    ("person", {"name": "Ben"}),
    ("spreader", {"name": "Spreader", "load": "6000 lb", "driving_width": "40 ft",
                  "driver": "Ana"}),
    ("day", {"sure": "16 in 20"}),
)  # fmt: skip


def test_a_first_file_reads_as_one_a_person_wrote() -> None:
    """Notes over each table, tables in the usual order, values as typed."""
    text = new_farm(NewFarm(farm=FARM, entries=ENTRIES))
    assert text.startswith('# Every quantity is a text with its unit, such as "40 ft"')
    headings = [line for line in text.splitlines() if line.startswith("[")]
    assert headings == [
        "[farm]", "[[person]]", "[[person]]", "[[spreader]]", "[[cultivator]]", "[[lot]]", "[day]",
    ]  # fmt: skip
    assert "# A spinner spreader.\n[[spreader]]\n" in text
    assert text.count("# Somebody of the crew.") == 1
    assert check_text(text) == ()
    assert "68 kg/ha" in new_farm(NewFarm(farm={**FARM, "units": "metric"}))


def test_what_is_missing_is_told_with_its_page(tmp_path: Path) -> None:
    """All of it at first, less with each answer, nothing at the end."""
    text = new_farm(NewFarm(farm=FARM))
    found = missing(text, folder=tmp_path)
    assert [(one.page, one.table) for one in found] == [
        ("people", "person"),
        ("spreader", "spreader"),
        ("covering", "cultivator"),
        ("seed", "lot"),
        ("fields", ""),
    ]
    assert all(one.page in PAGES and one.sentence.endswith(".") for one in found)
    whole = new_farm(NewFarm(farm=FARM, entries=ENTRIES))
    assert missing(whole) == ()
    assert [one.page for one in missing(whole, folder=tmp_path)] == ["fields"]


def test_an_empty_file_and_one_without_a_place_say_what_they_need() -> None:
    """The table as a whole, or its keys one by one."""
    assert missing("")[0].sentence == ("Still needed: the farm's name, place, time zone and units.")
    told = missing('[farm]\nname = "A"\nlatitude = 42.0\ntime_zone = "UTC"\n')
    assert (told[0].table, told[0].key) == ("farm", "longitude")
    assert told[0].sentence == "The farm: still needed is longitude."


def test_a_wrong_time_zone_is_told_before_the_farm_is_whole() -> None:
    """At its key; the list to choose from holds the right one."""
    text = new_farm(NewFarm(farm={**FARM, "time_zone": "Chicago"}))
    wrong = [one for one in check_text(text) if not one.lacking]
    assert [(one.table, one.key) for one in wrong] == [("farm", "time_zone")]
    assert {"America/Chicago", "Pacific/Auckland"} <= set(time_zones())
    assert "Chicago" not in time_zones()
    assert len(check_text(new_farm(NewFarm(farm={**FARM, "time_zone": "../../etc"})))) == 5


@pytest.mark.parametrize(
    "answers",
    [
        NewFarm(farm={**FARM, "acres": "300"}),
        NewFarm(farm=FARM, entries=(("horse", {"name": "Bess"}),)),
        NewFarm(farm=FARM, entries=(("spreader", {"wings": "2"}),)),
    ],
)
def test_answers_that_no_farm_has_are_refused(answers: NewFarm) -> None:
    """A page that asks for something else than the models is a slip of ours, and told."""
    with pytest.raises(FolderProblem, match="unknown"):
        new_farm(answers)


def test_a_farm_grows_from_nothing_to_a_first_plan_through_the_pages(tmp_path: Path) -> None:
    """Each step is saved as a draft; wrong figures never; at the end the folder is read."""
    write_atomic(tmp_path / "farm.toml", new_farm(NewFarm(farm=FARM)).encode())
    for table, typed in ENTRIES:
        if table == "day":
            continue
        changes = [Change(what="add", table=table, entry=typed["name"])]
        changes += [
            Change(what="set", table=table, entry=typed["name"], key=key, typed=text)
            for key, text in typed.items()
        ]
        edited = save_changes(tmp_path, changes, now=NOW)
        assert edited.may_save
        assert edited.is_draft
        bad = Change(what="set", table="farm", key="latitude", typed="north")
        assert not save_changes(tmp_path, [bad], now=NOW).may_save
    outlines = (EXAMPLES / "rye-after-soybeans" / "fields.geojson").read_bytes()
    assert take_in(tmp_path, "outlines", "fields.geojson", outlines, now=NOW).problems == ()
    farm = read_farm(tmp_path)
    assert farm.name == FARM["name"]
    assert len(farm.fields) == 9
    assert missing((tmp_path / "farm.toml").read_text(encoding="utf-8"), folder=tmp_path) == ()


def test_a_whole_farm_is_not_saved_with_a_part_missing() -> None:
    """A draft is for a farm that is not there yet; the only spreader does not go by a slip."""
    folder = EXAMPLES / "rye-after-soybeans"
    text = (folder / "farm.toml").read_text(encoding="utf-8")
    edited = apply_changes(text, [Change(what="remove", table="spreader", entry=0)], folder=folder)
    assert edited.is_draft
    assert not edited.may_save
