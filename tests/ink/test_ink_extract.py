"""The whole stage on pages whose ink is known."""

import numpy as np
import pytest

from helpers_ink import drawn, flat, ink_on_page
from limner.errors import InputError
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings


def ring(radius: float, width: float, at: tuple[float, float] = (520.3, 509.6)):
    """Signed distance from a ring."""

    def distance(x, y):
        return np.abs(np.hypot(x - at[0], y - at[1]) - radius) - width / 2

    return distance


def edges(coverage: np.ndarray, at: tuple[float, float] = (520.3, 509.6)) -> list[np.ndarray]:
    """Distances of the 0.5 iso-lines' points from a place, inner line first."""
    from skimage.measure import find_contours

    # find_contours gives (row, column) from the first pixel's centre.
    lines = [np.hypot(*(line + 0.5 - (at[1], at[0])).T) for line in find_contours(coverage, 0.5)]
    return sorted(lines, key=np.mean)


@pytest.mark.parametrize("ink", [0.15, 0.45, 0.75])
@pytest.mark.parametrize("blur", [0.5, 0.9])
def test_a_clean_edge_is_located_to_a_twentieth_of_a_pixel(ink, blur):
    grey = drawn(1010, 1030, ring(100.0, 7.0), ink=ink, blur=blur)
    found = extract_ink(flat(grey), InkSettings())
    inner, outer = edges(ink_on_page(found, grey.shape))
    assert abs(inner.mean() - 96.5) <= 0.05
    assert abs(outer.mean() - 103.5) <= 0.05
    assert max(inner.std(), outer.std()) <= 0.05


def test_a_noisy_edge_is_smooth_and_unbiased():
    rng = np.random.default_rng(8)
    grey = drawn(1010, 1030, ring(200.0, 7.0), ink=0.4, blur=1.0)
    grey = (grey + 0.04 * rng.standard_normal(grey.shape)).astype(np.float32)
    inner, outer = edges(ink_on_page(extract_ink(flat(grey), InkSettings()), grey.shape))
    assert abs(inner.mean() - 196.5) <= 0.1
    assert abs(outer.mean() - 203.5) <= 0.1
    assert max(inner.std(), outer.std()) <= 0.15


def test_a_picture_reduced_for_a_screen_is_measured_as_it_was_reduced():
    # Software averages encoded values: the half-way level lies there.
    y, x = np.mgrid[0:400, 0:400] + 0.5
    share = np.clip(0.5 - ring(100.0, 6.0, (200.2, 199.7))(x, y), 0, 1)
    grey = (1 - 0.7 * share).astype(np.float32)
    inner, outer = edges(ink_on_page(extract_ink(flat(grey), InkSettings()), grey.shape), (200.2, 199.7))
    assert abs(inner.mean() - 97.0) <= 0.05
    assert abs(outer.mean() - 103.0) <= 0.05


@pytest.mark.parametrize("width", [3.0, 6.0, 11.0, 17.0])
def test_the_line_width_is_that_which_was_drawn(width):
    found = extract_ink(flat(drawn(1100, 1100, ring(300.0, width))), InkSettings())
    assert found.line_width_px * found.to_photo[0, 0] == pytest.approx(width, abs=0.4)


def test_a_blank_page_says_so():
    rng = np.random.default_rng(3)
    grey = (0.97 + 0.01 * rng.standard_normal((300, 400))).astype(np.float32)
    with pytest.raises(InputError, match=r"no drawing found on blank\.png"):
        extract_ink(flat(grey, source="blank.png"), InkSettings())


def test_a_page_that_is_all_black_says_so():
    rng = np.random.default_rng(3)
    grey = (0.05 + 0.01 * rng.standard_normal((300, 400))).astype(np.float32)
    with pytest.raises(InputError, match=r"dark\.png is dark all over"):
        extract_ink(flat(grey, source="dark.png"), InkSettings())
