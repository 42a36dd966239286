"""Write the forecast.csv of the three example farms; all weather in them is invented.

Run from the top of the repository: ``python tools/place_forecasts.py``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
INVENTED = "# Invented weather for an example farm; not a record of any place."

Row = Sequence[float | str]

# Rye after soybeans: degrees F, percent, mph and percent chance at 07:00 to 20:00, by day.
RYE_ZONE = ZoneInfo("America/Chicago")
RYE_DAYS: dict[date, tuple[str, str, str, str]] = {
    date(2026, 10, 18): (
        "44 46 50 55 60 64 67 69 70 69 67 63 58 55",
        "94 91 76 70 64 58 53 50 49 51 56 66 80 86",
        "3 4 5 6 8 9 10 10 10 9 7 5 3 3",
        "0 0 0 0 0 0 0 0 0 0 0 0 0 0",
    ),
    date(2026, 10, 19): (
        "52 54 57 61 64 66 66 65 60 57 55 54 53 52",
        "92 88 82 74 70 68 70 74 88 94 95 96 96 96",
        "6 7 8 9 10 11 12 13 16 15 12 10 8 8",
        "5 5 5 10 10 15 25 40 70 85 90 90 80 70",
    ),
    date(2026, 10, 20): (
        "46 46 47 48 50 51 52 52 51 50 48 46 44 43",
        "97 96 94 92 89 86 84 84 86 88 91 93 95 96",
        "8 8 8 7 7 6 6 5 5 4 3 3 2 2",
        "40 30 20 10 5 5 0 0 0 0 0 0 0 0",
    ),
    date(2026, 10, 21): (
        "38 41 46 51 56 59 61 62 62 60 57 52 48 45",
        "97 93 85 76 68 61 56 54 54 57 64 74 84 90",
        "2 3 4 5 6 7 7 7 6 5 4 3 2 2",
        "0 0 0 0 0 0 0 0 0 0 0 0 0 0",
    ),
}
# 0.6 in from 14:00 to midnight on the wet day, parted by the chances and these for 21 to 23 h.
WET_DAY, WET_FROM_HOUR, WET_TOTAL_IN, LATE_CHANCES = date(2026, 10, 19), 14, 0.60, (60, 50, 40)

# Oats and radish: degrees C, percent, km/h and mm an hour at 07:00 to 20:00, by day.
OATS_ZONE = ZoneInfo("Pacific/Auckland")
OATS_DAYS: dict[date, tuple[str, str, str, str]] = {
    date(2026, 3, 1): (
        "12 14 17 20 22 24 25 26 25 19 16 15 14 13",
        "88 79 66 55 47 42 38 36 40 72 82 84 86 88",
        "5 6 8 11 14 18 23 28 31 26 20 16 14 12",
        "0 0 0 0 0 0 0 0 0 1.2 2.5 2.0 1.0 0.2",
    ),
    date(2026, 3, 2): (
        "9 11 13 15 16 17 18 18 17 17 16 15 13 12",
        "93 86 74 66 60 57 55 54 55 57 62 70 79 86",
        "4 5 6 7 9 10 11 12 12 11 9 7 5 4",
        "0 0 0 0 0 0 0 0 0 0 0 0 0 0",
    ),
}

# Forty fields: degrees F and percent at 07, 10, 13, 16 and 19 h, mph and percent chance at 07:00
# to 19:00, by day. Between the five hours a straight line; a day without chances gets 5.
FORTY_ZONE = ZoneInfo("America/New_York")
FORTY_HOURS = (7, 10, 13, 16, 19)
FORTY_LOW_CHANCE = 5.0
FORTY_DAYS: dict[date, tuple[str, str, str, str]] = {
    date(2026, 10, 15): ("48 60 68 67 58", "93 72 55 56 78", "4 5 6 7 8 9 9 9 8 7 5 4 3", ""),
    date(2026, 10, 16): (
        "52 62 70 69 60",
        "92 70 54 57 76",
        "5 6 8 10 12 13 14 14 12 10 7 5 4",
        "",
    ),
    date(2026, 10, 17): (
        "57 62 64 60 57",
        "90 78 80 93 95",
        "8 9 10 11 12 13 15 17 18 16 14 12 10",
        "10 10 10 10 20 35 60 80 90 90 80 70 60",
    ),
    date(2026, 10, 18): (
        "52 56 60 59 53",
        "95 88 76 78 90",
        "14 13 12 12 11 11 10 10 9 8 7 6 5",
        "50 40 30 20 10 5 0 0 0 0 0 0 0",
    ),
    date(2026, 10, 19): ("44 57 65 64 54", "96 76 57 58 82", "4 4 5 6 7 8 8 8 7 6 5 4 3", ""),
    date(2026, 10, 20): ("46 59 67 66 56", "95 73 55 57 80", "3 4 5 6 7 8 9 9 8 7 5 4 3", ""),
}


def figures(text: str) -> list[float]:
    """Return the numbers that stand in a line."""
    return [float(word) for word in text.split()]


def moments(day: date, zone: ZoneInfo, first_hour: int, count: int) -> list[str]:
    """Return the times of ``count`` hours of a day, with the offset they have there."""
    start = datetime(day.year, day.month, day.day, first_hour, tzinfo=zone)
    return [(start + timedelta(hours=n)).isoformat(timespec="minutes") for n in range(count)]


def between(five: Sequence[float], hours: Sequence[int]) -> list[float]:
    """Return one value for each hour from first to last, on straight lines between."""
    values = []
    for (start, end), (low, high) in zip(pairwise(hours), pairwise(five), strict=True):
        values += [low + (high - low) * step / (end - start) for step in range(end - start)]
    return [round(value, 1) for value in [*values, five[-1]]]


def rye_rows() -> Iterable[Row]:
    """Return time, air, humidity, wind, chance and depth for every hour of the rye farm."""
    for day, columns in RYE_DAYS.items():
        air, humid, wind, chance = (figures(column) for column in columns)
        depth = [0.0] * len(chance)
        if day == WET_DAY:
            first = WET_FROM_HOUR - 7
            share = WET_TOTAL_IN / (sum(chance[first:]) + sum(LATE_CHANCES))
            depth[first:] = [round(share * one, 2) for one in chance[first:]]
        times = moments(day, RYE_ZONE, 7, len(air))
        yield from zip(times, air, humid, wind, chance, depth, strict=True)


def oats_rows() -> Iterable[Row]:
    """Return time, air, humidity, wind and depth for every hour of the oats and radish farm."""
    for day, columns in OATS_DAYS.items():
        air, humid, wind, depth = (figures(column) for column in columns)
        times = moments(day, OATS_ZONE, 7, len(air))
        yield from zip(times, air, humid, wind, depth, strict=True)


def forty_rows() -> Iterable[Row]:
    """Return time, air, humidity, wind and chance for every hour of the forty fields."""
    for day, (air_five, humid_five, wind_text, chance_text) in FORTY_DAYS.items():
        air = between(figures(air_five), FORTY_HOURS)
        humid = between(figures(humid_five), FORTY_HOURS)
        wind = figures(wind_text)
        chance = figures(chance_text) or [FORTY_LOW_CHANCE] * len(wind)
        times = moments(day, FORTY_ZONE, 7, len(wind))
        yield from zip(times, air, humid, wind, chance, strict=True)


def table(issued: str, header: str, rows: Iterable[Row]) -> str:
    """Return the text of one forecast.csv."""
    lines = [INVENTED, f"# issued: {issued}", header]
    for row in rows:
        lines.append(",".join(one if isinstance(one, str) else f"{one:g}" for one in row))
    return "\n".join(lines) + "\n"


def forecasts() -> dict[str, str]:
    """Return the text of each example's forecast.csv by the name of its folder."""
    return {
        "rye-after-soybeans": table(
            "2026-10-18T05:00-05:00",
            "time,air_f,humidity_percent,wind_mph,rain_chance_percent,rain_in",
            rye_rows(),
        ),
        "oats-and-radish": table(
            "2026-03-01T05:00+13:00",
            "time,air_c,humidity_percent,wind_kmh,rain_mm",
            oats_rows(),
        ),
        "forty-fields": table(
            "2026-10-15T05:00-04:00",
            "time,air_f,humidity_percent,wind_mph,rain_chance_percent",
            forty_rows(),
        ),
    }


def main() -> None:
    """Write the three files."""
    for folder, text in forecasts().items():
        path = EXAMPLES / folder / "forecast.csv"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
        print(path)


if __name__ == "__main__":
    main()
