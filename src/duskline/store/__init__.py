"""The record of a farm: its events and files in SQLite, or in PostgreSQL by address.

The names are loaded when they are first used, so that a command that finds no store stays quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from duskline.store.checkup import Finding, doctor
    from duskline.store.errors import StoreError
    from duskline.store.farm import read_farm_with_store
    from duskline.store.keep import backup, restore
    from duskline.store.store import FileVersion, Store, open_store

__all__ = [
    "FileVersion",
    "Finding",
    "Store",
    "StoreError",
    "backup",
    "doctor",
    "open_store",
    "read_farm_with_store",
    "restore",
]

_HOMES = {
    "FileVersion": "store",
    "Finding": "checkup",
    "Store": "store",
    "StoreError": "errors",
    "backup": "keep",
    "doctor": "checkup",
    "open_store": "store",
    "read_farm_with_store": "farm",
    "restore": "keep",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
