"""Asynchronous work done in a thread of its own: beside a browser this one has a loop already."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

__all__ = ["aside"]

Found = TypeVar("Found")


def aside(work: Coroutine[Any, Any, Found]) -> Found:
    """Return what the work gives; what it raises is raised here."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()
