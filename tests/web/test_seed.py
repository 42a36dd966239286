"""The Seed page: its figures are those of the answer, in the reader's units and words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from asking import INLINE, Reader, readers_closed, text_of
from made_folders import copy_of

from duskline.answers.seed import seed_answer
from duskline.exchange.farmfolder import read_farm
from duskline.words import seed as words

NOON = datetime.fromisoformat("2026-10-18T13:00:00-05:00")
LOW = ('["44 of 50", "45 of 50", "43 of 50", "44 of 50"]', '["34 of 50", "34 of 50"]')
AGREED = ('origin = "own bin', 'agreed_by = "Ms. Dale"\nagreed_on = 2026-10-01\norigin = "own bin')


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    """Close the stores."""
    with readers_closed():
        yield


def reader_of(folder: Path, **cookies: str) -> Reader:
    """Return somebody who looks at the pages of a folder."""
    return Reader(folder, lambda: NOON, **cookies)


def rye(folder: Path, *pairs: tuple[str, str], **cookies: str) -> Reader:
    """Return a reader of the rye farm, some of its text replaced."""
    return reader_of(copy_of("rye-after-soybeans", folder, farm_toml=list(pairs)), **cookies)


def test_the_rate_stands_three_ways_in_one_box(tmp_path: Path) -> None:
    """The answer's own figures, each word attached."""
    client = rye(tmp_path)
    page = client.get("/seed").text
    box = text_of("<main>" + page.split('class="rates"', 1)[1].split("<h2", 1)[0] + "</main>")
    answer = seed_answer(read_farm(tmp_path / "rye-after-soybeans")).main
    for cell in words.rate_cells(answer, "us", "US"):
        assert f"{cell.figure} {cell.word}" in box
    assert "71.5 lb/ac bulk" in box
    assert "1.28 bu/ac bushels of 56 lb (United States)" in box
    assert "61.0 lb/ac live" in box


def test_the_bin_reaches_and_says_how_far_a_heavy_spreader_gets(tmp_path: Path) -> None:
    """Scenario A: 2.2 % to spare; at 5 % over out at 353 acres."""
    page = rye(tmp_path).get("/seed").text
    assert "Enough Bin rye: 2.2 % to spare." in text_of(page)
    assert page.count("5 % over: out at 353 ac") == 2  # the phone's bar and the desk's


def test_a_bin_that_does_not_reach_says_where_it_runs_out(tmp_path: Path) -> None:
    """3.00 ft of grain instead of 3.60."""
    page = rye(tmp_path, ('depth = "3.60 ft"', 'depth = "3.00 ft"')).get("/seed").text
    answer = seed_answer(read_farm(tmp_path / "rye-after-soybeans")).main
    assert answer.bin is not None
    assert words.bin_short(answer.bin, "us").startswith("Not enough Bin rye: it does 309 ac of")
    assert words.bin_short(answer.bin, "us") in text_of(page)
    assert "runs out at 309 ac" in page


def test_a_lot_that_needs_the_office_says_so_and_carries_no_tick(tmp_path: Path) -> None:
    """68 of 100 sprouted; nobody has agreed."""
    page = rye(tmp_path, LOW).get("/seed").text
    assert 'data-fit="ask"' in page
    assert "USE HEAVIER, ASK THE OFFICE FIRST" in page
    assert "does the office take Bin rye at 68 %" in text_of(page)
    assert not re.search("[✓✔☑✅]", page)


def test_an_agreement_is_named_once_it_is_recorded(tmp_path: Path) -> None:
    """Who and when."""
    page = rye(tmp_path, LOW, AGREED).get("/seed").text
    assert 'data-fit="agreed"' in page
    assert "Agreed by Ms. Dale, 2026-10-01." in text_of(page)


def test_insects_stand_beside_the_germination(tmp_path: Path) -> None:
    """Three live weevils in a kilogram: a warning, not instead of the count."""
    found = '[lot.insects]\nweevils = 3\nothers = 0\nsample = "1 kg"\n\n[[bin]]'
    text = text_of(rye(tmp_path, ("[[bin]]", found)).get("/seed").text)
    assert "INSECTS: 3 live weevils" in text
    assert "176 of 200 sprouted" in text


def test_another_bulk_rate_shows_what_is_short_of_the_floor(tmp_path: Path) -> None:
    """68 lb/ac bulk: 58.0 live, 3.0 short, needs 3.5 more; a bare number is in the label's unit."""
    client = rye(tmp_path)
    for typed in ("68", "68 lb/ac"):
        text = text_of(client.get("/seed", params={"bulk": typed}).text)
        assert "58.0 lb/ac live" in text
        assert "3.0 lb/ac live short of the floor: needs +3.5 lb/ac bulk." in text


def test_another_count_is_told_with_its_low_side(tmp_path: Path) -> None:
    """172 of 200: 86 %, plan on 81 %; 88 of 100 is taken too."""
    client = rye(tmp_path)
    text = text_of(client.get("/seed", params={"sprouted": "172", "tested": "200"}).text)
    assert "Germination 86 % (plan on 81 %), 172 of 200 sprouted; a bigger count" in text
    text = text_of(client.get("/seed", params={"sprouted": "88", "tested": "100"}).text)
    assert "Germination 88 % (plan on 81 %)" in text


@pytest.mark.parametrize(
    ("asked", "place", "said"),
    [
        ({"sprouted": "210", "tested": "200"}, "sprouted", "210 cannot sprout of 200"),
        ({"sprouted": "many", "tested": "200"}, "sprouted", "A whole number"),
        ({"sprouted": "5"}, "tested", "A whole number"),
        ({"sprouted": "0", "tested": "200"}, "sprouted", "must"),
        ({"bulk": "two bags"}, "bulk", "expected"),
        ({"bulk": "-4 lb/ac"}, "bulk", "expected"),
        ({"bulk": "nan"}, "bulk", "expected"),
        ({"bulk": "68 ft"}, "bulk", "expected"),
    ],
)
def test_what_cannot_be_is_told_at_its_field(
    tmp_path: Path, asked: dict[str, str], place: str, said: str
) -> None:
    """The page stands, the field is marked, the sentence is under it."""
    answer = rye(tmp_path).get("/seed", params=asked)
    assert answer.status_code == 200
    assert re.search(rf'name="{place}"[^>]*aria-invalid="true"', answer.text)
    wrong = answer.text.split(f'id="wrong-{place}">', 1)[1].split("</p>", 1)[0]
    assert said in wrong
    assert 'class="found"' not in answer.text


def test_the_reader_s_units_are_the_only_ones(tmp_path: Path) -> None:
    """A US farm read in metric, and a metric farm read in US units."""
    # The links to what is edited carry the words of the file; they are not this page's.
    behind = "Change the figures behind"
    text = text_of(rye(tmp_path, units="metric").get("/seed?bulk=70").text).split(behind)[0]
    assert "80.1 kg/ha bulk" in text
    assert not re.search(r"\d (lb|ac|bu|ft)\b|lb/ac|bu/ac", text)
    other = reader_of(copy_of("oats-and-radish", tmp_path), units="us")
    text = text_of(other.get("/seed").text).split(behind)[0]
    assert "lb/ac bulk" in text
    assert not re.search(r"\d (kg|ha|m)\b|kg/ha", text)


def test_a_mix_shows_each_part(tmp_path: Path) -> None:
    """Oats and radish, each with its rate and its count."""
    client = reader_of(copy_of("oats-and-radish", tmp_path))
    text = text_of(client.get("/seed").text)
    assert "116.9 kg/ha bulk" in text
    assert "3.37 kg/ha bulk, Radish" in text
    assert "368 of 400 sprouted" in text
    assert "180 of 200 sprouted" in text
    text = text_of(client.get("/seed?lot=Radish&sprouted=60&tested=100").text)
    assert "Radish: USE HEAVIER, ASK THE OFFICE FIRST" in text


def test_of_several_lots_the_one_in_the_way_comes_first(tmp_path: Path) -> None:
    """Forty fields, three lots; triticale without its agreement."""
    toml = (Path(__file__).parents[2] / "examples" / "forty-fields" / "farm.toml").read_text(
        "utf-8"
    )
    agreed = next(line for line in toml.splitlines() if line.startswith("agreed_by"))
    on = next(line for line in toml.splitlines() if line.startswith("agreed_on"))
    folder = copy_of("forty-fields", tmp_path, farm_toml=[(agreed + "\n", ""), (on + "\n", "")])
    page = reader_of(folder).get("/seed").text
    assert page.index('data-fit="ask"') < page.index('data-fit="use"')
    assert "1 of 3 lots needs you first." in page
    assert page.count('<section class="lot"') == 3


def test_a_bushel_names_its_country(tmp_path: Path) -> None:
    """Oats are 32 lb a bushel in the US, 34 in Canada; pounds stay."""
    oats = ('species = "rye"', 'species = "oats"')
    here = text_of(rye(tmp_path / "us", oats).get("/seed").text)
    north = text_of(
        rye(tmp_path / "ca", oats, ('country = "US"', 'country = "CA"')).get("/seed").text
    )
    assert "of 32 lb (United States)" in here
    assert "of 34 lb (Canada)" in north
    assert "71.5 lb/ac bulk" in here
    assert "71.5 lb/ac bulk" in north


def test_a_name_is_never_markup(tmp_path: Path) -> None:
    """A lot named like a script, in the page and typed into the form."""
    name = "<script>alert(1)</script>"
    client = rye(
        tmp_path, ('name = "Bin rye"', f'name = "{name}"'), ('lot = "Bin rye"', f'lot = "{name}"')
    )
    page = client.get("/seed", params={"bulk": '"><script>', "lot": name}).text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert not INLINE.search(page)


@pytest.mark.parametrize("example", ["rye-after-soybeans", "oats-and-radish", "forty-fields"])
def test_nothing_is_inline(tmp_path: Path, example: str) -> None:
    """No style and no script that the page's policy would block."""
    page = reader_of(copy_of(example, tmp_path)).get("/seed?bulk=60").text
    assert not INLINE.search(page)
