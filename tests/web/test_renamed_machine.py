"""A machine renamed on a page keeps what the log says of it."""

from __future__ import annotations

import tomllib
from datetime import datetime
from pathlib import Path

from asking import Reader, readers_closed
from browsing import laid_out

from duskline.answers.telling import settled

NOON = datetime.fromisoformat("2026-10-18T13:00:00-05:00")
WORK = {"what": "covered", "machine": "Cultivator 1", "field": "A1", "how": "area", "amount": "20"}


def rename(asker: Reader, new: str) -> int:
    """Give Cultivator 1 another name on its form."""
    page = asker.get("/edit/cultivator", {"entry": "name:Cultivator 1"}).text
    seen = page.split('name="seen" value="', 1)[1].split('"', 1)[0]
    told = {"entry": "name:Cultivator 1", "back": "/farm", "seen": seen, "k.name": new}
    return asker.post("/edit/cultivator", told).status_code


def test_what_a_machine_did_under_its_old_name_stays_its_own(tmp_path: Path) -> None:
    """The new name has the day's 20 ac; the old one stands among its earlier names."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    with readers_closed():
        asker = Reader(folder, lambda: NOON)
        assert asker.post("/log", WORK).status_code == 200
        assert rename(asker, "Big Red") == 200
        farm = asker.desk.farm()
        assert [one.machine for one in settled(farm).events] == ["Big Red"]
        assert [one.machine for one in farm.told] == ["Cultivator 1"]
        assert "Nothing told of Big Red" not in asker.get("/").text
    tables = tomllib.loads((folder / "farm.toml").read_text())["cultivator"]
    assert tables[0]["was"] == ["Cultivator 1"]


def test_a_machine_the_log_does_not_know_has_no_earlier_name(tmp_path: Path) -> None:
    """Nothing is added where nothing hangs on it."""
    folder = laid_out("rye-after-soybeans", tmp_path)
    with readers_closed():
        assert rename(Reader(folder, lambda: NOON), "Big Red") == 200
    assert "was" not in tomllib.loads((folder / "farm.toml").read_text())["cultivator"][0]
