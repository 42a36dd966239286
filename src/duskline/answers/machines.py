"""What each machine really does an hour on this farm: from the log, a remembered day, or stated."""

from __future__ import annotations

from dataclasses import dataclass

from duskline.answers.seed import lot_rate_kg_per_m2, spreader_load_kg
from duskline.core import day as balance
from duskline.core.farm import Cultivator, Farm, Remembered, SpreaderNoun
from duskline.core.log import observed_rate_m2_per_s
from duskline.core.machine import efficiency_scale_from_remembered, field_capacity_m2_per_s

__all__ = ["CoverRate", "cover_rate_m2_per_s", "moving_rate_m2_per_s"]

FROM_LOG = "log.csv: area over time"


@dataclass(frozen=True, kw_only=True, slots=True)
class CoverRate:
    """A covering machine's rate [m2/s], the clock efficiency in it, and where that came from."""

    value: float
    efficiency_fraction: float
    source: str
    is_default: bool
    low: float | None = None
    high: float | None = None


def moving_rate_m2_per_s(spreader: SpreaderNoun) -> float:
    """Return a spreader's area per time while seed is flying, refills left out. [m2/s]"""
    return field_capacity_m2_per_s(
        working_width_m=spreader.driving_width_m,
        speed_mps=spreader.speed_mps,
        efficiency_fraction=spreader.efficiency_fraction,
    )


def cover_rate_m2_per_s(farm: Farm, machine: Cultivator) -> CoverRate:
    """Return what a covering machine does per time. [m2/s]

    The log replaces everything; a stated efficiency comes next, then a remembered day, then the
    wide default, which is marked as one.
    """
    at_full = machine.working_width_m * machine.speed_mps
    enough_s = farm.defaults["log_rate_after"].value
    logged = observed_rate_m2_per_s(farm.log, machine.name, "covered", least_s=enough_s)
    if logged is not None:
        return CoverRate(
            value=logged,
            efficiency_fraction=logged / at_full,
            source=FROM_LOG,
            is_default=False,
        )
    given = farm.figures[f"cultivator.{machine.name}.efficiency"]
    if given.is_default:
        for day in farm.remembered:
            if machine.name in day.cultivators:
                efficiency = remembered_efficiency_fraction(farm, day)
                return CoverRate(
                    value=at_full * efficiency,
                    efficiency_fraction=efficiency,
                    source="the remembered day in farm.toml",
                    is_default=False,
                )
    return CoverRate(
        value=at_full * given.value,
        efficiency_fraction=given.value,
        source=given.source,
        is_default=given.is_default,
        low=given.low,
        high=given.high,
    )


def remembered_efficiency_fraction(farm: Farm, day: Remembered) -> float:
    """Return the clock efficiency that makes the day balance give the remembered area.

    The first cultivator named covered all day; further ones were taken over after spreading
    stopped. Spreading, lead and changeover are the farm's own.

    Raises
    ------
    OutOfRange
        The remembered area is more than the machines could do.
    """
    first, *others = (
        next(c for c in farm.cultivators if c.name == name) for name in day.cultivators
    )
    lot = farm.lot(None)
    rate = lot_rate_kg_per_m2(farm, lot)
    spreaders = tuple(
        balance.Spreader(
            name=s.name,
            moving_rate_m2_per_s=moving_rate_m2_per_s(s),
            hopper_kg=spreader_load_kg(farm, s, lot.name),
            refill_s=s.refill_s,
        )
        for s in farm.spreaders
    )
    task = balance.DayTask(
        spread_intervals=((0.0, day.span_s),),
        spreaders=spreaders,
        covers=(
            balance.Cover(
                name=first.name,
                rate_m2_per_s=first.working_width_m * first.speed_mps,
                opens_s=0.0,
                closes_s=day.span_s,
            ),
        ),
        takeovers=tuple(
            balance.Takeover(
                name=machine.name,
                rate_m2_per_s=machine.working_width_m * machine.speed_mps,
                opens_s=0.0,
                closes_s=day.span_s,
                changeover_s=farm.rules.changeover_s,
            )
            for machine in others
        ),
        fields=(balance.FieldTask(name="", area_m2=1e9, rate_kg_per_m2=rate),),
        lead_s=farm.rules.lead_s,
    )
    return efficiency_scale_from_remembered(task, covered_m2=day.area_m2)
