"""The tables: farm and schema facts, events, files. Times are UTC microseconds in integers.

A moment in an integer is the same in every database; a time column loses its zone in SQLite.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Double,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.dialects.sqlite import REAL
from sqlalchemy.types import TypeEngine

__all__ = ["EVENTS", "FILES", "META", "METADATA"]

METADATA = MetaData()
WHOLE = BigInteger().with_variant(Integer(), "sqlite")
FIGURE: TypeEngine[float] = Double().with_variant(REAL(), "sqlite")

META = Table(
    "meta",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("value", Text, nullable=False),
    sqlite_strict=True,
)

EVENTS = Table(
    "events",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("digest", Text, primary_key=True),
    Column("seq", WHOLE, nullable=False),
    Column("at_us", WHOLE, nullable=False),
    Column("what", Text, nullable=False),
    Column("machine", Text, nullable=False),
    Column("field", Text, nullable=False),
    Column("area_m2", FIGURE),
    Column("mass_kg", FIGURE),
    Column("took_s", FIGURE),
    Column("note", Text, nullable=False),
    Column("whole", WHOLE, nullable=False),
    Column("told", Text, nullable=False),
    Column("device", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("clock_us", WHOLE),
    Column("server_us", WHOLE, nullable=False),
    Column("refers", Text, nullable=False),
    Column("stop_us", WHOLE),
    Column("chance_fraction", FIGURE),
    UniqueConstraint("seq", name="events_seq"),
    sqlite_strict=True,
)

FILES = Table(
    "files",
    METADATA,
    Column("path", Text, primary_key=True),
    Column("version", WHOLE, primary_key=True),
    Column("saved_us", WHOLE, nullable=False),
    Column("saved_by", Text, nullable=False),
    Column("gone", WHOLE, nullable=False),
    Column("size", WHOLE, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
    sqlite_strict=True,
)
