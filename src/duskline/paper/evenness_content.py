"""What stands on the sheet about evenness: the advice, the strips, the levers, the map."""

from __future__ import annotations

from duskline.answers.evenness import EvennessAnswer
from duskline.core.farm import Farm
from duskline.draw.bands import OldRows, bands_picture
from duskline.draw.density import density_picture
from duskline.paper.content import Sheet
from duskline.paper.field_content import field_file_name
from duskline.paper.press import PaperSize, text_width_pt
from duskline.paper.strings import say
from duskline.units import show
from duskline.words import evenness as words

__all__ = ["evenness_sheet"]

_STRIPS_PT, _MAP_PT = 300.0, 380.0
_TYPE_PT = 14.0


def evenness_sheet(farm: Farm, answer: EvennessAnswer, *, paper: PaperSize) -> Sheet:
    """Return the sheet about one field's evenness, not yet set.

    Parameters
    ----------
    farm
        The farm folder.
    answer
        How even the seed lies, with or without its map.
    paper
        Size of the page.
    """
    system, name = farm.system, answer.field.name
    width_pt = text_width_pt(paper)
    pictures = {}
    angle = answer.angle
    if angle is not None:
        pictures["strips.svg"] = bands_picture(
            answer.sown,
            answer.worked_in,
            system,
            driving_width_m=answer.driving_width_m,
            angle_rad=angle.angle_rad,
            old_rows=OldRows(
                spacing_m=angle.row_spacing_m,
                kept_along_fraction=angle.row_kept_along,
                kept_across_fraction=angle.row_kept,
            ),
            width=width_pt,
            height=_STRIPS_PT,
            black_and_white=True,
            text_size=_TYPE_PT,
        )
    if answer.map is not None:
        plants = answer.ruling.plants
        pictures["map.svg"] = density_picture(
            answer.map.density,
            answer.plan.outline,
            system,
            which="after",
            name=name,
            width=width_pt,
            height=_MAP_PT,
            plants_per_m2=None if plants is None else float(plants.value),
            black_and_white=True,
            text_size=_TYPE_PT,
        )
    on_ground = [] if answer.map is None else words.map_sentences(answer.map, system)
    return Sheet(
        name=field_file_name(name).replace("field-", "evenness-", 1),
        template="evenness",
        title=say("en", "evenness title", name=name),
        language="en",
        data={
            "farm": farm.name,
            "card": say("en", "evenness card"),
            "date": "",
            "mark": "",
            "review": "",
            "language": "en",
            "name": name,
            "area": show(answer.field.area_m2, "area", system),
            "headline": words.evenness_headline(answer, system),
            "lines": words.lines(answer, system),
            "strips": "strips.svg" in pictures,
            "strips_alt": say("en", "evenness strips", name=name),
            "map": "map.svg" in pictures,
            "map_alt": say("en", "evenness map", name=name),
            "levers_title": say("en", "evenness levers"),
            "heads": [" ".join(head).strip() for head in words.lever_heads(answer, system)],
            "rows": [words.lever_cells(answer, row, system) for row in answer.levers],
            "notes": words.table_notes(answer, system),
            "angle_title": say("en", "evenness angle"),
            "angle": [] if angle is None else words.angle_lines(angle, system),
            "ground_title": say("en", "evenness ground"),
            "ground": [*on_ground, words.loss_sentence(answer.loss)],
        },
        pictures=pictures,
    )
