"""The log of a farm settled: which events count, with which areas, and what is told twice."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from duskline.answers.seed import lot_rate_kg_per_m2
from duskline.core.errors import DusklineError
from duskline.core.farm import Farm
from duskline.core.log import Event, FieldFacts, Settled, TellingRules, identified, settle

__all__ = ["settled", "telling_rules", "with_log"]


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
    ground = {
        one.name: FieldFacts(area_m2=one.record_area_m2, rate_kg_per_m2=_rate(farm, one.lot))
        for one in farm.fields
    }
    told = farm.told if events is None else events
    if farm.renamed:
        told = (replace(one, machine=farm.renamed.get(one.machine, one.machine)) for one in told)
    return settle(told, ground, telling_rules(farm))


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
