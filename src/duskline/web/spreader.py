"""The Spreader page: how wide may we drive, what must run through the gate, is the gate right?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from duskline.answers.day import DayQuestion, average_area_by_width_m2
from duskline.answers.seed import (
    FlowAnswer,
    LotAnswer,
    SeedAnswer,
    lot_rate_kg_per_m2,
    seed_answer,
    spreader_load_kg,
)
from duskline.answers.trays import (
    AskedWidth,
    MixedWidth,
    SpreadingWork,
    TrayAnswer,
    answer_trays,
    mixed_lots,
)
from duskline.core.errors import DusklineError
from duskline.core.farm import Farm, Lot
from duskline.core.trays import TrayTest, mean_pattern, whole_widths_m
from duskline.defaults import defaults
from duskline.draw import evenness_chart, tray_strip
from duskline.draw.strings import Language
from duskline.units import System, show, to_display
from duskline.web.desk import Desk
from duskline.web.editing import edit_sections
from duskline.web.render import Reader, drawing, page, reader_of
from duskline.web.seed import LONGEST_TEXT, quantity
from duskline.words import seed as seed_words
from duskline.words import trays as words
from duskline.words.errors import sentences

__all__ = ["router"]

router = APIRouter()
PICTURES = {"for-phone": (350.0, 300.0), "for-desk": (760.0, 340.0)}
MOST_PICTURES = 3
"""More tests than that show their table only: a page stays light."""
BUCKETS: dict[System, str] = {"us": "5 gal", "metric": "20 L"}


@router.get("/spreader", response_class=HTMLResponse, include_in_schema=False)
def spreader_page(
    request: Request, lot: str = "", machine: str = "", load: str = "", did: str = ""
) -> HTMLResponse:
    """Show the widest driving width that holds, the gate's card, and the first load's check."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    system = reader.system
    seed = desk.answer(
        ("seed", system), lambda: seed_answer(replace(farm, system=system)), of_log=False
    )
    seeds = desk.answer(("trays",), lambda: _seeds(farm), of_log=False)
    today = desk.now(farm).date()
    costs = desk.answer(
        ("tray costs", today),
        lambda: [_day_costs(farm, one, DayQuestion(on=today)) for one in seeds],
    )
    blocks = [
        _block(one, areas, farm, reader, index)
        for index, (one, areas) in enumerate(zip(seeds, costs, strict=True))
    ]
    return page(
        request,
        desk,
        "spreader.html",
        here="spreader",
        title="Spreader",
        farm=farm,
        blocks=blocks,
        untested=_untested(farm, seeds),
        how_to=words.how_to_lines(system),
        limit=words.limit_words(system),
        cards=_cards(farm, seed, reader),
        check=_check(farm, seed, reader, lot=lot, machine=machine, load=load, did=did),
        cautions=_cautions(farm, reader),
        edit=edit_sections(desk, "spreader", system),
    )


# --------------------------------------------------------------------------- tests and answers


@dataclass(frozen=True, kw_only=True, slots=True)
class Seeds:
    """What is spread together, its tray tests answered, and the width that holds for all of it.

    ``tests``, ``files`` and ``answers`` go by the name of the seed; ``missing`` are parts of a mix
    without a test.
    """

    lots: tuple[str, ...]
    tests: Mapping[str, TrayTest]
    files: Mapping[str, str]
    answers: Mapping[str, TrayAnswer]
    mixed: MixedWidth | None
    missing: tuple[str, ...]

    @property
    def holds_m(self) -> float | None:
        """The widest width that holds; None where none does. [m]"""
        if self.mixed is not None:
            return self.mixed.driving_width_m
        if len(self.answers) > 1:
            return None
        return next(iter(self.answers.values())).good_to_back_and_forth_m


def _seeds(farm: Farm) -> tuple[Seeds, ...]:
    """Return the tested seeds that are sown, lots with the same tests together, largest first."""
    areas: dict[str, float] = {}
    for one in farm.fields:
        name = farm.lot(one.lot).name
        areas[name] = areas.get(name, 0.0) + one.area_m2
    groups: dict[tuple[str, ...], list[str]] = {}
    for name in sorted(areas, key=lambda one: -areas[one]):
        tests = _tests(farm, farm.lot(name))
        if tests:
            groups.setdefault(tuple(test.name for test in tests.values()), []).append(name)
    return tuple(_answered(farm, tuple(names)) for names in groups.values())


def _tests(farm: Farm, lot: Lot) -> dict[str, TrayTest]:
    """Return the tray tests of a lot or its parts by seed; else the farm's ``trays.csv``."""
    found = {
        name: farm.trays[file]
        for name in (lot.name, *lot.parts)
        if (file := farm.lot(name).trays) is not None and file in farm.trays
    }
    if not found and "trays.csv" in farm.trays:
        found[lot.name] = farm.trays["trays.csv"]
    return found


def _answered(farm: Farm, names: tuple[str, ...]) -> Seeds:
    lot = farm.lot(names[0])
    tests = _tests(farm, lot)
    work = _work(farm, lot)
    answers = {name: _answer(farm, test, work) for name, test in tests.items()}
    widths = {name: one.good_to_back_and_forth_m for name, one in answers.items()}
    good = {name: width for name, width in widths.items() if width is not None}
    whole = len(answers) > 1 and len(good) == len(answers)
    return Seeds(
        lots=names,
        tests=tests,
        files={name: _file(farm, test) for name, test in tests.items()},
        answers=answers,
        mixed=mixed_lots(good, work=work) if whole else None,
        missing=tuple(name for name in lot.parts if name not in tests),
    )


def _file(farm: Farm, test: TrayTest) -> str:
    """Return the name of a test's file in the folder."""
    return next((name for name, one in farm.trays.items() if one is test), test.name)


def _work(farm: Farm, lot: Lot) -> SpreadingWork | None:
    if not farm.spreaders:
        return None
    machine = farm.spreaders[0]
    load = spreader_load_kg(farm, machine, lot.name)
    return SpreadingWork(
        speed_mps=machine.speed_mps,
        efficiency_fraction=machine.efficiency_fraction,
        area_per_load_m2=load / lot_rate_kg_per_m2(farm, lot),
        refill_s=machine.refill_s,
    )


def _answer(farm: Farm, test: TrayTest, work: SpreadingWork | None) -> TrayAnswer:
    table = defaults()
    tried = [float(width) for width in whole_widths_m(mean_pattern(test))]
    driven = [one.driving_width_m for one in farm.spreaders]
    return answer_trays(
        test,
        good_limit_fraction=table["tray_evenness_good"].typical,
        usable_limit_fraction=table["tray_evenness_usable"].typical,
        narrowest_share_of_throw_fraction=table["tray_narrowest_share_of_throw"].typical,
        edge_share_limit_fraction=table["tray_edge_share"].typical,
        limit_source=table["tray_evenness_good"].source_line,
        asked_widths_m=tuple(dict.fromkeys(tried + driven)),
        work=work,
    )


def _day_costs(farm: Farm, seeds: Seeds, question: DayQuestion) -> list[tuple[float, float]]:
    """Return what the width that holds, and others, would finish today; none without a day."""
    holds, answer = seeds.holds_m, next(iter(seeds.answers.values()))
    if holds is None or not farm.spreaders or len(answer.widths) < 2:
        return []
    step = mean_pattern(next(iter(seeds.tests.values()))).spacing_m
    widths = [holds, holds - step, holds - 2.0 * step]
    usable = answer.usable_to_back_and_forth_m
    if seeds.mixed is None and usable is not None and usable > holds:
        widths.append(usable)
    widths = [width for width in widths if width > step]
    try:
        areas = average_area_by_width_m2(farm, question, tuple(widths))
    except DusklineError:
        return []
    return list(zip(widths, areas, strict=True))


# --------------------------------------------------------------------------- what the page says


def _untested(farm: Farm, seeds: tuple[Seeds, ...]) -> list[str]:
    """Return the lots that are sown without a tray test."""
    tested = {name for one in seeds for name in one.lots}
    sown = dict.fromkeys(farm.lot(one.lot).name for one in farm.fields)
    return [name for name in sown if name not in tested]


def _block(
    seeds: Seeds, areas: list[tuple[float, float]], farm: Farm, reader: Reader, index: int
) -> dict[str, Any]:
    """Return what the page says of seed that is spread together."""
    system, holds = reader.system, seeds.holds_m
    first = next(iter(seeds.answers.values()))
    width = "" if holds is None else words.width_text(holds, system)
    mixed = seeds.mixed
    alone = [(name, one.good_to_back_and_forth_m) for name, one in seeds.answers.items()]
    mix_lines = words.mixed_lines(mixed, system) if mixed is not None else []
    if len(alone) > 1:
        mix_lines.append(words.mixed_way_line(alone, system))
    return {
        "name": ", ".join(seeds.lots),
        "width": width.partition(" "),
        "headline": words.headline(first, system) if len(alone) == 1 else "No width holds for all",
        "mix": mix_lines,
        "missing": seeds.missing,
        "driven": [
            words.driven_line(one.name, _verdicts(seeds, one.driving_width_m), holds, system)
            for one in farm.spreaders
        ],
        "costs": words.cost_lines(areas, system),
        "tests": _fresh_notes(
            [
                _test(name, seeds, reader, drawn=index + row < MOST_PICTURES)
                for row, name in enumerate(seeds.answers)
            ]
        ),
    }


def _fresh_notes(tests: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the tests, each with those notes only that none before it had."""
    seen: set[str] = set()
    for test in tests:
        test["notes"] = [text for text in test["notes"] if text not in seen]
        seen.update(test["notes"])
    return tests


def _verdicts(seeds: Seeds, width_m: float) -> list[tuple[AskedWidth, float]]:
    """Return what each test says to a width, with its evenness there back and forth."""
    found = []
    for answer in seeds.answers.values():
        asked = next(one for one in answer.asked if abs(one.driving_width_m - width_m) < 1e-6)
        row = next(one for one in answer.widths if abs(one.driving_width_m - width_m) < 1e-6)
        found.append((asked, row.cv_back_and_forth))
    return found


def _test(name: str, seeds: Seeds, reader: Reader, *, drawn: bool) -> dict[str, Any]:
    """Return what the page says of one tray test."""
    answer, test, system = seeds.answers[name], seeds.tests[name], reader.system
    at = seeds.holds_m or answer.usable_to_back_and_forth_m or answer.widths[-1].driving_width_m
    return {
        "name": name,
        "file": seeds.files[name],
        "at": words.width_text(at, system),
        "ways": words.way_lines(answer, system),
        "ragged": words.ragged_line(answer, system)
        if at == answer.good_to_back_and_forth_m
        else "",
        "notes": words.note_lines(answer, system),
        "strips": _strips(test, at, system, reader.language) if drawn else {},
        "charts": _charts(answer, system, reader.language) if drawn else {},
        "rows": _rows(answer, seeds.holds_m, system),
        "has_costs": bool(answer.costs),
        "working": answer.working,
    }


def _strips(
    test: TrayTest, width_m: float, system: System, language: Language
) -> dict[str, Markup]:
    return {
        place: drawing(
            tray_strip(
                test, system, driving_width_m=width_m, width=wide, height=high, language=language
            )
        )
        for place, (wide, high) in PICTURES.items()
    }


def _charts(answer: TrayAnswer, system: System, language: Language) -> dict[str, Markup]:
    table = defaults()
    return {
        place: drawing(
            evenness_chart(
                answer,
                system,
                good_limit_fraction=table["tray_evenness_good"].typical,
                usable_limit_fraction=table["tray_evenness_usable"].typical,
                width=wide,
                height=high,
                language=language,
            )
        )
        for place, (wide, high) in PICTURES.items()
    }


def _rows(answer: TrayAnswer, holds_m: float | None, system: System) -> list[dict[str, Any]]:
    """Return the table of evenness by driving width, with what each width spreads."""
    asked = {round(one.driving_width_m, 6): one for one in answer.asked}
    costs = {round(one.driving_width_m, 6): one for one in answer.costs}
    rows = []
    for row in answer.widths:
        key = round(row.driving_width_m, 6)
        verdict, cost = asked[key], costs.get(key)
        rows.append(
            {
                "width": words.width_text(row.driving_width_m, system),
                "forth": words.evenness_text(row.cv_back_and_forth),
                "forth_word": words.asked_word(verdict.back_and_forth),
                "round": words.evenness_text(row.cv_round),
                "round_word": words.asked_word(verdict.round_and_round),
                "work": "" if cost is None else show(cost.rate_m2_per_s, "work rate", system),
                "holds": holds_m is not None and abs(row.driving_width_m - holds_m) < 1e-6,
                "between": row.interpolated,
            }
        )
    return rows


# --------------------------------------------------------------------------- the card


def _cards(farm: Farm, seed: SeedAnswer, reader: Reader) -> list[dict[str, Any]]:
    """Return a card for each spreader: what must run through its gate, lot by lot."""
    return [
        {
            "name": one.name,
            "width": words.width_text(one.driving_width_m, reader.system),
            "speed": show(one.speed_mps, "speed", reader.system),
            "lots": [
                _flow(flow, reader)
                for lot in seed.lots
                for flow in lot.flows
                if flow.spreader == one.name
            ],
        }
        for one in farm.spreaders
    ]


def _flow(flow: FlowAnswer, reader: Reader) -> dict[str, str]:
    system = reader.system
    return {
        "lot": flow.lot,
        "flow": show(flow.flow_kg_per_s, "flow", system),
        "bucket_name": reader.say("spreader bucket", size=BUCKETS[system]),
        "bucket": reader.say("spreader no weight")
        if flow.bucket_s is None
        else reader.say("spreader seconds", seconds=f"{flow.bucket_s:.1f}"),
        "load_name": reader.say("spreader a load", mass=show(flow.load_kg, "mass", system)),
        "load": show(flow.load_area_m2, "area", system),
    }


def _cautions(farm: Farm, reader: Reader) -> list[str]:
    wind = show(farm.rules.wind_limit_mps, "speed", reader.system, 0)
    keys = ("pto", "spinner", "bucket")
    found = [reader.say(f"spreader caution {key}") for key in keys]
    return [*found, reader.say("spreader caution wind", wind=wind)]


# --------------------------------------------------------------------------- the first load


@dataclass(frozen=True, kw_only=True, slots=True)
class Check:
    """The first load's form and what came of it; ``wrong`` by the name of the input."""

    lots: tuple[str, ...]
    machines: tuple[str, ...]
    lot: str
    machine: str
    given: Mapping[str, str]
    hint: Mapping[str, str]
    unit: Mapping[str, str]
    wrong: Mapping[str, str]
    lines: tuple[str, ...] = ()


def _check(
    farm: Farm, seed: SeedAnswer, reader: Reader, *, lot: str, machine: str, **typed: str
) -> Check | None:
    """Return the form as it was filled in, and what the load says; None without a spreader."""
    lots = tuple(one.lot.name for one in seed.lots)
    machines = tuple(one.name for one in farm.spreaders)
    if not lots or not machines:
        return None
    system = reader.system
    chosen = next(one for one in seed.lots if one.lot.name == (lot if lot in lots else lots[0]))
    name = machine if machine in machines else machines[0]
    flow = next(one for one in chosen.flows if one.spreader == name)
    given = {key: text.strip()[:LONGEST_TEXT] for key, text in typed.items()}
    form = Check(
        lots=lots,
        machines=machines,
        lot=chosen.lot.name,
        machine=name,
        given=given,
        hint={
            "load": show(flow.load_kg, "mass", system),
            "did": show(flow.load_area_m2, "area", system),
        },
        unit={
            "load": to_display(1.0, "mass", system)[1],
            "did": to_display(1.0, "area", system)[1],
        },
        wrong={},
    )
    if not any(given.values()):
        return form
    return _checked(form, chosen, flow, reader)


def _checked(form: Check, answer: LotAnswer, flow: FlowAnswer, reader: Reader) -> Check:
    wrong: dict[str, str] = {}
    system = reader.system
    area = quantity(form.given["did"], "area", system, wrong, "did")
    load = quantity(form.given["load"], "mass", system, wrong, "load")
    if area is None and not wrong:
        wrong["did"] = f"How much ground did the load do? For example {form.hint['did']}."
    if wrong or area is None:
        return replace(form, wrong=wrong)
    laid = replace(flow, load_kg=load if load is not None else flow.load_kg)
    try:
        lines = seed_words.first_load_lines(
            replace(answer, flows=(laid,)), area, system, reader.language
        )
    except DusklineError as refused:
        return replace(form, wrong={"did": " ".join(sentences(refused, system))})
    return replace(form, lines=tuple(lines))
