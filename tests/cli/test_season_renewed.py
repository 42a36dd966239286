"""What is taken along is renewed where the plan stays and its hours do not."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from made_folders import asked, copy_of

import duskline.answers.season as answers
from duskline.answers.season import SeasonAnswer

RYE = "rye-after-soybeans"
OURS = '"name": "A1", '


def stops_of(folder: Path) -> list[str]:
    """When spreading stops, from the crew's table of plan 1."""
    (path,) = (folder / "season" / "plan-1-customers" / "crews").iterdir()
    rows = csv.DictReader(io.StringIO(path.read_text("utf-8"), newline=""))
    return [row["stop spreading"] for row in rows]


def test_an_unchanged_plan_renews_the_customers_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same fields on the same days, each stop an hour earlier: plan 1, with new hours.

    The folder of plan 1 used to stay as it was first written.
    """
    folder = copy_of(RYE, tmp_path, fields_geojson=[(OURS, f'{OURS}"customer": "Miller", ')])
    made: list[SeasonAnswer] = []
    plan = answers.season_answer

    def kept(*given: object, **named: object) -> SeasonAnswer:
        made.append(plan(*given, **named))  # type: ignore[arg-type]
        return made[-1]

    def earlier(*_: object, **__: object) -> SeasonAnswer:
        days = tuple(
            replace(
                day,
                crews=tuple(
                    replace(crew, stop_at=crew.stop_at - timedelta(hours=1)) for crew in day.crews
                ),
            )
            for day in made[-1].days
        )
        return replace(made[-1], days=days)

    asking = ("season", folder, "--average", "--to", "2026-10-22")
    monkeypatch.setattr(answers, "season_answer", kept)
    asked(*asking)
    before = stops_of(folder)
    monkeypatch.setattr(answers, "season_answer", earlier)
    text = asked(*asking).stdout
    assert "Unchanged: plan 1" in text
    after = stops_of(folder)
    assert before
    assert len(after) == len(before)
    assert not set(zip(before, after, strict=True)) & set(zip(before, before, strict=True))
