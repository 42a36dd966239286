"""The field's JSON beside its sheet."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

import numpy as np
from made_folders import EXAMPLES

from duskline.answers.field import FieldAnswer, field_answer
from duskline.cli.field_json import field_json
from duskline.core.farm import Farm
from duskline.exchange.farmfolder import read_farm
from duskline.words.field import empty_at


@lru_cache(maxsize=1)
def rye() -> Farm:
    """The rye example."""
    return read_farm(EXAMPLES / "rye-after-soybeans")


@lru_cache(maxsize=1)
def answered() -> FieldAnswer:
    """A5, some of whose passes a hole parts."""
    return field_answer(rye(), "A5")


def test_loads_end_at_the_pass_that_the_sheet_names() -> None:
    """It used to count runs alone, two of them to a pass that a hole parts."""
    answer = answered()
    loads = field_json(rye(), answer)["spread"]["loads"]
    assert len(loads) == len(answer.spread.loads)
    assert loads[-1]["last_pass"] < loads[-1]["last_run"]
    for told, load in zip(loads, answer.spread.loads, strict=True):
        said = empty_at(answer.spread, load)
        if told["last_leg"] is None:
            assert re.search(rf"\bpass {told['last_pass']}\b", said)
            assert told["last_run"] == load.last_index - answer.spread.first_run_index + 1
        else:
            assert f"leg {told['last_leg']} of the headland rounds" in said


def test_two_runs_of_a_parted_pass_have_one_number() -> None:
    """Two runs taken as of one row: the second run is still pass 1. A leg is neither."""
    answer = answered()
    spread = answer.spread
    rows = spread.plan.row_indices.copy()
    rows[1] = rows[0]
    blocks = np.zeros_like(spread.plan.block_indices)
    begin = spread.first_run_index
    loads = (
        replace(spread.loads[0], last_index=0),
        replace(spread.loads[0], last_index=begin + 1),
    )
    parted = replace(
        spread, plan=replace(spread.plan, row_indices=rows, block_indices=blocks), loads=loads
    )
    told = field_json(rye(), replace(answer, spreads=(parted,)))["machines"][0]["loads"]
    assert begin > 0
    ends = [(one["last_run"], one["last_pass"], one["last_leg"]) for one in told]
    assert ends == [(None, None, 1), (2, 1, None)]
