"""The fields one by one: shown as their file has them, changed with what is wrong at its box."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from urllib.parse import quote

import pytest
from asking import INLINE, Reader, readers_closed, text_of
from made_folders import EXAMPLES, copy_of

from duskline.core.log import Event
from duskline.exchange.farmfolder import read_farm
from duskline.units import show

NOON = datetime.fromisoformat("2026-10-18T13:00:00-05:00")
HOSTILE = '<script>alert(1)</script> "x" / {0.__class__} & \''


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    """Close the stores."""
    with readers_closed():
        yield


def rye(folder: Path, *pairs: tuple[str, str], **cookies: str) -> Reader:
    """Return a reader of the rye farm, some of its outlines' text replaced."""
    found = copy_of("rye-after-soybeans", folder, fields_geojson=list(pairs))
    return Reader(found, lambda: NOON, **cookies)


def boxes(page: str) -> dict[str, str]:
    """Return what stands in every box of the form, by path."""
    found = {}
    for name, value in re.findall(r'<input id="k\.([^"]*)" name="[^"]*" value="([^"]*)"', page):
        found[name] = html.unescape(value)
    for name, value in re.findall(r'<textarea id="k\.([^"]*)"[^>]*>(.*?)</textarea>', page, re.S):
        found[name] = html.unescape(value)
    for name, inner in re.findall(r'<select id="k\.([^"]*)"[^>]*>(.*?)</select>', page, re.S):
        chosen = re.search(r"<option selected>(.*?)</option>", inner)
        found[name] = html.unescape(chosen[1]) if chosen else ""
    return found


def seen_in(page: str) -> str:
    """Return the mark of the field as the page shows it."""
    found = re.search(r'name="seen" value="([0-9a-f]{16})"', page)
    assert found
    return found[1]


def properties(reader: Reader, name: str) -> dict[str, object]:
    """Return a field's properties as the file now has them."""
    document = json.loads((reader.desk.folder / "fields.geojson").read_text(encoding="utf-8"))
    found: dict[str, object] = next(
        one["properties"] for one in document["features"] if one["properties"]["name"] == name
    )
    return found


def sent(reader: Reader, name: str, /, **typed: str) -> object:
    """Send the form of a field as it is shown, but for what was typed."""
    address = f"/farm/fields/{quote(name, safe='')}"
    page = reader.get(address).text
    data = {f"k.{path}": value for path, value in boxes(page).items()}
    data |= {f"k.{key.replace('__', '.')}": value for key, value in typed.items()}
    return reader.post(address, {**data, "seen": seen_in(page), "do": "save"})


def rows_of(page: str) -> dict[str, str]:
    """Return what the list has of each field."""
    found = re.findall(r'<tr data-field="([^"]*)">(.*?)</tr>', page, re.S)
    return {
        html.unescape(name): " ".join(re.sub(r"<[^>]*>", " ", inner).split())
        for name, inner in found
    }


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_list_has_every_field_with_its_area_in_the_readers_units(
    tmp_path: Path, units: str
) -> None:
    """Areas by the outlines; the total is theirs."""
    reader = rye(tmp_path, units=units)
    farm = read_farm(reader.desk.folder)
    page = reader.get("/farm/fields").text
    rows = rows_of(page)
    assert list(rows) == [one.name for one in farm.fields]
    for one in farm.fields:
        assert show(one.area_m2, "area", units, 1) in rows[one.name]  # type: ignore[arg-type]
    assert f"{len(farm.fields)} fields, " in text_of(page)
    main = text_of(page)
    assert (" ha" in main) == (units == "metric")
    assert (" ac " in main) == (units == "us")
    assert "Ready Oct 20, 5:00 pm" in rows["A5"] if units == "us" else "20 Oct, 17:00" in rows["A5"]
    assert "Ready now" in rows["A1"]


def test_the_form_shows_every_property_as_the_file_has_it(tmp_path: Path) -> None:
    """And the same sent back changes nothing."""
    reader = rye(tmp_path)
    before = (reader.desk.folder / "fields.geojson").read_bytes()
    found = boxes(reader.get("/farm/fields/A2").text)
    assert found["name"] == "A2"
    assert found["ready_from"] == "2026-10-19 09:00"
    assert found["edges.0.side"] == "east"
    assert found["edges.0.kind"] == "water"
    assert found["edges.1.side"] == ""
    assert found["gate"] == "-93.46862, 41.9963945"
    sent(reader, "A2")
    assert (reader.desk.folder / "fields.geojson").read_bytes() == before


def test_a_change_is_saved_and_seen_on_the_next_page(tmp_path: Path) -> None:
    """From the form to the file to the list to the farm."""
    reader = rye(tmp_path)
    answer = sent(reader, "A2", ready_from="2026-10-20 8:00 am", edges__1__side="north",
                  edges__1__kind="road", notes="Line one\r\nline <two>")  # fmt: skip
    assert "A2 is saved." in text_of(answer.text)  # type: ignore[attr-defined]
    assert "Ready Oct 20, 8:00 am" in rows_of(reader.get("/farm/fields").text)["A2"]
    assert properties(reader, "A2")["notes"] == "Line one\nline <two>"
    field = next(one for one in reader.desk.farm().fields if one.name == "A2")
    assert [one.kind for one in field.edges] == ["water", "road"]
    assert boxes(reader.get("/farm/fields/A2").text)["notes"] == "Line one\nline <two>"


def test_what_is_wrong_stands_at_its_box_with_what_was_typed(tmp_path: Path) -> None:
    """Nothing is written; all else that was typed is still there."""
    reader = rye(tmp_path, units="metric")
    before = (reader.desk.folder / "fields.geojson").read_bytes()
    answer = sent(reader, "A2", slope="steep", notes="kept", edges__1__side="west")
    page = answer.text  # type: ignore[attr-defined]
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert (reader.desk.folder / "fields.geojson").read_bytes() == before
    assert boxes(page)["slope"] == "steep"
    assert boxes(page)["notes"] == "kept"
    assert boxes(page)["edges.1.side"] == "west"
    wrong = re.findall(r'id="k\.([^"]*)"[^>]*aria-invalid', page)
    assert wrong == ["slope", "edges.1.kind"]
    assert "Read &#34;steep&#34;; expected a figure with its unit" in page
    assert not re.search(r"\d (ac|ft|lb)\b", text_of(page))


def test_hostile_names_and_notes_stay_text(tmp_path: Path) -> None:
    """In the list, the form, the map, the addresses, the title and what was refused."""
    reader = rye(tmp_path)
    sent(reader, "A2", name=HOSTILE, notes="</textarea><script>", customer='"><img src=x>')
    address = f"/farm/fields/{quote(HOSTILE, safe='')}"
    again = reader.post(address, {"k.slope": "<i>", "do": "save"})
    assert again.status_code == 422
    for page in (reader.get("/farm/fields").text, reader.get(address).text, again.text):
        assert not INLINE.search(page)
        assert "<script>" not in page
        assert "<img" not in page
        assert "<i>&" not in page
    assert boxes(reader.get(address).text)["name"] == HOSTILE
    assert html.escape(address, quote=True) in reader.get("/farm/fields").text


def test_a_name_the_farm_does_not_know_is_answered_with_the_near_ones(tmp_path: Path) -> None:
    """404, with a hint; also for a form that is sent."""
    reader = rye(tmp_path)
    for answer in (reader.get("/farm/fields/A22"), reader.post("/farm/fields/A22", {"do": "save"})):
        assert answer.status_code == 404
        assert "There is no field A22" in text_of(answer.text)
        assert 'href="/farm/fields/A2"' in answer.text


def test_a_field_changed_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    """The second of two who opened the same form is told."""
    reader = rye(tmp_path)
    seen = seen_in(reader.get("/farm/fields/A2").text)
    sent(reader, "A2", notes="first")
    late = reader.post("/farm/fields/A2", {"k.notes": "second", "seen": seen, "do": "save"})
    assert late.status_code == 422
    assert "changed since this page was opened" in text_of(late.text)
    assert boxes(late.text)["notes"] == "second"
    assert properties(reader, "A2")["notes"] == "first"
    # Sent again as it is, it is refused again: the page has to be opened anew.
    assert seen_in(late.text) == seen


def spread(name: str) -> Event:
    """Return an event of a load's work in a field."""
    return Event(
        at=NOON, what="spread", machine="Spreader", field=name, area_m2=4000.0, id=f"e-{name}"
    )


def test_a_field_in_the_log_keeps_its_name_and_goes_only_where_that_is_meant(
    tmp_path: Path,
) -> None:
    """Afterwards the pages still answer, with the work that was told."""
    reader = rye(tmp_path)
    reader.desk.append([spread("A2")])
    page = reader.get("/farm/fields/A2").text
    assert re.search(r'<input id="k\.name"[^>]*readonly', page)
    renamed = sent(reader, "A2", name="Creek")
    assert renamed.status_code == 422  # type: ignore[attr-defined]
    asked = reader.post("/farm/fields/A2", {"do": "remove", "seen": seen_in(page)})
    assert asked.status_code == 422
    assert 'name="sure"' in asked.text
    assert "A2" in rows_of(reader.get("/farm/fields").text)
    gone = reader.post("/farm/fields/A2", {"do": "remove", "seen": seen_in(page), "sure": "yes"})
    assert "A2 is taken out" in text_of(gone.text)
    assert "A2" not in rows_of(gone.text)
    for path in ("/", "/drives", "/farm", "/seed"):
        assert reader.get(path).status_code == 200


def test_a_field_is_taken_out_and_the_file_kept(tmp_path: Path) -> None:
    """One of nine."""
    reader = rye(tmp_path)
    page = reader.get("/farm/fields/A3").text
    gone = reader.post("/farm/fields/A3", {"do": "remove", "seen": seen_in(page)})
    assert "8 fields" in text_of(gone.text)
    kept = next((reader.desk.folder / "kept").iterdir())
    assert '"A3"' in kept.read_text(encoding="utf-8")


def test_a_farm_with_a_problem_in_a_field_shows_it_there(tmp_path: Path) -> None:
    """The list says where, the form says what, and there it is put right."""
    reader = rye(tmp_path, ('"ready_from": "2026-10-19T09:00"', '"ready_from": "soon"'))
    row = rows_of(reader.get("/farm/fields").text)["A2"]
    assert "to put right" in row
    assert "Ready not known" in row
    page = reader.get("/farm/fields/A2").text
    assert re.findall(r'id="k\.([^"]*)"[^>]*aria-invalid', page)[0] == "ready_from"
    sent(reader, "A2", ready_from="2026-10-19")
    assert "to put right" not in rows_of(reader.get("/farm/fields").text)["A2"]
    assert [one.sentence for one in reader.desk.read().problems] == []
    assert reader.desk.farm().fields


def test_a_folder_without_outlines_says_what_is_missing(tmp_path: Path) -> None:
    """The first visit, and a farm laid out without its fields."""
    reader = Reader(tmp_path, lambda: NOON)
    assert "No field yet" in text_of(reader.get("/farm/fields").text)
    (tmp_path / "farm.toml").write_bytes(
        (EXAMPLES / "rye-after-soybeans" / "farm.toml").read_bytes()
    )
    page = reader.get("/farm/fields").text
    assert "No field yet" in text_of(page)
    assert "fields.geojson: read no such file" in text_of(page)


def test_what_other_programs_wrote_is_shown_and_kept(tmp_path: Path) -> None:
    """A property of theirs, short whatever it is."""
    reader = rye(tmp_path, ('"name": "A2"', '"name": "A2", "monitor <id>": ["<b>", 1.50]'))
    page = reader.get("/farm/fields/A2").text
    assert "monitor &lt;id&gt;" in page
    sent(reader, "A2", notes="x")
    text = (reader.desk.folder / "fields.geojson").read_text(encoding="utf-8")
    assert '"monitor <id>": ["<b>", 1.50]' in text


def test_forty_fields_weigh_little(tmp_path: Path) -> None:
    """The list of forty, and the form, well under what a phone takes at once."""
    reader = Reader(copy_of("forty-fields", tmp_path), lambda: NOON)
    page = reader.get("/farm/fields").text
    assert len(rows_of(page)) == 40
    assert "Customer P" in rows_of(page)["C1"]
    assert len(page) < 60_000
    assert len(reader.get("/farm/fields/C1").text) < 60_000


def test_ground_left_out_is_told_wherever_it_is_written(tmp_path: Path) -> None:
    """In the field's own list it is edited; what the farm's file leaves out is named."""
    reader = rye(tmp_path)
    path = reader.desk.folder / "farm.toml"
    piece = '\n[[left_out]]\nfield = "A2"\nwhat = "old <well>"\narea = "0.2 ac"\n'
    path.write_text(path.read_text(encoding="utf-8") + piece, encoding="utf-8")
    sent(reader, "A2", left_out__0__what="wet hole", left_out__0__area="0.4 ac")
    text = text_of(reader.get("/farm/fields/A2").text)
    assert "On the Farm page as well: old <well>." in text
    assert boxes(reader.get("/farm/fields/A2").text)["left_out.0.what"] == "wet hole"
    field = next(one for one in reader.desk.farm().fields if one.name == "A2")
    assert {one.what for one in field.left_out} == {"wet hole", "old <well>"}


def test_a_form_may_be_saved_and_stayed_with(tmp_path: Path) -> None:
    """For several edges one after the other; a new name goes along."""
    reader = rye(tmp_path)
    typed = {"k.name": "Creek / east", "k.edges.1.side": "north", "k.edges.1.kind": "road"}
    page = reader.post("/farm/fields/A2", {**typed, "do": "stay"})
    assert "Creek / east is saved." in text_of(page.text)
    assert boxes(page.text)["edges.1.kind"] == "road"
    assert boxes(page.text)["edges.2.kind"] == ""


def test_more_boxes_than_the_form_has_are_not_taken(tmp_path: Path) -> None:
    """A stranger's form of many thousand boxes."""
    reader = rye(tmp_path)
    answer = reader.post("/farm/fields/A2", {f"k.{at}": "x" for at in range(4000)})
    assert answer.status_code == 400
    assert "edges" in properties(reader, "A2")
