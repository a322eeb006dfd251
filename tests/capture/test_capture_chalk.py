"""Drawings in white on a dark ground are turned dark on light, and nothing else is."""

import cv2
import numpy as np
import pytest

from helpers_ink import circle, ink_on_page, ink_score
from limner.capture.page import flatten_page
from limner.capture.settings import CaptureSettings
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings
from limner.model.raster import Photo

SIZE = (1500, 2000)


def drawn() -> np.ndarray:
    """A head, two eyes, a mouth: coverage of lines 14 px wide."""
    page = np.zeros(SIZE, np.uint8)
    mouth = circle(1000, 850, 200)[10:90]
    for points, closed in ((circle(1000, 750, 500), 1), (circle(800, 600, 120), 1), (mouth, 0)):
        cv2.polylines(page, [np.round(points * 16).astype(np.int32)], bool(closed), 255, 14, cv2.LINE_AA, 4)
    return page.astype(np.float32) / 255


def photographed(ground: float, line: float, seed: int = 3) -> Photo:
    """Lines of one light on a ground of another, linear, unevenly lit, with grain and noise."""
    rng = np.random.default_rng(seed)
    grain = 1 - 0.3 * np.abs(cv2.GaussianBlur(rng.normal(0, 2, SIZE).astype(np.float32), (0, 0), 1.5))
    lamp = np.linspace(0.75, 0.95, SIZE[1], dtype=np.float32)
    light = cv2.GaussianBlur((ground + (line - ground) * drawn() * grain) * lamp, (0, 0), 1.0)
    # IEC 61966-2-1 (sRGB), from memory.
    grey = 1.055 * np.clip(light, 0, 1) ** (1 / 2.4) - 0.055 + rng.normal(0, 0.015, SIZE)
    rgb = np.repeat(np.clip(255 * grey + 0.5, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)
    return Photo(rgb, None, "board.jpg")


# Black paper, a slate board, and graphite on white paper as ever.
@pytest.mark.parametrize(("ground", "line"), [(0.02, 0.75), (0.08, 0.65), (0.9, 0.06)])
def test_the_drawing_is_found_on_any_ground(ground: float, line: float) -> None:
    found = extract_ink(flatten_page(photographed(ground, line), CaptureSettings()), InkSettings())
    assert ink_score(ink_on_page(found, SIZE) >= 0.5, drawn() >= 0.5, within_px=2.0) >= 0.99


def test_solid_blacks_are_not_taken_for_a_board() -> None:
    photo = photographed(0.9, 0.05)
    rgb = photo.rgb.copy()
    rgb[150:1350, 200:1800] = 25
    page = flatten_page(Photo(rgb, None, "black.jpg"), CaptureSettings("none"))
    assert page.grey[5:100].mean() > 0.9
    assert page.grey[160:1340, 210:1790].mean() < 0.4
