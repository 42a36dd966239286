"""The command line: exit codes, sentences instead of traces, a quick --help."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from made_folders import EXAMPLES, asked, asked_json, copy_of

RYE = "rye-after-soybeans"
HEAVY = ("numpy", "scipy", "numba", "pint", "pydantic", "shapely", "typst", "pyproj")


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """Return what a real process of the command gave."""
    command = [sys.executable, "-m", "duskline", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603


def test_help_loads_nothing_heavy() -> None:
    """--help must be quick: none of the big libraries is imported for it."""
    found = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "duskline", "--help"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 0
    loaded = {line.rsplit("|", 1)[-1].strip().split(".")[0] for line in found.stderr.splitlines()}
    assert "click" in loaded
    assert not loaded & set(HEAVY)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("day", "nowhere"), "no such folder"),
        (("day", EXAMPLES / RYE, "--date", "18 October"), "a date such as 2026-10-18"),
        (("day", EXAMPLES / RYE, "--now", "noon"), 'a clock time such as "13:00"'),
        (("day", EXAMPLES / RYE, "--now", "13:00", "--spread", "96.7"), "with its unit"),
        (("day", EXAMPLES / RYE, "--sure", "certain"), '"16 in 20"'),
        (("day", EXAMPLES / RYE, "--down", "Combine 1-2"), "a machine and its hours"),
        (("day", EXAMPLES / RYE, "--date", "2026-10-20"), "ground not fit"),
        (("day", EXAMPLES / RYE, "--spread", "10 ac"), "need the time they were read"),
        (
            ("day", EXAMPLES / RYE, "--now", "13:00", "--spread", "10 ac", "--covered", "20 ac"),
            "Area covered is 20.0 ac; it must lie between 0.0 ac and 10.0 ac",
        ),
        (("defaults", "leed"), "nearest: lead"),
        (("trays", EXAMPLES / RYE / "farm.toml"), "farm.toml"),
        (("day",), "Missing argument"),
        (("plan", "x"), "No such command"),
    ],
)
def test_bad_input_gets_a_sentence_and_exit_code_2(
    arguments: tuple[str | Path, ...], words: str
) -> None:
    """Never a trace: one sentence that says what was read and what was expected."""
    found = run(*arguments)
    assert found.returncode == 2
    assert words in " ".join((found.stderr + found.stdout).split())
    assert "Traceback" not in found.stderr


def test_a_broken_folder_lists_every_problem_of_every_file(tmp_path: Path) -> None:
    """Two mistakes in farm.toml and one in the trays: all three at once, with their places."""
    farm = copy_of(
        RYE,
        tmp_path,
        farm_toml=[('speed = "8 mph"', 'sped = "8 mph"'), ('purity = "97 %"', "purity = 97")],
        trays_csv=[("\n30,", "\n31,")],
    )
    found = run("day", farm)
    assert found.returncode == 2
    assert "sped" in found.stderr
    assert "'speed'" in found.stderr
    assert "lot.1.purity" in found.stderr
    assert "trays.csv" in found.stderr
    assert run("check", farm).returncode == 2


def test_the_json_of_the_day_has_its_fixed_names() -> None:
    """The names other programs rely on."""
    found = asked_json("day", EXAMPLES / RYE)
    assert found.keys() >= {
        "date", "spread_opens_at", "spread_until", "cover_opens_at", "cover_until", "stop_at",
        "spread_area_m2", "sure", "chance", "by_sureness", "ladder", "last_load_kg", "average",
        "open_if_no_changeover_m2", "open_at_cutoff_m2", "bare_if_hopeless_m2", "levers", "why",
    }  # fmt: skip
    assert found["by_sureness"][0].keys() >= {"sure", "stop_at", "spread_area_m2"}
    assert found["ladder"][0].keys() >= {"at", "open_area_m2", "loads"}
    assert found["stop_at"].endswith("-05:00")
    assert found["date"] == "2026-10-18"


def test_the_json_of_seed_and_trays_has_its_fixed_names() -> None:
    """The names other programs rely on."""
    seed = asked_json("seed", EXAMPLES / RYE)
    assert seed.keys() >= {"germination", "pure_live_seed", "rate", "bin", "loads"}
    assert seed["rate"].keys() >= {"bulk_kg_per_m2", "live_kg_per_m2", "bushels_per_acre"}
    assert seed["bin"].keys() >= {"mass_kg", "needed_kg", "enough", "area_m2"}
    trays = asked_json("trays", EXAMPLES / RYE / "trays.csv")
    assert trays.keys() >= {"widths", "good_to_back_and_forth_m", "good_to_round_m", "convention"}
    assert trays["widths"][0].keys() >= {
        "driving_width_m", "cv_back_and_forth", "cv_round", "interpolated",
    }  # fmt: skip


def test_why_opens_the_working_with_its_sources() -> None:
    """Every figure can be opened: formula, inputs, and where each came from."""
    shown = asked("day", EXAMPLES / RYE, "--why").stdout
    assert "S x = C1 (T - lead) + C2 (T - x - changeover)" in " ".join(shown.split())
    assert "[farm.toml]" in shown
    assert "default:" in shown
    working = asked_json("day", EXAMPLES / RYE, "--why")["working"]
    assert all(one["source"] for step in working for one in step["inputs"])


def test_no_line_is_wider_than_the_terminal() -> None:
    """Eighty columns hold every line of every answer."""
    for arguments in (
        ("day", EXAMPLES / RYE, "--why"),
        ("day", EXAMPLES / "oats-and-radish"),
        ("day", EXAMPLES / "forty-fields"),
        ("seed", EXAMPLES / "forty-fields", "--why"),
        ("trays", EXAMPLES / "oats-and-radish"),
        ("check", EXAMPLES / RYE),
        ("defaults",),
    ):
        for line in asked(*arguments).stdout.splitlines():
            assert len(line) <= 80, line


def test_a_reader_never_meets_a_mix_of_units() -> None:
    """US customary prints no hectares or metres, metric no acres, feet or pounds."""
    us = asked("day", EXAMPLES / RYE, "--why").stdout.split()
    assert not {"ha", "ha/h", "kg", "m", "km/h"} & set(us)
    metric = asked("day", EXAMPLES / "oats-and-radish", "--why").stdout.split()
    assert not {"ac", "ac/h", "lb", "ft", "mph", "pm", "am"} & set(metric)


def test_demo_lays_out_a_farm_and_writes_its_sheets(tmp_path: Path) -> None:
    """The first command of the README: a farm, its stop time on screen, a folder of sheets."""
    found = run("demo", tmp_path / "demo")
    assert found.returncode == 0, found.stderr
    assert "STOP SPREADING AT" in found.stdout
    assert (tmp_path / "demo" / "farm.toml").is_file()
    names = {path.name for path in (tmp_path / "demo" / "sheets").glob("*.pdf")}
    assert {"day-sheet.pdf", "windshield-card.pdf", "seed-truck-card.pdf"} <= names
    again = run("demo", tmp_path / "demo", "--json")
    assert json.loads(again.stdout)["sheets"]


def test_demo_writes_into_no_strangers_folder(tmp_path: Path) -> None:
    """A folder that holds other things is left alone."""
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    found = run("demo", tmp_path)
    assert found.returncode == 2
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]
