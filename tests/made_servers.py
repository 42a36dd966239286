"""``duskline serve`` as a process of its own, and clients who tell it events; to be killed."""

from __future__ import annotations

import http.client
import json
import os
import random
import resource
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Self

__all__ = ["NOON", "Client", "Crowd", "Serving", "free_port", "killed_at_random", "told"]

NOON = datetime.fromisoformat("2026-10-18T13:00:00-05:00")
UP_WITHIN_S = 120.0
ANSWER_WITHIN_S = 60.0


def free_port() -> int:
    """Return a port of this machine that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def told(name: str, number: int, **more: object) -> dict[str, object]:
    """Return an event as a program tells it: some ground covered, ``number`` seconds after one."""
    return {
        "id": f"{name}-{number:08d}",
        "at": (NOON + timedelta(seconds=number)).isoformat(),
        "what": "covered",
        "machine": "Cultivator 1",
        "field": "A1",
        "area_m2": 20.0 + number % 7,
        "device": name,
        **more,
    }


class Serving:
    """One server of a farm folder, in a process of its own, on this machine only.

    Parameters
    ----------
    folder
        The farm folder.
    file_limit_bytes
        The largest file it may write; a stand-in for a full disk.
    """

    def __init__(
        self, folder: Path, *, port: int | None = None, file_limit_bytes: int | None = None
    ) -> None:
        self.folder = folder
        self.port = free_port() if port is None else port
        before = None if file_limit_bytes is None else _limits(file_limit_bytes)
        command = ["serve", str(folder), "--port", str(self.port), "--clock", NOON.isoformat()]
        self._process = subprocess.Popen(  # noqa: S603
            [sys.executable, "-m", "duskline", *command],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            preexec_fn=before,  # noqa: PLW1509 no thread is running that holds a lock
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.stop()

    @property
    def pid(self) -> int:
        """Its process's number."""
        return self._process.pid

    def wait(self) -> Self:
        """Return once it answers."""
        until = time.monotonic() + UP_WITHIN_S
        while not self.answers():
            if self._process.poll() is not None:
                raise RuntimeError(f"the server ended with {self._process.returncode}")
            if time.monotonic() > until:
                raise RuntimeError("the server did not answer in time")
            time.sleep(0.01)
        return self

    def answers(self) -> bool:
        """Say whether somebody listens."""
        try:
            socket.create_connection(("127.0.0.1", self.port), timeout=1.0).close()
        except OSError:
            return False
        return True

    def give_room(self) -> None:
        """Lift the limit on its files."""
        _, most = resource.prlimit(self.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(self.pid, resource.RLIMIT_FSIZE, (most, most))

    def kill(self) -> None:
        """End it without a word."""
        os.kill(self.pid, signal.SIGKILL)
        self._process.wait()

    def stop(self) -> None:
        """Ask it to end, as Ctrl+C does."""
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
            try:
                self._process.wait(timeout=20.0)
            except subprocess.TimeoutExpired:
                self.kill()


def _limits(largest_bytes: int) -> Callable[[], None]:
    def limit() -> None:
        _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest_bytes, most))

    return limit


class Client:
    """One phone or program, on a connection it keeps."""

    def __init__(self, port: int) -> None:
        self._connection = http.client.HTTPConnection("127.0.0.1", port, timeout=ANSWER_WITHIN_S)
        self._connection.connect()
        assert self._connection.sock is not None
        self._connection.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._connection.close()

    def post(self, path: str, body: object) -> tuple[int, Any]:
        """Return status and answer of what was sent.

        Raises
        ------
        OSError, http.client.HTTPException
            The server is gone.
        """
        sent = json.dumps(body).encode()
        self._connection.request(
            "POST", path, body=sent, headers={"Content-Type": "application/json"}
        )
        answer = self._connection.getresponse()
        return answer.status, json.loads(answer.read())

    def get(self, path: str) -> tuple[int, str]:
        """Return status and text of a page."""
        self._connection.request("GET", path)
        answer = self._connection.getresponse()
        return answer.status, answer.read().decode()


# --------------------------------------------------------------------------- clients under load

GONE = (OSError, http.client.HTTPException)


class Crowd:
    """Clients who tell events as fast as they are acknowledged, and remember what was.

    Attributes
    ----------
    acknowledged, told_ids
        The ids of what the server said is on the disk, and of all that was sent.
    again
        How many were told again, since the answer had been lost.
    under_load
        How many servers went while they took events in.
    """

    def __init__(self, port: int, count: int, *, name: str = "phone", **more: object) -> None:
        self.port = port
        self.acknowledged: set[str] = set()
        self.told_ids: set[str] = set()
        self.again = 0
        self.under_load = 0
        self._more = more
        self._names = [f"{name}{number}" for number in range(count)]
        self._next = dict.fromkeys(self._names, 0)
        self._pending: dict[str, dict[str, object]] = {}
        self._lock = threading.Lock()

    def tell_until_gone(self) -> list[threading.Thread]:
        """Begin to tell; each client ends when the server is gone."""
        return self._each(self._until_gone)

    def tell_each(self, count: int) -> None:
        """Let every client tell so many events, what is still to be told again first."""

        def work(name: str) -> None:
            with Client(self.port) as client:
                for _ in range(count):
                    self._tell(client, name)

        _joined(self._each(work))

    def tell_until_refused(self) -> list[tuple[int, list[str]]]:
        """Let every client tell until it is refused; returns the refusals, one for each."""
        refused: list[tuple[int, list[str]]] = []

        def work(name: str) -> None:
            with Client(self.port) as client:
                while (answer := self._tell(client, name))[0] == 200:
                    pass
            refused.append((answer[0], answer[1].get("problems", [])))

        _joined(self._each(work))
        return refused

    def _each(self, work: Callable[[str], None]) -> list[threading.Thread]:
        threads = [threading.Thread(target=work, args=(name,)) for name in self._names]
        for one in threads:
            one.start()
        return threads

    def _until_gone(self, name: str) -> None:
        try:
            with Client(self.port) as client:
                while True:
                    self._tell(client, name)
        except GONE:
            return

    def _tell(self, client: Client, name: str) -> tuple[int, Any]:
        """Tell one event, the same as before where that was not acknowledged."""
        with self._lock:
            event = self._pending.get(name)
            if event is None:
                event = told(name, self._next[name], **self._more)
                self._next[name] += 1
                self._pending[name] = event
            else:
                self.again += 1
            self.told_ids.add(str(event["id"]))
        status, answer = client.post("/api/events", [event])
        if status == 200:
            with self._lock:
                self.acknowledged.update(one["id"] for one in answer["taken"])
                del self._pending[name]
        return status, answer


def _joined(threads: list[threading.Thread]) -> None:
    for one in threads:
        one.join()


def killed_at_random(folder: Path, kills: int, clients: int, *, seed: int) -> Crowd:
    """Kill a server at random moments, again and again, while clients tell it events.

    One in eight is killed while it starts. At the end a last server is told what was not
    acknowledged, and is stopped.

    Returns
    -------
    Crowd
        What the clients know.
    """
    chance = random.Random(seed)  # noqa: S311
    crowd = Crowd(0, clients)
    for _ in range(kills):
        server = Serving(folder)
        crowd.port = server.port
        threads = []
        if chance.random() < 0.125:
            time.sleep(2.0 * chance.random())
        else:
            before = len(crowd.acknowledged)
            server.wait()
            threads = crowd.tell_until_gone()
            until = time.monotonic() + ANSWER_WITHIN_S
            while len(crowd.acknowledged) == before and time.monotonic() < until:
                time.sleep(0.001)
            time.sleep(0.3 * chance.random())
            crowd.under_load += 1
        server.kill()
        _joined(threads)
    with Serving(folder).wait() as server:
        crowd.port = server.port
        crowd.tell_each(1)
    return crowd
