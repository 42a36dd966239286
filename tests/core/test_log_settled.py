"""What a heap of events adds up to: any order, any copy, undone, told twice."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from duskline.core.log import (
    Conflict,
    ConflictKind,
    Event,
    FieldFacts,
    Settled,
    TellingRules,
    What,
    identified,
    lost_by_field_m2,
    seeded_by_field_m2,
    settle,
    worked,
)

RULES = TellingRules(
    twice_within_s=900.0, twice_share_fraction=0.1, over_share_fraction=0.02, clock_off_s=120.0
)
GROUND = {
    "A": FieldFacts(area_m2=100.0, rate_kg_per_m2=2.0),
    "B": FieldFacts(area_m2=60.0, rate_kg_per_m2=2.0),
}
START = datetime(2026, 10, 18, 9, tzinfo=UTC)


def at(minutes: float) -> datetime:
    """Return a moment so long after the start of the day."""
    return START + timedelta(minutes=minutes)


def event(minutes: float, what: What, **told: object) -> Event:
    """Return an event with an id of its own."""
    return Event(at=at(minutes), what=what, **{"id": f"{what}-{minutes:g}", **told})  # type: ignore[arg-type]


def account(*events: Event) -> Settled:
    """Return what the events add up to."""
    return settle(events, GROUND, RULES)


def kinds(found: Settled) -> list[ConflictKind]:
    """Return the kinds of conflict."""
    return [one.kind for one in found.conflicts]


def test_open_ground_is_spread_less_covered_field_by_field() -> None:
    """60 spread in B do not make up for ground covered in A that nobody told spread."""
    found = account(
        event(10, "spread", field="B", area_m2=60.0),
        event(20, "covered", field="A", area_m2=30.0),
    )
    assert found.by_field["B"].open_m2 == 60.0
    assert found.by_field["A"].open_m2 == 0.0
    assert found.open_m2 == 60.0
    assert kinds(found) == [ConflictKind.COVERED_NOT_SPREAD]


def test_all_of_it_is_what_was_left() -> None:
    """A hundred, thirty told before and five left out: the rest is 65."""
    found = account(
        event(5, "wet", field="A", area_m2=5.0),
        event(10, "covered", field="A", area_m2=30.0),
        event(20, "covered", field="A", whole=True),
        event(30, "covered", field="A", whole=True),
    )
    assert found.by_field["A"].covered_m2 == pytest.approx(95.0)
    assert [one.area_m2 for one in found.events] == [5.0, 30.0, 65.0, 0.0]


def test_ground_left_out_after_it_was_spread_lies_open_no_more() -> None:
    """A hundred spread, five too wet, the rest covered: nothing is open; undone, five are."""
    told = (
        event(5, "spread", field="A", machine="S", whole=True),
        event(10, "wet", field="A", area_m2=5.0, id="hole-00001"),
        event(20, "covered", field="A", whole=True),
    )
    found = account(*told)
    assert found.by_field["A"].open_m2 == pytest.approx(0.0)
    assert found.by_field["A"].covered_m2 == pytest.approx(95.0)
    assert found.by_field["A"].left_out_m2 == 5.0
    assert lost_by_field_m2(found.events) == {"A": pytest.approx(5.0)}
    assert seeded_by_field_m2(found.events) == {"A": pytest.approx(100.0)}
    undone = account(*told[:2], event(30, "undo", refers="hole-00001"))
    assert undone.by_field["A"].open_m2 == pytest.approx(100.0)


def test_ground_left_out_of_a_field_half_spread_may_be_the_other_half() -> None:
    """Sixty of a hundred spread, five too wet: all sixty still count as open."""
    found = account(
        event(5, "spread", field="A", machine="S", area_m2=60.0),
        event(10, "wet", field="A", area_m2=5.0),
    )
    assert found.by_field["A"].open_m2 == 60.0


def test_loads_stand_for_area_until_an_area_is_told() -> None:
    """80 kg at 2 kg/m2 are 40 m2; the statement of 50 then replaces them."""
    loads = [event(m, "load", field="A", machine="S", mass_kg=80.0) for m in (10, 30)]
    assert account(*loads).by_field["A"].spread_m2 == pytest.approx(80.0)
    told = account(*loads, event(40, "spread", field="A", machine="S", area_m2=50.0))
    assert told.by_field["A"].spread_m2 == pytest.approx(50.0)


def test_a_load_that_reaches_over_two_fields_is_counted_once() -> None:
    """A is told whole (100) when 80 of load two lie in it; the load's end adds 40 in B, not 80."""
    found = account(
        event(10, "load", field="A", machine="S", mass_kg=140.0),
        event(25, "spread", field="A", machine="S", whole=True),
        event(30, "load", field="B", machine="S", mass_kg=140.0),
    )
    assert found.by_field["A"].spread_m2 == pytest.approx(100.0)
    assert found.by_field["B"].spread_m2 == pytest.approx(40.0)


def test_an_undone_event_does_not_count_even_if_the_undo_came_first() -> None:
    """And an undo of something that has not arrived waits for it."""
    covered = event(10, "covered", field="A", area_m2=30.0)
    undo = event(11, "undo", refers=covered.id)
    assert account(undo).pending == {covered.id}
    for order in ([covered, undo], [undo, covered]):
        found = account(*order)
        assert found.by_field == {}
        assert covered.id in found.not_counted
        assert found.pending == frozenset()


def test_an_undo_cannot_be_undone() -> None:
    """What was taken back stays so; the odd event is shown."""
    covered = event(10, "covered", field="A", area_m2=30.0)
    undo = event(11, "undo", refers=covered.id)
    found = account(covered, undo, event(12, "undo", refers=undo.id))
    assert found.by_field == {}
    assert kinds(found) == [ConflictKind.UNDO_OF_UNDO]


def test_two_tellings_under_one_id_are_both_kept_and_shown() -> None:
    """Whichever comes first, the same one counts."""
    one = event(10, "spread", field="A", area_m2=30.0, id="same")
    other = replace(one, area_m2=40.0)
    found, turned = account(one, other), account(other, one)
    assert found == turned
    assert kinds(found) == [ConflictKind.SAME_ID]
    assert len(found.events) == 1


def test_covering_told_by_two_devices_counts_once_and_spreading_twice() -> None:
    """Until somebody says, what leaves more ground open holds."""
    twice: list[Event] = []
    for what in ("spread", "covered"):
        twice += [
            event(10, what, field="A", area_m2=30.0, device="one", id=f"{what}1"),
            event(15, what, field="A", area_m2=31.0, device="two", id=f"{what}2"),
        ]
    found = account(*twice)
    assert kinds(found) == [ConflictKind.TOLD_TWICE] * 2
    assert found.by_field["A"].spread_m2 == pytest.approx(61.0)
    assert found.by_field["A"].covered_m2 == pytest.approx(30.0)
    said = account(*twice, event(20, "both", refers="covered2"))
    assert said.by_field["A"].covered_m2 == pytest.approx(61.0)
    assert len(said.conflicts) == 1


@pytest.mark.parametrize(
    "change",
    [
        {"device": "one"},
        {"area_m2": 60.0},
        {"machine": "other"},
        {"at": at(30)},
        {"field": "B"},
    ],
    ids=["same device", "another area", "another machine", "later", "another field"],
)
def test_what_is_not_the_same_work_is_no_second_telling(change: dict[str, object]) -> None:
    """One device, another area, machine, time or field: two pieces of work."""
    first = event(10, "covered", field="A", area_m2=30.0, machine="M", device="one")
    second = replace(first, id="second", device="two", at=at(15))
    assert ConflictKind.TOLD_TWICE in kinds(account(first, second))
    other = replace(second, **change)  # type: ignore[arg-type]
    assert ConflictKind.TOLD_TWICE not in kinds(account(first, other))


def test_more_than_the_field_has_is_shown_with_both_figures() -> None:
    """Two per cent more passes, five do not."""
    assert kinds(account(event(10, "spread", field="A", area_m2=101.9))) == []
    (found,) = account(event(10, "spread", field="A", area_m2=105.0)).conflicts
    assert found == Conflict(
        kind=ConflictKind.MORE_THAN_FIELD,
        ids=("spread-10",),
        field="A",
        machine="spread",
        value=105.0,
        limit=100.0,
    )


def test_work_in_a_field_that_is_gone_counts_and_is_shown() -> None:
    """A field deleted at noon was sown all the same."""
    found = account(event(10, "spread", field="Gone", area_m2=20.0))
    assert found.open_m2 == 20.0
    assert kinds(found) == [ConflictKind.FIELD_NOT_KNOWN]


def test_a_clock_that_is_ahead_is_shown() -> None:
    """Three minutes ahead of the store; one that is behind was only late to be sent."""
    ahead = event(10, "note", clock_at=at(13), server_at=at(10))
    behind = event(10, "note", clock_at=at(10), server_at=at(200))
    assert kinds(account(ahead)) == [ConflictKind.CLOCK]
    assert kinds(account(behind)) == []


def test_a_machine_stands_until_it_is_heard_of_or_as_long_as_was_told() -> None:
    """Down at 10 until it covers at 50; stuck at 60 for ten minutes; down again and still so."""
    found = account(
        event(10, "down", machine="M"),
        event(50, "covered", machine="M", field="A", area_m2=10.0),
        event(60, "stuck", machine="M", took_s=600.0),
        event(90, "down", machine="M"),
    )
    assert [(one.from_at, one.to_at) for one in found.halts] == [
        (at(10), at(50)),
        (at(60), at(70)),
        (at(90), None),
    ]


def test_the_rate_leaves_out_the_time_a_machine_stood() -> None:
    """60 m2 in an hour and a half, of which half an hour broken down: one a minute."""
    found = account(
        event(0, "begin", machine="M", field="A"),
        event(20, "down", machine="M", took_s=1800.0),
        event(90, "covered", machine="M", field="A", area_m2=60.0),
    )
    seen = worked(found, "M", "covered", opens_at=START, until=at(100))
    assert seen is not None
    assert seen.took_s == pytest.approx(3600.0)
    assert seen.rate_m2_per_s == pytest.approx(1.0 / 60.0)
    assert seen.last_at == at(90)
    assert worked(found, "N", "covered", opens_at=START, until=at(100)) is None


def test_ground_open_since_yesterday_counts_as_spread_today() -> None:
    """40 lay open in the morning; 10 more spread, 45 covered: 50 against 45."""
    yesterday = START - timedelta(days=1)
    found = settle(
        (
            Event(at=yesterday, what="spread", field="A", area_m2=40.0, id="y"),
            event(10, "spread", field="A", area_m2=10.0),
            event(20, "covered", field="A", area_m2=45.0),
        ),
        GROUND,
        RULES,
    )
    assert found.day_m2(START, at(60)) == (50.0, 45.0)


def test_a_line_written_twice_by_hand_is_two_events() -> None:
    """And reading the file again gives them the same ids."""
    line = Event(at=at(10), what="load", machine="S", field="A", mass_kg=80.0)
    first, again = identified([line, line]), identified([line, line])
    assert first == again
    assert len({one.id for one in first}) == 2


def test_an_event_needs_a_kind_and_a_zone() -> None:
    """Anything else is refused where it is made."""
    with pytest.raises(ValueError, match="none of"):
        Event(at=START, what="sown")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="time zone"):
        Event(at=START.replace(tzinfo=None), what="note")


HEAPS = st.lists(
    st.builds(
        Event,
        at=st.integers(0, 300).map(at),
        what=st.sampled_from(["spread", "covered", "load", "undo", "both", "down", "up", "wet"]),
        machine=st.sampled_from(["M", "S", ""]),
        field=st.sampled_from(["A", "B", "gone"]),
        area_m2=st.one_of(st.none(), st.sampled_from([5.0, 10.0, 30.0])),
        mass_kg=st.one_of(st.none(), st.just(80.0)),
        whole=st.booleans(),
        device=st.sampled_from(["one", "two"]),
        id=st.sampled_from([f"e{number}" for number in range(8)]),
        refers=st.sampled_from([f"e{number}" for number in range(8)]),
    ),
    max_size=14,
)


@given(heap=HEAPS, seed=st.integers(0, 10_000))
def test_order_and_copies_do_not_matter(heap: list[Event], seed: int) -> None:
    """Any order, any event any number of times: one and the same account."""
    expected = account(*heap)
    shuffled = heap + heap[: len(heap) // 2]
    random.Random(seed).shuffle(shuffled)  # noqa: S311 an order, not a secret
    assert account(*shuffled) == expected


@given(heap=HEAPS)
def test_open_ground_is_never_below_nothing_and_every_telling_is_kept(heap: list[Event]) -> None:
    """Of each id one telling counts or is named as not counted; no field is less than closed."""
    found = account(*heap)
    assert {one.id for one in found.all_events} == {one.id for one in heap}
    counted = {one.id.split("/")[0] for one in found.events}
    assert counted | found.not_counted == {one.id for one in heap}
    for state in found.by_field.values():
        assert state.open_m2 >= -1e-9


@given(heap=HEAPS, extra=st.lists(st.integers(0, 7), max_size=3))
def test_an_undo_more_takes_its_event_out(heap: list[Event], extra: list[int]) -> None:
    """After undoing an event (no undo itself) nothing of it counts."""
    undone = [Event(at=at(400), what="undo", id=f"u{n}", refers=f"e{n}") for n in extra]
    found = account(*heap, *undone)
    is_undo = {one.id for one in found.all_events if one.what == "undo"}
    for number in extra:
        name = f"e{number}"
        if name not in is_undo:
            assert name not in {one.id for one in found.events}


def test_a_load_larger_than_its_field_lies_partly_elsewhere_until_somebody_says() -> None:
    """150 of a load in A, which has 100: 50 lie open elsewhere; telling B takes them up."""
    load = event(10, "load", field="A", machine="S", mass_kg=300.0)
    found = account(load)
    assert found.by_field["A"].spread_m2 == pytest.approx(100.0)
    assert found.open_m2 == pytest.approx(150.0)
    assert kinds(found) == [ConflictKind.SPREAD_ELSEWHERE]
    assert found.conflicts[0].ids == (load.id,)
    told = account(load, event(20, "spread", field="B", machine="S", area_m2=45.0))
    assert told.by_field["B"].spread_m2 == pytest.approx(45.0)
    assert told.open_m2 == pytest.approx(150.0)


def test_ground_covered_before_a_load_ran_out_is_where_the_load_has_been() -> None:
    """B, 60, was covered; the load of 90 told in A after that lies 30 in A."""
    found = account(
        event(10, "covered", field="B", machine="M", whole=True),
        event(20, "load", field="A", machine="S", mass_kg=180.0),
    )
    assert found.by_field["A"].spread_m2 == pytest.approx(30.0)
    assert found.by_field["B"].spread_m2 == pytest.approx(60.0)
    assert found.open_m2 == pytest.approx(30.0)
    assert kinds(found) == []
    seen = worked(found, "S", "spread", opens_at=START, until=at(100))
    assert seen is not None
    assert seen.area_m2 == pytest.approx(90.0)
    assert seen.last_at == at(20)


def test_ground_covered_after_a_load_is_asked_about_and_what_was_told_stays_open() -> None:
    """A load of 90 told in A; then B is told covered: a slip must not close A in silence."""
    found = account(
        event(10, "load", field="A", machine="S", mass_kg=180.0),
        event(20, "covered", field="B", machine="M", whole=True),
    )
    assert found.by_field["A"].open_m2 == pytest.approx(90.0)
    assert kinds(found) == [ConflictKind.COVERED_NOT_SPREAD]
    reaching = account(
        event(10, "load", field="A", machine="S", mass_kg=300.0),
        event(20, "covered", field="B", machine="M", area_m2=40.0),
    )
    # 50 of that load lay elsewhere: 40 of them are where was covered.
    assert reaching.open_m2 == pytest.approx(110.0)
    assert reaching.by_field["B"].spread_m2 == pytest.approx(40.0)


@pytest.mark.parametrize("name", ["a-first", "z-last"])
def test_work_told_in_the_instant_of_a_halt_does_not_end_it(name: str) -> None:
    """Whichever way the two ids fall in order."""
    found = account(
        event(10, "down", machine="M", id="middle"),
        event(10, "covered", machine="M", field="A", area_m2=10.0, id=name),
    )
    assert [one.to_at for one in found.halts] == [None]
