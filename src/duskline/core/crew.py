"""Who drives what today: drivers for the spreaders, for the covering machines, and who changes.

The law and common sense come first: nobody under 16 is put on a tractor above 20 PTO horsepower,
on hitching, or on an auger. Local law may say more; it wins.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

import numpy as np

from duskline.core.errors import NobodyMayDrive
from duskline.core.farm import Person, Tractor

__all__ = ["CrewPlan", "Job", "Refusal", "assign_crew"]

YOUNGEST_DRIVER_YEARS = 16
"""29 CFR 570.71(a)(1)-(2): hired youth under 16 may not operate a tractor over 20 PTO horsepower
or connect implements to it (United States; from memory, other places differ)."""
MOST_CREWS_TRIED = 5000
SMALL_TRACTOR_W = 20 * 745.6998715822702


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """A machine of the day: its work rate and, where the farm names one, its driver."""

    machine: str
    rate_m2_per_s: float
    driver: str | None = None
    tractor: str | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Refusal:
    """A person who is not given a machine, and why."""

    person: str
    machine: str
    age_years: int


@dataclass(frozen=True, kw_only=True, slots=True)
class CrewPlan:
    """Who drives what.

    Attributes
    ----------
    spreaders, covers
        (machine, driver) from the start of the day.
    takeovers
        (machine, driver, spreader he comes from).
    tractors
        (machine, tractor) where tractors are named.
    idle
        Machines nobody is left for.
    """

    spreaders: tuple[tuple[str, str], ...]
    covers: tuple[tuple[str, str], ...]
    takeovers: tuple[tuple[str, str, str], ...]
    tractors: tuple[tuple[str, str], ...]
    idle: tuple[str, ...]
    refusals: tuple[Refusal, ...]


def _may(person: Person, job: Job, tractors: dict[str, Tractor]) -> bool:
    """Say whether this person may be put on this machine."""
    named = job.driver == person.name
    able = named or (job.driver is None and job.machine in person.drives)
    return able and not _too_young(person, job, tractors)


def _too_young(person: Person, job: Job, tractors: dict[str, Tractor]) -> bool:
    if person.age_years is None or person.age_years >= YOUNGEST_DRIVER_YEARS:
        return False
    tractor = tractors.get(job.tractor or "")
    power = tractor.pto_power_w if tractor else None
    return power is None or power > SMALL_TRACTOR_W


def assign_crew(
    *,
    people: tuple[Person, ...],
    tractors: tuple[Tractor, ...],
    spreaders: tuple[Job, ...],
    covers: tuple[Job, ...],
) -> CrewPlan:
    """Return who spreads, who covers from the start, and who changes over after the stop.

    Every spreader gets a driver. A tractor pulls one machine at a time: a machine that needs a
    spreader's tractor waits for that spreader's own driver. Of the ways to man the rest, the one
    with the highest covering rate is taken; a machine taken over later counts half.

    Raises
    ------
    NobodyMayDrive
        A spreader, or every covering machine, has no driver who may drive it.

    Notes
    -----
    For each choice of spreader drivers a linear assignment of people to covering machines.

    Source
    ------
    Derived here.
    """
    known = {tractor.name: tractor for tractor in tractors}
    refusals = tuple(
        Refusal(person=p.name, machine=j.machine, age_years=p.age_years or 0)
        for p in people
        for j in (*spreaders, *covers)
        if (j.driver == p.name or j.machine in p.drives) and _too_young(p, j, known)
    )
    choices = list(islice(_spreader_crews(people, spreaders, known), MOST_CREWS_TRIED))
    if not choices:
        raise NobodyMayDrive(*_why_nobody(people, spreaders, known))
    best, best_value = None, -1.0
    for chosen in choices:
        pairs, value = _man_covers(people, chosen, spreaders, covers, known)
        if value > best_value:
            best, best_value = (chosen, pairs), value
    if best is None or not best[1]:
        raise NobodyMayDrive(*_why_nobody(people, covers, known))
    chosen, pairs = best
    driving = {p.name: j.machine for p, j in zip(chosen, spreaders, strict=True)}
    manned = {machine for machine, _ in pairs}
    jobs = {job.machine: job for job in (*spreaders, *covers)}
    return CrewPlan(
        spreaders=tuple((machine, name) for name, machine in driving.items()),
        covers=tuple((m, name) for m, name in pairs if name not in driving),
        takeovers=tuple((m, name, driving[name]) for m, name in pairs if name in driving),
        tractors=tuple((m, t) for m, j in jobs.items() if (t := j.tractor)),
        idle=tuple(job.machine for job in covers if job.machine not in manned),
        refusals=refusals,
    )


def _spreader_crews(
    people: tuple[Person, ...], spreaders: tuple[Job, ...], tractors: dict[str, Tractor]
) -> Iterator[tuple[Person, ...]]:
    """Yield each way to give every spreader a driver of its own."""
    if not spreaders:
        yield ()
        return
    for person in people:
        if _may(person, spreaders[0], tractors):
            others = tuple(p for p in people if p is not person)
            for rest in _spreader_crews(others, spreaders[1:], tractors):
                yield (person, *rest)


def _one_for_each_tractor(covers: tuple[Job, ...]) -> list[Job | None]:
    """Return the machines with the slower of two that need the same tractor left out."""
    best: dict[str, Job] = {}
    for job in covers:
        if job.tractor and job.rate_m2_per_s > best.get(job.tractor, job).rate_m2_per_s - 1e-12:
            best[job.tractor] = job
    return [job if not job.tractor or best[job.tractor] is job else None for job in covers]


def _man_covers(
    people: tuple[Person, ...],
    chosen: tuple[Person, ...],
    spreaders: tuple[Job, ...],
    covers: tuple[Job, ...],
    tractors: dict[str, Tractor],
) -> tuple[list[tuple[str, str]], float]:
    from scipy.optimize import linear_sum_assignment

    if not covers:
        return [], 0.0
    spreading = {person.name: job for person, job in zip(chosen, spreaders, strict=True)}
    pulling = {job.tractor: name for name, job in spreading.items() if job.tractor}
    value = np.zeros((len(covers), len(people)))
    for row, job in enumerate(_one_for_each_tractor(covers)):
        if job is None:
            continue
        for column, person in enumerate(people):
            free = job.tractor is None or pulling.get(job.tractor, person.name) == person.name
            if free and _may(person, job, tractors):
                value[row, column] = job.rate_m2_per_s * (0.5 if person.name in spreading else 1.0)
    rows, columns = linear_sum_assignment(value, maximize=True)
    pairs = [
        (covers[r].machine, people[c].name)
        for r, c in zip(rows, columns, strict=True)
        if value[r, c] > 0.0
    ]
    return pairs, float(value[rows, columns].sum())


def _why_nobody(
    people: tuple[Person, ...], jobs: tuple[Job, ...], tractors: dict[str, Tractor]
) -> tuple[str, str]:
    for job in jobs:
        if not any(_may(person, job, tractors) for person in people):
            young = [
                p.name
                for p in people
                if (j := job) and (j.driver == p.name or j.machine in p.drives)
            ]
            reason = f"under 16: {', '.join(young)}" if young else "nobody"
            return job.machine, reason
    return jobs[0].machine if jobs else "cultivator", "nobody is left"
