"""The log of a farm settled: which events count, with which areas, and what is told twice."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from duskline.answers.seed import lot_rate_kg_per_m2
from duskline.core.errors import DusklineError
from duskline.core.farm import Farm
from duskline.core.log import (
    RUNNING,
    Event,
    FieldFacts,
    Settled,
    TellingRules,
    identified,
    settle,
)

__all__ = ["settled", "telling_rules", "told_curve", "with_log"]

SHORTEST = timedelta(minutes=1)
"""Work told without a time of its own took at least so long."""


def telling_rules(farm: Farm) -> TellingRules:
    """Return when two tellings are taken for one on this farm."""
    table = farm.defaults
    return TellingRules(
        twice_within_s=table["told_twice_within"].value,
        twice_share_fraction=table["told_twice_share"].value,
        over_share_fraction=table["told_over_share"].value,
        clock_off_s=table["device_clock_off"].value,
    )


def settled(farm: Farm, events: Iterable[Event] | None = None) -> Settled:
    """Return what the events (the farm's own, if none are given) add up to on its fields."""
    rates = {lot: _rate(farm, lot) for lot in {one.lot for one in farm.fields}}
    ground = {
        one.name: FieldFacts(area_m2=one.record_area_m2, rate_kg_per_m2=rates[one.lot])
        for one in farm.fields
    }
    told = farm.told if events is None else events
    if farm.renamed:
        told = (replace(one, machine=farm.renamed.get(one.machine, one.machine)) for one in told)
    return settle(told, ground, telling_rules(farm))


def told_curve(
    account: Settled, start_at: datetime, now_at: datetime, *, opens_at: datetime
) -> tuple[tuple[datetime, float, float], ...]:
    """Return what was spread and covered of a day by when, as told; straight in between. [m2]

    Every telling is for the time it says it took, else for the time since its machine's telling
    before, or since work opened. The last moment is ``now_at``, with what ``Settled.day_m2`` says.

    Parameters
    ----------
    account
        The log settled.
    start_at, now_at
        The beginning of the day, and up to when.
    opens_at
        When work opened.
    """
    base_m2 = account.day_m2(start_at, start_at - timedelta(microseconds=1))
    today = [event for event in account.events if start_at <= event.at <= now_at]
    ramps: list[tuple[datetime, datetime, float, float]] = []
    before_m2, last_at = base_m2, dict[str, list[datetime]]()
    states = _states_m2(account, start_at, now_at)
    for event, (spread_m2, covered_m2) in zip(today, states, strict=True):
        times = last_at.setdefault(event.machine, [])
        if (spread_m2, covered_m2) != before_m2:
            since_at = next((at for at in reversed(times) if at < event.at), opens_at)
            if event.took_s is not None:
                since_at = event.at - timedelta(seconds=event.took_s)
            grown = (spread_m2 - before_m2[0], covered_m2 - before_m2[1])
            ramps.append((max(start_at, min(since_at, event.at - SHORTEST)), event.at, *grown))
            before_m2 = spread_m2, covered_m2
        if event.what in RUNNING:
            times.append(event.at)
    first_at = min((one[0] for one in ramps), default=opens_at)
    moments = {min(first_at, opens_at, now_at), now_at}
    moments |= {at for begin_at, end_at, *_ in ramps for at in (begin_at, end_at)}
    return tuple((at, *_grown_m2(base_m2, ramps, at)) for at in sorted(moments))


def _states_m2(account: Settled, start_at: datetime, now_at: datetime) -> list[tuple[float, float]]:
    """Return the area spread and covered of the day after each of its events. [m2]"""
    today = [event for event in account.events if start_at <= event.at <= now_at]
    names = {event.field for event in today}
    # The fields nobody told of today stand as they stood: the season's log is not added up anew.
    part = Settled(events=tuple(event for event in account.events if event.field in names))
    before_at = start_at - timedelta(microseconds=1)
    rest_m2 = [
        whole - some
        for whole, some in zip(
            account.day_m2(start_at, before_at), part.day_m2(start_at, before_at), strict=True
        )
    ]
    found = {}
    for at in dict.fromkeys(event.at for event in today):
        spread_m2, covered_m2 = part.day_m2(start_at, at)
        found[at] = spread_m2 + rest_m2[0], covered_m2 + rest_m2[1]
    return [found[event.at] for event in today]


def _grown_m2(
    base_m2: tuple[float, float], ramps: list[tuple[datetime, datetime, float, float]], at: datetime
) -> tuple[float, float]:
    """Return the area spread and covered at a moment, every telling's work done evenly. [m2]"""
    spread_m2, covered_m2 = base_m2
    for begin_at, end_at, spread_more_m2, covered_more_m2 in ramps:
        share = min(1.0, max(0.0, (at - begin_at) / (end_at - begin_at)))
        spread_m2 += share * spread_more_m2
        covered_m2 += share * covered_more_m2
    return spread_m2, covered_m2


def with_log(farm: Farm, events: Iterable[Event]) -> Farm:
    """Return the farm with these events as its log."""
    told = identified(events)
    if not told:
        return replace(farm, told=(), log=())
    return replace(farm, told=told, log=settled(farm, told).events)


def _rate(farm: Farm, lot: str | None) -> float | None:
    """Return the planned rate; None where the lot cannot be reckoned. [kg/m2]"""
    try:
        return lot_rate_kg_per_m2(farm, farm.lot(lot))
    except DusklineError:
        return None
