"""``forecast_history.csv``: what each forecast used said of each hour, and a fetched one's copy.

Rows are only ever added, one forecast at a time, so that its way of erring can be shown.
"""

from __future__ import annotations

import csv
import io
import math
import os
import tempfile
import urllib.error
import urllib.request
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO
from urllib.parse import urlsplit

from duskline.core.light import seconds_after
from duskline.core.weather import Forecast
from duskline.core.weather.history import PastHour
from duskline.exchange.problems import Problem

__all__ = ["FetchedForecast", "HistoryRead", "add_to_history", "fetch_forecast", "read_history"]

HEADER = ("issued_at", "for_hour", "air_c", "dew_point_c", "wind_mps", "rain_chance_percent")
MOST_BYTES = 20_000_000
MOST_FETCHED = 5_000_000
MOST_PROBLEMS = 30


@dataclass(frozen=True, kw_only=True, slots=True)
class HistoryRead:
    """What the file holds; lines that could not be read are told and left out."""

    hours: tuple[PastHour, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class FetchedForecast:
    """A forecast kept on this machine: where, how old, and why it was not fetched anew.

    Attributes
    ----------
    age_s
        Since it was fetched; None where there is none at all. [s]
    failed
        Why fetching failed, in words; empty where it did not, or was not needed.
    """

    path: Path
    age_s: float | None
    failed: str = ""


def add_to_history(path: Path, forecast: Forecast) -> int:
    """Return how many hours were added to the history; 0 where this forecast is in it.

    Parameters
    ----------
    path
        The file; made where it is missing.
    forecast
        One that says when it was made; else nothing is added, since its lead is not known.
        Hours that were over when it was made are left out.
    """
    issued_at = forecast.issued_at
    if issued_at is None:
        return 0
    have = path.stat().st_size if path.exists() else 0
    if have > MOST_BYTES or issued_at in {hour.issued_at for hour in read_history(path).hours}:
        return 0
    text = io.StringIO()
    write = csv.writer(text, lineterminator="\n")
    if not have:
        write.writerow(HEADER)
    elif not path.read_bytes().endswith(b"\n"):
        text.write("\n")  # a line cut off by a power cut keeps to itself
    rows = [
        index
        for index, hour_at in enumerate(forecast.hours_at)
        if seconds_after(issued_at, hour_at) >= 0.0
    ]
    for index in rows:
        figures = (
            forecast.air_c[index],
            forecast.dew_point_c[index],
            forecast.wind_mps[index],
            100.0 * forecast.rain_chance_fraction[index],
        )
        write.writerow(
            (
                _text(issued_at),
                _text(forecast.hours_at[index]),
                *("" if math.isnan(figure) else f"{figure:.6g}" for figure in figures),
            )
        )
    with path.open("ab") as stream:
        stream.write(text.getvalue().encode())
        stream.flush()
        os.fsync(stream.fileno())
    return len(rows)


def read_history(path: Path) -> HistoryRead:
    """Return what forecasts said, in the order it was written; nothing where there is no file."""
    if not path.exists():
        return HistoryRead(hours=(), problems=())
    with path.open("rb") as stream:
        data = stream.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        read, expected = f"more than {MOST_BYTES / 1e6:g} MB", "a shorter history; keep a copy"
        problem = Problem(file=path.name, where="", read=read, expected=expected)
        return HistoryRead(hours=(), problems=(problem,))
    hours: list[PastHour] = []
    problems: list[Problem] = []
    text = data.decode("utf-8-sig", errors="replace")
    for line, raw in enumerate(text.split("\n"), start=1):
        cells = raw.strip("\r ").split(",")
        if not raw.strip() or tuple(cells) == HEADER:
            continue
        try:
            hours.append(_past(cells))
        except ValueError:
            if len(problems) < MOST_PROBLEMS:
                problems.append(
                    Problem(
                        file=path.name,
                        where=f"line {line}",
                        read=raw[:60],
                        expected=f"cells as in {','.join(HEADER)}",
                    )
                )
    return HistoryRead(hours=tuple(hours), problems=tuple(problems))


def fetch_forecast(
    url: str,
    cache_path: Path,
    *,
    now_at: datetime,
    fresh_for_s: float = 3600.0,
    timeout_s: float = 20.0,
) -> FetchedForecast:
    """Return the copy of a forecast on this machine, fetched anew if it is older than wanted.

    Never needed: a forecast saved by hand does as well. What cannot be fetched leaves the old
    copy as it is, with its age and the reason.

    Parameters
    ----------
    url
        An https address; nothing else is opened, also not by way of a redirection.
    cache_path
        Where the copy is kept; its time stamp tells its age.
    now_at
        Aware; from it the age is counted.
    fresh_for_s, timeout_s
        How old a copy may be without a new look, and how long an answer may take. [s]
    """
    return _fetch(url, cache_path, now_at, fresh_for_s, timeout_s, schemes=("https",))


def _fetch(
    url: str,
    cache_path: Path,
    now_at: datetime,
    fresh_for_s: float,
    timeout_s: float,
    *,
    schemes: Sequence[str],
) -> FetchedForecast:
    age_s = _age_s(cache_path, now_at)
    if age_s is not None and 0.0 <= age_s <= fresh_for_s:
        return FetchedForecast(path=cache_path, age_s=age_s)
    if urlsplit(url).scheme not in schemes:
        return FetchedForecast(path=cache_path, age_s=age_s, failed="the address is not https")
    request = urllib.request.Request(  # noqa: S310 - the scheme is checked above
        url, headers={"User-Agent": "duskline", "Accept": "application/geo+json"}
    )
    try:
        opener = urllib.request.build_opener(_SameSchemes(schemes))
        with opener.open(request, timeout=timeout_s) as answer:
            data = answer.read(MOST_FETCHED + 1)
    except (OSError, ValueError) as wrong:
        reason = str(getattr(wrong, "reason", wrong)) or type(wrong).__name__
        return FetchedForecast(path=cache_path, age_s=age_s, failed=reason)
    if len(data) > MOST_FETCHED:
        return FetchedForecast(path=cache_path, age_s=age_s, failed="the answer is too long")
    _keep(data, cache_path, now_at)
    return FetchedForecast(path=cache_path, age_s=0.0)


class _SameSchemes(urllib.request.HTTPRedirectHandler):
    """Follow a redirection only where it leads to an allowed scheme."""

    def __init__(self, schemes: Sequence[str]) -> None:
        self.schemes = schemes

    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: object,
        newurl: str,
    ) -> urllib.request.Request | None:
        if urlsplit(newurl).scheme not in self.schemes:
            raise urllib.error.URLError("the address leads on to one that is not https")
        return super().redirect_request(req, fp, code, msg, headers, newurl)  # type: ignore[arg-type]


def _keep(data: bytes, path: Path, now_at: datetime) -> None:
    """Put the copy in place whole or not at all, stamped with the moment it was fetched."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        os.utime(name, (now_at.timestamp(), now_at.timestamp()))
        Path(name).replace(path)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise


def _age_s(path: Path, now_at: datetime) -> float | None:
    if not path.exists():
        return None
    return seconds_after(datetime.fromtimestamp(path.stat().st_mtime, tz=UTC), now_at)


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _past(cells: Sequence[str]) -> PastHour:
    issued, hour, *figures = cells
    issued_at, for_at = (datetime.fromisoformat(text) for text in (issued, hour))
    air_c, dew_c, wind_mps, chance = (float(text) if text else math.nan for text in figures)
    if issued_at.tzinfo is None or for_at.tzinfo is None or any(map(math.isinf, (air_c, dew_c))):
        raise ValueError("a moment without a zone")
    if not (math.isnan(chance) or 0.0 <= chance <= 100.0) or wind_mps < 0.0:
        raise ValueError("a figure that cannot be")
    return PastHour(
        issued_at=issued_at,
        for_at=for_at,
        air_c=air_c,
        dew_point_c=dew_c,
        wind_mps=wind_mps,
        rain_chance_fraction=chance / 100.0,
    )
