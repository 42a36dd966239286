"""Changing farm.toml from a form: what is named changes, everything else stays byte for byte."""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from made_folders import EXAMPLES, copy_of

from duskline.exchange.farm_edit import (
    MOST_CHANGES,
    Change,
    Edited,
    apply_changes,
    changed_text,
    save_changes,
    stamp,
)
from duskline.exchange.farm_form import form_tables
from duskline.exchange.farm_toml import LARGEST_BYTES, read_farm_toml
from duskline.exchange.farm_values import Entry, toml_to_values
from duskline.exchange.farmfolder import read_folder

TEXTS = {
    path.parent.name: path.read_bytes().decode("utf-8") for path in EXAMPLES.glob("*/farm.toml")
}
RYE, FORTY = TEXTS["rye-after-soybeans"], TEXTS["forty-fields"]
RYE_FOLDER = EXAMPLES / "rye-after-soybeans"
NOW = dt.datetime(2026, 10, 18, 12, 0, tzinfo=dt.UTC)

ODD = (
    "\ufeff# notes\r\n[farm]\r\nname = 'A'   # its name\r\n"
    'latitude = 42\r\nlongitude = -93.5\r\ntime_zone = "America/Chicago"\r\n'
    '[[lot]]\r\n"name" = "Rye"\r\ngermination = [ # towels\r\n  "44 of 50", # one\r\n'
    '  "45 of 50", # two\r\n]\r\n[lot.insects]\r\nsample = "2 lb"\r\n'
    '[[person]]\r\nname = "Ana"\r\n[[lot]]\r\nname = "Oats"\r\n'
    'insects = { weevils = 1, sample = "1 lb" } # alive\r\n\r\n# the end'
)


def put(
    table: str,
    key: str,
    typed: str,
    entry: Entry = None,
    *,
    text: str = RYE,
    at: Path | None = None,
) -> Edited:
    """One key set."""
    change = Change(what="set", table=table, entry=entry, key=key, typed=typed)
    return apply_changes(text, [change], folder=at)


def pieces(old: str, new: str) -> tuple[str, str]:
    """The one stretch that differs: what was taken out, and what stands there now."""
    first = alike(old, new)
    rest_old, rest_new = old[first:], new[first:]
    last = alike(rest_old[::-1], rest_new[::-1])
    return rest_old[: len(rest_old) - last], rest_new[: len(rest_new) - last]


def alike(one: str, other: str) -> int:
    """How many letters two texts begin with alike."""
    both = zip(one, other, strict=False)
    return next((at for at, (a, b) in enumerate(both) if a != b), min(len(one), len(other)))


def held(text: str, table: str, number: int | None = None) -> Any:
    """A table, or an entry of it, as the parser reads it."""
    found = tomllib.loads(text)[table]
    return found if number is None else found[number]


def told(edited: Edited) -> list[tuple[str, int | None, str]]:
    """Where the problems are shown."""
    return [(one.table, one.entry, one.key) for one in edited.problems]


# --- nothing else moves --------------------------------------------------------------------


@pytest.mark.parametrize("name", TEXTS)
def test_a_form_sent_back_as_it_was_filled_changes_no_byte(name: str) -> None:
    """Every value of the file typed again as it is shown: the text is the same, and sound."""
    text = TEXTS[name]
    changes = [
        Change(what="set", table=table, entry=entry, key=key, typed=typed)
        for (table, entry, key), typed in toml_to_values(text).items()
        if key
    ]
    assert len(changes) > 100
    edited = apply_changes(text, changes, folder=EXAMPLES / name)
    assert edited.text == text
    assert edited.problems == ()
    assert edited.may_save


TYPED = st.one_of(
    st.text(max_size=40),
    st.sampled_from(
        [
            "12 m", "yes", "no", "2026-10-20", "44 of 50, 45 of 50", "Ana", "09:00-17:00",
            'a "b" \\ c', "'''", '"""\n[[lot]]\nname = "x"', "# no", "\x00", "x" * 10_000,
            "é\u2028",
            "[farm]", "{a=1}", "a\r\nb", "1e400", "9" * 400, "-93.5, 42.0; 1, 2; 3, 4",
        ]
    ),
)  # fmt: skip


@st.composite
def one_change(draw: st.DrawFn) -> tuple[str, Change]:
    """A farm's text, and one key of it, there or not, with something typed."""
    text = draw(st.sampled_from([*TEXTS.values(), ODD]))
    table = draw(st.sampled_from(list(form_tables().values())))
    entries = [entry for name, entry, _ in toml_to_values(text) if name == table.table]
    assume(entries or not table.repeated)
    entry = draw(st.sampled_from(sorted(set(entries), key=str))) if table.repeated else None
    # A name is followed to other places, which tests of their own look at.
    key = draw(st.sampled_from([key for key in table.keys if key != "name" or not table.named]))
    return text, Change(what="set", table=table.table, entry=entry, key=key, typed=draw(TYPED))


@settings(max_examples=300, suppress_health_check=[HealthCheck.filter_too_much])
@given(drawn=one_change())
@example(drawn=(ODD, Change(what="set", table="lot", entry="Rye", key="insects.sample", typed="")))
@example(drawn=(ODD, Change(what="set", table="lot", entry="Oats", key="purity", typed="9 %")))
def test_only_the_statement_of_the_key_changes(drawn: tuple[str, Change]) -> None:
    """One stretch of the text differs, within the lines of the key; the rest is byte for byte.

    A key that was there changes on its own lines, a new one comes as whole lines, a cleared one
    goes with its lines; and TOML reads every other key as before.
    """
    text, change = drawn
    new, refused = changed_text(text, [change])
    assert not refused
    gone, come = pieces(text, new)
    before, after = (toml_to_values(one) for one in (text, new))
    place = (change.table, change.entry, change.key)
    others = {key: value for key, value in after.items() if key not in {place, (*place[:2], "")}}
    assert {key: value for key, value in before.items() if key in others} == others
    if place in before and change.typed.strip():
        assert gone.count("\n") <= 6  # the list of two towels, the longest value there is
    elif place not in before:
        assert gone == ""
        rest = iter(new.splitlines())
        assert all(line in rest for line in text.splitlines()) or "." in change.key
    elif "." not in change.key:
        assert come == ""


TEXT_KEYS = [
    ("farm", None, "name"),
    ("farm", None, "emergency_location"),
    ("person", "Helper", "role"),
    ("lot", "Bin rye", "variety"),
    ("points", 2, "row"),
    ("program", None, "fly_free_date"),
    ("day", None, "wind_limit"),
]


@given(place=st.sampled_from(TEXT_KEYS), typed=TYPED)
def test_what_is_typed_is_what_is_read(place: tuple[str, Entry, str], typed: str) -> None:
    """Quotes, line ends, brackets and letters of any kind come back out of the file as typed."""
    table, entry, key = place
    new = put(table, key, typed, entry).text
    expected = typed.strip().replace("\r\n", "\n")
    assert toml_to_values(new).get(place, "") == expected


def test_line_ends_a_mark_at_the_start_and_comments_stay() -> None:
    """A file from another system: its line ends are used for what is new."""
    new, refused = changed_text(
        ODD,
        [
            Change(what="set", table="farm", key="name", typed="B"),
            Change(what="set", table="farm", key="units", typed="Metric"),
            Change(what="set", table="farm", key="latitude", typed="42.0"),
            Change(
                what="set", table="lot", entry="Rye", key="germination", typed="44 of 50, 40 of 50"
            ),
            Change(what="set", table="lot", entry="Rye", key="insects.weevils", typed="3"),
            Change(what="set", table="lot", entry="Oats", key="insects.weevils", typed=""),
            Change(what="set", table="day", key="lead", typed="20 min"),
        ],
    )
    assert not refused
    assert "\n" not in new.replace("\r\n", "")
    assert new.startswith('\ufeff# notes\r\n[farm]\r\nname = "B"   # its name\r\nlatitude = 42\r\n')
    assert 'units = "metric"\r\n' in new
    assert '[ # towels\r\n  "44 of 50", # one\r\n  "40 of 50", # two\r\n]' in new
    assert '[lot.insects]\r\nweevils = 3\r\nsample = "2 lb"\r\n' in new
    assert 'insects = { sample = "1 lb" } # alive\r\n' in new
    assert new.endswith("\r\n# the end")
    assert '[day]\r\nlead = "20 min"\r\n' in new


# --- keys ----------------------------------------------------------------------------------


def test_a_value_is_put_in_place_of_the_old_one() -> None:
    """Metres on a farm in feet are fine; the comment behind stays."""
    assert pieces(
        RYE, put("spreader", "driving_width", "12 m", "Spreader", at=RYE_FOLDER).text
    ) == (
        "40 ft",
        "12 m",
    )
    edited = put("spreader", "efficiency", "75 %", "Spreader", at=RYE_FOLDER)
    assert 'efficiency = "75 %"        # without loading' in edited.text
    assert edited.may_save


def test_each_kind_is_written_in_its_toml_form() -> None:
    """Dates, yes and no, numbers, lists, clock times with am and pm, places by their letters."""
    for table, entry, key, typed, value in (
        ("tractor", "Old tractor", "guided", "Sí", True),
        ("tractor", "Big tractor", "lights", "no", False),
        ("person", "Helper", "age", "18", 18),
        ("farm", None, "latitude", "42,5", 42.5),
        ("farm", None, "units", "METRIC", "metric"),
        ("program", None, "sow_by", "2026-10-22", dt.date(2026, 10, 22)),
        ("day", None, "start", "7:30 am", "07:30"),
        ("window", 0, "spread", "9 am - 6:15 pm", "09:00 - 18:15"),
        ("window", 0, "cover", "12:30 p.m. to 12 am", "12:30 to 00:00"),
        ("lot", "Bin rye", "samples", "20 g: 832; 20 g: 841", ["20 g: 832", "20 g: 841"]),
        ("lot", "Bin rye", "germination", "44 of 50\n45 of 50\n", ["44 of 50", "45 of 50"]),
        ("season", None, "weekly_off", "Sunday", ["Sunday"]),
        ("season", None, "days_off", "2026-10-24", [dt.date(2026, 10, 24)]),
        ("spreader", "Spreader", "load", "6,500 lb", "6,500 lb"),
        ("day", None, "order", "Home, Creek", ["Home", "Creek"]),
        ("day", None, "order", "Home, east\nCreek", ["Home, east", "Creek"]),
    ):
        new = put(table, key, typed, entry).text
        assert toml_to_values(new)[table, entry, key] == toml_to_values(new)[table, entry, key]
        found = tomllib.loads(new)[table]
        if isinstance(found, list):
            found = next(one for at, one in enumerate(found) if entry in {at, one.get("name")})
        assert found[key] == value
        assert type(found[key]) is type(value)


def test_a_place_may_be_typed_either_way_round_with_its_letters() -> None:
    """Without letters longitude comes first, as the model has it."""
    for typed, place in (
        ("-93.5, 42.0", [-93.5, 42.0]),
        ("42.0 N, 93.5 W", [-93.5, 42.0]),
        ("43.6° S, 171.7° E", [171.7, -43.6]),
    ):
        new, _ = changed_text(
            RYE,
            [
                Change(what="add", table="left_out"),
                Change(what="set", table="left_out", entry=-1, key="at", typed=typed),
                Change(what="set", table="left_out", entry=-1, key="ring", typed=f"{typed}; 1, 2"),
            ],
        )
        assert held(new, "left_out", 0) == {"at": place, "ring": [place, [1.0, 2.0]]}


def test_nothing_typed_clears_a_key_with_its_line() -> None:
    """The line goes, no other; a key that was not there stays away."""
    edited = put("cultivator", "depth", "  ", "Cultivator 1", at=RYE_FOLDER)
    assert pieces(RYE, edited.text)[1] == ""
    assert "depth" not in held(edited.text, "cultivator", 0)
    assert edited.may_save
    assert put("day", "margin", "").text == RYE


def test_names_with_a_comma_come_back_as_they_were() -> None:
    """A list is shown one a line where a comma in a name would part it."""
    names = ["Home, east", "Creek"]
    text = put("day", "order", "Home, east\nCreek").text
    shown = toml_to_values(text)["day", None, "order"]
    assert shown == "Home, east\nCreek\n"
    assert put("day", "order", shown, text=text).text == text
    one = put("day", "order", f"{names[0]}\n").text
    assert held(one, "day")["order"] == names[:1]
    assert toml_to_values(one)["day", None, "order"] == f"{names[0]}\n"


def test_a_table_within_comes_grows_and_goes() -> None:
    """The first key brings it in braces on one line, the last one takes it along."""
    new, _ = changed_text(RYE, [Change(what="clear", table="cultivator", entry="Cultivator 1",
                                       key="overlap_share")])  # fmt: skip
    one = put("cultivator", "counted.passes", "12", "Cultivator 1", text=new).text
    assert "counted = { passes = 12 }\n" in one
    two = put("cultivator", "counted.across", "330 ft", "Cultivator 1", text=one)
    assert two.problems == ()
    assert held(two.text, "cultivator", 0)["counted"] == {"passes": 12, "across": "330 ft"}
    back = put("cultivator", "counted.across", "", "Cultivator 1", text=two.text).text
    assert put("cultivator", "counted.passes", "", "Cultivator 1", text=back).text == new


def test_a_new_key_stands_where_the_models_have_it() -> None:
    """Not at the end of the file, nor after the comment of another table."""
    text = put("lot", "variety", "any", "Bin rye").text
    assert 'test_weight = "54 lb/bu"\nvariety = "any"\n' in text


# --- entries -------------------------------------------------------------------------------


def test_a_second_lot_is_added_behind_the_first() -> None:
    """With its test and rate it is sound; the bins stay below it."""
    changes = [
        Change(what="add", table="lot", entry="Oats"),
        *(
            Change(what="set", table="lot", entry="Oats", key=key, typed=typed)
            for key, typed in (
                ("species", "oats"),
                ("germination", "90 of 100"),
                ("purity", "98 %"),
                ("bulk_rate", "60 lb/ac"),
            )
        ),
    ]
    edited = apply_changes(RYE, changes, folder=RYE_FOLDER)
    assert edited.problems == ()
    gone, come = pieces(RYE, edited.text)
    assert gone == ""
    assert come.count("\n") == 7
    assert (
        edited.text.index('"Bin rye"') < edited.text.index('"Oats"') < edited.text.index("[[bin]")
    )
    assert [lot["name"] for lot in held(edited.text, "lot")] == ["Bin rye", "Oats"]


def test_an_entry_goes_with_its_lines_and_no_comment_of_another() -> None:
    """The third window; what stands before and behind is as it was."""
    edited = apply_changes(RYE, [Change(what="remove", table="window", entry=2)], folder=RYE_FOLDER)
    assert edited.may_save
    gone, come = pieces(RYE, edited.text)
    assert come == ""
    assert gone.count("[[window]]") == 1
    assert "ground not fit" in gone
    assert [window["date"].day for window in held(edited.text, "window")] == [18, 19, 21]


def test_adding_and_removing_leaves_the_file_as_it_was() -> None:
    """Whatever the table, and whether there was one before."""
    for table in form_tables().values():
        if table.repeated:
            text, refused = changed_text(
                FORTY,
                [
                    Change(what="add", table=table.table, entry="New" if table.named else None),
                    Change(what="remove", table=table.table, entry=-1),
                ],
            )
            assert not refused
            assert text.rstrip("\n") == FORTY.rstrip("\n")


def test_a_new_name_is_followed_by_all_that_names_it() -> None:
    """A person, a machine, a lot and a tractor; the farm stays sound."""
    for table, old, new, count in (
        ("person", "Owner", 'Ana "la jefa"', 3),
        ("cultivator", "Cultivator 1", "Tines, 30 ft", 7),
        ("lot", "Bin rye", "Rye", 2),
        ("tractor", "Big tractor", "Groß", 3),
        ("seed_truck", "Seed truck", "Truck", 1),
    ):
        change = Change(what="rename", table=table, entry=old, typed=new)
        edited = apply_changes(RYE, [change], folder=RYE_FOLDER)
        assert edited.problems == ()
        values = list(toml_to_values(edited.text).values())
        assert not any(old == value for value in values)
        assert sum(new in value.rstrip("\n") for value in values) == count
        back = Change(what="rename", table=table, entry=new, typed=old)
        assert apply_changes(edited.text, [back], folder=RYE_FOLDER).text == RYE


def test_a_name_that_is_another_s_too_is_not_followed() -> None:
    """A tractor called as a person: "away" may mean either, so it is left as written."""
    text = RYE.replace('name = "Old tractor"', 'name = "Helper"').replace(
        'tractor = "Old tractor"', 'tractor = "Helper"'
    )
    text += '\n[[away]]\nwho = "Helper"\nfrom = 2026-10-20\n'
    new, refused = changed_text(
        text, [Change(what="rename", table="tractor", entry="Helper", typed="Old one")]
    )
    assert not refused
    assert held(new, "away", 0)["who"] == "Helper"
    assert held(new, "cultivator", 0)["tractor"] == "Old one"
    assert held(new, "seed_truck", 0)["driver"] == "Helper"


def test_a_name_set_in_its_field_is_followed_too() -> None:
    """A form sends the name with the other keys, all under the entry's old name."""
    changes = [
        Change(what="set", table="spreader", entry="Spreader", key=key, typed=typed)
        for key, typed in (("name", "Big spinner"), ("speed", "9 mph"))
    ]
    edited = apply_changes(RYE, changes, folder=RYE_FOLDER)
    assert edited.problems == ()
    assert held(edited.text, "spreader", 0)["speed"] == "9 mph"
    assert held(edited.text, "person", 0)["drives"] == ["Big spinner", "Cultivator 2"]


def test_a_lot_s_new_name_is_followed_into_the_outlines(tmp_path: Path) -> None:
    """Fields that name it stay sown with it; the rest of that file is byte for byte."""
    folder = copy_of("forty-fields", tmp_path)
    before = (folder / "fields.geojson").read_bytes()
    change = Change(what="rename", table="lot", entry="W", typed='Größe "W"')
    assert save_changes(folder, [change], now=NOW).problems == ()
    farm = read_folder(folder).farm
    assert farm is not None
    assert sum(field.lot == 'Größe "W"' for field in farm.fields) == before.count(b'"lot": "W"') > 0
    assert (folder / "kept" / "fields.geojson.20261018T120000Z").read_bytes() == before
    back = Change(what="rename", table="lot", entry='Größe "W"', typed="W")
    save_changes(folder, [back], now=NOW)
    assert (folder / "fields.geojson").read_bytes() == before
    assert (folder / "farm.toml").read_bytes().decode() == FORTY


def test_a_machine_that_the_log_names_keeps_its_name(tmp_path: Path) -> None:
    """What happened is not written anew; the person is told where the old name stands."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    (folder / "log.csv").write_text(
        "time,machine,what,field,amount\n2026-10-18T09:30-05:00,Cultivator 1,begin,A1,\n",
        encoding="utf-8",
    )
    change = Change(what="rename", table="cultivator", entry="Cultivator 1", typed="Tines")
    edited = save_changes(folder, [change], now=NOW)
    assert not edited.may_save
    assert edited.problems[0].problem.file == "log.csv"
    assert (folder / "farm.toml").read_bytes().decode() == RYE


# --- what cannot be done -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "place", "says"),
    [
        (Change(what="set", table="nix", key="a", typed="1"), ("", None, "a"), "unknown table"),
        (
            Change(what="set", table="day", key="nix", typed="1"),
            ("day", None, "nix"),
            "unknown key",
        ),
        (
            Change(what="set", table="lot", entry="Nope", key="purity", typed="1 %"),
            ("lot", None, "purity"),
            "Known: Bin rye",
        ),
        (Change(what="remove", table="window", entry=9), ("window", None, ""), "9"),
        (Change(what="add", table="lot", entry="Bin rye"), ("lot", None, ""), "each name once"),
        (Change(what="add", table="day"), ("day", None, ""), "one [day] only"),
        (
            Change(what="rename", table="person", entry="Owner", typed="Helper"),
            ("person", 0, ""),
            "each name once",
        ),
        (Change(what="rename", table="window", entry=0, typed="x"), ("window", None, ""), "names"),
        (
            Change(what="set", table="farm", key="name", typed="\ud800"),
            ("farm", None, "name"),
            "letters",
        ),
    ],
)
def test_what_cannot_be_changed_is_told_and_nothing_is(
    change: Change, place: tuple[str, int | None, str], says: str
) -> None:
    """The text is the old one, even where a change before it could be made."""
    good = Change(what="set", table="day", key="lead", typed="30 min")
    edited = apply_changes(RYE, [good, change])
    assert edited.text == RYE
    assert not edited.may_save
    assert told(edited) == [place]
    assert says in edited.problems[0].sentence


def test_tables_in_braces_are_left_to_the_file() -> None:
    """A table without a heading of its own is not touched, and the person told what to do."""
    text = 'person = [{ name = "Ana" }]\n'
    edited = put("person", "role", "spreads", "Ana", text=text)
    assert edited.text == text
    assert "[[person]] on a line of its own" in edited.problems[0].sentence


def test_a_file_that_is_no_toml_and_one_too_large_are_left_alone() -> None:
    """The line of the slip is told."""
    slip = put("day", "lead", "20 min", text=RYE + "\nlead = \n")
    assert slip.text == RYE + "\nlead = \n"
    assert not slip.may_save
    assert "line" in slip.problems[0].problem.where
    huge = put("day", "lead", "20 min", text="# " + "x" * LARGEST_BYTES)
    assert "more than 1 MB" in huge.problems[0].sentence
    deep = put("day", "lead", "20 min", text="[day]\norder = " + "[" * 60 + "]" * 60)
    assert "nested too deep" in deep.problems[0].sentence
    many = apply_changes(RYE, [Change(what="clear", table="day", key="lead")] * (MOST_CHANGES + 1))
    assert "changes at once" in many.problems[0].sentence
    wide = "# " + "x" * 900_000
    slow = apply_changes(wide, [Change(what="clear", table="day", key="lead")] * 30)
    assert "at most 22 at once" in slow.problems[0].sentence
    long = put("farm", "emergency_location", "x" * (LARGEST_BYTES + 1))
    assert not long.may_save


# --- problems at their keys ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("table", "entry", "key", "typed", "place"),
    [
        ("spreader", "Spreader", "driving_width", "12", ("spreader", 0, "driving_width")),
        ("spreader", "Spreader", "driver", "Nobody", ("spreader", 0, "driver")),
        ("cultivator", "Cultivator 2", "tractor", "None", ("cultivator", 1, "tractor")),
        ("person", "Helper", "age", "young", ("person", 2, "age")),
        ("person", "Neighbor", "drives", "Plane", ("person", 1, "drives")),
        ("lot", "Bin rye", "germination", "44 of 50, many", ("lot", 0, "germination")),
        ("lot", "Bin rye", "price", "5 EUR per bu", ("lot", 0, "price")),
        ("lot", "Bin rye", "bulk_rate", "60 lb/ac", ("lot", 0, "live_rate")),
        ("lot", "Bin rye", "trays", "none.csv", ("lot", 0, "trays")),
        ("bin", 0, "lot", "Wheat", ("bin", 0, "lot")),
        ("window", 1, "spread", "18:00-09:00", ("window", 1, "spread")),
        ("window", 1, "date", "2026-10-18", ("window", 1, "date")),
        ("cultivator", "Cultivator 1", "counted.passes", "none",
         ("cultivator", 0, "counted.passes")),
        ("day", None, "sure", "20 in 20", ("day", None, "sure")),
        ("day", None, "order", "Home, No such field", ("day", None, "order")),
        ("farm", None, "time_zone", "America/Chikago", ("farm", None, "time_zone")),
        ("farm", None, "name", "a\x00b", ("farm", None, "name")),
        ("farm", None, "emergency_location", "x" * 10_000, ("farm", None, "emergency_location")),
        ("points", 1, "cultivator", "Plow", ("points", 1, "cultivator")),
        ("points", 0, "worn", "9 in, 9", ("points", 0, "worn")),
        ("prices", None, "labour", "25 per h", ("prices", None, "labor")),
        ("season", None, "late", "5 GBP per ac", ("season", None, "late")),
        ("spreader", "Spreader", "load", "", ("spreader", 0, "load")),
        ("seed_truck", "Seed truck", "holds", "9000 lb", ("seed_truck", 0, "holds")),
    ],
)  # fmt: skip
def test_a_problem_is_shown_at_its_key(
    table: str, entry: Entry, key: str, typed: str, place: tuple[str, int | None, str]
) -> None:
    """Slips of form, names that nobody has and figures that do not go together; none is written."""
    edited = put(table, key, typed, entry, at=RYE_FOLDER)
    assert place in told(edited)
    assert not edited.may_save
    assert all(one.sentence.startswith("Read ") for one in edited.problems)


def test_a_problem_speaks_in_the_units_of_the_farm() -> None:
    """The right form and the limits, in feet on one farm and in metres on the other."""
    metric = TEXTS["oats-and-radish"]
    for text, entry, form, limits in (
        (RYE, "Cultivator 1", 'such as "30 ft"', "a length from 1.6 ft to 196.9 ft."),
        (metric, "Tines 6", 'such as "9.1 m"', "a length from 0.5 m to 60.0 m."),
    ):
        bare, far = (put("cultivator", "width", typed, entry, text=text) for typed in ("9", "9 km"))
        assert form in bare.problems[0].sentence
        assert limits in far.problems[0].sentence


def test_a_crew_without_a_cultivator_is_told_at_its_machines() -> None:
    """The problem names the crew by its name; it comes to its entry."""
    edited = apply_changes(
        RYE,
        [
            Change(what="add", table="crew", entry="One"),
            Change(what="set", table="crew", entry="One", key="machines", typed="Spreader"),
        ],
        folder=RYE_FOLDER,
    )
    assert told(edited) == [("crew", 0, "machines")]
    assert edited.problems[0].name == "One"


# --- writing -------------------------------------------------------------------------------


def test_a_sound_change_is_written_and_the_old_file_kept(tmp_path: Path) -> None:
    """The new one is read by the program; the old one lies beside under its time."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    change = Change(what="set", table="day", key="lead", typed="25 min")
    assert save_changes(folder, [change], now=NOW, seen=stamp(RYE)).may_save
    farm = read_folder(folder).farm
    assert farm is not None
    assert farm.rules.lead_s == 1500.0
    assert (folder / "kept" / "farm.toml.20261018T120000Z").read_bytes().decode() == RYE
    again = Change(what="set", table="day", key="lead", typed="30 min")
    save_changes(folder, [again], now=NOW)
    assert sorted(path.name for path in (folder / "kept").iterdir()) == [
        "farm.toml.20261018T120000Z",
        "farm.toml.20261018T120000Z-2",
    ]


def test_nothing_is_written_that_is_worse_than_before(tmp_path: Path) -> None:
    """A problem that the change brings; the file is not touched, nor kept."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    bad = Change(what="set", table="spreader", entry="Spreader", key="driver", typed="Nobody")
    assert not save_changes(folder, [bad], now=NOW).may_save
    assert (folder / "farm.toml").read_bytes().decode() == RYE
    assert not (folder / "kept").exists()


def test_a_farm_with_two_problems_is_mended_one_at_a_time(tmp_path: Path) -> None:
    """What was wrong before and stays wrong does not stand in the way of mending the other."""
    folder = copy_of(
        "rye-after-soybeans",
        tmp_path,
        farm_toml=[('lead = "20 min"', 'lead = "20"'), ("age = 17", 'age = "young"')],
    )
    one = Change(what="set", table="day", key="lead", typed="20 min")
    edited = save_changes(folder, [one], now=NOW)
    assert edited.may_save
    assert told(edited) == [("person", 2, "age")]
    worse = Change(what="set", table="day", key="sure", typed="often")
    assert not save_changes(folder, [worse], now=NOW).may_save
    two = Change(what="set", table="person", entry="Helper", key="age", typed="17")
    assert save_changes(folder, [two], now=NOW).problems == ()
    assert (folder / "farm.toml").read_bytes().decode() == RYE


def test_a_problem_of_another_file_does_not_stand_in_the_way(tmp_path: Path) -> None:
    """A forecast that cannot be read is told, and the farm may still be changed."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    (folder / "forecast.csv").write_text("nonsense", encoding="utf-8")
    change = Change(what="set", table="day", key="lead", typed="25 min")
    edited = save_changes(folder, [change], now=NOW)
    assert edited.may_save
    assert [one.problem.file for one in edited.problems] == ["forecast.csv"]
    assert 'lead = "25 min"' in (folder / "farm.toml").read_text(encoding="utf-8")


def test_a_file_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    """Somebody else saved since the form was filled."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    change = Change(what="set", table="day", key="lead", typed="25 min")
    edited = save_changes(folder, [change], now=NOW, seen=stamp(RYE + "\n"))
    assert not edited.may_save
    assert "changed since this page was opened" in edited.problems[0].sentence
    assert (folder / "farm.toml").read_bytes().decode() == RYE


def test_a_file_that_is_no_text_is_told(tmp_path: Path) -> None:
    """Bytes of a word processor: the line is told, nothing written."""
    (tmp_path / "farm.toml").write_bytes(b'[farm]\nname = "\xff"\n')
    edited = save_changes(tmp_path, [], now=NOW)
    assert edited.problems[0].problem.where == "line 2"
    assert (tmp_path / "farm.toml").read_bytes() == b'[farm]\nname = "\xff"\n'


def test_the_values_of_a_sound_text_read_back_to_the_same_farm() -> None:
    """Every value cleared from nothing and typed anew gives a file with the same content."""
    for name, text in TEXTS.items():
        changes = []
        for (table, entry, key), typed in toml_to_values(text).items():
            if not key:
                changes.append(Change(what="add", table=table))
            else:
                at = None if entry is None else -1
                changes.append(Change(what="set", table=table, entry=at, key=key, typed=typed))
        new, refused = changed_text("", changes)
        assert not refused
        first, second = (read_farm_toml(one.encode())[0] for one in (text, new))
        assert first == second is not None, name
