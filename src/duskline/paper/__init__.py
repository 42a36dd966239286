"""Printed sheets: the day sheet, the windshield card and the crew's cards."""

from duskline.paper.sheets import day_sheets, make_sheets

__all__ = ["day_sheets", "make_sheets"]
