"""The map of seed on the ground: colours in their places, key, and outline."""

from __future__ import annotations

import base64
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from draw.drawn import NS, colours, outside, overlaps, points, texts, tree
from draw.test_raster import read_png
from hypothesis import given
from hypothesis import strategies as st
from made_fields import drawn, rectangle

from duskline.core.density import DensityMap, DrivenLines, MapFrame, Steering, density_map
from duskline.core.density_kernel import BINS, MOST_DENSITY
from duskline.core.errors import OutOfRange
from duskline.core.outline import FloatArray, Outline
from duskline.core.trays import TrayPattern
from duskline.draw.density import Which, density_classes, density_picture, density_png
from duskline.draw.ink import COLOURED, INKED
from duskline.draw.raster import Pixels, diverging, lab_of, sequential
from duskline.units import FOOT_M

WHICH: tuple[Which, ...] = ("before", "after", "difference", "worked")
DRAWN = "0,0 620,40 700,420 300,560 -40,400"
HOLE = "250,200 330,210 310,290 240,280"
Dose = Callable[[FloatArray, FloatArray], FloatArray]


def even(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
    """The planned rate everywhere."""
    return np.ones_like(x_m + y_m)


def made(
    outline: Outline,
    *,
    after: Dose = even,
    before: Dose = even,
    worked: Dose = even,
    heading_rad: float = 0.0,
    cell_m: float = 2.0,
    states: tuple[float, float, float] = (0.012, 0.9, 0.088),
) -> DensityMap:
    """A map of doses by formula, its cells along a heading, NaN beyond a cell off the field."""
    cos, sin = math.cos(heading_rad), math.sin(heading_rad)
    turn = np.array([[cos, -sin], [sin, cos]])
    turned = outline.exterior_m @ turn
    low, high = turned.min(axis=0) - cell_m, turned.max(axis=0) + cell_m
    columns, rows = np.ceil((high - low) / cell_m).astype(int).tolist()
    along = low[0] + (np.arange(columns) + 0.5) * cell_m
    across = low[1] + (np.arange(rows) + 0.5) * cell_m
    x_m = along[None, :] * cos - across[:, None] * sin
    y_m = along[None, :] * sin + across[:, None] * cos
    ground = shapely.contains_xy(shapely.buffer(outline.shape, cell_m), x_m, y_m)

    def cells(dose: Dose) -> Any:
        return np.where(ground, dose(x_m, y_m), np.nan).astype(np.float32)

    histograms = np.zeros((2, 3, BINS))
    for stage, dose in enumerate((before, after)):
        values = cells(dose)[ground]
        bins = np.clip(values * BINS / MOST_DENSITY, 0, BINS - 1).astype(int)
        histograms[stage, 1] = np.bincount(bins, minlength=BINS)
    sums = np.ones((3, 5))
    sums[:, 0] = states
    corner = turn @ low
    return DensityMap(
        cell_m=cell_m, sums=sums, histograms=histograms, sown_cells=0.0, left_cells=0.0,
        frame=MapFrame(heading_rad=heading_rad, origin_m=(corner[0], corner[1]), cell_m=cell_m),
        before=cells(before), after=cells(after), worked=cells(worked),
        judged=np.asarray(ground),
    )  # fmt: skip


def picture(
    density: DensityMap, outline: Outline, which: Which, width: float = 390.0, **options: Any
) -> str:
    """The drawing in US units with 22 plants per ft2, unless other is asked for."""
    settings = {"plants_per_m2": 22.0 / FOOT_M**2, **options}
    return density_picture(
        density, outline, settings.pop("system", "us"), which=which, name="Home",
        width=width, height=settings.pop("height", 440.0), **settings,
    )  # fmt: skip


def inside(drawing: str) -> tuple[Pixels, tuple[float, float, float, float]]:
    """The picture in a drawing, and where it lies: left, top, width, height."""
    image = next(tree(drawing).iter(f"{NS}image"))
    address = image.get("href") or image.get("{http://www.w3.org/1999/xlink}href") or ""
    box = tuple(float(image.get(name, "0")) for name in ("x", "y", "width", "height"))
    pixels = read_png(base64.b64decode(address.removeprefix("data:image/png;base64,")))
    return pixels, (box[0], box[1], box[2], box[3])


def colour_at(pixels: Pixels, outline: Outline, x_m: float, y_m: float) -> str | None:
    """The colour at a place of the field; None where the picture is see-through."""
    low, high = outline.exterior_m.min(axis=0), outline.exterior_m.max(axis=0)
    pixel_m = (high[0] - low[0]) / pixels.shape[1]
    row, column = int((high[1] - y_m) / pixel_m), int((x_m - low[0]) / pixel_m)
    red, green, blue, shown = pixels[row, column].tolist()
    return f"#{red:02X}{green:02X}{blue:02X}" if shown else None


# ------------------------------------------------------------------------------------ labels


@pytest.mark.parametrize("width", [354.0, 390.0, 1100.0])
@pytest.mark.parametrize("which", WHICH)
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("plants", [237.0, None])
def test_labels_keep_apart_on_phone_and_screen(
    width: float, which: Which, language: str, plants: float | None
) -> None:
    """No text over another nor off the drawing; the picture lies above its key."""
    outline = drawn(DRAWN, HOLE)
    drawing = picture(
        made(outline, cell_m=4.0), outline, which, width, language=language, plants_per_m2=plants
    )
    assert overlaps(drawing) == []
    assert outside(drawing) == []
    _, (left, top, wide, high) = inside(drawing)
    assert left >= 0.0
    assert left + wide <= width
    words = texts(drawing)
    assert all(one.box.top > top + high or one.box.bottom < top for one in words)
    assert min(one.size for one in words) >= 15.0


def test_the_same_field_gives_the_same_bytes() -> None:
    """Twice the same drawing and the same file; another map another drawing."""
    outline = drawn(DRAWN, HOLE)
    density = made(outline)
    assert picture(density, outline, "after") == picture(density, outline, "after")
    files = {density_png(density, outline, which="after", width=300, height=200) for _ in range(2)}
    assert len(files) == 1
    thin = made(outline, after=lambda x, y: 0.3 * even(x, y))
    assert picture(thin, outline, "after") != picture(density, outline, "after")


@pytest.mark.parametrize(
    ("system", "plants_per_m2", "heading", "wanted"),
    [
        ("us", 22.0 / FOOT_M**2, "plants per ft2, 22 planned",
         ["under 11", "11 to 18", "18 to 26", "26 to 33", "over 33"]),
        ("us", 8.0 / FOOT_M**2, "plants per ft2, 8.0 planned",
         ["under 4.0", "4.0 to 6.4", "6.4 to 9.6", "9.6 to 12.0", "over 12.0"]),
        ("metric", 240.0, "plants per m2, 240 planned",
         ["under 120", "120 to 192", "192 to 288", "288 to 360", "over 360"]),
        ("us", None, "percent of the planned rate",
         ["under 50", "50 to 80", "80 to 120", "120 to 150", "over 150"]),
    ],
)  # fmt: skip
def test_the_key_speaks_in_plants_and_in_percent_where_none_are_known(
    system: Any, plants_per_m2: float | None, heading: str, wanted: list[str]
) -> None:
    """Half, four fifths, six fifths and one and a half of the plan, in the reader's units."""
    outline = rectangle(100.0, 60.0)
    density = made(outline)
    said, classes = density_classes(density, system, which="after", plants_per_m2=plants_per_m2)
    assert said == heading
    assert [one.text for one in classes] == wanted
    drawing = picture(density, outline, "after", system=system, plants_per_m2=plants_per_m2)
    assert {heading, *wanted} <= {one.text for one in texts(drawing)}
    assert set(sequential(5)) <= colours(drawing)


def test_the_key_of_a_difference_says_lost_and_gained() -> None:
    """A tenth and three tenths of 20 plants; only what is lost is hatched."""
    density = made(rectangle(100.0, 60.0))
    _, classes = density_classes(density, "us", which="difference", plants_per_m2=20.0 / FOOT_M**2)
    assert [one.text for one in classes] == [
        "over 6 lost", "2 to 6 lost", "less than 2 either way", "2 to 6 gained", "over 6 gained",
    ]  # fmt: skip
    assert [one.hatched is not None for one in classes] == [True, True, False, False, False]


def test_the_key_of_the_tool_gives_each_share_and_calls_little_not_none() -> None:
    """Missed, once and twice as the map has counted them, cell by cell."""
    density = made(rectangle(100.0, 60.0))
    _, classes = density_classes(density, "us", which="worked")
    assert [one.text for one in classes] == ["missed 1.2%", "once 90%", "twice 8.8%"]
    scarce = made(rectangle(100.0, 60.0), states=(0.0002, 0.9998, 0.0))
    _, classes = density_classes(scarce, "us", which="worked")
    assert [one.text for one in classes] == ["missed <0.1%", "once 100%", "twice 0.0%"]


def test_the_drawing_tells_those_who_listen_how_much_ground_is_thin() -> None:
    """A quarter of the field under half the rate before covering, none after."""
    outline = rectangle(96.0, 60.0)
    density = made(outline, before=lambda x, y: np.where(x < 25.0, 0.2, 1.2) + 0.0 * y, cell_m=1.0)
    story = tree(picture(density, outline, "before")).findtext(f"{NS}desc") or ""
    assert "27%" in story  # a cell beyond the edge counts too: 26 of 98 columns
    assert "0.0%" in (tree(picture(density, outline, "after")).findtext(f"{NS}desc") or "")


# ------------------------------------------------------------------------------------ ground


@pytest.mark.parametrize("grey", [False, True])
def test_each_dose_has_the_colour_of_its_class(grey: bool) -> None:
    """Five strips side by side, at 0.4, 0.6, 1.0, 1.3 and 1.6 of the rate, west to east."""
    outline = rectangle(100.0, 60.0)
    doses = np.array([0.4, 0.6, 1.0, 1.3, 1.6])
    density = made(
        outline, after=lambda x, y: doses[np.clip(x // 20.0, 0, 4).astype(int)] + 0.0 * y
    )
    pixels, _ = inside(picture(density, outline, "after", black_and_white=grey))
    found = [colour_at(pixels, outline, 10.0 + 20.0 * strip, 30.0) for strip in range(5)]
    assert tuple(found) == sequential(5, grey=grey)
    if grey:
        shown = pixels[pixels[:, :, 3] > 0]
        assert np.array_equal(shown[:, 0], shown[:, 1])
        assert np.array_equal(shown[:, 0], shown[:, 2])


@given(
    st.floats(-math.pi, math.pi), st.floats(60.0, 240.0), st.floats(60.0, 140.0),
    st.sampled_from([0.7, 2.0, 3.0]),
)  # fmt: skip
def test_north_is_up_whatever_way_the_passes_run(
    heading_rad: float, x_m: float, y_m: float, cell_m: float
) -> None:
    """A heavy patch is drawn where it lies, and nothing heavy 20 m around it."""
    outline = rectangle(300.0, 200.0)
    density = made(
        outline,
        after=lambda x, y: np.where(np.hypot(x - x_m, y - y_m) < 10.0, 2.0, 1.0),
        heading_rad=heading_rad,
        cell_m=cell_m,
    )
    pixels, _ = inside(picture(density, outline, "after"))
    heavy, planned = sequential(5)[4], sequential(5)[2]
    assert colour_at(pixels, outline, x_m, y_m) == heavy
    for turn in range(8):
        east, north = math.cos(math.pi * turn / 4.0), math.sin(math.pi * turn / 4.0)
        assert colour_at(pixels, outline, x_m + 20.0 * east, y_m + 20.0 * north) == planned


def test_a_patch_ends_where_it_ends_to_half_a_metre() -> None:
    """A heavy patch of 12 by 8 m, its sides on sides of cells: looked at within and beyond each."""
    outline = rectangle(120.0, 80.0)
    density = made(
        outline,
        after=lambda x, y: np.where((x > 40.0) & (x < 52.0) & (y > 20.0) & (y < 28.0), 2.0, 1.0),
    )
    pixels, _ = inside(picture(density, outline, "after", 1100.0, height=800.0))
    heavy, planned = sequential(5)[4], sequential(5)[2]
    for x_m, y_m, beyond in (
        (40.0, 24.0, (-1, 0)), (52.0, 24.0, (1, 0)), (46.0, 20.0, (0, -1)), (46.0, 28.0, (0, 1)),
    ):  # fmt: skip
        east_m, north_m = 0.5 * beyond[0], 0.5 * beyond[1]
        assert colour_at(pixels, outline, x_m + east_m, y_m + north_m) == planned
        assert colour_at(pixels, outline, x_m - east_m, y_m - north_m) == heavy


@pytest.mark.parametrize("which", WHICH)
def test_ground_that_is_not_the_field_has_no_colour(which: Which) -> None:
    """Holes, the corners round the field, and cells the map does not know."""
    outline = drawn(DRAWN, HOLE)
    density = made(outline, heading_rad=0.3)
    pixels, (_, _, wide, high) = inside(picture(density, outline, which, 1100.0))
    assert colour_at(pixels, outline, 100.0, 200.0) is not None
    assert colour_at(pixels, outline, 285.0, 245.0) is None
    assert colour_at(pixels, outline, -35.0, 550.0) is None
    low, high_m = outline.exterior_m.min(axis=0), outline.exterior_m.max(axis=0)
    span_m = high_m - low
    coloured = (pixels[:, :, 3] > 0).mean() * wide * high
    scale = wide / span_m[0]
    assert coloured / scale**2 == pytest.approx(outline.shape.area, rel=0.01)
    assert density.after is not None
    unknown = density.after.copy()
    unknown[density.after.shape[0] // 2 :, :] = np.nan
    half = DensityMap(
        cell_m=2.0, sums=density.sums, histograms=density.histograms, sown_cells=0.0,
        left_cells=0.0, frame=density.frame, before=unknown, after=unknown, worked=unknown,
    )  # fmt: skip
    fewer, _ = inside(picture(half, outline, which, 1100.0))
    assert 0.3 < (fewer[:, :, 3] > 0).sum() / (pixels[:, :, 3] > 0).sum() < 0.7


def test_the_ground_lies_inside_the_line_of_the_edge() -> None:
    """West and north side of the picture against the outermost corners of the drawn edge."""
    outline = drawn(DRAWN, HOLE)
    drawing = picture(made(outline), outline, "after", 1100.0)
    _, (left, top, wide, high) = inside(drawing)
    edge = next(
        points(one) for one in tree(drawing).iter(f"{NS}path") if one.get("stroke-width") == "2.4"
    )
    xs, ys = zip(*edge, strict=True)
    assert (left, top) == pytest.approx((min(xs), min(ys)), abs=0.011)
    # A whole number of pixels may reach over the edge by one; those are see-through.
    assert (left + wide, top + high) == pytest.approx((max(xs), max(ys)), abs=2.0)


@pytest.mark.parametrize("degrees", [0.0, 70.0, -130.0])
def test_a_reckoned_map_shows_a_pass_where_it_was_driven(degrees: float) -> None:
    """One pass over a field, cells at three headings: seed along its line and nowhere else."""
    outline = rectangle(240.0, 160.0)
    one, other = np.array([30.0, 20.0]), np.array([200.0, 130.0])
    density = density_map(
        outline,
        spread=DrivenLines(lines_m=np.array([[one, other]])),
        pattern=TrayPattern(first_tray_m=-4.0, spacing_m=2.0, catch=(1.0,) * 5),
        driving_width_m=8.0,
        spread_steering=Steering(sd_m=0.0),
        tools=[],
        heading_rad=math.radians(degrees),
        cell_m=1.0,
        map_cell_m=1.0,
    )
    pixels, _ = inside(picture(density, outline, "before"))
    bare, planned = sequential(5)[0], sequential(5)[2]
    right = np.array([other[1] - one[1], one[0] - other[0]]) / np.hypot(*(other - one))
    for share in (0.1, 0.5, 0.9):
        place = one + share * (other - one)
        assert colour_at(pixels, outline, *(place + 1.0 * right)) == planned
        for off_m in (-9.0, 9.0):
            assert colour_at(pixels, outline, *(place + off_m * right)) == bare
    for share in (-0.05, 1.05):
        assert colour_at(pixels, outline, *(one + share * (other - one))) == bare


def test_passes_finer_than_the_drawing_show_their_mean_and_no_strips() -> None:
    """Every second metre at 0.2 and 1.8 of the rate, 4 m to a pixel: the planned rate all over."""
    outline = rectangle(1200.0, 800.0)
    density = made(
        outline, after=lambda x, y: 0.2 + 1.6 * (np.floor(y) % 2.0) + 0.0 * x, cell_m=1.0
    )
    png = density_png(density, outline, which="after", width=300, height=300)
    pixels = read_png(png)
    assert pixels.shape == (200, 300, 4)
    rgb = {tuple(one) for one in pixels[1:-1, 1:-1, :3].reshape(-1, 3).tolist()}
    assert rgb == {tuple(int(sequential(5)[2][at : at + 2], 16) for at in (1, 3, 5))}


@pytest.mark.parametrize("grey", [False, True])
def test_missed_ground_is_the_darkest_and_twice_worked_ground_is_lined(grey: bool) -> None:
    """Three strips: missed plain dark, once plain light, twice in two colours."""
    outline = rectangle(90.0, 60.0)
    density = made(outline, worked=lambda x, y: np.clip(x // 30.0, 0.0, 2.0) + 0.0 * y)
    pixels, _ = inside(picture(density, outline, "worked", black_and_white=grey))
    third = pixels.shape[1] // 3
    strips = [pixels[4:-4, 4 + third * n : third * (n + 1) - 4, :3] for n in range(3)]
    seen = [
        {"#" + "".join(f"{one:02X}" for one in rgb) for rgb in strip.reshape(-1, 3).tolist()}
        for strip in strips
    ]
    assert [len(one) for one in seen] == [1, 1, 2]
    assert seen[0] == {(INKED if grey else COLOURED).text}
    darkest = [min(lab_of(colour)[0] for colour in one) for one in seen]
    assert darkest[0] + 30.0 < darkest[2] < darkest[1] - 20.0


def test_lost_ground_is_hatched_and_gained_ground_is_not() -> None:
    """West loses two tenths, the middle nothing, east gains two tenths."""
    outline = rectangle(90.0, 60.0)
    density = made(outline, after=lambda x, y: 0.8 + 0.2 * np.clip(x // 30.0, 0, 2) + 0.0 * y)
    pixels, _ = inside(picture(density, outline, "difference"))
    third = pixels.shape[1] // 3
    seen = [
        {"#" + "".join(f"{one:02X}" for one in rgb) for rgb in strip.reshape(-1, 3).tolist()}
        for strip in (pixels[4:-4, 4 + third * n : third * (n + 1) - 4, :3] for n in range(3))
    ]
    scale = diverging(2)
    assert seen == [{scale[1], COLOURED.paper}, {scale[2]}, {scale[3]}]


@pytest.mark.parametrize(("width", "height"), [(400, 100), (100, 400), (64, 64)])
def test_the_file_fits_its_frame_and_has_an_edge_in_ink(width: int, height: int) -> None:
    """One side is filled; the field's border is ink, the ground inside is not."""
    outline = rectangle(300.0, 200.0)
    pixels = read_png(
        density_png(made(outline), outline, which="after", width=width, height=height)
    )
    high, wide = pixels.shape[:2]
    assert (wide, high) == pytest.approx(
        (min(width, 1.5 * height), min(height, width / 1.5)), abs=1.0
    )
    ink = [int(COLOURED.text[at : at + 2], 16) for at in (1, 3, 5)]
    assert (pixels[0, :, :3] == ink).all()
    assert not (pixels[1:-1, 1:-1, :3] == ink).all(axis=2).any()


def test_no_drawing_without_a_map_or_without_room() -> None:
    """A density reckoned without drawn maps; a drawing lower than its key; no plants planned."""
    outline = rectangle(100.0, 60.0)
    density = made(outline)
    bare = DensityMap(
        cell_m=1.0, sums=density.sums, histograms=density.histograms, sown_cells=0.0,
        left_cells=0.0,
    )  # fmt: skip
    with pytest.raises(OutOfRange):
        picture(bare, outline, "after")
    with pytest.raises(OutOfRange):
        density_png(bare, outline, which="worked", width=10, height=10)
    with pytest.raises(OutOfRange):
        picture(density, outline, "after", height=60.0)
    with pytest.raises(OutOfRange):
        picture(density, outline, "after", plants_per_m2=0.0)
    with pytest.raises(OutOfRange):
        density_png(density, outline, which="after", width=0, height=10)
