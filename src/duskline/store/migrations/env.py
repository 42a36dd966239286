"""What alembic runs: the steps, on the connection and in the transaction it was handed."""

from __future__ import annotations

from alembic import context

from duskline.store.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
)
context.run_migrations()
