"""A raster worked through in tiles gives what it gives as a whole."""

import cv2
import numpy as np
import pytest

from limner.ink import tiles as tiling
from limner.ink.dark.solids import find_solids
from limner.ink.dark.threshold import Levels, hysteresis
from limner.ink.extract import extract_ink
from limner.ink.filters import distance_inside, grow
from limner.ink.settings import InkSettings
from limner.ink.tiles import tiles
from limner.model.raster import FlatPage


def strokes(seed: int, size: tuple[int, int] = (901, 1203)) -> np.ndarray:
    """Crossing strokes and blots of many widths; grey, paper white."""
    rng = np.random.default_rng(seed)
    page = np.full(size, 245, np.uint8)
    for _ in range(12):
        points = rng.integers(40, min(size) - 40, (6, 2))
        cv2.polylines(page, [points.astype(np.int32)], False, 60, 6, cv2.LINE_AA)
    for _ in range(3):
        x, y = rng.integers(100, min(size) - 100, 2).tolist()
        cv2.circle(page, (x, y), int(rng.integers(15, 45)), 40, cv2.FILLED, cv2.LINE_AA)
    noise = rng.normal(0, 4, size)
    return np.clip(cv2.GaussianBlur(page, (0, 0), 1.2) + noise, 0, 255).astype(np.uint8)


def page_of(grey: np.ndarray) -> FlatPage:
    colour = np.repeat(grey[:, :, None], 3, axis=2)
    return FlatPage(grey.astype(np.float32) / 245, colour, 0.1, np.eye(3), "width", "strokes")


def test_every_drawn_pixel_belongs_to_one_tile(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tiling, "_SIDE_PX", 64)
    rng = np.random.default_rng(3)
    for _ in range(20):
        mask = np.zeros((int(rng.integers(70, 400)), int(rng.integers(70, 400))), bool)
        corner = rng.integers(0, 60, 2)
        mask[corner[0] : corner[0] + 150, corner[1] : corner[1] + 90] = True
        count = np.zeros(mask.shape, int)
        for tile in tiles(mask, 9):
            count[tile.own] += 1
            around = np.zeros(mask.shape, bool)
            around[tile.around] = True
            assert tile.around[0].start % 2 == tile.around[1].start % 2 == 0
            assert around[tile.own].all()
            np.testing.assert_array_equal(mask[tile.around][tile.within], mask[tile.own])
        assert count.max() == 1
        assert (count[mask] == 1).all()


def test_no_tile_where_nothing_is_drawn() -> None:
    assert list(tiles(np.zeros((50, 50), bool), 4)) == []


@pytest.mark.parametrize("seed", [1, 2])
def test_ink_does_not_depend_on_the_tiles(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    page = page_of(strokes(seed))
    whole = extract_ink(page, InkSettings())
    monkeypatch.setattr(tiling, "_SIDE_PX", 150)
    parts = extract_ink(page, InkSettings())
    assert len(list(tiles(parts.mask, 10))) > 20
    # Running sums round differently, and here and there that tips the scales for a pixel.
    apart = np.abs(whole.coverage - parts.coverage)
    assert apart.max() < 0.05
    assert np.count_nonzero(apart > 0.002) <= 1e-5 * apart.size
    np.testing.assert_array_equal(whole.solid, parts.solid)
    assert parts.line_width_px == pytest.approx(whole.line_width_px, rel=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_solids_are_those_that_distances_over_the_whole_page_find(seed: int) -> None:
    tone = strokes(seed).astype(np.float32) / 245
    levels = Levels(0.05, 0.8, 0.1, 0.3)
    found = find_solids(tone, levels, 6.0, 2.5)
    dark = tone < np.float32(1 - 0.42 * 0.8)
    depth = distance_inside(dark)
    wide = 0.5 * 0.6 * 2.5 * 6.0
    expected = dark & grow(hysteresis(depth > wide, depth > 0.5 * 2.5 * 6.0), wide)
    np.testing.assert_array_equal(found, expected)
    assert expected.any()
