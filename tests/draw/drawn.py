"""Reads drawings back: texts with the ground they cover, lines, and colours."""

from __future__ import annotations

import xml.etree.ElementTree as Tree
from dataclasses import dataclass
from itertools import combinations

from duskline.draw.place import Box, text_box

NS = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Written:
    """One text of a drawing."""

    text: str
    size: float
    fill: str
    box: Box


def tree(drawing: str) -> Tree.Element:
    """The drawing's elements; raises where the text is not well-formed."""
    return Tree.fromstring(drawing)  # noqa: S314 - our own drawing


def texts(drawing: str) -> list[Written]:
    """Every text with the box it covers, by the typeface's own widths."""
    found = []
    for element in tree(drawing).iter(f"{NS}text"):
        size = float(element.get("font-size", "0"))
        text = element.text or ""
        box = text_box(
            (float(element.get("x", "0")), float(element.get("y", "0"))),
            text,
            size,
            anchor=element.get("text-anchor", "start"),
            bold=element.get("font-weight") == "bold",
        )
        found.append(Written(text=text, size=size, fill=element.get("fill", ""), box=box))
    return found


def overlaps(drawing: str) -> list[tuple[str, str]]:
    """Pairs of texts that lie over each other."""
    return [
        (one.text, other.text)
        for one, other in combinations(texts(drawing), 2)
        if one.box.overlaps(other.box)
    ]


def outside(drawing: str) -> list[str]:
    """Texts that leave the drawing."""
    root = tree(drawing)
    whole = Box(
        left=-0.5,
        top=-0.5,
        right=float(root.get("width", "0")) + 0.5,
        bottom=float(root.get("height", "0")) + 0.5,
    )
    return [one.text for one in texts(drawing) if not one.box.within(whole)]


def points(element: Tree.Element) -> list[tuple[float, float]]:
    """The corners of a path of straight lines."""
    numbers = [
        float(word)
        for word in element.get("d", "")
        .replace("M", " ")
        .replace("L", " ")
        .replace("Z", " ")
        .split()
    ]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def colours(drawing: str) -> set[str]:
    """Every colour the drawing uses."""
    found = set()
    for element in tree(drawing).iter():
        for name in ("fill", "stroke", "stop-color"):
            value = element.get(name, "")
            if value.startswith("#"):
                found.add(value)
    return found
