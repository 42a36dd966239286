"""How fast the machines really are today: the plan's pace, moved by what they have shown.

The plan is believed as far as a day usually strays from it, an hour of work as far as an hour
usually strays from its day. So a single load moves the pace a little and a long forenoon moves
it nearly all the way; and what one machine shows tells something of the others, which share the
ground and the weather.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from duskline.core.checks import check_positive, check_within
from duskline.core.errors import OutOfRange

__all__ = [
    "Expected",
    "Learned",
    "Pace",
    "Paces",
    "Seen",
    "learned",
    "nothing_seen",
    "paces",
    "seen",
]

HOUR_S = 3600.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Expected:
    """What the plan expects of one machine: its mean rate, and how far its own day strays."""

    rate_m2_per_s: float
    own_cv: float

    def __post_init__(self) -> None:
        """Refuse a rate not above zero and a spread below zero."""
        check_positive("planned rate", self.rate_m2_per_s)
        check_within("spread of a rate", self.own_cv, 0.0, math.inf)


@dataclass(frozen=True, kw_only=True, slots=True)
class Seen:
    """What one machine did in a stretch of work, stops and moves taken off. [m2], [s]"""

    machine: int
    area_m2: float
    took_s: float

    def __post_init__(self) -> None:
        """Refuse an area or a time not above zero."""
        check_positive("area worked", self.area_m2)
        check_positive("time worked", self.took_s)


@dataclass(frozen=True, kw_only=True, slots=True)
class Learned:
    """All that has been seen, as far as the pace needs it; sums, so that any order gives the same.

    Attributes
    ----------
    precision : (machines,)
        Of each machine's log rate over its plan, by what was seen of it alone.
    weighted : (machines,)
        That precision times the log rate over plan that was seen.
    """

    precision: tuple[float, ...]
    weighted: tuple[float, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Pace:
    """One machine's pace today.

    Attributes
    ----------
    planned_m2_per_s, rate_m2_per_s
        The mean rate planned, and the mean rate by all that is known now.
    weight_fraction
        Share of the plan's doubt that is gone, 0 with nothing seen. With a single machine it is
        also the share of the way from the plan to what was shown, on a log scale.
    own_sd, shared_sd
        Standard deviations left in the log rate: the machine's own and, with it, that of the day
        factor all machines share.
    """

    planned_m2_per_s: float
    rate_m2_per_s: float
    weight_fraction: float
    own_sd: float
    shared_sd: float

    @property
    def factor(self) -> float:
        """The rate over the planned one."""
        return self.rate_m2_per_s / self.planned_m2_per_s

    @property
    def sd(self) -> float:
        """Standard deviation left in the log rate."""
        return math.hypot(self.own_sd, self.shared_sd)


@dataclass(frozen=True, kw_only=True, slots=True)
class Paces:
    """All machines' paces, and how the day itself stands to an average one (1: as planned)."""

    machines: tuple[Pace, ...]
    day_factor: float
    day_sd: float


def nothing_seen(count: int) -> Learned:
    """Return the state of knowledge in the morning, for so many machines."""
    return Learned(precision=(0.0,) * count, weighted=(0.0,) * count)


def seen(
    known: Learned,
    expected: Sequence[Expected],
    stretches: Iterable[Seen],
    *,
    shared_cv: float,
    hourly_cv: float,
    believed: float,
) -> Learned:
    """Return what is known once some stretches of work have been seen too.

    Parameters
    ----------
    known
        What was known before.
    expected
        The plan's machines.
    stretches
        What they did.
    shared_cv
        Spread of the day factor all machines share.
    hourly_cv
        Spread of one hour's rate about the day's.
    believed
        A rate this many times the plan's, or one over it, is the most that is believed.

    Raises
    ------
    OutOfRange
        A machine that is none of the plan's, or figures that cannot be.
    """
    check_positive("spread of one hour's rate", hourly_cv)
    check_within("most believed", believed, 1.0, math.inf)
    precision, weighted = list(known.precision), list(known.weighted)
    for one in stretches:
        if not 0 <= one.machine < len(expected):
            raise OutOfRange("machine", one.machine, 0, len(expected) - 1)
        plan = expected[one.machine]
        most = math.log(believed)
        ratio = math.log(one.area_m2 / one.took_s / plan.rate_m2_per_s)
        above = min(max(ratio, -most), most) + 0.5 * (_var(plan.own_cv) + _var(shared_cv))
        sure = one.took_s / HOUR_S / hourly_cv**2
        precision[one.machine] += sure
        weighted[one.machine] += sure * above
    return Learned(precision=tuple(precision), weighted=tuple(weighted))


def paces(known: Learned, expected: Sequence[Expected], *, shared_cv: float) -> Paces:
    """Return every machine's pace by all that is known.

    Parameters
    ----------
    known
        From ``seen``; ``nothing_seen`` gives the plan back.
    expected
        The plan's machines.
    shared_cv
        Spread of the day factor all machines share.

    Notes
    -----
    The log rate of machine i over its planned middle is ``s + m_i``: the day's ``s`` with
    variance S, the machine's own ``m_i`` with variance T_i, all normal. A stretch of t hours
    shows ``s + m_i`` with variance ``hourly_cv ** 2 / t``; all stretches of a machine together
    show ``y_i`` with variance V_i. Then, in closed form::

        1 / D = 1 / S + sum(1 / (T_i + V_i))        D: variance left in the day
        d     = D * sum(y_i / (T_i + V_i))          d: the day
        w_i   = T_i / (T_i + V_i)
        log rate_i = d + w_i (y_i - d)              with variance (1 - w_i) ** 2 D + w_i V_i

    A machine not heard of has w_i = 0 and follows the day. Means of rates are kept: with nothing
    seen the rate is the planned one.

    Source
    ------
    The conditional of a multivariate normal, solved by hand for this covariance; derived here.
    tests/core/test_pace.py compares with the general formula in matrices.
    """
    shared = _var(shared_cv)
    day_precision = 1.0 / shared if shared > 0.0 else math.inf
    day_sum = 0.0
    for plan, sure, total in zip(expected, known.precision, known.weighted, strict=True):
        if sure > 0.0:
            day_precision += 1.0 / (_var(plan.own_cv) + 1.0 / sure)
            day_sum += total / sure / (_var(plan.own_cv) + 1.0 / sure)
    day_var = 0.0 if math.isinf(day_precision) else 1.0 / day_precision
    day = day_var * day_sum
    return Paces(
        machines=tuple(
            _pace(plan, sure, total, day, day_var, shared)
            for plan, sure, total in zip(expected, known.precision, known.weighted, strict=True)
        ),
        day_factor=math.exp(day + 0.5 * (day_var - shared)),
        day_sd=math.sqrt(day_var),
    )


def _pace(
    plan: Expected, sure: float, total: float, day: float, day_var: float, shared: float
) -> Pace:
    own = _var(plan.own_cv)
    noise = 1.0 / sure if sure > 0.0 else math.inf
    weight = own / (own + noise) if sure > 0.0 else 0.0
    shown = total / sure if sure > 0.0 else day
    middle = day + weight * (shown - day)
    own_var = weight * noise if weight > 0.0 else own
    shared_var = (1.0 - weight) ** 2 * day_var
    # The planned rate is a mean; its middle lies lower by half the variance of the prior.
    left = middle + 0.5 * (own_var + shared_var) - 0.5 * (own + shared)
    prior = own + shared
    return Pace(
        planned_m2_per_s=plan.rate_m2_per_s,
        rate_m2_per_s=plan.rate_m2_per_s * math.exp(left),
        weight_fraction=1.0 - (own_var + shared_var) / prior if prior > 0.0 else 0.0,
        own_sd=math.sqrt(own_var),
        shared_sd=math.sqrt(shared_var),
    )


def learned(
    expected: Sequence[Expected],
    stretches: Iterable[Seen],
    *,
    shared_cv: float,
    hourly_cv: float,
    believed: float,
) -> Paces:
    """Return every machine's pace by the plan and all stretches at once.

    Raises
    ------
    OutOfRange
        A machine that is none of the plan's, or figures that cannot be.
    """
    known = seen(
        nothing_seen(len(expected)),
        expected,
        stretches,
        shared_cv=shared_cv,
        hourly_cv=hourly_cv,
        believed=believed,
    )
    return paces(known, expected, shared_cv=shared_cv)


def _var(cv: float) -> float:
    """Return the variance of the log of a lognormal with that CV."""
    return math.log1p(cv * cv)
