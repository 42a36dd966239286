"""The command about evenness, run as a person would on the two examples with trays."""

from __future__ import annotations

import json
import struct
from pathlib import Path
from typing import Any

import pytest
from made_folders import EXAMPLES, asked, copy_of

from duskline.answers.evenness import NoTrayTest
from duskline.cli.evenness import evenness
from duskline.units import UnitError
from duskline.words.errors import sentences

RYE = EXAMPLES / "rye-after-soybeans"
OATS = EXAMPLES / "oats-and-radish"
LEVERS = [
    "present",
    "best_width",
    "centre",
    "half_rate_twice",
    "cross",
    "two_covers",
    "angle_0",
    "angle_5",
    "angle_10",
    "angle_20",
    "angle_30",
    "slower_by_eye",
    "more_overlap",
]


def said(capsys: pytest.CaptureFixture[str], folder: Path, name: str, **asked: Any) -> str:
    """Return what the command printed; it must end well."""
    with pytest.raises(SystemExit) as ended:
        evenness(folder, name, **asked)
    assert ended.value.code == 0
    return capsys.readouterr().out


def found(capsys: pytest.CaptureFixture[str], folder: Path, name: str, **asked: Any) -> Any:
    """Return the command's JSON answer."""
    return json.loads(said(capsys, folder, name, as_json=True, **asked))


@pytest.mark.parametrize(("folder", "name"), [(RYE, "A1"), (OATS, "B1")])
def test_the_json_has_its_fixed_names(
    folder: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What other programs read; every lever with its figures and range."""
    answer = found(capsys, folder, name)
    assert set(answer) >= {"before_cv", "after_cv", "angle_deg", "levers", "advice"}
    assert 0.0 < answer["after_cv"] <= answer["before_cv"] < 0.25
    assert [one["key"] for one in answer["levers"]] == LEVERS
    for one in answer["levers"]:
        assert set(one) >= {
            "key",
            "cv",
            "cv_low",
            "cv_high",
            "thin_tenth_plants_per_m2",
            "below_half_fraction",
            "extra_minutes",
            "extra_cost",
        }
        assert one["cv_low"] <= one["cv"] <= one["cv_high"]
    assert answer["levers"][0]["cv"] == answer["after_cv"]
    assert isinstance(answer["advice"], str)
    assert "working" not in answer


def test_the_figures_of_scenario_a_are_those_of_its_trays(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Rye at 40 ft: 11 % before and after; set straight 6 %; half rate twice 7 %."""
    answer = found(capsys, RYE, "A1")
    levers = {one["key"]: one for one in answer["levers"]}
    assert answer["angle_deg"] == pytest.approx(5.0)
    assert answer["before_cv"] == pytest.approx(0.1108, abs=1e-4)
    assert answer["after_cv"] == pytest.approx(0.1107, abs=1e-4)
    assert levers["centre"]["cv"] == pytest.approx(0.0634, abs=1e-4)
    assert levers["half_rate_twice"]["cv"] == pytest.approx(0.0673, abs=1e-4)
    assert answer["advice_key"] == "centre"
    assert answer["currency"] == "USD"


def test_the_figures_of_scenario_b_go_by_the_radish(capsys: pytest.CaptureFixture[str]) -> None:
    """9 m in the mix: 14 % by the radish; 7 m would halve it, and is not urged."""
    answer = found(capsys, OATS, "B1", why=True)
    levers = {one["key"]: one for one in answer["levers"]}
    assert answer["ruled_by"] == "Radish"
    assert answer["angle_deg"] == pytest.approx(8.0)
    assert answer["after_cv"] == pytest.approx(0.1406, abs=1e-4)
    assert levers["best_width"]["driving_width_m"] == pytest.approx(7.0)
    assert levers["best_width"]["lot"] == "Oats"
    assert answer["advice_kind"] == "even enough"
    assert len(answer["working"]) >= 6


def test_the_page_gives_one_answer_first_and_the_table_below(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Headline, advice, table, angle, ground, cost; no line beyond eighty columns."""
    text = said(capsys, RYE, "A3")
    order = [
        text.index(words)
        for words in (
            "CENTER THE SPREADER",
            "As you drive now, 40 ft back and forth",
            "The levers",
            "Half rate, twice",
            "The covering angle",
            "On the ground",
            "What it costs",
        )
    ]
    assert order == sorted(order)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "Working" not in text
    why = said(capsys, RYE, "A3", why=True)
    assert "What each lever rests on" in why
    assert "exp(-2 pi^2 s^2 / L^2)" in why


def test_the_angle_asked_for_is_the_one_answered(capsys: pytest.CaptureFixture[str]) -> None:
    """20 degrees change the plan and hardly the evenness."""
    usual, wide = found(capsys, RYE, "A3"), found(capsys, RYE, "A3", angle="20 deg")
    assert wide["angle_deg"] == pytest.approx(20.0)
    assert abs(wide["after_cv"] - usual["after_cv"]) < 0.002
    assert wide["angle"]["row_kept"] < usual["angle"]["row_kept"]


def test_pictures_are_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A drawing that opens, and a PNG of the size asked."""
    svg, png = tmp_path / "map.svg", tmp_path / "map.png"
    text = said(capsys, RYE, "A9", svg=svg, png=png, which="before")
    assert f"Written: {svg}" in text.replace("\n", " ") or svg.name in text
    drawing = svg.read_text(encoding="utf-8")
    assert drawing.startswith("<svg")
    assert drawing.rstrip().endswith("</svg>")
    assert "A9" in drawing
    head = png.read_bytes()[:24]
    assert head.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack(">II", head[16:24])
    assert max(width / 1600, height / 1200) == pytest.approx(1.0, abs=0.01)


def test_cells_and_seed_reach_the_map_and_not_the_table(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Quarter-metre cells and another steering: the table stays as it is."""
    one = found(capsys, RYE, "A9")
    other = found(capsys, RYE, "A9", cell="0.25 m", seed=3)
    assert one["levers"] == other["levers"]
    assert other["map"]["cell_m"] == 0.25
    assert other["map"]["plot_m"] == one["map"]["plot_m"] == 1.0
    assert other["map"]["after_cv"] != one["map"]["after_cv"]


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ({"name": "A33"}, "nearest: A3"),
        ({"name": "A3", "angle": "60 deg"}, "0 to 45 degrees"),
        ({"name": "A3", "cell": "5 m"}, "10 cm to 1 m"),
        ({"name": "A3", "cell": "5 lb"}, "with its unit"),
    ],
)
def test_what_cannot_be_asked_is_told_in_a_sentence(asked: dict[str, str], expected: str) -> None:
    """A field that is not there, an angle and cells that make no sense."""
    name = asked.pop("name")
    with pytest.raises(UnitError) as wrong:
        evenness(RYE, name, **asked)  # type: ignore[arg-type]
    assert expected in " ".join(sentences(wrong.value))


def test_without_trays_the_farmer_is_told_to_set_them(tmp_path: Path) -> None:
    """A clear sentence and not a figure made up."""
    folder = copy_of("rye-after-soybeans", tmp_path)
    (folder / "trays.csv").unlink()
    with pytest.raises(NoTrayTest) as wrong:
        evenness(folder, "A3")
    assert sentences(wrong.value)[0].startswith("No tray test for Bin rye: set trays first.")


def test_the_command_line_knows_it(tmp_path: Path) -> None:
    """Through the program itself: table, strips and sheet written."""
    strips = tmp_path / "strips.svg"
    found = asked(
        "evenness", RYE, "A9", "--cell", "1 m", "--strips", strips, "--sheet", tmp_path / "out"
    )
    assert found.exit_code == 0
    assert "The levers" in found.stdout
    assert strips.read_text(encoding="utf-8").startswith("<svg")
    assert (tmp_path / "out" / "evenness-A9.pdf").read_bytes().startswith(b"%PDF")
