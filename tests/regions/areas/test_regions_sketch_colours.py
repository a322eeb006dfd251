"""What counts as coloured in, against scikit-image's CIELAB."""

import itertools

import numpy as np
from skimage.color import rgb2lab

from limner.regions.areas.sketch_colours import is_coloured


def test_colours_are_judged_as_cielab_does() -> None:
    rgb = np.array(list(itertools.product(range(0, 256, 5), repeat=3)), np.uint8)
    lightness, a, b = np.moveaxis(rgb2lab(rgb[None])[0], 1, 0)
    # More than 9 of chroma or 12 below the white of paper: limner's own bounds.
    inside = np.maximum(np.hypot(a, b) - 9.0, 88.0 - lightness)
    # The two white points differ in their last digits: what lies that near to the bounds is left out.
    clear = np.abs(inside) > 0.05
    assert np.array_equal(is_coloured(rgb)[clear], (inside > 0)[clear])


def test_no_nearly_white_is_coloured() -> None:
    # The quick way out for paper: every colour it lets through, looked at one by one.
    rgb = np.array(list(itertools.product(range(222, 256), repeat=3)), np.uint8)
    rgb = rgb[np.ptp(rgb, axis=1) <= 10]
    lightness, a, b = np.moveaxis(rgb2lab(rgb[None])[0], 1, 0)
    assert np.hypot(a, b).max() < 9.0
    assert lightness.min() > 88.0
    assert not is_coloured(rgb).any()
