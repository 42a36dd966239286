"""What a crew can do in a day of given hours, and how that strays from season to season.

The day balance in one line, for whole arrays of days: spread no more than is covered by the
close. Draws are keyed by what they are for, so that two plans meet the same luck.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from duskline.core.checks import check_positive, check_share, check_within
from duskline.core.errors import OutOfRange

if TYPE_CHECKING:
    from datetime import date

    from duskline.core.season import SeasonField
    from duskline.core.season_weather import SeasonWeathers

__all__ = [
    "CrewRates",
    "DayBudgets",
    "DayUncertainty",
    "balanced_area_m2",
    "draw_day_areas",
    "draw_ready_days",
    "lost_m2_per_s",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

DAY_S = 86400.0
MOST_STOPS_A_DAY = 100.0
# Purposes start well above those of the weather's draws: a key that ends in nought is the same
# key without it, so the two must not share numbers.
_SEASON, _SHARED, _SPREAD, _COVER, _GAP, _REPAIR, _READY_ALL, _READY_OWN = range(100, 108)


@dataclass(frozen=True, kw_only=True, slots=True)
class CrewRates:
    """How fast a crew spreads and covers, all its machines together.

    Attributes
    ----------
    spread_m2_per_s
        Spreading, with turns and loading in it. [m2/s]
    cover_m2_per_s
        Covering by machines with drivers of their own. [m2/s]
    takeover_m2_per_s
        Covering by machines that the spreaders' drivers take after the stop. [m2/s]
    lead_s
        Covering follows the spreader by at least this much. [s]
    changeover_s
        From the last seed to the first metre covered by the machines taken over. [s]
    """

    spread_m2_per_s: float
    cover_m2_per_s: float
    takeover_m2_per_s: float = 0.0
    lead_s: float = 0.0
    changeover_s: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a crew that cannot spread, or that cannot cover."""
        check_positive("spreading rate", self.spread_m2_per_s)
        for name, value in (
            ("covering rate", self.cover_m2_per_s),
            ("covering rate of machines taken over", self.takeover_m2_per_s),
            ("lead", self.lead_s),
            ("changeover", self.changeover_s),
        ):
            check_within(name, value, 0.0, math.inf)
        check_positive("covering rate in all", self.cover_m2_per_s + self.takeover_m2_per_s)


@dataclass(frozen=True, slots=True)
class _Balance:
    """The stop that each limit alone would set, elapsed on the day's clock. [s]"""

    spread: FloatArray
    cover: FloatArray
    takeover: FloatArray
    opens_s: FloatArray
    window_s: FloatArray  # the windows' own end
    alone_s: FloatArray  # covered without the machines taken over
    whole_s: FloatArray  # the machines taken over lose nothing
    shared_s: FloatArray  # they begin a changeover after the stop

    @property
    def balance_s(self) -> FloatArray:
        return np.maximum(self.alone_s, np.minimum(self.whole_s, self.shared_s))


def _balance(
    rates: CrewRates,
    spread_opens_s: ArrayLike,
    spread_closes_s: ArrayLike,
    cover_opens_s: ArrayLike,
    cover_closes_s: ArrayLike,
    spread_pace: ArrayLike,
    cover_pace: ArrayLike,
) -> _Balance:
    opens, closes, first, last, fast, deep = np.broadcast_arrays(
        *(
            np.asarray(one, dtype=np.float64)
            for one in (
                *(spread_opens_s, spread_closes_s, cover_opens_s, cover_closes_s),
                *(spread_pace, cover_pace),
            )
        )
    )
    spread = rates.spread_m2_per_s * fast
    cover = rates.cover_m2_per_s * deep
    takeover = rates.takeover_m2_per_s * deep
    first = np.maximum(first, opens + rates.lead_s)
    covering_s = np.maximum(last - first, 0.0)
    alone_m2 = cover * covering_s
    return _Balance(
        spread=spread,
        cover=cover,
        takeover=takeover,
        opens_s=opens,
        window_s=np.minimum(closes, last - rates.lead_s),
        alone_s=opens + alone_m2 / spread,
        whole_s=opens + (alone_m2 + takeover * covering_s) / spread,
        shared_s=(alone_m2 + takeover * (last - rates.changeover_s) + spread * opens)
        / (spread + takeover),
    )


def balanced_area_m2(
    rates: CrewRates,
    *,
    spread_opens_s: ArrayLike,
    spread_closes_s: ArrayLike,
    cover_opens_s: ArrayLike,
    cover_closes_s: ArrayLike,
    spread_pace: ArrayLike = 1.0,
    cover_pace: ArrayLike = 1.0,
) -> FloatArray:
    """Return the largest area that can be spread and covered in a day. [m2]

    Parameters
    ----------
    rates
        Of the crew.
    spread_opens_s, spread_closes_s, cover_opens_s, cover_closes_s
        One stretch for each work; any shapes that go together. [s]
    spread_pace, cover_pace
        The day's rates over the usual ones, above 0.

    Notes
    -----
    Spreading stops at x; covering begins at b, the later of its opening and spreading's opening
    plus the lead, and ends at e::

        S (x - spread opens) = C1 (e - b) + C2 max(0, e - max(b, x + changeover))

    The right side never rises with x, so there is one such x, the middle one of three straight
    cases. It is cut to the spreading window and to a lead before e: a crew close behind the
    spreader cannot cover what is not there yet.

    Source
    ------
    Derived here; equals ``core.day.average_day`` on days of one stretch
    (tests/core/test_season_days.py).
    """
    day = _balance(
        *(rates, spread_opens_s, spread_closes_s, cover_opens_s, cover_closes_s),
        *(spread_pace, cover_pace),
    )
    stop_s = np.minimum(day.balance_s, day.window_s)
    return np.asarray(day.spread * np.maximum(stop_s - day.opens_s, 0.0))


def lost_m2_per_s(
    rates: CrewRates,
    *,
    spread_opens_s: ArrayLike,
    spread_closes_s: ArrayLike,
    cover_opens_s: ArrayLike,
    cover_closes_s: ArrayLike,
    spread_pace: ArrayLike = 1.0,
    cover_pace: ArrayLike = 1.0,
) -> FloatArray:
    """Return the area lost for each second by which the day is shorter for everybody. [m2/s]

    Parameters as in ``balanced_area_m2``. Always above 0: on a day without any area it is the
    usual figure of a day that covering limits.

    Notes
    -----
    The fall of ``balanced_area_m2`` as all windows lose their last second: S where the window
    limits, C1 where the machines taken over have no time left, C1 + C2 where they lose none to
    the changeover, and else S (C1 + C2) / (S + C2).

    Source
    ------
    Derived here; checked by differences in tests/core/test_season_days.py.
    """
    day = _balance(
        *(rates, spread_opens_s, spread_closes_s, cover_opens_s, cover_closes_s),
        *(spread_pace, cover_pace),
    )
    both = day.cover + day.takeover
    usual = day.spread * both / (day.spread + day.takeover)
    by_window = day.balance_s >= day.window_s
    alone = day.alone_s >= np.minimum(day.whole_s, day.shared_s)
    whole = day.whole_s <= day.shared_s
    lost = np.select([by_window, alone, whole], [day.spread, day.cover, both], usual)
    nothing = np.minimum(day.balance_s, day.window_s) <= day.opens_s
    return np.where(nothing | (lost <= 0.0), usual, lost)


# ------------------------------------------------------------------------- many seasons' days


@dataclass(frozen=True, kw_only=True, slots=True)
class DayUncertainty:
    """How far a real season's days stray from the crews' rates.

    Attributes
    ----------
    season_rate_cv
        The farm's rates as a whole over a season: one factor for all days and crews.
    shared_rate_cv
        One factor a day for all machines of all crews (ground, weather).
    spread_rate_cv, cover_rate_cv
        A crew's spreading and its covering, each day apart.
    breakdown_per_s, repair_mean_s
        Stops of a crew's covering by time open for covering, and their mean length. Where one
        machine of several stands, its share of the crew's rate belongs in the length.
        [1/s], [s]
    """

    season_rate_cv: float
    shared_rate_cv: float
    spread_rate_cv: float
    cover_rate_cv: float
    breakdown_per_s: float
    repair_mean_s: float

    def __post_init__(self) -> None:
        """Refuse figures below zero, and more stops in a day than can be."""
        for name in ("season_rate_cv", "shared_rate_cv", "spread_rate_cv", "cover_rate_cv"):
            check_within(name, getattr(self, name), 0.0, 10.0)
        check_within("breakdowns a second", self.breakdown_per_s, 0.0, MOST_STOPS_A_DAY / DAY_S)
        check_within("mean repair", self.repair_mean_s, 0.0, math.inf)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class DayBudgets:
    """What each crew can do on each day of each season; arrays (count, days, crews), read-only.

    Attributes
    ----------
    days
        The dates of the second axis.
    area_m2
        Sown and covered in one field without a move. [m2]
    lost_m2_per_s
        Area lost for each second spent otherwise; always above 0. [m2/s]
    budget_s
        The day's worth of working time, area over loss. [s]
    """

    days: tuple[date, ...]
    area_m2: FloatArray
    lost_m2_per_s: FloatArray
    budget_s: FloatArray

    def __post_init__(self) -> None:
        """Lock the arrays; refuse shapes that do not go together."""
        for name in ("area_m2", "lost_m2_per_s", "budget_s"):
            array = getattr(self, name)
            if array.ndim != 3 or array.shape != self.area_m2.shape:
                raise OutOfRange(f"axes of {name}", array.ndim, 3, 3)
            array.setflags(write=False)
        check_within("dates", len(self.days), self.area_m2.shape[1], self.area_m2.shape[1])

    @property
    def count(self) -> int:
        """How many seasons there are."""
        return len(self.area_m2)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Draws:
    """Random figures by what they are for: a key moves no other key's draw. (count,)"""

    seed: int
    count: int

    def normal(self, *key: int) -> FloatArray:
        return np.random.default_rng([self.seed, *key]).standard_normal(self.count)

    def exponential(self, *key: int) -> FloatArray:
        return np.random.default_rng([self.seed, *key]).standard_exponential(self.count)

    def pace(self, cv: float, *key: int) -> FloatArray:
        """Factors of mean 1."""
        if cv == 0.0:
            return np.ones(self.count)
        sigma2 = math.log1p(cv * cv)
        return np.asarray(np.exp(math.sqrt(sigma2) * self.normal(*key) - 0.5 * sigma2))


def draw_day_areas(
    rates: Sequence[CrewRates],
    weathers: SeasonWeathers,
    *,
    dared_fraction: ArrayLike,
    uncertainty: DayUncertainty,
    seed: int,
    off: BoolArray | None = None,
) -> DayBudgets:
    """Return what each crew can do on each day of each season.

    Parameters
    ----------
    rates
        One for each crew, in the crews' order.
    weathers
        Seasons of weather.
    dared_fraction
        The share of the balanced area that a crew dares to spread so that the wanted chance of
        covering holds; one for all crews or one for each.
    uncertainty, seed
        How days stray, and which draws.
    off : (days, crews)
        The crew does not work that day; None: always there.

    Raises
    ------
    OutOfRange
        No crew, a share outside 0 to 1, a negative seed or ``off`` of another shape.

    Notes
    -----
    Each draw is keyed by seed, purpose, date and place of the crew in the list: other rates, a
    crew more at the end, more seasons or a day more leave all other draws as they were. The
    season's and the day's factor are shared by all crews. Each work's window begins at its
    opening and lasts its drawn time (a windy gap counts as if at the window's end); on days from
    climate, which know no clock, both works close together. Breakdowns come at their rate over
    the time open for covering and take their time off its end.
    """
    check_within("crews", len(rates), 1, 1_000)
    check_within("seed", seed, 0, 2**63)
    dared = np.broadcast_to(np.asarray(dared_fraction, dtype=np.float64), (len(rates),))
    for share in dared:
        check_share("share of the area dared", float(share))
    shape = (*weathers.cover_s.shape, len(rates))
    away = np.zeros(shape[1:], dtype=np.bool_) if off is None else np.asarray(off, dtype=np.bool_)
    if away.shape != shape[1:]:
        raise OutOfRange("days and crews off", away.size, shape[1] * shape[2], shape[1] * shape[2])
    draws = _Draws(seed=seed, count=weathers.count)
    # Where the clock is not known, the close is nought and each work opens its time before it.
    spread_opens_s = np.where(
        np.isnan(weathers.spread_opens_s), -weathers.spread_s, weathers.spread_opens_s
    )
    cover_opens_s = np.where(
        np.isnan(weathers.cover_opens_s), -weathers.cover_s, weathers.cover_opens_s
    )
    season = draws.pace(uncertainty.season_rate_cv, _SEASON)
    area, lost = np.zeros(shape), np.empty(shape)
    for at, on in enumerate(weathers.days):
        ordinal = on.toordinal()
        shared = season * draws.pace(uncertainty.shared_rate_cv, _SHARED, ordinal)
        cover_s = weathers.cover_s[:, at]
        for crew, one in enumerate(rates):
            key = (ordinal, crew)
            stands_s = _standing_s(draws, uncertainty, cover_s, key)
            spread_pace = shared * draws.pace(uncertainty.spread_rate_cv, _SPREAD, *key)
            cover_pace = shared * draws.pace(uncertainty.cover_rate_cv, _COVER, *key)
            times = {
                "spread_opens_s": spread_opens_s[:, at],
                "spread_closes_s": spread_opens_s[:, at] + weathers.spread_s[:, at],
                "cover_opens_s": cover_opens_s[:, at],
                "cover_closes_s": cover_opens_s[:, at] + np.maximum(cover_s - stands_s, 0.0),
                "spread_pace": spread_pace,
                "cover_pace": cover_pace,
            }
            works = (cover_s > 0.0) & (weathers.spread_s[:, at] > 0.0) & ~away[at, crew]
            area[:, at, crew] = np.where(works, dared[crew] * balanced_area_m2(one, **times), 0.0)
            lost[:, at, crew] = dared[crew] * lost_m2_per_s(one, **times)
    return DayBudgets(days=weathers.days, area_m2=area, lost_m2_per_s=lost, budget_s=area / lost)


def _standing_s(
    draws: _Draws, uncertainty: DayUncertainty, open_s: FloatArray, key: tuple[int, int]
) -> FloatArray:
    """Return how long a crew's covering stands in each season's day. (count,) [s]"""
    stands_s = np.zeros(draws.count)
    per_s = uncertainty.breakdown_per_s
    if per_s == 0.0 or uncertainty.repair_mean_s == 0.0:
        return stands_s
    breaks_at_s, nth = np.zeros(draws.count), 0
    while True:
        breaks_at_s += draws.exponential(_GAP, *key, nth) / per_s
        breaks = breaks_at_s < open_s
        if not breaks.any():
            return stands_s
        repair_s = uncertainty.repair_mean_s * draws.exponential(_REPAIR, *key, nth)
        stands_s += np.where(breaks, repair_s, 0.0)
        nth += 1


def draw_ready_days(
    fields: Sequence[SeasonField], *, count: int, seed: int, link: float
) -> IntArray:
    """Return the day on which each field comes ready in each season. (count, fields)

    Parameters
    ----------
    fields
        With their early, likely and late day.
    count, seed
        How many seasons, and which.
    link
        How much one late harvest makes all fields late: the correlation of any two fields'
        draws, 0 to 1.

    Raises
    ------
    OutOfRange
        No season, a negative seed or a link outside 0 to 1.

    Notes
    -----
    Each field's day is triangular between early and late with its peak at likely, rounded to
    whole days. The fields' throws are standard normal with one part in common. A throw is keyed
    by the field's name, so a field more or less moves no other.
    """
    from scipy.special import ndtr

    check_within("seasons", count, 1, 1_000_000)
    check_within("seed", seed, 0, 2**63)
    check_within("link between harvests", link, 0.0, 1.0)
    draws = _Draws(seed=seed, count=count)
    common = math.sqrt(link) * draws.normal(_READY_ALL)
    days = np.empty((count, len(fields)), dtype=np.int64)
    for at, one in enumerate(fields):
        name = int.from_bytes(one.name.encode(), "little")
        own = draws.normal(_READY_OWN, name)
        share = ndtr(common + math.sqrt(1.0 - link) * own)
        ready = one.ready
        days[:, at] = np.rint(
            _triangular(share, ready.early_day, ready.likely_day, ready.late_day)
        ).astype(np.int64)
    return days


def _triangular(share: FloatArray, low: float, peak: float, high: float) -> FloatArray:
    """Return what a share of cases lies below in a triangle between low and high."""
    if high == low:
        return np.full(share.shape, low)
    width, rise = high - low, (peak - low) / (high - low)
    below = low + np.sqrt(share * width * (peak - low))
    above = high - np.sqrt((1.0 - share) * width * (high - peak))
    return np.where(share < rise, below, above)
