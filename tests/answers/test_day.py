"""The day's answer from a farm folder: state, fields, tractors, levers and curves."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from made_folders import ACRE_M2, EXAMPLES, HECTARE_M2, copy_of

from duskline.answers.day import DayAnswer, DayQuestion, LeverKey, Rates, day_answer
from duskline.core.errors import NobodyMayDrive, NoWindow, OutOfRange
from duskline.core.farm import Farm
from duskline.exchange.farmfolder import read_farm

CENTRAL = ZoneInfo("America/Chicago")
FEW = 2000
RYE = "rye-after-soybeans"


@cache
def rye() -> Farm:
    """Return the rye farm."""
    return read_farm(EXAMPLES / RYE)


def answer(farm: Farm, **asked: object) -> DayAnswer:
    """Return an answer from few replications, enough for what is tested here."""
    return day_answer(farm, DayQuestion(replications=FEW, **asked))  # type: ignore[arg-type]


def changed(tmp_path: Path, *pairs: tuple[str, str]) -> Farm:
    """Return the rye farm with texts of farm.toml changed."""
    return read_farm(copy_of(RYE, tmp_path, farm_toml=list(pairs)))


def test_without_a_date_the_first_day_of_the_forecast_is_planned() -> None:
    """The forecast begins on 18 October."""
    assert answer(rye()).on == date(2026, 10, 18)


def test_the_fields_of_the_plan_add_up_to_what_is_spread() -> None:
    """Areas and seed of the fields are those of the stop time: kilograms are conserved."""
    found = answer(rye())
    total = sum(row.area_m2 for row in found.fields)
    assert total == pytest.approx(found.spread_area_m2, rel=1e-6)
    rate = found.task.fields[0].rate_kg_per_m2
    for row in found.fields:
        assert row.seed_kg == pytest.approx(row.area_m2 * rate)


def test_what_is_left_and_what_is_spread_make_the_whole_farm() -> None:
    """Nothing is lost between today's plan and what is left for tomorrow."""
    found = answer(rye())
    total = sum(row.area_m2 for row in found.fields)
    total += sum(area for _, area in found.left_after_today)
    assert total == pytest.approx(sum(one.area_m2 for one in rye().fields), rel=1e-3)


def test_full_loads_and_the_last_part_load_carry_the_area() -> None:
    """Loads snapped: full loads and the part load hold the seed of the area spread."""
    found = answer(rye())
    seed_kg = found.full_loads_count * found.load_kg + found.last_load_kg
    rate = found.load_kg / found.load_area_m2
    assert seed_kg == pytest.approx(found.spread_area_m2 * rate)
    assert 0.0 <= found.last_load_kg < found.load_kg


def test_covered_never_exceeds_spread_on_the_strip() -> None:
    """The two curves of the day strip never cross, and meet at the end."""
    curves = answer(rye()).curves
    for spread, covered in zip(curves.spread_m2, curves.covered_m2, strict=True):
        assert covered <= spread + 1e-6
    assert curves.covered_m2[-1] == pytest.approx(curves.spread_m2[-1], rel=1e-3)


def test_the_owners_order_of_fields_stands(tmp_path: Path) -> None:
    """Order = A4 then A7: they come first."""
    farm = changed(tmp_path, ('lead = "20 min"', 'lead = "20 min"\norder = ["A4", "A7"]'))
    assert [row.name for row in answer(farm).fields][:2] == ["A4", "A7"]


def test_a_field_that_cannot_wait_for_the_rain_comes_first() -> None:
    """A8 is flood plain and rain is forecast for tomorrow."""
    assert answer(rye()).fields[0].name == "A8"


def test_fields_not_yet_ready_are_named() -> None:
    """A2 is ready on the 19th, A5 on the 20th."""
    assert set(answer(rye()).not_ready) == {"A2", "A5"}


def test_the_log_takes_finished_fields_off(tmp_path: Path) -> None:
    """A8 spread and covered the day before: it is not planned again."""
    folder = copy_of(RYE, tmp_path)
    (folder / "log.csv").write_text(
        "time,machine,what,field,amount\n"
        "2026-10-17T12:00,,spread,A8,33.36 ac\n2026-10-17T15:00,,covered,A8,33.36 ac\n",
        encoding="utf-8",
    )
    found = answer(read_farm(folder))
    assert "A8" not in {row.name for row in found.fields}


def test_the_state_may_come_from_the_log(tmp_path: Path) -> None:
    """Spread and covered lines of the day give the same answer as the figures told by word."""
    folder = copy_of(RYE, tmp_path)
    (folder / "log.csv").write_text(
        "time,machine,what,field,amount\n"
        "2026-10-18T10:40,,spread,A8,33.36 ac\n2026-10-18T12:55,,spread,A1,63.34 ac\n"
        "2026-10-18T12:50,,covered,A8,33.36 ac\n2026-10-18T12:58,,covered,A1,15.04 ac\n",
        encoding="utf-8",
    )
    now = datetime(2026, 10, 18, 13, 0, tzinfo=CENTRAL)
    logged = answer(read_farm(folder), now_at=now)
    told = answer(rye(), now_at=now, spread_m2=96.7 * ACRE_M2, covered_m2=48.4 * ACRE_M2)
    assert logged.average.stop_at == told.average.stop_at
    assert logged.average.spread_area_m2 == pytest.approx(told.average.spread_area_m2)


def test_ground_open_since_yesterday_counts_in_the_state_of_the_log(tmp_path: Path) -> None:
    """12.31 ac of A9 spread on the 17th and not covered: they are to be covered today too."""
    lines = (
        "time,machine,what,field,amount\n"
        "2026-10-18T12:58,,spread,A1,70 ac\n2026-10-18T12:58,,covered,A1,40 ac\n"
    )
    now = datetime(2026, 10, 18, 13, 0, tzinfo=CENTRAL)
    found = {}
    for name, more in (("without", ""), ("with", "2026-10-17T16:00,,spread,A9,12.31 ac\n")):
        folder = copy_of(RYE, tmp_path / name)
        (folder / "log.csv").write_text(lines + more, encoding="utf-8")
        found[name] = answer(read_farm(folder), now_at=now, rates=Rates.PLANNED)
    assert found["with"].spread_before_m2 == pytest.approx(82.31 * ACRE_M2)
    assert found["with"].covered_before_m2 == pytest.approx(40 * ACRE_M2)
    # By hand: each open acre moves the stop by 1 / (S + C2) hours, S 27.63 and C2 15.58 ac/h.
    lost_s = (found["without"].average.stop_at - found["with"].average.stop_at).total_seconds()
    assert lost_s == pytest.approx(12.31 / (27.63 + 15.58) * 3600.0, rel=0.02)


def test_what_is_left_may_be_told_field_by_field() -> None:
    """Told that only 10 ac of A7 are left: nothing else is planned, and the day ends with acres."""
    now = datetime(2026, 10, 18, 10, 0, tzinfo=CENTRAL)
    asked = {"now_at": now, "spread_m2": 5.0 * ACRE_M2, "covered_m2": 0.0}
    found = answer(rye(), **asked, left_m2={"A7": 10 * ACRE_M2})
    assert [task.name for task in found.task.fields] == ["A7"]
    assert found.limited_by == "acres"
    assert found.average.spread_area_m2 == pytest.approx(15 * ACRE_M2)
    none = answer(rye(), **asked, left_m2={})
    assert none.average.spread_area_m2 == pytest.approx(5 * ACRE_M2, rel=1e-4)


def test_covering_more_than_is_spread_is_refused() -> None:
    """20 ac covered of 10 spread cannot be."""
    now = datetime(2026, 10, 18, 13, 0, tzinfo=CENTRAL)
    with pytest.raises(OutOfRange, match="area covered"):
        answer(rye(), now_at=now, spread_m2=10 * ACRE_M2, covered_m2=20 * ACRE_M2)


def test_the_promise_uses_the_rate_that_covering_has_shown() -> None:
    """Covering 20 % slow: the sure stop is earlier than with planned rates, and not by a hair."""
    state = {
        "now_at": datetime(2026, 10, 18, 13, 0, tzinfo=CENTRAL),
        "spread_m2": 96.7 * ACRE_M2,
        "covered_m2": 39.0 * ACRE_M2,
    }
    seen = answer(rye(), **state)
    planned = answer(rye(), **state, rates=Rates.PLANNED)
    assert (planned.stop_at - seen.stop_at).total_seconds() > 600
    assert seen.average == planned.average


def test_a_tractor_hitched_to_the_second_cultivator_makes_the_changeover_a_walk(
    tmp_path: Path,
) -> None:
    """No changeover stated: with one tractor unhitch, walk, hitch; with a second, only the walk."""
    one = changed(tmp_path / "one", ('changeover = "25 min"\n', ""))
    third = '[[tractor]]\nname = "Third"\npulls = ["Cultivator 2"]\n\n[[spreader]]'
    spare = changed(
        tmp_path / "spare",
        ('changeover = "25 min"\n', ""),
        ("[[spreader]]", third),
        ('driver = "Owner"\ntractor = "Big tractor"\nwidth', 'driver = "Owner"\nwidth'),
        ('pulls = ["Spreader", "Cultivator 2"]', 'pulls = ["Spreader"]'),
    )
    parts = {key: one.defaults[f"changeover_{key}"].value for key in ("unhitch", "walk", "hitch")}
    assert answer(one).changeover_s == pytest.approx(sum(parts.values()))
    assert answer(spare).changeover_s == pytest.approx(parts["walk"])


def test_nobody_to_drive_is_refused_with_the_machine(tmp_path: Path) -> None:
    """The spreader without any driver has no plan."""
    farm = changed(
        tmp_path,
        ('driver = "Owner"\ntractor = "Big tractor"\ndriving', 'tractor = "Big tractor"\ndriving'),
        ('drives = ["Spreader", "Cultivator 2"]', 'drives = ["Cultivator 2"]'),
    )
    with pytest.raises(NobodyMayDrive) as refused:
        answer(farm)
    assert refused.value.machine == "Spreader"


def test_somebody_of_15_is_not_put_on_a_big_tractor(tmp_path: Path) -> None:
    """The neighbor at 15: his machine stands, the refusal is named, the owner still takes over."""
    found = answer(changed(tmp_path, ("age = 58", "age = 15")))
    assert [(r.person, r.machine) for r in found.crew.refusals] == [("Neighbor", "Cultivator 1")]
    assert found.crew.idle == ("Cultivator 1",)
    assert found.crew.covers == ()


def test_levers_are_worth_what_the_closed_form_says() -> None:
    """An hour's head start is worth 13 ac at average rates, ten minutes less changeover 1.7."""
    worth = {lever.key: lever.average_area_m2 / ACRE_M2 for lever in answer(rye()).levers}
    assert worth[LeverKey.HEAD_START] == pytest.approx(13.2, abs=0.1)
    assert worth[LeverKey.SHORTER_CHANGEOVER] == pytest.approx(1.66, abs=0.05)
    assert all(value >= -1e-6 for value in worth.values())


def test_another_chance_may_be_asked_for() -> None:
    """14 in 20 stands between 10 and 16 in 20."""
    found = answer(rye(), sure_fraction=0.7)
    rows = {row.sure_fraction: row.stop_at for row in found.by_sureness}
    assert rows[0.8] <= found.stop_at <= rows[0.5]
    assert found.chance_fraction >= 0.7


def test_a_closed_day_says_why() -> None:
    """20 October is stated closed: ground not fit."""
    with pytest.raises(NoWindow, match="ground not fit"):
        answer(rye(), on=date(2026, 10, 20))


def test_a_day_across_a_clock_change_keeps_its_elapsed_hours(tmp_path: Path) -> None:
    """1 November 2026: clocks go back at 2:00; 9:30 to 18:15 is still 8.75 h of work.

    The answer is that of 18 October, on the clock of that day.
    """
    farm = changed(
        tmp_path,
        ("date = 2026-10-18", "date = 2026-11-01"),
    )
    found = answer(replace(farm, forecast=None), on=date(2026, 11, 1))
    assert (
        found.average.stop_at.utcoffset() != datetime(2026, 10, 18, 12, tzinfo=CENTRAL).utcoffset()
    )
    assert f"{found.average.stop_at:%H:%M}" == "15:29"
    assert found.average.spread_area_m2 / ACRE_M2 == pytest.approx(165.4, abs=0.2)


def test_the_southern_day_knows_its_own_clock() -> None:
    """Scenario B in Canterbury: UTC+13 in March, wind ends spreading at 13:00."""
    found = answer(read_farm(EXAMPLES / "oats-and-radish"))
    assert found.average.stop_at.isoformat().startswith("2026-03-01T13:00")
    assert found.average.stop_at.utcoffset() is not None
    assert found.average.spread_area_m2 / HECTARE_M2 == pytest.approx(31.3, abs=0.05)
    assert found.limited_by == "spread window"
