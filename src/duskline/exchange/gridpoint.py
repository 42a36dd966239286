"""The public US forecast in JSON, by periods of an hour and by raw grid layers, read into SI.

Hostile text is bounded before it is believed; what cannot be read is a problem with its place.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from contextlib import suppress
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any, NoReturn

import numpy as np

from duskline.core.weather import Forecast, dew_point_c, humidity_fraction
from duskline.exchange.forecast import MOST_BYTES, MOST_ROWS, ROUNDING_C, FileNote, ForecastRead
from duskline.exchange.problems import Problem

__all__ = ["interval_span", "parse_forecast_json"]

HOUR = timedelta(hours=1)
MOST_PROBLEMS = 30
# A grid reply reaches 7.5 days; ten times that is no forecast any more.
MOST_HOURS = 2000
_KMH, _MPH, _KNOT = 1.0 / 3.6, 0.44704, 1852.0 / 3600.0

_DURATION = re.compile(
    r"P(?:(\d{1,4})Y)?(?:(\d{1,4})M)?(?:(\d{1,4})W)?(?:(\d{1,4})D)?"
    r"(?:T(?:(\d{1,5})H)?(?:(\d{1,5})M)?(?:(\d{1,6})S)?)?"
)
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:?\d{2})")
_WIND = re.compile(r"(?:(\d{1,3}) to )?(\d{1,3}) (mph|km/h)", re.IGNORECASE)
_POINTS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
           "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")  # fmt: skip

# (factor, zero) by unit: si = (figure - zero) * factor
_UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "c": {"degC": (1.0, 0.0), "C": (1.0, 0.0), "degF": (5 / 9, 32.0), "F": (5 / 9, 32.0),
          "K": (1.0, 273.15)},
    "fraction": {"percent": (0.01, 0.0), "%": (0.01, 0.0), "1": (1.0, 0.0)},
    "mps": {"km_h-1": (_KMH, 0.0), "m_s-1": (1.0, 0.0), "kt": (_KNOT, 0.0), "kn": (_KNOT, 0.0),
            "mi_h-1": (_MPH, 0.0)},
    "m": {"mm": (1e-3, 0.0), "m": (1.0, 0.0), "in": (0.0254, 0.0), "cm": (0.01, 0.0)},
    "deg": {"degree_(angle)": (1.0, 0.0), "degree": (1.0, 0.0)},
}  # fmt: skip

# quantity of a Forecast: layer, kind, low, high in SI
_LAYERS = {
    "air_c": ("temperature", "c", -60.0, 60.0),
    "dew_point_c": ("dewpoint", "c", -90.0, 60.0),
    "humidity_fraction": ("relativeHumidity", "fraction", 0.0, 1.0),
    "wind_mps": ("windSpeed", "mps", 0.0, 150.0 * _MPH),
    "gust_mps": ("windGust", "mps", 0.0, 150.0 * _MPH),
    "wind_from_deg": ("windDirection", "deg", 0.0, 360.0),
    "rain_chance_fraction": ("probabilityOfPrecipitation", "fraction", 0.0, 1.0),
    "rain_m": ("quantitativePrecipitation", "m", 0.0, 0.5),
}


def parse_forecast_json(text: str, *, file: str, zone: tzinfo) -> ForecastRead:
    """Return the forecast in a public US reply, hourly periods or raw grid layers.

    Parameters
    ----------
    text
        A GeoJSON feature with ``properties.periods`` (an hour each) or with raw layers such
        as ``properties.temperature.values``; also the properties alone.
    file
        Its name, for the problems.
    zone
        The farm's zone, for the hours of the answer. Times in the file carry their own.

    Notes
    -----
    A figure holds over its whole interval; a depth of rain is a total over it and is parted
    evenly. Where a period's wind is a range, the upper end is taken. An hour without air
    temperature, wind, or both dew point and humidity is left out with a note. The longest
    stretch read is ``MOST_HOURS``.

    Source
    ------
    The service's published interface description (OpenAPI 3.8.1); intervals as ISO 8601.
    """
    reading = _Reading(file=file, zone=zone)
    with suppress(_Stop):
        reading.read(text)
    forecast = None if reading.problems else reading.forecast()
    return ForecastRead(
        forecast=forecast, problems=tuple(reading.problems), notes=tuple(reading.notes)
    )


def interval_span(text: str) -> tuple[datetime, datetime]:
    """Return the two moments of an ISO 8601 interval, in UTC.

    Parameters
    ----------
    text
        ``start/end``, ``start/duration`` or ``duration/start`` (then the duration runs up to
        the moment), the moments with their offset, the duration as ``PnYnMnWnDTnHnMnS``.

    Raises
    ------
    ValueError
        Anything else, an interval that is empty, or years outside 1900 to 2200.

    Notes
    -----
    Years and months are counted on the calendar, the rest elapses.
    """
    left, bar, right = text.partition("/")
    if not bar or len(text) > 100:
        raise ValueError(text[:100])
    if left.startswith("P"):
        end_at = _moment(right)
        start_at = _shifted(end_at, left, -1)
    elif right.startswith("P"):
        start_at = _moment(left)
        end_at = _shifted(start_at, right, 1)
    else:
        start_at, end_at = _moment(left), _moment(right)
    if not (start_at.year >= 1900 and end_at.year <= 2200 and start_at < end_at):
        raise ValueError(text)
    return start_at, end_at


class _Stop(Exception):
    """Nothing more can be understood."""


class _Reading:
    """One reading of one reply: the hours understood so far, and what was not."""

    def __init__(self, *, file: str, zone: tzinfo) -> None:
        self.file = file
        self.zone = zone
        self.issued_at: datetime | None = None
        self.problems: list[Problem] = []
        self.notes: list[FileNote] = []
        self.hours: dict[datetime, dict[str, float]] = {}

    def read(self, text: str) -> None:
        """Read whichever of the two forms it is."""
        whole = self._loaded(text)
        found = whole.get("properties", whole)
        if not isinstance(found, dict):
            self._stop("properties", found, "an object with the forecast")
        self.issued_at = self._issued(found)
        if "periods" in found:
            self._periods(found["periods"])
        elif isinstance(found.get("temperature"), dict):
            self._layers(found)
        elif "title" in whole and "status" in whole:
            self._stop("", f"an error reply: {whole['title']}", "a forecast; ask again later")
        else:
            expected = "periods, or layers such as temperature, as the public US service sends"
            self._stop("properties", "neither", expected)

    def forecast(self) -> Forecast | None:
        """Return the hours that have what a forecast needs; a problem where none has."""
        rows: list[tuple[datetime, dict[str, float]]] = []
        for hour_at in sorted(self.hours):
            figures = self.hours[hour_at]
            if self._damp(figures) and not math.isnan(figures.get("wind_mps", math.nan)):
                rows.append((hour_at, figures))
        left_out = len(self.hours) - len(rows)
        if not rows:
            self.problem("", "no hours", "hours with temperature, dew point or humidity, and wind")
            return None
        if left_out:
            hours = "1 hour without" if left_out == 1 else f"{left_out} hours without"
            text = f"{hours} temperature, wind or damp was left out"
            self.notes.append(FileNote(file=self.file, where="hours", text=text))
        columns = {
            name: np.array([figures.get(name, math.nan) for _, figures in rows]) for name in _LAYERS
        }
        return Forecast(
            hours_at=tuple(hour_at.astimezone(self.zone) for hour_at, _ in rows),
            issued_at=self.issued_at,
            **columns,
        )

    def problem(self, where: str, read: object, expected: str) -> None:
        shown = _shown(read)
        self.problems.append(Problem(file=self.file, where=where, read=shown, expected=expected))
        if len(self.problems) >= MOST_PROBLEMS:
            raise _Stop

    def _stop(self, where: str, read: object, expected: str) -> NoReturn:
        self.problem(where, read, expected)
        raise _Stop

    def _loaded(self, text: str) -> dict[str, Any]:
        if len(text) > MOST_BYTES:
            self._stop("", f"more than {MOST_BYTES / 1e6:g} MB", "a forecast of a few days")
        try:
            whole = json.loads(text, parse_constant=_refuse_constant)
        except (ValueError, RecursionError) as wrong:
            line = getattr(wrong, "lineno", None)
            self._stop(f"line {line}" if line else "", "text that is not JSON", "a JSON forecast")
        if not isinstance(whole, dict):
            self._stop("", whole, "a JSON object")
        return whole

    def _issued(self, found: Mapping[str, Any]) -> datetime | None:
        for key in ("updateTime", "updated", "generatedAt"):
            if isinstance(found.get(key), str):
                try:
                    return _moment(found[key]).astimezone(self.zone)
                except ValueError:
                    self.problem(key, found[key], "a moment such as 2026-10-18T10:00:00+00:00")
        return None

    def _periods(self, periods: object) -> None:
        if not isinstance(periods, list) or len(periods) > MOST_HOURS:
            self._stop("periods", periods, f"a list of at most {MOST_HOURS} hours")
        for index, period in enumerate(periods):
            where = f"periods[{index}]"
            if not isinstance(period, dict):
                self.problem(where, period, "an object for each hour")
                continue
            try:
                span = (_moment(period.get("startTime")), _moment(period.get("endTime")))
            except ValueError:
                self.problem(where, period.get("startTime"), "startTime and endTime with offset")
                continue
            if span[1] - span[0] != HOUR:
                self._stop(where, f"{span[1] - span[0]} long", "the hourly forecast, an hour each")
            first_at = next(iter(self.hours), span[0])
            if span[0] in self.hours or (span[0] - first_at) % HOUR:
                self.problem(where, period["startTime"], "each hour once, on end")
                continue
            self.hours[span[0]] = self._period(where, period)

    def _period(self, where: str, period: Mapping[str, Any]) -> dict[str, float]:
        figures: dict[str, float] = {}
        for name, (layer, kind, low, high) in _LAYERS.items():
            value = period.get(layer)
            if value is None:
                continue
            place = f"{where}.{layer}"
            if isinstance(value, str) and kind == "mps":
                found = _wind_mps(value)
            elif isinstance(value, str) and kind == "deg":
                found = _from_deg(value)
            elif isinstance(value, dict):
                inner = value.get("maxValue", value.get("value"))
                if inner is None:
                    continue
                found = self._si(place, inner, value.get("unitCode"), kind)
            else:
                found = self._si(place, value, period.get("temperatureUnit"), kind)
            if found is None or not low <= found <= high:
                self.problem(place, value, f"a {_PLAIN[kind]} with its unit")
                continue
            figures[name] = found
        return figures

    def _layers(self, found: Mapping[str, Any]) -> None:
        for name, (layer, kind, low, high) in _LAYERS.items():
            body = found.get(layer)
            if body is None:
                continue
            values = body.get("values") if isinstance(body, dict) else None
            if not isinstance(values, list) or len(values) > MOST_ROWS:
                self.problem(layer, values, f"a list of at most {MOST_ROWS} values")
                continue
            seen: dict[datetime, float] = {}
            for index, entry in enumerate(values):
                self._entry(f"{layer}.values[{index}]", entry, body.get("uom"), seen,
                            kind, low, high)  # fmt: skip
                if len(seen) > MOST_HOURS:
                    self._stop(layer, f"more than {MOST_HOURS} hours", "a forecast of a few days")
            for hour_at, figure in seen.items():
                self.hours.setdefault(hour_at, {})[name] = figure
            if len(self.hours) > MOST_HOURS:
                self._stop(layer, f"more than {MOST_HOURS} hours", "a forecast of a few days")

    def _entry(
        self,
        where: str,
        entry: object,
        uom: object,
        seen: dict[datetime, float],
        kind: str,
        low: float,
        high: float,
    ) -> None:
        """Spread one interval's figure over its hours."""
        if not isinstance(entry, dict):
            self.problem(where, entry, "validTime and value")
            return
        try:
            start_at, end_at = interval_span(str(entry.get("validTime")))
        except (ValueError, OverflowError):
            expected = "an interval such as 2026-10-18T06:00:00+00:00/PT6H"
            self.problem(f"{where}.validTime", entry.get("validTime"), expected)
            return
        if end_at - start_at > MOST_HOURS * HOUR:
            self.problem(f"{where}.validTime", entry["validTime"], f"at most {MOST_HOURS} hours")
            return
        if entry.get("value") is None:
            return
        found = self._si(f"{where}.value", entry["value"], uom, kind)
        if found is None or not low <= found <= high:
            self.problem(f"{where}.value", entry["value"], f"a {_PLAIN[kind]} with its unit (uom)")
            return
        hour_at = start_at.replace(minute=0, second=0, microsecond=0)
        while hour_at < end_at:
            if kind == "m":
                inside = min(end_at, hour_at + HOUR) - max(start_at, hour_at)
                seen[hour_at] = seen.get(hour_at, 0.0) + found * (inside / (end_at - start_at))
            elif hour_at >= start_at:
                if hour_at in seen:
                    self.problem(f"{where}.validTime", entry["validTime"], "each hour once")
                    return
                seen[hour_at] = found
            hour_at += HOUR

    def _si(self, where: str, value: object, unit: object, kind: str) -> float | None:
        """Return a figure in SI; None where it is no number or the unit is not known."""
        if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e9:
            return None
        if unit is None and kind in _BARE:
            unit = _BARE[kind]
        name = unit.rpartition(":")[2] if isinstance(unit, str) else ""
        if name not in _UNITS[kind]:
            self.problem(where, f"the unit {unit}", f"one of {', '.join(_UNITS[kind])}")
            return None
        factor, zero = _UNITS[kind][name]
        return (float(value) - zero) * factor

    @staticmethod
    def _damp(figures: dict[str, float]) -> bool:
        """Fill in the one of dew point and humidity that is missing; say whether there is one."""
        air_c, dew_c = figures.get("air_c"), figures.get("dew_point_c")
        humid = figures.get("humidity_fraction")
        if air_c is None or (dew_c is None and not humid):
            return False
        if dew_c is None:
            figures["dew_point_c"] = float(dew_point_c(air_c=air_c, humidity_fraction=humid or 1.0))
            return True
        if dew_c > air_c + ROUNDING_C:
            return False
        figures["dew_point_c"] = min(dew_c, air_c)
        if not humid:
            damp = humidity_fraction(air_c=air_c, dew_point_c=figures["dew_point_c"])
            figures["humidity_fraction"] = min(1.0, float(damp))
        return True


_PLAIN = {"c": "temperature", "fraction": "percentage", "mps": "wind speed", "m": "depth",
          "deg": "direction"}  # fmt: skip
# Layers seen without a unit in the service's replies are in these.
_BARE = {"fraction": "percent", "deg": "degree"}


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(name)


def _shown(read: object) -> str:
    if isinstance(read, dict | list):
        return "an object" if isinstance(read, dict) else f"a list of {len(read)}"
    text = "nothing" if read is None else repr(read)[:80] if isinstance(read, int) else str(read)
    return text if len(text) <= 60 else text[:57] + "..."


def _moment(text: object) -> datetime:
    if not isinstance(text, str) or not _MOMENT.fullmatch(text):
        raise ValueError("no moment with an offset")
    return datetime.fromisoformat(text).astimezone(UTC)


def _shifted(moment: datetime, duration: str, sign: int) -> datetime:
    match = _DURATION.fullmatch(duration)
    if match is None or duration.endswith(("P", "T")):
        raise ValueError(duration)
    years, months, weeks, days, hours, minutes, seconds = (int(n or 0) for n in match.groups())
    count = moment.year * 12 + moment.month - 1 + sign * (12 * years + months)
    if not 12 <= count < 12 * 9999:
        raise ValueError(duration)
    year, month = divmod(count, 12)
    last = (datetime(year + (month + 1) // 12, (month + 1) % 12 + 1, 1, tzinfo=UTC)
            - timedelta(days=1)).day  # fmt: skip
    shifted = moment.replace(year=year, month=month + 1, day=min(moment.day, last))
    elapsed = timedelta(weeks=weeks, days=days, hours=hours, minutes=minutes, seconds=seconds)
    return shifted + sign * elapsed


def _wind_mps(text: str) -> float | None:
    match = _WIND.fullmatch(text.strip())
    if match is None:
        return None
    return float(match.group(2)) * (_MPH if match.group(3).lower() == "mph" else _KMH)


def _from_deg(text: str) -> float | None:
    point = text.strip().upper()
    return 22.5 * _POINTS.index(point) if point in _POINTS else None
