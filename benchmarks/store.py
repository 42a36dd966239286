"""How fast events go onto the disk beside plain sqlite3, and 200 writers killed while they write.

Appends one at a time, each on the disk before the next, by the store and by the standard
library's sqlite3 with the same settings and the same row, in turns in one run. Then a writer is
killed without a word 200 times, and the file and its changes are copied at random moments. Run
it with ``.venv/bin/python benchmarks/store.py``; it exits 1 when a target is missed.
"""

from __future__ import annotations

import contextlib
import itertools
import sqlite3
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from made_stores import MORNING, copy_at_random, covered, kill_at_random

from duskline.core.log import Event
from duskline.store.checkup import doctor
from duskline.store.engines import PRAGMAS
from duskline.store.rows import row_of
from duskline.store.store import open_store

Append = Callable[[list[Event]], tuple[Event, ...]]

APPENDS_COUNT, TURNS_COUNT = 300, 5
THREADS_COUNT = 8
ROUNDS_COUNT, COPIES_COUNT = 200, 100
ROOM_BYTES = 60_000
LEAST_SHARE = 0.1
"""Of plain sqlite3's appends a second: the rest is checking, fingerprint and looking for it."""


def seconds(append: Callable[[int], None], numbers: range) -> list[float]:
    """Return how long each append took. [s]"""
    taken = []
    for number in numbers:
        begun = time.perf_counter()
        append(number)
        taken.append(time.perf_counter() - begun)
    return taken


def plain_writer(store_file: Path, file: Path) -> tuple[sqlite3.Connection, Callable[[int], None]]:
    """Return an append by sqlite3 alone: same table, same settings, same row, same lock."""
    with contextlib.closing(sqlite3.connect(store_file)) as like:
        tables = like.execute("SELECT sql FROM sqlite_schema WHERE name = 'events'").fetchall()
    plain = sqlite3.connect(file, isolation_level=None)
    plain.execute("PRAGMA journal_mode = WAL")
    for pragma in PRAGMAS:
        plain.execute(f"PRAGMA {pragma}")
    plain.execute(tables[0][0])
    marks = itertools.count(1)

    def append(number: int) -> None:
        row = {**row_of(covered(number)), "server_us": 0, "seq": next(marks)}
        names, places = ", ".join(row), ", ".join(f":{name}" for name in row)
        plain.execute("BEGIN IMMEDIATE")
        plain.execute(f"INSERT INTO events ({names}) VALUES ({places})", row)  # noqa: S608
        plain.execute("COMMIT")

    return plain, append


def append_speed(folder: Path) -> float:
    """Print appends a second of the store and of plain sqlite3; returns the share."""
    with open_store(folder / "store.db", clock=lambda: MORNING) as store:
        plain, append_plain = plain_writer(folder / "store.db", folder / "plain.db")

        def append_one(number: int) -> None:
            store.append([covered(number)])

        ours: list[float] = []
        theirs: list[float] = []
        for turn in range(TURNS_COUNT):
            numbers = range(turn * APPENDS_COUNT, (turn + 1) * APPENDS_COUNT)
            ours += seconds(append_one, numbers)
            theirs += seconds(append_plain, numbers)
        plain.close()
        many = thousand_s(store.append)
        together = threads_s(store.append)
    for name, taken in (("store", ours), ("plain sqlite3", theirs)):
        cuts = statistics.quantiles(taken, n=100)
        print(
            f"{name:14} {1 / statistics.median(taken):7.0f} appends/s (median), "
            f"p99 {cuts[98] * 1e3:.2f} ms"
        )
    print(f"{'store':14} {1000 / many:7.0f} events/s, 1000 in one append")
    print(
        f"{'store':14} {THREADS_COUNT * APPENDS_COUNT / together:7.0f} appends/s from "
        f"{THREADS_COUNT} threads"
    )
    return statistics.median(theirs) / statistics.median(ours)


def thousand_s(append: Append) -> float:
    """Return how long a thousand events in one append take. [s]"""
    events = [covered(number, id=f"many{number}") for number in range(1000)]
    begun = time.perf_counter()
    append(events)
    return time.perf_counter() - begun


def threads_s(append: Append) -> float:
    """Return how long several threads take for their appends. [s]"""

    def work(thread: int) -> None:
        for number in range(APPENDS_COUNT):
            append([covered(number, id=f"t{thread}-{number}")])

    threads = [threading.Thread(target=work, args=(n,)) for n in range(THREADS_COUNT)]
    begun = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return time.perf_counter() - begun


def lost_by_kills(folder: Path, room_bytes: int | None = None) -> int:
    """Print what 200 kills did; returns how many acknowledged events are missing or twice."""
    folder.mkdir()
    acknowledged, per_round = kill_at_random(folder, ROUNDS_COUNT, 1, room_bytes)
    with open_store(folder, create=False) as store:
        kept = [int(event.id[1:]) for event in store.all_events()]
    lost = len(set(acknowledged) - set(kept)) + len(kept) - len(set(kept))
    wrong = [one.sentence for one in doctor(folder) if one.level == "wrong"]
    rounds = sum(1 for told in per_round if told)
    disk = " on a full disk" if room_bytes else ""
    print(
        f"{ROUNDS_COUNT} kills{disk}, {rounds} after an event or more: {len(acknowledged)} "
        f"acknowledged, {len(kept)} in the store, {lost} lost or twice; doctor: {wrong or 'good'}"
    )
    return lost + len(wrong)


def lost_in_copies(folder: Path) -> int:
    """Print what copies at random moments hold; returns how many acknowledged events they lack."""
    (folder / "farm").mkdir(parents=True)
    (folder / "copies").mkdir()
    made = copy_at_random(folder / "farm", folder / "copies", COPIES_COUNT, seed=2)
    lost = looked = wrong = 0
    for copy, known in made:
        if known and (copy / "duskline.db").exists():
            with open_store(copy, create=False) as store:
                kept = {int(event.id[1:]) for event in store.all_events()}
            lost += len(known - kept)
            wrong += sum(1 for one in doctor(copy) if one.level == "wrong")
            looked += 1
    print(f"{looked} copies of file and changes: {lost} acknowledged events lack, {wrong} faults")
    return lost + wrong


def main() -> int:
    """Run everything; 1 when a target is missed."""
    with tempfile.TemporaryDirectory(prefix="duskline-bench-") as name:
        folder = Path(name)
        lost = lost_by_kills(folder / "kills")
        lost += lost_by_kills(folder / "full", ROOM_BYTES)
        lost += lost_in_copies(folder / "copied")
        share = append_speed(folder)
    print(f"store / plain sqlite3: {share:.2f} (at least {LEAST_SHARE})")
    return int(lost > 0 or share < LEAST_SHARE)


if __name__ == "__main__":
    raise SystemExit(main())
