"""The command about evenness: read, ask the answer, print, draw."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from duskline.cli.fields import field_of
from duskline.cli.run import DONE, big, dump, heading, say
from duskline.core.farm import Farm
from duskline.store.farm import read_farm_with_store
from duskline.units import UnitError, parse

if TYPE_CHECKING:
    from duskline.answers.evenness import EvennessAnswer, Response
    from duskline.draw.density import Which

__all__ = ["evenness"]

_FINEST_M, _COARSEST_M = 0.1, 1.0
_PLOT_M = 1.0
_PNG_PIXELS = (1600, 1200)


def evenness(
    folder: Path,
    name: str,
    *,
    angle: str | None = None,
    cell: str | None = None,
    which: Which = "after",
    svg: Path | None = None,
    png: Path | None = None,
    strips: Path | None = None,
    sheet: Path | None = None,
    seed: int = 0,
    response: Response = "quadratic",
    as_json: bool = False,
    why: bool = False,
) -> None:
    """Print how even the seed of one field lies, and which lever is worth pulling."""
    from duskline.answers.evenness import evenness_answer

    farm = read_farm_with_store(folder)
    noun = field_of(farm, name)
    if noun.outline is None:
        raise UnitError(name, "a field with an outline")
    angle_rad = None if angle is None else parse(angle, "angle")
    if angle_rad is not None and not 0.0 <= angle_rad <= math.pi / 4.0:
        raise UnitError(angle, 'an angle from 0 to 45 degrees, such as "5 deg"')
    cell_m = _cell_m(cell)
    answer = evenness_answer(
        farm,
        noun.name,
        angle_rad=angle_rad,
        cell_m=cell_m,
        # Plots of about a metre, whole cells.
        map_cell_m=max(1, round(_PLOT_M / cell_m)) * cell_m,
        seed=seed,
        response=response,
    )
    _draw(farm, answer, which, svg=svg, png=png)
    if strips is not None:
        _draw_strips(farm, answer, strips)
    if sheet is not None:
        from duskline.paper import make_evenness_sheet

        make_evenness_sheet(farm, answer, sheet)
    if as_json:
        from duskline.cli.evenness_json import evenness_json

        dump(evenness_json(farm, answer, working=why))
        sys.exit(DONE)
    _print(farm, answer, why=why)
    for path in (svg, png, strips, sheet):
        if path is not None:
            say(f"Written: {path}")
    sys.exit(DONE)


def _cell_m(cell: str | None) -> float:
    """Return the side of the map's cells; half a metre unless asked otherwise. [m]"""
    if cell is None:
        return 0.5
    cell_m = parse(cell, "length")
    if not _FINEST_M <= cell_m <= _COARSEST_M:
        raise UnitError(cell, 'cells from 10 cm to 1 m, such as "0.25 m"')
    return cell_m


def _draw(
    farm: Farm, answer: EvennessAnswer, which: Which, *, svg: Path | None, png: Path | None
) -> None:
    if answer.map is None or (svg is None and png is None):
        return
    from duskline.draw.density import density_picture, density_png

    density, outline = answer.map.density, answer.plan.outline
    if svg is not None:
        plants = answer.ruling.plants
        svg.write_text(
            density_picture(
                density,
                outline,
                farm.system,
                which=which,
                name=answer.field.name,
                width=1100.0,
                height=850.0,
                plants_per_m2=None if plants is None else float(plants.value),
            ),
            encoding="utf-8",
        )
    if png is not None:
        width, height = _PNG_PIXELS
        png.write_bytes(density_png(density, outline, which=which, width=width, height=height))


def _draw_strips(farm: Farm, answer: EvennessAnswer, path: Path) -> None:
    """Write the strips before and after covering; nothing where no machine covers."""
    from duskline.draw.bands import OldRows, bands_picture

    angle = answer.angle
    if angle is None:
        return
    path.write_text(
        bands_picture(
            answer.sown,
            answer.worked_in,
            farm.system,
            driving_width_m=answer.driving_width_m,
            angle_rad=angle.angle_rad,
            old_rows=OldRows(
                spacing_m=angle.row_spacing_m,
                kept_along_fraction=angle.row_kept_along,
                kept_across_fraction=angle.row_kept,
            ),
            width=1100.0,
            height=620.0,
        ),
        encoding="utf-8",
    )


def _print(farm: Farm, answer: EvennessAnswer, *, why: bool) -> None:
    from duskline.words import evenness as words

    system = farm.system
    heading(f"{answer.field.name}: how even the seed lies")
    big(words.evenness_headline(answer, system))
    say()
    for line in words.lines(answer, system):
        say(f"- {line}")
    heading("The levers")
    for line in words.lever_table(answer, system):
        say(line)
    for line in words.table_notes(answer, system):
        say(f"- {line}")
    if answer.angle is not None:
        heading("The covering angle")
        for line in words.angle_lines(answer.angle, system):
            say(f"- {line}")
    if answer.map is not None:
        heading("On the ground")
        for line in words.map_sentences(answer.map, system):
            say(f"- {line}")
    heading("What it costs")
    say(f"- {words.loss_sentence(answer.loss)}")
    if why:
        heading("What each lever rests on")
        told = {words.rests_on(row.key): row for row in reversed(answer.levers)}
        for text, row in reversed(told.items()):
            say(f"- {words.lever_name(answer, row, system)}: {text}")
        heading("Working")
        for line in words.evenness_working_lines(answer.working, system):
            say(line)
