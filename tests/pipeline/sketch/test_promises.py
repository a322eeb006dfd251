"""What every tracing promises, on every sketch of the project: fills keep to their lines, and black is black.

The bounds are the project's own: the stated error and half a line's width for edges; for colours the greater
part of an area's pixels on the photograph.
"""

from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from helpers_fills import assert_fills_follow_their_lines
from limner.geometry.cycles import cycle_points
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import TraceResult, trace

FIXTURES = Path(__file__).parents[3] / "fixtures"
SKETCHES = sorted(path.name for path in FIXTURES.glob("*.jpg"))

# Darker than this, on a page whose paper is 1, is ink.
DARK = 0.5


@cache
def traced(name: str, lines: str = "drawn") -> TraceResult:
    return trace(FIXTURES / name, TraceSettings(lines=lines))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", SKETCHES)
def test_fills_keep_to_their_lines(name: str) -> None:
    result = traced(name)
    assert result.drawing.error_mm <= 1.001 * result.smoothing_mm
    assert_fills_follow_their_lines(result.drawing, result.regions, result.smoothing_mm)


@pytest.mark.parametrize("name", ["sea-star.jpg", "crab.jpg"])
def test_fills_keep_to_even_lines(name: str) -> None:
    result = traced(name, "even")
    assert_fills_follow_their_lines(result.drawing, result.regions, result.smoothing_mm)


@pytest.mark.parametrize("name", SKETCHES)
def test_black_areas_are_those_that_are_dark_on_the_photograph(name: str) -> None:
    result = traced(name)
    grey, areas = result.page.grey, result.regions.areas
    assert areas
    for area in areas:
        inside = np.zeros(grey.shape, np.uint8)
        for cycle, value in ((area.outline, 1), *((hole, 0) for hole in area.holes)):
            ring = cycle_points(result.regions.graph.edges, cycle) / result.page.mm_per_px
            cv2.fillPoly(inside, [np.round(ring * 256).astype(np.int32)], value, cv2.LINE_8, 8)
        dark = float((grey[inside > 0] < DARK).mean())
        assert area.inked == (dark > 0.5), f"{area.name}: {dark:.0%} of it is dark"
