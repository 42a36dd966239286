"""The log as a machine: told in any order, twice, taken back, merged; every store agrees."""

from __future__ import annotations

import random
import shutil
import tempfile
from contextlib import ExitStack
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from made_stores import MORNING, NO_SERVER, postgres_database, server_programs

from duskline.core.log import Event, FieldFacts, Settled, TellingRules, What, settle
from duskline.store.store import Store, open_store

ACRE_M2 = 4046.8564224
GROUND = {
    "A1": FieldFacts(area_m2=80 * ACRE_M2, rate_kg_per_m2=0.0068),
    "A2": FieldFacts(area_m2=35 * ACRE_M2),
}
RULES = TellingRules(
    twice_within_s=900.0, twice_share_fraction=0.1, over_share_fraction=0.02, clock_off_s=120.0
)
TAKEN_AT = MORNING + timedelta(hours=12)
MACHINES = {"load": "Spreader", "spread": "Spreader", "covered": "Cultivator 1"}


def state(events: list[Event] | tuple[Event, ...]) -> Settled:
    """What the events add up to."""
    return settle(events, GROUND, RULES)


def one_moment() -> datetime:
    """The store's clock: what is compared is what was told, not when it came in."""
    return TAKEN_AT


class LogMachine(RuleBasedStateMachine):
    """Two phones, a desk and their stores; the model is the plain heap of what was told."""

    told = Bundle("told")
    address = ""

    @initialize()
    def open(self) -> None:
        """Begin with empty stores."""
        self.open_things = ExitStack()
        self.folder = Path(tempfile.mkdtemp(prefix="duskline-log-"))
        self.stores: dict[str, Store] = {
            name: self.open_things.enter_context(
                open_store(self.folder / f"{name}.db", clock=one_moment)
            )
            for name in ("desk", "truck")
        }
        address = self.open_things.enter_context(postgres_database())
        self.stores["server"] = self.open_things.enter_context(
            open_store(address, clock=one_moment)
        )
        self.heaps: dict[str, dict[tuple[str, str], Event]] = {name: {} for name in self.stores}
        self.number = 0

    @rule(
        target=told,
        store=st.sampled_from(["desk", "truck", "server"]),
        what=st.sampled_from(["spread", "load", "covered", "wet", "down", "up", "note", "rain"]),
        minute=st.integers(0, 90),
        acres=st.integers(1, 60),
        whole=st.booleans(),
        field=st.sampled_from(["A1", "A2", "Nowhere"]),
    )
    def tell(
        self, store: str, what: What, minute: int, acres: int, whole: bool, field: str
    ) -> Event:
        """Something happened."""
        self.number += 1
        work = what in ("spread", "covered", "wet")
        return self._append(
            store,
            Event(
                at=MORNING + timedelta(minutes=minute),
                what=what,
                machine=MACHINES.get(what, "Cultivator 2"),
                field=field if work or what == "load" else "",
                area_m2=acres * ACRE_M2 if work and not whole else None,
                mass_kg=acres * 40.0 if what == "load" else None,
                whole=whole and what in ("spread", "covered"),
                id=f"e{self.number}",
                device=store,
                clock_at=TAKEN_AT + timedelta(seconds=acres * 4),
            ),
        )

    @rule(store=st.sampled_from(["desk", "truck", "server"]), event=told)
    def tell_again(self, store: str, event: Event) -> None:
        """The answer did not get through, or another device heard it too."""
        before = self.stores[store].last_seq()
        known = (event.id, event.digest) in self.heaps[store]
        self._append(store, event)
        assert self.stores[store].last_seq() == before + (0 if known else 1)

    @rule(
        target=told,
        store=st.sampled_from(["desk", "truck", "server"]),
        event=told,
        kind=st.sampled_from(["undo", "both"]),
    )
    def say_of_another(self, store: str, event: Event, kind: What) -> Event:
        """Take one back, or say it is one of its own; perhaps before it has arrived here."""
        self.number += 1
        return self._append(
            store,
            Event(
                at=event.at + timedelta(minutes=1),
                what=kind,
                refers=event.id,
                id=f"e{self.number}",
                device=store,
            ),
        )

    @rule(target=told, store=st.sampled_from(["desk", "truck", "server"]), event=told)
    def tell_otherwise_under_the_same_id(self, store: str, event: Event) -> Event:
        """A fault of a device: nobody's word is dropped for it."""
        return self._append(store, replace(event, note=f"{event.note}again"))

    @rule(
        into=st.sampled_from(["desk", "truck", "server"]),
        of=st.sampled_from(["desk", "truck", "server"]),
    )
    def merge(self, into: str, of: str) -> None:
        """One store takes in all that another has."""
        self.stores[into].take_in(self.stores[of].all_events())
        self.heaps[into] |= self.heaps[of]

    @rule(store=st.sampled_from(["desk", "truck"]))
    def open_anew(self, store: str) -> None:
        """The machine was switched off."""
        self.stores[store].close()
        self.stores[store] = self.open_things.enter_context(
            open_store(self.folder / f"{store}.db", clock=one_moment, create=False)
        )

    @precondition(lambda self: self.number > 2)
    @rule()
    def all_merged_are_one(self) -> None:
        """SQLite and PostgreSQL, merged this way round or that, give one state and one log."""
        for into in self.stores:
            for of in self.stores:
                self.merge(into, of)
        states = [state(store.all_events()) for store in self.stores.values()]
        assert states[0] == states[1] == states[2]
        keys = [
            sorted((one.id, one.digest) for one in store.all_events())
            for store in self.stores.values()
        ]
        assert keys[0] == keys[1] == keys[2]

    @invariant()
    def every_store_holds_what_was_told_to_it(self) -> None:
        """Once each, numbered without gaps; its state is that of the heap in any order."""
        for name, store in getattr(self, "stores", {}).items():
            numbered = store.events()
            assert [seq for seq, _ in numbered] == list(range(1, len(numbered) + 1))
            heap = [replace(one, server_at=TAKEN_AT) for one in self.heaps[name].values()]
            kept = [one for _, one in numbered]
            assert {(one.id, one.digest) for one in kept} == {(one.id, one.digest) for one in heap}
            chance = random.Random(self.number)  # noqa: S311
            heap += chance.choices(heap, k=len(heap) // 2) if heap else []
            chance.shuffle(heap)
            assert state(heap) == state(kept)

    def _append(self, store: str, event: Event) -> Event:
        taken = self.stores[store].append([event])
        assert taken[0].digest == event.digest
        self.heaps[store][event.id, event.digest] = event
        return event

    def teardown(self) -> None:
        """Close everything."""
        if hasattr(self, "open_things"):
            self.open_things.close()
            shutil.rmtree(self.folder, ignore_errors=True)


def test_any_order_any_repeat_any_merge_gives_one_account() -> None:
    """Two SQLite stores and a PostgreSQL one against a plain heap of what was told."""
    if server_programs() is None:
        pytest.skip(NO_SERVER)
    run_state_machine_as_test(
        LogMachine,
        settings=settings(max_examples=12, stateful_step_count=25, derandomize=True, deadline=None),
    )
