"""Thin dark lines beside bold ones: the width of a line is a local thing."""

import cv2
import numpy as np
import pytest

from helpers_ink import Sketch, circle, ink_on_page, share_kept
from limner.ink.extract import extract_ink
from limner.ink.scale import line_widths
from limner.ink.settings import InkSettings

BOLD, FINE = 30.0, 6.0


def bold_face() -> Sketch:
    """A head, two eyes and a mouth in a bold pen."""
    sketch = Sketch(1200, 1800)
    for x, y, radius in ((900, 600, 540), (700, 480, 140), (1100, 480, 140)):
        sketch.stroke(circle(x, y, radius), BOLD, closed=True)
    return sketch.stroke([(700, 850), (800, 920), (900, 940), (1000, 920), (1100, 850)], BOLD)


def details() -> list[np.ndarray]:
    """Whiskers near each other, lashes, small rings: points of lines in a thin pen."""
    whiskers = [[(480 - 20 * k, 700 + 32 * k), (660, 720 + 16 * k)] for k in range(3)]
    lashes = [[(660 + 40 * k, 290), (655 + 42 * k, 250)] for k in range(3)]
    rings = [circle(x, 250, 20) for x in (820, 880, 940)]
    return [np.array(points, float) for points in (*whiskers, *lashes, *rings)]


@pytest.fixture(scope="module")
def found() -> tuple[list[np.ndarray], np.ndarray, np.ndarray]:
    """Coverage of each detail, coverage of all that was drawn, and what was found."""
    sketch = bold_face()
    marks = [sketch.coverage(points, FINE, closed=len(points) > 2) for points in details()]
    for mark in marks:
        sketch.put(mark, tone=0.35)
    ink = extract_ink(sketch.page(), InkSettings())
    assert ink.fine_width_px is not None
    return marks, sketch.ink, ink_on_page(ink, sketch.ink.shape)


def test_every_thin_line_is_kept_over_its_whole_length(found):
    marks, _, coverage = found
    # The shortest are 46 px long: what they may lack is less than their own width over both ends.
    assert min(share_kept(coverage, mark) for mark in marks) >= 0.9


def test_thin_lines_are_as_thin_as_they_were_drawn(found):
    marks, drawn, coverage = found
    for mark in marks:
        near = cv2.dilate(mark, np.ones((15, 15))) > 0
        assert float(coverage[near].sum()) == pytest.approx(float(drawn[near].sum()), rel=0.12)


def test_thin_lines_near_each_other_stay_apart(found):
    _, _, coverage = found
    # Half way between the ends of the whiskers, 16 px apart.
    assert coverage[725:732, 655].max() < 0.5


def test_bold_lines_come_out_as_before(found):
    _, drawn, coverage = found
    head = (drawn >= 0.5) & (np.hypot(*(np.mgrid[:1200, :1800].T - (600, 900)).T) > 500)
    assert float((coverage[head] >= 0.5).mean()) >= 0.99


def test_one_pencil_has_one_width():
    sketch = Sketch(1200, 1800)
    for radius in (500, 300, 100):
        sketch.stroke(circle(900, 600, radius), 8.0, closed=True)
    widths = line_widths(sketch.page().grey)
    assert widths.fine == widths.typical == pytest.approx(8.0, abs=1.0)
    assert widths.columns == pytest.approx(1008, abs=4)
