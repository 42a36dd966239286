"""What two crews share: on a day it goes with the first of them in the farm's order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from duskline.core.farm import CrewNoun, Cultivator, Farm, SpreaderNoun

if TYPE_CHECKING:
    from duskline.answers.season_crews import Hours

__all__ = ["Without", "at_work", "counted_on", "shared_of", "why_without"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Without:
    """A person or tractor a crew counts on that goes with another crew.

    Attributes
    ----------
    days_count
        Days on which it is with the other crew.
    home_count
        Of these, days on which the crew cannot go out at all.
    """

    crew: str
    name: str
    goes_with: str
    days_count: int
    home_count: int


def counted_on(farm: Farm, crew: CrewNoun) -> tuple[str, ...]:
    """Return the people and tractors a crew counts on.

    Those its machines and seed trucks are named with, and of a machine named with none the only
    one there is for it.
    """
    found: dict[str, None] = {}
    for machine in _machines(farm):
        if machine.name in crew.machines:
            pulling = [one.name for one in farm.tractors if machine.name in one.pulls]
            driving = [one.name for one in farm.people if machine.name in one.drives]
            found |= dict.fromkeys(_bound(machine.driver, driving))
            found |= dict.fromkeys(_bound(machine.tractor, pulling))
    for truck in farm.seed_trucks:
        if truck.name in crew.seed_trucks and truck.driver is not None:
            found[truck.driver] = None
    return tuple(found)


def _machines(farm: Farm) -> Iterator[SpreaderNoun | Cultivator]:
    yield from farm.spreaders
    yield from farm.cultivators


def _bound(named: str | None, able: list[str]) -> list[str]:
    if named is not None:
        return [named]
    return able if len(able) == 1 else []


def at_work(farm: Farm, hours: Hours) -> frozenset[str]:
    """Return the people and tractors that work with a crew on a day.

    Parameters
    ----------
    farm
        The crew as a farm of its own.
    """
    if hours.planned is None:
        return frozenset()
    crew = hours.planned.crew
    manned = (*crew.spreaders, *crew.covers)
    running = {*(machine for machine, _ in manned), *(machine for machine, _, _ in crew.takeovers)}
    return frozenset(
        (
            *(driver for _, driver in manned),
            *(tractor for machine, tractor in crew.tractors if machine in running),
            *(truck.driver for truck in farm.seed_trucks if truck.driver is not None),
        )
    )


def why_without(reason: str, without: Mapping[str, str]) -> str:
    """Return a reason for staying at home with what has gone with other crews."""
    if not without:
        return reason
    gone = ", ".join(f"{name} goes with {crew}" for name, crew in without.items())
    return f"{reason}: {gone}"


def shared_of(hours: Mapping[tuple[date, str], Hours]) -> tuple[Without, ...]:
    """Return what each crew is without because it goes with another, over the season."""
    days: dict[tuple[str, str, str], list[bool]] = {}
    for one in hours.values():
        for name, other in one.without.items():
            days.setdefault((one.crew, name, other), []).append(not one.works)
    return tuple(
        Without(crew=crew, name=name, goes_with=other, days_count=len(home), home_count=sum(home))
        for (crew, name, other), home in days.items()
    )
