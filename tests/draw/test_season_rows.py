"""The season's answer as rows of its picture: wall-clock times, crews together, acres summed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from draw.drawn import NS, outside, overlaps, texts, tree
from made_days import ACRE_M2, RYE, farm_of
from made_seasons import FIRST, long_season, made_answer, made_crew, made_day, short_season

from duskline.answers.season import Basis
from duskline.draw.season import season_picture
from duskline.draw.season_rows import season_fan, season_rows

HOUR_S = 3600.0
CLOCKS_BACK = date(2026, 11, 1)
CLOCKS_ON = date(2026, 3, 8)


def test_a_row_has_the_days_acres_stop_and_light() -> None:
    """Sunday: 119.3 ac, stop at 15:03, spread from 9:30, dawn at 7:00, dark at 18:54."""
    first = season_rows(short_season()[1])[0]
    assert first.on == FIRST
    assert first.area_m2 == pytest.approx(119.3 * ACRE_M2)
    assert first.stop_s == pytest.approx(15.05 * HOUR_S)
    assert first.spread_s == ((9.5 * HOUR_S, 15.05 * HOUR_S),)
    assert first.covered_s[0][1] == pytest.approx(18.25 * HOUR_S)
    assert (first.dawn_s, first.dusk_s) == (7.0 * HOUR_S, 18.9 * HOUR_S)


def test_a_day_off_is_not_a_day_closed_by_weather() -> None:
    """Monday is hatched as closed; Thursday is off and has no hatch."""
    rows = season_rows(short_season()[1])
    assert [(row.closed, row.off) for row in rows] == [
        ("", False), ("ground not fit", False), ("", False), ("", False), ("day off", True),
    ]  # fmt: skip
    off = season_picture(rows[4:], None, "us", width=390.0)
    hatched = [one for one in tree(off).iter(f"{NS}rect") if one.get("fill", "").endswith("-shut)")]
    assert hatched == []
    assert "rain" not in off


def test_crews_side_by_side_are_drawn_as_one_span() -> None:
    """9:00 to 15:00 and 10:00 to 16:00 are 9:00 to 16:00; a crew of the evening stays apart."""
    farm = farm_of(RYE)
    zone = farm.time_zone
    hours = ((9.0, 15.0), (10.0, 16.0), (17.0, 18.0))
    crews = [
        made_crew(zone, FIRST, [(f"A{place}", 10.0, "r")], crew=f"Crew {place}", opens=opens,
                  stop=stop, closes=stop + 1.5)
        for place, (opens, stop) in enumerate(hours)
    ]  # fmt: skip
    (row,) = season_rows(made_answer(farm, [made_day(FIRST, crews)], []))
    assert row.spread_s == ((9.0 * HOUR_S, 16.0 * HOUR_S), (17.0 * HOUR_S, 18.0 * HOUR_S))
    assert row.stop_s == pytest.approx(18.0 * HOUR_S)
    assert row.area_m2 == pytest.approx(30.0 * ACRE_M2)


@pytest.mark.parametrize("on", [CLOCKS_BACK, CLOCKS_ON, FIRST])
def test_the_picture_shows_the_clock_on_the_wall_where_clocks_change(on: date) -> None:
    """9:30 to a stop at 15:03 on the day itself, whatever time has elapsed since midnight."""
    farm = farm_of(RYE)
    crew = made_crew(farm.time_zone, on, [("A1", 79.0, "r")])
    answer = made_answer(farm, [made_day(on, [crew])], [])
    (row,) = season_rows(answer)
    assert row.spread_s == ((9.5 * HOUR_S, 15.05 * HOUR_S),)
    assert row.stop_s == pytest.approx(15.05 * HOUR_S)
    said = [one.text for one in texts(season_picture([row], None, "us", width=1100.0))]
    assert "79.0 ac, stop 3:00 pm" in said


def test_where_the_sun_does_not_cross_the_day_has_no_dark() -> None:
    """High summer in the far north: light from midnight to midnight."""
    farm = farm_of(RYE)
    bright = replace(made_day(FIRST), dawn_s=None, sunset_s=None, dusk_s=None)
    (row,) = season_rows(made_answer(farm, [bright], []))
    assert (row.dawn_s, row.sunset_s, row.dusk_s) == (0.0, 24.0 * HOUR_S, 24.0 * HOUR_S)


def test_the_fan_sums_the_plan_and_takes_the_seasons_as_they_are() -> None:
    """119.3, 119.3, 152.7, 167.7, 167.7 of 172.7 ac; low, middle, high at 70, 95, 100 %."""
    fan = season_fan(short_season()[1])
    assert fan is not None
    acres = [area / ACRE_M2 for area in fan.plan_m2]
    assert acres == pytest.approx([119.3, 119.3, 152.7, 167.7, 167.7])
    assert fan.total_m2 / ACRE_M2 == pytest.approx(172.7)
    assert fan.low_m2[-1] == pytest.approx(0.7 * fan.plan_m2[-1])
    assert fan.high_m2 == pytest.approx(fan.plan_m2)


def test_nothing_left_to_sow_has_no_fan() -> None:
    """A season that is done has no acres to draw."""
    assert season_fan(replace(short_season()[1], left_m2=0.0)) is None


@pytest.mark.parametrize("width", [354.0, 390.0, 760.0, 1280.0])
@pytest.mark.parametrize("system", ["us", "metric"])
def test_a_long_reason_stands_on_its_day_and_leaves_the_others_their_room(
    width: float, system: str
) -> None:
    """Ground not fit after the rain: said on the hatched day, whole or cut with three dots."""
    _, answer = long_season()
    drawing = season_picture(
        season_rows(answer), season_fan(answer), system, width=width,  # type: ignore[arg-type]
        deadline=FIRST + timedelta(days=9),
    )  # fmt: skip
    said = [one.text for one in texts(drawing)]
    reasons = [text for text in said if text.startswith(("ground", "no work, ground"))]
    assert len(reasons) == sum(day.basis is Basis.CLOSED for day in answer.days) == 3
    assert overlaps(drawing) == []
    assert outside(drawing) == []
    bands = [float(one.get("width", "0")) for one in tree(drawing).iter(f"{NS}rect")
             if "-sky" in one.get("fill", "")]  # fmt: skip
    assert min(bands) >= 0.2 * width
