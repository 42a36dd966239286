"""How wide a text is in the house typeface, so that labels are placed and never collide.

Widths come from the font files themselves: the same files that page and sheet are set in.
"""

from __future__ import annotations

import struct
import unicodedata
from functools import lru_cache
from importlib import resources

__all__ = ["FAMILY", "font_folder", "in_typeface", "text_width"]

FAMILY = "Atkinson Hyperlegible"
_PACKAGE = "fontpkg_atkinson_hyperlegible"
_FILES = {False: "AtkinsonHyperlegible-Regular.ttf", True: "AtkinsonHyperlegible-Bold.ttf"}


def font_folder() -> str:
    """Return the folder that holds the font files."""
    return str(resources.files(_PACKAGE).joinpath("files"))


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of a line of text, in the unit of ``size``.

    Parameters
    ----------
    text
        One line.
    size
        Type size, pixels or points.
    bold
        Whether it is set bold.

    Notes
    -----
    The sum of the advance widths; kerning, which draws letters closer, is left out, so the
    figure is never too small.
    """
    per_em, advance, default = _metrics(bold)
    return size / per_em * sum(advance.get(ord(letter), default) for letter in text)


def in_typeface(text: str) -> str:
    """Return the text with letters that the typeface lacks drawn plainly, or as "?".

    A letter with a mark loses the mark; one that has no plain form becomes a question mark, so
    that a sheet is set rather than refused.
    """
    _, advance, _ = _metrics(False)
    return "".join(
        letter if ord(letter) in advance or letter in "\n\t" else _plain(letter, advance)
        for letter in text
    )


def _plain(letter: str, advance: dict[int, int]) -> str:
    parts = unicodedata.normalize("NFKD", letter)
    kept = "".join(one for one in parts if ord(one) in advance and not unicodedata.combining(one))
    return kept or ("" if unicodedata.combining(letter) else "?")


@lru_cache(maxsize=2)
def _metrics(bold: bool) -> tuple[int, dict[int, int], int]:
    """Return units per em, advance by character code, and that of a character it has not."""
    data = resources.files(_PACKAGE).joinpath("files", _FILES[bold]).read_bytes()
    count = struct.unpack_from(">H", data, 4)[0]
    tables = {
        tag: offset
        for tag, _, offset, _ in struct.iter_unpack(">4sIII", data[12 : 12 + 16 * count])
    }
    per_em = struct.unpack_from(">H", data, tables[b"head"] + 18)[0]
    widths_count = struct.unpack_from(">H", data, tables[b"hhea"] + 34)[0]
    widths = struct.unpack_from(f">{2 * widths_count}H", data, tables[b"hmtx"])[::2]
    glyphs = _glyphs(data, tables[b"cmap"])
    advance = {code: widths[min(glyph, widths_count - 1)] for code, glyph in glyphs.items()}
    return per_em, advance, widths[0]


def _glyphs(data: bytes, cmap: int) -> dict[int, int]:
    """Return glyph by character code from the font's table of segments (cmap format 4)."""
    for index in range(struct.unpack_from(">H", data, cmap + 2)[0]):
        table = cmap + struct.unpack_from(">I", data, cmap + 8 + 8 * index)[0]
        if struct.unpack_from(">H", data, table)[0] == 4:
            break
    else:
        raise ValueError("the font has no table of segments")
    segments = struct.unpack_from(">H", data, table + 6)[0] // 2

    def column(number: int, kind: str) -> tuple[int, ...]:
        start = table + 14 + number * 2 * segments + (2 if number else 0)
        return struct.unpack_from(f">{segments}{kind}", data, start)

    ends, starts, deltas, offsets = (column(0, "H"), column(1, "H"), column(2, "h"),
                                     column(3, "H"))  # fmt: skip
    offsets_at = table + 16 + 6 * segments
    glyphs = {}
    for place, (start, end) in enumerate(zip(starts, ends, strict=True)):
        for code in range(start, min(end, 0xFFFE) + 1):
            if offsets[place] == 0:
                glyph = code
            else:
                at = offsets_at + 2 * place + offsets[place] + 2 * (code - start)
                glyph = struct.unpack_from(">H", data, at)[0]
            if glyph or offsets[place] == 0:
                glyphs[code] = (glyph + deltas[place]) & 0xFFFF
    return glyphs
