"""Work in threads: in the order of the things, and a fault comes through."""

from __future__ import annotations

import pytest

from duskline.core.side_by_side import cores_used, side_by_side


def test_results_stand_in_the_order_of_the_things() -> None:
    """Of two sequences, of none, with a thread at least."""
    assert side_by_side(lambda a, b: a * 10 + b, range(40), range(40)) == [
        11 * one for one in range(40)
    ]
    assert side_by_side(str, []) == []
    assert cores_used() >= 1


def test_a_fault_in_one_comes_through() -> None:
    """Nobody is left to think that all went well."""
    with pytest.raises(ZeroDivisionError):
        side_by_side(lambda one: 1 // one, [1, 0, 2])
