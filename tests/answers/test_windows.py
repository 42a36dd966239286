"""When each machine may work, what opens and closes it, and what wins over what."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from functools import cache
from zoneinfo import ZoneInfo

import pytest
from made_folders import EXAMPLES

from duskline.answers.windows import day_windows
from duskline.core.errors import NoWindow
from duskline.core.farm import Farm
from duskline.core.weather import NoteKind
from duskline.exchange.farmfolder import read_farm

CENTRAL = ZoneInfo("America/Chicago")
DAY_1 = date(2026, 10, 18)


@cache
def rye() -> Farm:
    """Return the rye farm."""
    return read_farm(EXAMPLES / "rye-after-soybeans")


def derived() -> Farm:
    """Return the rye farm without stated hours."""
    return replace(rye(), windows=())


def clock(seconds: float) -> str:
    """Return seconds after midnight as a clock time."""
    minutes = round(seconds / 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def ruled(farm: Farm, **rules: object) -> Farm:
    """Return the farm with rules of the day changed."""
    return replace(farm, rules=replace(farm.rules, **rules))  # type: ignore[arg-type]


def test_stated_hours_win_and_the_difference_is_kept() -> None:
    """9:30 to 18:15 as stated; forecast and sun give 9:00 for covering."""
    found = day_windows(rye(), DAY_1)
    assert [clock(s) for s in found.spread_intervals_s[0]] == ["09:30", "18:15"]
    assert clock(found.cover_closes_s["Cultivator 1"]) == "18:15"
    told = {(d.work, d.opens): (clock(d.derived_s), d.because) for d in found.differences}
    assert told[("covering", True)] == ("09:00", "dew off")


def test_worked_out_hours_part_by_machine_and_driver() -> None:
    """By eye: civil dusk closes. Guided with lights: dark is soft, dew closes later."""
    found = day_windows(derived(), DAY_1)
    assert found.cover_because["Cultivator 1"] == "civil dusk"
    assert found.cover_because["Cultivator 2"] == "dew on"
    assert found.cover_closes_s["Cultivator 2"] > found.cover_closes_s["Cultivator 1"]
    assert list(found.dark_soft_s) == ["Cultivator 2"]
    assert not found.stated


def test_spreading_may_open_before_covering() -> None:
    """Head start: spreading opens with the light, covering when the dew is off."""
    found = day_windows(derived(), DAY_1)
    assert found.spread_intervals_s[0][0] < min(found.cover_opens_s.values())
    later = day_windows(ruled(derived(), start_clock="08:00"), DAY_1)
    assert clock(later.spread_intervals_s[0][0]) == "08:00"


def test_wind_over_the_limit_is_a_hole_for_spreading_only() -> None:
    """Limit 9.5 mph: 12:00 to 16:00 with wind 10 is closed for spreading, open for covering."""
    calm = day_windows(rye(), DAY_1)
    found = day_windows(ruled(rye(), wind_limit_mps=9.5 * 0.44704), DAY_1)
    assert [[clock(s) for s in hole] for hole in found.wind_holes_s] == [["13:00", "16:00"]]
    assert found.cover_closes_s == calm.cover_closes_s


def test_the_crews_margin_comes_off_last() -> None:
    """Half an hour off whatever closes."""
    found = day_windows(ruled(rye(), margin_s=1800.0), DAY_1)
    assert clock(found.spread_intervals_s[-1][1]) == "17:45"
    assert clock(found.cover_closes_s["Cultivator 2"]) == "17:45"


def test_a_called_rain_closes_everything_hard() -> None:
    """Rain at 16:30: spreading and covering end there and nothing may lie bare."""
    rain = datetime(2026, 10, 18, 16, 30, tzinfo=CENTRAL)
    found = day_windows(rye(), DAY_1, rain_at=rain)
    assert clock(found.spread_intervals_s[-1][1]) == "16:30"
    assert set(map(clock, found.cover_closes_s.values())) == {"16:30"}
    assert found.cover_closes_because == "rain"
    assert all(found.cover_hard.values())


def test_home_before_dark_leaves_time_for_the_road() -> None:
    """Sunset 18:28, ten minutes to fold and the way home: nobody covers past about six."""
    found = day_windows(ruled(derived(), home_before_dark=True), DAY_1)
    closes = max(found.cover_closes_s.values())
    assert found.sunset_s is not None
    assert closes < found.sunset_s - 600.0
    assert found.cover_closes_because == "home before dark"


def test_a_stated_hour_that_meets_an_event_takes_its_name() -> None:
    """Scenario B: stated 13:00 is the wind, stated 16:00 is the rain."""
    found = day_windows(read_farm(EXAMPLES / "oats-and-radish"), date(2026, 3, 1))
    assert found.spread_closes_because == "wind"
    assert found.cover_closes_because == "rain"


def test_a_closed_day_and_a_day_without_hours_have_no_window() -> None:
    """Stated closed; and neither stated hours nor a forecast."""
    with pytest.raises(NoWindow, match="ground not fit"):
        day_windows(rye(), date(2026, 10, 20))
    with pytest.raises(NoWindow, match="no hours are stated"):
        day_windows(replace(derived(), forecast=None), DAY_1)


def test_stated_hours_are_enough_without_a_forecast() -> None:
    """No forecast at all: the stated hours stand."""
    found = day_windows(replace(rye(), forecast=None), DAY_1)
    assert [clock(s) for s in found.spread_intervals_s[0]] == ["09:30", "18:15"]
    assert found.rain_hours_s == ()


def test_an_old_forecast_and_missing_hours_are_told() -> None:
    """Asked late on the second day: the forecast is old; the night has no hours."""
    now = datetime(2026, 10, 19, 20, 0, tzinfo=CENTRAL)
    kinds = {note.kind for note in day_windows(rye(), date(2026, 10, 19), now_at=now).weather_notes}
    assert NoteKind.STALE in kinds


def test_small_chances_of_rain_are_taken_as_none_and_larger_ones_share_a_draw() -> None:
    """19 October: 5 and 10 % count as none; from 15 % on the running highest counts."""
    found = day_windows(rye(), date(2026, 10, 19))
    assert found.rain_chance[0] == 0.0
    assert max(found.rain_chance) == pytest.approx(0.4)
    assert list(found.rain_chance) == sorted(found.rain_chance)


def test_rain_to_come_is_known_for_the_order_of_fields() -> None:
    """On the 18th rain is coming; on the 21st the forecast ends."""
    assert day_windows(rye(), DAY_1).rain_coming
    assert not day_windows(rye(), date(2026, 10, 21)).rain_coming
