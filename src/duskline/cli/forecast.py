"""The command about the forecast: its age, its hours, its rain, and how right it was here."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from duskline.cli.run import DONE, NO, big, dump, heading, moment_of, note, say
from duskline.core.farm import Farm
from duskline.exchange.forecast_history import add_to_history, fetch_forecast, read_history
from duskline.store.farm import read_farm_with_store
from duskline.units import UnitError

if TYPE_CHECKING:
    from duskline.answers.forecast import ForecastAnswer
    from duskline.core.weather import Forecast

__all__ = ["forecast", "keep_history"]

HISTORY = "forecast_history.csv"
SEEN = "weather.csv"
FETCHED = "forecast.json"


def forecast(folder: Path, *, address: str | None, now: str | None, as_json: bool) -> None:
    """Print what the forecast gives, fetched anew where an address is given."""
    from duskline.answers.forecast import forecast_answer

    now_at = moment_of(now) or datetime.now(UTC)
    if address is not None:
        got = fetch_forecast(address, folder / FETCHED, now_at=now_at)
        if got.failed:
            note(f"Not fetched: {got.failed}. What is in the folder stands.")
    farm = read_farm_with_store(folder)
    if farm.forecast is None or not farm.forecast.hours_at:
        raise UnitError(str(folder), f"a folder with a forecast in it: forecast.csv or {FETCHED}")
    keep_history(folder, farm)
    past = read_history(folder / HISTORY)
    for problem in past.problems:
        note(f"{problem.file}, {problem.where}: {problem.read!r} left out")
    answer = forecast_answer(farm, now_at=now_at, past=past.hours, seen=_seen(folder, farm))
    if as_json:
        dump(_json(answer))
    else:
        _print(farm, answer)
    sys.exit(NO if answer.stale else DONE)


def keep_history(folder: Path, farm: Farm) -> None:
    """Keep what the forecast says, so that it can be held against what came."""
    if farm.forecast is None:
        return
    try:
        add_to_history(folder / HISTORY, farm.forecast)
    except OSError as wrong:
        note(f"{HISTORY} cannot be written ({wrong.strerror}): this forecast is not kept.")


def _seen(folder: Path, farm: Farm) -> Forecast | None:
    """Return the weather that came, in columns as of a forecast; None where none is written."""
    from duskline.exchange.forecast import read_forecast
    from duskline.exchange.problems import FolderProblem

    path = folder / SEEN
    if not path.is_file():
        return None
    found = read_forecast(path, zone=ZoneInfo(farm.time_zone))
    if found.problems:
        raise FolderProblem(tuple(found.problems))
    return found.forecast


def _print(farm: Farm, answer: ForecastAnswer) -> None:
    from duskline.words import forecast as words

    system = farm.system
    big(words.age_line(answer))
    for line in (words.stale_line(answer), words.reach_line(answer, system)):
        if line:
            say(f"  {line}")
    heading("Hours by forecast, sun and crew")
    for day in answer.days:
        say(f"- {words.short_date(day.on, system)}: {words.day_line(day, system)}")
        rain = words.rain_line(day, system)
        if rain:
            say(f"  {rain}")
    heading("How right it has been on this farm")
    for line in words.bias_lines(answer, system):
        say(f"- {line}")


def _json(answer: ForecastAnswer) -> Any:
    from duskline.cli.json_out import plain

    return plain(answer)
