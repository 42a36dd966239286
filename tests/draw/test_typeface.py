"""Text widths against the typesetter that sets the sheets."""

from __future__ import annotations

import json

import pytest
import typst

from duskline.draw.typeface import FAMILY, font_folder, text_width

TEXTS = ("stop 2:45 pm", "all in by 16:00, rain", "51 ac open", "0123456789", "ñáéíóú ¿?", "±1°")


def _set_width_pt(text: str, size: float, *, bold: bool) -> float:
    """The width the typesetter gives the same line, kerning off as in the sum of advances."""
    weight = "bold" if bold else "regular"
    quoted = json.dumps(text, ensure_ascii=False)
    source = (
        f'#set text(font: "{FAMILY}", size: {size}pt, weight: "{weight}", kerning: false, '
        f"ligatures: false)\n#context [#metadata(measure({quoted}).width.pt())<w>]"
    )
    fonts = typst.Fonts(include_system_fonts=False, font_paths=[font_folder()])
    found = json.loads(typst.query(source.encode(), "<w>", field="value", font_paths=fonts))
    return float(found[0])


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("bold", [False, True])
def test_a_line_is_as_wide_as_it_is_set(text: str, bold: bool) -> None:
    """Within a thousandth of what the typesetter measures."""
    assert text_width(text, 14.0, bold=bold) == pytest.approx(
        _set_width_pt(text, 14.0, bold=bold), rel=1e-3
    )


def test_width_grows_with_the_type() -> None:
    """Twice the type, twice the width; nothing is nothing."""
    assert text_width("open", 28.0) == pytest.approx(2.0 * text_width("open", 14.0))
    assert text_width("", 14.0) == 0.0
