"""Farm folders for the tests: copies of the examples, with some text changed, and the command."""

from __future__ import annotations

import json
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from duskline.cli.main import cli

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
ACRE_M2 = 4046.8564224
HECTARE_M2 = 1e4
POUND_KG = 0.45359237
FOOT_M = 0.3048

TWO_CREWS = """
[[crew]]
name = "Crew 1"
machines = ["Spreader 1", "Cultivator 2", "Cultivator 3"]
seed_trucks = ["Seed truck 1"]

[[crew]]
name = "Crew 2"
machines = ["Spreader 2", "Cultivator 1"]
seed_trucks = ["Seed truck 2"]

"""
"""The machines of the forty fields, parted."""
AWAY = "[[away]]\n"


def two_crews(folder: Path, *pairs: tuple[str, str]) -> Path:
    """Return a copy of the forty fields with its machines in two crews, texts then replaced."""
    return copy_of("forty-fields", folder, farm_toml=[(AWAY, TWO_CREWS + AWAY), *pairs])


def copy_of(example: str, folder: Path, **changes: list[tuple[str, str]]) -> Path:
    """Return a copy of an example in ``folder`` with texts replaced.

    Each keyword names a file (dots written as underscores) and lists (old, new); an old text
    that is not in the file is an error, so that a test cannot pass on an unchanged farm.
    """
    target = folder / example
    shutil.copytree(EXAMPLES / example, target)
    for key, pairs in changes.items():
        path = next(p for p in target.iterdir() if p.name.replace(".", "_") == key)
        text = path.read_text(encoding="utf-8")
        for old, new in pairs:
            if old not in text:
                raise AssertionError(f"{path.name} does not hold {old!r}")
            text = text.replace(old, new)
        path.write_text(text, encoding="utf-8")
    return target


def asked(*arguments: str | Path) -> Result:
    """Return what the command printed, with its exit code."""
    return CliRunner().invoke(cli, [str(a) for a in arguments], catch_exceptions=False)


def asked_json(*arguments: str | Path) -> Any:
    """Return the command's JSON answer."""
    return json.loads(asked(*arguments, "--json").stdout)


def minutes_from(text: str, clock: str) -> float:
    """Return how many minutes an ISO moment lies after a clock time of the same day."""
    moment = datetime.fromisoformat(text)
    hours, minutes = (int(part) for part in clock.split(":"))
    day = moment.replace(hour=0, minute=0, second=0, microsecond=0)
    return (moment - day - timedelta(hours=hours, minutes=minutes)).total_seconds() / 60.0
