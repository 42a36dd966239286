"""One SVG writer for every drawing: terminal file, page and sheet show the same picture."""

from duskline.draw.fieldmap import field_map
from duskline.draw.strip import day_strip
from duskline.draw.trays import evenness_chart, tray_strip

__all__ = ["day_strip", "evenness_chart", "field_map", "tray_strip"]
