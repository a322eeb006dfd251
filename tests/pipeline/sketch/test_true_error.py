"""What a trace says of its error holds against the outlines that were photographed.

Outlines of Source Sans (package font-source-sans-pro, SIL OFL), placed by type designers.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely

from helpers_curves import dense, glyph, render
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import trace

PX_PER_MM = 20.0
LETTERS = "aKe&"


def lettered(px_per_em: float) -> tuple[np.ndarray, list[np.ndarray]]:
    """A photographed page of letters, and their contours in its pixels."""
    cell, contours = int(1.1 * px_per_em), []
    for k, letter in enumerate(LETTERS):
        corner = np.array([k % 2, k // 2]) * cell + 0.15 * px_per_em
        contours += [contour + corner for contour in glyph(letter, px_per_em, 0.0)]
    light = 1 - 0.93 * render(contours, size=(2 * cell, 2 * cell))
    # IEC 61966-2-1 (sRGB), from memory.
    grey = 1.055 * light ** (1 / 2.4) - 0.055
    grey += np.random.default_rng(1).normal(0.0, 0.01, grey.shape)
    return np.clip(255 * grey + 0.5, 0, 255).astype(np.uint8), contours


def outlines(contours: list[np.ndarray], px_per_mm: float) -> list[shapely.LineString]:
    """Closed cubics as rings in millimetres."""
    rings = [dense(contour) / px_per_mm for contour in contours]
    return [shapely.LineString(np.concatenate([ring, ring[:1]])) for ring in rings]


def every_pixel(rings: list[shapely.LineString]) -> np.ndarray:
    """Points a pixel apart along all of them."""
    lengths = [np.arange(0, ring.length, 1 / PX_PER_MM) for ring in rings]
    return np.concatenate(
        [shapely.line_interpolate_point(ring, at) for ring, at in zip(rings, lengths, strict=True)]
    )


@pytest.mark.parametrize("smoothing_mm", [0.03, 0.1])
def test_lines_are_as_near_to_the_ink_as_is_stated(smoothing_mm: float, tmp_path: Path) -> None:
    page, contours = lettered(900.0)
    cv2.imwrite(str(tmp_path / "letters.png"), page)
    settings = TraceSettings(paper="none", width_mm=page.shape[1] / PX_PER_MM, smoothing_mm=smoothing_mm)
    drawing = trace(tmp_path / "letters.png", settings).drawing
    stated = max(shape.error_mm for shape in drawing.lines)
    assert stated <= smoothing_mm
    paths = [path for shape in drawing.lines for path in shape.paths]
    found = outlines([path.segments for path in paths], 1.0)
    truth = outlines(contours, PX_PER_MM)
    there = shapely.distance(every_pixel(found), shapely.MultiLineString(truth))
    back = shapely.distance(every_pixel(truth), shapely.MultiLineString(found))
    # The lens rounds corners by a pixel, 0.05 mm, which no tracer sees: so 99 in 100 points are judged, both
    # ways, and a fifth of a pixel is left to the noise.
    assert np.percentile(there, 99) <= smoothing_mm + 0.01
    assert np.percentile(back, 99) <= smoothing_mm + 0.01
    designers = sum(len(contour) for contour in contours)
    assert sum(shape.node_count for shape in drawing.lines) <= 1.05 * designers
