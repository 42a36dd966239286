"""What the crew asks of the day, as it would ask at the command line; closed form, no moves."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_folders import ACRE_M2, EXAMPLES, HECTARE_M2, asked, asked_json, copy_of, minutes_from

A = EXAMPLES / "rye-after-soybeans"
B = EXAMPLES / "oats-and-radish"
C = EXAMPLES / "forty-fields"


def acres(area_m2: float) -> float:
    """Return acres."""
    return area_m2 / ACRE_M2


@pytest.mark.parametrize(
    ("day", "stop", "area", "with_moves", "area_with_moves"),
    [
        ("2026-10-18", "15:29", 165.4, "15:36", 157.5),
        ("2026-10-19", "13:18", 91.3, None, 83.4),
        ("2026-10-21", "15:46", 145.6, "15:53", 137.7),
    ],
)
def test_story_21_the_rye_days_stop_as_the_balance_says(
    day: str, stop: str, area: float, with_moves: str | None, area_with_moves: float
) -> None:
    """Scenario A's three working days without moves, and with two moves of 12 minutes."""
    found = asked_json("day", A, "--date", day)
    assert abs(minutes_from(found["average"]["stop_at"], stop)) <= 5
    assert acres(found["average"]["spread_area_m2"]) == pytest.approx(area, rel=0.01)
    if with_moves is not None:
        moved = found["average_with_moves"]
        assert found["moves"] == 2
        assert abs(minutes_from(moved["stop_at"], with_moves)) <= 5
        assert acres(moved["spread_area_m2"]) == pytest.approx(area_with_moves, rel=0.01)


def test_story_21_never_moving_over_leaves_113_acres_bare() -> None:
    """Spreading to the close with machine 1 alone covering: 241.8 - 128.8 = 113 ac."""
    found = asked_json("day", A)
    assert acres(found["open_if_no_changeover_m2"]) == pytest.approx(113, abs=1)


def test_story_22_slow_covering_brings_the_stop_forward() -> None:
    """At 13:00 with 39.0 ac covered instead of 48.4: 14:54, 149 ac, and the sentence says why.

    Machine 1 keeps the rate it has shown, 39.0 ac in 3.17 h; machine 2 its planned one.
    """
    state = ("--now", "13:00", "--spread", "96.7 ac", "--covered", "39.0 ac")
    found = asked_json("day", A, *state, "--rates", "observed")
    assert abs(minutes_from(found["average"]["stop_at"], "14:54")) <= 5
    assert acres(found["average"]["spread_area_m2"]) == pytest.approx(149, rel=0.01)
    assert any("Covering is running 12.3 ac/h, plan 15.3 ac/h" in line for line in found["why"])
    both = asked_json("day", A, *state)
    assert both["average_observed"] == found["average"]
    assert abs(minutes_from(both["average"]["stop_at"], "15:16")) <= 5


def test_story_23_rain_moved_up_moves_the_stop() -> None:
    """On plan at 13:00, rain at 16:30: stop 14:14, 131 ac; going on to 15:29 leaves 54 bare."""
    found = asked_json(
        "day", A, "--now", "13:00", "--spread", "96.7 ac", "--covered", "48.4 ac",
        "--rain", "16:30",
    )  # fmt: skip
    assert abs(minutes_from(found["average"]["stop_at"], "14:14")) <= 5
    assert acres(found["average"]["spread_area_m2"]) == pytest.approx(131, rel=0.01)
    carried = found["if_carried_on"]
    assert abs(minutes_from(carried["stop_at"], "15:29")) <= 5
    assert acres(carried["open_area_m2"]) == pytest.approx(54, abs=1)


def test_story_24_wind_ends_spreading_and_the_second_machine_is_needed() -> None:
    """Scenario B day 1: wind at 13:00 ends it with 31.3 ha; alone 2.8 ha short, both by 15:15."""
    found = asked_json("day", B)
    assert minutes_from(found["average"]["stop_at"], "13:00") == pytest.approx(0, abs=1)
    assert found["average"]["spread_area_m2"] / HECTARE_M2 == pytest.approx(31.3, abs=0.05)
    assert found["open_if_no_changeover_m2"] / HECTARE_M2 == pytest.approx(2.8, abs=0.05)
    assert minutes_from(found["average"]["done_at"], "15:15") == pytest.approx(0, abs=1)
    assert any(line.startswith("Wind ends spreading at 13:00") for line in found["why"])
    assert found["cover_until_because"] == "rain"
    assert not any("dark" in line and "ends spreading" in line for line in found["why"])


def test_story_24_the_second_day_takes_the_rest(tmp_path: Path) -> None:
    """Day 2 with 41.4 ha left: spread by 14:42, all covered by 17:33 with the second machine."""
    farm = copy_of("oats-and-radish", tmp_path)
    done = (("B7", 4.25), ("B3", 10.88), ("B1", 12.75), ("B2", 3.42))
    rows = "".join(
        f"2026-03-01T12:00,,{what},{name},{hectares} ha\n"
        for name, hectares in done
        for what in ("spread", "covered")
    )
    (farm / "log.csv").write_text(f"time,machine,what,field,amount\n{rows}", encoding="utf-8")
    found = asked_json("day", farm, "--date", "2026-03-02")
    assert found["average"]["limited_by"] == "acres"
    assert abs(minutes_from(found["average"]["stop_at"], "14:42")) <= 5
    assert found["average"]["spread_area_m2"] / HECTARE_M2 == pytest.approx(41.4, abs=0.05)
    assert abs(minutes_from(found["average"]["done_at"], "17:33")) <= 5


def test_story_25_a_breakdown_stops_both_spreaders_earlier() -> None:
    """Scenario C day 2, machine 3 down 13:10 to 16:10: stop by 15:18 instead of 15:59.

    At 13:10 the spreaders are 88 ac ahead: 76.4 x 4.17 h spread, 62.75 x 3.67 h covered.
    """
    spread, covered = 76.4 * 25 / 6, 62.75 * (25 / 6 - 0.5)
    state = (
        "--date", "2026-10-16", "--now", "13:10",
        "--spread", f"{spread:.2f} ac", "--covered", f"{covered:.2f} ac",
    )  # fmt: skip
    assert spread - covered == pytest.approx(88, abs=0.5)
    whole = asked_json("day", C, *state)
    assert abs(minutes_from(whole["average"]["stop_at"], "15:59")) <= 5
    broken = asked_json("day", C, *state, "--down", "Cultivator 3 13:10-16:10")
    assert abs(minutes_from(broken["average"]["stop_at"], "15:18")) <= 5
    more = acres(broken["average"]["spread_area_m2"]) - spread
    assert more == pytest.approx(163, rel=0.02)


def test_scenario_c_day_one_is_limited_by_covering() -> None:
    """Spreaders at 76.4 ac/h outrun covering at 62.75: 533 ac, spread by 15:59."""
    found = asked_json("day", C)
    assert acres(found["average"]["spread_area_m2"]) == pytest.approx(533, rel=0.01)
    assert abs(minutes_from(found["average"]["stop_at"], "15:59")) <= 5
    assert found["average"]["limited_by"] == "covering"


def test_story_26_a_hopeless_state_says_how_much_stays_bare(tmp_path: Path) -> None:
    """40 ac spread, 10 covered, 12 + 12 ac/h, 30 min to hitch, 75 min left: about 6 ac bare.

    By hand: 10 + 12 x 1.25 + 12 x 0.75 = 34 covered of 40.
    """
    farm = copy_of(
        "rye-after-soybeans",
        tmp_path,
        farm_toml=[
            ('width = "30 ft"\noverlap_share = "10 %"', 'width = "20 ft"\noverlap = "0 ft"'),
            ('width = "28 ft"\noverlap = "0.5 ft"', 'width = "20 ft"\noverlap = "0 ft"'),
            ('speed = "5.5 mph"\nefficiency = "85 %"', 'speed = "4.95 mph"\nefficiency = "100 %"'),
            ('changeover = "25 min"', 'changeover = "30 min"'),
        ],
    )
    asking = ("day", farm, "--now", "17:00", "--spread", "40 ac", "--covered", "10 ac")
    found = asked_json(*asking)
    assert acres(found["bare_if_hopeless_m2"]) == pytest.approx(6, abs=0.05)
    assert minutes_from(found["stop_at"], "17:00") == pytest.approx(0, abs=0.1)
    shown = asked(*asking)
    assert shown.exit_code == 1
    assert "STOP SPREADING NOW" in shown.stdout
    assert "about 6 ac will stay bare" in shown.stdout
    assert "Which 6 ac can lie open tonight?" in shown.stdout


def test_story_13_wind_over_the_limit_stops_spreading_and_not_covering(tmp_path: Path) -> None:
    """Wind of 18 mph in the hour from 12:00, limit 14: no spreading from 12 to 1, covering on."""
    lines = (A / "forecast.csv").read_text(encoding="utf-8").splitlines()
    header = next(line for line in lines if line.startswith("time"))
    column = header.split(",").index("wind_mph")
    noon = next(line for line in lines if line.startswith("2026-10-18T12:00"))
    cells = noon.split(",")
    cells[column] = "18"
    farm = copy_of("rye-after-soybeans", tmp_path, forecast_csv=[(noon, ",".join(cells))])
    found = asked_json("day", farm)
    assert any(
        line.startswith("No spreading from 12:00 pm to 1:00 pm") and "Covering goes on" in line
        for line in found["why"]
    )
    calm = asked_json("day", A)
    assert found["cover_until"] == calm["cover_until"]
    assert found["average"]["spread_area_m2"] < calm["average"]["spread_area_m2"]


def test_the_same_folder_gives_the_same_json_twice() -> None:
    """A random draw has a seed: the same folder gives the same bytes."""
    assert asked("day", A, "--json").stdout == asked("day", A, "--json").stdout


def test_more_sureness_never_stops_later() -> None:
    """10, 16 and 19 in 20 stand side by side, each no later than the one before."""
    for farm in (A, B, C):
        rows = asked_json("day", farm)["by_sureness"]
        assert [row["sure"] for row in rows] == [0.5, 0.8, 0.95]
        stops = [row["stop_at"] for row in rows]
        assert stops == sorted(stops, reverse=True)
        assert all(row["chance"] >= row["sure"] - 1e-9 for row in rows)
