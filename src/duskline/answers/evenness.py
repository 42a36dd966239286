"""How even does the seed lie once it is covered, and which lever is worth pulling?

One table for the user's own trays and field, what the covering angle does and does not do, the
field driven out, and what unevenness costs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from duskline.answers.drive import FieldPlan, drive_field
from duskline.answers.evenness_table import (
    ANGLES_RAD,
    Advice,
    Bench,
    EvennessRow,
    LeverKey,
    Limits,
    NoTrayTest,
    Seeding,
    Verdict,
    advice_of,
    chance_fraction,
    ends_of,
    given_figure,
    judged_rows,
    limits_of,
    seedings_of,
    spread_ripples,
    weighed_stand,
)
from duskline.answers.working import Figure, Step
from duskline.core.errors import OutOfRange
from duskline.core.evenness import (
    Ripples,
    covered,
    profile,
    retained_fraction,
    ripple_eased_by_angle_m,
    spread_sd_m,
)
from duskline.core.farm import Farm, Field, Given
from duskline.core.outline import FloatArray, Outline, inset
from duskline.core.passes import PassPlan
from duskline.core.trays import skew

if TYPE_CHECKING:
    from duskline.core.density import DensityMap

__all__ = [
    "ANGLES_RAD",
    "Advice",
    "AngleEffect",
    "EvennessAnswer",
    "EvennessRow",
    "FieldMap",
    "LeverKey",
    "Limits",
    "Loss",
    "NoTrayTest",
    "NotStraight",
    "Response",
    "Seeding",
    "Verdict",
    "evenness_answer",
    "lost_fraction",
]

Response = Literal["quadratic", "exponential", "plateau"]
NotStraight = Literal["rounds", "uneven", "missed", "seed"]
"""Why straight passes do not speak for a field: its headland is most of it, or driven out it
lies less evenly, is missed more, or gets more or less seed than the table has it."""

# A share taken off a ripple that counts as easing it.
_EASED_FRACTION = 0.1


# --------------------------------------------------------------------------- what is answered


@dataclass(frozen=True, kw_only=True, slots=True)
class AngleEffect:
    """What the covering angle does, and what it does not.

    Attributes
    ----------
    angle_rad
        The angle. [rad]
    eased_m
        The longest ripple of which the angle itself takes a tenth. [m]
    row_spacing_m, row_kept_along, row_kept
        Old rows, and the share of their ripple left by covering along the spread passes and at
        the angle. [m], [fraction]
    band_m, band_kept
        The widest band the spreader leaves, and the share of it left at the angle.
    before_cv, along_cv, after_cv
        Evenness as spread, covered along the passes, and covered at the angle. [fraction]
    run_length_m, bands_crossed
        The run half the ground lies on or beyond, and how many spread passes a missed strip
        crosses along it. [m]
    """

    angle_rad: float
    eased_m: float
    row_spacing_m: float
    row_kept_along: float
    row_kept: float
    band_m: float
    band_kept: float
    before_cv: float
    along_cv: float
    after_cv: float
    run_length_m: float
    bands_crossed: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Loss:
    """What unevenness costs in cover, by a response that was chosen; never a yield promise.

    ``lost`` is the share of the cover of an even stand, as the seed lies now.
    """

    response: Response
    strength: Figure
    lost: Figure


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FieldMap:
    """The field as both machines would really leave it.

    Attributes
    ----------
    density
        The map; drawn cells are the plots.
    judged
        The ground its figures speak of: the field less its headland; all of it where the headland
        is all of it.
    between_headlands_fraction
        Share of the field that its headland leaves.
    plot_m
        Side of the plots. [m]
    before_cv, after_cv
        Evenness of the plots as spread and as covered. [fraction]
    missed_fraction
        Judged ground no tool went through. [fraction]
    thin_tenth_fraction, thin_tenth_plants_per_m2, below_half_fraction
        As in ``EvennessRow``, missed strips with the emergence of bare ground.
    """

    density: DensityMap
    judged: tuple[Outline, ...]
    between_headlands_fraction: float
    plot_m: float
    before_cv: float
    after_cv: float
    missed_fraction: float
    thin_tenth_fraction: float
    thin_tenth_plants_per_m2: float | None
    below_half_fraction: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class EvennessAnswer:
    """How even the seed lies, and which lever is worth pulling.

    Attributes
    ----------
    field, plan
        The noun, and how it is driven at the angle of the answer.
    lot
        What the field is sown with; of a mix the seed that lies least evenly is ``ruled_by``.
    seedings
        The lot's seeds with a tray test.
    spreader, cultivator
        The machines spoken of: the first of each; ``cultivator`` is None where there is none.
    sown, worked_in
        Seed across straight passes as spread and as covered, before the steering.
    levers
        The present way first.
    not_straight
        Why the table, which is of straight passes, does not speak for this field; empty where it
        does, or where the field was not driven out.
    opposite_fraction
        Neighbouring spread rows of the plan that are driven opposite ways. [fraction]
    buried, buried_twice
        Share of the seed on top that one and two covering passes cover; never all of it.
    """

    field: Field
    plan: FieldPlan
    lot: str
    ruled_by: str
    seedings: tuple[Seeding, ...]
    without_trays: tuple[str, ...]
    spreader: str
    cultivator: str | None
    driving_width_m: float
    angle_rad: float
    sown: Ripples
    worked_in: Ripples
    levers: tuple[EvennessRow, ...]
    limits: Limits
    advice: Advice
    angle: AngleEffect | None
    loss: Loss
    map: FieldMap | None
    not_straight: tuple[NotStraight, ...]
    opposite_fraction: float
    buried: Figure
    buried_twice: Figure
    currency: str
    not_priced: tuple[str, ...]
    working: tuple[Step, ...]

    @property
    def before_cv(self) -> float:
        """Evenness of straight passes as spread. [fraction]"""
        return self.sown.cv_fraction

    @property
    def after_cv(self) -> float:
        """Evenness of straight passes as covered. [fraction]"""
        return self.worked_in.cv_fraction

    @property
    def present(self) -> EvennessRow:
        """The present way."""
        return self.levers[0]

    @property
    def ruling(self) -> Seeding:
        """The seed that lies least evenly the present way."""
        return next(one for one in self.seedings if one.lot == self.ruled_by)

    def row(self, key: LeverKey) -> EvennessRow:
        """Return one lever's row.

        Raises
        ------
        KeyError
            The lever makes no sense on this farm, such as going slower by eye with guidance.
        """
        return {one.key: one for one in self.levers}[key]


def evenness_answer(
    farm: Farm,
    name: str,
    *,
    angle_rad: float | None = None,
    cell_m: float = 0.5,
    map_cell_m: float = 1.0,
    seed: int = 0,
    with_map: bool = True,
    response: Response = "quadratic",
) -> EvennessAnswer:
    """Return how even the seed of one field lies after covering, and what each lever would do.

    Parameters
    ----------
    farm
        The farm folder.
    name
        A field with an outline.
    angle_rad
        Covering heading off the spread heading; None for the farm's, or the one advised. [rad]
    cell_m, map_cell_m
        Cells of the map, and the plots its figures are of. [m]
    seed
        For the steering of the map; the same seed gives the same answer.
    with_map
        Whether to drive the field out; the table does not need it.
    response
        How cover answers to the stand, for what unevenness costs.

    Raises
    ------
    KeyError
        No field of that name.
    ValueError
        The field has no outline.
    NoTrayTest
        No tray test for the field's lot.
    FieldTooNarrow
        A machine fits nowhere between the edges.

    Notes
    -----
    The table is of straight passes in the middle of the field, each pass driven opposite to its
    neighbours, by the ripples of the tray pattern; strips missed between covering passes come in
    with the emergence of bare ground, their share by the closed form of core/lap.py. Minutes are
    those of real plans of this field. The range of an evenness holds the range of the scatter
    and how far tray runs lie apart; its low end also leaves out the chance of single seeds.

    Source
    ------
    Derived here from core/evenness.py, core/density.py and core/lap.py; tests/answers/
    test_evenness.py holds the table against them and the map against the table.
    """
    field = {one.name: one for one in farm.fields}[name]
    seedings, missing = seedings_of(farm, field)
    spreader = farm.spreaders[0]
    cultivator = farm.cultivators[0] if farm.cultivators else None
    plan = drive_field(
        farm,
        field,
        spreaders=(spreader,),
        machines=() if cultivator is None else (cultivator,),
        angle_rad=angle_rad,
    )
    bench = Bench(farm, field, plan, spreader, cultivator, seedings)
    limits = limits_of(farm, plan)
    levers = judged_rows(bench.rows(), limits)
    present = levers[0]
    ruling = next(one for one in seedings if one.lot == present.lot)
    before = spread_ripples(ruling.pattern, spreader.driving_width_m)
    after = covered(before, angles_rad=bench.angles_rad, displacement=bench.moved)
    angle = _angle_effect(farm, bench, before) if cultivator is not None else None
    loss = _loss(farm, after, response)
    drawn = None
    if with_map:
        drawn = _field_map(farm, bench, ruling, cell_m=cell_m, plot_m=map_cell_m, seed=seed)
    return EvennessAnswer(
        field=field,
        plan=plan,
        lot=farm.lot(field.lot).name,
        ruled_by=ruling.lot,
        seedings=seedings,
        without_trays=missing,
        spreader=spreader.name,
        cultivator=None if cultivator is None else cultivator.name,
        driving_width_m=spreader.driving_width_m,
        angle_rad=plan.angle_rad,
        sown=before,
        worked_in=after,
        levers=levers,
        limits=limits,
        advice=advice_of(levers, limits),
        angle=angle,
        loss=loss,
        map=drawn,
        not_straight=_not_straight(farm, plan, present, limits, drawn),
        opposite_fraction=_opposite_fraction(plan.spread),
        buried=given_figure("seed buried by one pass", farm.defaults["covered_share"]),
        buried_twice=given_figure(
            "seed buried by two passes", farm.defaults["covered_share_two_passes"]
        ),
        currency=farm.prices.currency,
        not_priced=bench.not_priced,
        working=(
            *_stand_steps(ruling, present, bench),
            *_lever_steps(farm, levers, bench, before),
            _loss_step(loss, after),
            *([] if drawn is None else [_map_step(farm, drawn, bench)]),
        ),
    )


def _not_straight(
    farm: Farm,
    plan: FieldPlan,
    present: EvennessRow,
    limits: Limits,
    drawn: FieldMap | None,
) -> tuple[NotStraight, ...]:
    """Return why straight passes do not speak for a field."""
    spread = plan.spread
    in_rounds = spread.only_strips or not spread.passes_count
    if drawn is None:
        return ("rounds",) if in_rounds else ()
    table = farm.defaults
    least, off = table["evenness_map_least_share"].value, table["evenness_map_seed_off"].value
    found: dict[NotStraight, bool] = {
        "rounds": in_rounds or drawn.between_headlands_fraction < least,
        "uneven": drawn.after_cv - present.cv_high >= limits.gain,
        "missed": drawn.missed_fraction - present.missed_fraction >= limits.thin_gain,
        "seed": abs(drawn.density.mean_before - 1.0) >= off,
    }
    return tuple(why for why, is_so in found.items() if is_so)


# --------------------------------------------------------------------------- the angle


def _angle_effect(farm: Farm, bench: Bench, before: Ripples) -> AngleEffect | None:
    """Return what the angle of the plan does; None where rounds do the whole field."""
    cover, angle = bench.plan.cover, bench.plan.angle_rad
    if cover is None or not len(cover.passes_m):
        return None
    moved, rows_m = bench.moved, farm.defaults["old_rows"].value
    lengths = np.sort(cover.pass_lengths_m)[::-1]
    half = int(np.searchsorted(np.cumsum(lengths), 0.5 * lengths.sum()))
    run_m = float(lengths[min(half, len(lengths) - 1)])

    def after(turned_rad: float) -> float:
        return covered(before, angles_rad=(turned_rad,), displacement=moved).cv_fraction

    return AngleEffect(
        angle_rad=angle,
        eased_m=ripple_eased_by_angle_m(moved, angle_rad=angle, eased_fraction=_EASED_FRACTION),
        row_spacing_m=rows_m,
        row_kept_along=retained_fraction(rows_m, spread_sd_m(moved, 0.0)),
        row_kept=retained_fraction(rows_m, spread_sd_m(moved, angle)),
        band_m=before.repeat_m,
        band_kept=retained_fraction(before.repeat_m, spread_sd_m(moved, angle)),
        before_cv=before.cv_fraction,
        along_cv=after(0.0),
        after_cv=after(angle),
        run_length_m=run_m,
        bands_crossed=run_m * math.sin(angle) / bench.spreader.driving_width_m,
    )


def _opposite_fraction(plan: PassPlan) -> float:
    """Return how many neighbouring rows of a plan are driven opposite ways. Fraction."""
    runs_m = plan.passes_m
    if len(runs_m) < 2:
        return 1.0
    way = (runs_m[:, 1] - runs_m[:, 0]) @ (runs_m[0, 1] - runs_m[0, 0]) > 0.0
    # Rows broken by a hole are driven one way; the first run of each row speaks for it.
    keys = np.column_stack([plan.block_indices, plan.row_indices])
    rows, first = np.unique(keys, axis=0, return_index=True)
    beside = (np.diff(rows[:, 0]) == 0) & (np.diff(rows[:, 1]) == 1)
    ways = way[first]
    if not beside.any():
        return 1.0
    return float((ways[1:] != ways[:-1])[beside].mean())


# --------------------------------------------------------------------------- the map


def _field_map(
    farm: Farm, bench: Bench, seeding: Seeding, *, cell_m: float, plot_m: float, seed: int
) -> FieldMap:
    """Return the field as both machines leave it, judged without its headland."""
    # Compiled code comes with it: imported only where a map is asked for.
    from duskline.core import density

    plan, machine = bench.plan, bench.cultivator
    depth = max(one.headland_m for one in (plan.spread, *plan.covers.values()))
    inner = inset(plan.outline, depth_m=depth)
    judged = inner or (plan.outline,)
    edge = "edge_sd_by_eye" if machine is not None and machine.by_eye else "edge_sd_guided"
    found = density.field_density(
        plan.outline,
        spread=plan.spread,
        cover=plan.cover,
        pattern=seeding.pattern,
        displacement=density.Displacement(
            along_sd_m=bench.moved.along_sd_m,
            lateral_sd_m=bench.moved.lateral_sd_m,
            forward_m=bench.moved.forward_m,
        ),
        spread_steering=density.Steering(sd_m=farm.defaults["edge_sd_guided"].value),
        cover_steering=density.Steering(
            sd_m=farm.defaults[edge].value, by_eye=machine is not None and machine.by_eye
        ),
        cell_m=cell_m,
        map_cell_m=plot_m,
        seed=seed,
        judged=judged,
    )
    counts = found.histograms[1]
    top = _densest()
    middles = (np.arange(counts.shape[1]) + 0.5) * (top / counts.shape[1])
    bare = bench.bare_share if machine is not None else 1.0
    tenth, below = weighed_stand(
        np.concatenate([middles * bare, middles]),
        np.concatenate([counts[0], counts[1] + counts[2]]).astype(np.float64),
    )
    plants = seeding.plants
    return FieldMap(
        density=found,
        judged=judged,
        between_headlands_fraction=sum(one.area_m2 for one in inner) / plan.outline.area_m2,
        plot_m=plot_m,
        before_cv=found.plots_cv_fraction(after=False),
        after_cv=found.plots_cv_fraction(),
        missed_fraction=found.skip_fraction if machine is not None else 0.0,
        thin_tenth_fraction=tenth,
        thin_tenth_plants_per_m2=None if plants is None else tenth * float(plants.value),
        below_half_fraction=below,
    )


def _densest() -> float:
    """Return the density at which the map's histograms end, of the planned rate."""
    from duskline.core.density_kernel import MOST_DENSITY

    return float(MOST_DENSITY)


# --------------------------------------------------------------------------- what it costs


def lost_fraction(shares: FloatArray, *, response: Response, strength: float) -> float:
    """Return the share of cover that unevenness costs against an even stand [fraction].

    Parameters
    ----------
    shares
        Stand over the mean on equal pieces of ground. (n,)
    response
        How cover answers to the stand: see the notes.
    strength
        The figure of the response: c, k or the plateau.

    Raises
    ------
    OutOfRange
        A strength that is not above zero.

    Notes
    -----
    With x the stand over its mean, the loss is ``1 - mean Y(x) / Y(1)``::

        quadratic     Y = 1 - c (1 - x)^2       loss = c CV^2
        exponential   Y = 1 - exp(-k x)
        plateau       Y = min(x, plateau)

    All are concave, so evenness never costs. None is a yield: what a cover crop is worth at
    half its stand nobody has measured for this job.

    Source
    ------
    The small-unevenness rule (Jensen); which figures to use is our judgement.
    """
    if not 0.0 < strength < math.inf:
        raise OutOfRange("strength of the response", strength, 0.0)
    if response == "quadratic":
        return strength * float(np.mean((shares - shares.mean()) ** 2))
    if response == "exponential":
        return 1.0 - float(np.mean(-np.expm1(-strength * shares))) / -math.expm1(-strength)
    return 1.0 - float(np.mean(np.minimum(shares, strength))) / min(1.0, strength)


_STRENGTHS: dict[Response, str] = {
    "quadratic": "unevenness_loss",
    "exponential": "unevenness_curve",
    "plateau": "unevenness_plateau",
}


def _loss(farm: Farm, after: Ripples, response: Response) -> Loss:
    given = farm.defaults[_STRENGTHS[response]]
    shares = profile(after)
    # A plateau below the thinnest ground loses nothing but what rounding leaves.
    value, *ends = (
        max(lost_fraction(shares, response=response, strength=one), 0.0) for one in ends_of(given)
    )
    return Loss(
        response=response,
        strength=given_figure(f"strength of the {response} response", given),
        lost=Figure(
            name="cover lost to unevenness",
            value=value,
            unit="fraction",
            source=f"{response} response: {given.source}",
            low=min(value, *ends),
            high=max(value, *ends),
        ),
    )


# --------------------------------------------------------------------------- working


_HERE = "worked out here"


def _stand_steps(seeding: Seeding, present: EvennessRow, bench: Bench) -> tuple[Step, ...]:
    """Return the working of the plants wanted and of the thinnest tenth."""
    if seeding.plants is None or seeding.live_per_m2 is None:
        return ()
    return (
        Step(
            title=f"{seeding.lot}: plants wanted",
            formula="live seeds x share that becomes a plant when worked in",
            inputs=(
                Figure(
                    name="live seeds",
                    value=seeding.live_per_m2,
                    unit="per m2",
                    source=f"rate of the lot; {seeding.plants.source}",
                ),
                seeding.emergence,
            ),
            result=seeding.plants,
        ),
        Step(
            title=f"{seeding.lot}: thinnest tenth",
            formula="wanted plants x share that a tenth of the ground stays under; missed strips "
            "come up as bare ground does",
            inputs=(
                seeding.plants,
                Figure(
                    name="share a tenth of the ground stays under",
                    value=present.thin_tenth_fraction,
                    unit="fraction",
                    source=_HERE,
                ),
                Figure(
                    name="missed between covering passes",
                    value=present.missed_fraction,
                    unit="fraction",
                    source="closed form of the skips, see the overlap",
                ),
                given_figure("live seed left bare that becomes a plant", _bare(bench.farm)),
            ),
            result=Figure(
                name="thinnest tenth stays under",
                value=present.thin_tenth_plants_per_m2 or 0.0,
                unit="per m2",
                source=_HERE,
            ),
        ),
    )


def _bare(farm: Farm) -> Given:
    return farm.defaults["emergence_bare"]


def _lever_steps(
    farm: Farm, levers: Sequence[EvennessRow], bench: Bench, before: Ripples
) -> list[Step]:
    """Return the working of the evenness before and after, and of what decides.

    The best width is the widest whose evenness and thinnest tenth lie within ``lever_gain`` of
    the best, among whole tray spacings from the narrowest sensible width to the throw that are
    usable.
    """
    table, present = farm.defaults, levers[0]
    moved = [
        given_figure("scatter along the covering travel", table["displacement_along"]),
        given_figure("scatter across it", table["displacement_lateral"]),
    ]
    width = Figure(
        name="driving width", value=bench.spreader.driving_width_m, unit="m", source="farm.toml"
    )
    spread = Figure(
        name="evenness as spread", value=before.cv_fraction, unit="fraction", source=_HERE
    )
    angle = [
        Figure(name="covering angle", value=one, unit="rad", source="the plan of the field")
        for one in bench.angles_rad
    ]
    best = {one.key: one for one in levers}[LeverKey.BEST_WIDTH]
    return [
        Step(
            title=f"{present.lot}: evenness as spread",
            formula="ripples of the tray pattern, driven back and forth: sqrt(sum a^2 / 2)",
            inputs=(width, *_lean(bench, present.lot)),
            result=spread,
        ),
        Step(
            title=f"{present.lot}: evenness after covering",
            formula="each ripple of length L keeps exp(-2 pi^2 s^2 / L^2); s^2 = along^2 "
            "sin^2(angle) + across^2 cos^2(angle); range: scatter, tray runs, and on the low side "
            "the chance of single seeds taken out",
            inputs=(
                spread,
                *angle,
                *moved,
                given_figure("range of tray runs", table["tray_repeat"]),
                _chance_figure(bench, present.lot),
            ),
            result=Figure(
                name="evenness after covering",
                value=present.cv,
                unit="fraction",
                source=_HERE,
                low=present.cv_low,
                high=present.cv_high,
            ),
        ),
        Step(
            title="Best driving width",
            formula="widest width whose evenness and thinnest tenth are within the least gain of "
            "the best, from the narrowest sensible width to the throw",
            inputs=(
                width,
                given_figure("least gain", table["lever_gain"]),
                given_figure("usable to", table["tray_evenness_usable"]),
                given_figure(
                    "narrowest width over the throw", table["tray_narrowest_share_of_throw"]
                ),
            ),
            result=Figure(
                name="best driving width",
                value=best.driving_width_m or bench.spreader.driving_width_m,
                unit="m",
                source=_HERE,
            ),
        ),
        Step(
            title="Which lever counts",
            formula="gains at least the least gain and its whole range lies below the evenness "
            "of now, or takes away so much thin ground; where the seed is even enough only a "
            "lever without minutes is named, else the one with the fewest minutes a point",
            inputs=(
                given_figure("least gain", table["lever_gain"]),
                given_figure("least thin ground taken away", table["lever_thin_gain"]),
                given_figure("even enough at", table["tray_evenness_good"]),
            ),
            result=Figure(
                name="levers that count",
                value=", ".join(one.key.value for one in levers if one.verdict == "better")
                or "none",
                unit="",
                source=_HERE,
            ),
        ),
    ]


def _lean(bench: Bench, lot: str) -> list[Figure]:
    seeding = next(one for one in bench.seedings if one.lot == lot)
    return [
        Figure(
            name="middle of the catch from the driving line, right positive",
            value=skew(seeding.pattern).offset_m,
            unit="m",
            source=f"tray test {seeding.test}",
        )
    ]


def _chance_figure(bench: Bench, lot: str) -> Figure:
    seeding = next(one for one in bench.seedings if one.lot == lot)
    width_m = bench.spreader.driving_width_m
    return Figure(
        name="evenness that the chance of single seeds alone would show",
        value=chance_fraction(seeding, width_m=width_m, sets_count=1),
        unit="fraction",
        source=_HERE,
    )


def _loss_step(loss: Loss, after: Ripples) -> Step:
    formulas: dict[Response, str] = {
        "quadratic": "c x evenness^2",
        "exponential": "1 - mean of (1 - exp(-k stand)) / (1 - exp(-k))",
        "plateau": "1 - mean of min(stand, plateau) / plateau",
    }
    return Step(
        title="What unevenness costs in cover (our judgement, not a yield)",
        formula=formulas[loss.response],
        inputs=(
            loss.strength,
            Figure(
                name="evenness after covering",
                value=after.cv_fraction,
                unit="fraction",
                source="worked out above",
            ),
        ),
        result=loss.lost,
    )


def _map_step(farm: Farm, drawn: FieldMap, bench: Bench) -> Step:
    machine = bench.cultivator
    edge = "edge_sd_by_eye" if machine is not None and machine.by_eye else "edge_sd_guided"
    return Step(
        title="The field driven out, its headland left out",
        formula="every pass of both plans with its steering; SD / mean of plots",
        inputs=(
            Figure(name="side of a plot", value=drawn.plot_m, unit="m", source="our judgement"),
            given_figure("how the spreader strays", farm.defaults["edge_sd_guided"]),
            given_figure("how the covering machine strays", farm.defaults[edge]),
            given_figure("seed carried forward", farm.defaults["displacement_forward"]),
            Figure(
                name="evenness of the plots as spread",
                value=drawn.before_cv,
                unit="fraction",
                source=_HERE,
            ),
            Figure(
                name="missed by the covering",
                value=drawn.missed_fraction,
                unit="fraction",
                source=_HERE,
            ),
        ),
        result=Figure(
            name="evenness of the plots after covering",
            value=drawn.after_cv,
            unit="fraction",
            source=_HERE,
        ),
    )
