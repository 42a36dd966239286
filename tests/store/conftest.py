"""Every test that asks for ``place`` runs on SQLite and on a real PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from made_stores import NO_SERVER, postgres_database, server_programs, stop_servers


def pytest_sessionfinish() -> None:
    """Stop the server; the workers of a parallel run end without calling what was left to do."""
    stop_servers()


@pytest.fixture
def postgres() -> Iterator[str]:
    """The address of an empty database on a PostgreSQL of our own."""
    if server_programs() is None:
        pytest.skip(NO_SERVER)
    with postgres_database() as address:
        yield address


@pytest.fixture(params=["SQLite", "PostgreSQL"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a store can be opened that is not there yet."""
    if request.param == "SQLite":
        return str(tmp_path / "duskline.db")
    address: str = request.getfixturevalue("postgres")
    return address
