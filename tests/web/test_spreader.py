"""The Spreader page: the width that holds, the card for the gate, the first load."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from asking import INLINE, Reader, readers_closed, text_of
from made_folders import copy_of

NOON = datetime.fromisoformat("2026-10-18T13:00:00-05:00")
WIDTH = 'driving_width = "40 ft"'


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    """Close the stores."""
    with readers_closed():
        yield


def reader_of(folder: Path, at: datetime = NOON, **cookies: str) -> Reader:
    """Return somebody who looks at the pages of a folder."""
    return Reader(folder, lambda: at, **cookies)


def rye(folder: Path, *pairs: tuple[str, str], **cookies: str) -> Reader:
    """Return a reader of the rye farm, some of its text replaced."""
    return reader_of(copy_of("rye-after-soybeans", folder, farm_toml=list(pairs)), NOON, **cookies)


def test_the_widest_width_that_holds_is_the_answer(tmp_path: Path) -> None:
    """Scenario A's trays: 45 ft back and forth, 50 ft round and round."""
    page = rye(tmp_path).get("/spreader").text
    assert 'data-width="45 ft"' in page
    text = text_of(page)
    assert "Spreader is driven at 40 ft now: even enough (11.4 %), and 45 ft would hold." in text
    assert "Round and round: good to 50 ft" in text


def test_the_table_tells_each_width_both_ways(tmp_path: Path) -> None:
    """45 ft 10.9 and 2.4 %, 50 ft 15.5 % and only usable."""
    page = rye(tmp_path).get("/spreader").text
    rows = re.findall(r"<tr[^>]*><th scope=\"row\">(.*?)</tr>", page, re.DOTALL)
    told = {text_of(f"<main><p>{row}</main>").strip() for row in rows}
    assert "45 ft 10.9 % good 2.4 % good 30.7 ac/h" in told
    assert any(row.startswith("50 ft 15.5 % usable 10.9 % good") for row in told)


def test_a_spreader_driven_too_wide_is_told_to_close_up(tmp_path: Path) -> None:
    """60 ft: a third uneven."""
    text = text_of(rye(tmp_path, (WIDTH, 'driving_width = "60 ft"')).get("/spreader").text)
    assert "driven at 60 ft now: too uneven (33.8 %). Close up to 45 ft." in text


def test_a_narrower_width_has_its_price_today(tmp_path: Path) -> None:
    """Acres of the day at average rates, by width."""
    text = text_of(rye(tmp_path).get("/spreader").text)
    assert re.search(r"Today at average rates: 45 ft does 1\d\d ac", text)
    assert re.search(r"40 ft: \d\.\d ac fewer", text)


def test_in_a_mix_the_narrowest_seed_rules(tmp_path: Path) -> None:
    """Radish 9 m, oats 12 m: 8.10 instead of 10.80 ha/h before loading."""
    at = datetime.fromisoformat("2026-03-01T09:00:00+13:00")
    page = reader_of(copy_of("oats-and-radish", tmp_path), at).get("/spreader").text
    text = text_of(page)
    assert 'data-width="9 m"' in page
    assert "Radish throws least far and rules the width." in text
    assert "Before loading 8.10 ha/h instead of 10.80 ha/h" in text
    assert "Each by itself would hold: Oats 12 m, Radish 9 m." in text


def test_the_card_holds_flow_and_bucket(tmp_path: Path) -> None:
    """46.2 lb/min, 37.7 s for five gallons, 84 acres a load."""
    card = text_of(rye(tmp_path).get("/spreader").text).split("Card: Spreader", 1)[1]
    for told in ("Gate flow 46.2 lb/min", "A level 5 gal bucket fills in 37.7 s",
                 "One load of 6,000 lb must do 84.0 ac"):  # fmt: skip
        assert told in card


def test_the_bucket_is_that_of_the_reader_s_units(tmp_path: Path) -> None:
    """20 litres take longer than five gallons, by their volumes: 37.67 s x 20 / 18.927."""
    text = text_of(rye(tmp_path, units="metric").get("/spreader").text)
    text = text.split("Change the figures behind")[0]
    assert "A level 20 L bucket fills in 39.8 s" in text
    assert not re.search(r"\d (lb|ac|ft|mph)\b|lb/min|ac/h", text)


def test_the_first_load_says_what_to_do_with_the_gate(tmp_path: Path) -> None:
    """6,000 lb ran empty after 76 ac of 84: 10.5 % heavy; 286.9 ac once corrected."""
    text = text_of(rye(tmp_path).get("/spreader?load=6000+lb&did=76").text)
    assert "78.9 lb/ac bulk, 10.5 % heavy: close the gate to 0.905 of flow." in text
    assert "The 20,501 lb left do 286.9 ac once corrected, 259.7 ac if not." in text


def test_a_load_as_planned_leaves_the_gate_alone(tmp_path: Path) -> None:
    """6,000 lb over 83.96 ac."""
    text = text_of(rye(tmp_path).get("/spreader?did=83.96").text)
    assert "as planned. Leave the gate alone." in text


def test_the_first_load_speaks_spanish_with_the_same_figures(tmp_path: Path) -> None:
    """For the crew: numbers and units as on the English page."""
    text = text_of(rye(tmp_path, lang="es").get("/spreader?load=6000&did=76").text)
    assert "Primera carga: 78.9 lb/ac bruta, 10.5 % de más: cerrar la compuerta a 0.905" in text
    assert "Flujo de la compuerta 46.2 lb/min" in text


@pytest.mark.parametrize(
    ("asked", "place", "said"),
    [
        ("load=6000", "did", "How much ground"),
        ("load=6000&did=0", "did", "expected"),
        ("did=some", "did", "expected"),
        ("load=6000+ft&did=76", "load", "expected"),
    ],
)
def test_what_cannot_be_is_told_at_its_field(
    tmp_path: Path, asked: str, place: str, said: str
) -> None:
    """The page stands and the field is marked."""
    answer = rye(tmp_path).get(f"/spreader?{asked}")
    assert answer.status_code == 200
    assert re.search(rf'name="{place}"[^>]*aria-invalid="true"', answer.text)
    assert said in answer.text.split(f'id="wrong-{place}">', 1)[1].split("</p>", 1)[0]


def test_without_trays_the_page_says_how_a_test_is_made(tmp_path: Path) -> None:
    """No width is claimed."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    (folder / "trays.csv").unlink()
    page = reader_of(folder).get("/spreader").text
    text = text_of(page)
    assert "No tray test yet" in text
    assert "Spreader is driven at 40 ft: nobody has looked whether that is even." in text
    assert "Lay 15 or more equal trays in a row" in text
    assert "data-width" not in page


def test_cautions_stand_on_the_page_in_both_languages(tmp_path: Path) -> None:
    """PTO and spinner."""
    client = rye(tmp_path)
    assert "Shields on the PTO shaft" in client.get("/spreader").text
    client.cookies["lang"] = "es"
    assert "toma de fuerza con sus protecciones" in client.get("/spreader").text


def test_a_name_is_never_markup(tmp_path: Path) -> None:
    """A lot named like a script."""
    name = "<img src=x onerror=alert(1)>"
    pairs = [('name = "Bin rye"', f'name = "{name}"'), ('lot = "Bin rye"', f'lot = "{name}"')]
    page = rye(tmp_path, *pairs).get("/spreader?did=%22%3E%3Cb%3E&lot=%3Cb%3E").text
    assert "<img" not in page
    assert "<b>" not in page.split('name="did"', 1)[1].split(">", 1)[0]


@pytest.mark.parametrize("example", ["rye-after-soybeans", "oats-and-radish", "forty-fields"])
def test_nothing_is_inline(tmp_path: Path, example: str) -> None:
    """No style and no script that the page's policy would block."""
    page = reader_of(copy_of(example, tmp_path)).get("/spreader?did=80").text
    assert not INLINE.search(page)
