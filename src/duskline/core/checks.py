"""Checks that figures can be true, shared by the trades."""

from __future__ import annotations

import math

from duskline.core.errors import OutOfRange

__all__ = ["check_positive", "check_share", "check_within"]


def check_within(name: str, value: float, low: float, high: float) -> None:
    """Refuse a figure outside its limits, or that is no number."""
    if not low <= value <= high:
        raise OutOfRange(name, value, low, high)


def check_positive(name: str, value: float) -> None:
    """Refuse a figure that is not above zero, or not finite."""
    if not 0.0 < value < math.inf:
        raise OutOfRange(name, value, 0.0)


def check_share(name: str, value: float) -> None:
    """Refuse a share that is zero or above one."""
    check_positive(name, value)
    check_within(name, value, 0.0, 1.0)
