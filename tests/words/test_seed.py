"""The seed in words: rate cells, loads, what to ask, the first load."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_folders import EXAMPLES

from duskline.answers.seed import FieldLoad, SeedAnswer, seed_answer
from duskline.exchange.farmfolder import read_farm
from duskline.words import seed as words

RYE = seed_answer(read_farm(EXAMPLES / "rye-after-soybeans"))
MIX = seed_answer(read_farm(EXAMPLES / "oats-and-radish"))
ACRE_M2 = 4046.8564224


def test_each_figure_of_the_rate_has_its_word() -> None:
    """Bulk, bushels, live, live seeds; in metric no bushels."""
    us = [(cell.figure, cell.word) for cell in words.rate_cells(RYE.main, "us")]
    assert us == [
        ("71.5 lb/ac", "bulk"),
        ("1.28 bu/ac", "bushels"),
        ("61.0 lb/ac", "live"),
        ("26.5", "live seeds per ft2"),
    ]
    assert [cell.word for cell in words.rate_cells(RYE.main, "metric")] == [
        "bulk",
        "live",
        "live seeds per m2",
    ]


def test_the_loads_of_a_field_say_which_runs_empty() -> None:
    """349 lb of the first to its end, then the second."""
    row = FieldLoad(
        field="A2", area_m2=1.0, mass_kg=1.0, loads=((1, 158.3, True), (2, 1147.6, False))
    )
    assert words.loads_text(row, "us") == "load 1 to its end (349 lb), 2,530 lb of load 2"


def test_nothing_is_to_be_asked_of_a_fit_lot() -> None:
    """88 %."""
    assert words.office_lines(RYE.main) == []


def test_lots_without_a_bin_are_not_said_to_reach() -> None:
    """Fit is one thing, enough another."""
    both = SeedAnswer(lots=(RYE.main, RYE.main))
    assert words.lots_line(both) == "All 2 lots are fit and reach."
    bare = SeedAnswer(lots=(RYE.main, replace(RYE.main, bin=None)))
    assert words.lots_line(bare) == "All 2 lots are fit."


@pytest.mark.parametrize(
    ("acres", "told"),
    [
        (76.0, "10.5 % heavy: close the gate to 0.905 of flow."),
        (90.0, "6.7 % light: open the gate to 1.072 of flow."),
        (83.96, "as planned. Leave the gate alone."),
    ],
)
def test_the_first_load_turns_the_gate_the_right_way(acres: float, told: str) -> None:
    """6,000 lb, 84 acres planned."""
    assert words.first_load_lines(RYE.main, acres * ACRE_M2, "us")[0].endswith(told)


def test_a_load_of_a_mix_says_nothing_of_one_part_s_bin() -> None:
    """The bin holds oats, the load oats and radish: no acres are promised from it."""
    assert MIX.main.bin is not None
    assert len(words.first_load_lines(MIX.main, 190_000.0, "metric")) == 1


def test_both_languages_carry_the_same_figures() -> None:
    """Only the words differ."""

    def figures(language: words.Language) -> list[str]:
        lines = words.first_load_lines(RYE.main, 76.0 * ACRE_M2, "us", language)
        found = " ".join(lines).replace(",", "").replace(":", "")
        return sorted(word for word in found.split() if word[0].isdigit())

    assert figures("en") == figures("es")
    assert len(figures("en")) == 6
