"""The working of the season's answer: how its figures come about, each input with its source."""

from __future__ import annotations

from typing import TYPE_CHECKING

from duskline.answers.season_crews import Basis
from duskline.answers.working import Figure, Step
from duskline.core.farm import Farm
from duskline.core.season import Schedule

if TYPE_CHECKING:
    from duskline.answers.season_task import PlannedSeason
    from duskline.answers.season_worth import SeasonChance

__all__ = ["season_working"]

WORKED_OUT = "worked out here"
PRICES = ("late", "late_per_day", "waiting", "unsown", "stability")
"""Rows of the farm's season section that are money."""


def season_working(
    farm: Farm, planned: PlannedSeason, schedule: Schedule, chance: SeasonChance
) -> tuple[Step, ...]:
    """Return the steps from hours to days, cost, bound and chance."""
    return (
        *_hours_steps(planned),
        _cost_step(farm, schedule),
        _bound_step(schedule),
        _chance_step(farm, planned, chance),
    )


def _hours_steps(planned: PlannedSeason) -> tuple[Step, ...]:
    """The first working day of each crew: what it can do, and what a second of it is worth."""
    steps = []
    for name in planned.crews:
        here = (planned.hours[on, name] for on in planned.on)
        hours = next((one for one in here if one.works), None)
        if hours is None:
            continue
        steps.append(
            Step(
                title=f"What {hours.on} can do" + (f", {name}" if name else ""),
                formula="spread S x and no more than C1 (close - opening - lead)"
                " + C2 (close - stop - changeover); less moves at what a second is worth",
                inputs=(
                    _clock("opening", hours.opens_s, hours.basis),
                    _clock("close", hours.closes_s, hours.basis),
                    Figure(
                        name="at average rates",
                        value=hours.average_m2,
                        unit="m2",
                        source=WORKED_OUT,
                    ),
                    Figure(
                        name="worth of the crew's time",
                        value=hours.lost_m2_per_s,
                        unit="m2/s",
                        source=WORKED_OUT,
                    ),
                ),
                result=Figure(
                    name="planned in one field, without a move",
                    value=hours.area_m2,
                    unit="m2",
                    source=WORKED_OUT,
                ),
            )
        )
    return tuple(steps)


def _clock(name: str, elapsed_s: float, basis: Basis) -> Figure:
    return Figure(name=f"{name}, after midnight", value=elapsed_s, unit="s", source=basis.value)


def _cost_step(farm: Farm, schedule: Schedule) -> Step:
    cost = schedule.cost
    parts = (
        ("waiting", cost.wait_usd),
        ("late", cost.late_usd),
        ("not sown", cost.unplaced_usd),
        ("road", cost.travel_usd + cost.haul_usd),
        ("moves", cost.visits_usd),
        ("clean-outs", cost.clean_outs_usd),
        ("days out", cost.crew_days_usd),
        ("paid and idle", cost.idle_usd),
        ("changes to the plan before", cost.upset_usd),
    )
    prices = tuple(
        Figure(
            name=f"{name.replace('_', ' ')} (price)",
            value=given.value,
            unit=given.unit,
            source=given.source,
            low=given.low,
            high=given.high,
        )
        for name in PRICES
        if (given := farm.figures.get(f"season.{name}")) is not None
    )
    return Step(
        title="What the plan costs beside the work itself",
        formula="sum of the parts",
        inputs=(
            *prices,
            *(
                Figure(name=name, value=value, unit=farm.prices.currency, source=WORKED_OUT)
                for name, value in parts
                if value > 0.0
            ),
        ),
        result=Figure(
            name="cost", value=cost.total_usd, unit=farm.prices.currency, source=WORKED_OUT
        ),
    )


def _bound_step(schedule: Schedule) -> Step:
    return Step(
        title="How far from the best possible",
        formula="no plan of these days costs less than the bound: each field pays a price for being"
        " sown, and no day can earn more than its best use",
        inputs=(
            Figure(name="cost", value=schedule.cost.total_usd, unit="money", source=WORKED_OUT),
            Figure(name="bound", value=schedule.bound_usd, unit="money", source=WORKED_OUT),
        ),
        result=Figure(name="gap", value=schedule.gap_fraction, unit="fraction", source=WORKED_OUT),
    )


def _chance_step(farm: Farm, planned: PlannedSeason, chance: SeasonChance) -> Step:
    def row(key: str) -> Figure:
        given = farm.defaults[key]
        return Figure(
            name=key.replace("_", " "),
            value=given.value,
            unit=given.unit,
            source=given.source,
            low=given.low,
            high=given.high,
        )

    near = int(planned.weathers.from_forecast.sum())
    return Step(
        title="The chance of being done in time",
        formula="share of the seasons of weather in which every field is done by its last day,"
        " each crew working down its list",
        inputs=(
            Figure(name="seasons drawn", value=chance.count, unit="count", source=WORKED_OUT),
            Figure(name="days from the forecast", value=near, unit="count", source="forecast"),
            Figure(
                name="days from the climate table",
                value=len(planned.on) - near,
                unit="count",
                source="farm.toml or defaults",
            ),
            row("season_rate_cv"),
            row("shared_rate_cv"),
            row("machine_rate_cv"),
            row("harvest_link"),
            row("climate_fit_share"),
            row("climate_fit_run"),
        ),
        result=Figure(
            name="chance",
            value=chance.by_deadline_fraction,
            unit="fraction",
            source=WORKED_OUT,
            low=chance.low_fraction,
            high=chance.high_fraction,
        ),
    )
