"""What each machine does an hour: log before remembered day before stated before default."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_folders import ACRE_M2, EXAMPLES, copy_of

from duskline.answers.day import DayQuestion, day_answer
from duskline.answers.machines import cover_rate_m2_per_s, moving_rate_m2_per_s
from duskline.core.errors import OutOfRange
from duskline.core.farm import Farm
from duskline.exchange.farmfolder import read_farm

ACRE_H = ACRE_M2 / 3600
NO_EFFICIENCY = [('efficiency = "85 %"\n', "")]
REMEMBERED = (
    "# Hours the crew",
    '[[remembered]]\narea = "115 ac"\nhours = "10:00-18:00"\ncultivators = ["Cultivator 1"]\n\n'
    "# Hours the crew",
)


def farm(tmp_path: Path, *changes: tuple[str, str], log: str = "") -> Farm:
    """Return the rye farm with texts changed and, if given, a log."""
    folder = copy_of("rye-after-soybeans", tmp_path, farm_toml=list(changes))
    if log:
        (folder / "log.csv").write_text(f"time,machine,what,field,amount,took\n{log}", "utf-8")
    return read_farm(folder)


def test_stated_efficiencies_give_the_scenarios_rates() -> None:
    """31.0 ac/h moving, 15.30 and 15.58 ac/h covering."""
    rye = read_farm(EXAMPLES / "rye-after-soybeans")
    assert moving_rate_m2_per_s(rye.spreaders[0]) / ACRE_H == pytest.approx(31.03, abs=0.005)
    rates = [cover_rate_m2_per_s(rye, machine).value / ACRE_H for machine in rye.cultivators]
    assert rates == [pytest.approx(15.30, abs=0.005), pytest.approx(15.58, abs=0.005)]


def test_without_any_figure_the_wide_default_is_used_and_named(tmp_path: Path) -> None:
    """0.40 / 0.55 / 0.70, marked as a default."""
    found = farm(tmp_path, *NO_EFFICIENCY)
    rate = cover_rate_m2_per_s(found, found.cultivators[0])
    assert rate.is_default
    assert (rate.low, rate.efficiency_fraction, rate.high) == (0.40, 0.55, 0.70)
    assert "Not your figures yet" in " ".join(_why(found))


def _why(found: Farm) -> list[str]:
    from duskline.words.day import why

    return why(day_answer(found, DayQuestion(replications=500)), "us")


def test_a_remembered_day_is_reproduced_by_the_tool(tmp_path: Path) -> None:
    """115 acres, 10 to 6, one cultivator: 115 / (8 h - 20 min lead) = 15.0 ac/h."""
    found = farm(tmp_path, *NO_EFFICIENCY, REMEMBERED)
    rate = cover_rate_m2_per_s(found, found.cultivators[0])
    assert rate.value / ACRE_H == pytest.approx(115 / (8 - 1 / 3), rel=1e-6)
    assert not rate.is_default
    assert "remembered day" in rate.source


def test_a_remembered_day_nobody_can_have_had_is_refused(tmp_path: Path) -> None:
    """300 acres with one 30 ft cultivator in eight hours."""
    found = farm(
        tmp_path, *NO_EFFICIENCY, (REMEMBERED[0], REMEMBERED[1].replace("115 ac", "300 ac"))
    )
    with pytest.raises(OutOfRange, match="remembered area"):
        cover_rate_m2_per_s(found, found.cultivators[0])


def test_the_log_replaces_everything(tmp_path: Path) -> None:
    """40 ac in 2 h 40 min: 15.0 ac/h, whatever was stated or remembered."""
    line = "2026-10-17T13:00,Cultivator 1,covered,A8,30 ac,2 h\n"
    found = farm(tmp_path, REMEMBERED, log=line)
    rate = cover_rate_m2_per_s(found, found.cultivators[0])
    assert rate.value / ACRE_H == pytest.approx(15.0)
    assert rate.source == "log.csv: area over time"
    other = cover_rate_m2_per_s(found, found.cultivators[1])
    assert other.source == "farm.toml"
