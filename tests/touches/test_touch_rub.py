"""Ink taken away along a line."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_touches import SIZE, WIDTH, apart_px, f1, ink_map, strokes, touched
from limner.model.touch import InkTouch

GRID = (
    [[50, 50], [350, 60]],
    [[60, 50], [60, 350]],
    [[150, 50], [160, 350]],
    [[250, 50], [240, 350]],
    [[50, 340], [350, 345]],
)


def rub(coverage, *lines, width_mm=None, solid=None):
    touches = [InkTouch(False, np.array(line) * 0.1, width_mm) for line in lines]
    return touched(ink_map(coverage, solid), *touches)


@pytest.mark.parametrize(
    "stray",
    [
        [[30, 120], [200, 220], [380, 200]],
        [[30, 200], [380, 200]],
        [[80, 20], [120, 200], [380, 280]],
        [[20, 300], [200, 100], [390, 300]],
    ],
)
def test_a_stray_stroke_across_lines_goes_and_they_stay(stray):
    clean = strokes(*GRID)
    after = rub(np.maximum(clean, strokes(stray)), stray).coverage
    assert f1(clean >= 0.5, after >= 0.5) >= 0.995
    assert apart_px(clean >= 0.5, after >= 0.5) <= 2.0


def test_rubbing_across_hatching_takes_all_of_it():
    hatching = strokes(*([[x, 100], [x, 300]] for x in range(60, 340, 20)))
    after = rub(hatching, [[40, 200], [360, 200]], width_mm=4.0).coverage
    assert not (after[182:218] >= 0.5).any()
    assert np.array_equal(after[:170], hatching[:170])


def test_a_line_cut_short_has_a_clean_end():
    line = strokes([[50, 200], [350, 200]])
    after = rub(line, [[300, 150], [300, 250]], width_mm=3.0).coverage
    ends = cv2.connectedComponentsWithStats((after >= 0.5).astype(np.uint8), connectivity=8)
    assert ends[0] == 3
    left = np.flatnonzero((after[200] >= 0.5)[:300]).max()
    # The end is that of a disc of 15 pixels' radius: over a line of 8 it is hollow by 0.54 (the sagitta of
    # a chord).
    edge = [np.flatnonzero((after[y] >= 0.5)[:300]).max() for y in range(197, 204)]
    assert left == pytest.approx(284, abs=1.5)
    assert max(edge) - min(edge) <= 1


def test_cutting_into_a_solid_black_closes_its_outline():
    coverage = np.zeros((SIZE, SIZE), np.float32)
    coverage[100:300, 100:300] = 1.0
    after = rub(coverage, [[50, 200], [200, 200]], width_mm=3.0, solid=coverage > 0.5)
    assert not after.solid[200, 150]
    assert after.solid[110, 110]
    assert cv2.connectedComponents((after.coverage >= 0.5).astype(np.uint8))[0] == 2


def test_no_crumbs_are_left_of_a_line_that_is_rubbed_along():
    wobbly = [[50 + 10 * k, 200 + (6 if k % 2 else -6)] for k in range(30)]
    after = rub(strokes(wobbly), [[50, 200], [340, 200]], width_mm=2.0).coverage
    assert not (after[150:250, 60:330] >= 0.5).any()


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(20, 380), st.integers(20, 380)), min_size=2, max_size=5))
def test_rubbing_what_was_drawn_gives_the_first_drawing_back(points):
    line = np.array(points, float)
    if np.hypot(*np.diff(line, axis=0).T).sum() == 0:
        return
    before = strokes([[10, 10], [390, 10]], [[10, 12], [10, 390]])
    far = line * 0.8 + 60.0
    drawing = touched(ink_map(before), InkTouch(True, far * 0.1), InkTouch(False, far * 0.1)).coverage
    assert f1(before >= 0.5, drawing >= 0.5) >= 0.999


def test_empty_paper_stays_empty():
    before = strokes(*GRID)
    assert np.array_equal(rub(before, [[190, 100], [210, 300]]).coverage, before)


def test_the_width_without_a_say_is_three_lines():
    after = rub(np.ones((SIZE, SIZE), np.float32), [[100, 200], [300, 200]]).coverage
    assert float((1.0 - after[:, 200]).sum()) == pytest.approx(3 * WIDTH, abs=0.05)
