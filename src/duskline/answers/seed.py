"""Is the lot fit, what rate in bulk, live and bushels, is there enough, and how many loads?"""

from __future__ import annotations

from dataclasses import dataclass

from duskline.answers.working import Figure, Step
from duskline.core.bin import (
    Sufficiency,
    bin_stock,
    bin_volume_m3,
    enough,
    load_sequence,
    loads_count,
    run_out_area_m2,
)
from duskline.core.errors import OutOfRange
from duskline.core.farm import Bin, Farm, Field, Lot, SpreaderNoun
from duskline.core.flow import bucket_fill_s, flow_kg_per_s
from duskline.core.rate import (
    Mix,
    MixPart,
    Rate,
    Shortfall,
    low_side_shortfall,
    mix,
    rate_for_live,
    rate_for_stand,
    shortfall,
)
from duskline.core.seed import (
    Agreement,
    Fitness,
    FitnessLevel,
    FitnessLimits,
    Germination,
    GrainKind,
    Infestation,
    SeedSample,
    fitness,
    germination,
    infested,
    pure_live_seed_fraction,
    seeds_per_kg_counted,
)

__all__ = [
    "BinAnswer",
    "FieldLoad",
    "FlowAnswer",
    "LotAnswer",
    "SeedAnswer",
    "lot_fitness",
    "lot_rate_kg_per_m2",
    "seed_answer",
    "spreader_load_kg",
]

LOW_SIDE_SURE = 0.95
"""The low side of a germination count is the exact one-sided 95 % limit."""
HEAVY = 0.05


@dataclass(frozen=True, kw_only=True, slots=True)
class BinAnswer:
    """Seed on hand of one lot: is it enough, and for which area. [kg], [m2]"""

    lot: str
    mass_kg: float
    mass_low_kg: float
    mass_high_kg: float
    volume_m3: float | None
    sufficiency: Sufficiency
    run_out_if_heavy_m2: float

    @property
    def enough(self) -> bool:
        """Whether the planned rate reaches over all fields of the lot."""
        return self.sufficiency.enough


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldLoad:
    """The seed of one field: which loads serve it and what part of the last. [kg]"""

    field: str
    area_m2: float
    mass_kg: float
    loads: tuple[tuple[int, float, bool], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class FlowAnswer:
    """Gate flow of one spreader, and the seconds it takes to fill a bucket."""

    spreader: str
    lot: str
    flow_kg_per_s: float
    bucket_m3: float
    bucket_s: float | None
    load_kg: float
    load_area_m2: float


@dataclass(frozen=True, kw_only=True, slots=True)
class LotAnswer:
    """Everything about one lot, or a mix of lots.

    Of a mix, ``germination`` and the pure live seed are those of the part with the most seed;
    ``fitness`` is that of the weakest part, named in ``fitness_lot``; ``insects`` those of the
    part with the most; ``bin`` that of the part that runs short first, over all fields that
    draw on it.
    """

    lot: Lot
    germination: Germination | None
    pure_live_seed_fraction: float | None
    pure_live_seed_low_fraction: float | None
    rate: Rate | None
    mix: Mix | None
    bulk_kg_per_m2: float
    density_kg_per_m3: float | None
    floor: Shortfall | None
    low_side: Shortfall | None
    fitness: Fitness | None
    fitness_lot: str
    insects: Infestation | None
    area_m2: float
    bin: BinAnswer | None
    loads_count: float
    fields: tuple[FieldLoad, ...]
    flows: tuple[FlowAnswer, ...]
    working: tuple[Step, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class SeedAnswer:
    """All lots; the first is the one most of the area is sown with."""

    lots: tuple[LotAnswer, ...]

    @property
    def main(self) -> LotAnswer:
        """The lot with the largest area."""
        return max(self.lots, key=lambda answer: answer.area_m2)

    @property
    def good(self) -> bool:
        """Nothing stands against spreading: lots fit, enough of each, floors met."""
        return all(
            (a.fitness is None or a.fitness.tick)
            and (a.bin is None or a.bin.enough)
            and (a.floor is None or a.floor.met)
            for a in self.lots
        )


# --------------------------------------------------------------------------- figures of a lot


def _seeds_per_kg(lot: Lot) -> float | None:
    if not lot.sample_counts:
        return None
    samples = tuple(
        SeedSample(mass_kg=mass, seeds_count=count)
        for mass, count in zip(lot.sample_masses_kg, lot.sample_counts, strict=True)
    )
    return seeds_per_kg_counted(samples).mean_per_kg


def _purity_fraction(lot: Lot) -> float:
    return 1.0 if lot.purity_fraction is None else lot.purity_fraction


def _germination(lot: Lot) -> Germination:
    return germination(
        alive_counts=lot.alive_counts,
        seeds_per_replicate=lot.tested_counts,
        sure_fraction=LOW_SIDE_SURE,
    )


def _lot_rate(lot: Lot) -> Rate:
    """Return the rate of a plain lot from its wish and its tests."""
    counted, wish = _germination(lot), lot.wish
    purity = _purity_fraction(lot)
    live = pure_live_seed_fraction(
        purity_fraction=purity,
        germination_fraction=counted.estimate_fraction,
        hard_fraction=lot.hard_fraction,
    )
    per_kg = _seeds_per_kg(lot)
    if wish.live_kg_per_m2 is not None:
        return rate_for_live(
            live_kg_per_m2=wish.live_kg_per_m2,
            pure_live_seed_fraction=live,
            seeds_per_kg=per_kg,
            bushel_kg=lot.bushel_kg,
        )
    if wish.stand_per_m2 is not None:
        if per_kg is None or wish.emergence_fraction is None:
            raise OutOfRange(f"seeds per pound of {lot.name}", 0.0, 1.0, None)
        return rate_for_stand(
            target_plants_per_m2=wish.stand_per_m2,
            seeds_per_kg=per_kg,
            purity_fraction=purity,
            germination_fraction=counted.estimate_fraction,
            emergence_fraction=wish.emergence_fraction,
            hard_fraction=lot.hard_fraction,
            bushel_kg=lot.bushel_kg,
        )
    if wish.bulk_kg_per_m2 is None:
        raise OutOfRange(f"rate of {lot.name}", 0.0, 1e-5, None)
    return Rate(
        bulk_kg_per_m2=wish.bulk_kg_per_m2,
        pure_live_seed_fraction=live,
        seeds_per_kg=per_kg,
        bushel_kg=lot.bushel_kg,
    )


def _lot_mix(farm: Farm, lot: Lot) -> Mix:
    """Return the mix of a lot's parts; parts without a test weight take the mix's own."""
    parts = []
    for name in lot.parts:
        part = farm.lot(name)
        density = part.density_kg_per_m3 or lot.density_kg_per_m3
        parts.append(MixPart(name=name, rate=_lot_rate(part), density_kg_per_m3=density or 1.0))
    return mix(tuple(parts))


def lot_rate_kg_per_m2(farm: Farm, lot: Lot) -> float:
    """Return the bulk rate of a lot or a mix. [kg/m2]"""
    return _lot_mix(farm, lot).bulk_kg_per_m2 if lot.parts else _lot_rate(lot).bulk_kg_per_m2


def _density_kg_per_m3(farm: Farm, lot: Lot) -> float | None:
    if lot.density_kg_per_m3 is not None:
        return lot.density_kg_per_m3
    if lot.parts and all(farm.lot(name).density_kg_per_m3 for name in lot.parts):
        return _lot_mix(farm, lot).density_kg_per_m3
    return None


def spreader_load_kg(farm: Farm, spreader: SpreaderNoun, lot_name: str | None) -> float:
    """Return the seed in one full load of a spreader with a lot. [kg]

    Raises
    ------
    OutOfRange
        The load is given by volume and the lot has no test weight.
    """
    if spreader.load_kg is not None:
        return spreader.load_kg
    density = _density_kg_per_m3(farm, farm.lot(lot_name))
    if density is None or spreader.hopper_m3 is None:
        raise OutOfRange("test weight of the lot", 0.0, 150.0, 1200.0)
    return spreader.hopper_m3 * density


# --------------------------------------------------------------------------- the answer


def seed_answer(farm: Farm) -> SeedAnswer:
    """Return fitness, rate, bin, loads and flow for every lot that fields are sown with.

    Raises
    ------
    OutOfRange
        A figure of a lot or bin that cannot be true.
    """
    used: dict[str, list[Field]] = {}
    for one in farm.fields:
        used.setdefault(farm.lot(one.lot).name, []).append(one)
    return SeedAnswer(
        lots=tuple(_lot_answer(farm, farm.lot(name), fields) for name, fields in used.items())
    )


def _lot_answer(farm: Farm, lot: Lot, fields: list[Field]) -> LotAnswer:
    area = sum(one.area_m2 for one in fields)
    bulk = lot_rate_kg_per_m2(farm, lot)
    main = _main_part(farm, lot)
    rate = None if lot.parts else _lot_rate(lot)
    counted = _germination(main)
    low_pls = pure_live_seed_fraction(
        purity_fraction=_purity_fraction(main),
        germination_fraction=counted.low_fraction,
        hard_fraction=main.hard_fraction,
    )
    own_rate = _lot_rate(main)
    weakest = min(_plain_lots(farm, lot), key=lambda part: _fitness_order(farm, part))
    floor_wanted = farm.program.live_floor_kg_per_m2 if not lot.parts else None
    spreaders = farm.spreaders
    load = spreader_load_kg(farm, spreaders[0], lot.name) if spreaders else bulk * area
    density = _density_kg_per_m3(farm, lot)
    return LotAnswer(
        lot=lot,
        germination=counted,
        pure_live_seed_fraction=own_rate.pure_live_seed_fraction,
        pure_live_seed_low_fraction=low_pls,
        rate=rate,
        mix=_lot_mix(farm, lot) if lot.parts else None,
        bulk_kg_per_m2=bulk,
        density_kg_per_m3=density,
        floor=shortfall(rate=own_rate, floor_live_kg_per_m2=floor_wanted)
        if floor_wanted is not None
        else None,
        low_side=low_side_shortfall(
            rate=own_rate,
            low_pure_live_seed_fraction=low_pls,
            floor_live_kg_per_m2=floor_wanted,
        ),
        fitness=lot_fitness(farm, weakest),
        fitness_lot=weakest.name,
        insects=_insects(max(_plain_lots(farm, lot), key=_insects_count)),
        area_m2=area,
        bin=_bin_answer(farm, lot),
        loads_count=loads_count(mass_kg=bulk * area, load_kg=load),
        fields=_loads(fields, bulk, load),
        flows=tuple(_flow(farm, spreader, lot, bulk, density) for spreader in spreaders),
        working=_working(farm, lot, main, counted, own_rate),
    )


def _main_part(farm: Farm, lot: Lot) -> Lot:
    """Return the lot itself, or the part of a mix with the most seed in it."""
    return max(_plain_lots(farm, lot), key=lambda part: _lot_rate(part).bulk_kg_per_m2)


def _plain_lots(farm: Farm, lot: Lot) -> tuple[Lot, ...]:
    """Return the lot itself, or the parts of a mix."""
    return tuple(farm.lot(name) for name in lot.parts or (lot.name,))


def _fitness_order(farm: Farm, lot: Lot) -> tuple[bool, int]:
    """Return a key by which the lot that most stands in the way comes first."""
    fit = lot_fitness(farm, lot)
    return fit.tick, -list(FitnessLevel).index(fit.level)


def _insects_count(lot: Lot) -> int:
    return lot.insects.weevils_count + lot.insects.others_count if lot.insects else 0


def lot_fitness(farm: Farm, lot: Lot) -> Fitness:
    """Return what may be done with a plain lot that germinates as it was counted."""
    table = farm.defaults
    agreement = (
        Agreement(agreed_by=lot.agreed_by, agreed_on=lot.agreed_on)
        if lot.agreed_by and lot.agreed_on
        else None
    )
    return fitness(
        germination_fraction=_germination(lot).estimate_fraction,
        limits=FitnessLimits(
            use_fraction=table["germination_to_use"].value,
            ask_fraction=table["germination_to_ask"].value,
            do_not_fraction=table["germination_do_not"].value,
        ),
        agreement=agreement,
    )


def _insects(lot: Lot) -> Infestation | None:
    if lot.insects is None:
        return None
    kinds = {kind.value: kind for kind in GrainKind}
    return infested(
        kind=kinds.get(lot.species.lower(), GrainKind.OTHER),
        weevils_count=lot.insects.weevils_count,
        others_count=lot.insects.others_count,
        mass_kg=lot.insects.sample_kg,
    )


def _stock_mass_kg(stock: Bin, density_kg_per_m3: float, pack: float) -> float:
    """Return the clean seed in one bin or weighed heap. [kg]"""
    if stock.mass_kg is not None:
        return stock.mass_kg * (1.0 - stock.cleaning_loss_fraction)
    return bin_stock(
        volume_m3=_stock_volume_m3(stock),
        test_weight_kg_per_m3=density_kg_per_m3,
        pack_fraction=pack,
        cleaning_loss_fraction=stock.cleaning_loss_fraction,
    ).mass_kg


def _stock_volume_m3(stock: Bin) -> float:
    return bin_volume_m3(
        diameter_m=stock.diameter_m or 0.0,
        wall_depth_m=stock.depth_m or 0.0,
        heap_m=max(0.0, stock.heap_m),
        funnel_m=max(0.0, -stock.heap_m),
    )


def _bin_answer(farm: Farm, lot: Lot) -> BinAnswer | None:
    """Return what is on hand of a lot; of a mix, the part that runs short first."""
    names = dict.fromkeys(s.lot for s in farm.bins if s.lot in {lot.name, *lot.parts})
    answers = [_held_answer(farm, farm.lot(name)) for name in names]
    return min(answers, key=lambda answer: answer.sufficiency.spare_fraction, default=None)


def _held_answer(farm: Farm, held: Lot) -> BinAnswer:
    """Return all bins of one lot together against all fields that draw on them."""
    stocks = [stock for stock in farm.bins if stock.lot == held.name]
    rate = lot_rate_kg_per_m2(farm, held)
    density = _density_kg_per_m3(farm, held) or 0.0
    given = farm.figures.get(f"bin.{held.name}.pack")

    def mass_kg(pack: float | None) -> float:
        return sum(
            _stock_mass_kg(stock, density, stock.pack_fraction if pack is None else pack)
            for stock in stocks
        )

    mass = mass_kg(None)
    measured = [_stock_volume_m3(stock) for stock in stocks if stock.mass_kg is None]
    sown = [farm.lot(one.lot) for one in farm.fields]
    area = sum(
        one.area_m2
        for one, lot in zip(farm.fields, sown, strict=True)
        if held.name in {lot.name, *lot.parts}
    )
    return BinAnswer(
        lot=held.name,
        mass_kg=mass,
        mass_low_kg=mass_kg(given.low if given is not None else None),
        mass_high_kg=mass_kg(given.high if given is not None else None),
        volume_m3=sum(measured) if measured else None,
        sufficiency=enough(mass_kg=mass, rate_kg_per_m2=rate, area_m2=area),
        run_out_if_heavy_m2=run_out_area_m2(
            mass_kg=mass, rate_kg_per_m2=rate, heavy_fraction=HEAVY
        ),
    )


def _loads(fields: list[Field], bulk: float, load_kg: float) -> tuple[FieldLoad, ...]:
    parts = load_sequence(
        area_m2s=tuple(one.area_m2 for one in fields), rate_kg_per_m2=bulk, load_kg=load_kg
    )
    return tuple(
        FieldLoad(
            field=one.name,
            area_m2=one.area_m2,
            mass_kg=one.area_m2 * bulk,
            loads=tuple(
                (part.load_index + 1, part.mass_kg, part.empties)
                for part in parts
                if part.field_index == index
            ),
        )
        for index, one in enumerate(fields)
    )


def _flow(
    farm: Farm, spreader: SpreaderNoun, lot: Lot, bulk: float, density: float | None
) -> FlowAnswer:
    flow = flow_kg_per_s(
        rate_kg_per_m2=bulk,
        driving_width_m=spreader.driving_width_m,
        speed_mps=spreader.speed_mps,
    )
    bucket = farm.defaults["bucket_us" if farm.system == "us" else "bucket_metric"].value
    load = spreader_load_kg(farm, spreader, lot.name)
    return FlowAnswer(
        spreader=spreader.name,
        lot=lot.name,
        flow_kg_per_s=flow,
        bucket_m3=bucket,
        bucket_s=bucket_fill_s(flow_kg_per_s=flow, bucket_m3=bucket, density_kg_per_m3=density)
        if density
        else None,
        load_kg=load,
        load_area_m2=load / bulk,
    )


def _working(farm: Farm, lot: Lot, main: Lot, counted: Germination, rate: Rate) -> tuple[Step, ...]:
    toml = "farm.toml"
    live = Figure(
        name="pure live seed",
        value=rate.pure_live_seed_fraction,
        unit="fraction",
        source="worked out here",
    )
    steps = [
        Step(
            title=f"{main.name}: germination",
            formula="alive / tested; low side: exact one-sided 95 % limit of the count",
            inputs=(
                Figure(name="alive", value=counted.alive_count, unit="count", source=toml),
                Figure(name="tested", value=counted.seeds_count, unit="count", source=toml),
            ),
            result=Figure(
                name="germination",
                value=counted.estimate_fraction,
                unit="fraction",
                source="worked out here",
                low=counted.low_fraction,
                high=counted.interval_high_fraction,
            ),
        ),
        Step(
            title=f"{main.name}: pure live seed",
            formula="purity x (germination + hard seed counted as live)",
            inputs=(
                Figure(name="purity", value=_purity_fraction(main), unit="fraction", source=toml),
                Figure(
                    name="germination",
                    value=counted.estimate_fraction,
                    unit="fraction",
                    source="worked out above",
                ),
                Figure(name="hard seed", value=main.hard_fraction, unit="fraction", source=toml),
            ),
            result=live,
        ),
        _rate_step(main, rate, live),
    ]
    if lot.parts:
        blend = _lot_mix(farm, lot)
        steps.append(
            Step(
                title=f"{lot.name}: rate of the mix",
                formula="sum of the parts",
                inputs=tuple(
                    Figure(
                        name=part.name,
                        value=part.rate.bulk_kg_per_m2,
                        unit="kg/m2",
                        source="worked out as above",
                    )
                    for part in blend.parts
                ),
                result=Figure(
                    name="bulk rate",
                    value=blend.bulk_kg_per_m2,
                    unit="kg/m2",
                    source="worked out here",
                ),
            )
        )
    answer = _bin_answer(farm, lot)
    if answer is not None:
        steps.append(_bin_step(farm, answer))
    return tuple(steps)


def _rate_step(lot: Lot, rate: Rate, live: Figure) -> Step:
    toml, wish = "farm.toml", lot.wish
    if wish.stand_per_m2 is not None:
        formula = "stand / (seeds per mass x pure live seed x emergence)"
        inputs: tuple[Figure, ...] = (
            Figure(name="stand wanted", value=wish.stand_per_m2, unit="per m2", source=toml),
            Figure(
                name="emergence",
                value=wish.emergence_fraction or 1.0,
                unit="fraction",
                source=toml,
            ),
            Figure(
                name="seeds per mass",
                value=rate.seeds_per_kg or 0.0,
                unit="per kg",
                source="samples in farm.toml",
            ),
            live,
        )
    elif wish.live_kg_per_m2 is not None:
        formula = "live rate / pure live seed"
        inputs = (
            Figure(name="live rate", value=wish.live_kg_per_m2, unit="kg/m2", source=toml),
            live,
        )
    else:
        formula = "as stated; live = bulk x pure live seed"
        inputs = (
            Figure(name="bulk rate", value=wish.bulk_kg_per_m2 or 0.0, unit="kg/m2", source=toml),
            live,
        )
    return Step(
        title=f"{lot.name}: rate",
        formula=formula,
        inputs=inputs,
        result=Figure(
            name="bulk rate", value=rate.bulk_kg_per_m2, unit="kg/m2", source="worked out here"
        ),
    )


def _bin_step(farm: Farm, answer: BinAnswer) -> Step:
    inputs = []
    for name, place in (("pack", "pack"), ("cleaning loss", "cleaning_loss")):
        given = farm.figures.get(f"bin.{answer.lot}.{place}")
        if given is not None:
            inputs.append(
                Figure(
                    name=name,
                    value=given.value,
                    unit=given.unit,
                    source=given.source,
                    low=given.low,
                    high=given.high,
                )
            )
    if answer.volume_m3 is not None:
        inputs.insert(
            0,
            Figure(name="volume", value=answer.volume_m3, unit="m3", source="measured bin"),
        )
    return Step(
        title=f"{answer.lot}: seed on hand",
        formula="volume x test weight x (1 + pack) x (1 - cleaning loss)",
        inputs=tuple(inputs),
        result=Figure(
            name="clean seed",
            value=answer.mass_kg,
            unit="kg",
            source="worked out here",
            low=answer.mass_low_kg if answer.mass_low_kg < answer.mass_kg else None,
            high=answer.mass_high_kg if answer.mass_high_kg > answer.mass_kg else None,
        ),
    )
