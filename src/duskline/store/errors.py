"""What can go wrong with the store, each with a sentence that says what to change.

The tree::

    StoreError (DusklineError)
    ├── StoreMissing       there is no store at that place
    ├── NotAStore          the file is something else
    ├── StoreNewer         a newer Duskline made it
    ├── StoreDamaged       what is in it does not hold together
    ├── StoreBusy          somebody else is writing, or has it open
    ├── StoreFull          no room on the disk
    ├── StoreUnreachable   the database server, or the disk, does not answer
    ├── AlreadyThere       a file stands where one was to be written
    ├── EventRefused       an event that no log can hold
    ├── FileRefused        a file that no farm folder can hold
    └── FileChanged        somebody saved the file since it was read
"""

from __future__ import annotations

from duskline.core.errors import DusklineError

__all__ = [
    "AlreadyThere",
    "EventRefused",
    "FileChanged",
    "FileRefused",
    "NotAStore",
    "StoreBusy",
    "StoreDamaged",
    "StoreError",
    "StoreFull",
    "StoreMissing",
    "StoreNewer",
    "StoreUnreachable",
]


class StoreError(DusklineError):
    """Anything the store refuses; its text is the sentence for the person.

    Attributes
    ----------
    place
        The file, or the address of the database without its password.
    """

    def __init__(self, place: object, sentence: str) -> None:
        super().__init__(f"{place}: {sentence}" if place else sentence)
        self.place = str(place)


class StoreMissing(StoreError, LookupError):
    """There is no store at that place."""


class NotAStore(StoreError, ValueError):
    """The file, or the database, is something else."""


class StoreNewer(StoreError, ValueError):
    """A newer Duskline made it, in a form this one cannot read."""


class StoreDamaged(StoreError, ValueError):
    """What is in it does not hold together."""


class StoreBusy(StoreError):
    """Somebody else is writing, or has it open; nothing was written."""


class StoreFull(StoreError):
    """There is no room on the disk; nothing was written."""


class StoreUnreachable(StoreError):
    """The database server or the disk does not answer; nothing is known to be written."""


class AlreadyThere(StoreError, ValueError):
    """A file stands where one was to be written; it is left as it is."""


class EventRefused(StoreError, ValueError):
    """An event that no log can hold."""


class FileRefused(StoreError, ValueError):
    """A file, or a name of one, that no farm folder can hold."""


class FileChanged(StoreError, ValueError):
    """Somebody saved the file since it was read; nothing was written."""
