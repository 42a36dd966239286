"""A server killed 200 times while clients tell it events, and one whose disk is full.

``duskline serve`` runs as a process of its own; eight clients tell events as fast as they are
acknowledged. It is killed without a word at random moments, also while it starts, and started
anew; what was not acknowledged is told again under the same id, as a phone does. At the end every
acknowledged event must be in the store, none twice. Then the disk runs full under load, is given
room, and the server must go on. The seed is fixed; the moments are the machine's. Run it with
``.venv/bin/python benchmarks/kills.py``; it exits 1 when anything is lost.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from made_servers import Crowd, Serving, killed_at_random

from duskline.store import doctor, open_store

FARM = Path(__file__).resolve().parents[1] / "examples" / "rye-after-soybeans"
KILLS_COUNT, CLIENTS_COUNT = 200, 8
DISK_MB, BALLAST_BYTES = 8, 5_000_000


def kept_in(folder: Path) -> Counter[str]:
    """Return how often each id is in the store."""
    with open_store(folder, create=False) as store:
        return Counter(event.id for event in store.all_events())


def faults(folder: Path, acknowledged: set[str], told_ids: set[str]) -> list[str]:
    """Return what is wrong with the store after all that."""
    kept = kept_in(folder)
    found = [f"{name} lost" for name in sorted(acknowledged - kept.keys())]
    found += [f"{name} {count} times" for name, count in kept.items() if count > 1]
    found += [f"{name} never told" for name in sorted(kept.keys() - told_ids)]
    found += [one.sentence for one in doctor(folder) if one.level == "wrong" and one.key != "disk"]
    return found


def by_kills(folder: Path, kills: int) -> list[str]:
    """Kill it again and again; print what came of it and return what is wrong."""
    begun = time.monotonic()
    crowd = killed_at_random(folder, kills, CLIENTS_COUNT, seed=6)
    wrong = faults(folder, crowd.acknowledged, crowd.told_ids)
    kept = kept_in(folder)
    print(
        f"{kills} kills in {time.monotonic() - begun:.0f} s, {crowd.under_load} of them under "
        f"load: {len(crowd.acknowledged)} events acknowledged, {len(kept)} in the store, "
        f"{crowd.again} told again after a kill; {len(wrong)} lost, twice or otherwise wrong"
    )
    return wrong


@contextmanager
def small_disk() -> Iterator[Path | None]:
    """Give a disk of a few MB, in memory; None where this user may not make one."""
    with tempfile.TemporaryDirectory(prefix="duskline-disk-") as name:
        mount = ["mount", "-t", "tmpfs", "-o", f"size={DISK_MB}m", "tmpfs", name]
        try:
            subprocess.run(mount, check=True, stderr=subprocess.DEVNULL)  # noqa: S603
        except (OSError, subprocess.CalledProcessError):
            yield None
            return
        try:
            yield Path(name)
        finally:
            subprocess.run(["umount", name], check=True)  # noqa: S603, S607


def by_full_disk() -> list[str]:
    """Fill the disk under a server's load, make room again; returns what is wrong."""
    with small_disk() as disk:
        if disk is None:
            print("no disk of our own can be made here (not root)")
            return []
        folder = disk / FARM.name
        shutil.copytree(FARM, folder)
        ballast = disk / "ballast"
        ballast.write_bytes(b"x" * BALLAST_BYTES)
        with Serving(folder).wait() as server:
            return filled(server, folder, f"a disk of {DISK_MB} MB", ballast.unlink)


def by_limit(folder: Path) -> list[str]:
    """Hold the server's files to a size, as a quota does; returns what is wrong."""
    with Serving(folder, file_limit_bytes=1_000_000).wait() as server:
        return filled(server, folder, "a quota of 1 MB a file", server.give_room)


def filled(server: Serving, folder: Path, name: str, make_room: object) -> list[str]:
    """Tell events until there is no room, make room, tell again; returns what is wrong."""
    assert callable(make_room)
    crowd = Crowd(server.port, CLIENTS_COUNT, name="full", note="x" * 250)
    full = crowd.tell_until_refused()
    make_room()
    before = len(crowd.acknowledged)
    crowd.tell_each(20)
    wrong = [
        f"answered {status}: {said}"
        for status, said in full
        if status != 507 or not any("Nothing was written" in one for one in said)
    ]
    if len(crowd.acknowledged) - before != 20 * CLIENTS_COUNT:
        wrong.append("not everything was taken in once there was room")
    server.kill()
    wrong += faults(folder, crowd.acknowledged, crowd.told_ids)
    print(
        f"{name}: full after {before} events, answered {sorted({one[0] for one in full})} "
        f"{full[0][1]}; {len(crowd.acknowledged) - before} more with room; {len(wrong)} wrong"
    )
    return wrong


def main() -> int:
    """Run everything; 1 when anything is lost, twice or wrong."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--kills", type=int, default=KILLS_COUNT)
    given = asked.parse_args()
    wrong = by_full_disk()
    with tempfile.TemporaryDirectory(prefix="duskline-bench-") as name:
        for part in ("limit", "kills"):
            shutil.copytree(FARM, Path(name) / part)
        wrong += by_limit(Path(name) / "limit")
        wrong += by_kills(Path(name) / "kills", given.kills)
    for one in wrong[:20]:
        print(f"  {one}")
    return int(bool(wrong))


if __name__ == "__main__":
    raise SystemExit(main())
