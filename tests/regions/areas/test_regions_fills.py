"""Fills stay within the lines that bound them, bridges included."""

from dataclasses import replace

import numpy as np
import pytest

from helpers_fills import assert_fills_follow_their_lines
from helpers_regions import circle, drawn, regions_of
from limner.curves.drawing import trace_curves
from limner.curves.settings import CurveSettings

LINES = [
    circle(200, 190, 140, 12, 348),
    circle(150, 160, 30),
    [(203, 60), (214, 330)],
    [(90, 250), (214, 240), (310, 275)],
    [(70, 190), (110, 170), (110, 215), (75, 205)],
]


@pytest.mark.parametrize("smoothing_mm", [0.05, 0.2, 0.6])
def test_no_fill_sticks_out_of_its_lines(smoothing_mm):
    regions = regions_of(drawn(LINES))
    assert len(regions.areas) >= 4
    drawing = trace_curves(regions, CurveSettings(smoothing_mm=smoothing_mm))
    assert_fills_follow_their_lines(drawing, regions, smoothing_mm)


def test_a_fill_that_sticks_out_is_noticed():
    regions = regions_of(drawn(LINES))
    drawing = trace_curves(regions, CurveSettings(smoothing_mm=0.1))
    out = [replace(path, segments=path.segments + np.array([0.8, 0.0])) for path in drawing.fills[-1].paths]
    moved = replace(drawing, fills=(*drawing.fills[:-1], replace(drawing.fills[-1], paths=tuple(out))))
    with pytest.raises(AssertionError, match="off its line"):
        assert_fills_follow_their_lines(moved, regions, 0.1)
