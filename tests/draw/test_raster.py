"""The bytes of a PNG file read back by other readers, and colours even to the eye."""

from __future__ import annotations

import base64
import struct
import zlib
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from duskline.core.errors import OutOfRange
from duskline.draw.ink import contrast
from duskline.draw.raster import (
    Pixels,
    data_address,
    diverging,
    lab_of,
    png_bytes,
    rgb_of,
    sequential,
)


def read_png(data: bytes) -> Pixels:
    """A PNG without filters as pixels; every check sum is reckoned again."""
    assert data[:8] == bytes([137, 80, 78, 71, 13, 10, 26, 10])
    at, chunks = 8, []
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        (check,) = struct.unpack_from(">I", data, at + 8 + length)
        assert check == zlib.crc32(data[at + 4 : at + 8 + length])
        chunks.append((kind, body))
        at += 12 + length
    assert [kind for kind, _ in chunks] == [b"IHDR", b"IDAT", b"IEND"]
    width, height, depth, colour, packing, filters, lacing = struct.unpack(">IIBBBBB", chunks[0][1])
    assert (depth, packing, filters, lacing) == (8, 0, 0, 0)
    colours = {2: 3, 6: 4}[colour]
    rows = np.frombuffer(zlib.decompress(chunks[1][1]), dtype=np.uint8)
    rows = rows.reshape(height, 1 + width * colours)
    assert not rows[:, 0].any()
    return rows[:, 1:].reshape(height, width, colours)


@given(
    st.tuples(st.integers(1, 9), st.integers(1, 9), st.sampled_from([3, 4])).flatmap(
        lambda shape: arrays(np.uint8, shape)
    )
)
def test_a_picture_comes_back_as_it_was_written(pixels: Pixels) -> None:
    """Any colours, any size, with and without see-through."""
    assert np.array_equal(read_png(png_bytes(pixels)), pixels)


@pytest.mark.filterwarnings("ignore")  # a picture has no place on the earth
def test_a_common_reader_of_pictures_takes_it() -> None:
    """The picture library of the map tools reads the same colours."""
    memory = pytest.importorskip("rasterio.io")
    pixels = np.random.default_rng(4).integers(0, 256, (7, 5, 4)).astype(np.uint8)
    with memory.MemoryFile(png_bytes(pixels)) as file, file.open() as picture:
        assert picture.driver == "PNG"
        assert np.array_equal(np.moveaxis(picture.read(), 0, 2), pixels)


def test_a_picture_inside_a_drawing_is_the_same_picture() -> None:
    """The address holds the bytes themselves."""
    png = png_bytes(np.full((2, 3, 3), 77, dtype=np.uint8))
    kind, body = data_address(png).split(",")
    assert kind == "data:image/png;base64"
    assert base64.b64decode(body) == png


@pytest.mark.parametrize("shape", [(2, 2), (2, 2, 2), (2, 2, 5), (0, 3, 3), (3, 0, 4)])
def test_what_is_no_picture_is_refused(shape: tuple[int, ...]) -> None:
    """One, two or five colours, and no pixel at all."""
    with pytest.raises(OutOfRange):
        png_bytes(np.zeros(shape, dtype=np.uint8))


@pytest.mark.parametrize(
    ("colour", "lab"),
    [
        ("#FFFFFF", (100.0, 0.0, 0.0)),
        ("#000000", (0.0, 0.0, 0.0)),
        ("#777777", (50.03, 0.0, 0.0)),
        ("#FF0000", (53.24, 80.09, 67.20)),
        ("#0000FF", (32.30, 79.19, -107.86)),
    ],
)
def test_lightness_and_hue_of_known_colours(colour: str, lab: tuple[float, ...]) -> None:
    """White, black, grey, red and blue; the figures are from memory."""
    assert lab_of(colour) == pytest.approx(lab, abs=0.02)


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_a_colour_turned_to_lightness_and_back_is_the_same(channels: tuple[int, ...]) -> None:
    """Any colour a screen shows."""
    colour = "#" + "".join(f"{one:02X}" for one in channels)
    assert rgb_of(lab_of(colour)) == colour


@pytest.mark.parametrize("count", [2, 3, 5, 9, 16])
@pytest.mark.parametrize("grey", [False, True])
def test_more_seed_is_darker_in_even_steps(count: int, grey: bool) -> None:
    """Lightness falls by the same step each time, so that a grey print keeps the order."""
    lights = [lab_of(colour)[0] for colour in sequential(count, grey=grey)]
    steps = -np.diff(lights)
    assert steps == pytest.approx(np.full(count - 1, 72.0 / (count - 1)), abs=0.75)
    assert steps.min() > 0.0


def test_equal_steps_look_equal() -> None:
    """Distances between neighbours in colour space, eight steps: none twice another."""
    labs = [np.array(lab_of(colour)) for colour in sequential(9)]
    steps = [float(np.linalg.norm(other - one)) for one, other in pairwise(labs)]
    assert max(steps) < 2.0 * min(steps)


@pytest.mark.parametrize("grey", [False, True])
def test_neighbours_of_five_classes_are_told_apart(grey: bool) -> None:
    """Contrast of each class with the next, and of grey with its colour."""
    colours = sequential(5, grey=grey)
    assert all(contrast(one, other) > 1.5 for one, other in pairwise(colours))
    for one, other in zip(sequential(5), sequential(5, grey=True), strict=True):
        assert lab_of(one)[0] == pytest.approx(lab_of(other)[0], abs=0.75)


@pytest.mark.parametrize("grey", [False, True])
@pytest.mark.parametrize("each_side", [1, 2, 4])
def test_lost_and_gained_are_as_light_as_each_other(each_side: int, grey: bool) -> None:
    """About the middle, the lightest; and the two sides differ in hue unless in grey."""
    colours = diverging(each_side, grey=grey)
    labs = [lab_of(colour) for colour in colours]
    lights = [lab[0] for lab in labs]
    assert lights == pytest.approx(lights[::-1], abs=0.75)
    assert max(lights) == lights[each_side]
    assert np.all(np.diff(lights[: each_side + 1]) > 5.0)
    assert (labs[0][2] > 20.0 > -10.0 > labs[-1][2]) != grey
