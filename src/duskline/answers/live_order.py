"""The order of the fields from now on: the morning's, which the crew holds on its cards.

Fields begun today come first, then what is left of the morning's, then the rest. Only what cannot
wait, or cannot begin, moves a field, and then the reason is kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from duskline.answers.live_now import LEAST_AREA_M2
from duskline.answers.machines import moving_rate_m2_per_s
from duskline.core.farm import Farm, Field
from duskline.core.light import seconds_after
from duskline.core.log import Settled

__all__ = ["OrderChange", "OrderWhy", "begun_today", "field_order", "with_order"]

SPREADS = ("begin", "spread", "load")
CRUMB_SHARE, CRUMB_M2 = 0.01, 2000.0
"""A field with less than this left (a hundredth, half an acre) is no field to go to first."""


class OrderWhy(StrEnum):
    """Why a field does not stand where the morning had it."""

    BEGUN = "begun before its turn"
    NOT_READY = "not ready at its turn"
    RAIN = "cannot wait for after the rain"


@dataclass(frozen=True, kw_only=True, slots=True)
class OrderChange:
    """One field that moved, why, and when it is ready where that is why."""

    field: str
    why: OrderWhy
    ready_at: datetime | None = None


def begun_today(
    farm: Farm, settled: Settled, *, start_at: datetime, now_at: datetime
) -> tuple[str, ...]:
    """Return the fields begun today: those the spreaders are in, then those they left."""
    spreaders = {one.name for one in farm.spreaders}
    fields = {one.name for one in farm.fields}
    at_work: dict[str, str] = {}
    begun: list[str] = []
    for event in settled.events:
        if not start_at <= event.at <= now_at or event.what not in SPREADS:
            continue
        if event.machine in spreaders and event.field in fields:
            at_work[event.machine] = event.field
            begun.append(event.field)
    return tuple(dict.fromkeys((*at_work.values(), *begun)))


def field_order(
    farm: Farm,
    begun: Sequence[str],
    morning: Sequence[str],
    *,
    start_at: datetime,
    now_at: datetime,
    left_m2: Mapping[str, float],
    rain_called: bool,
) -> tuple[tuple[str, ...], tuple[OrderChange, ...]]:
    """Return the fields in the order they are worked from now on, and what moved.

    Parameters
    ----------
    begun
        Fields begun today, those at work first.
    morning
        The morning's plan, in its order.
    left_m2
        What is left to spread of each field. [m2]
    rain_called
        Whether rain was called today: fields that cannot be worked after it go first.
    """
    by_name = {one.name: one for one in farm.fields}
    open_still = {
        name
        for name, noun in by_name.items()
        if left_m2.get(name, 0.0) > max(CRUMB_SHARE * noun.record_area_m2, CRUMB_M2)
        or left_m2.get(name, 0.0) >= noun.record_area_m2 > LEAST_AREA_M2
    }
    first = [name for name in begun if name in open_still]
    rest = [name for name in morning if name in open_still and name not in first]
    changes = [
        OrderChange(field=name, why=OrderWhy.BEGUN)
        for name in first
        if morning and _before_its_turn(name, rest, morning)
    ]
    if rain_called:
        hurried = sorted(rest, key=lambda name: not by_name[name].not_after_rain)
        changes += [
            OrderChange(field=name, why=OrderWhy.RAIN)
            for name in hurried
            if by_name[name].not_after_rain and hurried.index(name) < rest.index(name)
        ]
        rest = hurried
    pace = sum(moving_rate_m2_per_s(one) for one in farm.spreaders)
    clock_s = seconds_after(start_at, now_at) + sum(left_m2[name] for name in first) / pace
    rest, waiting = _as_they_are_ready(rest, by_name, left_m2, pace, clock_s, start_at)
    changes += [
        OrderChange(field=name, why=OrderWhy.NOT_READY, ready_at=_local(by_name[name], now_at))
        for name in waiting
    ]
    return (*first, *rest), tuple(changes)


def with_order(farm: Farm, order: Sequence[str]) -> Farm:
    """Return the farm whose owner wants its fields in this order, then in his own."""
    whole = tuple(dict.fromkeys((*order, *farm.rules.order)))
    return replace(farm, rules=replace(farm.rules, order=whole))


def _before_its_turn(name: str, rest: Sequence[str], morning: Sequence[str]) -> bool:
    """Say whether fields not begun yet stood before this one in the morning."""
    if name not in morning:
        return True
    return any(morning.index(other) < morning.index(name) for other in rest)


def _as_they_are_ready(
    rest: Sequence[str],
    by_name: Mapping[str, Field],
    left_m2: Mapping[str, float],
    pace_m2_per_s: float,
    clock_s: float,
    start_at: datetime,
) -> tuple[list[str], list[str]]:
    """Return the same order, a field that is not ready at its turn let wait, and those that do."""
    waiting: list[str] = []
    ordered: list[str] = []
    queue = list(rest)

    def ready_s(name: str) -> float:
        ready_at = by_name[name].ready_at
        return seconds_after(start_at, ready_at) if ready_at is not None else 0.0

    while queue:
        name = queue[0]
        if ready_s(name) > clock_s:
            other = next((one for one in queue if ready_s(one) <= clock_s), None)
            if other is not None and name not in waiting:
                waiting.append(name)
            name = other or name
        queue.remove(name)
        ordered.append(name)
        clock_s = max(clock_s, ready_s(name)) + left_m2[name] / pace_m2_per_s
    return ordered, waiting


def _local(field: Field, now_at: datetime) -> datetime | None:
    return None if field.ready_at is None else field.ready_at.astimezone(now_at.tzinfo)
