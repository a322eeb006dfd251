"""Lines added to the ink."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_touches import SIZE, WIDTH, ink_map, strokes, touched
from limner.model.touch import InkTouch

LEFT, RIGHT = [[100, 40], [100, 360]], [[300, 40], [300, 360]]


def draw(coverage, *lines, width_mm=None):
    return touched(
        ink_map(coverage), *(InkTouch(True, np.array(line) * 0.1, width_mm) for line in lines)
    ).coverage


def pieces(coverage, of_ink=True):
    mask = coverage >= 0.5
    return (
        cv2.connectedComponents(
            (mask if of_ink else ~mask).astype(np.uint8), connectivity=8 if of_ink else 4
        )[0]
        - 1
    )


# Where the ends of the new line lie: on the middle of the lines, short of them, beyond them, in their edges.
@pytest.mark.parametrize(
    ("from_x", "to_x"), [(100, 300), (111, 289), (90, 310), (97, 303), (103, 297), (110, 312)]
)
def test_a_line_closes_what_it_nearly_touches_and_pokes_out_of_nothing(from_x, to_x):
    before = strokes(LEFT, RIGHT)
    after = draw(before, [[from_x, 200], [to_x, 200]])
    assert pieces(after) == 1
    beyond = np.zeros(before.shape, bool)
    beyond[:, : 100 - int(WIDTH / 2) - 1] = beyond[:, 300 + int(WIDTH / 2) + 1 :] = True
    assert not ((after >= 0.5) & beyond & (before < 0.5)).any()


def test_the_new_line_is_as_wide_as_the_drawings_own():
    after = draw(strokes(LEFT, RIGHT), [[100, 200], [300, 200]])
    assert float(after[150:250, 200].sum()) == pytest.approx(WIDTH, abs=0.05)


def test_a_width_of_its_own_is_kept():
    after = draw(strokes(LEFT), [[150, 200], [300, 200]], width_mm=2.0)
    assert float(after[100:300, 220].sum()) == pytest.approx(20.0, abs=0.05)


def test_a_line_met_beside_its_end_is_reached():
    # The line runs down beside the left one, 1.2 line widths from its edge at the nearest.
    before = strokes(LEFT)
    after = draw(before, [[200, 100], [150, 180], [113, 200]])
    assert pieces(after) == 1


def test_what_is_far_from_other_lines_stays_alone():
    after = draw(strokes(LEFT), [[200, 100], [280, 300]])
    assert pieces(after) == 2
    assert np.array_equal(after[:, :120], strokes(LEFT)[:, :120])


def test_where_it_runs_into_a_line_it_makes_no_blot():
    # Along the last 60 pixels the new line runs in the old one, 3 pixels off its middle.
    before = strokes(LEFT)
    after = draw(before, [[200, 120], [120, 200], [103, 230], [103, 260], [103, 290]])
    widths = (after[240:290, 80:130] >= 0.5).sum(axis=1)
    assert widths.max() <= WIDTH + 1


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(5, 395), st.integers(5, 395)), min_size=2, max_size=6))
def test_on_empty_paper_nothing_changes_but_the_line(points):
    line = np.array(points, float)
    if np.hypot(*np.diff(line, axis=0).T).sum() == 0:
        return
    after = draw(np.zeros((SIZE, SIZE), np.float32), line)
    # Samples of a line may differ by one, as lengths are rounded on their way through millimetres.
    assert np.abs(after - strokes(line)).max() <= 0.02


def test_a_line_outside_of_the_raster_is_no_fault():
    before = strokes(LEFT)
    assert np.array_equal(draw(before, [[-50.0, -80.0], [-20.0, -60.0]]), before)


def test_a_point_drawn_twice_is_a_dot():
    assert draw(strokes(LEFT), [[250, 200], [250, 200]])[200, 250] == 1.0
