"""A plan out of a mixture of days: slot by slot the largest share is made the whole day."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from duskline.core.season_bound import columns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.season_bound import BestDays, PriceBound
    from duskline.core.season_pool import MixedDay, Mixture, Pool

__all__ = ["dive"]

CERTAIN = 0.97  # a share of a slot that is as good as all of it
ROUNDS = 3  # times that prices are moved after each settling
DEAR = 0.5  # of a share: by how much the dearest time is settled sooner (by trial)
STEPS = 10  # in about so many all slots are settled


def dive(
    begin: PriceBound,
    pool: Pool,
    *,
    upper_usd: float,
    days: BestDays,
    rng: np.random.Generator | None = None,
) -> NDArray[np.float64]:
    """Return areas of each field in each slot, near those of the bound's mixture. (n, s) [m2]

    Parameters
    ----------
    begin, pool
        The bound with its mixture, and the days found so far; more are added.
    rng
        Shakes the shares, so that another plan comes out; None: the largest first.

    Notes
    -----
    A slot is settled by keeping its set of fields, no more and no fewer; what it sows of each may
    still shift. Where the mixture has nothing left for a slot, nobody goes out.
    """
    now, slots = begin, len(begin.case.crew)
    settled: set[int] = set()
    mixture = begin.mixture
    # Dear time is settled first: what is left over then goes where time is cheap.
    dear = np.maximum(0.0, begin.worth_usd + begin.case.slot_usd) / begin.case.budget_s
    dear *= DEAR / max(1e-300, float(dear.max()))
    while mixture is not None:
        share = _shares(now.case.area, mixture, settled)
        if not share:
            break
        shaken = {
            key: one if rng is None else one * rng.uniform(0.7, 1.0) for key, one in share.items()
        }
        pace, must = now.case.pace.copy(), now.case.must.copy()
        quota = len(settled) + max(1, slots // STEPS)
        taken: set[int] = set()
        for k, fields in sorted(share, key=lambda key: (-shaken[key] - dear[key[0]], key)):
            if k in settled:
                continue
            # What two of them want may not be had twice: the prices must tell first.
            if share[k, fields] < CERTAIN and (len(settled) >= quota or taken & set(fields)):
                continue
            settled.add(k)
            taken |= set(fields)
            inside = np.isin(np.arange(len(pace)), fields)
            pace[~inside, k] = 0.0
            must[inside, k] = True
        now = columns(
            *(now.case._replace(pace=pace, must=must), now, pool, 2.0 * upper_usd, days),
            ROUNDS,
            least_days=0,
            most_days=slots,
        )
        mixture = now.mixture or mixture
    area = np.zeros(begin.case.pace.shape)
    for day in () if mixture is None else mixture.days:
        area[day.fields, day.slot] += day.share * day.areas
    return area


def _shares(
    area: NDArray[np.float64], mixture: Mixture, settled: set[int]
) -> dict[tuple[int, tuple[int, ...]], float]:
    """Return the share of each set of fields in each slot that is not settled."""
    share: dict[tuple[int, tuple[int, ...]], float] = {}
    for day in mixture.days:
        fields = _sown(area, day)
        if fields and day.slot not in settled:
            key = (day.slot, fields)
            share[key] = share.get(key, 0.0) + day.share
    return share


def _sown(area: NDArray[np.float64], day: MixedDay) -> tuple[int, ...]:
    return tuple(int(f) for f in day.fields[day.areas > 1e-6 * area[day.fields]])
