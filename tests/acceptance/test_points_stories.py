"""What the farmer asks of his cultivator's points and level, on the rye farm."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_folders import ACRE_M2, EXAMPLES

from duskline.answers.points import points_answer
from duskline.core.farm import Farm, PointRow, Poke
from duskline.exchange.farmfolder import read_farm
from duskline.words.points import points_lines

INCH_M = 0.0254
WORN_MM = (18, 17, 19, 18, 16, 20, 18, 18, 17, 19, 18, 18)


def rye(*rows: PointRow, pokes: tuple[Poke, ...] = ()) -> Farm:
    """Return the rye farm with these points and pokes alone."""
    return replace(read_farm(EXAMPLES / "rye-after-soybeans"), point_rows=rows, pokes=pokes)


def test_story_15_ten_pokes_level_the_cultivator() -> None:
    """Ten pokes, front mean 1.1 in, rear mean 1.8 in: "level it: rear is 0.7 in deeper"."""
    poke = Poke(
        cultivator="Cultivator 1",
        front_m=tuple(one * INCH_M for one in (0.9, 1.0, 1.1, 1.2, 1.3)),
        rear_m=tuple(one * INCH_M for one in (1.6, 1.7, 1.8, 1.9, 2.0)),
    )
    told = " ".join(points_lines(points_answer(rye(pokes=(poke,)), ()), "us"))
    assert "level it: rear is 0.7 in deeper" in told
    assert "not promised" in told
    assert "plants" not in told
    assert "emerge" not in told


def test_story_16_the_worn_row_names_the_field_after_which_to_swap() -> None:
    """18 mm of 30 in 420 ac: 280 ac left; 362.7 ac to do, so it names the fields.

    By hand from the record acres: the field that the 280 ac end in is the likely one.
    """
    row = PointRow(
        cultivator="Cultivator 1",
        row="front",
        points_count=12,
        worn_m=tuple(one / 1e3 for one in WORN_MM),
        over_m2=420 * ACRE_M2,
        limit_m=0.030,
    )
    farm = rye(row)
    order = tuple((field.name, field.record_area_m2) for field in farm.fields)
    done, before = 0.0, ""
    for name, area in order:
        done += area
        if done > 280 * ACRE_M2:
            break
        before = name
    answer = points_answer(farm, order)
    (found,) = answer.rows
    assert found.left is not None
    assert found.left.best_m2 / ACRE_M2 == pytest.approx(280.0)
    assert (found.swaps_likely[0].field, found.swaps_likely[0].after) == (name, before)
    told = " ".join(points_lines(answer, "us"))
    assert "280 ac left on that row" in told
    assert f"most likely before {name} (after {before}) is soon enough" in told
    sure = found.swaps_sure[0]
    assert f"to be sure, swap before {sure.field} (after {sure.after}), or measure then" in told
    assert sure.field_index < found.swaps_likely[0].field_index


def test_story_16_a_campaign_that_fits_names_no_field() -> None:
    """The same row and one field to do: it lasts, and nothing is bought."""
    row = PointRow(
        cultivator="Cultivator 1", row="front", points_count=12, worn_m=(0.018,) * 12,
        over_m2=420 * ACRE_M2, limit_m=0.030,
    )  # fmt: skip
    farm = rye(row)
    told = points_lines(points_answer(farm, (("A1", farm.fields[0].area_m2),)), "us")
    assert any(line.endswith("it lasts.") for line in told)
    assert "Points to have in hand: 0." in told
