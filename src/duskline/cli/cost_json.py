"""The cost as JSON: parts for an acre and a hectare, null where a price is missing."""

from __future__ import annotations

from typing import Any

from duskline.answers.cost import CostAnswer, PartKey, ToolMatch
from duskline.answers.working import Figure
from duskline.cli.json_out import plain, steps_json
from duskline.units import ACRE_M2, HECTARE_M2

__all__ = ["cost_json"]


def cost_json(answer: CostAnswer, *, working: bool = False) -> dict[str, Any]:
    """Return the cost with its fixed names; money in ``currency``.

    ``total`` is for an acre like the parts of ``per_acre``, and null where no part is priced.
    A part that was not asked for (repairs, ownership) is null and named in ``not_counted``; one
    whose price is missing is null and named in ``missing``.
    """
    found: dict[str, Any] = {
        "currency": answer.currency,
        "area_m2": answer.area_m2,
        "per_acre": _parts(answer, ACRE_M2),
        "per_hectare": _parts(answer, HECTARE_M2),
        "total": _total(answer, answer.total, ACRE_M2),
        "total_per_hectare": _total(answer, answer.total, HECTARE_M2),
        "work_per_acre": _total(answer, answer.work, ACRE_M2),
        "work_per_hectare": _total(answer, answer.work, HECTARE_M2),
        "whole": answer.whole,
        "ranges_per_acre": {
            key.value: _range(figure, ACRE_M2)
            for key, figure in answer.parts.items()
            if figure is not None and figure.low is not None
        }
        | ({"total": _range(answer.total, ACRE_M2)} if answer.total.low is not None else {}),
        "sources": {
            key.value: figure.source for key, figure in answer.parts.items() if figure is not None
        },
        "not_counted": [key.value for key in PartKey if key not in answer.parts],
        "missing": [
            {"part": one.part.value, "what": one.what, "name": one.name or None}
            for one in answer.missing
        ],
        "notes": [note.value for note in answer.notes],
        "custom": [
            {
                "key": one.key,
                "per_acre": _money(one.per_m2.value, ACRE_M2),
                "per_hectare": _money(one.per_m2.value, HECTARE_M2),
                "source": one.per_m2.source,
            }
            for one in answer.custom
        ],
        "tractors": [_match(one) for one in answer.matches],
    }
    if working:
        found["working"] = steps_json(answer.working)
    return found


def _money(per_m2: float | str, size: float) -> float:
    return round(float(per_m2) * size, 6)


def _parts(answer: CostAnswer, size: float) -> dict[str, float | None]:
    figures = {key: answer.parts.get(key) for key in PartKey}
    return {
        key.value: None if figure is None else _money(figure.value, size)
        for key, figure in figures.items()
    }


def _total(answer: CostAnswer, figure: Figure, size: float) -> float | None:
    return _money(figure.value, size) if any(answer.parts.values()) else None


def _range(figure: Figure, size: float) -> dict[str, float]:
    low = figure.value if figure.low is None else figure.low
    high = figure.value if figure.high is None else figure.high
    return {"low": _money(low, size), "high": _money(high, size)}


def _match(one: ToolMatch) -> dict[str, Any]:
    return {
        "machine": one.machine,
        "tractor": one.tractor,
        "verdict": one.match.verdict.value,
        "pto_power_w": one.match.pto_power_w,
        "needed_w": {
            "low": one.match.needed.low_w,
            "typical": one.match.needed.typical_w,
            "high": one.match.needed.high_w,
        },
        "share": one.match.share_fraction,
        "fuel_m3_per_m2": one.fuel_m3_per_m2,
        "throttle_saving": one.throttle_saving_fraction,
        "assumed": plain(one.assumed),
    }
