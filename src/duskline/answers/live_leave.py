"""Which ground may lie open overnight when not all can be covered any more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from duskline.answers.live_now import LEAST_AREA_M2, Ground
from duskline.core.farm import Farm, Field
from duskline.core.log import ELSEWHERE

__all__ = ["Leave", "Trouble", "ground_to_leave"]

WATER = {"water", "ditch"}


class Trouble(StrEnum):
    """What speaks against leaving a field open; the worst first."""

    WATER = "water or a ditch beside it"
    SLOPE = "it slopes"
    ERODIBLE = "its soil washes"
    NOT_AFTER_RAIN = "it cannot be worked after rain"
    BESIDE_OTHERS = "a road, a home or another's crop beside it"


@dataclass(frozen=True, kw_only=True, slots=True)
class Leave:
    """One open field, and whether it is to be left.

    Attributes
    ----------
    open_m2, leave_m2
        What lies open in it, and how much of that is to be left. [m2]
    troubles
        What speaks against it.
    slope_known
        Whether its slope is stated; if not, somebody has to look.
    """

    field: str
    open_m2: float
    leave_m2: float
    troubles: tuple[Trouble, ...]
    slope_known: bool


def ground_to_leave(farm: Farm, ground: Sequence[Ground], *, bare_m2: float) -> tuple[Leave, ...]:
    """Return the open fields, those first that may best be left, until so much is left. [m2]

    Notes
    -----
    A field with fewer of the worse troubles is left first: water beside it (downhill ditches
    too), slope, soil that washes, ground that cannot be worked after rain, neighbors. Of fields
    alike, the smaller open piece, so that the rest is whole. An order, not a measure of harm.
    Ground that loads must have reached, nobody has said where, is in no order.

    Source
    ------
    Our judgement.
    """
    by_name = {one.name: one for one in farm.fields}
    rows = []
    for one in ground:
        if one.open_m2 < LEAST_AREA_M2 or one.field == ELSEWHERE:
            continue
        noun = by_name.get(one.field)
        troubles = _troubles(farm, noun) if noun is not None else ()
        rows.append((tuple(kind in troubles for kind in Trouble), one.open_m2, one.field, troubles))
    rest, found = bare_m2, []
    for _, open_m2, name, troubles in sorted(rows):
        noun = by_name.get(name)
        take = min(rest, open_m2)
        rest -= take
        found.append(
            Leave(
                field=name,
                open_m2=open_m2,
                leave_m2=take,
                troubles=troubles,
                slope_known=noun is not None and noun.slope_fraction is not None,
            )
        )
    return tuple(found)


def _troubles(farm: Farm, field: Field) -> tuple[Trouble, ...]:
    kinds = {edge.kind for edge in field.edges}
    slopes = field.slope_fraction is not None and (
        field.slope_fraction > farm.defaults["level_ground"].value
    )
    speaks = {
        Trouble.WATER: bool(kinds & WATER),
        Trouble.SLOPE: slopes or (field.slope_fraction is None and field.downhill_to is not None),
        Trouble.ERODIBLE: field.erodible,
        Trouble.NOT_AFTER_RAIN: field.not_after_rain,
        Trouble.BESIDE_OTHERS: bool(kinds - WATER),
    }
    return tuple(kind for kind in Trouble if speaks[kind])
