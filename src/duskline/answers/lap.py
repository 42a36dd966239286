"""What each covering driver's overlap leaves missed, and the overlap to aim for."""

from __future__ import annotations

from dataclasses import dataclass

from duskline.core.farm import Farm
from duskline.core.lap import Overlap, gap_sd_m, overlap_advised_m, skip_fraction

__all__ = ["LapAnswer", "lap_answers"]


@dataclass(frozen=True, kw_only=True, slots=True)
class LapAnswer:
    """One covering machine: its overlap, the share missed with it, and the range to aim for.

    ``skip_low_fraction`` and ``skip_high_fraction`` are the share missed at the low and high end
    of how far such a driver wanders.
    """

    machine: str
    by_eye: bool
    overlap_m: float
    skip_fraction: float
    skip_low_fraction: float
    skip_high_fraction: float
    advised: Overlap


def lap_answers(farm: Farm) -> tuple[LapAnswer, ...]:
    """Return overlap and skip for every covering machine of the farm.

    A guided machine errs at both edges, a driver by eye only against the last one. What a missed
    strip is worth is not known, so the advice is a range over that worth.
    """
    worth = farm.defaults["work_over_loss"]
    found = []
    for machine in farm.cultivators:
        edge = farm.defaults["edge_sd_by_eye" if machine.by_eye else "edge_sd_guided"]
        low, typical, high = (
            gap_sd_m(edge_sd_m=sd, by_eye=machine.by_eye)
            for sd in (edge.low or edge.value, edge.value, edge.high or edge.value)
        )
        skips = [
            skip_fraction(width_m=machine.width_m, overlap_m=machine.overlap_m, gap_sd_m=sd)
            for sd in (low, typical, high)
        ]
        found.append(
            LapAnswer(
                machine=machine.name,
                by_eye=machine.by_eye,
                overlap_m=machine.overlap_m,
                skip_fraction=skips[1],
                skip_low_fraction=skips[0],
                skip_high_fraction=skips[2],
                advised=overlap_advised_m(
                    width_m=machine.width_m,
                    gap_sd_m=typical,
                    work_over_loss_low=worth.low or worth.value,
                    work_over_loss_high=worth.high or worth.value,
                ),
            )
        )
    return tuple(found)
