"""Slow work in a process of its own: the pages stay quick, and a server that stops ends it."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import TypeVar

__all__ = ["AsideEnded", "aside"]

KINDER = 5
"""How much the process steps back behind the pages on a busy machine."""
Answer = TypeVar("Answer")


class AsideEnded(RuntimeError):
    """The process ended without an answer."""


def aside(work: Callable[..., Answer], *asked: object) -> Answer:
    """Return what ``work`` answers, worked out in another process.

    Parameters
    ----------
    work
        A function of a module; it, what it is asked and its answer are pickled.

    Raises
    ------
    AsideEnded
        It failed, was stopped, or the machine has no memory left for it.
    """
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    child = context.Process(target=_answer, args=(there, work, asked), daemon=True)
    child.start()
    there.close()
    try:
        answer: Answer = here.recv()
    except EOFError as ended:
        child.join()
        raise AsideEnded(f"it ended with code {child.exitcode}") from ended
    finally:
        here.close()
    child.join()
    return answer


def _answer(there: Connection, work: Callable[..., Answer], asked: tuple[object, ...]) -> None:
    with contextlib.suppress(OSError, AttributeError):
        os.nice(KINDER)
    there.send(work(*asked))
    there.close()
