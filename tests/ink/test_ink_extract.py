"""The whole stage on pages whose ink is known."""

import numpy as np
import pytest

from helpers_ink import drawn, flat, ink_on_page
from limner.errors import InputError
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings


def ring(radius: float, width: float, at: tuple[float, float] = (150.3, 149.6)):
    def inside(x, y):
        r = np.hypot(x - at[0], y - at[1])
        return np.abs(r - radius) <= width / 2

    return inside


@pytest.mark.parametrize("ink", [0.15, 0.45, 0.75])
def test_a_clean_edge_is_located_to_a_twentieth_of_a_pixel(ink):
    from skimage.measure import find_contours

    grey = drawn(300, 300, ring(100.0, 6.0), ink=ink)
    found = extract_ink(flat(grey), InkSettings())
    coverage = ink_on_page(found, grey.shape)
    radii = [np.hypot(*(c - (149.6 - 0.5, 150.3 - 0.5)).T) for c in find_contours(coverage, 0.5)]
    assert sorted(round(float(r.mean())) for r in radii) == [97, 103]
    for r in radii:
        assert abs(r.mean() - round(r.mean())) <= 0.05
        assert r.std() <= 0.05


def test_the_line_width_is_that_which_was_drawn():
    for width in (3.0, 6.0, 11.0):
        found = extract_ink(flat(drawn(400, 400, ring(150.0, width, (200, 200)))), InkSettings())
        assert found.line_width_px * found.to_photo[0, 0] == pytest.approx(width, abs=0.5)


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
