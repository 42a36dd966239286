"""What one change would be worth today: the same drawn days with one lever pulled."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

import numpy as np

from duskline.core import day as balance
from duskline.core.farm import Farm

__all__ = ["Lever", "LeverKey", "levers_of", "spreading_ends_s"]

AnyCover = TypeVar("AnyCover", bound=balance.Cover)


class LeverKey(StrEnum):
    """What might be changed tomorrow."""

    HEAD_START = "head_start"
    WIDER_CULTIVATOR = "wider_cultivator"
    FASTER_SPREAD = "faster_spread"
    SHORTER_CHANGEOVER = "shorter_changeover"
    SHORTER_REFILL = "shorter_refill"


@dataclass(frozen=True, kw_only=True, slots=True)
class Lever:
    """One change and what it is worth today. [m2]"""

    key: LeverKey
    step: float
    unit: str
    area_m2: float
    average_area_m2: float


def spreading_ends_s(task: balance.DayTask) -> float:
    """Return when spreading ends by itself: window closed or all spread, at average rates."""
    calm, one = balance.steady(task)
    ends = np.arange(task.start_s, task.spread_until_s + 60.0, 60.0)
    spread = balance.simulate_day(calm, one, ends).spread_m2[0]
    full = np.flatnonzero(spread >= task.area_m2 - 1.0)
    return float(ends[full[0]]) if full.size else max(task.spread_until_s, task.start_s)


def _changed(task: balance.DayTask, key: LeverKey, step: float, farm: Farm) -> balance.DayTask:
    """Return the day with one lever pulled."""
    if key is LeverKey.HEAD_START:
        (opens, closes), *others = task.spread_intervals
        earlier = max(0.0, opens - step)
        return replace(task, spread_intervals=((earlier, closes), *others))
    if key is LeverKey.WIDER_CULTIVATOR:
        width = {c.name: c.working_width_m for c in farm.cultivators}

        def wider(machine: AnyCover) -> AnyCover:
            factor = (width[machine.name] + step) / width[machine.name]
            return replace(machine, rate_m2_per_s=machine.rate_m2_per_s * factor)

        return replace(
            task,
            covers=tuple(wider(c) for c in task.covers),
            takeovers=tuple(wider(t) for t in task.takeovers),
        )
    if key is LeverKey.FASTER_SPREAD:
        return replace(
            task,
            spreaders=tuple(
                replace(s, moving_rate_m2_per_s=s.moving_rate_m2_per_s * (1.0 + step))
                for s in task.spreaders
            ),
        )
    if key is LeverKey.SHORTER_CHANGEOVER:
        return replace(
            task,
            takeovers=tuple(
                replace(t, changeover_s=max(0.0, t.changeover_s - step)) for t in task.takeovers
            ),
        )
    return replace(
        task,
        spreaders=tuple(replace(s, refill_s=max(0.0, s.refill_s - step)) for s in task.spreaders),
    )


LEVERS = {
    LeverKey.HEAD_START: "lever_head_start",
    LeverKey.WIDER_CULTIVATOR: "lever_width",
    LeverKey.FASTER_SPREAD: "lever_spread_speed",
    LeverKey.SHORTER_CHANGEOVER: "lever_changeover",
    LeverKey.SHORTER_REFILL: "lever_refill",
}


def levers_of(
    farm: Farm,
    task: balance.DayTask,
    draws: balance.Draws,
    sure: float,
    area_m2: float,
) -> tuple[Lever, ...]:
    """Return what each lever is worth at the same sureness on the same drawn days."""
    base = balance.average_day(task).spread_area_m2
    found = []
    for key, row in LEVERS.items():
        if key is LeverKey.HEAD_START and task.state is not None:
            continue
        if key is LeverKey.SHORTER_CHANGEOVER and not task.takeovers:
            continue
        step = farm.defaults[row]
        changed = _changed(task, key, step.value, farm)
        latest = balance.simulate_day(changed, draws).latest_stop_s
        end_s = spreading_ends_s(changed)
        stop_s = min(max(balance.stop_at_chance_s(latest, sure), changed.start_s), end_s)
        area, _ = balance.spread_area_by_m2(changed, draws, stop_s)
        found.append(
            Lever(
                key=key,
                step=step.value,
                unit=step.unit,
                area_m2=area - area_m2,
                average_area_m2=balance.average_day(changed).spread_area_m2 - base,
            )
        )
    return tuple(sorted(found, key=lambda lever: -lever.area_m2))
