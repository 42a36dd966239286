"""The first schema: meta, events, files.

Written out once more, apart from ``tables.py``: what a released step makes never changes again.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.sqlite import REAL
from sqlalchemy.types import TypeEngine

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the three tables."""
    whole = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    figure: TypeEngine[float] = sa.Double().with_variant(REAL(), "sqlite")
    op.create_table(
        "meta",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("value", sa.Text, nullable=False),
        sqlite_strict=True,
    )
    op.create_table(
        "events",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("digest", sa.Text, primary_key=True),
        sa.Column("seq", whole, nullable=False),
        sa.Column("at_us", whole, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("machine", sa.Text, nullable=False),
        sa.Column("field", sa.Text, nullable=False),
        sa.Column("area_m2", figure),
        sa.Column("mass_kg", figure),
        sa.Column("took_s", figure),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("whole", whole, nullable=False),
        sa.Column("told", sa.Text, nullable=False),
        sa.Column("device", sa.Text, nullable=False),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("clock_us", whole),
        sa.Column("server_us", whole, nullable=False),
        sa.Column("refers", sa.Text, nullable=False),
        sa.Column("stop_us", whole),
        sa.Column("chance_fraction", figure),
        sa.UniqueConstraint("seq", name="events_seq"),
        sqlite_strict=True,
    )
    op.create_table(
        "files",
        sa.Column("path", sa.Text, primary_key=True),
        sa.Column("version", whole, primary_key=True),
        sa.Column("saved_us", whole, nullable=False),
        sa.Column("saved_by", sa.Text, nullable=False),
        sa.Column("gone", whole, nullable=False),
        sa.Column("size", whole, nullable=False),
        sa.Column("sha256", sa.Text, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sqlite_strict=True,
    )
