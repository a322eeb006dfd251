"""Coverage is a number on pages of any size and depth."""

import cv2
import numpy as np
import pytest

from helpers_ink import flat
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings


def one_bit(height: int, width: int) -> np.ndarray:
    """A scan without greys: hard edges, lines as thin as they come."""
    page = np.full((height, width), 255, np.uint8)
    for radius, line in ((0.4, 3), (0.25, 1), (0.1, 2)):
        centre = (width // 2, height // 2)
        cv2.circle(page, centre, int(radius * min(height, width)), 0, line, cv2.LINE_8)
    return page.astype(np.float32) / 255


# At a million pixels a page is as large as the smallest photograph; below, it is made twice as fine.
@pytest.mark.parametrize("size", [(1000, 1000), (999, 1000), (800, 1250), (400, 500), (1201, 1600)])
def test_one_bit_scans_have_a_coverage_everywhere(size: tuple[int, int]) -> None:
    ink = extract_ink(flat(one_bit(*size)), InkSettings())
    assert np.isfinite(ink.coverage).all()
    assert 0 <= ink.coverage.min() <= ink.coverage.max() <= 1
    assert 1 <= ink.line_width_px <= 8
