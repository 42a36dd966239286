"""Power cuts and full disks: what the server acknowledged is there, once, and it goes on."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from made_folders import copy_of
from made_servers import Crowd, Serving, killed_at_random

from duskline.store import doctor, open_store

KILLS_COUNT, CLIENTS_COUNT = 5, 4


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """A rye farm of its own."""
    return copy_of("rye-after-soybeans", tmp_path)


def kept_in(folder: Path) -> Counter[str]:
    """How often each id is in the store, which the doctor finds nothing wrong with."""
    with open_store(folder, create=False) as store:
        kept = Counter(event.id for event in store.all_events())
    assert [one.sentence for one in doctor(folder) if one.level == "wrong"] == []
    return kept


def test_a_server_killed_at_any_moment_loses_nothing_it_acknowledged(farm: Path) -> None:
    """5 kills under load: every acknowledged event is there afterwards, none twice."""
    crowd = killed_at_random(farm, KILLS_COUNT, CLIENTS_COUNT, seed=3)
    kept = kept_in(farm)
    assert crowd.under_load >= 3
    assert len(crowd.acknowledged) > crowd.under_load
    assert crowd.acknowledged <= kept.keys()
    assert set(kept.values()) == {1}
    assert kept.keys() <= crowd.told_ids


def test_a_full_disk_is_said_in_a_sentence_and_loses_nothing(farm: Path) -> None:
    """Files of at most 600 kB: 507 with what to do; with room the server goes on."""
    with Serving(farm, file_limit_bytes=600_000).wait() as server:
        crowd = Crowd(server.port, CLIENTS_COUNT, note="x" * 250)
        refused = crowd.tell_until_refused()
        assert [status for status, _ in refused] == [507] * CLIENTS_COUNT
        for _, said in refused:
            assert len(said) == 1
            assert "the disk" in said[0]
            assert said[0].endswith("Nothing was written; make room and tell it again.")
        taken = len(crowd.acknowledged)
        assert taken > 20
        server.give_room()
        crowd.tell_each(2)
        assert len(crowd.acknowledged) == taken + 2 * CLIENTS_COUNT
        server.kill()
    kept = kept_in(farm)
    assert kept == Counter(crowd.acknowledged)
