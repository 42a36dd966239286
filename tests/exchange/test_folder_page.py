"""The page about the farm folder names what the reader knows, and its example is read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from made_folders import EXAMPLES

from duskline.exchange.farm_toml import FarmToml
from duskline.exchange.farmfolder import FORECASTS
from duskline.exchange.field_facts import KNOWN_KEYS
from duskline.exchange.season_toml import AwayTable, ClimateTable, CrewTable, SeasonTable

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "farm-folder.md").read_text("utf-8")


def test_every_property_of_a_field_stands_on_the_page() -> None:
    """And none that is not read."""
    table = PAGE.split("## What a field says")[1].split("\n## ")[0]
    first_cells = re.findall(r"^\| (`.*?) \|", table, flags=re.MULTILINE)
    named = {key for cell in first_cells for key in re.findall(r"`(\w+)`", cell)}
    assert named == set(KNOWN_KEYS)


def test_every_forecast_stands_on_the_page() -> None:
    """Both files."""
    assert all(f"| `{name}` |" in PAGE for name in FORECASTS)


def test_the_season_on_the_page_is_read_and_leaves_out_only_the_first_day() -> None:
    """What the page shows is a season, with every key but one that is seldom needed."""
    text = PAGE.split("```toml\n")[1].split("```")[0]
    shown = tomllib.loads(text)
    whole = tomllib.loads((EXAMPLES / "rye-after-soybeans" / "farm.toml").read_text("utf-8"))
    form = FarmToml.model_validate(whole | shown)
    assert form.season.stability is not None
    assert set(SeasonTable.model_fields) - set(shown["season"]) == {"first_day"}
    for name, table in (("crew", CrewTable), ("away", AwayTable), ("climate", ClimateTable)):
        keys = {field.alias or key for key, field in table.model_fields.items()}
        assert keys == set(shown[name][0])
