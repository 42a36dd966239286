"""The forecast in words: how old, which hours it gives, how sure the rain, how right it was."""

from __future__ import annotations

from collections.abc import Iterator

from duskline.answers.forecast import ForecastAnswer, ForecastDay
from duskline.core.weather.history import ChanceKept, ForecastBias
from duskline.units import System, clock, show, show_span
from duskline.words.season import short_date

__all__ = [
    "age_line",
    "bias_lines",
    "day_line",
    "rain_line",
    "reach_line",
    "short_date",
    "stale_line",
]

DRY = 0.005
NAMES = {"air_c": "air temperature", "dew_point_c": "dew point", "wind_mps": "wind"}
NEAR_DAYS = 5


def age_line(answer: ForecastAnswer) -> str:
    """Return how old the forecast is."""
    if answer.age_s is None:
        return "The forecast does not say when it was made"
    if answer.age_s < 0.0:
        return "The forecast was made after now: check the clock"
    return f"The forecast is {show_span(answer.age_s)} old"


def stale_line(answer: ForecastAnswer) -> str:
    """Return what to do about an old forecast; "" where it is not."""
    return "It is old: get a new one before you plan on it." if answer.stale else ""


def reach_line(answer: ForecastAnswer, system: System) -> str:
    """Return how far the forecast reaches."""
    return (
        f"It reaches from {short_date(answer.first_at.date(), system)}"
        f" to {short_date(answer.last_at.date(), system)}."
    )


def day_line(day: ForecastDay, system: System) -> str:
    """Return the hours of a date: "spread 9:30 am to 6:15 pm, cover ..., closes for dew on"."""
    if day.spread is None or day.cover is None:
        return f"no work: {day.because}"
    spread, cover = (
        f"{clock(a, system)} to {clock(b, system)}" for a, b in (day.spread, day.cover)
    )
    stated = "; you stated other hours, which the plans go by" if day.stated else ""
    return (
        f"spread {spread} (opens with {day.opens_because}),"
        f" cover {cover} (closes with {day.closes_because}){stated}"
    )


def rain_line(day: ForecastDay, system: System) -> str:
    """Return the chance of rain with both ends, its depth, and when ground is fit again."""
    low, high = day.rain_least_fraction, day.rain_most_fraction
    if high < DRY and day.rain_m <= 0.0:
        return ""
    text = f"rain in working hours {low:.0%}"
    if high - low > DRY:
        text = (
            f"rain in working hours {low:.0%} if it is all one rain, at most {high:.0%};"
            f" about {day.rain_middle_fraction:.0%}"
        )
    if day.rain_m > 0.0:
        text += f"; {show(day.rain_m, 'rain', system)} in all"
    if day.fit_from is not None:
        early, middle, late = (f"{at:%a} {clock(at, system)}" for at in day.fit_from)
        text += f"; then fit about {middle} (quick ground {early}, slow ground {late}): look first"
    return text


def bias_lines(answer: ForecastAnswer, system: System) -> Iterator[str]:
    """Yield how right the forecast has been here, or what is missing to say so."""
    told = [one for one in answer.bias if one.lead_days < NEAR_DAYS]
    if not told:
        yield (
            "How right it is on this farm cannot be said yet: put what the weather was into"
            " weather.csv, in columns as in forecast.csv."
        )
        return
    for one in told:
        yield _bias(one, system)
    for chance in answer.chances:
        if chance.lead_days < 2:
            yield _chance(chance)


def _bias(one: ForecastBias, system: System) -> str:
    name = f"{NAMES[one.figure]}, {_ahead(one.lead_days)}"
    if one.too_few:
        return f"{name}: too few days yet ({one.days})"
    off = _off(one, system)
    way = "too high" if one.bias > 0.0 else "too low"
    low, high = sorted((one.low, one.high))
    if low <= 0.0 <= high:
        return f"{name}: right on average over {one.days} days (off by {off}, within luck)"
    return f"{name}: {off} {way} on average over {one.days} days"


def _off(one: ForecastBias, system: System) -> str:
    if one.figure == "wind_mps":
        return show(abs(one.bias), "speed", system)
    degrees, unit = (abs(one.bias) * 1.8, "°F") if system == "us" else (abs(one.bias), "°C")
    return f"{degrees:.1f} {unit}"


def _chance(one: ChanceKept) -> str:
    name = f"rain said {one.said_fraction:.0%}, {_ahead(one.lead_days)}"
    if one.too_few:
        return f"{name}: too few days yet ({one.days})"
    return (
        f"{name}: it rained in {one.rained_fraction:.0%} of those hours"
        f" ({one.low_fraction:.0%} to {one.high_fraction:.0%}), {one.days} days"
    )


def _ahead(days: int) -> str:
    return "under a day ahead" if days == 0 else f"{days} day{'s' if days > 1 else ''} ahead"
