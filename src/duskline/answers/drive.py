"""How is one field driven: by which heading, in which order, how far from which edge?

The spreader goes along a side of the field unless the slope or the wind says otherwise; the
covering machines go at an angle to it. Edges with a neighbour to keep seed from hold it off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import degrees, hypot, isnan, radians
from zoneinfo import ZoneInfo

import numpy as np
import shapely

from duskline.answers.windows import DayWindows
from duskline.answers.working import Figure, Step
from duskline.core.angle import (
    Angle,
    AnglePrice,
    Counted,
    Joints,
    advised_angle_rad,
    near_whole_multiple,
)
from duskline.core.angle import angle_price as price_of_angle
from duskline.core.errors import FieldTooNarrow
from duskline.core.farm import Cultivator, Edge, Farm, Field, Given, SpreaderNoun
from duskline.core.lie import HeadingKept, Lie, Wind, contour_rad, keep_heading, off_line_rad
from duskline.core.light import local_midnight_at
from duskline.core.outline import Edge as Side
from duskline.core.outline import FloatArray, Outline, outlines_of, thinned
from duskline.core.passes import (
    Driving,
    PassPlan,
    candidate_headings_rad,
    plan_covering,
    plan_passes,
    plans_along,
    with_marks,
)
from duskline.core.sides import (
    EdgeDose,
    FirstPassFrom,
    compass_rad,
    edge_dose,
    first_pass_from_edge_m,
    reach,
    sides_facing,
    wind_shift_m,
)
from duskline.core.trays import TrayPattern, Way, mean_pattern
from duskline.core.turns import TurnRule

__all__ = [
    "EdgePlan",
    "FieldPlan",
    "angle_asked_rad",
    "angle_cost",
    "cover_driving",
    "drive_field",
    "ground_planned",
    "joints_of",
    "spread_driving",
    "spreading_wind",
]

# Headings driven through when slope or wind may outrank minutes.
_MOST_CHOICES = 8
_MOST_GATES = 3
# Passes beside a flagged edge keep their distance but for rounding. [m]
_ALONGSIDE_M = 0.005
_ROUNDED = 1.0 + 1e-9
# Two hands that lie this near the contour alike are as good. [rad]
_SAME_GRADE_RAD = radians(0.5)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class EdgePlan:
    """What one flagged edge asks of the spreader.

    Attributes
    ----------
    edge
        As the farmer wrote it.
    sides
        The sides of the outline it means; none where the word is no compass word or no side
        faces there.
    understood
        Whether the word is a compass word.
    throw_m, throw_source
        How far seed flies to one side, and where that comes from. [m]
    first
        Where the middle of the first spreader pass runs.
    blown_m
        How far the wind of the hours carries the throw towards the edge. [m]
    dose
        What lands beyond and how thin the strip along it stays; None without trays.
    row_too_short
        Whether the end trays caught so much that the throw reaches beyond them.
    """

    edge: Edge
    sides: tuple[Side, ...]
    understood: bool
    throw_m: float
    throw_source: str
    first: FirstPassFrom
    blown_m: float
    dose: EdgeDose | None
    row_too_short: bool


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FieldPlan:
    """How one field is driven by every machine.

    Attributes
    ----------
    outline
        The ground to drive: the field less what is left out of it; of an outline with very many
        corners a thinned one.
    thinned_within_m
        How far that may stray from the outline as drawn; 0 where it is the same. [m]
    spread_outline
        The ground the spreader's driving width may touch, flagged edges held off.
    spreads, covers
        The plan of each spreader and of each covering machine, by its name.
    edges
        What each flagged edge asks.
    kept
        Which heading slope and wind left, and the minutes given up; None where minutes decided.
    angle
        The covering angle advised for the field's runs.
    angle_rad
        The angle driven. [rad]
    gate_m
        The gate the machines come in by, x and y; None where none is stated. [m]
    """

    name: str
    outline: Outline
    spread_outline: Outline
    spreads: Mapping[str, PassPlan]
    covers: Mapping[str, PassPlan]
    edges: tuple[EdgePlan, ...]
    kept: HeadingKept | None
    angle: Angle | None
    angle_rad: float
    gate_m: tuple[float, float] | None
    working: tuple[Step, ...]
    thinned_within_m: float = 0.0

    @property
    def unseeded_m2(self) -> float:
        """Ground that the spreader's driving width is held off, at flagged edges. [m2]"""
        return self.outline.area_m2 - self.spread_outline.area_m2

    @property
    def spread(self) -> PassPlan:
        """The first spreader's plan."""
        return next(iter(self.spreads.values()))

    @property
    def cover(self) -> PassPlan | None:
        """The first covering machine's plan; None where none is at work."""
        return next(iter(self.covers.values()), None)


def spread_driving(farm: Farm, spreader: SpreaderNoun) -> Driving:
    """Return how a spreader drives: it has guidance, and does the headland first.

    Source
    ------
    Headland first: common practice, no source; the turns then run over ground that is done.
    """
    speed = farm.defaults["turn_speed"].value
    return Driving(
        driving_width_m=spreader.driving_width_m,
        speed_mps=spreader.speed_mps,
        turn=TurnRule(
            radius_m=spreader.turning_radius_m,
            speed_mps=min(speed, spreader.speed_mps),
            fixed_s=farm.defaults["turn_fixed_time"].value,
        ),
        swing_m=farm.defaults["spreader_half_body"].value,
        headland_first=True,
    )


def cover_driving(farm: Farm, machine: Cultivator) -> Driving:
    """Return how a covering machine drives: the headland last, to work out its own turns.

    Source
    ------
    Headland last: common practice, no source.
    """
    speed = farm.defaults["turn_speed"].value
    return Driving(
        driving_width_m=machine.working_width_m,
        width_m=max(machine.width_m, machine.working_width_m),
        speed_mps=machine.speed_mps,
        turn=TurnRule(
            radius_m=machine.turning_radius_m,
            speed_mps=min(speed, machine.speed_mps),
            fixed_s=farm.defaults["turn_fixed_time"].value,
            reverses=machine.reverses,
            trailing_m=machine.trailing_m,
            gear_s=farm.defaults["turn_gear_change"].value,
        ),
        swing_m=0.5 * machine.width_m,
        by_eye=machine.by_eye,
    )


def drive_field(
    farm: Farm,
    field: Field,
    *,
    spreaders: Sequence[SpreaderNoun],
    machines: Sequence[Cultivator],
    wind: Wind | None = None,
    angle_rad: float | None = None,
    to_m: tuple[float, float] | None = None,
) -> FieldPlan:
    """Return how one field is driven.

    Parameters
    ----------
    farm
        The farm folder.
    field
        A field with an outline.
    spreaders, machines
        Spreaders, one at least, and covering machines.
    wind
        Wind of the spreading hours, where it is known.
    angle_rad
        Covering heading off the spread heading; None for the farm's, or the one advised. [rad]
    to_m
        Where the machines go afterwards, in the field's plane. [m]

    Raises
    ------
    FieldTooNarrow
        A machine fits nowhere between the edges.
    ValueError
        A field without an outline.
    """
    ground = field.ground
    if ground is None:
        raise ValueError(f"{field.name} has no outline")
    drawn = ground
    ground, thinned_within_m = ground_planned(farm, drawn)
    edges = _edge_plans(farm, field, ground, spreaders[0], wind)
    spreads: dict[str, PassPlan] = {}
    made: dict[tuple[Driving, tuple[float, ...]], PassPlan] = {}
    kept, gate_m, spread_outline = None, None, ground
    for spreader in spreaders:
        own = (
            edges if spreader is spreaders[0] else _edge_plans(farm, field, ground, spreader, wind)
        )
        driving = spread_driving(farm, spreader)
        key = driving, tuple(edge.first.from_edge_m for edge in own)
        if key not in made:
            outline = _held_off(ground, own, spreader)
            if not spreads:
                spread_outline = outline
                plan, kept, gate_m = _by_gate(farm, field, outline, driving, wind, to_m)
            else:
                # All spreaders of a field drive along one line, or covering could not cross it.
                plan = plan_covering(
                    outline,
                    spread=next(iter(spreads.values())),
                    angles_rad=(0.0,),
                    driving=driving,
                    straight_within_m=farm.defaults["straight_within"].value,
                    from_m=gate_m,
                    to_m=to_m,
                )
            kept_back = _kept_back(plan, ground, own)
            if kept_back is not plan:
                # Cut back, and planned on ground held off: its marks are told from the field's.
                kept_back = with_marks(
                    kept_back, ground, straight_within_m=farm.defaults["straight_within"].value
                )
            made[key] = kept_back
        spreads[spreader.name] = made[key]
    first = next(iter(spreads.values()))
    advised = _advised(farm, first)
    turned_rad = angle_asked_rad(farm, advised) if angle_rad is None else angle_rad
    covers = _covers(farm, field, ground, first, machines, turned_rad, gate_m, to_m)
    return FieldPlan(
        name=field.name,
        outline=ground,
        spread_outline=spread_outline,
        spreads=spreads,
        covers=covers,
        edges=edges,
        kept=kept,
        angle=advised,
        angle_rad=turned_rad,
        gate_m=gate_m,
        working=(
            *_thin_steps(farm, field.name, drawn, ground, thinned_within_m),
            *(
                _step(farm, field.name, machine, plan, first)
                for machine, plan in (*spreads.items(), *covers.items())
            ),
        ),
        thinned_within_m=thinned_within_m,
    )


def ground_planned(farm: Farm, drawn: Outline) -> tuple[Outline, float]:
    """Return the outline to plan on, and how far it may stray from the one drawn [m].

    Notes
    -----
    The same outline unless it has very many corners, as one walked with a receiver has. The
    distance doubles while too many are left, up to the high end of its default.
    """
    most, area = farm.defaults["outline_thin_from"], farm.defaults["outline_thin_area"]
    within = farm.defaults["outline_thin_within"]
    if drawn.corners_count <= most.value:
        return drawn, 0.0
    planned, strays_m, within_m = drawn, 0.0, within.value
    while within_m <= (within.high or within.value) * _ROUNDED:
        thin = thinned(drawn, within_m=within_m, area_within_fraction=area.value)
        if thin.corners_count < planned.corners_count:
            planned, strays_m = thin, within_m
        if planned.corners_count <= most.value:
            break
        within_m *= 2.0
    return planned, strays_m


def angle_asked_rad(farm: Farm, advised: Angle | None) -> float:
    """Return the farm's own covering angle, or the one advised for the runs. [rad]"""
    given = farm.figures.get("day.turn_angle")
    if advised is None or (given is not None and not given.is_default):
        return farm.rules.turn_angle_rad
    return advised.best_rad


def angle_cost(farm: Farm, plan: FieldPlan, machine: str) -> AnglePrice | None:
    """Return what turning the covering costs one machine over driving along the spread passes."""
    turned = plan.covers[machine]
    if not turned.passes_count or turned.only_strips:
        return None
    plain = plan_covering(
        plan.outline,
        spread=plan.spread,
        angles_rad=(0.0,),
        driving=turned.driving,
        straight_within_m=farm.defaults["straight_within"].value,
        from_m=plan.gate_m,
    )
    if not plain.passes_count or plain.only_strips:
        return None
    return price_of_angle(
        plain=Counted(passes_count=plain.passes_count, work_s=plain.work_s),
        turned=Counted(passes_count=turned.passes_count, work_s=turned.work_s),
        noise_fraction=farm.defaults["angle_noise"].value,
    )


def joints_of(farm: Farm, plan: FieldPlan, machine: Cultivator) -> Joints | None:
    """Return whether the covering joints pile up on one place of the spread bands."""
    cover, spread = plan.covers[machine.name], plan.spread
    if not cover.passes_count or not spread.passes_count or cover.only_strips:
        return None
    sd = farm.defaults["edge_sd_by_eye" if machine.by_eye else "edge_sd_guided"].value
    return near_whole_multiple(
        spread_driving_width_m=plan.spread.driving.driving_width_m,
        cover_spacing_m=machine.working_width_m,
        across_m=max(cover.passes_count * machine.working_width_m, machine.working_width_m),
        run_length_m=float(np.median(cover.pass_lengths_m)),
        angle_rad=off_line_rad(cover.heading_rad, spread.heading_rad),
        limit_fraction=farm.defaults["joint_pile_limit"].value,
        drift_sd_m=sd if machine.by_eye else 0.0,
    )


def spreading_wind(farm: Farm, on: date, windows: DayWindows) -> Wind | None:
    """Return the mean wind of a date's spreading hours; None where no forecast says.

    Source
    ------
    Derived here: the vector mean, which is what carries seed to one side on the whole.
    """
    forecast = farm.forecast
    if forecast is None:
        return None
    start_at = local_midnight_at(on, ZoneInfo(farm.time_zone))
    blown: list[tuple[float, float]] = []
    for hour_at, speed, from_deg in zip(
        forecast.hours_at,
        forecast.wind_mps.tolist(),
        forecast.wind_from_deg.tolist(),
        strict=True,
    ):
        begins_s = (hour_at - start_at).total_seconds()
        if not isnan(from_deg) and any(
            opens_s < begins_s + 3600.0 and begins_s < closes_s
            for opens_s, closes_s in windows.spread_intervals_s
        ):
            line = radians(90.0 - from_deg)
            blown.append((speed * np.cos(line), speed * np.sin(line)))
    if not blown:
        return None
    east, north = np.mean(blown, axis=0).tolist()
    return Wind(line_rad=float(np.arctan2(north, east)), speed_mps=hypot(east, north))


# --------------------------------------------------------------------------- edges


def _pattern(farm: Farm, field: Field) -> TrayPattern | None:
    """Return the pattern of the field's lot; of a mix the one that throws farthest."""
    lot = farm.lot(field.lot)
    named = [farm.lot(name).trays for name in (lot.name, *lot.parts)]
    tests = [farm.trays[name] for name in named if name is not None and name in farm.trays]
    if not tests and "trays.csv" in farm.trays:
        tests = [farm.trays["trays.csv"]]
    patterns = [mean_pattern(test) for test in tests]
    return max(patterns, key=lambda one: reach(one).safe_m, default=None)


def _throw(
    farm: Farm, spreader: SpreaderNoun, pattern: TrayPattern | None
) -> tuple[float, str, bool]:
    """Return how far seed flies to one side, where that comes from, and whether it was cut off."""
    if spreader.throw_m is not None:
        return spreader.throw_m, "farm.toml", False
    if pattern is not None:
        thrown = reach(pattern)
        cut = thrown.end_share_fraction > farm.defaults["tray_edge_share"].value
        return thrown.safe_m, "the tray test", cut
    share = farm.defaults["throw_share_of_width"]
    return (share.high or share.value) * spreader.driving_width_m, share.source, False


def _edge_plans(
    farm: Farm, field: Field, ground: Outline, spreader: SpreaderNoun, wind: Wind | None
) -> tuple[EdgePlan, ...]:
    """Return what every flagged edge of the field asks of the spreader."""
    if not field.edges:
        return ()
    pattern = _pattern(farm, field)
    throw_m, source, cut = _throw(farm, spreader, pattern)
    found = []
    for edge in field.edges:
        match = sides_facing(
            ground, side=edge.side, straight_within_m=farm.defaults["straight_within"].value
        )
        off = farm.defaults[f"edge_off_{edge.kind.replace(' ', '_')}"].value
        blown_m = _blown_m(farm, match.sides, wind)
        first = first_pass_from_edge_m(
            throw_m=throw_m,
            kind=edge.kind,
            off_m=off if edge.off_m is None else edge.off_m,
            driving_width_m=spreader.driving_width_m,
            wind_shift_m=blown_m,
        )
        dose = None
        if pattern is not None:
            dose = edge_dose(
                pattern,
                driving_width_m=spreader.driving_width_m,
                first_pass_m=first.from_edge_m,
                way=Way.BACK_AND_FORTH,
                thin_below_fraction=farm.defaults["edge_thin_below"].value,
                wind_shift_m=blown_m,
            )
        found.append(
            EdgePlan(
                edge=edge,
                sides=match.sides,
                understood=match.understood,
                throw_m=throw_m,
                throw_source=source,
                first=first,
                blown_m=blown_m,
                dose=dose,
                row_too_short=cut,
            )
        )
    return tuple(found)


def _blown_m(farm: Farm, sides: Sequence[Side], wind: Wind | None) -> float:
    """Return how far the wind carries the throw towards the worst of some sides; never back. [m]"""
    if wind is None:
        return 0.0
    shift = farm.defaults["throw_shift_per_wind"].value
    blown = [
        wind_shift_m(
            side=side,
            wind_from_rad=wind.line_rad,
            wind_mps=wind.speed_mps,
            shift_m_per_mps=shift,
        )
        for side in sides
    ]
    return max([0.0, *blown])


def _held_off(ground: Outline, edges: Sequence[EdgePlan], spreader: SpreaderNoun) -> Outline:
    """Return the ground half a driving width from which the spreader may drive everywhere.

    Raises
    ------
    FieldTooNarrow
        The flagged edges leave nothing.
    """
    half_m = 0.5 * spreader.driving_width_m
    strips = [
        strip
        for plan in edges
        for strip in _along_sides(ground, plan.sides, plan.first.from_edge_m - half_m)
    ]
    if not strips:
        return ground
    left = outlines_of(shapely.difference(ground.shape, shapely.union_all(strips)))
    if not left:
        raise FieldTooNarrow(width_m=spreader.driving_width_m)
    return left[0]


def _kept_back(plan: PassPlan, ground: Outline, edges: Sequence[EdgePlan]) -> PassPlan:
    """Return the plan with the ends of runs and legs cut back from flagged edges.

    Passes along an edge keep their distance by the ground they were planned on; those that run
    up to it must stop short of it as well.
    """
    strips = [
        strip
        for edge in edges
        for strip in _along_sides(ground, edge.sides, edge.first.from_edge_m - _ALONGSIDE_M)
    ]
    if not strips:
        return plan
    shut = shapely.union_all(strips)
    shapely.prepare(shut)
    runs = [_cut_back(run_m, shut) for run_m in plan.passes_m]
    legs = [_cut_back(leg.path_m, shut) for leg in plan.rounds.legs]
    before_m = float(plan.pass_lengths_m.sum()) + plan.rounds_length_m
    cut = replace(
        plan,
        passes_m=np.asarray([run_m[[0, -1]] for run_m in runs]).reshape(-1, 2, 2),
        rounds=replace(
            plan.rounds,
            legs=tuple(
                replace(leg, path_m=path_m)
                for leg, path_m in zip(plan.rounds.legs, legs, strict=True)
            ),
        ),
    )
    after_m = float(cut.pass_lengths_m.sum()) + cut.rounds_length_m
    return replace(cut, work_s=plan.work_s - (before_m - after_m) / plan.driving.speed_mps)


def _cut_back(path_m: FloatArray, shut: shapely.Geometry) -> FloatArray:
    """Return the longest stretch of a path outside some ground; the whole path where none is."""
    line = shapely.LineString(path_m)
    if not shapely.intersects(shut, line):
        return path_m
    pieces = [
        piece
        for piece in shapely.get_parts(shapely.difference(line, shut))
        if piece.geom_type == "LineString" and piece.length > 0.0
    ]
    if not pieces:
        # Nothing is left to drive: a hair of it stays, so that runs keep their numbers.
        hair_m: FloatArray = np.stack([path_m[0], path_m[0] + 1e-6 * (path_m[1] - path_m[0])])
        return hair_m
    longest = max(pieces, key=lambda piece: piece.length)
    kept_m: FloatArray = shapely.get_coordinates(longest)
    return kept_m


def _along_sides(ground: Outline, sides: Sequence[Side], depth_m: float) -> list[shapely.Polygon]:
    """Return the ground within a depth of some sides, every bend of them followed."""
    if depth_m <= 0.0:
        return []
    return [
        shapely.LineString([side.start_m, side.end_m]).buffer(depth_m, quad_segs=32)
        for side in _as_drawn(ground, sides)
    ]


def _as_drawn(ground: Outline, sides: Sequence[Side]) -> list[Side]:
    """Return the drawn stretches of straightened sides, every bend kept."""
    corners = ground.exterior_m.tolist()
    count = len(corners)
    drawn = []
    for side in sides:
        steps = (side.end_index - side.start_index) % count or count
        for step in range(steps):
            at, after = (side.start_index + step) % count, (side.start_index + step + 1) % count
            drawn.append(
                Side(
                    start_index=at,
                    end_index=after,
                    start_m=(corners[at][0], corners[at][1]),
                    end_m=(corners[after][0], corners[after][1]),
                )
            )
    return drawn


# --------------------------------------------------------------------------- headings


def _by_gate(
    farm: Farm,
    field: Field,
    outline: Outline,
    driving: Driving,
    wind: Wind | None,
    to_m: tuple[float, float] | None,
) -> tuple[PassPlan, HeadingKept | None, tuple[float, float] | None]:
    """Return the spreader's plan by the gate that makes it quickest, and that gate."""
    gates = field.gates_m[:_MOST_GATES] or (None,)
    found = [
        (*_spread_plan(farm, field, outline, driving, wind, gate_m, to_m), gate_m)
        for gate_m in gates
    ]
    return min(found, key=lambda one: one[0].work_s)


def _lie(field: Field) -> Lie:
    downhill_rad = None if field.downhill_to is None else compass_rad(field.downhill_to)
    return Lie(
        erodible=field.erodible, slope_fraction=field.slope_fraction, downhill_rad=downhill_rad
    )


def _spread_plan(
    farm: Farm,
    field: Field,
    outline: Outline,
    driving: Driving,
    wind: Wind | None,
    gate_m: tuple[float, float] | None,
    to_m: tuple[float, float] | None,
) -> tuple[PassPlan, HeadingKept | None]:
    """Return the spreader's plan, and which heading was kept where more than minutes counts."""
    within_m = farm.defaults["straight_within"].value
    fastest = plan_passes(
        outline, driving=driving, straight_within_m=within_m, from_m=gate_m, to_m=to_m
    )
    lie = _lie(field)
    blows = wind is not None and wind.speed_mps >= farm.defaults["wind_direction_matters"].value
    limit = farm.defaults["slope_that_matters"].value
    slopes = field.slope_fraction is not None and field.slope_fraction >= limit
    if not (blows or field.erodible or slopes):
        return fastest, None
    # The whole field along one heading: its parts could not all lie well.
    headings = [
        fastest.heading_rad,
        *candidate_headings_rad(
            outline, driving_width_m=driving.driving_width_m, straight_within_m=within_m
        ),
    ][:_MOST_CHOICES]
    if lie.downhill_rad is not None:
        headings.append(contour_rad(lie.downhill_rad))
    plans = plans_along(
        outline,
        headings_rad=headings,
        driving=driving,
        straight_within_m=within_m,
        from_m=gate_m,
        to_m=to_m,
    )
    kept = keep_heading(
        headings_rad=headings,
        work_s=[plan.work_s for plan in plans],
        lie=lie,
        wind=wind,
        slope_limit_fraction=farm.defaults["slope_that_matters"].value,
        contour_within_rad=farm.defaults["contour_within"].value,
        wind_limit_mps=farm.defaults["wind_direction_matters"].value,
        wind_within_rad=farm.defaults["along_wind_within"].value,
    )
    if not kept.reasons:
        return (fastest, None) if len(fastest.blocks) == 1 else (plans[kept.index], None)
    return plans[kept.index], kept


def _advised(farm: Farm, spread: PassPlan) -> Angle | None:
    """Return the covering angle for the field's runs; None where rounds alone do it."""
    if not len(spread.passes_m):
        return None
    bands, limits = farm.defaults["angle_bands"], farm.defaults["turn_angle"]
    return advised_angle_rad(
        run_lengths_m=spread.pass_lengths_m,
        spread_driving_width_m=spread.driving.driving_width_m,
        bands_low_count=bands.low or bands.value,
        bands_best_count=bands.value,
        bands_high_count=bands.high or bands.value,
        narrowest_rad=limits.low or limits.value,
        widest_rad=limits.high or limits.value,
    )


def _covers(
    farm: Farm,
    field: Field,
    outline: Outline,
    spread: PassPlan,
    machines: Sequence[Cultivator],
    angle_rad: float,
    gate_m: tuple[float, float] | None,
    to_m: tuple[float, float] | None,
) -> dict[str, PassPlan]:
    """Return each covering machine's plan; all of them drive along one heading.

    The first machine chooses the side to turn to. Two machines in one field must not cross.
    """
    within_m = farm.defaults["straight_within"].value
    covers: dict[str, PassPlan] = {}
    signed_rad = None
    for machine in machines:
        driving = cover_driving(farm, machine)
        choices = _turns(farm, field, spread, angle_rad) if signed_rad is None else (signed_rad,)
        plan = plan_covering(
            outline,
            spread=spread,
            angles_rad=choices,
            driving=driving,
            straight_within_m=within_m,
            from_m=gate_m,
            to_m=to_m,
        )
        if signed_rad is None:
            off_rad = plan.blocks[0].heading_rad - spread.blocks[0].heading_rad
            signed_rad = min(choices, key=lambda one: abs(np.sin(off_rad - one)))
        covers[machine.name] = plan
    return covers


def _turns(farm: Farm, field: Field, spread: PassPlan, angle_rad: float) -> tuple[float, ...]:
    """Return to which hand the covering may turn: where the ground washes, to the leveler one."""
    lie = _lie(field)
    slope = lie.slope_fraction
    matters = lie.erodible or (
        slope is not None and slope >= farm.defaults["slope_that_matters"].value
    )
    both = (angle_rad, -angle_rad)
    if lie.downhill_rad is None or not matters:
        return both
    level_rad = contour_rad(lie.downhill_rad)
    left, right = (off_line_rad(spread.heading_rad + turn, level_rad) for turn in both)
    if abs(left - right) < _SAME_GRADE_RAD:
        return both
    return both[:1] if left < right else both[1:]


# --------------------------------------------------------------------------- working


def _thin_steps(
    farm: Farm, name: str, drawn: Outline, planned: Outline, within_m: float
) -> tuple[Step, ...]:
    """Return the working of the outline planned on, where it is not the one drawn."""
    if planned is drawn:
        return ()
    most, area = farm.defaults["outline_thin_from"], farm.defaults["outline_thin_area"]
    within, here = farm.defaults["outline_thin_within"], "worked out here"
    return (
        Step(
            title=f"{name}: outline planned on",
            formula="corners that lie in line within a distance are left out; acres are those of "
            "the outline as drawn",
            inputs=(
                Figure(name="corners drawn", value=drawn.corners_count, unit="count", source=here),
                _given("planned with fewer from", most, most.value),
                _given("may stray by", within, within_m),
                _given("area may differ by", area, area.value),
                Figure(name="area as drawn", value=drawn.area_m2, unit="m2", source=here),
                Figure(name="area as planned", value=planned.area_m2, unit="m2", source=here),
            ),
            result=Figure(
                name="corners planned on", value=planned.corners_count, unit="count", source=here
            ),
        ),
    )


def _step(farm: Farm, name: str, machine: str, plan: PassPlan, spread: PassPlan) -> Step:
    """Return the working of one machine's passes in one field."""
    driving, here = plan.driving, "worked out here"
    turn_speed, fixed = farm.defaults["turn_speed"], farm.defaults["turn_fixed_time"]
    inputs = [
        Figure(name="from pass to pass", value=driving.driving_width_m, unit="m", source=here),
        Figure(name="speed", value=driving.speed_mps, unit="m/s", source="farm.toml"),
        Figure(name="turning radius", value=driving.turn.radius_m, unit="m", source="farm.toml"),
        _given("speed in a turn", turn_speed, driving.turn.speed_mps),
        _given("lift and lower at a turn", fixed, fixed.value),
        Figure(name="room for a turn", value=driving.room_m(plan.order), unit="m", source=here),
        Figure(name="depth of the headland", value=plan.headland_m, unit="m", source=here),
        Figure(name="headland rounds", value=plan.rounds_count, unit="count", source=here),
        Figure(
            name="passes",
            value=plan.passes_count,
            unit="count",
            source="extent across the heading / width, rounded up",
        ),
        Figure(name="runs", value=len(plan.passes_m), unit="count", source=here),
        Figure(
            name="driven in passes", value=float(plan.pass_lengths_m.sum()), unit="m", source=here
        ),
        Figure(name="driven in rounds", value=plan.rounds_length_m, unit="m", source=here),
        Figure(name="turning, all together", value=plan.turning_s, unit="s", source=here),
        Figure(
            name="time along the longest side", value=plan.longest_edge_s, unit="s", source=here
        ),
    ]
    if plan is not spread:
        off = abs(degrees(plan.heading_rad - spread.heading_rad)) % 180.0
        inputs.append(
            Figure(
                name="off the spread heading",
                value=radians(min(off, 180.0 - off)),
                unit="rad",
                source="turn_angle in farm.toml, or the angle advised for the runs",
            )
        )
    return Step(
        title=f"{name}: {machine}",
        formula="(passes + rounds) / speed + turning; least of the headings along sides",
        inputs=tuple(inputs),
        result=Figure(name="time in the field", value=plan.work_s, unit="s", source=here),
    )


def _given(name: str, given: Given, value: float) -> Figure:
    return Figure(
        name=name,
        value=value,
        unit=given.unit,
        source=given.source,
        low=given.low,
        high=given.high,
    )
