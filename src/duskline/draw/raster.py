"""Pictures made of cells: their colours, even to the eye, and their bytes as PNG."""

from __future__ import annotations

import base64
import struct
import zlib
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from duskline.core.checks import check_within
from duskline.core.errors import OutOfRange
from duskline.draw.ink import COLOURED

__all__ = [
    "Pixels",
    "data_address",
    "diverging",
    "lab_of",
    "png_bytes",
    "rgb_of",
    "sequential",
]

Pixels: TypeAlias = NDArray[np.uint8]
FloatArray: TypeAlias = NDArray[np.float64]
Lab: TypeAlias = tuple[float, float, float]

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_LEVEL = 6
_KINDS = {3: 2, 4: 6}  # PNG's colour types: without and with a share of see-through
_WHITE = (0.95047, 1.0, 1.08883)  # D65
_TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
_FROM_XYZ = np.linalg.inv(_TO_XYZ)
_KNEE, _SLOPE = (6.0 / 29.0) ** 3, (29.0 / 6.0) ** 2 / 3.0
_LIGHTEST, _DARKEST = 91.0, 19.0
_MIDDLE, _ENDS = 95.0, 51.0


# ------------------------------------------------------------------------------------ bytes


def png_bytes(pixels: Pixels) -> bytes:
    """Return a picture as the bytes of a PNG file.

    Parameters
    ----------
    pixels
        Red, green, blue, and opacity where there are four, from 0 to 255; row 0 on top,
        ``(h, w, 3)`` or ``(h, w, 4)``.

    Raises
    ------
    OutOfRange
        Not so many colours, or no pixel.

    Notes
    -----
    Rows are not filtered (filter 0): maps of few colours pack as well without.

    Source
    ------
    Portable Network Graphics, W3C Recommendation, second edition, 2003: signature, chunks IHDR,
    IDAT and IEND, each with its check sum. From memory; read back by another reader in
    tests/draw/test_raster.py.
    """
    if pixels.ndim != 3 or pixels.shape[2] not in _KINDS:
        raise OutOfRange("colours of a pixel", pixels.shape[-1] if pixels.ndim else 0, 3, 4)
    height, width, colours = pixels.shape
    check_within("rows of the picture", height, 1, 2**31 - 1)
    check_within("columns of the picture", width, 1, 2**31 - 1)
    rows = np.zeros((height, 1 + width * colours), dtype=np.uint8)
    rows[:, 1:] = pixels.reshape(height, -1)
    head = struct.pack(">IIBBBBB", width, height, 8, _KINDS[colours], 0, 0, 0)
    return b"".join(
        [
            _SIGNATURE,
            _chunk(b"IHDR", head),
            _chunk(b"IDAT", zlib.compress(rows.tobytes(), _LEVEL)),
            _chunk(b"IEND", b""),
        ]
    )


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def data_address(png: bytes) -> str:
    """Return a picture as an address that holds the picture itself, for use inside a drawing."""
    return "data:image/png;base64," + base64.b64encode(png).decode("ascii")


# ------------------------------------------------------------------------------------ colours


def sequential(count: int, *, grey: bool = False) -> tuple[str, ...]:
    """Return colours from little to much, light to dark, ``count`` of them.

    Parameters
    ----------
    count
        How many, two or more.
    grey
        Whether in grey, each as light as its colour.

    Notes
    -----
    Lightness falls in even steps from 91 to 19 (CIELAB L*); the hue follows three colours of the
    house, sky at noon, the ochre of seed and ink, straight between them by lightness. So the
    order reads on a grey print, and equal steps look equal.

    Source
    ------
    Derived here; even steps and their order are tested in tests/draw/test_raster.py.
    """
    check_within("number of colours", count, 2, 256)
    anchors = [lab_of(COLOURED.sky[1]), lab_of(COLOURED.spread), lab_of(COLOURED.text)]
    return tuple(
        _at_lightness(anchors, float(light), grey=grey)
        for light in np.linspace(_LIGHTEST, _DARKEST, count)
    )


def diverging(each_side: int, *, grey: bool = False) -> tuple[str, ...]:
    """Return colours from much lost over none to much gained, ``2 each_side + 1`` of them.

    Parameters
    ----------
    each_side
        How many colours on each side of the middle.
    grey
        Whether in grey: the two sides are then alike, and what is lost must be hatched.

    Notes
    -----
    Ochre for lost, blue for gained, as light as each other at the same distance from the middle.

    Source
    ------
    Derived here; tested in tests/draw/test_raster.py.
    """
    check_within("number of colours", each_side, 1, 128)
    paper = (_MIDDLE, 0.0, 4.0)
    lights = np.linspace(_MIDDLE, _ENDS, each_side + 1)[1:]
    sides = [
        [_at_lightness([paper, lab_of(end)], float(light), grey=grey) for light in lights]
        for end in (COLOURED.spread, COLOURED.cover)
    ]
    return (*reversed(sides[0]), _at_lightness([paper], _MIDDLE, grey=grey), *sides[1])


def _at_lightness(anchors: Sequence[Lab], light: float, *, grey: bool) -> str:
    """Return the colour of a lightness on the way through anchors, the lightest first."""
    if grey:
        return rgb_of((light, 0.0, 0.0))
    lights = [anchor[0] for anchor in reversed(anchors)]
    a, b = (
        float(np.interp(light, lights, [anchor[axis] for anchor in reversed(anchors)]))
        for axis in (1, 2)
    )
    return rgb_of((light, a, b))


def lab_of(colour: str) -> Lab:
    """Return the CIELAB lightness, red-green and yellow-blue of a colour "#RRGGBB".

    Source
    ------
    CIE 15:2018 (L*, a*, b*; white D65) over IEC 61966-2-1:1999 (sRGB). From memory; white,
    black and mid grey are tested in tests/draw/test_raster.py.
    """
    channels = np.array([int(colour[place : place + 2], 16) for place in (1, 3, 5)]) / 255.0
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    share = (_TO_XYZ @ linear) / _WHITE
    x, y, z = np.where(share > _KNEE, np.cbrt(share), _SLOPE * share + 4.0 / 29.0).tolist()
    return 116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)


def rgb_of(lab: Lab) -> str:
    """Return the colour "#RRGGBB" of a CIELAB lightness, red-green and yellow-blue.

    A colour that no screen shows comes back as the nearest by channel.

    Source
    ------
    See ``lab_of``, turned round.
    """
    y = (lab[0] + 16.0) / 116.0
    roots = np.array([y + lab[1] / 500.0, y, y - lab[2] / 200.0])
    share = np.where(roots > 6.0 / 29.0, roots**3, (roots - 4.0 / 29.0) / _SLOPE)
    linear = np.clip(_FROM_XYZ @ (share * _WHITE), 0.0, 1.0)
    channels = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{value:02X}" for value in np.rint(255.0 * channels).astype(int).tolist())
