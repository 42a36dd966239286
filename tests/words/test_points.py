"""The points and the check card in words: one system of units, both sides, no promise."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from made_folders import ACRE_M2, EXAMPLES

from duskline.answers.points import PointsAnswer, check_cards, points_answer
from duskline.cli.points_json import points_json
from duskline.core.farm import Farm, PointRow, Poke
from duskline.exchange.farmfolder import read_farm
from duskline.units import System
from duskline.words.points import (
    check_card_lines,
    headline,
    left_words,
    level_words,
    points_lines,
    points_working_lines,
    swap_lines,
    worn_words,
)

INCH_M = 0.0254
FIELDS = tuple((name, acres * ACRE_M2) for name, acres in (
    ("home", 60.0), ("creek", 50.0), ("long", 90.0), ("hill", 70.0), ("last", 95.0),
))  # fmt: skip
US_UNITS = re.compile(r"\b(ac|in|ft|mph|mi)\b(?! front| the| case| hand| points| touch)")
METRIC_UNITS = re.compile(r"\d (ha|mm|m|km|km/h)\b")
FRONT = PointRow(
    cultivator="Cultivator 1", row="front", points_count=12, worn_m=(0.018,) * 12,
    over_m2=420 * ACRE_M2, limit_m=0.030,
)  # fmt: skip
DEEP_REAR = Poke(
    cultivator="Cultivator 1",
    front_m=tuple(one * INCH_M for one in (1.0, 1.2, 1.1, 0.9, 1.3)),
    rear_m=tuple(one * INCH_M for one in (1.8, 1.9, 1.6, 2.0, 1.7)),
)


@cache
def bare() -> Farm:
    """Return the rye farm without points, pokes or a price of points."""
    farm = read_farm(EXAMPLES / "rye-after-soybeans")
    prices = replace(farm.prices, point_each=None)
    return replace(farm, point_rows=(), pokes=(), prices=prices)


def answered(*rows: PointRow, fields: Any = FIELDS, **changed: Any) -> PointsAnswer:
    """Return the answer of the bare farm with these rows."""
    return points_answer(replace(bare(), point_rows=rows, **changed), fields)


def poked(front_in: list[float], rear_in: list[float]) -> PointsAnswer:
    """Return the answer for these pokes behind the first cultivator, in inches."""
    poke = Poke(
        cultivator="Cultivator 1",
        front_m=tuple(one * INCH_M for one in front_in),
        rear_m=tuple(one * INCH_M for one in rear_in),
    )
    return answered(pokes=(poke,))


def test_the_headline_says_the_sure_swap_and_the_likely_one() -> None:
    """Sure before "long", most likely before "last" is soon enough."""
    assert headline(answered(FRONT), "us") == (
        "Swap the front row of Cultivator 1 before long (after creek) to be sure; most likely "
        "before last (after hill) is soon enough"
    )


def test_one_reading_is_told_to_measure_before_it_buys_points() -> None:
    """A single reading says little, so more readings come before a swap with ground to spare."""
    told = headline(answered(replace(FRONT, worn_m=(0.018,))), "us")
    assert told.startswith("Measure more points of the front row of Cultivator 1, or swap them ")


def test_a_swap_due_now_only_for_want_of_readings_offers_to_measure_more() -> None:
    """Nothing sure before the first field: measure more points now, rather than "then"."""
    told = "\n".join(points_lines(answered(replace(FRONT, worn_m=(0.018,))), "us"))
    assert "swap now, before home, or measure more points; most likely before last" in told


def test_a_row_at_its_limit_is_swapped_now() -> None:
    """Worn to the limit: one plain order, no two sides."""
    answer = answered(replace(FRONT, worn_m=(0.031,) * 12))
    assert headline(answer, "us") == "Swap the front row of Cultivator 1 now, before home"
    assert "  At its limit: swap it now." in points_lines(answer, "us")


def test_points_that_last_say_so_and_points_unknown_say_measure() -> None:
    """A short job lasts; with the other machine unmeasured only its own rows are promised."""
    second = replace(FRONT, cultivator="Cultivator 2")
    assert headline(answered(FRONT, second, fields=FIELDS[:1]), "us") == "The points last the job"
    assert headline(answered(FRONT, fields=FIELDS[:1]), "us") == (
        "The rows measured last the job; the others are not measured"
    )
    assert headline(answered(), "us") == "Measure the points first"
    assert headline(answered(replace(FRONT, worn_m=(0.0,))), "us") == "Measure the points first"


def test_a_likely_lasting_row_says_so() -> None:
    """270 ac of job, 280 likely, fewer for sure: swapped to be sure, most likely it lasts."""
    answer = answered(FRONT, fields=FIELDS[:4])
    assert headline(answer, "us").endswith("to be sure; most likely it lasts the job")
    assert any(line.endswith("most likely it lasts.") for line in points_lines(answer, "us"))


def test_rows_are_called_what_the_farmer_calls_them() -> None:
    """The names "front", "front row" and "behind the wheels" all read as English."""
    for said, told in (
        ("front", "Swap the front row of Cultivator 1"),
        ("front row", "Swap the front row of Cultivator 1"),
        ("behind the wheels", "Swap the points behind the wheels of Cultivator 1"),
    ):
        assert headline(answered(replace(FRONT, row=said)), "us").startswith(told)


def test_a_field_larger_than_a_set_is_told_by_the_acres_done() -> None:
    """900 ac in one field and a new set that does 700 at best: swapped within it."""
    told = "\n".join(points_lines(answered(FRONT, fields=(("big", 900 * ACRE_M2),)), "us"))
    assert re.search(r"in big once \d+ ac of it are done", told)


@pytest.mark.parametrize("system", ["us", "metric"])
def test_units_are_never_mixed(system: System) -> None:
    """Acres and inches or hectares and millimetres, in lines, card and working alike."""
    answer = answered(FRONT, replace(FRONT, row="rear", limit_m=None), pokes=(DEEP_REAR,))
    told = [
        *points_lines(answer, system),
        *points_working_lines(answer.working, system),
        *(line for card in check_cards(bare(), answer) for line in check_card_lines(card, system)),
    ]
    figures = [line for line in told if re.search(r"\d", line)]
    wrong = METRIC_UNITS if system == "us" else re.compile(r"\d (ac|in|ft|mph|mi)\b")
    right = METRIC_UNITS if system == "metric" else US_UNITS
    assert [line for line in figures if wrong.search(line) and "18 in 20" not in line] == []
    assert sum(bool(right.search(line)) for line in figures) > 10


def test_small_lengths_of_the_working_are_never_tenths_of_a_foot() -> None:
    """18 mm is 0.71 in, and a life is told in miles."""
    told = "\n".join(points_working_lines(answered(FRONT).working, "us"))
    assert "mean wear: 0.71 in" in told
    assert "wear to swap at: 1.18 in" in told
    assert "how far a point lasts: 43 mi (6 mi to 104 mi)" in told
    assert "width less overlap: 27.5 ft" in told
    assert "spread between the points measured: 0.00 in" in told


def test_unworn_and_barely_worn_rows_do_not_pretend() -> None:
    """Nothing worn gives no figure; barely worn gives "at least"."""
    unworn = points_lines(answered(replace(FRONT, worn_m=(0.0,))), "metric")
    assert "  Nothing worn yet, so nothing to reckon from." in unworn
    barely = replace(FRONT, worn_m=(0.0005,), over_m2=10 * ACRE_M2)
    told = "\n".join(points_lines(answered(barely), "us"))
    assert "too little worn to say how many" in told


def test_the_price_is_told_only_where_one_is_stated() -> None:
    """$11 a point: in hand and an acre; without a price no money is named."""
    priced = answered(FRONT, prices=replace(bare().prices, point_each=11.0))
    told = "\n".join(points_lines(priced, "us"))
    assert f"Points to have in hand: {priced.in_hand_sure_count} (" in told
    assert f"(${priced.in_hand_sure_cost:,.0f})" in told
    assert "Wear costs about $0.19 an acre in points." in told
    assert "Wear costs about $0.47 a hectare in points." in "\n".join(
        points_lines(priced, "metric")
    )
    assert "$" not in "\n".join(points_lines(answered(FRONT), "us"))


def test_swapping_comes_with_its_cautions() -> None:
    """Where a swap is planned, blocking, hydraulics, gloves and the maker's manual stand there."""
    told = " ".join(points_lines(answered(FRONT), "us"))
    for word in ("block it", "only hydraulics hold up", "Gloves", "pressure off", "manual"):
        assert word in told
    assert "Gloves" not in " ".join(points_lines(answered(FRONT, fields=FIELDS[:1]), "us"))


@pytest.mark.parametrize(
    ("front", "rear", "verdict", "line"),
    [
        ([1.1], [1.8], "level it: rear is 0.7 in deeper", "The rear runs too deep; levelled, both "
         "would be at about 1.5 in, as wanted."),
        ([1.4], [0.4], "level it: front is 1.0 in deeper", "The rear runs too shallow; levelled, "
         "both would be at about 0.9 in, as wanted."),
        ([1.4], [2.4], "level it: rear is 1.0 in deeper", "The rear runs too deep; levelled, both "
         "would be at about 1.9 in, still too deep."),
        ([2.0], [2.1], "level", "Both run too deep: set it shallower."),
        ([0.2], [0.3], "level", "Both run too shallow: set it deeper."),
        ([1.4], [1.6], "level", "The rear runs too deep."),
    ],
)  # fmt: skip
def test_depth_and_level_are_told_apart(
    front: list[float], rear: list[float], verdict: str, line: str
) -> None:
    """Level and depth are two faults; levelling alone may or may not mend the depth."""
    answer = poked(front, rear)
    assert level_words(answer.pokes[0], "us") == verdict
    assert f"  {line}" in points_lines(answer, "us")


def test_a_level_tool_at_the_wanted_depth_has_no_fault() -> None:
    """1.0 and 1.2 in: level, nothing to set, and ten pokes want no more."""
    told = points_lines(poked([1.0] * 5, [1.2] * 5), "us")
    assert "Cultivator 1: level." in told
    assert not any("too deep" in line or "too shallow" in line for line in told)
    assert not any(line.startswith("  Poke ") and "before you turn" in line for line in told)


def test_few_or_scattered_pokes_ask_for_more() -> None:
    """Two of ten want eight more; ten that scatter around the limit want as many again."""
    assert any("Poke 8 more before" in line for line in points_lines(poked([1.0], [1.8]), "us"))
    scattered = poked([0.5, 1.5, 0.5, 1.5, 1.0], [1.1, 2.1, 1.1, 2.1, 1.6])
    assert any("Poke as many again" in line for line in points_lines(scattered, "us"))


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_card_has_five_boxes_and_the_cautions(language: Any) -> None:
    """Depth, level, points, speed and overlap to tick, then four cautions, in either language."""
    answer = answered(FRONT, pokes=(DEEP_REAR,))
    card = check_cards(bare(), answer)[0]
    told = check_card_lines(card, "us", language=language)
    assert [line.startswith("[ ] ") for line in told] == [False, *[True] * 5, *[False] * 4]
    figures = re.findall(r"\d+(?:\.\d+)?", " ".join(told))
    assert figures == re.findall(r"\d+(?:\.\d+)?", " ".join(check_card_lines(card, "us")))
    assert "0.7 in" in told[2]
    assert "0.71 in" in told[3]
    assert "5.5 mph" in told[4]
    assert "3.0 ft" in told[5]


def test_the_card_says_a_due_row_and_how_the_shanks_are_set() -> None:
    """A row at its limit reads "swap now"; a stated shank depth stands beside the seed's."""
    answer = answered(replace(FRONT, worn_m=(0.031,) * 12))
    card = replace(check_cards(bare(), answer)[0], shank_depth_m=3 * INCH_M)
    told = check_card_lines(card, "us")
    assert "Front: swap now (1.22 in worn, limit 1.18 in)." in told[3]
    assert "Shanks set to 3.0 in" in told[1]


def test_plain_words_only() -> None:
    """Nobody meets a planner's word, and no stand is promised anywhere."""
    answer = answered(FRONT, pokes=(DEEP_REAR,))
    told = " ".join(
        [
            *points_lines(answer, "us"),
            *points_working_lines(answer.working, "us"),
            *check_card_lines(check_cards(bare(), answer)[0], "us"),
        ]
    ).lower()
    for word in ("optimi", "polygon", "algorithm", "sync", "dashboard", "coefficient", "stand "):
        assert word not in told
    assert "what comes up is not promised" in told


def test_json_has_si_names_and_no_infinity() -> None:
    """Rows, swaps, points in hand and pokes; a high side nobody knows is null."""
    barely = replace(FRONT, row="rear", worn_m=(0.0005,), over_m2=10 * ACRE_M2)
    unworn = replace(FRONT, row="middle", worn_m=(0.0,))
    answer = answered(FRONT, barely, unworn, pokes=(DEEP_REAR,))
    found = json.loads(json.dumps(points_json(answer, working=True), allow_nan=False))
    first, second, third = found["rows"]
    assert first["left_m2"]["best"] == pytest.approx(280 * ACRE_M2)
    assert (first["swap_before"], first["swap_before_likely"]) == ("long", "last")
    assert second["left_m2"]["high"] is None
    assert third["left_m2"] is None
    assert found["not_measured"][0]["own_figure"] is False
    assert found["pokes"][0]["rear_deeper_m"] == pytest.approx(0.7 * INCH_M)
    assert found["in_hand"]["points_sure"] == answer.in_hand_sure_count
    assert len(found["working"]) == len(answer.working)
    assert "working" not in points_json(answer)


def test_a_point_at_its_limit_is_never_soon_enough_later() -> None:
    """Eleven points at 12 mm and one at its limit of 30: that one now, whatever is left."""
    row = replace(FRONT, worn_m=(0.012,) * 11 + (0.030,))
    answer = answered(row)
    (found,) = answer.rows
    assert found.point_at_limit
    assert not found.is_due
    told = headline(answer, "us")
    assert told.startswith("Swap the most worn point of the front row of Cultivator 1 now")
    text = " ".join(points_lines(answer, "us"))
    assert "soon enough" not in text
    assert "The most worn point is at the limit now." in text
    behind = answered(replace(row, row="behind the wheels"))
    assert headline(behind, "us").startswith(
        "Swap the most worn point behind the wheels of Cultivator 1 now"
    )
    lasting = answered(row, fields=(("home", ACRE_M2),))
    assert headline(lasting, "us").endswith("now; the others last the job")
    assert not answered(FRONT).rows[0].point_at_limit


def test_the_card_of_who_leaves_strips_has_no_minus_sign() -> None:
    """Fewer passes counted than the width needs: open ground, in both languages."""
    farm = bare()
    open_m = replace(farm.cultivators[0], overlap_m=-0.3)
    farm = replace(farm, cultivators=(open_m, *farm.cultivators[1:]))
    card = check_cards(farm, points_answer(farm, FIELDS))[0]
    told: dict[Any, str] = {"en": "stays open", "es": "sin tapar"}
    for language, words in told.items():
        (line,) = [one for one in check_card_lines(card, "us", language=language) if words in one]
        assert "1.0 ft" in line
        assert "-" not in line


def test_a_row_in_a_few_words_is_what_its_lines_say() -> None:
    """18 mm of 30 in 420 ac leave 280; at the limit it is swapped; unworn it says so."""
    fresh, due = (replace(FRONT, worn_m=(worn,) * 12) for worn in (0.0, 0.030))
    told = []
    for row in (FRONT, due, fresh):
        answer = points_answer(replace(bare(), point_rows=(row,)), FIELDS)
        told.append((left_words(answer.rows[0], "us"), worn_words(answer.rows[0], "us")))
    assert told == [
        ("280 ac left", "0.71 in worn, swap at 1.18 in"),
        ("Swap it now", "1.18 in worn, swap at 1.18 in"),
        ("Nothing worn yet", "0.00 in worn, swap at 1.18 in"),
    ]


def test_every_swap_is_one_line_with_its_place_row_and_points() -> None:
    """As many as are planned on the sure side, each of them in the long answer too."""
    answer = points_answer(replace(bare(), point_rows=(FRONT,)), FIELDS)
    lines = swap_lines(answer, "us")
    assert len(lines) == len(answer.swaps_sure) > 0
    assert lines[0].endswith("the front row of Cultivator 1, 12 points")
    whole = points_lines(answer, "us")
    assert all(f"  [ ] {text}" in whole for text in lines)
