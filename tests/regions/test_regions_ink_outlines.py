"""Iso-lines of the coverage against shapes known exactly."""

import numpy as np
import pytest
from scipy.special import ndtr

from limner.model.raster import ScaledInk
from limner.regions.ink_outlines import trace_rings


def disc_coverage(size, centre, radius):
    """A disc seen through a lens that blurs by 0.8 pixels: its outline is the 0.5 iso-line."""
    y, x = np.mgrid[:size, :size] + 0.5
    return ndtr((radius - np.hypot(x - centre[0], y - centre[1])) / 0.8).astype(np.float32)


def ink_map(coverage, line_width_px=8.0, mm_per_px=0.1):
    coverage = np.asarray(coverage, np.float32)
    return ScaledInk(coverage, np.zeros(coverage.shape, bool), line_width_px, np.eye(3), mm_per_px)


def signed_area(points):
    x, y = points.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2)


def test_the_outline_of_a_disc_is_a_circle_within_a_twentieth_of_a_pixel():
    (ring,) = trace_rings(ink_map(disc_coverage(200, (97.3, 101.8), 60.0)))
    radius = np.hypot(*(ring.points / 0.1 - (97.3, 101.8)).T)
    assert np.abs(radius - 60.0).max() < 0.05


def test_a_ring_of_ink_has_a_positive_outer_and_a_negative_inner_ring_of_one_piece():
    outer, inner = trace_rings(
        ink_map(np.minimum(disc_coverage(200, (100, 100), 80), 1 - disc_coverage(200, (100, 100), 50)))
    )
    # Areas of circles: pi r^2, at 0.1 mm per pixel.
    assert signed_area(outer.points) == pytest.approx(np.pi * 8.0**2, rel=1e-3)
    assert signed_area(inner.points) == pytest.approx(-np.pi * 5.0**2, rel=1e-3)
    assert outer.piece == inner.piece == 0


def test_ink_that_runs_off_the_page_is_closed_along_its_border():
    coverage = np.zeros((60, 40), np.float32)
    coverage[20:40] = 1
    (ring,) = trace_rings(ink_map(coverage, mm_per_px=1.0))
    assert ring.points[:, 0].min() == pytest.approx(0.0, abs=1e-9)
    assert ring.points[:, 0].max() == pytest.approx(40.0, abs=1e-9)
    # Four corners cut by less than half a pixel each.
    assert signed_area(ring.points) == pytest.approx(40 * 20, abs=1.0)


def test_pixels_that_touch_at_a_corner_are_one_piece():
    coverage = np.zeros((40, 40), np.float32)
    coverage[5:20, 5:20] = 1
    coverage[20:35, 20:35] = 1
    assert len(trace_rings(ink_map(coverage))) == 1


def test_grain_is_dropped_and_pieces_are_numbered_in_reading_order():
    coverage = np.zeros((80, 80), np.float32)
    coverage[40:70, 10:30] = 1
    coverage[5:30, 40:70] = 1
    coverage[10, 10] = 1
    coverage[50, 20] = 0
    first, second = trace_rings(ink_map(coverage))
    assert (first.piece, second.piece) == (0, 1)
    assert first.points[:, 1].min() < second.points[:, 1].min()


def test_blank_paper_has_no_rings():
    assert trace_rings(ink_map(np.zeros((30, 30)))) == ()
