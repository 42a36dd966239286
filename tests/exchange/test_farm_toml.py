"""The form of farm.toml: what is read, and how each slip is told."""

from __future__ import annotations

from datetime import date

import pytest
from made_folders import EXAMPLES, FOOT_M, POUND_KG

from duskline.exchange.farm_toml import (
    LARGEST_BYTES,
    MOST_PROBLEMS,
    FarmToml,
    read_farm_toml,
)

TEXT = (EXAMPLES / "rye-after-soybeans" / "farm.toml").read_text(encoding="utf-8")
COUNTS = 'germination = ["44 of 50", "45 of 50", "43 of 50", "44 of 50"]'
SAMPLES = 'samples = ["20 g: 832", "20 g: 841", "20 g: 828"]'


def changed(*pairs: tuple[str, str]) -> bytes:
    """The rye farm's file with texts replaced, each of which must be there."""
    text = TEXT
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return text.encode()


def form(*pairs: tuple[str, str]) -> FarmToml:
    """The content; there must be no problem."""
    found, _, problems = read_farm_toml(changed(*pairs))
    assert [problem.sentence for problem in problems] == []
    assert found is not None
    return found


def told(raw: bytes) -> list[str]:
    """The sentences of the problems; there must be no content."""
    found, _, problems = read_farm_toml(raw)
    assert found is None
    return [problem.sentence for problem in problems]


# --- what is read --------------------------------------------------------------------------


def test_quantities_become_si() -> None:
    """40 ft, 8 mph, 80 %, 6,000 lb and 20 min of the spreader; counts and samples of the lot."""
    spreader, lot = form().spreader[0], form().lot[0]
    assert spreader.driving_width == pytest.approx(40 * FOOT_M)
    assert spreader.speed == pytest.approx(8 * 0.44704)
    assert spreader.efficiency == pytest.approx(0.8)
    assert spreader.load == pytest.approx(6000 * POUND_KG)
    assert spreader.refill == 1200.0
    assert lot.germination[0] == (44, 50)
    assert lot.samples[0][0] == pytest.approx(0.020)
    assert lot.samples[0][1] == 832
    assert form().day.sure == 0.95
    assert form().window[0].spread == ("09:30", "18:15")
    assert form().program.sow_by == date(2026, 10, 21)


def test_a_clock_time_may_be_short_and_a_span_may_say_to() -> None:
    """Say "9:30 to 18:15" for 09:30-18:15; so is a long dash."""
    for span in ("9:30 to 18:15", "9:30 – 18:15", " 09:30-18:15 "):
        assert form(('spread = "09:30-18:15"', f'spread = "{span}"')).window[0].spread == (
            "09:30",
            "18:15",
        )


def test_a_byte_order_mark_and_windows_line_endings_are_read() -> None:
    """A file saved by any editor."""
    found, _, problems = read_farm_toml(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert problems == []
    assert found == form()


def test_passes_counted_are_an_overlap() -> None:
    """12 passes over 226 ft with 30 ft of machine: 18.8 ft a pass, 37 % lapped, is read."""
    counted = ('overlap_share = "10 %"', 'counted = { passes = 12, across = "226 ft" }')
    assert form(counted).cultivator[0].counted is not None


def test_dates_may_be_written_in_quotes() -> None:
    """An ISO date is one, with quotes or without."""
    assert form(("sow_by = 2026-10-21", 'sow_by = "2026-10-21"')).program.sow_by == date(
        2026, 10, 21
    )


# --- slips, one at a time ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"40 ft"', "40", 'line 60, spreader.1.driving_width: read 40; expected a length with its'),
        ('"40 ft"', '"40"', "read '40'; expected a length with its unit, such as \"40 ft\""),
        ('"40 ft"', '"40 lb"', "read '40 lb'; expected a length with its unit"),
        ('"8 mph"', '"60 F"', "spreader.1.speed: read '60 F'; expected a speed with its unit"),
        ('"40 ft"', '"0 ft"', "read '0 ft'; expected a length from 1.6 ft to 196.9 ft (0.5 m to"),
        ('"30 ft"', '"300 ft"', "cultivator.1.width: read '300 ft'; expected a length from 1.6 ft"),
        ('"6000 lb"', '"-6000 lb"', "spreader.1.load: read '-6000 lb'; expected a mass from 44 lb"),
        ('"6000 lb"', '"0 lb"', "spreader.1.load: read '0 lb'; expected a mass from 44 lb"),
        ('"20 min"', "nan", "spreader.1.refill: read nan; expected a time with its unit"),
        ('"0.5 ft"', '"30 ft"', "cultivator.2: read 30.0 ft (9.1 m) of overlap; expected no more"),
        ('"10 %"', '"100 %"', "cultivator.1: read 30.0 ft (9.1 m) of overlap; expected no more"),
        (
            'overlap_share = "10 %"',
            'counted = { passes = 5, across = "226 ft" }',
            "cultivator.1: read 45.2 ft (13.8 m) a pass; expected about the width, 30.0 ft (9.1 m)",
        ),
        (
            'overlap_share = "10 %"',
            'overlap_share = "10 %"\noverlap = "1 ft"',
            "read several overlaps; expected only one of overlap, overlap_share, counted",
        ),
        ('"19 in 20"', '"20 in 20"', "day.sure: read '20 in 20'; expected a chance such as \"19 i"),
        ('"19 in 20"', '"0 in 20"', "day.sure: read '0 in 20'; expected a chance such as"),
        ('"19 in 20"', "0.95", "day.sure: read 0.95; expected a chance such as"),
        ('"19 in 20"', f'"{"9" * 5000} in 20"', "day.sure: read '999"),
        (
            'spread = "09:30-18:15"',
            'spread = "18:15-09:30"',
            "window.1.spread: read '18:15-09:30'; expected an opening before the closing time",
        ),
        ('spread = "09:30-18:15"', 'spread = "9:30am-6pm"', 'expected a clock time such as "09'),
        ('spread = "09:30-18:15"', f'spread = "{"-" * 300_000}"', "expected two clock times such"),
        ('spread = "10:00-15:00"\n', "", "window.2: read one of two windows; expected both spread"),
        ('closed = "ground not fit"', "", "window.3: read no hours; expected spread and cover, or"),
        ("date = 2026-10-19", "date = 0001-01-01", "read 0001-01-01; expected a date from 2000 to"),
        ("date = 2026-10-19", "date = 2026-10-19T08:00:00", "expected a date such as 2026-10-18"),
        ("sow_by = 2026-10-21", "sow_by = 20261021", "read 20261021; expected a date such as"),
        ("sow_by = 2026-10-21", 'sow_by = "Oct 21"', "read 'Oct 21'; expected a date such as"),
        ('"44 of 50", "45', '"51 of 50", "45', "expected no more sprouted than were tested"),
        ('"44 of 50", "45', '"44/50", "45', 'expected sprouted of tested, such as "88 of 100"'),
        ('"44 of 50", "45', f'"{"1" * 5000} of 50", "45', "expected sprouted of tested, such as"),
        ('"20 g: 832", ', '"0 g: 832", ', 'expected a weighed sample and its count, such as "20 g'),
        ('"20 g: 832", ', '"20: 832", ', "expected a mass with its unit"),
        ('"20 g: 832", ', f'"{": " * 200_000}", ', "expected a weighed sample and its count"),
        ('"97 %"', '"0 %"', "lot.1.purity: read '0 %'; expected a fraction from 1.0 % to 100.0 %."),
        ('"97 %"', '"970 %"', "lot.1.purity: read '970 %'; expected a fraction from 1.0 %"),
        ('purity = "97 %"\n', "", "lot.1: read an untested lot; expected germination and purity"),
        (
            'live_rate = "61 lb/ac"',
            'live_rate = "61 lb/ac"\nbulk_rate = "70 lb/ac"',
            "lot.1: read 2 rates; expected exactly one of live_rate, bulk_rate, bushel_rate, stand",
        ),
        (
            'live_rate = "61 lb/ac"',
            'stand = "22 plants/ft2"',
            "lot.1: read stand without emergence; expected emergence beside stand",
        ),
        (COUNTS, 'germination = ["0 of 50"]', "read nothing sprouted; expected a lot with some"),
        (
            'live_rate = "61 lb/ac"',
            'live_rate = "61 lb/ac"\nhard_seed = "30 %"',
            "read 118 % sprouted and hard seed; expected no more than 100 % of the two together",
        ),
        ("latitude = 42.0", "latitude = 95", "farm.latitude: read 95; expected a number of"),
        ("latitude = 42.0", "latitude = nan", "farm.latitude: read nan; expected a number of"),
        ("latitude = 42.0", 'latitude = "north"', "farm.latitude: read 'north'; expected a number"),
        ('units = "us"', 'units = "imperial"', "read 'imperial'; expected 'us' or 'metric'"),
        ('country = "US"', 'country = "Usa"', "expected two capital letters such as \"US\""),
        ("age = 51", "age = 51.5", "person.1.age: read 51.5; expected a whole number"),
        ("age = 51", "age = 0x" + "F" * 9000, "read a huge number; expected a number of at most"),
        ("age = 51", "age = " + "9" * 5000, "read a number with thousands of digits"),
        ('drives = ["Cultivator 1"]', 'drives = "Cultivator 1"', "expected a list in square"),
        ('name = "Plum Hollow"', 'name = ""', "farm.name: read ''; expected a text that is not"),
        ('name = "Plum Hollow"', f'name = "{"x" * 81}"', "expected at most 80 letters"),
        ('"Plum Hollow"', '"Plum\\u001b[31m"', "read 'Plum?[31m'; expected one line of letters"),
        ("[program]", "[programme]", "the unknown key 'programme'; expected a known key. Did you"),
        ("driving_width", "driving_with", "line 60, spreader.1.driving_with: read the unknown key"),
        ("[day]", "day = 5\n[days]", "expected"),
        ("depth =", "depht =", "Did you mean 'depth'?"),
        (
            'diameter = "15 ft"',
            'mass = "1 t"\ndiameter = "15 ft"',
            "read mass, diameter, depth; expected either mass, or both diameter and depth",
        ),
        ('load = "6000 lb"\n', "", "read load and hopper; expected either load (a mass) or hopper"),
        (
            'name = "Seed truck"',
            'name = "Seed truck"\nholds = "2 t"',
            "seed_truck.1: read holds or turnaround alone; expected both",
        ),
    ],
)  # fmt: skip
def test_a_slip_is_told_with_its_line_and_the_right_form(old: str, new: str, says: str) -> None:
    """Where it stands, what was read, what was expected, the nearest known key."""
    sentences = told(changed((old, new)))
    assert any(says in sentence for sentence in sentences), sentences
    assert all(sentence.startswith("farm.toml") for sentence in sentences)
    assert all(len(sentence) < 420 and sentence.isprintable() for sentence in sentences)


def test_a_stand_needs_the_weight_of_the_seed() -> None:
    """Plants a square foot cannot become pounds without seeds a pound."""
    stand = ('live_rate = "61 lb/ac"', 'stand = "22 plants/ft2"\nemergence = "70 %"')
    assert form(stand).lot[0].stand is not None
    (sentence,) = told(changed(stand, (SAMPLES, "")))
    assert "expected samples or seeds_per_mass beside stand" in sentence


def test_a_mix_carries_no_rate_and_names_each_part_once() -> None:
    """A rate on the mix itself, and a part named twice."""
    oats = (EXAMPLES / "oats-and-radish" / "farm.toml").read_text(encoding="utf-8")
    twice = oats.replace('["Oats", "Radish"]', '["Oats", "Oats"]')
    assert "read a part named twice; expected each part of a mix once" in told(twice.encode())[0]
    rate = oats.replace('"Radish"]', '"Radish"]\nlive_rate = "3 kg/ha"')
    assert "expected rates and tests on its parts only" in told(rate.encode())[0]


def test_several_slips_are_told_at_once_each_with_its_line() -> None:
    """Four slips in four tables: four sentences, in the order of the file."""
    sentences = told(
        changed(
            ('"40 ft"', '"40"'), ('"97 %"', '"97"'), ('"19 in 20"', '"20 in 20"'),
            ("sow_by = 2026-10-21", 'sow_by = "Oct 21"'),
        )
    )  # fmt: skip
    assert [sentence.split(",")[1].strip() for sentence in sentences] == [
        "line 60", "line 101", "line 18", "line 116",
    ]  # fmt: skip


def test_a_line_inside_a_table_of_a_list_is_found() -> None:
    """The second cultivator's second line is not the first one's; nor is a table within a lot."""
    width = TEXT.splitlines().index('width = "28 ft"') + 1
    (sentence,) = told(changed(('"28 ft"', '"28"')))
    assert f"line {width}, cultivator.2.width" in sentence
    insects = ('live_rate = "61 lb/ac"', 'live_rate = "61 lb/ac"\n[lot.insects]\nsample = "1"')
    (sentence,) = told(changed(insects))
    line = changed(insects).decode().splitlines().index('sample = "1"') + 1
    assert f"line {line}, lot.1.insects.sample" in sentence


# --- the file as a whole -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "farm: read nothing; expected the key 'farm'"),
        (b"\xff\xfe\x00\x01", "line 1: read a byte that is no text; expected text saved as UTF-8"),
        (TEXT.encode("utf-16"), "read a byte that is no text; expected text saved as UTF-8"),
        (TEXT.replace("Owner", "Ownér").encode("latin-1"), "line 22: read a byte that is no text"),
        (b"\x00" * 100, "expected TOML (key = value; texts in quotes"),
        (b"[farm\nname = 1", "line 1: read Expected ']' at the end of a table declaration"),
        (b"a = 1\na = 2", "the end of the file: read a key that was there before"),
        (b"d = 2026-02-30", "line 1: read Invalid date or datetime; expected TOML"),
        (b"a = " + b"[" * 50_000, "read lists nested too deep to follow"),
        (b"a = " + b"[" * 300 + b"]" * 300, "line 1, a: read the unknown key 'a'"),
        (TEXT.encode() + b" " * LARGEST_BYTES, "read more than 1 MB; expected no more than 1 MB"),
        (b"farm = 5", "line 1, farm: read 5; expected a table of keys"),
        (b"person = [5]", "person.1: read 5; expected a table of keys"),
        (b"lot = []", "lot: read none; expected at least one [[lot]]"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_farm_is_told_in_a_sentence(raw: bytes, says: str) -> None:
    """Empty, other bytes, broken TOML, nested out of all reason, too large."""
    sentences = told(raw)
    assert any(says in sentence for sentence in sentences), sentences
    assert all(sentence.isprintable() for sentence in sentences)


@pytest.mark.parametrize(
    "raw",
    [
        b"[[person]]\n" * 90_000,
        b"".join(b"k%d=1\n" % index for index in range(80_000)),
        TEXT.encode() + b"".join(b'[[person]]\nname="p%d"\n' % (i % 999) for i in range(30_000)),
        changed(("[day]", "[day]\norder = [" + ",".join(f'"x{i}"' for i in range(60_000)) + "]")),
    ],
    ids=["nameless people", "unknown keys", "thirty thousand people", "a long order"],
)
def test_a_megabyte_of_slips_is_counted_not_listed(raw: bytes) -> None:
    """However many slips the file holds, the report stays a page or two."""
    assert len(raw) < LARGEST_BYTES
    sentences = told(raw)
    assert 0 < len(sentences) <= MOST_PROBLEMS + 1
    if len(sentences) > MOST_PROBLEMS:
        assert "more of the kind" in sentences[-1]


def test_the_schema_shows_the_form_of_quantities() -> None:
    """Whoever writes the file by program sees texts with examples, not numbers."""
    schema = FarmToml.model_json_schema()["$defs"]["SpreaderTable"]["properties"]
    assert schema["speed"]["anyOf"][0] == {"type": "string", "examples": ["8 mph"]}


# --- machines, prices, points --------------------------------------------------------------

SPREADER = 'refill = "20 min"'
TILLER = 'width = "28 ft"'
WORN = 'worn = ["17 mm", "19 mm", "18 mm", "18 mm", "16 mm", "20 mm"]'


def test_more_of_the_machines_becomes_si() -> None:
    """Drive, hours, list price, fuel, radius, throw, shanks and depth."""
    found = form(
        (SPREADER, f'{SPREADER}\nthrow = "35 ft"\nturning_radius = "20 ft"\nfuel = "0.15 gal/ac"'),
        (TILLER, f'{TILLER}\nlist_price = "$42,000"\nhours = "900 h"\nyearly_hours = "60 h"'
         '\ntrailing = "12 ft"\nreverses = true'),
    )  # fmt: skip
    spreader, tiller = found.spreader[0], found.cultivator[1]
    assert spreader.throw == pytest.approx(35 * FOOT_M)
    assert spreader.turning_radius == pytest.approx(20 * FOOT_M)
    assert spreader.fuel == pytest.approx(0.15 * 0.003785411784 / 4046.8564224)
    assert tiller.list_price is not None
    assert tiller.list_price.amount == 42_000.0
    assert (tiller.hours, tiller.yearly_hours) == (3_240_000.0, 216_000.0)
    assert tiller.trailing == pytest.approx(12 * FOOT_M)
    assert tiller.reverses
    assert tiller.shanks == 56
    assert tiller.depth == pytest.approx(0.0381)
    assert found.tractor[0].drive == "front assist"


def test_points_and_pokes_are_read() -> None:
    """A list of figures or one; the farm's 18 mm on average over 420 ac."""
    found = form()
    front, second, _ = found.points
    assert front.worn == pytest.approx((0.017, 0.019, 0.018, 0.018, 0.016, 0.020))
    assert second.worn == pytest.approx((0.012, 0.014, 0.013))
    assert front.over == pytest.approx(420 * 4046.8564224)
    assert front.limit == pytest.approx(0.030)
    assert found.pokes[0].rear[0] == pytest.approx(1.8 * 0.0254)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"3.60 per gal"', '"3.60"', 'a price such as "3.60 per gal"'),
        ('"3.60 per gal"', '"3.60 per ac"', 'a price such as "3.60 per gal"'),
        ('"24 per h"', "24", 'a price such as "24 per h"'),
        ('"11 each"', '"11 per lb"', 'a price such as "11 each"'),
        ('"9.00 per bu"', '"9.00 per ac"', 'a price such as "9.00 per bu"'),
        ('"9.00 per bu"', '"9.00 per L"', 'a price such as "9.00 per bu"'),
        ('"68 per 1500 ac"', '"68"', 'points over ground, such as "68 per 1500 ac"'),
        ('"68 per 1500 ac"', '"0 per 1500 ac"', 'points over ground, such as "68 per 1500 ac"'),
        ("[prices]", '[prices]\ncurrency = "dollars"', 'three capital letters such as "USD"'),
        ("[prices]", '[prices]\nlabour = "20 per h"', "one of the two"),
        ("[prices]", "[prices]\nfule = 3", "Did you mean 'fuel'"),
        ('drive = "2wd"', 'drive = "3wd"', "'2wd', 'front assist', '4wd' or 'tracks'"),
        (WORN, 'worn = ["18 mm", "18"]', "expected a short length with its unit"),
        (WORN, "worn = []", "at least 1"),
        ("count = 8", "count = 1", "no more figures than the row has points"),
        ("shanks = 60", "shanks = 0", "a number of at least 1"),
        ('depth = "1.5 in"\n\n[[cult', 'depth = "9 ft"\n\n[[cult', "a short length from"),
    ],
)  # fmt: skip
def test_a_slip_in_the_new_tables_is_told(old: str, new: str, says: str) -> None:
    """Each with the form that was wanted."""
    sentences = told(changed((old, new)))
    assert any(says in sentence for sentence in sentences), sentences


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('area = "0.4 ac"\nring = [[-93.4, 42.0], [-93.39, 42.0], [-93.39, 42.01]]', "or ring"),
        ("", "either area"),
        ("ring = [[-93.4, 42.0], [-93.39, 42.0]]", "three corners or more"),
        ('area = "0.4 ac"\nat = [42.0, -93.4]', "longitude and latitude"),
        ('area = "0.4 ac"\nat = ["a", "b"]', "longitude and latitude"),
        ('area = "0.4"', "an area with its unit"),
    ],
)
def test_ground_left_out_has_one_form(text: str, says: str) -> None:
    """A size with or without a place, or a ring."""
    raw = TEXT + f'\n[[left_out]]\nfield = "A4"\nwhat = "wet hole"\n{text}\n'
    if says == "longitude and latitude" and "42.0, -93.4" in text:
        raw = raw.replace("[42.0, -93.4]", "[42.0, -193.4]")
    assert any(says in sentence for sentence in told(raw.encode()))
