"""The page at fewer pixels: it stays where it is and as large as it is."""

import cv2
import numpy as np
import pytest

from limner.capture.lay import Lay
from limner.capture.page import flatten_page
from limner.capture.settings import CaptureSettings
from limner.model.raster import FlatPage, Photo

HEIGHT, WIDTH = 1800, 2400
WHOLE = Lay((WIDTH, HEIGHT), np.eye(3), None, "", straightened=False)


def table_with_sheet() -> tuple[np.ndarray, np.ndarray]:
    """A sheet with a dot, seen at a slant on a dark table; and the dot's place in the photograph."""
    page = np.full((1400, 1000, 3), 235, np.uint8)
    # A circle's centre does not quite project to the centre of its image: the dot is small.
    cv2.circle(page, (700, 400), 14, (30, 30, 30), -1, cv2.LINE_AA)
    corners = np.array([[620, 140], [1790, 220], [1700, 1690], [560, 1600]], np.float32)
    square = np.array([[-0.5, -0.5], [999.5, -0.5], [999.5, 1399.5], [-0.5, 1399.5]], np.float32)
    matrix = cv2.getPerspectiveTransform(square, corners - 0.5)
    photo = np.full((HEIGHT, WIDTH, 3), (60, 50, 45), np.uint8)
    photo = cv2.warpPerspective(page, matrix, (WIDTH, HEIGHT), photo, cv2.INTER_AREA, cv2.BORDER_TRANSPARENT)
    dot = matrix @ [700.0, 400.0, 1.0]
    return photo, dot[:2] / dot[2] + 0.5


def dot_in_photograph(page: FlatPage) -> np.ndarray:
    dark = np.clip(0.6 - page.grey, 0.0, None)
    y, x = np.mgrid[: dark.shape[0], : dark.shape[1]] + 0.5
    at = page.to_photo @ [(dark * x).sum() / dark.sum(), (dark * y).sum() / dark.sum(), 1.0]
    return np.asarray(at[:2] / at[2])


@pytest.mark.parametrize("wanted", [1, 2, 3, 5])
def test_a_reduced_sheet_lies_where_the_full_one_does(wanted: int) -> None:
    rgb, dot = table_with_sheet()
    photo = Photo(rgb, None, "dot.png")
    page = flatten_page(photo, CaptureSettings(paper="A4"), lambda *_: wanted)
    full = flatten_page(photo, CaptureSettings(paper="A4"))
    assert page.reduction == pytest.approx(wanted, rel=0.003)
    assert full.reduction == 1.0
    # Half a pixel of the photograph: the centre of a dot of 28 px.
    np.testing.assert_allclose(dot_in_photograph(page), dot, atol=0.5)
    width_mm, height_mm = (page.mm_per_px * side for side in page.grey.shape[::-1])
    assert width_mm == pytest.approx(210.0, rel=0.01)
    assert width_mm == pytest.approx(full.mm_per_px * full.grey.shape[1], rel=1e-3)
    assert height_mm == pytest.approx(full.mm_per_px * full.grey.shape[0], rel=3e-3)


def test_a_whole_photograph_keeps_its_width_to_the_pixel() -> None:
    assert [WHOLE.fitting(wanted) for wanted in (1, 2, 3, 4, 5, 7)] == [1, 2, 3, 4, 5, 6]
    odd = Lay((2401.0, 1800.0), np.eye(3), None, "", straightened=False)
    assert odd.fitting(9) == 1
    sheet = Lay((2401.3, 1800.2), np.eye(3), None, "", straightened=True)
    assert sheet.fitting(7) == 7


def test_samples_are_the_means_of_whole_cells() -> None:
    rgb = np.random.default_rng(2).integers(0, 256, (HEIGHT // 6, WIDTH // 6, 3)).astype(np.uint8)
    lay = Lay((WIDTH / 6, HEIGHT / 6), np.eye(3), None, "", straightened=False)
    sampled = lay.sampled(rgb, 4)
    means = rgb.reshape(75, 4, 100, 4, 3).mean(axis=(1, 3))
    np.testing.assert_allclose(sampled, means, atol=1.0)
    assert lay.sampled(rgb, 1) is rgb


def test_dpi_counts_pixels_of_the_photograph() -> None:
    rgb = np.full((HEIGHT, WIDTH, 3), 240, np.uint8)
    cv2.circle(rgb, (1200, 900), 500, (40, 40, 40), 20, cv2.LINE_AA)
    page = flatten_page(Photo(rgb, 300.0, "scan.png"), CaptureSettings(paper="none"), lambda *_: 4)
    assert page.grey.shape == (450, 600)
    assert page.mm_per_px == pytest.approx(4 * 25.4 / 300.0)
    assert page.reduction == 4.0
