"""Printed sheets: the day sheet, the windshield card, the crew's cards, fields and the season."""

from duskline.paper.sheets import (
    day_sheets,
    field_sheets,
    make_evenness_sheet,
    make_field_sheets,
    make_season_sheet,
    make_sheets,
)

__all__ = [
    "day_sheets",
    "field_sheets",
    "make_evenness_sheet",
    "make_field_sheets",
    "make_season_sheet",
    "make_sheets",
]
