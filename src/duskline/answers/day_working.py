"""The working of the day: each rate, the closed form, and how far a real day strays."""

from __future__ import annotations

from collections.abc import Callable

from duskline.answers.day_plan import PlannedDay
from duskline.answers.machines import cover_rate_m2_per_s
from duskline.answers.working import Figure, Step
from duskline.core import day as balance
from duskline.core.farm import Farm

__all__ = ["day_working"]


def day_working(
    farm: Farm,
    planned: PlannedDay,
    average: balance.Average,
    task: balance.DayTask,
    *,
    days_count: int,
) -> tuple[Step, ...]:
    """Return the working of the closed form and what so many drawn days add to it."""
    figures, steps = farm.figures, []

    def taken(name: str, place: str) -> Figure:
        given = figures[place]
        return Figure(
            name=name,
            value=given.value,
            unit=given.unit,
            source=given.source,
            low=given.low,
            high=given.high,
        )

    rate = task.mean_rate_kg_per_m2
    for spreader in task.spreaders:
        place = f"spreader.{spreader.name}"
        steps.append(
            Step(
                title=f"{spreader.name}: area per time with refills",
                formula="a / (a / (width x speed x efficiency) + refill), a = load / rate",
                inputs=(
                    taken("driving width", f"{place}.driving_width"),
                    taken("speed", f"{place}.speed"),
                    taken("clock efficiency", f"{place}.efficiency"),
                    taken("refill", f"{place}.refill"),
                    Figure(name="load", value=spreader.hopper_kg, unit="kg", source="farm.toml"),
                    Figure(name="rate", value=rate, unit="kg/m2", source="worked out, see seed"),
                ),
                result=Figure(
                    name="spreading",
                    value=balance.fluid_spread_rate_m2_per_s(
                        spreader, rate, task.seed_trucks, sharing_count=len(task.spreaders)
                    ),
                    unit="m2/s",
                    source="worked out here",
                ),
            )
        )
    for machine in planned.planned.machines:
        place = f"cultivator.{machine.name}"
        efficiency = cover_rate_m2_per_s(
            farm, next(c for c in farm.cultivators if c.name == machine.name)
        )
        steps.append(
            Step(
                title=f"{machine.name}: area per time",
                formula="(width - overlap) x speed x clock efficiency",
                inputs=(
                    taken("width", f"{place}.width"),
                    taken("overlap", f"{place}.overlap"),
                    taken("speed", f"{place}.speed"),
                    Figure(
                        name="clock efficiency",
                        value=efficiency.efficiency_fraction,
                        unit="fraction",
                        source=efficiency.source,
                        low=efficiency.low,
                        high=efficiency.high,
                    ),
                ),
                result=Figure(
                    name="covering",
                    value=machine.rate_m2_per_s,
                    unit="m2/s",
                    source="worked out here",
                ),
            )
        )
    if any(end - begin >= 1.0 for begin, end in task.spread_intervals):
        steps.append(_stop_step(taken, average, task))
    steps.append(_straying(farm, planned, task, days_count))
    return tuple(steps)


def _stop_step(
    taken: Callable[[str, str], Figure], average: balance.Average, task: balance.DayTask
) -> Step:
    """Return the closed form; a day whose spreading is done has none."""
    rates = {
        "spreading S": average.spread_rate_m2_per_s,
        "covering from the start C1": sum(c.rate_m2_per_s for c in task.covers),
        "covering after the stop C2": sum(t.rate_m2_per_s for t in task.takeovers),
    }
    return Step(
        title="Stop time at average rates, before moves",
        formula="S x = C1 (T - lead) + C2 (T - x - changeover), with head start and windows",
        inputs=(
            taken("lead", "day.lead"),
            taken("changeover", "day.changeover"),
            *(
                Figure(name=name, value=rate, unit="m2/s", source="worked out above")
                for name, rate in rates.items()
            ),
        ),
        result=Figure(
            name="spread by then",
            value=average.spread_area_m2,
            unit="m2",
            source="worked out here",
        ),
    )


def _straying(farm: Farm, planned: PlannedDay, task: balance.DayTask, days_count: int) -> Step:
    """Return how far a real day strays from the average."""
    figures, table = farm.figures, farm.defaults
    return Step(
        title="How far a real day strays",
        formula=f"{days_count:,} drawn days; the stop is the latest time that keeps the chance",
        inputs=tuple(
            Figure(
                name=name,
                value=given.value,
                unit=given.unit,
                source=given.source,
                low=given.low,
                high=given.high,
            )
            for name, given in (
                ("all rates together, spread", table["shared_rate_cv"]),
                ("one machine's own, spread", table["machine_rate_cv"]),
                ("one refill, spread", table["refill_cv"]),
                ("the changeover, spread", table["changeover_cv"]),
                ("breakdowns of a machine", figures["day.breakdowns"]),
                ("mean length of a breakdown", figures["day.repair"]),
            )
        ),
        result=Figure(
            name="closing time, one standard deviation",
            value=max((c.closes_sd_s for c in task.covers), default=0.0),
            unit="s",
            source=planned.windows.sd_source,
        ),
    )
