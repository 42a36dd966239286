"""The order of fields in a day of two machines, one spreading ahead of one covering."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["order_for_two_machines", "two_machines_done_s"]


def two_machines_done_s(times_s: Sequence[tuple[float, float]]) -> float:
    """Return when the second machine is done with fields in this order, the first going ahead. [s]

    Parameters
    ----------
    times_s
        (spreading, covering) of each field; a field is covered once it is all spread. [s]
    """
    first = second = 0.0
    for spread_s, cover_s in times_s:
        first += spread_s
        second = max(second, first) + cover_s
    return second


def order_for_two_machines(times_s: Sequence[tuple[float, float]]) -> list[int]:
    """Return the order of fields that ends covering soonest, as indices.

    Parameters
    ----------
    times_s
        (spreading, covering) of each field. [s]

    Notes
    -----
    Fields quicker to spread than to cover go first, the quickest to spread at the head; the
    others go last, the quickest to cover at the tail.

    Source
    ------
    Johnson 1954, two-stage production schedules (memory); every order tried on small days in
    tests/core/test_two_machines.py.
    """
    first = [i for i, (spread_s, cover_s) in enumerate(times_s) if spread_s < cover_s]
    rest = [i for i, (spread_s, cover_s) in enumerate(times_s) if spread_s >= cover_s]
    return sorted(first, key=lambda i: times_s[i][0]) + sorted(rest, key=lambda i: -times_s[i][1])
