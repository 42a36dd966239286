"""One browser for all tests of the pages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from pages import chromium
from playwright.sync_api import Browser


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Return the machine's Chromium."""
    with chromium() as found:
        yield found
