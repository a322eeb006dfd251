"""Each sticker by itself: upright, at true size, cut out."""

import io
import math
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from helpers_sheet import FOAM, SAND, lettering, tide_pool
from limner.geometry.cubics import transform
from limner.model.sheet import PlacedSticker
from limner.output.sheet.singles import sheet_singles, sticker_png, sticker_svg

PX_PER_MM = 300 / 25.4


def turned(placed: PlacedSticker, angle_deg: float) -> PlacedSticker:
    """The sticker turned about its centre, clockwise to the eye, as the layout turns it."""
    turn = math.radians(angle_deg)
    c, s = math.cos(turn), math.sin(turn)
    x, y = placed.x_mm, placed.y_mm
    matrix = [[c, -s, x - c * x + s * y], [s, c, y - s * x - c * y]]

    def move(item):
        paths = tuple(transform(path, matrix) for path in item.shape.paths)
        return replace(item, shape=replace(item.shape, paths=paths))

    cut = replace(placed.cut, path=transform(placed.cut.path, matrix))
    fills, lines = (tuple(map(move, items)) for items in (placed.fills, placed.lines))
    return replace(placed, rotate_deg=angle_deg, fills=fills, lines=lines, cut=cut)


def picture(placed: PlacedSticker, **changes: object) -> np.ndarray:
    sheet = replace(tide_pool(), letterings=(), **changes)
    image = Image.open(io.BytesIO(sticker_png(placed, sheet)))
    assert image.info["dpi"] == pytest.approx((300, 300), abs=0.01)
    return np.asarray(image.convert("RGBA"))


def rgb(screen: str) -> tuple[int, ...]:
    return tuple(int(screen[at : at + 2], 16) for at in (1, 3, 5))


def test_the_art_alone_at_true_size() -> None:
    crab = tide_pool().stickers[0]
    root = ET.fromstring(sticker_svg(crab))
    _, _, width, height = map(float, root.get("viewBox").split())
    assert root.get("width") == f"{width:g}mm"
    assert (width, height) == pytest.approx((crab.width_mm, crab.height_mm), abs=0.02)
    groups = {group.get("id"): group for group in root if group.tag.endswith("}g")}
    assert list(groups) == ["fills", "lines"]
    assert sum(1 for _ in root.iter("{http://www.w3.org/2000/svg}path")) == len(crab.shapes)


@pytest.mark.parametrize("angle", [20.0, -90.0])
def test_it_stands_upright_however_the_layout_turned_it(angle: float) -> None:
    """But for the rounding of coordinates to 0.001 mm."""
    crab = tide_pool().stickers[0]
    boxes = [ET.fromstring(sticker_svg(one)).get("viewBox").split() for one in (crab, turned(crab, angle))]
    assert [float(v) for v in boxes[0]] == pytest.approx([float(v) for v in boxes[1]], abs=0.002)
    plain, back = picture(crab), picture(turned(crab, angle))
    rows, columns = (min(a, b) for a, b in zip(plain.shape[:2], back.shape[:2], strict=True))
    differs = np.abs(plain[:rows, :columns].astype(int) - back[:rows, :columns]).max(axis=2) > 60
    assert differs.mean() < 0.002


def test_the_picture_is_cut_out() -> None:
    """The shell is cut as a circle of 11.9 mm: its picture is as wide, and bare outside of it."""
    shell = tide_pool().stickers[3]
    pixels = picture(shell)
    height, width = pixels.shape[:2]
    assert (width, height) == (math.ceil(23.8 * PX_PER_MM), math.ceil(23.8 * PX_PER_MM))
    y, x = np.mgrid[0:height, 0:width] + 0.5
    far = np.hypot(x / PX_PER_MM - 11.9, y / PX_PER_MM - 11.9)
    assert (pixels[far > 11.9 + 0.1, 3] == 0).all()
    assert (pixels[far < 11.9 - 0.1, 3] == 255).all()
    assert tuple(pixels[height // 2, 8, :3]) == rgb(SAND.screen), "between art and cut the background prints"
    inside = pixels[int((11.9 - 5) * PX_PER_MM), int((11.9 + 6.5) * PX_PER_MM), :3]
    assert tuple(inside) == rgb(FOAM.screen)


def test_without_a_background_the_rim_is_paper() -> None:
    pixels = picture(tide_pool().stickers[3], background=None)
    assert tuple(pixels[pixels.shape[0] // 2, 8]) == (255, 255, 255, 255)


def test_lettering_on_the_sticker_is_part_of_its_picture() -> None:
    shell = tide_pool().stickers[3]
    on_it = lettering("lettering-1", "I", 36, 126, 16)
    bare, with_it = (
        np.asarray(Image.open(io.BytesIO(sticker_png(shell, replace(tide_pool(), letterings=pieces)))))
        for pieces in ((), (on_it,))
    )
    assert (bare != with_it).any()


def test_copies_have_one_pair_of_files() -> None:
    sheet = tide_pool()
    crab = sheet.stickers[0]
    copies = tuple(replace(turned(crab, 10.0 * i), name=f"crab-{i}", copy_of=crab.name) for i in range(1, 4))
    other = replace(crab, name="pale", width_mm=crab.width_mm + 1)
    assert list(sheet_singles(replace(sheet, stickers=(crab, *copies, other), letterings=()))) == [
        "crab.svg", "crab.png", "pale.svg", "pale.png",
    ]  # fmt: skip


def test_names_that_differ_in_capitals_alone_are_numbered() -> None:
    sheet = tide_pool()
    crab, *others = sheet.stickers
    again = replace(sheet, stickers=(crab, replace(others[0], name="Crab")), letterings=())
    assert list(sheet_singles(again)) == ["crab.svg", "crab.png", "Crab-2.svg", "Crab-2.png"]
