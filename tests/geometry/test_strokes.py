"""Ink of round strokes on a raster."""

import numpy as np
import pytest

from limner.geometry.strokes import ink_of, ink_of_points, window_around


def test_ink_has_the_width_and_area_of_a_round_stroke():
    line = np.stack([np.linspace(50.0, 150.0, 201), np.full(201, 60.0)], axis=1)
    ink = ink_of(line, 10.0, (slice(0, 120), slice(0, 200)))
    # A stadium: length times width and a disc.
    assert float(ink.sum()) == pytest.approx(100 * 10 + np.pi * 25, rel=2e-3)
    assert float(ink[:, 100].sum()) == pytest.approx(10.0, abs=0.02)


def test_a_window_stays_on_the_raster():
    rows, columns = window_around(np.array([[-50.0, 5.0], [20.0, 500.0]]), 3.0, (100, 80))
    assert (rows.start, rows.stop) == (2, 100)
    assert (columns.start, columns.stop) == (0, 24)
    rows, columns = window_around(np.array([[-50.0, -50.0], [-20.0, -20.0]]), 3.0, (100, 80))
    assert rows.stop == rows.start
    assert columns.stop == columns.start


def test_a_stroke_whose_width_changes_is_as_wide_as_its_discs():
    points = np.stack([np.linspace(30.0, 170.0, 281), np.full(281, 60.0)], axis=1)
    ink = ink_of_points(points, np.linspace(4.0, 8.0, 281), (120, 200))
    # A disc of the radius there, tilted edges: 2 r / cos(slope), the slope 4 in 140.
    for column in (60, 100, 140):
        radius = 4.0 + 4.0 * (column + 0.5 - 30.0) / 140.0
        assert float(ink[:, column].sum()) == pytest.approx(2 * radius / np.cos(np.arctan(4 / 140)), abs=0.1)
