"""A season told in plain loops, written apart from the tool: weather, days of work and crews.

``Truth`` draws a season by the same figures a farm states; ``work_season`` walks the crews
through it. Nothing here knows the tool's arrays: a day's area comes from a search for
the stop time with every move taken off the day, not from a budget. ``Mistake`` leaves something
out on purpose, for tests that must then fail.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from enum import Enum, auto
from statistics import NormalDist

NORMAL = NormalDist()
HOUR_S = 3600.0
Three = tuple[float, float, float]


class Mistake(Enum):
    """What a wrong season leaves out."""

    NONE = auto()
    NO_RUNS = auto()
    NO_BREAKDOWNS = auto()
    NO_SHARED_LUCK = auto()


@dataclass(frozen=True, kw_only=True)
class PlainCrew:
    """Rates in m2/s, times in s."""

    name: str
    spread: float
    cover: float
    takeover: float
    lead_s: float
    changeover_s: float
    fold_s: float = 0.0
    visit_s: float = 0.0
    clean_s: float = 0.0
    road_mps: float = math.inf
    start_m: tuple[float, float] | None = None
    lot_pace: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class PlainField:
    """Area in m2; days by number."""

    name: str
    area: float
    place_m: tuple[float, float]
    ready: tuple[int, int, int] = (0, 0, 0)
    due: int | None = None
    whole: bool = False
    least: float = 0.0
    dry: bool = False
    lot: str = ""
    after_s: float = 0.0
    kg: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Window:
    """One day's times for both works: openings and lengths. [s]"""

    spread_opens: float
    spread_s: float
    cover_opens: float
    cover_s: float


@dataclass(frozen=True, kw_only=True)
class Truth:
    """All that a season is drawn from.

    ``near`` are first days known for sure; later days are fit by a coin with memory, the season's
    own share of fit days being drawn once.
    """

    days: int
    near: tuple[Window, ...]
    fit_share: Three
    run_days: float
    spread_h: Three
    cover_h: Three
    season_cv: float
    shared_cv: float
    spread_cv: float
    cover_cv: float
    breaks_per_h: float
    repair_h: float
    dared: float
    link: float
    road_factor: float


def between(share: float, three: Three) -> float:
    """The figure that a share of cases lies below: one in ten under the low, half the middle."""
    low, middle, high = three
    slope = (middle - low) / 0.4 if share < 0.5 else (high - middle) / 0.4
    return max(0.0, middle + slope * (share - 0.5))


def luck(random_: random.Random, cv: float) -> float:
    """A factor above nought with mean 1 and this spread."""
    sigma = math.sqrt(math.log(1.0 + cv * cv))
    return random_.lognormvariate(-0.5 * sigma * sigma, sigma)


def day_area(crew: PlainCrew, window: Window, spread: float, cover: float, short_s: float) -> float:
    """Most that can be spread and covered when ``short_s`` of the day goes on moves. [m2]

    ``spread`` and ``cover`` are the day's luck. The stop is closed in on
    from both sides, to a square metre to spare.
    """
    closes = window.cover_opens + window.cover_s - short_s
    spread_closes = window.spread_opens + window.spread_s - short_s
    begins = max(window.cover_opens, window.spread_opens + crew.lead_s)

    def spare(stop: float) -> float:
        joins = max(begins, stop + crew.changeover_s)
        done = crew.cover * cover * max(0.0, closes - begins)
        done += crew.takeover * cover * max(0.0, closes - joins)
        return done - crew.spread * spread * (stop - window.spread_opens)

    low, high = window.spread_opens, min(spread_closes, closes - crew.lead_s)
    if high <= low or spare(low) <= 0.0:
        return 0.0
    over, under = spare(low), spare(high)
    stop, left = (high, 0.0) if under >= 0.0 else (low, over)
    while abs(left) > 1.0:
        stop = low + (high - low) * over / (over - under)
        left = spare(stop)
        if left > 0.0:
            low, over = stop, left
        else:
            high, under = stop, left
    return crew.spread * spread * (stop - window.spread_opens)


@dataclass(kw_only=True)
class CrewDay:
    """One crew's day: the most area when so much time went on moves, and what is used so far."""

    most: Callable[[float], float]
    hour_m2: float
    moved_s: float = 0.0
    done_m2: float = 0.0
    known: dict[float, float] = field(default_factory=dict)

    @property
    def clock_s(self) -> float:
        """Working time gone."""
        return self.moved_s + self.done_m2 / self.hour_m2 * HOUR_S

    def room(self, more_s: float) -> float:
        """Area that still fits after so much more time on moves. [m2]"""
        moved_s = self.moved_s + more_s
        if moved_s not in self.known:
            self.known[moved_s] = self.most(moved_s)
        return self.known[moved_s] - self.done_m2


def ready_days(random_: random.Random, fields: Sequence[PlainField], link: float) -> dict[str, int]:
    """Each field's ready day; one late harvest makes all late."""
    common = random_.gauss(0.0, 1.0)
    days = {}
    for one in fields:
        early, likely, late = one.ready
        own = random_.gauss(0.0, 1.0)
        if early == late:
            days[one.name] = early
            continue
        share = NORMAL.cdf(math.sqrt(link) * common + math.sqrt(1.0 - link) * own)
        low, high = float(early), float(late)
        for _ in range(40):
            middle = 0.5 * (low + high)
            if middle < likely:
                below = (middle - early) ** 2 / ((late - early) * (likely - early))
            elif late > likely:
                below = 1.0 - (late - middle) ** 2 / ((late - early) * (late - likely))
            else:
                below = 1.0
            low, high = (middle, high) if below < share else (low, middle)
        days[one.name] = round(low)
    return days


def draw_windows(
    random_: random.Random, truth: Truth, mistake: Mistake
) -> tuple[list[Window | None], list[bool]]:
    """Each day's window, None where it is unfit, and whether bottoms are wet."""
    windows: list[Window | None] = list(truth.near)
    wet = [False] * len(windows)
    share = between(random_.random(), truth.fit_share)
    fit: bool | None = True if windows else None
    odds = share / (1.0 - share)
    run = max(truth.run_days, odds)
    for _ in range(len(windows), truth.days):
        before = fit
        if before is None or mistake is Mistake.NO_RUNS:
            chance = share
        else:
            chance = 1.0 - 1.0 / run if before else odds / run
        fit = random_.random() < chance
        length = random_.random()
        spread_s = HOUR_S * between(length, truth.spread_h)
        cover_s = HOUR_S * between(length, truth.cover_h)
        wet.append(not fit or before is False)
        windows.append(
            Window(spread_opens=-spread_s, spread_s=spread_s, cover_opens=-cover_s, cover_s=cover_s)
            if fit
            else None
        )
    return windows, wet


def crew_days(
    random_: random.Random,
    truth: Truth,
    crews: Sequence[PlainCrew],
    windows: Sequence[Window | None],
    mistake: Mistake,
) -> list[dict[str, CrewDay]]:
    """Each day's crews with what they can do."""
    together = mistake is not Mistake.NO_SHARED_LUCK
    season = luck(random_, truth.season_cv) if together else 1.0
    days: list[dict[str, CrewDay]] = []
    for window in windows:
        today: dict[str, CrewDay] = {}
        day = luck(random_, truth.shared_cv) if together else 1.0
        for crew in crews:
            spread = season * day * luck(random_, truth.spread_cv)
            cover = season * day * luck(random_, truth.cover_cv)
            if window is None:
                continue
            stands_s, clock_s = 0.0, 0.0
            while mistake is not Mistake.NO_BREAKDOWNS and truth.breaks_per_h > 0.0:
                clock_s += random_.expovariate(truth.breaks_per_h / HOUR_S)
                if clock_s >= window.cover_s:
                    break
                stands_s += random_.expovariate(1.0 / (truth.repair_h * HOUR_S))
            left = Window(
                spread_opens=window.spread_opens,
                spread_s=window.spread_s,
                cover_opens=window.cover_opens,
                cover_s=max(0.0, window.cover_s - stands_s),
            )

            def most(
                moved_s: float,
                crew: PlainCrew = crew,
                left: Window = left,
                spread: float = spread,
                cover: float = cover,
            ) -> float:
                return truth.dared * day_area(crew, left, spread, cover, moved_s)

            both = crew.cover + crew.takeover
            hour = HOUR_S * truth.dared * crew.spread * both / (crew.spread + crew.takeover)
            today[crew.name] = CrewDay(most=most, hour_m2=hour * season * day)
        days.append(today)
    return days


@dataclass(kw_only=True)
class Told:
    """What became of a season: the day each field is done, what is done by each evening."""

    finish: dict[str, int]
    done_m2: list[float]
    visits: int = 0
    cleaned: int = 0
    road_m: float = 0.0
    went_out: int = 0


@dataclass
class Stop:
    """What is left of one stop of a crew's list. [m2]"""

    field: str
    area: float


@dataclass(frozen=True)
class Offer:
    """A stop that could be begun: time till work, of it waiting, road and area."""

    wait_s: float
    away_s: float
    way_m: float
    area: float


def work_season(
    fields: Sequence[PlainField],
    crews: Sequence[PlainCrew],
    lists: dict[str, list[tuple[str, float]]],
    days: Sequence[dict[str, CrewDay]],
    wet: Sequence[bool],
    ready: dict[str, int],
    *,
    help_out: bool,
    road_factor: float = 1.0,
    stock_kg: dict[str, float] | None = None,
) -> Told:
    """Walk the crews through a season by the policy, stop by stop.

    ``lists`` holds each crew's (field, area) in order; what they leave of a field comes last.
    """
    by_name = {one.name: one for one in fields}
    stock = dict(stock_kg or {})
    waiting = {
        crew.name: [Stop(name, area) for name, area in lists.get(crew.name, [])] for crew in crews
    }
    rest = {one.name: one.area for one in fields}
    for stops in lists.values():
        for name, area in stops:
            rest[name] -= area
    nobodys = [
        Stop(one.name, rest[one.name])
        for one in sorted(fields, key=lambda f: math.inf if f.due is None else f.due)
        if rest[one.name] > 1e-7 * one.area
    ]
    owing = {one.name: one.area for one in fields}
    told = Told(finish={}, done_m2=[])
    total = 0.0

    def offer(
        stop: Stop, crew: PlainCrew, mine: CrewDay, here: str | None, number: int
    ) -> Offer | None:
        one = by_name[stop.field]
        if stop.area <= 0.0 or number < ready[one.name] or (one.dry and wet[number]):
            return None
        way_s, way_m = 0.0, 0.0
        if here is None and crew.start_m is not None:
            way_m = road_factor * math.dist(crew.start_m, one.place_m)
            way_s = way_m / crew.road_mps
        elif here is not None and here != one.name:
            way_m = road_factor * math.dist(by_name[here].place_m, one.place_m)
            way_s = crew.fold_s + way_m / crew.road_mps
            way_s += crew.clean_s if by_name[here].lot != one.lot else 0.0
        wait_s = 0.0
        if number == ready[one.name]:
            wait_s = max(0.0, one.after_s - mine.clock_s - way_s)
        away_s = way_s + wait_s + (crew.visit_s if here != one.name else 0.0)
        area = mine.room(away_s) / crew.lot_pace.get(one.lot, 1.0)
        if one.kg > 0.0 and one.lot in stock:
            area = min(area, stock[one.lot] / one.kg)
        too_little = 0.0 if here == one.name else min(stop.area, one.least)
        if area >= stop.area * (1.0 - 1e-9):
            area = stop.area
        elif one.whole or area < too_little or area <= 1e-7 * one.area:
            return None
        return Offer(wait_s, away_s, way_m, area)

    def choose(
        heap: Sequence[Stop], crew: PlainCrew, mine: CrewDay, here: str | None, number: int
    ) -> tuple[Stop, Offer] | None:
        later: list[tuple[float, int]] = []
        offers: list[Offer | None] = []
        for place, stop in enumerate(heap):
            found = offer(stop, crew, mine, here, number)
            offers.append(found)
            if found is not None and found.wait_s <= 0.0:
                return stop, found
            if found is not None:
                later.append((by_name[stop.field].after_s, place))
        if not later:
            return None
        place = min(later)[1]
        soonest = offers[place]
        assert soonest is not None
        return heap[place], soonest

    def heaps(crew: PlainCrew) -> Iterator[Sequence[Stop]]:
        yield waiting[crew.name]
        if help_out:
            others = [waiting[one.name][::-1] for one in crews if one is not crew]
            yield from sorted(others, key=lambda heap: -sum(stop.area for stop in heap))
        yield nobodys

    for number, today in enumerate(days):
        at: dict[str, str | None] = {crew.name: None for crew in crews}
        busy = [crew for crew in crews if crew.name in today and today[crew.name].most(0.0) > 0.0]
        while busy:
            crew = min(busy, key=lambda one: today[one.name].clock_s)
            mine, here = today[crew.name], at[crew.name]
            chosen = None
            if mine.room(0.0) > 0.0:
                for heap in heaps(crew):
                    chosen = choose(heap, crew, mine, here, number)
                    if chosen is not None:
                        break
            if chosen is None:
                busy.remove(crew)
                continue
            stop, found = chosen
            one = by_name[stop.field]
            told.road_m += found.way_m
            told.went_out += here is None
            told.visits += here != one.name
            told.cleaned += here is not None and by_name[here].lot != one.lot
            mine.moved_s += found.away_s
            mine.done_m2 += found.area * crew.lot_pace.get(one.lot, 1.0)
            at[crew.name] = one.name
            stop.area -= found.area
            if stop.area <= 1e-7 * one.area:
                stop.area = 0.0
            if one.lot in stock:
                stock[one.lot] = max(0.0, stock[one.lot] - found.area * one.kg)
            owing[one.name] -= found.area
            total += found.area
            if owing[one.name] <= 1e-6 * one.area:
                told.finish.setdefault(one.name, number)
        told.done_m2.append(total)
    return told


def plain_season(
    seed: int,
    truth: Truth,
    fields: Sequence[PlainField],
    crews: Sequence[PlainCrew],
    lists: dict[str, list[tuple[str, float]]],
    *,
    help_out: bool,
    mistake: Mistake = Mistake.NONE,
) -> Told:
    """Draw and work one season."""
    random_ = random.Random(seed)  # noqa: S311 - draws of a test, not secrets
    windows, wet = draw_windows(random_, truth, mistake)
    days = crew_days(random_, truth, crews, windows, mistake)
    ready = ready_days(random_, fields, truth.link)
    return work_season(
        fields, crews, lists, days, wet, ready, help_out=help_out, road_factor=truth.road_factor
    )
