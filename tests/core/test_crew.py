"""Who drives what: law first, then the most covering."""

from __future__ import annotations

import pytest

from duskline.core.crew import Job, assign_crew
from duskline.core.errors import NobodyMayDrive
from duskline.core.farm import Person, Tractor

BIG = Tractor(name="big", pto_power_w=130_000.0)
SMALL = Tractor(name="small", pto_power_w=14_000.0)


def job(machine: str, rate: float, driver: str | None = None, tractor: str | None = None) -> Job:
    """Return a job."""
    return Job(machine=machine, rate_m2_per_s=rate, driver=driver, tractor=tractor)


def test_the_neighbor_takes_the_machine_that_leaves_the_owner_the_other() -> None:
    """The neighbor may drive both, the owner only M2 after spreading: M1 neighbor, M2 owner."""
    plan = assign_crew(
        people=(
            Person(name="owner", drives=("S", "M2")),
            Person(name="neighbor", drives=("M1", "M2")),
        ),
        tractors=(),
        spreaders=(job("S", 30.0),),
        covers=(job("M1", 15.3), job("M2", 15.6)),
    )
    assert plan.covers == (("M1", "neighbor"),)
    assert plan.takeovers == (("M2", "owner", "S"),)
    assert plan.idle == ()


def test_a_named_driver_stands() -> None:
    """A driver named with the machine is not replaced by a better assignment."""
    plan = assign_crew(
        people=(Person(name="a"), Person(name="b", drives=("M1",))),
        tractors=(),
        spreaders=(job("S", 30.0, driver="a"),),
        covers=(job("M1", 15.0, driver="b"),),
    )
    assert plan.spreaders == (("S", "a"),)
    assert plan.covers == (("M1", "b"),)


@pytest.mark.parametrize(
    ("age", "tractor", "drives"), [(15, "big", 0), (16, "big", 1), (15, "small", 1), (15, None, 0)]
)
def test_nobody_under_16_is_put_on_a_big_or_unknown_tractor(
    age: int, tractor: str | None, drives: int
) -> None:
    """Under 16 only below 20 PTO horsepower (14.9 kW); an unknown tractor counts as big."""
    plan = assign_crew(
        people=(Person(name="a", drives=("S", "M2")), Person(name="kid", age_years=age,
                                                             drives=("M1",))),
        tractors=(BIG, SMALL),
        spreaders=(job("S", 30.0),),
        covers=(job("M1", 10.0, tractor=tractor), job("M2", 10.0)),
    )  # fmt: skip
    assert len(plan.covers) == drives
    assert len(plan.refusals) == 1 - drives


def test_a_spreader_without_a_driver_is_named() -> None:
    """The machine and the reason stand in the error."""
    with pytest.raises(NobodyMayDrive) as refused:
        assign_crew(
            people=(Person(name="kid", age_years=14, drives=("S",)),),
            tractors=(BIG,),
            spreaders=(job("S", 30.0, tractor="big"),),
            covers=(),
        )
    assert refused.value.machine == "S"
    assert refused.value.reason == "under 16: kid"


def test_one_tractor_pulls_one_machine() -> None:
    """M1 needs the spreader's tractor: its own driver must wait, the spreader's driver may take it.

    Two cultivators on one tractor: only the faster goes out.
    """
    people = (Person(name="a", drives=("S", "M1")), Person(name="b", drives=("M1", "M2", "M3")))
    plan = assign_crew(
        people=people,
        tractors=(BIG, SMALL),
        spreaders=(job("S", 30.0, tractor="big"),),
        covers=(
            job("M1", 20.0, tractor="big"),
            job("M2", 9.0, tractor="small"),
            job("M3", 8.0, tractor="small"),
        ),
    )
    assert plan.takeovers == (("M1", "a", "S"),)
    assert plan.covers == (("M2", "b"),)
    assert plan.idle == ("M3",)


def test_a_large_crew_is_manned_without_a_search_that_hangs() -> None:
    """Six spreaders and thirty people: an answer, each person once."""
    people = tuple(
        Person(name=f"p{n}", drives=(*(f"S{k}" for k in range(6)), f"M{n}")) for n in range(30)
    )
    plan = assign_crew(
        people=people,
        tractors=(),
        spreaders=tuple(job(f"S{k}", 30.0) for k in range(6)),
        covers=tuple(job(f"M{n}", 10.0 + n) for n in range(30)),
    )
    drivers = [name for _, name in plan.spreaders] + [name for _, name in plan.covers]
    assert len(plan.spreaders) == 6
    assert len(set(drivers)) == len(drivers)
