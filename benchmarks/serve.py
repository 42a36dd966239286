"""How long an event takes until it is on the disk and acknowledged, beside a bare echo.

``duskline serve`` runs as a process of its own on a copy of the rye farm, and beside it a bare
FastAPI server that sends back what it gets. Twenty clients tell each of them one event a second,
in turns half a second apart; then the same again while phones look at the Today page every 30 s.
Only this machine is asked. Run it with ``.venv/bin/python benchmarks/serve.py``; it exits 1 when
the target is missed. With ``--seconds`` it is shorter, with ``--look-s`` the phones look oftener.
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from made_live import rye_day_one
from made_servers import Client, Serving, free_port, told

from duskline.store import open_store

FARM = Path(__file__).resolve().parents[1] / "examples" / "rye-after-soybeans"
CLIENTS_COUNT = 20
TARGET_MS = 100.0
ECHO = """
import sys, uvicorn
from fastapi import FastAPI
app = FastAPI()

@app.post("/api/events")
def echo(events: list[dict]) -> list[dict]:
    return events

uvicorn.run(app, host="127.0.0.1", port=int(sys.argv[1]), log_level="warning")
"""


class Times:
    """What the clients measured; any thread may add. [s]"""

    def __init__(self) -> None:
        self.ours_s: list[float] = []
        self.echo_s: list[float] = []
        self.look_s: list[float] = []
        self.refused = 0


def every_second(seconds: int, offset_s: float, work: Callable[[int], None]) -> None:
    """Do a piece of work once a second, on the beat, however long each takes."""
    begin = time.perf_counter() + offset_s
    for number in range(seconds):
        wait_s = begin + number - time.perf_counter()
        if wait_s > 0.0:
            time.sleep(wait_s)
        work(number)


def teller(
    name: str, ports: tuple[int, int], seconds: int, offset_s: float, times: Times
) -> Callable[[], None]:
    """Return one client's work: an event to us, half a second later the same to the echo."""

    def tell(port: int, taken_s: list[float]) -> None:
        with Client(port) as client:

            def one(number: int) -> None:
                event = told(name, number)
                begun = time.perf_counter()
                status, _ = client.post("/api/events", [event])
                taken_s.append(time.perf_counter() - begun)
                times.refused += status != 200

            every_second(seconds, offset_s + (0.5 if port == ports[1] else 0.0), one)

    def both() -> None:
        other = threading.Thread(target=tell, args=(ports[1], times.echo_s))
        other.start()
        tell(ports[0], times.ours_s)
        other.join()

    return both


def looker(
    port: int, until: threading.Event, every_s: float, offset_s: float, times: Times
) -> None:
    """Look at the Today page's answer now and then, as a phone does."""
    until.wait(offset_s)
    while not until.is_set():
        begun = time.perf_counter()
        with Client(port) as client:
            status, _ = client.get("/today/live")
        times.look_s.append(time.perf_counter() - begun)
        times.refused += status != 200
        until.wait(every_s)


def measured(
    ports: tuple[int, int], seconds: int, *, run: str, phones: int, look_s: float
) -> Times:
    """Return what twenty clients measured while so many phones looked on."""
    chance, times, until = random.Random(1), Times(), threading.Event()  # noqa: S311
    lookers = [
        threading.Thread(
            target=looker,
            args=(ports[0], until, look_s, look_s * (number + 0.5) / phones, times),
        )
        for number in range(phones)
    ]
    tellers = [
        threading.Thread(
            target=teller(f"{run}phone{number}", ports, seconds, chance.random(), times)
        )
        for number in range(CLIENTS_COUNT)
    ]
    for one in (*lookers, *tellers):
        one.start()
    for one in tellers:
        one.join()
    until.set()
    for one in lookers:
        one.join()
    return times


def show(name: str, taken_s: list[float]) -> float:
    """Print median, 99th percentile and the longest; returns the 99th. [ms]"""
    if not taken_s:
        return 0.0
    cuts = np.percentile(taken_s, (50, 99, 100)) * 1e3
    print(f"  {name:30}" + "".join(f"{one:9.1f}" for one in cuts) + f"{len(taken_s):9d}")
    return float(cuts[1])


def report(title: str, times: Times) -> float:
    """Print one run; returns our 99th percentile. [ms]"""
    print(f"{title:32}{'p50':>9}{'p99':>9}{'max':>9}{'count':>9}   [ms]")
    ours = show("duskline, event on the disk", times.ours_s)
    show("bare echo, same message", times.echo_s)
    show("Today's answer, looked at", times.look_s)
    if times.refused:
        print(f"  {times.refused} refused")
    return ours


def main() -> int:
    """Run everything; 1 when the target is missed."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seconds", type=int, default=60)
    asked.add_argument("--look-s", type=float, default=30.0)
    asked.add_argument("--phones", type=int, default=1)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="duskline-bench-") as beside:
        folder = Path(beside) / FARM.name
        shutil.copytree(FARM, folder)
        with open_store(folder) as store:
            morning = [one for one in rye_day_one() if one.at.hour < 13]
            store.append(morning)
        echo_port = free_port()
        echo = subprocess.Popen([sys.executable, "-c", ECHO, str(echo_port)])  # noqa: S603
        try:
            with Serving(folder).wait() as server:
                ports = (server.port, echo_port)
                worst = run_all(ports, given.seconds, given.phones, given.look_s)
                with open_store(folder, create=False) as store:
                    kept = len(store.all_events()) - len(morning)
        finally:
            echo.terminate()
            echo.wait()
    expected = 2 * CLIENTS_COUNT * given.seconds
    print(f"target p99 {TARGET_MS:.0f} ms: {worst:.1f}; {kept} of {expected} events in the store")
    return int(worst > TARGET_MS or kept != expected)


def run_all(ports: tuple[int, int], seconds: int, phones: int, look_s: float) -> float:
    """Run without and with phones that look on; returns the worse 99th percentile. [ms]"""
    with Client(ports[0]) as first:
        first.get("/today/live")  # compiled and warm, as on any day but the first
    alone = measured(ports, seconds, run="a", phones=0, look_s=look_s)
    worst = report(f"{CLIENTS_COUNT} clients, {seconds} s", alone)
    looked = measured(ports, seconds, run="b", phones=phones, look_s=look_s)
    return max(worst, report(f"and {phones} looking every {look_s:g} s", looked))


if __name__ == "__main__":
    raise SystemExit(main())
