"""How wide may we drive? The tray test's answer: evenness by driving width, both ways of driving.

The widest width that holds the limit, the islands beyond it, what a narrower one costs, how the
pattern leans, and how much of the unevenness is the chance of single seeds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from duskline.answers.working import Figure, Step
from duskline.core.errors import OutOfRange
from duskline.core.trays import (
    Evenness,
    Fold,
    Skew,
    TrayPattern,
    TrayTest,
    Way,
    WidthInterval,
    acceptable_widths,
    centred,
    counting_floor_fraction,
    evenness,
    fold,
    good_interval,
    half_of_centre_width_m,
    half_of_maximum_m,
    mean_pattern,
    passes_for_floor_count,
    run_patterns,
    run_spread_fraction,
    sample_cv_fraction,
    skew,
    spreading_rate_m2_per_s,
    throw_m,
    whole_widths_m,
    without_counting_noise_fraction,
)

__all__ = [
    "CONVENTION",
    "AskedWidth",
    "CentredRow",
    "MixedWidth",
    "NoiseRow",
    "RunRow",
    "SpreadingWork",
    "TrayAnswer",
    "Verdict",
    "WayWidths",
    "WidthCost",
    "WidthRow",
    "answer_trays",
    "mixed_lots",
]

CONVENTION = (
    "Evenness is population standard deviation over mean of the dose at the tray points of one "
    "repeat: two driving widths back and forth, one round and round; widths are tried in whole "
    "tray spacings. Other widths are read on straight lines between trays, exactly and not on a "
    "grid, plus in proportion what straight lines miss at the whole spacings on either side; "
    "they are marked interpolated."
)

Verdict = Literal["good", "usable", "island", "too uneven"]


@dataclass(frozen=True, kw_only=True, slots=True)
class WidthRow:
    """Evenness at one driving width; the names are those of the JSON answer.

    Attributes
    ----------
    driving_width_m
        Distance between passes. [m]
    cv_back_and_forth, cv_round
        Evenness by population SD over mean. [fraction]
    interpolated
        Read between trays.
    """

    driving_width_m: float
    cv_back_and_forth: float
    cv_round: float
    interpolated: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class WayWidths:
    """The widths that hold the limits for one way of driving.

    Attributes
    ----------
    way
        Way of driving.
    good_interval, usable_interval
        The first interval that reaches the narrowest sensible width; None when there is none.
    good, usable
        Every interval that holds the limit, rising.
    """

    way: Way
    good_interval: WidthInterval | None
    usable_interval: WidthInterval | None
    good: tuple[WidthInterval, ...]
    usable: tuple[WidthInterval, ...]

    @property
    def good_to_m(self) -> float | None:
        """Widest width that is good; None when none is [m]."""
        return None if self.good_interval is None else self.good_interval.widest_m

    @property
    def usable_to_m(self) -> float | None:
        """Widest width that is usable; None when none is [m]."""
        return None if self.usable_interval is None else self.usable_interval.widest_m

    @property
    def islands(self) -> tuple[WidthInterval, ...]:
        """Good intervals beyond the good one: a width between fails, so not to plan on."""
        top_m = self.good_to_m
        if top_m is None:
            return ()
        return tuple(each for each in self.good if each.narrowest_m > top_m)

    @property
    def is_broken_below(self) -> bool:
        """Whether some width narrower than the good interval fails."""
        chosen = self.good_interval
        return chosen is not None and any(each.widest_m < chosen.narrowest_m for each in self.good)


@dataclass(frozen=True, kw_only=True, slots=True)
class AskedWidth:
    """What the trays say to a width someone wants to drive.

    "good" and "usable" are at or below the width good or usable to; "island" holds the good
    limit but lies beyond a width that fails; all else is "too uneven".
    """

    driving_width_m: float
    back_and_forth: Verdict
    round_and_round: Verdict


@dataclass(frozen=True, kw_only=True, slots=True)
class SpreadingWork:
    """How the spreader works, for what a width costs.

    Attributes
    ----------
    speed_mps
        Speed while spreading. [m/s]
    efficiency_fraction
        Share of the time spent spreading, loading left out. [fraction]
    area_per_load_m2
        What one load does (load over rate); None leaves loading out. [m2]
    refill_s
        Time to refill. [s]
    """

    speed_mps: float
    efficiency_fraction: float
    area_per_load_m2: float | None = None
    refill_s: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class WidthCost:
    """What one driving width spreads in a time.

    Attributes
    ----------
    driving_width_m
        Distance between passes. [m]
    moving_rate_m2_per_s
        Before loading. [m2/s]
    rate_m2_per_s
        Loading included. [m2/s]
    share_fraction
        ``rate_m2_per_s`` over that of the reference width. [fraction]
    """

    driving_width_m: float
    moving_rate_m2_per_s: float
    rate_m2_per_s: float
    share_fraction: float


@dataclass(frozen=True, kw_only=True, slots=True)
class RunRow:
    """One run on its own: its total and the widths it alone would give."""

    run: int
    total: float
    good_to_back_and_forth_m: float | None
    good_to_round_m: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class CentredRow:
    """Evenness back and forth as driven and with the line moved to the middle of the pattern."""

    driving_width_m: float
    cv_now: float
    cv_centred: float


@dataclass(frozen=True, kw_only=True, slots=True)
class NoiseRow:
    """The part of the unevenness that is the chance of single seeds.

    Attributes
    ----------
    driving_width_m
        Distance between passes. [m]
    seeds_per_tray
        Mean seeds at a tray point, passes overlapped, all runs together.
    floor
        What chance alone would give. [fraction]
    cv_back_and_forth_less_chance, cv_round_less_chance
        Evenness with chance taken out. [fraction]
    passes_needed
        Runs over the same trays that bring the floor down to the wanted one; None if none is.
    """

    driving_width_m: float
    seeds_per_tray: float
    floor: float
    cv_back_and_forth_less_chance: float
    cv_round_less_chance: float
    passes_needed: int | None


@dataclass(frozen=True, kw_only=True, slots=True)
class TrayAnswer:
    """How wide may we drive, from one tray test.

    Attributes
    ----------
    name
        What was tested.
    widths
        Evenness at every width tried or asked, rising.
    good_to_back_and_forth_m, good_to_round_m
        Widest driving width that is good; None when none is. [m]
    usable_to_back_and_forth_m, usable_to_round_m
        Widest that is usable. [m]
    convention
        What the figures mean.
    back_and_forth, round_and_round
        All intervals that hold the limits, and the islands.
    asked
        Verdicts on the widths asked about.
    skew
        How the pattern leans.
    centring
        What moving the line by the lean would gain, at the widths tried.
    runs, run_spread_fraction
        Each run on its own; SD (n - 1) of their totals over the mean, None for one run.
    noise
        Empty unless the number of seeds is known.
    costs, cost_reference_m
        What each width spreads; the width the shares compare with. Empty without work.
    thinnest_fraction, heaviest_fraction
        Dose of the thinnest and heaviest tray point over the mean at the good width back and
        forth; None without one.
    notes
        Cautions in plain words, without figures.
    working
        How the answer was come by.
    """

    name: str
    widths: tuple[WidthRow, ...]
    good_to_back_and_forth_m: float | None
    good_to_round_m: float | None
    usable_to_back_and_forth_m: float | None
    usable_to_round_m: float | None
    convention: str
    back_and_forth: WayWidths
    round_and_round: WayWidths
    asked: tuple[AskedWidth, ...]
    skew: Skew
    centring: tuple[CentredRow, ...]
    runs: tuple[RunRow, ...]
    run_spread_fraction: float | None
    noise: tuple[NoiseRow, ...]
    costs: tuple[WidthCost, ...]
    cost_reference_m: float | None
    thinnest_fraction: float | None
    heaviest_fraction: float | None
    notes: tuple[str, ...]
    working: tuple[Step, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class MixedWidth:
    """The width for lots spread in one load.

    Attributes
    ----------
    driving_width_m
        The narrowest of the lots' widths. [m]
    ruled_by
        The lots that have it.
    one_trip
        What the mixture spreads at that width; share against the widest lot's width.
    each_alone
        What each lot would spread at its own width, by name.
    separate_trips_m2_per_s
        Area finished in a time if every lot were spread on a trip of its own. [m2/s]
    """

    driving_width_m: float
    ruled_by: tuple[str, ...]
    one_trip: WidthCost | None
    each_alone: tuple[tuple[str, WidthCost], ...]
    separate_trips_m2_per_s: float | None


def answer_trays(
    test: TrayTest,
    *,
    good_limit_fraction: float,
    usable_limit_fraction: float,
    narrowest_share_of_throw_fraction: float,
    edge_share_limit_fraction: float,
    limit_source: str,
    asked_widths_m: Sequence[float] = (),
    kernel_mass_kg: float | None = None,
    counting_floor_goal_fraction: float | None = None,
    work: SpreadingWork | None = None,
) -> TrayAnswer:
    """Return how even the spread is by driving width, and how wide it is good and usable to.

    Parameters
    ----------
    test
        The tray test.
    good_limit_fraction, usable_limit_fraction
        Evenness not to exceed. The 15 % in use is a limit of fertiliser and field tests, with
        far more grains in a tray than of seed. [fraction]
    narrowest_share_of_throw_fraction
        Nobody drives narrower than this share of the throw: an interval of good widths that
        ends below it does not decide. All widths are listed. [fraction]
    edge_share_limit_fraction
        An end tray with more than this share of the fullest one is noted. [fraction]
    limit_source
        Where the limits come from, for the working.
    asked_widths_m
        Widths someone wants to drive; not below one tray spacing. (n,) [m]
    kernel_mass_kg
        Mass of one seed; with it, or with counted seeds, the chance of single seeds is
        taken out beside the figures as they are. [kg]
    counting_floor_goal_fraction
        Chance small enough, for the number of runs needed. [fraction]
    work
        How the spreader works, for what each width costs.

    Notes
    -----
    Only whole tray spacings decide. "Good to" is the top of the first interval of widths that
    hold the limit and reach the narrowest sensible one; see
    ``duskline.core.trays.good_interval``.

    Source
    ------
    Derived here; parts as said in ``duskline.core.trays``.
    """
    if not 0 < good_limit_fraction <= usable_limit_fraction:
        raise OutOfRange("limit of evenness", good_limit_fraction, 0.0, usable_limit_fraction)
    pattern = mean_pattern(test)
    narrowest_m = narrowest_share_of_throw_fraction * throw_m(pattern)
    tried = evenness(pattern, driving_widths_m=whole_widths_m(pattern))
    limits = (good_limit_fraction, usable_limit_fraction)
    forth, about = (_way_widths(tried, way, limits, narrowest_m) for way in Way)
    asked = evenness(pattern, driving_widths_m=sorted(set(asked_widths_m)))
    chosen = None
    if forth.good_to_m is not None:
        chosen = fold(pattern, driving_width_m=forth.good_to_m, way=Way.BACK_AND_FORTH)
    costs, reference_m = _costs(tried, forth, work)
    lean = skew(pattern)
    return TrayAnswer(
        name=test.name,
        widths=_rows(tried, asked),
        good_to_back_and_forth_m=forth.good_to_m,
        good_to_round_m=about.good_to_m,
        usable_to_back_and_forth_m=forth.usable_to_m,
        usable_to_round_m=about.usable_to_m,
        convention=CONVENTION,
        back_and_forth=forth,
        round_and_round=about,
        asked=_verdicts(asked, forth, about, limits),
        skew=lean,
        centring=_centring(pattern, tried),
        runs=_runs(test, limits, narrowest_m),
        run_spread_fraction=run_spread_fraction(test),
        noise=_noise(test, pattern, tried, kernel_mass_kg, counting_floor_goal_fraction),
        costs=costs,
        cost_reference_m=reference_m,
        thinnest_fraction=None if chosen is None else float(chosen.relative_rates.min()),
        heaviest_fraction=None if chosen is None else float(chosen.relative_rates.max()),
        notes=_notes(test, pattern, edge_share_limit_fraction, (forth, about)),
        working=_working(
            test,
            pattern,
            tried,
            (forth, about),
            limits=limits,
            limit_source=limit_source,
            narrowest_m=narrowest_m,
        ),
    )


def mixed_lots(
    driving_widths_m: Mapping[str, float], *, work: SpreadingWork | None = None
) -> MixedWidth:
    """Return the driving width for lots that go out in one load: the narrowest rules.

    Parameters
    ----------
    driving_widths_m
        Width each lot is good to, by the lot's name. [m]
    work
        How the spreader works, for what the choice costs.

    Raises
    ------
    OutOfRange
        No lots.

    Source
    ------
    Derived here; that the narrower seed rules, common practice, no source.
    """
    if not driving_widths_m:
        raise OutOfRange("lots in the mixture", 0, 1)
    narrowest_m, widest_m = min(driving_widths_m.values()), max(driving_widths_m.values())
    alone: tuple[tuple[str, WidthCost], ...] = ()
    if work is not None:
        alone = tuple(
            (name, _cost(width_m, widest_m, work)) for name, width_m in driving_widths_m.items()
        )
    return MixedWidth(
        driving_width_m=narrowest_m,
        ruled_by=tuple(name for name, m in driving_widths_m.items() if m == narrowest_m),
        one_trip=None if work is None else _cost(narrowest_m, widest_m, work),
        each_alone=alone,
        separate_trips_m2_per_s=(
            1.0 / sum(1.0 / cost.rate_m2_per_s for _, cost in alone) if alone else None
        ),
    )


def _rows(tried: Evenness, asked: Evenness) -> tuple[WidthRow, ...]:
    rows = {
        round(float(width), 6): WidthRow(
            driving_width_m=float(width),
            cv_back_and_forth=float(forth),
            cv_round=float(about),
            interpolated=bool(between),
        )
        for figures in (asked, tried)
        for width, forth, about, between in zip(
            figures.driving_widths_m,
            figures.back_and_forth_fraction,
            figures.round_and_round_fraction,
            figures.interpolated,
            strict=True,
        )
    }
    return tuple(rows[width] for width in sorted(rows))


def _way_widths(
    tried: Evenness, way: Way, limits: tuple[float, float], narrowest_m: float
) -> WayWidths:
    good, usable = (
        acceptable_widths(
            driving_widths_m=tried.driving_widths_m,
            cv_fractions=tried.of(way),
            limit_fraction=limit,
        )
        for limit in limits
    )
    return WayWidths(
        way=way,
        good_interval=good_interval(good, narrowest_m=narrowest_m),
        usable_interval=good_interval(usable, narrowest_m=narrowest_m),
        good=good,
        usable=usable,
    )


def _verdicts(
    asked: Evenness, forth: WayWidths, about: WayWidths, limits: tuple[float, float]
) -> tuple[AskedWidth, ...]:
    return tuple(
        AskedWidth(
            driving_width_m=float(width),
            back_and_forth=_verdict(float(width), float(cv_forth), forth, limits),
            round_and_round=_verdict(float(width), float(cv_about), about, limits),
        )
        for width, cv_forth, cv_about in zip(
            asked.driving_widths_m,
            asked.back_and_forth_fraction,
            asked.round_and_round_fraction,
            strict=True,
        )
    )


def _verdict(width_m: float, cv: float, way: WayWidths, limits: tuple[float, float]) -> Verdict:
    good_limit, usable_limit = limits
    if cv <= good_limit and _at_or_below(width_m, way.good_to_m):
        return "good"
    if any(island.holds(width_m) for island in way.islands):
        return "island"
    if cv <= usable_limit and _at_or_below(width_m, way.usable_to_m):
        return "usable"
    return "too uneven"


def _at_or_below(width_m: float, top_m: float | None) -> bool:
    return top_m is not None and WidthInterval(narrowest_m=0.0, widest_m=top_m).holds(width_m)


def _cost(width_m: float, reference_m: float, work: SpreadingWork) -> WidthCost:
    rates = {
        (width, loading): spreading_rate_m2_per_s(
            driving_width_m=width,
            speed_mps=work.speed_mps,
            efficiency_fraction=work.efficiency_fraction,
            area_per_load_m2=work.area_per_load_m2 if loading else None,
            refill_s=work.refill_s,
        )
        for width in (width_m, reference_m)
        for loading in (False, True)
    }
    return WidthCost(
        driving_width_m=width_m,
        moving_rate_m2_per_s=rates[width_m, False],
        rate_m2_per_s=rates[width_m, True],
        share_fraction=rates[width_m, True] / rates[reference_m, True],
    )


def _costs(
    tried: Evenness, forth: WayWidths, work: SpreadingWork | None
) -> tuple[tuple[WidthCost, ...], float | None]:
    if work is None:
        return (), None
    widths = [float(width) for width in tried.driving_widths_m]
    reference_m = widths[-1] if forth.good_to_m is None else forth.good_to_m
    return tuple(_cost(width, reference_m, work) for width in widths), reference_m


def _centring(pattern: TrayPattern, tried: Evenness) -> tuple[CentredRow, ...]:
    moved = evenness(centred(pattern), driving_widths_m=tried.driving_widths_m)
    return tuple(
        CentredRow(driving_width_m=float(width), cv_now=float(now), cv_centred=float(then))
        for width, now, then in zip(
            tried.driving_widths_m,
            tried.back_and_forth_fraction,
            moved.back_and_forth_fraction,
            strict=True,
        )
    )


def _runs(test: TrayTest, limits: tuple[float, float], narrowest_m: float) -> tuple[RunRow, ...]:
    rows = []
    for index, pattern in enumerate(run_patterns(test), start=1):
        figures = evenness(pattern, driving_widths_m=whole_widths_m(pattern))
        forth, about = (_way_widths(figures, way, limits, narrowest_m) for way in Way)
        rows.append(
            RunRow(
                run=index,
                total=sum(pattern.catch),
                good_to_back_and_forth_m=forth.good_to_m,
                good_to_round_m=about.good_to_m,
            )
        )
    return tuple(rows)


def _noise(
    test: TrayTest,
    pattern: TrayPattern,
    tried: Evenness,
    kernel_mass_kg: float | None,
    goal_fraction: float | None,
) -> tuple[NoiseRow, ...]:
    if kernel_mass_kg is None and not test.is_counted:
        return ()
    if kernel_mass_kg is not None and not kernel_mass_kg > 0:
        raise OutOfRange("mass of one seed", kernel_mass_kg, 0.0)
    run_count = len(test.runs)
    seeds_in_row = sum(pattern.catch) / (1.0 if test.is_counted else kernel_mass_kg or 1.0)
    rows = []
    for index, width in enumerate(tried.driving_widths_m.tolist()):
        one_run = seeds_in_row * pattern.spacing_m / width
        rows.append(
            NoiseRow(
                driving_width_m=width,
                seeds_per_tray=one_run * run_count,
                floor=counting_floor_fraction(one_run * run_count),
                cv_back_and_forth_less_chance=without_counting_noise_fraction(
                    float(tried.back_and_forth_fraction[index]), seeds_count=one_run * run_count
                ),
                cv_round_less_chance=without_counting_noise_fraction(
                    float(tried.round_and_round_fraction[index]), seeds_count=one_run * run_count
                ),
                passes_needed=(
                    None
                    if goal_fraction is None
                    else passes_for_floor_count(one_run, floor_fraction=goal_fraction)
                ),
            )
        )
    return tuple(rows)


def _notes(
    test: TrayTest, pattern: TrayPattern, edge_limit: float, ways: tuple[WayWidths, WayWidths]
) -> tuple[str, ...]:
    notes = [
        "The good limit was set for fertiliser and field tests; seed falls in fewer, heavier "
        "grains, and no limit for seed was found."
    ]
    if test.path_assumed_in_middle:
        notes.append(
            "No tray lies left of zero, so the driving line was taken as the middle of the row."
        )
    if not pattern.turned_trays_meet:
        notes.append(
            "The driving line runs neither over a tray nor half-way between two, so back and "
            "forth is read between trays at every width."
        )
    ends = (pattern.catch[0], pattern.catch[-1])
    if max(ends) > edge_limit * max(pattern.catch):
        notes.append(
            "An end tray still caught seed: the throw goes on beyond the row. Lay more trays "
            "before trusting the widest widths."
        )
    if len(test.runs) == 1:
        notes.append("One run only: a second shows how far one run can be trusted.")
    if any(way.islands for way in ways):
        notes.append(
            "A wider width holds the limit too, but a width between fails. Plan on the narrower "
            "one: at the wider, closing up a little or a breath of wind leads into the gap."
        )
    if any(way.is_broken_below for way in ways):
        notes.append(
            "Narrower is not always more even: below the good widths lie some that fail. See the "
            "list before closing up."
        )
    if any(way.good_to_m is None for way in ways):
        notes.append(
            "No sensible width is good. Compare left and right and mend the spreader first."
        )
    notes.append(
        "If the pattern leans, run the trays in both directions: what stays on the same side of "
        "the machine is the machine's, what stays on the same side of the field is the wind's."
    )
    return tuple(notes)


# --- The working --------------------------------------------------------------------------------

_TRAYS = "trays.csv"
_HERE = "worked out here"
_WAY_WORDS = {Way.BACK_AND_FORTH: "back and forth", Way.ROUND_AND_ROUND: "round and round"}


def _working(
    test: TrayTest,
    pattern: TrayPattern,
    tried: Evenness,
    ways: tuple[WayWidths, WayWidths],
    *,
    limits: tuple[float, float],
    limit_source: str,
    narrowest_m: float,
) -> tuple[Step, ...]:
    steps = [_lean_step(test, pattern)]
    for way in ways:
        width_m = way.good_to_m
        if width_m is None:
            width_m = float(tried.driving_widths_m[int(np.argmin(tried.of(way.way)))])
        index = int(np.argmin(np.abs(tried.driving_widths_m - width_m)))
        steps.append(_evenness_step(pattern, way.way, width_m, float(tried.of(way.way)[index])))
        if not bool(tried.interpolated[index]):
            steps.append(_sample_step(pattern, way.way, width_m, float(tried.of(way.way)[index])))
        steps.append(_limit_step(way, limits, limit_source, narrowest_m))
    return (*steps, *_thumb_steps(pattern))


def _lean_step(test: TrayTest, pattern: TrayPattern) -> Step:
    lean = skew(pattern)
    return Step(
        title="Middle of the pattern",
        formula="sum(place x catch) / sum(catch)",
        inputs=(
            Figure(name="trays", value=len(pattern.catch), unit="count", source=_TRAYS),
            Figure(name="tray spacing", value=pattern.spacing_m, unit="m", source=_TRAYS),
            Figure(name="runs, averaged", value=len(test.runs), unit="count", source=_TRAYS),
            Figure(name="share left", value=lean.left_fraction, unit="fraction", source=_HERE),
            Figure(name="share right", value=lean.right_fraction, unit="fraction", source=_HERE),
        ),
        result=Figure(
            name="offset from the driving line, right positive",
            value=lean.offset_m,
            unit="m",
            source=_HERE,
        ),
    )


def _evenness_step(pattern: TrayPattern, way: Way, width_m: float, cv: float) -> Step:
    doses = fold(pattern, driving_width_m=width_m, way=way)
    return Step(
        title=f"Evenness {_WAY_WORDS[way]}",
        formula="CV = population SD / mean of the dose over one repeat",
        inputs=(
            Figure(name="driving width", value=width_m, unit="m", source=_HERE),
            Figure(
                name="doses over their mean, from a driving line on",
                value=_listed(doses),
                unit="",
                source=_HERE,
            ),
            Figure(
                name="mean catch a tray",
                unit="",
                source=_HERE,
                value=f"{sum(pattern.catch) * pattern.spacing_m / width_m:.6g}",
            ),
        ),
        result=Figure(name="CV (n)", value=cv, unit="fraction", source=_HERE),
    )


def _listed(doses: Fold) -> str:
    if doses.interpolated:
        return f"{len(doses.relative_rates)} points between trays"
    return " ".join(f"{rate:.3f}" for rate in doses.relative_rates)


def _sample_step(pattern: TrayPattern, way: Way, width_m: float, cv: float) -> Step:
    points = round(width_m / pattern.spacing_m) * (2 if way is Way.BACK_AND_FORTH else 1)
    result: float | str = "one tray point has no spread"
    if points > 1:
        result = sample_cv_fraction(
            cv, driving_width_m=width_m, spacing_m=pattern.spacing_m, way=way
        )
    return Step(
        title=f"The same with n - 1, {_WAY_WORDS[way]}, to compare with other reports",
        formula="CV (n - 1) = CV (n) x sqrt(n / (n - 1))",
        inputs=(
            Figure(name="CV (n)", value=cv, unit="fraction", source=_HERE),
            Figure(name="tray points in one repeat", value=points, unit="count", source=_HERE),
        ),
        result=Figure(
            name="CV (n - 1)", value=result, unit="fraction" if points > 1 else "", source=_HERE
        ),
    )


def _limit_step(
    way: WayWidths, limits: tuple[float, float], limit_source: str, narrowest_m: float
) -> Step:
    top = "none" if way.good_to_m is None else way.good_to_m
    return Step(
        title=f"Widest good width {_WAY_WORDS[way.way]}",
        formula=(
            "top of the first interval of tried widths with CV at or under the limit that reaches "
            "the narrowest sensible width"
        ),
        inputs=(
            Figure(name="narrowest sensible width", value=narrowest_m, unit="m", source=_HERE),
            Figure(name="good limit", value=limits[0], unit="fraction", source=limit_source),
            Figure(name="usable limit", value=limits[1], unit="fraction", source=limit_source),
            *(
                Figure(
                    name="widths that are good",
                    value=interval.widest_m,
                    unit="m",
                    source=_HERE,
                    low=interval.narrowest_m,
                    high=interval.widest_m,
                )
                for interval in way.good
            ),
        ),
        result=Figure(
            name="good to", value=top, unit="" if way.good_to_m is None else "m", source=_HERE
        ),
    )


def _thumb_steps(pattern: TrayPattern) -> tuple[Step, ...]:
    """Return the rules of thumb, to be seen beside the answer; they do not decide."""
    fullest = Figure(name="fullest tray", value=f"{max(pattern.catch):.6g}", unit="", source=_TRAYS)
    ends = half_of_maximum_m(pattern)
    centre = half_of_centre_width_m(pattern, centre_reach_m=pattern.spacing_m)
    figures = (
        (
            "between the places with half the fullest tray",
            None if ends is None else ends[1] - ends[0],
            "Alberta Agriculture, Nutrient Management Planning Guide",
        ),
        (
            "between the places with half the mean of the centre trays",
            centre,
            "Ohio State University Extension, Bulletin 817",
        ),
    )
    return tuple(
        Step(
            title="Rule of thumb, for comparison only",
            formula=f"distance {words}",
            inputs=(fullest,),
            result=Figure(
                name="driving width by rule of thumb",
                value="the row ends too soon" if width is None else width,
                unit="" if width is None else "m",
                source=source,
            ),
        )
        for words, width, source in figures
    )
