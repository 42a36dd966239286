"""Whether the turns of a plan, driven as they are counted, stay on the field.

The headland is as deep as the turn from row to row needs. Where passes meet it at a slant, or the
next row lies farther off, the shortest curve may need more.
"""

from __future__ import annotations

import math

import shapely

from duskline.core.outline import FloatArray, Outline
from duskline.core.passes import PassPlan
from duskline.core.route import run_pose
from duskline.core.turns import driven_turn

__all__ = ["turn_way_m", "turns_over_the_edge"]

# A curve may reach this far over an edge before it is told. [m]
_OVER_M = 0.5
_STEP_M = 1.0
# A way longer than this many driving widths is a drive across the field, not a turn.
_NEAR_WIDTHS = 12.0


def turns_over_the_edge(plan: PassPlan, outline: Outline) -> tuple[int, ...]:
    """Return the runs after which the turn, driven as it is counted, leaves the field.

    Parameters
    ----------
    plan
        The passes in driving order.
    outline
        The ground to drive; its holes count as edges too.

    Notes
    -----
    The way of the tractor's turning point, in turns that are no drive across the field.

    Source
    ------
    Derived here; the half metre of leave is our judgement.
    """
    inside = outline.shape.buffer(_OVER_M)
    shapely.prepare(inside)
    return tuple(
        run
        for run in range(len(plan.passes_m) - 1)
        if (way_m := turn_way_m(plan, run)) is not None
        and not inside.covers(shapely.LineString(way_m))
    )


def turn_way_m(plan: PassPlan, run: int) -> FloatArray | None:
    """Return the way from one run to the next, ``(n, 2)`` [m]; None where it is a drive."""
    before_m, after_m = plan.passes_m[run], plan.passes_m[run + 1]
    same = plan.block_indices[run] == plan.block_indices[run + 1]
    most_m = _NEAR_WIDTHS * plan.driving.driving_width_m
    if not same or math.dist(before_m[1], after_m[0]) > most_m:
        return None
    leave, enter = run_pose(before_m, at_end=True), run_pose(after_m, at_end=False)
    turn = driven_turn(leave, enter, plan.driving.turn)
    return turn.path(_STEP_M).points_m if turn.length_m > 0.0 else None
