"""Settings for all tests: the same examples every time, no clock on them, one browser."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browsing import chromium
from hypothesis import settings
from playwright.sync_api import Browser

settings.register_profile("duskline", derandomize=True, deadline=None)
settings.load_profile("duskline")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Return the machine's Chromium; one for all tests of a process."""
    with chromium() as found:
        yield found
