"""The table of defaults: low, typical, high, unit and source of every figure we assume.

``data/defaults.toml`` holds the rows, ``data/sources.toml`` the bibliography. A farm's own
figure always wins; the faces say which it was.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

from duskline.core.farm import Given

__all__ = ["NO_SOURCE", "Default", "Source", "defaults", "given", "sources"]

NO_SOURCE = ("common practice, no source", "memory", "our judgement")
UNITS = {
    "fraction": "fraction", "1": "count", "m": "length", "m/s": "speed", "s": "time",
    "1/s": "per time", "rad": "angle", "kg": "mass", "kg/m2": "rate", "kg/m3": "density",
    "1/kg": "seeds per mass", "per kg": "seeds per mass", "per m2": "stand", "1/m2": "stand",
    "m2": "area", "m3": "volume", "W": "power", "K": "temperature step", "C": "temperature",
    "count": "count", "year": "count", "kg/s": "flow", "per_kg": "seeds per mass",
    "per_m2": "stand", "deg": "count", "m3/m2": "fuel use", "USD/m2": "money per area",
}  # fmt: skip
"""SI unit of a row to the kind of figure it is; a row with another unit is refused."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """One entry of the bibliography."""

    key: str
    title: str
    publisher: str
    year: int | None
    address: str

    @property
    def line(self) -> str:
        """Title, publisher and year, as printed beside a default."""
        year = f", {self.year}" if self.year else ""
        return f"{self.title}, {self.publisher}{year}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Default:
    """One row of the table, in SI."""

    key: str
    name: str
    low: float
    typical: float
    high: float
    unit: str
    source: str
    where: str

    @property
    def kind(self) -> str:
        """What kind of figure it is, for printing in the reader's units."""
        return UNITS[self.unit]

    @property
    def source_line(self) -> str:
        """The source as printed: title, publisher, year; or that there is none."""
        return self.source if self.source in NO_SOURCE else sources()[self.source].line


def _read(name: str) -> dict[str, Any]:
    text = resources.files("duskline").joinpath(f"data/{name}").read_text(encoding="utf-8")
    return tomllib.loads(text)


@lru_cache(maxsize=1)
def sources() -> Mapping[str, Source]:
    """Return the bibliography by key."""
    return {
        key: Source(
            key=key,
            title=row["title"],
            publisher=row["publisher"],
            year=row.get("year"),
            address=row["address"],
        )
        for key, row in _read("sources.toml").items()
    }


@lru_cache(maxsize=1)
def defaults() -> Mapping[str, Default]:
    """Return the whole table by key.

    Raises
    ------
    ValueError
        A row is out of order (low, typical, high), has an unknown unit, or a source that the
        bibliography does not hold.
    """
    table = {}
    for key, row in _read("defaults.toml").items():
        default = Default(key=key, **{"where": "", **row})
        if not default.low <= default.typical <= default.high:
            raise ValueError(f"{key}: low, typical, high are not in order")
        if default.unit not in UNITS:
            raise ValueError(f"{key}: unit {default.unit!r} is unknown")
        if default.source not in NO_SOURCE and default.source not in sources():
            raise ValueError(f"{key}: source {default.source!r} is not in the bibliography")
        table[key] = default
    return table


def given(key: str) -> Given:
    """Return a default as a figure with its source, for the working of an answer."""
    row = defaults()[key]
    return Given(
        value=row.typical,
        unit=row.unit,
        source=f"default: {row.source_line}",
        low=row.low,
        high=row.high,
        is_default=True,
    )
