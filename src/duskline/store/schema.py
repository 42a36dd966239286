"""Which form a store has, and bringing it to ours: made anew, stepped up, or refused."""

from __future__ import annotations

import secrets
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, insert, inspect, text

from duskline.store.errors import NotAStore, StoreNewer
from duskline.store.tables import META

__all__ = ["APPLICATION_ID", "HEAD", "KNOWN", "bring_up", "version_of"]

KNOWN = ("0001",)
"""The steps in their order; the last is what this Duskline reads and writes."""

HEAD = KNOWN[-1]
APPLICATION_ID = 0x4475736B
"""Written into a SQLite file, so that another program's is known before anything is changed."""

MIGRATIONS = Path(__file__).with_name("migrations")


def version_of(connection: Connection, place: object) -> str | None:
    """Return the schema step of the database; None for an empty one.

    Raises
    ------
    NotAStore
        Other tables stand in it.
    StoreNewer
        It was made by a newer Duskline.
    """
    names = set(inspect(connection).get_table_names())
    if not names:
        return None
    sqlite = connection.dialect.name == "sqlite"
    mark = connection.exec_driver_sql("PRAGMA application_id").scalar() if sqlite else None
    if "alembic_version" not in names or (sqlite and mark != APPLICATION_ID):
        raise NotAStore(
            place,
            "this holds something else, not a Duskline log. Name another file, or an empty "
            "database.",
        )
    version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if version not in KNOWN:
        raise StoreNewer(
            place,
            f"a newer Duskline made this log (form {str(version)[:20]}; this one knows {HEAD}). "
            "Update Duskline on this machine, or use the machine that has the newer one.",
        )
    return str(version)


def bring_up(connection: Connection, place: object, now_at: datetime) -> None:
    """Bring the database to our form, inside the transaction that is open."""
    version = version_of(connection, place)
    if version == HEAD:
        return
    _run_steps(connection)
    if version is None:
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(
            insert(META),
            [
                {"key": "farm_id", "value": secrets.token_hex(16)},
                {"key": "made_at", "value": now_at.isoformat()},
            ],
        )


def _run_steps(connection: Connection) -> None:
    from alembic import command
    from alembic.config import Config

    settings = Config()
    settings.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    settings.set_main_option("path_separator", "newline")
    settings.attributes["connection"] = connection
    command.upgrade(settings, "head")
