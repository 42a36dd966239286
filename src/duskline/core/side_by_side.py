"""The same work on many things in threads; compiled code that lets go of the lock gains by it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

__all__ = ["cores_used", "side_by_side"]

T = TypeVar("T")


def side_by_side(work: Callable[..., T], *things: Iterable[object]) -> list[T]:
    """Return what ``work`` makes of each thing, in their order.

    In as many threads as numba may use (``NUMBA_NUM_THREADS``, else one for each core); the
    results must not depend on how many.
    """
    with ThreadPoolExecutor(max_workers=cores_used()) as threads:
        return list(threads.map(work, *things))


def cores_used() -> int:
    """Return how many threads work side by side."""
    from numba import config

    return int(config.NUMBA_NUM_THREADS)  # type: ignore[attr-defined]
