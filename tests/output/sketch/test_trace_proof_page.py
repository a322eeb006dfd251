"""The proof of a trace: what of the sketch it shows, and that it takes no longer for a small drawing."""

import time

import cv2
import numpy as np

from limner.geometry.cubics import straight_segments
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import CubicPath
from limner.model.raster import ScaledPage
from limner.output.sketch.proof import trace_proof

MM_PER_PX = 25.4 / 600


def page_with_a_square(side_px: int) -> tuple[ScaledPage, Drawing]:
    """A page of A4 at 600 dots per inch with one small black square, and its outline."""
    grey = np.ones((7016, 4960), np.float32)
    at = np.array([2400, 3500])
    grey[at[1] : at[1] + side_px, at[0] : at[0] + side_px] = 0
    colour = np.repeat((255 * grey).astype(np.uint8)[:, :, None], 3, axis=2)
    page = ScaledPage(grey, colour, MM_PER_PX, np.eye(3), "dpi", "dot.png")
    corners = (at + side_px * np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]])) * MM_PER_PX
    path = CubicPath(straight_segments(corners), np.ones(4, bool), np.zeros(4, bool), True)
    shape = Shape("dot", "line", (path,), "#ffffff", 0.0)
    return page, Drawing(4960 * MM_PER_PX, 7016 * MM_PER_PX, (), (shape,), 0.5)


def test_one_dot_on_a_large_page_takes_no_longer_than_a_drawing():
    page, drawing = page_with_a_square(12)
    start = time.process_time()
    picture = cv2.imdecode(np.frombuffer(trace_proof(page, drawing), np.uint8), cv2.IMREAD_GRAYSCALE)
    # It took 45 s when all of the page was enlarged, and takes about one.
    assert time.process_time() - start < 10.0
    # The dot lies in the middle of its panel, within a rim of paper.
    panel = picture[28:1228, 28:1228]
    assert panel[500:700, 500:700].mean() < 90
    assert panel[:30].mean() > 220
    assert panel[:, :30].mean() > 220


def test_the_sketch_lies_under_its_outline():
    page, drawing = page_with_a_square(900)
    picture = cv2.imdecode(np.frombuffer(trace_proof(page, drawing), np.uint8), cv2.IMREAD_GRAYSCALE)
    panel = picture[28:1228, 28:1228]
    # A twelfth of 900 px is air on both sides, 1200 px wide: the square ends at 64.3 px and 1135.7 px. The
    # ruler along the rim has no mark half way and a little further.
    for across in (panel[613], panel[:, 613]):
        dark = np.flatnonzero(across < 90)
        assert abs(dark[0] - 64.3) < 2
        assert abs(dark[-1] - 1135.7) < 2
